"""A conversion as one JSON object whose keys carry their units."""

from __future__ import annotations

from typing import Any

from burnerlab.appliance.gasfacts import GasUsed
from burnerlab.appliance.result import (
    BurnerConversion,
    Conversion,
    DrillChoice,
    Finding,
    Headline,
)
from burnerlab.quantity import Kind, document, in_unit
from burnerlab.report.altitude import altitude_json
from burnerlab.report.couple import couple_json
from burnerlab.report.json_evaluated import evaluation_json
from burnerlab.report.numbers import BORE, POWER, VOLUME_FLOW
from burnerlab.report.outside import outside_checks, outside_lines
from burnerlab.report.wording import STATEMENT, file_name
from burnerlab.tables.cautions import cautions

HOUR_s = 3600.0


def _to(value: float | None, size: float) -> float | None:
    return None if value is None else value / size


def to_json(c: Conversion) -> dict[str, Any]:
    """Every figure of a conversion; the heat inputs of a burner are for one of its kind.

    A value that was not evaluated is null, never NaN.
    """
    return {
        "appliance": c.appliance,
        "model": c.model,
        "rating_basis": c.rating_basis,
        "file": file_name(c.file),
        "file_sha256": c.file_sha256,
        "version": c.version,
        "reference": c.reference,
        "from_gas": _gas(c.from_gas),
        "to_gas": _gas(c.to_gas),
        "from_pressure_gauge_mbar": c.from_pressure_Pa / 100,
        "to_pressure_gauge_mbar": c.to_pressure_Pa / 100,
        "to_pressure_low_gauge_mbar": _to(c.to_pressure_low_Pa, 100),
        "to_pressure_high_gauge_mbar": _to(c.to_pressure_high_Pa, 100),
        "pressure_range_source": c.pressure_range_source,
        "category": c.category,
        "supply_of_new_gas": c.new_train or None,
        "from_altitude_m": c.from_altitude_m,
        "from_ambient_pressure_kPa": c.from_ambient_pressure_Pa / 1e3,
        "altitude_m": c.altitude_m,
        "ambient_pressure_kPa": c.ambient_pressure_Pa / 1e3,
        "gas_temperature_C": in_unit(c.gas_temperature_K, Kind.TEMPERATURE, "°C"),
        "altitude_policy": c.altitude_policy,
        "altitude_policy_factor": c.altitude_policy_factor,
        "altitude": altitude_json(c.altitude),
        "pressure_couple": couple_json(c.couple),
        "pressure_couples_beside": list(c.couples_beside),
        "region": c.region or None,
        "tolerance_low_percent": 100 * c.tolerance_low,
        "tolerance_percent": 100 * c.tolerance,
        "tolerance_source": c.tolerance_source,
        "drill_list": c.drill_list,
        "outside": list(outside_lines(c)),
        "burners": [_burner(b) | {"outside_checks": list(outside_checks(c, b))} for b in c.burners],
        "total_rate_gross_kW": c.total_rate_gross_W / 1e3,
        "total_predicted_gross_kW": c.total_predicted_gross_W / 1e3,
        "total": _headline(c.headline),
        "total_deviation_from_rating_percent": 100
        * (c.headline.heat_input_gross_W / c.total_rate_gross_W - 1),
        "total_predicted_net_kW": c.total_predicted_net_W / 1e3,
        "total_predicted_gross_Btu_per_h": POWER.US.of(c.total_predicted_gross_W),
        "total_mass_flow_kg_per_h": c.total_mass_flow_kg_per_s * HOUR_s,
        "total_volume_flow_m3_per_h": c.total_volume_flow_m3_per_s * HOUR_s,
        "total_volume_flow_ft3_per_h": VOLUME_FLOW.US.of(c.total_volume_flow_m3_per_s),
        "assumed_primary_aeration": c.assumed_primary_aeration,
        **evaluation_json(c.evaluation),
        "findings": [_finding(f) for f in c.findings],
        "not_evaluated": [{"topic": n.topic, "burner": n.burner, "why": n.why} for n in c.not_evaluated],
        "what_else_must_change": list(c.prompts),
        "worked": [{"what": w, "formula": f, "numbers": n} for w, f, n in c.worked],
        "statement": STATEMENT,
        "cautions": [one.as_json() for one in cautions()],
        "sources": list(c.sources),
        "notes": list(c.notes),
    }


def _burner(b: BurnerConversion) -> dict[str, Any]:
    return {
        "name": b.name,
        "kind": b.kind,
        "count": b.count,
        "rate_gross_kW": b.rate_gross_W / 1e3,
        "rate_net_kW": b.rate_net_W / 1e3,
        "from_rate_gross_kW": b.from_rate_gross_W / 1e3,
        "aim_gross_kW": b.aim_gross_W / 1e3,
        "turndown": b.turndown,
        "low_rate_gross_kW": _to(b.low_rate_gross_W, 1e3),
        "coefficient": b.coefficient,
        "coefficient_source": b.coefficient_source,
        "from_orifice_mm": b.from_orifice_m * 1e3,
        "from_drill": b.from_drill or None,
        "from_predicted_gross_kW": b.from_predicted_gross_W / 1e3,
        "to_orifice_mm": b.to_orifice_m * 1e3,
        "to_orifice_in": BORE.US.of(b.to_orifice_m),
        "drill": b.choice.drill,
        "drill_diameter_mm": b.choice.diameter_m * 1e3,
        "choices": [_choice(d) for d in b.choices],
        "no_drill_meets": b.no_drill_meets or None,
        "orifice_count": b.orifice_count,
        "diameter_ratio": b.taken_area_ratio**0.5,
        "area_ratio": b.taken_area_ratio,
        "predicted_gross_kW": b.predicted_gross_W / 1e3,
        "predicted_gross_Btu_per_h": POWER.US.of(b.predicted_gross_W),
        "predicted_net_kW": b.predicted_net_W / 1e3,
        "predicted_low_gross_kW": _to(b.predicted_low_W, 1e3),
        "predicted_high_gross_kW": _to(b.predicted_high_W, 1e3),
        "drill_deviation_percent": 100 * b.drill_deviation,
        **_headline(b.headline),
        **_air(b),
        "mass_flow_kg_per_h": b.mass_flow_kg_per_s * HOUR_s,
        "volume_flow_m3_per_h": b.volume_flow_m3_per_s * HOUR_s,
        "choked": b.choked,
    }


def _headline(at: Headline) -> dict[str, Any]:
    """The figures a sheet is read for: the worse case, both cases, the interval as made, verdict and evidence."""
    return {
        "heat_input_gross_kW": at.heat_input_gross_W / 1e3,
        "deviation_case": at.case,
        "deviation_percent": 100 * at.deviation,
        "deviation_low_percent": _to(at.low, 0.01),
        "deviation_high_percent": _to(at.high, 0.01),
        "deviation_all_on_percent": _to(at.all_on, 0.01),
        "deviation_alone_percent": _to(at.alone, 0.01),
        "verdict": at.verdict,
        "evidence": at.evidence,
    }


def _air(b: BurnerConversion) -> dict[str, float | None]:
    per_hour = 1 / HOUR_s
    return {
        "stoichiometric_air_m3_per_h": _to(b.to_air_m3_per_s, per_hour),
        "from_stoichiometric_air_m3_per_h": _to(b.from_air_m3_per_s, per_hour),
        "stoichiometric_air_kg_per_h": _to(b.to_air_kg_per_s, per_hour),
        "from_stoichiometric_air_kg_per_h": _to(b.from_air_kg_per_s, per_hour),
        "air_to_gas_ratio_change": b.air_to_gas_ratio_change,
        "primary_air_change": b.primary_air_change,
        "primary_aeration_before": b.primary_aeration_before,
        "primary_aeration_after": b.primary_aeration_after,
    }


def _choice(d: DrillChoice) -> dict[str, Any]:
    return {
        "drill": d.drill,
        "diameter_mm": d.diameter_m * 1e3,
        "heat_input_gross_kW": d.heat_input_gross_W / 1e3,
        "heat_input_net_kW": d.heat_input_net_W / 1e3,
        "deviation_percent": 100 * d.deviation,
        "drill_tolerance_low_gross_kW": d.low_W / 1e3,
        "drill_tolerance_high_gross_kW": d.high_W / 1e3,
    }


def _finding(f: Finding) -> dict[str, Any]:
    limits = None if f.low is None and f.high is None else [f.low, f.high]
    return {
        "topic": f.topic,
        "burner": f.burner,
        "verdict": f.verdict,
        "text": f.text,
        "value": f.value,
        "unit": f.unit,
        "interval": None if f.value_low is None else [f.value_low, f.value_high],
        "range": limits,
        "source": f.source,
        "evidence": f.evidence,
        "which_gas": f.which or None,
    }


def _gas(g: GasUsed) -> dict[str, Any]:
    flame = g.adiabatic_flame_temperature_K
    return {
        "name": g.name,
        "title": g.title,
        "kind": g.kind,
        "composition_mole_fraction": dict(g.composition),
        "gross_wobbe_MJ_per_m3": g.gross_wobbe_J_per_m3 / 1e6,
        "net_wobbe_MJ_per_m3": g.net_wobbe_J_per_m3 / 1e6,
        "gross_heating_value_MJ_per_m3": g.gross_heating_value_J_per_m3 / 1e6,
        "net_heating_value_MJ_per_m3": g.net_heating_value_J_per_m3 / 1e6,
        "gross_heating_value_MJ_per_kg": g.gross_heating_value_J_per_kg / 1e6,
        "net_heating_value_MJ_per_kg": g.net_heating_value_J_per_kg / 1e6,
        "relative_density": g.relative_density,
        "density_kg_per_m3": g.density_kg_per_m3,
        "stoichiometric_air_m3_per_m3": g.stoichiometric_air_m3_per_m3,
        "stoichiometric_air_mol_per_mol": g.stoichiometric_air_mol_per_mol,
        "ultimate_CO2_percent": None if g.ultimate_CO2 is None else 100 * g.ultimate_CO2,
        "adiabatic_flame_temperature_K": flame,
        "family": g.family,
        "source": g.source,
    }


def json_text(c: Conversion) -> str:
    """The JSON file of a conversion."""
    return document.json_text("convert", to_json(c))
