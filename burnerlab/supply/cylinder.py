"""A cylinder of liquefied gas that supplies a steady heat input: how it cools, and how long its pressure lasts.

One temperature for liquid and wetted steel. Heat comes from the air through the wetted wall by one coefficient for
natural convection and radiation; it goes into evaporation. Left out: the vapour in the head space (a few per cent of
the charge, so that the time is a little short), heat through the dry wall, sun, wind and frost. The
coefficient is known within a factor of two, so every result is an estimate and comes with a band.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.quantity import Kind, Quantity, take_SI
from burnerlab.quantity.outputs import output
from burnerlab.supply.lpg_vapour import liquid_density_mol_per_m3, liquids, vapour_over
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables import Figure, figure, unknown
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.gas import Gas

Array = NDArray[np.float64]

FULL_BELOW_K = 323.15  # a warmer cylinder may run full of liquid: withheld


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """An upright cylinder: an upright tube with a flat bottom, which is what the liquid wets."""

    name: str = field(metadata=output("cylinder"))
    water_capacity_m3: float = field(metadata=output("water capacity", Kind.VOLUME))
    diameter_m: float = field(metadata=output("diameter", Kind.DIAMETER))
    tare_kg: float = field(metadata=output("empty", Kind.MASS))
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
            source=row.get("source") or "",
            provenance=row.get("provenance") or "",
        )
        for row in tables.read("cylinders", own)
    }


def cylinder_named(name: str, own: Path | None = None, key: str = "size") -> Cylinder:
    """The cylinder called ``name``; UserError with the known ones.

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
    """What is asked of a cylinder.

    >>> from burnerlab.gas import load
    >>> size, air = cylinder_named("20 lb"), "0 C"
    >>> Draw(gas=load("propane"), cylinder=size, fill=0.8, air_temperature_K=air, heat_input_W="15 kW").heat_input_W
    15000.0
    """

    gas: Gas = field(metadata=output("gas"))
    """Composition of the liquid when the draw begins."""
    cylinder: Cylinder = field(metadata=output("cylinder"))
    fill: float = field(metadata=output("filled to", Kind.FRACTION))
    """Liquid share of the water capacity [-]."""
    air_temperature_K: float = field(metadata=output("air", Kind.TEMPERATURE))
    heat_input_W: float = field(metadata=output("heat input", Kind.POWER))
    basis: str = field(default="gross", metadata=output("its basis"))
    minimum_inlet_Pa: float = field(
        default=55158.0, metadata=output("regulator needs", Kind.GAUGE_PRESSURE, unit="kPa")
    )
    """Gauge pressure the regulator needs; row "lp single stage"."""
    ambient_pressure_Pa: float = field(
        default=101325.0, metadata=output("ambient pressure", Kind.ABSOLUTE_PRESSURE)
    )
    start_temperature_K: float | None = field(
        default=None, metadata=output("liquid at the start", Kind.TEMPERATURE)
    )
    """Of the liquid; None: that of the air."""
    horizon_s: float = field(default=48 * 3600.0, metadata=output("looked at", Kind.TIME, unit="h"))

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

    def check(self, own: Path | None = None) -> None:
        """Refuse what cannot be computed; all problems at once."""
        problems = []
        most = heat_figure("largest fill", own)
        if not 0.0 < self.fill <= most.high:
            accepted = f"above 0 and at most {100 * most.high:.0f} % of the water capacity"
            fix = f"{100 * most.value:.0f} % is a full cylinder"
            problems.append(
                Problem(
                    "is no fill of a cylinder", f"{100 * self.fill:.4g} %", "fill", accepted=accepted, fix=fix
                )
            )
        start = self.air_temperature_K if self.start_temperature_K is None else self.start_temperature_K
        for key, value in (("air temperature", self.air_temperature_K), ("liquid temperature", start)):
            if not 228.15 <= value <= FULL_BELOW_K:
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


def opening_pressure_Pa(draw: Draw) -> float:
    """Gauge pressure of the cylinder before the draw begins [Pa]."""
    start = draw.air_temperature_K if draw.start_temperature_K is None else draw.start_temperature_K
    composition = draw.gas.composition
    over = vapour_over(composition.names, np.array(composition.fractions), start)
    return float(over.pressure_Pa) - draw.ambient_pressure_Pa
