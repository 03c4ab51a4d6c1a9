"""A gas of the user's own on the desk: by its parts, by the name of the file's [gas], never by a new name of a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from desk_client import SMALL, DeskClient, served, written

from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.page.desk_state import Desk

if TYPE_CHECKING:
    from playwright.sync_api import Page

MARKET_GAS = "market[1].supply[1].gas"
PARTS = "mix:methane=0.9, ethane=0.1"
OWN = '[gas]\nname = "our gas"\ncomposition = { methane = 0.9, ethane = 0.1 }\nper = "mole"\n'
SMALL_WITH_OWN = SMALL.replace('gas = "propane"', 'gas = "our gas"') + OWN
LIBRARY = {
    "about.toml": 'source = "laboratory of the works"\n',
    "gases.toml": '["batch 7"]\ncomposition = { methane = 1 }\nper = "mole"\nsource = "x"\nprovenance = "seen"\n',
}


def client_of(folder: Path, text: str = SMALL) -> DeskClient:
    (folder / "works").mkdir(parents=True)
    path = written(folder)
    path.write_text(text, encoding="utf-8")
    for name, content in LIBRARY.items():
        (folder / "works" / name).write_text(content, encoding="utf-8")
    client = DeskClient(Desk(path))
    client.look()
    return client


def gas_of_market(client: DeskClient) -> Any:
    appliance = client.desk.newest_entry.appliance
    assert appliance is not None
    return appliance.markets[0].supply[0].gas


def test_a_market_has_a_gas_by_its_parts(tmp_path: Path) -> None:
    client = client_of(tmp_path)
    assert client.type(**{MARKET_GAS: PARTS})["status"] == 200
    assert gas_of_market(client).composition.as_dict() == {"methane": 0.9, "ethane": 0.1}
    page = client.look()
    assert "methane 0.9, ethane 0.1 (per mole)" in page.text
    assert f'<option value="{PARTS}">in this file</option>' in page.text
    client.send("/save")
    assert f'gas = "{PARTS}"' in (tmp_path / "stove.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "gas",
    [
        "mix:methane=0.9",
        "mix:",
        "mix:methan=1",
        "mix:methane=1, per=x",
        "mix:methane=1.1, ethane=-0.1",
        "our gas",
    ],
)
def test_what_is_no_gas_yet_stands_in_the_text_and_says_how_one_is_written(tmp_path: Path, gas: str) -> None:
    client = client_of(tmp_path)
    found = client.type(**{MARKET_GAS: gas})
    assert found["status"] == 422
    assert "refused" not in found
    assert found["wrong"][MARKET_GAS]
    if gas == "our gas":
        assert "mix: methane = 0.9, ethane = 0.1" in found["wrong"][MARKET_GAS]


@pytest.mark.parametrize(
    "gas", ["works:batch 7", "mix:own.toml=1", "own.toml", "mix:OWN.TOML=0.5, methane=0.5"]
)
def test_no_page_names_a_file_of_the_disk(tmp_path: Path, gas: str) -> None:
    client = client_of(tmp_path)
    assert "names a file of the disk" in client.type(**{MARKET_GAS: gas})["refused"]


def test_a_gas_of_a_folder_that_the_file_names_may_be_given_to_another_market(tmp_path: Path) -> None:
    client = client_of(tmp_path, SMALL.replace('gas = "propane"', 'gas = "works:batch 7"'))
    assert gas_of_market(client).name.endswith("works:batch 7")
    client.send(act="add market")
    assert client.type(**{"market[2].supply[1].gas": "works:batch 7"})["status"] == 200
    assert client.type(**{"market[2].supply[1].gas": "works:batch 8"})["refused"]


def test_a_market_has_the_gas_that_the_file_describes(tmp_path: Path) -> None:
    client = client_of(tmp_path)
    client.type(**{MARKET_GAS: "Our gas"})
    client.look()
    for key, text in {
        "gas.name": "our gas",
        "gas.composition": "methane = 0.9, ethane = 0.1",
        "gas.per": "mole",
    }.items():
        found = client.type(**{key: text})
    assert found["status"] == 200
    assert gas_of_market(client).name == "our gas"
    assert client.desk.newest_entry.appliance.supply.gas.name == "natural-gas-typical"
    assert '<option value="our gas">own gas of this file</option>' in client.look().text


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        (SMALL + OWN, "supply.gas", 'a [gas] table that no market names: "our gas"'),
        (SMALL + OWN.replace("our gas", "Propane"), MARKET_GAS, "names a gas of the library and the one of [gas]"),
        (SMALL_WITH_OWN.replace("per =", "note ="), "gas.composition per", "state"),
    ],
)  # fmt: skip
def test_two_gases_are_never_taken_for_one(text: str, key: str, words: str) -> None:
    problems = ProjectText(text).content().problems
    assert [problem.key for problem in problems] == [key]
    assert words in problems[0].what


def test_two_mixes_are_two_gases(tmp_path: Path) -> None:
    """Plans, tables and comparisons know a gas by its name."""
    parts = (
        "methane=0.9, ethane=0.03, propane=0.01, n-butane=0.01, nitrogen=0.03, carbon dioxide={}, helium={}"
    )
    names = set()
    for carbon, helium in ((0.01, 0.01), (0.015, 0.005)):
        client = client_of(tmp_path / str(carbon))
        client.type(**{MARKET_GAS: f"mix:{parts.format(carbon, helium)}"})
        names.add(gas_of_market(client).name)
    assert len(names) == 2
    assert all("methane 0.9 and 6 more" in name for name in names)


@pytest.mark.browser
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_an_analysis_is_typed_and_saved(visit: Any, tmp_path: Path, size: str) -> None:
    from playwright.sync_api import expect

    path = written(tmp_path)
    for address in served(path):
        page: Page = visit(size, touch=size == "phone").page
        page.goto(address)
        field = page.locator(f'[name="{MARKET_GAS}"]')
        if size == "phone":
            page.locator(".markets > details > summary").tap()
            page.locator("#market-1 > summary").tap()
            field.tap()
        else:
            field.focus()
        page.keyboard.press("ControlOrMeta+A")
        page.keyboard.type(PARTS)
        expect(page.locator("#market-A")).to_contain_text("methane 0.9, ethane 0.1 (per mole)")
        expect(page.locator("#lost")).to_be_hidden()
        expect(page.locator(f'[id="note-{MARKET_GAS}"]')).to_be_empty()
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        page.get_by_role("button", name="Save").click()
        page.wait_for_selector("text=Saved.")
    assert path.read_text(encoding="utf-8") == SMALL.replace('gas = "propane"', f'gas = "{PARTS}"')
