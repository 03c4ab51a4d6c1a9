"""The desk: edits, undo, saving, drafts, and what it refuses, page by page without a network."""

from __future__ import annotations

import errno
import gc
import json
import re
import signal
import subprocess
import sys
from html import unescape
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner
from desk_client import BASE, HIDDEN, DeskClient, written

from burnerlab.appliance import convert, demonstration_path, read_appliance
from burnerlab.bench.plan_file import read_plan
from burnerlab.bench.reading_plan import converted_for
from burnerlab.cli import main
from burnerlab.page import desk_file, desk_state
from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_app import warm_up
from burnerlab.page.desk_file import draft_of
from burnerlab.page.desk_pages import desk_page, first_look
from burnerlab.page.desk_state import MOST_ENTRIES, Desk
from burnerlab.page.security import Limiter
from burnerlab.quantity import System

MEDIA = {"": "text/html", "-pdf": "application/pdf", "-workbook": "spreadsheetml", "-csv": "text/csv"}
RATE, NAME = "burner[1].rate", "burner[1].name"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return written(tmp_path)


@pytest.fixture
def client(path: Path) -> DeskClient:
    """A desk at its first page, where the draft is written at every edit."""
    made = DeskClient(Desk(path))
    made.look()
    return made


@pytest.fixture(autouse=True)
def drafts_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(desk_file, "DRAFT_SECONDS", 0.0)


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> DeskClient:
    """A desk on which nothing is saved, shared by tests that only type."""
    made = DeskClient(Desk(written(tmp_path_factory.mktemp("desk"))))
    made.desk.gate.typing = Limiter(burst=10_000.0, per_second=1000.0)
    made.look()
    return made


@pytest.fixture
def typist(shown: DeskClient) -> DeskClient:
    """At the page of the file as it was read."""
    shown.look("/file")
    return shown


def said(text: str, name: str) -> str:
    """The reader's word beside a field."""
    found = re.search(rf'id="note-{re.escape(name)}">([^<]*)<', text)
    return unescape(found[1]) if found else ""


def orifice(text: str, burner: int, market: str = "A") -> str:
    found = re.search(rf'id="orifice-{burner}-{market}-mark"[^>]*>([^<]*)<', text)
    return unescape(found[1]) if found else ""


# What stands on the page.


def test_the_page_shows_what_the_conversion_of_its_text_gives(client: DeskClient, path: Path) -> None:
    """The orifices of the page are those of ``convert`` for the text that Save then writes."""
    client.send(**{RATE: "13.5 kBtu/h", "burner[2].rate": "14 kBtu/h"})
    page = client.send("/save")
    assert page.status_code == 200
    found = convert(read_appliance(path), "propane", "11 in w.c.")
    assert [orifice(page.text, n) for n in range(1, 3)] == [one.choice.drill for one in found.burners]


def test_the_first_page_is_made_while_the_browser_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the units that it then has: those of the region of the file."""
    monkeypatch.setattr(gc, "freeze", lambda: None)  # of these tests
    path = written(tmp_path)
    path.write_text(
        path.read_text(encoding="utf-8").replace('name   = "camp', 'region = "us"\nname   = "camp', 1)
    )
    desk = Desk(path)
    answers = Answers(desk)
    warm_up(desk, answers)
    known = list(answers.firsts), list(answers.wholes)
    assert len(known[1]) == 1
    look = first_look(desk)
    assert look.system == "US"
    desk_page(desk, answers, desk.newest_entry, look)
    assert (list(answers.firsts), list(answers.wholes)) == known


def test_every_key_of_the_file_has_a_field(client: DeskClient) -> None:
    """All that the file says can be reached: on the page, behind a burner, or in one of the tables."""
    seen = set(client.fields)
    keys = set(client.desk.newest_entry.text.values())
    for opened in ["burner[1]", "burner[2]", *re.findall(r'value="open ([a-z_]+)"', client.look().text)]:
        client.send(act=f"open {opened}")
        seen |= set(client.fields) | set(
            re.findall(r'<select id="([^"]*)"', client.look(client_address(client)).text)
        )
    assert keys - seen == set()


def client_address(client: DeskClient) -> str:
    return f"/at/{client.form['base']}?open={client.form['open']}"


def test_ids_are_unique(client: DeskClient) -> None:
    text = client.send(act="open burner[2]").text
    ids = re.findall(r'\bid="([^"]*)"', text)
    assert len(ids) == len(set(ids))


def test_nothing_of_the_page_is_from_elsewhere_or_unescaped(client: DeskClient) -> None:
    text = client.send(**{"appliance.model": '<script>"&'}).text
    assert '<script>"' not in text
    assert 'value="&lt;script&gt;' in text
    assert "style=" not in text
    assert re.findall(r'(?:src|href)="(?:https?:)?//', text) == []


# Edits.


def test_an_edit_changes_its_value_and_nothing_else(client: DeskClient, path: Path) -> None:
    before = path.read_text(encoding="utf-8")
    client.send(**{"burner[1].ports.count": "190"})
    assert client.send("/save").status_code == 200
    assert path.read_text(encoding="utf-8") == before.replace("count = 180", "count = 190")


def test_undo_and_redo_lead_through_what_was_typed(client: DeskClient) -> None:
    client.send(**{RATE: "13 kBtu/h"})
    client.send(**{"burner[2].rate": "14 kBtu/h"})
    client.send(act="undo")
    assert (client.fields[RATE], client.fields["burner[2].rate"]) == ("13 kBtu/h", "14.5 kBtu/h")
    client.send(act="undo")
    assert client.fields[RATE] == "12.5 kBtu/h"
    client.send(act="redo")
    client.send(act="redo")
    assert (client.fields[RATE], client.fields["burner[2].rate"]) == ("13 kBtu/h", "14 kBtu/h")


def test_an_orifice_that_is_written_as_a_diameter_stands_in_the_cell_of_the_orifice(tmp_path: Path) -> None:
    """A file may say drill or diameter; the cell shows what it says, and the other burners keep the drill."""
    path = tmp_path / "cart.toml"
    text = demonstration_path().read_text(encoding="utf-8")
    path.write_text(text.replace('drill = "#54", shape', 'diameter = "1.40 mm", shape', 1), encoding="utf-8")
    page = DeskClient(Desk(path)).look().text
    cell = re.search(r'<input[^>]*name="burner\[1\].orifice.diameter"[^>]*>', page)
    assert cell is not None
    assert 'value="1.40 mm"' in cell[0]
    assert 'name="burner[1].orifice.drill"' not in page
    assert 'name="burner[2].orifice.drill"' in page


def test_typing_on_in_one_field_is_one_step_of_undo(typist: DeskClient) -> None:
    for text in ("1", "13", "13 kBtu/h"):
        typist.type(**{RATE: text})
    typist.look(f"/at/{typist.form['base']}")
    typist.send(act="undo")
    assert typist.fields[RATE] == "12.5 kBtu/h"


def test_what_was_typed_beside_undo_is_not_lost(client: DeskClient) -> None:
    client.send(act="undo", **{RATE: "13 kBtu/h"})
    assert client.fields[RATE] == "12.5 kBtu/h"
    client.send(act="redo")
    assert client.fields[RATE] == "13 kBtu/h"


def test_a_burner_is_added_copied_moved_and_removed(client: DeskClient) -> None:
    def names() -> list[str]:
        return [
            client.fields[f"burner[{n}].name"] for n in range(1, 20) if f"burner[{n}].name" in client.fields
        ]

    first = names()
    client.send(act="copy burner 1")
    assert names() == [first[0], "left tube 2", *first[1:]]
    client.send(act="down burner 2")
    assert names()[2] == "left tube 2"
    client.send(act="remove burner 3")
    client.send(act="add burner")
    assert names() == [*first, "burner 3"]


def test_a_new_name_goes_to_all_that_refers_to_it(client: DeskClient) -> None:
    client.send(**{NAME: "port side"})
    values = client.desk.newest_entry.text.values()
    assert values["carry_over[1].from"] == "port side"
    assert client.desk.newest_entry.problems == ()


def test_a_market_beside_another_is_worked_out_beside_it(client: DeskClient) -> None:
    client.send(act="copy market 1")
    page = client.send(**{"market[2].supply[1].gas": "G30", "market[2].supply[1].pressure": "29 mbar"})
    assert orifice(page.text, 1, "A") != orifice(page.text, 1, "B") != ""


def test_units_are_chosen_for_what_is_shown_and_the_text_stays(client: DeskClient) -> None:
    address = f"/at/{client.form['base']}?units=US&file={client.form['file']}"
    page = client.look(address)
    assert "Btu/h" in re.findall(r'id="orifice-1-A-rate"[^>]*>([^<]*)', page.text)[0]
    assert client.fields["supply.pressure"] == "7 in w.c."


# What does not read.

BAD = {
    RATE: ("soon", "12,5 kBtu/h", "0 kW", "900 kW", "12.5"),
    "burner[1].orifice.drill": ("#999", "-1 mm", "letter"),
    "burner[1].ports.count": ("0", "many", "1.5", "-3"),
    "burner[1].ports.diameter": ("1.6", "0 mm", "9 kg"),
    "burner[1].throat": ("16", "0 mm", "9 m2"),
    "burner[1].shutter.opening": ("150 %", "-1 %", "open"),
    "supply.pressure": ("7", "0 mbar", "9 bar", "psi 3"),
    "supply.gas": ("gasoline", "natural"),
    "supply.altitude": ("9000 m", "high"),
    "market[1].supply[1].pressure": ("0 mbar", "high"),
    "market[1].supply[1].gas": ("gasoline",),
}


@pytest.mark.parametrize(("name", "text"), [(name, text) for name, texts in BAD.items() for text in texts])
def test_a_value_that_does_not_read_is_said_at_its_field(typist: DeskClient, name: str, text: str) -> None:
    found = typist.type(**{name: text})
    assert found["status"] == 422
    assert found["wrong"][name]
    assert found["before"]
    blank = [part for part in found["parts"] if part.startswith("orifice")]
    assert bool(blank) == name.startswith("market")
    page = typist.request("GET", found["address"])
    assert page.status_code == 422
    assert said(page.text, name) == found["wrong"][name]
    assert orifice(page.text, 1) == ("–" if blank else "1.00 mm")  # of the entry before, never of another gas
    assert "of the entry before" in page.text


def test_there_are_thirty_of_them() -> None:
    assert sum(map(len, BAD.values())) >= 30


def test_a_text_that_does_not_read_is_not_saved(client: DeskClient, path: Path) -> None:
    before = path.read_bytes()
    page = client.send("/save", **{RATE: "soon"})
    assert page.status_code == 422
    assert "Not saved" in page.text
    assert client.fields[RATE] == "soon"
    assert path.read_bytes() == before


class HeldError(PermissionError):
    """As Windows has it while another program keeps a file open: ERROR_SHARING_VIOLATION (memory)."""

    winerror = 32


DISK = {
    "held by another program": (
        "pathlib.Path.replace",
        HeldError(errno.EACCES, "in use"),
        "open in another program",
    ),
    "full": (
        "pathlib.Path.write_bytes",
        OSError(errno.ENOSPC, "No space left on device"),
        "the disk is full",
    ),
    "read only": ("tempfile.mkstemp", OSError(errno.EROFS, "Read-only file system"), "may not be written"),
    "no rights": (
        "tempfile.mkstemp",
        PermissionError(errno.EACCES, "Permission denied"),
        "may not be written",
    ),
    "folder gone": (
        "tempfile.mkstemp",
        FileNotFoundError(errno.ENOENT, "No such file"),
        "could not be written",
    ),
    "of a network": (
        "os.fsync",
        OSError(errno.ESTALE, "Stale file handle"),
        "could not be written (stale file",
    ),
    "without an entry": (
        "pathlib.Path.is_dir",
        PermissionError(errno.EACCES, "Permission denied"),
        "may not be written",
    ),
}


@pytest.mark.parametrize("way", DISK)
def test_a_file_that_cannot_be_written_is_said_in_words(
    client: DeskClient, path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    """Every trouble of a disk: the page says why, the file is as it was, and Save works once the trouble is over."""
    before = path.read_bytes()
    name, error, words = DISK[way]

    def refuse(*_: object, **__: object) -> None:
        raise error

    with monkeypatch.context() as trouble:
        trouble.setattr("burnerlab.tables.file_replacement.PAUSES_s", ())
        trouble.setattr(name, refuse)
        page = client.send("/save", **{RATE: "13 kBtu/h"})
    assert page.status_code == 503
    assert "Not saved: " in page.text
    assert words in page.text
    assert (client.fields[RATE], path.read_bytes()) == ("13 kBtu/h", before)
    assert client.send("/save").status_code == 200
    assert b"13 kBtu/h" in path.read_bytes()


def test_a_file_that_cannot_be_looked_for_is_no_defect(
    client: DeskClient, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder without rights, or a disk that is gone: the file is asked for, and for its draft."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    with monkeypatch.context() as trouble:
        trouble.setattr("pathlib.Path.exists", refuse)
        page = client.request("GET", "/file")
    assert page.status_code == 503
    assert "annot be looked for (permission denied)" in page.text
    assert client.desk.draft.moment == ""
    with monkeypatch.context() as trouble:
        trouble.setattr("burnerlab.page.desk_pages.digest_of", refuse)
        page = client.send("/save", **{RATE: "13 kBtu/h"})
    assert page.status_code == 503
    assert "A file or its folder cannot be used now: Permission denied." in page.text


# What a page may not write.


@pytest.mark.parametrize(
    "name",
    ["tables.pipes", "tables", "burner[1].orifice", "burner", "no.such.key", "burner[9].rate", "supply", "__class__",
     "burner[1].place[1].x.y", "a b"],
)  # fmt: skip
def test_keys_that_a_page_may_not_write_are_refused(typist: DeskClient, name: str) -> None:
    before = typist.desk.newest
    assert typist.type(**{name: "own.csv"})["refused"]
    assert typist.desk.newest == before


@pytest.mark.parametrize("gas", ["/etc/passwd", "../own.toml", "own.toml"])
def test_a_gas_names_no_file(typist: DeskClient, gas: str) -> None:
    found = typist.type(**{"supply.gas": gas})
    assert found["status"] == 422
    assert "root:" not in str(found)


@pytest.mark.parametrize(
    ("headers", "changed", "status"),
    [
        ({}, {}, 403),
        ({"origin": "null"}, {}, 403),
        ({"origin": "http://evil.example"}, {}, 403),
        ({"origin": "http://127.0.0.1:1"}, {}, 403),
        ({"origin": BASE, "sec-fetch-site": "cross-site"}, {}, 403),
        ({"origin": BASE}, {"token": ""}, 403),
        ({"origin": BASE}, {"token": "A" * 32}, 403),
        ({"origin": BASE, "content-type": "text/plain"}, {}, 415),
        ({"origin": BASE, "host": "evil.example"}, {}, 403),
        ({"origin": BASE}, {"base": "0" * 16}, 410),
        ({"origin": BASE}, {RATE: "x" * 1001}, 400),
        ({"origin": BASE}, {RATE: "a\x00b"}, 400),
        ({"origin": BASE}, {f"f{n}": "" for n in range(4001)}, 400),
        ({"origin": BASE}, {f"n{n}": "x" * 900 for n in range(150)}, 413),
    ],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/edit", "/save", "/download", "/take-draft"])
def test_a_form_that_is_not_ours_writes_nothing(
    typist: DeskClient, path: str, headers: dict[str, str], changed: dict[str, str], status: int
) -> None:
    if path == "/take-draft" and status == 410:
        return
    before = typist.desk.newest
    answer = typist.request("POST", path, data=typist.form | changed, headers=headers)
    assert answer.status_code == status
    assert "<h1>" in answer.text
    assert typist.desk.newest == before


def test_the_policy_lets_a_script_ask_this_server_alone(client: DeskClient) -> None:
    policy = client.look().headers["content-security-policy"]
    assert "connect-src 'self'" in policy
    assert "unsafe" not in policy


def test_typing_has_bounds_of_its_own(path: Path) -> None:
    client = DeskClient(Desk(path))
    client.look()
    client.desk.gate.typing = Limiter(burst=2.0, per_second=0.001)
    assert [client.request("POST", "/edit", data=client.form, headers={"origin": BASE}).status_code for _ in "abc"] == [
        200, 200, 429]  # fmt: skip
    assert client.look().status_code == 200


def test_many_edits_are_bounded_and_the_file_is_still_there(
    typist: DeskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(desk_state, "MOST_ENTRIES", 20)
    for n in range(60):
        entry = typist.desk.write(
            typist.desk.newest, {"appliance.model": f"A{n}", "appliance.note": f"{n % 2}"}
        )
    assert len(typist.desk.entries) == 20
    assert typist.look(f"/at/{entry.digest}").status_code == 200
    gone = typist.look("/at/0000000000000000")
    assert gone.status_code == 410
    assert 'href="/file"' in gone.text
    assert typist.look("/file").status_code == 200
    assert MOST_ENTRIES == 1000


# The file, and a second window.


def test_a_file_changed_by_another_program_is_not_written_over(client: DeskClient, path: Path) -> None:
    other = path.read_text(encoding="utf-8").replace("14.5 kBtu/h", "15 kBtu/h")
    path.write_text(other, encoding="utf-8")
    page = client.send("/save", **{RATE: "13 kBtu/h"})
    assert page.status_code == 409
    for text in ("right tube, rate", "15 kBtu/h", "14.5 kBtu/h", "13 kBtu/h"):
        assert text in page.text
    assert path.read_text(encoding="utf-8") == other
    assert client.look("/file").status_code == 200
    assert client.fields["burner[2].rate"] == "15 kBtu/h"


def test_writing_over_it_is_a_choice(client: DeskClient, path: Path) -> None:
    path.write_text("# another\n", encoding="utf-8")
    page = client.send("/save", **{RATE: "13 kBtu/h"})
    fields = dict(re.findall(r'name="([^"]*)" value="([^"]*)"', page.text[page.text.index("<form") :]))
    again = client.request("POST", "/save", data=fields, headers={"origin": BASE})
    assert again.status_code == 200
    assert 'rate     = "13 kBtu/h"' in path.read_text(encoding="utf-8")


def test_a_second_window_does_not_write_over_the_first(client: DeskClient, path: Path) -> None:
    second = dict(client.form)
    client.send("/save", **{RATE: "13 kBtu/h"})
    saved = path.read_bytes()
    answer = client.request(
        "POST", "/save", data=second | {"burner[2].rate": "15 kBtu/h"}, headers={"origin": BASE}
    )
    assert answer.status_code == 409
    assert path.read_bytes() == saved
    reloaded = client.request("GET", f"/at/{second['base']}?file={second['file']}")
    assert f'name="file" value="{second["file"]}"' in reloaded.text


def test_saving_twice_from_one_window_is_no_conflict(client: DeskClient) -> None:
    assert client.send("/save", **{RATE: "13 kBtu/h"}).status_code == 200
    assert client.send("/save", **{RATE: "13.5 kBtu/h"}).status_code == 200
    client.send(act="undo")
    assert client.send("/save").status_code == 200


def test_a_file_with_windows_line_ends_keeps_them(tmp_path: Path) -> None:
    path = written(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    client = DeskClient(Desk(path))
    client.look()
    client.send("/save", **{RATE: "13 kBtu/h"})
    data = path.read_bytes()
    assert b'13 kBtu/h"\r\n' in data
    assert data.count(b"\n") == data.count(b"\r\n")


# The draft.


def test_a_stopped_desk_loses_nothing(client: DeskClient, path: Path) -> None:
    client.send(**{RATE: "13 kBtu/h", "burner[2].rate": "soon"})
    again = DeskClient(Desk(path))
    asked = again.look()
    assert "draft" in asked.text
    assert "left tube, rate" in asked.text
    assert "13 kBtu/h" not in path.read_text(encoding="utf-8")
    token = {"token": again.desk.gate.token, "act": "take"}
    page = again._seen(again.request("POST", "/take-draft", data=token, headers={"origin": BASE}))
    assert page.status_code == 422
    assert (again.fields[RATE], again.fields["burner[2].rate"]) == ("13 kBtu/h", "soon")


HEARS_HANGUP = """
import signal
signal.signal(signal.SIGHUP, signal.SIG_DFL)
from burnerlab.cli import main
main(prog_name="burnerlab")
"""  # also where what runs the tests was started to outlive its terminal


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="no terminal that is closed")
def test_a_desk_whose_terminal_is_closed_loses_nothing(path: Path) -> None:
    """The second edit waits for its time to be written; a system that shuts down ends the desk by the same way."""
    command = [sys.executable, "-c", HEARS_HANGUP, "desk", str(path), "--port", "0", "--json"]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    ready = "".join(iter(server.stdout.readline, "}\n")) + "}"
    with httpx.Client(base_url=json.loads(ready)["address"], follow_redirects=True, timeout=60.0) as asker:
        form = {name: unescape(value) for name, value in HIDDEN.findall(asker.get("/file").text)}
        for rate in ("13 kBtu/h", "13.5 kBtu/h"):
            headers = {"origin": str(asker.base_url).rstrip("/"), "accept": "application/json"}
            answer = asker.post("/edit", data=form | {RATE: rate}, headers=headers)
            form["base"] = answer.json()["digest"]
    server.send_signal(signal.SIGHUP)
    try:
        server.communicate(timeout=60)
    finally:
        server.kill()
    assert server.returncode == 0
    assert "13.5 kBtu/h" in draft_of(path).read_text(encoding="utf-8")


def test_a_draft_that_is_dropped_is_gone(client: DeskClient, path: Path) -> None:
    client.send(**{RATE: "13 kBtu/h"})
    draft = path.with_name("stove.draft.toml")
    assert draft.is_file()
    again = DeskClient(Desk(path))
    token = {"token": again.desk.gate.token, "act": "drop"}
    again.request("POST", "/take-draft", data=token, headers={"origin": BASE})
    assert not draft.exists()
    again.look()
    assert again.fields[RATE] == "12.5 kBtu/h"


@pytest.mark.parametrize(
    ("act", "rate", "name"),
    [
        ("both", "13 kBtu/h", "renamed outside"),
        ("take", "13 kBtu/h", "camp stove"),
        ("drop", "12.5 kBtu/h", "renamed outside"),
    ],
)
def test_a_draft_says_which_changes_of_the_file_it_would_take_back(
    client: DeskClient, path: Path, act: str, rate: str, name: str
) -> None:
    """A draft, then a change of the file outside: both can be kept, and neither goes without a word."""
    client.send(**{RATE: "13 kBtu/h"})
    text = path.read_text(encoding="utf-8")
    assert text.count('"camp stove"') == 1
    path.write_text(text.replace('"camp stove"', '"renamed outside"'), encoding="utf-8")
    again = DeskClient(Desk(path))
    page = again.look().text
    assert "The file was changed outside after this draft was begun." in page
    assert page.index("renamed outside") > page.index("Changed in the file since")
    again.look("/file")
    again.send(**{"burner[2].rate": "15.25 kBtu/h"})
    typed = again.look("/draft").text
    assert "15.25 kBtu/h" not in typed, "the file is what stands on the disk, not what is typed"
    assert "What was typed on the desk since it was started" in typed
    again.look("/file")
    token = {"token": again.desk.gate.token, "act": act}
    again._seen(again.request("POST", "/take-draft", data=token, headers={"origin": BASE}))
    assert (again.fields[RATE], again.fields["appliance.name"]) == (rate, name)
    assert not path.with_name("stove.begun.draft.toml").exists() or act != "drop"


@pytest.mark.parametrize(("side", "rate"), [("page", "13 kBtu/h"), ("file", "14 kBtu/h")])
def test_what_a_draft_and_the_file_both_changed_is_chosen(
    client: DeskClient, path: Path, side: str, rate: str
) -> None:
    """Neither value wins without a word."""
    client.send(**{RATE: "13 kBtu/h"})
    outside = (
        path.read_text(encoding="utf-8")
        .replace("12.5 kBtu/h", "14 kBtu/h")
        .replace("14.5 kBtu/h", "15 kBtu/h")
    )
    path.write_text(outside, encoding="utf-8")
    again = DeskClient(Desk(path))
    page = again.look().text
    assert "1 entry was changed on both sides" in page
    assert page.index("typed in the draft: <b>13 kBtu/h") < page.index("in the file now: <b>14 kBtu/h")
    act = {"token": again.desk.gate.token, "act": "both"}
    headers = {"origin": BASE}
    refused = again.request("POST", "/take-draft", data=act, headers=headers)
    assert refused.status_code == 409
    assert '<p class="wrong">choose</p>' in refused.text
    assert again.desk.earlier is not None
    again._seen(again.request("POST", "/take-draft", data=act | {f"choose {RATE}": side}, headers=headers))
    assert (again.fields[RATE], again.fields["burner[2].rate"]) == (rate, "15 kBtu/h")
    assert again.send("/save").status_code == 200
    assert path.read_text(encoding="utf-8") == outside.replace("14 kBtu/h", rate)


def test_what_is_given_up_for_the_file_leaves_no_draft(client: DeskClient, path: Path) -> None:
    path.write_text(path.read_text(encoding="utf-8").replace("12.5 kBtu/h", "12 kBtu/h"), encoding="utf-8")
    refused = client.send("/save", **{RATE: "13 kBtu/h"})
    way = next(one for one in re.findall(r'href="(/file[^"]*)"', refused.text))
    client.look(unescape(way))
    assert client.fields[RATE] == "12 kBtu/h"
    assert not path.with_name("stove.draft.toml").exists()


def test_saving_drops_the_draft(client: DeskClient, path: Path) -> None:
    client.send(**{RATE: "13 kBtu/h"})
    assert client.send("/save").status_code == 200
    assert not path.with_name("stove.draft.toml").exists()


def test_drafts_wait_their_time(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(desk_file, "DRAFT_SECONDS", 60.0)
    desk, draft = Desk(path), path.with_name("stove.draft.toml")
    first = desk.write(desk.newest, {RATE: "13 kBtu/h"})
    last = desk.write(first.digest, {RATE: "13.5 kBtu/h"})
    assert draft.read_text(encoding="utf-8") == first.text.text
    desk.draft.flush()
    assert draft.read_text(encoding="utf-8") == last.text.text


# Blank pages.


def test_a_file_that_is_not_there_is_made_by_saving(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    client = DeskClient(Desk(path))
    page = client.look()
    assert page.status_code == 200
    assert not path.exists()
    page = client.send(**{RATE: "4 kW", "burner[1].orifice.drill": "#54", "appliance.rating": "gross"})
    assert orifice(page.text, 1)
    assert client.send("/save").status_code == 200
    assert read_appliance(path).burners[0].rate_W == pytest.approx(4000.0)


def test_without_a_file_there_is_nothing_to_save(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    client = DeskClient(Desk(None))
    page = client.look()
    assert "/save" not in page.text
    assert client.send("/save").status_code == 422
    answer = client.request("POST", "/download", data=client.form | client.fields, headers={"origin": BASE})
    assert answer.headers["content-disposition"] == 'attachment; filename="new-appliance.toml"'
    assert "[[burner]]" in answer.text


@pytest.mark.parametrize(("written_units", "own"), [(None, "Btu/h"), ("metric", "kW")])
def test_a_paper_has_the_units_of_the_region_of_its_market(
    written_units: System | None, own: str, tmp_path: Path
) -> None:
    """Not those of the page, which a metric reader has; those of the command line hold for every paper."""
    path = written(tmp_path)
    text = path.read_text(encoding="utf-8").replace("[[market]]", '[[market]]\nregion = "us"', 1)
    path.write_text(text.replace("[appliance]", '[appliance]\nregion = "eu"', 1), encoding="utf-8")
    client = DeskClient(Desk(path, preferred_units="metric", written_units=written_units))
    client.look()
    for kind in ("card", "injectors", "kit"):
        paper = client.request("GET", f"/papers/{client.form['base']}/A/{kind}?units=metric")
        text = re.sub(r"(?s)<style.*?</style>|<[^>]+>", " ", paper.text)
        shown = set(re.findall(r"kW|Btu/h", text.replace("\N{WORD JOINER}", "")))
        assert shown == {own}, kind


def test_files_of_a_name_with_umlauts_have_plain_letters_and_others_their_own(tmp_path: Path) -> None:
    path = tmp_path / "Küche 3.toml"
    written(tmp_path).rename(path)
    text = path.read_text(encoding="utf-8")
    path.write_text(re.sub(r'(?m)^(name\s*=) ".*?"', r'\1 "Küche σ"', text, count=1), encoding="utf-8")
    client = DeskClient(Desk(path))
    client.look()
    file = client.request("POST", "/download", data=client.form | client.fields, headers={"origin": BASE})
    assert file.headers["content-disposition"] == 'attachment; filename="Kueche-3.toml"'
    kept = client.request("GET", f"/papers/{client.form['base']}/A/csv").headers["content-disposition"]
    assert kept.startswith('attachment; filename="kueche-_-market-a')
    assert "; filename*=UTF-8''kueche-%CF%83-market-a" in kept


def test_papers_of_a_market(client: DeskClient) -> None:
    digest = client.form["base"]
    sheet = client.request("GET", f"/papers/{digest}/A/sheet?units=US")
    assert sheet.status_code == 200
    assert "left tube" in sheet.text
    card = client.request("GET", f"/papers/{digest}/A/card")
    assert card.status_code == 200
    assert "left tube" in card.text
    assert re.search(r"Market A \([^)]+\): .*, (\d+ m|altitude not given)<", card.text)
    assert f"version {digest[:12]} of the appliance file" in card.text
    assert "draft, not saved" not in f"{card.text} {sheet.text}"  # the desk was started on this text
    assert "script-src" not in sheet.headers["content-security-policy"]
    assert (
        client.request("GET", f"/papers/{digest}/A/csv")
        .headers["content-disposition"]
        .startswith("attachment")
    )
    plan = client.request("GET", f"/papers/{digest}/A/plan")
    kept = client.request("GET", f"/papers/{digest}/A/plan-json")
    assert kept.json()["number"] in plan.text
    assert "attachment" in kept.headers["content-disposition"]
    assert client.desk.newest_entry.appliance is not None
    path = client.desk.path.with_name("kept-plan.json") if client.desk.path else Path("kept-plan.json")
    path.write_bytes(kept.content)
    assert (
        converted_for(client.desk.newest_entry.appliance, read_plan(path)) is not None
    )  # the bench finds it again
    assert client.request("GET", f"/papers/{digest}/Z/sheet").status_code == 404
    assert client.request("GET", f"/papers/{digest}/A/doc").status_code == 404


def test_each_gas_of_a_couple_has_its_papers(client: DeskClient) -> None:
    client.send(**{"market[1].supply[1].gas": "G30", "market[1].supply[1].pressure": "29 mbar"})
    page = client.send(**{"market[1].supply[2].gas": "G31", "market[1].supply[2].pressure": "37 mbar"})
    digest = client.form["base"]
    for letter, gas in (("A1", "G30"), ("A2", "G31")):
        assert (
            f'<span class="letter">{letter}</span> {gas}: <a href="/papers/{digest}/{letter}/card'
            in page.text
        )
        card = client.request("GET", f"/papers/{digest}/{letter}/card").text
        assert re.search(rf"Market A \([^)]+\): .* to {gas}", card)
        assert card.count("draft, not saved") == 2  # in head and footer
    assert client.request("GET", f"/papers/{digest}/A1/plan").text.count("draft, not saved") == 2
    assert client.request("GET", f"/papers/{digest}/A3/card").status_code == 404


@pytest.mark.parametrize("market", ["A", "all"])
def test_injector_table_plate_and_kit_are_among_the_papers(
    client: DeskClient, path: Path, market: str
) -> None:
    """In every format that the commands write; a page of one market is what its command writes."""
    if market == "all":
        client.send(act="copy market 1")
    page = client.look()
    for kind in ("injectors", "plate", "kit"):
        for end, media in MEDIA.items():
            address = f"/papers/{client.form['base']}/{market}/{kind}{end}?units=metric"
            assert f'href="{address}"' in page.text
            answer = client.request("GET", address)
            assert answer.status_code == 200
            assert media in answer.headers["content-type"]
    table = client.request("GET", f"/papers/{client.form['base']}/{market}/injectors?units=US").text
    assert "propane, North America: Propane, pure at 11.0 in w.c." in table
    assert "mbar" not in table.partition('id="cautions"')[0]
    assert ("draft, not saved" in table) == (market == "all")
    plate = client.request("GET", f"/papers/{client.form['base']}/{market}/plate").text
    assert plate.count("stays readable") >= 1
    kit = client.request("GET", f"/papers/{client.form['base']}/{market}/kit").text
    assert kit.count('<th scope="col">Mass of one') == (2 if market == "all" else 1)
    if market == "A":
        done = CliRunner().invoke(main, ["injectors", str(path), "--market", "A", "--json"])
        drill = json.loads(done.stdout)["rows"][0]["drill"]
        assert re.search(rf">{re.escape(drill)}\b", table)


@pytest.mark.parametrize(
    ("held", "units", "width"), [("", "US", b"612"), ("", "metric", b"595.2"), ("A4", "US", b"595.2")]
)
def test_papers_of_a_market_have_the_size_of_their_reader(
    client: DeskClient, held: str, units: str, width: bytes
) -> None:
    """Letter, 8.5 in (ANSI/ASME Y14.1), for US units, else A4, 210 mm (ISO 216); the settings go before."""
    client.desk.paper = held
    for kind in ("plate-pdf", "card-pdf"):
        made = client.request("GET", f"/papers/{client.form['base']}/A/{kind}?units={units}").content
        assert re.search(rb"/MediaBox\s*\[0 0 " + re.escape(width), made)


def test_papers_are_of_the_text_as_it_was_typed_last(client: DeskClient) -> None:
    """The script gets the papers of each entry anew; one that does not read has none."""
    found = client.type(**{RATE: "13 kBtu/h"})
    assert f'href="/papers/{found["digest"]}/A/card' in found["parts"]["papers"]
    wrong = client.type(**{RATE: "soon"})
    assert "/papers/" not in wrong["parts"]["papers"]
    assert " hidden" in wrong["parts"]["papers"]


def test_compare_says_what_differs(client: DeskClient) -> None:
    first = client.form["base"]
    client.send(**{RATE: "13 kBtu/h"})
    page = client.request("GET", f"/compare?a={first}&b={client.form['base']}")
    cells = re.findall(r"<td><span[^>]*>(\w+) </span>([^<]*)</td>", page.text)
    assert cells[:2] == [("file", "12.5 kBtu/h"), ("now", "13 kBtu/h")]


def test_markets_of_the_file_keep_their_comments(client: DeskClient, path: Path) -> None:
    before = path.read_text(encoding="utf-8")
    client.send("/save", **{"market[1].supply[1].pressure": "37 mbar"})
    assert path.read_text(encoding="utf-8") == before.replace("11 in w.c.", "37 mbar")
