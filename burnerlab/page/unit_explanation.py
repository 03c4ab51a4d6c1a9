"""What may be wrong with a unit by all of its readings together: one burner low is its own part, all low the supply."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from burnerlab.bench.faults.explanation import Explanation, explain
from burnerlab.bench.reading.readings import Reading
from burnerlab.bench.record import TestRecord, UnitStops
from burnerlab.bench.record.query import history, unit_stops
from burnerlab.bench.repairs import is_before_repair, number_of, places_before_repair
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import Form
from burnerlab.page.heat_input_test import HeatInputTest
from burnerlab.page.record_entry import refilled
from burnerlab.page.result_text import burner_words
from burnerlab.tables.problem import UserError

LAST_ENTRIES = 200  # of a unit


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitExplanation:
    """The causes of a reading and of the others of its unit, and those others in words."""

    explanation: Explanation
    others: tuple[str, ...]  # burner, state and how far from what its orifice should give

    @property
    def fits(self) -> bool:
        """Whether a cause of the list gives all of the readings."""
        return self.explanation.readings_fit_together


def unit_explanation(bench: Bench, form: Form, test: HeatInputTest) -> UnitExplanation | None:
    """The causes of a test of a form, read together with the current readings of its unit; None where it has no other.

    Of each burner and rate the newest counts, on the same gas, since its last repair; one that was stopped says what
    it was before its release, and does not count. Beside a test that is recorded stand those before it. The stop of a
    reading rests on that reading alone.
    """
    serial, alone = form.get("serial").strip(), test.explanation
    if not serial or alone is None:
        return None
    with bench.read_record() as record:
        entries = [one for one in history(record, serial, LAST_ENTRIES) if one.is_current]
        past = unit_stops(record, serial)
    if uid := form.get("corrects"):
        places = [place for place, one in enumerate(entries) if one.uid == uid]
        entries = entries[places[0] + 1 :] if places else []
    own = _named(alone.readings[0], test)
    found = tuple(_readings(bench, form, entries, past, own))
    if not found:
        return None
    try:
        together = explain(
            test.air.appliance,
            (own, *(reading for reading, _ in found)),
            test.burner or None,
            method=alone.method,
        )
    except UserError:  # no cause of the list gives them
        return None
    return UnitExplanation(explanation=together, others=tuple(words for _, words in found))


def _named(reading: Reading, test: HeatInputTest) -> Reading:
    """A reading with its burner and method, as it stands beside readings of other burners."""
    method = None if test.explanation is None else test.explanation.method
    return replace(reading, burner=test.burner or None, method=method)


def _readings(
    bench: Bench, form: Form, entries: list[TestRecord], past: UnitStops, own: Reading
) -> Iterator[tuple[Reading, str]]:
    """The readings of a unit that stand beside one of it, the newest of each burner and rate, with their words."""
    places = places_before_repair(entries, past)
    model = bench.model(form)
    read = {(own.burner, own.is_low_rate)}
    for entry in entries:
        is_alike = (entry.test.model, entry.test.gas) == (model.name, model.appliance.supply.gas.name)
        if not is_alike or entry.test.stops or not entry.test.results:
            continue
        test = bench.test_of(bench.read(refilled(entry, form.get("model"), form), "unit", "measure"))
        if test is None or test.explanation is None or (test.burner or None, test.is_low) in read:
            continue
        which = number_of(entry)
        if is_before_repair(places[entry.uid], test.burner, int(which) if which.isdecimal() else 0):
            continue
        reading = _named(test.explanation.readings[0], test)
        read.add((reading.burner, reading.is_low_rate))
        rate = ", low rate" if test.is_low else ""
        off = 100.0 * ((reading.ratio or 1.0) - 1.0)
        yield reading, f"{burner_words(test.burner, which)}{rate} {off:+.1f} %"
