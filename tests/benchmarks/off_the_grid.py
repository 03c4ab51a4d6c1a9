"""How far the flame tables are from direct solves at random states off their grid.

One kind of gas, so many states of each of its gases: ``python tests/benchmarks/off_the_grid.py pure 4``. A third
number seeds the states (2026 when left out). The kinds are those of the table ``flame_accuracy``. A state costs 1 to
20 seconds. Both sides are our own: burning velocities measured elsewhere are in shared/.
"""

from __future__ import annotations

import sys

import numpy as np

from burnerlab.flame.blend import HYDROCARBONS
from burnerlab.flame.flame import from_tables, solved
from burnerlab.gas import Composition

LIMIT_s = 600.0
PHI, TEMPERATURE_K, PRESSURE_Pa = (0.65, 1.9), (256.0, 470.0), (55e3, 109e3)
HOT_K = (480.0, 690.0)  # of the kind "hot"
KINDS: dict[str, list[dict[str, float]]] = {
    "pure": [{name: 1.0} for name in (*HYDROCARBONS, "hydrogen")],
    "hydrocarbons": [
        {"methane": 0.92, "ethane": 0.06, "propane": 0.02},
        {"methane": 0.6, "propane": 0.4},
        {"propane": 0.93, "n-butane": 0.04, "propylene": 0.03},
        {"propane": 0.6, "propylene": 0.4},
        {"n-butane": 0.5, "isobutane": 0.5},
        {"methane": 0.8, "ethylene": 0.2},
    ],
    "hydrogen": [
        {"methane": 0.9, "hydrogen": 0.1},
        {"methane": 0.77, "hydrogen": 0.23},
        {"methane": 0.45, "hydrogen": 0.55},
        {"methane": 0.1, "hydrogen": 0.9},
        {"propane": 0.75, "hydrogen": 0.25},
        {"propane": 0.3, "hydrogen": 0.7},
    ],
    "carbon-monoxide": [
        {"carbon monoxide": 0.97, "hydrogen": 0.03},
        {"carbon monoxide": 0.5, "hydrogen": 0.5},
        {"methane": 0.9, "carbon monoxide": 0.1},
        {"methane": 0.43, "carbon monoxide": 0.57},
        {"methane": 0.18, "carbon monoxide": 0.82},
        {"methane": 0.3, "carbon monoxide": 0.5, "hydrogen": 0.2},
        {"propane": 0.35, "carbon monoxide": 0.65},
        {"methane": 0.3, "hydrogen": 0.55, "carbon monoxide": 0.15},
        {"methane": 0.25, "hydrogen": 0.4, "carbon monoxide": 0.35},
        {"methane": 0.35, "ethylene": 0.05, "hydrogen": 0.5, "carbon monoxide": 0.1},
    ],
    "inert": [
        {"methane": 0.86, "nitrogen": 0.14},
        {"methane": 0.65, "carbon dioxide": 0.35},
        {"methane": 0.26, "hydrogen": 0.5, "nitrogen": 0.24},
        {"methane": 0.35, "hydrogen": 0.35, "carbon dioxide": 0.3},
        {"propane": 0.6, "nitrogen": 0.4},
        {"hydrogen": 0.8, "nitrogen": 0.2},
    ],
    "hot": [
        {"methane": 1.0},
        {"propane": 1.0},
        {"methane": 0.92, "ethane": 0.05, "propane": 0.015, "nitrogen": 0.01, "carbon dioxide": 0.005},
        {"propane": 0.6, "n-butane": 0.25, "isobutane": 0.15},
        {"methane": 0.77, "hydrogen": 0.23},
        {"methane": 0.45, "hydrogen": 0.55},
        {"propane": 0.75, "hydrogen": 0.25},
        {"methane": 0.65, "carbon dioxide": 0.35},
    ],
}


def deviations_percent(kind: str, count: int, seed: int) -> list[float]:
    """Tables over direct solves, gas by gas; each is printed as it comes."""
    rng, temperature_K = np.random.default_rng(seed), HOT_K if kind == "hot" else TEMPERATURE_K
    found = []
    for gas in KINDS[kind] * count:
        state = rng.uniform(*PHI), rng.uniform(*temperature_K), rng.uniform(*PRESSURE_Pa)
        mixture = Composition.of(gas, per="mole")
        own = solved(mixture, *state, LIMIT_s).burning_velocity_m_per_s
        found.append(100.0 * (from_tables(mixture, *state).burning_velocity_m_per_s / own - 1.0))
        where = f"ratio {state[0]:.3f}, {state[1]:.0f} K, {state[2] / 1e3:.0f} kPa"
        print(f"{found[-1]:+6.2f} %  {where}  {gas}", flush=True)
    return found


if __name__ == "__main__":
    asked = sys.argv[1]
    off = np.array(deviations_percent(asked, int(sys.argv[2]), int((sys.argv[3:] or ["2026"])[0])))
    worst = np.abs(off).max()
    print(
        f"{asked}: {off.size} states, root mean square {np.sqrt(np.mean(off**2)):.2f} %, largest {worst:.2f} %"
    )
