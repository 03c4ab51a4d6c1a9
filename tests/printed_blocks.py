"""Commands that a document prints with their output, held against what they print now.

Shown output agrees as a doctest does with the flags NUMBER, ELLIPSIS and NORMALIZE_WHITESPACE: a number with a decimal
point to the digits that are shown, a line of ``...`` for any lines.
"""

from __future__ import annotations

import doctest
import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass

from _pytest.doctest import (
    _get_checker,
    _get_number_flag,
)  # the checker of every other doctest, which has no public name
from command_runs import run

PROMPT = "$ "
PROGRAM = "burnerlab"
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
ANSWERED = (0, 1)  # 1: what was checked is not as it must be
REFUSED = 2


@dataclass(frozen=True)
class PrintedCommand:
    """A command line of a document and the output below it, "" where none is shown."""

    line: str
    shown: str

    @property
    def words(self) -> list[str]:
        return shlex.split(self.line)

    def complaint(self) -> str:
        """What is wrong when it is run in the folder of this process; "" where all is as printed."""
        program, *words = self.words
        if program != PROGRAM:
            return f"{self.line}: a console block runs burnerlab alone; mark others as text"
        result = run(*words)
        is_refusal = self.shown.startswith("error: ")
        if result.exit_code not in ((REFUSED,) if is_refusal else ANSWERED):
            return f"{self.line}: exit status {result.exit_code}\n{result.output[-2000:]}"
        printed = result.output
        if self.shown and not agrees(self.shown, printed):
            return f"{self.line}\nprints\n{printed}\nand the page shows\n{self.shown}"
        return ""


def agrees(shown: str, printed: str) -> bool:
    """Whether a shown output is what was printed."""
    flags = FLAGS | _get_number_flag()
    return bool(_get_checker().check_output(shown.strip() + "\n", printed.strip() + "\n", flags))


def commands(block: str) -> Iterator[PrintedCommand]:
    """The commands of a console block; a line that ends in a backslash goes on in the next."""
    for part in re.split(r"(?m)^\$ ", block)[1:]:
        line, shown = re.fullmatch(r"((?:[^\n]*\\\n)*[^\n]*)\n?(.*)", part, re.DOTALL).groups()  # type: ignore[union-attr]
        yield PrintedCommand(line.replace("\\\n", " "), shown.strip("\n"))
