"""``burnerlab supply``: what pressure reaches each burner through regulator, hose, pipe and valves."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import click

from burnerlab.cli.asked import GasAsked, gauge_pressure_Pa, pressure_notes, together
from burnerlab.cli.cautions import of_pressure, print_cautions
from burnerlab.cli.options import gas_options, json_option
from burnerlab.cli.output import facts, number, percent, print_json, print_notes, table
from burnerlab.cli.overfire import print_overfire
from burnerlab.cli.target import train_option
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, Operation
    from burnerlab.appliance.result import Finding
    from burnerlab.appliance.target import TrainChoice


@click.command(short_help="Pressure and heat input of every burner through its supply.")
@click.argument("file")
@click.option("--to", metavar="GAS", help="The appliance as it is once changed to this gas at --pressure.")
@train_option
@click.option("--on", "names", metavar="NAMES", help='Burners that burn: "ring,griddle". All if none.')
@gas_options
@click.option("--pressure", metavar="P", help="Nominal at the manifold, in place of the file's.")
@json_option
def command(
    file: str,
    to: str | None,
    train: TrainChoice,
    names: str | None,
    gas: GasAsked,
    pressure: str | None,
    as_json: bool,
) -> None:
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
    from burnerlab.appliance.job import present_policy

    if to is None:
        if train:
            raise UserError(Problem("needs --to beside it", value=train, key="--train"))
        appliance, served = _appliance(file, gas, pressure), ""
    else:
        appliance, served = _converted(file, to, gas, pressure, train)
    found = operate(appliance, on=None if names is None else _asked(names, appliance))
    unusual = () if pressure is None else pressure_notes(found.nominal_gauge_pressure_Pa, pressure)
    policy = present_policy(appliance)
    altitude = policy.words() if policy.factor < 1.0 else ""
    if as_json:
        print_json(
            found,
            supply_of_new_gas=served or None,
            altitude_policy=policy.policy or None,
            altitude_policy_factor=policy.factor,
            notes=(*found.notes, *unusual),
        )
    else:
        print_overfire(found.warnings)
        click.echo(_text(found, served, altitude))
        print_notes("Findings", [_words(finding) for finding in found.findings])
        print_notes("Taken from tables", found.notes)
        print_notes("Notes", unusual)
        print_cautions(appliance.supply.gas, occasions=of_pressure(appliance.supply.gauge_pressure_Pa))


def _asked(names: str, appliance: Appliance) -> list[str]:
    """Burners by their names, parted by commas; a name that holds a comma itself may stand alone."""
    if any(burner.name.casefold() == names.strip().casefold() for burner in appliance.burners):
        return [names]
    return [name for name in names.split(",") if name.strip()]


def _appliance(file: str, gas: GasAsked, pressure: str | None) -> Appliance:
    from burnerlab.appliance import read_appliance

    given = (gas.name, gas.mix, gas.heating_value)
    appliance, other, gauge_Pa = together(
        lambda: read_appliance(file),
        lambda: gas.read() if any(way is not None for way in given) else None,
        lambda: None if pressure is None else gauge_pressure_Pa(pressure),
    )
    supply = appliance.supply
    supply = supply if other is None else replace(supply, gas=other)
    supply = supply if gauge_Pa is None else replace(supply, gauge_pressure_Pa=gauge_Pa)
    changed: Appliance = replace(appliance, supply=supply)
    return changed


def _converted(
    file: str, to: str, gas: GasAsked, pressure: str | None, train: TrainChoice
) -> tuple[Appliance, str]:
    """The appliance changed to the new gas, and which supply serves it."""
    from burnerlab.appliance import ConversionTarget, changed, read_appliance
    from burnerlab.appliance.new_train import new_train

    if gas.is_given:
        raise UserError(Problem("give one of them, not both", key="--gas and --to"))
    if pressure is None:
        fix = 'e.g. --to propane --pressure "11 inH2O"'
        raise UserError(Problem("the pressure of the new gas is missing", key="--pressure", fix=fix))
    appliance, new_gas, gauge_Pa = together(
        lambda: read_appliance(file),
        GasAsked(option="--to", name=to).read,
        lambda: gauge_pressure_Pa(pressure, "--pressure"),
    )
    target = ConversionTarget(gas=new_gas, gauge_pressure_Pa=gauge_Pa, train=train)
    return changed(appliance, target), new_train(appliance, target).words


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
