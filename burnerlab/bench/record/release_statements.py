"""What a qualified person states to end a stop, the same at the bench page and at the command line."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from burnerlab.bench.record.checks import EXAMPLES, NONE_FOUND, UNDONE, leak_test_problem, words_problem
from burnerlab.bench.record.entry import LONGEST_NAME, LONGEST_NOTE
from burnerlab.tables.release_text import STATEMENT_TEXTS

OF_LEAK = frozenset({"odour", "leak-suspected"})
OF_CARBON_MONOXIDE = frozenset({"co-alarm"})  # flue gas is read again after the release, never before
SEARCH_TOOLS = re.compile(r"\b(?:fluid|detector|detection|sniffer)\b")
MOTION = re.compile(r"\b(?:not|no|never|moves?|moved|turns?|turned)\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseStatement:
    """One statement of a release: what is written, how, and which stops it is needed for."""

    kind: str  # argument of ``release``
    label: str
    hint: str
    problem: Callable[[str], str]  # why a text states nothing; "" for one that does, or for none
    longest: int = LONGEST_NOTE
    stops: frozenset[str] = frozenset()  # ids that it is needed for; none named: every stop
    kept_in: str = ""  # statement whose text it joins in the record; "" for a column of its own
    lead: str = ""  # words before it there

    def is_needed(self, stops: Collection[str]) -> bool:
        """Whether a release of stops of these ids cannot do without it."""
        return not self.stops or not self.stops.isdisjoint(stops)


def meter_at_rest_problem(text: str) -> str:
    """Why this is no meter at rest after a repair; "" for a time with the word still, or when it is missing.

    >>> meter_at_rest_problem("10 min, still"), meter_at_rest_problem("10 min, moved")[:13]
    ('', 'Ends no stop:')
    """
    folded = text.casefold()
    states_rest = re.search(r"\d", text) and re.search(r"\bstill\b", folded)
    if not text or (states_rest and not MOTION.search(folded)):
        return ""
    return (
        f'Ends no stop: write how long the meter was watched with all burners off, and "still", '
        f"such as {EXAMPLES['meter_at_rest']}"
    )


def leak_search_problem(text: str) -> str:
    """Why this search of the joints ends no stop; "" for fluid or detector with ``none found``, or when it is missing.

    >>> leak_search_problem("detection fluid, every joint: none found"), leak_search_problem("none found")[:13]
    ('', 'Ends no stop:')
    """
    folded = " ".join(text.casefold().split())
    method = folded.replace(NONE_FOUND, " ", 1)
    is_undone = UNDONE & set(re.findall(r"[^\W\d_]+", method))
    if not folded or (NONE_FOUND in folded and SEARCH_TOOLS.search(method) and not is_undone):
        return ""
    return (
        "Ends no stop: every joint is searched at working pressure with leak detection fluid or a gas detector, "
        f'and no gas is detected. Write with what, and "{NONE_FOUND}", such as {EXAMPLES["leak_search"]}'
    )


def carbon_monoxide_problem(text: str) -> str:
    """Why this is no reading of carbon monoxide; "" for one with a figure, or when it is missing.

    >>> carbon_monoxide_problem("0 ppm at head height, CO meter 7"), carbon_monoxide_problem("fine")[:13]
    ('', 'Says no value')
    """
    if not text or re.search(r"\d", text):
        return ""
    return f"Says no value: write the reading, such as {EXAMPLES['carbon_monoxide']}"


def _words(kind: str) -> Callable[[str], str]:
    return lambda text: words_problem(text, kind)


def _statement(kind: str, **more: Any) -> ReleaseStatement:
    text = STATEMENT_TEXTS[kind]
    return ReleaseStatement(kind=kind, label=text.label, hint=text.hint, **{"problem": _words(kind)} | more)


_beside_leak_test = partial(_statement, stops=OF_LEAK, kept_in="leak_test")
RELEASE_STATEMENTS = (
    _statement("name", longest=LONGEST_NAME),
    _statement("qualification", longest=LONGEST_NAME),
    _statement("cause"),
    _statement("repair"),
    _statement("leak_test", problem=leak_test_problem),
    _beside_leak_test("leak_search", problem=leak_search_problem, lead="joints searched with"),
    _beside_leak_test("meter_at_rest", problem=meter_at_rest_problem, lead="meter with all burners off:"),
    _statement(
        "carbon_monoxide",
        problem=carbon_monoxide_problem,
        stops=OF_CARBON_MONOXIDE,
        kept_in="repair",
        lead="carbon monoxide after the repair:",
    ),
)
"""In the order in which they are written."""


def needed_statements(stops: Collection[str]) -> tuple[ReleaseStatement, ...]:
    """The statements that a release of stops of these ids needs.

    >>> [one.kind for one in needed_statements({"odour"})][-2:], len(needed_statements({"soot"}))
    (['leak_search', 'meter_at_rest'], 5)
    """
    return tuple(one for one in RELEASE_STATEMENTS if one.is_needed(stops))


def statement_problems(statements: Mapping[str, str], stops: Collection[str]) -> dict[str, str]:
    """Why a release is refused, by the statement it is about; what is missing included.

    stops : ids of the stops that it ends

    >>> statement_problems({"name": "?"}, {"soot"})["qualification"]
    'Is missing'
    """
    wrong: dict[str, str] = {}
    for one in RELEASE_STATEMENTS:
        text = " ".join(statements.get(one.kind, "").split())
        if not text:
            wrong |= {one.kind: "Is missing"} if one.is_needed(stops) else {}
        elif len(text) > one.longest:
            wrong[one.kind] = f"Is longer than {one.longest} characters"
        elif why := one.problem(text):
            wrong[one.kind] = why
    for kind, text in kept_statements(statements).items():
        if kind not in wrong and len(text) > LONGEST_NOTE:
            wrong[kind] = "Is too long with the readings after the repair"
    return wrong


def kept_statements(statements: Mapping[str, str]) -> dict[str, str]:
    """The statements as the record keeps them: those without a column of their own join another.

    >>> kept_statements({"leak_test": "pressure held: none found", "meter_at_rest": "10 min, still"})["leak_test"]
    'pressure held: none found; meter with all burners off: 10 min, still'
    """
    kept = {one.kind: statements.get(one.kind, "") for one in RELEASE_STATEMENTS if not one.kept_in}
    for one in RELEASE_STATEMENTS:
        text = " ".join(statements.get(one.kind, "").split())
        if one.kept_in and text:
            kept[one.kept_in] += f"; {one.lead} {text}"
    return kept
