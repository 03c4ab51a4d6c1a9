"""What ``burnerlab burner`` tells of settings: the shutter opening of a wanted aeration, the throat, secondary air."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from burnerlab.cli.output import number

if TYPE_CHECKING:
    from burnerlab.burner.state import BurnerState


def throat_json(state: BurnerState) -> dict[str, Any]:
    """The throat as built and those of most air, the shutter as it is set and fully open; null without a throat."""
    from burnerlab.burner.drawn import best_throat

    keys = (
        "throat_mm",
        "best_throat_mm",
        "best_throat_aeration",
        "best_throat_open_mm",
        "best_throat_open_aeration",
    )
    if state.geometry.throat_m is None or np.isnan(state.primary_aeration):
        return dict.fromkeys(keys)
    geometry, rest = state.geometry, (state.fuel, state.surroundings, state.options)
    here = best_throat(geometry, *rest)
    wide = best_throat(replace(geometry, shutter_opening=1.0), *rest)
    figures = (here.diameter_m * 1e3, here.aeration, wide.diameter_m * 1e3, wide.aeration)
    return dict(zip(keys, (1e3 * float(np.asarray(geometry.throat_m)), *figures), strict=True))


def target_json(state: BurnerState | None, wanted: float | None) -> dict[str, Any]:
    """The opening that gives the aeration asked for, with the band of the air there; nothing where none is asked."""
    from burnerlab.burner.drawn import primary_air, shutter_for

    if wanted is None:
        return {}
    if state is None or state.geometry.shutter_area_m2 is None or np.isnan(state.primary_aeration):
        why = "needs ports, throat and the area of the air shutter fully open"
        return {
            "shutter_target": {"aeration": wanted, "opening_percent": None, "reached": None, "words": why}
        }
    geometry, place, asked = state.geometry, state.surroundings, state.options
    found = shutter_for(geometry, state.fuel, place, asked, wanted)
    share = float(found.area_m2 / np.asarray(geometry.shutter_area_m2))
    air = primary_air(
        replace(geometry, shutter_opening=share), state.fuel, place, asked, np.zeros((), dtype=bool)
    )
    reached, band = bool(found.reached), (float(air.low), float(air.high))
    ends = f"({100 * band[0]:.0f} to {100 * band[1]:.0f})"
    words = (
        f"shutter {100 * share:.0f} % open for {100 * wanted:.0f} % primary air {ends}; set it by the flame"
        if reached
        else f"{100 * wanted:.0f} % primary air is not reached: {100 * float(air.aeration):.0f} % {ends}"
        " with the shutter fully open"
    )
    return {
        "shutter_target": {
            "aeration": wanted,
            "opening_percent": 100 * share if reached else None,
            "reached": reached,
            "aeration_there": float(air.aeration),
            "aeration_band_there": band,
            "words": words,
        }
    }


def setting_lines(burner: dict[str, Any]) -> Iterator[str]:
    """Throat, secondary air and the opening asked for, in words."""
    from burnerlab.appliance.burner_kind import BurnerKind

    if BurnerKind(burner["kind"]).traits.is_radiant:
        return
    if burner.get("best_throat_mm"):
        yield _throat(burner)
    if burner.get("secondary_air_m3_per_h", 0.0) > 0.0:  # not where the primary air is unknown
        air = number(burner["secondary_air_m3_per_h"], 2)
        opening = float(f"{burner['secondary_opening_mm2']:.2g}")
        yield f"secondary air about {air} m3/h: {opening:.0f} mm2 of opening at 1 ft/s, within half to double"
    if "shutter_target" in burner:
        yield burner["shutter_target"]["words"]


def _throat(burner: dict[str, Any]) -> str:
    """The throats of most air beside the one as built, on a curve that is flat there."""
    best, wide = (
        f"{number(burner[f'{key}_mm'], 3)} mm would draw the most air, {100 * burner[f'{key}_aeration']:.0f} %"
        for key in ("best_throat", "best_throat_open")
    )
    now = f"throat {number(burner['throat_mm'], 3)} mm"
    if burner["best_throat_mm"] == burner["best_throat_open_mm"]:
        return f"{now}; {best} (calculated, indicative)"
    return f"{now}; with the shutter as it is {best}; fully open {wide} (calculated, indicative)"
