"""Altitude enlarges no orifice without a word: the bore for sea level stands until a policy is chosen."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from command_runs import answer, run

from burnerlab.appliance import Appliance, category_supplies, convert, demonstration, injectors
from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.operation.operate import operate
from burnerlab.appliance.project.project_file import read_appliance
from burnerlab.orifice.altitude import policy_names
from burnerlab.page.desk_fragment import MarketConversion
from burnerlab.tables import package_dir

DEMO = package_dir() / "appliance" / "demo.toml"
DENVER_m = 1609.344  # 5280 ft
PROPANE = ("--to", "propane", "--pressure", "11 inH2O")


@pytest.fixture
def cart() -> Appliance:
    return demonstration()


def written(folder: Path, policy: str = "", altitude: str = "0 m") -> str:
    """The demonstration's file with a policy and an altitude."""
    text = DEMO.read_text(encoding="utf-8").replace('altitude        = "0 m"', f'altitude = "{altitude}"')
    if policy:
        text = text.replace("[limits]", f'[limits]\naltitude_policy = "{policy}"')
    path = folder / "cart.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_without_a_policy_the_bores_are_those_for_sea_level(cart: Appliance) -> None:
    sea, high = (convert(cart, "propane", 2740.0, altitude_m=height) for height in (0.0, DENVER_m))
    assert sea.altitude is None
    assert high.altitude_policy is None
    for low, there in zip(sea.burners, high.burners, strict=True):
        assert there.to_orifice_m == pytest.approx(low.to_orifice_m, rel=1e-9)
        assert there.choice.drill == low.choice.drill
        assert there.deviation == pytest.approx(low.deviation, abs=1e-9)
        # a fixed bore gives less by about the root of the ambient pressure (0.907 here), and says so
        assert there.predicted_gross_W / low.predicted_gross_W == pytest.approx(
            math.sqrt(high.ambient_pressure_Pa / 101_325.0), rel=4e-3
        )
    found = next(finding for finding in high.findings if finding.topic == "altitude")
    assert found.verdict == "near"
    assert "no altitude policy is chosen" in found.text


def test_every_policy_has_its_row_and_it_is_the_conversion_by_that_policy(cart: Appliance) -> None:
    high = convert(cart, "propane", 2740.0, altitude_m=1200.0)
    assert high.altitude is not None
    assert tuple(row.policy for row in high.altitude.rows) == policy_names()
    for row in high.altitude.rows:
        chosen = convert(cart, "propane", 2740.0, altitude_m=1200.0, altitude_policy=row.policy)
        assert [bore.drill for bore in row.bores] == [burner.choice.drill for burner in chosen.burners]
        assert row.factor == chosen.altitude_policy_factor


@pytest.mark.parametrize(("region", "is_said"), [("eu", True), ("us", False), ("", False)])
def test_a_policy_of_another_region_is_doubted(cart: Appliance, region: str, is_said: bool) -> None:
    made = convert(
        replace(cart, region=region),
        "propane",
        2740.0,
        altitude_m=1200.0,
        altitude_policy="canada-10-percent",
    )
    found = next(finding for finding in made.findings if finding.topic == "altitude")
    assert ("it is a rule of North America, not of this region" in found.text) == is_said
    assert found.verdict == ("near" if is_said else "within")


def test_a_policy_that_says_nothing_there_says_whom_to_ask(cart: Appliance) -> None:
    high = convert(cart, "propane", 2740.0, altitude_m=DENVER_m).altitude
    assert high is not None
    canada = next(row for row in high.rows if row.policy == "canada-10-percent")
    assert (canada.factor, canada.bores) == (None, ())
    assert canada.why == "above 4500 ft: authority having jurisdiction"


def test_below_sea_level_no_rating_is_raised(cart: Appliance) -> None:
    low, sea = (convert(cart, "propane", 2740.0, altitude_m=height) for height in (-400.0, 0.0))
    assert low.altitude_policy_factor == 1.0
    assert low.burners[0].to_orifice_m < sea.burners[0].to_orifice_m


def test_the_terminal_asks_for_the_choice_and_says_what_the_choice_enlarges(tmp_path: Path) -> None:
    asked = run("convert", written(tmp_path), *PROPANE, "--altitude", "5280 ft")
    assert asked.exit_code == 0
    said = " ".join(asked.stdout.split())
    assert "Altitude 1609 m: no altitude policy is chosen. No bore is enlarged" in said
    assert "--policy NAME" in said
    assert all(name in said for name in policy_names())
    head = said.partition("new drill")[0]
    assert "enlarged from" not in head
    kept = run("convert", written(tmp_path, "none"), *PROPANE, "--altitude", "5280 ft")
    head = " ".join(kept.stdout.split()).partition("new drill")[0]
    assert "policy none: the full rating" in head
    assert "bore enlarged from 1.00 mm to 1.05 mm for 1609 m" in head
    ruled = run(
        "convert", written(tmp_path), *PROPANE, "--altitude", "5280 ft", "--policy", "4-percent-from-2000-ft"
    )
    head = " ".join(ruled.stdout.split()).partition("new drill")[0]
    assert "policy 4-percent-from-2000-ft: 86.9 % of the rating" in head
    assert "bore reduced from 1.00 mm to #61 (0.991 mm) for 1609 m" in head


@pytest.mark.parametrize(
    ("altitude", "is_doubted"), [("6.000 ft", True), ("2.5 m", True), ("0 m", False), ("12 m", False)]
)
def test_an_altitude_of_a_few_feet_is_asked_for_thousands(
    tmp_path: Path, altitude: str, is_doubted: bool
) -> None:
    """6.000 ft is six feet: its orifices are those of sea level, and overfire at 6000 ft under a rule."""
    made = run(
        "convert", written(tmp_path), *PROPANE, "--altitude", altitude, "--policy", "4-percent-from-sea-level"
    )
    head = " ".join(made.stdout.split()).partition("new drill")[0]
    assert ("were thousands meant?" in head) is is_doubted


def test_the_sheet_says_it_above_the_orifices(cart: Appliance) -> None:
    from burnerlab.report import build_sheet
    from burnerlab.report.sheet.alternatives import policy_label

    kept = convert(cart, "G31", 3700.0, altitude_m=DENVER_m, altitude_policy="none", category="I3+")
    first = build_sheet(kept).section("burners").blocks[0]
    said = " ".join(first.items)  # type: ignore[union-attr]
    assert "bore enlarged from" in said
    assert "one orifice for both gases" in said
    asked = convert(cart, "propane", 2740.0, altitude_m=DENVER_m)
    sheet = build_sheet(asked)
    said = " ".join(sheet.section("burners").blocks[0].items)  # type: ignore[union-attr]
    assert "no altitude policy is chosen" in said
    assert "No altitude rule chosen: before drilling" in said
    rows = sheet.section("altitude").blocks[0].rows  # type: ignore[union-attr]
    assert [row[0].text for row in rows] == [policy_label(name) for name in ("", *policy_names())]


def test_the_tables_of_a_kit_say_for_which_altitude_alone_it_is() -> None:
    """A page that is cut off its head is packed and read by somebody else."""
    from burnerlab.bench.kit_list import kit_list
    from burnerlab.report.kit_paper import kit_paper

    file = demonstration()
    market = replace(file.markets[0], altitude_m=DENVER_m, altitude_policy="4-percent-from-sea-level")
    paper = kit_paper(kit_list(replace(file, markets=(market,))), "")
    assert len(paper.tables) == 2
    assert all("These orifices are for 5280 ft (1609 m) only." in one.caption for one in paper.tables)


def test_every_paper_with_bores_says_first_that_no_rule_is_chosen() -> None:
    from burnerlab.appliance.study.plate_fields import rating_plate
    from burnerlab.bench.kit_list import kit_list
    from burnerlab.page.desk_orifices import market_head, orifice_cells
    from burnerlab.report.injector_paper import injector_paper
    from burnerlab.report.kit_paper import kit_paper
    from burnerlab.report.plate_paper import plate_paper
    from burnerlab.report.sheet.job_card import _notes

    small = replace(demonstration(), burners=demonstration().burners[:1])
    market = replace(small.markets[0], region="us", altitude_m=DENVER_m)

    def said(policy: str | None) -> list[str]:
        there = replace(small, markets=(replace(market, altitude_policy=policy),))
        target = targets_of(there)
        made = convert_to(there, target[0].target)
        shown = MarketConversion(letter="A", name="high", conversions=(made,))
        papers = (
            injector_paper(injectors(there, (), markets=target), ""),
            kit_paper(kit_list(there), ""),
            plate_paper(rating_plate(there), ""),
        )
        return [
            *("; ".join(text for _, text in paper.headline) for paper in papers),
            "; ".join(_notes(made)),
            market_head(shown, "US").altitude.text,
            next(orifice_cells(1, shown, "US")).remarks[0].text if policy is None else "",
        ]

    # 4 % for each 1000 ft leaves 78.9 % at 5280 ft, 2 % leaves 89.4 %
    *papers, cell = said(None)
    assert all("No altitude rule chosen: before drilling" in text for text in papers)
    assert all("78.9 to 89.4 %" in text for text in papers)
    assert "No altitude rule chosen" in cell
    assert not any("No altitude rule chosen" in text for text in said("4-percent-from-sea-level"))
    # a bore for the full rating here: at sea level 1 / 0.907 of it
    only = re.compile(
        r"orifices are for 5280 ft(?: \(1609 m\))? only: at sea level they overfire by about 10 %"
    )
    assert all(only.search(text) for text in said("none")[:3])
    only = re.compile(r"orifices are for 5280 ft(?: \(1609 m\))? only\.")
    assert all(only.search(text) for text in said("4-percent-from-sea-level")[:3])


def test_json_holds_the_rows_and_null_at_sea_level(tmp_path: Path) -> None:
    file = written(tmp_path)
    assert answer("convert", file, *PROPANE)["altitude"] is None
    found = answer("convert", file, *PROPANE, "--altitude", "5280 ft")["altitude"]
    assert found["policy"] is None
    assert [row["policy"] for row in found["rows"]] == list(policy_names())
    drills = {
        row["policy"]: [bore["drill"] for bore in row["bores"]]
        for row in (found["sea_level"], *found["rows"])
    }
    assert (drills[None][0], drills["none"][0], drills["4-percent-from-2000-ft"][0]) == (
        "1.00 mm",
        "1.05 mm",
        "#61",
    )


def test_injectors_stand_at_the_altitude_of_the_file(tmp_path: Path) -> None:
    file = written(tmp_path, "none", "2250 m")
    found = answer("injectors", file, "--supply", "G31@37 mbar")
    assert [row["altitude_m"] for row in found["rows"]] == pytest.approx([2250.0] * 6)
    asked = answer("injectors", file, "--supply", "G31@37 mbar", "--altitude", "2250 m")
    assert [row["injector_mark"] for row in found["rows"]] == [row["injector_mark"] for row in asked["rows"]]
    sea = answer("injectors", file, "--supply", "G31@37 mbar", "--altitude", "0 m")
    assert found["rows"][0]["injector_mark"] > sea["rows"][0]["injector_mark"]
    unchosen = answer("injectors", written(tmp_path, "", "2250 m"), "--supply", "G31@37 mbar")
    assert [row["injector_mark"] for row in unchosen["rows"]] == [row["injector_mark"] for row in sea["rows"]]
    assert unchosen["altitude_policies"][1]["injector_marks"] == [
        row["injector_mark"] for row in found["rows"]
    ]
    text = run("injectors", written(tmp_path, "", "2250 m"), "--supply", "G31@37 mbar").stdout
    assert "No bore above is enlarged" in text


def test_a_table_of_several_markets_has_the_altitude_rule_of_each(tmp_path: Path) -> None:
    """One market enlarges its bores, its neighbour does not: no sentence speaks for both."""
    from burnerlab.report.injector_paper import injector_paper

    file = tmp_path / "both.toml"
    text = Path(written(tmp_path)).read_text(encoding="utf-8")
    markets = [("high", "1500 m", 'altitude_policy = "none"'), ("hill", "1500 m", ""), ("sea", "0 m", "")]
    for name, height, rule in markets:
        supply = 'supply = { gas = "G31", pressure = "37 mbar" }'
        text += f'\n[[market]]\nname = "{name}"\naltitude = "{height}"\n{rule}\n{supply}\n'
    file.write_text(text, encoding="utf-8")
    letters = ("--market", "high", "--market", "hill", "--market", "sea")
    rows = answer("injectors", str(file), *letters)["rows"]
    marks = {
        (row["supply"].partition(":")[0], row["altitude_policy"]): row["injector_mark"] for row in rows[::6]
    }
    assert marks["high", "none"] > marks["hill", None] == marks["sea", None]
    text = " ".join(run("injectors", str(file), *letters).stdout.split())
    assert "none: full rating, bores enlarged" in text.partition("hill: G31")[0].partition("high: G31")[2]
    assert text.count("No bore above is enlarged") == 1  # of the second market alone
    after = text.partition("Altitude: each market by its own policy.")[2]
    assert "policy none: orifices above are those of the policy" in after.partition("hill: G31")[0]
    assert "No bore above is enlarged" in after.partition("hill: G31")[2]
    made = read_appliance(file)
    paper = injector_paper(injectors(made, (), markets=targets_of(made)[-3:]), "")
    assert dict(paper.headline)["Altitude rule"] == "each market its own, with its orifices"
    rules = [row[2] for row in paper.tables[0].rows]
    assert ["enlarged" in rule for rule in rules] == [True, False, False]
    assert ["enlarged" in one.caption for one in paper.tables[1:]] == [True, False, False]


def test_a_barometer_of_the_file_is_a_place_too(cart: Appliance) -> None:
    high = replace(cart.supply, altitude_m=None, ambient_pressure_Pa=80_000.0)
    rows = injectors(replace(cart, supply=high), category_supplies("I3P", ["GB"])).rows
    assert rows[0].altitude_m == pytest.approx(1949.0, abs=2.0)  # ISO 2533: 79.50 kPa at 2000 m


def test_size_and_flow_name_altitude_and_policy() -> None:
    at = ("--gas", "propane", "--pressure", "11 inH2O")
    sized = run("size", *at, "--rate", "12 kBtu/h gross", "--altitude", "5280 ft").stdout
    said = " ".join(sized.split())
    assert "1609 m: bore enlarged from 0.9861 mm to 1.037 mm" in said
    assert "no altitude policy acts on it" in said
    flow = " ".join(run("flow", *at, "--drill", "#54", "--altitude", "5280 ft").stdout.split())
    assert "% of the flow of this bore at sea level; no altitude policy" in flow
    plain = run("size", *at, "--rate", "12 kBtu/h gross").stdout
    assert "altitude" not in plain


def test_the_spread_in_production_names_what_altitude_leaves() -> None:
    propane = ("tolerance", str(DEMO), *PROPANE, "--draws", "10000")
    said = " ".join(run(*propane, "--altitude", "5280 ft").stdout.split())
    assert "no altitude policy chosen, bore for sea level: it gives 90.5 % of the rating at 1609 m" in said
    assert "altitude" not in run(*propane).stdout


def test_the_supply_names_the_altitude_its_deviations_are_from(tmp_path: Path) -> None:
    high = run("supply", written(tmp_path, "4-percent-from-sea-level", "2250 m")).stdout
    assert "the rating is reduced by 29.5 % at 2250 m" in " ".join(high.split())
    assert "off aim" in high
    sea = run("supply", written(tmp_path)).stdout
    assert "off rating" in sea
    assert "altitude" not in sea


def test_in_operation_a_burner_is_held_against_what_the_policy_leaves(cart: Appliance) -> None:
    limits = replace(cart.limits, altitude_policy="4-percent-from-sea-level")
    supply = replace(cart.supply, altitude_m=DENVER_m, ambient_pressure_Pa=83_437.0)
    ruled = operate(replace(cart, limits=limits, supply=supply)).burners[0]
    plain = operate(replace(cart, limits=replace(limits, altitude_policy="none"), supply=supply)).burners[0]
    assert ruled.deviation is not None
    assert plain.deviation is not None
    assert (1 + ruled.deviation) / (1 + plain.deviation) == pytest.approx(1 / (1 - 0.04 * 5.28), rel=1e-6)


def test_each_market_of_a_table_names_its_own_altitude_rule() -> None:
    from burnerlab.report.injector_paper import injector_paper

    file = demonstration()
    first, *others = file.markets
    ruled = replace(first, altitude_m=1600.0, altitude_policy="4-percent-from-sea-level")
    file = replace(file, markets=(ruled, *others))
    table = injectors(file, (), markets=targets_of(file))
    by_rule = {row.altitude_policy for row in table.rows}
    assert (by_rule, table.altitude_policy) == ({"", "4-percent-from-sea-level"}, None)
    paper = injector_paper(table, "a" * 64)
    assert ("Altitude rule", "none chosen") not in paper.headline
    assert {row[2] for row in paper.tables[0].rows} == {"none chosen", "4-percent-from-sea-level"}
