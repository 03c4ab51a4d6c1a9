"""The things a heat map is made of: a cooking surface, what radiates and warms it, what stands between.

Made from an appliance here, or by hand in a notebook. Heights are over one level, x to the right, y to the back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.quantity import Kind, Quantity, take_SI
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure

if TYPE_CHECKING:
    from burnerlab.appliance.project.burner_kind import Form

FloatArray = NDArray[np.float64]
Side = Literal["up", "down", "front", "back", "left", "right"]
NORMALS: dict[str, tuple[float, float]] = {
    "front": (0.0, -1.0), "back": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)
}  # fmt: skip
SQUARE_rad = 1e-6  # angles closer than this to a right angle or to none count as such


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Low and high end of a figure."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Emitter:
    """One burner as the map sees it.

    form : line, a thin tube that radiates all round; ring, the same, bent; panel, a rectangle that radiates to one side
    x_m, y_m, z_m : its middle, to the right, to the back and up [m]; angle_rad : 0 has its length along y [rad]
    length_m, width_m : of flame and tube, or of the panel, the width of an upright one its height [m]
    radius_m : of a ring [m]
    heat_input_W : net, what can be given off as sensible heat [W]
    radiant : share of it that is radiated; capture : share of the rest that the cooking surface takes up [-]
    radiant_span, capture_span : their ends, None where known without a spread
    flame_height_m : high end of the flame's height [m]
    Raises UserError for a text that is no such quantity; ``heat_map`` refuses what is out of range.

    >>> tube = Emitter(name="tube", form="line", x_m=0.2, y_m=0.2, z_m=0.0, length_m="350 mm", heat_input_W="3 kW",
    ...                radiant=0.2, capture=0.3)
    >>> tube.length_m, tube.heat_input_W
    (0.35, 3000.0)
    """

    name: str = field(metadata=output("burner"))
    form: Form = field(metadata=output("form"))
    x_m: float = field(metadata=output("x", Kind.LENGTH))
    y_m: float = field(metadata=output("y", Kind.LENGTH))
    z_m: float = field(metadata=output("height", Kind.LENGTH))
    heat_input_W: float = field(metadata={"kind": Kind.POWER})
    radiant: float
    capture: float
    length_m: float = field(default=0.0, metadata=output("length", Kind.LENGTH))
    width_m: float = field(default=0.0, metadata=output("width", Kind.LENGTH))
    radius_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})
    angle_rad: float = field(default=0.0, metadata={"kind": Kind.ANGLE})
    facing: Side = "up"
    radiant_span: Span | None = None
    capture_span: Span | None = None
    flame_height_m: float | None = field(default=None, metadata={"kind": Kind.LENGTH})

    if TYPE_CHECKING:

        def __init__(
            self,
            *,
            name: str,
            form: Form,
            x_m: Quantity,
            y_m: Quantity,
            z_m: Quantity,
            heat_input_W: Quantity,
            radiant: float,
            capture: float,
            length_m: Quantity = ...,
            width_m: Quantity = ...,
            radius_m: Quantity = ...,
            angle_rad: Quantity = ...,
            facing: Side = ...,
            radiant_span: Span | None = ...,
            capture_span: Span | None = ...,
            flame_height_m: Quantity | None = ...,
        ) -> None: ...

    def at_heat_input(self, heat_input_W: float, length_m: float) -> Emitter:
        """The same tube at another net heat input and length, its ports per length as they are [W, m].

        Flames of ports go with heat input per length, a line flame with its power 2/3: the taller of both is kept.

        >>> tube = Emitter(name="tube", form="line", x_m=0.0, y_m=0.0, z_m=0.0, length_m=0.4, heat_input_W=3e3,
        ...                radiant=0.2, capture=0.3, flame_height_m=0.02)
        >>> tube.at_heat_input(6e3, 0.4).flame_height_m, tube.at_heat_input(1.5e3, 0.4).flame_height_m
        (0.04, 0.0126)
        """
        ratio = heat_input_W / length_m * self.length_m / self.heat_input_W
        flame = None if self.flame_height_m is None else self.flame_height_m * max(ratio, ratio ** (2 / 3))
        return replace(self, heat_input_W=heat_input_W, length_m=length_m, flame_height_m=flame)

    @property
    @computed_output("heat input", Kind.POWER, basis="net")
    def heat_input_net_W(self) -> float:
        """What can be given off as sensible heat."""
        return self.heat_input_W

    def __post_init__(self) -> None:
        take_SI(self)

    @property
    def along(self) -> tuple[float, float]:
        """Direction of the length in plan."""
        return -math.sin(self.angle_rad), math.cos(self.angle_rad)

    @property
    def stands(self) -> bool:
        """Whether it is an upright panel."""
        return self.form == "panel" and self.facing in NORMALS


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """A level shield."""

    name: str = field(metadata=output("shield"))
    x_m: float = field(metadata=output("x", Kind.LENGTH))
    y_m: float = field(metadata=output("y", Kind.LENGTH))
    z_m: float = field(metadata=output("height", Kind.LENGTH))
    length_m: float = field(metadata=output("length", Kind.LENGTH))
    width_m: float = field(metadata=output("width", Kind.LENGTH))
    angle_rad: float = field(metadata={"kind": Kind.ANGLE})
    emissivity: float
    temperature_K: float | None = field(
        default=None, metadata={"kind": Kind.TEMPERATURE}
    )  # when it is given and not worked out

    def __post_init__(self) -> None:
        take_SI(self)

    @property
    def area_m2(self) -> float:
        return self.length_m * self.width_m


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateSheet:
    """What a closed plate is made of."""

    material: str = field(metadata=output("plate"))
    thickness_m: float = field(metadata=output("plate thickness", Kind.LENGTH))
    conductivity_W_per_mK: float = field(metadata=output("plate conductivity", unit="W/mK"))
    density_kg_per_m3: float
    specific_heat_J_per_kgK: float
    emissivity: float
    is_stated: bool = True  # thickness in the file, not the table's


def _sides(level: Surface | Room) -> tuple[float, float, float, float]:
    """x1, x2, y1, y2 of a rectangle along the axes."""
    half_width, half_depth = level.width_m / 2, level.depth_m / 2
    return level.x_m - half_width, level.x_m + half_width, level.y_m - half_depth, level.y_m + half_depth


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """The cooking surface: a level rectangle.

    x_m, y_m, z_m : its middle [m]; width_m : along x, depth_m : along y [m], above 0
    plate : closed, hot gas cannot pass; sheet : of a closed plate, where known; absorptance : of radiation [-], 0 to 1
    Raises UserError for a text that is no length; ``heat_map`` refuses what is out of range.

    >>> Surface(name="plate", x_m=0.2, y_m=0.2, z_m=0.1, width_m="400 mm", depth_m="400 mm", plate=True).area_m2
    0.16
    """

    name: str
    x_m: float = field(metadata={"kind": Kind.LENGTH})
    y_m: float = field(metadata={"kind": Kind.LENGTH})
    z_m: float = field(metadata={"kind": Kind.LENGTH})
    width_m: float = field(metadata={"kind": Kind.LENGTH})
    depth_m: float = field(metadata={"kind": Kind.LENGTH})
    plate: bool = False
    absorptance: float = 0.9
    sheet: PlateSheet | None = None

    if TYPE_CHECKING:

        def __init__(
            self,
            *,
            name: str,
            x_m: Quantity,
            y_m: Quantity,
            z_m: Quantity,
            width_m: Quantity,
            depth_m: Quantity,
            plate: bool = ...,
            absorptance: float = ...,
            sheet: PlateSheet | None = ...,
        ) -> None: ...

    def __post_init__(self) -> None:
        take_SI(self)

    @property
    def area_m2(self) -> float:
        return self.width_m * self.depth_m

    @property
    def sides(self) -> tuple[float, float, float, float]:
        """x1, x2, y1, y2."""
        return _sides(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The box around the burners: a level rectangle from the floor up, and a lid when it is closed."""

    x_m: float = field(metadata={"kind": Kind.LENGTH})
    y_m: float = field(metadata={"kind": Kind.LENGTH})
    width_m: float = field(metadata={"kind": Kind.LENGTH})
    depth_m: float = field(metadata={"kind": Kind.LENGTH})
    loss: float  # share of the radiation on a wall that does not come back [-]
    lid_z_m: float | None = field(default=None, metadata={"kind": Kind.LENGTH})

    def __post_init__(self) -> None:
        take_SI(self)

    @property
    def sides(self) -> tuple[float, float, float, float]:
        return _sides(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlumeShape:
    """How hot gas spreads on its way up: the constants of the convective footprint."""

    plume_spread: float = 0.18  # half width over height [-]
    plate_spreading: float = 1.5  # factor on the half width under a closed plate [-]
    shield_uptake: float = 0.15  # share of the hot gas's heat that goes into a shield on its way [-]
    plume_span: Span | None = None


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Layout(WithSummary):
    """Everything one heat map is made of.

    covers : shields between burners and surface; room : the box around the burners, None for an open frame
    shape : how hot gas spreads on its way up; gas : name of what is burned

    >>> plate = Surface(name="plate", x_m=0.2, y_m=0.2, z_m=0.1, width_m=0.4, depth_m=0.4)
    >>> tube = Emitter(name="tube", form="line", x_m=0.2, y_m=0.2, z_m=0.0, length_m=0.35, heat_input_W="3 kW",
    ...                radiant=0.2, capture=0.3)
    >>> Layout(surface=plate, burners=(tube,)).heat_input_W
    3000.0
    """

    surface: Surface
    burners: tuple[Emitter, ...]
    covers: tuple[Cover, ...] = ()
    room: Room | None = None
    shape: PlumeShape = PlumeShape()
    gas: str = ""
    notes: tuple[str, ...] = ()

    def summary(self) -> Summary:
        heat, plate = figure(self.heat_input_W, Kind.POWER), self.surface
        size = f"{figure(plate.width_m, Kind.LENGTH)} x {figure(plate.depth_m, Kind.LENGTH)}"
        return Summary(f"{plate.name}, {size}: {len(self.burners)} burners, {heat} net")

    @property
    def heat_input_W(self) -> float:
        """Net heat input of all burners."""
        return math.fsum(burner.heat_input_W for burner in self.burners)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Middles of equal cells over a cooking surface, or points anywhere; x and y of equal shape."""

    x_m: FloatArray
    y_m: FloatArray

    @property
    def shape(self) -> tuple[int, ...]:
        return self.x_m.shape


def grid_over(surface: Surface, across: int, deep: int) -> Grid:
    """Equal cells over a surface, rows from front to back [deep, across].

    >>> plate = Surface(name="p", x_m=0.2, y_m=0.0, z_m=0.1, width_m=0.4, depth_m=0.2)
    >>> grid_over(plate, 4, 1).x_m.round(3)
    array([[0.05, 0.15, 0.25, 0.35]])
    """
    x1, x2, y1, y2 = surface.sides
    x = x1 + (x2 - x1) * (np.arange(across) + 0.5) / across
    y = y1 + (y2 - y1) * (np.arange(deep) + 0.5) / deep
    gx, gy = np.meshgrid(x, y)
    return Grid(x_m=gx, y_m=gy)


def turned(dx: ArrayLike, dy: ArrayLike, angle_rad: float) -> tuple[FloatArray, FloatArray]:
    """Offsets in the frame of a thing turned by an angle: along its length, across it."""
    c, s, x, y = math.cos(angle_rad), math.sin(angle_rad), np.asarray(dx, float), np.asarray(dy, float)
    return np.asarray(c * y - s * x), np.asarray(c * x + s * y)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverFrame:
    """Shields in the frame of a burner: middle along and across it, half sides, and their turn. Floats or arrays."""

    along_m: FloatArray | float
    across_m: FloatArray | float
    half_length_m: FloatArray | float
    half_width_m: FloatArray | float
    cos: FloatArray | float  # of the turn of the shield against the burner
    sin: FloatArray | float

    @property
    def is_square(self) -> bool:
        """Parallel or square to the burner."""
        return bool(np.all((np.asarray(self.cos) == 0) | (np.asarray(self.sin) == 0)))

    def section(self, along_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Low and high end of a shield across the burner at a place along it; high below low where there is none.

        |du cos - dv sin| < half length and |du sin + dv cos| < half width, solved for dv.
        """
        du = np.asarray(along_m) - self.along_m
        first = _slab(du, self.cos, -np.asarray(self.sin), self.half_length_m)
        second = _slab(du, self.sin, self.cos, self.half_width_m)
        low, high = np.maximum(first[0], second[0]), np.minimum(first[1], second[1])
        return np.asarray(self.across_m + low), np.asarray(self.across_m + high)

    def breaks(self, half_wide_m: float) -> FloatArray:
        """Places along the burner where the section within the width of its flame has a bend [..., 12].

        Corners of the shield, and its sides where they cross the sides of the flame; infinite where they do not.
        """
        c, s = np.asarray(self.cos), np.asarray(self.sin)
        hl, hw = np.asarray(self.half_length_m), np.asarray(self.half_width_m)
        places = [a * hl * c + b * hw * s for a in (-1, 1) for b in (-1, 1)]
        with np.errstate(divide="ignore", invalid="ignore"):
            for dv in (-half_wide_m - self.across_m, half_wide_m - self.across_m):
                places += [(a * hl + dv * s) / c for a in (-1, 1)]
                places += [(a * hw - dv * c) / s for a in (-1, 1)]
        found = np.stack(np.broadcast_arrays(*places), axis=-1) + np.asarray(self.along_m)[..., None]
        return np.where(np.isfinite(found), found, np.inf)


def _slab(
    du: FloatArray, rise: FloatArray | float, slope: FloatArray | float, half: FloatArray | float
) -> tuple[FloatArray, FloatArray]:
    """Low and high end of dv where |du rise + dv slope| < half: a middle in proportion to du, and a reach.

    Both are calculated once for each shield and point, not for each place along the burner.
    """
    rise, slope, half = np.asarray(rise), np.asarray(slope), np.asarray(half)
    flat = slope == 0
    steep = np.where(flat, 1.0, slope)
    middle, reach = du * (-rise / steep), half / np.abs(steep)
    low, high = middle - reach, middle + reach
    if flat.any():
        inside = np.abs(du * rise) < half
        low = np.where(flat, np.where(inside, -np.inf, np.inf), low)
        high = np.where(flat, np.where(inside, np.inf, -np.inf), high)
    return np.asarray(low), np.asarray(high)


def frame_of(cover: Cover, burner: Emitter) -> CoverFrame:
    """A shield in the frame of a burner; turns closer than ``SQUARE_rad`` to a right angle or to none are that."""
    along, across = turned(cover.x_m - burner.x_m, cover.y_m - burner.y_m, burner.angle_rad)
    turn = cover.angle_rad - burner.angle_rad
    c, s = math.cos(turn), math.sin(turn)
    return CoverFrame(
        along_m=float(along),
        across_m=float(across),
        half_length_m=cover.length_m / 2,
        half_width_m=cover.width_m / 2,
        cos=0.0 if abs(c) < SQUARE_rad else c,
        sin=0.0 if abs(s) < SQUARE_rad else s,
    )
