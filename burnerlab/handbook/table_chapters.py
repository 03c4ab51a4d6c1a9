"""Chapters of the tables: what each answers, its columns and sources, how many rows were seen, computed, recalled."""

from __future__ import annotations

from collections import Counter

from burnerlab import tables
from burnerlab.appliance.project.keys import table_keys
from burnerlab.appliance.project.model import OwnTables
from burnerlab.handbook.markdown_text import anchor_of, code, escaped, sentence, table
from burnerlab.tables.folders import data_dir

OF_ORIGIN = ("source", "place", "provenance", "note")
OWN = {
    "stand in": "Rows of a table of your own stand in for those of the same",
    "replace": "A table of your own of these columns replaces it; the key is",
}
INTRODUCTION = """Every number that was taken from outside is a row of one of these tables and names its source, the
place in it and its provenance. *seen*: read in a public copy of the source. *definition*: exact by definition.
*computed*: by another library or a second calculation. *memory*: recalled, not checked in the publication.
*common practice*: a habit of the trade or a judgement of ours. The files stand in `burnerlab/tables/data`; what they
cite, in [sources](sources.md)."""


def data_tables() -> str:
    """Every shipped table."""
    counts = Counter(row["provenance"] for name in tables.names() for row in tables.rows(name))
    total = table(("provenance", "rows"), [(word, f"{count}") for word, count in counts.most_common()])
    return "\n\n".join([INTRODUCTION, total, *map(_table, tables.names())])


def question_of(name: str) -> str:
    """What a table answers: the comment that begins its file.

    >>> question_of("roughness")
    'height of the equivalent sand grains of a wall [m]'
    """
    lines = (data_dir() / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    comment = []
    for line in lines:
        if not line.startswith("# "):
            break
        comment.append(line.removeprefix("# ").strip())
    return " ".join(comment)


def _table(name: str) -> str:
    rows = tables.rows(name)
    own = [column for column in rows[0] if column not in OF_ORIGIN]
    counts = Counter(row["provenance"] for row in rows)
    cited = Counter(row["source"] for row in rows)
    parts = [
        f"## {name}",
        sentence(escaped(question_of(name))),
        f"- Columns: {', '.join(map(code, own))}",
        f"- Rows: {len(rows)}, {', '.join(f'{count} {word}' for word, count in counts.most_common())}",
        "- Sources: "
        + ", ".join(f"[{source}](sources.md#{anchor_of(source)})" for source, _ in cited.most_common()),
    ]
    contents = tables.CONTENTS.get(name)
    if contents is not None and not contents.columns:
        parts.append(f"- {OWN[contents.own]} {', '.join(map(code, contents.key))}. {_named_by(name)}.")
    return "\n\n".join(parts[:2]) + "\n\n" + "\n".join(parts[2:])


def _named_by(name: str) -> str:
    """Where a user names a table of their own in place of ours."""
    by_key = [f"{code(name)} under {code('[tables]')} of the appliance file"] * (
        name in table_keys(OwnTables)
    )
    option = tables.OPTION_OF.get(name, "").replace("_", "-")
    by_option = [f"the option {code(f'--{option}')}"] * bool(option)
    return f"It is named by {' or '.join((*by_key, *by_option)) or 'a parameter of the Python functions'}"


def source_list() -> str:
    """Every publication, data set and library that a table, a gas or a check value cites."""
    cited: dict[str, list[str]] = {}
    for name in tables.names():
        for source in dict.fromkeys(row["source"] for row in tables.rows(name)):
            cited.setdefault(source, []).append(name)
    parts = [
        "Publications, data sets and libraries that tables, gases and check values name, by their id. The titles are "
        "theirs."
    ]
    for key, one in sorted(tables.sources().items()):
        lines = [f"## {key}", sentence(escaped(one.cite()))]
        lines += [sentence(escaped(one.note))] if one.note else []
        lines += [f"Licence: {sentence(escaped(one.licence))}"] if one.licence else []
        if key in cited:
            lines.append("Tables: " + ", ".join(f"[{name}](tables.md#{name})" for name in cited[key]))
        parts.append("\n\n".join(lines))
    return "\n\n".join(parts)
