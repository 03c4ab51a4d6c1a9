"""What a burner evaluation takes in: the burner's geometry, the gas it burns, the place it stands."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from burnerlab.burner.coefficients import Array, Numbers, array
from burnerlab.burner.ports import port_area_m2
from burnerlab.burner.stability import Burning, YellowTip, yellow_tip_limit
from burnerlab.gas import Gas, properties
from burnerlab.gas.combustion_air import stoichiometric_air
from burnerlab.gas.gas_family import GasGroup
from burnerlab.orifice.discharge_coefficient import HANDBOOK_COEFFICIENT
from burnerlab.quantity import PRESETS

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
    slot_length_m: Numbers | None = None  # of each slot; None for round ports
    port_discharge: Numbers | None = None  # [-]
    port_temperature_K: Numbers | None = None  # of the mixture in the ports; None is as cold as the air
    tube_loss: Numbers | None = None  # on the velocity head of the throat [-]
    shutter_area_m2: Numbers | None = None  # air inlet fully open; None leaves the inlet out
    shutter_opening: Numbers = 1.0  # open share of it [-]
    inlet_loss: Numbers | None = None  # on the velocity head in the open inlet [-]

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Where the burner stands; each field a float or an array."""

    ambient_pressure_Pa: Numbers = 101325.0
    gas_temperature_K: Numbers = 288.15  # ahead of the orifice
    air_temperature_K: Numbers = 288.15


@dataclass(frozen=True, slots=True, kw_only=True)
class EvaluationOptions:
    """How a burner is evaluated."""

    load: Numbers = 1.0  # share of the full heat input, throttled ahead of the orifice [-]
    hot: bool = False  # take off what hot burners were measured to draw less
    aeration: Numbers | None = None  # measured primary aeration, in place of the momentum balance [-]
    band: bool = True  # the spread of the primary air calculated; without it the ends are the value itself
    own: Path | None = None  # the user's own coefficients


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerFuel:
    """What a burner needs to know of a gas, found once. Volumes are ideal: a ratio of them is one of moles."""

    gas: Gas
    relative_density: float  # molar mass over that of air
    stoichiometric_air: float  # [m3/m3]
    heating_value_J_per_m3: float  # gross, ideal gas at 15 C, 101.325 kPa
    heating_value_J_per_kg: float  # gross
    yellow_tip: YellowTip
    burning: Burning | None
    no_burning: str = ""  # why there is no burning velocity

    @property
    def group(self) -> GasGroup:
        """Which design rules apply.

        >>> from burnerlab.gas import load
        >>> burner_fuel(load("propane")).group.value, burner_fuel(load("hydrogen")).group.value
        ('propane and butane', 'other gas')
        """
        return GasGroup.of(self.gas)


def burner_fuel(
    gas: Gas, burning: Burning | None = None, no_burning: str = NO_FLAME_TABLE, own: Path | None = None
) -> BurnerFuel:
    """The figures of a gas that a burner asks for.

    burning : its burning velocity, where known; no_burning : why not, otherwise
    Raises UserError for a gas known only by heating value and density, or without fuel.

    >>> from burnerlab.gas import load
    >>> burner_fuel(load("propane")).stoichiometric_air
    23.866
    """
    air = stoichiometric_air(gas)
    found = properties(gas, PRESETS["ISO_15_15"])
    return BurnerFuel(
        gas=gas,
        relative_density=found.ideal_relative_density,
        stoichiometric_air=air,
        heating_value_J_per_m3=found.ideal_gross_heating_value_J_per_m3,
        heating_value_J_per_kg=found.gross_heating_value_J_per_kg,
        yellow_tip=yellow_tip_limit(gas, own),
        burning=burning,
        no_burning="" if burning is not None else no_burning,
    )
