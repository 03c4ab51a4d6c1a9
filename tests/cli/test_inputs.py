"""One input has one range, whichever way it comes in: command, project file, page, record, notebook.

Each test walks the declarations, so that an input added to any of them is tried without another line here.
"""

from __future__ import annotations

import math
import re
import shlex
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import click
import pytest
from click.testing import CliRunner

from burnerlab.appliance import ConversionTarget, demonstration_path
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.keys import Key, table_keys
from burnerlab.appliance.project.project_file import read_appliance_text
from burnerlab.bench.record.entry import quantities
from burnerlab.cli import COMMANDS, command_of, main
from burnerlab.cli.options import Declared
from burnerlab.gas import load
from burnerlab.page.form import fields
from burnerlab.quantity import Kind, UserError, read, units
from burnerlab.quantity.examples import examples_in
from burnerlab.quantity.grammar import split
from burnerlab.quantity.inputs import Input, InputRow, input_row, input_rows
from burnerlab.quantity.read import range_words
from burnerlab.tables import package_dir, rows

BEYOND = 0.01  # of an end, how far outside and inside of it is tried


@dataclass(frozen=True)
class Door:
    """One way in for a quantity of table ``inputs``."""

    name: str
    row: InputRow
    read: Callable[[str], object]


def options(
    command: click.Command = main, words: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], Input]]:
    """Every declared option and argument, with the words of its command."""
    for named, each in every_command(command, words):
        for one in each.params:
            if isinstance(one, Declared):
                yield named, one.declared


def every_command(
    command: click.Command = main, words: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command with its words, groups among them."""
    yield words, command
    if isinstance(command, click.Group):
        for name in command.list_commands(click.Context(command)):
            inner = command.get_command(click.Context(command), name)
            assert inner is not None
            yield from every_command(inner, (*words, name))


def keys(table: type, words: str = "") -> Iterator[tuple[str, Key]]:
    """Every key of the project file."""
    for name, one in table_keys(table).items():
        yield f"{words}.{name}".strip("."), one.key
        if one.key.table is not None:
            yield from keys(one.key.table, f"{words}.{name}")


def of_commands() -> Iterator[Door]:
    for words, one in options():
        if one.row is not None and not one.is_many:
            yield Door(
                " ".join((*words, one.option)), one.row, lambda text, one=one: one.read(text, one.option)
            )  # type: ignore[misc]


def of_the_file() -> Iterator[Door]:
    for name, key in keys(ProjectFile):
        if key.source in input_rows() and key.reader is not None:
            row, reader = input_row(key.source), key.reader
            plain = not isinstance(row.kind, Kind)
            yield Door(
                name, row, lambda text, reader=reader, plain=plain: reader(float(text) if plain else text)
            )  # type: ignore[misc]


def of_the_page() -> Iterator[Door]:
    for field in fields().values():
        if field.row:
            yield Door(
                f"page {field.name}",
                input_row(field.row),
                lambda text, field=field: field.read(text, "metric"),
            )  # type: ignore[misc]


DOORS = [*of_commands(), *of_the_file(), *of_the_page()]


def written(row: InputRow, value: float) -> str:
    """A value [SI] as a user would write it, in the unit of the example."""
    if not isinstance(row.kind, Kind):
        return f"{value:.0f}" if row.kind == "COUNT" else f"{value:.9g}"
    spelling = split(row.example, "", "").unit
    if not spelling:
        return f"{value:.9g}"
    unit = units.find(spelling, row.kind)
    assert unit is not None, row.name
    return f"{(value - unit.scale.offset) / unit.scale.factor:.9g} {unit.spelling}"


def ends(row: InputRow) -> Iterator[tuple[str, str]]:
    """Just outside and just inside each end that a row has."""
    for end, outwards in ((row.low, -1.0), (row.high, 1.0)):
        if math.isfinite(end):
            other = row.high if math.isfinite(row.high) else 1.0
            step = 1.0 if row.kind == "COUNT" else BEYOND * (abs(end) or other)
            yield written(row, end + outwards * step), written(row, end - outwards * step)


def accepted(row: InputRow, text: str) -> str:
    """The range in words, for a value written in this unit."""
    if not isinstance(row.kind, Kind):
        return row.span
    low, high = (end if math.isfinite(end) else None for end in (row.low, row.high))
    return range_words(text, row.kind, low, high)


def refusal(door: Door, text: str) -> str:
    """What is said to be accepted instead; "" where the text is read."""
    try:
        door.read(text)
    except UserError as error:
        return error.problems[0].accepted or error.problems[0].what
    return ""


def test_every_way_in_is_walked() -> None:
    assert len([*of_commands()]) > 60
    assert len([*of_the_file()]) > 50
    assert len([*of_the_page()]) > 15


def test_no_option_written_twice_takes_the_last_silently() -> None:
    """Each command parses one line on which every option of one value has two; both are named, and so are switches."""
    count = 0
    for words, command in every_command():
        single = [
            one
            for one in command.params
            if isinstance(one, click.Option) and not (one.is_flag or one.multiple)
        ]
        opposite = [one for one in command.params if isinstance(one, click.Option) and one.secondary_opts]
        if not single:
            continue
        line = [word for one in single for word in (one.opts[-1], "first", one.opts[-1], "last")]
        line += [word for one in opposite for word in (one.opts[0], one.secondary_opts[0])]
        with pytest.raises(UserError) as refused:
            command.make_context(" ".join(words), line)
        problems = {one.key: one.what for one in refused.value.problems}
        both = [f"{one.opts[0]} and {one.secondary_opts[0]}" for one in opposite]
        assert sorted(problems) == sorted([*(one.opts[-1] for one in single), *both]), words
        for one in single:
            assert '"first" and "last"' in problems[one.opts[-1]]
        count += len(problems)
    assert count > 400


def test_a_value_written_twice_is_one_value_and_a_repeatable_option_keeps_all() -> None:
    demonstration = str(demonstration_path())
    both = CliRunner().invoke(
        main, ["convert", demonstration, *("--market", "B", "--market", "A", "--market", "b"), "--quiet"]
    )
    assert re.findall("(?m)^Market ([A-Z])", both.stdout) == ["B", "A"]
    flow = ["flow", "--gas", "propane", "--drill", "#54", "--pressure", "11 inH2O"]
    assert (
        CliRunner().invoke(main, [*flow, "--gas", "propane"]).stdout == CliRunner().invoke(main, flow).stdout
    )
    refused = CliRunner().invoke(main, [*flow, "--gas", "methane"])
    assert refused.exit_code == 2
    assert refused.stderr.splitlines()[0] == (
        'error: --gas: takes one value, here are "propane" and "methane"; leave one of them'
    )


def test_the_example_is_read() -> None:
    refused = {door.name: refusal(door, door.row.example) for door in DOORS}
    assert not {name: words for name, words in refused.items() if words}


def test_outside_is_refused_with_the_same_words_everywhere_and_inside_is_read() -> None:
    """Each end of each way in that is wrong is named."""
    every = [(door, *end) for door in DOORS for end in ends(door.row)]
    assert len(every) > len(DOORS)
    not_read = [(door.name, inside, words) for door, _, inside in every if (words := refusal(door, inside))]
    assert not not_read
    other_words = [
        (door.name, outside, words)
        for door, outside, _ in every
        if (words := refusal(door, outside)) not in ("must not be negative", "must be above zero")
        and words != accepted(door.row, outside)
    ]
    assert not other_words


@pytest.mark.parametrize(
    ("words", "one"),
    [(words, one) for words, one in options() if one.row and any(ends(one.row))],
    ids=lambda value: value.option if isinstance(value, Input) else " ".join(value),
)
def test_a_command_refuses_what_its_option_refuses(words: tuple[str, ...], one: Input) -> None:
    """A whole run: the option with a value outside, whatever else is missing."""
    assert one.row is not None
    outside, _ = [*ends(one.row)][-1]
    done = CliRunner().invoke(main, [*words, *([outside] if one.is_argument else [one.option, outside])])
    assert done.exit_code == 2
    assert f'{one.option} = "{outside}": ' in done.stderr
    below_zero = "must not be negative" in done.stderr or "must be above zero" in done.stderr
    assert below_zero or f"(accepted: {accepted(one.row, outside)})" in done.stderr


@pytest.mark.parametrize(
    "row", [row for row in input_rows().values() if row.record], ids=lambda row: row.name
)
def test_the_record_holds_what_its_row_names(row: InputRow) -> None:
    held = quantities()[row.record]
    assert held.kind is (row.kind if isinstance(row.kind, Kind) else Kind.FRACTION)
    assert held.unit == row.SI_unit


def test_every_row_is_used() -> None:
    """A row that nothing names is a range that nothing holds."""
    sources = " ".join(path.read_text(encoding="utf-8") for path in package_dir().glob("**/*.py"))
    idle = {name for name in input_rows() if f'"{name}"' not in sources}
    recorded = {row.name for row in input_rows().values() if row.record}
    assert not idle - recorded - {door.row.name for door in DOORS}


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("barometer", "ambient_pressure_Pa"),
        ("altitude", "altitude_m"),
        ("gas_temperature", "gas_temperature_K"),
    ],
)
def test_a_whole_file_and_a_notebook_hold_what_surrounds_an_appliance_to_its_range(
    name: str, key: str
) -> None:
    text = demonstration_path().read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith(("altitude", name)))
    row = input_row(name)
    assert isinstance(row.kind, Kind)
    for pair in ends(row):
        for value, is_outside in zip(pair, (True, False), strict=True):
            changed = text.replace(line, f'{name} = "{value}"')
            if name == "gas_temperature":
                changed = text.replace('gas_temperature = "15 C"', f'gas_temperature = "{value}"')
            SI: Any = {key: read(value, row.kind)}
            target = ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0, **SI)
            assert is_refused(lambda changed=changed: read_appliance_text(changed)) == is_outside  # type: ignore[misc]
            assert is_refused(target.check) == is_outside


def is_refused(call: Callable[[], object]) -> bool:
    try:
        call()
    except UserError as error:
        return any("outside the accepted range" in one.what for one in error.problems)
    return False


METRIC = re.compile(r'"[^"]*\d ?(?:mm2?|cm2|m|kg|g|C|mbar|[kh]Pa|kW|L|kW/m2|MJ/m3)(?![\w/])[^"]*"')


def test_every_example_of_a_help_has_a_twin_for_readers_of_us_units() -> None:
    commands = [command_of(name) for name in COMMANDS]
    commands += [below for one in commands if isinstance(one, click.Group) for below in one.commands.values()]
    texts = {
        option.help or ""
        for command in commands
        for option in command.params
        if isinstance(option, click.Option)
    }
    states = '"25C/0C"'  # a preset of standards, as it is called
    left = [text for text in texts if METRIC.search(examples_in(text, "US").replace(states, ""))]
    assert left == []
    for line, example in (
        (["ports", "--units", "us", "--help"], '"1/2 in"'),
        (["ports", "--help"], '"12 mm"'),
    ):
        assert example in CliRunner().invoke(main, line).stdout


def test_names_of_rows_stand_once() -> None:
    names = [row["name"] for row in rows("inputs")]
    assert sorted(names) == sorted(set(names))


@pytest.mark.parametrize(
    ("line", "option"),
    [
        ("supply FILE --on nope", "--on"),
        ("burner FILE --burner nope", "--burner"),
        ("clock FILE --burner nope --volume 50L --time 214s", "--burner"),
        ('explain FILE --burner nope --measured "5 kW gross"', "--burner"),
        ("tile --gas propane --firing-density 150kW/m2 --aeration 9", "--aeration"),
    ],
)
def test_an_error_names_the_option_as_it_was_typed(line: str, option: str) -> None:
    """Also where a room below, which knows no options, finds it."""
    words = shlex.split(line)
    file = str(demonstration_path())
    result = CliRunner().invoke(main, [file if word == "FILE" else word for word in words])
    assert result.exit_code == 2
    assert result.stderr.startswith(f'error: {option} = "{words[words.index(option) + 1]}": ')
