"""What the project file of a model says of a reading: the rating, what the gas is worth, the pressure at the meter."""

from __future__ import annotations

from dataclasses import replace

from burnerlab.appliance.flowing import Flowing
from burnerlab.appliance.model import Appliance, Tolerance
from burnerlab.bench.clock import MeterReading
from burnerlab.bench.decision_rule import DecisionRule, Rating, bench_limit
from burnerlab.bench.expected import each_burner, expected_input
from burnerlab.bench.heat import HeatContent, InputMeasured, compared, heat_content
from burnerlab.bench.stop import power_words
from burnerlab.bench.unit import is_LP, turndown_of
from burnerlab.gas import DeclaredGas
from burnerlab.quantity import PRESETS


def rating_of(
    appliance: Appliance, burner: str | None, rule: DecisionRule, unit: str = "kW", *, low: bool = False
) -> Rating:
    """Rated heat input of one burner of the kind, or of all together, with the band of the file.

    burner : name of the kind, None for all burners; unit : in which sentences print it
    low : at the low rate, with the band of low rates as drawn
    Raises UserError for a burner the appliance has not, and for a low rate that the file does not name.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.bench.clock import MeterReading
    >>> from burnerlab.bench.decision_rule import decision_rule
    >>> rating_of(demonstration(), "stock-pot ring", decision_rule()).heat_input_W
    8792.13
    """
    return Rating(
        words="low rate" if low else "rating",
        heat_input_W=sum(
            one.rate_W * (turndown_of(one) if low else 1.0) for one in each_burner(appliance, burner)
        ),
        basis=appliance.rating,
        tolerance=low_rate_band() if low else appliance.limits.tolerance,
        rule=rule,
        unit=unit,
    )


def low_rate_band() -> Tolerance:
    """The band about a low rate: two standard deviations of burners as drawn."""
    row = bench_limit("low rate")
    return Tolerance(low=-2.0 * row.high, high=2.0 * row.high, source=f"twice the {row.what}: {row.source}")


SAME_RATING = 0.01  # two figures of one rating differ by their rounding


def with_file_comparison(
    measured: InputMeasured, appliance: Appliance, burner: str | None, *, low: bool = False
) -> InputMeasured:
    """What was measured, held against the file's own rating too where the one it was held against is another."""
    held = measured.comparison
    if held is None:
        return measured
    own = rating_of(appliance, burner, held.rating.rule, held.rating.unit, low=low)
    own = replace(own, tolerance=held.rating.tolerance)
    to_gross = {"gross": 1.0, "net": measured.heat.net_to_gross}
    there, here = (one.heat_input_W / to_gross[one.basis] for one in (own, held.rating))
    if abs(here / there - 1.0) <= SAME_RATING:
        return measured
    return replace(
        measured, file_comparison=compared(measured.budget, measured.heat, own, measured.correction, "")
    )


def near_low_rate(appliance: Appliance, burner: str | None, gross_W: float) -> str:
    """The sentence for a reading at full that is nearer to the low rate of the file; "" for any other.

    >>> from burnerlab.appliance import demonstration
    >>> near_low_rate(demonstration(), "griddle tube left", 1250.0)
    'near the low rate of the file, 1.22 kW (4.17 kBtu/h) gross: read at low?'
    """
    by_file = expected_input(appliance, burner)
    if any(one.turndown is None for one in by_file.burners):
        return ""
    low_W = float(by_file.each_W @ [one.turndown or 1.0 for one in by_file.burners])
    if (
        abs(gross_W / low_W - 1.0) > bench_limit("overfire at low").high - 1.0
        or low_W > 0.9 * by_file.gross_W
    ):
        return ""
    return f"near the low rate of the file, {power_words(low_W)}: read at low?"


def heat_of(appliance: Appliance) -> HeatContent:
    """What the gas of the file is worth, at its own reference state or at 15 C / 15 C."""
    gas = appliance.supply.gas
    return heat_content(gas, gas.reference if isinstance(gas, DeclaredGas) else PRESETS["ISO_15_15"])


def with_file_pressures(reading: MeterReading, appliance: Appliance) -> MeterReading:
    """The reading, with the pressure at the meter and of the surroundings by the file where they were not read.

    >>> from burnerlab.appliance import demonstration
    >>> round(with_file_pressures(MeterReading(dial_m3=0.05, times_s=(214.0,)), demonstration()).gauge_pressure_Pa)
    2491
    """
    if reading.gauge_pressure_Pa is None:
        at_meter = meter_pressure_Pa(appliance)
        reading = replace(reading, gauge_pressure_Pa=at_meter, meter_pressure_of_file=at_meter is not None)
    if reading.ambient_pressure_Pa is None:
        ambient = appliance.supply.ambient_pressure_Pa
        reading = replace(reading, ambient_pressure_Pa=ambient, ambient_pressure_of_file=True)
    return reading


def meter_pressure_Pa(appliance: Appliance) -> float | None:
    """Gauge pressure at the meter by the inlet of the supply train [Pa]; None where the file does not say it.

    The inlet is the pressure before everything in the file: at the meter, or at a cylinder. That of LP gas is a
    meter's only up to the limit ``LP at the meter`` of the table ``bench_limits``.

    >>> from burnerlab.appliance import demonstration
    >>> meter_pressure_Pa(demonstration())
    2490.89
    """
    train = appliance.supply.train
    inlet = None if train is None else train.inlet_gauge_pressure_Pa
    if inlet is None:
        return None
    at_cylinder = is_LP(Flowing(appliance.supply.gas)) and inlet > bench_limit("LP at the meter").high
    return None if at_cylinder else inlet
