"""Air of a hot tile: the mixture warms along the channels, thickens, speeds up, and the burner draws less of it.

Gas and ceramic have one temperature, conduction against the flow:

    T(x) = T_0 + (T_s - T_0) exp(-(L - x)/l),    l = k_eff/(m'' c_p),    k_eff = k + open 4 sigma T_s^3 d

with m'' the mass flux by the area of the face. It goes into the resistance of the channels, whose head at the entry is
T(0)/T_0 times the cold one, and so into the balance of momentum; the face's own temperature follows from the air.
All three are solved together, because the face, the length l and the resistance are found again for every air tried.
The plenum and the mixing tube count as cold: a plenum that warms takes more air.

For the band each coefficient, those of the burner and those of the tile, is moved alone to the end that gives less, or
more, air; the changes are added in quadrature.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    Fuel,
    FuelOfCases,
    GasCases,
    Surroundings,
)
from burnerlab.burner.coefficients import Array, Numbers, array, coefficients
from burnerlab.burner.port_resistance import (
    LEAST_REYNOLDS,
    NEVER_ZERO,
    VISCOSITY_EXPONENT,
    ChannelTemperature,
    PortDrop,
    PortStream,
    channel_temperature,
    port_resistances,
)
from burnerlab.burner.primary_air import (
    CAUSES,
    COLD,
    ENDS,
    FAINT,
    MOST_TOGETHER,
    NEAR_OF_BAND,
    NO_MOVE,
    NO_RESISTANCE,
    OPPOSITE,
    BurnerSystem,
    Entrainment,
    JetFlow,
    Move,
    PrimaryAir,
    burner_system,
    entrainment,
    moved_system,
)
from burnerlab.burner.tile import (
    LIKELY_FACE_K,
    Before,
    Face,
    TileBurner,
    apparent_emissivity,
    effective_conductivity,
    face_balance,
)
from burnerlab.burner.tile_flame import (
    burned_gas,
    flame_table,
    mixture,
    mixture_enthalpy_J_per_kg,
    reaches,
)
from burnerlab.gas import Gas
from burnerlab.tables import End, Figure, figure

NO_CHANNELS = "the discharge of its ports as a whole does not say how channels resist once they are hot"
NO_FLAME = "its firing density lies outside the table of tile flames"
ORIGIN = "momentum balance with hot channels"
TABLE = "tile_properties"
FREE = Before()  # the face of a tile of a burner stands free
FIRST_AERATION = 1.1  # where the search begins

LESS_AIR: dict[str, End] = {
    "conductivity": "high",
    "emissivity": "low",
    "area factor": "low",
    "recovery": "high",
    "loss coefficient": "low",
    "burned gas error": "high",
    "channel thickness": "high",
}
"""What the band of a hot tile comes from beside that of the cold burner, and at which end it draws less air."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HotTile:
    """A tile as its channels see it; floats or arrays."""

    area_m2: Numbers  # of the face
    face: Face
    conductivity_W_per_mK: Numbers
    before: Before
    face_K: Numbers | None = None  # measured; None follows from the balance of the face


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelState:
    """A tile at an air per gas; arrays over the cases."""

    face_K: Array  # the plenum's where the flame has left the face
    decay_length_m: Array
    channel: ChannelTemperature
    is_known: NDArray[np.bool_]  # the table of flames reaches this mass flux


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelStream(PortStream):
    """The channels of a tile and the gas that flows to them: hotter towards the face, with the face it makes."""

    depth_over_diameter: Numbers
    tile_gas: Gas | GasCases
    stoichiometric_air: Numbers
    tile: HotTile
    open_share: Numbers
    plenum_K: Numbers
    ambient_pressure_Pa: Numbers

    def at(self, air_per_gas: Numbers, near_K: Numbers = LIKELY_FACE_K) -> ChannelState:
        """Face and channels with so much air. Beyond the table of flames the face of its leanest or richest counts.

        air_per_gas : r [m3/m3]; near_K : a temperature that the face may be near to [K]
        """
        r, T0 = array(air_per_gas), array(self.plenum_K)
        flux, ratios = self._flux(r), flame_table().equivalence_ratios
        drawn = r / self.stoichiometric_air
        aeration = np.minimum(np.maximum(drawn, 1.0 / ratios[-1]), 1.0 / ratios[0])
        mixed = mixture(self.tile_gas, aeration)
        is_known = np.ones(r.shape, dtype=bool)
        if self.tile.face_K is None:
            burned = burned_gas(self.tile_gas, aeration, flux, self.ambient_pressure_Pa)
            balance = face_balance(
                mixed, flux, burned.temperature_K, self.tile.face, self.tile.before, T0, near_K
            )
            is_known = burned.inside
            face = np.where(np.isfinite(balance.face_K), np.maximum(balance.face_K, T0), T0)
        else:
            face = array(self.tile.face_K) + 0.0 * r
        rise = np.maximum(face - T0, 1.0)
        gained = mixture_enthalpy_J_per_kg(mixed, T0 + rise) - mixture_enthalpy_J_per_kg(mixed, T0)
        channel_m = self.hydraulic_diameter_m
        conductivity = effective_conductivity(
            self.tile.conductivity_W_per_mK, self.open_share, channel_m, face
        )
        decay = conductivity / (flux * gained / rise)
        depth = array(self.depth_over_diameter) * channel_m
        return ChannelState(
            face_K=face,
            decay_length_m=decay,
            channel=channel_temperature(T0, face, depth, decay),
            is_known=np.asarray(is_known),
        )

    def _flux(self, air_per_gas: Array) -> Array:
        """Mass flux of the mixture by the area of the face [kg/(m2 s)]."""
        return array(self.gas_flux_kg_per_m2s) * (1.0 + air_per_gas / self.relative_density) * self.open_share

    def is_known(self, air_per_gas: Array) -> NDArray[np.bool_]:
        """Whether the table of flames reaches the mass flux of so much air."""
        return reaches(self._flux(air_per_gas), self.ambient_pressure_Pa)

    def drops(self) -> Callable[[Array], PortDrop]:
        """The drop of pressure in the hot channels for any air, its resistance on the head of the cold mixture."""
        flow, tube_friction, outer_Pa = self._flow(), self._tube_friction(), array(self.outer_pressure_Pa)
        near_K: Numbers = LIKELY_FACE_K

        def drop(r: Array) -> PortDrop:
            nonlocal near_K
            state, (cold_reynolds, head_Pa) = self.at(r, near_K), flow(r)
            near_K = state.face_K  # with little more or less air the face is little hotter or colder
            warm = state.channel.entry_K / self.plenum_K
            thicker = warm**VISCOSITY_EXPONENT
            reynolds = np.maximum(cold_reynolds / thicker, LEAST_REYNOLDS)
            law = port_resistances(
                self.depth_over_diameter, self.slot, state.channel.heating, self.losses, self.own
            )
            model = law(reynolds)
            cold = model.total * warm
            return PortDrop(
                reynolds=reynolds,
                resistance=np.maximum(cold + outer_Pa / np.maximum(head_Pa, NEVER_ZERO), 0.0),
                pressure_Pa=cold * head_Pa,
                tube_friction=tube_friction(reynolds * thicker),
                is_evaluated=model.is_evaluated & state.is_known,
            )

        return drop


def channel_stream(
    ports: PortStream,
    geometry: BurnerGeometry,
    fuel: Fuel,
    place: Surroundings,
    tile: HotTile,
    depth_m: Numbers,
) -> ChannelStream:
    """The ports of a cold burner as the channels of a hot tile.

    ports : cold, of the same geometry; depth_m : of the channels [m]
    """
    kept = {part.name: getattr(ports, part.name) for part in fields(PortStream)}
    return ChannelStream(
        **kept | {"depth_over_diameter": array(depth_m) / ports.hydraulic_diameter_m},
        tile_gas=_gas_of(fuel),
        stoichiometric_air=fuel.stoichiometric_air,
        tile=tile,
        open_share=geometry.port_area_m2 / tile.area_m2,
        plenum_K=place.air_temperature_K,
        ambient_pressure_Pa=place.ambient_pressure_Pa,
    )


def _gas_of(fuel: Fuel) -> Gas | GasCases:
    """What the flame on a tile takes as its gas."""
    if isinstance(fuel, FuelOfCases):
        return fuel.cases
    assert isinstance(fuel, BurnerFuel)
    return fuel.gas


@dataclass(frozen=True, slots=True, kw_only=True)
class TileAir:
    """The air a hot tile draws and what it is then; arrays over the cases."""

    air: PrimaryAir
    ports: ChannelStream
    air_per_gas: Array  # also where the air is withheld

    @property
    def state(self) -> ChannelState:
        """The tile at this air."""
        return self.ports.at(self.air_per_gas)


def tile_air(
    geometry: BurnerGeometry,
    fuel: Fuel,
    flow: JetFlow,
    place: Surroundings,
    options: EvaluationOptions,
    tile: TileBurner,
    own: Path | None = None,
) -> TileAir:
    """Primary aeration of a tile burner with its tile hot, by the balance of momentum and of the face's heat.

    fuel : of one gas, or of cases of several; flow : heat input and the momentum of its jet; tile : its face stands
    free; own : CSV of the columns of ``tile_properties``. nan where the Reynolds number of a channel lies outside its
    range, or the table of flames ends; ``air.why_not`` tells.
    Below the least air of that table (77 %) the face is held at the table's end.
    Raises UserError for a gas the table of flames does not hold.
    Source: burner-momentum, burner-developing-flow, tile-flat-flame.
    """
    figures = _Spread(tile=tile, depth_m=geometry.port_depth_m, own=own)
    usual, depth_m = figures.hot_tile(lambda name: figures.at(name, "value"))
    cold = burner_system(geometry, fuel, flow, place, replace(options, temperatures=COLD, hot_ratio=None))
    ports = channel_stream(cold.ports, geometry, fuel, place, usual, depth_m)
    system = replace(cold, ports=ports)
    start = array(FIRST_AERATION * fuel.stoichiometric_air)
    if options.band:
        result, low, high = _with_band(system, ports, start, _Moves(geometry, options, figures))
    else:
        result = entrainment(system, start)
        low = high = result.air_per_gas
    air = result.air_per_gas
    reason, reasons = _reason(result, ports.is_known(air), geometry, options)

    def aeration(r: Array) -> Array:
        return np.where(reason == 0, r, np.nan) / fuel.stoichiometric_air

    return TileAir(
        air=PrimaryAir(
            aeration=aeration(air),
            low=aeration(low),
            high=aeration(high),
            origin=ORIGIN,
            reason=reason,
            reasons=reasons,
        ),
        ports=ports,
        air_per_gas=air,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spread:
    """The figures of a tile with their spread: as given, else of the table."""

    tile: TileBurner
    depth_m: Numbers | None  # of the burner's ports, which is that of the channels
    own: Path | None

    def at(self, name: str, end: End) -> float:
        """A figure at its value, or at the end of its spread that gives less air (low) or more (high)."""
        if name == "burned gas error":
            return 0.0 if end == "value" else _at(figure(TABLE, name, self.own), _side(name, end))
        return _at(self.tile.figure(name, self.own), _side(name, end))

    def hot_tile(self, at: Callable[[str], Numbers]) -> tuple[HotTile, Numbers]:
        """The tile with its figures by their names, and the depth of its channels [m]."""
        face = Face(
            emissivity=apparent_emissivity(at("emissivity"), at("area factor")),
            recovery=at("recovery"),
            loss_W_per_m2K=at("loss coefficient"),
            gas_offset_K=at("burned gas error"),
        )
        tile = HotTile(
            area_m2=self.tile.area_m2, face=face, conductivity_W_per_mK=at("conductivity"), before=FREE
        )
        return tile, at("channel thickness") / 1e3 if self.depth_m is None else self.depth_m


def _side(name: str, end: End) -> End:
    """The end of a figure that gives less air for low, more for high."""
    return end if end == "value" or LESS_AIR[name] == "low" else OPPOSITE[end]


def _at(known: Figure, end: End) -> float:
    return float({"low": known.low, "value": known.value, "high": known.high}[end])


@dataclass(frozen=True, slots=True)
class _Moves:
    """What the causes of the band are taken from."""

    geometry: BurnerGeometry
    options: EvaluationOptions
    figures: _Spread

    def moved(
        self, system: BurnerSystem, ports: ChannelStream, moves: Sequence[Move], axes: int
    ) -> BurnerSystem:
        """The burner with each move by itself along a new first axis before those of the cases; one move has none."""
        moved = moved_system(system, moves, self.geometry, self.options, axes)
        figures, shape = self.figures, (-1, *(1,) * axes) if len(moves) > 1 or axes else ()

        def ends(name: str) -> Array:
            usual = figures.at(name, "value")
            each = [figures.at(name, move.side) if move.cause == name else usual for move in moves]
            return np.array(each).reshape(shape)

        tile, depth_m = figures.hot_tile(ends)
        return replace(
            moved,
            ports=replace(
                ports,
                losses=moved.ports.losses,
                outer_pressure_Pa=moved.ports.outer_pressure_Pa,
                depth_over_diameter=array(depth_m) / ports.hydraulic_diameter_m,
                tile=tile,
            ),
        )


def _with_band(
    system: BurnerSystem, ports: ChannelStream, start: Array, moves: _Moves
) -> tuple[Entrainment, Array, Array]:
    """The air per gas with the ends of its band."""
    every = [Move(cause=cause, side=side) for side in ENDS for cause in (*CAUSES, *LESS_AIR)]
    shape = system.shape
    if math.prod(shape) <= MOST_TOGETHER:
        found = entrainment(moves.moved(system, ports, [NO_MOVE, *every], len(shape)), start)
        result, air = found.part(0), found.air_per_gas[0]
        squares = [(moved - air) ** 2 for moved in found.air_per_gas[1:]]
    else:  # many cases are as fast one cause at a time
        result = entrainment(system, start)
        air = result.air_per_gas
        near = (
            entrainment(moves.moved(system, ports, [move], air.ndim), air[None], NEAR_OF_BAND)
            for move in every
        )
        squares = [(one.air_per_gas[0] - air) ** 2 for one in near]
    low, high = (
        np.sqrt(
            sum((s for move, s in zip(every, squares, strict=True) if move.side == side), np.zeros(air.shape))
        )
        for side in ENDS
    )
    return result, np.maximum(air - low, 0.0), air + high


def _reason(
    result: Entrainment,
    is_known: NDArray[np.bool_],
    geometry: BurnerGeometry,
    options: EvaluationOptions,
) -> tuple[NDArray[np.int_], tuple[str, ...]]:
    """Why no air is told, case by case, and the words of it."""
    table = coefficients(options.own)
    ends, least = table["port Reynolds"], table["outer pressure"].value
    is_faint = ~(result.drop.pressure_Pa >= least)
    found = np.where(~is_known, 1, np.where(~result.drop.is_evaluated, 2, np.where(is_faint, 3, 0)))
    found = np.full_like(found, 4) if geometry.port_discharge is not None else found
    words = (
        "",
        NO_FLAME,
        NO_RESISTANCE.format(low=ends.low, high=ends.high),
        FAINT.format(least=least),
        NO_CHANNELS,
    )
    return np.asarray(found), words
