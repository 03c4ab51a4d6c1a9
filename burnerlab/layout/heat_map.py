"""Where the heat of the burners lands on a cooking surface, how evenly, and how surely.

Standards of cooking appliances measure and report how even a surface is; those that could be read set no limit.

The map of one burner is Q [chi (a R) + (1 - chi)(a S + eta C)]: chi radiated share, a absorptance, R radiation per
watt with what floor, walls and lid send back, S the same from shields that its hot gas warms, C footprint of its hot
gas, eta capture. Radiation is geometry; eta and chi are figures with a wide band until a measured grid narrows them.
What the surface itself radiates is not taken off.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.appliance.memory import Memory, Same
from burnerlab.layout.cooking_surface import Cover, Emitter, Grid, Layout, Span, grid_over
from burnerlab.layout.enclosure import Half, above, back_irradiance, below
from burnerlab.layout.plume import footprint
from burnerlab.layout.radiation import STEFAN_BOLTZMANN, black_W_per_m2, irradiance
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.quantity.units import Kind
from burnerlab.tables.problem import Problem, UserError

# How even is a map: mean, extremes, spread, scatter, share of the area near the mean. Measures, no pass
# mark.

NEAR_THE_MEAN = 0.10  # the band whose share of the area is reported


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """Measures of one map over equal cells."""

    points: int = field(metadata=output("points"))
    mean: float
    maximum: float
    minimum: float
    standard_deviation: float  # over all cells
    within_10_percent: float  # share of the area within 10 % of the mean [-]

    @property
    @computed_output("mean", Kind.HEAT_FLUX)
    def mean_W_per_m2(self) -> float:
        """Of a map of heat."""
        return self.mean

    @property
    @computed_output("most", Kind.HEAT_FLUX)
    def max_W_per_m2(self) -> float:
        """Of a map of heat."""
        return self.maximum

    @property
    @computed_output("least", Kind.HEAT_FLUX)
    def min_W_per_m2(self) -> float:
        """Of a map of heat."""
        return self.minimum

    @property
    @computed_output("standard deviation", Kind.HEAT_FLUX)
    def standard_deviation_W_per_m2(self) -> float:
        """Of a map of heat."""
        return self.standard_deviation

    @property
    @computed_output("area within 10 % of the mean", Kind.FRACTION)
    def area_near_the_mean(self) -> float:
        """Share of it [-]."""
        return self.within_10_percent

    @property
    @computed_output("(max - min)/mean", digits=3)
    def spread(self) -> float:
        """(max - min)/mean [-]."""
        return (self.maximum - self.minimum) / self.mean

    @property
    @computed_output("coefficient of variation", Kind.FRACTION)
    def coefficient_of_variation(self) -> float:
        """Standard deviation over mean [-]."""
        return self.standard_deviation / self.mean

    @property
    def max_over_min(self) -> float:
        return self.maximum / self.minimum if self.minimum > 0 else float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardMeasure:
    """What one standard measures of a cooking surface."""

    standard: str = field(metadata=output("standard"))
    appliance: str = field(metadata=output("appliance"))
    measure: str = field(metadata=output("measure"))
    source: str = field(metadata=output("source"))
    provenance: str = field(metadata=output("provenance"))


def standard_measures() -> tuple[StandardMeasure, ...]:
    """What standards measure of evenness; none that could be read sets a limit.

    >>> standard_measures()[0].standard
    'ASTM F1275'
    """
    known = tables.sources()
    return tuple(
        StandardMeasure(
            standard=row["standard"],
            appliance=row["appliance"],
            measure=row["measure"],
            source=known[row["source"]].cite(),
            provenance=row["provenance"],
        )
        for row in tables.rows("uniformity_measures")
    )


def evenness(values: ArrayLike) -> Evenness:
    """Measures of a map whose cells are equal; cells that hold no number are left out.

    >>> found = evenness([[1.0, 1.0], [1.0, 1.4]])
    >>> round(found.spread, 4), round(found.coefficient_of_variation, 4), found.within_10_percent
    (0.3636, 0.1575, 0.75)
    """
    flat = np.ravel(np.asarray(values, dtype=np.float64))
    flat = flat[np.isfinite(flat)]
    mean = float(flat.mean())
    return Evenness(
        points=int(flat.size),
        mean=mean,
        maximum=float(flat.max()),
        minimum=float(flat.min()),
        standard_deviation=float(flat.std()),
        within_10_percent=float(np.mean(np.abs(flat - mean) <= NEAR_THE_MEAN * mean)),
    )


# Where the heat of the burners lands on a cooking surface.

FloatArray = NDArray[np.float64]
DEFAULT_GRID: tuple[int, int] = (60, 40)
AMBIENT_K = 293.15  # of everything a shield sees beyond the burners


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Maps per watt [burners, ...] in 1/m2: what geometry gives before any share of heat is known."""

    radiated: FloatArray  # R, absorbed, per watt radiated
    reheated: FloatArray  # S, absorbed, per watt left in the gas
    carried: FloatArray  # C, per watt left in the gas and captured

    def flux(self, layout: Layout) -> FloatArray:
        """Heat taken up from each burner [burners, ...] in W/m2, at the shares of the layout."""
        Q, chi, eta = self._figures(layout)
        return np.asarray(self.radiation(layout) + (Q * (1 - chi) * eta) * self.carried)

    def radiation(self, layout: Layout) -> FloatArray:
        """Of that what comes as radiation, straight and sent back [burners, ...] in W/m2."""
        Q, chi, _ = self._figures(layout)
        return np.asarray((Q * chi) * self.radiated + (Q * (1 - chi)) * self.reheated)

    def _figures(self, layout: Layout) -> list[FloatArray]:
        """Heat input, radiant fraction and capture of each burner, in the shape of the maps."""
        shape = (-1, *[1] * (self.radiated.ndim - 1))
        names = ("heat_input_W", "radiant", "capture")
        return [np.array([getattr(b, name) for b in layout.burners]).reshape(shape) for name in names]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShieldState:
    """A shield with all burners on."""

    name: str = field(metadata=output("shield"))
    temperature_K: float = field(metadata=output("temperature", Kind.TEMPERATURE))
    is_entered: bool = field(metadata=output("as entered"))


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class HeatMap(WithSummary):
    """Heat that a cooking surface takes up, by place and by burner."""

    layout: Layout
    grid: Grid
    by_burner_W_per_m2: FloatArray  # [burners, rows, columns]
    radiation_W_per_m2: FloatArray = field(metadata=output("radiation", Kind.HEAT_FLUX))
    """[rows, columns], of the total, what comes as radiation."""
    shields: tuple[ShieldState, ...]
    pieces: Pieces
    half: Half  # below the surface
    above: Half | None

    def summary(self) -> Summary:
        found = self.evenness
        mean = figure(found.mean, Kind.HEAT_FLUX)
        words = f"mean {mean}, coefficient of variation {100.0 * found.coefficient_of_variation:.0f} %"
        names = [burner.name for burner in self.layout.burners]
        table = (
            ("burner", "fraction of the heat"),
            *((n, f"{100.0 * s:.0f} %") for n, s in zip(names, self.shares, strict=True)),
        )
        return Summary(f"{self.layout.surface.name}: {words}, an estimate", table)

    @property
    @computed_output("x", Kind.LENGTH)
    def x_m(self) -> FloatArray:
        """Of the cells [rows, columns]."""
        return self.grid.x_m

    @property
    @computed_output("y", Kind.LENGTH)
    def y_m(self) -> FloatArray:
        """Of the cells [rows, columns]."""
        return self.grid.y_m

    @property
    @computed_output("heat", Kind.HEAT_FLUX)
    def flux_W_per_m2(self) -> FloatArray:
        return np.asarray(self.by_burner_W_per_m2.sum(axis=0))

    @property
    @computed_output("heat over its mean")
    def flux_ratio(self) -> FloatArray:
        """The pattern [-]."""
        flux = self.flux_W_per_m2
        return np.asarray(flux / flux.mean())

    @property
    def evenness(self) -> Evenness:
        return evenness(self.flux_W_per_m2)

    @property
    def uptake(self) -> float:
        """Share of the net heat input that the surface takes up [-]."""
        return self.evenness.mean * self.layout.surface.area_m2 / self.layout.heat_input_W

    @property
    def shares(self) -> tuple[float, ...]:
        """Share of each burner in the heat taken up [-]."""
        heat = self.by_burner_W_per_m2.reshape(len(self.layout.burners), -1).mean(axis=1)
        return tuple(float(one) for one in heat / heat.sum())

    def without(self, *names: str) -> Evenness:
        """The measures with some burners off."""
        off = {names_index(self.layout, name) for name in names}
        keep = [i for i in range(len(self.layout.burners)) if i not in off]
        return evenness(self.by_burner_W_per_m2[keep].sum(axis=0))


def names_index(layout: Layout, name: str) -> int:
    """Place of a burner in a layout. Raises UserError for a name that is not there."""
    names = [burner.name for burner in layout.burners]
    if name not in names:
        raise UserError(Problem("is no burner of this layout", value=name, accepted=", ".join(names)))
    return names.index(name)


def pieces(layout: Layout, grid: Grid) -> tuple[Pieces, Half]:
    """The maps per watt of every burner, and the half below the surface with its shields."""
    half = below(layout)
    return _pieces(layout, grid, half, above(layout)), half


def _pieces(layout: Layout, grid: Grid, half: Half, lid: Half | None) -> Pieces:
    count, shape = len(layout.burners), grid.shape
    absorbs, z = layout.surface.absorptance, layout.surface.z_m
    back = back_irradiance(half, layout, grid.x_m, grid.y_m)
    if lid is not None:
        back = back + back_irradiance(lid, layout, grid.x_m, grid.y_m)
    radiated = np.empty((count, *shape))
    for i, burner in enumerate(layout.burners):
        radiated[i] = irradiance(burner, grid.x_m, grid.y_m, z, half.covers)
    return Pieces(
        radiated=absorbs * (radiated + back[:count]),
        reheated=absorbs * back[count:],
        carried=footprints(layout, grid),
    )


def footprints(layout: Layout, grid: Grid) -> FloatArray:
    """Where the hot gas of every burner lands, past the shields below the surface [burners, ...]."""
    covers = tuple(c for c in layout.covers if c.z_m < layout.surface.z_m)
    return np.stack(
        [footprint(b, layout.surface, grid.x_m, grid.y_m, layout.shape, covers) for b in layout.burners]
    )


def heat_map(layout: Layout, grid: Grid | None = None) -> HeatMap:
    """Heat that a cooking surface takes up at each point, by burner [W/m2].

    q = sum Q [chi (a R) + (1 - chi)(a S + eta C)]: Q net heat input, chi radiated share, a absorptance, R and S
    radiation per watt of burners and shields, C footprint of the hot gas, eta capture
    grid : points; 60 by 40 cells unless given, arrays [deep, across]
    Range: what the surface itself radiates is not taken off. Source: layout-textbook for the exchange of radiation.
    Raises UserError for a layout that cannot be, see ``check_layout``.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> griddle = layout_of(demonstration(), "griddle")
    >>> heat_map(griddle, grid_over(griddle.surface, 12, 8)).flux_W_per_m2.shape
    (8, 12)
    """
    check_layout(layout)
    chosen = grid or grid_over(layout.surface, *DEFAULT_GRID)
    if not chosen.x_m.size:
        raise UserError(Problem("a grid without points", key="grid", fix="make one with grid_over"))
    half, lid = below(layout), above(layout)
    found = _pieces(layout, chosen, half, lid)
    flux = found.flux(layout)
    return HeatMap(
        layout=layout,
        grid=chosen,
        by_burner_W_per_m2=flux,
        radiation_W_per_m2=np.asarray(found.radiation(layout).sum(axis=0)),
        shields=shield_states(layout, half),
        pieces=found,
        half=half,
        above=lid,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CellBand:
    """Lowest and highest heat at every place of a map, each place for itself."""

    flux_low_W_per_m2: FloatArray = field(metadata=output("heat, lowest", Kind.HEAT_FLUX))
    flux_high_W_per_m2: FloatArray = field(metadata=output("heat, highest", Kind.HEAT_FLUX))


def cell_band(heat_map: HeatMap) -> CellBand:
    """Each place of a map with radiant fraction, capture and spread of the gas at each end of their spans.

    All burners alike; worst cases of coefficients, not a likely spread.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> griddle = layout_of(demonstration(), "griddle")
    >>> made = heat_map(griddle, grid_over(griddle.surface, 12, 8))
    >>> bool((cell_band(made).flux_low_W_per_m2 <= made.flux_W_per_m2).all())
    True
    """
    maps = np.stack([heat_map.flux_W_per_m2, *corner_maps(heat_map)])
    return CellBand(flux_low_W_per_m2=maps.min(axis=0), flux_high_W_per_m2=maps.max(axis=0))


_CORNERS = Memory(4)  # of a map, for its bands of each place, of its measures and of their change


def corner_maps(heat_map: HeatMap, table: Layout | None = None) -> tuple[FloatArray, ...]:
    """Heat at the places of a map at each corner of the spans: spread of the gas, then radiant fraction, then capture.

    table : the layout with its spans, where the map has the constants of a fit in their place
    """
    layout = table or heat_map.layout

    def made() -> tuple[FloatArray, ...]:
        maps = []
        for wide in layouts_at_widths(layout):
            at_width = replace(heat_map.pieces, carried=footprints(wide, heat_map.grid))
            maps += [np.asarray(at_width.flux(one).sum(axis=0)) for one in layouts_at_shares(wide)]
        for each in maps:
            each.flags.writeable = False  # shared by every band
        return tuple(maps)

    return _CORNERS.recall((Same(heat_map), layout), made)


def layouts_at_widths(layout: Layout) -> list[Layout]:
    """A layout at each end of the span of its plume spread."""
    span = layout.shape.plume_span
    widths = (span.low, span.high) if span else (layout.shape.plume_spread,)
    return [replace(layout, shape=replace(layout.shape, plume_spread=width)) for width in widths]


def layouts_at_shares(layout: Layout) -> list[Layout]:
    """A layout at each end of the spans of its radiant fractions and its captures, all burners alike."""
    return [
        replace(layout, burners=tuple(_at(b, radiant, capture) for b in layout.burners))
        for radiant, capture in product((False, True), (False, True))
    ]


def shield_states(layout: Layout, half: Half) -> tuple[ShieldState, ...]:
    """Temperature of every shield with all burners on, surroundings at 20 C."""
    Q = np.array([b.heat_input_W for b in layout.burners])
    chi = np.array([b.radiant for b in layout.burners])
    emitted = half.emitted @ np.concatenate([Q * chi, Q * (1 - chi)])
    return tuple(_state(cover, float(power)) for cover, power in zip(half.covers, emitted, strict=True))


def _state(cover: Cover, power: float) -> ShieldState:
    if cover.temperature_K is not None:
        return ShieldState(name=cover.name, temperature_K=cover.temperature_K, is_entered=True)
    total = power + float(black_W_per_m2(AMBIENT_K))
    return ShieldState(name=cover.name, temperature_K=(total / STEFAN_BOLTZMANN) ** 0.25, is_entered=False)


def _wrong_figures(burner: Emitter) -> list[Problem]:
    """What is wrong with form, sizes and shares of a burner."""
    sizes = {
        "line": (burner.length_m,),
        "ring": (burner.radius_m,),
        "panel": (burner.length_m, burner.width_m),
    }
    found = []
    if burner.form not in sizes:
        key, accepted = f"{burner.name}: form", ", ".join(sizes)
        found.append(Problem("is no form of a burner", value=burner.form, key=key, accepted=accepted))
    elif not all(size > 0 for size in sizes[burner.form]):
        found.append(Problem("has no size", value=burner.name, accepted="a size above 0"))
    if not 0 <= burner.radiant < 1:
        key, value = f"{burner.name}: radiant", f"{burner.radiant:g}"
        found.append(Problem("is no share of its heat", value=value, key=key, accepted="0 to below 1"))
    if not 0 <= burner.capture <= 1:
        key, value = f"{burner.name}: capture", f"{burner.capture:g}"
        found.append(Problem("is no share of its heat", value=value, key=key, accepted="0 to 1"))
    return found


def check_layout(layout: Layout) -> None:
    """Refuse a layout no map can be drawn of. Raises UserError with every problem."""
    z, problems = layout.surface.z_m, []
    if not layout.burners:
        problems.append(Problem("no burner heats this surface", value=layout.surface.name))
    for side in ("width_m", "depth_m"):
        if not getattr(layout.surface, side) > 0:
            size = f"{getattr(layout.surface, side):g}"
            problems.append(Problem("has no size", value=size, key=side, accepted="a size above 0"))
    absorptance = layout.surface.absorptance
    if not 0 <= absorptance <= 1:
        what, accepted = "is no share of the radiation", "0 to 1"
        problems.append(Problem(what, value=f"{absorptance:g}", key="absorptance", accepted=accepted))
    for burner in layout.burners:
        if abs(burner.z_m - z) < 1e-3:
            problems.append(Problem("stands in the plane of the cooking surface", value=burner.name))
        problems += _wrong_figures(burner)
        if not burner.heat_input_W > 0:
            problems.append(Problem("gives no heat", value=burner.name, accepted="a rate above 0"))
    problems += [
        Problem("lies in the plane of the cooking surface", value=cover.name)
        for cover in layout.covers
        if abs(cover.z_m - z) < 1e-3
    ]
    if problems:
        raise UserError(problems)


# How wide a map's figures are while its shares of heat are not measured: every corner of their spread.


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


def map_band(heat_map: HeatMap, table: Layout | None = None) -> MapBand:
    """Measures of a map with radiant fraction, capture and spread of the gas at each end of their spans.

    Over the places of the map, so that its own measures lie within. All burners alike; worst cases of coefficients, not
    a likely spread. table : as of ``corner_maps``
    """
    corners = [evenness(one) for one in corner_maps(heat_map, table)]
    found = [heat_map.evenness, *corners]
    return MapBand(
        mean_W_per_m2=_span([one.mean for one in found]),
        spread=_span([one.spread for one in found]),
        coefficient_of_variation=_span([one.coefficient_of_variation for one in found]),
        corners=len(corners),
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
