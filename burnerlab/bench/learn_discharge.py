"""The discharge coefficient of an orifice shape from heat inputs measured at known bore and pressure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from burnerlab.appliance.steps import discharge_of, law_of
from burnerlab.bench.bench_samples import Sample
from burnerlab.bench.conditions import CalibrationSetup, column, ideal_input_W, unit_numbers
from burnerlab.bench.constants import HERE, ModelConstant, Prior, rules
from burnerlab.bench.reading_fit import Fit, LogReadings, fit, outlying
from burnerlab.burner.arrays import Array
from burnerlab.orifice.discharge import Discharge, shapes
from burnerlab.orifice.drill import Drill, tolerance_band
from burnerlab.orifice.flow import Conditions, flow

TABLE = "discharge"
POSSIBLE = (0.5, 1.0)  # a discharge coefficient the room of orifices takes
NO_SPREAD = "its shipped row has no spread: fixed by its source"


def discharge_constants(samples: Sequence[Sample], setup: CalibrationSetup) -> Iterator[ModelConstant]:
    """One constant for each shape of the orifices a heat input was measured through.

    Orifices with a coefficient of their own in the project file tell of their shape all the same.
    """
    read = [sample for sample in samples if sample.heat_input_gross_W is not None]
    for shape in dict.fromkeys(sample.burner.orifice.shape for sample in read):
        yield _constant(shape, [sample for sample in read if sample.burner.orifice.shape == shape], setup)


def prior_of(sample: Sample, setup: CalibrationSetup) -> Discharge:
    """What is known of the shape at a sample's state, without what an earlier record told."""
    own = setup.appliance.tables.discharge
    shape = sample.burner.orifice.shape
    mine = shapes(own)[shape]
    use_shipped = own is not None and mine.provenance == HERE and shape in shapes()
    shipped = setup.shipped if use_shipped else setup.appliance.tables
    bare = replace(sample.burner.orifice, coefficient=None)
    where = Conditions(
        gauge_pressure_Pa=sample.gauge_pressure_Pa,
        ambient_pressure_Pa=sample.ambient_pressure_Pa,
        gas_temperature_K=sample.gas_temperature_K,
    )
    stream = flow(sample.gas, bare.diameter_m, where, law_of(bare, shipped), bare.count)
    return discharge_of(bare, stream, None, shipped)


def _constant(shape: str, samples: Sequence[Sample], setup: CalibrationSetup) -> ModelConstant:
    known = prior_of(samples[len(samples) // 2], setup)
    prior = Prior(value=known.coefficient, low=known.low, high=known.high)
    units = len({sample.serial for sample in samples})
    if prior.log_deviation == 0.0:
        return _constant_of(shape, prior, None, samples, (), NO_SPREAD)
    if units < rules()["fewest units"]:
        return _constant_of(shape, prior, None, samples, (), f"{units} units do not show their spread")
    first, readings = _fitted(samples, prior)
    odd = outlying(first.residual, readings.unit)
    kept = [s for s, unit in zip(samples, readings.unit, strict=True) if unit not in odd]
    serials = tuple(dict.fromkeys(s.serial for s in samples if s not in kept))
    found = _fitted(kept, prior)[0] if serials else first
    return _constant_of(shape, prior, found, kept, serials, "")


def _fitted(samples: Sequence[Sample], prior: Prior) -> tuple[Fit, LogReadings]:
    """Log of the coefficient, of the meter's error, and of each bore's."""
    measured = column(samples, lambda s: s.heat_input_gross_W)
    readings = LogReadings(log_value=np.log(measured / ideal_input_W(samples)), unit=unit_numbers(samples))
    meter = _usual(column(samples, lambda s: s.heat_input_uncertainty), rules()["undeclared input"])
    bores, place = np.unique([_bore_key(s) for s in samples], return_inverse=True)
    first = [int(np.argmax(place == number)) for number in range(bores.size)]
    offsets = np.array([_bore_offset(samples[k]) for k in first])
    mean = np.concatenate([[np.log(prior.value), 0.0], offsets[:, 0]])
    deviation = np.concatenate([[prior.log_deviation, meter], offsets[:, 1]])

    def model(p: Array) -> Array:
        found: Array = p[0] + p[1] + p[2:][place]
        return found

    return fit(model, readings, mean, deviation, rules()["input scatter"]), readings


def _usual(declared: Array, otherwise: float) -> float:
    """The middle of the uncertainties recorded; all of it counts as shared: one meter, one heating value."""
    told = declared[np.isfinite(declared)]
    return float(np.median(told)) if told.size else otherwise


def _bore_key(sample: Sample) -> str:
    how = "" if sample.bore_uncertainty_m is None else "measured "
    return f"{how}{sample.burner.name if how else format(1e3 * sample.burner.orifice.diameter_m, '.4f')}"


def _bore_offset(sample: Sample) -> tuple[float, float]:
    """Mean and standard deviation of the log of the true area over that of the bore as known.

    A nominal bore lies anywhere in its drill's tolerance, the same for all units: they were drilled alike.
    """
    bore = sample.burner.orifice.diameter_m
    if sample.bore_uncertainty_m is not None:
        return 0.0, max(2.0 * sample.bore_uncertainty_m / bore, SMALLEST)
    band = tolerance_band(Drill(name="", kind="", diameter_m=bore, source=""))
    low, high = 2.0 * np.log(band.low_m / bore), 2.0 * np.log(band.high_m / bore)
    return float((low + high) / 2.0), float((high - low) / np.sqrt(12.0))


SMALLEST = 1e-4  # standard deviation of a bore that is taken as known


def _constant_of(
    shape: str,
    prior: Prior,
    found: Fit | None,
    samples: Sequence[Sample],
    outliers: tuple[str, ...],
    why: str,
) -> ModelConstant:
    held = rules()
    told, value, low, high = False, prior.value, prior.low, prior.high
    if found is not None:
        ratio = float(found.deviation[0]) / prior.log_deviation
        half = float(found.deviation[0]) * found.quantile(held["stated level"])
        value, low, high = (float(np.exp(found.value[0] + k * half)) for k in (0.0, -1.0, 1.0))
        told = ratio <= held["told ratio"] and POSSIBLE[0] <= value <= POSSIBLE[1]
        high = max(value, min(high, POSSIBLE[1]))
        why = narrowed(ratio) if told else not_narrowed(ratio)
        if not POSSIBLE[0] <= value <= POSSIBLE[1]:
            why = f"the readings ask for {value:.3f}, which no orifice has: check meter, bore and pressure"
    return ModelConstant(
        name=f"discharge coefficient, {shape}",
        table=TABLE,
        row=shape,
        unit="-",
        prior=prior.value,
        prior_low=prior.low,
        prior_high=prior.high,
        value=value if told else prior.value,
        low=low if told else prior.low,
        high=high if told else prior.high,
        units=len({sample.serial for sample in samples}),
        readings=len(samples),
        spread=None if found is None else found.scatter,
        outliers=outliers,
        is_learned=told,
        written=told,
        why=why,
    )


def narrowed(ratio: float) -> str:
    return f"uncertainty down to {100 * ratio:.0f} % of what was known before"


def not_narrowed(ratio: float) -> str:
    return f"the record leaves {min(100 * ratio, 100):.0f} % of the uncertainty there was: it does not tell"
