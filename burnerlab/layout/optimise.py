"""Search for a more even map within bounds: a global search, a local one, and the trade-off instead of one answer.

What may change: place and height of the tubes below a surface, the split of the rate between them, the width of their
shields, one length out of those that can be bought, and how many tubes there are. What is held: total input, spacing,
room for the flame of the taller gas, mean heat, the box. Evenness is bought with input or with tubes: the front shows
at what price.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.space import LayoutReach
from burnerlab.layout.cooking_surface import Cover, Emitter, Grid, Layout, grid_over
from burnerlab.layout.design import LayoutLimits, Task, movers_of, with_tubes
from burnerlab.layout.evenness import Evenness, evenness
from burnerlab.layout.heatmap import check_layout, pieces
from burnerlab.layout.plume import cover_of
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]
GRID = (24, 16)
GENERATIONS, PER_VARIABLE = 12, 4  # of the global search
LOCAL_EVALUATIONS = 150
HELD = 1e-3  # slack below which a constraint counts as held
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
    """Constraints at their edge, or broken."""
    evaluations: int
    best: bool = field(default=False, metadata=output("on the front"))
    """No other has fewer tubes, less input and a more even map."""

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
    evaluations: int = field(metadata=output("maps looked at"))
    present: Design = field(metadata=output("present"))
    designs: tuple[Design, ...] = field(metadata=output("designs"))
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    def front(self) -> tuple[Design, ...]:
        return tuple(one for one in self.designs if one.best)


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

    layout : the present one; study : how far things may change; limits : what must hold
    counts : numbers of tubes, the present and one more unless given; inputs : shares of the most input allowed
    seed : the same seed gives the same designs; progress : called with evaluations done and foreseen
    Raises UserError for a study that lets nothing change.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.from_appliance import layout_of
    >>> optimise(layout_of(demonstration(), "griddle"), LayoutReach(), LayoutLimits(), counts=(3,))
    Traceback (most recent call last):
    burnerlab.tables.problem.UserError: ...
    """
    check_layout(layout)
    movers = movers_of(layout)
    wanted = tuple(counts) or (len(movers), len(movers) + 1)
    fixed_W = layout.heat_input_W - sum(layout.burners[i].heat_input_W for i in movers)
    most_W = layout.heat_input_W if study.total_rate_W is None else study.total_rate_W
    grid = grid_over(layout.surface, *GRID)
    kept = (
        limits
        if limits.mean_W_per_m2 > 0
        else replace(limits, mean_W_per_m2=_mean(layout, grid) * LOOSE_MEAN)
    )
    tasks = [
        _task(layout, study, kept, n, share * most_W - fixed_W, grid)
        for n in wanted
        for share in sorted(inputs)
    ]
    foreseen = sum(_foreseen(task) for task in tasks)
    designs, done = [], 0
    for k, task in enumerate(tasks):
        designs.append(_search(task, seed + k, partial(_told, progress, done, foreseen)))
        done += _foreseen(task)
    if progress is not None:
        progress(foreseen, foreseen)
    present = _present(layout, movers, study, kept, grid)
    return TradeOff(
        present=present,
        designs=_marked(designs),
        seed=seed,
        evaluations=sum(task.evaluations for task in tasks),
        notes=_notes(kept, wanted, len(movers)),
    )


def _told(progress: Progress | None, done: int, foreseen: int, used: int) -> None:
    if progress is not None:
        progress(done + used, foreseen)


def _mean(layout: Layout, grid: Grid) -> float:
    return evenness(pieces(layout, grid)[0].flux(layout).sum(axis=0)).mean


def _task(
    layout: Layout, study: LayoutReach, limits: LayoutLimits, tubes: int, total_W: float, grid: Grid
) -> Task:
    movers = movers_of(layout)
    if total_W <= 0:
        raise UserError(Problem("leaves nothing for the tubes", key="optimise.total_rate", fix="raise it"))
    base = layout if tubes == len(movers) else with_tubes(layout, tubes)
    mine = movers_of(base)
    covers = {}
    for i in mine:
        over = cover_of(base.burners[i], base.covers)
        if over is not None and over.temperature_K is None:
            covers[i] = base.covers.index(over)
    task = Task(
        base=base, movers=mine, study=study, limits=limits, total_W=total_W, grid=grid, lengths=study.lengths_m,
        window=tubes == len(movers), covers=covers,
    )  # fmt: skip
    if not task.bounds():
        fix = "give across, height, rate or another reach under [optimise]"
        raise UserError(Problem("nothing may change", key="optimise", fix=fix))
    return task


def _population(task: Task) -> int:
    return max(PER_VARIABLE * len(task.bounds()), 12)


def _foreseen(task: Task) -> int:
    return _population(task) * (GENERATIONS + 1) + LOCAL_EVALUATIONS


def _search(task: Task, seed: int, tick: Callable[[int], Any]) -> Design:
    """A global search, then a local one from its best, lengths kept."""
    from scipy.optimize import Bounds, differential_evolution, minimize

    bounds = task.bounds()
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
    found, slacks = task.judge(layout)
    return Design(
        tubes=len(task.movers),
        heat_input_net_W=layout.heat_input_W,
        layout=layout,
        evenness=found,
        holds=all(slack >= -HELD for slack in slacks.values()),
        binding=tuple(
            name if slack >= -HELD else f"{name} not held" for name, slack in slacks.items() if slack < 0.02
        ),
        evaluations=task.evaluations,
    )


def _present(
    layout: Layout, movers: tuple[int, ...], study: LayoutReach, limits: LayoutLimits, grid: Grid
) -> Design:
    total = sum(layout.burners[i].heat_input_W for i in movers)
    task = Task(
        base=layout,
        movers=movers,
        study=study,
        limits=limits,
        total_W=total,
        grid=grid,
        lengths=(),
        window=False,
    )
    return _design(task, layout)


def _marked(designs: Sequence[Design]) -> tuple[Design, ...]:
    """Mark designs that hold and that no other beats in tubes, input and evenness at once."""

    def figures(one: Design) -> tuple[float, float, float]:
        return (one.tubes, round(one.heat_input_net_W, 3), one.evenness.coefficient_of_variation)

    marked = []
    for one in designs:
        mine = figures(one)
        beaten = any(
            other.holds
            and all(a <= b for a, b in zip(figures(other), mine, strict=True))
            and figures(other) != mine
            for other in designs
        )
        marked.append(replace(one, best=one.holds and not beaten))
    return tuple(sorted(marked, key=lambda d: (d.tubes, d.heat_input_net_W)))


def _notes(limits: LayoutLimits, counts: Sequence[int], present: int) -> tuple[str, ...]:
    notes = [
        f"mean heat is kept at {limits.mean_W_per_m2 / 1e3:.3g} kW/m2 at least; all with the shares of heat of the "
        "table or of the measured grid, and their band",
        "the flame that needs room is one without primary air, of the taller gas: an upper bound",
        "a search, not a proof: another seed may find a design as even",
    ]
    if limits.rate_windows:
        notes.append(
            "rates of the present tubes keep to what lift and light-back allow on the gases looked at"
        )
    else:
        notes.append("stability of the flames at changed rates is not evaluated: test required")
    if any(count != present for count in counts):
        notes.append(
            "another number of tubes: equal to the first of the present ones; their ports are not evaluated"
        )
    return tuple(notes)
