"""``skins``: how hot outer panels get."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.common_inputs import APPLIANCE, COEFFICIENTS, own_table
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    print_cautions,
    print_json,
    print_notes,
    provenance_words,
    reader_system,
    table,
    temperature,
    wrapped,
)
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import Input
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.show import display_unit

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.layout.hot_panels import Skins, TouchLimit


@click.command(short_help="Temperatures of outer panels, compared with touch thresholds and limits.")
@takes(
    file=APPLIANCE,
    room=Input(name="room", metavar="T", default="25 C", help='Temperature of room air and walls: "25 C".'),
    coefficients=COEFFICIENTS,
    limits=own_table("touch_limits"),
)
@json_option
def skins_command(
    file: Appliance, room: float, coefficients: Path | None, limits: Path | None, as_json: bool
) -> None:
    """Outer temperature of every [[panel]] of FILE with its band, compared with published thresholds and limits.

    A panel has a hot inside, one or more sheets with air gaps between them, and a height. The limits are shown as they
    were published, with their disagreements. No clearance follows from them, and touch temperatures need a test.

    \b
    Examples:
      burnerlab skins cart.toml
      burnerlab skins cart.toml --room "35 C" --json
    """
    from burnerlab.layout.hot_panels import skins

    found = skins(file, room, own=coefficients, limits=limits)
    if as_json:
        print_json(found, appliance=file.name)
        return
    click.echo(_skins_text(file.name, found))
    print_notes(
        "Disagreements between sources", [note for panel in found.panels for note in panel.disagreements]
    )
    print_notes("Notes", found.notes)
    print_cautions(file.supply.gas)


def _skins_text(name: str, skins: Skins) -> str:
    parts = [f"{name}: outer panels in a room of {temperature(skins.room_K)} (evidence: {skins.evidence})"]
    degree, _ = display_unit(skins.room_K, Kind.TEMPERATURE, reader_system())
    for panel in skins.panels:
        faces = ", ".join(temperature(face, has_unit=False) for face in panel.faces_K)
        low, high = panel.outer_temperature_low_K, panel.outer_temperature_high_K
        parts += [
            "",
            wrapped(
                f"{panel.name}: {temperature(panel.outer_temperature_K)} outside, band "
                f"{temperature(low, has_unit=False)} to {temperature(high)}; faces from inside {faces} {degree}",
                subsequent="  ",
            ),
        ]
        rows = [
            (
                in_reader_units(_called(one), reader_system()),
                one.kind,
                provenance_words(one.provenance).partition(",")[0],
                _degrees(one),
                one.position,
            )
            for one in panel.limits
        ]
        heads = ("published figure", "kind", "known by", degree, "panel is")
        parts.append(table(heads, rows, left_columns=3, as_written=True))
    return "\n".join(parts)


def _called(limit: TouchLimit) -> str:
    """A published figure by its name, with the contact it holds for where that is not in it."""
    has_contact = limit.contact and limit.contact not in limit.name
    return f"{limit.name}, {limit.contact}" if has_contact else limit.name


def _degrees(limit: TouchLimit) -> str:
    text = temperature(limit.temperature_K, has_unit=False)
    if limit.temperature_high_K is not None:
        text += f" to {temperature(limit.temperature_high_K, has_unit=False)}"
    return text + (" (rise)" if limit.is_rise else "")
