"""Pressure, air and flame, tile and the stability diagram: shown in every format, and no more than was evaluated."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from burning_stand_in import Bell

from burnerlab.appliance import Conversion, convert, demonstration
from burnerlab.appliance.conversion import both_gases as room
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.evaluation_result import Which
from burnerlab.burner.evaluation import BurningLookup
from burnerlab.report import Sheet, build_sheet, write_sheet
from burnerlab.report.figures import sheet_figures
from burnerlab.report.figures.stability_diagram import panels
from burnerlab.report.figures.style import RC
from burnerlab.report.formats import csv_text, json_text
from burnerlab.report.sheet.blocks import Cell, Points, Table
from burnerlab.report.sheet.evaluation import margin
from burnerlab.report.terminal import terminal_text
from burnerlab.report.xlsx import HEAD_ROW, xlsx_bytes

ORDER = ["burners", "first", "open", "flames", "pressures", "tolerance", "tile", "layout"]
ORDER += [
    "cold_start",
    "supply_notes",
    "heat_map",
    "carry_over",
    "skins",
    "prompts",
    "inputs",
    "air",
    "figures",
]
ORDER += ["not_evaluated", "checks", "worked", "job", "basis", "cautions", "sources", "terms", "version"]


@cache
def made(flame: bool) -> Conversion:
    """The demonstration on propane, with a burning velocity or without; what the shipped tables hold plays no part."""
    with pytest.MonkeyPatch.context() as patch:
        known = BurningLookup(
            burning=Bell() if flame else None, why_not="" if flame else "no burning velocity is known"
        )
        patch.setattr(room, "burning_of", lambda gas: known)
        return evaluate_conversion(convert(demonstration(), "propane", 2740.0))


@pytest.fixture(params=[True, False], ids=["with flame", "without flame"])
def case(request: pytest.FixtureRequest) -> Conversion:
    return made(request.param)


@cache
def sheet_of(flame: bool) -> Sheet:
    return build_sheet(made(flame))


def sheet(c: Conversion) -> Sheet:
    return sheet_of(c is made(True))


def table(c: Conversion, key: str, caption: str) -> Table:
    blocks = sheet(c).section(key).blocks
    return next(block for block in blocks if isinstance(block, Table) and block.caption.startswith(caption))


def column(found: Table, head: str) -> list[Cell]:
    place = [one.title for one in found.columns].index(head)
    return [row[place] for row in found.rows]


def test_the_new_sections_stand_after_the_air(case: Conversion) -> None:
    assert [section.key for section in sheet(case).sections] == ORDER


def test_every_pressure_is_on_the_sheet(case: Conversion) -> None:
    shown = table(case, "pressures", "Pressure before")
    assert case.evaluation is not None
    for which in ("present", "new"):
        (one,) = [found for found in case.evaluation.pressures if found.which_gas == which]
        for head, values in (
            ("all on", [at.gauge_pressure_all_on_Pa for at in one.burners]),
            ("alone", [at.gauge_pressure_alone_Pa for at in one.burners]),
        ):
            cells = column(shown, f"{which.capitalize()} gas, {head}")
            assert [cell.text for cell in cells] == [f"{(value or 0) / 100:.1f} mbar" for value in values]


def test_margins_carry_their_band_or_say_that_they_were_not_evaluated(case: Conversion) -> None:
    shown = table(case, "flames", "Margins")
    lift = column(shown, "Lift margin, cold")
    known = case is made(True)
    assert all((cell.text != "not evaluated") == known for cell in lift)
    assert all(" to " in cell.also for cell in column(shown, "Yellow-tip margin, 15 min"))
    assert {cell.text for cell in column(shown, "Gas")} == {"present", "new"}
    lead = sheet(case).section("flames").lead
    assert "recalled or estimated" in lead
    assert "test required" in lead


def test_a_large_margin_is_not_printed_as_a_figure() -> None:
    from burnerlab.burner.tile_evaluation import Band

    assert margin(None).text == "not evaluated"
    assert margin(Band(value=600.0, low=90.0, high=900.0)) == Cell(text="over 20")
    assert margin(Band(value=16.0, low=1.9, high=96.0)).also == "1.9 to over 20"


def test_equal_burners_share_a_row(case: Conversion) -> None:
    names = [row[0].text for row in table(case, "flames", "Primary air").rows]
    assert names[0] == "griddle tube left, griddle tube right"
    assert len(names) == len(case.burners) - 1


def test_the_same_reason_is_given_once(case: Conversion) -> None:
    shown = table(case, "not_evaluated", "Open")
    reasons = [(row[1].text, row[2].text) for row in shown.rows]
    assert len(reasons) == len(set(reasons))
    lift = [row for row in shown.rows if "lift" in row[0].text.split(", ")]
    assert bool(lift) == (case is made(False))
    if lift:
        assert lift[0][1].text == "all but tile broiler"
        assert "light-back" in lift[0][0].text


def test_the_rough_air_is_not_beside_the_calculated(case: Conversion) -> None:
    heads = [one.title for one in sheet(case).section("air").blocks[0].columns]  # type: ignore[union-attr]
    assert not [head for head in heads if "shutter untouched" in head]
    assert "assumed" not in sheet(case).section("air").lead
    words = [
        item
        for block in sheet(case).section("cold_start").blocks
        if isinstance(block, Points)
        for item in block.items
    ]
    assert any("not applicable, the orifice changes" in item for item in words)


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_the_summary_keeps_its_width_and_tells_a_line_for_each_burner(case: Conversion, width: int) -> None:
    lines = terminal_text(case, width=width).splitlines()
    assert max(len(line) for line in lines) <= width
    if width == 120:
        for burner in case.burners:
            (line,) = [x for x in lines if x.startswith(burner.name) and "→" in x]
            assert ("tile face" in line) == (burner.kind == "tile")
    if width == 80:
        assert len([line for line in lines if line]) <= 40


def test_json_keys_carry_units_and_no_nan(case: Conversion) -> None:
    result = json.loads(json_text(case), parse_constant=lambda word: pytest.fail(word))
    assert case.evaluation is not None
    ring = next(one for one in result["flames"] if one["burner"] == "stock-pot ring")
    full = ring["rates"][0]
    known = case.evaluation.flames_of("stock-pot ring")
    assert known is not None
    assert full["primary_aeration_percent"] == pytest.approx(100 * known.rates[0].primary_aeration.value)  # type: ignore[union-attr]
    assert (full["lift_margin"] is None) == (case is made(False))
    assert ring["evidence"] == "estimate"
    (present, new) = result["tiles"]
    assert new["face_temperature_C"] == pytest.approx(
        case.evaluation.tiles[1].face_temperature_K.value - 273.15
    )
    assert present["which_gas"] == "present"
    at = result["pressures"][1]["burners"][0]
    assert at["gauge_pressure_all_on_mbar"] == pytest.approx(
        case.evaluation.pressures[1].burners[0].gauge_pressure_all_on_Pa / 100
    )
    assert result["exchange"]["readings"] == []
    assert {f["which_gas"] for f in result["findings"]} == {None, "present", "new"}


def test_the_workbook_has_a_page_for_each_and_numbers_in_it(case: Conversion) -> None:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(xlsx_bytes(case, sheet(case))), data_only=True)
    first = book.sheetnames.index("Air")
    assert book.sheetnames[first : first + 5] == ["Air", "Pressure", "Flame", "Warm-up", "Shutter"]
    flame = book["Flame"]
    heads = [cell.value for cell in flame[HEAD_ROW + 1]]
    first = [cell.value for cell in flame[HEAD_ROW + 2]]
    assert case.evaluation is not None
    known = case.evaluation.flames[0].rates[0]
    assert first[heads.index("Port loading, gross [W/mm2]")] == pytest.approx(known.port_loading_W_per_mm2)
    assert flame.max_row == HEAD_ROW + 1 + sum(len(one.rates) for one in case.evaluation.flames)
    lift = first[heads.index("Lift margin [-]")]
    assert lift == ("not evaluated" if known.lift_margin is None else pytest.approx(known.lift_margin.value))


def test_csv_tells_pressure_flame_and_tile_below_the_burners(case: Conversion) -> None:
    rows = list(csv.reader(io.StringIO(csv_text(case), newline="")))
    heads = {row[0]: place for place, row in enumerate(rows) if row}
    assert heads["Pressure at each burner"] < heads["Primary air and flame"] < heads["Tile"]
    start = heads["Tile"] + 1
    found = dict(zip(rows[start], rows[start + 1], strict=True))
    assert case.evaluation is not None
    assert float(found["face_temperature_C"]) == pytest.approx(
        case.evaluation.tiles[0].face_temperature_K.value - 273.15
    )


# the stability diagram


def test_a_panel_for_each_burner_but_the_tile() -> None:
    shown = panels(made(True))
    assert [names for names, _ in shown] == [
        ("griddle tube left", "griddle tube right"),
        ("griddle tube middle",),
        ("stock-pot ring",),
        ("rear burner",),
    ]
    assert panels(replace(made(True), evaluation=None)) == ()


def chart(c: Conversion, system: str = "metric") -> Any:
    import matplotlib as mpl

    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(RC)  # type: ignore[arg-type]
        figure = sheet_figures.stability_chart(c, system)  # type: ignore[arg-type]
        figure.canvas.draw()
    return figure


@cache
def figure_of(flame: bool, system: str = "metric") -> Any:
    """The diagram of each case, drawn once for the tests that only look at it."""
    return chart(made(flame), system)


@pytest.mark.parametrize("system", ["metric", "US"])
def test_no_word_of_the_diagram_lies_on_another_or_outside(case: Conversion, system: str) -> None:
    figure = figure_of(case is made(True), system)
    renderer = figure.canvas.get_renderer()
    width, height = figure.canvas.get_width_height()
    assert len(figure.axes) == 4
    for axes in figure.axes:
        boxes = [
            (text.get_text(), text.get_window_extent(renderer)) for text in axes.texts if text.get_text()
        ]
        for place, (word, box) in enumerate(boxes):
            assert -1 <= box.x0 < box.x1 <= width + 1, word
            assert -1 <= box.y0 < box.y1 <= height + 1, word
            for other, there in boxes[place + 1 :]:
                apart = box.x1 <= there.x0 or there.x1 <= box.x0 or box.y1 <= there.y0 or there.y1 <= box.y0
                assert apart, (word, other)


def test_the_longest_names_of_gases_stay_on_the_figure() -> None:
    long = [replace(gas, title="W" * 80) for gas in (made(True).from_gas, made(True).to_gas)]
    figure = chart(replace(made(True), from_gas=long[0], to_gas=long[1]))
    renderer, width = figure.canvas.get_renderer(), figure.canvas.get_width_height()[0]
    for legend in figure.legends:
        assert legend.get_window_extent(renderer).x1 <= width


def test_every_operating_point_is_drawn_in_sight() -> None:
    figure = figure_of(True)
    for axes, (_, diagram) in zip(figure.axes, panels(made(True)), strict=True):
        drawn = {
            (round(float(line.get_xdata()[0]), 6), round(float(line.get_ydata()[0]), 6))
            for line in axes.lines
            if len(line.get_xdata()) == 1
        }
        for point in diagram.points:
            assert (round(100 * point.aeration, 6), round(point.loading_W_per_mm2, 6)) in drawn
            assert axes.get_ylim()[0] < point.loading_W_per_mm2 < axes.get_ylim()[1]
        for hot in diagram.hot_points:
            assert (round(100 * hot.aeration, 6), round(hot.loading_W_per_mm2, 6)) in drawn


def test_the_hot_points_are_those_of_the_warm_up_and_the_legend_names_them() -> None:
    """At the port loading of the same rate cold, with the air 15 min after a cold start."""
    evaluation = made(True).evaluation
    assert evaluation is not None
    for diagram in evaluation.diagrams:
        flames = evaluation.flames_of(diagram.burner)
        assert flames is not None
        cold = {(point.gas, point.label): point for point in diagram.points}
        for point in diagram.hot_points:
            label = point.label.removesuffix(", hot")
            which: Which = "new" if point.gas == "new gas" else "present"
            warm = flames.warm_up(which)
            assert warm is not None
            air = warm.hot_primary_aeration if label == "full rate" else warm.hot_lowest_rate_primary_aeration
            assert air is not None
            assert (point.aeration, point.aeration_low, point.aeration_high) == (air.value, air.low, air.high)
            assert point.loading_W_per_mm2 == cold[point.gas, label].loading_W_per_mm2
            assert point.aeration < cold[point.gas, label].aeration
        if diagram.burner != "tile broiler":
            assert {point.label for point in diagram.hot_points} == {"full rate, hot", "turndown, hot"}
    keys = [text.get_text() for legend in figure_of(True).legends for text in legend.get_texts()]
    assert any(key.startswith("hot, after 15 min") for key in keys)


def test_provisional_limits_are_broken_lines_and_called_an_estimate() -> None:
    figure = figure_of(True)
    keys = [text.get_text() for legend in figure.legends for text in legend.get_texts()]
    assert "provisional limit, an estimate" in keys
    for axes in figure.axes:
        broken = [line for line in axes.lines if line.is_dashed() and len(line.get_xdata()) > 2]
        whole = [line for line in axes.lines if not line.is_dashed() and len(line.get_xdata()) > 2]
        assert len(broken) == 2  # lift of each gas
        assert len(whole) == 2  # light-back of each gas


def test_a_limit_is_named_on_the_side_away_from_that_of_the_other_gas() -> None:
    """The upper of two lift limits above it, the lower one below: in grey the name alone tells which is which."""
    for axes, (_, diagram) in zip(figure_of(True).axes, panels(made(True)), strict=True):
        lift = {
            gas: [c for c in diagram.curves if c.gas == gas and c.limit == "lift"][-1]
            for gas in diagram.gases
        }
        at = {gas: float(np.interp(0.9, c.aeration, c.loading_W_per_mm2)) for gas, c in lift.items()}
        upper, lower = sorted(at, key=lambda gas: -at[gas])
        assert at[upper] > at[lower]
        heights = {
            gas: [
                text.get_position()
                for text in axes.texts
                if text.get_text() == gas.removesuffix(" gas") and 45 < text.get_position()[0] < 112
            ]
            for gas in (upper, lower)
        }
        # the names of the lift lines: the highest of each gas in this part of the panel
        tops = {gas: max(places, key=lambda place: place[1]) for gas, places in heights.items()}
        above = float(np.interp(tops[upper][0] / 100, lift[upper].aeration, lift[upper].loading_W_per_mm2))
        below = float(np.interp(tops[lower][0] / 100, lift[lower].aeration, lift[lower].loading_W_per_mm2))
        assert tops[upper][1] > above
        assert tops[lower][1] < below


def test_the_arrow_is_long_enough_to_show_its_direction() -> None:
    for axes in figure_of(True).axes:
        (arrow,) = [text for text in axes.texts if getattr(text, "arrow_patch", None) is not None]
        ends = axes.transData.transform([arrow.xyann, arrow.xy])
        assert np.hypot(*(ends[1] - ends[0])) * 72 / axes.figure.dpi >= 13.9


def test_without_a_burning_velocity_the_diagram_says_so() -> None:
    for axes in figure_of(False).axes:
        words = {text.get_text() for text in axes.texts}
        assert "lift and light-back: not evaluated" in words
        assert "flame lifts" not in words
    (picture,) = [one for one in sheet(made(False)).pictures() if one.key == "stability"]
    assert "Not shown: lift on present gas" in picture.caption


def test_the_sheet_is_the_same_twice(case: Conversion, tmp_path: Path) -> None:
    """Each format with its figures where there is a flame; without one the page, which says what is missing.

    PDF of the same texts and figures are compared in tests/report/test_sheet_pages.py, across processes.
    """
    with_flame = case is made(True)
    first = write_sheet(case, tmp_path / "a", ("html", "xlsx", "csv", "json") if with_flame else ("html",))
    if with_flame:
        assert len(first.files) == 4
        second = write_sheet(case, tmp_path / "b", ("html", "xlsx", "csv", "json"))
        for one, other in zip(first.files, second.files, strict=True):
            assert one.read_bytes() == other.read_bytes(), one.suffix
    page = next(path for path in first.files if path.suffix == ".html").read_text(encoding="utf-8")
    assert 'id="figure-stability"' in page
    for word in (
        "Pressure at each burner",
        "Air, flame and shutter",
        ">Tolerance<",
        ">Tile<",
        "tile broiler",
    ):
        assert word in page
    assert not re.search(r"\bnan\b", page)
