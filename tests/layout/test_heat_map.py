"""What must follow when a layout is moved, mirrored, scaled, split or put together."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.appliance import demonstration
from burnerlab.layout.cooking_surface import Cover, Emitter, Grid, Layout, Room, Surface, grid_over
from burnerlab.layout.heat_map import evenness, heat_map, pieces
from burnerlab.layout.layout_study import layout_of, study_of
from burnerlab.layout.view_factors import (
    Rectangle,
    element_to_long_tube,
    element_to_parallel,
    element_to_tube,
    hinged_strips,
    opposed_rectangles,
    parallel_rectangles,
    perpendicular_rectangles,
    ripple,
    standing_rectangles,
)
from burnerlab.quantity import UserError

QUICK = settings(max_examples=5)
lengths = st.floats(0.05, 2.0)
shifts = st.floats(-0.5, 0.5)


def layouts(tilt: float = 0.0) -> Layout:
    """Two tubes, a ring, a tile and a rear burner, shields over the tubes, in a box with a closed lid."""
    base = {"heat_input_W": 3000.0, "radiant": 0.1, "capture": 0.3}
    burners = (
        Emitter(
            name="a", form="line", x_m=-0.15, y_m=0.02, z_m=0.09, length_m=0.3, width_m=0.025, angle_rad=tilt, **base
        ),
        Emitter(name="b", form="line", x_m=0.0, y_m=-0.03, z_m=0.08, length_m=0.25, width_m=0.03, **base),
        Emitter(name="ring", form="ring", x_m=0.14, y_m=0.08, z_m=0.1, radius_m=0.05, width_m=0.02, **base),
        Emitter(name="tile", form="panel", x_m=0.12, y_m=-0.1, z_m=0.11, length_m=0.12, width_m=0.08, **base),
        Emitter(
            name="rear", form="panel", x_m=0.05, y_m=0.2, z_m=0.28, length_m=0.2, width_m=0.05,
            angle_rad=math.pi / 2, facing="front", **base,
        ),
    )  # fmt: skip
    covers = (
        Cover(
            name="s",
            x_m=-0.15,
            y_m=0.02,
            z_m=0.12,
            length_m=0.3,
            width_m=0.05,
            angle_rad=tilt,
            emissivity=0.8,
        ),
        Cover(
            name="t", x_m=0.0, y_m=-0.03, z_m=0.12, length_m=0.2, width_m=0.06, angle_rad=0.0, emissivity=0.7
        ),
    )
    surface = Surface(name="g", x_m=0.01, y_m=0.01, z_m=0.19, width_m=0.4, depth_m=0.36)
    room = Room(x_m=0.0, y_m=0.0, width_m=0.46, depth_m=0.44, loss=0.3, lid_z_m=0.4)
    return Layout(surface=surface, burners=burners, covers=covers, room=room)


def moved(layout: Layout, dx: float, dy: float) -> Layout:
    def shift(thing):  # type: ignore[no-untyped-def]
        return replace(thing, x_m=thing.x_m + dx, y_m=thing.y_m + dy)

    return replace(
        layout,
        surface=shift(layout.surface),
        burners=tuple(map(shift, layout.burners)),
        covers=tuple(map(shift, layout.covers)),
        room=shift(layout.room),
    )


def mirrored(layout: Layout) -> Layout:
    """Left for right."""

    def flip(thing):  # type: ignore[no-untyped-def]
        angle = {"angle_rad": -thing.angle_rad} if hasattr(thing, "angle_rad") else {}
        return replace(thing, x_m=-thing.x_m, **angle)

    return replace(
        layout,
        surface=flip(layout.surface),
        burners=tuple(map(flip, layout.burners)),
        covers=tuple(map(flip, layout.covers)),
        room=flip(layout.room),
    )


def scaled(layout: Layout, by: float) -> Layout:
    def grow(thing):  # type: ignore[no-untyped-def]
        names = [f for f in thing.__dataclass_fields__ if f.endswith("_m") and getattr(thing, f) is not None]
        return replace(thing, **{name: by * getattr(thing, name) for name in names})

    return replace(
        layout,
        surface=grow(layout.surface),
        burners=tuple(map(grow, layout.burners)),
        covers=tuple(map(grow, layout.covers)),
        room=grow(layout.room),
    )


GRID = grid_over(layouts().surface, 21, 15)


def flux(layout: Layout) -> np.ndarray:
    return heat_map(layout, grid_over(layout.surface, 21, 15)).flux_W_per_m2


@cache
def straight_flux() -> np.ndarray:
    """Of the layout that is moved and scaled."""
    return flux(layouts())


@QUICK
@given(shifts, shifts)
def test_moving_everything_moves_the_map(dx: float, dy: float) -> None:
    assert flux(moved(layouts(), dx, dy)) == pytest.approx(straight_flux(), rel=1e-6)


@pytest.mark.parametrize("tilt", [0.0, 0.2])
def test_mirroring_mirrors_the_map(tilt: float) -> None:
    assert flux(mirrored(layouts(tilt))) == pytest.approx(
        flux(layouts(tilt))[:, ::-1], rel=2e-3 if tilt else 1e-9
    )


@QUICK
@given(st.floats(0.3, 3.0))
def test_scaling_all_lengths_divides_the_flux_by_its_square(by: float) -> None:
    assert flux(scaled(layouts(), by)) == pytest.approx(straight_flux() / by**2, rel=1e-6)


def changed(layout: Layout, thing: str, number: int, **by: float) -> Layout:
    """A layout with one burner or shield moved or turned a little."""
    things = list(getattr(layout, thing))
    one = things[number]
    things[number] = replace(one, **{name: getattr(one, name) + step for name, step in by.items()})
    return replace(layout, **{thing: tuple(things)})


SMALL = [
    *(("covers", i, {"angle_rad": math.radians(0.01)}) for i in (0, 1)),
    *(("covers", i, {name: 1e-4}) for i in (0, 1) for name in ("x_m", "y_m", "z_m", "length_m", "width_m")),
    *(("burners", i, {"angle_rad": math.radians(0.01)}) for i in (0, 1)),
    *(("burners", i, {name: 1e-4}) for i in (0, 1, 2, 3, 4) for name in ("x_m", "y_m", "z_m")),
]


@pytest.mark.parametrize("tilt", [0.0, 0.3])
def test_nothing_jumps(tilt: float) -> None:
    """0.01 degrees or 0.1 mm of any burner or shield change no place of the map by 1 % of its most.

    Half of the changes are tried with a tube and its shield turned, the others with all of them straight, among both
    some of each burner and shield.
    """
    layout, small = layouts(tilt), SMALL[::2] if tilt else SMALL[1::2]
    # a shield whose edge lies over the axis of a tube, and one over the other
    grid = grid_over(layout.surface, 9, 7)
    for place in (layout, changed(layout, "covers", 0, x_m=0.025), stacked(layout)):
        before = heat_map(place, grid).flux_W_per_m2
        for thing, number, by in small if place is layout else SMALL[:12:2]:
            after = heat_map(changed(place, thing, number, **by), grid).flux_W_per_m2
            assert np.abs(after - before).max() < 0.01 * before.max(), (thing, number, by)
            assert after.mean() == pytest.approx(before.mean(), rel=0.005), (thing, number, by)


def stacked(layout: Layout) -> Layout:
    """A smaller shield over the first one."""
    return replace(
        layout, covers=(*layout.covers, replace(layout.covers[0], name="u", z_m=0.15, length_m=0.2))
    )


def test_a_shield_turned_by_a_hair_keeps_its_gas() -> None:
    """The gas under a shield goes to its edges at any angle."""
    layout = layouts()
    turned = changed(layout, "covers", 0, angle_rad=math.radians(0.01))
    straight, hair = (pieces(one, GRID)[0].carried[0] for one in (layout, turned))
    free = pieces(replace(layout, covers=()), GRID)[0].carried[0]
    assert straight[7, 2] < 0.6 * free[7, 2]  # beside the axis of the tube
    assert hair == pytest.approx(straight, abs=0.002 * straight.max())
    tilted = pieces(changed(layout, "covers", 0, angle_rad=0.05), GRID)[0].carried[0]
    assert tilted.sum() == pytest.approx(straight.sum(), rel=0.02)


def test_a_second_shield_right_over_the_first_changes_little() -> None:
    """It hides nothing more; what it sends down again is the first one's heat."""
    layout = layouts()
    bare = pieces(replace(layout, covers=()), GRID)[0].radiated[0].mean()
    one = pieces(layout, GRID)[0].radiated[0].mean()
    both = replace(layout, covers=(*layout.covers, replace(layout.covers[0], name="u", z_m=0.1201)))
    two = pieces(both, GRID)[0].radiated[0].mean()
    assert one < bare
    assert one - two < 0.2 * (bare - one) + 0.1 * one


def test_rates_add_up() -> None:
    """Twice every rate is twice the map; burners apart are the burners together."""
    layout = layouts()
    doubled = replace(
        layout, burners=tuple(replace(b, heat_input_W=2 * b.heat_input_W) for b in layout.burners)
    )
    assert flux(doubled) == pytest.approx(2 * flux(layout), rel=1e-12)
    alone = sum(flux(replace(layout, burners=(burner,))) for burner in layout.burners)
    assert alone == pytest.approx(flux(layout), rel=1e-9)


def test_a_tube_cut_in_two_is_the_same_tube() -> None:
    whole = layouts()
    b = whole.burners[1]
    halves = tuple(
        replace(
            b,
            name=f"b{side}",
            y_m=b.y_m + side * b.length_m / 4,
            length_m=b.length_m / 2,
            heat_input_W=1500.0,
        )
        for side in (-1, 1)
    )
    cut = replace(whole, burners=(whole.burners[0], *halves, *whole.burners[2:]), covers=whole.covers[:1])
    bare = replace(whole, covers=whole.covers[:1])
    assert flux(cut) == pytest.approx(flux(bare), rel=1e-6)


def test_a_burner_off_takes_its_own_part_away() -> None:
    found = heat_map(layouts())
    off = found.without("ring")
    assert off.mean == pytest.approx(found.evenness.mean * (1 - found.shares[2]), rel=1e-9)
    with pytest.raises(UserError, match="is no burner"):
        found.without("rimg")


def test_the_ripple_law_of_many_tubes() -> None:
    """Direct radiation of a long row of long tubes: largest over smallest is coth^2(pi H/P) to 0.1 %."""
    for height_over_pitch in (0.3, 0.5, 0.75):
        pitch, height = 0.1, 0.1 * height_over_pitch
        i = np.arange(-1500, 1501)
        at = np.array([0.0, pitch / 2])
        flux = element_to_long_tube(at[:, None] - i * pitch, height, 0.005).sum(axis=1)
        assert flux[0] / flux[1] == pytest.approx(float(ripple(height_over_pitch)), rel=1e-3)


def test_the_ripple_law_of_the_map() -> None:
    """The map itself, of 61 tubes of 6 m; nothing but direct radiation."""
    pitch, height = 0.1, 0.05
    row = tuple(
        Emitter(name=str(i), form="line", x_m=i * pitch, y_m=0.0, z_m=0.0, length_m=40.0, width_m=0.01,
                heat_input_W=1.0, radiant=0.999, capture=0.0)
        for i in range(-150, 151)
    )  # fmt: skip
    surface = Surface(name="s", x_m=0.0, y_m=0.0, z_m=height, width_m=0.1, depth_m=0.1, absorptance=1.0)
    grid = Grid(x_m=np.array([[0.0, pitch / 2]]), y_m=np.zeros((1, 2)))
    flux = heat_map(Layout(surface=surface, burners=row), grid).flux_W_per_m2[0]
    assert flux[0] / flux[1] == pytest.approx(float(ripple(height / pitch)), rel=1e-3)


# view factors


@QUICK
@given(lengths, lengths, lengths, st.floats(0.1, 10.0))
def test_view_factors_do_not_change_with_scale(a: float, b: float, c: float, by: float) -> None:
    assert opposed_rectangles(by * a, by * b, by * c) == pytest.approx(opposed_rectangles(a, b, c), rel=1e-10)
    assert perpendicular_rectangles(by * a, by * b, by * c) == pytest.approx(
        perpendicular_rectangles(a, b, c), rel=1e-10
    )


@QUICK
@given(lengths, lengths, lengths)
def test_reciprocity_and_closure(a: float, b: float, c: float) -> None:
    """Six sides of a box: what the floor sends, and to each side and back."""
    up = float(opposed_rectangles(a, b, c))
    x, y = float(perpendicular_rectangles(a, c, b)), float(perpendicular_rectangles(b, c, a))
    assert up + 2 * x + 2 * y == pytest.approx(1.0, rel=1e-10)
    assert a * b * x == pytest.approx(c * b * float(perpendicular_rectangles(c, a, b)), rel=1e-10)


@QUICK
@given(lengths, lengths, lengths, shifts, st.floats(0.1, 0.9))
def test_splitting_a_rectangle_adds_up(a: float, b: float, c: float, shift: float, share: float) -> None:
    first = Rectangle(x1=0, x2=a, y1=0, y2=b)
    second = Rectangle(x1=shift, x2=shift + b, y1=0, y2=a)
    middle = shift + share * b
    parts = [Rectangle(x1=shift, x2=middle, y1=0, y2=a), Rectangle(x1=middle, x2=shift + b, y1=0, y2=a)]
    whole = float(parallel_rectangles(first, second, c))
    assert sum(float(parallel_rectangles(first, part, c)) for part in parts) == pytest.approx(whole, rel=1e-9)
    back = float(parallel_rectangles(second, first, c))
    assert a * b * whole == pytest.approx(a * b * back, rel=1e-9)


@QUICK
@given(lengths, lengths, lengths)
def test_general_forms_hold_the_special_ones(a: float, b: float, c: float) -> None:
    same = Rectangle(x1=0, x2=a, y1=0, y2=b)
    assert float(parallel_rectangles(same, same, c)) == pytest.approx(
        float(opposed_rectangles(a, b, c)), rel=1e-8
    )
    base, wall = Rectangle(x1=0, x2=a, y1=0, y2=c), Rectangle(x1=0, x2=b, y1=0, y2=c)
    assert float(standing_rectangles(base, wall)) == pytest.approx(
        float(perpendicular_rectangles(a, b, c)), rel=1e-8
    )


def test_limits() -> None:
    assert float(opposed_rectangles(1.0, 1.0, 1e-6)) == pytest.approx(1.0, abs=1e-5)
    assert float(element_to_parallel(-1, 1, -1, 1, 1e-7)) == pytest.approx(1.0, abs=1e-6)
    long = float(element_to_tube(0.05, 0.0, 0.1, 2000.0, 0.0125))
    assert long == pytest.approx(float(element_to_long_tube(0.05, 0.1, 0.0125)), rel=1e-9)
    assert float(hinged_strips(math.pi)) == pytest.approx(0.0, abs=1e-12)
    far = float(element_to_parallel(-0.1, 0.1, -0.1, 0.1, 10.0))
    assert far == pytest.approx(0.04 / (math.pi * 100), rel=1e-3)


def test_measures_of_an_even_map() -> None:
    flat = evenness(np.full((4, 5), 7.0))
    assert (flat.spread, flat.coefficient_of_variation, flat.within_10_percent) == (0.0, 0.0, 1.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"z_m": 0.19}, "stands in the plane"),
        ({"length_m": 0.0}, "has no size"),
        ({"radiant": 1.2}, "is no share of its heat"),
        ({"heat_input_W": 0.0}, "gives no heat"),
    ],
)
def test_layouts_that_cannot_be_are_refused(change: dict[str, float], words: str) -> None:
    layout = layouts()
    wrong = replace(layout, burners=(replace(layout.burners[0], **change), *layout.burners[1:]))
    with pytest.raises(UserError, match=words):
        heat_map(wrong)


def test_a_burner_beside_the_surface_heats_something_else() -> None:
    """Heat input over area counts by hand: rated gross input of the burners below the surface over its area."""
    cart = demonstration()
    layout = layout_of(cart, "griddle")
    left, right, front, back = layout.surface.sides
    names = {
        b.name
        for b in layout.burners
        if b.z_m < layout.surface.z_m and left <= b.x_m <= right and front <= b.y_m <= back
    }
    rated = sum(b.rate_W * b.count for b in cart.burners if b.name in names)
    by_hand = rated / layout.surface.area_m2
    beside = replace(layout.burners[0], name="side burner", x_m=right + 0.3)
    for burners in (layout.burners, (*layout.burners, beside)):
        made = study_of(replace(layout, burners=burners), cart.supply.gas, grid_over(layout.surface, 6, 4))
        assert made.gross_W_per_m2 == pytest.approx(by_hand, rel=0.01)


@pytest.mark.parametrize(("part", "wrong"), [
    ("burner", {"form": "circle"}), ("burner", {"radiant": 1.0}), ("burner", {"capture": 1.4}),
    ("surface", {"width_m": -0.4}), ("surface", {"absorptance": 1.4}),
])  # fmt: skip
def test_a_wrong_figure_is_named_with_its_value(part: str, wrong: dict[str, object]) -> None:
    whole = layouts()
    if part == "burner":
        whole = replace(whole, burners=(replace(whole.burners[0], **wrong), *whole.burners[1:]))
    else:
        whole = replace(whole, surface=replace(whole.surface, **wrong))
    (key, value), *_ = wrong.items()
    with pytest.raises(
        UserError, match=f"{key}.*{value:g}" if isinstance(value, float) else f"{key}.*{value}"
    ):
        heat_map(whole, grid_over(layouts().surface, 8, 8))
