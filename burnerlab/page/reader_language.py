"""STOP notices and cautions of the bench in the language of its reader: each whole, or in English whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from jinja2 import pass_context
from jinja2.runtime import Context

from burnerlab.bench.stop import StopNotice, stop_rows
from burnerlab.gas import fuels
from burnerlab.page.reader_words import tied
from burnerlab.page.result_text import in_units
from burnerlab.quantity import System
from burnerlab.report.sheet.terms import translation_notes
from burnerlab.tables.cautions import ALWAYS, Caution
from burnerlab.tables.languages import ENGLISH, ENGLISH_LANGUAGE, Language
from burnerlab.tables.phrase import Phrase, applied, filled, has_words, pattern

NAMES = frozenset(("gas", "burner"))  # places of what the user or the gas library named


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """Whose words a page has."""

    region: str = ""
    language: Language = ENGLISH_LANGUAGE

    @property
    def translators(self) -> tuple[str, ...]:
        """Who answers for the words of the language."""
        return translation_notes(self.language)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderText:
    """A stop or a caution as a page prints it."""

    lang: str = ""  # its language where the page may be in another
    signal: str
    heading: str = ""
    do_first: str = ""
    then: str = ""
    line: str = ""  # of a caution, without its signal word
    text: str = ""

    @property
    def is_translated(self) -> bool:
        return self.lang not in ("", ENGLISH)


def stop_text(
    notice: StopNotice, system: System, language: Language, names: tuple[str, ...] = ()
) -> ReaderText:
    """A stop in the language, or in English where any of its sentences, the closing one among them, has no translation.

    names : of burners, which stand in its cause

    >>> from burnerlab.bench.stop import stop_notice
    >>> stop_text(stop_notice("soot"), "metric", ENGLISH_LANGUAGE).heading
    'STOP. Soot: incomplete combustion, CO likely.'
    """
    change = partial(in_units, system=system)
    row: Mapping[str, str] = stop_rows().get(notice.id, {})
    texts = {name: getattr(notice, name) for name in ("heading", "do_first", "then")}
    phrases = [applied(change, _phrase(text, row.get(name, ""))) for name, text in texts.items()]
    is_known = all(isinstance(one, Phrase) for one in phrases)
    made = _words(language, (Phrase(notice.signal), ALWAYS, *phrases), names) if is_known else ()
    if not made:
        english = {name: change(text) for name, text in texts.items()}
        return ReaderText(lang=_english(language), signal=notice.signal, **english)
    signal, _, heading, do_first, then = made
    return ReaderText(lang=language.tag, signal=signal, heading=heading, do_first=do_first, then=then)


def caution_text(notice: Caution, language: Language) -> ReaderText:
    """A caution in the language, or in English where any of its sentences has no translation.

    >>> from burnerlab.tables.cautions import caution
    >>> caution_text(caution("hot-surface"), ENGLISH_LANGUAGE).line
    'Hot parts burn skin. Let them cool; measure, do not rely on estimates.'
    """
    made = _words(language, (notice.word, notice.short, notice.hazard, notice.consequence, notice.avoidance))
    if not made:
        return ReaderText(lang=_english(language), signal=notice.signal, line=notice.short, text=notice.text)
    return ReaderText(lang=language.tag, signal=made[0], line=made[1], text=" ".join(made[2:]))


def _english(language: Language) -> str:
    """What marks a text that stays English on a page of this language."""
    return ENGLISH if language.translations else ""


def _words(language: Language, texts: Sequence[str], names: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Texts in the language, their figures tied to their units; none where any of them is not translated whole."""
    made = [_whole(language, one, names) for one in texts]
    return () if None in made else tuple(tied(one or "") for one in made)


def _whole(language: Language, text: str, names: tuple[str, ...]) -> str | None:
    """A phrase with all that stands in its places, or a text; what a user or the gas library named stays."""
    if not isinstance(text, Phrase):
        return language.whole(text, names)
    template = language.translations.get(text.template, "" if has_words(text.template) else text.template)
    values = {
        name: _whole(language, value, names) or (value if name in NAMES or not value else None)
        for name, value in text.values.items()
    }
    if not template or None in values.values():
        return None
    return filled(template, {name: value or "" for name, value in values.items()})


def _phrase(text: str, template: str) -> str:
    """A text of a stop, as record or bench hold it, as the phrase that made it; any other as it is."""
    hit = pattern(template).fullmatch(text)
    return text if hit is None else Phrase(template, **hit.groupdict())


def _language(context: Context) -> Language:
    reader = context.get("reader")
    return reader.language if isinstance(reader, Reader) else ENGLISH_LANGUAGE


def _names(context: Context) -> tuple[str, ...]:
    """What the files of the bench call their burners, and the library its gases, in the causes of a stop."""
    return (*context.get("names", ()), *fuels())


@pass_context
def stop_of_page(context: Context, notice: StopNotice, system: System) -> ReaderText:
    """Of a template: ``stop_text`` in the language of the page."""
    return stop_text(notice, system, _language(context), _names(context))


@pass_context
def caution_of_page(context: Context, notice: Caution) -> ReaderText:
    """Of a template: ``caution_text`` in the language of the page."""
    return caution_text(notice, _language(context))


@pass_context
def closing_of_page(
    context: Context, notices: Sequence[StopNotice], system: System
) -> tuple[ReaderText, ...]:
    """Of a template: the sentence that closes stops, once: in the language where one of them is in it, else English."""
    language, names = _language(context), _names(context)
    tags = {stop_text(one, system, language, names).lang for one in notices}
    if language.tag in tags and language.translations:
        return (ReaderText(lang=language.tag, signal="", text=language.words(ALWAYS)),)
    return tuple(ReaderText(lang=tag, signal="", text=str(ALWAYS)) for tag in tags)
