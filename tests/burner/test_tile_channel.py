"""Air of a hot tile: the friction of its hot channels, solved together with the face that its flame heats."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.project.model import Appliance
from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    Surroundings,
    burner_fuel,
    joined_fuels,
    joined_geometry,
)
from burnerlab.burner.port_resistance import PortHeating, port_resistance
from burnerlab.burner.ports import AIR, mixture_viscosity_Pa_s, transport
from burnerlab.burner.primary_air import JetFlow, burner_system, entrainment, primary_air
from burnerlab.burner.tile import (
    STEFAN_BOLTZMANN,
    Before,
    Face,
    Firing,
    TileBurner,
    effective_conductivity,
    face_balance,
)
from burnerlab.burner.tile_channel import HotTile, channel_stream, tile_air
from burnerlab.burner.tile_evaluation import Band, aeration_finding, evaluate_tile
from burnerlab.burner.tile_flame import burned_gas, mixture, mixture_enthalpy_J_per_kg
from burnerlab.gas import load
from burnerlab.report.formats import json_text

FACE_m2, CHANNEL_m, DEPTH_m, HEAT_W = 0.190 * 0.130, 1.3e-3, 13e-3, 4836.0
ORIFICE_m = {"natural-gas-typical": 1.613e-3, "propane": 1.15e-3}
PLACE, OPTIONS = Surroundings(), EvaluationOptions()
TILE = TileBurner(area_m2=FACE_m2)


def geometry(open_share: float, gas: str = "natural-gas-typical", depth_m: float = DEPTH_m) -> BurnerGeometry:
    return BurnerGeometry(
        port_width_m=CHANNEL_m,
        port_count=open_share * FACE_m2 / (np.pi / 4.0 * CHANNEL_m**2),
        orifice_diameter_m=ORIFICE_m[gas],
        throat_m=20e-3,
        port_depth_m=depth_m,
    )


FLOW = JetFlow(heat_input_gross_W=np.asarray(HEAT_W))


def air(open_share: float, tile: TileBurner = TILE, depth_m: float = DEPTH_m) -> float:
    fuel = burner_fuel(load("natural-gas-typical"))
    options = replace(OPTIONS, band=False)
    return float(
        tile_air(geometry(open_share, depth_m=depth_m), fuel, FLOW, PLACE, options, tile).air.aeration
    )


# Aeration in per cent: cold, and hot with k 0.3, 0.5, 1.0 W/(m K); face of 1050 K, 196 kW/m2 gross, 1.3 x 13 mm,
# throat 20 mm, no shutter. Source: an independent solution of the same equations for one tile with the heat capacity
# of cold mixture, 1047 J/(kg K); provenance computed: it proves arithmetic, not tiles. Its orifices and gases stand
# only by their names, which is worth a point; on propane through a tile of 8 % three.
NATURAL = {
    0.08: (100, 78, 69, 60),
    0.20: (108, 100, 96, 90),
    0.25: (109, 102, 99, 95),
    0.30: (110, 104, 102, 98),
    0.45: (111, 107, 105, 103),
}
PROPANE = {0.08: (93, 62), 0.20: (100, 87), 0.25: (101, 91), 0.30: (102, 93), 0.45: (103, 97)}
ROWS = [
    ("natural-gas-typical", share, k, hot, cold, 1.5)
    for share, (cold, *row) in NATURAL.items()
    for k, hot in zip((0.3, 0.5, 1.0), row, strict=True)
] + [
    ("propane", share, 0.5, hot, cold, 2.5 if share == 0.08 else 1.5)
    for share, (cold, hot) in PROPANE.items()
]


@pytest.mark.parametrize(("gas", "share", "conductivity", "hot", "cold", "points"), ROWS)
def test_air_of_the_table(
    gas: str, share: float, conductivity: float, hot: float, cold: float, points: float
) -> None:
    fuel, built, face = burner_fuel(load(gas)), geometry(share, gas), 1050.0
    system = burner_system(built, fuel, FLOW, PLACE, OPTIONS)
    found = entrainment(system).air_per_gas / fuel.stoichiometric_air
    assert 100 * float(found) == pytest.approx(cold, abs=1.5)
    mixed = mixture(load(gas), 1.0)
    gained = mixture_enthalpy_J_per_kg(mixed, face) - mixture_enthalpy_J_per_kg(mixed, 288.15)
    same_length = conductivity * float(gained) / (face - 288.15) / 1047.0
    tile = HotTile(
        area_m2=FACE_m2,
        face=Face(emissivity=0.9),
        conductivity_W_per_mK=same_length - (effective_conductivity(0.0, share, CHANNEL_m, face)),
        before=Before(),
        face_K=face,
    )
    warm = replace(system, ports=channel_stream(system.ports, built, fuel, PLACE, tile, DEPTH_m))
    found = entrainment(warm).air_per_gas / fuel.stoichiometric_air
    assert 100 * float(found) == pytest.approx(hot, abs=points)


def excess(r: float, fuel: BurnerFuel, share: float) -> float:
    """The balance of momentum of a hot tile written out, its face by a root of its own and T(x) by a sum."""
    gas = fuel.gas
    flux = HEAT_W / fuel.heating_value_J_per_kg * (1.0 + r / fuel.relative_density) / FACE_m2
    aeration = r / fuel.stoichiometric_air
    mixed, burned = mixture(gas, aeration), float(burned_gas(gas, aeration, flux).temperature_K)
    T0, U, e, x = 288.15, 5.0, 1.0 / (1.0 + (1.0 / 0.85 - 1.0) / 1.5), 0.3
    balance = face_balance(
        mixed, flux, burned, Face(emissivity=e, recovery=x, loss_W_per_m2K=U), Before(), T0
    )
    T = float(balance.face_K)
    heat = float(mixture_enthalpy_J_per_kg(mixed, T) - mixture_enthalpy_J_per_kg(mixed, T0)) / (T - T0)
    length = (0.5 + share * 4.0 * STEFAN_BOLTZMANN * T**3 * CHANNEL_m) / (flux * heat)
    along = (np.arange(20000) + 0.5) / 20000 * DEPTH_m
    profile = T0 + (T - T0) * np.exp(-(DEPTH_m - along) / length)
    entry = T0 + (T - T0) * np.exp(-DEPTH_m / length)
    thin, thick = (transport(*AIR, T0), transport(gas.composition.names, gas.composition.fractions, T0))
    viscosity = float(mixture_viscosity_Pa_s(thick, thin, r)) * (entry / T0) ** 0.7
    K = port_resistance(
        flux / share * CHANNEL_m / viscosity,
        DEPTH_m / CHANNEL_m,
        heating=PortHeating(rise=T / entry, friction=float(np.mean((profile / entry) ** 1.7))),
    ).total
    throat, ports = np.pi / 4.0 * 20e-3**2, share * FACE_m2
    jet = 0.9 * np.pi / 4.0 * ORIFICE_m["natural-gas-typical"] ** 2
    G = 1.5 / throat + entry / T0 * float(K) * throat / ports**2
    return float((1.0 + r) * (1.0 + r / fuel.relative_density) * jet / 2.0 * G - 1.0)


@pytest.mark.parametrize("share", [0.2, 0.45])
def test_air_is_the_root_of_the_balance_written_out(share: float) -> None:
    fuel = burner_fuel(load("natural-gas-typical"))
    root = brentq(excess, 7.5, 15.0, args=(fuel, share), xtol=1e-9)
    assert air(share) == pytest.approx(root / fuel.stoichiometric_air, rel=2e-5)


def test_a_hot_tile_draws_less_and_a_more_open_one_more() -> None:
    fuel, shares = burner_fuel(load("natural-gas-typical")), np.array([0.15, 0.2, 0.25, 0.3, 0.45])
    built = replace(geometry(1.0), port_count=geometry(1.0).port_count * shares)
    cold = primary_air(built, fuel, FLOW, PLACE, OPTIONS)
    hot = tile_air(built, fuel, FLOW, PLACE, OPTIONS, TILE).air
    for end in ("low", "aeration", "high"):
        assert np.all(getattr(hot, end) < getattr(cold, end))
        assert np.all(np.diff(getattr(hot, end)) > 0.0)
    assert np.all((hot.low < hot.aeration) & (hot.aeration < hot.high))


def test_a_thicker_tile_and_one_that_conducts_better_draw_less() -> None:
    assert np.all(np.diff([air(0.3, depth_m=depth) for depth in (8e-3, 13e-3, 16e-3, 20e-3)]) < 0.0)
    tiles = [replace(TILE, conductivity_W_per_mK=k) for k in (0.1, 0.3, 0.5, 1.0, 3.0)]
    assert np.all(np.diff([air(0.3, tile) for tile in tiles]) < 0.0)


def test_a_tile_as_cold_as_its_plenum_is_the_cold_burner() -> None:
    fuel = burner_fuel(load("natural-gas-typical"))
    cold = float(primary_air(geometry(0.3), fuel, FLOW, PLACE, replace(OPTIONS, band=False)).aeration)
    unlit = HotTile(
        area_m2=FACE_m2,
        face=Face(emissivity=0.9),
        conductivity_W_per_mK=0.5,
        before=Before(),
        face_K=288.15 + 1e-3,
    )
    system = burner_system(geometry(0.3), fuel, FLOW, PLACE, OPTIONS)
    ports = channel_stream(system.ports, geometry(0.3), fuel, PLACE, unlit, DEPTH_m)
    found = entrainment(replace(system, ports=ports)).air_per_gas / fuel.stoichiometric_air
    assert float(found) == pytest.approx(cold, rel=1e-6)


def test_face_and_plenum_side_are_those_of_the_tile_at_this_air() -> None:
    fuel = burner_fuel(load("natural-gas-typical"))
    found = tile_air(geometry(0.3), fuel, FLOW, PLACE, OPTIONS, TILE)
    tile = replace(TILE, channel_diameter_m=CHANNEL_m, thickness_m=DEPTH_m, open_share=0.3)
    firing = Firing(aeration=float(found.air.aeration), mixture_K=288.15)
    state = evaluate_tile(tile, fuel.gas, HEAT_W, "gross", firing)
    assert float(found.state.face_K) == pytest.approx(state.surface_temperature_K.value, abs=0.01)
    assert float(found.state.channel.entry_K) == pytest.approx(
        state.plenum_side_temperature_K.value, abs=0.01
    )


def test_many_tiles_in_one_call_are_the_tiles_by_themselves() -> None:
    """Whatever gases they burn."""
    natural, propane = "natural-gas-typical", "propane"
    fuels = {gas: burner_fuel(load(gas)) for gas in (natural, propane)}
    tiles = [(0.1, natural), (0.25, natural), (0.25, propane), (0.4, natural), (0.45, propane)]
    built, burned = [geometry(*tile) for tile in tiles], [fuels[gas] for _, gas in tiles]
    found = tile_air(joined_geometry(built), joined_fuels(burned), FLOW, PLACE, OPTIONS, TILE)
    for place, (one, fuel) in enumerate(zip(built, burned, strict=True)):
        alone = tile_air(one, fuel, FLOW, PLACE, OPTIONS, TILE)
        assert found.state.face_K[place] == pytest.approx(float(alone.state.face_K), rel=1e-9)
        for end in ("aeration", "low", "high"):
            value = getattr(found.air, end)[place]
            assert value == pytest.approx(float(getattr(alone.air, end)), rel=1e-9)


@pytest.mark.parametrize(
    ("heat_W", "built", "why"),
    [
        (200.0, geometry(0.3), "firing density"),
        (HEAT_W, replace(geometry(0.3), port_discharge=0.8), "discharge"),
        (HEAT_W, replace(geometry(0.3), port_width_m=0.4e-3, port_count=59000), "Reynolds"),
    ],
)
def test_where_its_air_is_not_evaluated_it_says_why(heat_W: float, built: BurnerGeometry, why: str) -> None:
    flow = JetFlow(heat_input_gross_W=np.asarray(heat_W))
    found = tile_air(built, burner_fuel(load("natural-gas-typical")), flow, PLACE, OPTIONS, TILE).air
    assert np.isnan(found.aeration)
    assert why in found.why_not


# what the face radiates


@pytest.mark.parametrize("density_kW", [60.0, 145.0, 300.0])
@pytest.mark.parametrize("gas", ["natural-gas-typical", "propane"])
def test_efficiency_times_firing_is_what_the_face_radiates(gas: str, density_kW: float) -> None:
    """The law of Stefan and Boltzmann for a grey face before a room of 20 C, apparent emissivity as printed."""
    found = evaluate_tile(TILE, load(gas), 1e3 * density_kW * FACE_m2, "net", Firing(aeration=1.1))
    T, e = found.surface_temperature_K.value, found.apparent_emissivity
    radiated = e * STEFAN_BOLTZMANN * (T**4 - 293.15**4)
    assert found.radiant_efficiency_net.value * 1e3 * density_kW == pytest.approx(radiated, rel=1e-9)
    text = next(one.text for one in found.findings if one.topic == "face temperature, plausibility")
    assert f"radiates {radiated / 1e3:.0f} kW/m2" in text
    assert f"of {density_kW:.0f} kW/m2 net" in text


def test_no_face_of_850_C_at_150_kW_per_m2() -> None:
    """A grey face of 0.9 at 850 C radiates 81 kW/m2: 54 % of 150, above what the gas gives it even at its ceiling."""
    radiated = 0.9 * STEFAN_BOLTZMANN * (1123.15**4 - 293.15**4)
    assert radiated / 1e3 == pytest.approx(81.0, abs=0.5)
    tile = TileBurner(area_m2=1.0, emissivity=0.9, area_factor=1.0)
    found = evaluate_tile(tile, load("natural-gas-typical"), 150e3, "net", Firing(aeration=1.1))
    assert found.surface_temperature_K.high < 1123.15
    assert found.radiant_efficiency_net.high < radiated / 150e3


# the verdict on the hot tile


@pytest.mark.parametrize(
    ("low", "value", "high", "verdict"),
    [
        (0.99, 1.12, 1.25, "outside"),
        (1.00, 1.12, 1.25, "near"),
        (1.03, 1.12, 1.39, "within"),
        (1.03, 1.2, 1.41, "near"),
    ],
)
def test_the_low_end_of_the_hot_band_decides(low: float, value: float, high: float, verdict: str) -> None:
    found = aeration_finding(Band(value=value, low=low, high=high), Band(value=1.3, low=1.2, high=1.4))
    assert found.verdict == verdict
    assert ("carbon monoxide" in found.text) == (verdict == "outside")
    assert "cold 130 % (120 to 140 %)" in found.text


def with_tile(cart: Appliance, count: int, width_m: float, throat_m: float) -> Appliance:
    """The demonstration with another tile."""

    def changed(burner):  # type: ignore[no-untyped-def]
        if burner.kind != "tile":
            return burner
        places = tuple(replace(place, width_m=width_m) for place in burner.places)
        return replace(
            burner,
            ports=replace(burner.ports, count=count, diameter_m=1.3e-3),
            throat_m=throat_m,
            places=places,
        )

    return replace(cart, burners=tuple(changed(burner) for burner in cart.burners))


def evaluated(cart: Appliance) -> Conversion:
    return evaluate_conversion(convert(cart, "propane", 2740.0))


def test_the_tile_of_the_demonstration_has_all_its_air_hot_on_both_gases() -> None:
    found = evaluated(demonstration())
    assert found.evaluation is not None
    assert [tile.which_gas for tile in found.evaluation.tiles] == ["present", "new"]
    for tile in found.evaluation.tiles:
        hot, cold = tile.hot_primary_aeration, tile.cold_primary_aeration
        assert 1.0 < hot.low < hot.value < cold.value
        assert tile.face_temperature_K is not None
    verdicts = {f.which_gas: f.verdict for f in found.findings if f.topic == "tile: aeration"}
    assert set(verdicts) == {"present", "new"}
    assert "outside" not in verdicts.values()


def test_a_tile_of_8_percent_open_area_lacks_air_once_it_is_hot() -> None:
    """The tile of the demonstration before: 1500 channels, a throat of 20 mm; cold it has its air on natural gas."""
    found = evaluated(with_tile(demonstration(), 1500, 0.130, 20e-3))
    assert found.evaluation is not None
    outside = {f.which_gas: f for f in found.findings if f.topic == "tile: aeration"}
    for tile in found.evaluation.tiles:
        finding = outside[tile.which_gas]
        assert finding.verdict == "outside"
        assert "carbon monoxide" in finding.text
        assert tile.hot_primary_aeration.value < 0.8 < tile.cold_primary_aeration.value
        assert tile.hot_primary_aeration.low < 0.7
        assert tile.face_temperature_K is None  # so rich a flame is not in the table
    open_ = [one for one in found.not_evaluated if one.topic == "tile temperature"]
    assert any("aeration" in one.why for one in open_)
    shown = json.loads(json_text(found))["tiles"]
    assert all(one["face_temperature_C"] is None for one in shown)
    assert all(one["hot_primary_aeration_percent"] < one["cold_primary_aeration_percent"] for one in shown)


def turned_down(share: float) -> Conversion:
    cart = demonstration()
    burners = (replace(each, turndown=share) if each.kind == "tile" else each for each in cart.burners)
    return evaluated(replace(cart, burners=tuple(burners)))


def test_turned_down_a_hot_tile_draws_less_and_not_evaluated_is_said() -> None:
    found = {f.topic: f for f in turned_down(0.8).findings if f.which_gas == "new"}
    full, low = found["tile: aeration"], found["tile: aeration at turndown"]
    assert full.value is not None
    assert low.value is not None
    assert low.value < full.value
    open_ = [one.why for one in turned_down(0.4).not_evaluated if one.topic == "tile temperature"]
    assert any("turndown" in why and "Reynolds" in why for why in open_)
