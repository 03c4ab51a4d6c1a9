"""One flame as somebody asks for it: from the tables, or solved; the same answer either way."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from burnerlab.flame.blend import as_mixture, measured_over_computed, sorted_parts
from burnerlab.flame.burning_velocity import COVERAGE_FACTOR, accuracy_of, flame_state, prepared, true_ratio
from burnerlab.flame.equilibrium import adiabatic_flame_temperature_K
from burnerlab.gas.combustion_air import composition_of
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import UserError


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameAnswer:
    """Burning velocity with its stated error, flame temperature and thickness, and what they were computed from."""

    equivalence_ratio: float = field(metadata=output("equivalence ratio"))
    unburnt_temperature_K: float = field(metadata=output("unburnt mixture", Kind.TEMPERATURE))
    pressure_Pa: float = field(metadata=output("pressure", Kind.ABSOLUTE_PRESSURE))
    burning_velocity_m_per_s: float = field(metadata=output("burning velocity", Kind.VELOCITY))
    burning_velocity_error: float = field(metadata=output("standard error", Kind.FRACTION))
    adiabatic_flame_temperature_K: float = field(
        metadata=output("adiabatic flame temperature", Kind.TEMPERATURE)
    )
    thermal_thickness_m: float = field(metadata=output("thermal thickness", Kind.LENGTH))
    measured_over_computed: float = field(metadata=output("measured over computed"))
    """What the solved flame was multiplied by."""
    model: str = field(metadata=output("model"))
    evidence: Evidence = field(metadata=output("evidence"))
    error_terms: tuple[str, ...] = field(metadata=output("terms of the error"))
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    @computed_output("aeration")
    def aeration(self) -> float:
        """Air over stoichiometric air [-]."""
        return 1.0 / self.equivalence_ratio

    @property
    @computed_output("coverage factor of the error")
    def burning_velocity_error_coverage_factor(self) -> int:
        """About a third of measurements lie outside a standard error."""
        return COVERAGE_FACTOR


def from_tables(
    gas: Any, equivalence_ratio: float, unburnt_temperature_K: float, pressure_Pa: float
) -> FlameAnswer:
    """A flame from the tables; its temperature from the equilibrium kernel.

    gas : a gas or composition; equivalence_ratio [-]; unburnt_temperature_K [K]; pressure_Pa : absolute [Pa].
    Raises UserError outside the tables and for a gas they do not know. Source: burnerlab-flames.
    """
    flame = flame_state(gas, equivalence_ratio, unburnt_temperature_K, pressure_Pa)
    return FlameAnswer(
        burning_velocity_m_per_s=flame.burning_velocity_m_per_s,
        adiabatic_flame_temperature_K=_equilibrium_K(
            gas, equivalence_ratio, unburnt_temperature_K, pressure_Pa, flame.adiabatic_flame_temperature_K
        ),
        thermal_thickness_m=flame.thermal_thickness_m,
        equivalence_ratio=equivalence_ratio,
        unburnt_temperature_K=unburnt_temperature_K,
        pressure_Pa=pressure_Pa,
        burning_velocity_error=flame.accuracy.relative_error,
        evidence=flame.accuracy.evidence,
        error_terms=flame.accuracy.terms,
        measured_over_computed=measured_over_computed(prepared(gas).parts),
        model=flame.model,
        notes=flame.notes,
    )


def solved(
    gas: Any, equivalence_ratio: float, unburnt_temperature_K: float, pressure_Pa: float, limit_s: float
) -> FlameAnswer:
    """The same flame solved with Cantera within a wall-clock limit.

    gas : a gas or composition; equivalence_ratio [-]; unburnt_temperature_K [K]; pressure_Pa : absolute [Pa];
    limit_s : wall-clock limit [s]. Raises UserError as ``direct``.
    """
    from burnerlab.flame.direct_solution import direct

    names, fractions = composition_of(gas)
    parts, notes = sorted_parts(dict(zip(names, fractions.tolist(), strict=True)))
    flame = direct(as_mixture(parts), equivalence_ratio, unburnt_temperature_K, pressure_Pa, limit_s)
    anchor = measured_over_computed(parts)
    speed = anchor * flame.burning_velocity_m_per_s
    accuracy = accuracy_of(
        parts,
        float(true_ratio(parts, equivalence_ratio)),
        speed,
        bool(notes),
        tabulated=False,
        unburnt_temperature_K=unburnt_temperature_K,
    )
    return FlameAnswer(
        burning_velocity_m_per_s=speed,
        adiabatic_flame_temperature_K=_equilibrium_K(
            gas, equivalence_ratio, unburnt_temperature_K, pressure_Pa, flame.adiabatic_flame_temperature_K
        ),
        thermal_thickness_m=flame.thermal_thickness_m / anchor,
        equivalence_ratio=equivalence_ratio,
        unburnt_temperature_K=unburnt_temperature_K,
        pressure_Pa=pressure_Pa,
        burning_velocity_error=accuracy.relative_error,
        evidence=accuracy.evidence,
        error_terms=accuracy.terms,
        measured_over_computed=anchor,
        model=f"solved with Cantera, {flame.mechanism}, {flame.grid_points} points, {flame.seconds:.1f} s",
        notes=(*notes, *accuracy.reasons, flame.criteria),
    )


def _equilibrium_K(
    gas: Any, equivalence_ratio: float, temperature_K: float, pressure_Pa: float, otherwise_K: float
) -> float:
    """Equilibrium of the very gas; where the kernel refuses it (sulphur, soot), the figure of the flame itself."""

    try:
        found = adiabatic_flame_temperature_K(
            gas, equivalence_ratio, temperature_K, temperature_K, pressure_Pa
        )
    except UserError:
        return otherwise_K
    return float(found.temperature_K)
