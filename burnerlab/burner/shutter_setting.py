"""Is there a shutter setting, with a drill for each gas, that keeps the flame within its limits on all of them?

More air brings lift and light-back nearer and takes yellow tips away, so the openings that hold every limit are one
stretch for each gas and drill; the answer is what the stretches of all gases share, or which limits leave nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from itertools import product
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, EvaluationOptions, Surroundings
from burnerlab.burner.checks import rule_for
from burnerlab.burner.coefficients import Array
from burnerlab.burner.evaluation import evaluate
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output

STEP = 0.005  # of the opening; finer than anybody sets a shutter
OPENINGS = np.linspace(STEP, 1.0, round(1.0 / STEP))
LIMITS = ("yellow tipping", "lift", "light-back")
LOW_RATE_LIMIT = "light-back"
RULES = {"yellow tipping": "yellow-tip margin", "lift": "lift margin", "light-back": "light-back margin"}
MOST_DRILLS = 12  # of one gas


@dataclass(frozen=True, slots=True, kw_only=True)
class OrificeOption:
    """An orifice that may be chosen."""

    name: str
    diameter_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GasCase:
    """A gas the burner must burn, with the orifices that would give its rate."""

    title: str
    fuel: BurnerFuel
    gauge_pressure_Pa: float
    orifices: tuple[OrificeOption, ...]
    surroundings: Surroundings
    high_gauge_pressure_Pa: float | None = None  # lift is judged there
    low_gauge_pressure_Pa: float | None = None  # light-back is judged there, at turndown
    turndown: float = 1.0
    # hot over cold primary air at full rate and at turndown, as yellow tips are judged on the hot burner
    hot_shares: tuple[float, float] = (1.0, 1.0)
    options: EvaluationOptions = field(default_factory=EvaluationOptions)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Openings that hold every limit that is known, for one gas and orifice."""

    gas: str = field(metadata=output("gas"))
    orifice: str = field(metadata=output("orifice"))
    low: float | None = field(metadata=output("least opening", Kind.FRACTION))
    """None when there is none."""
    high: float | None = field(metadata=output("largest opening", Kind.FRACTION))
    binding: tuple[str, ...] = field(metadata=output("ended by"))
    """Limits that end the stretch, or leave none."""
    not_evaluated: tuple[str, ...] = field(metadata=output("not evaluated"))
    # None where the air at turndown is too faint at all of them
    evaluated_low: float | None = field(
        default=None, metadata=output("least opening with the air at turndown evaluated", Kind.FRACTION)
    )
    evaluated_high: float | None = field(
        default=None, metadata=output("largest opening with the air at turndown evaluated", Kind.FRACTION)
    )

    @property
    def width(self) -> float:
        return 0.0 if self.low is None or self.high is None else self.high - self.low


class TriedGas(NamedTuple):
    """A burner on a gas with the orifices that may be chosen."""

    geometry: BurnerGeometry
    case: GasCase

    @property
    def offered(self) -> tuple[OrificeOption, ...]:
        return self.case.orifices[:MOST_DRILLS]

    @property
    def alike(self) -> tuple[object, ...]:
        """The same for burners that one call can evaluate: one gas, one place, the same parts left out."""
        case = self.case
        return id(case.fuel), repr(case.surroundings), repr(case.options), self.geometry.pattern


StretchesAt = Callable[[Sequence[TriedGas], Path | None], Sequence[tuple[Stretch, ...]]]
"""The stretches of burners on gases, one for every orifice, by the rules of a file of the user's own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterWindow:
    """The openings common to all gases, with the orifice of each, or why there are none."""

    low: float | None = field(metadata=output("least opening", Kind.FRACTION))
    high: float | None = field(metadata=output("largest opening", Kind.FRACTION))
    stretches: tuple[Stretch, ...] = field(metadata=output("stretches"))
    """Of the orifices chosen, one for each gas."""
    all_stretches: tuple[Stretch, ...]
    words: str = field(metadata=output("in words"))

    @property
    @computed_output("exists")
    def exists(self) -> bool:
        return self.low is not None

    def is_evaluated_at(self, opening: float) -> bool:
        """Whether the air at turndown, and with it light-back, is evaluated at an opening for every gas."""
        ends = [(stretch.evaluated_low, stretch.evaluated_high) for stretch in self.stretches]
        return all(low is not None and high is not None and low <= opening <= high for low, high in ends)

    @property
    def middle(self) -> float | None:
        return None if self.low is None or self.high is None else (self.low + self.high) / 2.0


def shutter_window(
    geometry: BurnerGeometry, cases: Sequence[GasCase], own_rules: Path | None = None
) -> ShutterWindow:
    """Openings of the shutter that keep every gas within the limits of the flame, with one orifice for each gas.

    Lift is judged at full rate and the highest pressure, light-back at turndown and the lowest, yellow tips hot at
    both rates: at full rate alone where the air at turndown is not evaluated. Limits count with their nominal value;
    their band and their evidence stay what they are.
    geometry : with the area of the shutter fully open; its own orifice is not used
    """
    return shutter_windows([(geometry, cases)], own_rules)[0]


def shutter_windows(
    burners: Sequence[tuple[BurnerGeometry, Sequence[GasCase]]],
    own_rules: Path | None = None,
    stretches_at: StretchesAt | None = None,
) -> list[ShutterWindow]:
    """The window of each of several burners, as ``shutter_window`` one by one; those on one gas in one call.

    stretches_at : what finds the stretches, where some are known already; ``stretches_of`` without it
    """
    is_known = [
        geometry.shutter_area_m2 is not None and geometry.throat_m is not None for geometry, _ in burners
    ]
    tried = [
        (place, TriedGas(geometry, case))
        for place, (geometry, cases) in enumerate(burners)
        if is_known[place]
        for case in cases
    ]
    by_gas: list[list[tuple[Stretch, ...]]] = [[] for _ in burners]
    found = (stretches_at or stretches_of)([one for _, one in tried], own_rules)
    for (place, _), stretches in zip(tried, found, strict=True):
        by_gas[place].append(stretches)
    return [_window(by_gas[place]) if is_known[place] else NO_SHUTTER for place in range(len(burners))]


NO_SHUTTER = ShutterWindow(
    low=None,
    high=None,
    stretches=(),
    all_stretches=(),
    words="needs the throat and the area of the air shutter fully open",
)


def _window(by_gas: Sequence[tuple[Stretch, ...]]) -> ShutterWindow:
    """What the stretches of all gases share, with the orifice of each that leaves most."""
    everything = tuple(stretch for stretches in by_gas for stretch in stretches)
    chosen = max(product(*by_gas), key=_shared_width)
    low, high = _shared(chosen)
    return ShutterWindow(
        low=low, high=high, stretches=chosen, all_stretches=everything, words=_words(chosen, low, high)
    )


def stretches_of(tried: Sequence[TriedGas], own_rules: Path | None = None) -> list[tuple[Stretch, ...]]:
    """The stretches of each burner, one for every orifice; those on one gas in one call."""
    alike: dict[tuple[object, ...], list[int]] = {}
    for place, one in enumerate(tried):
        alike.setdefault(one.alike, []).append(place)
    results: list[tuple[Stretch, ...]] = [()] * len(tried)
    for places in alike.values():
        some = [tried[place] for place in places]
        margins, is_open = _margins(some)
        first = 0
        for place, one in zip(places, some, strict=True):
            rows = slice(first, first + len(one.offered))
            first = rows.stop
            own = {name: margin[rows] for name, margin in margins.items()}
            results[place] = _stretches_of(one, own, is_open[rows], own_rules)
    return results


def _stretches_of(
    tried: TriedGas, margins: Mapping[str, Array], is_open: NDArray[np.bool_], own_rules: Path | None
) -> tuple[Stretch, ...]:
    """Of one burner; margins, is_open : [orifice, opening]."""
    case, within = tried.case, {}
    unknown = []
    for name in LIMITS:
        rule, margin = rule_for(RULES[name], case.fuel.group, own_rules), margins[name]
        if rule is None or rule.low is None or bool(np.all(np.isnan(margin))):
            unknown.append(name)
        else:
            within[name] = margin >= rule.low  # not known at an opening is not held there
    if LOW_RATE_LIMIT in within:
        within[LOW_RATE_LIMIT] |= is_open
    return tuple(
        _stretch(
            case.title, orifice.name, {name: ok[i] for name, ok in within.items()}, tuple(unknown), is_open[i]
        )
        for i, orifice in enumerate(tried.offered)
    )


def _margins(tried: Sequence[TriedGas]) -> tuple[dict[str, Array], NDArray[np.bool_]]:
    """Of each orifice and opening: lift at full rate and highest pressure, light-back at turndown and lowest.

    And where the air at turndown is not evaluated: light-back stays open there, as it says beside the answer.
    tried : burners alike; the orifices of all of them along the first axis of what is returned
    """
    counts, first = [len(one.offered) for one in tried], tried[0]

    def column(values: Sequence[object]) -> Array:
        return np.repeat(np.array(values, dtype=np.float64), counts)[:, None]

    parts = {f.name: [getattr(one.geometry, f.name) for one in tried] for f in fields(BurnerGeometry)}
    geometry = replace(
        first.geometry,
        **{name: column(values) for name, values in parts.items() if values[0] is not None},
    )
    geometry = replace(
        geometry,
        orifice_diameter_m=np.array([orifice.diameter_m for one in tried for orifice in one.offered])[
            :, None
        ],
        shutter_opening=OPENINGS,
    )
    cases = [one.case for one in tried]
    nominal = [case.gauge_pressure_Pa for case in cases]
    ends = ([case.high_gauge_pressure_Pa for case in cases], [case.low_gauge_pressure_Pa for case in cases])
    pressure = np.stack(
        [
            column([usual if end is None else end for end, usual in zip(each, nominal, strict=True)])
            for each in ends
        ]
    )
    load = np.stack([column([1.0] * len(cases)), column([case.turndown for case in cases])])
    options = replace(first.case.options, load=load, band=False)
    state = evaluate(geometry, first.case.fuel, pressure, first.case.surroundings, options)
    yellow = [
        margin * column([case.hot_shares[rate] for case in cases])
        for rate, margin in enumerate(np.broadcast_to(state.yellow_tip_margin, state.primary_aeration.shape))
    ]
    margins = {
        "yellow tipping": np.fmin(*yellow),
        "lift": state.lift_margin_where_it_binds[0],
        LOW_RATE_LIMIT: state.light_back_margin[1],
    }
    return margins, np.isnan(state.primary_aeration[1]) & ~np.isnan(state.primary_aeration[0])


def _stretch(
    gas: str,
    orifice: str,
    within: Mapping[str, NDArray[np.bool_]],
    unknown: tuple[str, ...],
    is_open: NDArray[np.bool_],
) -> Stretch:
    together = np.all(list(within.values()), axis=0) if within else np.zeros(OPENINGS.shape, dtype=bool)
    places = _longest_run(together)
    if places.size == 0:
        never = tuple(name for name, ok in within.items() if not ok.any())
        binding = never or tuple(within)
        return Stretch(gas=gas, orifice=orifice, low=None, high=None, binding=binding, not_evaluated=unknown)
    first, last = int(places[0]), int(places[-1])
    evaluated = first + _longest_run(~is_open[first : last + 1])
    beyond = [place for place in (first - 1, last + 1) if 0 <= place < OPENINGS.size]
    binding = tuple(name for name, ok in within.items() if any(not ok[place] for place in beyond))
    return Stretch(
        gas=gas,
        orifice=orifice,
        low=float(OPENINGS[first]),
        high=float(OPENINGS[last]),
        binding=binding,
        not_evaluated=unknown,
        evaluated_low=float(OPENINGS[evaluated[0]]) if evaluated.size else None,
        evaluated_high=float(OPENINGS[evaluated[-1]]) if evaluated.size else None,
    )


def _longest_run(within: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Places of the longest run without a gap: light-back comes and goes again as a flame grows lean.

    >>> _longest_run(np.array([True, False, True, True, False])).tolist()
    [2, 3]
    """
    places = np.flatnonzero(within)
    runs = np.split(places, np.flatnonzero(np.diff(places) > 1) + 1)
    return max(runs, key=len)


def _shared(stretches: Sequence[Stretch]) -> tuple[float | None, float | None]:
    lows = [stretch.low for stretch in stretches]
    highs = [stretch.high for stretch in stretches]
    if any(end is None for end in (*lows, *highs)):
        return None, None
    low, high = max(end for end in lows if end is not None), min(end for end in highs if end is not None)
    return (low, high) if low <= high else (None, None)


def _shared_width(stretches: Sequence[Stretch]) -> tuple[bool, float, float]:
    low, high = _shared(stretches)
    own = sum(stretch.width for stretch in stretches)
    return low is not None, 0.0 if low is None or high is None else high - low, own


NO_OPENING = "no one opening of the shutter serves all gases"


def _words(stretches: Sequence[Stretch], low: float | None, high: float | None) -> str:
    drills = ", ".join(f"{stretch.gas} with {stretch.orifice}" for stretch in stretches)
    unknown = sorted({name for stretch in stretches for name in stretch.not_evaluated})
    tail = f"; not evaluated: {', '.join(unknown)}" if unknown else ""
    if low is not None and high is not None:
        faint = _faint_words(stretches, low, high, LOW_RATE_LIMIT in unknown)
        kept = f"shutter {_ends(low, high)} open keeps {drills} within the limits (estimate)"
        return kept + tail + faint
    alone = [stretch for stretch in stretches if stretch.low is None]
    if alone:
        said = [f"{stretch.gas} with {stretch.orifice}: {_why(stretch.binding)}" for stretch in alone]
        return "; ".join(("no opening of the shutter holds the limits", *said)) + tail
    said = [
        f"{stretch.gas} with {stretch.orifice} needs {_ends(stretch.low or 0.0, stretch.high or 0.0)}"
        f" (limited by {' and '.join(stretch.binding) or 'nothing'})"
        for stretch in stretches
    ]
    return "; ".join((NO_OPENING, *said)) + tail


def _faint_words(stretches: Sequence[Stretch], low: float, high: float, is_listed: bool) -> str:
    """At which of the openings light-back is evaluated, where the air at turndown is too faint at some of them."""
    faint = "the air at turndown is too faint to evaluate"
    known = [(each.evaluated_low, each.evaluated_high) for each in stretches]
    least = max(low, *(high if end is None else end for end, _ in known))
    most = min(high, *(low if end is None else end for _, end in known))
    if any(end is None for end, _ in known) or least > most:
        return f" ({faint})" if is_listed else f"; not evaluated: {LOW_RATE_LIMIT} ({faint})"
    if (least, most) == (low, high):
        return ""
    return f"; light-back evaluated from {_ends(least, most)} alone: at the other openings {faint}"


def _ends(low: float, high: float) -> str:
    """A stretch of openings, told to the step it was searched with: rounded, a setting beside it would seem inside.

    >>> _ends(0.405, 0.48)
    '40.5 to 48 %'
    """
    return f"{round(100 * low, 1):g} to {round(100 * high, 1):g} %"


def _why(binding: tuple[str, ...]) -> str:
    if len(binding) == 1:
        return f"{binding[0]} at every opening"
    return " and ".join(binding) + " leave none between them"
