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
from burnerlab.page.page_language import ATTRIBUTE, in_language
from burnerlab.page.reader_words import NO_BREAK, tied
from burnerlab.page.region_terms import desk_terms
from burnerlab.page.result_text import unbroken, unbroken_html
from burnerlab.report.sheet.terms import printed_names
from burnerlab.tables.catalogue import gas_titles
from burnerlab.tables.languages import ENGLISH, Language
from burnerlab.tables.phrase import Phrase, changed_in_places
from burnerlab.tables.translation import FIGURE, FIGURE_SIGN, FIRST_SIGN, SIGNED_FIGURE, WORD, fixed_figures

REMEMBERED = 5000  # lines: those of six burners on three markets, in several shapes each
WHOLE = "whole "  # before the key of an element, whose lines are remembered too
LINE_AS_IT_WAS = "line "  # before that of a line
BARE = "bare "  # before that of a shape without any figure
STAYS_ENGLISH = f'lang="{ENGLISH}"'
FIRST_TAG = re.compile(r"<\w+(?=[^>]*>)")
DRAWN = r"(?:<(?:path|circle|rect|use|image)\b[^>]*>\s*)+"  # no text stands in these
LINE = re.compile(
    r"<(p|li|td|th|dt|dd|figcaption)\b.*?</\1>|<svg viewBox.*?</svg>", re.DOTALL
)  # translated by itself
GROUPED = rf"{SIGNED_FIGURE.pattern}(?:{NO_BREAK}\d{{3}}(?!\d))*(?!/[a-z])"  # no part of a unit such as 1/s
GROUPED_FIGURE = re.compile(GROUPED)
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
        self._figure = re.compile("".join((named, DRAWN, "|(?<![#&])(?<!k = )", GROUPED)))

    def of(self, answer: DeskAnswer, english: Mapping[str, str]) -> dict[str, str]:
        """The elements of an answer by their ids; english : as they are made for a reader of English"""
        titles = (title for one in answer.fragments for title in one.titles)
        texts = (*answer.texts.values(), *titles)
        phrases = {str(text): text for text in texts if isinstance(text, Phrase)}

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
            lines.append(self._line(hit[0], names, phrases))
            return f"<l {chr(FIRST_LINE + len(lines) - 1)}/>"

        end = html.index(">") + 1  # of its own tag
        made = unbroken_html(self._part(html[:end] + LINE.sub(sign, html[end:]), names, phrases))
        made = FIRST_TAG.sub(lambda tag: f'{tag[0]} lang="{self.language.tag}"', made, count=1)
        return LINES.sub(lambda line: lines[ord(line[1]) - FIRST_LINE], made)

    def _line(self, html: str, names: Names, phrases: Mapping[str, Phrase]) -> str:
        """A line; one that is as it was is not taken apart again."""
        made = self._remembered(LINE_AS_IT_WAS + html)
        if made is None:
            made = unbroken_html(self._part(html, names, phrases))
            self._remember(LINE_AS_IT_WAS + html, made)
        return made

    def _part(self, html: str, names: Names, phrases: Mapping[str, Phrase]) -> str:
        """A line, or an element with a sign in the place of each of its lines.

        Without any figure it is most often one that is known: so it stands where all of it has a translation then.
        With the figures that some text of ours has in its own words it is known less often.
        """
        made = self._in_shape(html, names, phrases, frozenset())
        if made is None:
            made = self._in_shape(html, names, phrases, self._fixed)
        if made is None:  # a figure of it is a part of a name: each print by itself
            made = self._remembered(html) or in_language(html, self.language, names(), self._english, phrases)
            self._remember(html, made)
        return made

    def _in_shape(
        self, html: str, names: Names, phrases: Mapping[str, Phrase], fixed: frozenset[str]
    ) -> str | None:
        """A part by its shape, with its figures in their places; None where it must be translated as it is.

        fixed : figures that stay in the shape; with none of them, what has not a translation whole is None
        """
        figures = list[str]()
        shape = self._shape(html, figures, fixed)
        key = shape if fixed else BARE + shape
        with self._lock:
            is_known = key in self._kept
        made = self._remembered(key)
        if made is None and not is_known:
            own = _phrases_in(shape, figures, phrases, fixed)
            in_shape = own is not None and not any(map(_has_figure, self._other_names(names, html)))
            if own is not None and not fixed:  # an attribute that stays English has no mark
                in_shape &= all(_as_printed(hit[2]) in own for hit in ATTRIBUTE.finditer(shape))
            made = in_language(shape, self.language, names(), self._english, own) if in_shape else None
            if made is not None and not fixed and STAYS_ENGLISH in made:
                made = None
            self._remember(key, made)
        return None if made is None else SIGN.sub(lambda sign: figures[ord(sign[0]) - FIRST_SIGN], made)

    def _english(self, text: str) -> str:
        return left_english(text, self.region, self.names)

    def _other_names(self, names: Names, html: str) -> Iterator[str]:
        """Names in a line whose figures have signs in its shape."""
        return (one for one in names() if one in html and one not in self.names)

    def _shape(self, html: str, figures: list[str], fixed: frozenset[str]) -> str:
        """An element with a sign for each drawing, and for each figure but those that are fixed.

        figures : takes what the signs stand for
        """

        def sign(hit: re.Match[str]) -> str:
            if hit["name"] or _is_fixed(hit[0], fixed) or len(figures) >= MOST_SIGNS:
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


def _is_fixed(figure: str, fixed: frozenset[str]) -> bool:
    return fixed.issuperset(figure.lstrip("+\N{MINUS SIGN}").split(NO_BREAK))


def _has_figure(name: str) -> bool:
    return bool(WORD.search(name)) and FIGURE.search(name) is not None


def _phrases_in(
    shape: str, figures: list[str], phrases: Mapping[str, Phrase], fixed: frozenset[str]
) -> dict[str, Phrase] | None:
    """The phrases of an element by their print in its shape; None where one is not as its parts are."""
    found: dict[str, Phrase] = {}
    texts = (*(hit[0] for hit in TEXT.finditer(shape)), *(hit[2] for hit in ATTRIBUTE.finditer(shape)))
    for text in map(_as_printed, texts):
        phrase = phrases.get(SIGN.sub(lambda sign: figures[ord(sign[0]) - FIRST_SIGN], text))
        if phrase is None:
            continue
        made = _with_signs(phrase, iter(SIGN.findall(text)), fixed)
        if made != text or not isinstance(made, Phrase):
            return None
        found[text] = made
    return found


def _as_printed(html: str) -> str:
    return " ".join(unescape(html).replace(NO_BREAK, " ").split())


def _with_signs(phrase: Phrase, signs: Iterator[str], fixed: frozenset[str]) -> str:
    """A phrase with the signs of its print, in their order, in the places of its figures."""

    def sign(hit: re.Match[str]) -> str:
        return hit[0] if _is_fixed(hit[0], fixed) else next(signs, hit[0])

    def signed(text: str) -> str:
        return GROUPED_FIGURE.sub(sign, unbroken(text)).replace(NO_BREAK, " ")

    return changed_in_places(signed, phrase)


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
