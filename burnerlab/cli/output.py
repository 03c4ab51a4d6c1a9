"""What every command prints: STOP and cautions first, then text or JSON, then notes."""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.column_layout import SCREEN, laid_out, screen_width
from burnerlab.cli.plain_characters import escaped, holds_everything
from burnerlab.cli.repetition import SingleOption
from burnerlab.cli.user_settings import read_units, user_settings
from burnerlab.cli.verbosity import notes_to_print, print_hint, verbosity_options
from burnerlab.quantity import Kind, System, check_low_pressure, check_orifice_diameter, is_low_pressure
from burnerlab.quantity.outputs import columns, document, json_text
from burnerlab.quantity.prose import column_in, in_print, in_reader_units
from burnerlab.quantity.quantity_text import has_bare_figures, quoted
from burnerlab.quantity.reference_state import STANDARD_PRESSURE_PA
from burnerlab.quantity.show import display_unit, grouped, in_unit, show
from burnerlab.tables.cautions import HIGH_PRESSURE, SPECIAL_GAS, Caution, cautions, closing_cautions
from burnerlab.tables.citation import sources_behind
from burnerlab.tables.figure import sources
from burnerlab.tables.handbook_link import look_up_line
from burnerlab.tables.problem import UserError
from burnerlab.tables.reader import ENTERED
from burnerlab.tables.region import in_terms_of

if TYPE_CHECKING:
    from burnerlab.bench.record import OpenStop
    from burnerlab.bench.record.stop_display import StopDisplay
    from burnerlab.bench.stop import StopNotice
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.report.paper_units import PaperUnits
    from burnerlab.tables.libraries import LibraryTable

# How a command prints: one JSON object, or plain aligned text.

WIDTH = SCREEN  # columns of running text
NO_BREAK = "\N{NO-BREAK SPACE}"
IN_A_FIGURE = re.compile(r"(?<=\d) (?=\d{3}(?!\d)|[^\W\d]|[°%])")


def print_json(result: Any, **more: Any) -> None:
    """The running command's answer as one JSON document, the cautions with it.

    result : figures by key, or a result that declares its outputs; more : keys that it does not hold
    """
    meta = click.get_current_context().meta
    if meta.get(LIBRARY_TABLES):
        more["tables_of_libraries"] = [_library_table_row(one) for one in meta[LIBRARY_TABLES].values()]
    if not meta.get(CITE):
        _print_document(json_text(_command(), result, **more))
        return
    answer = document(_command(), result, **more)
    behind = citation(answer)
    if meta.get(JSON):
        _print_document(json_text(_command(), result, **more, cite=behind))
    else:
        _print_citation(answer, behind)


def _print_document(text: str) -> None:
    """A document as it is, escaped where the output is not UTF-8."""
    click.echo(text if holds_everything(sys.stdout) else escaped(text), nl=False)


# Tables of others in the place of ours.

LIBRARY_TABLES = "burnerlab.library_tables"


def note_library_table(table: LibraryTable) -> None:
    """A table of a library that the running command uses: its answer names library and table."""
    context = click.get_current_context(silent=True)
    if context is not None:
        context.meta.setdefault(LIBRARY_TABLES, {})[table.table] = table


def _library_table_row(table: LibraryTable) -> dict[str, str]:
    one = table.library
    return {
        "table": table.table,
        "library": one.name,
        "origin": one.origin,
        "source": one.source,
        "licence": one.licence,
    }


def _print_library_tables(on_error_stream: bool) -> None:
    found = click.get_current_context().meta.get(LIBRARY_TABLES, {})
    if not found:
        return
    click.echo("\nTables of libraries, in place of ours", err=on_error_stream)
    for one in found.values():
        click.echo(wrapped(one.words(), WIDTH, "  - ", "    "), err=on_error_stream)


# What an answer rests on, in its place: program, engines, publications.

CITE, JSON = "burnerlab.cite", "burnerlab.json"


def document_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--json``: one object on the output, its keys carrying units; beside it what every command takes."""

    def keep(context: click.Context, _: click.Parameter, value: bool) -> bool:
        context.meta[JSON] = value
        return value or bool(context.meta.get(CITE))

    about = "Print one JSON object instead of text; it carries every caution in full."
    option = click.option("--json", "as_json", is_flag=True, callback=keep, help=about)
    made: Callable[..., Any] = option(units_option(all_cautions_option(verbosity_options(command))))
    return made


def cite_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--cite``: what an answer rests on, in its place; with ``--json`` a key beside its figures."""

    def keep(context: click.Context, _: click.Parameter, value: bool) -> None:
        context.meta[CITE] = value

    about = "Print what the answer rests on in its place: program, engines, publications; a key of --json."
    option = click.option(
        "--cite", is_flag=True, is_eager=True, expose_value=False, callback=keep, help=about
    )
    made: Callable[..., Any] = option(command)
    return made


def prints_json() -> bool:
    """Whether the output is one JSON document; with ``--cite`` alone the answer is gathered and not printed."""
    return bool(click.get_current_context().meta.get(JSON))


def citation(answer: Mapping[str, Any]) -> list[dict[str, str]]:
    """Program, engines and sources of an answer, each with its version or its full reference."""
    from burnerlab.gas.library import declared_names

    program = {"kind": "program", "id": "burnerlab", "version": str(answer["burnerlab"])}
    engines = [{"kind": "engine", "id": id, "version": version} for id, version in answer["engines"].items()]
    found = [
        {"kind": "source", "id": one.id, "reference": one.cite(), "note": one.note}
        for one in sources_behind(answer, declared_names())
    ]
    return [program, *engines, *_gases(answer), *_library_tables(), *found]


GASES = ("gas", "from_gas", "to_gas", "adjustment", "substitute", "gas_name")
"""Keys by which an answer names a gas."""


def _gases(answer: Mapping[str, Any]) -> list[dict[str, str]]:
    """The gases of a library, ours or of others, that an answer names, each with the source of its composition."""
    from burnerlab.gas import fuels, load
    from burnerlab.tables.libraries import named_in

    named: dict[str, dict[str, str]] = {}
    for held in _parts(answer):
        for key in GASES:
            gas = held.get(key)
            name = gas.get("name") if isinstance(gas, Mapping) else gas
            if not isinstance(name, str) or not (name in fuels() or named_in(name)):
                continue
            try:
                of = load(name)
            except UserError:  # a gas of one's own whose name holds a colon
                continue
            named[name] = {"kind": "gas", "id": name, "reference": of.source, "note": of.provenance}
    return list(named.values())


def _library_tables() -> list[dict[str, str]]:
    """Tables of others that the answer takes in place of ours, each with the source and licence of its library."""
    context = click.get_current_context(silent=True)  # none where an answer is cited outside of a command
    found: Mapping[str, LibraryTable] = {} if context is None else context.meta.get(LIBRARY_TABLES, {})
    return [
        {"kind": "table", "id": one.address, "reference": one.library.reference, "note": one.library.licence}
        for one in found.values()
    ]


def _parts(answer: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """An answer, and within it those for its files, markets and gases."""
    yield answer
    for key in ("files", "markets", "conversions"):
        for one in answer.get(key, ()):
            if isinstance(one, Mapping):
                yield from _parts(one)


def _print_citation(answer: Mapping[str, Any], behind: Sequence[Mapping[str, str]]) -> None:
    """The citation in place of the figures; a STOP of the answer stands above it all the same."""
    for stop in answer.get("stops") or ():
        for line in (
            f"{stop['signal']}: {stop['heading']}",
            stop["do_first"],
            stop["then"],
            stop["always"],
        ):
            click.echo(click.wrap_text(line, width=CAUTION_WIDTH))
        click.echo()
    for kind in ("program", "engine"):
        for one in (each for each in behind if each["kind"] == kind):
            click.echo(f"{kind:8} {one['id']} {one['version']}")
    lines = {kind: [_reference(one) for one in behind if one["kind"] == kind] for kind in ("gas", "source")}
    print_notes("Compositions of gases", lines["gas"])
    of_conversions = [THEIR_CONVERSIONS] if _command() in ON_CONVERSIONS else []
    print_notes("This answer rests on", [*lines["source"], *of_conversions] or [NO_SOURCE])
    print_hint("\nWithout --cite the figures are printed, with their evidence.")
    print_cautions()


def _reference(cited: Mapping[str, str]) -> str:
    """A source, or the composition of a gas, in one line."""
    return f"{cited['id']}: {cited['reference']}" + (f" ({cited['note']})" if cited["note"] else "")


NO_SOURCE = "no publication: its figures are entered or counted"
ON_CONVERSIONS = ("injectors", "line", "kit list", "plate", "compare")
THEIR_CONVERSIONS = "what its conversions rest on: burnerlab convert FILE --cite names it"


def _command() -> str:
    """The running command with its group, as ``record chart``."""
    context: click.Context | None = click.get_current_context()
    words: list[str] = []
    while context is not None and context.parent is not None:
        words.insert(0, context.info_name or "")
        context = context.parent
    return " ".join(words)


def reader_system() -> System:
    """The units in which the running command answers: those that were chosen, else of the region of its files.

    Metric where nothing was chosen and the files have no region, or several.
    """
    context = click.get_current_context(silent=True)
    if context is None:  # of a text that no command prints
        return "metric"
    of_files: set[System | None] = context.meta.get(UNITS_OF_FILES, set())
    return preferred_system() or (next(iter(of_files)) if len(of_files) == 1 else None) or "metric"


def preferred_system() -> System | None:
    """The units that the user has chosen, by ``--units`` or in the settings; None for neither."""
    return written_system() or user_settings().preferred_units


def paper_units() -> PaperUnits:
    """The units of papers: by ``--units`` for all, else those of the region of each, else of the reader."""
    from burnerlab.report.paper_units import PaperUnits

    return PaperUnits(written=written_system(), reader=reader_system())


def written_system() -> System | None:
    """The units that stand on the command line; None where none do."""
    context = click.get_current_context(silent=True)
    written: System | None = None if context is None else context.meta.get(UNITS)
    return written


def note_system_of_file(system: System | None) -> None:
    """Answer in the units of the region of a project file, unless the user has chosen; None for a file without one."""
    context = click.get_current_context(silent=True)
    if context is not None:
        context.meta.setdefault(UNITS_OF_FILES, set()).add(system)


def note_region_of_file(region: str, names: Iterable[str]) -> None:
    """Answer in the words of the region of a project file; names : what its user named, of which no word is exchanged.

    Files of several regions are answered in the words of this house.
    """
    context = click.get_current_context(silent=True)
    if context is not None:
        regions, known = context.meta.setdefault(REGION_OF_FILES, (set(), set()))
        regions.add(region)
        known.update(names)
        context.meta.pop(WORDS, None)


def region_words() -> Callable[[str], str]:
    """What turns a text of the running command into the words of the region of its files."""
    context = click.get_current_context(silent=True)
    if context is None or REGION_OF_FILES not in context.meta:
        return str
    if WORDS not in context.meta:
        regions, known = context.meta[REGION_OF_FILES]
        region = next(iter(regions)) if len(regions) == 1 else ""
        cited = (text for one in sources().values() for text in (one.title, one.edition)) if region else ()
        context.meta[WORDS] = in_terms_of(region, filter(None, (*known, *cited)))
    made: Callable[[str], str] = context.meta[WORDS]
    return made


def in_words(text: str) -> str:
    """A text as it is printed: its units spelt out, in the words of the region of the file."""
    return region_words()(in_print(text))


def for_reader(text: str) -> str:
    """A sentence in the units of the reader alone, in the words of the region of the file."""
    return in_words(in_reader_units(text, reader_system()))


def amount(value_SI: float, kind: Kind, digits: int | None = None) -> str:
    """A quantity with its unit, in that of the reader which fits its size.

    >>> amount(2740.0, Kind.GAUGE_PRESSURE)
    '27.40 mbar'
    """
    return show(value_SI, kind, system=reader_system(), digits=digits)


def temperature(value_K: float, *, has_unit: bool = True) -> str:
    """A temperature in whole degrees.

    >>> temperature(1005.9)
    '733 °C'
    """
    unit, _ = display_unit(value_K, Kind.TEMPERATURE, reader_system())
    figure = f"{in_unit(value_K, Kind.TEMPERATURE, unit):.0f}"
    return f"{figure} {unit}" if has_unit else figure


def number(value: float | None, digits: int = 4) -> str:
    """A number of so many significant digits for a table, thousands apart from 10 000, never in powers of ten.

    >>> number(0.00123456), number(24039.4), number(3.0), number(None)
    ('0.001235', '24 039', '3.000', '-')
    """
    if value is None or not math.isfinite(value):
        return "-"
    if value == 0:
        return "0"
    after = digits - 1 - math.floor(math.log10(abs(value)))
    return grouped(value, max(after, 0))


def quantity(value_SI: float | None, kind: Kind, unit: str, digits: int = 4, *, has_unit: bool = True) -> str:
    """A quantity of so many significant digits, exact in the units of either reader; "-" where there is none.

    unit : of metric readers; has_unit : False in a column whose head names it

    >>> quantity(1743.62, Kind.GAUGE_PRESSURE, "mbar") + " gauge"  # in US units 7.000 in w.c.
    '17.44 mbar gauge'
    """
    if value_SI is None or not math.isfinite(value_SI):
        return "-"
    shown = number(float(in_unit(value_SI, kind, unit)), digits)
    return quoted(value_SI, kind, unit, f".{len(shown.partition('.')[2])}f", has_unit=has_unit)


def mbar(pressure_Pa: float | None, digits: int = 4) -> str:
    """A gauge pressure of gas in a column of mbar."""
    return quantity(pressure_Pa, Kind.GAUGE_PRESSURE, "mbar", digits, has_unit=False)


def kW(power_W: float | None, digits: int = 4) -> str:
    """A heat input in a column of kW."""
    return quantity(power_W, Kind.POWER, "kW", digits, has_unit=False)


def figure(result: Any, name: str, digits: int = 4) -> tuple[str, str]:
    """Label and text of one declared output of a result, in its unit; "not evaluated" where it has no value.

    name : of the field or property that declares it
    """
    column = next(one for one in columns(type(result)) if one.name == name).in_system(reader_system())
    value = column.value(result)
    shown = "not evaluated" if value is None else f"{number(value, digits)} {column.unit}".rstrip()
    return column.label, shown


def percent(fraction: float | None, decimals: int = 1) -> str:
    """A fraction as a signed percentage.

    >>> percent(-0.0123), percent(0.05)
    ('-1.2 %', '+5.0 %')
    """
    return "-" if fraction is None or not math.isfinite(fraction) else f"{100 * fraction:+z.{decimals}f} %"


def table(
    heads: Sequence[str], rows: Sequence[Sequence[str]], left_columns: int = 1, *, as_written: bool = False
) -> str:
    """Aligned columns; the first ``left_columns`` to the left, the others to the right, in the units of the reader.

    A table wider than the screen has its heads and texts in several lines, then its last columns below.

    as_written : the units stay

    >>> print(table(("drill", "mm"), (("#54", "1.397"), ("F", "6.5"))))
    drill     mm
    ------------
    #54    1.397
    F        6.5
    """
    heads, rows = (heads, rows) if as_written else _columns_for_reader(heads, rows)
    heads, rows = [in_words(head) for head in heads], [[in_words(cell) for cell in row] for row in rows]
    return laid_out(heads, rows, left_columns, screen_width())


def _columns_for_reader(
    heads: Sequence[str], rows: Sequence[Sequence[str]]
) -> tuple[Sequence[str], Sequence[Sequence[str]]]:
    """Columns whose head names a unit, and figures with units in cells, in the units of the reader."""
    system = reader_system()
    made = [column_in(system, head, [_cell(row[i], system) for row in rows]) for i, head in enumerate(heads)]
    return [head for head, _ in made], [[cells[i] for _, cells in made] for i in range(len(rows))]


def _cell(text: str, system: System) -> str:
    """A cell in the units of the reader; one that quotes figures without their unit has it in the head."""
    return text if has_bare_figures(text) else in_reader_units(text, system)


def facts(pairs: Sequence[tuple[str, str]], width: int = WIDTH) -> str:
    """Names and values below each other, in lines of so many columns.

    >>> print(facts([("gas", "propane"), ("pressure", "11 in w.c.")]))
    gas       propane
    pressure  11 in w.c.
    """
    pairs = [(in_words(name), value) for name, value in pairs]
    indent = 2 + max(len(name) for name, _ in pairs)
    return "\n".join(
        wrapped(for_reader(value), width, name.ljust(indent), " " * indent) if value else name
        for name, value in pairs
    )


def wrapped(text: str, width: int = WIDTH, initial: str = "", subsequent: str = "") -> str:
    """A text in lines; the thousands of a figure stay together, and a figure with its unit.

    >>> print(wrapped("a ring of 12 400 Btu/h", 14))
    a ring of
    12 400 Btu/h
    """
    kept = IN_A_FIGURE.sub(NO_BREAK, in_words(text))
    return click.wrap_text(kept, width, initial, subsequent).replace(NO_BREAK, " ")


def provenance_words(provenance: str) -> str:
    """How a figure came here, as a reader takes it.

    >>> provenance_words("memory")
    'recalled, not checked in the publication'
    """
    words = {"memory": "recalled, not checked in the publication", ENTERED: "entered by the user"}
    return words.get(provenance, provenance)


def print_notes(title: str, notes: Sequence[str], *, warnings: Sequence[str] = ()) -> None:
    """A short list under a heading, wrapped; nothing when there are none. Names of files stay as they are.

    warnings : stand first and are printed with ``--quiet`` too, whatever their words
    """
    notes = (*warnings, *notes_to_print(title, notes))
    if not notes:
        return
    click.echo(f"\n{title}")
    for note in notes:
        line = f"  - {note}" if title == WRITTEN else wrapped(for_reader(note), WIDTH, "  - ", "    ")
        click.echo(line)


# The lines that close every answer of the command line; no option turns one off.

ALL_CAUTIONS = "all_cautions"
CAUTION_WIDTH = 80


def print_look_up(addresses: Iterable[str]) -> None:
    """Where the handbook explains the findings of an answer, the first first: one line, none with ``--quiet``."""
    if line := look_up_line(addresses):
        print_hint(f"\n{line}")


UNITS = "units"
UNITS_OF_FILES = "units of the files"
REGION_OF_FILES, WORDS = "regions of the files", "words of the region"
WRITTEN = "Written"


def proposed_units(_: click.Context, __: click.Parameter, incomplete: str) -> list[str]:
    """Words of ``--units`` that a shell proposes."""
    from burnerlab.cli.proposals import systems_of_units

    return [one for one in systems_of_units() if one.startswith(incomplete.lower())]


def units_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--units``: of every text of an answer; keys and figures of JSON stay as they are."""

    def keep(context: click.Context, _: click.Parameter, text: str | None) -> None:
        context.meta[UNITS] = None if text is None else read_units(text, "--units")

    return click.option(
        "--units",
        cls=SingleOption,
        metavar="[metric|us]",
        shell_complete=proposed_units,
        expose_value=False,
        is_eager=True,  # --units us --help has examples in those units
        callback=keep,
        help="Units of text and papers; without it those of burnerlab settings, of the region of FILE, or metric.",
    )(command)


def all_cautions_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--all-cautions``: the whole set in full, above the lines that close the answer."""

    def keep(context: click.Context, _: click.Parameter, value: bool) -> None:
        context.meta[ALL_CAUTIONS] = value

    return click.option(
        "--all-cautions",
        is_flag=True,
        expose_value=False,
        callback=keep,
        help="Print every caution in full before the lines that close the answer.",
    )(command)


def print_cautions(
    *gases: Gas | DeclaredGas | None,
    occasions: tuple[str, ...] = (),
    on_error_stream: bool = False,
    is_apart: bool = False,
) -> None:
    """Last on the output: the lines that fit the running command, worst first.

    gases : those the answer is about
    occasions : what else the answer shows, such as "frost"
    on_error_stream : where the output is read by another program
    is_apart : whether the answer ends with a blank line, as one of several does
    """
    context = click.get_current_context()
    _print_library_tables(on_error_stream)
    if context.meta.get(ALL_CAUTIONS):
        for caution in cautions():
            click.echo("\n" + full_text(caution), err=on_error_stream)
    if not is_apart or context.meta.get(ALL_CAUTIONS) or context.meta.get(LIBRARY_TABLES):
        click.echo(err=on_error_stream)
    for caution in closing_cautions(_command_name(context), *occasions, *_of_gases(gases)):
        click.echo(click.wrap_text(region_words()(caution.line), CAUTION_WIDTH), err=on_error_stream)


def caution_lines() -> list[str]:
    """The lines that close an answer of the running command."""
    return [region_words()(one.line) for one in closing_cautions(_command_name(click.get_current_context()))]


def of_pressure(gauge_pressure_Pa: float) -> tuple[str, ...]:
    """The occasion of a supply above that of low-pressure appliances."""
    return () if is_low_pressure(gauge_pressure_Pa) else (HIGH_PRESSURE,)


def full_text(caution: Caution) -> str:
    """A caution in full, its lines indented below the signal word."""
    head = f"{caution.signal}: "
    return click.wrap_text(
        region_words()(head + caution.text), width=CAUTION_WIDTH, subsequent_indent=" " * len(head)
    )


def _command_name(context: click.Context) -> str:
    """The name of the running command, of its group where it has one."""
    while context.parent is not None and context.parent.parent is not None:
        context = context.parent
    return context.info_name or ""


def _of_gases(gases: tuple[Gas | DeclaredGas | None, ...]) -> tuple[str, ...]:
    return (SPECIAL_GAS,) if any(gas is not None and gas.is_special for gas in gases) else ()


# What is said beside a figure: of its gas, of a pressure or a bore that is unusual, of the altitude.

LEAST_CHANGE = 0.005  # of a heat input by altitude, below which it is not worth a word


def gas_fact(gas: Gas | DeclaredGas) -> str:
    """A gas in the head of an answer: its title, and the name by which an option takes it.

    >>> from burnerlab.gas import load
    >>> gas_fact(load("natural-gas-typical"))
    'Typical pipeline natural gas (natural-gas-typical)'
    """
    return title_and_name(gas.title, gas.name)


def title_and_name(title: str, name: str) -> str:
    """What a gas is and how it is called, once where they are the same."""
    return f"{title} ({name})" if title and title != name else name


def named_gas_fact(name: str) -> str:
    """The same of a gas that an answer names: one of the library with its title."""
    from burnerlab.gas import fuels, load

    return gas_fact(load(name)) if name in fuels() else name


def gas_notes(gas: Any) -> tuple[str, ...]:
    """What must be said of a gas beside any figure of it."""
    from burnerlab.gas import DeclaredGas

    if isinstance(gas, DeclaredGas) and gas.net_is_estimate():
        return (f"net values are estimates: {gas.net_to_gross():.3f} of gross, typical of {gas.family}",)
    return ()


def pressure_notes(gauge_pressure_Pa: float, text: str) -> tuple[str, ...]:
    """A note when a gauge pressure is not one of a low-pressure appliance; else nothing.

    gauge_pressure_Pa : pressure before the orifice [Pa]
    text : the same as the user wrote it

    >>> pressure_notes(75842.0, "11 psi")[0]
    '11 psi (758 mbar) is outside 5 to 150 mbar for a domestic low-pressure appliance: check the unit'
    """

    return _doubt(lambda: check_low_pressure(gauge_pressure_Pa, text))


def bore_notes(diameter_m: float, text: str) -> tuple[str, ...]:
    """A note when a diameter is not one of a domestic burner's orifice; else nothing.

    diameter_m : of the hole [m]
    text : the same as the user wrote it

    >>> bore_notes(0.0254, "1 in")[0]
    '25.40 mm is outside 0.2 to 6 mm for an orifice of a domestic burner: check the unit'
    """

    return _doubt(lambda: check_orifice_diameter(diameter_m, text))


def _doubt(check: Callable[[], object]) -> tuple[str, ...]:
    try:
        check()
    except UserError as error:
        return tuple(f"{problem.what}: check the unit" for problem in error.problems)
    return ()


def altitude_of(ambient_Pa: float) -> float | None:
    """The altitude of a station pressure; None where it changes no heat input by more than half a percent."""
    from burnerlab.supply.atmosphere import altitude_at_pressure_m

    if abs(ambient_Pa / STANDARD_PRESSURE_PA - 1.0) < 2.0 * LEAST_CHANGE:  # the flow goes with the root
        return None
    return float(altitude_at_pressure_m(ambient_Pa))


# STOP before everything: how the notices of a result head what a command prints.

UID_SHOWN = 8
MINUTE = 16  # characters of an ISO 8601 moment to the minute


def print_stops(stops: Sequence[StopNotice]) -> None:
    """The notices, worst first, above everything else; nothing where there are none."""
    for one in stops:
        for line in one.lines():
            click.echo(wrapped(for_reader(line), CAUTION_WIDTH))
        click.echo()


def stops_json(stops: Sequence[StopNotice | OpenStop]) -> dict[str, Any]:
    """``stop``, the worst or null, and ``stops``, all of them; those of a record with their entry and place.

    >>> stops_json(())
    {'stop': None, 'stops': ()}
    """
    return {"stop": stops[0] if stops else None, "stops": stops}


def print_open_stops(stops: Sequence[OpenStop]) -> None:
    """The notices of the stops that stand in a record, each once, and below them for whom each stands."""
    from burnerlab.bench.record import notices

    print_stops(notices(stops))
    if not stops:
        return
    click.echo("Stops without a release")
    for one in stops:
        for_whom = "the whole bench" if one.is_of_the_bench else f"unit {one.serial}"
        where = f" at {one.place}" if one.place else ""
        line = (
            f"{one.uid[:UID_SHOWN]}-{one.notice.id}: {for_whom}{where}; raised on {one.serial}, "
            f"{one.recorded_at[:MINUTE].replace('T', ' ')} UTC by {one.tester}"
        )
        click.echo(click.wrap_text(line, CAUTION_WIDTH, initial_indent="  - ", subsequent_indent="    "))
    click.echo()


def print_stops_not_recorded(displays: Sequence[StopDisplay]) -> None:
    """Stops that a bench showed and nobody recorded, below those of the record."""
    if not displays:
        return
    from burnerlab.bench.record.stop_display import not_recorded_words

    click.echo(not_recorded_words(displays))
    for one in displays:
        line = for_reader(f"{one.notice.signal}: {one.notice.heading} {one.words}")
        click.echo(click.wrap_text(line, CAUTION_WIDTH, initial_indent="  - ", subsequent_indent="    "))
    click.echo()


# What stands above an answer whose orifices overfire a burner; no option turns it off.


def print_overfire(lines: Sequence[str]) -> None:
    """The warning, before everything else; nothing where no burner overfires."""
    for line in lines:
        click.echo(wrapped(for_reader(line), CAUTION_WIDTH, subsequent=" " * len("WARNING: ")))
    if lines:
        click.echo()
