"""What the desk says of the checks: the state in one sentence, what to look at first, what stays open.

Checks of one topic stand in one line with a column of marks for each market. What is outside is never left out; a
question that needs a test, or a limit of a flame that is not known, is named above the fold.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import ClassVar

from burnerlab.appliance.conversion.burner_conversion import NO_PORTS
from burnerlab.appliance.conversion.refusal import not_to_fit
from burnerlab.appliance.conversion.result import (
    PRESENT_INPUTS,
    TILE_AERATION,
    Conversion,
    Finding,
    NotEvaluated,
)
from burnerlab.page.desk_flames import band_of
from burnerlab.page.desk_fragment import (
    DeskFigure,
    DeskPart,
    Fragment,
    MarketConversion,
    desk_figure,
    desk_mark,
)
from burnerlab.page.desk_heat import has_surfaces
from burnerlab.page.result_text import minus
from burnerlab.report.sheet.blocks import digits, percent
from burnerlab.report.sheet.checks import (
    burners_words,
    finding_range,
    is_of_flame,
    value_text,
    worst_of,
)
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict, worst

NOW = "now"  # the letter of the appliance as it stands
HEAT_INPUTS = ("heat input", "total heat input", *PRESENT_INPUTS)
SUPPLY = ("supply pressure", "lock-up", "regulator", "piping", "worst combination")
FLAME_QUESTIONS = ("primary aeration", "lift", "light-back", "yellow tipping", "flame", "hot burner", "tile")
LIMITS = ("lift", "light-back", "yellow tipping", "tile temperature")
OPEN_FLAME = ("lift", "light-back", "yellow tipping")
HEAT_DISTRIBUTION = "heat distribution"
FLAME = "Flame"  # every limit of it
TO_ENTER = {NO_PORTS: "ports not given: enter ports, port diameter, throat and shutter"}
MOST_UNKNOWN = 3  # reasons in the sentence of the state
MOST_PLACED = 3  # topics in the sentence of the state with their burners and markets; of more the names alone
TEST = "test required"


@dataclass(frozen=True, slots=True, kw_only=True)
class StateLine(Fragment):
    """The state in one sentence, the highest signal first."""

    template: ClassVar[str] = "desk_answer_state"

    mark: DeskFigure
    sentence: DeskFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class TopicMark(DeskPart):
    """A topic on one market: its mark, its worst value, and whose it is unless that is the one burner of the line."""

    letter: str
    mark: DeskFigure | None  # None where the topic does not come up
    value: DeskFigure | None
    burners: str  # whose the value is
    range: str = ""  # of its own, where those of the markets differ


@dataclass(frozen=True, slots=True, kw_only=True)
class TopicLine(DeskPart):
    """A topic over all markets."""

    topic: str
    range: str  # of every market; "" where they differ, and each mark has its own
    burners: str
    marks: tuple[TopicMark, ...]
    why: DeskFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class LookFirst(Fragment):
    """What to look at first: outside before near, the dangerous before the rest."""

    template: ClassVar[str] = "desk_answer_look"

    letters: tuple[str, ...]
    outside: tuple[TopicLine, ...]
    near: tuple[TopicLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenQuestion(DeskPart):
    """What was not evaluated: why, for whom, on which markets."""

    topic: str
    why: DeskFigure
    burners: str
    markets: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenQuestions(Fragment):
    """What was not evaluated, counted; what needs a test and flames that are not known are named."""

    template: ClassVar[str] = "desk_answer_open"

    count: DeskFigure
    tests: DeskFigure  # topics that need a test, in one sentence
    flames: DeskFigure  # burners with a flame, or a limit of it, that is not known
    questions: tuple[OpenQuestion, ...]


# the checks by topic and market


@dataclass(frozen=True, kw_only=True)
class Topic:
    """The checks of one topic: by letter of a market, or ``NOW``; all of them stand before its verdict is read."""

    topic: str
    checks: dict[str, list[Finding]]

    @cached_property
    def every(self) -> list[Finding]:
        return [finding for checks in self.checks.values() for finding in checks]

    @cached_property
    def verdict(self) -> Verdict:
        return worst(finding.verdict for finding in self.every)

    @property
    def order(self) -> tuple[int, bool, bool, int]:
        """Outside before near, a market before the gas taken out, what a test decides when lit after other danger."""
        pressing = [(key, f) for key, fs in self.checks.items() for f in fs if f.verdict is self.verdict]
        after = [f for key, f in pressing if key != NOW]
        ranks = [(f.test_decides, danger_rank(f)) for f in after or (f for _, f in pressing)]
        overfires = any(
            possible_overfire(f) for _, f in pressing
        )  # on whichever gas: nothing stands before it
        return (self.verdict.rank, not after and not overfires, *min(ranks, default=(True, 9)))

    def letters(self, verdict: Verdict) -> list[str]:
        """Markets on which a check of it has this verdict."""
        return [key for key, fs in self.checks.items() if any(f.verdict is verdict for f in fs)]


def danger_rank(finding: Finding) -> int:
    """What can hurt first: too much heat, a tile without air, flames, too little heat, the supply, then all else.

    >>> danger_rank(Finding(topic="lift", verdict=Verdict.OUTSIDE, text=""))
    2
    """
    topic = finding.topic
    if possible_overfire(finding):
        return 0
    if topic.startswith(TILE_AERATION):
        return 1
    if is_of_flame(finding) or topic.startswith(("tile: lift", "tile: light-back")):
        return 2
    if topic in HEAT_INPUTS:
        return 3
    return 4 if topic.startswith(SUPPLY) else 5


def possible_overfire(finding: Finding) -> bool:
    """Whether a heat input lies above its band."""
    high = finding.high
    return finding.topic in HEAT_INPUTS and high is not None and (finding.value or 0.0) > high


def topics_of(markets: Sequence[MarketConversion]) -> list[Topic]:
    """Every topic with a check outside or near, in the order of attention."""
    topics: dict[str, Topic] = {}
    every = [(market.letter, c) for market in markets for c in market.conversions]
    for place, (letter, c) in enumerate(every):
        without = {b.name for b in c.burners if b.from_orifice_m is None}
        for finding in c.findings:
            is_now = finding.is_of_present_gas
            if is_now and (place > 0 or finding.burner in without or len(without) == len(c.burners)):
                continue  # the appliance as it stands is the same on every market; none without an orifice
            called = "heat input" if finding.topic in HEAT_INPUTS else finding.topic.split(" at ")[0]
            topic = topics.setdefault(called, Topic(topic=called, checks={}))
            topic.checks.setdefault(NOW if is_now else letter, []).append(finding)
    pressing = (t for t in topics.values() if t.verdict in (Verdict.OUTSIDE, Verdict.NEAR))
    return sorted(pressing, key=lambda topic: topic.order)


# the state


def state_line(markets: Sequence[MarketConversion], topics: Sequence[Topic], *, is_whole: bool) -> StateLine:
    """The state in one sentence. Before air, flames and supply are known it says so."""
    outside = [topic for topic in topics if topic.verdict is Verdict.OUTSIDE]
    refused = list(_none_fits_words(markets))
    parts = [*refused, _possible_overfire_words(topics, markets), _altitude_words(markets)]
    parts += [
        Phrase("{market} cannot be calculated: {why}", market=titles, why=why)
        for why, titles in _without_answer(markets).items()
    ]
    rest = [t for t in outside if not any(map(possible_overfire, t.every))]
    if rest:
        parts.append(Phrase("OUTSIDE: {topics}", topics=_topics_words(rest, markets)))
    unknown = list(_flames_unknown(markets, is_short=len(rest) > MOST_PLACED)) if is_whole else []
    parts.append(_unused_shutters(markets) if is_whole else "")
    if not is_whole:
        parts.append(Phrase("Orifices are calculated; air, flames and supply follow"))
    elif not any(parts):
        near = ", ".join(topic.topic for topic in topics)
        parts += unknown  # first: the rest is no all-clear
        parts += [ALL_INSIDE, Phrase("Near an end of it: {topics}", topics=near)] if near else [NO_VALUE]
    else:
        parts += unknown
    verdict = worst([Verdict.OUTSIDE if refused else Verdict.WITHIN, *(topic.verdict for topic in topics)])
    if not is_whole and verdict is Verdict.WITHIN:
        verdict = Verdict.NOT_EVALUATED
    if any(m.problems for m in markets):
        verdict = worst([verdict, Verdict.NOT_EVALUATED])
    *others, last = filter(None, parts)
    sentences = (*others, last.rstrip(".") if last.endswith(".") else last)
    return StateLine(
        id="state",
        mark=desk_mark("state-mark", verdict),
        sentence=desk_figure("state-sentence", Phrase("{sentences}.", sentences=joined(". ", sentences))),
    )


def _none_fits_words(markets: Sequence[MarketConversion]) -> Iterator[str]:
    """Markets in which a burner has no orifice to fit, on one of its gases, with the burners."""
    for market in markets:
        refused = {each for c in market.conversions for each in not_to_fit(c)}
        if refused and market.conversion is not None:
            who = ", ".join(name(b.name) for b in market.conversion.burners if b.name in refused)
            yield Phrase("Market {market}: no orifice fits ({burners})", market=market.letter, burners=who)


def _without_answer(markets: Sequence[MarketConversion]) -> dict[str, str]:
    """Markets that cannot be calculated, by the first reason of each."""
    reasons: dict[str, list[str]] = {}
    for market in markets:
        if market.problems:
            reasons.setdefault(market.problems[0], []).append(market.title)
    return {why: ", ".join(titles) for why, titles in reasons.items()}


def _topics_words(topics: Sequence[Topic], markets: Sequence[MarketConversion]) -> str:
    """Every topic in the order of danger: few with burners and markets; of many the worst so, of the others the names.

    What is so of the present gas alone says it.
    """
    if len(topics) > MOST_PLACED:
        first, *others = topics
        named = ", ".join(map(_name_in_state, others))
        return joined("; ", (_topic_words(first, markets), named))
    return joined("; ", (_topic_words(one, markets) for one in topics))


def _name_in_state(topic: Topic) -> str:
    is_now = topic.letters(topic.verdict) == [NOW]
    return Phrase("{what} as it stands now", what=topic.topic) if is_now else topic.topic


@dataclass(slots=True)
class Unknown:
    """What is not evaluated for one reason: of which burners, on which markets; its figures may differ."""

    burners: dict[str, None] = field(default_factory=dict)
    reasons: dict[str, str] = field(default_factory=dict)  # each with the letter of its first market
    letters: dict[str, None] = field(default_factory=dict)

    @property
    def why(self) -> str:
        """The reason, with its market where that of another has other figures."""
        why, letter = next(iter(self.reasons.items()))
        words = TO_ENTER.get(why, clean(why, 200))
        return Phrase("{market}: {why}", market=letter, why=words) if len(self.reasons) > 1 else words


def without_figures(why: str) -> str:
    """A reason by which two are the same but for their figures.

    >>> without_figures("aeration 69.9 %: outside the table") == without_figures("aeration 7 %: outside the table")
    True
    """
    return re.sub(r"[0-9]+(?:\.[0-9]+)?", "0", why)


def _flames_unknown(markets: Sequence[MarketConversion], *, is_short: bool) -> Iterator[str]:
    """Sentences on flames at full rate, or single limits of them, that are not evaluated: whose, and why.

    is_short : whether one limit is named alone, and why only where that says what to enter
    """
    every = [(market.letter, c) for market in markets for c in market.conversions]
    groups: dict[tuple[str, str], Unknown] = {}
    for letter, c in every:
        for burner in c.burners:
            for topic, why in _unknown_of(c, burner.name):
                one = groups.setdefault((topic, without_figures(why)), Unknown())
                one.burners[burner.name] = None
                one.reasons.setdefault(why, letter)
                one.letters[letter] = None
    if not groups:
        return
    order = [one.name for one in every[0][1].burners]
    first = sorted(groups.items(), key=lambda group: group[0][0] != FLAME)
    most = 1 if is_short else MOST_UNKNOWN
    for (topic, _), one in first[:most]:
        who = burners_words(every[0][1], [name for name in order if name in one.burners])
        if len(one.letters) < len({letter for letter, _ in every}) or len(one.reasons) > 1:
            who = Phrase("{burners} on {market}", burners=who, market=", ".join(one.letters))
        why, words = next(iter(one.reasons)), one.why
        if is_short and why not in TO_ENTER:
            yield Phrase("{limit} not evaluated: {burners}", limit=topic, burners=who)
        else:
            yield Phrase("{limit} not evaluated: {burners} ({why})", limit=topic, burners=who, why=words)
    if len(first) > most:
        yield Phrase("{number} more below, under Not evaluated", number=len(first) - most)
    yield Phrase("Until then a flame test decides")


def _unused_shutters(markets: Sequence[MarketConversion]) -> str:
    """Burners whose shutter has an opening but no area, so that no air is calculated with it."""
    c = next((m.conversion for m in markets if m.conversion is not None), None)
    if c is None or c.job is None:
        return ""
    named = [
        b.name
        for b in c.job.appliance.burners
        if b.shutter is not None and b.shutter.opening < 1.0 and b.shutter.full_area_m2 is None
    ]
    if not named:
        return ""
    who = burners_words(c, named)
    return Phrase("Shutter opening not used: {burners} (enter its area, fully open)", burners=who)


def _unknown_of(c: Conversion, burner: str) -> Iterator[tuple[str, str]]:
    """Of one burner: its whole flame where no limit of it is evaluated, else each limit; with the reason."""
    own = {
        question.topic: question.why
        for question in c.not_evaluated
        if question.burner == burner and question.topic.partition(",")[0] in LIMITS
    }
    if all(topic in own for topic in OPEN_FLAME):
        yield FLAME, own[OPEN_FLAME[0]]
    else:
        for topic, why in own.items():
            limit, is_hot, rest = (topic[:1].upper() + topic[1:]).partition(", hot burner")
            words = Phrase("{limit} of the hot burner", limit=limit) if is_hot else limit
            yield words + rest if rest else words, why


NO_VALUE = Phrase("No value is outside its range or near an end of it")
ALL_INSIDE = Phrase("No value is outside its range")


def _topic_words(topic: Topic, markets: Sequence[MarketConversion]) -> str:
    """A topic with its burners and the letters of its markets: ``yellow tipping (rear burner) on A, B``."""
    bad = [f for f in topic.every if f.verdict is topic.verdict]
    who = burners_of(markets, bad)
    letters = topic.letters(topic.verdict)
    there = [key for key in letters if key != NOW]
    what = f"{topic.topic} ({who})" if who else topic.topic
    on = ", ".join(there) if len(markets) > 1 else ""
    if NOW not in letters:
        return Phrase("{what} on {letters}", what=what, letters=on) if on else what
    if on:
        return Phrase("{what} on {letters} and as it stands now", what=what, letters=on)
    if there:
        return Phrase("{what} after the change and as it stands now", what=what)
    return Phrase("{what} as it stands now", what=what)


def burners_of(markets: Sequence[MarketConversion], findings: Sequence[Finding]) -> str:
    """Burners of some checks in words, in the order of the file; "" for a check of the whole appliance."""
    c = next(m.conversion for m in markets if m.conversion is not None)
    named = {f.burner for f in findings if f.burner}
    return burners_words(c, [b.name for b in c.burners if b.name in named]) if named else ""


def _possible_overfire_words(topics: Sequence[Topic], markets: Sequence[MarketConversion]) -> str:
    """The worst heat input above its band; none for a market in which nothing is fitted yet."""
    unfitted = {m.letter for m in markets if any(map(not_to_fit, m.conversions))}
    hot = [
        (key, f)
        for t in topics
        for key, fs in t.checks.items()
        for f in fs
        if possible_overfire(f) and key not in unfitted
    ]
    if not hot:
        return ""
    letter, most = max(hot, key=lambda each: each[1].value or 0.0)
    who = name(most.burner) or "all burners together"
    share, more = f"{most.value:+.1f}", len({(key, f.burner) for key, f in hot}) - 1
    text = (
        Phrase("WARNING: Possible overfire: {burner} as it stands now {share} %", burner=who, share=share)
        if letter == NOW
        else Phrase(
            "WARNING: Possible overfire: {burner} on {market} {share} %",
            burner=who,
            market=letter,
            share=share,
        )
    )
    return Phrase("{text}, and {more} more", text=text, more=more) if more else text


def _altitude_words(markets: Sequence[MarketConversion]) -> str:
    """Markets whose bores are those for sea level where an altitude rule lowers the rating."""
    letters = [
        m.letter for m in markets if any(c.altitude is not None and c.altitude.warning for c in m.conversions)
    ]
    if not letters:
        return ""
    on = ", ".join(letters)
    return Phrase("WARNING: No altitude rule chosen on {markets}: before drilling, choose it", markets=on)


# what to look at first


def look_first(markets: Sequence[MarketConversion], topics: Sequence[Topic]) -> LookFirst:
    """A line for each topic with a value outside or near, and a column of marks for each market."""
    solved = [m for m in markets if m.conversion is not None]
    has_now = any(NOW in topic.checks for topic in topics)
    letters = (*((NOW,) if has_now else ()), *(m.letter for m in solved))
    lines = [(t.verdict, _line(t, letters, markets)) for t in topics]
    return LookFirst(
        id="look",
        letters=letters,
        outside=tuple(line for verdict, line in lines if verdict is Verdict.OUTSIDE),
        near=tuple(line for verdict, line in lines if verdict is Verdict.NEAR),
    )


def _line(topic: Topic, letters: Sequence[str], markets: Sequence[MarketConversion]) -> TopicLine:
    id = f"look-{slug(topic.topic)}"
    bad = [f for f in topic.every if f.verdict is topic.verdict]
    first = worst_of(bad)
    who = burners_of(markets, bad)
    marks = tuple(_mark(topic, letter, who, markets) for letter in letters)
    is_common = len({mark.range for mark in marks if mark.mark is not None}) == 1
    return TopicLine(
        topic=clean(topic.topic),
        range=minus(finding_range(first)) if is_common else "",
        burners=who,
        marks=tuple(replace(mark, range="") for mark in marks) if is_common else marks,
        why=desk_figure(f"{id}-why", _why(topic, first)),
    )


def _why(topic: Topic, first: Finding) -> str:
    """What was found at the worst value, with its place where several are held together."""
    letter = next(key for key, fs in topic.checks.items() if any(f is first for f in fs))
    where = "now" if letter == NOW else letter if len(topic.checks) > 1 else ""
    head = joined(", ", filter(None, (where, name(first.burner))))
    text = clean(first.text)
    return Phrase("{head}: {text}", head=head, text=text) if head else text


def _mark(topic: Topic, letter: str, named: str, markets: Sequence[MarketConversion]) -> TopicMark:
    id, checks = f"look-{slug(topic.topic)}-{letter}", topic.checks.get(letter, [])
    if not checks:
        return TopicMark(letter=letter, mark=None, value=None, burners="")
    verdict = worst(f.verdict for f in checks)
    same = [f for f in checks if f.verdict is verdict]
    first = worst_of(same)
    value = None
    if verdict in (Verdict.OUTSIDE, Verdict.NEAR) and first.value is not None:
        value = desk_figure(f"{id}-value", value_words(first, letter, markets))
    own, several = burners_of(markets, same), len({f.burner for f in same if f.burner})
    if value is not None and several > 1:  # the value is that of the worst alone
        own = Phrase(
            "{burner}, worst of {number}", burner=name(first.burner) or "all together", number=several
        )
    is_other = verdict in (Verdict.OUTSIDE, Verdict.NEAR) and own != named
    return TopicMark(
        letter=letter,
        mark=desk_mark(id, verdict),
        value=value,
        burners=own if is_other else "",
        range=minus(finding_range(first)),
    )


def value_words(finding: Finding, letter: str, markets: Sequence[MarketConversion]) -> str:
    """A value with its sign or its band, and the rate it is taken at; a margin never stands without its band."""
    moment = finding.topic.partition(" at ")[2]
    own = (c for m in markets if letter in (NOW, m.letter) for c in m.conversions)
    band = next(filter(None, (band_of(c, finding) for c in own)), "")
    words = band or value_text(finding)
    if not band and finding.value_low is not None and finding.value_high is not None:
        words = f"{words} ({digits(finding.value_low, 3)} to {digits(finding.value_high, 3)})"
    if finding.topic in HEAT_INPUTS:
        words = percent((finding.value or 0.0) / 100.0)
    return ", ".join(filter(None, (words, moment)))


# what stays open


def open_questions(markets: Sequence[MarketConversion]) -> OpenQuestions:
    """What was not evaluated on any market, by topic and reason."""
    groups: dict[tuple[str, str, bool], list[tuple[str, NotEvaluated]]] = {}
    solved = [m for m in markets if m.conversion is not None]
    for market in solved:
        for is_now, question in (question for c in market.conversions for question in _questions(c)):
            if is_now and market is not solved[0]:
                continue  # the present gas is the same on every market
            letter = NOW if is_now else market.letter
            key = (question.topic, without_figures(question.why), is_now)
            groups.setdefault(key, []).append((letter, question))
    questions = [
        OpenQuestion(
            topic=clean(topic),
            why=desk_figure(f"open-{place}-why", _why_open(each)),
            burners=_named(solved, [question.burner for _, question in each]),
            markets=", ".join(dict.fromkeys(letter for letter, _ in each)),
        )
        for place, ((topic, *_), each) in enumerate(groups.items(), start=1)
    ]
    tests = dict.fromkeys(topic for topic, why, _ in groups if TEST in why)
    flames = {
        f"{clean(topic)} ({_named(solved, [question.burner for _, question in each])})": None
        for (topic, *_), each in groups.items()
        if topic.startswith(FLAME_QUESTIONS) and each[0][1].burner
    }
    return OpenQuestions(
        id="open",
        count=desk_figure("open-count", f"{len(questions)} not evaluated"),
        tests=desk_figure("open-tests", ", ".join(tests)),
        flames=desk_figure("open-flames", ", ".join(flames)),
        questions=tuple(questions),
    )


def _why_open(each: Sequence[tuple[str, NotEvaluated]]) -> str:
    """The reason of a question, with its market where that of another has other figures."""
    letter, first = each[0]
    is_other = any(question.why != first.why for _, question in each)
    return Phrase("{market}: {why}", market=letter, why=first.why) if is_other else first.why


def _questions(c: Conversion) -> Iterator[tuple[bool, NotEvaluated]]:
    """What a conversion leaves open, each with whether it is of the present gas."""
    for question in c.not_evaluated:
        if question.topic != HEAT_DISTRIBUTION or not has_surfaces(c):
            yield False, question
    for finding in c.findings:
        if not finding.verdict.is_evaluated:
            is_now = finding.which_gas == "present" or finding.topic in PRESENT_INPUTS
            yield is_now, NotEvaluated(topic=finding.topic, why=finding.text, burner=finding.burner)


def _named(solved: Sequence[MarketConversion], burners: Sequence[str]) -> str:
    own = [burner for burner in burners if burner]
    c = solved[0].conversion
    return burners_words(c, own) if own and c is not None else ""


def slug(text: str) -> str:
    """The letters and digits of a text as a part of an id.

    >>> slug("tile: aeration")
    'tile-aeration'
    """
    return re.sub("[^a-z0-9]+", "-", text.lower()).strip("-")
