"""Combustion air and products: how much air a gas needs, and what the complete flame leaves behind.

Ideal volumes: a ratio per mole is the trade's volume per volume. Everything takes mole fractions with the
components
along the last axis, one gas or a million; ``combustion_air`` is the same for one gas with the results named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.gas.component import ELEMENTS, air_fractions, component_table
from burnerlab.gas.dew_point import DRIEST_Pa, water_dew_point_K, water_saturation_pressure_Pa
from burnerlab.quantity import Kind, Quantity, si
from burnerlab.quantity.outputs import output
from burnerlab.quantity.reference_state import STANDARD_PRESSURE_PA
from burnerlab.quantity.summary import Summary, WithSummary
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]

SEA_LEVEL_Pa = STANDARD_PRESSURE_PA  # ICAO standard atmosphere
PRODUCTS = ("carbon dioxide", "water", "sulphur dioxide", "nitrogen", "oxygen", "argon", "helium")


@dataclass(frozen=True, slots=True, kw_only=True)
class DryAir:
    """Mole fractions of dry combustion air and its molar mass."""

    oxygen: float
    nitrogen: float
    argon: float
    carbon_dioxide: float
    molar_mass_kg_per_mol: float


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class CombustionAir(WithSummary):
    """Air and products of one gas, per mole of gas: ideal volume per volume.

    ``air_ratio`` is air over stoichiometric air; products are at that air ratio, wet ones with the water of
    humid air.
    """

    air_ratio: float = field(metadata=output("air over stoichiometric air"))
    air_humidity_mol_per_mol: float = field(metadata=output("water in the air", unit="mol/mol"))  # of dry air
    ambient_pressure_Pa: float = field(metadata=output("ambient pressure", Kind.ABSOLUTE_PRESSURE))
    stoichiometric_air_mol_per_mol: float = field(
        metadata=output("stoichiometric air, moles", unit="mol/mol")
    )  # dry, = [m3/m3 ideal]
    stoichiometric_air_kg_per_kg: float = field(metadata=output("stoichiometric air, mass", unit="kg/kg"))
    air_mol_per_mol: float = field(metadata=output("air", unit="mol/mol"))  # dry, at the air ratio
    dry_products_mol_per_mol: float = field(metadata=output("dry products", unit="mol/mol"))
    wet_products_mol_per_mol: float = field(metadata=output("wet products", unit="mol/mol"))
    wet_composition: dict[str, float] = field(metadata=output("wet products, mole fraction"))  # of PRODUCTS
    dry_CO2: float = field(metadata=output("CO2, dry", Kind.FRACTION))  # at the air ratio
    dry_O2: float = field(metadata=output("O2, dry", Kind.FRACTION))
    ultimate_CO2: float = field(metadata=output("ultimate CO2, dry", Kind.FRACTION))  # at stoichiometric air
    dew_point_K: float | None = field(
        metadata=output("dew point of the products", Kind.TEMPERATURE)
    )  # None when it lies below 0 C
    notes: tuple[str, ...] = ()

    def summary(self) -> Summary:
        air, carbon = self.stoichiometric_air_mol_per_mol, 100.0 * self.ultimate_CO2
        words = f"stoichiometric air {air:.4g} mol/mol, ultimate CO2 {carbon:.4g} %"
        return Summary(words, lines=self.notes)


@cache
def dry_air() -> DryAir:
    """Dry combustion air: 20.95 % oxygen.

    >>> dry_air().molar_mass_kg_per_mol * 1000
    28.96
    """
    part, table = dict(air_fractions()), component_table()
    return DryAir(
        oxygen=part["oxygen"],
        nitrogen=part["nitrogen"],
        argon=part["argon"],
        carbon_dioxide=part["carbon dioxide"],
        molar_mass_kg_per_mol=sum(
            x * float(table.molar_mass_kg_per_mol[table.index[n]]) for n, x in part.items()
        ),
    )


def composition_of(gas: Any) -> tuple[tuple[str, ...], FloatArray]:
    """Component names and mole fractions of a gas or a composition.

    Raises UserError for a gas that is known only by its heating value and relative density.
    """
    parts = getattr(gas, "composition", gas)
    if not (hasattr(parts, "names") and hasattr(parts, "fractions")):
        what = "only its heating value and relative density are known; its air follows from a composition"
        raise UserError(
            Problem(what, value=str(getattr(gas, "name", gas)), key="gas", fix="give its composition")
        )
    return tuple(parts.names), np.asarray(parts.fractions, dtype=float)


def atoms(names: Sequence[str], fractions: ArrayLike) -> dict[str, FloatArray]:
    """Atoms of each element in one mole of gas [mol/mol]."""
    table = component_table()
    counts = np.asarray(fractions, dtype=float) @ table.atoms[table.take(names)]
    return {element: counts[..., i] for i, element in enumerate(ELEMENTS)}


def oxygen_demand(names: Sequence[str], fractions: ArrayLike) -> FloatArray:
    """Oxygen for complete combustion, C + H/4 + S - O/2 [mol/mol]; sulphur burns to SO2.

    fractions : mole fractions [-], [..., component]. Negative when the gas brings more oxygen than it can
    use.

    >>> float(oxygen_demand(["methane"], [1.0]))
    2.0
    """
    n = atoms(names, fractions)
    demand: FloatArray = n["C"] + n["H"] / 4 + n["S"] - n["O"] / 2
    return demand


def air_demand(names: Sequence[str], fractions: ArrayLike) -> FloatArray:
    """Stoichiometric dry air, A = (C + H/4 + S - O/2)/0.2095 [mol/mol], the ideal volume per volume of gas.

    fractions : mole fractions [-], [..., component].
    Raises UserError for a gas without fuel in it (or with more oxygen than it can use).

    >>> float(air_demand(["methane"], [1.0])), float(air_demand(["propane"], [1.0]))
    (9.5465, 23.8663)
    """
    demand = oxygen_demand(names, fractions)
    if not np.all(demand > 0.0):
        what = "nothing in this gas needs air" if np.all(demand <= 0.0) else "one of these gases needs no air"
        raise UserError(
            Problem(what, key="gas", accepted="a gas with fuel in it", fix="give a gas with a fuel component")
        )
    air: FloatArray = demand / dry_air().oxygen
    return air


def air_demand_kg_per_kg(names: Sequence[str], fractions: ArrayLike) -> FloatArray:
    """Stoichiometric dry air by mass, A M_air/M_gas [kg/kg].

    fractions : mole fractions [-], [..., component]. Raises UserError as ``air_demand``.

    >>> float(air_demand_kg_per_kg(["methane"], [1.0]))
    17.23
    """
    table = component_table()
    mass = np.asarray(fractions, dtype=float) @ table.molar_mass_kg_per_mol[table.take(names)]
    ratio: FloatArray = air_demand(names, fractions) * dry_air().molar_mass_kg_per_mol / mass
    return ratio


def stoichiometric_air(gas: Any) -> float:
    """Stoichiometric dry air of a gas [mol/mol], the ideal volume per volume; see ``air_demand``.

    Raises UserError for a gas without composition or without fuel.
    """
    names, fractions = composition_of(gas)
    return float(air_demand(names, fractions))


def products(
    names: Sequence[str], fractions: ArrayLike, air_ratio: ArrayLike = 1.0, humidity: ArrayLike = 0.0
) -> FloatArray:
    """Products of complete combustion per mole of gas [mol/mol], [..., product of PRODUCTS].

    The 0.04 % carbon dioxide of the air is counted with its argon, as published ultimate CO2 figures do.

    air_ratio : air over stoichiometric air [-], 1 or more; humidity : water in the air [mol/mol dry air].
    Raises UserError below an air ratio of 1, where combustion is not complete.

    >>> products(["methane"], [1.0], air_ratio=1.2).round(3).tolist()
    [1.0, 2.0, 0.0, 8.945, 0.4, 0.111, 0.0]
    """
    ratio = np.asarray(air_ratio, dtype=float)
    if not np.all((ratio >= 1.0) & (ratio < np.inf)):
        what = "with less than stoichiometric air combustion is not complete"
        raise UserError(
            Problem(
                what,
                f"{np.min(ratio):g}",
                key="air ratio",
                accepted="1 or more",
                fix="ask the equilibrium instead",
            )
        )
    n, air, mix = atoms(names, fractions), air_demand(names, fractions), dry_air()
    dry = air * ratio
    parts = (
        n["C"],
        n["H"] / 2 + dry * np.asarray(humidity, dtype=float),
        n["S"],
        n["N"] / 2 + mix.nitrogen * dry,
        mix.oxygen * air * (ratio - 1.0),
        n["Ar"] + (mix.argon + mix.carbon_dioxide) * dry,
        n["He"],
    )
    return np.stack(np.broadcast_arrays(*parts), axis=-1)


def dry_products(names: Sequence[str], fractions: ArrayLike, air_ratio: ArrayLike = 1.0) -> FloatArray:
    """Dry flue gas per mole of gas, V_d = C + S + N2 + 0.7905 A + (ratio - 1) A [mol/mol]; see ``products``.

    >>> float(dry_products(["methane"], [1.0]))
    8.5465
    """
    flue = products(names, fractions, air_ratio)
    total: FloatArray = flue.sum(axis=-1) - flue[..., PRODUCTS.index("water")]
    return total


def ultimate_CO2(names: Sequence[str], fractions: ArrayLike) -> FloatArray:
    """Carbon dioxide in the dry stoichiometric flue gas, C/V_d [mole fraction]; SO2 is not counted as CO2.

    >>> float(ultimate_CO2(["methane"], [1.0])) * 100
    11.70
    """
    carbon: FloatArray = atoms(names, fractions)["C"] / dry_products(names, fractions)
    return carbon


def air_ratio_from_O2(names: Sequence[str], fractions: ArrayLike, dry_O2: ArrayLike) -> FloatArray:
    """Air over stoichiometric air from oxygen in the dry flue gas, 1 + (V_d/A) O2/(0.2095 - O2) [-].

    dry_O2 : mole fraction of oxygen in the dry flue gas [-], 0 to below 0.2095. Exact for complete
    combustion.
    Raises UserError outside that range.

    >>> float(air_ratio_from_O2(["methane"], [1.0], 0.03))
    1.1496
    """
    oxygen = np.asarray(dry_O2, dtype=float)
    fresh = dry_air().oxygen
    if not np.all((oxygen >= 0.0) & (oxygen < fresh)):
        what = "is not a dry flue gas"
        raise UserError(
            Problem(what, f"{np.max(oxygen):g}", key="oxygen", accepted=f"0 to below {fresh:g} by volume")
        )
    share = dry_products(names, fractions) / air_demand(names, fractions)
    ratio: FloatArray = 1.0 + share * oxygen / (fresh - oxygen)
    return ratio


def humidity_from_relative(
    relative_humidity: ArrayLike, temperature_K: ArrayLike, pressure_Pa: ArrayLike = SEA_LEVEL_Pa
) -> FloatArray:
    """Water in humid air per mole of dry air, W = phi ps/(p - phi ps) [mol/mol].

    relative_humidity : [-], 0 to 1, over ice below 0 C; temperature_K : [K]; pressure_Pa : absolute pressure
    [Pa].
    Raises UserError outside 0 to 1, or where water would boil. Source: iapws-if97, iapws-r14-08 for ps.

    >>> float(humidity_from_relative(0.5, 298.15))
    0.01589
    """
    relative = np.asarray(relative_humidity, dtype=float)
    if not np.all((relative >= 0.0) & (relative <= 1.0)):
        fix = "write 60 % as 0.6"
        raise UserError(
            Problem(
                "is not a relative humidity",
                f"{np.max(relative):g}",
                key="humidity",
                accepted="0 to 1",
                fix=fix,
            )
        )
    vapour = relative * water_saturation_pressure_Pa(temperature_K)
    pressure = np.asarray(pressure_Pa, dtype=float)
    if not np.all(vapour < pressure):
        raise UserError(
            Problem(
                "water boils at this temperature and pressure",
                key="air temperature",
                fix="give a lower temperature",
            )
        )
    ratio: FloatArray = vapour / (pressure - vapour)
    return ratio


def dew_point_K(
    names: Sequence[str],
    fractions: ArrayLike,
    air_ratio: ArrayLike = 1.0,
    humidity: ArrayLike = 0.0,
    pressure_Pa: ArrayLike = SEA_LEVEL_Pa,
) -> FloatArray:
    """Temperature at which water condenses from the flue gas, p_s(T) = y_H2O p [K]; acids are left out.

    air_ratio, humidity : as ``products``; pressure_Pa : absolute pressure [Pa], lower at altitude.
    Raises UserError when the flue gas is too dry to condense above 0 C (carbon monoxide in dry air).

    >>> float(dew_point_K(["methane"], [1.0])) - 273.15
    59.1
    """
    flue = products(names, fractions, air_ratio, humidity)
    water = flue[..., PRODUCTS.index("water")] / flue.sum(axis=-1)
    return water_dew_point_K(water * np.asarray(pressure_Pa, dtype=float))


def _notes(flue: FloatArray, moist: bool) -> tuple[str, ...]:
    found = []
    if not moist:
        found.append("the flue gas is too dry for water to condense above 0 C")
    if flue[PRODUCTS.index("sulphur dioxide")] > 0.0:
        found.append("the acid dew point of a flue gas with sulphur is higher than the water dew point")
    return tuple(found)


def combustion_air(
    gas: Any, air_ratio: float = 1.0, humidity: float = 0.0, pressure_Pa: Quantity = SEA_LEVEL_Pa
) -> CombustionAir:
    """Air demand, products, ultimate CO2 and dew point of one gas.

    gas : a gas or composition; air_ratio : air over stoichiometric air [-]; humidity : water in the air
    [mol/mol];
    pressure_Pa : absolute pressure [Pa].
    Raises UserError for a gas without composition or without fuel, and for an air ratio below 1.

    >>> from burnerlab.gas import load
    >>> air = combustion_air(load("G20"), air_ratio=1.2)
    >>> air.stoichiometric_air_mol_per_mol, air.dry_O2
    (9.547, 0.0383)
    """
    pressure = si(pressure_Pa, Kind.ABSOLUTE_PRESSURE, "pressure_Pa")
    names, fractions = composition_of(gas)
    air = float(air_demand(names, fractions))
    flue = products(names, fractions, air_ratio, humidity)
    wet = float(flue.sum())
    dry = wet - float(flue[PRODUCTS.index("water")])
    water = float(flue[PRODUCTS.index("water")]) / wet * pressure
    moist = water >= DRIEST_Pa
    return CombustionAir(
        air_ratio=air_ratio,
        air_humidity_mol_per_mol=humidity,
        ambient_pressure_Pa=pressure,
        stoichiometric_air_mol_per_mol=air,
        stoichiometric_air_kg_per_kg=float(air_demand_kg_per_kg(names, fractions)),
        air_mol_per_mol=air * air_ratio,
        dry_products_mol_per_mol=dry,
        wet_products_mol_per_mol=wet,
        wet_composition={name: float(n) / wet for name, n in zip(PRODUCTS, flue, strict=True)},
        dry_CO2=float(flue[PRODUCTS.index("carbon dioxide")]) / dry,
        dry_O2=float(flue[PRODUCTS.index("oxygen")]) / dry,
        ultimate_CO2=float(ultimate_CO2(names, fractions)),
        dew_point_K=float(water_dew_point_K(water)) if moist else None,
        notes=_notes(flue, moist),
    )
