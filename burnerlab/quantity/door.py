"""The door of a notebook: a pint quantity, or text with a unit, where a public function asks for an SI float.

The name of a parameter says what it holds (``gauge_pressure_Pa``), so the name is what a quantity is read by. Only the
public names of the package are wrapped; the rooms behind them see floats.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from functools import cache, wraps
from typing import Any

from .engine import is_quantity
from .kind import Kind
from .read import read

KINDS: Mapping[str, Kind] = {
    "gauge_pressure_Pa": Kind.GAUGE_PRESSURE,
    "low_gauge_pressure_Pa": Kind.GAUGE_PRESSURE,
    "high_gauge_pressure_Pa": Kind.GAUGE_PRESSURE,
    "minimum_inlet_Pa": Kind.GAUGE_PRESSURE,
    "absolute_pressure_Pa": Kind.ABSOLUTE_PRESSURE,
    "ambient_pressure_Pa": Kind.ABSOLUTE_PRESSURE,
    "pressure_Pa": Kind.ABSOLUTE_PRESSURE,
    "air_temperature_K": Kind.TEMPERATURE,
    "combustion_temperature_K": Kind.TEMPERATURE,
    "fuel_temperature_K": Kind.TEMPERATURE,
    "gas_temperature_K": Kind.TEMPERATURE,
    "metering_temperature_K": Kind.TEMPERATURE,
    "start_temperature_K": Kind.TEMPERATURE,
    "temperature_K": Kind.TEMPERATURE,
    "across_m": Kind.LENGTH,
    "along_m": Kind.LENGTH,
    "altitude_m": Kind.LENGTH,
    "altitudes_m": Kind.LENGTH,
    "depth_m": Kind.LENGTH,
    "flame_clearance_m": Kind.LENGTH,
    "height_m": Kind.LENGTH,
    "length_m": Kind.LENGTH,
    "lengths_m": Kind.LENGTH,
    "shield_width_m": Kind.LENGTH,
    "spacing_m": Kind.LENGTH,
    "throat_m": Kind.LENGTH,
    "width_m": Kind.LENGTH,
    "x_m": Kind.LENGTH,
    "y_m": Kind.LENGTH,
    "z_m": Kind.LENGTH,
    "diameter_m": Kind.DIAMETER,
    "water_capacity_m3": Kind.VOLUME,
    "tare_kg": Kind.MASS,
    "mass_kg": Kind.MASS,
    "heat_input_W": Kind.POWER,
    "rate_W": Kind.POWER,
    "total_rate_W": Kind.POWER,
    "mean_W_per_m2": Kind.HEAT_FLUX,
    "horizon_s": Kind.TIME,
    "gross_heating_value_J_per_m3": Kind.HEATING_VALUE_VOLUME,
    "net_heating_value_J_per_m3": Kind.HEATING_VALUE_VOLUME,
}
"""What a parameter of this name holds, in every public function."""


def plain(name: str, given: Any) -> Any:
    """What was given for a parameter: a quantity or a text in SI, everything else as it is.

    Raises UserError for a unit that does not fit, and for a text or an array where one number with a unit is wanted.

    >>> plain("diameter_m", "1.40 mm"), plain("diameter_m", 1.4e-3), plain("altitudes_m", ["0 m", "5000 ft"])
    (0.0014, 0.0014, (0.0, 1524.0))
    """
    kind = KINDS.get(name)
    if kind is None or isinstance(given, int | float):
        return given
    if isinstance(given, str) or is_quantity(given):
        return read(given, kind, key=name)
    if isinstance(given, list | tuple):
        return tuple(plain(name, one) for one in given)
    return given


def at_the_door(public: Any) -> Any:
    """A public function or class that takes quantities and texts where ``KINDS`` names a parameter.

    What takes none of them is returned as it is. A class keeps its name for ``isinstance``, and makes the same things.

    >>> def area_m2(diameter_m):
    ...     return 0.785398 * diameter_m**2
    >>> at_the_door(area_m2)("2 mm")
    3.14159e-06
    """
    return _wrapped(public) if callable(public) else public


@cache  # one class stays one class
def _wrapped(public: Any) -> Any:
    try:
        parameters = inspect.signature(public).parameters
    except ValueError:  # one that does not tell what it takes
        return public
    names = tuple(parameters)
    open_ended = any(one.kind is one.VAR_KEYWORD for one in parameters.values())
    if not open_ended and not any(name in KINDS for name in names):
        return public
    return _class(public, names) if isinstance(public, type) else _function(public, names)


def _read_all(
    names: tuple[str, ...], given: tuple[Any, ...], named: dict[str, Any]
) -> tuple[tuple[Any, ...], dict[str, Any]]:
    placed = tuple(plain(name, one) for name, one in zip(names, given, strict=False))
    return (*placed, *given[len(placed) :]), {name: plain(name, one) for name, one in named.items()}


def _function(public: Callable[..., Any], names: tuple[str, ...]) -> Callable[..., Any]:
    @wraps(public)
    def door(*given: Any, **named: Any) -> Any:
        placed, read_named = _read_all(names, given, named)
        return public(*placed, **read_named)

    return door


def _class(public: type, names: tuple[str, ...]) -> type:
    class Door(type):
        """Makes the things of the class behind it, and takes them for its own."""

        def __call__(cls, *given: Any, **named: Any) -> Any:
            placed, read_named = _read_all(names, given, named)
            return public(*placed, **read_named)

        def __getattr__(cls, name: str) -> Any:
            return getattr(public, name)

        def __instancecheck__(cls, thing: object) -> bool:
            return isinstance(thing, public)

    kept = {name: getattr(public, name) for name in ("__doc__", "__module__", "__qualname__")}
    return Door(public.__name__, (), {**kept, "__signature__": inspect.signature(public)})
