"""A timing as the watch shows it, in minutes and seconds: read alike on the page and at the command line."""

from __future__ import annotations

import re

from burnerlab.tables.problem import Problem, UserError

MIN_S = re.compile(r"(?P<min>\d+)\s*min\s*(?P<s>[0-5]?\d(?:[.,]\d+)?)\s*s", re.IGNORECASE)
COLON = re.compile(r"(?P<min>\d+):(?P<s>[0-5]\d(?:[.,]\d+)?)")
PLAIN_TIME = re.compile(r"[^a-z:]*\s*(?:s|min)?", re.IGNORECASE)


def in_seconds(text: str, *, colon: bool) -> str:
    """A timing of minutes and seconds in seconds; any other text as it is.

    colon : whether 1:47 is minutes and seconds here; beside a figure in minutes it might be hours

    >>> [in_seconds(text, colon=True) for text in ("1 min 47 s", "1:47.5", "3:55,2", "107 s", "0.1 h")]
    ['107 s', '107.5 s', '235.2 s', '107 s', '0.1 h']
    """
    written = text.strip()
    parts = MIN_S.fullmatch(written) or (COLON.fullmatch(written.removesuffix(" s")) if colon else None)
    if parts is None:
        return text
    seconds = 60 * int(parts["min"]) + float(parts["s"].replace(",", "."))  # no thousands of seconds
    return f"{seconds:.12g} s"


def timing_seconds(text: str, *, colon: bool) -> str:
    """The same; any other unit than minutes and seconds is refused.

    >>> timing_seconds("1.5 min", colon=True)
    '1.5 min'
    """
    written = in_seconds(text, colon=colon)
    if PLAIN_TIME.fullmatch(written.strip()):
        return written
    accepted = "s, min, or both: 107 s, 1.5 min, 1 min 47 s" + (", 1:47" if colon else "")
    raise UserError(Problem("is no timing in seconds or minutes", value=text, accepted=accepted))
