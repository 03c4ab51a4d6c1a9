"""Search for a more even map within bounds: designs, rate windows, the trade-off.

What may change: place and height of the tubes below a surface, the split of the rate between them, the width of their
shields, one length out of those that can be bought, and how many tubes there are. What is held: total input, spacing,
room for the flame of the taller gas, mean heat, the box. Evenness is bought with input or with tubes: the front shows
at what price.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.project.geometry import LayoutReach
from burnerlab.appliance.project.model import Appliance
from burnerlab.burner.coefficients import Array
from burnerlab.gas import DeclaredGas
from burnerlab.layout.constraints import (
    Bounds,
    Constraint,
    LayoutLimits,
    constraints,
    rate_factors,
)
from burnerlab.layout.cooking_surface import Cover, Emitter, Grid, Layout, grid_over
from burnerlab.layout.heat_map import Evenness, check_layout, evenness, pieces
from burnerlab.layout.plume import cover_of
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.quantity_text import quantity_text, quoted
from burnerlab.tables.problem import Problem, UserError

# How far a burner's rate may go before its flame lifts or lights back, on every gas looked at.

STEPS = 41
MARGIN = 1.0  # of lift and light-back: the limit itself


@dataclass(frozen=True, slots=True, kw_only=True)
class RateWindow:
    """Factors on a burner's rate that keep its flame, by a larger or smaller orifice; None where it cannot be told."""

    burner: str
    low: float | None
    high: float | None
    why_not: str = ""


def rate_window(cases: Sequence[Appliance], name: str, reach: float) -> RateWindow:
    """The window of one burner around its present rate.

    cases : the appliance on each gas; name : of the burner; reach : how far a rate may change, share each way
    Lift is looked at with full rate, light-back at turndown. An estimate, as the limits of the flame are.
    """
    factors = np.linspace(1 - reach, 1 + reach, STEPS)
    keeps = np.ones(STEPS, dtype=bool)
    for case in cases:
        window = _keeps(case, name, factors)
        if isinstance(window, str):
            return RateWindow(burner=name, low=None, high=None, why_not=window)
        keeps &= window
    here = STEPS // 2
    if not keeps[here]:
        return RateWindow(
            burner=name, low=None, high=None, why_not="outside a limit of its flame at the present rate"
        )
    low = high = here
    while low > 0 and keeps[low - 1]:
        low -= 1
    while high < STEPS - 1 and keeps[high + 1]:
        high += 1
    return RateWindow(burner=name, low=float(factors[low]), high=float(factors[high]))


def _keeps(case: Appliance, name: str, factors: Array) -> NDArray[np.bool_] | str:
    """Where the flame keeps to its limits on one gas, or why that cannot be told."""
    from burnerlab.appliance.conversion.flame_stability import on_gas
    from burnerlab.burner.evaluation import evaluate

    burner = next(b for b in case.burners if b.name == name)
    if burner.ports is None or burner.throat_m is None:
        return "its ports and throat are not given"
    if isinstance(case.supply.gas, DeclaredGas):
        return "the gas is known only by its heating value and relative density"
    known = on_gas(case, burner)
    size = np.asarray(known.geometry.orifice_diameter_m) * np.sqrt(factors)
    geometry = replace(known.geometry, orifice_diameter_m=size)
    pressure = case.supply.gauge_pressure_Pa
    try:
        loads = np.array([1.0, burner.turndown or 1.0])[:, None]
        options = replace(known.options, load=loads, band=False)
        state = evaluate(geometry, known.fuel, pressure, known.surroundings, options)
    except UserError as error:
        return error.problems[0].what
    margins = np.stack([state.lift_margin_where_it_binds[0], state.light_back_margin[1]])
    if np.any(np.isnan(margins)):
        return known.fuel.no_burning or "lift or light-back is not evaluated"
    return np.asarray((margins >= MARGIN).all(axis=0))


# A design of the search: what may change in it, what it must hold, how it is judged.

FloatArray = NDArray[np.float64]
BROKEN = 10.0  # above every coefficient of variation: a design that breaks a constraint ranks below each that holds
THINNEST_SHIELD_m = 0.005


@dataclass(slots=True)
class Task:
    """One search: so many tubes at so much input."""

    bounds: Bounds
    total_W: float  # of the movers
    grid: Grid
    covers: dict[int, tuple[int, ...]] = field(default_factory=dict)  # shield -> the movers under it
    evaluations: int = 0

    @property
    def base(self) -> Layout:
        return self.bounds.base

    @property
    def movers(self) -> tuple[int, ...]:
        return self.bounds.movers

    @property
    def lengths(self) -> tuple[float, ...]:
        return self.bounds.lengths_m

    def variables(self) -> list[tuple[float, float]]:
        """Ends of each variable of the search."""
        s, found = self.bounds.reach, []
        for reach in (s.across_m, s.along_m, s.height_m, s.rate):
            if reach > 0:
                found += [(-reach, reach)] * len(self.movers)
        if s.shield_width_m > 0 and self.covers:
            found.append((-s.shield_width_m, s.shield_width_m))
        if len(self.lengths) > 1:
            found.append((0.0, len(self.lengths) - 1.0))
        return found

    def build(self, x: FloatArray) -> Layout:
        """The layout of a vector of changes."""
        n, s, at = len(self.movers), self.bounds.reach, 0
        steps = {}
        for name, reach in (("x", s.across_m), ("y", s.along_m), ("z", s.height_m), ("rate", s.rate)):
            steps[name] = np.zeros(n)
            if reach > 0:
                steps[name], at = x[at : at + n], at + n
        wider = 0.0
        if s.shield_width_m > 0 and self.covers:
            wider, at = float(x[at]), at + 1
        length = (
            self.lengths[round(float(x[at]))]
            if len(self.lengths) > 1
            else self.lengths[0]
            if self.lengths
            else None
        )
        return self._moved(steps, wider, length)

    def _moved(self, steps: dict[str, FloatArray], wider: float, length: float | None) -> Layout:
        burners, covers = list(self.base.burners), list(self.base.covers)
        rates = self.bounds.base_rates_W * self._factors(steps["rate"])
        for k, i in enumerate(self.movers):
            b = burners[i]
            dx, dy, dz = (float(steps[axis][k]) for axis in "xyz")
            moved = replace(b, x_m=b.x_m + dx, y_m=b.y_m + dy, z_m=b.z_m + dz)
            burners[i] = moved.at_heat_input(float(rates[k]), length or b.length_m)
        for j, under in self.covers.items():
            c = covers[j]
            places = [self.movers.index(i) for i in under]
            dx, dy, dz = (float(np.mean(steps[axis][places])) for axis in "xyz")
            width = max(c.width_m + wider, min(THINNEST_SHIELD_m, c.width_m))
            covers[j] = replace(c, x_m=c.x_m + dx, y_m=c.y_m + dy, z_m=c.z_m + dz, width_m=width)
        return replace(self.base, burners=tuple(burners), covers=tuple(covers))

    def _factors(self, steps: FloatArray) -> FloatArray:
        """On the rates: within their reach and what keeps the flames, where both leave room for the total."""
        rates, reach = self.bounds.base_rates_W, self.bounds.reach.rate
        if reach <= 0:
            return np.full(rates.size, self.total_W / rates.sum())
        low, high = np.full(rates.size, 1 - reach), np.full(rates.size, 1 + reach)
        if self.bounds.windows and self.bounds.limits.rate_windows:
            kept = np.array(self.bounds.limits.rate_windows).T
            least, most = np.maximum(low, kept[0]), np.minimum(high, kept[1])
            if np.all(least <= most) and rates @ least <= self.total_W <= rates @ most:
                low, high = least, most
        return rate_factors(1 + steps, rates, (low, high), self.total_W)

    def score(self, x: FloatArray) -> float:
        """Coefficient of variation of what holds; of all else how much it misses: any that holds ranks before it.

        Source: rules of Deb (2000) for constraints in a search by comparison, memory.
        """
        self.evaluations += 1
        found, kept = self.evaluation(self.build(x))
        missed = sum(-one.slack for one in kept if not one.holds)
        return BROKEN + missed if missed > 0 else found.coefficient_of_variation

    def evaluation(self, layout: Layout) -> tuple[Evenness, tuple[Constraint, ...]]:
        maps, _ = pieces(layout, self.grid)
        found = evenness(maps.flux(layout).sum(axis=0))
        return found, constraints(layout, found.mean, self.bounds)


def movers_of(layout: Layout) -> tuple[int, ...]:
    """Tubes below the surface: what a search may move. Raises UserError where there is none."""
    found = tuple(i for i, b in enumerate(layout.burners) if b.form == "line" and b.z_m < layout.surface.z_m)
    if not found:
        raise UserError(
            Problem("no tube lies below this surface: nothing to move", value=layout.surface.name)
        )
    return found


def with_tubes(layout: Layout, tubes: int) -> Layout:
    """The layout with another number of equal tubes, evenly spaced over the surface, each under a shield as before."""
    movers = movers_of(layout)
    first = layout.burners[movers[0]]
    total = sum(layout.burners[i].heat_input_W for i in movers)
    s = layout.surface
    width = s.width_m if abs(first.along[1]) > 0.5 else s.depth_m
    places = (np.arange(tubes) - (tubes - 1) / 2) * width / (tubes + 0.15)
    over = cover_of(first, layout.covers)
    covers = [cover_of(layout.burners[i], layout.covers) for i in movers]
    ax, ay = math.cos(first.angle_rad), math.sin(first.angle_rad)
    made, shields = [], []
    for k, place in enumerate(places):
        x, y = s.x_m + ax * float(place), s.y_m + ay * float(place)
        tube = replace(first, name=f"tube {k + 1}", x_m=x, y_m=y)
        made.append(tube.at_heat_input(total / tubes, first.length_m))
        if over is not None:
            shields.append(
                replace(
                    over, name=f"shield {k + 1}", x_m=x + over.x_m - first.x_m, y_m=y + over.y_m - first.y_m
                )
            )
    others = tuple(b for i, b in enumerate(layout.burners) if i not in movers)
    left: tuple[Cover, ...] = tuple(c for c in layout.covers if c not in covers)
    return replace(layout, burners=(*made, *others), covers=(*left, *shields))


# Search for a more even map within bounds: a global search, a local one, and the trade-off instead of one
# answer.

GRID = (24, 16)
GENERATIONS, PER_VARIABLE = 12, 4  # of the global search
LOCAL_EVALUATIONS = 150
LOOSE_MEAN = 0.8  # share of the present mean that is kept unless told otherwise
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One layout of the search with what it costs."""

    tubes: int = field(metadata=output("tubes"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    """Of all burners of the layout."""
    layout: Layout
    evenness: Evenness = field(metadata=output("evenness", is_part=True))
    holds: bool = field(metadata=output("holds"))
    """Every constraint."""
    binding: tuple[str, ...] = field(metadata=output("at its edge"))
    """Constraints at their edge, or missed."""
    constraints: tuple[Constraint, ...] = field(default=(), metadata=output("constraints"))
    """Each with its value, its bound and by how much it is missed."""
    evaluations: int
    is_on_front: bool = field(default=False, metadata=output("on the front"))
    """No other has fewer tubes, less input and a more even map."""

    @property
    def misses(self) -> tuple[Constraint, ...]:
        """What does not hold, the largest miss over its own scale first."""
        return tuple(
            sorted((one for one in self.constraints if not one.holds), key=lambda bound: bound.slack)
        )

    @property
    @computed_output("burners")
    def burners(self) -> tuple[Emitter, ...]:
        """Those that the search may move."""
        return tuple(self.layout.burners[i] for i in movers_of(self.layout))

    @property
    @computed_output("shields")
    def shields(self) -> tuple[Cover, ...]:
        """Covers below the surface."""
        return self.layout.covers


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeOff:
    """The present layout and the designs found."""

    seed: int = field(metadata=output("seed"))
    evaluations: int = field(metadata=output("maps calculated"))
    present: Design = field(metadata=output("present"))
    designs: tuple[Design, ...] = field(metadata=output("designs"))
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    def front(self) -> tuple[Design, ...]:
        return tuple(one for one in self.designs if one.is_on_front)

    @property
    def nearest(self) -> Design | None:
        """Where no design holds, the one whose misses over their own scales add up to the least; None otherwise."""
        if not self.designs or any(one.holds for one in self.designs):
            return None
        return min(self.designs, key=lambda design: sum(-miss.slack for miss in design.misses))


def letter(place: int) -> str:
    """What the design at a place of the list is called.

    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'AA')
    """
    return (letter(place // 26 - 1) if place >= 26 else "") + chr(ord("A") + place % 26)


# the search


def optimise(
    layout: Layout,
    study: LayoutReach,
    limits: LayoutLimits,
    *,
    counts: Sequence[int] = (),
    inputs: Sequence[float] = (0.85, 1.0),
    seed: int = 1,
    progress: Progress | None = None,
) -> TradeOff:
    """Designs with a more even map, one for each number of tubes and each input.

    layout : the present one; study : how far things may change, its ``total_rate_W`` net as the heat input of a layout
    (that of a file rated gross times ``net_share`` of its gas); limits : what must hold
    counts : numbers of tubes, the present and one more unless given; inputs : fractions of the most input allowed
    seed : the same seed gives the same designs; progress : called with evaluations done and foreseen
    Raises UserError for a study that lets nothing change.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> optimise(layout_of(demonstration(), "griddle"), LayoutReach(), LayoutLimits(), counts=(3,))
    Traceback (most recent call last):
    burnerlab.tables.problem.UserError: ...
    """
    check_layout(layout)
    movers = movers_of(layout)
    tube_counts = tuple(counts) or (len(movers), len(movers) + 1)
    fixed_W = layout.heat_input_W - sum(layout.burners[i].heat_input_W for i in movers)
    most_W = layout.heat_input_W if study.total_rate_W is None else study.total_rate_W
    grid = grid_over(layout.surface, *GRID)
    kept = (
        limits
        if limits.mean_W_per_m2 > 0
        else replace(limits, mean_W_per_m2=_mean(layout, grid) * LOOSE_MEAN)
    )
    tasks = [
        _task(layout, study, kept, n, (share * most_W - fixed_W, most_W), grid)
        for n in tube_counts
        for share in sorted(inputs)
    ]
    foreseen = sum(_foreseen(task) for task in tasks)
    designs, done = [], 0
    for k, task in enumerate(tasks):
        designs.append(_search(task, seed + k, partial(_advance, progress, done, foreseen)))
        done += _foreseen(task)
    if progress is not None:
        progress(foreseen, foreseen)
    present = _present(layout, movers, kept, most_W, grid)
    return TradeOff(
        present=present,
        designs=_marked(designs),
        seed=seed,
        evaluations=sum(task.evaluations for task in tasks),
        notes=_notes(kept, tube_counts, len(movers)),
    )


def _advance(progress: Progress | None, done: int, foreseen: int, used: int) -> None:
    if progress is not None:
        progress(done + used, foreseen)


def _mean(layout: Layout, grid: Grid) -> float:
    return evenness(pieces(layout, grid)[0].flux(layout).sum(axis=0)).mean


def _task(
    layout: Layout,
    study: LayoutReach,
    limits: LayoutLimits,
    tubes: int,
    inputs_W: tuple[float, float],
    grid: Grid,
) -> Task:
    """inputs_W : of the tubes, and the most of all burners."""
    total_W, most_W = inputs_W
    movers = movers_of(layout)
    if total_W <= 0:
        raise UserError(Problem("leaves nothing for the tubes", key="optimise.total_rate", fix="raise it"))
    is_present = tubes == len(movers)
    base = layout if is_present else with_tubes(layout, tubes)
    own_movers = movers_of(base)
    rates = np.array([base.burners[i].heat_input_W for i in own_movers])
    covers: dict[int, tuple[int, ...]] = {}
    for i in own_movers:
        over = cover_of(base.burners[i], base.covers)
        if over is not None and over.temperature_K is None:
            place = base.covers.index(over)
            covers[place] = (*covers.get(place, ()), i)
    bounds = Bounds(
        base=base, movers=own_movers, base_rates_W=rates if is_present else rates * total_W / rates.sum(),
        reach=study, limits=limits, most_W=most_W, lengths_m=study.lengths_m, windows=is_present,
    )  # fmt: skip
    task = Task(bounds=bounds, total_W=total_W, grid=grid, covers=covers)
    if not task.variables():
        fix = "give across, height, rate or another reach under [optimise]"
        raise UserError(Problem("nothing may change", key="optimise", fix=fix))
    return task


def _population(task: Task) -> int:
    return max(PER_VARIABLE * len(task.variables()), 12)


def _foreseen(task: Task) -> int:
    return _population(task) * (GENERATIONS + 1) + LOCAL_EVALUATIONS


def _search(task: Task, seed: int, tick: Callable[[int], Any]) -> Design:
    """A global search, then a local one from its best, lengths kept."""
    from scipy.optimize import Bounds, differential_evolution, minimize

    bounds = task.variables()
    whole = [False] * len(bounds)
    if len(task.lengths) > 1:
        whole[-1] = True
    rng = np.random.default_rng(seed)
    start = np.array([rng.uniform(low, high, _population(task)) for low, high in bounds]).T
    start[0] = [0.0 if low <= 0.0 <= high else low for low, high in bounds]  # the present places

    def watch(*_: Any, **__: Any) -> None:
        tick(min(task.evaluations, _foreseen(task)))

    low, high = np.array(bounds).T
    wide = differential_evolution(
        task.score,
        Bounds(low, high),
        maxiter=GENERATIONS,
        init=start,
        rng=rng,
        polish=False,
        integrality=whole,
        tol=1e-4,
        callback=watch,
    )
    free = np.array([not one for one in whole])

    def near(part: FloatArray) -> float:
        x = wide.x.copy()
        x[free] = part
        return task.score(x)

    ends = [bound for bound, is_whole in zip(bounds, whole, strict=True) if not is_whole]
    fine = minimize(
        near, wide.x[free], method="Nelder-Mead", bounds=ends,
        options={
            "maxfev": LOCAL_EVALUATIONS, "initial_simplex": _simplex(wide.x[free], ends), "xatol": 1e-5, "fatol": 1e-6
        },
    )  # fmt: skip
    best = wide.x.copy()
    if fine.fun < wide.fun:
        best[free] = fine.x
    watch()
    return _design(task, task.build(best))


def _simplex(x: FloatArray, bounds: Sequence[tuple[float, float]]) -> FloatArray:
    """A start for the local search: a tenth of each range towards the middle."""
    points = [x]
    for i, (low, high) in enumerate(bounds):
        step = x.copy()
        step[i] += 0.1 * (high - low) * (1 if x[i] < (low + high) / 2 else -1)
        points.append(step)
    return np.array(points)


def _design(task: Task, layout: Layout) -> Design:
    found, kept = task.evaluation(layout)
    return Design(
        tubes=len(task.movers),
        heat_input_net_W=layout.heat_input_W,
        layout=layout,
        evenness=found,
        holds=all(one.holds for one in kept),
        binding=tuple(one.name if one.holds else f"{one.name} not held" for one in kept if one.binds),
        constraints=kept,
        evaluations=task.evaluations,
    )


def _present(
    layout: Layout, movers: tuple[int, ...], limits: LayoutLimits, most_W: float, grid: Grid
) -> Design:
    """The present layout beside the same constraints; what can be bought is no question of it."""
    rates = np.array([layout.burners[i].heat_input_W for i in movers])
    bounds = Bounds(
        base=layout, movers=movers, base_rates_W=rates, reach=LayoutReach(), limits=limits, most_W=most_W
    )
    return _design(Task(bounds=bounds, total_W=float(rates.sum()), grid=grid), layout)


def _marked(designs: Sequence[Design]) -> tuple[Design, ...]:
    """Mark designs that hold and that no other beats in tubes, input and evenness at once."""

    def figures(design: Design) -> tuple[float, float, float]:
        return (design.tubes, round(design.heat_input_net_W, 3), design.evenness.coefficient_of_variation)

    marked = []
    for one in designs:
        own = figures(one)
        beaten = any(
            other.holds
            and all(a <= b for a, b in zip(figures(other), own, strict=True))
            and figures(other) != own
            for other in designs
        )
        marked.append(replace(one, is_on_front=one.holds and not beaten))
    return tuple(sorted(marked, key=lambda d: (d.tubes, d.heat_input_net_W)))


def _notes(limits: LayoutLimits, counts: Sequence[int], present: int) -> tuple[str, ...]:
    notes = [
        quantity_text(
            "mean heat is kept at {} at least; all with the shares of heat of the table or of the measured grid, and "
            "their band, over {} by {} cells",
            quoted(limits.mean_W_per_m2, Kind.HEAT_FLUX, "kW/m2", ".3g"),
            *map(str, GRID),
        ),
        "room for a flame: the highest that one over a port may stand, on the gas with the taller flame; ports per "
        "length and primary air are those of the present tubes; where ports are not known, without primary air",
        "a search, not a proof: another seed may find a design as even",
    ]
    if limits.rate_windows:
        notes.append("rates of the present tubes stay within what lift and light-back allow on these gases")
    else:
        notes.append("stability of the flames at changed rates is not evaluated: test required")
    if any(count != present for count in counts):
        notes.append(
            "with another number of tubes each is like the first of the present ones; the search starts from even "
            "spacing and equal rates; their ports are not evaluated"
        )
    return tuple(notes)
