"""The unit at the test: which burners are on, what each should give, by what it is measured, and the other supply."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.flowing import Flowing
from burnerlab.appliance.job import drills_named
from burnerlab.appliance.model import Appliance, Burner
from burnerlab.appliance.pressures import SupplyPressure, supply_pressures
from burnerlab.bench.manifold import conditions_of, each_burner, flow_of, supply_of
from burnerlab.gas import load
from burnerlab.orifice.drills import Drill
from burnerlab.orifice.flow import Conditions
from burnerlab.quantity import PRESETS

Array = NDArray[np.float64]
Method = Literal["meter", "scale"]
FALLBACK_REGION = "NA"  # whose other gas is taken when the pressure is not a nominal one


def is_LP(gas: Flowing) -> bool:
    """Whether a gas is heavier than air, and comes from a cylinder."""
    return (
        gas.standard_density_kg_per_m3(PRESETS["ISO_15_15"]) > 1.2255
    )  # kg/m3 of dry air there, iso6976-2016


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherSupply:
    """A gas the appliance might have been made for instead, and the pressure it comes at."""

    gas: Flowing
    gauge_pressure_Pa: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """An appliance at the test: the burners that are on, what each should give, and by what it is measured."""

    appliance: Appliance
    burners: tuple[Burner, ...]  # each a single one
    gas: Flowing
    conditions: Conditions
    expected_W: Array  # gross, calculated for each burner
    others: tuple[OtherSupply, ...]
    drills: tuple[Drill, ...]
    method: Method

    @property
    def weights(self) -> Array:
        """Part of the expected heat input that each burner has [-]."""
        found: Array = self.expected_W / np.sum(self.expected_W)
        return found

    @property
    def rated_gross_W(self) -> Array:
        """Rating of each burner, gross."""
        heat = self.gas.heating_value_J_per_kg
        gross = 1.0 if self.appliance.rating == "gross" else heat("gross") / heat("net")
        return np.array([burner.rate_W * gross for burner in self.burners])

    @property
    def is_LP(self) -> bool:
        """Whether the gas is heavier than air, and comes from a cylinder."""
        return is_LP(self.gas)


def bench_of(
    appliance: Appliance,
    burner: str | None = None,
    method: Method = "meter",
    other: OtherSupply | None = None,
) -> Bench:
    """An appliance at the test with one burner on, or all.

    other : the other gas and its pressure; None takes those of the region whose supply pressure the appliance has
    Raises UserError for a burner it has not.
    """
    gas = Flowing(appliance.supply.gas)
    chosen, at = each_burner(appliance, burner), conditions_of(appliance)
    return Bench(
        appliance=appliance,
        burners=chosen,
        gas=gas,
        conditions=at,
        expected_W=np.array([flow_of(appliance, one, at, gas).heat_input_gross_W for one in chosen]),
        others=other_supplies(appliance) if other is None else (other,),
        drills=drills_named(appliance.limits.drills),
        method=method,
    )


def other_supplies(appliance: Appliance) -> tuple[OtherSupply, ...]:
    """Gases of the other family at the pressures of the same region: LP gas beside natural gas, and the reverse.

    >>> from burnerlab.appliance import demonstration
    >>> [other.words for other in other_supplies(demonstration())]
    ['propane at 2.74 kPa']
    """
    own = appliance.tables.supply_pressures
    row = supply_of(appliance)
    region = row.region if row else FALLBACK_REGION
    wanted = "2" if is_LP(Flowing(appliance.supply.gas)) else "3"
    found: dict[str, SupplyPressure] = {}
    for one in supply_pressures(own):
        if one.region == region and one.family.startswith(wanted) and not one.couple:
            found.setdefault(one.reference_gas, one)
    return tuple(
        OtherSupply(
            gas=Flowing(load(name)),
            gauge_pressure_Pa=one.nominal_Pa,
            words=f"{name} at {one.nominal_Pa / 1e3:.3g} kPa",
        )
        for name, one in found.items()
    )
