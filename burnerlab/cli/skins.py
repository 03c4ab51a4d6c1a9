"""``burnerlab skins``: how hot outer panels get."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import APPLIANCE, COEFFICIENTS, own_table
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json, print_notes, provenance_words, table
from burnerlab.cli.takes import takes
from burnerlab.quantity import Kind, in_unit
from burnerlab.quantity.inputs import Input

if TYPE_CHECKING:
    from pathlib import Path

    from burnerlab.appliance import Appliance
    from burnerlab.layout.skins import Skins, TouchLimit


@click.command(short_help="How hot outer panels get, beside touch thresholds and limits.")
@takes(
    file=APPLIANCE,
    room=Input(name="room", metavar="T", default="25 C", help="Room air and walls."),
    coefficients=COEFFICIENTS,
    limits=own_table("limits", "touch_limits"),
)
@json_option
def skins_command(
    file: Appliance, room: float, coefficients: Path | None, limits: Path | None, as_json: bool
) -> None:
    """Outer temperature of every [[panel]] of FILE with its band, beside published thresholds and limits.

    A panel has a hot inside, one or more sheets with air gaps between them, and a height. The limits are shown as they
    were published, with their disagreements. No clearance follows from them, and touch temperatures need a test.

    \b
    Examples:
      burnerlab skins cart.toml
      burnerlab skins cart.toml --room "35 C" --json
    """
    from burnerlab.layout.skins import skins

    found = skins(file, room, own=coefficients, limits=limits)
    if as_json:
        print_json(found, appliance=file.name)
        return
    click.echo(_text(file.name, found))
    print_notes(
        "Disagreements between sources", [note for panel in found.panels for note in panel.disagreements]
    )
    print_notes("Notes", found.notes)
    print_cautions(file.supply.gas)


def _text(name: str, found: Skins) -> str:
    parts = [f"{name}: outer panels in a room of {_C(found.room_K)} C (evidence: {found.evidence})"]
    for panel in found.panels:
        faces = ", ".join(_C(face) for face in panel.faces_K)
        parts += [
            "",
            f"{panel.name}: {_C(panel.outer_temperature_K)} C outside, band {_C(panel.outer_temperature_low_K)} to "
            f"{_C(panel.outer_temperature_high_K)} C; faces from inside {faces} C",
        ]
        rows = [
            (
                f"{one.name}, {one.contact}" if one.contact and one.contact not in one.name else one.name,
                one.kind,
                provenance_words(one.provenance).partition(",")[0],
                _degrees(one),
                one.position,
            )
            for one in panel.limits
        ]
        parts.append(table(("published figure", "kind", "known by", "C", "panel is"), rows, left=3))
    return "\n".join(parts)


def _degrees(one: TouchLimit) -> str:
    text = _C(one.temperature_K)
    if one.temperature_high_K is not None:
        text += f" to {_C(one.temperature_high_K)}"
    return text + (" (rise)" if one.as_rise else "")


def _C(temperature_K: float) -> str:
    return f"{in_unit(temperature_K, Kind.TEMPERATURE, '°C'):.0f}"
