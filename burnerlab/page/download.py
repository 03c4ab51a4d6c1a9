"""The head of an answer that a browser keeps as a file."""

from __future__ import annotations

from urllib.parse import quote


def attachment(name: str) -> str:
    """The file keeps its name; one with letters that a head cannot hold has them in UTF-8 (RFC 6266, RFC 8187).

    >>> attachment("range-card.pdf")
    'attachment; filename="range-card.pdf"'
    >>> attachment("σ-card.pdf")
    'attachment; filename="_-card.pdf"; filename*=UTF-8\\'\\'%CF%83-card.pdf'
    """
    plain = "".join(c if c.isascii() and c not in '"\\' else "_" for c in name)
    encoded = "" if plain == name else f"; filename*=UTF-8''{quote(name, safe='')}"
    return f'attachment; filename="{plain}"{encoded}'
