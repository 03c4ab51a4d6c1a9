"""How high the flames of a burner of a project file stand: those of its ports, or a ceiling where they are withheld."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from burnerlab.appliance.project.model import Appliance
from burnerlab.burner.flame_height import flame_height_of
from burnerlab.burner.state import BurnerState
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.gas_family import GasGroup
from burnerlab.layout.placement import Standing, coefficient, net_share
from burnerlab.layout.plume import line_flame_height_m
from burnerlab.quantity import Basis, Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import UserError

NO_PORTS = "the file gives no ports"
NO_COMPOSITION = "the gas is known only by its heating value and relative density"
CEILING = "the height of a flame without primary air is the ceiling"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameSize:
    """A burner's flame on one gas at one rate; heights over the ports."""

    burner: str = field(metadata=output("flame of"))
    gas: str = field(metadata=output("gas"))
    load: float = field(metadata=output("rate", Kind.FRACTION))
    """Share of the full rate [-]."""
    height_m: float | None = field(metadata=output("height", Kind.LENGTH))
    """Of the outer flame, not below its inner cone; None where it is withheld."""
    height_at_least_m: float | None = field(metadata=output("height from", Kind.LENGTH))
    height_at_most_m: float | None = field(metadata=output("height up to", Kind.LENGTH))
    """High end, not below the inner cone; where the height is withheld that of a line flame without primary air."""
    inner_cone_height_m: float | None = field(metadata=output("inner cone", Kind.LENGTH))
    """None where the burner room cannot tell."""
    note: str = field(default="", metadata=output("note"))
    """What the high end holds, or why the height is withheld."""


def flame_sizes(
    appliance: Appliance,
    standing: Standing,
    loads: Sequence[float],
    *,
    own: Path | None = None,
) -> tuple[FlameSize, ...]:
    """The flames of one burner at its place on the appliance's gas, one for each share of the full rate.

    own : CSV of the columns of ``layout_coefficients``
    A tile has none: its flame sits in its face.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.placement import standing
    >>> cart = demonstration()
    >>> full, third = flame_sizes(cart, standing(cart)[0], (1.0, 0.333))
    >>> third.height_m < full.height_m < 0.01
    True
    """
    gas = appliance.supply.gas
    ceilings = [
        math.inf if (top := line_ceiling_m(standing, appliance.rating, gas, load, own)) is None else top
        for load in loads
    ]
    state, why = _state(appliance, standing, loads)
    port_flames = None if state is None else flame_height_of(state, np.array(ceilings))
    made = []
    for i, load in enumerate(loads):
        value, low, high, cone = (
            (None,) * 4
            if port_flames is None or state is None
            else (
                _at(end, i, len(loads))
                for end in (
                    port_flames.height_m,
                    port_flames.low_m,
                    port_flames.high_m,
                    state.inner_cone_height_m,
                )
            )
        )
        ceiling = ceilings[i] if math.isfinite(ceilings[i]) else None
        at_most = ceiling if high is None else max(high, cone or 0.0)
        note = why if port_flames is None else port_flames.note
        if high is None and ceiling is not None and note:
            note = f"{note}; {CEILING}"
        made.append(
            FlameSize(
                burner=standing.name,
                gas=gas.name,
                load=load,
                height_m=None if value is None else max(value, cone or 0.0),
                height_at_least_m=low,
                height_at_most_m=at_most,
                inner_cone_height_m=cone,
                note=note,
            )
        )
    return tuple(made)


def any_line_flame_m(heat_input_net_W_per_m: float, own: Path | None = None) -> float:
    """Height of a line flame without primary air on the taller gas, for a tube of which no more is known [m]."""
    heavy, line = coefficient("propane flame height", own).value, coefficient("line flame height", own).value
    return float(line_flame_height_m(heat_input_net_W_per_m, line, heavy))


def line_ceiling_m(
    standing: Standing, rating: Basis, gas: Gas | DeclaredGas, load: float = 1.0, own: Path | None = None
) -> float | None:
    """Height of a line flame without primary air along a burner, which flames of its ports do not pass [m].

    rating : basis of the burner's rate; load : share of it [-]. None for a burner without a length and for a tile.
    """
    place, traits = standing.place, standing.burner.kind.traits
    length = math.pi * (place.diameter_m or 0.0) if traits.form == "ring" else place.length_m or 0.0
    if length <= 0.0 or traits.is_radiant:
        return None
    heavy = GasGroup.of(gas) is GasGroup.LPG
    factor = coefficient("propane flame height", own).value if heavy else 1.0
    net_W = standing.burner.rate_W * (net_share(gas) if rating == "gross" else 1.0)
    return float(
        line_flame_height_m(load * net_W / length, coefficient("line flame height", own).value, factor)
    )


def _state(
    appliance: Appliance, standing: Standing, loads: Sequence[float]
) -> tuple[BurnerState | None, str]:
    """The burner at each load, or why it is not evaluated."""
    from burnerlab.appliance.conversion.flame_stability import on_gas
    from burnerlab.burner.evaluation import evaluate

    burner = next(b for b in appliance.burners if b.name == standing.burner.name)
    gas = appliance.supply.gas
    if burner.kind.traits.is_radiant:
        return None, ""
    if burner.ports is None:
        return None, NO_PORTS
    if isinstance(gas, DeclaredGas):
        return None, NO_COMPOSITION
    try:
        case = on_gas(appliance, burner)
        options = replace(case.options, load=np.array(loads))
        pressure = appliance.supply.gauge_pressure_Pa
        return evaluate(case.geometry, case.fuel, pressure, case.surroundings, options), ""
    except UserError as error:
        return None, "; ".join(problem.what for problem in error.problems)


def _at(heights_m: np.ndarray, place: int, count: int) -> float | None:
    height = float(np.broadcast_to(heights_m, count)[place])
    return height if math.isfinite(height) else None
