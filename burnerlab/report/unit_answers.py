"""What was answered and seen of a unit, beside its readings, as rows of the report: marks, leak test, flames."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from burnerlab.bench.flame_seen import FlameSeen
from burnerlab.bench.plan_results import (
    LEAK_TEST,
    LEAK_TEST_WORDS,
    MARK_WORDS,
    NO_MANIFOLD,
    NO_PRESSURE_WORDS,
    ORIFICE_MARKS,
    AnswerFirst,
    UnitResults,
)
from burnerlab.bench.record.entry import sights
from burnerlab.report.sheet.wording import clean
from burnerlab.tables.phrase import Phrase, joined

FIRST_CAPTION = Phrase("Before the readings")
FIRST_HEADS = Phrase("Unit"), Phrase("Question"), Phrase("Answer"), Phrase("By, entry")
QUESTIONS: Mapping[str, str] = {
    ORIFICE_MARKS: Phrase("orifice marks, with the gas off"),
    LEAK_TEST: Phrase("leak test of this unit"),
    NO_MANIFOLD: Phrase("why no manifold pressure is read"),
}
FLAMES_CAPTION = Phrase("Flames")
FLAMES_HEADS = Phrase("Unit"), Phrase("Burner and rate"), Phrase("Seen"), Phrase("Not looked at")
AS_REQUIRED, NOTHING_SEEN = Phrase("as required"), Phrase("nothing")


def first_row(unit: UnitResults, first: AnswerFirst, by: str) -> tuple[str, ...]:
    """What was answered before the readings of a unit, under ``FIRST_HEADS``."""
    question = QUESTIONS.get(first.question, first.question)
    if first.burner:
        question = joined(", ", (clean(first.burner, 48), question))
    answer: str = NO_PRESSURE_WORDS.get(first.answer, "")
    if first.question == ORIFICE_MARKS:
        answer = joined("; ", map(_marks_words, first.answer.split("; ")))
    elif first.question == LEAK_TEST:
        kind, _, facts = first.answer.partition(": ")
        answer = joined(": ", filter(None, (LEAK_TEST_WORDS.get(kind, ""), clean(facts, 240))))
    return clean(unit.serial, 48), question, answer or clean(first.answer, 48), by


def _marks_words(part: str) -> str:
    """One answer of the orifice marks with its burners, as the record has it."""
    answer, _, burners = part.partition(": ")
    words = next((each for each in MARK_WORDS.values() if answer == each), None)
    return clean(part, 240) if words is None else joined(": ", (words, clean(burners, 240)))


def flame_row(unit: UnitResults, flame: FlameSeen) -> tuple[str, ...]:
    """The flame of one burner at one rate, under ``FLAMES_HEADS``."""
    seen: str = joined("; ", (joined(": ", (_sight(one.name), Phrase(one.answer))) for one in flame.odd))
    if not flame.odd:
        seen = AS_REQUIRED if flame.seen else NOTHING_SEEN
    return clean(unit.serial, 48), clean(flame.place, 96), seen, joined("; ", map(_sight, flame.open))


def _sight(name: str) -> str:
    return Phrase(sights()[name].words)


def flame_lines(unit: UnitResults) -> Iterator[str]:
    """The flames of a unit that are not as required or not looked at, a sentence each."""
    for flame in unit.flames_lit:
        _, place, seen, left = flame_row(unit, flame)
        if flame.odd:
            yield f"{place}: {seen}"
        if flame.open:
            yield f"{place}: not looked at: {left}"
