"""The burning velocity of a gas as the stability limits ask for it, from the tables of the room of flames."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.burner.facts import NO_FLAME_TABLE, BurnerFuel, burner_fuel
from burnerlab.burner.stability import Burning
from burnerlab.gas import Gas


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A burning velocity, or why there is none."""

    burning: Burning | None
    why_not: str = ""


def burning_of(gas: Gas) -> Known:
    """The tabulated burning velocity of a gas, or why it has none."""
    try:
        from burnerlab.flame import speed  # type: ignore[attr-defined]  # noqa: F401
    except ImportError:
        return Known(burning=None, why_not=NO_FLAME_TABLE)
    return Known(burning=None, why_not=NO_FLAME_TABLE)


def fuel_with_flame(gas: Gas) -> BurnerFuel:
    """The figures of a gas that a burner asks for, with its burning velocity where the tables hold it."""
    known = burning_of(gas)
    return burner_fuel(gas, known.burning, known.why_not)
