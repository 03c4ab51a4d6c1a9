"""What a result says in one line, and as a small table where a notebook shows it."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

from burnerlab.quantity.units import Kind

from .show import show


@dataclass(frozen=True, slots=True)
class Summary:
    """One line of words, rows of text with the head first, and the lines that must stand below."""

    words: str
    table: tuple[tuple[str, ...], ...] = ()
    lines: tuple[str, ...] = ()


class WithSummary:
    """A result that is shown by its summary; its dataclass is made with ``repr=False``."""

    __slots__ = ()

    def summary(self) -> Summary:
        """What it says in short."""
        raise NotImplementedError

    def __repr__(self) -> str:
        return f"<{type(self).__name__}: {self.summary().words}>"

    def _repr_html_(self) -> str:
        short = self.summary()
        parts = [f"<p><b>{escape(short.words)}</b></p>"]
        if short.table:
            cells = [
                "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in row)
                for tag, row in zip(("th", *["td"] * len(short.table)), short.table, strict=False)
            ]
            parts.append("<table>" + "".join(f"<tr>{row}</tr>" for row in cells) + "</table>")
        return "".join([*parts, *(f"<p>{escape(line)}</p>" for line in short.lines)])


def figure(value: Any, kind: Kind) -> str:
    """A figure with its unit; of an array its ends.

    >>> figure(7060.0, Kind.POWER)
    '7.060 kW'
    """
    if not hasattr(value, "min"):
        return show(float(value), kind)
    if not value.size:
        return "none"
    low, high = (show(float(end), kind) for end in (value.min(), value.max()))
    return low if low == high else f"{low} to {high}"


def plain_figure(value: Any) -> str:
    """A pure number such as a coefficient; of an array its ends.

    >>> plain_figure(0.9)
    '0.900'
    """
    if not hasattr(value, "min"):
        return f"{float(value):.3f}"
    if not value.size:
        return "none"
    low, high = (f"{float(end):.3f}" for end in (value.min(), value.max()))
    return low if low == high else f"{low} to {high}"


def percent(share: float | None) -> str:
    """A signed change in per cent, a dash where it is not known.

    >>> percent(0.0123), percent(None), percent(-0.0001)
    ('+1.2 %', '-', '+0.0 %')
    """
    return "-" if share is None else f"{100.0 * share:+z.1f} %"
