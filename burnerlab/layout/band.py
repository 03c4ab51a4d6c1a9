"""How wide a map's figures are while its shares of heat are not measured: every corner of their spread."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

from burnerlab.layout.cooking_surface import Emitter, Layout, Span, grid_over
from burnerlab.layout.evenness import Evenness, evenness
from burnerlab.layout.heatmap import check_layout, pieces
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.outputs import computed_output

GRID = (30, 20)


@dataclass(frozen=True, slots=True, kw_only=True)
class MapBand:
    """Lowest and highest of each measure over the corners."""

    mean_W_per_m2: Span
    spread: Span
    coefficient_of_variation: Span
    corners: int

    @property
    @computed_output("mean, lowest", Kind.HEAT_FLUX)
    def mean_low_W_per_m2(self) -> float:
        """Of the corners."""
        return self.mean_W_per_m2.low

    @property
    @computed_output("mean, highest", Kind.HEAT_FLUX)
    def mean_high_W_per_m2(self) -> float:
        """Of the corners."""
        return self.mean_W_per_m2.high

    @property
    @computed_output("(max - min)/mean, lowest")
    def spread_low(self) -> float:
        """Of the corners."""
        return self.spread.low

    @property
    @computed_output("(max - min)/mean, highest")
    def spread_high(self) -> float:
        """Of the corners."""
        return self.spread.high

    @property
    @computed_output("coefficient of variation, lowest", Kind.FRACTION)
    def coefficient_of_variation_low(self) -> float:
        """Of the corners."""
        return self.coefficient_of_variation.low

    @property
    @computed_output("coefficient of variation, highest", Kind.FRACTION)
    def coefficient_of_variation_high(self) -> float:
        """Of the corners."""
        return self.coefficient_of_variation.high


def map_band(layout: Layout) -> MapBand:
    """Measures of a map with radiant share, capture and spread of the gas at each end of their spans.

    All burners alike; worst cases of coefficients, not a likely spread.
    """
    check_layout(layout)
    grid = grid_over(layout.surface, *GRID)
    found: list[Evenness] = []
    spans = layout.shape.plume_span
    for width in (spans.low, spans.high) if spans else (layout.shape.plume_spread,):
        wide = replace(layout, shape=replace(layout.shape, plume_spread=width))
        maps, _ = pieces(wide, grid)
        for radiant, capture in product((False, True), (False, True)):
            burners = tuple(_at(b, radiant, capture) for b in layout.burners)
            found.append(evenness(maps.flux(replace(wide, burners=burners)).sum(axis=0)))
    return MapBand(
        mean_W_per_m2=_span([one.mean for one in found]),
        spread=_span([one.spread for one in found]),
        coefficient_of_variation=_span([one.coefficient_of_variation for one in found]),
        corners=len(found),
    )


def _at(burner: Emitter, radiant_high: bool, capture_high: bool) -> Emitter:
    return replace(
        burner,
        radiant=_end(burner.radiant_span, radiant_high, burner.radiant),
        capture=_end(burner.capture_span, capture_high, burner.capture),
    )


def _end(span: Span | None, high: bool, value: float) -> float:
    return value if span is None else span.high if high else span.low


def _span(values: list[float]) -> Span:
    return Span(low=min(values), high=max(values))
