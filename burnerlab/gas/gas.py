"""A gas with a known composition."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from operator import mul

from numpy.typing import ArrayLike

from burnerlab.gas import upstream
from burnerlab.gas.component import Array, component_table
from burnerlab.gas.composition import Composition
from burnerlab.gas.dew_point import require_vapour
from burnerlab.gas.state import combustion_column, gross_J_per_mol, net_J_per_mol, read_basis
from burnerlab.gas.summation import no_fuel, standard_density_kg_per_m3
from burnerlab.quantity import ReferenceState
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary
from burnerlab.tables.cautions import is_special_gas

MOST_PARTS = 4  # of a composition, in one line


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

    def summary(self) -> Summary:
        parts = [f"{name} {100.0 * x:.4g} %" for name, x in self.composition.as_dict().items()]
        table = (
            ("component", "mole %"),
            *((n, f"{100.0 * x:.4g}") for n, x in self.composition.as_dict().items()),
        )
        words = ", ".join(parts[:MOST_PARTS]) + (" ..." if len(parts) > MOST_PARTS else "")
        return Summary(f"{self.name}: {words}", table)

    @property
    @computed_output("given as")
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
        return upstream.density_kg_per_m3(names, x, temperature_K, absolute_pressure_Pa)

    def isentropic_exponent(self, temperature_K: ArrayLike, absolute_pressure_Pa: ArrayLike) -> Array:
        """Isentropic exponent at a state of supply [-]; see ``upstream`` for range and error."""
        names, x = self.composition.names, self.composition.fractions
        return upstream.isentropic_exponent(names, x, temperature_K, absolute_pressure_Pa)
