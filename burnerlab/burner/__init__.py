"""Does air and flame sit right on it: primary air, ports, stability of a partially aerated burner."""

from __future__ import annotations

from burnerlab.burner.tile import Before, Firing, TileBurner, pot
from burnerlab.burner.tile_evaluation import TileState, evaluate_tile

__all__ = ["Before", "Firing", "TileBurner", "TileState", "evaluate_tile", "pot"]
