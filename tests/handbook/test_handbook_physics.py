"""The pages of physics against the code: the function of each equation, and the figures of the tables they print."""

from __future__ import annotations

import re
from importlib import import_module

import pytest

from burnerlab import tables
from burnerlab.handbook.contents import handbook_dir, pages

PHYSICS = [one.topic for one in pages() if one.part == "Physics"]
EQUATION = re.compile(r"^```equation\n.*?^```\n(?P<below>\n[^\n]*)?", re.MULTILINE | re.DOTALL)
FUNCTIONS = re.compile(r"^\nFunctions?: ((?:`[\w.]+`(?:, )?)+)\.$")


def _text(topic: str) -> str:
    return (handbook_dir() / f"{topic}.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("topic", PHYSICS)
def test_every_equation_names_the_function_that_computes_it(topic: str) -> None:
    for equation in EQUATION.finditer(_text(topic)):
        found = FUNCTIONS.match(equation["below"] or "")
        assert found, equation[0]
        for name in re.findall(r"`([\w.]+)`", found[1]):
            module, _, function = name.rpartition(".")
            assert callable(getattr(import_module(module), function, None)), name


@pytest.mark.parametrize("topic", [topic for topic in PHYSICS if topic != "bench-uncertainty"])
def test_a_page_of_physics_ends_with_what_stays_unknown(topic: str) -> None:
    assert re.findall(r"^## (.*)$", _text(topic), re.MULTILINE)[-1] == "What stays unknown"


FIGURES = [  # page, figure as printed of value, low and high, table, row
    ("burner", "{0:g} ({1:g} to {2:g})", "burner_coefficients", "throat loss"),
    ("burner", "{0:.1f} ({1:g} to {2:g})", "burner_coefficients", "bent tube loss"),
    ("burner", "{0:.1f} ({1:g} to {2:g})", "burner_coefficients", "inlet loss"),
    ("burner", "{0:.2f} ({1:.2f} to {2:.2f})", "burner_coefficients", "port discharge, thin"),
    (
        "burner",
        "{0:.2f} ({1:.2f} to {2:.2f}, recalled)",
        "burner_coefficients",
        "port discharge, unknown depth",
    ),
    ("burner", "{0:g} ({1:g} to {2:.1f})", "burner_coefficients", "creeping entry"),
    ("burner", "{1:g} to {2:g}", "burner_coefficients", "port Reynolds"),
    ("burner", "a factor of {1:g} to {2:g}", "burner_coefficients", "choked jet"),
    ("burner", "less than {0:g} Pa", "burner_coefficients", "outer pressure"),
    ("burner", "Above Re {0:g} in the ports", "burner_coefficients", "laminar Reynolds"),
    ("burner", "From Re {2:g} ", "burner_coefficients", "laminar Reynolds"),
    ("burner", "n = {0:g} ({1:g} to {2:g})", "burner_coefficients", "lift exponent"),
    ("burner", "g_B = {0:g} max", "burner_coefficients", "Reed factor"),
    ("burner", "below {3:.0f} % primary air", "burner_coefficients", "least lift aeration"),
    ("burner", "({1:g} to {2:g})", "burner_coefficients", "light-back factor"),
    ("burner", "slower than {0:g} m/s", "burner_coefficients", "slowest flame"),
    ("burner", "slower than {0:g} m/s", "burner_coefficients", "slowest inner cone"),
    ("burner", "{0:g} ({1:g} to {2:g})", "burner_coefficients", "quenching Peclet"),
    ("burner", "H = {0:g} Q", "burner_coefficients", "flame height, round port"),
    ("burner", "{0:g} ({1:g} to {2:g})", "burner_coefficients", "secondary excess air"),
    ("burner", "v {0:.1f} ({1:.2f} to {2:.2f}) m/s", "burner_coefficients", "secondary entry velocity"),
    ("hot-burner", "| {0:g} | {1:g} to {2:g} |", "burner_coefficients", "rim heat share"),
    ("hot-burner", "| {0:g} W/(m² K) | {1:g} to {2:g} |", "burner_coefficients", "metal convection"),
    ("hot-burner", "| {0:g} | {1:g} to {2:g} |", "burner_coefficients", "metal emissivity"),
    ("hot-burner", "| {0:g} | {1:g} to {2:g} |", "burner_coefficients", "mixture Nusselt number"),
    ("hot-burner", "| {0:g} | {1:g} to {2:g} |", "burner_coefficients", "port Nusselt number"),
    ("hot-burner", "band of {1:g} to {2:.1f}", "burner_coefficients", "hot air without a body"),
    ("hot-burner", "spread of {1:g} to {2:g}", "burner_coefficients", "orifice gas rise"),
    ("tile", "| {0:g} | {1:.2f} to {2:g} |", "tile_properties", "emissivity"),
    ("tile", "| {0:g} | {1:.1f} to {2:.1f} |", "tile_properties", "area factor"),
    ("tile", "| {0:g} | {1:g} to {2:g} |", "tile_properties", "recovery"),
    ("tile", "| {0:g} | {1:g} to {2:g} |", "tile_properties", "loss coefficient"),
    ("tile", "| {0:g} | {1:g} to {2:g} |", "tile_properties", "pressure exponent"),
    ("tile", "{1:g} to {2:g} kW/m²", "tile_properties", "firing density"),
    ("tile", "from {1:g} to {2:g}", "tile_properties", "aeration"),
    ("tile", "{1:g} to {0:g} of it", "tile_properties", "hot channel"),
    ("tile", "below {1:g}, *near* to {2:g}", "tile_properties", "lift margin"),
    ("tile", "k {0:g} ({1:g} to {2:.1f})", "tile_properties", "conductivity"),
    ("supply", "U = {0:g} ({1:g} to {2:g})", "cylinder_heat", "heat transfer"),
    ("supply", "{0:g} still", "cylinder_heat", "still air"),
    ("supply", "{0:.1f} behind frost", "cylinder_heat", "frost in still air"),
    ("supply", "{0:g} in a breeze", "cylinder_heat", "breeze"),
    ("layout", "| {0:.2f} | {1:.2f} to {2:g} |", "layout_coefficients", "radiant fraction natural gas"),
    ("layout", "| {0:g} | {1:.2f} to {2:g} |", "layout_coefficients", "radiant fraction propane and butane"),
    ("layout", "| {0:.2f} | {1:.2f} to {2:.2f} |", "layout_coefficients", "capture grate"),
    ("layout", "| {0:.2f} | {1:.2f} to {2:.2f} |", "layout_coefficients", "capture plate"),
    ("layout", "| {0:g} | {1:g} to {2:.2f} |", "layout_coefficients", "plume spread"),
    ("layout", "| {0:.2f} | {1:.2f} to {2:.2f} |", "layout_coefficients", "absorptance"),
    ("layout", "({1:g} to {2:g})", "layout_coefficients", "plate loss"),
    (
        "layout",
        "about {0:g} Btu/h/in², {1:g} to {2:g} (common practice)",
        "layout_coefficients",
        "trade heat per area",
    ),
    ("layout", "at most {0:g} ({1:g} to {2:g}) port", "carryover", "likely reach"),
]


@pytest.mark.parametrize(("topic", "printed", "table", "row"), FIGURES)
def test_a_figure_of_a_table_is_printed_as_it_stands_there(
    topic: str, printed: str, table: str, row: str
) -> None:
    found = tables.figure(table, row)
    words = printed.format(found.value, found.low, found.high, 100.0 * found.value)
    assert words in " ".join(_text(topic).split())
