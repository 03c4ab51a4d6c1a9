"""The demonstration: an invented cooking cart for market stalls, shipped with the package."""

from __future__ import annotations

from pathlib import Path

from burnerlab.appliance.model import Appliance
from burnerlab.appliance.read import read_appliance
from burnerlab.tables import package_dir


def demonstration_path() -> Path:
    """The project file of the demonstration."""
    return package_dir() / "appliance" / "demo.toml"


def demonstration() -> Appliance:
    """The demonstration appliance: six burners on natural gas at 7 in w.c., at sea level.

    >>> demonstration().supply.gas.name
    'natural-gas-typical'
    """
    return read_appliance(demonstration_path())
