"""One reader of tables, ours and the user's: what each must hold, checked before a figure is used."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache, lru_cache, wraps
from pathlib import Path
from typing import Literal, ParamSpec, TypeVar

from burnerlab.tables.csv_file import Row, meant, read_csv, separator_of, text_of
from burnerlab.tables.folders import data_dir
from burnerlab.tables.phrase import has_words, places
from burnerlab.tables.problem import Problem, UserError

# What a table that a user may replace holds: which columns name a row, which hold numbers, which names are
# known.

FIGURE = ("value", "low", "high")
Own = Literal["stand in", "replace"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """The declaration of one replaceable table.

    Columns of the shipped table that are neither named in ``spare`` nor say where a row is from are needed in a
    user's; no other column is taken.
    """

    key: tuple[str, ...]  # columns that name a row together
    columns: tuple[
        str, ...
    ] = ()  # of a table that is the user's alone; without them those of the shipped one
    numbers: tuple[str, ...] = ()
    positive: tuple[str, ...] = ()  # of the numbers, those above zero
    unsigned: tuple[str, ...] = ()  # of the numbers, those of zero or more
    empty: tuple[str, ...] = ()  # columns whose cells may be empty
    spare: tuple[str, ...] = ()  # columns that may be left out
    former: tuple[str, ...] = ()  # columns of earlier versions: taken, and not used
    former_rows: Mapping[str, str] = field(default_factory=dict)
    """Names of rows of earlier versions: the present name of what took their place, or "" for a row without use."""
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Columns whose words are those of "table.column", after a word before it if any, or are the word itself."""
    complete: str = ""  # column of the key whose every shipped word each group of own rows must have
    later: tuple[str, ...] = ()  # of those words, the ones that tables made for 0.1.0 lack
    own: Own = "replace"  # own rows stand in for ours of the same key, or replace the whole table
    synonyms: tuple[tuple[str, ...], ...] = ()  # other words for a column, in any case
    has_sizes: bool = False  # a line may begin with a size such as #54
    has_others: bool = False  # columns of other words are left alone, unless one is nearly that of a column
    is_prose: bool = False  # texts alone: semicolons may stand between the cells
    measures: tuple[str, ...] = ()
    """Columns of numbers, with units or without, that may have a decimal comma where semicolons part the cells."""
    rule: Callable[[Row], Iterator[Problem]] | None = None  # what else is wrong with a row


def _figures(table: str, *more: str, **rest: object) -> Contents:
    """A table of figures by name, each with its range; own rows stand in for ours."""
    names = {"name": (f"{table}.name", *more)}
    return Contents(key=("name",), numbers=FIGURE, names=names, own="stand in", **rest)  # type: ignore[arg-type]


def _words(table: str, *columns: str) -> dict[str, tuple[str, ...]]:
    return {column: (f"{table}.{column}",) for column in columns}


COMMA, POINT = re.compile(r"(?<=\d),(?=\d)"), re.compile(r"\d\.\d")
LANGUAGE_TAG = re.compile(r"[a-z]{2,3}(-[A-Z]{2})?")
OF_CAUTIONS = {
    "cautions": ("hazard", "consequence", "avoidance", "line"),
    "stops": ("heading", "do_first", "then"),
}
"""Columns of the tables whose words keep people from harm: each row is translated whole, or stays English."""


def _translated(row: Row) -> Iterator[Problem]:
    """What is wrong with a translation: its places, no word in it, nobody who answers for it."""
    made = row.get("translation", "")
    if not LANGUAGE_TAG.fullmatch(row["language"]):
        yield row.problem("language", "is no language tag", accepted="es, de, pt-BR")
    if not made:
        return
    needed, own = (sorted(set(places(text))) for text in (row["english"], made))
    if needed != own or made.count("{") != len(places(made)) or made.count("}") != len(places(made)):
        accepted = ", ".join(f"{{{place}}}" for place in needed) or "none"
        yield row.problem("translation", "has other places than the English text", accepted=accepted)
    if not (has_words(made) or needed):
        yield row.problem("translation", "says nothing", fix="leave the cell empty")
    if not row["translator"]:
        what = "is empty: a paper names who answers for its words"
        yield row.problem("translator", what, fix="write name and qualification")


COMPONENT = "gas_components.name"
OPTION_OF: Mapping[str, str] = {
    "causes": "causes",
    "cylinder_heat": "heat_table",
    "flue_limits": "limits",
    "instrument_uncertainty": "instruments",
    "interchange": "constants",
    "layout_coefficients": "coefficients",
    "release_limits": "release_limits",
    "tile_properties": "properties",
    "touch_limits": "limits",
}
"""Options of commands that take a table of the user's own, by the table."""

CONTENTS: Mapping[str, Contents] = {
    # [tables] of a project file
    "drill_tolerance": Contents(
        key=("up_to_mm",), numbers=("up_to_mm", "oversize_mm", "undersize_mm"), positive=("up_to_mm",),
        unsigned=("oversize_mm", "undersize_mm"),
    ),
    "discharge": Contents(
        key=("shape",),
        numbers=(
            "coefficient", "low", "high", "l_over_d_low", "l_over_d_high", "reynolds_low", "reynolds_high"
        ),
        positive=("coefficient", "low", "high"),
        empty=("l_over_d_low", "l_over_d_high", "reynolds_low", "reynolds_high", "correlation"),
        names=_words("discharge", "correlation"),
    ),
    "altitude_policies": Contents(
        key=("policy", "from_ft"),
        numbers=("from_ft", "to_ft", "counted_from_ft", "per_1000ft", "step"),
        empty=("from_ft", "to_ft", "beyond"),
        spare=("region",),
        names=_words("altitude_policies", "region"),
    ),
    "input_tolerances": Contents(
        key=("name",),
        numbers=("low_percent", "high_percent"),
        spare=("default_for",),
        names=_words("input_tolerances", "default_for"),
    ),
    "supply_pressures": Contents(
        key=("region", "category", "family", "reference_gas", "nominal_from", "unit", "couple"),
        numbers=("nominal_from", "nominal_to", "low", "high"),
        positive=("nominal_from", "nominal_to", "low", "high"),
        empty=("low", "high", "couple"),
        names=_words("supply_pressures", "unit"),
    ),
    "supply_limits": _figures("supply_limits"),
    "regulators": Contents(
        key=("regulator", "quantity"),
        numbers=FIGURE,
        names=_words("regulators", "quantity"),
        complete="quantity",
        later=("inlet effect",),
    ),
    "pipes": Contents(key=("name",), numbers=("bore_mm",), positive=("bore_mm",)),
    "fittings": Contents(key=("name",), numbers=FIGURE),
    "meter_dials": Contents(
        key=("region",), numbers=FIGURE, positive=FIGURE, empty=("region",), names=_words("meter_dials", "region")
    ),
    "roughness": Contents(key=("material",), numbers=("value_m", "low_m", "high_m")),
    "burner_coefficients": _figures(
        "burner_coefficients",
        positive=FIGURE,
        empty=("low", "high"),
        former_rows={
            "rich lift spread": "lift scale", "Reed exponent": "", "Reed gas fraction": "", "rich lift exponent": "",
            "deep port": "", "development length": "",
        },
    ),
    "burner_materials": _figures("burner_materials", positive=FIGURE),
    "port_design": _figures("port_design", positive=FIGURE),
    "lift_fuel_factor": _figures("lift_fuel_factor", positive=FIGURE),
    "port_limits": Contents(
        key=("name", "group"),
        numbers=("low", "high", "near_low", "near_high"),
        empty=("low", "high", "near_low", "near_high"),
        former=("trust",),
        names={"name": ("port_limits.name",), "group": ("port_limits.group", "other gas")},
        own="stand in",
    ),
    "stability_points": Contents(
        key=("burner", "gas", "rate_percent", "opening_percent", "aeration_percent", "flame"),
        columns=(
            "burner", "gas", "rate_percent", "opening_percent", "aeration_percent", "flame", "source", "note"
        ),
        numbers=("rate_percent", "opening_percent", "aeration_percent"),
        positive=("rate_percent", "opening_percent", "aeration_percent"),
        empty=("gas", "opening_percent", "aeration_percent"),
        names={"flame": ("sits", "lifts", "lights back", "yellow tips")},
    ),
    "stock": Contents(
        key=("part",),
        columns=(
            "part", "size", "bore_mm", "minus_mm", "plus_mm", "thread", "price", "mass_g", "mass_scatter_g", "source",
            "note"
        ),
        numbers=("bore_mm", "minus_mm", "plus_mm", "price", "mass_g", "mass_scatter_g"),
        measures=("size", "bore_mm", "minus_mm", "plus_mm", "price", "mass_g", "mass_scatter_g"),
        positive=("bore_mm", "mass_g"),
        unsigned=("minus_mm", "plus_mm", "price", "mass_scatter_g"),
        empty=("size", "bore_mm", "minus_mm", "plus_mm", "price", "mass_g", "mass_scatter_g"),
        spare=("size", "bore_mm", "minus_mm", "plus_mm", "thread", "price", "mass_g", "mass_scatter_g"),
        synonyms=(
            (
                "part", "part number", "part no", "part no.", "number", "article", "item", "code", "artikelnummer",
                "artikel-nr.", "teilenummer", "teil", "teil-nr.", "référence", "codice",
                "codice articolo", "referencia", "código"
            ),
            (
                "size", "mark", "drill", "bore", "diameter", "orifice", "injector", "bohrung", "durchmesser", "düse",
                "größe", "perçage", "diamètre", "injecteur", "taille", "foro", "diametro", "ugello", "misura",
                "taladro", "diámetro", "inyector", "tamaño"
            ),
            (
                "bore_mm", "size_mm", "diameter_mm", "bore [mm]", "size [mm]", "diameter [mm]", "bohrung [mm]",
                "durchmesser [mm]", "größe [mm]", "perçage [mm]", "diamètre [mm]", "foro [mm]", "diametro [mm]",
                "diámetro [mm]"
            ),
            ("minus_mm", "minus", "minus [mm]", "undersize_mm", "moins", "meno", "menos"),
            ("plus_mm", "plus", "plus [mm]", "oversize_mm", "più", "más"),
            ("thread", "gewinde", "filetage", "filettatura", "rosca"),
            ("price", "cost", "unit price", "price each", "preis", "stückpreis", "prix", "prezzo", "precio"),
            (
                "mass_g", "mass", "mass [g]", "weight", "weight_g", "weight [g]", "gewicht", "gewicht [g]", "masse",
                "masse [g]", "poids", "poids [g]", "peso", "peso [g]"
            ),
            ("mass_scatter_g", "mass scatter", "mass scatter [g]", "weight scatter", "mass standard deviation [g]"),
        ),
        has_sizes=True,
        has_others=True,
    ),
    "texts": Contents(
        key=("language", "english"),
        columns=("language", "english", "in_europe", "where", "example", "translation", "translator", "source"),
        empty=("in_europe", "example", "translation", "translator"),
        spare=("in_europe", "where", "example", "translator"),
        is_prose=True,
        rule=_translated,
    ),
    "tile_properties": _figures("tile_properties", f"ignition {COMPONENT}", f"offset {COMPONENT}"),
    "friction_formulas": Contents(
        key=("formula", "name"),
        numbers=("value",),
        spare=("low", "high"),
        names=_words("friction_formulas", "formula", "name"),
        own="stand in",
    ),
    "interchange": Contents(
        key=("method", "symbol", "item"),
        numbers=("value",),
        empty=("item",),
        names={**_words("interchange", "method", "symbol"), "item": ("interchange.item", COMPONENT)},
        own="stand in",
    ),
    # options of commands, and arguments of functions
    "bench_limits": Contents(
        key=("name",),
        numbers=("low", "high"),
        names=_words("bench_limits", "name"),
        empty=("what",),
        own="stand in",
    ),
    "release_limits": _figures(
        "release_limits", positive=FIGURE, empty=("low", "high"), spare=("low", "high")
    ),
    "causes": Contents(
        key=("cause",),
        numbers=("prior", "low", "high"),
        unsigned=("prior",),
        empty=("low", "high", "method", "needs"),
        spare=("group", "danger"),
        names={**_words("causes", "method", "group"), "danger": ("yes",)},
    ),
    "control_chart": Contents(
        key=("name",),
        numbers=("value",),
        spare=("words",),
        names=_words("control_chart", "name"),
        own="stand in",
    ),
    "cylinder_heat": _figures("cylinder_heat"),
    "cylinders": Contents(
        key=("name",),
        numbers=("water_capacity_L", "diameter_mm", "tare_kg", "nominal_kg"),
        positive=("water_capacity_L", "diameter_mm", "tare_kg"),
        spare=("nominal_kg",),
    ),
    "decision_rules": Contents(key=("name",), numbers=("guard",), unsigned=("guard",)),
    "drift_rules": Contents(
        key=("name",), numbers=("count", "window", "sigma"), names=_words("drift_rules", "kind")
    ),
    "flue_limits": Contents(
        key=("name",),
        numbers=("air_free_CO_ppm",),
        positive=("air_free_CO_ppm",),
        spare=("kind", "cooking"),
        names={"cooking": ("yes", "no")},
    ),
    "conversion_figures": _figures("conversion_figures"),
    "inputs": Contents(
        key=("name",),
        empty=("low", "high", "above", "label", "metric", "US", "record"),
        spare=("kind", "above", "example", "words", "label", "metric", "US", "record"),
        former=("note",),
        names=_words("inputs", "name"),
        own="stand in",
    ),
    "instrument_uncertainty": Contents(
        key=("name",),
        numbers=("half_width",),
        unsigned=("half_width",),
        names={**_words("instrument_uncertainty", "name"), "shape": ("normal", "uniform", "triangular")},
        empty=("words",),
        own="stand in",
    ),
    "kit_limits": Contents(
        key=("name",),
        numbers=("value",),
        spare=("words",),
        names=_words("kit_limits", "name"),
        own="stand in",
    ),
    "carryover": _figures("carryover"),
    "layout_coefficients": _figures("layout_coefficients"),
    "next_measurements": Contents(
        key=("measurement",),
        numbers=("standard_uncertainty", "minutes"),
        unsigned=("standard_uncertainty", "minutes"),
        empty=("needs",),
        spare=("gas", "hazard", "stop"),
        names=_words("next_measurements", "measurement", "gas", "hazard", "stop"),
    ),
    "tile_flame": Contents(
        key=("fuel", "equivalence_ratio", "mass_flux_kg_per_m2s"),
        numbers=("equivalence_ratio", "mass_flux_kg_per_m2s", "burned_gas_K", "solved_gas_K"),
        positive=("equivalence_ratio", "mass_flux_kg_per_m2s", "burned_gas_K"),
        spare=("solved_gas_K",),
        names=_words("tile_flame", "fuel"),
    ),
    "touch_limits": Contents(
        key=("name", "material", "contact", "kind"),
        numbers=("temperature_C", "temperature_high_C", "rise_K"),
        empty=("contact", "temperature_C", "temperature_high_C", "rise_K"),
    ),
    "wobbe_ranges": Contents(
        key=("family", "group"),
        numbers=("low_MJ_per_m3", "high_MJ_per_m3"),
        positive=("low_MJ_per_m3", "high_MJ_per_m3"),
        empty=("group",),
    ),
}  # fmt: skip
"""Every table of which a user may give his own, by name."""


# One reader of tables: the shipped ones, and a user's own of the same columns, checked before a figure is
# used.

P = ParamSpec("P")
R = TypeVar("R")

PROVENANCES = ("seen", "computed", "memory", "common practice", "measured here", "definition")
"""How a figure came here: read in a public copy; calculated with the library named; recalled from the named
publication and not seen; a habit of the trade without a source; measured by the user; exact by definition."""

ORIGIN = ("source", "place", "provenance", "note", "unit")
"""Columns a user may leave out of any table: the source is then the file, the unit that of the shipped row."""
ENTERED = "entered"  # provenance of a user's figure that says none
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
MOST_KEPT = 64  # own tables remembered
NAMES_SHOWN = 12
ALIKE = 0.8  # of the letters of a head and of another name of a column, to be a slip of it


def cache_by_file(function: Callable[P, R]) -> Callable[P, R]:
    """Remember results by the arguments and the state of every file among them: a changed file is read anew."""

    @lru_cache(maxsize=MOST_KEPT)
    def kept(_: tuple[object, ...], args: tuple[object, ...], named: tuple[tuple[str, object], ...]) -> R:
        return function(*args, **dict(named))  # type: ignore[arg-type]

    shipped = lru_cache(maxsize=MOST_KEPT)(function)  # without a file among its arguments

    @wraps(function)
    def call(*args: P.args, **named: P.kwargs) -> R:
        states: tuple[object, ...] = ()
        for value in (*args, *named.values()) if named else args:
            if isinstance(value, Path):
                states = (*states, file_state(value))
        if not states and not named:
            return shipped(*args)
        return kept(states, args, tuple(named.items()) if named else ())

    return call


def file_state(path: Path) -> tuple[int, int, int]:
    """When a file was written [ns], its size [bytes], its place on the disk. Raises UserError without such a file."""
    try:
        state = path.stat()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", "") or "not a file name"
        raise UserError(Problem(f"cannot be read: {why}", file=str(path))) from None
    return state.st_mtime_ns, state.st_size, state.st_ino


@cache
def rows(name: str) -> tuple[Row, ...]:
    """All rows of the shipped table ``name``, in file order."""
    return read_csv(data_dir() / f"{name}.csv")


def names() -> tuple[str, ...]:
    """Names of all shipped tables."""
    return tuple(sorted(path.stem for path in data_dir().glob("*.csv")))


@cache_by_file
def read(name: str, own: Path | None = None) -> tuple[Row, ...]:
    """Rows of a table; those of a user's CSV of the same columns replace it, or stand in for ours of the same key.

    name : of the shipped table; own : the user's file
    Raises UserError with every problem of the file: its line, column, value, what is accepted, the nearest spelling.

    >>> read("tile_properties")[0]["name"]
    'emissivity'
    """
    if own is None:
        return () if name in CONTENTS and CONTENTS[name].columns else rows(name)
    if not own.is_file():
        raise UserError(Problem("is not a regular file", file=str(own)))
    contents = CONTENTS[name]
    as_written = own_rows(name, own)
    if contents.measures and separator_of(text_of(own)) == ";":
        as_written = tuple(_with_points(contents, as_written))
    user_rows = _checked(name, contents, as_written, own.name)
    if contents.own == "replace":
        return user_rows
    found = {_key(contents, row): row for row in rows(name)}
    return tuple((found | {_key(contents, row): row for row in user_rows}).values())


def own_rows(name: str, own: Path) -> tuple[Row, ...]:
    """Rows of a user's table as they are written."""
    contents = CONTENTS[name]
    may_have_semicolons = contents.is_prose or bool(contents.measures)
    return read_csv(own, has_sizes=contents.has_sizes, has_semicolons=may_have_semicolons)


def _with_points(contents: Contents, raw: tuple[Row, ...]) -> Iterator[Row]:
    """Rows of a file whose cells semicolons part, the commas in its numbers as the decimal points they stand for.

    Such a file is what a spreadsheet writes where the comma is the decimal mark. Raises UserError where numbers have
    points too: then neither is known to be the mark.
    """
    ours = [_by_our_words(contents, row) for row in raw]
    cells = [(row, column) for row in ours for column in contents.measures if column in row]
    with_points = [(row, column) for row, column in cells if POINT.search(row[column])]
    if with_points and any(COMMA.search(row[column]) for row, column in cells):
        row, column = with_points[0]
        what, fix = (
            "has a point where other numbers of the file have a comma",
            "write all of them with a point",
        )
        raise UserError(row.problem(column, what, fix=fix))
    for row in ours:
        found = {c: COMMA.sub(".", text) if c in contents.measures else text for c, text in row.items()}
        yield Row(found, row.file, row.line, row.head)


def check(name: str, own: Path) -> None:
    """Raise UserError with every problem of a user's own table."""
    read(name, own)


def _key(contents: Contents, row: Row) -> tuple[str, ...]:
    return tuple(row[column] for column in contents.key)


def _checked(name: str, contents: Contents, raw: tuple[Row, ...], file: str) -> tuple[Row, ...]:
    """The user's rows with every column of ours, or UserError with all that is wrong: the head first, then cells.

    A head without rows is a table without rows.
    """
    ours = list(contents.columns or rows(name)[0])
    raw = tuple(_present(contents, raw))
    if not raw:
        return ()
    problems = list(_head(contents, ours, raw[0]))
    if problems:
        raise UserError(problems)
    shipped = {} if contents.columns else {_key(contents, row): row for row in rows(name)}
    user_rows = tuple(_whole(row, ours, contents.spare, shipped.get(_key(contents, row))) for row in raw)
    problems = [problem for row in user_rows for problem in _cells(name, contents, row, shipped)]
    problems += [*_twice(contents, user_rows), *_incomplete(name, contents, user_rows)]
    if problems:
        raise UserError(sorted(problems, key=lambda problem: problem.line))
    return user_rows


def _present(contents: Contents, raw: tuple[Row, ...]) -> Iterator[Row]:
    """Rows by their present names; one that an earlier version had and this one has no use for is left out."""
    column = contents.key[-1]
    for row in (_by_our_words(contents, row) for row in raw):
        name = contents.former_rows.get(row.get(column, ""), row.get(column, ""))
        if column not in row or name == row[column]:
            yield row
        elif name:
            yield Row({**row, column: name}, row.file, row.line, row.head)


def _by_our_words(contents: Contents, row: Row) -> Row:
    """The row under the names of our columns; other columns are left out where the table may have them."""
    if not contents.synonyms:
        return row
    ours = {column: column for column in contents.columns}
    ours |= {word: column for column, *words in contents.synonyms for word in words}
    known = {_bare_head(word): column for word, column in ours.items()}
    named = {column: known.get(_bare_head(column), column) for column in row}
    cells: dict[str, str] = {}
    for column, text in row.items():
        is_ours = named[column] in contents.columns
        if is_ours or not contents.has_others or _is_slip(column, contents, sorted(ours)):
            cells[column if named[column] in cells else named[column]] = text
    return Row(cells, row.file, row.line, row.head)


def _is_slip(column: str, contents: Contents, words: list[str]) -> bool:
    """Whether a further column is one of ours, or a usual other name of it, with a slip in its letters.

    words : our columns and their other names, which in several languages are near to many a word
    """
    return bool(meant(column, sorted(contents.columns)) or meant(column, words, ALIKE))


def _bare_head(text: str) -> str:
    """A head of a column without case, brackets and signs between its words.

    >>> {_bare_head(text) for text in ("Bore [mm]", "bore_mm", "Bore (mm)", "bore mm")}
    {'bore mm'}
    """
    return " ".join(re.sub(r"[\W_]+", " ", text).lower().split())


def _head(contents: Contents, ours: list[str], first: Row) -> Iterator[Problem]:
    needed = [column for column in ours if column not in (*ORIGIN, *contents.spare)]
    needed += [column for column in contents.key if column not in needed]
    accepted = ", ".join(ours)
    extra = [column for column in first if column not in (*ours, *contents.former)]
    lacking = [column for column in needed if column not in first]
    for column in extra:
        fix = meant(column, [one for one in ours if one not in first]) or "leave it out"
        yield Problem(
            "is not a column of this table",
            value=column,
            file=first.file,
            line=first.head,
            accepted=accepted,
            fix=fix,
        )
    for column in lacking:
        yield Problem(
            "the table lacks a column",
            value=column,
            file=first.file,
            line=first.head,
            accepted=accepted,
            fix="add the column",
        )


def _whole(row: Row, ours: list[str], spare: tuple[str, ...], shipped: Row | None) -> Row:
    """A user's row with every column of ours; what it leaves out is as in the shipped row of its name."""
    cells = {column: row.get(column, "").strip() for column in ours}
    if "source" in cells:
        cells["source"] = cells["source"] or row.file
    if "provenance" in cells:
        cells["provenance"] = cells["provenance"] or ENTERED
    if "unit" in cells and shipped is not None:
        cells["unit"] = cells["unit"] or shipped["unit"]
    for column in spare:
        if column not in row and shipped is not None:
            cells[column] = shipped[column]
    return Row(cells, row.file, row.line, row.head)


def _cells(
    name: str, contents: Contents, row: Row, shipped: Mapping[tuple[str, ...], Row]
) -> Iterator[Problem]:
    for column, text in row.items():
        if not text:
            if column not in (*contents.empty, *contents.spare, *ORIGIN) and (
                column in contents.numbers or column in contents.key
            ):
                yield row.problem(
                    column, "is empty", accepted="a number" if column in contents.numbers else "a name"
                )
        elif column in contents.numbers:
            yield from _number(contents, row, column)
        if column in contents.names and text and text not in (known := _known(contents.names[column])):
            shown = ", ".join(known[:NAMES_SHOWN]) + (" ..." if len(known) > NAMES_SHOWN else "")
            yield row.problem(
                column, "is not a name of this table", accepted=shown, fix=meant(text, list(known))
            )
    same = shipped.get(_key(contents, row))
    if contents.own == "stand in" and same is not None and row.get("unit", "") != same.get("unit", ""):
        yield row.problem("unit", "is another unit than that of the shipped row", accepted=same["unit"])
    if (text := row.get("provenance", "")) not in (*PROVENANCES, ENTERED) and get_close_matches(
        text, PROVENANCES, 1, 0.8
    ):
        yield row.problem(
            "provenance", "is misspelt", accepted=", ".join(PROVENANCES), fix=meant(text, [*PROVENANCES])
        )
    yield from _order(contents, row)
    if contents.rule is not None:
        yield from contents.rule(row)


def _number(contents: Contents, row: Row, column: str) -> Iterator[Problem]:
    text = row[column]
    if not NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        fix = f"write {text.replace(',', '.')}" if DECIMAL_COMMA.fullmatch(text) else ""
        yield row.problem(column, "is not a number", accepted="a plain number with a point", fix=fix)
    elif column in contents.positive and float(text) <= 0.0:
        yield row.problem(column, "must be above 0")
    elif column in contents.unsigned and float(text) < 0.0:
        yield row.problem(column, "must be 0 or more")


def _order(contents: Contents, row: Row) -> Iterator[Problem]:
    """low <= value <= high, where the table has all three and they are numbers."""
    if not set(FIGURE) <= set(contents.numbers) or not NUMBER.fullmatch(row["value"]):
        return
    low, high = row["low"] or row["value"], row["high"] or row["value"]
    if not (NUMBER.fullmatch(low) and NUMBER.fullmatch(high)):
        return
    if not float(low) <= float(row["value"]) <= float(high):
        what = f"low, value and high are out of order: {low}, {row['value']}, {high}"
        yield row.problem("value", what, accepted="low <= value <= high")


@cache
def _known(places: tuple[str, ...]) -> tuple[str, ...]:
    """Every word that a declaration accepts: of "table.column", with the words before it, or the word itself."""
    found: list[str] = []
    for place in places:
        before, _, last = place.rpartition(" ")
        table, dot, column = last.partition(".")
        if dot:
            found += [f"{before} {row[column]}".strip() for row in rows(table)]
        else:
            found.append(place)
    return tuple(dict.fromkeys(word for word in found if word))


def _twice(contents: Contents, user_rows: tuple[Row, ...]) -> Iterator[Problem]:
    first: dict[tuple[str, ...], int] = {}
    for row in user_rows:
        key = _key(contents, row)
        if key in first:
            words = ", ".join(filter(None, key))
            what = f"is given twice, first on line {first[key]}"
            yield Problem(
                what, value=words, key=contents.key[0], file=row.file, line=row.line, fix="keep one"
            )
        first.setdefault(key, row.line)


def _incomplete(name: str, contents: Contents, user_rows: tuple[Row, ...]) -> Iterator[Problem]:
    """Groups of rows that lack one of the words each of them needs."""
    column = contents.complete
    if not column:
        return
    every = [word for word in _known((f"{name}.{column}",)) if word not in contents.later]
    groups: dict[tuple[str, ...], list[Row]] = {}
    for row in user_rows:
        groups.setdefault(tuple(row[other] for other in contents.key if other != column), []).append(row)
    for group, members in groups.items():
        have = Counter(row[column] for row in members)
        for word in every:
            if not have[word]:
                last, words = members[-1], ", ".join(group)
                what = f"has no row {word}"
                yield Problem(what, value=words, file=last.file, line=last.line, accepted=", ".join(every))
