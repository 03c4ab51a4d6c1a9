"""Pages of the handbook in the order of ``contents.csv``: topic, title, text, headings and the sections below them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Protocol

from burnerlab.handbook.key_descriptions import is_key
from burnerlab.handbook.markdown_text import Heading, anchor_of, headings
from burnerlab.handbook.word_chapters import term_line
from burnerlab.quantity import System
from burnerlab.tables import package_dir, read_csv, rows
from burnerlab.tables.problem import Problem, UserError, did_you_mean

CONTENTS = "contents.csv"
TITLE = "# "
ENDING = ".md"
KEYS = "json-keys"  # the chapter of the keys of answers
GLOSSARY, TERMS = "glossary", "Terms"  # the page of terms, and its heading
WITH_RANGES = (
    "project-file",
    "study-file",
    "kit-list",
    "commands",
)  # chapters that list ranges of quantities
AT_ONCE = (
    GLOSSARY,
    "project-file",
    "study-file",
    "cautions",
)  # generated chapters that are made as fast as prose is read


KEY_CHAPTERS = ("project-file", "study-file")
"""Chapters of the keys of a file: their declarations take longer to load than all prose to search."""
ON_KEYS = re.compile(r"\b(keys?|files?|toml|sections?|sweeps?|study)\b|[\[\]_.]", re.IGNORECASE)
"""What a question about them has: a word for a file or its keys, or how a key is written."""


def handbook_dir() -> Path:
    """The folder of the pages of prose."""
    return package_dir() / "handbook"


@dataclass(frozen=True, slots=True)
class HandbookPage:
    """A page: its part of the handbook, topic and title.

    made_by : module and function of a generated one, else ""; system : units of the ranges that it lists
    """

    part: str
    topic: str
    title: str
    made_by: str = ""
    system: System = "metric"

    def in_units(self, system: System) -> HandbookPage:
        """The page with its ranges in these units; prose has those of its examples."""
        return replace(self, system=system if self.topic in WITH_RANGES else "metric")

    @property
    def text(self) -> str:
        """The page as Markdown, its title in the first line."""
        return _text(self)

    @property
    def headings(self) -> tuple[Heading, ...]:
        """Its headings in order, the title first."""
        return headings(self.text)


@cache
def _text(page: HandbookPage) -> str:
    if not page.made_by:
        return (handbook_dir() / f"{page.topic}{ENDING}").read_text(encoding="utf-8")
    # the chapter of a room below this one, as that of the commands, is imported when it is read: what knows the
    # declarations makes the page, and the contents know its name alone, as the command line knows its commands
    module, _, name = page.made_by.rpartition(".")
    maker = getattr(import_module(f"burnerlab.{module}"), name)
    made: str = maker(page.system) if page.topic in WITH_RANGES else maker()
    return f"{TITLE}{page.title}\n\n{made}"


def _title(topic: str) -> str:
    with (handbook_dir() / f"{topic}{ENDING}").open(encoding="utf-8") as file:
        return file.readline().removeprefix(TITLE).strip()


@cache
def pages() -> tuple[HandbookPage, ...]:
    """Every page of the handbook, in order.

    >>> [page.title for page in pages() if page.topic == "changes"]
    ['What changed']
    """
    return tuple(
        HandbookPage(row["part"], row["topic"], row["title"] or _title(row["topic"]), row["made_by"])
        for row in read_csv(handbook_dir() / CONTENTS)
    )


def page_of(topic: str) -> HandbookPage | None:
    """The page of a topic, however its words are joined and spelt; None where there is none.

    >>> page_of("Changes").topic, page_of("bnads")
    ('changes', None)
    """
    name = "-".join(topic.lower().replace("_", "-").split()).removesuffix(ENDING)
    return next((page for page in pages() if page.topic == name), None)


def unknown_topic(topic: str) -> UserError:
    """The complaint about a topic that no page has and whose word stands in none, with the nearest."""
    topics = [page.topic for page in pages()]
    fix = did_you_mean(topic, topics) or "burnerlab handbook lists the topics"
    return UserError(Problem("no page has this topic, and none this word", value=topic, key="TOPIC", fix=fix))


class Prose(Protocol):
    """A page, ours or a notebook's."""

    @property
    def topic(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def headings(self) -> tuple[Heading, ...]: ...


def section(page: Prose, anchor: str) -> str:
    """The text from a heading of a page up to the next that is not below it. Raises UserError for an unknown heading.

    >>> section(page_of("json"), "envelope").splitlines()[0]
    '## Envelope'
    """
    found: Sequence[Heading] = [one for one in page.headings if one.anchor == anchor]
    if not found:
        anchors = [one.anchor for one in page.headings]
        fix = did_you_mean(anchor, anchors)
        raise UserError(
            Problem(
                f"page {page.topic} has no such heading",
                anchor,
                "TOPIC",
                accepted=", ".join(anchors),
                fix=fix,
            )
        )
    first = found[0]
    ends = [one.line for one in page.headings if one.line > first.line and one.level <= first.level]
    return "\n".join(page.text.split("\n")[first.line : min(ends, default=None)]).rstrip() + "\n"


@dataclass(frozen=True, slots=True)
class Passage:
    """Where a word stands: page#heading, the title of the heading, the line."""

    address: str
    title: str
    line: str


class Nearness(IntEnum):
    """How a passage has the words that are sought, the nearest first."""

    TERM = 0  # is their entry of the glossary
    HEADING = 1  # is headed by them alone
    IN_TERM = 2  # an entry of the glossary has them among others
    IN_HEADING = 3
    PARTS_OF_HEADING = 4  # its heading or its address has them in longer words
    WHOLE_WORDS = 5  # they stand in its text
    PARTS_OF_WORDS = 6


def passages(words: str, among: Sequence[HandbookPage] | None = None) -> tuple[Passage, ...]:
    """Every section in which all the words stand: entries of the glossary by name first, then headings, then text.

    among : pages that are searched, every one of the handbook unless given

    >>> passages("envelope")[0].address, passages("injector")[0].title
    ('json#envelope', 'orifice')
    """
    sought = words.lower().split()
    searched = pages() if among is None else among
    found = [] if not sought else [near for page in searched for near in _on(page, sought)]
    return tuple(passage for _, passage in sorted(found, key=lambda each: each[0]))


def _on(page: HandbookPage, sought: Sequence[str]) -> Iterator[tuple[Nearness, Passage]]:
    """Passages of a page with all the words, and how near each is."""
    whole = page.text.lower()
    if not all(word in whole for word in sought):
        return  # its headings need not be read
    entries = list(_terms(sought)) if page.topic == GLOSSARY else []
    yield from entries
    lines, tops = page.text.split("\n"), page.headings
    for place, top in enumerate(tops):
        end = tops[place + 1].line if place + 1 < len(tops) else len(lines)
        within = lines[top.line : end]
        text = "\n".join(within).lower()
        if not all(word in text for word in sought) or (entries and top.title == TERMS):
            continue
        line = next((one for one in within if _has(one, sought)), within[0])
        address = page.topic if top.line == 0 else f"{page.topic}#{top.anchor}"
        shown = " ".join(line.strip("#| ").split())
        yield _nearness(top.title, address, text, sought), Passage(address, top.title, shown)


def _nearness(title: str, address: str, text: str, sought: Sequence[str]) -> Nearness:
    if title.lower().split() == list(sought):
        return Nearness.HEADING
    if _has(title, sought) or _has(address, sought):
        return Nearness.IN_HEADING
    if all(word in f"{title} {address}".lower() for word in sought):
        return Nearness.PARTS_OF_HEADING
    return Nearness.WHOLE_WORDS if _has(text, sought) else Nearness.PARTS_OF_WORDS


def _has(text: str, sought: Sequence[str]) -> bool:
    """Whether all the words stand in a text, each as a whole word or with the s of several."""
    return all(re.search(rf"(?<!\w){re.escape(word)}s?(?!\w)", text, re.IGNORECASE) for word in sought)


def _terms(sought: Sequence[str]) -> Iterator[tuple[Nearness, Passage]]:
    """Entries of the glossary that have the words in a name: ours, the one of a region, the symbol."""
    phrase = " ".join(sought)
    for row in rows("terms"):
        names = [
            name.strip()
            for column in ("term", "us", "eu", "symbol")
            for name in row[column].split(";")
            if name.strip()
        ]
        is_it = any(name.lower() == phrase for name in names)
        if is_it or any(_has(name, sought) for name in names):
            nearness = Nearness.TERM if is_it else Nearness.IN_TERM
            yield nearness, Passage(f"{GLOSSARY}#{anchor_of(TERMS)}", row["term"], term_line(row))


@dataclass(frozen=True, slots=True)
class Search:
    """Where words stand, and the topics of the pages that were not searched.

    is_ranked : the passages are the nearest to a question, none need have all of its words
    missing : words of the question that no page has
    """

    passages: tuple[Passage, ...]
    not_searched: tuple[str, ...] = ()
    is_ranked: bool = False
    missing: tuple[str, ...] = ()


def search(words: str, *, all_pages: bool = False) -> Search:
    """Pages of prose and the glossary are searched; other chapters, which take seconds, where those have no hit.

    A word, and a name of the glossary or of a heading, is looked for as it is written; of a question in plain words
    the sections that have most of its rare words come first. A key of an answer is looked up in the chapter of the
    keys as well, first of all. all_pages : generated chapters as well, whatever the others have

    >>> search("envelope").passages[0].address, "json-keys" in search("envelope").not_searched
    ('json#envelope', True)
    >>> search("how many turns do I have to count?").passages[0].address
    'causes#meter-and-counting'
    """
    of_keys = [page for page in pages() if page.topic == KEYS and is_key(words)]
    slow = [page for page in pages() if page.made_by and page.topic not in AT_ONCE and page not in of_keys]
    others = [page for page in pages() if page not in (*slow, *of_keys)]
    if len(words.split()) > 1 and not all_pages and (found := _answer(words, others)).passages:
        skipped = [*found.not_searched, *(page.topic for page in slow)]
        return replace(found, not_searched=tuple(page.topic for page in pages() if page.topic in skipped))
    if not all_pages and (passed := (*passages(words, of_keys), *passages(words, others))):
        return Search(passed, tuple(page.topic for page in slow))
    return Search(passages(words))


def _answer(words: str, among: Sequence[HandbookPage]) -> Search:
    """Of a question, by prose; by the chapters of keys as well where it is about them, or prose lacks a word of it."""
    prose = [page for page in among if page.topic not in KEY_CHAPTERS]
    if not ON_KEYS.search(words) and not (found := question(words, prose)).missing:
        return replace(found, not_searched=KEY_CHAPTERS)
    return question(words, among)


def question(words: str, among: Sequence[HandbookPage]) -> Search:
    """The sections that answer a question; what bears its very words as a name, or as its heading, stands first."""
    from burnerlab.handbook.paragraphs import all_sections, rank

    sought = words.lower().split()
    named = sorted(
        (each for page in among for each in _on(page, sought) if each[0] <= Nearness.IN_HEADING),
        key=lambda each: each[0],
    )
    ranked, missing = rank(words, all_sections(tuple(among)))
    first = [passage for _, passage in named]
    have = {(passage.address, passage.title) for passage in first}
    others = [Passage(one.section.address, one.section.title, one.line) for one in ranked]
    rest = [one for one in others if (one.address, one.title) not in have]
    return Search((*first, *rest), is_ranked=True, missing=missing)
