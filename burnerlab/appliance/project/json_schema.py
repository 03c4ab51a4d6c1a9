"""The JSON Schema (2020-12) of the project file, made from its keys: editors complete and check a file with it.

It knows tables, keys, types, spellings of units, signs, drills, words and the names of our tables where the file has
none of its own. What it takes and the reader may refuse all the same: ranges of quantities, most rules between keys,
names that a table of the user's own holds, the parts of a gas.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import Enum
from typing import Any

from burnerlab import tables
from burnerlab.appliance.project import key_readers
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.gas_keys import GAS_KEYS, HEATING_VALUE, WHEN_NEEDED
from burnerlab.appliance.project.keys import FILE_NAME, Key, TableKey, table_keys
from burnerlab.appliance.project.model import Orifice, Ports
from burnerlab.gas import fuels
from burnerlab.gas.composition import PER_WORDS
from burnerlab.gas.library import DENSITIES, NEEDS_PARTS, NEEDS_VALUE
from burnerlab.orifice.drill import SERIES
from burnerlab.quantity.inputs import LONGEST_VALUE, input_row
from burnerlab.quantity.patterns import NUMBER, any_case, either, escaped, quantity_pattern
from burnerlab.quantity.reference_state import presets
from burnerlab.quantity.units import Kind
from burnerlab.tables import literal

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
TITLE = "Project file of burnerlab: an appliance, its supply and its burners"
SCHEMA_FILE = "burnerlab.schema.json"
RATIO = r"^ *(?:1\s*:\s*[0-9]+(?:\.[0-9]+)?|[0-9]+(?:\.[0-9]+)?\s*:\s*1) *$"
PERCENT = rf"^ *{NUMBER} *% *$"
ONE_LINE = r"^\s*[^\s\x00-\x1f\x7f](?:[^\x00-\x1f\x7f]{0,78}[^\s\x00-\x1f\x7f])?\s*$"
NUMBER_DRILL = r"^ *(?:#|[nN][oO]\.? ?#?|[nN][uU][mM][bB][eE][rR] ) ?0{0,2}"  # then its number
NEGATIVE = r"^ *-[ 0.]*[1-9]"
NOTHING = r"^ *[+-]?0*\.?0* *[^0-9. /eE]"
PIPES: literal.Key = "pipes"
BANDS: literal.Key = "input_tolerances"
OF_TABLES: tuple[literal.Key, ...] = (
    "discharge",
    "roughness",
    "altitude_policies",
    "regulators",
    PIPES,
    BANDS,
)
"""Tables whose names the schema knows, unless the file names one of the user's own in their place."""
EITHER: Mapping[type, Sequence[Sequence[str]]] = {
    Orifice: (("drill",), ("diameter",)),
    Ports: (("diameter",), ("width", "length")),
}
"""Keys of a table of which one set stands there, and no other."""
LETTER_DRILL = r"^ *(?:[lL][eE][tT][tT][eE][rR] )?[A-Za-z] *$"
FITTINGS = "fittings"  # a table of the file whose keys are the names
PARTS = ("composition", "blend")  # tables of what a gas is made of
AT = "(?:[aA][tT]|@)"  # before the reference state of a heating value
GAS_OF_LIBRARY = r"\S.*:.*\S"  # LIBRARY:NAME, a library of somebody else
GAS_TABLE = "gas"
OWN_GAS_FILE = r"\.[tT][oO][mM][lL]\s*$"


def project_schema() -> Schema:
    """The schema of a whole project file.

    >>> sorted(project_schema()["required"])
    ['appliance', 'burner', 'supply']
    """
    made: dict[str, Schema] = {kind.name.lower(): _quantity(kind) for kind in _kinds(ProjectFile)}
    made["heat_input"] = _text(quantity_pattern(Kind.POWER, _basis()))
    made["drill"] = _drill()
    made["gas_name"] = {
        "anyOf": [{"enum": list(fuels())}, _text(f"^{_gas_pattern()}$"), _text(GAS_OF_LIBRARY)]
    }
    named = [*(_names_of(table) for table in (*OF_TABLES, FITTINGS)), _gases_of_library()]
    root = _table(ProjectFile, made) | {"allOf": named}
    return {"$schema": DIALECT, "title": TITLE, **root, "$defs": dict(sorted(made.items()))}


def schema_text() -> str:
    """The schema as a file."""
    return json.dumps(project_schema(), indent=1, ensure_ascii=False) + "\n"


def _names_of(table: str) -> Schema:
    """Keys that name a row of a table: ours, unless ``[tables]`` of the file names another."""
    own = {"required": ["tables"], "properties": {"tables": {"required": [table]}}}
    return {"if": {"not": own}, "then": _naming(ProjectFile, table)}


def _naming(cls: type, table: str) -> Schema:
    """The keys of a table of the file, at any depth, that name a row of ``table``; nothing where none does."""
    found: dict[str, Schema] = {}
    for name, one in table_keys(cls).items():
        if one.key.table is not None:
            if inner := _naming(one.key.table, table):
                found[name] = inner | {"items": inner} if one.key.is_list else inner
        elif name == table == FITTINGS:
            found[name] = {"propertyNames": _words(row["name"] for row in tables.rows(FITTINGS))}
        elif one.key.rows_of.partition(".")[0] == table:
            column = one.key.rows_of.partition(".")[2]
            found[name] = _row_of(table, list(dict.fromkeys(row[column] for row in tables.rows(table))))
    return {"properties": found} if found else {}


def _gases_of_library() -> Schema:
    """Keys that name a gas: one of a library or file, unless the file has a gas of its own, which any text may name."""
    known = {"anyOf": [_ref("gas_name"), _text(OWN_GAS_FILE)]}
    return {"if": {"not": {"required": [GAS_TABLE]}}, "then": _naming_gas(ProjectFile, known)}


def _naming_gas(cls: type, known: Schema) -> Schema:
    """The keys of a table of the file, at any depth, that name a gas, each as ``known``; nothing where none does."""
    found: dict[str, Schema] = {}
    for name, one in table_keys(cls).items():
        if one.key.table is not None:
            if inner := _naming_gas(one.key.table, known):
                found[name] = inner | {"items": inner} if one.key.is_list else inner
        elif one.key.kind == "gas":
            found[name] = known
    return {"properties": found} if found else {}


def _row_of(table: str, names: list[str]) -> Schema:
    """A name of a row of a table of ours, as the reader of that table takes it."""
    if table == BANDS:  # a fraction as well
        spelled = _text(rf"^\s*{either(map(escaped, names))}\s*$")
        return {"anyOf": [{"enum": names}, spelled, _text(quantity_pattern(Kind.FRACTION))]}
    if table == PIPES:
        return {"anyOf": [{"enum": names}, _text(rf"^\s*{either(map(_pipe_size, names))}\s*$")]}
    return _words(names)


def _pipe_size(name: str) -> str:
    """A size of pipe as people write it: blanks and capitals do not matter, and ``sch 40`` is ``schedule 40``."""
    schedule = any_case("schedule")
    words = r"\s+".join(map(any_case, name.split()))
    return words.replace(
        rf"{schedule}\s+40", rf"(?:{either((schedule, any_case('sch')))}\s+40|{any_case('sch40')})"
    )


def _kinds(cls: type) -> Iterable[Kind]:
    """Kinds of quantity that keys of a table are, at any depth."""
    names = {kind.value: kind for kind in Kind}
    for one in table_keys(cls).values():
        if one.key.table is not None:
            yield from _kinds(one.key.table)
        elif one.key.kind in names:
            yield names[one.key.kind]
        elif one.key.or_mass_flow:
            yield Kind.MASS_FLOW


def _table(cls: type, made: dict[str, Schema]) -> Schema:
    """A table: its keys and no others; tables within it stand in ``made``."""
    keys = table_keys(cls)
    schema: Schema = {
        "type": "object",
        "properties": {name: _property(name, one, made) for name, one in keys.items()},
        "additionalProperties": False,
    }
    if cls in EITHER:
        schema["oneOf"] = [_alone(one, EITHER[cls]) for one in EITHER[cls]]
    needed = [name for name, one in keys.items() if one.is_needed]
    return schema | {"required": needed} if needed else schema


def _alone(keys: Sequence[str], sets: Sequence[Sequence[str]]) -> Schema:
    """These keys, and none of the other sets."""
    barred = [{"required": [key]} for other in sets for key in other if key not in keys]
    return {"required": list(keys), "not": {"anyOf": barred}}


def _property(name: str, table_key: TableKey, made: dict[str, Schema]) -> Schema:
    """A key with its description."""
    key = table_key.key
    about = f"{key.help}. {key.accepted[:1].upper()}{key.accepted[1:]}." if key.accepted else f"{key.help}."
    schema: Schema = {"description": about}
    if key.table is None:
        schema |= _value(key)
        schema["examples"] = [key.example]
        default = _default(key, table_key.default)
        return schema if default is None else schema | {"default": default}
    of = key.table.__name__
    if of not in made:
        made[of] = {}  # its place, should it hold a table of its own kind
        made[of] = _table(key.table, made)
    table = {"$ref": f"#/$defs/{of}"}
    if not key.is_list:
        return schema | table
    many: Schema = {"type": "array", "items": table, "maxItems": key.most}
    many |= {"minItems": key.least} if key.least else {}
    return schema | ({"anyOf": [table, many]} if key.is_alone else many)


def _default(key: Key, default: Any) -> Any:
    """What holds without the key, where the file could say it so; a quantity is SI inside and has a unit outside."""
    if isinstance(default, Enum):
        return str(default.value)
    if key.written_as in ("number", "switch") and isinstance(default, int | float):
        return default
    if isinstance(default, tuple) and default and all(isinstance(one, str) for one in default):
        return list(default)
    return default if isinstance(default, str) and default else None


def _value(key: Key) -> Schema:
    """What a key that holds no table takes."""
    special: dict[str, Callable[[], Schema]] = {
        "heat input": lambda: _signed(key, _heat_input(key)),
        "drill": lambda: _ref("drill"),
        "gas": lambda: _gas(key),
        "gas table": _gas_table,
        "turndown": _turndown,
        "words": lambda: _single_or_list(_drill_or_series(), 1, key_readers.MOST_DRILLS),
        "percentage or name": lambda: _suggested(key, {"type": "string", "maxLength": LONGEST_VALUE}),
        "name": lambda: _suggested(key, _text(ONE_LINE)),
        FILE_NAME: lambda: {"type": "string", "pattern": r"\S", "maxLength": LONGEST_VALUE},
        "switch": lambda: {"type": "boolean"},
    }
    if key.choices:
        return _words(key.choices)
    if key.kind in special:
        return special[key.kind]()
    if key.written_as == "number":
        return _number(key)
    if key.written_as == "table":
        counts = {"type": "integer", "minimum": 1, "maximum": 200}
        return {"type": "object", "additionalProperties": counts}
    return _quantities(key)


def _quantities(key: Key) -> Schema:
    """One quantity, or several where the key takes a list."""
    kind = next((kind for kind in Kind if kind.value == key.kind), Kind.LENGTH)
    one = _signed(key, _ref(kind.name.lower()))
    if key.or_drill:
        one = {"anyOf": [one, _ref("drill")]}
    if key.or_percent:
        one = {"anyOf": [one, _text(PERCENT)]}
    if key.written_as == "texts":
        return _single_or_list(one, 1, 20)
    return _single_or_list(one, 0, 0) if key.written_as == "text or texts" else one


def _heat_input(key: Key) -> Schema:
    heat = _ref("heat_input")
    return {"anyOf": [heat, _ref(Kind.MASS_FLOW.name.lower())]} if key.or_mass_flow else heat


def _signed(key: Key, schema: Schema) -> Schema:
    """What a quantity may be, without those below zero, and without zero, where its range has none.

    A temperature below zero on its own scale is above the zero of its range, which is absolute.
    """
    row = input_row(key.source) if key.source else None
    if row is None or row.low < 0.0 or row.kind is Kind.TEMPERATURE:
        return schema
    barred = [NEGATIVE, *([NOTHING] if row.is_above or row.low > 0.0 else [])]
    return schema | {"not": {"anyOf": [_text(one) for one in barred]}}


def _single_or_list(single: Schema, least: int, most: int) -> Schema:
    many: Schema = {"type": "array", "items": single}
    many |= ({"minItems": least} if least else {}) | ({"maxItems": most} if most else {})
    return {"anyOf": [single, many]}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


def _text(pattern: str) -> Schema:
    return {"type": "string", "pattern": pattern}


def _quantity(kind: Kind) -> Schema:
    return {"title": kind.value, "maxLength": LONGEST_VALUE, **_text(quantity_pattern(kind))}


def _number(key: Key) -> Schema:
    """A bare number in its range; a whole one may be written 2.0."""
    row = input_row(key.source)
    schema: Schema = {"type": "integer" if row.kind == "COUNT" else "number"}
    if row.low != float("-inf"):
        schema["exclusiveMinimum" if row.is_above else "minimum"] = row.low
    return schema | {"maximum": row.high} if row.high != float("inf") else schema


def _words(choices: Iterable[str]) -> Schema:
    """One of a few words: listed for completion, and in capitals as the reader takes them too."""
    words = list(choices)
    return {"anyOf": [{"enum": words}, _text(rf"^\s*{either(map(any_case, words))}\s*$")]}


def _suggested(key: Key, free: Schema) -> Schema:
    """A text, with the names of the shipped table to complete from: one of the user's own may hold others."""
    table, _, column = key.rows_of.partition(".")
    names = list(dict.fromkeys(row[column] for row in tables.rows(table))) if table else []
    return {"anyOf": [{"enum": names}, free]} if names else free


def _basis() -> str:
    """The words that say gross or net after a heat input, with or without accents."""
    words = [word for row in tables.rows("basis_words") if row["basis"] for word in row["words"].split("|")]
    bare = [unicodedata.normalize("NFD", word).encode("ascii", "ignore").decode("ascii") for word in words]
    return rf"(?: *\(?{either(map(any_case, [*words, *bare]))}\)?)?"


def _turndown() -> Schema:
    return {"anyOf": [_text(RATIO), _text(PERCENT), _ref("heat_input")]}


def _drill_names(kind: str = "") -> list[str]:
    return [row["size"] for row in tables.rows("drills") if kind in ("", row["kind"])]


def _drill() -> Schema:
    numbers = either(name.strip("#") for name in _drill_names("number"))
    spelled = [
        _text(f"{NUMBER_DRILL}{numbers} *$"),
        _text(LETTER_DRILL),
        _text(quantity_pattern(Kind.DIAMETER)),
    ]
    return {"title": "drill", "anyOf": [{"enum": _drill_names()}, *spelled]}


def _drill_or_series() -> Schema:
    return {"anyOf": [*_words(SERIES)["anyOf"], _ref("drill")]}


def _gas_pattern() -> str:
    """Names of the library as people write them: capitals, blanks and hyphens do not matter."""
    names = (re.sub(r"[\s_-]", "", name) for name in fuels())
    fill = r"[\s_-]*"
    return rf"\s*{either(fill.join(map(any_case, name)) for name in names)}\s*"


def _gas(_: Key) -> Schema:
    """A text, of which the gases of the library are proposed."""
    return {"anyOf": [_ref("gas_name"), {"type": "string"}]}


def _gas_table() -> Schema:
    """A gas of the user's own, in one of its three forms."""
    is_composed = {"not": {"anyOf": [{"required": [key]} for key in NEEDS_VALUE]}}
    forms: list[Schema] = [
        {
            "required": [form],
            **is_composed,
            "anyOf": [{"required": ["per"]}, {"properties": {form: {"required": ["per"]}}}],
        }
        for form in PARTS
    ]
    state = {"gross_heating_value": {"pattern": f"(?: {AT} ?)"}}
    declared: Schema = {
        "required": ["gross_heating_value", "relative_density"],
        "not": {"anyOf": [{"required": [key]} for key in NEEDS_PARTS]},
        "anyOf": [{"required": ["reference"]}, {"properties": state}],
    }
    properties = {name: _gas_key(name, key) for name, key in GAS_KEYS.items()}
    return {
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
        "oneOf": [*forms, declared],
        "dependentRequired": {key: ["reference"] for key in ("reference_pressure", "saturated")},
    }


def _gas_key(name: str, key: Key) -> Schema:
    needed = f" Needed {WHEN_NEEDED[name]}." if name in WHEN_NEEDED else ""
    accepted = f" {key.accepted[:1].upper()}{key.accepted[1:]}." if key.accepted else ""
    about = {"description": f"{key.help}.{accepted}{needed}", "examples": [key.example]}
    return about | _gas_value(name, key)


def _gas_value(name: str, key: Key) -> Schema:
    """What a key of a gas takes."""
    if key.kind == HEATING_VALUE:
        kind, basis = Kind.HEATING_VALUE_VOLUME, _basis()
        at_state = quantity_pattern(kind, f"{basis} +{AT} *\\S.*", counted_at_reference=True)
        return {"anyOf": [_text(quantity_pattern(kind, basis)), _text(at_state)]}
    special: dict[str, Schema] = {
        "per": _text(_per_pattern()),
        "reference": _text(_state_pattern()),
        "reference_pressure": _text(quantity_pattern(Kind.ABSOLUTE_PRESSURE)),
        "relative_density": {
            "type": "number",
            "exclusiveMinimum": DENSITIES[0],
            "exclusiveMaximum": DENSITIES[1],
        },
        "uncertainty": _fractions({"minimum": 0, "exclusiveMaximum": 1}),
        "printed": {"type": "object", "additionalProperties": {"type": ["number", "string"]}},
        **dict.fromkeys(
            PARTS, _fractions({"minimum": 0}) | {"patternProperties": {"^per$": _text(_per_pattern())}}
        ),
    }
    if name in special:
        return special[name]
    return {"type": "boolean"} if key.written_as == "switch" else _closed(key)


def _closed(key: Key) -> Schema:
    """A text, or one of a few words taken as they stand."""
    return {"type": "string", "enum": list(key.choices)} if key.choices else {"type": "string"}


def _fractions(limits: Schema) -> Schema:
    return {"type": "object", "minProperties": 1, "additionalProperties": {"type": "number", **limits}}


def _per_pattern() -> str:
    """What fractions may be of, as it is read: capitals and the sign between two words do not matter."""
    fill = "[\\s_.%-]"
    words = either(f"{fill}+".join(map(any_case, word.split())) for word in PER_WORDS)
    of = either(map(any_case, ("fraction", "percent")))
    return f"^{fill}*{words}(?:{fill}+{of})?{fill}*$"


def _state_pattern() -> str:
    """A named reference state, or one or two temperatures, with what may follow them."""
    names = either(any_case(name).replace("_", "[_-]") for name in presets())
    unit = either((*map(escaped, ("celsius", "fahrenheit", "kelvin")), "[CFKcfk]"))
    one = f"[-+]?[0-9]+(?:\\.[0-9]*)? ?(?:(?:°|deg) ?)?{unit}?(?![A-Za-z])"
    return f"^\\s*(?:{names}|{one}(?: ?/ ?{one})?(?:,? .*)?)\\s*$"
