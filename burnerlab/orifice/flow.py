"""How much gas comes through an orifice, and the heat input it carries."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Generic, Protocol, overload

import numpy as np

from burnerlab.gas.library import gas_of
from burnerlab.gas.real_gas import viscosity
from burnerlab.gas.summation import dry_share
from burnerlab.orifice import nozzle
from burnerlab.orifice.discharge_coefficient import HANDBOOK_COEFFICIENT, Coefficient, check_coefficient
from burnerlab.quantity import (
    Basis,
    Kind,
    Quantities,
    Quantity,
    ReferenceState,
    check_gas_orifice,
    first_outside,
    si,
    si_numbers,
    take_SI,
)
from burnerlab.quantity.outputs import output
from burnerlab.quantity.reference_state import STANDARD_PRESSURE_PA
from burnerlab.quantity.summary import Summary, WithSummary, figure, plain_figure
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from typing_extensions import TypeVar

    Number = TypeVar("Number", bound=float | nozzle.Array, default=float)
else:
    from typing import TypeVar

    Number = TypeVar("Number")


class OrificeGas(Protocol):
    """What an orifice needs to know of a gas; gases known by composition and by rating plate both do."""

    def density_kg_per_m3(self, temperature_K: float, absolute_pressure_Pa: float) -> float | nozzle.Array:
        """Of the real gas [kg/m3]."""

    def isentropic_exponent(self, temperature_K: float, absolute_pressure_Pa: float) -> float | nozzle.Array:
        """Of the real gas [-]."""

    def heating_value_J_per_kg(self, basis: Basis, combustion_temperature_K: float = 288.15) -> float:
        """Gross or net [J/kg]."""

    def standard_density_kg_per_m3(self, reference: ReferenceState) -> float:
        """Mass in a cubic metre at a reference state [kg/m3]."""


STANDARD_GAS_TEMPERATURE_K = 288.15  # 15 C
ABOVE_ZERO, FINITE = sys.float_info.min, sys.float_info.max
SUBCRITICAL = Phrase("subcritical: converging nozzle, isentropic to the ambient pressure")
CHOKED = Phrase(
    "choked: converging nozzle held at the critical pressure ratio, the ambient pressure no longer matters"
)
ESTIMATED_VISCOSITY = Phrase("Reynolds number from the viscosity of the alkane of the same molar mass")


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions(Generic[Number]):
    """What the gas finds on both sides of the hole; one case, or arrays of many.

    gauge_pressure_Pa : before the hole, above 0 [Pa]
    ambient_pressure_Pa : absolute, around it [Pa]
    gas_temperature_K : of the gas before the hole [K]
    Each is a number in SI, a text with its unit, a quantity of pint, or an array.

    >>> Conditions(gauge_pressure_Pa="28 mbar").gauge_pressure_Pa
    2800.0
    """

    gauge_pressure_Pa: Number = field(metadata=output("gauge pressure", Kind.GAUGE_PRESSURE))
    ambient_pressure_Pa: Number = field(
        default=STANDARD_PRESSURE_PA,  # type: ignore[assignment]
        metadata=output("ambient pressure", Kind.ABSOLUTE_PRESSURE),
    )
    gas_temperature_K: Number = field(
        default=STANDARD_GAS_TEMPERATURE_K,  # type: ignore[assignment]
        metadata=output("gas temperature", Kind.TEMPERATURE),
    )

    if TYPE_CHECKING:

        @overload
        def __init__(
            self: Conditions[float],
            *,
            gauge_pressure_Pa: Quantity,
            ambient_pressure_Pa: Quantity = ...,
            gas_temperature_K: Quantity = ...,
        ) -> None: ...
        @overload
        def __init__(
            self: Conditions[nozzle.Array],
            *,
            gauge_pressure_Pa: Quantities,
            ambient_pressure_Pa: Quantities = ...,
            gas_temperature_K: Quantities = ...,
        ) -> None: ...
        def __init__(self, **fields: Any) -> None: ...

    def __post_init__(self) -> None:
        take_SI(self, arrays=True)

    @property
    def absolute_pressure_Pa(self) -> Number:
        """Upstream of the hole."""
        return self.gauge_pressure_Pa + self.ambient_pressure_Pa  # type: ignore[operator, return-value]

    def check(self) -> None:
        """Refuse conditions under which nothing flows; all problems at once."""
        problems: list[Problem] = []
        wrong = first_outside(self.gauge_pressure_Pa, ABOVE_ZERO, FINITE)
        if wrong is not None:
            finite = math.isfinite(wrong)
            what = "supply pressure must be above the outlet pressure" if finite else "must be finite"
            problems.append(Problem(what, f"{wrong:g} Pa", "pressure", accepted="above 0 gauge"))
        for key, value, unit in (
            ("ambient pressure", self.ambient_pressure_Pa, "Pa"),
            ("gas temperature", self.gas_temperature_K, "K"),
        ):
            wrong = first_outside(value, ABOVE_ZERO, FINITE)
            if wrong is not None:
                problems.append(Problem("must be above absolute zero and finite", f"{wrong:g} {unit}", key))
        if problems:
            raise UserError(problems)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class OrificeFlow(WithSummary, Generic[Number]):
    """The flow through equal holes; mass flow and heat inputs are those of all holes together.

    One case holds numbers, many hold arrays of one shape.
    """

    gas: OrificeGas
    diameter_m: Number = field(metadata=output("orifice", Kind.DIAMETER))
    count: int = field(metadata=output("number of orifices"))
    conditions: Conditions[Number] = field(metadata=output("conditions", is_part=True))
    coefficient: Number = field(metadata=output("discharge coefficient", digits=3))
    heat_input_gross_W: Number = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: Number = field(metadata=output("heat input", Kind.POWER, basis="net"))
    mass_flow_kg_per_s: Number = field(metadata=output("mass flow", Kind.MASS_FLOW))
    choked: bool = field(metadata=output("choked"))  # where there are many, an array
    expansibility: Number = field(metadata=output("expansibility"))
    """In m = n K eps A sqrt(2 rho1 dp), with the actual dp also when choked."""
    critical_pressure_ratio: Number = field(metadata=output("critical pressure ratio"))
    upstream_density_kg_per_m3: Number = field(metadata=output("density before the orifice", Kind.DENSITY))
    isentropic_exponent: Number = field(metadata=output("isentropic exponent"))
    velocity_m_per_s: Number = field(metadata=output("velocity", Kind.VELOCITY))
    """In the narrowest place, without losses."""
    viscosity_Pa_s: Number = field(metadata=output("viscosity", unit="Pa s"))
    reynolds: Number = field(metadata=output("Reynolds number"))
    """Of one hole, ideal: as if the coefficient were 1."""
    ideal_flow_per_square_kg_per_m2s: Number
    """Mass flow of one hole without losses by the square of its bore."""
    combustion_temperature_K: float = field(metadata=output("combustion temperature", Kind.TEMPERATURE))
    """Of the heating value."""
    notes: tuple[str, ...] = field(metadata=output("notes"))

    def summary(self) -> Summary:
        heat, bore = figure(self.heat_input_gross_W, Kind.POWER), figure(self.diameter_m, Kind.DIAMETER)
        pressure = figure(self.conditions.gauge_pressure_Pa, Kind.GAUGE_PRESSURE)
        holes = f"{self.count} holes of {bore}" if self.count > 1 else bore
        cases = "" if np.ndim(self.heat_input_gross_W) == 0 else f"{np.size(self.heat_input_gross_W)} cases: "
        table = (
            (
                "heat input gross",
                "heat input net",
                "mass flow",
                "orifice",
                "pressure before it",
                "coefficient",
            ),
            (
                heat,
                figure(self.heat_input_net_W, Kind.POWER),
                figure(self.mass_flow_kg_per_s, Kind.MASS_FLOW),
                holes,
                pressure,
                plain_figure(self.coefficient),
            ),
        )
        lines = tuple(one.line for one in closing_cautions("flow"))
        return Summary(f"{cases}{heat} gross through {holes} at {pressure}", table, lines)

    @property
    def area_m2(self) -> Number:
        """Of one hole."""
        return math.pi / 4.0 * self.diameter_m**2  # type: ignore[return-value]

    def heat_input_W(self, basis: Basis) -> Number:
        """Gross or net heat input of all holes together [W]."""
        return self.heat_input_gross_W if basis == "gross" else self.heat_input_net_W

    def volume_flow_m3_per_s(self, reference: ReferenceState) -> Number:
        """Volume flow of all holes together at a reference state [m3/s].

        The gas that flows is dry; at a saturated state its volume counts the vapour it would take up.
        """
        dry = self.gas.standard_density_kg_per_m3(replace(reference, saturated=False))
        return self.mass_flow_kg_per_s / (dry * dry_share(reference))  # type: ignore[return-value]


@overload
def flow(  # type: ignore[overload-overlap]  # one is among one or many
    gas: OrificeGas | str,
    diameter_m: Quantity,
    conditions: Conditions,
    coefficient: Coefficient = HANDBOOK_COEFFICIENT,
    count: int = 1,
    *,
    combustion_temperature_K: Quantity = STANDARD_GAS_TEMPERATURE_K,
) -> OrificeFlow: ...
@overload
def flow(
    gas: OrificeGas | str,
    diameter_m: Quantities,
    conditions: Conditions | Conditions[nozzle.Array],
    coefficient: Coefficient | nozzle.Array = HANDBOOK_COEFFICIENT,
    count: int = 1,
    *,
    combustion_temperature_K: Quantity = STANDARD_GAS_TEMPERATURE_K,
) -> OrificeFlow[nozzle.Array]: ...
def flow(
    gas: Any,
    diameter_m: Quantities,
    conditions: Any,
    coefficient: Coefficient | nozzle.Array = HANDBOOK_COEFFICIENT,
    count: Any = 1,
    *,
    combustion_temperature_K: Quantity = STANDARD_GAS_TEMPERATURE_K,
) -> OrificeFlow[Any]:
    """Flow and heat input of equal holes: m = n K eps A sqrt(2 rho1 dp), heat input = m H.

    gas : anything with real density, isentropic exponent and heating value, or a name of the library
    diameter_m : hole [m], or a drill's name; 0.05 to 50 mm
    conditions : gauge and ambient pressure [Pa], gas temperature at the hole [K]
    coefficient : discharge coefficient [-], or a function of bore and ideal Reynolds number
    count : number of holes [-]
    combustion_temperature_K : of the heating value [K]
    Diameter, conditions and coefficient may be arrays, which broadcast together; the result then holds arrays.
    Returns an OrificeFlow. Raises UserError for a pressure at or below the outlet's, a coefficient outside
    0.5 to 1.0, a hole outside the range, a count that is not positive, arrays that do not fit each other.
    Source: isentropic flow through a converging nozzle; ISO 5167-3 expansibility at vanishing diameter ratio.
    The exponent upstream is kept along the way: against the isentrope of the real gas that costs 0.02 % at
    14 kPa gauge and less than 0.4 % up to 2 bar.

    >>> from burnerlab.gas import load
    >>> found = flow(load("propane"), "#54", Conditions(gauge_pressure_Pa=2740.0))
    >>> found.heat_input_gross_W, found.expansibility
    (7058.5, 0.98228)
    """
    burnt: OrificeGas = gas_of(gas)
    diameter = si_numbers(diameter_m, Kind.DIAMETER, "diameter_m")
    combustion_K = si(combustion_temperature_K, Kind.TEMPERATURE, "combustion_temperature_K")
    if not callable(coefficient):
        coefficient = si_numbers(coefficient, Kind.FRACTION, "coefficient")
    _check_conditions(conditions)
    _check_holes(diameter, count)
    return _flow(burnt, _common_shape(diameter, conditions, coefficient), count, combustion_K)


def _flow(
    burnt: OrificeGas,
    at: tuple[Any, Conditions[Any], Any, Callable[[Any], Any]],
    count: Any,
    combustion_K: float,
) -> OrificeFlow[Any]:
    """The flow of checked SI numbers or arrays; at : of ``_common_shape``."""
    diameter, conditions, coefficient, plain = at
    p, ambient = conditions.gauge_pressure_Pa, conditions.ambient_pressure_Pa
    before = _upstream(burnt, conditions, plain)
    per_square = plain(
        nozzle.mass_flow_kg_per_s(1.0, p, ambient, before.density_kg_per_m3, before.isentropic_exponent)
    )
    passing, used, reynolds = _stream(diameter, per_square, before, coefficient)
    mass_flow = passing * count
    gross_W, net_W = _heat_inputs_W(burnt, mass_flow, combustion_K)
    k = before.isentropic_exponent
    is_choked = nozzle.choked(p, ambient, k)
    some, every = (bool(is_choked),) * 2 if plain is float else (is_choked.any(), is_choked.all())
    return OrificeFlow(
        gas=burnt,
        diameter_m=diameter,
        conditions=conditions,
        coefficient=used,
        count=count,
        mass_flow_kg_per_s=mass_flow,
        heat_input_gross_W=gross_W,
        heat_input_net_W=net_W,
        expansibility=plain(nozzle.expansibility(p, ambient, k)),
        choked=some if plain is float else is_choked,
        critical_pressure_ratio=plain(nozzle.critical_pressure_ratio(k)),
        upstream_density_kg_per_m3=before.density_kg_per_m3,
        isentropic_exponent=k,
        velocity_m_per_s=plain(nozzle.throat_velocity_m_per_s(p, ambient, before.density_kg_per_m3, k)),
        viscosity_Pa_s=before.viscosity_Pa_s,
        reynolds=reynolds,
        ideal_flow_per_square_kg_per_m2s=per_square,
        combustion_temperature_K=combustion_K,
        notes=_notes(some, every, before.is_viscosity_estimated),
    )


def _heat_inputs_W(burnt: OrificeGas, mass_flow: Any, combustion_K: float) -> tuple[Any, Any]:
    """Gross and net."""
    gross, net = (
        burnt.heating_value_J_per_kg("gross", combustion_K),
        burnt.heating_value_J_per_kg("net", combustion_K),
    )
    return mass_flow * float(gross), mass_flow * float(net)


def through_bore(
    passing: OrificeFlow, diameter_m: float, coefficient: Coefficient, count: int | None = None
) -> OrificeFlow:
    """The same gas under the same conditions through holes of another bore.

    passing : of ``flow``, one case; diameter_m : hole [m]; count : of the holes, as many as there were without it
    coefficient : as of ``flow``, whose result and errors this has

    >>> from burnerlab.gas import load
    >>> found = flow(load("propane"), "#54", Conditions(gauge_pressure_Pa=2740.0))
    >>> through_bore(found, 2.0 * found.diameter_m, 0.9).heat_input_gross_W / found.heat_input_gross_W
    4.0
    """
    holes = passing.count if count is None else count
    _check_holes(diameter_m, holes)
    ideal = passing.ideal_flow_per_square_kg_per_m2s * diameter_m * diameter_m
    reynolds = 4.0 * ideal / (math.pi * diameter_m * passing.viscosity_Pa_s)
    used = check_coefficient(coefficient(diameter_m, reynolds) if callable(coefficient) else coefficient)
    mass_flow = ideal * used * holes
    gross_W, net_W = _heat_inputs_W(passing.gas, mass_flow, passing.combustion_temperature_K)
    return replace(
        passing,
        diameter_m=diameter_m,
        count=holes,
        coefficient=used,
        mass_flow_kg_per_s=mass_flow,
        heat_input_gross_W=gross_W,
        heat_input_net_W=net_W,
        reynolds=reynolds,
    )


def _check_conditions(conditions: Any) -> None:
    """Raises UserError for what are no conditions, and for a pressure at or below the outlet's."""
    if not isinstance(conditions, Conditions):
        fix = 'write Conditions(gauge_pressure_Pa="11 in w.c.")'
        raise UserError(Problem("are no conditions", repr(conditions)[:60], "conditions", fix=fix))
    conditions.check()


def _notes(is_some_choked: bool, is_every_choked: bool, is_viscosity_estimated: bool) -> tuple[str, ...]:
    """What a flow rests on: which regimes there are, and a viscosity that is an estimate."""
    said = (
        (not is_every_choked, SUBCRITICAL),
        (is_some_choked, CHOKED),
        (is_viscosity_estimated, ESTIMATED_VISCOSITY),
    )
    return tuple(note for holds, note in said if holds)


def _common_shape(
    diameter_m: Any, conditions: Conditions[Any], coefficient: Any
) -> tuple[Any, Conditions[Any], Any, Callable[[Any], Any]]:
    """Hole, conditions and coefficient as numbers, or all as arrays of one shape; and what makes a result of either."""
    at = (conditions.gauge_pressure_Pa, conditions.ambient_pressure_Pa, conditions.gas_temperature_K)
    numbers = [diameter_m, *at] if callable(coefficient) else [diameter_m, *at, coefficient]
    if all(isinstance(each, float | int) for each in numbers):
        return diameter_m, conditions, coefficient, float
    try:
        diameter_m, p, ambient, temperature, *rest = np.broadcast_arrays(*numbers)
    except ValueError as error:
        shapes = ", ".join(str(np.shape(each)) for each in numbers)
        what = "arrays of diameter, conditions and coefficient do not fit each other"
        raise UserError(
            Problem(what, shapes, "shapes", fix="give one number, or arrays of one shape")
        ) from error
    wide: Conditions[Any] = Conditions(
        gauge_pressure_Pa=p, ambient_pressure_Pa=ambient, gas_temperature_K=temperature
    )
    return diameter_m, wide, rest[0] if rest else np.vectorize(coefficient, otypes=[float]), np.asarray


@dataclass(frozen=True, slots=True, kw_only=True)
class _Upstream:
    """The still gas before the hole."""

    density_kg_per_m3: Any
    isentropic_exponent: Any
    viscosity_Pa_s: Any
    is_viscosity_estimated: bool


def _upstream(gas: OrificeGas, conditions: Conditions[Any], plain: Callable[[Any], Any]) -> _Upstream:
    """The state of the real gas that feeds the hole."""
    temperature, pressure = conditions.gas_temperature_K, conditions.absolute_pressure_Pa
    if plain is float:
        known = [viscosity(gas, temperature)]
        mu: Any = known[0].value_Pa_s
    else:
        each, place = np.unique(temperature, return_inverse=True)
        known = [viscosity(gas, one) for one in each.tolist()]
        mu = np.array([one.value_Pa_s for one in known])[place].reshape(np.shape(temperature))
    return _Upstream(
        density_kg_per_m3=plain(gas.density_kg_per_m3(temperature, pressure)),
        isentropic_exponent=plain(gas.isentropic_exponent(temperature, pressure)),
        viscosity_Pa_s=mu,
        is_viscosity_estimated=any(one.estimated for one in known),
    )


def _stream(diameter_m: Any, per_square: Any, before: _Upstream, coefficient: Any) -> tuple[Any, Any, Any]:
    """Mass flow that one hole passes [kg/s], its coefficient, and the Reynolds number of the isentropic flow.

    A law of the coefficient is asked at the Reynolds number of the isentropic flow, Re = 4 m/(pi d mu), so that
    nothing has to be iterated.
    """
    ideal = per_square * diameter_m * diameter_m
    reynolds = 4.0 * ideal / (math.pi * diameter_m * before.viscosity_Pa_s)
    used = check_coefficient(coefficient(diameter_m, reynolds) if callable(coefficient) else coefficient)
    return ideal * used, used, reynolds


def _check_holes(diameter_m: float | nozzle.Array, count: Any) -> None:
    problems = []
    wrong = first_outside(diameter_m, ABOVE_ZERO, FINITE)
    if wrong is not None:
        problems.append(Problem("an orifice needs a diameter above 0", f"{wrong:g} m", "diameter"))
    if not (isinstance(count, int | float | np.integer) and 1 <= count <= 1e6 and count == int(count)):
        problems.append(Problem("the number of orifices must be 1 or more", repr(count)[:60], "count"))
    if problems:
        raise UserError(problems)
    check_gas_orifice(diameter_m)
