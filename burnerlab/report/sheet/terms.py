"""The words of a region on its documents: one house term in code, keys and terminal, that of the reader on paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields, is_dataclass, replace
from functools import partial
from typing import Any, TypeVar

from burnerlab import tables
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.report.sheet.blocks import BlockColumn, Cell, Points, Section, Table
from burnerlab.tables.handbook_link import handbook_addresses
from burnerlab.tables.languages import Language
from burnerlab.tables.phrase import Phrase, applied
from burnerlab.tables.region import in_terms_of

T = TypeVar("T")


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
