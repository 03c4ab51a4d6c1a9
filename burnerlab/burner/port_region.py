"""Which ports, throat and air inlet keep a burner within every limit on every gas, as true as a workshop makes them.

Diameter of the ports, their loading (which gives the count), throat over port area and open inlet over throat area are
sampled; the orifice of each gas follows from the rate. A variant counts where every limit holds on every gas at all
eight corners of its tolerance: which corner is the worst one is not the same for every limit, nor for every variant.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    MixtureTemperatures,
    Surroundings,
)
from burnerlab.burner.checks import PORT_DEPTH, PORT_PITCH, THROAT, Rule, rule_for
from burnerlab.burner.coefficients import Array, Numbers, array
from burnerlab.burner.evaluation import evaluate, jet_flow, light_back_margin
from burnerlab.burner.ports import loading_W_per_mm2
from burnerlab.burner.primary_air import COLD, PrimaryAir, primary_air
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.supply.atmosphere import altitude_at_pressure_m

TABLE = "port_design"
VARIANTS = 2**15
FEWER_VARIANTS = 2**13  # of each relaxation tried
PORT_STEP_m, THROAT_STEP_m, INLET_STEP_m2 = 1e-5, 1e-4, 1e-6  # what a drawing states
LONGER = 1.25  # rows, and the ends of ranges, where longer and wider ones are tried
DEEPER = (1.25, 1.6, 2.0)  # ports
RATE_STEP = 0.2  # of the heat input
SEA_LEVEL_m = 0.5  # below it an altitude is not worth its words
INLETS = np.geomspace(0.3, 3.0, 93)  # open areas tried about that of a design, as ratios
GOOD_SHARE = 0.5  # of the greatest slack: designs shown beside the deepest have at least this
PRESENT, NEAREST, ANY_GAS = "present burner", "nearest to the present burner", ""


def _ends(name: str) -> tuple[float, float]:
    row = tables.figure(TABLE, name)
    return row.low, row.high


def _value(name: str) -> float:
    return tables.figure(TABLE, name).value


@dataclass(frozen=True, slots=True, kw_only=True)
class PortGas:
    """A gas that the burner must burn, with its orifice and what is known of the hot burner."""

    title: str = field(metadata=output("gas"))
    fuel: BurnerFuel
    gauge_pressure_Pa: float = field(metadata=output("pressure", Kind.GAUGE_PRESSURE))
    orifice_diameter_m: float = field(metadata=output("orifice", Kind.DIAMETER))
    orifice_coefficient: float
    drill: str = field(default="", metadata=output("drill"))
    """Mark of the drill that is fitted; "" for the exact bore of the rate."""
    from_aim: float | None = field(
        default=None, metadata=output("heat input from its aim", Kind.FRACTION, is_change=True)
    )
    """Of that orifice at the nominal pressure [-]; None for the exact bore."""
    orifice_count: int = 1
    highest_gauge_pressure_Pa: float | None = None  # lift is judged there; None is the nominal one
    lowest_gauge_pressure_Pa: float | None = None  # light-back is judged there, turned down
    turndown: float = 1.0
    hot_full: MixtureTemperatures = COLD  # mixture of the hot burner at full rate
    hot_low: MixtureTemperatures = COLD  # and just after it is turned down
    hot_ratio: float | None = None  # your own measured ratio of hot to cold air
    air_share: float = 1.0  # hot over cold air for yellow tips, where nothing else of the hot burner is known
    surroundings: Surroundings = field(default_factory=Surroundings)
    own: Path | None = None  # the user's own coefficients

    @property
    @computed_output("altitude", Kind.LENGTH, unit="m")
    def altitude_m(self) -> float:
        """Of the standard atmosphere at the pressure of the air."""
        return float(altitude_at_pressure_m(float(array(self.surroundings.ambient_pressure_Pa))))

    @property
    def is_at_sea_level(self) -> bool:
        return abs(self.altitude_m) < SEA_LEVEL_m


@dataclass(frozen=True, slots=True, kw_only=True)
class PortSpace:
    """What a maker can drill, bore and open; each pair least and greatest, those of table port_design unless given.

    >>> PortSpace(heat_input_gross_W=3660.0).port_diameter_m
    (0.001, 0.0026)
    """

    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    rows: int | None = field(default=2, metadata=output("rows of ports"))
    """None: not known, and the pitch of the ports is not looked at."""
    row_length_m: float | None = field(default=None, metadata=output("length of a row", Kind.LENGTH))
    """None: not known, and the pitch of the ports is not looked at."""
    drills_m: tuple[float, ...] = field(default=(), metadata=output("drills of the ports", Kind.DIAMETER))
    """Diameters to choose from; without them any hundredth of a millimetre."""
    port_diameter_m: tuple[float, float] = field(default_factory=lambda: _ends("port diameter"))
    port_loading_W_per_mm2: tuple[float, float] = field(default_factory=lambda: _ends("port loading"))
    throat_over_ports: tuple[float, float] = field(default_factory=lambda: _ends("throat over port area"))
    inlet_over_throat: tuple[float, float] = field(default_factory=lambda: _ends("inlet over throat area"))
    throat_m: tuple[float, float] = (0.0, np.inf)
    least_pitch: float | None = field(
        default_factory=lambda: _value("pitch over diameter"), metadata=output("least pitch over diameter")
    )
    """That can be drilled; None for ports that are there already, with the pitch of the template."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PortTolerance:
    """How far from its drawing a burner is made, either way; that of table port_design unless given.

    >>> PortTolerance().orifice_area, PortTolerance().port_m
    (0.02, 3e-05)
    """

    orifice_area: float = field(
        default_factory=lambda: _value("orifice area spread"),
        metadata=output("orifice area", Kind.FRACTION),
    )
    port_m: float = field(
        default_factory=lambda: _value("port diameter spread"),
        metadata=output("port diameter", Kind.DIAMETER),
    )
    throat_m: float = field(
        default_factory=lambda: _value("throat diameter spread"),
        metadata=output("throat diameter", Kind.DIAMETER),
    )

    @property
    def corners(self) -> Array:
        """Ratio of the orifice's diameter, change of port and throat [m] at each corner, [8, 3]."""
        signs = np.array(list(product((-1.0, 1.0), repeat=3)))
        return np.stack(
            [
                np.sqrt(1.0 + signs[:, 0] * self.orifice_area),
                signs[:, 1] * self.port_m,
                signs[:, 2] * self.throat_m,
            ],
            axis=-1,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PortVariants:
    """Burners that differ in ports, throat and open air inlet; arrays of one length."""

    port_m: Array
    count: Array
    throat_m: Array
    inlet_m2: Array

    @classmethod
    def of(cls, geometry: BurnerGeometry) -> PortVariants | None:
        """A burner as built, its shutter as it is set; None where it has slots, no throat or no shutter area."""
        if (
            geometry.throat_m is None
            or geometry.shutter_area_m2 is None
            or geometry.slot_length_m is not None
        ):
            return None
        inlet = array(geometry.shutter_area_m2) * geometry.shutter_opening
        figures = (geometry.port_width_m, geometry.port_count, geometry.throat_m, inlet)
        return cls(**dict(zip(FIGURES, (np.atleast_1d(array(one)) for one in figures), strict=True)))

    def __len__(self) -> int:
        return len(self.port_m)

    def part(self, places: NDArray[np.intp] | NDArray[np.bool_]) -> PortVariants:
        """Some of them."""
        return PortVariants(**{name: getattr(self, name)[places] for name in FIGURES})

    @property
    def port_area_m2(self) -> Array:
        return array(np.pi / 4.0 * self.port_m**2 * self.count)

    @property
    def throat_area_m2(self) -> Array:
        return array(np.pi / 4.0 * self.throat_m**2)

    @property
    def logarithms(self) -> Array:
        """Of the four figures, [variant, 4]: equal steps are equal ratios."""
        return array(np.log(np.stack([getattr(self, name) for name in FIGURES], axis=-1)))


FIGURES = tuple(each.name for each in fields(PortVariants))


class Slacks(NamedTuple):
    """Distance of every variant from every limit as a fraction of it; below 0 outside; nan not known."""

    limits: tuple[tuple[str, str], ...]  # gas, limit; no gas where it is one of the drawing alone
    values: Array  # [limit, ...]
    near: Array  # the same from the ends of what is near

    @property
    def least(self) -> Array:
        """Of all limits; not known counts as far outside."""
        return array(np.min(np.where(np.isnan(self.values), -np.inf, self.values), axis=0))

    @property
    def least_near(self) -> Array:
        return array(np.min(np.where(np.isnan(self.near), -np.inf, self.near), axis=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitMiss:
    """How often a limit is missed."""

    gas: str = field(metadata=output("gas"))
    limit: str = field(metadata=output("limit"))
    missed_fraction: float = field(metadata=output("missed by", Kind.FRACTION))
    """Of all variants, at nominal sizes."""
    missed_alone_fraction: float = field(metadata=output("missed alone by", Kind.FRACTION))
    """Of all variants, those that hold every other limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PortDesign:
    """One variant with its slack."""

    label: str = field(metadata=output("design"))
    port_diameter_m: float = field(metadata=output("port diameter", Kind.DIAMETER))
    port_count: int = field(metadata=output("ports"))
    port_pitch_m: float | None = field(metadata=output("pitch in a row", Kind.LENGTH))
    throat_diameter_m: float = field(metadata=output("throat", Kind.DIAMETER))
    inlet_area_m2: float = field(metadata=output("open air inlet", Kind.AREA))
    inlet_low_m2: float | None = field(metadata=output("least open inlet that holds", Kind.AREA))
    inlet_high_m2: float | None = field(metadata=output("largest open inlet that holds", Kind.AREA))
    slack: float | None = field(metadata=output("least slack, nominal sizes", Kind.FRACTION, is_change=True))
    corner_slack: float | None = field(
        metadata=output("least slack, all corners", Kind.FRACTION, is_change=True)
    )
    binding_gas: str = field(metadata=output("gas that binds"))
    binding_limit: str = field(metadata=output("limit that binds"))

    @property
    @computed_output("holds at all corners")
    def holds(self) -> bool:
        return self.corner_slack is not None and self.corner_slack >= 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxation:
    """What is left where one demand is eased."""

    words: str = field(metadata=output("eased"))
    nominal_fraction: float = field(metadata=output("holds at nominal sizes", Kind.FRACTION))
    corners_fraction: float = field(metadata=output("holds at all corners", Kind.FRACTION))


@dataclass(frozen=True, slots=True, kw_only=True)
class PortRegion:
    """The variants that hold every limit on every gas, and what ends their region."""

    template: BurnerGeometry  # what no variant changes
    gases: tuple[PortGas, ...]
    space: PortSpace
    tolerance: PortTolerance
    variants: PortVariants
    slack: Array  # [variant], least of all limits as drawn
    corner_slack: Array  # [variant], over all corners too; nan where it does not hold as drawn
    near_slack: Array  # [variant], the same from the ends of what is near
    limits: tuple[LimitMiss, ...] = field(metadata=output("limits, the one missed most first"))
    designs: tuple[PortDesign, ...] = field(metadata=output("designs"))
    present: PortDesign | None = field(metadata=output("present burner"))
    nearest_miss: PortDesign | None = field(metadata=output("nearest miss"))
    relaxations: tuple[Relaxation, ...] = field(metadata=output("eased demands"))
    not_evaluated: tuple[str, ...] = field(metadata=output("not evaluated"))

    @property
    @computed_output("variants")
    def count(self) -> int:
        return len(self.variants)

    @property
    def holds(self) -> NDArray[np.bool_]:
        """[variant], at all corners."""
        return np.asarray(self.corner_slack >= 0.0)

    @property
    @computed_output("holds at nominal sizes", Kind.FRACTION)
    def nominal_fraction(self) -> float:
        return _share(self.slack >= 0.0)

    @property
    @computed_output("holds at all corners", Kind.FRACTION)
    def corners_fraction(self) -> float:
        return _share(self.holds)

    @property
    @computed_output("clear of near at all corners", Kind.FRACTION)
    def clear_fraction(self) -> float:
        return _share(self.near_slack >= 0.0)


def _share(some: NDArray[np.bool_]) -> float:
    return float(np.mean(some)) if some.size else 0.0


# variants


def port_variants(space: PortSpace, count: int = VARIANTS) -> PortVariants:
    """Variants spread evenly over what the maker can drill, by a Sobol sequence, in the steps of a drawing.

    count : a power of two. Source: the sequence of Sobol, as scipy.stats.qmc has it.

    >>> some = port_variants(PortSpace(heat_input_gross_W=3660.0), 4)
    >>> (1e3 * some.port_m).tolist(), some.count.tolist()
    ([1.0, 1.8, 2.2, 1.4], [932.0, 148.0, 131.0, 196.0])
    """
    u = _sobol(count)

    def between(column: int, ends: tuple[float, float]) -> Array:
        return array(ends[0] + (ends[1] - ends[0]) * u[:, column])

    if space.drills_m:
        drills = np.sort(array(space.drills_m))
        port = drills[np.minimum((u[:, 0] * len(drills)).astype(int), len(drills) - 1)]
    else:
        port = _stepped(between(0, space.port_diameter_m), PORT_STEP_m)
    each_mm2 = np.pi / 4.0 * port**2 * 1e6
    ports = np.maximum(
        np.round(space.heat_input_gross_W / (between(1, space.port_loading_W_per_mm2) * each_mm2)), 1.0
    )
    area = np.pi / 4.0 * port**2 * ports
    throat = _stepped(np.sqrt(4.0 / np.pi * area * between(2, space.throat_over_ports)), THROAT_STEP_m)
    inlet = _stepped(np.pi / 4.0 * throat**2 * between(3, space.inlet_over_throat), INLET_STEP_m2)
    return PortVariants(port_m=port, count=ports, throat_m=throat, inlet_m2=inlet)


def _stepped(values: Array, step: float) -> Array:
    digits = round(-np.log10(step))
    return array(np.round(np.maximum(values, step), digits))


SOBOL_BITS = 30
SOBOL = (((), 0), ((1,), 0), ((1, 3), 1), ((1, 3, 1), 1))
"""First direction numbers of each dimension, and the inner coefficients of its polynomial as bits.

Of Joe and Kuo, Constructing Sobol sequences with better two-dimensional projections, 2008, as ``scipy.stats.qmc`` has
them, whose points the tests compare.
"""


@cache
def _sobol(count: int) -> Array:
    """The sequence of Sobol in the order of Gray, [point, dimension]; ``scipy.stats`` takes a second to import."""
    order = np.arange(count)
    gray = order ^ (order >> 1)
    columns = []
    for first, polynomial in SOBOL:
        x = np.zeros(count, dtype=np.int64)
        for bit, direction in enumerate(_directions(first, polynomial)):
            x ^= np.where(gray >> bit & 1, direction, 0)
        columns.append(x / 2.0**SOBOL_BITS)
    return array(np.stack(columns, axis=1))


def _directions(first: Sequence[int], polynomial: int) -> list[int]:
    degree = len(first)
    made = [number << (SOBOL_BITS - 1 - place) for place, number in enumerate(first)]
    for place in range(degree, SOBOL_BITS):
        if not degree:
            made.append(1 << (SOBOL_BITS - 1 - place))
            continue
        value = made[place - degree] ^ (made[place - degree] >> degree)
        for back in range(1, degree):
            if polynomial >> (degree - 1 - back) & 1:
                value ^= made[place - back]
        made.append(value)
    return made


# slack of variants against every limit


def geometries(
    template: BurnerGeometry, variants: PortVariants, space: PortSpace, corners: Array | None = None
) -> BurnerGeometry:
    """The burners of variants, [variant]; with corners [corner, variant], the pitch as drawn.

    Pitch and rows are those of the template where the space has no least pitch, as of the burner as built.
    """
    pitch: Numbers | None = None
    rows: Numbers | None = space.rows
    if space.least_pitch is None:
        pitch, rows = template.port_pitch_m, template.port_rows
    elif space.rows is not None and space.row_length_m is not None:
        pitch = space.row_length_m / np.ceil(variants.count / space.rows)
    port, throat = variants.port_m, variants.throat_m
    if corners is not None:
        port, throat = port + corners[:, 1:2], throat + corners[:, 2:3]
    return replace(
        template,
        port_width_m=port,
        port_count=variants.count,
        port_pitch_m=pitch,
        port_rows=rows,
        throat_m=throat,
        shutter_area_m2=variants.inlet_m2,
        shutter_opening=1.0,
    )


def _distance(value: Array, low: float | None, high: float | None) -> Array:
    """From the nearer end, as a fraction of it; below 0 outside."""
    ends = [] if low is None else [value / low - 1.0]
    ends += [] if high is None else [1.0 - value / high]
    return np.minimum.reduce(ends) if ends else np.full(np.shape(value), np.inf)


class _Value(NamedTuple):
    """A figure with the rule it is held against."""

    gas: str
    limit: str
    rule: Rule
    value: Array


def _slacks(values: Sequence[_Value], shape: tuple[int, ...]) -> Slacks:
    """Of a limit that several figures are held against, as of the drawing on gases of several groups, the least."""
    known: dict[tuple[str, str], tuple[Array, Array]] = {}
    for one in values:
        ends = (
            _distance(one.value, one.rule.low, one.rule.high),
            _distance(one.value, one.rule.near_low, one.rule.near_high),
        )
        slack, near = known.get((one.gas, one.limit), ends)
        known[one.gas, one.limit] = np.minimum(slack, ends[0]), np.minimum(near, ends[1])
    if not known:
        return Slacks((), np.full((1, *shape), np.inf), np.full((1, *shape), np.inf))
    slack, near = (np.stack([np.broadcast_to(each[k], shape) for each in known.values()]) for k in range(2))
    return Slacks(tuple(known), slack, np.minimum(slack, near))


def _drawing_values(
    geometry: BurnerGeometry, gas: PortGas, space: PortSpace, own: Path | None
) -> Iterator[_Value]:
    """What follows from the drawing and the orifice alone, without air or flame; geometry : with the gas's orifice."""
    group, port = gas.fuel.group, array(geometry.port_width_m)
    cold = EvaluationOptions(temperatures=COLD, band=False, own=gas.own)
    heat = jet_flow(geometry, gas.fuel, gas.gauge_pressure_Pa, gas.surroundings, cold)
    loading = loading_W_per_mm2(heat.heat_input_gross_W, geometry.port_area_m2)
    values = [
        ("port loading", loading),
        ("port diameter", 1e3 * port),
        (THROAT, geometry.throat_area_m2 / geometry.port_area_m2),
    ]
    if geometry.port_depth_m is not None:
        values.append((PORT_DEPTH, array(geometry.port_depth_m) / port))
    for limit, value in values:
        rule = rule_for(limit, group, own)
        if rule is not None:
            yield _Value(ANY_GAS if rule.group == "any" else gas.title, limit, rule, value)
    if geometry.port_pitch_m is not None:
        near = rule_for(PORT_PITCH, group, own)
        pitch = Rule(
            name=PORT_PITCH, group="any", low=space.least_pitch, high=None,
            near_low=None if near is None else near.near_low, near_high=None, unit="-", source="burner-judgement",
            provenance="common practice",
        )  # fmt: skip
        yield _Value(ANY_GAS, PORT_PITCH, pitch, array(geometry.port_pitch_m) / port)
    if space.throat_m != (0.0, np.inf):
        bore = replace(_THROAT_BORE, low=space.throat_m[0] or None, high=space.throat_m[1])
        yield _Value(ANY_GAS, bore.name, bore, np.sqrt(4.0 / np.pi * geometry.throat_area_m2))


_THROAT_BORE = Rule(
    name="throat diameter", group="any", low=None, high=None, near_low=None, near_high=None, unit="m",
    source="burner-judgement", provenance="common practice",
)  # fmt: skip
"""Its ends are what the maker can bore."""


def _with_orifice(geometry: BurnerGeometry, gas: PortGas, ratio: Numbers = 1.0) -> BurnerGeometry:
    return replace(
        geometry,
        orifice_diameter_m=gas.orifice_diameter_m * array(ratio),
        orifice_count=gas.orifice_count,
        orifice_coefficient=gas.orifice_coefficient,
    )


def _flame_values(geometry: BurnerGeometry, gas: PortGas, own: Path | None) -> Iterator[_Value]:
    """Primary air; lift cold at the highest pressure; light-back hot, turned down, at the lowest; yellow tips hot."""
    fuel, place, group = gas.fuel, gas.surroundings, gas.fuel.group
    cold = EvaluationOptions(temperatures=COLD, band=False, own=gas.own)
    hot = replace(cold, hot_ratio=gas.hot_ratio)
    highest = gas.highest_gauge_pressure_Pa or gas.gauge_pressure_Pa
    lowest = gas.lowest_gauge_pressure_Pa or gas.gauge_pressure_Pa
    most = evaluate(geometry, fuel, highest, place, cold)
    low = replace(hot, load=gas.turndown, temperatures=gas.hot_low)
    flow = jet_flow(geometry, fuel, lowest, place, low)
    least = primary_air(geometry, fuel, flow, place, low)

    def air(options: EvaluationOptions) -> PrimaryAir:
        usual_flow = jet_flow(geometry, fuel, gas.gauge_pressure_Pa, place, options)
        return primary_air(geometry, fuel, usual_flow, place, options)

    usual = most.air if highest == gas.gauge_pressure_Pa else air(cold)
    values = [("primary aeration", "primary aeration", usual.aeration)]
    if fuel.burning is not None:
        values.append(("lift", "lift margin", most.lift_margin_where_it_binds))
        back = light_back_margin(geometry, fuel, flow, least, place, low)
        values.append(("light-back", "light-back margin", back.value))
    if fuel.yellow_tip.limit is not None:
        full = air(replace(hot, temperatures=gas.hot_full)).aeration
        scarcest = np.minimum(full, least.aeration) * gas.air_share
        values.append(("yellow tipping", "yellow-tip margin", scarcest / fuel.yellow_tip.limit.value))
    for limit, name, value in values:
        rule = rule_for(name, group, own)
        if rule is not None:
            yield _Value(gas.title, limit, rule, value)


def limit_slacks(
    geometry: BurnerGeometry,
    gases: Sequence[PortGas],
    space: PortSpace,
    own_rules: Path | None = None,
    orifice_ratio: Numbers = 1.0,
) -> Slacks:
    """Slack of burners against every limit on every gas: distance from the limit over the limit [-].

    geometry : arrays of any one shape; orifice_ratio : diameter of every orifice over that of its rate [-]
    Limits count with their nominal value: slack is the distance from the limit of the rule, not from lift.
    """
    values: list[_Value] = []
    for gas in gases:
        fed = _with_orifice(geometry, gas, orifice_ratio)
        values += [*_drawing_values(fed, gas, space, own_rules), *_flame_values(fed, gas, own_rules)]
    return _slacks(values, np.shape(array(geometry.port_width_m)))


def _not_evaluated(gases: Sequence[PortGas], space: PortSpace, template: BurnerGeometry) -> Iterator[str]:
    for why, titles in _titles_by((one.fuel.no_burning, one) for one in gases if one.fuel.burning is None):
        yield f"{titles}: lift and light-back, {why}"
    without_tips = [one for one in gases if one.fuel.yellow_tip.limit is None]
    for why, titles in _titles_by((one.fuel.yellow_tip.why_not, one) for one in without_tips):
        yield f"{titles}: yellow tipping, {why}"
    if titles := _titles(
        gas for gas in gases if gas.highest_gauge_pressure_Pa is None or gas.lowest_gauge_pressure_Pa is None
    ):
        yield f"{titles}: lift and light-back off the nominal pressure, highest and lowest are not given"
    if titles := _titles(gas for gas in gases if gas.turndown == 1.0):
        yield f"{titles}: light-back turned down, no turndown is given"
    if titles := _titles(gas for gas in gases if gas.hot_low is COLD):
        yield f"{titles}: light-back on hot metal, the temperature of hot ports is not known"
    if space.rows is None:
        yield "pitch of the ports: their rows are not given"
    elif space.row_length_m is None:
        yield "pitch of the ports: the length of their rows is not given"
    elif template.throat_m is not None and template.port_pitch_m is None:
        yield "pitch of the present ports: it is not given"
    if template.port_depth_m is None:
        yield "depth of the ports: it is not given"


def _titles(gases: Iterable[PortGas]) -> str:
    return ", ".join(gas.title for gas in gases)


def _titles_by(reasons: Iterable[tuple[str, PortGas]]) -> Iterator[tuple[str, str]]:
    """Each reason with the gases it holds for."""
    found: dict[str, list[PortGas]] = {}
    for why, gas in reasons:
        found.setdefault(why, []).append(gas)
    for why, gases in found.items():
        yield why, _titles(gases)


# the region


def port_region(
    template: BurnerGeometry,
    gases: Sequence[PortGas],
    space: PortSpace,
    tolerance: PortTolerance | None = None,
    *,
    variants: PortVariants | None = None,
    own_rules: Path | None = None,
) -> PortRegion:
    """Ports, throat and open air inlet with which every limit holds on every gas at all corners of the tolerance.

    template : what no variant changes (depth of the ports, losses); with throat and shutter it is the present burner
    variants : in place of those of ``port_variants``
    Limits are those of the rules of ports and air (table port_limits): port loading, diameter and depth, throat,
    primary air; lift cold at the highest pressure; light-back turned down at the lowest, yellow tips, both hot; and the
    pitch of the drawing. The limits are recalled or estimated: every design asks for a test of its flame.
    Raises ValueError without a gas. Source: burner-momentum, burner-lewis-von-elbe, burner-reed, as ``evaluate``.

    >>> from burnerlab.burner.evaluation import fuel_with_flame
    >>> from burnerlab.gas import load
    >>> gas = PortGas(title="natural gas", fuel=fuel_with_flame(load("natural-gas-typical")), gauge_pressure_Pa=1740.0,
    ...               orifice_diameter_m=1.4e-3, orifice_coefficient=0.9)
    >>> burner = BurnerGeometry(port_width_m=1.6e-3, port_count=180, port_depth_m=3e-3, orifice_diameter_m=1.4e-3)
    >>> space = PortSpace(heat_input_gross_W=3710.0, row_length_m=0.4)
    >>> found = port_region(burner, [gas], space, variants=port_variants(space, 256))
    >>> found.corners_fraction <= found.nominal_fraction, all(one.holds for one in found.designs)
    (True, True)
    """
    if not gases:
        raise ValueError("needs a gas")
    some = port_variants(space) if variants is None else variants
    case = _Case(template, tuple(gases), space, tolerance or PortTolerance(), own_rules)
    nominal = case.slacks(some)
    slack = nominal.least
    corner, near = _at_corners(case, some, slack)
    present, as_built = PortVariants.of(template), case._replace(space=replace(space, least_pitch=None))
    miss = None
    if len(some) and not np.any(corner >= 0.0):
        miss = _designs(case, some, [(_nearest_miss(nominal, corner), "nearest miss")])[0]
    return PortRegion(
        template=template,
        gases=case.gases,
        space=space,
        tolerance=case.tolerance,
        variants=some,
        slack=slack,
        corner_slack=corner,
        near_slack=near,
        limits=tuple(sorted(_limit_shares(nominal), key=lambda limit: -limit.missed_fraction)),
        designs=_designs(case, some, list(_labels(some, corner, present))),
        present=None if present is None else _designs(as_built, present, [(0, PRESENT)])[0],
        nearest_miss=miss,
        relaxations=() if miss is None or variants is not None else tuple(_relaxations(case)),
        not_evaluated=tuple(_not_evaluated(case.gases, space, template)),
    )


class _Case(NamedTuple):
    template: BurnerGeometry
    gases: tuple[PortGas, ...]
    space: PortSpace
    tolerance: PortTolerance
    own_rules: Path | None

    def slacks(self, variants: PortVariants) -> Slacks:
        """As drawn, [limit, variant]."""
        made = geometries(self.template, variants, self.space)
        return limit_slacks(made, self.gases, self.space, self.own_rules)

    def corner_slacks(self, variants: PortVariants) -> Slacks:
        """[limit, corner, variant]."""
        corners = self.tolerance.corners
        made = geometries(self.template, variants, self.space, corners)
        return limit_slacks(made, self.gases, self.space, self.own_rules, corners[:, :1])


def _limit_shares(slacks: Slacks) -> Iterator[LimitMiss]:
    outside = ~(slacks.values >= 0.0)
    missed = outside.sum(axis=0)
    for (gas, limit), beyond in zip(slacks.limits, outside, strict=False):  # none where no rule has an end
        alone = _share(beyond & (missed == 1))
        yield LimitMiss(gas=gas, limit=limit, missed_fraction=_share(beyond), missed_alone_fraction=alone)


def _at_corners(case: _Case, variants: PortVariants, slack: Array) -> tuple[Array, Array]:
    """Least slack over all corners of the variants that hold as drawn, from the limits and from what is near."""
    holds = np.flatnonzero(slack >= 0.0)
    corner, near = np.full(len(variants), np.nan), np.full(len(variants), np.nan)
    at = case.corner_slacks(variants.part(holds))
    corner[holds] = np.minimum(np.min(at.least, axis=0), slack[holds])
    near[holds] = np.min(at.least_near, axis=0)
    return corner, near


# designs to show


def _labels(variants: PortVariants, corner: Array, present: PortVariants | None) -> Iterator[tuple[int, str]]:
    """The nearest to the present burner, the deepest, and those at the ends of what has a good part of its slack."""
    holding = np.flatnonzero(corner >= 0.0)
    if not holding.size:
        return
    if present is not None:
        yield _nearest(variants, holding, present), NEAREST
    deepest = int(holding[np.argmax(corner[holding])])
    yield deepest, "most slack"
    good = holding[corner[holding] >= GOOD_SHARE * corner[deepest]]
    for words, figure in (
        ("fewest ports", variants.count),
        ("smallest ports", variants.port_m),
        ("largest ports", -variants.port_m),
        ("smallest throat", variants.throat_m),
    ):
        yield int(good[np.argmin(figure[good])]), words


def _nearest(variants: PortVariants, places: NDArray[np.intp], to: PortVariants) -> int:
    """The variant whose four figures are nearest, by the squares of the logarithms of their ratios."""
    away = np.sum((variants.logarithms[places] - to.logarithms) ** 2, axis=1)
    return int(places[np.argmin(away)])


def _nearest_miss(nominal: Slacks, corner: Array) -> int:
    """Where none holds at all corners: the greatest slack there, else as drawn, else of the limits that are known."""
    known = np.min(np.where(np.isnan(nominal.values), np.inf, nominal.values), axis=0)
    for slack in (corner, nominal.least):
        if np.any(np.isfinite(slack)):
            return int(np.argmax(np.where(np.isfinite(slack), slack, -np.inf)))
    return int(np.argmax(known))


def _designs(
    case: _Case, variants: PortVariants, labels: Sequence[tuple[int, str]]
) -> tuple[PortDesign, ...]:
    """Variants by their places, each once, with the labels it has; all in one call."""
    words: dict[int, list[str]] = {}
    for place, label in labels:
        words.setdefault(place, []).append(label)
    some = variants.part(np.array(list(words), dtype=np.intp))
    nominal, corners, inlets = case.slacks(some), case.corner_slacks(some), _inlets(case, some)
    pitch = geometries(case.template, some, case.space).port_pitch_m
    pitches = None if pitch is None else np.broadcast_to(array(pitch), len(some))
    least = np.minimum(nominal.least, np.min(corners.least, axis=0))
    worst = np.where(nominal.least < 0.0, nominal.values, np.min(corners.values, axis=1))
    binding = [nominal.limits[k] for k in np.argmin(np.nan_to_num(worst, nan=-np.inf), axis=0)]
    return tuple(
        PortDesign(
            label=", ".join(label),
            port_diameter_m=float(some.port_m[k]),
            port_count=int(some.count[k]),
            port_pitch_m=None if pitches is None else float(pitches[k]),
            throat_diameter_m=float(some.throat_m[k]),
            inlet_area_m2=float(some.inlet_m2[k]),
            inlet_low_m2=inlets[k][0],
            inlet_high_m2=inlets[k][1],
            slack=_finite(float(nominal.least[k])),
            corner_slack=_finite(float(least[k])),
            binding_gas=binding[k][0],
            binding_limit=binding[k][1],
        )
        for k, label in enumerate(words.values())
    )


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _inlets(case: _Case, some: PortVariants) -> list[tuple[float | None, float | None]]:
    """The open air inlets about that of each design at which it holds at all corners without a gap."""
    areas = some.inlet_m2[:, None] * INLETS
    tried = PortVariants(
        **{name: np.repeat(getattr(some, name), INLETS.size) for name in FIGURES if name != "inlet_m2"},
        inlet_m2=areas.ravel(),
    )
    holds = np.min(case.corner_slacks(tried).least, axis=0).reshape(areas.shape) >= 0.0
    own, stretches = int(np.argmin(np.abs(np.log(INLETS)))), list[tuple[float | None, float | None]]()
    for area, held in zip(areas, holds, strict=True):
        outside = np.flatnonzero(~held)
        first, last = outside[outside <= own], outside[outside >= own]
        if first.size and first[-1] == own:
            stretches.append((None, None))
            continue
        ends = first[-1] + 1 if first.size else 0, last[0] - 1 if last.size else INLETS.size - 1
        stretches.append((float(area[ends[0]]), float(area[ends[1]])))
    return stretches


# what opens an empty region


def _relaxations(case: _Case) -> Iterator[Relaxation]:
    """What a maker can ease, each alone, with what then holds; of the drawing also all of it together."""
    for words, each in (*_eased_drawing(case), *_eased_use(case)):
        variants = port_variants(each.space, FEWER_VARIANTS)
        slack = each.slacks(variants).least
        corner, _ = _at_corners(each, variants, slack)
        yield Relaxation(
            words=words, nominal_fraction=_share(slack >= 0.0), corners_fraction=_share(corner >= 0.0)
        )


def _eased_drawing(case: _Case) -> Iterator[tuple[str, _Case]]:
    """Rows, depth, diameters, number of ports, throat, air inlet and tolerance."""
    space = case.space
    if space.row_length_m is not None and space.rows is not None:
        more = replace(space, rows=space.rows + 1)
        longer = replace(space, row_length_m=space.row_length_m * LONGER)
        both = replace(more, row_length_m=longer.row_length_m)
        yield f"{more.rows} rows of ports", case._replace(space=more)
        yield f"rows {LONGER:g} times as long", case._replace(space=longer)
        yield f"{more.rows} rows, {LONGER:g} times as long", case._replace(space=both)
    else:
        both = space
    deepest = case.template
    if case.template.port_depth_m is not None:
        for ratio in DEEPER:
            deepest = replace(case.template, port_depth_m=array(case.template.port_depth_m) * ratio)
            yield f"ports {ratio:g} times as deep", case._replace(template=deepest)
    if space.drills_m:
        any_drill = replace(space, drills_m=(), port_diameter_m=_ends("port diameter"))
        yield "ports of any diameter, not of the drills named alone", case._replace(space=any_drill)
    wide = replace(
        space,
        drills_m=(),
        port_diameter_m=_widened(space.port_diameter_m),
        port_loading_W_per_mm2=_widened(space.port_loading_W_per_mm2),
        throat_over_ports=_widened(space.throat_over_ports),
        inlet_over_throat=_widened(space.inlet_over_throat),
        throat_m=(0.0, np.inf),
    )
    if not space.drills_m:
        yield "smaller and larger ports", _with_space(case, port_diameter_m=wide.port_diameter_m)
    yield "fewer and more ports", _with_space(case, port_loading_W_per_mm2=wide.port_loading_W_per_mm2)
    throats = _with_space(case, throat_over_ports=wide.throat_over_ports, throat_m=wide.throat_m)
    yield "narrower and wider throats", throats
    yield "smaller and larger air inlets", _with_space(case, inlet_over_throat=wide.inlet_over_throat)
    closer = PortTolerance(
        **{one.name: getattr(case.tolerance, one.name) / 2.0 for one in fields(PortTolerance)}
    )
    yield "half the tolerance", case._replace(tolerance=closer)
    every = replace(wide, rows=both.rows, row_length_m=both.row_length_m)
    yield "all of these together", case._replace(template=deepest, space=every, tolerance=closer)


def _eased_use(case: _Case) -> Iterator[tuple[str, _Case]]:
    """Heat input, turndown, and one gas fewer."""
    gases = case.gases
    for word, ratio in (("lower", 1.0 - RATE_STEP), ("higher", 1.0 + RATE_STEP)):
        fed = tuple(replace(one, orifice_diameter_m=one.orifice_diameter_m * ratio**0.5) for one in gases)
        rated = replace(case.space, heat_input_gross_W=case.space.heat_input_gross_W * ratio)
        yield f"heat input {100 * RATE_STEP:g} % {word}", case._replace(space=rated, gases=fed)
    if any(gas.turndown < 1.0 for gas in gases):
        shallower = tuple(replace(gas, turndown=min(1.0, 2.0 * gas.turndown)) for gas in gases)
        yield "turned down half as far", case._replace(gases=shallower)
    if len(gases) > 1:
        for gas in gases:
            yield f"without {gas.title}", case._replace(gases=tuple(one for one in gases if one is not gas))


def _with_space(case: _Case, **changes: Any) -> _Case:
    return case._replace(space=replace(case.space, **changes))


def _widened(ends: tuple[float, float]) -> tuple[float, float]:
    """A range with its ends further out by the factor of ``LONGER``."""
    return ends[0] / LONGER, ends[1] * LONGER
