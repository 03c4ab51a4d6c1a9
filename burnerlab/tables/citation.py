"""Which publications an answer rests on: those that its figures name, and those behind the method of a figure."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from burnerlab.tables.figure import Source, sources
from burnerlab.tables.reader import rows

DECLARED = "declared gas"  # in the column unless of the table
LEFT_OUT = frozenset({"cautions", "prompts"})  # what to do, whatever was calculated
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
    about = f"{document.get('gas')} {document.get('heat')}"
    if document.get("gas") in declared:
        about += f" {DECLARED}"
    for key, value, gas in _leaves(document, about):
        ids = [*_behind(key, value, gas)]
        if isinstance(value, str) and not value.startswith(OF_PROMPTS):
            ids += _named(value)
        for id in ids:
            found.setdefault(sources()[id].cite(), sources()[id])
    return tuple(sorted(found.values(), key=lambda source: source.id))


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
