"""The fields of the pages, and the form as it stands in the address."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal
from urllib.parse import parse_qsl, urlencode

from burnerlab.bench.earlier_readings import MENDED
from burnerlab.bench.plan_results import NO_PRESSURE_WORDS
from burnerlab.bench.reading.flue import APPLIANCE_KIND, appliance_kinds
from burnerlab.bench.reading_plan import STATE_WORDS, STATES
from burnerlab.bench.record import sights
from burnerlab.bench.record.entry import ANSWERS
from burnerlab.bench.record.other_unit import PLATE, PLATE_ANSWERS
from burnerlab.bench.record.release_statements import ReleaseStatement, statements_for
from burnerlab.gas import fuels, load
from burnerlab.quantity import Kind, System, read_heating_value, read_rate
from burnerlab.quantity.grammar import comma_readings
from burnerlab.quantity.inputs import Plain, input_row
from burnerlab.quantity.minutes import timing_seconds
from burnerlab.report.sheet.wording import clean
from burnerlab.tables.problem import Problem, UserError

# What the page asks for: every field by its name in the address, its unit in each system, what it takes.

Step = Literal["unit", "measure", "flame", "save", "stop"]
Keeper = Literal["input", "test", "lighting", "observation", ""]
"""Where the record keeps a field: its text as written, a text of the test, an answer before lighting, a sight."""
STEPS: tuple[Step, ...] = ("unit", "measure", "flame", "save", "stop")
Group = Literal["", "time", "scale", "bench", "flue"]
MANOMETER = "manometer"  # the manifold pressure alone, without a heat input
SCALE_METHOD = "scale"  # a cylinder, weighed before and after
FLAME_METHOD = "flame"  # flame and flue gas alone, as at the lowest setting of a valve
METHODS = ("meter", SCALE_METHOD, MANOMETER, FLAME_METHOD)
METHOD_WORDS = ("gas meter and watch", "cylinder on a scale", "manometer alone", "flame and flue gas alone")
OF_FLAME = ("low_rate", "instruments", "once")  # of the readings, where flame and flue gas alone are read
RULES = ("simple", "guard")
RULE_WORDS = ("the figure itself against the band", "the band narrowed by the uncertainty")
MOVES = "moves"  # the meter, with every burner off
ANOTHER, UNREAD = "another", "unread"  # of the label of the supply, besides the gases of the models
ELSEWHERE, LEAK = "elsewhere", "leak"
LEAK_TESTS = ("fluid", "pressure", "detector", ELSEWHERE, LEAK)
YES, NO = YES_NO = ("yes", "no")
APART = "apart_"  # before the name of what is stated of a place apart from a stop
TILE_GLOW = "even-glow"  # looked at on a radiant tile alone
SEEN = "see-"  # before the name of an observation
MARK_OF = "mark-of "  # before the name of a burner whose orifice mark is otherwise than that of the others
AS_PRINTED, OTHER_MARK, NO_MARK, NOT_LOOKED_AT = MARK_ANSWERS = (
    "as printed",
    "another",
    "no mark",
    "not looked at",
)
LONGEST_TEXT, LONGEST_NOTE = 80, 600
LONGEST_REASON, LONGEST_SLIPS = 200, 6000
SLIPS = "slips"
MANIFOLD_FIELD = "manifold"
NOTHING = re.compile(r"0+(?:\.0*)?(?: (?:mbar|kPa|in w\.c\.|psi))?")  # of a pressure
UNIT_OF = "-unit"  # after the name of a field: the unit chosen beside it
THOUSANDS = ".thousands"  # behind the name of a field whose comma parts thousands
COMMA = re.compile(r"[-+]?[0-9]*,[0-9]+(?![0-9.,])")
BARE = re.compile(r"[-+]?[0-9][0-9 .,]*|[-+]?[.,][0-9]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One input of the page; a bare number is in the unit of the system that was chosen."""

    name: str
    label: str
    step: Step
    kind: Kind | Plain | Literal["text", "rate", "heating value", "flag"] = "text"
    row: str = ""  # of table ``inputs``, which says what is accepted
    metric: str = ""
    US: str = ""
    hint: str = ""
    hint_US: str = ""  # where it differs
    method: str = ""  # only with this one
    choices: tuple[str, ...] = ()  # the answers accepted
    words: tuple[str, ...] = ()  # of each of them, in a list; the first is taken unless said
    group: Group = ""  # that it is shown with; alone it needs a place in a template
    keeper: Keeper = "input"
    record: str = ""  # quantity of the record that its figure becomes; older entries refill the form from it
    is_needed: bool = False
    needs_answer: bool = False  # needed with another answer alone
    needed_by: str = ""  # the way of measuring that needs it
    is_kept: bool = False  # for the next unit
    longest: int = LONGEST_TEXT

    def answer_words(self, text: str) -> str:
        """A choice in its words; any other text as it is."""
        return dict(zip(self.choices, self.words, strict=False)).get(text, text)

    def is_of(self, method: str) -> bool:
        """Whether it belongs to this way of measuring."""
        if method == FLAME_METHOD and self.step == "measure":
            return self.name in OF_FLAME
        return self.method in ("", method)

    def needed_with(self, method: str) -> bool:
        """Whether a test measured in this way cannot do without it."""
        return self.is_needed or (bool(self.needed_by) and self.needed_by == method)

    def unit(self, system: System) -> str:
        return self.metric if system == "metric" else self.US

    def help(self, system: System) -> str:
        return self.hint_US if system == "US" and self.hint_US else self.hint

    def units(self, system: System) -> tuple[str, ...]:
        """The units offered beside the field, that of the system first; a keypad of figures holds no letters."""
        own = self.unit(system)
        return (own, *(unit for unit in OFFERED.get(self.kind, ()) if unit != own)) if own else ()

    def split(self, text: str, system: System) -> tuple[str, str]:
        """The text as the field and the unit beside it show it.

        >>> dial = fields()["dial"]
        >>> dial.split("2 ft3", "metric"), dial.split("2", "metric"), dial.split("soon", "metric")
        (('2', 'ft3'), ('2', 'L'), ('soon', 'L'))
        """
        for unit in self.units(system):
            number = text.removesuffix(f" {unit}")
            if number != text and BARE.fullmatch(number):
                return number, unit
        return text, self.unit(system)

    def pointed(self, text: str, system: System) -> str:
        """A text with a decimal comma as it would be read with a point; "" when that is no reading of this field.

        >>> dial = fields()["dial"]
        >>> dial.pointed("2,5 ft3", "metric"), dial.pointed("2,5", "metric"), dial.pointed("2.5", "metric")
        ('2.5 ft3', '2.5 L', '')
        """
        if self.kind in ("text", "flag", "COUNT") or not COMMA.match(text):
            return ""
        pointed = self.spelled(text.replace(",", ".", 1), system)
        try:
            self.read(pointed, system)
        except UserError:
            return ""
        return pointed

    def grouped(self, text: str, system: System) -> str:
        """A text with a comma as it would be read with groups of thousands; "" when that is no reading of this field.

        >>> dial = fields()["dial"]
        >>> dial.grouped("1,000", "metric"), dial.grouped("2,5", "metric")
        ('1000 L', '')
        """
        readings = comma_readings(text) if self.pointed(text, system) else ()
        if len(readings) < 2:
            return ""
        grouped = self.spelled(readings[1], system)
        try:
            self.read(grouped, system)
        except UserError:
            return ""
        return grouped

    def spelled(self, text: str, system: System) -> str:
        """The text with its unit: a bare number gets that of the system."""
        unit = self.unit(system)
        return f"{text} {unit}" if unit and BARE.fullmatch(text) else text

    def read(self, text: str, system: System) -> Any:
        """What was entered, in SI. Raises UserError."""
        written = self.spelled(text, system)
        if self.kind == "text":
            return text
        if self.kind == "flag":
            return _flag(text)
        if self.kind == "rate":
            return read_rate(written, key=self.name)
        if self.kind == "heating value":
            return read_heating_value(written, key=self.name)
        if self.name == MANIFOLD_FIELD and NOTHING.fullmatch(text):
            return 0.0  # what a gauge shows where the supply is lost: a STOP, no figure to compute with
        if self.kind is Kind.TIME:
            written = timing_seconds(written, colon=self.metric == "s")
        return input_row(self.row).read(written, self.name)


def _flag(text: str) -> bool:
    if text != "yes":
        raise UserError(Problem("can only be ticked", value=text, accepted="yes"))
    return True


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


def measured(name: str, of: str = "", **words: Any) -> Field:
    """A quantity by its row of table ``inputs``: range, label, units and its name in the record.

    of : the row, where it has another name; words : what this field says otherwise
    """
    row = input_row(of or name)
    by_row: dict[str, Any] = {
        "step": "measure",
        "label": row.label,
        "kind": row.kind,
        "row": row.name,
        "metric": row.metric,
        "US": row.US,
        "record": row.record,
    }
    return Field(name=name, **(by_row | words))


def text(name: str, label: str, step: Step, keeper: Keeper = "input", **more: Any) -> Field:
    """What is no quantity of table ``inputs``: a text, a choice, a tick, a rate with its basis."""
    return Field(name=name, label=label, step=step, keeper=keeper, **more)


def sight_field(name: str, label: str) -> Field:
    """Something to look for at the flame."""
    return text(SEEN + name, label, "flame", "observation", choices=ANSWERS)


PLAN_HINT = "Its number, as on its paper, or scan the code there. Left empty, what is read counts for no row of a plan."
PLACE_HINT = "Bench and supply, such as Bench 2. With it extraction and alarm are answered once a day."
LABEL_OF_AIR = "Extraction on, CO alarm on, the maker's lighting instructions at hand"
UNIT = (
    text("model", "Model", "unit", "test", is_needed=True, is_kept=True),
    text("serial", "Serial number", "unit", "test", is_needed=True, hint="As on the plate, or scan it."),
    text(PLATE, "Plate of the unit", "unit", choices=("", *PLATE_ANSWERS),
         words=("not asked", *PLATE_ANSWERS.values())),
    text("burner", "Burner under test", "unit", is_kept=True),
    text("which", "Which of several burners alike", "unit", needs_answer=True,
         hint="Its number, such as 2 of 3. Read each of them alone: all together may not show one wrong orifice."),
    text("method", "Measured with", "unit", is_kept=True, choices=METHODS, words=METHOD_WORDS),
    text("tester", "Tested by", "unit", "test", is_needed=True, is_kept=True),
    text("place", "Place of the bench", "unit", "lighting", is_kept=True, hint=PLACE_HINT),
    text("supply_label", "Gas on the label of the supply", "unit", "lighting"),
    text("leak_test", "Leak test of this unit", "unit", "lighting", choices=LEAK_TESTS),
    text("leak_test_by", "Leak tested by", "unit", "lighting", needs_answer=True),
    text("leak_test_when", "When", "unit", "lighting", needs_answer=True,
         hint="Date and time, such as 2026-11-25 08:10."),
    text("air", LABEL_OF_AIR, "unit", "lighting", choices=YES_NO),
    text("orifice_marks", "Orifice marks, with the gas off", "unit", "lighting", choices=MARK_ANSWERS),
    text("marks_apart", "Burners whose mark is otherwise", "unit", "lighting", longest=LONGEST_NOTE),
    text("mark_read", "Mark that is read, where it is another", "unit", "lighting",
         hint="With its burner, such as ring: #54."),
    *(
        text(name, label, "unit", is_kept=True, needs_answer=True, longest=longest)
        for name, label, longest in (
            ("apart_place", "Place apart from a stop", LONGEST_TEXT),
            ("apart_room", "That place is", LONGEST_TEXT),
            ("apart_held", "Place that is held, shut off and ventilated", LONGEST_NOTE),
            ("apart_by", "Stated by", LONGEST_TEXT),
            ("apart_at", "Stated at", LONGEST_TEXT),
        )
    ),
    text("plan", "Test plan", "unit", is_kept=True, hint=PLAN_HINT),
    text("plan_state", "State of the burner", "unit", choices=STATES, words=tuple(STATE_WORDS.values())),
)  # fmt: skip
METER = (
    measured("dial", method="meter", is_needed=True, is_kept=True, record="meter_volume",
             hint="Printed on the dial, such as 10.", hint_US="Printed on the dial, such as 1 or 2."),
    measured("turns", "revolutions", method="meter", is_kept=True, hint="Whole ones; a minute or longer is best."),
    *(
        measured(f"time{n}", "timing", label=f"{word} timing", method="meter", group="time", is_needed=n == 1)
        for n, word in ((1, "First"), (2, "Second"), (3, "Third"))
    ),
)  # fmt: skip
SCALE = tuple(
    replace(field, method="scale", group="scale", is_needed=field.name != "resolution")
    for field in (
        measured(
            "first", "cylinder_mass", label="Cylinder on the scale, at the start", record="cylinder_loss"
        ),
        measured("last", "cylinder_mass", label="Cylinder on the scale, at the end"),
        measured("burned", "weighing_time"),
        measured("resolution", "scale_digit", is_kept=True),
    )
)
LOW_RATE = text("low_rate", "Read with the burner turned low", "measure", kind="flag")
MANIFOLD = measured(
    MANIFOLD_FIELD,
    "manifold_pressure",
    needed_by=MANOMETER,
    hint="By the manometer. It separates a wrong pressure from a wrong orifice.",
)
NO_TAP, NO_GAUGE = NO_MANIFOLD = ("no tap", "no gauge")
WHY_NO_PRESSURE = text(
    "no_manifold",
    "Why no manifold pressure is read",
    "measure",
    choices=("", *NO_MANIFOLD),
    words=("it is read", *NO_PRESSURE_WORDS.values()),
)
LOCK_UP_READ = text(
    "lock_up", "Read with every burner off (lock-up)", "measure", kind="flag", method=MANOMETER
)
FACTOR_HINTS = (
    "Volume that passed over volume counted, such as 1.012.",
    "Mass over mass shown, such as 0.998.",
)
BENCH = tuple(
    replace(field, group="bench", is_kept=True)
    for field in (
        measured("meter_pressure", method="meter"),
        measured("gas_temperature", method="meter"),
        measured("altitude", hint="Or the barometer below."),
        measured("barometer"),
        measured("meter_factor", method="meter", hint=FACTOR_HINTS[0]),
        measured("scale_factor", method="scale", hint=FACTOR_HINTS[1]),
        text("compensated", "The meter compensates for temperature", "measure", kind="flag", method="meter"),
        text("wet", "The gas in the meter is saturated with water", "measure", kind="flag", method="meter"),
        text("other_load", "Other load meanwhile, such as a pilot", "measure", kind="rate",
             metric="kW gross", US="kBtu/h gross", record="other_load_gross"),
        text("heating_value", "Heating value of the day", "measure", kind="heating value", method="meter",
             metric="MJ/m3 gross at 15C/15C", US="Btu/ft3 gross at 60F",
             hint="From the supplier; without it the gas of the model file counts."),
        text("rule", "Rule of decision", "measure", choices=RULES, words=RULE_WORDS,
             hint="How the uncertainty enters the finding."),
        text("instruments", "Instruments", "measure", "test", longest=200,
             hint="Names with commas between; their calibration dates come from the record."),
    )
)  # fmt: skip
FLUE = tuple(
    measured(name, step="flame", group="flue")
    for name in ("oxygen", "carbon_dioxide", "carbon_monoxide", "flue_temperature", "air_temperature")
)
SHOWN_AIR_FREE = text(
    "co_air_free", "The analyser shows this carbon monoxide air-free (undiluted)", "flame", kind="flag"
)
KIND_OF_APPLIANCE = text(
    APPLIANCE_KIND, "Kind of appliance", "flame",
    choices=("", *appliance_kinds()),
    words=("not named", *appliance_kinds().values()),
    hint="Whose limit of carbon monoxide holds; without a name the lowest for cooking.",
)  # fmt: skip
NOTE = text("note", "Note", "flame", "test", longest=LONGEST_NOTE, hint="Anything the next one should know.")
CORRECTION = (
    text("corrects", "Entry that this one corrects", "save", ""),
    text("reason", "Why the earlier entry was wrong", "save", "", is_needed=True, longest=LONGEST_NOTE),
)
READ_AGAIN = (
    text(MENDED, "What was mended since", "save", longest=LONGEST_REASON),
    text("read_before", "Entries that were read meanwhile", "save", ""),
)  # of a test that stands in the place of earlier readings
PHOTOGRAPHS = text("photographs", "Photographs of the test", "flame", "", longest=LONGEST_NOTE)
ONCE = text("once", "The word by which this test is known when it arrives twice", "measure", "")
NOT_LIT = "not_lit"
STOP = (
    text(SLIPS, "Entries that were wrong", "stop", "", longest=LONGEST_SLIPS),
    text("meter_at_rest", "The meter with every burner off", "stop", ""),
    text(NOT_LIT, "Stopped on the page before lighting", "stop", choices=("", YES)),
    text("pressure_above", "A manifold pressure that was seen above its limit", "stop", ""),
    text("slip", "Which entry was wrong, and why", "stop", "", is_needed=True, longest=LONGEST_REASON),
)
OTHER_SUPPLY = text(
    "other_supply", "Gas supply of that place, another than here", "stop", "", is_needed=True,
    hint="Needed: which one, such as ring main B. A place on the same supply is stopped as well.",
)  # fmt: skip
OTHER_PLACE = text(
    "place", "The other place", "stop", "", is_needed=True, hint="Needed: such as bench 2, or the town."
)
ROOMS: Mapping[str, str] = {"another room": "in another room", "outdoors": "outdoors, in the open air"}
HELD_SHUT = text(
    "held_shut",
    "The place that is held is shut off and ventilated",
    "stop",
    "",
    is_needed=True,
    choices=YES_NO,
)
RELEASED = "release-"  # before the kind of a statement of a release


def release_fields(stops: Collection[str]) -> dict[str, Field]:
    """What a release of stops of these ids states, by the kind of statement."""
    return {one.kind: _release_field(one) for one in statements_for(stops)}


def _release_field(statement: ReleaseStatement) -> Field:
    """A pressure with its units beside it, as every other on the bench; any other statement as a text or a choice."""
    words: dict[str, Any] = {
        "step": "stop",
        "label": statement.label,
        "keeper": "",
        "is_needed": not statement.is_remark,
        "longest": statement.longest,
        "hint": statement.hint,
    }
    if statement.kind.startswith("test_pressure"):
        return measured(RELEASED + statement.kind, "manifold_pressure", record="", **words)
    if statement.kind == "meter_dial":
        return measured(
            RELEASED + statement.kind, "dial", record="", **words | {"needs_answer": True, "is_needed": False}
        )
    choices = {"": "choose", **statement.choices} if statement.choices else {}
    return text(RELEASED + statement.kind, choices=tuple(choices), words=tuple(choices.values()), **words)


SIGHTS = tuple(sight_field(name, one.words) for name, one in sights().items())
FIELDS = (
    *UNIT,
    *METER,
    *SCALE,
    LOW_RATE,
    MANIFOLD,
    WHY_NO_PRESSURE,
    LOCK_UP_READ,
    *BENCH,
    *SIGHTS,
    *FLUE,
    SHOWN_AIR_FREE,
    KIND_OF_APPLIANCE,
    NOTE,
    PHOTOGRAPHS,
    *CORRECTION,
    *READ_AGAIN,
    ONCE,
    *STOP,
)
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


# The form as it stands in the address, and what its texts say.

MOST_FIELDS = 100
LONGEST_WORDS = 1500  # of what was read, in an entry that was wrong: every figure whole
LONGEST_FIELD = 2000  # beyond it a request is refused unread
SYSTEMS: tuple[System, ...] = ("metric", "US")


class RefusedError(Exception):
    """A request that no form of ours makes; ``status`` and a sentence for whoever made it."""

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status, self.sentence = status, sentence


def pairs_of(text: str, most: int = MOST_FIELDS, longest: int = LONGEST_FIELD) -> dict[str, str]:
    """Names and values of an address or a form, at most so many, none of more characters than ``longest``.

    Raises RefusedError for what is no form of ours.

    >>> pairs_of("serial=C-1&tester=R.+Quill")
    {'serial': 'C-1', 'tester': 'R. Quill'}
    """
    try:
        pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=most, errors="strict")
    except UnicodeDecodeError:
        raise RefusedError(400, "The form is not UTF-8 text.") from None
    except ValueError:
        raise RefusedError(400, f"The form holds more than {most} fields.") from None
    texts: dict[str, str] = {}
    for name, value in pairs:
        if name in texts:
            raise RefusedError(400, "A field of the form is given twice.")
        more = LONGEST_SLIPS if name == SLIPS else 0  # figures of stops stay whole
        if len(name) > longest or len(value) > max(longest, more):
            raise RefusedError(400, f"A field of the form is longer than {longest} characters.")
        if not all(c.isprintable() or c in "\r\n\t" for c in value):
            raise RefusedError(400, "A field of the form holds a character that cannot be printed.")
        texts[name] = " ".join(value.split())
    return texts


@dataclass(frozen=True, slots=True)
class Form:
    """What was entered so far, as text; it stands in the address, so that a page can be bookmarked."""

    texts: tuple[tuple[str, str], ...] = ()
    system: System = "metric"

    @staticmethod
    def of(pairs: dict[str, str], system: System = "metric") -> Form:
        """The fields of ours among ``pairs``, turned into the units asked for; others and empty ones are left out."""
        system_text = pairs.get("units")
        chosen = next((name for name in SYSTEMS if name == system_text), system)
        form = Form(tuple(_texts(pairs, chosen)), chosen)
        source = next((name for name in SYSTEMS if name == pairs.get("into")), chosen)
        return form if source == chosen else form.in_system(source)

    def repairs(self, errors: Iterable[str]) -> dict[str, str]:
        """Fields with a decimal comma, and what each would be read as with a point."""
        by_name = fields()
        pointed = {
            name: by_name[name].pointed(self.get(name), self.system) for name in errors if name in by_name
        }
        return {name: text for name, text in pointed.items() if text}

    def get(self, name: str) -> str:
        return dict(self.texts).get(name, "")

    @property
    def method(self) -> str:
        text = self.get("method")
        return text if text in METHODS else METHODS[0]

    @property
    def is_of_flame(self) -> bool:
        """Whether flame and flue gas alone are read."""
        return self.method == FLAME_METHOD

    @property
    def is_low(self) -> bool:
        """Whether the burner is turned low."""
        return self.get("low_rate") == YES

    @property
    def is_lock_up(self) -> bool:
        """Whether the manifold pressure was read with every burner off."""
        return self.method == MANOMETER and self.get("lock_up") == "yes"

    def having(self, **changed: str) -> Form:
        """The form with other texts; an empty one takes the field out."""
        return Form.of(dict(self.texts) | changed, self.system)

    def kept(self) -> Form:
        """What stays for the next unit; a way of measuring that reads no heat input is of the last row alone."""
        kept = tuple((name, text) for name, text in self.texts if fields()[name].is_kept)
        of_row = (("method", FLAME_METHOD), ("method", MANOMETER))
        return Form(tuple(pair for pair in kept if pair not in of_row), self.system)

    def without(self, step: Step) -> tuple[tuple[str, str], ...]:
        """Texts of the other steps, which a form of ``step`` carries along."""
        return tuple((name, text) for name, text in self.texts if fields()[name].step != step)

    def in_system(self, system: System) -> Form:
        """The same in the other system: bare numbers get the unit they were entered in.

        >>> Form((("dial", "2"),), "US").in_system("metric").get("dial")
        '2 ft3'
        """
        texts = {name: fields()[name].spelled(text, self.system) for name, text in self.texts}
        return Form.of(texts, system)

    def query(self) -> str:
        return urlencode([*self.texts, ("units", self.system)])


def _texts(pairs: dict[str, str], system: System) -> Iterator[tuple[str, str]]:
    """What was entered in each field: with the unit chosen beside it, and with a point where that was asked for."""
    repair, apart = pairs.get("repair", "").split(), _marks_apart(pairs)
    for name, field in fields().items():
        text = apart if name == "marks_apart" else pairs.get(name, "")
        unit = pairs.get(name + UNIT_OF, "")
        if text and unit in field.units(system)[1:] and BARE.fullmatch(text):
            text = f"{text} {unit}"
        if name in repair:
            text = field.pointed(text, system) or text
        elif f"{name}{THOUSANDS}" in repair:
            text = field.grouped(text, system) or text
        if text:
            yield name, text


def _marks_apart(pairs: Mapping[str, str]) -> str:
    """Burners of a page whose orifice mark is otherwise, each with its answer, as one text; as it was without any."""
    names = [name for name in pairs if name.startswith(MARK_OF)]
    if not names:
        return pairs.get("marks_apart", "")
    apart = {name.removeprefix(MARK_OF): pairs[name] for name in names if pairs[name] in MARK_ANSWERS}
    return json.dumps(apart, ensure_ascii=False) if apart else ""


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
    text = replace(problem, key="", value="", file="", line=0).text()
    return text[:1].upper() + text[1:]


def form_values(form: Form, steps: Iterable[Step]) -> FormValues:
    """Read the fields of some steps, every one by itself."""
    values = FormValues(form, {}, {})
    names = set(steps)
    for field in fields().values():
        if field.step not in names or not field.is_of(form.method):
            continue
        if field in CORRECTION and not form.get("corrects"):
            continue
        if field.name == "slip":  # asked for on a page of its own
            continue
        _read_field(values, field, form)
    if "measure" in names and form.get("altitude") and form.get("barometer"):
        values.errors["barometer"] = "Give the altitude or the barometer, not both"
    return values


def _read_field(values: FormValues, field: Field, form: Form) -> None:
    text = form.get(field.name)
    if not text:
        if field.needed_with(form.method):
            values.errors[field.name] = "Is missing"
        return
    if len(text) > field.longest:
        values.errors[field.name] = f"Is longer than {field.longest} characters"
        return
    if field.choices and text not in field.choices:
        values.errors[field.name] = f"Is not one of the answers (accepted: {', '.join(field.choices)})"
        return
    if field.name == "instruments" and max(len(name.strip()) for name in text.split(",")) > LONGEST_TEXT:
        values.errors[field.name] = f"The name of an instrument is longer than {LONGEST_TEXT} characters"
        return
    try:
        values.values[field.name] = field.read(text, form.system)
    except UserError as error:
        values.errors[field.name] = "; ".join(words(problem) for problem in error.problems)


def gas_title(name: str) -> str:
    """A gas as the form names it; a name that the library does not hold, and any other answer, as it is.

    >>> gas_title("propane-hd5"), gas_title("of our own")
    ('Propane HD-5, typical', 'of our own')
    """
    return str(getattr(load(name), "title", "") or name) if name in fuels() else name


def input_words(form: Form) -> str:
    """What was entered at the bench, as it was typed: every figure before what was seen."""
    by_name = fields()
    left_out = ("once", "instruments", "rule", "note", PHOTOGRAPHS.name)
    lines = [
        f"{by_name[name].label}: {by_name[name].spelled(text, form.system)}"
        for name, text in sorted(form.texts, key=lambda pair: pair[0].startswith(SEEN))
        if by_name[name].step in ("measure", "flame") and name not in left_out
    ]
    if read := form.get("supply_label"):
        answers = {ANOTHER: "another gas", UNREAD: "it cannot be read"}
        lines.insert(0, f"{by_name['supply_label'].label}: {answers.get(read) or gas_title(read)}")
    return clean("; ".join(lines) or "nothing", LONGEST_WORDS)


SLIP = ("stop", "why", "reading", "reason")


def slips_of(form: Form) -> list[dict[str, str]]:
    """Stops that a corrected entry took back: the stop, what raised it, what was read, why that was wrong.

    Raises RefusedError for what no page of ours writes.
    """
    text = form.get("slips")
    try:
        rows = json.loads(text) if text else []
        slips = [dict(zip(SLIP, row, strict=True)) for row in rows]
    except (ValueError, TypeError, RecursionError):
        raise RefusedError(400, "What was wrong before cannot be read.") from None
    if not all(isinstance(part, str) and part for row in slips for part in row.values()):
        raise RefusedError(400, "What was wrong before cannot be read.")
    return slips
