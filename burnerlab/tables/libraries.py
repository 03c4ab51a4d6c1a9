"""Data of others: gases and tables in a folder, or in an installed package, each with its source.

A library is used only where it is named: ``LIBRARY:NAME`` in a command or a project file, LIBRARY being the path of a
folder or the name that an installed package gives its data (entry point of the group ``burnerlab.data``). The folder
holds ``about.toml``, gases in other TOML files as in ``fuels/``, and tables as CSV files named after ours.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from importlib.metadata import EntryPoint, entry_points
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path
from typing import Any

from burnerlab.tables.csv_file import Row
from burnerlab.tables.problem import Problem, UserError, did_you_mean
from burnerlab.tables.reader import CONTENTS, own_rows, read
from burnerlab.tables.toml_mistake import mistake

GROUP = "burnerlab.data"
ABOUT = "about.toml"
ABOUT_KEYS = ("title", "source", "licence", "note")
STOCK, DRILLS = "stock", "drills"  # a list of drills of others is a stock: ours are the lists of standards
MARK = ":"
MIX_PREFIX = "mix:"
"""How the parts of a gas begin where its name may stand: no library is called so."""
DRIVE = re.compile(r"\s*[A-Za-z]:[\\/]")
"""How a path of Windows begins: its letter names no library."""
LARGEST_FILE = 1 << 20  # bytes; a file of gases is a few pages


@dataclass(frozen=True, slots=True, kw_only=True)
class DataLibrary:
    """A folder of gases and tables that somebody else made."""

    name: str  # what stands before the mark: of the package's data, or the path as written
    folder: Path
    origin: str  # the folder, or the package and its version
    source: str
    title: str = ""
    licence: str = ""
    note: str = ""

    @property
    def reference(self) -> str:
        """Source and place of the library: which folder, or which package and version, was read."""
        return f"{self.source} ({self.origin})"

    @property
    def gas_files(self) -> tuple[Path, ...]:
        """Files of gases."""
        return tuple(path for path in sorted(self.folder.glob("*.toml")) if path.name != ABOUT)

    @property
    def tables(self) -> Mapping[str, Path]:
        """Tables by the name of ours; raises UserError for a CSV that is named after none of them."""
        found = {path.stem: path for path in sorted(self.folder.glob("*.csv"))}
        unknown = [
            Problem(
                "is named after no table that can be replaced",
                path.name,
                file=str(path),
                accepted=", ".join(CONTENTS),
                fix=f"rename it to {STOCK}.csv" if name == DRILLS else did_you_mean(name, [*CONTENTS]),
            )
            for name, path in found.items()
            if name not in CONTENTS
        ]
        if unknown:
            raise UserError(unknown)
        return found

    @staticmethod
    def rows(path: Path) -> tuple[Row, ...]:
        """Rows of a table as they are written."""
        return own_rows(path.stem, path)

    def table(self, name: str, key: str = "") -> Path:
        """The file of one table, each of its rows read; raises UserError with every problem.

        A table without a column ``source`` rests on the source of the library; a row of one that has it names its own.
        """
        path = self.folder / name
        if path.suffix != ".csv" or path.name != name or not path.is_file():
            accepted = ", ".join(sorted(one.name for one in self.tables.values())) or "none"
            raise UserError(Problem("is no table of that library", name, key, accepted=accepted))
        read(path.stem, path)
        fix = f"write where the row is from, or leave out the column: that of {ABOUT} stands then"
        unsourced = [
            replace(row.problem("source", "names no source", fix=fix), file=f"{self.name}{MARK}{row.file}")
            for row in self.rows(path)
            if not row.get("source", self.source).strip()
        ]
        if unsourced:
            raise UserError(unsourced)
        return path


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultyLibrary:
    """An installed library that cannot be read, and why: each problem names package, folder or file."""

    name: str
    error: UserError


def installed() -> Mapping[str, DataLibrary]:
    """Libraries of installed packages by name, without those that cannot be read.

    No code of the packages runs: the folder of data is found, not imported.
    """
    return {one.name: one for one in _of_packages() if isinstance(one, DataLibrary)}


def faulty() -> Mapping[str, FaultyLibrary]:
    """Libraries of installed packages that cannot be read, by name: also a name of two, with both places."""
    return {one.name: one for one in _of_packages() if isinstance(one, FaultyLibrary)}


def is_installed(name: str) -> bool:
    """Whether a package brings a library of this name, be it readable or not."""
    return any(entry.name == name for entry in entry_points(group=GROUP))


def _of_packages() -> Iterator[DataLibrary | FaultyLibrary]:
    """Each name of an installed library once: what it names, or why nothing."""
    entries = sorted(entry_points(group=GROUP), key=lambda entry: entry.name)
    for name, group in groupby(entries, key=lambda entry: entry.name):
        alike = tuple(group)
        try:
            if len(alike) > 1:
                raise _stands_twice(name, *(_package(entry) for entry in alike[:2]))
            yield _of_package(alike[0])
        except UserError as error:
            yield FaultyLibrary(name=name, error=error)


def library(name: str, key: str = "library") -> DataLibrary:
    """The library of a name or of a folder; raises UserError where there is none, or where it could be either."""
    packages = installed()
    folder = Path(name)
    if name in packages:
        if folder.is_dir():
            raise _stands_twice(name, packages[name].origin, f"folder {folder.resolve()}")
        return packages[name]
    if name in (wrong := faulty()):
        raise wrong[name].error
    if not folder.is_dir():
        accepted = ", ".join(["the path of a folder", *packages])
        raise UserError(Problem("no library of that name", name, key, accepted=accepted))
    return _read(name, folder, f"folder {name}")


def is_mix(text: str) -> bool:
    """Whether a text gives the parts of a gas in place of its name."""
    return text.lstrip().casefold().startswith(MIX_PREFIX)


def named_in(text: str) -> tuple[str, str] | None:
    """Library and name within it of ``LIBRARY:NAME``, or None for a name without a library.

    >>> named_in("works gases: batch 7")
    ('works gases', 'batch 7')
    >>> named_in("propane") is None, named_in(r"C:\\works\\stock.csv") is None
    (True, True)
    >>> named_in("mix:methane=0.9, ethane=0.1") is None
    True
    """
    if is_mix(text):
        return None
    before, mark, after = text.rpartition(MARK)
    if DRIVE.match(text) and len(before.strip()) == 1:
        return None
    return (before.strip(), after.strip()) if mark and before.strip() and after.strip() else None


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryTable:
    """A table of a library in the place of one of ours."""

    table: str
    library: DataLibrary
    path: Path

    @property
    def address(self) -> str:
        """As a command and a project file name it."""
        return f"{self.library.name}{MARK}{self.path.name}"

    def words(self) -> str:
        """Library and table; the sources of the rows stand in the rows.

        The origin says which folder, or which package and version, was read.
        """
        licence = f"; licence: {self.library.licence}" if self.library.licence else ""
        where = f"{self.library.origin}; source: {self.library.source}{licence}"
        return f"{self.table}: {self.address} ({where})"


def library_table(text: str, table: str, key: str = "") -> LibraryTable | None:
    """The table that ``LIBRARY:FILE`` names, each of its rows read; None for a text that names no library.

    table : that it takes the place of, whose name the file must have; ``.csv`` may be left out
    Raises UserError where there is no such library or file, and for a row that names no source.
    """
    foreign = named_in(text)
    if foreign is None:
        return None
    name, file = foreign
    if file.removesuffix(".csv") != table:
        raise UserError(Problem("is no file of this table", file, key, accepted=f"{name}{MARK}{table}.csv"))
    found = library(name, key)
    return LibraryTable(table=table, library=found, path=found.table(f"{table}.csv", key))


def installed_tables(paths: Iterable[Path | None]) -> tuple[LibraryTable, ...]:
    """The tables of installed libraries among the files that a project file takes, without files of one's own."""
    own = [path for path in paths if path is not None]
    folders = (
        {folder: one for one in installed().values() for folder in (one.folder, one.folder.resolve())}
        if own
        else {}
    )
    return tuple(
        LibraryTable(table=path.stem, library=folders[path.parent], path=path)
        for path in own
        if path.parent in folders
    )


def names_disk(text: str) -> bool:
    """Whether a gas is named by a place on the disk: a file, or a folder that is no data of an installed package.

    >>> names_disk("own gas.toml"), names_disk("works:batch 7"), names_disk("propane")
    (True, True, False)
    >>> names_disk("mix:methane=0.9, ethane=0.1"), names_disk("mix:own gas.toml=1")
    (False, True)
    """
    foreign = named_in(text)
    return ".toml" in text.casefold() or (foreign is not None and not is_installed(foreign[0]))


def toml_entries(paths: Iterable[Path]) -> Iterator[tuple[str, Path, int, Mapping[str, Any]]]:
    """Name, file, line and table of every entry; raises UserError for a file that is no TOML or an entry no table."""
    for path in paths:
        text, entries = read_toml(path)
        for name, entry in entries.items():
            line = _line(text, name)
            if not isinstance(entry, dict):
                raise UserError(
                    Problem("must be a table", key=name, file=str(path), line=line, fix=f"write [{name}]")
                )
            yield name, path, line, entry


def read_toml(path: Path) -> tuple[str, dict[str, Any]]:
    """Text and content of a TOML file; raises UserError with file and line for what is none, or no page or two."""
    try:
        if not path.is_file():
            raise UserError(Problem("not a regular file", file=str(path), fix="give the path of a file"))
        if path.stat().st_size > LARGEST_FILE:
            raise UserError(Problem("file larger than 1 MiB", file=str(path)))
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise UserError(Problem(f"cannot read: {error}", file=str(path))) from None
    try:
        return text, tomllib.loads(text)
    except RecursionError:
        raise UserError(Problem("cannot read: nested too deeply", file=str(path))) from None
    except tomllib.TOMLDecodeError as error:
        what, line, fix = mistake(text, error)
        raise UserError(Problem(what, file=str(path), line=line, fix=fix)) from None


def _stands_twice(name: str, first: str, second: str) -> UserError:
    return UserError(Problem(f"stands twice: {first}, {second}", name, "library", fix="rename one of them"))


def _package(entry: EntryPoint) -> str:
    """The package of an entry point with its version."""
    return f"package {entry.dist.name} {entry.dist.version}" if entry.dist else f"package {entry.value}"


def _of_package(entry: EntryPoint) -> DataLibrary:
    """The library of an entry point; raises UserError that names the package for what cannot be read."""
    origin = _package(entry)
    mend = f"correct {origin} and install it again, or uninstall it"
    if entry.attr:  # an object of a module is made by its code, which does not run
        what = f'entry point "{entry.value}" names an object, its data is a folder'
        fix = f'write {entry.name} = "{entry.module}.{entry.attr}" for the folder in the package; {mend}'
        raise UserError(Problem(what, entry.name, "library", file=origin, fix=fix))
    top, *inner = entry.module.split(".")
    spec = find_spec(top)
    places = list(spec.submodule_search_locations or ()) if spec else []
    folders = [Path(place, *inner) for place in places if Path(place, *inner).is_dir()]
    if not folders:
        what = f'entry point "{entry.value}" names no folder of a package'
        raise UserError(Problem(what, entry.name, "library", file=origin, fix=mend))
    try:
        return _read(entry.name, folders[0], origin)
    except UserError as error:
        problems = [
            replace(one, fix=" ".join(filter(None, (one.fix and f"{one.fix};", mend))))
            for one in error.problems
        ]
        raise UserError(problems) from None


def _read(name: str, folder: Path, origin: str) -> DataLibrary:
    path = folder / ABOUT
    if not path.is_file():
        fix = f'write {ABOUT} with source = "..." into this folder'
        raise UserError(
            Problem(f"is no library: it has no {ABOUT}", name, "library", file=str(folder), fix=fix)
        )
    text, about = read_toml(path)
    problems = [
        Problem("unknown key", key=key, file=str(path), line=_line(text, key), accepted=", ".join(ABOUT_KEYS))
        for key in about
        if key not in ABOUT_KEYS
    ]
    problems += [
        Problem(
            "must be text", str(value), key, file=str(path), line=_line(text, key), fix="put it in quotes"
        )
        for key, value in about.items()
        if key in ABOUT_KEYS and not isinstance(value, str)
    ]
    if not problems and not about.get("source", "").strip():
        problems = [Problem("states no source", file=str(path), line=1, fix='write source = "..."')]
    if problems:
        raise UserError(problems)
    return DataLibrary(name=name, folder=folder, origin=origin, **about)


def _line(text: str, name: str) -> int:
    """Where a table or a key of the top begins."""
    head = re.compile(rf"""\s*(?:\[\s*)?(["']?){re.escape(name)}\1\s*[\]=]""")
    return next((number for number, line in enumerate(text.splitlines(), start=1) if head.match(line)), 0)
