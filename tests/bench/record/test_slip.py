"""A figure typed wrong: which stops its correction ends, and each way in which none does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from record_samples import A_RELEASE

from burnerlab.bench.record import (
    BenchReading,
    BenchTest,
    InputText,
    Observation,
    Record,
    TestRecord,
    add_test,
    correct,
    exported,
    import_file,
    open_record,
    open_stops,
    release,
    unit_stops,
)
from burnerlab.bench.record.slip import correction_words, standing_after, typed_quantities
from burnerlab.bench.stop import StopNotice, stop_notice, stop_rows

REASON = "a nought too many"
NEVER = ("odour", "co-alarm", "leak-suspected", "co-high", "pressure-lost", "other-gas", "mark-differs")


@pytest.fixture
def record(tmp_path: Path) -> Any:
    with open_record(tmp_path / "bench.sqlite") as made:
        yield made


def typed(pressure: str = "110 mbar", Pa: float = 11000.0, **other: Any) -> BenchTest:
    made = BenchTest(
        serial="S-1",
        model="m",
        tester="R. Quill",
        gas="propane",
        model_sha256="a" * 64,
        inputs=(InputText(name="burner", text="ring"), InputText(name="manifold", text=pressure)),
        readings=(BenchReading(quantity="manifold_pressure", value=Pa, burner="ring"),),
    )
    return replace(made, **other)


def notice(id: str) -> StopNotice:
    words = dict.fromkeys(
        ("gas", "read", "limit", "burner", "true", "percent", "against", "what", "share"), "x"
    )
    words |= dict.fromkeys(("where", "by_meter", "kind", "provenance"), "x")
    return stop_notice(id, why="x", **words)


RIGHT = typed("11.0 mbar", 1100.0)


def test_every_stop_declares_whether_a_typed_figure_may_raise_it_and_why() -> None:
    for id in stop_rows():
        assert len(correction_words(id)) > 10
    assert not [id for id in NEVER if typed_quantities(id)]
    assert [id for id in stop_rows() if typed_quantities(id)] == [
        "pressure", "wrong-gas", "overfire", "pressure-band", "gas-not-ruled-out", "pressure-low",
    ]  # fmt: skip


@pytest.mark.parametrize("id", [id for id in stop_rows() if not typed_quantities(id)])
def test_what_was_seen_or_escapes_stands_until_its_release(record: Record, id: str) -> None:
    first = add_test(record, typed(stops=(notice(id),)))
    correct(record, first.uid, RIGHT, REASON, before=first)
    assert [one.notice.id for one in open_stops(record)] == [id]


@pytest.mark.parametrize("id", [id for id in stop_rows() if typed_quantities(id)])
def test_the_technician_who_typed_it_ends_a_stop_of_figures(record: Record, tmp_path: Path, id: str) -> None:
    first = add_test(record, typed(stops=(notice(id),)))
    assert open_stops(record)
    second = correct(record, first.uid, RIGHT, REASON, before=first)
    assert open_stops(record) == ()
    past = unit_stops(record, "S-1")
    assert (past.mark, past.stops[0].ended_by) == ("stopped, corrected", second.uid)
    (tmp_path / "copy.json").write_bytes(exported(record, "json"))
    with open_record(tmp_path / "other.sqlite") as other:
        import_file(other, tmp_path / "copy.json")
        assert open_stops(other) == ()  # as at the bench that it comes from


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"tester": "K. Moss"}, "another person"),
        ({"model_sha256": "b" * 64}, "more than figures"),
        ({"serial": "S-2"}, "more than figures"),
        ({"inputs": (InputText(name="burner", text="griddle"), RIGHT.inputs[1])}, "more than figures"),
        ({"inputs": RIGHT.inputs[:1], "readings": ()}, "left out or added"),
        ({"stops": (notice("overfire"),)}, "raise a STOP themselves"),
        (
            {"observations": (Observation(name="odour", answer="yes", burner="ring"),)},
            "raise a STOP themselves",
        ),
        ({"readings": typed().readings}, "no figure that raises it"),
    ],
)
def test_no_other_correction_ends_it(record: Record, changed: dict[str, Any], said: str) -> None:
    first = add_test(record, typed(stops=(notice("pressure"),)))
    after = replace(RIGHT, **changed)
    raised = after.stops or tuple(notice(one.name) for one in after.observations)
    assert said in standing_after(first, after, raised, REASON, first.recorded_at)["pressure"]
    correct(record, first.uid, after, REASON, before=first)
    assert "pressure" in [one.notice.id for one in open_stops(record)]


def test_not_later_nor_without_words_nor_where_nobody_judged_its_figures(record: Record) -> None:
    first = add_test(record, typed(stops=(notice("pressure"),)))
    year = int(first.recorded_at[:4]) + 1
    later = f"{year}-01-03{first.recorded_at[10:]}"
    assert "later than 24 h" in standing_after(first, RIGHT, (), REASON, later)["pressure"]
    assert "does not name the slip" in standing_after(first, RIGHT, (), "?", first.recorded_at)["pressure"]
    forged = InputText(name="ended_stops", text=f"{first.uid}-pressure")
    second = correct(record, first.uid, replace(RIGHT, inputs=(*RIGHT.inputs, forged)), REASON)
    assert [one.notice.id for one in open_stops(record)] == ["pressure"]
    assert forged not in second.test.inputs


def test_a_stop_that_a_first_correction_raised_again_ends_with_the_second(record: Record) -> None:
    first = add_test(record, typed(stops=(notice("pressure"),)))
    second = correct(
        record, first.uid, typed("111 mbar", 11100.0, stops=(notice("pressure"),)), REASON, before=first
    )
    assert len(open_stops(record)) == 2
    third: TestRecord = correct(record, second.uid, RIGHT, REASON, before=second)
    assert open_stops(record) == ()
    assert {one.ended_by for one in unit_stops(record, "S-1").stops} == {third.uid}


def test_beside_it_another_stop_of_the_entry_keeps_its_unit(record: Record) -> None:
    first = add_test(record, typed(stops=(notice("pressure"), notice("soot"))))
    correct(record, first.uid, RIGHT, REASON, before=first)
    assert [one.notice.id for one in open_stops(record)] == ["soot"]
    release(record, open_stops(record)[0].uid, **A_RELEASE)
    assert unit_stops(record, "S-1").mark == "stopped, released"
