"""What burners should give by the file: through its orifices, at the pressure that reaches them by its supply."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.model import Appliance, Burner
from burnerlab.appliance.reached import held_at, one_of_each, reached
from burnerlab.bench.stop import pressure_words
from burnerlab.tables.problem import Problem, UserError, did_you_mean

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Burners that are on together and what each should give; pressures are gauge."""

    burners: tuple[Burner, ...]  # each a single one
    each_W: Array  # gross [burner]
    orifice_Pa: Array  # [burner]
    manifold_Pa: float
    source: str  # of the pressure

    @property
    def gross_W(self) -> float:
        """Of all of them."""
        return float(np.sum(self.each_W))

    @property
    def words(self) -> str:
        """Where the figure comes from, such as "17.5 mbar (7.03 in w.c.) at the orifice, by the file's supply"."""
        low, high = float(self.orifice_Pa.min()), float(self.orifice_Pa.max())
        span = pressure_words(low)
        if pressure_words(high) != span:
            span = f"{span} to {pressure_words(high)}"
        return f"{span} at the {'orifice' if len(self.burners) == 1 else 'orifices'}, {self.source}"


NOMINAL = "the nominal pressure of the file"
SUPPLY = "by the supply in the file with these burners on"
VALVE = "the nominal pressure of the file less the burner valve"
STARVED = (
    "the nominal pressure of the file: its supply gives these burners no pressure (see burnerlab supply)"
)
READ = "at the manifold pressure that was read"


def each_burner(appliance: Appliance, name: str | None = None) -> tuple[Burner, ...]:
    """One burner of the kind ``name``, or every single burner of the appliance.

    Raises UserError for a burner it has not.

    >>> from burnerlab.appliance import demonstration
    >>> [burner.name for burner in each_burner(demonstration(), "tile broiler")]
    ['tile broiler']
    """
    if name is None:
        return tuple(replace(b, count=1) for b in appliance.burners for _ in range(b.count))
    found = [b for b in appliance.burners if b.name.casefold() == name.strip().casefold()]
    if not found:
        names = [b.name for b in appliance.burners]
        fix = did_you_mean(name, names)
        raise UserError(
            Problem("is not a burner of this appliance", name, "burner", accepted=", ".join(names), fix=fix)
        )
    return (replace(found[0], count=1),)


def expected_input(appliance: Appliance, burner: str | None = None) -> Expected:
    """Heat input by the file, with what its regulator, hose, pipe, manifold and valves leave of the pressure.

    burner : one of the kind and on alone, None for all together
    Raises UserError for a burner the appliance has not.

    >>> from burnerlab.appliance import demonstration
    >>> expected_input(demonstration(), "stock-pot ring").words
    '17.0 mbar (6.81 in w.c.) at the orifice, by the supply in the file with these burners on'
    """
    has_valve = any(one.valve is not None for one in appliance.burners)
    source = SUPPLY if appliance.supply.train is not None else VALVE if has_valve else NOMINAL
    return _expected(appliance, burner, source)


def expected_at(appliance: Appliance, manifold_gauge_Pa: float, burner: str | None = None) -> Expected:
    """``expected_input`` with this pressure at the inlet of the manifold, in place of what the supply would give."""
    return _expected(held_at(appliance, manifold_gauge_Pa), burner, READ)


def _expected(appliance: Appliance, burner: str | None, source: str) -> Expected:
    chosen = each_burner(appliance, burner)
    kinds = [one.name for one in appliance.burners]
    on = [burner is None or kind == chosen[0].name for kind in kinds]
    unit = appliance if burner is None else one_of_each(appliance)
    got = reached(unit, [on])
    if got.starved[0]:
        got, source = reached(held_at(unit, unit.supply.gauge_pressure_Pa), [on]), STARVED
    places = [kinds.index(one.name) for one in chosen]
    return Expected(
        burners=chosen,
        each_W=got.gross_W[0, places],
        orifice_Pa=got.orifice_Pa[0, places],
        manifold_Pa=float(got.manifold_Pa[0]),
        source=source,
    )
