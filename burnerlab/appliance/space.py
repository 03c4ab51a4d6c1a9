"""Where things stand: cooking surfaces, shields, boxes, outer panels, ways of carry-over. Frozen things in SI.

x runs to the right, y to the back, heights are over one level, the floor of the box where there is one. The length of
a burner or shield runs from front to back and is turned by its angle, anticlockwise seen from above; that of a burner
which faces to a side runs along the wall behind it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from burnerlab.quantity import Kind, si, take_SI

Facing = Literal["up", "down", "front", "back", "left", "right"]
FACINGS: tuple[Facing, ...] = ("up", "down", "front", "back", "left", "right")
SurfaceKind = Literal["grate", "plate"]
SURFACE_KINDS: tuple[SurfaceKind, ...] = ("grate", "plate")
Lid = Literal["open", "closed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """What is known of a burner's heat; None takes the table's."""

    radiant: float | None = None  # radiated share of the net heat input [-]
    capture: float | None = None  # share of the hot gas's heat that the cooking surface takes up [-]
    face_temperature_K: float | None = None  # of a tile at full rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Grate:
    """A cooking surface, level: open bars or a closed plate."""

    name: str
    x_m: float  # middle
    y_m: float
    width_m: float  # left to right
    depth_m: float  # front to back
    height_m: float
    kind: SurfaceKind = "grate"
    absorptance: float | None = None  # of radiation [-]; None takes the table's


@dataclass(frozen=True, slots=True, kw_only=True)
class Shield:
    """A level sheet over burners."""

    name: str
    x_m: float
    y_m: float
    length_m: float
    width_m: float
    height_m: float
    angle_rad: float = 0.0
    emissivity: float | None = None
    temperature_K: float | None = None  # at full rate; None is worked out


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """What surrounds burners and cooking surface."""

    name: str
    x_m: float
    y_m: float
    width_m: float
    depth_m: float
    lid: Lid = "open"
    lid_height_m: float | None = None
    loss: float | None = None  # share of the radiation on a wall that it does not send back [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """A row of ports or a slot that carries the flame from one burner to another."""

    start: str
    end: str
    port_m: float  # diameter, or width of the slot
    spacing_m: float  # from middle to middle of its ports; of a slot its interruptions


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet of an outer panel, from inside to outside; the gap is the one before it."""

    thickness_m: float
    conductivity_W_per_mK: float
    emissivity: float  # of both faces
    emissivity_low: float
    emissivity_high: float
    gap_m: float | None = None  # air before it; None for the innermost sheet
    vented: bool = False  # whether room air rises through that gap


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """An outer panel, lid or knob plate: what is hot behind it and what it is made of."""

    name: str
    inside_K: float  # hot gas and hot walls behind it
    height_m: float  # upright side, or the shorter side of a level panel
    level: bool  # level and facing up, as the top of a lid; else upright
    sheets: tuple[Sheet, ...]
    material: str  # of what is touched, as the touch limits name it; "" when they do not


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutReach:
    """How far a search may change the burners under one cooking surface; all figures are each way."""

    surface: str = ""
    across_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})
    along_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})
    height_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})
    rate: float = 0.0  # share of each rate
    shield_width_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})
    spacing_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})  # least, between axes
    flame_clearance_m: float = field(
        default=0.0, metadata={"kind": Kind.LENGTH}
    )  # least, from flame tip to cooking surface or shield
    total_rate_W: float | None = field(
        default=None, metadata={"kind": Kind.POWER}
    )  # most, on the file's basis
    lengths_m: tuple[float, ...] = ()  # tubes that can be bought

    def __post_init__(self) -> None:
        take_SI(self)
        lengths = tuple(si(length, Kind.LENGTH, "lengths_m") for length in self.lengths_m)
        object.__setattr__(self, "lengths_m", lengths)


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """The geometry of an appliance beyond its burners."""

    grates: tuple[Grate, ...] = ()
    shields: tuple[Shield, ...] = ()
    boxes: tuple[Box, ...] = ()
    panels: tuple[Panel, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    study: LayoutReach = field(default_factory=LayoutReach)
