"""The trade's low-pressure equation, kept as a cross-check: it knows no expansibility and hides its base
state.

Q = C K A sqrt(p/S). The constant C holds the density of air at the base state: 1658.5 belongs to gas
measured at 60 F and 30 inHg and saturated with water vapour. Each constant is a row of the table with the
base it implies.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.orifice.flow import OrificeFlow
from burnerlab.quantity import ReferenceState
from burnerlab.tables.problem import Problem, UserError

CUBIC_FOOT_m3 = 0.028316846592  # exact by the yard of 1959
SQUARE_INCH_m2 = 6.4516e-4  # exact by the yard of 1959
INCH_OF_WATER_Pa = (
    249.08891  # NIST SP 811, conventional; the inch the door reads, and 1658.5 in SI units is 0.04612
)
SECONDS_PER_HOUR = 3600.0
US, SI = "US", "SI"


@dataclass(frozen=True, slots=True, kw_only=True)
class LowPressureConstant:
    """A constant of the low-pressure equation and the base state of the volume it gives."""

    name: str
    constant: float
    form: str  # US: ft3/h, in2, in w.c.; SI: m3/h, mm2, mbar
    reference: str  # preset reference state of the base, "" when none has it
    basis: str
    source: str
    provenance: str
    note: str

    @property
    def to_SI(self) -> float:
        """The constant in Q[m3/s] = c K A[m2] sqrt(p[Pa]/S)."""
        if self.form == US:
            return (
                self.constant
                * CUBIC_FOOT_m3
                / SECONDS_PER_HOUR
                / SQUARE_INCH_m2
                / math.sqrt(INCH_OF_WATER_Pa)
            )
        return self.constant / SECONDS_PER_HOUR / 1e-6 / math.sqrt(100.0)

    @property
    def implied_air_density_kg_per_m3(self) -> float:
        """Density of air at the base state: from c = sqrt(2/rho)."""
        return 2.0 / self.to_SI**2


@dataclass(frozen=True, slots=True, kw_only=True)
class LowPressureCheck:
    """The equation of the trade beside the computed flow, both as volume at the constant's base state."""

    constant: LowPressureConstant
    relative_density: float
    formula_m3_per_s: float
    computed_m3_per_s: float

    @property
    def difference(self) -> float:
        """Formula over computed, less 1 [-]."""
        return self.formula_m3_per_s / self.computed_m3_per_s - 1.0


@cache
def low_pressure_constants() -> dict[str, LowPressureConstant]:
    """All constants by name.

    >>> low_pressure_constants()["0.0467"].implied_air_density_kg_per_m3
    1.1885
    """
    return {
        row["name"]: LowPressureConstant(
            name=row["name"],
            constant=float(row["constant"]),
            form=row["form"],
            reference=row["reference"],
            basis=row["basis"],
            source=row["source"],
            provenance=row["provenance"],
            note=row["note"],
        )
        for row in tables.rows("lowpressure_constants")
    }


def low_pressure_constant(name: str = "1658.5") -> LowPressureConstant:
    """One constant by name. Raises UserError for a name the table has not."""
    found = low_pressure_constants().get(name)
    if found is None:
        known = ", ".join(low_pressure_constants())
        raise UserError(Problem("no low-pressure constant of that name", value=name, accepted=known))
    return found


def low_pressure_volume_flow_m3_per_s(
    diameter_m: ArrayLike,
    gauge_pressure_Pa: ArrayLike,
    relative_density: ArrayLike,
    coefficient: ArrayLike,
    constant: LowPressureConstant,
) -> NDArray[np.float64]:
    """Volume flow by the trade's equation: Q = C K A sqrt(p/S), at the base state of the constant.

    diameter_m : hole [m]; gauge_pressure_Pa : [Pa]; relative_density : S, to air [-]; coefficient : K [-]
    Returns [m3/s] at the base state. Range: below about 2 psi (14 kPa), where it is 2 % high.
    Source: the row of the constant.

    >>> trade = low_pressure_constant()
    >>> flow = low_pressure_volume_flow_m3_per_s(6.604e-4, 7 * INCH_OF_WATER_Pa, 0.6, 0.9, trade)
    >>> float(flow) * SECONDS_PER_HOUR / CUBIC_FOOT_m3
    2.7069
    """
    area = np.pi / 4.0 * np.square(np.asarray(diameter_m, dtype=np.float64))
    flow: NDArray[np.float64] = (
        constant.to_SI
        * np.asarray(coefficient)
        * area
        * np.sqrt(np.divide(gauge_pressure_Pa, relative_density))
    )
    return flow


def low_pressure_check(
    flow: OrificeFlow, relative_density: float, constant: LowPressureConstant | None = None
) -> LowPressureCheck:
    """The trade's equation for the orifice of a computed flow, beside that flow at the same base state.

    flow : from ``flow``; relative_density : of the gas to air [-]; constant : 1658.5 when none is given
    Raises UserError for a constant whose source states no base: a volume without its state cannot be
    compared.
    """

    used = low_pressure_constant() if constant is None else constant
    if not used.reference:
        stated = [row.name for row in low_pressure_constants().values() if row.reference]
        raise UserError(
            Problem(
                "this constant has no base state to compare at", value=used.name, accepted=", ".join(stated)
            )
        )
    formula = flow.count * low_pressure_volume_flow_m3_per_s(
        flow.diameter_m, flow.conditions.gauge_pressure_Pa, relative_density, flow.coefficient, used
    )
    return LowPressureCheck(
        constant=used,
        relative_density=relative_density,
        formula_m3_per_s=float(formula),
        computed_m3_per_s=flow.volume_flow_m3_per_s(ReferenceState.read(used.reference)),
    )
