"""Change an appliance to another gas: an orifice for every burner, and what follows from it."""

from __future__ import annotations

from dataclasses import replace
from typing import Unpack

import burnerlab
from burnerlab.appliance.assemble import assemble
from burnerlab.appliance.conversion.job import Job, prepare
from burnerlab.appliance.gasfacts import AnyGas
from burnerlab.appliance.model import Appliance
from burnerlab.appliance.result import Conversion, Step
from burnerlab.appliance.steps import convert_burner
from burnerlab.appliance.target import ConversionTarget, Options
from burnerlab.gas.library import gas_of
from burnerlab.quantity import Quantity


def convert(
    appliance: Appliance, to_gas: AnyGas | str, gauge_pressure_Pa: Quantity, **options: Unpack[Options]
) -> Conversion:
    """Change an appliance to another gas and pressure; see ``convert_to``.

    appliance : from ``read_appliance``
    to_gas : a gas, or the name of one in the library
    gauge_pressure_Pa : nominal, at the manifold [Pa]
    options : the other fields of a ``ConversionTarget``
    Returns a Conversion. Raises UserError.

    >>> from burnerlab.appliance import demonstration
    >>> cart = convert(demonstration(), "propane", 2740.0)
    >>> all(-0.05 <= burner.deviation <= 0.05 for burner in cart.burners)
    True
    """
    return convert_to(
        appliance, ConversionTarget(gas=gas_of(to_gas), gauge_pressure_Pa=gauge_pressure_Pa, **options)
    )


def convert_to(appliance: Appliance, target: ConversionTarget) -> Conversion:
    """Change an appliance to what a ``ConversionTarget`` says.

    Each burner's orifice is sized for its rating times the factor of the altitude policy,
    A = I/(n K eps H sqrt(2 rho1 dp)), and the drill nearest in heat input is taken.

    Returns a Conversion. Raises UserError for a pressure, altitude, gas, drill or policy that cannot be used.
    """
    job = prepare(appliance, target)
    return assemble(job, steps_of(job), burnerlab.__version__)


def changed(appliance: Appliance, target: ConversionTarget, *, exact: bool = False) -> Appliance:
    """The appliance after the change: new gas, pressure and site, and the drills taken (or the exact orifices).

    Its rates are the rates of the file on the file's basis; its own range of supply pressure is the target's.

    >>> from burnerlab.appliance import demonstration, supplied
    >>> propane = ConversionTarget(gas=supplied("propane", 2740.0).gas, gauge_pressure_Pa=2740.0)
    >>> changed(demonstration(), propane).burners[0].orifice.drill
    '1.00 mm'
    """
    job = prepare(appliance, target)
    return changed_by(job, steps_of(job), exact=exact)


def steps_of(job: Job) -> tuple[Step, ...]:
    """Every burner of a job changed, in the order of the file."""
    return tuple(convert_burner(job, burner) for burner in job.appliance.burners)


def changed_by(job: Job, steps: tuple[Step, ...], *, exact: bool = False) -> Appliance:
    """The appliance after a job from the burners it has."""
    appliance, target, site = job.appliance, job.target, job.new_site
    burners = []
    for step in steps:
        burner, diameter, drill = step.burner, step.choice.diameter_m, step.choice.drill
        if exact:
            diameter, drill = step.sized.diameter_m, ""
        coefficient = burner.orifice.coefficient if target.coefficient is None else target.coefficient
        orifice = replace(burner.orifice, diameter_m=diameter, drill=drill, coefficient=coefficient)
        burners.append(replace(burner, orifice=orifice))
    supply = replace(
        appliance.supply,
        gas=target.gas,
        gauge_pressure_Pa=target.gauge_pressure_Pa,
        low_gauge_pressure_Pa=job.pressures.low_Pa,
        high_gauge_pressure_Pa=job.pressures.high_Pa,
        altitude_m=site.altitude_m,
        ambient_pressure_Pa=site.ambient_pressure_Pa,
        gas_temperature_K=site.gas_temperature_K,
        allow_high_pressure=appliance.supply.allow_high_pressure or target.allow_high_pressure,
        train=job.new_train.train,
    )
    limits = replace(
        appliance.limits,
        altitude_policy=job.policy.policy or None,
        tolerance=job.tolerance,
        drills=target.drills or appliance.limits.drills,
    )
    return replace(appliance, supply=supply, burners=tuple(burners), limits=limits)
