"""Keys of the project file: how each is declared at its field, and the kinds they share.

A field of a frozen dataclass is a key of the file when its annotation carries a ``Key``; the decorator ``table`` makes
the class a table of the file. pydantic reads the file straight into these classes. In a notebook they are ordinary
dataclasses: nothing is read or checked when one is made by hand.

================================  =========================================================================
to                                write
================================  =========================================================================
add a key                         ``throat_m: Annotated[float | None, key.length("Inner diameter", "16 mm")] = None``;
                                  the file calls it by its field without the unit, or by ``name="..."``
choose what it can be             a function of ``key_kinds``; its range is a row of ``inputs``
add a table                       ``@table()`` over the dataclass, and a key ``key.part(Heat, "What it is")`` for it
need it                           a field without a default is needed; ``is_needed`` where the file differs
rule between keys                 ``@table(rule)``: values as read, by key -> values to make the thing, or a UserError
have a key without a field        ``width: ClassVar[Annotated[float, key.length(...)]]``; the rule makes fields of it
look something up first           ``@table(is_whole=False)``: read as a dict, made by ``lookups``
have a file of its own            a table of its tables; ``read_on.read_file`` says all that is wrong with one
list all keys                     ``every_key(root)``: path, kind, range, default, example, help
================================  =========================================================================
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, fields, replace
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, TypeVar, get_args, get_type_hints

from burnerlab.appliance.project import key_readers
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.read import range_words
from burnerlab.quantity.units import Kind
from burnerlab.tables.key_declarations import key_name

if TYPE_CHECKING:
    from pydantic_core import CoreSchema, SchemaValidator

# Keys of a file (TOML), each declared once: at the field that holds its value.

Values = dict[str, Any]
"""A table of the file as it was read, by field, or by key where there is no field."""
Reader = Callable[[Any], Any]
ReaderInFile = Callable[[Any, Mapping[str, Any], Mapping[str, Any]], Any]
"""A reader that must know of other values: those before it in its table, and the context of the file."""
Rule = Callable[[Values], Values]
Form = Literal["text", "number", "switch", "texts", "text or texts", "table"]
T = TypeVar("T")
FILE_NAME = "file name"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """A key of a file: what it means, what it accepts, an example to copy, and what reads its value."""

    help: str  # one line
    kind: str  # in words: length, whole number, name ...
    example: Any
    accepted: str  # range or words
    hint: str = ""  # where its value is found, beside an example
    source: str = ""  # of its range
    name: str = ""  # where the file calls it other than the field
    is_needed: bool | None = None  # None: where its field has no default
    default: Any = None  # where the field does not say it
    reader: Reader | None = None
    reader_in_file: ReaderInFile | None = None
    table: type | None = None  # for a table, or tables
    least: int = 0
    most: int = 0  # of a list of tables; 0 for one table
    is_alone: bool = False  # whether one table counts as a list of one
    is_inline: bool = False  # its keys stand in the table around it
    choices: tuple[str, ...] = ()  # the words it may be, where those are few
    rows_of: str = ""  # table and column of the names it may be, as "discharge.shape"
    or_percent: bool = False  # whether its reader takes a percentage as well
    or_mass_flow: bool = False  # whether it takes a mass flow as well
    or_drill: bool = False  # whether it takes a number or letter drill as well
    form: Form | None = None  # how TOML writes its value; None: as its kind and example say

    @property
    def is_list(self) -> bool:
        return self.most > 0

    @property
    def written_as(self) -> Form:
        """How TOML writes its value: a text in quotes unless kind or example say otherwise."""
        if self.form is not None:
            return self.form
        if self.table is not None:
            return "table"
        by_kind: dict[str, Form] = {"switch": "switch", "number": "number", "whole number": "number"}
        by_example: Form = (
            "texts"
            if isinstance(self.example, list)
            else "table"
            if isinstance(self.example, dict)
            else "text"
        )
        return by_kind.get(self.kind, by_example)

    @property
    def names_file(self) -> bool:
        """Whether its value names a file of the disk."""
        return self.kind == FILE_NAME


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKey:
    """A key at its place in a table: the field it fills, and what holds without it."""

    key: Key
    field: str
    is_needed: bool
    default: Any
    group: str = ""  # field of the thing whose keys stand in this table


@dataclass(frozen=True, slots=True)
class _Table:
    rule: Rule | None
    is_whole: bool


_TABLES: dict[type, _Table] = {}


def table(rule: Rule | None = None, *, is_whole: bool = True) -> Callable[[type[T]], type[T]]:
    """A dataclass as a table of a file; see the top of this module."""

    def mark(cls: type[T]) -> type[T]:
        _TABLES[cls] = _Table(rule, is_whole)
        return cls

    return mark


@cache
def table_keys(cls: type) -> Mapping[str, TableKey]:
    """The keys of a table by name, in the order of its fields."""
    own = {one.name: one for one in fields(cls)}
    found: dict[str, TableKey] = {}
    for name, hint in get_type_hints(cls, include_extras=True).items():
        key = _key_in(hint)
        if key is None:
            continue
        if key.is_inline and key.table is not None:
            found |= {inner: replace(one, group=name) for inner, one in table_keys(key.table).items()}
            continue
        default, is_needed = _default(own.get(name))
        found[key.name or key_name(name)] = TableKey(
            key=key,
            field=name,
            is_needed=is_needed if key.is_needed is None else key.is_needed,
            default=key.default if default is None else default,
        )
    return found


def key_at(path: Sequence[str | int], root: type) -> TableKey | None:
    """The key at a path of a file, list entries by number; None where the file has none."""
    *tables, name = [part for part in path if isinstance(part, str)] or [""]
    cls: type | None = root
    for part in tables:
        one = table_keys(cls).get(part) if cls is not None else None
        cls = one.key.table if one is not None else None
    return table_keys(cls).get(name) if cls is not None else None


def _default(key_field: Field[Any] | None) -> tuple[Any, bool]:
    """What a field holds by itself, and whether it must be given; a key without a field need not."""
    if key_field is None:
        return None, False
    if key_field.default_factory is not MISSING:
        return key_field.default_factory(), False
    return (None, True) if key_field.default is MISSING else (key_field.default, False)


def _key_in(annotation: Any) -> Key | None:
    """The key that an annotation carries, at any depth."""
    if isinstance(annotation, Key):
        return annotation
    inner = (*getattr(annotation, "__metadata__", ()), *get_args(annotation))
    return next((key for one in inner if (key := _key_in(one)) is not None), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyLine:
    """What a handbook, an editing page or a schema says of one key."""

    path: str  # burner[].orifice.drill
    kind: str
    accepted: str
    is_needed: bool
    default: Any
    example: Any
    help: str
    source: str  # row of ``inputs`` its range is from


def every_key(cls: type, path: str = "") -> Iterator[KeyLine]:
    """Every key of a file whose tables ``cls`` holds, a table before its keys.

    >>> from burnerlab.appliance.project.file_tables import ProjectFile
    >>> next(line for line in every_key(ProjectFile) if line.path == "burner[].throat").accepted
    '0.1 mm to 5000 mm'
    """
    for name, one in table_keys(cls).items():
        key, here = one.key, f"{path}{name}{'[]' if one.key.is_list else ''}"
        yield KeyLine(
            path=here,
            kind=key.kind,
            accepted=key.accepted,
            is_needed=one.is_needed,
            default=one.default,
            example=key.example,
            help=key.help,
            source=key.source,
        )
        if key.table is not None:
            yield from every_key(key.table, f"{here}.")


@cache
def validator(cls: type) -> SchemaValidator:
    """What pydantic reads a table with."""
    from pydantic_core import SchemaValidator

    return SchemaValidator(_schema(cls))


def _schema(cls: type) -> CoreSchema:
    from pydantic_core import core_schema

    keys = table_keys(cls)
    read = core_schema.typed_dict_schema(
        {
            name: core_schema.typed_dict_field(_value_schema(one.key), required=one.is_needed)
            for name, one in keys.items()
        },
        extra_behavior="forbid",
    )
    return core_schema.no_info_after_validator_function(lambda values: _instance(cls, keys, values), read)


def _value_schema(key: Key) -> CoreSchema:
    from pydantic_core import core_schema

    if key.table is None:
        return _read_schema(key)
    one = _schema(key.table)
    if not key.is_list:
        return one
    return core_schema.list_schema(one, min_length=key.least or None, max_length=key.most)


def _read_schema(key: Key) -> CoreSchema:
    from pydantic_core import core_schema

    if key.reader is not None:
        return core_schema.no_info_plain_validator_function(key.reader)
    reader = key.reader_in_file
    assert reader is not None
    return core_schema.with_info_plain_validator_function(
        lambda value, info: reader(value, info.data, info.context or {})
    )


def listed(cls: type, values: Mapping[str, Any]) -> Values:
    """A copy of a table of the file in which a table that may stand alone is a list of one, at any depth."""
    found: Values = {}
    for name, value in values.items():
        one = table_keys(cls).get(name)
        inner = one.key.table if one is not None else None
        if one is None or inner is None:
            found[name] = copy.deepcopy(value)
            continue
        many = [value] if one.key.is_alone and isinstance(value, dict) else value
        if isinstance(many, list):
            found[name] = [listed(inner, entry) if isinstance(entry, dict) else entry for entry in many]
        else:
            found[name] = listed(inner, many) if isinstance(many, dict) else many
    return found


def _instance(cls: type, keys: Mapping[str, TableKey], values: Values) -> Any:
    """The thing that a table describes, or its values where making it needs a look-up. Raises UserError."""
    own = _TABLES[cls]
    made: Values = {name: {} for name in _inline_tables(cls)}
    for name, value in (own.rule(dict(values)) if own.rule is not None else values).items():
        one = keys[name]
        into = made[one.group] if one.group else made
        into[one.field] = tuple(value) if one.key.is_list else value
    made |= {name: inline(**made[name]) for name, inline in _inline_tables(cls).items()}
    return cls(**made) if own.is_whole else made


@cache
def _inline_tables(cls: type) -> Mapping[str, type]:
    """The tables whose keys stand among those of ``cls``, by field."""
    hints = get_type_hints(cls, include_extras=True).items()
    keys = {name: key for name, hint in hints if (key := _key_in(hint)) is not None and key.is_inline}
    return {name: key.table for name, key in keys.items() if key.table is not None}


# What a key of the project file can be: a quantity, a number, a name, a word out of a few, a table ...


def quantity(of: str, help: str, example: Any = None, **more: Any) -> Key:
    """A figure within a row of ``inputs``: text with a unit, a bare number where the row has no unit."""
    row = input_row(of)
    shown = row.example if example is None else example
    if isinstance(row.kind, Kind):
        kind, accepted = row.kind.value, range_words(shown, row.kind, row.low, row.high)
        reader: Reader = key_readers.quantity(of, shown)
    else:
        shown = float(row.example) if example is None else example
        kind, accepted = "whole number" if row.kind == "COUNT" else "number", row.span
        reader = row.number
    return Key(help=help, kind=kind, example=shown, accepted=accepted, source=of, **{"reader": reader} | more)


def length(help: str, example: str, of: str = "size", **more: Any) -> Key:
    """A dimension."""
    return quantity(of, help, example, **more)


def hole(help: str, example: str, **more: Any) -> Key:
    """The diameter of a drilled hole: a length, or a number or letter drill."""
    return quantity("size", help, example, reader=key_readers.hole("size", example), or_drill=True, **more)


def angle(help: str) -> Key:
    """An angle; any will do."""
    reader = key_readers.angle
    return text("90 deg", help, "any", reader, kind=Kind.ANGLE.value)


def heat_input(help: str, of: str = "heat_input", **more: Any) -> Key:
    """A heat input on the basis of the file."""
    row = input_row(of)
    return Key(
        help=help,
        kind="heat input",
        example="12 kBtu/h",
        accepted=f"{row.low / 1e3:g} to {row.high / 1e3:g} kW",
        source=of,
        reader_in_file=lambda value, _, file: key_readers.rate(value, str(file.get("basis", "")), of),
        **more,
    )


def regulator_flow(help: str, reader: Callable[[Any, str], Any]) -> Key:
    """The flow of a regulator as a heat input on the basis of the file, or in kg/h as those for LPG are marked.

    reader : of a value and that basis
    """
    return replace(
        heat_input(help, "regulator_flow"),
        or_mass_flow=True,
        reader_in_file=lambda value, _, file: reader(value, str(file.get("basis", ""))),
    )


def gauge_pressure(help: str, **more: Any) -> Key:
    """A gauge pressure of a low-pressure appliance, or any above zero where the file allows it."""
    row = input_row("low_pressure")
    return Key(
        help=help,
        kind=Kind.GAUGE_PRESSURE.value,
        example=row.example,
        accepted=f"{row.low / 1e2:g} to {row.high / 1e2:g} mbar",
        source="low_pressure",
        reader_in_file=lambda value, _, file: key_readers.gauge_pressure(value, bool(file.get("allow_high"))),
        **more,
    )


def name(example: str, help: str, **more: Any) -> Key:
    """A text to print, or the name of a row of a table."""
    return text(example, help, "1 to 80 characters", key_readers.name, kind="name", **more)


def text(example: Any, help: str, accepted: str, reader: Reader, *, kind: str = "text", **more: Any) -> Key:
    """A value with a reader of its own."""
    return Key(help=help, kind=kind, example=example, accepted=accepted, reader=reader, **more)


def gas(help: str, hint: str, **more: Any) -> Key:
    """A gas of the library, the [gas] of the file by its name, one by its parts, or by its path from the file."""
    return Key(
        help=help,
        kind="gas",
        example="propane",
        accepted="a gas of the library",
        reader_in_file=lambda value, _, file: key_readers.library_gas(
            value, file.get("folder"), file.get("own_gas")
        ),
        hint=hint,
        **more,
    )


def choice(words: Sequence[str], what: str, help: str, **more: Any) -> Key:
    """One word out of a few; ``what`` names it in a complaint: is not ``what``."""
    more = {"example": words[0]} | more
    return Key(
        help=help,
        kind="word",
        accepted=", ".join(words),
        reader=key_readers.choice(words, what),
        choices=tuple(map(str, words)),
        **more,
    )


def switch(help: str, **more: Any) -> Key:
    """true or false."""
    return Key(
        help=help, kind="switch", example=True, accepted="true, false", reader=key_readers.switch, **more
    )


def table_file(help: str) -> Key:
    """A CSV of the user's own in the folder of the project file."""
    return text("own.csv", help, "a CSV in the file's folder", key_readers.file_name, kind=FILE_NAME)


def part(table: type, help: str, example: Mapping[str, Any] | None = None, **more: Any) -> Key:
    """A table within a table; ``example`` holds the key that makes it whole."""
    return Key(help=help, kind="table", example=example, accepted="a table", table=table, **more)


def parts(table: type, most: int, help: str, example: Mapping[str, Any] | None = None, **more: Any) -> Key:
    """A list of tables; one alone counts as a list of one."""
    more = {"is_alone": True} | more
    accepted = f"{more.get('least', 0)} to {most} tables"
    return Key(help=help, kind="tables", example=example, accepted=accepted, table=table, most=most, **more)


def inline(table: type) -> Key:
    """A thing whose keys stand in the table around it."""
    return Key(help="", kind="", example=None, accepted="", table=table, is_inline=True)


def orifice_range() -> str:
    """Diameters of orifices, as their check prints them."""
    row = input_row("orifice_diameter")
    return f"{row.low * 1e3:g} to {row.high * 1e3:g} mm"
