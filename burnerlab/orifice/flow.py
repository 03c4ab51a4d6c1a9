"""How much gas comes through an orifice, and the heat input it carries."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, Protocol

from burnerlab.gas.state import dry_share
from burnerlab.gas.viscosity import Viscosity, viscosity
from burnerlab.orifice import nozzle
from burnerlab.quantity.error import Problem, UserError
from burnerlab.quantity.reference import STANDARD_PRESSURE_PA

if TYPE_CHECKING:
    from burnerlab.quantity import ReferenceState

Basis = Literal["gross", "net"]


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


class CoefficientLaw(Protocol):
    """A discharge coefficient that depends on the bore and on the Reynolds number of the ideal jet."""

    def __call__(self, diameter_m: float, reynolds: float) -> float:
        """The coefficient [-]; raises UserError outside the range of its source."""

    def unchecked(self, diameter_m: float, reynolds: float) -> float:
        """The same without the check of range, for a search that passes through bores it does not return."""


Coefficient = float | CoefficientLaw
"""A discharge coefficient [-], or the law of one."""

STANDARD_GAS_TEMPERATURE_K = 288.15  # 15 C
HANDBOOK_COEFFICIENT = 0.90  # row "tapered" of the table discharge
LOWEST_COEFFICIENT, HIGHEST_COEFFICIENT = 0.5, 1.0
SUBCRITICAL = "subcritical: converging nozzle, isentropic to the ambient pressure"
CHOKED = (
    "choked: converging nozzle held at the critical pressure ratio, the ambient pressure no longer matters"
)
ESTIMATED_VISCOSITY = "Reynolds number from the viscosity of the alkane of the same molar mass"


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What the gas finds on both sides of the hole."""

    gauge_pressure_Pa: float
    ambient_pressure_Pa: float = STANDARD_PRESSURE_PA
    gas_temperature_K: float = STANDARD_GAS_TEMPERATURE_K

    @property
    def absolute_pressure_Pa(self) -> float:
        """Upstream of the hole."""
        return self.gauge_pressure_Pa + self.ambient_pressure_Pa

    def check(self) -> None:
        """Refuse conditions under which nothing flows; all problems at once."""
        problems: list[Problem] = []
        if not (self.gauge_pressure_Pa > 0.0 and math.isfinite(self.gauge_pressure_Pa)):
            finite = math.isfinite(self.gauge_pressure_Pa)
            what = "supply pressure must be above the outlet pressure" if finite else "must be finite"
            problems.append(
                Problem(what, f"{self.gauge_pressure_Pa:g} Pa", "pressure", accepted="above 0 gauge")
            )
        for key, value, unit in (
            ("ambient pressure", self.ambient_pressure_Pa, "Pa"),
            ("gas temperature", self.gas_temperature_K, "K"),
        ):
            if not (value > 0.0 and math.isfinite(value)):
                problems.append(Problem("must be above absolute zero and finite", f"{value:g} {unit}", key))
        if problems:
            raise UserError(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrificeFlow:
    """The flow through equal holes; mass flow and heat inputs are those of all holes together."""

    gas: OrificeGas
    diameter_m: float
    conditions: Conditions
    coefficient: float
    count: int
    mass_flow_kg_per_s: float
    heat_input_gross_W: float
    heat_input_net_W: float
    expansibility: float  # in m = n K eps A sqrt(2 rho1 dp), with the actual dp also when choked
    choked: bool
    critical_pressure_ratio: float
    upstream_density_kg_per_m3: float
    isentropic_exponent: float
    velocity_m_per_s: float  # in the narrowest place, without losses
    viscosity_Pa_s: float
    reynolds: float  # of one hole, ideal: as if the coefficient were 1
    combustion_temperature_K: float  # of the heating value
    notes: tuple[str, ...]

    @property
    def area_m2(self) -> float:
        """Of one hole."""
        return math.pi / 4.0 * self.diameter_m**2

    def heat_input_W(self, basis: Basis) -> float:
        """Gross or net heat input of all holes together [W]."""
        return self.heat_input_gross_W if basis == "gross" else self.heat_input_net_W

    def volume_flow_m3_per_s(self, reference: ReferenceState) -> float:
        """Volume flow of all holes together at a reference state [m3/s].

        The gas that flows is dry; at a saturated state its volume counts the vapour it would take up.
        """
        dry = self.gas.standard_density_kg_per_m3(replace(reference, saturated=False))
        return self.mass_flow_kg_per_s / (dry * dry_share(reference))


def jet(
    gas: OrificeGas,
    diameter_m: float,
    conditions: Conditions,
    coefficient: Coefficient = HANDBOOK_COEFFICIENT,
    count: int = 1,
    *,
    combustion_temperature_K: float = STANDARD_GAS_TEMPERATURE_K,
) -> OrificeFlow:
    """Flow and heat input of equal holes: m = n K eps A sqrt(2 rho1 dp), heat input = m H.

    gas : anything with real density, isentropic exponent and heating value
    diameter_m : hole [m]
    conditions : gauge and ambient pressure [Pa], gas temperature at the hole [K]
    coefficient : discharge coefficient [-], or a function of bore and ideal Reynolds number
    count : number of holes [-]
    combustion_temperature_K : of the heating value [K]
    Returns an OrificeFlow. Raises UserError for a pressure at or below the outlet's, a coefficient outside
    0.5 to 1.0, a hole or a count that is not positive.
    Source: isentropic flow through a converging nozzle; ISO 5167-3 expansibility at vanishing diameter ratio.
    The exponent upstream is kept along the way: against the isentrope of the real gas that costs 0.02 % at
    14 kPa gauge and less than 0.4 % up to 2 bar.

    >>> from burnerlab.gas import load
    >>> flow = jet(load("propane"), 1.397e-3, Conditions(gauge_pressure_Pa=2740.0))
    >>> flow.heat_input_gross_W, flow.expansibility
    (7058.5, 0.98228)
    """
    conditions.check()
    _check_bore(diameter_m, count)
    before = _upstream(gas, conditions)
    stream = _stream(diameter_m, conditions, before, coefficient)
    mass_flow = stream.mass_flow_kg_per_s * count
    p, ambient, k = conditions.gauge_pressure_Pa, conditions.ambient_pressure_Pa, before.isentropic_exponent
    is_choked = bool(nozzle.choked(p, ambient, k))
    return OrificeFlow(
        gas=gas,
        diameter_m=diameter_m,
        conditions=conditions,
        coefficient=stream.coefficient,
        count=count,
        mass_flow_kg_per_s=mass_flow,
        heat_input_gross_W=mass_flow * float(gas.heating_value_J_per_kg("gross", combustion_temperature_K)),
        heat_input_net_W=mass_flow * float(gas.heating_value_J_per_kg("net", combustion_temperature_K)),
        expansibility=float(nozzle.expansibility(p, ambient, k)),
        choked=is_choked,
        critical_pressure_ratio=float(nozzle.critical_pressure_ratio(k)),
        upstream_density_kg_per_m3=before.density_kg_per_m3,
        isentropic_exponent=k,
        velocity_m_per_s=float(nozzle.throat_velocity_m_per_s(p, ambient, before.density_kg_per_m3, k)),
        viscosity_Pa_s=before.viscosity.value_Pa_s,
        reynolds=stream.reynolds,
        combustion_temperature_K=combustion_temperature_K,
        notes=(
            CHOKED if is_choked else SUBCRITICAL,
            *([ESTIMATED_VISCOSITY] if before.viscosity.estimated else []),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Upstream:
    """The still gas before the hole."""

    density_kg_per_m3: float
    isentropic_exponent: float
    viscosity: Viscosity


def _upstream(gas: OrificeGas, conditions: Conditions) -> _Upstream:
    """The state of the real gas that feeds the hole."""
    temperature, pressure = conditions.gas_temperature_K, conditions.absolute_pressure_Pa
    return _Upstream(
        density_kg_per_m3=float(gas.density_kg_per_m3(temperature, pressure)),
        isentropic_exponent=float(gas.isentropic_exponent(temperature, pressure)),
        viscosity=viscosity(gas, temperature),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stream:
    """What one hole passes."""

    mass_flow_kg_per_s: float
    coefficient: float
    reynolds: float


def _stream(
    diameter_m: float, conditions: Conditions, before: _Upstream, coefficient: Coefficient
) -> _Stream:
    """The isentropic flow through one hole, and the share of it that the real hole passes.

    A law of the coefficient is asked at the Reynolds number of the isentropic flow, Re = 4 m/(pi d mu), so that
    nothing has to be iterated.
    """
    ideal = float(
        nozzle.mass_flow_kg_per_s(
            diameter_m,
            conditions.gauge_pressure_Pa,
            conditions.ambient_pressure_Pa,
            before.density_kg_per_m3,
            before.isentropic_exponent,
        )
    )
    reynolds = 4.0 * ideal / (math.pi * diameter_m * before.viscosity.value_Pa_s)
    used = check_coefficient(
        coefficient if isinstance(coefficient, int | float) else coefficient(diameter_m, reynolds)
    )
    return _Stream(mass_flow_kg_per_s=ideal * used, coefficient=used, reynolds=reynolds)


def check_coefficient(coefficient: float, key: str = "coefficient") -> float:
    """The coefficient, when a discharge coefficient can have that value.

    Raises UserError outside 0.5 to 1.0.

    >>> check_coefficient(0.9)
    0.9
    """
    if not (LOWEST_COEFFICIENT <= coefficient <= HIGHEST_COEFFICIENT):
        raise UserError(
            Problem(
                f"a discharge coefficient must lie in {LOWEST_COEFFICIENT} to {HIGHEST_COEFFICIENT}",
                value=f"{coefficient:g}",
                key=key,
                accepted=f"{LOWEST_COEFFICIENT} to {HIGHEST_COEFFICIENT}",
                fix="0.90 is the handbook value of a tapered orifice",
            )
        )
    return coefficient


def _check_bore(diameter_m: float, count: int) -> None:
    problems = []
    if not (diameter_m > 0.0 and math.isfinite(diameter_m)):
        problems.append(Problem("an orifice needs a diameter above 0", f"{diameter_m:g} m", "diameter"))
    if count < 1 or count != int(count):
        problems.append(Problem("the number of orifices must be 1 or more", f"{count:g}", "count"))
    if problems:
        raise UserError(problems)
