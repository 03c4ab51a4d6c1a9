"""The words of the project file for what stands before the burners: regulator, hose, pipe, manifold, valves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, model_validator

from burnerlab.appliance import door
from burnerlab.appliance.schema_parts import GaugePressure, Name, Table, heat_input, read_by, size
from burnerlab.quantity import Kind, UserError, read
from burnerlab.quantity.inputs import complaint, words_of

MOST_FITTINGS = 50


def _fittings(value: Any) -> dict[str, int]:
    """Fittings by name and how many of each; the names are looked up when the train is built."""
    if not isinstance(value, Mapping):
        what = f"must be a table of fittings, got {words_of(value)}"
        raise complaint(what, accepted="{ elbow = 2 }", fix="write { elbow = 2 }")
    if len(value) > MOST_FITTINGS:
        raise complaint("holds too many fittings", accepted=f"{MOST_FITTINGS}", fix="shorten the table")
    count = door.number("fittings", whole=True)
    return {door.name(name): int(count(number)) for name, number in value.items()}


def _spacings(value: Any) -> tuple[float, ...]:
    """One distance for every burner, or a list with one for each."""
    read = door.quantity(Kind.LENGTH, "140 mm", "tap_spacing")
    return tuple(read(one) for one in value) if isinstance(value, list) else (read(value),)


InletPressure = Annotated[float, read_by(door.quantity(Kind.GAUGE_PRESSURE, "10 psi", "train_inlet"))]
_pressure_change = door.quantity(Kind.PRESSURE_DIFFERENCE, "0.5 in w.c.", "regulator_change")


@dataclass(frozen=True, slots=True)
class OfSetPoint:
    """A share of the set point of a regulator [-]."""

    share: float


def _change(value: Any) -> float | OfSetPoint:
    """A change of the outlet as a pressure, or as a percentage of the set point."""
    if isinstance(value, str) and value.strip().endswith("%"):
        number = read(value, Kind.FRACTION, low=0.0, high=1.0)
        return OfSetPoint(float(number))
    return _pressure_change(value)


Difference = Annotated[float | OfSetPoint, read_by(_change)]
TotalRate = Annotated[float, heat_input("regulator_flow")]
Length = Annotated[float, size("4 ft", "train_length")]
Bore = Annotated[float, size("12 mm", "train_bore")]
Roughness = Annotated[float, size("0.046 mm", "roughness")]
Fittings = Annotated[dict[str, int], read_by(_fittings)]
Position = Annotated[
    str, read_by(door.choice(("first", "last"), "a position of the regulator: first or last"))
]


class RegulatorText(Table):
    """[supply.regulator]"""

    type: Name | None = None
    set: GaugePressure | None = None
    droop: Difference | None = None
    lock_up: Difference | None = None
    rated: TotalRate | None = None
    limit: TotalRate | None = None
    minimum_inlet: InletPressure | None = None
    position: Position = "first"


class _BoreText(Table):
    """A bore by the size it is bought under, or as measured."""

    size: Name | None = None
    bore: Bore | None = None
    material: Name | None = None
    roughness: Roughness | None = None

    @model_validator(mode="after")
    def _one_bore(self) -> _BoreText:
        accepted = 'size = "1/2 in schedule 40", or bore = "12 mm"'
        if self.size is None and self.bore is None:
            fix = 'add bore = "12 mm", the inner diameter'
            raise complaint("needs a size or a bore", accepted=accepted, fix=fix)
        if self.size is not None and self.bore is not None:
            raise UserError(door.about("bore", "stands beside a size", "leave one of the two out"))
        return self


class RunText(_BoreText):
    """[supply.hose] and [supply.pipe]"""

    length: Length
    fittings: Fittings = Field(default_factory=dict)


class ManifoldText(_BoreText):
    """[supply.manifold]"""

    spacing: Annotated[tuple[float, ...], read_by(_spacings)]


class ValveText(Table):
    """[supply.valve], or valve = { ... } of a burner."""

    bore: Bore | None = None
    coefficient: Annotated[float, read_by(door.number("coefficient"))] | None = None
    Kv: Annotated[float, read_by(door.number("flow_coefficient"))] | None = None
    Cv: Annotated[float, read_by(door.number("flow_coefficient"))] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> ValveText:
        given = [name for name in ("bore", "Kv", "Cv") if getattr(self, name) is not None]
        if not given:
            accepted = 'bore = "5 mm", Kv = 0.4 or Cv = 0.5'
            fix = 'add bore = "5 mm", the narrowest'
            raise complaint("needs bore, Kv or Cv", accepted=accepted, fix=fix)
        beside = [door.about(one, f"stands beside {given[0]}", "give one of them") for one in given[1:]]
        if self.coefficient is not None and self.bore is None:
            fix = "give the bore, or leave it out"
            beside.append(door.about("coefficient", "has a meaning with a bore only", fix))
        return door.unless(beside, self)
