"""Figure of the burners that hold every limit: ports by diameter and count, throat by open air inlet."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from burnerlab.burner.port_region import PortDesign, PortRegion, PortVariants
from burnerlab.quantity import Kind, System, from_unit
from burnerlab.quantity.show import number
from burnerlab.report.figures.heat_map import png
from burnerlab.report.figures.plan import styled
from burnerlab.report.figures.style import FAINT, GREY, INK, NEW, Placer, WIDTH_in, new_figure, svg_of
from burnerlab.report.layout_page import targets_in, write_study
from burnerlab.report.write import GET_IT, SheetFiles

HEIGHT_in, LEFT_in, BOTTOM_in, TOP_in, GAP_in, BAR_in = 3.9, 0.55, 0.9, 0.55, 0.62, 0.62
SHADES = ("#a6d5b8", "#4bb3b0", "#2a7fa8", "#274f8d", "#191f55")  # lighter to darker: grey tells it too
NEAREST_MISSES = 400  # shown where none holds
MARGIN = 0.08
TITLE = "Burners that hold every limit on every gas"
ENDINGS = {"region": ".svg", "region-png": ".png", "variants": ".csv"}
LETTERS = "ABCDEFGH"
VARIANT_COLUMNS = (
    "port_diameter_mm",
    "port_count",
    "throat_diameter_mm",
    "inlet_area_mm2",
    "corner_slack_percent",
)


def port_region_figure(region: PortRegion, title: str = "", system: System = "metric") -> Any:
    """Two pictures of the region: shade is the least slack at all corners, grey holds as drawn only."""
    length = "mm" if system == "metric" else "in"
    one = float(from_unit(1.0, Kind.LENGTH, length))
    with styled():
        figure = new_figure(HEIGHT_in)
        wide = (WIDTH_in - LEFT_in - GAP_in - BAR_in - 0.15) / 2
        high = HEIGHT_in - BOTTOM_in - TOP_in
        for place, (names, figures) in enumerate(
            (
                ((f"port diameter, {length}", "ports"), partial(_ports, one)),
                (
                    (f"throat diameter, {length}", f"open air inlet, {length}²"),
                    partial(_throat_and_inlet, one),
                ),
            )
        ):
            left = (LEFT_in + place * (wide + GAP_in)) / WIDTH_in
            axes = figure.add_axes((left, BOTTOM_in / HEIGHT_in, wide / WIDTH_in, high / HEIGHT_in))
            shaded = _panel(axes, region, figures)
            axes.set_xlabel(names[0])
            axes.set_title(names[1], fontsize=8, loc="left", color=INK)
        if shaded is not None:
            bar = figure.add_axes(
                (1 - BAR_in / WIDTH_in, BOTTOM_in / HEIGHT_in, 0.1 / WIDTH_in, high / HEIGHT_in)
            )
            figure.colorbar(shaded, cax=bar)
            bar.set_title("slack, %", fontsize=7, loc="left")
        figure.text(
            LEFT_in / WIDTH_in, 1 - 0.08 / HEIGHT_in, title or TITLE, fontsize=9, weight="bold", va="top"
        )
        figure.text(LEFT_in / WIDTH_in, 0.42 / HEIGHT_in, _foot(region), fontsize=7, va="top", color=GREY)
        return figure


def _foot(region: PortRegion) -> str:
    drawn, corners = 100 * region.nominal_fraction, 100 * region.corners_fraction
    first = f"{number(drawn, 2)} % of {region.count} variants hold at nominal sizes, {number(corners, 2)} % at all "
    first += "corners of the tolerance.\n"
    if not region.designs:
        return (
            f"{first}None is left: grey is what misses least. A calculation, recalled limits: test the flame."
        )
    return (
        f"{first}Shade: least slack of those; grey: at nominal sizes only. "
        "Dots lie over one another: each has a place in both pictures.\n"
        "A calculation, recalled limits: test the flame."
    )


def _ports(unit_m: float, thing: PortVariants | PortDesign) -> tuple[Any, Any]:
    if isinstance(thing, PortDesign):
        return thing.port_diameter_m / unit_m, thing.port_count
    return thing.port_m / unit_m, thing.count


def _throat_and_inlet(unit_m: float, thing: PortVariants | PortDesign) -> tuple[Any, Any]:
    if isinstance(thing, PortDesign):
        return thing.throat_diameter_m / unit_m, thing.inlet_area_m2 / unit_m**2
    return thing.throat_m / unit_m, thing.inlet_m2 / unit_m**2


def _panel(axes: Any, region: PortRegion, figures: Any) -> Any:
    """Returns what is shaded, for its key; None where nothing holds."""
    from matplotlib.colors import LinearSegmentedColormap

    holds = region.holds
    grey = (region.slack >= 0.0) & ~holds
    if not (holds | grey).any():
        grey[np.argsort(region.slack)[::-1][:NEAREST_MISSES]] = True
    axes.scatter(*figures(region.variants.part(grey)), s=5, color=FAINT, linewidths=0, zorder=2)
    shaded = None
    if holds.any():
        order = np.flatnonzero(holds)[np.argsort(region.corner_slack[holds])]
        slack = 100 * region.corner_slack[order]
        shades = LinearSegmentedColormap.from_list("slack", SHADES)
        shaded = axes.scatter(*figures(region.variants.part(order)), c=slack, s=9, cmap=shades, vmin=0.0,
                              vmax=slack.max(), linewidths=0, zorder=3)  # fmt: skip
    marked: list[PortDesign] = [
        one for one in (*region.designs, region.nearest_miss, region.present) if one is not None
    ]
    _limits(axes, [figures(region.variants.part(holds | grey)), *map(figures, marked)])
    placer = Placer(axes, axes.figure.canvas.get_renderer())
    for one in marked:
        x, y = figures(one)
        placer.block(x, y, 6)
    for k, one in enumerate(region.designs):
        x, y = figures(one)
        axes.scatter(x, y, s=26, facecolors="none", edgecolors=INK, linewidths=0.9, zorder=4)
        placer.place(x, y, LETTERS[k], 1, fontsize=8, weight="bold")
    if region.nearest_miss is not None:
        x, y = figures(region.nearest_miss)
        axes.scatter(x, y, s=30, marker="x", color=INK, linewidths=1.1, zorder=4)
        placer.place(x, y, "nearest miss", 1, fontsize=7)
    if region.present is not None:
        x, y = figures(region.present)
        axes.scatter(
            x,
            y,
            s=80,
            marker="*",
            facecolors="white",
            edgecolors=NEW,
            linewidths=1.2,
            zorder=5,
        )
        placer.place(x, y, "present burner", -1, fontsize=7, color=NEW)
    axes.grid(color="#e4e2dc", linewidth=0.5)
    return shaded


def _limits(axes: Any, points: list[tuple[Any, Any]]) -> None:
    ends = []
    for k in (0, 1):
        values = np.concatenate([np.atleast_1d(np.asarray(one[k], dtype=float)) for one in points])
        low, high = (float(values.min()), float(values.max())) if values.size else (0.0, 1.0)
        room = MARGIN * (high - low or abs(high) or 1.0)
        ends.append((low - room, high + room))
    axes.set(xlim=ends[0], ylim=ends[1])


def port_region_targets(words: str, folder: Path | str, overwrite: bool) -> dict[str, Path]:
    """Where the figure goes, as SVG and as PNG, and the variants that hold. Raises UserError for a file that exists."""
    return targets_in(folder, f"{words[:60]} ports", ENDINGS, overwrite)


def write_port_region(
    region: PortRegion, title: str, targets: Mapping[str, Path], overwrite: bool = False
) -> SheetFiles:
    """Write the figure of a region, and a table of the variants that hold at all corners."""
    drawn: dict[str, str | bytes] = {"variants": variants_csv(region)}
    missing = []
    try:
        figure = port_region_figure(region, title)
        drawn |= {
            "region": svg_of(figure, "port-region", title or TITLE, _foot(region)),
            "region-png": png(figure),
        }
    except ImportError as error:
        missing.append(f"The picture was not drawn: {error.name or 'matplotlib'} is not installed; {GET_IT}")
    return write_study(targets, drawn, missing, overwrite)


def variants_csv(region: PortRegion) -> str:
    """Every variant that holds at all corners, the one with most slack first."""
    some = region.variants
    order = np.flatnonzero(region.holds)[np.argsort(-region.corner_slack[region.holds])]
    columns = (
        1e3 * some.port_m,
        some.count,
        1e3 * some.throat_m,
        1e6 * some.inlet_m2,
        100 * region.corner_slack,
    )
    lines = [",".join(f"{column[k]:.6g}" for column in columns) for k in order]
    return "\n".join([",".join(VARIANT_COLUMNS), *lines]) + "\n"
