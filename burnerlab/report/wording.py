"""The words of a sheet: cautions that no option removes, and what a user wrote made fit to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from burnerlab import tables
from burnerlab.appliance.result import Verdict

LONGEST_NAME = 80

STATEMENT = (
    "Calculated values for a qualified person to check. The appliance must be tested and accepted under the rules "
    "of the place of use before it is operated."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A hazard, what it can do and how to avoid it, under its signal word."""

    signal: Literal["WARNING", "NOTICE"]
    topic: str
    text: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        signal="WARNING",
        topic="gas leak",
        text="A joint opened for this work can leak, and leaking gas can ignite or explode. Gas heavier than air, "
        "such as propane or butane, lies in low places. Shut off the supply before opening a joint; afterwards hold "
        "pressure, then look for bubbles with soap solution at working pressure, away from any flame.",
    ),
    Caution(
        signal="WARNING",
        topic="carbon monoxide",
        text="A burner with too little air makes carbon monoxide, which can kill without smell or warning, indoors "
        "and in a garage with its doors open. Nothing here predicts it: measure it, air-free, with the new gas at "
        "full and low rate.",
    ),
    Caution(
        signal="WARNING",
        topic="fire",
        text="A flame that lifts, lights back, crosses late or is too large can set fire to what is near. Watch "
        "ignition of every port, full and low flame, and flame in wind, with the new gas, before the appliance is "
        "used.",
    ),
    Caution(
        signal="WARNING",
        topic="burns",
        text="Surfaces, orifices and flue gas burn skin. Let the appliance cool before touching it; surface "
        "temperatures are not calculated here.",
    ),
    Caution(
        signal="NOTICE",
        topic="drills",
        text="A twist drill turned by a machine, or a worn one, spoils a small orifice. Drill by hand with a pin vice, "
        "from a marked blank or the maker's part, remove the burr and check the bore with a pin gauge.",
    ),
    Caution(
        signal="NOTICE",
        topic="what comes first",
        text="The appliance maker's instructions, certified testing, the local gas code and licensed practice come "
        "before anything on this sheet. A converted appliance no longer matches its rating plate or its certificate "
        "until a qualified body accepts it.",
    ),
)


# rows of the table of cautions that the standing ones say at greater length, and the topic of the others
SAID_ABOVE = ("statement", "leak", "co", "plate")
TOPICS = {"bench": "bench test", "scope": "what is not covered"}


def all_cautions(added: Sequence[str] = ()) -> tuple[Caution, ...]:
    """The standing cautions, then what a result adds; no option removes any."""
    known = {row["text"]: row["name"] for row in tables.rows("cautions")} | {STATEMENT: "statement"}
    more = []
    for text in dict.fromkeys(added):
        if known.get(text) in SAID_ABOVE:
            continue
        signal: Literal["WARNING", "NOTICE"] = "WARNING" if text.startswith("WARNING: ") else "NOTICE"
        words = clean(text.removeprefix(f"{signal}: "))
        more.append(Caution(signal=signal, topic=TOPICS.get(known.get(text, ""), "this result"), text=words))
    return CAUTIONS + tuple(more)


# printed word, and the shape that stands beside it: meaning is never carried by colour
SHAPES: dict[Verdict, str] = {
    "within": "disc",
    "near": "half",
    "outside": "triangle",
    "not evaluated": "dash",
}
RANK: dict[Verdict, int] = {"outside": 0, "near": 1, "not evaluated": 2, "within": 3}


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """The verdict that needs attention first.

    >>> worst(["within", "near"]), worst([])
    ('near', 'not evaluated')
    """
    return min(verdicts, key=RANK.__getitem__, default="not evaluated")


def clean(text: str, longest: int | None = None) -> str:
    """Text as it may be printed: one line, no control or direction characters, cut at ``longest``.

    >>> clean("a\\tb\\x00c\\u202ed"), clean("x" * 90, longest=5)
    ('a b?c?d', 'xxxx…')
    """
    line = "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in text)
    line = " ".join(line.split())
    return line if longest is None or len(line) <= longest else line[: longest - 1].rstrip() + "…"


def file_name(path: str) -> str:
    """The name of a file without the folders of the machine it lay on, so that the sheet does not depend on them.

    >>> file_name("/home/anyone/range.toml"), file_name("C:\\\\jobs\\\\range.toml")
    ('range.toml', 'range.toml')
    """
    return path.replace("\\", "/").rpartition("/")[2]


def name(text: str) -> str:
    """A name a user chose, as printed: at most 80 characters."""
    return clean(text, LONGEST_NAME)
