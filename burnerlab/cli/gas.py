"""``gas`` and ``fuels``: properties of a gas, and the gases of the library."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import (
    ALTITUDE,
    BAROMETER,
    GAS_ARGUMENT,
    ONE_PLACE,
    REFERENCE,
    ambient_pressure_Pa,
    gas_group,
)
from burnerlab.cli.options import json_option, option_of, takes
from burnerlab.cli.output import (
    ZERO_C_K,
    facts,
    number,
    print_cautions,
    print_json,
    print_notes,
    provenance_words,
    table,
)
from burnerlab.quantity import PRESETS, Kind, ReferenceState, in_unit
from burnerlab.quantity.inputs import Group, Input, as_written, input_row
from burnerlab.quantity.outputs import columns, row
from burnerlab.quantity.show import unit_named
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.gas import Composition, DeclaredGas, Gas, GasProperties

# The figures of ``burnerlab gas``, gathered from the rooms that compute them.

MJ = 1e6
HEADLINES = (
    "gross_wobbe_MJ_per_m3",
    "net_wobbe_MJ_per_m3",
    "gross_heating_value_MJ_per_m3",
    "net_heating_value_MJ_per_m3",
    "relative_density",
    "density_kg_per_m3",
    "compression_factor",
    "molar_mass_kg_per_kmol",
    "stoichiometric_air_m3_per_m3",
    "ultimate_CO2_percent",
    "adiabatic_flame_temperature_C",
)
"""What is shown first; each has a twin ``KEY_uncertainty_percent``."""
NEEDS_COMPOSITION = "needs a composition; this gas is known by heating value and relative density only"
OXYGEN_ROUNDING = 0.00005 / 0.2095 / 3**0.5  # air is taken as 20.95 % oxygen, printed to 0.01 %: rectangular
FLAME_DATA_K = (
    1.1  # largest gap of ours to the hydrocarbons of the published table at 25 C (flame checks of shared/)
)
FROM_TABLES = (
    "No uncertainty of the composition was given: what is stated comes from the property data alone."
)
BEHIND_FLAME = (
    "Uncertainty of CO2 counts the rounding of the oxygen in air; that of the flame temperature counts 1.1 K for the "
    "data behind it. Neither speaks of heat lost by a real flame."
)
Values = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameSetting:
    """At what flame temperature and products are asked for; the gas is at 25 C."""

    air_temperature_K: float
    aeration: float  # air over stoichiometric air [-]
    humidity: float  # water in the air [mol/mol dry air]
    pressure_Pa: float


def family_codes(gas: Gas | DeclaredGas) -> tuple[list[str], str]:
    """EN 437 families and groups by the gross Wobbe index at 15 C / 15 C, 101.325 kPa, dry, and why it is none."""
    from burnerlab.gas import DeclaredGas, properties
    from burnerlab.gas.gas_family import groups_of_gas, not_of_family

    base = PRESETS["ISO_15_15"]
    at_base = gas.properties(base) if isinstance(gas, DeclaredGas) else properties(gas, base)
    fractions = {} if isinstance(gas, DeclaredGas) else gas.composition.as_dict()
    groups = groups_of_gas(at_base.gross_wobbe_J_per_m3, fractions)
    return [group.code for group in groups], not_of_family(groups[0].family, fractions) if groups else ""


def air_values(gas: Gas, properties: GasProperties, flame: FlameSetting) -> Values:
    """Air demand, by real volumes at the reference state of ``properties`` and by moles, and complete combustion."""
    from burnerlab.appliance.conversion.gas_facts import air_volumes
    from burnerlab.gas.combustion_air import combustion_air

    air = combustion_air(gas, humidity=flame.humidity, pressure_Pa=flame.pressure_Pa)
    return {
        "stoichiometric_air_m3_per_m3": air_volumes(
            air,
            properties.gross_heating_value_J_per_m3 / properties.gross_heating_value_J_per_kg,
            properties.density_kg_per_m3 / properties.relative_density,
        ),
        "stoichiometric_air_mol_per_mol": air.stoichiometric_air,
        "stoichiometric_air_kg_per_kg": air.stoichiometric_air_kg_per_kg,
        "dry_products_mol_per_mol": air.dry_products,
        "wet_products_mol_per_mol": air.wet_products,
        "ultimate_CO2_percent": 100.0 * air.ultimate_CO2,
        "dew_point_C": None if air.dew_point_K is None else air.dew_point_K - ZERO_C_K,
        "air_notes": air.notes,
    }


def flame_temperatures_K(names: Sequence[str], fractions: Any, flame: FlameSetting) -> Any:
    """Adiabatic flame temperature of many compositions at one aeration."""
    from burnerlab.flame.equilibrium import flame_arrays

    return flame_arrays(
        names,
        fractions,
        1.0 / flame.aeration,
        air_temperature_K=flame.air_temperature_K,
        pressure_Pa=flame.pressure_Pa,
        humidity=flame.humidity,
    ).temperature_K


def from_fractions(
    function: Callable[[Sequence[str], Any], Any],
    composition: Composition,
    u: Mapping[str, float],
    correlation: Any = None,
) -> float:
    """Relative standard uncertainty [-] that the mole fractions bring into a figure that depends on their ratios only.

    Each fraction is moved by its uncertainty in turn; u^2 = g C g with g the changes and C the correlation (GUM, first
    order). Zero for a figure that is zero.

    >>> from burnerlab.gas import Composition
    >>> from burnerlab.gas.combustion_air import ultimate_CO2
    >>> gas = Composition.of({"methane": 0.9, "nitrogen": 0.1}, per="mole")
    >>> from_fractions(ultimate_CO2, gas, {"nitrogen": 0.01})
    0.0013
    """

    import numpy as np

    x = np.array(composition.fractions)
    steps = np.diag([u.get(name, 0.0) for name in composition.names])
    moved = np.vstack([x, x + steps])
    values = np.asarray(function(composition.names, moved / moved.sum(axis=1, keepdims=True)), dtype=float)
    if values[0] == 0.0:
        return 0.0
    changes = values[1:] / values[0] - 1.0
    return float(np.sqrt(changes @ (np.eye(len(x)) if correlation is None else correlation) @ changes))


def uncertainties(
    gas: Gas, reference: ReferenceState, correlated: bool, flame: FlameSetting | None
) -> Values:
    """Expanded relative uncertainty [%] of every figure by its printed key.

    correlated : the mole fractions were measured independently and then normalised; else they count as independent,
        which overestimates. flame : None leaves the flame temperature out.
    """

    import numpy as np

    from burnerlab.gas import GasProperties
    from burnerlab.gas.combustion_air import ultimate_CO2
    from burnerlab.gas.properties import COVERAGE_FACTOR, normalised_correlation, relative_uncertainties

    composition, u = gas.composition, gas.uncertainty or {}
    correlation = normalised_correlation(composition, u) if correlated and u else None
    relative = relative_uncertainties(composition, reference, u, correlation)
    keys = {column.name: column.key for column in columns(GasProperties)}
    keys["molar_mass_kg_per_mol"] = keys["molar_mass_kg_per_kmol"]
    found = {keys.get(name, name): value for name, value in relative.items()}
    carbon = from_fractions(ultimate_CO2, composition, u, correlation)
    burns_to_CO2 = float(ultimate_CO2(composition.names, composition.fractions)) > 0.0
    found["ultimate_CO2_percent"] = float(np.hypot(carbon, OXYGEN_ROUNDING)) if burns_to_CO2 else 0.0
    if flame is not None:
        at = flame
        data = FLAME_DATA_K / float(flame_temperatures_K(composition.names, composition.fractions, at))
        moved = from_fractions(
            lambda names, fractions: flame_temperatures_K(names, fractions, at), composition, u, correlation
        )
        found["adiabatic_flame_temperature"] = float(np.hypot(moved, data))
    return {f"{key}_uncertainty_percent": 100.0 * COVERAGE_FACTOR * value for key, value in found.items()}


# ``burnerlab fuels``: the gases of the library.


def print_library(as_json: bool) -> None:
    """The library as a table, or as JSON: declared gases carry a heating value at a reference of their own."""
    from burnerlab.gas import fuels, load

    gases = [load(name) for name in fuels()]
    if as_json:
        print_json({"count": len(gases), "fuels": [row(gas) for gas in gases]})
        return
    heads = ("name", "given as", "gas")
    click.echo(table(heads, [(gas.name, gas.kind, gas.title) for gas in gases], left_columns=3))
    click.echo(f"\n{len(gases)} gases; burnerlab gas NAME shows one.")
    print_cautions()


@click.command(short_help="List the gases of the library.")
@json_option
def fuels_command(as_json: bool) -> None:
    """List the gases of the library.

    "composition" gases have a full analysis; "declared" gases have only a heating value and a relative density,
    as on a bill or a rating plate, so air demand and flame are not evaluated for them.

    \b
    Examples:
      burnerlab fuels
      burnerlab fuels --json
    """
    print_library(as_json)


# ``burnerlab gas``: everything about one gas.


def _flame(
    aeration: float, air_temperature: float, relative_humidity: float, surroundings: float
) -> FlameSetting:
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
    from burnerlab.gas import DeclaredGas
    from burnerlab.gas.properties import COVERAGE_FACTOR

    if isinstance(gas, DeclaredGas):
        kind, parts, printed = "declared", {}, {}
        values, notes, missing = _declared(gas, at)
    else:
        kind, parts, printed = "composition", gas.composition.as_dict(), dict(gas.printed or {})
        values, notes, missing = _composed(gas, at, correlated, flame)
    codes, foreign = family_codes(gas)
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
    headlines = {key: values.get(key) for key in HEADLINES}
    twins = {f"{key}_uncertainty_percent": None for key in headlines if not key.endswith("_C")}
    twins["adiabatic_flame_temperature_uncertainty_percent"] = None  # of the absolute temperature
    extra = {"printed_by_source": printed} if printed else {}
    notes = [*notes, *([gas.note] if gas.note else [])]
    return {**about, **headlines, **twins, **values, **extra, "not_evaluated": missing, "notes": notes}


def _composed(
    gas: Gas, at: ReferenceState, correlated: bool, flame: FlameSetting
) -> tuple[dict[str, Any], list[str], list[dict[str, str]]]:
    from burnerlab.gas import properties

    found = properties(gas, at)
    values = row(found) | air_values(gas, found, flame)
    notes = [*found.notes, *values.pop("air_notes")]
    missing = []
    burning: FlameSetting | None = flame
    try:
        temperature = flame_temperatures_K(gas.composition.names, gas.composition.fractions, flame)
        values["adiabatic_flame_temperature_C"] = float(temperature) - ZERO_C_K
    except UserError as error:
        burning = None
        missing.append({"topic": "adiabatic flame temperature", "why": str(error)})
    values |= uncertainties(gas, at, correlated, burning)
    notes += [BEHIND_FLAME] if gas.uncertainty else [FROM_TABLES, BEHIND_FLAME]
    return values, notes, missing


def _declared(gas: DeclaredGas, at: ReferenceState) -> tuple[dict[str, Any], list[str], list[dict[str, str]]]:

    found = gas.properties(at)
    values = row(found)
    gross, ratio = gas.heating_value_J_per_kg("gross") / MJ, gas.net_to_gross()
    values |= {"gross_heating_value_MJ_per_kg": gross}
    values |= {"net_heating_value_MJ_per_kg": None if ratio is None else gross * ratio}
    topics = (
        "compression factor",
        "molar mass",
        "stoichiometric air",
        "ultimate CO2",
        "adiabatic flame temperature",
    )
    missing = [{"topic": topic, "why": NEEDS_COMPOSITION} for topic in topics]
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


def _converted(value: float, kind: Kind, unit: str, target: str) -> float:
    return float(in_unit(value * unit_named(unit, kind).scale.factor, kind, target))


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
