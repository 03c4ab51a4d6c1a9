"""Measured units on the desk: where they lie, and their coefficient put into the draft."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_findings import axe_findings
from command_runs import run
from desk_client import BASE, HIDDEN, SMALL, DeskClient, served

from burnerlab.appliance import convert, read_appliance
from burnerlab.bench.learning.known_orifices import plan_digest
from burnerlab.bench.plan_file import plan_json
from burnerlab.bench.reading_plan import CarbonMonoxideLimit, Plan, forms_of, plan_of
from burnerlab.bench.record import BenchReading, Result, add_test, open_record
from burnerlab.bench.record.entry import BenchTest, InputText, PlanEntry
from burnerlab.page.desk_form import schema
from burnerlab.page.desk_state import Desk
from burnerlab.quantity import Kind, read
from burnerlab.quantity.examples import us_example

METRIC_EXAMPLE = re.compile(r"[0-9.]+ (mm2?|m|kg|C|kPa|MJ/m3)")
KINDS = {"mm2": Kind.AREA, "kg": Kind.MASS, "C": Kind.TEMPERATURE, "kPa": Kind.ABSOLUTE_PRESSURE}
UNITS = 12
SHIFT = 0.95  # of every measured input: the shop's coefficient over the one of the table
KEYS = tuple(f"burner[1].orifice.{name}" for name in ("coefficient", "coefficient_low", "coefficient_high"))


def _tests(plan: Plan) -> list[BenchTest]:
    """Units of one burner tested by the plan, all a little low."""
    row = next(one for one in plan.rows_of("left tube", "cold") if one.quantity == "heat_input_gross")
    assert row.predicted is not None
    pressure_Pa = plan.change.gauge_pressure_Pa
    scatter = np.random.default_rng(5).normal(0.0, 0.004, UNITS)
    return [
        BenchTest(
            serial=f"U-{n:02d}",
            model="camp stove",
            tester="R. Quill",
            gas="propane",
            readings=(BenchReading(quantity="manifold_pressure", value=pressure_Pa, burner="left tube"),),
            results=(
                Result(
                    quantity="heat_input_gross",
                    value=row.predicted * SHIFT * (1.0 + off),
                    burner="left tube",
                    expanded_uncertainty=0.02 * row.predicted,
                ),
            ),
            plan_entries=(PlanEntry(plan=plan.digest, plan_row=row.id),),
        )
        for n, off in enumerate(scatter)
    ]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file and the record of its units."""
    place = tmp_path_factory.mktemp("units")
    path = place / "stove.toml"
    path.write_text(SMALL, encoding="utf-8")
    plan = plan_of(convert(read_appliance(path), "propane", "11 in w.c."))
    with open_record(place / "units.sqlite") as record:
        for test in _tests(plan):
            add_test(record, test)
        first = _tests(plan)[0]
        for serial, gas in (("U-90", "G30"), ("U-91", "natural-gas-typical")):
            add_test(record, replace(first, serial=serial, gas=gas, plan_entries=()))
    return place


@pytest.fixture
def client_of_folder() -> Callable[[Path], DeskClient]:
    def start(folder: Path) -> DeskClient:
        (folder / "stove.draft.toml").unlink(missing_ok=True)
        made = DeskClient(Desk(folder / "stove.toml", record=folder / "units.sqlite"))
        made.look()
        return made

    return start


@pytest.fixture
def client(folder: Path, client_of_folder: Callable[[Path], DeskClient]) -> DeskClient:
    return client_of_folder(folder)


def units_page(client: DeskClient) -> str:
    return client.request("GET", f"/units/{client.form['base']}?file={client.form['file']}").text


def test_units_lie_beside_what_is_calculated(client: DeskClient) -> None:
    assert "Measured units in units.sqlite" in client.look().text
    text = units_page(client)
    assert f"{UNITS} units: market A, propane, as this draft stands" in text
    assert text.count("<title>U-") == UNITS
    deviation = re.search(r"([−+][\d.]+) % of expected", text)
    assert deviation is not None
    assert float(deviation[1].replace("−", "-")) == pytest.approx(100 * (SHIFT - 1), abs=0.4)
    no_bore = "no bore read, so that the orifice is not known: 1 test"
    assert f"on G30, where the file has its orifices for typical pipeline natural gas, {no_bore}" in text
    assert f"of the present supply, {no_bore}" in text


def test_the_measured_coefficient_goes_into_the_draft_and_back(client: DeskClient) -> None:
    """The shift of the simulated units lies in the interval of what was learned; nothing of the file changes."""
    text = units_page(client)
    told = re.search(r"before (0\.\d+) \([^)]*\), measured here (0\.\d+) \((0\.\d+) to (0\.\d+)\)", text)
    assert told is not None
    before, now, low, high = map(float, told.groups())
    assert low < SHIFT * before < high
    assert now < before
    form = text[text.index('<form method="post" action="/edit">') :]
    fields = {name: unescape(value) for name, value in HIDDEN.findall(form[: form.index("</form>")])}
    assert set(fields) - {"token", "base", "units", "file", "window"} == set(KEYS)
    assert [float(fields[key]) for key in KEYS] == pytest.approx([now, low, high], abs=0.001)
    page = client._seen(client.request("POST", "/edit", data=fields, headers={"origin": BASE}))
    assert page.status_code == 200
    drafted = client.desk.newest_entry.text
    assert [drafted.values()[key] for key in KEYS] == [fields[key] for key in KEYS]
    assert (client.desk.path or Path()).read_text(encoding="utf-8") == SMALL
    words = "{} ({} to {})".format(*(fields[key] for key in KEYS))
    assert f"In the draft: {words} (left tube)" in units_page(client)
    client.send(act="undo")
    assert not set(KEYS) & set(client.desk.newest_entry.text.values())
    _same_as_the_table_of_calibrate(drafted.text, client.desk.path or Path())


def _same_as_the_table_of_calibrate(drafted: str, path: Path) -> None:
    """One measured coefficient, in the draft or in a table: one hole and one verdict, over its whole interval."""
    of_table, of_draft = path.with_name("of-table.toml"), path.with_name("of-draft.toml")
    record = path.with_name("units.sqlite")
    shutil.rmtree(path.with_name("calibrated"), ignore_errors=True)
    made = run("calibrate", str(path), "--file", str(record), "--out", str(path.with_name("calibrated")))
    assert made.exit_code == 0, made.output
    of_draft.write_text(drafted, encoding="utf-8")
    of_table.write_text(f'{SMALL}\n[tables]\ndischarge = "calibrated/discharge.csv"\n', encoding="utf-8")
    drafted_tube, table_tube = (
        convert(read_appliance(each), "propane", "11 in w.c.").burners[0] for each in (of_draft, of_table)
    )
    assert drafted_tube.drill == table_tube.drill
    assert drafted_tube.headline.verdict is table_tube.headline.verdict
    ends = [(one.headline.deviation_low, one.headline.deviation_high) for one in (drafted_tube, table_tube)]
    assert ends[0] == pytest.approx(ends[1], abs=3e-4)


def test_units_of_other_plans_are_found_by_the_file_as_far_as_the_digest_says(tmp_path: Path) -> None:
    """By the rules of an earlier burnerlab; with a limit of carbon monoxide; of an earlier file, its plan beside the
    record; of no file at all."""
    path = tmp_path / "stove.toml"
    path.write_text(SMALL, encoding="utf-8")
    converted = convert(read_appliance(path), "propane", "11 in w.c.")
    now = plan_of(converted)
    earlier = next(each for each in forms_of(now) if each.digest != now.digest)
    limited = plan_of(converted, CarbonMonoxideLimit(limit=8e-4, scope="invented"))
    path.write_text(SMALL.replace("12.5 kBtu/h", "13.5 kBtu/h"), encoding="utf-8")
    other = plan_of(convert(read_appliance(path), "propane", "11 in w.c."))
    path.write_text(SMALL, encoding="utf-8")
    line = tmp_path / "line" / "of the record"  # deeper than the papers of the file
    line.mkdir(parents=True)
    for plan, place in ((limited, tmp_path), (other, line)):
        (place / f"{plan.number}-plan.json").write_text(plan_json(plan), encoding="utf-8")
    lost = replace(other, model="lost")
    with open_record(line / "units.sqlite") as record:
        for number, plan in enumerate((earlier, limited, other, lost)):
            add_test(record, replace(_tests(plan)[0], serial=f"P-{number}"))
    client = DeskClient(Desk(path, record=line / "units.sqlite"))
    client.look()
    text = units_page(client)
    assert "1 unit: market A, propane, as this draft stands, by the rules of an earlier burnerlab" in text
    assert f"1 unit: plan {limited.number}, propane, as this draft stands" in text
    of_other = text[text.index(f"plan {other.number}, propane, of an earlier version of the file") :]
    assert "Figures below are of that plan, not of the file now: " in of_other
    assert f"Plan {lost.number}, units P-3: neither the file nor the draft gives it" in text


def test_without_a_record_there_is_nothing_to_see(folder: Path) -> None:
    client = DeskClient(Desk(folder / "stove.toml"))
    assert "Measured units" not in client.look().text
    assert client.request("GET", f"/units/{client.form['base']}").status_code == 404


def test_a_model_without_units_says_which_are_there(client: DeskClient) -> None:
    client.send(**{"appliance.model": "Another 9"})
    assert "camp stove" in units_page(client)


@pytest.mark.browser
def test_a_pressure_with_every_burner_off_is_of_the_market_whose_plan_it_names() -> None:
    test = BenchTest(
        serial="U-40", model="camp stove", tester="R. Quill", inputs=(InputText(name="plan", text="962B97"),)
    )
    known = ("962b97edb6c7" + "0" * 52, "42b5f0a00434" + "0" * 52)
    assert (plan_digest(test), plan_digest(test, known)) == ("", known[0])


def test_everyone_can_read_it(visit: Any, folder: Path) -> None:
    (folder / "stove.draft.toml").unlink(missing_ok=True)
    for address in served(folder / "stove.toml", folder / "units.sqlite"):
        for size, script in (("phone", False), ("desk", True)):
            page = visit(size, script=script, touch=size == "phone").page
            page.goto(address)
            page.get_by_role("button", name="Measured units").click()
            page.wait_for_selector("h1:has-text('Measured units')")
            assert page.locator("html").bounding_box()["width"] <= page.viewport_size["width"]
            if script:
                assert axe_findings(page) == []
                page.get_by_role("button", name="into the draft, measured here").click()
                page.wait_for_selector("h1.hid")
                assert "3 changes" in page.locator(".kept").inner_text()


def test_examples_of_the_united_states_are_sizes_of_its_shops(tmp_path: Path) -> None:
    """Each within a tenth of its metric twin, and of no more than three digits or a fraction: none is a conversion."""
    for text in {one.example for one in schema().values()}:
        if hit := METRIC_EXAMPLE.fullmatch(text):
            kind = KINDS.get(hit[1], Kind.HEATING_VALUE_VOLUME if "/" in hit[1] else Kind.LENGTH)
            if kind is not Kind.HEATING_VALUE_VOLUME:
                assert read(us_example(text), kind) == pytest.approx(read(text, kind), rel=0.1), text
            assert us_example(text) != text
    path = tmp_path / "stove.toml"
    path.write_text(SMALL.replace("[appliance]", '[appliance]\nregion = "us"'), encoding="utf-8")
    page = DeskClient(Desk(path)).look("/file").text
    hints = re.findall(r'placeholder="([^"]*)"', page)
    assert {"5000 ft", "5/8 in", "1/16 in"} <= set(hints)
    assert [one for one in hints if METRIC_EXAMPLE.fullmatch(one)] == []
