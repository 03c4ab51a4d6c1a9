"""Answers of the desk in the language of its reader: an element that is the same again is not translated again."""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from threading import Lock

from burnerlab.gas.library import fuels
from burnerlab.page.desk_answer import DeskAnswer
from burnerlab.page.page_language import in_language
from burnerlab.page.reader_words import tied
from burnerlab.report.sheet.terms import printed_names
from burnerlab.tables.catalogue import gas_titles
from burnerlab.tables.languages import Language
from burnerlab.tables.phrase import Phrase

REMEMBERED = 600  # elements: some answers to six burners on three markets
FIRST_TAG = re.compile(r"<\w+(?=[^>]*>)")


@dataclass(slots=True)
class AnswerLanguage:
    """Elements of answers in a language, those of the last answers remembered.

    >>> es = Language(tag="es", translations={"all on {share}": "todos {share}"})
    >>> AnswerLanguage(es).elements({"a": '<p id="a">all on 3 %</p>'}, ())
    {'a': '<p lang="es" id="a">todos 3\\xa0%</p>'}
    """

    language: Language
    _kept: OrderedDict[tuple[str, tuple[str, ...]], str] = field(default_factory=OrderedDict)
    _lock: Lock = field(default_factory=Lock)

    def of(self, answer: DeskAnswer, english: Mapping[str, str], names: Iterable[str]) -> dict[str, str]:
        """The elements of an answer.

        english : as they are made for a reader of English; names : of the file
        """
        phrases = {str(text): text for text in answer.texts.values() if isinstance(text, Phrase)}
        return self.elements(english, (*names, *_names_of(answer)), phrases)

    def elements(
        self, english: Mapping[str, str], names: Iterable[str], phrases: Mapping[str, Phrase] | None = None
    ) -> dict[str, str]:
        """Elements, each marked as of the language; what of it has no translation is English, whole, and marked so."""
        page = "\n".join(english.values())
        own = tuple(dict.fromkeys(one for one in names if one and one in page))
        return {id: self._element(html, own, phrases or {}) for id, html in english.items()}

    def _element(self, html: str, names: tuple[str, ...], phrases: Mapping[str, Phrase]) -> str:
        key = html, tuple(one for one in names if one in html)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        made = in_language(html, self.language, key[1], tied, phrases)
        made = FIRST_TAG.sub(lambda tag: f'{tag[0]} lang="{self.language.tag}"', made, count=1)
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > REMEMBERED:
                self._kept.popitem(last=False)
        return made


def _names_of(answer: DeskAnswer) -> tuple[str, ...]:
    """What a gas library, a publication or a stock of drills named, and the altitude rules as the file names them."""
    every = dict.fromkeys(
        text for market in answer.markets for c in market.conversions for text in printed_names(c)
    )
    rules = (
        row.policy for m in answer.markets for c in m.conversions if c.altitude for row in c.altitude.rows
    )
    return (*fuels(), *rules, *(text for text in every if text not in gas_titles()))
