"""Regular expressions of what the strict reader takes, for programs that check a text without it (JSON Schema).

They are of the part that ECMA-262 and Python share: letters by class instead of a switch, ASCII digits as [0-9]. They
know spelling alone; whether a value lies in its range, the reader says.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache

from burnerlab.quantity import units
from burnerlab.quantity.units import RATIOS, Kind

NUMBER = r"[+-]?(?:(?:[1-9][0-9]{0,2}(?: [0-9]{3})+|[0-9]+)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,6})?"
"""A plain decimal number, thousands by plain spaces."""
FRACTION = r"[+-]?(?:[0-9]{1,4} )?[0-9]{1,4}/[0-9]{1,4}"
_OTHER_BASE = r"(?![+-]?0(?:[xX][0-9a-fA-F]|[bB][01]|[oO][0-7]))"
_FILL = r"[ .^]*"  # what spellings may have between their letters
_PER = rf"(?:{_FILL}/|(?<=[A-Za-z0-9.)]) +[pP][eE][rR] +(?=[A-Za-z]))"
_MICRO = "µμ"  # the sign and the letter, one unit
_POWERS = {"2": "2²", "3": "3³"}


_SYNTAX = re.compile(r"[\\^$.*+?()\[\]{}|/]")  # SyntaxCharacter of ECMA-262, and the slash


def escaped(text: str) -> str:
    """A text as a pattern of itself, with the escapes that ECMA-262 allows with the flag u: no blank, no hyphen.

    >>> escaped("carbon steel"), escaped("3.5-4 (a)")
    ('carbon steel', '3\\\\.5-4 \\\\(a\\\\)')
    """
    return _SYNTAX.sub(lambda sign: f"\\{sign[0]}", text)


def any_case(text: str) -> str:
    """A pattern of a text whose capitals do not matter.

    >>> any_case("psi"), any_case("m3")
    ('[pP][sS][iI]', '[mM]3')
    """
    return "".join(_any_case(letter) for letter in text)


def _any_case(letter: str) -> str:
    same = _MICRO if letter in _MICRO else letter.lower() + letter.upper()
    return f"[{same}]" if same[0] != same[-1] else escaped(letter)


def _spelling(squeezed: str, *, is_folded: bool) -> str:
    """A pattern of a spelling of the table of units, with what may stand between its letters."""
    parts = []
    for place, letter in enumerate(squeezed):
        if letter == "/":
            parts.append(_PER)
        elif letter in _POWERS:
            parts.append(f"[{_POWERS[letter]}]")
        else:
            fixed = not is_folded or (place == 0 and letter in "mM")
            parts.append(escaped(letter) if fixed else _any_case(letter))
    return _FILL.join(parts)


def either(patterns: Iterable[str]) -> str:
    """One of several patterns."""
    return f"(?:{'|'.join(dict.fromkeys(patterns))})"


@cache
def unit_pattern(kind: Kind, *, counted_at_reference: bool = False) -> str:
    """Spellings of the units of a kind, one unit over another where the kind allows it.

    counted_at_reference : with those that count a volume at a reference state
    """
    book = units.spellings(kind)
    folded = {
        one for one, unit in book.folded.items() if counted_at_reference or not unit.counted_at_reference
    }
    exact = [one for one, unit in book.exact.items() if counted_at_reference or not unit.counted_at_reference]
    found = [_spelling(one, is_folded=True) for one in folded]
    found += [_spelling(one, is_folded=False) for one in exact if units.fold(one) not in folded]
    if kind in RATIOS:
        above, below = RATIOS[kind]
        lower = unit_pattern(below, counted_at_reference=counted_at_reference)
        found.append(f"{unit_pattern(above)}{_PER}{_FILL}{lower}")
    return either(sorted(found))


@cache
def quantity_pattern(kind: Kind, after: str = "", *, counted_at_reference: bool = False) -> str:
    """What the reader takes for a quantity of this kind: one number and one unit; ``after``: what may follow.

    counted_at_reference : whether units that count a volume at a reference state are among them

    >>> mass = re.compile(quantity_pattern(Kind.MASS))
    >>> [bool(mass.search(text)) for text in ("13 kg", "13kg", "28 1/2 lb", "13", "13 mm", "13,5 kg")]
    [True, True, False, False, False, False]
    """
    has_fractions = kind in (Kind.LENGTH, Kind.DIAMETER)
    numbers = either([FRACTION, NUMBER] if has_fractions else [NUMBER])
    unit = unit_pattern(kind, counted_at_reference=counted_at_reference)
    if kind is Kind.FRACTION:
        unit = f"{unit}?"
    return f"^ *{_OTHER_BASE}{numbers} *{unit}{_FILL}{after} *$"
