"""What is found of a burner on a gas: air, ports, flame and margins, one case or a row of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, EvaluationOptions, Surroundings
from burnerlab.burner.coefficients import Array, coefficients
from burnerlab.burner.ports import WallGradient
from burnerlab.burner.primary_air import JetFlow, PrimaryAir
from burnerlab.burner.stability import Limit
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.field_names import field_names


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameLimits:
    """Limits at one aeration, whatever flows; arrays over the cases, nan where something is not known."""

    aeration: Array = field(metadata=output("primary aeration"))
    gas_fraction: Array = field(metadata=output("fuel over stoichiometric fuel"))  # F
    viscosity_m2_per_s: Array = field(
        metadata=output("kinematic viscosity", unit="m2/s")
    )  # kinematic, of the mixture in the ports
    burning_velocity_m_per_s: Array = field(
        metadata=output("burning velocity", Kind.VELOCITY)
    )  # nan where the flat flame is not believed
    lift: Limit = field(metadata=output("lift"))
    light_back: Limit = field(metadata=output("light-back"))
    light_back_is_bound: NDArray[np.bool_] = field(
        metadata=output("light-back lies below")
    )  # flame not believed, or beyond the table: the limit lies below


@dataclass(frozen=True, slots=True, kw_only=True)
class PortFlame(FlameLimits):
    """Ports and limits at one aeration."""

    velocity_m_per_s: Array = field(metadata=output("velocity in the ports", Kind.VELOCITY))
    wall: WallGradient = field(metadata=output("wall"))
    inner_cone_height_m: Array = field(metadata=output("inner cone", Kind.LENGTH))


class Margins(NamedTuple):
    """The margins of a state, as its properties of that name, and the band of its primary air."""

    lift: Array
    lift_band: Array
    light_back: Array
    light_back_band: Array
    yellow_tip: Array
    yellow_tip_band: Array
    aeration_band: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerState:
    """A burner on a gas at a pressure; arrays over the cases. A margin above 1 is within its limit."""

    geometry: BurnerGeometry
    fuel: BurnerFuel
    gauge_pressure_Pa: Array = field(metadata=output("pressure", Kind.GAUGE_PRESSURE))
    surroundings: Surroundings
    options: EvaluationOptions
    heat_input_gross_W: Array = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    flow: JetFlow  # the gas, as the momentum balance takes it
    air: PrimaryAir = field(metadata=output("primary air"))
    port_loading_W_per_mm2: Array = field(metadata=output("port loading", unit="W/mm2"))
    at: PortFlame = field(metadata=output("flame", is_part=True))  # at the nominal aeration
    at_low: PortFlame = field(metadata=output("flame at the least air"))
    at_high: PortFlame = field(metadata=output("flame at the most air"))
    quenching_width_m: Array = field(
        metadata=output("quenching width", Kind.LENGTH)
    )  # of the mixture in cold ports
    least_quenching_width_m: Array = field(
        metadata=output("least quenching width", Kind.LENGTH)
    )  # of the stoichiometric mixture, which passes the narrowest ports
    secondary_air_m3_per_s: Array = field(
        metadata=output("secondary air", Kind.VOLUME_FLOW)
    )  # at the state of the surroundings
    notes: tuple[str, ...]
    margins: Margins | None = (
        None  # where they were found for a whole row; else each is found when it is taken
    )

    @property
    def primary_aeration(self) -> Array:
        return self.air.aeration

    @property
    def primary_aeration_band(self) -> Array:
        """Least and most, along the last axis."""
        if self.margins is not None:
            return self.margins.aeration_band
        return np.stack([self.air.low, self.air.high], axis=-1)

    @property
    def wall_gradient_per_s(self) -> Array:
        return self.at.wall.gradient_per_s

    @property
    def lift_margin(self) -> Array:
        """Lift gradient over wall gradient; nan where lift is withheld for want of primary air."""
        if self.margins is not None:
            return self.margins.lift
        return self.at.lift.value / self.wall_gradient_per_s

    @property
    def lift_is_withheld(self) -> NDArray[np.bool_]:
        """Whether there is so little primary air that no lift is stated; other limits come first there."""
        least = coefficients(self.options.own)["least lift aeration"].value
        return np.asarray(self.primary_aeration < least)

    @property
    def lift_margin_where_it_binds(self) -> Array:
        """The lift margin, infinite where lift is withheld for want of primary air: for a search over settings."""
        is_far = self.lift_is_withheld & (self.fuel.burning is not None)
        return np.where(is_far, np.inf, self.lift_margin)

    @property
    def lift_margin_band(self) -> Array:
        """Over the spread of the limit and of the aeration where it is stated, along the last axis."""
        if self.margins is not None:
            return self.margins.lift_band
        ends = [getattr(f.lift, end) / f.wall.gradient_per_s for f in self._flames for end in ("low", "high")]
        return span_where_stated(self.lift_margin, ends)

    @property
    def light_back_margin(self) -> Array:
        """Wall gradient over light-back gradient."""
        if self.margins is not None:
            return self.margins.light_back
        return self.wall_gradient_per_s / self.at.light_back.value

    @property
    def light_back_margin_band(self) -> Array:
        """Over the spread of the limit and of the aeration where it is stated, along the last axis."""
        if self.margins is not None:
            return self.margins.light_back_band
        ends = [
            f.wall.gradient_per_s / getattr(f.light_back, end)
            for f in self._flames
            for end in ("low", "high")
        ]
        return span_where_stated(self.light_back_margin, ends)

    @property
    def yellow_tip_margin(self) -> Array:
        """Primary aeration over the least without yellow tips; nan where there is no such limit."""
        if self.margins is not None:
            return self.margins.yellow_tip
        return yellow_tip_margins(self.fuel, self.air)[0]

    @property
    def yellow_tip_margin_band(self) -> Array:
        if self.margins is not None:
            return self.margins.yellow_tip_band
        return yellow_tip_margins(self.fuel, self.air)[1]

    @property
    def inner_cone_height_m(self) -> Array:
        return self.at.inner_cone_height_m

    @property
    def _flames(self) -> tuple[PortFlame, PortFlame, PortFlame]:
        return self.at, self.at_low, self.at_high

    def each(
        self, burners: Sequence[tuple[BurnerGeometry, BurnerFuel]] | None = None
    ) -> tuple[BurnerState, ...]:
        """Every case of a row of them by itself, as if it had been evaluated alone.

        burners : geometry and gas of each case where they are known, in place of the parts of those of the row
        """
        shape = np.shape(self.port_loading_W_per_mm2 + self.primary_aeration)
        if not shape:
            return ()
        if burners is None:
            burners = [(geometry, self.fuel) for geometry in _split(self.geometry, shape)]
        names = [name for name in field_names(BurnerState) if name not in ("geometry", "fuel", "margins")]
        held = [_split(getattr(self, name), shape) for name in names]
        margins = _margins_of_each(self, [fuel for _, fuel in burners])
        return tuple(
            BurnerState(geometry=geometry, fuel=fuel, margins=margin, **dict(zip(names, parts, strict=True)))
            for (geometry, fuel), margin, *parts in zip(burners, margins, *held, strict=True)
        )


def _margins_of_each(row: BurnerState, fuels: Sequence[BurnerFuel]) -> list[Margins]:
    """The margins of each case of a row; fuels : of each."""
    limits = [fuel.yellow_tip.limit for fuel in fuels]
    value, low, high = (
        np.array([np.nan if limit is None else float(getattr(limit, end)) for limit in limits])
        for end in ("value", "low", "high")
    )
    shape, air = (len(fuels),), row.air
    columns = (
        np.broadcast_to(row.lift_margin, shape),
        np.broadcast_to(row.lift_margin_band, (*shape, 2)),
        np.broadcast_to(row.light_back_margin, shape),
        np.broadcast_to(row.light_back_margin_band, (*shape, 2)),
        np.broadcast_to(air.aeration / value, shape),
        np.broadcast_to(_span([air.low / high, air.high / low]), (*shape, 2)),
        np.broadcast_to(row.primary_aeration_band, (*shape, 2)),
    )
    return [Margins(*parts) for parts in zip(*columns, strict=True)]


T = TypeVar("T")


def part_of(thing: T, place: int, shape: tuple[int, ...]) -> T:
    """What stands at a place of the first axis in every array of a dataclass.

    shape : of the arrays; one of fewer places is spread to it

    >>> float(part_of(JetFlow(heat_input_gross_W=np.array([1e3, 2e3])), 1, (2,)).heat_input_gross_W)
    2000.0
    """

    def part(entry: Any) -> Any:
        if isinstance(entry, np.ndarray):
            return (entry if entry.shape == shape else np.broadcast_to(entry, shape))[place]
        return part_of(entry, place, shape) if field_names(type(entry)) else entry

    kind: Any = type(thing)
    made: T = kind(**{name: part(getattr(thing, name)) for name in field_names(kind)})
    return made


def _split(thing: Any, shape: tuple[int, ...]) -> Sequence[Any]:
    """An array, or every array of a dataclass, case by case; what holds no array is shared."""
    if isinstance(thing, np.ndarray):
        return list(thing if thing.shape == shape else np.broadcast_to(thing, shape))
    kind: Any = type(thing)
    names = field_names(kind)
    if not names:
        return [thing] * shape[0]
    held = [getattr(thing, name) for name in names]
    parts = [_split(part, shape) for part in held]
    if all(each[0] is part for each, part in zip(parts, held, strict=True)):
        return [thing] * shape[0]
    return [kind(**dict(zip(names, each, strict=True))) for each in zip(*parts, strict=True)]


def yellow_tip_margins(fuel: BurnerFuel, air: PrimaryAir) -> tuple[Array, Array]:
    """Primary aeration over the least without yellow tips, its band along the last axis; nan without a limit."""
    limit = fuel.yellow_tip.limit
    if limit is None:
        unknown = air.aeration / np.nan
        return unknown, _span([unknown])
    return air.aeration / limit.value, _span([air.low / limit.high, air.high / limit.low])


def span_where_stated(value: Array, ends: Sequence[Array]) -> Array:
    """Least and most of a margin, along the last axis: of the ends that state a limit; nan where the value has none.

    An end with too little primary air for a premixed flame states none.

    >>> span_where_stated(np.array([3.0, np.nan]), [np.array([2.0, 5.0]), np.array([np.nan, 6.0])])
    array([[ 2.,  2.],
           [nan, nan]])
    """
    each = np.array(ends)
    band = np.stack([np.fmin.reduce(each), np.fmax.reduce(each)], axis=-1)
    return np.where(np.isnan(value)[..., None], np.nan, band)


def _span(ends: list[Array]) -> Array:
    each = np.array(ends)
    return np.stack([np.minimum.reduce(each), np.maximum.reduce(each)], axis=-1)
