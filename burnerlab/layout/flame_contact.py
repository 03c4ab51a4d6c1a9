"""Flames that reach what stands over them: contact with a shield, grate or plate cools a flame.

A cooled flame burns incompletely: carbon monoxide and soot. Nothing here says how much; it is a finding to test.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Cover, Emitter, Layout, turned
from burnerlab.layout.plume import covered_shares
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.quantity.quantity_text import millimetre, quantity_text
from burnerlab.tables.verdict import Verdict

OUTLINE = 24  # points of a ring or panel that are looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameContact:
    """A flame whose height at most is not less than the free height over its burner."""

    burner: str = field(metadata=output("burner"))
    touches: str = field(metadata=output("touches"))
    free_height_m: float = field(metadata=output("free height", Kind.LENGTH))
    flame_height_m: float = field(metadata=output("flame up to", Kind.LENGTH))
    verdict: Verdict = field(metadata=output("verdict"))
    """Near: only the high end of the flame's height is known to reach."""

    @property
    def text(self) -> str:
        """In words."""
        return quantity_text(
            "{}: its flame reaches up to {}, {} is {} above it. "
            "Contact cools a flame: test for carbon monoxide and soot",
            self.burner,
            millimetre(self.flame_height_m, ".0f"),
            self.touches,
            millimetre(self.free_height_m, ".0f"),
        )


def flame_contacts(layout: Layout) -> tuple[FlameContact, ...]:
    """Each shield and the surface that a burner's flame may touch; flames of unknown height are left out.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> flame_contacts(layout_of(demonstration(), "griddle"))
    ()
    """
    found = []
    for burner in layout.burners:
        if burner.flame_height_m is None or burner.stands or burner.facing == "down":
            continue
        over = [
            (layout.surface.name, layout.surface.z_m),
            *((c.name, c.z_m) for c in _over(burner, layout.covers)),
        ]
        found += [
            FlameContact(
                burner=burner.name, touches=name, free_height_m=z - burner.z_m,
                flame_height_m=burner.flame_height_m, verdict=Verdict.NEAR,
            )
            for name, z in over
            if 0 < z - burner.z_m <= burner.flame_height_m + 1e-9
        ]  # fmt: skip
    return tuple(found)


def _over(burner: Emitter, covers: tuple[Cover, ...]) -> list[Cover]:
    """Shields over some of a burner's flame."""
    if burner.form == "line":
        return [covers[i] for i in covered_shares(burner, covers)]
    x, y = _outline(burner)
    found = []
    for cover in covers:
        along, across = turned(x - cover.x_m, y - cover.y_m, cover.angle_rad)
        on = (np.abs(along) < cover.length_m / 2) & (np.abs(across) < cover.width_m / 2)
        if cover.z_m > burner.z_m and bool(on.any()):
            found.append(cover)
    return found


def _outline(burner: Emitter) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    turn = 2 * math.pi * np.arange(OUTLINE) / OUTLINE
    if burner.form == "ring":
        return burner.x_m + burner.radius_m * np.cos(turn), burner.y_m + burner.radius_m * np.sin(turn)
    u, v = (np.clip(1.5 * one(turn), -1, 1) / 2 for one in (np.cos, np.sin))
    c, s = math.cos(burner.angle_rad), math.sin(burner.angle_rad)
    along, across = u * burner.length_m, v * burner.width_m
    return burner.x_m - s * along + c * across, burner.y_m + c * along + s * across
