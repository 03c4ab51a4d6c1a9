"""A product line: what the set says of a burner is what a conversion of that burner with that drill says."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from burnerlab.appliance import convert_to, demonstration
from burnerlab.appliance.conversion.markets import convert_market, market_named
from burnerlab.appliance.conversion.refusal import refusals
from burnerlab.appliance.project.model import Appliance, MarketSupply
from burnerlab.appliance.study.product_line import (
    LESS_ON_SECOND,
    InputEnds,
    ProductLine,
    model_names,
    product_line,
)
from burnerlab.gas import load
from burnerlab.orifice.drill import drill_list
from burnerlab.report.line_paper import line_paper
from burnerlab.tables.problem import UserError

ENDS = InputEnds(low=-0.25, high=0.25)
CLOSE = 1e-9


@pytest.fixture(scope="module")
def cart() -> Appliance:
    return demonstration()


@pytest.fixture(scope="module")
def line(cart: Appliance) -> ProductLine:
    return product_line([cart], ends=ENDS)


def test_each_use_is_the_conversion_with_that_drill(cart: Appliance, line: ProductLine) -> None:
    """The deviation of every gas, and the inputs at both ends of pressure and tolerance, within band and ends."""
    for name in ("A", "B"):
        market = market_named(cart, name)
        uses = {use.demand.burner: use for use in line.uses if use.demand.market == market.name}
        for i, target in enumerate(market.targets):
            for burner in market.appliance.burners[:3]:
                use = uses[burner.name]
                alone = replace(market.appliance, burners=(burner,))
                [made] = convert_to(alone, replace(target, drills=(use.drill.name,))).burners
                assert made.drill_deviation == pytest.approx(use.deviations[i], abs=CLOSE)
                here = (name, target.gas.name, burner.name)
                (fitted,) = [
                    one
                    for one in line.fitted
                    if (market_named(cart, one.market).letter, one.gas, one.burner) == here
                ]
                assert fitted.heat_input_gross_W == pytest.approx(made.predicted_gross_W)
                assert fitted.heat_input_net_W == pytest.approx(made.predicted_net_W)
                smallest = made.choice.drill_tolerance_low_gross_W / made.choice.heat_input_gross_W
                largest = made.choice.drill_tolerance_high_gross_W / made.choice.heat_input_gross_W
                assert made.predicted_low_gross_W is not None
                assert made.predicted_high_gross_W is not None
                assert made.predicted_low_gross_W * smallest >= (1.0 + ENDS.low - CLOSE) * made.aim_gross_W
                assert made.predicted_high_gross_W * largest <= (1.0 + ENDS.high + CLOSE) * made.aim_gross_W
                assert made.predicted_gross_W * smallest >= (0.95 - CLOSE) * made.aim_gross_W
                if i == 0:
                    assert made.predicted_gross_W * largest <= (1.05 + CLOSE) * made.aim_gross_W


def test_the_ends_of_the_bore_are_where_the_limit_is_met(cart: Appliance, line: ProductLine) -> None:
    """A drill of exactly the least bore gives the low end of the band, one of the largest its high end."""
    market = market_named(cart, "A")
    use = line.uses[0]
    alone = replace(market.appliance, burners=market.appliance.burners[:1])
    for bore_m, share in ((use.demand.low_m, -0.05), (use.demand.high_m, 0.05)):
        [made] = convert_to(alone, replace(market.target, drills=(f"{1e3 * bore_m:.9f} mm",))).burners
        assert made.drill_deviation == pytest.approx(share, abs=1e-7)


def test_one_orifice_for_both_gases_of_a_couple(line: ProductLine) -> None:
    of_couple = [use for use in line.uses if use.demand.market == "continental, third family"]
    assert len(of_couple) == 6
    assert all(len(use.deviations) == len(use.demand.exact_m) == 2 for use in of_couple)
    assert line.outside == ()


def test_the_same_model_twice_needs_no_more(cart: Appliance, line: ProductLine) -> None:
    both = product_line([cart, replace(cart, model="wide")], ends=ENDS)
    assert (both.count, len(both.uses)) == (line.count, 2 * len(line.uses))
    assert both.rms_deviation == pytest.approx(line.rms_deviation)
    assert model_names([cart, cart]) != model_names([cart])


def test_ends_only_take_bores_away(cart: Appliance, line: ProductLine) -> None:
    free = product_line([cart])
    assert free.count <= line.count
    narrow = product_line([cart], ends=InputEnds(low=-0.08, high=0.04))
    assert len(narrow.unserved) > len(line.unserved) == 0
    assert any("not limited" in note for note in free.notes)
    for one in narrow.unserved:
        near = [each.drill for each in one.nearest]
        assert len(near) == 2
        assert near[0].diameter_m < near[1].diameter_m


def test_what_the_stock_lacks_is_bought_and_no_more(
    cart: Appliance, tmp_path: Path, line: ProductLine
) -> None:
    stock = tmp_path / "stock.csv"
    stock.write_text("part,size,price\nP-1,1.00 mm,2\nP-2,0.85 mm,3\n", encoding="utf-8")
    own = replace(cart, tables=replace(cart.tables, stock=stock))
    alone = product_line([own])
    assert {use.drill.part for use in alone.uses} == {"P-1", "P-2"}
    assert len(alone.uses) + len(alone.unserved) == len(line.uses)
    lists = drill_list("number", "fraction", "metric")
    bought = product_line([own], to_buy=lists)
    assert not bought.unserved
    assert {"1.00 mm", "0.85 mm"} <= {drill.name for drill in bought.best.drills if drill.part}
    without = product_line([cart], drills=lists)
    assert without.count - 2 <= len(bought.to_buy) < without.count
    cheapest = product_line([own], aim="cheapest")
    assert cheapest.best.price == pytest.approx(
        sum((use.drill.price or 0.0) * use.demand.quantity for use in alone.uses)
    )
    row = next(each for each in cheapest.sizes if each.count == cheapest.count)
    assert (row.rms_deviation, row.price) == (cheapest.best.rms_deviation, cheapest.best.price)
    (sizes,) = (each for each in line_paper(cheapest, "").tables if "one orifice more" in str(each.caption))
    (own,) = (each for each in sizes.rows if "this set" in str(each[0]))
    assert float(own[-1]) == pytest.approx(cheapest.best.price)
    with pytest.raises(UserError, match="has no price"):
        product_line([cart], aim="cheapest")


def test_a_kit_of_the_line_has_every_orifice_of_its_market_with_what_they_weigh(
    cart: Appliance, tmp_path: Path, line: ProductLine
) -> None:
    stock = tmp_path / "stock.csv"
    rows = [f"P-{n},{use.drill.name},4.{n:02d}" for n, use in enumerate(line.uses[:6])]
    stock.write_text("part,size,mass_g\n" + "\n".join(rows) + "\n", encoding="utf-8")
    twice = tuple(replace(b, count=2) if b.name == "rear burner" else b for b in cart.burners)
    found = product_line([replace(cart, burners=twice, tables=replace(cart.tables, stock=stock))])
    of_market = [one for one in found.kits if one.market == "bottled propane"]
    assert sorted(name for one in of_market for name in one.burners) == sorted(b.name for b in cart.burners)
    assert sum(one.pieces for one in of_market) == 7
    paper = line_paper(found, "")
    mass_g = sum(1e3 * one.pieces * (one.drill.mass_kg or 0.0) for one in of_market)
    (kit,) = [one for one in paper.tables if one.caption.startswith("Kit: ")]
    assert kit.caption.endswith(f"bottled propane. Orifices: 7; {mass_g:.2f} g")
    assert {row[1] for row in kit.rows} == {one.drill.part for one in of_market}
    assert [one.demand.market for one in found.unserved]  # the stock has none for some of the other market
    (stop,) = paper.stops
    assert "Pack nothing" in stop
    assert all(one.demand.burner in stop and one.demand.market in stop for one in found.unserved)
    (of_model,) = [one for one in paper.tables if one.caption == found.models[0]]
    assert [row[0] for row in of_model.rows] == [b.name for b in cart.burners]
    assert sum(cell == "no orifice serves" for row in of_model.rows for cell in row) == len(found.unserved)


def test_orifices_for_an_altitude_say_so_before_the_kits(cart: Appliance) -> None:
    high = replace(cart.markets[0], altitude_m=2000.0, altitude_policy="4-percent-from-sea-level")
    found = product_line([replace(cart, markets=(high,))])
    assert len(found.altitude) == 1
    paper = line_paper(found, "")
    assert ("Altitude", found.altitude[0]) in paper.headline
    of_market = [one.caption for one in paper.tables if one.caption.startswith(("Kit: ", "Orifice table: "))]
    assert len(of_market) == 2
    assert all(one.endswith("These orifices are for 6562 ft (2000 m) only.") for one in of_market)


def test_a_model_without_markets_says_what_it_lacks(cart: Appliance) -> None:
    with pytest.raises(UserError, match=r"\[\[market\]\]"):
        product_line([replace(cart, markets=())])


SHARES = (0.0, 0.02, -0.03)  # of a bore from the exact one


@pytest.mark.parametrize(
    ("rate", "droop", "band"), [(1.0, 1.0, 0.05), (1.4, 4.0, 0.05), (1.1, 8.0, 0.08), (2.2, 1.0, 0.05)]
)
def test_a_conversion_and_the_line_find_no_orifice_for_the_same_burners(
    cart: Appliance, tmp_path: Path, rate: float, droop: float, band: float
) -> None:
    """Of one stock without tolerances, whatever the supply takes; what the line serves the conversion serves too."""
    train = cart.supply.train
    assert train is not None
    assert train.regulator is not None
    regulator = replace(train.regulator, droop_Pa=droop * train.regulator.droop_Pa)
    limits = replace(cart.limits, tolerance=replace(cart.limits.tolerance, low=-band, high=band))
    large = replace(
        cart,
        burners=tuple(replace(b, rate_W=rate * b.rate_W) for b in cart.burners[::2]),
        supply=replace(cart.supply, train=replace(train, regulator=regulator)),
        limits=limits,
    )
    exact = [
        step.sized.diameter_m for name in "AB" for step in convert_market(market_named(large, name))[0].steps
    ]
    bores = sorted({round(1e3 * bore * (1.0 + SHARES[n % 3]), 3) for n, bore in enumerate(exact)})
    stock = tmp_path / "stock.csv"
    stock.write_text(
        "part,bore,minus,plus\n" + "".join(f"P{bore},{bore} mm,0,0\n" for bore in bores), encoding="utf-8"
    )
    own = replace(large, tables=replace(large.tables, stock=stock))
    found = product_line([own])
    refused = {
        (market, burner)
        for market in ("A", "B")
        for made in convert_market(market_named(own, market))
        for burner in refusals(made)
    }
    names = {market_named(own, letter).name: letter for letter in "AB"}
    assert {(names[one.demand.market], one.demand.burner) for one in found.unserved} == refused
    assert 0 < len(refused) < len(found.uses) + len(found.unserved)


def test_the_line_chooses_no_orifice_that_the_supply_takes_out_of_the_band(cart: Appliance) -> None:
    """At 2.2 times the ratings the supply alone takes more than the band of three of six; the windows say so."""
    large = replace(cart, burners=tuple(replace(b, rate_W=2.2 * b.rate_W) for b in cart.burners))
    found, (made,) = product_line([large], markets=["A"]), convert_market(market_named(large, "A"))
    assert [one.demand.burner for one in found.unserved] == list(refusals(made))
    assert found.unserved
    for one in found.unserved:
        assert one.demand.least_m is not None
        assert one.demand.least_m > one.demand.low_m
    paper = line_paper(found, "")
    (rows,) = [one.rows for one in paper.tables if one.caption == "Served by no orifice"]
    assert len(rows) == len(found.unserved)


def test_the_other_gas_of_a_couple_above_its_band_is_named_and_one_that_gives_less_moves_no_bore(
    cart: Appliance,
) -> None:
    """After G20 at 20 mbar, G25 at 25 mbar gives some 8 % less, its aim there; the other way round G20 is too much."""
    first, second = cart.markets[1].supply
    weak, strong = (
        replace(one, gas=load(gas), gauge_pressure_Pa=pressure_Pa)
        for one, gas, pressure_Pa in ((second, "G25", 2500.0), (first, "G20", 2000.0))
    )

    def line_of(*supply: MarketSupply) -> ProductLine:
        return product_line([replace(cart, markets=(replace(cart.markets[1], supply=supply, category=""),))])

    kept, alone = line_of(strong, weak), line_of(strong)
    assert kept.outside == ()
    assert [use.drill for use in kept.uses] == [use.drill for use in alone.uses]
    assert all(max(map(abs, use.deviations)) < 0.05 for use in kept.uses)
    assert LESS_ON_SECOND in kept.notes
    assert LESS_ON_SECOND not in alone.notes
    above = line_of(weak, strong)
    assert len(above.outside) == len(above.uses)
    assert all("on G20, the other gas of the couple, is outside" in words for words in above.outside)


def test_the_second_gas_of_a_couple_holds_the_low_end_of_its_band_as_made(cart: Appliance) -> None:
    """G31 at 37 mbar gives less than G30 at 30 mbar here: the least bore of the couple is that of G31."""
    first, second = cart.markets[1].supply
    pair = tuple(
        replace(one, gas=load(gas), gauge_pressure_Pa=pressure_Pa)
        for one, gas, pressure_Pa in ((first, "G30", 3000.0), (second, "G31", 3700.0))
    )
    market = replace(cart.markets[1], supply=pair, category="")
    (use, *_) = product_line([replace(cart, markets=(market,))]).uses
    of_first, of_second = use.demand.exact_m
    assert of_second > of_first
    assert use.demand.low_m == pytest.approx(math.sqrt(0.95) * of_second, rel=1e-3)
