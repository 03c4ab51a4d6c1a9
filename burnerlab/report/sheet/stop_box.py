"""The head of job card and test plan: who may do the work, what comes first, when to stop, and every warning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from burnerlab.bench.stop import card_conditions
from burnerlab.report.sheet.terms import Wording, has_english, reworded
from burnerlab.report.sheet.wording import SHEET
from burnerlab.tables.cautions import Caution, Signal, cautions, cautions_on
from burnerlab.tables.phrase import Phrase, joined

STOP_WHO = Phrase("Only a person qualified under the local code.")
STOP_FIRST = Phrase(
    "First: the maker's instructions and the local code; gas shut off and isolated, parts cool; CO alarm on."
)
STOP_WHEN = Phrase(
    "{conditions}: gas off. Keep it off until a qualified person has corrected the cause, leak tested by the local "
    "code and recorded the release. Other readings out of band: burner off, find the cause.",
    conditions=joined(", ", card_conditions()),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StopBox:
    """What stands above every figure of a paper by which somebody works on gas."""

    who: str = STOP_WHO
    first: str = STOP_FIRST
    when: str = STOP_WHEN
    warnings: tuple[Caution, ...]  # by their lines, worst first
    stop: str = Phrase("Stop:")
    label: str = Phrase("Who may do it, what comes first, when to stop")


def stop_box(occasions: Sequence[str] | None, *, refused: bool = False) -> StopBox:
    """The box of a conversion with these occasions of cautions; None where they are not known: then all warnings.

    refused : of a paper that says to fit and light nothing, with no word of what is lit

    >>> [one.id for one in stop_box(()).warnings][:3]
    ['gas-leak', 'carbon-monoxide', 'overfire']
    """
    every = cautions() if occasions is None else cautions_on(SHEET, *occasions)
    warnings = tuple(one for one in every if one.signal == Signal.WARNING)
    if not refused:
        return StopBox(warnings=warnings)
    lighting = {one.id for one in cautions_on("bench")}
    return StopBox(first="", when="", warnings=tuple(one for one in warnings if one.id not in lighting))


def box_in_words(box: StopBox, words: Wording) -> StopBox:
    """The box in the words of its reader; its sentences are read as one: all in one language."""
    made: StopBox = reworded(box, words)
    if not any(map(has_english, (made.who, made.first, made.when, made.stop))):
        return made
    return replace(
        made,
        who=words.in_english(box.who),
        first=words.in_english(box.first),
        when=words.in_english(box.when),
        stop=words.in_english(box.stop),
    )
