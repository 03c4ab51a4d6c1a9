"""A stop in the record: raised by what the entry holds, ended by a release alone, kept like every entry."""

from __future__ import annotations

import sqlite3
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from record_samples import A_RELEASE, ANSWERS, a_stopped_test, a_test, tampered

from burnerlab.appliance import convert, demonstration
from burnerlab.bench.plan_results import plan_report
from burnerlab.bench.reading_plan import plan_of
from burnerlab.bench.record import (
    BeforeLighting,
    BenchReading,
    BenchTest,
    EarlierStop,
    InputText,
    Observation,
    PlanEntry,
    Record,
    Result,
    TestRecord,
    add_test,
    check,
    correct,
    entry,
    exported,
    import_file,
    latest,
    notices,
    open_record,
    open_stops,
    release,
    sights,
)
from burnerlab.bench.record.checks import checked_test
from burnerlab.bench.record.database import transaction
from burnerlab.bench.record.entry import now, utc_text
from burnerlab.bench.record.exchange import FORMATS
from burnerlab.bench.record.open_stops import BenchPlace, all_releases
from burnerlab.bench.record.query import all_tests
from burnerlab.bench.record.store import insert_test
from burnerlab.bench.stop import stop_notice
from burnerlab.cli import main
from burnerlab.quantity import UserError
from burnerlab.tables.verdict import Verdict


@pytest.fixture
def record(tmp_path: Path) -> Any:
    with open_record(tmp_path / "bench.sqlite") as made:
        yield made


def seen(name: str, answer: str = "yes", serial: str = "C-0001", **other: Any) -> BenchTest:
    one = Observation(name=name, answer=answer, burner="griddle")  # type: ignore[arg-type]
    return a_test(serial, observations=(one,), **other)


def ids(record: Record, serial: str | None = None, place: str = "") -> list[str]:
    return [one.notice.id for one in open_stops(record, serial=serial, place=BenchPlace(place=place))]


@pytest.mark.parametrize(
    ("name", "stop"),
    [
        ("odour", "odour"),
        ("co-alarm", "co-alarm"),
        ("flame-outside", "flame-outside"),
        ("light-back", "light-back"),
        ("light-back-full", "light-back"),
        ("light-back-turned-off", "light-back"),
        ("lights-late", "late-lighting"),
        ("soot", "soot"),
        ("lift", "lift"),
        ("lift-low", "lift"),
        ("yellow-tips", "yellow-tips"),
        ("lights-all-ports-full", "unlit-port"),
        ("lights-all-ports-low", "unlit-port"),
        ("lights-from-neighbour", "carry-over"),
        ("stays-lit-turned-low", "flame-out"),
        ("mark-differs", "mark-differs"),
    ],
)
def test_what_was_seen_stops_the_unit_and_takes_its_verdict(record: Record, name: str, stop: str) -> None:
    made = add_test(record, seen(name, sights()[name].adverse))
    assert [one.id for one in made.test.stops] == [stop]
    assert {one.verdict for one in made.test.results} == {"not evaluated"}
    assert latest(record, "C-0001") == made
    assert ids(record) == [stop]
    for written in ("c 0001", "C0001", "C-0001 "):  # the same unit with other dashes
        assert [one.notice.id for one in open_stops(record) if one.stands_for(written)] == [stop]
    assert check(record).is_whole


@pytest.mark.parametrize("name", ["odour", "soot", "light-back"])
@pytest.mark.parametrize("answer", ["no", "not seen"])
def test_the_answer_of_a_burner_in_order_stops_nothing(record: Record, name: str, answer: str) -> None:
    made = add_test(record, seen(name, answer))
    assert made.test.stops == ()
    assert made.test.results[0].verdict == "within"
    assert ids(record) == []


@pytest.mark.parametrize(
    ("quantity", "value", "stop"),
    [
        ("deviation", 0.12, "overfire"),
        ("deviation", 0.08, None),
        ("deviation", -0.3, None),
        ("deviation", 100.0, "overfire"),
        ("air_free_carbon_monoxide", 0.01183, "co-high"),
        ("air_free_carbon_monoxide", 790e-6, None),
    ],
)
def test_a_figure_of_the_entry_stops_the_unit(
    record: Record, quantity: str, value: float, stop: str | None
) -> None:
    made = add_test(record, a_test(results=(Result(quantity=quantity, value=value, burner="griddle"),)))
    assert [one.id for one in made.test.stops] == ([stop] if stop else [])


@pytest.mark.parametrize(
    ("beside", "gas", "stop"),
    [
        ({"carbon_monoxide": 600e-6, "oxygen": 0.08}, "G20", "co-high"),  # 600 x 20.9/12.9 = 972 ppm
        ({"carbon_monoxide": 400e-6, "oxygen": 0.08}, "G20", None),  # 648 ppm
        (
            {"carbon_monoxide": 100e-6, "carbon_dioxide": 0.01},
            "G20",
            "co-high",
        ),  # x 11.7 of methane: 1170 ppm
        ({"carbon_monoxide": 100e-6, "carbon_dioxide": 0.08}, "G20", None),
        ({"carbon_monoxide": 470e-6, "carbon_dioxide": 0.08}, "G20", None),  # 11.7/8 of it: 687 ppm
        (
            {"carbon_monoxide": 470e-6, "carbon_dioxide": 0.08},
            "a gas of ours",
            "co-high",
        ),  # butane, 14.0/8: 824 ppm
        ({"air_free_carbon_monoxide": 900e-6, "carbon_monoxide": 1e-6}, "G20", "co-high"),
        ({"carbon_monoxide": 900e-6}, "G20", "co-high"),  # free of air it is never less
    ],
)
def test_what_an_analyser_read_stops_the_unit_without_a_page(
    record: Record, beside: dict[str, float], gas: str, stop: str | None
) -> None:
    read = tuple(BenchReading(quantity=name, value=value, burner="ring") for name, value in beside.items())
    kind = (InputText(name="appliance_kind", text="outdoor-cooking"),)
    made = add_test(record, a_test(readings=read, results=(), gas=gas, inputs=kind))
    assert [one.id for one in made.test.stops] == ([stop] if stop else [])
    assert all("outdoor cooking gas appliance" in one.heading for one in made.test.stops)


def test_an_entry_taken_in_without_its_stop_raises_it_once(record: Record, tmp_path: Path) -> None:
    """As from a bench that did not free carbon monoxide of air: 600 ppm at 8 % oxygen are 972 ppm."""
    figures = {"carbon_monoxide": 600e-6, "oxygen": 0.08}
    read = tuple(BenchReading(quantity=name, value=value, burner="ring") for name, value in figures.items())
    test = checked_test(a_test(readings=read, results=(), note=""))
    with transaction(record.connection):
        insert_test(
            record.connection, TestRecord(number=0, uid=uuid.uuid4().hex, recorded_at=now(), test=test)
        )
    source = tmp_path / "other.json"
    source.write_bytes(FORMATS["json"](record))
    with open_record(tmp_path / "here.sqlite") as here:
        done = import_file(here, source)
        assert (done.tests, done.stops_raised, ids(here)) == (1, 1, ["co-high"])
        again = import_file(here, source)
        assert (again.tests, again.stops_raised, again.already_there, ids(here)) == (0, 0, 1, ["co-high"])
        assert check(here).is_whole
        source.write_bytes(FORMATS["json"](here))
        with open_record(tmp_path / "there.sqlite") as there:  # the file has the entry that raised it
            assert (import_file(there, source).stops_raised, ids(there)) == (0, ["co-high"])


def test_a_smell_of_gas_before_any_reading_is_recorded(record: Record) -> None:
    made = add_test(record, seen("odour", readings=(), results=(), before_lighting=None))
    assert made.test.results == ()
    assert made.test.stops[0].signal == "DANGER"
    found = BeforeLighting(supply_label="propane", leak_test="leak found")
    leak = add_test(record, a_test("C-0002", readings=(), results=(), before_lighting=found))
    assert [one.id for one in leak.test.stops] == ["odour"]
    assert "leak" in leak.test.stops[0].why


def test_a_stop_of_the_bench_stands_for_every_unit_of_its_place(record: Record) -> None:
    add_test(record, seen("odour", before_lighting=ANSWERS))
    add_test(record, seen("soot", serial="C-0002"))
    assert ids(record) == ["odour", "soot"]
    assert ids(record, "C-0003") == ["odour"]
    assert ids(record, "c-0002 ") == ["odour", "soot"]
    assert ids(record, "C-0003", "Line  2") == ["odour"]
    for same in ("line2", "LINE-2", "line no 2", "L2", "line 3", "line 3, another supply: ?",
                 "Line2, another supply: ring main B"):  # fmt: skip
        assert ids(record, "C-0003", same) == ["odour"]
    assert ids(record, "C-0003", "line 3, another supply: ring main B") == ["odour"]  # gas in a room
    assert [one.id for one in notices(open_stops(record))] == ["odour", "soot"]
    here = add_test(record, a_test("C-0004", before_lighting=ANSWERS))
    assert here.test.results[0].verdict == "not evaluated"  # another phone, the same supply
    assert here.test.stops == ()
    away = BeforeLighting(place="line 3, another supply: ring main B")
    unstated = add_test(record, a_test("C-0005", before_lighting=away))
    assert unstated.test.results[0].verdict == "not evaluated"


def test_it_survives_a_restart_and_only_a_release_ends_it(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite"
    with open_record(path) as record:
        first = add_test(record, seen("odour"))
    with open_record(path) as again:
        corrected = correct(again, first.uid, seen("odour", "no"), "pressed the wrong answer")
        assert ids(again, "C-0009") == ["odour"]
        assert corrected.test.results[0].verdict == "not evaluated"
        for missing in A_RELEASE.keys() - {"stop_began"}:
            with pytest.raises(UserError, match=f"{missing.replace('_', ' ')}: is missing"):
                release(again, f"{first.uid}-odour", **(A_RELEASE | {missing: "  "}))
        assert ids(again) == ["odour"]
        made = release(again, f"{first.uid[:8]}-odour", **A_RELEASE)
        assert made.release.stops == (f"{first.uid}-odour",)
        assert ids(again) == []
        assert check(again).is_whole
        assert check(again).releases == 1
        with pytest.raises(UserError, match="released already"):
            release(again, first.uid, **A_RELEASE)
        with pytest.raises(UserError, match="no such stop"):
            release(again, "ffff", **A_RELEASE)
        assert add_test(again, a_test()).test.results[0].verdict == "within"
    with open_record(path, readonly=True) as later:
        assert list(all_releases(later)) == [made]


def test_a_leak_test_longer_than_the_time_since_the_stop_needs_the_moment_of_the_smell(
    record: Record,
) -> None:
    """Ten minutes of a leak test in the minute of its stop were not taken after the repair; a stop may come late."""
    at_once = add_test(record, seen("odour", tested_at=now()))
    hour_ago = utc_text(datetime.now(UTC) - timedelta(hours=1))
    before = add_test(record, seen("odour", serial="C-0002", tested_at=hour_ago))
    release(record, before.uid, **A_RELEASE | {"stop_began": ""})
    for began in ("", f"{datetime.now() - timedelta(minutes=15):%Y-%m-%d %H:%M}"):  # they take 20
        with pytest.raises(UserError, match="leak test and watch take 20 min"):
            release(record, at_once.uid, **A_RELEASE | {"stop_began": began})
    assert ids(record) == ["odour"]
    late = f"{datetime.now() - timedelta(minutes=25):%Y-%m-%d %H:%M}"
    made = release(record, at_once.uid, **A_RELEASE | {"stop_began": late})
    assert f"gas noticed {late}, as stated" in made.release.leak_test


def test_the_same_stop_of_a_corrected_entry_ends_with_it(record: Record) -> None:
    first = add_test(record, seen("soot"))
    second = correct(record, first.uid, seen("soot", note="more of it"), "note")
    other = add_test(record, seen("soot", serial="C-0002"))
    assert len(open_stops(record)) == 3
    made = release(record, f"{first.uid}-soot", **A_RELEASE)
    assert set(made.release.stops) == {f"{first.uid}-soot", f"{second.uid}-soot"}
    assert [one.entry for one in open_stops(record)] == [other.uid]
    again = correct(record, second.uid, seen("soot"), "it is there again")
    assert {one.entry for one in open_stops(record)} == {other.uid, again.uid}


def test_a_release_ends_several_stops_at_once(record: Record) -> None:
    first = add_test(
        record,
        a_test(
            observations=(Observation(name="soot", answer="yes"), Observation(name="odour", answer="yes"))
        ),
    )
    with pytest.raises(UserError, match="more than one stop"):
        release(record, first.uid, **A_RELEASE)
    release(record, [one.uid for one in open_stops(record)], **A_RELEASE)
    assert ids(record) == []


def test_what_the_bench_showed_is_kept_as_shown(record: Record) -> None:
    shown = stop_notice(
        "wrong-gas",
        why="share 31 %",
        gas="propane",
        read="4.1 kW",
        burner="the stock-pot ring",
        true="8.2 kW",
        percent="93 %",
    )
    earlier = EarlierStop(
        stop="overfire", why="the reading is 40 % above", reading="time1 = 61 s", reason="stopped early"
    )
    made = add_test(record, a_test(stops=(shown,), earlier_stops=(earlier,), before_lighting=ANSWERS))
    back = entry(record, made.uid)
    assert back == made
    assert back.test.stops == (shown,)
    assert back.test.earlier_stops == (earlier,)
    assert back.test.before_lighting == ANSWERS


@pytest.mark.parametrize("stop", ["odour", "co-alarm"])
def test_a_smell_of_gas_is_never_a_slip_of_typing(record: Record, stop: str) -> None:
    slip = EarlierStop(stop=stop, why="w", reading="r", reason="typed wrong")
    with pytest.raises(UserError, match="never a slip"):
        add_test(record, a_test(earlier_stops=(slip,)))


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"leak_test": "none found"}, "by which method"),
        ({"leak_test": "not done here", "leak_test_by": "K. Moss"}, "who did it and when"),
        ({"leak_test": "not done here", "leak_test_when": "today 8:00"}, "who did it and when"),
        ({"leak_test": "perhaps"}, "not one of its answers"),
        ({"co_alarm": "maybe"}, "not one of its answers"),
    ],
)
def test_answers_before_lighting_are_whole(record: Record, answers: dict[str, Any], words: str) -> None:
    with pytest.raises(UserError, match=words):
        add_test(record, a_test(before_lighting=BeforeLighting(**answers)))


@pytest.mark.parametrize("ending", sorted(FORMATS))
def test_stops_and_releases_travel(record: Record, tmp_path: Path, ending: str) -> None:
    first = add_test(record, a_stopped_test())
    add_test(record, seen("soot", serial="C-0002"))
    release(record, f"{first.uid}-odour", **A_RELEASE)
    file = tmp_path / f"out.{ending}"
    file.write_bytes(exported(record, ending))
    with open_record(tmp_path / "other.sqlite") as target:
        done = import_file(target, file)
        assert (done.tests, done.releases) == (2, 1)
        assert list(all_tests(target)) == list(all_tests(record))
        assert list(all_releases(target)) == list(all_releases(record))
        assert ids(target) == ["soot"]
        assert check(target).is_whole
        assert exported(target, ending) == file.read_bytes()
        assert import_file(target, file).already_there == 3


def test_two_benches_that_released_one_stop_become_one_record(record: Record, tmp_path: Path) -> None:
    first = add_test(record, a_stopped_test())
    shared, theirs = tmp_path / "shared.json", tmp_path / "theirs.json"
    shared.write_bytes(exported(record, "json"))
    with open_record(tmp_path / "other.sqlite") as other:
        import_file(other, shared)
        release(other, first.uid, **A_RELEASE)
        theirs.write_bytes(exported(other, "json"))
    mine = release(record, first.uid, **(A_RELEASE | {"name": "P. Fern"}))
    assert import_file(record, theirs).releases == 1
    assert {one.release.name for one in all_releases(record)} == {"K. Moss", "P. Fern"}
    assert mine in all_releases(record)
    assert ids(record) == []
    assert check(record).is_whole


def test_nobody_takes_a_stop_out(record: Record) -> None:
    made = add_test(record, seen("odour", before_lighting=ANSWERS))
    release(record, made.uid, **A_RELEASE)
    record.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    for table in ("stops", "before_lighting", "releases", "released_stops"):
        for change in (f"DELETE FROM {table}", f"UPDATE {table} SET id = 9"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                record.connection.execute(change)
    for change in ("stops SET heading = 'x'", "releases SET name = 'x'", "before_lighting SET place = 'x'"):
        copy = record.path.with_name("altered.sqlite")
        tampered(record.path, copy, f"UPDATE {change}")
        with open_record(copy) as altered:
            assert "was altered after it was recorded" in "\n".join(check(altered).faults), change
        copy.unlink()


def test_a_place_is_apart_from_gas_in_a_room_by_what_its_test_states(record: Record) -> None:
    """As the pages have it: another supply by name is not enough, nor what was stated before the stop."""
    add_test(record, seen("odour", before_lighting=ANSWERS))
    (stop,) = open_stops(record)
    yard = "Yard, another supply: tank"
    stated = {
        "apart_place": yard, "apart_room": "outdoors", "apart_held": "Line 2", "apart_by": "K. Moss",
        "apart_at": "2999-01-01T00:00:00.000Z",
    }  # fmt: skip
    plan = plan_of(convert(demonstration(), "propane", 2740.0))
    row = next(one for one in plan.rows if one.quantity == "heat_input_gross")
    assert row.predicted is not None
    result = Result(quantity=row.quantity, value=row.predicted, burner=row.burner, verdict=Verdict.WITHIN)
    cases = (
        ("C-0101", stated, False),
        ("C-0102", {}, True),
        ("C-0103", stated | {"apart_held": ""}, True),
        ("C-0104", stated | {"apart_at": "2000-01-01T00:00:00.000Z"}, True),
    )
    for serial, texts, stands in cases:
        made = add_test(
            record,
            a_test(
                serial,
                before_lighting=BeforeLighting(place=yard),
                inputs=tuple(InputText(name=name, text=text) for name, text in texts.items() if text),
                results=(result,),
                plan_entries=(PlanEntry(plan=plan.digest, plan_row=row.id),),
            ),
        )
        assert stop.stands_for(serial, BenchPlace.of(made)) == stands
        assert (made.test.results[0].verdict == "not evaluated") == stands
        (unit,) = plan_report(record, plan, (serial,)).units
        assert (unit.results[0].verdict == "not evaluated") == stands
        shown = CliRunner().invoke(main, ["record", "show", serial, "--file", str(record.path)])
        assert ("STOP. Gas can explode" in shown.output) == stands, shown.output
