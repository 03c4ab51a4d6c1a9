"""The switches of every command, and complaints in the words of options."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import click

from burnerlab.cli.cautions import all_cautions_option
from burnerlab.tables.problem import UserError

Command = Callable[..., Any]
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
    """``--json``: one object on the output, its keys carrying units; beside it ``--all-cautions``."""
    about = "Print one JSON object instead of text; it carries every caution in full."
    return click.option("--json", "as_json", is_flag=True, help=about)(all_cautions_option(command))
