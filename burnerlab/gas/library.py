"""Gases by name, from a table of a file, or blended from others."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from burnerlab import tables
from burnerlab.gas.component import canonical_name, is_component, meant_components, near_components
from burnerlab.gas.composition import Composition, read_per
from burnerlab.gas.gas import DeclaredGas, Gas, declared_families
from burnerlab.quantity import Kind, Problem, ReferenceState, UserError, read, read_heating_value
from burnerlab.tables import PROVENANCES
from burnerlab.tables.libraries import (
    MARK,
    MIX_PREFIX,
    DataLibrary,
    is_mix,
    library,
    named_in,
    read_toml,
    toml_entries,
)
from burnerlab.tables.reader import ENTERED

# A gas from a table of a project file, a gas file, or the library.

ABOUT = ("name", "title", "source", "place", "provenance", "note")
COMPOSED = ("composition", "blend", "per", "normalize", "uncertainty", "printed")
NamedPart = Callable[[str, str], tuple[str, Composition]]  # of a blend, by its name and for a key
DECLARED = (
    *("gross_heating_value", "net_heating_value", "relative_density", "ideal", "family"),
    *("reference", "reference_pressure", "saturated"),
)


DENSITIES = (0.05, 5.0)  # of relative densities: helium and hydrogen to heavy vapours
NEEDS_VALUE = (
    "net_heating_value",
    "relative_density",
    "ideal",
    "family",
    "reference",
    "reference_pressure",
    "saturated",
)
NEEDS_PARTS = ("per", "normalize", "uncertainty", "printed")


_declared_names: set[str] = set()


def declared_names() -> frozenset[str]:
    """Names of the gases read by this process that are known by heating value and relative density alone.

    An answer names its gases; what it rests on differs with what is known of them.
    """
    return frozenset(_declared_names)


def read_gas(mapping: Mapping[str, Any], named_part: NamedPart, *, file: str, key: str) -> Gas | DeclaredGas:
    """The gas of a table; ``named_part`` looks up what a blend names, see ``library.gas_from_mapping``."""
    try:
        _check_keys(mapping)
        form = [k for k in ("composition", "blend", "gross_heating_value") if k in mapping]
        if len(form) != 1:
            problem = "a gas is one of: composition, blend, or gross_heating_value with relative_density"
            raise UserError(Problem(problem, value=" and ".join(form), fix="give exactly one of them"))
        _check_form(mapping, form[0])
        if form == ["gross_heating_value"]:
            gas = _declared(mapping)
            _declared_names.add(gas.name)
            return gas
        return _composed(mapping, form[0], named_part)
    except UserError as error:
        raise UserError([_placed(problem, file, key) for problem in error.problems]) from None


def _placed(problem: Problem, file: str, key: str) -> Problem:
    """The problem with the file and the full key path."""
    path = ".".join(part for part in (key, problem.key) if part)
    return Problem(
        problem.what, problem.value, path, problem.file or file, problem.line, problem.accepted, problem.fix
    )


def _check_keys(mapping: Mapping[str, Any]) -> None:
    known = (*ABOUT, *COMPOSED, *DECLARED)
    problems = []
    for given in mapping:
        if given in known:
            continue
        near = get_close_matches(str(given), known, n=1)
        fix = f"did you mean {near[0]}?" if near else "remove it"
        problems.append(Problem(f"unknown key {given}", accepted=", ".join(known), fix=fix))
    problems += [
        Problem("must be text", value=str(mapping[name]), key=name, fix="put it in quotes")
        for name in ABOUT
        if not isinstance(mapping.get(name, ""), str)
    ]
    problems += [
        Problem("must be true or false", value=str(mapping[name]), key=name)
        for name in ("normalize", "saturated", "ideal")
        if not isinstance(mapping.get(name, False), bool)
    ]
    if mapping.get("provenance", PROVENANCES[0]) not in PROVENANCES:
        accepted = ", ".join(PROVENANCES)
        problems.append(
            Problem(
                "unknown provenance", value=str(mapping["provenance"]), key="provenance", accepted=accepted
            )
        )
    if problems:
        raise UserError(problems)


def _check_form(mapping: Mapping[str, Any], form: str) -> None:
    """Refuse a key that a gas of this form does not read: it would look as if it counted."""
    is_declared = form == "gross_heating_value"
    problems = [
        Problem(f"is not used together with {form}", str(mapping[key]), key, fix="remove it")
        for key in (NEEDS_PARTS if is_declared else NEEDS_VALUE)
        if key in mapping
    ]
    if is_declared and "reference" not in mapping:
        problems += [
            Problem("is used with reference only", str(mapping[key]), key, fix='add reference = "15C/15C"')
            for key in ("reference_pressure", "saturated")
            if key in mapping
        ]
    if problems:
        raise UserError(problems)


def _about(mapping: Mapping[str, Any]) -> dict[str, str]:
    name = mapping.get("name", "own gas")
    about = {"name": name, "title": mapping.get("title", name), "note": mapping.get("note", "")}
    about["source"] = mapping.get("source", "entered by the user")
    about["provenance"] = mapping.get("provenance", ENTERED)
    return about


def _composed(mapping: Mapping[str, Any], form: str, named_part: NamedPart) -> Gas:
    parts = mapping[form]
    if not isinstance(parts, Mapping):
        raise UserError(
            Problem(
                "must be a table of parts", value=str(parts), key=form, fix="write { methane = 0.9, ... }"
            )
        )
    per = parts.get("per", mapping.get("per"))
    amounts = {str(name): value for name, value in parts.items() if name != "per"}
    normalize = mapping.get("normalize", False)
    if form == "composition":
        composition = Composition.of(amounts, per, normalize=normalize, key=form)
    else:
        pieces = ((*named_part(name, form), amount) for name, amount in amounts.items())
        composition = Composition.blended(pieces, read_per(per, form), normalize=normalize, key=form)
    return Gas(
        **_about(mapping),
        place=mapping.get("place", ""),
        composition=composition,
        uncertainty=_uncertainty(mapping.get("uncertainty"), composition),
        printed=_printed(mapping.get("printed")),
    )


def _printed(table: Any) -> Mapping[str, Any] | None:
    """Figures that a source prints, and texts about them."""
    if table is None:
        return None
    if not isinstance(table, Mapping):
        raise UserError(
            Problem("must be a table", value=str(table), key="printed", fix="write { Hs = 37.78 }")
        )
    for name, value in table.items():
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            accepted = "a number or a text"
            raise UserError(Problem("is no figure", str(value), f"printed.{name}", accepted=accepted))
    return table


def _uncertainty(table: Any, composition: Composition) -> Mapping[str, float] | None:
    """Standard uncertainties of mole fractions by canonical component."""
    if table is None:
        return None
    if not isinstance(table, Mapping):
        raise UserError(
            Problem("must be a table", value=str(table), key="uncertainty", fix="write { methane = 0.0003 }")
        )
    found: dict[str, float] = {}
    for text, u in table.items():
        name = canonical_name(str(text), "uncertainty")
        where = f"uncertainty.{text}"
        if name not in composition.names:
            raise UserError(Problem(f"{name} is not in the composition", key=where, fix="remove it"))
        if (
            isinstance(u, bool)
            or not isinstance(u, int | float)
            or not math.isfinite(u)
            or not 0.0 <= u < 1.0
        ):
            accepted = "standard uncertainty of the mole fraction, 0 to 1"
            raise UserError(Problem("not an uncertainty", value=str(u), key=where, accepted=accepted))
        found[name] = float(u)
    return found


def _declared(mapping: Mapping[str, Any]) -> DeclaredGas:
    gross, stated = _heating_value(mapping["gross_heating_value"], "gross")
    net = None
    if "net_heating_value" in mapping:
        net, _ = _heating_value(mapping["net_heating_value"], "net")
        if not 0.7 * gross < net <= gross:
            problem = "the net heating value must lie below the gross one, and above 70 % of it"
            raise UserError(
                Problem(problem, value=str(mapping["net_heating_value"]), key="net_heating_value")
            )
    density = mapping.get("relative_density")
    if (
        isinstance(density, bool)
        or not isinstance(density, int | float)
        or not DENSITIES[0] < density < DENSITIES[1]
    ):
        value = "" if density is None else str(density)
        accepted = "a number above 0.05 and below 5, density over that of dry air at the same state"
        raise UserError(
            Problem(
                "relative density is missing or wrong", value=value, key="relative_density", accepted=accepted
            )
        )
    family = mapping.get("family", "")
    if family and family not in declared_families():
        accepted = ", ".join(declared_families())
        raise UserError(Problem("unknown family", value=str(family), key="family", accepted=accepted))
    return DeclaredGas(
        **_about(mapping),
        gross_heating_value_J_per_m3=gross,
        net_heating_value_J_per_m3=net,
        relative_density=float(density),
        reference=_reference(mapping, stated),
        ideal=mapping.get("ideal", False),
        family=family,
    )


def _heating_value(text: Any, basis: str) -> tuple[float, ReferenceState | None]:
    key = f"{basis}_heating_value"
    found = read_heating_value(text, key=key)
    if found.basis not in (None, basis):
        raise UserError(Problem(f"is stated {found.basis}, the key is {basis}", value=str(text), key=key))
    if found.per != "volume":
        problem = "must be a heating value of a volume"
        raise UserError(
            Problem(problem, value=str(text), key=key, accepted="such as 1037 Btu/ft3 or 38.6 MJ/m3")
        )
    return found.value, found.reference


def _reference(mapping: Mapping[str, Any], stated: ReferenceState | None) -> ReferenceState:
    if "reference" not in mapping:
        if stated is None:
            problem = "a heating value of a volume needs the reference state of the volume"
            accepted = "such as 15C/15C, 60F, US_60F_14p73_dry"
            raise UserError(
                Problem(problem, key="reference", accepted=accepted, fix='write reference = "60F"')
            )
        return stated
    pressure = None
    if "reference_pressure" in mapping:
        pressure = read(mapping["reference_pressure"], Kind.ABSOLUTE_PRESSURE, key="reference_pressure")
    return ReferenceState.read(mapping["reference"], pressure=pressure, saturated=mapping.get("saturated"))


# The gases of ``fuels/``, and gases of the user's own from a file or a table of a project file.

_BLANKS = str.maketrans("-_", "  ")


@dataclass(frozen=True, slots=True)
class _Entry:
    """A gas of a library as its file has it."""

    path: Path
    line: int
    table: Mapping[str, Any]


def _entries_of(paths: Iterable[Path]) -> Mapping[str, _Entry]:
    """Every gas of some files by name; raises UserError for a name that stands twice, or a gas without its origin."""
    found: dict[str, _Entry] = {}
    names: dict[str, str] = {}
    problems = []
    for name, path, line, table in toml_entries(paths):
        here: dict[str, Any] = {"file": str(path), "line": line}
        before = names.setdefault(_squeezed(name), name)
        if before in found:
            place = f"{found[before].path}, line {found[before].line}"
            problems.append(Problem(f"gas {name!r} stands twice: also in {place}", fix="rename one", **here))
        absent = [key for key in ("source", "provenance") if not str(table.get(key, "")).strip()]
        if (
            absent
        ):  # in a user's own file they may be left out; a library would pass for the user's measurement
            what = f"gas {name!r} of {path.name} states no {' and no '.join(absent)}"
            problems.append(Problem(what, **here))
        found[name] = _Entry(path, line, table)
    if problems:
        raise UserError(problems)
    return found


@cache
def _entries() -> Mapping[str, _Entry]:
    """Every gas of ours by name."""
    return _entries_of(sorted(tables.folder("fuels").glob("*.toml")))


def gases_of(library: DataLibrary) -> tuple[Gas | DeclaredGas, ...]:
    """Every gas of somebody else's library; raises UserError with file and line."""
    return tuple(_of_library(library, name, entry) for name, entry in _entries_of(library.gas_files).items())


def _of_library(library: DataLibrary, name: str, entry: _Entry) -> Gas | DeclaredGas:
    """A gas of somebody else's library: its name says so wherever it is printed."""
    try:
        gas = gas_from_mapping({"name": name, **entry.table}, file=str(entry.path), key=name)
    except UserError as error:
        raise UserError([replace(one, line=one.line or entry.line) for one in error.problems]) from None
    return replace(
        gas, name=f"{library.name}{MARK}{name}", source=f"{gas.source} ({library.source}; {library.origin})"
    )


def _load_from(name: str, gas: str, key: str) -> Gas | DeclaredGas:
    found = library(name, key)
    entries = _entries_of(found.gas_files)
    names = {_squeezed(one): one for one in entries}
    if _squeezed(gas) not in names:
        near = get_close_matches(_squeezed(gas), list(names), n=3, cutoff=0.55)
        fix = f"did you mean {' or '.join(names[one] for one in near)}?" if near else ""
        accepted = ", ".join(entries) or "it has none"
        raise UserError(
            Problem(f"no gas of that library ({found.origin})", gas, key, accepted=accepted, fix=fix)
        )
    known = names[_squeezed(gas)]
    return _of_library(found, known, entries[known])


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


def gas_of(gas: object) -> Any:
    """A gas as it is, or that of the library with this name.

    Raises UserError for what is neither.

    >>> gas_of("propane") == gas_of(load("propane"))
    True
    """
    if isinstance(gas, str):
        return load(gas)
    if not hasattr(gas, "density_kg_per_m3"):
        raise UserError(Problem("is no gas", repr(gas)[:60], "gas", fix='name one, such as "propane"'))
    return gas


def load(name: str, key: str = "gas") -> Gas | DeclaredGas:
    """A gas of the library by name (capitals do not matter), or of a TOML file of one's own by its path.

    ``LIBRARY:NAME`` is one of somebody else's: LIBRARY is the path of a folder or the data of an installed package.
    ``mix:methane=0.9, ethane=0.1`` is a gas of one's own by its parts, of moles unless it ends with ``per=mass``.

    Raises UserError with the nearest names.

    >>> load("g20").title
    'G20, methane test gas'
    """
    text = str(name).strip()
    if is_mix(text):
        return named_mix(text, key=key)
    if text.casefold().endswith(".toml"):
        return _from_file(Path(text), key)
    foreign = named_in(text)
    if foreign is not None:
        return _load_from(*foreign, key)
    found = _by_squeezed().get(_squeezed(text))
    if found is None:
        raise _unknown(text, key)
    return _loaded(found)


@cache
def _loaded(name: str) -> Gas | DeclaredGas:
    entry = _entries()[name]
    return gas_from_mapping({"name": name, **entry.table}, file=f"fuels/{entry.path.name}", key=name)


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


OWN_PARTS = f'an analysis of your own is written "{MIX_PREFIX} methane = 0.9, ethane = 0.1"'


def _unknown(text: str, key: str) -> UserError:
    near = _in_daily_use().get(_squeezed(text)) or _alike(_squeezed(text))
    fix = f"did you mean {' or '.join(near)}?" if near else f"burnerlab fuels lists the names; {OWN_PARTS}"
    if is_component(text):
        pure = " or ".join(f'"{MIX_PREFIX}{name}=1"' for name in meant_components(text))
        fix = (
            f"{fix} Or write {pure} for a pure component"
            if near
            else f"write {pure} for a pure component; burnerlab fuels lists the names"
        )
    accepted = f"one of the {len(_entries())} gases of the library, LIBRARY:NAME, or the path of a .toml file"
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
        _, entry = read_toml(path)
    except UserError as error:
        raise UserError([replace(problem, key=key) for problem in error.problems]) from None
    inner = entry.get("gas", entry)
    if not isinstance(inner, Mapping):
        raise UserError(Problem("must be a table", file=str(path), key="gas", fix="write [gas]"))
    return gas_from_mapping({"name": path.stem, **inner}, file=str(path), key="gas" if "gas" in entry else "")


# Gases of the user's own: from a line of text, or blended from other gases, components and air.

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
        source="entered by the user",
        provenance=ENTERED,
    )


def _label(part: str | Gas, name: str, labels: list[str]) -> str:
    """The name of a part; a gas of a label that stands already gets a number, a name written twice stays as it is."""
    alike = sum(known.split(" no. ")[0] == name for known in labels)
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


SETTING = re.compile(r"(?:^|[,;])\s*(per|normalize)\s*[=:]\s*([^,;=:]*)", re.IGNORECASE)
LONGEST_MIX_NAME = 48  # characters


def named_mix(
    text: str, per: str | None = None, *, normalize: bool = False, key: str = "gas"
) -> Gas | DeclaredGas:
    """The gas of ``mix:methane=0.9, ethane=0.1``, by whose parts it is called: two of them are never one gas.

    per : what the parts count; ``per=mass`` among them says so too, mole where neither does
    normalize : scale a sum other than 1; so does ``normalize=true`` among the parts
    Raises UserError as ``read_mix`` does.

    >>> named_mix("mix:CH4=86, N2=14").name, named_mix("mix: propane=95 %, isobutane=5 %, per=mass").name
    ('methane 86, nitrogen 14 (per mole)', 'propane 0.95, isobutane 0.05 (per mass)')
    """
    parts = text.strip()[len(MIX_PREFIX) :]
    stated = [(name.casefold(), value.strip()) for name, value in SETTING.findall(parts)]
    every = [name for name, _ in stated] + (["per"] if per else [])
    if len(set(every)) < len(every):
        raise UserError(Problem("says per or normalize twice", text, key, fix="keep one of the two"))
    words = dict(stated)
    if (scaled := words.get("normalize", "false")) not in ("true", "false"):
        raise UserError(Problem("normalize is true or false", scaled, key, fix="write normalize=true"))
    basis = per or words.get("per", "mole")
    is_scaled = normalize or scaled == "true"
    try:
        gas = read_mix(SETTING.sub("", parts).strip(" ,;"), basis, normalize=is_scaled, key=key)
    except UserError as error:  # parts have no keys of their own
        raise UserError([replace(one, key=key) for one in error.problems]) from None
    return replace(gas, name=_mix_name(gas.title))


def _mix_name(title: str) -> str:
    """What a mix is called: its parts, of many the first, with a mark that no other mix has."""
    if len(title) <= LONGEST_MIX_NAME:
        return title
    parts = title.rpartition(" (per ")[0].split(", ")
    mark = hashlib.sha256(title.encode()).hexdigest()[:4]
    return f"mix {mark}: {parts[0]} and {len(parts) - 1} more"


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
