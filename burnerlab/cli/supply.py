"""``supply``: what pressure reaches each burner through regulator, hose, pipe and valves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import APPLIANCE, CHANGED_FOR, PRESSURE, market_head, market_keys, markets_of
from burnerlab.cli.conversion import TRAIN
from burnerlab.cli.gas_inputs import gas_group, read_gas
from burnerlab.cli.options import json_option, takes, written
from burnerlab.cli.output import (
    facts,
    gas_fact,
    kW,
    mbar,
    of_pressure,
    percent,
    pressure_notes,
    print_cautions,
    print_json,
    print_look_up,
    print_notes,
    print_overfire,
    quantity,
    table,
    wrapped,
)
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import row
from burnerlab.quantity.quantity_text import quantity_text
from burnerlab.tables.problem import Problem
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, ConversionTarget, Operation
    from burnerlab.appliance.conversion.markets import MarketTarget
    from burnerlab.appliance.conversion.result import Finding
    from burnerlab.appliance.conversion.target import TrainChoice
    from burnerlab.gas import DeclaredGas, Gas


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """The appliance on its supply, and which supply of its file serves a new gas ("" where it is not changed)."""

    appliance: Appliance
    by: str = ""
    market: MarketTarget | None = None  # that it is changed for, to this gas of it
    target: ConversionTarget | None = None


def _served(
    file: Appliance,
    to: Gas | DeclaredGas | None,
    train: TrainChoice | None,
    gas: Gas | DeclaredGas | None,
    pressure: float | None,
    market: Sequence[str],
) -> tuple[Served, ...]:
    """The appliance as it is, or changed, for each gas of the markets where some are named."""
    from burnerlab.appliance import ConversionTarget

    if market:
        return tuple(
            replace(_changed(one.appliance, target, train), market=one, target=target)
            for one in markets_of(file, market)
            for target in one.targets
        )
    if to is not None and pressure is not None:
        return (_changed(file, ConversionTarget(gas=to, gauge_pressure_Pa=pressure), train),)
    supply = file.supply if gas is None else replace(file.supply, gas=gas)
    supply = supply if pressure is None else replace(supply, gauge_pressure_Pa=pressure)
    return (Served(appliance=replace(file, supply=supply)),)


def _changed(file: Appliance, target: ConversionTarget, train: TrainChoice | None) -> Served:
    from burnerlab.appliance import changed
    from burnerlab.appliance.conversion.job import prepare

    aimed = replace(target, train=train or "")
    return Served(appliance=changed(file, aimed), by=prepare(file, aimed).new_train.words)


def _rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    others = [
        name for name in ("to", "pressure", *(one.name for one in OTHER_GAS.all_inputs())) if name in written
    ]
    if "market" in written:
        if others:
            yield Problem("stands alone: gas and pressure are those of the file", key="--market")
    elif "to" not in written:
        if "train" in written:
            yield Problem("needs --to or --market too", value=written["train"], key="--train")
    elif any(one.name in written for one in OTHER_GAS.all_inputs()):
        yield Problem("give one of them, not both", key="--gas and --to")
    elif "pressure" not in written:
        fix = 'e.g. --to propane --pressure "11 inH2O"'
        yield Problem("the pressure of the new gas is missing", key="--pressure", fix=fix)


LEAST_SHOWN = 0.0005  # of a heat input: less prints as 0.0 %
OTHER_GAS = gas_group(is_optional=True)
SERVED = Group(
    make=_served,
    inputs=(
        APPLIANCE,
        Input(
            name="to",
            reader=read_gas,
            metavar="GAS",
            help="The appliance as it is once changed to this gas at --pressure.",
        ),
        CHANGED_FOR,
        TRAIN,
        replace(PRESSURE, is_needed=False, help="Nominal at the manifold, in place of the file's."),
    ),
    parts={"gas": OTHER_GAS},
    rules=_rules,
)
"""The appliance of a file, with another gas through its orifices or changed to it, for each gas: ``Served``."""


ON = Input(
    name="on", reader=as_written, metavar="NAMES", help='Burners that burn: "ring,griddle". All if none.'
)


@click.command(short_help="Pressure and heat input of every burner through its supply.")
@takes(
    served=SERVED,
    names=ON,
)
@json_option
def supply_command(served: tuple[Served, ...], names: str | None, as_json: bool) -> None:
    """Pressure at every orifice of FILE and the input of every burner, with some of its burners on.

    Regulator, hose, pipe, manifold and valves are those under [supply] of FILE; without them the manifold pressure
    is that of the file. The worst of all burners on and of all of one kind on is printed too. --gas and --pressure put
    another gas through the same orifices. --to and --pressure, or each gas of a --market, change the appliance first,
    as convert does: new orifices, and the supply of the new gas that --train chooses.

    \b
    Examples:
      burnerlab supply range.toml
      burnerlab supply range.toml --on "stock-pot ring,rear burner"
      burnerlab supply range.toml --gas propane --pressure "11 inH2O" --json
      burnerlab supply range.toml --to propane --pressure "11 inH2O"
      burnerlab supply range.toml --market A
    """
    if as_json:
        made = [_json(one, names) for one in served]
        print_json({"markets": made} if served[0].market else made[0])
        return
    for one in served:
        _print_supply(one, names)
    supplies = [one.appliance.supply for one in served]
    occasions = dict.fromkeys(word for one in supplies for word in of_pressure(one.gauge_pressure_Pa))
    print_cautions(
        *(one.gas for one in supplies), occasions=tuple(occasions), is_apart=served[0].market is not None
    )


def _operation(served: Served, names: str | None) -> tuple[Operation, tuple[str, ...]]:
    """The appliance on its supply, and what is unusual of its pressure."""
    from burnerlab.appliance import operate

    found = operate(served.appliance, on=None if names is None else burners_on(names, served.appliance))
    pressure = written("pressure")
    return found, pressure_notes(found.nominal_gauge_pressure_Pa, pressure) if pressure else ()


def _json(served: Served, names: str | None) -> dict[str, Any]:
    from burnerlab.appliance.conversion.job import present_policy

    found, unusual = _operation(served, names)
    policy = present_policy(served.appliance)
    keys = market_keys(served.market, served.target) if served.market and served.target else {}
    return (
        keys
        | row(found)
        | {
            "supply_of_new_gas": served.by or None,
            "altitude_policy": policy.policy or None,
            "altitude_policy_factor": policy.factor,
            "notes": (*found.notes, *unusual),
        }
    )


def _print_supply(served: Served, names: str | None) -> None:
    from burnerlab.appliance.conversion.job import present_policy

    found, unusual = _operation(served, names)
    policy = present_policy(served.appliance)
    if served.market and served.target:
        click.echo(market_head(served.market, served.target))
    print_overfire(found.warnings)
    click.echo(_text(found, served, policy.words() if policy.factor < 1.0 else ""))
    print_notes("Findings", [_words(finding) for finding in found.findings])
    print_notes("Taken from tables", found.notes)
    print_notes("Notes", unusual)
    print_look_up(one.handbook for one in found.findings if one.verdict != Verdict.WITHIN)
    if served.market:
        click.echo()


def burners_on(names: str, appliance: Appliance) -> list[str]:
    """Burners by their names, parted by commas; a name that holds a comma itself may stand alone."""
    if any(burner.name.casefold() == names.strip().casefold() for burner in appliance.burners):
        return [names]
    return [name for name in names.split(",") if name.strip()]


def _words(finding: Finding) -> str:
    burner = f"{finding.burner}: " if finding.burner else ""
    evidence = f"; evidence: {finding.evidence}" if finding.evidence else ""
    return f"{finding.verdict} - {finding.topic}: {burner}" + finding.text + evidence  # keeps its quantities


def _against(operation: Operation, aim: str) -> str:
    """The input of all that are on beside their ratings."""
    whole, rated = operation.whole, operation.rated
    here, wanted = (
        quantity(one * rated.of_gross, Kind.POWER, "kW")
        for one in (whole.heat_input_gross_W, whole.aim_gross_W)
    )
    return quantity_text("{} {}, {} {}, {}", here, rated.word, aim, wanted, whole.words())


def _text(operation: Operation, served: Served, altitude: str) -> str:
    from burnerlab.appliance.operation.result import worst_words

    every = all(burner.on for burner in operation.burners)
    on = "all burners" if every else ", ".join(operation.on)
    head = facts(
        [
            ("appliance", operation.appliance),
            ("gas", gas_fact(served.appliance.supply.gas)),
            ("on", on),
            (
                "nominal pressure",
                quantity(operation.nominal_gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar")
                + " gauge, manifold",
            ),
            (
                "manifold",
                quantity(operation.manifold_gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar") + " gauge",
            ),
            ("heat input", _against(operation, "aim" if altitude else "rated")),
            *worst_words(operation.inputs),
            *([("new gas served by", served.by)] if served.by else []),
            *([("altitude", altitude)] if altitude else []),
            ("evidence", operation.evidence),
        ]
    )
    rows = [
        (
            b.name + (f" ({b.count} burners)" if b.count > 1 else ""),
            mbar(b.gauge_pressure_Pa) if b.on else "off",
            kW(b.heat_input_gross_W * operation.rated.of_gross) if b.on else "-",
            percent(b.deviation),
            percent(b.deviation_alone),
            percent(b.from_nominal),
        )
        for b in operation.burners
    ]
    off = "off aim" if altitude else "off rating"
    alone = "all of its kind on" if any(b.count > 1 for b in operation.burners) else "alone"
    heads = ("burner", "at orifice, mbar", f"kW {operation.rated.word}", off, alone, "by the supply")
    burners = table(heads, rows)
    parts = [head, burners]
    if operation.elements:
        parts.append(_elements(operation))
    ends = (("least", operation.lowest), ("most", operation.highest))
    if all(abs(worst.from_nominal) < LEAST_SHOWN for _, worst in ends):
        return "\n\n".join((*parts, "by the supply: no burner is moved by 0.05 % of its nominal input"))
    for words, worst in ends:
        case = f"{worst.case}: {worst.burner} {percent(worst.from_nominal)} of its nominal input"
        text = f"{words} by the supply: {case}, {percent(worst.deviation)} {off}"
        parts.append(wrapped(text, subsequent="  "))
    return "\n\n".join(parts[:-2]) + "\n\n" + "\n".join(parts[-2:])


def _elements(operation: Operation) -> str:
    rows = [
        (
            element.name,
            mbar(element.inlet_gauge_pressure_Pa),
            mbar(element.outlet_gauge_pressure_Pa),
            mbar(element.drop_Pa, 3),
            element.regime or "-",
            "-" if element.reynolds is None else f"{element.reynolds:.0f}",
        )
        for element in operation.elements
    ]
    beside = [
        wrapped(
            f"{element.name} beside the trade's formulas, flow at the same friction: "
            + ", ".join(
                f"{name} {percent(share - 1.0, 0)}"
                for name, share in element.flow_by_formula_over_this.items()
            ),
            subsequent="  ",
        )
        for element in operation.elements
        if element.flow_by_formula_over_this
    ]
    return "\n".join(
        [table(("element", "inlet, mbar", "outlet, mbar", "drop, mbar", "flow", "Re"), rows), *beside]
    )
