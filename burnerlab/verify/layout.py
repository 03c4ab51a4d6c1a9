"""Measures of the layout study: view factors, ripple, radiosity, plumes, flames, skins."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from burnerlab.layout import hot_panels, plume
from burnerlab.layout import view_factors as vf
from burnerlab.layout.heat_map import evenness
from burnerlab.layout.radiation import between_plates_W_per_m2, exchange

Given = Mapping[str, Any]


def _rectangle(sides: list[float]) -> vf.Rectangle:
    x1, x2, y1, y2 = sides
    return vf.Rectangle(x1=x1, x2=x2, y1=y1, y2=y2)


def opposed(given: Given) -> float:
    """View factor between opposed equal rectangles."""
    return float(vf.opposed_rectangles(given["a"], given["b"], given["c"]))


def perpendicular(given: Given) -> float:
    """View factor between perpendicular rectangles with a common edge."""
    return float(vf.perpendicular_rectangles(given["w"], given["h"], given["l"]))


def offset(given: Given) -> float:
    """View factor between offset parallel rectangles."""
    return float(vf.parallel_rectangles(_rectangle(given["first"]), _rectangle(given["second"]), given["z"]))


def standing(given: Given) -> float:
    """View factor between perpendicular rectangles anywhere."""
    return float(vf.standing_rectangles(_rectangle(given["base"]), _rectangle(given["wall"])))


def element_parallel(given: Given) -> float:
    """View factor from a plane element to a parallel rectangle."""
    x1, x2, y1, y2 = given["sides"]
    return float(vf.element_to_parallel(x1, x2, y1, y2, given["gap"]))


def element_standing(given: Given) -> float:
    """View factor from a plane element to a perpendicular rectangle."""
    left, right, low, high = given["sides"]
    return float(vf.element_to_standing(left, right, low, high, given["away"]))


def element_tube(given: Given) -> float:
    """View factor from a plane element to a finite thin tube."""
    return float(vf.element_to_tube(given["x"], given["y"], given["z"], given["length"], given["r"]))


def element_long_tube(given: Given) -> float:
    """View factor from a strip element to an infinite tube."""
    return float(vf.element_to_long_tube(given["x"], given["L"], given["r"]))


def strip_tube(given: Given) -> float:
    """View factor from an infinite strip to an infinite tube."""
    return float(vf.strip_to_long_tube(given["a"], given["b"], given["L"], given["r"]))


def tube_strip(given: Given) -> float:
    """View factor from an infinite tube to an infinite strip."""
    return float(vf.long_tube_to_strip(given["a"], given["b"], given["L"]))


def strips(given: Given) -> float:
    """View factor between infinite opposed strips."""
    return float(vf.opposed_strips(given["w"], given["h"]))


def hinged(given: Given) -> float:
    """View factor between infinite strips with a common edge."""
    return float(vf.hinged_strips(np.radians(given["degrees"])))


def tube_row(given: Given) -> float:
    """View factor from a plane to a row of tubes."""
    return float(vf.plane_to_tube_row(given["pitch_over_diameter"]))


def long_tubes(given: Given) -> float:
    """View factor between infinite parallel tubes."""
    return float(vf.parallel_long_tubes(given["S"], given["D"]))


def discs(given: Given) -> float:
    """View factor between discs on one axis."""
    return float(vf.opposed_discs(given["r1"], given["r2"], given["h"]))


def flux_ripple(given: Given) -> float:
    """Largest over smallest flux under an endless row of long tubes."""
    return float(vf.ripple(given["height_over_pitch"]))


def three_tubes(given: Given) -> float:
    """Evenness over three long tubes by their direct radiation."""
    x = (np.arange(2000) + 0.5) / 2000 * given["width_m"] - given["width_m"] / 2
    at = np.array([-1.0, 0.0, 1.0]) * given["pitch_m"]
    found = evenness(vf.element_to_long_tube(x[:, None] - at, given["height_m"], 0.01).sum(axis=1))
    return found.max_over_min if given["what"] == "max over min" else 100 * found.coefficient_of_variation


def bell(given: Given) -> float:
    """Largest over smallest of an endless row of Gaussian plumes."""
    return float(plume.bell_ripple(given["half_width_over_pitch"]))


def plates(given: Given) -> float:
    """Radiation between wide plates, with shields."""
    e1, e2 = given["emissivity"]
    hot, cold = given["temperature_K"]
    return float(between_plates_W_per_m2(hot, cold, e1, e2, given.get("shields", ())))


def two_plates(given: Given) -> float:
    """Net flux of opposed square plates open to a black room."""
    F = float(vf.opposed_rectangles(1.0, 1.0, given["gap"]))
    matrix = [[0.0, F, 1 - F], [F, 0.0, 1 - F], [0.0, 0.0, 0.0]]
    found = exchange(matrix, [*given["emissivity"], 1.0], given["temperature_K"])
    values = found.radiosity_W_per_m2 if given["what"] == "radiosity" else found.net_W_per_m2
    return float(values[given["plate"]])


def line_plume(given: Given) -> float:
    """Temperature rise of a free line plume."""
    return float(plume.line_plume_rise_K(1e3 * given["kW_per_m"], given["z_m"], given.get("z0_m", 0.0)))


def round_plume(given: Given) -> float:
    """Axis temperature of a round fire plume."""
    Q, diameter = given["kW"], np.sqrt(4 * given["area_m2"] / np.pi)
    origin = 0.083 * Q**0.4 - 1.02 * diameter
    T = given["ambient_C"] + 273.15
    rise = plume.round_plume_rise_K(1e3 * Q * (1 - given["radiative"]), given["z_m"], origin, T)
    return float(given["ambient_C"] + rise)


def flame_height(given: Given) -> float:
    """Height of a line flame without primary air."""
    return float(plume.line_flame_height_m(1e3 * given["kW_per_m"]))


def upright_plate(given: Given) -> float:
    """Nusselt number of an upright plate."""
    return float(hot_panels.upright_plate_nusselt(given["rayleigh"]))


def level_plate(given: Given) -> float:
    """Nusselt number of a hot level plate facing up."""
    return float(hot_panels.level_plate_nusselt(given["rayleigh"]))


def level_gap(given: Given) -> float:
    """Nusselt number of a level gap heated from below."""
    return float(hot_panels.level_gap_nusselt(given["rayleigh"]))


def air_conductivity(given: Given) -> float:
    """Thermal conductivity of air."""
    return float(hot_panels.air(given["temperature_K"]).conductivity_W_per_mK)


def air_viscosity(given: Given) -> float:
    """Kinematic viscosity of air."""
    return float(hot_panels.air(given["temperature_K"]).kinematic_viscosity_m2_per_s)


MEASURES: dict[str, Callable[[Given], float]] = {
    "view factor opposed rectangles": opposed,
    "view factor perpendicular rectangles": perpendicular,
    "view factor offset rectangles": offset,
    "view factor standing rectangles": standing,
    "view factor element to parallel rectangle": element_parallel,
    "view factor element to standing rectangle": element_standing,
    "view factor element to tube": element_tube,
    "view factor element to long tube": element_long_tube,
    "view factor strip to tube": strip_tube,
    "view factor tube to strip": tube_strip,
    "view factor opposed strips": strips,
    "view factor hinged strips": hinged,
    "view factor tube row": tube_row,
    "view factor parallel tubes": long_tubes,
    "view factor discs": discs,
    "flux ripple": flux_ripple,
    "three tubes": three_tubes,
    "plume ripple": bell,
    "plates with shields": plates,
    "two plates open to a room": two_plates,
    "line plume rise": line_plume,
    "round plume temperature": round_plume,
    "line flame height": flame_height,
    "natural convection upright plate": upright_plate,
    "natural convection level plate": level_plate,
    "natural convection level gap": level_gap,
    "air conductivity": air_conductivity,
    "air kinematic viscosity": air_viscosity,
}
