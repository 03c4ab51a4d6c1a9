"""Options of a command from the inputs it declares, options of every command.

Click hands every value over as text; it is read here, so that one run reports the problems of all inputs at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial, wraps
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from burnerlab.cli.output import cite_option, document_option
from burnerlab.cli.repetition import SingleOption
from burnerlab.quantity.inputs import Group, Input, read_input, together
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

# Options of a command from the inputs it declares: ``@takes(gas=GAS, conditions=CONDITIONS, count=COUNT)``.

Command = Callable[..., Any]
WRITTEN = "burnerlab.written"
PATHS = dict.fromkeys(("FILE", "CSV", "MODEL.toml", "PARTS", "PLAN", "RECORD", "SOURCE", "A", "B"), "file")
PATHS |= {"DIR": "dir", "FOLDER": "dir"}
"""Metavars of what lies on the disk, and what a shell calls it."""
TAKEN = (
    "__burnerlab_takes__"  # the command below, and what it takes already: several ``takes`` are read as one
)


class Declared(click.Parameter):
    """A parameter made from an input; its absence is reported with all other problems."""

    declared: Input

    def value_is_missing(self, value: Any) -> bool:
        return False

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """What a shell proposes: words, names, files or folders."""
        from click.shell_completion import CompletionItem

        declared = self.declared
        words = declared.choices or (declared.proposals(ctx.params) if declared.proposals else ())
        found = [CompletionItem(one) for one in words if one.casefold().startswith(incomplete.casefold())]
        kind = PATHS.get(declared.metavar.strip("[].").split(" ")[0])
        return [CompletionItem(incomplete, type=kind)] if kind and not words else found


class DeclaredOption(Declared, SingleOption):
    """An option made from an input."""

    def __init__(self, *flags: Any, declared: Input, **settings: Any) -> None:
        super().__init__(*flags, **settings)
        self.declared = declared

    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        """Names and help, its examples those of the reader: of ``--units`` before ``--help``, else of the settings."""
        from burnerlab.cli.output import preferred_system
        from burnerlab.quantity.examples import examples_in

        record = super().get_help_record(ctx)
        try:
            system = preferred_system() or "metric"
        except UserError:  # of the settings, which every answer says
            return record
        return record and (record[0], examples_in(record[1], system))


class DeclaredArgument(Declared, click.Argument):
    """An argument made from an input."""

    def __init__(self, *names: Any, declared: Input, **settings: Any) -> None:
        super().__init__(*names, **settings)
        self.declared = declared


def takes(**groups: Group | Input) -> Callable[[Command], Command]:
    """Give a command the options of groups and inputs, and hand over what they make under these names."""

    def add(command: Command) -> Command:
        base, within = getattr(command, TAKEN, (command, {}))
        everything = groups | within

        @wraps(command)
        def call(**values: Any) -> Any:
            context = click.get_current_context()
            if context.invoked_subcommand is not None:  # of a group: the command below takes its own
                return None
            names = [one.name for each in everything.values() for one in _inputs(each)]
            texts = {name: values.pop(name) for name in names}
            written = {name: text for name, text in texts.items() if _is_written(context, name, text)}
            context.meta[WRITTEN] = written
            inputs = [one for each in everything.values() for one in _inputs(each) if one.name in written]
            with named_by_options(inputs, context.command_path):
                made = together(*(partial(_read, each, written) for each in everything.values()))
                return base(**values, **dict(zip(everything, made, strict=True)))

        made: Command = call
        setattr(made, TAKEN, (base, everything))
        for each in reversed(groups.values()):
            left_out = _optional(each)
            for one in reversed(_inputs(each)):
                made = _add(one, is_needed=one.is_needed and one.name not in left_out)(made)
        return made

    return add


def written(name: str) -> str:
    """The text of an input of the running command as it was written; "" where it was not.

    Of several texts the first.
    """
    found = click.get_current_context().meta.get(WRITTEN, {}).get(name, "")
    return str(found[0] if isinstance(found, tuple) else found)


def _inputs(each: Group | Input) -> tuple[Input, ...]:
    return (each,) if isinstance(each, Input) else each.all_inputs()


def _optional(each: Group | Input) -> frozenset[str]:
    """Names of the inputs of the groups that may be left out, at any depth."""
    if isinstance(each, Input):
        return frozenset()
    if each.is_optional:
        return frozenset(one.name for one in each.all_inputs())
    return frozenset().union(*map(_optional, each.parts.values()))


def _is_written(context: click.Context, name: str, value: Any) -> bool:
    """Whether the user wrote it; an empty many and a default were not."""
    return value not in (None, ()) and context.get_parameter_source(name) is not ParameterSource.DEFAULT


def _read(each: Group | Input, written: Mapping[str, Any]) -> Any:
    if isinstance(each, Group):
        return each.read(written, option_of)
    return read_input(each, written, each.option)


@contextmanager
def named_by_options(inputs: Sequence[Input], command: str = "") -> Iterator[None]:
    """Problems that the rooms below find with an input name its option; those of a file keep the key of the file."""
    options = {one.name: one.option for one in inputs}
    try:
        yield
    except UserError as error:
        named = [
            one if one.file else replace(one, key=options.get(one.key.replace(" ", "_"), one.key))
            for one in error.problems
        ]
        renamed = in_words_of_options(UserError(_for_reader(named)))
        renamed.command = error.command or command
        raise renamed from error


def _for_reader(problems: Sequence[Problem]) -> list[Problem]:
    """Problems in the units of the reader; in those of the house where the settings themselves are what is wrong."""
    from burnerlab.cli.output import reader_system
    from burnerlab.quantity.prose import problem_in

    try:
        system = reader_system()
    except UserError:
        return list(problems)
    return [problem_in(one, system) for one in problems]


def option_of(declaration: Input) -> str:
    """What a user of a command calls an input."""
    return declaration.option


def _add(declaration: Input, is_needed: bool) -> Callable[[Command], Command]:
    metavar = declaration.metavar or (f"[{'|'.join(declaration.choices)}]" if declaration.choices else None)
    if declaration.is_argument:
        return click.argument(
            declaration.name,
            cls=DeclaredArgument,
            declared=declaration,
            metavar=metavar,
            required=is_needed,
            nargs=-1 if declaration.is_many else 1,
        )
    settings: dict[str, Any] = {
        "help": _help(declaration),
        "required": is_needed,
        "multiple": declaration.is_many,
    }
    if declaration.is_flag:
        settings |= {"is_flag": True, "default": None if "/" in "".join(declaration.flags) else False}
    else:
        settings["metavar"] = metavar or declaration.name.upper()
    if (
        declaration.default is not None
    ):  # a default of None given to click is a value: a needed option would not be missed
        settings |= {"default": declaration.default, "show_default": bool(declaration.default)}
    flags = declaration.flags or (declaration.option,)
    return click.option(*flags, declaration.name, cls=DeclaredOption, declared=declaration, **settings)


def _help(declaration: Input) -> str:
    """What an option is; of a number of things also how many there may be."""
    return (
        f"{declaration.help[:-1]}, {declaration.row.span}."
        if declaration.row and declaration.row.kind == "COUNT"
        else declaration.help
    )


# The switches of every command, and complaints in the words of options.

WORDS = {"allow_high_pressure": "--allow-high-pressure", "allow overwriting": "add --overwrite"}


def in_words_of_options(error: UserError) -> UserError:
    """The same problems, their fixes in the options of the command line."""
    problems = []
    for problem in error.problems:
        fix = problem.fix
        for word, option in WORDS.items():
            fix = fix.replace(word, option)
        problems.append(replace(problem, fix=fix))
    return UserError(problems)


def json_option(command: Command) -> Command:
    """What a command that calculates prints: ``--json``, ``--cite`` and ``--all-cautions``."""
    return cite_option(document_option(command))
