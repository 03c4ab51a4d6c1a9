"""A gas: of a composition, or declared by heating value and relative density."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from operator import mul

import numpy as np
from numpy.typing import ArrayLike

from burnerlab import tables
from burnerlab.gas import real_gas
from burnerlab.gas.component import Array, component_table
from burnerlab.gas.composition import Composition
from burnerlab.gas.dew_point import require_vapour
from burnerlab.gas.summation import (
    combustion_column,
    constants_of,
    gross_J_per_mol,
    net_J_per_mol,
    no_fuel,
    read_basis,
    standard_density_kg_per_m3,
)
from burnerlab.quantity import Kind, Problem, ReferenceState, UserError, take_SI
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.tables.cautions import is_special_gas

# A gas with a known composition.

MOST_PARTS = 4  # of a composition, in one line


def sentence_name(name: str, title: str) -> str:
    """What a sentence calls a gas: its name where that is several words or begins the title, else its title.

    >>> sentence_name("propane", "Propane, pure"), sentence_name("G30", "G30, butane test gas")
    ('propane', 'G30')
    >>> sentence_name("raw biogas", "methane 0.7, carbon dioxide 0.3 (per mole)")
    'raw biogas'
    >>> sentence_name("natural-gas-typical", "Natural gas, typical")
    'natural gas, typical'
    """
    if not title or " " in name or title.casefold().startswith(name.casefold()):
        return name
    return title[0].lower() + title[1:] if title[1:2].islower() else title


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Gas(WithSummary):
    """A gas by its composition, with where the composition is from."""

    name: str = field(metadata=output("name"))
    title: str = field(metadata=output("gas"))
    composition: Composition
    source: str = field(metadata=output("source"))
    provenance: str = field(metadata=output("provenance"))
    place: str = ""
    note: str = field(default="", metadata=output("note"))
    uncertainty: Mapping[str, float] | None = field(default=None, compare=False)  # u of mole fractions, k = 1
    printed: Mapping[str, float | str] | None = field(
        default=None, compare=False
    )  # values the source prints beside the composition

    @property
    def words(self) -> str:
        """What a sentence calls it."""
        return sentence_name(self.name, self.title)

    def summary(self) -> Summary:
        parts = [f"{name} {100.0 * x:.4g} %" for name, x in self.composition.as_dict().items()]
        table = (
            ("component", "mole %"),
            *((n, f"{100.0 * x:.4g}") for n, x in self.composition.as_dict().items()),
        )
        words = ", ".join(parts[:MOST_PARTS]) + (" ..." if len(parts) > MOST_PARTS else "")
        return Summary(f"{self.name}: {words}", table)

    @property
    @computed_output("kind")
    def kind(self) -> str:
        """Known by its composition."""
        return "composition"

    @property
    def is_special(self) -> bool:
        """Whether it holds hydrogen or carbon monoxide enough for a caution of its own."""
        return is_special_gas(self.composition.as_dict())

    def heating_value_J_per_kg(self, basis: str, combustion_temperature_K: float = 288.15) -> float:
        """Heating value of a kilogram [J/kg]; basis is gross or net.

        combustion_temperature_K : 0, 15, 15.55 (or 60 F), 20 or 25 C [K]; UserError for another.
        """
        column = combustion_column(combustion_temperature_K)
        values = gross_J_per_mol(column) if read_basis(basis) == "gross" else net_J_per_mol(column)
        table = component_table()
        index = table.take(self.composition.names)
        x = self.composition.fractions
        molar = math.fsum(map(mul, values[index].tolist(), x))
        if not molar > 0.0:
            raise no_fuel(self.composition)
        return molar / math.fsum(map(mul, table.molar_mass_kg_per_mol[index].tolist(), x))

    def standard_density_kg_per_m3(self, reference: ReferenceState) -> float:
        """Real-gas density at a reference state [kg/m3]."""
        return standard_density_kg_per_m3(self.composition, reference)

    def density_kg_per_m3(self, temperature_K: ArrayLike, absolute_pressure_Pa: ArrayLike) -> Array:
        """Real-gas density at a state of supply [kg/m3]; see ``upstream`` for range and error.

        Raises UserError outside that range, and where part of the gas would be liquid.
        """
        names, x = self.composition.names, self.composition.fractions
        require_vapour(names, x, temperature_K, absolute_pressure_Pa)
        return real_gas.density_kg_per_m3(names, x, temperature_K, absolute_pressure_Pa)

    def isentropic_exponent(self, temperature_K: ArrayLike, absolute_pressure_Pa: ArrayLike) -> Array:
        """Isentropic exponent at a state of supply [-]; see ``upstream`` for range and error."""
        names, x = self.composition.names, self.composition.fractions
        return real_gas.isentropic_exponent(names, x, temperature_K, absolute_pressure_Pa)


# A gas known only by its heating value and relative density, as a bill or a rating plate states them.


def declared_families() -> tuple[str, ...]:
    """Kinds of gas a declared gas may name itself, to borrow net ratio and isentropic exponent from.

    >>> "natural gas" in declared_families()
    True
    """
    return tuple(row["family"] for row in tables.rows("declared_families"))


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class DeclaredProperties(WithSummary):
    """What a declared gas says of itself, on one reference state and one basis (real or ideal gas)."""

    reference: ReferenceState
    ideal_gas_basis: bool = field(metadata=output("ideal gas"))
    gross_heating_value_J_per_m3: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    net_heating_value_J_per_m3: float | None = field(
        metadata=output("heating value", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    gross_heating_value_J_per_kg: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MASS, basis="gross")
    )
    net_heating_value_J_per_kg: float | None = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MASS, basis="net")
    )
    relative_density: float = field(metadata=output("relative density"))
    density_kg_per_m3: float = field(metadata=output("density", Kind.DENSITY))
    gross_wobbe_J_per_m3: float = field(
        metadata=output("Wobbe index", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    net_wobbe_J_per_m3: float | None = field(
        metadata=output("Wobbe index", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    notes: tuple[str, ...] = ()

    def summary(self) -> Summary:
        heat = figure(self.gross_heating_value_J_per_m3, Kind.HEATING_VALUE_VOLUME)
        wobbe = figure(self.gross_wobbe_J_per_m3, Kind.HEATING_VALUE_VOLUME)
        words = f"{heat} gross at {self.reference.words()}, gross Wobbe index {wobbe}, declared"
        return Summary(words, lines=self.notes)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class DeclaredGas(WithSummary):
    """Heating value and relative density at one stated state; what needs a composition is refused."""

    name: str = field(metadata=output("name"))
    title: str = field(metadata=output("gas"))
    gross_heating_value_J_per_m3: float = field(metadata={"kind": Kind.HEATING_VALUE_VOLUME})
    relative_density: float
    reference: ReferenceState
    ideal: bool
    source: str = field(metadata=output("source"))
    provenance: str = field(metadata=output("provenance"))
    net_heating_value_J_per_m3: float | None = field(
        default=None, metadata={"kind": Kind.HEATING_VALUE_VOLUME}
    )
    family: str = ""  # row of declared_families, "" when not stated
    note: str = field(default="", metadata=output("note"))

    @property
    def words(self) -> str:
        """What a sentence calls it."""
        return sentence_name(self.name, self.title)

    def summary(self) -> Summary:
        heat = figure(self.gross_heating_value_J_per_m3, Kind.HEATING_VALUE_VOLUME)
        return Summary(
            f"{self.name}: {heat} gross at {self.reference.words()}, relative density {self.relative_density:.4g}"
        )

    def __post_init__(self) -> None:
        take_SI(self)

    @property
    @computed_output("kind")
    def kind(self) -> str:
        """Declared by heating value and relative density."""
        return "declared"

    @property
    def is_special(self) -> bool:
        """Whether a gas of its family holds hydrogen or carbon monoxide enough for a caution of its own."""
        shares = {row["family"]: float(row["hydrogen"]) for row in tables.rows("declared_families")}
        return is_special_gas({"hydrogen": shares.get(self.family, 0.0)})

    @property
    def composition(self) -> Composition:
        """Refused: a declared gas has none."""
        problem = (
            "this needs a composition, and the gas is known only by its heating value and relative density"
        )
        fix = "name a gas of the library with a composition"
        raise UserError(Problem(problem, value=self.name, key="gas", fix=fix))

    def density_kg_per_m3(self, temperature_K: ArrayLike, absolute_pressure_Pa: ArrayLike) -> Array:
        """Density at a state of supply, by the ideal-gas law from the declared state [kg/m3]."""
        state = self.reference
        ratio = (
            np.divide(absolute_pressure_Pa, temperature_K) * state.metering_temperature_K / state.pressure_Pa
        )
        density: Array = self.standard_density_kg_per_m3(state) * ratio
        return density

    def standard_density_kg_per_m3(self, reference: ReferenceState) -> float:
        """Relative density times the density of dry air, on the declared basis [kg/m3]."""
        state = constants_of(reference)
        air = state.M_air_kg_per_mol / state.ideal_molar_volume_m3_per_mol
        return self.relative_density * (air if self.ideal else air / state.Z_air)

    def isentropic_exponent(self, temperature_K: ArrayLike, absolute_pressure_Pa: ArrayLike) -> float:
        """Estimate from the family, or from the relative density among pure paraffins [-].

        Temperature and pressure are not used: between 0 and 40 C and up to 100 mbar gauge they move the
        exponent by less than 1 %, and the flow through an orifice by less than 0.1 %.
        """
        del temperature_K, absolute_pressure_Pa
        for row in tables.rows("declared_families"):
            if row["family"] == self.family:
                return float(row["isentropic_exponent"])
        points = [row for row in tables.rows("declared_families") if row["family"].startswith("pure ")]
        by_density = sorted(
            (float(row["relative_density"]), float(row["isentropic_exponent"])) for row in points
        )
        densities, exponents = zip(*by_density, strict=True)
        return float(np.interp(self.relative_density, densities, exponents))

    def net_to_gross(self) -> float | None:
        """Net over gross heating value: as declared, else the family's typical ratio, else None [-]."""
        if self.net_heating_value_J_per_m3 is not None:
            return self.net_heating_value_J_per_m3 / self.gross_heating_value_J_per_m3
        for row in tables.rows("declared_families"):
            if row["family"] == self.family:
                return float(row["net_to_gross"])
        return None

    def net_is_estimate(self) -> bool:
        """Whether the net heating value is the family's ratio times the gross one."""
        return self.net_heating_value_J_per_m3 is None and self.net_to_gross() is not None

    def heating_value_J_per_kg(self, basis: str, combustion_temperature_K: float = 288.15) -> float:
        """Heating value of a kilogram [J/kg], at the combustion temperature the gas was declared at.

        Another combustion temperature changes the gross value by 0.1 % per 10 K at most; this is left out.
        """
        del combustion_temperature_K
        gross = self.gross_heating_value_J_per_m3 / self.standard_density_kg_per_m3(self.reference)
        if read_basis(basis) == "gross":
            return gross
        ratio = self.net_to_gross()
        if ratio is None:
            problem = "the net heating value is not declared and no family is stated to estimate it from"
            fix = "give net_heating_value, or family"
            raise UserError(
                Problem(
                    problem,
                    value=self.name,
                    key="gas",
                    accepted=f"family: {', '.join(declared_families())}",
                    fix=fix,
                )
            )
        return gross * ratio

    def properties(self, reference: ReferenceState | None = None) -> DeclaredProperties:
        """The declared values and their Wobbe index; another state is reached by the ideal-gas law.

        A scalar change of state leaves out the change of Z and of combustion temperature: up to 0.3 %.
        """
        own = self.reference
        at = reference or own
        notes: tuple[str, ...] = ()
        factor = 1.0
        if at != own:
            here, there = constants_of(own), constants_of(at)
            factor = here.ideal_molar_volume_m3_per_mol / there.ideal_molar_volume_m3_per_mol
            factor *= (1.0 - there.water) / (1.0 - here.water)
            notes += ("brought to another reference state by the ideal-gas law: up to 0.3 % uncertain",)
        gross = self.gross_heating_value_J_per_m3 * factor
        ratio = self.net_to_gross()
        if self.net_is_estimate():
            notes += (f"net value estimated: {ratio:.3f} of gross, typical of {self.family}",)
        net = None if ratio is None else gross * ratio
        root, per_kg = self.relative_density**0.5, self.heating_value_J_per_kg("gross")
        return DeclaredProperties(
            reference=at,
            ideal_gas_basis=self.ideal,
            gross_heating_value_J_per_m3=gross,
            net_heating_value_J_per_m3=net,
            gross_heating_value_J_per_kg=per_kg,
            net_heating_value_J_per_kg=None if ratio is None else per_kg * ratio,
            relative_density=self.relative_density,
            density_kg_per_m3=self.standard_density_kg_per_m3(at),
            gross_wobbe_J_per_m3=gross / root,
            net_wobbe_J_per_m3=None if net is None else net / root,
            notes=notes,
        )
