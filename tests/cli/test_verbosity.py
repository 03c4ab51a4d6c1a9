"""``--quiet`` leaves out explanations and nothing that warns; ``--verbose`` adds to the error stream alone."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from click.testing import CliRunner, Result
from json_runs import LINES, commands_with_json
from wrong_lines import commands_of, furnish

from burnerlab.cli import main
from burnerlab.cli.verbosity import CAUTIONARY, EXPLANATORY, ProgramRun, note_files, notes_to_print
from burnerlab.tables import package_dir, read_csv

WARNS = ("STOP", "DANGER", "WARNING", "CAUTION", "NOTICE", "OUTSIDE")
LEFT_OUT = (
    *("demo", "sweep", "layout", "optimise", "ports", "cylinder", "regulator"),  # take seconds
    *("convert range.toml --to G31", "handbook extinction", "man"),
    *(
        "record add",
        "record export",
        "record import",
        "record backup",
    ),  # a second run meets what the first wrote
)
STOPS = (
    'flue --gas propane --oxygen "5 %" --carbon-monoxide "2000 ppm" --flue-temperature "180 C"',
    'explain range.toml --burner griddle\\ tube\\ left --measured "27 kBtu/h gross" --uncertainty "3 %"',
)
DOUBTS = ('flow --gas propane --pressure "11 psi" --drill "#54"',)
RUNS = (*(line for line in LINES if not line.startswith(LEFT_OUT)), *STOPS, *DOUBTS)
BELOW = (
    "convert",
    "gas",
    "flow",
    "compare",
    "clock",
    "flue",
    "fuels",
    "record list",
    "kit check",
    "settings",
    "schema",
)
WITH_A_RUN = tuple(line for line in RUNS if line.startswith(BELOW))
"""Lines that are run with ``--verbose`` too."""
SHORTER = 13
"""Commands that print explanations at the least."""


@cache
def answers() -> dict[tuple[str, str], Result]:
    """What each line printed, by line and option."""
    before = Path.cwd()
    with TemporaryDirectory() as folder:
        try:
            furnish(Path(folder) / "work")
            return {
                (line, option): CliRunner().invoke(main, [*shlex.split(line), *filter(None, [option])])
                for line in RUNS
                for option in ("", "--quiet", *(("--verbose",) if line in WITH_A_RUN else ()))
            }
        finally:
            os.chdir(before)


def is_subsequence(some: list[str], every: list[str]) -> bool:
    rest: Iterator[str] = iter(every)
    return all(one in rest for one in some)


@pytest.mark.parametrize("line", RUNS)
def test_a_quiet_answer_keeps_all_that_warns(line: str) -> None:
    plain, quiet = answers()[line, ""], answers()[line, "--quiet"]
    assert plain.exit_code == quiet.exit_code in (0, 1), plain.stderr
    assert plain.stderr == quiet.stderr
    for one in plain.stdout.splitlines():
        if any(word in one for word in WARNS):
            assert plain.stdout.splitlines().count(one) == quiet.stdout.splitlines().count(one), one
    assert is_subsequence(quiet.stdout.splitlines(), plain.stdout.splitlines())
    for answer in (plain, quiet):  # one blank line parts; none stands at either end
        assert "\n\n\n" not in answer.stdout
        assert not answer.stdout.startswith("\n")
        assert not answer.stdout.endswith("\n\n")


def test_a_quiet_conversion_is_its_answer_alone() -> None:
    """Drills, inputs, verdicts, what is near, outside or not evaluated; no table of air and margins, no band."""
    line = next(one for one in RUNS if one.startswith("convert"))
    plain, quiet = (answers()[line, option].stdout for option in ("", "--quiet"))
    for kept in ("verdict", "All burners on: rated", "has to be fitted", "near, ", "Not evaluated:"):
        assert kept in quiet
    for background in ("worst margin", "Band ±5 %"):
        assert background in plain
        assert background not in quiet


def test_lines_that_raise_a_stop_do_so() -> None:
    for line in STOPS:
        assert "STOP" in answers()[line, "--quiet"].stdout.splitlines()[0], line


def test_a_unit_in_doubt_is_printed() -> None:
    for line in DOUBTS:
        assert "check the unit" in answers()[line, "--quiet"].stdout


def test_many_answers_get_shorter() -> None:
    shorter = [
        line for line in RUNS if len(answers()[line, "--quiet"].stdout) < len(answers()[line, ""].stdout)
    ]
    assert len({line.split()[0] for line in shorter}) >= SHORTER, shorter


@pytest.mark.parametrize("line", WITH_A_RUN)
def test_a_verbose_answer_is_the_same_with_its_run_below(line: str) -> None:
    plain, verbose = answers()[line, ""], answers()[line, "--verbose"]
    assert plain.stdout == verbose.stdout
    assert plain.exit_code == verbose.exit_code
    added = verbose.stderr.removeprefix(plain.stderr).splitlines()
    heads = [one.split()[0] for one in added if not one.startswith(" ")]
    assert [one for one in heads if one != "file"] == ["gases", "tables", "engines", "units", "paper", "time"]
    named = [word for word in shlex.split(line) if word.endswith(".toml")]
    for name in named:
        assert any(one.startswith("file") and one.endswith(name) for one in added), added


def test_the_units_of_a_run_say_where_they_are_from() -> None:
    run = CliRunner().invoke(main, ["fuels", "--verbose", "--units", "us"])
    assert "units     us (--units)" in run.stderr
    assert "units     metric (default)" in answers()["fuels", "--verbose"].stderr


def test_json_is_the_same_with_either() -> None:
    line = ["flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill", "#54", "--json"]
    plain, quiet, verbose = (
        CliRunner().invoke(main, [*line, *more]) for more in ([], ["--quiet"], ["--verbose"])
    )
    assert plain.stdout == quiet.stdout == verbose.stdout
    assert "engines" in verbose.stderr
    assert not quiet.stderr


@pytest.mark.parametrize("order", [["--quiet", "--verbose"], ["--verbose", "--quiet"]])
def test_the_two_together_are_refused(order: list[str]) -> None:
    run = CliRunner().invoke(main, ["fuels", *order])
    assert run.exit_code == 2
    assert not run.stdout
    assert run.stderr == "error: --quiet and --verbose: give one of them, not both; leave one out\n"


def test_what_cannot_be_answered_has_no_run() -> None:
    run = CliRunner().invoke(main, ["gas", "no-such-gas", "--verbose"])
    assert run.exit_code == 2
    assert "engines" not in run.stderr


def test_every_command_has_both() -> None:
    for path, command in commands_of(main):
        if " ".join(path) in commands_with_json():
            flags = {flag for option in command.params for flag in option.opts}
            assert {"--quiet", "--verbose"} <= flags, path


@pytest.mark.parametrize(
    ("note", "warns"),
    [
        ("11 psi (758 mbar) is outside 5 to 150 mbar for a domestic low-pressure appliance: check the unit", True),
        ("No clearance to anything combustible follows from these figures.", True),
        ("inner cone: not evaluated", True),
        ("subcritical: converging nozzle, isentropic to the ambient pressure", False),
        ("pressures are gauge", False),
    ],
)  # fmt: skip
def test_a_note_that_warns_stays(note: str, warns: bool) -> None:
    assert bool(CAUTIONARY.search(note)) == warns
    assert notes_to_print("Notes", [note]) == [note]


def test_the_standard_input_is_a_file_read() -> None:
    run = ProgramRun()
    note_files(run, ["convert", "-"])
    assert list(run.files) == ["standard input"]


def test_files_are_noted_that_burnerlab_opens(tmp_path: Path) -> None:
    own, other = tmp_path / "own.csv", tmp_path / "other.csv"
    own.write_text("a,b\n1,2\n", encoding="utf-8")
    other.write_text("a,b\n1,2\n", encoding="utf-8")
    run = ProgramRun()
    note_files(run, [])
    read_csv(own)
    other.read_text(encoding="utf-8")
    assert list(run.files) == [str(own)]


def test_every_heading_that_explains_is_one_of_a_command() -> None:
    sources = "".join(path.read_text(encoding="utf-8") for path in (package_dir() / "cli").glob("*.py"))
    assert not [title for title in EXPLANATORY if f'print_notes("{title}"' not in sources]
