"""Readings, results, observations and instruments of a bench test, as the options say them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from burnerlab.quantity import Kind, read_rate
from burnerlab.quantity.inputs import Input, Reader, input_row
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.bench.record import (
        BeforeLighting,
        BenchInstrument,
        BenchReading,
        Observation,
        Record,
        Result,
    )
    from burnerlab.bench.record.entry import RecordQuantity

LONGEST = 300
COVERAGE = 2.0  # of an expanded uncertainty
FACT = re.compile(
    r"(?:(?P<burner>[^:=]+):)?\s*(?P<name>[^:=]+?)\s*=\s*(?P<value>.+?)"
    r"(?:\s*(?:\+-|\+/-|±)\s*(?P<uncertainty>.+?))?(?:\s+(?P<word>in|with)\s+(?P<rest>.+))?\s*"
)
BAND = re.compile(r"(?P<low>.+?)\s*\.\.\s*(?P<high>.+)")
READING_FORM = '"griddle: manifold pressure = 11 inH2O +- 0.2 inH2O with M3"'
RESULT_FORM = '"griddle: deviation = -2.1 % +- 1.5 % in -5 %..5 %"'
SEEN_FORM = '"griddle: lift = no"'
LEAK_FORM = '"none found by leak detection fluid", "not done here: K. Moss, 2026-11-25" or "leak found"'
LEAK = re.compile(
    r"(?P<answer>none found|not done here|leak found)"
    r"(?:\s+by\s+(?P<method>.+)|\s*:\s*(?P<who>[^,]+?)\s*,\s*(?P<moment>.+))?",
    re.IGNORECASE,
)
INSTRUMENT_FORM = '"M3, manometer, calibrated 2026-05-01, due 2027-05-01"'


def parts_input(name: str, reader: Reader, help: str) -> Input:
    """An option for one part of a test, which may be repeated."""
    return Input(name=name, reader=reader, metavar="TEXT", is_many=True, help=help)


def _matched(text: str, key: str, form: str) -> re.Match[str]:
    found = FACT.fullmatch(text) if len(text) <= LONGEST else None
    if found is None:
        raise UserError(Problem("cannot be read", value=text, key=key, accepted=f"such as {form}"))
    return found


def _kind_of_difference(kind: Kind) -> Kind:

    return {
        Kind.TEMPERATURE: Kind.TEMPERATURE_DIFFERENCE,
        Kind.GAUGE_PRESSURE: Kind.PRESSURE_DIFFERENCE,
        Kind.ABSOLUTE_PRESSURE: Kind.PRESSURE_DIFFERENCE,
        Kind.DIAMETER: Kind.LENGTH,
    }.get(kind, kind)


def value_of(text: str, quantity: RecordQuantity, key: str) -> float:
    """A figure of the quantity; a rate may say its basis, which must be the one of the quantity."""
    from burnerlab.quantity import read

    if quantity.kind is Kind.POWER:
        rate = read_rate(text, key=key)
        basis = quantity.name.rpartition("_")[2]
        if rate.basis is not None and rate.basis != basis:
            raise UserError(Problem(f"{quantity.name} is {basis}", value=text, key=key))
        return rate.power_W
    kind = Kind.VOLUME_FLOW if quantity.kind is Kind.REFERENCE_VOLUME_FLOW else quantity.kind
    return read(text, kind, key=key)


def _uncertainty(text: str | None, quantity: RecordQuantity, value: float, key: str) -> float | None:
    """Expanded uncertainty in the unit of the quantity; a share of the value in percent, save for fractions."""
    from burnerlab.quantity import read

    if text is None:
        return None
    if quantity.kind is not Kind.FRACTION and text.rstrip().endswith("%"):
        return abs(value) * float(input_row("share").read(text, key))
    if quantity.kind in (Kind.POWER, Kind.FRACTION):
        return value_of(text, quantity, key)
    return read(text, _kind_of_difference(quantity.kind), key=key)


def reading_of(text: str, key: str) -> BenchReading:
    """A reading as an option says it; the uncertainty after +- is expanded by a coverage factor of 2."""
    from burnerlab.bench.record import BenchReading
    from burnerlab.bench.record.entry import quantity_named

    found = _matched(text, key, READING_FORM)
    if found["word"] == "in":
        raise UserError(
            Problem("a reading has no band", value=text, key=key, accepted=f"such as {READING_FORM}")
        )
    quantity = quantity_named(found["name"], key)
    value = value_of(found["value"], quantity, key)
    spread = _uncertainty(found["uncertainty"], quantity, value, key)
    return BenchReading(
        quantity=quantity.name,
        value=value,
        burner=(found["burner"] or "").strip(),
        standard_uncertainty=None if spread is None else spread / COVERAGE,
        instrument=(found["rest"] or "").strip(),
    )


def result_of(text: str, key: str) -> Result:
    """A result as an option says it; with a band it is held against it by simple acceptance."""
    from burnerlab.bench.record import Result
    from burnerlab.bench.record.entry import quantity_named

    found = _matched(text, key, RESULT_FORM)
    quantity = quantity_named(found["name"], key)
    value = value_of(found["value"], quantity, key)
    result = Result(
        quantity=quantity.name,
        value=value,
        burner=(found["burner"] or "").strip(),
        expanded_uncertainty=_uncertainty(found["uncertainty"], quantity, value, key),
    )
    if found["word"] is None:
        return result
    ends = BAND.fullmatch(found["rest"]) if found["word"] == "in" else None
    if ends is None:
        raise UserError(Problem("no band", value=text, key=key, accepted=f"such as {RESULT_FORM}"))
    low, high = (value_of(ends[end], quantity, key) for end in ("low", "high"))
    verdict = Verdict.WITHIN if low <= value <= high else Verdict.OUTSIDE
    return replace(result, low=low, high=high, verdict=verdict)


def observation_of(text: str, key: str) -> Observation:
    """An observation as an option says it."""
    from burnerlab.bench.record import Observation
    from burnerlab.bench.record.entry import ANSWERS, sight_named

    found = _matched(text, key, SEEN_FORM)
    name = sight_named(found["name"], key).name
    answers = [answer for answer in ANSWERS if answer == found["value"].strip().lower()]
    if not answers or found["word"] or found["uncertainty"]:
        accepted = ", ".join(ANSWERS)
        raise UserError(Problem("is not an answer", value=found["value"], key=key, accepted=accepted))
    return Observation(name=name, answer=answers[0], burner=(found["burner"] or "").strip())


def instrument_of(text: str, key: str) -> BenchInstrument:
    """An instrument with its dates, or its bare name."""
    from burnerlab.bench.record import BenchInstrument
    from burnerlab.bench.record.entry import read_date

    if len(text) > LONGEST:
        raise UserError(Problem("is too long", value=text, key=key, accepted=f"such as {INSTRUMENT_FORM}"))
    name, *rest = (part.strip() for part in text.split(","))
    kind = calibrated = due = ""
    for part in rest:
        word, _, date = part.partition(" ")
        if word == "calibrated":
            calibrated = read_date(date, key)
        elif word == "due":
            due = read_date(date, key)
        elif not kind:
            kind = part
        else:
            raise UserError(
                Problem("cannot be read", value=text, key=key, accepted=f"such as {INSTRUMENT_FORM}")
            )
    return BenchInstrument(name=name, kind=kind, calibrated_on=calibrated, due_on=due)


def record_instrument(instrument: BenchInstrument, record: Record) -> BenchInstrument:
    """A bare name is the instrument of the record with its newest calibration."""
    from burnerlab.bench.record import BenchInstrument, instrument_named

    is_bare = instrument == BenchInstrument(name=instrument.name)
    return (instrument_named(record, instrument.name) or instrument) if is_bare else instrument


def leak_test_of(text: str, key: str) -> dict[str, str]:
    """The leak test before lighting, as its option says it."""
    from burnerlab.bench.record.checks import read_leak_test_time, words_problem

    found = LEAK.fullmatch(text.strip()) if len(text) <= LONGEST else None
    if found is None:
        raise UserError(Problem("cannot be read", value=text, key=key, accepted=LEAK_FORM))
    who, moment = found["who"] or "", found["moment"] or ""
    why = words_problem(who, "leak_test_by")
    if why:
        raise UserError(Problem(why[:1].lower() + why[1:], value=who, key=key))
    return {
        "leak_test": found["answer"].lower(),
        "leak_test_method": found["method"] or "",
        "leak_test_by": who,
        "leak_test_when": read_leak_test_time(moment) if moment else "",
    }


def answers_of(options: Mapping[str, Any], before: BeforeLighting | None) -> BeforeLighting | None:
    """What was answered before lighting; what no option says stays as it was, None where nothing was."""
    from burnerlab.bench.record import BeforeLighting

    answers = {
        name: options[name]
        for name in ("supply_label", "extraction", "co_alarm", "place")
        if options[name] is not None
    }
    answers |= options["leak_test"] or {}
    return replace(before or BeforeLighting(), **answers) if answers else before
