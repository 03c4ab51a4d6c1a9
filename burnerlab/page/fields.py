"""What the page asks for: every field by its name in the address, its unit in each system, what it takes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal

from burnerlab.bench.record import watched
from burnerlab.bench.record.entry import ANSWERS
from burnerlab.quantity import Kind, System, read, read_heating_value, read_rate
from burnerlab.quantity.error import Problem, UserError
from burnerlab.quantity.inputs import input_row

Step = Literal["unit", "measure", "flame", "save", "stop"]
Keeper = Literal["input", "test", "lighting", "observation", ""]
"""Where the record keeps a field: its text as written, a text of the test, an answer before lighting, a sight."""
STEPS: tuple[Step, ...] = ("unit", "measure", "flame", "save", "stop")
Group = Literal["", "time", "scale", "bench", "flue"]
METHODS = ("meter", "scale")
RULES = ("simple", "guard")
RULE_WORDS = ("the figure itself against the band", "the band drawn in by the uncertainty")
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
    choices: tuple[str, ...] = ()  # the answers accepted
    words: tuple[
        str, ...
    ] = ()  # of each of them, where it is chosen from a list; the first is taken unless said
    group: Group = ""  # that it is shown with; alone it needs a place in a template
    keeper: Keeper = "input"
    record: str = (
        ""  # quantity of the record that its figure becomes; a form is refilled from it in older entries
    )
    is_needed: bool = False
    needs_answer: bool = False  # needed with another answer alone
    is_kept: bool = False  # for the next unit
    longest: int = LONGEST_TEXT

    def answer_words(self, text: str) -> str:
        """A choice in its words; any other text as it is."""
        return dict(zip(self.choices, self.words, strict=False)).get(text, text)

    def is_of(self, method: str) -> bool:
        """Whether it belongs to this way of measuring."""
        return self.method in ("", method)

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
    held = input_row(name)
    return quantity(name, label, kind, held.low, held.high, **more)


def quantity(name: str, label: str, kind: Kind, low: float | None, high: float | None, **more: Any) -> Field:
    """A quantity of the measurement between two ends in SI, unless ``more`` says another step or other units."""
    metric, US = UNITS[kind]
    given = {"step": "measure", "metric": metric, "US": US} | more
    return Field(name=name, label=label, kind=kind, low=low, high=high, **given)


def text(name: str, label: str, step: Step, keeper: Keeper = "input", **more: Any) -> Field:
    """A text or a choice."""
    return Field(name=name, label=label, step=step, keeper=keeper, **more)


def seen(name: str, label: str) -> Field:
    """Something to look for at the flame."""
    return text(SEEN + name, label, "flame", "observation", choices=ANSWERS)


def at_bench(field: Field) -> Field:
    """Of the bench itself, which stays as it is for the next unit."""
    return replace(field, group="bench", is_kept=True)


PLACE_HINT = "Bench and supply, such as Bench 2. With it extraction and alarm are asked once a day."
LABEL_OF_AIR = "Extraction on, CO alarm on, the maker's lighting instructions at hand"
UNIT = (
    text("model", "Model", "unit", "test", is_needed=True, is_kept=True),
    text("serial", "Serial number", "unit", "test", is_needed=True, hint="As on the plate, or scan it."),
    text("burner", "Burner under test", "unit", is_kept=True),
    text("method", "Measured with", "unit", is_kept=True, choices=METHODS),
    text("tester", "Tested by", "unit", "test", is_needed=True, is_kept=True),
    text("place", "Place of the bench", "unit", "lighting", is_kept=True, hint=PLACE_HINT),
    text("supply_label", "Gas on the label of the supply", "unit", "lighting"),
    text("leak_test", "Leak test of this unit", "unit", "lighting", choices=LEAK_TESTS),
    text("leak_test_by", "Leak tested by", "unit", "lighting", needs_answer=True),
    text("leak_test_when", "When", "unit", "lighting", needs_answer=True,
         hint="Date and time, such as 2026-11-25 08:10."),
    text("air", LABEL_OF_AIR, "unit", "lighting", choices=YES_NO),
)  # fmt: skip
DIAL = ranged(
    "dial", "One revolution of the dial", Kind.VOLUME, method="meter", is_needed=True, is_kept=True,
    hint="Printed on the dial, such as 10.", hint_US="Printed on the dial, such as 1 or 2.", record="meter_volume",
)  # fmt: skip
METER = (
    DIAL,
    Field(
        name="turns", label="Revolutions timed", step="measure", kind="count", method="meter", is_kept=True,
        hint="Whole ones; a minute or longer is best.",
    ),
    *(
        quantity(
            f"time{n}", f"{word} timing", Kind.TIME, 0.0, 36000.0,
            method="meter", is_needed=n == 1, group="time", record="timed",
        )
        for n, word in ((1, "First"), (2, "Second"), (3, "Third"))
    ),
)  # fmt: skip
WEIGHED: dict[str, Any] = {"method": "scale", "group": "scale"}
SCALE = (
    quantity("first", "Cylinder on the scale, at the start", Kind.MASS, None, 1000.0, is_needed=True,
             record="cylinder_loss", **WEIGHED),
    quantity("last", "Cylinder on the scale, at the end", Kind.MASS, None, 1000.0, is_needed=True, **WEIGHED),
    quantity("burned", "Time between the two", Kind.TIME, 0.0, 360000.0, metric="min", US="min", is_needed=True,
             record="timed", **WEIGHED),
    quantity("resolution", "Last digit of the scale", Kind.MASS, None, 10.0, metric="g", US="oz", is_kept=True,
             **WEIGHED),
)  # fmt: skip
MANIFOLD = quantity(
    "manifold", "Manifold pressure, burner on full", Kind.GAUGE_PRESSURE, 1.0, 1.0e6, record="manifold_pressure",
    hint="By the manometer. It tells a wrong pressure from a wrong orifice.",
)  # fmt: skip
BENCH = tuple(
    at_bench(field)
    for field in (
        ranged("meter_pressure", "Pressure at the meter, gauge", Kind.GAUGE_PRESSURE, method="meter",
               record="meter_pressure"),
        ranged("gas_temperature", "Gas temperature at the meter", Kind.TEMPERATURE, method="meter",
               record="gas_temperature"),
        ranged("altitude", "Altitude of the bench", Kind.LENGTH, hint="Or the barometer below."),
        ranged("barometer", "Barometer, not reduced to sea level", Kind.ABSOLUTE_PRESSURE,
               record="ambient_pressure"),
        quantity("meter_factor", "Meter factor of its certificate", Kind.FRACTION, 0.5, 2.0, metric="", US="",
                 method="meter", hint="Volume that passed over volume counted, such as 1.012.",
                 record="meter_factor"),
        quantity("scale_factor", "Scale factor of its certificate", Kind.FRACTION, 0.5, 2.0, metric="", US="",
                 method="scale", hint="Mass over mass shown, such as 0.998.", record="scale_factor"),
        Field(name="compensated", label="The meter compensates for temperature", step="measure", kind="flag",
              method="meter"),
        Field(name="wet", label="The gas in the meter is saturated with water", step="measure", kind="flag",
              method="meter"),
        Field(name="other_load", label="Other load meanwhile, such as a pilot", step="measure", kind="rate",
              metric="kW gross", US="kBtu/h gross", record="other_load_gross"),
        Field(name="heating_value", label="Heating value of the day", step="measure", kind="heating value",
              metric="MJ/m3 gross at 15C/15C", US="Btu/ft3 gross at 60F", method="meter",
              hint="From the supplier; without it the gas of the model file counts."),
        text("rule", "Rule of decision", "measure", choices=RULES, words=RULE_WORDS,
             hint="How the uncertainty enters the finding."),
        text("instruments", "Instruments", "measure", "test", longest=200,
             hint="Names with commas between; their calibration dates come from the record."),
    )
)  # fmt: skip
ANALYSER: dict[str, Any] = {"step": "flame", "group": "flue"}
FLUE = (
    ranged("oxygen", "Oxygen", Kind.FRACTION, record="oxygen", **ANALYSER),
    ranged("carbon_dioxide", "Carbon dioxide", Kind.FRACTION, record="carbon_dioxide", **ANALYSER),
    ranged("carbon_monoxide", "Carbon monoxide", Kind.FRACTION, metric="ppm", US="ppm", record="carbon_monoxide",
           **ANALYSER),
    ranged("flue_temperature", "Flue gas temperature", Kind.TEMPERATURE, record="flue_temperature", **ANALYSER),
    ranged("air_temperature", "Room temperature", Kind.TEMPERATURE, record="air_temperature", **ANALYSER),
)  # fmt: skip
NOTE = text("note", "Note", "flame", "test", longest=LONGEST_NOTE, hint="Anything the next one should know.")
CORRECTION = (
    text("corrects", "Entry that this one corrects", "save", ""),
    text("reason", "Why the earlier entry was wrong", "save", "", is_needed=True, longest=LONGEST_NOTE),
)
ONCE = text("once", "The word by which this test is known when it arrives twice", "measure", "")
STOP = (
    text("slips", "Entries that were wrong", "stop", "", longest=LONGEST_SLIPS),
    text("slip", "Which entry was wrong, and why", "stop", "", is_needed=True, longest=LONGEST_REASON),
)
OTHER_SUPPLY = text(
    "other_supply", "Its gas supply, when it is another one", "stop", "", is_needed=True,
    hint="Which one, such as ring main B. On the same supply the stop stands there too.",
)  # fmt: skip
RETEST_HINT = 'The method, then "none found": such as detection fluid, every joint: none found.'
QUALIFICATION_HINT = "As the local code asks, with its number."
RELEASE = (
    text("released_by", "Name of the qualified person", "stop", "", is_needed=True),
    text("qualification", "Qualification", "stop", "", is_needed=True, hint=QUALIFICATION_HINT),
    text("cause", "Cause", "stop", "", is_needed=True, longest=LONGEST_NOTE, hint="What was wrong."),
    text(
        "repair", "Repair", "stop", "", is_needed=True, longest=LONGEST_NOTE, hint="What was done about it."
    ),
    text(
        "retest",
        "Leak test after the repair",
        "stop",
        "",
        is_needed=True,
        longest=LONGEST_NOTE,
        hint=RETEST_HINT,
    ),
)
SIGHTS = tuple(seen(name, one.words) for name, one in watched().items())
FIELDS = (*UNIT, *METER, *SCALE, MANIFOLD, *BENCH, *SIGHTS, *FLUE, NOTE, *CORRECTION, ONCE, *STOP)
"""Every field that stands in an address, in the order it is asked."""


def fields() -> dict[str, Field]:
    """The fields by name."""
    return _by_name(FIELDS)


@cache
def _by_name(every: tuple[Field, ...]) -> dict[str, Field]:
    return {field.name: field for field in every}


def group(name: Group) -> tuple[Field, ...]:
    """The fields that are shown together."""
    return tuple(field for field in FIELDS if field.group == name)
