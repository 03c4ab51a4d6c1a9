"""Queries of a rate or pressure that changed as a slip changes it, and what a page without script keeps."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from desk_client import SMALL, DeskClient, served, written

from burnerlab.page import desk_file
from burnerlab.page.desk_queries import query_of
from burnerlab.page.desk_state import Desk
from burnerlab.quantity import Kind

RATE, PRESSURE = "burner[1].rate", "market[1].supply[1].pressure"

# Ratios: NIST SP 811 (2008), appendix B.8: 1 Btu(IT)/h = 0.2930711 W, 1 psi = 6.894757 kPa; 1 kcal(IT) = 4.1868 kJ.
SLIPS = [
    (Kind.POWER, "12 kBtu/h", "12 kW", "3.41 times", "kW and kBtu/h"),
    (Kind.POWER, f"{12 * 0.2930711} kW", "12 kW", "3.41 times", "kW and kBtu/h"),
    (Kind.POWER, "3.5 kW", f"{3.5 * 0.2930711:.3f} kW", "3.41 times less", "kW and kBtu/h"),
    (Kind.POWER, "3000 kcal/h", "3000 kJ/h", "4.19 times less", "kcal/h and kJ/h"),
    (Kind.POWER, "3.5 kW", f"{3.5 * 4.1868:.2f} kW", "4.19 times", "kcal/h and kJ/h"),
    (Kind.POWER, "3.5 kW", "35 kW", "10 times the 3.5 kW", "decimal point"),
    (Kind.POWER, "3.5 kW", "3500 kW", "1000 times", "decimal point"),
    (Kind.GAUGE_PRESSURE, "20 mbar", "20 kPa", "10 times", "decimal point"),
    (Kind.GAUGE_PRESSURE, "20 mbar", "20 Pa", "100 times less", "decimal point"),
    (Kind.GAUGE_PRESSURE, "2 psi", f"{2 * 6.894757:.2f} psi", "6.89 times", "psi and kPa"),
    (Kind.GAUGE_PRESSURE, "7 in w.c.", "7 mbar", "figure of the 7 in w.c.", "unit"),
    (Kind.GAUGE_PRESSURE, "20 mbar", "300 mbar", "15 times", "is that meant"),
]
# Pressures one appliance has on several gases: EN 437:2003, table of test pressures (20, 29, 37, 50 mbar); respelling.
NONE = [
    (Kind.GAUGE_PRESSURE, "20 mbar", "50 mbar"),
    (Kind.GAUGE_PRESSURE, "50 mbar", "20 mbar"),
    (Kind.GAUGE_PRESSURE, "7 in w.c.", "11 in w.c."),
    (Kind.GAUGE_PRESSURE, "20 mbar", "2 kPa"),
    (Kind.POWER, "12 kBtu/h", "3.517 kW"),
    (Kind.POWER, "3.5 kW", "7 kW"),
    (Kind.POWER, "3.5 kW", "soon"),
    (Kind.POWER, "0 kW", "3.5 kW"),
]


@pytest.mark.parametrize(("kind", "before", "now", "many", "which"), SLIPS)
def test_a_slip_is_queried(kind: Kind, before: str, now: str, many: str, which: str) -> None:
    query = query_of(kind, before, now)
    assert many in query
    assert which in query
    ending = "meant?" if which in ("decimal point", "is that meant") else "is the unit right?"
    assert query.endswith(ending)


@pytest.mark.parametrize(("kind", "before", "now"), NONE)
def test_what_an_appliance_may_be_changed_to_is_not(kind: Kind, before: str, now: str) -> None:
    assert query_of(kind, before, now) == ""


@pytest.fixture
def client(tmp_path: Path) -> DeskClient:
    made = DeskClient(Desk(written(tmp_path)))
    made.look()
    return made


def test_the_query_stands_at_its_field_until_it_is_saved_or_corrected(client: DeskClient) -> None:
    found = client.type(**{RATE: "125 kBtu/h"})
    assert found["status"] == 200  # a note, no refusal
    assert found["wrong"] == {}
    assert found["queries"][RATE].startswith("10 times the 12.5 kBtu/h before")
    page = client.send(**{"burner[1].throat": "16 mm", RATE: "125 kBtu/h"}).text
    assert f'id="note-{RATE}">10 times the 12.5 kBtu/h before' in page
    assert "Query: left tube, rate of one, 10 times" in page
    page = client.send(act="copy burner 1").text
    assert (
        'id="note-burner[2].rate">10 times' not in page
    )  # of the copy, what stood before is what was copied
    assert f'id="note-{RATE}">10 times' in page
    assert "times the" not in client.send(**{RATE: "12.5 kBtu/h"}).text


def test_without_a_file_the_value_before_is_the_one_typed_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(desk_file, "DRAFT_SECONDS", 0.0)  # no draft of it is written later, elsewhere
    client = DeskClient(Desk(None))
    client.look()
    assert client.send(**{RATE: "40 kW"}).text.count("times the") == 0  # an example is no value of the user
    client.send(**{"burner[1].count": "2"})
    assert "10 times less than the 40 kW before" in client.send(**{RATE: "4 kW"}).text
    assert "10 times less than the 40 kW before" in client.send(**{PRESSURE: "30 mbar"}).text


def test_units_and_burners_on_lose_nothing_typed(client: DeskClient) -> None:
    page = client.send(act="units US", **{RATE: "13 kBtu/h"})
    assert client.fields[RATE] == "13 kBtu/h"
    assert client.form["units"] == "US"
    assert "units=US" in str(page.url)
    page = client.send(act="on", **{"burner[2].rate": "15 kBtu/h", "on-2": "yes"})
    assert (client.fields["burner[2].rate"], client.form["on"]) == ("15 kBtu/h", "2")
    assert 'name="on-2" value="yes" checked' in page.text
    assert 'name="on-1" value="yes" checked' not in page.text
    client.send(**{"burner[2].rate": "15.5 kBtu/h", "on-1": "yes"})
    assert client.form["on"] == "2"  # a box counts once its button is pressed


def test_the_letters_of_the_form_are_those_of_the_markets(tmp_path: Path) -> None:
    path = written(tmp_path)
    market = '\n[[market]]\nname = "number {}"\nsupply = [{{ gas = "propane", pressure = "0 mbar" }}]\n'
    text = SMALL.replace(
        "\n[[burner]]", "".join(map(market.format, range(2, 29))).rstrip("\n") + "\n\n[[burner]]", 1
    )
    path.write_text(text, encoding="utf-8")
    page = DeskClient(Desk(path)).look().text
    assert '<span class="letter">AA</span> number 27' in page
    assert '<span class="letter">AB</span> number 28' in page


@pytest.mark.browser
def test_enter_still_works_out_and_units_change_by_a_button(visit: Any, tmp_path: Path) -> None:
    for address in served(written(tmp_path)):
        for script in (True, False):
            page = visit("desk", script=script).page
            page.goto(f"{address}/file?units=metric")
            field = page.locator(f'[name="{RATE}"]')
            field.fill("13 kBtu/h")
            field.press("Enter")
            page.wait_for_selector("input.changed")
            assert "units=metric" in page.url
            field.fill("130 kBtu/h")
            page.get_by_role("button", name="US units instead").click()
            page.wait_for_url("**units=US**")
            assert page.locator(f'[name="{RATE}"]').input_value() == "130 kBtu/h"
            note = page.locator(f'[id="note-{RATE}"]')
            assert note.inner_text().startswith("10 times the 12.5 kBtu/h before")
            assert note.is_visible()
