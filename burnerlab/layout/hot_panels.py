"""How hot an outer panel gets, and the air that cools it.

Radiation, natural convection and conduction; one panel far from its edges, at steady state, no wind, no sun, no flame
on it. The limits are shown as they were published, with their disagreements. Nothing here is a clearance, and no
temperature here makes a surface fit to touch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.appliance.project.geometry import Panel, PanelSheet
from burnerlab.appliance.project.model import Appliance
from burnerlab.layout.placement import coefficient
from burnerlab.layout.radiation import STEFAN_BOLTZMANN
from burnerlab.quantity import Kind, Quantity, si
from burnerlab.quantity.outputs import output
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

# Natural convection in air from plates and across gaps, laminar to turbulent; and the air it happens in.

FloatArray = NDArray[np.float64]
GRAVITY = 9.80665  # m/s2, conventional
SPECIFIC_GAS_CONSTANT = 287.05  # of dry air [J/(kg K)]
PRANDTL = 0.71  # of air from 250 to 700 K, within 3 %


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Air at a film temperature."""

    temperature_K: FloatArray
    conductivity_W_per_mK: FloatArray
    kinematic_viscosity_m2_per_s: FloatArray

    def rayleigh(self, difference_K: ArrayLike, length_m: ArrayLike) -> FloatArray:
        """g dT L^3/(T nu alpha) [-]."""
        size = np.abs(np.asarray(difference_K, dtype=np.float64)) * np.asarray(length_m) ** 3
        return np.asarray(
            GRAVITY * size * PRANDTL / (self.temperature_K * self.kinematic_viscosity_m2_per_s**2)
        )


def air(temperature_K: ArrayLike, pressure_Pa: ArrayLike = 101325.0) -> Air:
    """Air by Sutherland's forms, within 3 % from 250 to 700 K. Source: natural-convection.

    >>> found = air(300.0)
    >>> float(found.conductivity_W_per_mK), 1e6 * float(found.kinematic_viscosity_m2_per_s)
    (0.0263, 15.7)
    """
    T = np.asarray(temperature_K, dtype=np.float64)
    viscosity = 1.716e-5 * (T / 273.15) ** 1.5 * (273.15 + 110.4) / (T + 110.4)
    conductivity = 0.0241 * (T / 273.15) ** 1.5 * (273.15 + 194.0) / (T + 194.0)
    density = np.asarray(pressure_Pa) / (SPECIFIC_GAS_CONSTANT * T)
    return Air(
        temperature_K=T, conductivity_W_per_mK=conductivity, kinematic_viscosity_m2_per_s=viscosity / density
    )


def upright_plate_nusselt(rayleigh: ArrayLike) -> FloatArray:
    """Upright plate by its height, {0.825 + 0.387 Ra^(1/6)/[1 + (0.492/Pr)^(9/16)]^(8/27)}^2 [-].

    Churchill and Chu; any Ra up to 1e12. Source: natural-convection.

    >>> float(upright_plate_nusselt(1e8))
    61.07
    """
    Ra = np.asarray(rayleigh, dtype=np.float64)
    scale = (1 + (0.492 / PRANDTL) ** (9 / 16)) ** (8 / 27)
    return np.asarray((0.825 + 0.387 * Ra ** (1 / 6) / scale) ** 2)


def level_plate_nusselt(rayleigh: ArrayLike) -> FloatArray:
    """Hot level plate facing up by area over edge, 0.54 Ra^(1/4), from about 2e7 on 0.15 Ra^(1/3) [-].

    McAdams; the larger of the two. Source: natural-convection.

    >>> float(level_plate_nusselt(1e9))
    150.0
    """
    Ra = np.asarray(rayleigh, dtype=np.float64)
    return np.asarray(np.maximum(np.maximum(0.54 * Ra**0.25, 0.15 * Ra ** (1 / 3)), 1.0))


def level_gap_nusselt(rayleigh: ArrayLike) -> FloatArray:
    """Level gap heated from below by its width, 1 + 1.44 [1 - 1708/Ra]+ + [(Ra/5830)^(1/3) - 1]+ [-].

    Hollands and others; Ra up to 1e8. Source: natural-convection.

    >>> float(level_gap_nusselt(1000.0)), float(level_gap_nusselt(1e6))
    (1.0, 6.99)
    """
    Ra = np.maximum(np.asarray(rayleigh, dtype=np.float64), 1e-12)
    return np.asarray(1 + 1.44 * np.maximum(1 - 1708 / Ra, 0) + np.maximum((Ra / 5830) ** (1 / 3) - 1, 0))


def upright_gap_nusselt(rayleigh: ArrayLike, height_over_gap: ArrayLike) -> FloatArray:
    """Upright gap by its width, the largest of three forms [-].

    0.0605 Ra^(1/3); {1 + [0.104 Ra^0.293/(1 + (6310/Ra)^1.36)]^3}^(1/3); 0.242 (Ra/A)^0.272. ElSherbiny and others;
    height over gap A from 5 to 110. Source: natural-convection.

    >>> float(upright_gap_nusselt(1e4, 20.0))
    1.312
    """
    Ra = np.maximum(np.asarray(rayleigh, dtype=np.float64), 1e-12)
    first = 0.0605 * Ra ** (1 / 3)
    second = (1 + (0.104 * Ra**0.293 / (1 + (6310 / Ra) ** 1.36)) ** 3) ** (1 / 3)
    third = 0.242 * (Ra / np.asarray(height_over_gap)) ** 0.272
    return np.asarray(np.maximum(np.maximum(first, second), third))


# How hot an outer panel gets: a one-dimensional network from the hot inside to the room, beside published
# limits.

ROOM_K = 298.15  # 77 F, the room of the US limits
DISAGREE = "read the standard"  # ends a note of the table in which sources contradict one another
ROUNDS, CLOSE_K = 400, 1e-8
ZERO_C_K = 273.15  # definition of the Celsius scale

NOTES = (
    "One dimension, far from edges: corners, screws, seams, handles and hot gas that leaks out are hotter.",
    "Steady state, still air, no sun, no wind. What is hot behind the panel is as the file gives it, not calculated.",
    "Limits and thresholds are shown as published, with their disagreements; touch temperatures need a test.",
    "No clearance to anything combustible follows from these figures.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSurroundings:
    """Coefficients of one case, or arrays of many."""

    emissivity: FloatArray  # [..., sheets], of both faces
    inside_W_per_m2K: ArrayLike
    outside_factor: ArrayLike = 1.0
    gap_factor: ArrayLike = 1.0
    vent_share: ArrayLike = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Skin:
    """Temperatures of one panel: inner and outer face of every sheet, from inside; arrays over the cases."""

    faces_K: FloatArray  # [..., 2 sheets]
    inside_W_per_m2: FloatArray  # into the innermost face
    outside_W_per_m2: FloatArray  # from the outermost face to the room
    vented_W_per_m2: FloatArray  # carried off by room air in gaps


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchLimit:
    """One published figure and where the calculated temperature lies against it."""

    name: str = field(metadata=output("published figure"))
    material: str = field(metadata=output("material"))
    contact: str = field(metadata=output("contact"))
    kind: str = field(metadata=output("kind"))
    temperature_K: float = field(metadata=output("temperature", Kind.TEMPERATURE))
    temperature_high_K: float | None = field(metadata=output("to", Kind.TEMPERATURE))
    """Where a range is published."""
    is_rise: bool = field(metadata=output("published as a rise"))
    position: str = field(metadata=output("panel is"))
    """Calculated below, in the band, calculated above."""
    source: str = field(metadata=output("source"))
    provenance: str = field(metadata=output("known by"))
    note: str = field(metadata=output("note"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSkin:
    """One panel with its band and its limits."""

    name: str = field(metadata=output("panel"))
    material: str = field(metadata=output("touched material"))
    outer_temperature_K: float = field(metadata=output("outside", Kind.TEMPERATURE))
    outer_temperature_low_K: float = field(metadata=output("at least", Kind.TEMPERATURE))
    outer_temperature_high_K: float = field(metadata=output("at most", Kind.TEMPERATURE))
    faces_K: tuple[float, ...] = field(metadata=output("faces from inside", Kind.TEMPERATURE))
    heat_to_room_W_per_m2: float = field(metadata=output("heat to the room", Kind.HEAT_FLUX))
    limits: tuple[TouchLimit, ...] = field(metadata=output("limits"))
    disagreements: tuple[str, ...] = field(metadata=output("disagreements between sources"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Skins:
    """All panels of an appliance."""

    room_K: float = field(metadata=output("room", Kind.TEMPERATURE))
    panels: tuple[PanelSkin, ...] = field(metadata=output("panels"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    evidence: Evidence = field(default=Evidence.ESTIMATE, metadata=output("evidence"))


def skins(
    appliance: Appliance, room_K: Quantity = ROOM_K, *, own: Path | None = None, limits: Path | None = None
) -> Skins:
    """Outer temperatures of every [[panel]] of an appliance.

    room_K : room air and walls [K]; own : CSV of ``layout_coefficients``; limits : CSV of ``touch_limits``
    Raises UserError for a file without panels, or a panel no hotter behind than the room.

    >>> from burnerlab.appliance import demonstration
    >>> found = skins(demonstration(), "25 C")
    >>> lid = found.panels[0]
    >>> lid.name, lid.outer_temperature_low_K < lid.outer_temperature_K < lid.outer_temperature_high_K
    ('lid top', True)
    """
    room = si(room_K, Kind.TEMPERATURE, "room_K")
    panels = appliance.space.panels if appliance.space else ()
    if not panels:
        fix = "add [[panel]] with name, inside, height and sheet"
        raise UserError(
            Problem("the file describes no outer panel", file=appliance.file, key="panel", fix=fix)
        )
    cold = [p for p in panels if p.inside_K <= room]
    if cold:
        what = "is not above the room"
        raise UserError(
            [Problem(what, value=f"{p.inside_K - ZERO_C_K:g} C", key=f"panel {p.name}, inside") for p in cold]
        )
    return Skins(panels=tuple(_panel(p, room, own, limits) for p in panels), room_K=room, notes=NOTES)


def _panel(panel: Panel, room_K: float, own: Path | None, limits: Path | None) -> PanelSkin:
    nominal, corners = cases(panel.sheets, own)
    middle = skin_temperatures(panel, nominal, room_K)
    spread = skin_temperatures(panel, corners, room_K).faces_K[..., -1]
    low, high = float(min(spread.min(), middle.faces_K[-1])), float(max(spread.max(), middle.faces_K[-1]))
    found = limits_beside(panel.material, low, high, room_K, limits)
    return PanelSkin(
        name=panel.name,
        material=panel.material,
        outer_temperature_K=float(middle.faces_K[-1]),
        outer_temperature_low_K=low,
        outer_temperature_high_K=high,
        faces_K=tuple(float(one) for one in middle.faces_K),
        heat_to_room_W_per_m2=float(middle.outside_W_per_m2),
        limits=found,
        disagreements=tuple(dict.fromkeys(one.note for one in found if DISAGREE in one.note)),
    )


def cases(
    sheets: Sequence[PanelSheet], own: Path | None = None
) -> tuple[PanelSurroundings, PanelSurroundings]:
    """The coefficients as expected, and every corner of their spread."""
    names = ("inside coefficient", "outside convection", "gap convection", "vent share")
    figures = [coefficient(name, own) for name in names]
    e = np.array([[s.emissivity, s.emissivity_low, s.emissivity_high] for s in sheets]).T
    nominal = PanelSurroundings(
        emissivity=e[0],
        inside_W_per_m2K=figures[0].value,
        outside_factor=figures[1].value,
        gap_factor=figures[2].value,
        vent_share=figures[3].value,
    )
    corners = np.array(list(product((0, 1), repeat=5)))
    ends = [np.where(corners[:, i] == 0, f.low, f.high) for i, f in enumerate(figures)]
    return nominal, PanelSurroundings(
        emissivity=np.where(corners[:, 4:] == 0, e[1], e[2]),
        inside_W_per_m2K=ends[0],
        outside_factor=ends[1],
        gap_factor=ends[2],
        vent_share=ends[3],
    )


# the network: every face a node, every way a conductance found at the last temperatures


def skin_temperatures(panel: Panel, around: PanelSurroundings, room_K: float = ROOM_K) -> Skin:
    """Face temperatures of a panel by a network whose conductances follow its temperatures, one case or many.

    Every face lies between room and inside, since each round is a network of plain conductances between the two.
    Raises UserError when the rounds do not settle.
    """
    count = 2 * len(panel.sheets)
    shape = np.broadcast_shapes(*(np.shape(v) for v in (around.inside_W_per_m2K, around.vent_share)))
    inside = np.full(shape, panel.inside_K)
    T = inside[..., None] + (room_K - inside[..., None]) * (np.arange(count) + 1.0) / (count + 1)
    for _ in range(ROUNDS):
        before = T
        K, to_inside, to_room = _conductances(panel, around, T, room_K)
        matrix = K + np.eye(count) * (to_inside + to_room)[..., None, :]
        right = to_inside * inside[..., None] + to_room * room_K
        T = 0.5 * (before + np.linalg.solve(matrix, right[..., None])[..., 0])
        if float(np.max(np.abs(T - before))) < CLOSE_K:
            break
    else:
        raise UserError(Problem("the temperatures of this panel do not settle", value=panel.name))
    _, to_inside, to_room = _conductances(panel, around, T, room_K)
    lost = to_room * (T - room_K)
    return Skin(
        faces_K=T,
        inside_W_per_m2=np.asarray(to_inside[..., 0] * (inside - T[..., 0])),
        outside_W_per_m2=np.asarray(lost[..., -1]),
        vented_W_per_m2=np.asarray(lost[..., :-1].sum(axis=-1)),
    )


def _conductances(
    panel: Panel, around: PanelSurroundings, T: FloatArray, room_K: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Conductances between the faces as a matrix, and of each face to the inside and to the room [W/(m2 K)]."""
    count = T.shape[-1]
    K = np.zeros((*T.shape, count))
    to_inside, to_room = np.zeros(T.shape), np.zeros(T.shape)
    e = np.broadcast_to(around.emissivity, (*T.shape[:-1], len(panel.sheets)))
    to_inside[..., 0] = np.asarray(around.inside_W_per_m2K) + radiation_W_per_m2K(
        panel.inside_K, T[..., 0], 1.0, e[..., 0]
    )
    for i, sheet in enumerate(panel.sheets):
        _join(K, 2 * i, 2 * i + 1, np.asarray(sheet.conductivity_W_per_mK / sheet.thickness_m))
        if i == 0:
            continue
        hot, cold = T[..., 2 * i - 1], T[..., 2 * i]
        open_share = np.asarray(around.vent_share if sheet.vented else 0.0)
        across = (
            (1 - open_share)
            * np.asarray(around.gap_factor)
            * gap_W_per_m2K(hot, cold, panel, sheet.gap_m or 0.0)
        )
        _join(K, 2 * i - 1, 2 * i, across + radiation_W_per_m2K(hot, cold, e[..., i - 1], e[..., i]))
        for face in (2 * i - 1, 2 * i):
            to_room[..., face] = open_share * plate_W_per_m2K(T[..., face], room_K, panel)
    outer = T[..., -1]
    to_room[..., -1] = np.asarray(around.outside_factor) * plate_W_per_m2K(outer, room_K, panel)
    to_room[..., -1] += radiation_W_per_m2K(outer, room_K, e[..., -1], 1.0)
    return K, to_inside, to_room


def _join(K: FloatArray, a: int, b: int, conductance: FloatArray) -> None:
    K[..., a, a] += conductance
    K[..., b, b] += conductance
    K[..., a, b] -= conductance
    K[..., b, a] -= conductance


def radiation_W_per_m2K(
    hot_K: ArrayLike, cold_K: ArrayLike, hot_emissivity: ArrayLike, cold_emissivity: ArrayLike
) -> FloatArray:
    """Radiation between wide grey plates as a conductance, sigma (T1^2 + T2^2)(T1 + T2)/(1/e1 + 1/e2 - 1).

    >>> float(radiation_W_per_m2K(400.0, 300.0, 1.0, 1.0))
    9.92
    """
    a, b = np.asarray(hot_K, dtype=np.float64), np.asarray(cold_K, dtype=np.float64)
    between = 1.0 / np.asarray(hot_emissivity) + 1.0 / np.asarray(cold_emissivity) - 1.0
    return np.asarray(STEFAN_BOLTZMANN * (a**2 + b**2) * (a + b) / between)


def plate_W_per_m2K(face_K: ArrayLike, room_K: float, panel: Panel) -> FloatArray:
    """Natural convection from a panel's face to room air [W/(m2 K)]; level panels face up."""
    T = np.asarray(face_K, dtype=np.float64)
    film = air((T + room_K) / 2)
    size = panel.height_m / 4 if panel.level else panel.height_m  # area over edge of a square, or the height
    Ra = film.rayleigh(T - room_K, size)
    Nu = level_plate_nusselt(Ra) if panel.level else upright_plate_nusselt(Ra)
    return np.asarray(Nu * film.conductivity_W_per_mK / size)


def gap_W_per_m2K(hot_K: ArrayLike, cold_K: ArrayLike, panel: Panel, gap_m: float) -> FloatArray:
    """Natural convection across a closed gap [W/(m2 K)]; level gaps are heated from below."""
    hot, cold = np.asarray(hot_K, dtype=np.float64), np.asarray(cold_K, dtype=np.float64)
    film = air((hot + cold) / 2)
    Ra = film.rayleigh(hot - cold, gap_m)
    Nu = level_gap_nusselt(Ra) if panel.level else upright_gap_nusselt(Ra, panel.height_m / gap_m)
    return np.asarray(Nu * film.conductivity_W_per_mK / gap_m)


# limits beside it


def limits_beside(
    material: str, low_K: float, high_K: float, room_K: float, own: Path | None = None
) -> tuple[TouchLimit, ...]:
    """Published limits and thresholds for a material, lowest first, and where a band of temperatures lies.

    own : CSV of the columns of ``touch_limits``. Wood kept near and skin itself stand beside every material.
    """
    found = []
    for row in tables.read("touch_limits", own):
        if row["material"] not in (material, "any", "skin contact", "wood nearby"):
            continue
        as_rise = not row["temperature_C"]
        at = room_K + float(row["rise_K"]) if as_rise else float(row["temperature_C"]) + ZERO_C_K
        top = float(row["temperature_high_C"]) + ZERO_C_K if row["temperature_high_C"] else None
        found.append(
            TouchLimit(
                name=row["name"],
                material=row["material"],
                contact=row["contact"],
                kind=row["kind"],
                temperature_K=at,
                temperature_high_K=top,
                is_rise=as_rise,
                position=_position(low_K, high_K, at, top or at),
                source=tables.cite(row["source"]),
                provenance=row["provenance"],
                note=row["note"],
            )
        )
    return tuple(sorted(found, key=lambda panel: (panel.temperature_K, panel.name)))


def _position(low_K: float, high_K: float, limit_low_K: float, limit_high_K: float) -> str:
    if low_K > limit_high_K:
        return "calculated above"
    return "calculated below" if high_K < limit_low_K else "in the band"
