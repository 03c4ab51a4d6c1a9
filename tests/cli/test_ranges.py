"""One input has one range, at whichever door it comes in: project file, command, page, notebook."""

from __future__ import annotations

from collections.abc import Callable

import click
import pytest
from click.testing import CliRunner

from burnerlab.appliance import ConversionTarget, demonstration_path
from burnerlab.appliance.read import read_appliance_text
from burnerlab.cli import COMMANDS, command_of, main
from burnerlab.gas import load
from burnerlab.page.fields import fields
from burnerlab.quantity import Kind, read
from burnerlab.quantity.error import UserError
from burnerlab.quantity.inputs import input_row

CART = demonstration_path()
PRESSURE = ("--pressure", "11 inH2O")
LINES: dict[str, tuple[str, ...]] = {
    "convert": (str(CART), "--to", "propane", *PRESSURE),
    "tolerance": (str(CART), "--to", "propane", *PRESSURE),
    "injectors": (str(CART), "--supply", "propane@11 inH2O"),
    "gas": ("propane",),
    "flow": ("--gas", "propane", "--drill", "#54", *PRESSURE),
    "size": ("--gas", "propane", "--rate", "12 kBtu/h gross", *PRESSURE),
    "cylinder": (
        "--gas",
        "propane",
        "--size",
        "20 lb",
        "--rate",
        "30 kBtu/h gross",
        "--air-temperature",
        "20 C",
    ),
    "flame": ("--gas", "propane", "--phi", "1"),
    "tile": (
        "--gas",
        "propane",
        "--area",
        "190 mm x 130 mm",
        "--rate",
        "16 kBtu/h gross",
        "--aeration",
        "1.1",
    ),
    "clock": ("--gas", "propane", "--volume", "1 L", "--time", "60 s"),
    "flue": ("--gas", "propane", "--oxygen", "5 %"),
}
"""Commands that take what surrounds an appliance, and the rest of a line."""
EDGES = [
    ("barometer", Kind.ABSOLUTE_PRESSURE, ("49.9 kPa", "50.1 kPa"), ("110.1 kPa", "109.9 kPa")),
    ("altitude", Kind.LENGTH, ("-431 m", "-429 m"), ("5501 m", "5499 m")),
    ("gas_temperature", Kind.TEMPERATURE, ("-40.1 C", "-39.9 C"), ("80.1 C", "79.9 C")),
    ("oxygen", Kind.FRACTION, ("", "0 %"), ("20.86 %", "20.84 %")),
    ("carbon_dioxide", Kind.FRACTION, ("", "0.1 %"), ("25.1 %", "24.9 %")),
    ("carbon_monoxide", Kind.FRACTION, ("", "0 ppm"), ("10.1 %", "9.9 %")),
    ("meter_pressure", Kind.GAUGE_PRESSURE, ("-1 mbar", "0 mbar"), ("10.1 bar", "9.9 bar")),
]
"""Each range: just outside and just inside its lower end, then its upper end."""


def with_option(option: str) -> set[str]:
    """Commands that have an option."""
    return {
        name for name in COMMANDS for one in command_of(name).params
        if isinstance(one, click.Option) and option in one.opts
    }  # fmt: skip


def refused(command: str, option: str, text: str) -> bool:
    """Whether a command refuses this text of an option for its range."""
    result = CliRunner().invoke(main, [command, *LINES[command], option, text])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return f"{option} = " in result.stderr and "outside the accepted range" in result.stderr


def refused_by(what: Callable[[], object]) -> bool:
    try:
        what()
    except UserError as error:
        return any("outside the accepted range" in one.what for one in error.problems)
    return False


@pytest.mark.parametrize("command", LINES)
def test_the_line_of_each_command_is_accepted(command: str) -> None:
    result = CliRunner().invoke(main, [command, *LINES[command]])
    assert result.exit_code in (0, 1), result.stderr


@pytest.mark.parametrize(("name", "kind", "low", "high"), EDGES, ids=[edge[0] for edge in EDGES])
def test_every_command_holds_an_input_to_the_same_range(
    name: str, kind: Kind, low: tuple[str, str], high: tuple[str, str]
) -> None:
    option = "--" + name.replace("_", "-")
    doors = with_option(option)
    assert doors
    assert doors <= set(LINES), "a command that this table does not try"
    for outside, inside in (low, high):
        for command in doors:
            assert not outside or refused(command, option, outside), (command, outside)
            assert not refused(command, option, inside), (command, inside)


@pytest.mark.parametrize(("name", "kind", "low", "high"), EDGES, ids=[edge[0] for edge in EDGES])
def test_the_page_holds_an_input_to_the_same_range(
    name: str, kind: Kind, low: tuple[str, str], high: tuple[str, str]
) -> None:
    field = fields()[name]
    for outside, inside in (low, high):
        assert not outside or refused_by(lambda text=outside: field.read(text, "metric"))
        assert field.read(inside, "metric") == read(inside, kind)
    assert field.row == input_row(name).name


@pytest.mark.parametrize(("name", "kind", "low", "high"), EDGES[:3], ids=[edge[0] for edge in EDGES[:3]])
def test_file_and_notebook_hold_what_surrounds_an_appliance_to_the_same_range(
    name: str, kind: Kind, low: tuple[str, str], high: tuple[str, str]
) -> None:
    text = CART.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith(name) or line.startswith("altitude"))
    key = (
        "ambient_pressure_Pa" if name == "barometer" else "altitude_m" if name == "altitude" else f"{name}_K"
    )
    for pair in (low, high):
        for written, is_outside in zip(pair, (True, False), strict=True):
            changed = text.replace(line, f'{name} = "{written}"')
            if name == "gas_temperature":
                changed = text.replace('gas_temperature = "15 C"', f'gas_temperature = "{written}"')
            assert refused_by(lambda text=changed: read_appliance_text(text)) == is_outside
            value = {key: read(written, kind)}
            target = ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0, **value)
            assert refused_by(target.check) == is_outside
