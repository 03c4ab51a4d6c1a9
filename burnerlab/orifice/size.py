"""The other way round: the bore for a heat input, and the drills that come nearest to it."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Generic, get_args, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.orifice.discharge_coefficient import (
    HANDBOOK_COEFFICIENT,
    HIGHEST_COEFFICIENT,
    LOWEST_COEFFICIENT,
    Coefficient,
    CoefficientLaw,
    check_coefficient,
)
from burnerlab.orifice.drill import (
    KINDS,
    SERIES,
    WIRE,
    Drill,
    ToleranceBand,
    beyond,
    drill_list,
    neighbours,
    tolerance_band,
)
from burnerlab.orifice.flow import (
    ABOVE_ZERO,
    FINITE,
    STANDARD_GAS_TEMPERATURE_K,
    Conditions,
    Number,
    OrificeFlow,
    OrificeGas,
    flow,
    through_bore,
)
from burnerlab.quantity import Basis, Kind, Quantities, Quantity, first_outside, si_numbers
from burnerlab.quantity.outputs import output
from burnerlab.quantity.quantity_text import kilowatt
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]

PROBE_BORE_m = 1e-3
CLOSE_ENOUGH = 1e-14
DEFAULT_TOLERANCE = 0.05  # of the heat input; row "default" of the table input_tolerances where that is used


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class SizedOrifice(WithSummary, Generic[Number]):
    """The exact bore for a heat input, and the flow through it; one case holds numbers, many hold arrays."""

    heat_input_W: Number = field(metadata=output("wanted heat input", Kind.POWER))
    """Of all holes together, on its basis."""
    basis: Basis = field(metadata=output("its basis"))
    diameter_m: Number  # that of the flow
    area_m2: Number = field(metadata=output("area of a hole", Kind.AREA))
    law: Coefficient  # as given: a number, or a law that also holds at the bores of drills
    flow: OrificeFlow[Number] = field(metadata=output("flow", is_part=True))

    def summary(self) -> Summary:
        bore, heat = figure(self.diameter_m, Kind.DIAMETER), figure(self.heat_input_W, Kind.POWER)
        lines = tuple(one.line for one in closing_cautions("size"))
        return Summary(f"{bore} for {heat} {self.basis}", lines=lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrificeChoice:
    """A drill that could make the orifice, and what it would give; heat inputs are of all holes together."""

    drill: str = field(metadata=output("drill"))
    kind: str = field(metadata=output("list"))
    diameter_m: float = field(metadata=output("diameter", Kind.DIAMETER))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    deviation: float = field(metadata=output("deviation", Kind.FRACTION, is_change=True))
    """Of the heat input from the one wanted [-]."""
    drill_tolerance_low_gross_W: float = field(
        metadata=output("small end of the drill's tolerance", Kind.POWER, basis="gross")
    )
    drill_tolerance_high_gross_W: float = field(
        metadata=output("large end of the drill's tolerance", Kind.POWER, basis="gross")
    )
    tolerance: ToleranceBand
    flow: OrificeFlow
    part: str = field(default="", metadata=output("part number"))
    """Of the user's own stock."""


@overload
def size(  # type: ignore[overload-overlap]  # one is among one or many
    gas: OrificeGas | str,
    heat_input_W: Quantity,
    basis: Basis,
    conditions: Conditions,
    coefficient: Coefficient = HANDBOOK_COEFFICIENT,
    count: int = 1,
    *,
    combustion_temperature_K: Quantity = STANDARD_GAS_TEMPERATURE_K,
) -> SizedOrifice: ...
@overload
def size(
    gas: OrificeGas | str,
    heat_input_W: Quantities,
    basis: Basis,
    conditions: Conditions | Conditions[Array],
    coefficient: Coefficient | Array = HANDBOOK_COEFFICIENT,
    count: int = 1,
    *,
    combustion_temperature_K: Quantity = STANDARD_GAS_TEMPERATURE_K,
) -> SizedOrifice[Array]: ...
def size(
    gas: OrificeGas | str,
    heat_input_W: Quantities,
    basis: Any,
    conditions: Conditions[Any],
    coefficient: Any = HANDBOOK_COEFFICIENT,
    count: int = 1,
    *,
    combustion_temperature_K: Quantity = STANDARD_GAS_TEMPERATURE_K,
) -> SizedOrifice[Any]:
    """Bore of equal holes for a heat input: A = I / (n K eps H sqrt(2 rho1 dp)).

    gas : anything with real density, isentropic exponent and heating value, or a name of the library
    heat_input_W : of all holes together, on the basis [W]
    basis : gross or net
    conditions : gauge and ambient pressure [Pa], gas temperature at the hole [K]
    coefficient : discharge coefficient [-], or a law of bore and ideal Reynolds number
    count : number of holes [-]
    Heat input, conditions and coefficient may be arrays, which broadcast together; the result then holds arrays.
    Returns a SizedOrifice. Raises UserError as ``flow`` does, for a heat input that is not positive, a basis
    that is neither gross nor net, and when the bore lies outside the range of the coefficient's source.

    >>> from burnerlab.gas import load
    >>> size(load("propane"), 7058.5, "gross", Conditions(gauge_pressure_Pa=2740.0)).diameter_m
    0.0013970
    """
    heat = si_numbers(heat_input_W, Kind.POWER, "heat_input_W")
    if not callable(coefficient):
        coefficient = si_numbers(coefficient, Kind.FRACTION, "coefficient")
    if np.ndim(basis) or basis not in get_args(Basis):
        raise UserError(
            Problem("rating basis missing: gross or net", str(basis), "basis", accepted="gross or net")
        )
    _check_heat(heat)

    def flow_at(diameter_m: Any, law: Any) -> OrificeFlow[Any]:
        return flow(
            gas, diameter_m, conditions, law, count, combustion_temperature_K=combustion_temperature_K
        )

    probe = flow_at(PROBE_BORE_m if isinstance(heat, float | int) else np.full(heat.shape, PROBE_BORE_m), 1.0)
    diameter = _bore(probe, heat, basis, coefficient)
    return SizedOrifice(
        heat_input_W=heat,
        basis=basis,
        diameter_m=diameter,
        area_m2=math.pi / 4.0 * diameter**2,
        law=coefficient,
        flow=through_bore(probe, diameter, coefficient)
        if isinstance(diameter, float)
        else flow_at(diameter, coefficient),
    )


def size_from(
    passing: OrificeFlow, heat_input_W: float, basis: Basis, coefficient: Coefficient, count: int = 1
) -> SizedOrifice:
    """``size`` on the gas and the conditions of a flow, for many orifices on one gas.

    passing : of ``flow``, one case; the other arguments, result and errors are those of ``size``, in SI

    >>> from burnerlab.gas import load
    >>> passing = flow(load("propane"), 1e-3, Conditions(gauge_pressure_Pa=2740.0))
    >>> size_from(passing, 7058.5, "gross", 0.9).diameter_m
    0.0013970
    """
    _check_heat(heat_input_W)
    probe = through_bore(passing, PROBE_BORE_m, 1.0, count)
    diameter = _bore(probe, heat_input_W, basis, coefficient)
    return SizedOrifice(
        heat_input_W=heat_input_W,
        basis=basis,
        diameter_m=diameter,
        area_m2=math.pi / 4.0 * diameter**2,
        law=coefficient,
        flow=through_bore(probe, diameter, coefficient),
    )


def _check_heat(heat_input_W: Any) -> None:
    """Raises UserError for a heat input that is not above 0."""
    wrong = first_outside(heat_input_W, ABOVE_ZERO, FINITE)
    if wrong is not None:
        raise UserError(Problem("a heat input must be above 0", f"{wrong:g} W", "rate"))


def _bore(probe: OrificeFlow[Any], heat_input_W: Any, basis: Basis, coefficient: Any) -> Any:
    """The bore from the flow through one of ``PROBE_BORE_m`` without losses."""
    ideal = PROBE_BORE_m * _root(heat_input_W / probe.heat_input_W(basis))
    if callable(coefficient):
        search = _bracketed if isinstance(ideal, float) else np.vectorize(_bracketed, otypes=[float])
        return search(coefficient, probe.reynolds / PROBE_BORE_m, ideal)
    return ideal / _root(check_coefficient(coefficient))


def _root(value: Any) -> Any:
    """Of a number, a number; correctly rounded, as that of an array."""
    return math.sqrt(value) if isinstance(value, float | int) else np.sqrt(value)


def _bracketed(law: CoefficientLaw, reynolds_per_m: float, ideal_m: float) -> float:
    """Bore with d^2 K(d, Re) = ideal^2, Re growing with d; a K of 0.5 to 1.0 bounds it from both sides."""

    def too_small(diameter_m: float) -> bool:
        k = law.unchecked(diameter_m, reynolds_per_m * diameter_m)
        return diameter_m**2 * min(max(k, LOWEST_COEFFICIENT), HIGHEST_COEFFICIENT) < ideal_m**2

    low, high = ideal_m / math.sqrt(HIGHEST_COEFFICIENT), ideal_m / math.sqrt(LOWEST_COEFFICIENT)
    while high - low > CLOSE_ENOUGH * high:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if too_small(middle) else (low, middle)
    return high


def choices(
    gas: OrificeGas,
    heat_input_W: float,
    basis: Basis,
    conditions: Conditions,
    coefficient: Coefficient = HANDBOOK_COEFFICIENT,
    drills: Sequence[Drill] | None = None,
    count: int = 1,
) -> tuple[OrificeChoice, ...]:
    """The nearest drill below and the nearest above the bore for a heat input, by rising diameter.

    Arguments as of ``size``; drills : by rising diameter, number drills when none are given.
    Returns one or two OrificeChoice: one where the list ends or a drill has exactly the bore.

    >>> from burnerlab.gas import load
    >>> near = choices(load("propane"), 4900.0, "gross", Conditions(gauge_pressure_Pa=2740.0))
    >>> [(choice.drill, round(100 * choice.deviation, 1)) for choice in near]
    [('#57', -12.0), ('#56', 3.0)]
    """
    return choices_near(size(gas, heat_input_W, basis, conditions, coefficient, count), drills)


def choices_near(
    sized: SizedOrifice,
    drills: Sequence[Drill] | None = None,
    *,
    each_side: int = 1,
    tolerances: Path | None = None,
) -> tuple[OrificeChoice, ...]:
    """The drills nearest below and above an exact bore, by rising diameter, each with what it would give.

    sized : from ``size``; drills : by rising diameter, number drills when none are given
    each_side : how many on either side [-]; tolerances : the user's own drill tolerance table
    Returns OrificeChoice. Raises UserError for an empty list, and for arrays of orifices.

    >>> from burnerlab.gas import load
    >>> sized = size(load("propane"), "12 kBtu/h", "gross", Conditions(gauge_pressure_Pa="11 in w.c."))
    >>> [choice.drill for choice in choices_near(sized)]
    ['#62', '#61']
    """
    if np.ndim(sized.diameter_m):
        fix = "give size one heat input and one set of conditions"
        raise UserError(Problem("drills are chosen for one orifice, got an array", key="sized", fix=fix))
    listed = drill_list("number") if drills is None else drills
    if not listed:
        raise UserError(Problem("the drill list is empty"))
    first_above = bisect_left(listed, sized.diameter_m, key=_diameter_m)
    below = listed[: bisect_right(listed, sized.diameter_m, first_above, key=_diameter_m)][-each_side:]
    above = listed[first_above : first_above + each_side]
    return tuple(choice_of(sized, drill, tolerances) for drill in dict.fromkeys([*below, *above]))


def _diameter_m(drill: Drill) -> float:
    return drill.diameter_m


def choice_of(sized: SizedOrifice, drill: Drill, tolerances: Path | None = None) -> OrificeChoice:
    """What one drill would give in place of an exact bore; tolerances : the user's own drill tolerance table."""
    stream = through_bore(sized.flow, drill.diameter_m, sized.law)
    band = tolerance_band(drill, tolerances)
    heat, gross = stream.heat_input_W(sized.basis), stream.heat_input_gross_W
    return OrificeChoice(
        drill=drill.name,
        kind=drill.kind,
        diameter_m=drill.diameter_m,
        heat_input_gross_W=gross,
        heat_input_net_W=stream.heat_input_net_W,
        deviation=heat / sized.heat_input_W - 1.0,
        drill_tolerance_low_gross_W=gross * (1.0 + band.area_change_low(drill.diameter_m)),
        drill_tolerance_high_gross_W=gross * (1.0 + band.area_change_high(drill.diameter_m)),
        tolerance=band,
        flow=stream,
        part=drill.part,
    )


def nearest_choice(sized: SizedOrifice, offered: Sequence[OrificeChoice]) -> OrificeChoice:
    """The choice whose bore is nearest to the exact one; of two equally near the smaller, not to overfire."""
    if not offered:
        raise UserError(Problem("no drill is offered"))
    return min(offered, key=lambda choice: (abs(choice.diameter_m - sized.diameter_m), choice.diameter_m))


def no_drill_meets(
    sized: SizedOrifice,
    drills: Sequence[Drill] | None = None,
    tolerance: float = DEFAULT_TOLERANCE,
    lists: Sequence[str] | None = None,
) -> str:
    """A sentence when no drill of a list gives the heat input within a tolerance, else an empty string.

    It names the step of area that is too large, or the end of the list, and the lists that would do.

    sized : from ``size``; drills : by rising diameter, number drills when none are given
    tolerance : of the heat input [-]; lists : those whose drills may be named instead, else all

    >>> from burnerlab.gas import load
    >>> no_drill_meets(size(load("propane"), 5500.0, "gross", Conditions(gauge_pressure_Pa=2740.0)))
    'between #56 and #55 the area steps by 25.1 %: no number drill comes within 5 % of 5.5 kW gross ...'
    """
    listed = tuple(drill_list("number") if drills is None else drills)
    near = choices_near(sized, listed)
    if any(abs(choice.deviation) <= tolerance for choice in near):
        return ""
    both = neighbours(sized.diameter_m, listed)
    wanted = kilowatt(sized.heat_input_W, ".4g") + f" {sized.basis}"
    gives = ", ".join(f"{choice.drill} gives {100 * choice.deviation:+.1f} %" for choice in near)
    if both.area_step is None or both.below is None or both.above is None:
        why = beyond(sized.diameter_m, listed)
    else:
        why = (
            f"between {both.below.name} and {both.above.name} the area steps by {100 * both.area_step:.1f} %"
        )
    kinds = [kind for kind in (*SERIES, WIRE) if any(drill.kind == kind for drill in listed)]
    what = (
        f"no {' or '.join(kinds)} drill"
        if kinds and all(d.kind in kinds for d in listed)
        else "no drill of the list"
    )
    sentence = f"{why}: {what} comes within {100 * tolerance:g} % of " + wanted + f" ({gives})"
    return sentence + _lists_that_would(
        sized, [kind for kind in (lists or KINDS) if kind in SERIES and kind not in kinds], tolerance
    )


def _lists_that_would(sized: SizedOrifice, kinds: Sequence[str], tolerance: float) -> str:
    if not kinds:
        return "; an engineer may specify a new blank drilled to size"
    found = []
    for kind in kinds:
        offered = choices_near(sized, drill_list(kind))
        best = min(offered, key=lambda choice: abs(choice.deviation))
        if abs(best.deviation) <= tolerance:
            found.append(f"{best.drill} of the {kind} list ({100 * best.deviation:+.1f} %)")
    return (
        f"; {' or '.join(found)} would"
        if found
        else "; no other list has one either: an engineer may specify a new blank drilled to size"
    )


def diameter_ratio(
    from_wobbe: ArrayLike, to_wobbe: ArrayLike, from_pressure_Pa: ArrayLike, to_pressure_Pa: ArrayLike
) -> NDArray[np.float64]:
    """New bore over old for the same heat input by the trade's conversion rule: sqrt((W1/W2) sqrt(p1/p2)).

    It leaves expansibility out and takes the same coefficient on both sides: a check beside ``size``, not
    the engine.

    from_wobbe, to_wobbe : of the two gases, on one basis and in one unit [J/m3]
    from_pressure_Pa, to_pressure_Pa : gauge at the orifice [Pa]
    Returns the ratio [-].

    >>> float(diameter_ratio(1000 / 0.60**0.5, 2516 / 1.52**0.5, 3.5, 11.0))
    0.5974
    """
    wobbe, pressure = np.divide(from_wobbe, to_wobbe), np.divide(from_pressure_Pa, to_pressure_Pa)
    ratio: NDArray[np.float64] = np.sqrt(wobbe * np.sqrt(pressure))
    return ratio
