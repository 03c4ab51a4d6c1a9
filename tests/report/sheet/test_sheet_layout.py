"""The sheet of an appliance whose file has the geometry: map, carry-over and skins on both gases."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.report.html import html_text
from burnerlab.report.sheet.blocks import Picture, Points, Table
from burnerlab.report.sheet.layout import MAP_KEY, figure, partly_answered, sections
from burnerlab.report.sheet.sections import build_sheet


@cache
def cart() -> Conversion:
    return evaluate_conversion(convert(demonstration(), "propane", 2740.0))


def test_the_sheet_gains_its_figures_on_a_page_and_three_sections_in_the_annex() -> None:
    sheet = build_sheet(cart())
    assert sheet.place("supply")[-1].key == "layout"
    annex = [section.key for section in sheet.place("annex")]
    assert annex[annex.index("heat_map") :][:3] == ["heat_map", "carry_over", "skins"]


def test_every_surface_is_told_on_both_gases() -> None:
    layout, heat_map = sections(cart(), "metric")[:2]
    table = next(block for block in layout.blocks if isinstance(block, Table))
    assert [(row[0].text, row[1].text) for row in table.rows[:2]] == [
        ("griddle", "natural-gas-typical"),
        ("griddle", "propane"),
    ]
    assert len(table.rows) == 6
    assert "sets a limit" in layout.lead
    assert any(isinstance(block, Picture) and block.key == MAP_KEY for block in heat_map.blocks)


def test_weak_links_and_bands_are_told() -> None:
    *_, carried, skins = sections(cart(), "metric")
    said = " ".join(item for block in carried.blocks if isinstance(block, Points) for item in block.items)
    assert "doubtful" in said
    assert "Test required" in said
    told = " ".join(item for block in skins.blocks if isinstance(block, Points) for item in block.items)
    assert "lid top" in told
    assert "band" in told
    assert "No clearance" in told


def test_open_questions_say_what_is_still_open() -> None:
    assert set(partly_answered(cart())) == {"heat distribution", "carry-over", "touch temperature"}
    html = html_text(build_sheet(cart()), {})
    assert "an estimate only, see carry-over" in html
    assert "needs the layout of burners and cooking surface" not in html


def test_without_geometry_nothing_is_added() -> None:
    bare = evaluate_conversion(convert(replace(demonstration(), space=None), "propane", 2740.0))
    assert sections(bare, "metric") == ()
    assert partly_answered(bare) == {}
    assert sections(convert(demonstration(), "propane", 2740.0), "metric") == ()


def test_the_map_is_drawn_on_both_gases() -> None:
    pytest.importorskip("matplotlib")
    drawn = figure(cart())
    maps = [axes for axes in drawn.axes if axes.get_xlabel() == "x, mm"]
    scale = [axes.get_ylabel() for axes in drawn.axes if axes not in maps]
    assert (len(maps), scale) == (2, ["heat taken up, kW/m²"])
