"""The text of a project file as it is edited: a frozen text, and edits that return another one.

Values have the key paths of the problems (``burner[2].ports.count``, numbers from 1) and stand in the words of the
user. An edit changes the characters of that value alone; comments, order and spacing stay. Only keys of the project
file are written, and none that names a file of the disk.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from burnerlab import tables
from burnerlab.appliance.project import toml_edit
from burnerlab.appliance.project.bare_numbers import units_of
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.gas_keys import GAS_KEYS
from burnerlab.appliance.project.keys import FILE_NAME, Key, TableKey, table_keys
from burnerlab.appliance.project.model import REGIONS, Appliance
from burnerlab.appliance.project.problems import example
from burnerlab.appliance.project.project_file import read_appliance_text
from burnerlab.appliance.project.toml_lines import KeyPath, loads, parse, parse_on, spell
from burnerlab.gas import fuels
from burnerlab.orifice.stock import STOCK
from burnerlab.tables.key_declarations import key_label
from burnerlab.tables.libraries import names_disk
from burnerlab.tables.problem import Problem, UserError, did_you_mean

# Key paths, and what the project file says of each.

GAS_TABLE = "gas"
NEEDS_FILE = "tables"  # names files of the disk
DIGEST_LENGTH = 16
LONGEST_VALUE = 20_000
LARGEST_TEXT = 256 * 1024
_PART = re.compile(r"([A-Za-z0-9_-]+)(?:\[([1-9][0-9]{0,3})\])?")
_ENTRY = re.compile(r"\s*([^=,]*[^=,\s])\s*=\s*([^=,]*[^=,\s])\s*")


def key_path(key: str) -> KeyPath | None:
    """The parts of a key as problems spell it, entries from 0; None for what is no key.

    >>> key_path("burner[2].ports.count")
    ('burner', 1, 'ports', 'count')
    """
    path: list[str | int] = []
    for part in key.split("."):
        match = _PART.fullmatch(part)
        if match is None:
            return None
        path += [match[1]] if match[2] is None else [match[1], int(match[2]) - 1]
    return tuple(path)


class DeclaredKey(NamedTuple):
    """A key of the project file at a place of a text."""

    path: KeyPath  # every list with the number of its entry
    key: Key
    default: Any  # what holds without it


def declared_key(path: KeyPath) -> DeclaredKey | None:
    """The key of the project file at a path; None where there is none.

    >>> declared_key(("burner", 0, "place", "x")).path
    ('burner', 0, 'place', 0, 'x')
    """
    cls: type | None = ProjectFile
    one: TableKey | None = None
    full: list[str | int] = []
    for i, part in enumerate(path):
        if isinstance(part, int):
            if one is None or not one.key.is_list or isinstance(path[i - 1], int):
                return None
            continue
        if path[:1] == (GAS_TABLE,) and i == 1:
            gas = GAS_KEYS.get(part)
            return DeclaredKey(path, gas, None) if gas is not None and len(path) == 2 else None
        one = table_keys(cls).get(part) if cls is not None else None
        if one is None:
            return None
        full.append(part)
        cls = one.key.table
        if one.key.is_list:
            following = path[i + 1] if i + 1 < len(path) else None
            full.append(following if isinstance(following, int) else 0)
    return DeclaredKey(tuple(full), one.key, one.default) if one is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectField:
    """A key of the project file, as a form needs it."""

    path: str  # burner[].ports.count
    label: str  # ports, count
    help: str
    kind: str  # length, heat input, whole number, word ... of the key
    written_as: str  # text, number, switch, texts, text or texts, table
    accepted: str
    choices: tuple[str, ...]  # the only words it may be
    proposals: tuple[str, ...]  # names it may be beside others: gases of the library, rows of a shipped table
    example: str
    hint: str  # where its value is found
    default: str
    is_needed: bool
    is_table: bool  # a table of the keys that follow with this path
    most: int  # entries of a list of tables, 0 for one table or a value
    is_writable: bool  # False: names a file of the disk, or is a table
    metric: str  # unit to propose, "" where there is none
    US: str


@cache
def schema_fields() -> tuple[ProjectField, ...]:
    """Every key of the project file in its order, a table before its keys.

    >>> next(field.help for field in schema_fields() if field.path == "burner[].ports.count")
    'Ports of one burner'
    """
    return tuple(_fields(ProjectFile, "", ""))


def _fields(cls: type, path: str, label: str) -> Iterator[ProjectField]:
    for name, one in table_keys(cls).items():
        here, words = f"{path}{name}{'[]' if one.key.is_list else ''}", key_label(name)
        said = f"{label}, {words}" if label else words
        yield _field(here, said, one.key, one.is_needed, one.default)
        if one.key.table is not None:
            yield from _fields(one.key.table, f"{here}.", said if path else "")
        elif name == GAS_TABLE and not path:
            for inner, key in GAS_KEYS.items():
                yield _field(f"{GAS_TABLE}.{inner}", key_label(inner), key, False, None)


def _field(path: str, label: str, key: Key, is_needed: bool, default: Any) -> ProjectField:
    is_table = key.table is not None or path == GAS_TABLE
    is_plain = default is None or (isinstance(default, str | int | float | bool) and not key.source)
    metric, US = units_of(key)
    return ProjectField(
        path=path,
        label=label,
        help=key.help,
        kind=key.kind,
        written_as=key.written_as,
        accepted=key.accepted,
        choices=key.choices,
        proposals=_proposals(key),
        example=toml_edit.plain(key.example) if key.example is not None else "",
        hint=key.hint,
        default=toml_edit.plain(default) if is_plain and default is not None else "",
        is_needed=is_needed,
        is_table=is_table,
        most=key.most,
        is_writable=not is_table and not key.names_file,
        metric=metric,
        US=US,
    )


def _proposals(key: Key) -> tuple[str, ...]:
    """Names that a key may be, in the order of their table."""
    if key.kind == "gas":
        return fuels()
    table, _, column = key.rows_of.partition(".")
    return tuple(dict.fromkeys(row[column] for row in tables.rows(table))) if table else ()


@cache
def _tables() -> toml_edit.Tables:
    """The order of the tables of a project file, and which may stand alone."""
    alone = frozenset(_alone(ProjectFile, ()))
    return toml_edit.Tables(order=tuple(table_keys(ProjectFile)), alone=alone)


def _alone(cls: type, above: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    for name, one in table_keys(cls).items():
        if one.key.table is None:
            continue
        if one.key.is_alone:
            yield (*above, name)
        yield from _alone(one.key.table, (*above, name))


# Values of a text by key.


@lru_cache(maxsize=64)
def _values(text: str) -> Mapping[str, str]:
    try:
        data = loads(text, str)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        try:
            data = parse_on(text, "text").data
        except UserError:
            return MappingProxyType({})
    return MappingProxyType(
        {spell(path): toml_edit.plain(value) for path, value in _leaves(ProjectFile, data, ())}
    )


def _leaves(cls: type, table: Mapping[str, Any], above: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    keys = table_keys(cls)
    for name, value in table.items():
        one, here = keys.get(name), (*above, name)
        if here == (GAS_TABLE,) and isinstance(value, dict):
            yield from (((*here, inner), text) for inner, text in value.items())
            continue
        inner_table = one.key.table if one is not None else None
        if one is None or inner_table is None:
            yield here, value
            continue
        entries = value if one.key.is_list and isinstance(value, list) else [value]
        for i, entry in enumerate(entries):
            place = (*here, i) if one.key.is_list else here
            if isinstance(entry, dict):
                yield from _leaves(inner_table, entry, place)
            else:
                yield place, entry


# The text, and its edits.


@dataclass(frozen=True, slots=True)
class ProjectContent:
    """What a text describes: an appliance, or what is wrong with it."""

    appliance: Appliance | None
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class ProjectText:
    """The text of a project file; ``file`` is its path, in whose folder tables of the user's own stand.

    Numbers of burners and markets count from 1, as keys spell them. Edits raise UserError and change nothing.

    >>> text = ProjectText.blank().with_values({"burner[1].ports.count": "72", "burner[1].ports.diameter": "1.6 mm"})
    >>> text.values()["burner[1].ports.count"]
    '72'
    """

    text: str
    file: str = "text"
    stock: Path | None = None  # in place of that of the text, as the option --stock of a command

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", self.text.removeprefix("\ufeff").replace("\r\n", "\n"))

    @staticmethod
    def blank(region: str = "") -> ProjectText:
        """The least that is an appliance: its name, gas and pressure, and one burner with a rate."""
        gas = "G20" if region == REGIONS[1] else "natural-gas-typical"
        data: dict[str, Any] = {"appliance": {"region": region}, "supply": {"gas": gas}}
        pressure = example(("supply", "pressure"), data)[0]
        rate = example(("burner", 0, "rate"), data)[0]
        where = f'region = "{region}"\n' if region else ""
        return ProjectText(
            f'[appliance]\nname   = "new appliance"\nrating = "gross"\n{where}\n'
            f'[supply]\ngas      = "{gas}"\npressure = "{pressure}"\n\n'
            f'[[burner]]\nname = "burner 1"\nrate = "{rate}"\n'
        )

    @property
    def digest(self) -> str:
        """The first characters of the SHA-256 of the text."""
        return hashlib.sha256(self.text.encode("utf-8", "surrogatepass")).hexdigest()[:DIGEST_LENGTH]

    def values(self) -> dict[str, str]:
        """Every value of the text as it is written, by key; of lines that are no TOML, none.

        Lists are joined with commas, tables of counts or shares are "elbow = 3, plug cock = 1".
        """
        return dict(_values(self.text))

    def content(self) -> ProjectContent:
        """The appliance that the text describes, or every problem of it. Raises nothing for what a user wrote."""
        try:
            found = read_appliance_text(self.text, self.file)
            if self.stock is not None:
                found = replace(found, tables=replace(found.tables, stock=self.stock))
            return ProjectContent(found)
        except UserError as error:
            return ProjectContent(None, error.problems)

    def with_values(self, changes: Mapping[str, str]) -> ProjectText:
        """The text with other values, by key; an empty one takes the key out, and a table it leaves empty.

        A value is written as its key is declared; one that cannot be read is written too, and its problem says so.
        Raises UserError for a key that is none of the project file, or that names a file of the disk.
        """
        before, problems = _values(self.text), list[Problem]()
        added, removed = list[tuple[KeyPath, str]](), list[KeyPath]()
        for key, value in changes.items():
            wanted = value.strip()
            if before.get(key, "") == wanted:
                continue
            try:
                path, literal = _literal(key, wanted, key in before, wanted in before.values())
            except UserError as error:
                problems += error.problems
                continue
            if literal:
                added.append((path, literal))
            else:
                removed.append(path)
        if problems:
            raise UserError(problems)
        text, is_moved = self.text, bool(removed)
        for path, literal in added:
            edit = toml_edit.with_value(text, path, literal, _tables())
            text, is_moved = edit.text, is_moved or edit.is_added
        for path in sorted(removed, key=_numbers, reverse=True):
            text = toml_edit.without_value(text, path)
        edited = self._with(text)
        if is_moved:  # a value in the place of another changes nothing else
            _check(edited, before, added, removed)
        return edited

    def with_stock(self, name: str) -> ProjectText:
        """With a file of its folder as the stock of own orifices, or with none for "".

        The one key that names a file and is edited: whoever calls has looked the name up in that folder.

        >>> print(ProjectText('[appliance]\\nname = "a"\\n').with_stock("own.csv").text)
        [appliance]
        name = "a"
        <BLANKLINE>
        [tables]
        stock = "own.csv"
        <BLANKLINE>
        """
        path, before = (NEEDS_FILE, STOCK), _values(self.text)
        if name:
            literal = toml_edit.text_literal(name)
            edited = self._with(toml_edit.with_value(self.text, path, literal, _tables()).text)
            _check(edited, before, [(path, literal)], [])
        else:
            edited = self._with(toml_edit.without_value(self.text, path))
            _check(edited, before, [], [path])
        return edited

    def with_burner(self, copy_of: int | None = None) -> ProjectText:
        """With one more burner: a new one after the last, without a rate, or a copy of one after it, at no place."""
        return self._with_entry("burner", copy_of, {})

    def without_burner(self, number: int) -> ProjectText:
        """Without a burner, its comments, and what carries a flame from or to it."""
        name = self._name("burner", number)
        text = self._with(toml_edit.without_block(self.text, "burner", number - 1))
        bridges = {i for i, _, to in text._bridge_ends() if _is_named(to, name)}
        for i in sorted(bridges, reverse=True):
            gone = {key: "" for key in text.values() if key.startswith(f"carry_over[{i}].")}
            text = text.with_values(gone)
        return text

    def with_burner_at(self, number: int, new_place: int) -> ProjectText:
        """With a burner moved to another place in the order of the burners."""
        return self._with_entry_at("burner", number, new_place)

    def with_burner_name(self, number: int, name: str) -> ProjectText:
        """With another name of a burner, at the burner and wherever the file names it."""
        old, new = self._name("burner", number), name.strip()
        others = [i for i in range(1, self._count("burner") + 1) if i != number]
        same = [i for i in others if self._name("burner", i).casefold() == new.casefold()]
        if not new or same:
            what = f"is also the name of burner {same[0]}" if same else "a burner needs a name"
            raise UserError(
                Problem(what, value=new, key=f"burner[{number}].name", fix="write a name of its own")
            )
        changes = {f"burner[{number}].name": new}
        for i, end, to in self._bridge_ends():
            if _is_named(to, old):
                changes[f"carry_over[{i}].{end}"] = new + to[len(old) :]
        return self.with_values(changes)

    def with_market(self, copy_of: int | None = None) -> ProjectText:
        """With one more market, new or a copy of one."""
        values = self.values()
        region = values.get("appliance.region", "")
        pressure = example(
            ("supply", "pressure"), {"supply": {"gas": "propane"}, "appliance": {"region": region}}
        )[0]
        supply = {"gas": "propane", "pressure": str(pressure)}
        entry = [(name, toml_edit.text_literal(value)) for name, value in supply.items()]
        return self._with_entry("market", copy_of, {"supply": toml_edit.table_literal(entry)})

    def without_market(self, number: int) -> ProjectText:
        """Without a market and its comments."""
        self._name("market", number)
        return self._with(toml_edit.without_block(self.text, "market", number - 1))

    def with_market_at(self, number: int, new_place: int) -> ProjectText:
        """With a market moved to another place in the order of the markets."""
        return self._with_entry_at("market", number, new_place)

    def _with(self, text: str) -> ProjectText:
        if len(text.encode("utf-8")) > LARGEST_TEXT:
            raise UserError(Problem(f"text is larger than {LARGEST_TEXT // 1024} KiB", key="file"))
        return replace(self, text=text)

    def _count(self, table: str) -> int:
        return len(toml_edit.blocks(self.text, table))

    def _name(self, table: str, number: int) -> str:
        """The name of an entry of a list of tables. Raises UserError where there is none of this number."""
        count = self._count(table)
        if not 1 <= number <= count:
            what = f"there is no {table} {number} under a [[{table}]] of its own"
            raise UserError(
                Problem(what, key=f"{table}[{number}]", accepted=f"1 to {count}" if count else "")
            )
        return self.values().get(f"{table}[{number}].name", "")

    def _bridge_ends(self) -> Iterator[tuple[int, str, str]]:
        """Which burner each end of a row of carry-over ports names."""
        for key, value in self.values().items():
            path = key_path(key)
            if path is not None and path[0] == "carry_over" and path[-1] in ("from", "to"):
                yield int(path[1]) + 1, str(path[-1]), value

    def _with_entry(self, table: str, copy_of: int | None, literals: Mapping[str, str]) -> ProjectText:
        names = [value for key, value in self.values().items() if re.fullmatch(rf"{table}\[\d+\]\.name", key)]
        if copy_of is None:
            place = self._count(table)
            name = _free_name(f"{table} {place + 1}", names)
            entries = {"name": toml_edit.text_literal(name), **literals}
            lines = "".join(f"{key:<6} = {value}\n" for key, value in entries.items())
        else:
            name, place = _free_name(self._name(table, copy_of), names), copy_of
            start, end = toml_edit.blocks(self.text, table)[copy_of - 1]
            lines = self.text[start:end].rstrip("\n") + "\n"
        text = self._with(toml_edit.with_block(self.text, (table,), lines, _tables(), place))
        new = f"{table}[{place + 1}]"  # no two burners stand at one place
        places = {key: "" for key in text.values() if key.startswith(f"{new}.place[")}
        return text.with_values({f"{new}.name": name} | places)

    def _with_entry_at(self, table: str, number: int, new_place: int) -> ProjectText:
        self._name(table, number)
        self._name(table, new_place)
        start, end = toml_edit.blocks(self.text, table)[number - 1]
        lines = self.text[start:end].rstrip("\n") + "\n"
        rest = toml_edit.without_block(self.text, table, number - 1)
        return self._with(toml_edit.with_block(rest, (table,), lines, _tables(), new_place - 1))


def _is_named(text: str, name: str) -> bool:
    """Whether a text names a burner, or one of several of its kind by number."""
    return text == name or re.fullmatch(re.escape(name) + r" [0-9]+", text) is not None


def _free_name(name: str, names: list[str]) -> str:
    """The name, or the next one like it that no other has: "griddle tube 2".

    >>> _free_name("burner 1", ["burner 1", "Burner 2"])
    'burner 3'
    """
    taken = {one.casefold() for one in names}
    stem = re.sub(r" [0-9]{1,3}\Z", "", name)
    number = 2
    while name.casefold() in taken:
        name, number = f"{stem[:70]} {number}", number + 1
    return name


def _numbers(path: KeyPath) -> tuple[tuple[int, str], ...]:
    """A key to sort paths by, entries of lists by number."""
    return tuple((part, "") if isinstance(part, int) else (-1, part) for part in path)


def _literal(key: str, value: str, is_there: bool, is_of_text: bool) -> tuple[KeyPath, str]:
    """Where a value goes and how TOML writes it, "" for a key to take out. Raises UserError.

    is_there : the text has the key; is_of_text : the text has the value, at any key: its own gas may be named once more
    """
    path = key_path(key)
    found = declared_key(path) if path is not None else None
    if path is None or found is None:
        if path is not None and not value and is_there and path[0] != NEEDS_FILE:
            return path, ""
        fix = did_you_mean(key, [field.path for field in schema_fields()])
        raise UserError(Problem("is no key of the project file", value=value, key=key[:80], fix=fix))
    full, declared = found.path, found.key
    if full[0] == NEEDS_FILE or declared.names_file or declared.kind == FILE_NAME:
        what, fix = "names a file of the disk", "write it into the project file with an editor"
        raise UserError(Problem(f"{what}, which is not changed here", value=value, key=key, fix=fix))
    if declared.table is not None or full == (GAS_TABLE,):
        raise UserError(Problem("is a table: its keys have values", value=value, key=key))
    is_file = declared.kind == "gas" and names_disk(value) and not is_of_text
    if is_file or (full[0] == GAS_TABLE and ".toml" in value.casefold()):
        fix = 'name a gas of the library, or write its parts: "mix: methane = 0.9, ethane = 0.1"'
        raise UserError(
            Problem("names a file of the disk, which is not read here", value=value, key=key, fix=fix)
        )
    if len(value) > LONGEST_VALUE or not _is_writable(value):
        raise UserError(Problem("cannot be written", value=value[:60], key=key, fix="write plain text"))
    return full, _as_declared(declared, value) if value else ""


def _is_writable(value: str) -> bool:
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _as_declared(declared: Key, value: str) -> str:
    """A value as TOML writes it, by what its key is; what is none of its kind is a text, which the reader refuses."""
    form = declared.written_as
    if form == "number":
        return toml_edit.number_literal(value)
    if form == "switch":
        return value if value in ("true", "false") else toml_edit.text_literal(value)
    if form == "texts" or (form == "text or texts" and "," in value):
        return f"[{', '.join(toml_edit.text_literal(one) for one in entries_of(value))}]"
    if form == "table":
        entries = [_ENTRY.fullmatch(one) for one in value.split(",")]
        if all(entries):
            return toml_edit.table_literal(
                [(one[1], toml_edit.number_literal(one[2])) for one in entries if one]
            )
    return toml_edit.text_literal(value)


def entries_of(value: str) -> list[str]:
    """The entries of a list as they are typed; a comma between two bare figures parts none: it may be a decimal mark.

    >>> entries_of("#54, 1.40 mm"), entries_of("1.4 mm,1.5 mm"), entries_of("1,40 mm, #54")
    (['#54', '1.40 mm'], ['1.4 mm', '1.5 mm'], ['1,40 mm', '#54'])
    """
    found: list[str] = []
    for one in value.split(","):
        if found and found[-1].strip().isdigit() and one[:1].isdigit():
            found[-1] += f",{one}"
        else:
            found.append(one)
    return [one.strip() for one in found if one.strip()]


def _check(
    edited: ProjectText, before: Mapping[str, str], added: list[tuple[KeyPath, str]], removed: list[KeyPath]
) -> None:
    """Refuse an edit that would have changed anything else. Raises UserError."""
    gone = {spell(path) for path in removed}
    wanted = {key: value for key, value in before.items() if key not in gone}
    wanted |= {
        spell(path): toml_edit.plain(tomllib.loads(f"v = {text}", parse_float=str)["v"])
        for path, text in added
    }
    after = _values(edited.text)
    is_same = after == wanted
    if removed:  # an entry left empty goes, and those after it have other numbers
        is_same = sorted(after.values()) == sorted(wanted.values())
    if not is_same:
        parse(edited.text, edited.file)  # says where it is no TOML
        what, key = "cannot be changed here, as the file writes it", ", ".join(gone) or spell(added[0][0])
        raise UserError(Problem(what, key=key, fix="change it in the file with an editor"))
