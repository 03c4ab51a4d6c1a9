"""``burnerlab burner``: primary air, ports and the flame's limits of every burner."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.burner_setting import setting_lines, shutter_target, throats
from burnerlab.cli.cautions import of_pressure, print_cautions
from burnerlab.cli.common_inputs import APPLIANCE, PRESSURE, GasAt, gas_group, read_gas_at
from burnerlab.cli.notes import pressure_notes
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, percent, print_json, print_notes, table
from burnerlab.cli.overfire import print_overfire
from burnerlab.cli.takes import takes, written
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import columns, row
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.conversion.flame_stability import BurnerStability
    from burnerlab.burner.shutter_setting import ShutterWindow
    from burnerlab.gas import DeclaredGas, Gas

AS_BUILT, CHANGED = "as in the file", "as a conversion to this gas would drill them"


def _on_gas(
    file: Appliance, gas: Gas | DeclaredGas | None, pressure: float | None, converted: bool
) -> Appliance:
    """The appliance of the file on another gas, through its own orifices or those made for that gas."""
    from burnerlab.appliance import ConversionTarget, changed

    new_gas = file.supply.gas if gas is None else gas
    new_Pa = file.supply.gauge_pressure_Pa if pressure is None else pressure
    if converted:
        return changed(file, ConversionTarget(gas=new_gas, gauge_pressure_Pa=new_Pa))
    if gas is None and pressure is None:
        return file
    supply = replace(
        file.supply,
        gas=new_gas,
        gauge_pressure_Pa=new_Pa,
        low_gauge_pressure_Pa=None,
        high_gauge_pressure_Pa=None,
    )
    return replace(file, supply=supply)


ON_GAS = Group(
    make=_on_gas,
    inputs=(
        APPLIANCE,
        replace(PRESSURE, is_needed=False, help="Nominal at the manifold, in place of the file's."),
        Input(name="converted", is_flag=True, help="With the orifices a conversion to --gas would take."),
    ),
    parts={"gas": gas_group(is_optional=True)},
)
"""The appliance of a file, on its own gas or on another: ``Appliance``."""


@click.command(short_help="Primary air, ports and flame limits of every burner.")
@takes(
    appliance=ON_GAS,
    name=Input(name="burner", reader=as_written, metavar="NAME", help="One burner; all if none."),
    hot=Input(
        name="hot", is_flag=True, help="Take off the primary air what hot burners were measured to lose."
    ),
    others=Input(
        name="also",
        reader=read_gas_at,
        metavar="GAS@P",
        is_many=True,
        help='Search one shutter setting for FILE\'s gas and this one too: "propane@11 inH2O". Repeatable.',
    ),
    wanted=Input(
        name="target_aeration",
        metavar="SHARE",
        help="Also the shutter opening that gives this primary aeration.",
    ),
)
@json_option
def burner_command(
    appliance: Appliance,
    name: str | None,
    hot: bool,
    others: tuple[GasAt, ...],
    wanted: float | None,
    as_json: bool,
) -> None:
    """Primary aeration, port flow, and how far the flame of each burner of FILE is from lift, light-back, yellow tips.

    Needs ports and throat of the burner in FILE; the area of its air shutter, where it has one. --gas and --pressure
    put another gas through the same orifices, or with --converted through those made for it. A margin of 1 is
    the limit, below 1 it is crossed; every limit here is recalled or estimated.

    \b
    Examples:
      burnerlab burner range.toml
      burnerlab burner range.toml --burner "stock-pot ring" --gas propane --pressure "11 inH2O" --converted --json
      burnerlab burner range.toml --burner "stock-pot ring" --also "propane@11 inH2O"
      burnerlab burner range.toml --gas propane --pressure "11 inH2O" --converted --target-aeration "55 %"
    """
    from burnerlab.appliance.conversion.flame_stability import stabilities

    names = _names(appliance, name)
    found = stabilities(appliance, names=names, hot=hot)
    windows = {each: _window(appliance, each, others) for each in names} if others else {}
    pressure = written("pressure")
    unusual = pressure_notes(appliance.supply.gauge_pressure_Pa, pressure) if pressure else ()
    result = _json(appliance, found, windows, CHANGED if written("converted") else AS_BUILT)
    for burner, one in zip(result["burners"], found, strict=True):
        if wanted is not None:
            burner["shutter_target"] = row(shutter_target(one.full, wanted))
    worst = _rate(result, appliance, names)
    result |= {"notes": unusual}
    if as_json:
        print_json(result)
        return
    print_overfire(result["warnings"])
    click.echo(_text(result, worst))
    for burner in result["burners"]:
        print_notes(burner["name"], _lines(burner))
    print_notes("Notes", unusual)
    print_cautions(appliance.supply.gas, occasions=of_pressure(appliance.supply.gauge_pressure_Pa))


def _names(appliance: Appliance, name: str | None) -> list[str]:
    from burnerlab.tables.problem import did_you_mean

    known = [burner.name for burner in appliance.burners]
    if name is None:
        return known
    fitting = [each for each in known if each.casefold() == name.strip().casefold()]
    if not fitting:
        what, fix = "is not a burner of this appliance", did_you_mean(name, known)
        raise UserError(Problem(what, value=name, key="--burner", accepted=", ".join(known), fix=fix))
    return fitting


def _window(appliance: Appliance, name: str, others: Sequence[GasAt]) -> ShutterWindow | None:
    from burnerlab.appliance.conversion.flame_stability import shutter_search

    return shutter_search(appliance, name, [(one.gas, one.gauge_pressure_Pa) for one in others])


# JSON


def _json(
    appliance: Appliance,
    found: Sequence[BurnerStability],
    windows: dict[str, ShutterWindow | None],
    orifices: str,
) -> dict[str, Any]:
    from burnerlab.orifice import Conditions

    supply = appliance.supply
    conditions = Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )
    return {
        "appliance": appliance.name,
        "gas": supply.gas.name,
        **row(conditions),
        "orifices": orifices,
        "burners": [_burner(burner) | _shutter(windows, burner.name) for burner in found],
        "evidence": Evidence.ESTIMATE,  # as a whole; each limit and finding has its own
    }


def _rate(result: dict[str, Any], appliance: Appliance, names: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Put the heat input against the rating to each burner; returns the worst in words, for the head of the answer."""
    from burnerlab.appliance.rated import nominal_inputs, overfire_lines, worst_first, worst_words

    rated = {one.burner: (one, finding) for one, finding in nominal_inputs(appliance, names)}
    inputs = [one for one, _ in rated.values()]
    for burner in result["burners"]:
        one, finding = rated[burner["name"]]
        burner["heat_input"] = row(one)
        burner["findings"].insert(0, row(finding))
    result["warnings"] = overfire_lines(inputs, result["gas"], appliance.supply.gauge_pressure_Pa)
    result["inputs_worst_first"] = [row(one) for one in worst_first(inputs)]
    return worst_words(inputs)


def _burner(found: BurnerStability) -> dict[str, Any]:
    from burnerlab.appliance.conversion.flame_stability import RatedState

    head = {"name": found.name, "kind": found.kind, "count": found.count, "gas": found.gas}
    rates = [row(rate) for rate in found.rates]
    nothing = dict.fromkeys(key for column in columns(RatedState) for key in (column.key, *column.ends))
    return {
        **head,
        **(rates[0] | row(throats(found.rates[0].state)) if rates else nothing),
        "rates": rates[1:],
        "findings": [row(finding) for finding in found.findings],
        "not_evaluated": [row(missing) for missing in found.not_evaluated],
        "notes": found.notes,
    }


def _shutter(windows: dict[str, ShutterWindow | None], name: str) -> dict[str, Any]:
    window = windows.get(name)
    return {} if window is None else {"shutter_window": row(window)}


# text


def _evidence(burners: list[dict[str, Any]]) -> str:
    """How far the figures go, and which of them were fitted to units of one's own."""
    own = dict.fromkeys(
        f["topic"] for b in burners for f in b["findings"] if f["evidence"] == Evidence.MEASURED
    )
    beside = f"; measured here: {', '.join(own)}" if own else ""
    return f"estimate: ranks settings, decides nothing; test required{beside}"


def _text(result: dict[str, Any], worst: Sequence[tuple[str, str]]) -> str:
    head = facts(
        [
            ("appliance", result["appliance"]),
            ("gas", result["gas"]),
            ("pressure", f"{number(result['gauge_pressure_mbar'] / 10.0)} kPa gauge at the manifold"),
            ("orifices", result["orifices"]),
            *worst,
            ("evidence", _evidence(result["burners"])),
        ]
    )
    rows = []
    for burner in result["burners"]:
        aeration, low, high = (_share(burner[key]) for key in AERATION)
        rows.append(
            (
                burner["name"] + (f" ({burner['count']} off)" if burner["count"] > 1 else ""),
                number(burner["heat_input"]["heat_input_gross_kW"], 3),
                percent(burner["heat_input"]["deviation_percent"] / 100.0, 0),
                aeration if aeration == "-" else f"{aeration} ({low} to {high})",
                number(burner["port_loading_W_per_mm2"], 3),
                number(burner["wall_gradient_per_s"], 3),
                *(_margin(burner[key]) for key in ("lift_margin", "light_back_margin", "yellow_tip_margin")),
                number(burner["inner_cone_height_mm"], 2),
            )
        )
    heads = (
        "burner", "kW gross", "off rating", "primary air %", "W/mm2", "gradient 1/s", "lift", "light-back",
        "yellow tip", "cone mm",
    )  # fmt: skip
    foot = "lift, light-back and yellow tip: margins; the limit lies at 1, and a check may want more."
    return f"{head}\n\n{table(heads, rows)}\n\n{foot}"


def _margin(value: float | None) -> str:
    """A margin so that 0.995 is not read as 1, and a large one only as far away."""
    from burnerlab.report.numbers import margin_text

    return "-" if value is None or math.isnan(value) else margin_text(value)


AERATION = ("primary_aeration_percent", "primary_aeration_low_percent", "primary_aeration_high_percent")


def _share(value_percent: float | None) -> str:
    return "-" if value_percent is None or math.isnan(value_percent) else f"{value_percent:.0f}"


def _lines(burner: dict[str, Any]) -> list[str]:
    lines = [
        f"{found['verdict']} - {found['topic']}: {found['text']}"
        for found in burner["findings"]
        if found["verdict"] != Verdict.WITHIN
    ]
    held = [found["topic"] for found in burner["findings"] if found["verdict"] == Verdict.WITHIN]
    if held:
        lines.append(f"within - {', '.join(held)}")
    by_reason: dict[str, list[str]] = {}
    for missing in burner["not_evaluated"]:
        by_reason.setdefault(missing["why"], []).append(missing["topic"])
    lines += [f"not evaluated - {', '.join(topics)}: {why}" for why, topics in by_reason.items()]
    if "shutter_window" in burner:
        lines.append(burner["shutter_window"]["words"])
    return [*lines, *setting_lines(burner), *burner["notes"]]
