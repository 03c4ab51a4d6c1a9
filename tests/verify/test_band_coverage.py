"""How many measured values lie inside the stated band at coverage factor 2, and whether the band is wider than needed.

Sets of burning velocity measured by others (``shared/flame_speeds.csv``, sources there), the only quantity of a burner
whose measured values the project holds as a set. The stated errors of methane and propane were read off these sets:
the test shows that band and sets agree, and is no independent measure of either.
"""

from __future__ import annotations

import csv
import json
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from burnerlab.flame.burning_velocity import burning_velocity_errors, flame_states
from burnerlab.gas import mix
from burnerlab.tables import package_dir

COVERAGE, K = 0.95, 2.0
ENOUGH = 20  # points of several sets, from which a width can be said
SETS, POINT = "burning velocity against a set", "burning velocity"


@cache
def _measured() -> dict[str, dict[tuple[str, float, float, float], float]]:
    """By fuel: source, equivalence ratio, temperature [K], pressure [Pa] and the burning velocity [m/s] there."""
    found: dict[str, dict[tuple[str, float, float, float], float]] = {}
    path = package_dir().parent / "shared" / "flame_speeds.csv"
    with path.open(encoding="utf-8") as opened:
        for row in csv.DictReader(line for line in opened if not line.startswith("#")):
            if row["provenance"] != "measured" or row["measure"] not in (SETS, POINT):
                continue
            inputs = json.loads(row["inputs"])
            (fuel,) = inputs["mix"]
            points = inputs.get("points") or [[inputs["equivalence_ratio"], float(row["printed"])]]
            state = inputs["unburnt_temperature_K"], inputs["pressure_Pa"]
            for ratio, speed in points:
                found.setdefault(fuel, {})[(row["source"], ratio, *state)] = speed / 100.0
    return found


def _standard_scores(fuel: str) -> NDArray[np.float64]:
    """Departure of the table from each measured value over the stated standard error [-]."""
    points = _measured()[fuel]
    gas = mix({fuel: 1.0}, per="mole")
    ratios, temperatures, pressures = (np.array([key[i] for key in points]) for i in (1, 2, 3))
    speeds = flame_states(gas, ratios, temperatures, pressures).burning_velocity_m_per_s
    errors = burning_velocity_errors(gas, ratios, temperatures)
    off = speeds / np.array(list(points.values())) - 1.0
    return np.asarray(np.abs(off) / errors)


@pytest.mark.parametrize("fuel", ["methane", "propane"])
def test_measured_burning_velocities_lie_inside_the_band_stated(fuel: str) -> None:
    assert np.mean(_standard_scores(fuel) <= K) >= COVERAGE


def test_the_band_of_methane_is_not_wider_than_twice_what_its_measured_sets_need() -> None:
    """84 points of several sets. Propane has 8 of one set, from which no width is judged."""
    enough = [fuel for fuel, points in _measured().items() if len(points) >= ENOUGH]
    assert enough == ["methane"]
    assert K / np.quantile(_standard_scores("methane"), COVERAGE) <= 2.0
