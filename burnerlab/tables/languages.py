"""The words of a reader's language: rows of a table of texts that a person of the trade has translated."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from burnerlab.tables.phrase import Phrase, filled, has_words
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.reader import OF_CAUTIONS, cache_by_file, read, rows
from burnerlab.tables.translation import Translation

ENGLISH = "en"
MOST_NAMES = 8  # sets of names whose translations are remembered


@dataclass(frozen=True, slots=True, kw_only=True)
class Language:
    """Translations by their English template; a text that has none stays English, whole.

    >>> es = Language(tag="es", translations={"set {pressure}": "ajustar a {pressure}"})
    >>> es.words(Phrase("set {pressure}", pressure="29 mbar")), es.words(Phrase("not evaluated"))
    ('ajustar a 29 mbar', 'not evaluated')
    """

    tag: str = ENGLISH
    translations: Mapping[str, str] = field(default_factory=dict)
    credits: tuple[str, ...] = ()  # who translated, and from what
    _by_names: dict[tuple[str, ...], Translation] = field(default_factory=dict, compare=False, repr=False)

    def whole(self, text: str, names: tuple[str, ...] = ()) -> str | None:
        """A text as it is printed in this language; None where any word of it, its names apart, has no translation.

        >>> Language(tag="es", translations={"as read": "leído"}).whole("ring: As read, 3 kW", ("ring",))
        'ring: Leído, 3 kW'
        """
        if not self.translations:
            return None
        if names not in self._by_names:
            if len(self._by_names) >= MOST_NAMES:
                self._by_names.clear()
            self._by_names[names] = Translation(self.translations, names)
        made = self._filled(text, names) if isinstance(text, Phrase) else None
        return self._by_names[names].of(str(text)) if made is None else made

    def _filled(self, phrase: Phrase, names: tuple[str, ...]) -> str | None:
        """A phrase by its own template, with what stands in its places; None where a part has no translation."""
        template = self.translations.get(phrase.template)
        if template is None:
            if has_words(phrase.template):
                return None
            template = phrase.template
        values = {name: self.whole(value, names) if value else "" for name, value in phrase.values.items()}
        if None in values.values():
            return None
        return filled(template, {name: value or "" for name, value in values.items()})

    def words(self, text: str, english: Callable[[str], str] = str) -> str:
        """A phrase in this language, whole; one of which any part has no translation as ``english`` has it.

        A plain text within a translated phrase, such as a name or a figure, stays as it is.

        >>> es = Language(tag="es", translations={"set {pressure}, {more}": "ajustar a {pressure}, {more}"})
        >>> es.words(Phrase("set {pressure}, {more}", pressure="29 mbar", more=Phrase("by eye")))
        'set 29 mbar, by eye'
        """
        made = self.own_words(text, english)
        return english(str(text)) if made is None else made

    def own_words(self, text: str, english: Callable[[str], str] = str) -> str | None:
        """A phrase in this language; None where any phrase in it has no translation.

        english : of plain texts that stand alone, or are joined by signs
        """
        if not isinstance(text, Phrase) or not self.translations:
            return english(str(text))
        template = self.translations.get(text.template)
        if template is None and has_words(text.template):
            return None
        beside = english if template is None else str
        values = {name: self.own_words(value, beside) for name, value in text.values.items()}
        if None in values.values():
            return None
        return filled(template or text.template, {name: value or "" for name, value in values.items()})


ENGLISH_LANGUAGE = Language()


@cache_by_file
def language(tag: str, own: Path | None = None) -> Language:
    """The language of a tag with the texts of a user's table; English needs none.

    Of a caution or a stop either all sentences are translated or none is printed in the language.
    Raises UserError for a table that is wrong, and for a language of which it has no translation.

    >>> language("en").translations, language("").tag
    ({}, 'en')
    """
    if tag in ("", ENGLISH):
        return ENGLISH_LANGUAGE
    own_rows = () if own is None else [row for row in read("texts", own) if row["translation"]]
    made = {row["english"]: row["translation"] for row in own_rows if row["language"] == tag}
    if not made:
        known = ", ".join(sorted({row["language"] for row in own_rows} | {ENGLISH}))
        fix = (
            f'name a table with translations: [tables] texts = "texts.csv"; write one: {WRITE_IT.format(tag)}'
        )
        raise UserError(Problem("no texts of that language", tag, "language", accepted=known, fix=fix))
    for name, columns in OF_CAUTIONS.items():
        for row in rows(name):
            if any(row[column] not in made for column in columns):
                made = {
                    english: text for english, text in made.items() if english not in _parts(row, columns)
                }
    named = dict.fromkeys(
        f"{row['translator']}, {row['source']}"
        for row in own_rows
        if row["language"] == tag and row["english"] in made
    )
    return Language(tag=tag, translations=made, credits=tuple(named))


WRITE_IT = "burnerlab tables --texts texts.csv --language {}"


def _parts(row: Mapping[str, str], columns: tuple[str, ...]) -> frozenset[str]:
    return frozenset(row[column] for column in columns)
