"""What a bench record holds that constants can be learned from, burner by burner, and what had to be left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from burnerlab.appliance.gasfacts import AnyGas
from burnerlab.appliance.model import Appliance, Burner
from burnerlab.bench.record.entry import BenchReading, BenchTest
from burnerlab.gas import load
from burnerlab.tables.problem import UserError

FULL, LOW = "full", "low"
WATCHED: Mapping[str, tuple[str, str]] = {
    "lift": ("lift", FULL),
    "lift-low": ("lift", LOW),
    "light-back": ("light-back", LOW),
    "yellow-tips": ("yellow tips", FULL),
}
"""Observations the flame's limits are learned from: which limit, and at which rate."""

NOT_KNOWN = (
    "wrong-gas",
    "overfire",
)  # stops of a test that says nothing of the orifices or the gas of the file


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
    bore_uncertainty_m: float | None = None  # standard, of a measured bore; None for a nominal one
    heat_input_gross_W: float | None = None
    heat_input_uncertainty: float | None = None  # standard, relative
    aeration: float | None = None
    aeration_uncertainty: float | None = None  # standard, relative
    seen: Mapping[str, bool] = field(default_factory=dict)  # by observation


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """The samples of a record, and why tests were left out."""

    samples: tuple[Sample, ...]
    units: int
    first_tested_at: str
    last_tested_at: str
    notes: tuple[str, ...]


class _Gases:
    """Gases by the name a test gives; the appliance's own when it gives none."""

    def __init__(self, appliance: Appliance) -> None:
        own = appliance.supply.gas
        self.known: dict[str, AnyGas | None] = {"": own, own.name.casefold(): own}

    def named(self, name: str) -> AnyGas | None:
        key = name.strip().casefold()
        if key not in self.known:
            try:
                self.known[key] = load(name.strip())
            except UserError:
                self.known[key] = None
        return self.known[key]


def gather(tests: Iterable[BenchTest], appliance: Appliance) -> Gathered:
    """Samples of an appliance's burners from tests of its model.

    A test without manifold pressure, with a gas that the library does not hold, or stopped because another gas or an
    overfire was suspected, is left out and counted.
    """
    gases, left = _Gases(appliance), Counter[str]()
    samples: list[Sample] = []
    used: list[BenchTest] = []
    for test in tests:
        gas = gases.named(test.gas)
        if gas is None:
            left[f"gas {test.gas} is not in the library"] += 1
            continue
        if any(one.id in NOT_KNOWN for one in test.stops):
            left["stopped for another gas or overfire, so that it is not known what flowed"] += 1
            continue
        if test.model_sha256 and appliance.file_sha256 and test.model_sha256 != appliance.file_sha256:
            left["recorded with another version of the project file, used all the same"] += 1
        found = [sample for burner in appliance.burners if (sample := _sample(test, burner, appliance, gas))]
        if not found:
            left["no manifold pressure beside a heat input, a primary aeration or an observation"] += 1
            continue
        samples += found
        used.append(test)
    times = sorted(test.tested_at for test in used)
    return Gathered(
        samples=tuple(samples),
        units=len({test.serial for test in used}),
        first_tested_at=times[0] if times else "",
        last_tested_at=times[-1] if times else "",
        notes=tuple(f"{why}: {count} tests" for why, count in left.items()),
    )


def _sample(test: BenchTest, burner: Burner, appliance: Appliance, gas: AnyGas) -> Sample | None:
    """One burner of a test, None where it says nothing of it or its pressure is not known."""
    alone = len(appliance.burners) == 1 and appliance.burners[0].count == 1
    whole = ("", burner.name) if alone else (burner.name,)  # burners that a heat input can be of

    def read(quantity: str) -> BenchReading | None:
        mine = [r for r in test.readings if r.quantity == quantity and r.burner in ("", burner.name)]
        return max(mine, key=lambda reading: reading.burner, default=None)

    def figure(quantity: str, usual: float) -> float:
        found = read(quantity)
        return usual if found is None else found.value

    pressure, supply = read("manifold_pressure"), appliance.supply
    heat = next((r for r in test.results if r.quantity == "heat_input_gross" and r.burner in whole), None)
    air = next((r for r in test.readings if r.quantity == "primary_aeration" and r.burner in whole), None)
    seen = {
        one.name: one.answer == "yes"
        for one in test.observations
        if one.name in WATCHED and one.answer != "not seen" and one.burner in whole
    }
    if pressure is None or not pressure.value > 0.0 or (heat is None and air is None and not seen):
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
        heat_input_gross_W=None if heat is None or not heat.value > 0.0 else heat.value,
        heat_input_uncertainty=None if heat is None else _share(heat.value, heat.expanded_uncertainty, 2.0),
        aeration=None if air is None or not air.value > 0.0 else air.value,
        aeration_uncertainty=None if air is None else _share(air.value, air.standard_uncertainty, 1.0),
        seen=seen,
    )


def _as_tested(burner: Burner, test: BenchTest) -> tuple[Burner, BenchReading | None]:
    """The burner with the orifice and shutter that were read on it, and the reading of its bore."""
    of_burner = {r.quantity: r for r in test.readings if r.burner == burner.name}
    bore, count = of_burner.get("orifice_diameter"), of_burner.get("orifice_count")
    opening, shutter, orifice = of_burner.get("shutter_open"), burner.shutter, burner.orifice
    if bore is not None and bore.value > 0.0:
        orifice = replace(orifice, diameter_m=bore.value)
    if count is not None and count.value >= 1.0:
        orifice = replace(orifice, count=round(count.value))
    if opening is not None and shutter is not None and 0.0 < opening.value <= 1.0:
        shutter = replace(shutter, opening=opening.value)
    return replace(burner, orifice=orifice, shutter=shutter), bore


def _share(value: float, uncertainty: float | None, coverage: float) -> float | None:
    """A relative standard uncertainty."""
    return uncertainty / coverage / value if value and uncertainty else None
