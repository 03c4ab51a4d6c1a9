"""A text of the program as it is printed, in another language: traced to the templates that it was made from."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from burnerlab.tables.phrase import PLACE, filled, has_words, pattern

UNITS = (
    r"(?:k?W|k?Btu|m?bar|[kM]?Pa|in|psig?|[mck]?m|MJ|ft|in w\.c\.|L|[mk]?g|lb|oz|s|min|h|ppm|K|yd|inHg|"
    r"m3|ft3|mm2|m2|in2|km|W/mm2)"
)
FIGURES = re.compile(rf"(?<![^\W_])in w\.c\.|(?<![^\W_]){UNITS}(?:/{UNITS})*(?![^\W_])")
WORD = re.compile(r"[^\W\d_]{2,}")
CODE = re.compile(r"(?<![^\W_])(?=[A-Z\d]*\d)[A-Z\d]{2,}(?![^\W_])|https?://\S+")  # G20, ISO6976
ENDS = re.compile(r"^(.*?)([.:;,!?\N{HORIZONTAL ELLIPSIS}]+)$", re.DOTALL)
BRACKETS = re.compile(r"^(.*?)( ?)\(([^()]*)\)(.*)$", re.DOTALL)
SEPARATORS = (". ", "; ", ": ", ", ", " \N{MIDDLE DOT} ", " / ", " \N{EN DASH} ")
MOST_DEPTH = 12


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
    _known: dict[str, str | None] = field(default_factory=dict, init=False)
    _templates: list[tuple[str, str]] = field(default_factory=list, init=False)
    _keep: re.Pattern[str] = field(default=FIGURES, init=False)

    def __post_init__(self) -> None:
        with_places = [one for one in self.translations if PLACE.search(one) and has_words(one)]
        with_places.sort(key=lambda template: len(PLACE.sub("", template)), reverse=True)
        self._templates = [(max(PLACE.split(one)[::2], key=len), one) for one in with_places]
        own = sorted({one for one in self.names if WORD.search(one)}, key=len, reverse=True)
        self._keep = re.compile("|".join(rf"(?<![^\W_]){re.escape(one)}(?![^\W_])" for one in own) or r"(?!)")

    def of(self, text: str) -> str | None:
        """A text in the language, figures, units and names as they are; None where any word has no translation."""
        return self._of(text, MOST_DEPTH)

    def _of(self, text: str, depth: int) -> str | None:
        if text in self._known:
            return self._known[text]
        made = next(self._ways(text, depth), None) if depth else None
        self._known[text] = made
        return made

    def _ways(self, text: str, depth: int) -> Iterator[str]:
        """The translations of a text, the one that leaves least to other templates first."""
        if not self._has_words(text):
            yield text
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
        for chunk, template in self._templates:
            if chunk in text and (hit := pattern(template).fullmatch(text)):
                values = {name: self._of(value, depth - 1) for name, value in hit.groupdict().items()}
                if None not in values.values():
                    yield filled(
                        self.translations[template], {name: value or "" for name, value in values.items()}
                    )
        yield from self._begun_small(text, depth)
        yield from self._in_parts(text, depth)

    def _begun_small(self, text: str, depth: int) -> Iterator[str]:
        """A sentence made of a text by a capital."""
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
                parts = [self._of(part, depth - 1) for part in text.split(separator)]
                if None not in parts:
                    yield separator.join(part or "" for part in parts)
        yield from self._beside_figures(text.split(" "), depth)
        if hit := BRACKETS.match(text):
            parts = [self._of(part, depth - 1) for part in (hit[1], hit[3], hit[4])]
            if None not in parts:
                yield f"{parts[0]}{hit[2]}({parts[1]}){parts[2]}"

    def _beside_figures(self, words: list[str], depth: int) -> Iterator[str]:
        """Words behind a figure or a name, or before it."""
        for place in range(len(words) - 1, 0, -1):
            first, rest = " ".join(words[:place]), " ".join(words[place:])
            for own, other in ((first, rest), (rest, first)):
                if not self._has_words(own):
                    made = self._of(other, depth - 1)
                    if made is not None:
                        yield f"{own} {made}" if own is first else f"{made} {own}"
                        return

    def _has_words(self, text: str) -> bool:
        return bool(WORD.search(FIGURES.sub("", CODE.sub("", self._keep.sub("", text)))))
