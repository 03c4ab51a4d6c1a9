"""Flat flames held by a cooled surface, solved with Cantera: where table ``tile_flame`` comes from.

Nothing in the interactive path calls this. Each fuel and equivalence ratio is a ladder of mass fluxes, walked in small
steps from one solution to the next, every step under a wall-clock limit; a point that does not converge is left out
and said.
"""

from __future__ import annotations

import csv
import time
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from burnerlab.burner.tile_flame import burned_temperature_K, mixture, mixture_enthalpy_J_per_kg
from burnerlab.gas import Composition
from burnerlab.gas.combustion_air import air_demand
from burnerlab.gas.component import air_fractions

PORT_K = 950.0  # of the surface in the table's flames; from 400 to 1200 K it moves the gas by 4 K
UNBURNT_K = 298.15  # the enthalpy the heat is counted from
PRESSURE_Pa = 101325.0
WIDTH_m = 0.03
CRITERIA = {"ratio": 3.0, "slope": 0.1, "curve": 0.2, "prune": 0.03}
SECONDS = 25.0  # for one point
TOO_COLD_K = 1150.0  # below it the flame went out
HEADER = (
    "flat flame held by a surface of 950 K at 101.325 kPa; burned gas: burned-out products of the same heat, "
    "from a mixture at 25 C; written by burner/tile_flame_solver.py"
)
COLUMNS = (
    "fuel",
    "equivalence_ratio",
    "mass_flux_kg_per_m2s",
    "burned_gas_K",
    "solved_gas_K",
    "source",
    "place",
    "provenance",
)

FUELS: dict[str, dict[str, float]] = {
    "methane": {"methane": 1.0},
    "propane": {"propane": 1.0},
    "methane 60 hydrogen 40": {"methane": 0.6, "hydrogen": 0.4},
}
EQUIVALENCE_RATIOS = (0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3)
MASS_FLUXES_KG_PER_M2S = (0.013, 0.02, 0.03, 0.045, 0.07, 0.1, 0.15, 0.22, 0.32, 0.45, 0.6)
START = 4  # place in the ladder where it is begun


@dataclass(frozen=True, slots=True, kw_only=True)
class TileFlame:
    """One flat flame on a cooled surface."""

    equivalence_ratio: float
    mass_flux_kg_per_m2s: float
    burned_gas_K: float  # of the burned-out products that hold the same heat
    solved_gas_K: float  # at the end of the domain, as solved
    heat_to_surface_W_per_m2: float  # mixture from 25 C
    seconds: float


def solve_point(
    flame: Any, parts: dict[str, float], phi: float, mass_flux_kg_per_m2s: float
) -> TileFlame | None:
    """Solve one flame from whatever the object holds; None when it goes out, fails or runs out of time."""
    import cantera

    began = time.monotonic()

    def watch(_: float) -> float:
        if time.monotonic() - began > SECONDS:
            raise TimeoutError
        return 0.0

    flame.burner.mdot = mass_flux_kg_per_m2s
    flame.set_interrupt(watch)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            flame.solve(loglevel=0, refine_grid=True, auto=False)
    except (TimeoutError, cantera.CanteraError):
        return None
    finally:
        flame.set_interrupt(None)
    if float(flame.T[-1]) < TOO_COLD_K:
        return None
    gas = flame.gas
    gas.TPX = UNBURNT_K, PRESSURE_Pa, charge(parts, phi)
    start = float(gas.enthalpy_mass)
    gas.TPY = float(flame.T[-1]), PRESSURE_Pa, flame.Y[:, -1]
    lost = start - float(gas.enthalpy_mass)
    mixed = mixture(Composition.of(parts, per="mole"), 1 / phi)
    held = mixture_enthalpy_J_per_kg(mixed, UNBURNT_K) - lost
    return TileFlame(
        equivalence_ratio=phi,
        mass_flux_kg_per_m2s=mass_flux_kg_per_m2s,
        burned_gas_K=float(burned_temperature_K(mixed, held)),
        solved_gas_K=float(flame.T[-1]),
        heat_to_surface_W_per_m2=lost * mass_flux_kg_per_m2s,
        seconds=time.monotonic() - began,
    )


def charge(parts: dict[str, float], phi: float) -> dict[str, float]:
    """Moles of mixture by species of the mechanism; the argon of the air is counted as nitrogen."""
    from burnerlab.flame.mechanism import SPECIES

    air = float(air_demand(tuple(parts), list(parts.values()))) / phi
    found = {SPECIES[name]: moles for name, moles in parts.items()}
    for name, share in air_fractions():
        species = SPECIES.get(name, "N2")
        found[species] = found.get(species, 0.0) + share * air
    return found


def new_flame(parts: dict[str, float], phi: float, port_K: float = PORT_K) -> Any:
    """A burner-stabilised flame, not yet solved."""
    import cantera

    from burnerlab.flame.mechanism import narrow_cut, solution

    names = [*parts, "carbon dioxide"]  # of the air
    gas = solution(narrow_cut(names))
    gas.TPX = port_K, PRESSURE_Pa, charge(parts, phi)
    flame = cantera.BurnerFlame(gas, width=WIDTH_m)
    flame.transport_model = "mixture-averaged"
    flame.burner.T, flame.burner.X = port_K, charge(parts, phi)
    flame.set_refine_criteria(**CRITERIA)
    flame.max_time_step_count = 400
    return flame


def ladder(
    parts: dict[str, float],
    phi: float,
    fluxes: Sequence[float] = MASS_FLUXES_KG_PER_M2S,
    start: int = START,
    port_K: float = PORT_K,
) -> Iterator[TileFlame]:
    """All mass fluxes of one fuel and equivalence ratio that hold a flame, outwards from the one begun with."""
    for way in (range(start, len(fluxes)), range(start - 1, -1, -1)):
        flame = None
        for place in way:
            found = None if flame is None else solve_point(flame, parts, phi, fluxes[place])
            if found is None:
                flame = new_flame(parts, phi, port_K)
                found = solve_point(flame, parts, phi, fluxes[place])
            if found is None:
                flame = None
            else:
                yield found


def build_table(path: Path) -> tuple[str, ...]:
    """Write table ``tile_flame`` anew, some 15 minutes on one core; returns the points that hold no flame.

    The look-up needs every point of the rectangle: a table with gaps is refused when it is read.
    """
    import cantera

    from burnerlab.flame.mechanism import mechanism_hash, narrow_cut

    missing = []
    with path.open("w", encoding="utf-8", newline="") as stream:
        made = f"cantera {cantera.__version__}, mechanism {mechanism_hash()}"
        stream.write(f"# {HEADER}; {made}\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(COLUMNS)
        for fuel, parts in FUELS.items():
            place = f"mechanism cut {narrow_cut([*parts, 'carbon dioxide']).name}"
            for phi in EQUIVALENCE_RATIOS:
                found = {flame.mass_flux_kg_per_m2s: flame for flame in ladder(parts, phi)}
                missing += [f"{fuel} {phi} {flux}" for flux in MASS_FLUXES_KG_PER_M2S if flux not in found]
                for flux in sorted(found):
                    gas = [f"{value:.1f}" for value in (found[flux].burned_gas_K, found[flux].solved_gas_K)]
                    writer.writerow([fuel, phi, flux, *gas, "tile-flat-flame", place, "computed"])
    return tuple(missing)
