"""Every key of ``[tables]`` against every way in which the table behind it may be wrong: said with file and line."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest
from click.testing import CliRunner

from burnerlab import tables
from burnerlab.appliance import read_appliance
from burnerlab.appliance.project.model import OwnTables
from burnerlab.bench.faults.causes import causes
from burnerlab.bench.record.control_chart import drift_rules
from burnerlab.cli import main
from burnerlab.quantity import UserError

KEYS = [field.name for field in fields(OwnTables) if not tables.CONTENTS[field.name].columns]
STOVE = """[appliance]
name = "one ring"
rating = "gross"
[supply]
gas = "propane"
pressure = "11 in w.c."
[[burner]]
name = "ring"
kind = "ring"
rate = "2.5 kW"
orifice = { drill = "#65" }
"""


def text_of(name: str) -> str:
    return (tables.package_dir() / "tables" / "data" / f"{name}.csv").read_text(encoding="utf-8")


def head_line(text: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), start=1) if not line.startswith("#"))


def not_utf8(key: str) -> tuple[bytes, int]:
    text = text_of(key)
    return text.encode("utf-8") + b"\xe4\n", text.count("\n") + 1


def no_column(key: str) -> tuple[bytes, int]:
    first = tables.CONTENTS[key].key[0]
    rows = [{column: cell for column, cell in row.items() if column != first} for row in tables.rows(key)]
    lines = [",".join('"' + cell.replace('"', '""') + '"' for cell in row.values()) for row in rows]
    return "\n".join(["# mine", ",".join(rows[0]), *lines]).encode("utf-8"), 2


def unknown_column(key: str) -> tuple[bytes, int]:
    line, lines = head_line(text_of(key)), text_of(key).splitlines()
    lines[line - 1] = lines[line - 1].replace("provenance", "provenence")
    return "\n".join(lines).encode("utf-8"), line


def a_word(key: str) -> tuple[bytes, int]:
    row = tables.rows(key)[0]
    column = tables.CONTENTS[key].numbers[-1]
    cells = {**row, column: "little"}
    quoted = ",".join(f'"{cell}"' for cell in cells.values())
    return f"{','.join(cells)}\n{quoted}\n".encode(), 2


def empty(key: str) -> tuple[bytes, int]:
    return b"", 1


def broken_quotes(key: str) -> tuple[bytes, int]:
    text = text_of(key)
    return (text + '"never closed,1\n').encode("utf-8"), text.count("\n") + 1


FAULTS = (not_utf8, no_column, unknown_column, a_word, empty, broken_quotes)


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("key", KEYS)
def test_a_broken_table_is_refused_with_file_and_line(key: str, fault, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    content, line = fault(key)
    (tmp_path / "mine.csv").write_bytes(content)
    file = tmp_path / "ring.toml"
    file.write_text(f'{STOVE}[tables]\n{key} = "mine.csv"\n', encoding="utf-8")
    done = CliRunner().invoke(main, ["injectors", str(file)])
    assert done.exit_code == 2
    assert f"mine.csv, line {line}: " in done.stderr
    assert "Traceback" not in done.stderr
    assert "ring.toml" not in done.stderr


@pytest.mark.parametrize("key", KEYS)
def test_a_copy_of_ours_with_a_byte_order_mark_is_taken(key: str, tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_bytes(b"\xef\xbb\xbf" + text_of(key).encode("utf-8"))
    file = tmp_path / "ring.toml"
    file.write_text(f'{STOVE}[tables]\n{key} = "mine.csv"\n', encoding="utf-8")
    assert getattr(read_appliance(file).tables, key).name == "mine.csv"


@pytest.mark.parametrize("key", KEYS)
def test_a_head_without_rows_ends_in_an_answer_or_in_words(key: str, tmp_path: Path) -> None:
    """0.1.0 opened such a file; what then lacks a row says so."""
    (tmp_path / "mine.csv").write_text(",".join(tables.rows(key)[0]) + "\n", encoding="utf-8")
    file = tmp_path / "ring.toml"
    file.write_text(f'{STOVE}[tables]\n{key} = "mine.csv"\n', encoding="utf-8")
    done = CliRunner().invoke(main, ["injectors", str(file)])
    assert done.exit_code in (0, 2), done.stderr


def test_a_misspelt_row_is_refused_where_the_file_is_opened(tmp_path: Path) -> None:
    """A row ``emisivity`` changed nothing and nothing was said."""
    (tmp_path / "tile.csv").write_text("name,value,low,high\nemisivity,0.4,0.35,0.45\n", encoding="utf-8")
    file = tmp_path / "ring.toml"
    file.write_text(f'{STOVE}[tables]\ntile_properties = "tile.csv"\n', encoding="utf-8")
    done = CliRunner().invoke(main, ["convert", str(file), "--to", "G20", "--pressure", "20 mbar"])
    assert done.exit_code == 2
    assert 'tile.csv, line 2: name = "emisivity"' in done.stderr
    assert "did you mean emissivity?" in done.stderr


def test_two_broken_tables_are_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("name,value,low,high\nelbow,tight,1,1\n", encoding="utf-8")
    (tmp_path / "b.csv").write_text("name,value,low,high\nlaminar and,1,1,1\n", encoding="utf-8")
    file = tmp_path / "ring.toml"
    file.write_text(f'{STOVE}[tables]\nfittings = "a.csv"\nsupply_limits = "b.csv"\n', encoding="utf-8")
    done = CliRunner().invoke(main, ["injectors", str(file)])
    assert "a.csv, line 2: value" in done.stderr
    assert "b.csv, line 2: name" in done.stderr


OPTIONS = {
    "instrument_uncertainty": [
        "clock", "--gas", "propane", "--volume", "10 L", "--time", "120 s", "--instruments"
    ],
    "cylinder_heat": [
        "cylinder", "--gas", "propane", "--size", "20 lb", "--air-temperature", "0 C",
        "--rate", "10 kW gross", "--heat-table",
    ],
    "flue_limits": ["flue", "--gas", "propane", "--oxygen", "5 %", "--carbon-monoxide", "90 ppm", "--limits"],
    "interchange": ["interchange", "natural-gas-typical", "biomethane", "--constants"],
    "tile_properties": [
        "tile", "--gas", "propane", "--rate", "4 kW gross", "--area", "200 cm2", "--aeration", "110 %",
        "--properties",
    ],
}  # fmt: skip
"""A command with the option that takes a table of one's own."""


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", OPTIONS)
def test_a_broken_table_of_an_option_is_refused_with_file_and_line(name: str, fault, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    content, line = fault(name)
    mine = tmp_path / "mine.csv"
    mine.write_bytes(content)
    done = CliRunner().invoke(main, [*OPTIONS[name], str(mine)])
    assert done.exit_code == 2, done.output
    assert f"mine.csv, line {line}: " in done.stderr


@pytest.mark.parametrize("name", OPTIONS)
def test_a_copy_of_ours_as_an_option_is_taken(name: str, tmp_path: Path) -> None:
    mine = tmp_path / "mine.csv"
    mine.write_bytes(b"\xef\xbb\xbf" + text_of(name).encode("utf-8"))
    done = CliRunner().invoke(main, [*OPTIONS[name], str(mine)])
    assert done.exit_code in (0, 1), done.output + done.stderr


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"size,bin\n#54,A3\n1.00 mm \xe4,A4\n", "mine.csv, line 3: is not text in UTF-8"),
        (b"# drawer\nsize\n#54\nbanana\n", "mine.csv, line 4: "),
        (b'size\n#54\n"1.0 mm\n', "mine.csv, line 3: cannot be read as CSV"),
        (b"", "mine.csv: the drill list is empty"),
    ],
)
def test_a_broken_list_of_drills_is_refused_with_file_and_line(
    content: bytes, words: str, tmp_path: Path
) -> None:
    (tmp_path / "mine.csv").write_bytes(content)
    size = ["size", "--gas", "propane", "--rate", "3.5 kW gross", "--pressure", "11 inH2O", "--drills"]
    done = CliRunner().invoke(main, [*size, str(tmp_path / "mine.csv")])
    assert done.exit_code == 2
    assert words in done.stderr


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", ["causes", "next_measurements", "drift_rules"])
def test_a_broken_table_of_the_bench_is_refused_with_file_and_line(name: str, fault, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    content, line = fault(name)
    mine = tmp_path / "mine.csv"
    mine.write_bytes(content)
    read = {"causes": causes, "drift_rules": drift_rules}.get(name, lambda own: tables.read(name, own))
    with pytest.raises(UserError, match=f"mine.csv, line {line}: "):
        read(mine)


def test_a_misspelt_cause_is_named_with_the_nearest(tmp_path: Path) -> None:
    mine = tmp_path / "mine.csv"
    head = "cause,title,prior,low,high,unit,method,needs,source,place,provenance,note\n"
    mine.write_text(
        head + "dial misraed,misread,1,0.5,2,,meter,,shop,count,measured here,\n", encoding="utf-8"
    )
    with pytest.raises(
        UserError, match=r'mine.csv, line 2: cause = "dial misraed".*did you mean dial misread'
    ):
        causes(mine)
