"""Two windows on one draft, and a file that another program changed: nothing is written over without a word."""

from __future__ import annotations

from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from desk_client import BASE, HIDDEN, SMALL, DeskClient, served, written

from burnerlab.page import desk_file
from burnerlab.page.desk_state import Desk

if TYPE_CHECKING:
    from playwright.sync_api import Page

RATE, RIGHT = "burner[1].rate", "burner[2].rate"
LOOKS_AGAIN_ms = 5000  # an open page asks for what is newest more often


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return written(tmp_path)


@pytest.fixture
def windows(path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[DeskClient, DeskClient]:
    """Two windows of one desk, at the text of its file; drafts are written at once."""
    monkeypatch.setattr(desk_file, "DRAFT_SECONDS", 0.0)
    first, second = DeskClient(Desk(path)), DeskClient(Desk(path))
    second.desk, second.app = first.desk, first.app
    for number, one in enumerate((first, second)):
        one.look()
        one.form["window"] = f"window-{number}"
    return first, second


def values(desk: Desk) -> dict[str, str]:
    return desk.newest_entry.text.values()


def told(one: DeskClient) -> dict[str, str]:
    """What an open page asks for every few seconds."""
    names = ("window", "file")
    answer = one.request(
        "GET", f"/newest/{one.form['base']}", params={name: one.form[name] for name in names}
    )
    found: dict[str, str] = answer.json()
    return found


def test_a_window_behind_writes_nothing_and_both_are_told(windows: tuple[DeskClient, DeskClient]) -> None:
    first, second = windows
    first.type(**{RATE: "13 kBtu/h"})
    kept = first.desk.draft.path.read_text(encoding="utf-8")
    found = second.type(**{RIGHT: "15 kBtu/h"})
    assert found["status"] == 409
    assert "left tube, rate: 12.5 kBtu/h → 13 kBtu/h" in found["behind"]
    assert found["newest"].startswith(f"/at/{first.desk.newest}")
    assert first.desk.draft.path.read_text(encoding="utf-8") == kept
    assert (values(first.desk)[RATE], values(first.desk)[RIGHT]) == ("13 kBtu/h", "14.5 kBtu/h")
    to_first, to_second = map(told, windows)
    assert "was not taken (right tube, rate of one)" in to_first["words"]
    assert "left tube, rate: 12.5 kBtu/h → 13 kBtu/h" in to_second["words"]
    assert to_second["address"]


@pytest.mark.parametrize("act", ["undo", "add burner", "remove market 1", "copy burner 1"])
def test_an_act_of_a_window_behind_is_not_taken(windows: tuple[DeskClient, DeskClient], act: str) -> None:
    first, second = windows
    first.type(**{RATE: "13 kBtu/h"})
    newest = first.desk.newest
    assert second.send(act=act).status_code == 409
    assert first.desk.newest == newest


def test_without_script_what_was_typed_is_put_into_the_newest_text(path: Path) -> None:
    first = DeskClient(Desk(path))
    second = DeskClient(first.desk)
    first.look()
    second.look()
    first.send(**{RATE: "13 kBtu/h"})
    page = second.send(**{RIGHT: "15 kBtu/h", RATE: "11 kBtu/h"})
    assert page.status_code == 409
    assert "another window wrote in this draft" in page.text
    assert "13 kBtu/h, of the other window" in page.text
    fields = {name: unescape(value) for name, value in HIDDEN.findall(page.text)}
    joined = second._seen(second.request("POST", "/edit", data=fields, headers={"origin": BASE}))
    assert joined.status_code == 200
    assert (values(first.desk)[RATE], values(first.desk)[RIGHT]) == ("11 kBtu/h", "15 kBtu/h")
    late = first.look(f"/at/{first.form['base']}")
    assert "Another window or a later page wrote in this draft" in late.text


def test_what_was_typed_is_not_put_beside_another_burner(path: Path) -> None:
    """After a burner went, its number is that of another one."""
    first = DeskClient(Desk(path))
    second = DeskClient(first.desk)
    first.look()
    second.look()
    first.send(act="copy burner 1")
    page = second.send(**{RIGHT: "15 kBtu/h"})
    assert page.status_code == 409
    assert "other names or numbers" in page.text
    assert f'name="{RIGHT}"' not in page.text


def test_saving_from_a_window_behind_leaves_file_and_draft(
    windows: tuple[DeskClient, DeskClient], path: Path
) -> None:
    first, second = windows
    first.type(**{RATE: "13 kBtu/h"})
    assert second.send("/save").status_code == 409
    assert path.read_text(encoding="utf-8") == SMALL
    assert "13 kBtu/h" in first.desk.draft.path.read_text(encoding="utf-8")


def test_a_window_that_saw_the_newest_text_goes_on(
    windows: tuple[DeskClient, DeskClient], path: Path
) -> None:
    first, second = windows
    first.send("/save", **{RATE: "13 kBtu/h"})
    file = second.form["file"]
    second.look(f"/at/{first.desk.newest}?file={file}")
    assert (
        second.send("/save", **{RIGHT: "15 kBtu/h"}).status_code == 200
    )  # the file is as this desk wrote it
    text = path.read_text(encoding="utf-8")
    assert "13 kBtu/h" in text
    assert "15 kBtu/h" in text


def test_an_answer_that_a_window_gave_up_is_no_other_window(windows: tuple[DeskClient, DeskClient]) -> None:
    """The script drops an answer when more is typed, and sends all of it again on the text it knows."""
    first, _ = windows
    base = first.form["base"]
    first.type(**{RATE: "1"})
    first.form["base"] = base
    assert first.type(**{RATE: "13 kBtu/h"})["status"] == 200


def test_the_same_value_typed_here_settles_a_change_outside(
    windows: tuple[DeskClient, DeskClient], path: Path
) -> None:
    first, _ = windows
    outside = SMALL.replace("14.5 kBtu/h", "15 kBtu/h").replace("# where it is sold", "# sold there")
    path.write_text(outside, encoding="utf-8")
    assert first.send("/save", **{RATE: "13 kBtu/h"}).status_code == 409
    page = first.look(f"/at/{first.desk.newest}?file={first.form['file']}")
    assert "was changed by another program" in page.text
    assert first.send("/save", **{RIGHT: "15 kBtu/h"}).status_code == 200
    assert path.read_text(encoding="utf-8") == outside.replace("12.5 kBtu/h", "13 kBtu/h")


def test_two_desks_on_one_file_keep_each_their_draft(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(desk_file, "DRAFT_SECONDS", 0.0)
    first, second = DeskClient(Desk(path)), DeskClient(Desk(path))
    first.look()
    second.look()
    first.send(**{RATE: "13 kBtu/h"})
    kept = first.desk.draft.path.read_text(encoding="utf-8")
    page = second.send(**{RIGHT: "15 kBtu/h"})
    assert "another desk on this file keeps its own draft" in page.text
    assert first.desk.draft.path.read_text(encoding="utf-8") == kept
    second.send("/save")
    assert first.desk.draft.path.read_text(encoding="utf-8") == kept


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    path = written(tmp_path_factory.mktemp("windows"))
    yield from ((address, path) for address in served(path))


def rate(page: Page, name: str) -> Any:
    return page.locator(f'[name="{name}"]')


@pytest.mark.browser
def test_two_windows_in_a_browser(visit: Any, desk: tuple[str, Path]) -> None:
    """The second is told before anything is typed; what was typed at the same moment is put into the newest text."""
    first, second = visit("desk").page, visit("phone", touch=True).page
    first.clock.install()  # it goes on by itself, and is put forward to when the page looks again
    first.goto(f"{desk[0]}/file")
    second.goto(desk[0])
    second.locator("#burner-2 summary").tap()
    rate(first, RATE).fill("13 kBtu/h")
    first.wait_for_selector("input.changed")
    rate(second, RIGHT).fill("15 kBtu/h")
    second.wait_for_selector("#others:not([hidden])")
    assert "left tube, rate: 12.5 kBtu/h → 13 kBtu/h" in second.locator("#others").inner_text()
    assert second.locator(".kept").inner_text() == "not taken: another window wrote since"
    first.clock.fast_forward(LOOKS_AGAIN_ms)
    first.wait_for_selector("text=was not taken (right tube, rate of one)", timeout=9000)
    second.locator("#others a").tap()
    second.wait_for_selector(f'[name="{RIGHT}"].changed', state="attached")
    assert rate(second, RATE).input_value() == "13 kBtu/h"
    assert rate(second, RIGHT).input_value() == "15 kBtu/h"
    first.clock.fast_forward(LOOKS_AGAIN_ms)
    first.wait_for_selector("text=right tube, rate: 14.5 kBtu/h → 15 kBtu/h", timeout=9000)
    first.locator("#others a").click()
    first.wait_for_selector("#others", state="hidden")
    assert rate(first, RIGHT).input_value() == "15 kBtu/h"


@pytest.mark.browser
def test_a_value_that_both_typed_is_said_and_not_put_in(visit: Any, desk: tuple[str, Path]) -> None:
    first, second = visit("desk").page, visit("desk").page
    first.goto(f"{desk[0]}/file")
    second.goto(desk[0])
    rate(first, RATE).fill("13 kBtu/h")
    first.wait_for_selector("input.changed")
    rate(second, RATE).fill("11 kBtu/h")
    second.wait_for_selector("#others:not([hidden])")
    second.keyboard.press("Tab")  # the way out is the next stop, not a hundred further up
    second.wait_for_selector("#newest-here:focus")
    second.keyboard.press("Enter")
    second.wait_for_selector("#left")
    assert "11 kBtu/h (here 13 kBtu/h)" in second.locator("#left").inner_text()
    assert rate(second, RATE).input_value() == "13 kBtu/h"
