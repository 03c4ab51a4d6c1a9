"""Where a value lies against its range, in one of four words; never whether anything may be used."""

from __future__ import annotations

from typing import Literal, get_args

Verdict = Literal["within", "near", "outside", "not evaluated"]
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)
WORST_FIRST: tuple[Verdict, ...] = ("outside", "near", "not evaluated", "within")
"""In the order in which they need attention: a question left open comes before what is within."""
