"""Radiation of a tile's face to what stands before it: a grey target and the surroundings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]

STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m2 K4)] SI 2019, from exact constants


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """What the tile sees: a grey target behind which lie black surroundings; numbers or arrays.

    The target may be a pot, a grate or a lid; a view factor of 0 is a tile that stands free.
    """

    surroundings_K: ArrayLike = 293.15
    view_factor: ArrayLike = 0.0  # share of the face's radiation that meets the target [-]
    target_emissivity: ArrayLike = 0.8
    target_K: ArrayLike = 420.0
    target_area_ratio: ArrayLike = 1.0  # side of the target that faces the tile over the face [-]

    def __post_init__(self) -> None:
        problems = [
            Problem(
                "outside its range", f"{np.min(value):g} to {np.max(value):g}", key=key, accepted=accepted
            )
            for key, value, inside, accepted in (
                ("view factor", self.view_factor, _between(self.view_factor, 0.0, 1.0), "0 to 1"),
                (
                    "target emissivity",
                    self.target_emissivity,
                    _between(self.target_emissivity, 1e-3, 1.0),
                    "0.001 to 1",
                ),
                ("target temperature", self.target_K, _between(self.target_K, 1.0, 1500.0), "up to 1500 K"),
                (
                    "surroundings",
                    self.surroundings_K,
                    _between(self.surroundings_K, 1.0, 1500.0),
                    "up to 1500 K",
                ),
            )
            if not inside
        ]
        if not np.all(np.asarray(self.target_area_ratio) >= np.asarray(self.view_factor)):
            what = "the target would see more of the tile than there is: F A of both sides are equal"
            accepted = "at least the view factor"
            problems.append(Problem(what, key="target area over tile area", accepted=accepted))
        if problems:
            raise UserError(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class Radiated:
    """Net radiation by area of the tile's face [W/m2]: what the face loses, what the target takes of it."""

    from_face: FloatArray
    to_target: FloatArray


def _between(value: ArrayLike, low: float, high: float) -> bool:
    found = np.asarray(value, dtype=float)
    return bool(np.all((found >= low) & (found <= high)))


def apparent_emissivity(emissivity: ArrayLike, area_factor: ArrayLike) -> FloatArray:
    """Emissivity of a face with pits or ribs, seen from outside: 1/(1 + (1/e - 1)/f) [-].

    emissivity : of the material [-]; area_factor : developed over plain area [-], 1 or more.
    Range: hollows of one temperature, diffuse. Source: two grey surfaces, the opening taken as black.

    >>> float(apparent_emissivity(0.75, 2.0))
    0.857
    """
    e, f = np.asarray(emissivity, dtype=float), np.asarray(area_factor, dtype=float)
    return np.asarray(1.0 / (1.0 + (1.0 / e - 1.0) / f))


def radiated_W_per_m2(face_K: ArrayLike, emissivity: ArrayLike, before: Before) -> Radiated:
    """Net radiation of a grey face to a grey target and black surroundings, by radiosity [W/m2 of face].

    J1 = e1 E1 + (1 - e1)(F J2 + (1 - F) Es), J2 = e2 E2 + (1 - e2)(F/a J1 + (1 - F/a) Es), E = sigma T^4;
    q1 = J1 - F J2 - (1 - F) Es; F view factor, a target area over face area.
    face_K : [K]; emissivity : apparent, of the face [-]. Range: plane or convex face and target.

    >>> alone = Before(surroundings_K=298.0)
    >>> float(radiated_W_per_m2(1000.0, 0.9, alone).from_face) / 1e3
    50.63
    """
    T, e1 = np.asarray(face_K, dtype=float), np.asarray(emissivity, dtype=float)
    F12, e2 = np.asarray(before.view_factor, dtype=float), np.asarray(before.target_emissivity, dtype=float)
    area = np.asarray(before.target_area_ratio, dtype=float)
    F21, r1, r2 = F12 / area, 1.0 - e1, 1.0 - e2
    E1, E2, Es = (
        STEFAN_BOLTZMANN * np.asarray(t, dtype=float) ** 4
        for t in (T, before.target_K, before.surroundings_K)
    )
    own_2 = e2 * E2 + r2 * (1.0 - F21) * Es
    J1 = (e1 * E1 + r1 * ((1.0 - F12) * Es + F12 * own_2)) / (1.0 - r1 * r2 * F12 * F21)
    J2 = own_2 + r2 * F21 * J1
    arriving = F21 * J1 + (1.0 - F21) * Es
    return Radiated(
        from_face=np.asarray(J1 - F12 * J2 - (1.0 - F12) * Es), to_target=np.asarray(area * (arriving - J2))
    )
