"""A question in plain words as what it is about: its words without their endings, equal words, figures with a unit."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from burnerlab.quantity.units import Kind, find
from burnerlab.tables import package_dir, read_csv, rows

Phrase = tuple[str, ...]
"""Stems of words that follow each other."""

EVERYDAY = "search_words.csv"
STOP_WORDS = frozenset(
    re.findall(
        r"\w+",
        """
    a about after all also am an and any are as at be been before big but by can cannot come comes could did
    do does doing done for from get give go had has have having he her here how i if in into is it its just
    let list long many matter matters may me mean means might more most much must my need no not now of off on
    once one only or other our out over please put really same shall she should so some still such take tell
    than that the their them then there these they thing things this those to too type typed types under up us
    use used using very want was way we were what when where which while who whom whose why will with without
    would you your
    """,
    )
)
WORD = re.compile(r"\d+\.\d+|#?[^\W_]+(?:['\u2019][^\W_]+)?")
KINDS = (Kind.GAUGE_PRESSURE, Kind.TEMPERATURE, Kind.LENGTH, Kind.POWER, Kind.MASS, Kind.VOLUME)
NAMES = {
    Kind.GAUGE_PRESSURE: "pressure",
    Kind.TEMPERATURE: "temperature",
    Kind.POWER: "heat input",
    Kind.MASS: "mass",
    Kind.VOLUME: "volume",
}
HIGHEST_PART_m = 100.0  # a length above it is no part of an appliance: a height above the sea
NUMBER = r"(?<![\w.#])(\d{1,3}(?:[ ,\N{NO-BREAK SPACE}\N{THIN SPACE}]\d{3})+|\d+)(\.\d+)?"
PERCENT = re.compile(rf"{NUMBER}[\s-]?(?:%|percent\b|per cent\b)")
SHORTEST = 3  # letters of a word that an ending may leave


@cache
def stem(word: str) -> str:
    """A word without the ending of several, of a past or of an act: words of one trade, not of a language.

    >>> stem("regulators"), stem("derating"), stem("derate"), stem("fitted"), stem("supplies")
    ('regulator', 'derat', 'derat', 'fit', 'supply')
    """
    word = re.sub(r"['\u2019]s?$", "", word.lower().lstrip("#") if not word[1:].isdigit() else word.lower())
    if word.isascii() and not word.isalpha():
        return word
    for ending, instead in (("ies", "y"), ("sses", "ss"), ("ing", ""), ("ed", ""), ("es", ""), ("s", "")):
        rest = word.removesuffix(ending)
        if rest != word and len(rest) >= SHORTEST and not word.endswith(("ss", "us")):
            word = _undoubled(rest) + instead if ending in ("ing", "ed") else rest + instead
            break
    return word.removesuffix("e") if len(word) > SHORTEST else word


def _undoubled(rest: str) -> str:
    """``fitt`` of ``fitted`` as ``fit``."""
    return rest[:-1] if len(rest) > SHORTEST and rest[-1] == rest[-2] and rest[-1] not in "aelos" else rest


def words_of(text: str) -> list[str]:
    """The words of a text in order, without those that every text has.

    >>> words_of("How do I change the regulators?")
    ['change', 'regulators']
    """
    return [match.group() for match in WORD.finditer(text) if match.group().lower() not in STOP_WORDS]


def stems(text: str) -> Phrase:
    """The stems of the words of a text in order.

    >>> stems("How do I change the regulators?")
    ('chang', 'regulator')
    """
    return tuple(stem(word) for word in words_of(text))


def figures(text: str) -> Iterator[tuple[str, Kind, float]]:
    """Figures with a unit that stand in a text: a word of each, its kind and size in SI.

    Two digits count, so that a figure and its conversion are one: 15 000 ft is 4570 m.

    >>> [word for word, _, _ in figures("15,000 ft, or 4570 m")]
    ['length:4.6e+03', 'length:4.6e+03']
    """
    for match in _figure().finditer(text):
        number = float(re.sub(r"[^\d.]", "", match[1] + (match[2] or "")))
        for kind in KINDS:
            if (unit := find(match[3], kind)) is not None:
                size = number * unit.scale.factor + unit.scale.offset
                yield f"{kind.value.split()[-1]}:{size:.1e}", kind, size
                break


@cache
def _figure() -> re.Pattern[str]:
    spellings = {
        text
        for row in rows("units")
        if any(kind.name in row["kinds"].split("|") for kind in KINDS)
        for text in row["spellings"].split("|")
    }
    units = "|".join(re.escape(text) for text in sorted(spellings, key=len, reverse=True))
    return re.compile(rf"{NUMBER} ?({units})(?![\w/])")


def percents(text: str) -> Iterator[str]:
    """Percentages of a text, each as one word: ``4 %``, ``4%`` and ``4-percent`` alike."""
    for match in PERCENT.finditer(text):
        yield f"{match[1]}{match[2] or ''}%"


@dataclass(frozen=True, slots=True)
class Subject:
    """One thing that a question is about: the words of the question, and every phrase that is as good."""

    words: str
    phrases: frozenset[Phrase]


@cache
def equal_words() -> dict[Phrase, frozenset[Phrase]]:
    """Phrases that mean the same, each with all of its group: terms of both regions, and everyday words.

    >>> ("orific",) in equal_words()["injector",], ("cylind",) in equal_words()["bottl",]
    (True, False)
    """
    groups: dict[Phrase, frozenset[Phrase]] = {}
    lists = [(row["term"], *row["us"].split(";"), *row["eu"].split(";")) for row in rows("terms")]
    lists += [tuple(row["words"].split(";")) for row in read_csv(package_dir() / "handbook" / EVERYDAY)]
    for names in lists:
        group = frozenset(filter(None, (stems(re.sub(r"\(.*?\)", "", name)) for name in names)))
        for phrase in group:
            groups[phrase] = groups.get(phrase, frozenset()) | group
    return groups


def subjects(question: str) -> tuple[Subject, ...]:
    """What a question is about: each word, each known phrase, each figure with its unit.

    >>> [subject.words for subject in subjects("Can I reuse the hose at 30 mbar?")]
    ['reus', 'hos', '30', 'mbar', 'pressure:3.0e+03', 'pressure']
    """
    words, equal = stems(question), equal_words()
    longest = max(len(phrase) for phrase in equal)
    found: dict[str, frozenset[Phrase]] = {}
    for length in range(1, min(longest, len(words)) + 1):
        for start in range(len(words) - length + 1):
            phrase = words[start : start + length]
            if length == 1 or phrase in equal:
                found[" ".join(phrase)] = frozenset({phrase}) | equal.get(phrase, frozenset())
    for word in percents(question):
        found[word] = frozenset({(word,)})
    for word, kind, size in figures(question):
        found[word] = frozenset({(word,)})
        name = "altitude" if kind is Kind.LENGTH and size > HIGHEST_PART_m else NAMES.get(kind, "")
        if name:
            found[name] = frozenset({stems(name)}) | equal.get(stems(name), frozenset())
    once = {phrases: words for words, phrases in reversed(found.items())}  # gas meter and meter are one
    return tuple(Subject(words, phrases) for phrases, words in reversed(once.items()))


def text_words(text: str) -> Sequence[str]:
    """The words of a text that subjects are looked for in, in order; its figures follow."""
    return (*stems(text), *percents(text), *(word for word, _, _ in figures(text)))
