"""The last touch on a page of the bench: the words of the reader's region, and figures that stay with their units."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from markupsafe import escape

from burnerlab.bench.record import InputText, Observation
from burnerlab.page.form import Form
from burnerlab.page.form import fields as form_fields
from burnerlab.page.heat_input_test import ALL_BURNERS
from burnerlab.page.result_text import AT_LOW_RATE, BandMark, LabelledText
from burnerlab.tables.region import in_terms_of

NO_BREAK = "\N{NO-BREAK SPACE}"
UNITS = (
    r"%|ppm|k?W\b|k?Btu/h|m?bar\b|k?Pa\b|in w\.c\.|psi\b|mm\b|MJ/m3|Btu/ft3|ft3|L(?:/h)?\b|k?g(?:/h)?\b|lb\b|oz\b|"
    r"s\b|min\b|\N{DEGREE SIGN}[CF]"
)
THOUSANDS = re.compile(r"(?<=\d) (?=\d{3}(?:[ .\N{NO-BREAK SPACE}]|\b))")
DOUBLE_STOP = re.compile(r"w\.c\.\.(?!\.)")  # a unit that ends a sentence
UNIT = re.compile(rf"(?<=\d) (?=(?:{UNITS}))|(?<=\N{{PLUS-MINUS SIGN}}) (?=\d)")
PART = re.compile(
    r"<(?P<kept>script|style|textarea|option|code|pre)\b.*?</(?P=kept)>|"
    r"<(?P<foreign>(?!html\b)\w+)\b[^>]* lang=[^>]*>.*?</(?P=foreign)>|<[^>]*>|(?P<text>[^<]+)",
    re.DOTALL,
)
"""Of a page: what stays whole, what is in another language, a tag, or text that is read."""
OWN_FIELDS = frozenset(
    (
        "serial", "model", "burner", "tester", "gas", "note", "name", "place", "text", "reason", "subject",
        "qualification", "cause", "repair", "leak_test", "leak_test_by", "leak_test_when", "testers",
    )
)  # fmt: skip
"""Of what the record holds: what people wrote."""
MADE = frozenset(("model", "supply_label", "once", "slips", "photographs", "reading"))
"""Texts of a form, and of what the record holds, that nobody typed."""
ERRORS = "errors"  # of a page: what is wrong, by the names of its fields
ROOMS = (
    "burnerlab.bench.record",
    "burnerlab.page.result_text",
    "burnerlab.page.record_pages",
    "burnerlab.page.stop_names",
)


def own_words(values: Any, *, is_typed: bool = False) -> Iterator[str]:
    """What people wrote of what a page shows: no word of it is exchanged.

    is_typed : only what was typed or named; of an answer that was chosen there may be a translation
    """
    if isinstance(values, Form):
        yield from (text for name, text in values.texts if not (is_typed and _is_choice(name, text)))
    elif isinstance(values, Mapping):
        for name, one in values.items():
            if is_typed and name == ERRORS:
                continue
            yield from (
                (one,) if isinstance(one, str) and name in OWN_FIELDS else own_words(one, is_typed=is_typed)
            )
    elif isinstance(values, (tuple, list)):
        for one in values:
            yield from own_words(one, is_typed=is_typed)
    elif isinstance(values, BandMark):
        return  # a mark of the drawing is ours
    elif is_dataclass(values) and type(values).__module__.startswith(ROOMS):
        if is_typed and isinstance(values, (Observation, LabelledText, InputText)):
            if isinstance(values, InputText) and not _is_choice(values.name, values.text):
                yield values.text
            return
        for one in fields(values):
            value = getattr(values, one.name)
            if not isinstance(value, str):
                yield from own_words(value, is_typed=is_typed)
            elif one.name in OWN_FIELDS and not (is_typed and _is_choice(one.name, value)):
                yield value.removesuffix(AT_LOW_RATE) if is_typed else value


def _is_choice(name: str, text: str) -> bool:
    """Whether a text of a form or of the record is one that the bench offered or wrote."""
    of_form = form_fields().get(name)
    return name in MADE or text == ALL_BURNERS or (of_form is not None and bool(of_form.choices))


def tied(text: str) -> str:
    """A text whose figures are not parted from their thousands and units at the end of a line.

    >>> tied("39 400 Btu/h, 31 % above").replace(NO_BREAK, "~")
    '39~400~Btu/h, 31~% above'
    >>> tied("at 4 in w.c.. Read it").replace(NO_BREAK, "~")
    'at 4~in w.c. Read it'
    """
    return UNIT.sub(NO_BREAK, THOUSANDS.sub(NO_BREAK, DOUBLE_STOP.sub("w.c.", text)))


def for_reader(html: str, region: str, own: Iterable[str]) -> str:
    """A page in the words of a region; fields, code and what people wrote stay as they are.

    >>> for_reader('<p title="orifice">The orifice at 3 kW</p>', "eu", ()).replace(NO_BREAK, "~")
    '<p title="orifice">The injector at 3~kW</p>'
    >>> for_reader("<p>My orifice: too large an orifice</p>", "eu", ["My orifice"])
    '<p>My orifice: too large an injector</p>'
    """
    text_of = regional(region, own)
    return PART.sub(lambda hit: text_of(hit["text"]) if hit["text"] else hit[0], html)


def regional(region: str, own: Iterable[str]) -> Callable[[str], str]:
    """What puts a text of a page into the words of a region, figures tied to their units; own : what people wrote"""
    kept = sorted({str(escape(one)) for one in own if one.strip()}, key=len, reverse=True)
    words = in_terms_of(region, kept)
    names = re.compile("|".join(re.escape(one) for one in kept if tied(one) != one) or r"(?!)")
    return lambda text: _without_names(words(text), names, tied)


def _without_names(text: str, names: re.Pattern[str], change: Callable[[str], str]) -> str:
    """A text changed but for the names in it."""
    made, at = [], 0
    for hit in names.finditer(text):
        made += [change(text[at : hit.start()]), hit[0]]
        at = hit.end()
    return "".join((*made, change(text[at:])))
