"""The basis of the ratings of a file, gross or net, on which its heat inputs are printed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from burnerlab.quantity import Basis

if TYPE_CHECKING:
    from burnerlab.appliance.project.model import Appliance
    from burnerlab.gas import DeclaredGas, Gas


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedBasis:
    """The basis on which an appliance is rated, and what turns a gross heat input into one on it [-]."""

    word: Basis
    of_gross: float


GROSS_RATED = RatedBasis(word="gross", of_gross=1.0)


def rated_basis(appliance: Appliance, gas: Gas | DeclaredGas | None = None) -> RatedBasis:
    """Gross or net, as the ratings of the file are.

    gas : that is burned; that of the supply where None

    >>> from burnerlab.appliance import demonstration
    >>> rated_basis(demonstration())
    RatedBasis(word='gross', of_gross=1.0)
    """
    if appliance.rating == "gross":
        return GROSS_RATED
    heat = (appliance.supply.gas if gas is None else gas).heating_value_J_per_kg
    return RatedBasis(word="net", of_gross=float(heat("net") / heat("gross")))
