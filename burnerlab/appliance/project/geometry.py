"""Where things stand: cooking surfaces, shields, boxes, outer panels, ways of carry-over. Frozen things in SI.

x runs to the right, y to the back, heights are over one level, the floor of the box where there is one. The length of
a burner or shield runs from front to back and is turned by its angle, anticlockwise seen from above; that of a burner
which faces to a side runs along the wall behind it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, ClassVar, Literal, get_args

from burnerlab.appliance.project import key_readers
from burnerlab.appliance.project import keys as key
from burnerlab.appliance.project.keys import Values, table
from burnerlab.quantity import Kind, UserError, si, take_SI
from burnerlab.quantity.inputs import complaint

Facing = Literal["up", "down", "front", "back", "left", "right"]
FACINGS: tuple[Facing, ...] = get_args(Facing)
SurfaceKind = Literal["grate", "plate"]
PlateMaterial = Literal["carbon steel", "cast iron", "stainless steel", "aluminium"]
"""Rows of the table ``plate_materials``."""
Lid = Literal["open", "closed"]
POSTURES = ("level", "upright")
CentreX = Annotated[
    float,
    key.length(
        "Centre, distance to the right of the origin",
        "120 mm",
        "position",
        hint="of its middle, to the right",
    ),
]
"""Of whatever stands on the floor of the box."""
CentreY = Annotated[
    float,
    key.length(
        "Centre, distance to the back of the origin", "0 mm", "position", hint="of its middle, to the back"
    ),
]
FLOOR = "over the floor of the box"
SHEET = {"material": "stainless steel", "thickness": "0.8 mm"}
LID_HEIGHT = 'add lid_height = "430 mm", of the lid over the floor of the box'
MOST_LENGTHS = 20


def _lengths(value: object) -> tuple[float, ...]:
    """Tube lengths: one, or a list."""
    length = key_readers.quantity("size", "400 mm")
    listed = value if isinstance(value, list) else [value]
    if not 1 <= len(listed) <= MOST_LENGTHS:
        raise complaint("needs 1 to 20 lengths", accepted='["300 mm", "400 mm"]', fix="shorten the list")
    return tuple(length(one) for one in listed)


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """What is known of a burner's heat; None takes the table's."""

    radiant: Annotated[
        float | None, key.quantity("share", "Radiated fraction of the net heat input", "30 %")
    ] = None
    capture: Annotated[
        float | None,
        key.quantity("share", "Fraction of its hot gas's heat that the cooking surface takes up", "30 %"),
    ] = None
    face_temperature_K: Annotated[
        float | None, key.quantity("tile_face", "Temperature of a tile at full rate", "750 C")
    ] = None


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Grate:
    """A cooking surface, level: open bars or a closed plate; x and y of its middle."""

    name: Annotated[str, key.name("griddle", "Name to print")] = "cooking surface"
    kind: Annotated[
        SurfaceKind,
        key.choice(
            get_args(SurfaceKind), "a kind of cooking surface: grate or plate", "Open bars or a closed plate"
        ),
    ] = "grate"
    x_m: CentreX
    y_m: CentreY
    width_m: Annotated[float, key.length("From left to right", "460 mm")]
    depth_m: Annotated[float, key.length("From front to back", "440 mm")]
    height_m: Annotated[float, key.length("Height over the floor of the box", "190 mm", "height", hint=FLOOR)]
    absorptance: Annotated[
        float | None, key.quantity("emissivity", "Absorptance of radiation; the table's without it", 0.8)
    ] = None
    material: Annotated[
        PlateMaterial,
        key.choice(get_args(PlateMaterial), "a material of plates", "What a closed plate is made of"),
    ] = "carbon steel"
    thickness_m: Annotated[
        float | None, key.length("Thickness of a closed plate; the table's without it", "6 mm", "thickness")
    ] = None
    conductivity_W_per_mK: Annotated[
        float | None,
        key.quantity(
            "conductivity", "Conductivity of a closed plate [W/mK]; its material's without it", 50.0
        ),
    ] = None


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Shield:
    """A level sheet over burners; x and y of its middle."""

    name: Annotated[str, key.name("shield", "Name to print")] = "shield"
    x_m: CentreX
    y_m: CentreY
    length_m: Annotated[float, key.length("From front to back before it is turned", "400 mm")]
    width_m: Annotated[float, key.length("From left to right before it is turned", "60 mm")]
    height_m: Annotated[float, key.length("Height over the floor of the box", "140 mm", "height", hint=FLOOR)]
    angle_rad: Annotated[float, key.angle("Angle, anticlockwise as seen from above")] = 0.0
    emissivity: Annotated[
        float | None,
        key.quantity("emissivity", "Emissivity of both faces; that of the table without it", 0.8),
    ] = None
    temperature_K: Annotated[
        float | None, key.quantity("hot_surface", "Temperature at full rate; calculated without it", "250 C")
    ] = None


def _lid_has_a_height(values: Values) -> Values:
    if values.get("lid") == "closed" and "lid_height" not in values:
        raise UserError(key_readers.about("lid", "is closed, but lid_height is not given", LID_HEIGHT))
    return values


@table(_lid_has_a_height)
@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """What surrounds burners and cooking surface; x and y of its middle."""

    name: Annotated[str, key.name("box", "Name to print")] = "box"
    x_m: CentreX
    y_m: CentreY
    width_m: Annotated[float, key.length("From left to right", "460 mm")]
    depth_m: Annotated[float, key.length("From front to back", "440 mm")]
    lid: Annotated[Lid, key.choice(get_args(Lid), "open or closed", "Whether its lid is open or closed")] = (
        "open"
    )
    lid_height_m: Annotated[
        float | None, key.length("Height of the closed lid over the floor", "430 mm", "height")
    ] = None
    loss: Annotated[
        float | None,
        key.quantity("share", "Fraction of the radiation on a wall that it does not send back", "30 %"),
    ] = None
    gas_temperature_K: Annotated[
        float | None,
        key.quantity("hot_surface", "Temperature of the gas round its burners at full rate, steady", "200 C"),
    ] = None
    wall_temperature_K: Annotated[
        float | None,
        key.quantity("hot_surface", "Temperature of walls and lid; that of the gas without it", "250 C"),
    ] = None


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """A row of ports or a slot that carries the flame from one burner to another."""

    start: Annotated[
        str, key.name("burner 1", "Burner it starts at", name="from", hint="a burner of this file")
    ]
    end: Annotated[str, key.name("burner 2", "Burner it leads to", name="to", hint="a burner of this file")]
    port_m: Annotated[
        float, key.hole("Diameter or drill of a port, or width of the slot", "1.6 mm", hint="diameter")
    ]
    spacing_m: Annotated[
        float,
        key.length(
            "Pitch of its ports, centre to centre, or interruption of the slot",
            "5 mm",
            hint="from port to port",
        ),
    ]


@table(is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSheet:
    """One sheet of an outer panel, from inside to outside; the gap is the one before it."""

    material: ClassVar[
        Annotated[
            str,
            key.name(
                "stainless steel",
                "A known material, or any with figures",
                is_needed=True,
                rows_of="panel_materials.material",
            ),
        ]
    ]
    thickness_m: Annotated[float, key.length("Thickness of the sheet", "0.8 mm", "thickness")]
    gap_m: Annotated[
        float | None,
        key.length("Air gap on its inner side; the innermost sheet has none", "20 mm", "thickness"),
    ] = None
    vented: Annotated[bool, key.switch("Whether room air rises through that gap")] = False
    emissivity: Annotated[
        float,
        key.quantity(
            "emissivity", "Emissivity of both faces; that of the material without it", 0.8, is_needed=False
        ),
    ]
    emissivity_low: float
    emissivity_high: float
    conductivity_W_per_mK: Annotated[
        float,
        key.quantity("conductivity", "Conductivity [W/mK]; the material's without it", 15.0, is_needed=False),
    ]


@table(is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """An outer panel, lid or knob plate: what is hot behind it and what it is made of."""

    name: Annotated[str, key.name("panel 1", "Name to print")]
    inside_K: Annotated[
        float,
        key.quantity(
            "hot_surface",
            "Temperature of the hot gas and walls behind the panel",
            "150 C",
            hint="of what is behind it",
        ),
    ]
    posture: ClassVar[
        Annotated[
            str,
            key.choice(POSTURES, "level or upright", "Level and facing up, or upright", default="upright"),
        ]
    ]
    height_m: Annotated[
        float,
        key.length("Height of an upright panel, or the shorter side of a level one", "190 mm", hint=FLOOR),
    ]
    sheets: Annotated[
        tuple[PanelSheet, ...],
        key.parts(PanelSheet, 5, "Its sheets", SHEET, name="sheet", least=1, hint="from inside to outside"),
    ]
    touched: ClassVar[
        Annotated[
            str, key.name("plastic", "Material touched, of the touch limits; the outer sheet's without it")
        ]
    ]
    level: bool  # level and facing up, as the top of a lid; else upright
    material: str  # of what is touched, as the touch limits name it; "" when they do not


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutReach:
    """How far a search may change the burners under one cooking surface; all figures are each way.

    >>> LayoutReach(across_m="30 mm", lengths_m=("350 mm", "400 mm")).lengths_m
    (0.35, 0.4)
    """

    surface: Annotated[
        str, key.name("griddle", "Cooking surface whose burners are searched; the only one without it")
    ] = ""
    across_m: Annotated[float, key.length("Moved left and right, each way", "30 mm", "study_reach")] = field(
        default=0.0, metadata={"kind": Kind.LENGTH}
    )
    along_m: Annotated[float, key.length("Moved front and back, each way", "30 mm", "study_reach")] = field(
        default=0.0, metadata={"kind": Kind.LENGTH}
    )
    height_m: Annotated[float, key.length("Moved up and down, each way", "30 mm", "study_reach")] = field(
        default=0.0, metadata={"kind": Kind.LENGTH}
    )
    rate: Annotated[float, key.quantity("half_width", "Fraction of each rate, each way", "10 %")] = 0.0
    shield_width_m: Annotated[float, key.length("Width of shields, each way", "30 mm", "study_reach")] = (
        field(default=0.0, metadata={"kind": Kind.LENGTH})
    )
    spacing_m: Annotated[float, key.length("Least distance between axes", "30 mm", "study_reach")] = field(
        default=0.0, metadata={"kind": Kind.LENGTH}
    )
    flame_clearance_m: Annotated[
        float,
        key.length("Least distance from flame tip to cooking surface or shield", "30 mm", "study_reach"),
    ] = field(default=0.0, metadata={"kind": Kind.LENGTH})
    total_rate_W: Annotated[float | None, key.heat_input("Most for all burners together", "study_rate")] = (
        field(default=None, metadata={"kind": Kind.POWER})
    )
    lengths_m: Annotated[
        tuple[float, ...],
        key.text(["350 mm", "400 mm"], "Tube lengths that can be bought", "1 to 20 lengths", _lengths),
    ] = ()

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
