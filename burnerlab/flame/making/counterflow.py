"""Extinction of a primary mixture that flows against air: the flame is strained until it goes out.

A jet of gas and primary air meets a jet of air, as at the rim of a port. Two-point control lowers the temperature at
two points of the flame step by step and takes the strain as an unknown, so that the turning point is passed without a
failed step. Strain: the largest gradient of the axial velocity in the air before the flame, du/dx; the radial gradient
is half of it. The chemistry is the narrow list of species.
"""

from __future__ import annotations

import csv
import hashlib
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor, as_completed
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.flame.making.plan import BASE_TEMPERATURE_K, BASE_PRESSURE_Pa
from burnerlab.flame.mechanism import SPECIES, mechanism_hash, narrow_cut, solution
from burnerlab.flame.profile import AIR, FlameState

FloatArray = NDArray[np.float64]
Progress = Callable[[int, int, str], None]

WIDTH_m, AIR_VELOCITY_m_per_s = 0.02, 1.0  # of the weakly strained flame everything starts from
COARSE = {"ratio": 4.0, "slope": 0.2, "curve": 0.4, "prune": 0.03}
HALVED = {"ratio": 2.0, "slope": 0.1, "curve": 0.2, "prune": 0.015}
CONTROL_SPAN = 0.9  # of the temperature span: where the two points lie
STEP_K = 24.0
MOST_STEPS = 80
PAST_EXTINCTION = 0.97  # of the largest strain: there the turning point is certain
COMPARED_STRAIN_per_s, COMPARED_K = 400.0, 1500.0
"""Strain, and temperature on the air side, at which carbon monoxide is compared."""
COLDEST_FLAME_K = 1200.0
CRITERIA = (
    f"two-point control at {CONTROL_SPAN:g} of the span, steps of {STEP_K:g} K, {1e3 * WIDTH_m:g} mm between the jets, "
    f"narrow list of species, mixture-averaged transport; grid {COARSE}, halved {HALVED}"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterflowUnit:
    """One gas at one aeration on one grid: what a worker computes in one go."""

    label: str
    gas: Mapping[str, float]  # component -> mole fraction
    aeration: float  # primary air over stoichiometric air
    is_halved: bool = False

    @property
    def name(self) -> str:
        """File name of its results."""
        return f"{self.label} {self.aeration:g} {'halved' if self.is_halved else 'coarse'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class StrainedFlame:
    """One flame on the way to extinction."""

    strain_per_s: float
    peak_temperature_K: float
    carbon_monoxide: float  # mole fraction at COMPARED_K on the air side
    grid_points: int


AERATIONS = (0.4, 0.55, 0.65)
REFERENCE = ("methane", 0.55)
"""The flame whose carbon monoxide the others are compared with, on the coarse grid."""
MIXTURES: Mapping[str, Mapping[str, float]] = {
    "methane": {"methane": 1.0},
    "propane": {"propane": 1.0},
    "methane hydrogen 0.2": {"methane": 0.8, "hydrogen": 0.2},
    "methane hydrogen 0.5": {"methane": 0.5, "hydrogen": 0.5},
}
OTHER_MIXTURES: Mapping[str, Mapping[str, float]] = {
    "methane hydrogen 0.35": {"methane": 0.65, "hydrogen": 0.35},
    "methane propane 0.2": {"methane": 0.8, "propane": 0.2},
}
"""At REFERENCE's aeration only: blends between the others, which check the rule."""
CHECKED = (("methane", 0.55), ("methane hydrogen 0.5", 0.55))
"""Solved on the halved grid too."""


def units() -> tuple[CounterflowUnit, ...]:
    """Every unit of the table.

    >>> units()[0].name
    'methane 0.4 coarse'
    """
    coarse = [
        CounterflowUnit(label=label, gas=gas, aeration=aeration)
        for label, gas in MIXTURES.items()
        for aeration in AERATIONS
    ]
    halved = [
        CounterflowUnit(label=label, gas=MIXTURES[label], aeration=aeration, is_halved=True)
        for label, aeration in CHECKED
    ]
    others = [
        CounterflowUnit(label=label, gas=gas, aeration=REFERENCE[1]) for label, gas in OTHER_MIXTURES.items()
    ]
    return (*coarse, *halved, *others)


def air_side_strain_per_s(grid_m: FloatArray, velocity_m_per_s: FloatArray) -> float:
    """Largest gradient of the axial velocity in the air before the flame [1/s].

    grid_m : positions, the air enters at the last [m]; velocity_m_per_s : axial velocity, that of the air negative.
    The air slows from its inlet to where the heat of the flame speeds it up again; the steepest fall before that.

    >>> air_side_strain_per_s(np.array([0.0, 1.0, 2.0, 3.0]), np.array([-1.0, -0.5, -2.5, -3.5]))
    1.5
    """
    gradient = np.gradient(velocity_m_per_s, grid_m)
    rising = np.flatnonzero(gradient >= 0.0)
    first = int(rising[-1]) + 1 if rising.size else 0
    return float(np.max(-gradient[first:], initial=0.0))


def to_extinction(unit: CounterflowUnit) -> tuple[StrainedFlame, ...]:
    """The flames from weak strain past extinction, in order.

    Raises CanteraError where a step does not converge before the strain has fallen again.
    """
    flame = _started(unit)
    found = [_strained(flame)]
    flame.two_point_control_enabled = True
    while len(found) < MOST_STEPS:
        span = float(flame.T.max() - flame.T.min())
        control_K = float(flame.T.min()) + CONTROL_SPAN * span
        flame.set_left_control_point(control_K)
        flame.set_right_control_point(control_K)
        flame.left_control_point_temperature -= STEP_K
        flame.right_control_point_temperature -= STEP_K
        flame.solve(loglevel=0)
        found.append(_strained(flame))
        largest = max(point.strain_per_s for point in found)
        if (
            found[-1].strain_per_s < PAST_EXTINCTION * largest
            or found[-1].peak_temperature_K < COLDEST_FLAME_K
        ):
            break
    return tuple(found)


def _started(unit: CounterflowUnit) -> Any:
    """The weakly strained flame, both jets of the same momentum."""
    import cantera

    gas = solution(narrow_cut(unit.gas))
    state = FlameState(
        gas=unit.gas,
        equivalence_ratio=1.0 / unit.aeration,
        unburnt_temperature_K=BASE_TEMPERATURE_K,
        pressure_Pa=BASE_PRESSURE_Pa,
    )
    mixture = {SPECIES[name]: moles for name, moles in state.mixture().items() if moles > 0}
    air = {SPECIES[name]: share for name, share in AIR.items()}
    gas.TPX = BASE_TEMPERATURE_K, BASE_PRESSURE_Pa, mixture
    mixture_density = float(gas.density)
    gas.TPX = BASE_TEMPERATURE_K, BASE_PRESSURE_Pa, air
    air_density = float(gas.density)
    flame: Any = cantera.CounterflowDiffusionFlame(gas, width=WIDTH_m)
    flame.transport_model = "mixture-averaged"
    flame.P = BASE_PRESSURE_Pa
    flame.fuel_inlet.T = flame.oxidizer_inlet.T = BASE_TEMPERATURE_K
    flame.fuel_inlet.X, flame.oxidizer_inlet.X = mixture, air
    flame.fuel_inlet.mdot = float(np.sqrt(mixture_density * air_density)) * AIR_VELOCITY_m_per_s
    flame.oxidizer_inlet.mdot = air_density * AIR_VELOCITY_m_per_s
    flame.set_refine_criteria(**(HALVED if unit.is_halved else COARSE))
    flame.solve(loglevel=0, auto=True)
    return flame


def _strained(flame: Any) -> StrainedFlame:
    grid, temperature = np.array(flame.grid), np.array(flame.T)
    peak = int(np.argmax(temperature))
    names = list(flame.gas.species_names)
    monoxide = np.array(flame.X)[names.index("CO")] if "CO" in names else np.zeros_like(grid)
    outer = slice(None, peak - 1 if peak else None, -1)  # from the air to the peak: temperatures rise
    return StrainedFlame(
        strain_per_s=air_side_strain_per_s(grid, np.array(flame.velocity)),
        peak_temperature_K=float(temperature[peak]),
        carbon_monoxide=float(np.interp(COMPARED_K, temperature[outer], monoxide[outer])),
        grid_points=grid.size,
    )


def extinction_strain_per_s(strains_per_s: Sequence[float]) -> float:
    """Largest strain of a series that rises and falls: the crest of the parabola through its three largest [1/s].

    >>> round(extinction_strain_per_s([800.0, 850.0, 860.0, 850.0]), 3)
    860.0
    """
    top = int(np.argmax(strains_per_s))
    if not 0 < top < len(strains_per_s) - 1:
        raise ValueError("the strain has not passed its largest value")
    before, here, after = strains_per_s[top - 1 : top + 2]
    return here + (after - before) ** 2 / (8.0 * (2.0 * here - before - after))


def compared_carbon_monoxide(flames: Sequence[StrainedFlame]) -> float:
    """Mole fraction of carbon monoxide at the strain at which fuels are compared, on the strong branch [-]."""
    top = int(np.argmax([flame.strain_per_s for flame in flames]))
    strong = flames[: top + 1]
    return float(
        np.interp(
            COMPARED_STRAIN_per_s,
            [flame.strain_per_s for flame in strong],
            [flame.carbon_monoxide for flame in strong],
        )
    )


# The workshop: each unit in a file of its own, and the table written from them.

TABLE = "counterflow_extinction.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtinctionRow:
    """One row of the table: its fields are the columns."""

    gas: str
    aeration: str
    grid: str
    extinction_strain_per_s: str
    peak_temperature_K: str
    carbon_monoxide_over_methane: str
    grid_points: int
    flames: int
    source: str = "counterflow-flames"
    place: str = "burnerlab.flame.making.counterflow"
    provenance: str = "computed"


def recipe() -> dict[str, str]:
    """What the results depend on besides their units."""
    import cantera

    return {"mechanism": mechanism_hash(), "cantera": str(cantera.__version__), "criteria": CRITERIA}


def stored(folder: Path, unit: CounterflowUnit) -> Path:
    """Where the flames of a unit are kept."""
    key = hashlib.sha256(json.dumps(recipe(), sort_keys=True).encode()).hexdigest()[:16]
    return folder / key / f"{unit.name}.json"


def compute(unit: CounterflowUnit) -> str:
    """Run one unit in a worker; the result is text, so that any executor can carry it."""
    return json.dumps([asdict(flame) for flame in to_extinction(unit)], indent=1)


def run(
    plan: Sequence[CounterflowUnit],
    executor: Executor,
    folder: Path,
    progress: Progress = lambda done, total, name: None,
) -> dict[str, str]:
    """Compute the units not yet in the folder; returns name -> what went wrong for those that failed.

    progress : called with (units done, units in all, name)
    """
    missing = [unit for unit in plan if not stored(folder, unit).is_file()]
    futures = {executor.submit(compute, unit): unit for unit in missing}
    failed, done = {}, len(plan) - len(missing)
    progress(done, len(plan), "")
    for future in as_completed(futures):
        unit, path = futures[future], stored(folder, futures[future])
        try:
            text = future.result()
        except Exception as error:  # one flame that does not converge must not lose the others
            failed[unit.name] = f"{type(error).__name__}: {error}"
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        done += 1
        progress(done, len(plan), unit.name)
    return failed


def flames_of(folder: Path, unit: CounterflowUnit) -> tuple[StrainedFlame, ...]:
    """The flames of a unit kept in the folder."""
    entries = json.loads(stored(folder, unit).read_text(encoding="utf-8"))
    return tuple(StrainedFlame(**entry) for entry in entries)


def write_table(folder: Path, out: Path) -> int:
    """Write the table of every unit found in the folder; returns how many.

    Carbon monoxide is written over that of REFERENCE: it ranks flames, and no figure of it belongs on a page.
    """
    found = [unit for unit in units() if stored(folder, unit).is_file()]
    label, aeration = REFERENCE
    of = compared_carbon_monoxide(
        flames_of(folder, CounterflowUnit(label=label, gas=MIXTURES[label], aeration=aeration))
    )
    made = recipe()
    with (out / TABLE).open("w", encoding="utf-8", newline="") as stream:
        stream.write(
            "# Extinction of a primary mixture against air at 298.15 K and 101.325 kPa; strain: largest axial gradient "
            "du/dx in the air before the flame, the radial one is half.\n"
            f"# {made['criteria']}.\n"
            f"# Carbon monoxide at {COMPARED_K:g} K on the air side at {COMPARED_STRAIN_per_s:g} 1/s over that of "
            f"{label} at {aeration:g}: for ranks only. Cantera {made['cantera']}, mechanism {made['mechanism']}.\n"
        )
        writer = csv.DictWriter(
            stream, [column.name for column in fields(ExtinctionRow)], lineterminator="\n"
        )
        writer.writeheader()
        for unit in found:
            writer.writerow(asdict(_row(unit, flames_of(folder, unit), of)))
    return len(found)


def _row(
    unit: CounterflowUnit, flames: Sequence[StrainedFlame], monoxide_of_reference: float
) -> ExtinctionRow:
    strains = [flame.strain_per_s for flame in flames]
    top = flames[int(np.argmax(strains))]
    return ExtinctionRow(
        gas=unit.label,
        aeration=f"{unit.aeration:g}",
        grid="halved" if unit.is_halved else "coarse",
        extinction_strain_per_s=f"{extinction_strain_per_s(strains):.1f}",
        peak_temperature_K=f"{top.peak_temperature_K:.0f}",
        carbon_monoxide_over_methane=f"{compared_carbon_monoxide(flames) / monoxide_of_reference:.4f}",
        grid_points=top.grid_points,
        flames=len(flames),
    )


def main(folder: Path) -> dict[str, str]:
    """Compute what the folder lacks, one unit after the other, and write the table there; returns what failed."""

    def progress(done: int, total: int, name: str) -> None:
        sys.stderr.write(f"{done} of {total} {name}\n")

    with ThreadPoolExecutor(1) as pool:
        failed = run(units(), pool, folder, progress)
    write_table(folder, folder)
    return failed


if __name__ == "__main__":
    sys.exit("\n".join(f"{name}: {why}" for name, why in main(Path(sys.argv[1])).items()) or None)
