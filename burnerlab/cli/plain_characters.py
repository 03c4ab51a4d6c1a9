"""What a stream prints whose encoding lacks a character: the nearest plain spelling, as in ``55->51`` for an arrow.

A console of Windows in code page 1252 has no arrow, minus sign or Greek letter; one in 437 or ASCII has less.
"""

from __future__ import annotations

import codecs
import json
import sys
import unicodedata
from typing import TextIO

NAME = "burnerlab-plain"
PLAIN = {
    "−": "-", "–": "-", "—": "-", "─": "-", "━": "-", "│": "|", "┃": "|", "→": "->", "←": "<-", "≤": "<=", "≥": ">=",
    "≈": "~", "≠": "!=", "±": "+/-", "×": "x", "·": "*", "÷": "/", "√": "sqrt", "∂": "d", "‰": " per mille",
    "∞": "inf",
    "°": "deg ", "℃": "deg C", "℉": "deg F", "º": "deg ", "µ": "u", "″": '"', "”": '"', "“": '"', "′": "'", "’": "'",
    "‘": "'", "…": "...", "•": "*", "⌀": "dia ", "∅": "dia ", "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "Ø": "O",
    "█": "#", "▓": "#", "▒": "+", "░": ".",
    "α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "η": "eta", "θ": "theta", "κ": "kappa",
    "λ": "lambda", "μ": "u", "ν": "nu", "π": "pi", "ρ": "rho", "σ": "sigma", "τ": "tau", "φ": "phi", "χ": "chi",
    "Δ": "Delta", "Θ": "Theta", "Σ": "Sigma", "Φ": "Phi", "Ω": "Omega",
    "\u00a0": " ", "\u2009": " ", "\u202f": " ",
}  # fmt: skip
"""Plain spellings. A letter with an accent, a raised or a lowered figure is taken apart by itself."""


def plain(character: str) -> str:
    """A character in ASCII; "?" where it has no plain spelling.

    >>> "".join(map(plain, "55→51 ≥ 0.9, m³, é"))
    '55->51 >= 0.9, m3, e'
    """
    if character.isascii():
        return character
    taken_apart = unicodedata.normalize("NFKD", character)
    spelled = "".join(one for one in taken_apart if one.isascii())
    return PLAIN.get(character) or spelled or "?"


def _replace(error: UnicodeError) -> tuple[str, int]:
    """The characters that an encoding lacks, spelled with what it has."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(plain, error.object[error.start : error.end])), error.end


def holds_everything(stream: TextIO) -> bool:
    """Whether the encoding of a stream has every character."""
    try:
        return codecs.lookup(getattr(stream, "encoding", None) or "utf-8").name.startswith("utf")
    except LookupError:
        return False


def escaped(document: str) -> str:
    r"""A JSON document in ASCII, for a stream that is not UTF-8: outside its texts it has no other character.

    >>> print(escaped('{"unit": "m³"}'))
    {"unit": "m\u00b3"}
    """
    return "".join(one if one.isascii() else json.dumps(one)[1:-1] for one in document)


def keep_printing() -> None:
    """A terminal that cannot show a character gets its plain spelling, not a traceback."""
    codecs.register_error(NAME, _replace)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=NAME)
