"""Kinds of quantity: finer than dimensions, because the errors of this trade lie between equal ones."""

from __future__ import annotations

from enum import Enum


class Kind(Enum):
    """What a number stands for; the value is its name in words.

    >>> Kind.HEAT_FLUX.value
    'power per area'
    """

    GAUGE_PRESSURE = "gauge pressure"
    ABSOLUTE_PRESSURE = "absolute pressure"
    PRESSURE_DIFFERENCE = "pressure difference"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"
    LENGTH = "length"
    DIAMETER = "diameter"
    AREA = "area"
    VOLUME = "volume"
    REFERENCE_VOLUME = "volume at a reference state"
    MASS = "mass"
    AMOUNT = "amount of substance"
    TIME = "time"
    ENERGY = "energy"
    POWER = "power"
    HEAT_FLUX = "power per area"
    HEATING_VALUE_VOLUME = "heating value per volume"
    HEATING_VALUE_MASS = "heating value per mass"
    HEATING_VALUE_MOLE = "heating value per mole"
    FRACTION = "fraction"
    MASS_FLOW = "mass flow"
    VOLUME_FLOW = "volume flow"
    REFERENCE_VOLUME_FLOW = "volume flow at a reference state"
    DENSITY = "density"
    VELOCITY = "velocity"
    ANGLE = "angle"


SI: dict[Kind, str] = {
    Kind.GAUGE_PRESSURE: "pascal",
    Kind.ABSOLUTE_PRESSURE: "pascal",
    Kind.PRESSURE_DIFFERENCE: "pascal",
    Kind.TEMPERATURE: "kelvin",
    Kind.TEMPERATURE_DIFFERENCE: "kelvin",
    Kind.LENGTH: "meter",
    Kind.DIAMETER: "meter",
    Kind.AREA: "meter ** 2",
    Kind.VOLUME: "meter ** 3",
    Kind.REFERENCE_VOLUME: "meter ** 3",
    Kind.MASS: "kilogram",
    Kind.AMOUNT: "mole",
    Kind.TIME: "second",
    Kind.ENERGY: "joule",
    Kind.POWER: "watt",
    Kind.HEAT_FLUX: "watt / meter ** 2",
    Kind.HEATING_VALUE_VOLUME: "joule / meter ** 3",
    Kind.HEATING_VALUE_MASS: "joule / kilogram",
    Kind.HEATING_VALUE_MOLE: "joule / mole",
    Kind.FRACTION: "dimensionless",
    Kind.MASS_FLOW: "kilogram / second",
    Kind.VOLUME_FLOW: "meter ** 3 / second",
    Kind.REFERENCE_VOLUME_FLOW: "meter ** 3 / second",
    Kind.DENSITY: "kilogram / meter ** 3",
    Kind.VELOCITY: "meter / second",
    Kind.ANGLE: "radian",
}
"""The unit every value has inside, in the words of pint."""

RATIOS: dict[Kind, tuple[Kind, Kind]] = {
    Kind.POWER: (Kind.ENERGY, Kind.TIME),
    Kind.HEAT_FLUX: (Kind.POWER, Kind.AREA),
    Kind.HEATING_VALUE_VOLUME: (Kind.ENERGY, Kind.REFERENCE_VOLUME),
    Kind.HEATING_VALUE_MASS: (Kind.ENERGY, Kind.MASS),
    Kind.HEATING_VALUE_MOLE: (Kind.ENERGY, Kind.AMOUNT),
    Kind.MASS_FLOW: (Kind.MASS, Kind.TIME),
    Kind.VOLUME_FLOW: (Kind.VOLUME, Kind.TIME),
    Kind.REFERENCE_VOLUME_FLOW: (Kind.REFERENCE_VOLUME, Kind.TIME),
    Kind.DENSITY: (Kind.MASS, Kind.VOLUME),
    Kind.VELOCITY: (Kind.LENGTH, Kind.TIME),
}
"""Kinds whose units may be written as one unit over another, each taken from the table."""

ABOVE_ZERO = frozenset(
    {
        Kind.ABSOLUTE_PRESSURE,
        Kind.TEMPERATURE,
        Kind.DIAMETER,
        Kind.HEATING_VALUE_VOLUME,
        Kind.HEATING_VALUE_MASS,
        Kind.HEATING_VALUE_MOLE,
        Kind.DENSITY,
    }
)
"""Kinds for which zero and below have no meaning."""

NOT_BELOW_ZERO = frozenset({Kind.MASS, Kind.VOLUME, Kind.REFERENCE_VOLUME, Kind.TIME, Kind.AREA, Kind.AMOUNT})
"""Kinds for which a negative value has no meaning."""
