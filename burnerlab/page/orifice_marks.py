"""The marks on the orifices of a unit, read with the gas off before it is lit: asked once, for every burner."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from burnerlab.appliance.project.model import Orifice
from burnerlab.bench.plan_results import MARK_WORDS, ORIFICE_MARKS
from burnerlab.bench.reading_plan import Plan
from burnerlab.bench.record import InputText, Observation, TestRecord
from burnerlab.bench.stop import StopNotice, stop_notice
from burnerlab.orifice.drill import orifice_words
from burnerlab.page.form import AS_PRINTED, MARK_ANSWERS, NO_MARK, NOT_LOOKED_AT, OTHER_MARK, SEEN, Form
from burnerlab.page.heat_input_test import ALL_BURNERS, Model
from burnerlab.quantity.quantity_text import millimetre
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
    """A burner with the mark of its orifice, and what is answered of it alone; "" as of the others."""

    name: str
    mark: str
    apart: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrificeMarks:
    """The mark that each burner's orifice must have, and where it is from."""

    marks: tuple[tuple[str, str], ...]  # burner, mark
    plan: str = ""  # its number; "" where the model file names them

    @property
    def source(self) -> str:
        """Whose marks they are, in a sentence of a stop."""
        return f"that of plan {self.plan}" if self.plan else "that of the model file"


def _diameter(orifice: Orifice) -> str:
    """Of a hole that the file names by its diameter alone."""
    return millimetre(orifice.diameter_m, ".4g")


def orifice_marks(model: Model | None, form: Form, plan: Plan | None = None) -> OrificeMarks | None:
    """The marks that are asked before a unit is lit: of its plan, else those that its file names; None for neither.

    plan : that is named; without it that of the model. Of a model with several plans none before one is chosen.
    """
    plan = plan or (None if model is None else model.plan_of(form))
    if plan is not None:
        return OrificeMarks(marks=plan.change.orifices, plan=plan.number) if plan.change.orifices else None
    if model is None or model.plans:
        return None
    unit = model.appliance
    marks = tuple(
        (
            one.name,
            orifice_words(one.orifice.drill or _diameter(one.orifice), one.orifice.diameter_m, unit.region),
        )
        for one in unit.burners
        if not one.orifice.is_calculated
    )
    return OrificeMarks(marks=marks) if marks else None


def marked_burners(form: Form, marks: OrificeMarks) -> tuple[MarkedBurner, ...]:
    """The burners, each with its mark and its own answer."""
    apart = _apart(form)
    return tuple(MarkedBurner(name=name, mark=mark, apart=apart.get(name, "")) for name, mark in marks.marks)


def marks_errors(form: Form, marks: OrificeMarks | None) -> dict[str, str]:
    """Why no reading is taken yet; empty where the marks are answered, not asked, or an entry is corrected."""
    if marks is None or form.get("corrects"):
        return {}
    if form.get(ORIFICE_MARKS) not in MARK_ANSWERS:
        return {ORIFICE_MARKS: MISSING}
    return {ORIFICE_MARKS: UNREADABLE} if _apart_or_none(form) is None else {}


def marks_words(form: Form, marks: OrificeMarks | None) -> str:
    """The answers as record and papers have them, what is not as printed first; "" where nothing was asked or answered.

    Each burner stands with its mark.
    """
    if marks is None or form.get(ORIFICE_MARKS) not in MARK_ANSWERS:
        return ""
    answers, by_name = _by_burner(form, marks), dict(marks.marks)
    parts = []
    for answer in (OTHER_MARK, NO_MARK, NOT_LOOKED_AT, AS_PRINTED):
        names = [f"{clean(name)} {clean(by_name[name])}" for name, own in answers.items() if own == answer]
        read = (
            f" (read: {clean(form.get('mark_read'))})"
            if answer == OTHER_MARK and form.get("mark_read")
            else ""
        )
        parts += [f"{MARK_WORDS[answer]}{read}: {', '.join(names)}"] if names else []
    return "; ".join(parts)


def marks_input(
    form: Form, marks: OrificeMarks | None, corrected: TestRecord | None
) -> tuple[InputText, ...]:
    """The answers as an input of the entry; of a correction those of the entry that is corrected."""
    if corrected is not None:
        return tuple(one for one in corrected.test.inputs if one.name == ORIFICE_MARKS)
    words = marks_words(form, marks)
    return (InputText(name=ORIFICE_MARKS, text=words),) if words else ()


def mark_observations(form: Form, marks: OrificeMarks | None, burner: str) -> tuple[Observation, ...]:
    """Whether the mark of the burner under test differs, where it was looked at; every mark for all together."""
    if marks is None or form.get("corrects") or form.get(SEEN + MARK_DIFFERS):
        return ()
    answers = _by_burner(form, marks)
    own = set(answers.values()) if form.get("burner") == ALL_BURNERS else {answers.get(burner, "")}
    if OTHER_MARK in own:
        return (Observation(name=MARK_DIFFERS, answer="yes", burner=burner),)
    return (Observation(name=MARK_DIFFERS, answer="no", burner=burner),) if own == {AS_PRINTED} else ()


def mark_stops(form: Form, marks: OrificeMarks | None) -> tuple[StopNotice, ...]:
    """The stop of a mark that is not that of plan or file, on whichever burner."""
    if marks is None or form.get("corrects"):
        return ()
    by_name = dict(marks.marks)
    names = [name for name, answer in _by_burner(form, marks).items() if answer == OTHER_MARK]
    if not names:
        return ()
    expected = ", ".join(f"{clean(name)} {clean(by_name[name])}" for name in names)
    read = f"; read: {clean(form.get('mark_read'))}" if form.get("mark_read") else ""
    return (stop_notice(MARK_DIFFERS, why=f"another orifice mark than {marks.source}: {expected}{read}"),)


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


def _by_burner(form: Form, marks: OrificeMarks) -> dict[str, str]:
    """The answer of each burner; "" where none was given."""
    apart, of_all = _apart(form), form.get(ORIFICE_MARKS)
    return {name: apart.get(name, of_all) for name, _ in marks.marks}


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
