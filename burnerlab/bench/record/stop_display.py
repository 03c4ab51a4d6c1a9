"""Stops that the bench showed and nobody recorded: they stand in a file beside the record, by which they are listed."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from burnerlab.bench.record.database import in_words, whole_file
from burnerlab.bench.record.open_stops import ANY_PLACE, BenchPlace
from burnerlab.bench.stop import StopNotice, stop_rows
from burnerlab.quantity.outputs import output
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.problem import Problem, UserError

MINUTE = 16  # characters of a moment to the minute
TAKEN_BACK = Phrase("its entry was marked wrong, the corrected test is not recorded")


@dataclass(frozen=True, slots=True, kw_only=True)
class StopDisplay:
    """A stop as the bench showed it, without an entry of the record."""

    notice: StopNotice = field(metadata=output("notice", is_part=True))
    serial: str = field(metadata=output("shown for"))  # "" where none was entered yet
    tester: str = field(metadata=output("tester"))
    place: str = field(metadata=output("place"))  # of the bench; "" when not entered
    shown_at: str = field(
        metadata=output("shown at")
    )  # UTC; "" where an earlier version of the bench showed it
    is_taken_back: bool = field(metadata=output("entry marked wrong"))
    plan: str = field(default="", metadata=output("test plan"))  # its number; "" where none was entered

    @property
    def words(self) -> str:
        """For whom and when it was shown, by whom, and what was said of it since."""
        unit: str = Phrase("unit {serial}", serial=self.serial) if self.serial else Phrase("no unit entered")
        parts = [Phrase("{unit} at {bench}", unit=unit, bench=self.place) if self.place else unit]
        parts += [f"{self.shown_at[:MINUTE].replace('T', ' ')} UTC"] if self.shown_at else []
        parts += [Phrase("by {name}", name=self.tester)] if self.tester else []
        state = TAKEN_BACK if self.is_taken_back else Phrase("not recorded")
        return Phrase("Shown for {whom}; {state}.", whom=joined(", ", parts), state=state)

    def stands_for(self, serial: str, place: BenchPlace = ANY_PLACE) -> bool:
        """Whether nothing of this unit, at this bench, is judged until it is recorded or its entry corrected."""
        if self.serial.strip().casefold() == serial.strip().casefold():
            return True
        return self.notice.scope == "bench" and place.is_stopped_by(self.notice.id, self.place, self.shown_at)


def not_recorded_words(displays: Sequence[StopDisplay]) -> str:
    """How many stops were shown and not recorded, and what they hold, also while a correction is begun.

    displays : of one record; "" for none
    """
    if not displays:
        return ""
    holds = dict.fromkeys(
        "the bench" if one.notice.scope == "bench" or not one.serial else f"unit {one.serial}"
        for one in displays
    )
    hold = "it holds" if len(displays) == 1 else "they hold"
    return f"STOP: {len(displays)} shown and not recorded: {hold} {', '.join(sorted(holds))}"


def state_file(record: Path) -> Path:
    """The file in which a bench keeps what it showed, beside its record.

    >>> state_file(Path("bench.sqlite")).name
    'bench.sqlite.open.json'
    """
    return record.with_name(record.name + ".open.json")


def stops_not_recorded(record: Path) -> tuple[StopDisplay, ...]:
    """The stops shown beside a record, the worst first; none where its bench keeps nothing.

    Raises UserError for a file that cannot be read: a stop may stand in it.
    """
    path = state_file(record)
    try:
        stops = [_display(each) for each in json.loads(path.read_text(encoding="utf-8"))["stops"]]
    except FileNotFoundError:
        return ()
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise unreadable(path) from None
    order = {name: place for place, name in enumerate(stop_rows())}
    return tuple(sorted(stops, key=lambda stop: order.get(stop.notice.id, -1)))


def copy_displays(record: Path, copy: Path) -> tuple[StopDisplay, ...]:
    """Put the stops shown beside a record beside a copy of it: a bench on the copy is held by them too.

    What was answered of the room, true of the bench and the day, does not go along.
    Raises UserError for a file that cannot be read or written.
    """
    shown, target = stops_not_recorded(record), state_file(copy)
    if not shown:
        target.unlink(missing_ok=True)  # of a copy that this one takes the place of
        return ()
    stops = json.loads(state_file(record).read_text(encoding="utf-8"))["stops"]
    with whole_file(target, overwrite=True) as handle, in_words(target):
        handle.write_text(json.dumps({"air": {}, "stops": stops}, indent=1) + "\n", encoding="utf-8")
    return shown


def unreadable(path: Path) -> UserError:
    """The complaint of a file that is damaged."""
    what = "cannot be read; a stop that was shown and not recorded may stand in it"
    fix = "look at the units tested last, record the stops as they were, then delete the file"
    return UserError(Problem(what, file=str(path), fix=fix))


def _display(each: Mapping[str, Any]) -> StopDisplay:
    form = {name: str(text) for name, text in each["form"].items()}
    return StopDisplay(
        notice=StopNotice(**each["notice"]),
        serial=form.get("serial", ""),
        tester=form.get("tester", ""),
        place=form.get("place", ""),
        shown_at=str(each.get("shown_at", "")),
        is_taken_back=each["has_reason"] is True,
        plan=form.get("plan", ""),
    )
