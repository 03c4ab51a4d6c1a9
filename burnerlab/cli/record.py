"""``record``: entries, charts, stops and copies of the bench record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from burnerlab.cli.options import takes
from burnerlab.cli.output import (
    document_option,
    facts,
    print_cautions,
    print_json,
    print_notes,
    print_open_stops,
    print_stops_not_recorded,
    reader_system,
    stops_json,
)
from burnerlab.cli.record_entries import add, backup, check, correct, import_
from burnerlab.cli.record_output import (
    LIMIT,
    OUT,
    OVERWRITE,
    RECORD,
    RELEASE_LIMITS,
    answer_in_region_of,
    attention,
    counted,
    day,
    earlier_line,
    entry_answer,
    entry_text,
    kits_text,
    lines_text,
    plans_of,
    text_input,
    times_in_doubt,
    to_read,
    to_write,
)
from burnerlab.cli.record_parts import value_of
from burnerlab.cli.record_report import report_command
from burnerlab.quantity.inputs import Group, Input
from burnerlab.quantity.outputs import row
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.release_text import STATEMENT_TEXTS

if TYPE_CHECKING:
    from burnerlab.bench.earlier_readings import EarlierReading
    from burnerlab.bench.record import ChartQuery, OpenStop, Record, TestRecord, UnitChart, UnitStops
    from burnerlab.bench.record.stop_display import StopDisplay

# ``burnerlab record chart``: the last units of a model, in the terminal or as a figure.

WIDTH = 41  # characters of the drawing in the terminal
SERIAL_WIDTH = 16


def _chart(*, quantity: str, low: str | None, high: str | None, rules: str | None, **more: Any) -> ChartQuery:
    """What is charted; the ends of the band are read as the quantity is."""
    from burnerlab.bench.record import ChartQuery
    from burnerlab.bench.record.entry import quantity_named

    of = quantity_named(quantity, "--quantity")
    ends = [
        None if text is None else value_of(text, of, key) for text, key in ((low, "--low"), (high, "--high"))
    ]
    own = None if rules is None else Path(rules)
    if own is not None and not own.is_file():
        raise UserError(Problem("not a regular file", key="--rules", file=str(own)))
    return ChartQuery(quantity=of.name, low=ends[0], high=ends[1], own_rules=own, **more)


CHART = Group(
    make=_chart,
    inputs=(
        text_input("model", "NAME", "Model of the units.", is_needed=True),
        text_input("burner", "NAME", "Burner (the whole unit).", default=""),
        text_input("quantity", "NAME", "A result by name.", default="deviation"),
        Input(name="last", of="chart_units", default="50", help="Newest units shown."),
        Input(
            name="baseline", of="baseline_units", help="Oldest units shown, from which the limits are taken."
        ),
        Input(
            name="take",
            choices=("first", "last"),
            default="last",
            help="Which test of a unit tested more than once.",
        ),
        text_input("low", "VALUE", "Lower end of the band (that of the results)."),
        text_input("high", "VALUE", "Upper end of the band."),
        text_input("rules", "FILE", "CSV of your own rules of drift."),
    ),
)


@click.command(short_help="Control chart and capability of a burner over the last units.")
@takes(
    selection=CHART,
    svg=text_input("svg", "FILE", "Also draw it."),
    overwrite=Input(name="overwrite", is_flag=True, help="Replace the drawing when it exists."),
    file=RECORD,
)
@document_option
def chart(selection: ChartQuery, file: str, svg: str | None, overwrite: bool, as_json: bool) -> None:
    """Individuals with moving ranges, rules of drift, and capability with its confidence intervals.

    One figure for each of the last units: limits are the mean and 3 sigma, sigma from the mean moving range. The
    band for the capability is the one that the results name.

    \b
    Examples:
      burnerlab record chart --model "market cart range" --burner griddle
      burnerlab record chart --model "market cart range" --burner griddle \\
          --baseline 25 --svg griddle.svg
    """
    from burnerlab.bench.record import unit_chart

    with to_read(file) as record:
        found = unit_chart(record, selection)
    if svg is not None:
        _write_svg(found, Path(svg), overwrite)
    if as_json:
        print_json(found, figure=svg)
        return
    click.echo(chart_text(found))
    print_notes("Notes", found.notes)
    print_cautions()


def _write_svg(chart: UnitChart, path: Path, overwrite: bool) -> None:
    from burnerlab.bench.record.database import whole_file
    from burnerlab.report.figures.control_chart import chart_svg

    with whole_file(path, overwrite) as made:
        try:
            made.write_text(chart_svg(chart), encoding="utf-8")
        except ImportError as error:
            fix = 'pip install "burnerlab[sheet]"'
            raise UserError(Problem(f"a figure needs {error.name}", key="--svg", fix=fix)) from None


def chart_text(chart: UnitChart) -> str:
    """The chart as lines, one unit each, oldest first; letters name the rules met."""
    from burnerlab.report.figures.control_chart import (
        capability_words,
        chart_title,
        chart_unit,
        marks,
        rule_letters,
    )

    unit, flagged = chart_unit(chart), marks(chart)
    values = [unit.of(point.value) for point in chart.points]
    ends = list(values)
    if chart.limits is not None:
        ends += [unit.of(chart.limits.low), unit.of(chart.limits.high)]
    scale = _Scale(min(ends), max(ends))
    rails = "" if chart.limits is None else scale.rails(*(unit.of(v) for v in _three(chart)))
    lines = [chart_title(chart), ""]
    for number, (point, value) in enumerate(zip(chart.points, values, strict=True)):
        drawn = scale.line(rails, value, "o" if number not in flagged else "#")
        shown = unit.text(point.value).replace("\N{MINUS SIGN}", "-")
        lines.append(
            f"{point.serial[:SERIAL_WIDTH]:<{SERIAL_WIDTH}} {point.tested_at[:10]} {shown:>8} {unit.name}  "
            f"{drawn} {flagged.get(number, '')}".rstrip()
        )
    words = {hit.rule.name: hit.rule.words for hit in chart.hits}
    pairs = [(f"rule {letter}", words[name]) for name, letter in rule_letters(chart).items()]
    if chart.limits is not None:
        low, centre, high = (unit.text(v).replace("\N{MINUS SIGN}", "-") for v in _three(chart))
        pairs.append(("centre", f"{centre} {unit.name}, limits {low} to {high} {unit.name} (marked | : |)"))
        if not chart.hits and chart.limits.sigma > 0.0:
            pairs.append(("drift", "no rule is met"))
    pairs += [
        ("capability", line.replace("\N{MINUS SIGN}", "-").removeprefix("capability: "))
        for line in capability_words(chart)
    ]
    return "\n".join(lines) + "\n\n" + facts(pairs)


def _three(chart: UnitChart) -> tuple[float, float, float]:
    assert chart.limits is not None
    return chart.limits.low, chart.limits.centre, chart.limits.high


class _Scale:
    """Where a figure stands in a line of characters."""

    def __init__(self, low: float, high: float) -> None:
        self.low, self.reach = low, (high - low) or 1.0

    def at(self, value: float) -> int:
        return round((value - self.low) / self.reach * (WIDTH - 1))

    def rails(self, low: float, centre: float, high: float) -> str:
        places = {self.at(centre): ":", self.at(low): "|", self.at(high): "|"}
        return "".join(places.get(n, " ") for n in range(WIDTH))

    def line(self, rails: str, value: float, mark: str) -> str:
        drawn = list(rails or " " * WIDTH)
        drawn[self.at(value)] = mark
        return "".join(drawn)


# ``burnerlab record list``, ``show``, ``search``, ``kits`` and ``export``.


def _displays_of(file: str, serial: str) -> tuple[StopDisplay, ...]:
    """Stops that a bench showed for a unit and nobody recorded, those said to be wrong as well."""
    from burnerlab.bench.record.stop_display import stops_not_recorded

    key = serial.strip().casefold()
    return tuple(
        one
        for one in stops_not_recorded(Path(file))
        if one.stands_for(serial) or one.serial.strip().casefold() == key
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitReadings:
    """What is named of the readings of one unit beside its entries."""

    earlier: tuple[EarlierReading, ...] = ()  # in whose place another stands
    times: Mapping[str, tuple[str, ...]] = field(
        default_factory=dict
    )  # what its times leave in doubt, in words

    @property
    def remarks(self) -> tuple[str, ...]:
        """What the times leave in doubt, hot rows too soon first."""
        return tuple(one for words in self.times.values() for one in words)


def _show_lines(
    records: Sequence[TestRecord],
    stops: Sequence[OpenStop],
    past: Mapping[str, UnitStops],
    as_json: bool,
    displays: Sequence[StopDisplay] = (),
    unit: UnitReadings | None = None,
    more: Mapping[str, int] | None = None,
) -> None:
    """Entries as lines, headed by the stops of the bench and of these units, and by those that were only shown.

    unit : what is named of the readings of one unit; None for several units
    more : what the record holds, for the list of its units
    """

    answer_in_region_of(records)
    serials = {record.serial.casefold() for record in records}
    stand = [one for one in stops if one.is_of_the_bench or one.serial.casefold() in serials]
    if as_json:
        document = {
            "count": len(records),
            **(more or {}),
            "tests": [entry_answer(record, stops, past, displays) for record in records],
        }
        document |= {} if unit is None else {"earlier": unit.earlier, **unit.times}
        print_json(stops_json(stand) | {"stops_not_recorded": displays} | document)
        return
    print_open_stops(stand)
    print_stops_not_recorded(displays)
    click.echo(lines_text(records, stops, past, displays) if records else "no entry matches")
    unit = unit or UnitReadings()
    _print_earlier(unit.earlier)
    unread = [f"{one.stops[0].record.serial}: {note}" for one in past.values() for note in one.unread()]
    print_notes("Not as required", (*unread, *unit.remarks))
    if more:
        click.echo()
        click.echo(facts([(name.replace("_", " "), str(value)) for name, value in more.items()]))
    print_cautions()


def _print_earlier(earlier: Sequence[EarlierReading]) -> None:
    """Readings of a unit in whose place another stands, as its papers name them."""
    from burnerlab.report.plan_report import EARLIER_CAPTION

    lines = [earlier_line(one, reader_system()) for one in earlier]
    print_notes(str(EARLIER_CAPTION), lines)


@click.command("list", short_help="The newest test of each unit.")
@takes(
    model=text_input("model", "NAME", "Only this model.", default=""),
    since=Input(
        name="since", reader=day, metavar="DATE", default="", help='Tested on or after: "2026-11-01".'
    ),
    until=Input(name="until", reader=day, metavar="DATE", default="", help="Tested on or before this day."),
    limit=LIMIT,
    offset=Input(name="offset", of="lines_left_out", default="0", help="Lines left out at the newest end."),
    file=RECORD,
)
@document_option
def list_(model: str, since: str, until: str, limit: int, offset: int, file: str, as_json: bool) -> None:
    """The newest current test of each unit, newest first, and how much the record holds.

    \b
    Example:
      burnerlab record list --model "market cart range" --since 2026-11-01
    """
    from burnerlab.bench.record import open_stops, stops_of_units, summary, units
    from burnerlab.bench.record.stop_display import stops_not_recorded

    with to_read(file) as record:
        found = units(record, model=model, since=since, until=until, limit=limit, offset=offset)
        counts, stops = summary(record), open_stops(record)
        past = stops_of_units(record, (one.serial for one in found))
    more = {
        "units": counts.units,
        "entries": counts.tests,
        "corrections": counts.corrections,
        "kit_checks": counts.kit_checks,
    }
    _show_lines(found, stops, past, as_json, stops_not_recorded(Path(file)), more=more)


@click.command(short_help="A unit's newest test, or its whole history.")
@takes(
    serial=text_input("serial", "SERIAL", "", is_needed=True, is_argument=True),
    with_history=Input(name="history", is_flag=True, help="Every entry, superseded ones as well."),
    file=RECORD,
)
@document_option
def show(serial: str, with_history: bool, file: str, as_json: bool) -> None:
    """The newest current test of the unit SERIAL in full.

    \b
    Examples:
      burnerlab record show C-0412
      burnerlab record show C-0412 --history
    """
    from burnerlab.bench.earlier_readings import earlier_readings
    from burnerlab.bench.record import UnitStops, history, latest, open_stops, stops_of_units
    from burnerlab.bench.record.open_stops import BenchPlace

    with to_read(file) as record:
        every = history(record, serial)
        newest, stops = latest(record, serial), open_stops(record)
        past = stops_of_units(record, [serial])
    displays = _displays_of(file, serial)
    own = past.get(serial.strip().casefold(), UnitStops())
    plans = plans_of(every, file)
    earlier = earlier_readings(every, own, plans)
    of_unit = UnitReadings(earlier=tuple(earlier), times=times_in_doubt(plans, serial, every, own))
    if newest is None and not every:
        fix = "burnerlab record search finds part of a serial number"
        raise UserError(Problem("no test of this unit", value=serial, key="SERIAL", fix=fix))
    if with_history:
        _show_lines(every, stops, past, as_json, displays, of_unit)
        return
    assert newest is not None
    answer_in_region_of([newest])
    stand = [one for one in stops if one.stands_for(newest.serial, BenchPlace.of(newest))]
    if as_json:
        print_json(
            stops_json(stand)
            | {"stops_not_recorded": displays}
            | row(entry_answer(newest, stops, past, displays))
            | {"earlier": earlier, **of_unit.times}
        )
        return
    print_open_stops(stand)
    print_stops_not_recorded(displays)
    click.echo(entry_text(newest, stops, own, displays))
    _print_earlier(earlier)
    print_notes("Not as required", (*attention(newest, own), *of_unit.remarks))
    print_cautions()


@click.command(short_help="Entries that hold some words.")
@takes(
    words=text_input("words", "WORDS...", "", is_needed=True, is_many=True, is_argument=True),
    limit=LIMIT,
    file=RECORD,
)
@document_option
def search(words: tuple[str, ...], limit: int, file: str, as_json: bool) -> None:
    """Entries in which every one of WORDS stands: in serial, model, gas, tester, note, reason or entry.

    \b
    Example:
      burnerlab record search 0412
    """
    from burnerlab.bench.record import open_stops, stops_of_units
    from burnerlab.bench.record import search as find
    from burnerlab.bench.record.stop_display import stops_not_recorded

    with to_read(file) as record:
        found, stops = find(record, " ".join(words), limit), open_stops(record)
        past = stops_of_units(record, (one.serial for one in found))
    _show_lines(found, stops, past, as_json, stops_not_recorded(Path(file)))


@click.command(short_help="Weighings of kits.")
@takes(
    kit=text_input("kit", "KIT", "Only this kit.", default=""),
    serial=text_input("serial", "SERIAL", "Only for this unit.", default=""),
    limit=LIMIT,
    file=RECORD,
)
@document_option
def kits(kit: str, serial: str, limit: int, file: str, as_json: bool) -> None:
    """Kits weighed at the end of packing, newest first.

    \b
    Example:
      burnerlab record kits --kit K-77
    """
    from burnerlab.bench.record import kit_checks

    with to_read(file) as record:
        found = kit_checks(record, kit=kit, serial=serial, limit=limit)
    if as_json:
        print_json({"count": len(found), "kit_checks": found})
    else:
        click.echo(kits_text(found) if found else "no kit matches")
        print_cautions()


@click.command(short_help="The whole record as CSV, workbook or JSON.")
@takes(
    ending=Input(
        name="format", choices=("csv", "json", "xlsx"), help="Format; without it by the ending of FILE."
    ),
    out=OUT,
    overwrite=OVERWRITE,
    file=RECORD,
)
@document_option
def export(ending: str | None, out: str, overwrite: bool, file: str, as_json: bool) -> None:
    """Write every entry to FILE; burnerlab record import takes it in again, equal to the last digit.

    Photographs go into a folder next to FILE, named after it.

    \b
    Example:
      burnerlab record export --out november.xlsx
    """
    from burnerlab.bench.record import exported, summary
    from burnerlab.bench.record.database import whole_file
    from burnerlab.bench.record.exchange import FORMATS, GET_WORKBOOKS
    from burnerlab.bench.record.photographs import copy_photographs, photograph_hashes

    chosen = ending or Path(out).suffix.lower().lstrip(".")
    if chosen not in FORMATS:
        endings = ", ".join(f".{one}" for one in FORMATS)
        first = next(iter(FORMATS))
        fix = f'write "{Path(out).with_suffix(f".{first}")}", or add --format {first}'
        what = "its ending names no format" if chosen else "has no ending that names the format"
        raise UserError(Problem(what, value=out, key="--out", accepted=endings, fix=fix))
    with to_read(file) as record, whole_file(Path(out), overwrite) as made:
        try:
            content = exported(record, chosen)
        except ImportError as error:
            raise UserError(Problem(f"needs {error.name}", key="--format", fix=GET_WORKBOOKS)) from None
        made.write_bytes(content)
        counts = summary(record)
        copied = copy_photographs(Path(file), Path(out), photograph_hashes(record))
    result = {"file": out, "size_bytes": len(content), "tests": counts.tests, "kit_checks": counts.kit_checks}
    result |= {"photographs": copied}
    if as_json:
        print_json(result)
    else:
        click.echo(
            f"{out}: {counted(counts.tests, 'test')}, {counted(counts.kit_checks, 'kit check')}, {len(content)} bytes"
        )
        print_cautions()


# ``burnerlab record stops`` and ``release``: which stops stand, and who ends one.

UNCHECKED = "Name and qualification are as typed: burnerlab cannot check them."


@click.command(short_help="Stops that no release has ended.")
@takes(
    serial=text_input("serial", "SERIAL", "Only those in force for this unit, the bench's among them."),
    place=text_input("place", "PLACE", "Of the bench: leaves out those of other places.", default=""),
    file=RECORD,
)
@document_option
def stops(serial: str | None, place: str, file: str, as_json: bool) -> None:
    """The stops of the record that no release has ended, the worst first, and for whom each stands.

    A stop of the whole bench is in force for every unit on that supply, one of gas in a room at every place. Stops that
    a bench showed and nobody recorded are listed below them: record those at the bench. The first characters of its
    entry, a hyphen and its name are what record release takes.

    \b
    Example:
      burnerlab record stops --serial C-0412
    """
    from burnerlab.bench.record import entry, latest, open_stops, units
    from burnerlab.bench.record.open_stops import BenchPlace
    from burnerlab.bench.record.stop_display import stops_not_recorded

    with to_read(file) as record:
        found = open_stops(record, serial=serial, place=BenchPlace(place=place))
        displays = stops_not_recorded(Path(file)) if serial is None else _displays_of(file, serial)
        shown = (latest(record, one.serial) for one in displays if one.serial)
        of_units = [*(entry(record, one.entry) for one in found), *(one for one in shown if one is not None)]
        # one that was shown before a unit was entered names none: then the newest of the record stands for its bench
        answer_in_region_of(of_units or units(record, limit=1))
    if as_json:
        print_json(stops_json(found) | {"stops_not_recorded": displays})
        return
    print_open_stops(found)
    print_stops_not_recorded(displays)
    if not found and not displays:
        click.echo("no stop without a release")
    print_cautions()


def _of_option(problem: Problem, options: Mapping[str, str]) -> Problem:
    """A problem of a statement under the name of its option."""
    is_option = problem.key.replace(" ", "_") in options
    return replace(problem, key=f"--{problem.key.replace(' ', '-')}") if is_option else problem


def _is_named(stop: OpenStop, names: Iterable[str]) -> bool:
    """Whether a stop is one of those that a release names by their uid, or its first characters."""
    ended = [name.strip().lower().partition("-") for name in names]
    return any(uid and stop.entry.startswith(uid) and kind in ("", stop.notice.id) for uid, _, kind in ended)


def _working_Pa(record: Record, names: Sequence[str], file: str | None) -> float | None:
    """Working pressure of the supply that a leak test covers, gauge: by the unit's file, else by its record [Pa].

    None where none of the stops is of gas that escaped. Raises UserError where the pressure is not known.
    """
    from burnerlab.bench.record import entry as entry_of
    from burnerlab.bench.record import open_stops
    from burnerlab.bench.record.leak_stop import recorded_working_Pa
    from burnerlab.bench.record.release_statements import NOT_KNOWN, OF_LEAK

    leaks = [one.entry for one in open_stops(record) if one.notice.id in OF_LEAK and _is_named(one, names)]
    known = [recorded_working_Pa(record, uid) for uid in leaks]
    if file is not None:
        known += [_working_of_file(file, entry_of(record, uid).test.gas) for uid in leaks]
    elif None in known:
        fix = "name the file of the unit: --appliance FILE"
        raise UserError(Problem(f"{NOT_KNOWN[:1].lower()}{NOT_KNOWN[1:]}", key="--appliance", fix=fix))
    return max((one for one in known if one is not None), default=None)


def _working_of_file(file: str, gas: str) -> float:
    """Working pressure of a unit's file on the gas that the unit was tested with, gauge [Pa]. Raises UserError."""
    from burnerlab.appliance import read_appliance
    from burnerlab.bench.unit import working_pressure_on_Pa

    working_Pa = working_pressure_on_Pa(read_appliance(file), gas)
    if working_Pa is None:
        what = f"neither its supply nor a market of it is on {gas}, with which the unit was tested"
        raise UserError(Problem(what, file, "--appliance", fix="name the file of this unit"))
    return working_Pa


def _refuse_with_leak(
    left: Sequence[OpenStop], uid: str, texts: Mapping[str, str], *, as_json: bool
) -> NoReturn:
    """The stops that stand, and the refusal of a release in which gas was found: it is a stop of its own."""
    from burnerlab.bench.record.release_statements import LEAK_STANDS, leak_words

    if as_json:
        print_json(stops_json(left))
    else:
        print_open_stops(left)
    stands = f"{LEAK_STANDS[:1].lower()}{LEAK_STANDS[1:]}"
    what = f"{stands}; recorded as a stop of its own, entry {uid[:8]}"
    raise UserError(Problem(what, leak_words(texts), "release"))


@click.command(short_help="A qualified person ends a stop.")
@takes(
    names=text_input("names", "STOP...", "", is_needed=True, is_many=True, is_argument=True),
    **{
        kind: text_input(
            kind,
            "NAME" if kind == "name" else "TEXT",
            text.help,
            **({"default": ""} if text.when else {"is_needed": True}),
        )
        for kind, text in STATEMENT_TEXTS.items()
    },
    appliance=text_input(
        "appliance",
        "FILE",
        "Of the unit: no leak test below its working pressure ends a stop. Needed where gas escaped and no test of the "
        "unit recorded a manifold pressure within its band.",
    ),
    own_limits=RELEASE_LIMITS,
    file=RECORD,
)
@document_option
def release(
    names: tuple[str, ...],
    appliance: str | None,
    own_limits: Path | None,
    file: str,
    as_json: bool,
    **texts: str,
) -> None:
    """End each STOP, named as record stops prints it. Only a qualified person releases.

    A stop for gas that escaped needs the pressure test and the meter watched with every valve shut, a CO alarm the
    reading in the room, as at the bench. An answer that gas escapes ends nothing: it is recorded as a stop of its
    own. --leak-test is a remark.
    The release is an entry of its own: it is never changed or deleted. The unit has no verdict until its next test.

    \b
    Example:
      burnerlab record release 3fa8c012-odour --name "K. Moss" \\
          --qualification "gas engineer, licence 1234" \\
        --cause "union nut loose" --repair "new seal, tightened" \\
          --joints-searched fluid --gas-at-joints no \\
        --test-pressure-start "11 in w.c." --test-pressure-end "11 in w.c." \\
          --test-minutes 10 --meter-dial "1 ft3" --meter-minutes 10 \\
        --meter-moved no --appliance market-cart-range.toml
    """
    from burnerlab.bench.record import entry as entry_of
    from burnerlab.bench.record import open_stops
    from burnerlab.bench.record import release as end
    from burnerlab.bench.record.leak_stop import leak_of_release
    from burnerlab.bench.record.release_statements import is_cylinder_supply, release_limits

    limits = release_limits(own_limits)
    with to_write(file) as record:
        if uid := leak_of_release(record, names[0], texts):
            _refuse_with_leak(open_stops(record), uid, texts, as_json=as_json)
        ended = [one.entry for one in open_stops(record) if _is_named(one, names)]
        limits = replace(
            limits,
            working_Pa=_working_Pa(record, names, appliance),
            may_lack_meter=is_cylinder_supply(entry_of(record, uid).test.gas for uid in ended),
        )
        try:
            end_entry = end(record, names, limits=limits, **texts)
        except UserError as error:
            raise UserError([_of_option(one, texts) for one in error.problems]) from None
        left = open_stops(record)
        answer_in_region_of([entry_of(record, one.entry) for one in left])
    if as_json:
        document = row(end_entry)
        document["released"] = document.pop("stops")  # beside the stops that stand
        print_json(stops_json(left) | document | {"note": UNCHECKED})
        return
    print_open_stops(left)
    click.echo(
        f"recorded: release {end_entry.uid[:8]} by {end_entry.release.name}, {end_entry.release.qualification}"
    )
    for uid in end_entry.release.stops:
        entry, _, name = uid.partition("-")
        click.echo(f"  ends {entry[:8]}-{name}")
    click.echo(UNCHECKED)
    print_cautions()


# ``burnerlab record``: the bench record.


@click.group(short_help="The bench record: tests of units, kits, charts, copies.", no_args_is_help=True)
def record_command() -> None:
    """What was found on every unit, kept in one file: tests, corrections, kits, charts, copies.

    Entries are never changed or deleted: a correction is a new entry that supersedes the old one, and both stay
    readable. Every command takes --file (bench.sqlite without it) and --json; burnerlab record COMMAND --help prints
    more.

    \b
    Examples:
      burnerlab record add --serial C-0412 --model "market cart range" \\
          --tester "R. Quill" \\
        --result "griddle: deviation = -2.1 % in -5 %..5 %" \\
          --seen "griddle: lift = no"
      burnerlab record show C-0412
      burnerlab record chart --model "market cart range" --burner griddle
      burnerlab record backup --out copy.sqlite
    """


for each in (
    add,
    correct,
    list_,
    show,
    search,
    stops,
    release,
    chart,
    report_command,
    kits,
    export,
    import_,
    check,
    backup,
):
    record_command.add_command(each)
