"""The words of the project file for what stands before the burners: regulator, hose, pipe, manifold, valves."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo, model_validator

from burnerlab.appliance import door
from burnerlab.quantity import Kind

MOST_FITTINGS = 50


def _as(reader: Callable[[Any], Any]) -> BeforeValidator:
    return BeforeValidator(reader)


def _gauge_pressure(value: Any, info: ValidationInfo) -> float:
    return door.gauge_pressure(value, bool((info.context or {}).get("allow_high", False)))


def _total_rate(value: Any, info: ValidationInfo) -> float:
    return door.rate(value, str((info.context or {}).get("basis", "")), "regulator_flow")


def _fittings(value: Any) -> dict[str, int]:
    """Fittings by name and how many of each; the names are looked up when the train is built."""
    if not isinstance(value, Mapping):
        what = f"must be a table of fittings, got {door.words_of(value)}"
        raise door.complaint(what, accepted="{ elbow = 2 }", fix="write { elbow = 2 }")
    if len(value) > MOST_FITTINGS:
        raise door.complaint("holds too many fittings", accepted=f"{MOST_FITTINGS}", fix="shorten the table")
    count = door.number("fittings", whole=True)
    return {door.name(name): int(count(number)) for name, number in value.items()}


def _spacings(value: Any) -> tuple[float, ...]:
    """One distance for every burner, or a list with one for each."""
    read = door.quantity(Kind.LENGTH, "140 mm", "tap_spacing")
    return tuple(read(one) for one in value) if isinstance(value, list) else (read(value),)


Word = Annotated[str, _as(door.name)]
Gauge = Annotated[float, BeforeValidator(_gauge_pressure)]
InletPressure = Annotated[float, _as(door.quantity(Kind.GAUGE_PRESSURE, "10 psi", "train_inlet"))]
Difference = Annotated[float, _as(door.quantity(Kind.PRESSURE_DIFFERENCE, "0.5 in w.c.", "regulator_change"))]
TotalRate = Annotated[float, BeforeValidator(_total_rate)]
Length = Annotated[float, _as(door.quantity(Kind.LENGTH, "4 ft", "train_length"))]
Bore = Annotated[float, _as(door.quantity(Kind.LENGTH, "12 mm", "train_bore"))]
Roughness = Annotated[float, _as(door.quantity(Kind.LENGTH, "0.046 mm", "roughness"))]
Fittings = Annotated[dict[str, int], _as(_fittings)]
Position = Annotated[str, _as(door.choice(("first", "last"), "a position of the regulator: first or last"))]


class TrainTable(BaseModel):
    """A table of the supply; a key it does not know is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class RegulatorText(TrainTable):
    """[supply.regulator]"""

    type: Word | None = None
    set: Gauge | None = None
    droop: Difference | None = None
    lock_up: Difference | None = None
    rated: TotalRate | None = None
    limit: TotalRate | None = None
    minimum_inlet: InletPressure | None = None
    position: Position = "first"


class _BoreText(TrainTable):
    """A bore by the size it is bought under, or as measured."""

    size: Word | None = None
    bore: Bore | None = None
    material: Word | None = None
    roughness: Roughness | None = None

    @model_validator(mode="after")
    def _one_bore(self) -> _BoreText:
        if (self.size is None) == (self.bore is None):
            what = "needs a size or a bore" if self.size is None else "has both a size and a bore"
            accepted = 'size = "1/2 in schedule 40", or bore = "12 mm"'
            raise door.complaint(what, accepted=accepted, fix="give one of the two")
        return self


class RunText(_BoreText):
    """[supply.hose] and [supply.pipe]"""

    length: Length
    fittings: Fittings = {}


class ManifoldText(_BoreText):
    """[supply.manifold]"""

    spacing: Annotated[tuple[float, ...], _as(_spacings)]


class ValveText(TrainTable):
    """[supply.valve], or valve = { ... } of a burner."""

    bore: Bore | None = None
    coefficient: Annotated[float, _as(door.number("coefficient"))] | None = None
    Kv: Annotated[float, _as(door.number("flow_coefficient"))] | None = None
    Cv: Annotated[float, _as(door.number("flow_coefficient"))] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> ValveText:
        given = [name for name in ("bore", "Kv", "Cv") if getattr(self, name) is not None]
        if len(given) != 1:
            what = f"has {' and '.join(given)}" if given else "needs bore, Kv or Cv"
            raise door.complaint(what, accepted='bore = "5 mm", Kv = 0.4 or Cv = 0.5', fix="give one of them")
        if self.coefficient is not None and self.bore is None:
            raise door.complaint("has a coefficient without a bore", fix="give the bore, or leave it out")
        return self
