"""Supply pressures of categories and countries, and the injector table made from them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from appliance_cases import SMALL, target

from burnerlab import tables
from burnerlab.appliance import (
    Appliance,
    category_supplies,
    convert_to,
    country_supplies,
    for_country,
    injectors,
    match_pressure,
    pressures_of,
    read_appliance_text,
    split_category,
    supplied,
    supply_pressures,
)
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.result import Finding
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.operation.supply_pressures import not_known
from burnerlab.appliance.study.injector_table import Supplied, market_supplies
from burnerlab.appliance.study.plate_fields import rating_plate
from burnerlab.bench.kit_list import kit_list
from burnerlab.gas import load
from burnerlab.quantity import UserError
from burnerlab.quantity.prose import in_reader_units
from burnerlab.report.injector_paper import injector_paper
from burnerlab.report.sheet.blocks import percent
from burnerlab.tables.verdict import Verdict


def test_low_nominal_and_high_are_in_order() -> None:
    found = [row for row in supply_pressures() if row.low_Pa is not None and row.high_Pa is not None]
    assert found
    for row in found:
        assert row.low_Pa < row.nominal_from_Pa <= row.nominal_to_Pa < row.high_Pa  # type: ignore[operator]


def test_every_reference_gas_belongs_to_its_family() -> None:
    from burnerlab.appliance.conversion.gas_facts import facts
    from burnerlab.quantity import PRESETS

    assert supply_pressures()
    for row in supply_pressures():
        known = facts(load(row.reference_gas), PRESETS["ISO_15_15"])
        assert row.family in known.families, (row.category, row.reference_gas, known.families)


@pytest.mark.parametrize(
    ("category", "groups"),
    [
        ("I2H", ("2H",)),
        ("II2H3B/P", ("2H", "3B/P")),
        ("II2E+3+", ("2E+", "3+")),
        ("II1a2H", ("1a", "2H")),
        ("III1a2H3B/P", ("1a", "2H", "3B/P")),
        ("I2ELL", ("2E", "2LL")),
        ("I2EK", ("2E", "2K")),
        ("II2HS3B/P", ("2H", "2S", "3B/P")),
        ("II2ELwLs3B/P", ("2E", "2Lw", "2Ls", "3B/P")),
        ("III1ab2H3+", ("1a", "1b", "2H", "3+")),
        ("I2E(S)B", ("2E(S)B",)),
        ("LP", ("LP",)),
    ],
)
def test_a_category_is_taken_apart(category: str, groups: tuple[str, ...]) -> None:
    assert split_category(category) == groups


@pytest.mark.parametrize("category", ["II2H", "I2H3P", "II2Q3P", "III2H3P"])
def test_a_category_that_does_not_count_up_is_refused(category: str) -> None:
    with pytest.raises(UserError, match="not an appliance category"):
        split_category(category)


@pytest.mark.parametrize(
    ("pressure", "families", "category", "found"),
    [
        (2000.0, ("2", "2H", "2E"), "", ("2H", 1700.0, 2500.0)),
        (2800.0, ("3", "3B"), "", ("3B/P", 2500.0, 3500.0)),
        (3000.0, ("3", "3B"), "I3+", ("3+", 2000.0, 3500.0)),
        (3700.0, ("3", "3P"), "", ("3P", 2500.0, 4500.0)),
        (3700.0, ("3", "3P"), "I3+", ("3+", 2500.0, 4500.0)),
        (6700.0, ("3", "3P"), "", ("3+", 5000.0, 8000.0)),
        (800.0, ("1", "1a"), "", ("1a", 600.0, 1500.0)),
    ],
)
def test_a_gas_and_pressure_find_their_row(
    pressure: float, families: tuple[str, ...], category: str, found: tuple[str, float, float]
) -> None:
    row = match_pressure(pressure, families, category)
    assert row is not None
    assert (row.category, row.low_Pa, row.high_Pa) == found


@pytest.mark.parametrize(
    ("country", "group", "gas", "nominal_mbar", "wobbe"),
    [  # nominal Wobbe index that the country prints (PN-C-04753, Decree 139/2009); of 2K its range (2016/C 44/07)
        ("PL", "2Lw", "G27", 20, (39.4, 0.4)),
        ("PL", "2Ls", "G2.350", 13, (33.2, 0.2)),
        ("HU", "2S", "G25.1", 25, (39.11, 0.03)),
        ("NL", "2K", "G25.3", 25, (42.1, 0.87)),
    ],
)
def test_a_group_that_one_country_alone_has(
    country: str, group: str, gas: str, nominal_mbar: float, wobbe: tuple[float, float]
) -> None:
    from burnerlab.appliance.conversion.gas_facts import facts
    from burnerlab.quantity import PRESETS

    known = facts(load(gas), PRESETS["ISO_15_15"])
    assert known.wobbe_15_15_J_per_m3 / 1e6 == pytest.approx(wobbe[0], abs=wobbe[1])
    assert group in {row.category for row in for_country(country).supplies}
    row = match_pressure(100.0 * nominal_mbar, known.families, region="eu", gas=gas)
    assert row is not None
    assert (row.category, row.reference_gas, row.region) == (group, gas, country)
    other = match_pressure(100.0 * nominal_mbar, known.families, region="eu", gas="of nobody")
    assert other is None or not other.is_national


def _family_of(cart: Appliance, gas: str, pressure_mbar: float) -> Finding:
    found = convert_to(cart, target(gas, 100.0 * pressure_mbar)).findings
    return next(one for one in found if one.topic == "gas family")


def test_a_gas_of_a_country_s_own_group_lies_in_it(cart: Appliance) -> None:
    on_Ls = _family_of(cart, "G2.350", 13.0)
    assert on_Ls.verdict is Verdict.WITHIN
    assert (on_Ls.low, on_Ls.high) == (30.8, 35.6)
    assert "Ls of Poland; supplied as 2Ls" in on_Ls.text
    elsewhere = _family_of(cart, "G2.350", 20.0)
    assert elsewhere.verdict is Verdict.OUTSIDE
    assert "common to Europe, in the range of 2Ls of Poland" in elsewhere.text


def test_what_has_no_known_pressure_is_said() -> None:
    assert not_known("II2ELwLs3B/P", ["PL"]) == not_known("II2EK3B/P", ["NL"]) == ()
    assert [line.partition(":")[0] for line in not_known("", ["IT", "DE", "SE"])] == ["Italy", "Sweden"]


def test_a_pressure_no_supply_has_finds_none() -> None:
    assert match_pressure(2300.0, ("2", "2H")) is None
    assert match_pressure(2000.0, ()) is None


def test_north_american_pressures_are_in_inches_of_water() -> None:
    natural, lp = for_country("US").supplies
    assert (natural.low_Pa, natural.nominal_Pa, natural.high_Pa) == pytest.approx(
        tuple(249.08891 * inches for inches in (3.5, 7, 10.5))
    )
    assert lp.nominal_Pa == pytest.approx(11 * 249.08891)


def test_every_country_supplies_what_its_categories_ask_for() -> None:
    countries = [for_country(row["country"]) for row in tables.rows("countries")]
    assert any(country.categories for country in countries)
    for country in countries:
        supplied_groups = {supply.category for supply in country.supplies}
        for category in country.categories:
            assert set(split_category(category)) <= supplied_groups, (country.code, category)


def test_countries_are_found_by_name_and_refused_with_a_guess() -> None:
    assert for_country("germany").code == "DE"
    with pytest.raises(UserError, match="no such country"):
        for_country("Atlantis")


def test_denmark_uses_its_own_notification() -> None:
    assert "C 94/6" in for_country("DK").supplies[0].source
    assert [row.reference_gas for row in pressures_of("II2H3B/P", ["DK"])] == ["G20", "G30"]


def test_butane_and_propane_of_one_category_burn_through_one_orifice(cart: Appliance) -> None:
    """3B/P of Germany, 50 mbar: propane stands beside butane with the same orifices, and 12 % less (EN 437, memory)."""
    table = injectors(cart, country_supplies("DE"))
    butane, propane, alone = (
        [row for row in table.rows if row.supply.startswith(words)]
        for words in ("3B/P, G30 at 50", "3B/P, G31 at 50", "3P, G31 at 50")
    )
    assert [row.fitted for row in propane] == [row.fitted for row in butane] != [row.fitted for row in alone]
    for first, second in zip(butane, propane, strict=True):
        assert second.heat_input_gross_W / first.heat_input_gross_W == pytest.approx(0.88, abs=0.01)
        assert second.deviation == pytest.approx(first.deviation, abs=1e-3)
    assert table.deviation_head == "From the aim"
    assert "what the orifices of the first gas leave" in table.aim_note


def test_a_pressure_without_a_known_range_says_none() -> None:
    poland = {supply.category: supply for supply in for_country("PL").supplies}
    assert poland["3B/P"].low_Pa is None
    assert poland["3B/P"].nominal_Pa == pytest.approx(3700)


def test_the_injector_table_has_a_row_for_each_gas_pressure_altitude_and_burner(cart: Appliance) -> None:
    supplies = country_supplies("IT")
    table = injectors(cart, supplies, (0.0, 1500.0))
    assert len(table.rows) == len(supplies) * 2 * 6
    assert any("EN 437" in source for source in table.sources)
    for row in table.rows:
        assert row.injector_mark == round(row.orifice_diameter_m * 1e5)
        assert abs(row.deviation) < 0.05  # the band of the file
        value, unit = row.consumption.split()
        assert unit == ("g/h" if row.gas in ("G30", "G31") else "L/h")
        assert float(value) > 0


def test_an_injector_row_agrees_with_the_conversion(cart: Appliance) -> None:
    row = injectors(cart, [supplied("G31", 3700.0)]).rows[0]
    burner = convert_to(cart, target("G31", 3700.0)).burners[0]
    assert row.exact_diameter_m == pytest.approx(burner.to_orifice_m, rel=1e-12)
    assert row.drill == burner.choice.drill


def test_table_card_plate_and_kit_name_one_orifice(cart: Appliance) -> None:
    """By market: in that of Europe a drill in millimetres goes before a number that is nearer (rear burner)."""
    plate, kits = rating_plate(cart, ["B"]), kit_list(cart, ["B"])
    fitted = {row.burner: row.fitted for row in injectors(cart, market_supplies(cart)[1:2]).rows}
    assert fitted == {one.burner: one.mark for one in kits.kits[0].leaflet[: len(fitted)]}
    marks = {one.burner: one.text for one in plate.fields if one.name == "injector mark of burner"}
    assert fitted == marks
    assert fitted["rear burner"] == "0.80 mm, mark 80"
    same = injectors(cart, [supplied("G30", 2900.0)]).rows  # that market, by its gas and pressure
    assert {row.burner: row.fitted for row in same} == fitted
    american = injectors(cart, market_supplies(cart)[:1]).rows[0]
    assert american.fitted == "1.00 mm"
    assert in_reader_units(american.gas_at_pressure, "US") == "Propane, pure at 11.0 in w.c."
    assert in_reader_units(supplied("propane", 1743.62).words, "US").endswith("7.00 in w.c.")


def test_consumption_of_a_known_injector_is_the_rate_over_the_heating_value() -> None:
    row = injectors(read_appliance_text(SMALL), category_supplies("I3P", ["GB"])).rows[0]
    grams, unit = row.consumption.split()
    assert unit == "g/h"
    assert float(grams) == pytest.approx(row.heat_input_gross_W / 50.37e6 * 3.6e6, rel=3e-3)  # three digits
    in_pounds = float(row.consumption.in_system("US").split()[0])  # of the flow, not of the grams printed
    assert in_pounds == pytest.approx(row.mass_flow_kg_per_s * 3600 / 0.45359237, rel=1e-3)


def test_the_present_orifice_is_that_of_the_file(cart: Appliance) -> None:
    """Bored up by hand to a #50: the table says so on the present supply, and what it then gives."""
    bored = replace(cart.burners[0].orifice, drill="#50", diameter_m=0.0700 * 0.0254)
    changed = replace(cart, burners=(replace(cart.burners[0], orifice=bored),))
    here = Supplied(gas=cart.supply.gas, gauge_pressure_Pa=cart.supply.gauge_pressure_Pa)
    row = injectors(changed, [here]).rows[0]
    assert row.drill == "#50"
    present = convert_to(changed, target("propane", 2740.0)).burners[0].from_predicted_gross_W
    assert row.heat_input_gross_W == pytest.approx(present, rel=1e-9)
    assert row.fitted == "#50 as built is outside its band, do not fit"
    assert row.none_fits.startswith("as built +")
    paper = injector_paper(injectors(changed, [here]), "")
    assert paper.headline[0] == (
        "OUTSIDE",
        "Typical pipeline natural gas at 17.4 mbar: the orifice as built is outside its band, do not leave it in: "
        "griddle tube left",
    )
    printed = paper.tables[1].rows[0]
    assert (printed[3], printed[6]) == (row.fitted_or_not, percent(row.deviation))
    kept = injectors(replace(cart, burners=cart.burners[:1]), [here]).rows[0]
    assert (kept.is_as_built, kept.none_fits) == (True, "")
    assert injectors(changed, [here], drills=("metric",)).rows[0].drill.endswith(" mm")
    (none,) = injectors(changed, [here], drills=("#80",)).outside
    assert none.endswith("no orifice fits, do not fit: griddle tube left")


def test_the_checks_of_an_orifice_as_built_are_its_own(cart: Appliance) -> None:
    """A burner bored up to a #50 blows off; the drill that a conversion would take does not."""
    bored = replace(cart.burners[0].orifice, drill="#50", diameter_m=0.0700 * 0.0254)
    changed = replace(cart, burners=(replace(cart.burners[0], orifice=bored), *cart.burners[1:]))
    here = Supplied(gas=cart.supply.gas, gauge_pressure_Pa=cart.supply.gauge_pressure_Pa)
    (row, *others), (of_file, *_) = (injectors(one, [here]).rows for one in (changed, cart))
    at = ConversionTarget(gas=here.gas, gauge_pressure_Pa=here.gauge_pressure_Pa, drills=("#50",))
    alone = evaluate_conversion(convert_to(replace(changed, burners=changed.burners[:1]), at))
    assert row.checks_outside == ", ".join(
        dict.fromkeys(one.topic for one in alone.outside_of(alone.burners[0]))
    )
    assert row.checks_outside != of_file.checks_outside
    assert [one.drill for one in others] == [one.orifice.drill for one in cart.burners[1:]]


def test_higher_pressures_and_places(cart: Appliance) -> None:
    low, high = (injectors(cart, [supplied("G31", p)]).rows[0].injector_mark for p in (3000.0, 5000.0))
    assert high < low
    valley, mountain = (
        row.injector_mark
        for row in injectors(cart, [supplied("G31", 3700.0)], (0.0, 2500.0), altitude_policy="none").rows[::6]
    )
    assert mountain > valley
