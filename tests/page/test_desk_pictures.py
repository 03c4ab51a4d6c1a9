"""Flames, supply and heat on the desk: pictures show what the rooms of burners, supply and layout answer."""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import numpy as np
import pytest
from desk_market import Market

from burnerlab.appliance import Appliance, ConversionTarget, demonstration, operate
from burnerlab.appliance.conversion.convert import changed
from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.burner.evaluation import evaluate
from burnerlab.gas import load
from burnerlab.layout.heat_map import heat_map, map_band
from burnerlab.layout.layout_study import layout_of
from burnerlab.page.desk_answer import DeskAnswer, first_answer, whole_answer
from burnerlab.page.desk_diagram import BOTTOM, LEFT, OPENINGS, RIGHT, TOP, shutter_airs
from burnerlab.page.desk_heat import heat_picture, heat_png, surface_map
from burnerlab.page.desk_supply import _market
from burnerlab.quantity import in_unit
from burnerlab.quantity.units import Kind
from burnerlab.tables.verdict import Verdict

MARKETS = (
    Market(
        letter="A", name="home", target=ConversionTarget(gas=load("propane"), gauge_pressure_Pa="11 in w.c.")
    ),
    Market(
        letter="B",
        name="mountain",
        target=ConversionTarget(
            gas=load("natural-gas-typical"), gauge_pressure_Pa="7 in w.c.", altitude_m="1600 m"
        ),
    ),
)
ON = (1, 4)


def _first(cart: Appliance) -> DeskAnswer:
    return first_answer(cart, [MARKETS[0].of(cart)], "metric")


@cache
def _answer() -> DeskAnswer:
    return whole_answer(first_answer(demonstration(), MARKETS, "metric"), ON, "/map/entry")


@cache
def _conversion(letter: str) -> Conversion:
    found = next(m.conversion for m in _answer().markets if m.letter == letter)
    assert found is not None
    return found


def _pictures(id: str, answer: DeskAnswer | None = None) -> Iterator[ElementTree.Element]:
    for text in re.findall(r"<svg viewBox.*?</svg>", (answer or _answer()).html()[id], re.DOTALL):
        picture = ElementTree.fromstring(text)
        if picture.get("role") == "img":
            yield picture


def _spots(picture: ElementTree.Element) -> list[tuple[float, float]]:
    """The middles of its points."""
    discs = [(float(p.get("cx", 0)), float(p.get("cy", 0))) for p in picture.iter("circle")]
    return discs + [(float(p.get("x", 0)) + 3, float(p.get("y", 0)) + 3) for p in picture.iter("rect")]


def test_burners_alike_share_a_panel_and_a_tile_has_none() -> None:
    heads = re.findall(r"<figcaption>([^<]*)</figcaption>", _answer().html()["flames"])
    assert heads == [
        "griddle tube left, griddle tube right",
        "griddle tube middle",
        "stock-pot ring",
        "rear burner",
    ]


def test_a_stability_diagram_is_a_picture_that_parses_with_every_point_in_its_frame() -> None:
    pictures = list(_pictures("flames"))
    assert len(pictures) == 4
    for picture in pictures:
        letters = [text.text for text in picture.iter("text") if text.get("font-weight") == "700"]
        assert letters == ["A", "B"]
        assert all(LEFT <= x <= RIGHT and TOP <= y <= BOTTOM for x, y in _spots(picture))
        assert all("style" not in one.attrib for one in picture.iter())
        words = picture.get("aria-label") or ""
        assert "lift" in words
        assert "(" in words


def test_no_point_lies_under_the_name_of_a_yellow_limit() -> None:
    """Three gases, whose points at turndown lie low, where the names stand."""
    cart = demonstration()
    for picture in _pictures("flames", whole_answer(first_answer(cart, targets_of(cart), "metric"), (), "")):
        names = [one for one in picture.iter("text") if (one.text or "").endswith("yellow tips")]
        assert len(names) == 3
        for name in names:
            x, y = float(name.get("x", 0)), float(name.get("y", 0))
            assert not [spot for spot in _spots(picture) if x < spot[0] < x + 75 and y - 11 < spot[1] < y]


def test_the_picture_sets_points_where_the_burner_works() -> None:
    """Across in the order of the air, and by a straight scale: three known airs lie on one line."""
    picture = next(_pictures("flames"))
    rings = {
        text.text: float(text.get("x", 0))
        for text in picture.iter("text")
        if text.get("font-weight") == "700"
    }
    ticks = {
        float(text.text or 0): float(text.get("x", 0))
        for text in picture.iter("text")
        if text.get("text-anchor") == "middle" and re.fullmatch(r"\d+", text.text or "")
    }
    slope, offset = np.polyfit(list(ticks.values()), list(ticks), 1)
    for letter, x in rings.items():
        evaluation = _conversion(str(letter)).evaluation
        assert evaluation is not None
        flames = evaluation.flames_of("griddle tube left")
        assert flames is not None
        full = flames.full("new")
        assert full is not None
        assert full.primary_aeration is not None
        assert slope * x + offset == pytest.approx(100 * full.primary_aeration.value, abs=0.1)


def test_the_range_of_the_shutter_is_that_of_the_burner_at_each_opening() -> None:
    evaluation = _conversion("A").evaluation
    assert evaluation is not None
    state = evaluation.diagrams[0].points[-1].state
    airs = shutter_airs(evaluation.diagrams[0].points[4].state)
    assert np.all(np.diff(airs) > 0.0)
    full = evaluation.diagrams[0].points[4]
    assert full.label == "full rate"
    opened = replace(full.state.geometry, shutter_opening=float(OPENINGS[-1]))
    again = evaluate(opened, state.fuel, full.gauge_pressure_Pa, state.surroundings)
    assert airs[-1] == pytest.approx(float(again.primary_aeration), rel=1e-6)


def test_every_margin_of_a_panel_stands_with_its_band() -> None:
    evaluation = _conversion("A").evaluation
    assert evaluation is not None
    flames = evaluation.flames_of("stock-pot ring")
    assert flames is not None
    warm = flames.warm_up("new")
    assert warm is not None
    assert warm.cold_lift_margin is not None
    text = _answer().texts["panel-4-A-lift"]
    value = float(text.partition(" ")[0])
    assert value == pytest.approx(warm.cold_lift_margin.value, rel=5e-3)
    assert re.match(r"[\d.]+ \([\d.]+ to (over )?[\d.]+\), cold, highest pressure", text)


@pytest.mark.parametrize("market", MARKETS, ids=lambda market: market.name)
def test_the_supply_with_some_burners_on_is_that_of_the_operation(market: Market) -> None:
    cart, texts = demonstration(), _answer().texts
    after = changed(cart, market.target)
    names = [cart.burners[place - 1].name for place in ON]
    for place, b in enumerate(operate(after, on=names).burners, start=1):
        shown = texts[f"supply-{market.letter}-{place}-chosen"]
        if b.on:
            at = float(in_unit(b.gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar"))
            assert float(shown) == pytest.approx(at, abs=0.051)
            rate, _, off = texts[f"supply-{market.letter}-{place}-chosen-rate"].partition(", ")
            assert float(rate.split()[0]) == pytest.approx(b.heat_input_gross_W / 1e3, abs=0.0051)
            assert b.deviation is not None
            assert float(off.split()[0].replace("−", "-")) == pytest.approx(100 * b.deviation, abs=0.0501)
            is_inside = abs(b.deviation) <= cart.limits.tolerance.high
            assert (texts[f"supply-{market.letter}-{place}-chosen-mark"] != Verdict.OUTSIDE) == is_inside
        else:
            assert shown == "off"


def test_lock_up_is_that_of_the_check() -> None:
    check = next(f for f in _conversion("A").findings if f.topic == "lock-up" and f.which_gas != "present")
    assert check.value is not None
    assert float(_answer().texts["supply-A-lock-up"]) == pytest.approx(check.value, abs=0.051)
    all_on = _market("A", _conversion("A"), "", [True] * 6, "metric")
    assert float(all_on.lock_up.text) == pytest.approx(check.value, abs=0.051)


def test_the_switches_say_who_burns() -> None:
    html = _answer().html()["supply"]
    assert re.findall(r'name="on-(\d)" value="yes" checked', html) == ["1", "4"]
    assert len(re.findall(r'<input type="checkbox" name="on-', html)) == 6


def _pixels(png: bytes) -> tuple[int, int, np.ndarray]:
    """Columns, rows and palette indices of a picture of ours; every checksum is checked."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    at, parts = 8, {}
    while at < len(png):
        (size,) = struct.unpack(">I", png[at : at + 4])
        kind, data = png[at + 4 : at + 8], png[at + 8 : at + 8 + size]
        assert struct.unpack(">I", png[at + 8 + size : at + 12 + size])[0] == zlib.crc32(kind + data)
        parts[kind] = data
        at += 12 + size
    columns, rows, depth, colour = struct.unpack(">IIBB", parts[b"IHDR"][:10])
    assert (depth, colour, len(parts[b"PLTE"])) == (8, 3, 768)
    lines = np.frombuffer(zlib.decompress(parts[b"IDAT"]), dtype=np.uint8).reshape(rows, columns + 1)
    assert not lines[:, 0].any()
    return columns, rows, lines[:, 1:]


@pytest.mark.parametrize("surface", ["griddle", "broiler grate"])
def test_a_map_and_its_picture_are_those_of_the_layout(surface: str) -> None:
    """The map of a watt, remembered and weighed, equals the map made whole; so do the ends of its measures."""
    c = _conversion("A")
    found = surface_map(c, surface)
    layout = layout_of(changed(demonstration(), MARKETS[0].target), surface)
    whole = heat_map(layout)
    np.testing.assert_allclose(found.flux_W_per_m2, whole.flux_W_per_m2, rtol=1e-12)
    band = map_band(whole).mean_W_per_m2
    assert min(one.mean for one in found.corners) == pytest.approx(band.low, rel=1e-9)
    assert max(one.mean for one in found.corners) == pytest.approx(band.high, rel=1e-9)
    space = demonstration().space
    assert space is not None
    number = 1 + [grate.name for grate in space.grates].index(surface)
    png = heat_picture(_answer().markets, f"A-{number}")
    assert png is not None
    columns, rows, indices = _pixels(png)
    assert (columns, rows) == (60, 40)
    flux = whole.flux_W_per_m2
    assert indices[::-1].flat[int(flux.argmax())] == 255
    assert indices[::-1].flat[int(flux.argmin())] == 0
    texts = _answer().texts
    assert float(texts[f"heat-{number}-dark"].split()[0]) == pytest.approx(flux.max() / 1e3, rel=5e-3)
    assert float(texts[f"heat-{number}-light"].split()[0]) == pytest.approx(flux.min() / 1e3, rel=5e-3)


def test_a_rate_weighs_the_map_anew() -> None:
    cart = demonstration()
    burners = tuple(replace(b, rate_W=2.0 * b.rate_W) for b in cart.burners)
    twice = whole_answer(_first(replace(cart, burners=burners)))
    before, after = (
        float(one.texts["heat-2-dark"].split()[0]) for one in (_answer(), twice)
    )  # the ring radiates a fixed share of its rate
    assert after == pytest.approx(2.0 * before, rel=0.01)


def test_a_market_at_altitude_has_the_heat_of_what_is_left_of_its_ratings() -> None:
    """Factor of the conversion; the same gas and surface at sea level, so the map is weighed by it alone."""
    high, cart = _conversion("B"), demonstration()
    assert high.altitude_policy_factor < 0.95
    target = replace(MARKETS[1].target, altitude_m=None)
    layout = layout_of(changed(cart, target), "griddle")
    found = surface_map(high, "griddle").flux_W_per_m2
    np.testing.assert_allclose(
        found.mean(), high.altitude_policy_factor * heat_map(layout).flux_W_per_m2.mean(), rtol=0.02
    )


def test_a_map_that_is_flat_and_a_picture_that_is_none() -> None:
    _, _, indices = _pixels(heat_png(np.full((3, 4), 7.0)))
    assert not indices.any()
    assert heat_picture(_answer().markets, "A-9") is None
    assert heat_picture(_answer().markets, "Z-1") is None
    assert heat_picture(_answer().markets, "A-x") is None


def test_pictures_stand_below_their_address() -> None:
    assert re.findall(r'<image href="([^"]*)"', _answer().html()["heat"]) == [
        f"/map/entry/A-{k}.png" for k in (1, 2, 3)
    ]


def test_an_appliance_without_places_says_what_a_map_needs() -> None:
    bare = replace(
        demonstration(), space=None, burners=tuple(replace(b, places=()) for b in demonstration().burners)
    )
    whole = whole_answer(_first(bare))
    assert "The file gives no cooking surface" in whole.html()["heat"]
    assert whole.texts["flame-5-A-margin"] == ""  # a tile without the size of its face
