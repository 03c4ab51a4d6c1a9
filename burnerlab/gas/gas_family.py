"""Families and groups of gases by Wobbe index, as European appliances are categorised."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import assert_never

from burnerlab import tables
from burnerlab.gas.gas import DeclaredGas, Gas

MOSTLY = 0.75  # mole fraction by which a gas is counted to a group of design rules


class Family(StrEnum):
    """Families of gases of EN 437, by the digit of their codes."""

    FIRST = "1"  # manufactured gases
    SECOND = "2"  # natural gases
    THIRD = "3"  # liquefied petroleum gases

    @property
    def ordinal(self) -> str:
        """In words, as in "a second-family gas"."""
        match self:
            case Family.FIRST:
                return "first"
            case Family.SECOND:
                return "second"
            case Family.THIRD:
                return "third"
            case _:
                assert_never(self)

    @property
    def is_LPG(self) -> bool:
        """Whether its gases come liquefied; a manual prints their consumption by mass."""
        return self is Family.THIRD


class GasGroup(StrEnum):
    """What design rules and shares of heat distinguish, by the word of their tables."""

    NATURAL = "natural gas"
    LPG = "propane and butane"
    OTHER = "other gas"

    @classmethod
    def of(cls, gas: Gas | DeclaredGas) -> GasGroup:
        """The group of a gas: three quarters of methane, of propane and butane, or of neither.

        A gas known by heating value and density alone counts by whether it is heavier than air.

        >>> from burnerlab.gas import load
        >>> [GasGroup.of(load(name)).value for name in ("propane", "natural-gas-typical", "hydrogen")]
        ['propane and butane', 'natural gas', 'other gas']
        """
        if isinstance(gas, DeclaredGas):
            return cls.LPG if gas.relative_density > 1.0 else cls.NATURAL
        parts = gas.composition.as_dict()
        if parts.get("methane", 0.0) >= MOSTLY:
            return cls.NATURAL
        heavy = sum(parts.get(name, 0.0) for name in ("propane", "n-butane", "isobutane", "propylene"))
        return cls.LPG if heavy >= MOSTLY else cls.OTHER


LAST_DIGIT_J_PER_M3 = 0.1e6
"""The limits are printed to 0.1 MJ/m3; the test gases that set them lie up to 0.06 MJ/m3 outside (G21)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WobbeGroup:
    """A range of the gross Wobbe index at 15 C / 15 C, 101.325 kPa, dry."""

    family: Family
    group: str  # "H", "L", "E", "B/P", ...; "" is the whole family
    low_J_per_m3: float
    high_J_per_m3: float
    source: str
    provenance: str
    country: str = ""  # of a group that one country alone has

    @property
    def code(self) -> str:
        """Family and group as they are written together.

        >>> wobbe_groups()[-1].code
        '3B'
        """
        return self.family + self.group

    def holds(self, gross_wobbe_J_per_m3: float) -> bool:
        """Whether a gross Wobbe index lies in the range, to the last digit of the printed limits."""
        low, high = self.low_J_per_m3 - LAST_DIGIT_J_PER_M3, self.high_J_per_m3 + LAST_DIGIT_J_PER_M3
        return low <= gross_wobbe_J_per_m3 <= high


def _group_of(row: tables.Row) -> WobbeGroup:
    """A row of a table of ranges."""
    return WobbeGroup(
        family=Family(row["family"]),
        group=row["group"],
        low_J_per_m3=float(row["low_MJ_per_m3"]) * 1e6,
        high_J_per_m3=float(row["high_MJ_per_m3"]) * 1e6,
        source=row["source"],
        provenance=row["provenance"],
    )


@tables.cache_by_file
def wobbe_groups(own: Path | None = None) -> tuple[WobbeGroup, ...]:
    """Every range of the table, whole families first; ``own`` is a CSV file of the same columns."""
    return tuple(_group_of(row) for row in tables.read("wobbe_ranges", own))


def wobbe_family(gross_wobbe_15_15_J_per_m3: float, own: Path | None = None) -> list[WobbeGroup]:
    """The family and groups a gas belongs to by its gross Wobbe index; empty when it lies outside all.

    gross_wobbe_15_15_J_per_m3 : gross Wobbe index at 15 C / 15 C, 101.325 kPa, dry [J/m3]
    Source: en437-2003-families.

    >>> [group.code for group in wobbe_family(50.72e6)]
    ['2', '2H', '2E']
    """
    return [group for group in wobbe_groups(own) if group.holds(gross_wobbe_15_15_J_per_m3)]


@cache
def national_groups() -> tuple[WobbeGroup, ...]:
    """Groups of gases that one country alone has, with its name.

    >>> [(group.code, group.country) for group in national_groups() if group.holds(33.2e6)]
    [('2Ls', 'Poland')]
    """
    return tuple(replace(_group_of(row), country=row["name"]) for row in tables.rows("national_groups"))


def national_groups_of(gross_wobbe_15_15_J_per_m3: float) -> list[WobbeGroup]:
    """Groups of single countries in whose range a gross Wobbe index lies, beside those of ``wobbe_family``.

    gross_wobbe_15_15_J_per_m3 : gross Wobbe index at 15 C / 15 C, 101.325 kPa, dry [J/m3]

    >>> [group.code for group in national_groups_of(39.1e6)]
    ['2S', '2Lw']
    """
    return [group for group in national_groups() if group.holds(gross_wobbe_15_15_J_per_m3)]


BUTANES = frozenset({"n-butane", "isobutane"})


def groups_of_gas(
    gross_wobbe_15_15_J_per_m3: float, fractions: Mapping[str, float], own: Path | None = None
) -> list[WobbeGroup]:
    """As ``wobbe_family``; a gas of butanes alone counts as G30, whose isomers EN 437 lets stand in any ratio.

    fractions : mole fractions of its components, empty for a declared gas [-]

    >>> [group.code for group in groups_of_gas(87.49e6, {"n-butane": 1.0})], groups_of_gas(87.49e6, {})
    (['3', '3B/P', '3B'], [])
    """
    found = wobbe_family(gross_wobbe_15_15_J_per_m3, own)
    if found or not fractions or not BUTANES.issuperset(fractions):
        return found
    return wobbe_family(max(group.high_J_per_m3 for group in wobbe_groups(own)), own)


def not_of_family(family: Family, fractions: Mapping[str, float]) -> str:
    """Why a gas whose Wobbe index lies in the range of a family is none of its gases; "" where nothing says so.

    fractions : mole fractions of its components, empty for a declared gas [-]
    Source: table family_compositions, from the test gases of the families.

    >>> not_of_family(Family.SECOND, {"hydrogen": 1.0})
    'not a second-family gas: 0 % methane (at least 65 %), 100 % hydrogen (at most 25 %)'
    >>> not_of_family(Family.SECOND, {"methane": 0.77, "hydrogen": 0.23})
    ''
    """
    if not fractions:
        return ""
    beyond = []
    for row in tables.rows("family_compositions"):
        if row["family"] != family:
            continue
        share = 100.0 * sum(fractions.get(name, 0.0) for name in row["components"].split("|"))
        low, high = row["low_percent"], row["high_percent"]
        if low and share < float(low):
            beyond.append(f"{share:.3g} % {row['words']} (at least {low} %)")
        if high and share > float(high):
            beyond.append(f"{share:.3g} % {row['words']} (at most {high} %)")
    return f"not a {family.ordinal}-family gas: {', '.join(beyond)}" if beyond else ""
