"""A test plan from the conversion to the report: two units filled through the pages, figures by plain arithmetic."""

from __future__ import annotations

import csv
import io
import json
import re
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from command_runs import run
from PIL import Image

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.project.basis import GROSS_RATED
from burnerlab.bench.plan_file import plan_json, plan_named, read_plan
from burnerlab.bench.plan_results import (
    PlanReport,
    UnitPhotograph,
    UnitResults,
    next_row,
    plan_report,
    unit_results,
    units_in_bands,
)
from burnerlab.bench.reading_plan import (
    CARBON_MONOXIDE,
    CarbonMonoxideLimit,
    Plan,
    converted_for,
    mismatch_words,
    plan_of,
)
from burnerlab.bench.record import (
    BenchTest,
    Observation,
    PlanEntry,
    Release,
    ReleaseRecord,
    Result,
    TestRecord,
    UnitStops,
    add_test,
    entry,
    open_record,
)
from burnerlab.bench.record.query import PastStop
from burnerlab.bench.record.stop_display import state_file
from burnerlab.bench.row_verdict import row_verdict
from burnerlab.bench.stop import stop_notice
from burnerlab.cli.page import _as_planned
from burnerlab.cli.record_report import report_text
from burnerlab.handbook import contents
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import FLAME_METHOD, Form, gas_title
from burnerlab.page.heat_input_test import models_of
from burnerlab.page.plan_rows import form_for, plan_view, row_words
from burnerlab.page.security import Gate
from burnerlab.page.unit_coverage import row_place
from burnerlab.report.plan_export import report_bytes, report_rows
from burnerlab.report.plan_paper import band_text, plan_paper
from burnerlab.report.plan_paper_files import paper_html, reduced_picture
from burnerlab.report.plan_report import report_paper
from burnerlab.report.sheet.job_card import card_band
from burnerlab.report.unit_answers import FLAMES_CAPTION
from burnerlab.report.write import write_sheet
from burnerlab.tables import rows
from burnerlab.tables.cautions import caution, cautions
from burnerlab.tables.problem import UserError
from burnerlab.tables.verdict import Verdict

ORIGIN = {"origin": "http://127.0.0.1:8741"}
LIMIT = CarbonMonoxideLimit(limit=400e-6, scope="an invented limit of this shop")
BTU_PER_H = 1055.05585262 / 3600.0  # W; International Table Btu, NIST SP 811 appendix B.8
RATE_W = 30_000 * BTU_PER_H  # of the stock-pot ring in the demonstration's file
PROPANE_J_PER_KG = 2221.10e3 / 44.09562e-3  # gross at 15 C, ISO 6976:2016 table 3 over its molar mass
RING = "stock-pot ring"
BURNED_S = 1200.0
COMMON = {
    "model": "lantern-square-6", "burner": RING, "tester": "R. Quill", "instruments": "W2",
    "supply_label": "propane", "leak_test": "fluid", "air": "yes", "orifice_marks": "as printed",
    "method": "scale", "first": "12.000 kg", "burned": "1200 s", "resolution": "0.1 g", "manifold": "2.75 kPa",
}  # fmt: skip
LOSSES = {("P-0001", "cold"): 0.208, ("P-0001", "hot"): 0.209, ("P-0002", "hot"): 0.195}  # kg


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_of(convert(demonstration(), "propane", 2740.0), LIMIT)


@dataclass(frozen=True)
class Filled:
    """A bench on which two units were read by the plan."""

    client: Any
    bench: Bench
    plan: Plan
    pages: dict[tuple[str, str], str]
    report: PlanReport


def _hidden(page: str) -> dict[str, str]:
    form = page[page.rindex("<form") :]
    return dict(re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', form))


def csv_rows(report: PlanReport) -> list[dict[str, str]]:
    text = report_bytes(report, "csv", "", "metric").decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


@pytest.fixture(scope="module")
def filled(plan: Plan, tmp_path_factory: pytest.TempPathFactory, client_of: Callable[[Bench], Any]) -> Filled:
    folder = tmp_path_factory.mktemp("plan")
    file = folder / "cart-plan.json"
    file.write_text(plan_json(plan), encoding="utf-8")
    found = plan_named(plan.number[:8], folder, folder.parent)  # also from above the folder of its papers
    converted = converted_for(demonstration(), found)
    assert converted is not None
    record_file = folder / "bench.sqlite"
    open_record(record_file).close()
    bench = Bench(
        file=record_file,
        models=models_of([converted]),
        gate=Gate(host="127.0.0.1"),
        plans={found.number: found},
    )
    client = client_of(bench)
    pages = {}
    for (serial, state), loss in LOSSES.items():
        more = {"serial": serial, "plan": found.number, "plan_state": state, "last": f"{12.0 - loss:.3f} kg"}
        shown = client.get("/save", params=COMMON | more)
        assert shown.status_code == 200, shown.text
        answer = client.post("/save", data=_hidden(shown.text), headers=ORIGIN)
        assert answer.status_code == 303, answer.text
        pages[(serial, state)] = client.get(answer.headers["location"]).text
    with open_record(record_file, readonly=True) as record:
        report = plan_report(record, found)
    return Filled(client=client, bench=bench, plan=found, pages=pages, report=report)


def test_the_report_holds_what_the_scale_says(filled: Filled) -> None:
    """Heat input = mass burned times gross heating value over time; the band 5 % of the rating either side."""
    assert [unit.serial for unit in filled.report.units] == ["P-0001", "P-0002"]
    for (serial, state), loss in LOSSES.items():
        unit = next(one for one in filled.report.units if one.serial == serial)
        row = next(one for one in filled.plan.rows_of(RING, state) if one.quantity == "heat_input_gross")
        result = unit.result_of(row)
        assert result is not None
        by_hand = loss * PROPANE_J_PER_KG / BURNED_S
        assert result.measured == pytest.approx(by_hand, rel=1e-3)
        assert (row.low, row.high) == pytest.approx((0.95 * RATE_W, 1.05 * RATE_W), rel=1e-5)
        assert (result.tester, result.instruments) == ("R. Quill", "W2")
        assert result.expanded_uncertainty is not None
        assert result.expanded_uncertainty > 0.0
        expected = Verdict.OUTSIDE if by_hand < 0.95 * RATE_W else Verdict.WITHIN
        assert result.verdict is expected, (by_hand, result)
        pressure = unit.result_of(filled.plan.rows_of(RING, state)[0])
        assert pressure is not None
        assert pressure.measured == pytest.approx(2750.0)
        # of the manometer of the table: 25 Pa each way, alike within (rectangular, JCGM 100, 4.3.7)
        assert pressure.expanded_uncertainty == pytest.approx(2.0 * 25.0 / 3.0**0.5)


def test_rows_not_done_are_named_and_the_next_is_offered(filled: Filled) -> None:
    first, second = filled.report.units
    of_ring = [row for state in ("cold", "hot") for row in filled.plan.rows_of(RING, state)]
    done = {row.id for row in of_ring if row.quantity != CARBON_MONOXIDE}  # no analyser was read
    assert set(first.not_done) == {row.id for row in filled.plan.rows} - done
    assert len(second.not_done) == len(filled.plan.rows) - 2
    following = next_row(filled.plan, first)
    assert following is not None
    assert following == filled.plan.rows[0]
    page = filled.pages[("P-0001", "hot")]
    following_unit = re.findall(r'href="([^"]*)">Next unit', page)[0]
    assert f"plan={filled.plan.number}" in following_unit
    assert not re.search("burner=|serial=|plan_state=", following_unit)  # from its first burner
    weighed = filled.client.get("/measure", params=COMMON | {"serial": "P-0001"}).text
    assert "read the manifold pressure, then weigh the cylinder" in weighed
    assert "time the gas" not in weighed
    of_unit = filled.client.get("/unit", params={"serial": "P-0001"}).text
    again = re.findall(r'href="([^"]*)">Test this unit', of_unit)[0]
    assert f"plan={filled.plan.number}" in again
    assert "model=lantern-square-6" in again
    assert f"4 of {len(filled.plan.rows)} rows read" in page
    assert "Next: <a href=" in page
    assert f">{following.burner}, cold, at lighting</a>" in page
    unit = filled.client.get(
        "/", params={"plan": filled.plan.number, "burner": RING, "plan_state": "low"}
    ).text
    assert "heat input at the low rate, gross: expected 1.74 kW" in unit.replace("\N{NO-BREAK SPACE}", " ")


def test_whoever_reads_a_row_that_was_read_meanwhile_sees_it_before_both_stand_on_the_papers(
    filled: Filled,
) -> None:
    """Two pages begun before either is saved: the second is refused once, and sees who read the first."""
    asked = COMMON | {"plan": filled.plan.number, "serial": "P-0031", "plan_state": "cold"}
    shown = [
        filled.client.get("/save", params=asked | {"tester": tester, "last": last}).text
        for tester, last in (("J. M.", "11.792 kg"), ("K. Nowak", "11.790 kg"))
    ]
    first = filled.client.post("/save", data=_hidden(shown[0]), headers=ORIGIN)
    again = filled.client.post("/save", data=_hidden(shown[0]), headers=ORIGIN)
    assert first.headers["location"] == again.headers["location"]  # arrived twice, recorded once
    second = filled.client.post("/save", data=_hidden(shown[1]), headers=ORIGIN)
    assert second.status_code == 409
    uid = re.search("uid=(\\w+)", first.headers["location"])
    assert uid
    for words in ("Read meanwhile", "J. M. Save once more", uid[1][:8]):
        assert words in second.text
    assert ".." not in re.sub(r"<[^>]*>", "", second.text)
    made = filled.client.post("/save", data=_hidden(second.text), headers=ORIGIN)
    assert made.status_code == 303
    with open_record(filled.bench.file, readonly=True) as record:
        (unit,) = plan_report(record, filled.plan, ("P-0031",)).units
    assert {(one.tester, one.entry) for one in unit.earlier} == {("J. M.", uid[1])}
    assert not any(one.is_outside for one in unit.earlier)


def test_a_corrected_reading_outside_and_a_unit_without_a_row_stand_in_the_report(filled: Filled) -> None:
    asked = COMMON | {"plan": filled.plan.number, "serial": "P-0032", "plan_state": "cold"}
    shown = filled.client.get("/save", params=asked | {"last": "11.805 kg"})
    made = filled.client.post("/save", data=_hidden(shown.text), headers=ORIGIN)
    uid = made.headers["location"].partition("uid=")[2][:32]
    shown = filled.client.get("/save", params=asked | {"last": "11.792 kg", "corrects": uid})
    made = filled.client.post("/save", data=_hidden(shown.text) | {"reason": "scale knocked"}, headers=ORIGIN)
    assert made.status_code == 303, made.text
    lock_up = asked | {
        "method": "manometer",
        "burner": "all burners together",
        "lock_up": "yes",
        "manifold": "30 mbar",
    }
    shown = filled.client.get("/save", params=lock_up | {"serial": "P-0033"})
    made = filled.client.post("/save", data=_hidden(shown.text), headers=ORIGIN)
    assert made.status_code == 303, made.text
    with open_record(filled.bench.file, readonly=True) as record:
        report = plan_report(record, filled.plan)
    units = {unit.serial: unit for unit in report.units}
    (before,) = units["P-0032"].earlier
    assert (before.entry, before.is_outside, before.way, before.done) == (
        uid,
        True,
        "corrected",
        "scale knocked",
    )
    alone = units["P-0033"]
    assert len(alone.not_done) == len(filled.plan.rows)
    assert [(one.quantity, one.value) for one in alone.beside] == [("lock_up_pressure", 3000.0)]
    page = " ".join(re.sub("<[^>]+>", " ", report_bytes(report, "html", "", "metric").decode()).split())
    assert f"P-0033 0 of {len(filled.plan.rows)}" in page
    beside = page[page.index("Read beside the rows of the plan") :].replace("\N{NO-BREAK SPACE}", " ")
    assert re.search("P-0033 manifold pressure with every burner off 30.0 mbar", beside)
    (other,) = (one for one in csv_rows(report) if one["reading"] == "not in the plan")
    assert (other["serial"], other["measured"], other["unit"]) == ("P-0033", "30", "mbar")


def test_after_a_reading_outside_comes_its_cause_and_after_a_repair_what_was_read_before_it(
    filled: Filled,
) -> None:
    """Hot within, cold 6 % low, cold again within: the cold rows are those of now, the hot ones of another orifice."""
    pages, asked = [], COMMON | {"plan": filled.plan.number, "serial": "P-0030"}
    for state, loss in (("hot", 0.209), ("cold", 0.195), ("cold", 0.208)):
        shown = filled.client.get(
            "/save", params=asked | {"plan_state": state, "last": f"{12.0 - loss:.3f} kg"}
        )
        again = {"mended": "orifice exchanged"} if loss == 0.208 else {}
        if again:
            unsaid = filled.client.post("/save", data=_hidden(shown.text), headers=ORIGIN)
            assert (unsaid.status_code, "Say what was mended since" in unsaid.text) == (422, True)
        made = filled.client.post("/save", data=_hidden(shown.text) | again, headers=ORIGIN)
        pages.append(
            " ".join(re.sub("<[^>]+>", " ", filled.client.get(made.headers["location"]).text).split())
        )
        with open_record(filled.bench.file, readonly=True) as record:
            (unit,) = plan_report(record, filled.plan, ("P-0030",)).units
        view = plan_view(filled.bench, Form.of(asked))
        assert view is not None
        if loss == 0.195:
            assert (view.cause_words, view.next_label) == (f"{RING}, cold, at lighting", "Read again")
            assert next_row(filled.plan, unit) == filled.plan.rows_of(RING, "cold")[1]
    ids = [row.id for row in filled.plan.rows_of(RING, "hot")[:2]]
    assert list(unit.repeats) == ids
    assert set(ids) <= set(unit.not_done)
    assert next_row(filled.plan, unit) == filled.plan.rows_of(RING, "hot")[0]
    assert (view.cause_words, view.next_label, view.repeats) == ("", "Read again", 2)
    (before,) = unit.earlier
    low_W = 0.195 * PROPANE_J_PER_KG / BURNED_S
    assert before.value == pytest.approx(low_W, rel=1e-3)
    assert (before.row, before.way, before.done) == (
        filled.plan.rows_of(RING, "cold")[1].id,
        "mended",
        "orifice exchanged",
    )
    with open_record(filled.bench.file, readonly=True) as record:
        of_unit = plan_report(record, filled.plan, ("p-0030",))
    papers = [
        report_bytes(of_unit, "html", "", "metric").decode(),
        report_text(of_unit, "metric"),
        *(filled.client.get(path, params={"serial": "p-0030"}).text for path in ("/sheet", "/unit")),
    ]
    for paper in papers:
        words = _words(paper)
        found = re.search(rf"8.19 kW( gross)?,? (OUTSIDE|outside).*?{before.entry[:8]}", words)
        assert found, words
        assert re.search("[Mm]ended: orifice exchanged", words), words
    (of_csv,) = (one for one in csv_rows(of_unit) if one["reading"] == "read before")
    assert (of_csv["row"], of_csv["verdict"], of_csv["what_was_done"], of_csv["entry"]) == (
        before.row, "outside", "mended: orifice exchanged", before.entry,
    )  # fmt: skip
    assert 1e3 * float(of_csv["measured"]) == pytest.approx(low_W, rel=1e-3)
    assert 1e3 * float(of_csv["low"]) > low_W  # its band beside it
    in_JSON = json.loads(report_bytes(of_unit, "json", "", "metric"))["readings"]
    assert [one["entry"] for one in in_JSON if one["reading"] == "read before"] == [before.entry]
    first, outside, mended = pages
    assert "Next of the plan:" in first
    assert "The cause first, burner off" in outside
    assert f"Once the cause is mended: test {RING} again" in outside
    assert not re.search("Next of the plan|Read again|Test the next burner", outside)
    assert "Saved. Read again first what was read before the repair." in mended
    assert f"Read again, after the repair: {RING}, hot" in mended


@pytest.mark.parametrize(
    ("kind", "burner", "again"), [("soot", RING, 2), ("soot", "", 4), ("pressure", RING, 4)]
)
def test_a_release_has_the_rows_read_again_that_its_repair_may_have_changed(
    filled: Filled, kind: str, burner: str, again: int
) -> None:
    """Soot is of one burner and of all together; a pressure of every burner."""
    rows = {name: filled.plan.rows_of(name, "hot")[:2] for name in (RING, "griddle tube left")}
    entries = []
    for number, (name, own) in enumerate(rows.items()):
        results = tuple(Result(quantity=row.quantity, value=row.predicted or 1.0, burner=name) for row in own)
        test = BenchTest(
            serial="P-1", model=filled.plan.model, tester="R. Quill", results=results,
            plan_entries=tuple(PlanEntry(plan=filled.plan.digest, plan_row=row.id) for row in own),
        )  # fmt: skip
        entries.append(TestRecord(number=number, uid=f"{number}", recorded_at="2026-11-30T10:00", test=test))
    words = {"read": "x", "limit": "x"} if kind == "pressure" else {}
    seen = BenchTest(
        serial="P-1",
        model="x",
        tester="x",
        observations=(Observation(name="soot", answer="yes", burner=burner),),
    )
    ended = ReleaseRecord(
        number=1, uid="r", recorded_at="2026-11-30T11:00",
        release=Release(stops=("2-x",), name="x", qualification="x", cause="x", repair="x", leak_test="x"),
    )  # fmt: skip
    raised = TestRecord(number=2, uid="2", recorded_at="2026-11-30T10:30", test=seen)
    stop = PastStop(notice=stop_notice(kind, **words), record=raised, release=ended)
    past = UnitStops(stops=(stop,), entries=tuple(entries))
    assert len(unit_results(filled.plan, "P-1", entries, past=past).repeats) == again


def _words(paper: str) -> str:
    """What is read on a paper."""
    return " ".join(unescape(re.sub("<[^>]+>", " ", paper)).replace("\N{NO-BREAK SPACE}", " ").split())


def test_a_hot_reading_soon_after_the_cold_one_is_named_before_and_after_it_is_taken(filled: Filled) -> None:
    """Saved within seconds: no burner is hot 15 min after it was lit, by the times of the record."""
    asked = COMMON | {"plan": filled.plan.number, "serial": "P-0077"}
    for state in ("cold", "hot"):
        shown = filled.client.get("/save", params=asked | {"plan_state": state, "last": "11.792 kg"})
        made = filled.client.post("/save", data=_hidden(shown.text), headers=ORIGIN)
        assert made.status_code == 303
        if state == "cold":
            view = plan_view(filled.bench, Form.of(asked | {"plan_state": "hot"}))
            assert view is not None
            assert "its cold reading was recorded 0 min ago. Hot is after 15 min" in view.here[0]
    with open_record(filled.bench.file, readonly=True) as record:
        report = plan_report(record, filled.plan, ("P-0077",))
    (unit,) = report.units
    assert {row for row, _ in unit.early_hot} <= {
        one.row.id for one in unit.results if one.row.state == "hot"
    }
    said = "hot sooner than 15 min after the cold reading of the same burner, so perhaps not hot: "
    for paper in (report_bytes(report, "html", "", "metric").decode(), report_text(report, "metric")):
        assert f"{said}{RING} 0 min" in _words(paper)
    for path in ("/sheet", "/unit"):
        assert f"{said}{RING} 0 min" in _words(filled.client.get(path, params={"serial": "P-0077"}).text)
    remarks = {one["row"]: one["remark"] for one in report_rows(report) if one["remark"]}
    assert set(remarks) == {row for row, _ in unit.early_hot}
    assert all(one.startswith("recorded 0 min after the cold reading") for one in remarks.values())
    of_csv = csv_rows(report)
    assert [one["remark"] for one in of_csv if one["remark"]] == list(remarks.values())
    shown = ("record", "show", "P-0077", "--file", str(filled.bench.file))
    for answer in (run(*shown).output, " ".join(json.loads(run(*shown, "--json").output)["hot_too_soon"])):
        assert f"{said}{RING} 0 min" in " ".join(answer.split())
    later = [
        replace(one, tested_at="2100-01-01T00:00:00Z") if one.row.state == "hot" else one
        for one in unit.results
    ]
    assert replace(unit, results=tuple(later)).early_hot == ()


def test_a_stop_that_was_shown_for_a_unit_of_another_plan_stands_in_no_report_of_this_one(
    plan: Plan, tmp_path: Path
) -> None:
    """One of the whole bench, of this plan, or of a unit of which no plan and model is known, does."""
    record_file = tmp_path / "bench.sqlite"
    pressure, odour = (
        {
            name: getattr(notice, name)
            for name in ("id", "scope", "signal", "heading", "do_first", "then", "why")
        }
        for notice in (stop_notice("pressure", read="15 mbar", limit="12 mbar"), stop_notice("odour"))
    )
    shown = [
        {"notice": notice, "form": {"serial": serial, "plan": number}, "has_reason": False}
        for serial, number, notice in (
            ("RC-1", "c7e4873dbca1", pressure),
            ("RC-2", "c7e4873dbca1", odour),
            ("PF-1", plan.number, pressure),
            ("PF-2", "", pressure),
            ("RC-3", "", pressure),
        )
    ]
    with open_record(record_file) as record:
        add_test(record, BenchTest(serial="RC-3", model="RC-3", tester="J. Dole"))
        state_file(record_file).write_text(json.dumps({"stops": shown}), encoding="utf-8")
        report = plan_report(record, plan)
    assert sorted(one.serial for one in report.stops_not_recorded) == ["PF-1", "PF-2", "RC-2"]


def test_every_paper_of_the_report_holds_the_same_figures(filled: Filled) -> None:
    rows = csv_rows(filled.report)
    document = json.loads(report_bytes(filled.report, "json", "", "metric"))
    assert len(rows) == 2 * len(filled.plan.rows) == len(document["readings"])
    measured = {(one["serial"], one["row"]): one for one in rows if one["measured"]}
    assert len(measured) == 6
    page = paper_html(report_paper(filled.report, "2026-11-29", "metric"))
    for unit in filled.report.units:
        for one in unit.results:
            line = measured[(unit.serial, one.row.id)]
            scale = {"kW": 1e3, "mbar": 100.0, "ppm": 1e-6}[line["unit"]]
            assert scale * float(line["measured"]) == pytest.approx(one.measured, rel=1e-11)
            assert line["verdict"] == one.verdict.value
            if one.row.quantity == "heat_input_gross":
                assert f'data-label="Measured">{one.measured / 1000.0:.3g} kW</td>' in page
    assert "OUTSIDE" in page
    assert "not done" in page
    assert {one["unit_test"] for one in rows} == {"part test"}
    assert {one["is_part"] for one in document["units"]} == {True}
    assert "" not in [value for one in document["readings"] for value in one.values()]
    unread = len(filled.plan.rows) - 4
    assert f"Unit P-0001; part test: {unread} of {len(filled.plan.rows)} rows not read" in page
    assert "<dt>Reviewed by, as a part test</dt>" in page
    assert f"unit P-0001: part test, 4 of {len(filled.plan.rows)} rows read" in report_text(
        filled.report, "metric"
    )
    assert "R. Quill" in page
    assert all(one.hazard in page for one in report_paper(filled.report, "", "metric").cautions)
    places = units_in_bands(filled.report)
    ring = next(one for one in places if (one.burner, one.state) == (RING, "hot"))
    assert ring.serials == ("P-0001", "P-0002")
    assert ring.measured_gross_W[1] < ring.measured_gross_W[0]
    first, *others = filled.report.units
    stopped = replace(
        first, results=tuple(replace(one, verdict=Verdict.NOT_EVALUATED) for one in first.results)
    )
    places = units_in_bands(replace(filled.report, units=(stopped, *others)))
    ring = next(one for one in places if (one.burner, one.state) == (RING, "hot"))
    assert ring.serials == ("P-0002",)  # what a stop withholds is no unit of the model


def test_the_paper_shows_the_photographs(filled: Filled) -> None:
    """Each with its burner, and with the stop of its test where there is one."""
    heading = stop_notice("lift").heading
    shown = UnitPhotograph(sha256="ab" * 32, subject="plate", place=RING, stop=heading)
    unit = replace(filled.report.units[0], photographs=(shown,))
    report = replace(filled.report, units=(unit,))
    page = report_bytes(report, "html", "", "metric", {shown.sha256: b"\xff\xd8\xff"}).decode()
    assert 'src="data:image/jpeg;base64,/9j/"' in page
    assert f"Unit P-0001, {RING}: plate. {heading}" in page
    assert "no longer with the record, or damaged" in report_bytes(report, "html", "", "metric").decode()
    assert report_bytes(report, "pdf", "", "metric").startswith(b"%PDF")


def test_the_pdf_shows_the_photographs_reduced(filled: Filled) -> None:
    """A picture of a camera's size becomes one of 900 pixels; one that is damaged leaves its hash."""
    stream = io.BytesIO()
    Image.effect_noise((3000, 2000), 60).convert("RGB").save(stream, "JPEG", quality=95)
    small = reduced_picture(stream.getvalue())
    assert small is not None
    assert small[1] == (900, 600)
    assert len(small[0]) < len(stream.getvalue()) / 5
    assert reduced_picture(b"\xff\xd8\xff") is None
    shown = UnitPhotograph(sha256="ab" * 32, subject="plate")
    unit = replace(filled.report.units[0], photographs=(shown,))
    report = replace(filled.report, units=(unit,))
    with_picture, without = (
        report_bytes(report, "pdf", "", "metric", pictures)
        for pictures in ({shown.sha256: stream.getvalue()}, {})
    )
    assert b"/DCTDecode" in with_picture
    assert b"/DCTDecode" not in without


def test_every_plan_of_a_market_or_couple_is_found_again_on_the_bench(tmp_path: Path) -> None:
    """As written with the sheet: both gases of a couple are plans that name each other, the orifices are the same."""
    cart = demonstration()
    for market in targets_of(cart):
        for conversion in convert_market(market):
            found = plan_of(evaluate_conversion(conversion))
            converted = converted_for(cart, found)
            assert converted is not None
            assert converted.supply.gas.name == conversion.to_gas.name
            assert [one.orifice.drill for one in converted.burners] == [
                b.choice.drill for b in conversion.burners
            ]
    couple = convert(cart, "G31", 3700.0, category="I3+")
    files = write_sheet(couple, tmp_path, ["plan"]).files
    assert [Path(one).name.partition("to-g31")[2] for one in files] == [
        f"{before}-plan.{ending}" for before in ("", "-couple-g30") for ending in ("json", "html", "pdf")
    ]
    own, other = (read_plan(Path(one)) for one in files if str(one).endswith(".json"))
    for one, beside, path in ((own, other, files[1]), (other, own, files[4])):
        assert f"{beside.gas} is read by plan {beside.number}" in Path(path).read_text(encoding="utf-8")
        assert converted_for(cart, one) is not None
    on_both = _as_planned((cart,), (own, other))
    assert [one.supply.gas.name for one in on_both] == ["G31", "G30"]
    assert on_both[0].burners[0].orifice == on_both[1].burners[0].orifice


def test_a_stop_leaves_nothing_judged(filled: Filled) -> None:
    """In a record of its own: a flame that lights back stops the unit, whatever the heat input."""
    row = next(one for one in filled.plan.rows_of(RING, "hot") if one.quantity == "heat_input_gross")
    assert row.predicted is not None
    test = BenchTest(
        serial="P-0003",
        model=filled.plan.model,
        tester="R. Quill",
        results=(Result(quantity=row.quantity, value=row.predicted, burner=RING),),
        observations=(Observation(name="light-back", answer="yes", burner=RING),),
        plan_entries=(PlanEntry(plan=filled.plan.digest, plan_row=row.id),),
    )
    with open_record(filled.bench.file.with_name("stopped.sqlite")) as record:
        made = add_test(record, test)
        assert entry(record, made.uid).test.plan_entries == test.plan_entries
        unit = plan_report(record, filled.plan).units[0]
    assert unit.is_stopped
    assert [one.verdict for one in unit.results] == [Verdict.NOT_EVALUATED]
    assert (unit.held_by, unit.serial) == ("", "P-0003")


def test_a_stop_of_the_bench_by_another_unit_leaves_what_was_recorded_before_it(filled: Filled) -> None:
    """A smell of gas at P-0005 holds the bench: P-0004, read before it, keeps its verdict; P-0006 since has none."""
    row = next(one for one in filled.plan.rows_of(RING, "hot") if one.quantity == "heat_input_gross")
    assert row.predicted is not None

    def tested(serial: str, *seen: Observation) -> BenchTest:
        result = Result(quantity=row.quantity, value=row.predicted or 0.0, burner=RING)
        plan_entry = PlanEntry(plan=filled.plan.digest, plan_row=row.id)
        return BenchTest(
            serial=serial,
            model=filled.plan.model,
            tester="R. Quill",
            results=(result,),
            observations=seen,
            plan_entries=(plan_entry,),
        )

    with open_record(filled.bench.file.with_name("held.sqlite")) as record:
        add_test(record, tested("P-0004"))
        time.sleep(0.01)  # the record writes milliseconds
        add_test(record, tested("P-0005", Observation(name="odour", answer="yes")))
        add_test(record, tested("P-0006"))
        report = plan_report(record, filled.plan)
    assert [one.results[0].verdict for one in report.units] == [
        Verdict.WITHIN,
        Verdict.NOT_EVALUATED,
        Verdict.NOT_EVALUATED,
    ]
    assert [(one.held_by, one.is_stopped) for one in report.units] == [
        ("P-0005", False),
        ("", True),
        ("P-0005", True),
    ]
    made = report_paper(report, "", "metric")
    captions = [one.caption for one in made.tables]
    (held,) = (one for one in captions if "Unit P-0004; the bench is held by a stop of unit P-0005" in one)
    assert next(one for one in made.tables if one.caption == FLAMES_CAPTION).rows
    assert "no leak test recorded" in held
    assert "flame not looked at: " in held


def test_a_row_of_a_stopped_test_is_read_again(filled: Filled) -> None:
    """The reading that raised a stop stays in the report without a verdict; its row is read anew, and counts then."""
    row = next(one for one in filled.plan.rows_of(RING, "hot") if one.quantity == "heat_input_gross")
    plan_entry = PlanEntry(plan=filled.plan.digest, plan_row=row.id)
    made = BenchTest(
        serial="P-0007",
        model=filled.plan.model,
        tester="R. Quill",
        results=(Result(quantity=row.quantity, value=row.predicted or 0.0, burner=RING),),
        plan_entries=(plan_entry,),
    )
    stopped = replace(made, observations=(Observation(name="soot", answer="yes", burner=RING),))
    with open_record(filled.bench.file.with_name("again.sqlite")) as record:
        add_test(record, stopped)
        (unit,) = plan_report(record, filled.plan).units
        assert [one.row.id for one in unit.results] == [row.id]
        assert row.id in unit.not_done
        assert len(unit.not_done) == len(filled.plan.rows)
        add_test(record, made)
        (unit,) = plan_report(record, filled.plan).units
        assert row.id not in unit.not_done


def test_another_digest_is_told_at_the_top(filled: Filled, tmp_path: Path) -> None:
    """One figure of the file changed: its number is another, and page and paper say so before everything."""
    document = json.loads(plan_json(filled.plan))
    document["rows"][0]["high"] *= 1.1
    path = tmp_path / "changed-plan.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    changed = read_plan(path)
    assert changed.is_altered
    assert changed.number != filled.plan.number
    assert not filled.plan.is_altered
    assert "was changed after it was made" in paper_html(plan_paper(changed, "", "metric"))
    bench = replace_plans(filled.bench, changed)
    asked = {"plan": changed.number, "model": "lantern-square-6"}
    assert "was changed after it was made" in filled_client(filled, bench).get("/", params=asked).text
    other = filled_client(filled, bench).get("/", params={"plan": filled.plan.number}).text
    assert (
        f"Plan {filled.plan.number} is not on this bench, which has plan {changed.number}. No unit is read by it"
        in other
    )


def test_without_its_plan_a_unit_of_a_plan_bench_is_a_part_test(filled: Filled) -> None:
    """An emptied field says what it does before the readings; sheet and entry count every row as not read."""
    typed = COMMON | {"serial": "P-0060", "last": "11.791 kg"}
    before = filled.client.get("/measure", params=typed).text
    assert f"No plan is named; this bench has plan {filled.plan.number} for this model." in before
    shown = filled.client.get("/save", params=typed)
    made = filled.client.post("/save", data=_hidden(shown.text), headers=ORIGIN)
    rows = len(filled.plan.rows)
    for page in (
        filled.client.get(made.headers["location"]),
        filled.client.get("/sheet", params={"serial": "P-0060"}),
        filled.client.get("/unit", params={"serial": "P-0060"}),
    ):
        assert "part test" in page.text.lower()
    sheet = filled.client.get("/sheet", params={"serial": "P-0060"}).text
    assert f"Part test: {rows} of {rows} rows of plan {filled.plan.number} not read." in sheet
    assert f"<strong>Part test: {rows} rows not read</strong>" in sheet
    other = replace_plans(filled.bench, replace(filled.plan, rows=filled.plan.rows[:1]))
    known = filled_client(filled, other).get("/sheet", params={"serial": "P-0001"}).text
    assert f"its plan {filled.plan.number} is not on this bench" in known


@pytest.mark.parametrize("number", ["5460ab8d81c4", "xx"])
def test_the_number_of_a_plan_that_the_bench_has_not_is_refused(number: str, filled: Filled) -> None:
    """Both are named, and nothing is read; a correction of what was read before is not held by it."""
    typed = COMMON | {"serial": "P-0061", "plan": number, "last": "11.791 kg"}
    for path in ("/measure", "/finding", "/save"):
        refused = filled.client.get(path, params=typed)
        assert refused.status_code == 422
        assert f"Plan {number} is not on this bench, which has plan {filled.plan.number}." in refused.text
    bare = Bench(file=filled.bench.file, models=filled.bench.models, gate=filled.bench.gate)
    assert bare.unknown_plan(number).startswith(f"Plan {number} is not on this bench, which has no plan.")


def test_of_two_plans_for_one_gas_each_has_its_own_model() -> None:
    """The sizes of one market are never judged by the plan of another: the model of the plan in hand is chosen."""
    made = {
        found.number: found
        for found in (
            plan_of(convert(demonstration(), "propane", pressure_Pa)) for pressure_Pa in (2740.0, 3500.0)
        )
    }
    built: dict[str, Any] = {}
    appliances = _as_planned((demonstration(),), made.values(), None, built)
    bench = Bench(file=Path("none.sqlite"), models=models_of(appliances), gate=Gate(host="127.0.0.1"))
    bench.take_plans(made, {}, built)
    first, second = bench.models.values()
    (own,), (another,) = first.plans, second.plans
    assert (own.number, another.number) == tuple(made)
    assert first.appliance.supply.gauge_pressure_Pa < second.appliance.supply.gauge_pressure_Pa
    form = Form.of({"model": first.key, "plan": another.number})
    said = bench.other_plan(form, first)
    assert f"Plan {another.number} is not that of the model chosen, which has plan {own.number}." in said
    assert bench.other_plan(form, second) == ""


def test_the_plan_in_hand_chooses_its_model_before_any_label_can_differ(
    tmp_path: Path, client_of: Callable[[Bench], Any]
) -> None:
    """Two gases of one model: the label names the gas of the plan, the list of models stands at the other."""
    plans = [plan_of(convert(demonstration(), gas, 2740.0)) for gas in ("propane", "butane-n")]
    open_record(tmp_path / "bench.sqlite").close()
    units = [converted_for(demonstration(), plan) for plan in plans]
    models = models_of([unit for unit in units if unit is not None])
    bench = Bench(file=tmp_path / "bench.sqlite", models=models, gate=Gate(host="127.0.0.1"))
    bench.take_plans({plan.number: plan for plan in plans}, {})
    client, (first, second) = client_of(bench), models
    texts = COMMON | {"serial": "P-0001", "supply_label": "butane-n", "plan": plans[1].number}
    shown = client.get("/measure", params=texts | {"model": first})
    assert shown.status_code == 422
    assert "STOP. Another gas" not in shown.text
    assert f"Plan {plans[1].number} is for Lantern Square 6 on butane-n, which is chosen now" in shown.text
    assert f'<option value="{second}" selected>' in shown.text
    assert (
        'value="butane-n" autocomplete="off" data-anew="yes" checked' in shown.text
    )  # what was answered stays
    assert client.get("/measure", params=texts | {"model": second}).status_code == 200
    by_plan = client.get("/measure", params={name: text for name, text in texts.items() if name != "model"})
    assert by_plan.status_code == 200
    assert f'name="model" value="{second}"' in by_plan.text
    assert '<option value="">choose, or leave it to the plan</option>' in client.get("/").text
    leak = client.get("/measure", params=texts | {"model": first, "leak_test": "leak"})
    assert "STOP. Gas can explode." in leak.text  # whatever was chosen


def test_a_plan_of_no_model_here_is_named_before_its_label_differs(
    tmp_path: Path, client_of: Callable[[Bench], Any]
) -> None:
    """A label that names the gas of the plan is no fault of the supply; one that names neither is."""
    plans = [plan_of(convert(demonstration(), gas, 2740.0)) for gas in ("propane", "butane-n")]
    open_record(tmp_path / "bench.sqlite").close()
    unit = converted_for(demonstration(), plans[0])
    assert unit is not None
    models = models_of([unit])
    bench = Bench(file=tmp_path / "bench.sqlite", models=models, gate=Gate(host="127.0.0.1"))
    bench.take_plans({plan.number: plan for plan in plans}, {})
    client, (own,) = client_of(bench), models
    texts = COMMON | {"serial": "P-0001", "model": own, "plan": plans[1].number}
    shown = client.get("/measure", params=texts | {"supply_label": "butane-n"})
    assert shown.status_code == 422
    assert "STOP. Another gas" not in shown.text
    assert f"Plan {plans[1].number}" in shown.text
    assert "Nothing is read by it" in shown.text
    for label in ("another", "natural-gas-typical"):
        stopped = client.get("/measure", params=texts | {"supply_label": label, "serial": f"P-{label}"})
        assert "STOP. Another gas" in stopped.text
    wrong = client.get("/wrong", params=texts | {"supply_label": "another"}).text
    for name, text in (
        ("Model", "Lantern Square 6"),
        ("Gas of the model", gas_title("propane")),
        ("Test plan", plans[1].number),
    ):
        assert f"<dt>{name}</dt><dd>{text}</dd>" in wrong


def replace_plans(bench: Bench, plan: Plan) -> Bench:
    return Bench(file=bench.file, models=bench.models, gate=bench.gate, plans={plan.number: plan})


def filled_client(filled: Filled, bench: Bench) -> Any:
    return type(filled.client)(bench)


def test_units_stand_side_by_side_row_by_row(filled: Filled) -> None:
    """A column a unit, four to a table; a cell has the reading and its verdict, or that it is not done."""
    paper = report_paper(filled.report, "", "metric")
    (table,) = (one for one in paper.tables if one.caption.startswith("Units side by side"))
    assert table.heads[5:] == ("P-0001", "P-0002")
    by_id = {row[0]: row for row in table.rows}
    read = [row for row in filled.plan.rows if any(unit.result_of(row) for unit in filled.report.units)]
    assert [*by_id] == [row.id for row in read]
    assert table.lead.startswith("Not done on any of them: rows 01 to ")
    for unit, place in zip(filled.report.units, (5, 6), strict=True):
        for row in read:
            result = unit.result_of(row)
            cell = by_id[row.id][place]
            own = next(one for one in paper.tables if one.caption.startswith(f"Unit {unit.serial}"))
            (of_own,) = (one for one in own.rows if one[0] == row.id)
            assert by_id[row.id][:4] == of_own[:4]
            if result is None:
                assert cell == of_own[5] == "not done"
            else:
                assert cell.startswith(of_own[5])
                assert (result.verdict.emphatic in cell) == (result.verdict is not Verdict.WITHIN)
    alone = replace(filled.report, units=filled.report.units[:1])
    assert not any(one.caption.startswith("Units side") for one in report_paper(alone, "", "metric").tables)
    many = replace(filled.report, units=(*filled.report.units, *filled.report.units, *filled.report.units))
    across = [
        len(one.heads) - 5
        for one in report_paper(many, "", "metric").tables
        if one.caption.startswith("Units side")
    ]
    assert across == [4, 2]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "[1]",
        '{"schema": "burnerlab-test-plan/1"}',
        '{"schema": "burnerlab-test-plan/1", "rows": 3}',
    ],
)
def test_a_file_that_is_no_plan_is_refused(text: str, tmp_path: Path) -> None:
    path = tmp_path / "x-plan.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UserError):
        read_plan(path)


def test_carbon_monoxide_is_never_predicted(plan: Plan) -> None:
    """Its band is the user's limit and names its scope; without a limit nothing is judged."""
    row = plan.rows[-1]
    assert (row.quantity, row.predicted, row.low) == ("air_free_carbon_monoxide", None, None)
    assert (row.high, row.source) == (400e-6, LIMIT.scope)
    assert row_verdict(row, 500e-6, 20e-6) is Verdict.OUTSIDE
    assert row_verdict(row, 390e-6, 20e-6) is Verdict.NEAR
    assert row_verdict(replace(row, high=None), 500e-6, 20e-6) is Verdict.NOT_EVALUATED
    page = paper_html(plan_paper(plan, "", "metric"))
    assert "not predicted" in page
    assert "at most 400 ppm" in page
    assert LIMIT.scope in page


@pytest.mark.parametrize("kind", ["", "one-burner"])
def test_a_limit_of_the_plan_stops_below_that_of_the_kind(kind: str, filled: Filled) -> None:
    """400 ppm at 5 % oxygen is 400 20.9/15.9 = 525.8 ppm free of air: over the 400 ppm that the plan names."""
    typed = COMMON | {
        "serial": f"P-0020{kind}",
        "plan": filled.plan.number,
        "plan_state": "hot",
        "last": "11.791 kg",
    }
    flame = filled.client.get("/flame", params=typed).text
    assert (
        "The limit is 400 ppm free of air (an invented limit of this shop), as on job card and plan"
        in flame.replace("\N{NO-BREAK SPACE}", " ")
    )
    typed |= {"oxygen": "5", "carbon_monoxide": "400", "appliance_kind": kind}
    answer = filled.client.get("/save", params=typed).text.replace("\N{NO-BREAK SPACE}", " ")
    assert f"CO 525.8 ppm air-free, limit 400 ({LIMIT.scope}, named in the test plan)" in answer


def test_the_digest_is_of_the_rows_and_the_code_holds_the_number(plan: Plan) -> None:
    """No key of a bench, no path and no date is in it: the same conversion gives the same number."""
    again = plan_of(convert(demonstration(), "propane", 2740.0), LIMIT)
    assert again.digest == plan.digest
    assert plan.digest.startswith(plan.number)
    assert plan_of(convert(demonstration(), "propane", 2740.0)).digest != plan.digest
    segno = pytest.importorskip("segno")
    code = plan_paper(plan, "", "metric").code
    assert code == segno.make(plan.number, error="m", micro=False).svg_inline(
        scale=3, border=2, omitsize=True
    )


def test_card_and_plan_have_one_band_of_the_manifold_pressure(plan: Plan) -> None:
    """What the job card says to stop at is what the plan prints, evaluated or not; figures of six digits."""
    c = evaluate_conversion(convert(demonstration(), "propane", 2740.0))
    row = next(one for one in plan.rows_of("", "hot") if one.quantity == "manifold_pressure")
    band = card_band(c)
    assert (plan.band_of(row).low, plan.band_of(row).high) == (band.low_Pa, band.high_Pa)
    assert plan_of(c, LIMIT).digest == plan.digest
    words = "25.5 to 29.3 mbar; outside it: stop; above 32.3 mbar: gas off at once"
    assert band_text(row, "metric", plan.highest_Pa) == words
    highest = [one.high for one in plan.rows if one.quantity == "manifold_pressure" and one.high is not None]
    printed = {plan.rated_row(one).high for one in plan.rows if one.quantity == "manifold_pressure"}
    assert printed == {min(highest)}  # one regulator feeds all of them
    lows = {plan.rated_row(one).low for one in plan.rows if one.quantity == "manifold_pressure"}
    assert lows == {
        max(one.low for one in plan.rows if one.quantity == "manifold_pressure" and one.low is not None)
    }
    assert row_verdict(plan.band_of(plan.rows[0]), 1.01 * min(highest), 1.0) is Verdict.OUTSIDE


def test_a_burner_alone_has_its_own_heat_input_at_the_ends_of_its_pressure(plan: Plan) -> None:
    """I = k sqrt(p) through a fixed orifice (Bernoulli), from the pressure and heat input that the plan expects."""
    by_state = replace(plan, rows=plan.own_bands)
    for name in {row.burner for row in plan.rows} - {""}:
        pressure, heat = by_state.rows_of(name, "cold")
        for p, end in ((pressure.low, heat.low), (pressure.high, heat.high)):
            assert p is not None
            assert pressure.predicted is not None
            assert heat.predicted is not None
            assert heat.predicted * (p / pressure.predicted) ** 0.5 == pytest.approx(end, rel=1e-5)


def test_a_plan_stores_the_pressure_band_that_it_prints(plan: Plan) -> None:
    """One band for every burner, in file, paper, page and report; a plan made before is known by its digest still."""
    stored = [row for row in json.loads(plan_json(plan))["rows"] if row["quantity"] == "manifold_pressure"]
    printed = [plan.rated_row(row) for row in plan.rows if row.quantity == "manifold_pressure"]
    assert [(row["low"], row["high"]) for row in stored] == [(row.low, row.high) for row in printed]
    assert len({(row["low"], row["high"]) for row in stored}) == 1
    earlier = replace(plan, rows=plan.own_bands)
    assert len({(row.low, row.high) for row in earlier.rows if row.quantity == "manifold_pressure"}) > 1
    assert earlier.digest != plan.digest
    assert converted_for(demonstration(), earlier) is not None


STOPS = "the bench stops above 800 ppm"  # the lowest for cooking of table flue_limits
NO_LIMIT = "your standard: ____; bench: 800 ppm"


def test_no_row_reads_as_if_anything_were_allowed() -> None:
    """No limit named: the paper leaves a line for it. No turndown: CO is read at the lowest setting of the valve."""
    file = demonstration()
    ring = next(one for one in file.burners if one.name == RING)
    burners = tuple(replace(one, turndown=None) if one is ring else one for one in file.burners)
    bare = plan_of(convert(replace(file, burners=burners), "propane", 2740.0))
    assert bare.without_turndown == (RING, "tile broiler")  # the broiler has none in the file itself
    paper = plan_paper(bare, "", "US")
    assert band_text(bare.rows_of("", "hot")[-1], "US", to_fill=True) == NO_LIMIT
    assert (
        band_text(bare.rows_of("", "hot")[-1], "US") == f"no limit named; {STOPS}"
    )  # of a report: nothing to fill
    of_report = (band_text(row, "US") for row in bare.rows_of("", "low"))  # a verdict on the figure alone
    assert not any("flame" in text for text in of_report)
    assert not any(cell == "no limit" for row in paper.tables[0].rows for cell in row)
    rows = [row for row in paper.tables[0].rows if row[1] == RING]
    assert [row[2:6] for row in rows[-3:]] == [
        ("hot, after 15 min", "heat input, gross", *rows[-3][4:6]),
        ("hot, after 15 min", "air-free CO", "not predicted", NO_LIMIT),
        ("lowest setting of the valve", "air-free CO", "not predicted", f"flame on every port; {NO_LIMIT}"),
    ]
    of_tube = [row[2:4] for row in paper.tables[0].rows if row[1] == "rear burner"]
    assert of_tube[-2:] == [
        ("lowest rate", "heat input at the low rate, gross"),
        ("lowest rate", "air-free CO"),
    ]
    assert any(f"{RING}, tile broiler: no turndown in the file" in note for note in paper.notes)
    for of_low in (bare.rows_of(RING, "low")[0], bare.rows[-1]):
        form = form_for(Form({}), of_low, bare, None)
        assert (form.get("plan_state"), form.get("low_rate"), form.method) == ("low", "yes", FLAME_METHOD)
    heat, gas = bare.rows_of("rear burner", "low")  # the heat input outside its band, the flue gas not read
    results = UnitResults(serial="P-1", is_stopped=False, results=(), not_done=(gas.id,))
    again = form_for(Form((("method", "scale"),), "metric"), heat, bare, results, "scale")
    assert again.method == "scale"
    assert (
        form_for(Form((("method", "scale"),), "metric"), gas, bare, results, "scale").method == FLAME_METHOD
    )


def test_carbon_monoxide_is_read_where_card_and_caution_ask(plan: Plan) -> None:
    """One sentence in caution, step, card and handbook, and the rows that it asks for."""
    read = {(row.burner, row.state) for row in plan.rows if row.quantity == CARBON_MONOXIDE}
    burners = {row.burner for row in plan.rows}
    assert "" in burners  # all together
    assert read == {(burner, state) for burner in burners for state in ("hot", "low")}
    step = next(row for row in rows("prompts") if row["name"] == "combustion")
    page = " ".join(Path(contents.__file__).with_name("bench-test.md").read_text(encoding="utf-8").split())
    for text in (caution("carbon-monoxide").text, step["text"], step["short"], page):
        assert "at full and low rate, each burner alone and all together" in text


def test_a_plan_of_fewer_rows_is_still_that_of_its_file(
    plan: Plan, capsys: pytest.CaptureFixture[str]
) -> None:
    """As made before carbon monoxide was read everywhere: 6 burners hot and all together low are the rows it lacks."""
    kept = [
        row
        for row in plan.rows
        if row.quantity != CARBON_MONOXIDE or (row.state == "low") == bool(row.burner)
    ]
    assert len(plan.rows) - len(kept) == 7
    renumbered = tuple(replace(row, id=f"{i:02d}", order=i) for i, row in enumerate(kept, start=1))
    earlier = replace(plan, rows=renumbered)
    assert earlier.digest != plan.digest
    assert earlier.lacks_carbon_monoxide
    assert not plan.lacks_carbon_monoxide
    built = _as_planned((demonstration(),), (earlier,))
    assert [one.orifice for one in built[0].burners] == [
        one.orifice for one in _as_planned((demonstration(),), (plan,))[0].burners
    ]
    assert built[0].supply.gas.name == "propane"
    said = capsys.readouterr().err
    assert said.count("make the plan anew") == 1
    assert any("make the plan anew" in note for note in plan_paper(earlier, "", "metric").notes)
    changed = replace(earlier, rows=(replace(earlier.rows[0], high=4000.0), *earlier.rows[1:]))
    assert "1 reading differs" in mismatch_words(demonstration(), changed)


def test_the_cautions_of_a_plan_are_those_of_its_gas_and_the_leak_stands_first() -> None:
    cart = replace(demonstration(), supply=replace(demonstration().supply, train=None))
    of_propane = plan_of(convert(cart, "propane", 2740.0))
    of_hydrogen = plan_of(convert(cart, "hydrogen", 2000.0))
    plain, special = (plan_paper(one, "", "metric") for one in (of_propane, of_hydrogen))
    heads = [[one.id for one in paper.stop_box.warnings] for paper in (plain, special) if paper.stop_box]
    assert heads[0][:5] == ["gas-leak", "carbon-monoxide", "overfire", "flame", "gas-parts"]
    assert heads[1] == [*heads[0], "special-gas"]  # as at the head of the job card
    assert paper_html(plain).index("gas off. Keep it off") < paper_html(plain).index(
        "Readings, in this order"
    )
    ids = {one.id for one in plain.cautions}
    assert not ids & {"special-gas", "provoked-fault", "kit"}
    assert {one.id for one in special.cautions} == ids | {"special-gas"}
    unknown = plan_paper(replace(of_propane, occasions=None), "", "metric")  # as made before plans had them
    assert unknown.cautions == cautions()


def test_a_plan_is_in_the_words_of_its_region(plan: Plan) -> None:
    european = plan_paper(replace(plan, region="eu"), "", "metric")
    page = paper_html(european)
    assert "undiluted CO (air-free)" in page
    assert "heat input at the reduced rate, gross" in page
    assert LIMIT.scope in page  # a user's words stay
    assert "injector" in page
    assert "orifice" not in page.partition("</style>")[2].lower()


def test_a_plan_of_a_stock_is_found_by_a_file_that_names_none(tmp_path: Path) -> None:
    stock = tmp_path / "own.csv"
    bores = (0.83, 0.87, 0.95, 1.0, 1.07, 1.17, 1.5, 1.57)
    stock.write_text("part,bore_mm\n" + "".join(f"J{bore},{bore}\n" for bore in bores), encoding="utf-8")
    cart = demonstration()
    with_stock = replace(cart, tables=replace(cart.tables, stock=stock))
    made = plan_of(convert(with_stock, "propane", 2740.0))
    path = tmp_path / "x-plan.json"
    path.write_text(plan_json(made), encoding="utf-8")
    stock.unlink()
    found = read_plan(path)
    assert found.change == made.change
    built = converted_for(cart, found)
    assert built is not None
    assert [one.orifice.diameter_m for one in built.burners] == pytest.approx(
        [0.0010, 0.00107, 0.0010, 0.00157, 0.00117, 0.00087]
    )
    assert any("J1.57" in note for note in plan_paper(found, "", "metric").notes)


def test_a_plan_that_its_file_does_not_give_says_why_and_what_to_do(plan: Plan) -> None:
    cart = demonstration()
    other = replace(plan.rows[0], high=4000.0)
    changed = replace(plan, rows=(other, *plan.rows[1:]))
    words = mismatch_words(cart, replace(changed, version="0.0.9"))
    assert "was made by burnerlab 0.0.9" in words
    assert "1 reading differs: griddle tube left, cold, at lighting, pressure at the manifold" in words
    assert "to 40.000 mbar) in the plan" in words
    assert "burnerlab convert" in words
    assert "in w.c." in mismatch_words(cart, changed, "US")
    assert "an earlier burnerlab" in mismatch_words(cart, replace(changed, version=""))
    texts = replace(changed, file_sha256="a" * 64), replace(cart, file_sha256="b" * 64)
    assert "was made from another text of" in mismatch_words(texts[1], texts[0])
    without_row = replace(plan, rows=plan.rows[1:])
    assert "is not in the plan" in mismatch_words(cart, without_row)
    troubles: dict[str, str] = {}
    assert _as_planned((cart,), (changed,), troubles) == (cart,)
    with pytest.raises(UserError, match="is for model Other 5, which no file of this bench has"):
        _as_planned((cart,), (replace(changed, model="Other 5"),))
    assert "1 reading differs" in troubles[changed.number]


def test_each_of_several_burners_alike_has_rows_of_its_own(
    tmp_path: Path, client_of: Callable[[Bench], Any]
) -> None:
    """Two rings alike: a reading of the second ticks its rows alone, and the bench asks which of them is read."""
    cart = demonstration()
    file = replace(cart, burners=tuple(replace(b, count=2) if b.name == RING else b for b in cart.burners))
    made = plan_of(convert(file, "propane", 2740.0), LIMIT)
    first, second = (made.rows_of(RING, "cold", which) for which in (1, 2))
    assert [(one.quantity, one.low, one.high) for one in first] == [
        (one.quantity, one.low, one.high) for one in second
    ]
    path = tmp_path / "alike-plan.json"
    path.write_text(plan_json(made), encoding="utf-8")
    found = read_plan(path)
    assert (found.digest, found.is_altered, found.rows) == (made.digest, False, made.rows)
    names = [row[1] for row in plan_paper(found, "", "metric").tables[0].rows]
    assert names.count(f"{RING}, 1 of 2") == names.count(f"{RING}, 2 of 2") == 7

    kept = [replace(row, which=0, count=1) for row in made.rows if row.which < 2]
    rows_before = tuple(replace(row, id=f"{i:02d}", order=i) for i, row in enumerate(kept, start=1))
    before = replace(made, rows=rows_before)  # one row for both, as plans were
    built = converted_for(file, before)
    assert built is not None
    for plan in (found, before):
        bench = Bench(
            file=tmp_path / f"{plan.number}.sqlite",
            models=models_of([built]),
            gate=Gate(host="127.0.0.1"),
            plans={plan.number: plan},
        )
        open_record(bench.file).close()
        client = client_of(bench)
        loss = {"serial": "P-0009", "plan": plan.number, "plan_state": "cold", "last": "11.792 kg"}
        unit = client.get("/", params=COMMON | loss).text
        which = {}
        if plan is found:
            assert "Each of the 2 alike has its rows: write which is read" in unit
            refused = client.get("/measure", params=COMMON | loss).text
            assert "Is missing: the plan has rows for each of the 2 alike" in refused
            which = {"which": "2 of 2"}
        else:
            assert "This plan has one row for the 2 alike" in unit
        shown = client.get("/save", params=COMMON | loss | which)
        assert plan is before or f"<dt>Burner</dt><dd>{RING} 2 of 2</dd>" in shown.text
        answer = client.post("/save", data=_hidden(shown.text), headers=ORIGIN)
        assert answer.status_code == 303, answer.text
        with open_record(bench.file, readonly=True) as record:
            report = plan_report(record, plan)
        left = f"{RING} {'1' if plan is found else '2'} of 2"  # without a number it stands for the first
        for paper in ("/unit", "/sheet"):
            words = client.get(paper, params={"serial": "P-0009"}).text
            coverage = re.search(
                rf"1 of {len(cart.burners) + 1} burners tested; not tested: ([^.]*)\.", words
            )
            assert coverage is not None, words
            assert re.findall(f"{RING}[^,]*", coverage[1]) == [left]
            unread = f"{len(plan.rows) - 2} of {len(plan.rows)} rows of plan {plan.number} not read"
            assert f"Part test: {unread}" in words  # what its plan asks for comes first
            if paper == "/sheet":  # and stands on the line of signature
                signature = (
                    f"<strong>Part test: {len(plan.rows) - 2} rows not read, 1 flame not looked at</strong>"
                )
                assert "Unit test sheet: part test" in words
                assert words.index("Not read. ") < words.index(signature)
            if plan is found:
                assert f"{RING} 2 of 2" in words.replace(coverage[0], "")
        assert f">Test {left}</a>" in client.get(answer.headers["location"]).text
        read = [one.row for one in report.units[0].results]
        assert [(one.which, one.state) for one in read] == [(2 if plan is found else 0, "cold")] * 2
        assert next_row(plan, report.units[0]) == plan.rows[0]
        if plan is found:
            of_ring = form_for(Form({}), first[0], plan, report.units[0])
            assert (of_ring.get("burner"), of_ring.get("which")) == (RING, "1 of 2")
            place = next(one for one in units_in_bands(report) if (one.burner, one.state) == (RING, "cold"))
            assert place.serials == ("P-0009, 2 of 2",)
            line = next(
                one for one in report_paper(report, "", "metric").tables[-1].rows if one[0] == first[0].id
            )
            assert (line[1], line[5]) == (f"{RING}, 1 of 2, cold, at lighting", "not done")
            assert set(report.units[0].not_done) >= {one.id for one in first}


def test_the_served_plan_is_that_of_a_new_unit_and_can_be_cleared(filled: Filled) -> None:
    """A new unit has it in its field; a unit that is entered without it stays without it."""
    chosen = re.compile(r'<select id="plan".*?<option value="([^"]*)" selected', re.DOTALL)
    new, cleared = (
        chosen.search(filled.client.get("/", params=params).text)
        for params in ({}, {"serial": "P-0009", "plan": ""})
    )
    assert new is not None
    assert cleared is not None
    assert (new[1], cleared[1]) == (filled.plan.number, "")


def test_what_is_not_as_required_stands_before_the_heat_input(filled: Filled) -> None:
    """A heat input within its band does not lead a page on which a flame was not even."""
    more = {"serial": "P-0010", "last": "11.792 kg", "see-even-flame": "no"}
    shown = filled.client.get("/save", params=COMMON | more).text
    first = shown.index('class="look-again first"')
    assert first < shown.index('id="head-input"')
    lines = re.findall("<ul><li>(.*?)</li>", shown[first:])[:1]
    assert "flame even along the burner" in "".join(lines)
    right = filled.client.get("/save", params=COMMON | more | {"see-even-flame": "yes"}).text
    assert 'class="look-again first"' not in right


def test_a_plan_of_a_net_rating_is_read_net_and_one_made_before_is_found(tmp_path: Path) -> None:
    """The band of a burner is 5 % of its rating as the file states it, on the same basis: plain arithmetic."""
    file = replace(demonstration(), rating="net")
    made = plan_of(convert(file, "propane", 2740.0))
    row = made.rated_row(made.rows_of(RING, "cold")[1])
    assert (row.quantity, made.rated.word) == ("heat_input_net", "net")
    assert (row.low, row.high) == pytest.approx((0.95 * RATE_W, 1.05 * RATE_W), rel=1e-5)
    path = tmp_path / "x-plan.json"
    path.write_text(plan_json(made), encoding="utf-8")
    document = json.loads(path.read_text(encoding="utf-8"))
    assert read_plan(path).digest == made.digest == document["digest"]
    assert not read_plan(path).is_altered
    paper = plan_paper(made, "", "metric")
    assert "gross" not in " ".join(cell for line in paper.tables[0].rows for cell in line)
    assert any(
        line[3:6] == ("heat input, net", *line[4:5], "8.35 to 9.23 kW") for line in paper.tables[0].rows
    )
    assert "heat input, net: expected" in row_words(row, "metric")
    assert row_place(made, made.rows_of(RING, "cold")[1]).endswith("cold, at lighting, heat input, net)")

    document["rating"]["of_gross"] *= 0.99  # a figure of the paper changed by hand
    path.write_text(json.dumps(document), encoding="utf-8")
    assert read_plan(path).is_altered

    del document["rating"]  # as a plan was made before it named a basis: gross, and still that of its file
    document["digest"] = replace(made, rated=GROSS_RATED).digest
    path.write_text(json.dumps(document), encoding="utf-8")
    before = read_plan(path)
    assert (before.is_altered, before.rated.word) == (False, "gross")
    assert converted_for(file, before) is not None
    assert converted_for(file, made) is not None
