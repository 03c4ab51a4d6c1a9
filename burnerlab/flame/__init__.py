"""How does it burn: equilibrium products and adiabatic flame temperature."""

from __future__ import annotations

from burnerlab.flame.equilibrium import (
    AdiabaticFlame,
    adiabatic_flame_temperature_K,
    equilibrium_by_cantera,
    flame_arrays,
)

__all__ = [
    "AdiabaticFlame",
    "adiabatic_flame_temperature_K",
    "equilibrium_by_cantera",
    "flame_arrays",
]
