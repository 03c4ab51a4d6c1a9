"""A sentence of the program that can be had in another language: its English template and what stands in its places."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache

PLACE = re.compile(r"\{(\w+)\}")
CLAUSES = {"true": "; ", "by_meter": ", "}
"""Places that hold a clause, with the sign that begins it, or nothing; behind a space they are as any other."""


class Phrase(str):
    """An English text that keeps its template, so that a paper can be printed in the words of its reader.

    A plain text that stands in a place, such as a name or a figure, is never translated; another phrase is.

    >>> line = Phrase("nearest: {limit}, margin {margin}", limit=Phrase("lift"), margin="1.27")
    >>> line, line.template
    ('nearest: lift, margin 1.27', 'nearest: {limit}, margin {margin}')
    """

    template: str
    values: Mapping[str, str]

    def __new__(cls, template: str, /, **values: object) -> Phrase:
        """template : literal English with a {place} for each of the values; raises KeyError for a place without one"""
        own = {name: value if isinstance(value, str) else str(value) for name, value in values.items()}
        made = super().__new__(cls, filled(template, own))
        made.template, made.values = template, own
        return made

    def __getnewargs_ex__(self) -> tuple[tuple[str], dict[str, str]]:  # of a copy
        return (self.template,), dict(self.values)


def filled(template: str, values: Mapping[str, str]) -> str:
    """A template with its places filled; raises KeyError for a place without a value."""
    return PLACE.sub(lambda hit: values[hit[1]], template)


def places(template: str) -> tuple[str, ...]:
    """The places of a template in the order in which they stand.

    >>> places("set {pressure}, calculated {all_on}")
    ('pressure', 'all_on')
    """
    return tuple(PLACE.findall(template))


def has_words(template: str) -> bool:
    """Whether there is anything to translate outside the places.

    >>> has_words("{first}; {second}"), has_words("{low} to {high}")
    (False, True)
    """
    return any(sign.isalpha() for sign in PLACE.sub("", template))


def joined(separator: str, parts: Iterable[str]) -> str:
    """Texts one after the other, each of which stays a phrase where it is one.

    >>> list_ = joined(", ", ("ring", Phrase("flame")))
    >>> list_, isinstance(list_, Phrase)
    ('ring, flame', True)
    """
    own = tuple(parts)
    if not any(isinstance(part, Phrase) for part in own):
        return separator.join(own)
    names = [f"part{number}" for number in range(len(own))]
    return Phrase(separator.join(f"{{{name}}}" for name in names), **dict(zip(names, own, strict=True)))


@cache
def pattern(template: str) -> re.Pattern[str]:
    """What matches a template with its places filled, each by its name; one that follows a letter at once may be empty.

    >>> pattern("read {figure}{by_meter}.").fullmatch("read 3 kW, by the meter.").groupdict()
    {'figure': '3 kW', 'by_meter': ', by the meter'}
    >>> pattern("is connected{more}").fullmatch("is connected").groupdict(), pattern("set {figure}").fullmatch("set ")
    ({'more': ''}, None)
    """
    parts = PLACE.split(template)
    made, known = re.escape(parts[0]), set[str]()
    for before, place, behind in zip(parts[::2], parts[1::2], parts[2::2], strict=False):
        if place in known:
            made += f"(?P={place})"
        elif place in CLAUSES and not before.endswith(" "):
            made += f"(?P<{place}>(?:{CLAUSES[place]}.+?)?)"
        else:
            made += f"(?P<{place}>{'.*?' if before[-1:].isalpha() else '.+?'})"
        made += re.escape(behind)
        known.add(place)
    return re.compile(made, re.DOTALL)


def phrase_among(text: str, templates: Iterable[str]) -> str:
    """A text that was written out, of a record, as the phrase that made it; any other as it is.

    >>> phrase_among("set 29 mbar", ["light it", "set {pressure}"]).template
    'set {pressure}'
    """
    for template in templates:
        if hit := pattern(template).fullmatch(text):
            return Phrase(template, **hit.groupdict())
    return text


def changed_in_places(change: Callable[[str], str], text: str) -> str:
    """A phrase with a change of each plain text in its places, in the order in which they are printed.

    >>> line = Phrase("on {gas} {share} more", share="5 %", gas=Phrase("{name} gas", name="natural"))
    >>> changed_in_places(str.upper, line)
    'on NATURAL gas 5 % more'
    """
    if not isinstance(text, Phrase):
        return change(text)
    own = {place: changed_in_places(change, text.values[place]) for place in places(text.template)}
    return Phrase(text.template, **own)


def applied(change: Callable[[str], str], text: str) -> str:
    """A change of a text, such as of its units, made within the places of a phrase.

    Where that would not give the same as the change of the whole, the whole is changed, and is no phrase any more:
    a figure is never wrong for the sake of a translation.

    >>> made = applied(str.upper, Phrase("{gas} 12", gas="propane"))
    >>> made, isinstance(made, Phrase), isinstance(applied(str.upper, Phrase("on {gas}", gas="propane")), Phrase)
    ('PROPANE 12', True, False)
    >>> made = applied(lambda one: one.replace("8 mbar", "3 in w.c.").replace("..", "."), Phrase("At {p}.", p="8 mbar"))
    >>> made, isinstance(made, Phrase)
    ('At 3 in w.c.', True)
    """
    if not isinstance(text, Phrase):
        return change(text)
    whole = change(str(text))
    values = {name: applied(change, value) for name, value in text.values.items()}
    made = Phrase(text.template, **values)
    if made != whole:  # a unit that ends in a period, at the end of its sentence
        ends = {
            name: value.removesuffix(".") for name, value in values.items() if f"{{{name}}}." in text.template
        }
        made = Phrase(text.template, **values | ends)
    return made if made == whole else whole
