"""The unit at the test: which burners are on, what each should give, by what it is measured, and the other supply."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.job import drills_named
from burnerlab.appliance.flowing import Flowing
from burnerlab.appliance.model import Appliance, Burner
from burnerlab.appliance.pressures import SupplyPressure, supply_pressures
from burnerlab.bench.expected import Expected, each_burner, expected_input
from burnerlab.bench.manifold import conditions_of, flow_of, supply_of
from burnerlab.bench.reading import Method, Reading
from burnerlab.gas import load
from burnerlab.gas.gas_family import Family
from burnerlab.orifice.drill import Drill
from burnerlab.orifice.flow import Conditions
from burnerlab.quantity import PRESETS
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]
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
class FiringState:
    """What one reading was taken of: the burners on, at which rate, by what."""

    burner: str  # "" for all burners together
    weights: (
        Array  # [burner] expected input of those that were on, over that of all under test; 0 for the others
    )
    load: float  # expected input of those that were on over that of the whole appliance [-]
    method: Method
    low: bool
    expected: Expected  # at full
    expected_W: float  # of this reading, gross, at its rate


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitUnderTest:
    """An appliance at the test: the burners under test, what each should give, and what was read of them."""

    appliance: Appliance
    burners: tuple[Burner, ...]  # each a single one
    gas: Flowing
    conditions: Conditions
    nominal_W: Array  # gross, of each burner with the nominal pressure before its orifice
    expected_W: (
        Array  # of each by its supply: together where all were on at once in a reading, else each alone
    )
    whole_W: float  # of the whole appliance by its supply, every burner on
    others: tuple[OtherSupply, ...]
    drills: tuple[Drill, ...]
    firings: tuple[FiringState, ...]  # one for each reading
    known: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)  # worked out once

    @property
    def methods(self) -> tuple[Method, ...]:
        """By what was measured."""
        return tuple(dict.fromkeys(firing.method for firing in self.firings))

    @property
    def weights(self) -> Array:
        """Part of the expected heat input that each burner has [-]."""
        found: Array = self.expected_W / np.sum(self.expected_W)
        return found

    @property
    def highest_load(self) -> float:
        """Largest part of the whole appliance that was on at once [-]."""
        return max(firing.load for firing in self.firings)

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


def unit_under_test(
    appliance: Appliance,
    burner: str | None = None,
    method: Method = "meter",
    other: OtherSupply | None = None,
    readings: Sequence[Reading] = (),
) -> UnitUnderTest:
    """An appliance at the test, with the burners that were on in any reading.

    burner, method : of the readings that name none; burner None is all together
    other : the other gas and its pressure; None takes those of the region whose supply pressure the appliance has
    readings : none is one heat input of ``burner`` at full
    Raises UserError for a burner it has not, and for a low rate of a burner whose file names no turndown.
    """
    gas, at = Flowing(appliance.supply.gas), conditions_of(appliance)
    read = tuple(readings) or (Reading(ratio=1.0),)
    names = [one.burner if one.burner is not None else burner for one in read]
    wanted = [each_burner(appliance, name)[0].name if name else None for name in names]
    by_file = {name: expected_input(appliance, name) for name in dict.fromkeys((None, *wanted))}
    together = by_file[None]
    alone = [by_file[name] for name in dict.fromkeys(wanted) if name]
    chosen = together.burners if None in wanted else tuple(one.burners[0] for one in alone)
    expected = together.each_W if None in wanted else np.concatenate([one.each_W for one in alone])
    return UnitUnderTest(
        appliance=appliance,
        burners=chosen,
        gas=gas,
        conditions=at,
        nominal_W=np.array([flow_of(appliance, one, at, gas).heat_input_gross_W for one in chosen]),
        expected_W=expected,
        whole_W=together.gross_W,
        others=other_supplies(appliance) if other is None else (other,),
        drills=drills_named(appliance.limits.drills),
        firings=tuple(
            _firing(chosen, expected, by_file, name, one.method or method, one.low)
            for name, one in zip(wanted, read, strict=True)
        ),
    )


def _firing(
    chosen: tuple[Burner, ...],
    expected_W: Array,
    by_file: Mapping[str | None, Expected],
    name: str | None,
    method: Method,
    low: bool,
) -> FiringState:
    at_full = by_file[name]
    on = np.zeros(len(chosen))
    first = 0 if name is None else next(i for i, one in enumerate(chosen) if one.name == name)
    on[first : first + len(at_full.burners)] = at_full.each_W
    if low:
        on *= [turndown_of(one) if used else 0.0 for one, used in zip(chosen, on, strict=True)]
    return FiringState(
        burner=name or "",
        weights=on / np.sum(expected_W),
        load=float(np.sum(on)) / by_file[None].gross_W,
        method=method,
        low=low,
        expected=at_full,
        expected_W=float(np.sum(on)),
    )


def turndown_of(burner: Burner) -> float:
    """Low over full rate of a burner [-]. Raises UserError where its file names none."""
    if burner.turndown is None:
        what = "the file names no low rate of this burner"
        raise UserError(Problem(what, burner.name, "low rate", fix='add turndown = "1:3" to the burner'))
    return burner.turndown


def other_supplies(appliance: Appliance) -> tuple[OtherSupply, ...]:
    """Gases of the other family at the pressures of the same region: LP gas beside natural gas, and the reverse.

    >>> from burnerlab.appliance import demonstration
    >>> [other.words for other in other_supplies(demonstration())]
    ['propane at 2.74 kPa']
    """
    own = appliance.tables.supply_pressures
    row = supply_of(appliance)
    region = row.region if row else FALLBACK_REGION
    wanted = Family.SECOND if is_LP(Flowing(appliance.supply.gas)) else Family.THIRD
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
