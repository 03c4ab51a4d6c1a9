"""The measured units on the desk: where they lie against what is calculated, and their constants for the draft."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from burnerlab.appliance.conversion.orifice_choice import changed_by, steps_of
from burnerlab.appliance.project.basis import RatedBasis
from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.learning.calibration import STILL, Calibration, calibrate, recorded_tests
from burnerlab.bench.learning.discharge_coefficient import TABLE as DISCHARGE
from burnerlab.bench.learning.known_orifices import plan_digest
from burnerlab.bench.learning.samples import ModelConstant
from burnerlab.bench.plan_file import plans_below
from burnerlab.bench.plan_results import PlanReport, UnitsInBand, plan_report, units_in_bands
from burnerlab.bench.reading_plan import (
    NUMBER_LENGTH,
    STATE_WORDS,
    Plan,
    converted_for,
    difference_words,
    forms_of,
    plan_of,
)
from burnerlab.bench.record.database import Record
from burnerlab.bench.record.entry import BenchTest
from burnerlab.orifice.discharge_coefficient import COEFFICIENT_ENDS
from burnerlab.page.desk_fragment import MarketConversion
from burnerlab.page.result_text import minus
from burnerlab.quantity import Kind, System, show
from burnerlab.quantity.show import number
from burnerlab.report.plan_report import earlier_row
from burnerlab.tables.problem import UserError

UNITS_USED = 200  # newest units, as the command ``calibrate`` uses them
WIDTH, HEIGHT, MARGIN = 340.0, 34.0, 12.0  # of the picture of one burner, in units of its drawing
AS_DRAFT, AS_FILE = "as this draft stands", "as in the file"
COEFFICIENT_KEYS = ("coefficient", *COEFFICIENT_ENDS)
DIGITS = 4  # of a coefficient that goes into the draft


@dataclass(frozen=True, slots=True)
class BuiltUnits:
    """A plan, and the appliance as the units tested by it are built; None where it is not known any more."""

    title: str
    plan: Plan
    appliance: Appliance | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitDot:
    """One unit in the picture: its place, and the ends of its uncertainty."""

    serial: str
    x: str
    left: str
    right: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitsLine:
    """One burner in one state: its band, what is expected, and what the units measured."""

    burner: str
    state: str
    expected: str
    band: str
    measured: str  # least to most, and the mean
    deviation: str  # of the mean from what is expected
    outside: str  # serial numbers whose value lies outside the band
    band_x: str
    band_width: str
    expected_x: str
    dots: tuple[UnitDot, ...]

    @property
    def words(self) -> str:
        """The picture in words."""
        return f"{self.burner}, {self.state}: {len(self.dots)} readings, {self.measured}; band {self.band}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanUnits:
    """The units measured by one plan."""

    title: str
    differs: str  # of a plan of an earlier version of the file: what its figures are beside those of now
    count: int
    not_judged: str  # serial numbers for which a stop stands
    earlier: tuple[str, ...]  # readings outside their band that were read again, by unit
    lines: tuple[UnitsLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstantLine:
    """A constant before and as measured here; with what it changes in the draft, where it can."""

    name: str
    on: str  # gas and orifices of the units
    before: str
    now: str
    units: int
    why: str
    value: str  # that goes into the draft, with its interval; "" where none can
    entries: tuple[tuple[str, str], ...]  # keys of the draft, each with what goes there
    burners: str
    others: str  # burners of the same shape of hole that were not measured: they keep what they have
    present: str  # what the draft has in those keys


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectAnswer:
    """A text of the desk that reads: its appliance, its values by key, and its markets converted."""

    appliance: Appliance
    values: Mapping[str, str]
    markets: Sequence[MarketConversion]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredUnits:
    """What a record holds of the model of a draft."""

    model: str
    plans: tuple[PlanUnits, ...] = ()
    unknown: tuple[str, ...] = ()  # units of plans that are not known here
    constants: tuple[ConstantLine, ...] = ()
    cautions: tuple[str, ...] = ()
    units: int = 0
    days: str = ""
    trouble: str = ""  # why there is nothing


def _built(markets: Sequence[MarketConversion], words: str) -> Iterator[BuiltUnits]:
    """The plans that a text gives, with the appliance as its units are built for each."""
    for market in markets:
        for letter, conversion in market.by_gas:
            if conversion.job is None:
                continue
            try:
                plan = plan_of(conversion)
            except UserError:
                continue
            title = f"market {letter}, {conversion.to_gas.name}, {words}"
            appliance = changed_by(conversion.job, steps_of(conversion.job))
            own, *earlier = forms_of(plan)
            yield BuiltUnits(title, own, appliance)
            yield from (
                BuiltUnits(f"{title}, by the rules of an earlier burnerlab", each, appliance)
                for each in earlier
            )


def plans_of_files(
    folder: Path, model: str, texts: Mapping[str, Appliance], known: Collection[str]
) -> Iterator[BuiltUnits]:
    """The plans of a model beside its file, and in the folders below it where papers are written to.

    texts : the appliances that may give a plan, with the words for each: made with another limit of carbon monoxide or
    from a stock, it is of the file as it stands
    known : digests of those that are known already
    """
    for plan in plans_below(folder):
        if plan.model != model or plan.digest in known:
            continue
        title = f"plan {plan.number}, {plan.gas}"
        made = ((words, converted_for(appliance, plan)) for words, appliance in texts.items())
        words, appliance = next((each for each in made if each[1] is not None), ("", None))
        yield BuiltUnits(f"{title}, {words or 'of an earlier version of the file'}", plan, appliance)


def plan_units(
    record: Record, built: BuiltUnits, system: System, present: Sequence[Plan] = ()
) -> PlanUnits | None:
    """The units of a record measured by a plan; None where there are none.

    present : the plans that the file gives now; a plan that none of them is says how its figures differ
    """
    report = plan_report(record, built.plan)
    if not report.units:
        return None
    return PlanUnits(
        title=built.title,
        differs=_differs(built.plan, present, system) if built.appliance is None else "",
        count=len(report.units),
        not_judged=", ".join(unit.serial for unit in report.units if unit.is_stopped),
        earlier=tuple(_earlier(report, system)),
        lines=tuple(_lines(report, system)),
    )


def _earlier(report: PlanReport, system: System) -> Iterator[str]:
    """Each reading that was outside its band and is not in the picture: another stands in its place."""
    for unit in report.units:
        for one in unit.earlier:
            if one.is_outside:
                serial, words, value, _, by, done, _ = earlier_row(
                    report.plan.rated, unit.serial, one, system
                )
                yield f"{serial}: {words}, {value}; {by}; {done}"


def _differs(plan: Plan, present: Sequence[Plan], system: System) -> str:
    words = difference_words(plan, [each for each in present if each.gas == plan.gas], system)
    if not words:
        return f"The file has no market of {plan.gas} now: these figures are of the plan alone."
    return f"Figures below are of that plan, not of the file now: {words}."


def unknown_plans(tests: Sequence[BenchTest], known: Collection[str]) -> tuple[str, ...]:
    """The units of a model that were tested by plans of which nothing here gives the figures, a sentence for each."""
    by_digest: dict[str, list[str]] = {}
    for test in tests:
        digest = plan_digest(test)
        if digest and digest not in known:
            by_digest.setdefault(digest, []).append(test.serial)
    return tuple(
        f"Plan {digest[:NUMBER_LENGTH]}, units {', '.join(sorted(set(serials)))}: neither the file nor the draft gives "
        "it, and its own file is not in their folder. Put the plan's JSON file into this folder to see where they lie."
        for digest, serials in by_digest.items()
    )


def _lines(report: PlanReport, system: System) -> Iterator[UnitsLine]:
    for one in units_in_bands(report):
        if one.measured_gross_W:
            yield _line(one, report.plan.rated, system)


def _line(units: UnitsInBand, rated: RatedBasis, system: System) -> UnitsLine:
    measured, predicted = units.measured_gross_W, units.predicted_gross_W
    low, high = units.low_gross_W, units.high_gross_W
    ends = [
        (value, spread or 0.0) for value, spread in zip(measured, units.expanded_uncertainties_W, strict=True)
    ]
    every = [value - spread for value, spread in ends] + [value + spread for value, spread in ends]
    every += [figure for figure in (low, high, predicted) if figure is not None]
    least, most = min(every), max(every)
    step = (WIDTH - 2.0 * MARGIN) / ((most - least) or 1.0)

    def x(value: float) -> str:
        return f"{MARGIN + (value - least) * step:.1f}"

    def heat(value: float) -> str:
        return show(value * rated.of_gross, Kind.POWER, system=system)

    mean = sum(measured) / len(measured)
    outside = [
        serial
        for serial, value in zip(units.serials, measured, strict=True)
        if (low is not None and value < low) or (high is not None and value > high)
    ]
    is_banded = low is not None and high is not None
    return UnitsLine(
        burner=units.burner or "all burners",
        state=next((words for state, words in STATE_WORDS.items() if state == units.state), units.state),
        expected="" if predicted is None else heat(predicted),
        band=f"{heat(low)} to {heat(high)}" if low is not None and high is not None else "none",
        measured=f"{heat(min(measured))} to {heat(max(measured))}, mean {heat(mean)}, {rated.word}",
        deviation="" if not predicted else minus(f"{100.0 * (mean / predicted - 1.0):+.1f} %"),
        outside=", ".join(outside) if len(outside) < max(len(ends), 2) else f"all {len(ends)}",
        band_x=x(low) if is_banded and low is not None else "",
        band_width=f"{(high - low) * step:.1f}" if low is not None and high is not None else "",
        expected_x="" if predicted is None else x(predicted),
        dots=tuple(
            UnitDot(serial=serial, x=x(value), left=x(value - spread), right=x(value + spread))
            for serial, (value, spread) in zip(units.serials, ends, strict=True)
        ),
    )


def constant_lines(
    calibration: Calibration, appliance: Appliance, values: Mapping[str, str], on: str
) -> Iterator[ConstantLine]:
    """The constants of a calibration; a discharge coefficient with the keys of the draft that it was measured on."""
    for one in calibration.constants:
        places = _places(one, calibration, appliance)
        burners = appliance.burners
        yield ConstantLine(
            name=one.name,
            on=on,
            before=_interval(one.prior, one.prior_low, one.prior_high),
            now=_interval(one.value, one.low, one.high) if one.is_in_table else "not evaluated",
            units=one.units,
            why=one.why,
            value=_interval(one.value, one.low, one.high) if places else "",
            entries=tuple(_entries(one, places)),
            burners=", ".join(burners[place - 1].name for place in places),
            others=", ".join(
                burner.name
                for place, burner in enumerate(burners, start=1)
                if places and burner.orifice.shape == one.row and place not in places
            ),
            present=", ".join(dict.fromkeys(_present(values, place) for place in places)),
        )


def _places(constant: ModelConstant, calibration: Calibration, appliance: Appliance) -> list[int]:
    """The burners, from 1, that a coefficient was measured on; none where it tells nothing new."""
    if not constant.is_learned or constant.table != DISCHARGE:
        return []
    return [
        place
        for place, burner in enumerate(appliance.burners, start=1)
        if burner.orifice.shape == constant.row and burner.name in calibration.burners
    ]


def _entries(constant: ModelConstant, places: Sequence[int]) -> Iterator[tuple[str, str]]:
    """A coefficient and both ends of its interval: without them a heat input would be judged as if it were exact."""
    figures = dict(zip(COEFFICIENT_KEYS, (constant.value, constant.low, constant.high), strict=True))
    for place in places:
        for key, figure in figures.items():
            yield f"burner[{place}].orifice.{key}", number(figure, DIGITS)


def _present(values: Mapping[str, str], place: int) -> str:
    """The coefficient of a burner as the draft has it, in words."""
    value, low, high = (values.get(f"burner[{place}].orifice.{key}") or "" for key in COEFFICIENT_KEYS)
    if not value:
        return "of the shape"
    return f"{value} ({low} to {high})" if low and high else value


def _interval(value: float, low: float, high: float) -> str:
    return f"{number(value, 3)} ({number(low, 3)} to {number(high, 3)})"


def measured_units(
    record: Record, draft: ProjectAnswer, saved: ProjectAnswer | None, folder: Path, system: System
) -> MeasuredUnits:
    """Where the units of a model lie, by the plans of its draft, its file and earlier ones; the constants they tell.

    A constant is learned only through orifices that are known (``bench/learning/known_orifices.py``): by a plan of the
    draft or of the file, by the bore read in the test, or by gas and pressure of the present supply.
    saved : the file as it was read or written last
    folder : of the file, in and below which plans of earlier versions are looked for, as beside the record
    """
    model = draft.appliance.model or draft.appliance.name
    folders = folder.resolve(), record.path.resolve().parent
    built = {each.plan.digest: each for each in reversed(list(_every_built(draft, saved, folders, model)))}
    present = [each.plan for each in _built((saved or draft).markets, "")]
    pictures = [plan_units(record, each, system, present) for each in reversed(built.values())]
    try:
        tests = recorded_tests(record, model, UNITS_USED)
    except UserError as error:
        trouble = "; ".join(problem.text() for problem in error.problems)
        return MeasuredUnits(model=model, trouble=trouble)
    lines: list[ConstantLine] = []
    cautions: list[str] = []
    plans = {digest: one.appliance for digest, one in built.items() if one.appliance is not None}
    for digest, own in _groups(tests, plans):
        on = built[digest].title if digest else f"{draft.appliance.supply.gas.name}, the present orifices"
        calibration = calibrate(own, plans.get(digest, draft.appliance), plans=plans)
        lines += constant_lines(calibration, draft.appliance, draft.values, on)
        cautions += [f"{on}: {one}" for one in calibration.cautions if one != STILL]
    days = sorted({test.tested_at[:10] for test in tests})
    return MeasuredUnits(
        model=model,
        plans=tuple(one for one in pictures if one is not None),
        unknown=unknown_plans(tests, built),
        constants=tuple(lines),
        cautions=tuple(dict.fromkeys(cautions)),
        units=len({test.serial for test in tests}),
        days=" to ".join(dict.fromkeys((days[0], days[-1]))),
    )


def _every_built(
    draft: ProjectAnswer, saved: ProjectAnswer | None, folders: Sequence[Path], model: str
) -> Iterator[BuiltUnits]:
    texts = {AS_DRAFT: draft} | ({} if saved is None else {AS_FILE: saved})
    built = [each for words, text in texts.items() for each in _built(text.markets, words)]
    yield from built
    known = {each.plan.digest for each in built}
    appliances = {words: text.appliance for words, text in texts.items()}
    for folder in dict.fromkeys(folders):
        for each in plans_of_files(folder, model, appliances, known):
            known.add(each.plan.digest)
            yield each


def _groups(
    tests: Sequence[BenchTest], plans: Mapping[str, Appliance]
) -> Iterator[tuple[str, list[BenchTest]]]:
    """The tests of no known plan, under "", then those of each plan by its digest; none empty."""
    by_plan: dict[str, list[BenchTest]] = {digest: [] for digest in ("", *plans)}
    for test in tests:
        digest = plan_digest(test, plans)
        by_plan[digest if digest in plans else ""].append(test)
    return ((digest, own) for digest, own in by_plan.items() if own)
