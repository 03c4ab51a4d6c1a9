"""Test plan and test report as paper: one model for HTML and PDF, whose files ``plan_paper_files`` makes."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from burnerlab import __version__
from burnerlab.appliance.project.basis import RatedBasis
from burnerlab.bench.earlier_readings import EarlierReading
from burnerlab.bench.plan_results import (
    AnswerFirst,
    CorrectedStop,
    PlanReport,
    ReadingBeside,
    RowResult,
    UnitResults,
    units_in_bands,
)
from burnerlab.bench.reading.manifold import (
    ABOVE_HIGHEST,
    MEND,
    no_band_limits,
    pressure_limits,
    refused_words,
)
from burnerlab.bench.reading_plan import (
    BY_HEAT_INPUT,
    CARBON_MONOXIDE,
    DO_NOT_FIT,
    LOCK_UP,
    MANIFOLD,
    NET_OF,
    NO_LIMIT,
    NO_TURNDOWN,
    OF_EARLIER_PLAN,
    STATE_WORDS,
    HOT_AFTER_min,
    Plan,
    PlanRow,
    limit_without_kind,
)
from burnerlab.bench.record.entry import ReleaseRecord, quantities, quantity_words
from burnerlab.bench.record.query import PastStop
from burnerlab.bench.record.stop_display import MINUTE
from burnerlab.bench.stop import StopNotice, stop_rows
from burnerlab.quantity import Kind, System
from burnerlab.quantity.band_ends import pressure_end
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.summary import percent
from burnerlab.report.sheet.blocks import ALTITUDE, BAROMETER, POWER, fixed, pressure
from burnerlab.report.sheet.job_card import limit_to_name, tied
from burnerlab.report.sheet.stop_box import StopBox, box_in_words, stop_box
from burnerlab.report.sheet.terms import in_words_of, reworded, translation_notes
from burnerlab.report.sheet.turn_time import DialTimes
from burnerlab.report.sheet.wording import STATEMENT, CautionLabels, clean
from burnerlab.report.unit_answers import (
    FIRST_CAPTION,
    FIRST_HEADS,
    FLAMES_CAPTION,
    FLAMES_HEADS,
    first_row,
    flame_row,
)
from burnerlab.tables.cautions import Caution, cautions, cautions_on
from burnerlab.tables.languages import ENGLISH, ENGLISH_LANGUAGE, Language
from burnerlab.tables.phrase import Phrase, applied, joined, phrase_among
from burnerlab.tables.verdict import Verdict

SHOWN_AIR_FREE = Phrase("air-free as the analyser shows it")
ALL_TOGETHER = Phrase("all burners together")
PLAN_HEADS = (
    Phrase("Row"), Phrase("Burner"), Phrase("State"), Phrase("Reading"), Phrase("Expected"), Phrase("Band"),
    Phrase("Read"), Phrase("By"),
)  # fmt: skip
REPORT_HEADS = (
    Phrase("Row"), Phrase("Burner and state"), Phrase("Reading"), Phrase("Expected"), Phrase("Band"),
    Phrase("Measured"), Phrase("\u00b1 (95 %)"), Phrase("Verdict"), Phrase("By, with"),
)  # fmt: skip
UNIT_HEADS = (
    Phrase("Unit"), Phrase("Rows read"), Phrase("Not done"), Phrase("Within"), Phrase("Near"), Phrase("Outside"),
    Phrase("Not evaluated"),
)  # fmt: skip
RELEASED_CAPTION = Phrase("Stops that were released, as typed: burnerlab cannot check it")
REASON_HEADS = Phrase("Burner"), Phrase("Why")
CORRECTED_CAPTION = Phrase("Stops that were shown and then corrected, as typed: burnerlab cannot check it")
CORRECTED_HEADS = (
    Phrase("Unit"), Phrase("Stop"), Phrase("Entered first"), Phrase("Why it was wrong"), Phrase("By, entry"),
)  # fmt: skip
LONGEST_EVIDENCE = 2000
EARLIER_CAPTION = Phrase("Read before: outside the band, read twice or corrected; what was done is as typed")
EARLIER_HEADS = (
    Phrase("Unit"), Phrase("Reading"), Phrase("Measured"), Phrase("Verdict"), Phrase("By, entry"),
    Phrase("What was done"), Phrase("Entry in its place"),
)  # fmt: skip
NO_CAUSE = Phrase("no cause recorded")
READ_TWICE = Phrase("read again, no reason recorded")
BESIDE_CAPTION = Phrase("Read beside the rows of the plan")
BESIDE_HEADS = Phrase("Unit"), Phrase("Reading"), Phrase("Measured"), Phrase("Verdict"), Phrase("By, entry")
NO_FIGURE = Phrase("no figure")
RELEASED_HEADS = (
    Phrase("Unit"), Phrase("Stop"), Phrase("Recorded"), Phrase("Cause, repair, as typed"), Phrase("Released"),
)  # fmt: skip
PLACE_HEADS = (
    Phrase("Burner and state"), Phrase("Expected"), Phrase("Band"), Phrase("Least measured"),
    Phrase("Most measured"), Phrase("Readings"),
)  # fmt: skip
NOT_PREDICTED, NOT_DONE = Phrase("not predicted"), Phrase("not done")
LOW_FLAME = Phrase("flame on every port")  # seen while carbon monoxide is read at the low rate
LONGEST_REASON = 400  # characters of why no orifice fits a burner
SHORTEST_RUN = 2  # rows that are named one by one
WRITE = "\u00a0"  # a cell that is written in
EACH_ALIKE = Phrase(
    "Each burner is read alone, all else off. Each of several alike has its rows, in the order that the shop keeps for "
    "every unit: one wrong orifice among them is a usual fault. Read hot after {time} at full rate.",
    time="15 min",
)
EACH_ALONE = Phrase(
    "Each burner is read alone, all else off. Read hot after {time} at full rate.", time="15 min"
)
NOTES = (
    Phrase(
        "Each burner is read alone, all else off. Of several alike read each, and write which one next to its reading: "
        "one wrong orifice among them is a usual fault. Read hot after {time} at full rate.",
        time="15 min",
    ),
    Phrase(
        "Hot is expected as cold where the file does not say how warm the gas at the hot orifice is; the readings show."
    ),
    Phrase(
        "Carbon monoxide is not calculated. Its limit is the one named by the user, for the appliances it names; "
        "without one the bench stops above its own."
    ),
)
VERDICT_NOTE = Phrase(
    "The verdict is on the reading against the band of its row, over its stated uncertainty. While a stop is in force "
    "for a unit nothing of it is judged; one that another unit raised on the bench leaves what was recorded before it. "
    "A reading without a stated uncertainty is judged by its value alone."
)
SIGN = (Phrase("Serial number"), Phrase("Tested by"), Phrase("Instruments"), Phrase("Date"))
READINGS = {
    "manifold_pressure": Phrase("pressure at the manifold"),
    "heat_input_gross": Phrase("heat input, gross"),
    "low_rate_heat_input_gross": Phrase("heat input at the low rate, gross"),
    "heat_input_net": Phrase("heat input, net"),
    "low_rate_heat_input_net": Phrase("heat input at the low rate, net"),
    CARBON_MONOXIDE: Phrase("air-free CO"),
    LOCK_UP: Phrase("manifold pressure with every burner off"),
}
"""What is read, in the words of the papers, which a region has its own for."""
SUBJECTS = {"flame": Phrase("flame"), "plate": Phrase("plate"), "gauge": Phrase("gauge")}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLabels(CautionLabels):
    """What stands on every plan and report."""

    number: str = Phrase("Plan")
    digest: str = Phrase("SHA-256 of its rows:")
    code: str = Phrase("QR code of the plan")
    photographs: str = Phrase("Photographs: nothing is judged from them")
    not_shown: str = Phrase("Not shown: no longer with the record, or damaged.")
    sources: str = Phrase("Where the bands are from")
    outside: str = Verdict.OUTSIDE.emphatic


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperTable:
    """A table of texts."""

    caption: str
    lead: str = ""  # what holds for its figures
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperPhotograph:
    """A photograph of a unit on the paper; nothing is judged from it."""

    caption: str
    sha256: str
    address: str  # of its bytes, as a data address; "" where it is not beside the record


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPaper:
    """What stands on the paper of a plan or of its report, in order."""

    kind: str
    title: str
    subtitle: str
    number: str
    digest: str
    date: str
    code: str  # SVG of the number as a QR code; "" where it could not be drawn
    troubles: tuple[str, ...]
    stop_box: StopBox | None  # of a plan, as at the head of its job card; a report has the warnings of a test
    warnings: tuple[Caution, ...]
    tables: tuple[PaperTable, ...]
    notes: tuple[str, ...]
    sources: tuple[str, ...]
    sign: tuple[str, ...]
    photographs: tuple[PaperPhotograph, ...]
    cautions: tuple[Caution, ...]
    statement: str
    footer: str
    labels: PlanLabels = field(default_factory=PlanLabels)
    language: str = ENGLISH


def altered_words(plan: Plan) -> str:
    """That a plan is not as it was made."""
    return Phrase(
        "This plan was changed after it was made: its digest is {digest}, its file states another. Make a new plan.",
        digest=plan.digest,
    )


def refusal_words(plan: Plan) -> str:
    """Why nothing of a plan is fitted or lit; "" of one whose orifices are all to be fitted."""
    return refused_words(applied(clean, plan.refusal)) if plan.refusal else ""


def _troubles(plan: Plan) -> Iterator[str]:
    if plan.is_altered:
        yield altered_words(plan)
    if plan.refusal:
        yield refusal_words(plan)


def _subtitle(plan: Plan, system: System) -> str:
    """Which plan it is: the model, its gas and pressure, the market, the altitude and the orifices."""
    at = plan.change.gauge_pressure_Pa
    parts: list[str] = [
        Phrase(
            "{model}, on {gas} at {pressure}",
            model=clean(plan.model, 80),
            gas=clean(plan.gas, 80),
            pressure=pressure(at).scale(system).text(at),
        )
    ]
    if plan.change.market:
        parts.append(Phrase("market {market}", market=clean(plan.change.market, 80)))
    if plan.change.altitude_m is not None:
        parts.append(ALTITUDE.scale(system).text(plan.change.altitude_m))
    if not plan.refusal:  # no size beside what says to fit none
        parts += [f"{clean(name, 48)} {clean(mark, 24)}" for name, mark in plan.change.orifices]
    return joined("; ", parts)


def code_svg(number: str) -> str:
    """The number of a plan as a QR code, SVG without a frame of its own. Raises ImportError without segno."""
    import segno

    drawn: str = segno.make(number, error="m", micro=False).svg_inline(scale=3, border=2, omitsize=True)
    return drawn


def _code(number: str) -> str:
    try:
        return code_svg(number)
    except ImportError:
        return ""


def value_text(quantity: str, value: float | None, system: System, missing: str = "") -> str:
    """A figure of a row with its unit.

    >>> value_text("heat_input_gross", 3634.0, "metric"), value_text("air_free_carbon_monoxide", 4e-4, "US")
    ('3.63 kW', '400 ppm')
    """
    if value is None:
        return missing
    kind = quantities()[quantity].kind
    if kind is Kind.POWER:
        return POWER.scale(system).text(value)
    if quantity.endswith("deviation"):
        return percent(value)
    if kind is Kind.FRACTION:
        return f"{fixed(1e6 * value, 0)} ppm"
    return pressure(value).scale(system).text(value)


def between(low: str, high: str) -> str:
    """Two figures, a common unit once.

    >>> between("3.48 kW", "3.85 kW"), between("0.95 kW", "950 W")
    ('3.48 to 3.85 kW', '0.95 kW to 950 W')
    """
    unit = re.sub(r"^[\d. ]+", " ", high)
    return Phrase("{low} to {high}", low=low.removesuffix(unit), high=high)


def band_text(row: PlanRow, system: System, highest_Pa: float | None = None, *, to_fill: bool = False) -> str:
    """The band of a row; what it has not is left out, of a limit that nobody named the bench's own stands there.

    highest_Pa : of the supply, beside a manifold pressure; None where its plan does not name it
    to_fill : of the plan, with what is looked at and a line on which a limit of carbon monoxide is written
    """
    if row.quantity == MANIFOLD:
        return _pressure_text(row, highest_Pa, system)
    low, high = (value_text(row.quantity, end, system) for end in (row.low, row.high))
    if low and high:
        return between(low, high)
    is_low = to_fill and (row.quantity, row.state) == (CARBON_MONOXIDE, "low")
    flame = [LOW_FLAME] if is_low else []  # no verdict of a report is on what was seen
    if low or high:
        return joined("; ", (*flame, _end_words(low, high)))
    return (
        joined("; ", (*flame, not_named(to_fill=to_fill)))
        if row.quantity == CARBON_MONOXIDE
        else _source_words(row)
    )


def not_named(*, to_fill: bool = False) -> str:
    """By which limit of carbon monoxide the bench stops where nobody named one; to_fill : with a line for that."""
    if to_fill:
        return limit_to_name()
    limit = value_text(CARBON_MONOXIDE, limit_without_kind(), "metric")
    return Phrase("no limit named; the bench stops above {limit}", limit=limit)


def _end_words(low: str, high: str) -> str:
    return Phrase("at most {most}", most=high) if high else Phrase("at least {least}", least=low)


def _pressure_text(row: PlanRow, highest_Pa: float | None, system: System) -> str:
    """Band and highest of a manifold pressure, each with its act."""
    if row.low is not None or row.high is not None:
        return pressure_limits(row.low, row.high, highest_Pa, system)
    return no_band_limits(Phrase("not evaluated: {reason}", reason=_source_words(row)), highest_Pa, system)


def _reading_words(quantity: str) -> str:
    return READINGS.get(quantity) or quantity_words(quantity)


def _source_words(row: PlanRow) -> str:
    """Where a band is from: words of ours, which its file holds in English, or a publication."""
    return phrase_among(clean(row.source), (one.template for one in OWN_SOURCES))


def _where(plan: Plan, row: PlanRow) -> tuple[str, str]:
    burner = clean(row.burner, 48) or ALL_TOGETHER
    if row.which:
        alike = Phrase("{which} of {count}", which=str(row.which), count=str(row.count))
        burner = joined(", ", (burner, alike))
    return burner, plan.state_words(row)


def _sources(plan: Plan) -> tuple[str, ...]:
    by_source: dict[tuple[str, str], list[str]] = {}
    for row in plan.rows:
        words = _reading_words(plan.rated_row(row).quantity)
        by_source.setdefault((words, _source_words(row)), []).append(row.id)
    return tuple(
        Phrase("{reading}: {source} (rows {rows})", reading=words, source=source, rows=", ".join(ids))
        for (words, source), ids in by_source.items()
    )


def _plan_rows(plan: Plan, system: System, times: DialTimes | None) -> Iterator[tuple[str, ...]]:
    """The rows to be filled."""
    for row in plan.rows:
        shown, turn = plan.rated_row(row), _turn_texts(plan.band_of(row), times, system)
        expected = value_text(shown.quantity, shown.predicted, system, NOT_PREDICTED)
        band = band_text(shown, system, plan.highest_Pa, to_fill=True)
        yield (
            row.id,
            *_where(plan, row),
            _reading_words(shown.quantity),
            joined(": ", (expected, turn[0])) if turn else expected,
            joined(": ", (band, turn[1])) if turn else band,
            WRITE,
            WRITE,
        )


def _turn_texts(row: PlanRow, times: DialTimes | None, system: System) -> tuple[str, str] | None:
    """Time of one turn of the dial at a heat input, and within its band, as the job card has them; of LP gas the mass.

    A shop that fills from cylinders has a scale and no meter.
    """
    if times is None or row.quantity not in NET_OF:
        return None
    if row.predicted is None or row.low is None or row.high is None:
        return None
    turn = times.expected_text(row.predicted, row.low), times.band_text(row.low, row.high)
    mass = times.mass_text(row.predicted, system), times.mass_band_text(row.low, row.high, system)
    expected, band = (
        Phrase("{turn} or {mass}", turn=tied(time), mass=tied(weighed)) if weighed else tied(time)
        for time, weighed in zip(turn, mass, strict=True)
    )
    return expected, band


def _longest_turn_W(plan: Plan) -> float:
    """The lowest heat input of the bands: the turn that takes longest."""
    return min(row.low for row in plan.rows if row.quantity in NET_OF and row.low is not None)


def plan_paper(
    plan: Plan,
    date: str,
    system: System,
    couple: str = "",
    language: Language = ENGLISH_LANGUAGE,
    times: DialTimes | None = None,
) -> PlanPaper:
    """The plan to be filled by hand or on the bench.

    couple : of a couple of gases, what is said of the other one; "" of a single gas
    times : of the dial that is timed, as on the job card; None where its conversion is not known
    """
    lead = "" if times is None else times.words(_longest_turn_W(plan), system)
    table = PaperTable(
        caption=Phrase("Readings, in this order"),
        lead=lead,
        heads=PLAN_HEADS,
        rows=tuple(_plan_rows(plan, system, times)),
    )
    notes = (*filter(None, [clean(couple, 300)]), *_notes(plan, system))
    made = _paper(Phrase("Test plan"), plan, date, (table,), notes=notes, sign=SIGN, system=system)
    made = replace(made, stop_box=stop_box(plan.occasions, refused=bool(plan.refusal)), warnings=())
    if plan.refusal:  # no reading to take of a unit that is not built
        why = _reasons(plan, system)
        made = replace(made, tables=(why,), notes=(MEND,), sources=(), sign=())
    return _in_words_of(made, plan, language)


def _reasons(plan: Plan, system: System) -> PaperTable:
    """Why an orifice of each burner is not to be fitted; burners of one reason in one row."""
    by_reason: dict[str, list[str]] = {}
    for burner, why in plan.refusal_reasons:
        words = phrase_among(clean(why, LONGEST_REASON), (one.template for one in OWN_SOURCES))
        by_reason.setdefault(words, []).append(clean(burner, 48) or ALL_TOGETHER)
    rows = ((joined(", ", names), in_reader_units(words, system)) for words, names in by_reason.items())
    return PaperTable(caption=Phrase("Why nothing is fitted"), heads=REASON_HEADS, rows=tuple(rows))


def _notes(plan: Plan, system: System) -> tuple[str, ...]:
    """What holds for every row; which burners have no low rate in the file, and orifices of a stock."""
    names = ", ".join(clean(one, 48) for one in plan.without_turndown)
    parts = ", ".join(dict.fromkeys(clean(one.mark, 48) for one in plan.change.stock))
    more = [joined("", (names, ": ", NO_TURNDOWN, "."))] if names else []
    more += [OF_EARLIER_PLAN] if plan.lacks_carbon_monoxide else []
    more += [Phrase("Orifices from a stock: {parts}.", parts=parts)] if parts else []
    net = fixed(plan.rated.of_gross, 3)
    if plan.rated.word == "net":
        more.append(
            Phrase("Heat inputs are net, as the appliance is rated: {ratio} of the gross ones.", ratio=net)
        )
    more = [*_pressure_notes(plan, system), *more]
    first = NOTES[0]  # of a plan of a file, which may have one row for several alike
    if any(row.which for row in plan.rows):
        first = EACH_ALIKE
    elif plan.own_bands:  # just made: every burner has its rows
        first = EACH_ALONE
    return (first, *NOTES[1:], *more)


def _pressure_notes(plan: Plan, system: System) -> Iterator[str]:
    """Who mends a design that has no band of the pressure, and rows whose own band ends above that of the others."""
    if any(row.source.endswith(DO_NOT_FIT) for row in plan.rows):
        yield MEND
    highest = plan.upper_end_Pa
    rows = [(row, plan.band_of(row).high) for row in plan.rows if row.quantity == MANIFOLD]
    own = [row.id for row, high in rows if high is not None and highest is not None and high > highest]
    if own and highest is not None:
        yield Phrase(
            "Rows {rows}: expected above {highest}, where the band of the other rows ends. With fewer burners on the "
            "supply gives more: their upper end is that of the burner that is on.",
            rows=", ".join(own),
            highest=pressure_end(highest, "high", system),
        )


def _report_tables(report: PlanReport, system: System) -> list[PaperTable]:
    """The units side by side, what was read before and corrected, each unit's readings, and where the units lie."""
    tables = [
        PaperTable(
            caption=Phrase("Units"),
            heads=UNIT_HEADS,
            rows=tuple(_unit_row(report.plan, unit) for unit in report.units),
        )
    ]
    for unit in report.units:
        serial = clean(unit.serial, 48)
        caption: str = Phrase("Unit {serial}", serial=serial)
        if unit.is_stopped:
            caption = Phrase("Unit {serial}: a stop is in force, nothing is judged", serial=serial)
        if unit.held_by:
            caption = Phrase(
                "{unit}; the bench is held by a stop of unit {others}",
                unit=caption,
                others=clean(unit.held_by, 96),
            )
        caption = _with_part_test(caption, report.plan, unit)
        if not unit.results and not unit.is_stopped:
            continue  # its line among the units says that no row is read
        rows = tuple(_report_row(report.plan, row, unit.result_of(row), system) for row in report.plan.rows)
        tables.append(PaperTable(caption=caption, heads=REPORT_HEADS, rows=rows))
    plan = report.plan
    beside = tuple(beside_row(plan, unit, one, system) for unit in report.units for one in unit.beside)
    if beside:
        tables.insert(1, PaperTable(caption=BESIDE_CAPTION, heads=BESIDE_HEADS, rows=beside))
    flames = tuple(flame_row(unit, one) for unit in report.units for one in unit.flames_lit)
    if flames:
        tables.insert(1, PaperTable(caption=FLAMES_CAPTION, heads=FLAMES_HEADS, rows=flames))
    first = tuple(first_row(unit, one, _by_words(one)) for unit in report.units for one in unit.answers_first)
    if first:
        tables.insert(1, PaperTable(caption=FIRST_CAPTION, heads=FIRST_HEADS, rows=first))
    ended = [stop for stop in report.recorded_stops if stop.release is not None]
    if ended:
        tables.insert(1, _released(ended, system))
    if report.corrected_stops:
        tables.insert(1, _corrected(report.corrected_stops, system))
    before = [(unit, one) for unit in report.units for one in unit.earlier]
    before.sort(key=lambda each: not each[1].is_outside)
    earlier = tuple(earlier_row(plan.rated, unit.serial, one, system) for unit, one in before)
    if earlier:
        tables.insert(1, PaperTable(caption=EARLIER_CAPTION, heads=EARLIER_HEADS, rows=earlier))
    if len(report.units) > 1:
        tables.append(_places(report, system))
    return tables


def report_paper(
    report: PlanReport,
    date: str,
    system: System,
    pictures: Mapping[str, bytes] | None = None,
    language: Language = ENGLISH_LANGUAGE,
) -> PlanPaper:
    """The report: units side by side, each unit's readings, and where the units lie in the bands.

    pictures : JPEG of each photograph by its hash; language : in which it is read
    """
    tables = _report_tables(report, system)
    early = filter(None, (early_hot_words(report.plan, unit) for unit in report.units))
    notes: tuple[str, ...] = (*early, VERDICT_NOTE, *_notes(report.plan, system))
    if not report.units:
        notes = (Phrase("No unit of this record has a test of this plan."), *notes)
    made = _paper(
        Phrase("Test report"),
        report.plan,
        date,
        tuple(tables),
        notes=notes,
        sign=(_reviewed_by(report.units), Phrase("Date")),
        system=system,
    )
    shown = _stop_lines(report)
    made = replace(
        made,
        troubles=(*made.troubles, *(in_reader_units(text, system) for text in shown)),
        photographs=tuple(_photographs(report, pictures or {}, system)),
    )
    return _in_words_of(made, report.plan, language)


def early_hot_remark(minutes: float) -> str:
    """What stands beside a hot row that was recorded too soon to be one.

    >>> early_hot_remark(3.2)
    'recorded 3 min after the cold reading of the same burner, so perhaps not hot: hot is after 15 min'
    """
    return Phrase(
        "recorded {minutes} min after the cold reading of the same burner, so perhaps not hot: hot is after {time}",
        minutes=f"{minutes:.0f}",
        time=f"{HOT_AFTER_min} min",
    )


def early_hot_words(plan: Plan, unit: UnitResults) -> str:
    """Which hot rows of a unit were recorded before their burner can have been hot; "" for none."""
    early = dict(unit.early_hot)
    places = dict.fromkeys(
        f"{clean(row.place, 48) or ALL_TOGETHER} {early[row.id]:.0f} min"
        for row in plan.rows
        if row.id in early
    )
    if not places:
        return ""
    return Phrase(
        "Unit {unit}: recorded as hot sooner than {time} after the cold reading of the same burner, so perhaps "
        "not hot: {places}.",
        unit=clean(unit.serial, 48),
        time=f"{HOT_AFTER_min} min",
        places=", ".join(places),
    )


def _with_part_test(unit_words: str, plan: Plan, unit: UnitResults) -> str:
    """What heads the readings of a unit, with how many rows of the plan are not read, and a missing leak test."""
    words = unit_words
    if unit.not_done:
        words = Phrase(
            "{unit}; part test: {left} of {all} rows not read",
            unit=words,
            left=len(unit.not_done),
            all=len(plan.rows),
        )
    if unit.flames_not_seen:
        words = Phrase(
            "{unit}; part test: flame not looked at: {flames}",
            unit=words,
            flames="; ".join(clean(one.place, 96) for one in unit.flames_not_seen),
        )
    if not unit.has_leak_test:
        words = Phrase("{unit}; part test: no leak test recorded", unit=words)
    return words


def _reviewed_by(units: Sequence[UnitResults]) -> str:
    """The line of signature; a unit with a row that is not read is signed as a part test alone."""
    parts = [clean(unit.serial, 48) for unit in units if unit.is_part]
    if not parts:
        return Phrase("Reviewed by")
    if len(parts) == len(units):
        return Phrase("Reviewed by, as a part test")
    return Phrase("Reviewed by; units {units} as a part test", units=", ".join(parts))


def _stop_lines(report: PlanReport) -> Iterator[str]:
    """Every stop that stands, recorded or only shown, the worst first."""
    order = {name: place for place, name in enumerate(stop_rows())}
    stops: list[tuple[StopNotice, str]] = [
        (one.notice, _recorded_words(one)) for one in report.recorded_stops if one.stands
    ]
    stops += [(one.notice, clean(one.words, 240)) for one in report.stops_not_recorded]
    for notice, text in sorted(stops, key=lambda stop: order.get(stop[0].id, -1)):
        yield joined("", (Phrase(notice.signal), ": ", _heading(notice), " ", text))


def _heading(notice: StopNotice) -> str:
    """That of a stop, in the words of the table."""
    return _heading_words(notice.heading)


def _heading_words(heading: str) -> str:
    return phrase_among(heading, [row["heading"] for row in stop_rows().values()])


def _moment(text: str) -> str:
    return f"{text[:MINUTE].replace('T', ' ')} UTC"


def _recorded_words(stop: PastStop) -> str:
    return Phrase(
        "Recorded for unit {serial}, {moment}, by {name}, entry {entry}; not released.",
        serial=clean(stop.record.serial, 48),
        moment=_moment(stop.record.recorded_at),
        name=clean(stop.record.test.tester, 48),
        entry=stop.entry[:8],
    )


def _released(stops: Sequence[PastStop], system: System) -> PaperTable:
    """Stops that were released, by whom and why, as typed."""
    rows = []
    for stop in stops:
        if stop.release is None:
            continue
        end, by = stop.release.release, _release_words(stop.release)
        done = Phrase("{cause}; repair: {repair}", cause=clean(end.cause, 240), repair=clean(end.repair, 240))
        rows.append(
            (
                clean(stop.record.serial, 48),
                in_reader_units(
                    joined("", (Phrase(stop.notice.signal), ": ", _heading(stop.notice))), system
                ),
                joined(", ", (_moment(stop.record.recorded_at), clean(stop.record.test.tester, 48))),
                done,
                by,
            )
        )
    return PaperTable(caption=RELEASED_CAPTION, heads=RELEASED_HEADS, rows=tuple(rows))


def _corrected(stops: Sequence[CorrectedStop], system: System) -> PaperTable:
    """Stops that a corrected entry took back, each with every figure as it was entered first."""
    rows = (
        (
            clean(one.serial, 48),
            in_reader_units(clean(one.stop.why, LONGEST_EVIDENCE), system),
            clean(one.stop.reading, LONGEST_EVIDENCE),
            clean(one.stop.reason, LONGEST_EVIDENCE),
            joined(", ", (_moment(one.recorded_at), clean(one.tester, 48), one.entry[:8])),
        )
        for one in stops
    )
    return PaperTable(caption=CORRECTED_CAPTION, heads=CORRECTED_HEADS, rows=tuple(rows))


def earlier_row(rated: RatedBasis, serial: str, reading: EarlierReading, system: System) -> tuple[str, ...]:
    """A reading in whose place another stands, under ``EARLIER_HEADS``; rated : on which heat inputs are shown"""
    return (
        clean(serial, 48),
        earlier_words(reading, rated.word),
        _measured_words(rated, reading.quantity, reading.value, system),
        Verdict.OUTSIDE.emphatic if reading.is_outside else Phrase("not outside"),
        _by_words(reading),
        earlier_done(reading),
        reading.by_entry[:8],
    )


def earlier_words(reading: EarlierReading, basis: str = "gross") -> str:
    """What was read, of which burner in which state; basis : of the rating, on which a heat input is shown"""
    burner: str = clean(reading.burner, 48) or ALL_TOGETHER
    if reading.which:
        burner = Phrase("{burner} number {which}", burner=burner, which=clean(reading.which, 8))
    state = next((words for state, words in STATE_WORDS.items() if state == reading.state), "")
    row = Phrase("row {id}", id=clean(reading.row, 16)) if reading.row else ""
    return joined(", ", [part for part in (row, burner, state, _words_on(reading.quantity, basis)) if part])


def _words_on(quantity: str, basis: str) -> str:
    """What was read, a heat input on the basis on which it is shown."""
    return _reading_words(NET_OF.get(quantity, quantity) if basis == "net" else quantity)


def earlier_done(reading: EarlierReading) -> str:
    """What was recorded between it and the reading in its place."""
    words = clean(reading.done, LONGEST_EVIDENCE)
    if reading.way == "mended":
        return Phrase("mended: {words}", words=words)
    if reading.way == "corrected":
        return Phrase("entry corrected: {words}", words=words or Phrase("no reason recorded"))
    if reading.way == "released":
        cause = clean(reading.cause, LONGEST_EVIDENCE)
        return Phrase("STOP released; cause: {cause}; repair: {repair}", cause=cause, repair=words)
    return NO_CAUSE if reading.is_outside else READ_TWICE


def _measured_words(rated: RatedBasis, quantity: str, value: float, system: System) -> str:
    """A figure as the rows of a plan have it, a heat input on the basis of the rating."""
    share = rated.of_gross if quantity in NET_OF else 1.0
    return value_text(quantity, share * value, system)


def _by_words(reading: EarlierReading | ReadingBeside | AnswerFirst) -> str:
    return joined(", ", (_moment(reading.tested_at), clean(reading.tester, 48), reading.entry[:8]))


def beside_row(plan: Plan, unit: UnitResults, reading: ReadingBeside, system: System) -> tuple[str, ...]:
    """What a test of a unit holds that is no row of the plan, under ``BESIDE_HEADS``."""
    words: str = _words_on(reading.quantity, plan.rated.word) if reading.quantity else NO_FIGURE
    if reading.burner:
        words = joined(", ", (clean(reading.burner, 48), words))
    value = (
        "" if reading.value is None else _measured_words(plan.rated, reading.quantity, reading.value, system)
    )
    shown = next((each.emphatic for each in Verdict if each == reading.verdict), "")
    return clean(unit.serial, 48), words, value, shown, _by_words(reading)


def _release_words(record: ReleaseRecord) -> str:
    release = record.release
    return Phrase(
        "{moment}, {name}, {qualification}; leak test: {test}",
        moment=_moment(record.recorded_at),
        name=clean(release.name, 48),
        qualification=clean(release.qualification, 80),
        test=clean(release.leak_test, 300),
    )


def stop_facts(stop: PastStop) -> str:
    """A stop of the record in one line: of which unit, when it was recorded, and by whom it was released."""
    notice = joined("", (Phrase(stop.notice.signal), ": ", _heading(stop.notice)))
    if stop.ended_by and stop.release is None:
        return Phrase(
            "{stop} Recorded for unit {serial}, {moment}, by {name}, entry {entry}; a figure was a slip, ended by the "
            "corrected entry {by}.",
            stop=notice,
            serial=clean(stop.record.serial, 48),
            moment=_moment(stop.record.recorded_at),
            name=clean(stop.record.test.tester, 48),
            entry=stop.entry[:8],
            by=stop.ended_by[:8],
        )
    if stop.release is None:
        return joined(" ", (notice, _recorded_words(stop)))
    return Phrase(
        "{stop} Recorded for unit {serial}, {moment}, by {name}, entry {entry}; released {release}.",
        stop=notice,
        serial=clean(stop.record.serial, 48),
        moment=_moment(stop.record.recorded_at),
        name=clean(stop.record.test.tester, 48),
        entry=stop.entry[:8],
        release=_release_words(stop.release),
    )


def _photographs(
    report: PlanReport, pictures: Mapping[str, bytes], system: System
) -> Iterator[PaperPhotograph]:
    for unit in report.units:
        for one in unit.photographs:
            data = pictures.get(one.sha256)
            address = (
                "" if data is None else f"data:image/jpeg;base64,{base64.b64encode(data).decode('ascii')}"
            )
            caption: str = Phrase(
                "Unit {serial}, {burner}: {subject}",
                serial=clean(unit.serial, 48),
                burner=clean(one.place, 64) or ALL_TOGETHER,
                subject=SUBJECTS.get(one.subject, one.subject),
            )
            if one.stop:
                caption = joined(". ", (caption, in_reader_units(_heading_words(one.stop), system)))
            yield PaperPhotograph(caption=caption, sha256=one.sha256, address=address)


def _unit_row(plan: Plan, unit: UnitResults) -> tuple[str, ...]:
    words = [one.verdict.value for one in unit.results]
    counts = tuple(str(words.count(word)) for word in ("within", "near", "outside", "not evaluated"))
    done = Phrase("{some} of {all}", some=len(plan.rows) - len(unit.not_done), all=len(plan.rows))
    return (clean(unit.serial, 48), done, _rows_in_short(plan, unit.not_done) or Phrase("none"), *counts)


def _rows_in_short(plan: Plan, ids: Sequence[str]) -> str:
    """Rows of a plan, three and more that follow one another as their first and last."""
    order = {row.id: place for place, row in enumerate(plan.rows)}
    runs: list[list[str]] = []
    for id in ids:
        if runs and order[id] == order[runs[-1][-1]] + 1:
            runs[-1].append(id)
        else:
            runs.append([id])
    parts = (
        [Phrase("{low} to {high}", low=run[0], high=run[-1])] if len(run) > SHORTEST_RUN else run
        for run in runs
    )
    return joined(", ", (each for part in parts for each in part))


def _report_row(plan: Plan, row: PlanRow, result: RowResult | None, system: System) -> tuple[str, ...]:
    share, row = plan.rated_share(row), plan.rated_row(row)
    row = row if result is None else result.with_limit(row)
    expected = value_text(row.quantity, row.predicted, system, NOT_PREDICTED)
    head = (
        row.id,
        joined(", ", _where(plan, row)),
        _reading_words(row.quantity),
        expected,
        band_text(row, system, plan.highest_Pa),
    )
    if result is None:
        return (*head, NOT_DONE, "", "", "")
    wide = result.expanded_uncertainty
    spread = value_text(row.quantity, None if wide is None else share * wide, system, Phrase("not stated"))
    by: str = Phrase(
        "{tester}, {date}, {instruments}; entry {entry}",
        tester=clean(result.tester, 48),
        date=_moment(result.tested_at),
        instruments=clean(result.instruments) or Phrase("instruments not named"),
        entry=result.entry[:8],
    )
    if result.is_shown_air_free:
        by = joined("; ", (by, SHOWN_AIR_FREE))
    if result.ambient_Pa is not None:
        air = Phrase("barometer {pressure}", pressure=BAROMETER.inline(result.ambient_Pa, system))
        by = joined("; ", (by, air))
    return (
        *head,
        value_text(row.quantity, share * result.measured, system),
        spread,
        result.verdict.emphatic,
        by,
    )


def _places(report: PlanReport, system: System) -> PaperTable:
    rows = []
    of_inputs = [
        one for one in report.plan.rows if one.quantity.endswith("heat_input_gross") and one.which < 2
    ]
    for place, own in zip(units_in_bands(report), of_inputs, strict=True):
        row = replace(own, which=0)
        share, row = report.plan.rated_share(row), report.plan.rated_row(row)
        measured = [share * one for one in place.measured_gross_W]
        ends = (min(measured), max(measured)) if measured else (None, None)
        least, most = (value_text(row.quantity, end, system, NOT_DONE) for end in ends)
        expected = value_text(row.quantity, row.predicted, system)
        rows.append(
            (
                joined(", ", _where(report.plan, row)),
                expected,
                band_text(row, system),
                least,
                most,
                str(len(place.serials)),
            )
        )
    captions = {
        "gross": Phrase("Heat input, gross: where the units lie"),
        "net": Phrase("Heat input, net: where the units lie"),
    }
    return PaperTable(caption=captions[report.plan.rated.word], heads=PLACE_HEADS, rows=tuple(rows))


def _paper(
    kind: str,
    plan: Plan,
    date: str,
    tables: tuple[PaperTable, ...],
    *,
    notes: tuple[str, ...],
    sign: tuple[str, ...],
    system: System,
) -> PlanPaper:
    return PlanPaper(
        kind=kind,
        title=clean(plan.appliance, 80),
        subtitle=_subtitle(plan, system),
        number=plan.number,
        digest=plan.digest,
        date=clean(date, 40),
        code=_code(plan.number),
        troubles=tuple(_troubles(plan)),
        stop_box=None,
        warnings=_first_warnings(plan),
        tables=tables,
        notes=notes,
        sources=_sources(plan),
        sign=sign,
        photographs=(),
        cautions=_cautions(plan),
        statement=STATEMENT,
        footer=Phrase("burnerlab {version}, plan {number}", version=__version__, number=plan.number),
    )


def _first_warnings(plan: Plan) -> tuple[Caution, ...]:
    """Those above the first table of a report: leak, carbon monoxide, flames, what this gas or supply asks for."""
    own = cautions_on("bench", *(plan.occasions or ()))
    return tuple(one for one in cautions() if one.id == "gas-leak" or one in own)


def _cautions(plan: Plan) -> tuple[Caution, ...]:
    """Those of a converted appliance on the bench; all of them for a plan that does not say what belongs to it."""
    return cautions() if plan.occasions is None else cautions_on("sheet", "bench", *plan.occasions)


OWN_SOURCES = (
    NO_LIMIT, BY_HEAT_INPUT, ABOVE_HIGHEST, Phrase("no pressure band: {burners}; do not fit", burners=""),
    Phrase("no pressure band: {burners}; the first gas of the couple sizes it", burners=""),
    Phrase("entered by the user"), Phrase("the project file"),
    Phrase("twice the relative standard deviation of the low rate of burners as drawn: {source}", source=""),
)  # fmt: skip
"""Of bands: words of ours, no publication."""


def _in_words_of(paper: PlanPaper, plan: Plan, language: Language) -> PlanPaper:
    """The paper in the language, or in the words of the region; names of the user and of publications stay."""
    names = (
        plan.appliance,
        plan.model,
        plan.gas,
        *(row.burner for row in plan.rows),
        *(row.source for row in plan.rows if row.source not in OWN_SOURCES),
    )
    words = in_words_of(language, plan.region, tuple(filter(None, names)))
    plain = in_words_of(language, "")
    made = replace(paper, **{name: reworded(getattr(paper, name), words) for name in IN_WORDS})
    return replace(
        made,
        stop_box=None if paper.stop_box is None else box_in_words(paper.stop_box, words),
        subtitle=plain(paper.subtitle),
        footer=plain(paper.footer),
        sources=(*made.sources, *translation_notes(language)),
        language=language.tag,
    )


IN_WORDS = (
    "kind", "troubles", "warnings", "tables", "notes", "sources", "sign", "cautions", "statement", "photographs",
    "labels",
)  # fmt: skip
