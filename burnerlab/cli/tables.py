"""``tables``: which tables there are, ours and those of others, with their sources."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import print_cautions, print_json, table
from burnerlab.cli.verbosity import print_hint
from burnerlab.quantity.inputs import Input, as_written

if TYPE_CHECKING:
    from burnerlab.tables.libraries import DataLibrary

OURS = "burnerlab"
LIBRARY = Input(
    name="library",
    reader=as_written,
    metavar="FOLDER",
    help="Data of others: a folder with about.toml. May be repeated.",
    is_many=True,
)


def libraries(folders: Sequence[str]) -> list[DataLibrary]:
    """Libraries of installed packages, then those of folders; raises UserError for a folder that is none."""
    from burnerlab.tables.libraries import installed, library

    packages = installed()
    return [*packages.values(), *(library(name, "--library") for name in folders if name not in packages)]


def library_row(library: DataLibrary) -> dict[str, str]:
    """Where a library is from."""
    return {
        "library": library.name,
        "origin": library.origin,
        "title": library.title,
        "source": library.source,
        "licence": library.licence,
    }


@click.command(short_help="List the tables, ours and those of others, with their sources.")
@takes(folders=LIBRARY)
@json_option
def tables_command(folders: tuple[str, ...], as_json: bool) -> None:
    """List the tables of figures, ours and those of others, with their sources; every row of others is checked.

    A table that can be replaced takes a file of yours under [tables] of the project file. Data of others stand in a
    folder with about.toml, or in an installed package (entry point burnerlab.data), and are used only where they are
    named: a gas as LIBRARY:NAME, a table of a package as LIBRARY:FILE under [tables].

    \b
    Examples:
      burnerlab tables
      burnerlab tables --library works-data
      burnerlab fuels --library works-data
    """
    others = libraries(folders)
    rows = [*_ours(), *(row for library in others for row in _theirs(library))]
    if as_json:
        print_json({"libraries": [library_row(library) for library in others], "tables": rows})
        return
    cells = [
        (row["table"], str(row["rows"]), "yes" if row["can_be_replaced"] else "", row["library"])
        for row in rows
    ]
    click.echo(table(("table", "rows", "yours instead", "library"), cells, left_columns=1))
    for library in others:
        terms = f", {library.licence}" if library.licence else ""
        click.echo(f"\n{library.name}: {library.origin}; source: {library.source}{terms}")
    print_hint("\nburnerlab tables --json names the sources of each table.")
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
        cited = sorted({row["source"] for row in found})
        yield _row(name, len(found), cited, library.name, can_be_replaced=False)


def _row(name: str, count: int, sources: list[str], library: str, *, can_be_replaced: bool) -> dict[str, Any]:
    return {
        "table": name,
        "rows": count,
        "library": library,
        "can_be_replaced": can_be_replaced,
        "sources": sources,
    }
