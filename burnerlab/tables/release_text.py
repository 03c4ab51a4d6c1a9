"""What stands at each statement of a release: the same words on the page of the bench and at the command line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from burnerlab.tables.reader import rows


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementText:
    """The label of a statement, how it is written, an example, and for which stops it is needed; "" is every one."""

    label: str
    hint: str
    example: str
    when: str

    @property
    def help(self) -> str:
        """Label and hint in a line.

        >>> STATEMENT_TEXTS["cause"].help, STATEMENT_TEXTS["carbon_monoxide"].help[:55]
        ('Cause. What was wrong.', 'After a CO alarm: carbon monoxide in the room after the')
        """
        label = f"{self.when}: {self.label[0].lower()}{self.label[1:]}" if self.when else self.label
        return " ".join(filter(None, (f"{label[0].upper()}{label[1:]}.", self.hint)))


STATEMENT_TEXTS: Mapping[str, StatementText] = {
    row["statement"]: StatementText(
        label=row["label"],
        hint=row["hint"].format(example=row["example"]),
        example=row["example"],
        when=row["when"],
    )
    for row in rows("release_statements")
}
"""By the argument of ``release``, in the order in which they are written."""
