"""Results in a notebook: one short line, and a small table with the figures of the result and its cautions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from forbidden_words import claims

import burnerlab as bl
from burnerlab.appliance.operation.regulator_curves import regulator_curves
from burnerlab.bench import MeterReading, clock, heat_content
from burnerlab.tables.cautions import cautions

PROPANE, CART = bl.load("propane"), bl.demonstration()
SUPPLY = bl.Conditions(gauge_pressure_Pa="28 mbar")
JOB = bl.convert(CART, "propane", "11 in w.c.")
STATE = bl.ReferenceState.read("15C/15C")
DRAW = bl.Draw(
    gas=PROPANE, cylinder=bl.cylinder_named("20 lb"), fill=0.8, air_temperature_K="0 C", heat_input_W="15 kW"
)
RESULTS: list[tuple[Callable[[], Any], str]] = [
    (lambda: CART, "natural-gas-typical at 17.44 mbar, 6 burners"),
    (lambda: PROPANE, "propane 100 %"),
    (lambda: bl.load("natural-gas-typical"), "methane 94 %, ethane 3 %"),
    (lambda: bl.flow(PROPANE, "#54", SUPPLY), "7.135 kW gross through 1.397 mm at 28.00 mbar"),
    (lambda: bl.flow(PROPANE, "#54", SUPPLY, count=3), "3 holes of 1.397 mm"),
    (lambda: bl.flow(PROPANE, ["#54", "1 mm"], SUPPLY), "2 cases: 3.656 kW to 7.135 kW"),
    (lambda: bl.flow(PROPANE, [], SUPPLY), "0 cases"),
    (lambda: bl.size(PROPANE, "12 kBtu/h", "gross", SUPPLY), "0.9808 mm for 3.517 kW gross"),
    (lambda: JOB, "worst verdict not evaluated"),
    (lambda: bl.evaluate_conversion(JOB), "propane at 27.40 mbar, 6 kinds of burner, worst verdict near"),
    (lambda: bl.operate(CART), "6 of 6 kinds of burner on: 27.50 kW gross"),
    (lambda: regulator_curves(CART, settings_Pa=[1500.0]), "1 settings of its regulator"),
    (lambda: bl.tolerance(CART, draws=2000), "at the end of the line and"),
    (lambda: bl.injectors(CART, bl.category_supplies("I3+", ["GB"])), "12 rows"),
    (lambda: bl.study_layout(CART, "griddle", grid=(6, 4)), "an estimate"),
    (lambda: bl.heat_map(bl.layout_of(CART, "griddle")), "coefficient of variation"),
    (lambda: bl.layout_of(CART, "griddle"), "460.0 mm x 440.0 mm: 4 burners"),
    (lambda: bl.hold(DRAW), "20 lb holds 15.00 kW for"),
    (lambda: bl.load("trade-natural-1000"), "relative density"),
    (
        lambda: bl.properties(PROPANE, STATE),
        "95.664 MJ/m3 gross at 15 °C / 15 °C, 101.325 kPa, dry, gross Wobbe index 76.846",
    ),
    (lambda: bl.load("trade-natural-1000").properties(), "declared"),
    (lambda: bl.combustion_air(PROPANE), "stoichiometric air 23.87 mol/mol, ultimate CO2 13.72 %"),
    (
        lambda: clock(
            MeterReading(dial_m3=0.01, times_s=(60.0, 60.2)), heat_content(PROPANE, STATE), draws=0
        ),
        "gross by meter",
    ),
]


@pytest.mark.parametrize(("make", "words"), RESULTS, ids=[words[:16] for _, words in RESULTS])
def test_a_result_is_one_short_line_and_a_table(make: Any, words: str) -> None:
    result = make()
    line = repr(result)
    assert line.startswith(f"<{type(result).__name__}: ")
    assert words in line
    assert len(line) < 180
    assert "\n" not in line
    html = result._repr_html_()
    page = ElementTree.fromstring(f"<div>{html}</div>")
    assert words in "".join(page.itertext())
    assert not claims(" ".join(page.itertext()))
    rows = [len(row) for row in page.iter("tr")]
    assert len(set(rows)) <= 1, "every row has the cells of the head"


def test_cautions_stand_below_what_is_fitted_worst_first() -> None:
    known = [one.line for one in cautions()]
    made = bl.flow(PROPANE, "#54", SUPPLY), bl.size(PROPANE, "12 kBtu/h", "gross", SUPPLY), bl.hold(DRAW)
    for result in (JOB, *made):
        lines = [known.index(line) for line in result.summary().lines]
        assert lines
        assert lines == sorted(lines)
    hydrogen = bl.convert(CART, "hydrogen-blend-20", "7 in w.c.")
    assert any("Unseen flame" in line for line in hydrogen.summary().lines)


def test_what_a_user_wrote_is_text_and_no_markup() -> None:
    html = replace(CART, name="<script>alert(1)</script>")._repr_html_()
    assert "<script" not in html
    assert "&lt;script&gt;" in html


def test_figures_are_those_of_the_result() -> None:
    full = bl.evaluate_conversion(JOB)
    table = full.summary().table
    assert [row[0] for row in table[1:]] == [burner.name for burner in full.burners]
    for row, burner in zip(table[1:], full.burners, strict=True):
        assert float(row[3].split()[0]) == pytest.approx(burner.headline.heat_input_gross_W / 1e3, abs=6e-4)
        assert float(row[4].split()[0]) == pytest.approx(100 * burner.headline.deviation, abs=0.051)
        assert row[5] == burner.headline.verdict
    many = bl.flow(PROPANE, np.array([[1e-3, 2e-3]]), SUPPLY)
    assert repr(many).startswith("<OrificeFlow: 2 cases: 3.656 kW to 14.62 kW")
