"""Where every kilowatt of the burners goes: into the surface, floor and walls, the lid, past the surface, with the gas.

What the surface takes up is that of its map. Radiation that it does not take up is shared between floor, walls, lid and
opening as in the enclosure; hot gas that it does not catch leaves. Heat a wall keeps is given to the room in the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Layout
from burnerlab.layout.enclosure import FLOOR, OPENING, SURFACE, WALL, Half
from burnerlab.layout.heat_map import HeatMap
from burnerlab.layout.plume import covered_shares
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import columns, computed_output, output

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutBalance:
    """Net heat input of all burners, and all that becomes of it."""

    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    surface_radiation_W: float = field(metadata=output("surface, as radiation", Kind.POWER))
    surface_gas_W: float = field(metadata=output("surface, from hot gas", Kind.POWER))
    walls_W: float = field(metadata=output("floor and walls", Kind.POWER))
    lid_W: float = field(metadata=output("lid", Kind.POWER))
    opening_W: float = field(metadata=output("radiation that leaves past the surface", Kind.POWER))
    shields_W: float = field(metadata=output("shields of given temperature", Kind.POWER))
    """Less than nothing where they give more than they get."""
    gas_W: float = field(metadata=output("hot gas that leaves", Kind.POWER))
    integration_difference: float = field(
        metadata=output(
            "surface by its map less by the enclosure, of the radiation", Kind.FRACTION, is_change=True
        )
    )
    """How well two ways of integrating agree [-]."""

    @property
    @computed_output("sum of the parts", Kind.POWER)
    def sum_W(self) -> float:
        """Of all parts; the heat input again."""
        return (
            self.surface_radiation_W + self.surface_gas_W + self.walls_W + self.lid_W + self.opening_W
            + self.shields_W + self.gas_W
        )  # fmt: skip


def balance_rows(balances: Sequence[LayoutBalance]) -> list[tuple[str, list[tuple[float, float]]]]:
    """Label of each part, and its watts and the heat input of each balance; the sum last; parts of no heat left out."""
    found = []
    for column in columns(LayoutBalance):
        watts = [float(getattr(balance, column.name)) for balance in balances]
        is_part = column.name.endswith("_W") and column.name != "heat_input_net_W"
        if is_part and any(abs(value) > 0.5 for value in watts):
            wholes = [balance.heat_input_net_W for balance in balances]
            found.append((column.declared.label, list(zip(watts, wholes, strict=True))))
    return found


def heat_balance(heat_map: HeatMap) -> LayoutBalance:
    """The balance of a map over the whole of its surface.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.heat_map import heat_map
    >>> from burnerlab.layout.layout_study import layout_of
    >>> balance = heat_balance(heat_map(layout_of(demonstration(), "griddle")))
    >>> abs(balance.sum_W / balance.heat_input_net_W - 1.0) < 1e-6
    True
    """
    layout, maps = heat_map.layout, heat_map.pieces
    Q, chi, eta = np.array([(b.heat_input_W, b.radiant, b.capture) for b in layout.burners]).T
    powers = np.concatenate([Q * chi, Q * (1 - chi)])  # W radiated, W left in the gas
    radiated = _over(maps.radiated, layout) @ (Q * chi) + _over(maps.reheated, layout) @ (Q * (1 - chi))
    caught = float(_over(maps.carried, layout) @ (Q * (1 - chi) * eta))
    uptake = np.array([sum(covered_shares(b, heat_map.half.covers).values()) for b in layout.burners])
    in_shields = float((layout.shape.shield_uptake * uptake) @ (Q * (1 - chi)))
    kept = _kept_by_shields(heat_map.half, powers)
    rest = float((Q * chi).sum()) + in_shields - kept - float(radiated)
    walls, lid, opening, surface = _shares(heat_map, powers)
    known = walls + lid + opening
    scale = rest / known if known > 0 else 0.0
    return LayoutBalance(
        heat_input_net_W=layout.heat_input_W,
        surface_radiation_W=float(radiated),
        surface_gas_W=caught,
        walls_W=scale * walls,
        lid_W=scale * lid,
        opening_W=scale * opening if known > 0 else rest,
        shields_W=kept,
        gas_W=float((Q * (1 - chi)).sum()) - in_shields - caught,
        integration_difference=(float(radiated) - surface) / max(float((Q * chi).sum()) + in_shields, 1e-300),
    )


def _over(maps: FloatArray, layout: Layout) -> FloatArray:
    """Share that a map brings to the whole surface, for each burner [-]."""
    return np.asarray(maps.reshape(len(layout.burners), -1).mean(axis=1) * layout.surface.area_m2)


def _kept_by_shields(half: Half, powers: FloatArray) -> float:
    """Heat that shields of given temperature take from the burners and do not send on [W]."""
    return float(half.kept @ powers)


def _shares(heat_map: HeatMap, powers: FloatArray) -> tuple[float, float, float, float]:
    """Radiation into floor and walls, lid, and past the surface, and into the surface, by the enclosure [W]."""
    half, above = heat_map.half, heat_map.above
    walls = half.share(WALL) + half.share(FLOOR)
    lid, opening, surface = np.zeros_like(walls), half.share(OPENING), half.share(SURFACE)
    if above is not None:
        walls, lid = walls + above.share(WALL), above.share(FLOOR)
        opening, surface = opening + above.share(OPENING), surface + above.share(SURFACE)
    layout = heat_map.layout
    for b, burner in enumerate(layout.burners):
        if above is None and burner.z_m >= layout.surface.z_m:  # an open lid: what misses the surface leaves
            direct = float(_over(heat_map.pieces.radiated, layout)[b])
            surface[b], opening[b] = direct, 1.0 - direct
    if half.space.room is None:  # in the open all that nothing takes up leaves
        count = len(layout.burners)
        sent = np.concatenate([np.ones(count), half.warmed])
        opening = np.maximum(sent - surface - half.kept, 0.0)
    return tuple(float(one @ powers) for one in (walls, lid, opening, surface))  # type: ignore[return-value]
