"""``explain``: which fault fits the readings, and what to measure next."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
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
from burnerlab.cli.explanation import act_first, explanation_text
from burnerlab.cli.fault_study import print_study
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    CAUTION_WIDTH,
    for_reader,
    print_cautions,
    print_json,
    print_look_up,
    print_notes,
    print_stops,
    wrapped,
)
from burnerlab.cli.proposals import burner_names
from burnerlab.quantity import Rate
from burnerlab.quantity.inputs import Group, Input, as_written, input_row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.bench_air import InputAtPlace, UnitInAir
    from burnerlab.bench.faults.explanation import Explanation
    from burnerlab.bench.faults.fault_study import FaultStudy
    from burnerlab.bench.reading.readings import MeterEntry, Method, Reading
    from burnerlab.bench.unit import SubstituteSupply
    from burnerlab.gas import DeclaredGas, Gas

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
    click.echo(act_first(found), nl=False)  # another gas before the air of the reading
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
