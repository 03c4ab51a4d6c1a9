"""A text of the program as it is printed, in another language: traced to the templates that it was made from."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from burnerlab.tables.phrase import PLACE, Phrase, filled, has_words, pattern

UNITS = (
    r"(?:k?W|k?Btu|m?bar|[kM]?Pa|in|psig?|[mck]?m|MJ|ft|in w\.c\.|L|[mk]?g|lb|oz|s|min|h|ppm|K|yd|inHg|"
    r"m3|ft3|mm2|m2|in2|km|um|thou|barg|W/mm2|[mck]?m[²³]|ft[²³]|in²|mol|hPa|mmHg|kWh)"
)
FIGURES = re.compile(rf"(?<![^\W_])in w\.c\.|(?<![^\W_]){UNITS}(?:/{UNITS})*(?![^\W_])")
WORD = re.compile(r"[^\W\d_²³]{2,}")
CODE = re.compile(
    r"(?<![^\W_])(?=[A-Z\d]*\d)[A-Z\d]{2,}(?![^\W_])|https?://\S+|(?<!\S)\w+_\w+|[\w-]+#[\w-]+|"
    r"(?<![^\W_])(?=[a-f]*\d)[a-f\d]{7,64}(?![^\W_])|(?<=:\d\d )UTC\b"
)  # G20, ISO6976, p_ambient, burner#lift, an entry of the record, a moment
ENDS = re.compile(r"^(.*?)([.:;,!?\N{HORIZONTAL ELLIPSIS}]+)$", re.DOTALL)
BRACKETS = (
    re.compile(r"^(.*?)( ?[(\[])([^()\[\]]*)([)\]])(.*)$", re.DOTALL),  # the first, and the last
    re.compile(r"^(.*)( ?[(\[])([^()\[\]]*)([)\]])(.*)$", re.DOTALL),
)
BESIDE_PLACE = re.compile(r"([^\W\d_]+)(?=\{\w+\})|(?<=\})([^\W\d_]+)")
SEPARATORS = (". ", "; ", ": ", ", ", " \N{MIDDLE DOT} ", " / ", " \N{EN DASH} ")
MOST_DEPTH = 12
MOST_COMMAS, LONGEST_LABEL = 4, 80  # of the label of a figure
FIRST_MARK = 0xE000  # of the private use area of Unicode: a sign that no text has
CLAUSE = re.compile(r"\{(\w+)\}(?=\{(\w+)\})|(?<=[)%])\{(\w+)\}")
MARK = re.compile(r"[\ue000-\uf8ff]")
MOST_MARKS = 6400  # in that area
FIGURE = re.compile(r"(?<![\w.,:])(?>\d+(?:[.,]\d+)*)(?![\w:])")  # no part of a code or a moment
FIRST_SIGN = (
    0x100000  # of the sixteenth plane, for private use: signs that a page has in the place of its figures
)
FIGURE_SIGN = rf"[{chr(FIRST_SIGN)}-\U00107ffd]"
SIGNED_FIGURE = re.compile(rf"(?<![+\N{{MINUS SIGN}}])[+\N{{MINUS SIGN}}]?{FIGURE.pattern}")
ANY_FIGURE = re.compile(f"{FIGURE_SIGN}|{FIGURE.pattern}")


@dataclass(slots=True)
class Translation:
    """What turns printed English into another language: whole, or not at all.

    translations : by English template; names : what a user, a gas library or a publication chose, kept as it is

    >>> es = Translation({"set {pressure}": "ajustar a {pressure}", "not evaluated": "no evaluado"}, ["ring"])
    >>> es.of("set 29 mbar; not evaluated"), es.of("ring: Set 29 mbar."), es.of("set it by eye; not evaluated")
    ('ajustar a 29 mbar; no evaluado', 'ring: Ajustar a 29 mbar.', None)
    """

    translations: Mapping[str, str]
    names: Iterable[str] = ()
    _known: dict[str, str] = field(default_factory=dict, init=False)
    _without: dict[str, int] = field(default_factory=dict, init=False)  # no translation, at this depth
    _templates: list[tuple[tuple[str, ...], str]] = field(default_factory=list, init=False)
    _by_word: dict[str, list[int]] = field(default_factory=dict, init=False)  # places of templates with it
    _vocabulary: set[str] = field(default_factory=set, init=False)
    _beside_places: set[str] = field(
        default_factory=set, init=False
    )  # parts of words that a place goes on with
    _fixed_figures: frozenset[str] = field(default=frozenset(), init=False)
    _made: dict[str, str] = field(default_factory=dict, init=False)  # with those without their clauses
    _own: list[str] = field(default_factory=list, init=False)
    _titles: set[str] = field(default_factory=set, init=False)  # names that the table may translate

    def __post_init__(self) -> None:
        shorter = (pair for each in self.translations.items() for pair in _without_clauses(*each))
        self._made = {**dict(shorter), **self.translations}
        with_places = [one for one in self._made if PLACE.search(one) and has_words(one)]
        with_places.sort(key=lambda template: len(PLACE.sub("", template)), reverse=True)
        self._templates = [(tuple(PLACE.split(one)[::2]), one) for one in with_places]
        for place, template in enumerate(with_places):
            self._by_word.setdefault(_longest_word(template), []).append(place)
        self._fixed_figures = fixed_figures(self._made)
        for template in self.translations:
            self._vocabulary.update(word.lower() for word in WORD.findall(PLACE.sub(" ", template)))
            self._beside_places.update(hit[1] or hit[2] for hit in BESIDE_PLACE.finditer(template.lower()))
        self._titles = {str(one) for one in self.names if isinstance(one, Phrase) and " " in one}
        self._own = sorted({one for one in self.names if WORD.search(one)}, key=len, reverse=True)

    def of(self, text: str) -> str | None:
        """A text in the language, figures, units and names as they are; None where any word has no translation.

        A name that is a phrase, such as the title of a gas of ours, has its translation where the table has it.
        """
        if text in self._own and (text not in self._titles):
            return text
        if (own := self.translations.get(text)) is not None:
            return own
        bare, kept = text.replace("\u00a0", " "), list[str]()
        named = self._with_names_marked(bare, kept)
        made = self._of(self._with_figures_marked(named, kept), MOST_DEPTH)
        if made is not None:
            return MARK.sub(lambda hit: kept[ord(hit[0]) - FIRST_MARK], made)
        return self._of(text, MOST_DEPTH) if named != bare else None

    def _with_names_marked(self, text: str, kept: list[str]) -> str:
        """A text with one sign in the place of each name; kept : takes the names as they are printed"""
        known = [one for one in self._own if one in text]
        if not known:
            return text
        named = re.compile("|".join(rf"(?<![^\W_]){re.escape(one)}(?![^\W_])" for one in known))

        def mark(hit: re.Match[str]) -> str:
            kept.append(self.translations.get(hit[0], hit[0]) if hit[0] in self._titles else hit[0])
            return chr(FIRST_MARK + len(kept) - 1)

        return named.sub(mark, text)

    def _with_figures_marked(self, text: str, kept: list[str]) -> str:
        """A text with one sign in the place of each figure that no template has in its own words.

        Such a figure stands in a place of a template, so that texts which differ in figures alone are one text here.
        """

        def mark(hit: re.Match[str]) -> str:
            if hit[0] in self._fixed_figures or len(kept) >= MOST_MARKS:
                return hit[0]
            kept.append(hit[0])
            return chr(FIRST_MARK + len(kept) - 1)

        return ANY_FIGURE.sub(mark, text)

    def _of(self, text: str, depth: int) -> str | None:
        if text in self._known:
            return self._known[text]
        if depth <= self._without.get(text, 0):
            return None
        made = next(self._ways(text, depth), None)
        if made is None:
            self._without[text] = depth
        else:
            self._known[text] = made
        return made

    def _ways(self, text: str, depth: int) -> Iterator[str]:
        """The translations of a text, the one that leaves least to other templates first."""
        words = _words(text)
        if not words:
            yield text
            return
        if not all(map(self._is_known, words)):  # else every way is tried in vain
            return
        bare = text.strip()
        if bare != text:
            made = self._of(bare, depth)
            if made is not None:
                start = len(text) - len(text.lstrip())
                yield text[:start] + made + text[start + len(bare) :]
            return
        if (own := self.translations.get(text)) is not None:
            yield own
        yield from self._by_template(text, depth)
        yield from self._begun_small(text, depth)
        yield from self._in_parts(text, depth)

    def _by_template(self, text: str, depth: int) -> Iterator[str]:
        """A text by each template that made it, those last of which a place would hold their own fixed words again."""
        loose = list[tuple[str, dict[str, str]]]()
        for chunks, template in self._with_words_of(text):
            if not _has_in_order(text, chunks) or not (hit := pattern(template).fullmatch(text)):
                continue
            values = hit.groupdict()
            if any(WORD.search(chunk) and chunk in value for chunk in chunks for value in values.values()):
                loose.append((template, values))
            elif (made := self._filled(template, values, depth)) is not None:
                yield made
        for template, values in loose:
            if (made := self._filled(template, values, depth)) is not None:
                yield made

    def _filled(self, template: str, values: Mapping[str, str], depth: int) -> str | None:
        parts = self._all(values.values(), depth - 1)
        return None if parts is None else filled(self._made[template], dict(zip(values, parts, strict=True)))

    def _all(self, texts: Iterable[str], depth: int) -> list[str] | None:
        """The translations of all texts; None where one has none, the others untried."""
        made = list[str]()
        for text in texts:
            own = self._of(text, depth)
            if own is None:
                return None
            made.append(own)
        return made

    def _begun_small(self, text: str, depth: int) -> Iterator[str]:
        """A sentence made of a text by a capital; a text that goes on in small letters what is a sentence elsewhere."""
        capital = self.translations.get(text[:1].upper() + text[1:])
        if text[:1].islower() and capital is not None:
            yield capital[:1].lower() + capital[1:]
        if text[:1].isupper() and not text[1:2].isupper():
            made = self._of(text[:1].lower() + text[1:], depth - 1)
            if made is not None:
                yield made[:1].upper() + made[1:]

    def _in_parts(self, text: str, depth: int) -> Iterator[str]:
        """A text put together of others by signs alone."""
        if (hit := ENDS.match(text)) and hit[1]:
            made = self._of(hit[1], depth - 1)
            if made is not None:
                yield made + hit[2]
        for separator in SEPARATORS:
            if separator in text:
                parts = self._all(text.split(separator), depth - 1)
                if parts is not None:
                    yield separator.join(parts)
                parts = self._all(text.split(separator, 1), depth - 1)
                if parts is not None:
                    yield separator.join(parts)
        for mark in (". ", ": ", "; "):  # the part before it with its own sign, and the last part by itself
            for at in sorted({text.find(mark), text.rfind(mark)} - {-1}):
                parts = self._all((text[: at + 1], text[at + 2 :]), depth - 1)
                if parts is not None:
                    yield " ".join(parts)
        yield from self._before_the_end(text, depth)
        yield from self._beside_figures(text, depth)
        yield from self._with_brackets(text, depth)

    def _with_brackets(self, text: str, depth: int) -> Iterator[str]:
        """What stands before brackets, in them and behind them."""
        for brackets in BRACKETS if "(" in text or "[" in text else ():
            if hit := brackets.match(text):
                parts = self._all((hit[1], hit[3], hit[5]), depth - 1)
                if parts is not None:
                    yield f"{parts[0]}{hit[2]}{parts[1]}{hit[4]}{parts[2]}"

    def _before_the_end(self, text: str, depth: int) -> Iterator[str]:
        """A short text with a last word of its own behind a comma: the label of one end of a band."""
        if 1 < text.count(", ") <= MOST_COMMAS and len(text) <= LONGEST_LABEL:
            parts = self._all(text.rsplit(", ", 1), depth - 1)
            if parts is not None:
                yield ", ".join(parts)

    def _beside_figures(self, text: str, depth: int) -> Iterator[str]:
        """Words behind a figure or a name, or before it, the longest such part first."""
        bare = _without_units(text)
        words = [hit.span() for hit in WORD.finditer(bare)]
        if not words:
            return
        first, last = words[0][0], words[-1][1]
        for at in reversed([place for place, sign in enumerate(text) if sign == " "]):
            if first < at < last:
                continue
            own, rest = (text[:at], text[at + 1 :]) if at < first else (text[at + 1 :], text[:at])
            made = self._of(rest, depth - 1)
            if made is not None:
                yield f"{own} {made}" if at < first else f"{made} {own}"
                return

    def _with_words_of(self, text: str) -> list[tuple[tuple[str, ...], str]]:
        """The templates whose longest word stands in a text, and those without one, the longest first."""
        words = dict.fromkeys(("", *(word.lower() for word in WORD.findall(text))))
        places = sorted(place for word in words for place in self._by_word.get(word, ()))
        return [self._templates[place] for place in places]

    def _is_known(self, word: str) -> bool:
        """Whether some English text has the word, or a part of it beside a place: else no text of it is translated."""
        low = word.lower()
        return low in self._vocabulary or any(part in low for part in self._beside_places)


def fixed_figures(templates: Iterable[str]) -> frozenset[str]:
    """The figures that templates have in their own words.

    >>> fixed_figures(["one of 2 holes", "{count} holes of {bore}"])
    frozenset({'2'})
    """
    return frozenset(hit for one in templates for hit in FIGURE.findall(PLACE.sub(" ", one)))


def _has_in_order(text: str, chunks: tuple[str, ...]) -> bool:
    """Whether a text begins and ends as a template and holds its words in their order: a long text is soon refused.

    >>> _has_in_order("set 29 mbar now", ("set ", " now")), _has_in_order("now set", ("set ", " now"))
    (True, False)
    """
    if not (text.startswith(chunks[0]) and text.endswith(chunks[-1])):
        return False
    at = 0
    for chunk in chunks:
        at = text.find(chunk, at) + len(chunk)
        if at < len(chunk):
            return False
    return True


def _words(text: str) -> list[str]:
    """The words of a text that are no code or unit."""
    return WORD.findall(_without_units(text))


@lru_cache(maxsize=4096)
def _without_units(text: str) -> str:
    """A text of the same length with blanks in the place of each code and unit."""
    for kept in (CODE, FIGURES):
        text = kept.sub(lambda hit: " " * len(hit[0]), text)
    return text


def _without_clauses(english: str, translated: str) -> Iterator[tuple[str, str]]:
    """A template and its translation without a place that may be empty: one beside another, or behind a bracket.

    >>> list(_without_clauses("{share} % off {rating}{measured}", "{share} % de {rating}{measured}"))
    [('{share} % off {measured}', '{share} % de {measured}'), ('{share} % off {rating}', '{share} % de {rating}')]
    """
    for hit in CLAUSE.finditer(english):
        for place in filter(None, hit.groups()):
            if english.count(f"{{{place}}}") == 1:
                yield english.replace(f"{{{place}}}", ""), translated.replace(f"{{{place}}}", "")


def _longest_word(template: str) -> str:
    """The longest word of a template that no place goes on with; "" where there is none.

    >>> _longest_word("set {pressure} before the orifice{s}"), _longest_word("{a} to{b}")
    ('before', '')
    """
    bare = PLACE.sub(" ", BESIDE_PLACE.sub(" ", template))
    return max(WORD.findall(bare), key=len, default="").lower()
