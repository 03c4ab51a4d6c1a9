"""May another gas go to the same orifice: what each published method says, never one verdict."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from burnerlab import tables
from burnerlab.gas.composition import Composition
from burnerlab.gas.gas import Gas
from burnerlab.gas.gas_family import wobbe_family
from burnerlab.gas.indices import (
    BTU_PER_FT3,
    HEAVY,
    bulletin_indices,
    constants,
    equivalent_mixture,
    incomplete_combustion_factor,
    soot_index,
    weaver_indices,
)
from burnerlab.gas.properties import properties
from burnerlab.quantity import Problem, ReferenceState, UserError
from burnerlab.quantity.outputs import output
from burnerlab.tables.verdict import Verdict

NEAR = 0.2  # the last fifth of the way from an exact match to a limit is "near"
LOWEST_BULLETIN_BTU = 800.0  # Btu/ft3: below it the bulletin is out of its range (recalled)
MEANING = {
    "I_L": "lifting: high lifts",
    "I_F": "flash-back: high flashes back",
    "I_Y": "yellow tips: low tips yellow",
    "J_H": "heat input ratio",
    "J_A": "primary air ratio",
    "J_L": "lifting: low lifts",
    "J_F": "flash-back: high flashes back",
    "J_Y": "yellow tips: high tips yellow",
    "J_I": "incomplete combustion: high gives CO",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexReading:
    """One index of one method: its value, the limits it is held against and what they say."""

    method: str = field(metadata=output("method"))
    index: str = field(metadata=output("index"))
    meaning: str = field(metadata=output("what it says"))
    value: float | None = field(metadata=output("value"))
    unit: str = field(metadata=output("unit"))
    # the value of a gas against itself, None where the index has none
    exact: float | None = field(metadata=output("of a gas against itself"))
    low: float | None = field(metadata=output("low end of the limits"))
    high: float | None = field(metadata=output("high end of the limits"))
    verdict: Verdict = field(metadata=output("reading is"))
    source: str = field(metadata=output("source"))
    note: str = field(default="", metadata=output("note"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Interchange:
    """What every method says of sending ``substitute`` where ``adjustment`` was burned before."""

    adjustment: Gas
    substitute: Gas
    readings: tuple[IndexReading, ...] = field(metadata=output("readings"))
    notes: tuple[str, ...] = field(metadata=output("notes"))


def verdict(value: float, exact: float | None, low: float | None, high: float | None) -> Verdict:
    """Within, near or outside the limits; near is the last fifth of the way from an exact match.

    >>> verdict(1.05, 1.0, None, 1.06).value
    'near'
    """
    rooms = [(value - low, low)] if low is not None else []
    rooms += [(high - value, high)] if high is not None else []
    if any(not room >= 0.0 for room, _ in rooms):
        return Verdict.OUTSIDE
    close = exact is not None and any(room < NEAR * abs(exact - limit) for room, limit in rooms)
    return Verdict.NEAR if close else Verdict.WITHIN


@cache
def _cited(method: str) -> str:
    known = tables.sources()
    rows = [row for row in tables.rows("interchange") if row["method"] == method]
    recalled = any(row["provenance"] == "memory" for row in rows)
    return known[rows[0]["source"]].cite() + (" (constants recalled in part)" if recalled else "")


def _reading(
    method: str, index: str, value: float, exact: float | None, limits: Mapping[str, float]
) -> IndexReading:
    low, high = limits.get("low"), limits.get("high")
    return IndexReading(
        method=method,
        index=index,
        meaning=MEANING.get(index, ""),
        value=value,
        unit="",
        exact=exact,
        low=low,
        high=high,
        verdict=verdict(value, exact, low, high),
        source=_cited(method),
    )


def _unread(method: str, why: UserError) -> IndexReading:
    return IndexReading(
        method=method,
        index="all",
        meaning="",
        value=None,
        unit="",
        exact=None,
        low=None,
        high=None,
        verdict=Verdict.NOT_EVALUATED,
        source=_cited(method),
        note="; ".join(problem.what for problem in why.problems),
    )


def _bulletin(adjustment: Gas, substitute: Gas, own: Path | None) -> tuple[IndexReading, ...]:
    _of_natural_gas(adjustment, substitute)
    t, item = constants(own), "high-methane"
    limits = {
        "I_L": {"high": t["AGA36", "I_L max", item]},
        "I_F": {"high": t["AGA36", "I_F max", item]},
        "I_Y": {"low": t["AGA36", "I_Y min", item]},
    }
    state = ReferenceState.read("US_60F_14p696_dry")
    for gas in (adjustment, substitute):
        h = properties(gas, state).ideal_gross_heating_value_J_per_m3 / BTU_PER_FT3
        if h < LOWEST_BULLETIN_BTU:
            raise UserError(
                Problem(f"below its range, {gas.name} has {h:.0f} of at least 800 Btu/ft3", key="gas")
            )
    values = bulletin_indices(adjustment, substitute, own)
    exact = {**bulletin_indices(adjustment, adjustment, own), "I_F": None}
    return tuple(
        _reading("AGA36", name, value, exact.get(name), limits[name]) for name, value in values.items()
    )


def _weaver(adjustment: Gas, substitute: Gas, own: Path | None) -> tuple[IndexReading, ...]:
    t = constants(own)
    exact = {"J_H": 1.0, "J_A": 1.0, "J_L": 1.0, "J_F": 0.0, "J_Y": 0.0, "J_I": 0.0}
    found = []
    for name, value in weaver_indices(adjustment, substitute, own).items():
        ends = (("low", "min"), ("high", "max"))
        limits = {
            end: t["Weaver", f"{name} {word}", ""]
            for end, word in ends
            if ("Weaver", f"{name} {word}", "") in t
        }
        found.append(_reading("Weaver", name, value, exact[name], limits))
    for name in exact.keys() - {reading.index for reading in found}:
        why = UserError(Problem(f"{MEANING[name]}; not defined for a gas without hydrocarbons"))
        found.append(replace(_unread("Weaver", why), index=name))
    return tuple(found)


def _dutton(adjustment: Gas, substitute: Gas, own: Path | None) -> tuple[IndexReading, ...]:
    _of_natural_gas(adjustment, substitute)
    t, equal = constants(own), equivalent_mixture(substitute)
    wobbe = properties(substitute, ReferenceState.read("ISO_15_15")).gross_wobbe_J_per_m3 / 1e6
    band = {"low": t["Dutton", "Wobbe min", ""], "high": t["Dutton", "Wobbe max", ""]}
    ICF, SI = (
        incomplete_combustion_factor(wobbe, equal.PN, own),
        soot_index(equal.propane, equal.nitrogen, own),
    )
    return (
        _reading("Dutton", "gross Wobbe, MJ/m3 at 15/15", wobbe, None, band),
        _reading("Dutton", "ICF, incomplete combustion", ICF, None, {"high": t["Dutton", "ICF max", ""]}),
        _reading("Dutton", "SI, soot", SI, None, {"high": t["Dutton", "SI max", ""]}),
    )


def _guideline(adjustment: Gas, substitute: Gas, own: Path | None) -> tuple[IndexReading, ...]:
    _of_natural_gas(adjustment, substitute)
    t, state = constants(own), ReferenceState.read("US_60F_14p73_dry")
    before, after = properties(adjustment, state), properties(substitute, state)
    change = 100.0 * (after.gross_wobbe_J_per_m3 / before.gross_wobbe_J_per_m3 - 1.0)
    parts: Composition = substitute.composition
    amounts = dict(zip(parts.names, parts.fractions, strict=True))
    heavy = 100.0 * sum(amounts.get(name, 0.0) for name in ("n-butane", *HEAVY))
    inerts = 100.0 * sum(amounts.get(name, 0.0) for name in ("nitrogen", "carbon dioxide"))
    swing = t["guideline", "Wobbe change", ""]
    wobbe, gross = after.gross_wobbe_J_per_m3 / BTU_PER_FT3, after.gross_heating_value_J_per_m3 / BTU_PER_FT3
    rows: tuple[tuple[str, float, float | None, dict[str, float]], ...] = (
        ("change of gross Wobbe, %", change, 0.0, {"low": -swing, "high": swing}),
        ("gross Wobbe, Btu/ft3", wobbe, None, {"high": t["guideline", "Wobbe max", ""]}),
        ("gross heating value, Btu/ft3", gross, None, {"high": t["guideline", "gross max", ""]}),
        ("butanes and heavier, mol %", heavy, None, {"high": t["guideline", "C4+ max", ""]}),
        ("nitrogen and carbon dioxide, mol %", inerts, None, {"high": t["guideline", "inerts max", ""]}),
    )
    return tuple(_reading("guideline", name, value, exact, limits) for name, value, exact, limits in rows)


def _of_natural_gas(*gases: Gas) -> None:
    """Refuse gases that no method made for natural gas speaks of."""
    state = ReferenceState.read("ISO_15_15")
    for gas in gases:
        if any(g.family.is_LPG for g in wobbe_family(properties(gas, state).gross_wobbe_J_per_m3)):
            raise UserError(
                Problem(f"made for natural gas; {gas.name} is a liquefied petroleum gas", key="gas")
            )


METHODS: Mapping[str, Callable[[Gas, Gas, Path | None], tuple[IndexReading, ...]]] = {
    "AGA36": _bulletin,
    "Weaver": _weaver,
    "Dutton": _dutton,
    "guideline": _guideline,
}


def _same_orifice(adjustment: Gas, substitute: Gas) -> None:
    state = ReferenceState.read("ISO_15_15")
    wobbe = [properties(gas, state).gross_wobbe_J_per_m3 for gas in (adjustment, substitute)]
    families = [{group.family for group in wobbe_family(value)} for value in wobbe]
    if all(families) and not families[0] & families[1]:
        what = f"from {adjustment.name} to {substitute.name} the orifice changes, and these keep the same one"
        accepted = "two gases of one family"
        raise UserError(Problem(what, key="gas", accepted=accepted, fix="use convert for a change of family"))


def interchange(adjustment: Gas, substitute: Gas, own: Path | None = None) -> Interchange:
    """Every published method on sending another gas to the same orifice at the same pressure.

    adjustment : the gas the burner was set on; substitute : the gas that may come; own : CSV of constants.
    Raises UserError where the gases belong to different families, so that the orifice would change.
    Source: aga-bulletin-36, weaver-1951, gsmr-1996, interchange-guideline-2005 (constants recalled in part).

    >>> from burnerlab.gas import load
    >>> same = interchange(load("G20"), load("G20"))
    >>> {reading.verdict.value for reading in same.readings if reading.method == "Weaver"}
    {'within'}
    """
    _same_orifice(adjustment, substitute)
    constants(
        own
    )  # a row that cannot be read is refused here, and not taken for a gas that a method cannot judge
    readings: list[IndexReading] = []
    for method, read in METHODS.items():
        try:
            readings += read(adjustment, substitute, own)
        except UserError as why:
            readings.append(_unread(method, why))
    notes: tuple[str, ...] = (
        "The methods were made for different appliances and disagree; none of them decides alone.",
        "They hold for the same orifice and pressure, and say nothing of a converted burner.",
        "The bulletin's limits shown are those for a high-methane adjustment gas.",
    )
    if any("hydrogen" in gas.composition.names for gas in (adjustment, substitute)):
        notes += ("Dutton's indices were not made for hydrogen: only its hydrocarbons are counted here.",)
    return Interchange(adjustment=adjustment, substitute=substitute, readings=tuple(readings), notes=notes)
