"""The cautions of the desk: each once, those of what is outside its range first, with what they warn of.

The short line of a caution stands above the orifices or at the end of the page, never in both places; all of them stand
in full at the end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar

from burnerlab.appliance.conversion.result import TILE_AERATION, Finding
from burnerlab.page.desk_findings import NOW, Topic, burners_of, possible_overfire, slug, value_words
from burnerlab.page.desk_fragment import DeskFigure, DeskPart, Fragment, MarketConversion, desk_figure
from burnerlab.report.sheet.checks import worst_of
from burnerlab.tables.cautions import Caution, caution, cautions, closing_cautions
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict

FIRST = ("gas-leak", "carbon-monoxide", "overfire")  # stand above the orifices of every page
HAZARDS = (
    (possible_overfire, Phrase("Possible overfire"), "overfire"),
    (lambda f: f.topic.startswith(TILE_AERATION), Phrase("A tile may lack air"), "carbon-monoxide"),
    (lambda f: f.topic.startswith("lift"), Phrase("Flames may lift"), "flame"),
    (lambda f: f.topic.startswith("light-back"), Phrase("Flames may light back"), "flame"),
    (lambda f: f.topic.startswith("yellow tipping"), Phrase("Flames may burn yellow"), "carbon-monoxide"),
    (
        lambda f: f.topic == "lock-up",
        Phrase("High pressure with every burner off"),
        "supply-pressure",
    ),
)
"""Which check outside its range can hurt, in words, and the caution against it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signalled(DeskPart):
    """A line under a signal word."""

    signal: str
    text: DeskFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class WarningLines(Fragment):
    """The cautions above the orifices, and each value that one of them warns of."""

    template: ClassVar[str] = "desk_answer_warnings"

    cautions: tuple[Signalled, ...]
    count: DeskFigure  # of the values
    values: tuple[DeskFigure, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionLines(Fragment):
    """The other cautions of a change of gas, worst first, and all of them in full; nothing removes one."""

    template: ClassVar[str] = "desk_answer_cautions"

    lines: tuple[Signalled, ...]
    in_full: tuple[Signalled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """What can hurt as the appliance is written: on which market, or now, by which checks."""

    words: Phrase
    caution: Caution
    topic: str
    letter: str
    findings: tuple[Finding, ...]


def hazards_of(topics: Sequence[Topic]) -> Iterator[Hazard]:
    """Checks outside their range that can hurt, by topic and market, the dangerous topic first."""
    for topic in topics:
        for letter in topic.letters(Verdict.OUTSIDE):
            bad = [f for f in topic.checks[letter] if f.verdict is Verdict.OUTSIDE]
            for is_so, words, id in HAZARDS:
                if kind := tuple(filter(is_so, bad)):
                    yield Hazard(
                        words=words, caution=caution(id), topic=topic.topic, letter=letter, findings=kind
                    )


def first_cautions(topics: Sequence[Topic] = ()) -> tuple[Caution, ...]:
    """Those above the orifices: of what is outside its range in the order of danger, then those of every page.

    >>> [one.id for one in first_cautions()]
    ['gas-leak', 'carbon-monoxide', 'overfire']
    """
    warned = {hazard.caution.id: hazard.caution for hazard in hazards_of(topics)}
    return tuple({**warned, **{one.id: one for one in cautions() if one.id in FIRST}}.values())


def warning_lines(markets: Sequence[MarketConversion], topics: Sequence[Topic]) -> WarningLines:
    """Each caution above the orifices once, with what it warns of and where."""
    hazards = list(hazards_of(topics))
    lines = []
    for one in first_cautions(topics):
        where: dict[Phrase, dict[str, None]] = {}
        for hazard in hazards:
            if hazard.caution is one:
                where.setdefault(hazard.words, {})[hazard.letter] = None
        found = [
            Phrase("{hazard} ({where})", hazard=words, where=_letters(letters))
            for words, letters in where.items()
        ]
        text = joined(". ", (*found, one.short))
        lines.append(Signalled(signal=one.signal, text=desk_figure(f"warning-{one.id}", text)))
    number = len(hazards)
    count = (
        Phrase("1 value behind these warnings")
        if number == 1
        else Phrase("{number} values behind these warnings", number=number)
    )
    return WarningLines(
        id="warnings",
        cautions=tuple(lines),
        count=desk_figure("warnings-count", count if hazards else ""),
        values=tuple(_value(hazard, markets) for hazard in hazards),
    )


def _letters(letters: Sequence[str] | dict[str, None]) -> str:
    """Where a hazard is: as the appliance stands now, then the letters of the markets."""
    now = [Phrase("now")] if NOW in letters else []
    return joined(", ", (*now, *(one for one in sorted(letters) if one != NOW)))


def _value(hazard: Hazard, markets: Sequence[MarketConversion]) -> DeskFigure:
    """Whose the value of a hazard is, where, and the worst of it."""
    who = burners_of(markets, hazard.findings) or Phrase("the appliance")
    worst = worst_of(hazard.findings)
    where = (
        Phrase("{burners} as it stands now", burners=who)
        if hazard.letter == NOW
        else Phrase("{burners} on {market}", burners=who, market=hazard.letter)
    )
    if worst.value is not None:
        where = Phrase("{where}, {value}", where=where, value=value_words(worst, hazard.letter, markets))
    id = f"warning-{slug(hazard.topic)}-{hazard.letter}-{hazard.caution.id}"
    return desk_figure(id, Phrase("{hazard}: {where}", hazard=hazard.words, where=where))


def caution_lines(markets: Sequence[MarketConversion], topics: Sequence[Topic]) -> CautionLines:
    """Those of every market's conversion that do not stand above the orifices, in the order of danger; all in full."""
    above = {one.id for one in first_cautions(topics)}
    wanted = {
        one.id
        for market in markets
        for c in market.conversions
        for one in closing_cautions("convert", *c.occasions)
    } or {one.id for one in closing_cautions("convert")}
    return CautionLines(
        id="cautions",
        lines=tuple(
            Signalled(signal=one.signal, text=desk_figure(f"caution-{one.id}", one.short))
            for one in cautions()
            if one.id in wanted - above
        ),
        in_full=tuple(
            Signalled(
                signal=one.signal,
                text=desk_figure(
                    f"caution-{one.id}-in-full", joined(" ", (one.hazard, one.consequence, one.avoidance))
                ),
            )
            for one in cautions()
            if one.id in wanted | above
        ),
    )
