"""What is typed at the bench: nothing is lost, a comma leads somewhere, a unit needs no letters."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from burnerlab.bench.record import latest, open_record
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import fields
from burnerlab.page.reader_words import NO_BREAK
from burnerlab.page.security import Gate

if TYPE_CHECKING:
    from playwright.sync_api import Page

BASE = "http://127.0.0.1:8741"
ORIGIN = {"origin": BASE}
LIT = "supply_label=natural-gas-typical&leak_test=fluid&air=yes&orifice_marks=as+printed"
Q = f"{LIT}&model=lantern-square-6&serial=typed&burner=stock-pot+ring&tester=R.+Quill&dial=10"


@pytest.mark.parametrize(
    ("name", "text", "shown"),
    [
        ("time1", "213,5", "213.5 s"),
        ("time1", "3,5 min", "3.5 min"),
        ("dial", "50,0", "50.0 L"),
        ("manifold", "17,4", "17.4 mbar"),
        ("gas_temperature", "-3,5", "-3.5 °C"),
        ("meter_factor", "1,012", "1.012"),
    ],
)
def test_a_decimal_comma_is_refused_in_words_and_read_by_one_tap(
    client: Any, readings: dict[str, str], name: str, text: str, shown: str
) -> None:
    asked = readings | {name: text}
    answer = client.get("/finding", params=asked)
    assert answer.status_code == 422
    assert "point as decimal mark" in answer.text
    assert f'name="repair" value="{name}">Read as {shown}</button>' in answer.text.replace(NO_BREAK, " ")
    after = client.get("/finding", params=asked | {"repair": name})
    assert after.status_code == 200
    assert f'name="{name}" value="{shown}"' in after.text


def test_a_comma_with_two_readings_offers_both(client: Any, readings: dict[str, str]) -> None:
    """1,000 L may be one litre or a thousand: neither is guessed."""
    asked = readings | {"dial": "1,000"}
    page = client.get("/finding", params=asked).text.replace(NO_BREAK, " ")
    offered = re.findall(r'name="repair" value="(dial[^"]*)">Read as ([^<]*)<', page)
    assert offered == [("dial", "1.000 L"), ("dial.thousands", "1000 L")]
    for repair, text in offered:
        assert f'name="dial" value="{text}"' in client.get("/finding", params=asked | {"repair": repair}).text


def test_several_commas_by_one_tap(client: Any, readings: dict[str, str]) -> None:
    asked = readings | {"time1": "213,5", "time2": "214,1"}
    answer = client.get("/finding", params=asked)
    assert 'value="time1 time2">Read all as 213.5 s, 214.1 s</button>' in answer.text.replace(NO_BREAK, " ")
    assert client.get("/finding", params=asked | {"repair": "time1 time2"}).status_code == 200


@pytest.mark.parametrize(
    "text", ["1,234,567", "1,2.3", ",", "12,", "soon, or later", "1.234,5", "99999999,5"]
)
def test_what_no_comma_explains_is_not_offered(client: Any, readings: dict[str, str], text: str) -> None:
    answer = client.get("/finding", params=readings | {"time1": text})
    assert answer.status_code == 422
    assert 'name="repair"' not in answer.text
    assert client.get("/finding", params=readings | {"time1": text, "repair": "time1"}).status_code == 422


def test_a_unit_is_chosen_beside_the_field(client: Any, readings: dict[str, str]) -> None:
    """A keypad of figures has no letters."""
    readings = readings | {"time1": "252", "time2": "251"}  # at its rating: no stop
    there = client.get("/finding", params=readings | {"dial": "2", "dial-unit": "ft3"})
    assert 'name="dial" value="2 ft3"' in there.text
    page = client.get("/measure", params=readings | {"dial": "2 ft3"})
    assert 'value="2" maxlength' in page.text
    assert '<option value="ft3" selected>ft³</option>' in page.text
    for unit in ("L", "kg", "<b>"):  # that of the system is not written out; one that is not offered is none
        assert (
            'name="dial" value="2"'
            in client.get("/finding", params=readings | {"dial": "2", "dial-unit": unit}).text
        )


def test_every_unit_offered_can_be_read() -> None:
    assert any(field.units("US") for field in fields().values())
    for field in fields().values():
        for system in ("metric", "US"):
            for unit in field.units(system):
                number = "0.1" if field.name in ("oxygen", "carbon_dioxide", "carbon_monoxide") else "20"
                number = "5" if field.name == "resolution" else number
                number = "600" if unit in ("hPa", "mmHg") else "100" if unit == "kPa" else number
                assert field.read(f"{number} {unit}", system) is not None


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"instruments": "M3, " + "x" * 81}, "instruments"),
        ({"instruments": "x" * 201}, "instruments"),
        ({"place": "x" * 81}, "place"),
        ({"note": "x" * 601}, "note"),
    ],
)
def test_what_is_too_long_is_refused_at_its_field(
    client: Any, readings: dict[str, str], changed: dict[str, str], field: str
) -> None:
    answer = client.get("/save", params=readings | changed)
    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text
    assert f'href="#{field}"' in answer.text


def test_a_reason_that_is_too_long_is_refused_at_its_field(
    client: Any,
    save: Callable[..., Any],
    readings: dict[str, str],
    form_of_page: Callable[[str], dict[str, str]],
) -> None:
    uid = save().headers["location"].partition("uid=")[2][:32]
    form = form_of_page(client.get("/save", params=readings | {"corrects": uid}).text)
    answer = client.post("/save", data=form | {"reason": "x" * 601}, headers=ORIGIN)
    assert answer.status_code == 422
    assert 'id="reason-wrong"' in answer.text


def test_a_meter_factor_moves_the_reading_and_is_recorded(
    client: Any, bench: Bench, save: Callable[..., Any]
) -> None:
    save(serial="plain")
    save(serial="factor", meter_factor="1.02")
    with open_record(bench.file, readonly=True) as record:
        plain, moved = latest(record, "plain"), latest(record, "factor")
    assert plain is not None
    assert moved is not None
    heat = [
        next(part.value for part in one.test.results if part.quantity == "heat_input_gross")
        for one in (plain, moved)
    ]
    assert heat[1] / heat[0] == pytest.approx(1.02)
    assert [one.value for one in moved.test.readings if one.quantity == "meter_factor"] == [1.02]
    answer = client.get("/finding", params={"meter_factor": "3"} | dict.fromkeys(("dial",), "1"))
    assert answer.status_code == 422


def counted(bench: Bench) -> int:
    with open_record(bench.file, readonly=True) as record:
        return int(record.connection.execute("SELECT count(*) FROM tests").fetchone()[0])


def test_save_back_save_is_one_entry(
    client: Any,
    bench: Bench,
    client_of: Callable[[Bench], Any],
    readings: dict[str, str],
    form_of_page: Callable[[str], dict[str, str]],
) -> None:
    """The page is made anew on the way back, and after a restart of the bench as well."""
    start = form_of_page(client.get("/measure", params=readings).text)
    asked = readings | {"once": start["once"]}
    places = set()
    for _ in range(2):
        form = form_of_page(client.get("/save", params=asked).text)
        places.add(client.post("/save", data=form, headers=ORIGIN).headers["location"])
    again = client_of(Bench(file=bench.file, models=bench.models, gate=Gate(host="127.0.0.1")))
    form = form_of_page(again.get("/save", params=asked).text)
    places.add(again.post("/save", data=form, headers=ORIGIN).headers["location"])
    assert len(places) == 1
    assert counted(bench) == 1


def test_the_same_readings_of_a_later_test_are_another_entry(
    client: Any, bench: Bench, save: Callable[..., Any]
) -> None:
    save()
    save()
    assert counted(bench) == 2


def test_saved_back_changed_and_saved_is_a_correction(
    client: Any, bench: Bench, readings: dict[str, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    """What differs is never dropped, and asks for its reason."""
    asked = readings | {"once": form_of_page(client.get("/measure", params=readings).text)["once"]}
    client.post("/save", data=form_of_page(client.get("/save", params=asked).text), headers=ORIGIN)
    form = form_of_page(client.get("/save", params=asked | {"time1": "216"}).text)
    answer = client.post("/save", data=form, headers=ORIGIN)
    assert answer.status_code == 409
    assert "saved already" in answer.text
    form = form_of_page(answer.text) | {"reason": "read the wrong mark"}
    assert client.post("/save", data=form, headers=ORIGIN).status_code == 303
    with open_record(bench.file, readonly=True) as record:
        found = latest(record, "C-0042")
    assert found is not None
    assert (found.reason, bool(found.corrects)) == ("read the wrong mark", True)
    assert counted(bench) == 2


@pytest.mark.browser
@pytest.mark.parametrize("way", ["reload", "back", "no connection"])
def test_nothing_typed_is_lost(visit: Any, served: tuple[str, Path], way: str) -> None:
    page: Page = visit("phone", touch=True).page
    page.goto(f"{served[0]}/measure?{Q}")
    page.fill("#time1", "42.5")
    page.select_option("[name=dial-unit]", "ft3")
    if way == "reload":
        page.reload()
    elif way == "back":
        page.tap("header a:text-is('Record')")
        page.wait_for_url("**/record?**")
        page.go_back()
    else:
        page.context.set_offline(True)
        page.tap("text=Next: finding")
        page.wait_for_timeout(500)
        page.context.set_offline(False)
        page.go_back()
        page.wait_for_selector("#time1")
    assert page.input_value("#time1") == "42.5"
    assert page.input_value("[name=dial-unit]") == "ft3"


@pytest.mark.browser
def test_the_answers_before_lighting_are_never_brought_back(visit: Any, served: tuple[str, Path]) -> None:
    page: Page = visit("phone", touch=True).page
    page.goto(served[0])
    page.fill("#serial", "U-1")
    page.check("#leak_test input[value=fluid]")
    page.fill("#tester", "R. Quill")
    page.reload()
    assert page.input_value("#serial") == "U-1"
    assert page.input_value("#tester") == "R. Quill"
    assert page.locator("#leak_test input:checked").count() == 0
    page.check("#leak_test input[value=fluid]")
    page.fill("#serial", "U-2")  # of another unit nothing was answered
    assert page.locator("#leak_test input:checked").count() == 0


@pytest.mark.browser
def test_a_comma_from_a_keypad_that_has_no_point(visit: Any, served: tuple[str, Path]) -> None:
    page: Page = visit("phone", touch=True).page
    page.goto(f"{served[0]}/measure?{Q}")
    page.fill("#time1", "42,5")
    page.fill("#dial", "1,000")
    page.tap("#time2")
    assert (page.input_value("#time1"), page.input_value("#dial")) == ("42.5", "1,000")
    page.tap("text=Next: finding")
    page.wait_for_url("**/finding?**")
    page.tap("button[value=dial]")
    page.wait_for_url("**repair=dial**")
    assert page.locator(".result").is_visible()
