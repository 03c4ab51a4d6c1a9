"""Outputs: each figure of a result declared once on its field, as row, text and JSON document.

A field says what it is, ``output`` in its metadata; a property or a method without arguments says it by the decorator
``computed_output``::

    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    altitude_m: float = field(metadata=output("altitude", Kind.LENGTH, unit="m"))  # not in the unit of its kind
    deviation: float = field(metadata=output("deviation", Kind.FRACTION, is_change=True))  # deviation_percent
    viscosity_Pa_s: float = field(metadata=output("viscosity", unit="Pa s"))  # of no kind: the unit of its name
    coefficient: float = field(metadata=output("discharge coefficient"))  # a pure number, a word, yes or no
    aeration: Band = field(metadata=output("primary aeration", Kind.FRACTION, is_band=True))  # and its _low, _high
    conditions: Conditions = field(metadata=output("conditions", is_part=True))  # its figures join the row
    gas: Gas = field(metadata=output("gas"))  # what declares no outputs of its own: its name
    causes: tuple[Cause, ...] = field(metadata=output("causes"))  # a row for each; one result: a row below a key

    @property
    @computed_output("fraction outside", Kind.FRACTION)
    def outside_fraction(self) -> float: ...

A name ends in the SI ending of its kind (``_Pa``, ``_kg_per_s``) and says its basis; its key has the ending of the one
handy unit of that kind in its place (table ``handy_units``): ``heat_input_gross_kW``. What breaks this is refused at
first use. ``row(result)`` is the figures by key for JSON, CSV, workbook and data frame, ``flat`` the same without rows
in rows; ``texts(result, system)`` is label and text of each for terminal and HTML; ``columns(cls)`` is the
declarations. Arrays stay arrays. What has no value is None: an empty word, an absent figure.
"""

from __future__ import annotations

import json
import math
import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from enum import Enum
from functools import cache
from os import PathLike
from typing import TYPE_CHECKING, Any, NamedTuple, TypedDict, TypeVar

from burnerlab import __version__, tables
from burnerlab.quantity.show import System, number, show, unit_named
from burnerlab.quantity.summary import figure, percent
from burnerlab.quantity.units import Kind
from burnerlab.tables.cautions import cautions
from burnerlab.tables.citation import engines_behind

if TYPE_CHECKING:
    from typing_extensions import Unpack

# What a result shows: each figure declared once, on the field that holds it, for every format.

Method = TypeVar("Method", bound=Callable[[Any], Any])
DECLARED = "output"
ON_METHOD = "__burnerlab_output__"
ENDS = ("low", "high")  # of a band
MISSING = "-"
PERCENT = "%"
LOADING = "W/mm2"  # of ports: a heat flux that is held in this unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """The declaration of one figure, word or part of a result."""

    label: str
    kind: Kind | None = None
    unit: str = ""  # where it is not the handy unit of the kind
    basis: str = ""  # gross or net
    is_part: bool = False  # its figures join the row
    is_band: bool = False  # value, low and high
    is_change: bool = False  # text with its sign
    digits: int | None = None  # significant, of the text


class _More(TypedDict, total=False):
    unit: str
    basis: str
    is_part: bool
    is_band: bool
    is_change: bool
    digits: int


def output(label: str, kind: Kind | None = None, **more: Unpack[_More]) -> Mapping[str, Any]:
    """Metadata of a field that is shown; ``more`` as in ``Output``.

    >>> output("altitude", Kind.LENGTH, unit="m")["output"].label
    'altitude'
    """
    made = Output(label=label, kind=kind, **more)
    return {DECLARED: made} if kind is None else {DECLARED: made, "kind": kind}


def computed_output(
    label: str, kind: Kind | None = None, **more: Unpack[_More]
) -> Callable[[Method], Method]:
    """Declare a method without arguments, or a property when it stands below ``@property``."""
    made = Output(label=label, kind=kind, **more)

    def declare(method: Method) -> Method:
        setattr(method, ON_METHOD, made)
        return method

    return declare


class HandyUnit(NamedTuple):
    """The unit of a kind inside, and the one it has in files."""

    SI: str
    unit: str


@cache
def US_units() -> Mapping[Kind, str]:
    """The unit of each kind in a file that its reader wants in US units.

    >>> US_units()[Kind.GAUGE_PRESSURE], US_units()[Kind.DIAMETER]
    ('in w.c.', 'in')
    """
    return {Kind[row["kind"]]: row["US"] for row in tables.rows("handy_units")}


@cache
def handy_units() -> Mapping[Kind, HandyUnit]:
    """The one handy unit of each kind.

    >>> handy_units()[Kind.GAUGE_PRESSURE]
    HandyUnit(SI='Pa', unit='mbar')
    """
    return {Kind[row["kind"]]: HandyUnit(row["SI"], row["unit"]) for row in tables.rows("handy_units")}


def ending(unit: str) -> str:
    """How a name ends that carries this unit.

    >>> ending("m3/h"), ending("°C"), ending("%"), ending("1/s"), ending("W/(m2 K)"), ending("in w.c.")
    ('_m3_per_h', '_C', '_percent', '_per_s', '_W_per_m2_K', '_inwc')
    """
    if not unit:
        return ""
    plain = {PERCENT: "percent", "in w.c.": "inwc"}.get(unit, unit)
    plain = re.sub(r"^1/", "per ", plain.replace("°", "").replace("(", "").replace(")", ""))
    return "_" + plain.replace("/", "_per_").replace(" ", "_")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One declared output of a class: its name there, its key in files, and how it is written."""

    name: str
    key: str
    declared: Output
    unit: str  # of the value in files
    is_method: bool
    factor: float
    offset: float  # value in SI = value * factor + offset
    ends: tuple[str, ...] = ()  # keys of low and high of a band

    @property
    def label(self) -> str:
        """In words, with its basis."""
        basis = self.declared.basis
        return f"{self.declared.label}, {basis}" if basis else self.declared.label

    def of(self, result: Any) -> Any:
        """As the result holds it."""
        value = getattr(result, self.name)
        return value() if self.is_method else value

    def value(self, result: Any) -> Any:
        """In the unit of files; None where there is none."""
        return self.in_unit(self.of(result))

    def in_unit(self, value: Any) -> Any:
        if isinstance(value, tuple | list):
            return [self.in_unit(each) for each in value]
        if isinstance(value, Enum):
            value = value.value
        if isinstance(value, str):
            return value or None
        if value is None or isinstance(value, bool) or self.declared.kind is None:
            return value
        return (value - self.offset) / self.factor

    def in_system(self, system: System) -> Column:
        """The same figure in the units of a reader, its key with their ending.

        Raises ValueError for a unit that is not of the kind.
        """
        kind, inside = self.declared.kind, 1.0
        if system == "metric" or (kind is None and self.unit != LOADING):
            return self
        if kind is None:  # held in the unit of its name
            kind, inside = Kind.HEAT_FLUX, unit_named(LOADING, Kind.HEAT_FLUX).scale.factor
            unit = "Btu/h/in2"
        else:
            unit = "ft" if kind is Kind.LENGTH and self.unit == "m" else US_units()[kind]
        if unit == self.unit or kind is Kind.FRACTION:
            return self
        scale = unit_named(unit, kind).scale
        old, new = ending(self.unit), ending(unit)
        return replace(
            self,
            declared=replace(self.declared, kind=kind),
            unit=unit,
            key=self.key.removesuffix(old) + new,
            factor=scale.factor / inside,
            offset=scale.offset / inside,
            ends=tuple(end.removesuffix(old) + new for end in self.ends),
        )

    def text(self, result: Any, system: System = "metric", missing: str = MISSING) -> str:
        """For people, with its unit, in the units of the reader."""
        value = self.of(result)
        if self.ends and value is not None:
            at, low, high = (self._text(each, system, missing) for each in _band(value))
            return f"{at} ({low} to {high})"
        return self._text(value, system, missing)

    def _text(self, value: Any, system: System, missing: str) -> str:
        made = self.declared
        if value is None or (isinstance(value, str) and not value):
            return missing
        if isinstance(value, PathLike):
            return str(value)
        if isinstance(value, Enum):
            return str(value.value)
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, str):
            return value
        if isinstance(value, tuple | list):
            return ", ".join(self._text(each, system, missing) for each in value)
        if hasattr(value, "shape") and value.shape:
            return self._range(value)
        if made.kind is None:
            plain = value if isinstance(value, int) else number(float(value), made.digits or 4)
            return f"{plain} {made.unit}".strip()
        if made.is_change:
            return percent(float(value))
        fixed = made.unit if system == "metric" else ""
        unit = made.unit or PERCENT if made.kind is Kind.FRACTION else fixed
        return show(float(value), made.kind, unit=unit or None, system=system, digits=made.digits)

    def _range(self, values: Any) -> str:
        """The ends of an array."""
        if self.declared.kind is not None:
            return figure(values, self.declared.kind)
        if not values.size:
            return "none"
        ends = [self._text(end.item(), "metric", MISSING) for end in (values.min(), values.max())]
        return " to ".join(dict.fromkeys(ends))


_COLUMNS: dict[type, tuple[Column, ...]] = {}


def columns(cls: type) -> tuple[Column, ...]:
    """The declared outputs of a class: its fields, then its properties and methods, in their order.

    Raises ValueError for a name that does not end in the SI unit of its kind or does not say its basis, and for a key
    that stands twice.
    """
    if cls not in _COLUMNS:
        made = tuple(_columns(cls))
        keys = [key for column in made for key in (column.key, *column.ends)]
        twice = sorted({key for key in keys if keys.count(key) > 1})
        if twice:
            raise ValueError(f"{cls.__name__}: outputs of one key: {', '.join(twice)}")
        _COLUMNS[cls] = made
    return _COLUMNS[cls]


def _columns(cls: type) -> Iterator[Column]:
    for each in fields(cls) if is_dataclass(cls) else ():
        if DECLARED in each.metadata:
            yield _column(cls, each.name, each.metadata[DECLARED], is_method=False)
    seen = set()
    for of in cls.__mro__:
        for name, member in vars(of).items():
            declared = getattr(getattr(member, "fget", member), ON_METHOD, None)
            if declared is not None and name not in seen:
                seen.add(name)
                yield _column(cls, name, declared, is_method=not isinstance(member, property))


def _column(cls: type, name: str, declared: Output, *, is_method: bool) -> Column:
    where = f"{cls.__name__}.{name}"
    if declared.basis and declared.basis not in name.split("_"):
        raise ValueError(f"{where}: its name does not say {declared.basis}")
    kind = declared.kind
    inside, unit = handy_units()[kind] if kind else (declared.unit, declared.unit)
    unit = declared.unit or unit
    if inside and not name.endswith(ending(inside)):
        raise ValueError(f"{where}: its name does not end in {ending(inside)}")
    scale = unit_named(unit, kind).scale if kind else None
    stem = name.removesuffix(ending(inside))
    return Column(
        name=name,
        key=stem + ending(unit),
        declared=declared,
        unit=unit,
        is_method=is_method,
        factor=scale.factor if scale else 1.0,
        offset=scale.offset if scale else 0.0,
        ends=tuple(f"{stem}_{end}{ending(unit)}" for end in ENDS) if declared.is_band else (),
    )


class Ends(NamedTuple):
    """A value and the ends of its interval, for an output that ``is_band``."""

    value: float | None
    low: float | None
    high: float | None


def _band(value: Any) -> tuple[Any, Any, Any]:
    return (None, None, None) if value is None else (value.value, value.low, value.high)


def row(result: Any) -> dict[str, Any]:
    """The figures of a result by key, in handy units; a part within is a row of its own, parts a list of rows.

    Raises TypeError for a result that declares no output.
    """
    made: dict[str, Any] = {}
    declared = columns(type(result))
    if not declared:
        raise TypeError(f"{type(result).__name__} declares no output")
    for column in declared:
        value = column.of(result)
        if column.declared.is_part:
            part = {} if value is None else row(value)
            twice = made.keys() & part.keys()
            if twice:
                raise ValueError(f"{type(result).__name__}: outputs of one key: {', '.join(sorted(twice))}")
            made.update(part)
        elif column.ends:
            for key, each in zip((column.key, *column.ends), _band(value), strict=True):
                made[key] = column.in_unit(each)
        else:
            made[column.key] = _within(column, value)
    return made


def _within(column: Column, value: Any) -> Any:
    """A figure in its unit; below it what holds outputs of its own."""
    if isinstance(value, float):
        return (value - column.offset) / column.factor if column.declared.kind else value
    if is_dataclass(value) and not columns(type(value)):
        named: Any = value
        return named.name  # a gas, say: in a row its name stands for it
    if is_dataclass(value):
        return row(value)
    if isinstance(value, Mapping):
        return {str(key): _within(column, each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [_within(column, each) for each in value]
    return column.in_unit(value)


def flat(result: Any) -> dict[str, Any]:
    """The row of a table: the figures of parts with the name of the part before theirs; lists of rows are left out."""
    return _flat(row(result))


def _flat(made: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    plain: dict[str, Any] = {}
    for key, value in made.items():
        if isinstance(value, Mapping):
            plain |= _flat(value, f"{before}{key}_")
        elif not isinstance(value, list):
            plain[before + key] = value
    return plain


def texts(result: Any, system: System = "metric", missing: str = MISSING) -> list[tuple[str, str]]:
    """Label and text of each output, those of joined parts among them; rows within rows are left out."""
    made: list[tuple[str, str]] = []
    for column in columns(type(result)):
        value = column.of(result)
        if column.declared.is_part and value is not None:
            made += texts(value, system, missing)
        elif column.ends or not _has_rows(value):
            made.append((column.label, column.text(result, system, missing)))
    return made


def _has_rows(value: Any) -> bool:
    several = isinstance(value, Sequence) and not isinstance(value, str)
    return is_dataclass(value) or isinstance(value, Mapping) or (several and any(map(is_dataclass, value)))


# The JSON document of a result: one envelope, one rounding and one spelling of nothing for every command
# and file.

SIGNIFICANT = 12  # digits kept: beyond them a number is the noise of its machine
EDITION = 1  # of the convention; raised when a key changes its meaning
ENGINES = ("cantera", "numpy", "pint", "scipy")  # pint knows units alone: no figure of an answer is its own


def schema(name: str) -> str:
    """The id of what a document holds.

    >>> schema("record chart")
    'burnerlab/record-chart/1'
    """
    return f"burnerlab/{name.replace(' ', '-')}/{EDITION}"


def _version(engine: str) -> str:
    if engine in sys.modules:
        return str(sys.modules[engine].__version__)
    from importlib.metadata import version  # another process has calculated

    return version(engine)


def loaded_engines() -> dict[str, str]:
    """The version of each engine that is loaded."""
    return {name: _version(name) for name in ENGINES if name in sys.modules}


def envelope(name: str, figures: Mapping[str, Any]) -> dict[str, Any]:
    """What heads every document: its schema and what computed its figures."""
    engines = {each: _version(each) for each in engines_behind(figures)}
    return {"schema": schema(name), "burnerlab": __version__, "engines": engines}


def document(name: str, result: Any, **more: Any) -> dict[str, Any]:
    """A result as the JSON object of a command: its envelope, its figures by key, and every caution in full.

    name : of the command; result : a mapping of figures, or a result that declares its outputs; more : further keys
    """
    figures: dict[str, Any] = {**plain(result), **plain(more)}
    head = envelope(name, figures)
    twice = head.keys() & figures.keys()
    if twice:
        raise ValueError(f"{name}: keys of the envelope: {', '.join(sorted(twice))}")
    return head | figures | {"cautions": plain(cautions())}


def json_text(name: str, result: Any, **more: Any) -> str:
    """The text of a document, with the line end."""
    return json.dumps(document(name, result, **more), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def plain(value: Any) -> Any:
    """As JSON can hold it: floats of twelve significant digits, null where there is no finite number.

    >>> plain({"a": (1.0, float("nan")), "b": 1 / 3})
    {'a': [1.0, None], 'b': 0.333333333333}
    """
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        return float(f"{value:.{SIGNIFICANT}g}") if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [plain(entry) for entry in value]
    if isinstance(value, PathLike):
        return str(value)
    if hasattr(value, "as_json"):
        return plain(value.as_json())
    if is_dataclass(value) and columns(type(value)):
        return plain(row(value))
    return plain(value.tolist() if hasattr(value, "tolist") else float(value))
