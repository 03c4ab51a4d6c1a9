"""What is this gas: composition, heating values, density, Wobbe index, air and products."""

from __future__ import annotations

from burnerlab.gas.composition import Composition
from burnerlab.gas.gas import DeclaredGas, DeclaredProperties, Gas
from burnerlab.gas.library import blend, fuels, gas_from_mapping, load, mix, read_mix
from burnerlab.gas.properties import GasProperties, MixtureArrays, mixture_arrays, properties

__all__ = [
    "Composition",
    "DeclaredGas",
    "DeclaredProperties",
    "Gas",
    "GasProperties",
    "MixtureArrays",
    "blend",
    "fuels",
    "gas_from_mapping",
    "load",
    "mix",
    "mixture_arrays",
    "properties",
    "read_mix",
]
