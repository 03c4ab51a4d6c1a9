"""Fewest different orifices for a product line: which drill serves which burner of which model in which market.

A demand is the range of bores in which one burner in one market holds every limit; a drill serves it when its hole,
at both ends of its tolerance, lies in that range, and its nominal bore in the range that the supply leaves.
With one tolerance and one thread the drills that serve a demand
follow one another in the list, and the best set of each size comes from one recursion over the list, exactly
(``_sets_by_runs``). Threads, tolerances of single parts, prices, and sizes too alike to tell apart break the runs:
then a mixed-integer programme finds the set, exactly as well (``scipy.optimize.milp``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.orifice.drill import Drill, ToleranceBand, tolerance_band
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.units import Kind
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]
NEAR = 2  # drills named beside a demand that none serves
MOST_SIZES = 12  # of a curve: nobody buys by more, and each point may take a mixed-integer programme
IMPROVEMENT = 1e-9  # of the sum of squares, relative: below it one orifice more improves nothing
BORE_SLACK = 1e-9  # relative: a bore at the end of its range is in it


@dataclass(frozen=True, slots=True, kw_only=True)
class OrificeDemand:
    """One burner of one model in one market, and the bores that hold every limit there."""

    model: str = field(metadata=output("model"))
    burner: str = field(metadata=output("burner"))
    market: str = field(metadata=output("market"))
    low_m: float = field(metadata=output("least bore", Kind.DIAMETER))
    high_m: float = field(metadata=output("largest bore", Kind.DIAMETER))
    exact_m: tuple[float, ...] = field(metadata=output("bore for the rating, each gas", Kind.DIAMETER))
    """Of a pressure couple one for each gas, that of the gas sized on first."""
    quantity: int = field(default=1, metadata=output("orifices of an appliance"))
    threads: tuple[str, ...] = field(default=(), metadata=output("threads that fit"))
    """() takes any."""
    least_m: float | None = field(
        default=None, metadata=output("least nominal bore, on the supply", Kind.DIAMETER)
    )
    most_m: float | None = field(
        default=None, metadata=output("largest nominal bore, on the supply", Kind.DIAMETER)
    )
    """None: not limited."""

    @property
    def window_m(self) -> tuple[float, float]:
        """The least and the largest hole that hold every limit [m]; the first larger: none does."""
        least, most = self.least_m or 0.0, math.inf if self.most_m is None else self.most_m
        return max(self.low_m, least), min(self.high_m, most)

    @property
    def name(self) -> str:
        """Model, burner and market."""
        return " / ".join(filter(None, (self.model, self.burner, self.market)))


@dataclass(frozen=True, slots=True, kw_only=True)
class NearOrifice:
    """An orifice that comes near to a demand."""

    drill: Drill = field(metadata=output("orifice", is_part=True))
    deviation: float = field(metadata=output("deviation", Kind.FRACTION, is_change=True))
    """Of the heat input of the gas sized on, at the nominal bore [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnservedDemand:
    """A demand that no drill serves, with those that come nearest."""

    demand: OrificeDemand = field(metadata=output("demand", is_part=True))
    nearest: tuple[NearOrifice, ...] = field(metadata=output("nearest orifices"))


@dataclass(frozen=True, slots=True, kw_only=True)
class OrificeUse:
    """A demand with the orifice that serves it."""

    demand: OrificeDemand = field(metadata=output("demand", is_part=True))
    drill: Drill = field(metadata=output("orifice", is_part=True))
    deviations: tuple[float, ...] = field(metadata=output("deviation", Kind.FRACTION, is_change=True))
    """Of the heat input of each gas from the rating, at the nominal bore [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrificeSet:
    """Orifices that serve every demand that can be served."""

    drills: tuple[Drill, ...]
    uses: tuple[OrificeUse, ...] = field(metadata=output("burners"))

    @property
    @computed_output("different orifices")
    def count(self) -> int:
        return len(self.drills)

    @property
    @computed_output("deviation, root mean square", Kind.FRACTION)
    def rms_deviation(self) -> float:
        """Over all burners, markets and gases [-]."""
        squares = [each**2 for use in self.uses for each in use.deviations]
        return math.sqrt(sum(squares) / len(squares)) if squares else 0.0

    @property
    @computed_output("largest deviation", Kind.FRACTION)
    def worst_deviation(self) -> float:
        """Of any burner on any gas, without its sign [-]."""
        return max((abs(each) for use in self.uses for each in use.deviations), default=0.0)

    @property
    @computed_output("price of the orifices of one appliance of each model and market")
    def price(self) -> float | None:
        """In the money of the stock; None where an orifice has no price."""
        prices = [(use.drill.price, use.demand.quantity) for use in self.uses]
        return (
            None if any(each is None for each, _ in prices) else sum((each or 0.0) * n for each, n in prices)
        )


class SetProblem:
    """Demands and the drills that may serve them, as arrays of demand by drill.

    demands : what must be served; drills : what there is, in any order; tolerances : own table of drill tolerances
    deviations : of the heat input, for each demand an array of gas by drill in the order of ``drills`` [-]; without
    them those of a bore of constant coefficient, (d / d_exact)^2 - 1
    apart_m : two orifices of one model are equal or differ by at least this much [m]

    >>> from burnerlab.orifice.drill import drill_list
    >>> wide = OrificeDemand(model="A", burner="left", market="", low_m=1.3e-3, high_m=1.5e-3, exact_m=(1.4e-3,))
    >>> [drill.name for drill in SetProblem([wide], drill_list("number")).fewest().drills]
    ['#54']
    """

    def __init__(
        self,
        demands: Sequence[OrificeDemand],
        drills: Sequence[Drill],
        *,
        deviations: Sequence[Array] | None = None,
        tolerances: Path | None = None,
        apart_m: float = 0.0,
    ) -> None:
        order = sorted(range(len(drills)), key=lambda i: drills[i].diameter_m)
        self.demands, self.apart_m = tuple(demands), apart_m
        self.drills = tuple(drills[i] for i in order)
        if deviations is None:
            deviations = [_by_area(demand, drills) for demand in demands]
        self._deviations = [each[:, order] for each in deviations]
        bands = [_band(drill, tolerances) for drill in self.drills]
        self._low = np.array([band.low_m for band in bands]) * (1.0 + BORE_SLACK)
        self._high = np.array([band.high_m for band in bands]) * (1.0 - BORE_SLACK)

    @cached_property
    def serves(self) -> NDArray[np.bool_]:
        """Which drill serves which demand."""
        rows = [
            (self._low >= demand.low_m)
            & (self._high <= demand.high_m)
            & self._is_on_supply(demand)
            & self._fits(demand)
            for demand in self.demands
        ]
        return np.array(rows, dtype=bool).reshape(len(self.demands), len(self.drills))

    def _is_on_supply(self, demand: OrificeDemand) -> NDArray[np.bool_]:
        bores = np.array([drill.diameter_m for drill in self.drills])
        least, most = demand.least_m or 0.0, math.inf if demand.most_m is None else demand.most_m
        return (bores >= least * (1.0 - BORE_SLACK)) & (bores <= most * (1.0 + BORE_SLACK))

    def _fits(self, demand: OrificeDemand) -> NDArray[np.bool_]:
        return np.array([drill.fits(demand.threads) for drill in self.drills], dtype=bool)

    @cached_property
    def unserved(self) -> tuple[UnservedDemand, ...]:
        """Demands that no drill serves, each with the two nearest drills that fit it."""
        return tuple(
            UnservedDemand(demand=self.demands[r], nearest=tuple(self._nearest(r)))
            for r in range(len(self.demands))
            if not self.serves[r].any()
        )

    def _nearest(self, r: int) -> Iterator[NearOrifice]:
        demand = self.demands[r]
        low_m, high_m = demand.window_m
        beyond = np.maximum(low_m - self._low, self._high - high_m)
        fits = self._fits(demand)
        order = [int(c) for c in np.argsort(beyond, kind="stable") if fits[c]]
        bores = dict.fromkeys(self.drills[c].diameter_m for c in order)  # of equal bores the first
        first = [
            next(c for c in order if self.drills[c].diameter_m == bore_m) for bore_m in list(bores)[:NEAR]
        ]
        for c in sorted(first):
            yield NearOrifice(drill=self.drills[c], deviation=float(self._deviations[r][0, c]))

    @cached_property
    def _served(self) -> list[int]:
        return [r for r in range(len(self.demands)) if self.serves[r].any()]

    @cached_property
    def _squares(self) -> Array:
        """Sum of the squared deviations of each served demand with each drill; infinite where it does not serve."""
        rows = [
            np.where(self.serves[r], (self._deviations[r] ** 2).sum(axis=0), np.inf) for r in self._served
        ]
        return np.array(rows).reshape(len(self._served), len(self.drills))

    @property
    def _finite_squares(self) -> Array:
        return np.where(np.isfinite(self._squares), self._squares, 0.0)

    @cached_property
    def is_of_runs(self) -> bool:
        """Whether the drills of every demand follow one another in the list, better and then worse."""
        return self.apart_m <= 0.0 and all(_is_run(row) for row in self._squares)

    def fewest(self) -> OrificeSet:
        """The fewest different orifices; of equally many the set with the least sum of squared deviations.

        Raises UserError with the pairs where no choice keeps the orifices of a model apart.
        """
        return self.at_most(self.least_count)

    @cached_property
    def least_count(self) -> int:
        """How many different orifices are needed [-]."""
        if not self._served:
            return 0
        if self.is_of_runs:
            return next(iter(self._by_runs))
        return round(self._programme(np.ones(len(self.drills)), np.zeros_like(self._squares)).sum)

    def at_most(self, most: int) -> OrificeSet:
        """The set of at most so many orifices with the least sum of squared deviations.

        Raises UserError for fewer than are needed, with how many that is.
        """
        if not self._served:
            return OrificeSet(drills=(), uses=())
        if most < self.least_count:
            what = "is too few different sizes for these burners and markets"
            accepted = f"{self.least_count} or more"
            raise UserError(Problem(what, value=str(most), key="at most", accepted=accepted))
        if self.is_of_runs:
            return self._set(self._by_runs[min(most, max(self._by_runs))])
        return self._of(self._programme(np.zeros(len(self.drills)), self._finite_squares, most))

    def cheapest(self, fixed: Sequence[float] | None = None) -> OrificeSet:
        """The set of the least price: of every orifice once (``fixed``), else of every piece.

        Of equally cheap sets by the piece the one of the fewest orifices, and of these the one of the least squares.
        fixed : for each drill in the order of ``drills``, what it costs to have it at all; 0 without it
        """
        if not self._served:
            return OrificeSet(drills=(), uses=())
        if fixed is None:
            return self._of(self._cheapest_by_piece())
        solved = self._programme(np.asarray(fixed, dtype=float), np.zeros_like(self._squares))
        is_free = self.apart_m <= 0.0  # every set of these drills costs the same
        return self._set(solved.used) if is_free else self._of(solved)

    def _cheapest_by_piece(self) -> _Solution:
        """The least price; at that the fewest orifices; with these the least squares."""
        prices = np.array([drill.price or 0.0 for drill in self.drills])
        pieces = np.array([self.demands[r].quantity * prices for r in self._served])
        free, each = np.zeros(len(self.drills)), np.ones(len(self.drills))
        least = _Ceiling(pieces=pieces, most=self._programme(free, pieces).sum * (1.0 + IMPROVEMENT))
        count = round(self._programme(each, np.zeros_like(pieces), within=least).sum)
        return self._programme(free, self._finite_squares, count, within=least)

    def sizes(self, most_points: int = MOST_SIZES) -> tuple[OrificeSet, ...]:
        """The best set of each size, from the fewest on while one orifice more lessens the deviation."""
        found = [self.fewest()] if self._served else []
        for most in range(self.least_count + 1, self.least_count + most_points) if found else ():
            more = self.at_most(most)
            if more.rms_deviation >= found[-1].rms_deviation * (1.0 - IMPROVEMENT):
                break
            found.append(more)
        return tuple(found)

    @cached_property
    def _by_runs(self) -> dict[int, tuple[int, ...]]:
        return _sets_by_runs(self._squares)

    def _set(self, places: Sequence[int]) -> OrificeSet:
        """The set of these drills, every demand with the best of them."""
        kept = list(places)
        return self._with([kept[int(c)] for c in np.argmin(self._squares[:, kept], axis=1)])

    def _of(self, solved: _Solution) -> OrificeSet:
        """The set of a solution, every demand with the drill that the solution gives it."""
        return self._with([int(c) for c in np.argmax(solved.share, axis=1)])

    def _with(self, places: Sequence[int]) -> OrificeSet:
        uses = [
            OrificeUse(
                demand=self.demands[r],
                drill=self.drills[c],
                deviations=tuple(float(each) for each in self._deviations[r][:, c]),
            )
            for r, c in zip(self._served, places, strict=True)
        ]
        return OrificeSet(drills=tuple(self.drills[c] for c in sorted(set(places))), uses=tuple(uses))

    def _programme(
        self, fixed: Array, pieces: Array, most: int | None = None, *, within: _Ceiling | None = None
    ) -> _Solution:
        made = _Programme(self, fixed, pieces, most, within)
        solved = made.solve()
        if solved is None:
            raise UserError(made.alike())
        return solved


def _band(drill: Drill, tolerances: Path | None) -> ToleranceBand:
    """The tolerance of a drill; one beyond the largest size of the table has none, and serves nothing."""
    try:
        return tolerance_band(drill, tolerances)
    except UserError:
        return ToleranceBand(low_m=-math.inf, high_m=math.inf, source="", provenance="")


def _by_area(demand: OrificeDemand, drills: Sequence[Drill]) -> Array:
    bores = np.array([drill.diameter_m for drill in drills])
    return np.array([(bores / exact) ** 2 - 1.0 for exact in demand.exact_m])


def _is_run(squares: Array) -> bool:
    """Whether the finite entries follow one another, falling and then rising."""
    where = np.flatnonzero(np.isfinite(squares))
    if where[-1] - where[0] + 1 != len(where):
        return False
    steps, lowest = np.diff(squares[where]), int(np.argmin(squares[where]))
    return bool((steps[:lowest] <= 0.0).all() and (steps[lowest:] >= 0.0).all())


def _sets_by_runs(squares: Array) -> dict[int, tuple[int, ...]]:
    """The drills with the least sum of squares, for each count that serves every demand, while more improve it.

    squares : of demand by drill, infinite where it does not serve, each row falling and then rising
    Between two drills of the set that follow one another only these two can be the best for a demand whose best drill
    lies between them: the sum is one of steps, and the best set of k + 1 follows from those of k.
    """
    useful = np.flatnonzero(np.isfinite(squares).any(axis=0))
    step = _steps(squares[:, useful])
    drills = len(useful)
    sums, before = step[0, : drills + 1].copy(), [np.zeros(drills + 1, dtype=int)]
    sums[0] = np.inf
    found: dict[int, tuple[int, ...]] = {}
    least = np.inf
    for count in range(1, drills + 1):
        total = sums + step[: drills + 1, drills + 1]
        last = int(np.argmin(total))
        if np.isfinite(total[last]):
            if total[last] >= least * (1.0 - IMPROVEMENT):
                break
            least, found[count] = (
                float(total[last]),
                tuple(int(useful[place]) for place in _path(before, last)),
            )
        following = sums[:, None] + step[: drills + 1, : drills + 1]
        before.append(np.argmin(following, axis=0))
        sums = following.min(axis=0)
    return found


def _steps(squares: Array) -> Array:
    """For each two places of the list what the demands whose best drill lies from the first to before the second cost.

    Place 0 stands before the first drill and the last place behind the last one: neither serves. The cost of a demand
    is the less of its two squares there.
    """
    demands, drills = squares.shape
    best = np.argmin(squares, axis=1) + 1 if drills else np.zeros(demands, dtype=int)
    ends = np.hstack([np.full((demands, 1), np.inf), squares, np.full((demands, 1), np.inf)])
    is_before = best[:, None] < np.arange(drills + 2)
    step = np.full((drills + 2, drills + 2), np.inf)
    for low in range(drills + 1):
        cost = np.where(is_before & (best >= low)[:, None], np.minimum(ends[:, [low]], ends), 0.0)
        step[low, low + 1 :] = cost[:, low + 1 :].sum(axis=0)
    return step


def _path(before: Sequence[NDArray[np.int_]], last: int) -> tuple[int, ...]:
    """The drills of a set, from the last back to the first; place 0 stands before the list."""
    path = [last]
    for places in reversed(before[1:]):
        path.append(int(places[path[-1]]))
    return tuple(place - 1 for place in reversed(path))


@dataclass(frozen=True, slots=True)
class _Solution:
    sum: float
    used: tuple[int, ...]
    share: Array  # of demand by drill


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ceiling:
    """What the pieces may cost together."""

    pieces: Array  # of demand by drill
    most: float


class _Programme:
    """min sum f_c x_c + sum w_rc y_rc: every demand served once, y_rc <= x_c, at most so many x_c, sum p_rc y_rc <= p.

    With a least difference also z_mc >= y_rc for the demands of model m, and of the drills within that difference of
    one another a model takes one: sum of their z_mc <= 1.
    """

    def __init__(
        self, problem: SetProblem, fixed: Array, pieces: Array, most: int | None, within: _Ceiling | None
    ) -> None:
        self.problem, self.most, self.within = problem, most, within
        self.served = problem._served
        self.pairs = [
            (i, int(c)) for i, r in enumerate(self.served) for c in np.flatnonzero(problem.serves[r])
        ]
        self.models = list(dict.fromkeys(problem.demands[r].model for r in self.served))
        drills = len(problem.drills)
        self.kept = drills * len(self.models) if problem.apart_m > 0.0 else 0
        self.first_share = drills + self.kept
        self.costs = np.concatenate([fixed, np.zeros(self.kept), [pieces[i, c] for i, c in self.pairs]])

    def solve(self, *, alike: bool = False) -> _Solution | None:
        """The best solution; None where there is none. ``alike`` counts what is too alike in place of refusing it."""
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import coo_array

        rows = list(self._rows())
        cliques = list(self._cliques()) if self.kept else []
        extra = len(cliques) if alike else 0
        width = len(self.costs) + extra
        for k, clique in enumerate(cliques):
            slack = [(len(self.costs) + k, -1.0)] if alike else []
            rows.append(([*((at, 1.0) for at in clique), *slack], -np.inf, 1.0))
        where = [(i, at, factor) for i, (cells, _, _) in enumerate(rows) for at, factor in cells]
        i, j, factors = (np.array(column) for column in zip(*where, strict=True))
        matrix = coo_array((factors, (i, j)), shape=(len(rows), width)).tocsr()
        limits = LinearConstraint(matrix, [low for _, low, _ in rows], [high for _, _, high in rows])
        whole = np.zeros(width)
        whole[: self.first_share] = 1
        cost = np.concatenate([np.zeros(len(self.costs)), np.ones(extra)]) if alike else self.costs
        upper = np.concatenate([np.ones(len(self.costs)), np.full(extra, np.inf)])
        solved = milp(
            cost,
            integrality=whole,
            bounds=Bounds(0.0, upper),
            constraints=limits,
            options={"mip_rel_gap": 0.0},
        )
        if solved.x is None:
            return None
        return self._solution(solved)

    def _solution(self, solved: Any) -> _Solution:
        drills = len(self.problem.drills)
        share = np.zeros((len(self.served), drills))
        for (i, c), value in zip(self.pairs, solved.x[self.first_share :], strict=False):
            share[i, c] = value
        used = tuple(int(c) for c in np.flatnonzero(solved.x[:drills] > 0.5))
        return _Solution(sum=float(solved.fun), used=used, share=share)

    def _rows(self) -> Iterator[tuple[list[tuple[int, float]], float, float]]:
        """Every demand once; a share only of what is used; at most so many."""
        drills = len(self.problem.drills)
        places: dict[int, list[tuple[int, float]]] = {}
        for k, (i, _) in enumerate(self.pairs):
            places.setdefault(i, []).append((self.first_share + k, 1.0))
        for cells in places.values():
            yield cells, 1.0, 1.0
        for k, (i, c) in enumerate(self.pairs):
            holder = self._kept(i, c) if self.kept else c
            yield [(self.first_share + k, 1.0), (holder, -1.0)], -np.inf, 0.0
        for k in range(self.kept):
            yield [(drills + k, 1.0), (k % drills, -1.0)], -np.inf, 0.0
        if self.most is not None:
            yield [(c, 1.0) for c in range(drills)], -np.inf, float(self.most)
        if self.within is not None:
            prices = [
                (self.first_share + k, float(self.within.pieces[i, c])) for k, (i, c) in enumerate(self.pairs)
            ]
            yield prices, -np.inf, self.within.most

    def _kept(self, i: int, c: int) -> int:
        """The place of a model's own use of a drill."""
        drills = len(self.problem.drills)
        model = self.models.index(self.problem.demands[self.served[i]].model)
        return drills + model * drills + c

    def _cliques(self) -> Iterator[list[int]]:
        """Places of the drills of a model of which it may take one: those less than the difference apart."""
        bores = [drill.diameter_m for drill in self.problem.drills]
        least = self.problem.apart_m * (1.0 - BORE_SLACK)
        for model in range(len(self.models)):
            start = len(bores) * (model + 1)
            for c, bore in enumerate(bores):
                alike = [start + k for k in range(c, len(bores)) if bores[k] - bore < least]
                if len(alike) > 1:
                    yield alike

    def alike(self) -> list[Problem]:
        """The pairs that stay too alike where as few as possible are."""
        solved = self.solve(alike=True)
        assert solved is not None  # the slack holds whatever the others do
        drills, least = self.problem.drills, self.problem.apart_m * (1.0 - BORE_SLACK)
        taken = [
            (self.problem.demands[r], int(c))
            for r, c in zip(self.served, solved.share.argmax(1), strict=True)
        ]
        found: dict[tuple[str, int, int], Problem] = {}
        for one, a in taken:
            for other, b in taken:
                gap_m = drills[b].diameter_m - drills[a].diameter_m
                if a < b and one.model == other.model and gap_m < least:
                    first, second = (
                        f"{drills[c].name} for {_place(each)}" for each, c in ((one, a), (other, b))
                    )
                    what = (
                        f"has orifices too alike to tell apart: {first}, {second}, {gap_m * 1e3:.3f} mm apart"
                    )
                    fix = "ask for a smaller difference, or offer more sizes"
                    found.setdefault((one.model, a, b), Problem(what, one.model, "apart", fix=fix))
        return list(found.values())


def _place(demand: OrificeDemand) -> str:
    return " / ".join(filter(None, (demand.burner, demand.market)))
