"""What may be the case at the bench, as arrays: one row per possibility, one column per burner under test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
BY_BURNER = ("burner_flow", "hole_area", "mark_area")


@dataclass(frozen=True, slots=True, kw_only=True)
class Worlds:
    """Possibilities; everything is over what the file and the technician take it to be [-]."""

    burner_flow: Array  # [n, burner] heat input
    hole_area: Array  # [n, burner] free area of the orifice
    mark_area: Array  # [n, burner] area by the mark of the orifice
    pressure: Array  # [n] gauge, at the manifold
    dial: Array  # [n] volume taken over volume that passed
    worth: Array  # [n] heating value used over the right one, by the method in use
    other_worth: Array  # [n] the same by the other method
    state: Array  # [n] correction for pressure and temperature of the gas, used over right
    slip: Array  # [n] reading over what it would be, by a slip of no known kind
    other_load: Array  # [n] of something else on the meter, over the whole expected input
    other_gas: Array  # [n] 2 where another gas is connected, else 1
    other_regulator: Array  # [n] 2 where the regulator is that of another gas, else 1

    def reading(self, weights: Array) -> Array:
        """The reading over the expected heat input [-]."""
        return self.repeated(weights) * self.dial * self.slip

    def repeated(self, weights: Array) -> Array:
        """What another person would read from another dial, over the expected heat input [-]."""
        total: Array = (self.burner_flow @ weights + self.other_load) * self.worth * self.state
        return total

    @property
    def hottest(self) -> Array:
        """Heat input of the burner that is furthest above its own expected one [-]."""
        found: Array = np.max(self.burner_flow, axis=1)
        return found

    def __len__(self) -> int:
        return len(self.pressure)


def worlds(count: int, burners: int, **changed: ArrayLike) -> Worlds:
    """``count`` possibilities in which all is as taken, but for what is ``changed``."""
    shapes = {f.name: (count, burners) if f.name in BY_BURNER else (count,) for f in fields(Worlds)}
    found = {
        name: np.broadcast_to(np.asarray(changed.get(name, 1.0), dtype=float), shape)
        for name, shape in shapes.items()
    }
    if "other_load" not in changed:
        found["other_load"] = np.zeros(count)
    if "other_worth" not in changed:
        found["other_worth"] = found["worth"]
    return Worlds(**found)


def joined(parts: Sequence[Worlds]) -> Worlds:
    """The possibilities of all parts, one after another."""
    return Worlds(
        **{f.name: np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(Worlds)}
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One way in which a cause may show itself: possibilities of equal weight."""

    words: str
    weight: float  # among the variants of the cause, before normalising
    worlds: Worlds
    gas: str = ""  # the other gas that flows in it
