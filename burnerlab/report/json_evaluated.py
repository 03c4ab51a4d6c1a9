"""What was evaluated beyond the orifices, as JSON whose keys carry their units."""

from __future__ import annotations

from typing import Any

from burnerlab.appliance.evaluated import (
    Band,
    BurnerFlames,
    Evaluation,
    Exchange,
    FlameAt,
    Pressures,
    ShutterSetting,
    TileAt,
)
from burnerlab.tables.evidence import Evidence

ZERO_C_K = 273.15  # definition of the Celsius scale


def evaluation_json(found: Evaluation | None) -> dict[str, Any]:
    """``supply``, ``flames``, ``tiles`` and ``exchange``; no keys for a conversion that was not evaluated."""
    if found is None:
        return {}
    return {
        "supply": [_pressures(one) for one in found.pressures],
        "flames": [_flames(one) for one in found.flames],
        "tiles": [_tile(one) for one in found.tiles],
        "exchange": _exchange(found.exchange),
    }


def _pressures(one: Pressures) -> dict[str, Any]:
    return {
        "which_gas": one.which,
        "gas": one.gas,
        "nominal_pressure_gauge_mbar": one.nominal_Pa / 100,
        "manifold_pressure_all_on_gauge_mbar": one.manifold_Pa / 100,
        "burners": [
            {
                "name": at.burner,
                "pressure_all_on_gauge_mbar": at.all_on_Pa / 100,
                "pressure_alone_gauge_mbar": None if at.alone_Pa is None else at.alone_Pa / 100,
                "heat_input_all_on_gross_kW": at.all_on_gross_W / 1e3,
                "heat_input_alone_gross_kW": None if at.alone_gross_W is None else at.alone_gross_W / 1e3,
                "all_on_from_nominal_percent": 100 * at.all_on_from_nominal,
                "alone_from_nominal_percent": None
                if at.alone_from_nominal is None
                else 100 * at.alone_from_nominal,
            }
            for at in one.burners
        ],
        "largest_drop": one.binding or None,
        "largest_drop_mbar": None if one.drop_Pa is None else one.drop_Pa / 100,
        "notes": list(one.notes),
        "evidence": one.evidence,
    }


def _flames(one: BurnerFlames) -> dict[str, Any]:
    return {
        "name": one.burner,
        "kind": one.kind,
        "rates": [flame_json(at) for at in one.rates],
        "shutter": None if one.shutter is None else _shutter(one.shutter),
        "notes": list(one.notes),
        "evidence": Evidence.ESTIMATE,
    }


def flame_json(at: FlameAt) -> dict[str, Any]:
    """A burner on a gas at one rate."""
    return {
        "which_gas": at.which,
        "gas": at.gas,
        "rate": at.rate,
        "orifice_pressure_gauge_mbar": at.gauge_pressure_Pa / 100,
        "heat_input_gross_kW": at.heat_input_gross_W / 1e3,
        **_band("primary_aeration", at.aeration),
        "port_loading_W_per_mm2": at.port_loading_W_per_mm2,
        "wall_gradient_per_s": at.wall_gradient_per_s,
        **_band("lift_margin", at.lift_margin),
        **_band("light_back_margin", at.light_back_margin),
        "light_back_margin_is_at_least": at.light_back_is_at_least,
        **_band("yellow_tip_margin", at.yellow_tip_margin),
        "inner_cone_height_mm": None if at.inner_cone_height_m is None else 1e3 * at.inner_cone_height_m,
    }


def _band(key: str, band: Band | None) -> dict[str, Any]:
    return {key: band and band.value, f"{key}_band": band and [band.low, band.high]}


def _shutter(one: ShutterSetting) -> dict[str, Any]:
    return {
        "opening_percent": None if one.present is None else 100 * one.present,
        "low_percent": None if one.low is None else 100 * one.low,
        "high_percent": None if one.high is None else 100 * one.high,
        "holds": one.holds,
        "binding": list(one.binding),
        "words": one.words,
    }


def _tile(one: TileAt) -> dict[str, Any]:
    return {
        "name": one.burner,
        "which_gas": one.which,
        "gas": one.gas,
        "primary_aeration": one.aeration,
        "firing_density_net_kW_per_m2": one.firing_density_net_W_per_m2 / 1e3,
        "surface_temperature_C": one.face_K.value - ZERO_C_K,
        "surface_temperature_band_C": [one.face_K.low - ZERO_C_K, one.face_K.high - ZERO_C_K],
        "surface_temperature_ceiling_C": one.ceiling_face_K - ZERO_C_K,
        **_band("radiant_efficiency_net", one.radiant_efficiency_net),
        "radiant_efficiency_ceiling_net": one.ceiling_efficiency_net,
        "plenum_side_temperature_C": one.plenum_side_K.value - ZERO_C_K,
        "plenum_side_temperature_band_C": [
            one.plenum_side_K.low - ZERO_C_K,
            one.plenum_side_K.high - ZERO_C_K,
        ],
        "radiated_kW": one.radiated_W / 1e3,
        "lift_margin": one.lift_margin,
        "evidence": one.evidence,
    }


def _exchange(one: Exchange) -> dict[str, Any]:
    return {
        "why_not": one.why_not or None,
        "readings": [
            {
                "method": reading.method,
                "index": reading.index,
                "meaning": reading.meaning,
                "value": reading.value,
                "low": reading.low,
                "high": reading.high,
                "reading_is": reading.verdict,
                "source": reading.source,
                "note": reading.note,
            }
            for reading in one.readings
        ],
        "notes": list(one.notes),
    }
