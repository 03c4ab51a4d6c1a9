"""What the README shows is what the product does."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from command_runs import demonstration_run
from printed_blocks import commands

from burnerlab.appliance import convert, read_appliance_text
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.project.burner_kind import BurnerKind
from burnerlab.cli import COMMANDS
from burnerlab.tables.cautions import cautions

README = Path(__file__).parents[2] / "README.md"


def blocks(language: str) -> list[str]:
    """Fenced blocks of the README marked with a language; "" for plain ones."""
    text = README.read_text(encoding="utf-8")
    return re.findall(rf"(?ms)^```{language}\n(.*?)^```$", text)


def test_the_appliance_file_of_the_readme_converts() -> None:
    text, market = blocks("toml")
    job = convert(read_appliance_text(text), "propane", 2740.0)
    assert [burner.name for burner in job.burners] == ["griddle tube"]
    (target,) = targets_of(read_appliance_text(f"{text}\n{market}"))
    assert [conversion.to_gas.name for conversion in convert_market(target)] == ["G30", "G31"]


def test_the_readme_lists_every_kind_of_burner() -> None:
    text, _ = blocks("toml")
    (line,) = re.findall(r"(?m)^kind .*# (.+)$", text)
    assert re.split(r", | or ", line) == [kind.value for kind in BurnerKind]


@pytest.mark.slow
def test_the_python_of_the_readme_runs(tmp_path: Path) -> None:
    shutil.copytree(demonstration_run().folder, tmp_path / "burnerlab-demo")
    (code,) = blocks("python")
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.golden
@pytest.mark.slow
def test_the_demonstration_of_the_readme_is_what_it_prints() -> None:
    """Renew the block with what ``burnerlab demo`` prints."""
    shown = next(block for block in blocks("") if "written: " in block)
    assert demonstration_run().printed.strip() == shown.strip()


@pytest.mark.golden
def test_the_commands_of_the_readme_print_what_it_shows() -> None:
    """Renew a block with what its command prints; a line of ... stands for any lines."""
    shown = [block for block in blocks("") if block.startswith("$ burnerlab")]
    assert shown
    for block in shown:
        for one in commands(f"{block}..."):
            assert not one.complaint()


def test_the_cautions_of_the_readme_are_those_of_the_table_worst_first() -> None:
    section = README.read_text(encoding="utf-8").partition("## Cautions\n")[2].partition("\n## ")[0]
    assert re.findall(r"(?m)^- (.*)$", section) == [one.line for one in cautions()]


def test_every_command_is_in_the_readme() -> None:
    text = README.read_text(encoding="utf-8")
    assert not [name for name in COMMANDS if f"burnerlab {name}" not in text]


def test_both_commands_are_marked_for_the_checks() -> None:
    text = README.read_text(encoding="utf-8")
    for name, ends in (("demo", "burnerlab demo"), ("tests", "pytest -n 2")):
        block = re.search(rf"<!-- command: {name} -->\s*```\w*\n(.*?)```", text, re.DOTALL)
        assert block is not None
        assert "python3 -m venv" in block[1]
        assert block[1].strip().endswith(ends)
