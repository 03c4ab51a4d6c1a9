"""One form for every complaint about what a user wrote."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

QUOTED_LENGTH = 60
LONGEST_NAME = 80  # characters of a word that a guess looks at
MOST_GUESSES = 3


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with the input: where, what was given, why not, what would be accepted, one fix."""

    what: str
    value: str = ""
    key: str = ""
    file: str = ""
    line: int = 0
    accepted: str = ""
    fix: str = ""

    def text(self) -> str:
        """The problem in one line.

        >>> Problem("must be finite", value="nan", key="supply.pressure", file="cart.toml", line=7).text()
        'cart.toml, line 7: supply.pressure = "nan": must be finite'
        """
        where = (
            f"{self.file}, line {self.line}: "
            if self.file and self.line
            else f"{self.file}: "
            if self.file
            else ""
        )
        subject = " = ".join(part for part in (self.key, in_quotes(self.value) if self.value else "") if part)
        text = where + (f"{subject}: {self.what}" if subject else self.what)
        if self.accepted:
            text += f" (accepted: {self.accepted})"
        return text + (f"; {self.fix}" if self.fix else "")


def in_quotes(value: str) -> str:
    """A value as a complaint quotes it: its beginning, in characters that can be printed.

    >>> print(in_quotes("11 inH2O"))
    "11 inH2O"
    """
    text = value if len(value) <= QUOTED_LENGTH else value[: QUOTED_LENGTH - 1] + "…"
    return '"' + "".join(c if c.isprintable() else "?" for c in text) + '"'


class UserError(ValueError):
    """What a user gave cannot be used; carries every problem found.

    >>> print(UserError(Problem("must be above zero", "0 mm", "diameter")))
    diameter = "0 mm": must be above zero
    """

    def __init__(self, problems: Problem | Sequence[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        self.command = ""  # whose help says more, where a command line was read
        super().__init__("\n".join(problem.text() for problem in self.problems))


def did_you_mean(word: Any, known: Sequence[str]) -> str:
    """A guess at what was meant: the words that begin so, else the nearest.

    >>> did_you_mean("tubee", ["tube", "ring"])
    'did you mean tube?'
    >>> did_you_mean("4-percent", ["canada-5-percent", "4-percent-from-sea-level", "4-percent-from-2000-ft"])
    'did you mean 4-percent-from-sea-level or 4-percent-from-2000-ft?'
    """
    text = str(word)[:LONGEST_NAME].lower().strip()
    begin = [one for one in known if len(text) > 1 and one.lower().startswith(text)]
    close = begin[:MOST_GUESSES] or get_close_matches(text, known, n=1, cutoff=0.6)
    return f"did you mean {' or '.join(close)}?" if close else "write one of these" if known else ""
