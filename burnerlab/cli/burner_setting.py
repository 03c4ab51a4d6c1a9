"""What ``burnerlab burner`` tells of settings: the shutter opening of a wanted aeration, the throat, secondary air."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from burnerlab.burner.tile_evaluate import Band
from burnerlab.cli.output import number
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output

if TYPE_CHECKING:
    from burnerlab.burner.state import BurnerState


@dataclass(frozen=True, slots=True, kw_only=True)
class Throats:
    """The throat as built and those of most air, the shutter as it is set and fully open."""

    throat_m: float | None = field(default=None, metadata=output("throat", Kind.LENGTH))
    best_throat_m: float | None = field(default=None, metadata=output("throat of most air", Kind.LENGTH))
    best_throat_aeration: float | None = field(default=None, metadata=output("its air", Kind.FRACTION))
    best_throat_open_m: float | None = field(
        default=None, metadata=output("throat of most air, shutter open", Kind.LENGTH)
    )
    best_throat_open_aeration: float | None = field(
        default=None, metadata=output("its air, shutter open", Kind.FRACTION)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterTarget:
    """The opening of the shutter that gives a wanted aeration, and the air there."""

    aeration: float = field(metadata=output("wanted", Kind.FRACTION))
    words: str = field(metadata=output("in words"))
    opening: float | None = field(default=None, metadata=output("opening", Kind.FRACTION))
    reached: bool | None = field(default=None, metadata=output("reached"))
    aeration_there: Band | None = field(
        default=None, metadata=output("air there", Kind.FRACTION, is_band=True)
    )


def throats(state: BurnerState) -> Throats:
    """The throats of a burner; without figures where it has none."""
    from burnerlab.burner.drawn import best_throat

    if state.geometry.throat_m is None or np.isnan(state.primary_aeration):
        return Throats()
    geometry, rest = state.geometry, (state.fuel, state.surroundings, state.options)
    here = best_throat(geometry, *rest)
    wide = best_throat(replace(geometry, shutter_opening=1.0), *rest)
    return Throats(
        throat_m=float(np.asarray(geometry.throat_m)),
        best_throat_m=here.diameter_m,
        best_throat_aeration=here.aeration,
        best_throat_open_m=wide.diameter_m,
        best_throat_open_aeration=wide.aeration,
    )


def shutter_target(state: BurnerState | None, wanted: float) -> ShutterTarget:
    """The opening that gives the aeration asked for, with the band of the air there."""
    from burnerlab.burner.drawn import primary_air, shutter_for

    if state is None or state.geometry.shutter_area_m2 is None or np.isnan(state.primary_aeration):
        why = "needs ports, throat and the area of the air shutter fully open"
        return ShutterTarget(aeration=wanted, words=why)
    geometry, place, options = state.geometry, state.surroundings, state.options
    best = shutter_for(geometry, state.fuel, place, options, wanted)
    share = float(best.area_m2 / np.asarray(geometry.shutter_area_m2))
    air = primary_air(
        replace(geometry, shutter_opening=share), state.fuel, place, options, np.zeros((), dtype=bool)
    )
    there = Band(value=float(air.aeration), low=float(air.low), high=float(air.high))
    ends = f"({100 * there.low:.0f} to {100 * there.high:.0f})"
    words = (
        f"shutter {100 * share:.0f} % open for {100 * wanted:.0f} % primary air {ends}; set it by the flame"
        if best.reached
        else f"{100 * wanted:.0f} % primary air is not reached: {100 * there.value:.0f} % {ends}"
        " with the shutter fully open"
    )
    return ShutterTarget(
        aeration=wanted,
        words=words,
        opening=share if best.reached else None,
        reached=bool(best.reached),
        aeration_there=there,
    )


def setting_lines(burner: dict[str, Any]) -> Iterator[str]:
    """Throat, secondary air and the opening asked for, in words."""
    from burnerlab.appliance.burner_kind import BurnerKind

    if BurnerKind(burner["kind"]).traits.is_radiant:
        return
    if burner.get("best_throat_mm"):
        yield _throat(burner)
    if (burner.get("secondary_air_m3_per_h") or 0.0) > 0.0:  # not where the primary air is unknown
        air = number(burner["secondary_air_m3_per_h"], 2)
        opening = float(f"{burner['secondary_opening_mm2']:.2g}")
        yield f"secondary air about {air} m3/h: {opening:.0f} mm2 of opening at 1 ft/s, within half to double"
    if "shutter_target" in burner:
        yield burner["shutter_target"]["words"]


def _throat(burner: dict[str, Any]) -> str:
    """The throats of most air beside the one as built, on a curve that is flat there."""
    best, wide = (
        f"{number(burner[f'{key}_mm'], 3)} mm would draw the most air, {burner[f'{key}_aeration_percent']:.0f} %"
        for key in ("best_throat", "best_throat_open")
    )
    now = f"throat {number(burner['throat_mm'], 3)} mm"
    if burner["best_throat_mm"] == burner["best_throat_open_mm"]:
        return f"{now}; {best} (calculated, indicative)"
    return f"{now}; with the shutter as it is {best}; fully open {wide} (calculated, indicative)"
