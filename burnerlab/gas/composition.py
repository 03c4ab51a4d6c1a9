"""What a gas is made of: mole fractions of components, however they were given."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal, get_args

from burnerlab import tables
from burnerlab.gas.component import AIR, air_fractions, canonical_name, component_table
from burnerlab.tables.problem import Problem, UserError

Per = Literal["mole", "volume", "mass", "liquid volume"]
PER: tuple[str, ...] = get_args(Per)

PER_WORDS: dict[str, Per] = {
    **dict.fromkeys(("mole", "mol", "moles", "molar"), "mole"),
    **dict.fromkeys(("volume", "vol", "gas volume"), "volume"),
    **dict.fromkeys(("mass", "weight", "wt"), "mass"),
    **dict.fromkeys(("liquid volume", "liquid vol", "liquid"), "liquid volume"),
}
_PER_SIGNS = str.maketrans({"_": " ", "-": " ", "%": " ", ".": " "})

SUM_TOLERANCE = 1e-5
"""How far a sum of fractions may be from 1: the rounding of five decimals."""


@dataclass(frozen=True, slots=True)
class Composition:
    """Mole fractions in the order of the component table; they sum to 1.

    >>> Composition.of({"N2": 14, "methane": 86}, per="mole")
    Composition(names=('methane', 'nitrogen'), fractions=(0.86, 0.14))
    """

    names: tuple[str, ...]
    fractions: tuple[float, ...]

    @classmethod
    def of(
        cls, parts: Mapping[str, float], per: str, *, normalize: bool = False, key: str = "composition"
    ) -> Composition:
        """The composition with these parts [fraction, or per cent where they sum to 100].

        per : what the parts count: mole, volume (real gas, 15 C, 101.325 kPa), mass, or liquid volume (60 F).
        normalize : scale the parts to a sum of 1 instead of refusing another sum.
        Raises UserError for an unknown or repeated component, a part outside its range, or a wrong sum.

        >>> Composition.of({"CH4": 0.9, "CO2": 0.1}, per="mass").fractions
        (0.9610, 0.0389)
        """
        basis = read_per(per, key)
        scaled = checked_fractions(parts, normalize, key)
        pieces = {name: Composition.pure(name) for name in scaled}
        return cls.joined(
            [(pieces[name], part * moles_per_unit(pieces[name], basis, key)) for name, part in scaled.items()]
        )

    @classmethod
    def pure(cls, name: str) -> Composition:
        """One component by its canonical name, or dry air."""
        if name == AIR:
            return cls.from_moles(dict(air_fractions()))
        return cls((name,), (1.0,))

    @classmethod
    def joined(cls, pieces: Sequence[tuple[Composition, float]]) -> Composition:
        """Compositions with the moles of each put together."""
        found: dict[str, list[float]] = {}
        for piece, moles in pieces:
            for name, x in zip(piece.names, piece.fractions, strict=True):
                found.setdefault(name, []).append(x * moles)
        return cls.from_moles({name: math.fsum(values) for name, values in found.items()})

    @classmethod
    def blended(
        cls,
        parts: Iterable[tuple[str, Composition, float]],
        per: Per,
        *,
        normalize: bool = False,
        key: str = "blend",
    ) -> Composition:
        """Parts of name, composition and amount put together, the amounts counted per mole, volume or mass."""
        pieces: dict[str, Composition] = {}
        amounts: dict[str, float] = {}
        for name, piece, amount in parts:
            if name in pieces:
                raise UserError(Problem(f"{name} given twice", key=key, fix="give each part once"))
            pieces[name], amounts[name] = piece, amount
        fractions = checked_fractions(amounts, normalize, key, lambda text, _: text)
        return cls.joined(
            [(pieces[n], x * moles_per_unit(pieces[n], per, key)) for n, x in fractions.items()]
        )

    @classmethod
    def from_moles(cls, moles: Mapping[str, float]) -> Composition:
        """From amounts [mol] of canonical components; zero amounts are left out."""
        total = math.fsum(moles.values())
        order = sorted(
            (name for name, x in moles.items() if x > 0.0), key=component_table().index.__getitem__
        )
        return cls(tuple(order), tuple(moles[name] / total for name in order))

    def __getitem__(self, name: str) -> float:
        """Mole fraction of a canonical component, 0 when absent."""
        return self.fractions[self.names.index(name)] if name in self.names else 0.0

    def as_dict(self) -> dict[str, float]:
        """Mole fraction by component."""
        return dict(zip(self.names, self.fractions, strict=True))

    def in_terms_of(self, per: str) -> dict[str, float]:
        """The same composition as fractions of ``per`` (mole, volume, mass or liquid volume)."""
        basis = read_per(per, "per")
        parts = {
            name: x / moles_per_unit(Composition.pure(name), basis, "per")
            for name, x in self.as_dict().items()
        }
        total = math.fsum(parts.values())
        return {name: part / total for name, part in parts.items()}


def read_per(text: str | None, key: str) -> Per:
    """The basis of a composition; there is no default, since a wrong guess costs up to 0.4 % and more."""
    words = " ".join(str(text or "").translate(_PER_SIGNS).casefold().split())
    found = PER_WORDS.get(words.removesuffix(" fraction").removesuffix(" percent"))
    if found is None:
        problem = "unknown basis of a composition" if words else "state mole or mass"
        fix = 'write per = "mole" for mole fractions'
        raise UserError(Problem(problem, value=words, key=f"{key} per", accepted=", ".join(PER), fix=fix))
    return found


def checked_fractions(
    parts: Mapping[str, float], normalize: bool, key: str, resolve: Callable[[str, str], str] = canonical_name
) -> dict[str, float]:
    """Parts by canonical name as fractions that sum to 1; refuses what ``Composition.of`` refuses."""
    return _fractions(_named(parts, key, resolve), normalize, key)


def _named(parts: Mapping[str, float], key: str, resolve: Callable[[str, str], str]) -> dict[str, float]:
    """Parts by canonical name, each a finite number that is not negative."""
    amounts: dict[str, float] = {}
    spelling: dict[str, str] = {}
    problems: list[Problem] = []
    for text, value in parts.items():
        try:
            name = resolve(str(text), key)
        except UserError as error:
            problems += error.problems
            continue
        where = f"{key}.{text}"
        if name in amounts:
            also = "" if spelling[name] == str(text) else f" (as {spelling[name]} and as {text})"
            problems.append(Problem(f"{name} given twice{also}", key=key, fix="give each component once"))
        elif isinstance(value, bool) or not isinstance(value, int | float):
            problems.append(
                Problem("must be a number", value=str(value), key=where, accepted="0 to 1, or per cent")
            )
        elif not math.isfinite(value):
            problems.append(
                Problem("must be finite", value=str(value), key=where, accepted="0 to 1, or per cent")
            )
        elif value < 0.0:
            fix = "give the part of each component, 0 or more"
            problems.append(
                Problem(f"{name} is negative", value=str(value), key=where, accepted="0 to 1", fix=fix)
            )
        else:
            amounts[name], spelling[name] = float(value), str(text)
    if problems:
        raise UserError(problems)
    return amounts


def _fractions(parts: Mapping[str, float], normalize: bool, key: str) -> dict[str, float]:
    """Parts scaled to fractions that sum to 1."""
    total = math.fsum(parts.values())
    if not total > 0.0:
        raise UserError(
            Problem("no component has a part above zero", key=key, fix='write for example "methane=1"')
        )
    percent = abs(total - 100.0) <= 100.0 * SUM_TOLERANCE
    if normalize or percent or abs(total - 1.0) <= SUM_TOLERANCE:
        return {name: value / total for name, value in parts.items()}
    raise UserError(_sum_problem(parts, total, key))


def _sum_problem(parts: Mapping[str, float], total: float, key: str) -> Problem:
    large = {name: value for name, value in parts.items() if value > 1.0}
    small = {name: value for name, value in parts.items() if 0.0 < value <= 1.0}
    fix = "correct the parts, or set normalize (--normalize)"
    if large and small:
        big, little = max(large, key=large.__getitem__), max(small, key=small.__getitem__)
        as_mixed = math.fsum(large.values()) / 100.0 + math.fsum(small.values())
        if parts[big] > 2.0 and abs(as_mixed - 1.0) < abs(total / 100.0 - 1.0):
            what = f"{big} = {parts[big]:g} but {little} = {parts[little]:g}: percent and fraction mixed"
            return Problem(what, key=key, accepted="all fractions (sum 1) or all per cent (sum 100)", fix=fix)
    if large and total < 50.0:
        name = max(large, key=large.__getitem__)
        what = f"{name} is above 1 and the parts do not sum to 100"
        return Problem(
            what, value=f"{parts[name]:g}", key=f"{key}.{name}", accepted="0 to 1, or per cent", fix=fix
        )
    if large:
        what = f"the per cents sum to {total:.6g}, off by {abs(total - 100.0):.4g}"
        return Problem(what, key=key, accepted="100", fix=fix)
    what = f"the fractions sum to {total:.6g}, off by {abs(total - 1.0):.4g}"
    return Problem(what, key=key, accepted="1", fix=fix)


def moles_per_unit(composition: Composition, per: Per, key: str) -> float:
    """Moles in one unit of ``per`` of a gas, up to a factor common to all gases."""
    if per == "mole":
        return 1.0
    table = component_table()
    index = table.take(composition.names)
    x = composition.fractions
    if per == "volume":
        if len(composition.names) == 1 and composition.names[0] in _pure_Z():
            return 1.0 / _pure_Z()[composition.names[0]]
        s = math.fsum(a * b for a, b in zip(x, table.summation_factor["15C"][index].tolist(), strict=True))
        return 1.0 / (1.0 - s * s)  # Z at 15 C and 101.325 kPa
    if per == "mass":
        masses = table.molar_mass_kg_per_mol[index].tolist()
        return 1.0 / math.fsum(a * b for a, b in zip(x, masses, strict=True))
    return 1.0 / math.fsum(
        a / _liquid_density(name, key) for a, name in zip(x, composition.names, strict=True)
    )


@cache
def _pure_Z() -> Mapping[str, float]:
    """Z of pure gases whose summation factor is only a convention inside a mixture."""
    return {row["name"]: float(row["Z_15C"]) for row in tables.rows("gas_volumes")}


def _liquid_density(name: str, key: str) -> float:
    """Moles in a cubic metre of the saturated liquid at 60 F."""
    for row in tables.rows("gas_liquids"):
        if row["name"] == name:
            return float(row["liquid_mol_per_m3"])
    listed = ", ".join(row["name"] for row in tables.rows("gas_liquids"))
    raise UserError(
        Problem(f"no liquid density is known for {name}", key=key, accepted=listed, fix="give moles or mass")
    )
