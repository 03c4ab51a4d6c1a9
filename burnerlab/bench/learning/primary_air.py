"""What the mixing tube does: coefficients of the momentum balance from samples of primary air.

Several coefficients move the primary air alike. They are fitted together and go into the table together; which of
them the samples tell apart is said of each.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from burnerlab.bench.learning.discharge_coefficient import (
    Fit,
    LogReadings,
    Model,
    fit,
    linearised,
    narrowed,
    not_narrowed,
    outlying,
)
from burnerlab.bench.learning.samples import (
    CalibrationSetup,
    ModelConstant,
    Sample,
    by_burner_and_gas,
    column,
    geometry_of,
    rules,
    surroundings_of,
    unit_numbers,
)
from burnerlab.burner.burner import BurnerGeometry, EvaluationOptions
from burnerlab.burner.coefficients import Array, Numbers, array, coefficients
from burnerlab.burner.evaluation import jet_flow
from burnerlab.burner.port_resistance import PortStream
from burnerlab.burner.primary_air import BurnerSystem, burner_system, entrainment
from burnerlab.gas import Gas

TABLE = "burner_coefficients"
THEORY, HOT, TUBE, INLET = "entrainment theory", "hot factor", "throat loss", "inlet loss"
THIN, DEEP = "port discharge, thin", "port discharge, deep"
UNKNOWN_DEPTH = "port discharge, unknown depth"
SHALLOW, ATTACHED = 0.5, 1.0
"""Depth over diameter to which a port rests on the loss of a thin hole, and from which on that of an attached one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Samples of one kind of burner on one gas, and the balance of each with the table in use."""

    places: list[int]
    system: BurnerSystem
    start: Array  # air per gas with the coefficients of the table, where the search begins
    stoichiometric_air: float
    movable: frozenset[str]  # rows of the table its primary air rests on
    port_row: str


def usable(samples: Sequence[Sample]) -> list[Sample]:
    """Samples whose primary air can be calculated: throat and ports given, gas with a composition."""
    return [s for s in samples if s.burner.throat_m and s.burner.ports and isinstance(s.gas, Gas)]


def port_row(geometry: BurnerGeometry) -> str:
    """The row that the discharge of the ports is from; "" when given, or between two rows."""
    if geometry.port_discharge is not None:
        return ""
    if geometry.port_depth_m is None:
        return UNKNOWN_DEPTH
    diameters = np.asarray(geometry.port_depth_m) / geometry.port_width_m
    return DEEP if diameters >= ATTACHED else THIN if diameters <= SHALLOW else ""


def batches(samples: Sequence[Sample], setup: CalibrationSetup) -> list[Batch]:
    """The balance of every sample with the coefficients of the table in use."""
    table, groups = coefficients(setup.own), []
    for places in by_burner_and_gas(samples).values():
        part = [samples[k] for k in places]
        geometry, fuel = geometry_of(part, setup), setup.fuel_of(part[0])
        options = EvaluationOptions(own=setup.own, hot_ratio=1.0 if setup.hot else None)
        place, pressure = surroundings_of(part), column(part, lambda s: s.gauge_pressure_Pa)
        flow = jet_flow(geometry, fuel, pressure, place, options)
        system = burner_system(geometry, fuel, flow, place, options)
        if setup.hot:
            system = replace(system, factor=system.factor * table[HOT].value)
        row = port_row(geometry)
        movable = {
            THEORY,
            HOT if setup.hot else "",
            TUBE if geometry.tube_loss is None else "",
            INLET if geometry.shutter_area_m2 is not None and geometry.inlet_loss is None else "",
            row,
        }
        groups.append(
            Batch(
                places=places,
                system=system,
                start=entrainment(system).air_per_gas,
                stoichiometric_air=fuel.stoichiometric_air,
                movable=frozenset(movable - {""}),
                port_row=row,
            )
        )
    return groups


def aerations(each: Sequence[Batch], moved: Mapping[str, Numbers], jet: Numbers = 0.0) -> Array:
    """Primary aeration of every sample with rows of the table moved by their logs, and all jets by one [-].

    each : of ``batches``; moved, jet : floats, or arrays of one shape [...]. Returns [..., samples].
    """
    shape = np.broadcast_shapes(np.shape(jet), *map(np.shape, moved.values()))
    values, area = np.empty((*shape, count_of(each))), np.exp(array(jet))[..., None]
    for batch in each:
        shift = {name: np.exp(array(moved.get(name, 0.0)))[..., None] for name in batch.movable}
        tube, old = batch.system.tube, batch.system.jet
        system = replace(
            batch.system,
            jet=replace(old, effective_area_m2=old.effective_area_m2 * area),
            tube=replace(
                tube,
                loss=np.asarray(tube.loss) * shift.get(TUBE, 1.0),
                inlet_loss=np.asarray(tube.inlet_loss) * shift.get(INLET, 1.0),
            ),
            ports=_shifted(batch.system.ports, batch.port_row, shift.get(batch.port_row, 1.0)),
            factor=batch.system.factor * shift.get(THEORY, 1.0) * shift.get(HOT, 1.0),
        )
        values[..., batch.places] = entrainment(system, batch.start).air_per_gas / batch.stoichiometric_air
    return values


def count_of(each: Sequence[Batch]) -> int:
    """How many samples the batches hold."""
    return sum(len(batch.places) for batch in each)


def _shifted(ports: PortStream, row: str, factor: Numbers) -> PortStream:
    """Ports whose discharge is a factor of what it was, that of the row they rest on."""
    losses = ports.losses
    if row == UNKNOWN_DEPTH and ports.discharge is not None:
        return replace(ports, discharge=np.asarray(ports.discharge) * factor)
    if row == THIN:
        return replace(ports, losses=replace(losses, thin_discharge=losses.thin_discharge * factor))
    if row == DEEP:
        return replace(ports, losses=replace(losses, deep_discharge=losses.deep_discharge * factor))
    return ports


@dataclass(frozen=True, slots=True)
class SharedErrors:
    """What primary air and jets are wrong by with independent errors of one standard deviation; sample by error."""

    of_air: Array
    of_jet: Array

    def at(self, places: Sequence[int]) -> SharedErrors:
        return SharedErrors(self.of_air[places], self.of_jet[places])


@dataclass(frozen=True, slots=True, kw_only=True)
class PrimaryAirFit:
    """What samples of primary air told, and what is left open."""

    constants: tuple[ModelConstant, ...]
    moved: Mapping[str, float]  # log of each told coefficient over that of the table in use
    names: tuple[str, ...]  # of the joint posterior below; the area of the jets comes last
    value: Array
    covariance: Array

    def shared(self, each: Sequence[Batch]) -> SharedErrors:
        """Errors that the calculated primary air and the jets of the samples of the batches share."""
        count = count_of(each)
        if not np.any(self.covariance):
            return SharedErrors(*np.zeros((2, count, 1)))
        root = np.linalg.cholesky(self.covariance)
        _, slopes = linearised(_model(each, self.names), self.value)
        return SharedErrors(slopes @ root, np.tile(root[-1], (count, 1)))


def learn_air(samples: Sequence[Sample], setup: CalibrationSetup, only: frozenset[str]) -> PrimaryAirFit:
    """Coefficients of the momentum balance from the samples of primary air.

    only : names to learn; all that the samples rest on when empty
    """
    fit_for = usable(samples)
    read = [s for s in fit_for if s.aeration is not None]
    each = batches(read, setup)
    names = [name for name in _movable(each) if not only or name in only]
    units = len({s.serial for s in read})
    if not names or units < rules()["fewest units"]:
        why = f"too few units to show their spread: {units}"
        untold = tuple(_untold(name, setup, read, why) for name in names)
        return _before(batches(fit_for, setup), setup, untold)
    solution, numbers = _fitted(read, each, names, setup), unit_numbers(read)
    odd = outlying(solution.residual, numbers)
    sound = [s for s, unit in zip(read, numbers, strict=True) if unit not in odd]
    serials = tuple(dict.fromkeys(s.serial for s in read if s not in sound))
    if serials:
        each = batches(sound, setup)
        solution = _fitted(sound, each, names, setup)
    return _learned(sound, serials, each, names, solution, setup)


def _movable(each: Sequence[Batch]) -> list[str]:
    """The rows of the table that the primary air of the batches rests on."""
    return list(dict.fromkeys(name for batch in each for name in sorted(batch.movable)))


def _before(
    each: Sequence[Batch], setup: CalibrationSetup, constants: tuple[ModelConstant, ...]
) -> PrimaryAirFit:
    """Primary air with everything as it was known."""
    names = _movable(each)
    deviation = np.array([*(setup.prior(n).log_deviation for n in names), rules()["jet area"]])
    return PrimaryAirFit(
        constants=constants,
        moved={},
        names=tuple(names),
        value=np.zeros(deviation.size),
        covariance=np.diag(deviation**2),
    )


def _learned(
    samples: Sequence[Sample],
    outliers: tuple[str, ...],
    each: Sequence[Batch],
    names: list[str],
    solution: Fit,
    setup: CalibrationSetup,
) -> PrimaryAirFit:
    """The joint posterior: written as a whole when the calculated primary air is known better than before.

    Coefficients that move the air alike share what was read between them; each is told when its own uncertainty
    narrowed. All go into the table, for the air that was read comes only from all of them together.
    """
    places = [k for k in range(len(names) + 2) if k != len(names)]  # without the analyser's error
    after = PrimaryAirFit(
        constants=(),
        moved=dict(zip(names, solution.value.tolist(), strict=False)),
        names=tuple(names),
        value=solution.value[places],
        covariance=solution.covariance[np.ix_(places, places)],
    )
    before = _before(each, setup, ())
    now, known = _of_air(after, each), _of_air(before, each)
    if now / known > rules()["told ratio"]:
        why = f"primary air: {not_narrowed(now, known)}"
        return replace(before, constants=tuple(_untold(n, setup, samples, why, outliers) for n in names))
    return replace(after, constants=tuple(_constants(samples, outliers, names, solution, setup)))


def _of_air(air: PrimaryAirFit, each: Sequence[Batch]) -> float:
    """Standard deviation of the log of the calculated primary air [-]."""
    return float(np.sqrt(np.mean(np.sum(air.shared(each).of_air ** 2, axis=1))))


def _constants(
    samples: Sequence[Sample],
    outliers: tuple[str, ...],
    names: Sequence[str],
    solution: Fit,
    setup: CalibrationSetup,
) -> Iterator[ModelConstant]:
    half, limit = solution.deviation * solution.quantile(rules()["stated level"]), rules()["told ratio"]
    known = [(float(solution.deviation[k]), setup.prior(name).log_deviation) for k, name in enumerate(names)]
    for k, name in enumerate(names):
        used, rivals = coefficients(setup.own)[name].value, ", ".join(n for n in names if n != name)
        value, low, high = (float(used * np.exp(solution.value[k] + s * half[k])) for s in (0.0, -1.0, 1.0))
        is_learned = known[k][0] / known[k][1] <= limit
        beside = f"; goes with {rivals}" if rivals else ""
        why = narrowed(*known[k]) if is_learned else f"{not_narrowed(*known[k])} it from the others"
        yield replace(
            _untold(name, setup, samples, why + beside, outliers),
            value=value,
            low=low,
            high=high,
            spread=solution.scatter,
            spread_read=solution.scatter_read,
            is_learned=is_learned,
            is_in_table=True,
        )


def _model(each: Sequence[Batch], names: Sequence[str]) -> Model:
    """Log of the primary aeration by the logs of the coefficients over those of the table, and of the jets' area."""

    def model(p: Array) -> Array:
        moved: dict[str, Numbers] = {name: p[..., k] for k, name in enumerate(names)}
        log_air: Array = np.log(np.maximum(aerations(each, moved, p[..., -1]), SMALLEST))
        return log_air

    return model


def _fitted(
    samples: Sequence[Sample], each: Sequence[Batch], names: list[str], setup: CalibrationSetup
) -> Fit:
    """Logs of the coefficients over those of the table, of the analyser's error and of the jets' area."""
    table, limits = coefficients(setup.own), rules()
    priors = [setup.prior(name) for name in names]
    declared = column(samples, lambda s: s.aeration_uncertainty)
    finite = declared[np.isfinite(declared)]
    analyser = float(np.median(finite)) if finite.size else limits["undeclared air"]
    mean = [np.log(p.value / table[name].value) for p, name in zip(priors, names, strict=True)]
    deviation = [prior.log_deviation for prior in priors]
    readings = LogReadings(
        log_value=np.log(column(samples, lambda s: s.aeration)), unit=unit_numbers(samples)
    )
    log_air = _model(each, names)

    def read(p: Array) -> Array:
        values: Array = log_air(np.delete(p, -2, axis=-1)) + p[..., -2:-1]
        return values

    return fit(
        read,
        readings,
        np.array([*mean, 0.0, 0.0]),
        np.array([*deviation, analyser, limits["jet area"]]),
        limits["air scatter"],
    )


SMALLEST = 1e-6  # primary aeration below which there is none


def _untold(
    name: str, setup: CalibrationSetup, samples: Sequence[Sample], why: str, outliers: tuple[str, ...] = ()
) -> ModelConstant:
    prior, used = setup.prior(name), coefficients(setup.own)[name]
    return ModelConstant(
        name=name,
        table=TABLE,
        row=name,
        unit=used.unit,
        prior=prior.value,
        prior_low=prior.low,
        prior_high=prior.high,
        value=used.value,
        low=used.low,
        high=used.high,
        units=len({sample.serial for sample in samples}),
        readings=len(samples),
        spread=None,
        outliers=outliers,
        is_learned=False,
        is_in_table=False,
        why=why,
    )
