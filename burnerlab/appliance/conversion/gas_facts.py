"""Figures of a gas in a conversion: states, properties, families, air and flame, computed once for all burners."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar, cast

from burnerlab.gas import DeclaredGas, DeclaredProperties, Gas, GasProperties, properties
from burnerlab.gas.combustion_air import CombustionAir, combustion_air
from burnerlab.gas.gas_family import WobbeGroup, groups_of_gas, national_groups_of, not_of_family
from burnerlab.orifice.flow import Conditions, OrificeFlow, flow
from burnerlab.quantity import PRESETS, Kind, ReferenceState
from burnerlab.quantity.outputs import output

T = TypeVar("T")

# A gas with a cache of its states upstream of an orifice: a conversion needs the same few states again and again.


@dataclass(frozen=True, slots=True)
class GasStates:
    """Density, isentropic exponent and heating values of a gas, each state computed once."""

    gas: Gas | DeclaredGas
    states: dict[tuple[Any, ...], Any] = field(default_factory=dict, compare=False, repr=False)

    def density_kg_per_m3(self, temperature_K: float, absolute_pressure_Pa: float) -> float:
        """Real-gas density at a state of supply [kg/m3]."""
        at = temperature_K, absolute_pressure_Pa
        return self._once(("density", *at), lambda: float(self.gas.density_kg_per_m3(*at)))

    def isentropic_exponent(self, temperature_K: float, absolute_pressure_Pa: float) -> float:
        """Isentropic exponent at a state of supply [-]."""
        at = temperature_K, absolute_pressure_Pa
        return self._once(("exponent", *at), lambda: float(self.gas.isentropic_exponent(*at)))

    def heating_value_J_per_kg(self, basis: str, combustion_temperature_K: float = 288.15) -> float:
        """Heating value of a kilogram [J/kg]."""
        at = basis, combustion_temperature_K
        return self._once(("heat", *at), lambda: float(self.gas.heating_value_J_per_kg(*at)))

    def standard_density_kg_per_m3(self, reference: ReferenceState) -> float:
        """Density at a reference state [kg/m3]."""
        return self._once(
            ("standard", reference), lambda: float(self.gas.standard_density_kg_per_m3(reference))
        )

    def passing(self, at: Conditions, combustion_temperature_K: float) -> OrificeFlow:
        """Through a hole of 1 mm without losses, from which ``through_bore`` has the flow of any hole."""
        return self._once(
            ("passing", at, combustion_temperature_K),
            lambda: flow(self, 1e-3, at, 1.0, combustion_temperature_K=combustion_temperature_K),
        )

    def _once(self, key: tuple[Any, ...], find: Callable[[], T]) -> T:
        if key not in self.states:
            self.states[key] = find()
        return cast(T, self.states[key])

    @property
    def composition(self) -> Any:
        """The gas's own; refused by a declared gas."""
        return self.gas.composition


# Figures of a gas that every burner of a conversion uses, computed once.

AnyGas = Gas | DeclaredGas


@dataclass(frozen=True, slots=True, kw_only=True)
class GasUsed:
    """Composition, Wobbe index, heating values and air of a gas as a sheet prints them."""

    name: str = field(metadata=output("gas"))
    title: str = field(metadata=output("title"))
    kind: str = field(metadata=output("from"))  # "composition" or "declared"
    # mole fractions, empty for a declared gas
    composition: Mapping[str, float] = field(metadata=output("composition, mole fraction"))
    gross_wobbe_J_per_m3: float = field(
        metadata=output("Wobbe index", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    net_wobbe_J_per_m3: float = field(metadata=output("Wobbe index", Kind.HEATING_VALUE_VOLUME, basis="net"))
    gross_heating_value_J_per_m3: float = field(
        metadata=output("heating value per volume", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    net_heating_value_J_per_m3: float = field(
        metadata=output("heating value per volume", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    gross_heating_value_J_per_kg: float = field(
        metadata=output("heating value per mass", Kind.HEATING_VALUE_MASS, basis="gross")
    )
    net_heating_value_J_per_kg: float = field(
        metadata=output("heating value per mass", Kind.HEATING_VALUE_MASS, basis="net")
    )
    relative_density: float = field(metadata=output("relative density (air = 1)"))
    density_kg_per_m3: float = field(metadata=output("density", Kind.DENSITY))
    # dry air and gas in real volumes at the reference state
    stoichiometric_air_m3_per_m3: float | None = field(
        metadata=output("stoichiometric air, volume per volume")
    )
    stoichiometric_air_mol_per_mol: float | None = field(
        metadata=output("stoichiometric air, mole per mole", unit="mol/mol")
    )
    ultimate_CO2: float | None = field(
        metadata=output("carbon dioxide of the dry products, no excess air", Kind.FRACTION)
    )
    adiabatic_flame_temperature_K: float | None = field(
        metadata=output("adiabatic flame temperature, no excess air", Kind.TEMPERATURE)
    )
    family: str = field(metadata=output("EN 437 family and group"))  # "" when outside all
    source: str = field(metadata=output("data from"))
    # a caution of its own
    is_special: bool = field(default=False, metadata=output("holds hydrogen or carbon monoxide"))

    @property
    def dry_gas_kg_per_m3(self) -> float:
        """Gas in a cubic metre at the reference state, without the water vapour of a saturated one."""
        return self.gross_heating_value_J_per_m3 / self.gross_heating_value_J_per_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class GasFacts:
    """A gas with its figures at the reference state of a result."""

    gas: AnyGas
    flowing: GasStates
    used: GasUsed
    groups: tuple[WobbeGroup, ...]  # of EN 437, by its Wobbe index
    wobbe_15_15_J_per_m3: float  # gross, the base of EN 437
    air_density_kg_per_m3: float  # dry, at the reference state
    air_kg_per_kg: float | None  # stoichiometric, None without a composition
    notes: tuple[str, ...] = ()
    national_groups: tuple[WobbeGroup, ...] = ()  # those that one country alone has, by the same index

    def per_kg(self, basis: str) -> float:
        """Heating value of a kilogram [J/kg]."""
        return (
            self.used.gross_heating_value_J_per_kg
            if basis == "gross"
            else self.used.net_heating_value_J_per_kg
        )

    @property
    def families(self) -> tuple[str, ...]:
        """Families and groups it belongs to, such as ("3", "3B/P", "3P"), those of single countries last."""
        return tuple(group.code for group in (*self.groups, *self.national_groups))

    @property
    def net_to_gross(self) -> float:
        """Net over gross heating value [-]."""
        return self.used.net_heating_value_J_per_kg / self.used.gross_heating_value_J_per_kg

    @property
    def has_composition(self) -> bool:
        return self.air_kg_per_kg is not None


def facts(gas: AnyGas, reference: ReferenceState) -> GasFacts:
    """Every figure of a gas that a conversion shows or uses, at one reference state.

    Raises UserError for a declared gas whose net heating value nothing tells.
    """
    found = properties_of(gas, reference)
    at_base = properties_of(gas, PRESETS["ISO_15_15"])
    fractions = {} if isinstance(gas, DeclaredGas) else gas.composition.as_dict()
    groups = groups_of_gas(at_base.gross_wobbe_J_per_m3, fractions)
    national = national_groups_of(at_base.gross_wobbe_J_per_m3)
    air = None if isinstance(gas, DeclaredGas) else combustion_air(gas)
    return GasFacts(
        gas=gas,
        flowing=GasStates(gas),
        used=_used(gas, found, air, family_words(groups or national, fractions)),
        groups=tuple(groups),
        national_groups=tuple(national),
        wobbe_15_15_J_per_m3=at_base.gross_wobbe_J_per_m3,
        air_density_kg_per_m3=found.density_kg_per_m3 / found.relative_density,
        air_kg_per_kg=None if air is None else air.stoichiometric_air_kg_per_kg,
        notes=tuple(f"{gas.name}: {note}" for note in found.notes),
    )


def family_words(groups: Sequence[WobbeGroup], fractions: Mapping[str, float]) -> str:
    """Family and groups in words, or that its composition is outside those of the family.

    fractions : mole fractions of its components, empty for a declared gas [-]

    >>> from burnerlab.gas.gas_family import wobbe_family
    >>> family_words(wobbe_family(50.72e6), {"methane": 1.0}), family_words([], {})
    ('EN 437 family 2, groups H, E', '')
    >>> family_words(wobbe_family(48.0e6), {"hydrogen": 1.0}).partition(";")[0]
    'Wobbe index in the range of EN 437 family 2, groups H, E'
    """
    if not groups:
        return ""
    own = [f"{one.group} of {one.country}" if one.country else one.group for one in groups if one.group]
    named = ", ".join(own)
    words = f"EN 437 family {groups[0].family}"
    if own:
        words += f", groups {named}" if len(own) > 1 else f", group {named}"
    foreign = not_of_family(groups[0].family, fractions)
    return f"Wobbe index in the range of {words}; {foreign}" if foreign else words


def properties_of(gas: AnyGas, reference: ReferenceState) -> GasProperties | DeclaredProperties:
    return gas.properties(reference) if isinstance(gas, DeclaredGas) else properties(gas, reference)


def _used(
    gas: AnyGas, properties: GasProperties | DeclaredProperties, air: CombustionAir | None, family: str
) -> GasUsed:
    temperature = properties.reference.combustion_temperature_K
    gross = gas.heating_value_J_per_kg("gross", temperature)
    net = gas.heating_value_J_per_kg("net", temperature)
    ratio = net / gross
    composed = not isinstance(gas, DeclaredGas)
    return GasUsed(
        name=gas.name,
        title=gas.title,
        kind="composition" if composed else "declared",
        composition=gas.composition.as_dict() if composed else {},
        gross_wobbe_J_per_m3=properties.gross_wobbe_J_per_m3,
        net_wobbe_J_per_m3=properties.gross_wobbe_J_per_m3 * ratio,
        gross_heating_value_J_per_m3=properties.gross_heating_value_J_per_m3,
        net_heating_value_J_per_m3=properties.gross_heating_value_J_per_m3 * ratio,
        gross_heating_value_J_per_kg=gross,
        net_heating_value_J_per_kg=net,
        relative_density=properties.relative_density,
        density_kg_per_m3=properties.density_kg_per_m3,
        stoichiometric_air_m3_per_m3=None
        if air is None
        else air_volumes(
            air,
            properties.gross_heating_value_J_per_m3 / gross,
            properties.density_kg_per_m3 / properties.relative_density,
        ),
        stoichiometric_air_mol_per_mol=None if air is None else air.stoichiometric_air_mol_per_mol,
        ultimate_CO2=None if air is None else air.ultimate_CO2,
        adiabatic_flame_temperature_K=flame_temperature_K(gas) if composed else None,
        family=family,
        source=gas.source,
        is_special=gas.is_special,
    )


def air_volumes(air: CombustionAir, gas_kg_per_m3: float, air_kg_per_m3: float) -> float:
    """Stoichiometric dry air by volume, real gases at one state, A_m rho_gas/rho_air [m3/m3].

    air : of the gas; gas_kg_per_m3 : dry gas in a cubic metre; air_kg_per_m3 : density of dry air [kg/m3]
    For propane this is 1.8 % more than the ratio of moles.

    >>> from burnerlab.gas import load
    >>> air_volumes(combustion_air(load("propane")), 1.8990, 1.2254)
    24.30
    """
    return air.stoichiometric_air_kg_per_kg * gas_kg_per_m3 / air_kg_per_m3


def flame_temperature_K(gas: AnyGas) -> float:
    """Adiabatic flame temperature at stoichiometric air, gas and air at 25 C, 101.325 kPa [K]."""
    from burnerlab.flame.equilibrium import adiabatic_flame_temperature_K

    return float(adiabatic_flame_temperature_K(gas).temperature_K)
