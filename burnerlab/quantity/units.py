"""Kinds of quantity, the spellings of their units, and the factors between them."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any

from burnerlab import tables

# Kinds of quantity: finer than dimensions, because the errors of this trade lie between equal ones.


class Kind(Enum):
    """What a number stands for; the value is its name in words.

    >>> Kind.HEAT_FLUX.value
    'power per area'
    """

    GAUGE_PRESSURE = "gauge pressure"
    ABSOLUTE_PRESSURE = "absolute pressure"
    PRESSURE_DIFFERENCE = "pressure difference"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"
    LENGTH = "length"
    DIAMETER = "diameter"
    AREA = "area"
    VOLUME = "volume"
    REFERENCE_VOLUME = "volume at a reference state"
    MASS = "mass"
    AMOUNT = "amount of substance"
    TIME = "time"
    ENERGY = "energy"
    POWER = "power"
    HEAT_FLUX = "power per area"
    HEATING_VALUE_VOLUME = "heating value per volume"
    HEATING_VALUE_MASS = "heating value per mass"
    HEATING_VALUE_MOLE = "heating value per mole"
    FRACTION = "fraction"
    MASS_FLOW = "mass flow"
    VOLUME_FLOW = "volume flow"
    REFERENCE_VOLUME_FLOW = "volume flow at a reference state"
    DENSITY = "density"
    VELOCITY = "velocity"
    ANGLE = "angle"


SI: dict[Kind, str] = {
    Kind.GAUGE_PRESSURE: "pascal",
    Kind.ABSOLUTE_PRESSURE: "pascal",
    Kind.PRESSURE_DIFFERENCE: "pascal",
    Kind.TEMPERATURE: "kelvin",
    Kind.TEMPERATURE_DIFFERENCE: "kelvin",
    Kind.LENGTH: "meter",
    Kind.DIAMETER: "meter",
    Kind.AREA: "meter ** 2",
    Kind.VOLUME: "meter ** 3",
    Kind.REFERENCE_VOLUME: "meter ** 3",
    Kind.MASS: "kilogram",
    Kind.AMOUNT: "mole",
    Kind.TIME: "second",
    Kind.ENERGY: "joule",
    Kind.POWER: "watt",
    Kind.HEAT_FLUX: "watt / meter ** 2",
    Kind.HEATING_VALUE_VOLUME: "joule / meter ** 3",
    Kind.HEATING_VALUE_MASS: "joule / kilogram",
    Kind.HEATING_VALUE_MOLE: "joule / mole",
    Kind.FRACTION: "dimensionless",
    Kind.MASS_FLOW: "kilogram / second",
    Kind.VOLUME_FLOW: "meter ** 3 / second",
    Kind.REFERENCE_VOLUME_FLOW: "meter ** 3 / second",
    Kind.DENSITY: "kilogram / meter ** 3",
    Kind.VELOCITY: "meter / second",
    Kind.ANGLE: "radian",
}
"""The unit every value has inside, in the words of pint."""

RATIOS: dict[Kind, tuple[Kind, Kind]] = {
    Kind.POWER: (Kind.ENERGY, Kind.TIME),
    Kind.HEAT_FLUX: (Kind.POWER, Kind.AREA),
    Kind.HEATING_VALUE_VOLUME: (Kind.ENERGY, Kind.REFERENCE_VOLUME),
    Kind.HEATING_VALUE_MASS: (Kind.ENERGY, Kind.MASS),
    Kind.HEATING_VALUE_MOLE: (Kind.ENERGY, Kind.AMOUNT),
    Kind.MASS_FLOW: (Kind.MASS, Kind.TIME),
    Kind.VOLUME_FLOW: (Kind.VOLUME, Kind.TIME),
    Kind.REFERENCE_VOLUME_FLOW: (Kind.REFERENCE_VOLUME, Kind.TIME),
    Kind.DENSITY: (Kind.MASS, Kind.VOLUME),
    Kind.VELOCITY: (Kind.LENGTH, Kind.TIME),
}
"""Kinds whose units may be written as one unit over another, each taken from the table."""

ABOVE_ZERO = frozenset(
    {
        Kind.ABSOLUTE_PRESSURE,
        Kind.TEMPERATURE,
        Kind.DIAMETER,
        Kind.HEATING_VALUE_VOLUME,
        Kind.HEATING_VALUE_MASS,
        Kind.HEATING_VALUE_MOLE,
        Kind.DENSITY,
    }
)
"""Kinds for which zero and below have no meaning."""

NOT_BELOW_ZERO = frozenset({Kind.MASS, Kind.VOLUME, Kind.REFERENCE_VOLUME, Kind.TIME, Kind.AREA, Kind.AMOUNT})
"""Kinds for which a negative value has no meaning."""


# The conversion engine: a small pint registry of our own definitions; the sizes of listed units are a
# table.


@dataclass(frozen=True, slots=True)
class Scale:
    """How a unit maps to SI: value_SI = value * factor + offset."""

    factor: float
    offset: float


def _pint() -> Any:
    """pint, without the array libraries it loads when they are installed: they cost more time than all the rest."""
    hidden = [name for name in ("dask", "xarray") if name not in sys.modules]
    sys.modules.update(dict.fromkeys(hidden))  # type: ignore[arg-type]  # None: as if not installed
    try:
        import pint
    finally:
        for name in hidden:
            del sys.modules[name]
    return pint


@cache
def registry() -> Any:
    """The registry behind every conversion, in exact fractions, from the table ``unit_definitions``."""
    pint = _pint()
    own: Any = pint.UnitRegistry(None, non_int_type=Fraction)
    for row in tables.rows("unit_definitions"):
        own.define(f"{row['name']} = {row['definition']}")
    return own


@cache
def _listed() -> Mapping[str, Scale]:
    """The units of the table ``unit_scales``: loading pint takes as long as a whole command."""
    return {
        row["unit"]: Scale(row.number("factor"), row.number("offset")) for row in tables.rows("unit_scales")
    }


@cache
def scale(unit: str, kind: Kind) -> Scale:
    """Factor and offset of a unit, correctly rounded.

    >>> scale("degF", Kind.TEMPERATURE)
    Scale(factor=0.5555555555555556, offset=255.3722222222222)
    """
    return _listed().get(unit) or computed_scale(unit, kind)


def computed_scale(unit: str, kind: Kind) -> Scale:
    """Factor and offset of any unit of the registry, one unit over another too, in exact fractions."""
    at = registry().Quantity
    zero = at(Fraction(0), unit).to(SI[kind]).magnitude
    one = at(Fraction(1), unit).to(SI[kind]).magnitude
    return Scale(float(one - zero), float(zero))


def is_quantity(value: object) -> bool:
    """Whether this is a pint quantity, of whatever registry; pint is not imported."""
    return all(hasattr(value, name) for name in ("magnitude", "units", "dimensionality", "m_as"))


def magnitude_SI(quantity: Any, kind: Kind) -> float:
    """The SI number of a pint quantity of any registry, by that registry's own definitions.

    Raises ValueError with the reason in words when it cannot stand for the kind.
    """
    units = str(quantity.units)
    if kind is Kind.TEMPERATURE_DIFFERENCE and units in (
        "degree_Celsius",
        "degree_Fahrenheit",
        "degC",
        "degF",
    ):
        raise ValueError("is a point on a scale, and a difference is wanted")
    if kind is Kind.TEMPERATURE and units.startswith("delta_"):
        raise ValueError("is a temperature difference, and a temperature is wanted")
    try:
        plain = quantity.m_as(SI[kind])
    except Exception as error:  # pint's error types cannot be named without importing it
        raise ValueError(f"does not convert to {kind.value}") from error
    if getattr(plain, "shape", ()) != ():
        raise ValueError("must be one value, got an array")
    try:
        return float(plain)
    except (TypeError, ValueError, OverflowError) as error:
        raise ValueError("must be one real number") from error


# The one list of unit spellings: what each means for each kind, and which are refused.

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


@lru_cache(maxsize=1024)  # what users write has no end
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
            f"{said} belongs to the place of the value, not to its unit", fix=f"write {number}{bare.spelling}"
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
