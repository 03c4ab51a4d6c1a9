"""What the desk says of an unfinished appliance, of gases that share no orifice, and how it counts changes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from desk_client import SMALL, DeskClient, written

from burnerlab.page import desk_file, desk_pages
from burnerlab.page.desk_state import Desk
from burnerlab.quantity import System

REGION = "appliance.region"
TWO_GASES = SMALL.replace(
    'supply = [{ gas = "propane", pressure = "11 in w.c." }]',
    'supply = [{ gas = "G20", pressure = "20 mbar" }, { gas = "G31", pressure = "37 mbar" }]',
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in, where a draft is written at once and none later, elsewhere."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(desk_file, "DRAFT_SECONDS", 0.0)
    return tmp_path


@pytest.fixture
def client(tmp_path: Path) -> DeskClient:
    return DeskClient(Desk(written(tmp_path)))


def test_a_copied_burner_is_one_change(client: DeskClient) -> None:
    client.look()
    client.send(act="copy burner 1")
    entry = client.desk.newest_entry
    assert client.desk.change_count(entry) == 1
    assert {key for key in client.desk.changed_keys(entry) if not key.startswith("burner[2].")} == set()
    client.send(**{"burner[3].rate": "15 kBtu/h"})
    assert client.desk.change_count(client.desk.newest_entry) == 2


def test_a_burner_in_another_place_or_of_another_name_is_one_change(client: DeskClient) -> None:
    client.look()
    client.send(act="down burner 1")
    assert client.desk.change_count(client.desk.newest_entry) == 1
    client.send(act="up burner 2")
    assert client.desk.change_count(client.desk.newest_entry) == 0
    client.send(**{"burner[2].name": "rear tube"})
    changed = client.desk.changed_keys(client.desk.newest_entry)
    assert changed == {"burner[2].name", "carry_over[1].to"}


def test_gases_of_two_families_are_taken_apart_by_one_button(tmp_path: Path) -> None:
    """Families of EN 437:2003: G20 is of the second, G31 of the third; no orifice serves both."""
    (tmp_path / "stove.toml").write_text(TWO_GASES, encoding="utf-8")
    client = DeskClient(Desk(tmp_path / "stove.toml"))
    text = client.look().text
    assert "G20 and G31 need two sets of orifices" in text
    assert "Make G31 a market of its own" in text
    after = client.send(act="apart A").text
    assert "two sets of orifices" not in after
    values = client.desk.newest_entry.text.values()
    assert (values["market[1].supply[1].gas"], values["market[2].supply[1].gas"]) == ("G20", "G31")
    assert values["market[2].supply[1].pressure"] == "37 mbar"
    assert not any(key.startswith(("market[1].supply[2]", "market[2].supply[2]")) for key in values)
    assert re.search(r'id="orifice-1-B-mark"[^>]*>[^<]', after)


def test_gases_of_one_family_stay_together(tmp_path: Path) -> None:
    (tmp_path / "stove.toml").write_text(
        TWO_GASES.replace("G20", "G30").replace("20 mbar", "29 mbar"), encoding="utf-8"
    )
    assert "two sets of orifices" not in DeskClient(Desk(tmp_path / "stove.toml")).look().text


def test_a_blank_page_says_what_is_an_example_and_what_is_calculated(folder: Path) -> None:
    client = DeskClient(Desk(None))
    client.look()
    text = client.send(**{"appliance.rating": "gross"}).text
    assert "Example values, overwrite them: gas now; pressure now; market 1, gas; " in text
    assert re.search(r"\d\.\d+ mm, calculated for its rate", text)
    sentence = re.search(r'id="state-sentence"[^>]*>([^<]*)', text)
    assert sentence is not None
    assert sentence[1].startswith("Flame not evaluated"), sentence[1]
    fields = [name for name in client.fields if name.startswith("burner[1].")]
    assert fields[:3] == ["burner[1].name", "burner[1].rate", "burner[1].count"]
    text = client.send(**{"burner[1].rate": "4 kW", "burner[1].count": "2"}).text
    assert "burner 1, rate of one" not in text
    assert "× 2" in text


def test_an_example_that_is_typed_again_is_the_users_own(folder: Path) -> None:
    """Papers wait for the values that nobody has typed."""
    client = DeskClient(Desk(None))
    client.look()
    client.type(**{"appliance.rating": "gross"})
    examples = client.desk.examples_of(client.desk.newest_entry)
    values = client.desk.newest_entry.text.values()
    for key in examples[:-1]:
        assert "No papers yet" in client.type(**{key: values[key]})["parts"]["papers"]
    found = client.type(**{examples[-1]: values[examples[-1]]})
    assert "/A/card" in found["parts"]["papers"]


@pytest.mark.parametrize("name", ["", "new.toml"])
def test_a_blank_page_asks_whether_rates_are_gross_or_net(folder: Path, name: str) -> None:
    """Net rates of G20 read as gross size every orifice for 10 % less: ISO 6976, net over gross 0.90."""
    client = DeskClient(Desk(folder / name if name else None))
    text = client.look().text
    assert "appliance.rating" not in client.desk.newest_entry.text.values()
    assert "First choose what the rates are, gross or net" in text
    assert "choose us or eu" not in text  # the next question; its note would lie over this one
    assert re.search(r'id="note-appliance.rating">rating basis missing: gross or net', text)
    assert re.search(r'<option value="" selected>choose</option>\s*<option>gross</option>', text)
    assert not re.search(r"\d mm, calculated for its rate", text)
    rates = {"burner[1].rate": "3.5 kW", "supply.gas": "G20", "supply.pressure": "20 mbar"}
    bores = {}
    for basis in ("gross", "net"):
        text = client.send(**rates, **{"appliance.rating": basis}).text
        found = re.search(r"(\d\.\d+) mm, calculated for its rate", text)
        assert found, basis
        bores[basis] = float(found[1])
    ratio = (bores["gross"] / bores["net"]) ** 2
    assert ratio == pytest.approx(0.90, abs=0.01)  # ISO 6976: methane 35.8 over 39.8 MJ/m3 (memory)


def test_a_blank_page_asks_where_it_is_sold_and_refuses_nothing(folder: Path) -> None:
    client = DeskClient(Desk(None))
    client.look()
    page = client.send(**{"appliance.rating": "net"})
    assert page.status_code == 200
    assert "Sold in: choose us or eu" in page.text
    assert 'id="note-appliance.region">choose us or eu' in page.text
    assert "choose us or eu" not in client.send(**{"appliance.region": "eu"}).text


def test_a_file_without_a_region_is_not_asked_for_it(client: DeskClient) -> None:
    assert "choose us or eu" not in client.look().text


OWN = {"appliance.rating": "net", "supply.gas": "G25", "supply.pressure": "25 mbar", "burner[1].rate": "4 kW"}


def test_no_paper_is_made_while_an_example_value_stands(folder: Path) -> None:
    client = DeskClient(Desk(None))
    client.look()
    page = client.send(**OWN)
    assert page.status_code == 200
    assert "/papers/" not in page.text
    assert "No papers yet. Example values, overwrite them: market 1, gas; market 1, pressure." in page.text
    parts = client.type(**{"burner[1].rate": "4.1 kW"})["parts"]
    assert "/papers/" not in parts["papers"]
    paper = f"/papers/{client.form['base']}/A/card"
    answer = client.request("GET", paper)
    assert answer.status_code == 409
    assert "market 1, gas" in answer.text
    own = {"market[1].supply[1].gas": "G31", "market[1].supply[1].pressure": "30 mbar"}
    assert "/papers/" in client.send(**own).text


def test_a_new_burner_has_no_rate_until_it_is_typed(folder: Path) -> None:
    client = DeskClient(Desk(None))
    page = client.look().text
    assert '<details class="more" open' not in page  # four more stops of TAB on the way to the next field
    page = client.send(act="add burner", **OWN).text
    assert (client.fields["burner[2].name"], client.fields["burner[2].rate"]) == ("burner 2", "")
    assert "One entry is still needed" in page


@pytest.mark.parametrize(
    ("region", "lists"), [("us", "number, letter, fraction"), ("eu", "metric, hundredth")]
)
def test_the_drills_stand_on_the_first_page(folder: Path, region: str, lists: str) -> None:
    client = DeskClient(Desk(None))
    client.look()
    page = client.send(**{REGION: region, "limits.drills": "number, 1.40 mm"}).text
    assert f'drills you have<span class="aside">, if blank {lists}</span>' in page
    assert client.fields["limits.drills"] == "number, 1.40 mm"
    assert client.desk.newest_entry.text.values()["limits.drills"] == "number, 1.40 mm"


def test_an_example_that_is_right_is_taken_by_a_button(folder: Path) -> None:
    client = DeskClient(Desk(None))
    client.look()
    assert 'value="accept"' in client.send(**OWN).text
    page = client.send(act="accept")
    assert "/papers/" in page.text
    assert "Example values" not in page.text
    page = client.send(act="add market")  # of the same examples, which are the user's by now
    assert "/papers/" in page.text
    assert "/papers/" not in client.send(**{"burner[1].rate": "3.5 kW"}).text  # an example nobody took


@pytest.mark.parametrize(
    ("system", "pressure", "rate"), [("metric", "20 mbar", "3.5 kW"), ("US", "7 in w.c.", "12 kBtu/h")]
)
def test_examples_of_a_blank_page_are_in_the_units_of_its_reader(
    folder: Path, system: System, pressure: str, rate: str
) -> None:
    """Usual pressures: EN 437 (20 mbar, second family H) and common practice, no source (7 in w.c.)."""
    client = DeskClient(Desk(None, system=system))
    text = client.look().text
    assert (client.fields["supply.pressure"], client.fields["burner[1].rate"]) == (pressure, rate)
    text = client.send(**{"supply.pressure": "", "burner[1].rate": ""}).text
    hints = re.findall(r'id="note-(?:supply.pressure|burner\[1\].rate)">([^<]*)', text)
    assert len(hints) == 2
    foreign = ("w.c.", "Btu") if system == "metric" else ("mbar", "kW")
    assert not any(unit in hint for hint in hints for unit in foreign), hints
    text = client.send(**{"appliance.region": "eu"}).text
    hints = re.findall(r'id="note-(?:supply.pressure|burner\[1\].rate)">([^<]*)', text)
    assert "20 mbar" in hints[0]
    assert "3.5 kW" in hints[1]


@pytest.mark.parametrize(
    ("system", "region", "supply"),
    [("US", "eu", ("G20", "20 mbar")), ("metric", "us", ("natural-gas-typical", "7 in w.c."))],
)
def test_examples_that_nobody_changed_follow_the_region_and_what_was_typed_stays(
    folder: Path, system: System, region: str, supply: tuple[str, str]
) -> None:
    client = DeskClient(Desk(None, system=system))
    client.look()
    client.type(**{"burner[1].rate": "3.6 kW"})
    found = client.type(**{"appliance.region": region})
    names = ("supply.gas", "supply.pressure")
    assert tuple(found["values"][one] for one in names) == supply  # what the script puts into the fields
    assert "burner[1].rate" not in found["values"]
    page = client.look("/")
    assert tuple(client.fields[one] for one in names) == supply
    assert client.fields["burner[1].rate"] == "3.6 kW"
    client.send(**{"supply.pressure": "25 mbar"})
    client.send(**{"appliance.region": "us" if region == "eu" else "eu"})
    assert client.fields["supply.pressure"] == "25 mbar"
    assert client.fields["supply.gas"] != supply[0]
    assert page.text.index("Leaking gas can explode") < page.text.index("CO kills without smell")
    assert page.text.index("CO kills without smell") < page.text.index('id="head-burners"')


def test_a_value_typed_as_the_example_of_the_other_region_is_the_users_own(folder: Path) -> None:
    client = DeskClient(Desk(None, system="US"))
    client.look()
    client.send(**{"burner[1].rate": "3.5 kW"})
    client.send(**{"appliance.region": "eu"})
    assert client.fields["burner[1].rate"] == "3.5 kW"
    assert "burner[1].rate" not in client.desk.examples_of(client.desk.newest_entry)


def test_a_region_chooses_the_units_unless_the_reader_has(folder: Path) -> None:
    """North American trade prints Btu/h and in w.c., European kW and mbar (common practice, no source)."""
    client = DeskClient(Desk(None))
    client.look()
    client.send(**{"appliance.rating": "gross"})
    assert client.form["units"] == "metric"
    page = client.send(**{REGION: "us"})
    assert client.form["units"] == "US"
    assert "Btu/h" in page.text
    assert client.send(act="undo").url.params["units"] == "metric"
    assert client.send(**{REGION: "eu"}).url.params["units"] == "metric"
    assert client.send(act="units US").url.params["units"] == "US"  # chosen: no region changes it
    client.send(**{REGION: "us"})
    assert client.send(**{REGION: "eu"}).url.params["units"] == "US"
    assert client.type(**{REGION: "us"})["units"] == "US"
    chosen = DeskClient(Desk(folder / "other.toml", preferred_units="metric"))
    chosen.look()
    assert chosen.send(**{REGION: "us"}).url.params["units"] == "metric"


def test_a_file_of_a_region_opens_in_its_units(tmp_path: Path) -> None:
    path = tmp_path / "stove.toml"
    path.write_text(SMALL.replace("rating =", 'region = "us"\nrating ='), encoding="utf-8")
    assert DeskClient(Desk(path)).look().url.params["units"] == "US"


def test_the_page_of_a_defect_says_where_the_entries_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page that fails after the file was written does not say that nothing was."""
    client = DeskClient(Desk(written(tmp_path)))
    client.look()
    client.form["window"] = "this one"  # so that it may write on, although it has seen no page since
    monkeypatch.setattr(desk_file, "DRAFT_SECONDS", 0.0)
    with monkeypatch.context() as broken:
        broken.setattr(desk_pages, "desk_page", lambda *_, **__: 1 / 0)
        answer = client.send("/save", **{"burner[1].rate": "13 kBtu/h"})
        assert answer.status_code == 500
        assert "What the desk took last is in stove.toml." in answer.text
        answer = client.send("/edit", **{"burner[1].rate": "14 kBtu/h"})
        assert "not in stove.toml, but in the draft stove.draft.toml in the same folder" in answer.text
        draft = tmp_path / "stove.draft.toml"
        assert "14 kBtu/h" in draft.read_text(encoding="utf-8")
        draft.unlink()
        assert "neither in stove.toml nor in the draft" in client.look("/").text
    assert "13 kBtu/h" in (tmp_path / "stove.toml").read_text(encoding="utf-8")


def test_what_is_said_of_the_file_is_true(tmp_path: Path) -> None:
    path = written(tmp_path)
    client = DeskClient(Desk(path))
    assert "as in the file" in client.look().text
    assert "not saved; a draft is kept" in client.send(**{"burner[1].rate": "13 kBtu/h"}).text
    assert "as in the file" in client.send("/save").text
    path.write_text(SMALL, encoding="utf-8")
    assert "as last saved; the file was changed outside since" in client.look().text
    assert "nothing typed yet" in DeskClient(Desk(tmp_path / "new.toml")).look().text


@pytest.mark.parametrize(
    ("key", "typed", "readings"),
    [
        ("burner[1].rate", "12500", ["12500 Btu/h"]),
        ("burner[1].rate", "12.5", ["12.5 kBtu/h"]),
        ("supply.pressure", "7", ["7 in w.c."]),
        ("market[1].altitude", "2240", ["2240 m", "2240 ft"]),
        ("burner[1].ports.diameter", "52", ["#52"]),
        ("burner[1].throat", "0.6", ["0.6 in"]),
        ("burner[1].orifice.drill", "1/16", ["1/16 in"]),
        ("burner[1].shutter.opening", "66", ["66 %"]),
        ("burner[1].turndown", "0", []),
        ("burner[1].turndown", "3", ["1:3"]),
        ("burner[1].turndown", "0.3", ["30 %"]),
        ("burner[1].turndown", "4000", ["4000 Btu/h"]),
        ("limits.drills", "1.4, 1.45", ["1.4 mm, 1.45 mm"]),
        ("limits.drills", "54, letter", ["#54, letter", "0.54 mm, letter"]),
        ("burner[1].rate", "10,000 Btu/h", ["10000 Btu/h"]),
        ("supply.gas", "natural gas", ["natural-gas-typical", "natural-gas-us-mean", "G20"]),
    ],
)
def test_what_an_entry_may_mean_is_one_press_away(
    tmp_path: Path, key: str, typed: str, readings: list[str]
) -> None:
    """A unit that is missing, or a name like it: each that reads, and no file of the disk."""
    client = DeskClient(Desk(written(tmp_path)))
    client.look()
    found = client.type(**{key: typed})
    assert found["status"] == 422
    assert found["readings"].get(key, []) == readings
    assert "LIBRARY" not in found["wrong"][key]
    assert "10.000" not in found["wrong"][key]  # no reading that the field would refuse
    for number, text in enumerate(readings, start=1):
        page = client.send(act=f"read {number} {key}", **{key: typed})
        assert page.status_code == 200
        assert client.desk.newest_entry.text.values()[key] == text


@pytest.mark.parametrize(
    ("region", "key", "typed", "readings"),
    [
        ("us", "burner[2].throat", "17", ["17 mm"]),  # 17 in is no throat
        ("us", "burner[2].throat", "0.75", ["0.75 in"]),
        ("us", "burner[2].ports.diameter", "17", ["#17", "17 mm"]),
        ("us", "burner[2].ports.diameter", "1.6", ["1.6 mm"]),  # as typed: not the twin of an example
        ("us", "burner[2].place[1].x", "17", ["17 in", "17 mm"]),
        ("eu", "burner[2].place[1].x", "170", ["170 mm"]),
        ("us", "burner[2].orifice.drill", "54", ["#54"]),
        ("eu", "burner[2].orifice.drill", "54", ["0.54 mm", "#54"]),  # as injectors are marked
        ("eu", "burner[2].orifice.drill", "140", ["1.40 mm"]),
        ("us", "supply.altitude", "5280", ["5280 ft", "5280 m"]),
        ("us", "supply.gas_temperature", "60", ["60 F", "60 C"]),
        ("us", "burner[2].body.mass", "8", ["8 lb", "8 kg"]),
    ],
)
def test_a_bare_number_is_first_what_fits_its_field_and_region(
    tmp_path: Path, region: str, key: str, typed: str, readings: list[str]
) -> None:
    path = written(tmp_path)
    text = SMALL.replace("[supply]", f'region = "{region}"\n\n[supply]').replace("#5", "#F5")
    path.write_text(re.sub(r"(ports|throat|shutter|orifice) .*\n", "", text), encoding="utf-8")
    client = DeskClient(Desk(path))
    client.look()
    assert client.type(**{key: typed})["readings"].get(key, []) == readings


@pytest.mark.parametrize(
    ("key", "typed", "readings"),
    [
        ("burner[1].rate", "12,5 kBtu/h", ("12.5 kBtu/h",)),
        ("burner[1].rate", "1,250 kBtu/h", ("write 1.250 kBtu/h",)),
        ("supply.pressure", "7,500 in w.c.", ("write 7.500 in w.c.",)),
        ("burner[1].ports.count", "1,250", ("1250", "1.250 is no whole number")),
        ("burner[1].ports.diameter", "1,6 mm", ("1.6 mm",)),
        ("limits.drills", "1,40 mm, #54", ("1.40 mm",)),
        ("supply.regulator.inlet_effect", "0,005", ("0.005",)),
    ],
)
def test_a_decimal_comma_is_refused_at_its_field(
    tmp_path: Path, key: str, typed: str, readings: tuple[str, ...]
) -> None:
    client = DeskClient(Desk(written(tmp_path)))
    client.look()
    found = client.type(**{key: typed})
    assert "point as decimal mark" in found["wrong"][key]
    assert all(one in found["wrong"][key] for one in readings)
    assert client.desk.newest_entry.text.values()[key] == typed
    offered = COMMAS[typed]
    assert found["readings"].get(key, []) == offered
    page = client.look(found["address"]).text
    for number, text in enumerate(offered, start=1):
        assert f'name="act" value="read {number} {key}"' in page or key not in client.fields
        assert client.type(**{key: text})["wrong"] == {}
    if key in client.fields:
        client.send(**{key: typed})
        client.send(act=f"read 1 {key}")
        assert client.desk.newest_entry.text.values()[key] == offered[0]


COMMAS = {
    "12,5 kBtu/h": ["12.5 kBtu/h"],
    "1,250 kBtu/h": ["1.250 kBtu/h"],  # 1250 is above every burner that is read
    "7,500 in w.c.": ["7.500 in w.c."],
    "1,250": ["1250"],
    "1,6 mm": ["1.6 mm"],
    "1,40 mm, #54": ["1.40 mm, #54"],
    "0,005": ["0.005"],
}
"""The readings of each text that its key takes, to tap."""


def test_a_flame_that_is_not_evaluated_says_what_to_enter(tmp_path: Path) -> None:
    client = DeskClient(Desk(written(tmp_path)))
    text = client.look().text
    sentence = re.search(r'id="state-sentence">([^<]*)', text)
    assert sentence is not None
    assert "Flame not evaluated: right tube (ports not given: enter ports" in sentence[1]
    assert "Light-back of the hot burner not evaluated: left tube (" in sentence[1]
    assert "describe the body" in sentence[1]


OF_TWO_REGIONS = (
    SMALL.replace("[appliance]\n", '[appliance]\nregion = "eu"\n', 1)
    .replace("gross", "net")
    .replace(
        "[[burner]]",
        '[[market]]\nname = "uplands"\nregion = "us"\naltitude = "5280 ft"\n'
        'altitude_policy = "4-percent-from-sea-level"\nsupply = { gas = "propane", pressure = "11 in w.c." }\n\n'
        "[[burner]]",
        1,
    )
)
OWN_RULES = """\
policy,title,from_ft,to_ft,counted_from_ft,per_1000ft,step,beyond,source,place,provenance,note
plant,3 % everywhere,,,0,0,0.03,,altitude-variant-2000,rule of the plant,common practice,
none,kept,,,0,0,0,,altitude-none,no rule applied,definition,
"""


def choices_of(page: str, key: str) -> list[tuple[str, list[str]]]:
    """The groups of a choice, each with its options as they are read."""
    select = re.search(rf'<select id="{re.escape(key)}".*?</select>', page, re.DOTALL)
    assert select is not None
    groups = re.findall(r'<optgroup label="([^"]*)">(.*?)</optgroup>', select[0], re.DOTALL)
    return [(label, re.findall(r"<option[^>]*>([^<]*)", options)) for label, options in groups]


def test_an_altitude_rule_is_chosen_with_what_it_means(tmp_path: Path) -> None:
    """Rules of the region first, for a market of another region its own; a table of the user's takes their place."""
    path = tmp_path / "stove.toml"
    path.write_text(OF_TWO_REGIONS, encoding="utf-8")
    page = DeskClient(Desk(path)).look().text
    here, there = (choices_of(page, key) for key in ("limits.altitude_policy", "market[2].altitude_policy"))
    assert [label for label, _ in here] == ["any place; no rule of this region is known here"]
    assert here[0][1] == ["none: full rating kept: larger bores at altitude"]
    assert [label for label, _ in there] == ["North America", "any place"]
    meaning = "4-percent-from-sea-level: 4 % per 1000 ft, counted from sea level, above 2000 ft"
    assert there[0][1][0] == meaning
    assert '<option value="" selected>not given: bores for sea level</option>' in page
    assert '<option value="4-percent-from-sea-level" selected>' in page
    (tmp_path / "rules.csv").write_text(OWN_RULES, encoding="utf-8")
    text = OF_TWO_REGIONS.replace("4-percent-from-sea-level", "plant")
    path.write_text(f'{text}\n[tables]\naltitude_policies = "rules.csv"\n', encoding="utf-8")
    own = choices_of(DeskClient(Desk(path)).look().text, "market[2].altitude_policy")
    assert own == [
        (
            "any place; no rule of this region is known here",
            ["plant: 3 % everywhere", "none: full rating kept: larger bores at altitude"],
        )
    ]


def test_a_region_brings_its_altitude_rules_at_once_and_doubts_those_of_another(tmp_path: Path) -> None:
    """The page is loaded anew, since what its choices offer follows the region; any other edit keeps it."""
    path = tmp_path / "stove.toml"
    path.write_text(OF_TWO_REGIONS, encoding="utf-8")
    client = DeskClient(Desk(path))
    client.look()
    found = client.type(**{"burner[1].count": "3"})
    assert (found["anew"], found["lines"]["line-times-1"]) == (False, "× 3 · ")
    assert "market[2].altitude_policy" not in found["queries"]
    found = client.type(**{"market[2].region": "eu"})
    assert found["anew"]
    assert found["queries"]["market[2].altitude_policy"].startswith(
        "a rule of North America, not of this region"
    )
    rules = choices_of(client.look(found["address"]).text, "market[2].altitude_policy")
    assert [label for label, _ in rules] == [
        "any place; no rule of this region is known here",
        "North America",  # of the rule that the file has
    ]


def test_a_market_of_another_region_has_its_words_on_its_papers_alone(tmp_path: Path) -> None:
    path = tmp_path / "stove.toml"
    path.write_text(OF_TWO_REGIONS, encoding="utf-8")
    client = DeskClient(Desk(path))
    page = client.look().text
    assert "overload" in page
    assert "overfire a" not in page
    card = {at: client.request("GET", f"/papers/{client.desk.newest}/{at}/card").text for at in "AB"}
    assert "overload a burner" in card["A"]
    assert "overfire a burner" in card["B"]
    assert "injector" not in card["B"].replace("injectors of one drawing", "")
