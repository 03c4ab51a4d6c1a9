"""Where the sheet is written: inside the folder, never over a file, whole or not at all."""

from __future__ import annotations

import builtins
import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from burnerlab.appliance.conversion.result import Conversion
from burnerlab.quantity import UserError
from burnerlab.report import SheetFiles, SheetOptions, build_sheet, write_sheet
from burnerlab.report.formats import csv_text
from burnerlab.report.html import html_text
from burnerlab.report.sheet.units import texts_in
from burnerlab.report.write import stem


def test_the_folder_is_made_and_holds_one_file_of_each_format(dated_files: SheetFiles) -> None:
    written, folder = dated_files, dated_files.files[0].parent
    stem = "market-cart-range-to-propane"
    endings = ["-card.html", "-card.pdf", ".csv", ".html", ".json", ".pdf", ".xlsx"]
    assert sorted(path.name.removeprefix(stem) for path in written.files) == endings
    assert {path.parent for path in written.files} == {folder.resolve()}
    assert folder.parts[-2:] == ("new", "sheet")
    assert sorted(folder.iterdir()) == sorted(written.files)  # nothing temporary is left
    assert written.missing == ()


def test_an_existing_file_is_not_overwritten_unasked(conversion: Conversion, tmp_path: Path) -> None:
    (first,) = write_sheet(conversion, tmp_path, ("json",)).files
    first.write_text("mine")
    with pytest.raises(UserError, match=r"will not overwrite it; name another folder or allow overwriting"):
        write_sheet(conversion, tmp_path, ("json", "csv"))
    assert first.read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == [first.name]  # nothing of the others either
    write_sheet(conversion, tmp_path, ("json",), SheetOptions(overwrite=True))
    assert first.read_text().startswith("{")


@pytest.mark.parametrize("name", ["../x", "../../x", "/etc/x", "a/b", "sub/../../x"])
def test_the_output_stays_inside_the_folder(conversion: Conversion, tmp_path: Path, name: str) -> None:
    home = tmp_path / "in" / "side"
    home.mkdir(parents=True)
    with pytest.raises(UserError, match="must stay inside"):
        write_sheet(conversion, home, ("json",), SheetOptions(name=name))
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_a_link_out_of_the_folder_is_not_followed(conversion: Conversion, tmp_path: Path) -> None:
    home, away = tmp_path / "home", tmp_path / "away.json"
    home.mkdir()
    (home / "s.json").symlink_to(away)
    with pytest.raises(UserError, match="must stay inside"):
        write_sheet(conversion, home, ("json",), SheetOptions(name="s", overwrite=True))
    assert not away.exists()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (SheetOptions(name="a\0b"), "NUL"),
        (SheetOptions(name="x" * 305), "longer than 255"),
        (SheetOptions(paper="A5"), "not a paper size"),
    ],
)
def test_a_name_that_cannot_be(
    conversion: Conversion, tmp_path: Path, options: SheetOptions, words: str
) -> None:
    with pytest.raises(UserError, match=words):
        write_sheet(conversion, tmp_path, ("json",), options)
    assert list(tmp_path.iterdir()) == []


def test_a_file_or_a_fifo_in_the_way_is_said(conversion: Conversion, tmp_path: Path) -> None:
    import os

    (tmp_path / "f").write_text("x")
    with pytest.raises(UserError, match="not a folder"):
        write_sheet(conversion, tmp_path / "f", ("json",))
    os.mkfifo(tmp_path / "p.json")
    with pytest.raises(UserError, match="not a regular file"):
        write_sheet(conversion, tmp_path, ("json",), SheetOptions(name="p", overwrite=True))


def test_an_unknown_format_lists_the_known(conversion: Conversion, tmp_path: Path) -> None:
    with pytest.raises(UserError, match="html, pdf, xlsx, csv, json, card"):
        write_sheet(conversion, tmp_path, ("docx",))


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Ofen Größe 3", "ofen-groesse-3"),
        ("../../etc/passwd", "etc-passwd"),
        ("\x00<>:|", "sheet"),
        ("x" * 300, "x" * 80),
    ],
)
def test_names_of_files_are_plain(text: str, name: str) -> None:
    assert stem(text) == name


@pytest.mark.parametrize(
    ("library", "lost", "kept"),
    [
        ("typst", {".pdf"}, {".html", ".xlsx", ".csv", ".json"}),  # of the sheet and of its card
        ("xlsxwriter", {".xlsx"}, {".html", ".pdf", ".csv", ".json"}),
        ("matplotlib", set(), {".html", ".pdf", ".xlsx", ".csv", ".json"}),
    ],
)
def test_a_missing_library_costs_only_its_own_format(
    conversion: Conversion,
    tmp_path: Path,
    without: Callable[[str], None],
    monkeypatch: pytest.MonkeyPatch,
    library: str,
    lost: set[str],
    kept: set[str],
) -> None:
    without(library)
    if library != "typst":  # what a PDF holds plays no part here
        monkeypatch.setattr("typst.compile", lambda *_, **__: b"%PDF-")
    written = write_sheet(conversion, tmp_path)
    assert {path.suffix for path in written.files} == kept
    (sentence,) = written.missing
    assert library in sentence
    assert 'pip install "burnerlab[sheet]"' in sentence
    assert all(ending.removeprefix(".") in sentence for ending in lost)
    page = (tmp_path / "market-cart-range-to-propane.html").read_text(encoding="utf-8")
    assert ("Not drawn" in page) == (library == "matplotlib")


@pytest.fixture
def without(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Make a library look as if it was not installed."""

    def hide(library: str) -> None:
        for name in [name for name in sys.modules if name.partition(".")[0] == library]:
            monkeypatch.delitem(sys.modules, name)
        real = builtins.__import__

        def refuse(name: str, *args: object, **more: object) -> object:
            if name.partition(".")[0] == library:
                raise ModuleNotFoundError(f"No module named {library!r}", name=library)
            return real(name, *args, **more)  # type: ignore[arg-type]

        monkeypatch.setattr(builtins, "__import__", refuse)

    return hide


def test_a_failed_write_leaves_nothing(
    conversion: Conversion, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.link", full)
    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space left"):
        write_sheet(conversion, tmp_path, ("json",))
    assert list(tmp_path.iterdir()) == []


def test_texts_of_csv_and_workbook_are_in_the_units_of_the_reader(conversion: Conversion) -> None:
    """Steps, notes and the supply: of a pressure in both systems the reader's alone."""
    table = csv_text(conversion, "US")
    steps = next(line for line in table.splitlines() if line.startswith("prompts"))
    assert re.search(r"\d in w\.c\.", steps)
    assert "mbar" not in steps
    metric = " ".join(texts_in(conversion, "metric").prompts)
    assert re.search(r"\d mbar", metric)
    assert "in w.c." not in metric
    assert not re.search(r"\d mbar gauge", texts_in(conversion, "US").supply_of_new_gas)
    assert texts_in(conversion, "metric").supply_of_new_gas == conversion.supply_of_new_gas


def test_a_page_without_its_pictures_says_so(conversion: Conversion, figures: dict[str, str]) -> None:
    made = build_sheet(conversion)
    assert "was made without its pictures" in html_text(made, {})
    assert "was made without its pictures" not in html_text(made, figures)
