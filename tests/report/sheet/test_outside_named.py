"""What is outside is named by check and burner before any table, on terminal, sheet and in JSON, and in its row."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from command_runs import answer, run

from burnerlab.appliance import Conversion, convert, demonstration, operate, read_appliance_text
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import convert_market, market_named
from burnerlab.appliance.conversion.refusal import DECIDES, TEST_DECIDES, decision_on
from burnerlab.appliance.conversion.result import Finding
from burnerlab.report import SheetOptions, write_sheet
from burnerlab.report.html import html_text
from burnerlab.report.sheet.blocks import Table
from burnerlab.report.sheet.sections import build_card, build_sheet
from burnerlab.report.terminal import summary_text
from burnerlab.tables.verdict import Verdict

TWO = """
[appliance]
name   = "two tubes"
rating = "net"
region = "eu"

[supply]
gas      = "G20"
pressure = "20 mbar"

[[burner]]
name     = "left"
kind     = "tube"
rate     = "3.5 kW"
orifice  = { diameter = "1.37 mm", shape = "tapered" }
ports    = { diameter = "2.6 mm", count = 18, depth = "6 mm" }
throat   = "15.5 mm"
shutter  = { opening = "60 %", area = "155 mm2" }

[[burner]]
name     = "right"
kind     = "tube"
rate     = "3.5 kW"
orifice  = { diameter = "1.37 mm", shape = "tapered" }
ports    = { diameter = "1.6 mm", count = 180, depth = "3 mm" }
throat   = "15.5 mm"
shutter  = { opening = "60 %", area = "155 mm2" }
"""
TO = ("--to", "G31", "--pressure", "37 mbar")
LOCK_UP = """
inlet         = "40 mbar"
pressure_high = "21 mbar"

[supply.regulator]
set     = "20 mbar"
lock_up = "4 mbar"
"""


@pytest.fixture(scope="module")
def two() -> Conversion:
    return evaluate_conversion(convert(read_appliance_text(TWO), "G31", "37 mbar"))


@pytest.fixture(scope="module")
def outside(two: Conversion) -> set[tuple[str, str]]:
    """Check and burner of every finding outside."""
    found = {(f.topic, f.burner) for f in two.findings if f.verdict == "outside"}
    assert ("port loading", "left") in found
    return found


def test_the_terminal_names_each_before_its_table(two: Conversion, outside: set[tuple[str, str]]) -> None:
    above = summary_text(two).split("verdict")[0]
    for topic, burner in outside:
        assert any(topic in line and burner in line for line in above.splitlines() if "OUTSIDE" in line), (
            topic
        )


def test_the_row_of_the_burner_says_it(two: Conversion, outside: set[tuple[str, str]]) -> None:
    assert two.burners[0].headline.verdict != "outside"
    lines = summary_text(two).splitlines()
    row = next(i for i, line in enumerate(lines) if line.startswith("left "))
    assert lines[row].endswith(f"{two.burners[0].headline.verdict.emphatic}*")  # of the rate alone
    said = "\n".join(lines[row + 1 :])
    assert "* left: OUTSIDE: " in said
    assert not any(line.endswith("*") for line in lines if line.startswith("right "))
    assert ("port loading", "right") not in outside


@pytest.mark.parametrize("letter", ["A", "B"])
def test_the_card_of_a_market_names_what_is_outside_before_its_orifices(letter: str, tmp_path: Path) -> None:
    """Each market's card, as the desk and ``convert --market`` write it from a conversion that is not evaluated yet."""
    bare = convert_market(market_named(demonstration(), letter))[0]
    done = evaluate_conversion(bare)
    found = [f for f in done.findings if f.verdict == "outside"]
    written = write_sheet(bare, tmp_path, ("card",), SheetOptions(market=f"{letter} (own name)"))
    assert all(f"-market-{letter.lower()}-to-" in path.name for path in written.files)
    page = next(path for path in written.files if path.suffix == ".html").read_text(encoding="utf-8")
    above = page.split("<caption>")[0]
    assert re.search(rf"Market {letter} \(own name\): .* to .* at [0-9.]+\smbar, 0 m<", above)
    assert f"version {bare.file_sha256[:12]} of the appliance file" in page
    assert ("Calculated OUTSIDE: " in above) == bool(found)
    assert ("An engineer decides before anything is fitted." in above) == bool(found)
    for one in found:
        assert one.topic in above
    assert letter == "A" or "1.09 (0.949 to 1.24), at least 1.02" in above


COUPLE = """
[[market]]
name   = "third family"
supply = [{ gas = "G30", pressure = "29 mbar" }, { gas = "G31", pressure = "37 mbar" }]
"""


def test_the_card_of_one_gas_of_a_couple_names_what_is_outside_on_the_other() -> None:
    """One set of orifices burns both (2E+ and 3+ of EN 437): the card of one gas fits those of the other too."""
    file = read_appliance_text(TWO.replace("60 %", "100 %") + COUPLE)
    on_G30, on_G31 = map(evaluate_conversion, convert_market(market_named(file, "A")))
    assert ("lift", "right") not in {
        (f.topic, f.burner) for f in on_G30.findings if f.verdict == "outside" and f.which_gas == "new"
    }
    for c, other in ((on_G30, on_G31), (on_G31, on_G30)):
        card = build_card(c)
        box = card.outside + card.when_lit
        assert card.outside.endswith("An engineer decides before anything is fitted.")
        assert f") on {other.to_gas.name}" in box
        for f in other.findings:
            assert f.verdict != "outside" or f.is_of_present_gas or f.topic in box
    assert re.search(r"lift \(right[^;]*\) on G31", build_card(on_G30).outside)


LIFT = Finding(topic="lift", verdict=Verdict.OUTSIDE, text="", burner="left", value=0.97, low=1.0, value_low=0.17,
               value_high=5.0, unit="-", which_gas="new")  # fmt: skip
FAR = replace(LIFT, value=0.3, value_low=0.05, value_high=1.5)
BACK = replace(LIFT, topic="light-back", low=1.5)
DRILL = replace(
    LIFT, topic="drill tolerance", value=-5.2, low=-5.0, high=5.0, unit="%", value_low=None, value_high=None
)
SHUTTER = replace(DRILL, topic="air shutter", value=70.0, low=20.0, high=62.0)


@pytest.mark.parametrize(
    ("finding", "place"),
    [
        (LIFT, "when lit"),
        (FAR, "before"),  # most of its interval lies beyond the limit
        (replace(LIFT, value=0.5, value_low=0.1, value_high=3.0), "before"),  # it rather lifts than not
        (BACK, "before"),  # a test would hurt whoever makes it
        (replace(LIFT, topic="yellow tipping"), "before"),
        (replace(LIFT, which_gas="present"), ""),
        (replace(BACK, which_gas="present"), ""),
        (replace(DRILL, topic="present heat input", which_gas=""), ""),
        (DRILL, "when lit"),
        (replace(DRILL, value=5.2), "before"),  # too much heat
        (SHUTTER, ""),  # the row of the burner has the opening to start from
        (replace(SHUTTER, low=None, high=None), "before"),
    ],
)
def test_the_card_has_what_concerns_the_unit_as_it_will_burn(
    two: Conversion, finding: Finding, place: str
) -> None:
    """What nobody can decide but an engineer stands alone in its box; sheet and terminal have all of it."""
    only = replace(two, findings=(finding,))
    card = build_card(only)
    assert (finding.topic in card.outside, finding.topic in card.when_lit) == (
        place == "before",
        place == "when lit",
    )
    left = only.burners[0]
    assert finding.burner == left.name
    decision = decision_on(only.outside_of(left))  # of its leaflet: the same
    assert (decision == DECIDES, decision == TEST_DECIDES) == (place == "before", place == "when lit")
    (section,) = [one for one in build_sheet(only).sections if one.key == "first"]
    (table,) = section.blocks
    assert isinstance(table, Table)
    assert [row[0].text for row in table.rows] == [finding.topic]
    assert finding.topic in summary_text(only)


def test_what_a_test_decides_shows_its_interval_and_stands_after_what_an_engineer_does(
    two: Conversion,
) -> None:
    card = build_card(replace(two, findings=(LIFT, replace(DRILL, topic="heat input", burner="right"))))
    assert card.outside.startswith("Calculated OUTSIDE: heat input (right: -5.2 %, -5 to 5 %).")
    assert "lift (left: 0.970 (0.170 to 5.00), at least 1)" in card.when_lit
    both = (LIFT, replace(LIFT, which_gas="present"))
    (section,) = [one for one in build_sheet(replace(two, findings=both)).sections if one.key == "first"]
    (table,) = section.blocks
    assert isinstance(table, Table)
    assert [row[1].also for row in table.rows] == ["new gas", "present gas"]
    lines = summary_text(replace(two, findings=(LIFT, BACK))).split("verdict")[0]
    assert lines.index("OUTSIDE: light-back") < lines.index("OUTSIDE: lift")


def test_the_sheet_names_and_links_what_its_header_counts(
    two: Conversion, outside: set[tuple[str, str]]
) -> None:
    sheet = build_sheet(two)
    page = html_text(sheet, {})
    count = dict(sheet.verdicts)["outside"]
    assert f'<a href="#first">{count} outside</a>' in page
    above = page.split("<caption>Injectors;")[0]  # of the job card: the file is for Europe
    assert "Calculated OUTSIDE: " in above
    assert "An engineer decides before anything is fitted." in above
    lines = page.split("<caption>Injectors</caption>")[0]
    for topic, _ in outside:
        assert topic in above
        assert f"OUTSIDE: {topic}" in lines
    row = page.split("<caption>Injectors</caption>")[1].split("</tr>")[1]
    assert "OUTSIDE" in row


def test_json_has_the_same(two: Conversion, tmp_path: Path) -> None:
    file = tmp_path / "two.toml"
    file.write_text(TWO)
    found = answer("convert", str(file), *TO)
    assert all(line.startswith("OUTSIDE: ") for line in found["outside"])
    left, right = found["burners"]
    assert "port loading" in left["outside_checks"]
    assert right["outside_checks"] == []


def test_the_summaries_of_a_notebook_say_it(two: Conversion, outside: set[tuple[str, str]]) -> None:
    from burnerlab.gas import load

    head = two.summary().words
    assert all(topic in head.split("OUTSIDE: ")[1] for topic, _ in outside)
    cart = read_appliance_text(TWO)
    propane = replace(cart, supply=replace(cart.supply, gas=load("propane"), gauge_pressure_Pa=3700.0))
    found = operate(propane).summary()
    assert "OUTSIDE; possible overfire" in found.words
    assert found.lines[0].startswith("WARNING: Possible overfire: ")


def test_a_lock_up_outside_has_its_value_and_limit() -> None:
    text = TWO.replace('pressure = "20 mbar"\n', f'pressure = "20 mbar"{LOCK_UP}')
    done = evaluate_conversion(convert(read_appliance_text(text), "G31", "37 mbar"))
    assert "OUTSIDE: lock-up, present gas 24.0 mbar, at most 21 mbar" in summary_text(done)


def test_without_a_supply_no_column_of_it_and_no_sheet_is_referred_to(tmp_path: Path) -> None:
    file = tmp_path / "two.toml"
    file.write_text(TWO)
    text = run("convert", str(file), *TO).stdout
    assert "worst margin" in text
    assert "all on," not in text
    assert "see the sheet" not in text
    assert "near, figures in sheet, JSON: " in text
    written = run("convert", str(file), *TO, "--out", str(tmp_path / "out"), "--formats", "csv").stdout
    assert "near, see the sheet: " in written


def test_table_and_card_begin_with_what_endangers_on_the_new_gas() -> None:
    """Soot on butane stands before a low present input and before the ports, also on the card of the other gas."""
    couple = '\n[[market]]\nname = "couple"\nregion = "eu"\nsupply = [{ gas = "G30", pressure = "29 mbar" }, '
    text = TWO.replace("1.37 mm", "1.25 mm", 1) + couple + '{ gas = "G31", pressure = "37 mbar" }]\n'
    butane, propane = convert_market(market_named(read_appliance_text(text), "couple"))
    sheet = build_sheet(evaluate_conversion(butane))
    (section,) = [one for one in sheet.sections if one.key == "first"]
    topics = [row[0].text for row in section.blocks[0].rows]  # type: ignore[union-attr]
    assert topics.index("yellow tipping") < topics.index("port loading") < topics.index("present heat input")
    card = build_card(evaluate_conversion(propane))
    assert card.outside.index("on G30") < card.outside.index("port loading")
