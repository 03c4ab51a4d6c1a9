"""The figures of ``burnerlab gas``, gathered from the rooms that compute them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from burnerlab.cli.units import ZERO_C_K
from burnerlab.quantity.outputs import columns

if TYPE_CHECKING:
    from burnerlab.gas import Composition, DeclaredGas, Gas, GasProperties
    from burnerlab.quantity import ReferenceState

MJ = 1e6
HEADLINES = (
    "gross_wobbe_MJ_per_m3",
    "net_wobbe_MJ_per_m3",
    "gross_heating_value_MJ_per_m3",
    "net_heating_value_MJ_per_m3",
    "relative_density",
    "density_kg_per_m3",
    "compression_factor",
    "molar_mass_kg_per_kmol",
    "stoichiometric_air_m3_per_m3",
    "ultimate_CO2_percent",
    "adiabatic_flame_temperature_C",
)
"""What is shown first; each has a twin ``KEY_uncertainty_percent``."""
NEEDS_COMPOSITION = "needs a composition; this gas is known by heating value and relative density only"
OXYGEN_ROUNDING = 0.00005 / 0.2095 / 3**0.5  # air is taken as 20.95 % oxygen, printed to 0.01 %: rectangular
FLAME_DATA_K = (
    1.1  # largest gap of ours to the hydrocarbons of the published table at 25 C (flame checks of shared/)
)
FROM_TABLES = (
    "No uncertainty of the composition was given: what is stated comes from the property data alone."
)
BEHIND_FLAME = (
    "Uncertainty of CO2 counts the rounding of the oxygen in air; that of the flame temperature counts 1.1 K for the "
    "data behind it. Neither speaks of heat lost by a real flame."
)
Values = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameSetting:
    """At what flame temperature and products are asked for; the gas is at 25 C."""

    air_temperature_K: float
    aeration: float  # air over stoichiometric air [-]
    humidity: float  # water in the air [mol/mol dry air]
    pressure_Pa: float


def family_codes(gas: Gas | DeclaredGas) -> tuple[list[str], str]:
    """EN 437 families and groups by the gross Wobbe index at 15 C / 15 C, 101.325 kPa, dry, and why it is none."""
    from burnerlab.gas import DeclaredGas, properties
    from burnerlab.gas.gas_family import groups_of_gas, not_of_family
    from burnerlab.quantity import PRESETS

    base = PRESETS["ISO_15_15"]
    at_base = gas.properties(base) if isinstance(gas, DeclaredGas) else properties(gas, base)
    fractions = {} if isinstance(gas, DeclaredGas) else gas.composition.as_dict()
    groups = groups_of_gas(at_base.gross_wobbe_J_per_m3, fractions)
    return [group.code for group in groups], not_of_family(groups[0].family, fractions) if groups else ""


def air_values(gas: Gas, found: GasProperties, flame: FlameSetting) -> Values:
    """Air demand, by real volumes at the reference state of ``found`` and by moles, and complete combustion."""
    from burnerlab.appliance.gasfacts import air_volumes
    from burnerlab.gas.combustion_air import combustion_air

    air = combustion_air(gas, humidity=flame.humidity, pressure_Pa=flame.pressure_Pa)
    return {
        "stoichiometric_air_m3_per_m3": air_volumes(
            air,
            found.gross_heating_value_J_per_m3 / found.gross_heating_value_J_per_kg,
            found.density_kg_per_m3 / found.relative_density,
        ),
        "stoichiometric_air_mol_per_mol": air.stoichiometric_air,
        "stoichiometric_air_kg_per_kg": air.stoichiometric_air_kg_per_kg,
        "dry_products_mol_per_mol": air.dry_products,
        "wet_products_mol_per_mol": air.wet_products,
        "ultimate_CO2_percent": 100.0 * air.ultimate_CO2,
        "dew_point_C": None if air.dew_point_K is None else air.dew_point_K - ZERO_C_K,
        "air_notes": air.notes,
    }


def flame_temperatures_K(names: Sequence[str], fractions: Any, flame: FlameSetting) -> Any:
    """Adiabatic flame temperature of many compositions at one aeration."""
    from burnerlab.flame.equilibrium import flame_arrays

    return flame_arrays(
        names,
        fractions,
        1.0 / flame.aeration,
        air_temperature_K=flame.air_temperature_K,
        pressure_Pa=flame.pressure_Pa,
        humidity=flame.humidity,
    ).temperature_K


def from_fractions(
    function: Callable[[Sequence[str], Any], Any],
    composition: Composition,
    u: Mapping[str, float],
    correlation: Any = None,
) -> float:
    """Relative standard uncertainty [-] that the mole fractions bring into a figure that depends on their ratios only.

    Each fraction is moved by its uncertainty in turn; u^2 = g C g with g the changes and C the correlation (GUM, first
    order). Zero for a figure that is zero.

    >>> from burnerlab.gas import Composition
    >>> from burnerlab.gas.combustion_air import ultimate_CO2
    >>> gas = Composition.of({"methane": 0.9, "nitrogen": 0.1}, per="mole")
    >>> from_fractions(ultimate_CO2, gas, {"nitrogen": 0.01})
    0.0013
    """
    x = np.array(composition.fractions)
    steps = np.diag([u.get(name, 0.0) for name in composition.names])
    moved = np.vstack([x, x + steps])
    values = np.asarray(function(composition.names, moved / moved.sum(axis=1, keepdims=True)), dtype=float)
    if values[0] == 0.0:
        return 0.0
    changes = values[1:] / values[0] - 1.0
    return float(np.sqrt(changes @ (np.eye(len(x)) if correlation is None else correlation) @ changes))


def uncertainties(
    gas: Gas, reference: ReferenceState, correlated: bool, flame: FlameSetting | None
) -> Values:
    """Expanded relative uncertainty [%] of every figure by its printed key.

    correlated : the mole fractions were measured independently and then normalised; else they count as independent,
        which overestimates. flame : None leaves the flame temperature out.
    """
    from burnerlab.gas import GasProperties
    from burnerlab.gas.combustion_air import ultimate_CO2
    from burnerlab.gas.uncertainty import COVERAGE_FACTOR, normalised_correlation, relative_uncertainties

    composition, u = gas.composition, gas.uncertainty or {}
    correlation = normalised_correlation(composition, u) if correlated and u else None
    relative = relative_uncertainties(composition, reference, u, correlation)
    keys = {column.name: column.key for column in columns(GasProperties)}
    keys["molar_mass_kg_per_mol"] = keys["molar_mass_kg_per_kmol"]
    found = {keys.get(name, name): value for name, value in relative.items()}
    carbon = from_fractions(ultimate_CO2, composition, u, correlation)
    burns_to_CO2 = float(ultimate_CO2(composition.names, composition.fractions)) > 0.0
    found["ultimate_CO2_percent"] = float(np.hypot(carbon, OXYGEN_ROUNDING)) if burns_to_CO2 else 0.0
    if flame is not None:
        at = flame
        data = FLAME_DATA_K / float(flame_temperatures_K(composition.names, composition.fractions, at))
        moved = from_fractions(
            lambda names, fractions: flame_temperatures_K(names, fractions, at), composition, u, correlation
        )
        found["adiabatic_flame_temperature"] = float(np.hypot(moved, data))
    return {f"{key}_uncertainty_percent": 100.0 * COVERAGE_FACTOR * value for key, value in found.items()}
