"""Many conversions of one appliance at once: the equations of a conversion over arrays of cases.

What varies from case to case is numeric (rates, pressure, altitude, gas temperature, coefficient, present bores);
gases, drills and policy are common to all cases of a call. ``convert`` is the judge: a case here equals it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, is_dataclass
from functools import lru_cache, partial
from typing import Any, NamedTuple, get_args, get_type_hints

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.burner_conversion import law_of
from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.job import Job, prepare
from burnerlab.appliance.conversion.result import (
    BurnerConversion,
    Conversion,
    Couple,
    DrillChoice,
    Headline,
)
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.appliance.project.project_file import appliance_of, project_data
from burnerlab.appliance.study.design import TARGET_NUMBERS, TARGET_TEXTS, Study, Vary, rate_burner
from burnerlab.gas import load
from burnerlab.orifice import nozzle
from burnerlab.orifice.altitude import UNIT_BORE_m, policy_factor, sea_level_bore_factor
from burnerlab.quantity import Kind, read
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.outputs import Column, ending
from burnerlab.quantity.outputs import columns as columns_of
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa
from burnerlab.tables.problem import Problem, UserError

# Many conversions of one appliance at once: the same equations as ``convert``, over arrays of cases.

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


def has_array_form(job: Job) -> bool:
    """Whether the array form does: every burner's coefficient a number, and no orifice that of a couple's other gas."""
    if job.reference is not None:
        return False
    has_coefficient = job.target.coefficient is not None
    return has_coefficient or all(
        isinstance(law_of(burner.orifice, job.appliance.tables), int | float)
        for burner in job.appliance.burners
    )


def convert_many(job: Job, cases: Cases) -> ManyConversions:
    """Every case of a job converted: exact orifice, drill taken, heat inputs and flows.

    A = I f/(n K G H), G the ideal mass flux at the supply pressure of the case, f the altitude policy's factor; of
    the two drills on either side the one within the band and nearest in heat input is taken.
    job : from ``prepare``; cases : what differs. Raises UserError as ``convert`` does, for any case at fault.
    """
    if not has_array_form(job):
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
    is_inside = (off >= job.tolerance.low) & (off <= job.tolerance.high)
    merit = np.where(real, np.abs(off) + np.where(is_inside, 0.0, 1e6), np.inf)
    best = np.argmin(merit, axis=0)
    found: NDArray[np.intp] = np.take_along_axis(index, best[None, :], axis=0)[0]
    return found


# One unit of work of a sweep: some cases of a study to columns of results, in whichever process.

Columns = dict[str, list[Any]]
Settings = tuple[tuple[str, str], ...]  # parameters given as text, and their values

ARRAY_OUTPUTS = {
    "to_orifice_m": "to_orifice_m",
    "choice.drill": "drill",
    "choice.diameter_m": "drill_diameter_m",
    "predicted_gross_W": "predicted_gross_W",
    "predicted_net_W": "predicted_net_W",
    "deviation": "deviation",
    "mass_flow_kg_per_s": "mass_flow_kg_per_s",
    "volume_flow_m3_per_s": "volume_flow_m3_per_s",
    "choked": "choked",
}
ARRAY_TOTALS = (
    "total_predicted_gross_W",
    "total_predicted_net_W",
    "total_mass_flow_kg_per_s",
    "total_volume_flow_m3_per_s",
)
BLOCK = 64
"""Array work is padded to whole blocks: the last few elements of an array may otherwise go another way through the
processor than the rest, and a case's last bit would depend on the chunk it stands in."""


OLD_OUTPUTS: Mapping[tuple[type, str], str] = {
    (result, old): new
    for result, old, new in (
        (Conversion, "from_pressure_Pa", "from_gauge_pressure_Pa"),
        (Conversion, "to_pressure_Pa", "to_gauge_pressure_Pa"),
        (Conversion, "to_pressure_low_Pa", "to_gauge_pressure_low_Pa"),
        (Conversion, "to_pressure_high_Pa", "to_gauge_pressure_high_Pa"),
        (Conversion, "new_train", "supply_of_new_gas"),
        (Conversion, "couple", "pressure_couple"),
        (Conversion, "couples_beside", "pressure_couples_beside"),
        (BurnerConversion, "predicted_low_W", "predicted_low_gross_W"),
        (BurnerConversion, "predicted_high_W", "predicted_high_gross_W"),
        (BurnerConversion, "taken_area_ratio", "area_ratio"),
        (Headline, "case", "deviation_case"),
        (Headline, "low", "deviation_low"),
        (Headline, "high", "deviation_high"),
        (Headline, "all_on", "deviation_all_on"),
        (Headline, "alone", "deviation_alone"),
        (DrillChoice, "low_W", "drill_tolerance_low_gross_W"),
        (DrillChoice, "high_W", "drill_tolerance_high_gross_W"),
        (Couple, "reference_pressure_Pa", "reference_gauge_pressure_Pa"),
        (Couple, "other_pressure_Pa", "other_gauge_pressure_Pa"),
    )
}
"""What study files of 0.1.0 call an output, by the result that holds it; its column has the head of today."""


def has_array_outputs(study: Study) -> bool:
    """Whether every output of the study has an array form."""
    return all(name in ARRAY_TOTALS or name.split(".", 2)[-1] in ARRAY_OUTPUTS for name in study.outputs)


def run_chunk(study: Study, start: int, stop: int) -> Columns:
    """Cases ``start`` to ``stop`` of a study: case number, parameters, outputs and error of each, as columns."""
    values = study.cases(start, stop)
    names = output_names(study)
    columns: Columns = {"case": list(range(start, stop))}
    columns |= {vary.parameter: list(column) for vary, column in zip(study.varies, values, strict=True)}
    results: dict[str, list[Any]] = {name: [None] * (stop - start) for name in names}
    errors = [""] * (stop - start)
    for settings, places in _groups(study, values).items():
        _group(study, settings, places, values, results, errors)
    return columns | results | {"error": errors}


def output_names(study: Study) -> list[str]:
    """Names of the output columns: ``burner.*.x`` is one for each burner.

    Raises UserError for a burner that the appliance does not have.
    """
    burners = _burners_of(study)
    found = []
    for name in study.outputs:
        if name.startswith("burner.*."):
            found += [f"burner.{burner}.{name.removeprefix('burner.*.')}" for burner in burners]
        else:
            found.append(name)
    return list(dict.fromkeys(found))


VARIED = {
    "target.pressure": "to_gauge_pressure_Pa",
    "target.altitude": "altitude_m",
    "target.gas_temperature": "gas_temperature_K",
}
"""Numbers that vary to the figure of a conversion whose unit they have in files."""


class Head(NamedTuple):
    """Head of a column of results: its key, and value in SI = value * factor + offset."""

    key: str
    factor: float = 1.0
    offset: float = 0.0


def heads(study: Study) -> dict[str, Head]:
    """The head of each parameter and output in files: its name with the unit of its kind in the study's system."""
    found = {vary.parameter: _varied_head(study, vary) for vary in study.varies}
    in_system = partial(Column.in_system, system=study.system)
    burners = sorted(_burners_of(study), key=len, reverse=True)
    for name in output_names(study):
        before, path = "", name
        cls: type = Conversion
        for burner in burners:
            if name.startswith(f"burner.{burner}."):
                before, cls = f"burner.{burner}.", BurnerConversion
                path = name.removeprefix(before)
                break
        found[name] = _head(before, cls, path.split("."), in_system)
    return found


def _varied_head(study: Study, vary: Vary) -> Head:
    if not vary.numeric:
        return Head(vary.parameter)
    if rate_burner(vary.parameter):
        column = _column(BurnerConversion, f"rate_{_appliance(study, ()).rating}_W")
        assert column is not None
        column = column.in_system(study.system)
        return Head(vary.parameter.removesuffix("rate") + column.key, *_scale(column))
    column = _column(Conversion, VARIED.get(vary.parameter, ""))
    if column is None:
        return Head(vary.parameter)
    column = column.in_system(study.system)
    return Head(vary.parameter + ending(column.unit), *_scale(column))


def _head(before: str, cls: type, path: list[str], in_system: Callable[[Column], Column]) -> Head:
    """A figure by its way from a result through its parts; one that is not declared keeps its name."""
    words = [OLD_OUTPUTS.get((cls, path[0]), path[0]), *path[1:]]
    if len(words) == 1:
        column = _column(cls, words[0])
        if column is None:
            return Head(before + words[0])
        column = in_system(column)
        return Head(before + column.key, *_scale(column))
    part = _part(cls, words[0])
    if part is None:
        return Head(before + ".".join(words))
    return _head(f"{before}{words[0]}.", part, words[1:], in_system)


def _part(cls: type, name: str) -> type | None:
    """The result that a field of a result holds."""
    hint = get_type_hints(cls).get(name)
    return next(
        (kind for kind in (hint, *get_args(hint)) if isinstance(kind, type) and is_dataclass(kind)), None
    )


def _column(cls: type, name: str) -> Column | None:
    """The declaration of a figure, there or in a part whose figures join the row."""
    for column in columns_of(cls):
        if column.name == name:
            return column
    parts = (_part(cls, column.name) for column in columns_of(cls) if column.declared.is_part)
    return next((found for part in parts if part and (found := _column(part, name))), None)


def _scale(column: Column) -> tuple[float, float]:
    return column.factor, column.offset


def _burners_of(study: Study) -> list[str]:
    return [str(row.get("name")) for row in _project(study).get("burner", []) if isinstance(row, dict)]


@lru_cache(maxsize=8)
def _project(study: Study) -> Mapping[str, Any]:
    return project_data(study.project_text, study.project_name)


def _groups(study: Study, values: list[list[float | str]]) -> dict[Settings, list[int]]:
    """Cases that share every parameter given as text."""
    texts = [
        (vary.parameter, column)
        for vary, column in zip(study.varies, values, strict=True)
        if not vary.numeric
    ]
    found: dict[Settings, list[int]] = {}
    for place in range(len(values[0])):
        found.setdefault(tuple((name, str(column[place])) for name, column in texts), []).append(place)
    return found


@lru_cache(maxsize=256)
def _job(study: Study, settings: Settings) -> Job:
    """The job of cases that share their texts; numbers are those of the file until a case says otherwise."""
    appliance = _appliance(study, settings)
    gas = load(dict(settings).get("target.gas", study.to), key="study.to")
    pressure = read(study.pressure, Kind.GAUGE_PRESSURE, key="study.pressure") if study.pressure else None
    known = appliance.supply.gauge_pressure_Pa if pressure is None else pressure
    return prepare(appliance, ConversionTarget(gas=gas, gauge_pressure_Pa=known))


@lru_cache(maxsize=256)
def _appliance(study: Study, settings: Settings) -> Appliance:
    data: Any = project_data(study.project_text, study.project_name)
    for parameter, value in settings:
        if parameter not in TARGET_TEXTS:
            _set_key(data, parameter, value)
    return appliance_of(data, study.project_name, study.project_text)


def _set_key(data: Any, parameter: str, value: str) -> None:
    """Set one key of a project file; a burner is named, the keys below a table are joined by points."""
    table, path = data, parameter.split(".")
    if path[0] == "burner":
        rows = [row for row in data.get("burner", []) if parameter.startswith(f"burner.{row.get('name')}.")]
        if not rows:
            raise UserError(Problem("no burner of this name", value=parameter, key="vary.parameter"))
        table = rows[0]
        path = parameter.removeprefix(f"burner.{table['name']}.").split(".")
    for key in path[:-1]:
        table = table.setdefault(key, {})
        if not isinstance(table, dict):
            raise UserError(
                Problem("names no key of the project file", value=parameter, key="vary.parameter")
            )
    if path[-1] == "drill":
        table.pop("diameter", None)
    if path[-1] == "diameter":
        table.pop("drill", None)
    table[path[-1]] = value


def _numbers(study: Study, values: list[list[float | str]], places: list[int]) -> dict[str, list[float]]:
    return {
        vary.parameter: [float(column[place]) for place in places]
        for vary, column in zip(study.varies, values, strict=True)
        if vary.numeric
    }


def _group(
    study: Study,
    settings: Settings,
    places: list[int],
    values: list[list[float | str]],
    results: dict[str, list[Any]],
    errors: list[str],
) -> None:
    """Cases that share their texts: all at once where possible, halved where one of them fails."""
    try:
        job = _job(study, settings)
    except UserError as error:
        for place in places:
            errors[place] = _words(error)
        return
    arrays = (
        has_array_outputs(study)
        and has_array_form(job)
        and all(_is_array_parameter(vary.parameter) for vary in study.varies if vary.numeric)
    )
    _solve(study, job, places, values, results, errors, arrays)


def _is_array_parameter(parameter: str) -> bool:
    return parameter in TARGET_NUMBERS or bool(rate_burner(parameter))


def _solve(
    study: Study,
    job: Job,
    places: list[int],
    values: list[list[float | str]],
    results: dict[str, list[Any]],
    errors: list[str],
    arrays: bool,
) -> None:
    if not arrays:
        for place in places:
            try:
                found = _case(study, job, values, place)
                for name, column in results.items():
                    column[place] = output_of(found, name)
            except UserError as error:
                errors[place] = _words(error)
        return
    padded = [*places, *[places[-1]] * (-len(places) % BLOCK)]
    try:
        many = convert_many(job, _cases(_numbers(study, values, padded), len(padded), job))
    except UserError as error:
        half = len(places) // 2
        if not half:
            errors[places[0]] = _words(error)
            return
        for part in (places[:half], places[half:]):
            _solve(study, job, part, values, results, errors, arrays)
        return
    for name, column in results.items():
        for place, value in zip(padded, _array_output(many, name), strict=True):
            column[place] = value


def _words(error: UserError) -> str:
    return "; ".join(problem.text() for problem in error.problems)


def _cases(numbers: Mapping[str, list[float]], count: int, job: Job) -> Cases:
    """The numbers of some cases as arrays, each held to the range ``convert`` holds it to."""
    for pressure_Pa, altitude_m, temperature_K in _corners(numbers):
        _target(job, pressure_Pa, altitude_m, temperature_K).check()

    def array(name: str) -> Any:
        return np.asarray(numbers[name]) if name in numbers else None

    rates = {rate_burner(name): np.asarray(column) for name, column in numbers.items() if rate_burner(name)}
    known = {burner.name for burner in job.appliance.burners}
    for name, column in rates.items():
        if name not in known:
            raise UserError(Problem("no burner of this name", value=name, key="vary.parameter"))
        for end in (column.min(), column.max()):
            if problems := input_row("heat_input").problems(float(end), f"burner {name}, rate"):
                raise UserError(problems)
    return Cases(
        count=count,
        gauge_pressure_Pa=array("target.pressure"),
        altitude_m=array("target.altitude"),
        gas_temperature_K=array("target.gas_temperature"),
        coefficient=array("target.coefficient"),
        rate_W=rates,
    )


def _corners(numbers: Mapping[str, list[float]]) -> Iterable[tuple[float | None, float | None, float | None]]:
    """Lowest and highest of what a conversion checks."""
    names = ("target.pressure", "target.altitude", "target.gas_temperature")
    for pick in (min, max):
        ends = [pick(numbers[name]) if name in numbers else None for name in names]
        yield ends[0], ends[1], ends[2]


def _target(
    job: Job, pressure_Pa: float | None, altitude_m: float | None, temperature_K: float | None
) -> ConversionTarget:
    common = job.target
    return ConversionTarget(
        gas=common.gas,
        gauge_pressure_Pa=common.gauge_pressure_Pa if pressure_Pa is None else pressure_Pa,
        altitude_m=altitude_m,
        gas_temperature_K=temperature_K,
    )


def _case(study: Study, job: Job, values: list[list[float | str]], place: int) -> Conversion:
    """One case as ``convert`` computes it."""
    from dataclasses import replace

    numbers = {name: column[0] for name, column in _numbers(study, values, [place]).items()}
    rates = {rate_burner(name): value for name, value in numbers.items() if rate_burner(name)}
    unknown = set(rates) - {burner.name for burner in job.appliance.burners}
    if unknown:
        raise UserError(Problem("no burner of this name", value=unknown.pop(), key="vary.parameter"))
    burners = tuple(
        replace(burner, rate_W=rates.get(burner.name, burner.rate_W)) for burner in job.appliance.burners
    )
    target = _target(
        job,
        numbers.get("target.pressure"),
        numbers.get("target.altitude"),
        numbers.get("target.gas_temperature"),
    )
    target = replace(target, coefficient=numbers.get("target.coefficient"))
    return convert_to(replace(job.appliance, burners=burners), target)


def output_of(conversion: Conversion, name: str) -> Any:
    """A figure of a conversion by name: ``total_predicted_gross_W``, ``burner.NAME.choice.drill``.

    Raises UserError for a name the result does not have.
    """
    thing: Any = conversion
    path = name.split(".")
    if name.startswith("burner."):
        for burner in conversion.burners:
            if name.startswith(f"burner.{burner.name}."):
                thing, path = burner, name.removeprefix(f"burner.{burner.name}.").split(".")
    for word in path:
        part = OLD_OUTPUTS.get((type(thing), word), word)
        if not hasattr(thing, part):
            fix = "names are those of the result, e.g. burner.*.deviation"
            raise UserError(Problem("no such output", value=name, key="study.outputs", fix=fix))
        thing = getattr(thing, part)
    if thing is None or isinstance(thing, str | bool | int | float):
        return thing
    return str(thing)


def _array_output(many: ManyConversions, name: str) -> list[Any]:
    if name in ARRAY_TOTALS:
        return list(getattr(many, name).tolist())
    for burner, found in many.burners.items():
        if name.startswith(f"burner.{burner}."):
            return list(getattr(found, ARRAY_OUTPUTS[name.removeprefix(f"burner.{burner}.")]).tolist())
    raise UserError(Problem("no such burner", value=name, key="study.outputs"))
