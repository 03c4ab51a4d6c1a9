"""The picture of a search for an even map: every design where it belongs, told apart without colour."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from burnerlab.appliance import demonstration
from burnerlab.layout.cooking_surface import grid_over
from burnerlab.layout.heat_map import evenness, pieces
from burnerlab.layout.layout_study import layout_of
from burnerlab.layout.search import Design, TradeOff, letter, movers_of, with_tubes
from burnerlab.report.figures.trade_off import trade_off_figure
from burnerlab.report.layout_page import designs_csv, trade_off_html


def design(tubes: int, share: float, **how: Any) -> Design:
    """A layout of the demonstration with so many tubes, judged by its own map."""
    layout = with_tubes(layout_of(demonstration()), tubes)
    flux = share * pieces(layout, grid_over(layout.surface, 12, 8))[0].flux(layout).sum(axis=0)
    given: dict[str, Any] = {"holds": True, "binding": (), "evaluations": 1}
    return Design(
        tubes=tubes, heat_input_net_W=share * layout.heat_input_W, layout=layout, evenness=evenness(flux),
        **(given | how),
    )  # fmt: skip


@pytest.fixture(scope="module")
def found() -> TradeOff:
    """Two numbers of tubes, each once on the front, once beaten, once not held."""
    every = [
        design(tubes, share, is_on_front=best, holds=holds)
        for tubes in (2, 5)
        for share, best, holds in ((0.8, False, False), (0.9, True, True), (1.0, False, True))
    ]
    return TradeOff(present=design(3, 1.0), designs=tuple(every), seed=1, evaluations=6, notes=("a search",))


def markers(axes: Any) -> list[tuple[tuple[float, float], int, tuple[float, ...]]]:
    """Place, corners of the shape and lightness of every marker."""
    drawn = []
    for one in axes.collections:
        ((x, y),) = one.get_offsets()
        face = tuple(one.get_facecolor()[0][:3]) if len(one.get_facecolor()) else ()
        drawn.append(((float(x), float(y)), len(one.get_paths()[0].vertices), face))
    return drawn


def test_every_design_stands_at_its_input_and_its_variation(found: TradeOff) -> None:
    axes = trade_off_figure(found).axes[0]
    places = [place for place, _, _ in markers(axes)]
    for one in (found.present, *found.designs):
        spot = (one.heat_input_net_W / 1e3, 100 * one.evenness.coefficient_of_variation)
        assert any(place == pytest.approx(spot) for place in places)
        assert axes.get_xlim()[0] < spot[0] < axes.get_xlim()[1]
        assert axes.get_ylim()[0] == 0.0 < spot[1] < axes.get_ylim()[1]
    words = {text.get_text() for text in axes.texts}
    assert words == {*(letter(k) for k in range(6)), "present, 3 tubes"}


def test_number_of_tubes_and_state_are_told_without_colour(found: TradeOff) -> None:
    """Shape by the number of tubes; face dark or light, and a cross, by the state."""
    drawn = markers(trade_off_figure(found).axes[0])
    looks = set()
    for one in found.designs:
        spot = (one.heat_input_net_W / 1e3, 100 * one.evenness.coefficient_of_variation)
        here = [(shape, sum(face)) for place, shape, face in drawn if place == pytest.approx(spot)]
        shape, lightness = here[0]
        looks.add((one.tubes, shape, lightness > 1.5, len(here) > 1))
        assert (lightness < 0.6) == one.is_on_front
        assert (len(here) > 1) == (not one.holds)
    assert len(looks) == len(found.designs)
    assert len({shape for _, shape, _, _ in looks}) == 2


def test_no_word_lies_on_another_or_outside(found: TradeOff) -> None:
    crowd = tuple(replace(one, is_on_front=True) for one in found.designs) + tuple(
        design(n, 1.0, is_on_front=True) for n in (1, 4, 8, 12)
    )
    figure = trade_off_figure(replace(found, designs=crowd))
    figure.canvas.draw()
    renderer, (width, height) = figure.canvas.get_renderer(), figure.canvas.get_width_height()
    assert len(figure.axes) == 1 + 1 + len(crowd)
    for axes in figure.axes:
        boxes = [text.get_window_extent(renderer) for text in axes.texts] if axes is figure.axes[0] else []
        boxes += [axes.title.get_window_extent(renderer)] if axes.get_title(loc="left") else []
        for place, box in enumerate(boxes):
            assert not any(box.overlaps(other) for other in boxes[place + 1 :])
        tight = axes.get_tightbbox(renderer)
        assert -1 <= tight.x0 < tight.x1 <= width + 1
        assert -1 <= tight.y0 < tight.y1 <= height + 1


def test_a_plan_for_the_present_and_each_design_on_the_front(found: TradeOff) -> None:
    _, *plans = trade_off_figure(found).axes
    heads = [axes.get_title(loc="left").partition(":")[0] for axes in plans]
    assert heads == ["present", "B", "E"]
    for axes, one in zip(plans, (found.present, *found.front), strict=True):
        tubes = [one.layout.burners[i] for i in movers_of(one.layout)]
        assert [tick.get_text() for tick in axes.get_xticklabels()] == [
            f"{1e3 * tube.x_m:.0f}" for tube in tubes
        ]
        assert [text.get_text() for text in axes.texts] == [
            f"{tube.heat_input_W / 1e3:.2f}" for tube in tubes
        ]


def test_a_search_in_which_nothing_holds_is_drawn_and_said(found: TradeOff) -> None:
    none = replace(found, designs=found.designs[:1])
    assert len(trade_off_figure(none).axes) == 2
    page = trade_off_html(demonstration(), none, none.notes, {})
    assert "no design holds" in page
    assert "Not drawn" in page


def test_the_page_names_every_design_and_keeps_the_cautions(found: TradeOff) -> None:
    page = trade_off_html(demonstration(), found, found.notes, {})
    for k, one in enumerate(found.designs):
        assert f'<th scope="row">{letter(k)}</th>' in page
        assert (f"{letter(k)}: " in page) == one.is_on_front
    for words in ("estimate", "does not hold", "carbon monoxide", "must be tested"):
        assert words in page


def test_page_and_figure_are_in_the_units_of_the_reader(found: TradeOff) -> None:
    page = trade_off_html(demonstration(), found, found.notes, {}, system="US")
    seen = re.sub(r"(?s)<style>.*?</style>", "", page).partition('id="cautions"')[0]
    assert not re.search(r"kW|\bmm\b", seen)
    assert all(head in seen for head in ("Btu/h gross", "Mean, Btu/h/in²", "x, in", "Length, in"))
    mean = found.present.evenness.mean * 3.412142 * 0.00064516  # Btu/h in a W, m2 in a square inch
    assert f">{mean:.1f}<" in seen
    chart, first, *_ = trade_off_figure(found, "US").axes
    assert chart.get_xlabel() == "heat input of all burners, net, kBtu/h"
    assert first.get_ylabel() == "kBtu/h on each tube, x in inches"
    places = [place for (place, _), _, _ in markers(chart)]
    assert any(place == pytest.approx(found.present.heat_input_net_W * 3.412142e-3) for place in places)


def test_the_table_of_designs_has_a_row_for_each_tube_and_no_formula(found: TradeOff) -> None:
    first = found.present.layout
    named = replace(first, burners=tuple(replace(burner, name="=1+1") for burner in first.burners))
    text = designs_csv(replace(found, present=replace(found.present, layout=named)))
    lines = text.splitlines()
    assert len(lines) == 1 + 3 + 3 * (2 + 5)
    assert ",=1+1" not in text
    assert ",'=1+1" in text
