"""Where a value lies against its range, in one of four words; never whether anything may be used."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import assert_never

from burnerlab.tables.phrase import Phrase


class Verdict(StrEnum):
    """Where a value lies against its range, by the word that is printed.

    >>> min(Verdict, key=lambda verdict: verdict.rank).value, Verdict.NEAR.is_evaluated
    ('outside', True)
    """

    WITHIN = "within"
    NEAR = "near"
    OUTSIDE = "outside"
    NOT_EVALUATED = "not evaluated"

    @property
    def rank(self) -> int:
        """Place in the order of attention, the worst 0: a question left open comes before what is within."""
        match self:
            case Verdict.OUTSIDE:
                return 0
            case Verdict.NEAR:
                return 1
            case Verdict.NOT_EVALUATED:
                return 2
            case Verdict.WITHIN:
                return 3
            case _:
                assert_never(self)

    @property
    def emphatic(self) -> str:
        """The word as a line of text prints it: what is outside in capitals."""
        return Phrase(self.upper() if self is Verdict.OUTSIDE else self.value)

    @property
    def is_within(self) -> bool:
        """Whether the value lies in its range, away from its ends."""
        return self is Verdict.WITHIN

    @property
    def is_evaluated(self) -> bool:
        """Whether the value was held against its range at all."""
        return self is not Verdict.NOT_EVALUATED


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict that needs attention first; "not evaluated" of none.

    >>> worst([Verdict.WITHIN, Verdict.NEAR]).value, worst([]).value
    ('near', 'not evaluated')
    """
    return min(verdicts, key=lambda verdict: verdict.rank, default=Verdict.NOT_EVALUATED)
