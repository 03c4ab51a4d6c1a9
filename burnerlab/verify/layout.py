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


def opposed(inputs: Given) -> float:
    """View factor between opposed equal rectangles."""
    return float(vf.opposed_rectangles(inputs["a"], inputs["b"], inputs["c"]))


def perpendicular(inputs: Given) -> float:
    """View factor between perpendicular rectangles with a common edge."""
    return float(vf.perpendicular_rectangles(inputs["w"], inputs["h"], inputs["l"]))


def offset(inputs: Given) -> float:
    """View factor between offset parallel rectangles."""
    return float(
        vf.parallel_rectangles(_rectangle(inputs["first"]), _rectangle(inputs["second"]), inputs["z"])
    )


def standing(inputs: Given) -> float:
    """View factor between perpendicular rectangles anywhere."""
    return float(vf.standing_rectangles(_rectangle(inputs["base"]), _rectangle(inputs["wall"])))


def element_parallel(inputs: Given) -> float:
    """View factor from a plane element to a parallel rectangle."""
    x1, x2, y1, y2 = inputs["sides"]
    return float(vf.element_to_parallel(x1, x2, y1, y2, inputs["gap"]))


def element_standing(inputs: Given) -> float:
    """View factor from a plane element to a perpendicular rectangle."""
    left, right, low, high = inputs["sides"]
    return float(vf.element_to_standing(left, right, low, high, inputs["away"]))


def element_tube(inputs: Given) -> float:
    """View factor from a plane element to a finite thin tube."""
    return float(vf.element_to_tube(inputs["x"], inputs["y"], inputs["z"], inputs["length"], inputs["r"]))


def element_long_tube(inputs: Given) -> float:
    """View factor from a strip element to an infinite tube."""
    return float(vf.element_to_long_tube(inputs["x"], inputs["L"], inputs["r"]))


def strip_tube(inputs: Given) -> float:
    """View factor from an infinite strip to an infinite tube."""
    return float(vf.strip_to_long_tube(inputs["a"], inputs["b"], inputs["L"], inputs["r"]))


def tube_strip(inputs: Given) -> float:
    """View factor from an infinite tube to an infinite strip."""
    return float(vf.long_tube_to_strip(inputs["a"], inputs["b"], inputs["L"]))


def strips(inputs: Given) -> float:
    """View factor between infinite opposed strips."""
    return float(vf.opposed_strips(inputs["w"], inputs["h"]))


def hinged(inputs: Given) -> float:
    """View factor between infinite strips with a common edge."""
    return float(vf.hinged_strips(np.radians(inputs["degrees"])))


def tube_row(inputs: Given) -> float:
    """View factor from a plane to a row of tubes."""
    return float(vf.plane_to_tube_row(inputs["pitch_over_diameter"]))


def long_tubes(inputs: Given) -> float:
    """View factor between infinite parallel tubes."""
    return float(vf.parallel_long_tubes(inputs["S"], inputs["D"]))


def discs(inputs: Given) -> float:
    """View factor between discs on one axis."""
    return float(vf.opposed_discs(inputs["r1"], inputs["r2"], inputs["h"]))


def flux_ripple(inputs: Given) -> float:
    """Largest over smallest flux under an endless row of long tubes."""
    return float(vf.ripple(inputs["height_over_pitch"]))


def three_tubes(inputs: Given) -> float:
    """Evenness over three long tubes by their direct radiation."""
    x = (np.arange(2000) + 0.5) / 2000 * inputs["width_m"] - inputs["width_m"] / 2
    at = np.array([-1.0, 0.0, 1.0]) * inputs["pitch_m"]
    found = evenness(vf.element_to_long_tube(x[:, None] - at, inputs["height_m"], 0.01).sum(axis=1))
    return found.max_over_min if inputs["what"] == "max over min" else 100 * found.coefficient_of_variation


def bell(inputs: Given) -> float:
    """Largest over smallest of an endless row of Gaussian plumes."""
    return float(plume.bell_ripple(inputs["half_width_over_pitch"]))


def plates(inputs: Given) -> float:
    """Radiation between wide plates, with shields."""
    e1, e2 = inputs["emissivity"]
    hot, cold = inputs["temperature_K"]
    return float(between_plates_W_per_m2(hot, cold, e1, e2, inputs.get("shields", ())))


def two_plates(inputs: Given) -> float:
    """Net flux of opposed square plates open to a black room."""
    F = float(vf.opposed_rectangles(1.0, 1.0, inputs["gap"]))
    matrix = [[0.0, F, 1 - F], [F, 0.0, 1 - F], [0.0, 0.0, 0.0]]
    found = exchange(matrix, [*inputs["emissivity"], 1.0], inputs["temperature_K"])
    values = found.radiosity_W_per_m2 if inputs["what"] == "radiosity" else found.net_W_per_m2
    return float(values[inputs["plate"]])


def line_plume(inputs: Given) -> float:
    """Temperature rise of a free line plume."""
    return float(plume.line_plume_rise_K(1e3 * inputs["kW_per_m"], inputs["z_m"], inputs.get("z0_m", 0.0)))


def round_plume(inputs: Given) -> float:
    """Axis temperature of a round fire plume."""
    Q, diameter = inputs["kW"], np.sqrt(4 * inputs["area_m2"] / np.pi)
    origin = 0.083 * Q**0.4 - 1.02 * diameter
    T = inputs["ambient_C"] + 273.15
    rise = plume.round_plume_rise_K(1e3 * Q * (1 - inputs["radiative"]), inputs["z_m"], origin, T)
    return float(inputs["ambient_C"] + rise)


def flame_height(inputs: Given) -> float:
    """Height of a line flame without primary air."""
    return float(plume.line_flame_height_m(1e3 * inputs["kW_per_m"]))


def upright_plate(inputs: Given) -> float:
    """Nusselt number of an upright plate."""
    return float(hot_panels.upright_plate_nusselt(inputs["rayleigh"]))


def level_plate(inputs: Given) -> float:
    """Nusselt number of a hot level plate facing up."""
    return float(hot_panels.level_plate_nusselt(inputs["rayleigh"]))


def level_gap(inputs: Given) -> float:
    """Nusselt number of a level gap heated from below."""
    return float(hot_panels.level_gap_nusselt(inputs["rayleigh"]))


def air_conductivity(inputs: Given) -> float:
    """Thermal conductivity of air."""
    return float(hot_panels.air(inputs["temperature_K"]).conductivity_W_per_mK)


def air_viscosity(inputs: Given) -> float:
    """Kinematic viscosity of air."""
    return float(hot_panels.air(inputs["temperature_K"]).kinematic_viscosity_m2_per_s)


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
