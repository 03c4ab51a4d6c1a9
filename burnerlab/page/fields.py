"""What the page asks for: every field by its name in the address, its unit in each system, what it takes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from burnerlab.bench.record import watched
from burnerlab.quantity import Kind, System, read, read_heating_value, read_rate
from burnerlab.quantity.error import Problem, UserError
from burnerlab.quantity.ranges import limit

Step = Literal["unit", "measure", "flame", "save", "stop"]
STEPS: tuple[Step, ...] = ("unit", "measure", "flame", "save", "stop")
METHODS = ("meter", "scale")
ANOTHER, UNREAD = "another", "unread"  # of the label of the supply, besides the gases of the models
ELSEWHERE, LEAK = "elsewhere", "leak"
LEAK_TESTS = ("fluid", "pressure", "detector", ELSEWHERE, LEAK)
YES, NO = YES_NO = ("yes", "no")
SEEN = "see-"  # before the name of an observation
LONGEST_TEXT, LONGEST_NOTE = 80, 600
LONGEST_REASON, LONGEST_SLIPS = 200, 1500
MOST_TURNS = 1000
UNIT_OF = "-unit"  # after the name of a field: the unit chosen beside it
COMMA = re.compile(r"[-+]?[0-9]*,[0-9]+(?![0-9.,])")
BARE = re.compile(r"[-+]?[0-9][0-9 .,]*|[-+]?[.,][0-9]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One thing asked for; a bare number is in the unit of the system that was chosen."""

    name: str
    label: str
    step: Step
    kind: Kind | Literal["text", "rate", "heating value", "count", "flag"] = "text"
    metric: str = ""
    US: str = ""
    low: float | None = None  # SI
    high: float | None = None
    hint: str = ""
    hint_US: str = ""  # where it differs
    method: str = ""  # only with this one
    is_needed: bool = False
    needs_answer: bool = False  # needed with another answer alone
    is_kept: bool = False  # for the next unit
    longest: int = LONGEST_TEXT

    def unit(self, system: System) -> str:
        return self.metric if system == "metric" else self.US

    def help(self, system: System) -> str:
        return self.hint_US if system == "US" and self.hint_US else self.hint

    def units(self, system: System) -> tuple[str, ...]:
        """The units offered beside the field, that of the system first; a keypad of figures holds no letters."""
        own = self.unit(system)
        return (own, *(one for one in OFFERED.get(self.kind, ()) if one != own)) if own else ()

    def split(self, text: str, system: System) -> tuple[str, str]:
        """The text as the field and the unit beside it show it.

        >>> DIAL.split("2 ft3", "metric"), DIAL.split("2", "metric"), DIAL.split("soon", "metric")
        (('2', 'ft3'), ('2', 'L'), ('soon', 'L'))
        """
        for unit in self.units(system):
            number = text.removesuffix(f" {unit}")
            if number != text and BARE.fullmatch(number):
                return number, unit
        return text, self.unit(system)

    def pointed(self, text: str, system: System) -> str:
        """A text with a decimal comma as it would be read with a point; "" when that is no reading of this field.

        >>> DIAL.pointed("2,5 ft3", "metric"), DIAL.pointed("2,5", "metric"), DIAL.pointed("2.5", "metric")
        ('2.5 ft3', '2.5 L', '')
        """
        if self.kind in ("text", "flag", "count") or not COMMA.match(text):
            return ""
        told = self.spelled(text.replace(",", ".", 1), system)
        try:
            self.read(told, system)
        except UserError:
            return ""
        return told

    def spelled(self, text: str, system: System) -> str:
        """The text with its unit: a bare number gets that of the system."""
        unit = self.unit(system)
        return f"{text} {unit}" if unit and BARE.fullmatch(text) else text

    def read(self, text: str, system: System) -> Any:
        """What was entered, in SI. Raises UserError."""
        given = self.spelled(text, system)
        if self.kind == "text":
            return text
        if self.kind == "flag":
            return _flag(text)
        if self.kind == "count":
            return _count(text)
        if self.kind == "rate":
            return read_rate(given, key=self.name)
        if self.kind == "heating value":
            return read_heating_value(given, key=self.name)
        if self.kind is Kind.TIME:
            given = _timing(given, colon=self.metric == "s")
        value = read(given, self.kind, key=self.name, low=self.low, high=self.high)
        if self.low == 0.0 and self.is_needed and not value > 0.0:
            raise UserError(Problem("must be above 0", value=text, key=self.name))
        return value


MIN_S = re.compile(r"(?P<min>\d+)\s*min\s*(?P<s>[0-5]?\d(?:\.\d+)?)\s*s", re.IGNORECASE)
COLON = re.compile(r"(?P<min>\d+):(?P<s>[0-5]\d(?:\.\d+)?)")
PLAIN_TIME = re.compile(r"[^a-z:]*\s*(?:s|min)?", re.IGNORECASE)


def _timing(text: str, colon: bool) -> str:
    """A timing in seconds when it is of minutes and seconds; any other unit than these is refused.

    colon : whether 1:47 is minutes and seconds here; beside a field in minutes it might be hours

    >>> _timing("1 min 47 s", True), _timing("1:47.5", True), _timing("107 s", True)
    ('107 s', '107.5 s', '107 s')
    """
    found = MIN_S.fullmatch(text.strip()) or (
        COLON.fullmatch(text.strip().removesuffix(" s")) if colon else None
    )
    if found:
        return f"{60 * int(found['min']) + float(found['s']):.12g} s"
    if PLAIN_TIME.fullmatch(text.strip()):
        return text
    accepted = "s, min, or both: 107 s, 1.5 min, 1 min 47 s" + (", 1:47" if colon else "")
    raise UserError(Problem("is no timing in seconds or minutes", value=text, accepted=accepted))


def _flag(text: str) -> bool:
    if text != "yes":
        raise UserError(Problem("can only be ticked", value=text, accepted="yes"))
    return True


def _count(text: str) -> int:
    accepted = f"a whole number from 1 to {MOST_TURNS}"
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_TURNS):
        raise UserError(Problem("is not a number of whole revolutions", value=text, accepted=accepted))
    return int(text)


UNITS: Mapping[Kind, tuple[str, str]] = {
    Kind.VOLUME: ("L", "ft3"),
    Kind.TIME: ("s", "s"),
    Kind.MASS: ("kg", "lb"),
    Kind.GAUGE_PRESSURE: ("mbar", "in w.c."),
    Kind.ABSOLUTE_PRESSURE: ("kPa", "inHg"),
    Kind.TEMPERATURE: ("°C", "°F"),
    Kind.LENGTH: ("m", "ft"),
    Kind.FRACTION: ("%", "%"),
}
"""What a bare number is in, metric and US, where the field does not say otherwise."""
OFFERED: Mapping[Kind | str, tuple[str, ...]] = {
    Kind.VOLUME: ("L", "m3", "ft3"),
    Kind.TIME: ("s", "min"),
    Kind.MASS: ("kg", "g", "lb", "oz"),
    Kind.GAUGE_PRESSURE: ("mbar", "kPa", "in w.c.", "psi"),
    Kind.ABSOLUTE_PRESSURE: ("kPa", "hPa", "inHg", "mmHg"),
    Kind.TEMPERATURE: ("°C", "°F"),
    Kind.LENGTH: ("m", "ft"),
    "rate": ("kW gross", "kW net", "kBtu/h gross", "kBtu/h net"),
    "heating value": ("MJ/m3 gross at 15C/15C", "kWh/m3 gross at 0C", "Btu/ft3 gross at 60F"),
}
"""Units that can be chosen beside a field without a letter on the keypad."""


def ranged(name: str, label: str, kind: Kind, **more: Any) -> Field:
    """A quantity that commands or the project file take too, held to their range of the same name."""
    held = limit(name)
    return quantity(name, label, kind, held.low, held.high, **more)


def quantity(name: str, label: str, kind: Kind, low: float | None, high: float | None, **more: Any) -> Field:
    """A quantity of the measurement between two ends in SI, unless ``more`` says another step or other units."""
    metric, US = UNITS[kind]
    given = {"step": "measure", "metric": metric, "US": US} | more
    return Field(name=name, label=label, kind=kind, low=low, high=high, **given)


UNIT = (
    Field(name="model", label="Model", step="unit", is_needed=True, is_kept=True),
    Field(
        name="serial",
        label="Serial number",
        step="unit",
        is_needed=True,
        hint="As on the plate, or scan it.",
    ),
    Field(name="burner", label="Burner under test", step="unit", is_kept=True),
    Field(name="method", label="Measured with", step="unit", is_kept=True),
    Field(name="tester", label="Tested by", step="unit", is_needed=True, is_kept=True),
    Field(
        name="place",
        label="Place of the bench",
        step="unit",
        hint="Bench and supply, such as Bench 2. With it extraction and alarm are asked once a day.",
        is_kept=True,
    ),
    Field(name="supply_label", label="Gas on the label of the supply", step="unit"),
    Field(name="leak_test", label="Leak test of this unit", step="unit"),
    Field(name="leak_test_by", label="Leak tested by", step="unit", needs_answer=True),
    Field(
        name="leak_test_when",
        label="When",
        step="unit",
        hint="Date and time, such as 2026-11-25 08:10.",
        needs_answer=True,
    ),
    Field(
        name="air", label="Extraction on, CO alarm on, the maker's lighting instructions at hand", step="unit"
    ),
)
DIAL = ranged(
    "dial", "One revolution of the dial", Kind.VOLUME, method="meter", is_needed=True, is_kept=True,
    hint="Printed on the dial, such as 10.", hint_US="Printed on the dial, such as 1 or 2.",
)  # fmt: skip
TURNS = Field(
    name="turns",
    label="Revolutions timed",
    step="measure",
    kind="count",
    hint="Whole ones; a minute or longer is best.",
    method="meter",
    is_kept=True,
)
TIMES = tuple(
    quantity(f"time{n}", f"{word} timing", Kind.TIME, 0.0, 36000.0, method="meter", is_needed=n == 1)
    for n, word in ((1, "First"), (2, "Second"), (3, "Third"))
)
SCALE = (
    quantity(
        "first", "Cylinder on the scale, at the start", Kind.MASS, None, 1000.0, method="scale", is_needed=True
    ),
    quantity(
        "last", "Cylinder on the scale, at the end", Kind.MASS, None, 1000.0, method="scale", is_needed=True
    ),
    quantity(
        "burned", "Time between the two", Kind.TIME, 0.0, 360000.0, metric="min", US="min", method="scale",
        is_needed=True,
    ),
    quantity(
        "resolution", "Last digit of the scale", Kind.MASS, None, 10.0, metric="g", US="oz", method="scale",
        is_kept=True,
    ),
)  # fmt: skip
MANIFOLD = quantity(
    "manifold", "Manifold pressure, burner on full", Kind.GAUGE_PRESSURE, 1.0, 1.0e6,
    hint="By the manometer. It tells a wrong pressure from a wrong orifice.",
)  # fmt: skip
STATE = (
    ranged(
        "meter_pressure", "Pressure at the meter, gauge", Kind.GAUGE_PRESSURE, method="meter",
        is_kept=True,
    ),
    ranged(
        "gas_temperature", "Gas temperature at the meter", Kind.TEMPERATURE, method="meter",
        is_kept=True,
    ),
    ranged(
        "altitude", "Altitude of the bench", Kind.LENGTH, hint="Or the barometer below.",
        is_kept=True,
    ),
    ranged(
        "barometer", "Barometer, not reduced to sea level", Kind.ABSOLUTE_PRESSURE, is_kept=True
    ),
    quantity(
        "meter_factor", "Meter factor of its certificate", Kind.FRACTION, 0.5, 2.0, metric="", US="", method="meter",
        hint="Volume that passed over volume counted, such as 1.012.", is_kept=True,
    ),
    quantity(
        "scale_factor", "Scale factor of its certificate", Kind.FRACTION, 0.5, 2.0, metric="", US="", method="scale",
        hint="Mass over mass shown, such as 0.998.", is_kept=True,
    ),
    Field(
        name="compensated",
        label="The meter compensates for temperature",
        step="measure",
        kind="flag",
        method="meter",
        is_kept=True,
    ),
    Field(
        name="wet",
        label="The gas in the meter is saturated with water",
        step="measure",
        kind="flag",
        method="meter",
        is_kept=True,
    ),
    Field(
        name="other_load",
        label="Other load meanwhile, such as a pilot",
        step="measure",
        kind="rate",
        metric="kW gross",
        US="kBtu/h gross",
        is_kept=True,
    ),
    Field(
        name="heating_value",
        label="Heating value of the day",
        step="measure",
        kind="heating value",
        metric="MJ/m3 gross at 15C/15C",
        US="Btu/ft3 gross at 60F",
        hint="From the supplier; without it the gas of the model file counts.",
        method="meter",
        is_kept=True,
    ),
    Field(
        name="rule",
        label="Rule of decision",
        step="measure",
        hint="How the uncertainty enters the finding.",
        is_kept=True,
    ),
    Field(
        name="instruments",
        label="Instruments",
        step="measure",
        hint="Names with commas between; their calibration dates come from the record.",
        longest=200,
        is_kept=True,
    ),
)  # fmt: skip
FLUE = (
    ranged("oxygen", "Oxygen", Kind.FRACTION, step="flame"),
    ranged("carbon_dioxide", "Carbon dioxide", Kind.FRACTION, step="flame"),
    ranged("carbon_monoxide", "Carbon monoxide", Kind.FRACTION, step="flame", metric="ppm", US="ppm"),
    ranged("flue_temperature", "Flue gas temperature", Kind.TEMPERATURE, step="flame"),
    ranged("air_temperature", "Room temperature", Kind.TEMPERATURE, step="flame"),
)
NOTE = Field(
    name="note", label="Note", step="flame", longest=LONGEST_NOTE, hint="Anything the next one should know."
)
CORRECTION = (
    Field(name="corrects", label="Entry that this one corrects", step="save"),
    Field(
        name="reason",
        label="Why the earlier entry was wrong",
        step="save",
        is_needed=True,
        longest=LONGEST_NOTE,
    ),
)
ONCE = Field(name="once", label="The word by which this test is known when it arrives twice", step="measure")
STOP = (
    Field(name="slips", label="Entries that were wrong", step="stop", longest=LONGEST_SLIPS),
    Field(
        name="slip",
        label="Which entry was wrong, and why",
        step="stop",
        is_needed=True,
        longest=LONGEST_REASON,
    ),
)
OTHER_SUPPLY = Field(
    name="other_supply",
    label="Its gas supply, when it is another one",
    step="stop",
    is_needed=True,
    hint="Which one, such as ring main B. On the same supply the stop stands there too.",
)
RELEASE = tuple(
    Field(name=name, label=label, step="stop", is_needed=True, longest=longest, hint=hint)
    for name, label, longest, hint in (
        ("released_by", "Name of the qualified person", LONGEST_TEXT, ""),
        ("qualification", "Qualification", LONGEST_TEXT, "As the local code asks, with its number."),
        ("cause", "Cause", LONGEST_NOTE, "What was wrong."),
        ("repair", "Repair", LONGEST_NOTE, "What was done about it."),
        (
            "retest",
            "Leak test after the repair",
            LONGEST_NOTE,
            'The method, then "none found": such as detection fluid, every joint: none found.',
        ),
    )
)


@cache
def fields() -> dict[str, Field]:
    """Every field by its name in the address, in the order it is asked."""
    seen = [Field(name=SEEN + name, label=one.words, step="flame") for name, one in watched().items()]
    every = (
        *UNIT,
        DIAL,
        TURNS,
        *TIMES,
        *SCALE,
        MANIFOLD,
        *STATE,
        *seen,
        *FLUE,
        NOTE,
        *CORRECTION,
        ONCE,
        *STOP,
    )
    return {one.name: one for one in every}
