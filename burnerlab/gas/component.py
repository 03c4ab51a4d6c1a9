"""The components a gas may be made of: names, formulas, and the property table of ISO 6976:2016."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]

ELEMENTS = ("C", "H", "N", "O", "S", "Ar", "He")
COMBUSTION_COLUMNS = ("0C", "15C", "15_55C", "20C", "25C")
METERING_COLUMNS = ("0C", "15C", "15_55C", "20C")
AIR = "air"


@dataclass(frozen=True, slots=True, eq=False)
class ComponentTable:
    """Every column of the component table as an array in table order, SI units."""

    names: tuple[str, ...]
    formulas: tuple[str, ...]
    index: dict[str, int]
    molar_mass_kg_per_mol: Array
    atoms: Array  # component by element of ELEMENTS
    summation_factor: dict[str, Array]  # by metering column
    u_summation_factor: Array
    gross_J_per_mol: dict[str, Array]  # by combustion column, ideal gas
    u_gross_J_per_mol: Array

    def take(self, names: Iterable[str]) -> NDArray[np.intp]:
        """Row numbers of canonical names."""
        return np.array([self.index[name] for name in names], dtype=np.intp)


def _column(name: str, factor: float = 1.0) -> Array:
    return np.array([float(row[name]) for row in tables.rows("gas_components")]) * factor


@cache
def component_table() -> ComponentTable:
    """The component table, read once.

    >>> component_table().names[:3]
    ('methane', 'ethane', 'propane')
    """
    rows = tables.rows("gas_components")
    names = tuple(row["name"] for row in rows)
    table = ComponentTable(
        names=names,
        formulas=tuple(row["formula"] for row in rows),
        index={name: i for i, name in enumerate(names)},
        molar_mass_kg_per_mol=_column("M_kg_per_kmol", 1e-3),
        atoms=np.stack([_column(f"n{element}") for element in ELEMENTS], axis=1),
        summation_factor={c: _column(f"s_{c}") for c in METERING_COLUMNS},
        u_summation_factor=_column("u_s"),
        gross_J_per_mol={c: _column(f"Hc_{c}", 1e3) for c in COMBUSTION_COLUMNS},
        u_gross_J_per_mol=_column("u_Hc", 1e3),
    )
    arrays = (table.molar_mass_kg_per_mol, table.atoms, table.u_summation_factor, table.u_gross_J_per_mol)
    for array in (*arrays, *table.summation_factor.values(), *table.gross_J_per_mol.values()):
        array.flags.writeable = False
    return table


def _key(text: str) -> str:
    """A spelling reduced to what tells components apart: subscripts, hyphens, blanks and case do not."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    return "".join(c for c in plain if c.isalnum())


@cache
def _spellings() -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {_key(AIR): [AIR], _key("dry air"): [AIR]}
    for row in tables.rows("gas_components"):
        for text in (row["name"], row["formula"], *filter(None, row["aliases"].split(";"))):
            names = found.setdefault(_key(text), [])
            if row["name"] not in names:
                names.append(row["name"])
    family = {"butane": "C4H10", "pentane": "C5H12", "butene": "C4H8", "butylene": "C4H8", "butenes": "C4H8"}
    for word, formula in family.items():
        found[_key(word)] = list(found[_key(formula)])
    return {key: tuple(names) for key, names in found.items()}


def component_names() -> tuple[str, ...]:
    """Canonical names, in table order."""
    return component_table().names


def canonical_name(text: str, key: str = "composition") -> str:
    """The canonical name of a component given by any of its names or by its formula; ``air`` stays ``air``.

    Raises UserError for an unknown name (with the nearest ones) and for a formula of several components.

    >>> canonical_name("i-C4H10"), canonical_name("CO₂"), canonical_name("Propene")
    ('isobutane', 'carbon dioxide', 'propylene')
    """
    names = meant_components(text)
    if len(names) == 1:
        return names[0]
    if names:
        listed = " or ".join(names)
        raise UserError(
            Problem(
                f"could be any of {len(names)} components",
                value=text,
                key=key,
                accepted=listed,
                fix=f"write {listed}",
            )
        )
    near = near_components(text)
    fix = f"did you mean {' or '.join(near)}?" if near else "write a name or formula of the list"
    raise UserError(
        Problem(
            "unknown component", value=text, key=key, accepted=", ".join((*component_names(), AIR)), fix=fix
        )
    )


def is_component(text: str) -> bool:
    """Whether a text is meant as a component (or as one of several), rather than a gas of the library."""
    return _key(text) in _spellings()


def meant_components(text: str) -> tuple[str, ...]:
    """The components a text may stand for: one, several that share a formula, or none."""
    return _spellings().get(_key(text), ())


def near_components(text: str, cutoff: float = 0.6) -> list[str]:
    """Components whose names or formulas look like a text, nearest first.

    >>> near_components("metane")[0]
    'methane'
    """
    spellings = _spellings()
    matches = get_close_matches(_key(text), list(spellings), n=4, cutoff=cutoff)
    return list(dict.fromkeys(name for match in matches for name in spellings[match]))[:3]


@cache
def air_fractions() -> tuple[tuple[str, float], ...]:
    """Dry air as it enters a mixture: component and mole fraction.

    >>> dict(air_fractions())["oxygen"]
    0.2095
    """
    return tuple((row["name"], float(row["mole_fraction"])) for row in tables.rows("gas_air"))


@cache
def constant(name: str) -> float:
    """A constant of the property standard, in the unit of its row of ``gas_constants``."""
    return float(_constant_row(name)["value"])


@cache
def constant_u(name: str) -> float:
    """Standard uncertainty (k = 1) of a constant of the property standard."""
    return float(_constant_row(name)["u"] or 0.0)


def _constant_row(name: str) -> tables.Row:
    return next(row for row in tables.rows("gas_constants") if row["name"] == name)
