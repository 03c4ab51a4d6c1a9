"""Regenerate the flame tables: units of work through any executor, each kept in a file of its own.

A build can be stopped and taken up again; a unit already computed with the same mechanism, criteria and Cantera is
not computed twice, and the results do not depend on the executor or on the order.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from burnerlab.flame.grid import CURVE_WEIGHT, GROWTH, SIGNIFICANT
from burnerlab.flame.making.ladder import Ladder, Point, climb, packed, unpacked
from burnerlab.flame.making.plan import START, WorkUnit
from burnerlab.flame.mechanism import mechanism_hash
from burnerlab.flame.profile import Profile
from burnerlab.flame.solver import CRITERIA

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
