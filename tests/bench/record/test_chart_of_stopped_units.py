"""A stopped unit is marked on the chart by shape and word, and no limit is computed from it."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from burnerlab.bench.record import (
    BenchTest,
    ChartQuery,
    Observation,
    Result,
    UnitChart,
    add_test,
    open_record,
    open_stops,
    release,
    unit_chart,
)
from burnerlab.cli import main
from burnerlab.report.figures.control_chart import chart_svg

ALIKE = [-0.00122, -0.00128, -0.00125, -0.00132, -0.00124, -0.00127, -0.00126, -0.00123]
BY = {
    "name": "K. Moss",
    "qualification": "gas engineer",
    "cause": "nut loose",
    "repair": "tightened",
    "joints_searched": "fluid",
    "gas_at_joints": "no",
}


def chart_of(path: Path, values: list[float], soot: int | None = None) -> UnitChart:
    with open_record(path) as record:
        for number, value in enumerate(values):
            seen = (Observation(name="soot", answer="yes", burner="ring"),) if number == soot else ()
            off = Result(quantity="deviation", value=value, burner="ring", low=-0.05, high=0.05)
            test = BenchTest(
                serial=f"C-{number}", model="cart", tester="R. Quill", results=(off,), observations=seen
            )
            add_test(record, test)
        if soot is not None:
            release(record, [one.uid for one in open_stops(record)], **BY)
        return unit_chart(record, ChartQuery(model="cart", burner="ring"))


def test_a_stopped_unit_is_marked_and_moves_no_limit(tmp_path: Path) -> None:
    sound = chart_of(tmp_path / "sound.sqlite", ALIKE)
    with_stop = chart_of(tmp_path / "stop.sqlite", [*ALIKE, 0.04], soot=len(ALIKE))
    assert sound.limits is not None
    assert with_stop.limits is not None
    assert with_stop.limits.centre == pytest.approx(sound.limits.centre, rel=1e-12)
    assert with_stop.limits.sigma == pytest.approx(sound.limits.sigma, rel=1e-12)
    assert with_stop.hits == sound.hits
    assert with_stop.stopped == ("",) * len(ALIKE) + ("stopped, released",)
    assert "1 of these units was stopped: marked, and left out of limits and capability" in with_stop.notes
    assert "stopped, released" in chart_svg(with_stop)


def test_nearly_equal_units_are_shown_in_their_band(tmp_path: Path) -> None:
    drawn = chart_svg(chart_of(tmp_path / "sound.sqlite", ALIKE))
    assert "band, upper" in drawn
    assert "band, lower" in drawn


def test_a_chart_without_capability_says_so_in_one_word(tmp_path: Path) -> None:
    path = tmp_path / "few.sqlite"
    chart_of(path, ALIKE[:1])
    done = CliRunner().invoke(
        main, ["record", "chart", "--model", "cart", "--burner", "ring", "--file", str(path)]
    )
    assert done.exit_code == 0, done.output
    row = next(line for line in done.stdout.splitlines() if line.strip().startswith("capability"))
    assert row.split() == ["capability", "not", "evaluated"]
