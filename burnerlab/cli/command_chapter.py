"""Chapter of the commands for the handbook: what each does, its options and their ranges."""

from __future__ import annotations

import re
from collections.abc import Iterator

import click

from burnerlab.cli import COMMANDS, command_of
from burnerlab.cli.options import Declared
from burnerlab.handbook.markdown_text import code, escaped, sentence, table
from burnerlab.quantity import System
from burnerlab.quantity.inputs import Input

HEADS = ("option", "what it is", "accepted")


def command_list(system: System = "metric") -> str:
    """Every command with its options."""
    parts = [
        "`burnerlab COMMAND --help` prints the same. What a command returns to the shell stands in "
        "[exit-statuses](exit-statuses.md)."
    ]
    parts += [made for name in COMMANDS for made in _command(command_of(name), name, "##", system)]
    return "\n\n".join(parts)


def _command(command: click.Command, words: str, level: str, system: System) -> Iterator[str]:
    context = click.Context(command, info_name=f"burnerlab {words}")
    about, _, examples = re.sub(r"(?m)^    ", "", command.help or "").partition("\b\nExamples:")
    lines = [f"{level} {words}", _paragraphs(about), f"`{' '.join(_usage(command, context, words).split())}`"]
    options = [_option(one, context, system) for one in command.params if not getattr(one, "hidden", False)]
    if options:
        lines.append(table(HEADS, options))
    if examples.strip():
        shown = "\n".join(line.strip() for line in examples.strip("\n").split("\n\n")[0].splitlines())
        lines.append(f"```text\n{shown}\n```")
    yield "\n\n".join(lines)
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            if inner is not None:
                yield from _command(inner, f"{words} {name}", f"{level}#", system)


def _usage(command: click.Command, context: click.Context, words: str) -> str:
    return f"burnerlab {words} {' '.join(command.collect_usage_pieces(context))}"


def _paragraphs(text: str) -> str:
    """Help as Markdown; lines that click keeps as they are stand as text."""
    made = []
    for part in re.split(r"\n\s*\n", text.strip()):
        if part.startswith("\b"):
            made.append(f"```text\n{part.removeprefix(chr(8)).strip(chr(10))}\n```")
        else:
            made.append(escaped(" ".join(part.split())))
    return "\n\n".join(made)


def _option(option: click.Parameter, context: click.Context, system: System) -> tuple[str, str, str]:
    names = ", ".join(code(flag) for flag in (*option.opts, *option.secondary_opts))
    if isinstance(option, click.Argument):
        names = code(option.make_metavar(context))
    elif isinstance(option, click.Option) and not option.is_flag:
        names += f" {escaped(option.make_metavar(context))}"
    help_ = getattr(option, "help", None) or ""
    declared = option.declared if isinstance(option, Declared) else None
    if not help_ and declared is not None:
        help_ = declared.help or (declared.row.words if declared.row else "")
    words = [help_.rstrip(" .")]
    words += ["Needed"] if option.required else []
    words += ["Without it: "] if declared is not None and declared.default else []
    help_ = escaped(". ".join(filter(None, words)))
    if declared is not None and declared.default:
        help_ += code(declared.default)  # as it is written
    return names, sentence(help_), _accepted(option, declared, system)


def _accepted(option: click.Parameter, declared: Input | None, system: System) -> str:
    if declared is None:
        return ""
    if declared.choices:
        return escaped(", ".join(declared.choices))
    made = escaped(declared.row.range_in(system)) if declared.row is not None else ""
    example = declared.example or (declared.row.example if declared.row is not None else "")
    words = [part for part in (made, f"such as {code(example)}" if example else "") if part]
    return ", ".join(words) + (
        "; may be repeated" if declared.is_many and option.param_type_name == "option" else ""
    )
