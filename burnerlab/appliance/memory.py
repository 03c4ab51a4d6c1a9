"""Results remembered by equality of everything they depend on, so that an edit of one burner computes one burner.

A key begins with the function that finds the result and holds all that this function takes: frozen dataclasses, the
files of own tables with their state on the disk, and by identity what holds arrays. A remembered result equals a fresh
one; it is shared, and frozen as any other.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar, cast

from burnerlab.appliance.project.geometry import Space
from burnerlab.appliance.project.model import Appliance, Burner, OwnTables
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.tables.field_names import field_names
from burnerlab.tables.problem import UserError
from burnerlab.tables.reader import file_state

T = TypeVar("T")
MOST = 4000  # results; those of a demonstration changed in everything are some 40


@dataclass(slots=True)
class Memory:
    """The results used last, at most so many; any thread may use it.

    >>> memory = Memory(2)
    >>> [memory.recall(key, lambda: key * 10) for key in (1, 2, 1, 3)]
    [10, 20, 10, 30]
    >>> 1 in memory, 2 in memory
    (True, False)
    """

    most: int = MOST
    _results: OrderedDict[Hashable, Any] = field(default_factory=OrderedDict)
    _lock: Lock = field(default_factory=Lock)

    def __contains__(self, key: Hashable) -> bool:
        return key in self._results

    def __len__(self) -> int:
        return len(self._results)

    def recall(self, key: Hashable, find: Callable[[], T]) -> T:
        """The result of a key, found where it is not remembered. An error is raised each time and not remembered."""
        return self.recall_each([key], lambda _: [find()])[0]

    def recall_each(self, keys: Sequence[Hashable], find: Callable[[Sequence[int]], Sequence[T]]) -> list[T]:
        """The results of several keys, those not remembered found in one call.

        find : takes places of ``keys``, returns their results; two threads may find the same at once

        >>> Memory().recall_each(["a", "b"], lambda places: [10 * place for place in places])
        [0, 10]
        """
        known: dict[int, T] = {}
        with self._lock:
            for place, key in enumerate(keys):
                if key in self._results:
                    self._results.move_to_end(key)
                    known[place] = cast(T, self._results[key])
        missing = [place for place in range(len(keys)) if place not in known]
        if missing:
            found = dict(zip(missing, find(missing), strict=True))
            known |= found
            with self._lock:
                for place, result in found.items():
                    self._results[keys[place]] = result
                    self._results.move_to_end(keys[place])
                while len(self._results) > self.most:
                    self._results.popitem(last=False)
        return [known[place] for place in range(len(keys))]

    def forget(self) -> None:
        """Forget everything: needed by a test that replaces a function deeper than those that keys begin with."""
        with self._lock:
            self._results.clear()


REMEMBERED = Memory()
"""What the conversions and evaluations of this process have found."""


class InputKey:
    """Parts of a key that many keys share: hashed once."""

    __slots__ = ("_hash", "parts")

    def __init__(self, *parts: Hashable) -> None:
        self.parts = parts
        self._hash = hash(parts)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, InputKey):
            return NotImplemented
        return self is other or (self._hash == other._hash and self.parts == other.parts)


class Same:
    """A thing that counts as itself alone, for what holds arrays; held, so that no other takes its identity."""

    __slots__ = ("thing",)

    def __init__(self, thing: object) -> None:
        self.thing = thing

    def __hash__(self) -> int:
        return id(self.thing)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.thing is other.thing


def gas_key(gas: Gas | DeclaredGas) -> Hashable:
    """A gas with what its equality leaves out.

    >>> from burnerlab.gas import load
    >>> gas_key(load("propane")) == gas_key(load("propane")), gas_key(load("propane")) == gas_key(load("butane-n"))
    (True, False)
    """
    left_out = [getattr(gas, f.name) for f in fields(gas) if not f.compare]
    return gas, tuple(None if one is None else tuple(sorted(one.items())) for one in left_out)


def file_key(path: Path | None) -> Hashable:
    """A file with its state on the disk; None as its state where it cannot be read."""
    if path is None:
        return None
    try:
        return path, file_state(path)
    except UserError:
        return path, None


def tables_key(tables: OwnTables) -> Hashable:
    """The user's own tables, each with its state on the disk: a changed file is another key."""
    return tuple(file_key(getattr(tables, name)) for name in field_names(OwnTables))


# What a piece of an evaluation is asked with. The piece is computed from this alone, so that nothing beyond its key can
# move it.


def of_flames(appliance: Appliance) -> Appliance:
    """An appliance with what air, flames and tiles of its burners depend on.

    >>> from burnerlab.appliance import demonstration
    >>> {burner.rate_W for burner in of_flames(demonstration()).burners}
    {0.0}
    """
    burners = tuple(
        replace(burner, rate_W=0.0, valve=None, heat=None, igniter="") for burner in appliance.burners
    )
    return _bare(
        appliance,
        burners=burners,
        supply=replace(appliance.supply, train=None),
        space=None if appliance.space is None else Space(boxes=appliance.space.boxes),
    )


def of_network(appliance: Appliance) -> Appliance:
    """An appliance with what its supply depends on; pressures alone do not move with the rates.

    >>> from burnerlab.appliance import demonstration
    >>> {burner.ports for burner in of_network(demonstration()).burners}
    {None}
    """
    burners = tuple(
        Burner(
            name=burner.name,
            kind=burner.kind,
            count=burner.count,
            rate_W=burner.rate_W,
            orifice=burner.orifice,
            valve=burner.valve,
        )
        for burner in appliance.burners
    )
    return _bare(appliance, burners=burners)


def of_orifices(appliance: Appliance) -> Appliance:
    """An appliance with what the orifice of a burner depends on beside that burner."""
    return _bare(appliance, burners=(), new_supply=appliance.new_supply)


def _bare(appliance: Appliance, **parts: Any) -> Appliance:
    kept: dict[str, Any] = {"supply": appliance.supply, **parts}
    return Appliance(
        name="",
        rating=appliance.rating,
        region=appliance.region,
        limits=appliance.limits,
        tables=appliance.tables,
        **kept,
    )


def appliance_key(bare: Appliance) -> InputKey:
    """Of an appliance without its burners, from one of the functions before; its own tables as they are on the disk."""
    described = bare.new_supply
    return InputKey(
        *(getattr(bare, name) for name in field_names(Appliance) if name not in ("burners", "spreads")),
        tables_key(bare.tables),
        gas_key(bare.supply.gas),
        None if described is None else gas_key(described.gas),
    )
