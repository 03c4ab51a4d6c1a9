"""The command line itself: its help, its errors, its exit status, what it loads."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from burnerlab.cli import COMMANDS, main
from burnerlab.cli.errors import INTERNAL_ERROR, USER_ERROR, run
from burnerlab.tables.problem import Problem, UserError

HEAVY = {
    "cantera",
    "jinja2",
    "matplotlib",
    "pandas",
    "pydantic_core",
    "rich",
    "scipy.optimize",
    "scipy.special",
    "typst",
    "xlsxwriter",
}


def failing(error: Exception) -> Callable[[], None]:
    def command() -> None:
        raise error

    return command


def modules_after(*args: str) -> set[str]:
    """Modules loaded when a command has run in a process of its own."""
    code = (
        "import sys, contextlib, io\n"
        "from burnerlab.cli import main\n"
        "with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()):\n"
        "    main(sys.argv[1:])\n"
        "print(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code, *args], capture_output=True, text=True, check=True)
    assert not done.stderr
    return set(done.stdout.split())


def test_help_of_the_group_imports_no_room() -> None:
    assert not modules_after("--help") & (HEAVY | {"numpy", "pint"})


def test_a_command_solves_small_matrices_on_one_core_unless_the_user_says_otherwise() -> None:
    code = "import burnerlab.cli, os; print(os.environ['OPENBLAS_NUM_THREADS'])"
    plain = {name: value for name, value in os.environ.items() if not name.endswith("_THREADS")}
    for own, printed in (({}, "1"), ({"OPENBLAS_NUM_THREADS": "3"}, "3")):
        done = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=plain | own
        )
        assert done.stdout.split() == [printed]


def test_size_loads_nothing_heavy() -> None:
    loaded = modules_after("size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O")
    assert "numpy" in loaded
    assert not loaded & HEAVY


@pytest.mark.parametrize("words", ["tables", "gas propane", "gas propane --json", "size --help", "--help"])
def test_a_reader_that_goes_away_ends_a_command_with_0(words: str, monkeypatch: pytest.MonkeyPatch) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w", encoding="utf-8") as output:
        monkeypatch.setattr(sys, "stdout", output)
        with pytest.raises(SystemExit) as ending:
            main(words.split())
        monkeypatch.undo()
    assert ending.value.code == 0


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name: str) -> None:
    result = CliRunner().invoke(main, [name, "--help"])
    assert result.exit_code == 0, result.output
    assert f"burnerlab {name}" in result.output
    assert "Example" in result.output
    assert "--json" in result.output


def test_help_marks_no_option_needed_that_a_market_of_the_file_stands_for() -> None:
    assert "[required]" not in CliRunner().invoke(main, ["convert", "--help"]).output
    assert "[required]" in CliRunner().invoke(main, ["size", "--help"]).output


def test_help_lists_every_command() -> None:
    result = CliRunner().invoke(main, ["--help"])
    assert result.exit_code == 0
    for name, (_, about) in COMMANDS.items():
        assert name in result.output
        assert about.split()[0] in result.output


def test_a_misspelt_command_gets_a_suggestion() -> None:
    result = CliRunner().invoke(main, ["convrt"])
    assert result.exit_code == USER_ERROR
    assert "did you mean convert?" in result.stderr
    assert not result.stdout


def test_every_problem_is_one_line_and_nothing_is_traced(capsys: pytest.CaptureFixture[str]) -> None:
    problems = [Problem("needs a unit", value="11", key="--pressure"), Problem("gross or net?", key="--rate")]
    assert run(failing(UserError(problems)), as_json=False, debug=False) == USER_ERROR
    out, err = capsys.readouterr()
    assert not out
    assert err.splitlines() == ['error: --pressure = "11": needs a unit', "error: --rate: gross or net?"]


def test_json_errors_are_one_object_on_the_error_stream(capsys: pytest.CaptureFixture[str]) -> None:
    error = UserError(Problem("needs a unit", value="11", key="--pressure", fix="write 11 inH2O"))
    assert run(failing(error), as_json=True, debug=False) == USER_ERROR
    out, err = capsys.readouterr()
    assert not out
    problem = json.loads(err)["error"]["problems"][0]
    assert (problem["key"], problem["value"], problem["fix"]) == ("--pressure", "11", "write 11 inH2O")


def test_a_defect_is_called_one_and_asks_for_the_traceback(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(failing(RuntimeError("lost\nin the middle")), as_json=False, debug=False) == INTERNAL_ERROR
    err = capsys.readouterr().err
    assert err.startswith("internal error: RuntimeError: lost; ")
    assert "--debug" in err
    assert "Traceback" not in err


def test_debug_shows_the_traceback(capsys: pytest.CaptureFixture[str]) -> None:
    run(failing(UserError(Problem("no"))), as_json=False, debug=True)
    assert "Traceback" in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_an_error_of_the_user(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(failing(OSError(13, "Permission denied", "/x/y")), as_json=False, debug=False) == USER_ERROR
    assert capsys.readouterr().err == "error: /x/y: Permission denied\n"


ONE_BURNER = """
[appliance]
name = "one burner"
rating = "gross"

[supply]
gas = "natural-gas-typical"
pressure = "7 in w.c."

[[burner]]
name = "plain"
rate = "1.5 kW"
orifice = { diameter = "0.90 mm" }
"""


def test_a_full_disk_is_said_in_words_and_leaves_nothing_half_written(tmp_path: Path) -> None:
    """/dev/full as the output, and a limit of 8 kB to a file as a disk that fills up while a sheet is written.

    A burner without ports is converted, which is soon done; the workbook of it alone is larger than that.
    """
    gas = [sys.executable, "-m", "burnerlab", "gas", "propane"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(gas, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert (done.returncode, done.stderr.count("No space left on device")) == (USER_ERROR, 1)

    def fill() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192))

    (tmp_path / "one.toml").write_text(ONE_BURNER, encoding="utf-8")
    to = ["--to", "propane", "--pressure", "11 in w.c.", "--out", "sheet", "--formats", "json,xlsx"]
    line = [sys.executable, "-m", "burnerlab", "convert", "one.toml", *to]
    own = os.environ | {
        "PYTHONDONTWRITEBYTECODE": "1"
    }  # a compiled module would be cut off as well, for all that follow
    done = subprocess.run(
        line, cwd=tmp_path, capture_output=True, text=True, check=False, preexec_fn=fill, env=own
    )
    assert (done.returncode, done.stdout) == (USER_ERROR, "")
    assert "File too large" in done.stderr
    assert not list((tmp_path / "sheet").iterdir())


def test_wrong_options_are_errors_of_the_user(capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        run(failing(click.UsageError("No such option: --presure")), as_json=False, debug=False) == USER_ERROR
    )
    assert capsys.readouterr().err == "error: No such option: --presure\n"
