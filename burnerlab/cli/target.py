"""What an appliance is changed to, as the options of ``convert`` and ``tolerance`` say it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from burnerlab.cli.common_inputs import (
    ALTITUDE,
    BAROMETER,
    COEFFICIENT,
    GAS_TEMPERATURE,
    ONE_PLACE,
    PRESSURE,
    REFERENCE,
    SHAPE,
    above_outlet,
    coefficient_or_shape,
    gas_group,
    read_drill_names,
    read_policy,
    shape_name_of,
)
from burnerlab.cli.options import in_words_of_options
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import ConversionTarget
    from burnerlab.appliance.model import Tolerance
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.quantity import ReferenceState

POLICY_HELP = "Altitude policy for the rating: none, 4-percent-from-sea-level, 4-percent-from-2000-ft, ..."
TRAIN_HELP = (
    "Supply of the new gas: new ([new_supply] of FILE), reset (that of FILE with its regulator reset), none. "
    "Left out: new where FILE has one for this gas and pressure, else reset."
)
TRAIN = Input(name="train", choices=("new", "reset", "none"), help=TRAIN_HELP)
"""Which supply serves the new gas; None leaves it to the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyPressureRange:
    """Lowest and highest supply pressure, gauge [Pa]."""

    low_Pa: float
    high_Pa: float


BETWEEN = re.compile(
    r"\s*(?P<low>.+?)\s*(?:\.\.+|…|–|\bto\b|(?<=[0-9A-Za-z.]) ?- ?(?=[0-9.]))\s*(?P<high>.+?)\s*"
)


def read_pressure_range(text: str, key: str) -> SupplyPressureRange:
    """A range such as "25 mbar..35 mbar" or "25 to 35 mbar"; a unit said once counts for both ends.

    >>> read_pressure_range("25..35 mbar", "--pressure-range")
    SupplyPressureRange(low_Pa=2500.0, high_Pa=3500.0)
    """
    from burnerlab.quantity import Kind, read

    found = BETWEEN.fullmatch(text)
    if found is None:
        raise UserError(Problem("not a range", value=text, key=key, accepted='such as "25 mbar..35 mbar"'))
    low, high = found["low"], found["high"]
    if re.fullmatch(r"[0-9.]+", low, re.ASCII):
        low = f"{low} {high.lstrip('0123456789. ')}"
    low_Pa, high_Pa = (read(end, Kind.GAUGE_PRESSURE, key=key) for end in (low, high))
    if not low_Pa < high_Pa:
        raise UserError(Problem("the lower end comes first", value=text, key=key))
    return SupplyPressureRange(low_Pa=low_Pa, high_Pa=high_Pa)


def constant_coefficient(coefficient: float | None, shape: str | None) -> float | None:
    """A discharge coefficient for every new orifice, as given or that of a shape; None leaves each burner's own."""
    from burnerlab.orifice.discharge import shape_named

    if coefficient is not None or shape is None:
        return coefficient
    row = shape_named(shape_name_of(shape))
    if row.correlation:
        fix = "write shape and length of each orifice into the appliance's file"
        raise UserError(
            Problem("the coefficient of this shape depends on the hole", value=shape, key="--shape", fix=fix)
        )
    return row.coefficient


def _tolerance(text: Any, key: str) -> Tolerance:
    from burnerlab.appliance import read_tolerance

    return read_tolerance(text, key=key)


def _rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    """A pressure that no low-pressure appliance has, and a coefficient beside a shape."""
    from burnerlab.quantity import check_low_pressure

    yield from coefficient_or_shape(written)
    if "pressure" not in written or "allow_high_pressure" in written:
        return
    try:
        pressure_Pa = above_outlet(written["pressure"], "")
    except UserError:
        return  # said where it is read
    try:
        check_low_pressure(pressure_Pa, written["pressure"], key="--pressure")
    except UserError as error:
        yield from in_words_of_options(error).problems


def _target(
    gas: Gas | DeclaredGas,
    reference: ReferenceState,
    pressure: float,
    coefficient: float | None,
    shape: str | None,
    **rest: Any,
) -> ConversionTarget:
    from burnerlab.appliance import ConversionTarget

    span: SupplyPressureRange | None = rest["pressure_range"]
    return ConversionTarget(
        gas=gas,
        gauge_pressure_Pa=pressure,
        low_gauge_pressure_Pa=span.low_Pa if span else None,
        high_gauge_pressure_Pa=span.high_Pa if span else None,
        altitude_m=rest["altitude"],
        ambient_pressure_Pa=rest["barometer"],
        gas_temperature_K=rest["gas_temperature"],
        category=rest["category"],
        altitude_policy=rest["policy"],
        drills=rest["drills"],
        tolerance=rest["tolerance"],
        coefficient=constant_coefficient(coefficient, shape),
        reference=reference,
        allow_high_pressure=rest["allow_high_pressure"],
    )


TARGET = Group(
    make=_target,
    parts={"gas": gas_group("--to"), "reference": REFERENCE},
    inputs=(
        replace(
            PRESSURE,
            help='Nominal, gauge, at the manifold: "11 inH2O", "37 mbar".',
            missing="the pressure of the new gas is missing: gauge, at the manifold",
        ),
        Input(
            name="pressure_range",
            reader=read_pressure_range,
            metavar="RANGE",
            help='Of the new supply: "25 mbar..35 mbar".',
        ),
        Input(
            name="category",
            reader=as_written,
            metavar="NAME",
            default="",
            help="Gas group or appliance category, to choose that range.",
        ),
        replace(ALTITUDE, help='Of the place: "1500 m", "5000 ft".'),
        replace(BAROMETER, help="Station pressure, absolute, in place of the altitude."),
        replace(GAS_TEMPERATURE, default=None),
        Input(name="policy", reader=read_policy, metavar="NAME", help=POLICY_HELP),
        Input(
            name="drills",
            reader=read_drill_names,
            metavar="LISTS",
            help="number,letter,fraction,metric, drills of your own, or a CSV file.",
        ),
        Input(
            name="tolerance",
            reader=_tolerance,
            metavar="SHARE",
            help='Band of the heat input: "5 %", or the name of a tolerance.',
        ),
        replace(COEFFICIENT, help="Discharge coefficient of every new orifice."),
        replace(SHAPE, help="Shape of every new orifice, in place of the coefficient."),
        Input(name="allow_high_pressure", is_flag=True, help="Confirm a pressure outside 0.5 to 15 kPa."),
    ),
    not_both=ONE_PLACE,
    rules=_rules,
)
"""Gas, pressure, place, band and drills of the changed appliance: ``ConversionTarget``; what is None the file says."""
