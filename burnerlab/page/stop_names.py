"""Stops that hold a unit or the bench, recorded or only shown, as the pages name them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from burnerlab.bench.record import OpenStop, notices
from burnerlab.bench.record.open_stops import FILLS_THE_ROOM
from burnerlab.bench.stop import StopNotice, worst_first
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import Form, Step
from burnerlab.page.result_text import moment
from burnerlab.report.sheet.wording import clean


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingStop:
    """A stop of the record as the page names it."""

    words: str
    entry: str
    serial: str
    is_of_the_bench: bool
    tester: str
    place: str


def standing_stops(stood: tuple[OpenStop, ...]) -> tuple[StandingStop, ...]:
    """Stops of the record, each entry once."""
    by_unit: dict[str, StandingStop] = {}
    for stop in stood:
        at = f" at {clean(stop.place)}" if stop.place else ""
        context = f"unit {clean(stop.serial)}{at}, {moment(stop.recorded_at)}, by {clean(stop.tester)}"
        before = by_unit.get(stop.entry)
        by_unit[stop.entry] = StandingStop(
            words=context,
            entry=stop.entry,
            serial=stop.serial,
            tester=stop.tester,
            place=stop.place,
            is_of_the_bench=stop.is_of_the_bench or (before is not None and before.is_of_the_bench),
        )
    return tuple(by_unit.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedStop:
    """A stop that stands, with the unit it was raised on, and the way to it."""

    notice: StopNotice
    words: str
    address: str
    serial: str
    tester: str
    place: str
    is_recorded: bool

    @property
    def holds(self) -> str:
        """What may not be lit."""
        return "The bench" if self.holds_the_bench else "This unit"

    @property
    def holds_the_bench(self) -> bool:
        """Whether no unit is lit at its place."""
        return self.notice.scope == "bench" or not self.serial


def open_stops_for(bench: Bench, form: Form) -> tuple[NamedStop, ...]:
    """Every stop that holds the unit of a form or the bench at its place, the worst first.

    Recorded or only shown makes no difference, nor that the form is a correction: it lights nothing, but names them.
    """
    form = form.having(corrects="")
    return _worst_first([*_recorded(bench, form, bench.standing(form)), *_unrecorded(bench, form)])


def room_stops(bench: Bench, form: Form, *, is_recorded: bool = True) -> tuple[NamedStop, ...]:
    """Stops whose gas may be in the room of every unit, wherever they were raised, the worst first.

    They stay at the head of every page until their release, also of those at a place apart.
    is_recorded : those of the record too; else the ones that were only shown
    """
    recorded = bench.every_standing() if is_recorded else ()
    every = [*_recorded(bench, form, recorded), *_unrecorded(bench, form, is_everywhere=True)]
    return tuple(
        stop
        for stop in _worst_first(every)
        if stop.notice.id in FILLS_THE_ROOM and stop.notice.scope == "bench"
    )


def stops_of_other_units(bench: Bench, form: Form) -> tuple[NamedStop, ...]:
    """Stops that hold the bench at the place of a form, none of its own unit: recorded ones, then those shown alone."""
    serial = form.get("serial").casefold()
    others = (stop for stop in open_stops_for(bench, form) if not serial or stop.serial.casefold() != serial)
    return tuple(others)


def recorded_stops_of_other_units(bench: Bench, form: Form) -> tuple[NamedStop, ...]:
    """Those of them that are in the record."""
    return tuple(stop for stop in stops_of_other_units(bench, form) if stop.is_recorded)


def _recorded(bench: Bench, form: Form, recorded: tuple[OpenStop, ...]) -> list[NamedStop]:
    kept = form.kept().query()
    return [
        NamedStop(
            notice=notice,
            words=named.words,
            address=f"/entry?uid={named.entry}&{kept}",
            serial=named.serial,
            tester=named.tester,
            place=named.place,
            is_recorded=True,
        )
        for named in standing_stops(recorded)
        for notice in notices(stop for stop in recorded if stop.entry == named.entry)[:1]
    ]


def _unrecorded(bench: Bench, form: Form, *, is_everywhere: bool = False) -> list[NamedStop]:
    kept = form.kept()
    return [
        NamedStop(
            notice=shown.notice,
            words=shown.listed.words,
            address="/?"
            + kept.having(
                serial=shown.form.get("serial"), place=(shown.form if is_everywhere else form).get("place")
            ).query(),
            serial=shown.form.get("serial"),
            tester=shown.form.get("tester"),
            place=shown.form.get("place"),
            is_recorded=False,
        )
        for shown in bench.unrecorded.every()
        if is_everywhere or shown.stands_for(form)
    ]


def _worst_first(stops: Iterable[NamedStop]) -> tuple[NamedStop, ...]:
    stops = tuple(stops)
    order = [notice.id for notice in worst_first(one.notice for one in stops)]
    return tuple(sorted(stops, key=lambda stop: order.index(stop.notice.id)))


def stopped_sentence(stops: tuple[NamedStop, ...], serial: str, what: str) -> str:
    """Why a finding has no verdict: whose stop stands, and whether it is in the record.

    what : is not evaluated, such as "band"
    """
    if not stops:
        return ""
    worst = stops[0]
    is_own = worst.serial.casefold() == serial.casefold()
    unit = "this unit" if is_own else f"unit {clean(worst.serial)}" if worst.serial else "the bench"
    whole = ", which holds the whole bench," if worst.serial and not is_own else ""
    stands = "stands in the record" if worst.is_recorded else "was shown and is not recorded yet"
    return f"A stop of {unit}{whole} {stands}. Until its release the {what} is not evaluated."


def is_stopped_by_other_units_only(bench: Bench, form: Form, *steps: Step) -> bool:
    """Whether what stops the readings of a form is of other units: the form raises no stop, and its unit has none."""
    own = (stop for stop in bench.standing(form) if stop.serial.casefold() == form.get("serial").casefold())
    shown = (stop for stop in bench.unrecorded.every() if stop.is_of(form) and stop.stands_for(form))
    return not bench.raised(form, *steps) and not any(own) and not any(shown)
