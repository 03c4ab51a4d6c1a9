"""How long one turn of the meter's dial takes at a heat input: what job card and test plan print beside a rate."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.operation.supply_pressures import same_pressure
from burnerlab.bench.reading.heat_input import heat_content
from burnerlab.bench.reading.meter import (
    Dial,
    MeterReading,
    metered_heat_J_per_m3,
    turn_time_s,
    usual_dial,
)
from burnerlab.bench.unit import is_LP, meter_pressure_Pa
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.report.sheet.blocks import ALTITUDE, MASS_FLOW, TEMPERATURE, fixed, pressure
from burnerlab.report.sheet.vocabulary import gas_words
from burnerlab.report.sheet.wording import name
from burnerlab.tables.phrase import Phrase, joined

TENTHS_s = 100.0  # up to here a stopwatch is read to a tenth
LONG_TURN_s = 600.0  # from here on a turn is timed in minutes
SLOW_TURN_s = 300.0  # from here on one turn takes longer than anyone should wait for
SMALLER = Phrase(
    "A turn takes more than 5 min: use a smaller dial of the meter, or time a part of a turn in proportion."
)
AS_ENTERED = Phrase("as entered")


@dataclass(frozen=True, slots=True, kw_only=True)
class DialTimes:
    """The dial that is timed, and what a cubic metre is worth as its meter counts it."""

    dial: Dial
    heat_J_per_m3: float  # gross
    gas: str  # as printed
    at: str  # conditions in words
    elsewhere: str = ""  # where a pressure at the meter is written, in a file that has none
    heat_J_per_kg: float | None = None  # gross, of gas from a cylinder that can be weighed

    def time_s(self, heat_input_gross_W: float) -> float:
        return turn_time_s(self.dial.volume_m3, self.heat_J_per_m3, heat_input_gross_W)

    def time_text(self, heat_input_gross_W: float) -> str:
        return seconds_text(self.time_s(heat_input_gross_W))

    def expected_text(self, heat_input_gross_W: float, low_W: float) -> str:
        """The time at the expected heat input, in the form of those of a band that begins at ``low_W``."""
        is_long = self.time_s(low_W) >= LONG_TURN_s
        return (minutes_text if is_long else seconds_text)(self.time_s(heat_input_gross_W))

    def band_text(self, low_W: float, high_W: float) -> str:
        """Times within the band."""
        return times_within(self.time_s(high_W), self.time_s(low_W))

    def mass_text(self, heat_input_gross_W: float, system: System) -> str:
        """What a cylinder loses at a heat input, ``0.236 kg/h``; "" for gas that comes from none."""
        if self.heat_J_per_kg is None:
            return ""
        return MASS_FLOW.scale(system).text(heat_input_gross_W / self.heat_J_per_kg)

    def mass_band_text(self, low_W: float, high_W: float, system: System) -> str:
        """Between what a cylinder loses within the band, the unit once; "" for gas that comes from none."""
        low, high = (self.mass_text(end, system) for end in (low_W, high_W))
        unit = f" {MASS_FLOW.scale(system).unit}"
        return Phrase("{low} to {high}", low=low.removesuffix(unit), high=high) if high else ""

    def words(self, lowest_W: float, system: System) -> str:
        """Which dial and which gas in it, at which conditions.

        lowest_W : heat input of the burner that takes longest, gross
        """
        volume, unit = self.dial.volume_m3, "ft3" if system == "US" else "L"
        own = self.dial.words
        if own != AS_ENTERED:
            own = Phrase("{dial}; another dial has another time", dial=own)
        words = Phrase(
            "Time of one turn of {size} ({dial}), {gas}, {conditions}; every load off but that of the row.",
            size=f"{float(in_unit(volume, Kind.VOLUME, unit)):.4g} {unit}",
            dial=own,
            gas=self.gas,
            conditions=self.at,
        )
        slow = (SMALLER,) if self.time_s(lowest_W) > SLOW_TURN_s else ()
        return joined(" ", (*slow, words, *filter(None, (self.elsewhere,))))


def dial_times(c: Conversion, dial_m3: float | None, system: System) -> DialTimes:
    """The meter on the new gas: at the inlet of its supply train where that is a meter's, else without pressure.

    dial_m3 : volume of one turn [m3]; None is that usual in the region of the appliance, or by the reader's units
    """
    usual = usual_dial(c.region, system)
    dial = usual if dial_m3 is None else Dial(volume_m3=dial_m3, words=AS_ENTERED)
    gas = name(gas_words(c.to_gas.title))
    at: str
    if c.job is None:
        at = Phrase("at the reference state of the sheet")
        return DialTimes(dial=dial, heat_J_per_m3=c.to_gas.gross_heating_value_J_per_m3, gas=gas, at=at)
    gauge = meter_gauge_Pa(c.job)
    site = c.job.new_site
    reading = MeterReading(
        dial_m3=dial.volume_m3,
        times_s=(),
        gas_temperature_K=site.gas_temperature_K,
        ambient_pressure_Pa=site.ambient_pressure_Pa,
    )
    heat = heat_content(c.job.target.gas, c.job.target.reference)
    metered = metered_heat_J_per_m3(replace(reading, gauge_pressure_Pa=gauge), heat)
    inlet = pressure(gauge).scale(system).text(gauge)
    warm = TEMPERATURE.scale(system).text(site.gas_temperature_K)
    place = () if site.altitude_m is None else (ALTITUDE.scale(system).text(site.altitude_m),)
    read = Phrase("meter at {inlet} gauge, {temperature}", inlet=inlet, temperature=warm)
    return DialTimes(
        dial=dial,
        heat_J_per_m3=metered,
        gas=gas,
        at=joined(", ", (read, *place)),
        elsewhere=_elsewhere(c.job),
        heat_J_per_kg=c.to_gas.gross_heating_value_J_per_kg if is_LP(c.job.new.flowing) else None,
    )


def _elsewhere(job: Job) -> str:
    """Which keys hold the pressure at a meter ahead of a regulator, where the file names none; "" where it does."""
    train = job.new_train.train
    if is_LP(job.new.flowing) or (train is not None and train.inlet_gauge_pressure_Pa is not None):
        return ""  # a meter of LP gas stands behind the regulator of its cylinder
    supply, target = job.appliance.supply, job.target
    is_present = target.gas == supply.gas and same_pressure(
        target.gauge_pressure_Pa, supply.gauge_pressure_Pa
    )
    return Phrase(
        "Ahead of a regulator the time is another: the engineer enters {inlet} and regulator in {table}.",
        inlet="inlet",
        table="[supply]" if is_present else "[new_supply]",
    )


def meter_gauge_Pa(job: Job) -> float:
    """Gauge pressure at a meter for the new gas [Pa]: the inlet of its supply train, else the nominal pressure.

    A meter of LP gas stands behind the regulator of its cylinder, and an inlet that the file gives for another supply
    says nothing of it: ``meter_pressure_Pa``.
    """
    own = job.target.gauge_pressure_Pa
    supply = replace(
        job.appliance.supply, gas=job.target.gas, gauge_pressure_Pa=own, train=job.new_train.train
    )
    return meter_pressure_Pa(replace(job.appliance, supply=supply)) or own


def seconds_text(seconds: float) -> str:
    """A time as a stopwatch is read.

    >>> seconds_text(37.249), seconds_text(264.4), seconds_text(754.6)
    ('37.2 s', '264 s', '12 min 35 s')
    """
    if seconds < TENTHS_s:
        return f"{fixed(seconds, 1)} s"
    if seconds < LONG_TURN_s:
        return f"{fixed(seconds, 0)} s"
    return minutes_text(seconds)


def times_within(low_s: float, high_s: float) -> str:
    """The times between two ends as a stopwatch is read: none that is printed lies outside.

    >>> times_within(28.06, 31.09), times_within(251.2, 278.9)
    ('28.1 to 31.0 s', '252 to 278 s')
    """
    low, high = (1.0 if end >= TENTHS_s else 0.1 for end in (low_s, high_s))
    return between(math.ceil(low_s / low - 1e-9) * low, math.floor(high_s / high + 1e-9) * high)


def between(low_s: float, high_s: float) -> str:
    """Two times, a common unit once.

    >>> between(251.9, 278.4), between(590.0, 652.1)
    ('252 to 278 s', '9 min 50 s to 10 min 52 s')
    """
    if high_s >= LONG_TURN_s:
        return Phrase("{low} to {high}", low=minutes_text(low_s), high=minutes_text(high_s))
    low, high = seconds_text(low_s), seconds_text(high_s)
    return Phrase("{low} to {high}", low=low.removesuffix(" s"), high=high)


def minutes_text(seconds: float) -> str:
    """A time in minutes and seconds.

    >>> minutes_text(590.0)
    '9 min 50 s'
    """
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s"
