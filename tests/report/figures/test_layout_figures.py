"""Pictures of a layout: a key for what is drawn and for nothing else, words that do not lie on each other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from burnerlab.appliance import demonstration
from burnerlab.layout.comparison import LayoutComparison, compare_layouts
from burnerlab.layout.cooking_surface import Cover, Layout, grid_over
from burnerlab.layout.enclosure import lid_acts
from burnerlab.layout.heat_map import heat_map
from burnerlab.layout.layout_study import LayoutStudy, layout_of, study_of
from burnerlab.layout.search import with_tubes
from burnerlab.report.figures.heat_map import comparison_figure, heat_map_figure
from burnerlab.report.figures.plan import plan_figure
from burnerlab.report.sheet.blocks import digits


def griddle(tubes: int = 3, *, shields: bool = False) -> Layout:
    made = with_tubes(layout_of(demonstration(), "griddle"), tubes)
    covers = tuple(
        Cover(
            name=f"shield of {b.name}", x_m=b.x_m, y_m=b.y_m, z_m=b.z_m + 0.05, length_m=0.42, width_m=0.03,
            angle_rad=b.angle_rad, emissivity=0.8,
        )
        for b in made.burners
        if b.form == "line" and b.z_m < made.surface.z_m
    )  # fmt: skip
    return replace(made, covers=covers) if shields else made


def study(layout: Layout) -> LayoutStudy:
    return study_of(layout, demonstration().supply.gas, grid_over(layout.surface, 24, 16))


def words_of(axes: Any) -> list[Any]:
    return [text for text in axes.texts if text.get_text()]


def keys(figure: Any) -> set[str]:
    return {text.get_text() for legend in figure.legends for text in legend.get_texts()}


def collisions(texts: list[Any], renderer: Any) -> list[tuple[str, str]]:
    boxes = [(text.get_text(), text.get_window_extent(renderer)) for text in texts]
    return [
        (word, other)
        for place, (word, box) in enumerate(boxes)
        for other, beside in boxes[place + 1 :]
        if box.overlaps(beside)
    ]


@pytest.mark.parametrize("tubes", [1, 3, 8, 16])
def test_no_word_of_a_map_or_plan_lies_on_another(tubes: int) -> None:
    layout = griddle(tubes, shields=tubes <= 8)
    for figure in (heat_map_figure([study(layout)]), plan_figure(layout)):
        figure.canvas.draw()
        renderer = figure.canvas.get_renderer()
        for axes in figure.axes:
            assert collisions(words_of(axes), renderer) == []
        size = figure.bbox
        outside = [
            text.get_text()
            for text in [*figure.texts, *(t for legend in figure.legends for t in legend.get_texts())]
            if not (
                0 <= text.get_window_extent(renderer).x0 and text.get_window_extent(renderer).x1 <= size.x1
            )
        ]
        assert outside == []


def test_the_scale_of_a_map_spans_it_and_the_marks_are_its_extremes() -> None:
    found = study(griddle())
    axes, bar = heat_map_figure([found]).axes
    low, high = bar.get_ylim()
    flux = found.map.flux_W_per_m2 / 1e3
    assert low <= flux.min() <= flux.max() <= high
    assert bar.get_ylabel() == "heat taken up, kW/m²"
    words = {text.get_text() for text in axes.texts}
    assert {f"most {flux.max():.1f}", f"least {flux.min():.2f}"} <= words


def test_a_map_for_a_reader_in_US_units_has_no_metric_figure() -> None:
    """Btu/h per square inch by NIST SP 811, appendix B.8: Btu 1055.056 J, inch 25.4 mm; whole inches along the axes."""
    found = study(griddle())
    axes, bar = heat_map_figure([found], "US").axes
    flux = found.map.flux_W_per_m2 / (1055.05585262 / 3600.0 / 0.0254**2)
    assert bar.get_ylabel() == "heat taken up, Btu/h/in²"
    words = {text.get_text() for text in axes.texts}
    assert {f"most {digits(flux.max(), 3)}", f"least {digits(flux.min(), 3)}"} <= words
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("x, in", "y, in, front below")
    assert "kW" not in axes.get_title(loc="left")
    axes.figure.canvas.draw()
    ticks = [
        float(each.get_text().replace("\N{MINUS SIGN}", "-"))
        for each in axes.get_xticklabels()
        if each.get_text()
    ]
    assert ticks == pytest.approx([round(one) for one in ticks])
    places = [x / 25.4 for x in axes.get_xticks()]
    assert places == pytest.approx(ticks)


def test_shades_grow_darker_with_heat_so_that_grey_tells_them_apart() -> None:
    from burnerlab.report.figures.heat_map import HEAT

    light = [
        sum(w * int(c[i : i + 2], 16) for w, i in ((0.2126, 1), (0.7152, 3), (0.0722, 5))) for c in HEAT
    ]  # ITU-R BT.709 luma weights, memory
    assert np.all(np.diff(light) < -15)


def test_a_key_names_what_is_drawn_and_nothing_else() -> None:
    bare, covered = griddle(), griddle(shields=True)
    assert "shield" not in keys(heat_map_figure([study(bare)]))
    assert "shield" in keys(heat_map_figure([study(covered)]))
    assert "shield, 140 mm high" in keys(plan_figure(covered))
    assert not any("shield" in key for key in keys(plan_figure(bare)))
    assert "radiant face" in keys(plan_figure(bare))
    alone = replace(bare, burners=tuple(b for b in bare.burners if b.form == "line" and not b.stands))
    assert "radiant face" not in keys(plan_figure(alone))


def test_a_plan_is_in_inches_for_a_reader_of_US_units() -> None:
    figure = plan_figure(griddle(shields=True), "US")
    assert "shield, 5.51 in high" in keys(figure)  # 140 mm
    section, plan = figure.axes
    assert (plan.get_ylabel(), section.get_xlabel(), section.get_ylabel()) == (
        "y, in, front below",
        "x, in",
        "height, in",
    )
    for axis in (plan.xaxis, plan.yaxis, section.xaxis, section.yaxis):
        inches = [place / 25.4 for place in axis.get_ticklocs()]
        assert inches == pytest.approx([round(one) for one in inches])


def test_a_closed_lid_is_drawn_where_the_map_knows_of_it() -> None:
    """The map is the same with and without a lid exactly where the plan leaves it out."""
    for layout in (griddle(), replace(griddle(), burners=griddle().burners[:3])):
        assert layout.room is not None
        assert layout.room.lid_z_m is not None
        opened = replace(layout, room=replace(layout.room, lid_z_m=None))
        grid = grid_over(layout.surface, 8, 6)
        changes = np.ptp(heat_map(layout, grid).flux_W_per_m2 - heat_map(opened, grid).flux_W_per_m2) > 1e-9
        assert lid_acts(layout) == changes
        figure = plan_figure(layout)
        top = max(float(np.max(line.get_ydata())) for line in figure.axes[0].lines)
        assert (top == pytest.approx(1e3 * layout.room.lid_z_m)) == changes
        assert ("box with closed lid" in keys(figure)) == changes


@pytest.fixture(scope="module")
def comparison() -> LayoutComparison:
    return compare_layouts(study(griddle()), study(griddle(shields=True)))


def test_two_layouts_have_one_scale_and_the_change_its_own_with_zero_named(
    comparison: LayoutComparison,
) -> None:
    figure = comparison_figure(comparison)
    first, second, bar, change, change_bar = figure.axes
    fills = [axes.collections[0] for axes in (first, second)]
    assert fills[0].norm.vmin == fills[1].norm.vmin
    assert fills[0].norm.vmax == fills[1].norm.vmax
    assert change_bar.get_ylim()[0] == pytest.approx(-change_bar.get_ylim()[1])
    assert "0, no change" in [tick.get_text() for tick in change_bar.get_yticklabels()]
    assert change.collections[0].norm.vmin == pytest.approx(-change.collections[0].norm.vmax)
    assert bar.get_ylabel() == "heat taken up, kW/m²"
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()
    assert collisions([*figure.texts, *change_bar.get_yticklabels()], renderer) == []
    assert collisions(words_of(change), renderer) == []


def test_the_band_of_a_change_is_that_of_the_same_corners(comparison: LayoutComparison) -> None:
    """Narrower than the two bands apart: the shares of heat are one unknown of both."""
    band = comparison.mean_band_W_per_m2
    assert band is not None
    assert band.low <= comparison.mean_change_W_per_m2 <= band.high
    one, other = comparison.first.band.mean_W_per_m2, comparison.second.band.mean_W_per_m2
    assert band.high - band.low < (one.high - one.low) + (other.high - other.low)
