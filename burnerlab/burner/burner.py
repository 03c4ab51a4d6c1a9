"""What a burner evaluation takes in: the burner's geometry, the gas it burns, the place it stands."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from operator import attrgetter
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.coefficients import Array, Numbers, array
from burnerlab.burner.ports import Transport, port_area_m2, transport
from burnerlab.burner.stability import Burning, YellowTip, yellow_tip_limit
from burnerlab.gas import Gas
from burnerlab.gas.combustion_air import stoichiometric_air
from burnerlab.gas.gas_family import GasGroup
from burnerlab.gas.properties import property_values
from burnerlab.orifice.discharge_coefficient import HANDBOOK_COEFFICIENT
from burnerlab.quantity import PRESETS
from burnerlab.tables.field_names import field_names

NO_FLAME_TABLE = "no burning velocity is known for this gas"


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerGeometry:
    """One burner in SI; each field a float or an array. What is None is taken from the table or left out."""

    port_width_m: Numbers  # diameter of round ports, width of slots
    port_count: Numbers
    orifice_diameter_m: Numbers
    orifice_count: Numbers = 1
    orifice_coefficient: Numbers = HANDBOOK_COEFFICIENT
    orifice_coefficient_low: Numbers | None = None  # spread; None takes that of the table
    orifice_coefficient_high: Numbers | None = None
    throat_m: Numbers | None = None  # diameter of the mixing tube's throat; without it no air is calculated
    port_depth_m: Numbers | None = None
    port_pitch_m: Numbers | None = None  # middle to middle of the ports of a row
    port_rows: Numbers | None = None
    row_pitch_m: Numbers | None = None  # middle to middle of two rows
    slot_length_m: Numbers | None = None  # of each slot; None for round ports
    port_discharge: Numbers | None = None  # [-]
    port_temperature_K: Numbers | None = (
        None  # of the mixture that leaves the ports; None is as cold as the air
    )
    tube_loss: Numbers | None = None  # on the velocity head of the throat [-]
    tube_length_m: Numbers | None = (
        None  # of the mixing tube; None is a plain one, whose friction its loss holds
    )
    shutter_area_m2: Numbers | None = None  # air inlet fully open; None leaves the inlet out
    shutter_opening: Numbers = 1.0  # open share of it [-]
    inlet_loss: Numbers | None = None  # on the velocity head in the open inlet [-]

    @property
    def pattern(self) -> tuple[bool, ...]:
        """Which parts are known: burners of one pattern go into one array."""
        return tuple(part is not None for part in _PARTS(self))

    @property
    def port_area_m2(self) -> Array:
        return port_area_m2(self.port_width_m, self.port_count, self.slot_length_m)

    @property
    def hole_area_m2(self) -> Array:
        """Of all orifices together."""
        diameter = array(self.orifice_diameter_m)
        return np.pi / 4.0 * diameter**2 * array(self.orifice_count)

    @property
    def throat_area_m2(self) -> Array:
        if self.throat_m is None:
            raise ValueError("no throat is given")
        return np.pi / 4.0 * array(self.throat_m) ** 2


_PARTS = attrgetter(*field_names(BurnerGeometry))


def joined_geometry(burners: Sequence[BurnerGeometry]) -> BurnerGeometry:
    """Burners that leave out the same parts as one, each field an array over them.

    >>> one = BurnerGeometry(port_width_m=2e-3, port_count=50, orifice_diameter_m=1e-3)
    >>> joined_geometry([one, one]).port_count.tolist()
    [50.0, 50.0]
    """

    def column(name: str) -> Array | None:
        values = [getattr(burner, name) for burner in burners]
        return None if values[0] is None else np.array(values, dtype=np.float64)

    columns: dict[str, Any] = {name: column(name) for name in field_names(BurnerGeometry)}
    return BurnerGeometry(**columns)


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Where the burner stands; each field a float or an array."""

    ambient_pressure_Pa: Numbers = 101325.0
    gas_temperature_K: Numbers = 288.15  # ahead of the orifice
    air_temperature_K: Numbers = 288.15


@dataclass(frozen=True, slots=True, kw_only=True)
class MixtureTemperatures:
    """How warm gas, air and mixture are on their way through a burner; each a ratio of absolute temperatures [-].

    Floats or arrays, 1 where nothing is warmed. The denominators: ``gas_ratio`` that of the gas ahead of the orifice,
    ``port_rise`` that of the mixture before the ports, all others that of the air round the burner.

    >>> float(MixtureTemperatures(head_ratio=1.3, port_rise=1.2).exit_ratio)
    1.56
    """

    gas_ratio: Numbers = 1.0  # gas at the orifice
    inlet_ratio: Numbers = 1.0  # air at the inlet
    throat_ratio: Numbers = 1.0  # mixture in the tube, mean of its entry and its end
    head_ratio: Numbers = 1.0  # mixture before the ports
    port_rise: Numbers = 1.0  # mixture that leaves the ports over that before them

    @property
    def exit_ratio(self) -> Array:
        """Mixture that leaves the ports over the air round the burner."""
        return array(self.head_ratio) * array(self.port_rise)


@dataclass(frozen=True, slots=True, kw_only=True)
class EvaluationOptions:
    """How a burner is evaluated.

    A hot burner draws less air. What is known of it goes in by one of two ways: ``temperatures``, from which the
    momentum balance finds the air, or ``hot_ratio``, the ratio of hot to cold air that was measured on this very
    burner and stands in for them in the balance. A published ratio (0.63: burner-hot-test) is that of another burner.
    """

    load: Numbers = 1.0  # share of the full heat input, throttled ahead of the orifice [-]
    temperatures: MixtureTemperatures | None = None  # None: cold, but for the temperature the geometry states
    hot_ratio: Numbers | None = None  # your own measured ratio of hot to cold primary air [-]
    aeration: Numbers | None = None  # measured primary aeration, in place of the momentum balance [-]
    band: bool = True  # the spread of the primary air calculated; without it the ends are the value itself
    own: Path | None = None  # the user's own coefficients


def mixture_temperatures(
    geometry: BurnerGeometry, place: Surroundings, options: EvaluationOptions
) -> MixtureTemperatures:
    """The temperatures of the options; without them cold, but for the ports where the geometry says how warm they are.

    >>> burner = BurnerGeometry(port_width_m=2e-3, port_count=50, orifice_diameter_m=1e-3, port_temperature_K=403.41)
    >>> float(mixture_temperatures(burner, Surroundings(), EvaluationOptions()).port_rise)
    1.4
    """
    if options.temperatures is not None:
        return options.temperatures
    if geometry.port_temperature_K is None:
        return MixtureTemperatures()
    return MixtureTemperatures(port_rise=array(geometry.port_temperature_K) / array(place.air_temperature_K))


def port_mixture_K(geometry: BurnerGeometry, place: Surroundings, options: EvaluationOptions) -> Array:
    """Temperature of the mixture that leaves the ports [K]."""
    return mixture_temperatures(geometry, place, options).exit_ratio * array(place.air_temperature_K)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel(ABC):
    """What the equations of a burner ask of its gas: floats of one gas, or arrays over cases of several.

    Volumes are ideal: a ratio of them is one of moles.
    """

    relative_density: Numbers  # molar mass over that of air
    stoichiometric_air: Numbers  # [m3/m3]
    heating_value_J_per_m3: Numbers  # gross, ideal gas at 15 C, 101.325 kPa
    heating_value_J_per_kg: Numbers  # gross
    burning: Burning | None

    @property
    @abstractmethod
    def hydrogen_share(self) -> Numbers:
        """Of the gas, by amount of substance [mol/mol]."""

    @abstractmethod
    def transport(self, temperature_K: Numbers, own: Path | None = None) -> Transport:
        """What the gas brings into a mixture at a temperature [K]."""

    @abstractmethod
    def density_kg_per_m3(self, temperature_K: Numbers, absolute_pressure_Pa: Numbers) -> Array:
        """Of the real gas [kg/m3]. Raises UserError where part of it would be liquid."""

    @abstractmethod
    def isentropic_exponent(self, temperature_K: Numbers, absolute_pressure_Pa: Numbers) -> Array:
        """Of the real gas [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerFuel(Fuel):
    """What a burner needs to know of a gas, found once."""

    gas: Gas
    relative_density: float
    stoichiometric_air: float
    heating_value_J_per_m3: float
    heating_value_J_per_kg: float
    yellow_tip: YellowTip
    burning: Burning | None
    no_burning: str = ""  # why there is no burning velocity
    group: GasGroup  # which design rules apply

    @property
    def hydrogen_share(self) -> float:
        parts = self.gas.composition
        return float(dict(zip(parts.names, parts.fractions, strict=True)).get("hydrogen", 0.0))

    def transport(self, temperature_K: Numbers, own: Path | None = None) -> Transport:
        parts = self.gas.composition
        return transport(parts.names, parts.fractions, temperature_K, own)

    def density_kg_per_m3(self, temperature_K: Numbers, absolute_pressure_Pa: Numbers) -> Array:
        return array(self.gas.density_kg_per_m3(temperature_K, absolute_pressure_Pa))

    def isentropic_exponent(self, temperature_K: Numbers, absolute_pressure_Pa: Numbers) -> Array:
        return array(self.gas.isentropic_exponent(temperature_K, absolute_pressure_Pa))


def burner_fuel(
    gas: Gas, burning: Burning | None = None, no_burning: str = NO_FLAME_TABLE, own: Path | None = None
) -> BurnerFuel:
    """The figures of a gas that a burner asks for.

    burning : its burning velocity, where known; no_burning : why not, otherwise
    Raises UserError for a gas known only by heating value and density, or without fuel.

    >>> from burnerlab.gas import load
    >>> burner_fuel(load("propane")).stoichiometric_air
    23.866
    >>> burner_fuel(load("propane")).group.value, burner_fuel(load("hydrogen")).group.value
    ('propane and butane', 'other gas')
    """
    air = stoichiometric_air(gas)
    found = property_values(gas, PRESETS["ISO_15_15"])
    return BurnerFuel(
        gas=gas,
        relative_density=found["ideal_relative_density"],
        stoichiometric_air=air,
        heating_value_J_per_m3=found["ideal_gross_heating_value_J_per_m3"],
        heating_value_J_per_kg=found["gross_heating_value_J_per_kg"],
        yellow_tip=yellow_tip_limit(gas, own),
        burning=burning,
        no_burning="" if burning is not None else no_burning,
        group=GasGroup.of(gas),
    )


@dataclass(frozen=True, slots=True)
class GasCases:
    """Which cases burn which gas, so that what is found gas by gas stands in one array.

    place : the gas of each case; arrays of the cases end with its axes
    """

    fuels: tuple[BurnerFuel, ...]
    place: NDArray[np.intp]

    def of_each(self, figure: Callable[..., Numbers], *at: Numbers) -> Array:
        """A figure of each case from its own gas.

        figure : of a gas at figures of its cases; at : floats or arrays
        """
        spread = [each if np.ndim(each) == 0 else self.spread(array(each)) for each in at]
        shape = np.broadcast_shapes(self.place.shape, *(np.shape(each) for each in spread))
        result = np.empty(shape)
        for k, fuel in enumerate(self.fuels):
            own = self.place == k
            result[..., own] = figure(fuel, *(s if np.ndim(s) == 0 else array(s)[..., own] for s in spread))
        return result

    def spread(self, figure: Array) -> Array:
        """An array over at least the axes of the cases."""
        return np.broadcast_to(figure, np.broadcast_shapes(figure.shape, self.place.shape))


@dataclass(frozen=True, slots=True)
class BurningOfCases:
    """Burning velocities of cases of several gases; nan for a gas without one."""

    cases: GasCases

    @property
    def richest(self) -> Array:
        return self.cases.of_each(lambda fuel: np.inf if fuel.burning is None else fuel.burning.richest)

    def __call__(
        self, equivalence_ratio: Numbers, unburnt_temperature_K: Numbers, pressure_Pa: Numbers
    ) -> Array:
        """Burning velocity [m/s]."""
        return self.cases.of_each(
            lambda fuel, *at: np.nan if fuel.burning is None else fuel.burning(*at),
            equivalence_ratio,
            unburnt_temperature_K,
            pressure_Pa,
        )

    def relative_error(self, equivalence_ratio: Numbers, unburnt_temperature_K: Numbers) -> Array:
        """Standard error, relative (coverage factor 1) [-]."""
        return self.cases.of_each(
            lambda fuel, *at: 0.0 if fuel.burning is None else fuel.burning.relative_error(*at),
            equivalence_ratio,
            unburnt_temperature_K,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelOfCases(Fuel):
    """The gases of several cases, so that burners on different gases are one array."""

    cases: GasCases

    @property
    def hydrogen_share(self) -> Array:
        return self.cases.of_each(lambda fuel: fuel.hydrogen_share)

    def transport(self, temperature_K: Numbers, own: Path | None = None) -> Transport:
        cases = self.cases
        at = array(temperature_K) if np.ndim(temperature_K) == 0 else cases.spread(array(temperature_K))
        result = {
            name: np.empty(np.broadcast_shapes(at.shape, cases.place.shape))
            for name in field_names(Transport)
        }
        for k, fuel in enumerate(cases.fuels):
            place = cases.place == k
            found = fuel.transport(float(at) if at.ndim == 0 else at[..., place], own)
            for name, figure in result.items():
                figure[..., place] = getattr(found, name)
        return Transport(**result)

    def density_kg_per_m3(self, temperature_K: Numbers, absolute_pressure_Pa: Numbers) -> Array:
        return self.cases.of_each(BurnerFuel.density_kg_per_m3, temperature_K, absolute_pressure_Pa)

    def isentropic_exponent(self, temperature_K: Numbers, absolute_pressure_Pa: Numbers) -> Array:
        return self.cases.of_each(BurnerFuel.isentropic_exponent, temperature_K, absolute_pressure_Pa)


def joined_fuels(fuels: Sequence[BurnerFuel], *, rates: int | None = None) -> FuelOfCases:
    """The gas of each case of a row as one fuel of them all.

    fuels : of each case; rates : each stands for so many cases along a second axis

    >>> from burnerlab.gas import load
    >>> gas, propane = burner_fuel(load("natural-gas-typical")), burner_fuel(load("propane"))
    >>> joined_fuels([propane, gas, propane]).stoichiometric_air.round(2).tolist()
    [23.87, 9.68, 23.87]
    """
    known = {id(fuel): fuel for fuel in fuels}
    order = {key: k for k, key in enumerate(known)}
    place = np.array([order[id(fuel)] for fuel in fuels], dtype=np.intp)
    if rates is not None:
        place = np.repeat(place[:, None], rates, axis=1)
    each = tuple(known.values())
    columns: dict[str, Any] = {
        name: np.array([getattr(fuel, name) for fuel in each])[place]
        for name in (
            "relative_density",
            "stoichiometric_air",
            "heating_value_J_per_m3",
            "heating_value_J_per_kg",
        )
    }
    cases = GasCases(each, place)
    return FuelOfCases(cases=cases, burning=BurningOfCases(cases), **columns)
