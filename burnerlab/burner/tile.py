"""A ceramic tile burner: heat balance and radiation of its face.

A square metre of face takes from the flame what the mixture brought and the burned gas does not carry away, and gives
it off as radiation and loss. The gas cannot leave cooler than the face: that is the ceiling, and it always holds.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.burner.tile_flame import (
    HOTTEST_K,
    SEA_LEVEL_Pa,
    TileMixture,
    burned_enthalpies,
    burned_enthalpy_J_per_kg,
    burned_gas,
    flux_ends,
    mixture_enthalpy_J_per_kg,
)
from burnerlab.quantity import Basis, Kind, Quantities, Quantity, take_SI
from burnerlab.quantity.inputs import input_row
from burnerlab.supply.root_search import rising_root, rising_root_by_slope
from burnerlab.tables import Figure, figure
from burnerlab.tables.problem import Problem, UserError

# Radiation of a tile's face to what stands before it: a grey target and the surroundings.

FloatArray = NDArray[np.float64]

STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m2 K4)] SI 2019, from exact constants


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """What the tile sees: a grey target behind which lie black surroundings; numbers or arrays.

    The target may be a pot, a grate or a lid; a view factor of 0 is a tile that stands free.
    """

    surroundings_K: ArrayLike = 293.15
    view_factor: ArrayLike = 0.0  # share of the face's radiation that meets the target [-]
    target_emissivity: ArrayLike = 0.8
    target_K: ArrayLike = 420.0
    target_area_ratio: ArrayLike = 1.0  # side of the target that faces the tile over the face [-]

    def __post_init__(self) -> None:
        problems = [
            Problem(
                "outside its range", f"{np.min(value):g} to {np.max(value):g}", key=key, accepted=accepted
            )
            for key, value, inside, accepted in (
                ("view factor", self.view_factor, _between(self.view_factor, 0.0, 1.0), "0 to 1"),
                (
                    "target emissivity",
                    self.target_emissivity,
                    _between(self.target_emissivity, 1e-3, 1.0),
                    "0.001 to 1",
                ),
                ("target temperature", self.target_K, _between(self.target_K, 1.0, 1500.0), "up to 1500 K"),
                (
                    "surroundings",
                    self.surroundings_K,
                    _between(self.surroundings_K, 1.0, 1500.0),
                    "up to 1500 K",
                ),
            )
            if not inside
        ]
        if not np.all(np.asarray(self.target_area_ratio) >= np.asarray(self.view_factor)):
            what = "the target would see more of the tile than there is: F A of both sides are equal"
            accepted = "at least the view factor"
            problems.append(Problem(what, key="target area over tile area", accepted=accepted))
        if problems:
            raise UserError(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class Radiated:
    """Net radiation by area of the tile's face [W/m2]: what the face loses, what the target takes of it."""

    from_face: FloatArray
    to_target: FloatArray


def _between(value: ArrayLike, low: float, high: float) -> bool:
    found = np.asarray(value, dtype=float)
    return bool(np.all((found >= low) & (found <= high)))


def apparent_emissivity(emissivity: ArrayLike, area_factor: ArrayLike) -> FloatArray:
    """Emissivity of a face with pits or ribs, seen from outside: 1/(1 + (1/e - 1)/f) [-].

    emissivity : of the material [-]; area_factor : developed over plain area [-], 1 or more.
    Range: hollows of one temperature, diffuse. Source: two grey surfaces, the opening taken as black.

    >>> float(apparent_emissivity(0.75, 2.0))
    0.857
    """
    e, f = np.asarray(emissivity, dtype=float), np.asarray(area_factor, dtype=float)
    return np.asarray(1.0 / (1.0 + (1.0 / e - 1.0) / f))


def radiated_W_per_m2(face_K: ArrayLike, emissivity: ArrayLike, before: Before) -> Radiated:
    """Net radiation of a grey face to a grey target and black surroundings, by radiosity [W/m2 of face].

    J1 = e1 E1 + (1 - e1)(F J2 + (1 - F) Es), J2 = e2 E2 + (1 - e2)(F/a J1 + (1 - F/a) Es), E = sigma T^4;
    q1 = J1 - F J2 - (1 - F) Es; F view factor, a target area over face area.
    face_K : [K]; emissivity : apparent, of the face [-]. Range: plane or convex face and target.

    >>> alone = Before(surroundings_K=298.0)
    >>> float(radiated_W_per_m2(1000.0, 0.9, alone).from_face) / 1e3
    50.63
    """
    T, e1 = np.asarray(face_K, dtype=float), np.asarray(emissivity, dtype=float)
    F12, e2 = np.asarray(before.view_factor, dtype=float), np.asarray(before.target_emissivity, dtype=float)
    area = np.asarray(before.target_area_ratio, dtype=float)
    F21, r1, r2 = F12 / area, 1.0 - e1, 1.0 - e2
    E1, E2, Es = (
        STEFAN_BOLTZMANN * np.asarray(t, dtype=float) ** 4
        for t in (T, before.target_K, before.surroundings_K)
    )
    own_2 = e2 * E2 + r2 * (1.0 - F21) * Es
    J1 = (e1 * E1 + r1 * ((1.0 - F12) * Es + F12 * own_2)) / (1.0 - r1 * r2 * F12 * F21)
    J2 = own_2 + r2 * F21 * J1
    arriving = F21 * J1 + (1.0 - F21) * Es
    return Radiated(
        from_face=np.asarray(J1 - F12 * J2 - (1.0 - F12) * Es), to_target=np.asarray(area * (arriving - J2))
    )


def _exchange_factor(emissivity: ArrayLike, before: Before) -> FloatArray:
    """Change of what a face loses per change of its own black emission [-]."""
    e1 = np.asarray(emissivity, dtype=float)
    view, r2 = np.asarray(before.view_factor, dtype=float), 1.0 - np.asarray(before.target_emissivity)
    back = r2 * view * view / np.asarray(before.target_area_ratio, dtype=float)
    return np.asarray(e1 * (1.0 - back) / (1.0 - (1.0 - e1) * back))


# Ceramic-tile radiant burner: temperature of its face and what it radiates, from a balance of heat.

PLENUM_K = 293.15  # mixture before the tile unless the caller says otherwise
TILE_TABLE = "tile_properties"
ZERO_C_K = 273.15  # definition of the Celsius scale
BURNED_HEAT_CAPACITY = 1350.0  # [J/(kg K)], for the slope of the search alone: the balance has enthalpies
LIKELY_FACE_K = 1000.0  # where the search begins


@dataclass(frozen=True, slots=True, kw_only=True)
class TileBurner:
    """A tile burner; what is left out takes the usual figure with its spread from table ``tile_properties``.

    >>> TileBurner(area_m2="150 cm2", thickness_m="13 mm").area_m2
    0.015
    """

    area_m2: float = field(metadata={"kind": Kind.AREA})  # plain area of the glowing face
    emissivity: float | None = None  # of the material
    area_factor: float | None = None  # developed over plain area of the face
    recovery: float | None = None  # share of the gap between burned gas and face that is won back
    loss_W_per_m2K: float | None = None  # of face, edge and frame to the surroundings, by area of the face
    channel_diameter_m: float | None = field(default=None, metadata={"kind": Kind.DIAMETER})
    thickness_m: float | None = field(default=None, metadata={"kind": Kind.LENGTH})
    conductivity_W_per_mK: float | None = None
    open_share: float | None = None  # of the face that is channel; None leaves the radiation in them out

    if TYPE_CHECKING:

        def __init__(
            self,
            *,
            area_m2: Quantity,
            emissivity: float | None = ...,
            area_factor: float | None = ...,
            recovery: float | None = ...,
            loss_W_per_m2K: float | None = ...,
            channel_diameter_m: Quantity | None = ...,
            thickness_m: Quantity | None = ...,
            conductivity_W_per_mK: float | None = ...,
            open_share: float | None = ...,
        ) -> None: ...

    def __post_init__(self) -> None:
        take_SI(self)
        values = {
            "tile area": ("tile_area", self.area_m2),
            "emissivity": ("tile_emissivity", self.emissivity),
            "area factor": ("area_factor", self.area_factor),
            "recovery": ("recovery", self.recovery),
            "loss coefficient": ("loss_coefficient", self.loss_W_per_m2K),
            "channel diameter": ("tile_channel", self.channel_diameter_m),
            "thickness": ("tile_thickness", self.thickness_m),
            "conductivity": ("tile_conductivity", self.conductivity_W_per_mK),
            "open share": ("share", self.open_share),
        }
        problems = [
            problem
            for key, (name, value) in values.items()
            for problem in input_row(name).problems(value, key)
        ]
        if problems:
            raise UserError(problems)

    def figure(self, name: str, own: Path | None = None) -> Figure:
        """A figure of this tile with its spread: as given, without a spread, else from the table."""
        given = {
            "emissivity": self.emissivity,
            "area factor": self.area_factor,
            "recovery": self.recovery,
            "loss coefficient": self.loss_W_per_m2K,
            "channel thickness": None if self.thickness_m is None else 1e3 * self.thickness_m,
            "conductivity": self.conductivity_W_per_mK,
        }.get(name)
        if given is None:
            return figure(TILE_TABLE, name, own)
        return Figure(name=name, value=given, low=given, high=given, source="as entered")


@dataclass(frozen=True, slots=True, kw_only=True)
class Firing:
    """How a tile is fired; numbers or arrays, which broadcast together.

    aeration : air over stoichiometric air, all of it before the flame [-]; aeration_low, aeration_high : ends of its
    band, which the face's band then holds, None where it is known
    mixture_K : before the tile [K]; pressure_Pa : of the surroundings, absolute [Pa]
    Raises UserError for a text that is no such quantity.

    >>> Firing(aeration=1.1, mixture_K="20 C").mixture_K
    293.15
    """

    aeration: ArrayLike
    mixture_K: ArrayLike = field(default=PLENUM_K, metadata={"kind": Kind.TEMPERATURE})
    pressure_Pa: ArrayLike = field(default=SEA_LEVEL_Pa, metadata={"kind": Kind.ABSOLUTE_PRESSURE})
    aeration_low: float | None = None
    aeration_high: float | None = None

    if TYPE_CHECKING:

        def __init__(
            self,
            *,
            aeration: ArrayLike,
            mixture_K: Quantities = ...,
            pressure_Pa: Quantities = ...,
            aeration_low: float | None = ...,
            aeration_high: float | None = ...,
        ) -> None: ...

    def __post_init__(self) -> None:
        take_SI(self, arrays=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """What the balance asks of a face; numbers or arrays."""

    emissivity: ArrayLike  # seen from outside
    recovery: ArrayLike = 0.0
    loss_W_per_m2K: ArrayLike = 0.0
    gas_offset_K: ArrayLike = 0.0  # on the burned gas of the table, its uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Heat balance of a face by its area; arrays, nan where no flame heats it."""

    face_K: FloatArray
    gas_out_K: FloatArray
    burned_gas_K: FloatArray
    radiated_W_per_m2: FloatArray
    to_target_W_per_m2: FloatArray
    loss_W_per_m2: FloatArray
    at_ceiling: NDArray[np.bool_]  # the gas leaves as hot as the face
    lifted: NDArray[np.bool_]  # the mixture comes faster than it burns: the face is not heated

    def at(self, place: int) -> Balance:
        """One of a row of faces."""
        return Balance(**{f.name: getattr(self, f.name)[place] for f in fields(self)})


def pot(**entries: float) -> Before:
    """What a tile sees: as given; a target without a temperature has that of a pot of boiling water from the table."""
    usual = figure(TILE_TABLE, "target temperature").value + ZERO_C_K
    return Before(**({"target_K": usual} | entries))


def face_balance(
    mixed: TileMixture,
    mass_flux_kg_per_m2s: ArrayLike,
    burned_gas_K: ArrayLike,
    face: Face,
    before: Before,
    mixture_K: ArrayLike = PLENUM_K,
    start_K: ArrayLike = LIKELY_FACE_K,
) -> Balance:
    """Temperature of a tile's face: m [h_mix(T0) - h(Tg)] = q_rad(Ts) + U (Ts - Ta), Tg = max(Tb - x (Tb - Ts), Ts).

    mixed : gas with air; mass_flux_kg_per_m2s : m [kg/(m2 s)]; burned_gas_K : Tb, of the flame on a plane face [K];
    face : apparent emissivity, recovery x, loss U; before : what it sees; mixture_K : T0 [K];
    start_K : where the search begins [K].
    nan where the flame gives no heat or the burned gas is unknown. Source: balance of enthalpy; tile-flat-flame.
    """
    T0, m, Tb = (np.asarray(v, dtype=float) for v in (mixture_K, mass_flux_kg_per_m2s, burned_gas_K))
    Tb = Tb + face.gas_offset_K
    Ta, x = np.asarray(before.surroundings_K, dtype=float), np.asarray(face.recovery, dtype=float)
    brought, burned = mixture_enthalpy_J_per_kg(mixed, T0), burned_enthalpies(mixed)
    U, e = np.asarray(face.loss_W_per_m2K, dtype=float), np.asarray(face.emissivity, dtype=float)

    # what the face radiates rises evenly with its own black emission
    own_W_per_m2K4 = _exchange_factor(e, before) * STEFAN_BOLTZMANN
    received = -radiated_W_per_m2(0.0, e, before).from_face

    def gas_out(T: FloatArray) -> FloatArray:
        return np.maximum(Tb - x * (Tb - T), T)

    def surplus(T: FloatArray) -> FloatArray:
        square = T * T
        given = own_W_per_m2K4 * (square * square) - received + U * (T - Ta)
        return np.asarray((given - m * (brought - burned(gas_out(T)))) / 1e5)

    low = np.asarray(np.minimum(T0, Ta))
    known = np.isfinite(Tb)
    Tb = np.where(known, Tb, 1500.0)
    carried = m * BURNED_HEAT_CAPACITY

    def slope(T: FloatArray) -> FloatArray:
        with_gas = carried * np.where(Tb - x * (Tb - T) > T, x, 1.0)
        return np.asarray((4.0 * own_W_per_m2K4 * (T * T * T) + U + with_gas) / 1e5)

    root = rising_root_by_slope(surplus, slope, low, HOTTEST_K, start_K, tolerance=3e-11)
    ends = root.value.shape
    lifted = known & (brought <= burned(Tb))
    T = np.where(known & ~lifted & ~root.at_low, root.value, np.nan)
    radiated = radiated_W_per_m2(T, e, before)
    return Balance(
        face_K=T,
        gas_out_K=np.asarray(gas_out(T)),
        burned_gas_K=np.broadcast_to(np.where(known, Tb, np.nan), ends),
        radiated_W_per_m2=radiated.from_face,
        to_target_W_per_m2=np.broadcast_to(radiated.to_target, ends),
        loss_W_per_m2=np.asarray(U * (T - Ta)),
        at_ceiling=np.asarray(T >= gas_out(T)),
        lifted=np.broadcast_to(lifted, ends),
    )


def ceiling(
    mixed: TileMixture,
    mass_flux_kg_per_m2s: ArrayLike,
    emissivity: ArrayLike,
    before: Before,
    *,
    gap_K: ArrayLike = 0.0,
    mixture_K: ArrayLike = PLENUM_K,
) -> Balance:
    """The hottest face a mass flux can keep: the gas leaves no cooler than the face, nothing is lost.

    gap_K : by how much the gas is taken to leave hotter than the face [K]; 0 is the ceiling itself.
    The rest as ``face_balance``. Source: balance of enthalpy.

    >>> from burnerlab.gas import mix
    >>> from burnerlab.burner.tile_flame import mixture
    >>> lean = mixture(mix({"methane": 1.0}, per="mole"), 1 / 0.9)
    >>> float(ceiling(lean, 0.0604, 0.9, Before(surroundings_K=298.15), mixture_K=298.15).face_K) - 273.15
    873.8
    """
    m, gap = np.asarray(mass_flux_kg_per_m2s, dtype=float), np.asarray(gap_K, dtype=float)
    brought, burned = mixture_enthalpy_J_per_kg(mixed, mixture_K), burned_enthalpies(mixed)

    own_W_per_m2K4 = _exchange_factor(emissivity, before) * STEFAN_BOLTZMANN
    received = -radiated_W_per_m2(0.0, emissivity, before).from_face

    def surplus(T: FloatArray) -> FloatArray:
        square = T * T
        given = own_W_per_m2K4 * (square * square) - received
        return np.asarray((given - m * (brought - burned(T + gap))) / 1e5)

    low = np.minimum(np.asarray(mixture_K, dtype=float), before.surroundings_K)
    shape = surplus(np.asarray(low)).shape
    high = HOTTEST_K - np.broadcast_to(gap, shape)
    T = rising_root(surplus, np.broadcast_to(low, shape), high, tolerance=1e-9).value
    radiated = radiated_W_per_m2(T, emissivity, before)
    return Balance(
        face_K=T,
        gas_out_K=T + gap,
        burned_gas_K=T + gap,
        radiated_W_per_m2=radiated.from_face,
        to_target_W_per_m2=np.broadcast_to(radiated.to_target, shape),
        loss_W_per_m2=np.zeros(shape),
        at_ceiling=np.broadcast_to(gap <= 0.0, shape),
        lifted=np.zeros(shape, dtype=bool),
    )


def effective_conductivity(
    conductivity: ArrayLike, open_share: ArrayLike, channel_m: ArrayLike, face_K: ArrayLike
) -> FloatArray:
    """Conductivity of a tile along its channels with the radiation in them: k + open 4 sigma T^3 d [W/(m K)].

    conductivity : k, of the tile with its channels [W/(m K)]; open_share : of the face that is channel [-];
    channel_m : d, diameter of a channel [m]; face_K : T, of the face, where the radiation counts [K].
    Range: channels some diameters long. Source: radiation between neighbouring sections of a black channel.

    >>> float(effective_conductivity(0.5, 0.3, 1.3e-3, 1000.0))
    0.588
    """
    T, share = np.asarray(face_K, dtype=float), np.asarray(open_share, dtype=float)
    return np.asarray(conductivity + share * 4.0 * STEFAN_BOLTZMANN * T**3 * channel_m)


def efficiency_bound(
    gas: Any, mixed: TileMixture, face_K: ArrayLike, mixture_K: ArrayLike = 298.15
) -> FloatArray:
    """Largest radiant efficiency of a face at a temperature, net: [h_mix(T0) - h(Ts)]/(gas share x net value) [-].

    Source: balance of enthalpy, the gas leaves no cooler than the face.

    >>> from burnerlab.gas import mix
    >>> from burnerlab.burner.tile_flame import mixture
    >>> methane = mix({"methane": 1.0}, per="mole")
    >>> float(efficiency_bound(methane, mixture(methane, 1 / 0.9), 1000.0))
    0.66
    """
    given = mixture_enthalpy_J_per_kg(mixed, mixture_K) - burned_enthalpy_J_per_kg(mixed, face_K)
    return np.asarray(given / (mixed.gas_mass_share * gas.heating_value_J_per_kg("net")))


def mass_flux_kg_per_m2s(
    gas: Any, mixed: TileMixture, firing_density_W_per_m2: ArrayLike, basis: Basis = "net"
) -> FloatArray:
    """Mass flux of mixture of a firing density: q/(gas share x heating value) [kg/(m2 s)].

    firing_density_W_per_m2 : by plain area of the face, on the basis given [W/m2].
    """
    heat = mixed.gas_mass_share * gas.heating_value_J_per_kg(basis)
    return np.asarray(np.asarray(firing_density_W_per_m2, dtype=float) / heat)


def free_burning_mass_flux(
    gas: Any, mixed: TileMixture, firing: Firing, own: Path | None = None
) -> FloatArray:
    """Mass flux at which the flame gives the face no heat any more and leaves it [kg/(m2 s)].

    h(Tb(m)) = h_mix(T0); nan where the table ends before. Over the density of the mixture it is a burning velocity.
    """
    brought, enthalpy = mixture_enthalpy_J_per_kg(mixed, firing.mixture_K), burned_enthalpies(mixed)

    def gap(log_flux: FloatArray) -> FloatArray:
        burned = burned_gas(gas, mixed.aeration, np.exp(log_flux), firing.pressure_Pa, own).temperature_K
        return np.asarray((enthalpy(burned) - brought) / 1e6)

    low, high = flux_ends(firing.pressure_Pa, own)
    found = rising_root(gap, np.log(low), np.log(high), tolerance=1e-9)
    return np.where(found.at_low | found.at_high, np.nan, np.exp(found.value))


def corner_faces(tile: TileBurner, own: Path | None = None) -> tuple[Face, Face]:
    """The face as expected, and every corner of the spread of its coefficients with the expected one last [17]."""
    e, f = tile.figure("emissivity", own), tile.figure("area factor", own)
    x, U = tile.figure("recovery", own), tile.figure("loss coefficient", own)
    gas = figure(TILE_TABLE, "burned gas error", own)
    middle = float(apparent_emissivity(e.value, f.value)), x.value, U.value, 0.0
    dark, bright = apparent_emissivity(e.low, f.low), apparent_emissivity(e.high, f.high)
    spans = ((float(dark), float(bright)), (x.low, x.high), (U.low, U.high), (gas.low, gas.high))
    grid = np.meshgrid(*spans, indexing="ij")
    return _face(*middle), _face(*(np.append(axis, one) for axis, one in zip(grid, middle, strict=True)))


def _face(emissivity: ArrayLike, recovery: ArrayLike, loss: ArrayLike, offset: ArrayLike) -> Face:
    return Face(emissivity=emissivity, recovery=recovery, loss_W_per_m2K=loss, gas_offset_K=offset)
