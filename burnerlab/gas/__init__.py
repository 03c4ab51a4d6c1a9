"""What is this gas: composition, heating values, density, Wobbe index, air and products."""

from __future__ import annotations

from burnerlab.gas.arrays import mixture_arrays
from burnerlab.gas.composition import Composition
from burnerlab.gas.declared import DeclaredGas, DeclaredProperties
from burnerlab.gas.gas import Gas
from burnerlab.gas.library import fuels, gas_from_mapping, load
from burnerlab.gas.mixing import blend, mix, read_mix
from burnerlab.gas.properties import GasProperties, MixtureArrays, properties

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
