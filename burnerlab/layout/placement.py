"""Burners of a project file at their places, and the coefficients of the layout."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from burnerlab.appliance.project.geometry_checks import names_of
from burnerlab.appliance.project.model import Appliance, Burner, Place
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.quantity import Basis
from burnerlab.tables import Figure, figure
from burnerlab.tables.problem import Problem, UserError

TABLE = "layout_coefficients"


def coefficient(name: str, own: Path | None = None) -> Figure:
    """One row of the table ``layout_coefficients``, or of the user's own.

    >>> coefficient("capture grate").value
    0.3
    """
    return figure(TABLE, name, own)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One burner of a project file at its place."""

    name: str
    burner: Burner
    place: Place


def standing(appliance: Appliance) -> tuple[Standing, ...]:
    """Every burner of a file with a place, numbered where there are several of a kind.

    Raises UserError where several of a kind share one place.
    """
    found, problems = [], []
    for burner in appliance.burners:
        if burner.places and len(burner.places) != burner.count:
            what = f"gives one place for {burner.count} burners"
            problems.append(
                Problem(what, value=burner.name, key="place", fix="give a list, one place for each")
            )
            continue
        for name, place in zip(names_of(burner), burner.places, strict=False):
            found.append(Standing(name=name, burner=burner, place=place))
    if problems:
        raise UserError(problems)
    return tuple(found)


class MapBasis(NamedTuple):
    """The basis of the ratings of a file, and what turns the net heat input of a map into one on it [-]."""

    word: Basis
    of_net: float


def map_basis(appliance: Appliance) -> MapBasis:
    """Gross or net, as the ratings of the file are.

    >>> from burnerlab.appliance import demonstration
    >>> basis = map_basis(demonstration())
    >>> basis.word, round(basis.of_net, 2)
    ('gross', 1.11)
    """
    if appliance.rating == "net":
        return MapBasis("net", 1.0)
    return MapBasis("gross", 1.0 / net_share(appliance.supply.gas))


def net_share(gas: Gas | DeclaredGas) -> float:
    """Net over gross heating value [-]."""
    return float(gas.heating_value_J_per_kg("net") / gas.heating_value_J_per_kg("gross"))
