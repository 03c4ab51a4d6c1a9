"""What is off in the reading: a leak or another load, the meter, the dial, the figures; and what nobody listed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from burnerlab.bench.faults.cause import Cause, Variant, variant
from burnerlab.bench.unit import UnitUnderTest
from burnerlab.quantity import PRESETS
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

AT_REST = 0.7  # of leaks that a meter at rest shows; the others are behind a burner valve
MOST_REVOLUTIONS = 10  # timed at once
FAR_DIAL = 0.15  # weight of a dial of a quarter or four times beside one of half or double


def _as_it_should_be(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "a unit as drawn, within its scatter")


def _leak(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    lost = cause.log_spaced
    yield variant(unit, "gas is lost before the burner valves", AT_REST, other_load=lost, rest_load=lost)
    behind = "gas is lost behind an open burner valve: the meter at rest does not show it"
    yield variant(unit, behind, 1.0 - AT_REST, other_load=lost, rest_load=0.0)


def _other_appliance(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "another appliance burns on the meter", other_load=cause.log_spaced)


def _dial(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    for factor, words in ((cause.low, "half"), (cause.high, "double")):
        yield variant(unit, f"the volume taken is {words} of what a revolution is", dial=factor)
    for factor, words in ((cause.low**2, "a quarter"), (cause.high**2, "four times")):
        yield variant(unit, f"the volume taken is {words} of what a revolution is", FAR_DIAL, dial=factor)


def _count(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    """One revolution too many or too few was counted, of so many."""
    for passed in range(2, MOST_REVOLUTIONS + 1):
        for off, words in ((1, "more"), (-1, "less")):
            told = f"{passed + off} revolutions taken, {passed} passed: one {words}"
            yield variant(unit, told, 1.0 / passed, revolutions=(passed + off) / passed)


def _meter_error(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "the meter counts too much or too little", meter=cause.spaced)


def _altitude(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    thin = np.asarray(pressure_at_altitude_Pa(cause.spaced)) / float(pressure_at_altitude_Pa(0.0))
    yield variant(unit, "the expected figure is for sea level", burner_flow=np.sqrt(thin)[:, None])
    if "meter" in unit.methods:
        yield variant(unit, "the reading was not corrected for the barometer", state=1.0 / thin)


def _temperature(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    ratio = cause.spaced / unit.conditions.gas_temperature_K
    flow = 1.0 / np.sqrt(ratio)[:, None]
    yield variant(unit, "the gas is colder or warmer than taken", burner_flow=flow, state=ratio)


def _meter_pressure(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    ambient = unit.conditions.ambient_pressure_Pa
    yield variant(unit, "taken as 0 gauge", state=ambient / (ambient + cause.spaced))


def _gross_net(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    ratio = unit.gas.heating_value_J_per_kg("net") / unit.gas.heating_value_J_per_kg("gross")
    yield variant(unit, "a net reading against a gross figure", by_volume=ratio)
    yield variant(unit, "a gross reading against a net figure", by_volume=1.0 / ratio)


def _saturated(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    from burnerlab.gas.state import constants_of

    dry = 1.0 - constants_of(PRESETS["US_60F_30inHg_sat"]).water
    yield variant(unit, "a saturated heating value for dry gas", by_volume=dry, by_mass=1.0)
    yield variant(unit, "a dry heating value for saturated gas", by_volume=1.0 / dry, by_mass=1.0)


def _heating_value(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "another heating value", by_volume=cause.spaced)


def _none(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "an unknown fault of the appliance", burner_flow=cause.log_spaced[:, None])
    yield variant(unit, "an unknown slip of the reading", slip=cause.log_spaced)


READINGS: dict[str, Callable[[UnitUnderTest, Cause], Iterator[Variant]]] = {
    "as it should be": _as_it_should_be,
    "leak": _leak,
    "other appliance": _other_appliance,
    "dial misread": _dial,
    "revolutions miscounted": _count,
    "meter error": _meter_error,
    "altitude forgotten": _altitude,
    "temperature forgotten": _temperature,
    "meter pressure forgotten": _meter_pressure,
    "gross and net mixed": _gross_net,
    "saturated and dry mixed": _saturated,
    "wrong heating value": _heating_value,
    "none of these": _none,
}
"""Cause by name: what it predicts."""
