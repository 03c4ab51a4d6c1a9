"""Does air and flame sit right on it: primary air, ports, stability of a partially aerated burner."""

from __future__ import annotations

from burnerlab.burner.tile import Firing, TileBurner, pot
from burnerlab.burner.tile_evaluate import TileState, evaluate_tile
from burnerlab.burner.tile_exchange import Before

__all__ = ["Before", "Firing", "TileBurner", "TileState", "evaluate_tile", "pot"]
