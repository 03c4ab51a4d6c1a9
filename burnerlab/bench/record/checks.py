"""A test, a weighing or a statement made fit for the record, or every complaint at once.

The program cannot check that a statement is true. It refuses one that says nothing, or that says it was not done.
Only what is stated from now on is read so: an entry of an older record, and one that is taken in, stays as it is.
"""

from __future__ import annotations

import datetime
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, cast

from burnerlab import __version__
from burnerlab.bench.record.entry import (
    ANSWERS,
    LEAK_TESTS,
    LONGEST_NAME,
    LONGEST_NOTE,
    MOST_FACTS,
    PARTS,
    PHOTOGRAPH_SUBJECTS,
    RATING_BASES,
    RECORD_REGIONS,
    YES_NO,
    Answer,
    BeforeLighting,
    BenchInstrument,
    BenchReading,
    BenchTest,
    EarlierStop,
    EntryReader,
    InputText,
    KitCheck,
    Observation,
    Photograph,
    PlanEntry,
    RatingBasis,
    Region,
    Release,
    Result,
    Scan,
    now,
    quantity_named,
    read_time,
    sight_named,
)
from burnerlab.bench.stop import SIGNALS, StopNotice, stop_rows
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.release_text import STATEMENT_TEXTS
from burnerlab.tables.verdict import Verdict

# What a person states before a release or a lighting: words that say something, and a leak test that was
# done.

FEWEST_LETTERS = 3
EXAMPLES: Mapping[str, str] = {
    **{kind: text.example for kind, text in STATEMENT_TEXTS.items()},
    "other_supply": "ring main B",
    "leak_test_by": "K. Moss",
    "leak_test_when": "2026-11-25 08:10, or 08:10 of today",
}
"""A statement of each kind, as a refusal shows it."""
SAYS_NOTHING = frozenset(
    [
        "none",
        "nothing",
        "unknown",
        "not known",
        "nobody",
        "not done",
        "not yet",
        "later",
        "tbd",
        "n.a.",
        "nil",
    ]
)
DAY = re.compile(r"(?P<day>\d{4}-\d\d-\d\d)(?:[ T](?P<clock>\d{1,2}:\d\d))?")
TODAY = re.compile(r"(?:today,? )?(?P<clock>\d{1,2}:\d\d)", re.IGNORECASE)


def words_problem(text: str, kind: str) -> str:
    """Why this text states nothing; "" when it does, or when it is missing, which others say.

    kind : a key of ``EXAMPLES``

    >>> words_problem("?", "cause")
    'Says nothing: words are needed, such as union nut loose'
    """
    folded = text.strip().casefold()
    letters = {letter for letter in folded if letter.isalpha()}
    enough = sum(letter.isalpha() for letter in folded) >= FEWEST_LETTERS and len(letters) > 1
    if not folded or (enough and folded.strip(" .") not in SAYS_NOTHING):
        return ""
    return f"Says nothing: words are needed, such as {EXAMPLES[kind]}"


def read_leak_test_time(text: str) -> str:
    """When a leak test was made elsewhere, local time: a day, with or without the clock, or the clock of today.

    Raises UserError for anything else, and for what lies in the future.

    >>> read_leak_test_time("2026-11-02 8:10"), read_leak_test_time("2026-11-02")
    ('2026-11-02 08:10', '2026-11-02')
    """
    words = " ".join(text.split())
    match, of_today = DAY.fullmatch(words), TODAY.fullmatch(words)
    key, accepted = "leak test when", f"such as {EXAMPLES['leak_test_when']}"
    if match is None and of_today is None:
        raise UserError(Problem("is not a date and time", value=text, key=key, accepted=accepted))
    day = match["day"] if match else datetime.date.today().isoformat()
    clock = match["clock"] if match else of_today["clock"] if of_today else None
    read = day if clock is None else f"{day} {clock.zfill(5)}"
    read_time(read, key)
    return read


# A test or a weighing made fit for the record: words known, figures finite, times told, or every complaint
# at once.

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
    test_with_texts = BenchTest(
        serial=reader.text(test.serial, "serial", needed=True),
        model=reader.text(test.model, "model", needed=True),
        tester=reader.text(test.tester, "tester", needed=True),
        gas=reader.text(test.gas, "gas"),
        model_sha256=_sha256(reader, test.model_sha256, "model_sha256"),
        tested_at=reader.moment(test.tested_at, "tested_at", now()),
        rating_basis=_rating_basis(reader, test.rating_basis),
        region=_region(reader, test.region),
        note=reader.text(test.note, "note", longest=LONGEST_NOTE),
        instruments=tuple(_instrument(reader, one) for one in test.instruments),
        readings=tuple(_reading(reader, one) for one in test.readings),
        results=tuple(_result(reader, one) for one in test.results),
        observations=tuple(_observation(reader, one) for one in test.observations),
        before_lighting=_before_lighting(reader, test.before_lighting),
        stops=tuple(_stop(reader, one) for one in test.stops),
        earlier_stops=tuple(_earlier_stop(reader, one) for one in test.earlier_stops),
        inputs=tuple(_input(reader, one) for one in test.inputs),
        plan_entries=tuple(_plan_entry(reader, one) for one in test.plan_entries),
        photographs=tuple(_photograph(reader, one) for one in test.photographs),
    )
    _twice(reader, test_with_texts)
    names = {one.name for one in test_with_texts.instruments}
    for reading in test_with_texts.readings:
        if reading.instrument and reading.instrument not in names:
            reader.complain("is not among the instruments of this test", "instrument", reading.instrument)
    reader.close()
    return test_with_texts


def _sha256(reader: EntryReader, value: object, key: str) -> str:
    text = reader.text(value, key).lower()
    if text and (len(text) != HASH_LENGTH or set(text) - set("0123456789abcdef")):
        reader.complain("is not a SHA-256", key, text, f"{HASH_LENGTH} hexadecimal digits")
    return text


def _rating_basis(reader: EntryReader, value: object) -> RatingBasis:
    basis = next((known for known in RATING_BASES if known == value), None)
    if basis is None:
        reader.complain("is not a basis", "rating_basis", str(value), "gross, net")
    return basis or ""


def _region(reader: EntryReader, value: object) -> Region:
    region = next((known for known in RECORD_REGIONS if known == value), None)
    if region is None:
        reader.complain("is not a region", "region", str(value), "us, eu")
    return region or ""


def _photograph(reader: EntryReader, photograph: Photograph) -> Photograph:
    return Photograph(
        sha256=_sha256(reader, reader.text(photograph.sha256, "photograph", needed=True), "photograph"),
        subject=reader.choice(photograph.subject, PHOTOGRAPH_SUBJECTS, "photograph"),
    )


def _plan_entry(reader: EntryReader, entry: PlanEntry) -> PlanEntry:
    return PlanEntry(
        plan=_sha256(reader, reader.text(entry.plan, "plan", needed=True), "plan"),
        plan_row=reader.text(entry.plan_row, "plan row", needed=True),
    )


def _twice(reader: EntryReader, test: BenchTest) -> None:
    """An observation or an instrument may be given once only; a reading may be repeated."""
    counts = Counter((one.burner, one.name) for one in test.observations)
    for (burner, name), count in counts.items():
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
    for entry, count in Counter(test.plan_entries).items():
        if count > 1:
            reader.complain("is given twice", "plan row", entry.plan_row)
    for sha256, count in Counter(one.sha256 for one in test.photographs).items():
        if count > 1:
            reader.complain("is given twice", "photograph", sha256)
    for key, count in Counter((one.burner, one.quantity) for one in test.results).items():
        if count > 1:
            reader.complain("is given twice", f"result {key[1]}", key[0])


def _instrument(reader: EntryReader, instrument: BenchInstrument) -> BenchInstrument:
    checked = BenchInstrument(
        name=reader.text(instrument.name, "instrument", needed=True),
        kind=reader.text(instrument.kind, "kind of instrument"),
        calibrated_on=reader.day(instrument.calibrated_on, "calibrated"),
        due_on=reader.day(instrument.due_on, "due"),
    )
    if checked.due_on and checked.due_on < checked.calibrated_on:
        reader.complain("is due before it was calibrated", "instrument", checked.name)
    return checked


def _name(reader: EntryReader, text: str, what: str) -> str:
    if what == "observation":
        return reader.read_by(lambda: sight_named(text, what).name)
    return reader.read_by(lambda: quantity_named(text, what).name)


def _reading(reader: EntryReader, reading: BenchReading) -> BenchReading:
    return BenchReading(
        quantity=_name(reader, reading.quantity, "reading"),
        value=reader.number(reading.value, reading.quantity),
        burner=reader.text(reading.burner, "burner"),
        standard_uncertainty=reader.some(reading.standard_uncertainty, "standard_uncertainty", not_below=0.0),
        instrument=reader.text(reading.instrument, "instrument"),
    )


def _result(reader: EntryReader, result: Result) -> Result:
    low, high = reader.some(result.low, "low"), reader.some(result.high, "high")
    if low is not None and high is not None and not low <= high:
        reader.complain("the lower end comes first", f"band of {result.quantity}", f"{low:g} to {high:g}")
    return Result(
        quantity=_name(reader, result.quantity, "result"),
        value=reader.number(result.value, result.quantity),
        burner=reader.text(result.burner, "burner"),
        expanded_uncertainty=reader.some(result.expanded_uncertainty, "expanded_uncertainty", not_below=0.0),
        low=low,
        high=high,
        verdict=reader.choice(result.verdict, ("", *Verdict), "verdict"),
        version=reader.text(result.version, "version") or __version__,
    )


def _observation(reader: EntryReader, observation: Observation) -> Observation:
    return Observation(
        name=_name(reader, observation.name, "observation"),
        answer=cast(Answer, reader.choice(observation.answer, ANSWERS, f"observation {observation.name}")),
        burner=reader.text(observation.burner, "burner"),
    )


def _input(reader: EntryReader, entry: InputText) -> InputText:
    return InputText(
        name=reader.text(entry.name, "input", needed=True),
        text=reader.text(entry.text, f"input {entry.name}"[:LONGEST_NAME], needed=True, longest=LONGEST_NOTE),
    )


def _before_lighting(reader: EntryReader, check: BeforeLighting | None) -> BeforeLighting | None:
    if check is None:
        return None
    texts: dict[str, Any] = {
        name: reader.text(getattr(check, name), name.replace("_", " "))
        for name in ("supply_label", "leak_test_method", "leak_test_by", "leak_test_when", "place")
    }
    answers: dict[str, Any] = {
        name: reader.choice(getattr(check, name), accepted, name.replace("_", " "))
        for name, accepted in (("leak_test", LEAK_TESTS), ("extraction", YES_NO), ("co_alarm", YES_NO))
    }
    if answers["leak_test"] == "none found" and not texts["leak_test_method"]:
        reader.complain("is missing: none found by which method", "leak test method")
    if answers["leak_test"] == "not done here":
        for name in ("leak_test_by", "leak_test_when"):
            if not texts[name]:
                reader.complain("is missing: who did it and when", name.replace("_", " "))
    return BeforeLighting(**texts, **answers)


def _stop(reader: EntryReader, notice: StopNotice) -> StopNotice:
    reader.choice(notice.id, tuple(stop_rows()), "stop")
    reader.choice(notice.scope, SCOPES, "scope of a stop")
    reader.choice(notice.signal, SIGNALS, "signal word of a stop")
    texts: dict[str, Any] = {
        name: reader.text(getattr(notice, name), name, needed=True, longest=LONGEST_NOTE)
        for name in ("heading", "do_first", "then")
    }
    return replace(notice, **texts, why=reader.text(notice.why, "why", longest=LONGEST_NOTE))


def _earlier_stop(reader: EntryReader, stop: EarlierStop) -> EarlierStop:
    if reader.choice(stop.stop, tuple(stop_rows()), "stop") in NEVER_A_SLIP:
        reader.complain("is never a slip of typing: record the test as stopped", "stop", stop.stop)
    return EarlierStop(
        stop=stop.stop,
        why=reader.text(stop.why, "why", longest=LONGEST_NOTE),
        reading=reader.text(stop.reading, "earlier reading", needed=True, longest=LONGEST_NOTE),
        reason=reader.text(stop.reason, "reason", needed=True, longest=LONGEST_NOTE),
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
    checked = KitCheck(
        **texts,
        **figures,
        verdict=reader.choice(check.verdict, KIT_VERDICTS, "verdict"),
        parts_sha256=_sha256(reader, check.parts_sha256, "parts_sha256"),
        weighed_at=reader.moment(check.weighed_at, "weighed_at", now()),
        note=reader.text(check.note, "note", longest=LONGEST_NOTE),
        scans=tuple(
            Scan(part=reader.text(scan.part, "part"), reading=reader.text(scan.reading, "scan", needed=True))
            for scan in check.scans
        ),
    )
    reader.close()
    return replace(checked, version=checked.version or __version__)
