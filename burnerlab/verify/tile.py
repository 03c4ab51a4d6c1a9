"""Measures of the ceramic tile: ceiling, plane flame on a tile, what a pot before it does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from burnerlab.burner.tile import (
    Firing,
    TileBurner,
    ceiling,
    efficiency_bound,
    free_burning_mass_flux,
    mass_flux_kg_per_m2s,
)
from burnerlab.burner.tile_evaluate import TileState, evaluate_tile
from burnerlab.burner.tile_exchange import Before, radiated_W_per_m2
from burnerlab.burner.tile_flame import burned_gas
from burnerlab.burner.tile_gas import mixture
from burnerlab.gas import Gas, mix
from burnerlab.gas.combustion_air import SEA_LEVEL_Pa
from burnerlab.gas.heat_capacity import GAS_CONSTANT

STANDARD_K = 298.15


def _gas(given: Mapping[str, Any]) -> Gas:
    return mix(given["mix"], per="mole")


def _ceiling(given: Mapping[str, Any]) -> tuple[float, float]:
    """Temperature of the face [K] and radiant efficiency where the gas leaves a gap hotter than the face."""
    gas, mixed = _gas(given), mixture(_gas(given), 1.0 / given["equivalence_ratio"])
    flux = mass_flux_kg_per_m2s(gas, mixed, given["net_kW_per_m2"] * 1e3)
    room = Before(surroundings_K=STANDARD_K)
    found = ceiling(
        mixed, flux, given["emissivity"], room, gap_K=given.get("gap_K", 0.0), mixture_K=STANDARD_K
    )
    return float(found.face_K), float(found.radiated_W_per_m2) / (given["net_kW_per_m2"] * 1e3)


def face_with_gap(given: Mapping[str, Any]) -> float:
    """Temperature of a tile's face that the gas leaves by a gap hotter."""
    return _ceiling(given)[0] - 273.15


def efficiency_with_gap(given: Mapping[str, Any]) -> float:
    """Radiant efficiency of a tile's face that the gas leaves by a gap hotter, net."""
    return _ceiling(given)[1]


def largest_efficiency(given: Mapping[str, Any]) -> float:
    """Largest radiant efficiency of a tile's face at a temperature, net."""
    gas = _gas(given)
    return float(efficiency_bound(gas, mixture(gas, 1.0 / given["equivalence_ratio"]), given["face_K"]))


def _plane(given: Mapping[str, Any], before: Before) -> TileState:
    tile = TileBurner(
        area_m2=1.0,
        emissivity=given.get("emissivity", 0.9),
        area_factor=1.0,
        recovery=given.get("recovery", 0.0),
        loss_W_per_m2K=0.0,
    )
    firing = Firing(aeration=1.0 / given["equivalence_ratio"], mixture_K=STANDARD_K)
    return evaluate_tile(tile, _gas(given), given["net_kW_per_m2"] * 1e3, "net", firing, before)


def plane_face(given: Mapping[str, Any]) -> float:
    """Temperature of a plane tile's face under a flat flame."""
    return _plane(given, Before(surroundings_K=298.0)).surface_temperature_K.value


def plane_efficiency(given: Mapping[str, Any]) -> float:
    """Radiant efficiency of a plane tile's face under a flat flame, net."""
    return _plane(given, Before(surroundings_K=298.0)).radiant_efficiency_net.value


def flame_gas(given: Mapping[str, Any]) -> float:
    """Burned gas of a flat flame on a cooled surface."""
    gas, mixed = _gas(given), mixture(_gas(given), 1.0 / given["equivalence_ratio"])
    flux = mass_flux_kg_per_m2s(gas, mixed, given["net_kW_per_m2"] * 1e3)
    return float(burned_gas(gas, mixed.aeration, flux).temperature_K)


def free_burning(given: Mapping[str, Any]) -> float:
    """Burning velocity at which a tile's flame gives the face no heat."""
    gas, mixed = _gas(given), mixture(_gas(given), 1.0 / given["equivalence_ratio"])
    flux = free_burning_mass_flux(gas, mixed, Firing(aeration=mixed.aeration, mixture_K=STANDARD_K))
    mole_kg = float(mixed.mass_kg_per_mol) / (1.0 + float(mixed.air_mol_per_mol))
    return 100.0 * float(flux) * GAS_CONSTANT * STANDARD_K / (SEA_LEVEL_Pa * mole_kg)


def pot_raises_face(given: Mapping[str, Any]) -> float:
    """Rise of a tile's face under a bright pot against a dark one, same input."""
    faces = [
        _plane(
            given, Before(view_factor=given["view_factor"], target_emissivity=e, target_K=400.0)
        ).surface_temperature_K.value
        for e in (given["bright"], given["dark"])
    ]
    return faces[0] - faces[1]


def two_plates(given: Mapping[str, Any]) -> float:
    """Net radiation of one of two grey plates open to black surroundings."""
    before = Before(
        surroundings_K=given["surroundings_K"],
        view_factor=given["view_factor"],
        target_emissivity=given["emissivity_2"],
        target_K=given["T2_K"],
    )
    found = radiated_W_per_m2(given["T1_K"], given["emissivity_1"], before)
    return float(found.from_face if given["plate"] == 1 else -found.to_target)


MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "tile face with gas hotter by a gap": face_with_gap,
    "tile efficiency with gas hotter by a gap": efficiency_with_gap,
    "tile largest efficiency": largest_efficiency,
    "plane tile face": plane_face,
    "plane tile efficiency": plane_efficiency,
    "tile burned gas": flame_gas,
    "tile free-burning velocity": free_burning,
    "tile face under a bright pot": pot_raises_face,
    "radiation of two plates": two_plates,
}
