"""What is wrong in a text that is not TOML, in the words of whoever wrote it."""

from __future__ import annotations

import re

AT_LINE = re.compile(r" *\(at (?:line (\d+), column \d+|end of document)\)")
_TEXT_OR_COMMENT = re.compile(r'"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*')
_DECIMAL_COMMA = re.compile(r"=\s*([+-]?\d+),(\d+)(?=\s*(?:[,}]|$))")


def mistake(text: str, error: ValueError) -> tuple[str, int, str]:
    """What a parser complains of in a text, its line and what to write there.

    A number with a decimal comma is known by itself: it is the commonest of these mistakes.

    >>> import tomllib
    >>> text = "[gas]\\nmix = { methane = 62,0, nitrogen = 38,0 }"
    >>> try:
    ...     tomllib.loads(text)
    ... except ValueError as error:
    ...     mistake(text, error)
    ('62,0 is no number here: a comma parts values', 2, 'use a point as decimal mark: write 62.0')
    """
    match = AT_LINE.search(str(error))
    lines = text.split("\n")
    line = int(match[1]) if match and match[1] else len(lines)
    bare = _TEXT_OR_COMMENT.sub("", lines[min(line, len(lines)) - 1]).rstrip()
    number = _DECIMAL_COMMA.search(bare)
    if number:
        written, point = f"{number[1]},{number[2]}", f"{number[1]}.{number[2]}"
        what = f"{written} is no number here: a comma parts values"
        return what, line, f"use a point as decimal mark: write {point}"
    return (
        "is not TOML: " + AT_LINE.sub("", str(error)).strip(),
        line,
        "check quotes and brackets on this line",
    )
