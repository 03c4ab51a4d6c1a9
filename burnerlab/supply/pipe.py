"""Pressure lost in pipes, hoses and fittings, by Darcy and Colebrook and by the trade's formulas.

Functions broadcast; a drop of pressure is positive. Corrugated hoses and tubes follow no rough-wall equation
and are not described here.

They are printed in ft3/h, in, ft and in w.c.; the constants are rows of the table ``friction_formulas``, the
conversions are here. None of them knows a roughness; each holds for the pipes and flows it was fitted to.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.supply.root_search import rising_root
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables import Figure, figure_of, figures, unknown
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError

# Pressure lost in pipes, hoses and fittings: Darcy with Colebrook, and the expansion of the gas on the way.

Array = NDArray[np.float64]

LAMINAR, TRANSITION, TURBULENT, STILL = "laminar", "transition", "turbulent", "no flow"
NEWTON_STEPS = 3  # from the explicit start to the last bits


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """A straight run of pipe or hose with the losses of its fittings."""

    length_m: float
    diameter_m: float
    roughness_m: float
    loss_coefficient: float = 0.0  # K of all fittings together [-], on the velocity in this bore
    name: str = ""

    def check(self) -> None:
        """Refuse what is no pipe; all problems at once."""
        problems = [
            Problem("must be above 0 and finite", f"{value:g} m", key)
            for key, value in (("length", self.length_m), ("bore", self.diameter_m))
            if not (value > 0.0 and math.isfinite(value))
        ]
        if not 0.0 <= self.roughness_m < 0.05 * self.diameter_m:
            accepted = "0 to 5 % of the bore"
            problems.append(
                Problem("is no wall roughness", f"{self.roughness_m:g} m", "roughness", accepted=accepted)
            )
        if not (self.loss_coefficient >= 0.0 and math.isfinite(self.loss_coefficient)):
            problems.append(Problem("must be 0 or more", f"{self.loss_coefficient:g}", "fittings"))
        if problems:
            raise UserError(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeFlow:
    """The flow through one pipe and what it loses."""

    pipe: Pipe
    mass_flow_kg_per_s: float
    inlet_pressure_Pa: float  # absolute
    density_kg_per_m3: float  # at the inlet
    viscosity_Pa_s: float
    drop_Pa: float
    reynolds: float
    regime: str
    friction_factor: float
    velocity_m_per_s: float  # at the inlet
    notes: tuple[str, ...]


def reynolds(mass_flow_kg_per_s: ArrayLike, diameter_m: ArrayLike, viscosity_Pa_s: ArrayLike) -> Any:
    """Reynolds number of a pipe: Re = 4 m/(pi D mu).

    mass_flow_kg_per_s : [kg/s]; diameter_m : bore [m]; viscosity_Pa_s : [Pa s]
    Returns [-].

    >>> float(reynolds(1e-3, 0.01, 1e-5))
    12732.4
    """
    return 4.0 * np.asarray(mass_flow_kg_per_s) / (math.pi * np.multiply(diameter_m, viscosity_Pa_s))


def colebrook(reynolds_number: ArrayLike, relative_roughness: ArrayLike) -> Array:
    """Darcy friction factor of turbulent flow: 1/sqrt(f) = -2 log10(e/(3.7 D) + 2.51/(Re sqrt(f))).

    An explicit start, then Newton's steps on 1/sqrt(f).
    reynolds_number : [-]; relative_roughness : e/D [-]
    Returns f [-]. Range: Re above the table's turbulent start. Source: supply-colebrook.

    >>> float(colebrook(1e5, 1e-4))
    0.0185139
    """
    re = np.asarray(reynolds_number, dtype=np.float64)
    rough = np.asarray(relative_roughness, dtype=np.float64) / 3.7
    x = -1.8 * np.log10(rough**1.11 + 6.9 / re)
    slope = 2.51 / re
    for _ in range(NEWTON_STEPS):
        inner = rough + slope * x
        x = x - (x + 2.0 * np.log10(inner)) / (1.0 + 2.0 / math.log(10.0) * slope / inner)
    factor: Array = 1.0 / (x * x)
    return factor


@tables.cache_by_file
def _bounds(own: Path | None) -> tuple[float, float]:
    return supply_figure("laminar end", own).value, supply_figure("turbulent start", own).value


def friction_factor(
    reynolds_number: ArrayLike, relative_roughness: ArrayLike, own: Path | None = None
) -> Array:
    """Darcy friction factor: 64/Re laminar, Colebrook turbulent, between them straight in log f over log Re.

    reynolds_number : [-], above 0; relative_roughness : e/D [-]
    Returns f [-], continuous in Re. The transition is uncertain by the table's "transition spread".
    Source: supply-moody, supply-colebrook.

    >>> friction_factor(np.array([1000.0, 3000.0, 1e5]), 1e-4)
    array([0.064 , 0.0365, 0.0185])
    """
    low, high = _bounds(own)
    re = np.maximum(np.asarray(reynolds_number, dtype=np.float64), 1e-12)
    laminar = 64.0 / np.minimum(re, low)
    if np.shape(relative_roughness) in ((), re.shape) and re.max(initial=0.0) <= low:
        return np.exp(np.log(laminar))  # to the last digit what the case is beside turbulent ones
    turbulent = colebrook(np.maximum(re, high), relative_roughness)
    share = np.minimum(np.maximum(np.log(re / low) / math.log(high / low), 0.0), 1.0)
    factor: Array = np.exp((1.0 - share) * np.log(laminar) + share * np.log(turbulent))
    return factor


def regime_of(reynolds_number: float, own: Path | None = None) -> str:
    """Laminar, transition or turbulent.

    >>> regime_of(3000.0)
    'transition'
    """
    low, high = _bounds(own)
    if not reynolds_number > 0.0:
        return STILL
    return LAMINAR if reynolds_number < low else TURBULENT if reynolds_number > high else TRANSITION


def pressure_drop_Pa(
    mass_flow_kg_per_s: ArrayLike,
    length_m: ArrayLike,
    diameter_m: ArrayLike,
    roughness_m: ArrayLike,
    density_kg_per_m3: ArrayLike,
    viscosity_Pa_s: ArrayLike,
    loss_coefficient: ArrayLike = 0.0,
) -> Any:
    """Pressure lost at a constant density: dp = (f L/D + K) rho v^2/2.

    mass_flow_kg_per_s : [kg/s]; length_m, diameter_m, roughness_m : of the pipe [m]
    density_kg_per_m3 : of the gas on the way [kg/m3]; viscosity_Pa_s : [Pa s]
    loss_coefficient : K of all fittings together [-]
    Returns [Pa]. Source: Darcy's equation with ``friction_factor``.

    >>> float(pressure_drop_Pa(7e-4, 10.0, 0.0158, 4.6e-5, 0.73, 1.09e-5))
    222.1
    """
    area = math.pi / 4.0 * np.square(diameter_m)
    head = np.square(np.asarray(mass_flow_kg_per_s) / area) / (2.0 * np.asarray(density_kg_per_m3))
    re = reynolds(mass_flow_kg_per_s, diameter_m, viscosity_Pa_s)
    factor = friction_factor(re, np.divide(roughness_m, diameter_m))
    return (factor * np.divide(length_m, diameter_m) + np.asarray(loss_coefficient)) * head


def expanding_drop_Pa(constant_density_drop_Pa: ArrayLike, inlet_pressure_Pa: ArrayLike) -> Any:
    """Drop of a gas that expands on the way at constant temperature: p1 - sqrt(p1^2 - 2 p1 dp0).

    That is the drop at the mean density; the kinetic term of the exact equation is left out.
    constant_density_drop_Pa : dp0, with the density at the inlet [Pa]; inlet_pressure_Pa : absolute [Pa]
    Returns [Pa], the whole inlet pressure where the flow is more than the pipe can pass.

    >>> float(expanding_drop_Pa(1000.0, 101325.0))
    1005.0
    """
    p1 = np.asarray(inlet_pressure_Pa, dtype=np.float64)
    left = np.maximum(1.0 - 2.0 * np.asarray(constant_density_drop_Pa) / p1, 0.0)
    return p1 * (1.0 - np.sqrt(left))


def pipe_flow(
    pipe: Pipe,
    mass_flow_kg_per_s: float,
    inlet_pressure_Pa: float,
    density_kg_per_m3: float,
    viscosity_Pa_s: float,
    own: Path | None = None,
) -> PipeFlow:
    """What a pipe loses at a flow, with the regime and what must be said of it.

    inlet_pressure_Pa : absolute [Pa]; density_kg_per_m3 : at the inlet [kg/m3]; viscosity_Pa_s : [Pa s]
    Raises UserError when the drop exceeds the share of the inlet pressure that the model describes.

    >>> pipe_flow(Pipe(length_m=3.0, diameter_m=0.0095, roughness_m=1e-5), 4e-4, 104e3, 1.9, 8e-6).regime
    'turbulent'
    """
    pipe.check()
    constant = pressure_drop_Pa(
        mass_flow_kg_per_s, pipe.length_m, pipe.diameter_m, pipe.roughness_m,
        density_kg_per_m3, viscosity_Pa_s, pipe.loss_coefficient,
    )  # fmt: skip
    drop = float(expanding_drop_Pa(constant, inlet_pressure_Pa))
    most = supply_figure("largest drop share", own).value
    if not drop <= most * inlet_pressure_Pa:
        raise UserError(
            Problem(
                f"loses {drop / 1e3:.3g} kPa of {inlet_pressure_Pa / 1e3:.4g} kPa absolute",
                key=pipe.name or "pipe",
                accepted=f"a drop of at most {100 * most:.0f} % of the absolute inlet pressure",
                fix="enter a wider or shorter pipe, or less flow",
            )
        )
    re = float(reynolds(mass_flow_kg_per_s, pipe.diameter_m, viscosity_Pa_s))
    area = math.pi / 4.0 * pipe.diameter_m**2
    return PipeFlow(
        pipe=pipe,
        mass_flow_kg_per_s=mass_flow_kg_per_s,
        inlet_pressure_Pa=inlet_pressure_Pa,
        density_kg_per_m3=density_kg_per_m3,
        viscosity_Pa_s=viscosity_Pa_s,
        drop_Pa=drop,
        reynolds=re,
        regime=regime_of(re, own),
        friction_factor=float(friction_factor(re, pipe.roughness_m / pipe.diameter_m, own)),
        velocity_m_per_s=mass_flow_kg_per_s / (density_kg_per_m3 * area),
        notes=_notes(re, own),
    )


def _notes(re: float, own: Path | None) -> tuple[str, ...]:
    if regime_of(re, own) != TRANSITION:
        return ()
    spread = supply_figure("transition spread", own)
    return (
        Phrase(
            "between laminar and turbulent (Re {number}): its friction is uncertain by {spread} %",
            number=f"{re:.0f}",
            spread=f"{100 * spread.value:.0f}",
        ),
    )


def capacity_kg_per_s(
    pipe: Pipe,
    drop_Pa: ArrayLike,
    inlet_pressure_Pa: ArrayLike,
    density_kg_per_m3: ArrayLike,
    viscosity_Pa_s: ArrayLike,
) -> Any:
    """The flow that loses a given pressure, bracketed between no flow and that of a frictionless pipe.

    drop_Pa : allowed drop [Pa]; inlet_pressure_Pa : absolute [Pa]
    density_kg_per_m3 : at the inlet [kg/m3]; viscosity_Pa_s : [Pa s]
    Returns the mass flow [kg/s]. Raises UserError for a drop beyond the range of the model.

    >>> half_inch = Pipe(length_m=3.048, diameter_m=0.015799, roughness_m=4.6e-5)
    >>> float(capacity_kg_per_s(half_inch, 124.4, 102e3, 0.7378, 1.1e-5)) * 3600
    3.57
    """
    pipe.check()
    drop, p1 = np.asarray(drop_Pa, dtype=np.float64), np.asarray(inlet_pressure_Pa, dtype=np.float64)
    most = supply_figure("largest drop share").value
    if not (np.all(drop > 0.0) and np.all(drop <= most * p1)):
        accepted = f"above 0 and at most {100 * most:.0f} % of the absolute inlet pressure"
        raise UserError(Problem("is outside the range of the model", key="drop", accepted=accepted))
    area = math.pi / 4.0 * pipe.diameter_m**2
    target = drop * (1.0 - drop / (2.0 * p1))  # the drop at the inlet's density
    slowing = 32.0 * np.asarray(viscosity_Pa_s) * pipe.length_m / (pipe.diameter_m**2 * area)
    most_flow = target * np.asarray(density_kg_per_m3) / slowing  # laminar: less friction than any other flow

    def excess(log_flow: Array) -> Array:
        lost = pressure_drop_Pa(
            np.exp(log_flow), pipe.length_m, pipe.diameter_m, pipe.roughness_m,
            density_kg_per_m3, viscosity_Pa_s, pipe.loss_coefficient,
        )  # fmt: skip
        found: Array = np.log(lost / target)
        return found

    top = np.log(most_flow)
    return np.exp(rising_root(excess, top - 18.0, top).value)[()]


def roughness(material: str, own: Path | None = None, key: str = "material") -> Figure:
    """Roughness of a wall [m] with its spread, from the table ``roughness``.

    Raises UserError for a material the table does not know.

    >>> roughness("steel").value
    4.6e-05
    """
    rows = tables.read("roughness", own)
    for row in rows:
        if row["material"] == material.strip().lower():
            return replace(figure_of(row, row["material"], ("value_m", "low_m", "high_m")), unit="m")
    raise unknown("a material of the table roughness", material, [row["material"] for row in rows], key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A pipe by the name it is bought under."""

    name: str
    bore_m: float
    material: str


def size_named(name: str, own: Path | None = None, key: str = "size") -> Size:
    """Bore and material of a pipe, tube or hose of the table ``pipes``.

    Raises UserError for a name the table does not know.

    >>> size_named("1/2 in schedule 40").bore_m
    0.0158
    """
    rows = tables.read("pipes", own)
    wanted = " ".join(name.lower().replace("sch ", "schedule ").replace("sch40", "schedule 40").split())
    for row in rows:
        if row["name"].lower() == wanted:
            return Size(name=row["name"], bore_m=float(row["bore_mm"]) / 1e3, material=row["material"])
    names = [row["name"] for row in rows]
    raise unknown("a size of the table pipes", name, names, key, _size_meant(wanted, rows))


_SIZE = re.compile(r"(?:(\d+)[- ])?(\d+(?:\.\d+)?)(?:/(\d+))? ?(in|mm) (.+)")
NEAR_SIZE = 1.5  # a hose of the table not farther than this factor away: the size may be a true one


def _size_meant(name: str, rows: tuple[tables.Row, ...]) -> str:
    """What was meant, by size before spelling: the bore of a hose not in the table, else the nearest of its kind."""
    given = _nominal_mm(name)
    sizes = [(row, size) for row in rows if (size := _nominal_mm(row["name"].lower())) is not None]
    if given is None or not sizes:
        return ""
    kind = get_close_matches(given[1], sorted({size[1] for _, size in sizes}), n=1, cutoff=0.6)
    alike = [(row, size[0]) for row, size in sizes if [size[1]] == kind]
    if not alike:
        return ""
    row, size_mm = min(alike, key=lambda each: abs(math.log(each[1] / given[0])))
    ratio = max(size_mm / given[0], given[0] / size_mm)
    if kind == ["hose"] and 1.001 < ratio < NEAR_SIZE:  # a hose is named by its bore
        return f'write bore = "{given[0]:.4g} mm" in place of size'
    return f"did you mean {row['name']}?"


def _nominal_mm(name: str) -> tuple[float, str] | None:
    """Size [mm] and kind in a name such as ``1/2 in hose``; None where it holds no size above zero."""
    parts = _SIZE.fullmatch(name)
    if parts is None or not float(parts[2]) > 0.0 or (parts[3] and not int(parts[3])):
        return None
    size = int(parts[1] or 0) + float(parts[2]) / int(parts[3] or 1)
    return size * (25.4 if parts[4] == "in" else 1.0), parts[5]


def fitting(name: str, own: Path | None = None, key: str = "fittings") -> Figure:
    """Loss coefficient K of a fitting with its spread, from the table ``fittings``.

    Raises UserError for a fitting the table does not know.

    >>> fitting("elbow").value
    0.9
    """
    known = figures("fittings", own)
    if name.strip().lower() in known:
        return known[name.strip().lower()]
    raise unknown("a fitting of the table fittings", name, list(known), key)


# Pipe formulas of the trade beside Darcy and Colebrook: what each says of the same pipe.

INCH_m = 0.0254  # exact, yard of 1959
FOOT_m = 0.3048  # exact, yard of 1959
INCH_OF_WATER_Pa = 249.08891  # conventional: 1000 kg/m3, standard gravity
PSI_Pa = 6894.757293168  # pound and yard of 1959, standard gravity
CUBIC_FOOT_PER_HOUR_m3_per_s = FOOT_m**3 / 3600.0
CENTIPOISE_Pa_s = 1e-3  # definition


@tables.cache_by_file
def constants(formula: str, own: Path | None = None) -> dict[str, float]:
    """Constants of a formula, from the table ``friction_formulas`` or a file with its columns.

    >>> constants("Mueller")["factor"]
    2971.0
    """
    rows = tables.read("friction_formulas", own)
    return {row["name"]: row.number("value") for row in rows if row["formula"] == formula}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A pipe and the gas in it, as these formulas see them; every field may be an array."""

    length_m: ArrayLike
    diameter_m: ArrayLike
    relative_density: ArrayLike  # air = 1
    viscosity_Pa_s: ArrayLike = 1.1e-5  # used by the code's formulas only


def code_gas_factor(relative_density: ArrayLike, viscosity_Pa_s: ArrayLike, own: Path | None = None) -> Any:
    """The code's factor of the gas: Cr = 0.00354 S T (Z/S)^0.152, Z in centipoise, T 520 R.

    relative_density : S, air = 1 [-]; viscosity_Pa_s : Z [Pa s]
    Returns Cr [-]. Source: supply-nfpa54.

    >>> float(code_gas_factor(0.60, 1.2e-5)), float(code_gas_factor(1.50, 0.8e-5))
    (0.6094, 1.2462)
    """
    c = constants("code gas", own)
    s = np.asarray(relative_density, dtype=np.float64)
    z = np.asarray(viscosity_Pa_s, dtype=np.float64) / CENTIPOISE_Pa_s
    return c["factor"] * s * c["temperature"] * (z / s) ** c["exponent"]


def code_low_pressure_m3_per_s(
    line: Line, drop_Pa: ArrayLike, gas_factor: ArrayLike | None = None, *, own: Path | None = None
) -> Any:
    """Flow by the code's formula below 1.5 psi: D = Q^0.381/(19.17 (dH/(Cr L))^0.206).

    drop_Pa : allowed drop [Pa]; gas_factor : Cr [-], else from density and viscosity
    Returns the volume flow at base conditions [m3/s]. Source: supply-nfpa54.

    >>> half_inch = Line(length_m=10 * FOOT_m, diameter_m=0.622 * INCH_m, relative_density=0.60)
    >>> flow = code_low_pressure_m3_per_s(half_inch, 0.5 * INCH_OF_WATER_Pa, 0.6094)
    >>> float(flow) / CUBIC_FOOT_PER_HOUR_m3_per_s
    173.0
    """
    c = constants("code low pressure", own)
    head = np.asarray(drop_Pa) / INCH_OF_WATER_Pa
    return _code(line, head, c, _gas_factor(line, own) if gas_factor is None else gas_factor)


def code_high_pressure_m3_per_s(
    line: Line,
    inlet_pressure_Pa: ArrayLike,
    drop_Pa: ArrayLike,
    gas_factor: ArrayLike | None = None,
    compressibility: ArrayLike = 1.0,
    *,
    own: Path | None = None,
) -> Any:
    """Flow by the code's formula from 1.5 psi up: D = Q^0.381/(18.93 ((P1^2 - P2^2) Y/(Cr L))^0.206).

    inlet_pressure_Pa : absolute [Pa]; drop_Pa : allowed drop [Pa]; gas_factor : Cr [-]; compressibility : Y [-]
    Returns the volume flow at base conditions [m3/s]. Source: supply-nfpa54.

    >>> inch = Line(length_m=10 * FOOT_m, diameter_m=1.049 * INCH_m, relative_density=1.50)
    >>> flow = code_high_pressure_m3_per_s(inch, 24.7 * PSI_Pa, 1.0 * PSI_Pa, 1.2462, 0.9910)
    >>> float(flow) / CUBIC_FOOT_PER_HOUR_m3_per_s
    5285.8
    """
    c = constants("code high pressure", own)
    p1 = np.asarray(inlet_pressure_Pa) / PSI_Pa
    p2 = p1 - np.asarray(drop_Pa) / PSI_Pa
    head = (p1 * p1 - p2 * p2) * np.asarray(compressibility)
    return _code(line, head, c, _gas_factor(line, own) if gas_factor is None else gas_factor)


def _gas_factor(line: Line, own: Path | None) -> Any:
    return code_gas_factor(line.relative_density, line.viscosity_Pa_s, own)


def _code(line: Line, head: ArrayLike, c: dict[str, float], gas_factor: ArrayLike) -> Any:
    gradient = np.asarray(head) / (np.asarray(gas_factor) * np.divide(line.length_m, FOOT_m))
    bore = np.divide(line.diameter_m, INCH_m)
    flow = (bore * c["factor"] * gradient ** c["drop exponent"]) ** (1.0 / c["flow exponent"])
    return flow * CUBIC_FOOT_PER_HOUR_m3_per_s


def spitzglass_m3_per_s(line: Line, drop_Pa: ArrayLike, *, own: Path | None = None) -> Any:
    """Flow by Spitzglass, low pressure: Q = 3550 sqrt(h D^5/(S L (1 + 3.6/D + 0.03 D))).

    drop_Pa : allowed drop [Pa]
    Returns the volume flow at base conditions [m3/s]. Source: supply-spitzglass.

    >>> half_inch = Line(length_m=10 * FOOT_m, diameter_m=0.622 * INCH_m, relative_density=0.60)
    >>> float(spitzglass_m3_per_s(half_inch, 0.5 * INCH_OF_WATER_Pa)) / CUBIC_FOOT_PER_HOUR_m3_per_s
    119.9
    """
    c = constants("Spitzglass", own)
    d = np.divide(line.diameter_m, INCH_m)
    bracket = 1.0 + c["inverse bore"] / d + c["bore"] * d
    loss = np.asarray(line.relative_density) * np.divide(line.length_m, FOOT_m) * bracket
    return (
        c["factor"]
        * np.sqrt(np.divide(drop_Pa, INCH_OF_WATER_Pa) * d**5 / loss)
        * CUBIC_FOOT_PER_HOUR_m3_per_s
    )


def mueller_m3_per_s(line: Line, drop_Pa: ArrayLike, *, own: Path | None = None) -> Any:
    """Flow by Mueller, low pressure: Q = 2971 D^2.725 (h/L)^0.575/S^0.425.

    drop_Pa : allowed drop [Pa]
    Returns the volume flow at base conditions [m3/s]. Source: supply-mueller.

    >>> half_inch = Line(length_m=10 * FOOT_m, diameter_m=0.622 * INCH_m, relative_density=0.60)
    >>> float(mueller_m3_per_s(half_inch, 0.5 * INCH_OF_WATER_Pa)) / CUBIC_FOOT_PER_HOUR_m3_per_s
    180.8
    """
    return _power_law(line, drop_Pa, constants("Mueller", own))


def igt_m3_per_s(line: Line, drop_Pa: ArrayLike, *, own: Path | None = None) -> Any:
    """Flow by the improved IGT formula, low pressure: Q = 2679 D^2.667 (h/L)^0.555/S^0.444.

    drop_Pa : allowed drop [Pa]
    Returns the volume flow at base conditions [m3/s]. Source: supply-igt.

    >>> half_inch = Line(length_m=10 * FOOT_m, diameter_m=0.622 * INCH_m, relative_density=0.60)
    >>> float(igt_m3_per_s(half_inch, 0.5 * INCH_OF_WATER_Pa)) / CUBIC_FOOT_PER_HOUR_m3_per_s
    179.7
    """
    return _power_law(line, drop_Pa, constants("IGT", own))


def _power_law(line: Line, drop_Pa: ArrayLike, c: dict[str, float]) -> Any:
    gradient = np.divide(drop_Pa, INCH_OF_WATER_Pa) / np.divide(line.length_m, FOOT_m)
    flow = c["factor"] * np.divide(line.diameter_m, INCH_m) ** c["bore exponent"]
    flow = (
        flow * gradient ** c["gradient exponent"] / np.asarray(line.relative_density) ** c["density exponent"]
    )
    return flow * CUBIC_FOOT_PER_HOUR_m3_per_s


LOW_PRESSURE: dict[str, Callable[..., Any]] = {
    "code": code_low_pressure_m3_per_s,
    "Mueller": mueller_m3_per_s,
    "IGT": igt_m3_per_s,
    "Spitzglass": spitzglass_m3_per_s,
}
"""The formulas for low pressure by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossCheck:
    """Flows that several formulas give for the same pipe and drop [m3/s at base conditions]."""

    drop_Pa: float
    flows_m3_per_s: dict[str, float]


def low_pressure_flows(
    line: Line, drop_Pa: float, gauge_pressure_Pa: float, own: Path | None = None
) -> CrossCheck:
    """What each low-pressure formula gives for a pipe and a drop.

    drop_Pa : allowed drop [Pa]; gauge_pressure_Pa : at the inlet [Pa]; own : file of constants
    Raises UserError from 1.5 psi up, where the low-pressure formulas end.

    >>> line = Line(length_m=3.0, diameter_m=0.0158, relative_density=0.6)
    >>> sorted(low_pressure_flows(line, 124.5, 1744.0).flows_m3_per_s)
    ['IGT', 'Mueller', 'Spitzglass', 'code']
    """
    most = constants("code low pressure", own)["highest pressure"]
    if not gauge_pressure_Pa < most:
        raise UserError(
            Problem(
                "is above the range of the low-pressure pipe formulas",
                f"{gauge_pressure_Pa / 1e2:.4g} mbar",
                "pressure",
                accepted=f"below {most / 1e2:.4g} mbar gauge",
                fix="use the code's high-pressure formula",
            )
        )
    flows = {name: float(formula(line, drop_Pa, own=own)) for name, formula in LOW_PRESSURE.items()}
    return CrossCheck(drop_Pa=drop_Pa, flows_m3_per_s=flows)
