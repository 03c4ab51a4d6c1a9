"""A cylinder of liquefied gas under a steady draw: how it cools, and how long it holds.

One temperature for liquid and wetted steel. Heat comes from the air through the wetted wall by one coefficient for
convection and radiation; it goes into evaporation. Left out: the vapour in the head space (a few per cent of
the charge, so that the time is a little short), heat through the dry wall, and sun. The coefficient is computed for
light air and known within a factor of two, so every result is an estimate and comes with a band; ``hold_in_air`` has
the bands of still air, frost and wind by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.gas import Gas
from burnerlab.gas.component import component_table
from burnerlab.gas.summation import combustion_column, gross_J_per_mol, net_J_per_mol
from burnerlab.quantity import Kind, Quantity, take_SI
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.show import number
from burnerlab.quantity.summary import Summary, WithSummary
from burnerlab.quantity.summary import figure as summary_figure
from burnerlab.supply.lpg_vapour import (
    COLDEST_K,
    evaporation_heat_J_per_mol,
    liquid_density_mol_per_m3,
    liquid_heat_capacity_J_per_mol_K,
    liquids,
    vapour_over,
)
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables import Figure, figure, unknown
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

# A cylinder of liquefied gas that supplies a steady heat input: how it cools, and how long its pressure
# lasts.

Array = NDArray[np.float64]

LIQUID_ABOVE_K = 228.15  # a colder one is outside the property tables
FULL_BELOW_K = 323.15  # a warmer cylinder may run full of liquid: withheld
ROUNDING = 1e-9
FILLED_AT_K = 288.15  # the share of liquid in a cylinder is limited at 15 C; a warmer one holds the same mass


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """An upright cylinder: an upright tube with a flat bottom, which is what the liquid wets."""

    name: str = field(metadata=output("cylinder"))
    water_capacity_m3: float = field(metadata=output("water capacity", Kind.VOLUME))
    diameter_m: float = field(metadata=output("diameter", Kind.DIAMETER))
    tare_kg: float = field(metadata=output("empty", Kind.MASS))
    nominal_kg: float | None = field(default=None, metadata=output("nominal filling", Kind.MASS))
    """Gas that a size sold by its mass in kilogrammes is filled with; None for any other."""
    source: str = ""
    provenance: str = field(default="", metadata=output("provenance"))

    def __post_init__(self) -> None:
        take_SI(self)

    @property
    def height_m(self) -> float:
        """Of a tube of this bore and volume [m]."""
        return self.water_capacity_m3 / (math.pi / 4.0 * self.diameter_m**2)

    @property
    def shell_area_m2(self) -> float:
        """Side and both ends [m2]."""
        return math.pi * self.diameter_m * self.height_m + math.pi / 2.0 * self.diameter_m**2


@tables.cache_by_file
def cylinders(own: Path | None = None) -> dict[str, Cylinder]:
    """Cylinders by name, from the table ``cylinders`` or a file with its columns.

    >>> cylinders()["20 lb"].water_capacity_m3
    0.0216
    """
    return {
        row["name"]: Cylinder(
            name=row["name"],
            water_capacity_m3=float(row["water_capacity_L"]) / 1e3,
            diameter_m=float(row["diameter_mm"]) / 1e3,
            tare_kg=float(row["tare_kg"]),
            nominal_kg=float(row["nominal_kg"]) if row["name"].endswith("kg") else None,
            source=row.get("source") or "",
            provenance=row.get("provenance") or "",
        )
        for row in tables.read("cylinders", own)
    }


def cylinder_named(name: str, own: Path | None = None, key: str = "size") -> Cylinder:
    """The cylinder of a name of table ``cylinders``; capitals and blanks do not matter.

    own : CSV of its columns, in its place; key : what a refusal calls the name
    Raises UserError for a name that the table has not, with those it has.

    >>> cylinder_named("20lb").name
    '20 lb'
    """
    for known, found in cylinders(own).items():
        if known.replace(" ", "") == name.lower().replace(" ", ""):
            return found
    raise unknown("a size of the table cylinders", name, list(cylinders(own)), key)


def heat_figure(name: str, own: Path | None = None) -> Figure:
    """One row of the table ``cylinder_heat``.

    >>> heat_figure("heat transfer").unit
    'W/(m2 K)'
    """
    return figure("cylinder_heat", name, own)


def wetted_area_m2(cylinder: Cylinder, liquid_volume_m3: ArrayLike) -> Any:
    """Wall that the liquid touches: A = 4 V/D + pi D^2/4.

    liquid_volume_m3 : [m3]
    Returns [m2], side and bottom.

    >>> float(wetted_area_m2(cylinders()["100 lb"], 0.0864))
    1.04
    """
    d = cylinder.diameter_m
    return 4.0 * np.asarray(liquid_volume_m3) / d + math.pi / 4.0 * d * d


def steady_draw_W(
    heat_transfer_W_per_m2_K: ArrayLike,
    wetted_area_m2: ArrayLike,
    temperature_difference_K: ArrayLike,
    heating_value_J_per_kg: ArrayLike,
    evaporation_heat_J_per_kg: ArrayLike,
) -> Any:
    """Heat input that a cylinder gives without cooling further: Q = U A (T_air - T) H/h.

    heat_transfer_W_per_m2_K : U [W/(m2 K)]; wetted_area_m2 : A [m2]; temperature_difference_K : air less liquid [K]
    heating_value_J_per_kg : H [J/kg]; evaporation_heat_J_per_kg : h [J/kg]
    Returns [W], on the basis of the heating value.

    >>> float(steady_draw_W(10.0, 1.0, 20.0, 50.4e6, 0.4e6))
    25200.0
    """
    heat = np.multiply(heat_transfer_W_per_m2_K, wetted_area_m2) * np.asarray(temperature_difference_K)
    return heat * np.asarray(heating_value_J_per_kg) / np.asarray(evaporation_heat_J_per_kg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """Gas and heat input drawn from a cylinder.

    fill : liquid share of the water capacity [-], of a gas with the composition of the liquid when the draw begins
    air_temperature_K, start_temperature_K : of the air, and of the liquid at the start, None is that of the air [K]
    heat_input_W : of all burners [W], on the basis gross or net; horizon_s : how long it is looked at [s]
    minimum_inlet_Pa : gauge pressure that the regulator needs [Pa], without it that of row "lp single stage"
    Raises UserError for a text that is no such quantity.

    >>> from burnerlab.gas import load
    >>> size, air = cylinder_named("20 lb"), "0 C"
    >>> Draw(gas=load("propane"), cylinder=size, fill=0.8, air_temperature_K=air, heat_input_W="15 kW").heat_input_W
    15000.0
    """

    gas: Gas = field(metadata=output("gas"))
    cylinder: Cylinder = field(metadata=output("cylinder"))
    fill: float = field(metadata=output("filled to", Kind.FRACTION))
    air_temperature_K: float = field(metadata=output("air", Kind.TEMPERATURE))
    heat_input_W: float = field(metadata=output("heat input", Kind.POWER))
    basis: str = field(default="gross", metadata=output("its basis"))
    minimum_inlet_Pa: float = field(
        default=55158.0, metadata=output("regulator needs", Kind.GAUGE_PRESSURE, unit="kPa")
    )
    ambient_pressure_Pa: float = field(
        default=101325.0, metadata=output("ambient pressure", Kind.ABSOLUTE_PRESSURE)
    )
    start_temperature_K: float | None = field(
        default=None, metadata=output("liquid at the start", Kind.TEMPERATURE)
    )
    horizon_s: float = field(default=48 * 3600.0, metadata=output("looked at", Kind.TIME, unit="min"))

    if TYPE_CHECKING:

        def __init__(
            self,
            *,
            gas: Gas,
            cylinder: Cylinder,
            fill: float,
            air_temperature_K: Quantity,
            heat_input_W: Quantity,
            basis: str = ...,
            minimum_inlet_Pa: Quantity = ...,
            ambient_pressure_Pa: Quantity = ...,
            start_temperature_K: Quantity | None = ...,
            horizon_s: Quantity = ...,
        ) -> None: ...

    def __post_init__(self) -> None:
        take_SI(self)

    @property
    def start_K(self) -> float:
        """Temperature of the liquid before the draw [K]."""
        return self.air_temperature_K if self.start_temperature_K is None else self.start_temperature_K

    @property
    def liquid_kg(self) -> float:
        """Liquid before the draw [kg]."""
        return mass_of_fill_kg(self.gas, self.cylinder, self.fill, self.start_K)

    @property
    def _fill_when_filled(self) -> float:
        """Share of the water capacity at the temperature of filling: warmed since, the liquid takes more [-]."""
        start = self.start_K
        if not start <= FULL_BELOW_K or start < FILLED_AT_K:
            return self.fill
        names, x = self.gas.composition.names, np.array(self.gas.composition.fractions)
        warm, filled = (float(liquid_density_mol_per_m3(names, x, t)) for t in (start, FILLED_AT_K))
        return self.fill * warm / filled

    def check(self, own: Path | None = None) -> None:
        """Refuse what cannot be computed; all problems at once."""
        problems = []
        most = heat_figure("largest fill", own)
        if not (0.0 < self.fill <= most.high or 0.0 < self._fill_when_filled <= most.high + ROUNDING):
            entry = f"{100 * self.fill:.4g} %"
            accepted = f"above 0 and at most {100 * most.high:.0f} % of the water capacity"
            fix = f"{100 * most.value:.0f} % is a full cylinder"
            if self.fill > 0.0 and FULL_BELOW_K >= self.start_K >= LIQUID_ABOVE_K:
                kg = mass_of_fill_kg(self.gas, self.cylinder, 1.0, self.start_K)
                entry += f", {kg * self.fill:.3g} kg of {self.gas.name}"
                accepted += f", here {kg * most.high:.3g} kg"
                fix += f", here {kg * most.value:.3g} kg"
            problems.append(Problem("is no fill of a cylinder", entry, "fill", accepted=accepted, fix=fix))
        for key, value in (
            ("air temperature", self.air_temperature_K),
            ("liquid temperature", self.start_K),
        ):
            if not LIQUID_ABOVE_K <= value <= FULL_BELOW_K:
                problems.append(
                    Problem("is outside the range", f"{value - 273.15:.1f} C", key, accepted="-45 to 50 C")
                )
        usual = supply_figure("cylinder rate")
        if not usual.low <= self.heat_input_W <= usual.high:
            accepted = f"{usual.low:g} W to {usual.high / 1e3:g} kW from one cylinder"
            problems.append(
                Problem("is outside the range", f"{self.heat_input_W:g} W", "rate", accepted=accepted)
            )
        if not self.minimum_inlet_Pa >= 0.0:
            problems.append(
                Problem("must be 0 or more", f"{self.minimum_inlet_Pa:g} Pa", "minimum inlet pressure")
            )
        if not self.horizon_s > 0.0:
            problems.append(Problem("must be above 0", f"{self.horizon_s:g} s", "time"))
        if problems:
            raise UserError(problems)


def fill_of_mass(gas: Gas, cylinder: Cylinder, mass_kg: float, temperature_K: float) -> float:
    """Liquid share of the water capacity that a charge takes [-].

    mass_kg : of the liquid [kg]; temperature_K : of the liquid [K]

    >>> from burnerlab.gas import load
    >>> fill_of_mass(load("propane"), cylinders()["20 lb"], 9.07, 288.71)
    0.829
    """
    names, x = gas.composition.names, np.array(gas.composition.fractions)
    mass = float(x @ liquids(tuple(names)).molar_mass_kg_per_mol)
    return (
        mass_kg
        / mass
        / float(liquid_density_mol_per_m3(names, x, temperature_K))
        / cylinder.water_capacity_m3
    )


def mass_of_fill_kg(gas: Gas, cylinder: Cylinder, fill: float, temperature_K: float) -> float:
    """Liquid in a cylinder by its share of the water capacity [kg]; the inverse of `fill_of_mass`.

    >>> from burnerlab.gas import load
    >>> round(mass_of_fill_kg(load("propane"), cylinders()["20 lb"], 0.829, 288.71), 2)
    9.07
    """
    return fill / fill_of_mass(gas, cylinder, 1.0, temperature_K)


def usual_fill(gas: Gas, cylinder: Cylinder, temperature_K: float) -> float:
    """Liquid share of the water capacity of a full cylinder [-].

    temperature_K : of the liquid [K]
    A size in kilogrammes is filled by mass: with its nominal mass at any temperature, or with what takes the largest
    fill at 15 C where that is less, as of propane in a size named after butane. Any other holds the usual fill.

    >>> from burnerlab.gas import load
    >>> [round(usual_fill(load("propane"), cylinders()["11 kg"], t), 2) for t in (273.15, 303.15)]
    [0.77, 0.83]
    """
    most = heat_figure("largest fill")
    if cylinder.nominal_kg is None:
        return most.value
    names, x = gas.composition.names, np.array(gas.composition.fractions)
    cold, warm = (float(liquid_density_mol_per_m3(names, x, t)) for t in (FILLED_AT_K, temperature_K))
    return min(fill_of_mass(gas, cylinder, cylinder.nominal_kg, temperature_K), most.high * cold / warm)


# The draw from a cylinder over time: mass, temperature, pressure and composition until it no longer holds.

PRESSURE, EMPTY, COLD, HORIZON = "pressure", "empty", "cold", "time"
ENDINGS = {
    PRESSURE: "the pressure fell to the least that the regulator needs",
    EMPTY: "the liquid was used up",
    COLD: "the liquid reached the cold end of the property tables",
    HORIZON: "it still held at the end of the time calculated",
}
NEVER_ENOUGH = "the pressure is below the least that the regulator needs from the start"
COMBUSTION_K = 288.15  # of the heating value, as everywhere without another word
SAMPLES = 121
RELATIVE_ERROR, ABSOLUTE_ERROR = 1e-7, 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """The course of a draw; every field has one entry per time."""

    time_s: Array = field(metadata=output("time", Kind.TIME, unit="min"))
    gauge_pressure_Pa: Array = field(metadata=output("pressure", Kind.GAUGE_PRESSURE, unit="kPa"))
    temperature_K: Array = field(metadata=output("temperature", Kind.TEMPERATURE))
    liquid_mass_kg: Array = field(metadata=output("liquid", Kind.MASS))
    liquid_level: Array = field(metadata=output("level", Kind.FRACTION))
    """Share of the water capacity [-]."""
    liquid_fractions: Array  # mole [time, component]


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Withdrawal(WithSummary):
    """How a cylinder answered a draw."""

    draw: Draw
    names: tuple[str, ...]
    heat_transfer_W_per_m2_K: float = field(metadata=output("heat from the air", unit="W/(m2 K)"))
    hold_time_s: float = field(metadata=output("holds", Kind.TIME, unit="min"))
    """Until the pressure, the liquid or the time looked at ended."""
    ending: str = field(metadata=output("ended by"))
    """One of ENDINGS."""
    series: Series = field(metadata=output("course"))

    @property
    @computed_output("then")
    def ending_words(self) -> str:
        """The ending as a sentence."""
        has_held = self.ending != PRESSURE or self.hold_time_s > 0.0
        return ENDINGS[self.ending] if has_held else NEVER_ENOUGH

    def summary(self) -> Summary:
        hours, rate = (
            f"{number(self.hold_time_s / 3600.0, 2)} h",
            summary_figure(self.draw.heat_input_W, Kind.POWER),
        )
        return Summary(
            f"{self.draw.cylinder.name} holds {rate} for {hours}, ended by {self.ending}; an estimate"
        )

    @property
    @computed_output("liquid at the end", Kind.TEMPERATURE)
    def final_temperature_K(self) -> float:
        """Of the liquid, at the end of the draw."""
        return float(self.series.temperature_K[-1])

    @property
    @computed_output("pressure at the start", Kind.GAUGE_PRESSURE, unit="kPa")
    def start_gauge_pressure_Pa(self) -> float:
        """In the cylinder, when the draw begins."""
        return float(self.series.gauge_pressure_Pa[0])

    @property
    @computed_output("pressure at the end", Kind.GAUGE_PRESSURE, unit="kPa")
    def final_gauge_pressure_Pa(self) -> float:
        """In the cylinder, at the end of the draw."""
        return float(self.series.gauge_pressure_Pa[-1])

    @property
    @computed_output("liquid at the start", Kind.MASS)
    def liquid_at_start_kg(self) -> float:
        """Mass of liquid when the draw begins."""
        return float(self.series.liquid_mass_kg[0])

    @property
    @computed_output("liquid left", Kind.MASS)
    def liquid_left_kg(self) -> float:
        """Mass of liquid at the end of the draw."""
        return float(self.series.liquid_mass_kg[-1])

    @property
    @computed_output("liquid left, of the water capacity", Kind.FRACTION)
    def liquid_left(self) -> float:
        """Share of the water capacity that is liquid at the end of the draw [-]."""
        return float(self.series.liquid_level[-1])

    @property
    @computed_output("liquid, mole fractions")
    def liquid_mole_fractions(self) -> Mapping[str, Array]:
        """Composition of the liquid over time, by component [-]."""
        return dict(zip(self.names, self.series.liquid_fractions.T, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Model:
    """The right-hand side and what it needs, in moles of each component and kelvin."""

    draw: Draw
    names: tuple[str, ...]
    heating_value_J_per_mol: Array
    heat_transfer: float
    steel_J_per_K_m2: float

    def volume_m3(self, moles: Array, temperature_K: Any) -> Any:
        total = np.sum(moles, axis=-1)
        x = moles / total[..., None]
        return total / liquid_density_mol_per_m3(self.names, x, temperature_K)

    def gauge_Pa(self, state: Array) -> float:
        moles = np.maximum(state[:-1], 0.0)
        over = vapour_over(self.names, moles / np.sum(moles), state[-1])
        return float(over.pressure_Pa) - self.draw.ambient_pressure_Pa

    def slope(self, _time: float, state: Array) -> Array:
        """dn_i/dt = -y_i Q/H(y); dT/dt = (U A (T_air - T) - h Q/H)/(n c + wetted steel)."""
        moles, t = np.maximum(state[:-1], 1e-12), float(np.maximum(state[-1], COLDEST_K))
        x = moles / np.sum(moles)
        y = vapour_over(self.names, x, t).fractions
        flow = self.draw.heat_input_W / float(y @ self.heating_value_J_per_mol)
        area = float(wetted_area_m2(self.draw.cylinder, self.volume_m3(moles, t)))
        gained = self.heat_transfer * area * (self.draw.air_temperature_K - t)
        spent = flow * float(evaporation_heat_J_per_mol(self.names, y, t))
        capacity = float(np.sum(moles) * liquid_heat_capacity_J_per_mol_K(self.names, x, t))
        return np.append(-y * flow, (gained - spent) / (capacity + self.steel_J_per_K_m2 * area))

    def ends(self, empty_m3: float) -> list[tuple[str, Callable[[float, Array], float]]]:
        def pressure(_time: float, state: Array) -> float:
            return (
                self.gauge_Pa(np.append(state[:-1], max(state[-1], COLDEST_K))) / 1e3
                - self.draw.minimum_inlet_Pa / 1e3
            )

        def empty(_time: float, state: Array) -> float:
            moles = np.maximum(state[:-1], 1e-12)
            return (float(self.volume_m3(moles, state[-1])) - empty_m3) * 1e3

        def cold(_time: float, state: Array) -> float:
            return float(state[-1]) - COLDEST_K - 0.5

        return [(PRESSURE, pressure), (EMPTY, empty), (COLD, cold)]


def withdraw(
    draw: Draw, heat_transfer_W_per_m2_K: float | None = None, own: Path | None = None
) -> Withdrawal:
    """The course of a draw at a constant heat input.

    heat_transfer_W_per_m2_K : in place of the table's value [W/(m2 K)]; own : a table instead of ``cylinder_heat``
    Returns a Withdrawal. Raises UserError for a fill, temperature, rate or gas that cannot be computed.

    >>> from burnerlab.gas import load
    >>> from burnerlab.supply.cylinder import cylinder_named
    >>> stall = Draw(gas=load("propane"), cylinder=cylinder_named("20 lb"), fill=0.8, air_temperature_K=293.15,
    ...              heat_input_W=4e3)
    >>> round(withdraw(stall).hold_time_s / 3600), withdraw(stall).ending
    (30, 'empty')
    """
    draw.check(own)
    model, start = _model(draw, heat_transfer_W_per_m2_K, own)
    if model.gauge_Pa(start) <= draw.minimum_inlet_Pa:
        return _result(model, np.array([0.0]), start[:, None], PRESSURE)
    from scipy.integrate import solve_ivp

    empty_m3 = heat_figure("empty share", own).value * draw.cylinder.water_capacity_m3
    named = model.ends(empty_m3)
    events = [event for _, event in named]
    for event in events:
        event.terminal, event.direction = True, -1.0  # type: ignore[attr-defined]
    found = solve_ivp(
        model.slope, (0.0, draw.horizon_s), start, method="LSODA", events=events, dense_output=True,
        rtol=RELATIVE_ERROR, atol=ABSOLUTE_ERROR * max(1.0, float(np.sum(start[:-1]))),
    )  # fmt: skip
    if not found.success or found.sol is None or found.t_events is None:
        raise ArithmeticError(f"the draw could not be followed: {found.message}")
    last = float(found.t[-1])
    ending = next((name for (name, _), at in zip(named, found.t_events, strict=True) if at.size), HORIZON)
    times = np.linspace(0.0, last, SAMPLES)
    return _result(model, times, found.sol(times), ending)


def _model(draw: Draw, heat_transfer: float | None, own: Path | None) -> tuple[_Model, Array]:
    composition = draw.gas.composition
    names = tuple(composition.names)
    liquids(names)  # refuses a gas that is no liquid

    column = combustion_column(COMBUSTION_K)
    values = gross_J_per_mol(column) if draw.basis == "gross" else net_J_per_mol(column)
    given = heat_figure("heat transfer", own).value if heat_transfer is None else heat_transfer
    steel = (
        heat_figure("steel heat capacity", own).value * draw.cylinder.tare_kg / draw.cylinder.shell_area_m2
    )
    model = _Model(
        draw=draw,
        names=names,
        heating_value_J_per_mol=values[component_table().take(names)],
        heat_transfer=given,
        steel_J_per_K_m2=steel,
    )
    temperature = draw.start_K
    x = np.array(composition.fractions)
    density = float(liquid_density_mol_per_m3(names, x, temperature))
    moles = x * density * draw.fill * draw.cylinder.water_capacity_m3
    return model, np.append(moles, temperature)


def _result(model: _Model, times: Array, states: Array, ending: str) -> Withdrawal:
    moles = np.maximum(states[:-1].T, 1e-12)
    temperature = states[-1]
    x = moles / np.sum(moles, axis=-1, keepdims=True)
    over = vapour_over(model.names, x, np.maximum(temperature, COLDEST_K))
    series = Series(
        time_s=times,
        gauge_pressure_Pa=over.pressure_Pa - model.draw.ambient_pressure_Pa,
        temperature_K=temperature,
        liquid_mass_kg=moles @ liquids(model.names).molar_mass_kg_per_mol,
        liquid_level=model.volume_m3(moles, temperature) / model.draw.cylinder.water_capacity_m3,
        liquid_fractions=x,
    )
    return Withdrawal(
        draw=model.draw,
        names=model.names,
        heat_transfer_W_per_m2_K=model.heat_transfer,
        hold_time_s=float(times[-1]),
        ending=ending,
        series=series,
    )


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class HoldTime(WithSummary):
    """How long a cylinder holds a heat input, with the band of the heat transfer; always an estimate."""

    nominal: Withdrawal = field(metadata=output("nominal", is_part=True))
    low: Withdrawal  # least heat from the air
    high: Withdrawal
    heat_transfer_source: str = field(metadata=output("source of the heat transfer"))
    below_freezing: bool = field(metadata=output("below freezing"))
    """The liquid, for the nominal or the least heat: frost, and a wet vent can freeze."""
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    @computed_output("draw", is_part=True)
    def draw(self) -> Draw:
        """What is asked of the cylinder."""
        return self.nominal.draw

    @property
    @computed_output("holds at least", Kind.TIME, unit="min")
    def hold_time_low_s(self) -> float:
        """With the least heat from the air."""
        return self.low.hold_time_s

    @property
    @computed_output("holds at most", Kind.TIME, unit="min")
    def hold_time_high_s(self) -> float:
        """With the most heat from the air."""
        return self.high.hold_time_s

    @property
    @computed_output("least heat from the air", unit="W/(m2 K)")
    def heat_transfer_low_W_per_m2_K(self) -> float:
        """Low end of the spread."""
        return self.low.heat_transfer_W_per_m2_K

    @property
    @computed_output("most heat from the air", unit="W/(m2 K)")
    def heat_transfer_high_W_per_m2_K(self) -> float:
        """High end of the spread."""
        return self.high.heat_transfer_W_per_m2_K

    @property
    @computed_output("evidence")
    def evidence(self) -> Evidence:
        """Always an estimate."""
        return Evidence.ESTIMATE

    def summary(self) -> Summary:
        low, high = self.low.hold_time_s / 3600.0, self.high.hold_time_s / 3600.0
        words = f"{self.nominal.summary().words}, between {number(low, 2)} and {number(high, 2)} h"
        return Summary(words, lines=tuple(one.line for one in closing_cautions("cylinder")))


FREEZING_K = 273.15
ICE = (
    "The liquid falls below 0 C: frost grows on the wetted wall and slows the heat from the air. Test required in "
    "the weather of use."
)
NARROW = (
    "An estimate: the heat from the air is known within a factor of two. Its value, rounded, is near that of light air "
    "of 1 m/s by correlations; a published chart of the draw of cylinders was known when that wind was chosen. Sun and "
    "enclosure are not computed."
)
DRIFT = (
    "The lighter part evaporates first: what is left is heavier, its pressure lower at the same temperature."
)


def hold(draw: Draw, own: Path | None = None) -> HoldTime:
    """How long a cylinder holds a heat input, for the table's heat transfer and both ends of its spread.

    own : a table instead of ``cylinder_heat``
    Returns a HoldTime. Raises UserError as ``withdraw``.

    >>> from burnerlab.gas import load
    >>> from burnerlab.supply.cylinder import cylinder_named
    >>> draw = Draw(gas=load("propane"), cylinder=cylinder_named("20 lb"), fill=0.8, air_temperature_K="0 C",
    ...             heat_input_W="60 kBtu/h")
    >>> hold(draw).nominal.hold_time_s / 3600
    2.01
    """
    figure = heat_figure("heat transfer", own)
    nominal, low, high = (withdraw(draw, value, own) for value in (figure.value, figure.low, figure.high))
    notes = [NARROW]
    freezing = min(float(np.min(one.series.temperature_K)) for one in (nominal, low)) < FREEZING_K
    if freezing:
        notes.append(ICE)
    drifted = nominal.series.liquid_fractions
    if np.max(np.abs(drifted[-1] - drifted[0])) > 0.02:
        notes.append(DRIFT)
    return HoldTime(
        nominal=nominal,
        low=low,
        high=high,
        heat_transfer_source=figure.cite(),
        below_freezing=freezing,
        notes=tuple(notes),
    )


# The same draw at other inlet pressures that regulators need, and in still air, frost and wind.

AIRS = ("frost in still air", "still air", "light air", "breeze")
FROST = AIRS[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldAtInlet:
    """How long a cylinder holds a heat input until its pressure falls to one that a regulator may need."""

    minimum_inlet_Pa: float = field(metadata=output("regulator needs", Kind.GAUGE_PRESSURE, unit="kPa"))
    hold_time_s: float = field(metadata=output("holds", Kind.TIME, unit="min"))
    hold_time_low_s: float = field(metadata=output("holds at least", Kind.TIME, unit="min"))
    """With the least heat from the air."""
    hold_time_high_s: float = field(metadata=output("holds at most", Kind.TIME, unit="min"))
    """With the most heat from the air."""
    ending: str = field(metadata=output("ended by"))
    """One of ENDINGS."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldInAir:
    """How long a cylinder holds a heat input in one kind of air, with the band of its coefficient."""

    air: str = field(metadata=output("air"))
    """A row of the table ``cylinder_heat``."""
    heat_transfer_W_per_m2_K: float = field(metadata=output("heat from the air", unit="W/(m2 K)"))
    heat_transfer_low_W_per_m2_K: float = field(metadata=output("least heat from the air", unit="W/(m2 K)"))
    heat_transfer_high_W_per_m2_K: float = field(metadata=output("most heat from the air", unit="W/(m2 K)"))
    hold_time_s: float = field(metadata=output("holds", Kind.TIME, unit="min"))
    hold_time_low_s: float = field(metadata=output("holds at least", Kind.TIME, unit="min"))
    hold_time_high_s: float = field(metadata=output("holds at most", Kind.TIME, unit="min"))
    place: str = field(metadata=output("which is"))
    provenance: str = field(metadata=output("provenance"))


def hold_at_inlets(
    draw: Draw, minimum_inlets_Pa: Sequence[float], own: Path | None = None
) -> tuple[HoldAtInlet, ...]:
    """How long a cylinder holds a heat input for each inlet pressure that its regulator may need, lowest first.

    minimum_inlets_Pa : gauge [Pa], in place of that of the draw; own : a table instead of ``cylinder_heat``
    A regulator passes a flow near its rated one only from a higher inlet: its kind's table names both ends.
    Raises UserError as ``withdraw``.

    >>> from burnerlab.gas import load
    >>> from burnerlab.supply.cylinder import cylinder_named
    >>> draw = Draw(gas=load("propane"), cylinder=cylinder_named("20 lb"), fill=0.8, air_temperature_K="0 C",
    ...             heat_input_W="60 kBtu/h")
    >>> [round(row.hold_time_s / 60) for row in hold_at_inlets(draw, [55158.0, 172369.0])]
    [121, 59]
    """
    heat = heat_figure("heat transfer", own)
    rows = []
    for least in sorted(set(minimum_inlets_Pa)):
        there = replace(draw, minimum_inlet_Pa=least)
        value, low, high = (withdraw(there, one, own) for one in (heat.value, heat.low, heat.high))
        rows.append(
            HoldAtInlet(
                minimum_inlet_Pa=least,
                hold_time_s=value.hold_time_s,
                hold_time_low_s=low.hold_time_s,
                hold_time_high_s=high.hold_time_s,
                ending=value.ending,
            )
        )
    return tuple(rows)


def hold_in_air(draw: Draw, own: Path | None = None) -> tuple[HoldInAir, ...]:
    """How long a cylinder holds a heat input in still air, behind frost, in light air and in a breeze.

    own : a table instead of ``cylinder_heat``
    Frost is left out where the liquid stays above freezing in still air. Raises UserError as ``withdraw``.

    >>> from burnerlab.gas import load
    >>> from burnerlab.supply.cylinder import cylinder_named
    >>> draw = Draw(gas=load("propane"), cylinder=cylinder_named("20 lb"), fill=0.8, air_temperature_K="0 C",
    ...             heat_input_W="60 kBtu/h")
    >>> [(row.air, round(row.hold_time_s / 60)) for row in hold_in_air(draw)]
    [('frost in still air', 103), ('still air', 108), ('light air', 122), ('breeze', 168)]
    """
    rows = []
    for air in AIRS:
        heat = heat_figure(air, own)
        value, low, high = (withdraw(draw, one, own) for one in (heat.value, heat.low, heat.high))
        if air == FROST and float(np.min(value.series.temperature_K)) >= FREEZING_K:
            continue
        rows.append(
            HoldInAir(
                air=air,
                heat_transfer_W_per_m2_K=heat.value,
                heat_transfer_low_W_per_m2_K=heat.low,
                heat_transfer_high_W_per_m2_K=heat.high,
                hold_time_s=value.hold_time_s,
                hold_time_low_s=low.hold_time_s,
                hold_time_high_s=high.hold_time_s,
                place=heat.place,
                provenance=heat.provenance,
            )
        )
    return tuple(rows)
