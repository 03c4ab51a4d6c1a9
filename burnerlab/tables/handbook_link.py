"""Where the handbook explains what was found: the heading of a check or a question, by table ``handbook_links``."""

from __future__ import annotations

import re
from functools import cache

from burnerlab.tables.reader import rows

OCCASION = re.compile(
    r" at (turndown|highest pressure|lowest pressure).*|, (new|present) gas$|, plausibility$"
)
TILE = "tile: "
WITH_ITS_OCCASION = "flame at turndown"


@cache
def _links() -> dict[str, str]:
    return {row["topic"]: row["handbook"] for row in rows("handbook_links")}


@cache
def handbook_of(topic: str) -> str:
    """The page and heading of a check, without occasion and gas; "" for one that the table does not hold.

    >>> handbook_of("lift at highest pressure"), handbook_of("tile: lift"), handbook_of("tile: firing density")
    ('burner#lift', 'tile#lift', 'tile#firing-density')
    """
    short = WITH_ITS_OCCASION if topic.startswith(WITH_ITS_OCCASION) else OCCASION.sub("", topic)
    return _links().get(short) or _links().get(short.removeprefix(TILE), "")
