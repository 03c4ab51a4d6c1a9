"""What may be the case at the bench, as arrays: one row per possibility, one column per burner under test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Method = Literal["meter", "scale"]
BY_BURNER = ("burner_flow", "low_flow", "hole_area", "mark_area")
ZERO = ("inlet_loss", "loss", "other_load", "rest_load")  # nothing of it unless a possibility says so
LIKE = {
    "low_flow": "burner_flow",
    "rest_load": "other_load",
    "by_mass": "by_volume",
}  # unless it says otherwise


@dataclass(frozen=True, slots=True, kw_only=True)
class Worlds:
    """Possibilities; everything is over what the file and the technician take it to be [-]."""

    burner_flow: Array  # [n, burner] heat input at full, before the losses below
    low_flow: Array  # [n, burner] heat input at the low rate, over the low rate
    hole_area: Array  # [n, burner] free area of the orifice
    mark_area: Array  # [n, burner] area by the mark of the orifice
    pressure: Array  # [n] gauge, at the manifold, before the losses below
    inlet_loss: Array  # [n] lost before the appliance inlet over what is left there, every burner on
    loss: Array  # [n] lost before the manifold over what is left there, every burner on; holds inlet_loss
    opening: Array  # [n] of the least open burner valve, share of the flow
    dial: Array  # [n] volume taken for a revolution over that of the dial
    revolutions: Array  # [n] revolutions taken over those that passed
    meter: Array  # [n] volume the meter counts over that which passed
    by_volume: Array  # [n] heating value used over the right one, per volume
    by_mass: Array  # [n] the same per mass
    state: Array  # [n] correction for pressure and temperature of the gas in the meter, used over right
    slip: Array  # [n] reading over what it would be, by a slip of no known kind
    other_load: (
        Array  # [n] of something else, burned or lost meanwhile, over the expected input of the burners
    )
    rest_load: Array  # [n] the same with every burner off
    other_gas: Array  # [n] 2 where another gas is connected, else 1
    other_regulator: Array  # [n] 2 where the regulator is that of another gas, else 1

    def pressure_left(self, load: float) -> Array:
        """Manifold pressure with part of the appliance's burners on, over nominal: p / (1 + loss load^2) [-]."""
        left: Array = self.pressure / (1.0 + self.loss * load**2)
        return left

    def inlet_left(self, load: float) -> Array:
        """Pressure at the appliance inlet, over what it is with nothing wrong [-]."""
        left: Array = 1.0 / (1.0 + self.inlet_loss * load**2)
        return left

    def burned(self, weights: Array, load: float, *, low: bool = False) -> Array:
        """Heat input of the burners that are on, over the expected one; weights are zero for the others [-]."""
        flow = (self.low_flow if low else self.burner_flow) @ (weights / weights.sum())
        left: Array = flow / np.sqrt(1.0 + self.loss * load**2)
        return left

    def repeated(self, weights: Array, load: float, method: Method, *, low: bool = False) -> Array:
        """What another person would read with the same meter or scale, over the expected heat input [-]."""
        beside = self.other_load / weights.sum()
        total = self.burned(weights, load, low=low) + beside
        if method == "scale":
            return total * self.by_mass  # type: ignore[no-any-return]
        return total * self.by_volume * self.state * self.meter  # type: ignore[no-any-return]

    def reading(self, weights: Array, load: float, method: Method, *, low: bool = False) -> Array:
        """The reading over the expected heat input [-].

        weights : part of the expected input of all burners under test that each burner on has, its turndown included
        load : expected input of the burners that are on over that of the whole appliance [-]
        """
        found = self.repeated(weights, load, method, low=low) * self.slip
        return found if method == "scale" else found * self.dial * self.revolutions

    @property
    def hottest(self) -> Array:
        """Heat input of the burner that is furthest above its own expected one [-]."""
        found: Array = np.max(self.burner_flow, axis=1)
        return found

    def __len__(self) -> int:
        return len(self.pressure)


def worlds(count: int, burners: int, **changed: ArrayLike) -> Worlds:
    """``count`` possibilities in which all is as taken, but for what is ``changed``."""
    found: dict[str, Array] = {}
    for field in fields(Worlds):
        name = field.name
        shape = (count, burners) if name in BY_BURNER else (count,)
        like = LIKE.get(name)
        if name in changed:
            value = np.asarray(changed[name], dtype=float)
        elif like in changed:
            value = np.asarray(changed[like], dtype=float)
        else:
            value = np.asarray(0.0 if name in ZERO else 1.0)
        found[name] = np.broadcast_to(value, shape)
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
    chance: float = 1.0  # of this variant beside others, by how it was measured
    gas: str = ""  # the other gas that flows in it
    group: str = ""  # what is to be done about it, where that differs from the group of its cause
    each: tuple[str, ...] = ()  # words of every possibility, where they differ

    def words_of(self, number: int) -> str:
        """Words of one of its possibilities."""
        return self.each[number] if self.each else self.words
