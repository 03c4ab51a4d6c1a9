"""What the page asks for: every field by its name in the address, its unit in each system, what it takes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from burnerlab.bench.record import watched
from burnerlab.quantity import Kind, System, read, read_heating_value, read_rate
from burnerlab.quantity.error import Problem, UserError

Step = Literal["unit", "measure", "flame", "save"]
STEPS: tuple[Step, ...] = ("unit", "measure", "flame", "save")
METHODS = ("meter", "scale")
SEEN = "see-"  # before the name of an observation
LONGEST_TEXT, LONGEST_NOTE = 80, 600
MOST_TURNS = 1000
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
    is_kept: bool = False  # for the next unit
    longest: int = LONGEST_TEXT

    def unit(self, system: System) -> str:
        return self.metric if system == "metric" else self.US

    def help(self, system: System) -> str:
        return self.hint_US if system == "US" and self.hint_US else self.hint

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
        value = read(given, self.kind, key=self.name, low=self.low, high=self.high)
        if self.low == 0.0 and self.is_needed and not value > 0.0:
            raise UserError(Problem("must be above 0", value=text, key=self.name))
        return value


def _flag(text: str) -> bool:
    if text != "yes":
        raise UserError(Problem("can only be ticked", value=text, accepted="yes"))
    return True


def _count(text: str) -> int:
    accepted = f"a whole number from 1 to {MOST_TURNS}"
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_TURNS):
        raise UserError(Problem("is not a number of whole revolutions", value=text, accepted=accepted))
    return int(text)


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
)
DIAL = Field(
    name="dial",
    label="One revolution of the dial",
    step="measure",
    kind=Kind.VOLUME,
    metric="L",
    US="ft3",
    low=1e-5,
    high=100.0,
    hint="Printed on the dial, such as 10.",
    hint_US="Printed on the dial, such as 1 or 2.",
    method="meter",
    is_needed=True,
    is_kept=True,
)
TURNS = Field(
    name="turns",
    label="Whole revolutions in one timing",
    step="measure",
    kind="count",
    hint="1 unless you count more; a timing of a minute or longer is best.",
    method="meter",
    is_kept=True,
)
TIMES = tuple(
    Field(
        name=f"time{number}",
        label=f"{word} timing",
        step="measure",
        kind=Kind.TIME,
        metric="s",
        US="s",
        low=0.0,
        high=36000.0,
        method="meter",
        is_needed=number == 1,
    )
    for number, word in ((1, "First"), (2, "Second"), (3, "Third"))
)
SCALE = (
    Field(
        name="first",
        label="Cylinder on the scale, at the start",
        step="measure",
        kind=Kind.MASS,
        metric="kg",
        US="lb",
        high=1000.0,
        method="scale",
        is_needed=True,
    ),
    Field(
        name="last",
        label="Cylinder on the scale, at the end",
        step="measure",
        kind=Kind.MASS,
        metric="kg",
        US="lb",
        high=1000.0,
        method="scale",
        is_needed=True,
    ),
    Field(
        name="burned",
        label="Time between the two",
        step="measure",
        kind=Kind.TIME,
        metric="min",
        US="min",
        low=0.0,
        high=360000.0,
        method="scale",
        is_needed=True,
    ),
    Field(
        name="resolution",
        label="Last digit of the scale",
        step="measure",
        kind=Kind.MASS,
        metric="g",
        US="oz",
        high=10.0,
        method="scale",
        is_kept=True,
    ),
)
MANIFOLD = Field(
    name="manifold",
    label="Manifold pressure, burner on full",
    step="measure",
    kind=Kind.GAUGE_PRESSURE,
    metric="mbar",
    US="in w.c.",
    low=1.0,
    high=1.0e6,
    hint="By the manometer. It tells a wrong pressure from a wrong orifice.",
)
STATE = (
    Field(
        name="meter_pressure",
        label="Pressure at the meter, gauge",
        step="measure",
        kind=Kind.GAUGE_PRESSURE,
        metric="mbar",
        US="in w.c.",
        low=0.0,
        high=1.0e6,
        method="meter",
        is_kept=True,
    ),
    Field(
        name="gas_temperature",
        label="Gas temperature at the meter",
        step="measure",
        kind=Kind.TEMPERATURE,
        metric="°C",
        US="°F",
        low=233.15,
        high=353.15,
        method="meter",
        is_kept=True,
    ),
    Field(
        name="altitude",
        label="Altitude of the bench",
        step="measure",
        kind=Kind.LENGTH,
        metric="m",
        US="ft",
        low=-430.0,
        high=5000.0,
        hint="Or the barometer below.",
        is_kept=True,
    ),
    Field(
        name="barometer",
        label="Barometer, not reduced to sea level",
        step="measure",
        kind=Kind.ABSOLUTE_PRESSURE,
        metric="kPa",
        US="inHg",
        low=40e3,
        high=110e3,
        is_kept=True,
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
)
FLUE = (
    Field(
        name="oxygen",
        label="Oxygen",
        step="flame",
        kind=Kind.FRACTION,
        metric="%",
        US="%",
        low=0.0,
        high=0.2085,
    ),
    Field(
        name="carbon_dioxide",
        label="Carbon dioxide",
        step="flame",
        kind=Kind.FRACTION,
        metric="%",
        US="%",
        low=0.0,
        high=0.25,
    ),
    Field(
        name="carbon_monoxide",
        label="Carbon monoxide",
        step="flame",
        kind=Kind.FRACTION,
        metric="ppm",
        US="ppm",
        low=0.0,
        high=0.1,
    ),
    Field(
        name="flue_temperature",
        label="Flue gas temperature",
        step="flame",
        kind=Kind.TEMPERATURE,
        metric="°C",
        US="°F",
        low=253.15,
        high=2000.0,
    ),
    Field(
        name="air_temperature",
        label="Room temperature",
        step="flame",
        kind=Kind.TEMPERATURE,
        metric="°C",
        US="°F",
        low=233.15,
        high=353.15,
    ),
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


@cache
def fields() -> dict[str, Field]:
    """Every field by its name in the address, in the order it is asked."""
    seen = [Field(name=SEEN + name, label=one.words, step="flame") for name, one in watched().items()]
    every = (*UNIT, DIAL, TURNS, *TIMES, *SCALE, MANIFOLD, *STATE, *seen, *FLUE, NOTE, *CORRECTION)
    return {one.name: one for one in every}
