"""One change of the demonstration at a time: direction, size and smoothness of what it does.

Each row changes one figure of the project file as a user would. Its range of effects is from first principles, which
the row names; no row is measured, and none says how a real burner behaves. Ranges were set down before the effect was
calculated, but for those of throat, shutter and light-back (gas with hydrogen, pressure): there the first estimate had
left out the loss of the air inlet and the slope of the burning velocity, and the range follows the fuller one.

The change is made in quarters: half of it gives between a quarter and three quarters of the effect, and no quarter more
than half.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import pairwise
from typing import Any, NamedTuple

import pytest

from burnerlab.appliance import Appliance, demonstration_path, operate, read_appliance_text
from burnerlab.appliance.conversion.flame_stability import TURNDOWN, BurnerStability, stabilities
from burnerlab.appliance.conversion.tiles import TileOnGas, tiles_at
from burnerlab.layout.carry_over import carry_over
from burnerlab.layout.heat_map import heat_map
from burnerlab.layout.hot_panels import skins
from burnerlab.layout.layout_study import layout_of

DEMONSTRATION = demonstration_path().read_text(encoding="utf-8")
SUPPLY, RING, MIDDLE, REAR = "[supply]", '"stock-pot ring"', '"griddle tube middle"', '"rear burner"'
TILE = '"tile broiler"'
GAS = '[supply]\ngas             = "natural-gas-typical"'
BLEND = '[gas]\nname = "blend"\nper = "mole"\ncomposition = {{ methane = {1}, hydrogen = {0} }}\n[supply]'


class Row(NamedTuple):
    """A figure of the file, what it becomes, and by how much what is looked at changes, relative [-]."""

    part: str  # of the file: the change is made behind this text
    old: str  # as the file has it
    new: str  # with {0} in place of the figure
    now: float
    then: float
    looked: str
    burner: str
    low: float
    high: float
    why: str


ROWS = (
    # the jet: continuity and Bernoulli through the orifice
    Row(RING, 'drill = "#44"', 'diameter = "{0} mm"', 2.184, 2.2932, "heat input", RING, 0.102, 0.103,
        "flow goes with the area of the hole at one coefficient: 1.05^2"),
    Row(RING, 'drill = "#44"', 'diameter = "{0} mm"', 2.184, 2.2932, "aeration", RING, -0.07, -0.03,
        "momentum balance: air over gas goes with throat over orifice, so nearly with 1/d"),
    Row(RING, 'drill = "#44"', 'diameter = "{0} mm"', 2.184, 2.2932, "wall gradient", RING, 0.03, 0.10,
        "gas +10 %, its air about +5 %: more mixture through the same ports"),
    Row(RING, 'drill = "#44"', 'diameter = "{0} mm"', 2.184, 2.2932, "yellow-tip margin", RING, -0.07, -0.03,
        "margin is the aeration over the least aeration of one gas"),
    Row(RING, 'rate     = "30 kBtu/h"', 'rate     = "{0} kBtu/h"', 30, 33, "heat input", RING, 0, 0,
        "what a plate says moves no gas"),
    Row(RING, 'rate     = "30 kBtu/h"', 'rate     = "{0} kBtu/h"', 30, 33, "input over rating", RING, -0.0910, -0.0908,
        "the same input against 1.1 times the rating"),
    Row(SUPPLY, 'pressure        = "7 in w.c."', 'pressure = "{0} in w.c."', 7, 8, "heat input", RING, 0.066, 0.070,
        "square root of the pressure, less a little for expansion: sqrt(8/7) = 1.0690"),
    Row(SUPPLY, 'pressure        = "7 in w.c."', 'pressure = "{0} in w.c."', 7, 8, "aeration", RING, 0.001, 0.02,
        "jet and losses go with one square, friction of the ports with less: air rises (seen: Namkhat, Jugjai)"),
    Row(SUPPLY, 'pressure        = "7 in w.c."', 'pressure = "{0} in w.c."', 7, 8, "lift margin", RING, -0.13, -0.05,
        "velocity in the ports +7 %, the profile develops later, the mixture a little leaner"),
    Row(SUPPLY, 'pressure        = "7 in w.c."', 'pressure = "{0} in w.c."', 7, 8, "light-back margin, open", MIDDLE,
        0.005, 0.13,
        "velocity in the ports +7 %; a mixture leaner by 0.3 % burns faster by five times that, squared"),
    Row(SUPPLY, 'altitude        = "0 m"', 'altitude = "{0} m"', 0, 1000, "heat input", RING, -0.062, -0.054,
        "square root of the density: the standard atmosphere gives 0.887 of the pressure, 0.942"),
    Row(SUPPLY, 'altitude        = "0 m"', 'altitude = "{0} m"', 0, 1000, "aeration", RING, -0.03, -0.001,
        "gas and air thin alike; viscosity over density rises, so friction weighs more"),
    Row(SUPPLY, 'altitude        = "0 m"', 'altitude = "{0} m"', 0, 1000, "port velocity", RING, 0.03, 0.065,
        "mass flow 0.942 at density 0.887: 1.062, less the air that friction takes"),
    Row(SUPPLY, 'gas_temperature = "15 C"', 'gas_temperature = "{0} C"', 15, 35, "heat input", RING, -0.035, -0.031,
        "one over the square root of the absolute temperature: (288.15/308.15)^0.5 = 0.967"),
    Row(SUPPLY, 'gas_temperature = "15 C"', 'gas_temperature = "{0} C"', 15, 35, "light-back margin, open", MIDDLE,
        -0.15, -0.03,
        "burning velocity goes with T^1.5 to 2 and counts squared, diffusivity with T^1.7, gas volume with T"),
    # the gas
    Row("[appliance]", GAS, BLEND, 0, 0.2, "heat input", RING, -0.07, -0.03,
        "Wobbe index of methane with 20 % hydrogen: 45.7 to 48.2 of 50.7 MJ/m3 (ISO 6976 figures)"),
    Row("[appliance]", GAS, BLEND, 0, 0.2, "aeration", RING, 0.03, 0.12,
        "stoichiometric air -15 %, entrained air with the square root of the density -9 %: +7 %"),
    Row("[appliance]", GAS, BLEND, 0, 0.2, "light-back margin, open", MIDDLE,
        -0.85, -0.15,
        "hydrogen and 7 % more air both raise the burning velocity, which counts squared"),
    Row("[appliance]", GAS, BLEND, 0, 0.2, "flame height", RING, -0.35, -0.05,
        "less heat a port, less air needed for a volume, more of it primary"),
    # ports
    Row(RING, 'diameter = "2.0 mm"', 'diameter = "{0} mm"', 2.0, 2.2, "port loading", RING, -0.1737, -0.1735,
        "heat over area: 1/1.21"),
    Row(RING, 'diameter = "2.0 mm"', 'diameter = "{0} mm"', 2.0, 2.2, "aeration", RING, 0.02, 0.12,
        "the mixture leaves through 1.21 times the area: less pressure before the ports"),
    Row(RING, 'diameter = "2.0 mm"', 'diameter = "{0} mm"', 2.0, 2.2, "wall gradient", RING, -0.25, -0.12,
        "8 V/D: V 1/1.21 with up to 10 % more air, D 1.1"),
    Row(RING, 'count = 280', 'count = {0:.0f}', 280, 308, "port loading", RING, -0.0910, -0.0908,
        "heat over area: 1/1.1"),
    Row(RING, 'count = 280', 'count = {0:.0f}', 280, 308, "aeration", RING, 0.01, 0.08,
        "1.1 times the area to leave by, each port slower"),
    Row(RING, 'count = 280', 'count = {0:.0f}', 280, 308, "flame height", RING, -0.18, -0.09,
        "height goes with the heat of one port, 1/1.1, and falls with more primary air"),
    Row(RING, 'depth = "4 mm"', 'depth = "{0} mm"', 4, 8, "aeration", RING, -0.10, -0.005,
        "friction along the wall of the port, from which the jet has to take its pressure"),
    Row(MIDDLE, 'depth = "3 mm"', 'depth = "{0} mm"', 3, 6, "aeration, turned down", MIDDLE, -0.15, -0.01,
        "laminar friction goes with the velocity, the jet's pressure with its square: it weighs more turned down"),
    # throat, shutter, turndown
    Row(RING, 'throat   = "23 mm"', 'throat = "{0} mm"', 10, 11, "aeration", RING, 0.02, 0.155,
        "far below the best throat the air goes with its diameter, power 1.5 where the tube's friction decides"),
    Row(RING, 'throat   = "23 mm"', 'throat = "{0} mm"', 23, 25.3, "aeration", RING, -0.10, -0.005,
        "beyond the best throat, sqrt(K/(Kp/Ap^2 + Ki/Ai^2)) in area, suction and back pressure act on more of it"),
    Row(RING, 'opening = "70 %"', 'opening = "{0} %"', 70, 80, "aeration", RING, 0.002, 0.143,
        "loss of the air inlet goes with one over its area squared; as the area if it were the only loss"),
    Row(RING, 'area = "310 mm2"', 'area = "{0} mm2"', 310, 341, "aeration", RING, 0.002, 0.10,
        "1.1 times the area of the inlet: as 70 to 77 % open"),
    Row(RING, 'opening = "70 %"', 'opening = "{0} %"', 70, 80, "heat input", RING, 0, 0,
        "the gas is metered by its orifice; the inlet stands at room pressure"),
    Row(RING, 'turndown = "20 %"', 'turndown = "{0} %"', 20, 25, "aeration, turned down", RING, 0.001, 0.05,
        "Reynolds number +25 %: friction weighs less"),
    Row(RING, 'turndown = "20 %"', 'turndown = "{0} %"', 20, 25, "wall gradient, turned down", RING, 0.23, 0.32,
        "flow +25 %, and the profile develops later"),
    Row(RING, 'turndown = "20 %"', 'turndown = "{0} %"', 20, 25, "heat input", RING, 0, 0,
        "full rate does not know of the valve's low stop"),
    # the hot burner
    Row("[[box]]", 'gas_temperature  = "150 C"', 'gas_temperature  = "{0} C"', 150, 200, "head temperature", MIDDLE,
        0.02, 0.11, "metal between hot gas round it and cold mixture in it: less than the 50 K of 452 K"),
    Row("[[box]]", 'gas_temperature  = "150 C"', 'gas_temperature  = "{0} C"', 150, 200, "hot aeration", MIDDLE,
        -0.06, -0.002, "hotter mixture is lighter and more viscous: it needs more pressure through the ports"),
    Row("[[box]]", 'gas_temperature  = "150 C"', 'gas_temperature  = "{0} C"', 150, 200, "aeration", MIDDLE, 0, 0,
        "the cold start knows no hot box"),
    Row(RING, 'mass = "2.6 kg"', 'mass = "{0} kg"', 2.6, 3.9, "head rise, 1 min", RING, -0.34, -0.15,
        "rise goes with heat over mass while little is lost: at most 1/1.5"),
    Row(RING, 'mass = "2.6 kg"', 'mass = "{0} kg"', 2.6, 3.9, "head rise, 15 min", RING, -0.30, -0.01,
        "on its way to the same steady state, with a time 1.5 times as long"),
    # the tile
    Row(TILE, 'depth = "13 mm"', 'depth = "{0} mm"', 13, 16, "hot air of the tile", TILE, -0.10, -0.005,
        "laminar friction goes with the length of the hot channels, one of several losses"),
    Row(TILE, 'count = 9100', 'count = {0:.0f}', 9100, 9900, "hot air of the tile", TILE, 0.002, 0.08,
        "more open area, slower flow in each channel"),
    Row(TILE, 'drill = "#52"', 'diameter = "{0} mm"', 1.613, 1.694, "hot air of the tile", TILE, -0.12, -0.03,
        "momentum balance: nearly one over the diameter, and more mixture through channels grown hotter"),
    Row(TILE, 'drill = "#52"', 'diameter = "{0} mm"', 1.613, 1.694, "face of the tile", TILE, 0.003, 0.06,
        "10 % more heat on the same face, with less air: emission goes with T^4, less what leaves with the gas"),
    # the supply solved with the orifices
    Row("[supply.regulator]", 'droop    = "0.3 in w.c."', 'droop = "{0} in w.c."', 0.3, 0.6, "supplied heat", RING,
        -0.030, -0.010, "0.3 in w.c. less of 6.8 at nearly the rated flow: half of 4 %"),
    Row("[supply.regulator]", 'set      = "7.1 in w.c."', 'set = "{0} in w.c."', 7.1, 7.5, "supplied heat", RING,
        0.02, 0.032, "0.4 in w.c. more of 6.8: half of 5.9 %, less what the greater flow drops"),
    Row("[supply.hose]", 'length   = "1.2 m"', 'length = "{0} m"', 1.2, 3.6, "drop of the hose", RING, 0.3, 2.0,
        "friction goes with the length, the couplings stay: less than three times"),
    Row("[supply.pipe]", 'length   = "6 m"', 'length = "{0} m"', 6, 12, "drop of the pipe", RING, 0.3, 1.0,
        "friction goes with the length, the fittings stay: less than twice"),
    Row("[supply.manifold]", 'bore     = "20 mm"', 'bore = "{0} mm"', 20, 16, "supplied heat", REAR, -0.03, -0.0001,
        "drop goes with about d^-4.75: from 1.3 Pa to 4 Pa of 1700"),
    Row("[supply.valve]", 'bore     = "6 mm"', 'bore = "{0} mm"', 6, 7, "supplied heat", RING, 0.003, 0.02,
        "drop goes with d^-4: of 47 Pa out of 1650 nearly half goes"),
    # between burners, on the griddle, outside
    Row("[[carry_over]]", 'spacing = "5 mm"', 'spacing = "{0} mm"', 5, 6, "gap over reach", MIDDLE, 0.294, 0.2942,
        "free way from port to port: 4.4 for 3.4 mm; that reach goes with the port is common practice, no source"),
    Row(MIDDLE, 'rate     = "14.5 kBtu/h"', 'rate = "{0} kBtu/h"', 14.5, 15.95, "heat on the griddle", MIDDLE,
        0.025, 0.05, "one of the burners under it, with a third of their rate, +10 %"),
    Row(MIDDLE, 'height = "90 mm"', 'height = "{0} mm"', 90, 110, "heat on the griddle", MIDDLE, 0.0005, 0.06,
        "nearer to the plate: more of its radiation and a shorter plume reach it"),
    Row('"griddle"', 'height = "190 mm"', 'height = "{0} mm"', 190, 230, "heat on the griddle", MIDDLE, -0.20, -0.005,
        "view factor of a plate falls with its distance, the plume takes in more air on its way"),
    Row('"lid top"', 'inside  = "280 C"', 'inside = "{0} C"', 280, 320, "rise of the lid", MIDDLE, 0.12, 0.32,
        "15 % more difference of temperature, radiation more than in proportion"),
)  # fmt: skip


@cache
def _appliance(text: str) -> Appliance:
    return read_appliance_text(text)


@cache
def _state(text: str, burner: str) -> BurnerStability:
    (found,) = stabilities(_appliance(text), names=[burner])
    return found


@cache
def _supply(text: str) -> Any:
    return operate(_appliance(text))


def _turned_down(text: str, burner: str) -> Any:
    state = _state(text, burner).at(TURNDOWN)
    assert state is not None
    return state


def _full(text: str, burner: str) -> Any:
    return _state(text, burner).full


def _warm(text: str, burner: str) -> Any:
    return _state(text, burner).warm_up


def _operation(text: str, burner: str) -> Any:
    return next(one for one in _supply(text).burners if one.name == burner)


def _drop(text: str, kind: str) -> float:
    return float(next(one for one in _supply(text).elements if one.kind == kind).drop_Pa)


def _height(text: str, burner: str) -> float:
    return next(rate for rate in _state(text, burner).rates if rate.label == "full rate").flame_height_m.value


def _lift(text: str, burner: str) -> float:
    """Where the rule states a value: not capped, not withheld."""
    state = _full(text, burner)
    assert not state.at.lift.is_more_than
    return float(state.lift_margin)


def _light_back(text: str, burner: str) -> float:
    """With the air shutters open: as shipped the flames are too slow to be believed and the margin is a bound."""
    state = _full(text.replace('opening = "66 %"', 'opening = "100 %"'), burner)
    assert not state.at.light_back_is_bound
    return float(state.light_back_margin)


def _gap(text: str) -> float:
    link = next(one for one in carry_over(_appliance(text)).links if one.by == "row of ports")
    assert link.likely_reach_m is not None
    return link.free_distance_m / link.likely_reach_m


def _lid(text: str) -> float:
    found = skins(_appliance(text))
    return next(one for one in found.panels if one.name == "lid top").outer_temperature_K - found.room_K


def _head_rise(text: str, burner: str, when: str) -> float:
    head = getattr(_warm(text, burner), f"head_temperature_{when}_min_K")
    return float(head.value) - _appliance(text).supply.gas_temperature_K


def _tile(text: str) -> Any:
    appliance = _appliance(text)
    (burner,) = (one for one in appliance.burners if one.name == TILE.strip('"'))
    tile = tiles_at([TileOnGas(appliance, burner, _state(text, burner.name), "present")])[0].tile
    assert tile is not None
    return tile


LOOKED_AT: dict[str, Callable[[str, str], Any]] = {
    "heat input": lambda text, burner: _full(text, burner).heat_input_gross_W,
    "aeration": lambda text, burner: _full(text, burner).primary_aeration,
    "aeration, turned down": lambda text, burner: _turned_down(text, burner).primary_aeration,
    "wall gradient": lambda text, burner: _full(text, burner).wall_gradient_per_s,
    "wall gradient, turned down": lambda text, burner: _turned_down(text, burner).wall_gradient_per_s,
    "port velocity": lambda text, burner: _full(text, burner).at.velocity_m_per_s,
    "port loading": lambda text, burner: _full(text, burner).port_loading_W_per_mm2,
    "lift margin": _lift,
    "light-back margin, open": _light_back,
    "yellow-tip margin": lambda text, burner: _full(text, burner).yellow_tip_margin,
    "flame height": _height,
    "head temperature": lambda text, burner: _warm(text, burner).head_temperature_15_min_K.value,
    "head rise, 1 min": lambda text, burner: _head_rise(text, burner, "1"),
    "head rise, 15 min": lambda text, burner: _head_rise(text, burner, "15"),
    "hot aeration": lambda text, burner: _warm(text, burner).hot_primary_aeration.value,
    "hot air of the tile": lambda text, burner: _tile(text).hot_primary_aeration.value,
    "face of the tile": lambda text, burner: _tile(text).face_temperature_K.value,
    "input over rating": lambda text, burner: 1.0 + _operation(text, burner).deviation,
    "supplied heat": lambda text, burner: _operation(text, burner).heat_input_gross_W,
    "drop of the hose": lambda text, burner: _drop(text, "hose"),
    "drop of the pipe": lambda text, burner: _drop(text, "pipe"),
    "gap over reach": lambda text, burner: _gap(text),
    "heat on the griddle": lambda text, burner: (
        heat_map(layout_of(_appliance(text), "griddle")).evenness.mean
    ),
    "rise of the lid": lambda text, burner: _lid(text),
}


def _changed(row: Row, share: float) -> str:
    """The project file with that share of a row's change made."""
    figure = round(row.now + share * (row.then - row.now), 9)
    at = DEMONSTRATION.index(row.old, DEMONSTRATION.index(row.part))
    new = row.new.format(figure, round(1.0 - figure, 9))
    return DEMONSTRATION[:at] + new + DEMONSTRATION[at + len(row.old) :]


@cache
def _effects(row: Row) -> tuple[float, ...]:
    """Relative change of what is looked at after each quarter of the change."""
    burner = row.burner.strip('"')
    values = [float(LOOKED_AT[row.looked](_changed(row, k / 4), burner)) for k in range(5)]
    return tuple(value / values[0] - 1.0 for value in values)


def _name(row: Row) -> str:
    what = row.old.splitlines()[-1].split("=")[0].strip()
    return f"{row.part.strip('[]').replace(chr(34), '')}: {what} {row.now:g} to {row.then:g}: {row.looked}"


@pytest.mark.parametrize("row", ROWS, ids=_name)
def test_a_change_acts_in_the_direction_and_size_of_its_principle_and_without_a_jump(row: Row) -> None:
    effects = _effects(row)
    if row.low == row.high == 0.0:
        assert effects == pytest.approx([0.0] * 5, abs=1e-12), row.why
        return
    assert row.low <= effects[-1] <= row.high, (row.why, effects)
    assert 0.25 <= effects[2] / effects[4] <= 0.75, effects
    quarters = [(after - before) / effects[4] for before, after in pairwise(effects)]
    assert min(quarters) > 0.0, effects
    assert max(quarters) < 0.5, effects


def test_the_table_has_forty_changes_that_state_a_direction_or_none() -> None:
    assert len({row[:7] for row in ROWS}) == len(ROWS) >= 40
    assert all(row.low * row.high > 0.0 or row.low == row.high == 0.0 for row in ROWS)
    assert all(row.why for row in ROWS)
