"""The words of the project file for geometry: cooking surfaces, shields, boxes, panels, carry-over, a layout study."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, model_validator

from burnerlab.appliance import door
from burnerlab.appliance.schema_parts import Name, Position, Switch, Table, heat_input, read_by, size
from burnerlab.appliance.space import FACINGS, SURFACE_KINDS
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import complaint

MOST_LENGTHS = 20
LID_HEIGHT = 'add lid_height = "430 mm", of the lid over the floor of the box'


def _lengths(value: Any) -> tuple[float, ...]:
    """Tube lengths: one, or a list."""
    read = door.quantity(Kind.LENGTH, "400 mm", "size")
    given = value if isinstance(value, list) else [value]
    if not 1 <= len(given) <= MOST_LENGTHS:
        raise complaint("needs 1 to 20 lengths", accepted='["300 mm", "400 mm"]', fix="shorten the list")
    return tuple(read(one) for one in given)


Size = Annotated[float, size("400 mm")]
Height = Annotated[float, size("190 mm", "height")]
Reach = Annotated[float, size("30 mm", "study_reach")]
Thickness = Annotated[float, size("1 mm", "thickness")]
Angle = Annotated[float, read_by(door.quantity(Kind.ANGLE, "90 deg"))]
Share = Annotated[float, read_by(door.quantity(Kind.FRACTION, "30 %", "share"))]
Emissivity = Annotated[float, read_by(door.number("emissivity"))]
Hot = Annotated[float, read_by(door.quantity(Kind.TEMPERATURE, "250 C", "hot_surface"))]
FaceHot = Annotated[float, read_by(door.quantity(Kind.TEMPERATURE, "900 C", "tile_face"))]
Conductivity = Annotated[float, read_by(door.number("conductivity"))]
FacingWord = Annotated[str, read_by(door.choice(FACINGS, "a facing"))]
SurfaceWord = Annotated[str, read_by(door.choice(SURFACE_KINDS, "a kind of cooking surface: grate or plate"))]
LidWord = Annotated[str, read_by(door.choice(("open", "closed"), "open or closed"))]
PostureWord = Annotated[str, read_by(door.choice(("level", "upright"), "level or upright"))]


class HeatText(Table):
    """heat = { ... } of a burner."""

    radiant: Share | None = None
    capture: Share | None = None
    face_temperature: FaceHot | None = None


class GrateText(Table):
    """[[grate]], or one [grate]."""

    name: Name = "cooking surface"
    kind: SurfaceWord = "grate"
    x: Position
    y: Position
    width: Size
    depth: Size
    height: Height
    absorptance: Emissivity | None = None


class ShieldText(Table):
    """[[shield]]"""

    name: Name = "shield"
    x: Position
    y: Position
    length: Size
    width: Size
    height: Height
    angle: Angle = 0.0
    emissivity: Emissivity | None = None
    temperature: Hot | None = None


class BoxText(Table):
    """[[box]], or one [box]."""

    name: Name = "box"
    x: Position
    y: Position
    width: Size
    depth: Size
    lid: LidWord = "open"
    lid_height: Height | None = None
    loss: Share | None = None

    @model_validator(mode="after")
    def _lid_has_a_height(self) -> BoxText:
        problems = []
        if self.lid == "closed" and self.lid_height is None:
            problems.append(door.about("lid", "is closed, but lid_height is not given", LID_HEIGHT))
        return door.unless(problems, self)


class BridgeText(Table):
    """[[carry_over]]: a row of ports from one burner to another."""

    start: Annotated[str, read_by(door.name), Field(alias="from")]
    end: Annotated[str, read_by(door.name), Field(alias="to")]
    port: Size
    spacing: Size


class SheetText(Table):
    """One sheet of a panel, from inside to outside."""

    material: Name
    thickness: Thickness
    gap: Thickness | None = None
    vented: Switch = False
    emissivity: Emissivity | None = None
    conductivity: Conductivity | None = None


class PanelText(Table):
    """[[panel]]"""

    name: Name
    inside: Hot
    posture: PostureWord = "upright"
    height: Size
    sheet: Annotated[list[SheetText], read_by(door.one_or_many), Field(min_length=1, max_length=5)]
    touched: Name | None = None


class StudyText(Table):
    """[optimise], what a search for an even map may change."""

    surface: Name | None = None
    across: Reach = 0.0
    along: Reach = 0.0
    height: Reach = 0.0
    rate: Annotated[float, read_by(door.quantity(Kind.FRACTION, "10 %", "half_width"))] = 0.0
    shield_width: Reach = 0.0
    spacing: Reach = 0.0
    flame_clearance: Reach = 0.0
    total_rate: Annotated[float, heat_input("study_rate")] | None = None
    lengths: Annotated[tuple[float, ...], read_by(_lengths)] = ()
