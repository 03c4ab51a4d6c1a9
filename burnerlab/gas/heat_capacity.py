"""Ideal-gas heat capacity and enthalpy from the NASA polynomials of table ``nasa_polynomials``.

Set ``gri`` are the species of GRI-Mech 3.0 (the flame's products and the fuels it knows); set ``component``
are the
fuel-gas components, whose polynomials reach down to cold supply temperatures and include the fuels GRI-Mech
lacks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.tables import rows

FloatArray = NDArray[np.float64]

GAS_CONSTANT = 8.314462618  # [J/(mol K)] SI 2019, product of two exact constants
ELEMENTS = ("C", "H", "N", "O", "S", "Ar", "He")
CANTERA_FILE = {"gri": "gri30.yaml", "nasa": "nasa_gas.yaml", "nuig": "example_data/n-hexane-NUIG-2015.yaml"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Polynomials:
    """NASA coefficients of some species, one row each."""

    names: tuple[str, ...]
    atoms: FloatArray  # [species, element of ELEMENTS]
    middle_K: FloatArray  # where the low range gives way to the high one
    low: FloatArray  # [species, 7]
    high: FloatArray

    def at(self, order: Sequence[str]) -> Polynomials:
        """The same data for the species of ``order``, in that order."""
        place = [self.names.index(name) for name in order]
        return Polynomials(
            names=tuple(order),
            atoms=self.atoms[place],
            middle_K=self.middle_K[place],
            low=self.low[place],
            high=self.high[place],
        )


@cache
def polynomials(kind: str) -> Polynomials:
    """All polynomials of one set: ``component`` by component name, ``gri`` by species name.

    >>> polynomials("component").at(["methane"]).atoms[0, :2]
    array([1., 4.])
    """
    found = [row for row in rows("nasa_polynomials") if row["set"] == kind]

    def numbers(keys: Sequence[str]) -> FloatArray:
        return np.array([[float(row[key]) for key in keys] for row in found])

    return Polynomials(
        names=tuple(row["name"] for row in found),
        atoms=numbers([f"n{element}" for element in ELEMENTS]),
        middle_K=numbers(["middle_K"])[:, 0],
        low=numbers([f"low_a{i}" for i in range(1, 8)]),
        high=numbers([f"high_a{i}" for i in range(1, 8)]),
    )


def _coefficients(data: Polynomials, temperature_K: ArrayLike) -> tuple[FloatArray, FloatArray]:
    temperature = np.asarray(temperature_K, dtype=float)[..., None]
    choose_high = temperature > data.middle_K
    return temperature, np.where(choose_high[..., None], data.high, data.low)


def heat_capacity_over_R(data: Polynomials, temperature_K: ArrayLike) -> FloatArray:
    """Molar heat capacity of each species, cp/R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4 [-].

    temperature_K : temperature [K]; returns [..., species].
    Below a polynomial's lower bound (298-300 K for pentanes, hexane and hydrogen sulphide) its low range is
    carried on.
    Source: nasa-tm-4513, section 1.

    >>> float(heat_capacity_over_R(polynomials("component").at(["methane"]), 298.15)[0])
    4.293
    """
    t, a = _coefficients(data, temperature_K)
    cp: FloatArray = a[..., 0] + t * (a[..., 1] + t * (a[..., 2] + t * (a[..., 3] + t * a[..., 4])))
    return cp


def enthalpy_over_R(data: Polynomials, temperature_K: ArrayLike) -> FloatArray:
    """Molar enthalpy of each species with the heat of formation, H/R = a6 + a1 T + a2 T^2/2 + ... [K].

    temperature_K : temperature [K]; returns [..., species].
    Source: nasa-tm-4513, section 1.

    >>> float(enthalpy_over_R(polynomials("gri").at(["CO2"]), 298.15)[0]) * GAS_CONSTANT / 1000
    -393.5
    """
    t, a = _coefficients(data, temperature_K)
    series = a[..., 0] + t * (a[..., 1] / 2 + t * (a[..., 2] / 3 + t * (a[..., 3] / 4 + t * a[..., 4] / 5)))
    enthalpy: FloatArray = a[..., 5] + t * series
    return enthalpy


def entropy_over_R(data: Polynomials, temperature_K: ArrayLike) -> FloatArray:
    """Molar entropy of each species at one atmosphere, S/R = a1 ln T + a2 T + a3 T^2/2 + ... + a7 [-].

    temperature_K : temperature [K]; returns [..., species].
    Source: nasa-tm-4513, section 1.

    >>> float(entropy_over_R(polynomials("gri").at(["CO2"]), 298.15)[0]) * GAS_CONSTANT
    213.7
    """
    t, a = _coefficients(data, temperature_K)
    series = t * (a[..., 1] + t * (a[..., 2] / 2 + t * (a[..., 3] / 3 + t * a[..., 4] / 4)))
    entropy: FloatArray = a[..., 0] * np.log(t) + series + a[..., 6]
    return entropy


def heat_capacity_J_per_molK(
    names: Sequence[str], fractions: ArrayLike, temperature_K: ArrayLike
) -> FloatArray:
    """Ideal-gas heat capacity at constant pressure of a mixture, cp = sum x_i cp_i [J/(mol K)].

    fractions : mole fractions [-], [..., component]; temperature_K : temperature [K].

    >>> float(heat_capacity_J_per_molK(["methane"], [1.0], 298.15))
    35.7
    """
    cp = heat_capacity_over_R(polynomials("component").at(names), temperature_K)
    mixture: FloatArray = GAS_CONSTANT * np.sum(np.asarray(fractions, dtype=float) * cp, axis=-1)
    return mixture


@cache
def cantera_species(file: str) -> dict[str, Any]:
    """Species of one of Cantera's data files (a key of CANTERA_FILE), by name. Needs cantera."""

    import cantera

    for folder in cantera.get_data_directories():
        path = Path(folder) / CANTERA_FILE[file]
        if path.is_file():
            return {species.name: species for species in cantera.Species.list_from_file(str(path))}
    raise FileNotFoundError(CANTERA_FILE[file])
