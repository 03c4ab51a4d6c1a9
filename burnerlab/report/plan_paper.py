"""The test plan as paper, and what it shares with its report: one model for HTML and PDF (``plan_paper_files``)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from burnerlab import __version__
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
    Plan,
    PlanRow,
    limit_without_kind,
)
from burnerlab.bench.record.entry import quantities, quantity_words
from burnerlab.quantity import Kind, System
from burnerlab.quantity.band_ends import pressure_end
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.summary import percent
from burnerlab.report.sheet.blocks import ALTITUDE, POWER, fixed, pressure
from burnerlab.report.sheet.job_card import limit_to_name, tied
from burnerlab.report.sheet.stop_box import StopBox, box_in_words, stop_box
from burnerlab.report.sheet.terms import in_words_of, reworded, translation_notes
from burnerlab.report.sheet.turn_time import DialTimes
from burnerlab.report.sheet.wording import STATEMENT, CautionLabels, clean
from burnerlab.tables.cautions import Caution, cautions, cautions_on
from burnerlab.tables.languages import ENGLISH, ENGLISH_LANGUAGE, Language
from burnerlab.tables.phrase import Phrase, applied, joined, phrase_among
from burnerlab.tables.verdict import Verdict

ALL_TOGETHER = Phrase("all burners together")
PLAN_HEADS = (
    Phrase("Row"), Phrase("Burner"), Phrase("State"), Phrase("Reading"), Phrase("Expected"), Phrase("Band"),
    Phrase("Read"), Phrase("By"),
)  # fmt: skip
REASON_HEADS = Phrase("Burner"), Phrase("Why")
NOT_PREDICTED, NOT_DONE = Phrase("not predicted"), Phrase("not done")
LOW_FLAME = Phrase("flame on every port")  # seen while carbon monoxide is read at the low rate
LONGEST_REASON = 400  # characters of why no orifice fits a burner
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


def reading_words(quantity: str) -> str:
    return READINGS.get(quantity) or quantity_words(quantity)


def _source_words(row: PlanRow) -> str:
    """Where a band is from: words of ours, which its file holds in English, or a publication."""
    return phrase_among(clean(row.source), (one.template for one in OWN_SOURCES))


def place_words(plan: Plan, row: PlanRow) -> tuple[str, str]:
    burner = clean(row.burner, 48) or ALL_TOGETHER
    if row.which:
        alike = Phrase("{which} of {count}", which=str(row.which), count=str(row.count))
        burner = joined(", ", (burner, alike))
    return burner, plan.state_words(row)


def _sources(plan: Plan) -> tuple[str, ...]:
    by_source: dict[tuple[str, str], list[str]] = {}
    for row in plan.rows:
        words = reading_words(plan.rated_row(row).quantity)
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
            *place_words(plan, row),
            reading_words(shown.quantity),
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
    notes = (*filter(None, [clean(couple, 300)]), *plan_notes(plan, system))
    made = paper_of(Phrase("Test plan"), plan, date, (table,), notes=notes, sign=SIGN, system=system)
    made = replace(made, stop_box=stop_box(plan.occasions, refused=bool(plan.refusal)), warnings=())
    if plan.refusal:  # no reading to take of a unit that is not built
        why = _reasons(plan, system)
        made = replace(made, tables=(why,), notes=(MEND,), sources=(), sign=())
    return paper_in_words(made, plan, language)


def _reasons(plan: Plan, system: System) -> PaperTable:
    """Why an orifice of each burner is not to be fitted; burners of one reason in one row."""
    by_reason: dict[str, list[str]] = {}
    for burner, why in plan.refusal_reasons:
        words = phrase_among(clean(why, LONGEST_REASON), (one.template for one in OWN_SOURCES))
        by_reason.setdefault(words, []).append(clean(burner, 48) or ALL_TOGETHER)
    rows = ((joined(", ", names), in_reader_units(words, system)) for words, names in by_reason.items())
    return PaperTable(caption=Phrase("Why nothing is fitted"), heads=REASON_HEADS, rows=tuple(rows))


def plan_notes(plan: Plan, system: System) -> tuple[str, ...]:
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


def paper_of(
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


def paper_in_words(paper: PlanPaper, plan: Plan, language: Language) -> PlanPaper:
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
