"""How the stops of a unit and their releases are told on its papers, whatever was recorded since."""

from __future__ import annotations

from burnerlab.bench.record import ReleaseRecord, UnitStops
from burnerlab.page.result_text import UID_SHOWN, LabelledText, moment
from burnerlab.report.wording import clean


def past_facts(past: UnitStops) -> tuple[LabelledText, ...]:
    """Every stop of a unit, why, and the release that ended it, as typed."""
    told = []
    for one in past.stops:
        why = f"{one.notice.why[:1].upper()}{one.notice.why[1:]}. " if one.notice.why else ""
        told.append(
            LabelledText(
                label=f"{one.notice.signal}: {one.notice.heading}",
                value=why + _ended(one.release),
                note=f"entry {one.entry.uid[:UID_SHOWN]}, {moment(one.entry.recorded_at)}, "
                f"{clean(one.entry.test.tester)}",
            )
        )
    return tuple(told)


def _ended(made: ReleaseRecord | None) -> str:
    if made is None:
        return "Not released."
    held = made.release
    return (
        f"Released {moment(made.recorded_at)} by {clean(held.name)}, {clean(held.qualification)}, as typed: "
        f"burnerlab cannot check it. Cause: {clean(held.cause)}. Repair: {clean(held.repair)}. "
        f"Leak test: {clean(held.leak_test)}."
    )
