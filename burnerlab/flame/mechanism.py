"""The reaction mechanism of the flame solver, cut to the species a fuel needs when it is first used.

The mechanism is the C6 alkane model Cantera ships (1268 species, no transport data). The species kept are
those of
table ``flame_species``, their transport data those of ``flame_transport``; a fuel of few carbon atoms takes
the
species of few carbon atoms. GRI-Mech 3.0 is not used: it burns propane a quarter too fast and knows no
butane.
"""

from __future__ import annotations

import hashlib
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from burnerlab.tables import Row, rows
from burnerlab.tables.problem import Problem, UserError

SPECIES = {
    "methane": "CH4",
    "ethane": "C2H6",
    "ethylene": "C2H4",
    "propane": "C3H8",
    "propylene": "C3H6",
    "n-butane": "C4H10",
    "isobutane": "IC4H10",
    "hydrogen": "H2",
    "carbon monoxide": "CO",
    "carbon dioxide": "CO2",
    "nitrogen": "N2",
    "oxygen": "O2",
    "water": "H2O",
}
"""Component of a gas -> species of the mechanism."""
ABOUT = frozenset({"note", "source", "place", "provenance"})  # columns that change no result
FUELS = tuple(list(SPECIES)[:9])

FILE = "example_data/n-hexane-NUIG-2015.yaml"
LIGHT = {
    "hydrogen": 0,
    "carbon monoxide": 1,
    "methane": 2,
    "ethane": 2,
    "ethylene": 2,
    "propane": 3,
    "propylene": 3,
}
"""Carbon atoms of the largest species of the narrow list that a fuel needs to find its way; the butanes need all."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A part of the mechanism: its name and the species kept."""

    name: str
    species: tuple[str, ...]


def narrow_cut(components: Iterable[str]) -> Cut:
    """The smallest part of the mechanism that a mixture of these components burns with, for steps and for ratios.

    Its burning velocities are up to 5 % off those of the wide cut, their change with temperature and pressure is not.

    >>> narrow_cut(["propane", "nitrogen"]).name
    'narrow C3'
    """
    burning = _burning(components)
    carbon = max((LIGHT.get(name, 4) for name in burning), default=0)
    return _cut("narrow", max(carbon, _least(components)))


def wide_cut(components: Iterable[str]) -> Cut:
    """The part of the mechanism that results are computed with.

    Raises UserError for a combustible the mechanism does not carry.

    >>> wide_cut(["propane"]).name, wide_cut(["hydrogen", "nitrogen"]).name
    ('wide C4', 'wide C0')
    """
    burning = _burning(components)
    carbon = 4 if any(LIGHT.get(name, 4) > 1 for name in burning) else max(LIGHT[name] for name in burning)
    return _cut("wide", max(carbon, _least(components)))


def _burning(components: Iterable[str]) -> list[str]:
    found = set(components)
    for name in sorted(found - set(SPECIES)):
        raise UserError(
            Problem("no flame chemistry for this component", value=name, accepted=", ".join(FUELS))
        )
    if not found & set(FUELS):
        raise UserError(
            Problem("nothing in this gas burns", value=", ".join(sorted(found)), accepted=", ".join(FUELS))
        )
    return sorted(found & set(FUELS))


def _least(components: Iterable[str]) -> int:
    return 1 if "carbon dioxide" in set(components) else 0


def _cut(column: str, carbon: int) -> Cut:
    kept = [
        row for row in rows("flame_species") if row[column] == "yes" and int(row["carbon_atoms"]) <= carbon
    ]
    return Cut(f"{column} C{carbon}", tuple(row["species"] for row in kept))


def mechanism_path() -> Path:
    """The mechanism file inside the installed Cantera."""
    import cantera

    path = Path(str(cantera.__file__)).parent / "data" / FILE
    if not path.is_file():
        raise UserError(
            Problem(
                f"Cantera {cantera.__version__} does not ship {FILE}",
                key="mechanism",
                fix="install the cantera wheel of version 3.1 or later; the tables of burnerlab work without it",
            )
        )
    return path


@cache
def mechanism_hash() -> str:
    """First 16 hexadecimal digits of the SHA-256 of the mechanism file and our species and transport tables."""
    digest = hashlib.sha256(mechanism_path().read_bytes())
    for name in ("flame_species", "flame_transport"):
        for row in rows(name):
            digest.update("|".join(value for key, value in row.items() if key not in ABOUT).encode())
    return digest.hexdigest()[:16]


@cache
def _whole() -> Any:
    import cantera

    with warnings.catch_warnings():  # two excited species of the file have a kink at 1000 K; neither is kept
        warnings.simplefilter("ignore")
        return cantera.Solution(str(mechanism_path()))


@cache
def _transport_rows() -> dict[str, Row]:
    return {row["species"]: row for row in rows("flame_transport")}


def _with_transport(species: Any) -> Any:
    import cantera

    row = _transport_rows()[species.name]
    data = cantera.GasTransportData()
    data.set_customary_units(
        row["geometry"],
        float(row["diameter_A"]),
        float(row["well_depth_K"]),
        float(row["dipole_D"]),
        float(row["polarizability_A3"]),
        float(row["rotational_relaxation"]),
    )
    species.transport = data
    return species


@cache
def solution(cut: Cut) -> Any:
    """The gas phase of a cut, with mixture-averaged transport; built once per process, never shared between them."""
    import cantera

    names = set(cut.species)
    whole = _whole()
    kept = [_with_transport(species) for species in whole.species() if species.name in names]
    reactions = [
        reaction
        for reaction in whole.reactions()
        if names.issuperset(reaction.reactants) and names.issuperset(reaction.products)
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return cantera.Solution(
            thermo="ideal-gas",
            kinetics="gas",
            transport_model="mixture-averaged",
            species=kept,
            reactions=reactions,
        )
