"""Stops that were shown and are not in the record yet: each stands until it is recorded or its entry was wrong.

Over a restart they stand in a file beside the record, with extraction and alarm of the day; it goes when there is
nothing to keep. Label of the supply and leak test are in it only as part of what raised a stop.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from threading import Lock
from typing import Any

from burnerlab.bench.record.database import whole_file
from burnerlab.bench.record.entry import now
from burnerlab.bench.record.open_stops import place_key, serial_key
from burnerlab.bench.record.slip import typed_quantities
from burnerlab.bench.record.stop_display import StopDisplay, state_file, unreadable
from burnerlab.bench.stop import StopNotice, worst_first
from burnerlab.page.form import MANIFOLD_FIELD, SYSTEMS, Form, input_words, slips_of
from burnerlab.page.other_place import place_of

LEFT_OUT = (
    "Is missing: a STOP was shown with this figure. Type the one that was read, or record the test as stopped"
)
OTHER_METHOD = (
    "A STOP was shown as it was read before: read it in that way again, or record the test as stopped"
)
MOST = 1000  # stops kept; the oldest gives way
Key = tuple[str, str, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnrecordedStop:
    """A stop that a page has shown, with the form that raised it."""

    notice: StopNotice
    form: Form
    has_reason: bool = False  # why its entry was wrong was typed; that reason must come along to the record
    corrected: Form | None = None  # the entry made again, with that reason
    shown_at: str = field(default_factory=now)  # first

    @property
    def key(self) -> Key:
        form = self.form
        return (self.notice.id, serial_of(form), place_key(form.get("place")), form.get("corrects"))

    def is_of(self, form: Form) -> bool:
        """Whether a form is of the same unit or test; a correction lights nothing and answers for itself alone."""
        own = self.form
        if own.get("once") and own.get("once") == form.get("once"):
            return True
        is_open = form.get("corrects") in ("", own.get("corrects"))
        return (
            bool(serial_of(own))
            and serial_key(own.get("serial")) == serial_key(form.get("serial"))
            and is_open
        )

    def stands_for(self, form: Form) -> bool:
        """Whether a form may not go on: its own stop without a reason, or one of the whole bench at its place.

        A correction that was begun changes nothing for other units: the stop holds them until it is recorded.
        """
        if self.is_of(form):
            said = {(slip["stop"], slip["reading"]) for slip in slips_of(form)}
            return (self.notice.id, input_words(self.form)) not in said
        if self.is_left_by(form) or form.get("corrects"):
            return False
        if self.notice.scope != "bench" and serial_of(self.form):
            return False
        place, stop_place = form.get("place"), self.form.get("place")
        if self.notice.scope == "bench":
            return place_of(form).is_stopped_by(self.notice.id, stop_place, self.shown_at)
        return not place or not stop_place or place_key(place) == place_key(stop_place)

    def left_out(self, form: Form) -> dict[str, str]:
        """What a form that takes it back leaves out of the figures that raised it, by the name of its field.

        Without the figure that was read nothing shows that it was no stop: an entry made again has it.
        """
        typed, own = typed_quantities(self.notice.id), self.form
        if not typed or not self.is_of(form) or self.stands_for(form):
            return {}
        wrong = {}
        if "manifold_pressure" in typed and own.get(MANIFOLD_FIELD) and not form.get(MANIFOLD_FIELD):
            wrong[MANIFOLD_FIELD] = LEFT_OUT
        if own.method != form.method:
            wrong["method"] = OTHER_METHOD
        return wrong

    def is_left_by(self, form: Form) -> bool:
        """Whether it was taken back before a serial number was typed, and a form takes the same stop back.

        A page that was left and begun again is one test.
        """
        again = {slip["stop"] for slip in slips_of(form)}
        return self.has_reason and not serial_of(self.form) and self.notice.id in again

    @property
    def listed(self) -> StopDisplay:
        """As the lists of the record name it."""
        return StopDisplay(
            notice=self.notice,
            serial=self.form.get("serial"),
            tester=self.form.get("tester"),
            place=self.form.get("place"),
            shown_at=self.shown_at,
            is_taken_back=self.has_reason,
            plan=self.form.get("plan"),
        )


def serial_of(form: Form) -> str:
    """The serial number of a form as a key: capitals do not count."""
    return form.get("serial").casefold()


@dataclass(slots=True)
class Unrecorded:
    """The stops shown by this bench, also before it was started anew, until they are recorded."""

    stops: OrderedDict[Key, UnrecordedStop] = field(default_factory=OrderedDict)
    lock: Lock = field(default_factory=Lock)
    changed: Callable[[], None] = field(default=lambda: None)  # called after each change

    def every(self) -> tuple[UnrecordedStop, ...]:
        with self.lock:
            return tuple(self.stops.values())

    def add(self, form: Form, raised: Iterable[StopNotice], *, corrected: Form | None = None) -> None:
        """Keep what a page shows; shown again it keeps its reason.

        corrected : the form that says why the entry was wrong: what was shown gives way to it
        """
        has_reason = corrected is not None
        with self.lock:
            for notice in raised:
                stop = UnrecordedStop(notice=notice, form=form, has_reason=has_reason, corrected=corrected)
                before = self.stops.get(stop.key)
                if before is not None:
                    is_same = input_words(before.form) == input_words(form)
                    kept = has_reason or (before.has_reason and is_same)
                    again = corrected or (before.corrected if kept else None)
                    stop = replace(stop, shown_at=before.shown_at, has_reason=kept, corrected=again)
                self.stops[stop.key] = stop
                self.stops.move_to_end(stop.key)
            while len(self.stops) > MOST:
                self.stops.popitem(last=False)
        self.changed()

    def worst(self, form: Form, raised: tuple[StopNotice, ...]) -> UnrecordedStop | None:
        """The stop that a form walks away from; None when there is none, or one that it raises itself comes first."""
        with self.lock:
            stood = {stop.notice.id: stop for stop in self.stops.values() if stop.stands_for(form)}
        ids = {stop.id for stop in raised}
        first = worst_first([*raised, *(stop.notice for stop in stood.values())])
        return stood[first[0].id] if first and first[0].id not in ids else None

    def recorded(self, form: Form, ids: Iterable[str] | None = None) -> None:
        """Forget the stops of a form that are in the record now; ``ids`` of None: all of its own.

        With them go those that the form takes back, also before a serial number was typed: it holds why.
        """
        ended = None if ids is None else set(ids)
        with self.lock:
            for key, stop in list(self.stops.items()):
                is_ended = ended is None or stop.notice.id in ended or not stop.stands_for(form)
                if (stop.is_of(form) and is_ended) or stop.is_left_by(form):
                    del self.stops[key]
        self.changed()


Answers = dict[str, str]
"""Place, in lower case, to the day on which extraction and alarm were on."""


def state_text(air: Mapping[str, str], stops: Iterable[UnrecordedStop]) -> str:
    """The content of the file; "" when there is nothing to keep."""
    document = [
        {
            "notice": asdict(stop.notice),
            "form": dict(stop.form.texts),
            "system": stop.form.system,
            "has_reason": stop.has_reason,
            "corrected": None if stop.corrected is None else dict(stop.corrected.texts),
            "shown_at": stop.shown_at,
        }
        for stop in sorted(stops, key=lambda stop: stop.key)
    ]
    return json.dumps({"air": dict(air), "stops": document}, indent=1) + "\n" if air or document else ""


def write_state(record: Path, text: str) -> None:
    """Put the content in its place, whole. Raises UserError when it cannot be written."""
    path = state_file(record)
    if not text:
        path.unlink(missing_ok=True)
        return
    with whole_file(path, overwrite=True) as handle:
        handle.write_text(text, encoding="utf-8")


def read_state(record: Path) -> tuple[Answers, list[UnrecordedStop]]:
    """Answers and stops of the bench before; none when it left no file.

    Raises UserError for a file that cannot be read: a stop may stand in it.
    """
    path = state_file(record)
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        air = {str(place): str(day) for place, day in data["air"].items()}
        return air, [_stop(each) for each in data["stops"]]
    except FileNotFoundError:
        return {}, []
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise unreadable(path) from None


def _stop(each: Any) -> UnrecordedStop:
    if each["system"] not in SYSTEMS:
        raise ValueError(each["system"])
    return UnrecordedStop(
        notice=StopNotice(**each["notice"]),
        form=Form.of(each["form"], each["system"]),
        has_reason=each["has_reason"] is True,
        corrected=Form.of(each["corrected"], each["system"]) if each.get("corrected") else None,
        shown_at=str(each.get("shown_at", "")),
    )
