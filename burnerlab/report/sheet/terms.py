"""The words of a region on its documents: one house term in code, keys and terminal, that of the reader on paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache, lru_cache, partial
from typing import Any, TypeVar

from burnerlab import tables
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.quantity.quantity_text import QuantityText
from burnerlab.report.sheet.blocks import BlockColumn, Cell, Points, Section, Table
from burnerlab.report.sheet.vocabulary import gas_words
from burnerlab.tables.catalogue import gas_titles
from burnerlab.tables.cautions import Caution
from burnerlab.tables.handbook_link import LOOK_UP, handbook_addresses
from burnerlab.tables.languages import ENGLISH_LANGUAGE, Language
from burnerlab.tables.phrase import Phrase, applied, filled, places
from burnerlab.tables.region import in_terms_of

T = TypeVar("T")
SOURCES = 2000  # remembered, as figures cite them
ONE_END = "one end "  # of a source of two publications: a sentence
TEXTS = (str, Phrase, QuantityText)


def printed_names(c: Conversion) -> tuple[str, ...]:
    """What keeps its name in every language: what a user, a gas library or a publication named, files and commands.

    The title of a gas of ours is among them, and has the name that a table of texts gives it.
    """
    own = (c.appliance, c.model, c.file_name, c.file_sha256, c.category, c.region, LOOK_UP.strip())
    gases = (c.from_gas, c.to_gas)
    burners = (
        text for b in c.burners for text in (b.name, b.part, b.from_drill, *(d.mark for d in b.choices))
    )
    titles = (gas_words(gas.title) for gas in gases if " " in gas.title or gas.title not in gas_titles())
    of_gases = (*titles, *(text for gas in gases for text in (gas.name, gas.source)))
    every = (*own, *_sources_of(c), *of_gases, *burners, *_of_geometry(c), *_cited())
    return tuple(dict.fromkeys(filter(None, every)))


def _sources_of(c: Conversion) -> Iterator[str]:
    """Publications with their place, as the figures of a conversion cite them."""
    couple = c.pressure_couple
    own = (c.tolerance_source, c.pressure_range_source, *(b.coefficient_source for b in c.burners))
    for one in dict.fromkeys(
        (*own, *(f.source for f in c.findings), "" if couple is None else couple.source)
    ):
        if _names_publication(one):
            yield one


@lru_cache(maxsize=SOURCES)
def _names_publication(source: str) -> bool:
    """Whether a publication of the tables stands in a source as a figure cites it, and that is no sentence."""
    return any(title in source for title in _titles()) and not source.startswith(ONE_END)


def _of_geometry(c: Conversion) -> Iterator[str]:
    """Surfaces, panels, igniters and boxes of the file, and its markets."""
    if c.job is None:
        return
    appliance = c.job.appliance
    yield from (one.name for one in appliance.markets)
    yield from (one.igniter for one in appliance.burners)
    space = appliance.space
    if space is not None:
        for each in (space.grates, space.boxes, space.panels):
            yield from (one.name for one in each)


@cache
def _titles() -> tuple[str, ...]:
    return tuple(one.title for one in tables.sources().values())


@cache
def _cited() -> tuple[str, ...]:
    """Every publication of the tables, as they are cited."""
    every = tables.sources().values()
    return tuple(dict.fromkeys(text for one in every for text in (one.cite(), one.title, one.edition)))


def names_of(c: Conversion) -> tuple[str, ...]:
    """What was named by a user or a publication, and addresses of the handbook: no word of it is exchanged."""
    return tuple(
        filter(
            None,
            (
                c.appliance,
                c.model,
                *(text for gas in (c.from_gas, c.to_gas) for text in (gas.title, gas.name, gas.source)),
                c.tolerance_source,
                c.pressure_range_source,
                *(b.name for b in c.burners),
                *_of_geometry(c),
                *(b.coefficient_source for b in c.burners),
                *(f.source for f in c.findings),
                *handbook_addresses(),
                *(one.partition(": ")[2] or one for one in c.sources),
            ),
        )
    )


class WordedText(str):
    """A text in the words of its reader already."""


class EnglishText(WordedText):
    """A text of a paper in another language that stays English, whole: it has no translation."""


@dataclass(frozen=True, slots=True)
class Wording:
    """What turns a text into the words of a reader: in a language whole, or in English whole.

    own : a text in the language, None where any part of it has no translation; in_english : a text in the words of
    a region; marks : whether a text that stays English is marked, on a paper in another language
    """

    own: Callable[[str], str | None]
    english: Callable[[str], str]
    marks: bool

    def __call__(self, text: str) -> str:
        if isinstance(text, WordedText):
            return text
        made = self.own(text)
        return self.in_english(text) if made is None else made

    def in_english(self, text: str) -> str:
        """A text that stays English although it may have a translation."""
        made = self.english(str(text))
        return EnglishText(made) if self.marks else made


class Indivisible:
    """What is read as one, such as a step with its caution: all of it in the language, else English."""


def in_words_of(language: Language, region: str, names: Iterable[str] = ()) -> Wording:
    """What turns a phrase into the words of a reader: of a language, and of a region where the text stays English.

    A plain text, such as a name or a figure, is in no language.
    """
    english = in_terms_of(region, names)
    return Wording(lambda text: language.own_words(text, english), english, bool(language.translations))


def template_words_of(language: Language, region: str) -> Callable[[str], str]:
    """What turns a phrase into the words of a reader and leaves what stands in its places; so plain texts stay.

    >>> words = template_words_of(ENGLISH_LANGUAGE, "eu")
    >>> words(Phrase("an orifice of {maker}", maker="Orifice Works")), words("Orifice Works")
    ('an injector of Orifice Works', 'Orifice Works')
    """

    def english(text: str) -> str:
        if not isinstance(text, Phrase):
            return text
        places_ = {f"{{{place}}}" for place in places(text.template)}
        template = in_terms_of(region, places_)(text.template)
        return filled(template, {name: english(value) for name, value in text.values.items()})

    return lambda text: (language.own_words(text) if language.translations else None) or english(text)


def whole_words_of(c: Conversion, language: Language) -> Wording:
    """What turns a text of a sheet, plain texts too, into the words of its reader; as ``Wording``."""
    english = in_terms_of(c.region, names_of(c))
    if not language.translations:
        return Wording(english, english, marks=False)
    names, known = (*printed_names(c), *language.credits), dict[str, str | None]()

    def own(text: str) -> str | None:
        if text not in known:
            made = language.whole(text, names)
            known[text] = None if made is None else WordedText(made)
        return known[text]

    return Wording(own, english, marks=True)


def caution_words_of(language: Language, region: str) -> Wording:
    """What turns a text of a caution into the words of its reader: by its own translation alone, else English."""
    english = in_terms_of(region)

    def own(text: str) -> str | None:
        made = language.translations.get(text)
        return None if made is None else WordedText(made)

    return Wording(own if language.translations else english, english, bool(language.translations))


def lists_in(c: Conversion, words: Callable[[str], str]) -> Conversion:
    """A conversion whose lists of texts, which stand in one cell of a table, are in the words of a reader."""
    return replace(
        c,
        prompts=tuple(map(words, c.prompts)),
        notes=tuple(map(words, c.notes)),
        sources=tuple(map(words, c.sources)),
    )


def language_of(c: Conversion) -> Language:
    """The language in which the papers of a conversion are read; English of one put together by hand."""
    return ENGLISH_LANGUAGE if c.job is None else c.job.appliance.reader_language


def translator_note(credit: str) -> str:
    """Who answers for the words of a paper in another language, its cautions among them."""
    return Phrase("Translated by {translator}.", translator=credit)


def translation_notes(language: Language) -> tuple[str, ...]:
    """Who translated, each in the language."""
    return tuple(map(in_words_of(language, ""), map(translator_note, language.credits)))


def reworded(value: Any, words: Callable[[str], str], of_cautions: Wording | None = None) -> Any:
    """A sheet, or a part of it, with every text in the words of its reader; keys and verdicts stay.

    A caution, and what else is read as one, is in the language whole, or English whole with its signal word.

    of_cautions : other words of the cautions, whose texts are translated as they stand or not at all
    """
    if type(value) in TEXTS:
        return words(value)
    if isinstance(value, tuple):
        return tuple(reworded(one, words, of_cautions) for one in value)
    if is_dataclass(value) and not isinstance(value, type):
        if of_cautions is not None and isinstance(value, Caution):
            words = of_cautions
        made = _fields_reworded(value, words, of_cautions)
        if isinstance(words, Wording) and isinstance(value, (Caution, Indivisible)) and has_english(made):
            return _fields_reworded(value, words.in_english, None)
        return made
    return value


def _fields_reworded(value: Any, words: Callable[[str], str], of_cautions: Wording | None) -> Any:
    changed = {
        one.name: reworded(getattr(value, one.name), words, of_cautions)
        for one in fields(value)
        if one.init and one.name not in KEYS
    }
    return replace(value, **changed)


def has_english(value: Any) -> bool:
    """Whether any text of a part of a paper stays English on a paper in another language."""
    if is_dataclass(value) and not isinstance(value, type):
        return any(has_english(getattr(value, one.name)) for one in fields(value))
    return isinstance(value, EnglishText)


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
