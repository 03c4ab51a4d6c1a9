"""The words of a region on its documents: one house term in code, keys and terminal, that of the reader on paper."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import fields, is_dataclass, replace
from functools import cache, partial
from typing import Any, TypeVar

from burnerlab import tables
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.report.sheet.blocks import BlockColumn, Cell, Points, Section, Table
from burnerlab.tables.handbook_link import handbook_addresses
from burnerlab.tables.languages import Language
from burnerlab.tables.phrase import Phrase, applied

T = TypeVar("T")


@cache
def regional_terms(region: str) -> dict[str, str]:
    """What a region calls each house term that it calls otherwise; nothing without a region.

    >>> regional_terms("eu")["orifice"], regional_terms("us")["light-back"], regional_terms("")
    ('injector', 'flashback', {})
    """
    if not region:
        return {}
    return {row["term"]: row[region] for row in tables.rows("regional_terms") if row[region] != row["term"]}


def in_terms_of(region: str, names: Iterable[str] = ()) -> Callable[[str], str]:
    """What turns a text into the words of a region; names that a user or a publication chose stay as they are.

    >>> words = in_terms_of("eu", names=("orifice ring",))
    >>> words("Orifices: orifice ring, overfires at low rate")
    'Injectors: orifice ring, overloads at reduced rate'
    >>> in_terms_of("us")("until a responsible body accepts it")
    'until an authority having jurisdiction accepts it'
    """
    terms = regional_terms(region)
    if not terms:
        return str
    any_term = "|".join(re.escape(term) for term in sorted(terms, key=len, reverse=True))
    term = re.compile(rf"(?:(?<![\w-])(?=\w)|(?=:))(?:{any_term})", re.IGNORECASE)
    kept = sorted({one for one in names if term.search(one)}, key=len, reverse=True)
    article = r"(?P<article>\ban? )?"
    either = re.compile(
        "|".join((*map(re.escape, kept), f"{article}(?P<term>{term.pattern})")), re.IGNORECASE
    )
    own = frozenset(kept)
    by_word = {term.lower(): made for term, made in terms.items()}

    def word(hit: re.Match[str]) -> str:
        if hit[0] in own:
            return hit[0]
        text = hit["term"] or hit[0]
        made = by_word[text.lower()]
        made = made[:1].upper() + made[1:] if text[:1].isupper() else made
        if hit["article"] is None or (text[0].lower() in VOWELS) == (made[0].lower() in VOWELS):
            return (hit["article"] or "") + made
        return hit["article"][0] + ("n " if made[0].lower() in VOWELS else " ") + made

    return lambda text: either.sub(word, text)


def names_of(c: Conversion) -> tuple[str, ...]:
    """What was named by a user or a publication, and addresses of the handbook: no word of it is exchanged."""
    return tuple(
        filter(
            None,
            (
                c.appliance,
                c.model,
                c.from_gas.title,
                c.to_gas.title,
                c.tolerance_source,
                c.pressure_range_source,
                *(b.name for b in c.burners),
                *(b.coefficient_source for b in c.burners),
                *(f.source for f in c.findings),
                *handbook_addresses(),
                *c.sources,
            ),
        )
    )


def in_words_of(language: Language, region: str, names: Iterable[str] = ()) -> Callable[[str], str]:
    """What turns a text into the words of a reader: of a language, and of a region where the text stays English."""
    english = in_terms_of(region, names)
    return lambda text: language.words(text, english)


def translation_notes(language: Language) -> tuple[str, ...]:
    """Who answers for the words of a paper in another language, its cautions among them."""
    return tuple(
        language.words(Phrase("Translated by {translator}.", translator=one)) for one in language.credits
    )


def reworded(value: Any, words: Callable[[str], str]) -> Any:
    """A sheet, or a part of it, with every text in the words of its reader; keys and verdicts stay."""
    if type(value) is str or isinstance(value, Phrase):
        return words(value)
    if isinstance(value, tuple):
        return tuple(reworded(one, words) for one in value)
    if is_dataclass(value) and not isinstance(value, type):
        changed = {
            one.name: reworded(getattr(value, one.name), words)
            for one in fields(value)
            if one.init and one.name not in KEYS
        }
        return replace(value, **changed)
    return value


def with_prose(section: Section, words: Callable[[str], str]) -> Section:
    """A section with its lead, its points and the running text of its tables in the units of its reader."""
    words = partial(applied, words)
    made: Section = replace(
        section,
        lead=words(section.lead),
        blocks=tuple(
            reworded(block, words)
            if isinstance(block, Points) or (isinstance(block, Table) and section.key in OF_PROSE)
            else block
            for block in section.blocks
        ),
    )
    return made


OF_PROSE = frozenset(("checks", "not_evaluated"))
"""Sections whose tables hold sentences of the checks."""
VOWELS = frozenset("aeiou")
KEYS = frozenset(
    ("key", "id", "place", "side", "verdict", "signal", "unit", "occasions", "footer", "language")
)
"""Fields that name, and print nothing."""


def terms_section(c: Conversion) -> tuple[Section, ...]:
    """The words of both regions, where the file names none."""
    if c.region:
        return ()
    rows = tuple(
        tuple(Cell(text=row[column].lstrip(": ")) for column in ("term", "us", "eu"))
        for row in tables.rows("regional_terms")
    )
    columns = (
        BlockColumn(title="Here"),
        BlockColumn(title="North America"),
        BlockColumn(title="Europe"),
    )
    lead = 'The words of one region are printed throughout where the file says region = "us" or "eu".'
    table = Table(caption="Terms", columns=columns, rows=rows)
    return (Section(key="terms", title="Terms", lead=lead, blocks=(table,)),)
