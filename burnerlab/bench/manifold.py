"""Manifold pressure: the input that pressure and orifice should give, against the one that was measured."""

from __future__ import annotations

from dataclasses import dataclass, replace

from burnerlab.appliance.flowing import Flowing
from burnerlab.appliance.model import Appliance, Burner
from burnerlab.appliance.pressures import SupplyPressure, match_pressure
from burnerlab.appliance.result import Verdict
from burnerlab.appliance.steps import law_of
from burnerlab.appliance.verdict import judge
from burnerlab.bench.budget import instruments
from burnerlab.bench.decision import bench_limit
from burnerlab.gas import DeclaredGas, properties
from burnerlab.gas.families import wobbe_family
from burnerlab.orifice.flow import Conditions, OrificeFlow, jet
from burnerlab.quantity import PRESETS
from burnerlab.quantity.error import Problem, UserError


@dataclass(frozen=True, slots=True, kw_only=True)
class ManifoldCheck:
    """The input of some burners at the pressure that was read."""

    burners: tuple[str, ...]
    measured_pressure_Pa: float  # gauge
    nominal_pressure_Pa: float
    pressure_verdict: Verdict  # against the range of the supply, not evaluated where none is known
    pressure_low_Pa: float | None
    pressure_high_Pa: float | None
    pressure_source: str
    nominal_gross_W: float  # expected at the nominal pressure
    expected_gross_W: float  # expected at the pressure read
    relative_uncertainty: float  # standard, of the expected input, from the pressure reading alone [-]
    measured_gross_W: float | None
    ratio: float | None  # measured over expected at the pressure read [-]
    text: str

    @property
    def above_range(self) -> bool:
        """Whether the pressure read is above the highest of its range."""
        return self.pressure_high_Pa is not None and self.measured_pressure_Pa > self.pressure_high_Pa


def conditions_of(appliance: Appliance, gauge_pressure_Pa: float | None = None) -> Conditions:
    """What the gas finds at the orifices of an appliance, at its own pressure unless another is given."""
    supply = appliance.supply
    return Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa if gauge_pressure_Pa is None else gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )


def flow_of(
    appliance: Appliance, burner: Burner, conditions: Conditions, gas: Flowing | None = None
) -> OrificeFlow:
    """Flow of one burner of the kind through its own orifices."""
    orifice = burner.orifice
    law = law_of(orifice, appliance.tables)
    return jet(gas or Flowing(appliance.supply.gas), orifice.diameter_m, conditions, law, orifice.count)


def each_burner(appliance: Appliance, name: str | None = None) -> tuple[Burner, ...]:
    """One burner of the kind ``name``, or every single burner of the appliance.

    Raises UserError for a burner it has not.

    >>> from burnerlab.appliance import demonstration
    >>> [burner.name for burner in each_burner(demonstration(), "tile broiler")]
    ['tile broiler']
    """
    if name is None:
        return tuple(replace(b, count=1) for b in appliance.burners for _ in range(b.count))
    from burnerlab.appliance.door import did_you_mean

    found = [b for b in appliance.burners if b.name.casefold() == name.strip().casefold()]
    if not found:
        names = [b.name for b in appliance.burners]
        fix = did_you_mean(name, names)
        raise UserError(
            Problem("is not a burner of this appliance", name, "burner", accepted=", ".join(names), fix=fix)
        )
    return (replace(found[0], count=1),)


def supply_of(appliance: Appliance) -> SupplyPressure | None:
    """The row of supply pressures that an appliance's gas and pressure belong to."""
    gas, at = appliance.supply.gas, PRESETS["ISO_15_15"]
    found = gas.properties(at) if isinstance(gas, DeclaredGas) else properties(gas, at)
    families = [group.code for group in wobbe_family(found.gross_wobbe_J_per_m3)]
    own = appliance.tables.supply_pressures
    return match_pressure(appliance.supply.gauge_pressure_Pa, families, own=own, region=appliance.region)


def manifold_check(
    appliance: Appliance,
    measured_pressure_Pa: float,
    burner: str | None = None,
    measured_gross_W: float | None = None,
) -> ManifoldCheck:
    """Expected input from the pressure read and the orifices of the file, against the measured one.

    measured_pressure_Pa : gauge [Pa]; burner : one of the kind, None for all burners together
    measured_gross_W : heat input by meter or scale [W], None when there is none
    Raises UserError for a burner the appliance has not, and a pressure that is not above 0.

    >>> from burnerlab.appliance import demonstration
    >>> check = manifold_check(demonstration(), 4 * 1743.6, "tile broiler")
    >>> check.expected_gross_W / check.nominal_gross_W
    1.992
    """
    gas, chosen = Flowing(appliance.supply.gas), each_burner(appliance, burner)

    def total(gauge_pressure_Pa: float | None) -> float:
        at = conditions_of(appliance, gauge_pressure_Pa)
        return sum(flow_of(appliance, one, at, gas).heat_input_gross_W for one in chosen)

    row, supply = supply_of(appliance), appliance.supply
    low = supply.low_gauge_pressure_Pa or (row.low_Pa if row else None)
    high = supply.high_gauge_pressure_Pa or (row.high_Pa if row else None)
    expected = total(measured_pressure_Pa)
    u = instruments()["manifold pressure"].standard_uncertainty
    ratio = None if measured_gross_W is None else measured_gross_W / expected
    verdict = judge(measured_pressure_Pa, low, high)
    return ManifoldCheck(
        burners=tuple(one.name for one in chosen),
        measured_pressure_Pa=measured_pressure_Pa,
        nominal_pressure_Pa=supply.gauge_pressure_Pa,
        pressure_verdict=verdict,
        pressure_low_Pa=low,
        pressure_high_Pa=high,
        pressure_source=row.source if row else "",
        nominal_gross_W=total(None),
        expected_gross_W=expected,
        relative_uncertainty=0.5 * u / measured_pressure_Pa,
        measured_gross_W=measured_gross_W,
        ratio=ratio,
        text=_text(ratio),
    )


def _text(ratio: float | None) -> str:
    if ratio is None:
        return "no measured input to hold against it"
    held = bench_limit("overfire")
    said = f"measured over expected at this pressure: {ratio:.3f}"
    if ratio > held.high:
        return (
            f"{said}; more than this pressure gives through these orifices: look at orifice, gas and reading"
        )
    if ratio < held.low:
        return (
            f"{said}; less than this pressure gives through these orifices: look at orifice, hole and reading"
        )
    return f"{said}; pressure and orifices account for the reading"
