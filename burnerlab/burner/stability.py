"""Between which limits the flame sits: light-back, lift and yellow tipping, each with what it rests on.

Composition is told by F, the fuel fraction of the primary mixture over its stoichiometric one; F is not the
equivalence ratio: methane with half its air has an equivalence ratio of 2 and F = 1.83.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.coefficients import (
    Array,
    Coefficient,
    Coefficients,
    Numbers,
    array,
    coefficients,
)
from burnerlab.gas import Gas
from burnerlab.quantity.outputs import output
from burnerlab.tables.figure import Evidence, weakest
from burnerlab.tables.problem import UserError

COVERAGE_FACTOR = 2  # of the error of the burning velocity in the bands of the limits
MEASURED = Evidence.MEASURED
CALIBRATED_NOTE = "factor fitted to what was seen on units of your own"
ERROR_NOTE = f"the band includes the error of the burning velocity (k = {COVERAGE_FACTOR})"
LIFT_NOTE = (
    "one rule from lean to rich, its power of the fuel fraction between theory and practice: no measured curve is "
    f"behind it; {ERROR_NOTE}"
)
LIGHT_BACK_NOTE = (
    f"one factor through three recalled peaks of light-back curves, within about a fifth; {ERROR_NOTE}"
)
YELLOW_NOTE = "recalled constants of Bulletin 36; port size and loading, which move the limit, are not in it"


class Burning(Protocol):
    """Laminar burning velocity of one gas with air, read from a table."""

    @property
    def richest(self) -> Numbers:
        """Equivalence ratio the table ends at; beyond it the flame only gets slower."""

    def __call__(
        self, equivalence_ratio: Numbers, unburnt_temperature_K: Numbers, pressure_Pa: Numbers
    ) -> Array:
        """Burning velocity [m/s]; nan where the table has none."""

    def relative_error(self, equivalence_ratio: Numbers, unburnt_temperature_K: Numbers) -> Array:
        """Standard error of the burning velocity, relative (coverage factor 1) [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit with its spread; arrays over the cases."""

    value: Array = field(metadata=output("limit"))
    low: Array = field(metadata=output("low end"))
    high: Array = field(metadata=output("high end"))
    evidence: Evidence = field(metadata=output("evidence"))
    sources: tuple[str, ...]
    provenance: str
    note: str = field(metadata=output("note"))
    is_more_than: NDArray[np.bool_] = field(
        default_factory=lambda: np.asarray(False), metadata=output("limit lies above its value")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """What the limits ask of a primary mixture; arrays over the cases."""

    burning_velocity_m_per_s: Array
    thermal_diffusivity_m2_per_s: Array
    burning_velocity_error: Numbers = 0.0  # standard, relative (coverage factor 1)
    hydrogen_share: Numbers = 0.0  # of the fuel [mol/mol]


def gas_fraction(stoichiometric_air: Numbers, aeration: Numbers) -> Array:
    """Fuel fraction of the primary mixture over its stoichiometric one, F = (1 + A)/(1 + a A) [-].

    stoichiometric_air : A [m3/m3]; aeration : a, primary over stoichiometric air [-]

    >>> round(float(gas_fraction(9.547, 0.55)), 3), round(float(gas_fraction(23.87, 0.60)), 3)
    (1.687, 1.623)
    """
    air = array(stoichiometric_air)
    found: Array = (1.0 + air) / (1.0 + array(aeration) * air)
    return found


def light_back_gradient_per_s(mixture: Mixture, factor: float) -> Array:
    """Wall gradient of light-back, g_F = c Su^2/alpha [1/s].

    Not c = 1: a Karlovitz number of one is about fifteen times too high for a laminar port.
    factor : c [-], which goes with the burning velocities it was fitted to. Source: burner-lewis-von-elbe.

    >>> methane = Mixture(burning_velocity_m_per_s=np.array(0.3787), thermal_diffusivity_m2_per_s=np.array(2.231e-5))
    >>> float(light_back_gradient_per_s(methane, 0.06))
    385.7
    """
    return factor * mixture.burning_velocity_m_per_s**2 / mixture.thermal_diffusivity_m2_per_s


def light_back_limit(mixture: Mixture, own: Path | None = None) -> Limit:
    """Wall gradient below which the flame burns back into the port, with the factor of the table [1/s].

    The factor is fitted with the burning velocities of the shipped tables; with those of GRI-Mech 3.0, which burns
    propane a quarter too fast, it would be 0.06. The band holds the spread of the factor, that of the diffusivity, and
    the error of the burning velocity, which counts twice for the square: see ``relative_band``.
    Range: laminar ports wider than the quenching distance, at the port's temperature.
    Source: burner-lewis-von-elbe.
    """
    table = coefficients(own)
    factor, error = table["light-back factor"], mixture.burning_velocity_error
    return _scaled(
        light_back_gradient_per_s(mixture, 1.0), factor, LIGHT_BACK_NOTE, _errors(mixture, error, table)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftMixture:
    """Where a gas burns fastest for its diffusivity: the greatest Su^2/alpha of its mixtures with air."""

    gas_fraction: Array  # F of that mixture
    square_per_s: Array  # Su^2/alpha there
    burning_velocity_error: Numbers = 0.0  # standard, relative (coverage factor 1)


def lift_gradient_per_s(
    gas_fraction: Numbers, mixture: Mixture, strongest: LiftMixture, own: Path | None = None
) -> Array:
    """Wall gradient of lift, g_B = 0.23 max(Su^2/alpha of F' <= F) max(F, 1)^n, n = 4.7 (3.4 to 6.4) [1/s].

    The greatest square of leaner mixtures counts, because outer air mixes in at the rim: the flame's edge burns there
    even where the mixture itself is too rich to.
    mixture : at the fuel fraction; strongest : of the same gas, at the same temperature and pressure. Without the cap.
    Range: laminar ports, at least 40 % primary air. Error: F^-1.3 to F^+1.7 times the value, and the factor's.
    Source: burner-reed for the factor, burner-lift-rule for the power.

    >>> methane = Mixture(burning_velocity_m_per_s=np.array(0.14), thermal_diffusivity_m2_per_s=np.array(2.24e-5))
    >>> peak = LiftMixture(gas_fraction=np.array(1.06), square_per_s=np.array(6209.0))
    >>> float(lift_gradient_per_s(1.4, methane, peak))
    6943.1
    """
    table, fraction = coefficients(own), array(gas_fraction)
    own_square = mixture.burning_velocity_m_per_s**2 / mixture.thermal_diffusivity_m2_per_s
    square = np.where(fraction < strongest.gas_fraction, own_square, strongest.square_per_s)
    factor = table["Reed factor"].value * table["lift scale"].value
    gradient: Array = factor * square * np.maximum(fraction, 1.0) ** table["lift exponent"].value
    return gradient


def lift_limit(
    gas_fraction: Numbers, mixture: Mixture, strongest: LiftMixture, own: Path | None = None
) -> Limit:
    """Wall gradient above which the flame lifts, with its band; above the cap it is only "more than" the cap [1/s].

    The band: the range of the power, and added as squares the spread of the factor, of the diffusivity and the
    error of the burning velocity, twice for the square. A scale measured on units of one's own brings its own spread
    in place of the power's. Source: burner-reed, burner-lift-rule.
    """
    table, fraction = coefficients(own), array(gas_fraction)
    factor, power, scale, cap = (
        table[name] for name in ("Reed factor", "lift exponent", "lift scale", "lift cap")
    )
    gradient = lift_gradient_per_s(fraction, mixture, strongest, own)
    is_leaner = fraction < strongest.gas_fraction
    error = np.where(is_leaner, mixture.burning_velocity_error, strongest.burning_velocity_error)
    is_measured = scale.evidence == MEASURED
    if is_measured:
        shapes = (np.asarray(scale.value / scale.low), np.asarray(scale.high / scale.value))
        low, high = (relative_band(shape - 1.0, *_errors(mixture, error, table)) for shape in shapes)
    else:
        rich = np.log(np.maximum(fraction, 1.0))
        low, high = (
            np.exp(
                np.hypot(rich * reach, np.log(relative_band(ratio - 1.0, *_errors(mixture, error, table))))
            )
            for reach, ratio in (
                (power.value - power.low, factor.value / factor.low),
                (power.high - power.value, factor.high / factor.value),
            )
        )
    rows = (scale,) if is_measured else (factor, power)
    return Limit(
        value=np.asarray(np.minimum(gradient, cap.value)),
        low=np.asarray(np.minimum(gradient / low, cap.value)),
        high=np.asarray(np.minimum(gradient * high, cap.high)),
        evidence=weakest(*(row.evidence for row in rows)),
        sources=tuple(dict.fromkeys(row.source for row in rows)),
        provenance=rows[0].provenance,
        note=CALIBRATED_NOTE if is_measured else LIFT_NOTE,
        is_more_than=np.asarray(gradient >= cap.value),
    )


def relative_band(*errors: Numbers) -> Array:
    """High end over value of a gradient, or value over low end: 1 + sqrt(sum of squares of relative errors) [-].

    With that of the burning velocity twice, sqrt((2 u_S)^2 + 0.2^2 + 0.03^2): 22 % for Su within 5 %, 28 % for 10 %.

    >>> float(relative_band(2 * 0.05, 0.2, 0.03)), float(relative_band(2 * 0.10, 0.2, 0.03))
    (1.226, 1.284)
    """
    square = sum((array(error) ** 2 for error in errors), np.asarray(0.0))
    return np.asarray(1.0 + np.sqrt(square))


def _errors(mixture: Mixture, burning_velocity_error: Numbers, table: Coefficients) -> tuple[Array, Numbers]:
    """Relative errors that Su^2/alpha brings (k = 2): twice that of the velocity, and that of the diffusivity."""
    plain, hydrogen = (
        table[name].high / table[name].value - 1.0
        for name in ("thermal diffusivity", "thermal diffusivity of hydrogen")
    )
    squared = 2.0 * COVERAGE_FACTOR * array(burning_velocity_error)
    return squared, plain + (hydrogen - plain) * array(mixture.hydrogen_share)


def _scaled(unit: Array, factor: Coefficient, note: str, errors: tuple[Numbers, ...] = ()) -> Limit:
    return Limit(
        value=unit * factor.value,
        low=unit * factor.value / relative_band(factor.value / factor.low - 1.0, *errors),
        high=unit * factor.value * relative_band(factor.high / factor.value - 1.0, *errors),
        evidence=factor.evidence,
        sources=(factor.source,),
        provenance=factor.provenance,
        note=CALIBRATED_NOTE if factor.evidence == MEASURED else note,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class YellowTip:
    """The least primary aeration without yellow tips, or why none is told."""

    limit: Limit | None
    why_not: str = ""


def yellow_tip_limit(gas: Gas, own: Path | None = None) -> YellowTip:
    """Primary aeration below which tips are yellow, Y = sum(T x)/(A + 7 inerts - 26.3 oxygen) [-].

    A gas whose parts all burn without soot has none. Source: aga-bulletin-36 (recalled).

    >>> from burnerlab.gas import load
    >>> found = yellow_tip_limit(load("propane")).limit
    >>> float(found.value), float(found.low)
    (0.411, 0.349)
    """
    from burnerlab.gas.interchangeability import bulletin_factors

    try:
        factor = bulletin_factors(gas).Y
    except UserError as error:
        return YellowTip(limit=None, why_not="; ".join(problem.what for problem in error.problems))
    if factor <= 0.0:
        return YellowTip(limit=None, why_not="no part of this gas burns with a yellow tip")
    scale = coefficients(own)["yellow tip scale"]
    found = _scaled(np.asarray(factor), scale, YELLOW_NOTE)
    return YellowTip(
        limit=Limit(
            value=found.value,
            low=found.low,
            high=found.high,
            evidence=found.evidence,
            sources=("aga-bulletin-36", scale.source),
            provenance=scale.provenance if found.evidence == MEASURED else "memory",
            note=found.note,
        )
    )
