"""``--quiet`` and ``--verbose``: the answer without its explanations, or beside it what it was made from.

Neither touches a STOP, a finding or a caution: ``--quiet`` acts on explanatory notes, hints, progress bars and the
tables behind a conversion alone, ``--verbose`` prints on the error stream below the answer.
"""

from __future__ import annotations

import platform
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter
from types import FrameType
from typing import Any
from urllib.parse import unquote

import click

from burnerlab import __version__
from burnerlab.cli.user_settings import settings_path, user_settings
from burnerlab.quantity.outputs import loaded_engines
from burnerlab.tables import folder, package_dir
from burnerlab.tables.problem import Problem, UserError

QUIET, VERBOSE = "burnerlab.quiet", "burnerlab.verbose"


def verbosity_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--quiet`` and ``--verbose``, one of them at a time."""

    def keep(context: click.Context, option: click.Parameter, value: bool) -> None:
        if value:
            context.meta[f"burnerlab.{option.name}"] = True
            run = context.obj
            if isinstance(run, ProgramRun):
                run.meta = context.meta
        if context.meta.get(QUIET) and context.meta.get(VERBOSE):
            raise UserError(
                Problem("give one of them, not both", key="--quiet and --verbose", fix="leave one out")
            )

    for flag, about in (
        ("--verbose", "Print files read, engines, settings and time on the error stream, below the answer."),
        (
            "--quiet",
            "Leave out explanatory notes, hints and progress; every STOP, finding and caution stays.",
        ),
    ):
        command = click.option(flag, is_flag=True, expose_value=False, callback=keep, help=about)(command)
    return command


# What --quiet leaves out.

EXPLANATORY = (
    "Notes",
    "Sources of the pressures",
    "Sources of the spreads",
    "Taken from tables",
    "What it rests on",
)
"""Headings of lists that explain figures; a list under any other heading is part of the answer."""
CAUTIONARY = re.compile(
    r"\b(stop|danger|warn|caution|notice|outside|over(fire|heat)|check the|"
    r"not (evaluated|computed|read|given|comparable)|likely|required|must|never|no\b|none\b|nothing|wrong|"
    r"combustible|frost|leak|carbon monoxide|CO\b|measure|test)",
    re.IGNORECASE,
)
"""Words of a note that warns, asks for an act or names what is missing: it stays."""


def is_quiet() -> bool:
    """Whether the running command prints its answer alone."""
    context = click.get_current_context(silent=True)
    return context is not None and bool(context.meta.get(QUIET))


def notes_to_print(title: str, notes: Sequence[str]) -> Sequence[str]:
    """The notes under a heading that are printed: with ``--quiet`` those alone that warn or ask for something.

    >>> notes_to_print("Notes", ["pressures are gauge"])
    ['pressures are gauge']
    """
    if title not in EXPLANATORY or not is_quiet():
        return notes
    return [note for note in notes if CAUTIONARY.search(note)]


def print_hint(text: str) -> None:
    """What else one may call, below an answer; nothing with ``--quiet``. Never a STOP, a finding or a caution."""
    if not is_quiet():
        click.echo(text)


# What --verbose prints.

WIDTH, INDENT = 80, 10  # columns of a line, and of the name before it

OPENS_FOR_OTHERS = ("pathlib", "io", "codecs", "os", "tomllib")
"""Modules of Python through which a file is opened: who called them opened it."""
WRITES = 0b11  # the bits of the flags of an open that are not zero where a file is written


@dataclass
class ProgramRun:
    """One run of the program: when it began, and the files that it opened for reading."""

    started_s: float = field(default_factory=perf_counter)
    meta: Mapping[str, Any] = field(default_factory=dict)
    files: dict[str, None] = field(default_factory=dict)

    def is_verbose(self) -> bool:
        """Whether its report is printed."""
        return bool(self.meta.get(VERBOSE))


_current: list[ProgramRun] = []  # the run whose files are noted: none, or one
_hooks: list[str] = []  # a hook of Python stays for the life of the process, so that there is one


def note_files(run: ProgramRun, words: Sequence[str]) -> None:
    """Note from here on every file that burnerlab itself opens for reading, in the order of the first time.

    words : of the command line; "-" among them is the standard input
    """
    if "-" in words:
        run.files["standard input"] = None
    _current[:] = [run]
    if not _hooks:
        _hooks.append("open")
        sys.addaudithook(_on_event)


def _on_event(event: str, facts: tuple[Any, ...]) -> None:
    if not _current or event not in ("open", "sqlite3.connect"):
        return
    if event == "open":
        path, mode, flags = facts
        reads = flags & WRITES == 0 if mode is None else not set("wax+") & set(mode)
        if not reads or not isinstance(path, str | Path) or not _is_ours(sys._getframe(1)):
            return
        _current[0].files[str(path)] = None
    elif isinstance(facts[0], str):
        path = unquote(facts[0].removeprefix("file:").split("?")[0])
        if path != ":memory:":
            _current[0].files[path] = None


def _is_ours(frame: FrameType | None) -> bool:
    """Whether a module of burnerlab opened the file, by itself or through Python's own modules."""
    while frame is not None:
        module = str(frame.f_globals.get("__name__", ""))
        if module.partition(".")[0] not in OPENS_FOR_OTHERS and module != __name__:
            return module.partition(".")[0] == "burnerlab"
        frame = frame.f_back
    return False


def print_run(run: ProgramRun) -> None:
    """Files, engines, settings and time of a run, on the error stream, below its answer."""
    sys.stdout.flush()
    for label, text in _lines(run):
        click.echo(click.wrap_text(text, WIDTH, f"{label:{INDENT}}", " " * INDENT), err=True)


def _lines(run: ProgramRun) -> list[tuple[str, str]]:
    _current.clear()
    settings = user_settings()
    folders = {"gases": folder("fuels"), "tables": package_dir() / "tables" / "data"}
    ours = (package_dir(), folder("fuels"), folder("shared"), settings_path().absolute())
    paths = [Path(name).absolute() for name in run.files]
    files = [
        name
        for name, path in zip(run.files, paths, strict=True)
        if not any(path.is_relative_to(one) for one in ours)
    ]
    read = {
        label: sorted({path.stem for path in paths if path.parent == where})
        for label, where in folders.items()
    }
    units = run.meta.get("units")
    versions = {"burnerlab": __version__, "Python": platform.python_version()} | loaded_engines()
    return [
        *(("file", name) for name in files),
        *(
            (label, f"{len(names)} of burnerlab: {', '.join(names)}" if names else "none read")
            for label, names in read.items()
        ),
        ("engines", ", ".join(f"{name} {version}" for name, version in versions.items())),
        (
            "units",
            f"{units.lower()} (--units)" if units else f"{settings.units.word} ({settings.units.source})",
        ),
        ("paper", f"{settings.paper.word} ({settings.paper.source})"),
        ("time", f"{perf_counter() - run.started_s:.2f} s"),
    ]
