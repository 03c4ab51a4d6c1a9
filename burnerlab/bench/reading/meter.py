"""Heat input by gas meter and watch, its uncertainty, and how long to time."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.bench.decision_rule import Comparison, Rating, bench_limit
from burnerlab.bench.reading.heat_input import (
    HeatContent,
    InputMeasured,
    RatingState,
    compared,
    correction_of,
    factor_problems,
    factor_quantity,
)
from burnerlab.bench.reading.readings import (
    NO_REPEAT,
    MeterEntry,
    agreement_notes,
    doubts,
    refuse_impossible,
    repeats_of,
    timing_problems,
)
from burnerlab.bench.stop import pressure_words
from burnerlab.bench.uncertainty import (
    DRAWS,
    Budget,
    Instrument,
    Quantity,
    budget,
    coverage_factor,
    instruments,
    monte_carlo,
)
from burnerlab.gas import Gas, properties
from burnerlab.gas.dew_point import water_saturation_pressure_Pa
from burnerlab.quantity import Kind, ReferenceState, System, show
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError

# How long to time a meter or a scale for an uncertainty that is wanted.

TIMED = ("start and stop", "pointer", "repeats")  # contributions that a longer timing makes smaller


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingPlan:
    """How long to time for an uncertainty that is wanted."""

    wanted: float = field(metadata=output("expanded uncertainty wanted", Kind.FRACTION))
    time_s: float | None = field(metadata=output("time", Kind.TIME))  # None: no timing is long enough
    revolutions: int | None = field(metadata=output("revolutions"))
    least: float = field(metadata=output("expanded uncertainty of an endless timing", Kind.FRACTION))
    dominated_by: str = field(metadata=output("largest part that time does not help"))


def timing_for(
    linear: Budget, time_s: float, revolutions: int, target: float, timed: Sequence[str] = TIMED
) -> TimingPlan:
    """How long to time for an expanded uncertainty: u(t)^2 = u_rest^2 + (u_time t0/t)^2.

    linear : budget of a timing of ``time_s`` [s] and so many ``revolutions`` [-]; wanted : expanded, of the value [-]
    timed : names of the contributions that fall with time
    Returns the time of whole revolutions, or None when the rest alone is more than wanted.
    Raises UserError for a wanted uncertainty that is not above 0.
    """
    if not 0.0 < target < 1.0:
        raise UserError(
            Problem("must be above 0 and below 1", f"{target:g}", "wanted", accepted="such as 2 %")
        )
    relative = [
        (contribution, contribution.contribution / abs(linear.value)) for contribution in linear.contributions
    ]
    falls = math.sqrt(math.fsum(u * u for contribution, u in relative if contribution.quantity.name in timed))
    stays = math.sqrt(
        math.fsum(u * u for contribution, u in relative if contribution.quantity.name not in timed)
    )
    k = float(coverage_factor(math.inf, linear.coverage))  # repeats will be enough when it is timed that long
    aim = target / k
    largest = max(
        (contribution for contribution, _ in relative if contribution.quantity.name not in timed),
        key=lambda contribution: contribution.variance_fraction,
    )
    time, turns = None, None
    if aim > stays:
        exact = time_s * falls / math.sqrt(aim * aim - stays * stays)
        turns = max(1, math.ceil(exact / (time_s / revolutions) - 1e-9))
        time = turns * time_s / revolutions
    return TimingPlan(
        wanted=target,
        time_s=time,
        revolutions=turns,
        least=k * stays,
        dominated_by=largest.quantity.words,
    )


# Clocking a gas meter: volume over time, brought to the state of the heating value, with its uncertainty.

Array = NDArray[np.float64]
SEA_LEVEL_Pa = 101325.0  # ISO 2533, standard atmosphere


@dataclass(frozen=True, slots=True)
class MeterState:
    """At what a volume of gas is counted; single figures or arrays."""

    temperature_K: ArrayLike
    pressure_Pa: ArrayLike  # absolute
    vapour_Pa: ArrayLike = 0.0  # partial pressure of the water vapour in it

    @staticmethod
    def of(reference: ReferenceState) -> MeterState:
        """The state of a reference volume."""
        temperature = reference.metering_temperature_K
        vapour = float(water_saturation_pressure_Pa(temperature)) if reference.saturated else 0.0
        return MeterState(temperature, reference.pressure_Pa, vapour)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterReading:
    """What was read at the meter; None where it was not read, and is then taken as at the reference state."""

    dial_m3: float = field(metadata=output("one revolution of the dial", Kind.VOLUME))
    times_s: tuple[float, ...] = field(
        metadata=output("timings", Kind.TIME)
    )  # of so many revolutions, each timed anew
    revolutions: int = field(default=1, metadata=output("revolutions"))
    gas_temperature_K: float | None = field(
        default=None, metadata=output("gas temperature", Kind.TEMPERATURE)
    )
    gauge_pressure_Pa: float | None = field(
        default=None, metadata=output("meter pressure", Kind.GAUGE_PRESSURE)
    )
    meter_pressure_of_file: bool = (
        False  # the gauge pressure is the inlet of the project file, and was not read
    )
    ambient_pressure_Pa: float | None = field(
        default=None, metadata=output("ambient pressure", Kind.ABSOLUTE_PRESSURE)
    )
    meter_pressure_is_nominal: bool = False  # it is the nominal one of the project file, and was not read
    from_altitude: bool = False  # the ambient pressure is that of the standard atmosphere
    ambient_pressure_of_file: bool = False  # it is that of the place in the project file, and was not read
    compensated: bool = field(
        default=False, metadata=output("compensated")
    )  # the meter counts at its base temperature
    base_temperature_K: float | None = field(
        default=None, metadata=output("base temperature", Kind.TEMPERATURE)
    )  # of a compensated meter; None is that of the reference state
    saturated: bool = field(
        default=False, metadata=output("saturated")
    )  # the gas in the meter holds all the water it can
    other_load_gross_W: float = field(
        default=0.0, metadata=output("other load", Kind.POWER, basis="gross")
    )  # burned meanwhile by something else
    meter_factor: float | None = field(
        default=None, metadata=output("meter factor")
    )  # volume that passed over volume counted [-]; None: no certificate
    meter_factor_uncertainty: float | None = field(
        default=None, metadata=output("standard uncertainty of the meter factor", Kind.FRACTION)
    )  # relative; None: that of the table of instruments

    @property
    @computed_output("meter pressure from")
    def gauge_pressure_source(self) -> str:
        """Where the pressure at the meter comes from."""
        if self.gauge_pressure_Pa is None:
            return "not given: 0 gauge used"
        if self.meter_pressure_is_nominal:
            return "nominal pressure in the project file"
        return "inlet in the project file" if self.meter_pressure_of_file else "read at the meter"

    @property
    @computed_output("ambient pressure from")
    def ambient_pressure_source(self) -> str:
        """Where the pressure of the surroundings comes from."""
        if self.ambient_pressure_Pa is None:
            return "not given: sea level used"
        if self.ambient_pressure_of_file:
            return "place in the project file"
        return "altitude" if self.from_altitude else "barometer"

    @property
    def entry(self) -> MeterEntry:
        """What of it stood beside the timings."""
        return MeterEntry(
            revolutions=self.revolutions,
            ambient_pressure_Pa=None if self.ambient_pressure_of_file else self.ambient_pressure_Pa,
            has_pressure=self.gauge_pressure_Pa is not None and not self.meter_pressure_is_nominal,
            gauge_pressure_Pa=self.gauge_pressure_Pa or 0.0,
            has_temperature=self.compensated or self.gas_temperature_K is not None,
        )

    def check(self) -> None:
        """Refuse what no timing gives; every problem at once."""
        problems = [
            problem
            for name, key, value in (
                ("dial", "volume", self.dial_m3),
                *(("timing", "time", time) for time in self.times_s),
                ("revolutions", "revolutions", self.revolutions),
                ("meter_pressure", "meter pressure", self.gauge_pressure_Pa),
                ("barometer", "barometer", self.ambient_pressure_Pa),
                ("gas_temperature", "gas temperature", self.gas_temperature_K),
                ("meter_base", "meter base", self.base_temperature_K),
            )
            for problem in input_row(name).problems(value, key)
        ]
        if not self.times_s:
            problems.append(Problem("no timing given", key="time"))
        if not problems:
            rates = [1.0 / time for time in self.times_s]
            problems += timing_problems(self.times_s, rates, "revolutions")
        if not 0.0 <= self.other_load_gross_W < math.inf:
            problems.append(Problem("must not be negative", f"{self.other_load_gross_W:g} W", "other load"))
        problems += factor_problems("meter factor", self.meter_factor, self.meter_factor_uncertainty)
        if problems:
            raise UserError(problems)

    @property
    def volume_m3(self) -> float:
        """Of one timing, as the meter counts it."""
        return self.dial_m3 * self.revolutions


def metering_factor(meter: MeterState, reference: MeterState, compression_ratio: ArrayLike = 1.0) -> Array:
    """Volume at the reference state over the volume metered, through the moles of dry gas in both [-].

    V_r/V_m = (p_m - pv_m)/(p_r - pv_r) T_r/T_m Z_r/Z_m; compression_ratio is Z_r/Z_m, 1 for an ideal gas [-].
    Raises UserError for a pressure that is not above that of the vapour. Source: ideal-gas law per mole of dry gas.

    >>> float(metering_factor(MeterState(280.372, 169267.7), MeterState(288.706, 101559.8)))
    1.7162
    """
    dry, dry_reference = (
        np.subtract(meter.pressure_Pa, meter.vapour_Pa),
        np.subtract(reference.pressure_Pa, reference.vapour_Pa),
    )
    if not (np.all(dry > 0.0) and np.all(dry_reference > 0.0)):
        what = "absolute pressure must be above that of the water vapour in the gas"
        raise UserError(Problem(what, f"{np.min(dry):g} Pa dry", "meter pressure", fix="check the barometer"))
    if not np.all(np.asarray(meter.temperature_K) > 0.0):
        raise UserError(Problem("must be above absolute zero", key="gas temperature"))
    factor: Array = (
        dry
        / dry_reference
        * np.divide(reference.temperature_K, meter.temperature_K)
        * np.asarray(compression_ratio)
    )
    return factor


def volume_flow_m3_per_s(volume_m3: ArrayLike, time_s: ArrayLike) -> Array:
    """Volume over time, as metered [m3/s].

    >>> float(volume_flow_m3_per_s(0.04, 120.0)) * 3600
    1.2
    """
    flow: Array = np.divide(np.asarray(volume_m3, dtype=float), time_s)
    return flow


def heat_input_W(standard_flow_m3_per_s: ArrayLike, heating_value_J_per_m3: ArrayLike) -> Array:
    """Heat input of a flow at the state of the heating value [W].

    >>> float(heat_input_W(1.2 / 3600, 39.0e6))
    13000.0
    """
    heat: Array = np.multiply(np.asarray(standard_flow_m3_per_s, dtype=float), heating_value_J_per_m3)
    return heat


def turn_time_s(volume_m3: float, heating_value_J_per_m3: float, heat_input_W: float) -> float:
    """Time in which a meter counts a volume while a burner takes a heat input: t = V H / I [s].

    volume_m3 : of one turn of the dial; heating_value_J_per_m3, heat_input_W : gross or net, both alike, the
    heating value that of a cubic metre as the meter counts it: ``metered_heat_J_per_m3``

    >>> turn_time_s(0.040, 39.0e6, 13000.0)
    120.0
    """
    return volume_m3 * heating_value_J_per_m3 / heat_input_W


def metered_heat_J_per_m3(reading: MeterReading, heat: HeatContent) -> float:
    """Gross heating value of a cubic metre as the meter counts it, at its pressure and temperature [J/m3].

    Raises UserError for a gas without a heating value per volume.

    >>> from burnerlab.bench.reading.heat_input import billed_heat_content
    >>> from burnerlab.quantity import read_heating_value
    >>> billed = billed_heat_content(read_heating_value("39.0 MJ/m3 gross at 15C/15C"))
    >>> reading = MeterReading(dial_m3=0.01, times_s=(), gauge_pressure_Pa=2000.0)
    >>> metered_heat_J_per_m3(reading, billed) / 1e6
    39.77
    """
    if heat.gross_J_per_m3 is None:
        raise UserError(Problem("no heating value per volume is known", heat.name, "heating value"))
    vapour = float(water_saturation_pressure_Pa(_gas_temperature_K(reading, heat.reference)))
    pressure = (reading.ambient_pressure_Pa or SEA_LEVEL_Pa) + (reading.gauge_pressure_Pa or 0.0)
    state = MeterState(
        _gas_temperature_K(reading, heat.reference), pressure, vapour if reading.saturated else 0.0
    )
    factor = metering_factor(state, MeterState.of(heat.reference), compression_ratio(reading, heat))
    return heat.gross_J_per_m3 * float(factor)


LOWER, WARMER = "90 m", "10 K"  # of what is not given, beside what it does to a reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Dial:
    """The dial of a gas meter that is timed: the volume of one turn [m3], and what it is in words."""

    volume_m3: float
    words: str


def usual_dial(region: str = "", system: System = "metric") -> Dial:
    """The dial that is usual on the meters of a region, by table ``meter_dials``; without one, of the reader's units.

    >>> usual_dial("us").words, usual_dial(system="US").words, usual_dial("eu", "US").words
    ('test dial of a house meter', 'test dial of a house meter', 'last drum of the counter')
    """
    own = region or ("us" if system == "US" else "")
    row = next(row for row in tables.rows("meter_dials") if row["region"] == own)
    return Dial(volume_m3=float(row["value"]), words=Phrase(row["words"]))


def clock(
    reading: MeterReading,
    heat: HeatContent,
    rating: Rating | None = None,
    state: RatingState | None = None,
    *,
    own: Path | None = None,
    draws: int = DRAWS,
) -> InputMeasured:
    """Heat input by meter and watch, its uncertainty, and where it stands against the rating.

    reading : at the meter, whose volumes its meter factor multiplies
    heat : what the gas is worth at its reference state; state : gas and pressure of the rating and of the test
    own : a table of instruments; draws : of the Monte Carlo check, 0 for none
    Raises UserError for readings that cannot be, and when other loads leave nothing.

    >>> from burnerlab.bench.reading.heat_input import billed_heat_content
    >>> from burnerlab.quantity import read_heating_value
    >>> billed = billed_heat_content(read_heating_value("39.0 MJ/m3 gross at 15C/15C"))
    >>> clock(MeterReading(dial_m3=0.040, times_s=(120.0,)), billed).heat_input_gross_W
    13000.0
    """
    reading.check()
    by_name = instruments(own)
    quantities = _quantities(reading, heat, by_name)
    model = _MeterModel(reading, MeterState.of(heat.reference), compression_ratio(reading, heat))
    linear = budget(model, quantities, "W", notes=() if len(reading.times_s) > 1 else (NO_REPEAT,))
    flow = _own_flow_m3_per_s(model, quantities, linear.value, reading.other_load_gross_W)
    basis = rating.basis if rating else "gross"
    correction = None if state is None else correction_of(heat, state, basis, own)
    density = None if heat.gross_J_per_kg is None else (heat.gross_J_per_m3 or math.nan) / heat.gross_J_per_kg
    simulated = monte_carlo(model, quantities, linear, draws) if draws else None
    refuse_impossible(linear, simulated, "time")
    comparison = compared(linear, heat, rating, correction, "")
    sea_level_W = _at_sea_level_W(reading, linear.value)
    if comparison is not None and sea_level_W is not None:
        comparison = comparison.until_barometer(sea_level_W / linear.value)
    return InputMeasured(
        method="meter",
        heat=heat,
        budget=linear,
        monte_carlo=simulated,
        heat_input_net_W=linear.value * heat.net_to_gross,
        mass_flow_kg_per_s=None if density is None else flow * density,
        standard_volume_flow_m3_per_s=flow,
        time_s=float(np.mean(reading.times_s)),
        correction=correction,
        comparison=comparison,
        heat_input_sea_level_gross_W=sea_level_W,
        notes=(
            *_lower_bench(linear.value, sea_level_W, comparison),
            *_notes(reading, heat),
            *linear.notes,
            *(comparison.notes if comparison else ()),
            *doubts(comparison, "meter", "time"),
        ),
        meter=reading.entry,
    )


def _own_flow_m3_per_s(
    model: _MeterModel, quantities: Sequence[Quantity], heat_input_W: float, other_load_W: float
) -> float:
    """Flow of the burner under test: what fed the other load is left out. Raises UserError where that is all."""
    if not heat_input_W > 0.0:
        what = "the other load is as large as the whole reading"
        raise UserError(Problem(what, f"{other_load_W:g} W", "other load", fix="check its unit"))
    whole = float(model.standard_flow_m3_per_s({q.name: q.estimate for q in quantities}))
    return whole * heat_input_W / (heat_input_W + other_load_W)


@dataclass(frozen=True, slots=True)
class _MeterModel:
    """The gross heat input of the quantities by name; single figures or arrays."""

    reading: MeterReading
    reference: MeterState
    compression_ratio: float

    def standard_flow_m3_per_s(self, x: Mapping[str, Any]) -> Array:
        vapour = x["moisture"] * water_saturation_pressure_Pa(np.clip(x["gas temperature"], 233.15, 353.15))
        counted = x["base temperature"] if self.reading.compensated else x["gas temperature"]
        meter = MeterState(counted, np.add(x["ambient pressure"], x["meter pressure"]), vapour)
        time = np.multiply(np.add(np.add(x["time"], x["start and stop"]), x["repeats"]), x["watch"])
        volume = np.multiply(np.add(x["volume"], x["pointer"]), x["meter"])
        ratio = self.compression_ratio * x["compression factor"]
        return volume_flow_m3_per_s(volume, time) * metering_factor(meter, self.reference, ratio)

    def __call__(self, x: Mapping[str, Any]) -> Array:
        heat: Array = heat_input_W(self.standard_flow_m3_per_s(x), x["heating value"]) - x["other load"]
        return heat


def compression_ratio(reading: MeterReading, heat: HeatContent) -> float:
    """Compression factor at the reference state over that in the meter [-]; 1 for a gas without composition.

    Raises UserError where part of the gas would be liquid in the meter.
    """
    if not isinstance(heat.gas, Gas):
        return 1.0
    at, gauge = heat.reference, reading.gauge_pressure_Pa or 0.0
    temperature = _gas_temperature_K(reading, at)
    pressure = (reading.ambient_pressure_Pa or SEA_LEVEL_Pa) + gauge
    ideal = pressure / at.pressure_Pa * at.metering_temperature_K / temperature
    dry = ReferenceState(at.combustion_temperature_K, at.metering_temperature_K, at.pressure_Pa)
    density = float(heat.gas.density_kg_per_m3(temperature, pressure))
    return density / heat.gas.standard_density_kg_per_m3(dry) / ideal


def _gas_temperature_K(reading: MeterReading, reference: ReferenceState) -> float:
    if reading.gas_temperature_K is not None:
        return reading.gas_temperature_K
    if reading.compensated and reading.base_temperature_K is not None:
        return reading.base_temperature_K
    return reference.metering_temperature_K


def _exact(name: str, words: str, estimate: float, unit: str) -> Quantity:
    return Quantity(name=name, words=words, estimate=estimate, standard_uncertainty=0.0, unit=unit)


def _quantities(
    reading: MeterReading, heat: HeatContent, instruments: Mapping[str, Instrument]
) -> tuple[Quantity, ...]:
    times, at = reading.times_s, heat.reference
    n = len(times)
    mean = math.fsum(times) / n
    root = 1.0 / math.sqrt(n)
    return (
        _exact("volume", "volume of the dial", reading.volume_m3, "m3"),
        _exact("time", "time read", mean, "s"),
        factor_quantity(instruments, "meter", reading.meter_factor, reading.meter_factor_uncertainty),
        instruments["pointer"].quantity("pointer", 0.0, "m3", scale=reading.dial_m3 * root),
        instruments["start and stop"].quantity("start and stop", 0.0, "s", scale=root),
        instruments["watch"].quantity("watch", 1.0, "-"),
        repeats_of(times, "repeated timings", "s"),
        *_temperatures(reading, at, instruments),
        _gauge(reading, instruments),
        _ambient(reading, instruments),
        instruments["saturation" if reading.saturated else "moisture"].quantity(
            "moisture", 1.0 if reading.saturated else 0.0, "-"
        ),
        _compression(reading, heat, instruments),
        heat.quantity("volume"),
        instruments["other load"].quantity(
            "other load", reading.other_load_gross_W, "W", scale=reading.other_load_gross_W
        ),
    )


def _temperatures(
    reading: MeterReading, at: ReferenceState, instruments: Mapping[str, Instrument]
) -> tuple[Quantity, ...]:
    row = "gas temperature" if reading.gas_temperature_K is not None else "gas temperature not given"
    gas = instruments[row].quantity("gas temperature", _gas_temperature_K(reading, at), "K")
    if not reading.compensated:
        return (gas,)
    base = reading.base_temperature_K or at.metering_temperature_K
    return gas, instruments["temperature compensator"].quantity("base temperature", base, "K")


def _gauge(reading: MeterReading, instruments: Mapping[str, Instrument]) -> Quantity:
    if reading.gauge_pressure_Pa is None:
        return instruments["meter pressure not given"].quantity("meter pressure", 0.0, "Pa")
    if reading.meter_pressure_is_nominal:  # down to 0, and as much more
        row, gauge = instruments["meter pressure not given"], reading.gauge_pressure_Pa
        return row.quantity("meter pressure", gauge, "Pa", scale=gauge / row.half_width)
    if reading.meter_pressure_of_file:
        row, gauge = instruments["meter pressure of file"], reading.gauge_pressure_Pa
        return row.quantity("meter pressure", gauge, "Pa", scale=gauge)
    by_share = instruments["meter pressure share"].quantity(
        "meter pressure", reading.gauge_pressure_Pa, "Pa", scale=reading.gauge_pressure_Pa
    )
    by_width = instruments["meter pressure"].quantity("meter pressure", reading.gauge_pressure_Pa, "Pa")
    return max(by_share, by_width, key=lambda q: q.standard_uncertainty)


def _ambient(reading: MeterReading, instruments: Mapping[str, Instrument]) -> Quantity:
    if reading.ambient_pressure_Pa is None or reading.ambient_pressure_of_file:
        ambient = reading.ambient_pressure_Pa or SEA_LEVEL_Pa
        return instruments["barometer not given"].quantity("ambient pressure", ambient, "Pa")
    row = "altitude" if reading.from_altitude else "barometer"
    return instruments[row].quantity("ambient pressure", reading.ambient_pressure_Pa, "Pa")


def _compression(reading: MeterReading, heat: HeatContent, instruments: Mapping[str, Instrument]) -> Quantity:
    if isinstance(heat.gas, Gas):
        return _exact("compression factor", "compression factor of the composition", 1.0, "-")
    absolute = (reading.ambient_pressure_Pa or SEA_LEVEL_Pa) + (reading.gauge_pressure_Pa or 0.0)
    off = abs(absolute - heat.reference.pressure_Pa) / 100e3
    return instruments["compression factor"].quantity("compression factor", 1.0, "-", scale=off)


def _at_sea_level_W(reading: MeterReading, gross_W: float) -> float | None:
    """The same reading at a bench at sea level, where the barometer was not read and the file's place lies higher."""
    if not reading.ambient_pressure_of_file or reading.ambient_pressure_Pa is None:
        return None
    other_W = reading.other_load_gross_W
    more = sea_level_share(reading.ambient_pressure_Pa, reading.gauge_pressure_Pa or 0.0)
    return (gross_W + other_W) * more - other_W if more > 1.0 else None


def _lower_bench(gross_W: float, sea_level_W: float | None, comparison: Comparison | None) -> tuple[str, ...]:
    """The note of a reading that would be overfire at a bench at sea level."""
    if comparison is None or sea_level_W is None:
        return ()
    deviation = (1.0 + comparison.deviation) * sea_level_W / gross_W - 1.0
    return lower_bench(deviation, comparison.rating)


def sea_level_share(ambient_Pa: float, gauge_Pa: float) -> float:
    """A reading of a meter at sea level over the same one where the air has this pressure [-].

    >>> round(sea_level_share(83437.0, 1000.0), 3)
    1.212
    """
    return (SEA_LEVEL_Pa + gauge_Pa) / (ambient_Pa + gauge_Pa)


def lower_bench(deviation: float, rating: Rating) -> tuple[str, ...]:
    """The note of a reading without a barometer that would be above its band at a bench at sea level.

    deviation : from the rating there [-]
    """
    if deviation <= rating.tolerance.high:
        return ()
    words = rating.words
    return (
        f"read the barometer: at a bench at sea level this reading is {100 * deviation:+.1f} % from the {words}, "
        "possible overfire; the pressure used is that of the place in the project file",
    )


def _both(value: float, kind: Kind, metric: str, US: str) -> str:
    return f"{show(value, kind, unit=metric)} ({show(value, kind, unit=US)})"


LIKELY_AT_METER = {
    False: 1743.6,
    True: 2740.0,
}  # Pa, whether LP gas: 7 and 11 in w.c., common practice; where no project file says the supply pressure


def _no_meter_pressure(reading: MeterReading, heat: HeatContent) -> str:
    """What a pressure at the meter that nobody entered, and no file says, would add: a usual one."""
    is_LP = isinstance(heat.gas, Gas) and properties(heat.gas, heat.reference).relative_density > 1.0
    supply_Pa = LIKELY_AT_METER[is_LP]
    more = 100.0 * supply_Pa / (reading.ambient_pressure_Pa or SEA_LEVEL_Pa)
    return f"meter pressure not given: taken as 0 gauge; {pressure_words(supply_Pa)} would add {more:.1f} %"


def _nominal_at_meter(gauge_Pa: float, ambient_Pa: float) -> str:
    """What the reading would be less at a meter without pressure."""
    less = 100.0 * gauge_Pa / (ambient_Pa + gauge_Pa)
    return (
        f"meter pressure not read: {pressure_words(gauge_Pa)} used, the nominal pressure in the project file; "
        f"at a meter without pressure the reading is {less:.1f} % less: read and enter it"
    )


def _notes(reading: MeterReading, heat: HeatContent) -> tuple[str, ...]:
    notes = list(heat.notes)
    if reading.meter_factor is not None:
        notes.append(f"meter factor {reading.meter_factor:g}: volume that passed over volume counted")
    if reading.gauge_pressure_Pa is None:
        notes.append(_no_meter_pressure(reading, heat))
    elif reading.meter_pressure_is_nominal:
        ambient_Pa = reading.ambient_pressure_Pa or SEA_LEVEL_Pa
        notes.append(_nominal_at_meter(reading.gauge_pressure_Pa, ambient_Pa))
    elif reading.meter_pressure_of_file:
        level = _both(reading.gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar", "in w.c.")
        notes.append(f"meter pressure not read: {level} gauge used, the inlet in the project file")
    if reading.ambient_pressure_Pa is None:
        notes.append(
            "barometer not given: taken as 101.325 kPa; at 1500 m (4900 ft) the reading would be 17 % less"
        )
    elif reading.ambient_pressure_of_file:
        level = _both(reading.ambient_pressure_Pa, Kind.ABSOLUTE_PRESSURE, "kPa", "inHg")
        notes.append(
            f"barometer not given: {level} used, of the place in the project file; a bench {LOWER} lower reads 1 % more"
        )
    if reading.gas_temperature_K is None and not reading.compensated:
        notes.append(
            f"gas temperature not given: taken as that of the reference state; {WARMER} warmer is 3.4 % less"
        )
    timing = bench_limit("timing")
    mean = float(np.mean(reading.times_s))
    if mean < timing.low:
        notes.append(f"timed {mean:.3g} s: whole revolutions over at least {timing.low:g} s are usual")
    cause = "; see whether a thermostat or another load cut in"
    return (*notes, *agreement_notes(reading.times_s, cause))
