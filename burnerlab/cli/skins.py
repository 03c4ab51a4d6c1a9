"""``burnerlab skins``: how hot outer panels get."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.inputs import APPLIANCE, COEFFICIENTS, own_table
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json, print_notes, provenance_words, table
from burnerlab.cli.takes import takes
from burnerlab.cli.units import ZERO_C_K
from burnerlab.quantity.inputs import Input

if TYPE_CHECKING:
    from pathlib import Path

    from burnerlab.appliance import Appliance
    from burnerlab.layout.skins import PanelSkin, Skins, TouchLimit


@click.command(short_help="How hot outer panels get, beside touch thresholds and limits.")
@takes(
    file=APPLIANCE,
    room=Input(name="room", metavar="T", default="25 C", help="Room air and walls."),
    coefficients=COEFFICIENTS,
    limits=own_table("limits", "touch_limits"),
)
@json_option
def command(
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
    result = _result(file.name, found)
    if as_json:
        print_json(result)
        return
    click.echo(_text(file.name, found))
    print_notes(
        "Disagreements between sources", [note for panel in found.panels for note in panel.disagreements]
    )
    print_notes("Notes", found.notes)
    print_cautions(file.supply.gas)


def _result(name: str, found: Skins) -> dict[str, Any]:
    return {
        "appliance": name,
        "room_C": found.room_K - ZERO_C_K,
        "evidence": found.evidence,
        "panels": [_panel(panel) for panel in found.panels],
        "notes": found.notes,
        "cautions": cautions(),
    }


def _panel(panel: PanelSkin) -> dict[str, Any]:
    return {
        "name": panel.name,
        "touched_material": panel.material,
        "outer_temperature_C": panel.outer_K - ZERO_C_K,
        "outer_temperature_band_C": [panel.low_K - ZERO_C_K, panel.high_K - ZERO_C_K],
        "faces_C": [face - ZERO_C_K for face in panel.faces_K],
        "heat_to_room_W_per_m2": panel.heat_W_per_m2,
        "limits": [_limit(one) for one in panel.limits],
        "disagreements": panel.disagreements,
    }


def _limit(one: TouchLimit) -> dict[str, Any]:
    high = one.temperature_high_K
    return {
        "name": one.name,
        "contact": one.contact,
        "kind": one.kind,
        "temperature_C": one.temperature_K - ZERO_C_K,
        "temperature_high_C": None if high is None else high - ZERO_C_K,
        "published_as_a_rise": one.as_rise,
        "position": one.position,
        "source": one.source,
        "provenance": one.provenance,
        "note": one.note,
    }


def _text(name: str, found: Skins) -> str:
    parts = [
        f"{name}: outer panels in a room of {found.room_K - ZERO_C_K:.0f} C (evidence: {found.evidence})"
    ]
    for panel in found.panels:
        faces = ", ".join(f"{face - ZERO_C_K:.0f}" for face in panel.faces_K)
        parts += [
            "",
            f"{panel.name}: {panel.outer_K - ZERO_C_K:.0f} C outside, band {panel.low_K - ZERO_C_K:.0f} to "
            f"{panel.high_K - ZERO_C_K:.0f} C; faces from inside {faces} C",
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
    text = f"{one.temperature_K - ZERO_C_K:.0f}"
    if one.temperature_high_K is not None:
        text += f" to {one.temperature_high_K - ZERO_C_K:.0f}"
    return text + (" (rise)" if one.as_rise else "")
