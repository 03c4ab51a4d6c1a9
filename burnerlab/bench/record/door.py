"""A test or a weighing made fit for the record: words known, figures finite, times told, or every complaint at once."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any, cast

from burnerlab import __version__
from burnerlab.bench.record.entry import (
    ANSWERS,
    LEAK_TESTS,
    YES_NO,
    Answer,
    BeforeLighting,
    BenchTest,
    EarlierStop,
    InputText,
    Instrument,
    KitCheck,
    Observation,
    Reading,
    Release,
    Result,
    Scan,
)
from burnerlab.bench.record.vocabulary import (
    LONGEST_NAME,
    LONGEST_NOTE,
    MOST_FACTS,
    Door,
    now,
    quantity_named,
    watched_named,
)
from burnerlab.bench.stop import SIGNALS, StopNotice, stop_rows
from burnerlab.tables.verdict import Verdict

SCOPES = ("unit", "bench")
NEVER_A_SLIP = ("odour", "co-alarm")  # no corrected reading takes these stops back
KIT_VERDICTS = (Verdict.WITHIN, Verdict.OUTSIDE)
HASH_LENGTH = 64  # hexadecimal digits of a SHA-256


def checked_test(test: BenchTest) -> BenchTest:
    """The test as the record keeps it: texts stripped, figures to 12 digits, times in UTC, versions filled in.

    Raises UserError with every problem found.
    """
    door = Door([])
    for name in ("instruments", "readings", "results", "observations", "stops", "earlier_stops", "inputs"):
        if len(getattr(test, name)) > MOST_FACTS:
            door.complain(f"more than {MOST_FACTS} in one test", name)
            door.close()
    kept = BenchTest(
        serial=door.text(test.serial, "serial", needed=True),
        model=door.text(test.model, "model", needed=True),
        tester=door.text(test.tester, "tester", needed=True),
        gas=door.text(test.gas, "gas"),
        model_sha256=_sha256(door, test.model_sha256, "model_sha256"),
        tested_at=door.moment(test.tested_at, "tested_at", now()),
        note=door.text(test.note, "note", longest=LONGEST_NOTE),
        instruments=tuple(_instrument(door, one) for one in test.instruments),
        readings=tuple(_reading(door, one) for one in test.readings),
        results=tuple(_result(door, one) for one in test.results),
        observations=tuple(_observation(door, one) for one in test.observations),
        before_lighting=_before_lighting(door, test.before_lighting),
        stops=tuple(_stop(door, one) for one in test.stops),
        earlier_stops=tuple(_earlier_stop(door, one) for one in test.earlier_stops),
        inputs=tuple(_input(door, one) for one in test.inputs),
    )
    _twice(door, kept)
    here = {one.name for one in kept.instruments}
    for reading in kept.readings:
        if reading.instrument and reading.instrument not in here:
            door.complain("is not among the instruments of this test", "instrument", reading.instrument)
    door.close()
    return kept


def _sha256(door: Door, value: object, key: str) -> str:
    text = door.text(value, key).lower()
    if text and (len(text) != HASH_LENGTH or set(text) - set("0123456789abcdef")):
        door.complain("is not a SHA-256", key, text, f"{HASH_LENGTH} hexadecimal digits")
    return text


def _twice(door: Door, test: BenchTest) -> None:
    """An observation or an instrument may be given once only; a reading may be repeated."""
    told = Counter((one.burner, one.name) for one in test.observations)
    for (burner, name), count in told.items():
        if count > 1:
            door.complain("is answered twice", f"observation {name}", burner)
    for name, count in Counter(one.name for one in test.instruments).items():
        if count > 1:
            door.complain("is named twice", "instrument", name)
    for name, count in Counter(one.id for one in test.stops).items():
        if count > 1:
            door.complain("is raised twice", "stop", name)
    for name, count in Counter(one.name for one in test.inputs).items():
        if count > 1:
            door.complain("is given twice", "input", name)
    for key, count in Counter((one.burner, one.quantity) for one in test.results).items():
        if count > 1:
            door.complain("is given twice", f"result {key[1]}", key[0])


def _instrument(door: Door, one: Instrument) -> Instrument:
    made = Instrument(
        name=door.text(one.name, "instrument", needed=True),
        kind=door.text(one.kind, "kind of instrument"),
        calibrated_on=door.day(one.calibrated_on, "calibrated"),
        due_on=door.day(one.due_on, "due"),
    )
    if made.due_on and made.due_on < made.calibrated_on:
        door.complain("is due before it was calibrated", "instrument", made.name)
    return made


def _name(door: Door, text: str, what: str) -> str:
    if what == "observation":
        return door.asked(lambda: watched_named(text, what).name)
    return door.asked(lambda: quantity_named(text, what).name)


def _reading(door: Door, one: Reading) -> Reading:
    return Reading(
        quantity=_name(door, one.quantity, "reading"),
        value=door.number(one.value, one.quantity),
        burner=door.text(one.burner, "burner"),
        standard_uncertainty=door.some(one.standard_uncertainty, "standard_uncertainty", not_below=0.0),
        instrument=door.text(one.instrument, "instrument"),
    )


def _result(door: Door, one: Result) -> Result:
    low, high = door.some(one.low, "low"), door.some(one.high, "high")
    if low is not None and high is not None and not low <= high:
        door.complain("the lower end comes first", f"band of {one.quantity}", f"{low:g} to {high:g}")
    return Result(
        quantity=_name(door, one.quantity, "result"),
        value=door.number(one.value, one.quantity),
        burner=door.text(one.burner, "burner"),
        expanded_uncertainty=door.some(one.expanded_uncertainty, "expanded_uncertainty", not_below=0.0),
        low=low,
        high=high,
        verdict=door.one_of(one.verdict, ("", *Verdict), "verdict"),
        version=door.text(one.version, "version") or __version__,
    )


def _observation(door: Door, one: Observation) -> Observation:
    return Observation(
        name=_name(door, one.name, "observation"),
        answer=cast(Answer, door.one_of(one.answer, ANSWERS, f"observation {one.name}")),
        burner=door.text(one.burner, "burner"),
    )


def _input(door: Door, one: InputText) -> InputText:
    return InputText(
        name=door.text(one.name, "input", needed=True),
        text=door.text(one.text, f"input {one.name}"[:LONGEST_NAME], needed=True, longest=LONGEST_NOTE),
    )


def _before_lighting(door: Door, one: BeforeLighting | None) -> BeforeLighting | None:
    if one is None:
        return None
    texts: dict[str, Any] = {
        name: door.text(getattr(one, name), name.replace("_", " "))
        for name in ("supply_label", "leak_test_method", "leak_test_by", "leak_test_when", "place")
    }
    answers: dict[str, Any] = {
        name: door.one_of(getattr(one, name), accepted, name.replace("_", " "))
        for name, accepted in (("leak_test", LEAK_TESTS), ("extraction", YES_NO), ("co_alarm", YES_NO))
    }
    if answers["leak_test"] == "none found" and not texts["leak_test_method"]:
        door.complain("is missing: none found by which method", "leak test method")
    if answers["leak_test"] == "not done here":
        for name in ("leak_test_by", "leak_test_when"):
            if not texts[name]:
                door.complain("is missing: who did it and when", name.replace("_", " "))
    return BeforeLighting(**texts, **answers)


def _stop(door: Door, one: StopNotice) -> StopNotice:
    door.one_of(one.id, tuple(stop_rows()), "stop")
    door.one_of(one.scope, SCOPES, "scope of a stop")
    door.one_of(one.signal, SIGNALS, "signal word of a stop")
    texts: dict[str, Any] = {
        name: door.text(getattr(one, name), name, needed=True, longest=LONGEST_NOTE)
        for name in ("heading", "do_first", "then")
    }
    return replace(one, **texts, why=door.text(one.why, "why", longest=LONGEST_NOTE))


def _earlier_stop(door: Door, one: EarlierStop) -> EarlierStop:
    if door.one_of(one.stop, tuple(stop_rows()), "stop") in NEVER_A_SLIP:
        door.complain("is never a slip of typing: record the test as stopped", "stop", one.stop)
    return EarlierStop(
        stop=one.stop,
        why=door.text(one.why, "why", longest=LONGEST_NOTE),
        reading=door.text(one.reading, "earlier reading", needed=True, longest=LONGEST_NOTE),
        reason=door.text(one.reason, "reason", needed=True, longest=LONGEST_NOTE),
    )


def checked_release(release: Release) -> Release:
    """A release as the record keeps it. Raises UserError with every problem found."""
    door = Door([])
    if not release.stops:
        door.complain("is missing", "stop")
    texts: dict[str, Any] = {
        name: door.text(getattr(release, name), name.replace("_", " "), needed=True, longest=longest)
        for name, longest in (
            ("name", LONGEST_NAME),
            ("qualification", LONGEST_NAME),
            ("cause", LONGEST_NOTE),
            ("repair", LONGEST_NOTE),
            ("leak_test", LONGEST_NOTE),
        )
    }
    door.close()
    return Release(stops=tuple(dict.fromkeys(release.stops)), **texts)


def checked_kit(check: KitCheck) -> KitCheck:
    """A weighing as the record keeps it. Raises UserError with every problem found."""
    door = Door([])
    texts: dict[str, Any] = {
        key: door.text(getattr(check, key), key, needed=key in ("kit", "tester"))
        for key in ("kit", "title", "tester", "serial", "version")
    }
    figures: dict[str, Any] = {
        key: door.number(getattr(check, key), key) for key in ("mass_kg", "window_low_kg", "window_high_kg")
    }
    if len(check.scans) > MOST_FACTS:
        door.complain(f"more than {MOST_FACTS} of one kit", "scans")
        door.close()
    made = KitCheck(
        **texts,
        **figures,
        verdict=door.one_of(check.verdict, KIT_VERDICTS, "verdict"),
        parts_sha256=_sha256(door, check.parts_sha256, "parts_sha256"),
        weighed_at=door.moment(check.weighed_at, "weighed_at", now()),
        note=door.text(check.note, "note", longest=LONGEST_NOTE),
        scans=tuple(
            Scan(part=door.text(one.part, "part"), reading=door.text(one.reading, "scan", needed=True))
            for one in check.scans
        ),
    )
    door.close()
    return replace(made, version=made.version or __version__)
