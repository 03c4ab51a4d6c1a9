"""``burnerlab injectors``: the injector table of a manual."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import ALTITUDE, APPLIANCE, read_drill_names, read_gas_at, read_policy
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, percent, print_json, print_notes, table
from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.injectors import InjectorTable, Supplied

DEFAULT_CATEGORY, DEFAULT_COUNTRY = (
    "II2H3+",
    "GB",
)  # the commonest pair of families at its commonest pressures
OF_REGION = {"us": ("", "US"), "eu": (DEFAULT_CATEGORY, "IT")}  # category and country of a file's region


def _supply(text: Any, key: str) -> Supplied:
    """One gas at its pressure."""
    from burnerlab.appliance.injectors import supplied

    at = read_gas_at(text, key)
    return supplied(at.gas, at.gauge_pressure_Pa, f"{at.gas.name} {at.pressure}")


def _cases(
    supply: tuple[Supplied, ...], category: Sequence[str], country: Sequence[str]
) -> tuple[Supplied, ...]:
    from burnerlab.appliance.injectors import category_supplies, country_supplies

    found = list(supply)
    for each in category:
        found += category_supplies(each, country)
    if country and not category:
        found += country_supplies(*country)
    if category and not found:
        fix = "leave out --country, or name another category"
        what = "no gas of this category is supplied there, as far as the table knows"
        raise UserError(Problem(what, value=", ".join(category), key="--category", fix=fix))
    return tuple(found)


SUPPLIES = Group(
    make=_cases,
    inputs=(
        Input(
            name="supply", reader=_supply, metavar="GAS@P", is_many=True, help='"G31@37 mbar". Repeatable.'
        ),
        Input(
            name="category",
            reader=as_written,
            metavar="NAME",
            is_many=True,
            help='Of the appliance: "II2H3B/P". Repeatable.',
        ),
        Input(
            name="country",
            reader=as_written,
            metavar="CODE",
            is_many=True,
            help="Two-letter code or name. Repeatable.",
        ),
    ),
)
"""Gases at their pressures, by name or by category and country: ``Supplied``."""


@click.command(short_help="Injector table of an appliance.")
@takes(
    file=APPLIANCE,
    cases=SUPPLIES,
    altitudes=replace(ALTITUDE, is_many=True, help='"1500 m". Repeatable. That of FILE if none.'),
    policy=Input(name="policy", reader=read_policy, metavar="NAME", help="Altitude policy for the rating."),
    drills=Input(
        name="drills",
        reader=read_drill_names,
        metavar="LISTS",
        help="For the nearest drill beside the injector mark.",
    ),
)
@json_option
def injectors_command(
    file: Appliance,
    cases: tuple[Supplied, ...],
    altitudes: tuple[float, ...],
    policy: str | None,
    drills: tuple[str, ...] | None,
    as_json: bool,
) -> None:
    """Injector of every burner of FILE for each gas, pressure and altitude, with its heat input and consumption.

    The mark is the bore in hundredths of a millimetre, rounded; heat inputs are those of a bore of exactly that mark.
    Without --supply, --category or --country: the present gas of FILE, and category II2H3+ as in GB (region eu: as in
    IT; region us: natural gas and LP as in US). Both gases of a pressure couple get one injector.

    \b
    Examples:
      burnerlab injectors range.toml
      burnerlab injectors range.toml --country DE --country IT
      burnerlab injectors range.toml --category II2H3B/P --altitude "0 m" --altitude "1500 m"
      burnerlab injectors range.toml --supply "propane@11 inH2O" --supply "butane-n@11 inH2O" --json
    """
    from burnerlab.appliance.injectors import injectors

    cases = cases or _usual(file)
    found = injectors(file, cases, altitudes, drills=drills, altitude_policy=policy)
    if as_json:
        print_json(found)
    else:
        click.echo(_text(found))
        print_notes("Sources of the pressures", found.sources)
        print_cautions(file.supply.gas, *(case.gas for case in cases))


def _usual(appliance: Appliance) -> tuple[Supplied, ...]:
    from burnerlab.appliance.injectors import category_supplies, country_supplies, supplied

    present = supplied(appliance.supply.gas, appliance.supply.gauge_pressure_Pa)
    category, country = OF_REGION.get(appliance.region, (DEFAULT_CATEGORY, DEFAULT_COUNTRY))
    others = category_supplies(category, [country]) if category else country_supplies(country)
    return others if any(_is_same(present, case) for case in others) else (present, *others)


def _is_same(present: Supplied, case: Supplied) -> bool:
    """Whether a row of the category has the gas of the file, at its pressure and sized on it: it stands there once."""
    from burnerlab.appliance.pressures import couple_of, same_pressure
    from burnerlab.gas import Gas

    same_gas = present.gas.name == case.gas.name or (
        isinstance(present.gas, Gas)
        and isinstance(case.gas, Gas)
        and present.gas.composition == case.gas.composition
    )
    couple = couple_of(case.supply)
    sized_on_it = couple is None or couple.reference == case.supply
    return same_gas and sized_on_it and same_pressure(present.gauge_pressure_Pa, case.gauge_pressure_Pa)


def _text(found: InjectorTable) -> str:
    rows = []
    for row in found.rows:
        amount, unit = row.consumption
        burner = row.burner + (f" ({row.count} off)" if row.count > 1 else "")
        gross, net = number(row.heat_input_gross_W / 1e3, 3), number(row.heat_input_net_W / 1e3, 3)
        drill, off = f"{row.drill} {percent(row.drill_deviation)}", percent(row.deviation)
        used = f"{number(amount, 3)} {unit}"
        rows.append(
            (
                row.supply,
                f"{row.altitude_m:.0f} m",
                burner,
                str(row.injector_mark),
                gross,
                net,
                off,
                used,
                drill,
            )
        )
    heads = (
        "supply",
        "altitude",
        "burner",
        "mark",
        "kW gross",
        "kW net",
        "off aim" if found.altitude_policies else "off rating",
        "consumption",
        "nearest drill",
    )
    head = facts(
        [
            ("appliance", f"{found.appliance}, rated {found.rating_basis}"),
            ("volumes at", found.reference),
            ("altitude policy", found.altitude_policy or "not chosen"),
        ]
    )
    legend = "Mark: bore in 1/100 mm. Figures are for one burner of the kind."
    return "\n\n".join([head, table(heads, rows, left=3), legend, *_couples(found), *_altitudes(found)])


def _couples(found: InjectorTable) -> list[str]:
    """Which rows share an injector, and that none is enlarged."""
    named = dict.fromkeys((row.pressure_couple, row.sized_on) for row in found.rows if row.pressure_couple)
    if not named:
        return []
    listed = "; ".join(f"{couple} mbar sized on {gas}" for couple, gas in named)
    text = f"Pressure couples: one injector for both gases, {listed} (reference gas recalled)."
    return [f"{text}\nThe heat input of the other gas is what it then gives. No injector is enlarged for it."]


def _altitudes(found: InjectorTable) -> list[str]:
    """What altitude does to the marks: enlarged by the policy chosen, or a line for each policy to choose from."""
    from burnerlab.orifice.altitude import height_words
    from burnerlab.report.altitude import CHOOSE, SEA_LEVEL

    if not found.altitude_policies:
        return []
    rows = [
        (
            row.supply,
            height_words(row.altitude_m),
            row.policy or SEA_LEVEL,
            "-" if row.rating_factor is None else f"{100 * row.rating_factor:.1f} %",
            ", ".join(map(str, row.injector_marks)) or row.why_none,
        )
        for row in found.altitude_policies
    ]
    heads = ("supply", "altitude", "policy", "of the rating", "marks, burners in the order of the file")
    if found.altitude_policy is not None:
        return [
            f"Altitude, policy {found.altitude_policy}: marks above are those of the policy; beside the ones "
            f"for sea level:\n{table(heads, rows, left=5)}"
        ]
    head = "Altitude: no policy is chosen. No bore above is enlarged: each is the one for sea level."
    return [f"{head}\n{table(heads, rows, left=5)}", CHOOSE]
