"""Heat inputs on the basis on which the appliance is rated, so that a rating reads as its plate does."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.appliance.gasfacts import GasUsed
from burnerlab.appliance.result import Conversion


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """The word of the rating, and what turns a gross heat input into one on it [-]."""

    word: str  # gross or net
    present: float  # of the present gas
    new: float


def basis_of(c: Conversion) -> Basis:
    """The basis of the file's ratings."""
    if c.rating_basis != "net":
        return Basis(word="gross", present=1.0, new=1.0)
    return Basis(word="net", present=_net_to_gross(c.from_gas), new=_net_to_gross(c.to_gas))


def _net_to_gross(gas: GasUsed) -> float:
    return gas.net_heating_value_J_per_kg / gas.gross_heating_value_J_per_kg
