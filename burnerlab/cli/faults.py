"""``explain``: which fault fits the readings, and what to measure next."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from burnerlab.cli.bench_inputs import (
    BUILT_FOR,
    as_built,
    limits_by_plan,
    low_rate_note,
    read_based_rate,
    read_library_gas,
    standard_uncertainty,
)
from burnerlab.cli.common_inputs import (
    ALTITUDE,
    APPLIANCE,
    BAROMETER,
    ONE_PLACE,
    above_outlet,
    ambient_pressure_Pa,
    own_table,
)
from burnerlab.cli.options import json_option, takes, written
from burnerlab.cli.output import (
    CAUTION_WIDTH,
    facts,
    for_reader,
    percent,
    print_cautions,
    print_json,
    print_look_up,
    print_notes,
    print_stops,
    quantity,
    table,
    wrapped,
)
from burnerlab.cli.proposals import burner_names
from burnerlab.quantity import Kind, Rate
from burnerlab.quantity.inputs import Group, Input, as_written, input_row
from burnerlab.quantity.show import number
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.project.basis import RatedBasis
    from burnerlab.bench.bench_air import InputAtPlace, UnitInAir
    from burnerlab.bench.faults.explanation import Explanation, RankedCause
    from burnerlab.bench.faults.fault_study import FaultStudy, Sampling
    from burnerlab.bench.faults.next_measurement import NextMeasurement
    from burnerlab.bench.reading.manifold import ManifoldCheck
    from burnerlab.bench.reading.readings import MeterEntry, Method, Reading
    from burnerlab.bench.unit import SubstituteSupply
    from burnerlab.gas import DeclaredGas, Gas

# How an explanation is printed: what to do first, then the causes that fit.

SHOWN_SHARE = 0.01  # causes below it are not in the table
MOST_SHOWN = 12
INDENT = "    "  # before the words of a cause
NO_STEP = "nothing in the list settles much of the doubt that is left"
AGAIN = "read each of them again, one after another, and the manifold pressure with each"
LATER = {
    "at release": "at the release",
    "after release": "after a release",
}  # by when a measurement may be taken
HAZARD = {"none": "no gas burns", "burning": "gas burns", "opened": "a gas part is opened"}
INCH_OF_WATER_PA = 249.08891


def _source_of_orifices() -> str:
    """The market or the plan that the unit is built for, where one is named; else the file."""
    market = written("market")
    return f"market {market}" if market else "the plan" if written("plan") else "the file"


def explanation_text(
    explanation: Explanation, basis: RatedBasis, at_place: InputAtPlace | None = None
) -> str:
    """The answer in ten seconds, the causes below it; heat inputs on the basis of the rating.

    at_place : of file or plan, where the reading took other air
    """

    from burnerlab.bench.faults.explanation import whole_percent

    first = explanation.groups[0]
    expected = _on_basis(explanation.expected_gross_W, basis)
    pairs = [
        ("under test", ", ".join(explanation.burners)),
        (
            "calculated",
            f"{expected}, by the orifices of {_source_of_orifices()}: {explanation.expected_from}",
        ),
        *(
            ("reading", _reading_words(one, expected_W, basis))
            for one, expected_W in zip(explanation.readings, explanation.expected_each_gross_W, strict=True)
        ),
    ]
    if at_place is not None:
        pairs.append(("air of the bench", for_reader(at_place.text)))
    check = explanation.manifold
    if check is not None and _is_pressure_alone(explanation):
        pairs.append(("cause", PRESSURE_ALONE))
        return facts([*pairs, *_manifold(check, basis)], CAUTION_WIDTH)
    if explanation.readings_fit_together:
        pairs.append(("look at", f"{first.title}: {whole_percent(first.probability)}"))
        if not explanation.stops and not explanation.may_be_other_gas:
            pairs.append(("what to do", first.action))
    pairs.append(("cause", explanation.finding))
    pairs += _steps(explanation)
    if explanation.manifold is not None:
        pairs += _manifold(explanation.manifold, basis)
    return facts(pairs, CAUTION_WIDTH) + "\n\n" + _causes(explanation)


PRESSURE_ALONE = (
    "A manifold pressure in its band shows nothing of gas, orifice or heat input: read the heat input next, by meter "
    "or scale."
)


def _is_pressure_alone(explanation: Explanation) -> bool:
    """Whether nothing but manifold pressures was read, each in its band: they tell no cause from another."""
    is_read = any(one.ratio is not None or one.at_rest for one in explanation.readings)
    return not (is_read or explanation.stops or explanation.act_first)


def _act_first(explanation: Explanation) -> str:
    """What to do before all else where no stop says so."""
    lines = explanation.warnings_first
    if not lines:
        return ""
    return "".join(f"{wrapped(for_reader(f'WARNING: {line}'), CAUTION_WIDTH)}\n" for line in lines) + "\n"


def _on_basis(gross_W: float, basis: RatedBasis) -> str:
    """A heat input on the basis of the rating."""
    return for_reader(quantity(gross_W * basis.of_gross, Kind.POWER, "kW")) + f" {basis.word}"


def _reading_words(reading: Reading, expected_W: float, basis: RatedBasis) -> str:
    parts = []
    where = (reading.burner or "all burners together") if reading.burner is not None else ""
    if reading.ratio is not None:
        off = percent(reading.ratio - 1.0)
        read = _on_basis(reading.ratio * expected_W, basis)
        parts.append(
            f"{read}, {reading.ratio:.3f} of the calculated ({off}){', low rate' if reading.is_low_rate else ''}"
        )
    if reading.pressure_ratio is not None:
        parts.append(f"manifold pressure {reading.pressure_ratio:.3f} of the calculated one")
    if reading.at_rest:
        return f"the meter {'stands still' if reading.at_rest == 'still' else 'moves'} with every burner off"
    method = f", by {reading.method}" if reading.method else ""
    if reading.meter is not None and reading.meter.revolutions is not None:
        count = reading.meter.revolutions
        method += f", {count} {'revolution' if count == 1 else 'revolutions'}"
    return (f"{where}: " if where else "") + "; ".join(parts) + method


def _step_words(measurement: NextMeasurement) -> str:
    worth = (
        f"settles about {100 * measurement.settles:.0f} % of the doubt; "
        if measurement.settles >= 0.01
        else ""
    )
    return f"{measurement.title} ({worth}{measurement.time_min:.0f} min; {HAZARD[measurement.hazard]})"


def _steps(explanation: Explanation) -> Iterator[tuple[str, str]]:
    if explanation.stops:
        for one in explanation.measurements:
            yield "next", _step_words(one)
        for one in explanation.after_release:
            yield LATER[one.when], f"by a qualified person only: {_step_words(one)}"
        return
    if not explanation.readings_fit_together:
        yield "measure next", AGAIN
        return
    best = explanation.next_measurement
    yield "measure next", NO_STEP if best is None else _step_words(best)


def _manifold(check: ManifoldCheck, basis: RatedBasis) -> Iterator[tuple[str, str]]:
    from burnerlab.bench.reading.manifold import TOO_NARROW

    def words(pressure_Pa: float) -> str:
        return f"{number(pressure_Pa / 1e2, 3)} mbar ({number(pressure_Pa / INCH_OF_WATER_PA, 3)} in w.c.)"

    read = words(check.measured_pressure_Pa)
    yield (
        "manifold pressure",
        f"{read}: {check.pressure_verdict} {check.limits_words} ({check.pressure_source})",
    )
    if check.is_too_narrow:
        yield "gauge", TOO_NARROW.format(gauge=words(check.pressure_uncertainty_Pa))
    yield "at that pressure", f"{_on_basis(check.expected_gross_W, basis)} expected; {check.text}"


def _settle_words(cause: RankedCause, later: Mapping[str, str]) -> str:
    """What settles a cause, "" where nothing does; later : when a measurement with gas may be taken, by its name."""
    if cause.next_measurement or not cause.after_release:
        return cause.next_measurement
    return f"{later.get(cause.after_release, LATER['after release'])}: {cause.after_release}"


def _causes(explanation: Explanation) -> str:
    """The causes by probability, each with its words in full on lines of their own, and what the columns mean."""
    likely = sorted(explanation.causes[1:], key=lambda cause: -cause.probability)
    later = {one.measurement: LATER[one.when] for one in explanation.after_release}
    shown = [one for one in (explanation.causes[0], *likely) if one.probability >= SHOWN_SHARE][:MOST_SHOWN]
    rows = [
        (
            f"{one.cause} (!)" if one.danger else one.cause,
            f"{one.predicted_ratio:.2f}",
            _true(one),
            f"{100 * one.probability:.1f}",
        )
        for one in shown
    ]
    head, rule, *lines = table(("cause", "would read", "true input", "probability, %"), rows).splitlines()
    text = [head, rule]
    for line, one in zip(lines, shown, strict=True):
        settled = _settle_words(one, later)
        words = f"if so: {one.words}" + (f"; decided by: {settled}" if settled else "")
        text += [line, wrapped(for_reader(words), CAUTION_WIDTH, INDENT, INDENT)]
    if rest := list(_dangerous(explanation, shown)):
        text += ["", "less likely, and dangerous: the worst first"]
        text += [wrapped(line, CAUTION_WIDTH, INDENT, INDENT) for line in rest]
    return "\n".join((*text, "", *(wrapped(note, CAUTION_WIDTH) for note in _notes_on_causes(explanation))))


def _notes_on_causes(explanation: Explanation) -> Iterator[str]:
    yield (
        "would read, true input: over the heat input calculated at the file's pressure; true input of the hottest "
        "burner where it is over 1.1"
    )
    if any(one.danger for one in explanation.causes):
        yield "(!): another gas, no regulator or a leak; look for it before what is likelier"
    if not explanation.readings_fit_together:
        yield "no cause of the list fits these readings: the probabilities hold among the causes of the list alone"


def _dangerous(explanation: Explanation, listed: Sequence[RankedCause]) -> Iterator[str]:
    """The causes that are not listed and endanger, the worst first."""
    from burnerlab.bench.stop import share_words

    rest = [one for one in explanation.causes if (one.danger or one.overfire) and one not in listed]
    for one in sorted(rest, key=lambda cause: (not cause.danger, -cause.hottest_burner_ratio)):
        hottest = f", true input up to {_true(one)}" if one.hottest_burner_ratio > 1.1 else ""
        yield f"{one.cause}{' (!)' if one.danger else ''}{hottest}, probability {share_words(one.probability)}"


def _true(cause: RankedCause) -> str:
    all_burners, hottest = cause.true_input_ratio, cause.hottest_burner_ratio
    return f"{max(hottest, all_burners) if hottest > 1.1 else all_burners:.2f}"


# How a study of simulated faults is printed.

SAMPLINGS: tuple[Sampling, ...] = ("by the priors", "evenly")


def print_study(study: FaultStudy, as_json: bool) -> None:
    """The counts of a study: in short, then by cause for both ways of drawing."""
    if as_json:
        print_json(study)
        return
    click.echo(_facts(study) + "\n\n" + _summary(study) + "\n\n" + _stops(study))
    for drawn in SAMPLINGS:
        click.echo(f"\nsimulated units {drawn}: right group first, among the first three")
        click.echo(_by_cause(study, drawn))
    print_cautions()


def _facts(study: FaultStudy) -> str:
    return facts(
        [
            ("units", f"{study.units} in each table, seed {study.seed}"),
            ("under test", f"{study.burner or 'all burners together'}, by {study.method}"),
            (
                "noise",
                f"reading {100 * study.reading_uncertainty:.2g} % (one standard deviation); units scatter too",
            ),
            ("made by", "formulas kept apart from those of explain; priors fixed before the study"),
            ("counted", "by groups of causes that ask for one action: " + ", ".join(study.groups)),
        ]
    )


def _read(pressure_read: bool) -> str:
    return "heat input and pressure" if pressure_read else "heat input"


def _summary(study: FaultStudy) -> str:
    rows = [
        (
            one.sampling,
            _read(one.pressure_read),
            f"{100 * one.first:.0f} %",
            f"{100 * one.in_first_three:.0f} %",
        )
        for one in study.tables
    ]
    return table(("simulated units", "read", "right part first", "in first three"), rows, left_columns=2)


def _stops(study: FaultStudy) -> str:
    rows = [
        (
            _read(one.pressure_read),
            f"{one.sound_stopped} of {one.sound}, {one.sound_by_band}",
            f"{one.other_gas_missed} of {one.other_gas}",
            f"{one.overfired_missed} of {one.overfired}",
        )
        for one in study.stops
    ]
    heads = ("STOP", "no fault, stopped; by band", "other gas, not stopped", "overfired, not stopped")
    return table(heads, rows)


def _by_cause(study: FaultStudy, sampling: Sampling) -> str:
    alone, both = (study.table(sampling, pressure_read=read) for read in (False, True))
    heads = (
        "true cause",
        "group",
        "units",
        "first",
        "three",
        "first, p",
        "three, p",
        "stop, p",
        "three or stop, p",
    )
    rows = [
        (
            one.cause,
            one.group,
            str(one.units),
            str(one.true_group_first),
            str(one.in_first_three),
            str(two.true_group_first),
            str(two.in_first_three),
            str(two.stopped),
            str(two.three_or_stopped),
        )
        for one, two in zip(alone.causes, both.causes, strict=True)
    ]
    return table(heads, rows, left_columns=2) + "\np: with the manifold pressure read"


# ``burnerlab explain``: what may be wrong when a heat input is off, and what to measure next.

METHODS = ("meter", "scale")
ALL = "all"
RATES = {"full": False, "low": True}
REVOLUTIONS = re.compile(r"(\d+) revolutions?", re.ASCII)
NAME = re.compile(r"(?P<name>[^:]+):(?P<rest>.+)", re.ASCII | re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What was read of some burners, as written: not yet over what the file expects of them."""

    burner: str | None  # None: that of the command, or all
    rate: Rate | None
    gauge_pressure_Pa: float | None
    low: bool = False
    method: Method | None = None
    expected: Rate | None = None  # in place of what the file expects
    revolutions: int | None = None  # in place of those of the command

    def over_expected(
        self, appliance: Appliance, u: float, burner: str | None, meter: MeterEntry | None = None
    ) -> Reading:
        """The reading of these figures; u : relative standard uncertainty [-]; burner : where none is named.

        meter : what stood beside the timings of every reading by meter
        """
        from burnerlab.bench.reading.manifold import expected_input
        from burnerlab.bench.reading.readings import MeterEntry, Reading
        from burnerlab.bench.unit import turndown_of

        name = burner if self.burner is None else self.burner
        by_file = expected_input(appliance, name or None)
        rates = [turndown_of(one) if self.low else 1.0 for one in by_file.burners]
        expected_W = _gross_W(appliance, self.expected) or float(by_file.each_W @ rates)
        read_W, pressure_Pa = _gross_W(appliance, self.rate), self.gauge_pressure_Pa
        if self.revolutions is not None:
            meter = replace(meter or MeterEntry(), revolutions=self.revolutions)
        return Reading(
            ratio=None if read_W is None else read_W / expected_W,
            pressure_ratio=None if pressure_Pa is None else pressure_Pa / by_file.manifold_Pa,
            relative_uncertainty=u,
            burner=self.burner,
            is_low_rate=self.low,
            method=self.method,
            meter=meter,
        )


def _gross_W(appliance: Appliance, rate: Rate | None) -> float | None:
    if rate is None or rate.basis == "gross":
        return None if rate is None else rate.power_W
    gas = appliance.supply.gas
    return float(rate.power_W / (gas.heating_value_J_per_kg("net") / gas.heating_value_J_per_kg("gross")))


def _figures(text: str, key: str) -> Figures:
    """Figures such as "stock-pot ring: 15.4 kBtu/h gross, low, 2 revolutions, 7 inH2O"."""
    match = NAME.fullmatch(text.strip())
    if match is None:
        fix = 'write it as "stock-pot ring: 15.4 kBtu/h gross" or "all: 7 inH2O"'
        raise UserError(Problem("a burner, a colon and what was read of it", text, key, fix=fix))
    name = match["name"].strip()
    rate, pressure_Pa, words = None, None, dict[str, Any]()
    for part in (part.strip() for part in match["rest"].split(",")):
        if part in RATES:
            words["low"] = RATES[part]
        elif part in METHODS:
            words["method"] = part
        elif counted := REVOLUTIONS.fullmatch(part):
            words["revolutions"] = input_row("revolutions").read(counted[1], key)
        elif re.search(r"\b(gross|net)\b", part):
            rate = _once(rate, read_based_rate(part, key), part)
        else:
            pressure_Pa = _once(pressure_Pa, above_outlet(part, key), part)
    burner = "" if name.casefold() == ALL else name
    return Figures(burner=burner, rate=rate, gauge_pressure_Pa=pressure_Pa, **words)


def _once(present: Any, value: Any, text: str) -> Any:
    """The value; a reading holds one heat input and one pressure."""
    if present is not None:
        fix = "give another --reading for it"
        raise UserError(Problem("a second figure of the same kind", text, "--reading", fix=fix))
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A unit and what was read of it."""

    appliance: Appliance | None
    burner: str | None
    method: Method
    uncertainty: float  # relative standard, of the readings [-]
    figures: tuple[Figures, ...]
    meter_at_rest: Literal["still", "moves"] | None
    plan: str | None = None  # that the unit is built by
    market: str | None = None  # that the unit is built for
    meter: MeterEntry | None = None  # what stood beside the timings

    @property
    def ambient_Pa(self) -> float | None:
        """Pressure of the air that the readings took; None where it was not read."""
        return None if self.meter is None else self.meter.ambient_pressure_Pa

    def at_place(self, air: UnitInAir) -> InputAtPlace | None:
        """What was measured at the place of file or plan; None where the air there is the same."""
        from burnerlab.appliance.project.basis import rated_basis
        from burnerlab.bench.bench_air import input_at_place, rating_in_air
        from burnerlab.bench.decision_rule import decision_rule
        from burnerlab.bench.unit import rating_of

        first = next(iter(self.figures), None)
        read_W = None if first is None else _gross_W(air.appliance, first.rate)
        if first is None or read_W is None or first.burner is not None:
            return input_at_place(air)
        rating = rating_of(self.appliance or air.appliance, self.burner, decision_rule(), low=first.low)
        of_gross = rated_basis(air.appliance).of_gross
        return input_at_place(air, read_W, rating_in_air(rating, air, low=first.low), of_gross)

    def readings(self, appliance: Appliance) -> list[Reading]:
        """Those of --measured and --manifold-pressure, then every --reading, then the meter at rest."""
        from burnerlab.bench.reading.readings import Reading

        readings = [self._over_expected(one, appliance) for one in self.figures]
        if self.meter_at_rest is not None:
            readings.append(Reading(at_rest=self.meter_at_rest))
        return readings

    def _over_expected(self, figures: Figures, appliance: Appliance) -> Reading:
        """A reading with what stood beside it, and with the limits that its plan has for the pressure."""
        by_meter = (figures.method or self.method) == "meter"
        meter = self.meter if by_meter else None
        read = figures.over_expected(appliance, self.uncertainty, self.burner, meter)
        if read.pressure_ratio is None:
            return read
        name = self.burner if read.burner is None else read.burner
        built = self.appliance or appliance  # at its place, for which its market or plan is
        return replace(read, limits=limits_by_plan(built, self.plan, name or None, self.market))


def _case(
    file: Appliance | None,
    measured: Rate | None,
    manifold_pressure: float | None,
    low_rate: bool,
    expected: Rate | None,
    reading: tuple[Figures, ...],
    **rest: Any,
) -> Case:
    first = Figures(
        burner=None,
        rate=measured,
        gauge_pressure_Pa=manifold_pressure,
        low=low_rate,
        expected=expected,
    )
    is_first = measured is not None or manifold_pressure is not None
    return Case(
        appliance=as_built(file, rest["market"], rest["plan"]),
        burner=rest["burner"],
        method=rest["method"],
        uncertainty=rest["uncertainty"],
        figures=((first,) if is_first else ()) + reading,
        meter_at_rest=rest["meter_at_rest"],
        plan=rest["plan"],
        market=rest["market"],
    )


CASE = Group(
    make=_case,
    inputs=(
        replace(APPLIANCE, metavar="[FILE]", is_needed=False),
        Input(
            name="burner",
            reader=as_written,
            proposals=burner_names,
            metavar="NAME",
            help="The burner that was on, one of the kind; without it all were.",
        ),
        *BUILT_FOR,
        Input(
            name="measured",
            reader=read_based_rate,
            metavar="RATE",
            help='What was measured: "18 kBtu/h gross".',
        ),
        Input(name="low_rate", is_flag=True, help="It was read at the low rate, by the turndown in FILE."),
        Input(
            name="expected",
            reader=read_based_rate,
            metavar="RATE",
            help="What was expected; without it calculated from FILE.",
        ),
        Input(
            name="uncertainty",
            reader=standard_uncertainty,
            metavar="PERCENT",
            default="4 %",
            help='Of the readings, expanded (95 %): "3 %".',
        ),
        Input(
            name="manifold_pressure",
            reader=above_outlet,
            metavar="P",
            help='Read with the burner on, gauge: "7.1 inH2O".',
        ),
        Input(
            name="reading",
            reader=_figures,
            metavar="TEXT",
            is_many=True,
            help='Another reading: "stock-pot ring: 15.4 kBtu/h gross, low, 2 revolutions, 7 inH2O". Give it '
            "again for more.",
        ),
        Input(
            name="meter_at_rest",
            choices=("still", "moves"),
            help="What the meter did with every burner off and the supply open.",
        ),
        Input(
            name="method",
            choices=METHODS,
            default="meter",
            help="How it was measured: gas meter or scale.",
        ),
    ),
)
"""A unit and what was read of it: ``Case``."""


def _meter_entry(
    altitude: float | None, barometer: float | None, **entered: float | int | None
) -> MeterEntry:
    from burnerlab.bench.reading.readings import MeterEntry

    has_place = altitude is not None or barometer is not None
    return MeterEntry(
        revolutions=entered["revolutions"],  # type: ignore[arg-type]
        ambient_pressure_Pa=ambient_pressure_Pa(altitude, barometer) if has_place else None,
        has_pressure=entered["meter_pressure"] is not None,
        gauge_pressure_Pa=entered["meter_pressure"] or 0.0,
        has_temperature=entered["gas_temperature"] is not None,
    )


METER = Group(
    make=_meter_entry,
    inputs=(
        Input(name="revolutions", metavar="N", help="Whole revolutions timed, each reading by meter."),
        replace(BAROMETER, help='Air pressure that the reading was calculated with: "1009 hPa".'),
        replace(
            ALTITUDE, help='Altitude that it was calculated with, where no barometer was read: "1500 m".'
        ),
        Input(
            name="meter_pressure", metavar="P", help='Gauge pressure at the meter in that reading: "25 mbar".'
        ),
        Input(
            name="gas_temperature", metavar="T", help='Gas temperature in the meter in that reading: "18 C".'
        ),
    ),
    not_both=ONE_PLACE,
    is_optional=True,
)
"""What stood beside the timings of a meter: ``MeterEntry``; no cause then says that it was left out."""


def _other_supply(other_gas: Gas | DeclaredGas, other_pressure: float) -> SubstituteSupply:
    from burnerlab.bench.unit import SubstituteSupply

    return SubstituteSupply.of(other_gas, other_pressure)


def _both(written: Mapping[str, Any]) -> Iterator[Problem]:
    if len(written) == 1:
        yield Problem("give both", key="--other-gas and --other-pressure")


OTHER = Group(
    make=_other_supply,
    inputs=(
        Input(
            name="other_gas",
            reader=read_library_gas,
            metavar="NAME",
            help="The gas whose parts might be fitted; else of the region.",
        ),
        Input(
            name="other_pressure",
            reader=above_outlet,
            metavar="P",
            help='The manifold pressure of that gas, gauge: "11 inH2O".',
        ),
    ),
    rules=_both,
    is_optional=True,
)
"""Another gas and its pressure: ``SubstituteSupply``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySize:
    """Simulated units in place of readings."""

    units: int  # of each table
    seed: int


STUDY = Group(
    make=lambda study, faults, seed: StudySize(units=faults, seed=seed) if study else None,
    inputs=(
        Input(
            name="study",
            is_flag=True,
            help="Simulate faulty units and print how often the right part stands first.",
        ),
        Input(
            name="faults",
            of="study_units",
            metavar="INTEGER",
            default="1000",
            help="Units of each table of the study.",
        ),
        Input(name="seed", metavar="INTEGER", default="1", help="Of the study."),
    ),
)
"""Simulated units: ``StudySize``; None without ``--study``."""


def _unit_and_reading(written: Mapping[str, Any]) -> Iterator[Problem]:
    """A file and a reading, or a study."""
    if written.get("method") == "scale":
        for one in METER.inputs:
            if one.name in written and one.name not in ONE_PLACE[0] and "reading" not in written:
                yield Problem("is of a reading by meter", str(written[one.name]), one.option)
    for name in ("market", "plan"):
        if name in written and "file" not in written:
            yield Problem("needs the project file too", written[name], f"--{name}")
    if written.get("study"):
        return
    if "file" not in written:
        yield Problem("give the file of the appliance", key="FILE", fix="or --study alone")
    elif not {"measured", "manifold_pressure", "reading", "meter_at_rest"} & written.keys():
        yield Problem("what was measured?", key="--measured", fix='e.g. --measured "18 kBtu/h gross"')


QUESTION = Group(
    make=lambda case, meter, other, study, causes: (replace(case, meter=meter), other, study, causes),
    parts={"case": CASE, "meter": METER, "other": OTHER, "study": STUDY},
    inputs=(own_table("causes", "Your own table of causes and priors, or LIBRARY:causes.csv."),),
    rules=_unit_and_reading,
)
"""Case, other supply, study and own causes."""


@click.command(short_help="What may be wrong when a heat input is off.")
@takes(question=QUESTION)
@json_option
def explain_command(
    question: tuple[Case, SubstituteSupply | None, StudySize | None, Path | None], as_json: bool
) -> None:
    """Rank what may be wrong when a measured heat input is not the expected one, and say what to measure next.

    A danger stands first: another gas, a burner above its rating or a moving meter at rest is headed by STOP.
    Each cause predicts what would be read, from the burners, orifices, gas and pressure of FILE, or those of
    --market or --plan where the unit is built for them, in the air of --barometer or --altitude. Probabilities follow
    by Bayes' rule from the scatter of the readings. Several readings are taken together: --reading holds a burner
    (or "all"), then a heat input, "low" for the low rate, "meter" or "scale", a manifold pressure, in any order.
    --study simulates units with faults instead and counts how often the right part stands first; without FILE those
    of the demonstration.
    The exit status is 0 whatever is found.

    \b
    Examples:
      burnerlab explain range.toml --burner "stock-pot ring" \\
          --measured "15.4 kBtu/h gross" --uncertainty "3 %"
      burnerlab explain range.toml --measured "60 kBtu/h gross" \\
          --manifold-pressure "7 inH2O"
      burnerlab explain range.toml \\
          --reading "griddle tube left: 3.2 kW gross, 6.5 inH2O" \\
          --reading "stock-pot ring: 8.8 kW gross" --meter-at-rest still
      burnerlab explain range.toml --market A --burner "stock-pot ring" \\
          --measured "15.4 kBtu/h gross"
      burnerlab explain --study --burner "griddle tube left"
    """
    from burnerlab.appliance import demonstration
    from burnerlab.appliance.project.basis import rated_basis
    from burnerlab.bench.bench_air import in_air_of, rating_in_air, stops_in_air
    from burnerlab.bench.decision_rule import decision_rule
    from burnerlab.bench.unit import rating_of

    case, other, study, causes = question
    appliance = demonstration() if case.appliance is None else case.appliance
    if study is not None:
        print_study(_study(appliance, case, study, causes), as_json)
        return

    air = in_air_of(appliance, case.ambient_Pa, case.burner)
    at_place = case.at_place(air)
    found = _explanation(air.appliance, case, other, causes)
    if air.is_other:
        rating = rating_in_air(rating_of(appliance, case.burner, decision_rule()), air)
        found = replace(found, stops=stops_in_air(found.stops, air, rating))
    barometer = _without_barometer(air.appliance, case, found)
    if as_json:
        print_json(replace(found, notes=(*barometer, *found.notes)), at_place=at_place)
        return
    print_stops(found.stops)
    click.echo(_act_first(found), nl=False)  # another gas before the air of the reading
    for note in barometer:
        click.echo(wrapped(for_reader(f"WARNING: {note[:1].upper()}{note[1:]}."), CAUTION_WIDTH) + "\n")
    click.echo(explanation_text(found, rated_basis(appliance), at_place))
    is_shown = found.overfire_warning in found.warnings_first
    hidden = () if is_shown or not found.overfire_warning else (found.overfire_warning,)
    print_notes("Notes", found.notes, warnings=hidden)
    print_look_up([*(stop.handbook for stop in found.stops), *(one.handbook for one in found.causes)])
    print_cautions(appliance.supply.gas)


def _explanation(
    appliance: Appliance, case: Case, other: SubstituteSupply | None, causes: Path | None
) -> Explanation:
    from burnerlab.bench.faults.explanation import explain

    readings = case.readings(appliance)
    found = explain(appliance, readings, case.burner, method=case.method, substitute=other, own_causes=causes)
    first = found.reading
    if first.ratio is None or first.is_low_rate:
        return found
    near = low_rate_note(appliance, found.burner or None, first.ratio * found.expected_gross_W)
    return replace(found, notes=(*near, *found.notes))


def _without_barometer(appliance: Appliance, case: Case, explanation: Explanation) -> tuple[str, ...]:
    """What a reading by meter says at a bench lower than the place of file or plan, where no barometer was read."""
    from burnerlab.appliance.project.basis import rated_basis
    from burnerlab.bench.decision_rule import decision_rule
    from burnerlab.bench.reading.meter import lower_bench, sea_level_share
    from burnerlab.bench.unit import rating_of

    first = explanation.reading
    is_metered = (first.method or explanation.method) == "meter"
    if first.ratio is None or first.is_low_rate or case.ambient_Pa is not None or not is_metered:
        return ()
    supply, meter = appliance.supply, case.meter
    gauge_Pa = (
        meter.gauge_pressure_Pa if meter is not None and meter.has_pressure else supply.gauge_pressure_Pa
    )
    more = sea_level_share(supply.ambient_pressure_Pa, gauge_Pa)
    if more <= 1.0:
        return ()
    rating = rating_of(appliance, explanation.burner or None, decision_rule())
    read_W = first.ratio * explanation.expected_gross_W
    at_sea_level = more * read_W * rated_basis(appliance).of_gross / rating.heat_input_W
    return lower_bench(at_sea_level - 1.0, rating)


def _study(appliance: Appliance, case: Case, study: StudySize, causes: Path | None) -> FaultStudy:
    from burnerlab.bench.faults.fault_study import simulate_faults

    return simulate_faults(
        appliance,
        case.burner,
        faults=study.units,
        reading_uncertainty=case.uncertainty,
        method=case.method,
        seed=study.seed,
        own_causes=causes,
    )
