"""Pipe formulas of the trade beside Darcy and Colebrook: what each says of the same pipe.

They are printed in ft3/h, in, ft and in w.c.; the constants are rows of the table ``friction_formulas``, the
conversions are here. None of them knows a roughness; each holds for the pipes and flows it was fitted to.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]

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
                f"{gauge_pressure_Pa / 1e3:.4g} kPa",
                "pressure",
                accepted=f"below {most / 1e3:.4g} kPa gauge",
                fix="use the code's high-pressure formula",
            )
        )
    flows = {name: float(formula(line, drop_Pa, own=own)) for name, formula in LOW_PRESSURE.items()}
    return CrossCheck(drop_Pa=drop_Pa, flows_m3_per_s=flows)
