"""The factor of a certificate: what passed, or was lost, over what a meter or a scale shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

from burnerlab.bench.uncertainty import Instrument, Quantity
from burnerlab.quantity.inputs import input_row
from burnerlab.tables.problem import Problem

POSSIBLE_U = (0.0, 0.1)
ROW_WITHOUT = {"meter": "gas meter", "scale": "scale"}  # error of an instrument without a factor


def factor_quantity(
    known: Mapping[str, Instrument],
    name: Literal["meter", "scale"],
    factor: float | None,
    standard_uncertainty: float | None = None,
) -> Quantity:
    """What a volume counted or a mass shown is multiplied by [-].

    factor : of the certificate [-]; None is 1 with the largest error of such an instrument
    standard_uncertainty : relative, of the certificate [-]; None takes that of the row ``meter factor`` or
    ``scale factor`` of the instruments

    >>> from burnerlab.bench.uncertainty import instruments
    >>> found = factor_quantity(instruments(), "meter", 1.012)
    >>> found.estimate, round(found.standard_uncertainty, 5)
    (1.012, 0.00175)
    """
    if factor is None:
        return known[ROW_WITHOUT[name]].quantity(name, 1.0, "-")
    found = known[f"{name} factor"].quantity(name, factor, "-", scale=factor)
    if standard_uncertainty is None:
        return found
    return replace(
        found,
        standard_uncertainty=standard_uncertainty * factor,
        shape="normal",
        source="entered by the user",
    )


def factor_problems(key: str, factor: float | None, standard_uncertainty: float | None) -> list[Problem]:
    """What cannot be: a factor far from 1, an uncertainty without a factor."""
    problems = []
    possible = input_row(key.replace(" ", "_"))
    if factor is not None and not possible.holds(factor):
        fix = "give true over shown; a meter that counts 1 % too little has 1.01"
        what, accepted = "is not a factor of a certificate", possible.span
        problems.append(Problem(what, f"{factor:g}", key, accepted=accepted, fix=fix))
    if standard_uncertainty is not None:
        if factor is None:
            problems.append(Problem("belongs to a factor, and none is given", key=f"{key} uncertainty"))
        if not POSSIBLE_U[0] < standard_uncertainty <= POSSIBLE_U[1]:
            shown = f"{100 * standard_uncertainty:g} %"
            accepted = f"above 0, at most {100 * POSSIBLE_U[1]:g} %"
            problems.append(Problem("cannot be", shown, f"{key} uncertainty", accepted=accepted))
    return problems
