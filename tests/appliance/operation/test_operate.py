"""Regulator, hose, pipe, manifold, valves and orifices together: balances, independent solutions, limits, refusals."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from burnerlab.appliance import Appliance, Operation, changed, demonstration, operate, read_appliance_text
from burnerlab.appliance.operation.network import Tap, solve, stream
from burnerlab.gas import load
from burnerlab.gas.real_gas import viscosity
from burnerlab.orifice import Conditions, flow
from burnerlab.supply.pipe import pipe_flow
from burnerlab.supply.regulator import Regulator, outlet_pressure_Pa, valve_drop_Pa
from burnerlab.tables.problem import UserError

ONE = """[appliance]
name = "one ring"
rating = "gross"
[supply]
gas = "propane"
pressure = "11 in w.c."
{supply}
[[burner]]
name = "ring"
rate = "{rate}"
count = {count}
orifice = {{ {orifice} }}
"""
HOSE = '[supply.hose]\nbore = "6 mm"\nlength = "3 m"\n'
THIN = 'inlet = "8 psi"\n[supply.hose]\nbore = "3 mm"\nlength = "20 m"\n'
ELBOW = '[supply.pipe]\nbore = "9 mm"\nlength = "1 m"\nfittings = {{ {} }}\n'
REGULATOR = (
    '[supply.regulator]\nset = "11 in w.c."\ndroop = "1 in w.c."\nlock_up = "2 in w.c."\nrated = "8 kW"\n'
)


def one(supply: str = "", rate: str = "7 kW", count: int = 1, orifice: str = 'drill = "#54"') -> Appliance:
    return read_appliance_text(ONE.format(supply=supply, rate=rate, count=count, orifice=orifice))


def verdicts(found: Operation) -> dict[str, str]:
    return {finding.topic: finding.verdict for finding in found.findings}


@pytest.fixture(scope="module")
def cart() -> Appliance:
    return demonstration()


def test_without_a_train_the_pressure_is_taken_as_given_and_that_is_said() -> None:
    found = operate(one())
    assert found.burners[0].gauge_pressure_Pa == pytest.approx(2739.978, abs=1e-3)
    assert found.elements == ()
    assert verdicts(found)["supply"] == "not evaluated"
    assert "manifold pressure of the file holds" in next(
        f.text for f in found.findings if f.topic == "supply"
    )
    assert not any(f.verdict == "within" and f.topic == "supply" for f in found.findings)


def test_every_burner_gives_what_an_orifice_at_its_pressure_gives(cart: Appliance) -> None:
    found = operate(cart)
    for burner, kind in zip(found.burners, cart.burners, strict=True):
        at = Conditions(gauge_pressure_Pa=burner.gauge_pressure_Pa)
        single = flow(cart.supply.gas, kind.orifice.diameter_m, at, 0.9)
        assert burner.heat_input_gross_W == pytest.approx(single.heat_input_gross_W, rel=1e-9)
        assert burner.heat_input_net_W == pytest.approx(single.heat_input_net_W, rel=1e-9)


def test_pressures_add_up_from_the_source_to_the_orifice(cart: Appliance) -> None:
    found = operate(cart)
    assert found.elements[0].inlet_gauge_pressure_Pa == pytest.approx(
        cart.supply.train.inlet_gauge_pressure_Pa
    )  # type: ignore[union-attr]
    for before, behind in zip(found.elements[:3], found.elements[1:4], strict=True):
        assert before.outlet_gauge_pressure_Pa == pytest.approx(behind.inlet_gauge_pressure_Pa, abs=1e-4)
    for element in found.elements:
        assert element.drop_Pa == pytest.approx(
            element.inlet_gauge_pressure_Pa - element.outlet_gauge_pressure_Pa, abs=1e-4
        )  # type: ignore[operator]
    assert found.manifold_gauge_pressure_Pa == pytest.approx(
        found.elements[2].outlet_gauge_pressure_Pa, abs=1e-4
    )
    assert found.mass_flow_kg_per_s == pytest.approx(
        sum(b.mass_flow_kg_per_s * b.count for b in found.burners), rel=1e-12
    )
    assert sum(e.drop_fraction or 0.0 for e in found.elements) == pytest.approx(1.0)
    assert found.binding_element == "hose"


def test_one_ring_on_a_hose_agrees_with_a_solution_step_by_step() -> None:
    """Bisection on the flow with the public functions of each element, no network in it."""
    appliance = one(f'{REGULATOR}{HOSE}[supply.valve]\nbore = "3 mm"\n')
    gas, train = load("propane"), appliance.supply.train
    assert train is not None
    heat = gas.heating_value_J_per_kg("gross")
    spring = Regulator(set_point_Pa=2739.97801, droop_Pa=249.08891, rated_flow_kg_per_s=8e3 / heat)
    mu = viscosity(gas, 288.15).value_Pa_s

    def left_over(mass_flow: float) -> float:
        p = float(outlet_pressure_Pa(spring, mass_flow)) + 101325.0
        p -= pipe_flow(train.runs[0].pipe, mass_flow, p, float(gas.density_kg_per_m3(288.15, p)), mu).drop_Pa
        area = 0.7 * math.pi / 4 * 0.003**2
        p -= float(valve_drop_Pa(mass_flow, area, float(gas.density_kg_per_m3(288.15, p)), p))
        return (
            flow(
                gas, appliance.burners[0].orifice.diameter_m, Conditions(gauge_pressure_Pa=p - 101325.0)
            ).mass_flow_kg_per_s
            - mass_flow
        )

    low, high = 1e-6, 1.6e-4
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if left_over(middle) > 0 else (low, middle)
    assert operate(appliance).mass_flow_kg_per_s == pytest.approx(low, rel=1e-8)


def test_a_general_solver_finds_the_same_six_pressures(cart: Appliance) -> None:
    """All tap flows as unknowns, solved by hybr, against the shooting."""
    optimize = pytest.importorskip("scipy.optimize")
    gas = stream(load("propane"), 288.15, 101325.0, 105e3, 8e-6)
    taps = tuple(
        Tap(orifice_area_m2=a, valve_area_m2=6e-6, length_m=0.3, diameter_m=0.008, roughness_m=1e-5, count=n)
        for a, n in ((1.4e-6, 1), (2e-6, 2), (1e-6, 1), (3e-6, 1))
    )
    source = 101325.0 + 2740.0
    found = solve(gas, taps, np.ones((1, 4), bool), lambda m: np.full_like(m, source), np.array([source]))

    def residual(scaled: np.ndarray) -> np.ndarray:
        from burnerlab.appliance.operation.network import jet_kg_per_s
        from burnerlab.supply.pipe import pressure_drop_Pa

        flows, out, p = scaled * 1e-4, [], source
        for j, tap in enumerate(taps):
            total = sum(t.count * m for t, m in zip(taps[j:], flows[j:], strict=True))
            lost = float(
                pressure_drop_Pa(
                    total,
                    tap.length_m,
                    tap.diameter_m,
                    tap.roughness_m,
                    float(gas.density_kg_per_m3(np.array(p))),
                    8e-6,
                )
            )
            p = p - lost * (1 + lost / p / 2)
            behind = p - float(
                valve_drop_Pa(flows[j], tap.valve_area_m2, float(gas.density_kg_per_m3(np.array(p))), p)
            )
            out.append(float(jet_kg_per_s(gas, tap.orifice_area_m2, np.array(behind))) * 1e4 - scaled[j])
        return np.array(out)

    peer = optimize.root(residual, found.flow_kg_per_s[0] * 1.05e4, tol=1e-12)
    assert peer.success
    np.testing.assert_allclose(found.flow_kg_per_s[0] * 1e4, peer.x, rtol=2e-6)


def test_fewer_burners_on_leave_more_for_each(cart: Appliance) -> None:
    everything = operate(cart)
    ring = operate(cart, on=["Stock-pot ring"])
    assert ring.on == ("stock-pot ring",)
    assert ring.burners[3].heat_input_gross_W > everything.burners[3].heat_input_gross_W
    assert [b.on for b in ring.burners] == [False, False, False, True, False, False]
    assert ring.burners[0].mass_flow_kg_per_s == 0.0
    assert ring.burners[0].deviation is None


def test_the_worst_are_all_on_and_one_alone(cart: Appliance) -> None:
    found = operate(cart, on=["rear burner", "griddle tube left"])
    assert found.lowest.case == "all on"
    assert found.highest.case.endswith("alone")
    alone = operate(cart, on=[found.highest.burner])
    assert alone.heat_input_gross_W == pytest.approx(found.highest.heat_input_gross_W, rel=1e-9)
    full = operate(cart)
    least = min(full.burners, key=lambda b: b.from_nominal or 0.0)
    assert found.lowest.burner == least.name
    assert found.lowest.heat_input_gross_W == pytest.approx(least.heat_input_gross_W, rel=1e-9)


def test_several_of_a_kind_are_one_tap_of_so_many() -> None:
    supply = REGULATOR + HOSE
    three = operate(one(supply, count=3))
    text = ONE.format(supply=supply, rate="7 kW", count=1, orifice='drill = "#54"')
    extra = "".join(
        f'[[burner]]\nname = "ring {i}"\nrate = "7 kW"\norifice = {{ drill = "#54" }}\n' for i in (2, 3)
    )
    apart = operate(read_appliance_text(text + extra))
    assert three.burners[0].gauge_pressure_Pa == pytest.approx(apart.burners[0].gauge_pressure_Pa, rel=1e-9)
    assert three.heat_input_gross_W == pytest.approx(apart.heat_input_gross_W, rel=1e-9)


def test_burners_farther_along_a_thin_manifold_get_less() -> None:
    text = ONE.format(
        supply='[supply.manifold]\nbore = "5 mm"\nspacing = "300 mm"\n',
        rate="7 kW",
        count=1,
        orifice='drill = "#54"',
    )
    text += "".join(
        f'[[burner]]\nname = "ring {i}"\nrate = "7 kW"\norifice = {{ drill = "#54" }}\n' for i in (2, 3, 4)
    )
    pressures = [b.gauge_pressure_Pa for b in operate(read_appliance_text(text)).burners]
    assert pressures == sorted(pressures, reverse=True)
    assert pressures[0] - pressures[-1] > 5.0


def test_a_valve_of_its_own_goes_before_that_of_the_train() -> None:
    text = ONE.format(supply='[supply.valve]\nbore = "6 mm"\n', rate="7 kW", count=1, orifice='drill = "#54"')
    own = operate(read_appliance_text(text + 'valve = { bore = "2.5 mm" }\n')).burners[0]
    assert own.gauge_pressure_Pa < operate(read_appliance_text(text)).burners[0].gauge_pressure_Pa - 50.0
    by_kv = read_appliance_text(text + "valve = { Kv = 0.2 }\n").burners[0].valve
    assert by_kv is not None
    assert by_kv.effective_area_m2 == pytest.approx(0.2 * 1.9642e-5, rel=1e-4)


def test_beyond_its_flow_limit_the_regulator_lets_the_pressure_fall_and_that_is_said() -> None:
    limited = REGULATOR.replace("[supply.regulator]", '[supply.regulator]\nlimit = "6.5 kW"')
    known = operate(one('inlet = "20 psi"\n' + limited))
    blind = operate(one(limited))
    assert verdicts(known)["regulator flow"] == verdicts(blind)["regulator flow"] == "outside"
    assert known.burners[0].gauge_pressure_Pa < blind.burners[0].gauge_pressure_Pa
    assert "not known" in next(f.text for f in blind.findings if f.topic == "regulator flow")
    assert known.evidence == blind.evidence == "estimate"


def test_the_flow_of_a_regulator_is_read_as_it_is_marked() -> None:
    marked = one(REGULATOR.replace('"8 kW"', '"1.5 kg/h"\nlimit = "2 kg/h"')).supply.train
    assert marked is not None
    assert marked.regulator is not None
    flows = (marked.regulator.rated_flow_kg_per_s, marked.regulator.flow_limit_kg_per_s)
    assert flows == pytest.approx((1.5 / 3600.0, 2.0 / 3600.0))


def test_what_is_not_known_of_a_regulator_is_not_evaluated() -> None:
    found = operate(one('[supply.regulator]\nset = "11 in w.c."\n'))
    assert verdicts(found)["regulator flow"] == "not evaluated"
    assert verdicts(found)["regulator inlet"] == "not evaluated"
    assert "droop and lock-up" in next(f.text for f in found.findings if f.topic == "regulator")
    typical = operate(one('inlet = "30 psi"\n[supply.regulator]\ntype = "lp single stage"\n'))
    assert "regulator" not in verdicts(typical)
    assert any("common practice" in note for note in typical.notes)
    assert verdicts(typical)["regulator inlet"] == "within"
    assert (
        verdicts(operate(one('inlet = "5 psi"\n[supply.regulator]\ntype = "lp single stage"\n')))[
            "regulator inlet"
        ]
        == "outside"
    )


def test_lock_up_is_held_against_the_highest_pressure_of_the_file() -> None:
    found = operate(one('pressure_high = "12 in w.c."\n' + REGULATOR))
    assert verdicts(found)["lock-up"] == "outside"
    assert verdicts(operate(one('pressure_high = "20 in w.c."\n' + REGULATOR)))["lock-up"] == "within"


def test_at_altitude_the_same_gauge_pressure_drives_less_gas_and_loses_less() -> None:
    low, high = operate(one(REGULATOR + HOSE)), operate(one('altitude = "2500 m"\n' + REGULATOR + HOSE))
    ratio = high.burners[0].heat_input_gross_W / low.burners[0].heat_input_gross_W
    assert ratio == pytest.approx(math.sqrt(74.68 / 101.325), rel=0.03)
    assert high.ambient_pressure_Pa == pytest.approx(74682, rel=1e-3)


def test_a_choked_orifice_is_solved_and_marked() -> None:
    supply = 'allow_high_pressure = true\ninlet = "30 psi"\n[supply.hose]\nbore = "6 mm"\nlength = "2 m"\n'
    appliance = one(supply, rate="30 kW")
    appliance = replace(appliance, supply=replace(appliance.supply, gauge_pressure_Pa=140e3))
    found = operate(appliance)
    assert found.burners[0].choked
    at = Conditions(gauge_pressure_Pa=found.burners[0].gauge_pressure_Pa)
    single = flow(load("propane"), appliance.burners[0].orifice.diameter_m, at)
    assert single.choked
    assert found.burners[0].mass_flow_kg_per_s == pytest.approx(single.mass_flow_kg_per_s, rel=1e-4)


def test_a_coefficient_that_depends_on_the_flow_belongs_to_the_pressure_found() -> None:
    appliance = one(
        REGULATOR + HOSE, orifice='diameter = "1.0 mm", shape = "drilled channel", length = "3 mm"'
    )
    found = operate(appliance).burners[0]
    from burnerlab.orifice import law

    single = flow(
        load("propane"),
        1e-3,
        Conditions(gauge_pressure_Pa=found.gauge_pressure_Pa),
        law("drilled channel", 3e-3),
    )
    assert found.mass_flow_kg_per_s == pytest.approx(single.mass_flow_kg_per_s, rel=1e-6)


def test_a_converted_cart_has_a_regulator_for_its_new_pressure(cart: Appliance) -> None:
    from burnerlab.appliance import ConversionTarget

    after = changed(cart, ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0))
    after = replace(
        after, supply=replace(after.supply, train=replace(after.supply.train, inlet_gauge_pressure_Pa=4000.0))
    )  # type: ignore[type-var]
    found = operate(after)
    assert found.gas == "propane"
    assert any("spring for 27.40 mbar" in note for note in found.notes)
    for burner in found.burners:
        assert burner.gauge_pressure_Pa == pytest.approx(2740.0, rel=0.06)
    assert found.mass_flow_kg_per_s > 0.0


def test_another_gas_through_the_same_orifices_by_argument(cart: Appliance) -> None:
    rich = operate(cart, load("propane"))
    assert rich.gas == "propane"
    assert rich.burners[0].heat_input_gross_W > 1.4 * operate(cart).burners[0].heat_input_gross_W


@pytest.mark.parametrize(
    ("make", "word"),
    [
        (lambda: operate(demonstration(), on=["stock-pot rimg"]), "did you mean stock-pot ring"),
        (lambda: operate(demonstration(), on=[]), "names no burner"),
        (lambda: operate(one(THIN)), "hose: loses"),
        (lambda: one('[supply.hose]\nbore = "9 mm"\nlength = "1 m"\n'), "supply.inlet.*is missing"),
        (lambda: one('[supply.hose]\nlength = "1 m"\n' + REGULATOR), "needs a size or a bore"),
        (lambda: one('[supply.hose]\nsize = "3/8 in hos"\nlength = "1 m"\n' + REGULATOR), "did you mean 3/8 in hose"),
        (lambda: one(ELBOW.format("elbo = 1") + REGULATOR), "did you mean elbow"),
        (lambda: one(ELBOW.format("elbow = -1") + REGULATOR), "1 to 200"),
        (lambda: one('[supply.regulator]\ntype = "lp single stag"\n'), "did you mean lp single stage"),
        (lambda: one('[supply.regulator]\ndrop = "1 mbar"\n'), "did you mean droop"),
        (lambda: one('[supply.valve]\nKv = 1\nCv = 1\n'), "cannot stand together with Kv"),
        (lambda: one('[supply.manifold]\nbore = "9 mm"\nspacing = ["1 m", "1 m"]\n'), "2 distances for 1"),
        (lambda: one('inlet = "10 psi"\n'), "without a regulator, hose or pipe"),
        (lambda: one('inlet = "5 in w.c."\n' + REGULATOR), "not above the set point"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_in_words(make: object, word: str) -> None:
    with pytest.raises(UserError, match=word):
        make()  # type: ignore[operator]


def test_a_regulator_cannot_droop_to_nothing() -> None:
    with pytest.raises(UserError, match="not below the set point"):
        one('[supply.regulator]\nset = "11 in w.c."\ndroop = "11 in w.c."\n')


def test_a_hose_is_shown_beside_the_formulas_of_the_trade() -> None:
    """Three formulas lie near smooth walls; Spitzglass lets half as much through a 6 mm bore."""
    hose = next(e for e in operate(one(REGULATOR + HOSE)).elements if e.kind == "hose")
    by_name = dict(hose.flow_by_formula_over_this)
    assert set(by_name) == {"code", "Mueller", "IGT", "Spitzglass"}
    assert all(0.9 < by_name[name] < 1.2 for name in ("code", "Mueller", "IGT"))
    assert 0.35 < by_name["Spitzglass"] < 0.65
    fitted = operate(
        one(REGULATOR + HOSE.replace("[supply.hose]", "[supply.hose]\nfittings = { elbow = 1 }"))
    )
    same = next(e for e in fitted.elements if e.kind == "hose")
    assert dict(same.flow_by_formula_over_this)["code"] == pytest.approx(by_name["code"], rel=0.02), (
        "fittings are left out"
    )


def test_constants_of_the_formulas_may_be_the_users_own(own_table: Callable[[str, str, str], Path]) -> None:
    own = own_table("friction_formulas", "Mueller,factor,2971,", "Mueller,factor,5942,")
    plain = one(REGULATOR + HOSE)
    shown = [
        dict(next(e for e in operate(a).elements if e.kind == "hose").flow_by_formula_over_this)
        for a in (plain, replace(plain, tables=replace(plain.tables, friction_formulas=own)))
    ]
    assert shown[1]["Mueller"] == pytest.approx(2.0 * shown[0]["Mueller"], rel=1e-12)
    assert shown[1]["IGT"] == shown[0]["IGT"]


def test_a_heat_input_in_operation_is_printed_on_the_basis_of_the_rating() -> None:
    """Beside its deviation from a net rating stands the net figure."""
    found = operate(replace(demonstration(), rating="net"))
    texts = {one.burner: one.text for one in found.findings if one.topic == "heat input in operation"}
    for b in found.burners:
        assert f"gives {b.heat_input_net_W / 1e3:.3g} kW net, {100 * b.deviation:+.1f} % off" in texts[b.name]
