"""What the project file of a model says of a reading: the rating, what the gas is worth, the pressure at the meter."""

from __future__ import annotations

from burnerlab.appliance.flowing import Flowing
from burnerlab.appliance.model import Appliance
from burnerlab.bench.decision import DecisionRule, Rating, bench_limit
from burnerlab.bench.expected import each_burner
from burnerlab.bench.heat import HeatContent, heat_content
from burnerlab.bench.unit import is_LP
from burnerlab.gas import DeclaredGas
from burnerlab.quantity import PRESETS


def rating_of(appliance: Appliance, burner: str | None, rule: DecisionRule, unit: str = "kW") -> Rating:
    """Rated heat input of one burner of the kind, or of all together, with the band of the file.

    burner : name of the kind, None for all burners; unit : in which sentences print it
    Raises UserError for a burner the appliance has not.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.bench.decision import decision_rule
    >>> rating_of(demonstration(), "stock-pot ring", decision_rule()).heat_input_W
    8792.13
    """
    return Rating(
        heat_input_W=sum(one.rate_W for one in each_burner(appliance, burner)),
        basis=appliance.rating,
        tolerance=appliance.limits.tolerance,
        rule=rule,
        unit=unit,
    )


def heat_of(appliance: Appliance) -> HeatContent:
    """What the gas of the file is worth, at its own reference state or at 15 C / 15 C."""
    gas = appliance.supply.gas
    return heat_content(gas, gas.reference if isinstance(gas, DeclaredGas) else PRESETS["ISO_15_15"])


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
