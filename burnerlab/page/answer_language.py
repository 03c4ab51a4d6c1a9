"""Answers of the desk in the language of its reader: what differs in figures alone is not translated again."""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from html import unescape
from threading import Lock

from burnerlab.gas.library import fuels
from burnerlab.orifice.altitude import FULL_RATING, policy_names
from burnerlab.page.desk_answer import DeskAnswer
from burnerlab.page.page_language import in_language
from burnerlab.page.reader_words import NO_BREAK, tied
from burnerlab.page.region_terms import desk_terms
from burnerlab.page.result_text import unbroken_html
from burnerlab.report.sheet.terms import printed_names
from burnerlab.tables.catalogue import gas_titles
from burnerlab.tables.languages import Language
from burnerlab.tables.phrase import Phrase, changed_in_places
from burnerlab.tables.translation import FIGURE, FIGURE_SIGN, FIRST_SIGN, SIGNED_FIGURE, WORD, fixed_figures

REMEMBERED = 5000  # lines: those of six burners on three markets, in several shapes each
WHOLE = "whole "  # before the key of an element, whose lines are remembered too
FIRST_TAG = re.compile(r"<\w+(?=[^>]*>)")
DRAWN = r"(?:<(?:path|circle|rect|use|image)\b[^>]*>\s*)+"  # no text stands in these
LINE = re.compile(
    r"<(p|li|tr|dt|dd|figcaption)\b.*?</\1>|<svg viewBox.*?</svg>", re.DOTALL
)  # translated by itself
SIGN = re.compile(FIGURE_SIGN)
FIRST_LINE = 0x108000  # of the same plane, in an element that no page has: what stands for a line
LINES = re.compile(rf"<l ([{chr(FIRST_LINE)}-\U0010fffd])/>")
MOST_SIGNS = 0x7FFE
Names = Callable[[], tuple[str, ...]]
"""What people, gas libraries and publications named; needed for what is not remembered alone."""
TEXT = re.compile(r"(?<=>)[^<]+")


@dataclass(slots=True)
class AnswerLanguage:
    """Elements of answers in a language. Lines of the last answers are remembered without their figures.

    names : what the file calls its burners, markets, gases and surfaces
    region : whose words the texts have that stay English

    >>> es = Language(tag="es", translations={"all on {share}": "todos {share}"})
    >>> AnswerLanguage(es, ()).element('<p id="a">all on 3 %</p>', tuple, {})
    '<p lang="es" id="a">todos 3\\xa0%</p>'
    """

    language: Language
    names: tuple[str, ...]
    region: str = ""
    _fixed: frozenset[str] = field(init=False)
    _figure: re.Pattern[str] = field(init=False)
    _kept: OrderedDict[str, str | None] = field(default_factory=OrderedDict)
    _lock: Lock = field(default_factory=Lock)

    def __post_init__(self) -> None:
        """Names with a figure in them keep it: they are known by their whole."""
        self._fixed = fixed_figures(self.language.translations)
        own = "|".join(re.escape(one) for one in self.names if WORD.search(one) and re.search(r"\d", one))
        named = rf"(?P<name>(?<![^\W_])(?:{own})(?![^\W_]))|" if own else "(?P<name>(?!))|"
        self._figure = re.compile("".join((named, DRAWN, "|(?<![#&])", SIGNED_FIGURE.pattern)))

    def of(self, answer: DeskAnswer, english: Mapping[str, str]) -> dict[str, str]:
        """The elements of an answer by their ids; english : as they are made for a reader of English"""
        phrases = {str(text): text for text in answer.texts.values() if isinstance(text, Phrase)}

        @cache
        def names() -> tuple[str, ...]:
            return (*self.names, *names_of_answer(answer))

        made: dict[str, str] = {}
        for id, html in english.items():
            own = self._remembered(WHOLE + html)
            made[id] = self.element(html, names, phrases) if own is None else own
            self._remember(WHOLE + html, made[id])
        return made

    def element(self, html: str, names: Names, phrases: Mapping[str, Phrase]) -> str:
        """An element, marked as of the language; what of it has no translation is English, whole, and marked so."""
        lines = list[str]()

        def sign(hit: re.Match[str]) -> str:
            if len(lines) >= MOST_SIGNS:
                return hit[0]
            lines.append(self._part(hit[0], names, phrases))
            return f"<l {chr(FIRST_LINE + len(lines) - 1)}/>"

        end = html.index(">") + 1  # of its own tag
        made = self._part(html[:end] + LINE.sub(sign, html[end:]), names, phrases)
        made = FIRST_TAG.sub(lambda tag: f'{tag[0]} lang="{self.language.tag}"', made, count=1)
        return unbroken_html(LINES.sub(lambda line: lines[ord(line[1]) - FIRST_LINE], made))

    def _part(self, html: str, names: Names, phrases: Mapping[str, Phrase]) -> str:
        """A line, or an element with a sign in the place of each of its lines."""
        figures = list[str]()
        shape = self._shape(html, figures)
        made = self._remembered(shape)
        if made is None:
            own = _phrases_in(shape, figures, phrases, self._fixed)
            in_shape = own is not None and not any(map(_has_figure, self._other_names(names, html)))
            made = in_language(shape, self.language, names(), self._english, own) if in_shape else None
            self._remember(shape, made)
        if made is None:  # a figure of it is a part of a name: each print by itself
            made = self._remembered(html) or in_language(html, self.language, names(), self._english, phrases)
            self._remember(html, made)
        return SIGN.sub(lambda sign: figures[ord(sign[0]) - FIRST_SIGN], made)

    def _english(self, text: str) -> str:
        return left_english(text, self.region, self.names)

    def _other_names(self, names: Names, html: str) -> Iterator[str]:
        """Names in a line whose figures have signs in its shape."""
        return (one for one in names() if one in html and one not in self.names)

    def _shape(self, html: str, figures: list[str]) -> str:
        """An element with a sign for each drawing, and for each figure that is no word of a translated text.

        figures : takes what the signs stand for
        """

        def sign(hit: re.Match[str]) -> str:
            if hit["name"] or hit[0].lstrip("+\N{MINUS SIGN}") in self._fixed or len(figures) >= MOST_SIGNS:
                return hit[0]
            figures.append(hit[0])
            return chr(FIRST_SIGN + len(figures) - 1)

        return self._figure.sub(sign, html)

    def _remembered(self, key: str) -> str | None:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def _remember(self, key: str, made: str | None) -> None:
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > REMEMBERED:
                self._kept.popitem(last=False)


def left_english(text: str, region: str, names: tuple[str, ...]) -> str:
    """A text of a page in another language that stays English, in the words of a region; names : what people wrote

    >>> left_english("an orifice of 3 mm", "eu", ()).replace(NO_BREAK, "~")
    'an injector of 3~mm'
    """
    return tied(desk_terms(region, names).page(text) if region else text)


def _has_figure(name: str) -> bool:
    return bool(WORD.search(name)) and FIGURE.search(name) is not None


def _phrases_in(
    shape: str, figures: list[str], phrases: Mapping[str, Phrase], fixed: frozenset[str]
) -> dict[str, Phrase] | None:
    """The phrases of an element by their print in its shape; None where one is not as its parts are."""
    found: dict[str, Phrase] = {}
    for hit in TEXT.finditer(shape):
        text = " ".join(unescape(hit[0]).replace(NO_BREAK, " ").split())
        phrase = phrases.get(SIGN.sub(lambda sign: figures[ord(sign[0]) - FIRST_SIGN], text))
        if phrase is None:
            continue
        made = _with_signs(phrase, iter(SIGN.findall(text)), fixed)
        if made != text or not isinstance(made, Phrase):
            return None
        found[text] = made
    return found


def _with_signs(phrase: Phrase, signs: Iterator[str], fixed: frozenset[str]) -> str:
    """A phrase with the signs of its print, in their order, in the places of its figures."""

    def sign(hit: re.Match[str]) -> str:
        return hit[0] if hit[0].lstrip("+\N{MINUS SIGN}") in fixed else next(signs, hit[0])

    return changed_in_places(lambda text: SIGNED_FIGURE.sub(sign, text), phrase)


def names_of_answer(answer: DeskAnswer) -> tuple[str, ...]:
    """What a gas library, a publication or a stock of drills named, and the altitude rules as the file names them."""
    every = (text for market in answer.markets for c in market.conversions for text in printed_names(c))
    rows = (row for m in answer.markets for c in m.conversions if c.altitude for row in c.altitude.rows)
    rules = (*policy_names(), *(row.policy for row in rows))
    own = (*fuels(), *(one for one in rules if one != FULL_RATING), *every)
    titles = _gas_titles()
    return tuple(one for one in dict.fromkeys(own) if one not in titles)


@cache
def _gas_titles() -> frozenset[str]:
    return frozenset(gas_titles())
