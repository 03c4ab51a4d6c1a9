"""Pages of the handbook in the order of ``contents.csv``: topic, title, text, headings and the sections below them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pathlib import Path

from burnerlab.handbook.markdown_text import Heading, headings
from burnerlab.tables import package_dir, read_csv
from burnerlab.tables.problem import Problem, UserError, did_you_mean

CONTENTS = "contents.csv"
TITLE = "# "
ENDING = ".md"
AT_ONCE = ("glossary",)  # generated chapters that are made as fast as prose is read


def handbook_dir() -> Path:
    """The folder of the pages of prose."""
    return package_dir() / "handbook"


@dataclass(frozen=True, slots=True)
class HandbookPage:
    """A page: its part of the handbook, topic and title; made_by : module and function of a generated one, else ""."""

    part: str
    topic: str
    title: str
    made_by: str = ""

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
    made: str = getattr(import_module(f"burnerlab.{module}"), name)()
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


def section(page: HandbookPage, anchor: str) -> str:
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


def passages(words: str, among: Sequence[HandbookPage] | None = None) -> tuple[Passage, ...]:
    """Every section in which all the words stand, one that has them in its heading first.

    among : pages that are searched, every one of the handbook unless given

    >>> passages("envelope")[0].address
    'json#envelope'
    """
    sought = words.lower().split()
    found: list[tuple[bool, Passage]] = []
    for page in pages() if among is None else among:
        whole = page.text.lower()
        if not sought or not all(word in whole for word in sought):
            continue  # its headings need not be read
        lines = page.text.split("\n")
        tops = page.headings
        for place, top in enumerate(tops):
            end = tops[place + 1].line if place + 1 < len(tops) else len(lines)
            within = lines[top.line : end]
            text = "\n".join(within).lower()
            if all(word in text for word in sought):
                line = next((one for one in within if sought[0] in one.lower()), within[0])
                address = page.topic if top.line == 0 else f"{page.topic}#{top.anchor}"
                is_title = all(word in top.title.lower() for word in sought)
                found.append((not is_title, Passage(address, top.title, " ".join(line.strip("#| ").split()))))
    return tuple(passage for _, passage in sorted(found, key=lambda each: each[0]))


@dataclass(frozen=True, slots=True)
class Search:
    """Where words stand, and the topics of the pages that were not searched."""

    passages: tuple[Passage, ...]
    not_searched: tuple[str, ...] = ()


def search(words: str, *, all_pages: bool = False) -> Search:
    """Pages of prose and the glossary are searched; other chapters, which take seconds, where those have no hit.

    all_pages : generated chapters as well, whatever the others have

    >>> search("envelope").passages[0].address, "project-file" in search("envelope").not_searched
    ('json#envelope', True)
    """
    slow = [page for page in pages() if page.made_by and page.topic not in AT_ONCE]
    if not all_pages and (found := passages(words, [page for page in pages() if page not in slow])):
        return Search(found, tuple(page.topic for page in slow))
    return Search(passages(words))
