"""A unit that the record knows as another model or on another gas: its plate is looked at before it is read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from burnerlab.bench.record.entry import BenchTest, TestRecord

PLATE = "plate"  # input of an entry: what the plate of a unit says that was tested as another
PLATE_ANSWERS: Mapping[str, str] = {
    "converted": "the unit was converted since: plate and label name this model and gas",
    "entry before wrong": "plate and label name this model and gas: the entry before has a wrong number, model or gas",
}
ANOTHER_BEFORE = "{serial} was tested as {model} on {gas} ({day}): look at the plate of this unit"
DAY = 10  # characters of a date


def tested_as_another(entries: Iterable[TestRecord], model: str, gas: str) -> BenchTest | None:
    """The newest current test of a unit, where it names another model or gas; None where it names the same, or nothing.

    >>> tested_as_another([], "PF-4LP", "propane") is None
    True
    """
    newest = next((one.test for one in entries if one.is_current), None)
    if newest is None:
        return None
    is_same = _agree(newest.model, model) and _agree(newest.gas, gas)
    return None if is_same else newest


def _agree(recorded: str, other: str) -> bool:
    """Whether two names are one, in small or capital letters; what is not named agrees with every one."""
    names = {recorded.strip().casefold(), other.strip().casefold()}
    return len(names - {""}) < 2


def another_words(test: BenchTest, gas: str) -> str:
    """That a unit was tested as another model or on another gas.

    gas : of the test as a person reads it
    """
    return ANOTHER_BEFORE.format(
        serial=test.serial, model=test.model, gas=gas or "no gas named", day=test.tested_at[:DAY]
    )
