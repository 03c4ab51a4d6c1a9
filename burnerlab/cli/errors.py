"""What a command says when it cannot do what it was asked, and the exit status that goes with it."""

from __future__ import annotations

import errno
import os
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.plain_characters import holds_everything, keep_printing

if TYPE_CHECKING:
    from burnerlab.tables.problem import UserError

OK = 0
DIFFERS = 1  # what was checked is not as it must be: a unit, a kit, a record, a printed figure; or a stop
USER_ERROR = 2  # what was given cannot be used; nothing was written
INTERNAL_ERROR = 3  # a defect of burnerlab
INTERRUPTED = 130  # shell convention for a keyboard interrupt
EXIT_STATUSES = {
    OK: "answered; also where a finding is outside, and where explain or flue raises a STOP",
    DIFFERS: "what was checked is not as it must be, or a STOP: clock, weigh, kit check, record add and check, verify",
    USER_ERROR: "wrong input; nothing was written (several files: of those refused, which are named)",
    INTERNAL_ERROR: "a defect of burnerlab; run again with --debug and report what it prints",
    INTERRUPTED: "stopped at the keyboard",
}
"""What a command returns to the shell, in help, manual page and handbook."""
HINTS = {
    "unexpected extra argument": 'leave it out; a value with a blank in it needs quotes: --pressure "11 inH2O"',
    "'--drill' requires an argument": "in a shell a # needs quotes: --drill '#54'",
}
NEAR = 0.6  # likeness of two words of which one may be the other misspelled
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


class OutputClosedError(Exception):
    """Nobody reads the output any more; no error of a pipe, which click would end with 1 by itself."""


@contextmanager
def output_to_a_pipe() -> Iterator[None]:
    """Where the reader of a pipe goes away, OutputClosedError is raised in place of an error that click takes."""
    try:
        yield
    except BrokenPipeError as error:
        raise OutputClosedError from error


def run(command: Callable[[], Any], as_json: bool, debug: bool, words: Sequence[str] = ()) -> int:
    """Call a command and turn whatever it raises into lines on the error stream and an exit status.

    words : of the command line, refused where they are no text
    """
    keep_printing()
    try:
        _refuse_garbled(words)
        status = command()
        sys.stdout.flush()
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        return INTERRUPTED
    except (BrokenPipeError, OutputClosedError):
        _forget_output()
        return OK
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        return USER_ERROR
    except Exception as error:
        if isinstance(error, OSError) and error.errno in FULL:
            _forget_output()  # what could not be printed is not tried again at exit
        return _complain(error, as_json, debug)
    return status if isinstance(status, int) else OK


def _refuse_garbled(words: Sequence[str]) -> None:
    """Raise UserError for words that are not UTF-8: nothing could print or record them."""

    garbled = [
        word for word in words if not word.isascii() and word != word.encode("utf-8", "replace").decode()
    ]
    if garbled:
        from burnerlab.tables.problem import Problem, UserError

        problems = []
        for word in garbled:
            try:  # what PYTHONUTF8=0 makes of letters where the locale has none
                letters = os.fsencode(word).decode("utf-8")
            except UnicodeError:
                problems.append(Problem("is not UTF-8 text", value=ascii(word)[1:-1]))
            else:
                what = f"cannot be read: Python takes file names for {sys.getfilesystemencoding()} here"
                problems.append(Problem(what, letters, fix="set PYTHONUTF8=1, or a locale such as C.UTF-8"))
        raise UserError(problems)


def refusal_lines(error: UserError) -> list[str]:
    """The lines on the error stream for a file that is refused while others are answered."""
    return [f"error: {problem.text()}" for problem in error.problems]


def refusal_report(error: UserError) -> dict[str, Any]:
    """The same for another program, with the keys of the document of an error."""
    status, lines, problems = _describe(error)
    return {"status": status, "message": "\n".join(lines), "problems": problems}


def _complain(error: Exception, as_json: bool, debug: bool) -> int:
    status, lines, problems = _describe(error)
    if debug:
        import traceback

        traceback.print_exc(file=sys.stderr)
    if as_json:
        import json

        from burnerlab.quantity.outputs import envelope

        report = {"error": {"status": status, "message": "\n".join(lines), "problems": problems}}
        document = envelope("error", {}) | report
        click.echo(
            json.dumps(document, ensure_ascii=not holds_everything(sys.stderr), allow_nan=False), err=True
        )
    else:
        for line in lines:
            click.echo(_on_screen(line), err=True)
    return status


def _on_screen(line: str) -> str:
    """A line of an error as wide as the terminal it goes to; whole where another program reads it."""
    if not sys.stderr.isatty():
        return line
    from burnerlab.cli.column_layout import screen_width

    return textwrap.fill(
        line,
        screen_width(),
        subsequent_indent="  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def _describe(error: Exception) -> tuple[int, list[str], list[dict[str, Any]]]:
    from burnerlab.tables.problem import UserError  # no answer waits for the tables behind it

    if isinstance(error, UserError):
        kept = [(problem, problem.text()) for problem in error.problems]
        lines = [f"error: {text}" for _, text in kept]
        if error.command and any(one.what == "is missing" and not one.fix for one, _ in kept):
            lines.append(f"see: {error.command} --help")
        return USER_ERROR, lines, [_fields(problem) | {"text": text} for problem, text in kept]
    if isinstance(error, click.ClickException):
        context = getattr(error, "ctx", None)
        error = _with_near_options(error) if isinstance(error, click.NoSuchOption) else error
        lines = [f"error: {error.format_message()}"]
        lines += [f"hint: {hint}" for sign, hint in HINTS.items() if sign in error.format_message()]
        if context is not None:
            lines.append(f"see: {context.command_path} --help")
        return USER_ERROR, lines, [{"what": error.format_message()}]
    if isinstance(error, OSError) and error.filename is not None:
        text = f"{error.filename}: {error.strerror or error}"
        return (
            USER_ERROR,
            [f"error: {text}"],
            [{"what": error.strerror or str(error), "file": str(error.filename)}],
        )
    if isinstance(error, OSError) and error.errno in FULL:
        text = f"{error.strerror}: the files could not be written"
        return USER_ERROR, [f"error: {text}; make room, or write to another disk"], [{"what": text}]
    text = f"internal error: {type(error).__name__}: {error}".splitlines()[0]
    return INTERNAL_ERROR, [f"{text}; run again with --debug and report what it prints"], [{"what": text}]


def _with_near_options(error: click.NoSuchOption) -> click.NoSuchOption:
    """The same with those options alone whose words are near, not their dashes."""
    from difflib import SequenceMatcher

    word = error.option_name.lstrip("-")
    near = [
        one
        for one in error.possibilities or ()
        if SequenceMatcher(None, word, one.lstrip("-")).ratio() >= NEAR
    ]
    return click.NoSuchOption(error.option_name, possibilities=near, ctx=error.ctx)


def _fields(problem: Any) -> dict[str, Any]:
    names = ("what", "value", "key", "file", "line", "accepted", "fix")
    return {name: getattr(problem, name) for name in names if getattr(problem, name)}


def _forget_output() -> None:
    """The reader went away (a pipe into ``head``): drop what is left without a second complaint at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
