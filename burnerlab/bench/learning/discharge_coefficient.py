"""The discharge coefficient of an orifice shape, learned from measured heat inputs.

The readings are logarithms, y = f(p) + e. Each parameter has a normal prior; an error that all readings share, of a
meter or a drill, is a parameter with a prior about its own mean. The rest, e, has one standard deviation that is
found with the parameters; a share of its variance stays with a unit. Gauss-Newton from the prior, the posterior taken
as normal at its top (Laplace), the interval widened by Student's t for the spread being estimated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.burner_conversion import discharge_of, law_of
from burnerlab.bench.learning.samples import (
    HERE,
    CalibrationSetup,
    ModelConstant,
    Prior,
    Sample,
    column,
    ideal_input_W,
    normal_quantile,
    rules,
    unit_numbers,
)
from burnerlab.burner.coefficients import Array
from burnerlab.orifice.discharge_coefficient import Discharge, shapes
from burnerlab.orifice.drill import Drill, tolerance_band
from burnerlab.orifice.flow import Conditions, flow

# Fit a model to figures read on several units: normal priors, errors shared by all readings, a spread
# between units.

MOST_ROUNDS = 30
SETTLED = 1e-7  # change of a parameter, in its prior standard deviations
NUDGE = 1e-5  # step of a derivative

Model = Callable[[Array], Array]
"""Logarithms of the figures [..., readings] at parameters [..., parameters]: many points in one call."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReadings:
    """Logarithms of figures and the unit each was read on."""

    log_value: Array
    unit: NDArray[np.intp]

    def without(self, units: NDArray[np.intp]) -> tuple[LogReadings, NDArray[np.bool_]]:
        """The readings of other units, and which they are."""
        mask = ~np.isin(self.unit, units)
        return LogReadings(log_value=self.log_value[mask], unit=self.unit[mask]), mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The posterior of the parameters."""

    value: Array
    covariance: Array
    scatter: float  # standard deviation of one reading about the model, the first guess counted with it
    freedom: float  # degrees of freedom of the scatter
    residual: Array
    scatter_read: float | None = None  # that of the readings alone; None for a single one

    @property
    def deviation(self) -> Array:
        spread: Array = np.sqrt(np.diag(self.covariance))
        return spread

    def quantile(self, level: float) -> float:
        """Half width of the interval at a level, in standard deviations."""
        from scipy.special import stdtrit

        return float(stdtrit(self.freedom, (1.0 + level) / 2.0))


def _blocks(unit: NDArray[np.intp]) -> tuple[NDArray[np.intp], Array]:
    _, place, size = np.unique(unit, return_inverse=True, return_counts=True)
    return place, size.astype(np.float64)


def whitened(values: Array, unit: NDArray[np.intp]) -> Array:
    """LogReadings (along the first axis) made independent: the part a unit keeps is scaled down.

    For a unit with m readings, of variance s and s/(1-s) split by the rule ``unit share`` s:
    (y - mean)/sqrt(1 - s) + mean/sqrt(1 - s + s m).

    >>> whitened(np.array([1.0, 1.0, 4.0]), np.array([0, 0, 1]))
    array([0.8165, 0.8165, 4.    ])
    """
    place, size = _blocks(unit)
    share = rules()["unit share"]
    total = np.zeros((size.size, *values.shape[1:]))
    np.add.at(total, place, values)
    each = size.reshape(-1, *([1] * (values.ndim - 1)))
    mean = total / each
    shrunk = mean / np.sqrt(1.0 - share + share * each)
    residual: Array = (values - mean[place]) / np.sqrt(1.0 - share) + shrunk[place]
    return residual


def linearised(model: Model, at: Array) -> tuple[Array, Array]:
    """Every reading by the model [readings], and its change with every parameter [readings, parameters]."""
    found = model(at + np.vstack([np.zeros(at.size), NUDGE * np.eye(at.size)]))
    return found[0], (found[1:] - found[0]).T / NUDGE


def fit(model: Model, readings: LogReadings, mean: Array, deviation: Array, first_scatter: float) -> Fit:
    """The posterior of the parameters of ``model``.

    mean, deviation : of the normal priors; first_scatter : guess of the spread, which counts for a few readings
    """
    weight, count = rules()["scatter weight"], readings.log_value.size
    precision = np.diag(1.0 / deviation**2)
    at, scatter = mean.astype(np.float64).copy(), first_scatter
    for _ in range(MOST_ROUNDS):
        prediction, change = linearised(model, at)
        slopes = whitened(change, readings.unit)
        off = whitened(readings.log_value - prediction, readings.unit)
        information = slopes.T @ slopes / scatter**2
        covariance: Array = np.linalg.inv(information + precision).astype(np.float64)
        step = covariance @ (slopes.T @ off / scatter**2 - precision @ (at - mean))
        used = float(np.trace(covariance @ information))
        freedom = max(count - used, 0.0) + weight
        residual = off - slopes @ step
        at = at + step
        squares = float(residual @ residual)
        before, scatter = scatter, float(np.sqrt((squares + weight * first_scatter**2) / freedom))
        if np.all(np.abs(step) < SETTLED * deviation) and abs(scatter - before) < SETTLED * scatter:
            break
    return Fit(
        value=at,
        covariance=covariance,
        scatter=scatter,
        freedom=freedom,
        residual=readings.log_value - model(at),
        scatter_read=float(np.sqrt(squares / (freedom - weight))) if freedom > weight else None,
    )


def outlying(residual: Array, unit: NDArray[np.intp], level: float | None = None) -> NDArray[np.intp]:
    """Units that stand apart from the others: generalised extreme studentised deviates of the units' mean residuals.

    level : chance to name any unit of a shop in order, the rule ``outlier level`` unless given; no more than the
    rule ``most outliers`` are named. Source: rosner-1983.

    >>> outlying(np.array([0.01, -0.01, 0.0, 0.02, -0.02, 0.3, 0.01]), np.arange(7))
    array([5])
    """
    from scipy.special import stdtrit

    chance = rules()["outlier level"] if level is None else level
    place, size = _blocks(unit)
    means = np.bincount(place, residual) / size
    remaining, order, named = np.arange(means.size), [], 0
    count = means.size
    for step in range(1, int(rules()["most outliers"] * count) + 1):
        values = means[remaining]
        spread = float(values.std(ddof=1))
        if remaining.size < 4 or spread == 0.0:
            break
        far = int(np.argmax(np.abs(values - values.mean())))
        reach = abs(values[far] - values.mean()) / spread
        order.append(int(remaining[far]))
        freedom = count - step - 1
        quantile = float(stdtrit(freedom, 1.0 - chance / (2.0 * (count - step + 1))))
        limit = (count - step) * quantile / np.sqrt((freedom + quantile**2) * (count - step + 1))
        named = step if reach > limit else named
        remaining = np.delete(remaining, far)
    return np.unique(unit)[np.array(order[:named], dtype=np.intp)]


# The discharge coefficient of an orifice shape from heat inputs measured at known bore and pressure.

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
    """What is known of the shape at a sample's state, without what an earlier record gave."""
    own = setup.appliance.tables.discharge
    shape = sample.burner.orifice.shape
    row = shapes(own)[shape]
    use_shipped = own is not None and row.provenance == HERE and shape in shapes()
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
    prior_value = prior_of(samples[len(samples) // 2], setup)
    prior = Prior(value=prior_value.coefficient, low=prior_value.low, high=prior_value.high)
    units = len({sample.serial for sample in samples})
    if prior.log_deviation == 0.0:
        return _constant_of(shape, prior, None, samples, (), NO_SPREAD)
    if units < rules()["fewest units"]:
        return _constant_of(shape, prior, None, samples, (), f"too few units to show their spread: {units}")
    first, readings = _fitted(samples, prior)
    odd = outlying(first.residual, readings.unit)
    sound = [s for s, unit in zip(samples, readings.unit, strict=True) if unit not in odd]
    serials = tuple(dict.fromkeys(s.serial for s in samples if s not in sound))
    solution, readings = _fitted(sound, prior) if serials else (first, readings)
    found = _constant_of(shape, prior, solution, sound, serials, "")
    spread = _spread_read(readings)
    return replace(found, spread_read=spread, steps=tuple(_steps(sound, prior, solution, readings, spread)))


def _fitted(samples: Sequence[Sample], prior: Prior) -> tuple[Fit, LogReadings]:
    """Log of the coefficient, of the meter's error, and of each bore's."""
    measured = column(samples, lambda s: s.heat_input_gross_W)
    readings = LogReadings(log_value=np.log(measured / ideal_input_W(samples)), unit=unit_numbers(samples))
    shared = float(np.hypot(*_shared_errors(samples)))
    bores, place = np.unique([_bore_key(s) for s in samples], return_inverse=True)
    first = [int(np.argmax(place == number)) for number in range(bores.size)]
    offsets = np.array([_bore_offset(samples[k]) for k in first])
    mean = np.concatenate([[np.log(prior.value), 0.0], offsets[:, 0]])
    deviation = np.concatenate([[prior.log_deviation, shared], offsets[:, 1]])

    def model(p: Array) -> Array:
        values: Array = p[..., :1] + p[..., 1:2] + p[..., 2:][..., place]
        return values

    return fit(model, readings, mean, deviation, rules()["input scatter"]), readings


def _shared_errors(samples: Sequence[Sample]) -> tuple[float, float]:
    """Standard uncertainties of all the heat inputs alike: of meter and heating value, of the gauge's pressure.

    A flow goes with the root of the pressure. Where no pressure has an uncertainty, none is added.
    """
    meter = _usual(column(samples, lambda s: s.heat_input_uncertainty), rules()["undeclared input"])
    return meter, _usual(column(samples, lambda s: s.gauge_pressure_uncertainty), 0.0) / 2.0


def _usual(declared: Array, otherwise: float) -> float:
    """The middle of the uncertainties recorded; all of it counts as shared: one meter, one heating value."""
    finite = declared[np.isfinite(declared)]
    return float(np.median(finite)) if finite.size else otherwise


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
    solution: Fit | None,
    samples: Sequence[Sample],
    outliers: tuple[str, ...],
    why: str,
) -> ModelConstant:
    limits = rules()
    is_learned, value, low, high = False, prior.value, prior.low, prior.high
    if solution is not None:
        ratio = float(solution.deviation[0]) / prior.log_deviation
        half = float(solution.deviation[0]) * solution.quantile(limits["stated level"])
        value, low, high = (float(np.exp(solution.value[0] + k * half)) for k in (0.0, -1.0, 1.0))
        is_learned = ratio <= limits["told ratio"] and POSSIBLE[0] <= value <= POSSIBLE[1]
        high = max(value, min(high, POSSIBLE[1]))
        uncertainties = float(solution.deviation[0]), prior.log_deviation
        why = narrowed(*uncertainties) if is_learned else not_narrowed(*uncertainties)
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
        value=value if is_learned else prior.value,
        low=low if is_learned else prior.low,
        high=high if is_learned else prior.high,
        units=len({sample.serial for sample in samples}),
        readings=len(samples),
        spread=None if solution is None else solution.scatter,
        outliers=outliers,
        is_learned=is_learned,
        is_in_table=is_learned,
        why=why,
    )


def _average(readings: LogReadings) -> tuple[float, float]:
    """The average of logarithms, a unit's own part counted once, and how many independent readings it has."""
    ones = whitened(np.ones(readings.log_value.size), readings.unit)
    count = float(ones @ ones)
    return float(ones @ whitened(readings.log_value, readings.unit)) / count, count


def _spread_read(readings: LogReadings) -> float | None:
    """Standard deviation of the logarithms about their average; None for a single reading."""
    off = whitened(readings.log_value - _average(readings)[0], readings.unit)
    return float(np.sqrt(off @ off / (off.size - 1))) if off.size > 1 else None


def _steps(
    samples: Sequence[Sample], prior: Prior, solution: Fit, readings: LogReadings, spread_read: float | None
) -> Iterator[str]:
    """From what was read to the coefficient and its interval, each step with the figures it is recomputed from."""
    limits, after, before = rules(), float(solution.deviation[0]), prior.log_deviation
    mean, count = _average(readings)
    weight = min((after / before) ** 2, 1.0 - SMALLEST)
    alone = (float(solution.value[0]) - weight * float(np.log(prior.value))) / (1.0 - weight)
    spread = solution.scatter / np.sqrt(count)
    total, (meter, gauge) = after / np.sqrt(1.0 - weight), _shared_errors(samples)
    holes = float(np.sqrt(max(total**2 - meter**2 - gauge**2 - spread**2, 0.0)))
    bores_read = {sample.bore_uncertainty_m is not None for sample in samples}
    bores = "holes as read" if bores_read == {True} else "holes of nominal size"
    bores = bores if len(bores_read) == 1 else "holes as read, the others of nominal size"
    units = len({sample.serial for sample in samples})
    yield f"read: {np.exp(mean):.3f}, the average of {units} units, {bores}"
    if bores_read != {True}:
        area = 100.0 * np.expm1(mean - alone)
        yield f"a drilled hole lies in its drill's tolerance, its area {area:+.1f} % on average: {np.exp(alone):.3f}"
    yield (
        f"standard uncertainty of that {_percent(total)}: meter and heating value {_percent(meter)}, "
        f"manifold pressure {_percent(gauge)}, holes {_percent(holes)}, units {_percent(spread)}"
    )
    if spread_read is not None:
        yield (
            f"units: {_percent(spread_read)} between them as read; the usual "
            f"{_percent(limits['input scatter'])} counts with it as {limits['scatter weight']:g} more readings: "
            f"{_percent(solution.scatter)}, over the root of {count:.3g}"
        )
    yield (
        f"before {prior.value:.3f} with {_percent(before)}: by their uncertainties it counts "
        f"{100.0 * weight:.0f} %, what was read {100.0 * (1.0 - weight):.0f} %"
    )
    level, known = limits["stated level"], limits["spread level"]
    yield (
        f"low and high lie {solution.quantile(level):.2f} standard uncertainties off, which holds {100.0 * level:g} % "
        f"(Student's t, {solution.freedom:.1f} degrees of freedom); before {normal_quantile(known):.2f}, which holds "
        f"{100.0 * known:g} %"
    )


def _percent(fraction: float) -> str:
    """A share of a value with two digits at least.

    >>> _percent(0.0145), _percent(0.0073)
    ('1.45 %', '0.73 %')
    """
    return f"{100.0 * fraction:.2f} %"


def narrowed(after: float, before: float) -> str:
    """What is left of an uncertainty: both standard, relative.

    >>> narrowed(0.0118, 0.0347)
    'standard uncertainty 1.18 %, 34 % of the 3.47 % before'
    """
    return f"standard uncertainty {_percent(after)}, {100 * after / before:.0f} % of the {_percent(before)} before"


def not_narrowed(after: float, before: float) -> str:
    """That a record leaves nearly all of an uncertainty.

    >>> not_narrowed(0.033, 0.0347)
    'the record leaves 95 % of the standard uncertainty of 3.47 % there was: it does not tell'
    """
    left = min(100 * after / before, 100)
    known = _percent(before)
    return (
        f"the record leaves {left:.0f} % of the standard uncertainty of {known} there was: it does not tell"
    )
