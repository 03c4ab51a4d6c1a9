"""Printed figures of the statistics behind a calibration."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from burnerlab.bench.reading_fit import outlying


def outliers_named(given: Mapping[str, Any]) -> float:
    """How many of some figures stand apart from the others."""
    values = np.array(given["values"], dtype=np.float64)
    return float(outlying(values, np.arange(values.size), given["level"]).size)


MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {"outliers named": outliers_named}
