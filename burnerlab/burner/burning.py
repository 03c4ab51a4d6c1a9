"""The burning velocity of a gas as the stability limits ask for it, from the tables of the room of flames."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from burnerlab.burner.arrays import Array, Numbers
from burnerlab.burner.burner import BurnerFuel, burner_fuel
from burnerlab.burner.stability import Burning
from burnerlab.gas import Gas
from burnerlab.tables.problem import UserError


@dataclass(frozen=True, slots=True)
class Tabulated:
    """The burning velocity of one gas from the shipped tables."""

    gas: Gas
    richest: float  # equivalence ratio

    def __call__(
        self, equivalence_ratio: Numbers, unburnt_temperature_K: Numbers, pressure_Pa: Numbers
    ) -> Array:
        """Burning velocity [m/s]; nan outside the tables."""
        from burnerlab.flame.speed import flame_states

        found: Array = flame_states(
            self.gas, equivalence_ratio, unburnt_temperature_K, pressure_Pa
        ).burning_velocity_m_per_s
        return found

    def relative_error(self, equivalence_ratio: Numbers) -> Array:
        """Standard error of the burning velocity, relative [-]."""
        from burnerlab.flame.speed import burning_velocity_errors

        found: Array = burning_velocity_errors(self.gas, equivalence_ratio)
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A burning velocity, or why there is none."""

    burning: Burning | None
    why_not: str = ""


def burning_of(gas: Gas) -> Known:
    """The tabulated burning velocity of a gas, or why it has none.

    >>> from burnerlab.gas import load
    >>> float(burning_of(load("propane")).burning(1.0, 298.15, 101325.0).round(2))
    0.4
    """
    from burnerlab.flame.speed import RANGES, prepared

    try:
        prepared(gas)
    except UserError as error:
        why = "; ".join(" ".join(filter(None, (problem.value, problem.what))) for problem in error.problems)
        return Known(burning=None, why_not=why)
    return Known(burning=Tabulated(gas, RANGES["equivalence ratio"][1]))


def fuel_with_flame(gas: Gas, own: Path | None = None) -> BurnerFuel:
    """The figures of a gas that a burner asks for, with its burning velocity where the tables hold it.

    own : the user's own coefficients, for the limit of yellow tipping
    """
    known = burning_of(gas)
    return burner_fuel(gas, known.burning, known.why_not, own)
