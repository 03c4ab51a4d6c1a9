"""When a test stops: the notices of the table ``stops``, which only a qualified person's release ends."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cache
from string import Formatter
from typing import Literal, get_args

from burnerlab import tables
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.quantity import Kind, in_unit
from burnerlab.quantity.band_ends import BandEnd, pressure_end, pressure_ends
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.show import System, number
from burnerlab.tables.cautions import ALWAYS, Signal
from burnerlab.tables.handbook_link import handbook_of
from burnerlab.tables.phrase import Phrase

Scope = Literal["unit", "bench"]
SIGNALS = (Signal.DANGER, Signal.WARNING, Signal.CAUTION)  # worst first
MOST_INCHES_PSI = 2.0
DIGITS = 3  # of a figure in a notice
SYSTEMS: tuple[System, ...] = get_args(System)


@dataclass(frozen=True, slots=True, kw_only=True)
class StopNotice:
    """Why a test stops, and what to do, step by step.

    >>> print(*stop_notice("light-back").lines(), sep="\\n")
    WARNING: STOP. Light-back.
    Close the burner valve, then the supply valve.
    Leave both closed and let the parts cool: hot parts can ignite gas.
    Keep the gas off until a qualified person has found and corrected the cause, leak tested by the local code \
and recorded the release.
    """

    id: str = field(metadata=output("id"))
    scope: Scope = field(metadata=output("scope"))  # bench: no other unit is tested on this supply either
    signal: Signal = field(metadata=output("signal"))
    heading: str = field(metadata=output("heading"))
    do_first: str = field(metadata=output("do first"))
    then: str = field(metadata=output("then"))
    why: str = field(default="", metadata=output("because"))  # the reading or observation that raised it

    @property
    @computed_output("always")
    def always(self) -> str:
        """What holds for every stop."""
        return ALWAYS

    @property
    @computed_output("explained in the handbook")
    def handbook(self) -> str:
        """Page and heading of the handbook that explain the stop."""
        return handbook_of(self.id, "stop")

    def lines(self) -> tuple[str, ...]:
        """Heading under its signal word, then what to do."""
        why = (f"Because: {self.why}.",) if self.why else ()
        return (f"{self.signal}: {self.heading}", self.do_first, self.then, ALWAYS, *why)


@cache
def stop_rows() -> dict[str, tables.Row]:
    """Rows of the table ``stops`` by id, worst first.

    >>> next(iter(stop_rows()))
    'odour'
    """
    return {row["id"]: row for row in tables.rows("stops")}


def card_conditions() -> tuple[str, ...]:
    """What a job card says to stop at, the worst first: each stop but those that causes of a reading raise.

    >>> card_conditions()[:3]
    ('Smell of gas', 'CO alarm', 'another gas on the label')
    """
    return tuple(Phrase(row["card"]) for row in stop_rows().values() if row["card"])


def stop_notice(id: str, *, why: str = "", **words: str) -> StopNotice:
    """The notice of this id with the words its sentences leave open, such as ``gas``, ``read`` or ``limit``.

    Raises KeyError for an id that is not in the table and for a word that is missing.

    >>> stop_notice("pressure", read="27 mbar", limit="20 mbar").heading
    'STOP. Manifold pressure 27 mbar, highest allowed 20 mbar.'
    """
    row = stop_rows()[id]
    scope: Scope = "bench" if row["scope"] == "bench" else "unit"
    signal = Signal(row["signal"])
    heading, first, then = (
        Formatter().vformat(row[name], (), words) for name in ("heading", "do_first", "then")
    )
    return StopNotice(id=id, scope=scope, signal=signal, heading=heading, do_first=first, then=then, why=why)


def worst_first(stops: Iterable[StopNotice]) -> tuple[StopNotice, ...]:
    """Stops in the order in which they are said: that of the table, each id once.

    >>> [one.id for one in worst_first([stop_notice("soot"), stop_notice("odour"), stop_notice("soot")])]
    ['odour', 'soot']
    """
    order = {id: place for place, id in enumerate(stop_rows())}
    by_id = {stop.id: stop for stop in reversed(tuple(stops))}
    return tuple(sorted(by_id.values(), key=lambda stop: order.get(stop.id, -1)))  # unknown: of a newer table


BELOW = "below"
INSTEAD = Phrase("; computed for the gas of the unit instead: ")
OF_OTHER_GAS = Phrase("; computed for another gas instead: ")


def consistent_stops(stops: Iterable[StopNotice]) -> tuple[StopNotice, ...]:
    """Stops of which none contradicts another: an overfire, and another gas with which the unit is below its rating.

    Each is computed for a gas of its own. The gas that is suspected is the heading and holds the bench; beside one that
    is only not ruled out the overfire is. What the other says stands behind the cause, with the gas it is computed for.

    >>> both = [stop_notice("overfire", why="70 % above", percent="70 %", against="", read="", true=""),
    ...     stop_notice("wrong-gas", why="G20 flows", gas="G20", read="", burner="", true="", percent=f"58 % {BELOW}")]
    >>> [(one.id, one.why) for one in consistent_stops(both)]
    [('wrong-gas', 'G20 flows; computed for the gas of the unit instead: 70 % above')]
    """
    every = tuple(stops)
    by_id = {one.id: one for one in every}
    overfire, gas = by_id.get("overfire"), by_id.get("wrong-gas") or by_id.get("gas-not-ruled-out")
    if overfire is None or gas is None or f" {BELOW} " not in gas.do_first:
        return every
    first, second, words = (
        (gas, overfire, INSTEAD) if gas.id == "wrong-gas" else (overfire, gas, OF_OTHER_GAS)
    )
    why = first.why if words in first.why or not second.why else f"{first.why}{words}{second.why}"
    return tuple(replace(one, why=why) if one is first else one for one in every if one is not second)


RATED = "the rated heat input"  # of the plate
LOW_RATE = "the low rate"  # of the file
CALCULATED = "the heat input calculated at the file's pressure"  # by its orifices, gas and pressure
CALCULATED_AT_READ = "the heat input calculated at the pressure read"  # by its orifices and gas


def misread(ratio: float) -> str:
    """What to ask first of a reading that a slip explains sooner than a burner; "" for any other.

    ratio : as read over the rated or the calculated heat input [-]

    >>> misread(17.7)
    '; first check, gas off, that each figure and its unit is entered right: a slip is likely'
    >>> misread(2.0)
    ''
    """
    if not ratio > bench_limit("plausible_ratio").high:
        return ""
    return Phrase("; first check, gas off, that each figure and its unit is entered right: a slip is likely")


def power_words(power_W: float, basis: str = "gross") -> str:
    """A heat input in both units of the trade, with its basis.

    >>> power_words(8792.0)
    '8.79 kW (30 000 Btu/h) gross'
    """
    in_Btu = float(f"{in_unit(power_W, Kind.POWER, 'Btu/h'):.{DIGITS}g}")
    return f"{number(power_W / 1e3, DIGITS)} kW ({number(in_Btu, DIGITS)} Btu/h) {basis}"


def share_words(probability: float) -> str:
    """A probability in per cent.

    >>> share_words(0.9996), share_words(0.27), share_words(0.0016), share_words(1e-7)
    ('over 99 %', '27 %', '0.16 %', 'under 0.01 %')
    """
    if probability < 1e-4:
        return "under 0.01 %"
    if probability > 0.995:
        return "over 99 %"
    return f"{100.0 * probability:.0f} %" if probability >= 0.1 else f"{100.0 * probability:.2g} %"


def pressure_words(gauge_pressure_Pa: float, digits: int = DIGITS) -> str:
    """A gauge pressure in both units of the trade.

    >>> pressure_words(2739.97)
    '27.4 mbar (11.0 in w.c.)'
    >>> pressure_words(593600.0)  # from 2 psi on nobody reads it in inches
    '5936 mbar (86.1 psi)'
    """
    psi = float(in_unit(gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "psi"))
    if psi > MOST_INCHES_PSI:
        return f"{number(gauge_pressure_Pa / 1e2, digits)} mbar ({number(psi, digits)} psi)"
    inches = float(in_unit(gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "in w.c."))
    return f"{number(gauge_pressure_Pa / 1e2, digits)} mbar ({number(inches, digits)} in w.c.)"


def pressure_end_words(gauge_pressure_Pa: float, end: BandEnd) -> str:
    """One end of a band of pressures in both units of the trade, in each rounded into the band.

    >>> pressure_end_words(1857.0, "high")
    '18.5 mbar (7.45 in w.c.)'
    """
    metric, US = (pressure_end(gauge_pressure_Pa, end, system) for system in SYSTEMS)
    return f"{metric} ({US})"


def pressure_ends_words(low_Pa: float, high_Pa: float) -> tuple[str, str]:
    """Both ends of a band of pressures in both units of the trade, in each rounded into the band.

    >>> pressure_ends_words(1609.0, 1857.0)
    ('16.1 mbar (6.46 in w.c.)', '18.5 mbar (7.45 in w.c.)')
    """
    (low, high), (low_US, high_US) = (pressure_ends(low_Pa, high_Pa, system) for system in SYSTEMS)
    unit, unit_US = (text.partition(" ")[2] for text in (high, high_US))
    return f"{low} {unit} ({low_US} {unit_US})", f"{high} ({high_US})"


def pressure_beside_words(read_Pa: float, end: str) -> str:
    """A pressure read beyond an end of its band, in both units; with more digits where it would print as that end.

    >>> pressure_beside_words(1608.0, "16.1 mbar (6.46 in w.c.)")
    '16.08 mbar (6.456 in w.c.)'
    """
    words = pressure_words(read_Pa)
    pairs = zip(words.rstrip(")").split(" ("), end.rstrip(")").split(" ("), strict=True)
    return pressure_words(read_Pa, DIGITS + 1) if any(read == limit for read, limit in pairs) else words
