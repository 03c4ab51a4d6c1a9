"""A test or a weighing made fit for the record: words known, figures finite, times told, or every complaint at once."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any, cast

from burnerlab import __version__
from burnerlab.bench.record.entry import (
    ANSWERS,
    LEAK_TESTS,
    PARTS,
    YES_NO,
    Answer,
    BeforeLighting,
    BenchInstrument,
    BenchReading,
    BenchTest,
    EarlierStop,
    InputText,
    KitCheck,
    Observation,
    Release,
    Result,
    Scan,
)
from burnerlab.bench.record.vocabulary import (
    LONGEST_NAME,
    LONGEST_NOTE,
    MOST_FACTS,
    EntryReader,
    now,
    quantity_named,
    sight_named,
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
    reader = EntryReader([])
    for name in ("instruments", *PARTS):
        if len(getattr(test, name)) > MOST_FACTS:
            reader.complain(f"more than {MOST_FACTS} in one test", name)
            reader.close()
    kept = BenchTest(
        serial=reader.text(test.serial, "serial", needed=True),
        model=reader.text(test.model, "model", needed=True),
        tester=reader.text(test.tester, "tester", needed=True),
        gas=reader.text(test.gas, "gas"),
        model_sha256=_sha256(reader, test.model_sha256, "model_sha256"),
        tested_at=reader.moment(test.tested_at, "tested_at", now()),
        note=reader.text(test.note, "note", longest=LONGEST_NOTE),
        instruments=tuple(_instrument(reader, one) for one in test.instruments),
        readings=tuple(_reading(reader, one) for one in test.readings),
        results=tuple(_result(reader, one) for one in test.results),
        observations=tuple(_observation(reader, one) for one in test.observations),
        before_lighting=_before_lighting(reader, test.before_lighting),
        stops=tuple(_stop(reader, one) for one in test.stops),
        earlier_stops=tuple(_earlier_stop(reader, one) for one in test.earlier_stops),
        inputs=tuple(_input(reader, one) for one in test.inputs),
    )
    _twice(reader, kept)
    here = {one.name for one in kept.instruments}
    for reading in kept.readings:
        if reading.instrument and reading.instrument not in here:
            reader.complain("is not among the instruments of this test", "instrument", reading.instrument)
    reader.close()
    return kept


def _sha256(reader: EntryReader, value: object, key: str) -> str:
    text = reader.text(value, key).lower()
    if text and (len(text) != HASH_LENGTH or set(text) - set("0123456789abcdef")):
        reader.complain("is not a SHA-256", key, text, f"{HASH_LENGTH} hexadecimal digits")
    return text


def _twice(reader: EntryReader, test: BenchTest) -> None:
    """An observation or an instrument may be given once only; a reading may be repeated."""
    told = Counter((one.burner, one.name) for one in test.observations)
    for (burner, name), count in told.items():
        if count > 1:
            reader.complain("is answered twice", f"observation {name}", burner)
    for name, count in Counter(one.name for one in test.instruments).items():
        if count > 1:
            reader.complain("is named twice", "instrument", name)
    for name, count in Counter(one.id for one in test.stops).items():
        if count > 1:
            reader.complain("is raised twice", "stop", name)
    for name, count in Counter(one.name for one in test.inputs).items():
        if count > 1:
            reader.complain("is given twice", "input", name)
    for key, count in Counter((one.burner, one.quantity) for one in test.results).items():
        if count > 1:
            reader.complain("is given twice", f"result {key[1]}", key[0])


def _instrument(reader: EntryReader, one: BenchInstrument) -> BenchInstrument:
    made = BenchInstrument(
        name=reader.text(one.name, "instrument", needed=True),
        kind=reader.text(one.kind, "kind of instrument"),
        calibrated_on=reader.day(one.calibrated_on, "calibrated"),
        due_on=reader.day(one.due_on, "due"),
    )
    if made.due_on and made.due_on < made.calibrated_on:
        reader.complain("is due before it was calibrated", "instrument", made.name)
    return made


def _name(reader: EntryReader, text: str, what: str) -> str:
    if what == "observation":
        return reader.read_by(lambda: sight_named(text, what).name)
    return reader.read_by(lambda: quantity_named(text, what).name)


def _reading(reader: EntryReader, one: BenchReading) -> BenchReading:
    return BenchReading(
        quantity=_name(reader, one.quantity, "reading"),
        value=reader.number(one.value, one.quantity),
        burner=reader.text(one.burner, "burner"),
        standard_uncertainty=reader.some(one.standard_uncertainty, "standard_uncertainty", not_below=0.0),
        instrument=reader.text(one.instrument, "instrument"),
    )


def _result(reader: EntryReader, one: Result) -> Result:
    low, high = reader.some(one.low, "low"), reader.some(one.high, "high")
    if low is not None and high is not None and not low <= high:
        reader.complain("the lower end comes first", f"band of {one.quantity}", f"{low:g} to {high:g}")
    return Result(
        quantity=_name(reader, one.quantity, "result"),
        value=reader.number(one.value, one.quantity),
        burner=reader.text(one.burner, "burner"),
        expanded_uncertainty=reader.some(one.expanded_uncertainty, "expanded_uncertainty", not_below=0.0),
        low=low,
        high=high,
        verdict=reader.one_of(one.verdict, ("", *Verdict), "verdict"),
        version=reader.text(one.version, "version") or __version__,
    )


def _observation(reader: EntryReader, one: Observation) -> Observation:
    return Observation(
        name=_name(reader, one.name, "observation"),
        answer=cast(Answer, reader.one_of(one.answer, ANSWERS, f"observation {one.name}")),
        burner=reader.text(one.burner, "burner"),
    )


def _input(reader: EntryReader, one: InputText) -> InputText:
    return InputText(
        name=reader.text(one.name, "input", needed=True),
        text=reader.text(one.text, f"input {one.name}"[:LONGEST_NAME], needed=True, longest=LONGEST_NOTE),
    )


def _before_lighting(reader: EntryReader, one: BeforeLighting | None) -> BeforeLighting | None:
    if one is None:
        return None
    texts: dict[str, Any] = {
        name: reader.text(getattr(one, name), name.replace("_", " "))
        for name in ("supply_label", "leak_test_method", "leak_test_by", "leak_test_when", "place")
    }
    answers: dict[str, Any] = {
        name: reader.one_of(getattr(one, name), accepted, name.replace("_", " "))
        for name, accepted in (("leak_test", LEAK_TESTS), ("extraction", YES_NO), ("co_alarm", YES_NO))
    }
    if answers["leak_test"] == "none found" and not texts["leak_test_method"]:
        reader.complain("is missing: none found by which method", "leak test method")
    if answers["leak_test"] == "not done here":
        for name in ("leak_test_by", "leak_test_when"):
            if not texts[name]:
                reader.complain("is missing: who did it and when", name.replace("_", " "))
    return BeforeLighting(**texts, **answers)


def _stop(reader: EntryReader, one: StopNotice) -> StopNotice:
    reader.one_of(one.id, tuple(stop_rows()), "stop")
    reader.one_of(one.scope, SCOPES, "scope of a stop")
    reader.one_of(one.signal, SIGNALS, "signal word of a stop")
    texts: dict[str, Any] = {
        name: reader.text(getattr(one, name), name, needed=True, longest=LONGEST_NOTE)
        for name in ("heading", "do_first", "then")
    }
    return replace(one, **texts, why=reader.text(one.why, "why", longest=LONGEST_NOTE))


def _earlier_stop(reader: EntryReader, one: EarlierStop) -> EarlierStop:
    if reader.one_of(one.stop, tuple(stop_rows()), "stop") in NEVER_A_SLIP:
        reader.complain("is never a slip of typing: record the test as stopped", "stop", one.stop)
    return EarlierStop(
        stop=one.stop,
        why=reader.text(one.why, "why", longest=LONGEST_NOTE),
        reading=reader.text(one.reading, "earlier reading", needed=True, longest=LONGEST_NOTE),
        reason=reader.text(one.reason, "reason", needed=True, longest=LONGEST_NOTE),
    )


def checked_release(release: Release) -> Release:
    """A release as the record keeps it. Raises UserError with every problem found."""
    reader = EntryReader([])
    if not release.stops:
        reader.complain("is missing", "stop")
    texts: dict[str, Any] = {
        name: reader.text(getattr(release, name), name.replace("_", " "), needed=True, longest=longest)
        for name, longest in (
            ("name", LONGEST_NAME),
            ("qualification", LONGEST_NAME),
            ("cause", LONGEST_NOTE),
            ("repair", LONGEST_NOTE),
            ("leak_test", LONGEST_NOTE),
        )
    }
    reader.close()
    return Release(stops=tuple(dict.fromkeys(release.stops)), **texts)


def checked_kit(check: KitCheck) -> KitCheck:
    """A weighing as the record keeps it. Raises UserError with every problem found."""
    reader = EntryReader([])
    texts: dict[str, Any] = {
        key: reader.text(getattr(check, key), key, needed=key in ("kit", "tester"))
        for key in ("kit", "title", "tester", "serial", "version")
    }
    figures: dict[str, Any] = {
        key: reader.number(getattr(check, key), key) for key in ("mass_kg", "window_low_kg", "window_high_kg")
    }
    if len(check.scans) > MOST_FACTS:
        reader.complain(f"more than {MOST_FACTS} of one kit", "scans")
        reader.close()
    made = KitCheck(
        **texts,
        **figures,
        verdict=reader.one_of(check.verdict, KIT_VERDICTS, "verdict"),
        parts_sha256=_sha256(reader, check.parts_sha256, "parts_sha256"),
        weighed_at=reader.moment(check.weighed_at, "weighed_at", now()),
        note=reader.text(check.note, "note", longest=LONGEST_NOTE),
        scans=tuple(
            Scan(part=reader.text(one.part, "part"), reading=reader.text(one.reading, "scan", needed=True))
            for one in check.scans
        ),
    )
    reader.close()
    return replace(made, version=made.version or __version__)
