"""Primary air of a burner as built, with the band its coefficients leave.

For the band each coefficient is moved alone to the end of its spread that gives less, or more, air; the changes are
added in quadrature, as of independent causes. A burner with all of them at their worst lies outside it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.arrays import Array, Numbers, array
from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, EvaluationOptions, Surroundings
from burnerlab.burner.coefficients import Coefficient, coefficients
from burnerlab.burner.entrainment import (
    Jet,
    MixingTube,
    ShutterArea,
    air_per_gas,
    shutter_area,
)
from burnerlab.tables import End

OPPOSITE: dict[End, End] = {"low": "high", "value": "value", "high": "low"}

CAUSES = ("orifice", "tube", "ports", "inlet", "theory", "hot")
"""What the band of the primary air comes from."""

LEAST_THROAT = 2.0  # times the holes, where a mixing tube begins to draw
MOST_THROAT = 3.0  # times the ports: the best throat without a shutter is below Cd sqrt(1 + C_L) of them

NO_THROAT = "the throat of the mixing tube is not given"
CHOKED = "the momentum balance holds for jets below the speed of sound"


@dataclass(frozen=True, slots=True, kw_only=True)
class AirDrawn:
    """Primary aeration, primary over stoichiometric air, with its band; arrays over the cases."""

    aeration: Array
    low: Array
    high: Array
    origin: str  # how it was come by
    why_not: str = ""  # why it is nan, where it is


def primary_air(
    geometry: BurnerGeometry,
    fuel: BurnerFuel,
    place: Surroundings,
    asked: EvaluationOptions,
    choked: NDArray[np.bool_],
) -> AirDrawn:
    """Primary aeration of a burner: given, or from the momentum balance with its worst-case band.

    choked : where the jet is at the speed of sound, and no air is told
    Source: burner-momentum, burner-lawn for the spread of the theory, burner-hot-test for hot burners.
    """
    if asked.aeration is not None:
        given = array(asked.aeration)
        return AirDrawn(aeration=given, low=given, high=given, origin="given")
    if geometry.throat_m is None:
        unknown = array(np.nan)
        return AirDrawn(
            aeration=unknown, low=unknown, high=unknown, origin="not evaluated", why_not=NO_THROAT
        )
    drawn = drawn_air_per_gas(geometry, fuel.relative_density, place, asked)
    ends = _band(drawn, geometry, fuel.relative_density, place, asked) if asked.band else ()
    value, *band = (np.where(choked, np.nan, end) / fuel.stoichiometric_air for end in (drawn, *ends))
    low, high = band or (value, value)
    why = CHOKED if bool(np.any(choked)) else ""
    return AirDrawn(aeration=value, low=low, high=high, origin="momentum balance", why_not=why)


def _band(
    value: Array,
    geometry: BurnerGeometry,
    relative_density: Numbers,
    place: Surroundings,
    asked: EvaluationOptions,
) -> tuple[Array, Array]:
    """Ends of the band of the air per gas."""
    causes = [cause for cause in CAUSES if asked.hot or cause != "hot"]

    def change(side: End) -> Array:
        moved = (
            drawn_air_per_gas(geometry, relative_density, place, asked, {cause: side}) - value
            for cause in causes
        )
        return np.sqrt(sum(one**2 for one in moved))

    return np.maximum(value - change("low"), 0.0), np.maximum(value + change("high"), 0.0)


def drawn_air_per_gas(
    geometry: BurnerGeometry,
    relative_density: Numbers,
    place: Surroundings,
    asked: EvaluationOptions,
    moved: Mapping[str, End] = MappingProxyType({}),
) -> Array:
    """Air per gas [m3/m3].

    relative_density : of the gas [-]
    moved : causes of CAUSES and the side of the air, low or high, they are moved to
    """
    table = coefficients(asked.own)
    jet, tube = jet_and_tube(geometry, relative_density, place, asked, moved)
    theory = table["entrainment theory"].at(moved.get("theory", "value"))
    hot = table["hot factor"].at(moved.get("hot", "value")) if asked.hot else 1.0
    return air_per_gas(jet, tube) * theory * hot


def shutter_for(
    geometry: BurnerGeometry,
    fuel: BurnerFuel,
    place: Surroundings,
    asked: EvaluationOptions,
    aeration: Numbers,
) -> ShutterArea:
    """Open area of the shutter at which a burner draws a primary aeration; the full area where that is not enough.

    geometry : with the area of the shutter fully open; aeration : wanted primary aeration, above 0 [-]
    The coefficients stand at their nominal values: a setting to start from, found again on the bench by the flame.
    Source: burner-momentum.
    """
    table = coefficients(asked.own)
    jet, tube = jet_and_tube(replace(geometry, shutter_opening=1.0), fuel.relative_density, place, asked)
    corrected = table["entrainment theory"].value * (table["hot factor"].value if asked.hot else 1.0)
    return shutter_area(jet, tube, array(aeration) * fuel.stoichiometric_air / corrected)


@dataclass(frozen=True, slots=True, kw_only=True)
class BestThroat:
    """The throat that draws the most air into a burner's ports through its shutter, and what it draws."""

    diameter_m: float
    aeration: float  # primary air over stoichiometric air [-]


def best_throat(
    geometry: BurnerGeometry, fuel: BurnerFuel, place: Surroundings, asked: EvaluationOptions
) -> BestThroat:
    """Throat of most air by the whole momentum balance: tube, ports, and the shutter as far open as the geometry says.

    geometry : of one burner, its throat a start that is not used
    The curve is flat at its top: a tenth of the diameter costs about a point. Source: burner-momentum.
    """
    from scipy.optimize import minimize_scalar

    holes = float(np.asarray(geometry.hole_area_m2))
    ports = float(np.asarray(geometry.port_area_m2))
    span = math.log(LEAST_THROAT * holes), math.log(MOST_THROAT * max(ports, holes))

    def less_air(log_area: float) -> float:
        throat = math.sqrt(4.0 / math.pi * math.exp(log_area))
        tried = replace(geometry, throat_m=throat)
        return -float(drawn_air_per_gas(tried, fuel.relative_density, place, asked))

    found = minimize_scalar(less_air, bounds=span, method="bounded", options={"xatol": 1e-5})
    return BestThroat(
        diameter_m=math.sqrt(4.0 / math.pi * math.exp(float(found.x))),
        aeration=-float(found.fun) / float(np.asarray(fuel.stoichiometric_air)),
    )


def jet_and_tube(
    geometry: BurnerGeometry,
    relative_density: Numbers,
    place: Surroundings,
    asked: EvaluationOptions,
    moved: Mapping[str, End] = MappingProxyType({}),
) -> tuple[Jet, MixingTube]:
    """Jet and mixing tube of a burner.

    The measured hot correction is on the air of the cold burner: with it the ports count as cold.
    """
    table = coefficients(asked.own)
    end = {cause: moved.get(cause, "value") for cause in CAUSES}
    port_K = None if asked.hot else geometry.port_temperature_K
    jet = Jet(
        effective_area_m2=_orifice_coefficient(
            geometry, table["injector discharge spread"], OPPOSITE[end["orifice"]]
        )
        * geometry.hole_area_m2,
        hole_area_m2=geometry.hole_area_m2,
        relative_density=relative_density,
    )
    shutter = geometry.shutter_area_m2
    tube = MixingTube(
        throat_area_m2=geometry.throat_area_m2,
        port_area_m2=geometry.port_area_m2,
        port_discharge=_port_discharge(geometry, end["ports"], asked.own),
        loss=_given(geometry.tube_loss, table["throat loss"], OPPOSITE[end["tube"]]),
        temperature_ratio=1.0 if port_K is None else array(port_K) / array(place.air_temperature_K),
        inlet_area_m2=None if shutter is None else array(shutter) * array(geometry.shutter_opening),
        inlet_loss=_given(geometry.inlet_loss, table["inlet loss"], OPPOSITE[end["inlet"]]),
    )
    return jet, tube


def _given(given: Numbers | None, usual: Coefficient, end: End) -> Array:
    """What the geometry gives, without a spread, or the table's."""
    return array(usual.at(end) if given is None else given)


def _orifice_coefficient(geometry: BurnerGeometry, spread: Coefficient, end: End) -> Array:
    nominal = array(geometry.orifice_coefficient)
    ends = {"low": geometry.orifice_coefficient_low, "high": geometry.orifice_coefficient_high, "value": None}
    found = ends[end]
    return nominal * spread.at(end) if found is None else array(found)


def _port_discharge(geometry: BurnerGeometry, end: End, own: Path | None) -> Array:
    """Discharge of the ports: given, or between that of thin and of deep ones by their depth."""
    if geometry.port_discharge is not None:
        return array(geometry.port_discharge)
    table = coefficients(own)
    if geometry.port_depth_m is None:
        return array(table["port discharge, unknown depth"].at(end))
    thin, deep = table["port discharge, thin"].at(end), table["port discharge, deep"].at(end)
    begins, ends = table["deep port"].low, table["deep port"].high
    depth = array(geometry.port_depth_m) / array(geometry.port_width_m)
    return thin + (deep - thin) * np.clip((depth - begins) / (ends - begins), 0.0, 1.0)
