"""What other systems do, as far as it can be had here: encodings of a console, ends of lines, names of folders, disks.

Nothing here ran on Windows or macOS; code pages are those of the Python of this machine.
"""

from __future__ import annotations

import fcntl
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

from burnerlab.appliance import demonstration_path, read_appliance
from burnerlab.bench.record import database
from burnerlab.cli import main
from burnerlab.cli.plain_characters import NAME, PLAIN, keep_printing, plain
from burnerlab.tables import package_dir

CONVERT = ("convert", "range.toml", "--to", "propane", "--pressure", "11 inH2O")
CODE_PAGES = ("cp1252", "cp437", "cp850", "mac-roman", "latin-1")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with blanks and letters of no code page in its name; the file in it has ends of lines of Windows."""
    home = tmp_path_factory.mktemp("Gerät № 1 市場")
    text = demonstration_path().read_text(encoding="utf-8")
    (home / "range.toml").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode("utf-8"))
    return home


def in_code_page(folder: Path, encoding: str, *words: str) -> subprocess.CompletedProcess[bytes]:
    environment = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONPATH": str(package_dir().parent)}
    command = [sys.executable, "-c", "from burnerlab.cli import main; main()", *words]
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, check=False)


def test_a_console_of_code_page_1252_shows_arrows_and_signs_in_plain_spelling(folder: Path) -> None:
    done = in_code_page(folder, "cp1252", *CONVERT)
    text = done.stdout.decode("cp1252")
    assert done.returncode == 0
    assert "55-53->51-49" in text  # primary air now and new
    assert "±5 %" in text  # of this code page
    assert "?" not in text


@pytest.mark.parametrize("encoding", CODE_PAGES)
def test_every_plain_spelling_fits_the_code_page(encoding: str) -> None:
    for character, spelling in PLAIN.items():
        assert spelling.isascii()
        assert spelling != "?"
        encoded = character.encode(encoding, "replace")
        assert encoded == b"?" or encoded.decode(encoding) == character


def test_no_character_of_the_package_is_printed_as_a_question_mark() -> None:
    ends = {".py", ".csv", ".toml", ".md"}
    paths = [
        path for path in package_dir().rglob("*") if path.suffix in ends and "handbook" not in path.parts
    ]
    used = {one for path in paths for one in path.read_text(encoding="utf-8") if not one.isascii()}
    assert {"→", "−", "≤", "°"} <= used
    assert not {one for one in used if plain(one) == "?"} - TYPED


TYPED = set("市場№٣½💥")
"""Characters that stand in examples of what is refused."""


def test_a_character_without_a_spelling_stops_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding="cp1252")
    monkeypatch.setattr(sys, "stdout", stream)
    keep_printing()
    assert stream.errors == NAME
    stream.write("市 → \udc80 ²")
    stream.flush()
    assert stream.buffer.getvalue() == "? -> ? ²".encode("cp1252")  # type: ignore[attr-defined]


def test_json_stays_json_in_a_code_page(folder: Path) -> None:
    done = in_code_page(folder, "cp1252", "size", "--gas", "propane", "--rate", "12 kBtu/h gross",
                        "--pressure", "11 inH2O", "--json")  # fmt: skip
    assert done.returncode == 0
    assert json.loads(done.stdout.decode("ascii"))["schema"] == "burnerlab/size/1"


def test_a_complaint_in_a_code_page_names_what_was_written(folder: Path) -> None:
    done = in_code_page(
        folder, "cp1252", "size", "--gas", "propane", "--rate", "3 kW → gross", "--pressure", "20 mbar"
    )
    assert done.returncode == 2
    assert "3 kW ->" in done.stderr.decode("cp1252")


def test_ends_of_lines_and_the_mark_of_windows_are_read(folder: Path) -> None:
    ours = read_appliance(demonstration_path())
    theirs = read_appliance(folder / "range.toml")
    assert [burner.name for burner in theirs.burners] == [burner.name for burner in ours.burners]
    assert theirs.supply == ours.supply


def test_a_sheet_goes_into_a_folder_with_any_name(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    done = CliRunner().invoke(main, [*CONVERT, "--out", "Blätter für später", "--formats", "csv"])
    assert done.exit_code == 0, done.output
    (made,) = (folder / "Blätter für später").iterdir()
    assert made.name.isascii()


def windows(**more: Any) -> SimpleNamespace:
    """The functions of a system without hard links, whose flush needs a file that may be written."""

    def fsync(handle: int) -> None:
        if fcntl.fcntl(handle, fcntl.F_GETFL) & os.O_ACCMODE == os.O_RDONLY:
            raise OSError(9, "Bad file descriptor")
        os.fsync(handle)

    def link(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    functions = {name: getattr(os, name) for name in dir(os) if not name.startswith("__")}
    return SimpleNamespace(**functions | {"name": "nt", "fsync": fsync, "link": link} | more)


def test_a_record_is_made_and_copied_where_folders_cannot_be_flushed_and_files_not_linked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "os", windows())
    record, copy = str(tmp_path / "bench.sqlite"), tmp_path / "copy.sqlite"
    add = (
        "record",
        "add",
        "--serial",
        "C-0413",
        "--model",
        "cart",
        "--tester",
        "R. Quill",
        "--result",
        "griddle: deviation = 1 % in -5 %..5 %",
    )
    for words in ((*add, "--file", record), ("record", "backup", "--out", str(copy), "--file", record)):
        done = CliRunner().invoke(main, list(words))
        assert done.exit_code == 0, done.output
    again = CliRunner().invoke(main, ["record", "backup", "--out", str(copy), "--file", record])
    assert again.exit_code == 2
    assert copy.is_file()
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".writing")) == []
