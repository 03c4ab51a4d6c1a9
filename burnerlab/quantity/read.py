"""The strict reader: a user's text, or a pint quantity, becomes an SI number or a complaint that helps."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

from burnerlab import tables
from burnerlab.quantity import units
from burnerlab.quantity.show import System, display_unit, in_unit, show
from burnerlab.quantity.units import ABOVE_ZERO, NOT_BELOW_ZERO, Kind, is_quantity, magnitude_SI

from .grammar import LONGEST, refuse, split, text_of

Basis = Literal["gross", "net"]
Per = Literal["volume", "mass", "mole"]

EXAMPLES: dict[Kind, str] = {
    Kind.GAUGE_PRESSURE: "11 in w.c.",
    Kind.ABSOLUTE_PRESSURE: "101.325 kPa",
    Kind.PRESSURE_DIFFERENCE: "2 mbar",
    Kind.TEMPERATURE: "20 C",
    Kind.TEMPERATURE_DIFFERENCE: "5 K",
    Kind.LENGTH: "400 mm",
    Kind.DIAMETER: "1.40 mm",
    Kind.AREA: "12 cm2",
    Kind.VOLUME: "1 ft3",
    Kind.REFERENCE_VOLUME: "1 m3 at 15C/15C",
    Kind.MASS: "13 kg",
    Kind.AMOUNT: "1 mol",
    Kind.TIME: "36.5 s",
    Kind.ENERGY: "1 MJ",
    Kind.POWER: "12 kBtu/h",
    Kind.HEAT_FLUX: "10 W/mm2",
    Kind.HEATING_VALUE_VOLUME: "38.6 MJ/m3",
    Kind.HEATING_VALUE_MASS: "50.3 MJ/kg",
    Kind.HEATING_VALUE_MOLE: "890.6 kJ/mol",
    Kind.FRACTION: "5 %",
    Kind.MASS_FLOW: "250 g/h",
    Kind.VOLUME_FLOW: "12 ft3/h",
    Kind.REFERENCE_VOLUME_FLOW: "1 m3/h at 15C/15C",
    Kind.DENSITY: "0.72 kg/m3",
    Kind.VELOCITY: "0.4 m/s",
    Kind.ANGLE: "30 deg",
}
"""One well-written value of each kind, shown in complaints."""

NEEDS_REFERENCE = (Kind.REFERENCE_VOLUME, Kind.REFERENCE_VOLUME_FLOW)
_TRAILING_ZEROS = re.compile(r"\.0+(?= )|(\.\d*[1-9])0+(?= )")
_BASIS_FIRST = re.compile(r"(gross|net) +(\S.*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Rate:
    """A heat input and its basis; the basis is None when the user did not say it."""

    power_W: float
    basis: Basis | None


def read(
    entry: object, kind: Kind, key: str = "", *, low: float | None = None, high: float | None = None
) -> float:
    """What the user wrote, in SI.

    entry : text such as "11 in w.c.", or a pint quantity of any registry
    kind : what the number stands for; low, high : accepted range [SI]
    Raises UserError with the accepted spellings or range and one fix.

    >>> read("11 in w.c.", Kind.GAUGE_PRESSURE)
    2739.978
    >>> read("20 C", Kind.TEMPERATURE)
    293.15
    """
    if kind in NEEDS_REFERENCE:
        raise TypeError(f"a {kind.value} is read by read_at_reference, which keeps the reference")
    return bounded(plain(entry, kind, key), entry, kind, key, low, high)


def plain(entry: object, kind: Kind, key: str, stated: bool = False) -> float:
    if is_quantity(entry):
        try:
            value = magnitude_SI(entry, kind)
        except ValueError as error:
            raise refuse(str(error), str(entry), key, accepted=units.accepted(kind)) from error
        if not math.isfinite(value):
            raise refuse("must be finite", str(entry), key)
        return _sized(value, str(entry), kind, key)
    if kind is Kind.FRACTION and isinstance(entry, (int, float)) and not isinstance(entry, bool):
        entry = repr(entry)
    return read_text(text_of(entry, key, EXAMPLES[kind]), kind, key, stated)


def read_text(text: str, kind: Kind, key: str, stated: bool) -> float:
    written = split(text, key, EXAMPLES[kind])
    if not written.unit:
        if kind is Kind.FRACTION and not written.fraction:
            return _sized(written.number, text, kind, key)
        example = "1500 m" if "altitude" in key else EXAMPLES[kind]
        raise refuse(
            "a bare number: the unit is missing",
            text,
            key,
            accepted=units.accepted(kind),
            fix=f'write the unit after it, as in "{example}"',
        )
    unit = units.find(written.unit, kind)
    if unit is None:
        bare, basis = take_basis(text, key)
        if basis:
            raise refuse(f"{basis} does not belong here", text, key, fix=f"write {bare}")
        why = units.refuse(written.unit, kind, f"{written.number:.12g}")
        raise refuse(why.what, text, key, accepted=why.accepted, fix=why.fix)
    if unit.counted_at_reference and not stated:
        fix = f"add it, such as {text} at 15C/15C, or {text} at 60F"
        raise refuse("the reference state of this volume is missing", text, key, fix=fix)
    if written.fraction and kind not in (Kind.LENGTH, Kind.DIAMETER):
        fix = f"write {written.number:.12g} {written.unit}"
        raise refuse("fractions are read for lengths only", text, key, fix=fix)
    value = written.number * unit.scale.factor + unit.scale.offset
    return _sized(value, text, kind, key)


@cache
def _sizes() -> Mapping[Kind, tuple[float, float]]:
    rows = tables.rows("quantity_ranges")
    return {Kind[row["kind"]]: (float(row["low"]), float(row["high"])) for row in rows}


def _sized(value: float, text: str, kind: Kind, key: str) -> float:
    """The value, when anything of its kind can be so large or so small. Raises UserError with what can be."""
    low, high = _sizes()[kind]
    if value == 0.0 or low <= abs(value) <= high:
        return value
    accepted = range_words(text, kind, low, high)
    raise refuse(f"no {kind.value} has this size", text, key, accepted=accepted, fix="check number and unit")


def bounded(
    value: float, entry: object, kind: Kind, key: str, low: float | None, high: float | None
) -> float:
    if kind in ABOVE_ZERO and not value > 0:
        what = "must be above absolute zero" if kind is Kind.TEMPERATURE else "must be above zero"
        raise refuse(what, str(entry), key, fix=_without_minus(str(entry), EXAMPLES[kind]))
    if kind in NOT_BELOW_ZERO and not value >= 0:
        raise refuse("must not be negative", str(entry), key, fix=_without_minus(str(entry), EXAMPLES[kind]))
    if (low is not None and not value >= low) or (high is not None and not value <= high):
        accepted, text = range_words(entry, kind, low, high), str(entry).strip()
        if kind is Kind.FRACTION and not is_quantity(entry) and value > 1.0 and not split(text, key, "").unit:
            what = f"a number without a unit is a fraction of 1: this is {100.0 * value:.12g} %"
            raise refuse(what, text, key, accepted=accepted, fix=f'if per cent, write "{text} %"')
        raise refuse("outside the accepted range", str(entry), key, accepted=accepted)
    return value


def range_words(entry: object, kind: Kind, low: float | None, high: float | None) -> str:
    """A range in the unit that was written, or in the usual one where that would print hundredths of it.

    >>> range_words("0.5 m", Kind.DIAMETER, 1e-4, 2e-2), range_words("5 kPa", Kind.GAUGE_PRESSURE, 100.0, None)
    ('0.1 mm to 20 mm', '0.1 kPa and above')
    """
    unit: str | None = None
    ends = [value for value in (low, high) if value is not None]
    if isinstance(entry, str):
        found = units.find(split(entry.strip(" "), "", "").unit or "%", kind)
        is_far = found is not None and any(
            0.0 < abs(in_unit(end, kind, found.spelling)) < 1e-3 for end in ends
        )
        unit = found.spelling if found and not is_far else None
    return _range([show(value, kind, unit=unit) for value in ends], has_low=low is not None)


def range_in(system: System, kind: Kind, low: float | None, high: float | None, unit: str = "") -> str:
    """A range in the units of a reader, that of the kind and size unless one is named.

    >>> range_in("metric", Kind.GAUGE_PRESSURE, 500.0, 15000.0), range_in("US", Kind.LENGTH, 1e-3, 0.3)
    ('5 mbar to 150 mbar', '0.03937 in to 11.81 in')
    """
    ends = [value for value in (low, high) if value is not None]
    usual = unit or display_unit(max(ends, key=abs), kind, system)[0]  # of zero too
    texts = [show(value, kind, unit=None if value and not unit else usual, system=system) for value in ends]
    return _range(texts, has_low=low is not None)


def _range(ends: list[str], *, has_low: bool) -> str:
    texts = [_TRAILING_ZEROS.sub(r"\1", text) for text in ends]
    if len(texts) > 1:
        return f"{texts[0]} to {texts[1]}"
    return f"{texts[0]} and above" if has_low else f"up to {texts[0]}"


@cache
def _basis_words() -> tuple[tuple[str, tables.Row], ...]:
    """Each word or phrase without case and accents, the longest first, with its row."""
    found = {
        _plain_letters(word): row for row in tables.rows("basis_words") for word in row["words"].split("|")
    }
    return tuple(sorted(found.items(), key=lambda entry: -len(entry[0])))


def _plain_letters(text: str) -> str:
    """Small letters without accents, one for each character."""
    return "".join(unicodedata.normalize("NFD", letter)[0] for letter in text).lower()


def take_basis(text: str, key: str) -> tuple[str, Basis | None]:
    """A text without the word or phrase at its end that says gross or net, and what it says.

    Raises UserError for a word that can be read in two ways, and for a basis before the value.

    >>> take_basis("3.5 kW (PCI)", ""), take_basis("38 MJ/m3 pouvoir calorifique supérieur", "")
    (('3.5 kW', 'net'), ('38 MJ/m3', 'gross'))
    """
    text = unicodedata.normalize("NFC", text)
    if len(text) > LONGEST:
        return text, None
    body = _plain_letters(text).rstrip(" )")
    for word, row in _basis_words():
        start = len(body) - len(word)
        if start > 0 and body.endswith(word) and not body[start - 1].isalnum():
            if not row["basis"]:
                raise refuse(row["what"], text, key, fix=row["fix"])
            basis: Basis = "gross" if row["basis"] == "gross" else "net"
            return _single_basis(text, text[:start].rstrip(" ("), basis, key)
    first = _BASIS_FIRST.fullmatch(text)
    if first:
        raise refuse("the basis comes last", text, key, fix=f"write {first[2]} {first[1].lower()}")
    return text, None


def _single_basis(text: str, rest: str, basis: Basis, key: str) -> tuple[str, Basis]:
    """The rest of a text before its basis; raises UserError where that ends with a basis as well."""
    bare, before = take_basis(rest, key)
    if before is None:
        return rest, basis
    what = "the basis stands twice" if before == basis else f"two bases: {before} and {basis}"
    either = f"{bare} {basis}" if before == basis else f"{bare} {before} or {bare} {basis}"
    raise refuse(what, text, key, fix=f"write {either}")


def read_rate(entry: object, key: str = "") -> Rate:
    """A heat input and its basis.

    entry : text such as "12 kBtu/h gross", "3.5 kW net", "12 000 Btu/h" (basis then None), or a pint quantity
    Raises UserError; the rate must be above zero.

    >>> read_rate("12 kBtu/h gross")
    Rate(power_W=3516.85, basis='gross')
    """
    text, basis = take_basis(entry.strip(" "), key) if isinstance(entry, str) else (entry, None)
    power = plain(text, Kind.POWER, key)
    if not power > 0:
        raise refuse(
            "must be above zero", str(entry), key, fix=_without_minus(str(entry), EXAMPLES[Kind.POWER])
        )
    return Rate(power, basis)


def _without_minus(text: str, example: str) -> str:
    """What to write for a figure that is not above zero.

    >>> _without_minus("-5 kW", "7 kW"), _without_minus("0 kW", "7 kW")
    ('write 5 kW', 'write a figure such as "7 kW"')
    """
    plain_text = text.strip()
    has_figure = plain_text.startswith("-") and re.search("[1-9]", plain_text) is not None
    return f"write {plain_text.lstrip('- ')}" if has_figure else f'write a figure such as "{example}"'


def require_basis(basis: Basis | None, entry: str, key: str = "") -> Basis:
    """The basis, or the complaint that it is missing."""
    if basis is None:
        raise refuse(
            "rating basis missing: gross or net", entry, key, fix=f"write {entry} gross or {entry} net"
        )
    return basis
