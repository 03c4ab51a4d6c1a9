"""The region of ports of a burner on the desk: two pictures to choose a variant in, and its values for the form."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.appliance.study.port_study import PortCase, port_case
from burnerlab.burner.coefficients import Array
from burnerlab.burner.port_region import PortDesign, PortRegion, port_region
from burnerlab.orifice.drill import drill_list, nearest_drill
from burnerlab.page.desk_findings import NOW
from burnerlab.page.desk_port_shop import Shop, drawing_size, made_in
from burnerlab.page.render import page
from burnerlab.page.result_text import minus
from burnerlab.quantity import Kind, System, from_unit, in_unit
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.quantity_text import quoted
from burnerlab.quantity.show import grouped, number
from burnerlab.report.sheet.blocks import digits

Panel = Literal["ports", "inlet"]
PANELS: tuple[Panel, ...] = ("ports", "inlet")
INCHES = re.compile(r"\bin(?:ch(?:es)?|2)?\b|in²|[\"″#]|\d/\d")  # in a size or an area as the file has it
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 340, 250, 44, 10, 20, 34  # of a picture, px: a click counts in them
COLUMNS, ROWS = 44, 30  # of its cells
SHADES = (
    "#c9c6ba",
    "#a6a394",
    "#7d7a6d",
    "#545248",
    "#24231e",
)  # lighter to darker: deeper inside the limits
DRAWN = "#ece9dd"  # holds as drawn, not at every corner of the tolerance
EDGE = 0.06  # of the range, beside it
MOST_LIMITS = 12  # listed
MOST_MISSES = 400  # shown where none holds
LETTERS = "ABCDEFGH"
FULL = 1.0 + 1e-9  # of an open shutter


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignLine:
    """A design in figures."""

    letter: str
    label: str
    figures: str
    slack: str
    binds: str
    is_offered: bool  # it holds, so that it may go into the draft


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """A limit that ends the region: on which gas, and of how many variants it is missed, beside others and alone."""

    limit: str
    gas: str
    missed: str
    alone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EasedLine:
    """A demand eased, all others as they are, and what then holds."""

    demand: str
    nominal: str
    corners: str
    is_opening: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionView:
    """What the page says of a region."""

    burner: str
    gases: tuple[str, ...]
    share: str
    present: str
    is_empty: bool
    designs: tuple[DesignLine, ...]
    miss: str  # what binds at the nearest miss, where none holds
    limits: tuple[LimitLine, ...]  # the one missed most first
    eased: tuple[EasedLine, ...]  # where none holds, what may open the region
    not_evaluated: tuple[str, ...]


class Frame(NamedTuple):
    """The ends of a picture's axes."""

    x: tuple[float, float]
    y: tuple[float, float]

    def place(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Places in the picture, as shares of its axes from the left and from below."""
        return (x - self.x[0]) / (self.x[1] - self.x[0]), (y - self.y[0]) / (self.y[1] - self.y[0])


def case_of(appliance: Appliance, number: int, letters: tuple[str, ...]) -> PortCase:
    """A burner (from 1) on the gases of some markets, by their letters, and on the present one where ``NOW`` is named.

    Raises UserError for a burner without round ports, or a gas without composition.
    """
    markets = [market for market in targets_of(appliance) if market.letter in letters]
    targets = [target for market in markets for target in market.targets]
    name = appliance.burners[number - 1].name
    return port_case(appliance, name, targets, with_present=NOW in letters)


def region_of(case: PortCase, shop: Shop) -> PortRegion:
    """The region of a burner as it can be made. Raises UserError, its keys names of entries."""
    made, tolerance = made_in(case, shop)
    return port_region(made.template, made.gases, made.space, tolerance)


# the picture


def axes_of(panel: Panel, system: System) -> tuple[str, str]:
    """What the axes of a picture show, with their units."""
    length, area = ("in", "in²") if system == "US" else ("mm", "mm²")
    if panel == "ports":
        return f"port diameter, {length}", "number of ports"
    return f"throat, {length}", f"open air inlet, {area}"


def _ends(ends: tuple[float, float], kind: Kind | None, system: System) -> tuple[str, ...]:
    """The ends of an axis [mm, mm2] in the units of the reader; kind : None for a count"""
    if kind is None:
        return tuple(f"{one:.0f}" for one in ends)
    if system == "metric":
        return tuple(digits(one, 3) for one in ends)
    metric, unit = ("mm", "in") if kind is Kind.DIAMETER else ("mm2", "in2")
    shown = 3 if kind is Kind.DIAMETER else 2  # no more stands beside an upright axis
    return tuple(digits(float(in_unit(from_unit(one, kind, metric), kind, unit)), shown) for one in ends)


def _figures(region: PortRegion, panel: Panel) -> tuple[Array, Array]:
    some = region.variants
    if panel == "ports":
        return 1e3 * some.port_m, some.count
    return 1e3 * some.throat_m, 1e6 * some.inlet_m2


def _figures_of(design: PortDesign, panel: Panel) -> tuple[float, float]:
    if panel == "ports":
        return 1e3 * design.port_diameter_m, float(design.port_count)
    return 1e3 * design.throat_diameter_m, 1e6 * design.inlet_area_m2


def _pictured(region: PortRegion) -> NDArray[np.intp]:
    """Places of the variants in the picture: that hold as drawn, else those that miss least."""
    holding = np.flatnonzero(region.slack >= 0.0)
    if holding.size:
        return holding
    return np.argsort(-np.where(np.isfinite(region.slack), region.slack, -np.inf))[:MOST_MISSES]


def frame_of(region: PortRegion, panel: Panel) -> Frame:
    """The axes: over the variants shown and the present burner."""
    some = _pictured(region)
    ends = []
    own = None if region.present is None else _figures_of(region.present, panel)
    for axis, figures in enumerate(_figures(region, panel)):
        every = np.append(figures[some], [] if own is None else [own[axis]])
        least, most = float(np.min(every)), float(np.max(every))
        beside = EDGE * ((most - least) or 1.0)
        ends.append((max(0.0, least - beside), most + beside))  # none of the four figures is below nothing
    return Frame(*ends)


def picture(region: PortRegion, panel: Panel, system: System) -> str:
    """The region as SVG: shade is the least slack at all corners, pale holds as drawn only, letters are the designs."""
    frame, some = frame_of(region, panel), _pictured(region)
    across, up = frame.place(*(figures[some] for figures in _figures(region, panel)))
    cells: dict[tuple[int, int], float] = {}
    for x, y, slack in zip(across, up, region.corner_slack[some], strict=True):
        cell = min(int(x * COLUMNS), COLUMNS - 1), min(int(y * ROWS), ROWS - 1)
        cells[cell] = max(cells.get(cell, -1.0), slack if slack >= 0.0 else -1.0)
    deepest = max(cells.values(), default=0.0)
    wide, high = (WIDTH - LEFT - RIGHT) / COLUMNS, (HEIGHT - TOP - BOTTOM) / ROWS
    boxes = [
        {
            "x": f"{LEFT + x * wide:.1f}",
            "y": f"{TOP + (ROWS - 1 - y) * high:.1f}",
            "fill": DRAWN if slack < 0.0 else SHADES[min(int(5.0 * slack / (deepest or 1.0)), 4)],
        }
        for (x, y), slack in sorted(cells.items())
    ]
    return page(
        "desk_ports_picture",
        width=WIDTH, height=HEIGHT, left=LEFT, right=RIGHT, top=TOP, bottom=BOTTOM,
        cell=(f"{wide + 0.2:.2f}", f"{high + 0.2:.2f}"),
        boxes=boxes,
        letters=list(_letters(region, panel, frame)),
        axes=axes_of(panel, system),
        x_ends=_ends(frame.x, Kind.DIAMETER, system),
        y_ends=_ends(frame.y, None if panel == "ports" else Kind.AREA, system),
    )  # fmt: skip


def _letters(region: PortRegion, panel: Panel, frame: Frame) -> list[dict[str, str]]:
    """The designs by their letters; the present burner as a star."""
    every = [(letter, design) for letter, design in zip(LETTERS, region.designs, strict=False)]
    every += [] if region.present is None else [("now", region.present)]
    found = []
    for letter, design in every:
        across, up = (
            float(one) for one in frame.place(*(np.array(one) for one in _figures_of(design, panel)))
        )
        x, y = LEFT + across * (WIDTH - LEFT - RIGHT), HEIGHT - BOTTOM - up * (HEIGHT - TOP - BOTTOM)
        found.append({"letter": letter, "x": f"{x:.1f}", "y": f"{y:.1f}"})
    return found


def variant_at(region: PortRegion, panel: Panel, x_px: float, y_px: float) -> int | None:
    """The variant at a place of a picture: the deepest of its cell that holds, else the nearest that holds.

    None where no variant holds.
    """
    holding = np.flatnonzero(region.holds)
    if not holding.size:
        return None
    across, up = frame_of(region, panel).place(*(figures[holding] for figures in _figures(region, panel)))
    x = (x_px - LEFT) / (WIDTH - LEFT - RIGHT)
    y = (HEIGHT - BOTTOM - y_px) / (HEIGHT - TOP - BOTTOM)
    away = np.hypot(across - x, up - y)
    near = np.flatnonzero((np.abs(across - x) <= 0.5 / COLUMNS) & (np.abs(up - y) <= 0.5 / ROWS))
    if near.size:
        return int(holding[near[np.argmax(region.corner_slack[holding[near]])]])
    return int(holding[np.argmin(away)])


# the values


def design_values(
    burner: Burner,
    number: int,
    values: Mapping[str, str],
    figures: tuple[float, float, float, float],
    system: System,
) -> dict[str, str]:
    """The keys of a burner (from 1) for a variant: port [m], count, throat [m] and open inlet [m2].

    A size is written in the units of the one that stands there, else in those of the reader. The shutter opens as far
    as the inlet asks; one that is too small, or whose area is not given, gets that area.
    """
    port_m, count, throat_m, inlet_m2 = figures
    prefix = f"burner[{number}]."
    full = burner.shutter.full_area_m2 if burner.shutter is not None else None

    def is_in_inches(key: str) -> bool:
        text = values.get(prefix + key, "")
        return bool(INCHES.search(text)) if text else system == "US"

    def inches(value: float, kind: Kind, unit: str) -> float:
        return float(in_unit(value, kind, unit))

    found = {
        "ports.diameter": f"{inches(port_m, Kind.DIAMETER, 'in'):.4f} in"
        if is_in_inches("ports.diameter")
        else f"{1e3 * port_m:.2f} mm",
        "ports.count": f"{count:.0f}",
        "throat": f"{inches(throat_m, Kind.DIAMETER, 'in'):.3f} in"
        if is_in_inches("throat")
        else f"{1e3 * throat_m:.1f} mm",
    }
    if full is not None and inlet_m2 <= full * FULL:
        found["shutter.opening"] = f"{100.0 * inlet_m2 / full:.1f} %"
    else:
        area = (
            f"{inches(inlet_m2, Kind.AREA, 'in2'):.3f} in2"
            if is_in_inches("shutter.area")
            else f"{1e6 * inlet_m2:.0f} mm2"
        )
        found |= {"shutter.area": area, "shutter.opening": "100 %"}
    if f"{prefix}ports.pitch" in values:  # of the present ports: the variant's follows from its count
        found["ports.pitch"] = ""
    return {prefix + key: text for key, text in found.items()}


def values_at(
    burner: Burner, number: int, values: Mapping[str, str], region: PortRegion, place: int, system: System
) -> dict[str, str]:
    """The keys of a burner for the variant of a place among those tried."""
    some = region.variants
    figures = (some.port_m[place], some.count[place], some.throat_m[place], some.inlet_m2[place])
    return design_values(burner, number, values, tuple(map(float, figures)), system)  # type: ignore[arg-type]  # four


def values_of_design(
    burner: Burner, number: int, values: Mapping[str, str], design: PortDesign, system: System
) -> dict[str, str]:
    """The keys of a burner for one of the designs of a region."""
    figures = (
        design.port_diameter_m,
        float(design.port_count),
        design.throat_diameter_m,
        design.inlet_area_m2,
    )
    return design_values(burner, number, values, figures, system)


# the page


def region_view(region: PortRegion, burner: str, system: System) -> RegionView:
    """What the page says, in the units of the reader: a gas of several pressures is named with them."""

    def own(text: str) -> str:
        return in_reader_units(text, system)

    lines = [_line(letter, one, system) for letter, one in zip(LETTERS, region.designs, strict=False)]
    if region.nearest_miss is not None:
        lines.append(_line("", region.nearest_miss, system))
    present, count = region.present, grouped(region.count, 0)
    return RegionView(
        burner=burner,
        gases=tuple(own(gas.title) for gas in region.gases),
        share=f"{number(100 * region.nominal_fraction, 2)} % of {count} variants hold at nominal sizes, "
        f"{number(100 * region.corners_fraction, 2)} % at all corners of the tolerance",
        present="" if present is None else own(_present(present) + _pitch_note(region)),
        is_empty=not region.designs,
        designs=tuple(lines),
        miss="" if region.nearest_miss is None else own(_binds(region.nearest_miss)),
        limits=tuple(replace(one, gas=own(one.gas)) for one in limit_lines(region)),
        eased=tuple(
            EasedLine(
                demand=own(each.words),
                nominal=_share(each.nominal_fraction),
                corners=_share(each.corners_fraction),
                is_opening=each.corners_fraction > 0.0,
            )
            for each in sorted(region.relaxations, key=lambda each: -each.corners_fraction)
        ),
        not_evaluated=tuple(map(own, region.not_evaluated)),
    )


def limit_lines(region: PortRegion) -> tuple[LimitLine, ...]:
    """What ends the region: limits that some variant misses, the one missed most first."""
    missed = [each for each in region.limits if each.missed_fraction > 0.0]
    return tuple(
        LimitLine(
            limit=each.limit,
            gas=each.gas or "all",
            missed=_share(each.missed_fraction),
            alone=_share(each.missed_alone_fraction),
        )
        for each in missed[:MOST_LIMITS]
    )


def _share(value: float) -> str:
    return "none" if value == 0.0 else f"{number(100 * value, 2)} %"


def _line(letter: str, design: PortDesign, system: System) -> DesignLine:
    pitch = (
        ""
        if design.port_pitch_m is None
        else f", pitch {drawing_size(design.port_pitch_m, '.2f', '.3f', system)}"
    )
    port = _port_size(design.port_diameter_m, system)
    inlet = quoted(design.inlet_area_m2, Kind.AREA, "mm2", ".0f", US_unit="in2").in_system(system)
    return DesignLine(
        letter=letter,
        label=design.label,
        figures=f"{design.port_count} ports of {port}{pitch}, throat "
        f"{drawing_size(design.throat_diameter_m, '.1f', '.3f', system)}, open inlet {inlet.removesuffix('2')}²",
        slack="not known"
        if design.corner_slack is None
        else minus(f"{number(100 * design.corner_slack, 2)} %"),
        binds=in_reader_units(_binds(design), system),
        is_offered=design.holds,
    )


SAME_DRILL = 1e-3  # relative: below it a port has the size of its drill


def _port_size(diameter_m: float, system: System) -> str:
    """A port; to a reader in inches with the number drill of its size, or the one nearest to it.

    >>> _port_size(0.0635 * 0.0254, "US"), _port_size(0.0638 * 0.0254, "US"), _port_size(0.0016, "metric")
    ('0.0635 in (#52)', '0.0638 in (nearest drill #52, 0.0635 in)', '1.60 mm')
    """
    size = drawing_size(diameter_m, ".2f", ".4f", system)
    if system == "metric":
        return size
    drill = nearest_drill(diameter_m, drill_list("number"))
    if abs(drill.diameter_m / diameter_m - 1.0) < SAME_DRILL:
        return f"{size} ({drill.name})"
    return f"{size} (nearest drill {drill.name}, {drawing_size(drill.diameter_m, '.2f', '.4f', system)})"


def _binds(design: PortDesign) -> str:
    return f"{design.binding_limit} on {design.binding_gas}" if design.binding_gas else design.binding_limit


def _pitch_note(region: PortRegion) -> str:
    """That the pitch of the present ports is not among what holds, where it is not given."""
    is_open = region.space.row_length_m is not None and region.template.port_pitch_m is None
    return " The pitch of its ports is not given: it is not looked at." if is_open else ""


def _present(design: PortDesign) -> str:
    if design.holds:
        return f"The present burner holds at all corners; nearest to its edge: {_binds(design)}."
    if design.slack is None:
        return f"The present burner is not evaluated: {_binds(design)} is not known."
    when = "nominal" if design.slack < 0.0 else "at all corners of its tolerance"
    return f"The present burner does not hold {when}: {_binds(design)}."
