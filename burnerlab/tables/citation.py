"""What an answer rests on: publications that its figures name, publications and libraries behind their methods."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from burnerlab.tables.figure import Source, sources
from burnerlab.tables.reader import rows

DECLARED = "declared gas"  # in the column unless of the table
LEFT_OUT = frozenset({"cautions", "prompts", "project_file", "cite", "engines"})
"""Keys under which no figure stands: what to do, the schema of files, and what is found here."""
OF_PROMPTS = "what else to look at"  # the lines of their sources


def sources_behind(document: Mapping[str, Any], declared: Collection[str] = ()) -> tuple[Source, ...]:
    """The sources of an answer, by id: each named in one of its texts, each behind a figure that it holds.

    document : the answer as JSON holds it; declared : names of its gases that are known by heating value and relative
    density alone, which rest on no method for compositions. A figure without a value counts as absent.
    Source of the methods: table ``method_sources``.

    >>> [one.id for one in sources_behind({"expansibility": 0.98, "dew_point_C": None})]
    ['discharge-iso5167-3']
    """
    found: dict[str, Source] = {}
    gas = document.get("gas")
    name = gas.get("name") if isinstance(gas, Mapping) else gas
    about = f"{name} {document.get('heat')}"
    if name in declared:
        about += f" {DECLARED}"
    for key, value, gas in _leaves(document, about):
        ids = [*_behind(key, value, gas)]
        if isinstance(value, str) and not value.startswith(OF_PROMPTS):
            ids += _named(value)
        for id in ids:
            found.setdefault(sources()[id].cite(), sources()[id])
    return tuple(sorted(found.values(), key=lambda source: source.id))


def engines_behind(document: Mapping[str, Any]) -> tuple[str, ...]:
    """The libraries that calculated the figures of an answer, by name.

    document : the answer as JSON holds it, before its engines. Source of the methods: table ``method_engines``.

    >>> engines_behind({"heat_input_gross_kW": 3.5, "hold_time_min": None}), engines_behind({"hold_time_min": 42})
    (('numpy',), ('numpy', 'scipy'))
    >>> engines_behind({"name": "range"})
    ()
    """
    leaves = _leaves(document, "")
    return tuple(
        sorted(
            {
                engine
                for key, value, _ in leaves
                for word, engine in _engines(key)
                if not word or word in str(value)
            }
        )
    )


@cache
def _engines(key: str) -> tuple[tuple[str, str], ...]:
    """What may have calculated the figure of a key: a word of its text, "" for any, and the library."""
    return tuple((row["word"], row["engine"]) for row in rows("method_engines") if key.startswith(row["key"]))


def _leaves(value: Any, gas: str, key: str = "") -> Iterator[tuple[str, Any, str]]:
    """Every key with a value and what its gas is called, and the key of every list and row, from the outside in."""
    if value is None or key in LEFT_OUT:
        return
    if isinstance(value, Mapping) and "kind" in value and "relative_density" in value:  # a gas of its own
        gas = DECLARED if value["kind"] == "declared" else str(value.get("name"))
    yield key, value, gas
    if isinstance(value, Mapping):
        for name, entry in value.items():
            yield from _leaves(entry, gas, str(name))
    elif isinstance(value, Sequence) and not isinstance(value, str):
        for entry in value:
            yield from _leaves(entry, gas, key)


@cache
def _methods() -> tuple[tuple[str, str, str, str], ...]:
    return tuple((row["key"], row["word"], row["unless"], row["source"]) for row in rows("method_sources"))


def _behind(key: str, value: Any, gas: str) -> Iterator[str]:
    """Ids of the sources behind the figure of a key; gas : what the answer calls its gas and its heat."""
    for begins, word, unless, source in _methods():
        is_used = not (unless and unless in gas) and (not word or word in str(value))
        if key.startswith(begins) and is_used:
            yield source


@cache
def _titles() -> tuple[tuple[str, str], ...]:
    """Every title with its id, the longest first: one title may be the beginning of another."""
    titles = [(one.title, one.id) for one in sources().values()]
    return tuple(sorted(titles, key=lambda each: -len(each[0])))


@cache
def _named(text: str) -> tuple[str, ...]:
    """Ids of the sources whose id a text is, or whose title it holds."""
    if text in sources():
        return (text,)
    found, left = [], text
    for title, id in _titles():
        if title in left:
            found.append(id)
            left = left.replace(title, "")
    return tuple(found)
