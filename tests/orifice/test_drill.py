"""Drill lists: nearest, monotone, tolerance, steps."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.orifice import Drill, area_step, beyond, drill_list, nearest_drill, neighbours, tolerance_band
from burnerlab.tables.problem import UserError

NUMBERS, ALL, HUNDREDTHS = drill_list("number"), drill_list(), drill_list("hundredth")
targets = st.floats(2e-4, 14e-3)


@given(targets, targets)
@settings(max_examples=150)
def test_the_nearest_drill_is_nearest_and_never_falls(one: float, other: float) -> None:
    """Relation 35, on each list and on all together."""
    for drills in (NUMBERS, drill_list("metric"), drill_list("letter", "fraction"), HUNDREDTHS, ALL):
        low, high = (nearest_drill(target, drills) for target in sorted((one, other)))
        assert low.diameter_m <= high.diameter_m
        gap = abs(nearest_drill(one, drills).diameter_m - one)
        assert gap == min(abs(drill.diameter_m - one) for drill in drills)


def test_hundredths_have_no_gap_and_no_size_twice() -> None:
    """0.30 to 3.00 mm by 0.01 mm (DIN 1899 up to 1.45 mm, memory; above, common practice), metric sizes once."""
    assert [round(1e5 * drill.diameter_m) for drill in HUNDREDTHS] == list(range(30, 301))
    assert [drill.name for drill in HUNDREDTHS] == [f"{mark / 100:.2f} mm" for mark in range(30, 301)]
    both = drill_list("metric", "hundredth")
    assert len({drill.diameter_m for drill in both}) == len(both)
    assert both[-1] == drill_list("metric")[-1]
    assert "hundredth" not in {drill.kind for drill in ALL}


def test_of_two_equally_near_the_smaller_is_taken() -> None:
    two = tuple(Drill(name=f"{d} mm", kind="own", diameter_m=d / 1024) for d in (1, 2))
    assert nearest_drill(1.5 / 1024, two).name == "1 mm"
    assert nearest_drill(1.5000001 / 1024, two).name == "2 mm"


@given(targets)
@settings(max_examples=100)
def test_neighbours_close_in_on_the_target(target: float) -> None:
    both = neighbours(target, NUMBERS)
    inside = [drill for drill in (both.below, both.above) if drill]
    assert nearest_drill(target, NUMBERS) in inside
    if both.below and both.above and both.below is not both.above:
        assert both.below.diameter_m < target < both.above.diameter_m
        assert NUMBERS.index(both.above) == NUMBERS.index(both.below) + 1
        assert both.area_step == pytest.approx(area_step(both.below, both.above))
    assert bool(beyond(target, NUMBERS)) == (both.below is None or both.above is None)


def test_the_lists_are_whole_and_rise() -> None:
    assert len(NUMBERS) == 80
    assert (NUMBERS[0].name, NUMBERS[-1].name) == ("#80", "#1")
    assert len(drill_list("letter")) == 26
    assert len(drill_list("fraction")) == 32
    assert ALL == tuple(sorted(ALL, key=lambda drill: drill.diameter_m))
    assert {drill.kind for drill in ALL} == {"number", "letter", "fraction", "metric"}
    assert all(drill.diameter_m < NUMBERS[0].diameter_m for drill in drill_list("wire"))


def test_names_are_printed_with_their_unit_and_read_back() -> None:
    from burnerlab.quantity import read_bore

    for drill in ALL:
        assert read_bore(drill.name).diameter_m == pytest.approx(drill.diameter_m, rel=1e-4), drill.name


def test_steps_above_a_tenth_leave_targets_out_of_reach() -> None:
    """A step of more than 10 % in area leaves some heat input more than 5 % from every number drill."""
    wide = [
        f"{smaller.name}-{larger.name}"
        for smaller, larger in pairwise(NUMBERS)
        if area_step(smaller, larger) > (1.05 / 0.95) - 1.0
    ]
    assert {"#78-#77", "#56-#55", "#77-#76", "#79-#78", "#54-#53", "#57-#56", "#31-#30"} <= set(wide)


def test_a_tolerance_table_of_ones_own(tmp_path: Path) -> None:
    drill = NUMBERS[0]
    assert tolerance_band(drill).high_m == drill.diameter_m
    assert tolerance_band(drill).low_m == pytest.approx(drill.diameter_m - 0.0005 * 0.0254)
    path = tmp_path / "ours.csv"
    path.write_text(
        "up_to_mm,oversize_mm,undersize_mm,source,place,provenance\n3,0.01,0.005,shop,gauge,measured here\n",
        encoding="utf-8",
    )
    band = tolerance_band(drill, path)
    assert (band.low_m, band.high_m) == pytest.approx((drill.diameter_m - 5e-6, drill.diameter_m + 1e-5))
    assert band.provenance == "measured here"
    with pytest.raises(UserError, match="up to 3 mm"):
        tolerance_band(NUMBERS[-1], path)


def test_unknown_and_empty_lists_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="number, letter, fraction, metric"):
        drill_list("numbers")
    with pytest.raises(UserError, match="not a regular file"):
        drill_list(own=tmp_path)
    with pytest.raises(UserError, match="empty"):
        nearest_drill(1e-3, ())
