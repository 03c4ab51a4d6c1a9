"""A small project file and targets by name, for the tests of this room."""

from __future__ import annotations

from dataclasses import replace

from burnerlab.appliance import Appliance, ConversionTarget
from burnerlab.gas import load

SMALL = """[appliance]
name = "one ring"
rating = "gross"
[supply]
gas = "propane"
pressure = "11 in w.c."
[[burner]]
name = "ring"
kind = "ring"
rate = "3.5 kW"
orifice = { drill = "#54" }
"""


def target(gas: str, pressure_Pa: float, **options: object) -> ConversionTarget:
    """A target by the name of its gas."""
    return replace(ConversionTarget(gas=load(gas), gauge_pressure_Pa=pressure_Pa), **options)  # type: ignore[arg-type]


def rated_as_it_burns(appliance: Appliance) -> Appliance:
    """The same appliance with every rate what its orifice gives now, so that a change to itself changes nothing."""
    from burnerlab.appliance import convert_to

    supply = appliance.supply
    now = convert_to(
        appliance,
        ConversionTarget(
            gas=supply.gas, gauge_pressure_Pa=supply.gauge_pressure_Pa, allow_high_pressure=True
        ),
    )
    burners = tuple(
        replace(burner, rate_W=result.from_predicted_gross_W)
        for burner, result in zip(appliance.burners, now.burners, strict=True)
    )
    return replace(appliance, burners=burners)
