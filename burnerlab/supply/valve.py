"""A valve, or any other short restriction: its flow coefficient, and what it costs in pressure.

A valve is described by its effective area, discharge coefficient times bore area; Kv, Cv and a bore are three
ways to state it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from burnerlab.supply.piping import expanding_drop_Pa
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables.problem import Problem, UserError

BAR_Pa = 1e5  # definition
WATER_kg_per_m3 = 1000.0  # supply-iec60534: water of relative density 1
KV_PER_CV = 0.865  # supply-iec60534: Kv = 0.865 Cv
SECONDS_PER_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Valve:
    """A restriction by its effective area, fully open."""

    effective_area_m2: float  # discharge coefficient times area
    stated_as: str = ""

    def check(self) -> None:
        if not (self.effective_area_m2 > 0.0 and math.isfinite(self.effective_area_m2)):
            fix = "give Kv, Cv or the narrowest bore"
            raise UserError(
                Problem("needs an opening above 0", f"{self.effective_area_m2:g} m2", "valve", fix=fix)
            )


def valve_of_Kv(Kv_m3_per_h: float) -> Valve:
    """A valve by Kv, the water flow at 1 bar [m3/h]: effective area = Kv/3600 sqrt(rho_w/(2 bar)).

    Source: supply-iec60534.

    >>> valve_of_Kv(1.0).effective_area_m2 * 1e6
    19.64
    """
    area = Kv_m3_per_h / SECONDS_PER_HOUR * math.sqrt(WATER_kg_per_m3 / (2.0 * BAR_Pa))
    return Valve(effective_area_m2=area, stated_as=f"Kv {Kv_m3_per_h:g} m3/h")


def valve_of_Cv(Cv_gal_per_min: float) -> Valve:
    """A valve by Cv, the water flow at 1 psi [US gal/min]: Kv = 0.865 Cv.

    Source: supply-iec60534.

    >>> valve_of_Cv(1.0).effective_area_m2 * 1e6
    16.99
    """
    area = valve_of_Kv(KV_PER_CV * Cv_gal_per_min).effective_area_m2
    return Valve(effective_area_m2=area, stated_as=f"Cv {Cv_gal_per_min:g} gal/min")


def valve_of_bore(diameter_m: float, coefficient: float | None = None, own: Path | None = None) -> Valve:
    """A valve by its narrowest hole, with a discharge coefficient [-] or the table's "plug coefficient".

    diameter_m : narrowest hole [m]

    >>> valve_of_bore(0.006).effective_area_m2 * 1e6
    19.79
    """
    cd = supply_figure("plug coefficient", own).value if coefficient is None else coefficient
    area = cd * math.pi / 4.0 * diameter_m**2
    return Valve(effective_area_m2=area, stated_as=f"bore {diameter_m * 1e3:.3g} mm, coefficient {cd:g}")


def valve_drop_Pa(
    mass_flow_kg_per_s: ArrayLike,
    effective_area_m2: ArrayLike,
    density_kg_per_m3: ArrayLike,
    inlet_pressure_Pa: ArrayLike,
) -> Any:
    """Pressure lost in a valve: dp0 = (m/(Cd A))^2/(2 rho), then the expansion of the gas.

    mass_flow_kg_per_s : [kg/s]; effective_area_m2 : Cd A [m2]
    density_kg_per_m3 : at the inlet [kg/m3]; inlet_pressure_Pa : absolute [Pa]
    Returns [Pa]. Range: small drops; the table's "largest drop share" of the inlet pressure.

    >>> float(valve_drop_Pa(2e-4, 1.964e-5, 1.9, 104e3))
    27.3
    """
    constant = np.square(np.divide(mass_flow_kg_per_s, effective_area_m2)) / (
        2.0 * np.asarray(density_kg_per_m3)
    )
    return expanding_drop_Pa(constant, inlet_pressure_Pa)
