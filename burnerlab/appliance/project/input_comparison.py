"""What differs between two project files: values in SI to six digits, entries of lists paired by name or content."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from burnerlab.appliance.project.keys import Key
from burnerlab.appliance.project.project_text import (
    ProjectText,
    declared_key,
    entries_of,
    key_path,
    schema_fields,
)
from burnerlab.appliance.project.toml_lines import KeyPath, spell
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import UserError

DIGITS = 6
ALIKE = (
    0.5  # share of equal values from which two entries of other names are one that was renamed and changed
)
_ENTRY = re.compile(r"([a-z_]+)\[([0-9]+)\]\.(.+)")
Values = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class InputChange:
    """A key that two files give differently, each as it is written; "" where a file does not give it."""

    key: str = field(metadata=output("key"))  # of the second file, of the first where only that has it
    entry: str = field(metadata=output("entry"))  # name of the burner, market, panel ... it belongs to
    label: str = field(metadata=output("input"))
    before: str = field(metadata=output("before"))
    after: str = field(metadata=output("after"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """An entry of a list in both files, or in one of them; its number there from 1, None where there is none."""

    table: str = field(metadata=output("table"))
    before: str = field(metadata=output("before"))  # its name, "" where it has none or is not there
    after: str = field(metadata=output("after"))
    number_before: int | None = field(metadata=output("number before"))
    number_after: int | None = field(metadata=output("number after"))

    @property
    def is_renamed(self) -> bool:
        is_in_both = self.number_before is not None and self.number_after is not None
        return is_in_both and self.before != self.after


@dataclass(frozen=True, slots=True, kw_only=True)
class InputComparison:
    """What two files say differently; ``respelt`` is the same, written another way or said where it was implied."""

    changes: tuple[InputChange, ...] = field(metadata=output("inputs that differ"))
    respelt: tuple[InputChange, ...] = field(metadata=output("written another way, the same"))
    pairs: tuple[Pair, ...] = field(metadata=output("entries"))

    @property
    def renamed(self) -> tuple[Pair, ...]:
        return tuple(pair for pair in self.pairs if pair.is_renamed)

    @property
    def alone(self) -> tuple[Pair, ...]:
        """Entries that one file has and the other has not."""
        return tuple(pair for pair in self.pairs if None in (pair.number_before, pair.number_after))

    @property
    def reordered(self) -> tuple[str, ...]:
        """Lists whose entries stand in another order; those of burners branch off the manifold in theirs."""
        places: dict[str, list[int]] = {}
        for pair in self.pairs:
            if pair.number_before is not None and pair.number_after is not None:
                places.setdefault(pair.table, []).append(pair.number_after)
        return tuple(table for table, numbers in places.items() if numbers != sorted(numbers))

    def pairs_of(self, table: str) -> tuple[Pair, ...]:
        return tuple(pair for pair in self.pairs if pair.table == table)


def compare_inputs(a: ProjectText, b: ProjectText) -> InputComparison:
    """What differs in the inputs of two project files, in the order of the file.

    >>> a = ProjectText.blank().with_values({"burner[1].rate": "12.5 kBtu/h"})
    >>> compare_inputs(a, a.with_values({"burner[1].rate": "3.66339 kW"})).changes
    ()
    """
    first, second = _File(a.values()), _File(b.values())
    pairs = tuple(pair for table in _tables(first, second) for pair in _paired(table, first, second))
    changes, respelt = list[InputChange](), list[InputChange]()
    for change, is_same in _changes(first, second, pairs):
        (respelt if is_same else changes).append(change)
    order = {one.path: i for i, one in enumerate(schema_fields())}

    def place(change: InputChange) -> tuple[int, int]:
        entry = _ENTRY.fullmatch(change.key)
        pattern = re.sub(r"\[\d+\]", "[]", change.key)
        top = order.get(pattern.partition("[]")[0] + "[]" if entry else pattern, len(order))
        return (top, int(entry[2])) if entry else (top, 0)

    return InputComparison(
        changes=tuple(sorted(changes, key=place)), respelt=tuple(sorted(respelt, key=place)), pairs=pairs
    )


class _File:
    """The values of a file, those of the entries of its lists apart."""

    def __init__(self, values: Values) -> None:
        self.values = values
        self.basis = values.get("appliance.rating", "")
        self.entries: dict[str, dict[int, dict[str, str]]] = {}
        self.alone: dict[str, str] = {}
        for key, value in values.items():
            entry = _ENTRY.fullmatch(key)
            if entry is None:
                self.alone[key] = value
            else:
                self.entries.setdefault(entry[1], {}).setdefault(int(entry[2]), {})[entry[3]] = value

    def meanings(self, table: str, number: int) -> dict[str, Any]:
        """What the values of an entry mean, without its name."""
        entry = self.entries[table][number]
        return {
            key: self.meaning(f"{table}[{number}].{key}", value)
            for key, value in entry.items()
            if key != "name"
        }

    def meaning(self, key: str, text: str) -> Any:
        """A value in SI to six digits; the text as it is where it cannot be read."""
        path = key_path(key)
        found = declared_key(path) if path is not None else None
        if found is None or path is None:
            return text
        try:
            return _rounded(self._read(found[1], path, text))
        except (UserError, ValueError, TypeError):
            return text

    def _read(self, declared: Key, path: KeyPath, text: str) -> Any:
        value: Any = _as_written(declared, text)
        if declared.reader is not None:
            return declared.reader(value)
        if declared.reader_in_file is None:
            return text
        file = {"basis": self.basis, "allow_high": True, "region": "", "own_tables": ("altitude_policies",)}
        rate = self.values.get(f"{spell(path[:-1])}.rate")
        beside = {} if path[-1] != "turndown" or rate is None else {"rate": self._rate(path, rate)}
        return declared.reader_in_file(value, beside, file)

    def _rate(self, path: KeyPath, text: str) -> Any:
        found = declared_key((*path[:-1], "rate"))
        assert found is not None
        return self._read(found[1], (*path[:-1], "rate"), text)


def _as_written(declared: Key, text: str) -> Any:
    """A value as TOML would hold it."""
    form = declared.written_as
    if form == "number":
        return float(text)
    if form == "switch":
        return {"true": True, "false": False}.get(text, text)
    if form == "texts" or (form == "text or texts" and "," in text):
        return entries_of(text)
    if form == "table":
        return {
            name.strip(): float(number) for name, _, number in (one.partition("=") for one in text.split(","))
        }
    return text


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}")
    if isinstance(value, tuple | list):  # of a drill its diameter counts, not how it is called
        parts = [_rounded(one) for one in value]
        return (
            parts[0]
            if len(parts) == 2 and isinstance(parts[1], str) and isinstance(parts[0], float)
            else parts
        )
    if isinstance(value, Mapping):
        return {name: _rounded(one) for name, one in value.items()}
    return value.casefold() if isinstance(value, str) else value


# Entries of both files that are one.


def _tables(first: _File, second: _File) -> list[str]:
    return list(dict.fromkeys((*first.entries, *second.entries)))


def _paired(table: str, first: _File, second: _File) -> Iterator[Pair]:
    """By name, then by equal content, then by content alike; the rest stand in one file alone."""
    here, there = first.entries.get(table, {}), second.entries.get(table, {})
    partner = dict(_by_name(here, there))
    left = [i for i in here if i not in partner]
    free = [k for k in there if k not in partner.values()]
    meanings = {i: first.meanings(table, i) for i in left}, {k: second.meanings(table, k) for k in free}
    scored = sorted(
        ((-_share(meanings[0][i], meanings[1][k]), abs(i - k), i, k) for i in left for k in free),
    )
    for share, _, i, k in scored:
        if -share >= ALIKE and i not in partner and k not in partner.values():
            partner[i] = k
    for i in here:
        other = partner.get(i)
        yield Pair(
            table=table,
            before=here[i].get("name", ""),
            after="" if other is None else there[other].get("name", ""),
            number_before=i,
            number_after=other,
        )
    for k in there:
        if k not in partner.values():
            yield Pair(
                table=table, before="", after=there[k].get("name", ""), number_before=None, number_after=k
            )


def _by_name(
    here: Mapping[int, Mapping[str, str]], there: Mapping[int, Mapping[str, str]]
) -> Iterator[tuple[int, int]]:
    names = {entry["name"].casefold(): k for k, entry in there.items() if entry.get("name")}
    for i, entry in here.items():
        name = entry.get("name", "").casefold()
        if name in names:
            yield i, names.pop(name)


def _share(here: Mapping[str, Any], there: Mapping[str, Any]) -> float:
    """The share of keys that mean the same in both [-]; it does not depend on the order of the two."""
    keys = here.keys() | there.keys()
    same = sum(key in here and key in there and here[key] == there[key] for key in keys)
    return same / len(keys) if keys else 1.0


# The keys of paired entries, and those that stand alone.


def _changes(first: _File, second: _File, pairs: tuple[Pair, ...]) -> Iterator[tuple[InputChange, bool]]:
    for key in dict.fromkeys((*first.alone, *second.alone)):
        yield from _change(first, second, key, key, "")
    renames = {pair.before: pair.after for pair in pairs if pair.table == "burner" and pair.is_renamed}
    for pair in pairs:
        i, k, table = pair.number_before, pair.number_after, pair.table
        if i is None or k is None:
            continue
        here, there = first.entries[table][i], second.entries[table][k]
        for inner in dict.fromkeys((*here, *there)):
            renamed = renames.get(here.get(inner, ""))
            if inner != "name" and (renamed is None or renamed != there.get(inner)):
                keys = f"{table}[{i}].{inner}", f"{table}[{k}].{inner}"
                yield from _change(first, second, *keys, pair.after or f"{table} {k}")


def _change(
    first: _File, second: _File, key_before: str, key_after: str, entry: str
) -> Iterator[tuple[InputChange, bool]]:
    before, after = first.values.get(key_before, ""), second.values.get(key_after, "")
    if before == after:
        return
    meanings = [
        file.meaning(one, text) if text else _implied(one)
        for file, one, text in ((first, key_before, before), (second, key_after, after))
    ]
    is_same = meanings[0] == meanings[1] and meanings[0] is not None
    key = key_after if after else key_before
    yield InputChange(key=key, entry=entry, label=_label(key_after), before=before, after=after), is_same


def _implied(key: str) -> Any:
    """What a key means that is not given: its declared default, None where that is nothing."""
    path = key_path(key)
    found = declared_key(path) if path is not None else None
    return None if found is None else _rounded(found[2])


def _label(key: str) -> str:
    entry = _ENTRY.fullmatch(key)
    pattern = re.sub(r"\[\d+\]", "[]", key)
    labels = {field.path: field.label for field in schema_fields()}
    label = labels.get(pattern, key)
    numbers = re.findall(r"\[(\d+)\]", entry[3] if entry else "")
    return f"{label} ({', '.join(numbers)})" if any(number != "1" for number in numbers) else label
