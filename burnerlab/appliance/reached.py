"""What reaches the orifices of an appliance for many sets of burners at once: figures alone, no report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.model import Appliance
from burnerlab.appliance.network import Array
from burnerlab.appliance.operate import prepare, settled


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """Pressures and heat inputs, one set of burners a row; pressures are gauge."""

    manifold_Pa: Array  # [set]
    orifice_Pa: Array  # [set, kind of burner]
    gross_W: Array  # [set, kind of burner] of one burner of the kind; 0 where it is off
    starved: NDArray[np.bool_]  # [set] the supply gives these burners no pressure


def reached(appliance: Appliance, on: Sequence[Sequence[bool]]) -> Reached:
    """Solve the supply of an appliance, manifold and valves for sets of burners.

    on : [set, kind of burner], whether the burners of a kind are on; the model is that of ``operate``
    Raises UserError for a gas partly liquid.

    >>> from burnerlab.appliance import demonstration
    >>> found = reached(demonstration(), [[True] * 6])
    >>> round(float(found.manifold_Pa[0]))
    1698
    """
    plant, solution = settled(prepare(appliance), np.array(on, dtype=bool))
    return Reached(
        manifold_Pa=solution.manifold_pressure_Pa - plant.ambient_Pa,
        orifice_Pa=solution.orifice_pressure_Pa - plant.ambient_Pa,
        gross_W=solution.flow_kg_per_s * plant.gas.heating_value_J_per_kg("gross"),
        starved=solution.starved,
    )


def held_at(appliance: Appliance, manifold_gauge_Pa: float) -> Appliance:
    """The appliance with this pressure at the inlet of its manifold, whatever stands before it."""
    supply, train = appliance.supply, appliance.supply.train
    if train is not None:
        train = replace(train, regulator=None, runs=(), inlet_gauge_pressure_Pa=None)
    return replace(appliance, supply=replace(supply, gauge_pressure_Pa=manifold_gauge_Pa, train=train))


def one_of_each(appliance: Appliance) -> Appliance:
    """The appliance with a single burner of every kind."""
    return replace(appliance, burners=tuple(replace(one, count=1) for one in appliance.burners))
