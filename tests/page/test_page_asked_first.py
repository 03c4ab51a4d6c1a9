"""What a plan asks first: the marks of the orifices before a unit is lit, the manifold pressure before a timing."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.project.project_file import read_appliance_text
from burnerlab.bench.plan_file import plan_json, read_plan
from burnerlab.bench.plan_results import plan_report
from burnerlab.bench.reading_plan import converted_for, plan_of
from burnerlab.bench.record import BenchTest, add_test, history, open_record, open_stops, sights
from burnerlab.page.bench_state import Bench
from burnerlab.page.heat_input_test import models_of
from burnerlab.page.security import Gate
from burnerlab.report.plan_report import report_paper
from burnerlab.report.unit_answers import FIRST_CAPTION

ORIGIN = {"origin": "http://127.0.0.1:8741"}
READ = {
    "model": "lantern-square-6", "serial": "M-1", "burner": "stock-pot ring", "tester": "R. Quill",
    "supply_label": "propane", "leak_test": "fluid", "air": "yes", "manifold": "2.75 kPa",
    "method": "scale", "first": "12.000 kg", "last": "11.792 kg", "burned": "1200 s", "resolution": "0.1 g",
}  # fmt: skip
NEXT_OF_PLAN = re.compile(r'<a class="strong" href="([^"]*)">Next of the plan')
ALL = {"orifice_marks": "as printed"}


@pytest.fixture
def planned(tmp_path: Path, client_of: Callable[[Bench], Any]) -> tuple[Any, Bench, str]:
    """A bench whose plan names the marks: its client, the bench, the number of the plan."""
    plan = plan_of(convert(demonstration(), "propane", 2740.0))
    built = converted_for(demonstration(), plan)
    assert built is not None
    open_record(tmp_path / "bench.sqlite").close()
    bench = Bench(
        file=tmp_path / "bench.sqlite",
        models=models_of([built]),
        gate=Gate(host="127.0.0.1"),
        plans={plan.number: plan},
    )
    return client_of(bench), bench, plan.number


@pytest.mark.parametrize(
    ("answered", "said"),
    [
        ({}, "read every mark with the gas off, then answer"),
        ({"orifice_marks": "anew"}, "read every mark with the gas off, then answer"),
        (ALL | {"marks_apart": "[1]"}, "answer again"),
        ({"orifice_marks": "another"}, "An orifice mark differs from the job card"),
        (
            ALL | {"mark-of rear burner": "another", "mark_read": "0.95"},
            "than that of plan {number}: rear burner 0.85 mm; read: 0.95",
        ),
    ],
)
def test_a_unit_is_not_lit_before_its_marks_are_answered_nor_with_a_wrong_one(
    planned: tuple[Any, Bench, str], answered: dict[str, str], said: str
) -> None:
    client, _, number = planned
    for path in ("/measure", "/finding", "/save"):
        shown = client.get(path, params=READ | {"plan": number} | answered).text.replace(
            "\N{NO-BREAK SPACE}", " "
        )
        assert said.format(number=number) in shown
        assert 'id="manifold"' not in shown


def test_the_marks_of_a_plan_are_asked_where_its_number_is_left_out(planned: tuple[Any, Bench, str]) -> None:
    client, _, number = planned
    assert client.get("/measure", params=READ).status_code == 422
    first = client.get("/").text.replace("\N{NO-BREAK SPACE}", " ")
    assert first.index('id="orifice_marks"') < first.index('id="leak_test"')
    assert "<li>stock-pot ring: <strong>1.55 mm</strong></li>" in first
    assert f'value="{number}"' in first


def test_the_marks_of_a_plan_taken_from_the_list_are_asked_at_once(
    planned: tuple[Any, Bench, str],
) -> None:
    client, _, number = planned
    shown = client.get(
        "/", params={"plan": number, "serial": "M-1", "tester": "R. Quill", "model": READ["model"]}
    ).text
    assert re.search(
        r'<button type="submit"[^>]* id="by-plan" formaction="/#head-before" formnovalidate>', shown
    )
    assert shown.index('id="by-plan"') < shown.index('id="orifice_marks"') < shown.index('id="leak_test"')
    assert 'value="M-1"' in shown
    assert 'value="R. Quill"' in shown


def test_the_page_begins_with_the_dial_that_the_papers_of_its_plan_time(
    planned: tuple[Any, Bench, str], tmp_path: Path
) -> None:
    client, bench, number = planned
    timed = replace(bench.plans[number], dial_m3=0.028316846592)
    (tmp_path / "plan.json").write_text(plan_json(timed), encoding="utf-8")
    assert read_plan(tmp_path / "plan.json").dial_m3 == timed.dial_m3
    bench.take_plans({timed.number: timed}, {})
    shown = client.get(
        "/measure", params=READ | ALL | {"plan": number, "method": "meter", "units": "US"}
    ).text
    assert re.search(r'name="dial" value="1"', shown)
    assert "One turn of 1 ft³" in shown.replace("\N{NO-BREAK SPACE}", " ")
    typed = {"plan": number, "method": "meter", "units": "US", "dial": "2"}
    assert re.search(r'name="dial" value="2"', client.get("/measure", params=READ | ALL | typed).text)


def test_a_label_of_the_other_gas_of_a_couple_names_the_plan_that_is_served_for_it(
    planned: tuple[Any, Bench, str],
) -> None:
    client, bench, number = planned
    own = bench.plans[number]
    other = replace(own, gas="butane", change=replace(own.change, gas="butane", gauge_pressure_Pa=2900.0))
    bench.plans = {number: own, other.number: other}
    told = f"Plan {other.number} of this bench is for {own.model} on"
    stopped = client.get("/measure", params=READ | ALL | {"plan": number, "supply_label": "butane"}).text
    assert stopped.index("Another gas than the model") < stopped.index(told)
    assert "sets 29.0 mbar" in stopped.replace("\N{NO-BREAK SPACE}", " ")
    bored = replace(other, change=replace(other.change, orifices=(("griddle tube left", "1.05 mm"),)))
    bench.plans = {number: own, bored.number: bored}
    again = client.get("/measure", params=READ | ALL | {"plan": number, "supply_label": "butane"}).text
    assert "of this bench is for" not in again  # its orifices are others: a conversion


def test_the_marks_of_the_model_file_are_asked_where_the_bench_has_no_plan(
    client: Any, readings: dict[str, str]
) -> None:
    shown = client.get("/").text.replace("\N{NO-BREAK SPACE}", " ")
    assert "The model file has:" in shown
    assert "<li>griddle tube left: <strong>#54</strong></li>" in shown
    assert client.get("/measure", params=readings | {"orifice_marks": ""}).status_code == 422
    stopped = client.get("/measure", params=readings | {"orifice_marks": "another"}).text
    assert "another orifice mark than that of the model file: griddle tube left" in stopped


def test_what_is_left_open_is_recorded_and_stands_at_the_head_of_the_sheet(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    client, bench, number = planned
    texts = (
        READ
        | ALL
        | {"plan": number, "mark-of tile broiler": "not looked at", "mark-of rear burner": "no mark"}
    )
    saved = client.post("/save", data=form_of_page(client.get("/save", params=texts).text), headers=ORIGIN)
    assert saved.status_code == 303
    with open_record(bench.file, readonly=True) as record:
        (entry,) = history(record, "M-1")
    words = next(one.text for one in entry.test.inputs if one.name == "orifice_marks")
    assert words.startswith(
        "no mark can be read: rear burner 0.85 mm; not looked at: tile broiler 1.15 mm; as printed:"
    )
    assert [(one.name, one.answer) for one in entry.test.observations] == [
        ("mark-differs", "no")
    ]  # of this burner
    for path in ("/sheet", "/unit"):
        shown = client.get(path, params={"serial": "M-1"}).text.replace("\N{NO-BREAK SPACE}", " ")
        assert "<li>Orifice marks, not looked at: tile broiler 1.15 mm</li>" in shown
        assert "<li>Orifice marks, no mark can be read: rear burner 0.85 mm</li>" in shown
    correction = {"corrects": entry.uid, "reason": "looked at again"}
    data = form_of_page(client.get("/save", params=texts | correction).text) | correction
    assert client.post("/save", data=data, headers=ORIGIN).status_code == 303
    with open_record(bench.file, readonly=True) as record:
        assert words in [one.text for one in history(record, "M-1")[0].test.inputs]


def test_the_plate_is_looked_at_where_the_record_has_the_unit_as_another(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    """A question before the readings, not a refusal: a unit may have been converted. Asked once."""
    client, bench, number = planned
    texts = READ | ALL | {"plan": number, "serial": "m-1"}
    before = BenchTest(
        serial="M-1", model="PF-4LP", gas="natural-gas-typical", tester="A. Ito", tested_at="2026-11-25 14:05"
    )
    with open_record(bench.file) as record:
        add_test(record, before)
    for path in ("/measure", "/finding", "/save"):
        asked = client.get(path, params=texts)
        assert asked.status_code == 422
        words = asked.text.replace("\N{NO-BREAK SPACE}", " ")
        assert "M-1 was tested as PF-4LP on Typical pipeline natural gas (2026-11-25): look" in words
        assert 'name="plate" value="converted"' in words
    assert 'name="plate"' not in client.get("/measure", params=texts | {"serial": "M-2"}).text
    answered = form_of_page(client.get("/save", params=texts | {"plate": "converted"}).text)
    assert client.post("/save", data=answered, headers=ORIGIN).status_code == 303
    with open_record(bench.file, readonly=True) as record:
        newest = history(record, "M-1")[0].test
    assert ("plate", "converted") in [(one.name, one.text) for one in newest.inputs]
    assert client.get("/measure", params=texts | {"burner": "griddle tube left"}).status_code == 200


def test_one_answer_is_of_every_burner_of_the_unit_until_it_is_asked_anew_or_stopped(
    planned: tuple[Any, Bench, str],
) -> None:
    client, bench, number = planned
    texts = READ | {"plan": number}
    griddle = {"burner": "griddle tube left"}
    assert client.get("/measure", params=texts | ALL).status_code == 200
    assert client.get("/measure", params=texts | griddle).status_code == 200
    shown = client.get("/", params={"serial": "M-1", "plan": number, "model": READ["model"]}).text.replace(
        "\N{NO-BREAK SPACE}", " "
    )
    assert "Orifice marks of M-1: answered today, as printed: griddle tube left 1.00 mm" in shown
    assert client.get("/measure", params=texts | griddle | {"orifice_marks": "anew"}).status_code == 422
    assert client.get("/measure", params=texts | griddle).status_code == 422
    assert client.get("/measure", params=texts | ALL | {"serial": "M-2"}).status_code == 200
    stop = client.get("/stop", params=texts | ALL | {"serial": "M-2", "stop": "light-back"})
    assert "Light-back" in stop.text
    assert not bench.marks
    with open_record(bench.file, readonly=True) as record:
        assert not open_stops(record)  # what was shown is not recorded by itself


NO_PRESSURE = READ | ALL | {"manifold": ""}


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({}, 422),
        ({"no_manifold": "no tap"}, 200),
        ({"no_manifold": "no gauge"}, 200),
        ({"manifold": "2.75 kPa"}, 200),
        ({"low_rate": "yes", "last": "11.96 kg"}, 200),  # no row asks for it
    ],
)
def test_a_heat_input_of_a_plan_waits_for_its_pressure_or_for_why_there_is_none(
    planned: tuple[Any, Bench, str], changed: dict[str, str], status: int
) -> None:
    client, _, number = planned
    answer = client.get("/finding", params=NO_PRESSURE | {"plan": number} | changed)
    assert answer.status_code == status, answer.text
    assert ("or say why it is not read" in answer.text) == (status == 422)


def test_a_reading_above_its_rating_stops_before_its_pressure_is_asked(
    planned: tuple[Any, Bench, str],
) -> None:
    client, _, number = planned
    answer = client.get("/finding", params=NO_PRESSURE | {"plan": number, "last": "11.7 kg"})
    assert "STOP. Possible overfire" in answer.text


def test_a_reading_above_its_band_leads_to_its_cause_and_to_no_flame(planned: tuple[Any, Bench, str]) -> None:
    client, _, number = planned
    shown = client.get("/finding", params=READ | ALL | {"plan": number, "last": "11.779 kg"}).text
    assert "Reading high. Turn the burner off and find the cause." in shown
    assert "Save this reading" in shown
    assert "Next: flame" not in shown


def test_a_unit_without_a_tap_is_asked_once_and_its_sheet_says_so(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    client, _, number = planned
    texts = NO_PRESSURE | {"plan": number}
    shown = client.get("/measure", params=texts).text
    assert 'for="manifold">Manifold pressure, burner on full</label>' in shown  # not optional
    assert '<option value="" selected>it is read</option>' in shown
    client.get("/finding", params=texts | {"no_manifold": "no tap"})
    tapless = '<option value="no tap" selected>'
    assert tapless in client.get("/measure", params=texts | {"burner": "rear burner"}).text
    assert tapless not in client.get("/measure", params=texts | {"serial": "M-2"}).text
    saved = client.get("/save", params=texts | {"no_manifold": "no tap"})
    assert client.post("/save", data=form_of_page(saved.text), headers=ORIGIN).status_code == 303
    assert "not read: no pressure tap on this unit" in client.get("/sheet", params={"serial": "M-1"}).text
    assert tapless in client.get("/measure", params=texts).text
    client.get("/finding", params=READ | ALL | {"plan": number})  # a pressure that was read after all
    assert tapless not in client.get("/measure", params=texts).text


def test_after_the_last_row_the_page_leads_to_the_signature(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    """A plan of one burner's two readings, both of one test; its flame is looked at before the unit is signed."""
    client, bench, number = planned
    whole = bench.plans[number]
    plan = replace(whole, rows=whole.rows_of("stock-pot ring", "cold")[:2], own_bands=())
    bench.take_plans({plan.number: plan}, {})
    texts = READ | ALL | {"plan": plan.number, "plan_state": "cold"}
    saved = client.post("/save", data=form_of_page(client.get("/save", params=texts).text), headers=ORIGIN)
    shown = client.get(saved.headers["location"]).text
    assert "<h1>Saved. Go on with the plan.</h1>" in shown
    assert "Next of the plan: stock-pot ring, at full rate: look at the flame</a>" in shown
    assert "Test sheet of this unit, a part test, to print" in shown
    for paper in ("/sheet", "/unit"):
        text = client.get(paper, params={"serial": "M-1"}).text
        assert "Part test: flame not looked at: stock-pot ring, at full rate." in text
    flame = client.get(unescape(NEXT_OF_PLAN.search(shown)[1])).text  # type: ignore[index]
    assert "flame and flue gas alone" in flame
    seen = texts | {"method": "flame"} | {f"see-{name}": sight.expected for name, sight in sights().items()}
    saved = client.post("/save", data=form_of_page(client.get("/save", params=seen).text), headers=ORIGIN)
    shown = client.get(saved.headers["location"]).text
    assert "<h1>Saved. Every row of the plan is read: print the sheet and sign it.</h1>" in shown
    assert "Test the next burner" not in shown
    at = client.get("/", params={"serial": "M-1", "plan": plan.number, "model": READ["model"]}).text
    assert "Nothing is left to read: <a href=" in at


def test_the_report_prints_what_was_answered_before_the_readings(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    client, bench, number = planned
    left_out = NO_PRESSURE | {
        "plan": number,
        "no_manifold": "no gauge",
        "mark-of tile broiler": "not looked at",
    }
    read = READ | ALL | {"plan": number, "burner": "rear burner", "last": "11.9 kg"}
    for texts in (left_out, read | {"burner": "griddle tube left", "last": "11.9255 kg"}):
        saved = client.post(
            "/save", data=form_of_page(client.get("/save", params=texts).text), headers=ORIGIN
        )
        assert saved.status_code == 303, saved.text
    with open_record(bench.file, readonly=True) as record:
        report = plan_report(record, bench.plans[number], ("M-1",))
    (table,) = (
        one for one in report_paper(report, "2026-11-30", "metric").tables if one.caption == FIRST_CAPTION
    )
    assert [row[:3] for row in table.rows][1:] == [
        ("M-1", "leak test of this unit", "none found: leak detection fluid made for gas"),
        ("M-1", "stock-pot ring, why no manifold pressure is read", "no gauge at hand"),
    ]
    assert table.rows[0][:2] == ("M-1", "orifice marks, with the gas off")
    assert table.rows[0][2].startswith(
        "as printed: griddle tube left 1.00 mm"
    )  # the newest answer of the unit


def test_after_a_reading_outside_its_band_what_was_mended_is_asked_before_anything_is_lit(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    client, _, number = planned
    unit = {name: READ[name] for name in ("model", "serial", "burner", "tester")} | {"plan": number}
    for burner, last, is_asked in (
        ("stock-pot ring", "11.792 kg", False),
        ("griddle tube left", "11.94 kg", True),
    ):
        texts = READ | ALL | {"plan": number, "burner": burner, "last": last}
        saved = client.post(
            "/save", data=form_of_page(client.get("/save", params=texts).text), headers=ORIGIN
        )
        assert saved.status_code == 303
        shown = client.get("/", params=unit | {"burner": burner}).text
        assert ("What was mended since?" in shown) == is_asked
    assert shown.index('id="mended"') < shown.index('id="leak_test"')  # which is asked anew, as the marks are
    assert shown.index('id="orifice_marks"') < shown.index('id="leak_test"')
    assert "What was mended since?" not in client.get("/", params=unit).text  # another burner
    again = client.get("/measure", params=READ | ALL | unit | {"mended": "orifice changed"})
    assert again.status_code == 200
    assert again.text.count('name="mended" value="orifice changed"') == 1  # goes along to Save


def test_a_first_reading_has_the_state_of_the_rows_that_it_reads(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    """Whoever types the number of the plan has seen no field for the state yet."""
    client, bench, number = planned
    texts = READ | ALL | {"plan": number}
    saved = client.post("/save", data=form_of_page(client.get("/save", params=texts).text), headers=ORIGIN)
    assert saved.status_code == 303
    with open_record(bench.file, readonly=True) as record:
        (entry,) = history(record, "M-1")
    assert ("plan_state", "cold") in [(one.name, one.text) for one in entry.test.inputs]
    low = {name: text for name, text in texts.items() if name != "manifold"} | {
        "low_rate": "yes",
        "last": "11.9583 kg",
    }
    client.post("/save", data=form_of_page(client.get("/save", params=low).text), headers=ORIGIN)
    sheet = client.get("/sheet", params={"serial": "M-1"}).text.replace("\N{NO-BREAK SPACE}", " ")
    row = sheet[sheet.index("stock-pot ring, low rate") :]
    assert "27.5 mbar" not in row[: row.index("</tr>")]  # read cold, not turned low
    assert "tile glows evenly" not in sheet


def test_a_list_says_whether_a_flame_was_looked_at(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    client, _, number = planned
    for serial, more in (("M-7", {"see-lift": "no"}), ("M-8", {"orifice_marks": "not looked at"})):
        texts = READ | ALL | {"plan": number, "serial": serial} | more
        client.post("/save", data=form_of_page(client.get("/save", params=texts).text), headers=ORIGIN)
        shown = client.get("/unit", params={"serial": serial}).text
        assert ("as required</td>" in shown) == (serial == "M-7")
        assert ("not looked at</td>" in shown) == (serial == "M-8")


def test_a_figure_corrected_within_its_band_stands_on_the_sheet(
    planned: tuple[Any, Bench, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    client, bench, number = planned
    texts = READ | ALL | {"plan": number}
    saved = client.post("/save", data=form_of_page(client.get("/save", params=texts).text), headers=ORIGIN)
    uid = saved.headers["location"].partition("uid=")[2][:32]
    again = texts | {"last": "11.791 kg", "corrects": uid}
    data = form_of_page(client.get("/save", params=again).text) | {"reason": "792 typed for 791"}
    assert client.post("/save", data=data, headers=ORIGIN).status_code == 303
    sheet = client.get("/sheet", params={"serial": "M-1"}).text.replace("\N{NO-BREAK SPACE}", " ")
    corrected = sheet[sheet.index("Read twice, or corrected") :]
    assert "8.73 kW. Entry corrected: 792 typed for 791." in corrected
    with open_record(bench.file, readonly=True) as record:
        (unit,) = plan_report(record, bench.plans[number], ("M-1",)).units
    assert [(one.way, one.is_outside) for one in unit.earlier] == [
        ("corrected", False)
    ]  # the pressure is as it was


def test_the_page_before_saving_shows_what_was_answered_before_lighting(
    planned: tuple[Any, Bench, str],
) -> None:
    client, _, number = planned
    shown = client.get("/save", params=READ | ALL | {"plan": number, "see-odour": "no"}).text
    for label, value in (
        ("Gas on the label of the supply", "Propane, pure"),
        ("Leak test of this unit", "none found, leak detection fluid made for gas"),
        ("Orifice marks, with the gas off", "as printed: griddle tube left"),
    ):
        at = shown.index(f"<dt>{label}</dt><dd>")
        assert value in shown[at : at + 160].replace("\N{NO-BREAK SPACE}", " ")


HIDDEN = """
[appliance]
name = "island"
rating = "gross"
[supply]
gas = "natural-gas-typical"
pressure = "4 in w.c."
[[burner]]
name = "left tube"
rate = "9.35 kBtu/h"
orifice = { drill = "#54" }
"""


def test_another_gas_that_a_reading_in_its_band_hides_heads_the_finding(
    tmp_path: Path, client_of: Callable[[Bench], Any]
) -> None:
    """The other gas with its own regulator reads as rated on the meter: the warning comes before any look at the flame,
    in the words of explain; a pressure that was read ends the doubt."""
    open_record(tmp_path / "bench.sqlite").close()
    models = models_of([read_appliance_text(HIDDEN)])
    client = client_of(Bench(file=tmp_path / "bench.sqlite", models=models, gate=Gate(host="127.0.0.1")))
    texts = {
        "model": next(iter(models)), "serial": "H-1", "burner": "left tube", "tester": "R. Quill", "air": "yes",
        "supply_label": "natural-gas-typical", "leak_test": "fluid", "orifice_marks": "as printed",
        "method": "meter", "dial": "10 L", "turns": "1", "time1": "138.5 s", "meter_pressure": "20 mbar",
    }  # fmt: skip
    shown = client.get("/finding", params=texts | {"no_manifold": "no gauge"}).text
    heading = shown[shown.index("<h1>") : shown.index("</h1>")]
    assert "Burner off: read the label of the supply again." in heading
    warning = shown.index("Another gas may be connected (probability ")
    assert (
        shown.index("</h1>")
        < warning
        < shown.index("What may be wrong" if "What may be wrong" in shown else "Faults")
    )
    assert '<strong class="signal">WARNING</strong> Another gas may be connected' in shown
    assert shown.count("Another gas may be connected") == 1
    read = client.get("/finding", params=texts | {"manifold": "4.0 in w.c."}).text
    assert "Another gas may be connected" not in read
    assert "Read the finding, then look at the flame." in read
