"""Spread of the heat input in production and use: Monte Carlo beside the linear budget.

Two stages: at the end of the line stands the unit as made (drill, coefficient, pressure setting); in the field gas and
place add to it. Neither is a share of units to be thrown away: both follow from assumed spreads.

The heat input of a burner is a product, I = n K (pi/4) d^2 G(p, T) H, with G the ideal mass flux, which all burners
of a unit share. Pressure, gas and temperature are drawn once per unit; each hole has a diameter and a coefficient
of its own. So the flux is computed once per draw, and each burner follows by one multiplication.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from math import sqrt
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.appliance.conversion.job import Job, prepare
from burnerlab.appliance.conversion.orifice_choice import steps_of
from burnerlab.appliance.conversion.result import Step
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.project.model import CAUSES, Appliance, Spread, SpreadShape, Tolerance
from burnerlab.orifice import nozzle
from burnerlab.orifice.drill import Drill, tolerance_band
from burnerlab.orifice.flow import OrificeFlow
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.quantity.units import Kind
from burnerlab.tables import cite
from burnerlab.tables.problem import Problem, UserError

# How causes of spread are distributed, and what a Monte Carlo run says of the heat inputs.

Array = NDArray[np.float64]

DIVISOR: Mapping[str, float] = {"uniform": sqrt(3), "triangular": sqrt(6), "normal": 1.0}
"""Half width over standard deviation, JCGM 101:2008 table 1."""
WIDEST_NORMAL = 0.15  # relative standard deviation: beyond it a draw may reach zero
SHAPES: Mapping[str, SpreadShape] = {shape: shape for shape in get_args(SpreadShape)}


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseContribution:
    """What one cause alone does to a heat input."""

    cause: str = field(metadata=output("cause"))
    words: str = field(metadata=output("spread"))
    relative_standard_deviation: float = field(metadata=output("standard deviation", Kind.FRACTION))
    """Of the heat input with only this cause at work [-]."""
    variance_fraction: float = field(metadata=output("fraction of the variance", Kind.FRACTION))
    """Of the sum of such variances [-]."""
    source: str = field(metadata=output("source"))


@dataclass(frozen=True, slots=True, kw_only=True)
class InputSpread:
    """The distribution of one heat input, gross: of one burner of a kind, or of the whole unit."""

    name: str = field(metadata=output("burner"))
    count: int = field(metadata=output("burners of the kind"))
    aim_gross_W: float = field(metadata=output("aim", Kind.POWER, basis="gross"))
    nominal_gross_W: float = field(metadata=output("nominal", Kind.POWER, basis="gross"))
    mean_gross_W: float = field(metadata=output("mean", Kind.POWER, basis="gross"))
    standard_deviation_W: float = field(metadata=output("standard deviation", Kind.POWER))
    linear_standard_deviation_W: float = field(metadata=output("linear standard deviation", Kind.POWER))
    """From the linear budget."""
    low_gross_W: float = field(metadata=output("2.5 % lie below", Kind.POWER, basis="gross"))
    high_gross_W: float = field(metadata=output("2.5 % lie above", Kind.POWER, basis="gross"))
    below_fraction: float = field(metadata=output("below the band", Kind.FRACTION))
    """Of the draws [-]."""
    above_fraction: float = field(metadata=output("above the band", Kind.FRACTION))
    causes: tuple[CauseContribution, ...] = field(metadata=output("causes"))
    bin_edges_W: tuple[float, ...] = field(metadata=output("edges of the bins", Kind.POWER))
    bin_counts: tuple[int, ...] = field(metadata=output("draws in the bins"))

    @property
    @computed_output("outside the band", Kind.FRACTION)
    def outside_fraction(self) -> float:
        """Fraction of the draws outside the band [-]."""
        return self.below_fraction + self.above_fraction

    @property
    @computed_output("main cause")
    def dominant_cause(self) -> str:
        """The cause with the largest fraction; "" when nothing varies."""
        largest = max(self.causes, key=lambda cause: cause.variance_fraction)
        return largest.cause if largest.variance_fraction > 0 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """The heat inputs with some of the causes at work."""

    name: str = field(metadata=output("stage"))
    """At the end of the line, in the field."""
    causes: tuple[str, ...] = field(metadata=output("causes at work"))
    any_outside_fraction: float = field(metadata=output("a burner outside the band", Kind.FRACTION))
    """Units with at least one burner outside [-]."""
    standard_error: float = field(metadata=output("standard error of that fraction", Kind.FRACTION))
    """From the number of draws [-]."""
    burners: tuple[InputSpread, ...] = field(metadata=output("burners"))
    total: InputSpread = field(metadata=output("all burners"))


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class ToleranceResult(WithSummary):
    """How the heat inputs of an appliance spread: as made, and in use."""

    appliance: str = field(metadata=output("appliance"))
    file: str
    file_sha256: str = field(metadata=output("SHA-256 of the file"))
    gas: str = field(metadata=output("gas"))
    gauge_pressure_Pa: float = field(metadata=output("gauge pressure", Kind.GAUGE_PRESSURE))
    draws: int = field(metadata=output("simulated appliances"))
    seed: int = field(metadata=output("seed"))
    tolerance_low: float = field(metadata=output("low end of the band", Kind.FRACTION, is_change=True))
    tolerance_high: float = field(metadata=output("high end of the band", Kind.FRACTION, is_change=True))
    tolerance_source: str = field(metadata=output("source of the band"))
    end_of_line: Stage = field(metadata=output("at the end of the line"))
    in_the_field: Stage = field(metadata=output("in the field"))
    """With every cause at work."""
    notes: tuple[str, ...] = field(metadata=output("notes"))

    def summary(self) -> Summary:
        table = (
            ("burner", "mean", "95 % of units", "outside the band"),
            *(
                (
                    b.name,
                    figure(b.mean_gross_W, Kind.POWER),
                    f"{figure(b.low_gross_W, Kind.POWER)} to {figure(b.high_gross_W, Kind.POWER)}",
                    f"{100.0 * b.outside_fraction:.1f} %",
                )
                for b in (*self.in_the_field.burners, self.in_the_field.total)
            ),
        )
        shares = " and ".join(
            f"{100.0 * s.any_outside_fraction:.1f} % {s.name}" for s in (self.end_of_line, self.in_the_field)
        )
        return Summary(
            f"{self.appliance} on {self.gas}, {self.draws} units: a burner outside its band in {shares}",
            table,
        )

    @property
    def burners(self) -> tuple[InputSpread, ...]:
        """Of every kind of burner, in the field."""
        return self.in_the_field.burners

    @property
    def total(self) -> InputSpread:
        """Of all burners together, in the field."""
        return self.in_the_field.total

    @property
    def any_outside_fraction(self) -> float:
        """Units with at least one burner outside the band, in the field [-]."""
        return self.in_the_field.any_outside_fraction

    @property
    def standard_error(self) -> float:
        """Of that fraction, from the number of draws [-]."""
        return self.in_the_field.standard_error


@cache
def default_spreads() -> Mapping[str, Spread]:
    """Spreads of the table ``input_spreads`` by cause; the drill's stand in the table of drill tolerances.

    Half widths are shares [-], of the gas temperature kelvin; each names its source and how it is known.

    >>> default_spreads()["wobbe"].half_width
    0.02
    """
    return {
        row["cause"]: Spread(
            shape=SHAPES[row["shape"]],
            half_width=float(row["half_width"]),
            source=f"{row['what']}: {cite(row['source'])} ({row['provenance']})",
        )
        for row in tables.rows("input_spreads")
    }


def check_spread(cause: str, spread: Spread) -> None:
    """Refuse a spread that would draw figures below zero, or that is none."""
    low, high = (0.0, 60.0) if cause == "temperature" else (0.0, 0.5)
    if cause != "temperature" and spread.shape == "normal":
        high = WIDEST_NORMAL
    if not low <= spread.half_width <= high:
        unit = " K" if cause == "temperature" else " (relative)"
        accepted = f"{low:g} to {high:g}{unit}"
        what = f"a {spread.shape} spread too wide for a random draw"
        raise UserError(
            Problem(what, f"{spread.half_width:g}", f"tolerance.{cause}", accepted=accepted, fix="narrow it")
        )


def draw(spread: Spread, draws: int, random: np.random.Generator) -> Array:
    """Deviations from nominal [-] or [K]."""
    width = spread.half_width
    if width == 0:
        return np.zeros(draws)
    if spread.shape == "normal":
        return random.standard_normal(draws) * width
    if spread.shape == "triangular":
        return (random.random(draws) - random.random(draws)) * width
    return spread.middle + (2 * random.random(draws) - 1) * width


def range_spread(job: Job) -> Mapping[str, Spread]:
    """Spread of the pressure of a couple, whose appliance has no regulator: evenly over the range of the gas table.

    Nothing for another supply, or without a range.
    """
    span, nominal = job.pressures, job.target.gauge_pressure_Pa
    if job.couple is None or span.low_Pa is None or span.high_Pa is None:
        return {}
    low, high = span.low_Pa / nominal - 1.0, span.high_Pa / nominal - 1.0
    return {
        "pressure": Spread(half_width=(high - low) / 2.0, middle=(high + low) / 2.0, source=span.source),
    }


OF_RANGE = "of the nominal, the range of the gas table"


def words(cause: str, spread: Spread) -> str:
    """A spread in words.

    >>> words("pressure", default_spreads()["pressure"])
    'uniform, ±5 %'
    """
    if spread.middle:
        low, high = (100 * (spread.middle + end * spread.half_width) for end in (-1.0, 1.0))
        return f"{spread.shape}, {low:+.0f} to {high:+.0f} % {OF_RANGE}"
    size = f"{spread.half_width:g} K" if cause == "temperature" else f"{100 * spread.half_width:.3g} %"
    return f"normal, standard deviation {size}" if spread.shape == "normal" else f"{spread.shape}, ±{size}"


# How the heat input spreads as made and in use: Monte Carlo after GUM Supplement 1, beside the linear
# budget.

DRAWS = 200_000
SEED = 1
BINS = 60
KNOTS = 33  # temperatures at which the gas density is computed; 1/density is straight in between to 1e-7
LINE, FIELD = "at the end of the line", "in the field"
UNIT_BORE_m = 2 / math.sqrt(math.pi)  # a hole of 1 m2, so that a mass flow is a mass flux
STEP = 1e-4  # relative, of the numerical sensitivities of the linear budget
LIMITED = (
    "the isentropic exponent is held at its nominal value",
    "all about the nominal pressure: what the supply of the file takes off is not among them",
    "pressure, setting, gas and temperature are common to all burners of a unit; each hole and coefficient is its own",
    "both shares follow from assumed spreads: neither counts units that were measured or turned away",
    "how well the coefficient of the shape itself is known is left out: it moves all appliances together,"
    " and one measured appliance settles it",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hole:
    """One kind of burner as it enters the draw."""

    name: str
    count: int
    aim_W: float
    flow: OrificeFlow
    low: float  # diameter at the ends of the drill's tolerance over the nominal [-]
    high: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Figure:
    """A heat input whose spread is summed up."""

    name: str
    count: int
    aim_W: float
    nominal_W: float


def tolerance(
    appliance: Appliance,
    target: ConversionTarget | None = None,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    spreads: Mapping[str, Spread] | None = None,
) -> ToleranceResult:
    """Distribution of every burner's heat input, as made and in use.

    At the end of the line: drill, coefficient and the setting of the pressure. In the field: these and the pressure,
    the gas and the temperature of the place.

    appliance : as its file describes it; target : what it is changed to, None for its present gas and orifices
    draws : [-]; seed : of the random numbers; spreads : by cause, before the file's own and the shipped ones
    Returns a ToleranceResult. Raises UserError for too few or too many draws, and as ``convert_to`` does.
    Source: JCGM 101:2008 (GUM Supplement 1).

    >>> from burnerlab.appliance import demonstration
    >>> tolerance(demonstration(), draws=20_000).total.dominant_cause
    'pressure'
    """
    own = {**appliance.spreads, **(spreads or {})}
    _check(appliance, draws, {**default_spreads(), **own})
    job = prepare(appliance, target or _present_target(appliance))
    used = {**default_spreads(), **range_spread(job), **own}
    steps = steps_of(job)
    holes = tuple(_hole(job, step, converted=target is not None) for step in steps)
    return _run(job, holes, used, draws, seed)


def _present_target(appliance: Appliance) -> ConversionTarget:
    supply = appliance.supply
    return ConversionTarget(
        gas=supply.gas,
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        allow_high_pressure=supply.allow_high_pressure,
    )


def _check(appliance: Appliance, draws: int, used: Mapping[str, Spread]) -> None:
    limits = input_row("draws")
    most = int(limits.high) // sum(burner.count for burner in appliance.burners)
    if not limits.low <= draws <= most:
        accepted = f"{limits.low:.0f} to {most} for this appliance"
        what = "number of draws cannot be used"
        raise UserError(Problem(what, value=str(draws), key="draws", accepted=accepted, fix="write 200000"))
    for cause, spread in used.items():
        if cause not in CAUSES:
            raise UserError(Problem("unknown cause of spread", cause, "spreads", accepted=", ".join(CAUSES)))
        check_spread(cause, spread)


def _hole(job: Job, step: Step, *, converted: bool) -> _Hole:
    flow, orifice = step.choice.flow if converted else step.old_flow, step.burner.orifice
    band = step.choice.tolerance
    if not converted:
        drill = Drill(name=orifice.drill or "own", kind="own", diameter_m=orifice.diameter_m)
        band = tolerance_band(drill, job.appliance.tables.drill_tolerance)
    aim = step.result.aim_gross_W
    return _Hole(
        name=step.burner.name,
        count=step.burner.count,
        aim_W=aim if converted else step.result.from_rate_gross_W * job.old_policy.factor,
        flow=flow,
        low=band.low_m / flow.diameter_m,
        high=band.high_m / flow.diameter_m,
        source=f"{cite(band.source)} ({band.provenance})",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Unit:
    """What all burners of a unit share at one stage: factors on the heat input, one entry per draw."""

    name: str

    factor: Array
    sd: Mapping[str, float]  # of each shared cause alone [-]
    linear: Mapping[str, float]  # the same by the linear budget [-]


def _flux(flow: OrificeFlow, pressure: Array | float, temperature_K: Array | float) -> Array:
    """Ideal mass flux over the nominal one; ``pressure`` is over the nominal gauge pressure [-]."""
    state = flow.conditions
    gauge = np.multiply(pressure, state.gauge_pressure_Pa)
    kelvin = np.asarray(temperature_K, dtype=np.float64)
    knots = np.linspace(kelvin.min(), kelvin.max(), KNOTS) if np.ptp(kelvin) else kelvin.reshape(-1)[:1]
    volumes = [1 / float(flow.gas.density_kg_per_m3(float(t), state.absolute_pressure_Pa)) for t in knots]
    density = (
        (gauge + state.ambient_pressure_Pa) / state.absolute_pressure_Pa / np.interp(kelvin, knots, volumes)
    )
    k, ambient = flow.isentropic_exponent, state.ambient_pressure_Pa
    nominal = nozzle.mass_flow_kg_per_s(
        UNIT_BORE_m, state.gauge_pressure_Pa, ambient, flow.upstream_density_kg_per_m3, k
    )
    ratio: Array = nozzle.mass_flow_kg_per_s(UNIT_BORE_m, gauge, ambient, density, k) / nominal
    return ratio


def _units(
    flow: OrificeFlow, used: Mapping[str, Spread], draws: int, random: np.random.Generator
) -> tuple[_Unit, _Unit]:
    """The unit at the end of the line, where only the setting of its pressure spreads, and in the field."""
    kelvin = flow.conditions.gas_temperature_K
    pressure = 1 + draw(used["pressure"], draws, random)
    temperature = kelvin + draw(used["temperature"], draws, random)
    wobbe = 1 + draw(used["wobbe"], draws, random)
    setting = 1 + draw(used["setting"], draws, random)
    as_set = _flux(flow, setting, kelvin)
    alone = {
        "setting": as_set,
        "pressure": _flux(flow, pressure, kelvin),
        "wobbe": wobbe,
        "temperature": _flux(flow, 1.0, temperature),
    }
    by_pressure = float(_flux(flow, 1 + STEP, kelvin) - _flux(flow, 1 - STEP, kelvin)) / (2 * STEP)
    warm, cold = (_flux(flow, 1.0, kelvin * (1 + step)) for step in (STEP, -STEP))
    slope = {
        "setting": by_pressure,
        "pressure": by_pressure,
        "wobbe": 1.0,
        "temperature": float(warm - cold) / (2 * STEP * kelvin),
    }
    sd = {cause: float(np.std(values)) for cause, values in alone.items()}
    linear = {cause: abs(slope[cause]) * _standard(used[cause]) for cause in alone}
    line = _Unit(
        name=LINE, factor=as_set, sd={"setting": sd["setting"]}, linear={"setting": linear["setting"]}
    )
    in_use = _flux(flow, setting * pressure, temperature) * wobbe
    return line, _Unit(name=FIELD, factor=in_use, sd=sd, linear=linear)


def _standard(spread: Spread) -> float:
    return spread.half_width / DIVISOR[spread.shape]


def _bore(hole: _Hole, used: Mapping[str, Spread], draws: int, random: np.random.Generator) -> Array:
    """Diameter over nominal: the user's own spread, else anywhere in the drill's tolerance."""
    if "drill" in used:
        return 1 + draw(used["drill"], draws, random)
    return hole.low + (hole.high - hole.low) * random.random(draws)


def _bore_budget(hole: _Hole, used: Mapping[str, Spread]) -> tuple[float, float]:
    """Mean and standard deviation of the diameter over nominal [-]."""
    if "drill" in used:
        return 1.0, _standard(used["drill"])
    return (hole.low + hole.high) / 2, (hole.high - hole.low) / math.sqrt(12)


class _Tally:
    """What the draws of one stage add up to."""

    def __init__(self, job: Job, unit: _Unit) -> None:
        self.job, self.unit = job, unit
        self.total = np.zeros_like(unit.factor)
        self.outside = np.zeros(unit.factor.shape, dtype=bool)
        self.burners: list[InputSpread] = []

    def add(self, hole: _Hole, own: Array, coefficient: Array) -> Array:
        """One burner of a kind: its heat inputs [W]."""
        values: Array = hole.flow.heat_input_gross_W * self.unit.factor * own * coefficient
        ratio, band = values / hole.aim_W - 1, self.job.tolerance
        self.total += values
        self.outside |= (ratio < band.low) | (ratio > band.high)
        return values

    def stage(self, holes: tuple[_Hole, ...]) -> Stage:
        share, draws = float(np.mean(self.outside)), self.outside.size
        burners = tuple(self.burners)
        return Stage(
            name=self.unit.name,
            causes=tuple(one.cause for one in burners[0].causes),
            burners=burners,
            total=_total(self.job, holes, burners, self.total, self.unit),
            any_outside_fraction=share,
            standard_error=math.sqrt(share * (1 - share) / draws),
        )


def _run(
    job: Job, holes: tuple[_Hole, ...], used: Mapping[str, Spread], draws: int, seed: int
) -> ToleranceResult:
    random = np.random.default_rng(seed)
    tallies = [_Tally(job, unit) for unit in _units(holes[0].flow, used, draws, random)]
    band = job.tolerance
    for hole in holes:
        for copy in range(hole.count):
            own = np.square(_bore(hole, used, draws, random))
            coefficient = 1 + draw(used["coefficient"], draws, random)
            for tally in tallies:
                values = tally.add(hole, own, coefficient)
                if copy == 0:
                    sd = {"drill": float(np.std(own)), "coefficient": float(np.std(coefficient))}
                    tally.burners.append(_burner(hole, used, tally.unit, values, sd, band))
    line, field = (tally.stage(holes) for tally in tallies)
    return ToleranceResult(
        appliance=job.appliance.name,
        file=job.appliance.file,
        file_sha256=job.appliance.file_sha256,
        gas=job.new.gas.name,
        gauge_pressure_Pa=job.target.gauge_pressure_Pa,
        draws=draws,
        seed=seed,
        tolerance_low=band.low,
        tolerance_high=band.high,
        tolerance_source=band.source,
        end_of_line=line,
        in_the_field=field,
        notes=(*LIMITED, *([f"altitude: {job.policy.words()}"] if job.policy.factor < 1.0 else [])),
    )


def _burner(
    hole: _Hole,
    used: Mapping[str, Spread],
    unit: _Unit,
    values: Array,
    own_sd: Mapping[str, float],
    band: Tolerance,
) -> InputSpread:
    nominal = hole.flow.heat_input_gross_W
    figure = _Figure(name=hole.name, count=hole.count, aim_W=hole.aim_W, nominal_W=nominal)
    causes = _causes(hole, used, {**unit.sd, **own_sd})
    return _summary(figure, values, band, causes, _linear_sd_W(hole, used, unit))


def _causes(
    hole: _Hole, used: Mapping[str, Spread], sd: Mapping[str, float]
) -> tuple[CauseContribution, ...]:
    texts = {cause: (words(cause, spread), spread.source) for cause, spread in used.items()}
    if "drill" not in used:
        text = f"uniform, {100 * (hole.low - 1):+.2f} to {100 * (hole.high - 1):+.2f} % of the diameter"
        texts["drill"] = (text, hole.source)
    whole = sum(value**2 for value in sd.values())
    return tuple(
        CauseContribution(
            cause=cause,
            words=texts[cause][0],
            relative_standard_deviation=sd[cause],
            variance_fraction=sd[cause] ** 2 / whole if whole else 0.0,
            source=texts[cause][1],
        )
        for cause in CAUSES
        if cause in sd
    )


def _linear_sd_W(hole: _Hole, used: Mapping[str, Spread], unit: _Unit) -> float:
    """Standard deviation of the heat input by the linear budget, about the mean diameter [W]."""
    mean, sd = _bore_budget(hole, used)
    own = (2 * sd / mean, _standard(used["coefficient"]))
    relative = math.sqrt(sum(u**2 for u in (*own, *unit.linear.values())))
    return relative * mean**2 * hole.flow.heat_input_gross_W


def _total(
    job: Job, holes: tuple[_Hole, ...], burners: tuple[InputSpread, ...], values: Array, unit: _Unit
) -> InputSpread:
    """The whole unit: shared causes move all burners together, holes and coefficients average out."""
    count = [hole.count for hole in holes]
    nominal = sum(n * spread.nominal_gross_W for n, spread in zip(count, burners, strict=True))

    def averaged(cause: str) -> float:
        sds = [
            next(c.relative_standard_deviation for c in spread.causes if c.cause == cause)
            for spread in burners
        ]
        squares = (
            n * (sd * spread.nominal_gross_W) ** 2 for n, sd, spread in zip(count, sds, burners, strict=True)
        )
        return math.sqrt(sum(squares)) / nominal

    sd = {**unit.sd, "drill": averaged("drill"), "coefficient": averaged("coefficient")}
    whole = sum(value**2 for value in sd.values())
    causes = tuple(
        replace(
            cause,
            words=_together(cause.cause, burners),
            relative_standard_deviation=sd[cause.cause],
            variance_fraction=sd[cause.cause] ** 2 / whole if whole else 0.0,
        )
        for cause in burners[0].causes
    )
    shared = sum(value**2 for value in unit.linear.values())
    mean = sum(n * spread.mean_gross_W for n, spread in zip(count, burners, strict=True))
    own = sum(
        n * (spread.linear_standard_deviation_W**2 - shared * spread.mean_gross_W**2)
        for n, spread in zip(count, burners, strict=True)
    )
    whole_aim = sum(hole.count * hole.aim_W for hole in holes)
    figure = _Figure(name="all burners", count=1, aim_W=whole_aim, nominal_W=nominal)
    return _summary(figure, values, job.tolerance, causes, math.sqrt(shared * mean**2 + max(own, 0.0)))


def _together(cause: str, burners: tuple[InputSpread, ...]) -> str:
    """The words of a cause for all burners: their common ones, or that each has its own."""
    texts = {c.words for spread in burners for c in spread.causes if c.cause == cause}
    return texts.pop() if len(texts) == 1 else "uniform, each drill within its own tolerance"


def _summary(
    figure: _Figure, values: Array, band: Tolerance, causes: tuple[CauseContribution, ...], linear_sd_W: float
) -> InputSpread:
    low, high = np.quantile(values, (0.025, 0.975))
    counts, edges = np.histogram(values, bins=BINS)
    return InputSpread(
        name=figure.name,
        count=figure.count,
        aim_gross_W=figure.aim_W,
        nominal_gross_W=figure.nominal_W,
        mean_gross_W=float(np.mean(values)),
        standard_deviation_W=float(np.std(values, ddof=1)),
        low_gross_W=float(low),
        high_gross_W=float(high),
        below_fraction=float(np.mean(values < figure.aim_W * (1 + band.low))),
        above_fraction=float(np.mean(values > figure.aim_W * (1 + band.high))),
        linear_standard_deviation_W=linear_sd_W,
        causes=causes,
        bin_edges_W=tuple(edges.tolist()),
        bin_counts=tuple(counts.tolist()),
    )
