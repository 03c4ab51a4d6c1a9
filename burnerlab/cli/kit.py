"""``burnerlab kit``: what a packing scale can tell of a conversion kit, and one kit weighed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import (
    APPLIANCE,
    MARKETS,
    STOCK,
    Destination,
    destination,
    language_of,
    with_stock,
    write_files,
)
from burnerlab.cli.errors import DIFFERS, OK
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    facts,
    for_reader,
    note_region_of_file,
    note_system_of_file,
    print_cautions,
    print_json,
    print_look_up,
    print_notes,
    reader_system,
    table,
    wrapped,
)
from burnerlab.cli.record_output import text_input
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import Problem
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.kit import Kit, KitFinding, KitWindow
    from burnerlab.bench.kit_list import MarketKit
    from burnerlab.bench.record import KitRecord

WAYS_OUT = {
    Verdict.WITHIN: "",
    Verdict.OUTSIDE: ": not as listed, do not send it out",
    Verdict.NOT_EVALUATED: ": a part is missing likelier than not, see every part before it is sent out",
}
LIKELY = 0.01  # suspects below this share are left out of the text, not of the JSON


@click.group(
    short_help="Is a packed kit complete: what the scale can distinguish, and a weighing.",
    no_args_is_help=True,
)
def kit_command() -> None:
    """Weigh a packed conversion kit: is a part missing or packed twice, and which parts can the scale not distinguish?

    PARTS is a TOML file: the kit's name, its [scale] with resolution and repeatability, and one [[part]] for each kind
    of part with name, count, mass and scatter of one piece (standard deviation), and code when its label is scanned.
    "kit list" writes the parts lists of all markets of a project file. All commands take --json.

    \b
    Examples:
      burnerlab kit list range.toml --stock orifices.csv --parts parts.toml \\
          --out kits
      burnerlab kit window parts.toml
      burnerlab kit check parts.toml --mass "812 g" --scan OR-54 --scan RG-11
      burnerlab kit check parts.toml --mass "812 g" --file bench.sqlite \\
          --kit K-77 --tester "R. Quill"
    """


def _kit(text: str, key: str) -> Kit:
    from burnerlab.appliance.project.model import system_of_region
    from burnerlab.bench.kit import read_kit

    kit = read_kit(text)
    if kit.region:
        note_system_of_file(system_of_region(kit.region))
        own = (one.name for one in kit.parts if not one.orifice_size)
        note_region_of_file(kit.region, (kit.name, *own, *(one.code for one in kit.parts)))
    return kit


PARTS = Input(name="parts", reader=_kit, metavar="PARTS", is_argument=True, is_needed=True)
"""The kit that a file of parts describes: ``Kit``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """The record that a weighing goes into, and what it says of the kit."""

    file: Path
    kit: str
    serial: str
    tester: str
    note: str


def _recording(file: str, kit: str, serial: str, tester: str, note: str) -> Recording:
    return Recording(file=Path(file), kit=kit, serial=serial, tester=tester, note=note)


def _with_kit_and_tester(written: Mapping[str, Any]) -> Iterator[Problem]:
    if "file" not in written:
        yield Problem("is missing: name, unit and note are for the record", key="--file")
        return
    for name in ("kit", "tester"):
        if not str(written.get(name, "")).strip():
            yield Problem("is missing: a recorded weighing needs it", key=f"--{name}")


RECORDING = Group(
    make=_recording,
    inputs=(
        text_input("file", "FILE", "Also record it there; needs --kit and --tester."),
        text_input("kit", "KIT", "Number of this kit.", default=""),
        text_input("serial", "SERIAL", "Unit the kit goes with.", default=""),
        text_input("tester", "NAME", "Who weighed.", default=""),
        text_input("note", "TEXT", "Anything else.", default=""),
    ),
    rules=_with_kit_and_tester,
    is_optional=True,
)


@kit_command.command(
    short_help="The window of a complete kit, and what the scale can and cannot distinguish."
)
@takes(kit=PARTS)
@json_option
def window(kit: Kit, as_json: bool) -> None:
    """The range of readings of a complete kit, and the chance to notice each part that is missing or packed twice.

    \b
    Example:
      burnerlab kit window parts.toml
    """
    from burnerlab.bench.kit import kit_window

    found = kit_window(kit)
    if as_json:
        print_json(found)
        return
    click.echo(_window_text(found))
    print_notes("Notes", found.notes)
    print_cautions()


@kit_command.command(
    "list", short_help="The kit of every market of a model: parts, numbers, masses, leaflet."
)
@takes(
    file=APPLIANCE,
    market=MARKETS,
    parts=Input(
        name="parts",
        reader=_kit,
        metavar="PARTS",
        help="Parts list (TOML): its scale, masses of orifices by code or name, what else is packed.",
    ),
    stock=STOCK,
    to=destination("the kits as page, PDF, workbook and CSV, with a parts list"),
)
@json_option
def list_(
    file: Appliance,
    market: Sequence[str],
    parts: Kit | None,
    stock: Path | None,
    to: Destination,
    as_json: bool,
) -> None:
    """Orifices with their part numbers and counts for every market of FILE, what a complete kit weighs, its leaflet.

    Masses are those of the stock (mass_g, mass_scatter_g) or of the parts list, never estimated: where one is not
    known its row says so and the weigh check of that kit is withheld. With --out a parts list for kit window and
    kit check is written for every kit that can be weighed.

    \b
    Examples:
      burnerlab kit list range.toml
      burnerlab kit list range.toml --stock orifices.csv --parts parts.toml \\
          --market B --out kits
    """
    from burnerlab.bench.kit import kit_text
    from burnerlab.bench.kit_list import kit_list
    from burnerlab.report.kit_paper import kit_paper

    found = kit_list(with_stock(file, stock), market, parts)
    lists = {
        f"{number}-parts.toml": kit_text(kit.window.kit).encode("utf-8")
        for number, kit in enumerate(found.kits, start=1)
        if kit.window is not None
    }
    files = write_files(
        to,
        lambda units: kit_paper(found, file.file_sha256, units),
        lists,
        {kit.region for kit in found.kits},
        language_of(file, market),
    )
    if as_json:
        print_json(found, files=files)
        return
    click.echo("\n\n".join(_kit_text(kit) for kit in found.kits))
    print_notes("Notes", (*found.notes, *found.coefficient_sources))
    print_notes("Written", files)
    print_cautions()


def _kit_text(kit: MarketKit) -> str:
    """Parts, weigh check and leaflet of one market."""
    from burnerlab.report.kit_paper import PARTS, leaflet_heads, leaflet_row, part_row, weigh_words

    system = reader_system()
    parts = table(PARTS, [part_row(one, system) for one in kit.rows], left_columns=2)
    said = map(for_reader, filter(None, (kit.decision, kit.altitude_only)))
    only = "".join(f"\n{wrapped(words)}" for words in said)
    leaflets = (
        []
        if kit.stop
        else [
            f"{for_reader(gas)}{only}\n{table(leaflet_heads(kit)[1:], [row[1:] for row in rows])}"
            for gas, rows in groupby(
                (leaflet_row(one, system) for one in kit.leaflet), key=lambda row: str(row[0])
            )
        ]
    )
    head = (
        "\n".join(
            filter(
                None, (kit.market, wrapped(for_reader(kit.stop)), wrapped(for_reader(kit.altitude_warning)))
            )
        )
        + only
    )
    return "\n\n".join([f"{head}\n{parts}\n\n{wrapped(str(weigh_words(kit)))}", *leaflets])


@kit_command.command(short_help="One kit weighed, and what was scanned in.")
@takes(
    kit=PARTS,
    mass_kg=Input(
        name="mass",
        of="kit_mass",
        metavar="MASS",
        is_needed=True,
        help='Reading of the scale: "812 g".',
    ),
    scans=Input(
        name="scan",
        reader=as_written,
        is_many=True,
        metavar="CODE",
        help="A label scanned in; may be repeated.",
    ),
    recording=RECORDING,
)
@json_option
def check(
    kit: Kit, mass_kg: float, scans: tuple[str, ...], recording: Recording | None, as_json: bool
) -> int:
    """The mass of a packed kit against the window of a complete one, parts that would explain it, parts to see by eye.

    Exit status: 1 where the mass is outside the window, the scans are not those of the kit, or a part that nothing
    confirms is missing likelier than not; 0 where none is so, 2 for wrong input.

    \b
    Example:
      burnerlab kit check parts.toml --mass "812 g" --scan OR-54
    """
    from burnerlab.bench.kit import check_kit

    found = check_kit(kit, mass_kg, tuple(code.strip() for code in scans))
    entry = None if recording is None else _record(found, recording)
    if as_json:
        recorded_as = None if entry is None else entry.uid
        print_json(found, recorded_as=recorded_as)
        return _status(found)
    click.echo(_finding_text(found))
    if entry is not None:
        click.echo(f"\nrecorded: kit {entry.check.kit}, number {entry.number}")
    print_notes("Notes", found.notes)
    print_look_up([found.handbook])
    print_cautions()
    return _status(found)


def _status(finding: KitFinding) -> int:
    """Exit status for a line's script."""
    return OK if finding.verdict == Verdict.WITHIN else DIFFERS


def _record(finding: KitFinding, recording: Recording) -> KitRecord:
    from burnerlab.bench.kit import kit_entry
    from burnerlab.bench.record import add_kit_check, open_record

    made = kit_entry(
        finding,
        kit=recording.kit,
        tester=recording.tester,
        serial=recording.serial,
        note=recording.note,
    )
    with open_record(recording.file) as record:
        return add_kit_check(record, made)


def _share(value: float) -> str:
    return (
        f"{100 * value:.2f} %"
        if value < 0.995
        else f"{100 * value:.3f} %"
        if value < 0.99999
        else "> 99.999 %"
    )


def _window_text(window: KitWindow) -> str:
    from burnerlab.bench.kit import OF_SCALE, reading_text, scale_unit

    kit = window.kit
    pairs = [
        ("kit", f"{kit.name}, {sum(part.count for part in kit.parts)} pieces"),
        ("complete kit reads", f"{reading_text(kit, window.low_kg)} to {reading_text(kit, window.high_kg)}"),
        (
            "expected",
            f"{reading_text(kit, window.mass_kg, 2)}, standard deviation {reading_text(kit, window.sigma_kg, 2)}",
        ),
        ("false alarm", f"{_share(window.false_alarm)} of complete kits read outside"),
    ]
    by_part: dict[str, list[str]] = {}
    for fault in window.faults:
        word = _share(fault.detection) + ("" if fault.is_detectable else " *")
        by_part.setdefault(fault.part, []).append(word)
    counts = {part.name: part for part in kit.parts}
    rows = [
        (
            name,
            str(counts[name].count),
            reading_text(kit, counts[name].mass_kg, 2).partition(OF_SCALE)[0],
            *words,
        )
        for name, words in by_part.items()
    ]
    heads = ("part", "pieces", f"{scale_unit(kit)[0]} each", "one missing: noticed", "one too many: noticed")
    text = facts(pairs) + "\n\n" + table(heads, rows, as_written=True)
    if window.undetectable:
        parts = ", ".join(dict.fromkeys(fault.part for fault in window.undetectable))
        detection = f"{100 * kit.detection:g} %"
        text += f"\n\n* Mass does not show this (noticed in less than {detection} of kits): {parts}.\n"
        text += "  Count these by eye or scan them."
    return text


def _named(part: str, change: int) -> str:
    return "complete" if not change else f"one {part} {'missing' if change < 0 else 'too many'}"


def _finding_text(finding: KitFinding) -> str:
    from burnerlab.bench.kit import reading_text

    window = finding.window
    kit, scanned = window.kit, finding.scanned
    span = f"{reading_text(kit, window.low_kg)} to {reading_text(kit, window.high_kg)}"
    pairs = [
        ("kit", kit.name),
        ("verdict", finding.verdict.emphatic + WAYS_OUT[finding.verdict]),
        ("reading", reading_text(kit, finding.mass_kg)),
        ("mass, window", f"{finding.mass_verdict.emphatic} {span}"),
    ]
    for word, listed in (("scan: missing", scanned.missing), ("scan: too many", scanned.too_many)):
        pairs += [(word, f"{one.pieces} of {one.part}") for one in listed]
    pairs += [("scan: of no part", code) for code in scanned.unknown]
    if scanned.confirmed:
        pairs.append(("scan: all there", ", ".join(scanned.confirmed)))
    text = facts(pairs)
    likely = [
        (_named(s.part, s.change), f"{100 * s.probability:.1f} %")
        for s in finding.suspects
        if s.probability >= LIKELY
    ]
    if scanned.differs:  # what the scans name is known: no probability beside it
        text += "\n\nThe scans differ from the list: what the mass alone makes likely is left out."
    elif scanned.confirmed and len(finding.suspects) == 1 and not finding.suspects[0].change:
        text += "\n\nEvery piece is scanned: nothing is left to the mass alone."
    elif likely:
        text += "\n\n" + table(("if at most one piece is wrong, the reading fits", "probability"), likely)
    elif finding.mass_verdict == Verdict.OUTSIDE:
        text += "\n\nNo single missing or doubled part explains this reading: unpack and count."
    if finding.verdict == Verdict.OUTSIDE:
        text += "\n\nUnpack, count, read each mark and put right before this kit goes out."
    elif finding.look_for:
        text += f"\n\nMass does not show these: count by eye or scan {', '.join(finding.look_for)}."
    return text
