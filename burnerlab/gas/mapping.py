"""A gas from a table of a project file, a gas file, or the library."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any

from burnerlab.gas.component import canonical_name
from burnerlab.gas.composition import Composition, read_per
from burnerlab.gas.declared import DeclaredGas, declared_families
from burnerlab.gas.gas import Gas
from burnerlab.quantity import Kind, Problem, ReferenceState, UserError, read, read_heating_value
from burnerlab.tables import PROVENANCES

ABOUT = ("name", "title", "source", "place", "provenance", "note")
COMPOSED = ("composition", "blend", "per", "normalize", "uncertainty", "printed")
NamedPart = Callable[[str, str], tuple[str, Composition]]  # of a blend, by its name and for a key
DECLARED = (
    *("gross_heating_value", "net_heating_value", "relative_density", "ideal", "family"),
    *("reference", "reference_pressure", "saturated"),
)


def read_gas(mapping: Mapping[str, Any], named_part: NamedPart, *, file: str, key: str) -> Gas | DeclaredGas:
    """The gas of a table; ``named_part`` looks up what a blend names, see ``library.gas_from_mapping``."""
    try:
        _check_keys(mapping)
        form = [k for k in ("composition", "blend", "gross_heating_value") if k in mapping]
        if len(form) != 1:
            problem = "a gas is one of: composition, blend, or gross_heating_value with relative_density"
            raise UserError(Problem(problem, value=" and ".join(form), fix="give exactly one of them"))
        if form == ["gross_heating_value"]:
            return _declared(mapping)
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


def _about(mapping: Mapping[str, Any]) -> dict[str, str]:
    name = mapping.get("name", "own gas")
    given = {"name": name, "title": mapping.get("title", name), "note": mapping.get("note", "")}
    given["source"] = mapping.get("source", "given by the user")
    given["provenance"] = mapping.get("provenance", "measured here")
    return given


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
        printed=mapping.get("printed"),
    )


def _uncertainty(given: Any, composition: Composition) -> Mapping[str, float] | None:
    """Standard uncertainties of mole fractions by canonical component."""
    if given is None:
        return None
    if not isinstance(given, Mapping):
        raise UserError(
            Problem("must be a table", value=str(given), key="uncertainty", fix="write { methane = 0.0003 }")
        )
    found: dict[str, float] = {}
    for text, u in given.items():
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
    if isinstance(density, bool) or not isinstance(density, int | float) or not 0.05 < density < 5.0:
        value = "" if density is None else str(density)
        accepted = "a number from 0.05 to 5, density over that of dry air at the same state"
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
        raise UserError(Problem(f"says {found.basis}, the key says {basis}", value=str(text), key=key))
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
