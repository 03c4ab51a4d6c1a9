"""A drilled hole as the trade names it: number, letter, fraction of an inch, or millimetres."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from burnerlab import tables
from burnerlab.quantity.grammar import refuse, text_of
from burnerlab.quantity.outputs import output
from burnerlab.quantity.read import read
from burnerlab.quantity.units import Kind, is_quantity

FORMS = "#54, 1/16 in, F, 1.40 mm, 0.055 in"
_NUMBERED = re.compile(r"(?:#|no\.? ?#?|number ) ?(\d{1,3})", re.IGNORECASE | re.ASCII)
_LETTER = re.compile(r"(?:letter )?([A-Za-z])", re.ASCII | re.IGNORECASE)
_BARE = re.compile(r"(\d{1,3})", re.ASCII)
_DRILL_WORDS = re.compile(  # a number beside a word for a drill: "No. 54 drill", "54 MTD", "Nr 54"
    r"(?:drill|mtd|nr\.?)[ .#]*(?:size *)?(\d{1,3})|(?:no\.? ?)?#? ?(\d{1,3}) ?(?:drill|mtd)(?: size)?",
    re.ASCII | re.IGNORECASE,
)
_DIAMETER_SIGN = re.compile(r"(?:[øØ⌀∅] ?|dia\.? ?)(?=[\d.])|(?<=[a-z\"]) ?dia(?:meter|\.)?$", re.IGNORECASE)
_BARE_FRACTION = re.compile(r"\d{1,4}/\d{1,4}", re.ASCII)


MARK_HINT = re.compile(r"; an injector marked \d+ is [\d.]+ mm", re.ASCII)


@dataclass(frozen=True, slots=True)
class Bore:
    """A hole: its diameter, and the drill that has this name ("" when the user gave a bare diameter)."""

    diameter_m: float = field(metadata=output("diameter", Kind.DIAMETER))
    drill: str = field(metadata=output("drill"))


@cache
def _drills() -> Mapping[str, float]:
    return {row["size"]: float(row["diameter_mm"]) / 1000 for row in tables.rows("drills")}


@cache
def _metric() -> Mapping[int, str]:
    sizes = (row for row in tables.rows("drills") if row["kind"] in ("metric", "hundredth"))
    return {round(float(row["diameter_mm"]) * 1e3): row["size"] for row in sizes}


def read_bore(entry: object, key: str = "") -> Bore:
    """The hole a user names.

    entry : "#54", "1/16 in", a letter drill "F", "1.40 mm", "0.055 in", or a pint length
    Raises UserError with the accepted forms.

    >>> read_bore("#54")
    Bore(diameter_m=0.001397, drill='#54')
    >>> read_bore("1/16 in").drill
    '1/16 in'
    """
    if is_quantity(entry):
        return Bore(read(entry, Kind.DIAMETER, key), "")
    if (
        isinstance(entry, int)
        and not isinstance(entry, bool)
        and str(abs(entry)).isdigit()
        and abs(entry) < 1000
    ):
        entry = str(entry)
    text = _DIAMETER_SIGN.sub("", text_of(entry, key, "#54"))
    named = _named(text, key)
    if named:
        return Bore(_drills()[named], named)
    diameter = read(text, Kind.DIAMETER, key)
    return Bore(diameter, _drill_written(text, diameter))


def drill_diameter_m(text: str, key: str = "") -> float | None:
    """Diameter of a number or letter drill [m]; None for a text that names none, such as a length.

    Raises UserError for a number that no drill has.

    >>> drill_diameter_m("#50"), drill_diameter_m("1.6 mm")
    (0.001778, None)
    """
    plain = text.strip()
    if not (_NUMBERED.fullmatch(plain) or _LETTER.fullmatch(plain)):
        return None
    return _drills()[_named(plain, key)]


def _named(text: str, key: str) -> str:
    """The drill of this name, "" when the text is not a drill's name."""
    letter = _LETTER.fullmatch(text)
    if letter:
        return letter[1].upper()
    numbered = _NUMBERED.fullmatch(text)
    if numbered:
        name = f"#{int(numbered[1])}"
        if name not in _drills():
            raise refuse("no such number drill", text, key, accepted="#97 to #1")
        return name
    bare = _BARE.fullmatch(text)
    if bare:
        raise refuse("a drill or a diameter?", text, key, accepted=FORMS, fix=_either(bare[1]))
    words = _DRILL_WORDS.fullmatch(text)
    if words:
        raise refuse(
            "a number drill is written with #",
            text,
            key,
            accepted=FORMS,
            fix=f"write #{int(words[1] or words[2])}",
        )
    if _BARE_FRACTION.fullmatch(text):
        raise refuse("the unit is missing", text, key, accepted=FORMS, fix=f"write {text} in")
    return ""


def _either(number: str) -> str:
    """What a bare number may mean: a number drill, or the mark of an injector (``MARK_HINT``) outside the US."""
    name, mark = f"#{int(number)}", f"an injector marked {number} is {int(number) / 100:.2f} mm"
    if name in _drills():
        return f"write {name} or {_drills()[name] * 1000:.3f} mm; {mark}"
    return f"write a drill such as #54, or a diameter with its unit; {mark}"


def _drill_written(text: str, diameter_m: float) -> str:
    """The drill a written length is: the fraction as written in lowest terms, or the metric size."""
    if "/" in text:
        sixty_fourths = diameter_m / 0.0254 * 64
        if abs(sixty_fourths - round(sixty_fourths)) < 1e-9:
            over, under = round(sixty_fourths), 64
            while over % 2 == 0 and under > 1:
                over, under = over // 2, under // 2
            name = f"{over}/{under} in"
            return name if name in _drills() else ""
    micrometres = diameter_m * 1e6
    if "m" in text.lower() and abs(micrometres - round(micrometres)) < 1e-6:
        return _metric().get(round(micrometres), "")
    return ""
