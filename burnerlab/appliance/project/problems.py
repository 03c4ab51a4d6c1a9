"""Problems of a project file, all at once, and a value to copy for each key it must have.

All are gathered, so that one round tells everything that is wrong with a file.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from burnerlab.appliance.project.bare_numbers import readings
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.keys import key_at, table_keys
from burnerlab.appliance.project.model import REGIONS
from burnerlab.appliance.project.toml_lines import KeyIndex, KeyPath, Unread, spell
from burnerlab.quantity import Kind, in_unit, read
from burnerlab.quantity.inputs import words_of
from burnerlab.quantity.prose import WITHOUT_UNIT
from burnerlab.tables import OPTION_OF
from burnerlab.tables.problem import Problem, UserError, did_you_mean

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

# A value to copy for a key of a project file, as that file writes its units and names its burners.

US, EU = REGIONS
UNIT = re.compile(r"[0-9.]+\s*(.*)")
DRILL_OR_DIAMETER = "a drill or a diameter?"
PRESSURES = (Kind.GAUGE_PRESSURE.value, Kind.PRESSURE_DIFFERENCE.value)
SMALLER = {"kBtu/h": "Btu/h", "kW": "W"}
MOST_OF_A_BURNER = 600.0  # of the larger of two units: no burner has as many
ABOVE = 1.35  # inlet over the pressure behind it, for a value to copy where the file gives none
FAR_m = 10.0  # from everything: where a thing stands whose own place or size could not be read


def example(path: KeyPath, data: Mapping[str, Any], root: type = ProjectFile) -> tuple[Any, str]:
    """A value for a key that must be there and is not, and where the true one is found; None where none can be named.

    path : of the key; data : the file as TOML holds it; root : its tables

    >>> example(("supply", "pressure"), {"supply": {"gas": "G31"}})[0]
    '37 mbar'
    >>> example(("burner", 1, "rate"), {"burner": [{"rate": "3.5 kW"}, {}]})[0]
    '3.5 kW'
    """
    words = [part for part in path if isinstance(part, str)]
    key, table = words[-1], words[-2] if len(words) > 1 else ""
    if table == "market" and key == "supply":
        return _market_supply(data, path), ""
    if table in ("supply", "new_supply") and key == "pressure":
        return _pressure(data, table), "gauge, at the manifold"
    if (table, key) == ("burner", "rate"):
        return _like(data, key) or ("3.5 kW" if _region(data) == EU else "12 kBtu/h"), "from the rating plate"
    if key == "name" and table:
        return f"{table} {next((part + 1 for part in path if isinstance(part, int)), 1)}", ""
    if table == "carry_over" and key in ("from", "to"):
        names = [str(burner.get("name", "")) for burner in _burners(data)]
        return (names[: 2 if key == "to" else 1] or ["burner 1"])[-1], "a burner of this file"
    declared = key_at(path, root)
    return (declared.key.example, declared.key.hint) if declared else (None, "")


def first_key(path: KeyPath, root: type = ProjectFile) -> tuple[str, Any] | None:
    """The key that makes a table whole, with a value to copy; None for what is no table or needs none.

    >>> first_key(("burner", 0, "orifice"))
    ('drill', '#54')
    """
    declared = key_at(path, root)
    if declared is None or declared.key.table is None or not declared.key.example:
        return None
    name, value = next(iter(declared.key.example.items()))
    return name, value


def written(value: Any) -> str:
    """A value as TOML writes it.

    >>> written({"drill": "#54"}), written("1 m"), written(3)
    ('{ drill = "#54" }', '"1 m"', '3')
    """
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {written(one)}' for key, one in value.items())} }}"
    if isinstance(value, list):
        return f"[ {', '.join(map(written, value))} ]"
    return json.dumps(value, ensure_ascii=False)


def with_unit(path: KeyPath, data: Mapping[str, Any], number: Any, root: type = ProjectFile) -> str:
    """A bare number with the unit that the file uses for its like: for the same key, or for any pressure.

    Returns "" where the file shows none.

    >>> with_unit(("burner", 1, "throat"), {"burner": [{"throat": "15 mm"}, {"throat": "16"}]}, "16")
    '16 mm'
    >>> with_unit(("supply", "inlet"), {"supply": {"pressure": "37 mbar", "inlet": 50}}, 50)
    '50 mbar'
    >>> with_unit(("burner", 0, "rate"), {"burner": [{"rate": "14000"}, {"rate": "12 kBtu/h"}]}, "14000")
    '14000 Btu/h'
    >>> with_unit(("burner", 0, "rate"), {"appliance": {"region": "us"}, "burner": [{"rate": "12.5"}]}, "12.5")
    '12.5 kBtu/h'
    >>> with_unit(("supply", "pressure"), {"supply": {"pressure": 11}, "new_supply": {"pressure": "7 in"}}, 11)
    '11 in w.c.'
    """
    key, declared = str(path[-1]), key_at(path, root)
    alike = [text for text in _texts(data, key) if text != str(number)]
    if declared is not None and declared.key.kind in PRESSURES:
        alike += _texts(data, "pressure")
    such = (
        example(path, data, root)[0],
        example(path, {**data, "burner": []}, root)[0],
    )
    alike += [value for value in such if isinstance(value, str)]
    kinds = {kind.value: kind for kind in Kind}
    kind = None if declared is None else kinds.get(declared.key.kind)
    for text in alike:
        unit = UNIT.fullmatch(text.strip())
        if unit is not None and unit[1] and (kind is None or _is_read(text, kind)):
            return f"{number} {_unit_for(number, unit[1])}"
    return ""


def _unit_for(number: Any, unit: str) -> str:
    """The unit, or its thousandth where no burner has so many of it."""
    try:
        return SMALLER.get(unit, unit) if float(number) > MOST_OF_A_BURNER else unit
    except ValueError:
        return unit


def _is_read(text: str, kind: Kind) -> bool:
    """Whether a text is a quantity: a unit that is refused beside one key is proposed for no other."""
    try:
        read(text, kind)
    except UserError:
        return False
    return True


def _texts(data: Any, key: str) -> list[str]:
    """Every text under a key, anywhere in the file."""
    if isinstance(data, list):
        return [text for entry in data for text in _texts(entry, key)]
    if not isinstance(data, dict):
        return []
    own = [data[key]] if isinstance(data.get(key), str) else []
    return own + [text for value in data.values() for text in _texts(value, key)]


def either(every: Iterable[str]) -> str:
    """What to write in place of a number without its unit, the likeliest first.

    >>> either(["#17", "17 mm"]), either(["16 mm"])
    ('write "#17" or "17 mm"', 'write "16 mm" if that is its unit')
    """
    *others, last = (f'"{one}"' for one in every)
    if not others and last.startswith('"#'):
        return f"write {last}"
    return f"write {', '.join(others)} or {last}" if others else f"write {last} if that is its unit"


def inlet_above(data: Mapping[str, Any], supply: str, least_Pa: float) -> str:
    """A pressure before the regulator that is above the one behind it, in the unit of the file's own pressure.

    supply : the table, supply or new_supply

    >>> inlet_above({"supply": {"pressure": "37 mbar"}}, "supply", 3700.0)
    '50 mbar'
    """
    unit = UNIT.fullmatch(str(_table(data, supply).get("pressure", "")).strip())
    for name in (unit[1] if unit else "", "mbar"):
        try:
            value = in_unit(ABOVE * least_Pa, Kind.GAUGE_PRESSURE, name)
            read(f"{value:.2g} {name}", Kind.GAUGE_PRESSURE)
        except (UserError, ValueError, KeyError):
            continue
        return f"{float(f'{value:.2g}'):g} {name}"
    return f"{ABOVE * least_Pa / 100:.2g} mbar"


def _pressure(data: Mapping[str, Any], supply: str) -> str:
    """The usual pressure of the file's gas in the file's region."""
    gas = str(_table(data, supply).get("gas", "")).casefold()
    european = _region(data) == EU or re.fullmatch(r"g[23][0-9.]*", gas) is not None
    if re.match(r"prop|but|lpg|g3", gas):
        return ("29 mbar" if gas.startswith(("but", "g30")) else "37 mbar") if european else "11 in w.c."
    return "20 mbar" if european else "7 in w.c."


def _market_supply(data: Mapping[str, Any], path: KeyPath) -> dict[str, str]:
    """The supply of a market to copy: with the gas and pressure that stand flat in it, else usual ones."""
    markets, number = data.get("market"), next((part for part in path if isinstance(part, int)), 0)
    own = markets[number] if isinstance(markets, list) and number < len(markets) else {}
    own = own if isinstance(own, dict) else {}
    gas = str(own.get("gas") or "propane")
    region = str(own.get("region") or _region(data))
    usual = _pressure({"appliance": {"region": region}, "supply": {"gas": gas}}, "supply")
    return {"gas": gas, "pressure": str(own.get("pressure") or usual)}


def _region(data: Mapping[str, Any]) -> str:
    return str(_table(data, "appliance").get("region", ""))


def _like(data: Mapping[str, Any], key: str) -> Any:
    """What another burner of the file has under the key."""
    return next((burner[key] for burner in _burners(data) if isinstance(burner.get(key), str)), None)


def _burners(data: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    found = data.get("burner")
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def _table(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = data.get(name)
    return found if isinstance(found, dict) else {}


# What is wrong with a file of keys: complaints of pydantic in our words, and what was met while building.

OTHER_WORDS = {"bore": "diameter", "size": "drill", "power": "rate", "input": "rate"}  # for keys
MARKET_SUPPLY = ("gas", "pressure")  # keys of a market's supply, often written flat
HOMES = ("burner", "supply", "appliance")  # tables of a project file whose keys are often put into others


@dataclass(slots=True)
class Problems:
    """Problems met while building, each with the key path it belongs to."""

    problems: list[tuple[KeyPath, Problem]] = field(default_factory=list)
    data: Mapping[str, Any] = field(default_factory=dict)  # the file as TOML holds it
    unread: Unread = field(default_factory=Unread)  # what could not be read of it
    lost: set[str] = field(default_factory=set)  # own tables that are not there: names may be theirs

    @contextmanager
    def at(self, *path: str | int, of: str = "") -> Iterator[None]:
        """Catch what goes wrong inside and note it for ``path``; ``of`` is the table whose names are looked up."""
        try:
            yield
        except UserError as error:
            if of not in self.lost:
                self.problems += [(path, problem) for problem in error.problems]

    def add(self, path: KeyPath, what: str, *, value: str = "", accepted: str = "", fix: str = "") -> None:
        self.problems.append((path, Problem(what, value=value, key=spell(path), accepted=accepted, fix=fix)))


@dataclass(frozen=True, slots=True, kw_only=True)
class FileProblems:
    """Complaints about one file, each at its line and key, with a fix that is right for that file."""

    root: type  # the tables of the file
    name: str  # printed in complaints
    lines: KeyIndex
    data: Mapping[str, Any]  # as TOML holds it

    def problems_of(self, detail: ErrorDetails) -> list[Problem]:
        """One complaint of pydantic in our words."""
        path: KeyPath = tuple(detail["loc"])
        value = detail["input"]
        base = Problem(
            "", key=spell(path), file=self.name, line=self.lines.line(path), value=_value_text(value)
        )
        cause = detail.get("ctx", {}).get("error")
        if isinstance(cause, UserError):
            problems = [self._of_value(problem, base, path) for problem in cause.problems]
            return [self._with_unit(problem, path, value) for problem in problems]
        match detail["type"]:
            case "extra_forbidden":
                known = self._table_keys(path)
                fix = self._unknown_key_fix(path, known)
                found = replace(base, what=f"unknown key {path[-1]}", accepted=", ".join(known), fix=fix)
            case "missing":
                what, fix = self._missing(path)
                found = replace(base, what=what, value="", fix=fix)
            case "dict_type":
                keys = ", ".join(self._table_keys((*path, "")))
                what, fix = f"must be a table, got {words_of(value)}", self._table_to_write(path, value)
                found = replace(base, what=what, accepted=f"a table of {keys}", fix=fix)
            case "list_type":
                example, declared = self._example(path)[0], key_at(path, self.root)
                is_alone = declared is not None and declared.key.is_alone
                fix = (
                    f"write {path[-1]} = {written(example)}"
                    if example and (is_alone or len(path) > 1)
                    else f"write [[{base.key}]] for each"
                )
                what = f"must be a list, got {words_of(value)}"
                found = replace(base, what=what, accepted="a list", fix=fix)
            case "too_short" | "too_long":
                what, fix = self._entries(path)
                found = replace(base, what=what, value="", fix=fix)
            case _:
                what = f"cannot be used: {detail['msg'][:80]}"
                found = replace(base, what=what, fix="see the demonstration file")
        return [found]

    def _example(self, path: KeyPath) -> tuple[Any, str]:
        return example(path, self.data, self.root)

    def _table_to_write(self, path: KeyPath, value: Any) -> str:
        """How a table is written that something else stands in for."""
        first = self._table_keys((*path, ""))[0]
        name, text = first_key(path, self.root) or (first, self._example((*path, first))[0] or "...")
        if path[-1] == "orifice" and isinstance(value, str):
            text = value
        table = written({name: text})
        if isinstance(path[-1], int):
            return f"write {table}" if len(path) > 2 else f"write [[{path[0]}]] with its keys below"
        return f"write {path[-1]} = {table}" if len(path) > 1 else f"write [{path[0]}] with its keys below"

    def _entries(self, path: KeyPath) -> tuple[str, str]:
        """How many tables a list may hold."""
        one = key_at(path, self.root)
        least, most = (one.key.least, one.key.most) if one is not None else (0, 0)
        fix = f"describe each {path[-1]} under [[{path[-1]}]]" if len(path) == 1 else "shorten the list"
        return f"needs {least} to {most} entries", fix

    def placed(self, problem: Problem, path: KeyPath) -> Problem:
        """A problem met while building, at the line and value of its key; one in another file stays there."""
        if problem.file:
            return problem
        value: Any = self.data
        for part in path:
            try:
                value = value[part]
            except (KeyError, IndexError, TypeError):
                value = ""
                break
        inside = problem.key and problem.key.startswith(spell(path))
        key = problem.key if inside else spell(path)
        own_line = self.lines.line((*path, *problem.key[len(spell(path)) + 1 :].split("."))) if inside else 0
        return replace(
            problem,
            key=key,
            file=self.name,
            line=own_line or self.lines.line(path),
            value=problem.value or _value_text(value),
        )

    def _of_value(self, problem: Problem, base: Problem, path: KeyPath) -> Problem:
        """A complaint about a value, or about one key inside a table, at its full key path; in another file there."""
        if problem.file and problem.line:
            return problem
        inner = tuple(problem.key.split(".")) if problem.key else ()
        return replace(
            problem,
            key=".".join((base.key, *inner)),
            file=base.file,
            line=self.lines.line((*path, *inner)),
            value=base.value or problem.value,
        )

    def _with_unit(self, problem: Problem, path: KeyPath, value: Any) -> Problem:
        """For a number without a unit, the unit that the file uses for its like."""
        if not problem.what.startswith(WITHOUT_UNIT):
            return problem
        region = _region(self.data)
        if path[-1] == "altitude":
            units = ("ft", "m") if region == US else ("m", "ft")
            return replace(problem, accepted="m, ft", fix=either(f"{value} {unit}" for unit in units))
        if problem.what.startswith(DRILL_OR_DIAMETER):
            return problem  # says what each would be
        declared = key_at(path, self.root)
        beside = [text for text in _texts(self.data, str(path[-1])) if text != str(value)]
        if declared is not None and (every := readings(value, declared.key, region, beside)):
            return replace(problem, fix=either(every))
        meant = with_unit(path, self.data, value, self.root)
        return replace(problem, fix=f'write "{meant}" if that is its unit') if meant else problem

    def _missing(self, path: KeyPath) -> tuple[str, str]:
        """What to say of a key that is not there, with a value to copy."""
        if path == ("appliance", "rating"):
            return "rating basis missing: gross or net", 'add rating = "gross" or rating = "net"'
        if path == ("burner",):
            return "is missing: an appliance needs a burner", "add [[burner]] with name and rate"
        table = self._table(path)
        if len(path) == 1 and table is not None:
            needed = [key for key, one in table_keys(table).items() if one.is_needed]
            keys = ", ".join(f"{key} = {written(self._example((*path, key))[0])}" for key in needed)
            return "is missing", f"add {self._header(path[0])} with {keys}"
        value, hint = self._example(path)
        return "is missing", f"add {path[-1]} = {written(value)}{', ' + hint if hint else ''}"

    def _unknown_key_fix(self, path: KeyPath, keys: list[str]) -> str:
        """The key that was meant, or the table where this one belongs."""
        if get_close_matches(str(path[-1]), keys, n=1, cutoff=0.6):
            return did_you_mean(path[-1], keys)
        if OTHER_WORDS.get(str(path[-1])) in keys:
            return f"did you mean {OTHER_WORDS[str(path[-1])]}?"
        if path[0] == "market" and len(path) == 3 and path[-1] in MARKET_SUPPLY:
            return f"write supply = {written(_market_supply(self.data, path))} in its place"
        if path[0] == "market" and len(path) == 3 and path[-1] in ("country", "countries", "destination"):
            return f'leave it out: write region = "{EU}" or region = "{US}", and the country into its name'
        top = table_keys(self.root)
        if path[0] == "tables" and path[-1] in OPTION_OF:
            option = OPTION_OF[str(path[-1])]
            return f"leave it out; commands take this table by an option: --{option.replace('_', '-')} FILE"
        if path[-1] in top:
            return f"it is a table of its own: {self._header(path[-1])}"
        homes = [table for table in HOMES if table in top and path[-1] in self._table_keys((table, ""))]
        return f"it belongs in {self._header(homes[0])}" if homes else "leave it out, or write one of these"

    def _header(self, table: str | int) -> str:
        """How the file writes the head of a table."""
        return f"[[{table}]]" if table_keys(self.root)[str(table)].key.is_list else f"[{table}]"

    def _table(self, path: KeyPath) -> type | None:
        """The table at a path, the file itself for none."""
        one = key_at(path, self.root)
        return self.root if not path else one.key.table if one is not None else None

    def _table_keys(self, path: KeyPath) -> list[str]:
        """Keys that the table around an unknown key may hold."""
        return list(table_keys(self._table(path[:-1]) or self.root))


def _value_text(value: Any) -> str:
    if isinstance(value, dict | list):
        return ""
    return ("true" if value else "false") if isinstance(value, bool) else str(value)
