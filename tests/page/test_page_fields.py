"""Every field of the page by its declaration: entered, saved, shown, refilled, corrected without loss, exported."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest
from click.testing import CliRunner
from two_gases import LP, on_both_gases

from burnerlab.bench.record import TestRecord, entry, open_record, quantities, sights
from burnerlab.cli import main
from burnerlab.page import form as page_fields
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import SEEN, Field, Form, fields
from burnerlab.page.heat_input_test import models_of
from burnerlab.quantity.inputs import input_row, input_rows
from burnerlab.quantity.prose import in_print

DEVELOPERS = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
ORIGIN = {"origin": "http://127.0.0.1:8741"}
MODEL, BURNER = "lantern-square-6", "stock-pot ring"
OF_THE_WAY = {
    "corrects",
    "reason",
    "once",
    "slips",
    "slip",
    "meter_at_rest",  # tests/page/test_page_stops.py
    "pressure_above",
    "not_lit",  # tests/page/test_page_stops.py
    *(
        name for name in fields() if name.startswith("apart_")
    ),  # of a place apart, tests/page/test_page_stops.py
    "mended",  # tests/page/test_page_plan.py
    "read_before",  # the same
    "photographs",  # tests/page/test_page_photographs.py
    "lock_up",  # tests/page/test_page_pressure.py
    "plan",  # tests/page/test_page_plan.py; this bench has none
    "no_manifold",  # the same: tests/page/test_page_asked_first.py
    "marks_apart",
    "mark_read",
    "plate",  # the same
    "co_air_free",  # tests/page/test_page_pressure.py
}  # of a correction and of a stop, no part of a reading
TEST = {
    "model": MODEL, "serial": "F-0001", "burner": BURNER, "which": "1 of 1", "tester": "R. Quill", "place": "Bench 2",
    "plan_state": "hot",
    "supply_label": "natural-gas-typical", "leak_test": "elsewhere", "leak_test_by": "K. Moss",
    "leak_test_when": "2026-11-25 08:10", "air": "yes", "note": "second of the batch", "instruments": "M1, W2",
    "orifice_marks": "as printed", "rule": "guard", "other_load": "0.1 kW net", "manifold": "1.7 kPa",
    "oxygen": "8", "carbon_dioxide": "7.3 %", "carbon_monoxide": "40", "flue_temperature": "210 °C",
    "air_temperature": "71 °F", "appliance_kind": "outdoor-cooking",
}  # fmt: skip
METER = {
    "method": "meter", "dial": "25", "turns": "2", "time1": "3 min 34 s", "time2": "213.2 s", "time3": "3.56 min",
    "meter_pressure": "7 in w.c.", "gas_temperature": "18 °C", "altitude": "120 m", "meter_factor": "1.004",
    "wet": "yes", "compensated": "yes", "heating_value": "37.9 MJ/m3 gross at 15C/15C",
}  # fmt: skip
SCALE = {
    "method": "scale", "first": "12.345 kg", "last": "11.645 kg", "burned": "67 min", "resolution": "1",
    "scale_factor": "0.998", "barometer": "101.1 kPa", "manifold": "2.7 kPa",
} | LP  # fmt: skip
US = {"25": "0.9", "50": "1.77", "10": "0.353", "1": "0.05"}  # dial and last digit
TURNED_LOW = {"burner": "griddle tube left", "dial": "10", "turns": "1", "time1": "312", "time2": "312.5"}
LOW = (
    TEST
    | METER
    | TURNED_LOW
    | {"low_rate": "yes", "time3": "312.2", "rule": "simple", "other_load": "0.01 kW"}
)
LOW["other_load"] += " net"
CASES = [("turned low", LOW), ("meter", TEST | METER), ("scale", TEST | SCALE), ("nothing optional", {})]


@dataclass(frozen=True)
class Round:
    """One test through the pages, from the form to the correction of its entry."""

    first: TestRecord
    refilled: Form
    second: TestRecord
    pages: dict[str, str]


@pytest.fixture
def bench(bench: Bench) -> Bench:
    bench.models.update(models_of(on_both_gases()))
    return bench


@pytest.fixture
def saved(client: Any, bench: Bench, form_of_page: Callable[[str], dict[str, str]]) -> Callable[..., Round]:
    def save(address: str, asked: dict[str, str], more: dict[str, str]) -> tuple[str, str]:
        shown = client.get(address, params=asked)
        assert shown.status_code == 200, plain(shown.text)
        answer = client.post("/save", data=form_of_page(shown.text) | more, headers=ORIGIN)
        assert answer.status_code == 303, plain(answer.text)
        return dict(parse_qsl(urlsplit(answer.headers["location"]).query))["uid"], shown.text

    def through(texts: dict[str, str], units: str = "metric") -> Round:
        asked = texts | {"units": units}
        pages = {path: client.get(path, params=asked).text for path in ("/measure", "/finding", "/flame")}
        uid, pages["/save"] = save("/save", asked, {})
        pages["/entry"] = client.get("/entry", params={"uid": uid}).text
        address = unescape(re.findall(r'href="(/measure[^"]*)">Correct this entry', pages["/entry"])[0])
        pages["correction"] = client.get(address).text
        query = dict(parse_qsl(urlsplit(address).query))
        made, _ = save("/save", query, {"reason": "looked at again"})
        pages["/record.json"] = client.get("/record.json").text
        with open_record(bench.file, readonly=True) as record:
            first, second = entry(record, uid), entry(record, made)
        return Round(first, Form.of(query), second, pages)

    return through


def plain(text: str) -> str:
    return unescape(" ".join(re.sub(r"<[^>]+>", " ", text).split()))


def written(field: Field, texts: dict[str, str], units: Any) -> str:
    return field.spelled(texts[field.name], units)


def test_the_samples_hold_every_field() -> None:
    """A field that is declared is tried here, whatever it is."""
    samples = TEST | METER | SCALE | LOW
    seen = {name for name, field in fields().items() if field.keeper == "observation"}
    assert set(fields()) - seen - OF_THE_WAY == set(samples)


@pytest.mark.parametrize("units", ["metric", "US"])
@pytest.mark.parametrize(("case", "texts"), CASES)
def test_every_field_from_the_form_to_the_corrected_entry(
    saved: Callable[..., Round], readings: dict[str, str], case: str, texts: dict[str, str], units: Any
) -> None:
    seen = {SEEN + name: one.expected for name, one in sights().items()} if texts else {}  # none that stops
    entered = (texts or readings) | seen
    if units == "US":
        entered |= {name: US[entered[name]] for name in ("dial", "resolution") if name in entered}
    made = saved(entered, units)
    first, second = made.first.test, made.second.test
    kept = {one.name: one.text for one in first.inputs}
    quantities = {one.quantity for one in first.readings}
    for name, field in fields().items():
        if name not in entered:
            assert name not in kept
            continue
        text = written(field, entered, units)
        if field.keeper == "input":
            assert kept[name] == text
            assert f"{field.label} {field.answer_words(text)}" in plain(made.pages["/entry"])
        if field.record:
            assert field.record in quantities
        if field.keeper in ("input", "test", "observation"):
            back = made.refilled.get(name)
            assert field.read(back, made.refilled.system) == field.read(entered[name], units), name
    assert second.readings == first.readings
    assert second.inputs == first.inputs
    assert [(one.quantity, one.value) for one in second.results] == [
        (one.quantity, one.value) for one in first.results
    ]
    assert (second.observations, second.note, second.instruments) == (
        first.observations,
        first.note,
        first.instruments,
    )
    assert second.before_lighting == first.before_lighting
    assert re.search("What may be wrong|Faults this reading would not show", made.pages["/finding"])


def test_a_quantity_has_its_range_label_and_units_from_its_row() -> None:
    """No field says a range of its own, and what is no plain quantity is of these few kinds."""
    for name, field in fields().items():
        if field.row:
            assert (field.kind, field.metric, field.US) == (
                input_row(field.row).kind, input_row(field.row).metric, input_row(field.row).US
            )  # fmt: skip
        else:
            assert field.kind in ("text", "flag", "rate", "heating value"), name
        assert not field.record or field.record in quantities()


@pytest.fixture
def draught(monkeypatch: pytest.MonkeyPatch) -> Iterator[Field]:
    """A field that is not of the product: one row of table ``inputs`` and one line of the page."""
    words = {
        "name": "draught",
        "words": "draught of the hood",
        "label": "Draught of the hood",
        "record": "draught",
    }
    row = replace(input_row("meter_pressure"), **words)
    monkeypatch.setitem(input_rows(), "draught", row)  # type: ignore[arg-type]
    added = page_fields.measured("draught", group="bench")
    monkeypatch.setattr(page_fields, "FIELDS", (*page_fields.FIELDS, added))
    quantities.cache_clear()
    yield added
    monkeypatch.undo()
    quantities.cache_clear()


def test_a_field_is_added_by_one_row_and_one_line(
    draught: Field, saved: Callable[..., Round], readings: dict[str, str], bench: Bench
) -> None:
    how = next(line for line in DEVELOPERS.splitlines() if line.startswith("| a field of the bench page |"))
    assert "a row of `inputs.csv`" in how
    assert "a `measured` line in `FIELDS` of `page/form.py`" in how
    made = saved(readings | {"draught": "0.1 in w.c."})
    assert "Draught of the hood" in plain(made.pages["/measure"])
    assert "Draught of the hood 0.1 in w.c." in plain(made.pages["/entry"])
    assert 'name="draught" value="0.1"' in made.pages["correction"]
    assert made.refilled.get("draught") == "0.1 in w.c."
    for test in (made.first.test, made.second.test):
        read = [one for one in test.readings if one.quantity == "draught"]
        assert [(one.value, one.burner) for one in read] == [(pytest.approx(24.9089, rel=1e-5), BURNER)]
    shown = CliRunner().invoke(main, ["record", "show", readings["serial"], "--file", str(bench.file)])
    assert re.search(r"draught +24\.91 Pa", shown.output), shown.output
    exported = made.pages["/record.json"]
    assert [one["quantity"] for one in json.loads(exported)["tests"][0]["readings"]].count("draught") == 1
    asked = [
        "record",
        "correct",
        made.second.uid,
        "--reason",
        "wrong gauge",
        "--file",
        str(bench.file),
        "--json",
    ]
    by_hand = CliRunner().invoke(main, [*asked, "--reading", f"{BURNER}: draught = 0.3 mbar"])
    assert [
        one["value"] for one in json.loads(by_hand.output)["readings"] if one["quantity"] == "draught"
    ] == [30.0]


def test_every_input_is_exported_shown_by_the_command_and_taken_in_again(
    saved: Callable[..., Round], bench: Bench, tmp_path: Path
) -> None:
    made = saved(TEST | METER)
    texts = {one.name: one.text for one in made.second.test.inputs}
    assert texts
    run = CliRunner().invoke
    file = ["--file", str(bench.file)]
    shown = run(main, ["record", "show", "F-0001", "--json", *file])
    assert {one["name"]: one["text"] for one in json.loads(shown.output)["inputs"]} == texts
    lines = [
        " ".join(line.split()) for line in run(main, ["record", "show", "F-0001", *file]).output.splitlines()
    ]
    shown = " ".join(lines)  # the marks of all burners are longer than a line
    assert all(f"{name.replace('_', ' ')} {in_print(text)}" in shown for name, text in texts.items())
    for ending in ("csv", "json", "xlsx"):
        out, other = tmp_path / f"record.{ending}", tmp_path / f"{ending}.sqlite"
        assert run(main, ["record", "export", "--out", str(out), *file]).exit_code == 0
        assert run(main, ["record", "import", str(out), "--file", str(other)]).exit_code == 0
        with open_record(other, readonly=True) as record:
            assert entry(record, made.second.uid).test == made.second.test
    with (tmp_path / "record.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = [
            row for row in csv.DictReader(stream) if row["row"] == "input" and row["uid"] == made.second.uid
        ]
    assert {row["name"]: row["text"] for row in rows} == texts


def test_a_reading_corrected_by_the_command_takes_the_place_of_what_was_entered(
    saved: Callable[..., Round], bench: Bench
) -> None:
    """The next correction on the page starts from the new figure, not from the old text."""
    made = saved(TEST | METER)
    asked = [
        "record",
        "correct",
        made.second.uid,
        "--reason",
        "wrong gauge",
        "--file",
        str(bench.file),
        "--json",
    ]
    run = CliRunner().invoke
    by_hand = json.loads(run(main, [*asked, "--reading", f"{BURNER}: manifold pressure = 1.5 kPa"]).output)
    assert by_hand["inputs"] == [{"name": "appliance_kind", "text": "outdoor-cooking"}]  # no text of the form
    assert [one["value"] for one in by_hand["readings"] if one["quantity"] == "manifold_pressure"] == [1500.0]
