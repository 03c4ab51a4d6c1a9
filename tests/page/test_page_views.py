"""The pages without a browser: figures, errors beside their fields, saving, finding again."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from two_gases import LP, on_both_gases

from burnerlab.appliance import demonstration
from burnerlab.bench.decision_rule import Rating, decision_rule
from burnerlab.bench.reading.heat_input import heat_content
from burnerlab.bench.reading.meter import MeterReading, clock
from burnerlab.bench.reading.scale import WeighReading, weigh
from burnerlab.bench.record import latest, open_record
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import FLAME_METHOD, MANOMETER, SCALE_METHOD, Form
from burnerlab.page.heat_input_test import ALL_BURNERS, models_of
from burnerlab.page.progress import stop_keys
from burnerlab.page.result_text import power_pair
from burnerlab.quantity import PRESETS
from burnerlab.tables.cautions import cautions, cautions_on
from burnerlab.tables.problem import Problem, UserError

BASE = "http://127.0.0.1:8741"
CART = demonstration()
RING = next(one for one in CART.burners if one.name == "stock-pot ring")
RATING = Rating(
    heat_input_W=RING.rate_W, basis=CART.rating, tolerance=CART.limits.tolerance, rule=decision_rule()
)
HEAT = heat_content(CART.supply.gas, PRESETS["ISO_15_15"])

READING = MeterReading(
    dial_m3=0.050, times_s=(214.0, 213.0), gauge_pressure_Pa=10 * 249.08891, meter_pressure_of_file=True
)


def words(text: str) -> str:
    """What a page says, without its marks."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_the_finding_is_that_of_the_clock(client: Any, readings: dict[str, str]) -> None:
    answer = client.get("/finding", params=readings)
    told = clock(READING, HEAT, RATING, draws=0)
    held = told.comparison
    assert held is not None
    assert answer.status_code == 200
    assert power_pair(held.value_W, held.expanded_W, "metric") in words(answer.text)
    assert held.text.split(":")[0][1:] in words(answer.text)
    assert f"{100 * held.probability_inside:.0f} %" in words(answer.text)


def test_the_inlet_of_the_file_is_the_pressure_at_the_meter(client: Any, readings: dict[str, str]) -> None:
    """Without a reading of the gauge: +6.5 % of a unit that would read +4.0 % at no pressure in the meter."""
    readings |= {"time1": "209.6", "time2": "209.6"}
    said = words(client.get("/finding", params=readings).text)
    assert "+6.5 % from the rating: the figure alone outside the band" in said
    assert "Meter pressure not read: 24.91 mbar gauge used, the inlet in the project file" in said
    read = words(client.get("/finding", params=readings | {"meter_pressure": "0"}).text)
    assert "the inlet in the project" not in read
    assert "+4.0 % from the rating" in read


def test_a_pressure_that_was_not_read_is_no_reading_of_the_record(
    save: Callable[..., Any], bench: Bench
) -> None:
    save()
    save(serial="C-0043", meter_pressure="20")
    with open_record(bench.file, readonly=True) as record:
        kept = {
            serial: [one.quantity for one in latest(record, serial).test.readings]
            for serial in ("C-0042", "C-0043")
        }
    assert "meter_pressure" not in kept["C-0042"]
    assert "meter_pressure" in kept["C-0043"]


def test_burners_of_one_name_stand_with_their_model(client: Any, bench: Bench) -> None:
    bench.models = models_of(on_both_gases())
    shown = client.get("/", params={"model": "lantern-square-6-2", "burner": "stock-pot ring"}).text
    chosen = re.findall(r"<option[^>]* selected>(stock-pot ring[^<]*)<", shown)
    assert [unescape(one).replace("\N{NO-BREAK SPACE}", " ") for one in chosen] == [
        "stock-pot ring (Lantern Square 6, on Propane, pure)"
    ]


def test_what_comes_first_with_a_low_reading_stays_after_it_is_saved(
    client: Any, save: Callable[..., Any]
) -> None:
    page = client.get(save(time1="250", time2="251").headers["location"]).text
    said = words(page[page.index("<main") :])
    act = "Reading low. Burner off. It can hide the wrong gas: read the supply label."
    assert said.index(act) < said.index("Saved.") < said.index("The cause first, burner off")
    assert "Test griddle" not in said
    assert "Reading low" not in client.get(save(serial="C-0043").headers["location"]).text
    lit = save(serial="C-0044", time1="250", time2="251", **{"see-lift": "no"})  # by the label, read again
    again = words(client.get(lit.headers["location"]).text)
    assert "Reading low, by the label on its own gas. Burner off until the cause is found." in again
    assert "read the supply label" not in again.partition("Saved.")[0]


def test_before_the_tap_on_a_stop_its_whole_caution_is_there(client: Any) -> None:
    menu = client.get("/").text.partition("halt-bar")[2].partition("</section>")[0]
    for key in stop_keys():
        assert f"{key.notice.do_first} {key.notice.then}" in words(menu)


def test_a_reading_that_is_off_is_explained(client: Any, readings: dict[str, str]) -> None:
    answer = client.get("/finding", params=readings | {"time1": "250", "time2": "251"})
    said = words(answer.text)
    assert "outside the band" in said
    assert "Reading low. Burner off. It can hide the wrong gas: read the supply label." in said
    label, measure = (
        said.index(text) for text in ("Read next, burner off: the label", "Measure next, after the label:")
    )
    assert label < measure
    assert "The label names" in said
    assert "The label names another gas" in said
    assert "Next: flame" not in said
    assert "Save this reading" in said  # to its cause, burner off
    flame = words(client.get("/flame", params=readings | {"time1": "250", "time2": "251"}).text)
    assert flame.index("Burner off. Read the label of the supply at this unit again.") < flame.index(
        "watch the flame"
    )
    assert "Can overfire the burner" in said
    shares = [int(x) for x in re.findall(r'class="share">(\d+)\s%', answer.text)]
    assert shares
    assert sum(shares) <= 101
    assert shares == sorted(shares, reverse=True)


def test_a_cylinder_on_a_scale(bench: Bench, client: Any, readings: dict[str, str]) -> None:
    """Read on LP gas alone: on natural gas it is not offered, and whoever sends it nevertheless is refused in words."""
    given = {name: text for name, text in readings.items() if name not in ("dial", "time1", "time2")}
    given |= {"method": "scale", "first": "18.412", "last": "18.102", "burned": "30", "resolution": "1"}
    first = client.get("/")
    assert 'value="scale"' not in first.text
    assert "No cylinder on a scale: this model burns Typical pipeline natural gas, not LP gas." in words(
        first.text
    )
    for path in ("/measure", "/finding", "/save"):
        refused = client.get(path, params=given)
        assert refused.status_code == 422, path
        assert "its gas, natural-gas-typical, is not LP gas. Choose the gas meter" in words(refused.text)
        assert 'value="meter" checked' in refused.text
    on_gas, on_lp = on_both_gases()
    bench.models.update(models_of([on_gas, on_lp]))
    assert "Cylinder on a scale: for a model on LP gas only." in words(client.get("/").text)
    answer = client.get("/finding", params=given | LP)
    reading = WeighReading(mass_losses_kg=(18.412 - 18.102,), times_s=(1800.0,), resolution_kg=0.001)
    heat = heat_content(on_lp.supply.gas, PRESETS["ISO_15_15"])
    held = weigh(reading, heat, RATING, draws=0).comparison
    assert held is not None
    assert power_pair(held.value_W, held.expanded_W, "metric") in words(answer.text)


def test_the_other_units_do_not_change_what_was_read(client: Any, readings: dict[str, str]) -> None:
    """The link to the other system gives every bare number the unit it was entered in."""
    here = client.get("/finding", params=readings)
    assert (
        'formaction="/finding" formmethod="get" formnovalidate class="plain" name="into" value="US"'
        in here.text
    )
    there = client.get("/finding", params=readings | {"units": "metric", "into": "US"})
    assert there.status_code == 200
    big = re.compile(r'<p class="big">([^<]*)</p>\s*<p class="also">([^<]*)</p>')
    for text, unit, other in ((here.text, "kW", "Btu/h"), (there.text, "Btu/h", "kW")):
        for figure in big.findall(text)[0]:
            assert unit in figure
            assert other not in figure
    deviation = re.compile(r"Measured (\S*\s%)")  # a figure and its unit are not parted
    assert deviation.findall(here.text) == deviation.findall(there.text) != []


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"serial": ""}, "serial", "Is missing"),
        ({"model": "../../etc/passwd"}, "model", "not one of the models"),
        ({"burner": "grill"}, "burner", "not a burner"),
        ({"dial": "0"}, "dial", "0.01 L to 100 000 L"),
        ({"dial": "2 kg"}, "dial", "volume"),
        ({"time1": ""}, "time1", "Is missing"),
        ({"time1": "61,2"}, "time1", "decimal"),
        ({"time1": "-3"}, "time1", "Must not be negative"),
        ({"time1": "0.15", "time2": ""}, "time1", "Too short to time by hand"),
        ({"time1": "107", "time2": "214"}, "time1", "one timing may hold twice the revolutions"),
        ({"dial": "5 m3", "time2": ""}, "time1", "times the rating of 8.79 kW: no burner reads so"),
        ({"turns": "1.5"}, "turns", "whole revolutions"),
        ({"method": "guess"}, "method", "answers"),
        ({"other_load": "99 kW gross"}, "other_load", "as large as the whole reading"),
        ({"altitude": "10", "barometer": "101"}, "barometer", "not both"),
        ({"manifold": "17.4", "rule": "none"}, "rule", "answers"),
        ({"tester": "x" * 81}, "tester", "longer than 80"),
    ],
)
def test_a_complaint_stands_at_its_field(
    client: Any, readings: dict[str, str], changed: dict[str, str], field: str, said: str
) -> None:
    answer = client.get("/finding", params=readings | changed)
    assert answer.status_code == 422
    assert said in words(answer.text)
    assert 'role="alert"' in answer.text
    assert f'href="#{field}"' in answer.text
    if field not in ("method", "turns"):
        assert re.search(rf'id="{field}"[^>]*aria-describedby="[^"]*{field}-wrong', answer.text, re.DOTALL)
    assert f'id="{field}-wrong"' in answer.text


def test_cautions_of_a_test_stand_first_and_those_of_other_work_behind_them(
    client: Any, readings: dict[str, str]
) -> None:
    """Every one is on the page; on natural gas that of an unseen flame is not among the first."""
    page = client.get("/finding", params=readings).text
    own, _, others = page[page.index('class="cautions"') :].partition("Cautions of other work")
    assert all(one.short in unescape(own + others) for one in cautions())
    assert "Leaking gas can explode" in own
    assert "Unseen flame" not in own


def test_what_was_entered_stays_in_the_form(client: Any, readings: dict[str, str]) -> None:
    answer = client.get("/finding", params=readings | {"time1": "soon"})
    assert 'value="soon"' in answer.text
    assert 'name="serial" value="C-0042"' in answer.text


def test_a_flue_sample_of_air_is_refused_at_its_field(client: Any, readings: dict[str, str]) -> None:
    answer = client.get("/save", params=readings | {"carbon_monoxide": "87"})
    assert answer.status_code == 422
    assert 'id="oxygen-wrong"' in answer.text
    assert client.get("/save", params=readings | {"oxygen": "5"}).status_code == 200


def test_saving_keeps_everything(bench: Bench, save: Callable[..., Any]) -> None:
    seen = {"see-lift": "no", "see-noise": "yes"}
    answer = save(manifold="17.4", oxygen="5", carbon_monoxide="87", note="first of the day", **seen)
    assert answer.status_code == 303
    with open_record(bench.file, readonly=True) as record:
        found = latest(record, "C-0042")
    assert found is not None
    test = found.test
    assert (test.model, test.tester, test.gas) == ("Lantern Square 6", "R. Quill", "natural-gas-typical")
    assert test.model_sha256 == CART.file_sha256
    assert test.note == "first of the day"
    told = clock(READING, HEAT, RATING, draws=0)
    results = {one.quantity: one for one in test.results}
    assert results["heat_input_gross"].value == pytest.approx(told.heat_input_gross_W, rel=1e-11)
    assert told.comparison is not None
    assert results["deviation"].value == pytest.approx(told.comparison.deviation, rel=1e-9)
    assert results["deviation"].verdict == told.comparison.verdict
    assert (results["deviation"].low, results["deviation"].high) == (-0.05, 0.05)
    free = results["air_free_carbon_monoxide"]
    assert free.value == pytest.approx(87e-6 * 20.9 / 15.9)
    assert (free.high, free.verdict) == (800e-6, "within")  # the limit in force stands with the figure
    assert [one.value for one in test.readings if one.quantity == "timed"] == [214.0, 213.0]
    assert {one.name: one.answer for one in test.observations} == {
        "lift": "no",
        "noise": "yes",
        "mark-differs": "no",
    }


def test_one_limit_of_carbon_monoxide_stands_on_save_page_and_entry(
    client: Any, save: Callable[..., Any], readings: dict[str, str]
) -> None:
    """The one that stops a test above it; those of other kinds of appliance judge nothing."""
    read = {"oxygen": "9", "carbon_monoxide": "140"}
    page = client.get("/save", params=readings | read).text
    shown = words(page)
    assert re.search(
        r"Limit of it in force 800 ppm \(kind not named, lowest for cooking: [^)]*\): within", shown
    )
    fold = words(page.partition("and published limits")[2].partition("</table>")[0])
    assert re.findall("within|near|outside", fold) == ["within"]
    saved = words(client.get(save(**read).headers["location"]).text)
    assert re.search(r"Carbon monoxide free of air \d+ ppm limit 800 ppm, within its limit", saved)


def test_the_same_form_twice_is_one_entry(
    client: Any,
    bench: Bench,
    readings: dict[str, str],
    form_of_page: Callable[[str], dict[str, str]],
) -> None:
    form = form_of_page(client.get("/save", params=readings).text)
    answers = [client.post("/save", data=form, headers={"origin": BASE}) for _ in range(3)]
    assert len({answer.headers["location"] for answer in answers}) == 1
    with open_record(bench.file, readonly=True) as record:
        assert record.connection.execute("SELECT count(*) FROM tests").fetchone() == (1,)


def test_entry_sheet_history_and_search(client: Any, save: Callable[..., Any]) -> None:
    address = save().headers["location"]
    entry = client.get(address)
    assert "Saved." in entry.text
    assert "Test griddle tube left" in words(entry.text)
    sheet = words(client.get("/sheet", params={"serial": "C-0042"}).text)
    for part in (
        "Unit C-0042",
        "stock-pot ring",
        "tile broiler not tested",
        "WARNING",
        "Not to be signed",
        "R. Quill",
    ):
        assert part in sheet
    unit = client.get("/unit", params={"serial": "C-0042"}).text
    assert "C-0042" in unit
    for page in (unit, client.get("/sheet", params={"serial": "C-0042"}).text):
        for link in re.findall(r'href="(/(?:unit|sheet|entry|record)\?[^"]*)"', page):
            assert client.get(unescape(link)).status_code == 200, link
    for asked in ("c-004", "quill", "lantern"):
        assert "C-0042" in client.get("/record", params={"q": asked}).text
    assert "No entry holds these words" in client.get("/record", params={"q": "nothing"}).text


def test_a_test_sheet_has_the_cautions_of_its_gas(
    client: Any, bench: Bench, save: Callable[..., Any]
) -> None:
    """One of natural gas warns of no unseen flame; where the bench does not know the gas, every caution stands."""
    save()
    known = words(client.get("/sheet", params={"serial": "C-0042"}).text)
    bench.models = {}
    unknown = words(client.get("/sheet", params={"serial": "C-0042"}).text)
    for one in cautions():
        is_of_gas = one in cautions_on("sheet", "bench", "clock", "explain")
        assert (one.short in known, one.short in unknown) == (is_of_gas, True), one.id
    assert "Unseen flame" not in known


def test_what_stays_for_the_next_unit(client: Any, save: Callable[..., Any]) -> None:
    entry = client.get(save(gas_temperature="18", instruments="M3").headers["location"])
    address = unescape(re.findall(r'href="([^"]*)">Next unit', entry.text)[0])
    for part in ("dial=50", "tester=R.+Quill", "gas_temperature=18", "instruments=M3", "units=metric"):
        assert part in address
    for part in ("serial", "time1", "see-", "note"):
        assert part not in address


def test_the_next_unit_begins_with_the_meter_and_its_first_burner() -> None:
    """Whatever the last row of a unit read: a pressure alone, or flame and flue gas."""
    for method in (MANOMETER, FLAME_METHOD):
        texts = {"method": method, "burner": ALL_BURNERS, "tester": "R. Quill", "plan": "42b5f0a00434"}
        kept = Form.of(texts).kept()
        assert (kept.method, kept.get("tester"), kept.get("plan")) == ("meter", "R. Quill", "42b5f0a00434")
    assert Form.of({"method": SCALE_METHOD}).kept().method == SCALE_METHOD


def test_a_correction_supersedes(
    client: Any,
    bench: Bench,
    save: Callable[..., Any],
    form_of_page: Callable[[str], dict[str, str]],
) -> None:
    entry = client.get(save().headers["location"])
    address = unescape(re.findall(r'href="/measure([^"]*)">Correct this entry', entry.text)[0])
    shown = client.get("/save" + address)
    assert "will supersede" in words(shown.text)
    form = form_of_page(shown.text)
    without = client.post("/save", data=form, headers={"origin": BASE})
    assert without.status_code == 422
    assert 'id="reason-wrong"' in without.text
    done = client.post("/save", data=form | {"reason": "wrong dial"}, headers={"origin": BASE})
    assert done.status_code == 303
    with open_record(bench.file, readonly=True) as record:
        now = latest(record, "C-0042")
    assert now is not None
    assert (now.reason, bool(now.corrects)) == ("wrong dial", True)
    results = {one.quantity: one.value for one in now.test.results}
    told = clock(READING, HEAT, RATING, draws=0)
    assert results["heat_input_gross"] == pytest.approx(told.heat_input_gross_W, rel=1e-9)
    again = client.post("/save", data=form | {"reason": "again", "once": "other"}, headers={"origin": BASE})
    assert again.status_code == 409
    assert "superseded already" in again.text


def test_a_correction_of_no_entry_is_refused_in_words(
    client: Any, readings: dict[str, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    shown = client.get("/save", params=readings | {"corrects": "none"})
    assert shown.status_code == 200
    form = form_of_page(shown.text) | {"reason": "a slip"}
    assert client.post("/save", data=form, headers={"origin": BASE}).status_code == 409


def test_the_chart_of_recent_units(client: Any, save: Callable[..., Any]) -> None:
    empty = client.get("/chart")
    assert "nothing to chart yet" in empty.text
    for number in range(6):
        assert save(serial=f"C-{number}", time1=str(210 + number)).status_code == 303
    page = client.get("/chart")
    assert 'alt="6 units, oldest left' in page.text
    source = unescape(re.findall(r'<img class="chart" src="([^"]*)"', page.text)[0])
    drawn = client.get(source)
    assert drawn.headers["content-type"].startswith("image/svg+xml")
    assert drawn.text.startswith("<svg")
    assert "script" not in drawn.text
    assert client.get("/chart.svg", params={"of": "none"}).status_code == 404
    narrow = unescape(re.findall(r'<source media="[^"]*" srcset="([^"]*)"', page.text)[0])
    widths = [
        float(re.findall(r'<svg[^>]*viewBox="0 0 ([\d.]+)', client.get(at).text)[0])
        for at in (source, narrow)
    ]
    assert widths[1] < 300 < widths[0]  # of a phone and of a desk: nothing of it lies outside the page
    assert not re.search(r"\.chart \{[^}]*min-width", client.get("/page.css").text)


def test_hostile_texts_are_only_texts(client: Any, save: Callable[..., Any]) -> None:
    serial = '=1+1"><script>alert(1)</script>'
    entry = client.get(
        save(serial=serial, note="<img src=x onerror=alert(2)>", tester="'R. <b>Quill").headers["location"]
    )
    pages = [entry, *(client.get(path, params={"serial": serial}) for path in ("/sheet", "/unit"))]
    pages.append(client.get("/record", params={"q": "<b>"}))
    for page in pages:
        assert page.status_code == 200
        assert "<script>" not in page.text
        assert "<img src=x" not in page.text
        assert "<b>" not in page.text
    file = client.get("/record.csv")
    assert file.headers["content-disposition"] == 'attachment; filename="bench-record.csv"'
    cells = [cell for row in csv.reader(io.StringIO(file.content.decode("utf-8-sig"))) for cell in row]
    assert "'" + serial in cells
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@")) or re.match(r"-[^\d.]", cell)]


def test_copies_of_the_record(client: Any, save: Callable[..., Any]) -> None:
    save()
    assert client.get("/record.json").json()["tests"][0]["serial"] == "C-0042"
    assert client.get("/record.xlsx").content.startswith(b"PK")
    assert client.get("/record.sqlite").status_code == 404


def test_what_near_means_is_said_once_above_a_list(client: Any, save: Callable[..., Any]) -> None:
    for serial in ("C-0042", "C-0043"):
        save(serial=serial)
    shown = words(client.get("/record").text)
    assert shown.count("near") == 2
    assert shown.count("Near: the interval reaches beyond the band: the true value may be outside it.") == 1


def test_a_record_that_is_gone(client: Any, bench: Bench) -> None:
    bench.file.unlink()
    answer = client.get("/record")
    assert answer.status_code == 503
    assert "no such record" in answer.text
    assert str(bench.file.parent) not in answer.text


def test_a_test_that_cannot_be_kept_is_not_lost(
    client: Any,
    readings: dict[str, str],
    form_of_page: Callable[[str], dict[str, str]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A full disk: the page says so, holds everything, and the same form is saved once there is room."""
    from burnerlab.page import bench_state

    form = form_of_page(client.get("/save", params=readings).text)

    def full(*_: object) -> object:
        raise UserError(Problem("the disk is full", file="/somewhere/bench.sqlite", fix="make room"))

    with monkeypatch.context() as patch:
        patch.setattr(bench_state, "add_test", full)
        answer = client.post("/save", data=form, headers={"origin": BASE})
    assert answer.status_code == 503
    assert "Not saved. The disk is full; make room" in words(answer.text)
    assert "/somewhere" not in answer.text
    assert form_of_page(answer.text)["serial"] == "C-0042"
    assert client.post("/save", data=form, headers={"origin": BASE}).status_code == 303


def test_an_unknown_entry_and_unit(client: Any) -> None:
    for uid in ("", "0" * 32, "zz", "a" * 31):
        assert client.get("/entry", params={"uid": uid}).status_code == 404
    for path in ("/unit", "/sheet"):
        answer = client.get(path, params={"serial": "none"})
        assert answer.status_code == 404
        assert "in the record" in answer.text


def test_a_defect_shows_no_trace(
    client: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from burnerlab.page import record_pages

    def broken(*_: object) -> object:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr(record_pages, "summary", broken)
    answer = client.get("/record")
    assert answer.status_code == 500
    assert "secret detail" not in answer.text
    assert "ZeroDivisionError: secret detail" in capsys.readouterr().err


def test_units_are_printed_in_one_way_and_sent_as_the_record_spells_them(
    client: Any, readings: dict[str, str]
) -> None:
    text = client.get("/measure", params=readings).text
    offered = dict(re.findall(r'<option value="([^"]*)"[^>]*>([^<]*)</option>', text))
    assert offered["m3"] == "m³"
    assert offered["MJ/m3 gross at 15C/15C"] == "MJ/m³ gross at 15 °C/15 °C"
    assert not re.search(r">[^<]*(?<![\w.])(?:m|ft)3\b[^<]*</option>", text)
