"""What of a unit was read, what is missing, and what it amounts to: the words at the head of its sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from burnerlab.bench.plan_results import has_retyped_CO, plans_of_other_gases, unit_results
from burnerlab.bench.reading_plan import (
    CARBON_MONOXIDE,
    LOCK_UP,
    LOW_RATE_INPUT,
    MANIFOLD,
    NUMBER_LENGTH,
    STATES,
    Plan,
    PlanRow,
    State,
)
from burnerlab.bench.record import BenchTest, Result, TestRecord, UnitStops, sights
from burnerlab.bench.record.entry import quantity_words
from burnerlab.page.bench_state import Bench, plans_words
from burnerlab.page.form import FLAME_METHOD, MANOMETER, WHY_NO_PRESSURE
from burnerlab.page.heat_input_test import which_of
from burnerlab.page.result_text import STOPPED, burner_words, figure, is_turned_low
from burnerlab.quantity import System
from burnerlab.report.plan_report import time_remarks
from burnerlab.tables.verdict import Verdict

# Which burners of a unit were tested: a unit is not tested by the test of one of its burners.


def is_beside_rating(test: BenchTest) -> bool:
    """Whether it says nothing of the rating: the burner turned low, or no heat input read."""
    texts = {text.name: text.text for text in test.inputs}
    return "low_rate" in texts or texts.get("method") in (MANOMETER, FLAME_METHOD)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitBurner:
    """A burner of a unit; of several alike the number of which it is, 0 where its entry does not say."""

    name: str
    which: int = 0
    count: int = 1

    @property
    def which_words(self) -> str:
        """As the bench asks for it."""
        return f"{self.which} of {self.count}" if self.which and self.count > 1 else ""

    @property
    def words(self) -> str:
        """Its name for people.

        >>> UnitBurner(name="tube", which=2, count=4).words, UnitBurner(name="griddle").words
        ('tube 2 of 4', 'griddle')
        """
        return " ".join(filter(None, (burner_words(self.name), self.which_words)))


def tested_burners(entries: tuple[TestRecord, ...]) -> dict[tuple[str, int], TestRecord]:
    """The newest current entry of each burner, by its name and the number of which of several alike it is."""
    by_burner: dict[tuple[str, int], TestRecord] = {}
    for past_test in entries:
        if past_test.is_current and not is_beside_rating(past_test.test):
            which = next((which_of(text.text) for text in past_test.test.inputs if text.name == "which"), 0)
            named = [part.burner for part in past_test.test.results]
            for name in (*named, *(part.burner for part in past_test.test.observations)):
                by_burner.setdefault((name, which if name else 0), past_test)
    return by_burner


def untested(bench: Bench, entries: tuple[TestRecord, ...]) -> list[UnitBurner]:
    """Burners of the model of a unit that no current entry tested, each of several alike, in the order of the file.

    An entry that does not say which of several alike it read stands for the first of those that no entry names.
    """
    done = tested_burners(entries)
    if ("", 0) in done:
        return []
    missing: list[UnitBurner] = []
    for name, count in burners_of_model(bench, entries).items():
        left = [
            UnitBurner(name=name, which=n, count=count) for n in range(1, count + 1) if (name, n) not in done
        ]
        missing += left[1:] if (name, 0) in done else left
    return missing


def coverage(bench: Bench, entries: tuple[TestRecord, ...]) -> str:
    """How many burners were tested, and which were not; "" when all were, or the model is not on this bench."""
    missing, every = untested(bench, entries), sum(burners_of_model(bench, entries).values())
    if not missing:
        return ""
    tested = f"{every - len(missing)} of {every} burners tested"
    return f"{tested}; not tested: {', '.join(each.words for each in missing)}"


NOT_HERE = "its plan {number} is not on this bench: which of its rows are not read is not known here"
ROWS_NOT_KNOWN = "rows of its plan not known here"
NO_ROW = "no row of a plan read; this bench has plan {plans} for this model"
NO_ROW_READ = "no row of a plan read"
NO_CARBON_MONOXIDE = "carbon monoxide not read: {burners}"
NO_LEAK_TEST = "no leak test recorded"
CARBON_MONOXIDE_LEFT = "carbon monoxide not read"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTest:
    """What a test asks for and no current entry of a unit has: the unit is signed as a part test alone."""

    words: str  # how much of which plan
    left: str  # on the line of signature
    rows: str = ""  # by burner and state


def part_tests(bench: Bench, entries: tuple[TestRecord, ...], past: UnitStops) -> list[PartTest]:
    """What of a unit is not read: rows of its plans, or of the plans of its model here, else its carbon monoxide.

    past : every stop of the unit
    """
    of_unit = plans_of_unit(bench, entries)
    current = [entry for entry in entries if entry.is_current]
    parts = [
        PartTest(words=NOT_HERE.format(number=number), left=ROWS_NOT_KNOWN) for number in of_unit.not_here
    ]
    if of_unit.others:
        return [PartTest(words=NO_ROW.format(plans=plans_words(of_unit.others)), left=NO_ROW_READ)]
    parts += [part for plan in of_unit.plans if (part := _part_test(plan, current, past)) is not None]
    if of_unit.plans:
        return parts
    return [*parts, *_without_carbon_monoxide(entries, burners_of_model(bench, entries))]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlansOfUnit:
    """By which plans a unit is read."""

    plans: tuple[Plan, ...] = ()  # of this bench: those it read rows of, else the only one of its model
    not_here: tuple[str, ...] = ()  # numbers of those it read rows of and that this bench does not have
    others: tuple[Plan, ...] = ()  # of its model, where it read no row of any of several


def plans_of_unit(bench: Bench, entries: tuple[TestRecord, ...]) -> PlansOfUnit:
    """The plans of the rows that a unit read; where it read none, those of its model."""
    current = [entry for entry in entries if entry.is_current]
    model = bench.model_of(current[0].test) if current else None
    named = {row.plan for entry in current for row in entry.test.plan_entries}
    own = tuple(plan for plan in bench.plans.values() if plan.digest in named)
    not_here = tuple(digest[:NUMBER_LENGTH] for digest in sorted(named - {plan.digest for plan in own}))
    fitting = () if model is None or named else model.plans
    if len(fitting) > 1:
        return PlansOfUnit(others=fitting)
    return PlansOfUnit(plans=(*own, *fitting), not_here=not_here)


def _without_carbon_monoxide(
    entries: tuple[TestRecord, ...], counts: Mapping[str, int]
) -> Iterator[PartTest]:
    """The part test of a unit by no plan where the carbon monoxide of a burner that was tested is not read."""
    missing = [
        UnitBurner(name=name, which=which, count=counts.get(name, 1)).words
        for name, which in tested_burners(entries)
        if all(one.is_typed_anew for one in carbon_monoxide_of(entries, name, which))
    ]
    if missing:
        yield PartTest(words=NO_CARBON_MONOXIDE.format(burners=", ".join(missing)), left=CARBON_MONOXIDE_LEFT)


def times_in_doubt(bench: Bench, entries: tuple[TestRecord, ...], past: UnitStops) -> list[str]:
    """Of each plan of a unit the hot rows that were recorded too soon, and runs in less time than they last."""
    current = [entry for entry in entries if entry.is_current]
    found = [
        words
        for plan in plans_of_unit(bench, entries).plans
        for words in time_remarks(plan, unit_results(plan, current[0].serial, current, past=past))
    ]
    return list(dict.fromkeys(found))


def _part_test(plan: Plan, current: Sequence[TestRecord], past: UnitStops) -> PartTest | None:
    unit = unit_results(plan, current[0].serial, current, past=past)
    if not unit.is_part:
        return None
    states: dict[str, list[str]] = {}
    for row in plan.rows:
        if row.id in unit.not_done:
            states.setdefault(burner_words(row.place), []).append(plan.state_words(row))
    rows = "; ".join(f"{place}: {', '.join(dict.fromkeys(of))}" for place, of in states.items())
    count, flames = len(unit.not_done), [str(one.place) for one in unit.flames_not_seen]
    left = [_counted(count, "row", "not read")] if count else []
    words = [f"{count} of {len(plan.rows)} rows of plan {plan.number} not read"] if count else []
    if flames:
        left.append(_counted(len(flames), "flame", "not looked at"))
        words.append(f"flame not looked at: {'; '.join(flames)}")
    if not unit.has_leak_test:
        left.append(NO_LEAK_TEST)
        words.append(NO_LEAK_TEST)
    return PartTest(words=", ".join(words), left=", ".join(left), rows=rows)


def _counted(count: int, what: str, missing: str) -> str:
    return f"1 {what} {missing}" if count == 1 else f"{count} {what}s {missing}"


def burners_of_model(bench: Bench, entries: tuple[TestRecord, ...]) -> dict[str, int]:
    """The names of the burners of the model, with how many have each."""
    newest = next((entry.test for entry in entries if entry.is_current), None)
    model = None if newest is None else bench.model_of(newest)
    counts: dict[str, int] = {}
    for burner in () if model is None else model.appliance.burners:
        counts[burner.name] = counts.get(burner.name, 0) + burner.count
    return counts


# What the sheet of a unit says of each burner: its heat input in each state, pressure and carbon monoxide.

StateOfTest = State | Literal[""]
STATES_OF_SHEET: tuple[StateOfTest, ...] = ("", *STATES)


def _of_burner(entries: Sequence[TestRecord], which: int) -> Iterator[TestRecord]:
    """Current entries that are of one of several burners alike, or do not say of which."""
    for entry in entries:
        number = which_of(entry.test.input_text("which"))
        if entry.is_current and (not which or not number or which == number):
            yield entry


def heat_inputs_of(
    entries: Sequence[TestRecord], burner: str, which: int
) -> dict[tuple[StateOfTest, str], TestRecord]:
    """The newest heat input of a burner by state of its plan and what stands before the names of its figures.

    entries : of a unit, the newest first; one of the command line may hold a burner without a heat input
    """
    found: dict[tuple[StateOfTest, str], TestRecord] = {}
    other: dict[tuple[StateOfTest, str], TestRecord] = {}
    for entry in _of_burner(entries, which):
        names = {one.quantity for one in entry.test.results if one.burner == burner}
        state = _state_of(entry)
        if {LOW_RATE_INPUT, "low_rate_deviation"} & names:
            found.setdefault(("low", "low_rate_"), entry)
        elif {"heat_input_gross", "deviation"} & names:
            found.setdefault((state, ""), entry)
        elif not is_beside_rating(entry.test) and (names or _is_seen(entry, burner)):
            other.setdefault(("", ""), entry)
    by_state = found if any(not rate for _, rate in found) else {**other, **found}
    return {at: by_state[at] for at in sorted(by_state, key=lambda at: STATES_OF_SHEET.index(at[0]))}


def _state_of(entry: TestRecord) -> StateOfTest:
    """The state of a plan in which an entry was read: of one that reads its rows and names none, the first."""
    known = next(
        (one for one in STATES_OF_SHEET if one == entry.test.input_text("plan_state")), STATES_OF_SHEET[0]
    )
    return known or (STATES[0] if entry.test.plan_entries else known)


def _is_seen(entry: TestRecord, burner: str) -> bool:
    return any(one.burner == burner for one in entry.test.observations)


def pressure_of(entries: Sequence[TestRecord], burner: str, which: int, state: str) -> float | None:
    """The newest manifold pressure of a burner in a state of its plan [Pa gauge]; None where none was read."""
    states = (state,) if state == "low" else (state, "")  # of no plan it was read on full
    for entry in _of_burner(entries, which):
        for one in entry.test.readings:
            if (one.quantity, one.burner) == (MANIFOLD, burner) and _state_of(entry) in states:
                return one.value
    return None


def why_no_pressure(entries: Sequence[TestRecord], burner: str, which: int, state: str) -> str:
    """Why the newest test of a burner in a state of its plan read no manifold pressure; "" where it does not say."""
    for entry in _of_burner(entries, which):
        is_of_burner = any(one.burner == burner for one in entry.test.results)
        if is_of_burner and _state_of(entry) == state and (why := entry.test.input_text("no_manifold")):
            return WHY_NO_PRESSURE.answer_words(why)
    return ""


# Carbon monoxide of each burner, at full and turned low, with the limit that it was held against.


@dataclass(frozen=True, slots=True, kw_only=True)
class CarbonMonoxideRead:
    """The newest carbon monoxide of a burner at one rate."""

    rate: str  # "full", "low"; "" where its entry does not say
    result: Result
    is_typed_anew: bool  # a figure in the place of one above the limit: it is read again
    state: StateOfTest = ""  # of its plan

    def words(self, system: System) -> str:
        """Rate, figure and limit.

        >>> read = Result(quantity="air_free_carbon_monoxide", value=87e-6, high=8e-4)
        >>> CarbonMonoxideRead(rate="low", result=read, is_typed_anew=False).words("metric")
        'low 87 ppm, limit 800 ppm'
        """
        value = figure(CARBON_MONOXIDE, self.result.value, system)
        if self.result.high is None:
            return f"{self.rate} {value}, no limit recorded" if self.rate else f"{value}, no limit recorded"
        limit = figure(CARBON_MONOXIDE, self.result.high, system)
        return f"{self.rate} {value}, limit {limit}" if self.rate else f"{value}, limit {limit}"


def carbon_monoxide_of(entries: Sequence[TestRecord], burner: str, which: int) -> list[CarbonMonoxideRead]:
    """The newest carbon monoxide of a burner at each rate, full first.

    entries : of a unit, the newest first; which : of several alike, 0 for any
    """
    by_rate: dict[str, CarbonMonoxideRead] = {}
    for entry in _of_burner(entries, which):
        is_of_page = any(entry.test.input_text(name) for name in ("method", "dial"))
        rate = "low" if is_turned_low(entry.test) else "full" if is_of_page else ""
        for one in entry.test.results:
            if (one.quantity, one.burner) == (CARBON_MONOXIDE, burner):
                read = CarbonMonoxideRead(
                    rate=rate, result=one, is_typed_anew=has_retyped_CO(entry), state=_state_of(entry)
                )
                by_rate.setdefault(rate, read)
    return sorted(by_rate.values(), key=lambda read: read.rate == "low")


READ_AGAIN = (
    "{burner}: CO above its limit was shown and its figure typed anew: read the carbon monoxide again"
)


def carbon_monoxide_to_read_again(bench: Bench, entries: tuple[TestRecord, ...]) -> list[str]:
    """Burners whose newest carbon monoxide was typed in the place of one above its limit, a sentence each."""
    counts = burners_of_model(bench, entries)
    places = {
        (one.burner, which_of(entry.test.input_text("which")))
        for entry in entries
        for one in entry.test.results
        if one.quantity == CARBON_MONOXIDE
    }
    return [
        READ_AGAIN.format(burner=UnitBurner(name=name, which=which, count=counts.get(name, 1)).words)
        for name, which in sorted(places)
        if any(one.is_typed_anew for one in carbon_monoxide_of(entries, name, which))
    ]


# What was seen of the flame of each burner, the newest answer to each question.


def answers_of(entries: Sequence[TestRecord]) -> dict[tuple[str, int], dict[str, str]]:
    """Answers by burner and which of several alike, then by the name of what was looked at.

    entries : of a unit, the newest first
    """
    by_place: dict[tuple[str, int], dict[str, str]] = {}
    for entry in entries:
        which = which_of(entry.test.input_text("which"))
        for one in entry.test.observations if entry.is_current else ():
            if one.answer != "not seen" and one.name in sights():
                by_place.setdefault((one.burner, which if one.burner else 0), {}).setdefault(
                    one.name, one.answer
                )
    return by_place


# What the readings of a unit amount to, in one word: never that it may be used.

ROWS_READ = "Plan {number}: {read} of {all} rows read."
OTHER_GAS = "The same orifices burn {gas}: plan {number}, {read} of {all} rows read."
BURNERS_READ = "{read} of {all} burners read, by no plan."
STOPPED_WORDS = "Nothing of the unit is judged."
OUTSIDE_WORDS = "Beyond its band: {readings}."
FLAME_WORD, FLAME_WORDS = "flame not as required", "Answers not as required, below: {count}."
LEFT_WORD, LEFT_WORDS = "not all read", "What is not read is named below."
NEAR_WORDS = "Not proven within its band: {readings}."
UNJUDGED_WORDS = "Not judged: {readings}."
ROWS_WITHIN = "Every row of the plan is read and lies in its band."
READ_WITHIN = "Every figure that was read lies in its band. No plan says what else a test reads."
NONE_HELD = "No figure that was read is held against a band."


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitFinding:
    """How much of a unit was read, and the worst that was found."""

    read: str
    verdict: str  # whose sign it has
    word: str  # within, near, outside, flame not as required, not all read, not evaluated or stopped
    sentences: tuple[str, ...]


ReadingVerdict = tuple[str, Verdict]  # what was read, in words, and its verdict


def unit_findings(
    bench: Bench, entries: tuple[TestRecord, ...], past: UnitStops, *, is_stopped: bool
) -> list[UnitFinding]:
    """What the readings of a unit amount to, by each of its plans; without one by its burners.

    past : every stop of the unit; is_stopped : one of it stands
    """
    current = [entry for entry in entries if entry.is_current]
    if not current:
        return []
    seen = (one for answers in answers_of(current).values() for one in answers.items())
    odd = sum(answer != sights()[name].expected for name, answer in seen)
    has_left = bool(part_tests(bench, entries, past) or past.unread())
    plans, findings = plans_of_unit(bench, entries).plans, []
    for plan in plans:
        unit = unit_results(plan, current[0].serial, current, past=past)
        read = ROWS_READ.format(
            number=plan.number, read=len(plan.rows) - len(unit.not_done), all=len(plan.rows)
        )
        others = plans_of_other_gases(plan, bench.plans.values())
        read = " ".join((read, *(_other_gas_words(one, current, past) for one in others)))
        verdicts = [(row_place(plan, one.row), one.verdict) for one in unit.results]
        findings.append(
            _finding_of(read, verdicts, odd, ROWS_WITHIN, has_left=has_left, is_stopped=is_stopped)
        )
    if not plans:
        every = sum(burners_of_model(bench, entries).values())
        missing = untested(bench, entries)
        read = (
            BURNERS_READ.format(read=every, all=every) if every and not missing else ""
        )  # else ``coverage``
        left = has_left or bool(missing)
        findings.append(
            _finding_of(read, _verdicts(current), odd, READ_WITHIN, has_left=left, is_stopped=is_stopped)
        )
    return findings


def _other_gas_words(plan: Plan, current: Sequence[TestRecord], past: UnitStops) -> str:
    """How much of a unit is read on another gas that its orifices burn: one gas says nothing of the other."""
    left = unit_results(plan, current[0].serial, current, past=past).not_done
    return OTHER_GAS.format(
        gas=plan.gas, number=plan.number, read=len(plan.rows) - len(left), all=len(plan.rows)
    )


def _finding_of(
    read: str,
    verdicts: Sequence[ReadingVerdict],
    odd: int,
    all_within: str,
    *,
    has_left: bool,
    is_stopped: bool,
) -> UnitFinding:
    """The sentences on what was read, the worst first, under the word of the first; ``all_within`` without any."""
    if is_stopped:
        return UnitFinding(read=read, verdict=STOPPED, word=STOPPED, sentences=(STOPPED_WORDS,))
    by_verdict = {
        verdict: ", ".join(dict.fromkeys(words for words, one in verdicts if one is verdict))
        for verdict in Verdict
    }
    outside, near, unjudged = Verdict.OUTSIDE, Verdict.NEAR, Verdict.NOT_EVALUATED
    found = (
        (outside, str(outside), OUTSIDE_WORDS, by_verdict[outside]),
        (outside, FLAME_WORD, FLAME_WORDS, str(odd or "")),
        (unjudged, LEFT_WORD, LEFT_WORDS, "yes" if has_left else ""),
        (near, str(near), NEAR_WORDS, by_verdict[near]),
        (unjudged, str(unjudged), UNJUDGED_WORDS, by_verdict[unjudged]),
    )
    said = [
        (verdict, word, words.format(readings=what, count=what))
        for verdict, word, words, what in found
        if what
    ]
    if not said:
        in_band = Verdict.WITHIN, str(Verdict.WITHIN), all_within
        said = [in_band if verdicts else (unjudged, str(unjudged), NONE_HELD)]
    verdict, word, _ = said[0]
    return UnitFinding(read=read, verdict=verdict, word=word, sentences=tuple(words for *_, words in said))


def row_place(plan: Plan, row: PlanRow) -> str:
    """A row by its number, and in words: a heat input on the basis of the rating."""
    what = quantity_words(plan.on_basis(row).quantity)
    return f"row {row.id} ({burner_words(row.place)}, {plan.state_words(row)}, {what})"


HELD = ("deviation", "low_rate_deviation", MANIFOLD, LOCK_UP, CARBON_MONOXIDE)  # results that have a verdict


def _verdicts(current: Sequence[TestRecord]) -> list[ReadingVerdict]:
    """The newest verdict on each figure of each burner, where no plan names the rows."""
    newest: dict[tuple[str, str, int, bool], ReadingVerdict] = {}
    for entry in current:
        which = which_of(entry.test.input_text("which"))
        for one in entry.test.results:
            without = Verdict.NOT_EVALUATED  # without a band, or a word that is no verdict
            verdict = next((each for each in Verdict if each == one.verdict), without)
            if one.quantity in HELD:
                at = (one.quantity, one.burner, which, is_turned_low(entry.test))
                words = f"{burner_words(one.burner)}, {quantity_words(one.quantity)}"
                newest.setdefault(at, (words, verdict))
    return list(newest.values())
