"""The region of ports on the desk: what is chosen there holds when it is read back from the draft."""

from __future__ import annotations

import re
from dataclasses import replace
from html import escape, unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qsl, urlencode

import pytest
from axe_findings import axe_findings
from desk_client import BASE, HIDDEN, SMALL, DeskClient, served

from burnerlab.burner.port_region import PortTolerance, Relaxation
from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_port_shop import shop_in
from burnerlab.page.desk_ports import PANELS, frame_of, region_view, variant_at
from burnerlab.page.desk_state import Desk

if TYPE_CHECKING:
    from burnerlab.burner.port_region import PortRegion

KEYS = ("ports.diameter", "ports.count", "throat", "shutter.opening")


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> DeskClient:
    """A desk that keeps the regions it found."""
    path = tmp_path_factory.mktemp("ports") / "stove.toml"
    path.write_text(SMALL, encoding="utf-8")
    return DeskClient(Desk(path))


@pytest.fixture
def client(shared: DeskClient) -> DeskClient:
    shared.look("/file")
    return shared


def region_page(client: DeskClient) -> str:
    """By the button of the burner; what was typed beside it is kept."""
    page = client.send(act="ports 1", **{"burner[1].orifice.count": "1"})
    assert page.status_code == 200
    assert "Region of the ports of left tube" in page.text
    return page.text


def forms(text: str) -> list[dict[str, str]]:
    """The hidden fields of each form that takes a variant."""
    parts = text.split('<form method="post" action="/take-ports">')[1:]
    return [
        {name: unescape(value) for name, value in HIDDEN.findall(one.partition("</form>")[0])}
        for one in parts
    ]


def now(client: DeskClient) -> PortRegion:
    entry = client.desk.newest_entry
    assert entry.appliance is not None, entry.problems
    return client.answers.region(entry, 1, ("now", "A"))


def take(client: DeskClient, fields: dict[str, str]) -> Any:
    return client._seen(client.request("POST", "/take-ports", data=fields, headers={"origin": BASE}))


def test_a_listed_variant_goes_into_the_draft_and_holds_there(client: DeskClient) -> None:
    """One of them, put in and read back from its text, holds at all corners of the tolerance; Undo takes it out."""
    text = region_page(client)
    before = client.desk.newest_entry.text.values()
    offered = [one for one in forms(text) if "design" in one]
    assert len(offered) >= 2
    assert "nearest" in text
    for fields in offered[:1]:
        page = take(client, fields)
        assert page.status_code == 200
        present = now(client).present
        assert present is not None
        assert present.holds
        changed = client.desk.newest_entry.text.values()
        assert {key for key in changed if changed[key] != before.get(key)} <= {
            f"burner[1].{key}" for key in (*KEYS, "shutter.area")
        }
        client.send(act="undo")
        assert client.desk.newest_entry.text.values() == before


@pytest.mark.parametrize("panel", PANELS)
def test_a_place_of_a_picture_takes_the_variant_there(client: DeskClient, panel: str) -> None:
    text = region_page(client)
    region = now(client)
    fields = next(one for one in forms(text) if one.get("panel") == panel)
    for x, y in ((60, 200), (180, 120), (320, 30)):
        place = variant_at(region, panel, x, y)  # type: ignore[arg-type]  # a panel of the list
        assert place is not None
        assert region.holds[place]
        assert take(client, fields | {"at.x": str(x), "at.y": str(y)}).status_code == 200
        values = client.desk.newest_entry.text.values()
        assert values["burner[1].ports.count"] == f"{region.variants.count[place]:.0f}"
        assert values["burner[1].ports.diameter"] == f"{1e3 * region.variants.port_m[place]:.2f} mm"
        client.send(act="undo")


def test_the_pictures_hold_the_present_burner_and_the_designs(client: DeskClient) -> None:
    text = region_page(client)
    region = now(client)
    for panel in PANELS:
        address = next(one for one in re.findall(r'src="([^"]*)"', text) if f"/{panel}.svg" in one)
        answer = client.request("GET", unescape(address))
        assert answer.headers["content-type"] == "image/svg+xml"
        assert ">now</text>" in answer.text
        assert answer.text.count("<circle") == len(region.designs)
        frame = frame_of(region, panel)
        assert frame.x[0] < frame.x[1]
        assert frame.y[0] < frame.y[1]


def test_units_are_those_of_the_look_and_what_is_taken_those_of_the_file(client: DeskClient) -> None:
    """Inches on a page in US units; a size that stands in inches is written so, one in millimetres in those."""
    client.send(**{"burner[1].throat": "0.61 in"})
    page = client.request("GET", f"/ports/{client.desk.newest}/1?units=US").text
    shown = unescape(page)
    assert "throat, in" in shown
    assert re.search(r"ports of 0\.0\d+ in", shown)
    assert " mm" not in re.sub(r"<footer.*", "", shown, flags=re.DOTALL)
    address = unescape(next(one for one in re.findall(r'src="([^"]*)"', page) if "/inlet.svg" in one))
    assert "open air inlet, in²" in client.request("GET", address).text
    fields = next(one for one in forms(page) if "design" in one)
    design = now(client).designs[0]
    assert take(client, fields).status_code == 200
    values = client.desk.newest_entry.text.values()
    assert values["burner[1].ports.diameter"] == f"{1e3 * design.port_diameter_m:.2f} mm"
    assert values["burner[1].throat"] == f"{design.throat_diameter_m / 0.0254:.3f} in"


def test_a_gas_of_several_pressures_is_named_in_the_units_of_the_page(client: DeskClient) -> None:
    region = now(client)
    title = "propane at 27.37 mbar, orifice 1.006 mm"
    region = replace(region, gases=tuple(replace(gas, title=title) for gas in region.gases))
    assert region_view(region, "left tube", "metric").gases[0] == title
    assert region_view(region, "left tube", "US").gases[0] == "propane at 10.99 in w.c., orifice 0.03961 in"


def test_markets_are_left_out_and_taken_in(client: DeskClient) -> None:
    region_page(client)
    digest = client.desk.newest
    alone = client.request("GET", f"/ports/{digest}/1?chosen=yes")
    assert "On typical pipeline natural gas: " in alone.text
    both = client.request("GET", f"/ports/{digest}/1?chosen=yes&m-A=yes&m-now=yes")
    assert "On typical pipeline natural gas, propane: " in both.text
    changed = client.request("GET", f"/ports/{digest}/1?chosen=yes&m-A=yes")  # the present gas is taken out
    assert "On propane: " in changed.text
    assert 'name="m-now" value="yes">' in changed.text
    assert 'name="markets" value="A"' in changed.text  # what is taken into the draft is of these gases


def test_the_page_says_what_ends_the_region_and_what_opens_an_empty_one(
    client: DeskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every limit that some variant misses with its gas, the one missed most first; eased demands, widest first."""
    region = now(client)
    text = region_page(client)
    first = region.limits[0]
    table = text[text.index('aria-label="What ends the region"') :]
    assert f'<th scope="row">{first.limit}</th><td>{first.gas or "all"}</td>' in table
    assert "What opens the region" not in text
    eased = (
        Relaxation(words="two rows of ports", nominal_fraction=0.02, corners_fraction=0.0),
        Relaxation(words="without propane", nominal_fraction=0.05, corners_fraction=0.01),
    )
    empty = replace(region, designs=(), nearest_miss=region.present, relaxations=eased)
    view = region_view(empty, "left tube", "metric")
    assert [(each.demand, each.corners) for each in view.eased] == [
        ("without propane", "1.0 %"),
        ("two rows of ports", "none"),
    ]
    assert view.miss
    assert view.limits == region_view(region, "left tube", "US").limits
    monkeypatch.setattr(Answers, "region", lambda *_: empty)
    said = client.request("GET", f"/ports/{client.desk.newest}/1").text
    assert "Opens the region: without propane." in said
    assert (
        '<th scope="row">two rows of ports</th><td class="number">2.0 %</td><td class="number">none</td>'
        in said
    )


def test_what_the_maker_can_drill_is_chosen_and_stands_in_the_address(client: DeskClient) -> None:
    """The region is that of the entries, on pictures and in what is taken; the desk keeps the workshop's for others."""
    digest = client.desk.newest
    shop = {"port_drills": "1.5 mm, #52", "rows": "3", "length": "450 mm", "port_depth": "2.5 mm"}
    query = urlencode(shop | {"throat_spread": "0.2 mm", "largest_throat": "0.7 in"})
    page = client.request("GET", f"/ports/{digest}/1?{query}").text
    region = client.answers.region(client.desk.newest_entry, 1, ("now", "A"), shop_in(dict(parse_qsl(query))))
    assert {round(1e3 * one, 4) for one in region.variants.port_m} <= {1.5, round(25.4 * 0.0635, 4)}
    assert (region.space.rows, region.space.row_length_m, region.template.port_depth_m) == (3, 0.45, 0.0025)
    assert region.space.throat_m == (0.0, pytest.approx(0.7 * 0.0254))
    assert (region.tolerance.throat_m, region.tolerance.port_m) == (0.0002, PortTolerance().port_m)
    assert region.count == now(client).count
    assert region.corners_fraction != now(client).corners_fraction
    for name, text in shop.items():
        assert f'name="{name}" value="{escape(text)}"' in page
    assert page.count("/ports.svg") == page.count("port_drills=1.5+mm") / 2 == 1
    assert take(client, next(one for one in forms(page) if "design" in one)).status_code == 200
    values = client.desk.newest_entry.text.values()
    assert values["burner[1].ports.rows"] == "3"
    assert values["burner[1].ports.depth"] == "2.5 mm"
    assert now(client).present is not None
    client.send(act="undo")
    again = client.send(act="ports 1").text
    assert all(f'name="{name}" value="{escape(text)}"' in again for name, text in shop.items())
    assert client.answers.shop_for(2) == (("port_drills", "1.5 mm, #52"), ("throat_spread", "0.2 mm"))
    client.request("GET", f"/ports/{digest}/1")


@pytest.mark.parametrize(
    ("entries", "messages"),
    [
        ({"length": "450"}, ["the unit is missing", "as in &#34;400 mm&#34;"]),
        ({"throat_spread": "0.1", "units": "US"}, ["the unit is missing", "as in &#34;0.004 in&#34;"]),
        ({"length": "9 m"}, ["outside the accepted range (accepted: 0.1 mm to 5 m)"]),
        ({"rows": "2.5"}, ["must be a whole number"]),
        ({"orifice_spread": "2"}, ["this is 200 %", "write &#34;2 %&#34;"]),
        ({"port_drills": "#999"}, ["no such number drill"]),
        ({"port_drills": "../drills.csv"}, ["is a file: this page reads none"]),
        ({"port_drills": "5 mm"}, ["has no drill for ports (accepted: some of 1 to 2.6 mm)"]),
        ({"port_drills": "1/4 in", "units": "US"}, ["has no drill for ports (accepted: some of 0.0394 to 0.102 in)"]),
        ({"least_throat": "20 mm", "largest_throat": "12 mm"}, ["is above the largest throat; exchange the two"]),
    ],
)  # fmt: skip
def test_a_wrong_entry_of_the_workshop_is_told_at_its_field(
    client: DeskClient, entries: dict[str, str], messages: list[str]
) -> None:
    digest = client.desk.newest
    page = client.request("GET", f"/ports/{digest}/1?{urlencode({'units': 'metric'} | entries)}")
    assert page.status_code == 422
    assert "Correct 1 entry: no region is calculated." in page.text
    (name, note), *others = re.findall(r'id="note-(\w+)">([^<]+)<', page.text)
    assert name == next(iter(entries))
    assert not others
    assert all(one in note for one in messages), note
    assert take(client, client.form | {"burner": "1", "design": "A"} | entries).status_code == 422
    client.request("GET", f"/ports/{digest}/1")


def test_the_region_is_worded_where_the_appliance_is_sold(client: DeskClient) -> None:
    house, of_region = "A wrong gas, orifice, regulator", "A wrong gas, injector, regulator"
    assert house in client.request("GET", f"/ports/{client.desk.newest}/1").text
    client.send(**{"appliance.region": "eu"})
    assert of_region in client.request("GET", f"/ports/{client.desk.newest}/1").text
    client.send(act="undo")


def test_what_has_no_region_says_why(client: DeskClient) -> None:
    digest = client.form["base"]
    page = client.request("GET", f"/ports/{digest}/2")
    assert "Not evaluated: " in page.text
    assert client.request("GET", f"/ports/{digest}/9").status_code == 404
    assert client.request("GET", f"/ports/{digest}/1/other.svg").status_code == 404
    fields = client.form | {"burner": "1", "design": "Z"}
    assert take(client, fields).status_code == 422


@pytest.mark.browser
def test_a_region_by_touch_by_keyboard_and_without_script(visit: Any, tmp_path: Path) -> None:
    (tmp_path / "stove.toml").write_text(SMALL, encoding="utf-8")
    for address in served(tmp_path / "stove.toml"):
        for size, script in (("phone", False), ("desk", True)):
            page = visit(size, script=script, touch=size == "phone").page
            page.goto(f"{address}/file")
            page.locator("#burner-1 .more summary").click()
            page.get_by_role("button", name="Region of its ports left tube").click()
            page.wait_for_selector("h1:has-text('Region of the ports')")
            assert page.locator("html").bounding_box()["width"] <= page.viewport_size["width"]
            picture = page.locator("input.region").first
            if script:
                assert axe_findings(page) == []
                page.get_by_role("button", name="Take A into the draft").focus()
                page.keyboard.press("Enter")
            else:
                picture.tap(position={"x": 180, "y": 120})
            page.wait_for_selector("#desk")
            assert "#burner-1" in page.url
            assert page.locator("input.changed").count() >= 3
