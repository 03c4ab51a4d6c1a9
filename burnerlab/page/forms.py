"""The form as it stands in the address, and what its texts say."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import parse_qsl, urlencode

from burnerlab.page.fields import (
    BARE,
    LONGEST_TEXT,
    METHODS,
    STEPS,
    UNIT_OF,
    Field,
    Step,
    fields,
)
from burnerlab.quantity import System
from burnerlab.report.wording import clean
from burnerlab.tables.problem import Problem, UserError

MOST_FIELDS = 100
LONGEST_WORDS = 160  # of what was read, in an entry that was wrong
LONGEST_FIELD = 2000  # beyond it a request is refused unread
SYSTEMS: tuple[System, ...] = ("metric", "US")


class RefusedError(Exception):
    """A request that no form of ours makes; ``status`` and a sentence for whoever made it."""

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status, self.sentence = status, sentence


def pairs_of(text: str) -> dict[str, str]:
    """Names and values of an address or a form. Raises RefusedError for what is no form of ours.

    >>> pairs_of("serial=C-1&tester=R.+Quill")
    {'serial': 'C-1', 'tester': 'R. Quill'}
    """
    try:
        pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS, errors="strict")
    except UnicodeDecodeError:
        raise RefusedError(400, "The form is not UTF-8 text.") from None
    except ValueError:
        raise RefusedError(400, f"The form holds more than {MOST_FIELDS} fields.") from None
    found: dict[str, str] = {}
    for name, value in pairs:
        if name in found:
            raise RefusedError(400, "A field of the form is given twice.")
        if len(name) > LONGEST_FIELD or len(value) > LONGEST_FIELD:
            raise RefusedError(400, f"A field of the form is longer than {LONGEST_FIELD} characters.")
        if not all(c.isprintable() or c in "\r\n" for c in value):
            raise RefusedError(400, "A field of the form holds a character that cannot be printed.")
        found[name] = " ".join(value.split())
    return found


@dataclass(frozen=True, slots=True)
class Form:
    """What was entered so far, as text; it stands in the address, so that a page can be bookmarked."""

    texts: tuple[tuple[str, str], ...] = ()
    system: System = "metric"

    @staticmethod
    def of(pairs: dict[str, str], system: System = "metric") -> Form:
        """The fields of ours among ``pairs``, turned into the units asked for; others and empty ones are left out."""
        asked = pairs.get("units")
        chosen = next((one for one in SYSTEMS if one == asked), system)
        form = Form(tuple(_texts(pairs, chosen)), chosen)
        other = next((one for one in SYSTEMS if one == pairs.get("into")), chosen)
        return form if other == chosen else form.in_system(other)

    def repairs(self, errors: Iterable[str]) -> dict[str, str]:
        """Fields with a decimal comma, and what each would be read as with a point."""
        known = fields()
        told = {name: known[name].pointed(self.get(name), self.system) for name in errors if name in known}
        return {name: text for name, text in told.items() if text}

    def get(self, name: str) -> str:
        return dict(self.texts).get(name, "")

    @property
    def method(self) -> str:
        found = self.get("method")
        return found if found in METHODS else METHODS[0]

    def having(self, **changed: str) -> Form:
        """The form with other texts; an empty one takes the field out."""
        return Form.of(dict(self.texts) | changed, self.system)

    def kept(self) -> Form:
        """What stays for the next unit."""
        return Form(tuple((n, t) for n, t in self.texts if fields()[n].is_kept), self.system)

    def without(self, step: Step) -> tuple[tuple[str, str], ...]:
        """Texts of the other steps, which a form of ``step`` carries along."""
        return tuple((name, text) for name, text in self.texts if fields()[name].step != step)

    def in_system(self, system: System) -> Form:
        """The same in the other system: bare numbers get the unit they were entered in.

        >>> Form((("dial", "2"),), "US").in_system("metric").get("dial")
        '2 ft3'
        """
        told = {name: fields()[name].spelled(text, self.system) for name, text in self.texts}
        return Form.of(told, system)

    def query(self) -> str:
        return urlencode([*self.texts, ("units", self.system)])


def _texts(pairs: dict[str, str], system: System) -> Iterator[tuple[str, str]]:
    """What was entered in each field: with the unit chosen beside it, and with a point where that was asked for."""
    repair = pairs.get("repair", "").split()
    for name, field in fields().items():
        text = pairs.get(name, "")
        unit = pairs.get(name + UNIT_OF, "")
        if text and unit in field.units(system)[1:] and BARE.fullmatch(text):
            text = f"{text} {unit}"
        if name in repair:
            text = field.pointed(text, system) or text
        if text:
            yield name, text


@dataclass(slots=True)
class FormValues:
    """What the texts of a form say, in SI, and what is wrong with them, by field."""

    form: Form
    values: dict[str, Any]
    errors: dict[str, str]

    def get(self, name: str) -> Any:
        return self.values.get(name)

    def wrong_step(self, upto: Step) -> Step | None:
        """The first step before or at ``upto`` that holds an error."""
        for step in STEPS[: STEPS.index(upto) + 1]:
            if any(step_of(name) == step for name in self.errors):
                return step
        return None


def step_of(name: str) -> Step:
    """The step a field, or a complaint by any other name, belongs to."""
    return fields()[name].step if name in fields() else "measure"


def words(problem: Problem) -> str:
    """A complaint as it stands below its field."""
    told = replace(problem, key="", value="", file="", line=0).text()
    return told[:1].upper() + told[1:]


def form_values(form: Form, steps: Iterable[Step]) -> FormValues:
    """Read the fields of some steps, every one by itself."""
    found = FormValues(form, {}, {})
    asked = set(steps)
    for field in fields().values():
        if field.step not in asked or not field.is_of(form.method):
            continue
        if field.step == "save" and not form.get("corrects"):
            continue
        if field.name == "slip":  # asked for on a page of its own
            continue
        _one(found, field, form)
    if "measure" in asked and form.get("altitude") and form.get("barometer"):
        found.errors["barometer"] = "Give the altitude or the barometer, not both"
    return found


def _one(found: FormValues, field: Field, form: Form) -> None:
    text = form.get(field.name)
    if not text:
        if field.is_needed:
            found.errors[field.name] = "Is missing"
        return
    if len(text) > field.longest:
        found.errors[field.name] = f"Is longer than {field.longest} characters"
        return
    if field.choices and text not in field.choices:
        found.errors[field.name] = f"Is not one of the answers (accepted: {', '.join(field.choices)})"
        return
    if field.name == "instruments" and max(len(name.strip()) for name in text.split(",")) > LONGEST_TEXT:
        found.errors[field.name] = f"The name of an instrument is longer than {LONGEST_TEXT} characters"
        return
    try:
        found.values[field.name] = field.read(text, form.system)
    except UserError as error:
        found.errors[field.name] = "; ".join(words(problem) for problem in error.problems)


def input_words(form: Form) -> str:
    """What was entered at the bench, as it was typed."""
    known = fields()
    told = [
        f"{known[name].label}: {known[name].spelled(text, form.system)}"
        for name, text in form.texts
        if known[name].step in ("measure", "flame") and name not in ("once", "instruments", "rule", "note")
    ]
    return clean("; ".join(told) or "nothing", LONGEST_WORDS)


SLIP = ("stop", "why", "reading", "reason")


def slips_of(form: Form) -> list[dict[str, str]]:
    """Stops that a corrected entry took back: the stop, what raised it, what was read, why that was wrong.

    Raises RefusedError for what no page of ours writes.
    """
    text = form.get("slips")
    try:
        told = json.loads(text) if text else []
        found = [dict(zip(SLIP, one, strict=True)) for one in told]
    except (ValueError, TypeError, RecursionError):
        raise RefusedError(400, "What was wrong before cannot be read.") from None
    if not all(isinstance(part, str) and part for one in found for part in one.values()):
        raise RefusedError(400, "What was wrong before cannot be read.")
    return found
