"""Put the units of a build together: the table of flames and the seed profiles, each with its recipe."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from burnerlab.flame.build import Recipe, points_from_bytes, seeds_from_bytes, stored
from burnerlab.flame.making.ladder import Point, packed
from burnerlab.flame.making.plan import WorkUnit, first_units, second_units

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
    out : folder the two files are written to
    """
    recipe, units = Recipe.here(), [*first_units(), *second_units()]
    found = [unit for unit in units if stored(folder, unit, recipe).is_file()]
    out.mkdir(parents=True, exist_ok=True)
    rows = [row for unit in found for row in _rows(unit, stored(folder, unit, recipe).read_bytes())]
    rows = _once(rows)
    with (out / TABLE).open("w", encoding="utf-8", newline="") as stream:
        stream.write(
            f"# Flat flames in dry air 21/79; Cantera {recipe.cantera}, mechanism {recipe.mechanism_hash}.\n"
        )
        stream.write(f"# {recipe.criteria}.\n# Grid: {recipe.grid}. Written by: burnerlab flame build\n")
        writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    seeds = _write_seeds(found, folder, out, recipe)
    missing = sum(row["status"] != "solved" for row in rows)
    return {"units": len(found), "units missing": len(units) - len(found), "flames": len(rows) - missing} | {
        "flames not solved": missing,
        "seed profiles": seeds,
    }


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
    about = [
        "Seed profiles of the direct flame solver: flame_seeds.npz",
        json.dumps(asdict(recipe), indent=1),
        "",
    ]
    count = 0
    for unit in units:
        if not unit.wide or not (unit.gas.keys() == {unit.label} or unit.label in SEEDED):
            continue
        for phi, profile in seeds_from_bytes(stored(folder, unit, recipe).read_bytes()).items():
            name = f"{unit.label}/{phi:g}"
            if f"{name}/state" in arrays:
                continue
            arrays |= {f"{name}/{key}": value for key, value in packed(profile).items()}
            about.append(f"{name}: {profile.grid_m.size} points, {len(profile.species)} species")
            count += 1
    np.savez_compressed(out / SEEDS, **arrays)
    (out / SEEDS).with_suffix(".txt").write_text("\n".join(about) + "\n", encoding="utf-8")
    return count
