"""Gases as options say them: by name, by composition, as a bill declares them, at a pressure, of markets of a file."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

from burnerlab.cli.common_inputs import MARKETS, PLAIN, PRESSURE, above_outlet, market_head, markets_of
from burnerlab.cli.proposals import families, gas_names
from burnerlab.quantity.inputs import Group, Input, as_written, together
from burnerlab.tables import rows
from burnerlab.tables.libraries import is_mix
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, ConversionTarget
    from burnerlab.gas import DeclaredGas, Gas

OF_DECLARED = {
    "gross_heating_value": "--heating-value",
    "net_heating_value": "--net-heating-value",
    "relative_density": "--relative-density",
    "family": "--family",
    "reference": "--heating-value",
}
"""Options by the keys of a gas file."""
MIX_BASES = ("mole", "volume", "mass", "liquid-volume")


def gas_group(flag: str = "--gas", *, is_optional: bool = False) -> Group:
    """A gas by name, by composition, or as a bill or a rating plate declares it: ``Gas`` or ``DeclaredGas``.

    flag : how the command calls its gas: "--gas", "--to", or "NAME" for an argument
    """
    named = (
        Input(name="gas", reader=as_written, metavar="[NAME]", is_argument=True, proposals=gas_names)
        if flag == "NAME"
        else Input(
            name="gas",
            flags=(flag,),
            reader=as_written,
            metavar="NAME",
            help='Library name, LIBRARY:NAME, TOML file, "mix:methane=0.9,ethane=0.1".',
            proposals=gas_names,
        )
    )
    return Group(
        make=lambda **texts: _gas(flag, **texts),
        inputs=(named, *_OTHER_WAYS),
        rules=lambda written: _gas_rules(flag, written),
        is_optional=is_optional,
    )


_OTHER_WAYS = (
    Input(
        name="mix",
        reader=as_written,
        metavar="LIST",
        help='Composition: "methane=0.9,C2H6=0.1" or percents.',
    ),
    Input(
        name="per",
        reader=as_written,
        metavar="BASIS",
        proposals=lambda _: MIX_BASES,
        help="Basis of --mix: mole (default), volume, mass, liquid-volume.",
    ),
    Input(name="normalize", is_flag=True, help="Scale a --mix that does not add up to one."),
    Input(
        name="heating_value",
        reader=as_written,
        metavar="VALUE",
        help='As billed: "1037 Btu/ft3 gross at 60F".',
    ),
    Input(
        name="net_heating_value",
        reader=as_written,
        metavar="VALUE",
        help='Of the declared gas, where known: "936 Btu/ft3 net at 60F".',
    ),
    Input(
        name="relative_density",
        reader=as_written,
        flags=("--relative-density", "--specific-gravity"),
        metavar="NUMBER",
        help="Of the declared gas, air = 1.",
    ),
    Input(
        name="family",
        reader=as_written,
        metavar="NAME",
        proposals=families,
        help="Of the declared gas: its net value is estimated from it.",
    ),
)


def _gas_rules(flag: str, written: Mapping[str, Any]) -> Iterator[Problem]:
    ways = [way for way in ("gas", "mix", "heating_value") if way in written]
    if len(ways) != 1:
        what = "the gas is missing" if not ways else "more than one gas"
        accepted = f"{flag}, --mix, or --heating-value with --relative-density"
        fix = 'e.g. propane, or --mix "methane=0.9,ethane=0.1"; burnerlab fuels lists the names'
        yield Problem(what, key=flag, accepted=accepted, fix=fix)
    elif "heating_value" in written:
        if "relative_density" not in written:
            fix = 'e.g. --heating-value "1037 Btu/ft3 gross at 60F" --relative-density 0.6'
            yield Problem("needs --relative-density too", key="--heating-value", fix=fix)
    else:
        for name in ("relative_density", "net_heating_value", "family"):
            if name in written:
                yield Problem("needs --heating-value too", value=written[name], key=OF_DECLARED[name])
        if "gas" in written and not is_mix(str(written["gas"])):
            for name in ("per", "normalize"):
                if name in written:
                    yield Problem("has a meaning with --mix only", key=f"--{name}")


def _gas(
    flag: str,
    *,
    gas: str | None,
    mix: str | None,
    per: str | None,
    normalize: bool,
    heating_value: str | None,
    **declared: str | None,
) -> Gas | DeclaredGas:
    from burnerlab.gas import read_mix
    from burnerlab.gas.library import named_mix

    if heating_value is not None:
        return _declared(gross_heating_value=heating_value, **declared)
    if mix is not None:
        return read_mix(mix, per=per or "mole", normalize=normalize, key="--mix")
    assert gas is not None
    if is_mix(gas):
        return named_mix(gas, per, normalize=normalize, key=flag)
    return _named(gas, flag)


def _named(name: str, flag: str) -> Gas | DeclaredGas:
    """A gas of the library or of a file; else the pure component of that name."""
    from burnerlab.gas import fuels, load, mix
    from burnerlab.gas.component import canonical_name

    try:
        return load(name, key=flag)
    except UserError as unknown:
        try:
            component = canonical_name(name)
        except UserError:
            raise unknown from None
        if component in fuels():
            return load(component)
        return replace(
            mix({component: 1.0}, per="mole", name=component),
            title=f"{component[0].upper()}{component[1:]}, pure",
            source="pure component",
            provenance="definition",
        )


def _declared(*, relative_density: str | None, **texts: str | None) -> DeclaredGas:
    from burnerlab.gas import DeclaredGas, gas_from_mapping

    number = relative_density and PLAIN.fullmatch(relative_density)
    keys = {"name": "declared gas", **texts, "relative_density": float(number[0]) if number else None}
    try:
        gas = gas_from_mapping({key: value for key, value in keys.items() if value is not None})
    except UserError as error:
        raise UserError([_by_option(problem) for problem in error.problems]) from None
    assert isinstance(gas, DeclaredGas)
    return gas if gas.net_to_gross() is not None else replace(gas, family=_nearest_family(gas))


def _nearest_family(gas: DeclaredGas) -> str:
    """The family whose relative density is nearest: what the net value of a declared gas is estimated from."""

    families = [row for row in rows("declared_families") if not row["family"].startswith("pure ")]
    nearest = min(families, key=lambda row: abs(float(row["relative_density"]) / gas.relative_density - 1.0))
    return nearest["family"]


def _by_option(problem: Problem) -> Problem:
    """The problem with the option's name in place of the key of a gas file."""
    key = problem.key.removeprefix("gas.")
    if key == "reference":
        problem = replace(problem, fix='say it with the value: "1037 Btu/ft3 gross at 60F"')
    return replace(problem, key=OF_DECLARED.get(key, problem.key))


GAS = gas_group()
"""The gas of a command, ``--gas``."""
GAS_ARGUMENT = gas_group("NAME")
"""The gas of a command as its argument NAME."""


def read_gas(text: Any, key: str) -> Gas | DeclaredGas:
    """A gas by its name."""
    gas: Gas | DeclaredGas = gas_group(key).read({"gas": text.strip()}, lambda _: key)
    return gas


GAS_AT = re.compile(r"(?P<gas>.+?)\s*(?:@|\bat\b)\s*(?P<pressure>[^@]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class GasAt:
    """A gas by its name and its gauge pressure, with the text of the pressure."""

    gas: Gas | DeclaredGas
    gauge_pressure_Pa: float
    pressure: str


def read_gas_at(text: Any, key: str) -> GasAt:
    """A gas at its pressure: "propane@11 inH2O"."""
    parts = GAS_AT.fullmatch(text.strip())
    if parts is None:
        raise UserError(Problem("write GAS@PRESSURE", value=text, key=key, fix='e.g. "G31@37 mbar"'))
    pressure = parts["pressure"].strip()
    gas, gauge_Pa = together(lambda: read_gas(parts["gas"], key), lambda: above_outlet(pressure, key))
    return GasAt(gas=gas, gauge_pressure_Pa=gauge_Pa, pressure=pressure)


def _second(gas: Gas | DeclaredGas, pressure: float) -> tuple[Gas | DeclaredGas, float]:
    return gas, pressure


SECOND_GAS = Group(
    make=_second,
    parts={"gas": gas_group("--to")},
    inputs=(
        replace(
            PRESSURE,
            help='Of the gas named by --to, gauge: "11 inH2O".',
            missing="the pressure of the second gas is missing",
        ),
    ),
    is_optional=True,
)
"""A gas beside that of the file, ``--to``, with its gauge pressure [Pa]; None where neither was written."""


class MarketCase(NamedTuple):
    """The appliance on another gas, and the market that is for ("" where none was named)."""

    appliance: Appliance
    gas: Gas | DeclaredGas
    market: str = ""
    left: float = 1.0  # of the ratings, by the altitude policy [-]

    @property
    def at_its_rates(self) -> Appliance:
        """The appliance with what the altitude leaves of its ratings as its rates."""
        burners = tuple(replace(one, rate_W=self.left * one.rate_W) for one in self.appliance.burners)
        return replace(self.appliance, burners=burners)

    @property
    def words(self) -> str:
        """What stands above its figures; "" where no market was named."""
        rest = "" if self.left == 1.0 else f"; at {100.0 * self.left:.1f} % of the ratings by its altitude"
        return f"{self.market}{rest}" if self.market else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FurtherGases:
    """Gases beside that of a file: one by its name, or those of markets."""

    gas: Gas | DeclaredGas | None
    gauge_pressure_Pa: float | None
    markets: tuple[str, ...]

    def cases(self, appliance: Appliance) -> list[MarketCase]:
        """The appliance changed to each gas; as it is beside a gas without a pressure."""
        from burnerlab.appliance import ConversionTarget
        from burnerlab.appliance.conversion.job import prepare
        from burnerlab.appliance.conversion.orifice_choice import changed_by, steps_of
        from burnerlab.cli.options import in_words_of_options

        def case(appliance: Appliance, target: ConversionTarget, market: str = "") -> MarketCase:
            job = prepare(appliance, target)
            made = changed_by(job, steps_of(job))
            return MarketCase(made, target.gas, market, job.policy.factor)

        try:
            if self.gas is None:
                return [
                    case(sold.appliance, target, market_head(sold, target).strip())
                    for sold in markets_of(appliance, self.markets)
                    for target in sold.targets
                ]
            if self.gauge_pressure_Pa is None:
                return [MarketCase(appliance, self.gas)]
            pressure_Pa = self.gauge_pressure_Pa
            return [case(appliance, ConversionTarget(gas=self.gas, gauge_pressure_Pa=pressure_Pa))]
        except UserError as error:
            raise in_words_of_options(error) from None


def further_gases(*, needs_pressure: bool = True) -> Group:
    """Gases beside that of FILE, ``--to`` with ``--pressure`` or ``--market``: ``FurtherGases``, None without one."""

    def rules(written: Mapping[str, Any]) -> Iterator[Problem]:
        has_gas = any(one.name in written for one in gas.all_inputs())
        if "market" in written:
            if has_gas or "pressure" in written:
                yield Problem("stands alone: gas and pressure are those of the file", key="--market")
        elif not has_gas:
            yield Problem("needs --to or --market too", value=written["pressure"], key="--pressure")
        elif needs_pressure and "pressure" not in written:
            what, fix = "the pressure of the second gas is missing", 'e.g. --pressure "11 inH2O"'
            yield Problem(what, key="--pressure", fix=fix)

    gas = gas_group("--to", is_optional=True)
    alone = "" if needs_pressure else "; without it the rates and orifices stay"
    return Group(
        make=lambda gas, pressure, market: FurtherGases(
            gas=gas, gauge_pressure_Pa=pressure, markets=tuple(market)
        ),
        parts={"gas": gas},
        inputs=(
            replace(PRESSURE, is_needed=False, help=f'Of the gas named by --to, gauge: "11 inH2O"{alone}.'),
            replace(
                MARKETS,
                help="Also changed to each gas of a market of FILE, by name or letter; repeatable.",
            ),
        ),
        rules=rules,
        is_optional=True,
    )
