"""``regulator``: rate, air and flame against its setting, outlet against its inlet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from burnerlab.cli.bench_inputs import BUILT_FOR, as_built
from burnerlab.cli.common_inputs import APPLIANCE
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    facts,
    gas_fact,
    kW,
    mbar,
    of_pressure,
    percent,
    print_cautions,
    print_json,
    print_notes,
    print_overfire,
    quantity,
    table,
)
from burnerlab.cli.supply import ON, burners_on
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.quantity_text import QuantityText, quantity_text

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.operation.regulator_curves import (
        BurnerAtSetting,
        InletRow,
        RegulatorCurves,
        SettingRow,
    )
    from burnerlab.appliance.project.basis import RatedBasis
    from burnerlab.gas import DeclaredGas, Gas


@click.command(short_help="Rate, air and flame against the regulator's setting; outlet against its inlet.")
@takes(
    appliance=Group(make=as_built, inputs=(APPLIANCE, *BUILT_FOR)),
    settings=Input(
        name="setting",
        of="train_inlet",
        metavar="P",
        is_many=True,
        help='Set point: "20 psig". Repeatable; in steps over the range of its kind if none.',
    ),
    inlets=Input(
        name="inlet",
        of="train_inlet",
        metavar="P",
        is_many=True,
        help='Inlet pressure: "25 psig". Repeatable; from the least it needs to twice that of FILE if none.',
    ),
    names=ON,
    out=Input(name="out", reader=as_written, metavar="FILE", help="The settings as a new CSV file."),
)
@json_option
def regulator_command(
    appliance: Appliance,
    settings: tuple[float, ...],
    inlets: tuple[float, ...],
    names: str | None,
    out: str | None,
    as_json: bool,
) -> None:
    """Heat input, primary air and flame of every burner of FILE against the setting of its regulator.

    Below it the outlet of the regulator against its inlet. The kind of regulator under [supply.regulator] gives what
    FILE does not; "lp high pressure" is set from 0 to 30 psi. Without a regulator a setting is the pressure at the
    manifold. An orifice that is choked passes gas in proportion to the absolute pressure before it. With --market or
    --plan the orifices are those of that conversion, fixed while the pressure changes.

    \b
    Examples:
      burnerlab regulator range.toml
      burnerlab regulator range.toml --setting "7 inH2O" --setting "9 inH2O" \\
          --on "stock-pot ring"
      burnerlab regulator range.toml --market A --setting "8 inH2O" \\
          --setting "13 inH2O"
      burnerlab regulator range.toml --inlet "8 inH2O" --inlet "14 inH2O" \\
          --out settings.csv --json
    """
    from burnerlab.appliance.operation.regulator_curves import regulator_curves

    on = None if names is None else burners_on(names, appliance)
    found = regulator_curves(appliance, settings_Pa=settings, inlets_Pa=inlets, on=on)
    if out:
        _write_settings(found, out)
    if as_json:
        print_json(found)
        return
    print_overfire(found.warnings)
    click.echo(_curves_text(found, appliance.supply.gas))
    print_notes("Notes", (*_airless(found), *found.notes))
    highest = max(row.setting_gauge_pressure_Pa for row in found.settings)
    print_cautions(appliance.supply.gas, occasions=of_pressure(highest))


def _write_settings(curves: RegulatorCurves, out: str) -> None:
    from pathlib import Path

    from burnerlab.report.formats import rows_csv_text
    from burnerlab.report.write import write_together

    write_together({Path(out): rows_csv_text(curves.setting_rows()).encode()}, overwrite=False)


def _curves_text(curves: RegulatorCurves, gas: Gas | DeclaredGas) -> str:
    set_Pa, stated_Pa = curves.set_point_gauge_pressure_Pa, curves.stated_inlet_gauge_pressure_Pa
    rated = curves.rated
    head = facts(
        [
            ("appliance", curves.appliance),
            ("gas", gas_fact(gas)),
            ("on", ", ".join(curves.on)),
            ("regulator", curves.regulator or ("none in the file" if set_Pa is None else "kind not named")),
            *(
                []
                if set_Pa is None
                else [("set at", quantity(set_Pa, Kind.GAUGE_PRESSURE, "mbar") + " gauge")]
            ),
            *(
                []
                if stated_Pa is None
                else [("inlet in the file", quantity(stated_Pa, Kind.GAUGE_PRESSURE, "mbar") + " gauge")]
            ),
            ("evidence", curves.evidence),
        ]
    )
    each = [
        (mbar(row.setting_gauge_pressure_Pa) if place == 0 else "", burner)
        for row in curves.settings
        for place, burner in enumerate(row.burners)
    ]
    rates = [
        (
            setting,
            b.burner,
            mbar(b.gauge_pressure_Pa),
            kW(b.heat_input_gross_W * rated.of_gross, 3),
            _ends(b.heat_input_low_gross_W, b.heat_input_high_gross_W, rated),
            percent(b.deviation, 0),
        )
        for setting, b in each
    ]
    flames = [
        (setting, b.burner, "choked" if b.choked else "not choked", *_air(b), b.flame or "-")
        for setting, b in each
    ]
    parts = [
        head,
        table(
            ("set, mbar", "burner", "at orifice, mbar", f"kW {rated.word}", "low to high, kW", "off rating"),
            rates,
            2,
        ),
        table(("set, mbar", "burner", "jet", "primary air", "low to high", "flame"), flames, 2),
    ]
    if curves.set_point_gauge_pressure_Pa is not None:
        heads = ("set, mbar", "lock-up, mbar", "inlet it needs, mbar", f"kW {rated.word}, all on")
        parts.append(table(heads, [_whole(row, rated) for row in curves.settings], left_columns=0))
    if curves.inlets:
        parts.append(_inlets_text(curves.inlets, rated))
    return "\n\n".join(parts)


def _airless(curves: RegulatorCurves) -> list[str]:
    """Why primary air was not evaluated, each reason once with its burner and the settings it stands at."""
    settings: dict[tuple[str, str], list[str]] = {}
    for at_setting in curves.settings:
        for burner in at_setting.burners:
            if burner.why_no_air:
                at = quantity(at_setting.setting_gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar")
                settings.setdefault((burner.burner, burner.why_no_air), []).append(at)
    return [
        quantity_text("{}: primary air and flame not evaluated at {}: {}", burner, _listed(at), why)
        for (burner, why), at in settings.items()
    ]


def _listed(parts: Sequence[str]) -> QuantityText:
    return quantity_text(", ".join("{}" for _ in parts), *parts)


def _whole(row: SettingRow, rated: RatedBasis) -> tuple[str, ...]:
    """Lock-up, inlet and heat input of all burners at one setting."""
    above = " above the file's" if row.inlet_suffices is False else ""
    return (
        mbar(row.setting_gauge_pressure_Pa),
        mbar(row.lock_up_gauge_pressure_Pa),
        mbar(row.least_inlet_gauge_pressure_Pa) + above,
        kW(row.total_heat_input_gross_W * rated.of_gross, 3),
    )


def _inlets_text(inlets: Sequence[InletRow], rated: RatedBasis) -> str:
    rows = [
        (
            mbar(row.inlet_gauge_pressure_Pa) + (" low" if row.inlet_suffices is False else ""),
            mbar(row.outlet_gauge_pressure_Pa),
            quantity_text(
                "{} to {}", mbar(row.outlet_gauge_pressure_low_Pa), mbar(row.outlet_gauge_pressure_high_Pa)
            ),
            mbar(row.lock_up_gauge_pressure_Pa),
            quantity_text(
                "{} ({})",
                kW(row.total_heat_input_gross_W * rated.of_gross, 3),
                _ends(row.total_heat_input_low_gross_W, row.total_heat_input_high_gross_W, rated),
            ),
        )
        for row in inlets
    ]
    heads = ("inlet, mbar", "outlet, mbar", "low to high, mbar", "lock-up, mbar", f"kW {rated.word}, all on")
    return table(heads, rows, left_columns=0)


def _ends(low_gross_W: float, high_gross_W: float, rated: RatedBasis) -> str:
    low, high = (kW(gross_W * rated.of_gross, 3) for gross_W in (low_gross_W, high_gross_W))
    return quantity_text("{} to {}", low, high)


def _air(burner: BurnerAtSetting) -> tuple[str, str]:
    air, low, high = burner.primary_aeration, burner.primary_aeration_low, burner.primary_aeration_high
    if air is None or low is None or high is None:
        return "-", "-"
    return f"{100 * air:.0f} %", f"{100 * low:.0f} to {100 * high:.0f} %"
