"""``gas`` and ``fuels``: properties of a gas, and the gases of the library."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from burnerlab.cli.common_inputs import ALTITUDE, BAROMETER, ONE_PLACE, REFERENCE, ambient_pressure_Pa
from burnerlab.cli.gas_inputs import GAS_ARGUMENT, gas_group
from burnerlab.cli.options import json_option, option_of, takes
from burnerlab.cli.output import (
    amount,
    facts,
    for_reader,
    number,
    print_cautions,
    print_json,
    print_notes,
    provenance_words,
    reader_system,
    table,
    temperature,
    title_and_name,
    wrapped,
)
from burnerlab.cli.tables import LIBRARY, OURS, library_row, of_libraries, print_refused, refused_rows
from burnerlab.cli.verbosity import print_hint
from burnerlab.quantity import PRESETS, Kind, ReferenceState, in_unit
from burnerlab.quantity.inputs import Group, Input, as_written, input_row
from burnerlab.quantity.outputs import Column, columns, output, row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.gas import Composition, DeclaredGas, Gas, GasProperties
    from burnerlab.gas.combustion_air import CombustionAir
    from burnerlab.gas.gas import DeclaredProperties

# The figures of ``burnerlab gas``, gathered from the rooms that compute them.

NEEDS_COMPOSITION = "needs a composition; this gas is known by heating value and relative density only"
OXYGEN_ROUNDING = 0.00005 / 0.2095 / 3**0.5  # air is taken as 20.95 % oxygen, printed to 0.01 %: rectangular
FLAME_DATA_K = (
    1.1  # largest gap of ours to the hydrocarbons of the published table at 25 C (flame checks of shared/)
)
FROM_TABLES = "The composition has no uncertainty: what is stated comes from the property data alone."
BEHIND_FLAME = (
    "Uncertainty of CO2 counts the rounding of the oxygen in air; that of the flame temperature counts 1.1 K for the "
    "data behind it. Neither speaks of heat lost by a real flame."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameSetting:
    """At what flame temperature and products are asked for; the gas is at 25 C."""

    flame_aeration: float = field(metadata=output("air over stoichiometric air"))
    flame_air_temperature_K: float = field(metadata=output("air of the flame", Kind.TEMPERATURE))
    air_humidity_mol_per_mol: float = field(metadata=output("water in the air", unit="mol/mol"))  # of dry air
    flame_pressure_Pa: float = field(metadata=output("pressure of the flame", Kind.ABSOLUTE_PRESSURE))


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """What was not computed, and why."""

    topic: str = field(metadata=output("topic"))
    why: str = field(metadata=output("why"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameFigures:
    """What a gas needs the other rooms for: air by real volumes, and the adiabatic flame."""

    stoichiometric_air_m3_per_m3: float = field(metadata=output("stoichiometric air, volumes", unit="m3/m3"))
    adiabatic_flame_temperature_K: float | None = field(
        metadata=output("adiabatic flame temperature", Kind.TEMPERATURE)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class GasAnswer:
    """Everything about one gas, gathered from the rooms that compute it."""

    gas: str = field(metadata=output("name"))
    title: str = field(metadata=output("gas"))
    kind: str = field(metadata=output("from"))
    source: str = field(metadata=output("source"))
    provenance: str = field(metadata=output("provenance"))
    reference: str = field(metadata=output("reference"))
    reference_state: ReferenceState = field(metadata=output("reference state"))
    composition_mole_fraction: Mapping[str, float] = field(metadata=output("mole fractions"))
    setting: FlameSetting = field(metadata=output("flame", is_part=True))
    EN_437: Sequence[str] = field(metadata=output("EN 437"))
    EN_437_by_wobbe_index_alone: Sequence[str] = field(metadata=output("EN 437 by Wobbe index alone"))
    EN_437_not_of_the_family: str = field(metadata=output("not of the family"))
    coverage_factor: float = field(metadata=output("coverage factor"))
    not_evaluated: Sequence[Gap] = field(metadata=output("not evaluated"))
    notes: Sequence[str] = field(metadata=output("notes"))
    parts: tuple[GasProperties | DeclaredProperties | CombustionAir | FlameFigures, ...]
    uncertainty: Mapping[str, float]  # relative standard uncertainty (k = 1) by name of the figure
    printed: Mapping[str, float | str]  # by the source of the gas

    def columns(self) -> Iterator[tuple[Column, Any]]:
        """Each figure, with the part that holds it; None for one that needs a composition."""
        from burnerlab.gas import GasProperties
        from burnerlab.gas.combustion_air import CombustionAir

        parts = {type(part): part for part in self.parts}
        for cls in dict.fromkeys((*parts, GasProperties, CombustionAir, FlameFigures)):
            yield from ((column, parts.get(cls)) for column in columns(cls))

    def document(self) -> dict[str, Any]:
        """Its figures by key, each with its uncertainty; null where there is none."""
        from burnerlab.gas.properties import POWERS

        uncertain_names = {*POWERS, *FROM_ELSEWHERE}
        figures: dict[str, Any] = dict.fromkeys(column.key for column, _ in self.columns())
        for part in self.parts:
            figures |= row(part)
        uncertain = {
            f"{column.key.removesuffix('_C')}_uncertainty_percent": self.expanded_percent(column)
            for column, _ in self.columns()
            if column.name in uncertain_names
        }
        extra = {"printed_by_source": self.printed} if self.printed else {}
        head = row(self)
        return (
            head | figures | head | uncertain | extra
        )  # its own keys first, and its values where a part has none

    def expanded_percent(self, column: Column) -> float | None:
        """Expanded uncertainty of a figure [% of its value], of a temperature that of the absolute one."""
        u = self.uncertainty.get(column.name)
        return None if u is None else 100.0 * self.coverage_factor * u


def family_codes(gas: Gas | DeclaredGas) -> tuple[list[str], str]:
    """EN 437 families and groups by the gross Wobbe index at 15 C / 15 C, 101.325 kPa, dry, and why it is none."""
    from burnerlab.gas import DeclaredGas, properties
    from burnerlab.gas.gas_family import groups_of_gas, national_groups_of, not_of_family

    base = PRESETS["ISO_15_15"]
    at_base = gas.properties(base) if isinstance(gas, DeclaredGas) else properties(gas, base)
    fractions = {} if isinstance(gas, DeclaredGas) else gas.composition.as_dict()
    wobbe = at_base.gross_wobbe_J_per_m3
    groups = groups_of_gas(wobbe, fractions) or national_groups_of(wobbe)
    return [group.code for group in groups], not_of_family(groups[0].family, fractions) if groups else ""


def flame_figures(
    gas: Gas, properties: GasProperties, air: CombustionAir, setting: FlameSetting
) -> tuple[FlameFigures, str]:
    """Air by real volumes at the reference state of ``properties`` and the flame, or why there is none."""
    from burnerlab.appliance.conversion.gas_facts import air_volumes

    temperature, why = None, ""
    try:
        temperature = float(flame_temperatures_K(gas.composition.names, gas.composition.fractions, setting))
    except UserError as error:
        why = str(error)
    volumes = air_volumes(
        air,
        properties.gross_heating_value_J_per_m3 / properties.gross_heating_value_J_per_kg,
        properties.density_kg_per_m3 / properties.relative_density,
    )
    figures = FlameFigures(stoichiometric_air_m3_per_m3=volumes, adiabatic_flame_temperature_K=temperature)
    return figures, why


def flame_temperatures_K(names: Sequence[str], fractions: Any, flame: FlameSetting) -> Any:
    """Adiabatic flame temperature of many compositions at one aeration."""
    from burnerlab.flame.equilibrium import flame_arrays

    return flame_arrays(
        names,
        fractions,
        1.0 / flame.flame_aeration,
        air_temperature_K=flame.flame_air_temperature_K,
        pressure_Pa=flame.flame_pressure_Pa,
        humidity=flame.air_humidity_mol_per_mol,
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
) -> dict[str, float]:
    """Relative standard uncertainty [-] of every figure by its name.

    correlated : the mole fractions were measured independently and then normalised; else they count as independent,
        which overestimates. flame : None leaves the flame temperature out.
    """

    import numpy as np

    from burnerlab.gas.combustion_air import ultimate_CO2
    from burnerlab.gas.properties import normalised_correlation, relative_uncertainties

    composition, u = gas.composition, gas.uncertainty or {}
    correlation = normalised_correlation(composition, u) if correlated and u else None
    relative = relative_uncertainties(composition, reference, u, correlation)
    carbon = from_fractions(ultimate_CO2, composition, u, correlation)
    burns_to_CO2 = float(ultimate_CO2(composition.names, composition.fractions)) > 0.0
    more = {MOLAR_MASS: relative["molar_mass_kg_per_mol"]}
    more["ultimate_CO2"] = float(np.hypot(carbon, OXYGEN_ROUNDING)) if burns_to_CO2 else 0.0
    if flame is not None:
        at = flame
        data = FLAME_DATA_K / float(flame_temperatures_K(composition.names, composition.fractions, at))
        moved = from_fractions(
            lambda names, fractions: flame_temperatures_K(names, fractions, at), composition, u, correlation
        )
        more[FLAME_TEMPERATURE] = float(np.hypot(moved, data))
    return relative | more


# ``burnerlab fuels``: the gases of the library.


def print_library(as_json: bool, folders: Sequence[str] = ()) -> int:
    """Gases of ours and of others, as tables or as JSON; declared gases have a heating value at their own reference."""
    from burnerlab.gas import fuels, load
    from burnerlab.gas.library import gases_of

    gases = [load(name) for name in fuels()]
    others, refused = of_libraries(folders, gases_of)
    if as_json:
        listed = [(library.name, gas) for library, theirs in others for gas in theirs]
        listed += [(OURS, gas) for gas in gases]
        rows = [{**row(gas), "library": name} for name, gas in listed]
        answer = {"count": len(rows), "fuels": rows, "libraries": [library_row(one) for one, _ in others]}
        print_json(answer | {"libraries_refused": refused_rows(refused)})
        return print_refused(refused)
    heads = ("name", "kind", "gas")
    for library, theirs in others:  # before ours, which fill a screen
        click.echo(f"{library.name}: {library.origin}; source: {library.source}")
        click.echo(table(heads, [(gas.name, gas.kind, gas.title) for gas in theirs], left_columns=3) + "\n")
    click.echo(table(heads, [(gas.name, gas.kind, gas.title) for gas in gases], left_columns=3))
    print_hint(f"\n{len(gases)} gases; burnerlab gas NAME shows one.")
    print_cautions()
    return print_refused(refused)


@click.command(short_help="List the gases of the library.")
@takes(folders=LIBRARY)
@json_option
def fuels_command(folders: tuple[str, ...], as_json: bool) -> int:
    """List the gases of the library, and those of others with their source.

    "composition" gases have a full analysis; "declared" gases have only a heating value and a relative density,
    as on a bill or a rating plate, so air demand and flame are not evaluated for them.
    A library of others that cannot be read is not listed: the error names it, and the exit status is 2.

    \b
    Examples:
      burnerlab fuels
      burnerlab fuels --json
      burnerlab fuels --library works-data
    """
    return print_library(as_json, folders)


# ``burnerlab gas``: everything about one gas.


def _flame(
    aeration: float, air_temperature: float, relative_humidity: float, surroundings: float
) -> FlameSetting:
    from burnerlab.gas.combustion_air import humidity_from_relative

    wet = (
        humidity_from_relative(relative_humidity, air_temperature, surroundings) if relative_humidity else 0.0
    )
    return FlameSetting(
        flame_aeration=aeration,
        flame_air_temperature_K=air_temperature,
        air_humidity_mol_per_mol=float(wet),
        flame_pressure_Pa=surroundings,
    )


FLAME = Group(
    make=_flame,
    inputs=(
        Input(
            name="aeration",
            of="burnt_aeration",
            metavar="PERCENT",
            default="1",
            help='Air of the flame over stoichiometric air: "0.6", "60 %".',
        ),
        Input(
            name="air_temperature",
            of="flame_air_temperature",
            metavar="T",
            default="25 C",
            help='Of the air of the flame: "25 C".',
        ),
        Input(
            name="relative_humidity",
            metavar="PERCENT",
            default="0 %",
            help='Of the air of the flame: "50 %".',
        ),
    ),
    parts={
        "surroundings": Group(
            make=ambient_pressure_Pa,
            inputs=(
                replace(ALTITUDE, help='Of the place, for flame and dew point: "1500 m".'),
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
      burnerlab gas natural-gas-typical --at 60F \\
          --reference-pressure "14.73 psia" --dry
      burnerlab gas --mix "methane=0.9,ethane=0.1" --uncertainty "methane=0.001" \\
          --json
      burnerlab gas --mix "propane=60 %, air=40 %" --per volume
      burnerlab gas --heating-value "1037 Btu/ft3 gross at 60F" \\
          --relative-density 0.6
    """
    if listed:
        print_library(as_json)
        return
    gas = _with_uncertainty(gas or GAS_ARGUMENT.read({}, option_of), uncertainty)
    result = _answer(gas, reference, correlated, flame)
    if as_json:
        print_json(result.document())
    else:
        click.echo(_text(result))
        print_notes("Not evaluated", [f"{gap.topic}: {gap.why}" for gap in result.not_evaluated])
        print_notes("Notes", result.notes)
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


def _answer(gas: Gas | DeclaredGas, at: ReferenceState, correlated: bool, flame: FlameSetting) -> GasAnswer:
    from burnerlab.gas import DeclaredGas
    from burnerlab.gas.properties import COVERAGE_FACTOR

    declared = isinstance(gas, DeclaredGas)
    codes, foreign = family_codes(gas)
    figures = _declared(gas, at) if isinstance(gas, DeclaredGas) else _composed(gas, at, correlated, flame)
    notes = [*figures.notes, *([gas.note] if gas.note else [])]
    return GasAnswer(
        gas=gas.name,
        title=gas.title,
        kind="declared" if declared else "composition",
        source=gas.source,
        provenance=gas.provenance,
        reference=at.words(),
        reference_state=at,
        composition_mole_fraction={} if isinstance(gas, DeclaredGas) else gas.composition.as_dict(),
        setting=flame,
        EN_437=[] if foreign else codes,
        EN_437_by_wobbe_index_alone=codes,
        EN_437_not_of_the_family=foreign,
        coverage_factor=COVERAGE_FACTOR,
        not_evaluated=figures.not_evaluated,
        notes=notes,
        parts=figures.parts,
        uncertainty=figures.uncertainty,
        printed={} if isinstance(gas, DeclaredGas) else dict(gas.printed or {}),
    )


class _Figures(NamedTuple):
    parts: tuple[GasProperties | DeclaredProperties | CombustionAir | FlameFigures, ...]
    uncertainty: Mapping[str, float]
    notes: list[str]
    not_evaluated: list[Gap]


def _composed(gas: Gas, at: ReferenceState, correlated: bool, flame: FlameSetting) -> _Figures:
    from burnerlab.gas import properties
    from burnerlab.gas.combustion_air import combustion_air

    found = properties(gas, at)
    air = combustion_air(gas, humidity=flame.air_humidity_mol_per_mol, pressure_Pa=flame.flame_pressure_Pa)
    burning, why = flame_figures(gas, found, air, flame)
    missing = [Gap(topic="adiabatic flame temperature", why=why)] if why else []
    u = uncertainties(gas, at, correlated, None if why else flame)
    notes = [*found.notes, *air.notes, *([] if gas.uncertainty else [FROM_TABLES]), BEHIND_FLAME]
    return _Figures((found, air, burning), u, notes, missing)


def _declared(gas: DeclaredGas, at: ReferenceState) -> _Figures:
    found = gas.properties(at)
    missing = [Gap(topic=topic, why=NEEDS_COMPOSITION) for topic in OF_COMPOSITION]
    missing.append(Gap(topic="uncertainty", why="none is declared with the heating value"))
    if found.net_heating_value_J_per_m3 is None:
        missing.append(Gap(topic="net values", why="no net heating value or family is declared"))
    return _Figures((found,), {}, list(found.notes), missing)


OF_COMPOSITION = (
    "compression factor",
    "molar mass",
    "stoichiometric air",
    "ultimate CO2",
    "adiabatic flame temperature",
)
DIFFERENCE = Kind.TEMPERATURE_DIFFERENCE
MOLAR_MASS, FLAME_TEMPERATURE = "molar_mass_kg_per_kmol", "adiabatic_flame_temperature_K"
FROM_ELSEWHERE = (MOLAR_MASS, "stoichiometric_air_m3_per_m3", "ultimate_CO2", FLAME_TEMPERATURE)
"""Figures with an uncertainty beside those of ISO 6976."""
SHOWN = (
    "gross_heating_value_J_per_m3",
    "net_heating_value_J_per_m3",
    "gross_heating_value_J_per_kg",
    "net_heating_value_J_per_kg",
    "gross_wobbe_J_per_m3",
    "net_wobbe_J_per_m3",
    "relative_density",
    "density_kg_per_m3",
    "compression_factor",
    MOLAR_MASS,
    "stoichiometric_air_m3_per_m3",
    "stoichiometric_air_mol_per_mol",
    "ultimate_CO2",
    "dew_point_K",
)
"""Figures of the text, in its order; the flame temperature stands last, in kelvin as its uncertainty is."""


def _family(result: GasAnswer) -> str:
    """The families by Wobbe index; first that the gas is none of them, where its composition says so."""
    codes = ", ".join(result.EN_437_by_wobbe_index_alone)
    if foreign := result.EN_437_not_of_the_family:
        return f"{foreign[0].upper()}{foreign[1:]}. Only its Wobbe index is in the range of {codes}."
    return f"{codes or 'outside all families'}, by Wobbe index alone"


def _percent(value: float | None) -> str:
    return "" if value is None else f"{value:.2g} %"


def _text(result: GasAnswer) -> str:
    parts = result.composition_mole_fraction
    listed = ", ".join(f"{name} {100 * x:.4g} %" for name, x in parts.items()) or "not known (declared gas)"
    head = facts(
        [
            ("gas", title_and_name(result.title, result.gas)),
            ("mole fractions", listed),
            ("reference", f"{result.reference} (combustion / metering)"),
            ("EN 437", _family(result)),
            ("source", f"{result.source} ({provenance_words(result.provenance)})"),
        ]
    )
    figures = {
        column.name: (column, column.of(part)) for column, part in result.columns() if part is not None
    }
    rows = []
    for column, value in (figures[name] for name in SHOWN if name in figures):
        if value is not None:
            shown = column.in_system(reader_system())
            u = _percent(result.expanded_percent(column))
            rows.append((column.label, number(shown.in_unit(value), 5), shown.unit, u))
    flame, flame_K = figures.get(FLAME_TEMPERATURE, (None, None))
    if flame is not None and flame_K is not None:
        rows.append((flame.label, *_flame_cells(flame_K, result.expanded_percent(flame))))
    heads = ("", "value", "unit", f"± (k = {result.coverage_factor:g})")
    text = f"{head}\n\n{table(heads, rows, as_written=True)}"
    return text if flame_K is None else f"{text}\n{_setting_words(result.setting)}"


def _flame_cells(flame_K: float, expanded_percent: float | None) -> tuple[str, str, str]:
    """Value, unit and uncertainty: a fraction of kelvin, or degrees Fahrenheit of both."""
    if reader_system() == "metric":
        return number(flame_K, 5), "K", _percent(expanded_percent)
    spread = "" if expanded_percent is None else in_unit(expanded_percent * flame_K / 100.0, DIFFERENCE, "°F")
    return temperature(flame_K, has_unit=False), "°F", f"{spread:.2g} °F" if spread else ""


def _setting_words(flame: FlameSetting) -> str:
    humid = "" if flame.air_humidity_mol_per_mol else "dry "
    air = f"{100 * flame.flame_aeration:.3g} % of the stoichiometric {humid}air"
    warm = amount(flame.flame_air_temperature_K, Kind.TEMPERATURE, 3)
    outside = amount(flame.flame_pressure_Pa, Kind.ABSOLUTE_PRESSURE, 4)
    return wrapped(f"Flame in {air}, at {warm}; gas at {for_reader('25.0 °C')}, {outside}.")
