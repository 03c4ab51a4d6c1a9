"""Manifold pressure: the input that pressure and orifice should give, against the one that was measured."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from burnerlab.appliance.flowing import Flowing
from burnerlab.appliance.model import Appliance, Burner
from burnerlab.appliance.pressures import SupplyPressure, match_pressure
from burnerlab.appliance.spreads import DIVISOR, default_spreads
from burnerlab.appliance.steps import law_of
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.expected import expected_at
from burnerlab.bench.reading import READING_U
from burnerlab.bench.stop import StopNotice, pressure_words, stop_notice
from burnerlab.bench.uncertainty import instruments
from burnerlab.gas import DeclaredGas, properties
from burnerlab.gas.gas_family import groups_of_gas
from burnerlab.orifice.flow import Conditions, OrificeFlow, flow
from burnerlab.quantity import PRESETS, Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class ManifoldCheck:
    """The input of some burners at the pressure that was read."""

    burners: tuple[str, ...] = field(metadata=output("burners"))
    measured_pressure_Pa: float = field(metadata=output("manifold pressure", Kind.GAUGE_PRESSURE))
    nominal_pressure_Pa: float = field(metadata=output("nominal pressure", Kind.GAUGE_PRESSURE))
    pressure_uncertainty_Pa: float = field(
        metadata=output("expanded uncertainty of the pressure", Kind.PRESSURE_DIFFERENCE)
    )  # k = 2
    pressure_verdict: Verdict = field(
        metadata=output("manifold pressure is")
    )  # against what the regulator should hold, over the whole interval of the reading
    pressure_low_Pa: float = field(
        metadata=output("regulator holds from", Kind.GAUGE_PRESSURE)
    )  # what it should hold
    pressure_high_Pa: float = field(metadata=output("regulator holds to", Kind.GAUGE_PRESSURE))
    pressure_source: str = field(metadata=output("by"))
    highest_Pa: float | None = field(
        metadata=output("highest of the supply", Kind.GAUGE_PRESSURE)
    )  # above it the test stops
    nominal_gross_W: float = field(
        metadata=output("expected with the nominal pressure", Kind.POWER, basis="gross")
    )
    expected_gross_W: float = field(metadata=output("expected at that pressure", Kind.POWER, basis="gross"))
    relative_uncertainty: float = field(
        metadata=output("standard uncertainty of the expected input", Kind.FRACTION)
    )  # pressure, coefficient, gas
    measured_gross_W: float | None = field(metadata=output("measured heat input", Kind.POWER, basis="gross"))
    ratio: float | None = field(metadata=output("measured over expected at that pressure"))
    ratio_uncertainty: float | None = field(
        metadata=output("expanded uncertainty of that ratio", Kind.FRACTION)
    )  # k = 2
    text: str = field(metadata=output("finding"))

    @property
    def above_range(self) -> bool:
        """Whether the pressure read is above the highest of its range."""
        return self.highest_Pa is not None and self.measured_pressure_Pa > self.highest_Pa


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
    return flow(gas or Flowing(appliance.supply.gas), orifice.diameter_m, conditions, law, orifice.count)


def supply_of(appliance: Appliance) -> SupplyPressure | None:
    """The row of supply pressures that an appliance's gas and pressure belong to."""
    gas, at = appliance.supply.gas, PRESETS["ISO_15_15"]
    found = gas.properties(at) if isinstance(gas, DeclaredGas) else properties(gas, at)
    fractions = {} if isinstance(gas, DeclaredGas) else gas.composition.as_dict()
    families = [group.code for group in groups_of_gas(found.gross_wobbe_J_per_m3, fractions)]
    own = appliance.tables.supply_pressures
    return match_pressure(appliance.supply.gauge_pressure_Pa, families, own=own, region=appliance.region)


@dataclass(frozen=True, slots=True, kw_only=True)
class ManifoldRange:
    """The manifold pressure that a regulator in its place should hold with a burner on, gauge."""

    low_Pa: float
    high_Pa: float
    source: str


def manifold_range(appliance: Appliance) -> ManifoldRange:
    """What the regulator should hold: set point to droop of the file's own, else a tenth about the nominal.

    A regulator of the file: from its set point less the droop, at rated flow, to its set point, and on both sides
    the spread of the setting. The range of the supply is wider: it is what the regulator may be fed with.

    >>> from burnerlab.appliance import demonstration
    >>> held = manifold_range(demonstration())
    >>> round(held.low_Pa), round(held.high_Pa)
    (1609, 1857)
    """
    train, nominal = appliance.supply.train, appliance.supply.gauge_pressure_Pa
    setting = appliance.spreads.get("pressure") or default_spreads()["pressure"]
    around = setting.half_width * (2.0 if setting.shape == "normal" else 1.0)
    if train is not None and train.regulator is not None:
        set_point, droop = train.regulator.set_point_Pa, train.regulator.droop_Pa
        return ManifoldRange(
            low_Pa=(set_point - droop) * (1.0 - around),
            high_Pa=set_point * (1.0 + around),
            source=f"set point and droop of the file's regulator, setting ±{100 * around:.2g} %",
        )
    limit = bench_limit("manifold pressure")
    return ManifoldRange(
        low_Pa=limit.low * nominal, high_Pa=limit.high * nominal, source=f"{limit.what}: {limit.source}"
    )


def highest_pressure_Pa(appliance: Appliance) -> float | None:
    """Highest gauge pressure of the range of the supply, of the file or of its row; None where none is known."""
    row = supply_of(appliance)
    return appliance.supply.high_gauge_pressure_Pa or (row.high_Pa if row else None)


def manifold_check(
    appliance: Appliance,
    measured_pressure_Pa: float,
    burner: str | None = None,
    measured_gross_W: float | None = None,
    measured_uncertainty: float = READING_U,
) -> ManifoldCheck:
    """Expected input from the pressure read and the orifices of the file, against the measured one.

    measured_pressure_Pa : gauge [Pa]; burner : one of the kind, None for all burners together
    measured_gross_W : heat input by meter or scale [W], None when there is none
    measured_uncertainty : relative standard, of that heat input [-]
    The pressure is judged against what the regulator should hold, the input against its interval of k = 2.
    Raises UserError for a burner the appliance has not, and a pressure that is not above 0.

    >>> from burnerlab.appliance import demonstration
    >>> check = manifold_check(demonstration(), 4 * 1743.6, "tile broiler")
    >>> check.expected_gross_W / check.nominal_gross_W
    1.992
    """
    if not measured_pressure_Pa > 0.0:
        raise UserError(Problem("must be above 0", pressure_words(measured_pressure_Pa), "manifold pressure"))
    nominal = expected_at(appliance, appliance.supply.gauge_pressure_Pa, burner)
    held, expected = manifold_range(appliance), expected_at(appliance, measured_pressure_Pa, burner).gross_W
    u_Pa = instruments()["manifold pressure"].standard_uncertainty
    spread = {**default_spreads(), **appliance.spreads}
    units = [spread[name].half_width / DIVISOR[spread[name].shape] for name in ("coefficient", "wobbe")]
    u = math.hypot(0.5 * u_Pa / measured_pressure_Pa, *units)
    ratio = None if measured_gross_W is None else measured_gross_W / expected
    wide = None if ratio is None else 2.0 * math.hypot(u, measured_uncertainty)
    return ManifoldCheck(
        burners=tuple(one.name for one in nominal.burners),
        measured_pressure_Pa=measured_pressure_Pa,
        nominal_pressure_Pa=appliance.supply.gauge_pressure_Pa,
        pressure_uncertainty_Pa=2.0 * u_Pa,
        pressure_verdict=_verdict(measured_pressure_Pa, 2.0 * u_Pa, held),
        pressure_low_Pa=held.low_Pa,
        pressure_high_Pa=held.high_Pa,
        pressure_source=held.source,
        highest_Pa=highest_pressure_Pa(appliance),
        nominal_gross_W=nominal.gross_W,
        expected_gross_W=expected,
        relative_uncertainty=u,
        measured_gross_W=measured_gross_W,
        ratio=ratio,
        ratio_uncertainty=wide,
        text=_text(ratio, wide),
    )


def pressure_stops(check: ManifoldCheck) -> tuple[StopNotice, ...]:
    """The stop of a manifold pressure above the highest of its range; none where no range is known."""
    if not check.above_range or check.highest_Pa is None:
        return ()
    read = pressure_words(check.measured_pressure_Pa)
    return (stop_notice("pressure", read=read, limit=pressure_words(check.highest_Pa)),)


def _verdict(pressure_Pa: float, expanded_Pa: float, expected: ManifoldRange) -> Verdict:
    """Outside beyond the range, within where the whole interval is inside, near between."""
    if not expected.low_Pa <= pressure_Pa <= expected.high_Pa:
        return Verdict.OUTSIDE
    inside = expected.low_Pa <= pressure_Pa - expanded_Pa and pressure_Pa + expanded_Pa <= expected.high_Pa
    return Verdict.WITHIN if inside else Verdict.NEAR


def _text(ratio: float | None, wide: float | None) -> str:
    if ratio is None or wide is None:
        return "no measured input to hold against it"
    said = f"measured over expected at this pressure: {ratio:.3f} ± {wide:.3f}"
    if ratio * (1.0 - wide) > 1.0:
        return f"{said}; more than this pressure gives through these orifices: orifice, gas, leak or reading"
    if ratio * (1.0 + wide) < 1.0:
        return (
            f"{said}; less than this pressure gives through these orifices: orifice, hole, valve or reading"
        )
    return f"{said}; pressure and orifices account for the reading within its uncertainty"
