"""What is counted at a reference state: heating values, volumes and volume flows as a user wrote them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from . import alias
from .engine import is_quantity, magnitude_SI
from .grammar import refuse, split
from .kind import Kind
from .read import EXAMPLES, NEEDS_REFERENCE, Basis, Per, bounded, plain, read_text, take_basis
from .reference import ReferenceState

_AT = re.compile(r" (?:at|@) ?(?=\S)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class HeatingValue:
    """A heating value [J/m3, J/kg or J/mol], its basis, and its reference state where said."""

    value: float
    per: Per
    basis: Basis | None
    reference: ReferenceState | None


@dataclass(frozen=True, slots=True)
class AtReference:
    """A volume [m3] or volume flow [m3/s] counted at a stated reference state."""

    value: float
    reference: ReferenceState


_PER: dict[Per, Kind] = {
    "volume": Kind.HEATING_VALUE_VOLUME,
    "mass": Kind.HEATING_VALUE_MASS,
    "mole": Kind.HEATING_VALUE_MOLE,
}


def read_heating_value(given: object, key: str = "") -> HeatingValue:
    """A heating value, what it is per, its basis and, per volume, its reference state.

    given : text such as "1037 Btu/ft3 gross at 60F", "50.3 MJ/kg net", or a pint quantity
    Raises UserError. Basis and reference are None when not said: the caller decides whether that will do.

    >>> read_heating_value("21591 Btu/lb gross").per
    'mass'
    """
    if not isinstance(given, str):
        per = _per_of_quantity(given) if is_quantity(given) else "volume"
        value = bounded(plain(given, _PER[per], key), given, _PER[per], key, None, None)
        return HeatingValue(value, per, None, None)
    head, *tail = _AT.split(given.strip(" "), maxsplit=1)
    head, basis = take_basis(head, key)
    at, late = take_basis(tail[0], key) if tail else ("", None)
    basis = basis or late
    written = split(head, key, EXAMPLES[Kind.HEATING_VALUE_VOLUME])
    per = next((per for per, kind in _PER.items() if alias.find(written.unit, kind)), "volume")
    value = bounded(read_text(head, _PER[per], key, bool(at)), given, _PER[per], key, None, None)
    return HeatingValue(value, per, basis, ReferenceState.read(at, key=key) if at else None)


def _per_of_quantity(quantity: object) -> Per:
    for per, kind in _PER.items():
        try:
            magnitude_SI(quantity, kind)
        except ValueError:
            continue
        return per
    return "volume"


def read_at_reference(
    given: object, kind: Kind, key: str = "", *, reference: ReferenceState | None = None
) -> AtReference:
    """A volume or volume flow counted at a stated reference state.

    given : text such as "35 scfh at 60F" or "10 m3/h at 15C/15C"
    kind : Kind.REFERENCE_VOLUME or Kind.REFERENCE_VOLUME_FLOW
    reference : taken when the text states none
    Raises UserError when no reference is stated.

    >>> read_at_reference("36 m3/h at 15C/15C", Kind.REFERENCE_VOLUME_FLOW).value
    0.01
    """
    if kind not in NEEDS_REFERENCE:
        raise TypeError(f"{kind.value} has no reference state")
    text: object = given
    if isinstance(given, str):
        text, *tail = _AT.split(given.strip(" "), maxsplit=1)
        if tail:
            reference = ReferenceState.read(tail[0], key=key)
    value = bounded(plain(text, kind, key, True), given, kind, key, None, None)
    if reference is None:
        fix = f"add it, such as {text} at 15C/15C, or {text} at 60F"
        raise refuse("the reference state of this volume is missing", str(given), key, fix=fix)
    return AtReference(value, reference)
