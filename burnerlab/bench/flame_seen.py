"""What was seen of the flames of a unit, and what nobody has looked at: a reading in its band says nothing of lift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from burnerlab.bench.reading_plan import Plan, PlanRow
from burnerlab.bench.record.entry import Observation, TestRecord, sights
from burnerlab.bench.record.query import UnitStops
from burnerlab.bench.repairs import is_before_repair, number_of, places_before_repair
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.phrase import Phrase

RATE_WORDS = {"full": Phrase("at full rate"), "low": Phrase("at the lowest rate")}


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameSeen:
    """The flame of one burner at one rate: what was seen of it, and what no current test of the unit looked at."""

    burner: str = field(metadata=output("burner"))
    which: int = field(metadata=output("which of them"))  # of several alike; 0 for the only one
    count: int = field(metadata=output("burners alike"))  # under its name
    rate: str = field(metadata=output("rate"))  # full or low
    seen: tuple[Observation, ...] = field(default=(), metadata=output("seen"))  # the newest answers
    open: tuple[str, ...] = field(
        default=(), metadata=output("not looked at")
    )  # needed ones of ``observations``

    @property
    @computed_output("burner and rate")
    def place(self) -> str:
        """The burner and the rate in words.

        >>> str(FlameSeen(burner="tube", which=2, count=3, rate="low").place)
        'tube, 2 of 3, at the lowest rate'
        """
        rate = RATE_WORDS[self.rate]
        if self.which:
            return Phrase(
                "{burner}, {which} of {count}, {rate}",
                burner=self.burner,
                which=self.which,
                count=self.count,
                rate=rate,
            )
        return Phrase("{burner}, {rate}", burner=self.burner, rate=rate)

    @property
    def odd(self) -> tuple[Observation, ...]:
        """Answers other than those of a burner in order."""
        return tuple(one for one in self.seen if one.answer != sights()[one.name].expected)


def flames_of(
    plan: Plan, entries: Sequence[TestRecord], past: UnitStops | None = None
) -> tuple[FlameSeen, ...]:
    """The flame of each burner of a plan: on full rate, and turned low where the plan has it low.

    A stopped test has seen nothing, nor has one of the state before a repair of the burner; an entry that names none
    of several alike stands for each of them.
    entries : current ones of a unit, the newest first; past : the stops of the unit
    """
    answers = _answers(entries, past or UnitStops())
    flames = []
    for burner, which, count, rates in _places(plan):
        own = dict(answers.get(("", ""), {}))
        own |= answers.get((burner, ""), {})
        own |= answers.get((burner, str(which or "")), {})
        for rate in rates:
            of_rate = [one for one in sights().values() if one.at == rate]
            flames.append(
                FlameSeen(
                    burner=burner,
                    which=which,
                    count=count,
                    rate=rate,
                    seen=tuple(own[one.name] for one in of_rate if one.name in own),
                    open=tuple(one.name for one in of_rate if one.is_needed and one.name not in own),
                )
            )
    return tuple(flames)


def rate_of(row: PlanRow) -> str:
    """The rate at which a row is read: full, or low."""
    return "low" if row.state == "low" else "full"


def _places(plan: Plan) -> list[tuple[str, int, int, tuple[str, ...]]]:
    """Each burner of a plan, which of how many alike, and the rates at which it has rows."""
    rates: dict[tuple[str, int, int], dict[str, None]] = {}
    for row in plan.rows:
        if row.burner:
            at = rates.setdefault((row.burner, row.which, row.count), {})
            at[rate_of(row)] = None
    return [(*place, tuple(at)) for place, at in rates.items()]


def _answers(entries: Sequence[TestRecord], past: UnitStops) -> dict[tuple[str, str], dict[str, Observation]]:
    """The newest answers by burner and number of several alike, "" where an entry names no number; then by name."""
    repaired = places_before_repair(entries, past)
    by_place: dict[tuple[str, str], dict[str, Observation]] = {}
    for entry in entries:
        if entry.test.stops:
            continue
        number = number_of(entry)
        for one in entry.test.observations:
            which = int(number) if number.isdecimal() else 0
            if one.answer != "not seen" and not is_before_repair(repaired[entry.uid], one.burner, which):
                at = by_place.setdefault((one.burner, number if one.burner else ""), {})
                at.setdefault(one.name, one)
    return by_place
