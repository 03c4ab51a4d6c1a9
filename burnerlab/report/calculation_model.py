"""What the calculating pages of the workbook are filled with: the job of a conversion in the units of its cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.orifice_choice import steps_of
from burnerlab.appliance.conversion.refusal import not_to_fit, over_aim, over_aim_of, over_on_second
from burnerlab.appliance.conversion.result import Conversion, Step
from burnerlab.appliance.project.model import Tolerance
from burnerlab.orifice.drill import Drill
from burnerlab.quantity import Kind, System
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.show import display_unit, unit_named
from burnerlab.report.chain import GasRow, State, Value, gas_row, library_gases, values
from burnerlab.report.sheet.wording import clean
from burnerlab.report.workbook import HEAD_ROW
from burnerlab.supply.atmosphere import standard_atmosphere

PAGE, STEPS, GASES, VAPOUR, DRILLS, RULES, LAWS = (
    "Calculation", "Chain", "Gases", "Vapour", "Drills", "Altitude rules", "Coefficients",
)  # fmt: skip
NO_RULE = "bore for sea level"
SPARE_DRILLS = 20
SEA = "_at_sea_level"
SECOND = "_second"
PERCENT = "+0.0%;-0.0%;0.0%"


@dataclass(frozen=True, slots=True, kw_only=True)
class CellUnit:
    """The unit of an input cell: how it is written, and what one of it is in SI."""

    name: str
    factor: float
    offset: float
    pattern: str

    def of(self, value_SI: float) -> float:
        """A value in this unit."""
        return (value_SI - self.offset) / self.factor


def _unit(kind: Kind, name: str, pattern: str) -> CellUnit:
    scale = unit_named(name, kind).scale
    return CellUnit(name=name, factor=scale.factor, offset=scale.offset, pattern=pattern)


@dataclass(frozen=True, slots=True, kw_only=True)
class CellUnits:
    """The units of the cells of one system."""

    pressure: CellUnit
    barometer: CellUnit
    altitude: CellUnit
    temperature: CellUnit
    rate: CellUnit
    bore: CellUnit
    mass_flow: CellUnit
    volume_flow: CellUnit


def units(system: System, gauge_pressure_Pa: float) -> CellUnits:
    """The units of the cells: those of the sheet, the pressure by its size."""
    is_metric = system == "metric"
    pressure, _ = display_unit(gauge_pressure_Pa, Kind.GAUGE_PRESSURE, system)
    inputs = {name: input_row(name).unit(system) for name in ("barometer", "altitude", "gas_temperature")}
    return CellUnits(
        pressure=_unit(Kind.GAUGE_PRESSURE, pressure, "0.00"),
        barometer=_unit(Kind.ABSOLUTE_PRESSURE, inputs["barometer"], "0.00"),
        altitude=_unit(Kind.LENGTH, inputs["altitude"], "0"),
        temperature=_unit(Kind.TEMPERATURE, inputs["gas_temperature"], "0.0"),
        rate=_unit(Kind.POWER, *(("kW", "0.000") if is_metric else ("Btu/h", "#,##0"))),
        bore=_unit(Kind.DIAMETER, *(("mm", "0.000") if is_metric else ("in", "0.0000"))),
        mass_flow=_unit(Kind.MASS_FLOW, "kg/h" if is_metric else "lb/h", "0.0000"),
        volume_flow=_unit(Kind.REFERENCE_VOLUME_FLOW, "m3/h" if is_metric else "ft3/h", "0.0000"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CalculationModel:
    """What the pages are filled with: the job the orifices are sized in, its burners, gases and drills."""

    conversion: Conversion
    job: Job  # of a pressure couple, that of the gas the orifices are sized on
    factor_of_aim: float  # of the altitude rule on the gas of the conversion [-]
    steps: tuple[Step, ...]
    units: CellUnits
    gases: tuple[GasRow, ...]
    states: tuple[State, ...]
    chain: tuple[dict[str, Value], ...]  # the values of the states
    drills: tuple[Drill, ...]
    has_second: bool
    second_share: (
        float  # of the rating, what the orifices of a couple's first gas leave of it on its second [-]
    )
    supplied: tuple[
        float, ...
    ]  # heat input with every burner on, over that at the nominal pressure, by burner [-]
    refused: frozenset[
        str
    ]  # burners that no orifice fits for what the cells do not follow, as the second gas

    def is_fitted(self, step: Step) -> bool:
        """Whether the drill taken fits its burner: by itself and with every burner on, and not refused."""
        supplied = self.supplied[self.steps.index(step)]
        is_in_band = fits_band(self.job.tolerance, step.choice.deviation, supplied)
        return is_in_band and step.burner.name not in self.refused

    def first_trial_m(self, step: Step) -> float:
        """The orifice tried unless the user writes one [m]: of the drill taken, the present one where none fits."""
        return step.choice.diameter_m if self.is_fitted(step) else step.burner.orifice.diameter_m

    def second_fits(self, deviation: float | None) -> bool:
        """Whether the second gas keeps to its band with a drill; deviation : from the aim, None not evaluated."""
        if not self.has_second:
            return True
        return (
            deviation is not None and (1.0 + deviation) / self.second_share - 1.0 <= self.job.tolerance.high
        )

    @property
    def has_parts(self) -> bool:
        """Whether an orifice of the stock has a part number."""
        return any(drill.part for drill in self.drills)

    @property
    def stock_rows(self) -> tuple[int, int]:
        """First and last row of the drills, with those left free."""
        return HEAD_ROW + 1, HEAD_ROW + len(self.drills) + SPARE_DRILLS


def model(c: Conversion, system: System) -> CalculationModel | None:
    """The model of a conversion; None where it was written by hand, without the job it is the conversion of."""
    if c.job is None:
        return None
    job = c.job.reference or c.job
    steps = c.steps if job is c.job else steps_of(job)
    second = _second(c.job)
    present = [job.target.gas, c.job.target.gas, c.job.appliance.supply.gas, *([second[0]] if second else [])]

    def row(gas: Any) -> GasRow:
        return gas_row(gas, job.appliance.rating, job.combustion_K, job.target.reference)

    site = job.new_site

    def state(suffix: str, title: str, ambient: str, gas: Any, gauge_Pa: float, ambient_Pa: float) -> State:
        which = "second" if suffix.startswith(SECOND) else "new"
        return State(
            suffix=suffix,
            title=title,
            gas_cell=f"{which}_gas",
            pressure_cell=f"{which}_pressure",
            ambient=ambient,
            gas=row(gas),
            gauge_pressure_Pa=gauge_Pa,
            ambient_pressure_Pa=ambient_Pa,
            temperature_K=site.gas_temperature_K,
        )

    here, sea = site.ambient_pressure_Pa, standard_atmosphere().pressure_Pa
    new = (job.target.gas, job.target.gauge_pressure_Pa)
    states = [
        state("", "New gas, here", "", *new, here),
        state(SEA, "New gas, at sea level", "sea_level_pressure", *new, sea),
    ]
    if second:
        states.append(state(SECOND, "Second gas, here", "ambient_pressure", *second, here))
        states.append(state(SECOND + SEA, "Second gas, at sea level", "sea_level_pressure", *second, sea))
    chain = tuple(map(values, states))
    return CalculationModel(
        conversion=c,
        job=job,
        factor_of_aim=c.job.policy.factor,
        steps=steps,
        units=units(system, job.target.gauge_pressure_Pa),
        gases=tuple(row(gas) for gas in library_gases(present)),
        states=tuple(states),
        chain=chain,
        drills=_without_equal(job.drills),
        has_second=second is not None,
        second_share=_second_share(chain, job.tolerance) if second else 1.0,
        **_supply(c, job, steps),
    )


def _second_share(chain: tuple[dict[str, Value], ...], band: Tolerance) -> float:
    """What the second gas burns over the first through one orifice where that is below the band, else 1 [-]."""
    share = second_over_first(chain)
    return share if share is not None and share < 1.0 + band.low else 1.0


def second_over_first(chain: tuple[dict[str, Value], ...]) -> float | None:
    """Heat input of the second gas of a couple over that of the first through one hole [-]; None where not known."""
    if len(chain) < 3:
        return None
    first, second = chain[0], chain[2]
    figures = [state.get(key) for state in (second, first) for key in ("mass_flux", "heating_value")]
    known = [each for each in figures if isinstance(each, float)]
    return known[0] * known[1] / (known[2] * known[3]) if len(known) == len(figures) else None


def _supply(c: Conversion, job: Job, steps: tuple[Step, ...]) -> dict[str, Any]:
    """What the supply takes from each burner in the job of the cells, and whom else the conversion refuses."""
    results = [step.result for step in steps]
    over = over_aim(c) if job is c.job else over_aim_of(job, steps, results)
    supplied = tuple(each / (1.0 + step.choice.deviation) for each, step in zip(over, steps, strict=True))
    known = {
        step.burner.name
        for step, share in zip(steps, supplied, strict=True)
        if not fits_band(job.tolerance, step.choice.deviation, share)
    }
    known |= over_on_second(job, steps).keys()
    return {"supplied": supplied, "refused": not_to_fit(c) - known}


def fits_band(band: Tolerance, deviation: float, supplied: float) -> bool:
    """Whether a heat input lies in its band by itself and with every burner on."""
    every = (deviation, (1.0 + deviation) * supplied - 1.0)
    return all(band.low <= each <= band.high for each in every)


def _second(job: Job) -> tuple[Any, float] | None:
    """The other gas of the job's pressure couple, which burns through the same orifices, and its pressure."""
    if job.couple is None:
        return None
    if job.reference is not None:
        return job.target.gas, job.target.gauge_pressure_Pa
    return job.couple.gas_of(job.couple.other), job.couple.other.nominal_Pa


def _without_equal(drills: Sequence[Drill]) -> tuple[Drill, ...]:
    """Drills of rising diameter: of equal ones the first, which the program takes, with the part numbers of all."""
    parts: dict[float, dict[str, None]] = {}
    for drill in drills:
        parts.setdefault(drill.diameter_m, {})[drill.part] = None
    first = {drill.diameter_m: drill for drill in reversed(drills)}
    return tuple(
        replace(drill, part=" or ".join(filter(None, parts[drill.diameter_m]))) for drill in first.values()
    )[::-1]


def label_of(gas: GasRow) -> str:
    """The name of a gas as it stands in the list: no sign that a search takes for any letter."""
    return clean(gas.name, 60).translate({ord(sign): "_" for sign in "*?~"})
