"""``burnerlab gas``: everything about one gas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import (
    ALTITUDE,
    BAROMETER,
    GAS_ARGUMENT,
    ONE_PLACE,
    REFERENCE,
    ambient_pressure_Pa,
    gas_group,
)
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, print_json, print_notes, provenance_words, table
from burnerlab.cli.takes import option_of, takes
from burnerlab.cli.units import ZERO_C_K
from burnerlab.quantity import Kind, in_unit
from burnerlab.quantity.inputs import Group, Input, as_written, input_row
from burnerlab.quantity.outputs import row
from burnerlab.quantity.show import unit_named
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.cli.gasfacts import FlameSetting
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.quantity import ReferenceState


def _flame(
    aeration: float, air_temperature: float, relative_humidity: float, surroundings: float
) -> FlameSetting:
    from burnerlab.cli.gasfacts import FlameSetting
    from burnerlab.gas.combustion_air import humidity_from_relative

    wet = (
        humidity_from_relative(relative_humidity, air_temperature, surroundings) if relative_humidity else 0.0
    )
    return FlameSetting(
        aeration=aeration,
        air_temperature_K=air_temperature,
        humidity=float(wet),
        pressure_Pa=surroundings,
    )


FLAME = Group(
    make=_flame,
    inputs=(
        Input(
            name="aeration",
            of="burnt_aeration",
            metavar="SHARE",
            default="1",
            help='Air of the flame over stoichiometric air: "0.6", "60 %".',
        ),
        Input(
            name="air_temperature",
            of="flame_air_temperature",
            metavar="T",
            default="25 C",
            help="Of that air.",
        ),
        Input(name="relative_humidity", metavar="SHARE", default="0 %", help="Of that air."),
    ),
    parts={
        "surroundings": Group(
            make=ambient_pressure_Pa,
            inputs=(
                replace(ALTITUDE, help="For flame and dew point."),
                replace(BAROMETER, help="In place of the altitude."),
            ),
            not_both=ONE_PLACE,
        )
    },
)
"""At what the adiabatic flame temperature is stated: ``Flame``."""


@click.command(short_help="Properties of a gas.")
@takes(
    gas=gas_group("NAME", is_optional=True),
    reference=REFERENCE,
    uncertainty=Input(
        name="uncertainty",
        reader=as_written,
        metavar="LIST",
        help='Standard uncertainty of mole fractions: "methane=0.001,ethane=0.0005".',
    ),
    correlated=Input(
        name="correlated",
        is_flag=True,
        help="The fractions were measured independently, then normalised to one.",
    ),
    flame=FLAME,
    listed=Input(name="list", is_flag=True, help="List the gases of the library instead."),
)
@json_option
def gas_command(
    gas: Gas | DeclaredGas | None,
    reference: ReferenceState,
    uncertainty: str | None,
    correlated: bool,
    flame: FlameSetting,
    listed: bool,
    as_json: bool,
) -> None:
    """Heating values, Wobbe index, density, air demand and flame temperature of a gas.

    NAME is a gas of the library, a pure component (propane, H2, i-C4H10), or a TOML file of your own. Real-gas values
    after ISO 6976:2016 at the state of --at, each with its expanded uncertainty (k = 2).

    \b
    Examples:
      burnerlab gas propane
      burnerlab gas G20 --at 25C/0C
      burnerlab gas natural-gas-typical --at 60F --reference-pressure "14.73 psia" --dry
      burnerlab gas --mix "methane=0.9,ethane=0.1" --uncertainty "methane=0.001" --json
      burnerlab gas --mix "propane=60 %, air=40 %" --per volume
      burnerlab gas --heating-value "1037 Btu/ft3 gross at 60F" --relative-density 0.6
    """
    if listed:
        from burnerlab.cli.fuels import print_library

        print_library(as_json)
        return
    gas = _with_uncertainty(gas or GAS_ARGUMENT.read({}, option_of), uncertainty)
    result = _result(gas, reference, correlated, flame)
    if as_json:
        print_json(result)
    else:
        click.echo(_text(result))
        print_notes(
            "Not evaluated", [f"{entry['topic']}: {entry['why']}" for entry in result["not_evaluated"]]
        )
        print_notes("Notes", result["notes"])
        print_cautions(gas)


def _with_uncertainty(gas: Gas | DeclaredGas, text: str | None) -> Gas | DeclaredGas:
    from burnerlab.gas import DeclaredGas

    if text is None:
        return gas
    if isinstance(gas, DeclaredGas):
        raise UserError(
            Problem("a declared gas has no composition to be uncertain about", key="--uncertainty")
        )
    return replace(gas, uncertainty=_fraction_uncertainties(text, gas.composition.names))


def _fraction_uncertainties(text: str, names: Sequence[str]) -> dict[str, float]:
    """Standard uncertainties of mole fractions by component, from a list such as ``methane=0.001, ethane=0.05 %``."""
    from burnerlab.gas.component import canonical_name

    key, uncertainty = "--uncertainty", input_row("fraction_uncertainty")
    found: dict[str, float] = {}
    for part in (part for part in text.replace(";", ",").split(",") if part.strip()):
        name, sign, value = part.partition("=")
        if not sign:
            fix = 'e.g. "methane=0.001, ethane=0.0005"'
            raise UserError(
                Problem("write each as component=uncertainty", value=part.strip(), key=key, fix=fix)
            )
        component = canonical_name(name.strip(), key)
        if component in found:
            raise UserError(Problem(f"{component} given twice", value=text, key=key))
        if component not in names:
            raise UserError(Problem(f"{component} is not in this gas", key=key, accepted=", ".join(names)))
        found[component] = uncertainty.read(value.strip(), f"{key} {component}")
    return found


def _result(
    gas: Gas | DeclaredGas, at: ReferenceState, correlated: bool, flame: FlameSetting
) -> dict[str, Any]:
    from burnerlab.cli import gasfacts
    from burnerlab.gas import DeclaredGas
    from burnerlab.gas.uncertainty import COVERAGE_FACTOR

    if isinstance(gas, DeclaredGas):
        kind, parts, printed = "declared", {}, {}
        values, notes, missing = _declared(gas, at)
    else:
        kind, parts, printed = "composition", gas.composition.as_dict(), dict(gas.printed or {})
        values, notes, missing = _composed(gas, at, correlated, flame)
    codes, foreign = gasfacts.family_codes(gas)
    about = {
        "gas": gas.name,
        "title": gas.title,
        "kind": kind,
        "source": gas.source,
        "provenance": gas.provenance,
        "reference": at.words(),
        "reference_state": row(at),
        "composition_mole_fraction": parts,
        "coverage_factor": COVERAGE_FACTOR,
        "flame_aeration": flame.aeration,
        "flame_air_temperature_C": flame.air_temperature_K - ZERO_C_K,
        "air_humidity_mol_per_mol": flame.humidity,
        "flame_pressure_kPa": flame.pressure_Pa / 1e3,
        "EN_437": [] if foreign else codes,
        "EN_437_by_wobbe_index_alone": codes,
        "EN_437_not_of_the_family": foreign or None,
    }
    headlines = {key: values.get(key) for key in gasfacts.HEADLINES}
    twins = {f"{key}_uncertainty_percent": None for key in headlines if not key.endswith("_C")}
    twins["adiabatic_flame_temperature_uncertainty_percent"] = None  # of the absolute temperature
    extra = {"printed_by_source": printed} if printed else {}
    notes = [*notes, *([gas.note] if gas.note else [])]
    return {**about, **headlines, **twins, **values, **extra, "not_evaluated": missing, "notes": notes}


def _composed(
    gas: Gas, at: ReferenceState, correlated: bool, flame: FlameSetting
) -> tuple[dict[str, Any], list[str], list[dict[str, str]]]:
    from burnerlab.cli import gasfacts
    from burnerlab.gas import properties

    found = properties(gas, at)
    values = row(found) | gasfacts.air_values(gas, found, flame)
    notes = [*found.notes, *values.pop("air_notes")]
    missing = []
    burning: FlameSetting | None = flame
    try:
        temperature = gasfacts.flame_temperatures_K(gas.composition.names, gas.composition.fractions, flame)
        values["adiabatic_flame_temperature_C"] = float(temperature) - ZERO_C_K
    except UserError as error:
        burning = None
        missing.append({"topic": "adiabatic flame temperature", "why": str(error)})
    values |= gasfacts.uncertainties(gas, at, correlated, burning)
    notes += [gasfacts.BEHIND_FLAME] if gas.uncertainty else [gasfacts.FROM_TABLES, gasfacts.BEHIND_FLAME]
    return values, notes, missing


def _declared(gas: DeclaredGas, at: ReferenceState) -> tuple[dict[str, Any], list[str], list[dict[str, str]]]:
    from burnerlab.cli import gasfacts

    found = gas.properties(at)
    values = row(found)
    gross, ratio = gas.heating_value_J_per_kg("gross") / gasfacts.MJ, gas.net_to_gross()
    values |= {"gross_heating_value_MJ_per_kg": gross}
    values |= {"net_heating_value_MJ_per_kg": None if ratio is None else gross * ratio}
    topics = (
        "compression factor",
        "molar mass",
        "stoichiometric air",
        "ultimate CO2",
        "adiabatic flame temperature",
    )
    missing = [{"topic": topic, "why": gasfacts.NEEDS_COMPOSITION} for topic in topics]
    missing.append({"topic": "uncertainty", "why": "none is declared with the heating value"})
    if found.net_heating_value_J_per_m3 is None:
        missing.append({"topic": "net values", "why": "no net heating value or family is declared"})
    return values | {"ideal_gas_basis": found.ideal}, list(found.notes), missing


VOLUME, MASS = Kind.HEATING_VALUE_VOLUME, Kind.HEATING_VALUE_MASS
ROWS: tuple[tuple[str, str, str, Kind | None, str], ...] = (
    ("gross heating value", "gross_heating_value_MJ_per_m3", "MJ/m3", VOLUME, "Btu/ft3"),
    ("net heating value", "net_heating_value_MJ_per_m3", "MJ/m3", VOLUME, "Btu/ft3"),
    ("gross heating value", "gross_heating_value_MJ_per_kg", "MJ/kg", MASS, "Btu/lb"),
    ("net heating value", "net_heating_value_MJ_per_kg", "MJ/kg", MASS, "Btu/lb"),
    ("gross Wobbe index", "gross_wobbe_MJ_per_m3", "MJ/m3", VOLUME, "Btu/ft3"),
    ("net Wobbe index", "net_wobbe_MJ_per_m3", "MJ/m3", VOLUME, "Btu/ft3"),
    ("relative density", "relative_density", "", None, ""),
    ("density", "density_kg_per_m3", "kg/m3", Kind.DENSITY, "lb/ft3"),
    ("compression factor", "compression_factor", "", None, ""),
    ("molar mass", "molar_mass_kg_per_kmol", "kg/kmol", None, ""),
    ("stoichiometric air, volumes", "stoichiometric_air_m3_per_m3", "m3/m3", None, ""),
    ("stoichiometric air, moles", "stoichiometric_air_mol_per_mol", "mol/mol", None, ""),
    ("ultimate CO2, dry", "ultimate_CO2_percent", "%", None, ""),
    ("dew point of the products", "dew_point_C", "C", None, ""),
)
"""Name, key, unit; kind and unit of the US figure, where there is one."""


def _family(result: dict[str, Any]) -> str:
    """The families by Wobbe index; first that the gas is none of them, where its composition says so."""
    codes = ", ".join(result["EN_437_by_wobbe_index_alone"])
    if foreign := result["EN_437_not_of_the_family"]:
        return f"{foreign[0].upper()}{foreign[1:]}. Only its Wobbe index is in the range of {codes}."
    return f"{codes or 'outside all families'}, by Wobbe index alone"


def _converted(value: float, kind: Kind, unit: str, other: str) -> float:
    return float(in_unit(value * unit_named(unit, kind).scale.factor, kind, other))


def _percent(value: float | None) -> str:
    return "" if value is None else f"{value:.2g} %"


def _text(result: dict[str, Any]) -> str:
    parts = result["composition_mole_fraction"]
    listed = ", ".join(f"{name} {100 * x:.4g} %" for name, x in parts.items()) or "not known (declared gas)"
    head = facts(
        [
            ("gas", f"{result['title']} ({result['gas']})"),
            ("mole fractions", listed),
            ("reference", f"{result['reference']} (combustion / metering)"),
            ("EN 437", _family(result)),
            ("source", f"{result['source']} ({provenance_words(result['provenance'])})"),
        ]
    )
    rows = []
    for name, key, unit, kind, us_unit in ROWS:
        value, u = result.get(key), result.get(f"{key}_uncertainty_percent")
        if value is None:
            continue
        us = "" if kind is None else number(_converted(value, kind, unit, us_unit), 5)
        rows.append((name, number(value, 5), unit, us, us_unit, _percent(u)))
    if (flame_C := result["adiabatic_flame_temperature_C"]) is not None:
        u = result.get("adiabatic_flame_temperature_uncertainty_percent")
        flame = number(flame_C + ZERO_C_K, 5)
        rows.append(("adiabatic flame temperature", flame, "K", "", "", _percent(u)))
    heads = ("", "value", "", "US", "", f"+- (k = {result['coverage_factor']:g})")
    text = f"{head}\n\n{table(heads, rows)}"
    if flame_C is not None:
        share, temperature = 100 * result["flame_aeration"], result["flame_air_temperature_C"]
        humid = "" if result["air_humidity_mol_per_mol"] else "dry "
        air = f"{share:.3g} % of the stoichiometric {humid}air, at {temperature:.4g} C"
        text += f"\nFlame in {air}; gas at 25 C, {number(result['flame_pressure_kPa'])} kPa."
    return text
