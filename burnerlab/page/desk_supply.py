"""The supply of every market on the desk: pressure before each orifice with any burners on, and lock-up."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar

from burnerlab.appliance.conversion.evaluation_result import PressureAt, Pressures
from burnerlab.appliance.conversion.orifice_choice import changed_by
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, Finding, verdict_of
from burnerlab.appliance.memory import REMEMBERED, InputKey, appliance_key, of_network
from burnerlab.appliance.operation.operate import Reached, reached
from burnerlab.appliance.project.model import Appliance
from burnerlab.page.desk_fragment import (
    DeskFigure,
    DeskPart,
    Fragment,
    MarketConversion,
    desk_figure,
    desk_mark,
)
from burnerlab.page.result_text import minus
from burnerlab.quantity import Kind, System
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.show import from_unit
from burnerlab.report.sheet.blocks import POWER, Measure, basis_of, digits, percent, pressure
from burnerlab.report.sheet.burners import has_several
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.problem import UserError
from burnerlab.tables.verdict import Verdict

LOCK_UP = "lock-up"
TOPICS = ("supply pressure", LOCK_UP, "regulator", "piping", "flow regime", "worst combination")
NOT_DESCRIBED = (
    "Nothing before the manifold is described: its pressure is that of the file, whichever burners are on."
)
NOT_SOLVED = "The supply of this market is not evaluated; its reason stands among the open questions."


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerSwitch(DeskPart):
    """A burner that is on or off."""

    place: int
    name: str
    is_on: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyRow(DeskPart):
    """One burner: gauge pressure before its orifice in each state, and its heat input at both ends of the supply."""

    burner: str
    all_on: DeskFigure
    alone: DeskFigure
    chosen: DeskFigure
    chosen_rate: DeskFigure  # with its deviation
    chosen_mark: DeskFigure | None  # None where it is off, or all are on
    ends: DeskFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyCheck(DeskPart):
    """A check of the supply of the new gas."""

    topic: str
    text: DeskFigure
    mark: DeskFigure

    @property
    def is_within(self) -> bool:
        return self.mark.verdict is Verdict.WITHIN


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketPressures(DeskPart):
    """The supply of one market."""

    letter: str
    name: str
    unit: str
    has_several: bool  # of a kind: its pressure by itself has all of them on
    manifold: DeskFigure
    lock_up: DeskFigure
    rows: tuple[SupplyRow, ...]
    checks: tuple[SupplyCheck, ...]
    notes: tuple[str, ...]
    why: str = ""  # where it is not described or not solved


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyFragment(Fragment):
    """Every market's supply, and which burners burn."""

    template: ClassVar[str] = "desk_answer_supply"

    switches: tuple[BurnerSwitch, ...]
    markets: tuple[MarketPressures, ...]

    @property
    def is_part(self) -> bool:
        """Whether some burners are off."""
        return not all(switch.is_on for switch in self.switches)


def supply_fragment(
    appliance: Appliance, markets: Sequence[MarketConversion], on: Collection[int], system: System
) -> SupplyFragment:
    """The supply with the burners at these places on; with all of them where none is named, or all are."""
    places = range(1, len(appliance.burners) + 1)
    burning = [not on or place in on for place in places]
    switches = tuple(
        BurnerSwitch(place=place, name=name(burner.name), is_on=is_on)
        for place, burner, is_on in zip(places, appliance.burners, burning, strict=True)
    )
    return SupplyFragment(
        id="supply",
        switches=switches,
        markets=tuple(
            _market(letter, c, _title(market, c), burning, system)
            for market in markets
            for letter, c in market.by_gas
        ),
    )


def solved_supply(c: Conversion, burning: Sequence[bool]) -> Reached | None:
    """The changed appliance with these burners on, then with none; None where its supply cannot be solved."""
    if c.job is None:
        return None
    after = changed_by(c.job, c.steps)
    bare, sets = of_network(after), (tuple(burning), (False,) * len(burning))
    key = InputKey(reached, appliance_key(bare), bare.burners, sets)
    try:
        return REMEMBERED.recall(key, lambda: reached(after, sets))
    except UserError:
        return None


def _title(market: MarketConversion, c: Conversion) -> str:
    """The market, with its gas where it has several."""
    gas = clean(c.to_gas.name) if len(market.conversions) > 1 else ""
    return ", ".join(filter(None, (name(market.name), gas)))


def _market(
    letter: str, c: Conversion, title: str, burning: Sequence[bool], system: System
) -> MarketPressures:
    id = f"supply-{letter}"
    measure = pressure(c.to_gauge_pressure_Pa)
    solved = None if c.evaluation is None else c.evaluation.pressures_of("new")
    by_check = next((f for f in c.findings if f.topic == LOCK_UP and f.which_gas != "present"), None)
    lock_up_Pa = None
    if by_check is not None and by_check.value is not None:
        lock_up_Pa = float(from_unit(by_check.value, Kind.GAUGE_PRESSURE, by_check.unit))
    chosen = None if solved is None or (all(burning) and lock_up_Pa) else solved_supply(c, burning)
    if chosen is not None:
        lock_up_Pa = float(chosen.manifold_Pa[1])  # at the closed valves, with every burner off
    why = ""
    if solved is None:
        why = NOT_DESCRIBED if c.job is None or c.job.new_train.train is None else NOT_SOLVED
    return MarketPressures(
        letter=letter,
        name=title,
        unit=measure.scale(system).unit,
        has_several=has_several(c),
        manifold=desk_figure(f"{id}-manifold", _at(measure, _manifold(solved), system)),
        lock_up=desk_figure(f"{id}-lock-up", _at(measure, lock_up_Pa, system)),
        rows=tuple(
            _row(f"{id}-{k}", c, k - 1, (solved, None if all(burning) else chosen), system)
            for k in range(1, len(c.burners) + 1)
        ),
        checks=tuple(_checks(id, c)),
        notes=()
        if solved is None
        else tuple(minus(in_reader_units(clean(note), system)) for note in solved.notes),
        why=why,
    )


def _manifold(solved: Pressures | None) -> float | None:
    return None if solved is None else solved.manifold_gauge_pressure_Pa


def _at(measure: Measure, value_Pa: float | None, system: System) -> str:
    scale = measure.scale(system)
    return "" if value_Pa is None else digits(scale.of(value_Pa), 3)


def _row(
    id: str, c: Conversion, k: int, states: tuple[Pressures | None, Reached | None], system: System
) -> SupplyRow:
    (solved, chosen), b = states, c.burners[k]
    measure = pressure(c.to_gauge_pressure_Pa)
    at: PressureAt | None = None if solved is None else solved.burners[k]
    is_on = chosen is not None and float(chosen.gross_W[0, k]) > 0.0
    chosen_Pa = float(chosen.orifice_Pa[0, k]) if chosen is not None and is_on else None
    chosen_W = float(chosen.gross_W[0, k]) if chosen is not None and is_on else None
    return SupplyRow(
        burner=name(b.name),
        all_on=desk_figure(
            f"{id}-all-on", _at(measure, None if at is None else at.gauge_pressure_all_on_Pa, system)
        ),
        alone=desk_figure(
            f"{id}-alone", _at(measure, None if at is None else at.gauge_pressure_alone_Pa, system)
        ),
        chosen=desk_figure(
            f"{id}-chosen", _at(measure, chosen_Pa, system) if is_on or chosen is None else "off"
        ),
        chosen_rate=desk_figure(
            f"{id}-chosen-rate", "" if chosen_W is None else _rate(c, b, chosen_W, system)
        ),
        chosen_mark=None if chosen_W is None else _mark(f"{id}-chosen-mark", c, b, chosen_W),
        ends=desk_figure(f"{id}-ends", _ends(c, b, system)),
    )


def _rate(c: Conversion, b: BurnerConversion, gross_W: float, system: System) -> str:
    return f"{POWER.scale(system).text(gross_W * basis_of(c).new)}, {percent(gross_W / b.aim_gross_W - 1.0)}"


def _mark(id: str, c: Conversion, b: BurnerConversion, gross_W: float) -> DeskFigure:
    """Of a heat input in the band, by its value: its interval as made is that of the cell of the burner."""
    return desk_mark(id, verdict_of(gross_W / b.aim_gross_W - 1.0, c.tolerance_low, c.tolerance))


def _ends(c: Conversion, b: BurnerConversion, system: System) -> str:
    """Heat input at the lowest and the highest supply pressure."""
    ends, scale = (b.predicted_low_gross_W, b.predicted_high_gross_W), POWER.scale(system)
    known = [digits(scale.of(end * basis_of(c).new), 3) for end in ends if end is not None]
    return f"{' to '.join(known)} {scale.unit}" if len(known) == len(ends) else "no range known"


def _checks(id: str, c: Conversion) -> Iterator[SupplyCheck]:
    """Checks of the supply of the new gas, the worst first."""
    found = [f for f in c.findings if f.topic.startswith(TOPICS) and f.which_gas != "present"]
    for k, finding in enumerate(sorted(found, key=_order), start=1):
        yield SupplyCheck(
            topic=clean(finding.topic),
            text=desk_figure(f"{id}-check-{k}", finding.text),
            mark=desk_mark(f"{id}-check-{k}-mark", finding.verdict),
        )


def _order(finding: Finding) -> int:
    return finding.verdict.rank
