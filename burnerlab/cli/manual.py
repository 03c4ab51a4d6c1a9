"""``man``: the manual page of burnerlab, made from the help of its commands."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator

import click

from burnerlab import __version__
from burnerlab.cli.errors import EXIT_STATUSES
from burnerlab.cli.options import takes
from burnerlab.cli.output import document_option
from burnerlab.cli.text_file import OUTPUT_FILE, OutputFile, give_text
from burnerlab.tables.cautions import cautions

KEPT = "\b"  # before lines that click, and this page, leave as they are
FILES = (
    ("burnerlab.schema.json", "JSON Schema of the appliance file, next to it, as burnerlab schema writes it"),
    ("-", "in place of an appliance file: the standard input"),
)


def manual_page() -> str:
    """The page in the macros of man(7).

    >>> manual_page().splitlines()[0].split()[:3]
    ['.TH', 'BURNERLAB', '1']
    """
    return "\n".join(_page()) + "\n"


def _page() -> Iterator[str]:
    from burnerlab.cli import COMMANDS, command_of, main

    context = click.Context(main, info_name="burnerlab")
    about, _, more = (main.help or "").partition("\n\n")
    yield f'.TH BURNERLAB 1 "{datetime.date.today():%Y-%m-%d}" "burnerlab {__version__}" "burnerlab"'
    yield from (".SH NAME", rf"burnerlab \- {_inline(about[0].lower() + about[1:].rstrip('.'))}")
    yield from (".SH SYNOPSIS", r"\fBburnerlab\fR \fICOMMAND\fR [\fIARGUMENTS\fR] ...")
    yield ".SH DESCRIPTION"
    yield from _text(more)
    yield from _text((main.epilog or "").partition("\n\n")[2])
    yield ".SH OPTIONS"
    yield from _options(main, context)
    yield ".SH COMMANDS"
    for name in COMMANDS:
        yield from _command(command_of(name), name)
    yield ".SH EXIT STATUS"
    for status, meaning in EXIT_STATUSES.items():
        yield from (".TP", rf"\fB{status}\fR", _inline(meaning))
    yield ".SH FILES"
    for file, meaning in FILES:
        yield from (".TP", rf"\fI{_inline(file)}\fR", _inline(meaning))
    yield ".SH CAUTIONS"
    yield from _text("\n\n".join(f"{caution.signal}: {caution.text}" for caution in cautions()))


def _command(command: click.Command, words: str) -> Iterator[str]:
    """A command, with those below it."""
    context = click.Context(command, info_name=f"burnerlab {words}")
    yield f'.SS "{_inline(words)}"'
    yield _inline(f"burnerlab {words} {' '.join(command.collect_usage_pieces(context))}")
    yield ".PP"
    yield from _text(command.help or "")
    yield from _options(command, context)
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            if inner is not None:
                yield from _command(inner, f"{words} {name}")


def _options(command: click.Command, context: click.Context) -> Iterator[str]:
    for option in command.get_params(context):
        record = option.get_help_record(context)
        if record is not None and record[1]:
            yield from (".TP", rf"\fB{_inline(record[0])}\fR", _inline(record[1]))


def _text(text: str) -> Iterator[str]:
    """Paragraphs of a help; lines that are kept stand without filling."""
    first = True
    for part in re.split(r"\n\s*\n", text.strip()):
        if not first:
            yield ".PP"
        first = False
        lines = part.replace(KEPT, "").strip("\n").splitlines()
        if KEPT in part:
            yield from (".nf", *(_inline(line.rstrip()) for line in lines if line.strip()), ".fi")
        else:
            yield _inline(" ".join(" ".join(lines).split()))


def _inline(text: str) -> str:
    """A line as roff prints it: no backslash, dot or apostrophe that commands, hyphens that can be copied."""
    made = text.replace("\\", r"\e").replace("-", r"\-").replace("'", r"\(aq").replace('"', r"\(dq")
    made = made.replace("^", r"\(ha").replace("~", r"\(ti").replace("`", r"\(ga")
    made = "".join(one if one.isascii() else f"\\[u{ord(one):04X}]" for one in made)
    return rf"\&{made}" if made.startswith((".", r"\(aq")) else made


@click.command(short_help="Manual page, made from the help of every command.")
@takes(to=OUTPUT_FILE)
@document_option
def man_command(to: OutputFile, as_json: bool) -> None:
    """The manual page of burnerlab, for man(1): every command with its options, exit statuses, cautions in full.

    \b
    Examples:
      burnerlab man --out burnerlab.1
      burnerlab man

    man -l burnerlab.1 shows the file. In a folder of MANPATH such as ~/.local/share/man/man1, man burnerlab finds it.
    """
    page = manual_page()
    give_text(page, to, as_json, comment='.\\"', manual=page)
