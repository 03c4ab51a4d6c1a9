"""What the words of every part of the project file are made of: a table, readers of values, and what they must know."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo

from burnerlab.appliance import door
from burnerlab.quantity import Kind


class Table(BaseModel):
    """A table of the project file; a key it does not know is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


def read_by(reader: Callable[[Any], Any]) -> BeforeValidator:
    """Values go through a reader of the door."""
    return BeforeValidator(reader)


def size(example: str, range_name: str = "size") -> BeforeValidator:
    """A length within a range of table ``inputs``."""
    return read_by(door.quantity(Kind.LENGTH, example, range_name))


def basis_of(info: ValidationInfo) -> str:
    """The basis of every rate in the file, "" when it gives none."""
    return str((info.context or {}).get("basis", ""))


def heat_input(range_name: str = "heat_input") -> BeforeValidator:
    """A heat input on the file's basis within a range of table ``inputs``."""

    def reader(value: Any, info: ValidationInfo) -> float:
        return door.rate(value, basis_of(info), range_name)

    return BeforeValidator(reader)


def _gauge_pressure(value: Any, info: ValidationInfo) -> float:
    return door.gauge_pressure(value, bool((info.context or {}).get("allow_high", False)))


Name = Annotated[str, read_by(door.name)]
Switch = Annotated[bool, read_by(door.switch)]
Position = Annotated[float, size("120 mm", "position")]
GaugePressure = Annotated[float, BeforeValidator(_gauge_pressure)]
