"""The search: repeatable, within its bounds, better than where it starts, and honest about what it gives up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from burnerlab.appliance import demonstration
from burnerlab.appliance.project.geometry import LayoutReach
from burnerlab.layout import search
from burnerlab.layout.constraints import LayoutLimits
from burnerlab.layout.cooking_surface import Cover, Emitter, Layout, Surface, grid_over
from burnerlab.layout.flame_size import any_line_flame_m
from burnerlab.layout.heat_map import heat_map
from burnerlab.layout.search import movers_of, optimise, rate_window, with_tubes
from burnerlab.quantity import UserError

SURFACE = Surface(name="plate", x_m=0.0, y_m=0.0, z_m=0.22, width_m=0.45, depth_m=0.42, plate=True)
STUDY = LayoutReach(across_m=0.06, height_m=0.02, rate=0.2, spacing_m=0.08, flame_clearance_m=0.01)
LIMITS = LayoutLimits(spacing_m=0.08, flame_clearance_m=0.01)


def row(*xs: float, covers: bool = False) -> Layout:
    tubes = tuple(
        Emitter(
            name=f"t{i}", form="line", x_m=x, y_m=0.0, z_m=0.09, length_m=0.38, width_m=0.025,
            heat_input_W=2500.0, radiant=0.1, capture=0.4,
        )
        for i, x in enumerate(xs)
    )  # fmt: skip
    sheets = tuple(
        Cover(
            name=f"s{i}", x_m=x, y_m=0.0, z_m=0.18, length_m=0.4, width_m=0.05, angle_rad=0.0, emissivity=0.8
        )
        for i, x in enumerate(xs if covers else ())
    )
    return Layout(surface=SURFACE, burners=tubes, covers=sheets)


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """A short search: the tests look at its behaviour, not at the best it can find."""
    monkeypatch.setattr(search, "GENERATIONS", 4)
    monkeypatch.setattr(search, "LOCAL_EVALUATIONS", 40)


def test_it_finds_a_more_even_map_and_keeps_every_bound() -> None:
    start = row(-0.12, -0.02, 0.06)
    found = optimise(start, STUDY, LIMITS, counts=(3,), inputs=(1.0,))
    best = found.designs[0]
    assert best.holds
    assert best.evenness.coefficient_of_variation < 0.8 * found.present.evenness.coefficient_of_variation
    assert best.heat_input_net_W == pytest.approx(start.heat_input_W)
    tubes = best.layout.burners
    for before, after in zip(start.burners, tubes, strict=True):
        assert abs(after.x_m - before.x_m) <= 0.06 + 1e-12
        assert abs(after.z_m - before.z_m) <= 0.02 + 1e-12
        flame = any_line_flame_m(after.heat_input_W / after.length_m)  # their ports are not known
        assert SURFACE.z_m - after.z_m - flame >= 0.01 - 1e-9
    xs = sorted(tube.x_m for tube in tubes)
    assert np.diff(xs).min() >= 0.08 - 1e-9
    assert best.evenness.mean >= 0.8 * found.present.evenness.mean * (1 - 1e-9)


def test_twelve_wishes_are_kept_in_every_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Random layouts, reaches and limits; each bound is worked out again here from the answer alone."""
    monkeypatch.setattr(search, "GENERATIONS", 1)
    monkeypatch.setattr(search, "LOCAL_EVALUATIONS", 15)
    monkeypatch.setattr(search, "GRID", (12, 8))
    rng, kept, missed = np.random.default_rng(11), 0, 0
    for seed in range(12):
        start, study, limits = wish(rng)
        share = (0.82, 1.0)[seed % 2]
        (one,) = optimise(
            start, study, limits, counts=(len(start.burners),), inputs=(share,), seed=seed
        ).designs
        assert study.total_rate_W is not None
        assert one.layout.heat_input_W <= study.total_rate_W * (1 + 1e-9)
        assert one.layout.heat_input_W == pytest.approx(share * study.total_rate_W)
        broken = broken_bounds(start, study, limits, one.layout)
        assert one.holds == (not broken), (seed, broken, one.misses)
        kept, missed = kept + one.holds, missed + (not one.holds)
        for name in broken:
            assert f"{name} not held" in one.binding
    assert kept >= 5
    assert missed >= 2


def wish(rng: np.random.Generator) -> tuple[Layout, LayoutReach, LayoutLimits]:
    """Tubes of unequal rates, and what may change."""
    count = int(rng.integers(2, 5))
    start = row(*(np.linspace(-0.15, 0.15, count) + rng.uniform(-0.02, 0.02, count)))
    rates = rng.uniform(1500.0, 3500.0, count)
    tubes = tuple(replace(b, heat_input_W=float(q)) for b, q in zip(start.burners, rates, strict=True))
    lows, highs = rng.uniform(0.75, 0.97, count), rng.uniform(1.03, 1.25, count)
    study = LayoutReach(
        across_m=float(rng.uniform(0.005, 0.06)),
        along_m=float(rng.choice([0.0, 0.01])),
        height_m=float(rng.uniform(0.0, 0.02)),
        rate=float(rng.uniform(0.05, 0.25)),
        total_rate_W=float(rates.sum() * rng.uniform(0.95, 1.1)),
        lengths_m=((), (0.34, 0.38), (0.3, 0.35, 0.39))[int(rng.integers(3))],
    )
    limits = LayoutLimits(
        spacing_m=float(rng.uniform(0.05, 0.09)),
        flame_clearance_m=float(rng.uniform(0.0, 0.03)),
        rate_windows=tuple(zip(lows.tolist(), highs.tolist(), strict=True)) if rng.random() < 0.5 else (),
    )
    return replace(start, burners=tubes), study, limits


def broken_bounds(start: Layout, study: LayoutReach, limits: LayoutLimits, layout: Layout) -> set[str]:
    """Names of the bounds that a layout breaks, by figures of its own; the mean is that of the grid of the search."""
    slack: dict[str, list[float]] = {}

    def ask(name: str, left: float) -> None:
        slack.setdefault(name, []).append(left)

    pairs = list(zip(start.burners, layout.burners, strict=True))
    for before, after in pairs:
        ask("left and right", study.across_m - abs(after.x_m - before.x_m))
        ask("front and back", study.along_m - abs(after.y_m - before.y_m))
        ask("height", study.height_m - abs(after.z_m - before.z_m))
        ask("rate", study.rate - abs(after.heat_input_W / before.heat_input_W - 1))
        ask(
            "length from the list", 0.0 if after.length_m in (study.lengths_m or (before.length_m,)) else -1.0
        )
        flame = any_line_flame_m(after.heat_input_W / after.length_m)
        ask("flame clearance", SURFACE.z_m - after.z_m - flame - limits.flame_clearance_m)
        ask("edges of the surface", SURFACE.width_m / 2 - abs(after.x_m) - after.width_m / 2)
        ask("edges of the surface", SURFACE.depth_m / 2 - abs(after.y_m) - after.length_m / 2)
    for (before, after), (low, high) in zip(pairs, limits.rate_windows, strict=False):
        factor = after.heat_input_W / before.heat_input_W
        ask("flame stability, rate", min(factor - low, high - factor))
    xs = sorted(tube.x_m for tube in layout.burners)
    ask("spacing", float(np.diff(xs).min()) - max(limits.spacing_m, 0.025))
    means = [heat_map(one, grid_over(SURFACE, 12, 8)).evenness.mean for one in (start, layout)]
    ask("mean heat", means[1] / means[0] - search.LOOSE_MEAN)
    return {name for name, every in slack.items() if min(every) < -1e-8}


def test_a_wish_that_cannot_be_met_says_what_it_misses_and_by_how_much() -> None:
    """0.7 of the input with rates within 20 %: each rate is 10 points off at the least, which is what is found."""
    start = row(-0.1, 0.0, 0.1)
    found = optimise(start, STUDY, LIMITS, counts=(3,), inputs=(0.7,))
    (design,) = found.designs
    miss = next(one for one in design.misses if one.name == "rate")
    assert (miss.value, miss.missing) == (pytest.approx(-30.0), pytest.approx(10.0))
    assert miss.text == f"rate ({miss.where}): -30.0 %, -20.0 to 20.0 %; misses by 10.0 %"
    assert found.nearest is design
    crowded = optimise(
        start,
        replace(STUDY, across_m=0.02),
        replace(LIMITS, spacing_m=0.15, mean_W_per_m2=1.0),
        counts=(3,),
        inputs=(1.0,),
    )
    (spacing,) = crowded.designs[0].misses
    assert spacing.name == "spacing"
    assert 0.03 - 1e-9 <= spacing.missing / 1e3 <= 0.034  # 100 mm and twice 20 mm between three: 30 mm short


def test_tubes_under_one_shield_move_it_and_widen_it_once() -> None:
    layout = row(-0.04, 0.04)
    wide = Cover(
        name="wide", x_m=0.0, y_m=0.0, z_m=0.18, length_m=0.4, width_m=0.2, angle_rad=0.0, emissivity=0.8
    )
    study = replace(STUDY, shield_width_m=0.02, spacing_m=0.0)
    found = optimise(replace(layout, covers=(wide,)), study, LayoutLimits(), counts=(2,), inputs=(1.0,))
    design = found.designs[0]
    (cover,) = design.layout.covers
    assert abs(cover.width_m - 0.2) <= 0.02 + 1e-12
    assert cover.x_m == pytest.approx(float(np.mean([tube.x_m for tube in design.layout.burners])))


def test_a_known_flame_needs_its_own_room() -> None:
    """130 mm to the plate: a flame of 20 mm leaves every place, one of 125 mm drives the tubes down."""
    start = row(-0.12, -0.02, 0.06)
    low, high = (
        optimise(
            replace(start, burners=tuple(replace(tube, flame_height_m=height) for tube in start.burners)),
            STUDY,
            LIMITS,
            counts=(3,),
            inputs=(1.0,),
        )
        for height in (0.02, 0.125)
    )
    assert "flame clearance" not in " ".join(low.present.binding)
    assert "flame clearance not held" in high.present.binding
    best = high.designs[0]
    assert best.holds
    for tube in best.layout.burners:
        assert tube.flame_height_m is not None
        assert SURFACE.z_m - tube.z_m - tube.flame_height_m >= 0.01 - 1e-9


def test_the_same_seed_finds_the_same_and_the_designs_are_what_the_map_says() -> None:
    start = row(-0.1, 0.0, 0.1)
    first, again = (optimise(start, STUDY, LIMITS, counts=(3,), inputs=(1.0,), seed=7) for _ in range(2))
    assert first == again
    made = first.designs[0]
    full = heat_map(made.layout).evenness
    assert made.evenness.coefficient_of_variation == pytest.approx(full.coefficient_of_variation, rel=0.05)


def test_more_tubes_are_more_even_and_the_front_keeps_both() -> None:
    found = optimise(row(-0.1, 0.0, 0.1), STUDY, LIMITS, counts=(3, 5), inputs=(1.0,))
    three, five = found.designs
    assert five.evenness.coefficient_of_variation < three.evenness.coefficient_of_variation
    assert (three.is_on_front, five.is_on_front) == (True, True)
    assert [b.name for b in five.layout.burners] == [f"tube {k}" for k in range(1, 6)]


def test_less_input_is_shown_with_the_heat_it_costs() -> None:
    found = optimise(row(-0.1, 0.0, 0.1), STUDY, LIMITS, counts=(3,), inputs=(0.7, 1.0))
    less, full = found.designs
    assert less.heat_input_net_W == pytest.approx(0.7 * full.heat_input_net_W)
    assert not less.holds
    assert "mean heat not held" in less.binding
    assert not less.is_on_front


def test_shields_move_with_their_tubes_and_may_change_width() -> None:
    study = replace(STUDY, shield_width_m=0.02)
    found = optimise(row(-0.1, 0.1, covers=True), study, LIMITS, counts=(2,), inputs=(1.0,))
    layout = found.designs[0].layout
    for tube, cover in zip(layout.burners, layout.covers, strict=True):
        assert cover.x_m == pytest.approx(tube.x_m)
        assert cover.z_m - tube.z_m == pytest.approx(0.09)
    widths = {round(cover.width_m, 9) for cover in layout.covers}
    assert len(widths) == 1
    assert 0.03 <= widths.pop() <= 0.07


def test_lengths_come_from_what_can_be_bought() -> None:
    study = replace(STUDY, lengths_m=(0.30, 0.35, 0.40))
    found = optimise(row(-0.1, 0.0, 0.1), study, LIMITS, counts=(3,), inputs=(1.0,))
    lengths = {tube.length_m for tube in found.designs[0].layout.burners}
    assert len(lengths) == 1
    assert lengths <= {0.30, 0.35, 0.40}


def test_progress_rises_to_the_end() -> None:
    told: list[tuple[int, int]] = []
    optimise(
        row(-0.1, 0.1), STUDY, LIMITS, counts=(2,), inputs=(1.0,), progress=lambda a, b: told.append((a, b))
    )
    assert told[-1][0] == told[-1][1]
    assert [a for a, _ in told] == sorted(a for a, _ in told)


def test_rates_keep_to_the_window_of_their_flames() -> None:
    limits = replace(LIMITS, rate_windows=((0.98, 1.02), (0.9, 1.2)))
    found = optimise(row(-0.1, 0.1), STUDY, limits, counts=(2,), inputs=(1.0,)).designs[0]
    assert found.holds
    assert 0.98 - 1e-9 <= found.layout.burners[0].heat_input_W / 2500.0 <= 1.02 + 1e-9


def test_a_study_that_changes_nothing_or_has_nothing_to_move_is_told() -> None:
    with pytest.raises(UserError, match="nothing may change"):
        optimise(row(-0.1, 0.1), LayoutReach(), LIMITS, counts=(2,), inputs=(1.0,))
    ring = Emitter(
        name="r",
        form="ring",
        x_m=0,
        y_m=0,
        z_m=0.1,
        radius_m=0.1,
        heat_input_W=3000,
        radiant=0.1,
        capture=0.3,
    )
    with pytest.raises(UserError, match="no tube lies below"):
        optimise(Layout(surface=SURFACE, burners=(ring,)), STUDY, LIMITS)


def test_another_number_of_tubes_shares_the_same_rate_evenly() -> None:
    made = with_tubes(row(-0.1, 0.0, 0.1, covers=True), 4)
    assert len(movers_of(made)) == len(made.covers) == 4
    assert made.heat_input_W == pytest.approx(7500.0)
    xs = [tube.x_m for tube in made.burners]
    assert xs == pytest.approx([-x for x in xs[::-1]])


def test_a_rate_window_holds_the_present_rate_or_says_why_not() -> None:
    cart = demonstration()
    found = rate_window([cart], "griddle tube left", 0.2)
    assert found.why_not or (
        found.low is not None and found.high is not None and found.low <= 1.0 <= found.high
    )
    bare = replace(cart, burners=(replace(cart.burners[0], ports=None), *cart.burners[1:]))
    assert "ports and throat" in rate_window([bare], "griddle tube left", 0.2).why_not
