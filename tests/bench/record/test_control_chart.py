"""Control chart, drift and capability: relations that always hold, coverage on simulated shops, the chart itself."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from record_samples import a_test

from burnerlab import tables
from burnerlab.bench.record import (
    ChartQuery,
    Record,
    Result,
    add_test,
    capability,
    control_limits,
    correct,
    drift,
    open_record,
    series,
    unit_chart,
)
from burnerlab.bench.record.control_chart import drift_rules, factors, moving_ranges
from burnerlab.quantity import UserError

values = st.lists(st.floats(-100.0, 100.0), min_size=8, max_size=60).filter(lambda v: np.ptp(v) > 1e-6)
RULES = {rule.name: rule for rule in drift_rules()}


@settings(max_examples=60)
@given(found=values, scale=st.floats(0.01, 100.0), shift=st.floats(-50.0, 50.0))
def test_limits_and_drift_follow_a_change_of_unit(found: list[float], scale: float, shift: float) -> None:
    here = control_limits(found)
    moved = np.asarray(found) * scale + shift
    there = control_limits(moved)
    assert there.centre == pytest.approx(here.centre * scale + shift, rel=1e-9, abs=1e-9 * scale * 100)
    assert there.sigma == pytest.approx(here.sigma * scale, rel=1e-6, abs=1e-9)
    assert there.high - there.centre == pytest.approx(there.centre - there.low)
    assert here.range_high == pytest.approx(factors()["D4"] * np.mean(moving_ranges(found)))


@settings(max_examples=60)
@given(found=values)
def test_a_mirrored_chart_has_the_same_drift(found: list[float]) -> None:
    def hits(series: np.ndarray) -> list[tuple[str, int]]:
        return [(hit.rule.name, hit.index) for hit in drift(series, 0.0, 10.0, drift_rules())]

    assert hits(np.asarray(found)) == hits(-np.asarray(found))


def slow_count(found: list[float], rule: str) -> list[int]:
    """A rule as its wording says it, point by point."""
    asked = RULES[rule]
    hits = []
    for at in range(len(found)):
        window = found[max(0, at + 1 - asked.window) : at + 1]
        if asked.kind == "beyond":
            for side in (1, -1):
                beyond = [value for value in window if side * value > asked.sigma]
                if len(beyond) >= asked.count and side * found[at] > asked.sigma:
                    hits.append(at)
        elif len(window) == asked.count:
            steps = [b - a for a, b in pairwise(window)]
            if asked.kind == "trend" and (all(s > 0 for s in steps) or all(s < 0 for s in steps)):
                hits.append(at)
            if asked.kind == "alternate" and all(a * b < 0 for a, b in pairwise(steps)):
                hits.append(at)
    return hits


@settings(max_examples=40)
@given(
    found=st.lists(st.sampled_from([-3.5, -2.5, -1.5, -0.5, 0.5, 1.5, 2.5, 3.5]), min_size=14, max_size=50)
)
def test_rules_agree_with_their_wording(found: list[float]) -> None:
    for name, rule in RULES.items():
        assert [hit.index for hit in drift(found, 0.0, 1.0, [rule])] == slow_count(found, name), name


def test_a_steady_shop_is_rarely_flagged_and_a_shifted_one_soon() -> None:
    rng = np.random.default_rng(5)
    beyond = [RULES["beyond the limits"]]
    steady = rng.normal(size=100_000)
    share = len(drift(steady, 0.0, 1.0, beyond)) / steady.size
    assert share == pytest.approx(0.0027, rel=0.25)  # three sigma, both sides
    firsts = []
    for _ in range(300):
        hits = drift(rng.normal(size=200) + 1.5, 0.0, 1.0, drift_rules())
        firsts.append(hits[0].index if hits else 200)
    assert np.median(firsts) < 15  # a shift of 1.5 sigma is seen within some fifteen units


def test_capability_intervals_cover_the_truth() -> None:
    rng, count, trials = np.random.default_rng(7), 40, 2000
    covered = {"cp": 0, "cpk": 0}
    for _ in range(trials):
        found = capability(0.5 + rng.normal(size=count), -4.0, 4.0)
        assert found.cp_interval is not None
        covered["cp"] += found.cp_interval.low <= 4.0 / 3.0 <= found.cp_interval.high
        covered["cpk"] += found.cpk_interval.low <= 3.5 / 3.0 <= found.cpk_interval.high
    assert covered["cp"] / trials == pytest.approx(0.95, abs=0.015)
    assert covered["cpk"] / trials == pytest.approx(0.95, abs=0.02)


@settings(max_examples=60)
@given(found=values, low=st.floats(-200.0, 0.0), reach=st.floats(1.0, 400.0))
def test_cpk_is_never_above_cp_and_is_cp_at_the_middle(found: list[float], low: float, reach: float) -> None:
    held = capability(found, low, low + reach)
    assert held.cp is not None
    assert held.cpk <= held.cp * (1.0 + 1e-12)
    centred = np.asarray(found) - held.mean
    middle = capability(centred, -reach / 2.0, reach / 2.0)
    assert middle.cpk == pytest.approx(middle.cp, rel=1e-9)
    one_sided = capability(found, None, low + reach)
    assert one_sided.cp is None
    assert one_sided.cpk >= held.cpk - 1e-12


@pytest.mark.parametrize(
    ("found", "low", "high", "words"),
    [
        ([1.0, 2.0, 3.0], None, None, "no band"),
        ([1.0, 2.0, 3.0], 3.0, 1.0, "lower end"),
        ([1.0], 0.0, 2.0, "units that differ"),
        ([1.0, 1.0, 1.0], 0.0, 2.0, "units that differ"),
    ],
)
def test_no_capability_without_band_or_scatter(
    found: list[float], low: float | None, high: float | None, words: str
) -> None:
    with pytest.raises(UserError, match=words):
        capability(found, low, high)


def test_too_few_units_give_no_limits() -> None:
    with pytest.raises(UserError, match="too few units"):
        control_limits([1.0, 2.0, 3.0, 4.0])


def shop(path: Path, deviations: np.ndarray, burner: str = "griddle") -> Record:
    record = open_record(path)
    for number, value in enumerate(deviations):
        result = Result(
            quantity="deviation",
            value=float(value),
            burner=burner,
            expanded_uncertainty=0.01,
            low=-0.05,
            high=0.05,
        )
        day, hour = divmod(number, 10)
        when = f"2024-10-{1 + day:02d}T{8 + hour:02d}:00:00Z"
        add_test(
            record, a_test(f"C-{number:04d}", tested_at=when, results=(result,), readings=(), instruments=())
        )
    return record


@pytest.fixture
def drifting(tmp_path: Path) -> Record:
    rng = np.random.default_rng(2)
    found = 0.01 * rng.normal(size=60)
    found[40:] += 0.03
    with shop(tmp_path / "bench.sqlite", found) as record:
        yield record  # type: ignore[misc]


MODEL = ChartQuery(model="market cart range", burner="griddle")


def test_the_chart_takes_the_last_units_and_flags_the_drift(drifting: Record) -> None:
    chart = unit_chart(drifting, replace(MODEL, last=50, baseline=25))
    assert [point.serial for point in chart.points] == [f"C-{n:04d}" for n in range(10, 60)]
    assert chart.limits == control_limits([point.value for point in chart.points[:25]])
    assert any(hit.rule.name == "eight on one side" and hit.index >= 37 for hit in chart.hits)
    assert not [hit for hit in chart.hits if hit.rule.name == "beyond the limits" and hit.index < 25]
    assert chart.capability is not None
    assert (chart.capability.low, chart.capability.high, chart.capability.count) == (-0.05, 0.05, 50)


def test_a_retested_unit_counts_once_by_its_last_or_its_first_test(drifting: Record) -> None:
    better = Result(quantity="deviation", value=0.001, burner="griddle", low=-0.05, high=0.05)
    again = a_test("C-0055", tested_at="2024-10-20T08:00Z", results=(better,), readings=(), instruments=())
    add_test(drifting, again)
    last = series(drifting, MODEL.model, "griddle", "deviation", last=60)
    first = series(drifting, MODEL.model, "griddle", "deviation", last=60, take="first")
    assert len(last) == len(first) == 60
    assert (last[-1].serial, last[-1].value) == ("C-0055", 0.001)
    assert next(point for point in first if point.serial == "C-0055").value > 0.01
    made = add_test(
        drifting, replace(again, tested_at="2024-10-21T08:00Z", results=(replace(better, value=0.5),))
    )
    correct(drifting, made.uid, replace(again, serial="C-0056", tested_at="2024-10-21T08:00Z"), "wrong unit")
    assert max(point.value for point in series(drifting, MODEL.model, "griddle", "deviation", last=60)) < 0.1


def test_what_is_not_in_the_record_is_said(drifting: Record) -> None:
    with pytest.raises(UserError, match=r"no unit of this model .*accepted: market cart range"):
        unit_chart(drifting, replace(MODEL, model="ring"))
    with pytest.raises(UserError, match=r"no unit of this model has .*accepted: griddle"):
        unit_chart(drifting, replace(MODEL, burner="ring"))
    with pytest.raises(UserError, match="not a word of the record"):
        unit_chart(drifting, replace(MODEL, quantity="colour"))


def test_few_units_or_a_changed_band_are_not_evaluated(tmp_path: Path) -> None:
    with shop(tmp_path / "few.sqlite", np.array([0.01, 0.02, 0.0])) as record:
        chart = unit_chart(record, MODEL)
        assert chart.limits is None
        assert chart.capability is None
        assert any("fewer than 5 units" in note for note in chart.notes)
    with shop(tmp_path / "same.sqlite", np.full(8, 0.01)) as record:
        chart = unit_chart(record, MODEL)
        assert chart.hits == ()
        assert any("do not differ" in note for note in chart.notes)
    with shop(tmp_path / "band.sqlite", np.linspace(0.0, 0.01, 8)) as record:
        other = Result(quantity="deviation", value=0.02, burner="griddle", low=-0.1, high=0.1)
        add_test(record, a_test("D-1", results=(other,), readings=(), instruments=()))
        assert unit_chart(record, MODEL).capability is None
        assert unit_chart(record, replace(MODEL, high=0.05)).capability is not None


def test_a_table_of_the_users_own_replaces_the_rules(drifting: Record, tmp_path: Path) -> None:
    own = tmp_path / "rules.csv"
    own.write_text(
        "name,kind,count,window,sigma,words,source,place,provenance\n"
        "three on one side,beyond,3,3,0,three on one side,our own,desk,measured here\n"
    )
    chart = unit_chart(drifting, replace(MODEL, own_rules=own))
    assert {hit.rule.name for hit in chart.hits} == {"three on one side"}
    assert chart.hits[0].rule.source == "our own"


def test_the_figure_tells_the_same_without_colour(drifting: Record) -> None:
    pytest.importorskip("matplotlib")
    from burnerlab.report.figures.control_chart import chart_svg, marks

    chart = unit_chart(drifting, replace(MODEL, baseline=25, burner="griddle"))
    svg = chart_svg(chart)
    assert svg == chart_svg(chart)
    root = ET.fromstring(svg)
    title, words = (root.find(f"{{http://www.w3.org/2000/svg}}{tag}") for tag in ("title", "desc"))
    assert title is not None
    assert words is not None
    assert "griddle" in (title.text or "")
    for index in marks(chart):
        assert chart.points[index].serial in (words.text or "")
    assert "http" not in svg.replace("http://www.w3.org/2000/svg", "")


def test_every_rule_of_the_table_can_be_met() -> None:
    rows = {row["name"] for row in tables.rows("drift_rules")}
    assert rows == set(RULES)
    rng = np.random.default_rng(0)
    wild = np.concatenate([rng.normal(size=3000) * 2.0, np.arange(8.0), np.tile([1.0, -1.0], 10)])
    assert {hit.rule.name for hit in drift(wild, 0.0, 1.0, drift_rules())} == rows
