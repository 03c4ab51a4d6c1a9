"""A figure that was typed wrong: which stops its correction ends, by whom, and how soon after.

A stop ends with a release. One that typed figures alone raise ends with the figures that were read as well: where the
same technician corrects the entry within a day, names the slip, changes nothing but figures and leaves none out. Which
stops these are, and why, are the columns ``typed`` and ``correction`` of the table ``stops``.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator

from burnerlab.bench.record.checks import words_problem
from burnerlab.bench.record.entry import BenchTest, TestRecord
from burnerlab.bench.record.open_stops import ENDED_STOPS
from burnerlab.bench.stop import StopNotice, stop_rows

HOURS = 24  # within which a slip is corrected: later nobody knows what the gauge showed
SETTINGS = (
    "method", "burner", "which", "plan_state", "low_rate", "lock_up", "compensated", "wet", "rule", "no_manifold",
    "appliance_kind", "plan",
)  # fmt: skip
"""Inputs of a test that say how it was read: a correction of figures leaves them as they are."""
BESIDE_FIGURES = ("mended", ENDED_STOPS)
BY_ANOTHER = "another person corrects it than {tester}, who read it"
TOO_LATE = f"it is corrected later than {HOURS} h after it was recorded"
RAISES = "the corrected figures raise a STOP themselves"
OTHER_TEST = "it changes more than figures: unit, model, burner or the way of reading"
LEFT_OUT = "a figure is left out or added: every one that was typed is typed again"
NO_WORDS = "the reason does not name the slip"
SAME_FIGURES = "no figure that raises it was changed"


def typed_quantities(stop: str) -> frozenset[str]:
    """Quantities of which a typed figure may raise a stop by a slip; none of a stop that only a release ends.

    >>> sorted(typed_quantities("pressure-band")), typed_quantities("odour"), typed_quantities("co-high")
    (['manifold_pressure'], frozenset(), frozenset())
    """
    row = stop_rows().get(stop)
    return frozenset() if row is None else frozenset(row["typed"].split())


def correction_words(stop: str) -> str:
    """Why a corrected entry may end a stop, or why it may not.

    >>> correction_words("odour")
    'gas may be in the room, whatever was typed'
    """
    row = stop_rows().get(stop)
    return "" if row is None else str(row["correction"])


def standing_after(
    before: TestRecord, after: BenchTest, raised: Iterable[StopNotice], reason: str, moment: str
) -> dict[str, str]:
    """Of each stop of an entry why its correction does not end it; "" of one that ends.

    after : the corrected entry, judged by the same file and plan; raised : the stops that it raises
    moment : at which it is recorded, ISO 8601 in UTC
    """
    of_all = next(_of_every_stop(before, after, raised, reason, moment), "")
    changed = _changed_quantities(before.test, after)
    by_stop: dict[str, str] = {}
    for stop in before.test.stops:
        typed = typed_quantities(stop.id)
        if not typed:
            by_stop[stop.id] = correction_words(stop.id)
        else:
            by_stop[stop.id] = of_all or ("" if typed & changed else SAME_FIGURES)
    return by_stop


def _of_every_stop(
    before: TestRecord, after: BenchTest, raised: Iterable[StopNotice], reason: str, moment: str
) -> Iterator[str]:
    test = before.test
    if test.tester.strip().casefold() != after.tester.strip().casefold():
        yield BY_ANOTHER.format(tester=test.tester)
    if _hours(before.recorded_at, moment) > HOURS:
        yield TOO_LATE
    if not reason.strip() or words_problem(reason, "cause"):
        yield NO_WORDS
    if not test.model_sha256 or _setting(test) != _setting(after):
        yield OTHER_TEST
    if _typed_names(test) != _typed_names(after) or not _quantities(test) <= _quantities(after):
        yield LEFT_OUT
    if any(raised):
        yield RAISES


def _hours(first: str, last: str) -> float:
    begin, end = (datetime.datetime.fromisoformat(text) for text in (first, last))
    return (end - begin).total_seconds() / 3600.0


def _setting(test: BenchTest) -> tuple[object, ...]:
    """What a correction of figures leaves as it is."""
    inputs = {one.name: one.text for one in test.inputs if one.name in SETTINGS}
    return test.serial.strip().casefold(), test.model, test.gas, test.model_sha256, inputs


def _typed_names(test: BenchTest) -> set[str]:
    return {one.name for one in test.inputs} - set(BESIDE_FIGURES)


def _quantities(test: BenchTest) -> set[tuple[str, str]]:
    return {(one.quantity, one.burner) for one in test.readings}


def _changed_quantities(before: BenchTest, after: BenchTest) -> frozenset[str]:
    """Quantities of the readings whose figures differ."""
    first, last = (
        {(one.quantity, one.burner, one.value) for one in test.readings} for test in (before, after)
    )
    return frozenset(quantity for quantity, _, _ in first ^ last)
