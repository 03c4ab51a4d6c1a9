"""Fewest orifices of a product line: against every subset tried, the textbook rule for intervals, and relations.

The 20 cases of ``shared/orifice_sets.csv`` are checked with all other printed figures (``tests/verify``). Here sets are
found a second way: by trying every subset, and by the greedy rule for intervals (sort by the end of the interval, take
the last point of the first one not yet hit), which every course on algorithms shows to be exact.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise, product
from math import inf

import numpy as np
import pytest
from numpy.random import Generator, default_rng

from burnerlab.appliance.study.orifice_set import OrificeDemand, SetProblem
from burnerlab.orifice.drill import OWN, Drill, ToleranceBand
from burnerlab.tables.problem import UserError

MILLIMETRE = 1e-3
EVEN_TO = 1e-12  # of sums of squares: two ways of adding


def orifice(mm: float, thread: str = "", spread_mm: float = 0.01, price: float | None = None) -> Drill:
    band = ToleranceBand(
        low_m=(mm - spread_mm) * MILLIMETRE, high_m=(mm + spread_mm) * MILLIMETRE, source="", provenance=""
    )
    name = f"{mm:.3f} mm {thread}".strip()
    return Drill(
        name=name, kind=OWN, diameter_m=mm * MILLIMETRE, part=name, thread=thread, band=band, price=price
    )


def demand(
    low_mm: float, high_mm: float, model: str = "A", burner: str = "left", *threads: str
) -> OrificeDemand:
    low, high = low_mm * MILLIMETRE, high_mm * MILLIMETRE
    return OrificeDemand(
        model=model, burner=burner, market="G20", low_m=low, high_m=high,
        exact_m=((low + high) / 2.0,), threads=threads,
    )  # fmt: skip


def line(random: Generator, demands: int, drills: int, *, threads: bool = False) -> tuple[list, list]:
    """Invented demands and orifices from 1 to 1.6 mm."""
    middles = random.uniform(1.05, 1.55, demands)
    halves = random.uniform(0.025, 0.05, demands)
    kinds = [("M6",), ("M7",), ("M6", "M7")] if threads else [()]
    wanted = [
        demand(middle - half, middle + half, f"M{i % 3}", f"b{i}", *kinds[random.integers(len(kinds))])
        for i, (middle, half) in enumerate(zip(middles, halves, strict=True))
    ]
    bores = np.sort(random.choice(np.arange(1.0, 1.61, 0.01), drills, replace=False))
    spreads = random.choice([0.005, 0.02], drills) if threads else np.full(drills, 0.01)
    offered = [
        orifice(float(bore), str(random.choice(["M6", "M7"])) if threads else "", float(spread))
        for bore, spread in zip(bores, spreads, strict=True)
    ]
    return wanted, offered


def subsets(problem: SetProblem) -> dict[int, float]:
    """The least sum of squared deviations of every count of orifices that serves, every subset tried."""
    served = [r for r in range(len(problem.demands)) if problem.serves[r].any()]
    found: dict[int, float] = {}
    for count in range(1, len(problem.drills) + 1):
        for chosen in combinations(range(len(problem.drills)), count):
            total = 0.0
            for r in served:
                exact = problem.demands[r].exact_m[0]
                total += min(
                    (
                        ((problem.drills[c].diameter_m / exact) ** 2 - 1.0) ** 2
                        for c in chosen
                        if problem.serves[r, c]
                    ),
                    default=inf,
                )
            found[count] = min(found.get(count, inf), total)
    return {count: total for count, total in found.items() if total < inf}


def squares(found: object) -> float:
    return sum(each**2 for use in found.uses for each in use.deviations)  # type: ignore[attr-defined]


@pytest.mark.parametrize("threads", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_every_subset_tried_finds_no_better_set(seed: int, threads: bool) -> None:
    problem = SetProblem(*line(default_rng(seed), 8, 9, threads=threads))
    assert problem.is_of_runs or threads
    best = subsets(problem)
    assert problem.least_count == min(best)
    for most in range(min(best), min(best) + 3):
        least = min(total for count, total in best.items() if count <= most)
        assert squares(problem.at_most(most)) == pytest.approx(least, abs=EVEN_TO)


@pytest.mark.parametrize("seed", range(4))
def test_the_rule_for_intervals_needs_as_many(seed: int) -> None:
    problem = SetProblem(*line(default_rng(100 + seed), 60, 40))
    runs = sorted(
        (np.flatnonzero(row)[[0, -1]].tolist() for row in problem.serves if row.any()), key=lambda run: run[1]
    )
    taken: list[int] = []
    for first, last in runs:
        if not taken or taken[-1] < first:
            taken.append(last)
    assert problem.is_of_runs
    assert problem.fewest().count == len(taken)


@pytest.mark.parametrize("seed", range(2))
def test_recursion_and_programme_find_the_same(seed: int) -> None:
    """A least difference of a picometre forbids nothing, and makes the programme solve what the recursion solves."""
    wanted, offered = line(default_rng(200 + seed), 30, 25)
    by_runs, by_programme = SetProblem(wanted, offered), SetProblem(wanted, offered, apart_m=1e-12)
    assert by_runs.is_of_runs
    assert not by_programme.is_of_runs
    assert by_runs.least_count == by_programme.least_count
    for most in (by_runs.least_count, by_runs.least_count + 2):
        assert squares(by_runs.at_most(most)) == pytest.approx(
            squares(by_programme.at_most(most)), abs=EVEN_TO
        )


@pytest.mark.parametrize("seed", range(3))
def test_orifices_of_a_model_are_kept_apart_at_the_least_price_of_it(seed: int) -> None:
    wanted, offered = line(default_rng(300 + seed), 6, 6)
    apart = 0.035 * MILLIMETRE
    problem = SetProblem(wanted, offered, apart_m=apart)
    served = [r for r in range(len(wanted)) if problem.serves[r].any()]
    counts = []
    for taken in product(*(np.flatnonzero(problem.serves[r]).tolist() for r in served)):
        pairs = [
            abs(problem.drills[a].diameter_m - problem.drills[b].diameter_m)
            for (r, a), (s, b) in combinations(zip(served, taken, strict=True), 2)
            if a != b and wanted[r].model == wanted[s].model
        ]
        if all(gap >= apart * (1.0 - 1e-6) for gap in pairs):
            counts.append(len(set(taken)))
    if counts:
        assert problem.fewest().count == min(counts)
    else:
        with pytest.raises(UserError, match="too alike to tell apart"):
            problem.fewest()


def test_what_cannot_be_kept_apart_is_named() -> None:
    wanted = [
        demand(1.38, 1.42, "A", "left"),
        demand(1.40, 1.44, "A", "right"),
        demand(1.38, 1.42, "B", "left"),
    ]
    offered = [orifice(1.39, spread_mm=0.0), orifice(1.43, spread_mm=0.0)]
    assert SetProblem(wanted, offered, apart_m=0.04 * MILLIMETRE).fewest().count == 2
    with pytest.raises(UserError) as error:
        SetProblem(wanted, offered, apart_m=0.05 * MILLIMETRE).fewest()
    assert [problem.value for problem in error.value.problems] == ["A"]
    assert "1.390 mm for left / G20, 1.430 mm for right / G20, 0.040 mm apart" in error.value.problems[0].what


def test_demands_that_nothing_serves_come_with_the_two_nearest() -> None:
    wanted = [demand(1.34, 1.37), demand(1.37, 1.43, "A", "right"), demand(1.2, 1.5, "B", "left", "M9")]
    offered = [orifice(1.30, "M6"), orifice(1.40, "M6"), orifice(1.50, "M6")]
    problem = SetProblem(wanted, offered)
    first, second = problem.unserved
    assert first.demand.burner == "left"
    assert [near.drill.name for near in first.nearest] == ["1.300 mm M6", "1.400 mm M6"]
    assert [round(100 * near.deviation, 1) for near in first.nearest] == [-8.0, 6.8]
    assert second.demand.threads == ("M9",)
    assert second.nearest == ()
    assert [use.demand.burner for use in problem.fewest().uses] == ["right"]


def test_nothing_to_serve_needs_nothing() -> None:
    problem = SetProblem([demand(2.0, 2.1)], [orifice(1.4)])
    assert problem.fewest().count == 0
    assert problem.sizes() == ()
    assert len(problem.unserved) == 1


@pytest.mark.parametrize("seed", range(3))
def test_relations(seed: int) -> None:
    """More to choose from, or wider limits, never need more; the same demand twice changes nothing; nor does scale."""
    wanted, offered = line(default_rng(400 + seed), 25, 20)
    least = SetProblem(wanted, offered).least_count
    assert SetProblem([*wanted, *wanted], offered).least_count == least
    scaled = [
        replace(
            each,
            low_m=1.3 * each.low_m,
            high_m=1.3 * each.high_m,
            exact_m=tuple(1.3 * m for m in each.exact_m),
        )
        for each in wanted
    ]
    larger = [orifice(1.3e3 * drill.diameter_m, spread_mm=0.013) for drill in offered]
    assert SetProblem(scaled, larger).least_count == least
    served = {use.demand.name for use in SetProblem(wanted, offered).fewest().uses}
    kept = [each for each in wanted if each.name in served]
    assert SetProblem(kept, [*offered, orifice(1.333)]).least_count <= least
    wider = [replace(each, low_m=each.low_m - 1e-5, high_m=each.high_m + 1e-5) for each in kept]
    assert SetProblem(wider, offered).least_count <= least


def test_one_orifice_more_lessens_the_deviation_until_each_has_its_best() -> None:
    problem = SetProblem(*line(default_rng(7), 60, 40))
    sizes = problem.sizes(len(problem.drills))
    assert problem.sizes() == sizes[:12]  # a paper prints as many
    assert [one.count for one in sizes] == list(range(problem.least_count, problem.least_count + len(sizes)))
    assert all(more.rms_deviation < fewer.rms_deviation for fewer, more in pairwise(sizes))
    for use in sizes[-1].uses:
        serving = problem.serves[problem.demands.index(use.demand)]
        exact = use.demand.exact_m[0]
        best = min(
            abs((drill.diameter_m / exact) ** 2 - 1.0)
            for drill, fits in zip(problem.drills, serving, strict=True)
            if fits
        )
        assert abs(use.deviations[0]) == pytest.approx(best)
    with pytest.raises(UserError, match=f"{problem.least_count} or more"):
        problem.at_most(problem.least_count - 1)


def test_of_a_couple_both_gases_count() -> None:
    """1.39 mm is best for the first gas alone, 1.41 mm for both together."""
    both = replace(demand(1.3, 1.5), exact_m=(1.39e-3, 1.43e-3))
    offered = [orifice(1.39), orifice(1.41)]
    assert SetProblem([replace(both, exact_m=(1.39e-3,))], offered).fewest().drills[0].name == "1.390 mm"
    found = SetProblem([both], offered).fewest()
    assert found.drills[0].name == "1.410 mm"
    assert len(found.uses[0].deviations) == 2


def test_prices_choose_what_is_cheap_not_what_is_near() -> None:
    wanted = [replace(demand(1.35, 1.45), quantity=4), demand(1.38, 1.52, "A", "right")]
    offered = [orifice(1.40, price=1.0), orifice(1.39, price=0.5), orifice(1.43, price=0.8)]
    problem = SetProblem(wanted, offered)
    found = problem.cheapest()
    assert found.price == pytest.approx(4 * 0.5 + 0.5)
    assert problem.fewest().price == pytest.approx(5 * 0.8)
    owned = [1.0 if drill.price == 1.0 else 101.0 for drill in problem.drills]
    assert {drill.price for drill in problem.cheapest(owned).drills} == {1.0}
    assert SetProblem(wanted, [orifice(1.40)]).fewest().price is None
    equal = SetProblem(
        wanted, [replace(each, price=1.0) for each in offered]
    )  # of equal prices the fewest, then the best
    assert equal.cheapest() == equal.fewest()
    assert equal.cheapest().count == 1
