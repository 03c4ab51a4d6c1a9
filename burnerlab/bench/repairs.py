"""Readings of a unit that are of its state before a repair: they are read again before anything else is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from burnerlab.bench.record.entry import Result, TestRecord
from burnerlab.bench.record.query import UnitStops

MANIFOLD = "manifold_pressure"
DEVIATIONS = ("deviation", "low_rate_deviation")
OF_ONE_BURNER = frozenset(
    {"flame-outside", "light-back", "lift", "late-lighting", "carry-over", "unlit-port", "flame-out", "soot"}
) | {"yellow-tips", "co-high", "mark-differs"}
"""Stops whose repair is at one burner; that of any other may change every reading."""
Place = tuple[str, str]  # burner, which of several alike
TOGETHER: Place = ("", "")
EVERY: Place = ("*", "")


def number_of(entry: TestRecord) -> str:
    """Which of several burners alike an entry read; "" where it does not say."""
    return entry.test.input_text("which").partition(" ")[0]


def places_before_repair(entries: Sequence[TestRecord], past: UnitStops) -> Mapping[str, frozenset[Place]]:
    """Of each entry, by its uid, the burners that were repaired since it was read; ``EVERY`` for the whole unit.

    A repair is known by the release of a stop, and by a figure that was outside its band and was read again within it
    in the same state: of the burner, with all together; of a manifold pressure of the whole unit.
    entries : current ones of a unit, the newest first; past : the stops of the unit
    """
    within: set[tuple[str, str, Place]] = set()
    repaired: set[Place] = set()
    by_entry: dict[str, frozenset[Place]] = {}
    for entry in entries:
        number, state = number_of(entry), entry.test.input_text("plan_state")
        for one in entry.test.results:
            if one.quantity not in (MANIFOLD, *DEVIATIONS):
                continue
            of_unit = one.quantity == MANIFOLD
            place = TOGETHER if of_unit else (one.burner, number if one.burner else "")
            if not is_beyond(one):
                within.add((one.quantity, state, place))
            elif (one.quantity, state, place) in within:
                repaired |= {EVERY} if of_unit else {place, TOGETHER}
        by_entry[entry.uid] = frozenset(repaired | _released(entry, past))
    return by_entry


def _released(entry: TestRecord, past: UnitStops) -> set[Place]:
    """The burners whose stop was released after an entry was read."""
    places: set[Place] = set()
    for stop in past.stops:
        if stop.release is None or past.is_after(entry, stop.release):
            continue
        of_burner = stop.notice.id in OF_ONE_BURNER and stop.burner
        places |= {(stop.burner, number_of(stop.record)), TOGETHER} if of_burner else {EVERY}
    return places


def is_beyond(result: Result) -> bool:
    """Whether the value of a result lies beyond an end of its band, whatever verdict a stop left it.

    >>> is_beyond(Result(quantity="deviation", value=-0.61, low=-0.05, high=0.05))
    True
    """
    low, high = result.low, result.high
    return (low is not None and result.value < low) or (high is not None and result.value > high)


def is_before_repair(places: frozenset[Place], burner: str, which: int) -> bool:
    """Whether a reading of a burner is of the state before a repair.

    which : of several alike; 0 where the reading is of all that have the name

    >>> is_before_repair(frozenset({("tube", "2"), ("", "")}), "tube", 1)
    False
    """
    if EVERY in places:
        return True
    return any(
        name == burner and (not which or not number or number == str(which)) for name, number in places
    )
