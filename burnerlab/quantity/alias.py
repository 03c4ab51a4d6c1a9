"""The one list of unit spellings: what each means for each kind, and which are refused."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from burnerlab import tables

from .engine import Scale, scale
from .kind import RATIOS, Kind

_STRIP = str.maketrans({" ": None, ".": None, "^": None, "²": "2", "³": "3"})
_PER = re.compile(r"(?<=[A-Za-z0-9.)]) +per +(?=[A-Za-z])")


_PRESSURES = (Kind.GAUGE_PRESSURE, Kind.ABSOLUTE_PRESSURE, Kind.PRESSURE_DIFFERENCE)


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as spelled first in the table: its name for pint, its system, and its map to SI."""

    name: str
    spelling: str
    kind: Kind
    system: str
    counted_at_reference: bool = False  # scf, Nm3: means nothing until the reference state is said

    @property
    def scale(self) -> Scale:
        return scale(self.name, self.kind)


def squeeze(spelling: str) -> str:
    """Spaces, dots and carets taken out: ``in w.c.`` and ``inWC`` differ in case only.

    >>> squeeze("Btu per cu. ft"), squeeze("m^3 / h")
    ('Btu/cuft', 'm3/h')
    """
    return _PER.sub("/", spelling.strip()).translate(_STRIP)


def fold(squeezed: str) -> str:
    """Case taken out, but never between m and M at the front, where it is a factor of 1e9."""
    return squeezed[:1] + squeezed[1:].casefold() if squeezed[:1] in "mM" else squeezed.casefold()


@dataclass(frozen=True, slots=True)
class Spellings:
    """The spellings of one kind: as written, and with case taken out where that stays unambiguous."""

    exact: Mapping[str, Unit]
    folded: Mapping[str, Unit]

    def get(self, squeezed: str) -> Unit | None:
        return self.exact.get(squeezed) or self.folded.get(fold(squeezed))


@cache
def spellings(kind: Kind) -> Spellings:
    exact: dict[str, Unit] = {}
    folded: dict[str, Unit] = {}
    for row in tables.rows("units"):
        if kind.name not in row["kinds"].split("|"):
            continue
        written = row["spellings"].split("|")
        unit = Unit(row["unit"], written[0], kind, row["system"], bool(row["counts"]))
        for text in written:
            for book, entry in ((exact, squeeze(text)), (folded, fold(squeeze(text)))):
                if book.setdefault(entry, unit).name != unit.name:
                    raise ValueError(f"units table: {text!r} is two units of {kind.value}")
        exact.update({squeeze(text): unit for text in row["exact"].split("|") if text})
    return Spellings(exact, folded)


@cache
def _ratio(kind: Kind, above: Unit, below: Unit) -> Unit:
    under = below.name if " " not in below.name else f"({below.name})"
    spelling = f"{above.spelling}/{below.spelling}"
    counted = above.counted_at_reference or below.counted_at_reference
    return Unit(f"{above.name} / {under}", spelling, kind, above.system, counted)


def find(spelling: str, kind: Kind) -> Unit | None:
    """The unit of this kind with this spelling, or one unit over another where the kind allows it.

    >>> find("MJ/m3", Kind.HEATING_VALUE_VOLUME).name
    'megajoule / (meter ** 3)'
    """
    squeezed = squeeze(spelling)
    found = spellings(kind).get(squeezed)
    if found is not None or kind not in RATIOS or "/" not in squeezed:
        return found
    over, _, under = squeezed.rpartition("/")
    above, below = find(over, RATIOS[kind][0]), spellings(RATIOS[kind][1]).get(under)
    return _ratio(kind, above, below) if above and below else None


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a unit is not taken, and what to write."""

    what: str
    accepted: str = ""
    fix: str = ""


@cache
def _refusals() -> Mapping[str, tuple[tuple[frozenset[str], Refusal], ...]]:
    book: dict[str, tuple[tuple[frozenset[str], Refusal], ...]] = {}
    for row in tables.rows("unit_refusals"):
        entry = (frozenset(row["kinds"].split("|")), Refusal(row["what"], fix=row["fix"]))
        for text in {fold(squeeze(text)) for text in row["spellings"].split("|")}:
            book[text] = (*book.get(text, ()), entry)
    return book


def _listed_refusal(squeezed: str, kind: Kind) -> Refusal | None:
    for kinds, refusal in _refusals().get(fold(squeezed), ()):
        if "*" in kinds or kind.name in kinds:
            return refusal
    if kind in RATIOS and "/" in squeezed:
        over, _, under = squeezed.rpartition("/")
        above, below = RATIOS[kind]
        return _listed_refusal(over, above) or _listed_refusal(under, below)
    return None


def _basis_refusal(squeezed: str, kind: Kind, number: str) -> Refusal | None:
    if kind not in _PRESSURES:
        return None
    match = re.fullmatch(r"(.+?)\(?(gauge|absolute|abs|g|a)\)?", squeezed, re.IGNORECASE)
    bare = match and find(match[1], Kind.PRESSURE_DIFFERENCE)
    if not match or not bare:
        return None
    said = "gauge" if match[2][0] in "gG" else "absolute"
    if kind.value.startswith(said):
        return Refusal(
            f"{said} is said by the place of the value, not by the unit", fix=f"write {number}{bare.spelling}"
        )
    other = "the pressure above the atmosphere" if kind is Kind.GAUGE_PRESSURE else "the absolute pressure"
    other = "the difference" if kind is Kind.PRESSURE_DIFFERENCE else other
    return Refusal(f"is {said}, and {_article(kind.value)} is wanted", fix=f"give {other} in {bare.spelling}")


def accepted(kind: Kind) -> str:
    """Spellings of a kind, as a list to print.

    >>> accepted(Kind.HEATING_VALUE_MASS)
    'J/kg, kJ/kg, MJ/kg, kWh/kg, kcal/kg, Btu/lb ...'
    """
    own = list(dict.fromkeys(unit.spelling for unit in spellings(kind).exact.values()))
    if kind is Kind.POWER:
        own += ["MJ/h", "kcal/h"]
    if own and kind not in (
        Kind.HEATING_VALUE_VOLUME,
        Kind.MASS_FLOW,
        Kind.VELOCITY,
        Kind.REFERENCE_VOLUME_FLOW,
    ):
        return ", ".join(own)
    return _RATIO_EXAMPLES.get(kind, ", ".join(own))


_RATIO_EXAMPLES = {
    Kind.HEATING_VALUE_VOLUME: "J/m3, kJ/m3, MJ/m3, kWh/m3, kcal/m3, Btu/ft3 ...",
    Kind.HEATING_VALUE_MASS: "J/kg, kJ/kg, MJ/kg, kWh/kg, kcal/kg, Btu/lb ...",
    Kind.HEATING_VALUE_MOLE: "J/mol, kJ/mol, MJ/kmol, Btu/lbmol ...",
    Kind.MASS_FLOW: "kg/s, kg/h, g/s, g/h, lb/h ...",
    Kind.DENSITY: "kg/m3, g/L, g/cm3, lb/ft3 ...",
    Kind.VELOCITY: "m/s, mm/s, m/min, ft/s, ft/min ...",
    Kind.VOLUME_FLOW: "m3/h, m3/s, L/min, ft3/h, cfh, cfm ...",
    Kind.REFERENCE_VOLUME_FLOW: "m3/h, L/min, ft3/h, each with its reference, as in 10 m3/h at 15C/15C",
}


def refuse(spelling: str, kind: Kind, number: str = "") -> Refusal:
    """Why this spelling is not a unit of this kind; ``number`` goes before the unit in the fix."""
    number = f"{number} " if number else ""
    squeezed = squeeze(spelling)
    known = _listed_refusal(squeezed, kind) or _basis_refusal(squeezed, kind, number)
    if known is not None:
        return known
    for other in Kind:
        if other is not kind and find(spelling, other):
            what = f"is {_article(_family(other))}, and {_article(kind.value)} is wanted"
            return Refusal(what, accepted=accepted(kind))
    near = get_close_matches(fold(squeezed), list(spellings(kind).folded), n=1, cutoff=0.6)
    if kind is Kind.TIME and any(letter.isdigit() for letter in squeezed):
        near = []  # 1 min 47 s is not 1 min
    hint = f"did you mean {number}{spellings(kind).folded[near[0]].spelling}?" if near else ""
    return Refusal("unit not recognised", accepted=accepted(kind), fix=hint)


def _family(kind: Kind) -> str:
    """What the unit alone tells: a plain kPa does not say gauge or absolute."""
    if kind in _PRESSURES:
        return "pressure"
    return {Kind.TEMPERATURE_DIFFERENCE: "temperature", Kind.DIAMETER: "length"}.get(kind, kind.value)


def _article(words: str) -> str:
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words}"
