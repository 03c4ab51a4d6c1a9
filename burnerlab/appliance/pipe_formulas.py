"""A hose or pipe of the supply beside the pipe formulas of the trade; Darcy and Colebrook stay what is used."""

from __future__ import annotations

from pathlib import Path

from burnerlab.appliance.gasfacts import AnyGas, properties_of
from burnerlab.quantity import PRESETS
from burnerlab.supply.crosscheck import Line, constants, low_pressure_flows
from burnerlab.supply.piping import PipeFlow

BASE = "US_60F_14p696_dry"  # reference state of the volumes these formulas are printed for


def beside_formulas(
    passing: PipeFlow, gas: AnyGas, gauge_pressure_Pa: float, own: Path | None = None
) -> tuple[tuple[str, float], ...]:
    """What each formula lets through at the friction of a run, over the flow that is there; by name [-].

    passing : the run at its flow; its fittings are left out, for the formulas know none
    gauge_pressure_Pa : at its inlet; nothing above the range of the low-pressure formulas, or without flow
    own : file of their constants in place of the table ``friction_formulas``
    """
    pipe = passing.pipe
    if (
        passing.drop_Pa <= 0.0
        or not gauge_pressure_Pa < constants("code low pressure", own)["highest pressure"]
    ):
        return ()
    found = properties_of(gas, PRESETS[BASE])
    along = passing.friction_factor * pipe.length_m / pipe.diameter_m
    friction_Pa = passing.drop_Pa * along / (along + pipe.loss_coefficient)
    line = Line(
        length_m=pipe.length_m,
        diameter_m=pipe.diameter_m,
        relative_density=found.relative_density,
        viscosity_Pa_s=passing.viscosity_Pa_s,
    )
    there = passing.mass_flow_kg_per_s / found.density_kg_per_m3
    flows = low_pressure_flows(line, friction_Pa, gauge_pressure_Pa, own).flows_m3_per_s
    return tuple((name, flow / there) for name, flow in flows.items())
