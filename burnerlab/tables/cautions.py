"""Cautions: one set for terminal, page, sheet, JSON, workbook, CSV, PDF and notebooks; no option removes one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from burnerlab.tables import rows
from burnerlab.tables.phrase import Phrase


class Signal(StrEnum):
    """Signal words of cautions and stops, worst first."""

    DANGER = "DANGER"  # of a stop alone: kills or maims unless it is avoided
    WARNING = "WARNING"  # could kill or maim
    CAUTION = "CAUTION"  # burns
    NOTICE = "NOTICE"  # injures nobody


CERTIFICATE = "certificate"  # stands where the line of every command would
EVERY = "every"
SPECIAL_GAS = "special-gas"
HIGH_PRESSURE = "high-pressure"
LACK_OF_AIR = "lack-of-air"
ALWAYS = Phrase(
    "Keep the gas off until a qualified person has found and corrected the cause, leak tested by the local code and "
    "recorded the release."
)
"""How every stop ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A hazard, what it can do and how to avoid it, under its signal word; ``line`` is the short form."""

    id: str
    signal: Signal  # what it is; printed is its word
    word: str
    hazard: str
    consequence: str
    avoidance: str
    short: str  # at most 80 columns with its word
    occasions: tuple[str, ...]  # commands and occasions it belongs to

    @property
    def text(self) -> str:
        """The full text, without the signal word."""
        return " ".join((self.hazard, self.consequence, self.avoidance))

    @property
    def line(self) -> str:
        """The short form with its signal word."""
        return f"{self.word}: {self.short}"

    @property
    def first_sentence(self) -> str:
        """The hazard of the short form.

        >>> caution("gas-leak").first_sentence
        'Leaking gas can explode.'
        """
        return self.short.partition(". ")[0].rstrip(".") + "."

    def as_json(self) -> dict[str, str]:
        """The full caution, never shortened."""
        return {
            "id": self.id,
            "signal": self.signal,
            "hazard": self.hazard,
            "consequence": self.consequence,
            "avoidance": self.avoidance,
        }


@cache
def cautions() -> tuple[Caution, ...]:
    """The whole set, worst first.

    >>> [one.id for one in cautions()][:3]
    ['gas-leak', 'carbon-monoxide', 'overfire']
    """
    return tuple(
        Caution(
            id=row["id"],
            signal=Signal(row["signal"]),
            word=Phrase(row["signal"]),
            hazard=Phrase(row["hazard"]),
            consequence=Phrase(row["consequence"]),
            avoidance=Phrase(row["avoidance"]),
            short=Phrase(row["line"]),
            occasions=tuple(row["when"].split()),
        )
        for row in rows("cautions")
    )


def caution(id: str) -> Caution:
    """The caution of this id.

    >>> caution("hot-surface").line
    'CAUTION: Hot parts burn skin. Let them cool; measure, do not rely on estimates.'
    """
    return next(one for one in cautions() if one.id == id)


def cautions_on(*occasions: str) -> tuple[Caution, ...]:
    """Those that belong to any of these commands or occasions, worst first.

    >>> [one.id for one in cautions_on("convert")]
    ['overfire', 'gas-parts', 'certificate']
    """
    return tuple(one for one in cautions() if set(one.occasions) & set(occasions))


def closing_cautions(command: str, *occasions: str) -> tuple[Caution, ...]:
    """Those whose lines close the answer of a command, worst first: its own, and what its occasions add.

    A supply above that of low-pressure appliances (occasion ``high-pressure``), a gas with hydrogen or carbon monoxide
    (``special-gas``) and a tile that lacks air (``lack-of-air``) add a line each; none takes the place of another.

    >>> [one.id for one in closing_cautions("size")]
    ['overfire', 'gas-parts', 'calculated']
    >>> [one.id for one in closing_cautions("size", "special-gas")]
    ['overfire', 'gas-parts', 'special-gas', 'calculated']
    >>> [one.id for one in closing_cautions("bench")]
    ['gas-leak', 'carbon-monoxide', 'flame', 'calculated']
    >>> [one.id for one in closing_cautions("convert", "high-pressure")]
    ['overfire', 'gas-parts', 'supply-pressure', 'certificate']
    >>> [one.id for one in closing_cautions("convert", "lack-of-air")]
    ['carbon-monoxide', 'overfire', 'gas-parts', 'certificate']
    """
    own = cautions_on(command, *occasions)
    return own if caution(CERTIFICATE) in own else cautions_on(command, EVERY, *occasions)


def is_special_gas(mole_fractions: Mapping[str, float]) -> bool:
    """Whether a gas holds enough hydrogen or carbon monoxide to have a caution of its own.

    mole_fractions : by name of the component [-]; limits in ``conversion_figures``

    >>> is_special_gas({"methane": 0.8, "hydrogen": 0.2}), is_special_gas({"methane": 1.0})
    (True, False)
    """
    limits = {
        row["name"]: float(row["value"]) for row in rows("conversion_figures") if row["name"] in _SHARES
    }
    return any(mole_fractions.get(component, 0.0) >= limits[name] for name, component in _SHARES.items())


_SHARES = {"hydrogen_share": "hydrogen", "poisonous_share": "carbon monoxide"}
