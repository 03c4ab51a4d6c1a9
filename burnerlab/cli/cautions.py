"""What stands below every answer somebody could drill by; no option turns it off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import click

from burnerlab.tables import rows

WARNING = "WARNING: "
ASK = "is the unit as meant?"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A sentence to heed, under its signal word."""

    signal: str  # WARNING or NOTICE
    topic: str
    text: str

    def as_json(self) -> dict[str, str]:
        return {"signal": self.signal, "topic": self.topic, "text": self.text}


def cautions() -> tuple[Caution, ...]:
    """The cautions of the table ``cautions``.

    >>> cautions()[0].text.split(".")[0]
    'Calculated values for a qualified person to check'
    """
    return tuple(_caution(row["name"], row["text"]) for row in rows("cautions"))


def _caution(topic: str, text: str) -> Caution:
    warns = text.startswith(WARNING)
    return Caution(signal="WARNING" if warns else "NOTICE", topic=topic, text=text.removeprefix(WARNING))


def pressure_cautions(gauge_pressure_Pa: float, given: str) -> tuple[Caution, ...]:
    """A caution when a gauge pressure is not one of a low-pressure appliance; else nothing.

    gauge_pressure_Pa : pressure before the orifice [Pa]
    given : the same as the user wrote it

    >>> pressure_cautions(75842.0, "11 psi")[0].text
    '11 psi (75.8 kPa) is outside 0.5 to 15 kPa for a domestic low-pressure appliance: is the unit as meant?'
    """
    from burnerlab.quantity import UserError, check_low_pressure

    try:
        check_low_pressure(gauge_pressure_Pa, given)
    except UserError as error:
        return tuple(_caution("pressure", f"{problem.what}: {ASK}") for problem in error.problems)
    return ()


def bore_cautions(diameter_m: float, given: str) -> tuple[Caution, ...]:
    """A caution when a diameter is not one of a domestic burner's orifice; else nothing.

    diameter_m : of the hole [m]
    given : the same as the user wrote it

    >>> bore_cautions(0.0254, "1 in")[0].text
    '25.40 mm is outside 0.2 to 6 mm for an orifice of a domestic burner: is the unit as meant?'
    """
    from burnerlab.quantity import UserError, check_orifice_diameter

    try:
        check_orifice_diameter(diameter_m, given)
    except UserError as error:
        return tuple(_caution("diameter", f"{problem.what}: {ASK}") for problem in error.problems)
    return ()


def print_cautions(given: Sequence[Caution]) -> None:
    """Below a result, warnings under their word."""
    click.echo()
    for caution in given:
        head = f"{caution.signal}: "
        click.echo(click.wrap_text(head + caution.text, width=100, subsequent_indent=" " * len(head)))
