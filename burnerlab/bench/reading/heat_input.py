"""Heat content of metered or weighed gas, and the heat input with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np

from burnerlab import tables
from burnerlab.bench.decision_rule import Comparison, Correction, Rating, compare, correction_factor
from burnerlab.bench.reading.readings import MeterEntry
from burnerlab.bench.stop import power_words, pressure_words
from burnerlab.bench.uncertainty import Budget, Instrument, MonteCarlo, Quantity, instruments
from burnerlab.gas import Composition, DeclaredGas, Gas, properties
from burnerlab.quantity import PRESETS, HeatingValue, ReferenceState
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.quantity.units import Kind
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

# The factor of a certificate: what passed, or was lost, over what a meter or a scale shows.

POSSIBLE_U = (0.0, 0.1)
ROW_WITHOUT = {"meter": "gas meter", "scale": "scale"}  # error of an instrument without a factor


def factor_quantity(
    instruments: Mapping[str, Instrument],
    name: Literal["meter", "scale"],
    factor: float | None,
    standard_uncertainty: float | None = None,
) -> Quantity:
    """What a volume counted or a mass shown is multiplied by [-].

    factor : of the certificate [-]; None is 1 with the largest error of such an instrument
    standard_uncertainty : relative, of the certificate [-]; None takes that of the row ``meter factor`` or
    ``scale factor`` of the instruments

    >>> from burnerlab.bench.uncertainty import instruments
    >>> found = factor_quantity(instruments(), "meter", 1.012)
    >>> found.estimate, round(found.standard_uncertainty, 5)
    (1.012, 0.00175)
    """
    if factor is None:
        return instruments[ROW_WITHOUT[name]].quantity(name, 1.0, "-")
    quantity = instruments[f"{name} factor"].quantity(name, factor, "-", scale=factor)
    if standard_uncertainty is None:
        return quantity
    return replace(
        quantity,
        standard_uncertainty=standard_uncertainty * factor,
        shape="normal",
        source="entered by the user",
    )


def factor_problems(key: str, factor: float | None, standard_uncertainty: float | None) -> list[Problem]:
    """What cannot be: a factor far from 1, an uncertainty without a factor."""
    problems = []
    possible = input_row(key.replace(" ", "_"))
    if factor is not None and not possible.holds(factor):
        fix = "give true over shown; a meter that counts 1 % too little has 1.01"
        what, accepted = "is not a factor of a certificate", possible.span
        problems.append(Problem(what, f"{factor:g}", key, accepted=accepted, fix=fix))
    if standard_uncertainty is not None:
        if factor is None:
            problems.append(Problem("belongs to a factor, which is missing", key=f"{key} uncertainty"))
        if not POSSIBLE_U[0] < standard_uncertainty <= POSSIBLE_U[1]:
            percent = f"{100 * standard_uncertainty:g} %"
            accepted = f"above 0, at most {100 * POSSIBLE_U[1]:g} %"
            problems.append(Problem("cannot be", percent, f"{key} uncertainty", accepted=accepted))
    return problems


# What the gas that was metered or weighed is worth, and the heat input that follows with its uncertainty.

AnyGas = Gas | DeclaredGas
NEAREST_NET = 0.01  # relative, of a net heating value estimated from the gross one of paraffins


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatContent:
    """Heat in a cubic metre at a reference state and, where the density is known, in a kilogram."""

    name: str = field(metadata=output("gas"))
    reference: ReferenceState
    gross_J_per_m3: float | None = field(
        metadata=output("heating value", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    gross_J_per_kg: float | None = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MASS, basis="gross")
    )
    net_to_gross: float = field(metadata=output("net over gross"))
    net_is_estimate: bool = field(metadata=output("net is an estimate"))
    instrument: Instrument  # how far the heating value may be from that of the gas burned
    gas: AnyGas | None  # None: known only by a heating value
    notes: tuple[str, ...] = ()

    @property
    @computed_output("reference state")
    def reference_state(self) -> str:
        """In words."""
        return self.reference.words()

    def quantity(self, per: str) -> Quantity:
        """The gross heating value ``per`` volume or mass, with its uncertainty."""
        value = self.gross_J_per_m3 if per == "volume" else self.gross_J_per_kg
        if value is None:
            what = f"a heating value per {per} is needed, and only the other is known"
            fix = "give the relative density too, or the heating value " + (
                "per m3" if per == "volume" else "per kg"
            )
            raise UserError(Problem(what, value=self.name, key="heating value", fix=fix))
        unit = "J/m3" if per == "volume" else "J/kg"
        return self.instrument.quantity("heating value", value, unit, scale=value)


@dataclass(frozen=True, slots=True, kw_only=True)
class InputAtFilePressure:
    """The heat input at the manifold pressure of the project file, where another was read: orifice or regulator.

    A deviation that is left at the file's pressure is of orifice or gas; what is gone there was of the pressure.
    """

    gauge_pressure_Pa: float = field(metadata=output("manifold pressure of the file", Kind.GAUGE_PRESSURE))
    gauge_pressure_read_Pa: float = field(metadata=output("manifold pressure read", Kind.GAUGE_PRESSURE))
    heat_input_gross_W: float = field(metadata=output("heat input there", Kind.POWER, basis="gross"))
    deviation: float | None = field(
        metadata=output("deviation there", Kind.FRACTION, is_change=True)
    )  # None without a rating
    text: str = field(metadata=output("at the file's pressure"))


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class InputMeasured(WithSummary):
    """A heat input that was measured: by a gas meter or by a scale."""

    method: str = field(metadata=output("method"))  # meter or scale
    heat: HeatContent = field(metadata=output("heat content"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    mass_flow_kg_per_s: float | None = field(metadata=output("mass flow", Kind.MASS_FLOW))
    standard_volume_flow_m3_per_s: float | None = field(
        metadata=output("standard flow", Kind.REFERENCE_VOLUME_FLOW)
    )  # at the reference state of the heat content
    time_s: float = field(metadata=output("mean of one timing", Kind.TIME))
    correction: Correction | None = field(metadata=output("to the rating's state"))
    comparison: Comparison | None = field(metadata=output("against the rating"))
    file_comparison: Comparison | None = field(
        default=None, metadata=output("against the rating of the file")
    )  # where another one was named
    at_file_pressure: InputAtFilePressure | None = field(
        default=None, metadata=output("at the pressure of the file")
    )  # where another manifold pressure was read
    heat_input_sea_level_gross_W: float | None = field(
        default=None, metadata=output("heat input of this reading at sea level", Kind.POWER, basis="gross")
    )  # where the barometer was not read and the place of the file lies higher
    budget: Budget = field(metadata=output("budget", is_part=True))  # of the gross heat input [W]
    monte_carlo: MonteCarlo | None = field(metadata=output("Monte Carlo"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    meter: MeterEntry | None = None  # what stood beside the timings of a meter

    @property
    @computed_output("gas")
    def gas(self) -> str:
        """Its name."""
        return self.heat.name

    @property
    @computed_output("heat input", Kind.POWER, basis="gross")
    def heat_input_gross_W(self) -> float:
        return self.budget.value

    @property
    @computed_output("interval from", Kind.POWER, basis="gross")
    def interval_low_gross_W(self) -> float:
        """Lower end of the coverage interval of the linear budget."""
        return self.budget.low

    @property
    @computed_output("interval to", Kind.POWER, basis="gross")
    def interval_high_gross_W(self) -> float:
        """Upper end of it."""
        return self.budget.high

    @property
    @computed_output("standard uncertainty", Kind.FRACTION)
    def standard_uncertainty(self) -> float:
        """Of the gross heat input, relative [-]."""
        return self.budget.relative

    @property
    @computed_output("expanded uncertainty", Kind.FRACTION)
    def expanded_uncertainty(self) -> float:
        """Of the gross heat input, relative [-]."""
        return self.budget.relative_expanded

    @property
    @computed_output("Monte Carlo interval from", Kind.POWER, basis="gross")
    def monte_carlo_low_gross_W(self) -> float | None:
        """Lower end of the drawn interval; None without draws."""
        return None if self.monte_carlo is None else self.monte_carlo.low

    @property
    @computed_output("Monte Carlo interval to", Kind.POWER, basis="gross")
    def monte_carlo_high_gross_W(self) -> float | None:
        """Upper end of it."""
        return None if self.monte_carlo is None else self.monte_carlo.high

    @property
    @computed_output("deviation", Kind.FRACTION, is_change=True)
    def deviation(self) -> float | None:
        """From the rating it is further from [-]; None without a rating."""
        return None if self.worst is None else self.worst.deviation

    @property
    @computed_output("verdict")
    def verdict(self) -> Verdict:
        """Of that comparison."""
        return Verdict.NOT_EVALUATED if self.worst is None else self.worst.verdict

    @property
    def sea_level_ratio(self) -> float | None:
        """Heat input of this reading at sea level over that where the file stands [-]; None with a barometer."""
        at_sea_level = self.heat_input_sea_level_gross_W
        return None if at_sea_level is None else at_sea_level / self.heat_input_gross_W

    def withheld(self) -> InputMeasured:
        """The figures without a verdict: while a stop is open nothing is within a band."""
        beside = self.comparison, self.file_comparison
        named, of_file = (None if comparison is None else comparison.withheld() for comparison in beside)
        return replace(self, comparison=named, file_comparison=of_file)

    @property
    def worst(self) -> Comparison | None:
        """The comparison that is further from its rating."""
        comparisons = [
            comparison for comparison in (self.comparison, self.file_comparison) if comparison is not None
        ]
        return max(comparisons, key=lambda comparison: abs(comparison.deviation), default=None)

    def summary(self) -> Summary:
        value, spread = figure(self.heat_input_gross_W, Kind.POWER), figure(self.budget.expanded, Kind.POWER)
        words = f"{value} gross by {self.method}, expanded uncertainty {spread}"
        tail = "" if self.comparison is None else f"; {self.comparison.text}"
        return Summary(words + tail, lines=tuple(caution.line for caution in closing_cautions("clock")))

    def heat_input_W(self, basis: str) -> float:
        """On the gross or the net basis [W]."""
        return self.budget.value if basis == "gross" else self.heat_input_net_W


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingState:
    """Gas and gauge pressure the rating is for, and those of the test; None where they are not to be corrected."""

    gas: AnyGas | None = None
    gauge_pressure_Pa: float | None = None
    test_gauge_pressure_Pa: float | None = None


def heat_content(
    gas: AnyGas, reference: ReferenceState, relative_half_width: float | None = None, own: Path | None = None
) -> HeatContent:
    """What a gas is worth at a reference state; another state than a declared gas's own goes by the ideal-gas law.

    relative_half_width : of the heating value [-], None for that of the table; own : a table of instruments

    >>> from burnerlab.gas import load
    >>> heat_content(load("G20"), PRESETS["ISO_15_15"]).gross_J_per_m3 / 1e6
    37.78
    """
    by_name = instruments(own)
    temperature = reference.combustion_temperature_K
    gross = gas.heating_value_J_per_kg("gross", temperature)
    net = gas.heating_value_J_per_kg("net", temperature)
    if isinstance(gas, DeclaredGas):
        at = gas.properties(reference)
        row = "heating value declared ideal" if gas.ideal else "heating value declared"
        per_m3, notes, estimate = at.gross_heating_value_J_per_m3, at.notes, gas.net_is_estimate()
    else:
        figures = properties(gas, reference)
        fuels = [x for x in gas.composition.fractions if x > 0.0]
        row = "heating value pure" if len(fuels) == 1 else "heating value library"
        per_m3, notes, estimate = figures.gross_heating_value_J_per_m3, figures.notes, False
    return HeatContent(
        name=gas.name,
        reference=reference,
        gross_J_per_m3=per_m3,
        gross_J_per_kg=gross,
        net_to_gross=net / gross,
        net_is_estimate=estimate,
        instrument=_with_half_width(by_name[row], relative_half_width),
        gas=gas,
        notes=notes,
    )


def billed_heat_content(
    value: HeatingValue,
    net_to_gross: float | None = None,
    relative_half_width: float | None = None,
    own: Path | None = None,
) -> HeatContent:
    """What a gas is worth of which only a heating value is known, as a bill states it.

    net_to_gross : where known [-]; else estimated from the heating value among paraffins
    Raises UserError when its basis, or the state of its volume, is not said.

    >>> from burnerlab.quantity import read_heating_value
    >>> billed_heat_content(read_heating_value("1037 Btu/ft3 gross at 60F")).net_to_gross
    0.90075
    """
    key = "heating value"
    if value.basis is None:
        raise UserError(Problem("gross or net?", key=key, fix='write it as "1037 Btu/ft3 gross at 60F"'))
    if value.per == "mole":
        raise UserError(Problem("per mole cannot be billed", key=key, accepted="per volume or per mass"))
    if value.per == "volume" and value.reference is None:
        what = "the reference state of its volume is missing"
        raise UserError(Problem(what, key=key, fix='add it, such as "1037 Btu/ft3 gross at 60F"'))
    estimate = net_to_gross is None
    if net_to_gross is not None and not 0.7 <= net_to_gross <= 1.0:
        raise UserError(Problem("net over gross", f"{net_to_gross:g}", key, accepted="0.7 to 1"))
    ratio = paraffin_net_to_gross(value.value, value.per) if net_to_gross is None else net_to_gross
    gross = value.value if value.basis == "gross" else value.value / ratio
    notes = (f"net over gross taken as {ratio:.3f}, that of a paraffin gas of this heating value",)
    return HeatContent(
        name="as billed",
        reference=value.reference or PRESETS["ISO_15_15"],
        gross_J_per_m3=gross if value.per == "volume" else None,
        gross_J_per_kg=gross if value.per == "mass" else None,
        net_to_gross=ratio,
        net_is_estimate=estimate,
        instrument=_with_half_width(instruments(own)["heating value declared"], relative_half_width),
        gas=None,
        notes=notes if estimate else (),
    )


def _with_half_width(instrument: Instrument, half_width: float | None) -> Instrument:
    if half_width is None:
        return instrument
    return Instrument(
        name=instrument.name,
        half_width=half_width,
        unit="relative",
        shape="uniform",
        words="heating value, half width as entered",
        source="entered by the user",
    )


@cache
def _paraffins() -> Mapping[str, tuple[tuple[float, float], ...]]:
    """Gross heating value and net over gross of the pure paraffins, by what the heating value is per."""
    parts: dict[str, list[tuple[float, float]]] = {"volume": [], "mass": []}
    for row in tables.rows("declared_families"):
        if row["family"].startswith("pure "):
            gas = Composition.pure(row["family"].removeprefix("pure "))
            at = properties(gas, PRESETS["ISO_15_15"])
            ratio = at.net_heating_value_J_per_m3 / at.gross_heating_value_J_per_m3
            parts["volume"].append((at.gross_heating_value_J_per_m3, ratio))
            parts["mass"].append((at.gross_heating_value_J_per_kg, ratio))
    return {per: tuple(sorted(points)) for per, points in parts.items()}


def paraffin_net_to_gross(heating_value: float, per: str) -> float:
    """Net over gross of a paraffin gas of this heating value, between methane, ethane, propane and butane [-].

    heating_value : gross or net [J/m3 or J/kg]; per : volume or mass. Held at the ends; gases with hydrogen or much
    inert gas depart by a few per cent.

    >>> paraffin_net_to_gross(95.65e6, "volume")
    0.9200
    """
    values, ratios = zip(*_paraffins()[per], strict=True)
    return float(np.interp(heating_value, values, ratios))


def correction_of(
    test: HeatContent, state: RatingState, basis: str, own: Path | None = None
) -> Correction | None:
    """The correction from the test to the rating's gas and pressure, or None where neither is entered.

    Raises UserError when a Wobbe index cannot be known, or a pressure is missing on one side.
    """
    if state.gas is None and state.gauge_pressure_Pa is None and state.test_gauge_pressure_Pa is None:
        return None
    wobbe, words = 1.0, []
    if state.gas is not None:
        if test.gas is None:
            what = "the Wobbe index of the test gas is not known"
            fix = "name the gas, or give the relative density together with its heating value"
            raise UserError(Problem(what, key="rating's gas", fix=fix))
        wobbe = _wobbe(state.gas, basis) / _wobbe(test.gas, basis)
        words.append(f"Wobbe index of {state.gas.words} over that of {test.gas.words}: {wobbe:.4f}")
    ratio, u = 1.0, 0.0
    if state.gauge_pressure_Pa is not None or state.test_gauge_pressure_Pa is not None:
        if state.gauge_pressure_Pa is None or state.test_gauge_pressure_Pa is None:
            what = "the pressure at the test and that of the rating are needed together"
            raise UserError(Problem(what, key="manifold pressure"))
        ratio = state.gauge_pressure_Pa / state.test_gauge_pressure_Pa
        u = 0.5 * instruments(own)["manifold pressure"].standard_uncertainty / state.test_gauge_pressure_Pa
        words.append(f"root of the rating's pressure over that of the test: {ratio**0.5:.4f}")
    factor = float(correction_factor(wobbe, ratio))
    return Correction(
        factor=factor, wobbe_ratio=wobbe, pressure_ratio=ratio, relative_uncertainty=u, words="; ".join(words)
    )


def _wobbe(gas: AnyGas, basis: str) -> float:
    at = PRESETS["ISO_15_15"]
    figures = gas.properties(at) if isinstance(gas, DeclaredGas) else properties(gas, at)
    value = figures.gross_wobbe_J_per_m3 if basis == "gross" else figures.net_wobbe_J_per_m3
    if value is None:
        raise UserError(Problem("the net Wobbe index of this gas is not known", gas.name, "rating"))
    return value


def with_pressure_of_file(
    measured: InputMeasured, file_gauge_Pa: float, read_gauge_Pa: float | None
) -> InputMeasured:
    """What was measured, beside the same at the manifold pressure of the file, where another one was read.

    file_gauge_Pa, read_gauge_Pa : manifold pressure of the file and as read [Pa]; None where it was not read
    The verdict stays on the rate as burnt, or as corrected to a rated pressure that was entered. Equation: that of
    ``correction_factor``.
    """
    if read_gauge_Pa is None or pressure_words(read_gauge_Pa) == pressure_words(file_gauge_Pa):
        return measured
    ratio, correction, comparison = file_gauge_Pa / read_gauge_Pa, measured.correction, measured.worst
    if correction is not None and math.isclose(correction.pressure_ratio, ratio):
        return measured
    factor = float(correction_factor(1.0, ratio))
    gross_W, deviation, words = measured.heat_input_gross_W * factor, None, ""
    shown = power_words(gross_W)
    if comparison is not None:
        if comparison.rating.basis == "net":
            shown = power_words(gross_W * measured.heat.net_to_gross, "net")
        done = 1.0 if correction is None else math.sqrt(correction.pressure_ratio)
        deviation = (1.0 + comparison.deviation) * factor / done - 1.0
        words = f", {100.0 * deviation:+.1f} % from the {comparison.rating.words}"
    text = (
        f"at {pressure_words(file_gauge_Pa)} of the file, {pressure_words(read_gauge_Pa)} read: "
        f"{shown}{words}; a deviation that is left there is of orifice or gas, not of the pressure"
    )
    at_file = InputAtFilePressure(
        gauge_pressure_Pa=file_gauge_Pa,
        gauge_pressure_read_Pa=read_gauge_Pa,
        heat_input_gross_W=gross_W,
        deviation=deviation,
        text=text,
    )
    return replace(measured, at_file_pressure=at_file)


def compared(
    budget: Budget, heat: HeatContent, rating: Rating | None, correction: Correction | None, words: str
) -> Comparison | None:
    """The measured heat input against the rating, with a correction where one is entered; None without a rating."""
    if rating is None:
        return None
    factor = (1.0 if rating.basis == "gross" else heat.net_to_gross) * (
        correction.factor if correction else 1.0
    )
    value = budget.value * factor
    relative = np.hypot(budget.relative, correction.relative_uncertainty if correction else 0.0)
    if rating.basis == "net" and heat.net_is_estimate:
        relative = np.hypot(relative, NEAREST_NET / np.sqrt(3.0))
    standard = float(relative) * abs(value)
    return compare(value, standard, budget.coverage_factor * standard, rating, words)
