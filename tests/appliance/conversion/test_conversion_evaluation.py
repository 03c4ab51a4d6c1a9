"""What a conversion evaluates beyond the orifices: figures of their own rooms, and silence is never a verdict."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from burning_stand_in import Bell

from burnerlab.appliance import Appliance, Conversion, changed, convert, convert_to, demonstration, operate
from burnerlab.appliance.conversion import both_gases as room
from burnerlab.appliance.conversion import evaluation
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.flame_stability import burner_stability
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.burner.burner import BurnerFuel, burner_fuel
from burnerlab.burner.evaluation import BurningLookup
from burnerlab.burner.tile import Firing, TileBurner
from burnerlab.burner.tile_evaluation import evaluate_tile
from burnerlab.gas import Gas, load

PROPANE_Pa = 2740.0
FLAME = ("lift", "light-back", "yellow tipping")


def with_flame(gas: Gas) -> BurnerFuel:
    return burner_fuel(gas, Bell())


def known(gas: Gas) -> BurningLookup:
    return BurningLookup(burning=Bell())


def unknown(gas: Gas) -> BurningLookup:
    return BurningLookup(burning=None, why_not="no burning velocity is known for this gas")


@pytest.fixture(autouse=True)
def burning(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the shipped tables hold, these tests burn with the stand-in."""
    monkeypatch.setattr(room, "burning_of", known)


@cache
def evaluated() -> Conversion:
    return evaluate_conversion(convert(demonstration(), "propane", PROPANE_Pa))


def target() -> ConversionTarget:
    return ConversionTarget(gas=load("propane"), gauge_pressure_Pa=PROPANE_Pa)


def without(appliance: Appliance, **gone: Any) -> Appliance:
    """The appliance with fields of every burner replaced."""
    return replace(appliance, burners=tuple(replace(one, **gone) for one in appliance.burners))


def sides() -> Iterator[tuple[str, Appliance]]:
    yield "present", demonstration()
    yield "new", changed(demonstration(), target())


def test_the_quick_conversion_is_left_alone() -> None:
    plain = convert(demonstration(), "propane", PROPANE_Pa)
    assert plain.evaluation is None
    full = evaluate_conversion(plain)
    moved = ("mass_flow_kg_per_s", "volume_flow_m3_per_s", "to_air_kg_per_s", "to_air_m3_per_s")
    same = {"headline": full.headline, **dict.fromkeys(moved, 0.0)}
    assert [replace(b, **same) for b in full.burners] == [replace(b, **same) for b in plain.burners]
    for burner, nominal in zip(full.burners, plain.burners, strict=True):
        assert burner.headline.deviation_all_on is not None
        ratio = (1.0 + burner.headline.deviation_all_on) / (1.0 + nominal.drill_deviation)
        assert ratio != pytest.approx(1.0, abs=1e-4)
        for flow in moved:  # gas and air are those with every burner on
            assert getattr(burner, flow) == pytest.approx(ratio * getattr(nominal, flow), rel=1e-9)
    assert {b.headline.deviation_case for b in plain.burners} == {"nominal pressure"}
    assert {b.headline.verdict for b in plain.burners} == {"not evaluated"}
    assert evaluate_conversion(full) is full
    assert evaluate_conversion(replace(plain, job=None)).evaluation is None


def test_pressures_are_those_of_the_network() -> None:
    found = evaluated().evaluation
    assert found is not None
    present, new = found.pressures
    assert (present.which_gas, new.which_gas) == ("present", "new")
    network = operate(demonstration())
    assert [at.gauge_pressure_all_on_Pa for at in present.burners] == [
        b.gauge_pressure_Pa for b in network.burners
    ]
    ring = operate(demonstration(), on=["stock-pot ring"])
    alone = next(at.gauge_pressure_alone_Pa for at in present.burners if at.burner == "stock-pot ring")
    assert alone == pytest.approx(next(b.gauge_pressure_Pa for b in ring.burners if b.on), rel=1e-9)
    for one in found.pressures:
        for at in one.burners:
            assert at.gauge_pressure_alone_Pa is not None
            assert at.gauge_pressure_alone_Pa > at.gauge_pressure_all_on_Pa > 0.0


def test_the_inlet_of_another_supply_is_assumed_and_said() -> None:
    """The file's inlet is below the new nominal pressure: taken as it is, every burner would starve."""
    full = evaluated()
    assert full.evaluation is not None
    new = full.evaluation.pressures[1]
    assert min(at.gauge_pressure_all_on_Pa for at in new.burners) > 0.97 * PROPANE_Pa
    assert any("in proportion to the nominal pressure" in note for note in new.notes)
    assert "inlet pressure of the new supply" in {one.topic for one in full.not_evaluated}


def test_a_regulator_that_the_range_passes_over_is_told() -> None:
    """The range is put on the manifold; without a regulator it belongs there and nothing is to be told."""
    found, words = evaluated().evaluation, "as if the regulator passed them on"
    assert found is not None
    assert all(any(words in note for note in one.notes) for one in found.pressures if one.which_gas == "new")
    cart = demonstration()
    assert cart.supply.train is not None
    bare = replace(cart.supply, train=replace(cart.supply.train, regulator=None))
    other = evaluate_conversion(convert(replace(cart, supply=bare), "propane", PROPANE_Pa)).evaluation
    assert other is not None
    assert not any(words in note for one in other.pressures for note in one.notes)


def test_flames_are_those_of_the_burner_room() -> None:
    found = evaluated().evaluation
    assert found is not None
    for which, appliance in sides():
        fuel = with_flame(appliance.supply.gas)  # type: ignore[arg-type]
        for burner in appliance.burners:
            state = burner_stability(appliance, burner, fuel=fuel).full
            flames = found.flames_of(burner.name)
            assert flames is not None
            assert state is not None
            full = flames.full(which)  # type: ignore[arg-type]
            assert full is not None
            assert full.primary_aeration is not None
            assert full.primary_aeration.value == pytest.approx(float(state.primary_aeration), rel=1e-12)
            assert full.primary_aeration.low < full.primary_aeration.value < full.primary_aeration.high
            assert full.port_loading_W_per_mm2 == pytest.approx(float(state.port_loading_W_per_mm2))
            if burner.kind != "tile":
                assert full.lift_margin is not None
                assert full.lift_margin.value == pytest.approx(float(state.lift_margin), rel=1e-12)


def test_every_rate_of_both_gases_is_there() -> None:
    found = evaluated().evaluation
    assert found is not None
    ring = found.flames_of("stock-pot ring")
    assert ring is not None
    rates = ["full rate", "turndown", "lowest pressure", "highest pressure"]
    assert [(one.which_gas, one.rate) for one in ring.rates] == [
        (w, r) for w in ("present", "new") for r in rates
    ]
    for which in ("present", "new"):
        full, high, low = (
            ring.at(which, rate) for rate in ("full rate", "highest pressure", "lowest pressure")
        )  # type: ignore[arg-type]
        assert full is not None
        assert high is not None
        assert low is not None
        assert low.lift_margin.value > full.lift_margin.value > high.lift_margin.value  # type: ignore[union-attr]
        assert low.light_back_margin.value < full.light_back_margin.value  # type: ignore[union-attr]


def test_nothing_of_a_flame_is_more_than_recalled() -> None:
    flame = [f for f in evaluated().findings if f.topic.split(" at ")[0] in FLAME or f.topic == "air shutter"]
    assert len(flame) > 30
    assert {f.evidence for f in flame} <= {"recalled", "estimate", ""}
    assert {f.which_gas for f in flame if f.topic in FLAME} == {"present", "new"}
    tile = [f for f in evaluated().findings if f.topic.startswith("tile: ")]
    assert {f.evidence for f in tile if "firing" not in f.topic} <= {"estimate", ""}


def test_a_shutter_setting_holds_the_limits_at_its_ends_and_not_beyond() -> None:
    found = evaluated().evaluation
    assert found is not None
    for flames in found.flames:
        setting = flames.shutter
        if flames.kind == "tile":
            assert setting is None
            continue
        assert setting is not None
        if setting.low is None or setting.high is None:
            assert setting.holds is False
            assert setting.binding
            continue
        if "not evaluated" in setting.words:
            assert setting.holds is None
        else:
            assert setting.holds == (setting.low <= (setting.opening or 0.0) <= setting.high)
        assert setting.low < setting.high <= 1.0


def test_one_opening_of_a_shutter_serves_both_gases_of_a_couple(monkeypatch: pytest.MonkeyPatch) -> None:
    """One orifice, one shutter, two gases: the openings are those that both allow, the same on either gas."""
    supplies = (("G30", 2900.0), ("G31", 3700.0))
    couple = [convert(demonstration(), gas, pressure, category="I3+") for gas, pressure in supplies]

    def openings() -> list[list[tuple[float | None, float | None]]]:
        found = [evaluate_conversion(c).evaluation for c in couple]
        return [[(f.shutter.low, f.shutter.high) for f in one.flames if f.shutter] for one in found if one]

    both = openings()
    assert both[0] == both[1]
    with monkeypatch.context() as alone:
        alone.setattr(evaluation, "with_couple", lambda burner, beside: burner)
        each = openings()
    for (low, high), first, second in zip(both[0], *each, strict=True):
        ends = [*first, *second]
        if low is None or high is None:
            assert None in ends or max(first[0], second[0]) > min(first[1], second[1])  # type: ignore[type-var]
        else:
            assert (low, high) == (max(first[0], second[0]), min(first[1], second[1]))  # type: ignore[type-var]
    assert any(first != second for first, second in zip(*each, strict=True))  # or this asks nothing


def test_a_burner_that_no_setting_serves_says_which_limit_binds() -> None:
    """A twelfth of the ports lets so little mixture through that the jet draws too little air at any opening."""
    base = demonstration()
    few = replace(
        base,
        burners=tuple(
            replace(one, ports=replace(one.ports, count=max(one.ports.count // 12, 1))) if one.ports else one
            for one in base.burners
        ),
    )
    full = evaluate_conversion(convert_to(few, target()))
    shutters = [f for f in full.findings if f.topic == "air shutter"]
    assert shutters
    assert {f.verdict for f in shutters} == {"outside"}
    assert full.evaluation is not None
    for one in full.evaluation.flames:
        if one.shutter is not None:
            assert one.shutter.binding == ("yellow tipping",)
            assert "yellow tipping at every opening" in one.shutter.words


def test_carbon_monoxide_is_a_rank_with_its_caution_and_never_a_concentration() -> None:
    """It falls with the air of one gas (counterflow flames, computed); a tile and an unknown air have none."""
    found = evaluated().evaluation
    assert found is not None
    for burner in found.flames:
        ranked = [rate for rate in burner.rates if rate.carbon_monoxide_rank is not None]
        for which in ("present", "new"):
            air = [
                (rate.primary_aeration.value, -(rate.carbon_monoxide_rank or 0))
                for rate in ranked
                if rate.which_gas == which and rate.primary_aeration is not None
            ]
            falls = [rank for _, rank in sorted(air)]
            assert falls == sorted(falls)
        said = [note for note in burner.notes if note.startswith("carbon monoxide")]
        assert len(said) == (1 if ranked else 0)
        assert all("no concentration" in note and "measure carbon monoxide" in note for note in said)
        assert not any("ppm" in note for note in said)
    by_name = {burner.burner: burner for burner in found.flames}
    assert {rate.carbon_monoxide_rank for rate in by_name["tile broiler"].rates} == {None}
    ring = by_name["stock-pot ring"]
    assert "not ranked new gas at turndown" in ring.notes[-1]
    assert by_name["rear burner"].rates[0].carbon_monoxide_rank == 1


def test_the_tile_is_that_of_its_room() -> None:
    found = evaluated().evaluation
    assert found is not None
    assert [tile.which_gas for tile in found.tiles] == ["present", "new"]
    for tile, (_, appliance) in zip(found.tiles, sides(), strict=True):
        flames = found.flames_of(tile.burner)
        assert flames is not None
        full = flames.full(tile.which_gas)
        assert full is not None
        face = TileBurner(area_m2=0.190 * 0.140, channel_diameter_m=1.25e-3, thickness_m=13e-3)
        firing = Firing(aeration=tile.hot_primary_aeration.value, mixture_K=288.15)
        own = evaluate_tile(face, appliance.supply.gas, full.heat_input_gross_W, "gross", firing)
        assert full.primary_aeration == tile.cold_primary_aeration
        ends = tile.face_temperature_K
        assert ends is not None
        assert tile.face_ceiling_temperature_K is not None
        assert tile.radiant_efficiency_net is not None
        assert tile.ceiling_efficiency_net is not None
        assert ends.value == pytest.approx(own.surface_temperature_K.value, rel=1e-9)
        assert ends.low < ends.value < ends.high <= tile.face_ceiling_temperature_K
        assert 0.0 < tile.radiant_efficiency_net.value < tile.ceiling_efficiency_net < 1.0


def test_what_is_answered_is_no_longer_open_and_the_rough_check_is_gone() -> None:
    plain, full = convert(demonstration(), "propane", PROPANE_Pa), evaluated()
    before = {one.topic for one in plain.not_evaluated}
    after = {one.topic for one in full.not_evaluated}
    answered = {*FLAME, "primary aeration", "supply pressure drop", "tile temperature"}
    assert answered <= before
    assert not answered & after
    assert {"carbon monoxide", "carry-over", "wind", "turndown"} <= after
    assert "primary air" not in {f.topic for f in full.findings}
    assert {f.topic for f in plain.findings} - {"primary air"} <= {f.topic for f in full.findings}


def test_without_a_burning_velocity_lift_and_light_back_stay_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "burning_of", unknown)
    full = evaluate_conversion(convert(demonstration(), "propane", PROPANE_Pa))
    left = {(one.topic, one.burner) for one in full.not_evaluated}
    assert {("lift", "stock-pot ring"), ("light-back", "stock-pot ring")} <= left
    assert not [one for one in left if one[1] == "tile broiler"]
    assert not [f for f in full.findings if f.topic.startswith(("lift", "light-back"))]
    assert {f.verdict for f in full.findings if f.topic == "air shutter"} == {"not evaluated"}
    assert [f for f in full.findings if f.topic == "yellow tipping"]
    assert full.evaluation is not None
    assert full.evaluation.tiles


def test_without_ports_every_question_stays_open_by_burner() -> None:
    full = evaluate_conversion(convert_to(without(demonstration(), ports=None), target()))
    assert full.evaluation is not None
    assert full.evaluation.flames == ()
    assert full.evaluation.diagrams == ()
    for burner in full.burners:
        own = {one.topic: one.why for one in full.not_evaluated if one.burner == burner.name}
        assert {"primary aeration", "lift", "light-back", "yellow tipping"} <= set(own)
        assert "ports" in own["lift"]
    assert "primary air" in {f.topic for f in full.findings}  # the rough rule is all there is


def test_without_a_train_the_pressure_stays_open() -> None:
    base = demonstration()
    bare = replace(base, supply=replace(base.supply, train=None))
    full = evaluate_conversion(convert_to(bare, target()))
    assert full.evaluation is not None
    assert full.evaluation.pressures == ()
    assert "supply pressure drop" in {one.topic for one in full.not_evaluated}


def test_a_tile_without_a_face_stays_open() -> None:
    full = evaluate_conversion(convert_to(without(demonstration(), places=()), target()))
    assert full.evaluation is not None
    assert full.evaluation.tiles == ()
    (left,) = [one for one in full.not_evaluated if one.topic == "tile temperature"]
    assert left.burner == "tile broiler"
    assert "length and width" in left.why


def test_a_declared_gas_is_told_apart_from_the_one_that_is_known() -> None:
    full = evaluate_conversion(convert(demonstration(), "trade-propane-2500", PROPANE_Pa))
    assert full.evaluation is not None
    assert full.evaluation.burners_with_aeration == frozenset()
    left = {one.topic for one in full.not_evaluated if one.burner == "stock-pot ring"}
    assert "lift, new gas" in left
    assert "lift, present gas" not in left
    assert {f.which_gas for f in full.findings if f.topic == "lift"} == {"present"}


def test_indices_of_exchange_only_where_the_orifice_stays() -> None:
    found = evaluated().evaluation
    assert found is not None
    assert found.exchange.readings == ()
    assert found.exchange.why_not == "not applicable, the orifice changes"
    base = demonstration()
    own_drill = replace(base, limits=replace(base.limits, drills=("#54",)), burners=base.burners[:1])
    same = evaluate_conversion(convert(own_drill, "natural-gas-us-mean", base.supply.gauge_pressure_Pa))
    assert same.burners[0].choice.drill == "#54"
    assert same.evaluation is not None
    assert {reading.method for reading in same.evaluation.exchange.readings} >= {"AGA36", "Weaver", "Dutton"}


def test_constants_of_exchange_may_be_the_files_own(own_table: Callable[[str, str, str], Path]) -> None:
    base = demonstration()
    one = replace(base, limits=replace(base.limits, drills=("#54",)), burners=base.burners[:1])
    own = own_table("interchange", "AGA36,F,methane,0.67,", "AGA36,F,methane,0.9,")
    shown = []
    for appliance in (one, replace(one, tables=replace(one.tables, interchange=own))):
        full = evaluate_conversion(convert(appliance, "natural-gas-us-mean", 1740.0)).evaluation
        assert full is not None
        shown.append({(r.method, r.index): r.value for r in full.exchange.readings})
    changed_ones = {key for key in shown[0] if shown[0][key] != shown[1][key]}
    assert ("AGA36", "I_L") in changed_ones
    assert not any(method == "Weaver" for method, _ in changed_ones)


def test_shutter_prompts_speak_of_the_calculated_air() -> None:
    """Hydrogen needs little air, and the words carry the calculated shares."""
    full = evaluate_conversion(convert(demonstration(), "hydrogen", 1743.62))
    words = [prompt for prompt in full.prompts if "primary air" in prompt]
    assert len(words) == 1
    assert full.evaluation is not None
    ends = [
        [one.full(which).primary_aeration.value for one in full.evaluation.flames if one.kind != "tile"]  # type: ignore[arg-type,union-attr]
        for which in ("present", "new")
    ]
    for side in ends:
        assert f"{100 * sum(side) / len(side):.0f} %" in words[0]


def test_an_evaluated_conversion_can_be_sent_to_another_process() -> None:
    full = evaluated()
    again = pickle.loads(pickle.dumps(full))
    assert again.findings == full.findings
    assert again.evaluation == full.evaluation
