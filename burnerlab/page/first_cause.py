"""What comes before any other burner of a unit: the cause of a reading that turned a burner off."""

from __future__ import annotations

from burnerlab.bench.record import TestRecord, UnitStops
from burnerlab.bench.record.query import history, unit_stops
from burnerlab.bench.repairs import is_before_repair, places_before_repair
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import Form
from burnerlab.page.result_text import act_of_test, burner_words

LAST_ENTRIES = 200  # of a unit


def first_cause(bench: Bench, form: Form) -> str:
    """The act of the newest reading of another burner of a form's unit that turned it off; "" for none.

    A burner that was read again since, or repaired, is not named, nor the one that the form reads again; a reading
    with a stop has its own page. A correction lights nothing.
    """
    serial = form.get("serial").strip()
    if not serial or form.get("corrects"):
        return ""
    with bench.read_record() as record:
        entries = [one for one in history(record, serial, LAST_ENTRIES) if one.is_current]
        past = unit_stops(record, serial)
    return _first_cause(entries, past, (form.get("burner"), form.get("which").strip()))


def _first_cause(entries: list[TestRecord], past: UnitStops, own: tuple[str, str]) -> str:
    places, read = places_before_repair(entries, past), set()
    for entry in entries:
        burner = next((one.burner for one in entry.test.results), "")
        which = entry.test.input_text("which").strip()
        place = (burner, which)
        if not entry.test.results or place in read:
            continue
        read.add(place)
        number = int(which) if which.isdecimal() else 0
        act = "" if entry.test.stops else act_of_test(entry.test)
        if act and place != own and not is_before_repair(places[entry.uid], burner, number):
            words = burner_words(burner, which)
            return f"{words[:1].upper()}{words[1:]}: {act}"
    return ""
