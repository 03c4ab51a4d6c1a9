"""A page in the language of its reader: each sentence whole, or in English whole and marked so."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from html import unescape
from pathlib import Path

from markupsafe import escape

from burnerlab.page.reader_words import NO_BREAK, tied
from burnerlab.quantity.prose import in_print
from burnerlab.tables.html_text import (
    APART,
    FIRST_TOKEN,
    KEPT,
    SPOKEN_ATTRIBUTES,
    Element,
    Run,
    page_tree,
    runs,
    sentence,
)
from burnerlab.tables.languages import ENGLISH, Language
from burnerlab.tables.phrase import PLACE, Phrase, filled, has_words
from burnerlab.tables.template_text import script_texts
from burnerlab.tables.translation import WORD

FIRST_NAME = 0xF4000  # behind the signs of elements: what stands for a name in a sentence
SIGNS = re.compile(rf"[{chr(FIRST_TOKEN)}-{chr(FIRST_NAME - 1)}]")
NAMED = re.compile(rf"[{chr(FIRST_NAME)}-{chr(2 * FIRST_NAME - FIRST_TOKEN - 1)}]")
ATTRIBUTE = re.compile(rf' ({"|".join(SPOKEN_ATTRIBUTES)})="([^"]*)"')
MARKED = frozenset(("option", "title", "text", "optgroup"))  # hold no element that could say their language
SUPERSCRIPTS = "\N{SUPERSCRIPT ZERO}\N{SUPERSCRIPT ONE}\N{SUPERSCRIPT TWO}\N{SUPERSCRIPT THREE}"
PRINTED = re.compile(f"[{SUPERSCRIPTS[2:]}]")
WHOLE = frozenset(("notice", "caution"))  # classes of what is read as one: all of it in the language, or none
SIGNAL = "signal"  # class of a signal word
SENTENCES = re.compile(r"\{\w+\}(?:\. \{\w+\})*\.?")  # template of those that stand one after the other
SCRIPT = re.compile(r"/(\w+\.js)\b")
ARTICLE = "article"  # of the handbook, which is written in English
FOLDER = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class PageLanguage:
    """What puts a page into the language of its reader.

    names : what people wrote, which stays as it is; english : a text of a page, escaped, that stays English
    phrases : by their print, texts of the page of which it is known how they were made
    """

    language: Language
    names: tuple[str, ...]
    english: Callable[[str], str]
    phrases: Mapping[str, Phrase] = field(default_factory=dict)

    def of(self, html: str) -> str:
        """A page in the language."""
        tree = page_tree(html)
        self._regional(tree)
        self._block(tree)
        return tree.html

    def _regional(self, element: Element) -> None:
        """The texts of a page that are marked as English already, in the words of the reader's region."""
        if element.tag in KEPT or element.tag == ARTICLE:
            return
        if element.tag != "html" and element.attributes.get("lang") == ENGLISH:
            self._stays_english(element, is_marked=False, is_made=False)
            return
        for one in element.children:
            if isinstance(one, Element):
                self._regional(one)

    def words(self, text: str) -> str | None:
        """A sentence in the language, the elements in it at their places; None where any word has no translation."""
        bare = text.replace(NO_BREAK, " ")
        if (phrase := self.phrases.get(bare)) is not None:
            return self._phrase(phrase)
        if bare not in self.names and (own := self._title(bare)) is not None:
            return own
        marked, names = self._marked(bare)
        made = self._sentence_of(marked)
        if made is not None:
            return NAMED.sub(lambda hit: names[ord(hit[0]) - FIRST_NAME], made)
        return self._sentence_of(bare) if names else None

    def _phrase(self, text: str) -> str | None:
        """A phrase by its own template with what stands in its places; None where a part has no translation."""
        if not isinstance(text, Phrase):
            return self.words(text) if text else ""
        template = self.language.translations.get(text.template)
        if template is None and has_words(text.template):
            return None
        values = {name: self._phrase(value) for name, value in text.values.items()}
        if None in values.values():
            return None
        return filled(template or text.template, {name: value or "" for name, value in values.items()})

    def _sentences(self, phrase: Phrase) -> Run:
        """Sentences that stand one after the other, each in the language or in English whole."""
        made: Run = []
        for part in re.split(r"(\{\w+\})", phrase.template):
            value = phrase.values.get(part.strip("{}"), "") if PLACE.fullmatch(part) else part
            words = self._phrase(value)
            if isinstance(value, Phrase) and SENTENCES.fullmatch(value.template):
                made += self._sentences(value)
            elif words is None:
                english: Run = [self.english(str(escape(value)))]
                made.append(
                    Element(tag="span", start=f'<span lang="{ENGLISH}">', end="</span>", children=english)
                )
            else:
                made.append(str(escape(tied(words))))
        return made

    def _title(self, text: str) -> str | None:
        """A text that is a row of its own, whatever names are in it; its powers may be set as in print."""
        if not PRINTED.search(text):
            return self.language.translations.get(text)
        own = self.language.translations.get(PRINTED.sub(lambda hit: str(SUPERSCRIPTS.index(hit[0])), text))
        return None if own is None else in_print(own)

    def _sentence_of(self, text: str) -> str | None:
        words = self.language.whole(text)
        if words is not None or not SIGNS.search(text):
            return words
        parts = [self.language.whole(part) for part in SIGNS.split(text)]
        if None in parts:
            return None
        return "".join(
            (part or "") + sign for part, sign in zip(parts, [*SIGNS.findall(text), ""], strict=True)
        )

    def _marked(self, text: str) -> tuple[str, list[str]]:
        """A text with a sign in the place of each name, which no translation changes then, and the names.

        A name that is a phrase, such as the title of a gas of ours, has its translation where the table has it.
        """
        known, names = [one for one in self.names if one in text], list[str]()
        if not known:
            return text, names
        titles = {str(one): self._title(one) for one in known if isinstance(one, Phrase)}

        def mark(hit: re.Match[str]) -> str:
            names.append(titles.get(hit[0]) or hit[0])
            return chr(FIRST_NAME + len(names) - 1)

        return re.sub("|".join(rf"(?<![^\W_]){re.escape(one)}(?![^\W_])" for one in known), mark, text), names

    def _block(self, element: Element) -> None:
        """An element that begins a line of its own, and everything in it."""
        if element.tag == "html":
            element.start = element.start.replace(f'lang="{ENGLISH}"', f'lang="{self.language.tag}"')
        elif "lang" in element.attributes:
            return
        self._attributes(element)
        if element.tag == "script":
            self._script(element)
        if element.tag in KEPT:
            return
        if element.tag == ARTICLE:
            self._stays_english(element)
            return
        is_one = WHOLE.intersection(element.attributes.get("class", "").split()) or _has_signal(element)
        if is_one and not self._is_whole(element):
            self._stays_english(element)
            return
        if element.tag == "option" and "value" not in element.attributes:
            text = unescape("".join(one for one in element.children if isinstance(one, str)))
            _add_attribute(element, f' value="{escape(text)}"')  # what is sent is no text of a language
        made: list[Element | str] = []
        for one in runs(element):
            if isinstance(one, Element):
                self._block(one)
                made.append(one)
            else:
                made += self._run(one, element)
        element.children = made

    def _run(self, run: Run, parent: Element) -> Run:
        """What of an element is read as one, in the language; in English where any word of it has no translation."""
        if not _has_words(sentence([one if isinstance(one, str) else "\N{SPACE}" for one in run])):
            for one in run:
                if isinstance(one, Element):
                    self._block(one)
            return run
        made = self._translated(run)
        phrase = self.phrases.get(sentence(run).replace(NO_BREAK, " ")) if made is None else None
        if phrase is not None and SENTENCES.fullmatch(phrase.template):
            return self._sentences(phrase)
        if made is not None:
            for one in run:
                if isinstance(one, Element):
                    self._attributes(one)
            return made
        for one in run:
            if isinstance(one, Element) and one.tag in APART:
                self._block(one)
        kept: Run = [one if isinstance(one, Element) else self.english(one) for one in run]
        for one in kept:
            if isinstance(one, Element):
                self._stays_english(one, is_marked=False)
        if parent.tag in MARKED:
            _add_attribute(parent, f' lang="{ENGLISH}"')
            return kept
        return [Element(tag="span", start=f'<span lang="{ENGLISH}">', end="</span>", children=kept)]

    def _translated(self, run: Run) -> Run | None:
        """A run with every element in it; None where any word has no translation."""
        text = sentence(run)
        words = self.words(text)
        if words is None:
            return None
        elements = [one for one in run if isinstance(one, Element)]
        inner = []
        for one in elements:
            made = (
                None if one.tag in APART or "lang" in one.attributes or one.tag in KEPT else self._inside(one)
            )
            if made is None and not (one.tag in APART or "lang" in one.attributes or one.tag in KEPT):
                return None
            inner.append(made)
        for one, made in zip(elements, inner, strict=True):
            if one.tag in APART:
                self._block(one)
            elif made is not None:
                one.children = made
        if words == text.replace(NO_BREAK, " "):
            return [one if isinstance(one, Element) else tied(one) for one in run]
        parts: Run = []
        for part in re.split(f"({SIGNS.pattern})", words):
            if SIGNS.fullmatch(part):
                parts.append(elements[ord(part) - FIRST_TOKEN])
            elif part:
                parts.append(str(escape(tied(part))))
        return parts

    def _inside(self, element: Element) -> Run | None:
        """What stands in an element of a sentence; None where any word of it has no translation."""
        made: Run = []
        for one in runs(element):
            part = [one] if isinstance(one, Element) else self._translated(one)
            if part is None:
                return None
            made += part
        return made

    def _is_whole(self, element: Element) -> bool:
        """Whether everything in an element has a translation, or is in a language already."""
        for one in runs(element):
            if isinstance(one, Element):
                if "lang" not in one.attributes and not self._is_whole(one):
                    return False
            elif self.words(sentence(one)) is None or not all(
                self._is_whole(each)
                for each in one
                if isinstance(each, Element) and "lang" not in each.attributes
            ):
                return False
        return True

    def _stays_english(self, element: Element, *, is_marked: bool = True, is_made: bool = True) -> None:
        """An element whose texts are left in English.

        is_made : one that says its language is left alone, its words are those of the region already
        """
        if element.tag in APART:
            return
        if is_marked and "lang" not in element.attributes:
            _add_attribute(element, f' lang="{ENGLISH}"')
        if element.tag in KEPT or element.tag == ARTICLE or (is_made and "lang" in element.attributes):
            return
        element.children = [
            one if isinstance(one, Element) else self.english(one) for one in element.children
        ]
        for one in element.children:
            if isinstance(one, Element):
                self._stays_english(one, is_marked=False, is_made=is_made)

    def _attributes(self, element: Element) -> None:
        """The attributes of an element that are read."""
        if any(name in element.attributes for name in SPOKEN_ATTRIBUTES):
            element.start = ATTRIBUTE.sub(self._attribute, element.start)

    def _attribute(self, hit: re.Match[str]) -> str:
        words = self.words(unescape(hit[2]))
        return hit[0] if words is None else f' {hit[1]}="{escape(words)}"'

    def _script(self, element: Element) -> None:
        """The texts of a script, beside it: it has its own in English."""
        name = SCRIPT.search(element.attributes.get("src", ""))
        texts = {} if name is None else {text: self.words(text) for text in texts_of_script(name[1])}
        known = {text: words for text, words in texts.items() if words is not None}
        if known:
            _add_attribute(element, f' data-words="{escape(json.dumps(known, ensure_ascii=False))}"')


def in_language(
    html: str,
    language: Language,
    names: Iterable[str],
    english: Callable[[str], str] = str,
    phrases: Mapping[str, Phrase] | None = None,
) -> str:
    """A page of ours in a language; what has no translation stays English, whole, and is marked so.

    The arguments are those of ``PageLanguage``.

    >>> es = Language(tag="es", translations={"Unit {serial}": "Aparato {serial}", "Save": "Guardar"})
    >>> in_language("<p>Unit <b>7</b></p><p>Save it</p><p>Save</p>", es, ())
    '<p>Aparato <b>7</b></p><p><span lang="en">Save it</span></p><p>Guardar</p>'
    """
    return PageLanguage(language, _names_in(unescape(html), names), english, phrases or {}).of(html)


def text_in_language(text: str, language: Language, names: Iterable[str]) -> str | None:
    """A text that a script puts into its page, in a language; None where any word of it has no translation.

    >>> es = Language(tag="es", translations={"{place}, ports": "{place}, orificios"})
    >>> text_in_language("left tube, ports", es, ["left tube"])
    'left tube, orificios'
    """
    made = PageLanguage(language, _names_in(text, names), str).words(text)
    return None if made is None else tied(made)


def _names_in(text: str, names: Iterable[str]) -> tuple[str, ...]:
    """The names that a text holds, the longest first."""
    return tuple(
        sorted({name for name in names if name in text and WORD.search(name)}, key=len, reverse=True)
    )


@cache
def texts_of_script(name: str) -> tuple[str, ...]:
    """What a script of ours says on its page."""
    return tuple(script_texts((FOLDER / name).read_text(encoding="utf-8")))


def _has_signal(element: Element) -> bool:
    """Whether an element begins with a signal word, which is never in another language than what it stands before."""
    first = next((one for one in element.children if isinstance(one, Element) or one.strip()), "")
    return isinstance(first, Element) and SIGNAL in first.attributes.get("class", "").split()


def _has_words(text: str) -> bool:
    return any(sign.isalpha() for sign in text)


def _add_attribute(element: Element, text: str) -> None:
    end = "/>" if element.start.endswith("/>") else ">"
    element.start = element.start[: -len(end)] + text + end
