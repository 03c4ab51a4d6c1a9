"""Where the heat lands on each cooking surface, on every market: a picture of few bytes, its key, and its figures.

The map of a watt follows from the geometry alone and is remembered; an edit of a rate or a gas only weighs it anew. It
is that of the ratings, before any orifice, times what the altitude of the market leaves of them.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.orifice_choice import changed_by
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.memory import REMEMBERED, InputKey, appliance_key
from burnerlab.appliance.project.geometry import Grate, Heat
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.layout.cooking_surface import Grid, Layout, grid_over
from burnerlab.layout.heat_map import (
    DEFAULT_GRID,
    Evenness,
    Pieces,
    check_layout,
    evenness,
    footprints,
    layouts_at_shares,
    layouts_at_widths,
    pieces,
)
from burnerlab.layout.layout_study import layout_of
from burnerlab.layout.placement import standing
from burnerlab.page.desk_fragment import DeskFigure, DeskPart, Fragment, MarketConversion, desk_figure
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.report.sheet.blocks import LENGTH, digits
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.problem import UserError

FloatArray = NDArray[np.float64]
UNITS: dict[System, tuple[str, str]] = {"metric": ("kW/m2", "kW/m²"), "US": ("Btu/h/in2", "Btu/h/in²")}
RAMP = ((0.0, (251, 250, 245)), (0.45, (219, 160, 110)), (0.75, (150, 60, 28)), (1.0, (38, 16, 12)))
"""Share of the span and its colour: from paper to nearly black, darker the hotter, so that it reads without colour."""
KEY_STEPS = 8
ANY_SHARE = 0.3  # radiated, in place of a tile's own until that is known


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatRow(DeskPart):
    """One market's figures of a surface; bands are those of radiated shares, capture and spread of the hot gas."""

    letter: str
    mean: DeskFigure
    least: DeskFigure
    most: DeskFigure
    place: DeskFigure  # of the most
    variation: DeskFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSurface(DeskPart):
    """A cooking surface: the picture of the first market, and every market in figures."""

    id: str
    name: str
    address: str  # of the picture; "" where there is none
    words: str  # the picture told
    size: str
    width: int  # of the surface [mm]
    depth: int
    least: DeskFigure  # at the light end of the key
    most: DeskFigure
    rows: tuple[HeatRow, ...]
    notes: tuple[str, ...]
    why: str = ""  # where no map can be drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatFragment(Fragment):
    """Every cooking surface of the file."""

    template: ClassVar[str] = "desk_answer_heat"

    surfaces: tuple[HeatSurface, ...]
    key: tuple[str, ...]  # colours of the key, light to dark
    why: str = ""


class SurfaceMap(NamedTuple):
    """The heat that a surface takes up, with the corners of what is not known well."""

    layout: Layout
    grid: Grid
    flux_W_per_m2: FloatArray  # [rows, columns], the front row first
    corners: tuple[Evenness, ...]

    @property
    def evenness(self) -> Evenness:
        return evenness(self.flux_W_per_m2)


# the map


def surface_map(c: Conversion, surface: str) -> SurfaceMap:
    """The map of one cooking surface on the gas of a conversion, remembered by the layout that it is of.

    Raises UserError for a surface that no burner heats or whose burners have no place.
    """
    assert c.job is not None
    there, left = changed_by(c.job, c.steps), c.job.policy.factor
    burners = tuple(replace(burner, rate_W=left * burner.rate_W) for burner in there.burners)
    layout = _layout(replace(there, burners=burners), surface)
    return REMEMBERED.recall(InputKey(surface_map, layout), lambda: _map(layout))


def _map(layout: Layout) -> SurfaceMap:
    check_layout(layout)
    grid = grid_over(layout.surface, *DEFAULT_GRID)
    found = _pieces(layout)
    corners = []
    for wide in layouts_at_widths(layout):
        maps = replace(found, carried=_footprints(wide, grid))
        corners += [evenness(maps.flux(corner).sum(axis=0)) for corner in layouts_at_shares(wide)]
    return SurfaceMap(layout, grid, np.asarray(found.flux(layout).sum(axis=0)), tuple(corners))


def _layout(appliance: Appliance, surface: str) -> Layout:
    """The layout of a surface without the heights of its flames, which no map depends on.

    What a tile radiates follows from its own air: it is found apart and remembered, whatever the other burners do.
    """
    plain = layout_of(replace(appliance, burners=tuple(map(_plain, appliance.burners))), surface)
    shown = {emitter.name for emitter in plain.burners}
    tiles = {
        each.name: each.burner
        for each in standing(appliance)
        if each.name in shown and _radiates_by_its_air(each.burner)
    }
    own = {}
    if tiles:
        alone = replace(
            appliance,
            name="",
            model="",
            file="",
            file_sha256="",
            burners=tuple(dict.fromkeys(tiles.values())),
            supply=replace(appliance.supply, train=None),
            new_supply=None,
        )
        key = InputKey(layout_of, surface, appliance_key(alone), alone.burners)
        found = REMEMBERED.recall(key, lambda: layout_of(alone, surface))
        own = {emitter.name: emitter for emitter in found.burners}
    burners = (own.get(emitter.name, emitter) for emitter in plain.burners)
    return replace(plain, burners=tuple(replace(emitter, flame_height_m=None) for emitter in burners))


def _plain(burner: Burner) -> Burner:
    """A burner with what a map depends on: no port, and of a tile any share."""
    heat = Heat(radiant=ANY_SHARE) if _radiates_by_its_air(burner) else burner.heat
    return Burner(
        name=burner.name,
        kind=burner.kind,
        count=burner.count,
        rate_W=burner.rate_W,
        orifice=burner.orifice,
        places=burner.places,
        heat=heat,
    )


def _radiates_by_its_air(burner: Burner) -> bool:
    heat = burner.heat or Heat()
    is_known = heat.radiant is not None or heat.face_temperature_K is not None
    return burner.kind.traits.is_radiant and not is_known


def _geometry(layout: Layout) -> Layout:
    """A layout without its heat: what the map of a watt depends on."""
    burners = tuple(
        replace(
            burner,
            heat_input_W=1.0,
            radiant=0.0,
            capture=0.0,
            radiant_span=None,
            capture_span=None,
            flame_height_m=None,
        )
        for burner in layout.burners
    )
    return replace(layout, burners=burners, notes=())


def _pieces(layout: Layout) -> Pieces:
    bare = _geometry(layout)
    grid = grid_over(layout.surface, *DEFAULT_GRID)
    return REMEMBERED.recall(InputKey(pieces, bare), lambda: pieces(bare, grid)[0])


def _footprints(layout: Layout, grid: Grid) -> FloatArray:
    bare = _geometry(layout)
    return REMEMBERED.recall(InputKey(footprints, bare), lambda: footprints(bare, grid))


# the picture


def heat_png(flux_W_per_m2: FloatArray) -> bytes:
    """A map as a palette picture, a pixel for each cell, the back row at the top; light is the least, dark the most.

    >>> heat_png(np.array([[0.0, 1.0]]))[:8]
    b'\\x89PNG\\r\\n\\x1a\\n'
    """
    low, high = float(flux_W_per_m2.min()), float(flux_W_per_m2.max())
    span = high - low if high > low else 1.0
    shades = np.rint(255.0 * (flux_W_per_m2[::-1] - low) / span).astype(np.uint8)
    rows, columns = shades.shape
    lines = b"".join(b"\x00" + line.tobytes() for line in shades)
    header = struct.pack(">IIBBBBB", columns, rows, 8, 3, 0, 0, 0)
    palette = b"".join(bytes(shade(k / 255.0)) for k in range(256))
    parts = ((b"IHDR", header), (b"PLTE", palette), (b"IDAT", zlib.compress(lines, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in parts
    )


def shade(share: float) -> tuple[int, int, int]:
    """The colour at a share of the span.

    >>> shade(0.0), shade(1.0)
    ((251, 250, 245), (38, 16, 12))
    """
    ends = [end for end, _ in RAMP]
    red, green, blue = (
        round(float(np.interp(share, ends, [colour[k] for _, colour in RAMP]))) for k in range(3)
    )
    return red, green, blue


def heat_picture(markets: Sequence[MarketConversion], picture: str) -> bytes | None:
    """The picture of ``A-1``: market A, first cooking surface; None where there is none."""
    letter, _, number = picture.partition("-")
    c = next((m.conversion for m in markets if m.letter == letter), None)
    grates = () if c is None else _grates(c)
    if c is None or not number.isdecimal() or not 1 <= int(number) <= len(grates):
        return None
    try:
        return heat_png(surface_map(c, grates[int(number) - 1].name).flux_W_per_m2)
    except UserError:
        return None


def _grates(c: Conversion) -> tuple[Grate, ...]:
    space = None if c.job is None else c.job.appliance.space
    return () if space is None else space.grates


def has_surfaces(c: Conversion) -> bool:
    """Whether its file gives a cooking surface, so that a map stands under Heat, or why there is none."""
    return bool(_grates(c))


# the fragment


def heat_fragment(markets: Sequence[MarketConversion], pictures: str, system: System) -> HeatFragment:
    """Every cooking surface.

    pictures : address below which the pictures stand; "" for none
    """
    solved = [(m.letter, m.conversion) for m in markets if m.conversion is not None and m.conversion.job]
    grates = _grates(solved[0][1]) if solved else ()
    why = (
        ""
        if grates
        else "The file gives no cooking surface: add one with its place, and a place to each burner."
    )
    key = tuple("#" + bytes(shade((k + 0.5) / KEY_STEPS)).hex() for k in range(KEY_STEPS))
    return HeatFragment(
        id="heat",
        surfaces=tuple(
            _surface(k, grate, solved, pictures, system) for k, grate in enumerate(grates, start=1)
        ),
        key=key,
        why=why,
    )


def _surface(
    number: int, grate: Grate, solved: Sequence[tuple[str, Conversion]], pictures: str, system: System
) -> HeatSurface:
    id = f"heat-{number}"
    try:
        maps = [(letter, surface_map(c, grate.name)) for letter, c in solved]
    except UserError as error:
        maps, why = [], "; ".join(problem.text() for problem in error.problems)
    else:
        why = ""
    letter, first = maps[0] if maps else ("", None)
    least = most = ""
    if first is not None:
        least, most = (_flux(end, system) for end in (first.evenness.minimum, first.evenness.maximum))
    return HeatSurface(
        id=id,
        name=name(grate.name),
        address=f"{pictures}/{letter}-{number}.png" if pictures and first is not None else "",
        words=f"Heat map of {name(grate.name)} on {letter}, back at the top: from {least}, light, to {most}, dark",
        size=" × ".join(LENGTH.scale(system).text(side) for side in (grate.width_m, grate.depth_m)),
        width=round(1e3 * grate.width_m),
        depth=round(1e3 * grate.depth_m),
        least=desk_figure(f"{id}-light", least),
        most=desk_figure(f"{id}-dark", most),
        rows=tuple(_row(f"{id}-{letter}", letter, found, system) for letter, found in maps),
        notes=() if first is None else tuple(clean(note) for note in first.layout.notes),
        why=why,
    )


def _flux(value: float, system: System) -> str:
    unit, shown = UNITS[system]
    return f"{digits(float(in_unit(value, Kind.HEAT_FLUX, unit)), 3)} {shown}"


def _row(id: str, letter: str, heat: SurfaceMap, system: System) -> HeatRow:
    at, unit = heat.evenness, UNITS[system][0]
    means = [float(in_unit(corner.mean, Kind.HEAT_FLUX, unit)) for corner in heat.corners]
    varied = [100.0 * corner.coefficient_of_variation for corner in heat.corners]
    most = int(heat.flux_W_per_m2.argmax())
    x, y = (LENGTH.scale(system).text(float(axis.flat[most])) for axis in (heat.grid.x_m, heat.grid.y_m))
    return HeatRow(
        letter=letter,
        mean=desk_figure(
            f"{id}-mean", f"{_flux(at.mean, system)} ({digits(min(means), 2)} to {digits(max(means), 2)})"
        ),
        least=desk_figure(f"{id}-least", _flux(at.minimum, system)),
        most=desk_figure(f"{id}-most", _flux(at.maximum, system)),
        place=desk_figure(f"{id}-place", f"x {x}, y {y}"),
        variation=desk_figure(
            f"{id}-variation",
            f"{100.0 * at.coefficient_of_variation:.0f} % ({min(varied):.0f} to {max(varied):.0f} %)",
        ),
    )
