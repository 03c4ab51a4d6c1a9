"""The marks on the orifices of a unit, read with the gas off before it is lit: asked once, for every burner."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from burnerlab.bench.plan_results import MARK_WORDS, ORIFICE_MARKS
from burnerlab.bench.reading_plan import Plan
from burnerlab.bench.record import InputText, Observation, TestRecord
from burnerlab.bench.stop import StopNotice, stop_notice
from burnerlab.page.form import AS_PRINTED, MARK_ANSWERS, NO_MARK, NOT_LOOKED_AT, OTHER_MARK, SEEN, Form
from burnerlab.page.heat_input_test import ALL_BURNERS
from burnerlab.report.sheet.wording import clean

MARK_FIELDS = (ORIFICE_MARKS, "marks_apart", "mark_read")
MARK_DIFFERS = "mark-differs"
WORDS_FOR_ALL: Mapping[str, str] = {**MARK_WORDS, AS_PRINTED: "as printed, on every burner"}
MISSING = "Is missing: read every mark with the gas off, then answer; not looked at is an answer"
UNREADABLE = "Which burner has which mark cannot be read: answer again"
ANEW = "anew"  # what the button sends that asks a second time
NOT_KNOWN = (NO_MARK, NOT_LOOKED_AT)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedBurner:
    """A burner with the mark of its orifice by the plan, and what is answered of it alone; "" as of the others."""

    name: str
    mark: str
    apart: str = ""


def asks_for_marks(plan: Plan | None) -> bool:
    """Whether the marks of the orifices are asked before a unit of a plan is lit."""
    return plan is not None and bool(plan.change.orifices)


def marked_burners(form: Form, plan: Plan) -> tuple[MarkedBurner, ...]:
    """The burners of a plan, each with its mark and its own answer."""
    apart = _apart(form)
    return tuple(
        MarkedBurner(name=name, mark=mark, apart=apart.get(name, "")) for name, mark in plan.change.orifices
    )


def marks_errors(form: Form, plan: Plan | None) -> dict[str, str]:
    """Why no reading is taken yet; empty where the marks are answered, not asked, or an entry is corrected."""
    if not asks_for_marks(plan) or form.get("corrects"):
        return {}
    if form.get(ORIFICE_MARKS) not in MARK_ANSWERS:
        return {ORIFICE_MARKS: MISSING}
    return {ORIFICE_MARKS: UNREADABLE} if _apart_or_none(form) is None else {}


def marks_words(form: Form, plan: Plan | None) -> str:
    """The answers as record and papers have them, what is not as printed first; "" where nothing was asked or answered.

    Each burner stands with its mark by the plan.
    """
    if plan is None or not asks_for_marks(plan) or form.get(ORIFICE_MARKS) not in MARK_ANSWERS:
        return ""
    answers = _by_burner(form, plan)
    marks = dict(plan.change.orifices)
    parts = []
    for answer in (OTHER_MARK, NO_MARK, NOT_LOOKED_AT, AS_PRINTED):
        names = [f"{clean(name)} {clean(marks[name])}" for name, own in answers.items() if own == answer]
        read = (
            f" (read: {clean(form.get('mark_read'))})"
            if answer == OTHER_MARK and form.get("mark_read")
            else ""
        )
        parts += [f"{MARK_WORDS[answer]}{read}: {', '.join(names)}"] if names else []
    return "; ".join(parts)


def marks_input(form: Form, plan: Plan | None, corrected: TestRecord | None) -> tuple[InputText, ...]:
    """The answers as an input of the entry; of a correction those of the entry that is corrected."""
    if corrected is not None:
        return tuple(one for one in corrected.test.inputs if one.name == ORIFICE_MARKS)
    words = marks_words(form, plan)
    return (InputText(name=ORIFICE_MARKS, text=words),) if words else ()


def mark_observations(form: Form, plan: Plan | None, burner: str) -> tuple[Observation, ...]:
    """Whether the mark of the burner under test differs, where it was looked at; every mark for all together."""
    if plan is None or not asks_for_marks(plan) or form.get("corrects") or form.get(SEEN + MARK_DIFFERS):
        return ()
    answers = _by_burner(form, plan)
    own = set(answers.values()) if form.get("burner") == ALL_BURNERS else {answers.get(burner, "")}
    if OTHER_MARK in own:
        return (Observation(name=MARK_DIFFERS, answer="yes", burner=burner),)
    return (Observation(name=MARK_DIFFERS, answer="no", burner=burner),) if own == {AS_PRINTED} else ()


def mark_stops(form: Form, plan: Plan | None) -> tuple[StopNotice, ...]:
    """The stop of a mark that is not that of the plan, on whichever burner."""
    if plan is None or not asks_for_marks(plan) or form.get("corrects"):
        return ()
    marks = dict(plan.change.orifices)
    names = [name for name, answer in _by_burner(form, plan).items() if answer == OTHER_MARK]
    if not names:
        return ()
    expected = ", ".join(f"{clean(name)} {clean(marks[name])}" for name in names)
    read = f"; read: {clean(form.get('mark_read'))}" if form.get("mark_read") else ""
    return (
        stop_notice(
            MARK_DIFFERS, why=f"another orifice mark than that of plan {plan.number}: {expected}{read}"
        ),
    )


def marks_left(entries: Sequence[TestRecord]) -> list[str]:
    """What the newest answer of a unit leaves open, each with its burners; none of a unit that was not asked."""
    words = (
        one.text
        for entry in entries
        if entry.is_current
        for one in entry.test.inputs
        if one.name == ORIFICE_MARKS
    )
    open_words = tuple(f"{MARK_WORDS[answer]}: " for answer in NOT_KNOWN)
    return [f"orifice marks, {part}" for part in next(words, "").split("; ") if part.startswith(open_words)]


def _by_burner(form: Form, plan: Plan) -> dict[str, str]:
    """The answer of each burner of a plan; "" where none was given."""
    apart, of_all = _apart(form), form.get(ORIFICE_MARKS)
    return {name: apart.get(name, of_all) for name, _ in plan.change.orifices}


def _apart(form: Form) -> dict[str, str]:
    return _apart_or_none(form) or {}


def _apart_or_none(form: Form) -> dict[str, str] | None:
    """Burners with an answer of their own; None for a text that no page of ours writes."""
    text = form.get("marks_apart")
    try:
        apart = json.loads(text) if text else {}
    except (ValueError, RecursionError):
        return None
    is_ours = isinstance(apart, dict) and all(_is_answer(each) for each in apart.values())
    return {str(name): answer for name, answer in apart.items()} if is_ours else None


def _is_answer(value: object) -> bool:
    return isinstance(value, str) and value in MARK_ANSWERS
