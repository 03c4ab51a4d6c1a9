"""The desk in the language of its file: each sentence whole, or English whole and marked so."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from burnerlab.appliance.memory import Same
from burnerlab.appliance.project.model import REGIONS
from burnerlab.appliance.project.project_text import DIGEST_LENGTH, schema_fields
from burnerlab.gas import fuels
from burnerlab.page.answer_language import left_english
from burnerlab.page.desk_queries import pattern_of
from burnerlab.page.desk_state import Desk, DeskEntry
from burnerlab.page.page_language import in_language, text_in_language
from burnerlab.page.reader_language import Reader
from burnerlab.page.region_terms import desk_terms
from burnerlab.page.render import page
from burnerlab.tables.languages import ENGLISH_LANGUAGE, Language, language
from burnerlab.tables.problem import UserError

AS_WRITTEN = ("desk_handbook",)  # it says of itself what each region calls a thing
TYPED = frozenset(("name", "text", "gas", "file name"))  # kinds of keys that hold what people wrote
PIECES = 100  # remembered
DIGEST = re.compile(rf'(?<=[/="])[0-9a-f]{{{DIGEST_LENGTH}}}(?=[/"&?])')  # of a text, in an address
ENGLISH_TEXTS = "english"  # of an answer: those of its texts that have no translation


@dataclass(frozen=True, slots=True)
class DeskLanguage:
    """What puts the texts of the desk into the language of its reader; nothing is done to them in English.

    names : what people wrote
    region : whose words the English texts have
    """

    language: Language = ENGLISH_LANGUAGE
    names: tuple[str, ...] = ()
    region: str = ""

    @property
    def is_english(self) -> bool:
        return not self.language.translations

    def page(self, name: str, named: tuple[str, ...] = (), /, **values: Any) -> str:
        """A page of the desk; named : what publications, libraries and the file named in the answers on it."""
        if self.is_english:
            made = page(name, **values)
            return made if name in AS_WRITTEN else self.regional(made, *named)
        reader = Reader(region=self.region, language=self.language)
        return page(name, **values, reader=reader, names=(*self.names, *named))

    def regional(self, html: str, *names: str) -> str:
        """English of the desk in the words of the region; names : what publications and libraries named"""
        is_regional = self.is_english and self.region
        return desk_terms(self.region, (*self.names, *names)).page(html) if is_regional else html

    def pieces(self, english: Mapping[str, str]) -> dict[str, str]:
        """Pieces of a page by their ids, made for a reader of English."""
        if self.is_english:
            return {id: self.regional(html) for id, html in english.items()}
        language = Same(self.language)
        return {id: _piece(html, language, self.names, self.region) for id, html in english.items()}

    def answer(self, english: Mapping[str, Any], *names: str) -> dict[str, Any]:
        """An answer for the script, its texts of these names in the language; those that stay English are named.

        >>> es = Language(tag="es", translations={"choose": "elija"})
        >>> DeskLanguage(es).answer({"wrong": {"a": "choose", "b": "say it"}, "digest": "1"}, "wrong")
        {'wrong': {'a': 'elija', 'b': 'say it'}, 'digest': '1', 'english': ['say it']}
        """
        made = dict(english)
        if self.is_english and not self.region:
            return made
        known, left = (*self.names, *fuels()), list[str]()

        def words(text: str) -> str:
            own = None if self.is_english else text_in_language(text, self.language, known)
            if own is not None:
                return own
            made = desk_terms(self.region, self.names).text(text) if self.region else text
            left.append(made)
            return made

        for name in names:
            one = english.get(name, "")
            if isinstance(one, Mapping):
                made[name] = {key: words(text) for key, text in one.items()}
            elif one:
                made[name] = words(one)
        return made if self.is_english else made | {ENGLISH_TEXTS: left}


def _piece(html: str, language: Same, names: tuple[str, ...], region: str) -> str:
    """A piece of a page in a language; one that differs in the digests of its addresses alone is remembered."""
    digests = list(dict.fromkeys(DIGEST.findall(html)))
    shape = DIGEST.sub(lambda hit: f"{digests.index(hit[0]):0{DIGEST_LENGTH}x}", html)
    made = _shape_of_piece(shape, language, names, region)
    return DIGEST.sub(lambda hit: digests[int(hit[0], 16)], made)


@lru_cache(maxsize=PIECES)
def _shape_of_piece(html: str, language: Same, names: tuple[str, ...], region: str) -> str:
    own = language.thing
    assert isinstance(own, Language)

    def english_text(text: str) -> str:
        return left_english(text, region, names)

    return in_language(html, own, (*names, *fuels()), english_text)


def language_of(desk: Desk, entry: DeskEntry, *texts: Mapping[str, str]) -> DeskLanguage:
    """The language of the page of a text: of its file, or English where its table of texts cannot be read.

    texts : values of texts beside it and the newest one, by key, that the page shows
    """
    own, region = _language(desk, entry), _region(entry)
    if not own.translations and not region:
        return DeskLanguage()
    files = (desk.name, desk.record.name if desk.record is not None else "")
    refused = () if desk.refused is None else (desk.refused.behind.before,)
    shown = (one.text.values() for one in (entry, desk.newest_entry, *refused))
    every = [one for values in (*shown, *texts) for one in values.items()]
    typed = [text for key, text in every if pattern_of(key) in _typed_keys()]
    rows = [one for one in _row_names() if one not in own.translations]
    names = [one for one in (*typed, *files, *rows, *_accepted_names(entry)) if one.strip()]
    every_name = tuple(dict.fromkeys((*names, *(one[:1].upper() + one[1:] for one in names))))
    return DeskLanguage(own, every_name, region)


def _region(entry: DeskEntry) -> str:
    """The region that a text names, as far as it is a region."""
    region = entry.text.values().get("appliance.region", "")
    return region if region in REGIONS else ""


def _language(desk: Desk, entry: DeskEntry) -> Language:
    try:
        shown = desk.figures_of(entry)
        if shown is not None and shown.appliance is not None:
            return shown.appliance.reader_language
        values = entry.text.values()
        tag, texts = values.get("appliance.language", ""), values.get("tables.texts", "")
        folder = Path(desk.file).resolve().parent
        path = (folder / texts).resolve()
        return language(tag, path) if tag and texts and path.is_relative_to(folder) else ENGLISH_LANGUAGE
    except (UserError, OSError):
        return ENGLISH_LANGUAGE


def _accepted_names(entry: DeskEntry) -> Iterator[str]:
    """Lists of accepted rows of a table, such as *none* of the altitude policies, typed as they are: each one name."""
    for problem in entry.problems:
        if all(one in _row_names() for one in problem.accepted.split(", ")):
            yield problem.accepted


@cache
def _row_names() -> tuple[str, ...]:
    """Words of the project file that name a region or a row of a table."""
    return (*REGIONS, *dict.fromkeys(one for each in schema_fields() for one in each.proposals))


@cache
def _typed_keys() -> frozenset[str]:
    """The keys that hold what people wrote, by their pattern."""
    return frozenset(one.path for one in schema_fields() if one.kind in TYPED and not one.choices)
