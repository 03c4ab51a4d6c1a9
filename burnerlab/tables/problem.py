"""One form for every complaint about what a user wrote."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

QUOTED_LENGTH = 60


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
        given = self.value if len(self.value) <= QUOTED_LENGTH else self.value[: QUOTED_LENGTH - 1] + "…"
        given = "".join(c if c.isprintable() else "?" for c in given)
        subject = " = ".join(part for part in (self.key, f'"{given}"' if self.value else "") if part)
        text = where + (f"{subject}: {self.what}" if subject else self.what)
        if self.accepted:
            text += f" (accepted: {self.accepted})"
        return text + (f"; {self.fix}" if self.fix else "")


class UserError(ValueError):
    """What a user gave cannot be used; carries every problem found."""

    def __init__(self, problems: Problem | Sequence[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(problem.text() for problem in self.problems))
