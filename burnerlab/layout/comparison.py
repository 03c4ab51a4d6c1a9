"""Two layouts side by side: the change of each measure with its band, and the difference of their maps."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Span
from burnerlab.layout.fit_result import FitState
from burnerlab.layout.heat_map import Evenness, HeatMap, corner_maps, evenness
from burnerlab.layout.layout_study import LayoutStudy
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output

FloatArray = NDArray[np.float64]
SAME_SIZE_m = 1e-3  # surfaces whose sides differ by no more lie on each other cell by cell


@dataclass(frozen=True, slots=True, kw_only=True)
class CellChange:
    """What the second layout brings to the cells of the surface, less what the first brings."""

    most_gained_W_per_m2: float = field(metadata=output("most gained", Kind.HEAT_FLUX, is_change=True))
    most_gained_at_m: tuple[float, float] = field(metadata=output("at x, y", Kind.LENGTH))
    most_lost_W_per_m2: float = field(metadata=output("most lost", Kind.HEAT_FLUX, is_change=True))
    most_lost_at_m: tuple[float, float] = field(metadata=output("at x, y", Kind.LENGTH))
    rms_change_W_per_m2: float = field(metadata=output("change, rms", Kind.HEAT_FLUX))
    area_with_more: float = field(metadata=output("area that takes up more", Kind.FRACTION))


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutComparison:
    """Two studies of one surface; every change is that of the second less that of the first."""

    first: LayoutStudy
    second: LayoutStudy
    mean_band_W_per_m2: Span | None  # of the change, over the same corners in both; None with a measured grid
    variation_band: Span | None

    @property
    def difference_W_per_m2(self) -> FloatArray | None:
        """Heat by cell of the second less the first [rows, columns]; None where the surfaces differ in size."""
        if self.why_no_difference:
            return None
        return np.asarray(self.second.map.flux_W_per_m2 - self.first.map.flux_W_per_m2)

    @property
    @computed_output("why there is no map of the difference")
    def why_no_difference(self) -> str:
        """Empty where there is one."""
        a, b = self.first.map, self.second.map
        one, other = a.layout.surface, b.layout.surface
        if max(abs(one.width_m - other.width_m), abs(one.depth_m - other.depth_m)) > SAME_SIZE_m:
            return "the surfaces differ in size"
        return "" if a.grid.shape == b.grid.shape else "the grids differ"

    @property
    @computed_output("mean, change", Kind.HEAT_FLUX, is_change=True)
    def mean_change_W_per_m2(self) -> float:
        return self.second.evenness.mean - self.first.evenness.mean

    @property
    @computed_output("change of the mean, lowest", Kind.HEAT_FLUX, is_change=True)
    def mean_change_low_W_per_m2(self) -> float | None:
        """Of the corners of the shares of heat, the same in both layouts."""
        return None if self.mean_band_W_per_m2 is None else self.mean_band_W_per_m2.low

    @property
    @computed_output("change of the mean, highest", Kind.HEAT_FLUX, is_change=True)
    def mean_change_high_W_per_m2(self) -> float | None:
        """Of the same corners."""
        return None if self.mean_band_W_per_m2 is None else self.mean_band_W_per_m2.high

    @property
    @computed_output("(max - min)/mean, change", is_change=True, digits=3)
    def spread_change(self) -> float:
        return self.second.evenness.spread - self.first.evenness.spread

    @property
    @computed_output("coefficient of variation, change", Kind.FRACTION, is_change=True)
    def coefficient_of_variation_change(self) -> float:
        """In points."""
        return self.second.evenness.coefficient_of_variation - self.first.evenness.coefficient_of_variation

    @property
    @computed_output("change of the coefficient of variation, lowest", Kind.FRACTION, is_change=True)
    def coefficient_of_variation_change_low(self) -> float | None:
        """Of the corners of the shares of heat, the same in both layouts, in points."""
        return None if self.variation_band is None else self.variation_band.low

    @property
    @computed_output("change of the coefficient of variation, highest", Kind.FRACTION, is_change=True)
    def coefficient_of_variation_change_high(self) -> float | None:
        """Of the same corners."""
        return None if self.variation_band is None else self.variation_band.high

    @property
    @computed_output("area within 10 % of the mean, change", Kind.FRACTION, is_change=True)
    def area_near_the_mean_change(self) -> float:
        """In points."""
        return self.second.evenness.within_10_percent - self.first.evenness.within_10_percent

    @property
    @computed_output("heat taken up, of net, change", Kind.FRACTION, is_change=True)
    def uptake_change(self) -> float:
        """In points."""
        return self.second.uptake - self.first.uptake

    @property
    @computed_output("heat input, change", Kind.POWER, basis="net", is_change=True)
    def heat_input_change_net_W(self) -> float:
        return self.second.heat_input_net_W - self.first.heat_input_net_W

    @property
    @computed_output("cells", is_part=True)
    def cells(self) -> CellChange | None:
        """None where there is no map of the difference."""
        change = self.difference_W_per_m2
        if change is None:
            return None
        grid = self.second.map.grid

        def place(at: np.intp) -> tuple[float, float]:
            return float(grid.x_m.flat[at]), float(grid.y_m.flat[at])

        return CellChange(
            most_gained_W_per_m2=float(change.max()),
            most_gained_at_m=place(change.argmax()),
            most_lost_W_per_m2=float(change.min()),
            most_lost_at_m=place(change.argmin()),
            rms_change_W_per_m2=float(np.sqrt(np.mean(change**2))),
            area_with_more=float(np.mean(change > 0)),
        )


def compare_layouts(first: LayoutStudy, second: LayoutStudy) -> LayoutComparison:
    """The second study beside the first.

    The shares of heat are one unknown that both share: the band of a change takes the same corner in both, and is
    narrower than the two bands apart. With a measured grid it is not evaluated.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import study_layout
    >>> study = study_layout(demonstration(), "griddle", grid=(6, 4))
    >>> compare_layouts(study, study).mean_change_W_per_m2
    0.0
    """
    pairs: list[tuple[Evenness, Evenness]] = []
    if first.fit_state == second.fit_state == FitState.NOT_FITTED:
        a, b = _measures(first.map), _measures(second.map)
        pairs = list(zip(a, b, strict=True)) if len(a) == len(b) else []

    def band(name: str) -> Span | None:
        found = [getattr(b, name) - getattr(a, name) for a, b in pairs]
        return Span(low=min(found), high=max(found)) if found else None

    return LayoutComparison(
        first=first,
        second=second,
        mean_band_W_per_m2=band("mean"),
        variation_band=band("coefficient_of_variation"),
    )


def _measures(heat_map: HeatMap) -> list[Evenness]:
    """Of a map, and at each corner of the spans of its figures."""
    return [heat_map.evenness, *(evenness(one) for one in corner_maps(heat_map))]
