"""Burning velocity of a gas with air, with its stated error.

A gas is prepared once (its blend at every node of the tables); a look-up is then interpolation and a polynomial in
ln T and ln p, linear between close nodes of the equivalence ratio laid through a cubic spline.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.flame.blend import Parts, along, as_mixture, blended, sorted_parts
from burnerlab.flame.burning_velocity_table import PHI, STATES, coefficients, flame_table, monomials
from burnerlab.flame.equilibrium import flame_arrays
from burnerlab.flame.making.plan import BASE_TEMPERATURE_K, COLD_K, HOT_K, BASE_PRESSURE_Pa
from burnerlab.flame.profile import AIR, OXYGEN_DEMAND
from burnerlab.gas.combustion_air import composition_of
from burnerlab.quantity import Kind, Quantity, si
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.read import range_words
from burnerlab.tables import rows
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

# How far off a tabulated burning velocity may be: stated error, evidence, and the reasons in words.

FloatArray = NDArray[np.float64]

SLOW_m_per_s = 0.05  # below it real flames are ruled by heat loss and buoyancy, which the model leaves out
TRACE = 1e-3  # share of the oxygen demand below which a part of a blend is not counted
COVERAGE_FACTOR = 1  # of every stated error: that of the rows of flame_accuracy
RICH = 1.4  # beyond it the measured sets themselves differ by a third
HOT_FROM_K = HOT_K * (1 + 1e-9)  # beyond it errors of their own hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Standard error of a burning velocity, relative, and its evidence.

    The error is a root mean square (coverage factor 1), not a largest: about a third of measurements lie outside it.
    """

    relative_error: float = field(metadata=output("standard error", Kind.FRACTION))
    evidence: Evidence = field(
        metadata=output("evidence")
    )  # published chemistry; an estimate beyond what it was compared with
    terms: tuple[str, ...] = field(metadata=output("terms of the error"))
    reasons: tuple[str, ...] = field(metadata=output("reasons"))  # why it is only an estimate


def flammable_ratios(parts: Parts) -> tuple[float, float] | None:
    """Equivalence ratios between which the gas burns in air at room temperature: Le Chatelier's rule, inert left out.

    None when the gas has no fuel with a published limit.

    >>> low, high = flammable_ratios(Parts(hydrocarbons={"methane": 1.0}, hydrogen=0.0, carbon_monoxide=0.0,
    ...     inerts={}, oxygen=0.0))
    >>> round(low, 3), round(high, 2)
    (0.501, 1.68)
    """
    fuels = fuel_shares(parts)
    table = {row["component"]: row for row in rows("flame_limits")}
    known = {name: share for name, share in fuels.items() if name in table}
    total = sum(known.values())
    if total <= 0.0:
        return None
    demand = sum(OXYGEN_DEMAND[name] * share for name, share in known.items()) / total / AIR["oxygen"]

    def ratio(column: str) -> float:
        percent = total / sum(share / float(table[name][column]) for name, share in known.items())
        return demand * (percent / 100) / (1 - percent / 100)

    return ratio("lower_percent"), ratio("upper_percent")


def fuel_shares(parts: Parts) -> dict[str, float]:
    """Everything that burns [mol/mol]."""
    light = {"hydrogen": parts.hydrogen, "carbon monoxide": parts.carbon_monoxide}
    return {name: share for name, share in {**parts.hydrocarbons, **light}.items() if share > 0.0}


def accuracy_of(
    parts: Parts,
    equivalence_ratio: float,
    burning_velocity_m_per_s: float,
    stand_ins: bool,
    tabulated: bool = True,
    unburnt_temperature_K: float = BASE_TEMPERATURE_K,
) -> Accuracy:
    """Stated error and evidence of a tabulated burning velocity.

    parts : the gas; equivalence_ratio : on all oxygen [-]; burning_velocity_m_per_s [m/s];
    stand_ins : whether parts of the gas burn like something else; tabulated : from the tables and blending rules,
    not solved; unburnt_temperature_K [K].
    """
    is_hot = unburnt_temperature_K > HOT_FROM_K
    terms = _applying(parts, stand_ins, tabulated, is_hot)
    reasons = _reasons(parts, equivalence_ratio, burning_velocity_m_per_s, is_hot)
    return Accuracy(
        relative_error=_error(terms, equivalence_ratio),
        evidence=Evidence.ESTIMATE if reasons else Evidence.PUBLISHED,
        terms=tuple(_term(name, equivalence_ratio)[1] for name in terms),
        reasons=reasons,
    )


def relative_errors(
    parts: Parts,
    equivalence_ratio: ArrayLike,
    stand_ins: bool,
    unburnt_temperature_K: ArrayLike = BASE_TEMPERATURE_K,
) -> FloatArray:
    """Standard error of tabulated burning velocities, relative, one for each state [-].

    parts : the gas; equivalence_ratio : on all oxygen [-]; stand_ins : whether parts burn like something else;
    unburnt_temperature_K [K]. The figure of ``accuracy_of``, for arrays.
    """
    ratio, temperature = np.broadcast_arrays(
        np.asarray(equivalence_ratio, dtype=float), np.asarray(unburnt_temperature_K, dtype=float)
    )

    def errors_at(is_hot: bool) -> FloatArray:
        edges, errors = _steps(_applying(parts, stand_ins, tabulated=True, is_hot=is_hot))
        return np.asarray(
            errors[np.searchsorted(edges, ratio, "left") + np.searchsorted(edges, ratio, "right")]
        )

    is_hot = temperature > HOT_FROM_K
    if not is_hot.any():
        return errors_at(is_hot=False)
    return np.where(is_hot, errors_at(is_hot=True), errors_at(is_hot=False))


@cache
def _steps(terms: tuple[str, ...]) -> tuple[FloatArray, FloatArray]:
    """Ratios at which a row of these terms ends, and the error below the first, at it, between it and the next ..."""
    edges = np.unique([end for name in terms for row in _rows_of(name) for end in row[:2]])
    between = (edges[:-1] + edges[1:]) / 2
    places = np.empty(2 * edges.size + 1)
    places[0], places[-1] = edges[0] - 1.0, edges[-1] + 1.0
    places[1:-1:2], places[2:-1:2] = edges, between
    return edges, np.array([_error(terms, float(place)) for place in places])


def _error(terms: tuple[str, ...], equivalence_ratio: float) -> float:
    return sqrt(sum(_term(name, equivalence_ratio)[0] ** 2 for name in terms))


def _applying(parts: Parts, stand_ins: bool, tabulated: bool, is_hot: bool) -> tuple[str, ...]:
    weights = {name: OXYGEN_DEMAND[name] * share / parts.demand for name, share in fuel_shares(parts).items()}
    weights = {name: weight for name, weight in weights.items() if weight > TRACE}
    main = max(weights, key=lambda name: weights[name])
    heavy = [name for name in weights if name not in ("hydrogen", "carbon monoxide")]
    rule = ["stand-ins"] if stand_ins else []
    rule += ["hot mixture"] if is_hot else []
    if not tabulated:
        return (main, *rule)
    found = [main, "hot table" if is_hot else "table", *rule]
    if len(heavy) > 1:
        found.append("blend of hydrocarbons")
    if heavy and "hydrogen" in weights:
        found.append("hydrogen in methane" if heavy == ["methane"] else "hydrogen in other hydrocarbons")
    if "carbon monoxide" in weights and len(weights) > 1:
        found.append("carbon monoxide in a blend" if heavy else "carbon monoxide and hydrogen")
    if parts.inerts:
        found.append("inert gas")
    return tuple(found)


@cache
def _rows_of(term: str) -> tuple[tuple[float, float, float, str], ...]:
    """Lowest and highest equivalence ratio, error and words of each row of a term."""
    found = tuple(
        (float(row["lowest_ratio"]), float(row["highest_ratio"]), float(row["relative_error"]), row["what"])
        for row in rows("flame_accuracy")
        if row["term"] == term
    )
    if not found:
        raise UserError(Problem("no stated error in the table", value=term, key="flame_accuracy"))
    return found


def _term(name: str, equivalence_ratio: float) -> tuple[float, str]:
    """Error of a term and its words: of the row that holds there, the larger where two meet, the largest beyond all."""
    every = _rows_of(name)
    holding = [row for row in every if row[0] <= equivalence_ratio <= row[1]]
    _, _, error, what = max(holding or every, key=lambda row: row[2])
    return error, f"{what}: {100 * error:g} %"


def _reasons(parts: Parts, equivalence_ratio: float, speed: float, is_hot: bool) -> tuple[str, ...]:
    found = []
    if is_hot:
        found.append(
            f"hotter than {HOT_FROM_K - 273.15:.0f} °C: no measured set was read there, the change with temperature "
            "is computed"
        )
    limits = flammable_ratios(parts)
    if limits is not None and not limits[0] <= equivalence_ratio <= limits[1]:
        found.append(
            f"outside the flammable range in air (equivalence ratio {limits[0]:.2f} to {limits[1]:.2f}): "
            "the model has no heat loss and burns on"
        )
    if speed < SLOW_m_per_s:
        slow = f"slower than {100 * SLOW_m_per_s:g} cm/s"
        found.append(f"{slow}: heat loss and buoyancy, left out here, rule such flames")
    if equivalence_ratio > RICH and parts.hydrocarbons:
        found.append(f"richer than {RICH:g}: measured burning velocities differ by a third from each other")
    if parts.carbon_monoxide > 0.0 and parts.hydrogen < TRACE:
        found.append("carbon monoxide burns only with a trace of hydrogen or water: 1.5 % hydrogen is taken")
    return tuple(found)


# Burning velocity, flame temperature and thickness of a gas from the shipped tables: one state or a
# million.

BoolArray = NDArray[np.bool_]

HIGHEST_K = {row["component"]: float(row["highest_unburnt_K"]) for row in rows("flame_temperature_range")}
"""How hot the mixture of each component with air may be; a blend keeps to the lowest of its parts."""
RANGES = {
    "equivalence ratio": (float(PHI[0]), float(PHI[-1]), ""),
    "unburnt temperature": (COLD_K, max(HIGHEST_K.values()), " K"),
    "pressure": (54e3, 110e3, " Pa absolute"),
}
"""The widest ranges; the highest temperature of a gas is that of its parts."""
KINDS = (Kind.FRACTION, Kind.TEMPERATURE, Kind.ABSOLUTE_PRESSURE)
DENSE_STEP = 0.0025  # of the equivalence ratio; the spline is followed within 0.01 %
CHUNK = 16384  # states worked on at a time, so that they stay in the processor's cache


@dataclass(frozen=True, slots=True, kw_only=True)
class GasFlame:
    """A gas prepared for look-up: coefficients on close, even steps of the equivalence ratio."""

    parts: Parts
    speed: FloatArray  # [9, phi]: logarithm at the base state, then the eight changes
    thickness: FloatArray
    temperature: FloatArray
    richest: float  # equivalence ratio on all oxygen up to which the flame temperature is known
    hottest_K: float  # unburnt temperature up to which its flames are tabulated
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameStates:
    """Flames of one gas in arrays; NaN where the tables do not reach and ``inside`` is false."""

    burning_velocity_m_per_s: FloatArray = field(metadata=output("burning velocity", Kind.VELOCITY))
    adiabatic_flame_temperature_K: FloatArray = field(
        metadata=output("adiabatic flame temperature", Kind.TEMPERATURE)
    )
    thermal_thickness_m: FloatArray = field(metadata=output("thermal thickness", Kind.LENGTH))
    inside: BoolArray = field(metadata=output("in the tables"))
    equivalence_ratio: FloatArray = field(metadata=output("equivalence ratio"))
    unburnt_temperature_K: FloatArray = field(metadata=output("unburnt mixture", Kind.TEMPERATURE))
    pressure_Pa: FloatArray = field(metadata=output("pressure", Kind.ABSOLUTE_PRESSURE))
    model: str = "tables of flat flames (Cantera, cut of the C6 alkane mechanism)"
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Flame:
    """One flame with its stated error and what it rests on."""

    burning_velocity_m_per_s: float = field(metadata=output("burning velocity", Kind.VELOCITY))
    adiabatic_flame_temperature_K: float = field(
        metadata=output("adiabatic flame temperature", Kind.TEMPERATURE)
    )
    thermal_thickness_m: float = field(metadata=output("thermal thickness", Kind.LENGTH))
    equivalence_ratio: float = field(metadata=output("equivalence ratio"))
    unburnt_temperature_K: float = field(metadata=output("unburnt mixture", Kind.TEMPERATURE))
    pressure_Pa: float = field(metadata=output("pressure", Kind.ABSOLUTE_PRESSURE))
    accuracy: Accuracy = field(metadata=output("accuracy", is_part=True))
    model: str = field(metadata=output("model"))
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    @computed_output("aeration")
    def aeration(self) -> float:
        """Air over stoichiometric air [-]."""
        return 1.0 / self.equivalence_ratio


def prepared(gas: Any) -> GasFlame:
    """A gas ready for look-up; kept, so that asking again costs nothing.

    Raises UserError for a gas without composition or with parts the tables do not know.
    """
    names, fractions = composition_of(gas)
    return _prepared(tuple(names), tuple(float(value) for value in fractions))


@lru_cache(maxsize=64)
def _prepared(names: tuple[str, ...], fractions: tuple[float, ...]) -> GasFlame:
    parts, notes = sorted_parts(dict(zip(names, fractions, strict=True)))
    temperature, richest = _temperatures(parts)
    speed, thickness = blended(parts, flame_table())
    nodes = np.stack([_nodes(speed), _nodes(thickness), _nodes(temperature)])
    dense = np.arange(PHI[0], PHI[-1] + DENSE_STEP, DENSE_STEP)
    close = np.moveaxis(along(PHI, np.moveaxis(nodes, -1, 0), np.minimum(dense, PHI[-1])), 0, -1)
    return GasFlame(
        parts=parts,
        speed=close[0],
        thickness=close[1],
        temperature=close[2],
        richest=richest,
        hottest_K=hottest_K(parts),
        notes=notes,
    )


def hottest_K(parts: Parts) -> float:
    """Unburnt temperature up to which the flames of a gas are tabulated [K]: the lowest of its parts, traces left out.

    >>> hottest_K(Parts(hydrocarbons={"methane": 1.0}, hydrogen=0.0, carbon_monoxide=0.0, inerts={}, oxygen=0.0))
    700.0
    """
    shares = {**fuel_shares(parts), **parts.inerts}
    return min(HIGHEST_K[name] for name, share in shares.items() if share > TRACE)


def _nodes(values: FloatArray) -> FloatArray:
    """Base value and the eight changes at each node [9, phi]."""
    return np.concatenate([values[:1], coefficients(values)])


def _temperatures(parts: Parts) -> tuple[FloatArray, float]:
    """Adiabatic flame temperature at every node of the table [state, phi], and the richest node that has one.

    Cool rich products of a diluted gas would form methane and soot, which the equilibrium leaves out and refuses.
    """

    mixture, states, nominal = as_mixture(parts), np.array(STATES), nominal_ratio(parts, PHI)
    for count in range(PHI.size, 1, -1):
        try:
            found = flame_arrays(
                list(mixture),
                list(mixture.values()),
                nominal[None, :count],
                states[:, :1],
                states[:, :1],
                states[:, 1:],
            ).temperature_K
        except UserError:
            if count == 2:
                raise
            continue
        missing = PHI.size - count
        return np.pad(found, ((0, 0), (0, missing)), mode="edge"), float(PHI[count - 1])
    raise AssertionError("the table has equivalence ratios")


def nominal_ratio(parts: Parts, true_ratio: FloatArray) -> FloatArray:
    """Equivalence ratio on the air added, from the one on all oxygen; they differ when the gas holds oxygen."""
    if parts.oxygen == 0.0:
        return true_ratio
    net = parts.demand - parts.oxygen
    return np.asarray(net / np.maximum(parts.demand / true_ratio - parts.oxygen, 1e-9))


def true_ratio(parts: Parts, nominal: ArrayLike) -> FloatArray:
    """Equivalence ratio on all oxygen of the mixture, from the one on the air added."""
    states = np.asarray(nominal, dtype=float)
    if parts.oxygen == 0.0:
        return states
    return np.asarray(parts.demand / ((parts.demand - parts.oxygen) / states + parts.oxygen))


def flame_states(
    gas: Any,
    equivalence_ratio: ArrayLike,
    unburnt_temperature_K: ArrayLike = BASE_TEMPERATURE_K,
    pressure_Pa: ArrayLike = BASE_PRESSURE_Pa,
) -> FlameStates:
    """Burning velocity, flame temperature and thickness of many states of one gas.

    gas : a gas or composition; equivalence_ratio [-], 0.6 to 2.25; unburnt_temperature_K [K], from 253.15 to what the
    table ``flame_temperature_range`` says of its parts, 700 at most; pressure_Pa : absolute [Pa], 54 to 110 kPa.
    Arrays broadcast together; outside the range the answer is NaN and ``inside`` false. Source: burnerlab-flames.
    """
    ready = prepared(gas)
    states = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (equivalence_ratio, unburnt_temperature_K, pressure_Pa))
    )
    flat = [np.ascontiguousarray(value).reshape(-1) for value in states]
    out = np.empty((3, flat[0].size))
    inside = np.empty(flat[0].size, dtype=bool)
    for start in range(0, flat[0].size, CHUNK):
        part = slice(start, start + CHUNK)
        _look_up(ready, [value[part] for value in flat], out[:, part], inside[part])
    shape = states[0].shape
    return FlameStates(
        burning_velocity_m_per_s=out[0].reshape(shape),
        adiabatic_flame_temperature_K=out[2].reshape(shape),
        thermal_thickness_m=out[1].reshape(shape),
        inside=inside.reshape(shape),
        equivalence_ratio=states[0],
        unburnt_temperature_K=states[1],
        pressure_Pa=states[2],
        notes=ready.notes,
    )


def _look_up(ready: GasFlame, states: Sequence[FloatArray], out: FloatArray, inside: BoolArray) -> None:
    """One chunk: speed, thickness and temperature into ``out``, validity into ``inside``."""
    phi, temperature, pressure = states
    phi = true_ratio(ready.parts, phi)
    inside[:] = True
    for value, (low, high, _) in zip((phi, temperature, pressure), RANGES.values(), strict=True):
        inside &= (value >= low * (1 - 1e-9)) & (value <= high * (1 + 1e-9))
    inside &= (phi <= ready.richest * (1 + 1e-9)) & (temperature <= ready.hottest_K * (1 + 1e-9))
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = monomials(temperature, pressure)
    place = (np.where(inside, phi, 1.0) - PHI[0]) * (1 / DENSE_STEP)
    index = np.clip(place.astype(np.intp), 0, ready.speed.shape[1] - 2)
    share = place - index
    for k, table in enumerate((ready.speed, ready.thickness, ready.temperature)):
        value = _at(table[0], index, share)
        for row, term in zip(table[1:], terms, strict=True):
            value += _at(row, index, share) * term
        out[k] = np.exp(value) if k < 2 else value
    out[:, ~inside] = np.nan


def _at(row: FloatArray, index: NDArray[np.intp], share: FloatArray) -> FloatArray:
    low = row.take(index)
    return low + share * (row.take(index + 1) - low)


def burning_velocity_errors(
    gas: Any, equivalence_ratio: ArrayLike, unburnt_temperature_K: ArrayLike = BASE_TEMPERATURE_K
) -> FloatArray:
    """Standard error of the tabulated burning velocity, relative (coverage factor 1) [-].

    gas : a gas or composition; equivalence_ratio [-]; unburnt_temperature_K [K]. Arrays broadcast together.
    Source: burnerlab-flames.

    >>> from burnerlab.gas import load
    >>> burning_velocity_errors(load("propane"), [1.0, 1.8]).round(2).tolist()
    [0.05, 0.2]
    """
    ready = prepared(gas)
    return relative_errors(
        ready.parts, true_ratio(ready.parts, equivalence_ratio), bool(ready.notes), unburnt_temperature_K
    )


def flame_state(
    gas: Any,
    equivalence_ratio: float,
    unburnt_temperature_K: Quantity = BASE_TEMPERATURE_K,
    pressure_Pa: Quantity = BASE_PRESSURE_Pa,
) -> Flame:
    """One flame from the tables, with its stated error and what it rests on.

    Arguments as in ``flame_states``, one number each. Raises UserError outside the tables. Source: burnerlab-flames.

    >>> from burnerlab.gas import load
    >>> flame_state(load("G20"), 1.0, "25 C").burning_velocity_m_per_s
    0.37
    """
    state = (
        si(equivalence_ratio, Kind.FRACTION, "equivalence_ratio"),
        si(unburnt_temperature_K, Kind.TEMPERATURE, "unburnt_temperature_K"),
        si(pressure_Pa, Kind.ABSOLUTE_PRESSURE, "pressure_Pa"),
    )
    entries = equivalence_ratio, unburnt_temperature_K, pressure_Pa
    _refuse_outside(state, entries)
    found, ready = flame_states(gas, *state), prepared(gas)
    if not found.inside:
        raise UserError(_outside_of_gas(ready, state, entries))
    speed = float(found.burning_velocity_m_per_s)
    accuracy = accuracy_of(
        ready.parts,
        float(true_ratio(ready.parts, state[0])),
        speed,
        bool(ready.notes),
        unburnt_temperature_K=state[1],
    )
    return Flame(
        burning_velocity_m_per_s=speed,
        adiabatic_flame_temperature_K=float(found.adiabatic_flame_temperature_K),
        thermal_thickness_m=float(found.thermal_thickness_m),
        equivalence_ratio=state[0],
        unburnt_temperature_K=state[1],
        pressure_Pa=state[2],
        accuracy=accuracy,
        model=found.model,
        notes=(*ready.notes, *accuracy.reasons),
    )


def _as_written(value: float, entry: object) -> str:
    """A value in the words of the user, who wrote a text with a unit or a number in SI."""
    return f"{value:g}" if isinstance(entry, float | int) else str(entry)


def _accepted(entry: object, kind: Kind, ends: tuple[float, float, str]) -> str:
    """A range in the unit that the user wrote; of a bare number in SI."""
    low, high, unit = ends
    return range_words(entry, kind, low, high) if isinstance(entry, str) else f"{low:g} to {high:g}{unit}"


def _refuse_outside(state: Sequence[float], entries: Sequence[object]) -> None:
    """UserError where a state lies outside the tables of every gas; entries : the same as the user wrote it."""
    problems = [
        Problem(
            "outside the flame tables",
            _as_written(value, entry),
            key=key,
            accepted=_accepted(entry, kind, ends),
        )
        for value, entry, kind, (key, ends) in zip(state, entries, KINDS, RANGES.items(), strict=True)
        for low, high in [ends[:2]]
        if not low * (1 - 1e-9) <= value <= high * (1 + 1e-9)
    ]
    if problems:
        raise UserError(problems)


def _outside_of_gas(ready: GasFlame, state: Sequence[float], entries: Sequence[object]) -> Problem:
    """Why a state inside the ranges of all gases is outside those of this one."""
    what = "outside the flame tables for this gas"
    if state[1] > ready.hottest_K * (1 + 1e-9):
        accepted = _accepted(entries[1], Kind.TEMPERATURE, (COLD_K, ready.hottest_K, " K"))
        return Problem(what, _as_written(state[1], entries[1]), key="unburnt temperature", accepted=accepted)
    low, high = nominal_ratio(ready.parts, np.array([PHI[0], ready.richest]))
    return Problem(
        what, _as_written(state[0], entries[0]), key="equivalence ratio", accepted=f"{low:.3g} to {high:.3g}"
    )
