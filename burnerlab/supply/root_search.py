"""Roots of rising functions, many at once, never outside their bracket."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

MOST_STEPS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Root:
    """Where a rising function vanishes, and where it does not inside the bracket."""

    value: Array
    at_low: NDArray[np.bool_]  # already above zero at the lower bound: the bound is returned
    at_high: NDArray[np.bool_]  # still below zero at the upper bound: the bound is returned


def rising_root(
    function: Callable[[Array], Array], low: ArrayLike, high: ArrayLike, tolerance: float = 1e-12
) -> Root:
    """Root of a rising function by regula falsi with the weights of Anderson and Bjoerck, lane by lane.

    function : takes and returns an array; low, high : bracket of each lane
    tolerance : share of the bracket within which the root is wanted [-]
    Returns the root of each lane, or the bound that was hit; the last call of the function was there, to the tolerance.
    A short step proves nothing where the function is flat or spans decades: the search ends where the last two chords
    agree and foretell a root as near, else where the bracket is as narrow as the tolerance.

    >>> rising_root(lambda x: x**3 - np.array([8.0, 27.0]), 0.0, 10.0).value
    array([2., 3.])
    """
    a, b = np.broadcast_arrays(np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64))
    fa, fb = function(a), function(b)
    a, b, fa, fb = (np.array(one) for one in np.broadcast_arrays(a, b, fa, fb))
    at_low, at_high = fa > 0.0, fb < 0.0
    x = np.where(at_low | (fa == 0.0), a, b)
    done = at_low | at_high | (fa == 0.0) | (fb == 0.0)
    width = tolerance * np.abs(b - a) + 1e-300
    first = np.abs(fb)
    moved = slope = np.full_like(b, np.nan)
    is_straight = np.zeros_like(done)
    for step in range(MOST_STEPS):
        with np.errstate(invalid="ignore", divide="ignore"):
            guess = b - fb * (b - a) / (fb - fa)
        # an end of the bracket counts as inside: the root may lie on it to the last digit
        inside = (guess >= np.minimum(a, b)) & (guess <= np.maximum(a, b))
        if step % 4 == 3:  # three steps that bring little have the bracket halved
            inside, first = inside & (np.abs(fb) < 1e-3 * first), np.abs(fb)
        guess = np.where(done, x, np.where(inside, guess, 0.5 * (a + b)))
        is_short = inside & ~done & (np.abs(guess - x) <= 0.5 * width)
        # towards the far end by a step that brackets a root as near as it seems
        guess = np.where(is_short & ~is_straight, x + np.copysign(0.5 * width, a - x), guess)
        x, done = guess, done | (is_short & is_straight) | (np.abs(b - a) <= width)
        if step and done.all():
            break
        f = function(x)
        done = done | (f == 0.0)
        before, step_before, moved = slope, moved, x - b
        with np.errstate(invalid="ignore", divide="ignore"):
            slope = (f - fb) / moved
        is_straight = (np.abs(moved) <= 0.25 * np.abs(step_before)) & (np.abs(f) <= slope * width)
        is_straight &= (slope <= 2.0 * before) & (before <= 2.0 * slope)
        crossed = f * fb < 0.0
        kept = 1.0 - np.divide(f, fb, out=np.ones_like(fb), where=fb != 0.0)
        a, fa = np.where(crossed, b, a), np.where(crossed, fb, np.where(kept > 0.0, kept, 0.5) * fa)
        b, fb = np.where(done, b, x), np.where(done, fb, f)
    return Root(value=x, at_low=at_low, at_high=at_high)


def rising_root_by_slope(
    function: Callable[[Array], Array],
    slope: Callable[[Array], Array],
    low: ArrayLike,
    high: ArrayLike,
    start: ArrayLike | None = None,
    tolerance: float = 1e-9,
) -> Root:
    """Root of a rising function whose slope is known, roughly at least, by Newton's steps inside a bracket.

    function, slope : take and return an array; a slope a few per cent off costs a step; start : first guess inside
    the bracket, its middle without one; low, high, tolerance and what is returned as ``rising_root``.
    A step that leaves the bracket is replaced by its middle.

    >>> rising_root_by_slope(lambda x: x**3 - np.array([8.0, 27.0]), lambda x: 3.0 * x * x, 0.0, 10.0).value
    array([2., 3.])
    """
    lowest = np.asarray(low, dtype=float)
    a, b, at_lowest = (np.array(each) for each in np.broadcast_arrays(lowest, high, function(lowest)))
    width = tolerance * np.abs(b - a) + 1e-300
    at_low = at_lowest > 0.0
    x = np.where(at_low, a, 0.5 * (a + b) if start is None else start)
    done, moved = at_low, np.zeros_like(x)
    for _ in range(MOST_STEPS):
        f = function(x)
        a, b = np.where(f <= 0.0, x, a), np.where(f >= 0.0, x, b)
        guess = x - f / slope(x)
        inside = (guess >= a) & (guess <= b)
        guess = np.where(inside, guess, 0.5 * (a + b))
        before, moved = moved, np.abs(guess - x)
        # a step that shrinks as this one has against the one before foretells the next
        settled = (moved <= width) | (inside & (moved * moved <= width * before))
        x, done = np.where(done, x, guess), done | settled
        if done.all():
            break
    at_high = ~at_low & (b - x <= width)
    if at_high.any():
        at_high &= function(b) < 0.0
    return Root(value=x, at_low=at_low, at_high=at_high)
