"""Factors on the figures that the table has for a layout: names, how far each may go, what is known of it before."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Emitter, Layout, Span, grid_over
from burnerlab.layout.heat_map import pieces
from burnerlab.layout.measurement import Measurand

FloatArray = NDArray[np.float64]
RADIANT, CAPTURE, WIDTH, LOSS = "radiant fraction", "capture", "footprint width", "plate loss"
OF = "capture of "  # a burner
FACTORS = {RADIANT: (0.1, 8.0), CAPTURE: (0.05, 3.0), WIDTH: (0.4, 4.0), LOSS: (0.2, 5.0)}
"""How far each factor on the table's figure may go; one that ends there is reported and not used."""
MOST_RADIANT = 0.95  # of a radiated share with its factor
UNKNOWN = 1.5  # standard uncertainty of the logarithm of a factor without a span
BAND_GRID = (36, 24)  # places of a map whose mean and bands are taken


def with_factors(layout: Layout, radiant: float, capture: float | Sequence[float], width: float) -> Layout:
    """A layout with factors on its radiated shares, its capture and the width of its footprints; no spans left.

    capture : one factor, or one for each burner
    """
    each = [capture] * len(layout.burners) if isinstance(capture, int | float) else list(capture)
    burners = tuple(
        replace(
            b,
            radiant=min(radiant * b.radiant, MOST_RADIANT),
            capture=factor * b.capture,
            radiant_span=None,
            capture_span=None,
        )
        for b, factor in zip(layout.burners, each, strict=True)
    )
    shape = replace(layout.shape, plume_spread=width * layout.shape.plume_spread, plume_span=None)
    return replace(layout, burners=burners, shape=shape)


def with_named(layout: Layout, factors: Mapping[str, float]) -> Layout:
    """A layout with factors by name; a burner without one of its own takes the mean of the others."""
    capture = capture_factors(layout, factors)
    return with_factors(layout, factors.get(RADIANT, 1.0), capture, factors.get(WIDTH, 1.0))


def capture_factors(layout: Layout, factors: Mapping[str, float]) -> list[float]:
    """Factor on the capture of each burner, its own or that of all."""
    each = [value for name, value in factors.items() if name.startswith(OF)]
    common = factors.get(CAPTURE, math.exp(float(np.mean(np.log(each)))) if each else 1.0)
    return [factors.get(OF + b.name, common) for b in layout.burners]


def log_bounds(names: Sequence[str]) -> tuple[FloatArray, FloatArray]:
    """Least and greatest logarithm of each factor."""
    ends = np.log([FACTORS[CAPTURE if name.startswith(OF) else name] for name in names]).reshape(-1, 2)
    return np.asarray(ends[:, 0]), np.asarray(ends[:, 1])


def log_uncertainty(layout: Layout, name: str) -> float:
    """Standard uncertainty of the logarithm of a factor before the readings: that of its figure in the table."""
    if name == WIDTH:
        return log_spread(layout.shape.plume_spread, layout.shape.plume_span)
    if name == RADIANT:
        return max(log_spread(b.radiant, b.radiant_span) for b in layout.burners)
    burners = [b for b in layout.burners if name in (CAPTURE, OF + b.name)]
    return max(log_spread(b.capture, b.capture_span) for b in burners)


def log_spread(value: float, span: Span | None) -> float:
    """Standard uncertainty of the logarithm of a figure by its span, taken as 95 %."""
    if span is None or not (0 < span.low < span.high and value > 0):
        return UNKNOWN
    return max(math.log(value / span.low), math.log(span.high / value)) / 2


def layout_with_constants(layout: Layout, measurand: Measurand, factors: Mapping[str, float]) -> Layout:
    """A layout with the factors that readings give; those of temperatures scaled to the mean heat of the table."""
    changed = with_named(layout, factors)
    if measurand == "flux":
        return changed
    grid = grid_over(layout.surface, *BAND_GRID)
    table = float(pieces(layout, grid)[0].flux(layout).sum(axis=0).mean())
    maps = pieces(changed, grid)[0]

    def mean(scale: float) -> float:
        return float(maps.flux(_scaled(changed, scale)).sum(axis=0).mean())

    low, high = 0.0, 1.0
    while mean(high) < table and high < 64.0:
        low, high = high, 2 * high
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if mean(middle) < table else (low, middle)
    return _scaled(changed, 0.5 * (low + high))


def _scaled(layout: Layout, scale: float) -> Layout:
    def scaled(b: Emitter) -> Emitter:
        return replace(b, radiant=min(scale * b.radiant, MOST_RADIANT), capture=min(scale * b.capture, 1.0))

    return replace(layout, burners=tuple(scaled(b) for b in layout.burners))
