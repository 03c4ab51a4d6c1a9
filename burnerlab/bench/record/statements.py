"""What a person states before a release or a lighting: words that say something, and a leak test that was done.

The program cannot check that a statement is true. It refuses one that says nothing, or that says it was not done.
Only what is stated from now on is read so: an entry of an older record, and one that is taken in, stays as it is.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping

from burnerlab.bench.record.vocabulary import read_time
from burnerlab.tables.problem import Problem, UserError

FEWEST_LETTERS = 3
NONE_FOUND = "none found"
EXAMPLES: Mapping[str, str] = {
    "name": "K. Moss",
    "qualification": "gas engineer, licence 1234",
    "cause": "union nut loose",
    "repair": "new seal, tightened",
    "leak_test": "detection fluid, every joint: none found",
    "other_supply": "ring main B",
    "leak_test_by": "K. Moss",
    "leak_test_when": "2026-11-25 08:10, or 08:10 of today",
}
"""A statement of each kind, as a refusal shows it."""
SAYS_NOTHING = frozenset(
    [
        "none",
        "nothing",
        "unknown",
        "not known",
        "nobody",
        "not done",
        "not yet",
        "later",
        "tbd",
        "n.a.",
        "nil",
    ]
)
UNDONE = frozenset(
    ["not", "no", "none", "never", "without", "later", "skipped", "omitted", "assumed", "missing", "tomorrow"]
)
DAY = re.compile(r"(?P<day>\d{4}-\d\d-\d\d)(?:[ T](?P<clock>\d{1,2}:\d\d))?")
TODAY = re.compile(r"(?:today,? )?(?P<clock>\d{1,2}:\d\d)", re.IGNORECASE)


def words_problem(text: str, kind: str) -> str:
    """Why this text states nothing; "" when it does, or when it is missing, which others say.

    kind : a key of ``EXAMPLES``

    >>> words_problem("?", "cause")
    'Says nothing: words are needed, such as union nut loose'
    """
    folded = text.strip().casefold()
    letters = {letter for letter in folded if letter.isalpha()}
    enough = sum(letter.isalpha() for letter in folded) >= FEWEST_LETTERS and len(letters) > 1
    if not folded or (enough and folded.strip(" .") not in SAYS_NOTHING):
        return ""
    return f"Says nothing: words are needed, such as {EXAMPLES[kind]}"


def leak_test_problem(text: str) -> str:
    """Why this leak test ends no stop; "" for a method with the finding ``none found``, or when it is missing.

    >>> leak_test_problem("pressure held 10 min: none found")
    ''
    >>> leak_test_problem("not done")[:41]
    'Is no leak test that ends a stop: a relea'
    """
    folded = " ".join(text.casefold().split())
    if not folded:
        return ""
    method = folded.replace(NONE_FOUND, " ", 1).strip(" :,.;")
    if NONE_FOUND not in folded or UNDONE & set(re.findall(r"[^\W\d_]+", method)):
        why = "a release needs one that was done and found nothing"
    elif not method or words_problem(method, "leak_test"):
        why = "the method is missing"
    else:
        return ""
    return (
        f'Is no leak test that ends a stop: {why}. Write the method and "{NONE_FOUND}", '
        f"such as {EXAMPLES['leak_test']}"
    )


def statement_problems(statements: Mapping[str, str]) -> dict[str, str]:
    """Why a release is refused, by the statement it is about: name, qualification, cause, repair, leak_test."""
    wrong = {
        kind: leak_test_problem(text) if kind == "leak_test" else words_problem(text, kind)
        for kind, text in statements.items()
    }
    return {kind: why for kind, why in wrong.items() if why}


def read_leak_test_time(text: str) -> str:
    """When a leak test was made elsewhere, local time: a day, with or without the clock, or the clock of today.

    Raises UserError for anything else, and for what lies in the future.

    >>> read_leak_test_time("2026-11-02 8:10"), read_leak_test_time("2026-11-02")
    ('2026-11-02 08:10', '2026-11-02')
    """
    told = " ".join(text.split())
    found, of_today = DAY.fullmatch(told), TODAY.fullmatch(told)
    key, accepted = "leak test when", f"such as {EXAMPLES['leak_test_when']}"
    if found is None and of_today is None:
        raise UserError(Problem("is not a date and time", value=text, key=key, accepted=accepted))
    day = found["day"] if found else datetime.date.today().isoformat()
    clock = found["clock"] if found else of_today["clock"] if of_today else None
    read = day if clock is None else f"{day} {clock.zfill(5)}"
    read_time(read, key)
    return read
