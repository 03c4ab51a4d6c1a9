"""One reading on the page and at the command line: the same stops, causes and words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import command_runs
import pytest

from burnerlab.appliance import demonstration_path, read_appliance
from burnerlab.appliance.conversion.markets import convert_market, market_named
from burnerlab.bench.plan_file import plan_json
from burnerlab.bench.plan_results import plans_of_other_gases
from burnerlab.bench.reading_plan import plan_of
from burnerlab.bench.record import BenchReading, UnitStops, add_test, history, open_record
from burnerlab.bench.record.entry import BenchTest, PlanEntry
from burnerlab.bench.stop import StopNotice
from burnerlab.cli.page import _as_planned
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import Form
from burnerlab.page.heat_input_test import HeatInputTest, models_of, plans_of
from burnerlab.page.record_entry import raised_stops
from burnerlab.page.security import Gate
from burnerlab.page.unit_coverage import unit_findings

COUPLE = """
[appliance]
name = "two of three"
model = "eu-2"
region = "eu"
rating = "net"
[supply]
gas = "G31"
pressure = "37 mbar"
[[burner]]
name = "tube"
count = 3
rate = "3.5 kW net"
orifice = { drill = "0.86 mm" }
turndown = "1:3"
[[market]]
name = "A"
region = "eu"
supply = [{ gas = "G30", pressure = "29 mbar" }, { gas = "G31", pressure = "37 mbar" }]
"""
LIT = {
    "serial": "S-1",
    "tester": "R. Quill",
    "leak_test": "fluid",
    "air": "yes",
    "orifice_marks": "as printed",
}
METER = {"method": "meter", "dial": "100 L", "meter_pressure": "20 mbar", "gas_temperature": "15 C"}
SCALE = {"method": "scale", "first": "10.000 kg", "burned": "1200 s", "resolution": "1 g"}
RING, LEFT = {"burner": "stock-pot ring"}, {"burner": "griddle tube left"}
TUBE = {"burner": "tube", "which": "1", "plan_state": "hot"}
OPTIONS = {
    "manifold": "--manifold-pressure", "meter_pressure": "--meter-pressure", "gas_temperature": "--gas-temperature",
    "turns": "--revolutions", "altitude": "--altitude", "barometer": "--barometer",
}  # fmt: skip
NORMAL = 195.996398  # percent: 1.96 of a standard uncertainty, as an option has an expanded one


@dataclass(frozen=True)
class Shop:
    """A bench with the demonstration and a couple whose file burns the second gas already, by the plans of both."""

    bench: Bench
    files: dict[str, Path]
    plans: dict[str, Path]  # by gas

    def on_the_page(self, name: str, **texts: str) -> tuple[HeatInputTest, tuple[StopNotice, ...]]:
        gas = {"demo": "natural-gas-typical"}.get(name, name)
        fitting = (key for key, one in self.bench.models.items() if one.appliance.supply.gas.name == gas)
        form = Form.of({"model": next(fitting), "supply_label": gas, **LIT, **texts}, "metric")
        values = self.bench.read(form, "unit", "measure", "flame", "save", "stop")
        assert not values.errors
        test = self.bench.test_of(values)
        assert test is not None
        return test, raised_stops(values, test.model, test, None)

    def explained(self, name: str, test: HeatInputTest, **texts: str) -> Any:
        file = self.files.get(name, self.files["couple"])
        by_plan = ["--plan", str(self.plans[name])] if name in self.plans else []
        read = [
            *("--burner", test.burner, "--method", test.measured.method),
            *("--measured", f"{test.measured.heat_input_gross_W:.12g} W gross"),
            *("--uncertainty", f"{NORMAL * test.measured.budget.relative:.12g} %"),
            *(word for field, option in OPTIONS.items() if field in texts for word in (option, texts[field])),
        ]
        if test.measured.method == "meter":
            read += ["--revolutions", texts.get("turns", "1")]
        read += ["--low-rate"] if texts.get("low_rate") else []
        return command_runs.answer("explain", str(file), *by_plan, *read)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    folder = tmp_path_factory.mktemp("shop")
    file = folder / "couple.toml"
    file.write_text(COUPLE, encoding="utf-8")
    demo, couple = read_appliance(demonstration_path()), read_appliance(file)
    plans = [plan_of(c) for c in convert_market(market_named(couple, "A", "--market"))]
    files = {}
    for plan in plans:
        files[plan.gas] = folder / f"{plan.number}-plan.json"
        files[plan.gas].write_text(plan_json(plan), encoding="utf-8")
    built = dict[str, Any]()
    models = models_of((demo, *_as_planned((couple,), plans, {}, built)))
    models = {key: replace(one, plans=plans_of(one, plans, built)) for key, one in models.items()}
    record = folder / "bench.sqlite"
    open_record(record).close()
    bench = Bench(
        file=record, models=models, gate=Gate(host="127.0.0.1"), plans={one.number: one for one in plans}
    )
    return Shop(bench=bench, files={"demo": demonstration_path(), "couple": file}, plans=files)


@pytest.mark.parametrize(
    ("name", "texts"),
    [
        ("demo", RING | METER | {"time1": "711 s"}),  # another gas
        ("demo", RING | METER | {"time1": "427 s", "manifold": "17.4 mbar"}),
        ("demo", RING | METER | {"time1": "427 s", "manifold": "12 mbar"}),  # a regulator set low
        ("demo", RING | METER | {"time1": "305 s", "manifold": "27.4 mbar"}),  # of another supply
        ("demo", RING | METER | {"time1": "854 s", "turns": "2", "altitude": "1500 m"}),
        ("demo", LEFT | METER | {"time1": "980 s"}),
        ("demo", LEFT | METER | {"time1": "2800 s", "low_rate": "yes", "manifold": "22 mbar"}),
        ("G30", TUBE | SCALE | {"last": "9.904 kg", "manifold": "33 mbar"}),  # above the rating, and so the pressure
        ("G30", TUBE | SCALE | {"last": "9.916 kg", "manifold": "29 mbar"}),
        ("G31", TUBE | SCALE | {"last": "9.916 kg", "manifold": "37 mbar"}),  # by the orifice of the couple
        ("G31", TUBE | SCALE | {"last": "9.916 kg", "manifold": "29 mbar"}),
        ("G31", TUBE | SCALE | {"last": "9.950 kg", "no_manifold": "no gauge"}),  # a blocked or wrong orifice
    ],
)  # fmt: skip
def test_a_reading_is_explained_alike_on_the_page_and_at_the_command_line(
    shop: Shop, name: str, texts: dict[str, str]
) -> None:
    if name in shop.plans:
        texts = texts | {"plan": next(one.number for one in shop.bench.plans.values() if one.gas == name)}
    test, stops = shop.on_the_page(name, **texts)
    found, page = shop.explained(name, test, **texts), test.explanation
    assert page is not None
    assert [one["heading"] for one in found["stops"]] == [one.heading for one in stops]
    assert (found["act_first"] or "", found["finding"]) == (page.act_first, page.finding)
    assert [one["cause"] for one in found["causes"][:6]] == [one.cause for one in page.causes[:6]]
    shares = [one["probability_percent"] for one in found["causes"][:6]]
    assert shares == pytest.approx([100.0 * one.probability for one in page.causes[:6]], abs=0.01)


def test_explain_asks_for_the_barometer_where_clock_does(tmp_path: Path) -> None:
    """A unit for 1600 m read at an unknown place: 9 % low there, and above its band at sea level."""
    file = tmp_path / "high.toml"
    demo = demonstration_path().read_text(encoding="utf-8")
    file.write_text(demo.replace('altitude        = "0 m"', 'altitude = "1600 m"'), encoding="utf-8")
    timed = ("--burner", RING["burner"], "--meter-pressure", "17.4 mbar")
    clocked = command_runs.answer("clock", str(file), *timed, "--volume", "100 L", "--time", "400 s")
    read = f"{clocked['heat_input_gross_kW']} kW gross"
    lines = [
        next((one for one in answer["notes"] if one.startswith("read the barometer")), "")
        for answer in (clocked, command_runs.answer("explain", str(file), *timed, "--measured", read))
    ]
    assert lines[0] == lines[1] != ""
    here = command_runs.answer("explain", str(file), *timed, "--measured", read, "--barometer", "84 kPa")
    assert not any(one.startswith("read the barometer") for one in here["notes"])
    text = command_runs.run("explain", str(file), *timed, "--measured", read).stdout
    assert "WARNING: Read the barometer: at a bench at sea level" in " ".join(text.split())


def test_a_unit_read_on_one_gas_of_a_couple_names_the_other(shop: Shop) -> None:
    """Each plan of a couple names the other, whose rows its readings leave unread; the plan of one gas names none."""
    first, second = shop.bench.plans.values()
    assert plans_of_other_gases(first, shop.bench.plans.values()) == (second,)
    assert plans_of_other_gases(second, shop.bench.plans.values()) == (first,)
    assert plans_of_other_gases(replace(second, file_sha256="of another file"), (first,)) == ()
    row = first.rows_of("tube", "cold", 1)[0]
    test = BenchTest(
        serial="S-9",
        model=first.model,
        gas=first.gas,
        tester="R. Quill",
        readings=(BenchReading(quantity=row.quantity, value=row.predicted or 0.0, burner="tube"),),
        plan_entries=(PlanEntry(plan=first.digest, plan_row=row.id),),
    )
    with open_record(shop.bench.file) as record:
        add_test(record, test)
        (finding,) = unit_findings(shop.bench, history(record, "S-9"), UnitStops(), is_stopped=False)
    words = f"The same orifices burn {second.gas}: plan {second.number}, 0 of {len(second.rows)} rows read."
    assert finding.read.endswith(words)
