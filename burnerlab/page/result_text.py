"""How a test is shown: figures in the chosen units, the band as a drawing, causes, what wants a second look."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from burnerlab import tables
from burnerlab.appliance.project.basis import GROSS_RATED, RatedBasis
from burnerlab.appliance.project.model import Tolerance
from burnerlab.bench.bench_air import OF_WEATHER_REPORT, UnitInAir, air_sentence
from burnerlab.bench.decision_rule import (
    LOW_ON_ITS_GAS,
    NOT_SHOWN,
    READING_LOW,
    Comparison,
    act_first,
    bench_limit,
)
from burnerlab.bench.faults.explanation import Explanation, RankedCause
from burnerlab.bench.plan_results import ORIFICE_MARKS
from burnerlab.bench.reading.manifold import is_low_lock_up_Pa, pressure_span
from burnerlab.bench.reading_plan import CARBON_MONOXIDE, LOCK_UP, MANIFOLD
from burnerlab.bench.record import (
    BenchTest,
    OpenStop,
    Result,
    TestRecord,
    UnitStops,
    adverse_observations,
    quantities,
    sights,
)
from burnerlab.bench.record.entry import RecordQuantity, observation_words, quantity_words
from burnerlab.bench.record.open_stops import ENDED_STOPS
from burnerlab.page.form import NOT_LIT, fields, gas_title
from burnerlab.page.heat_input_test import ALL_BURNERS, HeatInputTest
from burnerlab.page.orifice_marks import MARK_DIFFERS
from burnerlab.quantity import Kind, System, in_unit, show
from burnerlab.quantity.band_ends import pressure_end
from burnerlab.quantity.prose import in_print, in_reader_units
from burnerlab.quantity.show import display_unit, timing_text
from burnerlab.report.sheet.blocks import AMBIENT, POWER, digits, fixed, percent, pressure
from burnerlab.report.sheet.wording import clean
from burnerlab.tables.verdict import Verdict

Bases = Mapping[tuple[str, str], RatedBasis]
"""Model and gas of a test -> basis of its rating."""
NO_BASES: Bases = MappingProxyType({})
STOPPED = "stopped"  # in place of a verdict, as long as a stop of the unit stands
NO_BREAK = "\u00a0"
BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:[kM]?W|[kM]?J|k?Btu|[mc]?m[23²³]?|ft[23²³]?|in[23²³]?|mbar|k?Pa|psi[ag]?|°[CF]|K|%|[km]?g|lb|oz|L|s"
    r"|min|h)(?!\w)|\d{3}(?!\d))|(?<=\d) (?=× )|(?<=×) (?=\d)"
)  # its break would part a figure from its unit; where it takes too much, a line ends earlier
BETWEEN_TAGS = re.compile(r"(?<=>)[^<]+")
MOST_CAUSES = 4
ALL_OFF = "every burner off"
AT_LOW_RATE = ", low rate"  # behind the name of a burner
POWER_DIGITS = 3  # of every heat input of the bench: one figure wherever it stands
LITTLE = 0.01  # share below which a cause is not worth a line
UID_SHOWN = 8
MINUTE = 16  # characters of a moment to the minute
DRILL_NAMES = re.compile(
    r"[\d.]+ mm(?= (?:\(\S+\) )?for )|(?<= for )[\d.]+ mm|(?<=\()[\d.]+ mm(?=\))"
)  # of causes: a drill in place of another
# of the drawing of the band, in its own units
LEFT, RIGHT = 28.0, 372.0


BAND_WORDS: dict[Verdict, str] = {
    Verdict.WITHIN: "the band",
    Verdict.NEAR: "the end of the band",
    Verdict.OUTSIDE: "the band",
    Verdict.NOT_EVALUATED: "",
}
"""What stands after a verdict on a heat input."""
NOT_PROVEN = {
    Verdict.WITHIN: ", not proven within the band",
    Verdict.NEAR: ", not proven within the band",
    Verdict.OUTSIDE: "the band, not proven",
}
"""The same where the interval of the reading crosses an end of the band."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BandPlace:
    """Where a heat input stands against its band, as a headline says it."""

    verdict: str  # a verdict, or ``STOPPED``
    words: str

    @property
    def text(self) -> str:
        in_full = {  # a text of its own for each: what has no word beside its places is not traced to a row of texts
            "the band": f"{self.verdict} the band",
            "the end of the band": f"{self.verdict} the end of the band",
            "the band, not proven": f"{self.verdict} the band, not proven",
            "its band": f"{self.verdict} its band",
            "its limit": f"{self.verdict} its limit",
            "the highest of the supply": f"{self.verdict} the highest of the supply",
        }
        return in_full.get(self.words, f"{self.verdict}{self.words}")


def band_place(verdict: str, is_conclusive: bool) -> BandPlace:
    """The headline of a verdict: what the interval does not prove is near, whatever the rule of decision takes it for.

    >>> band_place(Verdict.WITHIN, True).text, band_place(Verdict.WITHIN, False).text
    ('within the band', 'near, not proven within the band')
    >>> band_place(Verdict.OUTSIDE, False).text, band_place(STOPPED, False).text
    ('outside the band, not proven', 'stopped')
    """
    if verdict not in BAND_WORDS:
        return BandPlace(verdict=verdict, words="")
    known = Verdict(verdict)
    if is_conclusive or known not in NOT_PROVEN:
        return BandPlace(verdict=known, words=BAND_WORDS[known])
    return BandPlace(verdict=Verdict.NEAR if known.is_within else known, words=NOT_PROVEN[known])


ABOVE_RANGE = (
    "Burner off, gas closed: the manifold pressure is above its band. A qualified person corrects it before anything "
    "is lit again."
)
BELOW_RANGE = (
    "Burner off: the manifold pressure is below its band. A qualified person finds the cause and corrects it before "
    "the test goes on."
)


def range_act(pressure_Pa: float, low_Pa: float, high_Pa: float) -> str:
    """What to do of a manifold pressure outside its band, as plan and card say; "" within.

    >>> range_act(1700.0, 1600.0, 1800.0), range_act(1500.0, 1600.0, 1800.0)[:12]
    ('', 'Burner off: ')
    """
    if low_Pa <= pressure_Pa <= high_Pa:
        return ""
    return ABOVE_RANGE if pressure_Pa > high_Pa else BELOW_RANGE


def range_act_of(test: BenchTest) -> str:
    """The same of the manifold pressure of an entry; "" where it is within, or was held against nothing."""
    read = result_of(test, MANIFOLD)
    return (
        ""
        if read is None or read.low is None or read.high is None
        else range_act(read.value, read.low, read.high)
    )


def act_of_test(test: BenchTest) -> str:
    """What comes first after a heat input outside its band, else after a pressure outside its band; "" for none."""
    for one in test.results:
        if one.quantity == "deviation" and one.low is not None and one.high is not None:
            act = act_first(one.value, Tolerance(low=one.low, high=one.high, source=""))
            is_lit = any(
                one.name != MARK_DIFFERS for one in test.observations
            )  # after a low one by the label alone
            if act:
                return LOW_ON_ITS_GAS if act == READING_LOW and is_lit else act
    return LOW_LOCK_UP if is_low_lock_up(test) else range_act_of(test)


def range_place(verdict: str) -> BandPlace:
    """The headline of a manifold pressure against its band; near is a reading whose interval crosses its end.

    >>> range_place(Verdict.NEAR).text, range_place(STOPPED).text
    ('near, not proven within its band', 'stopped')
    """
    if verdict not in BAND_WORDS or verdict == Verdict.NOT_EVALUATED:
        return BandPlace(verdict=verdict, words="")
    near = verdict == Verdict.NEAR
    return BandPlace(verdict=verdict, words=", not proven within its band" if near else "its band")


LOW_LOCK_UP = (
    "The lock-up is too low: a burner that is not off, gas lost, another regulator or spring, or a starved inlet. "
    "Supply closed; a qualified person finds the cause before anything is lit."
)


def is_low_lock_up(test: BenchTest) -> bool:
    """Whether an entry holds a lock-up below what its regulator should hold."""
    read = result_of(test, LOCK_UP)
    return read is not None and is_low_lock_up_Pa(read.value, read.low)


def lock_up_place(verdict: str, *, is_low: bool = False) -> BandPlace:
    """The headline of a manifold pressure with every burner off, against the highest of the supply.

    is_low : below what its regulator should hold

    >>> lock_up_place(Verdict.WITHIN).text, lock_up_place(Verdict.NEAR).text
    ('within the highest of the supply', 'near, not proven within the highest of the supply')
    """
    if verdict not in BAND_WORDS or verdict == Verdict.NOT_EVALUATED:
        return BandPlace(verdict=verdict, words="")
    if is_low:
        return BandPlace(verdict=Verdict.OUTSIDE, words=", below the lock-up expected")
    highest = "the highest of the supply"
    return BandPlace(
        verdict=verdict, words=f", not proven within {highest}" if verdict == Verdict.NEAR else highest
    )


def is_proven(value: float, spread: float, low: float, high: float) -> bool:
    """Whether the interval about a value lies on one side of each end of its band.

    >>> is_proven(-0.04, 0.02, -0.05, 0.05), is_proven(0.01, 0.02, -0.05, 0.05)
    (False, True)
    """
    return not any(value - spread < end < value + spread for end in (low, high))


def place_of_reading(comparison: Comparison, verdict: str) -> BandPlace:
    """The headline of a measured heat input; verdict : of the comparison, or ``STOPPED``."""
    c = comparison
    return band_place(verdict, is_proven(c.value_W, c.expanded_W, c.low_W, c.high_W))


def place_of_result(result: Result | None) -> BandPlace:
    """The headline of a result of the record: a deviation, or a manifold pressure."""
    if result is None or result.verdict not in BAND_WORDS:
        return band_place(Verdict.NOT_EVALUATED, True)
    if result.quantity == CARBON_MONOXIDE:
        return BandPlace(
            verdict=result.verdict, words="" if result.verdict == Verdict.NOT_EVALUATED else "its limit"
        )
    if result.quantity in (MANIFOLD, LOCK_UP):
        if result.quantity == MANIFOLD:
            return range_place(result.verdict)
        return lock_up_place(result.verdict, is_low=is_low_lock_up_Pa(result.value, result.low))
    if result.low is None or result.high is None:
        return band_place(result.verdict, True)
    spread = result.expanded_uncertainty or 0.0
    return band_place(result.verdict, is_proven(result.value, spread, result.low, result.high))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def minus(text: str) -> str:
    """A running text with true minus signs before its numbers.

    >>> minus("the band of -5 to +5 %, 2026-11-25")
    'the band of −5 to +5 %, 2026-11-25'
    """
    return re.sub(r"(?<![\w-])-(?=\d)", "\N{MINUS SIGN}", text)


def unbroken(text: str) -> str:
    """A text whose figures stay on one line with their units, signs of groups and the sign of times between them.

    >>> unbroken("180 × 1.6 mm, 12 500 Btu/h at 7 in w.c.").split(" ")
    ['180\\xa0×\\xa01.6\\xa0mm,', '12\\xa0500\\xa0Btu/h', 'at', '7\\xa0in\\xa0w.c.']
    """
    return BEFORE_UNIT.sub(NO_BREAK, text).replace("in w.c.", f"in{NO_BREAK}w.c.")


def unbroken_html(html: str) -> str:
    """An element whose texts are so; names and values of attributes stay.

    >>> unbroken_html('<b title="3 kW">3 kW</b>')
    '<b title="3 kW">3\\xa0kW</b>'
    """
    return BETWEEN_TAGS.sub(lambda text: unbroken(text[0]), html)


def unit_words(unit: str) -> str:
    """A unit as a page prints it; what is sent keeps the spelling of the record.

    >>> unit_words("MJ/m3 gross at 15C/15C"), unit_words("ft3"), unit_words("°C")
    ('MJ/m³ gross at 15 °C/15 °C', 'ft³', '°C')
    """
    return in_print(re.sub(r"(\d)([CF])(?!\w)", r"\1 \2", unit))


def in_units(text: str, system: System) -> str:
    """A running text of the bench, as of a stop, in the units of the reader alone; drills keep their names.

    >>> in_units("The reading is 5.64 kW (19 200 Btu/h) gross; 1.05 mm for 1.00 mm in ring", "US")
    'The reading is 19 200 Btu/h gross; 1.05 mm for 1.00 mm in ring'
    """
    return in_reader_units(text, system, DRILL_NAMES.findall(text))


def power(value_W: float, system: System) -> str:
    """A heat input in the chosen unit."""
    return POWER.inline(value_W, system)


def air_words(air: UnitInAir, measured_W: float, rated_W: float, system: System) -> str:
    """What a reading in other air than that of plan or file says of the unit at its place; "" in the same.

    measured_W, rated_W : at the bench, on the basis of the rating
    """
    if not air.is_other:
        return ""
    here, there = (AMBIENT.inline(one, system) for one in (air.bench_Pa, air.place_Pa))
    watts = (measured_W / air.share, rated_W / air.share, rated_W)
    text = air_sentence(here, there, *(power(one, system) for one in watts))
    return f"{OF_WEATHER_REPORT} {text}" if air.is_like_weather_report else text


def power_pair(value_W: float, expanded_W: float, system: System) -> str:
    """A heat input as it stands everywhere, with its uncertainty to the same digit, one at least.

    >>> power_pair(4182.75, 326.5, "metric")
    '4.18 ± 0.33 kW'
    >>> power_pair(4124.0, 252.0, "US")
    '14 100 ± 900 Btu/h'
    """
    unit = POWER.scale(system).unit
    value = POWER.scale(system).text(value_W).removesuffix(f" {unit}")
    return f"{value} ± {power_spread(value_W, expanded_W, system)}"


def power_spread(value_W: float, expanded_W: float, system: System) -> str:
    """The uncertainty of a heat input to the last digit that the heat input is shown with, one at least.

    >>> power_spread(4044.0, 171.0, "US")
    '600 Btu/h'
    """
    unit = POWER.scale(system).unit
    spread = float(in_unit(expanded_W, Kind.POWER, unit))
    value = POWER.scale(system).text(value_W).removesuffix(f" {unit}")
    places = len(value.partition(".")[2])
    step = 10.0**-places if places else 10.0 ** max(0, len(value.replace(" ", "")) - POWER_DIGITS)
    return f"{fixed(step * max(1, round(spread / step)), places)} {unit}"


def moment(text: str) -> str:
    """A moment of the record to the minute, UTC.

    >>> moment("2026-11-25T14:05:10.000Z")
    '2026-11-25 14:05 UTC'
    """
    return text[:MINUTE].replace("T", " ") + " UTC"


def unended(text: str) -> str:
    """A text that somebody typed, to stand before a full stop.

    >>> unended("shutter turned. "), unended("K. M.")
    ('shutter turned', 'K. M')
    """
    return text.rstrip(". ")


def burner_words(name: str, which: str = "") -> str:
    """A burner for people; of several alike with the number of which was read, as written.

    >>> burner_words("tube"), burner_words("tube", "2 of 4"), burner_words("tube", "2"), burner_words("", "2")
    ('tube', 'tube 2 of 4', 'tube number 2', 'all burners together')
    """
    if not name or name == ALL_BURNERS:
        return ALL_BURNERS
    number = which if not which or " of " in which else f"number {which}"
    return " ".join(filter(None, (name, number)))


def figure(quantity: str, value: float | None, system: System) -> str:
    """A figure of the record with its unit, in the chosen system; one beyond any unit as the record holds it."""
    if value is None:
        return "not evaluated"
    quantity_of_record = quantities().get(quantity)
    if quantity_of_record is None:
        return f"{value:g}"
    try:
        return _in_system(quantity_of_record, value, system)
    except ValueError:  # so large that it is no number in the other unit
        return f"{value:.4g} {quantity_of_record.unit}"


def _in_system(quantity: RecordQuantity, value: float, system: System) -> str:
    if quantity.kind is Kind.POWER:
        return POWER.scale(system).text(value)
    if quantity.kind is Kind.FRACTION:
        if quantity.name.endswith("deviation"):
            return percent(value).replace("-", "\N{MINUS SIGN}")
        if quantity.display_unit == "ppm":
            return f"{fixed(1e6 * value, 0)} ppm"
        return f"{digits(100 * value, 3)} %" if quantity.display_unit else f"{value:g}"
    if quantity.kind is Kind.TIME:
        return timing_text(value)
    if quantity.kind is Kind.GAUGE_PRESSURE and system == "metric":
        unit, usual = _gauge_unit(value)
        return show(value, quantity.kind, unit=unit, digits=usual)
    kind = Kind.VOLUME_FLOW if quantity.kind is Kind.REFERENCE_VOLUME_FLOW else quantity.kind
    return unit_words(show(value, kind, system=system))


def _gauge_unit(value_Pa: float) -> tuple[str, int]:
    """The metric unit of a pressure of the supply, in mbar however low, and its digits.

    >>> _gauge_unit(50.0), _gauge_unit(2750.0)
    (('mbar', 3), ('mbar', 4))
    """
    unit, usual = display_unit(value_Pa, Kind.GAUGE_PRESSURE, "metric")
    return ("mbar", 3) if unit == "Pa" else (unit, usual)


@dataclass(frozen=True, slots=True, kw_only=True)
class BandMark:
    """A place along the drawing of the band, and its label."""

    x: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BandDrawing:
    """The measured heat input with its interval beside the band of the rating, as places along a line."""

    band: tuple[float, float]
    interval: tuple[float, float]
    value: BandMark
    rating: BandMark
    ends: tuple[BandMark, BandMark]
    words: str  # the drawing told


def band_drawing(comparison: Comparison) -> BandDrawing:
    """Where everything stands along the drawing; the band never shrinks to nothing, the reading always fits."""
    low, high = comparison.rating.tolerance.low, comparison.rating.tolerance.high
    spread = comparison.expanded_W / comparison.rating.heat_input_W
    first = min(1.6 * low, comparison.deviation - 1.25 * spread)
    last = max(1.6 * high, comparison.deviation + 1.25 * spread)

    def x(share: float) -> float:
        return LEFT + (share - first) / (last - first) * (RIGHT - LEFT)

    def percent_text(share: float) -> str:
        return f"{100 * share:+.3g} %".replace("-", "\N{MINUS SIGN}")

    interval = (x(comparison.deviation - spread), x(comparison.deviation + spread))
    measured = percent(comparison.deviation, 1 if abs(comparison.deviation) < 1.0 else 0).replace(
        "-", "\N{MINUS SIGN}"
    )
    return BandDrawing(
        band=(x(low), x(high)),
        interval=interval,
        value=BandMark(x=x(comparison.deviation), text=measured),
        rating=BandMark(x=x(0.0), text=comparison.rating.words),
        ends=(BandMark(x=x(low), text=percent_text(low)), BandMark(x=x(high), text=percent_text(high))),
        words=f"Measured {measured} from the {comparison.rating.words}, give or take {100 * spread:.1f} % of it; "
        f"the band runs from {percent_text(low)} to {percent_text(high)}.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseLine:
    """A cause in a line or two."""

    title: str
    words: str
    share: float  # percent
    share_words: str
    predicted: str
    next_measurement: str
    overfire: bool  # in the way that is shown
    other_way: bool  # in another way of this cause
    handbook: str  # page and heading that explain it


GAS_OFF_FIRST = (
    "with the gas off read label, regulator marking and orifice marks first; once they are right, {title}"
)


def _measurements(*, is_off: bool) -> dict[str, str]:
    """What can be measured next, in words; where the burner is to be off, what needs it to burn comes after a look.

    is_off : a reading outside its band has turned the burner off
    """
    return {
        row["measurement"]: GAS_OFF_FIRST.format(title=row["title"])
        if is_off and row["hazard"] == "burning"
        else row["title"]
        for row in tables.rows("next_measurements")
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseLists:
    """The likeliest causes, and those less likely that can overfire a burner, the worst first."""

    likely: tuple[CauseLine, ...] = ()
    rare: tuple[CauseLine, ...] = ()


def cause_lists(
    explanation: Explanation, system: System, of_gross: float = 1.0, *, is_off: bool = False
) -> CauseLists:
    """The likeliest causes, then every other one that can overfire a burner, whatever its share.

    of_gross : from a gross heat input to one on the basis of the rating [-]
    is_off : the burner is to be off, as after a reading outside its band
    """
    likely = [cause for cause in explanation.causes[:MOST_CAUSES] if cause.probability >= LITTLE]
    rare = [cause for cause in explanation.overfire if cause not in likely]

    def lines(causes: Iterable[RankedCause]) -> tuple[CauseLine, ...]:
        return tuple(_cause_line(cause, explanation, system, of_gross, is_off=is_off) for cause in causes)

    return CauseLists(
        likely=lines(likely), rare=lines(sorted(rare, key=lambda cause: -cause.hottest_burner_ratio))
    )


def _cause_line(
    cause: RankedCause, explanation: Explanation, system: System, of_gross: float, *, is_off: bool
) -> CauseLine:
    titles, limit = _measurements(is_off=is_off), bench_limit("overfire").high
    return CauseLine(
        title=_sentence(cause.title),
        words=cause.words,
        share=100.0 * cause.probability,
        share_words="less than 1 %" if cause.probability < LITTLE else f"{100 * cause.probability:.0f} %",
        predicted=POWER.scale(system).text(cause.predicted_ratio * explanation.expected_gross_W * of_gross),
        next_measurement=_sentence(titles.get(cause.next_measurement, cause.next_measurement)),
        overfire=cause.hottest_burner_ratio > limit,
        other_way=cause.overfire and not cause.hottest_burner_ratio > limit,
        handbook=cause.handbook,
    )


def next_measurement(explanation: Explanation, *, is_off: bool = False) -> str:
    """The one measurement that tells most, in a sentence; "" when there are no causes to distinguish.

    is_off : the burner is to be off, as after a reading outside its band
    """
    best = explanation.next_measurement
    if best is None:
        return ""
    title = _measurements(is_off=is_off).get(best.measurement, best.title)
    return f"{_sentence(title)}, about {best.time_min:.0f} min."


def adverse_words(test: BenchTest, system: System) -> list[str]:
    """What was seen or read that a burner in order does not show, a line each."""
    is_lit, before = all(one.name != NOT_LIT for one in test.inputs), _sentence(BEFORE_LIGHTING)
    lines = [
        f"{burner_words(sight.burner) if is_lit else before}: {observation_words(sight.name)}: {sight.answer}"
        for sight in adverse_observations(test)
    ]
    read = result_of(test, MANIFOLD)
    if read is not None and range_act_of(test):
        at, band = pressure(read.value).inline(read.value, system), pressure_span(read.low, read.high, system)
        lines.append(f"{burner_words(read.burner)}: manifold pressure {at}, outside its band, {band}")
    off = result_of(test, LOCK_UP)
    if off is not None and is_low_lock_up_Pa(off.value, off.low):
        at = pressure(off.value).inline(off.value, system)
        least = f", {pressure_end(off.low, 'low', system)}" if off.low is not None else ""
        lines.append(f"Every burner off: manifold pressure {at}, below the least lock-up expected{least}")
    if any(one.stop == "co-high" for one in test.earlier_stops):
        lines.append("CO above its limit was shown and its figure typed anew: read the carbon monoxide again")
    free = result_of(test, CARBON_MONOXIDE)
    if free is not None and free.high is not None and free.value > free.high:
        at, limit = (figure(CARBON_MONOXIDE, value, system) for value in (free.value, free.high))
        lines.append(f"{burner_words(free.burner)}: CO {at} air-free, limit {limit}")
    return lines


def not_as_required(test: BenchTest, past: UnitStops, system: System) -> list[str]:
    """What stands first on the page that saves a test: what its released stops ask for, and what was seen."""
    return [*past.unread(test=test), *adverse_words(test, system)]


def second_look(
    heat_test: HeatInputTest | None, test: BenchTest, past: UnitStops, system: System
) -> list[str]:
    """What of a test that is about to be recorded wants a second look: first what is not as required."""
    lines = not_as_required(test, past, system)
    if heat_test is not None and heat_test.comparison.verdict != Verdict.WITHIN:
        lines.append(heat_test.comparison.text)
    for instrument in test.instruments:
        if not instrument.calibrated_on:
            lines.append(f"{instrument.name}: the record knows no calibration date of it")
        elif instrument.due_on and instrument.overdue(day_of(test)):
            lines.append(f"{instrument.name}: its calibration was due on {instrument.due_on}")
    return lines


def day_of(test: BenchTest) -> str:
    """The day of a test; today for one that is not recorded yet."""
    from burnerlab.bench.record.entry import now

    return test.tested_at or now()


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordLine:
    """One test in a list."""

    serial: str
    model: str
    burner: str
    tested: str
    tester: str
    uid: str
    heat_input: str
    deviation: str
    place: BandPlace
    doubt: str  # why a value in the band is not shown to be there; "" when it is
    odd: int
    looked: int  # answers to what was looked at of the flame
    state: str  # "", superseded, correction
    past: str = ""  # "stopped, released" of a unit that was stopped
    unread: tuple[str, ...] = ()  # what its released stops ask for and no test has read


def named_burner(test: BenchTest) -> str | None:
    """The burner of an entry, "" for all together; None of one that holds nothing of any."""
    burners = (
        *(one.burner for one in test.results),
        *(one.burner for one in test.readings),
        *(one.burner for one in test.observations),
    )
    return next(iter(burners), None)


BEFORE_LIGHTING = "before lighting"


def _is_before_lighting(test: BenchTest) -> bool:
    """Whether an entry of one burner holds but what was seen of none, as a stop before anything was lit."""
    typed = next((one.text for one in test.inputs if one.name == "burner"), ALL_BURNERS)
    is_bare = not test.results and not test.readings and not named_burner(test)
    return is_bare and typed != ALL_BURNERS


def is_turned_low(test: BenchTest) -> bool:
    """Whether an entry of the page was read with the burner turned low."""
    return any((one.name, one.text) == ("low_rate", "yes") for one in test.inputs)


def result_of(test: BenchTest, quantity: str) -> Result | None:
    """The first result of this quantity."""
    return next((result for result in test.results if result.quantity == quantity), None)


OF_GROSS = "_gross"  # at the end of the name of a heat input of the record


def basis_of(test: BenchTest, bases: Bases) -> RatedBasis:
    """The basis of the rating of an entry, as recorded, else of its model; gross where neither is known.

    The ratio of net to gross is that of the entry itself, where both are in it: its heating value may be a billed one.
    """
    of_model = bases.get((test.model, test.gas), GROSS_RATED)
    if (test.rating_basis or of_model.word) == "gross":
        return GROSS_RATED
    for rate in ("", "low_rate_"):
        gross, net = (result_of(test, f"{rate}heat_input_{name}") for name in ("gross", "net"))
        if gross is not None and net is not None and gross.value > 0.0:
            return RatedBasis(word="net", of_gross=net.value / gross.value)
    return of_model


BASIS_NOT_KNOWN = (
    "Heat inputs gross: the model is not on this bench, the basis of its rating is not known here."
)
NO_NET_FIGURE = "Heat inputs gross: the rating is net, and this entry has no net figure."


def basis_note(test: BenchTest, bases: Bases) -> str:
    """Why the heat inputs of an entry are gross where its rating is not known to be; "" for any other."""
    names = (*(one.quantity for one in test.results), *(one.quantity for one in test.readings))
    if not any(map(is_heat_input, names)):
        return ""
    if test.rating_basis:
        return NO_NET_FIGURE if basis_of(test, bases).word != test.rating_basis else ""
    return "" if (test.model, test.gas) in bases else BASIS_NOT_KNOWN


def is_heat_input(quantity: str) -> bool:
    """Whether a quantity of the record is a heat input on the gross basis."""
    known = quantities().get(quantity)
    return known is not None and known.kind is Kind.POWER and quantity.endswith(OF_GROSS)


def record_line(
    record: TestRecord,
    system: System,
    stopped: Collection[str] = (),
    past: Mapping[str, UnitStops] | None = None,
    bases: Bases = NO_BASES,
) -> RecordLine:
    """An entry as one line of a list.

    stopped : units, in lower case, of which a stop stands; past : what was ever stopped of units, by the same key
    bases : of the models on the bench, on which their heat inputs are shown
    """
    stops = (past or {}).get(record.serial.casefold(), UnitStops())
    test = record.test
    low_rate = "low_rate_" if result_of(test, "low_rate_deviation") is not None else ""
    off, heat = (result_of(test, low_rate + name) for name in ("deviation", "heat_input_gross"))
    named = named_burner(test)
    which = next((clean(one.text, 12) for one in test.inputs if one.name == "which"), "")
    basis, place, manifold = basis_of(test, bases), place_of_result(off), result_of(test, MANIFOLD)
    if off is None and manifold is not None:
        place = range_place(manifold.verdict)
    lock_up = result_of(test, LOCK_UP)
    if off is None and lock_up is not None:
        place = lock_up_place(lock_up.verdict, is_low=is_low_lock_up(test))
    if off is None and manifold is None and lock_up is None:
        place = place_of_result(result_of(test, CARBON_MONOXIDE))
    if record.serial.casefold() in stopped:
        place = band_place(STOPPED, True)
    return RecordLine(
        serial=clean(test.serial),
        model=clean(test.model),
        burner=ALL_OFF
        if lock_up is not None
        else "no result"
        if named is None
        else BEFORE_LIGHTING
        if _is_before_lighting(test)
        else burner_words(named, which) + (AT_LOW_RATE if low_rate or is_turned_low(test) else ""),
        tested=moment(test.tested_at),
        tester=clean(test.tester),
        uid=record.uid,
        heat_input="-"
        if heat is None
        else f"{figure('heat_input_gross', heat.value * basis.of_gross, system)} {basis.word}",
        deviation="-" if off is None else figure("deviation", off.value, system),
        place=place,
        doubt=""
        if off is None or off.is_conclusive or place.verdict in (Verdict.NOT_EVALUATED, STOPPED)
        else _sentence(NOT_SHOWN),
        odd=len(adverse_words(test, system)),
        looked=sum(
            one.answer != "not seen" and one.name in sights() and sights()[one.name].is_of_flame
            for one in test.observations
        ),
        state="superseded" if record.corrected_by else "correction" if record.corrects else "",
        past=stops.mark,
        unread=stops.unread(),
    )


def record_lines(
    entries: Sequence[TestRecord],
    system: System,
    stopped: Collection[str] = (),
    past: Mapping[str, UnitStops] | None = None,
    bases: Bases = NO_BASES,
) -> tuple[RecordLine, ...]:
    return tuple(record_line(entry, system, stopped, past, bases) for entry in entries)


def stopped_units(stood: Iterable[OpenStop]) -> frozenset[str]:
    """Serial numbers, in lower case, of the units of which a stop stands."""
    return frozenset(stop.serial.casefold() for stop in stood)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelledText:
    """A name and a figure."""

    label: str
    value: str
    note: str = ""


def _air_of_test(test: BenchTest, value_Pa: float, system: System) -> LabelledText:
    """The pressure of the air at a test: that of its barometer, or what its altitude gives and nobody read."""
    from_altitude = any(one.name == "altitude" and one.text for one in test.inputs)
    label = (
        "Air pressure, by the altitude" if from_altitude else _sentence(quantity_words("ambient_pressure"))
    )
    unit = "inHg" if system == "US" else "kPa"
    return LabelledText(label=label, value=show(value_Pa, Kind.ABSOLUTE_PRESSURE, unit=unit, digits=4))


def entry_facts(
    test: BenchTest, system: System, is_stopped: bool = False, bases: Bases = NO_BASES
) -> tuple[tuple[LabelledText, ...], tuple[LabelledText, ...]]:
    """Readings and results of an entry, by the words of the record; no verdict while a stop of the unit stands.

    Heat inputs stand on the basis of the rating, where the model is on the bench; the other one of the result follows.
    """
    basis = basis_of(test, bases)

    def label_and_ratio(quantity: str) -> tuple[str, float]:
        words = _sentence(quantity_words(quantity))
        own = quantity.removesuffix(OF_GROSS) + "_net"
        if basis.word == "gross" or not is_heat_input(quantity) or result_of(test, own) is not None:
            return words, 1.0
        return words.removesuffix("gross") + basis.word, basis.of_gross

    readings = []
    for item in test.readings:
        if item.quantity == "ambient_pressure":
            readings.append(replace(_air_of_test(test, item.value, system), note=item.instrument))
            continue
        label, ratio = label_and_ratio(item.quantity)
        value = figure(item.quantity, item.value * ratio, system)
        readings.append(LabelledText(label=label, value=value, note=item.instrument))
    results = []
    for result in test.results:
        label, ratio = label_and_ratio(result.quantity)
        value = figure(result.quantity, result.value * ratio, system)
        results.append(
            LabelledText(label=label, value=value, note=_spread(result, system, is_stopped, ratio))
        )
    if basis.word == "net":
        results.sort(key=lambda fact: fact.label.endswith("gross"))
    return tuple(readings), tuple(results)


def input_facts(test: BenchTest) -> tuple[LabelledText, ...]:
    """The inputs of the form that an entry came from, as they were written; the name of a field there is no more."""
    by_name = fields()
    return tuple(
        LabelledText(label=by_name[item.name].label, value=by_name[item.name].answer_words(item.text))
        if item.name in by_name
        else LabelledText(label=item.name, value=item.text)
        for item in test.inputs
        if item.name not in (ORIFICE_MARKS, ENDED_STOPS)
    )


def lighting_facts(test: BenchTest) -> tuple[LabelledText, ...]:
    """What was answered before lighting, the orifice marks where they were asked; empty when nothing was recorded."""
    answers, label = test.before_lighting, fields()[ORIFICE_MARKS].label
    marks = tuple(
        LabelledText(label=label, value=one.text) for one in test.inputs if one.name == ORIFICE_MARKS
    )
    if answers is None:
        return marks
    none = "not recorded"
    more = (answers.leak_test_method, answers.leak_test_by, answers.leak_test_when)
    leak = ", ".join(part for part in (answers.leak_test or none, *more) if part)
    both = (answers.extraction or none, answers.co_alarm or none)
    air = both[0] if both[0] == both[1] else f"{both[0]}, {both[1]}"
    return (
        LabelledText(label="Gas on the label of the supply", value=gas_title(answers.supply_label) or none),
        LabelledText(label="Leak test of this unit", value=leak),
        LabelledText(
            label="Extraction on, CO alarm on", value=f"{air}; {answers.place}" if answers.place else air
        ),
        *marks,
    )


MOST_W = 1e12  # of a heat input whose last digit is looked for: an old entry may hold any figure


def _spread_figure(result: Result, system: System, ratio: float) -> str:
    """An expanded uncertainty as the finding has it, that of a pressure in the unit in which the pressure is shown."""
    known, spread = quantities().get(result.quantity), (result.expanded_uncertainty or 0.0) * ratio
    if known is not None and known.kind is Kind.POWER and max(abs(result.value), spread) < MOST_W:
        return power_spread(result.value * ratio, spread, system)
    if known is None or known.kind is not Kind.GAUGE_PRESSURE:
        return figure(result.quantity, spread, system)
    unit = (
        _gauge_unit(result.value)[0]
        if system == "metric"
        else display_unit(result.value, known.kind, system)[0]
    )
    return f"{digits(float(in_unit(spread, Kind.PRESSURE_DIFFERENCE, unit)), 3)} {unit_words(unit)}"


def _spread(result: Result, system: System, is_stopped: bool, ratio: float) -> str:
    parts = []
    if result.expanded_uncertainty is not None:
        text = (
            f"{100 * result.expanded_uncertainty:.1f} %"
            if result.quantity.endswith("deviation")
            else _spread_figure(result, system, ratio)
        )
        parts.append(f"± {text}")
    if result.quantity == CARBON_MONOXIDE and result.high is not None:
        parts.append(f"limit {figure(result.quantity, result.high, system)}")
    if result.verdict and not is_stopped:
        parts.append(place_of_result(result).text)
    return ", ".join(parts)
