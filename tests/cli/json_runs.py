"""A line of every command that answers with JSON, each run once for all tests that look at the documents."""

from __future__ import annotations

import builtins
import os
import shlex
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from click.testing import CliRunner, Result
from wrong_lines import commands_of, furnish

from burnerlab.cli import conversion, main
from burnerlab.layout import search
from burnerlab.quantity.outputs import ENGINES

LINES = (
    "demo demonstration",
    'convert range.toml --to propane --pressure "11 inH2O"',
    'convert range.toml --to G31 --pressure "37 mbar" --category II2H3+ --altitude "5000 ft"',
    "gas propane --at 15C/15C",
    "gas natural-gas-typical",
    "fuels",
    'flow --gas propane --pressure "11 inH2O" --drill "#54" --altitude "5000 ft"',
    'size --gas propane --rate "12 kBtu/h gross" --pressure "11 inH2O"',
    "compare range.toml range.toml",
    "line range.toml --market A",
    "plate range.toml --market B",
    "injectors range.toml --altitude '1500 m'",
    "tolerance range.toml --draws 2000",
    "tolerance range.toml --market B --draws 2000",
    "sweep study.toml --workers 1",
    "supply range.toml",
    "supply range.toml --market A",
    "regulator range.toml --setting '7 inH2O'",
    'cylinder --gas propane-hd5 --size "20 lb" --air-temperature "0 C" --rate "60 kBtu/h gross"',
    "burner range.toml",
    'ports range.toml --burner "rear burner" --gas "propane@11 inH2O"',
    "flame --gas propane --aeration 0.55",
    'tile --gas propane --rate "2.4 kW gross" --area "150 mm x 100 mm" --aeration 1.1',
    "interchange natural-gas-typical biomethane",
    'clock range.toml --burner "stock-pot ring" --volume "2 ft3" --time "515 s"',
    'clock --heating-value "1037 Btu/ft3 gross at 60F" --volume "2 ft3" --time "18 s" --meter-pressure "5 psig"'
    ' --barometer "14.35 psia" --gas-temperature "60 F"',
    'weigh --gas propane --mass-loss "250 g" --time "30 min" --resolution "1 g"',
    'flue --gas propane --oxygen "5 %" --carbon-monoxide "87 ppm" --flue-temperature "180 C"',
    'explain range.toml --burner "stock-pot ring" --measured "15.4 kBtu/h gross" --uncertainty "3 %"',
    'record add --serial C-0413 --model "market cart range" --tester "R. Quill"'
    ' --reading "griddle: manifold pressure = 11 inH2O" --result "griddle: deviation = 1 % in -5 %..5 %"',
    'record chart --model "market cart range" --burner griddle',
    "record check",
    "record export --out november.json",
    "record import bench2.json",
    "record backup --out copy.sqlite",
    "record kits",
    "record list",
    "record search 0412",
    "record show C-0412",
    "record stops",
    "kit check parts.toml --mass '812 g' --scan OR-54",
    "kit list range.toml --market B --parts parts.toml",
    "kit window parts.toml",
    "layout cart.toml --grid 12x10",
    "layout cart.toml --compare-with cart.toml --grid 12x10",
    "optimise cart.toml --tubes 2 --inputs '100 %'",
    "carryover cart.toml",
    "skins cart.toml",
    "settings",
    "schema",
    "completion bash",
    "man",
    "verify --topic orifice_tables",
    "tables",
    "handbook",
    "handbook json#envelope",
    "handbook extinction strain",
)
NOT_HERE = {
    "bench": "serves until it is stopped; its first line is looked at in tests/page",
    "calibrate": "needs a record of many units; looked at in tests/bench/learning/test_calibration.py",
    "desk": "serves until it is stopped; its first line is looked at in tests/page",
    "flame build": "works for hours",
    "record correct": "needs the name of an entry; looked at in tests/bench/record/test_record_commands.py",
    "record report": "needs a plan and its tests; looked at in tests/page/test_page_plan.py",
    "record release": "needs a stop that stands; looked at in tests/bench/record/test_record_stop_commands.py",
}


@contextmanager
def short_search() -> Iterator[None]:
    """A search for a layout is a short one: how good its designs are is asked in tests/layout."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(search, "GENERATIONS", 1)
        patch.setattr(search, "LOCAL_EVALUATIONS", 5)
        yield


@contextmanager
def short_sheet() -> Iterator[None]:
    """A sheet is its data file alone: the others are looked at in tests/report and tests/cli/test_readme.py."""
    whole = conversion.write
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(conversion, "write", lambda c, to: whole(c, replace(to, formats=("json",))))
        yield


@cache
def documents() -> dict[str, Result]:
    """What each line printed, by the line."""
    before = Path.cwd()
    with TemporaryDirectory() as folder, short_search(), short_sheet():
        try:
            furnish(Path(folder) / "work")
            return {line: _answered(line) for line in LINES}
        finally:
            os.chdir(before)


called: dict[str, set[str]] = {}
"""The engines that functions of the package called while each line was run, numpy apart, which every file has."""


def _answered(line: str) -> Result:
    made, plain = called.setdefault(line, set()), builtins.__import__

    def noted(name: str, *more: Any) -> Any:
        engine = name.partition(".")[0]
        if engine in ENGINES and more and str((more[0] or {}).get("__name__")).startswith("burnerlab."):
            made.add(engine)
        return plain(name, *more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(builtins, "__import__", noted)
        return CliRunner().invoke(main, [*shlex.split(line), "--json"])


def commands_with_json() -> set[str]:
    """Every command that has the option --json, by the words that call it."""
    return {
        " ".join(path)
        for path, command in commands_of(main)
        if any("--json" in option.opts for option in command.params)
    }
