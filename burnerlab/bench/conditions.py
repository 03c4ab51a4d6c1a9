"""The models of orifice and burner at the states of many samples at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.model import Appliance, Burner, OwnTables
from burnerlab.appliance.steps import law_of
from burnerlab.bench.bench_samples import Sample
from burnerlab.bench.constants import HERE, Prior
from burnerlab.bench.manifold import conditions_of, flow_of
from burnerlab.burner.arrays import Array
from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, Surroundings
from burnerlab.burner.burning import fuel_with_flame
from burnerlab.burner.coefficients import coefficients
from burnerlab.gas import Gas
from burnerlab.orifice import nozzle

Fuels = Callable[[Gas], BurnerFuel]


def column(samples: Sequence[Sample], of: Callable[[Sample], Any]) -> Array:
    """One figure of every sample; nan for what was not read."""
    return np.array([np.nan if (v := of(s)) is None else v for s in samples], dtype=np.float64)


def unit_numbers(samples: Sequence[Sample]) -> NDArray[np.intp]:
    """A number for each unit and burner."""
    known: dict[tuple[str, str], int] = {}
    return np.array([known.setdefault((s.serial, s.burner.name), len(known)) for s in samples], dtype=np.intp)


def ideal_input_W(samples: Sequence[Sample]) -> Array:
    """Gross heat input of each sample for a discharge coefficient of one [W]."""
    found = np.empty(len(samples))
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
        found[places] = flow * gas.heating_value_J_per_kg("gross")
    return found


def by_gas(samples: Sequence[Sample]) -> Mapping[str, list[int]]:
    """Places of the samples of each gas."""
    found: dict[str, list[int]] = defaultdict(list)
    for place, sample in enumerate(samples):
        found[sample.gas.name].append(place)
    return found


def by_burner_and_gas(samples: Sequence[Sample]) -> Mapping[tuple[str, str], list[int]]:
    """Places of the samples of each kind of burner on each gas."""
    found: dict[tuple[str, str], list[int]] = defaultdict(list)
    for place, sample in enumerate(samples):
        found[sample.burner.name, sample.gas.name].append(place)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationSetup:
    """What the models need beside the samples."""

    appliance: Appliance
    fuel: Fuels
    coefficient: Mapping[str, float]  # discharge coefficient by shape, where the record told it
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
    ports, shutter = burner.ports, burner.shutter
    if ports is None:
        raise ValueError("the ports of the burner are not given")
    return BurnerGeometry(
        port_width_m=ports.diameter_m,
        port_count=ports.count,
        port_depth_m=ports.depth_m,
        slot_length_m=ports.slot_length_m,
        port_discharge=ports.discharge,
        port_temperature_K=ports.temperature_K,
        orifice_diameter_m=column(samples, lambda s: s.burner.orifice.diameter_m),
        orifice_count=column(samples, lambda s: s.burner.orifice.count),
        orifice_coefficient=setup.discharge(burner),
        throat_m=burner.throat_m,
        tube_loss=burner.tube_loss,
        shutter_area_m2=None if shutter is None else shutter.full_area_m2,
        shutter_opening=column(
            samples, lambda s: 1.0 if s.burner.shutter is None else s.burner.shutter.opening
        ),
        inlet_loss=None if shutter is None else shutter.loss,
    )


def surroundings_of(samples: Sequence[Sample]) -> Surroundings:
    return Surroundings(
        ambient_pressure_Pa=column(samples, lambda s: s.ambient_pressure_Pa),
        gas_temperature_K=column(samples, lambda s: s.gas_temperature_K),
        air_temperature_K=column(samples, lambda s: s.air_temperature_K),
    )


def shipped_fuels(own: Path | None) -> Fuels:
    """Fuels with the burning velocities of the shipped tables, each found once."""
    known: dict[str, BurnerFuel] = {}

    def fuel(gas: Gas) -> BurnerFuel:
        if gas.name not in known:
            known[gas.name] = fuel_with_flame(gas, own)
        return known[gas.name]

    return fuel
