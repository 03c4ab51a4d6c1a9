"""Stops that were shown and are not in the record yet: each stands until it is recorded or its entry was wrong."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from threading import Lock

from burnerlab.bench.record.open_stops import place_key, same_supply
from burnerlab.bench.stop import StopNotice, worst_first
from burnerlab.page.forms import Form, input_words, slips_of

MOST = 1000  # stops kept; the oldest gives way
Key = tuple[str, str, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnrecordedStop:
    """A stop that a page has shown, with the form that raised it."""

    notice: StopNotice
    form: Form
    has_reason: bool = False  # why its entry was wrong was typed; that reason must come along to the record

    @property
    def key(self) -> Key:
        form = self.form
        return (self.notice.id, _serial(form), place_key(form.get("place")), form.get("corrects"))

    def is_of(self, form: Form) -> bool:
        """Whether a form is of the same unit or test; a correction lights nothing and answers for itself alone."""
        own = self.form
        if own.get("once") and own.get("once") == form.get("once"):
            return True
        is_open = form.get("corrects") in ("", own.get("corrects"))
        return bool(_serial(own)) and _serial(own) == _serial(form) and is_open

    def stands_for(self, form: Form) -> bool:
        """Whether a form may not go on: its own stop without a reason, or one of the whole bench at its place."""
        if self.is_of(form):
            said = {(one["stop"], one["reading"]) for one in slips_of(form)}
            return (self.notice.id, input_words(self.form)) not in said
        if self.has_reason or form.get("corrects") or (self.notice.scope != "bench" and _serial(self.form)):
            return False
        here, there = form.get("place"), self.form.get("place")
        if self.notice.scope == "bench":
            return same_supply(here, there)
        return not here or not there or place_key(here) == place_key(there)


def _serial(form: Form) -> str:
    return form.get("serial").casefold()


@dataclass(slots=True)
class Unrecorded:
    """The stops shown by this bench, also before it was started anew, until they are recorded."""

    shown: OrderedDict[Key, UnrecordedStop] = field(default_factory=OrderedDict)
    lock: Lock = field(default_factory=Lock)
    changed: Callable[[], None] = field(default=lambda: None)  # called after each change

    def every(self) -> tuple[UnrecordedStop, ...]:
        with self.lock:
            return tuple(self.shown.values())

    def add(self, form: Form, raised: Iterable[StopNotice], *, has_reason: bool = False) -> None:
        """Keep what a page shows; with a reason, what was shown gives way to it."""
        with self.lock:
            for notice in raised:
                one = UnrecordedStop(notice=notice, form=form, has_reason=has_reason)
                self.shown[one.key] = one
                self.shown.move_to_end(one.key)
            while len(self.shown) > MOST:
                self.shown.popitem(last=False)
        self.changed()

    def worst(self, form: Form, raised: tuple[StopNotice, ...]) -> UnrecordedStop | None:
        """The stop that a form walks away from; None when there is none, or one that it raises itself comes first."""
        with self.lock:
            stood = {one.notice.id: one for one in self.shown.values() if one.stands_for(form)}
        ids = {one.id for one in raised}
        first = worst_first([*raised, *(one.notice for one in stood.values())])
        return stood[first[0].id] if first and first[0].id not in ids else None

    def recorded(self, form: Form, ids: Iterable[str] | None = None) -> None:
        """Forget the stops of a form that are in the record now; ``ids`` of None: all of its own."""
        known = None if ids is None else set(ids)
        with self.lock:
            for key, one in list(self.shown.items()):
                if one.is_of(form) and (known is None or one.notice.id in known):
                    del self.shown[key]
        self.changed()
