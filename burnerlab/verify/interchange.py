"""Measures of interchangeability: the factors and indices of the published methods."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from burnerlab.gas import Gas, indices, mix


def _gas(given: Mapping[str, float]) -> Gas:
    return mix(given, per="mole", normalize=True)


def bulletin_factor(given: Mapping[str, Any]) -> float:
    """Factor of AGA Bulletin 36."""
    return float(getattr(indices.bulletin_factors(_gas(given["gas"])), given["factor"]))


def weaver_factor(given: Mapping[str, Any]) -> float:
    """Factor of Weaver."""
    return float(getattr(indices.weaver_factors(_gas(given["gas"])), given["factor"]))


def bulletin_index(given: Mapping[str, Any]) -> float:
    """Interchange index of AGA Bulletin 36."""
    return indices.bulletin_indices(_gas(given["adjustment"]), _gas(given["substitute"]))[given["index"]]


def weaver_index(given: Mapping[str, Any]) -> float:
    """Interchange index of Weaver."""
    return indices.weaver_indices(_gas(given["adjustment"]), _gas(given["substitute"]))[given["index"]]


def incomplete_combustion_factor(given: Mapping[str, Any]) -> float:
    """Dutton's incomplete combustion factor."""
    return indices.incomplete_combustion_factor(given["wobbe_MJ_per_m3"], given["PN"])


def soot_index(given: Mapping[str, Any]) -> float:
    """Dutton's soot index."""
    return indices.soot_index(given["propane_percent"], given["nitrogen_percent"])


MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "bulletin factor": bulletin_factor,
    "weaver factor": weaver_factor,
    "bulletin index": bulletin_index,
    "weaver index": weaver_index,
    "incomplete combustion factor": incomplete_combustion_factor,
    "soot index": soot_index,
}
