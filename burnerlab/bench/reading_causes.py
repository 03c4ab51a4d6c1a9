"""What is off in the reading: a leak or another load, the meter, the dial, the figures; and what nobody listed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from burnerlab.bench.cause import Cause, variant
from burnerlab.bench.unit import Bench
from burnerlab.bench.worlds import Variant
from burnerlab.quantity import PRESETS
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

AT_REST = 0.7  # of leaks that a meter at rest shows; the others are behind a burner valve
MOST_REVOLUTIONS = 10  # timed at once
FAR_DIAL = 0.15  # weight of a dial of a quarter or four times beside one of half or double


def _as_it_should_be(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield variant(bench, "a unit as drawn, within its scatter")


def _leak(bench: Bench, cause: Cause) -> Iterator[Variant]:
    lost = cause.log_spaced
    yield variant(bench, "gas is lost before the burner valves", AT_REST, other_load=lost, rest_load=lost)
    behind = "gas is lost behind an open burner valve: the meter at rest does not show it"
    yield variant(bench, behind, 1.0 - AT_REST, other_load=lost, rest_load=0.0)


def _other_appliance(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield variant(bench, "another appliance burns on the meter", other_load=cause.log_spaced)


def _dial(bench: Bench, cause: Cause) -> Iterator[Variant]:
    for factor, words in ((cause.low, "half"), (cause.high, "double")):
        yield variant(bench, f"the volume taken is {words} of what a revolution is", dial=factor)
    for factor, words in ((cause.low**2, "a quarter"), (cause.high**2, "four times")):
        yield variant(bench, f"the volume taken is {words} of what a revolution is", FAR_DIAL, dial=factor)


def _count(bench: Bench, cause: Cause) -> Iterator[Variant]:
    """One revolution too many or too few was counted, of so many."""
    for passed in range(2, MOST_REVOLUTIONS + 1):
        for off, words in ((1, "more"), (-1, "less")):
            told = f"{passed + off} revolutions taken, {passed} passed: one {words}"
            yield variant(bench, told, 1.0 / passed, revolutions=(passed + off) / passed)


def _meter_error(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield variant(bench, "the meter counts too much or too little", meter=cause.spaced)


def _altitude(bench: Bench, cause: Cause) -> Iterator[Variant]:
    thin = np.asarray(pressure_at_altitude_Pa(cause.spaced)) / float(pressure_at_altitude_Pa(0.0))
    yield variant(bench, "the expected figure is for sea level", burner_flow=np.sqrt(thin)[:, None])
    if "meter" in bench.methods:
        yield variant(bench, "the reading was not corrected for the barometer", state=1.0 / thin)


def _temperature(bench: Bench, cause: Cause) -> Iterator[Variant]:
    ratio = cause.spaced / bench.conditions.gas_temperature_K
    flow = 1.0 / np.sqrt(ratio)[:, None]
    yield variant(bench, "the gas is colder or warmer than taken", burner_flow=flow, state=ratio)


def _meter_pressure(bench: Bench, cause: Cause) -> Iterator[Variant]:
    ambient = bench.conditions.ambient_pressure_Pa
    yield variant(bench, "taken as 0 gauge", state=ambient / (ambient + cause.spaced))


def _gross_net(bench: Bench, cause: Cause) -> Iterator[Variant]:
    ratio = bench.gas.heating_value_J_per_kg("net") / bench.gas.heating_value_J_per_kg("gross")
    yield variant(bench, "a net reading against a gross figure", by_volume=ratio)
    yield variant(bench, "a gross reading against a net figure", by_volume=1.0 / ratio)


def _saturated(bench: Bench, cause: Cause) -> Iterator[Variant]:
    from burnerlab.gas.state import constants_of

    dry = 1.0 - constants_of(PRESETS["US_60F_30inHg_sat"]).water
    yield variant(bench, "a saturated heating value for dry gas", by_volume=dry, by_mass=1.0)
    yield variant(bench, "a dry heating value for saturated gas", by_volume=1.0 / dry, by_mass=1.0)


def _heating_value(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield variant(bench, "another heating value", by_volume=cause.spaced)


def _none(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield variant(bench, "an unknown fault of the appliance", burner_flow=cause.log_spaced[:, None])
    yield variant(bench, "an unknown slip of the reading", slip=cause.log_spaced)


READINGS: dict[str, Callable[[Bench, Cause], Iterator[Variant]]] = {
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
