"""The markets of an appliance as what it is changed to: each a letter, a name, and a target for each of its gases."""

from __future__ import annotations

import string
from collections.abc import Iterator
from dataclasses import dataclass, replace

from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.operation.supply_pressures import (
    PressureCouple,
    SupplyPressure,
    couple_of,
    supply_pressures,
)
from burnerlab.appliance.project.model import Appliance, Market, MarketSupply
from burnerlab.appliance.project.toml_lines import spell
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError, did_you_mean

KEYS = {"altitude": "altitude", "gas temperature": "gas_temperature", "category": "category"}
"""Keys of a market, by what a target calls them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketTarget:
    """What the appliance is changed to for one market; of several gases, all with the orifices of the first."""

    letter: str  # A, B, C ...
    name: str
    number: int  # in the file, from 1
    appliance: Appliance  # of the market's region
    targets: tuple[ConversionTarget, ...]  # one for each gas

    @property
    def target(self) -> ConversionTarget:
        """The gas that the orifices are sized on."""
        return self.targets[0]


def targets_of(appliance: Appliance) -> tuple[MarketTarget, ...]:
    """A target for each market of an appliance, in the order of its file.

    >>> from burnerlab.appliance import demonstration
    >>> [(one.letter, one.name) for one in targets_of(demonstration())]
    [('A', 'bottled propane'), ('B', 'continental, third family')]
    """
    return tuple(_target(appliance, market, i) for i, market in enumerate(appliance.markets))


def market_named(appliance: Appliance, name: str, key: str = "market") -> MarketTarget:
    """The market of a name or a letter. Raises UserError with those there are.

    >>> from burnerlab.appliance import demonstration
    >>> market_named(demonstration(), "b").name
    'continental, third family'
    """
    known = targets_of(appliance)
    for one in known:
        if name.strip().casefold() in (one.letter.casefold(), one.name.casefold()):
            return one
    if not known:
        fix = "describe it under [[market]] with name and supply"
        raise UserError(Problem("the file has no market", value=name, key=key, file=appliance.file, fix=fix))
    names = [one.name for one in known]
    fix = did_you_mean(name, names)
    accepted = ", ".join(f"{one.letter} ({one.name})" for one in known)
    raise UserError(Problem("is no market of the file", value=name, key=key, accepted=accepted, fix=fix))


def convert_market(market: MarketTarget) -> tuple[Conversion, ...]:
    """The appliance changed for one market: a Conversion for each of its gases, the one sized on first.

    Raises UserError whose problems name the market and its key.

    >>> from burnerlab.appliance import demonstration
    >>> butane, propane = convert_market(market_named(demonstration(), "B"))
    >>> butane.burners[0].choice.drill == propane.burners[0].choice.drill
    True
    """
    return tuple(_converted(market, i) for i in range(len(market.targets)))


def _converted(market: MarketTarget, i: int) -> Conversion:
    try:
        return convert_to(market.appliance, market.targets[i])
    except UserError as error:
        raise UserError([_placed(problem, market, i) for problem in error.problems]) from None


def _placed(problem: Problem, market: MarketTarget, i: int) -> Problem:
    """A problem of a conversion at the key of its market."""
    key = spell(("market", market.number - 1))
    if problem.key in KEYS:
        return replace(problem, key=f"{key}.{KEYS[problem.key]}")
    if problem.key.startswith("pressure"):
        return replace(problem, key=f"{key}.supply[{i + 1}].pressure")
    what = f"{problem.key}: {problem.what}" if problem.key else problem.what
    return replace(problem, key=key, what=what)


def _target(appliance: Appliance, market: Market, i: int) -> MarketTarget:
    return MarketTarget(
        letter=letter(i),
        name=market.name,
        number=i + 1,
        appliance=replace(
            appliance,
            region=market.region or appliance.region,
            language=market.language or appliance.language,
        ),
        targets=tuple(_targets(appliance, market)),
    )


def letter(i: int) -> str:
    """The letter of a market, from 0: A to Z, then AA, AB.

    >>> letter(0), letter(27)
    ('A', 'AB')
    """
    tens, ones = divmod(i, len(string.ascii_uppercase))
    return (letter(tens - 1) if tens else "") + string.ascii_uppercase[ones]


def _targets(appliance: Appliance, market: Market) -> Iterator[ConversionTarget]:
    first, *others = market.supply
    couples = [_couple(appliance, market, first, other) for other in others]
    each: list[PressureCouple | None] = [*couples[:1], *couples] if couples else [None]
    for supply, couple in zip(market.supply, each, strict=True):
        yield ConversionTarget(
            gas=supply.gas,
            gauge_pressure_Pa=supply.gauge_pressure_Pa,
            altitude_m=market.altitude_m,
            gas_temperature_K=market.gas_temperature_K,
            category=market.category or ("" if couple is None else _category(couple, market)),
            altitude_policy=market.altitude_policy,
            tolerance=market.tolerance,
            allow_high_pressure=appliance.supply.allow_high_pressure,
            couple=couple,
        )


def _category(couple: PressureCouple, market: Market) -> str:
    return "" if couple.category == market.name else couple.category


def _couple(appliance: Appliance, market: Market, first: MarketSupply, other: MarketSupply) -> PressureCouple:
    """The two gases as a couple of the table of supply pressures, else as one of this file alone."""
    own = appliance.tables.supply_pressures
    rows = [row for row in supply_pressures(own) if row.couple and _is(row, first)]
    for known in (couple_of(row, own) for row in rows):
        if known is not None and _is(known.reference, first) and _is(known.other, other):
            reference, second = _at(known.reference, first), _at(known.other, other)
            return replace(known, reference=reference, other=second, gases=(first.gas, other.gas))
    nominal = "/".join(f"{supply.gauge_pressure_Pa / 100:.4g}" for supply in (first, other))
    return PressureCouple(
        category=market.name,
        nominal=nominal,
        reference=_row(market, first, nominal),
        other=_row(market, other, nominal),
        source="the project file",
        gases=(first.gas, other.gas),
    )


def _is(row: SupplyPressure, supply: MarketSupply) -> bool:
    return row.reference_gas == supply.gas.name and row.is_nominal(supply.gauge_pressure_Pa)


def _at(row: SupplyPressure, supply: MarketSupply) -> SupplyPressure:
    """The row with the pressure of the file as its nominal one."""
    return replace(row, nominal_from_Pa=supply.gauge_pressure_Pa, nominal_to_Pa=supply.gauge_pressure_Pa)


def _row(market: Market, supply: MarketSupply, couple: str) -> SupplyPressure:
    return SupplyPressure(
        region=market.region,
        category=market.name,
        family="",
        reference_gas=supply.gas.name,
        nominal_from_Pa=supply.gauge_pressure_Pa,
        nominal_to_Pa=supply.gauge_pressure_Pa,
        low_Pa=None,
        high_Pa=None,
        couple=couple,
        source="the project file",
        evidence=Evidence.ENTERED,
    )
