"""Manifold pressure, and the heat input that pressure and orifice should give."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.burner_conversion import law_of
from burnerlab.appliance.conversion.gas_facts import GasStates
from burnerlab.appliance.conversion.refusal import is_second_of_couple
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion
from burnerlab.appliance.memory import Memory, Same, tables_key
from burnerlab.appliance.operation.operate import at_manifold_pressure, prepare, reached, single_burners
from burnerlab.appliance.operation.supply_pressures import SupplyPressure, match_pressure
from burnerlab.appliance.project.basis import GROSS_RATED, RatedBasis, rated_basis
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.appliance.study.monte_carlo import DIVISOR, default_spreads
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.reading.readings import READING_U, ManifoldRange
from burnerlab.bench.stop import (
    CALCULATED,
    CALCULATED_AT_READ,
    StopNotice,
    power_words,
    pressure_beside_words,
    pressure_end_words,
    pressure_ends_words,
    pressure_words,
    stop_notice,
)
from burnerlab.bench.uncertainty import instruments
from burnerlab.gas import DeclaredGas, properties
from burnerlab.gas.gas_family import groups_of_gas, national_groups_of
from burnerlab.orifice.flow import Conditions, OrificeFlow, flow
from burnerlab.quantity import PRESETS, Kind, System
from burnerlab.quantity.band_ends import BandEnd, pressure_end, pressure_ends
from burnerlab.quantity.outputs import output
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.problem import Problem, UserError, did_you_mean
from burnerlab.tables.verdict import Verdict

# What burners should give by the file: through its orifices, at the pressure that reaches them by its
# supply.

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Burners that are on together and what each should give; pressures are gauge."""

    burners: tuple[Burner, ...]  # each a single one
    each_W: Array  # gross [burner]
    orifice_Pa: Array  # [burner]
    manifold_Pa: float
    source: str  # of the pressure

    @property
    def gross_W(self) -> float:
        """Of all of them."""
        return float(np.sum(self.each_W))

    @property
    def words(self) -> str:
        """Where the figure comes from, such as "17.5 mbar (7.03 in w.c.) at the orifice, by the file's supply"."""
        low, high = float(self.orifice_Pa.min()), float(self.orifice_Pa.max())
        span = pressure_words(low)
        if pressure_words(high) != span:
            span = f"{span} to {pressure_words(high)}"
        return f"{span} at the {'orifice' if len(self.burners) == 1 else 'orifices'}, {self.source}"


EXPECTED = Memory(400)
"""What the burners of the appliances tested last should read."""
NOMINAL = "the nominal pressure"
SUPPLY = "by the supply in the file with these burners on"
VALVE = "the nominal pressure less the burner valve"
STARVED = (
    "the nominal pressure: the supply in the file gives these burners no pressure (see burnerlab supply)"
)
READ = "at the manifold pressure that was read"
OUTSIDE = Phrase("outside it: stop")  # of the band of a manifold pressure


def each_burner(appliance: Appliance, name: str | None = None) -> tuple[Burner, ...]:
    """One burner of the kind ``name``, or every single burner of the appliance.

    Raises UserError for a burner it has not.

    >>> from burnerlab.appliance import demonstration
    >>> [burner.name for burner in each_burner(demonstration(), "tile broiler")]
    ['tile broiler']
    """
    if name is None:
        return tuple(replace(b, count=1) for b in appliance.burners for _ in range(b.count))
    burners = [b for b in appliance.burners if b.name.casefold() == name.strip().casefold()]
    if not burners:
        names = [b.name for b in appliance.burners]
        fix = did_you_mean(name, names)
        raise UserError(
            Problem("is not a burner of this appliance", name, "burner", accepted=", ".join(names), fix=fix)
        )
    return (replace(burners[0], count=1),)


def _check_orifices(appliance: Appliance, burners: Sequence[Burner]) -> None:
    """Refuse a reading against an orifice that the file does not give. Raises UserError."""
    what = "is not given: what a burner should read follows from the drill or bore marked on it"
    names = dict.fromkeys(burner.name for burner in burners if burner.orifice.is_calculated)
    problems = [
        Problem(
            what, key=f"burner {name}, orifice", file=appliance.file, fix='add orifice = { drill = "#54" }'
        )
        for name in names
    ]
    if problems:
        raise UserError(problems)


def expected_input(appliance: Appliance, burner: str | None = None) -> Expected:
    """Heat input by the file, with what its regulator, hose, pipe, manifold and valves leave of the pressure.

    burner : one of the kind and on alone, None for all together
    Raises UserError for a burner the appliance has not.

    >>> from burnerlab.appliance import demonstration
    >>> expected_input(demonstration(), "stock-pot ring").words
    '17.0 mbar (6.81 in w.c.) at the orifice, by the supply in the file with these burners on'
    """
    has_valve = any(one.valve is not None for one in appliance.burners)
    source = SUPPLY if appliance.supply.train is not None else VALVE if has_valve else NOMINAL
    key = Same(appliance), tables_key(appliance.tables), burner
    return EXPECTED.recall(key, lambda: _expected(appliance, burner, source))


def expected_at(appliance: Appliance, manifold_gauge_Pa: float, burner: str | None = None) -> Expected:
    """``expected_input`` with this pressure at the inlet of the manifold, in place of what the supply would give."""
    return _expected(at_manifold_pressure(appliance, manifold_gauge_Pa), burner, READ)


def _expected(appliance: Appliance, burner: str | None, source: str) -> Expected:
    chosen = each_burner(appliance, burner)
    _check_orifices(appliance, chosen)
    kinds = [one.name for one in appliance.burners]
    on = [burner is None or kind == chosen[0].name for kind in kinds]
    unit = appliance if burner is None else single_burners(appliance)
    got = reached(unit, [on])
    if got.starved[0]:
        got, source = reached(at_manifold_pressure(unit, unit.supply.gauge_pressure_Pa), [on]), STARVED
    places = [kinds.index(one.name) for one in chosen]
    return Expected(
        burners=chosen,
        each_W=got.gross_W[0, places],
        orifice_Pa=got.orifice_Pa[0, places],
        manifold_Pa=float(got.manifold_Pa[0]),
        source=source,
    )


def setting_band_Pa(
    manifold_Pa: float,
    input_over_aim: Sequence[float],
    band: tuple[float, float],
    choked_at_ambient_Pa: Sequence[float | None],
) -> tuple[float, float]:
    """Manifold pressures at which the heat input of every burner that is on lies within its band [Pa gauge].

    Heat input goes with the square root of the gauge pressure, p = p0 (I/I0)^2; through a choked orifice with the
    absolute pressure. The low end is above the high end where no pressure serves every burner.
    manifold_Pa : calculated with these burners on [Pa gauge]
    input_over_aim : heat input of each at that pressure, over its aim [-]
    band : least and most deviation from the aim [-]
    choked_at_ambient_Pa : for each, the ambient pressure [Pa absolute] where its orifice is choked, else None

    >>> low, high = setting_band_Pa(2500.0, (1.0, 0.98), (-0.05, 0.05), (None, None))
    >>> round(low), round(high)
    (2349, 2756)
    """
    ends: list[list[float]] = []
    for deviation in band:
        ends.append([])
        for over, ambient in zip(input_over_aim, choked_at_ambient_Pa, strict=True):
            ratio = (1.0 + deviation) / over
            at = manifold_Pa * ratio**2 if ambient is None else (manifold_Pa + ambient) * ratio - ambient
            ends[-1].append(at)
    return max(ends[0]), min(ends[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureBand:
    """Manifold pressures of a state at which every burner that is on is in its band, gauge; or why there are none."""

    low_Pa: float | None = None
    high_Pa: float | None = None
    reason: str = ""  # why there is no band


def pressure_band(
    c: Conversion,
    burners_on: Sequence[BurnerConversion],
    input_over_aim: Sequence[float],
    manifold_Pa: float,
    highest_Pa: float,
) -> PressureBand:
    """The band of the manifold pressure of a state, as job card and test plan have it: never above ``highest_Pa``.

    input_over_aim, manifold_Pa : as in ``setting_band_Pa``; highest_Pa : of the supply, see ``highest_pressure_Pa``
    """
    within = c.tolerance_low, c.tolerance
    names = [(b.name, b.choice.drill) for b in burners_on]
    reason = no_band_words(names, input_over_aim, within, is_second=is_second_of_couple(c))
    if not reason and manifold_Pa > highest_Pa:
        reason = ABOVE_HIGHEST
    if reason:
        return PressureBand(reason=reason)
    choked = [c.ambient_pressure_Pa if b.choked else None for b in burners_on]
    low, high = setting_band_Pa(manifold_Pa, input_over_aim, within, choked)
    return PressureBand(low_Pa=low, high_Pa=min(high, highest_Pa))


def pressure_span(low_Pa: float | None, high_Pa: float | None, system: System) -> str:
    """A band of manifold pressures, its ends rounded into it; of one that has one end, that.

    >>> pressure_span(1609.0, 1857.2, "metric"), pressure_span(None, 1857.2, "US")
    ('16.1 to 18.5 mbar', 'at most 7.45 in w.c.')
    """
    if low_Pa is not None and high_Pa is not None:
        low, high = pressure_ends(low_Pa, high_Pa, system)
        return Phrase("{low} to {high}", low=low, high=high)
    if high_Pa is not None:
        return Phrase("at most {most}", most=pressure_end(high_Pa, "high", system))
    return "" if low_Pa is None else Phrase("at least {least}", least=pressure_end(low_Pa, "low", system))


def pressure_limits(
    low_Pa: float | None, high_Pa: float | None, highest_Pa: float | None, system: System
) -> str:
    """Both ends of a manifold pressure, each with its act, as every card, plan, page and report prints them.

    highest_Pa : of the supply, None where a plan does not know it

    >>> pressure_limits(2850.0, 2900.0, 3500.0, "metric")
    '28.5 to 29.0 mbar; outside it: stop; above 35.0 mbar: gas off at once'
    """
    return joined("; ", (pressure_span(low_Pa, high_Pa, system), OUTSIDE, *_highest_act(highest_Pa, system)))


def no_band_limits(reason: str, highest_Pa: float | None, system: System) -> str:
    """The same where a state has no band; reason : as ``PressureBand`` has it.

    >>> no_band_limits("no pressure band: ring exceeds 105 % of its rating; do not fit", 3500.0, "metric")
    'no pressure band: ring exceeds 105 % of its rating; do not fit; above 35.0 mbar: gas off at once'
    """
    return joined("; ", (reason, *_highest_act(highest_Pa, system)))


def _highest_act(highest_Pa: float | None, system: System) -> tuple[str, ...]:
    if highest_Pa is None:
        return ()
    return (Phrase("above {highest}: gas off at once", highest=pressure_end(highest_Pa, "high", system)),)


def refused_words(reason: str) -> str:
    """At the head of a card or plan on which an orifice is not to be fitted.

    >>> refused_words("no orifice fits ring")
    'STOP. Fit nothing, light nothing: no orifice fits ring. An engineer decides first.'
    """
    return Phrase("STOP. Fit nothing, light nothing: {reason}. An engineer decides first.", reason=reason)


ABOVE_HIGHEST = Phrase("no pressure band: expected above the highest of the supply; do not fit")
MEND = Phrase(
    "Where none fits an engineer mends the design first (orifice, hose or regulator) and makes card and plan anew."
)


def no_band_words(
    burners: Sequence[tuple[str, str]],
    input_over_aim: Sequence[float],
    band: tuple[float, float],
    *,
    is_second: bool = False,
) -> str:
    """Why no band of the manifold pressure is printed: the burners outside their own at it; "" where none is.

    ``setting_band_Pa`` does not hold the pressure itself then: nobody could set it and keep to the band.
    burners : of each the name and the drill; input_over_aim, band : as in ``setting_band_Pa``
    is_second : on the second gas of a pressure couple, whose input below the band refuses no orifice

    >>> no_band_words([("ring", "0.80 mm"), ("tube", "1.30 mm")], (1.12, 1.0), (-0.05, 0.05))
    'no pressure band: ring exceeds 105 % of its rating at the expected pressure with 0.80 mm; do not fit'
    """
    outside: list[str] = []
    for (name, drill), over in zip(burners, input_over_aim, strict=True):
        low, high = (f"{100.0 * (1.0 + end):.4g}" for end in band)
        if over > 1.0 + band[1]:
            outside.append(
                Phrase(
                    "{burner} exceeds {limit} % of its rating at the expected pressure with {drill}",
                    burner=name,
                    limit=high,
                    drill=drill,
                )
            )
        elif over < 1.0 + band[0]:
            outside.append(
                Phrase(
                    "{burner} stays below {limit} % of its rating at the expected pressure with {drill}",
                    burner=name,
                    limit=low,
                    drill=drill,
                )
            )
    each = joined("; ", dict.fromkeys(outside))
    if is_second and outside and max(input_over_aim) <= 1.0 + band[1]:
        return Phrase("no pressure band: {burners}; the first gas of the couple sizes it", burners=each)
    return Phrase("no pressure band: {burners}; do not fit", burners=each) if outside else ""


# Manifold pressure: the input that pressure and orifice should give, against the one that was measured.


@dataclass(frozen=True, slots=True, kw_only=True)
class ManifoldCheck:
    """The input of some burners at the pressure that was read."""

    burners: tuple[str, ...] = field(metadata=output("burners"))
    measured_pressure_Pa: float = field(metadata=output("manifold pressure", Kind.GAUGE_PRESSURE))
    nominal_pressure_Pa: float = field(metadata=output("nominal pressure", Kind.GAUGE_PRESSURE))
    pressure_uncertainty_Pa: float = field(
        metadata=output("expanded uncertainty of the pressure", Kind.PRESSURE_DIFFERENCE)
    )  # k = 2
    pressure_verdict: Verdict = field(
        metadata=output("manifold pressure is")
    )  # against what the regulator should hold, over the whole interval of the reading
    pressure_low_Pa: float = field(
        metadata=output("regulator holds from", Kind.GAUGE_PRESSURE)
    )  # what it should hold
    pressure_high_Pa: float = field(metadata=output("regulator holds to", Kind.GAUGE_PRESSURE))
    pressure_source: str = field(metadata=output("by"))
    highest_Pa: float = field(
        metadata=output("highest of the supply", Kind.GAUGE_PRESSURE)
    )  # above it the test stops
    nominal_gross_W: float = field(
        metadata=output("expected with the nominal pressure", Kind.POWER, basis="gross")
    )
    expected_gross_W: float = field(metadata=output("expected at that pressure", Kind.POWER, basis="gross"))
    relative_uncertainty: float = field(
        metadata=output("standard uncertainty of the expected input", Kind.FRACTION)
    )  # pressure, coefficient, gas
    measured_gross_W: float | None = field(metadata=output("measured heat input", Kind.POWER, basis="gross"))
    ratio: float | None = field(metadata=output("measured over expected at that pressure"))
    ratio_uncertainty: float | None = field(
        metadata=output("expanded uncertainty of that ratio", Kind.FRACTION)
    )  # k = 2
    text: str = field(metadata=output("finding"))
    rated: RatedBasis = GROSS_RATED  # of the file

    @property
    def regulator_words(self) -> str:
        """What burns where nothing but the pressure is wrong: the gas of the unit behind another regulator."""
        burner = self.burners[0] if len(self.burners) == 1 else "all burners together"
        true = power_words(self.expected_gross_W * self.rated.of_gross, self.rated.word)
        over = 100.0 * (self.expected_gross_W / self.nominal_gross_W - 1.0)
        return (
            f"with the gas of the unit at this pressure, as behind a regulator for another one, {burner} burns about "
            f"{true}, {over:.0f} % above {CALCULATED}"
        )

    @property
    def limits_words(self) -> str:
        """Its band and the highest of the supply, each with its act, in both units of the trade."""
        low, high = pressure_ends_words(self.pressure_low_Pa, self.pressure_high_Pa)
        band = Phrase("{low} to {high}", low=low, high=high)
        above = Phrase(
            "above {highest}: gas off at once", highest=pressure_end_words(self.highest_Pa, "high")
        )
        return joined("; ", (band, OUTSIDE, above))

    @property
    def is_too_narrow(self) -> bool:
        """Whether no reading of this gauge can be shown to be within its band."""
        return is_too_narrow(self.pressure_low_Pa, self.pressure_high_Pa, self.pressure_uncertainty_Pa)

    @property
    def above_range(self) -> bool:
        """Whether the pressure read is above the highest of the supply."""
        return self.measured_pressure_Pa > self.highest_Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class CalculatedInput:
    """What a file calculates that the burners of a reading give, gross, and above which heat input a test stops [W]."""

    value_W: float  # at the pressure read, else by the supply of the file
    most_W: float
    words: str  # what it is
    manifold_Pa: float  # that the supply of the file gives with these burners on, gauge

    @property
    def most_over_value(self) -> float:
        """Limit over value [-]."""
        return self.most_W / self.value_W


def calculated_input(
    appliance: Appliance,
    burner: str | None,
    read_Pa: float | None,
    limits: ManifoldRange | None = None,
    *,
    low: bool = False,
) -> CalculatedInput:
    """What orifices and pressure of a reading give, and the limit of its heat input.

    The limit ``overfire`` times what the file calculates at the pressure that was read. Where none was read the
    pressure may lie anywhere in its band: the limit is never within what the file calculates at the upper end of it,
    nor within the band of the rating. So no pressure and no heat input in a printed band raises a stop by itself.
    read_Pa : manifold pressure, gauge, None where it was not read; limits : its band by a plan; low : at the low rate

    >>> from burnerlab.appliance import demonstration
    >>> at_high = calculated_input(demonstration(), None, 1857.0)
    >>> round(at_high.most_over_value, 3), at_high.words
    (1.1, 'the heat input calculated at the pressure read')
    """
    over = bench_limit("overfire").high
    expected = expected_input(appliance, burner)
    at_file_Pa = expected.manifold_Pa
    if read_Pa is not None:
        value_W = _at_rate(expected_at(appliance, read_Pa, burner), low=low)
        return CalculatedInput(
            value_W=value_W, most_W=over * value_W, words=CALCULATED_AT_READ, manifold_Pa=at_file_Pa
        )
    value_W = _at_rate(expected, low=low)
    top_Pa = min((limits or manifold_range(appliance)).high_Pa, highest_pressure_Pa(appliance))
    at_top = expected_at(appliance, max(top_Pa, at_file_Pa), burner)
    rated_W = sum(one.rate_W for one in expected.burners) / rated_basis(appliance).of_gross
    ends = [_at_rate(at_top, low=low)]
    ends += [] if low else [(1.0 + appliance.limits.tolerance.high) * rated_W]
    most_W = max(over * value_W, *ends)
    return CalculatedInput(value_W=value_W, most_W=most_W, words=CALCULATED, manifold_Pa=at_file_Pa)


def _at_rate(expected: Expected, *, low: bool) -> float:
    rates = [(one.turndown or 1.0) if low else 1.0 for one in expected.burners]
    return float(expected.each_W @ rates)


def conditions_of(appliance: Appliance) -> Conditions:
    """What the gas finds at the orifices of an appliance at its own pressure."""
    supply = appliance.supply
    return Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )


def flow_of(
    appliance: Appliance, burner: Burner, conditions: Conditions, gas: GasStates | None = None
) -> OrificeFlow:
    """Flow of one burner of the kind through its own orifices."""
    orifice = burner.orifice
    law = law_of(orifice, appliance.tables)
    return flow(gas or GasStates(appliance.supply.gas), orifice.diameter_m, conditions, law, orifice.count)


def supply_of(appliance: Appliance) -> SupplyPressure | None:
    """The row of supply pressures that an appliance's gas and pressure belong to."""
    gas, at = appliance.supply.gas, PRESETS["ISO_15_15"]
    figures = gas.properties(at) if isinstance(gas, DeclaredGas) else properties(gas, at)
    fractions = {} if isinstance(gas, DeclaredGas) else gas.composition.as_dict()
    wobbe = figures.gross_wobbe_J_per_m3
    families = [group.code for group in (*groups_of_gas(wobbe, fractions), *national_groups_of(wobbe))]
    own, region = appliance.tables.supply_pressures, appliance.region
    return match_pressure(appliance.supply.gauge_pressure_Pa, families, own=own, region=region, gas=gas.name)


def lock_up_Pa(appliance: Appliance) -> float | None:
    """Manifold pressure with every burner off, gauge, as the job card expects it; None without a regulator [Pa].

    >>> from burnerlab.appliance import demonstration
    >>> round(lock_up_Pa(demonstration()) or 0.0)
    1993
    """
    regulator = prepare(appliance).regulator
    return None if regulator is None else regulator.lock_up_pressure_Pa


def lock_up_low_Pa(appliance: Appliance) -> float:
    """Below which a lock-up is too low, gauge: that expected less the spread of the setting [Pa].

    Without a regulator in the file it is the least that the manifold should hold with burners on: with every burner
    off no supply gives less.

    >>> from dataclasses import replace
    >>> from burnerlab.appliance import demonstration
    >>> unit = demonstration()
    >>> bare = replace(unit, supply=replace(unit.supply, train=None))
    >>> round(lock_up_low_Pa(unit)), round(lock_up_low_Pa(bare))
    (1893, 1569)
    """
    expected_Pa = lock_up_Pa(appliance)
    if expected_Pa is None:
        return manifold_range(appliance).low_Pa
    return expected_Pa * (1.0 - _setting_spread(appliance))


def is_low_lock_up_Pa(read_Pa: float, low_Pa: float | None) -> bool:
    """Whether a lock-up is too low: below the least expected where one is known, and a gauge that shows nothing.

    >>> is_low_lock_up_Pa(1800.0, 1893.0), is_low_lock_up_Pa(1800.0, None), is_low_lock_up_Pa(0.0, None)
    (True, False, True)
    """
    return read_Pa <= 0.0 or (low_Pa is not None and read_Pa < low_Pa)


def _setting_spread(appliance: Appliance) -> float:
    setting = appliance.spreads.get("pressure") or default_spreads()["pressure"]
    return setting.half_width * (2.0 if setting.shape == "normal" else 1.0)


def manifold_range(appliance: Appliance) -> ManifoldRange:
    """What the regulator should hold: set point to droop of the file's own, else a tenth about the nominal.

    A regulator of the file: from its set point less the droop, at rated flow, to its set point, and on both sides
    the spread of the setting. Where the appliance was changed to another pressure, set point and droop go with the
    nominal pressure, as with another spring. The range of the supply is wider: it is what feeds the regulator.

    >>> from burnerlab.appliance import demonstration
    >>> held = manifold_range(demonstration())
    >>> round(held.low_Pa), round(held.high_Pa)
    (1609, 1857)
    """
    train, nominal = appliance.supply.train, appliance.supply.gauge_pressure_Pa
    around = _setting_spread(appliance)
    if train is not None and train.regulator is not None:
        spring = nominal / train.nominal_gauge_pressure_Pa
        set_point, droop = spring * train.regulator.set_point_Pa, spring * train.regulator.droop_Pa
        return ManifoldRange(
            low_Pa=(set_point - droop) * (1.0 - around),
            high_Pa=set_point * (1.0 + around),
            source=f"set point and droop of the file's regulator, setting ±{100 * around:.2g} %",
        )
    limit = bench_limit("manifold pressure")
    return ManifoldRange(
        low_Pa=limit.low * nominal, high_Pa=limit.high * nominal, source=f"{limit.what}: {limit.source}"
    )


def highest_pressure_Pa(appliance: Appliance) -> float:
    """Highest manifold pressure, gauge: of the file, else of the row of its supply; above it the test stops.

    Where neither gives one, as at a regulator's outlet of 4 in w.c.: where the heat input of a burner as drawn is at
    the limit ``overfire`` r, p = r^2 p0, by p ~ I^2 [Pa].
    """
    supply, row = appliance.supply, supply_of(appliance)
    known = supply.high_gauge_pressure_Pa or (row.high_Pa if row else None)
    return known or bench_limit("overfire").high ** 2 * supply.gauge_pressure_Pa


def limits_turned_low(appliance: Appliance, limits: ManifoldRange | None = None) -> ManifoldRange:
    """The same with the burner turned low: it takes little gas, and its regulator rises towards its lock-up.

    The upper end is the highest of the supply, as with every burner off; the lower end stays.
    limits : of the pressure at full rate; None for what the regulator should hold

    >>> from burnerlab.appliance import demonstration
    >>> low = limits_turned_low(demonstration())
    >>> round(low.low_Pa), round(low.high_Pa)
    (1609, 2615)
    """
    full, highest_Pa = limits or manifold_range(appliance), highest_pressure_Pa(appliance)
    return replace(full, high_Pa=highest_Pa, low_Pa=min(full.low_Pa, highest_Pa))


def manifold_check(
    appliance: Appliance,
    measured_pressure_Pa: float,
    burner: str | None = None,
    measured_gross_W: float | None = None,
    measured_uncertainty: float = READING_U,
    limits: ManifoldRange | None = None,
) -> ManifoldCheck:
    """Expected input from the pressure read and the orifices of the file, against the measured one.

    measured_pressure_Pa : gauge [Pa]; burner : one of the kind, None for all burners together
    measured_gross_W : heat input by meter or scale [W], None when there is none
    measured_uncertainty : relative standard, of that heat input [-]
    limits : what the pressure is compared with where it is not what the regulator should hold, as that of a test plan
    The pressure is compared with the setting of the regulator, the input with its interval of k = 2.
    Raises UserError for a burner the appliance has not, and a pressure that is not above 0.

    >>> from burnerlab.appliance import demonstration
    >>> check = manifold_check(demonstration(), 4 * 1743.6, "tile broiler")
    >>> check.expected_gross_W / check.nominal_gross_W
    1.992
    """
    if not measured_pressure_Pa > 0.0:
        raise UserError(Problem("must be above 0", pressure_words(measured_pressure_Pa), "manifold pressure"))
    nominal = expected_at(appliance, appliance.supply.gauge_pressure_Pa, burner)
    limits, highest_Pa = limits or manifold_range(appliance), highest_pressure_Pa(appliance)
    limits = replace(limits, high_Pa=min(limits.high_Pa, highest_Pa))
    expected = expected_at(appliance, measured_pressure_Pa, burner).gross_W
    u_Pa = gauge_uncertainty_Pa(appliance) / 2.0
    spread = {**default_spreads(), **appliance.spreads}
    units = [spread[name].half_width / DIVISOR[spread[name].shape] for name in ("coefficient", "wobbe")]
    u = math.hypot(0.5 * u_Pa / measured_pressure_Pa, *units)
    ratio = None if measured_gross_W is None else measured_gross_W / expected
    wide = None if ratio is None else 2.0 * math.hypot(u, measured_uncertainty)
    return ManifoldCheck(
        burners=tuple(one.name for one in nominal.burners),
        measured_pressure_Pa=measured_pressure_Pa,
        nominal_pressure_Pa=appliance.supply.gauge_pressure_Pa,
        pressure_uncertainty_Pa=2.0 * u_Pa,
        pressure_verdict=_verdict(measured_pressure_Pa, 2.0 * u_Pa, limits),
        pressure_low_Pa=limits.low_Pa,
        pressure_high_Pa=limits.high_Pa,
        pressure_source=joined(", ", filter(None, (limits.source, limits.no_band))),
        highest_Pa=highest_Pa,
        nominal_gross_W=nominal.gross_W,
        expected_gross_W=expected,
        relative_uncertainty=u,
        measured_gross_W=measured_gross_W,
        ratio=ratio,
        ratio_uncertainty=wide,
        text=_text(ratio, wide),
        rated=rated_basis(appliance),
    )


TOO_NARROW = (
    "The gauge, ± {gauge}, cannot decide a band as narrow as this: read the pressure with a finer one."
)


def is_too_narrow(low_Pa: float, high_Pa: float, expanded_Pa: float) -> bool:
    """Whether a band is narrower than the interval of a reading, so that none is shown to be within it.

    >>> is_too_narrow(2850.0, 2900.0, 28.9), is_too_narrow(2850.0, 2910.0, 28.9)
    (True, False)
    """
    return high_Pa - low_Pa < 2.0 * expanded_Pa


def gauge_uncertainty_Pa(appliance: Appliance) -> float:
    """Expanded uncertainty of a manifold pressure as the gauge of the bench reads it, k = 2 [Pa]."""
    by_name = instruments(appliance.tables.instrument_uncertainty)
    return 2.0 * by_name["manifold pressure"].standard_uncertainty


def pressure_stops(check: ManifoldCheck) -> tuple[StopNotice, ...]:
    """The stop of a manifold pressure above the highest of the supply, else of one outside its band."""
    read_Pa = check.measured_pressure_Pa
    if check.above_range:
        limit = pressure_end_words(check.highest_Pa, "high")
        return (replace(_pressure_stop("pressure", read_Pa, limit), why=check.regulator_words),)
    return band_stops(read_Pa, check.pressure_low_Pa, check.pressure_high_Pa)


def band_stops(read_Pa: float, low_Pa: float | None, high_Pa: float | None) -> tuple[StopNotice, ...]:
    """The stop of a manifold pressure outside its band, above it or below it; an end that is not known has none.

    >>> [one.id for read_Pa in (1500.0, 1700.0, 1900.0) for one in band_stops(read_Pa, 1609.0, 1857.0)]
    ['pressure-low', 'pressure-band']
    """
    is_above = high_Pa is not None and read_Pa > high_Pa
    end_Pa = high_Pa if is_above else low_Pa
    if end_Pa is None or not (is_above or read_Pa < end_Pa):
        return ()
    ends = None if low_Pa is None or high_Pa is None else pressure_ends_words(low_Pa, high_Pa)
    end: BandEnd = "high" if is_above else "low"
    limit = pressure_end_words(end_Pa, end) if ends is None else ends[1 if is_above else 0]
    return (_pressure_stop("pressure-band" if is_above else "pressure-low", read_Pa, limit),)


def _pressure_stop(id: str, read_Pa: float, limit: str) -> StopNotice:
    return stop_notice(id, read=pressure_beside_words(read_Pa, limit), limit=limit)


def _verdict(pressure_Pa: float, expanded_Pa: float, expected: ManifoldRange) -> Verdict:
    """Outside beyond the range, within where the whole interval is inside, near between; none without a band."""
    if not expected.low_Pa <= pressure_Pa <= expected.high_Pa:
        return Verdict.OUTSIDE
    if expected.no_band:
        return Verdict.NOT_EVALUATED
    inside = expected.low_Pa <= pressure_Pa - expanded_Pa and pressure_Pa + expanded_Pa <= expected.high_Pa
    return Verdict.WITHIN if inside else Verdict.NEAR


def _text(ratio: float | None, wide: float | None) -> str:
    if ratio is None or wide is None:
        return "no measured input to hold against it"
    most = bench_limit("overfire").high
    said = f"measured over expected at this pressure: {ratio:.3f} ± {wide:.3f}, STOP above {most:.2f}"
    if ratio * (1.0 - wide) > 1.0:
        return f"{said}; more than this pressure gives through these orifices: orifice, gas, leak or reading"
    if ratio * (1.0 + wide) < 1.0:
        return (
            f"{said}; less than this pressure gives through these orifices: orifice, hole, valve or reading"
        )
    return f"{said}; pressure and orifices account for the reading within its uncertainty"
