"""The judge of the fast kernel: the same flame by Cantera with every species of GRI-Mech 3.0."""

from __future__ import annotations

from functools import cache
from typing import Any

from burnerlab.flame.equilibrium import GRI_FUELS, STANDARD_K
from burnerlab.gas.combustion_air import SEA_LEVEL_Pa, air_demand, composition_of
from burnerlab.gas.component import air_fractions
from burnerlab.gas.heat_capacity import cantera_species
from burnerlab.tables import rows

SULPHUR_PRODUCTS = ("SO2", "SO", "SO3", "H2S", "SH", "S", "S2", "COS")


@cache
def _judge(extra: tuple[str, ...]) -> Any:
    """GRI-Mech 3.0's 53 species, with NASA's data for the fuels it lacks and for the products of sulphur."""
    import cantera

    if not extra:
        return cantera.Solution("gri30.yaml")
    place = {row["name"]: row for row in rows("nasa_polynomials") if row["set"] == "component"}
    wanted = {(place[name]["file"], place[name]["species"]) for name in extra}
    if "hydrogen sulphide" in extra:
        wanted |= {("nasa", name) for name in SULPHUR_PRODUCTS}
    found = [cantera_species(file)[name] for file, name in sorted(wanted)]
    return cantera.Solution(thermo="ideal-gas", species=cantera.Species.list_from_file("gri30.yaml") + found)


def equilibrium_by_cantera(
    gas: Any,
    equivalence_ratio: float = 1.0,
    fuel_temperature_K: float = STANDARD_K,
    air_temperature_K: float = STANDARD_K,
    pressure_Pa: float = SEA_LEVEL_Pa,
    humidity: float = 0.0,
) -> float:
    """Adiabatic flame temperature by Cantera with all 53 species of GRI-Mech 3.0 [K]: the kernel's judge.

    Fuels that GRI-Mech lacks join with NASA's data, hydrogen sulphide with eight products of sulphur.
    Arguments as ``adiabatic_flame_temperature_K``. Needs cantera.
    """
    import cantera

    names, x = composition_of(gas)
    extra = tuple(name for name in names if name not in GRI_FUELS)
    phase = _judge(extra)
    place = {row["name"]: row["species"] for row in rows("nasa_polynomials") if row["set"] == "component"}
    known = {name: place[name] for name in extra} | GRI_FUELS | {"argon": "AR"}

    def stream(parts: dict[str, float], temperature: float, moles: float) -> Any:
        phase.TPX = temperature, pressure_Pa, parts
        return cantera.Quantity(phase, moles=moles / 1000, constant="HP")

    air = float(air_demand(names, x)) / equivalence_ratio
    fuel = stream({known[n]: float(v) for n, v in zip(names, x, strict=True)}, fuel_temperature_K, 1.0)
    moist = {known[name]: part for name, part in air_fractions()} | {"H2O": humidity}
    both = fuel + stream(moist, air_temperature_K, air * (1 + humidity))
    both.equilibrate("HP")
    return float(both.T)
