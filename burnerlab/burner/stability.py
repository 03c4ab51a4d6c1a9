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

from burnerlab.burner.coefficients import Array, Coefficient, Numbers, array, coefficients
from burnerlab.gas import Gas
from burnerlab.quantity.outputs import output
from burnerlab.tables.figure import Evidence, weakest
from burnerlab.tables.problem import UserError

COVERAGE_FACTOR = 2  # of the error of the burning velocity in the bands of the limits
MEASURED = Evidence.MEASURED
CALIBRATED_NOTE = "factor fitted to what was seen on units of your own"
ERROR_NOTE = f"the band includes the error of the burning velocity (k = {COVERAGE_FACTOR})"
LEAN_NOTE = f"Reed's form with today's burning velocities, within its range; {ERROR_NOTE}"
RICH_NOTE = (
    "beyond a fuel fraction of 1.2 Reed's form falls with the burning velocity, which burners do not do; "
    "a provisional power of the fuel fraction stands in for measured blow-off curves, within a factor of two; "
    f"{ERROR_NOTE}"
)
LIGHT_BACK_NOTE = (
    f"one factor through three recalled peaks of light-back curves, within about a fifth; {ERROR_NOTE}"
)
YELLOW_NOTE = "recalled constants of Bulletin 36; port size and loading, which move the limit, are not in it"


class Burning(Protocol):
    """Laminar burning velocity of one gas with air, read from a table."""

    @property
    def richest(self) -> float:
        """Equivalence ratio the table ends at; beyond it the flame only gets slower."""

    def __call__(
        self, equivalence_ratio: Numbers, unburnt_temperature_K: Numbers, pressure_Pa: Numbers
    ) -> Array:
        """Burning velocity [m/s]; nan where the table has none."""

    def relative_error(self, equivalence_ratio: Numbers) -> Array:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """What the limits ask of a primary mixture; arrays over the cases."""

    burning_velocity_m_per_s: Array
    thermal_diffusivity_m2_per_s: Array
    burning_velocity_error: Numbers = 0.0  # standard, relative (coverage factor 1)


def gas_fraction(stoichiometric_air: Numbers, aeration: Numbers) -> Array:
    """Fuel fraction of the primary mixture over its stoichiometric one, F = (1 + A)/(1 + a A) [-].

    stoichiometric_air : A [m3/m3]; aeration : a, primary over stoichiometric air [-]

    >>> round(float(gas_fraction(9.547, 0.55)), 3), round(float(gas_fraction(23.87, 0.60)), 3)
    (1.687, 1.623)
    """
    air = array(stoichiometric_air)
    found: Array = (1.0 + air) / (1.0 + array(aeration) * air)
    return found


def aeration_of(stoichiometric_air: Numbers, gas_fraction: Numbers) -> Array:
    """The aeration at which the mixture has that fuel fraction, a = ((1 + A)/F - 1)/A [-].

    >>> round(float(aeration_of(9.547, 1.2)), 3)
    0.816
    """
    air = array(stoichiometric_air)
    found: Array = ((1.0 + air) / array(gas_fraction) - 1.0) / air
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
    propane a quarter too fast, it would be 0.06. The band holds the spread of the factor and the error of the burning
    velocity, which counts twice for the square: see ``_spread``.
    Range: laminar ports wider than the quenching distance, at the port's temperature.
    Source: burner-lewis-von-elbe.
    """
    factor = coefficients(own)["light-back factor"]
    return _scaled(
        light_back_gradient_per_s(mixture, 1.0), factor, LIGHT_BACK_NOTE, mixture.burning_velocity_error
    )


def reed_gradient_per_s(gas_fraction: Numbers, mixture: Mixture, own: Path | None = None) -> Array:
    """Lift gradient of Reed's form, g_B = 0.23 [1 + (F^6.4 - 1) a_s] Su^2/alpha, a_s = 1 above F = 1, else 0 [1/s].

    mixture : at that fuel fraction. Range: F up to 1.2. Source: burner-reed.

    >>> lean = Mixture(burning_velocity_m_per_s=np.array(0.3384), thermal_diffusivity_m2_per_s=np.array(2.2294e-5))
    >>> rich = Mixture(burning_velocity_m_per_s=np.array(0.3349), thermal_diffusivity_m2_per_s=np.array(2.2342e-5))
    >>> float(reed_gradient_per_s(0.9086, lean)), float(reed_gradient_per_s(1.1777, rich))
    (1181.4, 3289.0)
    """
    table, fraction = coefficients(own), array(gas_fraction)
    stretch = np.where(fraction > 1.0, fraction ** table["Reed exponent"].value, 1.0)
    unit = mixture.burning_velocity_m_per_s**2 / mixture.thermal_diffusivity_m2_per_s
    found: Array = table["Reed factor"].value * stretch * unit
    return found


def rich_lift_gradient_per_s(
    gas_fraction: Numbers, stoichiometric: Mixture, own: Path | None = None
) -> Array:
    """Lift gradient of a rich mixture, g_B(1) F^4.9 with Reed's g_B(1) [1/s]; provisional.

    stoichiometric : the mixture at F = 1. Source: burner-rich-rule.

    >>> methane = Mixture(burning_velocity_m_per_s=np.array(0.3787), thermal_diffusivity_m2_per_s=np.array(2.231e-5))
    >>> float(rich_lift_gradient_per_s(1.5676, methane))
    13380.5
    """
    exponent = coefficients(own)["rich lift exponent"].value
    found: Array = reed_gradient_per_s(1.0, stoichiometric, own) * array(gas_fraction) ** exponent
    return found


def is_rich(gas_fraction: Numbers, own: Path | None = None) -> NDArray[np.bool_]:
    """Whether a mixture lies beyond the range in which Reed's form is used."""
    return np.asarray(gas_fraction) > coefficients(own)["Reed gas fraction"].value


def lift_limit(
    gas_fraction: Numbers, mixture: Mixture, stoichiometric: Mixture, own: Path | None = None
) -> Limit:
    """Wall gradient above which the flame lifts: Reed's form to F = 1.2, the provisional rule beyond [1/s].

    mixture : at the fuel fraction, stoichiometric : at F = 1, both at the port's temperature and pressure.
    The band holds the spread of the form and the error of the burning velocity that it squares.
    The two forms do not meet, for they are not one law.
    Source: burner-reed.
    """
    table = coefficients(own)
    rich = is_rich(gas_fraction, own)
    used = _reed_mixture(rich, mixture, stoichiometric)
    lean = reed_gradient_per_s(np.where(rich, 1.0, gas_fraction), used, own)
    error = used.burning_velocity_error
    factor, spread = table["Reed factor"], table["rich lift spread"]
    value = np.where(rich, rich_lift_gradient_per_s(gas_fraction, stoichiometric, own) * spread.value, lean)
    rows = [row for row, counts in ((factor, not np.all(rich)), (spread, np.any(rich))) if counts]
    evidence = weakest(*(row.evidence for row in rows))
    note = RICH_NOTE if bool(np.any(rich)) else LEAN_NOTE
    return Limit(
        value=value,
        low=value / _spread(np.where(rich, spread.value / spread.low, factor.value / factor.low), error),
        high=value * _spread(np.where(rich, spread.high / spread.value, factor.high / factor.value), error),
        evidence=evidence,
        sources=(rows[0].source,) if evidence == MEASURED else (factor.source, spread.source),
        provenance=rows[0].provenance if evidence == MEASURED else factor.provenance,
        note=CALIBRATED_NOTE if evidence == MEASURED else note,
    )


def _reed_mixture(rich: NDArray[np.bool_], mixture: Mixture, stoichiometric: Mixture) -> Mixture:
    """The mixture where Reed's form is used; any number elsewhere."""
    return Mixture(
        burning_velocity_m_per_s=np.where(
            rich, stoichiometric.burning_velocity_m_per_s, mixture.burning_velocity_m_per_s
        ),
        thermal_diffusivity_m2_per_s=mixture.thermal_diffusivity_m2_per_s,
        burning_velocity_error=np.where(
            rich, stoichiometric.burning_velocity_error, mixture.burning_velocity_error
        ),
    )


def _spread(ratio: Numbers, burning_velocity_error: Numbers) -> Array:
    """Value over the low end of a gradient, or high end over value, with the error of the burning velocity [-].

    exp(sqrt(ln(ratio)^2 + (2 ln(1 + k u))^2)), k = 2: relative spreads added as squares of their logarithms, that of
    the burning velocity twice, for the gradient goes with its square. A factor measured here keeps that error: it was
    learned on one gas and one mixture and serves others.
    ratio : that of the coefficient alone [-], at least 1; burning_velocity_error : u, standard, relative [-]

    >>> float(_spread(1.2, 0.0)), float(_spread(1.0, 0.05)), float(_spread(1.2, 0.05))
    (1.2, 1.21, 1.302)
    """
    squared = 2.0 * np.log1p(COVERAGE_FACTOR * array(burning_velocity_error))
    found: Array = np.exp(np.hypot(np.log(ratio), squared))
    return found


def _scaled(unit: Array, factor: Coefficient, note: str, burning_velocity_error: Numbers = 0.0) -> Limit:
    return Limit(
        value=unit * factor.value,
        low=unit * factor.value / _spread(factor.value / factor.low, burning_velocity_error),
        high=unit * factor.value * _spread(factor.high / factor.value, burning_velocity_error),
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
