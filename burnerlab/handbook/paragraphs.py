"""Sections of the handbook ranked by a question in plain words: how many of its rare words each has (Okapi BM25)."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Protocol

from burnerlab.handbook.markdown_text import Heading, anchor_of
from burnerlab.handbook.questions import Phrase, Subject, stem, stems, subjects, text_words, words_of
from burnerlab.handbook.word_chapters import term_line
from burnerlab.tables import rows

SATURATION, LENGTH_SHARE = (
    1.2,
    0.5,
)  # k1 and b of BM25: the usual first, the second less since sections are short
IN_TITLE, IN_PAGE = 4, 1  # how often a word counts that stands in the heading, in a heading above it
NAMED = 3  # the same of a row or item of a list that is about the word: what stands before its colon
LEAST_SHARE = 0.3  # of the best score, for a section that is shown
WEIGHTS = {
    "changes": 0.35,
    "glossary": 0.6,
    "cautions": 1.2,
}  # former versions and mere words last, dangers first
WORK, OF_WORK = ("Start", "Work"), 1.3  # pages that say what to do, for who asks how it is done
HOW = re.compile(
    r"\s*(how (do|can|to|should|may)|where (do|can|should)|can (i|we)|may (i|we)|should (i|we))\b", re.I
)
MEANING, OF_MEANING = re.compile(r"\s*what (do|does)\b.*\bmeans?\b|.*\bmeaning of\b", re.I), 2.5  # of a word
UNKNOWN, OF_UNKNOWN = "what-stays-unknown", 0.6  # lists that name much and answer nothing
LONGEST_LINE = 230
CODE = "\N{ZERO WIDTH SPACE}"  # before a line of code, which says less than a sentence with the same words
OF_CODE = 0.6
AGAIN = 0.2  # what a word is worth each time that it stands in a paragraph, over its first


class Page(Protocol):
    """A page as it is searched."""

    @property
    def part(self) -> str: ...
    @property
    def topic(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def headings(self) -> tuple[Heading, ...]: ...


@dataclass(frozen=True, slots=True)
class HandbookSection:
    """A section: where it is, its heading, its blocks of text, and its words between blanks, the heading's first."""

    address: str
    title: str
    blocks: tuple[str, ...]
    heading: str
    above: str
    names: frozenset[Phrase]
    words: str
    length: int
    weight: float
    is_work: bool


@dataclass(frozen=True, slots=True)
class Ranked:
    """A section that answers, its best paragraph, and its score."""

    section: HandbookSection
    line: str
    score: float


def _spaced(words: Sequence[str]) -> str:
    return f" {'  '.join(words)} "  # two blanks between, so that neighbours are counted each


def _times(text: str, phrase: Phrase) -> int:
    return text.count(_spaced(phrase))


def sections(page: Page) -> Iterator[HandbookSection]:
    """The sections of a page; a row of the glossary is one of its own."""
    lines, tops = page.text.split("\n"), page.headings
    path: list[Heading] = []
    for place, top in enumerate(tops):
        path = [one for one in path if one.level < top.level]
        end = tops[place + 1].line if place + 1 < len(tops) else len(lines)
        address = page.topic if top.line == 0 else f"{page.topic}#{top.anchor}"
        made = _blocks(lines[top.line + 1 : end])
        above = " ".join(one.title for one in path)
        if page.topic == "glossary" and top.title == "Terms":
            for row in rows("terms"):
                yield _section(address, row["term"], (term_line(row),), above, page.part)
        else:
            yield _section(address, top.title, tuple(made), above, page.part)
        path.append(top)


def _section(address: str, title: str, blocks: tuple[str, ...], above: str, part: str) -> HandbookSection:
    topic, _, anchor = address.partition("#")
    heading = text_words(title if anchor_of(title) == anchor else f"{title} {anchor or topic}")
    words = text_words("\n".join(blocks))
    return HandbookSection(
        address=address,
        title=title,
        blocks=blocks,
        heading=_spaced(heading),
        above=_spaced(text_words(above)),
        names=frozenset(
            stems(name) for name in (title, *(one.partition(": ")[0] for one in blocks if ": " in one))
        ),
        words=_spaced(words),
        length=len(words) + len(heading),
        weight=OF_UNKNOWN if anchor == UNKNOWN else WEIGHTS.get(topic, 1.0) if anchor else 1.0,
        is_work=part in WORK,
    )


def _blocks(lines: Sequence[str]) -> list[str]:
    """Paragraphs, items of a list and rows of a table, each in one line."""
    made: list[list[str]] = [[]]
    fenced = False
    for line in lines:
        if line.startswith("```"):
            fenced = not fenced
            made.append([])
        elif not line.strip():
            made.append([])
        elif fenced:
            made.append([CODE + line.strip()])
        elif re.match(r"\s*([-*] |\d+\. |\|)", line):
            made.append([_plain(line)])
        else:
            made[-1].append(_plain(line))
    return [" ".join(" ".join(block).split()) for block in made if "".join(block).strip("-| ")]


def _plain(line: str) -> str:
    """A line without the marks of Markdown that a reader of one line does not need."""
    line = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", line.strip().strip("|"))
    line = re.sub(r"(?<![\w*\\])\*([^*\s][^*]*)\*", r"\1", line.replace("**", "").replace("`", ""))
    first, *others = re.split(r"\s+\|\s+", line)
    return re.sub(r"\\(.)", r"\1", ": ".join(filter(None, (first, "; ".join(others)))))


def _occurrences(section: HandbookSection, subject: Subject) -> float:
    """How often a section has a subject, its heading counted several times."""
    return sum(
        _times(section.words, phrase)
        + IN_TITLE * _times(section.heading, phrase)
        + IN_PAGE * _times(section.above, phrase)
        + NAMED * (phrase in section.names)
        for phrase in subject.phrases
    )


def rank(question: str, among: Sequence[HandbookSection]) -> tuple[tuple[Ranked, ...], tuple[str, ...]]:
    """The sections that answer a question, the nearest first, and the words of it that stand in none."""
    topics = subjects(question)
    table = [[_occurrences(section, subject) for section in among] for subject in topics]
    nowhere = {subject.words for subject, row in zip(topics, table, strict=True) if not any(row)}
    missing = tuple(
        dict.fromkeys(word for word in words_of(question) if stem(word) in nowhere and word.isalpha())
    )
    rarity = [
        math.log(1 + (len(among) - count + 0.5) / (count + 0.5))
        for count in (sum(1 for times in row if times) for row in table)
    ]
    mean = sum(section.length for section in among) / max(1, len(among))
    whole = sum(rare for rare, row in zip(rarity, table, strict=True) if any(row))
    scored, asks_how, asks_meaning = [], HOW.match(question), MEANING.match(question)
    for place, section in enumerate(among):
        part, covered = 0.0, 0.0
        for rare, row in zip(rarity, table, strict=True):
            if times := row[place]:
                norm = SATURATION * (1 - LENGTH_SHARE + LENGTH_SHARE * section.length / mean)
                part += rare * times * (SATURATION + 1) / (times + norm)
                covered += rare
        if part:
            intent = OF_WORK if asks_how and section.is_work else 1.0
            if asks_meaning and any(one.phrases & section.names for one in topics):
                intent = OF_MEANING
            scored.append((part * (0.5 + 0.5 * covered / whole) * section.weight * intent, section))
    best = max((score for score, _ in scored), default=0.0)
    kept = sorted((one for one in scored if one[0] >= LEAST_SHARE * best), key=lambda each: -each[0])
    ranked, seen = [], set()
    for score, section in kept:
        if section.address not in seen or section.address.startswith("glossary"):
            seen.add(section.address)
            ranked.append(Ranked(section, _best_block(section, topics, rarity), score))
    return tuple(ranked), missing


def _best_block(section: HandbookSection, topics: Sequence[Subject], rarity: Sequence[float]) -> str:
    """The paragraph of a section that has most of what is topics, from the sentence on that has it."""

    def weight(text: str) -> float:
        words = _spaced(text_words(text))
        times = [sum(_times(words, phrase) for phrase in subject.phrases) for subject in topics]
        return sum(rare * (1 + AGAIN * count) for rare, count in zip(rarity, times, strict=True) if count)

    if not section.blocks:
        return section.title
    plainness = {True: OF_CODE, False: 1.0}
    block = max(
        section.blocks, key=lambda block: weight(block) * plainness[block.startswith((CODE, "Function"))]
    ).removeprefix(CODE)
    if len(block) <= LONGEST_LINE:
        return block
    parts = re.split(r"(?<=[.:?]) (?=[A-Z])", block)
    start = max(range(len(parts)), key=lambda place: weight(parts[place]))
    text = " ".join(parts[start:])
    if len(text) > LONGEST_LINE:
        text = text[:LONGEST_LINE].rpartition(" ")[0] + " ..."
    return ("... " if start else "") + text


@cache
def all_sections(pages: tuple[Page, ...]) -> tuple[HandbookSection, ...]:
    """The sections of pages, read once."""
    return tuple(section for page in pages for section in sections(page))
