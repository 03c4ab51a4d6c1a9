"""The stability points that a project file names under [tables]: read, checked, placed by the model."""

from __future__ import annotations

from collections.abc import Iterable
from typing import get_args

from burnerlab.appliance.project.model import Appliance
from burnerlab.burner.stability_diagram import OnGas
from burnerlab.burner.stability_point import FlameObservation, FlameSeen, StabilityPoint, stability_point
from burnerlab.tables import read
from burnerlab.tables.csv_file import Row
from burnerlab.tables.problem import Problem, UserError, did_you_mean

TABLE = "stability_points"


def own_observations(appliance: Appliance) -> tuple[FlameObservation, ...]:
    """What the user saw the flames do, from the CSV file ``stability_points`` of [tables]; () without one.

    Raises UserError for a burner that the file does not have, and for a rate or an opening above all of it.
    """
    own = appliance.tables.stability_points
    if own is None:
        return ()
    known = {burner.name.casefold(): burner.name for burner in appliance.burners}
    observations, problems = [], []
    for row in read(TABLE, own):
        found = list(_problems(row, known))
        problems += found
        if not found:
            observations.append(_observation(row, known, appliance))
    if problems:
        raise UserError(problems)
    return tuple(observations)


def _problems(row: Row, known: dict[str, str]) -> Iterable[Problem]:
    if row["burner"].casefold() not in known:
        fix = did_you_mean(row["burner"], list(known.values()))
        accepted = ", ".join(known.values())
        yield row.problem("burner", "is not a burner of this appliance", accepted=accepted, fix=fix)
    for column in ("rate_percent", "opening_percent"):
        if row[column] and float(row[column]) > 100.0:
            yield row.problem(column, "is more than all of it", accepted="above 0 to 100")


def _observation(row: Row, known: dict[str, str], appliance: Appliance) -> FlameObservation:
    def share(column: str) -> float | None:
        return float(row[column]) / 100.0 if row[column] else None

    flame = next(word for word in get_args(FlameSeen) if word == row["flame"])
    return FlameObservation(
        burner=known[row["burner"].casefold()],
        gas=row["gas"] or appliance.supply.gas.name,
        load=float(row["rate_percent"]) / 100.0,
        opening=share("opening_percent"),
        aeration=share("aeration_percent"),
        flame=flame,
        source=row["source"],
        note=row["note"],
    )


def stability_points(
    observations: Iterable[FlameObservation], case: OnGas, burner: str
) -> tuple[StabilityPoint, ...]:
    """The observations of one burner on the gas of a case, placed by the model."""
    gas = case.fuel.gas.name.casefold()
    return tuple(
        stability_point(
            one,
            case.geometry,
            case.fuel,
            case.rates[0].gauge_pressure_Pa,
            case.surroundings,
            case.options,
        )
        for one in observations
        if one.burner == burner and one.gas.casefold() == gas
    )
