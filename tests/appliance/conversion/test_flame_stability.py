"""From the project file to the burner's air, ports and limits, and back to findings of the appliance."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from burnerlab.appliance import ConversionTarget, changed, convert, demonstration, read_appliance_text
from burnerlab.appliance.conversion.flame_stability import (
    HIGHEST,
    TURNDOWN,
    burner_stability,
    geometry_of,
    shutter_search,
    stabilities,
    stability_diagram,
)
from burnerlab.gas import DeclaredGas, load
from burnerlab.quantity import UserError

CART = demonstration()
PROPANE = ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0)
FILE = """
[appliance]
name = "one"
rating = "gross"
[supply]
gas = "propane"
pressure = "2.74 kPa"
[[burner]]
name = "bar"
rate = "3 kW"
orifice = { diameter = "0.94 mm" }
"""


def one_burner(text: str):
    return read_appliance_text(FILE + text, Path("one.toml"))


def test_the_file_gives_the_geometry_its_figures() -> None:
    made = one_burner(
        'ports = { width = "0.6 mm", length = "8 mm", count = 60, depth = "2 mm", temperature = "150 C",'
        " discharge = 0.7 }\n"
        'throat = "14 mm"\ntube_loss = 0.8\n'
        'shutter = { opening = "50 %", area = "200 mm2", loss = 1.2 }\n'
    )
    found = geometry_of(made, made.burners[0])
    assert (found.port_width_m, found.slot_length_m, found.port_count) == pytest.approx((0.6e-3, 8e-3, 60))
    assert float(found.port_area_m2) == pytest.approx(60 * 0.6e-3 * 8e-3)
    assert found.port_temperature_K == pytest.approx(423.15)
    assert (found.port_discharge, found.tube_loss, found.inlet_loss) == (0.7, 0.8, 1.2)
    assert (found.shutter_area_m2, found.shutter_opening) == pytest.approx((200e-6, 0.5))
    assert (found.orifice_coefficient, found.orifice_coefficient_low, found.orifice_coefficient_high) == (
        0.9,
        0.85,
        0.95,
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('ports = { count = 60 }', "are either round or slots"),
        ('ports = { diameter = "1.6 mm", width = "1 mm", count = 60 }', "are either round or slots"),
        ('ports = { diameter = "1.6 mm", length = "8 mm", count = 60 }', "are either round or slots"),
        ('ports = { width = "0.6 mm", count = 60 }', "are either round or slots"),
        ('ports = { diameter = "1.6 mm", count = 60, temperature = "150" }', "unit"),
        ('ports = { diameter = "1.6 mm", count = 60, temperature = "3000 C" }', "temperature"),
        ('tube_loss = -1', "must lie in 0 to 20"),
        ('shutter = { opening = "50 %", area = "2 m2" }', "area"),
        ('shutter = { opening = "50 %", loss = nan }', "finite"),
    ],
)  # fmt: skip
def test_what_cannot_be_a_burner_is_refused_with_its_line(text: str, words: str) -> None:
    with pytest.raises(UserError, match=words) as caught:
        one_burner(text)
    assert caught.value.problems[0].line > 0


def test_every_burner_of_the_demonstration_has_its_air() -> None:
    for found in stabilities(CART):
        assert found.full is not None
        assert found.kind == "tile" or 0.4 < float(found.full.primary_aeration) < 0.65
        assert {finding.burner for finding in found.findings} == {found.name}


def test_turndown_and_highest_pressure_are_looked_at() -> None:
    supplied = replace(
        CART, supply=replace(CART.supply, high_gauge_pressure_Pa=2000.0, low_gauge_pressure_Pa=1500.0)
    )
    found = burner_stability(supplied, supplied.burners[0])
    full, low, high = found.full, found.at(TURNDOWN), found.at(HIGHEST)
    assert full is not None
    assert low is not None
    assert high is not None
    assert float(low.port_loading_W_per_mm2) == pytest.approx(float(full.port_loading_W_per_mm2) / 3)
    assert float(high.port_loading_W_per_mm2) > float(full.port_loading_W_per_mm2)


def test_a_burner_without_ports_or_a_gas_without_composition_says_what_is_missing() -> None:
    bare = burner_stability(CART, replace(CART.burners[0], ports=None))
    assert bare.full is None
    assert {missing.topic for missing in bare.not_evaluated} >= {"lift", "light-back", "primary aeration"}
    assert all("ports" in missing.why for missing in bare.not_evaluated)
    declared = load("trade-propane-2500")
    assert isinstance(declared, DeclaredGas)
    blind = stabilities(replace(CART, supply=replace(CART.supply, gas=declared)))
    assert all("heating value" in missing.why for found in blind for missing in found.not_evaluated)


def test_the_tile_is_left_to_its_own_model() -> None:
    tile = next(found for found in stabilities(CART) if found.kind == "tile")
    assert any("tile" in missing.why for missing in tile.not_evaluated if missing.topic == "lift")
    assert not [finding for finding in tile.findings if finding.topic in ("port loading", "primary aeration")]


def test_the_conversion_tells_the_same_air_as_the_burner_itself() -> None:
    after = changed(CART, PROPANE)
    conversion = convert(CART, load("propane"), 2740.0)
    for name, result in ((burner.name, burner) for burner in conversion.burners):
        for appliance, told in (
            (CART, result.primary_aeration_before),
            (after, result.primary_aeration_after),
        ):
            (found,) = stabilities(appliance, names=[name])
            assert found.full is not None
            assert told == pytest.approx(float(found.full.primary_aeration), rel=2e-3)


def test_a_throttled_shutter_turns_the_advice_round() -> None:
    """With a free inlet propane draws a larger share of its air than natural gas; through a throttled one a smaller."""
    free = replace(CART, burners=tuple(replace(burner, shutter=None) for burner in CART.burners))
    burner = convert(free, load("propane"), 2740.0).burners[3]
    assert burner.primary_aeration_before is not None
    assert burner.primary_aeration_after is not None
    throttled = convert(CART, load("propane"), 2740.0).burners[3]
    assert throttled.primary_aeration_before is not None
    assert throttled.primary_aeration_after is not None
    ratios = [b.primary_aeration_after / b.primary_aeration_before for b in (burner, throttled)]
    assert ratios[1] < ratios[0]
    assert ratios[1] < 1.0


def test_the_diagram_of_a_conversion_has_both_gases_and_its_arrow() -> None:
    found = stability_diagram(CART, changed(CART, PROPANE), "stock-pot ring")
    assert found is not None
    assert found.gases == ("natural-gas-typical", "propane")
    assert found.arrow is not None
    assert found.arrow.end.gas == "propane"
    assert stability_diagram(CART, None, "stock-pot ring").gases == ("natural-gas-typical",)  # type: ignore[union-attr]


def test_the_shutter_search_looks_at_both_gases_with_a_drill_each() -> None:
    found = shutter_search(CART, "stock-pot ring", [(load("propane"), 2740.0)])
    assert found is not None
    assert [stretch.gas for stretch in found.stretches] == ["natural-gas-typical", "propane"]
    assert found.stretches[0].orifice == "#44"
    assert found.exists
    assert 0.3 < found.low < found.high < 1.0 or found.stretches[0].not_evaluated
