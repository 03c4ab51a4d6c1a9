"""Cautions: one set, worst first, in the place where somebody acts on the answer; no option removes one."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import answer, run

from burnerlab.appliance import demonstration_path
from burnerlab.tables import rows
from burnerlab.tables.cautions import Signal, caution, cautions, closing_cautions

CART = str(demonstration_path())
SPECIAL = "mix:methane=0.8,hydrogen=0.2"
COLUMNS = 80

# command, and the ids of the lines that close its answer; ids in the order of danger
ANSWERS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("gas", "propane"), "calculated"),
    (("gas", SPECIAL), "special-gas calculated"),
    (("gas", "--heating-value", "16 MJ/m3 gross at 15C", "--relative-density", "0.5", "--family", "town gas"),
     "special-gas calculated"),
    (("fuels",), "calculated"),
    (("verify", "--topic", "conversion"), "calculated"),
    (("flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill", "#54"), "overfire gas-parts calculated"),
    (("flow", "--gas", SPECIAL, "--pressure", "20 mbar", "--drill", "#54"),
     "overfire gas-parts special-gas calculated"),
    (("size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O"),
     "overfire gas-parts calculated"),
    (("compare", CART, CART), "overfire gas-parts calculated"),
    (("line", CART), "overfire gas-parts certificate"),
    (("plate", CART, "--market", "A"), "overfire gas-parts certificate"),
    (("injectors", CART), "overfire gas-parts calculated"),
    (("tolerance", CART, "--draws", "1000"), "overfire gas-parts calculated"),
    (("supply", CART), "overfire gas-parts calculated"),
    (("regulator", CART, "--setting", "7 inH2O"), "overfire gas-parts calculated"),
    (("regulator", CART, "--setting", "3 psi"), "overfire gas-parts supply-pressure calculated"),
    (("burner", CART, "--burner", "stock-pot ring"), "overfire gas-parts calculated"),
    (("ports", CART, "--burner", "rear burner", "--gas", "propane@11 inH2O"), "overfire gas-parts calculated"),
    (("convert", CART, "--to", "propane", "--pressure", "11 inH2O"), "overfire gas-parts certificate"),
    (("convert", CART, "--to", SPECIAL, "--pressure", "7 inH2O"),
     "overfire gas-parts special-gas certificate"),
    (("cylinder", "--gas", "propane", "--size", "20 lb", "--air-temperature", "0 C", "--rate", "60 kBtu/h gross"),
     "cylinder supply-pressure calculated"),
    (("cylinder", "--gas", "propane", "--size", "100 lb", "--air-temperature", "30 C", "--rate", "2 kBtu/h gross"),
     "cylinder calculated"),
    (("flame", "--gas", "propane", "--aeration", "60 %"), "calculated"),
    (("tile", "--gas", "propane", "--firing-density", "150 kW/m2", "--aeration", "1.1"), "hot-surface calculated"),
    (("tile", "--gas", SPECIAL, "--firing-density", "150 kW/m2", "--aeration", "1.1"),
     "special-gas hot-surface calculated"),
    (("interchange", "natural-gas-typical", "biomethane"), "calculated"),
    (("clock", "--gas", "natural-gas-typical", "--volume", "2 ft3", "--time", "90 s"),
     "carbon-monoxide flame calculated"),
    (("weigh", "--gas", "propane", "--mass-loss", "250 g", "--time", "20 min"), "carbon-monoxide cylinder calculated"),
    (("flue", "--gas", "propane", "--oxygen", "5 %", "--carbon-monoxide", "87 ppm"),
     "carbon-monoxide flame calculated"),
    (("explain", CART, "--burner", "stock-pot ring", "--measured", "8.8 kW gross"), "overfire gas-parts calculated"),
    (("layout", CART), "calculated"),
    (("carryover", CART), "flame provoked-fault calculated"),
    (("skins", CART), "hot-surface calculated"),
    (("handbook",), "calculated"),
)  # fmt: skip


def closing(text: str) -> list[str]:
    """The lines of cautions at the end of an output."""
    lines = text.rstrip("\n").split("\n")
    return lines[len(lines) - lines[::-1].index("") :]


@pytest.mark.parametrize(
    ("command", "ids"), ANSWERS, ids=lambda each: each[0] if isinstance(each, tuple) else each
)
def test_an_answer_ends_with_the_lines_that_fit_it(command: tuple[str, ...], ids: str) -> None:
    done = run(*command)
    assert done.exit_code == 0, done.output
    assert closing(done.stdout) == [caution(one).line for one in ids.split()]


def test_lines_are_short_and_the_set_is_in_order() -> None:
    signals = [list(Signal).index(one.signal) for one in cautions()]
    assert signals == sorted(signals)
    for one in cautions():
        assert len(one.line) <= COLUMNS, one.id
        assert one.line.startswith(f"{one.signal}: ")
        assert all((one.hazard, one.consequence, one.avoidance))


def test_injury_is_never_a_notice() -> None:
    notices = [one for one in cautions() if one.signal == "NOTICE"]
    assert notices
    for one in notices:
        assert not any(word in one.text.lower() for word in ("kill", "explode", "ignite", "poison")), one.id


def test_a_tile_that_lacks_air_ends_with_carbon_monoxide_first() -> None:
    command = ("tile", "--gas", "propane", "--firing-density", "150 kW/m2 net", "--aeration")
    lean, rich = (run(*command, aeration).stdout for aeration in ("1.1", "0.95"))
    assert caution("carbon-monoxide").line not in lean
    assert closing(rich)[0] == caution("carbon-monoxide").line
    assert closing_cautions("convert", "lack-of-air")[0] == caution("carbon-monoxide")


@pytest.mark.parametrize("special", [(), ("special-gas",), ("lack-of-air",), ("lack-of-air", "special-gas")])
def test_no_line_takes_the_place_of_another(special: tuple[str, ...]) -> None:
    from burnerlab.cli import COMMANDS

    for command in COMMANDS:
        for more in ((), ("frost",)):
            found = closing_cautions(command, *more, *special)
            order = [cautions().index(one) for one in found]
            assert set(closing_cautions(command)) <= set(found)
            assert 1 <= len(closing_cautions(command)) <= 4
            assert order == sorted(order), command
            assert "special-gas" not in special or caution("special-gas") in found
            assert "lack-of-air" not in special or caution("carbon-monoxide") in found


def test_every_caution_is_reached_by_a_command_a_sheet_or_a_notebook() -> None:
    from burnerlab.cli import COMMANDS

    reached = {
        one.id for name in COMMANDS for one in closing_cautions(name, "frost", "high-pressure", "special-gas")
    }
    reached |= {one.id for one in cautions() if set(one.occasions) & {"sheet", "experiment"}}
    reached |= {one.id for name in COMMANDS for one in closing_cautions(name)}
    assert reached == {row["id"] for row in rows("cautions")}
    known = {
        *COMMANDS,
        "sheet",
        "frost",
        "high-pressure",
        "special-gas",
        "lack-of-air",
        "experiment",
        "every",
    }
    assert {each for one in cautions() for each in one.occasions} <= known


@pytest.mark.parametrize("command", {line[0]: line for line, _ in ANSWERS}.values(), ids=lambda line: line[0])
def test_json_carries_every_caution_in_full(command: tuple[str, ...]) -> None:
    found = answer(*command)["cautions"]
    columns = ("id", "signal", "hazard", "consequence", "avoidance")
    assert found == [{column: row[column] for column in columns} for row in rows("cautions")]


def test_the_whole_set_by_a_flag_of_its_own_above_the_lines_that_stay() -> None:
    text = run(
        "size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O", "--all-cautions"
    ).stdout
    words = " ".join(text.split())
    places = [words.index(f"{one.signal}: {one.text}") for one in cautions()]
    assert places == sorted(places)
    assert closing(text) == [one.line for one in closing_cautions("size")]
    assert max(map(len, text.split("\n"))) <= COLUMNS + 20  # the tables above are the command's own
    assert all(f"{one.signal}: {one.text}" in words for one in cautions())


def test_every_command_that_answers_has_the_flag() -> None:
    from burnerlab.cli import COMMANDS

    groups = {"record", "kit"}
    for name in sorted(set(COMMANDS) - groups):
        assert "--all-cautions" in run(name, "--help").stdout, name
    for line in (
        ("record", "list"),
        ("record", "check"),
        ("record", "chart"),
        ("kit", "window"),
        ("kit", "check"),
    ):
        assert "--all-cautions" in run(*line, "--help").stdout, line


def test_the_record_and_the_kit_close_their_answers_too(tmp_path: Path) -> None:
    file = ("--file", str(tmp_path / "bench.sqlite"))
    add = ("record", "add", "--serial", "S-1", "--model", "cart", "--tester", "A. Person", *file)
    assert closing(run(*add).stdout) == [caution("calculated").line]
    for line in ("list", "check", "kits"):
        assert closing(run("record", line, *file).stdout) == [caution("calculated").line], line
    assert [one.id for one in closing_cautions("kit")] == ["kit", "calculated"]


def test_what_was_written_is_named_above_the_cautions(tmp_path: Path) -> None:
    convert = ("convert", CART, "--to", "propane", "--pressure", "11 inH2O", "--formats", "csv")
    for line in (convert, ("layout", CART)):
        text = run(*line, "--out", str(tmp_path)).stdout
        assert "written: " in text, line
        assert closing(text) == [one.line for one in closing_cautions(line[0])]


def test_the_bench_says_it_when_it_starts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("burnerlab.page.app.serve", lambda bench, listening: listening.socket.close())
    text = run("bench", "--demo", "--port", "0", "--file", str(tmp_path / "bench.sqlite")).stdout
    assert closing(text)[:3] == [caution(one).line for one in ("gas-leak", "carbon-monoxide", "flame")]


def test_the_desk_says_it_when_it_starts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("burnerlab.page.app.serve", lambda desk, listening: listening.socket.close())
    text = run("desk", "--port", "0").stdout
    assert closing(text)[:3] == [caution(one).line for one in ("overfire", "gas-parts", "calculated")]


def test_a_doubtful_unit_is_a_note_and_no_caution() -> None:
    found = answer("flow", "--gas", "propane", "--pressure", "30 psi", "--diameter", "25 mm")
    assert sum("check the unit" in note for note in found["notes"]) == 2
    assert not any("check the unit" in one["hazard"] for one in found["cautions"])
