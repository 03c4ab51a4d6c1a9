"""One entry of a record: what a bench test holds, and the words it may hold."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import ClassVar, Literal

from burnerlab import tables
from burnerlab.bench.stop import StopNotice, stop_rows
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import input_rows
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError, did_you_mean

# The words of a record: quantities, observations, times, and the texts that may stand in it.

LONGEST_NAME = 80
LONGEST_NOTE = 2000
MOST_FACTS = 500  # readings, results or observations of one test
SIGNIFICANT = 12  # digits kept: beyond them a number is the noise of its machine, and no export keeps it
AHEAD = datetime.timedelta(hours=26)  # a test cannot lie further ahead than the clocks of two places differ


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordQuantity:
    """A figure a record knows by name."""

    name: str
    kind: Kind  # a plain number is a fraction
    unit: str  # SI, in which the record holds it
    words: str
    display_unit: str = ""  # unit in which a fraction is written; "" of a plain number
    is_result: bool = False  # follows from readings: a heat input, a deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """Something to look for at the bench."""

    name: str
    words: str
    at: str  # full or low rate, or turning off
    expected: str  # yes or no: what a burner in order shows
    stop: str = ""  # id of the stop that another answer raises
    is_needed: bool = False  # of every burner, before its unit is signed as a whole

    @property
    def is_of_flame(self) -> bool:
        """Whether it is seen at a lit burner, not of the room or before lighting.

        >>> sights()["lift"].is_of_flame, sights()["odour"].is_of_flame
        (True, False)
        """
        return self.at in ("full", "low", "when turned off")

    @property
    def adverse(self) -> str:
        """The answer of a burner with a fault.

        >>> sights()["lift"].adverse, sights()["lights-from-neighbour"].adverse
        ('yes', 'no')
        """
        return "no" if self.expected == "yes" else "yes"


@cache
def quantities() -> dict[str, RecordQuantity]:
    """Every quantity a record may hold, by name: computed figures, then inputs by the column ``record`` of their table.

    >>> quantities()["manifold_pressure"].unit
    'Pa'
    """
    by_name = {
        row["name"]: RecordQuantity(
            name=row["name"],
            kind=Kind[row["kind"]],
            unit=row["unit"],
            words=row["words"],
            display_unit=row["shown"],
            is_result=row["place"] == "results",
        )
        for row in tables.rows("record_quantities")
    }
    for entered in input_rows().values():
        name = entered.record
        if name and name not in by_name:
            kind = entered.kind if isinstance(entered.kind, Kind) else Kind.FRACTION
            unit, metric = entered.SI_unit, entered.metric
            by_name[name] = RecordQuantity(
                name=name, kind=kind, unit=unit, words=entered.words, display_unit=metric
            )
    return by_name


@cache
def sights() -> dict[str, Sight]:
    """The vocabulary of observations, by name.

    >>> sights()["lift"].expected
    'no'
    """
    return {
        row["name"]: Sight(
            name=row["name"],
            words=row["words"],
            at=row["at"],
            expected=row["wanted"],
            stop=row["stop"],
            is_needed=row["needed"] == "yes",
        )
        for row in tables.rows("observations")
    }


def quantity_words(name: str) -> str:
    """What a figure is, in words; a name that no table knows, of a damaged or newer file, as it is.

    >>> quantity_words("timed"), quantity_words("colour")
    ('time of the run', 'colour')
    """
    quantity = quantities().get(name)
    return name if quantity is None else quantity.words


def observation_words(name: str) -> str:
    """What was looked for and when, in words; a name that no table knows, of a damaged or newer file, as it is.

    >>> observation_words("lift")
    'flame lifts from the ports (full)'
    >>> observation_words("odour")
    'smell of unburnt gas or sharp fumes'
    """
    sight = sights().get(name)
    if sight is None:
        return name
    is_any_time = (
        bool(sight.stop) and stop_rows()[sight.stop]["scope"] == "bench"
    )  # gas in a room knows no rate
    return sight.words if is_any_time else f"{sight.words} ({sight.at})"


def known(text: str, names: Iterable[str], key: str, separator: str) -> str:
    """The name that ``text`` spells with blanks, hyphens or underscores. Raises UserError with those that begin so.

    >>> known("Manifold pressure", quantities(), "reading", "_")
    'manifold_pressure'
    """
    listed = list(names)
    spelled = separator.join(text.strip().lower().replace("_", " ").replace("-", " ").split())
    by_fold = {name.lower(): name for name in listed}
    if spelled in by_fold:
        return by_fold[spelled]
    fix = did_you_mean(spelled, listed)
    raise UserError(
        Problem("is not a word of the record", value=text, key=key, accepted=", ".join(listed), fix=fix)
    )


def quantity_named(text: str, key: str = "quantity") -> RecordQuantity:
    """The quantity of this name. Raises UserError."""
    return quantities()[known(text, quantities(), key, "_")]


def sight_named(text: str, key: str = "observation") -> Sight:
    """The observation of this name. Raises UserError."""
    return sights()[known(text, sights(), key, "-")]


def unit_of(quantity: str) -> str:
    """The SI unit of a quantity of the record; "" for one that is not known, as of a newer version.

    >>> unit_of("manifold_pressure")
    'Pa'
    """
    known_quantity = quantities().get(quantity)
    return "" if known_quantity is None else known_quantity.unit


def rounded(value: float | None) -> float | None:
    """A figure as the record keeps it, to 12 significant digits.

    >>> rounded(1 / 3)
    0.333333333333
    """
    return None if value is None else float(f"{value:.{SIGNIFICANT}g}") + 0.0


def now() -> str:
    """This moment in UTC, as the record writes it."""
    return utc_text(datetime.datetime.now(datetime.UTC))


def utc_text(moment: datetime.datetime) -> str:
    """ISO 8601 in UTC with milliseconds, of fixed length so that text order is time order."""
    return moment.astimezone(datetime.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def read_time(text: str, key: str = "tested_at") -> str:
    """A moment in ISO 8601; without an offset it is the local time of this machine. Raises UserError.

    >>> read_time("2026-11-25T14:05+01:00")
    '2026-11-25T13:05:00.000Z'
    """
    try:
        moment = datetime.datetime.fromisoformat(text.strip())
        told = utc_text(moment)
    except (ValueError, OverflowError, OSError):
        accepted = "such as 2026-11-25 14:05 or 2026-11-25T14:05Z"
        raise UserError(Problem("is not a date and time", value=text, key=key, accepted=accepted)) from None
    if told > utc_text(datetime.datetime.now(datetime.UTC) + AHEAD):
        raise UserError(Problem("lies in the future", value=text, key=key, fix="check the date"))
    return told


def read_date(text: str, key: str) -> str:
    """A day in ISO 8601. Raises UserError.

    >>> read_date("2026-05-01", "due")
    '2026-05-01'
    """
    try:
        return datetime.date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise UserError(
            Problem("is not a date", value=text, key=key, accepted="such as 2026-05-01")
        ) from None


@dataclass(slots=True)
class EntryReader:
    """Takes texts and figures for the record and collects what is wrong with them."""

    problems: list[Problem]

    def complain(self, what: str, key: str, value: str = "", accepted: str = "") -> None:
        self.problems.append(Problem(what, value=value, key=key, accepted=accepted))

    def text(self, value: object, key: str, *, needed: bool = False, longest: int = LONGEST_NAME) -> str:
        """A text of one line, or of several for a note, without what cannot be printed."""
        if not isinstance(value, str):
            self.complain("must be a text", key)
            return ""
        stripped = value.strip()
        lines = longest > LONGEST_NAME
        if not all(c.isprintable() or (lines and c == "\n") for c in stripped):
            self.complain("holds a character that cannot be printed", key, stripped)
            return ""
        if len(stripped) > longest:
            self.complain(f"is longer than {longest} characters", key, stripped)
        if needed and not stripped:
            self.complain("is missing", key)
        return stripped

    def number(self, value: object, key: str) -> float:
        """A finite figure, kept to 12 digits."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            self.complain("must be a finite number", key, str(value))
            return 0.0
        return rounded(float(value)) or 0.0

    def some(self, value: object, key: str, *, not_below: float = -math.inf) -> float | None:
        """A figure that may be missing."""
        if value is None:
            return None
        number = self.number(value, key)
        if number < not_below:
            self.complain(f"must not be below {not_below:g}", key, f"{number:g}")
        return number

    def moment(self, value: str, key: str, missing: str) -> str:
        return self.read_by(lambda: read_time(value, key)) if value else missing

    def day(self, value: str, key: str) -> str:
        return self.read_by(lambda: read_date(value, key)) if value else ""

    def read_by(self, reader: Callable[[], str]) -> str:
        try:
            return reader()
        except UserError as error:
            self.problems.extend(error.problems)
            return ""

    def choice(self, value: object, allowed: Sequence[str], key: str) -> str:
        if value not in allowed:
            self.complain("is not one of its answers", key, str(value), ", ".join(filter(None, allowed)))
        return str(value)

    def close(self) -> None:
        """Raise UserError with everything found, if anything."""
        if self.problems:
            raise UserError(self.problems)


# What one bench test holds, and how it stands in the record.

Answer = Literal["yes", "no", "not seen"]
ANSWERS: tuple[Answer, ...] = ("yes", "no", "not seen")
LeakTest = Literal["", "none found", "not done here", "leak found"]
LEAK_TESTS: tuple[LeakTest, ...] = ("", "none found", "not done here", "leak found")
RatingBasis = Literal["", "gross", "net"]
RATING_BASES: tuple[RatingBasis, ...] = ("", "gross", "net")
Region = Literal["", "us", "eu"]
RECORD_REGIONS: tuple[Region, ...] = ("", "us", "eu")
YesNo = Literal["", "yes", "no"]
YES_NO: tuple[YesNo, ...] = ("", "yes", "no")
DATE_LENGTH = 10  # of an ISO 8601 date


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchInstrument:
    """What was read with, and from when to when its calibration holds; dates are ISO 8601, empty when not known."""

    name: str = field(metadata=output("instrument"))
    kind: str = field(default="", metadata=output("kind"))
    calibrated_on: str = field(default="", metadata=output("calibrated on"))
    due_on: str = field(default="", metadata=output("due on"))

    def overdue(self, tested_at: str) -> bool:
        """Whether its calibration was due before the day of the test.

        >>> BenchInstrument(name="M3", due_on="2026-05-01").overdue("2026-05-02T08:00:00.000Z")
        True
        """
        return bool(self.due_on) and self.due_on < tested_at[:DATE_LENGTH]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchReading:
    """One figure read off, in the SI unit of its quantity."""

    quantity: str = field(metadata=output("quantity"))
    value: float = field(metadata=output("value"))
    burner: str = field(default="", metadata=output("burner"))  # empty: of the whole unit
    standard_uncertainty: float | None = field(default=None, metadata=output("standard uncertainty"))
    instrument: str = field(default="", metadata=output("instrument"))

    @property
    @computed_output("unit")
    def unit(self) -> str:
        """SI unit of its quantity."""
        return unit_of(self.quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One figure computed from the readings, in SI, and the version of burnerlab that computed it."""

    quantity: str = field(metadata=output("quantity"))
    value: float = field(metadata=output("value"))
    burner: str = field(default="", metadata=output("burner"))
    expanded_uncertainty: float | None = field(default=None, metadata=output("expanded uncertainty"))  # k = 2
    low: float | None = field(
        default=None, metadata=output("low end of the band")
    )  # band it was held against
    high: float | None = field(default=None, metadata=output("high end of the band"))
    verdict: str = field(default="", metadata=output("verdict"))  # within, near, outside, not evaluated
    version: str = field(default="", metadata=output("version"))

    @property
    @computed_output("unit")
    def unit(self) -> str:
        """SI unit of its quantity."""
        return unit_of(self.quantity)

    @property
    def is_conclusive(self) -> bool:
        """Whether a value in its band is shown to be there: its interval does not reach beyond.

        >>> Result(quantity="deviation", value=-0.04, expanded_uncertainty=0.02, low=-0.05, high=0.05).is_conclusive
        False
        """
        if self.low is None or self.high is None or not self.low <= self.value <= self.high:
            return True
        spread = self.expanded_uncertainty or 0.0
        return self.low <= self.value - spread and self.value + spread <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """Something looked for, in the words of the table ``observations``."""

    name: str = field(metadata=output("looked for"))
    answer: Answer = field(metadata=output("seen"))
    burner: str = field(default="", metadata=output("burner"))


@dataclass(frozen=True, slots=True, kw_only=True)
class InputText:
    """One input of the form that a test came from, as it was written; a correction of the entry starts from it."""

    name: str = field(metadata=output("input"))  # of the field
    text: str = field(metadata=output("as written"))  # with its unit


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanEntry:
    """A row of a test plan that a test reads; the figure is the test's own of that quantity and burner."""

    plan: str = field(metadata=output("test plan"))  # its digest
    plan_row: str = field(metadata=output("row of the plan"))


PHOTOGRAPH_SUBJECTS = ("flame", "plate", "gauge")


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """A picture of a test by the SHA-256 of its file next to the record; nothing is judged from it."""

    sha256: str = field(metadata=output("SHA-256"))
    subject: str = field(metadata=output("shows"))  # flame, plate or gauge


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeLighting:
    """What was answered before this unit was lit; an empty answer is not recorded."""

    supply_label: str = field(default="", metadata=output("supply label"))  # the gas as read there
    leak_test: LeakTest = field(default="", metadata=output("leak test"))  # of this unit
    leak_test_method: str = field(default="", metadata=output("by method"))  # none found: by which method
    leak_test_by: str = field(default="", metadata=output("by"))  # not done here: by whom
    leak_test_when: str = field(default="", metadata=output("when"))  # not done here: when
    extraction: YesNo = field(default="", metadata=output("extraction"))
    co_alarm: YesNo = field(default="", metadata=output("CO alarm"))
    place: str = field(default="", metadata=output("place"))  # of the bench and its supply


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierStop:
    """A stop that a corrected reading took back before the test was recorded; both stay."""

    stop: str = field(metadata=output("stop"))  # id in the table ``stops``
    why: str = field(metadata=output("because"))  # what raised it
    reading: str = field(metadata=output("reading"))  # as it was read first
    reason: str = field(metadata=output("reason"))  # why that reading was wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchTest:
    """One test of one unit, as it is handed to the record."""

    serial: str = field(metadata=output("unit"))
    model: str = field(metadata=output("model"))
    tester: str = field(metadata=output("tester"))
    gas: str = field(default="", metadata=output("gas"))
    model_sha256: str = field(default="", metadata=output("SHA-256 of the model file"))  # project file
    tested_at: str = field(default="", metadata=output("tested at"))  # ISO 8601; now when empty
    rating_basis: RatingBasis = field(
        default="", metadata=output("basis of the rating")
    )  # "" where not recorded
    region: Region = field(
        default="", metadata=output("region of the model file")
    )  # whose words its reader has; "" where the file names none, or it is not recorded
    note: str = field(default="", metadata=output("note"))
    instruments: tuple[BenchInstrument, ...] = field(default=(), metadata=output("instruments"))
    readings: tuple[BenchReading, ...] = field(default=(), metadata=output("readings"))
    results: tuple[Result, ...] = field(default=(), metadata=output("results"))
    observations: tuple[Observation, ...] = field(default=(), metadata=output("observations"))
    before_lighting: BeforeLighting | None = field(
        default=None, metadata=output("before lighting")
    )  # or not recorded
    stops: tuple[StopNotice, ...] = ()  # as they were shown; only a release ends them
    earlier_stops: tuple[EarlierStop, ...] = field(default=(), metadata=output("earlier stops"))
    inputs: tuple[InputText, ...] = field(default=(), metadata=output("inputs"))  # none without a form
    plan_entries: tuple[PlanEntry, ...] = field(default=(), metadata=output("rows of a test plan"))
    photographs: tuple[Photograph, ...] = field(default=(), metadata=output("photographs"))

    def input_text(self, name: str) -> str:
        """An input of its form as typed; "" where it has none of this name."""
        return next((one.text for one in self.inputs if one.name == name), "")


PARTS: Mapping[str, type] = {
    "readings": BenchReading,
    "results": Result,
    "observations": Observation,
    "stops": StopNotice,
    "earlier_stops": EarlierStop,
    "inputs": InputText,
    "plan_entries": PlanEntry,
    "photographs": Photograph,
}
"""Parts of a test that may be many: the field, the table of the database and what a row of it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestRecord:
    """A test as it stands in the record; nothing in it can change any more."""

    __test__: ClassVar[bool] = False  # not a test of this program

    number: int = field(metadata=output("number"))
    uid: str = field(metadata=output("entry"))
    recorded_at: str = field(metadata=output("recorded at"))
    test: BenchTest = field(metadata=output("test", is_part=True))
    corrects: str = field(default="", metadata=output("corrects"))  # uid of the test that this one supersedes
    reason: str = field(default="", metadata=output("reason"))
    corrected_by: str = field(
        default="", metadata=output("superseded by")
    )  # uid of the test that supersedes this one
    sha256: str = field(default="", metadata=output("SHA-256"))

    @property
    def serial(self) -> str:
        return self.test.serial

    @property
    def place(self) -> str:
        """Of the bench; "" when not recorded."""
        return "" if self.test.before_lighting is None else self.test.before_lighting.place

    @property
    @computed_output("current")
    def is_current(self) -> bool:
        """Whether no later entry supersedes it."""
        return not self.corrected_by

    @property
    def overdue(self) -> tuple[BenchInstrument, ...]:
        """Instruments whose calibration was due before the day of the test."""
        return tuple(
            instrument for instrument in self.test.instruments if instrument.overdue(self.test.tested_at)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """A qualified person ends stops: what was typed, which this program cannot check.

    A stop is named by the uid of its entry, a hyphen and its id.
    """

    stops: tuple[str, ...] = field(metadata=output("stops"))
    name: str = field(metadata=output("released by"))
    qualification: str = field(metadata=output("qualification"))
    cause: str = field(metadata=output("cause"))
    repair: str = field(metadata=output("repair"))
    leak_test: str = field(metadata=output("leak test"))  # method and finding, after the repair


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseRecord:
    """A release as it stands in the record."""

    number: int = field(metadata=output("number"))
    uid: str = field(metadata=output("entry"))
    recorded_at: str = field(metadata=output("recorded at"))
    release: Release = field(metadata=output("release", is_part=True))
    sha256: str = field(default="", metadata=output("SHA-256"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """What was scanned in for one part of a kit."""

    part: str = field(metadata=output("part"))
    reading: str = field(metadata=output("reading"))


@dataclass(frozen=True, slots=True, kw_only=True)
class KitCheck:
    """One weighing of one conversion kit at the end of packing, with what was scanned in."""

    kit: str = field(metadata=output("kit"))
    title: str = field(metadata=output("parts list"))
    tester: str = field(metadata=output("tester"))
    mass_kg: float = field(metadata=output("mass", Kind.MASS))
    window_low_kg: float = field(metadata=output("window, low end", Kind.MASS))
    window_high_kg: float = field(metadata=output("window, high end", Kind.MASS))
    verdict: str = field(metadata=output("verdict"))  # within or outside
    serial: str = field(default="", metadata=output("unit"))  # of the unit it goes with
    parts_sha256: str = field(default="", metadata=output("SHA-256 of the parts list"))
    weighed_at: str = field(default="", metadata=output("weighed at"))
    note: str = field(default="", metadata=output("note"))
    version: str = field(default="", metadata=output("version"))
    scans: tuple[Scan, ...] = field(default=(), metadata=output("scans"))


@dataclass(frozen=True, slots=True, kw_only=True)
class KitRecord:
    """A weighing as it stands in the record."""

    number: int = field(metadata=output("number"))
    uid: str = field(metadata=output("entry"))
    recorded_at: str = field(metadata=output("recorded at"))
    check: KitCheck = field(metadata=output("weighing", is_part=True))
    sha256: str = field(default="", metadata=output("SHA-256"))
