"""One cooking surface studied: its map, its band, each burner's part, the same on another gas."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from pathlib import Path

from burnerlab.appliance.model import Appliance
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.gas_family import GasGroup
from burnerlab.layout.band import MapBand, map_band
from burnerlab.layout.cooking_surface import Emitter, Grid, Layout, grid_over
from burnerlab.layout.evenness import Evenness
from burnerlab.layout.from_appliance import coefficient, layout_of, net_share
from burnerlab.layout.heatmap import DEFAULT_GRID, HeatMap, ShieldState, heat_map, names_index
from burnerlab.layout.plume import line_flame_height_m
from burnerlab.quantity import Kind, from_unit, in_unit
from burnerlab.quantity.outputs import Ends, computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary
from burnerlab.tables import Figure
from burnerlab.tables.evidence import Evidence

TRADE_UNIT = "Btu/h/in2"

NOTES = (
    "Heat that the surface takes up, as a flux. Its own radiation and what it conducts sideways are not in it: a thick "
    "plate is more even in temperature than in flux.",
    "Radiation is worked out from the geometry. Radiated shares, capture of the hot gas and its footprint are figures "
    "with a wide band until a measured grid narrows them.",
    "Burners do not hide one another, and hot gas does not meet that of its neighbour. Wind, food and draught are "
    "not in it.",
    "Standards measure and report how even a surface is; those that could be read set no limit, and none is set here.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerPart:
    """One burner's part in the map, and the map without it."""

    name: str = field(metadata=output("burner"))
    share: float = field(metadata=output("share", Kind.FRACTION))
    """Of the heat taken up [-]."""
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    radiant: float = field(metadata=output("radiated", Kind.FRACTION))
    flame_height_m: float | None = field(metadata=output("flame up to", Kind.LENGTH))
    """Bound for a flame without primary air; None where no form holds."""
    without: Evenness | None = field(metadata=output("when off"))
    """None for the only burner."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class LayoutStudy(WithSummary):
    """What one map says, with what it rests on."""

    map: HeatMap
    gas: str = field(metadata=output("gas"))
    evidence: Evidence = field(metadata=output("evidence"))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    band: MapBand = field(metadata=output("band", is_part=True))
    trade: Figure  # heat input per area of the trade, in its own unit
    off: tuple[str, ...] = field(metadata=output("not lit"))
    parts: tuple[BurnerPart, ...] = field(metadata=output("burners"))
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    @computed_output("surface")
    def surface(self) -> str:
        """Its name."""
        return self.map.layout.surface.name

    @property
    @computed_output("evenness", is_part=True)
    def evenness(self) -> Evenness:
        """Of the whole map."""
        return self.map.evenness

    @property
    @computed_output("heat taken up, of net", Kind.FRACTION)
    def taken_up(self) -> float:
        """Share of the net heat input that the surface takes up [-]."""
        return self.map.taken_up

    @property
    @computed_output("area", Kind.AREA, unit="m2")
    def area_m2(self) -> float:
        """Of the surface."""
        return self.map.layout.surface.area_m2

    @property
    @computed_output("shields")
    def shields(self) -> tuple[ShieldState, ...]:
        """Temperatures of the shields below the surface."""
        return self.map.shields

    def summary(self) -> Summary:
        band = self.band.coefficient_of_variation
        words = f"band of the variation {100.0 * band.low:.0f} to {100.0 * band.high:.0f} %"
        short = self.map.summary()
        return Summary(f"{short.words}; {words}", short.table)

    @property
    @computed_output("heat input from below", Kind.HEAT_FLUX, basis="gross")
    def gross_W_per_m2(self) -> float:
        """Gross heat input of the burners below the surface over its area; of all where none lies below."""
        layout = self.map.layout
        under = [b.heat_input_W for b in layout.burners if b.z_m < layout.surface.z_m]
        net = sum(under) or self.heat_input_net_W
        return net / self.heat_input_net_W * self.heat_input_gross_W / layout.surface.area_m2

    @property
    def gross_Btu_per_h_in2(self) -> float:
        """The same in the trade's unit."""
        return float(in_unit(self.gross_W_per_m2, Kind.HEAT_FLUX, TRADE_UNIT))

    @property
    @computed_output("rule of thumb, no source", Kind.HEAT_FLUX, is_band=True)
    def trade_W_per_m2(self) -> Ends:
        """Heat input per area of the trade, with its range."""
        low, value, high = (
            float(from_unit(end, Kind.HEAT_FLUX, TRADE_UNIT))
            for end in (self.trade.low, self.trade.value, self.trade.high)
        )
        return Ends(value=value, low=low, high=high)


def study_layout(
    appliance: Appliance,
    surface: str = "",
    *,
    gas: Gas | DeclaredGas | None = None,
    grid: tuple[int, int] = DEFAULT_GRID,
    off: tuple[str, ...] = (),
    own: Path | None = None,
) -> LayoutStudy:
    """Study one cooking surface of an appliance, as its file stands.

    surface : its name, the first of the file unless given; gas : another at unchanged rates
    grid : cells across and deep; off : burners that are not lit; own : CSV of ``layout_coefficients``
    Raises UserError for a file without geometry, and for a burner to put out that is not there.

    >>> from burnerlab.appliance import demonstration
    >>> [part.name for part in study_layout(demonstration(), "griddle", grid=(6, 4)).parts][0]
    'griddle tube left'
    """
    whole = layout_of(appliance, surface, gas=gas, own=own)
    layout = lit(whole, off)
    burnt = gas or appliance.supply.gas
    return study_of(layout, burnt, grid_over(layout.surface, *grid), off=off, own=own)


def lit(layout: Layout, off: tuple[str, ...]) -> Layout:
    """A layout with some burners out. Raises UserError for a name that is not there."""
    out = {names_index(layout, name) for name in off}
    return replace(layout, burners=tuple(b for i, b in enumerate(layout.burners) if i not in out))


def study_of(
    layout: Layout, gas: Gas | DeclaredGas, grid: Grid, *, off: tuple[str, ...] = (), own: Path | None = None
) -> LayoutStudy:
    """Study a layout that is made already."""
    found = heat_map(layout, grid)
    net = layout.heat_input_W
    alone = len(layout.burners) == 1
    return LayoutStudy(
        map=found,
        band=map_band(layout),
        parts=tuple(
            BurnerPart(
                name=burner.name,
                share=share,
                heat_input_net_W=burner.heat_input_W,
                radiant=burner.radiant,
                flame_height_m=flame_height_m(burner, gas, own),
                without=None if alone else found.without(burner.name),
            )
            for burner, share in zip(layout.burners, found.shares, strict=True)
        ),
        gas=gas.name,
        heat_input_gross_W=net / net_share(gas),
        heat_input_net_W=net,
        trade=coefficient("trade heat per area", own),
        off=off,
        evidence=Evidence.ESTIMATE,
        notes=(*NOTES, *layout.notes),
    )


def flame_height_m(
    burner: Emitter, gas: Gas | DeclaredGas, own: Path | None = None, load: float = 1.0
) -> float | None:
    """Height of the flame of a tube or ring as a line flame without primary air: an upper bound for an aerated one [m].

    load : share of the full rate [-]. None for panels, for which no form is at hand.
    """
    if burner.form == "panel":
        return None
    length = burner.length_m if burner.form == "line" else 2 * math.pi * burner.radius_m
    factor = coefficient("propane flame height", own).value if GasGroup.of(gas) is GasGroup.LPG else 1.0
    per_length = load * burner.heat_input_W / length
    return float(line_flame_height_m(per_length, coefficient("line flame height", own).value, factor))
