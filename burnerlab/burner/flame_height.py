"""Height of the flame over one port of a partially aerated burner: closed form, band, and where it is withheld.

A diffusion flame round a premixed core ends where the last fuel has met its secondary air. Its height goes with the
flow of primary mixture through the port and falls with primary aeration; the size of the port cancels.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from burnerlab.burner.coefficients import Array, Numbers, array, coefficients
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.figure import Evidence, weakest

if TYPE_CHECKING:
    from burnerlab.burner.state import BurnerState

LONG_SLOT = "the closed form holds for round and square ports, not for long slots"
ALL_PRIMARY = "all air is primary: there is no outer flame, the inner cone is the flame"
NO_AERATION = "the primary air is not known"
APART = "ports far enough apart for flames of their own"
CLOSE = "ports so close that flames join"
PITCH_UNKNOWN = "the pitch of the ports is not given: flames may join"
ROWS_UNKNOWN = "the rows of the ports are not given: flames may join"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameHeight:
    """Height over the ports with its band; arrays over the cases, nan where it is withheld."""

    height_m: Array = field(metadata=output("flame height", Kind.LENGTH))
    low_m: Array = field(metadata=output("low end", Kind.LENGTH))
    high_m: Array = field(metadata=output("high end", Kind.LENGTH))
    evidence: Evidence = field(metadata=output("evidence"))
    note: str = field(metadata=output("note"))
    """What its high end holds, or why it is withheld."""


def secondary_air_ratio(stoichiometric_air: Numbers, aeration: Numbers) -> Array:
    """Secondary air that a volume of primary mixture still takes, S = (1 - a) A/(1 + a A) [m3/m3].

    stoichiometric_air : A of the gas [m3/m3]; aeration : a, primary over stoichiometric air [-], 0 to 1
    At and above a = 1 there is none to take: 0. Source: balance of volumes.

    >>> float(secondary_air_ratio(9.547, 0.55))
    0.688
    """
    air, a = array(stoichiometric_air), array(aeration)
    ratio: Array = np.maximum(1.0 - a, 0.0) * air / (1.0 + a * air)
    return ratio


def isolated_flame_height_m(
    mixture_m3_per_s: Numbers, secondary_air_ratio: Numbers, *, square: bool = False, own: Path | None = None
) -> Array:
    """Height of one flame by itself, H = 1330 Q/ln(1 + 1/S), square port H = 1045 Q/erfinv((1 + S)^-0.5)^2 [m].

    mixture_m3_per_s : Q, primary mixture through one port at 15 C, 101.325 kPa [m3/s]; room temperature and pressure
    cancel, because the diffusivity goes with them. secondary_air_ratio : S [m3/m3], above 0.
    Range: laminar, round and square ports of any size. Error: within about a quarter of measured heights (memory).
    Source: roper-flame-height.

    >>> float(isolated_flame_height_m(3.33e-6, 0.688))
    0.0049
    >>> float(isolated_flame_height_m(3.33e-6, 0.688, square=True))
    0.0048
    """
    from scipy.special import erfinv

    flow, ratio = array(mixture_m3_per_s), array(secondary_air_ratio)
    table = coefficients(own)
    with np.errstate(divide="ignore", invalid="ignore"):
        if square:
            shape = erfinv((1.0 + ratio) ** -0.5) ** 2
            height: Array = table["flame height, square port"].value * flow / shape
        else:
            height = table["flame height, round port"].value * flow / np.log1p(1.0 / ratio)
    return np.asarray(np.where(ratio > 0.0, height, np.nan))


@dataclass(frozen=True, slots=True, kw_only=True)
class FlamePorts:
    """What the height of a flame needs to know of the ports of one burner."""

    count: Numbers
    width_m: Numbers  # diameter of round ports, width of slots
    slot_length_m: Numbers | None = None  # of each slot; None for round ports
    pitch_m: float | None = None  # between nearest neighbours; None where it is not known
    rows: float | None = None  # None where they are not known


def flame_height(
    ports: FlamePorts,
    heat_input_gross_W: Numbers,
    gas: tuple[float, float],
    aeration: tuple[Numbers, Numbers, Numbers],
    *,
    ceiling_m: Numbers = np.inf,
    own: Path | None = None,
) -> FlameHeight:
    """Height of a burner's flames with its band.

    heat_input_gross_W : of all ports together
    gas : gross heating value at 15 C, 101.325 kPa [J/m3] and stoichiometric air A [m3/m3]
    aeration : nominal, least and most [-]; the least gives the high end
    ceiling_m : height of the line flame without primary air, which joined flames do not pass [m]
    The band holds the scatter of the closed form and the band of the aeration. Its high end is three times that where
    flames join (pitch below 2.5 port widths, more than two rows) or where that is not known, but not above the ceiling.
    Withheld for long slots, without primary air, and where all air is primary. Source: roper-flame-height.

    >>> drilled = FlamePorts(count=180, width_m=1.6e-3, pitch_m=4.4e-3, rows=1)
    >>> found = flame_height(drilled, 3600.0, (37.7e6, 9.55), (0.55, 0.50, 0.60))
    >>> float(found.height_m), float(found.high_m)
    (0.0049, 0.0064)
    """
    table = coefficients(own)
    nominal, least, most = (array(end) for end in aeration)
    square = ports.slot_length_m is not None
    row = table["flame height, square port" if square else "flame height, round port"]
    heating_value, air = gas
    gas_per_port = array(heat_input_gross_W) / array(ports.count) / heating_value

    def height(a: Array) -> Array:
        mixture = gas_per_port * (1.0 + a * air)
        return isolated_flame_height_m(mixture, secondary_air_ratio(air, a), square=square, own=own)

    ends = [height(nominal), height(most), height(least)]
    why_not = _why_not(ports, nominal, own)
    if why_not == LONG_SLOT:
        ends = [np.full(np.shape(end), np.nan) for end in ends]
    value, low, high = ends
    joined, note = _joined(ports, own)
    low = np.where(np.isnan(low) & ~np.isnan(value), 0.0, low) * (row.low / row.value)
    high = high * (row.high / row.value)
    if joined:
        high = np.maximum(high, np.minimum(high * table["height of joined flames"].high, ceiling_m))
    rows = [row, *([table["height of joined flames"]] if joined else [])]
    return FlameHeight(
        height_m=value,
        low_m=low,
        high_m=np.asarray(high),
        evidence=weakest(*(one.evidence for one in rows)),
        note=why_not or note,
    )


def flame_height_of(state: BurnerState, ceiling_m: Numbers = np.inf) -> FlameHeight:
    """The flames of an evaluated burner, at its heat input and over the band of its primary air.

    ceiling_m : height of the line flame without primary air [m]
    """
    geometry, fuel, air = state.geometry, state.fuel, state.air
    has_rows = geometry.port_rows is not None and bool(np.any(array(geometry.port_rows) > 1))
    pitches = [geometry.port_pitch_m, geometry.row_pitch_m if has_rows else None]
    return flame_height(
        FlamePorts(
            count=geometry.port_count,
            width_m=geometry.port_width_m,
            slot_length_m=geometry.slot_length_m,
            pitch_m=None if pitches[0] is None else min(float(np.min(p)) for p in pitches if p is not None),
            rows=None if geometry.port_rows is None else float(np.max(geometry.port_rows)),
        ),
        state.heat_input_gross_W,
        (fuel.heating_value_J_per_m3, fuel.stoichiometric_air),
        (air.aeration, air.low, air.high),
        ceiling_m=ceiling_m,
        own=state.options.own,
    )


def _why_not(ports: FlamePorts, aeration: Array, own: Path | None) -> str:
    if ports.slot_length_m is not None:
        longest = coefficients(own)["slot like a square port"].value
        if bool(np.any(array(ports.slot_length_m) > longest * array(ports.width_m))):
            return LONG_SLOT
    if bool(np.all(np.isnan(aeration))):
        return NO_AERATION
    return ALL_PRIMARY if bool(np.all(aeration >= 1.0)) else ""


def _joined(ports: FlamePorts, own: Path | None) -> tuple[bool, str]:
    """Whether the band has to hold joined flames, and why."""
    if ports.pitch_m is None:
        return True, PITCH_UNKNOWN
    least = coefficients(own)["pitch of separate flames"].value * float(np.max(ports.width_m))
    if ports.pitch_m < least or (ports.rows is not None and ports.rows > 2):
        return True, CLOSE
    return (True, ROWS_UNKNOWN) if ports.rows is None else (False, APART)
