"""Chapters of words: glossary of the United States and Europe, cautions and stops in full."""

from __future__ import annotations

import re
from itertools import groupby

from burnerlab import tables
from burnerlab.handbook.markdown_text import escaped, table
from burnerlab.tables.cautions import ALWAYS, cautions


def term_line(row: tables.Row) -> str:
    """An entry of the glossary in one line: term, symbol, what it is called elsewhere, meaning.

    >>> next(term_line(row) for row in tables.rows("terms") if row["term"] == "light-back")
    'light-back (US flashback): flame that runs through the port into the burner'
    """
    regions = (("US", row["us"]), ("Europe", row["eu"]))
    abroad = "; ".join(f"{where} {name}" for where, name in regions if name not in ("", row["term"]))
    head = " ".join(filter(None, (row["term"], row["symbol"], f"({abroad})" if abroad else "")))
    return f"{head}: {row['meaning']}"


def glossary() -> str:
    """Terms of the trade, and the words that papers of a region print."""
    terms = table(
        ("term here", "US", "Europe", "meaning"),
        [
            (
                f"**{escaped(row['term'])}**" + (f" {escaped(row['symbol'])}" if row["symbol"] else ""),
                escaped(row["us"]) or "-",
                escaped(row["eu"]),
                escaped(row["meaning"]),
            )
            for row in sorted(tables.rows("terms"), key=lambda row: row["term"].lower())
        ],
    )
    papers = table(
        ("here", '`region = "us"`', '`region = "eu"`'),
        [
            tuple(escaped(row[column].lstrip(": ")) for column in ("term", "us", "eu"))
            for row in tables.rows("regional_terms")
        ],
    )
    return (
        "The program uses one word for one thing, everywhere. The words of the United States and of Europe are "
        f"in the next columns.\n\n## Terms\n\n{terms}\n\n## Words that papers print by region\n\n"
        "Sheet, job card, injector table and test sheet print the words of the region that the appliance file names "
        f"under `[appliance]`.\n\n{papers}"
    )


def _without_figures(text: str) -> str:
    """The words of a stop before anything is read: its figures are left open."""
    return re.sub(r"(?:\{\w+\})+", "\N{HORIZONTAL ELLIPSIS}", text)


def caution_list() -> str:
    """Cautions and stops in full, worst first."""
    parts = [
        "Worst first. An answer ends with those that fit it; no option and no other caution removes one. "
        "Where a test must stop, STOP stands before all of them.",
        "## Cautions",
    ]
    parts += [
        f"### {escaped(one.id)}\n\n**{one.signal}: {escaped(one.hazard)}** {escaped(one.consequence)} "
        f"{escaped(one.avoidance)}"
        for one in cautions()
    ]
    parts += ["## Stops", f"Every stop ends with: *{escaped(ALWAYS)}*"]
    for signal, its in groupby(tables.rows("stops"), key=lambda row: row["signal"]):
        parts += [
            f"### {escaped(row['id'])}\n\n**{signal}: {escaped(_without_figures(row['heading']))}** "
            f"Raised by: {escaped(row['trigger'])}.\n\n"
            f"1. {escaped(_without_figures(row['do_first']))}\n2. {escaped(_without_figures(row['then']))}\n\n"
            f"{'The correction of a slip ends it' if row['typed'] else 'No correction ends it'}: "
            f"{escaped(row['correction'])}."
            for row in its
        ]
    return "\n\n".join(parts)
