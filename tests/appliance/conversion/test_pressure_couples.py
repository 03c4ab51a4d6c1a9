"""Pressure couples get one injector, and a region of the file selects band, supply pressures and policies."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from appliance_cases import SMALL
from command_runs import answer, complaint, run

from burnerlab import tables
from burnerlab.appliance import (
    Appliance,
    category_supplies,
    convert,
    country_supplies,
    demonstration_path,
    injectors,
    read_appliance_text,
    supply_pressures,
)
from burnerlab.appliance.conversion.convert import built_for
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.conversion.refusal import not_to_fit, refusals
from burnerlab.bench.decision_rule import decision_rule
from burnerlab.bench.reading_plan import plan_of
from burnerlab.bench.unit import rating_of
from burnerlab.gas import Gas, load, read_mix
from burnerlab.report import build_sheet
from burnerlab.report.terminal import terminal_text

CART = str(demonstration_path())

# Wobbe index gross at 15 C [MJ/m3]: EN 437, Tables 2 and 3, recalled
WOBBE = {"G20": 50.72, "G25": 41.52, "G30": 87.33, "G31": 76.84}
COUPLES = [
    ("2E+", "20/25", ("G20", 20.0), ("G25", 25.0)),
    ("3+", "28-30/37", ("G30", 29.0), ("G31", 37.0)),
    ("3+", "50/67", ("G30", 50.0), ("G31", 67.0)),
    ("3+", "112/148", ("G30", 112.0), ("G31", 148.0)),
]


# by the trade's rule W sqrt(p) G31 at 20 mbar gives 27 % less than G30 at 29 mbar: over a band of 5 % each way
WIDE_COUPLE = (
    SMALL + '[[market]]\nname = "wide"\nsupply = [{ gas = "G30", pressure = "29 mbar" }, '
    '{ gas = "G31", pressure = "20 mbar" }]\n'
)


def with_region(region: str, more: str = "") -> str:
    return SMALL.replace('rating = "gross"', f'rating = "gross"\nregion = "{region}"') + more


def test_every_couple_of_the_pressures_says_what_it_is_sized_on() -> None:
    listed = {(row.category, row.couple) for row in supply_pressures() if row.couple}
    assert {(row["category"], row["couple"]) for row in tables.rows("pressure_couples")} == listed


@pytest.mark.parametrize(("category", "couple", "sized", "other"), COUPLES)
def test_a_couple_has_one_injector_and_the_other_gas_burns_what_it_gives(
    cart: Appliance, category: str, couple: str, sized: tuple[str, float], other: tuple[str, float]
) -> None:
    table = injectors(cart, category_supplies(f"I{category}"))
    both = [
        [row for row in table.rows if (row.pressure_couple, row.gas) == (couple, gas)]
        for gas, _ in (sized, other)
    ]
    assert all(len(rows) == len(cart.burners) for rows in both)
    # by the trade's rule the input of a fixed orifice goes with W sqrt(p); expansibility moves that by 1 % at 148 mbar
    rule = WOBBE[other[0]] * math.sqrt(other[1]) / (WOBBE[sized[0]] * math.sqrt(sized[1]))
    for first, second in zip(*both, strict=True):
        assert first.injector_mark == second.injector_mark
        assert first.exact_diameter_m == second.exact_diameter_m
        assert first.drill == second.drill
        assert first.sized_on == second.sized_on == f"{sized[0]} at {sized[1]:.3g} mbar"
        assert abs(first.deviation) < 0.05
        assert second.heat_input_gross_W / first.heat_input_gross_W == pytest.approx(rule, abs=0.01)


@pytest.mark.parametrize(("country", "first", "second"), [
    ("IT", ("G30", 28.0), ("G31", 37.0)),  # 28-30/37 of 3+, at 29 mbar without a file
    ("FI", ("G30", 30.0), ("G31", 30.0)),  # 3B/P
])  # fmt: skip
def test_a_couple_of_the_file_within_that_of_a_country_is_one_injector(
    country: str, first: tuple[str, float], second: tuple[str, float]
) -> None:
    pair = ", ".join(f'{{ gas = "{gas}", pressure = "{mbar:g} mbar" }}' for gas, mbar in (first, second))
    file = read_appliance_text(f'{with_region("eu")}[[market]]\nname = "couple"\nsupply = [{pair}]\n')
    of_file = {one.choice.drill for found in convert_market(targets_of(file)[0]) for one in found.burners}
    rows = injectors(file, country_supplies(country)).rows
    butane, propane = (row for row in rows if row.pressure_couple)
    assert [(row.gas, row.gauge_pressure_Pa) for row in (butane, propane)] == [
        (gas, pytest.approx(100.0 * mbar)) for gas, mbar in (first, second)
    ]
    assert {butane.drill} == {propane.drill} == of_file
    assert butane.sized_on == propane.sized_on == f"{first[0]} at {first[1]:.0f} mbar"
    assert butane.supply.endswith(f"{butane.sized_on} by the file")


def test_a_couple_on_the_present_supply_has_the_present_orifices() -> None:
    here = replace(read_appliance_text(with_region("eu")).supply, gas=load("G30"), gauge_pressure_Pa=5000.0)
    file = replace(read_appliance_text(with_region("eu")), supply=here)
    both = [row for row in injectors(file, country_supplies("DE")).rows if row.pressure_couple == "50/50"]
    assert [(row.gas, row.is_as_built) for row in both] == [("G30", True), ("G31", True)]
    assert {row.orifice_diameter_m for row in both} == {file.burners[0].orifice.diameter_m}
    other = replace(
        file, supply=replace(here, gas=load("G31"))
    )  # its second gas alone: not sized for the couple
    assert not any(
        row.is_as_built for row in injectors(other, country_supplies("DE")).rows if row.pressure_couple
    )


def test_an_injector_of_no_couple_is_sized_on_its_own_gas(cart: Appliance) -> None:
    france = injectors(cart, country_supplies("FR"))
    alone = [
        row
        for row in france.rows
        if row.gas == "G31" and not row.pressure_couple and row.gauge_pressure_Pa == 3700.0
    ]
    paired = [row for row in france.rows if row.gas == "G31" and row.pressure_couple == "28-30/37"]
    assert alone[0].sized_on == "G31 at 37 mbar"
    assert alone[0].exact_diameter_m != paired[0].exact_diameter_m


def test_a_conversion_to_either_gas_of_a_couple_takes_the_same_orifice(cart: Appliance) -> None:
    butane = convert(cart, "G30", 2900.0, category="I3+")
    propane = convert(cart, "G31", 3700.0, category="I3+")
    assert butane.pressure_couple is not None
    assert propane.pressure_couple is not None
    for one, two in zip(butane.burners, propane.burners, strict=True):
        assert one.to_orifice_m == two.to_orifice_m
        assert one.choice.drill == two.choice.drill
    for one, two in zip(butane.pressure_couple.inputs, propane.pressure_couple.inputs, strict=True):
        assert one.other_gross_W == pytest.approx(two.other_gross_W, rel=1e-12)
        assert one.reference_gross_W == pytest.approx(two.reference_gross_W, rel=1e-12)
    plain = convert(cart, "G31", 3700.0)
    assert plain.pressure_couple is None
    assert plain.burners[0].to_orifice_m != propane.burners[0].to_orifice_m
    assert plain.pressure_couples_beside == ("pressure couple 28-30/37 mbar (3+)",)


def test_the_bores_beside_a_couple_put_one_gas_at_an_end_of_the_band_and_the_other_within(
    cart: Appliance,
) -> None:
    found = convert(cart, "G30", 2900.0, category="I3+")
    assert found.pressure_couple is not None
    for burner, each in zip(found.burners, found.pressure_couple.inputs, strict=True):
        assert each.low_bore_m is not None
        assert each.high_bore_m is not None
        off = (each.reference_deviation, each.other_deviation)
        # heat input goes with the square of the bore (continuity); the coefficient moves it by less than 0.3 % here
        least, largest = (
            (bore / burner.choice.diameter_m) ** 2 for bore in (each.low_bore_m, each.high_bore_m)
        )
        assert (1.0 + min(off)) * least == pytest.approx(1.0 + found.tolerance_low, abs=0.003)
        assert (1.0 + max(off)) * largest == pytest.approx(1.0 + found.tolerance, abs=0.003)


def test_a_couple_whose_inputs_differ_by_more_than_the_band_has_no_bore_for_both(cart: Appliance) -> None:
    (wide,) = targets_of(read_appliance_text(WIDE_COUPLE, "wide.toml"))
    found = convert_market(wide)[0]
    assert found.pressure_couple is not None
    assert {(each.low_bore_m, each.high_bore_m) for each in found.pressure_couple.inputs} == {(None, None)}
    assert "no bore" in terminal_text(found)


def test_an_orifice_that_exceeds_the_band_on_the_second_gas_fits_neither() -> None:
    """One orifice for both: G31 at 37 mbar burns twice what G20 at 20 mbar does, by the trade's rule W sqrt(p)."""
    supply = '{ gas = "G20", pressure = "20 mbar" }, { gas = "G31", pressure = "37 mbar" }'
    (market,) = targets_of(
        read_appliance_text(f'{SMALL}[[market]]\nname = "two"\nsupply = [{supply}]\n', "two.toml")
    )
    sized, other = convert_market(market)
    assert all(b.no_drill_meets == "" and abs(b.drill_deviation) < 0.05 for b in sized.burners)
    assert not_to_fit(sized) == not_to_fit(other) == {b.name for b in sized.burners}
    assert "on G31" in refusals(sized)[sized.burners[0].name]


@pytest.mark.parametrize(
    ("first", "second", "is_lowered"),
    [
        (("G30", 30.0), ("G31", 30.0), True),
        (("G20", 20.0), ("G25", 25.0), True),
        (("G30", 29.0), ("G31", 37.0), False),
    ],
)
def test_a_unit_is_held_against_what_the_orifice_of_the_first_gas_can_give_on_the_second(
    first: tuple[str, float], second: tuple[str, float], is_lowered: bool
) -> None:
    """By the trade's rule W sqrt(p), and on plan and bench alike; a couple that holds the band keeps its rating."""
    supply = ", ".join(f'{{ gas = "{gas}", pressure = "{at} mbar" }}' for gas, at in (first, second))
    (market,) = targets_of(
        read_appliance_text(f'{SMALL}[[market]]\nname = "two"\nsupply = [{supply}]\n', "two.toml")
    )
    sized, other = convert_market(market)
    rule = WOBBE[second[0]] * math.sqrt(second[1]) / (WOBBE[first[0]] * math.sqrt(first[1]))
    assert sized.couple_factor == 1.0
    assert other.couple_factor == (pytest.approx(rule, abs=0.01) if is_lowered else 1.0)
    if is_lowered:
        assert other.burners[0].deviation == pytest.approx(sized.burners[0].deviation, abs=1e-3)
    heats = [row for row in plan_of(evaluate_conversion(other)).rows if row.quantity == "heat_input_gross"]
    assert heats
    assert all(row.low < row.predicted < row.high for row in heats)
    built = built_for(market.appliance, market.targets[1])
    rated = rating_of(built, built.burners[0].name, decision_rule()).heat_input_W
    assert rated == pytest.approx(other.couple_factor * market.appliance.burners[0].rate_W)


def test_at_altitude_a_couple_keeps_the_bore_of_its_reference_gas(cart: Appliance) -> None:
    sea = convert(cart, "G31", 3700.0, category="I3+")
    high = convert(cart, "G31", 3700.0, category="I3+", altitude_m=2000.0)
    assert high.burners[0].to_orifice_m == pytest.approx(sea.burners[0].to_orifice_m, rel=1e-9)
    assert high.altitude is not None
    chosen = convert(cart, "G30", 2900.0, category="I3+", altitude_m=2000.0, altitude_policy="none")
    kept = next(row for row in high.altitude.rows if row.policy == "none")
    assert kept.bores[0].diameter_m == pytest.approx(chosen.burners[0].to_orifice_m, rel=1e-9)


def test_the_commands_say_the_couple_and_both_inputs() -> None:
    said = " ".join(
        run("convert", CART, "--to", "G31", "--pressure", "37 mbar", "--category", "II2E+3+").stdout.split()
    )
    assert (
        "Pressure couple 28-30/37 mbar (3+, recalled): one orifice for both gases, sized on G30 at 29 mbar"
        in said
    )
    assert "never enlarge for it" in said
    assert "3.73 (+1.8 %) 3.71 (+1.2 %)" in said
    found = answer("convert", CART, "--to", "G31", "--pressure", "37 mbar", "--category", "I3+")[
        "pressure_couple"
    ]
    assert (found["reference_gas"], found["other_gas"]) == ("G30", "G31")
    text = run("injectors", CART, "--category", "II2E+3+").stdout
    assert "one orifice for both gases" in text
    assert "No orifice is enlarged" in text


def test_a_region_selects_the_band_and_its_source() -> None:
    us, eu, none = (
        read_appliance_text(text).limits for text in (with_region("us"), with_region("eu"), SMALL)
    )
    assert us.tolerance.source.startswith("North American")
    assert "EN 30" in eu.tolerance.source
    assert none.tolerance.source.startswith("North American")
    written = read_appliance_text(with_region("eu", '[limits]\ntolerance = "z21"\n')).limits
    assert written.tolerance.source.startswith("North American")


def test_a_region_selects_the_rows_of_supply_pressures(cart: Appliance) -> None:
    eleven_inches = 2740.0
    assert convert(replace(cart, region="us"), "propane", eleven_inches).category == "LP"
    european = convert(replace(cart, region="eu"), "propane", eleven_inches)
    assert european.category == ""
    assert european.to_gauge_pressure_low_Pa is None
    assert convert(replace(cart, region="us"), "G31", 3700.0).category == ""
    found = convert(replace(cart, region="eu"), "G31", 3700.0)
    assert found.category == "3P"
    assert "EN 437" in found.pressure_range_source
    named = convert(replace(cart, region="us"), "G31", 3700.0, category="I3P")  # a category named goes before
    assert named.category == "3P"


def test_a_region_selects_the_policies_to_choose_from(cart: Appliance) -> None:
    for region, count in (("us", 6), ("eu", 1), ("", 6)):
        found = convert(replace(cart, region=region), "propane", 2740.0, altitude_m=1500.0).altitude
        assert found is not None
        assert len(found.rows) == count


def test_injectors_without_options_follow_the_region(tmp_path: Path) -> None:
    gases = {}
    for region in ("us", "eu"):
        file = tmp_path / f"{region}.toml"
        file.write_text(with_region(region), encoding="utf-8")
        gases[region] = {row["gas"] for row in answer("injectors", str(file))["rows"]}
        assert answer("convert", str(file), "--to", "propane", "--pressure", "30 mbar")["region"] == region
    assert "propane" in gases["us"]
    assert "G30" not in gases["us"]
    assert {"G20", "G30", "G31"} <= gases["eu"]


@pytest.mark.parametrize(("gas", "pressure", "count"), [("G20", "20 mbar", 3), ("G20", "17.4 mbar", 4),
                                                        ("G30", "29 mbar", 3), ("propane", "37 mbar", 4)])  # fmt: skip
def test_the_gas_of_the_file_stands_once(tmp_path: Path, gas: str, pressure: str, count: int) -> None:
    file = tmp_path / "eu.toml"
    own = with_region("eu").replace('"propane"', f'"{gas}"').replace('"11 in w.c."', f'"{pressure}"')
    file.write_text(own, encoding="utf-8")
    rows = answer("injectors", str(file))["rows"]
    assert (
        len(rows) == count
    )  # one burner; G31 of a couple is sized on G30, so propane alone is a row of its own
    printed = run("injectors", str(file), "--altitude", "1500 m", "--policy", "none").stdout
    _, _, after = printed.partition("Altitude, policy none:")
    assert "here with those for sea level." in " ".join(after.split())
    assert re.search(r"\n.* at .*, altitude 1500 m, country .*\npolicy ", after)


def test_the_summary_says_where_the_band_is_from(tmp_path: Path) -> None:
    for region, source in (("eu", "(heat input at nominal pressure"), ("us", "(North American burner input")):
        file = tmp_path / f"{region}.toml"
        file.write_text(with_region(region), encoding="utf-8")
        said = " ".join(run("convert", str(file), "--to", "G31", "--pressure", "37 mbar").stdout.split())
        assert source in said
        assert "gives no region" not in said
    file.write_text(SMALL, encoding="utf-8")
    said = " ".join(run("convert", str(file), "--to", "G31", "--pressure", "37 mbar").stdout.split())
    assert "recalled); the file gives no region" in said


def test_a_region_is_us_or_eu(tmp_path: Path) -> None:
    file = tmp_path / "uk.toml"
    file.write_text(with_region("uk"), encoding="utf-8")
    said = complaint("convert", str(file), "--to", "propane", "--pressure", "30 mbar")
    assert "appliance.region" in said
    assert "us, eu" in said


def test_a_couple_beside_stands_at_the_head_of_terminal_and_sheet(tmp_path: Path) -> None:
    file = tmp_path / "eu.toml"
    file.write_text(with_region("eu"), encoding="utf-8")
    printed = " ".join(run("convert", str(file), "--to", "G31", "--pressure", "37 mbar").stdout.split())
    head = printed.partition("new drill")[0]
    assert "G31, propane test gas belongs to pressure couple 28-30/37 mbar (3+) too" in head
    assert "add --category 3+" in head
    found = convert(read_appliance_text(with_region("eu")), "G31", 3700.0)
    (orifices,) = [one for one in build_sheet(found).sections if one.key == "burners"]
    assert "add --category 3+" in str(orifices.blocks[0])
    named = convert(read_appliance_text(with_region("eu")), "G31", 3700.0, category="3+")
    assert named.burners[0].to_orifice_m < found.burners[0].to_orifice_m


@pytest.mark.parametrize(("own", "stands_for", "pressure_Pa", "category"), [
    (load("butane-n"), "G30", 2900.0, "II2H3+"), (load("butane-iso"), "G30", 2900.0, "II2H3+"),
    (load("propane"), "G31", 3700.0, "II2H3+"), (read_mix("methane=1", per="mole"), "G20", 2000.0, "I2E+"),
])  # fmt: skip
def test_a_gas_that_stands_for_a_gas_of_a_couple_keeps_the_couple(
    cart: Appliance, own: Gas, stands_for: str, pressure_Pa: float, category: str
) -> None:
    one, other = (convert(cart, gas, pressure_Pa, category=category) for gas in (own, stands_for))
    assert one.pressure_couple is not None
    assert other.pressure_couple is not None
    assert one.pressure_couple.nominal == other.pressure_couple.nominal


def test_a_category_without_a_pressure_for_the_gas_is_said(cart: Appliance) -> None:
    """The HD-5 of the library lies between 3P and 3B, so that no row of 3+ holds it."""
    found = convert(cart, "propane-hd5", 3700.0, category="II2H3+")
    assert found.pressure_couple is None
    text = " ".join(terminal_text(found).split())
    assert "Category II2H3+ has no pressure for" in text.partition("new drill")[0]


def test_a_file_rated_net_states_one_basis_in_every_table() -> None:
    net = SMALL.replace('rating = "gross"', 'rating = "net"\nregion = "eu"')
    found = convert(read_appliance_text(net), "G30", 2900.0, category="II2H3+")
    text = terminal_text(found)
    tables_of_heat, _, rest = text.partition("All burners")
    assert "gross" not in tables_of_heat
    assert len(re.findall(r"\bnet\b", tables_of_heat)) == 3  # burners, and both gases of the couple
    assert "heat inputs net" in " ".join(rest.split())
    (couple,) = [one for one in build_sheet(found).sections if one.key == "couple"]
    table = couple.blocks[0]
    assert [column.title.rpartition(", ")[2] for column in table.columns[1:3]] == ["net", "net"]  # type: ignore[union-attr]
    first = found.burners[0]
    at_nominal = (
        first.predicted_gross_W
        * found.to_gas.net_heating_value_J_per_kg
        / found.to_gas.gross_heating_value_J_per_kg
    )
    assert table.rows[0][1].value == pytest.approx(at_nominal, rel=1e-9)  # type: ignore[union-attr]


def test_the_orifice_behind_a_regulator_is_for_the_pressure_of_the_file(cart: Appliance) -> None:
    """A country of inlet test pressures: 4 in w.c. of the file at the orifice, not 7 in w.c. before the regulator."""
    here = replace(cart.supply, gas=load("natural-gas-typical"), gauge_pressure_Pa=996.4)
    file = replace(cart, region="US", supply=here, markets=())
    found = {row.gas: row for row in injectors(file, country_supplies("US")).rows}
    natural, propane = found["natural-gas-typical"], found["propane"]
    assert natural.gauge_pressure_Pa == here.gauge_pressure_Pa
    assert "inlet 17.4 mbar" in natural.supply
    assert "at the orifice by the file" in natural.supply
    assert propane.supply.endswith("only for an appliance without a regulator")


def test_an_orifice_that_the_other_gas_of_a_couple_forbids_is_said_so() -> None:
    burner = '[[burner]]\nname = "tube"\nkind = "tube"\nrate = "3.6 kW"\norifice = { drill = "0.92 mm" }\n'
    file = read_appliance_text(
        '[appliance]\nname = "T"\nregion = "eu"\nrating = "gross"\n'
        '[supply]\ngas = "G30"\npressure = "29 mbar"\n[limits]\ndrills = ["metric", "hundredth"]\n'
        + burner
        + '[[market]]\nname = "3+"\nsupply = [{ gas = "G30", pressure = "25 mbar" }, '
        '{ gas = "G31", pressure = "37 mbar" }]\n'
    )
    notes = " ".join(convert_market(targets_of(file)[0])[0].notes)
    assert "leaves the band on the other gas of the couple." in notes
    assert "on the supply" not in notes
