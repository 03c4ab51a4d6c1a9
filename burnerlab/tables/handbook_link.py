"""Where the handbook explains what is shown: page and heading, by the table ``handbook_links``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import Literal

from burnerlab.tables.reader import rows

OCCASION = re.compile(
    r" at (turndown|highest pressure|lowest pressure).*|, (new|present) gas$|, plausibility$"
)
TILE = "tile: "
WITH_ITS_OCCASION = "flame at turndown"
HANDBOOK = "handbook "
LOOK_UP = f"burnerlab {HANDBOOK}"
EXPLAINED = f"Explained: {LOOK_UP}"
WIDTH = 80  # of a terminal

Explained = Literal["check", "section", "picture", "cause", "stop"]


@cache
def _links() -> dict[tuple[str, str], str]:
    return {(row["of"], row["topic"]): row["handbook"] for row in rows("handbook_links")}


def handbook_addresses() -> frozenset[str]:
    """Every heading of the table with its page; a page alone is a plain word.

    >>> "burner#lift" in handbook_addresses()
    True
    """
    return frozenset(at for at in _links().values() if "#" in at)


@cache
def handbook_of(topic: str, of: Explained = "check") -> str:
    """The page and heading of a check, without occasion and gas, or of another id; "" for what the table does not hold.

    of : what the topic is: a check or question of a conversion, or by its id a section, a picture, a cause or a stop

    >>> handbook_of("lift at highest pressure"), handbook_of("tile: lift"), handbook_of("tile: firing density")
    ('burner#lift', 'tile#lift', 'tile#firing-density')
    >>> handbook_of("soot", "stop"), handbook_of("no regulator", "cause")
    ('cautions#soot', 'causes#regulator-and-pressure')
    """
    if of != "check":
        return _links().get((of, topic), "")
    short = WITH_ITS_OCCASION if topic.startswith(WITH_ITS_OCCASION) else OCCASION.sub("", topic)
    return _links().get((of, short)) or _links().get((of, short.removeprefix(TILE)), "")


def look_up_line(addresses: Iterable[str]) -> str:
    """The command that shows the first heading of the handbook, and the addresses of others as far as a line reaches.

    >>> look_up_line(["burner#lift", "", "burner#lift", "tile#aeration"])
    'Explained: burnerlab handbook burner#lift; or tile#aeration'
    >>> look_up_line([])
    ''
    """
    first, *others = dict.fromkeys(filter(None, addresses)) or [""]
    line = f"{EXPLAINED}{first}" if first else ""
    for place, other in enumerate(others):
        more = f"{', ' if place else '; or '}{other}"
        if len(line + more) > WIDTH:
            break
        line += more
    return line
