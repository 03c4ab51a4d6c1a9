"""The desk in the words of the region of its file: what is read, never a value, a key or what people named."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from markupsafe import escape

from burnerlab.tables import sources
from burnerlab.tables.region import in_terms_of, regional_terms

REMEMBERED = 20_000  # texts: those of a page of six burners on three markets, a few times over
PIECES = 500  # of pages: those of a few answers
PART = re.compile(
    r"<(?P<kept>script|style|textarea|option|code|pre)\b.*?</(?P=kept)>|<(?P<tag>[^>]*)>|(?P<text>[^<]+)",
    re.DOTALL,
)
"""Of a page: what stays whole, a tag, or text that is read."""
HINT = re.compile(r'(?<= )(aria-label|title|placeholder)="([^"]*)"')
KEY = re.compile(r"\w+(?:\[\d*\])?(?:\.\w+(?:\[\d*\])?)+|\w+\[\d*\]|\b[a-z_]+(?= *= *[\[{\"&])")
"""A key of the project file in a sentence, or the start of a line of the file."""


@dataclass(frozen=True, slots=True)
class DeskTerms:
    """What puts the English of the desk into the words of a region.

    >>> terms = desk_terms("eu", ("orifice ring",))
    >>> terms.page('<p id="orifice" title="an orifice">Orifice of orifice ring: <code>orifice</code></p>')
    '<p id="orifice" title="an injector">Injector of orifice ring: <code>orifice</code></p>'
    >>> terms.text("burner[1].orifice.drill: no orifice")
    'burner[1].orifice.drill: no injector'
    """

    text: Callable[[str], str]
    page: Callable[[str], str]  # a page, or a piece of it


@lru_cache(maxsize=16)
def desk_terms(region: str, names: tuple[str, ...]) -> DeskTerms:
    """The words of a region for a desk; names : what people and publications named"""
    term = _any_term(region)
    own = {one for one in names if term.search(one)}
    return _terms(region, tuple(sorted(own | _publications(region))))


@lru_cache(maxsize=8)
def _publications(region: str) -> frozenset[str]:
    """What publications of the tables are called, where a word of the region is in it."""
    term = _any_term(region)
    every = (text for one in sources().values() for text in (one.cite(), one.title))
    return frozenset(text for text in every if term.search(text))


@lru_cache(maxsize=8)
def _any_term(region: str) -> re.Pattern[str]:
    return re.compile("|".join(map(re.escape, regional_terms(region))) or r"(?!)", re.IGNORECASE)


@lru_cache(maxsize=8)
def _terms(region: str, names: tuple[str, ...]) -> DeskTerms:
    return DeskTerms(
        _changed(region, names), _of_page(_changed(region, tuple(str(escape(one)) for one in names)))
    )


def _of_page(text: Callable[[str], str]) -> Callable[[str], str]:
    """What changes the texts of a page; text : what changes each of them"""

    def part(hit: re.Match[str]) -> str:
        if hit["text"]:
            return text(hit["text"])
        if hit["tag"] and HINT.search(hit[0]):
            return HINT.sub(lambda hint: f'{hint[1]}="{text(hint[2])}"', hit[0])
        return hit[0]

    return lru_cache(maxsize=PIECES)(lambda html: PART.sub(part, html))


def _changed(region: str, names: tuple[str, ...]) -> Callable[[str], str]:
    words, term = in_terms_of(region, names), _any_term(region)

    @lru_cache(maxsize=REMEMBERED)
    def text(english: str) -> str:
        if not term.search(english):
            return english
        made, at = [], 0
        for key in KEY.finditer(english):
            made += [words(english[at : key.start()]), key[0]]
            at = key.end()
        return "".join((*made, words(english[at:])))

    return text
