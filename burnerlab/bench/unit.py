"""The unit under test: its burners, its file, and what each burner should give."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.convert import built_for
from burnerlab.appliance.conversion.evaluation_result import WarmUp
from burnerlab.appliance.conversion.flame_stability import stabilities
from burnerlab.appliance.conversion.gas_facts import GasStates
from burnerlab.appliance.conversion.job import drills_named
from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.memory import Memory, Same, tables_key
from burnerlab.appliance.operation.supply_pressures import (
    NORTH_AMERICA,
    SupplyPressure,
    same_pressure,
    supply_pressures,
)
from burnerlab.appliance.project.basis import RatedBasis, rated_basis
from burnerlab.appliance.project.model import (
    Appliance,
    Burner,
    Market,
    MarketSupply,
    Orifice,
    Supply,
    Tolerance,
)
from burnerlab.bench.decision_rule import DecisionRule, Rating, bench_limit
from burnerlab.bench.reading.heat_input import HeatContent, InputMeasured, compared, heat_content
from burnerlab.bench.reading.manifold import (
    Expected,
    conditions_of,
    each_burner,
    expected_input,
    flow_of,
    supply_of,
)
from burnerlab.bench.reading.meter import MeterReading
from burnerlab.bench.reading.readings import MeterEntry, Method, Reading
from burnerlab.bench.stop import power_words, pressure_words
from burnerlab.burner.burner import burner_fuel
from burnerlab.gas import DeclaredGas, Gas, load
from burnerlab.gas.gas_family import Family
from burnerlab.orifice.drill import Drill
from burnerlab.orifice.flow import Conditions
from burnerlab.orifice.stock import stock_list
from burnerlab.quantity import PRESETS
from burnerlab.tables.problem import Problem, UserError

# The unit at the test: which burners are on, what each should give, by what it is measured, and the other
# supply.

Array = NDArray[np.float64]
UNITS = Memory(100)
"""Units under test that were used last: a test of one needs it at every reading."""
FALLBACK_REGION = "NA"  # whose other gas is taken when the pressure is not a nominal one


def is_LP(gas: GasStates) -> bool:
    """Whether a gas is heavier than air, and comes from a cylinder."""
    return (
        gas.standard_density_kg_per_m3(PRESETS["ISO_15_15"]) > 1.2255
    )  # kg/m3 of dry air there, iso6976-2016


def is_cylinder_gas(appliance: Appliance) -> bool:
    """Whether the gas of a file comes from a cylinder that can be weighed.

    >>> from burnerlab.appliance import demonstration
    >>> is_cylinder_gas(demonstration())
    False
    """
    return is_LP(GasStates(appliance.supply.gas))


def require_cylinder_gas(appliance: Appliance) -> None:
    """Raises UserError where a unit is built for a gas that comes from no cylinder: one connected to it is a fault.

    >>> from burnerlab.appliance import demonstration
    >>> require_cylinder_gas(demonstration())
    Traceback (most recent call last):
        ...
    burnerlab.tables.problem.UserError: gas: natural-gas-typical of the unit comes from no cylinder: where one is ...
    """
    if is_cylinder_gas(appliance):
        return
    what = (
        f"{appliance.supply.gas.name} of the unit comes from no cylinder: where one is connected, close it, "
        "leave the unit off, and a qualified person finds out why"
    )
    fix = "name the market or plan of its LP version, or weigh without the file"
    raise UserError(Problem(what, key="gas", fix=fix))


@dataclass(frozen=True, slots=True, kw_only=True)
class SubstituteSupply:
    """A gas the appliance might have been made for instead, and the pressure it comes at."""

    gas: GasStates
    gauge_pressure_Pa: float
    words: str

    @classmethod
    def of(cls, gas: Gas | DeclaredGas, gauge_pressure_Pa: float) -> SubstituteSupply:
        """Gas and pressure, in words with both units of the pressure."""
        words = f"{gas.words} at {pressure_words(gauge_pressure_Pa)}"
        return cls(gas=GasStates(gas), gauge_pressure_Pa=gauge_pressure_Pa, words=words)

    def comes_as(self, supply: Supply | MarketSupply) -> bool:
        """Whether a supply of a file is this one."""
        is_same = same_pressure(supply.gauge_pressure_Pa, self.gauge_pressure_Pa)
        return is_same and supply.gas.name == self.gas.gas.name


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringState:
    """What one reading was taken of: the burners on, at which rate, by what."""

    burner: str  # "" for all burners together
    weights: (
        Array  # [burner] expected input of those that were on, over that of all under test; 0 for the others
    )
    load: float  # expected input of those that were on over that of the whole appliance [-]
    method: Method
    low: bool
    expected: Expected  # at full
    expected_W: float  # of this reading, gross, at its rate
    meter: MeterEntry | None = None  # its ambient pressure rounded as ``_entry_of_key`` does


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitUnderTest:
    """An appliance at the test: the burners under test, what each should give, and what was read of them."""

    appliance: Appliance
    burners: tuple[Burner, ...]  # each a single one
    gas: GasStates
    conditions: Conditions
    nominal_W: Array  # gross, of each burner with the nominal pressure before its orifice
    expected_W: (
        Array  # of each by its supply: together where all were on at once in a reading, else each alone
    )
    whole_W: float  # of the whole appliance by its supply, every burner on
    substitutes: tuple[SubstituteSupply, ...]
    drills: tuple[Drill, ...]
    firings: tuple[FiringState, ...]  # one for each reading
    cache: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)  # computed once

    @property
    def methods(self) -> tuple[Method, ...]:
        """By what was measured."""
        return tuple(dict.fromkeys(firing.method for firing in self.firings))

    @property
    def entries(self) -> tuple[MeterEntry, ...]:
        """What stood beside the timings of each reading by meter; none where that of any is not known."""
        entries = [firing.meter for firing in self.firings if firing.method == "meter"]
        return tuple(entry for entry in entries if entry) if all(entries) else ()

    @property
    def weights(self) -> Array:
        """Part of the expected heat input that each burner has [-]."""
        found: Array = self.expected_W / np.sum(self.expected_W)
        return found

    @property
    def highest_load(self) -> float:
        """Largest part of the whole appliance that was on at once [-]."""
        return max(firing.load for firing in self.firings)

    @property
    def rated(self) -> RatedBasis:
        """The basis of its rating."""
        return rated_basis(self.appliance)

    @property
    def rated_gross_W(self) -> Array:
        """Rating of each burner, gross."""
        return np.array([burner.rate_W / self.rated.of_gross for burner in self.burners])

    @property
    def alone_W(self) -> Array:
        """Expected heat input of each burner on alone, gross, whatever else is on at the test."""
        names = [burner.name for burner in self.burners]
        each = {name: float(expected_input(self.appliance, name).each_W[0]) for name in dict.fromkeys(names)}
        return np.array([each[name] for name in names])

    @property
    def overfire_limit_W(self) -> Array:
        """Heat input above which a cause overfires a burner, gross: the same whether it is on alone or with others.

        The limit ``overfire`` times what it should give alone, and never within the band of its rating.
        """
        top = 1.0 + self.appliance.limits.tolerance.high
        return np.maximum(bench_limit("overfire").high * self.alone_W, top * self.rated_gross_W)

    def power_words(self, gross_W: float) -> str:
        """A heat input on the basis of the rating, in words; of another gas as well, by which it is compared."""
        return power_words(gross_W * self.rated.of_gross, self.rated.word)

    @property
    def is_LP(self) -> bool:
        """Whether the gas is heavier than air, and comes from a cylinder."""
        return is_LP(self.gas)


def unit_under_test(
    appliance: Appliance,
    burner: str | None = None,
    method: Method = "meter",
    substitute: SubstituteSupply | None = None,
    readings: Sequence[Reading] = (),
) -> UnitUnderTest:
    """An appliance at the test, with the burners that were on in any reading.

    burner, method : of the readings that name none; burner None is all together
    substitute : the other gas and its pressure; None takes those of the region whose supply pressure the appliance has
    readings : none is one heat input of ``burner`` at full
    Raises UserError for a burner it has not, and for a low rate of a burner whose file names no turndown.
    """
    read = tuple(readings) or (Reading(ratio=1.0),)
    firings = tuple(
        (
            one.burner if one.burner is not None else burner,
            one.method or method,
            one.is_low_rate,
            _entry_of_key(one.meter),
        )
        for one in read
    )
    key = (
        Same(appliance),
        tables_key(appliance.tables),
        None if substitute is None else Same(substitute),
        firings,
    )
    return UNITS.recall(key, lambda: _new_unit(appliance, substitute, firings))


def _entry_of_key(entry: MeterEntry | None) -> MeterEntry | None:
    """An entry with its ambient pressure to 10 mbar: the weather of a day makes no other unit."""
    if entry is None or entry.ambient_pressure_Pa is None:
        return entry
    return replace(entry, ambient_pressure_Pa=round(entry.ambient_pressure_Pa, -3))


def _new_unit(
    appliance: Appliance,
    substitute: SubstituteSupply | None,
    firings: Sequence[tuple[str | None, Method, bool, MeterEntry | None]],
) -> UnitUnderTest:
    """The same with burner, method, low rate and meter entry of each reading."""
    gas, at = GasStates(appliance.supply.gas), conditions_of(appliance)
    names = [name for name, *_ in firings]
    burners = [each_burner(appliance, name)[0].name if name else None for name in names]
    by_file = {name: expected_input(appliance, name) for name in dict.fromkeys((None, *burners))}
    together = by_file[None]
    alone = [by_file[name] for name in dict.fromkeys(burners) if name]
    chosen = together.burners if None in burners else tuple(one.burners[0] for one in alone)
    expected = together.each_W if None in burners else np.concatenate([one.each_W for one in alone])
    return UnitUnderTest(
        appliance=appliance,
        burners=chosen,
        gas=gas,
        conditions=at,
        nominal_W=np.array([flow_of(appliance, one, at, gas).heat_input_gross_W for one in chosen]),
        expected_W=expected,
        whole_W=together.gross_W,
        substitutes=substitute_supplies(appliance) if substitute is None else (substitute,),
        drills=orifices_of(appliance),
        firings=tuple(
            replace(_firing(chosen, expected, by_file, name, by, low), meter=entry)
            for name, (_, by, low, entry) in zip(burners, firings, strict=True)
        ),
    )


def orifices_of(appliance: Appliance) -> tuple[Drill, ...]:
    """The orifices that may stand in a unit: those of the stock, else the drills of the limits or of the region.

    >>> from burnerlab.appliance import demonstration
    >>> {drill.kind for drill in orifices_of(demonstration())} >= {"number"}
    True
    """
    own = appliance.tables
    return drills_named(appliance.drills) if own.stock is None else stock_list(own.stock, own.drill_tolerance)


def _firing(
    burners: tuple[Burner, ...],
    expected_W: Array,
    by_file: Mapping[str | None, Expected],
    name: str | None,
    method: Method,
    low: bool,
) -> FiringState:
    at_full = by_file[name]
    on = np.zeros(len(burners))
    first = 0 if name is None else next(i for i, burner in enumerate(burners) if burner.name == name)
    on[first : first + len(at_full.burners)] = at_full.each_W
    if low:
        on *= [turndown_of(burner) if used else 0.0 for burner, used in zip(burners, on, strict=True)]
    return FiringState(
        burner=name or "",
        weights=on / np.sum(expected_W),
        load=float(np.sum(on)) / by_file[None].gross_W,
        method=method,
        low=low,
        expected=at_full,
        expected_W=float(np.sum(on)),
    )


def turndown_of(burner: Burner) -> float:
    """Low over full rate of a burner [-]. Raises UserError where its file names none."""
    if burner.turndown is None:
        what = "the file names no low rate of this burner"
        raise UserError(Problem(what, burner.name, "low rate", fix='add turndown = "1:3" to the burner'))
    return burner.turndown


def substitute_supplies(appliance: Appliance) -> tuple[SubstituteSupply, ...]:
    """Gases that a unit may get instead, each with its own regulator, none twice.

    First every other gas of the file and of its markets in the region, the partner of a couple among them, at its
    pressure; then those of the other family at the pressures of the region, LP gas beside natural gas and the reverse.
    Last the unit's own gas at the other pressures of the file.

    >>> from burnerlab.appliance import demonstration
    >>> [other.words for other in substitute_supplies(demonstration())]
    ['propane at 27.4 mbar (11.0 in w.c.)']
    """
    own = appliance.tables.supply_pressures
    region = _region_of_pressures(appliance)
    family = Family.SECOND if is_LP(GasStates(appliance.supply.gas)) else Family.THIRD
    by_words: dict[str, SupplyPressure] = {}
    for supply in supply_pressures(own):
        if supply.region == region and supply.family.startswith(family) and not supply.couple:
            by_words.setdefault(supply.reference_gas, supply)
    sold = [
        SubstituteSupply.of(one.gas, one.gauge_pressure_Pa)
        for one in _supplies_in_file(appliance)
        if one.gas.name != appliance.supply.gas.name
    ]
    names = {one.gas.gas.name for one in sold}
    others = [
        SubstituteSupply.of(load(name), supply.nominal_Pa)
        for name, supply in by_words.items()
        if name not in names
    ]
    return tuple({one.words: one for one in (*sold, *others, *_other_pressures(appliance))}.values())


OTHER_PRESSURE = 0.1  # nominals nearer than this, such as 28 and 30 mbar, are of one regulator (judgement)


def _other_pressures(appliance: Appliance) -> Iterator[SubstituteSupply]:
    """The gas of a unit at other pressures of its file: what a change from 50 to 30 mbar may have left in it."""
    here = appliance.supply
    for one in _supplies_in_file(appliance):
        is_near = math.isclose(one.gauge_pressure_Pa, here.gauge_pressure_Pa, rel_tol=OTHER_PRESSURE)
        if one.gas.name == here.gas.name and not is_near:
            yield SubstituteSupply.of(one.gas, one.gauge_pressure_Pa)


def _region_of_pressures(appliance: Appliance) -> str:
    """The region in the table of supply pressures whose nominal pressure the unit has."""
    row = supply_of(appliance)
    return row.region if row else FALLBACK_REGION


def _supplies_in_file(appliance: Appliance) -> Iterator[Supply | MarketSupply]:
    """That of the file, where the unit is built for another, and those of its markets in the region of the unit."""
    if appliance.as_in_file is not None:
        yield appliance.as_in_file.supply
    for market in appliance.markets:
        if _is_of_region(market, appliance):
            yield from market.supply


def _is_of_region(market: Market, appliance: Appliance) -> bool:
    own = appliance.region or ("us" if _region_of_pressures(appliance) in NORTH_AMERICA else "eu")
    return (market.region or own) == own


def orifices_in_file(appliance: Appliance, supply: SubstituteSupply) -> Mapping[str, Orifice]:
    """Orifices by burner that the file has for another supply: its own, or those of a market; empty where it has none.

    Of several markets on that supply those of the one whose altitude is nearest to that of the unit.

    >>> from burnerlab.appliance import demonstration
    >>> propane = substitute_supplies(demonstration())[0]
    >>> orifices_in_file(demonstration(), propane)["griddle tube middle"].drill
    '#57'
    """
    file = appliance.as_in_file
    if file is not None and supply.comes_as(file.supply):
        return {one.name: one.orifice for one in file.burners if not one.orifice.is_calculated}
    file = file or appliance
    sold = [
        target
        for target, market in zip(targets_of(file), file.markets, strict=True)
        if _is_of_region(market, appliance) and any(map(supply.comes_as, market.supply))
    ]
    if not sold:
        return {}
    place = appliance.supply.altitude_m or 0.0
    nearest = min(
        sold, key=lambda sale: abs((sale.target.altitude_m or file.supply.altitude_m or 0.0) - place)
    )
    try:
        built = built_for(nearest.appliance, nearest.target)
    except UserError:  # a market that cannot be calculated has no orifices
        return {}
    return {one.name: one.orifice for one in built.burners}


# What the project file of a model says of a reading: the rating, what the gas is worth, the pressure at the
# meter.


def rating_of(
    appliance: Appliance, burner: str | None, rule: DecisionRule, unit: str = "kW", *, low: bool = False
) -> Rating:
    """Rated heat input of one burner of the kind, or of all together, with the band of the file.

    burner : name of the kind, None for all burners; unit : in which sentences print it
    low : at the low rate, with the band of low rates as drawn
    Raises UserError for a burner the appliance has not, and for a low rate that the file does not name.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.bench.reading.meter import MeterReading
    >>> from burnerlab.bench.decision_rule import decision_rule
    >>> rating_of(demonstration(), "stock-pot ring", decision_rule()).heat_input_W
    8792.13
    """
    words = "low rate" if low else "rating"
    if appliance.limits.couple_factor != 1.0:
        words = "low rate on this gas" if low else "rating on this gas"
    elif appliance.limits.rating_share != 1.0:
        words = "low rate at its altitude" if low else "rating at its altitude"
    return Rating(
        words=words,
        heat_input_W=sum(
            one.rate_W * (turndown_of(one) if low else 1.0) for one in each_burner(appliance, burner)
        ),
        basis=appliance.rating,
        tolerance=low_rate_band() if low else appliance.limits.tolerance,
        rule=rule,
        unit=unit,
    )


def low_rate_band() -> Tolerance:
    """The band about a low rate: two standard deviations of burners as drawn."""
    row = bench_limit("low rate")
    return Tolerance(low=-2.0 * row.high, high=2.0 * row.high, source=f"twice the {row.what}: {row.source}")


SAME_RATING = 0.01  # two figures of one rating differ by their rounding


def with_file_comparison(
    measured: InputMeasured, appliance: Appliance, burner: str | None, *, low: bool = False
) -> InputMeasured:
    """What was measured, held against the file's own rating too where the one it was held against is another."""
    comparison = measured.comparison
    if comparison is None:
        return measured
    own = rating_of(appliance, burner, comparison.rating.rule, comparison.rating.unit, low=low)
    own = replace(own, tolerance=comparison.rating.tolerance, words=comparison.rating.words)
    to_gross = {"gross": 1.0, "net": measured.heat.net_to_gross}
    file_W, bench_W = (one.heat_input_W / to_gross[one.basis] for one in (own, comparison.rating))
    if abs(bench_W / file_W - 1.0) <= SAME_RATING:
        return measured
    of_file = compared(measured.budget, measured.heat, own, measured.correction, "")
    if of_file is not None:
        of_file = of_file.until_barometer(measured.sea_level_ratio)
    return replace(measured, file_comparison=of_file)


def near_low_rate(appliance: Appliance, burner: str | None, gross_W: float) -> str:
    """The sentence for a reading at full that is nearer to the low rate of the file; "" for any other.

    >>> from burnerlab.appliance import demonstration
    >>> near_low_rate(demonstration(), "griddle tube left", 1250.0)
    'near the low rate of the file, 1.22 kW (4170 Btu/h) gross: read at low?'
    """
    by_file = expected_input(appliance, burner)
    if any(one.turndown is None for one in by_file.burners):
        return ""
    low_W = float(by_file.each_W @ [one.turndown or 1.0 for one in by_file.burners])
    if (
        abs(gross_W / low_W - 1.0) > bench_limit("overfire at low").high - 1.0
        or low_W > 0.9 * by_file.gross_W
    ):
        return ""
    basis = rated_basis(appliance)
    return f"near the low rate of the file, {power_words(low_W * basis.of_gross, basis.word)}: read at low?"


def steady_note(appliance: Appliance, burner: str | None) -> str:
    """When the air of a burner lit from cold is steady, and how air and rate change until then; "" where not known.

    burner : None takes the one that changes most

    >>> from burnerlab.appliance import demonstration
    >>> steady_note(demonstration(), "griddle tube left")
    'lit from cold, griddle tube left: primary air ...'
    """
    slowest = _slowest_to_warm(appliance, burner)
    if slowest is None:
        return ""
    name, warm, change = slowest
    head = warm.head_temperature_15_min_K
    assert head is not None  # of those modelled
    steady = warm.steady_s
    when = (
        "not steady within two hours"
        if steady is None
        else "within 2 % of its last value from the start"
        if steady == 0.0
        else f"within 2 % of its last value after {math.ceil(steady / 60.0)} min"
    )
    metal = f"{head.value - 273.15:.0f} °C ({head.low - 273.15:.0f} to {head.high - 273.15:.0f} °C)"
    return (
        f"lit from cold, {name}: primary air {100 * change:+.1f} % in 15 min, {when}; metal at the ports then about"
        f" {metal}. {_rate_drift(warm)}. Judge flame and flue gas once it is steady (calculated)"
    )


def _slowest_to_warm(appliance: Appliance, burner: str | None) -> tuple[str, WarmUp, float] | None:
    """The burner lit from cold whose air changes most, its warm-up and that change [-]; None where not known."""
    gas, own = appliance.supply.gas, appliance.tables.burner_coefficients
    if isinstance(gas, DeclaredGas):
        return None
    names = None if burner is None else [burner]
    found = stabilities(appliance, names=names, fuel=burner_fuel(gas, own=own))  # its air alone
    known = [
        (one.name, one.warm_up, one.warm_up.primary_aeration_change)
        for one in found
        if one.warm_up is not None and one.warm_up.primary_aeration_change is not None
    ]
    modelled = [each for each in known if each[1].head_temperature_15_min_K is not None]
    if not modelled:
        return None
    return min(modelled, key=lambda each: each[2])


WARM_UP_min = 15  # over which the change of the air is stated


def wait_note(appliance: Appliance, burner: str | None) -> str:
    """How long a burner lit from cold burns before its flame is judged, for whoever stands beside it; "" if not known.

    burner : None takes the one whose air changes most

    >>> from burnerlab.appliance import demonstration
    >>> wait_note(demonstration(), "griddle tube left")
    'Lit from cold, wait 15 min before judging the flame (calculated)'
    """
    slowest = _slowest_to_warm(appliance, burner)
    if slowest is None:
        return ""
    steady = slowest[1].steady_s
    if steady is None:
        return "Lit from cold, the air changes for over two hours: judge the flame hot (calculated)"
    wait = max(WARM_UP_min, math.ceil(steady / 60.0))
    return f"Lit from cold, wait {wait} min before judging the flame (calculated)"


def _rate_drift(warm: WarmUp) -> str:
    """How the heat input changes from cold to hot: with the square root of the absolute temperature of its gas."""
    change = warm.heat_input_change
    if change is None:
        return (
            "The change of its heat input is not evaluated: it needs the temperature of the gas at the hot orifice,"
            ' measured in the manifold at the orifice and written as orifice = { ..., hot_gas_temperature = "45 C" }'
        )
    ends = f"{100 * change.low:+.1f} to {100 * change.high:+.1f} %"
    return f"Heat input {100 * change.value:+.1f} % ({ends}), as the gas at the orifice warms"


def heat_of(appliance: Appliance) -> HeatContent:
    """What the gas of the file is worth, at its own reference state or at 15 C / 15 C."""
    gas = appliance.supply.gas
    at = gas.reference if isinstance(gas, DeclaredGas) else PRESETS["ISO_15_15"]
    return heat_content(gas, at, own=appliance.tables.instrument_uncertainty)


def with_file_pressures(reading: MeterReading, appliance: Appliance) -> MeterReading:
    """The reading, with the pressure at the meter and of the surroundings by the file where they were not read.

    The pressure at the meter is the inlet, else the nominal pressure: a meter of LP gas stands behind the regulator of
    its cylinder. Taken as 0 a reading would hide an overfired burner.

    >>> from burnerlab.appliance import demonstration
    >>> round(with_file_pressures(MeterReading(dial_m3=0.05, times_s=(214.0,)), demonstration()).gauge_pressure_Pa)
    2491
    """
    if reading.gauge_pressure_Pa is None:
        at_meter = meter_pressure_Pa(appliance)
        reading = replace(
            reading,
            gauge_pressure_Pa=appliance.supply.gauge_pressure_Pa if at_meter is None else at_meter,
            meter_pressure_of_file=at_meter is not None,
            meter_pressure_is_nominal=at_meter is None,
        )
    if reading.ambient_pressure_Pa is None:
        ambient = appliance.supply.ambient_pressure_Pa
        reading = replace(reading, ambient_pressure_Pa=ambient, ambient_pressure_of_file=True)
    return reading


def working_pressure_Pa(appliance: Appliance) -> float:
    """Highest pressure that the joints of a unit work at, gauge: its inlet where that is a meter's, else nominal [Pa].

    >>> from burnerlab.appliance import demonstration
    >>> working_pressure_Pa(demonstration())
    2490.89
    """
    return max(appliance.supply.gauge_pressure_Pa, meter_pressure_Pa(appliance) or 0.0)


def working_pressure_on_Pa(appliance: Appliance, gas: str) -> float | None:
    """Highest pressure that the joints of a unit work at on one gas, gauge: of the file, or of its markets [Pa].

    gas : that the unit was tested with, "" for that of the file
    None where neither the file nor a market of it is on that gas.

    >>> from burnerlab.appliance import demonstration
    >>> working_pressure_on_Pa(demonstration(), ""), working_pressure_on_Pa(demonstration(), "G20")
    (2490.89, None)
    """
    own = [working_pressure_Pa(appliance)] if gas in ("", appliance.supply.gas.name) else []
    targets = (target for market in targets_of(appliance) for target in market.targets)
    own += [target.gauge_pressure_Pa for target in targets if target.gas.name == gas]
    return max(own, default=None)


def meter_pressure_Pa(appliance: Appliance) -> float | None:
    """Gauge pressure at the meter by the inlet of the supply train [Pa]; None where the file does not say it.

    The inlet is the pressure before everything in the file: at the meter, or at a cylinder. That of LP gas is a
    meter's only up to the limit ``LP at the meter`` of the table ``bench_limits``. The inlet of another supply, as
    where an appliance was changed to another pressure, says nothing of a meter.

    >>> from burnerlab.appliance import demonstration
    >>> meter_pressure_Pa(demonstration())
    2490.89
    """
    supply, train = appliance.supply, appliance.supply.train
    inlet = None if train is None else train.inlet_gauge_pressure_Pa
    if train is None or inlet is None:
        return None
    if not same_pressure(train.nominal_gauge_pressure_Pa, supply.gauge_pressure_Pa):
        return None
    at_cylinder = is_LP(GasStates(supply.gas)) and inlet > bench_limit("LP at the meter").high
    return None if at_cylinder else inlet
