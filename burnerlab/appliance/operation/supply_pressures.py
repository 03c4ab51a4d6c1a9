"""Which pressure a gas is supplied at, from lowest to highest, by category and country."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from burnerlab import tables
from burnerlab.gas import DeclaredGas, Gas, load
from burnerlab.gas.gas_family import national_groups
from burnerlab.tables import cite
from burnerlab.tables.figure import Evidence, evidence_of
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError, did_you_mean

INCH_OF_WATER_PA = 249.08891  # 0.0254 m x 1000 kg/m3 x 9.80665 m/s2, conventional inch of water
MBAR_PA = 100.0  # definition
UNIT_PA = {"mbar": MBAR_PA, "in w.c.": INCH_OF_WATER_PA, "kPa": 1000.0}
NOMINAL_SLACK = 0.02  # a nominal pressure met within 2 % counts as that nominal
NORTH_AMERICA = ("NA", "US", "CA")
ROMAN = {"I": 1, "II": 2, "III": 3}
_CATEGORY = re.compile(r"(I{1,3})(?=[123])(.+)")
_FAMILY = re.compile(r"[123][^123]+")
_GROUP = {  # groups of each family, the longer names first; each country's own among them
    "1": re.compile(r"[a-e]"),
    "2": re.compile(r"E\+|Esi|Er|E\([SR]\)B?|LL|Lw|Ls|[HELNMKS]"),
    "3": re.compile(r"B/P|\+|[PBR]"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyPressure:
    """A nominal supply pressure and how far the supply may stray from it, gauge at the appliance inlet."""

    region: str
    category: str  # gas group and what it is called, such as 2H, 3+, LP
    family: str  # EN 437 family or group a gas must belong to
    reference_gas: str  # what an orifice of this category is sized on
    nominal_from_Pa: float
    nominal_to_Pa: float
    low_Pa: float | None
    high_Pa: float | None
    couple: str
    source: str
    evidence: Evidence

    @property
    def nominal_Pa(self) -> float:
        """The middle of the nominal: 29 mbar for 28-30."""
        return (self.nominal_from_Pa + self.nominal_to_Pa) / 2

    @property
    def is_national(self) -> bool:
        """Whether its group is one that a single country has, such as 2Ls of Poland."""
        return self.family in {group.code for group in national_groups()}

    def is_nominal(self, gauge_pressure_Pa: float) -> bool:
        """Whether a gauge pressure [Pa] is this nominal pressure."""
        slack = NOMINAL_SLACK * self.nominal_Pa
        return self.nominal_from_Pa - slack <= gauge_pressure_Pa <= self.nominal_to_Pa + slack


def _pressure(row: tables.Row) -> SupplyPressure:
    unit = UNIT_PA[row["unit"]]
    recalled = ", recalled" if row["provenance"] == "memory" else ""
    return SupplyPressure(
        region=row["region"],
        category=row["category"],
        family=row["family"],
        reference_gas=row["reference_gas"],
        nominal_from_Pa=float(row["nominal_from"]) * unit,
        nominal_to_Pa=float(row["nominal_to"]) * unit,
        low_Pa=float(row["low"]) * unit if row["low"] else None,
        high_Pa=float(row["high"]) * unit if row["high"] else None,
        couple=row["couple"],
        source=f"{row['category']} ({cite(row['source'])}, {row['place']}{recalled})",
        evidence=evidence_of(row["provenance"]),
    )


@tables.cache_by_file
def supply_pressures(own: Path | None = None) -> tuple[SupplyPressure, ...]:
    """All rows of the table of supply pressures, or of the user's own."""
    return tuple(_pressure(row) for row in tables.read("supply_pressures", own))


def same_pressure(first_Pa: float, second_Pa: float) -> bool:
    """Whether two nominal pressures are one: "7 in w.c.", "1.744 kPa" and "17.4 mbar" are.

    >>> same_pressure(1743.62, 1740.0), same_pressure(2740.0, 2800.0)
    (True, False)
    """
    return math.isclose(first_Pa, second_Pa, rel_tol=0.003)


def match_pressure(
    gauge_pressure_Pa: float,
    families: Iterable[str],
    category: str = "",
    own: Path | None = None,
    region: str = "",
    gas: str = "",
) -> SupplyPressure | None:
    """The row of supply pressures that a gas at a nominal pressure belongs to, or None.

    gauge_pressure_Pa : nominal pressure at the inlet [Pa]
    families : families and groups of the gas, such as ("2", "2H")
    category : a gas group (2H, 3+, LP) or an appliance category (II2H3B/P); "" takes the first row that fits
    region : us or eu leaves the rows of the other out, unless a category is named; "" takes all
    gas : its name; the row of a group that one country alone has is that of its reference gas, or of its category
    Raises UserError for an unknown category.

    >>> match_pressure(2740.0, {"3", "3P"}).category, match_pressure(1300.0, {"2Ls"}, gas="G2.350").category
    ('LP', '2Ls')
    """
    rows = supply_pressures(own)
    if region and not category:
        rows = tuple(row for row in rows if is_of_region(row, region))
    if category:
        groups = split_category(category)
        rows = tuple(row for row in rows if row.category in groups)
        if not rows:
            known = sorted({row.category for row in supply_pressures(own)})
            fix = did_you_mean(category, known)
            raise UserError(
                Problem(
                    "unknown category", value=category, key="category", accepted=", ".join(known), fix=fix
                )
            )
    of_gas = set(families)
    fitting = [
        row
        for row in rows
        if row.family in of_gas and row.is_nominal(gauge_pressure_Pa) and (category or is_for_gas(row, gas))
    ]
    own_group = [row for row in fitting if row.is_national and row.reference_gas == gas]
    return next(iter(own_group or fitting), None)


def is_for_gas(row: SupplyPressure, gas: str) -> bool:
    """Whether a row is of a group that any gas may belong to, or of a country's own with this reference gas.

    >>> [row.category for row in supply_pressures() if row.is_national and is_for_gas(row, "G27")]
    ['2Lw']
    """
    return not row.is_national or row.reference_gas == gas


def is_of_region(row: SupplyPressure, region: str) -> bool:
    """Whether a row of supply pressures is one of a region: us takes North America, eu the European rows.

    >>> [row.category for row in supply_pressures() if is_of_region(row, "us")]
    ['natural', 'LP', 'manufactured']
    """
    return (row.region in NORTH_AMERICA) if region == "us" else (row.region not in (*NORTH_AMERICA, "AU"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureCouple:
    """Two gases at two pressures that one injector serves without adjustment, as "+" categories ask."""

    category: str
    nominal: str  # such as 28-30/37, in mbar
    reference: SupplyPressure  # what the injector is sized on
    other: SupplyPressure  # burnt with the same injector, which is not enlarged for it
    source: str
    gases: tuple[Gas | DeclaredGas, ...] = ()  # of a market, that sized on first; () those of the library

    def gas_of(self, row: SupplyPressure) -> Gas | DeclaredGas:
        """The gas of one of its rows. Raises UserError where the library has none of that name."""
        if self.gases:
            return self.gases[0 if row == self.reference else 1]
        return load(row.reference_gas)

    def words(self) -> str:
        return f"pressure couple {self.nominal} mbar ({self.category})"


def couple_of(row: SupplyPressure | None, own: Path | None = None) -> PressureCouple | None:
    """The couple a row of supply pressures belongs to; None where it belongs to none.

    >>> found = couple_of(match_pressure(3700.0, {"3", "3P"}, "I3+"))
    >>> found.nominal, found.reference.reference_gas, found.other.reference_gas
    ('28-30/37', 'G30', 'G31')
    """
    if row is None or not row.couple:
        return None
    if row.category == BUTANE_AND_PROPANE:
        first, second = (replace(row, reference_gas=gas) for gas in OF_BOTH)
        return PressureCouple(
            category=row.category, nominal=row.couple, reference=first, other=second, source=row.source
        )
    both = [one for one in supply_pressures(own) if (one.category, one.couple) == (row.category, row.couple)]
    for entry in tables.rows("pressure_couples"):
        sized = [one for one in both if one.reference_gas == entry["reference_gas"]]
        if (entry["category"], entry["couple"]) == (row.category, row.couple) and len(both) == 2 and sized:
            recalled = ", recalled" if entry["provenance"] == "memory" else ""
            return PressureCouple(
                category=row.category,
                nominal=row.couple,
                reference=sized[0],
                other=next(one for one in both if one is not sized[0]),
                source=f"{cite(entry['source'])}, {entry['place']}{recalled}",
            )
    return None


BUTANE_AND_PROPANE = "3B/P"
OF_BOTH = ("G30", "G31")  # EN 437 (memory): sized on butane, propane is burnt at the same pressure


def both_gases(row: SupplyPressure) -> tuple[SupplyPressure, ...]:
    """A row of category 3B/P as one for butane and one for propane, which burn through one injector; else the row.

    >>> butane_row = match_pressure(5000.0, {"3"}, "I3B/P")
    >>> [(row.reference_gas, row.couple) for row in both_gases(butane_row)]
    [('G30', '50/50'), ('G31', '50/50')]
    """
    if row.category != BUTANE_AND_PROPANE or row.reference_gas not in OF_BOTH:
        return (row,)
    nominal = f"{row.nominal_Pa / MBAR_PA:.4g}"
    return tuple(replace(row, reference_gas=gas, couple=f"{nominal}/{nominal}") for gas in OF_BOTH)


def couples_beside(
    row: SupplyPressure | None, families: Iterable[str], own: Path | None = None
) -> tuple[str, ...]:
    """Couples in which the gas of a row that belongs to none is sold at the same pressure, in words.

    >>> couples_beside(match_pressure(3700.0, {"3", "3P"}), {"3", "3P"})
    ('pressure couple 28-30/37 mbar (3+)',)
    """
    if row is None or row.couple or row.region in NORTH_AMERICA:
        return ()
    known = set(families)
    found = [
        couple_of(one, own)
        for one in supply_pressures(own)
        if one.couple and one.family in known and one.is_nominal(row.nominal_Pa)
    ]
    return tuple(one.words() for one in found if one is not None)


def split_category(category: str) -> tuple[str, ...]:
    """Gas groups of an appliance category.

    >>> split_category("II2H3B/P"), split_category("I3+"), split_category("LP")
    (('2H', '3B/P'), ('3+',), ('LP',))
    >>> split_category("II2ELwLs3P"), split_category("I2EK")
    (('2E', '2Lw', '2Ls', '3P'), ('2E', '2K'))
    """
    match = _CATEGORY.fullmatch(category.strip())
    if not match:
        return (category.strip(),)
    families = _FAMILY.findall(match[2])
    groups = [(family[0], _GROUP[family[0]].findall(family)) for family in families]
    spelled = "".join(f"{digit}{''.join(of_family)}" for digit, of_family in groups)
    if spelled != match[2] or len(families) != ROMAN[match[1]]:
        accepted = "such as I2H, I3+, I3B/P, II2H3+, II2H3B/P"
        what = "is not an appliance category"
        raise UserError(
            Problem(
                what, value=category, key="category", accepted=accepted, fix="check the number of families"
            )
        )
    return tuple(digit + group for digit, of_family in groups for group in of_family)


@dataclass(frozen=True, slots=True, kw_only=True)
class Country:
    """What a country supplies, as far as known."""

    code: str
    name: str
    supplies: tuple[SupplyPressure, ...]
    categories: tuple[str, ...]
    source: str
    not_known: tuple[str, ...] = ()  # groups it has, of which no pressure is known here


def _supplies(text: str, code: str) -> tuple[SupplyPressure, ...]:
    """Rows behind "2H@20" or "3+@28-30/37": the country's own where known, else the general ones."""
    group, nominal = text.split("@")
    every = [row for row in supply_pressures() if row.category == group]
    if "/" in nominal:
        return tuple(row for row in every if row.couple == nominal)
    region = {"US": "NA", "CA": "NA"}.get(code, code)
    every = [row for row in every if not row.couple and row.region in (region, "EN")]
    unit = UNIT_PA["in w.c."] if region == "NA" else UNIT_PA["kPa"] if region == "AU" else MBAR_PA
    pressure = float(nominal) * unit
    fitting = sorted((row for row in every if row.is_nominal(pressure)), key=lambda row: row.region == "EN")
    if fitting:
        return (fitting[0],)
    # no row is known for this pressure: the group stays, the range does not
    alone = replace(
        every[0], region=code, nominal_from_Pa=pressure, nominal_to_Pa=pressure, low_Pa=None, high_Pa=None
    )
    return (replace(alone, source=f"{group} in {code}, recalled", evidence=Evidence.RECALLED),)


@cache
def for_country(code: str) -> Country:
    """Gases and pressures of a country and the appliance categories sold there, as far as known.

    code : two letters, such as DE, or the name
    Raises UserError for a country the table does not hold.

    >>> [(row.category, row.reference_gas, round(row.nominal_Pa)) for row in for_country("IT").supplies]
    [('2H', 'G20', 2000), ('3+', 'G30', 2900), ('3+', 'G31', 3700), ('3P', 'G31', 3700)]
    """
    for row in tables.rows("countries"):
        if code.strip().casefold() in (row["country"].casefold(), row["name"].casefold()):
            return Country(
                code=row["country"],
                name=row["name"],
                supplies=tuple(
                    s for text in row["supplies"].split() for s in _supplies(text, row["country"])
                ),
                categories=tuple(row["categories"].split()),
                source=f"{cite(row['source'])}, {row['place']} ({row['provenance']})",
                not_known=tuple(row["not_known"].split()),
            )
    known = [row["country"] for row in tables.rows("countries")]
    fix = did_you_mean(code, [row["name"].lower() for row in tables.rows("countries")])
    raise UserError(
        Problem("no such country in the table", value=code, key="country", accepted=", ".join(known), fix=fix)
    )


def pressures_of(category: str, countries: Sequence[str] = ()) -> tuple[SupplyPressure, ...]:
    """Rows behind an appliance category, in every country or in those named.

    >>> [row.reference_gas for row in pressures_of("II2H3B/P", ["DK"])]
    ['G20', 'G30']
    """
    groups = split_category(category)
    rows = (
        [s for code in countries for s in for_country(code).supplies]
        if countries
        else list(supply_pressures())
    )
    return tuple(dict.fromkeys(row for row in rows if row.category in groups))


def not_known(category: str = "", countries: Sequence[str] = ()) -> tuple[str, ...]:
    """Groups of an appliance category, or of countries, without a supply pressure known here: a line for each place.

    >>> not_known("I2M", ["IT"]), not_known("I2EK", ["NL"])
    (('Italy: no supply pressure of 2M is known here, so it has no row.',), ())
    >>> not_known("I2N"), not_known("", ["SE"])[0].partition(":")[0]
    (('No supply pressure of 2N is known here, so it has no row.',), 'Sweden')
    """
    if not countries:
        known = {row.category for row in supply_pressures()}
        return _not_known([group for group in split_category(category) if group not in known])
    lines: list[str] = []
    for country in map(for_country, countries):
        known = {row.category for row in country.supplies}
        groups = split_category(category) if category else country.not_known
        lines += _not_known([group for group in groups if group not in known], country.name)
    return tuple(lines)


def _not_known(groups: Sequence[str], country: str = "") -> tuple[str, ...]:
    if not groups:
        return ()
    named = ", ".join(groups)
    if not country:
        return (Phrase("No supply pressure of {groups} is known here, so it has no row.", groups=named),)
    return (
        Phrase(
            "{country}: no supply pressure of {groups} is known here, so it has no row.",
            country=country,
            groups=named,
        ),
    )
