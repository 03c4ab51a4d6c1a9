"""Flame tables made: units of work, their run, and the table put together.

A build can be stopped and taken up again; a unit already computed with the same mechanism, criteria and Cantera is
not computed twice, and the results do not depend on the executor or on the order.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from burnerlab.flame.making.ladder import Ladder, Point, climb, packed, unpacked
from burnerlab.flame.making.plan import (
    BASE_TEMPERATURE_K,
    START,
    BASE_PRESSURE_Pa,
    WorkUnit,
    first_units,
    gases,
    second_units,
)
from burnerlab.flame.mechanism import mechanism_hash
from burnerlab.flame.profile import CURVE_WEIGHT, GROWTH, SIGNIFICANT, Profile
from burnerlab.flame.solver import CRITERIA
from burnerlab.tables import read_csv
from burnerlab.tables.problem import Problem, UserError

# Regenerate the flame tables: units of work through any executor, each kept in a file of its own.

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """What a table depends on besides its state: recorded with it, and compared before a unit is taken from a file."""

    mechanism_hash: str
    cantera: str
    criteria: str
    grid: str

    @classmethod
    def here(cls) -> Recipe:
        """The recipe of this installation."""
        import cantera

        return cls(
            mechanism_hash=mechanism_hash(),
            cantera=str(cantera.__version__),
            criteria=CRITERIA,
            grid=f"bend {CURVE_WEIGHT:g}, growth {GROWTH:g}, species above {SIGNIFICANT:g} by mass",
        )

    def key(self) -> str:
        """Short hash of the recipe."""
        return hashlib.sha256(json.dumps(asdict(self), sort_keys=True).encode()).hexdigest()[:16]


def compute(unit: WorkUnit, seed: bytes | None) -> bytes:
    """Run one unit in a worker; arguments and result are plain bytes, so that any executor can carry them."""
    profile = None if seed is None else seed_from_bytes(seed)
    return ladder_to_bytes(climb(unit, profile))


def ladder_to_bytes(ladder: Ladder) -> bytes:
    """A ladder as the content of an npz file."""
    arrays: dict[str, Any] = {"points": np.array(json.dumps([asdict(point) for point in ladder.points]))}
    for phi, profile in ladder.seeds.items():
        arrays |= {f"{phi:g}/{key}": value for key, value in packed(profile).items()}
    stream = io.BytesIO()
    np.savez_compressed(stream, **arrays)
    return stream.getvalue()


def points_from_bytes(content: bytes) -> tuple[Point, ...]:
    """The points of a stored ladder."""
    with np.load(io.BytesIO(content)) as data:
        return tuple(Point(**entry) for entry in json.loads(str(data["points"])))


def seeds_from_bytes(content: bytes) -> dict[float, Profile]:
    """The profiles of a stored ladder by equivalence ratio."""
    with np.load(io.BytesIO(content)) as data:
        ratios = sorted({key.split("/")[0] for key in data.files if "/" in key}, key=float)
        return {
            float(phi): unpacked(
                {key.split("/")[1]: data[key] for key in data.files if key.startswith(f"{phi}/")}
            )
            for phi in ratios
        }


def seed_to_bytes(profile: Profile) -> bytes:
    """One profile as bytes."""
    stream = io.BytesIO()
    np.savez_compressed(stream, **packed(profile))
    return stream.getvalue()


def seed_from_bytes(content: bytes) -> Profile:
    """The profile of ``seed_to_bytes``."""
    with np.load(io.BytesIO(content)) as data:
        return unpacked(data)


def stored(folder: Path, unit: WorkUnit, recipe: Recipe) -> Path:
    """Where the results of a unit are kept."""
    return folder / recipe.key() / f"{unit.name}.npz"


def run(
    units: Sequence[WorkUnit],
    executor: Executor,
    folder: Path,
    seeds: Mapping[str, bytes] | None = None,
    progress: Progress = lambda done, total, name: None,
) -> dict[str, str]:
    """Compute the units not yet in the folder; returns name -> what went wrong for those that failed as a whole.

    seeds : label of the gas -> profile to start from; without one a ladder starts from nothing
    progress : called with (units done, units in all, name)
    """
    recipe, failed = Recipe.here(), {}
    (folder / recipe.key()).mkdir(parents=True, exist_ok=True)
    (folder / recipe.key() / "recipe.json").write_text(json.dumps(asdict(recipe), indent=1), encoding="utf-8")
    missing = [unit for unit in units if not stored(folder, unit, recipe).is_file()]
    done = len(units) - len(missing)
    progress(done, len(units), "")
    futures = {executor.submit(compute, unit, (seeds or {}).get(unit.label)): unit for unit in missing}
    for future in as_completed(futures):
        unit = futures[future]
        try:
            _write(stored(folder, unit, recipe), future.result())
        except UserError:  # of no unit: the cluster is lost
            raise
        except Exception as error:  # a worker lost or out of memory must not lose the other units
            failed[unit.name] = f"{type(error).__name__}: {error}"
        done += 1
        progress(done, len(units), unit.name)
    return failed


def _write(path: Path, content: bytes) -> None:
    unfinished = path.with_suffix(".part")
    unfinished.write_bytes(content)
    unfinished.replace(path)


def starts(folder: Path, units: Iterable[WorkUnit]) -> dict[str, bytes]:
    """Profiles at the equivalence ratio every ladder starts from, by label, of the units found in the folder."""
    recipe, found = Recipe.here(), {}
    for unit in units:
        path = stored(folder, unit, recipe)
        if path.is_file():
            seeds = seeds_from_bytes(path.read_bytes())
            if START in seeds:
                found[unit.label] = seed_to_bytes(seeds[START])
    return found


# Put the units of a build together: the table of flames and the seed profiles, each with its recipe.

TABLE, SEEDS = "flame_speed.csv", "flame_seeds.npz"
COLUMNS = (
    "gas",
    "unburnt_temperature_K",
    "pressure_Pa",
    "list",
    "equivalence_ratio",
    "burning_velocity_m_per_s",
    "thermal_thickness_m",
    "adiabatic_flame_temperature_K",
    "grid_error",
    "grid_points",
    "species",
    "status",
    "source",
    "place",
    "provenance",
)
SEEDED = ("carbon monoxide hydrogen 0.05",)
"""Blends that have seeds of their own besides the pure fuels."""


def assemble(folder: Path, out: Path) -> dict[str, int]:
    """Write the table and the seeds of every unit found in the folder; returns counts for people.

    folder : work folder of a build
    out : folder the two files are written to; flames and seeds that stand there already, made by the same recipe,
        are kept where the folder has none of its own
    """
    recipe, units = Recipe.here(), [*first_units(), *second_units()]
    found = [unit for unit in units if stored(folder, unit, recipe).is_file()]
    out.mkdir(parents=True, exist_ok=True)
    rows = [row for unit in found for row in _rows(unit, stored(folder, unit, recipe).read_bytes())]
    rows = _once([*rows, *_rows_before(out / TABLE, recipe)])
    with (out / TABLE).open("w", encoding="utf-8", newline="") as stream:
        stream.write(_head(recipe))
        writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    seeds = _write_seeds(found, folder, out, recipe)
    missing = sum(row["status"] != "solved" for row in rows)
    return {"units": len(found), "units missing": len(units) - len(found), "flames": len(rows) - missing} | {
        "flames not solved": missing,
        "seed profiles": seeds,
    }


def _head(recipe: Recipe) -> str:
    """The comment at the head of the table: what it depends on besides the states."""
    return (
        f"# Flat flames in dry air 21/79; Cantera {recipe.cantera}, mechanism {recipe.mechanism_hash}.\n"
        f"# {recipe.criteria}.\n# Grid: {recipe.grid}. Written by: burnerlab flame build\n"
    )


def _rows_before(path: Path, recipe: Recipe) -> list[dict[str, Any]]:
    """Rows of a table already written by the same recipe; none of another."""
    if not path.is_file() or not path.read_text(encoding="utf-8").startswith(_head(recipe)):
        return []
    return [dict(row) for row in read_csv(path)]


def _rows(unit: WorkUnit, content: bytes) -> Iterable[dict[str, Any]]:
    for point in points_from_bytes(content):
        yield {
            "gas": unit.label,
            "unburnt_temperature_K": f"{unit.unburnt_temperature_K:g}",
            "pressure_Pa": f"{unit.pressure_Pa:g}",
            "list": "wide" if unit.wide else "narrow",
            "equivalence_ratio": f"{point.equivalence_ratio:g}",
            **_figures(point),
            "status": point.status,
            "source": "burnerlab-flames",
            "place": "flame build",
            "provenance": "computed",
        }


def _figures(point: Point) -> dict[str, str]:
    if point.status != "solved":
        return {}
    return {
        "burning_velocity_m_per_s": f"{point.burning_velocity_m_per_s:.6g}",
        "thermal_thickness_m": f"{point.thermal_thickness_m:.5g}",
        "adiabatic_flame_temperature_K": f"{point.adiabatic_flame_temperature_K:.1f}",
        "grid_error": f"{point.grid_error:.4f}",
        "grid_points": str(point.grid_points),
        "species": str(point.species),
    }


def _once(rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Sorted; the rung both ladders of a state start from is kept once."""
    key = ("gas", "list", "unburnt_temperature_K", "pressure_Pa", "equivalence_ratio")
    kept: dict[tuple[Any, ...], dict[str, Any]] = {}
    for row in rows:
        name = tuple(row[column] if column in ("gas", "list") else float(row[column]) for column in key)
        if name not in kept or kept[name]["status"] != "solved":
            kept[name] = row
    return [kept[name] for name in sorted(kept)]


def _write_seeds(units: Iterable[WorkUnit], folder: Path, out: Path, recipe: Recipe) -> int:
    arrays: dict[str, Any] = {"recipe": np.array(json.dumps(asdict(recipe)))}
    for unit in units:
        if not _keeps_seeds(unit):
            continue
        for phi, profile in seeds_from_bytes(stored(folder, unit, recipe).read_bytes()).items():
            name = f"{unit.label}/{phi:g}"
            if f"{name}/state" not in arrays:
                arrays |= {f"{name}/{key}": value for key, value in packed(profile).items()}
    arrays = _seeds_before(out / SEEDS, recipe) | arrays
    names = [key.rsplit("/", 1)[0] for key in arrays if key.endswith("/state")]
    about = [
        "Seed profiles of the direct flame solver: flame_seeds.npz",
        json.dumps(asdict(recipe), indent=1),
        "",
    ]
    for name in names:
        points, species = (arrays[f"{name}/{key}"].size for key in ("grid_m", "species"))
        about.append(f"{name}: {points} points, {species} species")
    np.savez_compressed(out / SEEDS, **arrays)
    (out / SEEDS).with_suffix(".txt").write_text("\n".join(about) + "\n", encoding="utf-8")
    return len(names)


def _keeps_seeds(unit: WorkUnit) -> bool:
    """Whether the profiles of a unit are shipped: pure fuels and SEEDED, at the base state."""
    is_base = (unit.unburnt_temperature_K, unit.pressure_Pa) == (BASE_TEMPERATURE_K, BASE_PRESSURE_Pa)
    return unit.wide and is_base and (unit.gas.keys() == {unit.label} or unit.label in SEEDED)


def _seeds_before(path: Path, recipe: Recipe) -> dict[str, Any]:
    """Seeds already written by the same recipe; none of another."""
    if not path.is_file():
        return {}
    with np.load(path) as data:
        if json.loads(str(data["recipe"])) != asdict(recipe):
            return {}
        return {key: data[key] for key in data.files}


# The whole plan of the flame tables through one executor, in its two rounds.


def units_of(units: Sequence[WorkUnit], only: Sequence[str]) -> tuple[WorkUnit, ...]:
    """The units of some gases; all when none is named.

    Raises UserError for a gas the plan does not hold.

    >>> len(units_of(first_units(), ["methane"]))
    2
    """
    known = {unit.label for unit in (*first_units(), *second_units())}
    for name in only:
        if name not in known:
            raise UserError(
                Problem("no flames of this gas in the plan", name, "--only", accepted=", ".join(gases()))
            )
    return tuple(unit for unit in units if not only or unit.label in only)


def run_plan(executor: Executor, folder: Path, only: Sequence[str], progress: Progress) -> dict[str, str]:
    """Both rounds of the plan: the flames at the base state, then those at other states started from their profiles.

    Returns name -> what went wrong, for units lost as a whole.
    """
    first, second = units_of(first_units(), only), units_of(second_units(), only)
    total = len(first) + len(second)
    failed = run(first, executor, folder, progress=lambda done, _, name: progress(done, total, name))
    seeds = starts(folder, first_units())
    for unit in second:  # a diluted gas starts from the undiluted one
        pure = seeds.get(unit.label.split(" with ")[0])
        if unit.label not in seeds and pure is not None:
            seeds[unit.label] = pure
    later = run(
        second, executor, folder, seeds, lambda done, _, name: progress(len(first) + done, total, name)
    )
    return failed | later
