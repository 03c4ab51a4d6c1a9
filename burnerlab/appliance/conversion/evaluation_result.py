"""What the evaluation of a conversion found beyond the orifices: pressures, flames, tiles, exchange of the gas.

Every figure stands for one burner of its kind, on the present gas as the file describes it and on the new one with
the drill taken. The dataclasses are plain floats, so that a report only prints them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Literal, NamedTuple

from burnerlab.appliance.project.burner_kind import BurnerKind
from burnerlab.burner.tile_evaluation import Band
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.show import number
from burnerlab.quantity.units import Kind
from burnerlab.tables.figure import Evidence

if TYPE_CHECKING:
    from burnerlab.burner.stability_diagram import StabilityDiagram
    from burnerlab.gas.interchangeability import IndexReading

Which = Literal["present", "new"]
NOT_COMPARABLE = "not comparable"


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureAt:
    """Gauge pressure before the orifice of one burner, and what it gives there."""

    burner: str = field(metadata=output("burner"))
    gauge_pressure_all_on_Pa: float = field(metadata=output("all on, gauge", Kind.GAUGE_PRESSURE))
    # None where the supply cannot be solved for it alone
    gauge_pressure_alone_Pa: float | None = field(metadata=output("its kind on, gauge", Kind.GAUGE_PRESSURE))
    heat_input_all_on_gross_W: float = field(metadata=output("heat input, all on", Kind.POWER, basis="gross"))
    heat_input_alone_gross_W: float | None = field(
        metadata=output("heat input, its kind on", Kind.POWER, basis="gross")
    )
    # of the heat input from that at the nominal pressure [-]
    all_on_from_nominal: float = field(
        metadata=output("all on against the nominal pressure", Kind.FRACTION, is_change=True)
    )
    alone_from_nominal: float | None = field(
        metadata=output("its kind on, against the nominal pressure", Kind.FRACTION, is_change=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressures:
    """The supply with every burner on and with all of each kind on, on one gas."""

    which_gas: Which = field(metadata=output("gas"))
    gas: str = field(metadata=output("name of the gas"))
    nominal_gauge_pressure_Pa: float = field(metadata=output("nominal, manifold, gauge", Kind.GAUGE_PRESSURE))
    manifold_gauge_pressure_Pa: float = field(metadata=output("all on, manifold, gauge", Kind.GAUGE_PRESSURE))
    burners: tuple[PressureAt, ...] = field(metadata=output("burners"))
    binding: str = field(metadata=output("element of the largest drop"))  # "" when nothing takes any
    binding_drop_Pa: float | None = field(metadata=output("largest drop", Kind.PRESSURE_DIFFERENCE))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    evidence: Evidence = field(metadata=output("evidence"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameAt:
    """A burner on a gas at one rate. Margins are above 1 within their limit; None is not evaluated."""

    which_gas: Which = field(metadata=output("gas"))
    gas: str = field(metadata=output("name of the gas"))
    # full rate, turndown, lowest pressure, highest pressure
    rate: str = field(metadata=output("rate"))
    # with the valve open
    gauge_pressure_Pa: float = field(
        metadata=output("pressure before the orifice, gauge", Kind.GAUGE_PRESSURE)
    )
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    primary_aeration: Band | None = field(metadata=output("primary aeration", Kind.FRACTION, is_band=True))
    port_loading_W_per_mm2: float = field(metadata=output("port loading, gross", unit="W/mm2"))
    wall_gradient_per_s: float | None = field(metadata=output("boundary velocity gradient", unit="1/s"))
    lift_margin: Band | None = field(metadata=output("lift margin", is_band=True))
    light_back_margin: Band | None = field(metadata=output("light-back margin", is_band=True))
    # the mixture burns slower than any flame believed: the limit lies lower still
    light_back_is_at_least: bool = field(metadata=output("light-back margin is at least this"))
    yellow_tip_margin: Band | None = field(metadata=output("yellow-tip margin", is_band=True))
    inner_cone_height_m: float | None = field(metadata=output("inner cone", Kind.LENGTH))
    # of strained flames among this burner's gases and rates; no concentration
    carbon_monoxide_rank: int | None = field(
        default=None, metadata=output("carbon monoxide, rank, 1 the least; to be measured")
    )


class HotBasis(StrEnum):
    """What the hot side of a burner is calculated from."""

    MODEL = "thermal model"
    RATIO = "own measured ratio"
    PORTS = "port temperature of the file"
    NO_BODY = "no body in the file"
    UNKNOWN = "not evaluated"


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmUp:
    """One burner on a gas from a cold start: 15 min at full or lowest rate, or turned down on the hot metal.

    Each limit where it bites: lift cold, yellow tips hot at both rates, light-back turned down on hot metal.
    None is not evaluated.
    """

    which_gas: Which = field(default="present", metadata=output("gas"))
    basis: HotBasis = field(metadata=output("hot side from"))
    why_not: str = field(default="", metadata=output("why the hot side, or a part of it, is not evaluated"))
    lowest_rate: str = field(metadata=output("lowest rate"))  # by its label
    heat_input_gross_W: float = field(metadata=output("heat input, cold", Kind.POWER, basis="gross"))
    # None where the temperature of the gas at the hot orifice is not known
    hot_heat_input_gross_W: Band | None = field(
        default=None, metadata=output("heat input, 15 min", Kind.POWER, basis="gross", is_band=True)
    )
    head_temperature_1_min_K: Band | None = field(
        default=None, metadata=output("metal at the ports, 1 min", Kind.TEMPERATURE, is_band=True)
    )
    head_temperature_5_min_K: Band | None = field(
        default=None, metadata=output("metal at the ports, 5 min", Kind.TEMPERATURE, is_band=True)
    )
    head_temperature_15_min_K: Band | None = field(
        default=None, metadata=output("metal at the ports, 15 min", Kind.TEMPERATURE, is_band=True)
    )
    mixture_temperature_K: Band | None = field(
        default=None, metadata=output("mixture that leaves the ports, 15 min", Kind.TEMPERATURE, is_band=True)
    )
    cold_primary_aeration: Band | None = field(
        metadata=output("primary aeration, cold", Kind.FRACTION, is_band=True)
    )
    hot_primary_aeration: Band | None = field(
        default=None, metadata=output("primary aeration, 15 min", Kind.FRACTION, is_band=True)
    )
    hot_lowest_rate_primary_aeration: Band | None = field(
        default=None,
        metadata=output("primary aeration, 15 min at the lowest rate", Kind.FRACTION, is_band=True),
    )
    steady_s: float | None = field(
        default=None, metadata=output("air within 2 % of its last value after", Kind.TIME)
    )
    lift_rate: str = field(default="", metadata=output("rate of the lift margin"))
    cold_lift_margin: Band | None = field(metadata=output("lift margin, cold", is_band=True))
    cold_yellow_tip_margin: Band | None = field(metadata=output("yellow-tip margin, cold", is_band=True))
    hot_yellow_tip_margin: Band | None = field(
        default=None, metadata=output("yellow-tip margin, 15 min", is_band=True)
    )
    hot_lowest_rate_yellow_tip_margin: Band | None = field(
        default=None, metadata=output("yellow-tip margin, 15 min at the lowest rate", is_band=True)
    )
    cold_light_back_margin: Band | None = field(
        metadata=output("light-back margin, cold, lowest rate", is_band=True)
    )
    hot_light_back_margin: Band | None = field(
        default=None, metadata=output("light-back margin, lowest rate on hot metal", is_band=True)
    )
    # bounds: the cap of the rule of lift, and mixtures that burn slower than any flame believed
    cold_lift_is_at_least: bool = field(default=False, metadata=output("cold lift margin is at least this"))
    cold_light_back_is_at_least: bool = field(
        default=False, metadata=output("cold light-back margin is at least this")
    )
    light_back_is_at_least: bool = field(
        default=False, metadata=output("hot light-back margin is at least this")
    )

    @property
    @computed_output("change of the primary air, cold to 15 min", Kind.FRACTION, is_change=True)
    def primary_aeration_change(self) -> float | None:
        """Hot over cold primary air, less 1 [-]."""
        cold, hot = self.cold_primary_aeration, self.hot_primary_aeration
        return None if cold is None or hot is None or not cold.value else hot.value / cold.value - 1.0

    @property
    @computed_output("light-back, cold to hot")
    def light_back_order(self) -> str:
        """ "not comparable" where a bound stands on one side, which says nothing of the other; "" else."""
        known = self.cold_light_back_margin is not None and self.hot_light_back_margin is not None
        is_bound = self.cold_light_back_is_at_least or self.light_back_is_at_least
        return NOT_COMPARABLE if known and is_bound else ""

    @property
    @computed_output("change of the heat input, cold to 15 min", Kind.FRACTION, is_change=True, is_band=True)
    def heat_input_change(self) -> Band | None:
        """Hot over cold heat input, less 1 [-]; None where the gas at the hot orifice is not known."""
        hot, cold = self.hot_heat_input_gross_W, self.heat_input_gross_W
        if hot is None:
            return None
        return Band(value=hot.value / cold - 1.0, low=hot.low / cold - 1.0, high=hot.high / cold - 1.0)

    @property
    def margins(self) -> tuple[FlameMargin, ...]:
        """Every margin known, each where its limit bites; cold where the hot one is not evaluated.

        Of light-back also the cold one where a bound stands on either side, for the two are in no order then.
        """
        turned = self.lowest_rate
        yellow = (
            [("", self.cold_yellow_tip_margin)]
            if self.hot_yellow_tip_margin is None
            else [
                ("hot", self.hot_yellow_tip_margin),
                (f"hot, {turned}", self.hot_lowest_rate_yellow_tip_margin),
            ]
        )
        hot, cold = self.hot_light_back_margin, self.cold_light_back_margin
        rows = [
            ("lift", f"cold, {self.lift_rate}", self.cold_lift_margin, self.cold_lift_is_at_least),
            *(("yellow tips", moment, band, False) for moment, band in yellow),
            ("light-back", f"{turned}, hot metal", hot, self.light_back_is_at_least),
        ]
        if hot is None or self.light_back_order:
            rows.append(("light-back", turned, cold, self.cold_light_back_is_at_least))
        return tuple(FlameMargin(*row[:2], row[2], row[3]) for row in rows if row[2] is not None)

    @property
    def _worst(self) -> FlameMargin | None:
        return smallest(self.margins)

    @property
    @computed_output("nearest limit")
    def nearest_limit(self) -> str:
        """Name of the limit of the smallest margin; "" where none is known."""
        return "" if self._worst is None else self._worst.limit

    @property
    @computed_output("when it is nearest")
    def nearest_moment(self) -> str:
        """Rate, cold or hot, of the smallest margin."""
        return "" if self._worst is None else self._worst.moment

    @property
    @computed_output("margin to the nearest limit", is_band=True)
    def nearest_margin(self) -> Band | None:
        """The smallest margin."""
        return None if self._worst is None else self._worst.band

    @property
    @computed_output("bounds below the margin to the nearest limit")
    def nearest_against(self) -> str:
        """Margins known only as at least so much, which is less than the nearest: in no order with it; "" if none."""
        return against(self.margins)


class FlameMargin(NamedTuple):
    """A margin by the name of its limit, and when it is taken."""

    limit: str
    moment: str
    band: Band
    is_at_least: bool = False  # a bound: the margin is this or more


def smallest(margins: Iterable[FlameMargin]) -> FlameMargin | None:
    """The smallest margin whose value is known; the smallest bound where none is.

    A bound below a value is no smaller margin, for what it bounds may lie above both.

    >>> value = FlameMargin("yellow tips", "hot", Band(value=1.2, low=0.9, high=1.5))
    >>> bound = FlameMargin("light-back", "turndown", Band(value=1.1, low=0.8, high=1.4), is_at_least=True)
    >>> smallest([bound, value]).limit, smallest([bound]).limit
    ('yellow tips', 'light-back')
    """
    return min(margins, key=lambda margin: (margin.is_at_least, margin.band.value), default=None)


def against(margins: Sequence[FlameMargin]) -> str:
    """The bounds that are in no order with the smallest margin, in words; "" where there are none.

    >>> value = FlameMargin("yellow tips", "hot", Band(value=1.2, low=0.9, high=1.5))
    >>> bound = FlameMargin("light-back", "turndown", Band(value=1.1, low=0.8, high=1.4), is_at_least=True)
    >>> against([bound, value])
    'light-back at least 1.1 (turndown): not comparable'
    """
    least = smallest(margins)
    if least is None or least.is_at_least:
        return ""
    below = [one for one in margins if one.is_at_least and one.band.value < least.band.value]
    words = ", ".join(f"{one.limit} at least {number(one.band.value, 2)} ({one.moment})" for one in below)
    return f"{words}: {NOT_COMPARABLE}" if below else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterSetting:
    """Openings of the air shutter that hold every limit known on the new gas, or which limit leaves none.

    Of a pressure couple on both of its gases, which burn through one setting. The present gas is taken out: what
    holds on it too stands beside, for a product of which one setting serves both.
    """

    # as the file sets it [-]; None without a shutter
    opening: float | None = field(metadata=output("as set", Kind.FRACTION))
    low: float | None = field(metadata=output("from", Kind.FRACTION))
    high: float | None = field(metadata=output("to", Kind.FRACTION))
    # whether the present setting lies within; None where none is known
    holds: bool | None = field(metadata=output("as set it holds"))
    binding: tuple[str, ...] = field(metadata=output("limits that end the openings"))
    words: str = field(metadata=output("in words"))
    # openings that hold on the present gas with the present orifice too [-]; None where none does
    with_present: tuple[float, float] | None = None
    is_present_evaluated: bool = (
        False  # whether that was looked for: the present gas is another, and evaluated
    )

    @property
    @computed_output("with the present gas too")
    def present_too(self) -> str:
        """Openings that serve the present gas too, in words; "" where that is not evaluated."""
        if not self.is_present_evaluated:
            return ""
        if self.with_present is None:
            return "no one setting serves the present gas too"
        low, high = (f"{round(100 * end, 1):g}" for end in self.with_present)
        return f"one setting for the present gas too: {low} to {high} %"


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerFlames:
    """One burner: every rate on both gases, and its shutter."""

    burner: str = field(metadata=output("burner"))
    kind: BurnerKind = field(metadata=output("kind"))
    rates: tuple[FlameAt, ...] = field(metadata=output("rates"))  # present gas first, full rate first
    shutter: ShutterSetting | None = field(metadata=output("air shutter"))
    # present gas first; empty for a burner that glows
    warm_ups: tuple[WarmUp, ...] = field(default=(), metadata=output("from a cold start"))
    notes: tuple[str, ...] = field(default=(), metadata=output("notes"))
    evidence: Evidence = field(default=Evidence.ESTIMATE, metadata=output("evidence"))

    def warm_up(self, which: Which) -> WarmUp | None:
        """From a cold start on a gas; None where there are no figures."""
        return next((one for one in self.warm_ups if one.which_gas == which), None)

    def at(self, which: Which, rate: str) -> FlameAt | None:
        """The figures at a rate by its label, None where there are none."""
        return next((one for one in self.rates if one.which_gas == which and one.rate == rate), None)

    def full(self, which: Which) -> FlameAt | None:
        return next((one for one in self.rates if one.which_gas == which), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class TileAt:
    """A ceramic tile burner on a gas at its calculated rate; None where its flame lies outside the table of flames."""

    burner: str = field(metadata=output("burner"))
    which_gas: Which = field(metadata=output("gas"))
    gas: str = field(metadata=output("name of the gas"))
    # with the tile as cold as the room, and in balance with its flame
    cold_primary_aeration: Band = field(
        metadata=output("primary aeration, cold", Kind.FRACTION, is_band=True)
    )
    hot_primary_aeration: Band = field(
        metadata=output("primary aeration, hot tile", Kind.FRACTION, is_band=True)
    )
    firing_density_net_W_per_m2: float | None = field(
        default=None, metadata=output("firing density", Kind.HEAT_FLUX, basis="net")
    )
    face_temperature_K: Band | None = field(
        default=None, metadata=output("face temperature", Kind.TEMPERATURE, is_band=True)
    )
    face_ceiling_temperature_K: float | None = field(
        default=None, metadata=output("ceiling of the face", Kind.TEMPERATURE)
    )
    radiant_efficiency_net: Band | None = field(
        default=None, metadata=output("radiant efficiency", Kind.FRACTION, basis="net", is_band=True)
    )
    ceiling_efficiency_net: float | None = field(
        default=None, metadata=output("ceiling of the efficiency", Kind.FRACTION, basis="net")
    )
    plenum_side_temperature_K: Band | None = field(
        default=None, metadata=output("plenum side", Kind.TEMPERATURE, is_band=True)
    )
    # None also: farther than the table of flames reaches
    lift_margin: float | None = field(default=None, metadata=output("lift margin"))
    radiated_W: float | None = field(default=None, metadata=output("radiated", Kind.POWER))
    evidence: Evidence = field(default=Evidence.ESTIMATE, metadata=output("evidence"))


@dataclass(frozen=True, slots=True, kw_only=True)
class GasExchange:
    """What published indices say of the new gas at the old orifice, or why they do not apply."""

    readings: tuple[IndexReading, ...] = field(default=(), metadata=output("indices"))
    notes: tuple[str, ...] = field(default=(), metadata=output("notes"))
    why_not: str = field(default="", metadata=output("why no index applies"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluation:
    """Everything evaluated beyond the orifices."""

    # present, new; empty where nothing before the manifold is described
    pressures: tuple[Pressures, ...] = field(default=(), metadata=output("supply"))
    # burners whose ports are known, on gases with a composition
    flames: tuple[BurnerFlames, ...] = field(default=(), metadata=output("flames"))
    tiles: tuple[TileAt, ...] = field(default=(), metadata=output("tiles"))
    exchange: GasExchange = field(default_factory=GasExchange, metadata=output("exchange of the gas"))
    diagrams: tuple[StabilityDiagram, ...] = field(default=(), compare=False)  # hold arrays

    def pressures_of(self, which: Which) -> Pressures | None:
        return next((one for one in self.pressures if one.which_gas == which), None)

    def flames_of(self, burner: str) -> BurnerFlames | None:
        return next((one for one in self.flames if one.burner == burner), None)

    @property
    def burners_with_aeration(self) -> frozenset[str]:
        """Burners whose primary aeration is calculated on both gases."""
        return frozenset(
            one.burner
            for one in self.flames
            if all(
                (full := one.full(which)) is not None and full.primary_aeration
                for which in ("present", "new")
            )
        )
