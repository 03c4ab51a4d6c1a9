"""What is answered before a unit is lit: the questions, and the answers with which it is not lit."""

from __future__ import annotations

from collections.abc import Mapping

from burnerlab.bench.record import BeforeLighting
from burnerlab.bench.record.checks import read_leak_test_time, words_problem
from burnerlab.bench.record.entry import LeakTest, YesNo
from burnerlab.bench.stop_rules import ANOTHER_GAS, UNREAD_LABEL
from burnerlab.page.form import ELSEWHERE, LEAK, LEAK_TESTS, NO, UNREAD, YES, Form, words
from burnerlab.page.heat_input_test import Model
from burnerlab.tables.problem import UserError

METHODS: Mapping[str, str] = {
    "fluid": "leak detection fluid made for gas",
    "pressure": "the pressure held",
    "detector": "gas detector",
}
LEAK_WORDS: Mapping[str, str] = {
    **{name: f"no leak found: {words}" for name, words in METHODS.items()},
    ELSEWHERE: "not done here",
    LEAK: "leak found",
}
DO_NOT_LIGHT = "Do not light. "
REFUSALS: Mapping[str, tuple[str, str]] = {  # field -> why a unit is not lit, and what comes first
    "supply_label": (
        "The label of the supply cannot be read, so its gas is not known.",
        "A qualified person reads the label or has the supply labelled. The gas is not to be guessed.",
    ),
    "air": (
        "Extraction, CO alarm or the maker's lighting instructions are missing.",
        "Extraction on and CO alarm on come first, with the maker's instructions at hand.",
    ),
}


def lighting_errors(form: Form, gas: str) -> dict[str, str]:
    """Why no reading is taken yet, by the field that says so; empty when the unit may be lit.

    gas : name of the gas that the model is made for. A correction lights nothing, so nothing is asked.

    >>> lighting_errors(Form((("supply_label", "propane"), ("leak_test", "leak"), ("air", "yes"))), "propane")
    {'leak_test': 'Do not light. A leak was found'}
    """
    if form.get("corrects"):
        return {}
    wrong = {
        "supply_label": _label(form.get("supply_label"), gas),
        "leak_test": _leak_test(form.get("leak_test")),
        "air": _air(form.get("air")),
    }
    if form.get("leak_test") == ELSEWHERE:
        missing = "Is missing: without it no reading is taken"
        wrong |= {name: "" if form.get(name) else missing for name in ("leak_test_by", "leak_test_when")}
        wrong["leak_test_by"] = wrong["leak_test_by"] or words_problem(
            form.get("leak_test_by"), "leak_test_by"
        )
        wrong["leak_test_when"] = wrong["leak_test_when"] or _when(form.get("leak_test_when"))[1]
    return {name: text for name, text in wrong.items() if text}


def refusals(errors: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """Of what is wrong, the answers with which the unit is not lit: why, and what comes first.

    >>> list(refusals({"air": "Do not light. Extraction comes first", "serial": "Is missing"}))
    ['air']
    """
    return {name: text for name, text in REFUSALS.items() if errors.get(name, "").startswith(DO_NOT_LIGHT)}


def _label(answer: str, gas: str) -> str:
    if answer == UNREAD:
        return (
            DO_NOT_LIGHT
            + "Whoever is responsible for the supply labels it first; its gas is not to be guessed"
        )
    if not answer:
        return "Read the label of the supply, then answer"
    return "" if answer == gas else DO_NOT_LIGHT + "The unit is made for the gas of its model and no other"


def _leak_test(answer: str) -> str:
    if answer == LEAK:
        return DO_NOT_LIGHT + "A leak was found"
    return "" if answer in LEAK_TESTS else "Is missing: the leak test of this unit, today"


def _when(text: str) -> tuple[str, str]:
    """The moment as it is read, and why it cannot be; a text that is no moment stays as it is."""
    try:
        return read_leak_test_time(text), ""
    except UserError as error:
        return text, "; ".join(words(problem) for problem in error.problems)


def _air(answer: str) -> str:
    if answer == NO:
        return DO_NOT_LIGHT + "Extraction on, CO alarm on and the maker's instructions at hand come first"
    return "" if answer == YES else "Is missing: look at both, then answer"


def lighting(form: Form, model: Model) -> BeforeLighting | None:
    """The answers as the record keeps them; None when nothing was answered."""
    leak, label, air = form.get("leak_test"), form.get("supply_label"), form.get("air")
    if not (leak or label or air or form.get("place")):
        return None
    read = {model.appliance.supply.gas.name: label, UNREAD: UNREAD_LABEL, "": ""}
    yes_no: YesNo = "yes" if air == YES else "no" if air == NO else ""
    leak_test: LeakTest = (
        "none found" if leak in METHODS else "not done here" if leak == ELSEWHERE else "leak found"
    )
    return BeforeLighting(
        supply_label=read.get(label, ANOTHER_GAS),
        leak_test=leak_test if leak in LEAK_TESTS else "",
        leak_test_method=METHODS.get(leak, ""),
        leak_test_by=form.get("leak_test_by") if leak == ELSEWHERE else "",
        leak_test_when=_when(form.get("leak_test_when"))[0] if leak == ELSEWHERE else "",
        extraction=yes_no,
        co_alarm=yes_no,
        place=form.get("place"),
    )
