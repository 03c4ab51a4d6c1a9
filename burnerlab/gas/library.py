"""The gases of ``fuels/``, and gases of the user's own from a file or a table of a project file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

from burnerlab import tables
from burnerlab.gas.component import canonical_name, is_component, meant_components, near_components
from burnerlab.gas.composition import Composition
from burnerlab.gas.declared import DeclaredGas
from burnerlab.gas.gas import Gas
from burnerlab.gas.mapping import read_gas
from burnerlab.quantity import Problem, UserError

_BLANKS = str.maketrans("-_", "  ")
LARGEST_FILE = 1 << 20  # bytes; a gas file is a page


@cache
def _entries() -> Mapping[str, tuple[str, Mapping[str, Any]]]:
    """Every library gas by name: the file it is in and its table."""
    found: dict[str, tuple[str, Mapping[str, Any]]] = {}
    for path in sorted(tables.folder("fuels").glob("*.toml")):
        for name, entry in tomllib.loads(path.read_text(encoding="utf-8")).items():
            if name in found:
                raise ValueError(f"gas {name!r} is in {found[name][0]} and in {path.name}")
            found[name] = (path.name, entry)
    return found


def fuels() -> tuple[str, ...]:
    """Names of all gases of the library, sorted.

    >>> "natural-gas-typical" in fuels()
    True
    """
    return tuple(sorted(_entries(), key=str.casefold))


def _squeezed(text: str) -> str:
    """A name without capitals, blanks and hyphens, which people write or leave out."""
    return "".join(text.casefold().translate(_BLANKS).split())


@cache
def _by_squeezed() -> Mapping[str, str]:
    return {_squeezed(name): name for name in _entries()}


def gas_of(gas: object, key: str = "gas") -> Any:
    """A gas as it is, or that of the library with this name.

    Raises UserError for what is neither.

    >>> gas_of("propane") == gas_of(load("propane"))
    True
    """
    if isinstance(gas, str):
        return load(gas, key)
    if not hasattr(gas, "density_kg_per_m3"):
        raise UserError(Problem("is no gas", repr(gas)[:60], key, fix='name one, such as "propane"'))
    return gas


def load(name: str, key: str = "gas") -> Gas | DeclaredGas:
    """A gas of the library by name (capitals do not matter), or of a TOML file of one's own by its path.

    Raises UserError with the nearest names.

    >>> load("g20").title
    'G20, methane test gas'
    """
    text = str(name).strip()
    if text.casefold().endswith(".toml"):
        return _from_file(Path(text), key)
    found = _by_squeezed().get(_squeezed(text))
    if found is None:
        raise _unknown(text, key)
    return _loaded(found)


@cache
def _loaded(name: str) -> Gas | DeclaredGas:
    file, entry = _entries()[name]
    return gas_from_mapping({"name": name, **entry}, file=f"fuels/{file}", key=name)


def gas_from_mapping(mapping: Mapping[str, Any], *, file: str = "", key: str = "gas") -> Gas | DeclaredGas:
    """A gas given as ``composition``, as ``blend``, or as ``gross_heating_value`` with ``relative_density``.

    file, key : where the table was read, for the messages. Raises UserError with every problem found.

    >>> gas_from_mapping({"name": "mine", "composition": {"CH4": 95, "CO2": 5}, "per": "volume"}).name
    'mine'
    """
    return read_gas(mapping, named_part, file=file, key=key)


def named_part(name: str, key: str) -> tuple[str, Composition]:
    """Name and composition of one part of a blend: a component, air, or a library gas that has a composition."""
    if is_component(name):
        pure = canonical_name(name, key)
        return pure, Composition.pure(pure)
    try:
        gas = load(name, key)
        if isinstance(gas, DeclaredGas):
            problem = "cannot be blended: only its heating value and relative density are known"
            raise UserError(Problem(problem, value=name, key=key, fix="blend a gas with a composition"))
    except UserError:
        if near_components(name, cutoff=0.8):
            canonical_name(name, key)  # raises: a component misspelt, more likely than a gas of the library
        raise
    return name, gas.composition


def _unknown(text: str, key: str) -> UserError:
    near = _in_daily_use().get(_squeezed(text)) or _alike(_squeezed(text))
    fix = f"did you mean {' or '.join(near)}?" if near else "burnerlab fuels lists the names"
    if is_component(text):
        pure = " or ".join(f'--mix "{name}=1"' for name in meant_components(text))
        fix = f"write {pure} for a pure component; {fix}"
    accepted = f"one of the {len(_entries())} gases of the library, or the path of a .toml file"
    return UserError(Problem("unknown gas", value=text, key=key, accepted=accepted, fix=fix))


@cache
def _in_daily_use() -> Mapping[str, list[str]]:
    """Words such as LPG that name no one gas, and the gases that may be meant."""
    return {_squeezed(row["word"]): row["meant"].split("|") for row in tables.rows("gas_words")}


def _alike(plain: str) -> list[str]:
    """Names that look like a squeezed text or hold it, nearest first."""
    names = _by_squeezed()
    near = [names[match] for match in get_close_matches(plain, list(names), n=3, cutoff=0.55)]
    near += [name for name in fuels() if plain and plain in _squeezed(name)]
    if plain.replace("o", "0") in names:  # the letter for the figure, as in G2O
        near.insert(0, names[plain.replace("o", "0")])
    return list(dict.fromkeys(near))[:4]


def _from_file(path: Path, key: str) -> Gas | DeclaredGas:
    try:
        if not path.is_file():
            raise UserError(
                Problem("not a regular file", value=str(path), key=key, fix="give the path of a gas file")
            )
        if path.stat().st_size > LARGEST_FILE:
            raise UserError(
                Problem("file larger than 1 MiB", value=str(path), key=key, fix="give a gas file")
            )
        text = path.read_bytes().decode("utf-8-sig")
        entry = tomllib.loads(text)
    except RecursionError:
        raise UserError(Problem("cannot read: nested too deeply", file=str(path))) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError, ValueError) as error:
        if isinstance(error, UserError):
            raise
        raise UserError(Problem(f"cannot read: {error}", file=str(path))) from None
    inner = entry.get("gas", entry)
    if not isinstance(inner, Mapping):
        raise UserError(Problem("must be a table", file=str(path), key="gas", fix="write [gas]"))
    return gas_from_mapping({"name": path.stem, **inner}, file=str(path), key="gas" if "gas" in entry else "")
