"""Words that no answer, page, table or notebook may say: approval, quality, and what hurts the person who obeys.

A word is excused by not, never, no or cannot within the three words before it, or as part of an exact phrase: a
negation somewhere else on the line excuses nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from burnerlab import tables

FORBIDDEN = {
    "approval": r"\b(safe(ly|ty)?|approv(ed|al)|complian(t|ce)|guarantee[sd]?|ensures?|harmless|foolproof)\b",
    "quality": r"\b(good|fine|ok|okay|perfect|sound (unit|burner)s?|in order|as wanted|(fit|ready) (for|to) use)\b",
    "result": r"\b(unit|burner|test)s? (pass|fail)(ed|es)?\b|\bnothing (is )?wrong\b|\bfigures agree\b"
    r"|\bgeometry is exact\b",
    "flame": r"\b(re-?light|re-?ignite|light (it )?again|(look|try) again)\b",
    "gas work": r"\b(enlarge|drill out|raise the pressure|soap|draw from two|take .{0,20}marking off)\b",
    "cylinder": r"\b(carry|bring|take|move)\b.{0,40}\b(indoors|inside|warm room)\b"
    r"|\bwarm(ing)? (a|the) (cylinder|gas)\b",
    "verdict": r"\b(within|near)\s+(good|exact)\b|\btrust\b",
}
PATTERNS = {kind: re.compile(pattern, re.IGNORECASE) for kind, pattern in FORBIDDEN.items()}
PATTERNS["result in capitals"] = re.compile(r"\b(PASS|FAIL)(ED)?\b")
EXCUSED = re.compile(r"\b(not|never|no|cannot)(\W+\w+){0,2}\W+$", re.IGNORECASE)
PHRASES = re.compile(r"certified (testing|conversion kit)|certification body|good practice", re.IGNORECASE)

ON_GAS_PARTS = re.compile(
    r"\b(changes?|fits?|refits?|replaces?|removes?|takes? out|unscrews?|counts the old|read the mark on)\b"
    r"[^.;]{0,40}\b(orifices?|injectors?|regulators?|valves?|hoses?|the gauge|joints?)\b",
    re.IGNORECASE,
)
GUARDS = {
    "gas off": re.compile(r"gas (shut )?off|valve closed", re.IGNORECASE),
    "by whom": re.compile(r"qualified person", re.IGNORECASE),
    "test after": re.compile(r"leak test", re.IGNORECASE),
}


def unguarded(text: str) -> list[str]:
    """What an instruction to open or change a gas part leaves unsaid: gas off, by whom, how it is tested after.

    >>> unguarded("Gas off: a qualified person changes the orifice and leak tests it.")
    []
    >>> unguarded("Take out the orifice.")
    ['gas off', 'by whom', 'test after']
    """
    return (
        [name for name, guard in GUARDS.items() if not guard.search(text)]
        if ON_GAS_PARTS.search(text)
        else []
    )


def claims(text: str) -> list[str]:
    """The forbidden words of a text, each with what stands around it.

    >>> claims("never warm a cylinder: draw from two")
    ['gas work: never warm a cylinder: draw from two']
    """
    text = " ".join(PHRASES.sub(" ", text).split())
    found = list(_hits(text))
    if found:  # titles of publications are theirs
        for source in tables.sources().values():
            for words in (source.title, source.note):
                text = text.replace(" ".join(words.split()), " ") if words else text
        found = list(_hits(text))
    return found


def _hits(text: str) -> Iterator[str]:
    for kind, pattern in PATTERNS.items():
        for hit in pattern.finditer(text):
            if not EXCUSED.search(text[max(0, hit.start() - 80) : hit.start()]):
                yield f"{kind}: {text[max(0, hit.start() - 50) : hit.end() + 30]}"
