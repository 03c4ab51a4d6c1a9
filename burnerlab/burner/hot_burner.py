"""A burner that warms up: temperatures of its metal and of the mixture in it, from a cold start to steady.

Two nodes of metal, the head with the ports (h) and the mixing tube (t); the mixture follows them at once:

    m_h c dT_h/dt = phi P - h A_h (T_h - T_g) - eps sB A_h (T_h^4 - T_s^4) - C (T_3 - T_1) - (kA/L)(T_h - T_t)
    m_t c dT_t/dt = (kA/L)(T_h - T_t) - h A_t (T_t - T_a) - eps sB A_t (T_t^4 - T_a^4) - C (T_1 - T_0)

C is the heat capacity flow of the mixture. It enters the tube at T_0, leaves it at T_1, stands at T_2 before the ports
and leaves them at T_3, each from T_1 = T_t - (T_t - T_0) exp(-Nu k (S/D)/C), S the wall and D the width of the way.
The temperatures reach the primary air as ratios of absolute temperatures.

For the band each coefficient, each property of the metal, its wall and the heat of a box round it is moved alone to
both ends of its spread; the changes are added in quadrature.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import numpy as np

from burnerlab.burner.burner import Fuel
from burnerlab.burner.coefficients import Array, Coefficients, Numbers, array, coefficients
from burnerlab.burner.ports import AIR, REFERENCE_K, REFERENCE_Pa, mixed_with_air, transport
from burnerlab.gas.heat_capacity import GAS_CONSTANT
from burnerlab.tables import figure
from burnerlab.tables.field_names import field_names

STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m2 K4)] SI 2019, follows from exact constants
HOT_s = 900.0  # 15 min, when yellow tips and carbon monoxide are looked at; common practice, no source
TIMES_s = (60.0, 300.0, HOT_s)
STEADY = 0.02  # share of a figure's last value within which it counts as steady
FIRST_STEP_s, STEPS = 4.0, 40
MATERIALS, PROPERTIES = "burner_materials", ("density", "specific heat", "conductivity")

SPREAD = (
    "rim heat share",
    "metal convection",
    "metal emissivity",
    "mixture Nusselt number",
    "port Nusselt number",
)
"""Coefficients whose spread makes the band."""

BODY_WALL, BOX_RISE = "body wall", "box rise"
"""Coefficients whose spread is that of a figure of the file."""

T = TypeVar("T", "MixtureWarmth", "HeatBalance", "BurnerBody", "BurnerPlace")


class Metal(NamedTuple):
    """What a burner body is made of; floats or arrays."""

    density_kg_per_m3: Numbers
    specific_heat_J_per_kgK: Numbers
    conductivity_W_per_mK: Numbers

    @classmethod
    def of(cls, material: str) -> Metal:
        """A row of the table of burner materials."""
        density, heat, conductivity = (figure(MATERIALS, f"{material}, {name}").value for name in PROPERTIES)
        return cls(density, heat, conductivity)

    @classmethod
    def ends(cls, material: str) -> Iterator[Metal]:
        """Each property alone at the low, then at the high end of its spread.

        >>> [metal.conductivity_W_per_mK for metal in Metal.ends("steel")]
        [50.0, 50.0, 50.0, 50.0, 40.0, 60.0]
        """
        metal = cls.of(material)
        for part, name in zip(cls._fields, PROPERTIES, strict=True):
            row = figure(MATERIALS, f"{material}, {name}")
            for end in (row.low, row.high):
                yield metal._replace(**{part: end})


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerBody:
    """The metal of a burner and the way of the mixture through it; each field a float or an array."""

    head_heat_capacity_J_per_K: Numbers
    tube_heat_capacity_J_per_K: Numbers
    head_area_m2: Numbers  # outer
    tube_area_m2: Numbers  # outer
    conductance_W_per_K: Numbers  # from head to tube
    # wall over width of the way, pi L for a round one [m]
    tube_way_m: Numbers
    head_way_m: Numbers
    port_way_m: Numbers  # of all ports together


def pipe_body(
    material: str | Metal,
    wall_m: Numbers,
    head: tuple[Numbers, Numbers],
    tube: tuple[Numbers, Numbers],
    port_way_m: Numbers,
    head_mass_kg: Numbers | None = None,
) -> BurnerBody:
    """The body of a burner of pipes: a head that carries the ports and a mixing tube before it.

    material : row of the table of burner materials; wall_m : of head and tube [m]
    head, tube : length along the mixture, outer diameter [m]; of a ring the length of its middle line
    port_way_m : see ``port_way_m``; head_mass_kg : weighed [kg], the pipe's without it

    >>> body = pipe_body("steel", 1e-3, (0.4, 0.025), (0.15, 0.0175), 1.7)
    >>> float(body.head_area_m2) * 1e4, float(body.head_heat_capacity_J_per_K)
    (314.2, 115.3)
    """
    wall = array(wall_m)
    density, heat, conductivity = Metal.of(material) if isinstance(material, str) else material
    (head_m, head_width), (tube_m, tube_width) = head, tube

    def section(width: Numbers) -> Array:
        return np.pi * (array(width) - wall) * wall

    mass = density * section(head_width) * head_m if head_mass_kg is None else array(head_mass_kg)
    return BurnerBody(
        head_heat_capacity_J_per_K=mass * heat,
        tube_heat_capacity_J_per_K=density * section(tube_width) * tube_m * heat,
        head_area_m2=np.pi * array(head_width) * head_m,
        tube_area_m2=np.pi * array(tube_width) * tube_m,
        conductance_W_per_K=conductivity * section(tube_width) / (0.5 * (array(head_m) + tube_m)),
        tube_way_m=np.pi * array(tube_m),
        head_way_m=np.pi * array(head_m),
        port_way_m=port_way_m,
    )


def port_way_m(
    width_m: Numbers, depth_m: Numbers, count: Numbers, slot_length_m: Numbers | None = None
) -> Array:
    """Wall of all ports over their hydraulic diameter: pi L N round, (l + w)^2 L N/(l w) for slots [m].

    >>> float(port_way_m(1.6e-3, 3e-3, 180))
    1.696
    """
    shape = array(np.pi)
    if slot_length_m is not None:
        width, length = array(width_m), array(slot_length_m)
        shape = (length + width) ** 2 / (length * width)
    return array(shape * array(depth_m) * count)


@dataclass(frozen=True, slots=True, kw_only=True)
class MixtureFlow:
    """The primary mixture that flows through a burner; each field a float or an array."""

    heat_capacity_W_per_K: Numbers
    conductivity_W_per_mK: Numbers
    inlet_K: Numbers  # T_0, as it enters the tube


def mixture_flow(
    fuel: Fuel,
    heat_input_gross_W: Numbers,
    aeration: Numbers,
    inlet_K: Numbers,
    mean_K: Numbers | None = None,
    own: Path | None = None,
) -> MixtureFlow:
    """Heat capacity flow and conductivity of a burner's primary mixture.

    mean_K : temperature of both properties [K]; that of the inlet without it. Source: viscosity-wilke, eucken.

    >>> from burnerlab.burner.burner import burner_fuel
    >>> from burnerlab.gas import load
    >>> found = mixture_flow(burner_fuel(load("natural-gas-typical")), 3663.0, 0.53, 293.15)
    >>> float(found.heat_capacity_W_per_K), float(found.conductivity_W_per_mK)
    (0.752, 0.0277)
    """
    mean, r = array(inlet_K if mean_K is None else mean_K), array(aeration) * fuel.stoichiometric_air
    gas, air = fuel.transport(mean, own), transport(*AIR, mean, own)
    flow = mixed_with_air(gas, air, r, mean, REFERENCE_Pa)
    per_mol_of_gas = gas.heat_capacity_J_per_molK + r * air.heat_capacity_J_per_molK
    gas_mol_per_s = array(heat_input_gross_W) / fuel.heating_value_J_per_m3 * REFERENCE_Pa
    gas_mol_per_s = gas_mol_per_s / (GAS_CONSTANT * REFERENCE_K)
    per_m3 = REFERENCE_Pa / (GAS_CONSTANT * mean) * per_mol_of_gas / (1.0 + r)
    return MixtureFlow(
        heat_capacity_W_per_K=gas_mol_per_s * per_mol_of_gas,
        conductivity_W_per_mK=flow.thermal_diffusivity_m2_per_s * per_m3,
        inlet_K=inlet_K,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerPlace:
    """What the metal of a burner loses heat to; each field a float or an array [K]."""

    room_K: Numbers  # air and surfaces round the mixing tube
    gas_K: Numbers  # round the head; the room's where nothing is closed
    surface_K: Numbers  # that the head sees


@dataclass(frozen=True, slots=True, kw_only=True)
class MixtureWarmth:
    """Temperatures of the mixture on its way [K]; arrays over the cases."""

    inlet_K: Array  # T_0
    tube_end_K: Array  # T_1
    before_ports_K: Array  # T_2
    port_exit_K: Array  # T_3

    def throat_ratio(self, air_K: Numbers) -> Array:
        """Mean of the mixing tube over the temperature of the air [-]."""
        return array((self.inlet_K + self.tube_end_K) / 2.0 / air_K)

    def head_ratio(self, air_K: Numbers) -> Array:
        """Before the ports over the temperature of the air [-]."""
        return array(self.before_ports_K / air_K)

    @property
    def port_rise(self) -> Array:
        """Exit of the ports over their entry [-]."""
        return array(self.port_exit_K / self.before_ports_K)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatBalance:
    """Where the heat of a burner's metal comes from and goes; arrays over the cases [W]."""

    from_flame_W: Array
    head_convection_W: Array
    head_radiation_W: Array
    tube_loss_W: Array
    mixture_W: Array  # what the mixture carries back to the flame

    @property
    def rest_W(self) -> Array:
        """What warms the metal further; zero when it is steady."""
        lost = self.head_convection_W + self.head_radiation_W + self.tube_loss_W + self.mixture_W
        return array(self.from_flame_W - lost)


@dataclass(frozen=True, slots=True, kw_only=True)
class HotBurner:
    """A burner from a cold start, its temperatures on a last axis of times; ``cool`` and ``warm`` end the band."""

    time_s: Array
    head_K: Array
    head_cool_K: Array
    head_warm_K: Array
    tube_K: Array
    mixture: MixtureWarmth
    cool: MixtureWarmth
    warm: MixtureWarmth
    steady_head_K: Array  # without the axis of times, as what follows
    steady_tube_K: Array
    steady_mixture: MixtureWarmth
    steady_balance: HeatBalance

    def place_of(self, time_s: float) -> int:
        """Place of a time on the last axis. Raises ValueError for a time that was not computed."""
        found = np.flatnonzero(self.time_s == time_s)
        if not len(found):
            raise ValueError(f"{time_s:g} s was not computed")
        return int(found[0])


@dataclass(frozen=True, slots=True)
class _Metal:
    """The equations of the two nodes for cases in one shape."""

    body: BurnerBody
    place: BurnerPlace
    capacity: Array  # C [W/K]
    inlet_K: Array
    heat_W: Array  # phi P
    convection: Array  # h [W/m2K]
    emissivity: Array
    tube_pass: Array  # exp(-Nu k S/(D C)): what is left of a difference at the end of a way
    head_pass: Array
    port_pass: Array

    def mixture(self, head: Array, tube: Array) -> MixtureWarmth:
        end = tube - (tube - self.inlet_K) * self.tube_pass
        before = head - (head - end) * self.head_pass
        leaves = head - (head - before) * self.port_pass
        return MixtureWarmth(
            inlet_K=np.broadcast_to(self.inlet_K, end.shape),
            tube_end_K=end,
            before_ports_K=before,
            port_exit_K=leaves,
        )

    def balance(self, head: Array, tube: Array) -> HeatBalance:
        body, place, flow = self.body, self.place, self.mixture(head, tube)
        radiant = self.emissivity * STEFAN_BOLTZMANN
        room = array(place.room_K)
        return HeatBalance(
            from_flame_W=np.broadcast_to(self.heat_W, head.shape),
            head_convection_W=self.convection * body.head_area_m2 * (head - place.gas_K),
            head_radiation_W=radiant * body.head_area_m2 * (head**4 - array(place.surface_K) ** 4),
            tube_loss_W=array(body.tube_area_m2)
            * (self.convection * (tube - room) + radiant * (tube**4 - room**4)),
            mixture_W=self.capacity * (flow.port_exit_K - flow.inlet_K),
        )

    def nodes(self) -> _Nodes:
        """What does not change in time."""
        body, place = self.body, self.place
        kept = 1.0 - self.tube_pass
        taken = self.capacity * (1.0 - self.head_pass * self.port_pass)  # C (T_3 - T_1) over T_h - T_1
        conducted, room = array(body.conductance_W_per_K), array(place.room_K)
        head_loss, tube_loss = self.convection * body.head_area_m2, self.convection * body.tube_area_m2
        radiant = self.emissivity * STEFAN_BOLTZMANN
        head_radiant, tube_radiant = radiant * body.head_area_m2, radiant * body.tube_area_m2
        carried = self.capacity * kept
        head_heat = self.heat_W + head_loss * place.gas_K + head_radiant * array(place.surface_K) ** 4
        tube_heat = tube_loss * room + tube_radiant * room**4
        every = np.broadcast_arrays(
            head_heat + taken * self.tube_pass * self.inlet_K,
            tube_heat + carried * self.inlet_K,
            head_loss + taken + conducted,
            tube_loss + carried + conducted,
            conducted + taken * kept,
            conducted,
            head_radiant,
            tube_radiant,
            array(body.head_heat_capacity_J_per_K),
            array(body.tube_heat_capacity_J_per_K),
        )
        return _Nodes(*(np.stack(pair) for pair in zip(every[::2], every[1::2], strict=True)))


class _Nodes(NamedTuple):
    """Both equations sorted by what they multiply: gain = heat - loss T + cross T_other - radiant T^4.

    Head and tube along the first axis, so that one call serves both.
    """

    heat_W: Array
    W_per_K: Array
    cross_W_per_K: Array  # from the other node
    radiant: Array  # [W/K4]
    capacity: Array  # [J/K]

    def gains_and_losses(self, nodes_K: Array) -> tuple[Array, Array]:
        """Heat that each node gains [W], and what it gains less for a kelvin of its own [W/K]."""
        cube = self.radiant * (nodes_K * nodes_K * nodes_K)
        gains = self.heat_W - self.W_per_K * nodes_K + self.cross_W_per_K * nodes_K[::-1] - cube * nodes_K
        return gains, self.W_per_K + 4.0 * cube

    def steady(self, top: Array) -> Array:
        """Temperatures of no further gain: Newton from above, where convex losses keep it from overshooting."""
        nodes, (to_head, to_tube) = np.stack([top, top]), self.cross_W_per_K
        is_done = np.zeros(top.shape, dtype=bool)
        for _ in range(40):
            gain, loss = self.gains_and_losses(nodes)
            whole = loss[0] * loss[1] - to_head * to_tube
            step = (loss[::-1] * gain + self.cross_W_per_K * gain[::-1]) / whole
            nodes = np.where(
                is_done, nodes, nodes + step
            )  # a case ends by itself, whatever cases stand beside it
            is_done = is_done | (np.abs(step[0]) + np.abs(step[1]) < 1e-10 * top)
            if is_done.all():
                break
        return nodes

    def step(self, nodes_K: Array, time_s: float) -> Array:
        """Both nodes a time later, T + dt phi1(dt J) f with phi1(z) = (e^z - 1)/z: exact where nothing radiates."""
        share = time_s / self.capacity
        gain, loss = self.gains_and_losses(nodes_K)
        f, cross, own = share * gain, share * self.cross_W_per_K, -share * loss
        # both eigenvalues are real and negative: head and tube warm one another
        apart = own[0] - own[1]
        middle, half = 0.5 * (own[0] + own[1]), np.sqrt(0.25 * (apart * apart) + cross[0] * cross[1])
        half = np.maximum(half, -1e-6 * middle)  # apart, where nothing is conducted and both are alike
        slow, fast = middle + half, middle - half
        at_slow, at_fast = np.expm1(slow) / slow, np.expm1(fast) / fast
        tilt = (at_slow - at_fast) / (slow - fast)
        later: Array = nodes_K + at_fast * f + tilt * ((own - fast) * f + cross * f[::-1])
        return later


def hot_burner(
    body: BurnerBody,
    flow: MixtureFlow,
    place: BurnerPlace,
    heat_input_W: Numbers,
    times_s: Sequence[float] = TIMES_s,
    own: Path | None = None,
    ends: Sequence[tuple[BurnerBody, BurnerPlace]] = (),
) -> HotBurner:
    """Temperatures of a burner's metal and mixture from a cold start, with the band its coefficients leave.

    heat_input_W : gross, at which it burns all the time [W]; times_s : after lighting, above 0 [s]
    ends : the burner with one figure of its body or its place at the low end of its spread, then at the high one, and
        so on: these move the band as the coefficients do
    The burner starts at the temperature of the room. Range: metal below red heat, laminar or slow flow in tube and
    head; cast bodies by their mass and outer area. Source: burner-hot-model.

    >>> body = pipe_body("steel", 1.1e-3, (0.4, 0.025), (0.15, 0.0175), 1.7)
    >>> flow = MixtureFlow(heat_capacity_W_per_K=0.73, conductivity_W_per_mK=0.027, inlet_K=293.15)
    >>> room = BurnerPlace(room_K=293.15, gas_K=293.15, surface_K=293.15)
    >>> [round(float(T) - 273.15) for T in hot_burner(body, flow, room, 3663.0).head_K]
    [49, 95, 105]
    """
    shape = _shape(body, flow, place, heat_input_W)
    moved = _moved(coefficients(own), len(ends))
    if ends:
        before = moved.shape[1] - len(ends)
        body = _stacked([body] * before + [each for each, _ in ends], shape)
        place = _stacked([place] * before + [each for _, each in ends], shape)
    metal = _of_coefficients(moved, shape, body, flow, place, heat_input_W)
    cold = np.broadcast_to(array(place.room_K), (moved.shape[1], *shape)) + 0.0
    times = np.array(sorted(times_s))
    nodes = metal.nodes()
    head, tube = _from_cold(nodes, cold, times)
    warmth = metal.mixture(head, tube)
    end_head, end_tube = nodes.steady(_top_K(metal, cold))
    head_ends, mixture_ends = _bands(head, warmth)
    return HotBurner(
        time_s=times,
        head_K=_times_last(head[:, 0]),
        head_cool_K=_times_last(head_ends[0]),
        head_warm_K=_times_last(head_ends[1]),
        tube_K=_times_last(tube[:, 0]),
        mixture=_each(lambda part: _times_last(part[:, 0]), warmth),
        cool=_each(lambda part: _times_last(part[0]), mixture_ends),
        warm=_each(lambda part: _times_last(part[1]), mixture_ends),
        steady_head_K=end_head[0],
        steady_tube_K=end_tube[0],
        steady_mixture=_each(lambda part: part[0], metal.mixture(end_head, end_tube)),
        steady_balance=_each(lambda part: part[0], metal.balance(end_head, end_tube)),
    )


def warmed_mixture(
    body: BurnerBody,
    flow: MixtureFlow,
    place: BurnerPlace,
    heat_input_W: Numbers,
    time_s: float = HOT_s,
    own: Path | None = None,
) -> MixtureWarmth:
    """Temperatures of a burner's mixture at a time after a cold start: those of ``hot_burner`` without their band.

    >>> body = pipe_body("steel", 1.1e-3, (0.4, 0.025), (0.15, 0.0175), 1.7)
    >>> flow = MixtureFlow(heat_capacity_W_per_K=0.73, conductivity_W_per_mK=0.027, inlet_K=293.15)
    >>> room = BurnerPlace(room_K=293.15, gas_K=293.15, surface_K=293.15)
    >>> float(warmed_mixture(body, flow, room, 3663.0).port_exit_K) - 273.15
    64.6
    """
    shape = _shape(body, flow, place, heat_input_W)
    metal = _of_coefficients(_moved(coefficients(own), 0)[:, :1], shape, body, flow, place, heat_input_W)
    cold = np.broadcast_to(array(place.room_K), (1, *shape)) + 0.0
    head, tube = _from_cold(metal.nodes(), cold, np.array([time_s]))
    return _each(lambda part: part[0, 0], metal.mixture(head, tube))


def _shape(body: BurnerBody, flow: MixtureFlow, place: BurnerPlace, heat_input_W: Numbers) -> tuple[int, ...]:
    """That of the cases."""
    parts = (getattr(thing, name) for thing in (body, flow, place) for name in thing.__slots__)
    return np.broadcast_shapes(*(np.shape(part) for part in parts), np.shape(heat_input_W))


def _moved(table: Coefficients, more: int) -> Array:
    """Each coefficient of the spread: at its value, then each alone at its low and at its high end; [name, move].

    more : moves of something else at the end, with every coefficient at its value
    """
    moved = np.array([[table[name].value] * (1 + 2 * len(SPREAD) + more) for name in SPREAD])
    for row, name in enumerate(SPREAD):
        moved[row, 1 + 2 * row : 3 + 2 * row] = table[name].low, table[name].high
    return moved


def _of_coefficients(
    moved: Array,
    shape: tuple[int, ...],
    body: BurnerBody,
    flow: MixtureFlow,
    place: BurnerPlace,
    heat_input_W: Numbers,
) -> _Metal:
    """The equations with each move of the coefficients along a new first axis."""
    rim, convection, emissivity, inside, ports = moved.reshape(len(SPREAD), -1, *(1 for _ in shape))
    return _metal(body, flow, place, (rim * heat_input_W, convection, emissivity), (inside, ports))


def _times_last(figure_over_time: Array) -> Array:
    """Times, the first axis of a figure, as its last."""
    return np.moveaxis(figure_over_time, 0, -1)


def _bands(head: Array, warmth: MixtureWarmth) -> tuple[Array, MixtureWarmth]:
    """Ends of the band of the head and of the mixture along a new first axis; [time, move, case]."""
    names = field_names(MixtureWarmth)
    together = np.stack([head, *(getattr(warmth, name) for name in names)])
    ends = np.stack(_band(np.moveaxis(together, 2, 0)), axis=1)  # [figure, end, time, case]
    return ends[0], MixtureWarmth(**dict(zip(names, ends[1:], strict=True)))


def _each(change: Callable[..., Array], *results: T) -> T:
    """Results of one kind as one, each field changed."""
    kind: Any = type(results[0])
    made: T = kind(**{name: change(*(getattr(each, name) for each in results)) for name in field_names(kind)})
    return made


def _stacked(each: Sequence[T], shape: tuple[int, ...]) -> T:
    """Bodies or places of one shape along a new first axis."""

    def stack(*parts: Array) -> Array:
        along = np.empty((len(parts), *shape))
        for place, part in enumerate(parts):
            along[place] = part
        return along

    return _each(stack, *each)


def _band(cases: Array) -> tuple[Array, Array]:
    """Ends of a figure whose first axis holds its value and what it is with each coefficient at an end."""
    value, change = cases[0], cases[1:] - cases[:1]
    pairs = change.reshape(-1, 2, *value.shape)
    lowest, highest = np.minimum(pairs.min(axis=1), 0.0), np.maximum(pairs.max(axis=1), 0.0)
    return value - np.sqrt((lowest**2).sum(axis=0)), value + np.sqrt((highest**2).sum(axis=0))


def _top_K(metal: _Metal, cold: Array) -> Array:
    """Above every steady temperature: the hottest surroundings and all the flame's heat into convection alone."""
    hottest = np.maximum(np.maximum(metal.place.gas_K, metal.place.surface_K), metal.inlet_K)
    return np.maximum(cold, hottest) + metal.heat_W / (metal.convection * metal.body.head_area_m2)


def _from_cold(nodes: _Nodes, cold: Array, times_s: Array) -> tuple[Array, Array]:
    """Head and tube at each time along a first axis, from both as cold as the room."""
    grid = np.geomspace(FIRST_STEP_s, float(times_s[-1]), STEPS) if times_s[-1] > FIRST_STEP_s else times_s
    wanted, both, now, found = set(times_s.tolist()), np.stack([cold, cold]), 0.0, []
    for time in np.union1d(grid, times_s).tolist():
        both = nodes.step(both, time - now)
        now = time
        if time in wanted:
            found.append(both)
    heads, tubes = np.moveaxis(np.stack(found), 1, 0)
    return heads, tubes


def mixture_on_metal(
    body: BurnerBody, flow: MixtureFlow, head_K: Numbers, tube_K: Numbers, own: Path | None = None
) -> MixtureWarmth:
    """The mixture of a burner whose metal stands at given temperatures, as just after it is turned down.

    >>> body = pipe_body("steel", 1.1e-3, (0.4, 0.025), (0.15, 0.0175), 1.7)
    >>> low = MixtureFlow(heat_capacity_W_per_K=0.24, conductivity_W_per_mK=0.027, inlet_K=293.15)
    >>> float(mixture_on_metal(body, low, 377.0, 320.0).port_exit_K) - 273.15
    95.9
    """
    table, nowhere = coefficients(own), np.zeros(())
    inside = array(table["mixture Nusselt number"].value), array(table["port Nusselt number"].value)
    place = BurnerPlace(room_K=flow.inlet_K, gas_K=flow.inlet_K, surface_K=flow.inlet_K)
    return _metal(body, flow, place, (nowhere, nowhere, nowhere), inside).mixture(
        array(head_K), array(tube_K)
    )


def steady_from_s(time_s: Array, figure_over_time: Array, last: Numbers) -> float:
    """When a figure comes within 2 % of its last value and stays there [s]; nan where it does not by the last time.

    time_s : rising; figure_over_time : at those times. Straight between two of them.

    >>> float(steady_from_s(np.array([0.0, 60.0, 120.0]), np.array([1.10, 1.04, 1.0]), 1.0))
    90.0
    """
    off = np.abs(figure_over_time / array(last) - 1.0)
    beyond = np.flatnonzero(off > STEADY)
    if not len(beyond):
        return float(time_s[0])
    place = int(beyond[-1])
    if place + 1 == len(time_s):
        return math.nan
    share = (off[place] - STEADY) / (off[place] - off[place + 1])
    return float(time_s[place] + share * (time_s[place + 1] - time_s[place]))


def _metal(
    body: BurnerBody,
    flow: MixtureFlow,
    place: BurnerPlace,
    outside: tuple[Array, Array, Array],
    inside: tuple[Array, Array],
) -> _Metal:
    """outside : heat from the flame, convection, emissivity; inside : Nusselt numbers of tube and head, of ports."""
    capacity, k = array(flow.heat_capacity_W_per_K), array(flow.conductivity_W_per_mK)
    mixing, ports = inside

    def left(nusselt: Array, way_m: Numbers) -> Array:
        return np.exp(-nusselt * k * array(way_m) / capacity)

    heat, convection, emissivity = outside
    return _Metal(
        body=body,
        place=place,
        capacity=capacity,
        inlet_K=array(flow.inlet_K),
        heat_W=heat,
        convection=convection,
        emissivity=emissivity,
        tube_pass=left(mixing, body.tube_way_m),
        head_pass=left(mixing, body.head_way_m),
        port_pass=left(ports, body.port_way_m),
    )
