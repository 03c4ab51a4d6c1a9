"""``burnerlab supply``: what pressure reaches each burner through regulator, hose, pipe and valves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import of_pressure, print_cautions
from burnerlab.cli.common_inputs import APPLIANCE, PRESSURE, gas_group, read_gas
from burnerlab.cli.notes import pressure_notes
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, percent, print_json, print_notes, table
from burnerlab.cli.overfire import print_overfire
from burnerlab.cli.takes import takes, written
from burnerlab.cli.target import TRAIN
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import Problem

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, Operation
    from burnerlab.appliance.result import Finding
    from burnerlab.appliance.target import TrainChoice
    from burnerlab.gas import DeclaredGas, Gas


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """The appliance on its supply, and which supply of its file serves a new gas ("" where it is not changed)."""

    appliance: Appliance
    by: str = ""


def _served(
    file: Appliance,
    to: Gas | DeclaredGas | None,
    train: TrainChoice | None,
    gas: Gas | DeclaredGas | None,
    pressure: float | None,
) -> Served:
    from burnerlab.appliance import ConversionTarget, changed
    from burnerlab.appliance.new_train import new_train

    if to is not None and pressure is not None:
        target = ConversionTarget(gas=to, gauge_pressure_Pa=pressure, train=train or "")
        return Served(appliance=changed(file, target), by=new_train(file, target).words)
    supply = file.supply if gas is None else replace(file.supply, gas=gas)
    supply = supply if pressure is None else replace(supply, gauge_pressure_Pa=pressure)
    return Served(appliance=replace(file, supply=supply))


def _rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    if "to" not in written:
        if "train" in written:
            yield Problem("needs --to beside it", value=written["train"], key="--train")
    elif any(one.name in written for one in OTHER_GAS.all_inputs()):
        yield Problem("give one of them, not both", key="--gas and --to")
    elif "pressure" not in written:
        fix = 'e.g. --to propane --pressure "11 inH2O"'
        yield Problem("the pressure of the new gas is missing", key="--pressure", fix=fix)


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
        TRAIN,
        replace(PRESSURE, is_needed=False, help="Nominal at the manifold, in place of the file's."),
    ),
    parts={"gas": OTHER_GAS},
    rules=_rules,
)
"""The appliance of a file, with another gas through its orifices or changed to it: ``Served``."""


@click.command(short_help="Pressure and heat input of every burner through its supply.")
@takes(
    served=SERVED,
    names=Input(
        name="on", reader=as_written, metavar="NAMES", help='Burners that burn: "ring,griddle". All if none.'
    ),
)
@json_option
def supply_command(served: Served, names: str | None, as_json: bool) -> None:
    """Pressure at every orifice of FILE and the input of every burner, with some of its burners on.

    Regulator, hose, pipe, manifold and valves are those under [supply] of FILE; without them its pressure at the
    manifold is taken as given. The worst of all burners on and of each alone is found beside. --gas and --pressure
    put another gas through the same orifices. --to and --pressure change the appliance first, as convert does: new
    orifices, and the supply of the new gas that --train says.

    \b
    Examples:
      burnerlab supply range.toml
      burnerlab supply range.toml --on "stock-pot ring,rear burner"
      burnerlab supply range.toml --gas propane --pressure "11 inH2O" --json
      burnerlab supply range.toml --to propane --pressure "11 inH2O"
    """
    from burnerlab.appliance import operate
    from burnerlab.appliance.conversion.job import present_policy

    appliance = served.appliance
    found = operate(appliance, on=None if names is None else _on(names, appliance))
    pressure = written("pressure")
    unusual = pressure_notes(found.nominal_gauge_pressure_Pa, pressure) if pressure else ()
    policy = present_policy(appliance)
    altitude = policy.words() if policy.factor < 1.0 else ""
    if as_json:
        print_json(
            found,
            supply_of_new_gas=served.by or None,
            altitude_policy=policy.policy or None,
            altitude_policy_factor=policy.factor,
            notes=(*found.notes, *unusual),
        )
    else:
        print_overfire(found.warnings)
        click.echo(_text(found, served.by, altitude))
        print_notes("Findings", [_words(finding) for finding in found.findings])
        print_notes("Taken from tables", found.notes)
        print_notes("Notes", unusual)
        print_cautions(appliance.supply.gas, occasions=of_pressure(appliance.supply.gauge_pressure_Pa))


def _on(names: str, appliance: Appliance) -> list[str]:
    """Burners by their names, parted by commas; a name that holds a comma itself may stand alone."""
    if any(burner.name.casefold() == names.strip().casefold() for burner in appliance.burners):
        return [names]
    return [name for name in names.split(",") if name.strip()]


def _words(finding: Finding) -> str:
    burner = f"{finding.burner}: " if finding.burner else ""
    evidence = f"; evidence: {finding.evidence}" if finding.evidence else ""
    return f"{finding.verdict} - {finding.topic}: {burner}{finding.text}{evidence}"


def _against(found: Operation, aim: str) -> str:
    """The input of all that are on beside their ratings."""
    whole = found.whole
    kW = f"{number(whole.heat_input_gross_W / 1e3)} kW gross, {aim} {number(whole.aim_gross_W / 1e3)} kW"
    return f"{kW}, {whole.words()}"


def _text(found: Operation, served: str, altitude: str) -> str:
    from burnerlab.appliance.rated import worst_words

    every = all(burner.on for burner in found.burners)
    on = "all burners" if every else ", ".join(found.on)
    head = facts(
        [
            ("appliance", found.appliance),
            ("gas", found.gas),
            ("on", on),
            (
                "nominal pressure",
                f"{number(found.nominal_gauge_pressure_Pa / 1e3)} kPa gauge at the manifold",
            ),
            ("at the manifold", f"{number(found.manifold_gauge_pressure_Pa / 1e3)} kPa gauge"),
            ("heat input", _against(found, "aim" if altitude else "rated")),
            *worst_words(found.inputs),
            *([("new gas served by", served)] if served else []),
            *([("altitude", altitude)] if altitude else []),
            ("evidence", found.evidence),
        ]
    )
    rows = [
        (
            b.name + (f" ({b.count} off)" if b.count > 1 else ""),
            number(b.gauge_pressure_Pa / 1e3) if b.on else "off",
            number(b.heat_input_gross_W / 1e3) if b.on else "-",
            percent(b.deviation),
            percent(b.deviation_alone),
            percent(b.from_nominal),
        )
        for b in found.burners
    ]
    off = "off aim" if altitude else "off rating"
    burners = table(("burner", "kPa at orifice", "kW gross", off, "alone", "by the supply"), rows)
    parts = [head, burners]
    if found.elements:
        parts.append(_elements(found))
    for words, worst in (("least", found.lowest), ("most", found.highest)):
        case = f"{worst.case}: {worst.burner} {percent(worst.from_nominal)} of its nominal input"
        parts.append(f"{words} by the supply: {case}, {percent(worst.deviation)} {off}")
    return "\n\n".join(parts[:-2]) + "\n\n" + "\n".join(parts[-2:])


def _elements(found: Operation) -> str:
    rows = [
        (
            element.name,
            "-" if element.inlet_gauge_pressure_Pa is None else number(element.inlet_gauge_pressure_Pa / 1e3),
            number(element.outlet_gauge_pressure_Pa / 1e3),
            "-" if element.drop_Pa is None else f"{element.drop_Pa:.1f}",
            element.regime or "-",
            "-" if element.reynolds is None else f"{element.reynolds:.0f}",
        )
        for element in found.elements
    ]
    beside = [
        f"{element.name} beside the trade's formulas, flow at the same friction: "
        + ", ".join(
            f"{name} {percent(share - 1.0, 0)}" for name, share in element.flow_by_formula_over_this.items()
        )
        for element in found.elements
        if element.flow_by_formula_over_this
    ]
    return "\n".join([table(("element", "kPa in", "kPa out", "drop, Pa", "flow", "Re"), rows), *beside])
