"""Gases of the user's own: from a line of text, or blended from other gases, components and air."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TypeVar

from burnerlab.gas.component import canonical_name, is_component
from burnerlab.gas.composition import Composition, read_per
from burnerlab.gas.gas import Gas
from burnerlab.gas.library import named_part
from burnerlab.quantity import Problem, UserError

Part = TypeVar("Part", str, Gas, str | Gas)

PART = re.compile(
    r"\s*(?P<name>[\w(][^=:;]*?)\s*[=:]\s*(?P<value>[^,;=:\s%]+)\s*(?P<percent>%?)\s*(?:[,;]\s*|$)"
)
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
LONGEST_MIX = 4000  # characters; a line of all components is below 1000


def blend(
    parts: Mapping[Part, float], per: str, *, normalize: bool = False, name: str = "blend", key: str = "blend"
) -> Gas:
    """A gas blended from gases (library names or ``Gas``), components and air; a blend can be blended again.

    parts : fraction, or per cent, of each; per : mole, volume, mass or liquid volume.
    A part by volume is the real-gas volume of that gas at 15 C and 101.325 kPa before it is blended.
    Two blends of one name are two parts, told apart by a number.
    Raises UserError for an unknown or repeated part, one outside its range, or a sum other than 1 (or 100).

    >>> half = blend({"propane": 0.5, "air": 0.5}, per="mole")
    >>> blend({half: 0.5, "nitrogen": 0.5}, per="mole").composition["propane"]
    0.25
    """
    basis = read_per(per, key)
    pieces: list[tuple[str, Composition, float]] = []
    for part, amount in parts.items():
        label, piece = _part(part, key)
        pieces.append((_label(part, label, [known for known, _, _ in pieces]), piece, amount))
    composition = Composition.blended(pieces, basis, normalize=normalize, key=key)
    listed = ", ".join(f"{label} {amount:g}" for label, _, amount in pieces)
    title = f"{listed} (per {basis})"
    return Gas(
        name=name,
        title=title,
        composition=composition,
        source="given by the user",
        provenance="measured here",
    )


def _label(part: str | Gas, name: str, taken: list[str]) -> str:
    """The name of a part; a gas of a name that is taken gets a number, a name written twice stays as it is."""
    alike = sum(known.split(" no. ")[0] == name for known in taken)
    return f"{name} no. {alike + 1}" if alike and isinstance(part, Gas) else name


def mix(
    parts: Mapping[str, float], per: str, *, normalize: bool = False, name: str = "mix", key: str = "mix"
) -> Gas:
    """A gas from parts of components, air or library gases by name; see ``blend``.

    >>> mix({"propane": 60, "air": 40}, per="volume").composition["propane"]
    0.604
    """
    return blend(parts, per, normalize=normalize, name=name, key=key)


def read_mix(text: str, per: str, *, normalize: bool = False, key: str = "mix") -> Gas:
    """A gas from one line of text: ``methane=0.9, ethane=0.1``, ``CH4: 90, C2H6: 10`` or ``propane=60 %, air=40 %``.

    per : what the parts count: mole, volume, mass or liquid volume. Raises UserError as ``blend`` does.

    >>> read_mix("CH4=86, N2=14", per="mole").composition.as_dict()
    {'methane': 0.86, 'nitrogen': 0.14}
    """
    read_per(per, key)
    parts: dict[str, float] = {}
    percents = 0
    position = 0
    while position < len(text):
        found = PART.match(text, position)
        if found is None or not NUMBER.fullmatch(found["value"]) or len(text) > LONGEST_MIX:
            raise _not_a_mix(text, text[position:], key)
        name = canonical_name(found["name"], key) if is_component(found["name"]) else found["name"]
        if name in parts:
            raise UserError(
                Problem(f"{name} given twice", value=text, key=key, fix="give each component once")
            )
        parts[name] = float(found["value"])
        percents += bool(found["percent"])
        position = found.end()
    if not parts:
        raise _not_a_mix(text, text, key)
    if percents and percents != len(parts):
        what = "percent and fraction mixed: some parts carry % and others do not"
        raise UserError(Problem(what, value=text, key=key, fix="write all parts in per cent or none"))
    if percents:
        parts = {name: value / 100.0 for name, value in parts.items()}
    return mix(parts, per, normalize=normalize, key=key)


def _not_a_mix(text: str, rest: str, key: str) -> UserError:
    what = f'cannot read "{rest.strip()[:30]}"'
    if re.search(r"[=:]\s*\d+,\d", text):
        what += ": use a point as decimal mark"
    accepted = 'name=part, separated by commas, such as "methane=0.9, ethane=0.1"'
    return UserError(
        Problem(what, value=text, key=key, accepted=accepted, fix="write each part as name=number")
    )


def _part(part: str | Gas, key: str) -> tuple[str, Composition]:
    """Name and composition of one part of a blend."""
    return (part.name, part.composition) if isinstance(part, Gas) else named_part(part, key)
