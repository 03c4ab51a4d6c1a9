"""Why a reading is off: every cause of the table ``causes`` as the possibilities it predicts for an appliance."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.appliance.model import Burner
from burnerlab.appliance.steps import law_of
from burnerlab.appliance.tolerances import cite
from burnerlab.bench.decision import bench_limit
from burnerlab.bench.manifold import flow_of
from burnerlab.bench.unit import Bench, OtherSupply
from burnerlab.bench.worlds import Variant, Worlds, worlds
from burnerlab.gas import Gas
from burnerlab.gas.saturation import dew_pressure_Pa
from burnerlab.orifice import nozzle
from burnerlab.orifice.drills import drill_list, nearest_drill, neighbours
from burnerlab.orifice.flow import Conditions, jet
from burnerlab.orifice.size import size
from burnerlab.quantity import PRESETS
from burnerlab.quantity.error import UserError
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

Array = NDArray[np.float64]
STEPS = 121  # possibilities along a range that is not known in advance
MOST_SUBSETS = 120  # of burners with wrong orifices that are looked at
BELOW_DEW = 0.95  # of the dew pressure: gas that arrives as vapour


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """A row of the table of causes."""

    name: str
    title: str
    prior: float
    low: float
    high: float
    method: str  # any, meter, scale
    needs: str
    source: str

    @property
    def spaced(self) -> Array:
        """The range, evenly."""
        return np.linspace(self.low, self.high, STEPS)

    @property
    def log_spaced(self) -> Array:
        """The range, evenly in its logarithm."""
        return np.geomspace(self.low, self.high, 4 * STEPS)


def causes(own: Path | None = None) -> tuple[Cause, ...]:
    """Every cause of the table, priors scaled to add up to one; ``own`` is a CSV of the same columns.

    >>> sum(cause.prior for cause in causes())
    1.0
    """
    rows = tables.read("causes", own)
    unknown = [row for row in rows if row["cause"] not in PREDICTIONS]
    if unknown:
        what, known = "no prediction for this cause", list(PREDICTIONS)
        raise UserError(
            [
                row.problem("cause", what, accepted=", ".join(known), fix=tables.meant(row["cause"], known))
                for row in unknown
            ]
        )
    total = sum(float(row["prior"]) for row in rows)
    return tuple(
        Cause(
            name=row["cause"],
            title=row["title"],
            prior=float(row["prior"]) / total,
            low=float(row["low"] or "nan"),
            high=float(row["high"] or "nan"),
            method=row["method"],
            needs=row["needs"],
            source=f"{cite(row['source'])} ({row['provenance']})",
        )
        for row in rows
    )


def possibilities(bench: Bench, cause: Cause) -> tuple[Variant, ...]:
    """The ways in which a cause may show itself here; none when it does not apply."""
    if cause.method not in ("any", bench.method):
        return ()
    least = {"several": 2, "three": 3}.get(cause.needs, 1)
    if len(bench.burners) < least:
        return ()
    return tuple(PREDICTIONS[cause.name](bench, cause))


def _one(bench: Bench, words: str, weight: float = 1.0, **changed: ArrayLike) -> Variant:
    sizes = [np.shape(value)[0] for value in changed.values() if np.ndim(value)]
    made = worlds(max(sizes, default=1), len(bench.burners), **changed)
    return Variant(words=words, weight=weight, worlds=made)


def _as_it_should_be(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield _one(bench, "nothing")


def _through(bench: Bench, burner: Burner, diameter_m: float) -> float:
    """Heat input through another hole over the expected one [-]."""
    law = law_of(burner.orifice, bench.appliance.tables)
    count = burner.orifice.count
    there = jet(bench.gas, diameter_m, bench.conditions, law, count).heat_input_gross_W
    return there / flow_of(bench.appliance, burner, bench.conditions, bench.gas).heat_input_gross_W


def _wrong_orifices(bench: Bench, other: OtherSupply) -> tuple[Array, Array, list[str]]:
    """Heat input and hole area over the right ones, and the drill, with the other gas's orifice in each burner."""
    at = Conditions(
        gauge_pressure_Pa=other.gauge_pressure_Pa,
        ambient_pressure_Pa=bench.conditions.ambient_pressure_Pa,
        gas_temperature_K=bench.conditions.gas_temperature_K,
    )
    flow, area, names = [], [], []
    for burner in bench.burners:
        law, basis = law_of(burner.orifice, bench.appliance.tables), bench.appliance.rating
        exact = size(other.gas, burner.rate_W, basis, at, law, burner.orifice.count).diameter_m
        drill = nearest_drill(exact, bench.drills)
        flow.append(_through(bench, burner, drill.diameter_m))
        area.append((drill.diameter_m / burner.orifice.diameter_m) ** 2)
        names.append(drill.name)
    return np.array(flow), np.array(area), names


def _with_wrong(bench: Bench, sets: list[tuple[int, ...]], flow: Array, area: Array) -> Worlds:
    chosen = np.zeros((len(sets), len(bench.burners)), dtype=bool)
    for i, members in enumerate(sets):
        chosen[i, list(members)] = True
    return worlds(
        len(sets),
        len(bench.burners),
        burner_flow=np.where(chosen, flow, 1.0),
        hole_area=np.where(chosen, area, 1.0),
        mark_area=np.where(chosen, area, 1.0),
    )


def _other_orifice_one(bench: Bench, cause: Cause) -> Iterator[Variant]:
    for other in bench.others:
        flow, area, names = _wrong_orifices(bench, other)
        for i, (burner, drill) in enumerate(zip(bench.burners, names, strict=True)):
            words = f"{drill} for {other.words} in {burner.name}"
            yield Variant(words=words, weight=1.0, worlds=_with_wrong(bench, [(i,)], flow, area))


def _other_orifice_all(bench: Bench, cause: Cause) -> Iterator[Variant]:
    for other in bench.others:
        flow, area, names = _wrong_orifices(bench, other)
        words = f"{', '.join(names)} for {other.words}"
        everywhere = [tuple(range(len(names)))]
        yield Variant(words=words, weight=1.0, worlds=_with_wrong(bench, everywhere, flow, area))


def _other_orifice_some(bench: Bench, cause: Cause) -> Iterator[Variant]:
    n = len(bench.burners)
    sets = [members for k in range(2, n) for members in combinations(range(min(n, 12)), k)]
    step = max(1, len(sets) // MOST_SUBSETS)
    for other in bench.others:
        flow, area, _ = _wrong_orifices(bench, other)
        words = f"orifices for {other.words} in two or more, not all"
        yield Variant(words=words, weight=1.0, worlds=_with_wrong(bench, sets[::step], flow, area))


def _neighbouring_drill(bench: Bench, cause: Cause) -> Iterator[Variant]:
    for i, burner in enumerate(bench.burners):
        bore = burner.orifice.diameter_m
        drills = drill_list("number")
        if not drills[0].diameter_m < bore < drills[-1].diameter_m:
            drills = bench.drills
        for way, shift in (("smaller", 1.0 - 1e-6), ("larger", 1.0 + 1e-6)):
            both = neighbours(bore * shift, drills)
            drill = both.below if way == "smaller" else both.above
            if drill is None or drill.diameter_m == bore:
                continue
            flow, area = np.ones((1, len(bench.burners))), np.ones((1, len(bench.burners)))
            flow[0, i] = _through(bench, burner, drill.diameter_m)
            area[0, i] = (drill.diameter_m / bore) ** 2
            own = burner.orifice.drill or f"{1e3 * bore:.3f} mm"
            words = f"{drill.name} for {own} in {burner.name}"
            yield _one(bench, words, burner_flow=flow, hole_area=area, mark_area=area)


def at_pressures(bench: Bench, gauge_pressure_Pa: Array) -> Array:
    """Heat input at other gauge pressures over the expected one; all burners alike [-]."""
    at = bench.conditions
    density = np.array(
        [
            bench.gas.density_kg_per_m3(at.gas_temperature_K, p + at.ambient_pressure_Pa)
            for p in gauge_pressure_Pa
        ]
    )
    k = bench.gas.isentropic_exponent(at.gas_temperature_K, at.absolute_pressure_Pa)
    there = nozzle.mass_flow_kg_per_s(1e-3, gauge_pressure_Pa, at.ambient_pressure_Pa, density, k)
    rho = bench.gas.density_kg_per_m3(at.gas_temperature_K, at.absolute_pressure_Pa)
    ratio: Array = there / nozzle.mass_flow_kg_per_s(
        1e-3, at.gauge_pressure_Pa, at.ambient_pressure_Pa, rho, k
    )
    return ratio


def _pressure_variant(
    bench: Bench, words: str, gauge_pressure_Pa: Array, other_regulator: float = 1.0
) -> Variant:
    flow = at_pressures(bench, gauge_pressure_Pa)
    nominal = bench.conditions.gauge_pressure_Pa
    return _one(
        bench,
        words,
        burner_flow=flow[:, None],
        pressure=gauge_pressure_Pa / nominal,
        other_regulator=other_regulator,
    )


def _other_regulator(bench: Bench, cause: Cause) -> Iterator[Variant]:
    for other in bench.others:
        kPa = other.gauge_pressure_Pa / 1e3
        held = np.array([other.gauge_pressure_Pa])
        yield _pressure_variant(bench, f"{kPa:.3g} kPa at the manifold", held, other_regulator=2.0)


def _no_regulator(bench: Bench, cause: Cause) -> Iterator[Variant]:
    held = bench_limit("unregulated LP" if bench.is_LP else "unregulated natural")
    low = max(held.low, 1.5 * bench.conditions.gauge_pressure_Pa)
    high = max(min(held.high, _highest_vapour_Pa(bench)), low)
    words = f"{low / 1e3:.3g} to {high / 1e3:.3g} kPa at the manifold"
    yield _pressure_variant(bench, words, np.geomspace(low, high, STEPS))


def _highest_vapour_Pa(bench: Bench) -> float:
    """Gauge pressure at which the gas begins to condense, less a margin; what a cylinder can give at most."""
    gas, at = bench.gas.gas, bench.conditions
    if not isinstance(gas, Gas):
        return np.inf
    dew = float(dew_pressure_Pa(gas.composition.names, gas.composition.fractions, at.gas_temperature_K))
    return BELOW_DEW * dew - at.ambient_pressure_Pa


def _other_gas(bench: Bench, cause: Cause) -> Iterator[Variant]:
    """Another gas through the same orifices, with this regulator; a meter counts its volume, a scale its mass."""
    for other in bench.others:
        yield _burning(bench, other, bench.conditions, "is connected")


def _other_supply(bench: Bench, cause: Cause) -> Iterator[Variant]:
    for other in bench.others:
        at = replace(bench.conditions, gauge_pressure_Pa=other.gauge_pressure_Pa)
        yield _burning(bench, other, at, "is connected with its own regulator", other_regulator=2.0)


def _burning(bench: Bench, other: OtherSupply, at: Conditions, words: str, **changed: ArrayLike) -> Variant:
    iso = PRESETS["ISO_15_15"]
    here = [flow_of(bench.appliance, one, bench.conditions, bench.gas) for one in bench.burners]
    there = [flow_of(bench.appliance, one, at, other.gas) for one in bench.burners]
    flow = np.array([a.heat_input_gross_W / b.heat_input_gross_W for a, b in zip(there, here, strict=True)])
    by_mass = bench.gas.heating_value_J_per_kg("gross") / other.gas.heating_value_J_per_kg("gross")
    by_volume = by_mass * (
        bench.gas.standard_density_kg_per_m3(iso) / other.gas.standard_density_kg_per_m3(iso)
    )
    mine, its = (by_volume, by_mass) if bench.method == "meter" else (by_mass, by_volume)
    name, shift = other.words.split(" at ")[0], at.gauge_pressure_Pa / bench.conditions.gauge_pressure_Pa
    made = worlds(
        1,
        len(bench.burners),
        burner_flow=flow[None, :],
        pressure=shift,
        worth=mine,
        other_worth=its,
        other_gas=2.0,
        **changed,
    )
    return Variant(words=f"{name} {words}", weight=1.0, worlds=made, gas=name)


def _part_blockage(bench: Bench, cause: Cause) -> Iterator[Variant]:
    left, n = cause.spaced, len(bench.burners)
    for i, burner in enumerate(bench.burners):
        flow = np.ones((STEPS, n))
        flow[:, i] = left
        words = f"the hole of {burner.name} is partly closed"
        yield _one(bench, words, 1.0 / n, burner_flow=flow, hole_area=flow)
    yield _one(bench, "hose, valve or pipe is partly closed", burner_flow=left[:, None], pressure=left**2)


def _altitude(bench: Bench, cause: Cause) -> Iterator[Variant]:
    thin = np.asarray(pressure_at_altitude_Pa(cause.spaced)) / float(pressure_at_altitude_Pa(0.0))
    yield _one(bench, "the expected figure is for sea level", burner_flow=np.sqrt(thin)[:, None])
    if bench.method == "meter":
        yield _one(bench, "the reading was not corrected for the barometer", state=1.0 / thin)


def _temperature(bench: Bench, cause: Cause) -> Iterator[Variant]:
    ratio = cause.spaced / bench.conditions.gas_temperature_K
    flow = 1.0 / np.sqrt(ratio)[:, None]
    counted = ratio if bench.method == "meter" else np.ones_like(ratio)
    yield _one(bench, "the gas is colder or warmer than taken", burner_flow=flow, state=counted)


def _meter_pressure(bench: Bench, cause: Cause) -> Iterator[Variant]:
    ambient = bench.conditions.ambient_pressure_Pa
    yield _one(bench, "taken as 0 gauge", state=ambient / (ambient + cause.spaced))


def _dial(bench: Bench, cause: Cause) -> Iterator[Variant]:
    for factor, words in ((cause.low, "half"), (cause.high, "double")):
        yield _one(bench, f"the volume taken is {words} of what a revolution is", dial=factor)


def _gross_net(bench: Bench, cause: Cause) -> Iterator[Variant]:
    ratio = bench.gas.heating_value_J_per_kg("net") / bench.gas.heating_value_J_per_kg("gross")
    yield _one(bench, "a net reading against a gross figure", worth=ratio)
    yield _one(bench, "a gross reading against a net figure", worth=1.0 / ratio)


def _saturated(bench: Bench, cause: Cause) -> Iterator[Variant]:
    from burnerlab.gas.state import constants_of

    dry = 1.0 - constants_of(PRESETS["US_60F_30inHg_sat"]).water
    yield _one(bench, "a saturated heating value for dry gas", worth=dry)
    yield _one(bench, "a dry heating value for saturated gas", worth=1.0 / dry)


def _heating_value(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield _one(bench, "another heating value", worth=cause.spaced)


def _other_appliance(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield _one(bench, "another load on the meter", other_load=cause.log_spaced)


def _none(bench: Bench, cause: Cause) -> Iterator[Variant]:
    yield _one(bench, "an unknown fault of the appliance", burner_flow=cause.log_spaced[:, None])
    yield _one(bench, "an unknown slip of the reading", slip=cause.log_spaced)


PREDICTIONS: dict[str, Callable[[Bench, Cause], Iterator[Variant]]] = {
    "as it should be": _as_it_should_be,
    "neighbouring drill": _neighbouring_drill,
    "other gas's orifice in one burner": _other_orifice_one,
    "other gas's orifice in all burners": _other_orifice_all,
    "other gas's orifice in some burners": _other_orifice_some,
    "regulator of the other gas": _other_regulator,
    "no regulator": _no_regulator,
    "other gas connected": _other_gas,
    "other supply as a whole": _other_supply,
    "part blockage": _part_blockage,
    "altitude forgotten": _altitude,
    "temperature forgotten": _temperature,
    "meter pressure forgotten": _meter_pressure,
    "dial misread": _dial,
    "gross and net mixed": _gross_net,
    "saturated and dry mixed": _saturated,
    "wrong heating value": _heating_value,
    "other appliance": _other_appliance,
    "none of these": _none,
}
"""Cause by name: what it predicts."""
