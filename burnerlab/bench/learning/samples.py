"""What a bench record holds to learn constants from, and the models at each sample."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.appliance.conversion.burner_conversion import geometry_with, law_of
from burnerlab.appliance.conversion.gas_facts import AnyGas
from burnerlab.appliance.project.model import Appliance, Burner, OwnTables
from burnerlab.bench.learning.known_orifices import plan_digest, why_not_known
from burnerlab.bench.reading.manifold import conditions_of, flow_of
from burnerlab.bench.record.entry import BenchReading, BenchTest
from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, Surroundings
from burnerlab.burner.coefficients import Array, coefficients
from burnerlab.burner.evaluation import fuel_with_flame
from burnerlab.gas import Gas, load
from burnerlab.orifice import nozzle
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import UserError
from burnerlab.tables.verdict import Verdict

# Constants a shop can learn from its bench: what is known before, what the record says, by which rules.

RULES = "calibration_rules"
HERE = "measured here"


@cache
def rules() -> Mapping[str, float]:
    """Rules of learning by name, from the table ``calibration_rules``.

    >>> rules()["stated level"]
    0.95
    """
    return {row["name"]: float(row["value"]) for row in tables.rows(RULES)}


def normal_quantile(level: float) -> float:
    """Half width, in standard deviations, of the middle share of a normal distribution.

    >>> normal_quantile(0.95)
    1.960
    """
    return NormalDist().inv_cdf((1.0 + level) / 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """What is known of a constant before: lognormal about its value."""

    value: float
    low: float
    high: float

    @property
    def log_deviation(self) -> float:
        """Standard deviation of the logarithm; the wider side of an uneven spread counts for both.

        >>> Prior(value=0.9, low=0.85, high=0.95).log_deviation
        0.0347
        """
        wider = max(math.log(self.high / self.value), math.log(self.value / self.low))
        return wider / normal_quantile(rules()["spread level"])


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelConstant:
    """A constant before and after the record was read."""

    name: str = field(metadata=output("constant"))
    table: str = field(metadata=output("table"))  # discharge or burner_coefficients
    row: str = field(metadata=output("row"))  # of that table
    unit: str = field(metadata=output("unit"))
    prior: float = field(metadata=output("before"))
    prior_low: float = field(metadata=output("before from"))
    prior_high: float = field(metadata=output("before to"))
    value: float = field(metadata=output("now"))  # the prior's where the record does not tell
    low: float = field(metadata=output("now from"))  # interval at the stated level
    high: float = field(metadata=output("now to"))
    units: int = field(metadata=output("units"))
    readings: int = field(metadata=output("readings"))
    spread: float | None = field(
        metadata=output("spread counted", Kind.FRACTION)
    )  # relative standard deviation between units, with the usual one as a few readings more; None: not looked for
    spread_read: float | None = field(
        default=None, metadata=output("spread read", Kind.FRACTION)
    )  # that of the readings alone
    outliers: tuple[str, ...] = field(metadata=output("outliers"))  # serial numbers left out
    is_learned: bool = field(metadata=output("learned"))
    is_in_table: bool = field(
        metadata=output("written")
    )  # into the table: told, or part of a fit that tells them only together
    why: str = field(metadata=output("why"))  # what it rests on, or why the record does not tell
    steps: tuple[str, ...] = field(
        default=(), metadata=output("steps")
    )  # from the readings to the figure, in words

    @property
    def beyond_prior(self) -> bool:
        """Whether the whole interval lies outside what the shipped sources span."""
        return self.is_learned and not (self.low <= self.prior_high and self.prior_low <= self.high)


# What a bench record holds that constants can be learned from, burner by burner, and what had to be left
# out.

FULL, LOW = "full", "low"
WATCHED: Mapping[str, tuple[str, str]] = {
    "lift": ("lift", FULL),
    "lift-low": ("lift", LOW),
    "light-back": ("light-back", LOW),
    "yellow-tips": ("yellow tips", FULL),
}
"""Observations the flame's limits are learned from: which limit, and at which rate."""

NOT_KNOWN = (
    "leak-suspected",
    "wrong-gas",
    "gas-not-ruled-out",
    "other-gas",
    "mark-differs",
    "overfire",
    "pressure",
    "pressure-band",
)  # stops of a test that says nothing of the orifices, the gas or the regulator of the file
HEAT_INPUT, AERATION = "heat_input_gross", "primary_aeration"
PART_IN_DOUBT = "heat input outside its band and no bore read, so that a part of the unit may be wrong"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One burner in one test: the state it was tested in and what was read or seen; None for what was not."""

    serial: str
    tested_at: str
    burner: Burner  # with the orifice and shutter of the test
    gas: AnyGas
    gauge_pressure_Pa: float
    ambient_pressure_Pa: float
    gas_temperature_K: float
    air_temperature_K: float
    gauge_pressure_uncertainty: float | None = None  # standard, relative
    bore_uncertainty_m: float | None = None  # standard, of a measured bore; None for a nominal one
    heat_input_gross_W: float | None = None
    heat_input_uncertainty: float | None = None  # standard, relative
    aeration: float | None = None
    aeration_uncertainty: float | None = None  # standard, relative
    seen: Mapping[str, bool] = field(default_factory=dict)  # by observation


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """Tests that fit no constant, and why."""

    why: str = field(metadata=output("why"))
    tests: int = field(metadata=output("tests"))

    @property
    def words(self) -> str:
        """The reason and the count.

        >>> LeftOut(why="gas X is not in the library", tests=1).words
        'gas X is not in the library: 1 test'
        """
        return f"{self.why}: {self.tests} {'test' if self.tests == 1 else 'tests'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """The samples of a record, and why tests were left out."""

    samples: tuple[Sample, ...]  # of orifices that are known
    of_unknown_orifices: tuple[Sample, ...]  # with that of the file; they tell of what was seen alone
    units: int  # of the samples
    first_tested_at: str
    last_tested_at: str
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]  # what is used all the same


class _Gases:
    """Gases by the name a test gives; the appliance's own when it gives none."""

    def __init__(self, appliance: Appliance) -> None:
        own = appliance.supply.gas
        self.cache: dict[str, AnyGas | None] = {"": own, own.name.casefold(): own}

    def named(self, name: str) -> AnyGas | None:
        key = name.strip().casefold()
        if key not in self.cache:
            try:
                self.cache[key] = load(name.strip())
            except UserError:
                self.cache[key] = None
        return self.cache[key]


def gather(
    tests: Iterable[BenchTest], appliance: Appliance, plans: Mapping[str, Appliance] | None = None
) -> Gathered:
    """Samples of an appliance's burners from tests of its model.

    plans : by digest, the appliance as the units of a plan are built (``known_orifices.built_by_plans``)
    A test without manifold pressure, with a gas that the library does not hold, through an orifice that is not known,
    stopped for its gas, an orifice, an overfire or its pressure, or whose heat input was outside its band while no
    bore was read, is left out and counted: what is wrong with one unit is no constant of the others.
    """
    gases, omitted, others = _Gases(appliance), Counter[str](), 0
    samples: list[Sample] = []
    unknown: list[Sample] = []
    used: list[BenchTest] = []
    built = plans or {}
    for test in tests:
        gas = gases.named(test.gas)
        if gas is None:
            omitted[f"gas {test.gas} is not in the library"] += 1
            continue
        if any(stop.id in NOT_KNOWN for stop in test.stops):
            omitted[
                "stopped for gas, orifice, overfire or pressure, so that it is not known what flowed"
            ] += 1
            continue
        of_test = _samples(test, gas, appliance, built)
        rows = [sample for sample, why in of_test if not why]
        reasons = dict.fromkeys(why for _, why in of_test if why) or dict.fromkeys(
            () if rows else (_nothing_read(test, appliance),)
        )
        omitted.update(reasons.keys())
        unknown += [sample for sample, why in of_test if why]
        if not rows:
            continue
        is_other = bool(test.model_sha256 and appliance.file_sha256)
        others += is_other and test.model_sha256 != appliance.file_sha256
        samples += rows
        used.append(test)
    times = sorted(test.tested_at for test in used)
    version = LeftOut(
        why="recorded with another version of the project file, used all the same", tests=others
    )
    return Gathered(
        samples=tuple(samples),
        of_unknown_orifices=tuple(unknown),
        units=len({test.serial for test in used}),
        first_tested_at=times[0] if times else "",
        last_tested_at=times[-1] if times else "",
        left_out=tuple(LeftOut(why=why, tests=count) for why, count in omitted.items()),
        notes=(version.words,) if others else (),
    )


PRESSURE_MISSING = (
    "no manifold pressure beside a heat input, a primary aeration or an observation; "
    'record correct ENTRY --reading "BURNER: manifold_pressure = 20 mbar" adds it'
)
FIGURE_MISSING = (
    "a manifold pressure without a heat input, a primary aeration or an observation beside it; "
    'record correct ENTRY --result "BURNER: heat_input_gross = 3.4 kW +- 1.5 %" adds it'
)
NOT_OF_ONE_BURNER = (
    "a manifold pressure above zero and a heat input, a primary aeration or an observation are not of the same burner "
    'of the file; record correct ENTRY --result "BURNER: heat_input_gross = 3.4 kW +- 1.5 %" names it'
)


def _nothing_read(test: BenchTest, appliance: Appliance) -> str:
    """What a test lacks that tells of no constant, and how it is entered."""
    is_calculated = any(burner.orifice.is_calculated for burner in appliance.burners)
    without = "; or an orifice that neither the file nor a bore read gives" if is_calculated else ""
    names = {one.quantity for one in test.results} | {one.quantity for one in test.readings}
    was_seen = any(one.name in WATCHED and one.answer != "not seen" for one in test.observations)
    has_figure = was_seen or bool(names & {HEAT_INPUT, AERATION})
    if "manifold_pressure" not in names:
        return f"{PRESSURE_MISSING}{without}"
    return f"{NOT_OF_ONE_BURNER if has_figure else FIGURE_MISSING}{without}"


def _samples(
    test: BenchTest, gas: AnyGas, appliance: Appliance, plans: Mapping[str, Appliance]
) -> list[tuple[Sample, str]]:
    """The burners of a test, each with why its orifice is not known, "" where it is."""
    as_built = plans.get(plan_digest(test, plans), appliance)
    of_gas = gas if test.gas.strip() else as_built.supply.gas
    found = []
    for burner in as_built.burners:
        sample = _sample(test, burner, as_built, of_gas)
        if sample is not None and not sample.burner.orifice.is_calculated:
            why = why_not_known(test, burner, of_gas, sample.gauge_pressure_Pa, appliance, plans)
            if not why and sample.bore_uncertainty_m is None and _is_outside(test, burner.name):
                why = PART_IN_DOUBT
            found.append((sample, why))
    return found


def _is_outside(test: BenchTest, burner: str) -> bool:
    verdicts = {r.verdict for r in test.results if r.quantity == "deviation" and r.burner in ("", burner)}
    return Verdict.OUTSIDE in verdicts


def _sample(test: BenchTest, burner: Burner, appliance: Appliance, gas: AnyGas) -> Sample | None:
    """One burner of a test, None where it says nothing of it or its pressure is not known."""
    alone = len(appliance.burners) == 1 and appliance.burners[0].count == 1
    whole = ("", burner.name) if alone else (burner.name,)  # burners that a heat input can be of

    def read(quantity: str) -> BenchReading | None:
        rows = [r for r in test.readings if r.quantity == quantity and r.burner in ("", burner.name)]
        return max(rows, key=lambda reading: reading.burner, default=None)

    def figure(quantity: str, usual: float) -> float:
        number = read(quantity)
        return usual if number is None else number.value

    pressure, supply = read("manifold_pressure"), appliance.supply
    heat, heat_uncertainty = _heat_input(test, whole)
    air = next((r for r in test.readings if r.quantity == AERATION and r.burner in whole), None)
    sightings = {
        observation.name: observation.answer == "yes"
        for observation in test.observations
        if observation.name in WATCHED and observation.answer != "not seen" and observation.burner in whole
    }
    if pressure is None or not pressure.value > 0.0 or (heat is None and air is None and not sightings):
        return None
    built, bore = _as_tested(burner, test)
    temperature = figure("gas_temperature", supply.gas_temperature_K)
    room = figure("ambient_temperature", temperature)
    return Sample(
        serial=test.serial,
        tested_at=test.tested_at,
        burner=built,
        gas=gas,
        gauge_pressure_Pa=pressure.value,
        ambient_pressure_Pa=figure("ambient_pressure", supply.ambient_pressure_Pa),
        gas_temperature_K=temperature,
        air_temperature_K=figure("air_temperature", room),
        bore_uncertainty_m=None if bore is None else bore.standard_uncertainty or 0.0,
        gauge_pressure_uncertainty=_share(pressure.value, pressure.standard_uncertainty, 1.0),
        heat_input_gross_W=heat,
        heat_input_uncertainty=heat_uncertainty,
        aeration=None if air is None or not air.value > 0.0 else air.value,
        aeration_uncertainty=None if air is None else _share(air.value, air.standard_uncertainty, 1.0),
        seen=sightings,
    )


def _heat_input(test: BenchTest, whole: Sequence[str]) -> tuple[float | None, float | None]:
    """The heat input of a burner [W] and its standard uncertainty, relative; one entered as a reading counts too."""
    for result in test.results:
        if result.quantity == HEAT_INPUT and result.burner in whole:
            found, uncertainty = result.value, _share(result.value, result.expanded_uncertainty, 2.0)
            return (found, uncertainty) if found > 0.0 else (None, None)
    for reading in test.readings:
        if reading.quantity == HEAT_INPUT and reading.burner in whole and reading.value > 0.0:
            return reading.value, _share(reading.value, reading.standard_uncertainty, 1.0)
    return None, None


def _as_tested(burner: Burner, test: BenchTest) -> tuple[Burner, BenchReading | None]:
    """The burner with the orifice and shutter that were read on it, and the reading of its bore."""
    of_burner = {r.quantity: r for r in test.readings if r.burner == burner.name}
    bore, count = of_burner.get("orifice_diameter"), of_burner.get("orifice_count")
    opening, shutter, orifice = of_burner.get("shutter_open"), burner.shutter, burner.orifice
    if bore is not None and bore.value > 0.0:
        orifice = replace(orifice, diameter_m=bore.value, is_calculated=False)
    if count is not None and count.value >= 1.0:
        orifice = replace(orifice, count=round(count.value))
    if opening is not None and shutter is not None and 0.0 < opening.value <= 1.0:
        shutter = replace(shutter, opening=opening.value)
    return replace(burner, orifice=orifice, shutter=shutter), bore


def _share(value: float, uncertainty: float | None, coverage: float) -> float | None:
    """A relative standard uncertainty."""
    return uncertainty / coverage / value if value and uncertainty else None


# The models of orifice and burner at the states of many samples at once.

Fuels = Callable[[Gas], BurnerFuel]


def column(samples: Sequence[Sample], of: Callable[[Sample], Any]) -> Array:
    """One figure of every sample; nan for what was not read."""
    return np.array([np.nan if (v := of(s)) is None else v for s in samples], dtype=np.float64)


def unit_numbers(samples: Sequence[Sample]) -> NDArray[np.intp]:
    """A number for each unit and burner."""
    numbers: dict[tuple[str, str], int] = {}
    return np.array(
        [numbers.setdefault((s.serial, s.burner.name), len(numbers)) for s in samples], dtype=np.intp
    )


def ideal_input_W(samples: Sequence[Sample]) -> Array:
    """Gross heat input of each sample for a discharge coefficient of one [W]."""
    power_W = np.empty(len(samples))
    for places in by_gas(samples).values():
        part = [samples[i] for i in places]
        gas = part[0].gas
        ambient = column(part, lambda s: s.ambient_pressure_Pa)
        gauge = column(part, lambda s: s.gauge_pressure_Pa)
        temperature = column(part, lambda s: s.gas_temperature_K)
        flow = nozzle.mass_flow_kg_per_s(
            column(part, lambda s: s.burner.orifice.diameter_m),
            gauge,
            ambient,
            gas.density_kg_per_m3(temperature, ambient + gauge),
            gas.isentropic_exponent(temperature, ambient + gauge),
            1.0,
            column(part, lambda s: s.burner.orifice.count),
        )
        power_W[places] = flow * gas.heating_value_J_per_kg("gross")
    return power_W


def by_gas(samples: Sequence[Sample]) -> Mapping[str, list[int]]:
    """Places of the samples of each gas."""
    places: dict[str, list[int]] = defaultdict(list)
    for place, sample in enumerate(samples):
        places[sample.gas.name].append(place)
    return places


def by_burner_and_gas(samples: Sequence[Sample]) -> Mapping[tuple[str, str], list[int]]:
    """Places of the samples of each kind of burner on each gas."""
    places: dict[tuple[str, str], list[int]] = defaultdict(list)
    for place, sample in enumerate(samples):
        places[sample.burner.name, sample.gas.name].append(place)
    return places


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationSetup:
    """What the models need beside the samples."""

    appliance: Appliance
    fuel: Fuels
    coefficient: Mapping[str, float]  # discharge coefficient by shape, where the record gives one
    hot: bool = False

    @property
    def own(self) -> Path | None:
        return self.appliance.tables.burner_coefficients

    @property
    def shipped(self) -> OwnTables:
        """The tables without the user's discharge coefficients."""
        return replace(self.appliance.tables, discharge=None)

    def fuel_of(self, sample: Sample) -> BurnerFuel:
        """The figures of a sample's gas. Raises ValueError for one without a composition."""
        if not isinstance(sample.gas, Gas):
            raise ValueError("a gas without a composition has no flame")
        return self.fuel(sample.gas)

    def prior(self, name: str) -> Prior:
        """What is known of a burner coefficient before: the shipped row, or the user's own unless measured here."""
        row = coefficients(self.own)[name]
        if row.provenance == HERE:
            row = coefficients()[name]
        return Prior(value=row.value, low=row.low, high=row.high)

    def discharge(self, burner: Burner) -> float:
        """The discharge coefficient of a burner's orifice [-]."""
        orifice = burner.orifice
        if orifice.coefficient is None and orifice.shape in self.coefficient:
            return self.coefficient[orifice.shape]
        law = law_of(orifice, self.appliance.tables)
        if isinstance(law, float | int):
            return float(law)
        return flow_of(self.appliance, burner, conditions_of(self.appliance)).coefficient


def geometry_of(samples: Sequence[Sample], setup: CalibrationSetup) -> BurnerGeometry:
    """Geometry of samples of one kind of burner, each with its own orifice and shutter."""
    burner = samples[0].burner
    made = geometry_with(
        burner,
        column(samples, lambda s: s.burner.orifice.diameter_m),
        column(samples, lambda s: s.burner.orifice.count),
        setup.discharge(burner),
    )
    openings = column(samples, lambda s: 1.0 if s.burner.shutter is None else s.burner.shutter.opening)
    return replace(made, shutter_opening=openings)


def surroundings_of(samples: Sequence[Sample]) -> Surroundings:
    return Surroundings(
        ambient_pressure_Pa=column(samples, lambda s: s.ambient_pressure_Pa),
        gas_temperature_K=column(samples, lambda s: s.gas_temperature_K),
        air_temperature_K=column(samples, lambda s: s.air_temperature_K),
    )


def shipped_fuels(own: Path | None) -> Fuels:
    """Fuels with the burning velocities of the shipped tables, each found once."""
    fuels: dict[str, BurnerFuel] = {}

    def fuel(gas: Gas) -> BurnerFuel:
        if gas.name not in fuels:
            fuels[gas.name] = fuel_with_flame(gas, own)
        return fuels[gas.name]

    return fuel
