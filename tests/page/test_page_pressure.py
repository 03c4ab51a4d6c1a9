"""A test by the manometer alone, and the time of one turn of the dial beside the timings."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import asdict, replace
from html import unescape
from typing import Any

import pytest

from burnerlab.appliance import convert, demonstration
from burnerlab.bench.faults.explanation import explain
from burnerlab.bench.plan_results import plan_report
from burnerlab.bench.reading.manifold import manifold_check, manifold_range
from burnerlab.bench.reading.readings import Reading
from burnerlab.bench.reading_plan import CARBON_MONOXIDE, converted_for, digests_of, plan_of
from burnerlab.bench.record import add_test, history, latest, open_record
from burnerlab.gas import load, properties
from burnerlab.page.bench_state import Bench
from burnerlab.page.dial_time import loss_words, turn_words
from burnerlab.page.form import MANOMETER, Form
from burnerlab.page.heat_input_test import Model, models_of
from burnerlab.page.plan_rows import form_for, plan_view, row_words
from burnerlab.page.security import Gate
from burnerlab.quantity import PRESETS
from burnerlab.report.plan_paper import band_text, plan_paper
from burnerlab.report.plan_report import report_paper
from burnerlab.tables.verdict import Verdict

ORIGIN = {"origin": "http://127.0.0.1:8741"}
RING = "stock-pot ring"
ALONE = {
    "model": "lantern-square-6", "serial": "M-0001", "burner": RING, "tester": "R. Quill", "instruments": "G1",
    "supply_label": "propane", "leak_test": "fluid", "air": "yes", "orifice_marks": "as printed", "method": MANOMETER,
}  # fmt: skip


def words(text: str) -> str:
    main = text[text.index("<main") : text.index("</main>")]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", main)).split())


@pytest.fixture(scope="module")
def propane_bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """A bench with the demonstration on propane and its plan."""
    plan = plan_of(convert(demonstration(), "propane", 2740.0))
    converted = converted_for(demonstration(), plan)
    assert converted is not None
    file = tmp_path_factory.mktemp("pressure") / "bench.sqlite"
    open_record(file).close()
    return Bench(
        file=file, models=models_of([converted]), gate=Gate(host="127.0.0.1"), plans={plan.number: plan}
    )


def test_a_cold_row_of_a_pressure_alone_is_entered_without_a_timing(
    propane_bench: Bench, client_of: Callable[[Bench], Any], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    client = client_of(propane_bench)
    (plan,) = propane_bench.plans.values()
    asked = ALONE | {"plan": plan.number, "plan_state": "cold"}
    missing = client.get("/finding", params=asked)
    assert missing.status_code == 422
    assert "Manifold pressure, burner on full : Is missing" in words(missing.text)
    asked |= {"manifold": "2.75 kPa"}
    found = client.get("/finding", params=asked)
    assert "27.5 mbar ±" in words(found.text)
    assert "the heat input needs a timing or a weighing" in words(found.text)
    saved = client.post("/save", data=form_of_page(client.get("/save", params=asked).text), headers=ORIGIN)
    assert saved.status_code == 303
    spread = words(found.text).partition("27.5 mbar ± ")[2].partition(" mbar")[0]
    assert f"± {spread} mbar" in words(client.get(saved.headers["location"]).text)
    with open_record(propane_bench.file, readonly=True) as record:
        entry, report = latest(record, "M-0001"), plan_report(record, plan)
    assert entry is not None
    assert [(one.quantity, one.value, one.burner) for one in entry.test.readings] == [
        ("manifold_pressure", pytest.approx(2750.0), RING)
    ]
    (held,) = entry.test.results  # beside the band of the plan
    assert (held.quantity, held.value, held.burner, held.verdict) == (
        "manifold_pressure", pytest.approx(2750.0), RING, "within",
    )  # fmt: skip
    band = plan.pressure_row(RING)
    assert band is not None
    assert (held.low, held.high) == (band.low, band.high)
    (row,) = [one.row for one in report.units[0].results]
    assert (row.burner, row.state, row.quantity) == (RING, "cold", "manifold_pressure")
    page = words(client.get(saved.headers["location"]).text)
    assert "Pressure at the manifold 27.50 mbar" in page
    assert f"Test {RING}" in page  # a pressure alone is no test of the burner


def test_the_figures_of_a_stop_that_a_typed_figure_took_back_stay_and_are_read_anew(
    propane_bench: Bench, client_of: Callable[[Bench], Any], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    """In the record, its export and the report, whole; the plan asks for the carbon monoxide again."""
    client, (plan,) = client_of(propane_bench), propane_bench.plans.values()
    flue = {"carbon_monoxide": "1610 ppm", "oxygen": "5 %", "see-lift": "no", "see-soot": "no"}
    asked = (
        ALONE | {"serial": "M-0610", "plan": plan.number, "plan_state": "hot", "manifold": "2.75 kPa"} | flue
    )
    shown = client.get("/save", params=asked)
    assert "STOP. CO" in words(shown.text)
    wrong = client.get("/wrong", params=form_of_page(shown.text))
    assert "Carbon monoxide: 1610 ppm" in words(wrong.text)
    taken = client.get("/wrong", params=form_of_page(shown.text) | {"slip": "161 not 1610"})
    corrected = taken.headers["location"].replace("1610+ppm", "161+ppm", 1)
    page = client.get(corrected.replace("/flame?", "/save?", 1))
    saved = client.post("/save", data=form_of_page(page.text), headers=ORIGIN)
    assert saved.status_code == 303
    assert "read the carbon monoxide again" in words(client.get(saved.headers["location"]).text)
    with open_record(propane_bench.file, readonly=True) as record:
        entry, report = latest(record, "M-0610"), plan_report(record, plan, ("M-0610",))
    assert entry is not None
    (stop,) = entry.test.earlier_stops
    for figure in ("Carbon monoxide: 1610 ppm", "Oxygen: 5 %", "2.75 kPa", "no"):
        assert figure in stop.reading
    assert stop.why.startswith("STOP. CO 2116 ppm air-free, limit ")
    (unit,) = report.units
    rows = plan.rows_of(RING, "hot")
    assert [one.quantity for one in rows if one.id in unit.repeats] == [CARBON_MONOXIDE]
    text = json.dumps(asdict(report_paper(report, "2026-01-01", "metric")))
    for figure in (
        "Stops that were shown and then corrected",
        "1610 ppm",
        "2116 ppm",
        "161 not 1610",
        "R. Quill",
    ):
        assert figure in text


def test_the_plan_leads_to_the_manometer_only_where_a_pressure_is_all_that_is_left(
    propane_bench: Bench,
) -> None:
    (plan,) = propane_bench.plans.values()
    cold = plan.rows_of(RING, "cold")
    assert {one.quantity for one in cold} == {"manifold_pressure", "heat_input_gross"}
    form = Form.of(ALONE | {"plan": plan.number})
    assert form_for(form, cold[0], plan, None).method == "meter"
    heat = next(one.id for one in cold if one.quantity == "heat_input_gross")
    less = replace(plan, rows=tuple(one for one in plan.rows if one.id != heat))
    assert form_for(form.having(method=""), cold[0], less, None).method == MANOMETER
    assert plan_view(propane_bench, form.having(serial="M-0009")) is not None
    flame = form.having(method="flame")  # after it the heat input is measured as it was before
    assert [form_for(flame, cold[0], plan, None, by).method for by in ("", "scale")] == ["meter", "scale"]


@pytest.mark.parametrize(
    ("manifold", "stop"),
    [
        ("17.5", ""),
        (
            "18.7",
            "STOP. Manifold pressure 18.7 mbar, above 18.5 mbar, where its band ends. Burner off, supply closed.",
        ),
        (
            "15.9",
            "STOP. Manifold pressure 15.9 mbar, below 16.1 mbar, where its band begins. Burner off, supply closed.",
        ),
        (
            "30.0",
            "STOP. Manifold pressure 30.0 mbar, highest allowed 26.1 mbar. Gas off at once: supply closed",
        ),
    ],
)
def test_a_pressure_outside_its_band_stops_and_holds_the_unit(
    client: Any,
    form_of_page: Callable[[str], dict[str, str]],
    readings: dict[str, str],
    manifold: str,
    stop: str,
) -> None:
    """As the readings page asks; the demonstration's regulator holds 7.1 in w.c. and 5 % at most, 18.57 mbar.

    With a heat input within its band as well. Nothing of the stop's pages leads to the flame or to another test.
    """
    alone = ALONE | {"supply_label": "natural-gas-typical", "manifold": manifold}
    for asked in (alone, readings | {"manifold": manifold, "time1": "218", "time2": "219"}):
        page = client.get("/finding", params=asked).text
        assert ("STOP. Manifold pressure" in words(page)) is bool(stop)
        assert stop in words(page)
        assert ("Next: flame" in page) is not bool(stop)
    measure = words(client.get("/measure", params=readings).text)
    if stop:
        assert "STOP" in measure  # of the unit that was held
        made = client.post("/stop", data=form_of_page(page), headers=ORIGIN)
        entry = words(client.get(made.headers["location"]).text)
        assert stop in entry
        assert not re.search(r"Next of the plan|Test stock-pot ring|Next: ", entry)
        odd = f"{RING[0].upper()}{RING[1:]}: manifold pressure {manifold} mbar, outside its band, 16.1 to 18.5 mbar"
        assert odd in entry
        assert stop.partition(". Burner")[0].partition(". Gas")[0] in words(
            client.get("/", params=readings).text
        )
    else:
        limits = "16.1 to 18.5 mbar; outside it: stop; above 26.1 mbar: gas off at once"
        assert f"Manifold pressure first : {limits}." in measure


@pytest.mark.parametrize(
    ("manifold", "verdict"),
    [
        ("20.5", "within the highest of the supply"),
        ("18.0", ", below the lock-up expected"),
        ("0", ", below the lock-up expected"),
        ("26.6", "highest allowed 26.1 mbar"),
    ],
)
def test_lock_up_is_a_state_of_its_own_and_never_judged_by_the_band_with_burners_on(
    client: Any, bench: Bench, form_of_page: Callable[[str], dict[str, str]], manifold: str, verdict: str
) -> None:
    """The demonstration's regulator: 7.1 in w.c. and 0.9 more at lock-up, as on the job card; its band ends at 18.6."""
    off = ALONE | {"supply_label": "natural-gas-typical", "manifold": manifold, "lock_up": "yes"}
    offered = words(client.get("/measure", params=ALONE | {"supply_label": "natural-gas-typical"}).text)
    assert "Burners on: 16.1 to 18.5 mbar; outside it: stop; above 26.1 mbar: gas off at once." in offered
    limits = "at most 26.1 mbar; above it: gas off at once"
    assert f"Every burner off: expected 19.9 mbar; {limits}" in offered
    assert "Read with every burner off (lock-up)" in offered
    page = client.get("/finding", params=off).text
    assert verdict in words(page)
    if "STOP" in words(page):
        return
    assert f"expected 19.9 mbar; {limits}" in words(page)
    assert not re.search(r"16\.1|18\.6 mbar|Next: flame", page)
    shown = client.get("/save", params=off).text
    entry = client.post("/save", data=form_of_page(shown), headers=ORIGIN).headers["location"]
    with open_record(bench.file, readonly=True) as record:
        made = latest(record, ALONE["serial"])
    assert made is not None
    (held,), (read,) = made.test.results, made.test.readings
    assert {held.quantity, read.quantity} == {"lock_up_pressure"}
    ends = 0.95 * 8.0 * 249.0889, 10.5 * 249.0889
    assert (held.burner, held.low, held.high) == ("", *(pytest.approx(end, rel=1e-4) for end in ends))
    saved = words(client.get(entry).text)
    for shown in (words(page), saved):
        is_low = manifold in ("0", "18.0")
        assert ("The lock-up is too low: a burner that is not off, gas lost" in shown) is is_low
    low = f"manifold pressure {manifold} mbar, below the least lock-up expected, 19.0 mbar"
    assert (low in saved) is is_low
    assert "every burner off" in saved
    assert verdict in saved


def test_carbon_monoxide_that_the_analyser_shows_air_free_is_recorded_and_printed_so(
    propane_bench: Bench, client_of: Callable[[Bench], Any], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    """700 ppm at 10 % oxygen: below the lowest limit for cooking as it is, 1342 ppm if the air were taken out again."""
    (plan,) = propane_bench.plans.values()
    client = client_of(propane_bench)
    asked = ALONE | {"serial": "M-0700", "plan": plan.number, "plan_state": "hot", "manifold": "27.5 mbar"}
    asked |= {"oxygen": "10 %", "carbon_monoxide": "700 ppm"}
    assert "air-free (undiluted)" in words(client.get("/flame", params=asked).text)
    shown = client.get("/save", params=asked | {"co_air_free": "yes"}).text
    assert "700 ppm" in words(shown)
    assert "STOP" not in words(shown)
    assert client.post("/save", data=form_of_page(shown), headers=ORIGIN).status_code == 303
    with open_record(propane_bench.file, readonly=True) as record:
        entry, report = latest(record, "M-0700"), plan_report(record, plan)
    assert entry is not None
    read = {one.quantity: one.value for one in entry.test.readings}
    assert read["air_free_carbon_monoxide"] == pytest.approx(700e-6)
    assert "carbon_monoxide" not in read
    rows = [row for table in report_paper(report, "", "metric").tables for row in table.rows]
    assert any("700 ppm" in row and "air-free as the analyser shows it" in row[-1] for row in rows)
    stopped = client.get("/save", params=asked | {"serial": "M-0701"}).text
    assert "CO 1342 ppm air-free" in words(stopped)


def test_bench_and_plan_have_one_band_of_the_manifold_pressure(
    propane_bench: Bench, client_of: Callable[[Bench], Any]
) -> None:
    """A pressure below the plan's band is no reading near a wider one: the burner is off first. Words of the paper."""
    (plan,) = propane_bench.plans.values()
    row = plan.pressure_row(RING)
    assert row is not None
    assert row.low is not None
    band = row.low, row.high
    limits = band_text(row, "metric", plan.highest_Pa)
    assert limits == "25.5 to 29.3 mbar; outside it: stop; above 32.3 mbar: gas off at once"
    client = client_of(propane_bench)
    for share, act in (
        (0.995, "CAUTION STOP. Manifold pressure 25.4 mbar, below 25.5 mbar, where its band begins."),
        (1.02, "Read the pressure"),
    ):
        read = {"manifold": f"{share * band[0]:.0f} Pa", "serial": "M-0002" if share < 1.0 else "M-0001"}
        said = words(client.get("/finding", params=ALONE | read).text)
        assert said.startswith(act)
        if share < 1.0:
            continue
        assert f"expected 27.6 mbar; {limits} (the test plan)" in said
        assert re.findall(r"[\d.]+ (?:mbar )?to [\d.]+ mbar", said) == ["25.5 to 29.3 mbar"]  # no second band


def test_a_state_without_a_band_has_no_pressure_within_and_no_wider_upper_end(
    propane_bench: Bench, client_of: Callable[[Bench], Any]
) -> None:
    """Its reason stands in the place of the regulator's range; above the lowest upper end of the plan it is outside."""
    (model,) = propane_bench.models.values()
    (plan,) = model.plans
    reason = (
        "no pressure band: ring exceeds 105 % of its rating at the expected pressure with #50; do not fit"
    )
    rows = tuple(
        row
        if row.burner or row.quantity != "manifold_pressure"
        else replace(row, low=None, high=None, source=reason)
        for row in plan.rows
    )
    bare = replace(plan, rows=rows)
    model = replace(model, plans=(bare,))
    form = Form.of(ALONE | {"burner": "all burners together", "plan": bare.number})
    limits, held = model.pressure_limits(form), manifold_range(model.appliance)
    assert limits.no_band == reason
    assert limits.high_Pa == min(held.high_Pa, bare.upper_end_Pa or 0.0)
    for pressure_Pa, verdict in ((2708.0, Verdict.NOT_EVALUATED), (limits.high_Pa + 1.0, Verdict.OUTSIDE)):
        assert manifold_check(model.appliance, pressure_Pa, limits=limits).pressure_verdict is verdict
        reading = Reading(pressure_ratio=pressure_Pa / 2708.27, limits=bare.pressure_limits(held, ""))
        by_plan = explain(model.appliance, reading).manifold  # as on the terminal
        assert by_plan is not None
        assert (by_plan.pressure_verdict, by_plan.pressure_high_Pa) == (verdict, limits.high_Pa)
    (row,) = [row for row in bare.rows_of("", "hot") if row.quantity == "manifold_pressure"]
    said = row_words(row, "metric", bare.highest_Pa)
    assert said.endswith(f"expected 27.1 mbar, not evaluated: {reason}; above 32.3 mbar: gas off at once")

    client = client_of(replace(propane_bench, plans={bare.number: bare}))
    read = ALONE | {"burner": "all burners together", "plan": bare.number, "manifold": "27.1"}
    stop = "STOP Do not light Lantern Square 6 on propane. Burner off, gas shut off and isolated."
    for path in (
        "/measure",
        "/finding",
        "/flame",
        "/save",
    ):  # stopped at its head: nothing is read, nothing lit
        answer = client.get(path, params=read | {"plan": ""})
        assert answer.status_code == 422
        assert words(answer.text).startswith(stop)
    for opened in (
        {},
        {"plan": bare.number},
        {"model": ALONE["model"], "plan": ""},
    ):  # before anything is filled in
        shown = client.get("/", params=opened).text
        assert words(shown).startswith(stop)
        assert ("<input" in shown, "<select" in shown, ">Next" in shown) == (False, False, False)
        assert 'href="/stop?stop=odour' in shown
    paper = plan_paper(bare, "", "metric")
    assert paper.troubles == (
        "STOP. Fit nothing, light nothing: no pressure band. An engineer decides first.",
    )
    assert [table.rows for table in paper.tables] == [(("all burners together", reason),)]
    assert (paper.warnings, paper.sources, paper.sign, len(paper.notes)) == ((), (), (), 1)
    assert paper.subtitle == "Lantern Square 6, on propane at 27.4 mbar"  # no size either
    of_parts = dict(plan.change.orifices)
    assert (
        f"27.4 mbar; griddle tube left {of_parts['griddle tube left']}; "
        in plan_paper(plan, "", "metric").subtitle
    )


def test_a_burner_whose_pressure_lies_above_the_band_of_the_others_has_its_own_end(
    propane_bench: Bench,
) -> None:
    """With one burner on a drooping supply gives more: a unit as drawn is not outside, and the paper says why."""
    (plan,) = propane_bench.plans.values()
    rows = tuple(
        replace(row, predicted=2950.0) if (row.quantity, row.burner) == ("manifold_pressure", RING) else row
        for row in plan.own_bands
    )
    steep = replace(plan, rows=rows)
    own = steep.pressure_row(RING)
    assert own is not None
    assert (own.high, steep.upper_end_Pa) == (3114.84, 2935.85)
    paper = plan_paper(steep, "", "metric")
    assert any(note.startswith("Rows 22, 24: expected above 29.3 mbar") for note in paper.notes)
    assert replace(plan, highest_Pa=None).digest in digests_of(plan)  # made before plans named the highest


def test_no_upper_end_lies_above_the_highest_of_the_supply(propane_bench: Bench) -> None:
    """A plan whose bands end above what the file gives as the highest of its supply is judged by that."""
    (model,) = propane_bench.models.values()
    (plan,) = model.plans
    low = replace(plan, highest_Pa=2800.0)
    assert {low.band_of(row).high for row in low.rows if row.quantity == "manifold_pressure"} == {2800.0}
    supply = replace(model.appliance.supply, high_gauge_pressure_Pa=2800.0)
    check = manifold_check(
        replace(model.appliance, supply=supply), 2790.0, limits=model.pressure_limits(Form.of(ALONE))
    )
    assert (check.pressure_high_Pa, check.highest_Pa) == (2800.0, 2800.0)


def test_the_pages_of_a_unit_rated_net_have_its_heat_inputs_net(
    bench: Bench, client_of: Callable[[Bench], Any], form_of_page: Callable[[str], dict[str, str]],
    readings: dict[str, str],
) -> None:  # fmt: skip
    """Net over gross of the gas from its own heating values (ISO 6976, as the library has them)."""
    net = replace(demonstration(), rating="net")
    client = client_of(Bench(file=bench.file, models=models_of([net]), gate=bench.gate))
    gas = properties(load("natural-gas-typical"), PRESETS["ISO_15_15"])
    ratio = gas.net_heating_value_J_per_m3 / gas.gross_heating_value_J_per_m3
    lit = readings | {"time1": "222", "time2": "222.5"}
    found = words(client.get("/finding", params=lit).text)
    gross = float(re.findall(r"Gross ([\d.]+) kW", found)[0])
    expected = float(
        re.findall(r"Calculated heat input at the pressure of the file, net ([\d.]+) kW", found)[0]
    )
    assert f"{gross * ratio:.2f}" in found.partition("rating")[0]
    alone = lit | {"method": MANOMETER, "manifold": "17.436"}
    said = words(client.get("/finding", params=alone).text)
    assert f"should give {expected:.2f} kW, net" in said
    form = form_of_page(client.get("/save", params=lit).text)
    entry = client.post("/save", data=form, headers=ORIGIN).headers["location"]
    page = words(client.get(entry).text)
    assert "Rated heat input, net 8.79 kW" in page  # 30 000 Btu/h on the plate
    assert f"alculated heat input at the pressure of the test, net {expected:.2f} kW" in page
    assert page.index("Heat input, net") < page.index(f"Heat input, gross {gross:.2f} kW")
    shown = words(client.get("/record").text)
    assert f"{gross * ratio:.2f} kW net" in shown
    assert re.search(
        r"Serial number, burner From rating Band .* [+\N{MINUS SIGN}][\d.]+ % (within|near|outside) ", shown
    )
    assert "not known here" not in page
    elsewhere = client_of(Bench(file=bench.file, models={}, gate=bench.gate))
    without_file = words(elsewhere.get(entry).text)
    assert "Heat inputs gross" not in without_file
    assert without_file.index("Heat input, net") < without_file.index(f"Heat input, gross {gross:.2f} kW")
    assert "Basis of the rating net" in without_file
    with open_record(bench.file) as record:
        (made,) = history(record, readings["serial"])
        add_test(record, replace(made.test, rating_basis="", serial="older"))
    older = words(elsewhere.get("/unit", params={"serial": "older"}).text)
    assert f"{gross:.2f} kW gross" in older
    assert "Heat input of each burner, net" in words(
        client.get("/sheet", params={"serial": lit["serial"]}).text
    )


CART = Model(key="cart", appliance=demonstration())
GROSS_J_PER_M3 = properties(load("natural-gas-typical"), PRESETS["ISO_15_15"]).gross_heating_value_J_per_m3
STATE = (
    101325.0 + 2490.9
) / 101325.0  # of the meter over the reference, by the file: 10 in w.c. at sea level


@pytest.mark.parametrize(("dial", "litres", "size"), [("", 10.0, "10 L"), ("50", 50.0, "50 L (as entered)")])
def test_the_time_of_a_turn_is_that_of_the_rating_by_plain_arithmetic(
    dial: str, litres: float, size: str
) -> None:
    """t = V H p/p0 / I at both ends of the band of 5 %; I the rating of the ring, 30 000 Btu/h."""
    said = turn_words(CART, Form.of({"burner": RING} | ({"dial": dial} if dial else {})))
    assert size in said
    at_rating = litres * 1e-3 * GROSS_J_PER_M3 * STATE / (30_000 * 1055.05585262 / 3600.0)
    fast, slow = (float(one) for one in re.findall(r"rating ([\d.]+) to ([\d.]+) s", said)[0])
    assert (fast, slow) == pytest.approx((at_rating / 1.05, at_rating / 0.95), rel=0.006)


@pytest.mark.parametrize(
    ("entered", "state"),
    [
        ({}, STATE),
        # through the orifice the mass of gas goes with the root of its density: so does the rating in that air
        (
            {"meter_pressure": "40 mbar", "barometer": "95 kPa"},
            99.0 / 101.325 / ((95.0 + 2.49) / (101.325 + 2.49)) ** 0.5,
        ),
    ],
)
def test_a_meter_whose_pressure_is_not_entered_is_timed_at_the_nominal_pressure(
    entered: dict[str, str], state: float
) -> None:
    """Without a train in the file: plain arithmetic as above.

    A meter at less pressure counts more volume for the same heat, so that no time within is that of an overfired
    burner there.
    """
    cart = demonstration()
    bare = replace(cart, supply=replace(cart.supply, train=None, gauge_pressure_Pa=2490.9))
    words = turn_words(Model(key="cart", appliance=bare), Form.of({"burner": RING} | entered))
    fast, slow = (float(one) for one in re.findall(r"rating ([\d.]+) to ([\d.]+) s", words)[0])
    at_rating = 10.0 * 1e-3 * GROSS_J_PER_M3 / (30_000 * 1055.05585262 / 3600.0)
    assert (fast, slow) == pytest.approx((at_rating * state / 1.05, at_rating * state / 0.95), rel=0.006)
    at = (
        "40.0 mbar at the meter, 15.0 °C, 95.00 kPa"
        if entered
        else "24.9 mbar at the meter, the nominal pressure"
    )
    assert at in words


def test_a_reading_in_other_air_is_held_against_what_the_unit_should_burn_there(
    client: Any, readings: dict[str, str], bench: Bench, form_of_page: Callable[[str], dict[str, str]]
) -> None:
    """At 1524 m the gas is 0.832 as dense; the ring of the file, for sea level, burns the root of it: 9 % less."""
    meter = readings | {"altitude": "1524"}
    right = client.get("/finding", params=meter | {"serial": "A-2", "time1": "202", "time2": "202"})
    said = words(right.text)
    assert "within the band" in said
    assert re.search(
        r"The air at the bench is 84\.\d+ kPa, that of the rating 101\.3 kPa\. At 101\.3 kPa this", said
    )
    assert re.search(r"the rating of 8\.79 kW there is 8\.0\d kW here", said)
    saved = client.post(
        "/save", data=form_of_page(client.get("/save", params=meter | {"serial": "A-2", "time1": "202"}).text),
        headers=ORIGIN,
    )  # fmt: skip
    assert saved.status_code == 303
    with open_record(bench.file, readonly=True) as record:
        entry = latest(record, "A-2")
    assert entry is not None
    figures = {one.quantity: one.value for one in entry.test.results}
    share = figures["heat_input_gross"] / figures["heat_input_gross_at_place"]
    assert share == pytest.approx(((84.31 + 1.7) / (101.325 + 1.7)) ** 0.5, abs=0.002)
    high = words(
        client.get("/finding", params=meter | {"serial": "A-1", "time1": "183", "time2": "183"}).text
    )
    assert "within" not in high.partition("Handbook")[0]  # what reads as the rating at sea level
    assert "in the air of the bench" in high


def test_a_dial_in_its_own_unit_and_a_burner_turned_low() -> None:
    assert "One turn of 2 ft³" in turn_words(
        CART, Form.of({"burner": RING, "dial": "2", "units": "US"}, "US")
    )
    assert "at the low rate" in turn_words(
        CART, Form.of({"burner": "griddle tube left", "plan_state": "low"})
    )


def test_it_stands_beside_the_timings(client: Any, readings: dict[str, str]) -> None:
    page = client.get("/measure", params=readings | {"time1": "", "time2": ""}).text
    assert page.index('class="help turn"') < page.index('id="time1"')


def test_a_cylinder_is_said_what_it_loses_and_how_long_it_is_weighed(propane_bench: Bench) -> None:
    """8.69 kW over 50.37 MJ/kg, gross (ISO 6976): 0.621 kg/h; 20 g at the lower end of the band take 3 min, by hand."""
    (model,) = propane_bench.models.values()
    words = loss_words(model, Form((("burner", RING), ("method", "scale"))))
    assert words == (
        "A cylinder is calculated to lose 0.621 kg/h; in the band of the rating 0.597 to 0.660 kg/h. Weigh for 3 min "
        "at least: 20 times the last digit of the scale, 1 g, as none is entered."
    )
    low = (("burner", "griddle tube left"), ("method", "scale"), ("low_rate", "yes"), ("resolution", "0.1 g"))
    assert "Weigh for 2 min at least: 20 times the last digit of the scale, 0.1 g." in loss_words(
        model, Form(low)
    )
    metered = models_of([demonstration()])["lantern-square-6"]
    assert (
        loss_words(metered, Form((("burner", RING), ("method", "scale")))) == ""
    )  # no cylinder holds its gas
