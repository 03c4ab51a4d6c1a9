"""A row for each part of a result, in handy units that its keys name: the same in JSON and in a data frame."""

from __future__ import annotations

from typing import Any

from burnerlab.appliance.injectors import InjectorRow, PolicyMarks
from burnerlab.appliance.spreads import InputSpread


def injector_row(row: InjectorRow) -> dict[str, Any]:
    """What one burner gets for one gas, pressure and altitude."""
    return {
        "gas": row.gas,
        "supply": row.supply,
        "pressure_mbar": row.gauge_pressure_Pa / 100.0,
        "pressure_low_mbar": None if row.low_Pa is None else row.low_Pa / 100.0,
        "pressure_high_mbar": None if row.high_Pa is None else row.high_Pa / 100.0,
        "altitude_m": row.altitude_m,
        "pressure_couple": row.couple or None,
        "sized_on": row.sized_on,
        "burner": row.burner,
        "count": row.count,
        "injector_mark": row.mark,
        "exact_diameter_mm": row.exact_m * 1e3,
        "heat_input_gross_kW": row.heat_input_gross_W / 1e3,
        "heat_input_net_kW": row.heat_input_net_W / 1e3,
        "deviation_percent": 100.0 * row.deviation,
        "mass_flow_g_per_h": row.mass_flow_kg_per_s * 3.6e6,
        "volume_flow_L_per_h": row.volume_flow_m3_per_s * 3.6e6,
        "drill": row.drill,
        "drill_deviation_percent": 100.0 * row.drill_deviation,
    }


def policy_marks(row: PolicyMarks) -> dict[str, Any]:
    """Injector marks of every burner under an altitude policy."""
    return {
        "supply": row.supply,
        "altitude_m": row.altitude_m,
        "policy": row.policy or None,
        "rating_factor": row.factor,
        "why_none": row.why or None,
        "injector_marks": list(row.marks),
    }


def spread_row(spread: InputSpread) -> dict[str, Any]:
    """How one heat input spreads."""
    return {
        "name": spread.name,
        "count": spread.count,
        "aim_gross_kW": spread.aim_W / 1e3,
        "nominal_gross_kW": spread.nominal_W / 1e3,
        "mean_gross_kW": spread.mean_W / 1e3,
        "standard_deviation_kW": spread.sd_W / 1e3,
        "linear_standard_deviation_kW": spread.linear_sd_W / 1e3,
        "low_2p5_percent_gross_kW": spread.low_W / 1e3,
        "high_97p5_percent_gross_kW": spread.high_W / 1e3,
        "share_below_percent": 100.0 * spread.share_below,
        "share_above_percent": 100.0 * spread.share_above,
        "share_outside_percent": 100.0 * spread.share_outside,
        "dominant_cause": spread.dominant,
    }
