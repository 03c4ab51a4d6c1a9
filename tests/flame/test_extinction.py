"""Fuel factor on lift and ranks of carbon monoxide: relations of the strained flames, and where nothing is said.

The flames are our own; what others saw is a direction: hydrogen suppresses blow-off (seen, an abstract), carbon
monoxide falls with primary air (common practice). An earlier run with other steps and grids is the second calculation.
"""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from burnerlab.flame.extinction import carbon_monoxide_ranks, lift_fuel_factor
from burnerlab.flame.making import counterflow
from burnerlab.flame.making.counterflow import (
    AERATIONS,
    CHECKED,
    MIXTURES,
    CounterflowUnit,
    air_side_strain_per_s,
    extinction_strain_per_s,
    flames_of,
    run,
    stored,
    to_extinction,
    units,
    write_table,
)
from burnerlab.gas import Composition, load
from burnerlab.tables import rows
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import UserError

FEASIBILITY = {
    ("methane", 0.4): 820.0,
    ("methane", 0.55): 850.0,
    ("methane", 0.65): 855.0,
    ("methane hydrogen 0.2", 0.55): 1213.0,
    ("propane", 0.55): 1113.0,
}
"""Extinction strain [1/s] of an earlier run with steps of 20 to 28 K and other grids, computed."""


def mixture(**moles: float) -> Composition:
    return Composition.of({name.replace("_", " "): share for name, share in moles.items()}, per="mole")


def strain(gas: str, aeration: float, grid: str = "coarse") -> float:
    (row,) = [
        row
        for row in rows("counterflow_extinction")
        if (row["gas"], float(row["aeration"]), row["grid"]) == (gas, aeration, grid)
    ]
    return float(row["extinction_strain_per_s"])


def test_the_table_holds_every_unit_of_the_plan() -> None:
    held = {(row["gas"], float(row["aeration"]), row["grid"]) for row in rows("counterflow_extinction")}
    planned = {(unit.label, unit.aeration, "halved" if unit.is_halved else "coarse") for unit in units()}
    assert held == planned


@pytest.mark.parametrize("aeration", AERATIONS)
def test_fuels_rank_by_extinction_as_seen(aeration: float) -> None:
    """Propane and hydrogen hold better than methane; the more hydrogen, the better."""
    rising = [strain(name, aeration) for name in ("methane", "methane hydrogen 0.2", "methane hydrogen 0.5")]
    assert all(before < after for before, after in pairwise(rising))
    assert 1.2 < strain("propane", aeration) / strain("methane", aeration) < 1.45


@pytest.mark.parametrize(("gas", "aeration"), FEASIBILITY)
def test_an_earlier_run_found_the_same_strain(gas: str, aeration: float) -> None:
    assert strain(gas, aeration) == pytest.approx(FEASIBILITY[gas, aeration], rel=0.05)


@pytest.mark.parametrize(("gas", "aeration"), CHECKED)
def test_the_halved_grid_agrees_within_3_percent(gas: str, aeration: float) -> None:
    assert strain(gas, aeration, "halved") == pytest.approx(strain(gas, aeration), rel=0.03)


def test_extinction_strain_is_flat_in_aeration() -> None:
    """Why it cannot replace the power of the lift rule, which changes by several times over the same aerations."""
    own = [strain("methane", aeration) for aeration in AERATIONS]
    assert max(own) / min(own) < 1.15


@pytest.mark.parametrize("gas", MIXTURES)
def test_carbon_monoxide_falls_with_each_step_of_aeration(gas: str) -> None:
    own = sorted(
        (float(row["aeration"]), float(row["carbon_monoxide_over_methane"]))
        for row in rows("counterflow_extinction")
        if (row["gas"], row["grid"]) == (gas, "coarse")
    )
    assert len(own) == len(AERATIONS)
    assert all(before[1] > after[1] for before, after in pairwise(own))


@pytest.mark.parametrize("aeration", [0.4, 0.5, 0.6, 0.65])
def test_the_factor_of_methane_is_one_and_of_a_solved_blend_its_own(aeration: float) -> None:
    factor = lift_fuel_factor(mixture(methane=1), aeration)
    assert factor is not None
    assert factor.value == pytest.approx(1.0)
    assert factor.low < 1.0 < factor.high
    assert factor.evidence is Evidence.ESTIMATE
    blend = lift_fuel_factor(mixture(methane=0.8, hydrogen=0.2), aeration)
    assert blend is not None
    nodes = [strain("methane hydrogen 0.2", at) / strain("methane", at) for at in AERATIONS]
    assert min(nodes) <= blend.value <= max(nodes)


@pytest.mark.parametrize(
    ("blend", "label"),
    [
        (mixture(methane=0.65, hydrogen=0.35), "methane hydrogen 0.35"),
        (mixture(methane=0.8, propane=0.2), "methane propane 0.2"),
    ],
)
def test_the_rule_between_mixtures_meets_a_blend_that_was_solved(blend: Composition, label: str) -> None:
    """Each was solved and is no node of the rule."""
    ruled = lift_fuel_factor(blend, 0.55)
    assert ruled is not None
    solved = strain(label, 0.55) / strain("methane", 0.55)
    assert ruled.value == pytest.approx(solved, rel=0.05)
    assert ruled.low < solved < ruled.high


def test_the_factor_has_no_steps() -> None:
    shares, aerations = np.linspace(0.0, 0.5, 101), np.linspace(0.4, 0.65, 51)
    for values in (
        [lift_fuel_factor(mixture(methane=1 - x, hydrogen=x), 0.5) for x in shares],
        [lift_fuel_factor(mixture(methane=1 - x, propane=x), 0.5) for x in shares],
        [lift_fuel_factor(mixture(propane=1.0), float(a)) for a in aerations],
    ):
        found = np.array([figure.value for figure in values if figure is not None])
        assert found.size == len(values)
        assert np.abs(np.diff(np.log(found))).max() < 0.03


@pytest.mark.parametrize("name", ["G20", "natural-gas-typical", "propane"])
def test_gases_of_a_cooking_appliance_have_a_factor(name: str) -> None:
    factor = lift_fuel_factor(load(name), "55 %")
    assert factor is not None
    assert 0.95 < factor.value < 1.6
    assert factor.low <= factor.value <= factor.high


@pytest.mark.parametrize(
    "outside",
    [
        (mixture(methane=1.0), 0.39),
        (mixture(methane=1.0), 0.70),
        (mixture(methane=0.4, hydrogen=0.6), 0.55),
        (mixture(hydrogen=1.0), 0.55),
        (mixture(methane=0.9, carbon_monoxide=0.1), 0.55),
        (mixture(methane=0.65, carbon_dioxide=0.35), 0.55),
        (mixture(propane=0.5, oxygen=0.1, nitrogen=0.4), 0.55),
    ],
)
def test_outside_the_flames_solved_nothing_is_said(outside: tuple[Composition, float]) -> None:
    assert lift_fuel_factor(*outside) is None
    assert carbon_monoxide_ranks([outside, (mixture(methane=1.0), 0.55)]) == (None, 1)


def test_a_gas_nothing_is_known_of_is_refused() -> None:
    with pytest.raises(UserError, match="acetylene"):
        lift_fuel_factor(mixture(acetylene=1.0), 0.55)


def test_ranks_follow_aeration_and_share_a_place_when_close() -> None:
    methane, propane = mixture(methane=1.0), mixture(propane=1.0)
    assert carbon_monoxide_ranks([(methane, 0.4), (methane, 0.55), (methane, 0.65)]) == (3, 2, 1)
    assert carbon_monoxide_ranks([(methane, 0.55), (methane, 0.5505)]) == (1, 1)
    assert carbon_monoxide_ranks([(propane, 0.55), (methane, 0.55)]) == (2, 1)
    assert carbon_monoxide_ranks([]) == ()


def test_strain_is_that_of_the_air_before_the_flame() -> None:
    grid = np.linspace(0.0, 0.02, 401)
    outer = -300.0 * (grid - 0.011)  # air of 300 1/s
    heated = np.where(grid < 0.0105, 900.0 * (0.0105 - grid), np.minimum(outer, 0.0))
    bump = heated - 0.4 * np.exp(
        -(((grid - 0.0115) / 0.0005) ** 2)
    )  # gas sped up by heat: steeper, and not counted
    assert air_side_strain_per_s(grid, bump) == pytest.approx(300.0, rel=0.15)


def test_a_strain_still_rising_is_no_extinction() -> None:
    with pytest.raises(ValueError, match="has not passed"):
        extinction_strain_per_s([700.0, 800.0, 850.0])


def test_the_workshop_goes_on_where_it_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[str] = []
    made = [
        {"strain_per_s": k, "peak_temperature_K": 1900.0, "carbon_monoxide": 4e-3, "grid_points": 90}
        for k in (300.0, 500.0, 860.0, 840.0)
    ]

    def computed(unit: CounterflowUnit) -> str:
        calls.append(unit.name)
        if unit.label == "propane":
            raise RuntimeError("the worker is gone")
        return json.dumps(made)

    monkeypatch.setattr("burnerlab.flame.making.counterflow.compute", computed)
    wanted = [unit for unit in units() if unit.label in ("methane", "propane") and not unit.is_halved]
    with ThreadPoolExecutor(1) as pool:
        assert run(wanted[:2], pool, tmp_path) == {}
        failed = run(wanted, pool, tmp_path)
    assert len(calls) == len(wanted)
    assert set(failed) == {unit.name for unit in wanted if unit.label == "propane"}
    assert stored(tmp_path, wanted[0]).is_file()
    assert write_table(tmp_path, tmp_path) == len(wanted) - len(failed)
    assert len(flames_of(tmp_path, wanted[0])) == len(made)


@pytest.mark.slow
def test_one_flame_is_solved_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Methane at aeration 0.55, about 10 s: the row of the table from jets 2.5 times as fast, in higher steps."""
    monkeypatch.setattr(counterflow, "STEP_K", 2 * counterflow.STEP_K)
    monkeypatch.setattr(counterflow, "AIR_VELOCITY_m_per_s", 2.5 * counterflow.AIR_VELOCITY_m_per_s)
    unit = CounterflowUnit(label="methane", gas=MIXTURES["methane"], aeration=0.55)
    found = extinction_strain_per_s([flame.strain_per_s for flame in to_extinction(unit)])
    assert found == pytest.approx(strain("methane", 0.55), rel=0.005)
