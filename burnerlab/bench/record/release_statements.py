"""What a qualified person states to end a stop, the same at the bench page and at the command line."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from math import ceil, inf
from pathlib import Path
from typing import Any

from burnerlab.bench.record.checks import read_leak_test_time, words_problem
from burnerlab.bench.record.entry import LONGEST_NAME, LONGEST_NOTE, now, read_time
from burnerlab.bench.stop import pressure_words
from burnerlab.quantity import Kind, read
from burnerlab.quantity.inputs import input_row
from burnerlab.tables.figure import figures
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.release_text import STATEMENT_TEXTS

OF_LEAK = frozenset({"odour", "leak-suspected"})
OF_CARBON_MONOXIDE = frozenset({"co-alarm"})  # flue gas is read again after the release, never before
SEARCHES = {
    "fluid": "every joint searched with leak detection fluid",
    "detector": "every joint searched with a gas detector",
}
YES, NO = "yes", "no"
NO_METER = "no meter"  # answer to the hand of a meter, where gas comes from a cylinder
WITHOUT_METER = "leak test without a meter"
CARBON_MONOXIDE = "carbon monoxide in the room"
WATCHED = "meter watched"
WATCHED_DIAL = f"{WATCHED}, "  # before the size of a dial
SMALL_DIAL_m3 = 0.5 * 0.3048**3  # the largest of the row without a size
LEAK_STANDS = "There is still a leak: the stop stays in force"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseLimits:
    """What the answers of a release must reach before they end a stop: rows of the table ``release_limits``."""

    leak_test_min: float  # at least
    meter_watched_min: float  # at least
    carbon_monoxide_ppm: float  # below
    without_meter_min: float  # of the leak test, where no meter can be watched
    watched_by_dial: tuple[
        tuple[float, float], ...
    ] = ()  # one turn of a dial [m3], minutes that it is watched
    may_lack_meter: bool = False  # gas of the stop from a cylinder
    working_Pa: float | None = (
        None  # of the supply that is leak tested, gauge, at least; None where it is not known
    )
    since_min: float = inf  # from the newest stop that ends, as it was recorded, to the release


def release_limits(own: Path | None = None) -> ReleaseLimits:
    """The limits of the table, each replaced by that of a user's own one where it is stricter.

    own : a CSV of the same columns
    Raises UserError for a row that is less strict than the one it would replace.

    >>> release_limits().carbon_monoxide_ppm, release_limits().leak_test_min
    (9.0, 3.0)
    """
    shipped, used = figures("release_limits"), figures("release_limits", own)
    problems = []
    for name, one in used.items():
        least = shipped[name].value
        is_looser = one.value > least if name == CARBON_MONOXIDE else one.value < least
        if is_looser:
            what = (
                f"{name} of a release is less strict than the {least:g} {shipped[name].unit} it would replace"
            )
            accepted = (
                f"{'at most' if name == CARBON_MONOXIDE else 'at least'} {least:g} {shipped[name].unit}"
            )
            file = "" if own is None else own.name
            problems.append(Problem(what, f"{one.value:g}", "value", file=file, accepted=accepted))
    if problems:
        raise UserError(problems)
    return ReleaseLimits(
        leak_test_min=used["leak test"].value,
        meter_watched_min=used[WATCHED].value,
        carbon_monoxide_ppm=used[CARBON_MONOXIDE].value,
        without_meter_min=used[WITHOUT_METER].value,
        watched_by_dial=tuple(
            sorted(
                (float(read(name.removeprefix(WATCHED_DIAL), Kind.VOLUME, name)), one.value)
                for name, one in used.items()
                if name.startswith(WATCHED_DIAL)
            )
        ),
    )


DIAL_ROUNDED = 0.02  # of a dial in another unit than that of the table: 28 L are 1 ft3


def watch_minutes(dial_m3: float, limits: ReleaseLimits) -> int:
    """Minutes that a meter is watched, by one turn of its dial: a slow leak moves the hand of a large one less.

    Between two dials of the table the smallest flow is that which the smaller one shows, and the time no longer than
    that of the larger; beyond the largest its flow holds.

    >>> [watch_minutes(litres / 1e3, release_limits()) for litres in (1, 10, 28, 50, 57, 100, 300)]
    [5, 5, 7, 10, 10, 18, 32]
    """
    smaller = [each for each in limits.watched_by_dial if each[0] <= dial_m3 * (1.0 + DIAL_ROUNDED)]
    larger = [each for each in limits.watched_by_dial if each[0] >= dial_m3 * (1.0 - DIAL_ROUNDED)]
    minutes = limits.meter_watched_min
    if smaller:
        size_m3, of_size = smaller[-1]
        minutes = max(minutes, of_size, of_size * dial_m3 / size_m3)
    elif larger and dial_m3 > SMALL_DIAL_m3 * (1.0 + DIAL_ROUNDED):
        minutes *= dial_m3 / SMALL_DIAL_m3
    if larger:
        minutes = max(limits.meter_watched_min, min(minutes, larger[0][1]))
    return ceil(minutes - 1e-9)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseStatement:
    """One statement of a release: what is written, how, and which stops it is needed for."""

    kind: str  # argument of ``release``
    label: str
    hint: str
    # why a text states nothing within some limits; "" for one that does, or for none
    problem: Callable[[str, ReleaseLimits], str]
    longest: int = LONGEST_NOTE
    stops: frozenset[str] = frozenset()  # ids that it is needed for; none named: every stop
    choices: Mapping[str, str] = field(
        default_factory=dict
    )  # the answers accepted, and each in words; none: any text
    is_remark: bool = False  # ends no stop, and is not needed by itself

    def is_of(self, stops: Collection[str]) -> bool:
        """Whether a release of stops of these ids may state it."""
        return not self.stops or not self.stops.isdisjoint(stops)

    def is_needed(self, stops: Collection[str]) -> bool:
        """Whether a release of stops of these ids cannot do without it."""
        return not self.is_remark and self.is_of(stops)


def number_of(text: str) -> float | None:
    """A figure of zero or more without a unit; None for any other text.

    >>> number_of("10"), number_of("10 min, still moving"), number_of("-1")
    (10.0, None, None)
    """
    try:
        number = float(text)
    except ValueError:
        return None
    return number if 0.0 <= number < float("inf") else None


def minutes_problem(text: str, fewest: float) -> str:
    """Why this is no number of minutes, of which there must be so many at least; "" for one.

    >>> minutes_problem("10", 5.0), minutes_problem("10 min, still moving", 5.0)
    ('', 'Is no number: the minutes alone, such as 10')
    >>> minutes_problem("1", 5.0)
    'Is too short: at least 5 min, and the length set by the local code'
    """
    minutes = number_of(text)
    if minutes is None:
        return "Is no number: the minutes alone, such as 10"
    if minutes >= fewest:
        return ""
    return f"Is too short: at least {fewest:g} min, and the length set by the local code"


def pressure_problem(text: str) -> str:
    """Why this is no pressure above that of the air; "" for one.

    >>> pressure_problem("11 in w.c."), pressure_problem("dropped")
    ('', 'Is no pressure: figure and unit, such as 27.4 mbar (11.0 in w.c.)')
    """
    value = _pressure(text)
    if value is None or value < 0.0:
        return "Is no pressure: figure and unit, such as 27.4 mbar (11.0 in w.c.)"
    return "" if value > 0.0 else f"There is no pressure. {LEAK_STANDS}"


def carbon_monoxide_problem(text: str, limit_ppm: float) -> str:
    """Why carbon monoxide of a room ends no stop; "" for a figure in ppm below the limit.

    >>> carbon_monoxide_problem("0", 9.0), carbon_monoxide_problem("fine", 9.0)
    ('', 'Is no number: the reading in ppm alone, such as 0')
    >>> carbon_monoxide_problem("300", 9.0)
    'Ends no stop: there is still carbon monoxide (it ends below 9 ppm)'
    """
    value = number_of(text)
    if value is None:
        return "Is no number: the reading in ppm alone, such as 0"
    if value < limit_ppm:
        return ""
    return f"Ends no stop: there is still carbon monoxide (it ends below {limit_ppm:g} ppm)"


def _pressure(text: str) -> float | None:
    try:
        return float(read(text, Kind.GAUGE_PRESSURE, "pressure"))
    except UserError:
        return None


def dial_of(text: str) -> float | None:
    """One turn of a dial [m3]; None for a text that is none.

    >>> dial_of("10 L"), dial_of("the small one")
    (0.01, None)
    """
    try:
        return float(input_row("dial").read(text, "dial"))
    except UserError:
        return None


def _dial_problem(text: str, limits: ReleaseLimits) -> str:
    return "" if dial_of(text) is not None else "Is no dial: figure and unit, such as 10 L (0.353 ft3)"


def _searched(text: str, limits: ReleaseLimits) -> str:
    if text in SEARCHES:
        return ""
    return "Ends no stop: every joint is searched at working pressure. Answer fluid or detector"


def _hand(text: str, limits: ReleaseLimits) -> str:
    if text == NO_METER:
        return "" if limits.may_lack_meter else "Only a supply of LP gas from a cylinder has no meter"
    return _answered_no(LEAK_STANDS)(text, limits)


def _answered_no(stands: str) -> Callable[[str, ReleaseLimits], str]:
    def problem(text: str, limits: ReleaseLimits) -> str:
        return "" if text == NO else stands if text == YES else "Is neither yes nor no"

    return problem


def _words(kind: str) -> Callable[[str, ReleaseLimits], str]:
    return lambda text, limits: words_problem(text, kind)


def _nothing(text: str, limits: ReleaseLimits) -> str:
    return ""


def _above_air(text: str, limits: ReleaseLimits) -> str:
    return pressure_problem(text)


NOT_KNOWN = "The working pressure of this supply is not known, and no leak test below it ends a stop"
GAUGE_U = 2.0  # of a standard uncertainty: what a gauge may read apart with the same pressure at it


def leak_words(statements: Mapping[str, str]) -> str:
    """Which answers of a release say that gas escapes; "" where none does.

    >>> leak_words({"gas_at_joints": "Yes"}), leak_words({"gas_at_joints": "no"})
    ('gas at a joint', '')
    >>> leak_words({"test_pressure_start": "11 in w.c.", "test_pressure_end": "10 in w.c."})
    'the pressure fell in the leak test'
    """
    words = []
    if _answer(statements, "gas_at_joints") == YES:
        words.append("gas at a joint")
    if _answer(statements, "meter_moved") == YES:
        words.append("the hand of the meter moved with every burner valve shut")
    start, end = (_pressure(_answer(statements, f"test_pressure_{at}")) for at in ("start", "end"))
    if start is not None and end is not None and 0.0 <= end < start:
        words.append("the pressure fell in the leak test")
    return "; ".join(words)


def _pressure_problems(statements: Mapping[str, str], working_Pa: float | None) -> dict[str, str]:
    """Why the pressures of a leak test end no stop: below the working pressure, fallen, or risen beyond the gauge.

    working_Pa : of the supply that was tested, gauge [Pa]; None where it is not known
    """
    from burnerlab.bench.uncertainty import instruments  # with numpy, which no other answer needs

    wrong: dict[str, str] = {}
    start, end = (_pressure(_answer(statements, f"test_pressure_{at}")) for at in ("start", "end"))
    if start is not None and working_Pa is not None and 0.0 < start < working_Pa * (1.0 - ROUNDED):
        least = pressure_words(working_Pa)
        wrong["test_pressure_start"] = (
            f"Ends no stop: below the working pressure of this supply, at least {least}"
        )
    if start is None or end is None:
        return wrong
    rise_Pa = end - start
    apart_Pa = GAUGE_U * instruments()["manifold pressure"].standard_uncertainty
    if rise_Pa < 0.0:
        wrong["test_pressure_end"] = f"The pressure fell. {LEAK_STANDS}"
    elif rise_Pa > apart_Pa:
        wrong["test_pressure_end"] = (
            f"Rose by more than a gauge reads apart, {pressure_words(apart_Pa)}: gas came in during the test. Shut the "
            "supply off and test again"
        )
    return wrong


def leak_test_minutes(statements: Mapping[str, str]) -> float:
    """Minutes that the leak test takes with the watch of the meter: one is shut off, the other open, so one by one.

    >>> leak_test_minutes({"test_minutes": "10", "meter_minutes": "7"})
    17.0
    """
    return sum(number_of(_answer(statements, kind)) or 0.0 for kind in ("test_minutes", "meter_minutes"))


def _began(text: str) -> datetime.datetime | None:
    """When gas was noticed; None for a text that is no moment of the past, or has no clock."""
    try:
        read_at = read_leak_test_time(text)
        return datetime.datetime.fromisoformat(read_time(read_at)) if ":" in read_at else None
    except UserError:
        return None


def _began_problem(text: str, limits: ReleaseLimits) -> str:
    return (
        "" if _began(text) else "Is no date and time of the past, such as 2026-11-25 08:10 or 08:10 of today"
    )


def _time_problem(statements: Mapping[str, str], since_min: float) -> str:
    """Why a leak test was not taken since the gas was noticed; "" where there was time for it.

    since_min : minutes since the stop was recorded, which may be later than the gas was noticed

    >>> made = {"test_minutes": "10", "meter_minutes": "7"}
    >>> _time_problem(made, 2.0).partition(": ")[2]
    'when was the gas noticed? Answer date and time, or the clock of today'
    >>> _time_problem(made, 20.0)
    ''
    """
    takes_min, stated = leak_test_minutes(statements), _answer(statements, "stop_began")
    if takes_min <= since_min + CLOCK_min:
        return ""
    began = _began(stated)
    if began is None:
        return (
            f"The stop was recorded {max(since_min, 0.0):.0f} min ago, leak test and watch take {takes_min:g} min: "
            "when was the gas noticed? Answer date and time, or the clock of today"
        )
    began_min = (datetime.datetime.fromisoformat(now()) - began).total_seconds() / 60.0
    if takes_min <= began_min + CLOCK_min:
        return ""
    return (
        f"That is {max(began_min, 0.0):.0f} min ago, and leak test and watch take {takes_min:g} min: they are made "
        "after the repair. The stop stays in force until then"
    )


CLOCK_min = 1.0  # of minutes that people count
ROUNDED = 0.002  # of a pressure as it is printed: its last digit may be rounded up


def _statement(kind: str, **more: Any) -> ReleaseStatement:
    text = STATEMENT_TEXTS[kind]
    return ReleaseStatement(kind=kind, label=text.label, hint=text.hint, **{"problem": _words(kind)} | more)


_YES_NO = {YES: YES, NO: NO}
_of_leak = partial(_statement, stops=OF_LEAK)
_of_carbon_monoxide = partial(_statement, stops=OF_CARBON_MONOXIDE)
RELEASE_STATEMENTS = (
    _statement("name", longest=LONGEST_NAME),
    _statement("qualification", longest=LONGEST_NAME),
    _statement("cause"),
    _statement("repair"),
    _statement("joints_searched", problem=_searched, choices=SEARCHES | {"not every": "not every joint"}),
    _statement("gas_at_joints", problem=_answered_no(LEAK_STANDS), choices=_YES_NO),
    _of_leak("test_pressure_start", problem=_above_air, longest=LONGEST_NAME),
    _of_leak("test_pressure_end", problem=_above_air, longest=LONGEST_NAME),
    _of_leak(
        "test_minutes",
        problem=lambda text, limits: minutes_problem(text, limits.leak_test_min),
        longest=LONGEST_NAME,
    ),
    _of_leak("meter_dial", problem=_dial_problem, longest=LONGEST_NAME),
    _of_leak(
        "meter_minutes",
        problem=lambda text, limits: minutes_problem(text, limits.meter_watched_min),
        longest=LONGEST_NAME,
    ),
    _of_leak("meter_moved", problem=_hand, choices=_YES_NO | {NO_METER: NO_METER}),
    _of_leak("stop_began", problem=_began_problem, is_remark=True, longest=LONGEST_NAME),
    _of_carbon_monoxide(
        "carbon_monoxide",
        problem=lambda text, limits: carbon_monoxide_problem(text, limits.carbon_monoxide_ppm),
        longest=LONGEST_NAME,
    ),
    _of_carbon_monoxide("carbon_monoxide_where"),
    _statement("leak_test", problem=_nothing, is_remark=True),
)
"""In the order in which they are written."""


def is_cylinder_supply(gases: Iterable[str]) -> bool:
    """Whether each of these gases of tests is LP gas; a name that the library does not hold is none.

    >>> is_cylinder_supply(["propane-hd5", "butane-n"]), is_cylinder_supply(["propane", "natural-gas-typical"])
    (True, False)
    >>> is_cylinder_supply([])  # of a test that names no gas
    False
    """
    from burnerlab.appliance.conversion.gas_facts import GasStates
    from burnerlab.bench.unit import is_LP
    from burnerlab.gas import fuels, load

    known, names = fuels(), tuple(gases)
    return bool(names) and all(name in known and is_LP(GasStates(load(name))) for name in names)


def statements_for(stops: Collection[str]) -> tuple[ReleaseStatement, ...]:
    """The statements that a release of stops of these ids needs, and the remark that it may have.

    >>> [one.kind for one in statements_for({"odour"})][-3:], len(statements_for({"soot"}))
    (['meter_moved', 'stop_began', 'leak_test'], 7)
    """
    return tuple(one for one in RELEASE_STATEMENTS if one.is_of(stops))


def statement_problems(
    statements: Mapping[str, str],
    stops: Collection[str],
    limits: ReleaseLimits | None = None,
) -> dict[str, str]:
    """Why a release is refused, by the statement it is about; what is missing included.

    stops : ids of the stops that it ends; limits : those of a user's own table, None for the shipped ones

    >>> statement_problems({"name": "?"}, {"soot"})["qualification"]
    'Is missing'
    >>> from dataclasses import replace
    >>> limits = replace(release_limits(), working_Pa=996.4)
    >>> statement_problems({"test_pressure_start": "0.1 in w.c."}, {"odour"}, limits)["test_pressure_start"]
    'Ends no stop: below the working pressure of this supply, at least 9.96 mbar (4.00 in w.c.)'
    """
    wrong: dict[str, str] = {}
    limits = limits or release_limits()
    has_no_meter = _answer(statements, "meter_moved") == NO_METER
    if has_no_meter:  # the pressure alone says whether gas escapes: it is held longer
        limits = replace(limits, leak_test_min=max(limits.leak_test_min, limits.without_meter_min))
    elif (dial_m3 := dial_of(_answer(statements, "meter_dial"))) is not None:
        limits = replace(limits, meter_watched_min=watch_minutes(dial_m3, limits))
    for one in RELEASE_STATEMENTS:
        text = _answer(statements, one.kind)
        if has_no_meter and one.kind in ("meter_dial", "meter_minutes"):
            wrong |= {one.kind: "No meter: leave it empty"} if text else {}
        elif not text:
            wrong |= {one.kind: "Is missing"} if one.is_needed(stops) else {}
        elif len(text) > one.longest:
            wrong[one.kind] = f"Is longer than {one.longest} characters"
        elif why := one.problem(text, limits):
            wrong[one.kind] = why
    wrong = _pressure_problems(statements, limits.working_Pa) | wrong
    if "stop_began" not in wrong and (why := _time_problem(statements, limits.since_min)):
        wrong["stop_began"] = why
    for kind, text in kept_statements(statements).items():
        if kind not in wrong and len(text) > LONGEST_NOTE:
            wrong[kind] = "Is too long with the readings after the repair"
    return wrong


def _answer(statements: Mapping[str, str], kind: str) -> str:
    """A statement as it is read; of a choice upper and lower case are alike."""
    text = " ".join(statements.get(kind, "").split())
    return text.casefold() if kind in ("joints_searched", "gas_at_joints", "meter_moved") else text


def kept_statements(statements: Mapping[str, str]) -> dict[str, str]:
    """The statements as the record keeps them: answers and figures in words with the leak test, or with the repair.

    >>> kept_statements({"joints_searched": "fluid", "gas_at_joints": "no", "leak_test": "by code"})["leak_test"]
    'every joint searched with leak detection fluid; gas at any joint: no; remark: by code'
    >>> kept_statements({"test_minutes": "10", "stop_began": "2026-11-25 8:10"})["leak_test"]
    'after 10 min; gas noticed 2026-11-25 08:10, as stated'
    """
    answers = {one.kind: _answer(statements, one.kind) for one in RELEASE_STATEMENTS}
    if _began(answers["stop_began"]):  # a day with the clock: that of today says nothing later
        answers["stop_began"] = read_leak_test_time(answers["stop_began"])
    leak_test = [
        words.format(
            **answers
            | {
                "search": SEARCHES.get(answers["joints_searched"], answers["joints_searched"]),
                "hand": "no meter on this supply"
                if answers["meter_moved"] == NO_METER
                else f"its hand moved: {answers['meter_moved']}",
            }
        )
        for kind, words in (
            ("joints_searched", "{search}"),
            ("gas_at_joints", "gas at any joint: {gas_at_joints}"),
            ("test_pressure_start", "pressure {test_pressure_start} at the start"),
            ("test_pressure_end", "{test_pressure_end} at the end"),
            ("test_minutes", "after {test_minutes} min"),
            ("meter_minutes", "meter watched {meter_minutes} min with every burner valve shut"),
            ("meter_dial", "one turn of its dial {meter_dial}"),
            ("meter_moved", "{hand}"),
            ("stop_began", "gas noticed {stop_began}, as stated"),
            ("leak_test", "remark: {leak_test}"),
        )
        if answers[kind]
    ]
    repair = [answers["repair"]]
    if answers["carbon_monoxide"]:
        repair.append(f"carbon monoxide after the repair: {answers['carbon_monoxide']} ppm")
    repair += [answers["carbon_monoxide_where"]] if answers["carbon_monoxide_where"] else []
    return {
        **{kind: answers[kind] for kind in ("name", "qualification", "cause")},
        "repair": "; ".join(repair),
        "leak_test": "; ".join(leak_test),
    }
