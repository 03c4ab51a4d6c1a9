"""``tables``: which tables there are, ours and those of others, with their sources."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click

from burnerlab.cli.common_inputs import OVERWRITE
from burnerlab.cli.errors import OK, USER_ERROR, refusal_lines, refusal_report
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import print_cautions, print_json, table
from burnerlab.cli.verbosity import print_hint
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.tables.libraries import DataLibrary

Content = TypeVar("Content")


class LibraryRefusal(NamedTuple):
    """A library of others that cannot be read, and why."""

    library: str
    error: UserError


OURS = "burnerlab"
LIBRARY = Input(
    name="library",
    reader=as_written,
    metavar="FOLDER",
    help="Data of others: a folder with about.toml. May be repeated.",
    is_many=True,
)


def libraries(folders: Sequence[str]) -> Iterator[DataLibrary | LibraryRefusal]:
    """Libraries of installed packages, then those of folders; in place of one that cannot be read why."""
    from burnerlab.tables.libraries import faulty, installed, library

    packages, wrong = installed(), faulty()
    yield from packages.values()
    yield from (LibraryRefusal(library=name, error=one.error) for name, one in wrong.items())
    for name in folders:
        if name not in packages and name not in wrong:
            try:
                yield library(name, "--library")
            except UserError as error:
                yield LibraryRefusal(library=name, error=error)


def of_libraries(
    folders: Sequence[str], contents: Callable[[DataLibrary], Content]
) -> tuple[list[tuple[DataLibrary, Content]], list[LibraryRefusal]]:
    """What each library holds, and those of which something cannot be read."""
    found: list[tuple[DataLibrary, Content]] = []
    refused: list[LibraryRefusal] = []
    for one in libraries(folders):
        if isinstance(one, LibraryRefusal):
            refused.append(one)
            continue
        try:
            found.append((one, contents(one)))
        except UserError as error:
            origin = [replace(each, what=f"{each.what} ({one.origin})") for each in error.problems]
            refused.append(LibraryRefusal(library=one.name, error=UserError(origin)))
    return found, refused


def print_refused(refused: Sequence[LibraryRefusal]) -> int:
    """Say why libraries are not listed, on the error stream; the exit status."""
    for one in refused:
        for line in refusal_lines(one.error):
            click.echo(line, err=True)
    return USER_ERROR if refused else OK


def refused_rows(refused: Sequence[LibraryRefusal]) -> list[dict[str, Any]]:
    """The same for another program."""
    return [{"library": one.library, "error": refusal_report(one.error)} for one in refused]


def library_row(library: DataLibrary) -> dict[str, str]:
    """Where a library is from."""
    return {
        "library": library.name,
        "origin": library.origin,
        "title": library.title,
        "source": library.source,
        "licence": library.licence,
    }


TEXTS = Input(
    name="texts",
    reader=as_written,
    metavar="FILE",
    help="Write every text of the papers as CSV, with room for a translation; needs --language.",
)
LANGUAGE = Input(
    name="language", reader=as_written, metavar="TAG", help="Language to translate into: es, de."
)


def _both(written: Mapping[str, Any]) -> Iterator[Problem]:
    if ("texts" in written) != ("language" in written):
        fix = "write both: --texts texts.csv --language es"
        yield Problem("--texts and --language belong together", key="--texts", fix=fix)
    if "overwrite" in written and "texts" not in written:
        yield Problem(
            "has a meaning with --texts only", key="--overwrite", fix="add --texts FILE --language TAG"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTableFile:
    """A table of texts to be written, in which language."""

    path: Path | None
    language: str
    overwrite: bool


TEXT_TABLE_FILE = Group(
    make=lambda texts, language, overwrite: TextTableFile(
        path=None if texts is None else Path(texts), language=language or "", overwrite=overwrite
    ),
    inputs=(TEXTS, LANGUAGE, replace(OVERWRITE, help="Renew a file of texts: its translations are kept.")),
    rules=_both,
)


@click.command(short_help="List the tables, ours and those of others; write the texts to be translated.")
@takes(folders=LIBRARY, texts=TEXT_TABLE_FILE)
@json_option
def tables_command(folders: tuple[str, ...], texts: TextTableFile, as_json: bool) -> int:
    """List the tables of figures, ours and those of others, with their sources; every row of others is checked.

    A table that can be replaced takes a file of yours under [tables] of the project file. Data of others stand in a
    folder with about.toml, or in an installed package (entry point burnerlab.data), and are used only where they are
    named: a gas as LIBRARY:NAME, a table of a package as LIBRARY:FILE under [tables]. A library that cannot be read
    is not listed: the error names it, the others are listed, and the exit status is 2.

    Texts of the papers in another language are such a table: --texts writes it, a person of the trade fills it in.

    \b
    Examples:
      burnerlab tables
      burnerlab tables --texts texts.csv --language es
      burnerlab tables --library works-data
      burnerlab fuels --library works-data
    """
    if texts.path is not None:
        _write_texts(texts.path, texts.language, overwrite=texts.overwrite, as_json=as_json)
        return OK
    others, refused = of_libraries(folders, lambda library: [*_theirs(library)])
    rows = [*_ours(), *(row for _, theirs in others for row in theirs)]
    if as_json:
        listed = [library_row(library) for library, _ in others]
        print_json({"libraries": listed, "libraries_refused": refused_rows(refused), "tables": rows})
        return print_refused(refused)
    cells = [
        (row["table"], str(row["rows"]), "yes" if row["can_be_replaced"] else "", row["library"])
        for row in rows
    ]
    click.echo(table(("table", "rows", "yours instead", "library"), cells, left_columns=1))
    for library, _ in others:
        terms = f", {library.licence}" if library.licence else ""
        click.echo(f"\n{library.name}: {library.origin}; source: {library.source}{terms}")
    print_hint("\nburnerlab tables --json names the sources of each table.")
    print_cautions()
    return print_refused(refused)


def _write_texts(path: Path, tag: str, *, overwrite: bool, as_json: bool) -> None:
    """The table of texts, renewed where it exists; how far it is."""
    from burnerlab.report.write import conflict, write_together
    from burnerlab.tables.catalogue import text_table

    if problems := conflict(path, overwrite):
        raise UserError(problems)
    made = text_table(tag, path if path.exists() else None)
    write_together({path: made.csv.encode("utf-8-sig")}, overwrite)
    if as_json:
        figures = {
            "texts": made.texts,
            "translated": made.translated,
            "cautions_and_stops": made.cautions,
            "cautions_and_stops_translated": made.whole,
            "not_used_any_more": list(made.unknown),
        }
        print_json({"file": path.name, "language": tag} | figures)
        return
    click.echo(f"{path}: {made.texts} texts, {made.translated} of them translated into {tag}")
    click.echo(
        f"{made.whole} of {made.cautions} cautions and stops are translated whole, the others stay English"
    )
    for english in made.unknown:
        click.echo(f"not used any more: {english}")
    print_cautions()


def _ours() -> Iterator[dict[str, Any]]:
    from burnerlab.tables import CONTENTS, cite, names, rows

    for name in names():
        found = rows(name)
        cited = sorted({cite(row["source"]) for row in found})
        yield _row(name, len(found), cited, OURS, can_be_replaced=name in CONTENTS)


def _theirs(library: DataLibrary) -> Iterator[dict[str, Any]]:
    for name, path in library.tables.items():
        library.table(path.name, "--library")
        found = library.rows(path)
        cited = sorted({row.get("source", library.source) for row in found})
        yield _row(name, len(found), cited, library.name, can_be_replaced=False)


def _row(name: str, count: int, sources: list[str], library: str, *, can_be_replaced: bool) -> dict[str, Any]:
    return {
        "table": name,
        "rows": count,
        "library": library,
        "can_be_replaced": can_be_replaced,
        "sources": sources,
    }
