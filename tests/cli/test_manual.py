"""Manual page, exit statuses and the standard input in place of a file."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner
from command_runs import run

from burnerlab.appliance import demonstration_path
from burnerlab.cli import COMMANDS, main
from burnerlab.cli.errors import EXIT_STATUSES
from burnerlab.cli.manual import manual_page
from burnerlab.handbook.contents import handbook_dir
from burnerlab.tables.cautions import cautions

DEMONSTRATION = demonstration_path().read_text(encoding="utf-8")
LINTS = (("mandoc", "-T", "lint", "-W", "warning"), ("groff", "-man", "-ww", "-z", "-Tutf8"))


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("man") / "burnerlab.1"
    file.write_text(manual_page(), encoding="utf-8")
    return file


@pytest.mark.parametrize("lint", LINTS, ids=lambda lint: lint[0])
def test_the_manual_page_is_rendered_without_a_warning(lint: tuple[str, ...], page: Path) -> None:
    if shutil.which(lint[0]) is None:
        pytest.skip(f"{lint[0]} is not installed: the page was not looked at by it")
    done = subprocess.run([*lint, str(page)], capture_output=True, text=True, check=False)
    assert done.stdout + done.stderr == ""
    assert done.returncode == 0


def test_the_manual_page_has_every_command_status_and_caution(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert text.isascii()
    for name in COMMANDS:
        assert f'.SS "{name}"' in text
    for status in EXIT_STATUSES:
        assert rf"\fB{status}\fR" in text
    assert len(re.findall(r"(?m)^(?:DANGER|WARNING|CAUTION|NOTICE): ", text)) == len(cautions())


def test_no_line_of_text_is_a_command_of_roff(page: Path) -> None:
    known = {"TH", "SH", "SS", "PP", "TP", "nf", "fi"}
    found = {
        line[1:].split()[0] for line in page.read_text("utf-8").splitlines() if line.startswith((".", "'"))
    }
    assert found <= known


def test_help_manual_page_and_handbook_name_the_same_statuses() -> None:
    text = (handbook_dir() / "exit-statuses.md").read_text(encoding="utf-8").replace("`", "")
    rows = {int(status): meaning for status, meaning in re.findall(r"(?m)^\| (\d+) \| (.+?) \|$", text)}
    assert rows.keys() == EXIT_STATUSES.keys()
    for status, meaning in rows.items():
        assert EXIT_STATUSES[status].startswith(meaning)
    words = run("--help").stdout.partition("Exit status: ")[2].split("\n\n")[0]
    assert re.findall(r"(?:^|, )(\d+) ", " ".join(words.split())) == [str(one) for one in rows]


CONVERT = ("--to", "propane", "--pressure", "11 inH2O")


def test_an_appliance_is_read_from_the_standard_input(tmp_path: Path) -> None:
    file = tmp_path / "range.toml"
    file.write_text(DEMONSTRATION, encoding="utf-8")
    of_file = CliRunner().invoke(main, ["convert", str(file), *CONVERT])
    for given in (DEMONSTRATION, "\ufeff" + DEMONSTRATION.replace("\n", "\r\n")):
        of_input = CliRunner().invoke(main, ["convert", "-", *CONVERT], input=given.encode("utf-8"))
        assert of_input.exit_code == 0
        assert of_input.stdout == of_file.stdout


@pytest.mark.parametrize("command", [("burner",), ("supply",), ("injectors",), ("compare", "-"), ("line",)])
def test_every_command_with_an_appliance_takes_it(command: tuple[str, ...]) -> None:
    words = [*command, str(demonstration_path())] if command[0] == "compare" else [*command, "-"]
    done = CliRunner().invoke(main, words, input=DEMONSTRATION.encode("utf-8"))
    assert done.exit_code == 0, done.output


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (b"", "standard input: appliance: is missing"),
        (b"x = 1\n", "standard input, line 1: x"),
        (b"a = '\xff'\n", "standard input, line 1: is not plain UTF-8 text"),
        (b"# " + b"x" * (1 << 20), "input is larger than 1 MiB"),
    ],
)
def test_what_is_wrong_with_the_input_is_said_of_it(given: bytes, words: str) -> None:
    done = CliRunner().invoke(main, ["burner", "-"], input=given)
    assert done.exit_code == 2
    assert words in done.stderr
    assert not done.stdout
