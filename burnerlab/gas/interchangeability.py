"""Can one gas stand in for another: indices and the published methods."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from burnerlab import tables
from burnerlab.gas.component import component_table
from burnerlab.gas.composition import Composition
from burnerlab.gas.gas import Gas
from burnerlab.gas.gas_family import wobbe_family
from burnerlab.gas.library import mix
from burnerlab.gas.properties import properties, property_values
from burnerlab.quantity import Problem, ReferenceState, UserError
from burnerlab.quantity.outputs import output
from burnerlab.tables.verdict import Verdict

# Published indices of interchangeability, each by its own formula and constants.

BTU_PER_FT3 = 1055.05585262 / 0.028316846592  # J/m3, International Table Btu
INERT = ("nitrogen", "carbon dioxide", "argon", "helium", "water")
HEAVY = (
    "isobutane",
    "n-pentane",
    "isopentane",
    "neopentane",
    "n-hexane",
)  # counted as n-butane, as the bulletin does


@tables.cache_by_file
def constants(own: Path | None = None) -> Mapping[tuple[str, str, str], float]:
    """Constants and limits by method, symbol and item; rows of ``own``, a CSV of the same columns, stand in for ours.

    Raises UserError for a table that cannot be read.
    """
    return {
        (row["method"], row["symbol"], row["item"]): row.number("value")
        for row in tables.read("interchange", own)
    }


def _sum(gas: Gas, method: str, symbol: str, own: Path | None) -> float:
    """Sum of a constant over the components; raises UserError for a fuel the method has no constant for."""
    table, total = constants(own), []
    for name, x in zip(gas.composition.names, gas.composition.fractions, strict=True):
        item = "n-butane" if name in HEAVY else name
        if (method, symbol, item) in table:
            total.append(x * table[method, symbol, item])
        elif name not in INERT and name != "oxygen" and x > 0.0:
            what = f"{method} has no constant for {name}"
            if name == "propylene" and _fraction(gas, "propane") > 0.5:
                what += ": look at it on propane as well, and at the flame"
            raise UserError(
                Problem(what, value=gas.name, key="gas", fix="use the other methods for this gas")
            )
        elif symbol == "F" and x > 0.0:  # the lifting constants go by relative density for an inert
            total.append(
                x * table[method, "F", "nitrogen"] * _relative_density(name) / _relative_density("nitrogen")
            )
    return math.fsum(total)


def _relative_density(name: str) -> float:
    table = component_table()
    return float(table.molar_mass_kg_per_mol[table.index[name]])


def _fraction(gas: Gas, *names: str) -> float:
    return math.fsum(
        x for n, x in zip(gas.composition.names, gas.composition.fractions, strict=True) if n in names
    )


@dataclass(frozen=True, slots=True)
class _Trade:
    """Ideal gas at 60 F, 14.696 psia, dry, as the American methods were set up."""

    h: float  # gross heating value [Btu/ft3]
    d: float  # relative density [-]


def _trade(gas: Gas) -> _Trade:
    p = property_values(gas, ReferenceState.read("US_60F_14p696_dry"))
    return _Trade(h=p["ideal_gross_heating_value_J_per_m3"] / BTU_PER_FT3, d=p["ideal_relative_density"])


@dataclass(frozen=True, slots=True)
class BulletinFactors:
    """Bulletin 36 factors of a gas: lifting constant, primary air factor, air per 100 Btu, yellow tip."""

    K: float
    f: float
    a: float
    Y: float
    h: float


def bulletin_factors(gas: Gas, own: Path | None = None) -> BulletinFactors:
    """K = sum(F x)/d, f = 1000 sqrt(d)/h, a = 100 A/h, Y = sum(T x)/(A + 7 inerts - 26.3 oxygen).

    h gross heating value [Btu/ft3] and d relative density [-], ideal gas at 60 F, 14.696 psia, dry.
    Raises UserError for a component without constants. Source: aga-bulletin-36 (recalled).

    >>> from burnerlab.gas import mix
    >>> bulletin_factors(mix({"methane": 1.0}, per="mole")).K
    1.2097
    """
    table, trade = constants(own), _trade(gas)
    A = _sum(gas, "AGA36", "A", own)
    inert = _fraction(gas, *INERT)
    denominator = A + table["AGA36", "inert factor", ""] * inert
    denominator -= table["AGA36", "oxygen factor", ""] * _fraction(gas, "oxygen")
    return BulletinFactors(
        K=_sum(gas, "AGA36", "F", own) / trade.d,
        f=1000.0 * math.sqrt(trade.d) / trade.h,
        a=100.0 * A / trade.h,
        Y=_sum(gas, "AGA36", "T", own) / denominator,
        h=trade.h,
    )


def bulletin_indices(adjustment: Gas, substitute: Gas, own: Path | None = None) -> dict[str, float]:
    """Lifting, flash-back and yellow-tip index of AGA Bulletin 36; I_Y is left out where nothing tips yellow.

    I_L = K_a/((f_a a_s/(f_s a_a)) (K_s - log10(f_a/f_s))), I_F = (K_s f_s/(K_a f_a)) sqrt(h_s/1000),
    I_Y = f_s a_a Y_a/(f_a a_s Y_s). Range: above about 800 Btu/ft3. Source: aga-bulletin-36 (recalled).
    """
    a, s = bulletin_factors(adjustment, own), bulletin_factors(substitute, own)
    found = {
        "I_L": a.K / ((a.f * s.a / (s.f * a.a)) * (s.K - math.log10(a.f / s.f))),
        "I_F": s.K * s.f / (a.K * a.f) * math.sqrt(s.h / 1000.0),
    }
    if s.Y > 0.0 and a.Y > 0.0:
        found["I_Y"] = s.f * a.a * a.Y / (a.f * s.a * s.Y)
    return found


@dataclass(frozen=True, slots=True)
class WeaverFactors:
    """Weaver factors of a gas: air net of its oxygen, flame speed, free carbon, hydrogen to carbon."""

    A: float
    S: float
    N: float
    R: float
    oxygen_percent: float
    h: float
    d: float


def weaver_factors(gas: Gas, own: Path | None = None) -> WeaverFactors:
    """A, S = sum(Fs x)/(A + 5 inerts - 18.8 oxygen + 1), N and R of Weaver for one gas.

    N carbon atoms readily liberated per 100 molecules (n - 1 of a saturated, n of an unsaturated
    hydrocarbon), R hydrogen over carbon atoms in the hydrocarbons. Source: weaver-1951 (recalled).
    """
    table, trade, parts = constants(own), _trade(gas), component_table()
    oxygen = _fraction(gas, "oxygen")
    A = _sum(gas, "AGA36", "A", own) - oxygen / 0.209  # 20.9 % oxygen, as the air figures of the table
    S = _sum(gas, "Weaver", "Fs", own) / (
        A
        + table["Weaver", "inert factor", ""] * _fraction(gas, *INERT)
        - table["Weaver", "oxygen factor", ""] * oxygen
        + 1.0
    )
    free, carbon, hydrogen = 0.0, 0.0, 0.0
    for name, x in zip(gas.composition.names, gas.composition.fractions, strict=True):
        c, h, *others = parts.atoms[parts.index[name]].tolist()
        if c > 0 and h > 0 and not any(others):
            free += 100.0 * x * (c - 1.0 if h == 2 * c + 2 else c)
            carbon, hydrogen = carbon + x * c, hydrogen + x * h
    R = hydrogen / carbon if carbon else math.inf
    return WeaverFactors(A=A, S=S, N=free, R=R, oxygen_percent=100.0 * oxygen, h=trade.h, d=trade.d)


def weaver_indices(adjustment: Gas, substitute: Gas, own: Path | None = None) -> dict[str, float]:
    """Heat, air, lifting, flash-back, yellow-tip and incomplete-combustion index of Weaver.

    J_H = (h_s/h_a) sqrt(d_a/d_s), J_A = (A_s/A_a) sqrt(d_a/d_s), J_L = J_A (S_s/S_a)(100 - Q_s)/(100 - Q_a),
    J_F = S_s/S_a - 1.4 J_A + 0.4, J_Y = J_A + (N_s - N_a)/110 - 1, J_I = J_A - 0.366 R_s/R_a - 0.634.
    Source: weaver-1951 (recalled).
    """
    a, s = weaver_factors(adjustment, own), weaver_factors(substitute, own)
    lighter = math.sqrt(a.d / s.d)
    J_A = s.A / a.A * lighter
    found = {
        "J_H": s.h / a.h * lighter,
        "J_A": J_A,
        "J_L": J_A * (s.S / a.S) * (100.0 - s.oxygen_percent) / (100.0 - a.oxygen_percent),
        "J_F": s.S / a.S - 1.4 * J_A + 0.4,
        "J_Y": J_A + (s.N - a.N) / 110.0 - 1.0,
    }
    if math.isfinite(a.R) and math.isfinite(s.R):
        found["J_I"] = J_A - 0.366 * s.R / a.R - 0.634
    return found


def incomplete_combustion_factor(wobbe_MJ_per_m3: float, PN: float, own: Path | None = None) -> float:
    """Dutton's incomplete combustion factor, ICF = 0.64 (W - 50.73 + 0.03 PN) [-].

    W gross Wobbe index at 15/15, dry [MJ/m3]; PN propane and nitrogen of the equivalent mixture [vol %].

    >>> incomplete_combustion_factor(51.41, 5.0)
    0.531
    """
    t = constants(own)
    offset = wobbe_MJ_per_m3 - t["Dutton", "ICF Wobbe", ""] + t["Dutton", "ICF PN", ""] * PN
    return t["Dutton", "ICF slope", ""] * offset


def soot_index(propane_percent: float, nitrogen_percent: float, own: Path | None = None) -> float:
    """Dutton's soot index, SI = 0.896 atan(0.0255 C3H8 - 0.0233 N2 + 0.617) [-].

    propane_percent, nitrogen_percent : of the equivalent mixture [vol %].

    >>> soot_index(2.246, 1.658)
    0.507
    """
    t = constants(own)
    argument = t["Dutton", "SI C3H8", ""] * propane_percent - t["Dutton", "SI N2", ""] * nitrogen_percent
    return t["Dutton", "SI factor", ""] * math.atan(argument + t["Dutton", "SI constant", ""])


@dataclass(frozen=True, slots=True)
class EquivalentMixture:
    """Methane, propane and nitrogen with the hydrocarbons and the Wobbe index of a gas [vol %]."""

    methane: float
    propane: float
    nitrogen: float

    @property
    def PN(self) -> float:
        return self.propane + self.nitrogen


def equivalent_mixture(gas: Gas) -> EquivalentMixture:
    """Dutton's equivalent mixture: the hydrocarbons as methane and propane, nitrogen to the same Wobbe.

    Raises UserError for a gas without hydrocarbons or leaner than that mixture can be.
    """
    from scipy.optimize import brentq

    parts, state = component_table(), ReferenceState.read("ISO_15_15")
    carbon = hydrocarbons = 0.0
    for name, x in zip(gas.composition.names, gas.composition.fractions, strict=True):
        c, h, *others = parts.atoms[parts.index[name]].tolist()
        if c > 0 and h > 0 and not any(others):
            carbon, hydrocarbons = carbon + x * c, hydrocarbons + x
    if hydrocarbons <= 0.0:
        raise UserError(
            Problem("has no hydrocarbons", value=gas.name, key="gas", fix="use the other methods for it")
        )
    propane = hydrocarbons * (carbon / hydrocarbons - 1.0) / 2.0
    wobbe = properties(gas, state).gross_wobbe_J_per_m3

    def gap(nitrogen: float) -> float:
        shares = {"methane": hydrocarbons - propane, "propane": propane, "nitrogen": nitrogen}
        return properties(mix(shares, per="mole", normalize=True), state).gross_wobbe_J_per_m3 - wobbe

    nitrogen = 0.0 if gap(0.0) <= 0.0 else float(brentq(gap, 0.0, 3.0 * hydrocarbons, xtol=1e-10))
    total = (hydrocarbons + nitrogen) / 100.0
    return EquivalentMixture((hydrocarbons - propane) / total, propane / total, nitrogen / total)


# May another gas go to the same orifice: what each published method says, never one verdict.

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
    meaning: str = field(metadata=output("meaning"))
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
    )  # a row that cannot be read is refused here, and not mistaken for a gas that a method does not cover
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
