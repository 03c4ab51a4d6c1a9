"""What one bench test holds, and how it stands in the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal

from burnerlab.bench.stop import StopNotice

Answer = Literal["yes", "no", "not seen"]
ANSWERS: tuple[Answer, ...] = ("yes", "no", "not seen")
LeakTest = Literal["", "none found", "not done here", "leak found"]
LEAK_TESTS: tuple[LeakTest, ...] = ("", "none found", "not done here", "leak found")
YesNo = Literal["", "yes", "no"]
YES_NO: tuple[YesNo, ...] = ("", "yes", "no")
DATE_LENGTH = 10  # of an ISO 8601 date


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchInstrument:
    """What was read with, and from when to when its calibration holds; dates are ISO 8601, empty when not known."""

    name: str
    kind: str = ""
    calibrated_on: str = ""
    due_on: str = ""

    def overdue(self, tested_at: str) -> bool:
        """Whether its calibration was due before the day of the test.

        >>> BenchInstrument(name="M3", due_on="2026-05-01").overdue("2026-05-02T08:00:00.000Z")
        True
        """
        return bool(self.due_on) and self.due_on < tested_at[:DATE_LENGTH]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchReading:
    """One figure read off, in the SI unit of its quantity."""

    quantity: str
    value: float
    burner: str = ""  # empty: of the whole unit
    standard_uncertainty: float | None = None
    instrument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One figure computed from the readings, in SI, and the version of burnerlab that computed it."""

    quantity: str
    value: float
    burner: str = ""
    expanded_uncertainty: float | None = None  # coverage factor 2
    low: float | None = None  # band it was held against
    high: float | None = None
    verdict: str = ""  # within, near, outside, not evaluated
    version: str = ""

    @property
    def is_shown(self) -> bool:
        """Whether a value in its band is shown to be there: its interval does not reach beyond.

        >>> Result(quantity="deviation", value=-0.04, expanded_uncertainty=0.02, low=-0.05, high=0.05).is_shown
        False
        """
        if self.low is None or self.high is None or not self.low <= self.value <= self.high:
            return True
        spread = self.expanded_uncertainty or 0.0
        return self.low <= self.value - spread and self.value + spread <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """Something looked for, in the words of the table ``observations``."""

    name: str
    answer: Answer
    burner: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class InputText:
    """One input of the form that a test came from, as it was written; a correction of the entry starts from it."""

    name: str  # of the field
    text: str  # with its unit


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeLighting:
    """What was answered before this unit was lit; an empty answer is not recorded."""

    supply_label: str = ""  # the gas as read from the label of the supply
    leak_test: LeakTest = ""  # of this unit
    leak_test_method: str = ""  # none found: by which method
    leak_test_by: str = ""  # not done here: by whom
    leak_test_when: str = ""  # not done here: when
    extraction: YesNo = ""
    co_alarm: YesNo = ""
    place: str = ""  # of the bench and its supply


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierStop:
    """A stop that a corrected reading took back before the test was recorded; both stay."""

    stop: str  # id in the table ``stops``
    why: str  # what raised it
    reading: str  # as it was read first
    reason: str  # why that reading was wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchTest:
    """One test of one unit, as it is handed to the record."""

    serial: str
    model: str
    tester: str
    gas: str = ""
    model_sha256: str = ""  # of the project file the results were computed with
    tested_at: str = ""  # ISO 8601; now when empty
    note: str = ""
    instruments: tuple[BenchInstrument, ...] = ()
    readings: tuple[BenchReading, ...] = ()
    results: tuple[Result, ...] = ()
    observations: tuple[Observation, ...] = ()
    before_lighting: BeforeLighting | None = None  # None: not recorded
    stops: tuple[StopNotice, ...] = ()  # as they were shown; only a release ends them
    earlier_stops: tuple[EarlierStop, ...] = ()
    inputs: tuple[InputText, ...] = ()  # none of a test that was not entered in a form


PARTS: Mapping[str, type] = {
    "readings": BenchReading,
    "results": Result,
    "observations": Observation,
    "stops": StopNotice,
    "earlier_stops": EarlierStop,
    "inputs": InputText,
}
"""Parts of a test that may be many: the field, the table of the database and what a row of it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestRecord:
    """A test as it stands in the record; nothing in it can change any more."""

    __test__: ClassVar[bool] = False  # not a test of this program

    number: int
    uid: str
    recorded_at: str
    test: BenchTest
    corrects: str = ""  # uid of the test that this one supersedes
    reason: str = ""
    corrected_by: str = ""  # uid of the test that supersedes this one
    sha256: str = ""

    @property
    def serial(self) -> str:
        return self.test.serial

    @property
    def place(self) -> str:
        """Of the bench; "" when not recorded."""
        return "" if self.test.before_lighting is None else self.test.before_lighting.place

    @property
    def is_current(self) -> bool:
        return not self.corrected_by

    @property
    def overdue(self) -> tuple[BenchInstrument, ...]:
        """Instruments whose calibration was due before the day of the test."""
        return tuple(one for one in self.test.instruments if one.overdue(self.test.tested_at))


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """A qualified person ends stops: what was typed, which this program cannot check.

    A stop is named by the uid of its entry, a hyphen and its id.
    """

    stops: tuple[str, ...]
    name: str
    qualification: str
    cause: str
    repair: str
    leak_test: str  # method and finding, after the repair


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseRecord:
    """A release as it stands in the record."""

    number: int
    uid: str
    recorded_at: str
    release: Release
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """What was scanned in for one part of a kit."""

    part: str
    reading: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KitCheck:
    """One weighing of one conversion kit at the end of packing, with what was scanned in."""

    kit: str
    title: str
    tester: str
    mass_kg: float
    window_low_kg: float
    window_high_kg: float
    verdict: str  # within or outside
    serial: str = ""  # of the unit it goes with
    parts_sha256: str = ""
    weighed_at: str = ""
    note: str = ""
    version: str = ""
    scans: tuple[Scan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KitRecord:
    """A weighing as it stands in the record."""

    number: int
    uid: str
    recorded_at: str
    check: KitCheck
    sha256: str = ""
