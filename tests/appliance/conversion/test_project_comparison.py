"""Two files side by side: relations that hold for any two, and what each kind of difference is said to be."""

from __future__ import annotations

from functools import partial

import pytest

from burnerlab.appliance.conversion.project_comparison import (
    FigureChange,
    ProjectComparison,
    compare_projects,
)
from burnerlab.appliance.project.input_comparison import compare_inputs
from burnerlab.appliance.project.project_file import demonstration_path, read_text
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.tables.verdict import Verdict

TWO = """
[appliance]
name = "two"
rating = "gross"
region = "us"

[supply]
gas = "natural-gas-typical"
pressure = "7 in w.c."

[[market]]
name = "bottled"
supply = { gas = "propane", pressure = "11 in w.c." }

[[burner]]
name = "left"
rate = "12.5 kBtu/h"
orifice = { drill = "#54" }
ports = { diameter = "1.6 mm", count = 180, depth = "3 mm" }
throat = "15.5 mm"

[[burner]]
name = "right"
rate = "14.5 kBtu/h"
orifice = { drill = "#53" }
"""


@pytest.fixture(scope="module")
def demo() -> ProjectText:
    return ProjectText(read_text(demonstration_path()).text)


@pytest.fixture(scope="module")
def base() -> ProjectText:
    return ProjectText(TWO)


@pytest.fixture(scope="module")
def edited(base: ProjectText) -> ProjectText:
    changes = {
        "burner[1].rate": "15 kBtu/h",
        "burner[1].ports.count": "150",
        "burner[2].orifice.drill": "#50",
    }
    return base.with_values(changes).with_burner_name(2, "centre")


@pytest.fixture(scope="module")
def found(base: ProjectText, edited: ProjectText) -> ProjectComparison:
    return compare_projects(base, edited)


def test_a_file_does_not_differ_from_itself(base: ProjectText, demo: ProjectText) -> None:
    same = compare_projects(base, base)
    assert same.is_same
    assert same.states == ("bottled",)
    assert not compare_inputs(demo, demo).changes


def test_the_other_order_mirrors_it(base: ProjectText, edited: ProjectText, found: ProjectComparison) -> None:
    back = compare_projects(edited, base)
    assert {(c.label, c.before, c.after) for c in found.inputs.changes} == {
        (c.label, c.after, c.before) for c in back.inputs.changes
    }
    names = {"right": "centre", "left": "left"}
    assert {(v.state, v.burner, v.topic, v.before, v.after) for v in found.verdicts} == {
        (v.state, names.get(v.burner, v.burner), v.topic, v.after, v.before) for v in back.verdicts
    }
    assert {(f.state, f.burner, f.figure, f.before, f.after) for f in found.figures} == {
        (f.state, names[f.burner], f.figure, f.after, f.before) for f in back.figures
    }


def test_every_edit_is_listed_once_and_a_new_name_is_none(found: ProjectComparison) -> None:
    assert {(change.entry, change.label) for change in found.inputs.changes} == {
        ("left", "rate"),
        ("left", "ports, count"),
        ("centre", "orifice, drill"),
    }
    assert [(pair.before, pair.after) for pair in found.inputs.renamed] == [("right", "centre")]
    assert not found.inputs.alone


def test_what_follows_stands_worst_first_and_above_half_a_per_cent(found: ProjectComparison) -> None:
    assert found.verdicts[0].after is Verdict.OUTSIDE
    worse = [change.after is Verdict.OUTSIDE for change in found.verdicts]
    assert worse == sorted(worse, reverse=True)
    by_figure = {(change.state, change.burner, change.figure): change for change in found.figures}
    orifice = by_figure["present", "centre", "orifice"]
    assert (orifice.text_before, orifice.text_after) == ("#53", "#50")
    heat = by_figure["present", "centre", "heat input, gross"]
    assert heat.change == pytest.approx(
        (1.778 / 1.5113) ** 2 - 1.0, abs=2e-3
    )  # areas of #50 and #53, drill sizes
    assert all(
        change.change is None or abs(change.change) > 0.0049
        for change in found.figures
        if "orifice" not in change.figure
    )


def test_a_margin_has_a_change_to_the_same_limit_alone() -> None:
    of = partial(
        FigureChange, state="present", burner="left", figure="margin", unit="", before=1.1, after=1.65
    )
    assert of(text_before="lift", text_after="lift").change == pytest.approx(0.5)
    assert of(text_before="lift", text_after="yellow tips").change is None


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("burner[1].rate", "3.66339 kW"),
        ("burner[1].rate", "12500 Btu/h"),
        ("burner[1].throat", "1.55 cm"),
        ("burner[1].turndown", "33.3333333 %"),
        ("burner[4].turndown", "6 kBtu/h"),
        ("burner[1].ports.count", "180.0"),
        ("supply.pressure", "7.0 inH2O"),
        ("supply.altitude", "0 ft"),
        ("supply.altitude", ""),
        ("supply.gas", "Natural-Gas-Typical"),
        ("supply.manifold.spacing", "14 cm"),
        ("supply.pipe.fittings", "plug cock = 1, elbow = 3"),
        ("burner[1].orifice.drill", "1.397 mm"),
        ("burner[1].count", "1"),
        ("appliance.rating", "Gross"),
        ("market[1].supply[1].pressure", "2.739978 kPa"),
    ],
)
def test_the_same_value_written_another_way_is_respelt(demo: ProjectText, key: str, value: str) -> None:
    compared = compare_inputs(demo, demo.with_values({key: value}))
    assert compared.changes == ()
    assert [change.key for change in compared.respelt] == [key]


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("burner[1].rate", "3.6634 kW"),
        ("burner[1].turndown", "33.3 %"),
        ("burner[5].kind", ""),
        ("burner[2].orifice.drill", "#52"),
        ("supply.gas", "G20"),
        ("supply.hose.fittings", ""),
        ("panel[1].sheet[2].gap", "21 mm"),
        ("carry_over[2].spacing", "8 mm"),
        ("burner[3].place[1].x", "399 mm"),
        ("burner[1].name", "left tube"),
    ],
)
def test_another_value_is_a_change(demo: ProjectText, key: str, value: str) -> None:
    compared = compare_inputs(demo, demo.with_values({key: value}))
    if key.endswith(".name"):
        assert [pair.after for pair in compared.renamed] == [value]
        assert [change.key for change in compared.changes] == ["carry_over[1].from"] * 0
        return
    assert [change.key for change in compared.changes] == [key]
    assert compared.respelt == ()


def test_entries_of_one_file_alone_and_another_order_are_said(demo: ProjectText) -> None:
    compared = compare_inputs(demo, demo.with_burner(6).without_market(1))
    assert [(pair.table, pair.before, pair.after) for pair in compared.alone] == [
        ("market", "bottled propane", ""),
        ("burner", "", "rear burner 2"),
    ]
    assert compare_inputs(demo, demo.with_burner_at(1, 4)).reordered == ("burner",)
    assert compare_inputs(demo, demo.with_burner_at(1, 4)).changes == ()


def test_a_market_of_another_name_is_compared_and_one_of_a_single_file_is_said() -> None:
    """The answer of a market does not depend on its name; no market of either file is left without a word."""
    base = ProjectText(TWO)
    edits = {"burner[1].rate": "13.5 kBtu/h"}
    same, renamed = (
        compare_projects(base, base.with_values(edits | names))
        for names in ({}, {"market[1].name": "cylinder gas"})
    )
    assert (same.states, renamed.states) == (("bottled",), ("cylinder gas",))
    assert [(one.burner, one.figure, one.before, one.after) for one in renamed.figures] == [
        (one.burner, one.figure, one.before, one.after) for one in same.figures
    ]
    assert any(one.state == "cylinder gas" for one in renamed.figures)
    more = ProjectText(
        TWO + '\n[[market]]\nname = "island"\nsupply = { gas = "G30", pressure = "29 mbar" }\n'
    )
    for pair, words in (((base, more), "second"), ((more, base), "first")):
        found = compare_projects(*pair)
        assert found.states == ("bottled",)
        assert [one.text() for one in found.not_compared] == [f'"island": stands in the {words} file alone']
    of_gas = compare_projects(base, base.with_values({"market[1].supply.gas": "G31"}))
    assert of_gas.states == ("bottled",)
    assert of_gas.not_compared == ()


def test_a_file_that_cannot_be_read_is_compared_as_far_as_it_goes(base: ProjectText) -> None:
    broken = compare_projects(base, base.with_values({"burner[1].throat": "15 parsec"}))
    assert [change.key for change in broken.inputs.changes] == ["burner[1].throat"]
    assert broken.problems[0].key == "burner[1].throat"
    assert broken.states == broken.figures == ()


def test_files_without_markets_are_compared_on_their_own_supply() -> None:
    text = ProjectText.blank()
    compared = compare_projects(text, text.with_values({"burner[1].rate": "14 kBtu/h"}))
    assert compared.states == ("its own gas and pressure",)
    orifice = next(change for change in compared.figures if change.figure == "orifice")
    assert orifice.after > orifice.before


def test_ratings_are_compared_on_the_basis_of_two_net_files() -> None:
    """2.4 kW net is 2.67 kW gross on natural gas: no figure that stands in neither file."""
    net = ProjectText.blank().with_values({"appliance.rating": "net", "burner[1].rate": "2.4 kW"})
    found = compare_projects(net, net.with_values({"burner[1].rate": "2.6 kW"}))
    change = next(one for one in found.figures if one.figure.startswith("rating"))
    assert (change.figure, change.before, change.after) == (
        "rating, net",
        pytest.approx(2.4),
        pytest.approx(2.6),
    )
    mixed = compare_projects(net, net.with_values({"appliance.rating": "gross"}))
    assert {one.figure for one in mixed.figures if one.figure.startswith("rating")} == {"rating, gross"}


def test_the_deviation_from_a_rating_and_the_basis_are_said() -> None:
    """An orifice that stays under another rating: the present gas deviates otherwise."""
    text = ProjectText.blank().with_values(
        {"appliance.rating": "net", "burner[1].rate": "2.4 kW", "burner[1].orifice.drill": "1.25 mm"}
    )
    found = compare_projects(text, text.with_values({"burner[1].rate": "3 kW"}))
    off = next(
        one for one in found.figures if (one.state, one.figure) == ("present", "deviation from the aim")
    )
    assert (1.0 + 0.01 * off.before) / (1.0 + 0.01 * off.after) == pytest.approx(3.0 / 2.4)
    assert off.texts == (f"{off.before:+.1f} %", f"{off.after:+.1f} %")
    assert off.change is None
    assert found.basis == "net"
    assert found.notes[0] == "Ratings and heat inputs are net."
