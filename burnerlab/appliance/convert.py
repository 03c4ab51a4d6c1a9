"""Change an appliance to another gas: an orifice for every burner, and what follows from it."""

from __future__ import annotations

from typing import Unpack

import burnerlab
from burnerlab.appliance.assemble import assemble
from burnerlab.appliance.gasfacts import AnyGas
from burnerlab.appliance.job import prepare
from burnerlab.appliance.model import Appliance
from burnerlab.appliance.result import Conversion
from burnerlab.appliance.steps import convert_burner
from burnerlab.appliance.target import ConversionTarget, Options
from burnerlab.gas import load


def convert(
    appliance: Appliance, to_gas: AnyGas | str, gauge_pressure_Pa: float, **options: Unpack[Options]
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
    gas = load(to_gas) if isinstance(to_gas, str) else to_gas
    return convert_to(appliance, ConversionTarget(gas=gas, gauge_pressure_Pa=gauge_pressure_Pa, **options))


def convert_to(appliance: Appliance, target: ConversionTarget) -> Conversion:
    """Change an appliance to what a ``ConversionTarget`` says.

    Each burner's orifice is sized for its rating times the factor of the altitude policy,
    A = I/(n K eps H sqrt(2 rho1 dp)), and the drill nearest in heat input is taken.

    Returns a Conversion. Raises UserError for a pressure, altitude, gas, drill or policy that cannot be used.
    """
    job = prepare(appliance, target)
    steps = tuple(convert_burner(job, burner) for burner in appliance.burners)
    return assemble(job, steps, burnerlab.__version__)
