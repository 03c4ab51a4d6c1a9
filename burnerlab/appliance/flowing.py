"""A gas that remembers its state upstream of an orifice: a conversion asks for the same few states again and again."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.quantity import ReferenceState


@dataclass(frozen=True, slots=True)
class Flowing:
    """What an orifice asks of a gas, each state computed once."""

    gas: Gas | DeclaredGas
    known: dict[tuple[Any, ...], float] = field(default_factory=dict, compare=False, repr=False)

    def density_kg_per_m3(self, temperature_K: float, absolute_pressure_Pa: float) -> float:
        """Real-gas density at a state of supply [kg/m3]."""
        key = ("density", temperature_K, absolute_pressure_Pa)
        if key not in self.known:
            self.known[key] = float(self.gas.density_kg_per_m3(temperature_K, absolute_pressure_Pa))
        return self.known[key]

    def isentropic_exponent(self, temperature_K: float, absolute_pressure_Pa: float) -> float:
        """Isentropic exponent at a state of supply [-]."""
        key = ("exponent", temperature_K, absolute_pressure_Pa)
        if key not in self.known:
            self.known[key] = float(self.gas.isentropic_exponent(temperature_K, absolute_pressure_Pa))
        return self.known[key]

    def heating_value_J_per_kg(self, basis: str, combustion_temperature_K: float = 288.15) -> float:
        """Heating value of a kilogram [J/kg]."""
        key = ("heat", basis, combustion_temperature_K)
        if key not in self.known:
            self.known[key] = float(self.gas.heating_value_J_per_kg(basis, combustion_temperature_K))
        return self.known[key]

    def standard_density_kg_per_m3(self, reference: ReferenceState) -> float:
        """Density at a reference state [kg/m3]."""
        key = ("standard", reference)
        if key not in self.known:
            self.known[key] = float(self.gas.standard_density_kg_per_m3(reference))
        return self.known[key]

    @property
    def composition(self) -> Any:
        """The gas's own; refused by a declared gas."""
        return self.gas.composition
