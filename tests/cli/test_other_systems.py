"""What other systems do, as far as it can be had here: encodings of a console, ends of lines, names of folders, disks.

Nothing here ran on Windows or macOS; code pages are those of the Python of this machine.
"""

from __future__ import annotations

import fcntl
import io
import json
import os
import re
import socket
import subprocess
import sys
import unicodedata
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

from burnerlab.appliance import demonstration_path, read_appliance
from burnerlab.bench.record import database
from burnerlab.cli import main
from burnerlab.cli.plain_characters import NAME, PLAIN, keep_printing, plain
from burnerlab.cli.user_settings import remember
from burnerlab.page.app import listen
from burnerlab.page.security import Gate
from burnerlab.report.write import stem, write_together
from burnerlab.tables import package_dir
from burnerlab.tables.file_name import name_trouble
from burnerlab.tables.problem import UserError

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


def test_a_name_that_python_cannot_read_in_a_locale_without_letters_is_said_with_what_to_set(
    folder: Path,
) -> None:
    """PYTHONUTF8=0 and LC_ALL=C: "ß" comes as two bytes that are no letters; the file is UTF-8 all the same."""
    (folder / "Größe.toml").write_bytes((folder / "range.toml").read_bytes())
    environment = os.environ | {"PYTHONPATH": str(package_dir().parent), "LC_ALL": "C"}
    environment |= {"PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    for name, fix in (("Größe.toml", "set PYTHONUTF8=1"), (b"\xff.toml", "is not UTF-8 text")):
        command = [sys.executable, "-m", "burnerlab", "convert", name]
        done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, check=False)
        assert done.returncode == 2
        assert fix in done.stderr.decode("utf-8")
        assert ("Größe.toml" in done.stderr.decode("utf-8")) is (name == "Größe.toml")
    environment["PYTHONUTF8"] = "1"
    command = [sys.executable, "-m", "burnerlab", "convert", "Größe.toml", "--market", "A"]
    assert not subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, check=False
    ).returncode


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


class HeldError(PermissionError):
    """What Python raises on Windows where another program has a file open: ERROR_SHARING_VIOLATION."""

    winerror = 32


@pytest.mark.parametrize(("times", "is_replaced"), [(1, True), (99, False)])
def test_a_file_that_another_program_has_open_is_tried_again_then_named(
    times: int, is_replaced: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """For a moment, as by a virus scanner; for good, as by a spreadsheet. Every file of ours is written so."""
    left = [times]
    whole = Path.replace

    def replace(made: Path, path: Path) -> Path:
        left[0] -= 1
        if left[0] >= 0:
            raise HeldError(13, "Permission denied", str(path))
        return whole(made, path)

    monkeypatch.setattr(Path, "replace", replace)
    monkeypatch.setattr("burnerlab.tables.file_replacement.PAUSES_s", (0.001, 0.001))
    papers, settings = tmp_path / "papers.csv", tmp_path / "settings.toml"
    papers.write_bytes(b"old")
    if is_replaced:
        write_together({papers: b"new"}, overwrite=True)
    else:
        with pytest.raises(UserError, match=r"papers\.csv: is open in another program.*close it there"):
            write_together({papers: b"new"}, overwrite=True)
        with pytest.raises(UserError, match="is open in another program"):
            remember(settings, {"units": "us"})
    assert papers.read_bytes() == (b"new" if is_replaced else b"old")
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".sheet-")]


@pytest.mark.parametrize(
    ("name", "words"),
    [  # Microsoft, "Naming Files, Paths, and Namespaces" (memory)
        ("con.html", "name of a device"), ("NUL.pdf", "name of a device"), ("Com1", "name of a device"),
        ("lpt9.tar.gz", "name of a device"), ("a:b", "a sign that Windows allows"), ("a?", "a sign"),
        ("range.", "which Windows drops"), ("console.html", ""), ("com.html", ""), ("nulls", ""),
    ],
)  # fmt: skip
def test_names_that_windows_does_not_open_are_known(name: str, words: str) -> None:
    trouble = name_trouble(name)
    assert words in trouble
    assert bool(words) == bool(trouble)


def test_no_name_that_we_make_is_that_of_a_device() -> None:
    assert [stem(one) for one in ("con", "Nul", "COM1", "console")] == [
        "con-sheet",
        "nul-sheet",
        "com1-sheet",
        "console",
    ]


def test_a_table_whose_name_came_from_macos_is_found(tmp_path: Path) -> None:
    """Unicode Standard Annex 15: "é" is one sign (NFC) or "e" and an accent (NFD); macOS takes both for one name."""
    text = demonstration_path().read_text(encoding="utf-8")
    name = "d\u00e9bits.csv"
    (tmp_path / unicodedata.normalize("NFD", name)).write_text("part,size,source\nA-54,#54,works\n")
    (tmp_path / "range.toml").write_text(f'{text}\n[tables]\nstock = "{name}"\n', encoding="utf-8")
    assert read_appliance(tmp_path / "range.toml").tables.stock is not None
    assert stem("De\u0301bit") == stem("D\u00e9bit")


def test_a_record_on_a_network_of_macos_or_windows_is_recognised() -> None:
    printed = (
        "/dev/disk1s1 on / (apfs, local)\n//quill@nas/tests on /Volumes/my tests (smbfs, nodev, nosuid)\n"
    )
    found = database.mount_of(Path("/Volumes/my tests/bench.sqlite"), database.mounts_of_macos(printed))
    assert found is not None
    assert found.kind in database.NETWORK
    here = database.mount_of(Path("/Users/quill/bench.sqlite"), database.mounts_of_macos(printed))
    assert here is not None
    assert here.kind not in database.NETWORK
    remote = {"Z:\\": database.REMOTE_DRIVE}
    for path, share in (
        (r"\\nas\tests\bench.sqlite", "\\\\nas\\tests"),
        (r"\\?\UNC\nas\tests\bench.sqlite", "\\\\nas\\tests"),
        (r"Z:\bench.sqlite", "Z:"),
        (r"C:\bench\bench.sqlite", ""),
        (r"\\?\C:\bench\bench.sqlite", ""),
    ):
        assert database.share_of_windows(path, lambda root: remote.get(root, 3)) == share


def test_a_port_is_never_shared_with_a_second_bench(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows: SO_REUSEADDR lets two servers take one port, SO_EXCLUSIVEADDRUSE does not (documentation of Winsock).

    An option that this system has stands for the one that it has not.
    """
    gate = Gate(host="127.0.0.1")
    with listen(gate, 0).socket as sock:
        assert sock.getsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR)
        with pytest.raises(UserError, match="is in use by another program"):
            listen(gate, sock.getsockname()[1])
    monkeypatch.setattr(socket, "SO_EXCLUSIVEADDRUSE", socket.SO_KEEPALIVE, raising=False)
    with listen(gate, 0).socket as sock:
        assert sock.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE)
        assert not sock.getsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR)


def test_nothing_asks_for_a_signal_or_a_function_that_a_system_lacks() -> None:
    """Python's documentation of signal and os: SIGKILL, fork, getuid and their like are of Unix alone."""
    of_unix = re.compile(
        r"\b(?:SIGKILL|SIGSTOP|SIGHUP|SIGUSR\d|fcntl|termios|resource\.|"
        r"os\.(?:fork|getuid|geteuid|killpg|setsid|chown|mkfifo))\b"
    )
    asked = {
        str(path.relative_to(package_dir()))
        for path in package_dir().rglob("*.py")
        for line in path.read_text(encoding="utf-8").splitlines()
        if of_unix.search(line.partition("#")[0])
        and not any(way in line for way in ("getattr(os", "if hasattr(signal, name)"))
    }
    assert not asked
