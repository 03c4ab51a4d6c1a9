"""Own orifices on the desk: a stock is chosen among the files beside the project file, or named at the start."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from axe_findings import axe_findings
from desk_client import SMALL, DeskClient, served, written

from burnerlab.appliance import convert, read_appliance
from burnerlab.page.desk_state import Desk

if TYPE_CHECKING:
    from playwright.sync_api import Page

STOCK = "part,size\nK-100,1.00 mm\nK-107,1.07 mm\nK-115,1.15 mm\nK-097,0.97 mm\n"


def filled(tmp_path: Path) -> Path:
    """A folder with a project file, stocks beside it, and what must not be offered."""
    written(tmp_path)
    (tmp_path / "own.csv").write_text(STOCK, encoding="utf-8")
    (tmp_path / "semicolons.CSV").write_text("part;size\nK-1;1,40 mm\n", encoding="utf-8")
    (tmp_path / "readings.csv").write_text("time,power\n1,2\n", encoding="utf-8")
    (tmp_path / "wrong.csv").write_text("part,size\nK-100,1.00 mm\nK-101,#954\n", encoding="utf-8")
    (tmp_path / "slip.csv").write_text("part,size,prise\nK-100,1.00 mm,2\n", encoding="utf-8")
    (tmp_path / "a:b.csv").write_text(STOCK, encoding="utf-8")
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "deep.csv").write_text(STOCK, encoding="utf-8")
    (tmp_path / "link.csv").symlink_to(tmp_path / "below" / "deep.csv")
    return tmp_path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return filled(tmp_path)


@pytest.fixture
def client(folder: Path) -> DeskClient:
    return DeskClient(Desk(folder / "stove.toml"))


def options(page: str) -> list[str]:
    choice = page.split('<select id="stock"')[1].split("</select>", maxsplit=1)[0]
    return [one.split('value="')[1].split('"')[0] for one in choice.split("<option")[1:]]


def test_the_stocks_beside_the_file_are_offered_and_no_other(client: DeskClient) -> None:
    page = client.look().text
    assert options(page) == ["", "own.csv", "semicolons.CSV"]
    assert "own.csv: 4 orifices" in page
    assert "wrong.csv is none: line 3: " in page
    assert "slip.csv is none: line 1: prise is not a column of this table; did you mean price?" in page
    assert "readings.csv" not in page  # of another kind


def test_a_chosen_stock_is_written_undone_and_taken_out(client: DeskClient, folder: Path) -> None:
    before = client.desk.newest_entry.text.text
    page = client.look()
    assert "K-" not in page.text
    page = client.send(act="stock", stock="own.csv")
    assert "K-" in page.text
    assert '<option value="own.csv" selected>' in page.text
    text = client.desk.newest_entry.text.text
    assert all(line in text.splitlines() for line in before.splitlines())
    assert '[tables]\nstock = "own.csv"\n' in text
    client.send(act="undo")
    assert client.desk.newest_entry.text.text == before
    client.send(act="redo")
    assert client.send("/save").status_code == 200
    saved = read_appliance(folder / "stove.toml")
    assert saved.tables.stock == folder / "own.csv"
    parts = {b.part for b in convert(saved, "propane", "11 in w.c.").burners}
    assert parts <= {line.split(",")[0] for line in STOCK.splitlines()}
    assert all(part in page.text for part in parts)
    client.send(act="stock", stock="")
    assert client.desk.newest_entry.text.values() == client.desk.text_of(before).values()


@pytest.mark.parametrize(
    "name",
    [
        "below/deep.csv",
        "../own.csv",
        "/etc/passwd",
        "link.csv",
        "wrong.csv",
        "readings.csv",
        "a:b.csv",
        "gone.csv",
        "x" * 900,
    ],
)
def test_no_other_name_is_written(client: DeskClient, name: str) -> None:
    before = client.desk.newest_entry.text.text
    client.look()
    assert client.send(act="stock", stock=name).status_code == 422
    assert client.desk.newest_entry.text.text == before
    client.look()
    assert "names a file of the disk" in client.type(**{"tables.stock": "own.csv"})["refused"]


def test_the_list_stays_with_any_other_act_and_a_name_of_elsewhere_is_kept(
    client: DeskClient, folder: Path
) -> None:
    path = folder / "stove.toml"
    path.write_text(path.read_text("utf-8") + '\n[tables]\nstock = "below/deep.csv"\n', encoding="utf-8")
    page = client.look("/file").text
    assert options(page) == ["", "below/deep.csv", "own.csv", "semicolons.CSV"]
    client.send(stock="below/deep.csv", **{"burner[1].rate": "13 kBtu/h"})
    assert 'stock = "below/deep.csv"' in client.desk.newest_entry.text.text
    assert client.send(act="stock", stock="below/deep.csv").status_code == 200
    assert 'stock = "below/deep.csv"' in client.desk.newest_entry.text.text


def test_a_stock_of_the_start_stands_before_that_of_the_file_and_is_not_saved(folder: Path) -> None:
    desk = Desk(folder / "stove.toml", stock=folder / "own.csv")
    client = DeskClient(desk)
    page = client.look().text
    assert "K-" in page
    assert "of the option <code>--stock</code>" in page
    assert '<select id="stock"' not in page
    client.send("/save", **{"burner[1].rate": "13 kBtu/h"})
    assert "own.csv" not in (folder / "stove.toml").read_text(encoding="utf-8")
    compared = client.request("GET", f"/compare?a={desk.newest}&b={desk.newest}")
    assert compared.status_code == 200


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    path = filled(tmp_path_factory.mktemp("stocks")) / "stove.toml"
    yield from ((address, path) for address in served(path))


@pytest.mark.browser
@pytest.mark.parametrize(("size", "script"), [("desk", True), ("phone", False)])
def test_a_stock_is_chosen_by_keyboard(visit: Any, desk: tuple[str, Path], size: str, script: bool) -> None:
    from playwright.sync_api import expect

    page: Page = visit(size, script=script).page
    desk[1].write_text(SMALL, encoding="utf-8")
    page.goto(f"{desk[0]}/file")
    if size == "phone":
        page.locator("details.site summary").click()
    page.locator("#stock").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#stock")).to_have_value("own.csv")
    expect(page.locator("#orifice-1-A")).to_contain_text("K-")
    page.get_by_role("button", name="Save").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Saved.")
    assert 'stock = "own.csv"' in desk[1].read_text(encoding="utf-8")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    if script:
        assert not [one for one in axe_findings(page) if one["impact"] in ("moderate", "serious", "critical")]
