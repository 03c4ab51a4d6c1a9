"""Words that results keep and papers print: checks with their occasions, limits of a flame, remarks of a unit."""

from __future__ import annotations

import re
from functools import cache

from burnerlab import tables
from burnerlab.tables.catalogue import gas_titles
from burnerlab.tables.handbook_link import TILE
from burnerlab.tables.phrase import Phrase, joined

OF_FLAME = (
    Phrase("lift"), Phrase("yellow tips"), Phrase("light-back"), Phrase("cold"), Phrase("hot"), Phrase("hot metal"),
    Phrase("full rate"), Phrase("turndown"), Phrase("lowest pressure"), Phrase("highest pressure"),
)  # fmt: skip
OF_UNIT = (
    Phrase("gauge"), Phrase("absolute"), Phrase("above the set point"), Phrase("of the rating"),
    Phrase("of the set point"),
)  # fmt: skip
OF_SUPPLY = (
    Phrase("supply"), Phrase("regulator"), Phrase("hose"), Phrase("pipe"), Phrase("manifold"), Phrase("valves"),
)  # fmt: skip
"""Elements of a supply, as its notes and checks name them."""
WOBBE = " gross Wobbe at "
OCCASION = re.compile(r"(?P<check>.+) at (?P<occasion>turndown|lowest pressure|highest pressure)")


def gas_words(title: str) -> str:
    """A gas as a paper calls it: one of the shipped library has a name in each language, one of the user's its own."""
    return Phrase(title) if title in gas_titles() else title


@cache
def _topics() -> frozenset[str]:
    return frozenset(row["topic"] for row in tables.rows("handbook_links"))


def topic_words(topic: str) -> str:
    """The name of a check or of a question, with its occasion.

    >>> topic_words("tile: lift at turndown").template
    '{check} at {occasion}'
    """
    if topic in _topics():
        return Phrase(topic)
    if hit := OCCASION.fullmatch(topic):
        return Phrase(
            "{check} at {occasion}", check=topic_words(hit["check"]), occasion=moment_words(hit["occasion"])
        )
    check, _, last = topic.rpartition(", ")
    if last in ENDINGS:
        return joined(", ", (topic_words(check), ENDINGS[last]))
    if topic.startswith(TILE):
        return Phrase("tile: {check}", check=topic_words(topic.removeprefix(TILE)))
    return topic


ENDINGS = {
    "new gas": Phrase("new gas"),
    "present gas": Phrase("present gas"),
    "plausibility": Phrase("plausibility"),
}


def moment_words(text: str) -> str:
    """A limit of the flame, or when it is nearest: words with commas between them.

    >>> moment_words("cold, highest pressure").values["part0"].template
    'cold'
    """
    known = {str(word): word for word in OF_FLAME}
    return joined(", ", (known.get(part, part) for part in text.split(", ")))


def unit_words(unit: str) -> str:
    """A unit with what is said of it; a bare ratio has none.

    >>> unit_words("mbar above the set point").template, unit_words("-")
    ('{part0} {part1}', '')
    """
    if unit in ("-", "1"):
        return ""
    own, wobbe, state = unit.partition(WOBBE)
    if wobbe:
        return Phrase("{unit} gross Wobbe at {state}", unit=own, state=state)
    remark = next((word for word in OF_UNIT if unit.endswith(f" {word}")), None)
    return unit if remark is None else joined(" ", (unit.removesuffix(f" {remark}"), remark))
