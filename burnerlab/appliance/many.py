"""Many conversions of one appliance at once: the same equations as ``convert``, over arrays of cases.

What varies from case to case is numeric (rates, pressure, altitude, gas temperature, coefficient, present bores);
gases, drills and policy are common to all cases of a call. ``convert`` is the judge: a case here equals it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.model import Burner
from burnerlab.appliance.steps import law_of
from burnerlab.orifice import nozzle
from burnerlab.orifice.altitude import UNIT_BORE_m, policy_factor, sea_level_bore_factor
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]

EACH_SIDE = 2  # drills looked at below and above the exact orifice, as ``convert`` does


@dataclass(frozen=True, slots=True, kw_only=True)
class Cases:
    """What differs between the cases; an empty field is as the job says. Every array has one entry per case."""

    count: int
    gauge_pressure_Pa: Array | None = None
    altitude_m: Array | None = None
    gas_temperature_K: Array | None = None
    coefficient: Array | None = None
    rate_W: Mapping[str, Array] = field(default_factory=dict)  # by burner, on the basis of the file


@dataclass(frozen=True, slots=True, kw_only=True)
class ManyBurners:
    """One kind of burner in every case; fields as in ``BurnerConversion``."""

    to_orifice_m: Array
    drill: NDArray[np.str_]
    drill_diameter_m: Array
    predicted_gross_W: Array
    predicted_net_W: Array
    deviation: Array
    mass_flow_kg_per_s: Array
    volume_flow_m3_per_s: Array
    choked: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class ManyConversions:
    """Every case of a call, by burner, with the totals of each case."""

    burners: Mapping[str, ManyBurners]
    total_predicted_gross_W: Array
    total_predicted_net_W: Array
    total_mass_flow_kg_per_s: Array
    total_volume_flow_m3_per_s: Array


@dataclass(frozen=True, slots=True)
class _Flux:
    """Ideal mass flux and rating factor of each case, shared by the burners."""

    mass_kg_per_s_m2: Array
    choked: NDArray[np.bool_]
    rating_factor: Array


def takes(job: Job) -> bool:
    """Whether the array form does: every burner's coefficient a number, and no orifice that of a couple's other gas."""
    if job.reference is not None:
        return False
    given = job.target.coefficient is not None
    return given or all(
        isinstance(law_of(burner.orifice, job.appliance.tables), int | float)
        for burner in job.appliance.burners
    )


def convert_many(job: Job, cases: Cases) -> ManyConversions:
    """Every case of a job converted: exact orifice, drill taken, heat inputs and flows.

    A = I f/(n K G H), G the ideal mass flux at the supply pressure of the case, f the altitude policy's factor; of
    the two drills on either side the one within the band and nearest in heat input is taken.
    job : from ``prepare``; cases : what differs. Raises UserError as ``convert`` does, for any case at fault.
    """
    if not takes(job):
        what = "a discharge law that depends on flow has no array form"
        raise UserError(Problem(what, key="orifice.shape", fix="give each orifice a coefficient"))
    flux = _flux(job, cases)
    found = {burner.name: _burners(job, burner, cases, flux) for burner in job.appliance.burners}
    counts = {burner.name: burner.count for burner in job.appliance.burners}

    def total(name: str) -> Array:
        parts = [counts[key] * getattr(found[key], name) for key in found]
        return np.asarray(np.sum(parts, axis=0), dtype=np.float64)

    return ManyConversions(
        burners=found,
        total_predicted_gross_W=total("predicted_gross_W"),
        total_predicted_net_W=total("predicted_net_W"),
        total_mass_flow_kg_per_s=total("mass_flow_kg_per_s"),
        total_volume_flow_m3_per_s=total("volume_flow_m3_per_s"),
    )


def _or(values: Array | None, common: float, count: int) -> Array:
    return np.full(count, common) if values is None else np.asarray(values, dtype=np.float64)


def _flux(job: Job, cases: Cases) -> _Flux:
    site, gas = job.new_site, job.new.gas
    gauge = _or(cases.gauge_pressure_Pa, job.target.gauge_pressure_Pa, cases.count)
    kelvin = _or(cases.gas_temperature_K, site.gas_temperature_K, cases.count)
    if cases.altitude_m is None:
        ambient, altitude = (
            np.full(cases.count, site.ambient_pressure_Pa),
            np.full(cases.count, site.pressure_altitude_m),
        )
    else:
        altitude = np.asarray(cases.altitude_m, dtype=np.float64)
        ambient = pressure_at_altitude_Pa(altitude)
    state = (kelvin, gauge + ambient)
    density, exponent = gas.density_kg_per_m3(*state), gas.isentropic_exponent(*state)
    return _Flux(
        mass_kg_per_s_m2=nozzle.mass_flow_kg_per_s(UNIT_BORE_m, gauge, ambient, density, exponent),
        choked=np.broadcast_to(nozzle.choked(gauge, ambient, exponent), (cases.count,)),
        rating_factor=_policy(job, altitude)
        if job.policy.policy
        else sea_level_bore_factor(gas, gauge, ambient, kelvin),
    )


def _policy(job: Job, altitude_m: Array) -> Array:
    different, place = np.unique(altitude_m, return_inverse=True)
    own = job.appliance.tables.altitude_policies
    if job.policy.policy == "none":
        return np.ones(altitude_m.shape)
    factors = [policy_factor(job.policy.policy, float(height), own).factor for height in different]
    return np.asarray(factors, dtype=np.float64)[place]


def _burners(job: Job, burner: Burner, cases: Cases, flux: _Flux) -> ManyBurners:
    basis, used = job.appliance.rating, job.new.used
    law = (
        law_of(burner.orifice, job.appliance.tables)
        if job.target.coefficient is None
        else job.target.coefficient
    )
    assert isinstance(law, int | float)
    coefficient = _or(cases.coefficient, float(law), cases.count)
    aim = _or(cases.rate_W.get(burner.name), burner.rate_W, cases.count) * flux.rating_factor
    per_area = (
        burner.orifice.count * coefficient * flux.mass_kg_per_s_m2
    )  # [kg/s] through each square metre of one hole
    exact = np.sqrt(aim / (per_area * job.new.per_kg(basis)) * (4.0 / np.pi))
    taken = _drill_index(job, exact)
    diameter = np.array([drill.diameter_m for drill in job.drills])[taken]
    mass = per_area * (np.pi / 4.0) * diameter**2
    return ManyBurners(
        to_orifice_m=exact,
        drill=np.array([drill.name for drill in job.drills])[taken],
        drill_diameter_m=diameter,
        predicted_gross_W=mass * used.gross_heating_value_J_per_kg,
        predicted_net_W=mass * used.net_heating_value_J_per_kg,
        deviation=(diameter / exact) ** 2 - 1.0,
        mass_flow_kg_per_s=mass,
        volume_flow_m3_per_s=mass / used.dry_gas_kg_per_m3,
        choked=flux.choked,
    )


def _drill_index(job: Job, exact_m: Array) -> NDArray[np.intp]:
    """Which drill of the job each case takes: within the band first, then nearest in heat input, then the smaller."""
    sizes = np.array([drill.diameter_m for drill in job.drills])
    below = np.searchsorted(sizes, exact_m, side="right")
    above = np.searchsorted(sizes, exact_m, side="left")
    tried: Sequence[NDArray[np.intp]] = [below - 2, below - 1, above, above + 1]
    index = np.stack([np.clip(place, 0, sizes.size - 1) for place in tried])
    real = np.stack([(place >= 0) & (place < sizes.size) for place in tried])
    off = (sizes[index] / exact_m) ** 2 - 1.0
    held = (off >= job.tolerance.low) & (off <= job.tolerance.high)
    merit = np.where(real, np.abs(off) + np.where(held, 0.0, 1e6), np.inf)
    best = np.argmin(merit, axis=0)
    found: NDArray[np.intp] = np.take_along_axis(index, best[None, :], axis=0)[0]
    return found
