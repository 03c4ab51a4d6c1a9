"""What a regulator cannot do is told: an inlet below its set point, a kind made for another pressure, a large droop."""

from __future__ import annotations

import pytest

from burnerlab.appliance import Finding, Operation, demonstration_path, operate, read_appliance_text

CART = demonstration_path().read_text(encoding="utf-8")
TUBE = """
[appliance]
name   = "one tube"
rating = "gross"

[supply]
gas      = "propane"
pressure = "37 mbar"
inlet    = "2 bar"

[supply.regulator]
type = "{kind}"
set  = "37 mbar"
droop = "{droop}"

[[burner]]
name    = "tube"
kind    = "tube"
rate    = "4 kW"
orifice = {{ drill = "#65", shape = "tapered" }}
"""


def found(operation: Operation, topic: str) -> Finding:
    return next(f for f in operation.findings if f.topic == topic)


def tube(kind: str = "propane 37 mbar", droop: str = "3 mbar") -> Operation:
    return operate(read_appliance_text(TUBE.format(kind=kind, droop=droop)))


def test_an_inlet_below_the_set_point_is_outside() -> None:
    """The file's meter gives 10 in w.c.; a regulator set to 11 in w.c. behind it holds nothing."""
    from dataclasses import replace

    cart = read_appliance_text(CART)
    supply = replace(cart.supply, gauge_pressure_Pa=2740.0)
    inlet = found(operate(replace(cart, supply=supply)), "regulator inlet")
    assert inlet.verdict == "outside"
    assert inlet.value is not None
    assert inlet.low is not None
    assert inlet.value < inlet.low
    assert "cannot hold" in inlet.text


def test_a_typical_least_inlet_goes_with_the_set_point_and_says_where_it_is_from() -> None:
    """Table regulators: a natural gas appliance regulator needs 1 in w.c. above its set point, common practice."""
    inlet = found(operate(read_appliance_text(CART)), "regulator inlet")
    assert inlet.low == pytest.approx(1.0 * 2.4909, rel=1e-3)
    assert f"it needs {(7.1 + 1.0) * 2.4909:.2f} mbar" in inlet.text
    assert "common practice" in inlet.source
    assert inlet.evidence != "entered"
    entered = CART.replace('droop    = "0.3', 'minimum_inlet = "9 in w.c."\ndroop    = "0.3')
    own = found(operate(read_appliance_text(entered)), "regulator inlet")
    assert own.low == pytest.approx((9.0 - 7.1) * 2.4909, rel=1e-3)
    assert (own.source, own.evidence) == ("", "entered")


def test_a_kind_made_for_another_pressure_is_told() -> None:
    """UL 144: a first stage regulator sets 2 to 10 psi, a 37 mbar appliance is far below."""
    kind = found(tube("lp first stage"), "regulator kind")
    assert kind.verdict == "outside"
    assert kind.low == pytest.approx(2 * 68.95, rel=1e-3)
    assert "lp first stage set to 37 mbar" in kind.text
    assert all(f.topic != "regulator kind" for f in tube().findings)


def test_a_droop_no_regulator_has_is_questioned() -> None:
    droop = found(tube(droop="10 in w.c."), "regulator droop")
    assert droop.verdict == "outside"
    assert droop.value == pytest.approx(100 * 2491 / 3700, rel=1e-3)
    assert "check the figure and its unit" in droop.text
    assert all(f.topic != "regulator droop" for f in tube().findings)


def test_a_droop_may_be_a_percentage_of_the_set_point() -> None:
    for topic in ("manifold_gauge_pressure_Pa", "heat_input_gross_W"):
        assert getattr(tube(droop="10 %"), topic) == pytest.approx(getattr(tube(droop="3.7 mbar"), topic))


HIGH = """
[appliance]
name   = "one ring"
rating = "gross"

[supply]
gas      = "propane"
pressure = "10 psig"
allow_high_pressure = true
inlet    = "60 psi"

[supply.regulator]
type = "lp high pressure"
droop = "0.5 psi"
{more}

[[burner]]
name    = "ring"
rate    = "20 kW"
orifice = {{ diameter = "1.2 mm", shape = "tapered" }}
"""


@pytest.mark.parametrize("effect", [-0.02, 0.0, 0.01])
def test_the_inlet_effect_counts_from_the_inlet_that_the_figures_are_stated_at(effect: float) -> None:
    """At 60 psi a regulator set at 100 psi gives 40 psi times its effect less; set at 60 psi it gives its set point."""
    here = operate(read_appliance_text(HIGH.format(more=f"inlet_effect = {effect}")))
    stated = operate(
        read_appliance_text(HIGH.format(more=f'inlet_effect = {effect}\nstated_inlet = "100 psi"'))
    )
    by_effect = stated.manifold_gauge_pressure_Pa - here.manifold_gauge_pressure_Pa
    # a droop of 0.5 psi at the rated flow takes a few per cent of the change back
    assert by_effect == pytest.approx(-effect * 40 * 6894.757, rel=0.06)


def test_a_small_burner_alone_burns_nearer_to_lock_up() -> None:
    """Lock-up zone of 5 % of the rated flow: at 2 % the outlet stands between set point and lock-up."""
    alone = operate(read_appliance_text(HIGH.format(more='rated = "1000 kW"\nlock_up = "2 psi"')))
    gauge = alone.manifold_gauge_pressure_Pa / 6894.757
    assert 10.3 < gauge < 12.0
    far = operate(read_appliance_text(HIGH.format(more='rated = "100 kW"\nlock_up = "2 psi"')))
    assert far.manifold_gauge_pressure_Pa / 6894.757 < 10.0
