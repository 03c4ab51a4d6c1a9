"""Measures of the bench record: limits of a control chart, capability and its intervals."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from burnerlab.bench.record.chart import (
    capability,
    control_limits,
    cp_interval,
    cpk_interval,
    drift,
    drift_rules,
    factors,
)


def chart_limit(given: Mapping[str, Any]) -> float:
    """Chart of individuals: centre, limits, mean moving range."""
    return float(getattr(control_limits(given["values"]), given["of"]))


def chart_factor(given: Mapping[str, Any]) -> float:
    """Factor of a chart with moving ranges of two."""
    return factors()[given["name"]]


def mean_range_of_two(given: Mapping[str, Any]) -> float:
    """Mean range of two normal values over sigma, by quadrature."""
    import numpy as np

    z = np.linspace(0.0, given["upto"], given["points"])
    density = np.exp(-z * z / 4.0) / np.sqrt(np.pi)  # of the range of two: half normal with sigma sqrt 2
    step = z[1] - z[0]
    mean = float(np.sum(z * density) * step)  # the ends contribute nothing
    if given.get("of") == "D4":
        square = float(np.sum(z * z * density) * step)
        return 1.0 + 3.0 * float(np.sqrt(square - mean * mean)) / mean
    return mean


def capability_index(given: Mapping[str, Any]) -> float:
    """Capability index of a sample with a given mean and standard deviation."""
    mean, sigma = given["mean"], given["sigma"]
    # three values with exactly this mean and sample standard deviation
    found = capability([mean - sigma, mean, mean + sigma], given["low"], given["high"])
    value = getattr(found, given["of"])
    assert value is not None
    return float(value)


def cp_end(given: Mapping[str, Any]) -> float:
    """End of the confidence interval of Cp."""
    return float(getattr(cp_interval(given["cp"], given["count"], given["level"]), given["end"]))


def cpk_end(given: Mapping[str, Any]) -> float:
    """End of the confidence interval of Cpk."""
    return float(getattr(cpk_interval(given["cpk"], given["count"], given["level"]), given["end"]))


def sample_capability_end(given: Mapping[str, Any]) -> float:
    """Capability of measured values, or an end of its confidence interval."""
    found = capability(given["values"], given["low"], given["high"], given["level"])
    if given["of"] in ("cp", "cpk"):
        return float(getattr(found, given["of"]))
    return float(getattr(getattr(found, given["of"]), given["end"]))


def first_hit(given: Mapping[str, Any]) -> float:
    """Number of the value that completes a rule of drift, from 1."""
    rules = [rule for rule in drift_rules() if rule.name == given["rule"]]
    hits = drift(given["values"], 0.0, 1.0, rules)
    return float(hits[0].index + 1) if hits else 0.0


MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "control chart of individuals": chart_limit,
    "control chart factor": chart_factor,
    "control chart factor by quadrature": mean_range_of_two,
    "capability index": capability_index,
    "Cp interval": cp_end,
    "Cpk interval": cpk_end,
    "capability of a sample": sample_capability_end,
    "rule of drift": first_hit,
}
