"""A quantity where a public function or class takes SI: a number in SI, a text with its unit, a quantity of pint.

A function converts in its first line, ``diameter_m = si(diameter_m, Kind.DIAMETER, "diameter_m")``, and sees floats
from there on. A dataclass names the kind of a field in its metadata and calls ``take_SI`` when it is made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias, TypeGuard, overload

from burnerlab.quantity.drill_size import read_bore
from burnerlab.quantity.units import Kind, is_quantity
from burnerlab.tables.problem import UserError

from .grammar import refuse
from .read import read

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class PintQuantity(Protocol):
    """What is needed of a quantity of pint, so that pint need not be imported."""

    @property
    def magnitude(self) -> Any: ...
    @property
    def units(self) -> Any: ...
    @property
    def dimensionality(self) -> Any: ...
    def m_as(self, units: Any) -> Any: ...


Array: TypeAlias = "NDArray[np.float64]"
Quantity: TypeAlias = float | str | PintQuantity
"""One number in SI, a text with its unit, or a quantity of pint."""
Quantities: TypeAlias = "Quantity | NDArray[Any] | Sequence[Any]"
"""One quantity or many: an array in SI, a list of quantities, an array of pint."""


def si(value: Quantity, kind: Kind, key: str) -> float:
    """One quantity in SI.

    value : a number in SI, a text with its unit, a quantity of pint; a drill's name where a diameter is wanted
    kind : what it stands for; key : the name it has for the user
    Raises UserError for a unit that does not fit, and for an array.

    >>> si("11 in w.c.", Kind.GAUGE_PRESSURE, "pressure"), si("#54", Kind.DIAMETER, "drill")
    (2739.978, 0.001397)
    """
    if isinstance(value, float):
        return value
    if isinstance(value, int):
        try:
            return float(value)
        except OverflowError as error:
            raise refuse("is too large for a number", f"{str(value)[:20]} ...", key) from error
    if isinstance(value, str):
        return read_bore(value, key).diameter_m if kind is Kind.DIAMETER else read(value, kind, key)
    if is_quantity(value):
        return read(value, kind, key)
    if _is_numpy_number(value):
        return float(value)
    raise refuse(
        "must be one value", _words(value), key, fix="give one number, or go through them one by one"
    )


@overload
def si_numbers(value: Quantity, kind: Kind, key: str) -> float: ...
@overload
def si_numbers(value: Quantities, kind: Kind, key: str) -> float | Array: ...
def si_numbers(value: Quantities, kind: Kind, key: str) -> float | Array:
    """One quantity or an array of them in SI; arrays keep their shape.

    Raises UserError for what is no number of this kind.

    >>> si_numbers(["0 m", "5000 ft"], Kind.LENGTH, "altitude"), si_numbers("1 km", Kind.LENGTH, "altitude")
    (array([   0., 1524.]), 1000.0)
    """
    if isinstance(value, float | int | str):
        return si(value, kind, key)
    return _array(value, kind, key) if isinstance(value, Sequence) or _shape(value) else si(value, kind, key)  # type: ignore[arg-type]


def _is_numpy_number(value: Any) -> TypeGuard[float]:
    return getattr(value, "shape", None) == () and value.dtype.kind in "iuf"


def _array(values: Any, kind: Kind, key: str) -> Array:
    """Numbers as they are; what carries units, one by one."""
    import numpy as np

    try:
        if is_quantity(values) or not _shape(values):
            values = [si_numbers(each, kind, key) for each in values]
        return np.asarray(values, dtype=np.float64)
    except UserError:
        raise
    except (TypeError, ValueError) as error:
        raise refuse("is no array of numbers", _words(values), key) from error


def _shape(value: object) -> tuple[int, ...]:
    """Of an array, of numbers or in a quantity of pint; () for anything else."""
    shape: tuple[int, ...] = getattr(getattr(value, "magnitude", value), "shape", ())
    return shape


def _words(value: object) -> str:
    return f"an array of shape {_shape(value)}" if _shape(value) else repr(value)[:60]


_KINDS: dict[type, tuple[tuple[str, Kind, bool], ...]] = {}


def take_SI(thing: Any, *, arrays: bool = False) -> None:
    """Fields of a new dataclass in SI, each by the kind in its metadata: ``field(metadata={"kind": Kind.LENGTH})``.

    None stays where it is the default; arrays are for a class whose fields may hold many.
    """
    of_type = type(thing)
    if of_type not in _KINDS:
        _KINDS[of_type] = tuple(
            (f.name, f.metadata["kind"], f.default is None) for f in fields(thing) if "kind" in f.metadata
        )
    for name, kind, may_be_none in _KINDS[of_type]:
        value = getattr(thing, name)
        if not (isinstance(value, float) or (value is None and may_be_none)):
            object.__setattr__(thing, name, (si_numbers if arrays else si)(value, kind, name))
