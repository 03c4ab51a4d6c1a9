"""The demonstration on natural gas, and changed to propane, which comes from a cylinder that can be weighed."""

from __future__ import annotations

from burnerlab.appliance import Appliance, ConversionTarget, changed, demonstration
from burnerlab.gas import load

LP = {"model": "lantern-square-6-2", "supply_label": "propane"}
"""What a form says of the second of them."""


def on_both_gases(file: Appliance | None = None) -> tuple[Appliance, Appliance]:
    """A file on its gas and on propane at 27.4 mbar."""
    own = demonstration() if file is None else file
    target = ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0, train="")
    return own, changed(own, target)
