"""An option written twice with two values: refused in words, where the parser alone would keep the last."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import click

from burnerlab.tables.problem import Problem, UserError, in_quotes

if TYPE_CHECKING:
    from click.parser import _OptionParser


class SingleOption(click.Option):
    """An option that has one value, unless it is declared to be repeatable; the same value twice is one value."""

    def add_to_parser(self, parser: _OptionParser, ctx: click.Context) -> None:
        """Have the parser keep every value that is written."""
        is_many, self.multiple = self.multiple, True
        try:
            super().add_to_parser(parser, ctx)
        finally:
            self.multiple = is_many

    def handle_parse_result(
        self, ctx: click.Context, opts: Mapping[str, Any], args: list[str]
    ) -> tuple[Any, list[str]]:
        """Its one value. Raises UserError for every option of the command that has several."""
        if not ctx.resilient_parsing:  # a shell that completes the line says nothing
            _refuse_several(ctx, opts)
        if not self.multiple and self.name in opts:
            opts = {**opts, self.name: opts[self.name][-1]}
        return super().handle_parse_result(ctx, opts, args)

    def values(self, opts: Mapping[str, Any]) -> list[Any]:
        """The different values of an option of one value, in the order of the line."""
        return [] if self.multiple else list(dict.fromkeys(opts.get(self.name, ())))

    def refusal(self, values: list[Any]) -> Problem:
        """The problem of an option with several values."""
        if self.is_flag:
            switches = f"{self.opts[0]} and {self.secondary_opts[0]}"
            return Problem("give one of them, not both", key=switches)
        what = f"takes one value, here are {' and '.join(map(in_quotes, values))}"
        return Problem(what, key=self.opts[-1], fix="leave one of them")


def _refuse_several(ctx: click.Context, opts: Mapping[str, Any]) -> None:
    problems = [
        option.refusal(values)
        for option in ctx.command.params
        if isinstance(option, SingleOption) and len(values := option.values(opts)) > 1
    ]
    if problems:
        error = UserError(problems)
        error.command = ctx.command_path
        raise error
