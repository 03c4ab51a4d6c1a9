"""What the flue gas says, and the uncertainty of what follows from it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.bench.uncertainty import Budget, Instrument, Quantity, budget, instruments
from burnerlab.gas import Gas
from burnerlab.gas.combustion_air import (
    PRODUCTS,
    air_ratio_from_O2,
    combustion_air,
    dry_products,
    humidity_from_relative,
    products,
    ultimate_CO2,
)
from burnerlab.gas.component import component_table, constant
from burnerlab.gas.heat_capacity import GAS_CONSTANT, enthalpy_over_R, polynomials
from burnerlab.gas.summation import COLUMN_TEMPERATURES_K, gross_J_per_mol, net_J_per_mol
from burnerlab.quantity import Kind, Problem, UserError
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.figure import Evidence
from burnerlab.tables.verdict import Verdict

# What the flue gas says: excess air, carbon monoxide free of air, heat lost up the flue, dew point.

FloatArray = NDArray[np.float64]

ANALYSER_OXYGEN = 0.209  # fraction of air that the trade's air-free formula is written with
DILUTED = 0.18  # oxygen above which a reading says little of the flame (common practice)
CO_HEATING_VALUE_J_PER_MOL = 282_980.0  # iso6976-2016 Table 3, 25 C
HEATED_AS = {"sulphur dioxide": "carbon dioxide"}  # a trace: its heat capacity is taken as that of CO2
FELT = 0.004  # carbon monoxide that leaves 0.2 points of oxygen unused, what an analyser resolves
ANY_HUMIDITY = 0.5  # of air whose humidity was not read: the middle of all it can be
SECOND_HAND = "second-hand"  # how the note of a row begins
ANOTHER_PUBLICATION = "another publication"
APPLIANCE_KIND = "appliance_kind"  # input of a test: whose limit of carbon monoxide is in force
OF_PLAN = "named in the test plan"  # source of a limit
NEAR = 0.8  # a reading above four fifths of a limit is near it


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueReading:
    """What the analyser and thermometers read; gas fractions are of the dry flue gas."""

    oxygen: float | None = field(default=None, metadata=output("oxygen", Kind.FRACTION))
    carbon_dioxide: float | None = field(default=None, metadata=output("carbon dioxide", Kind.FRACTION))
    carbon_monoxide: float | None = field(
        default=None, metadata=output("carbon monoxide", Kind.FRACTION, unit="ppm")
    )
    is_air_free: bool = field(
        default=False, metadata=output("carbon monoxide shown air-free")
    )  # by an analyser that has taken the air out itself; else as it is in the sample
    flue_temperature_K: float | None = field(
        default=None, metadata=output("flue temperature", Kind.TEMPERATURE)
    )
    air_temperature_K: float = field(default=293.15, metadata=output("air temperature", Kind.TEMPERATURE))
    relative_humidity: float | None = field(
        default=None, metadata=output("relative humidity", Kind.FRACTION)
    )  # of the air; None when it was not read
    pressure_Pa: float = field(default=101325.0, metadata=output("ambient pressure", Kind.ABSOLUTE_PRESSURE))

    @property
    @computed_output("relative humidity computed with", Kind.FRACTION)
    def humidity_of_air(self) -> float:
        """Relative humidity that is computed with: as read, else the middle of 0 to 100 % [-]."""
        return ANY_HUMIDITY if self.relative_humidity is None else self.relative_humidity


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitComparison:
    """Air-free carbon monoxide against one published limit, which is for the appliance it names."""

    name: str = field(metadata=output("published limit, air-free CO"))
    applies_to: str = field(metadata=output("applies to"))
    limit: float = field(metadata=output("limit", Kind.FRACTION, unit="ppm"))
    verdict: Verdict = field(
        metadata=output("reading is")
    )  # within, near, outside; not evaluated for another kind than the one chosen
    source: str = field(metadata=output("source"))
    provenance: str = field(metadata=output("provenance"))
    kind: str = field(metadata=output("kind"))  # the word that chooses this limit
    is_cooking: bool = field(metadata=output("of a cooking appliance"))
    known_by: str = field(metadata=output("limit known by"))  # recalled, seen, or read in another publication
    words: str  # what it is for, and when nobody chose it

    def withheld(self) -> LimitComparison:
        """While a stop is open nothing is within a limit; what is outside stays so."""
        return self if self.verdict == Verdict.OUTSIDE else replace(self, verdict=Verdict.NOT_EVALUATED)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueAnalysis:
    """Flue gas analysed for one gas; what was not read stays None and is named in the notes."""

    gas: Gas
    reading: FlueReading = field(metadata=output("reading"))
    air_ratio: float = field(metadata=output("air ratio"))
    excess_air: float = field(metadata=output("excess air", Kind.FRACTION))
    oxygen: float = field(metadata=output("oxygen, dry", Kind.FRACTION))  # as read, or from CO2
    carbon_dioxide: float = field(
        metadata=output("carbon dioxide, dry", Kind.FRACTION)
    )  # as read, or from the oxygen read
    ultimate_CO2: float = field(metadata=output("ultimate carbon dioxide", Kind.FRACTION))
    air_free_CO: float | None = field(metadata=output("CO, air-free by O2", Kind.FRACTION, unit="ppm"))
    air_free_CO_by_CO2: float | None = field(
        metadata=output("CO, air-free by CO2", Kind.FRACTION, unit="ppm")
    )
    flue_loss_gross: float | None = field(
        metadata=output("flue loss", Kind.FRACTION, basis="gross")
    )  # of the gross heating value, latent heat counted
    flue_loss_net: float | None = field(
        metadata=output("flue loss", Kind.FRACTION, basis="net")
    )  # of the net heating value, sensible heat only
    dew_point_K: float | None = field(metadata=output("dew point", Kind.TEMPERATURE))
    limits: tuple[LimitComparison, ...] = field(metadata=output("published limits"))
    in_force: LimitComparison | None = field(
        metadata=output("limit in force")
    )  # of the kind of appliance chosen, else the lowest for cooking
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    @computed_output("gas")
    def gas_name(self) -> str:
        """Of the gas burned."""
        return self.gas.name

    def withheld(self) -> FlueAnalysis:
        """The figures without a verdict, where it is not one of outside: for while a stop is open."""
        in_force = None if self.in_force is None else self.in_force.withheld()
        return replace(self, limits=tuple(limit.withheld() for limit in self.limits), in_force=in_force)


def air_free_by_oxygen(carbon_monoxide: ArrayLike, oxygen: ArrayLike) -> FloatArray:
    """Carbon monoxide free of air, CO 20.9/(20.9 - O2) [same unit as CO], fractions of dry flue gas.

    Raises UserError at 20.9 % oxygen and above, where the sample is air.
    Source: common practice of combustion testing.

    >>> float(air_free_by_oxygen(87e-6, 0.05)) * 1e6
    114.4
    """
    oxygen_fraction = np.asarray(oxygen, dtype=float)
    if not np.all((oxygen_fraction >= 0.0) & (oxygen_fraction < ANALYSER_OXYGEN)):
        what = "this sample is air"
        raise UserError(
            Problem(what, f"{np.max(oxygen_fraction):g}", key="oxygen", accepted="0 to below 20.9 %")
        )
    free: FloatArray = (
        np.asarray(carbon_monoxide, dtype=float) * ANALYSER_OXYGEN / (ANALYSER_OXYGEN - oxygen_fraction)
    )
    return free


def air_free_by_CO2(carbon_monoxide: ArrayLike, carbon_dioxide: ArrayLike, ultimate: ArrayLike) -> FloatArray:
    """Carbon monoxide free of air, CO CO2_ultimate/CO2 [same unit as CO], fractions of dry flue gas.

    Raises UserError where no carbon dioxide was read.

    >>> float(air_free_by_CO2(100e-6, 0.05, 0.117)) * 1e6
    234.0
    """
    CO2_fraction = np.asarray(carbon_dioxide, dtype=float)
    if not np.all(CO2_fraction > 0.0):
        raise UserError(
            Problem("no carbon dioxide: the sample is air", key="carbon dioxide", accepted="above 0")
        )
    free: FloatArray = (
        np.asarray(carbon_monoxide, dtype=float) * np.asarray(ultimate, dtype=float) / CO2_fraction
    )
    return free


def latent_heat_J_per_mol(temperature_K: float) -> float:
    """Heat of vaporisation of water at 0 to 25 C, carried on linearly [J/mol]. Source: iso6976-2016 Table A.5."""
    columns = list(COLUMN_TEMPERATURES_K)
    temperatures = np.array([COLUMN_TEMPERATURES_K[column] for column in columns])
    values = np.array([constant(f"L0_water_{column}") * 1e3 for column in columns])
    slope, intercept = np.polyfit(temperatures, values, 1)
    return float(slope * temperature_K + intercept)


def sensible_J_per_mol(names: Sequence[str], amounts: ArrayLike, from_K: float, to_K: float) -> float:
    """Heat in a flue gas between two temperatures, sum n (H(T2) - H(T1)) [J per mole of gas burned]."""
    data = polynomials("component").at([HEATED_AS.get(name, name) for name in names])
    rise = enthalpy_over_R(data, to_K) - enthalpy_over_R(data, from_K)
    return float(np.asarray(amounts, dtype=float) @ rise) * GAS_CONSTANT


def siegert_loss(flue_K: float, air_K: float, oxygen: float, A2: float, B: float) -> float:
    """Flue loss of the Siegert formula, (Tf - Ta)(A2/(20.9 - O2) + B)/100, of the net heating value [-].

    A cross-check with published constants; the heat balance is the engine. Source: flue-siegert.

    >>> siegert_loss(453.15, 293.15, 0.05, 0.66, 0.009) * 100
    8.082
    """
    return (flue_K - air_K) * (A2 / (20.9 - 100.0 * oxygen) + B) / 100.0


def _losses(gas: Gas, reading: FlueReading, air_ratio: float, humidity: float) -> tuple[float, float]:
    """Flue loss on the gross and on the net basis; unburnt carbon monoxide is counted in both."""
    names, x = gas.composition.names, np.asarray(gas.composition.fractions)
    flue, warm = products(names, x, air_ratio, humidity), reading.air_temperature_K
    assert reading.flue_temperature_K is not None
    heat = sensible_J_per_mol(PRODUCTS, flue, warm, reading.flue_temperature_K)
    dry = float(flue.sum() - flue[PRODUCTS.index("water")])
    heat += (reading.carbon_monoxide or 0.0) * dry * CO_HEATING_VALUE_J_PER_MOL
    formed = float(products(names, x)[PRODUCTS.index("water")])
    index = component_table().take(names)
    gross, net = float(gross_J_per_mol("25C")[index] @ x), float(net_J_per_mol("25C")[index] @ x)
    return (heat + formed * latent_heat_J_per_mol(warm)) / gross, heat / net


def _air_ratio(gas: Gas, reading: FlueReading) -> float:
    names, x = gas.composition.names, np.asarray(gas.composition.fractions)
    if reading.oxygen is not None:
        return float(air_ratio_from_O2(names, x, reading.oxygen))
    ultimate, measured_CO2 = float(ultimate_CO2(names, x)), reading.carbon_dioxide
    if measured_CO2 is None:
        raise UserError(Problem("give the oxygen or the carbon dioxide read", key="--oxygen"))
    if ultimate <= 0.0:
        what = "this gas forms none: it gives no figure of the air"
        raise UserError(
            Problem(what, f"{100 * measured_CO2:g} %", key="carbon dioxide", fix="give the oxygen")
        )
    if not 0.0 < measured_CO2 <= ultimate * 1.0001:
        accepted = f"above 0 up to the ultimate {100 * ultimate:.2f} %"
        raise UserError(
            Problem(
                "cannot be of this gas", f"{100 * measured_CO2:g} %", key="carbon dioxide", accepted=accepted
            )
        )
    dry = float(dry_products(names, x))
    air = combustion_air(gas).stoichiometric_air_mol_per_mol
    return 1.0 + dry * (ultimate / measured_CO2 - 1.0) / air


def limit_comparisons(
    air_free_CO: float, own: Path | None = None, kind: str = ""
) -> tuple[LimitComparison, ...]:
    """Air-free carbon monoxide against every published limit, or against that of one kind of appliance.

    air_free_CO : [mol/mol]; own : a CSV of the columns of the table ``flue_limits``
    kind : of the appliance, by the column ``kind`` or ``name``; the limits of other kinds are then not evaluated
    Raises UserError for a kind that is not in the table, and for a row of one's own that cannot be read.
    """
    comparisons, chosen = [], kind.strip().casefold()
    for row in tables.read("flue_limits", own):
        limit = row.number("air_free_CO_ppm") / 1e6
        names = (row["kind"] or row["name"], row["name"])
        verdict = _verdict(air_free_CO, limit)
        comparisons.append(
            LimitComparison(
                name=row["name"],
                applies_to=row["applies_to"],
                limit=limit,
                verdict=verdict if chosen in ("", *map(str.casefold, names)) else Verdict.NOT_EVALUATED,
                source=tables.cite(row["source"]),
                provenance=row["provenance"],
                kind=names[0],
                is_cooking=row["cooking"] != "no",
                known_by=_known_by(row),
                words=row["applies_to"]
                if chosen
                else f"kind not named, lowest for cooking: {row['applies_to']}",
            )
        )
    if chosen and all(comparison.verdict == Verdict.NOT_EVALUATED for comparison in comparisons):
        accepted = ", ".join(comparison.kind for comparison in comparisons)
        raise UserError(Problem("is not a kind of the table of limits", kind, "kind", accepted=accepted))
    return tuple(comparisons)


def _verdict(air_free_CO: float, limit: float) -> Verdict:
    if not air_free_CO <= limit:
        return Verdict.OUTSIDE
    return Verdict.NEAR if air_free_CO > NEAR * limit else Verdict.WITHIN


@cache
def appliance_kinds() -> Mapping[str, str]:
    """Kinds of appliance whose limit of carbon monoxide is published, each with what it is, in the table's order.

    >>> appliance_kinds()["outdoor-cooking"]
    'outdoor cooking gas appliance'
    """
    return {row["kind"]: row["applies_to"] for row in tables.read("flue_limits")}


def kind_named(text: str) -> str:
    """The kind of appliance that a text names by its word or by what it is; "" where it names none.

    What stands behind a semicolon is more about it.

    >>> kind_named("Outdoor cooking gas appliance; by us"), kind_named("this appliance type, by report 12")
    ('outdoor-cooking', '')
    """
    word = " ".join(text.partition(";")[0].split()).casefold()
    named = (kind for kind, words in appliance_kinds().items() if word in (kind.casefold(), words.casefold()))
    return next(named, "")


def with_limit(analysis: FlueAnalysis, limit: float, scope: str) -> FlueAnalysis:
    """An analysis beside one more limit, that of a test plan: it is in force where it is the lower one.

    limit : of carbon monoxide free of air [mol/mol]; scope : the appliances it holds for, as the user named them
    """
    if analysis.air_free_CO is None:
        return analysis
    own = _limit_of_plan(max(analysis.air_free_CO, analysis.air_free_CO_by_CO2 or 0.0), limit, scope)
    return replace(analysis, limits=(own, *analysis.limits), in_force=_stricter(own, analysis.in_force))


def _limit_of_plan(air_free_CO: float, limit: float, scope: str) -> LimitComparison:
    return LimitComparison(
        name="limit of the test plan",
        applies_to=scope,
        limit=limit,
        verdict=_verdict(air_free_CO, limit),
        source=OF_PLAN,
        provenance=Evidence.ENTERED,
        kind="",
        is_cooking=False,
        known_by=OF_PLAN,
        words=scope,
    )


def _stricter(own: LimitComparison, present: LimitComparison | None) -> LimitComparison:
    return own if present is None or own.limit <= present.limit else present


def limit_of_reading(
    carbon_monoxide: float, kind: str = "", own: Path | None = None, of_plan: tuple[float, str] | None = None
) -> LimitComparison | None:
    """The limit in force for carbon monoxide whose air is not known: the stricter of kind and plan.

    carbon_monoxide : as read [mol/mol]; kind, own : as of ``limit_comparisons``; of_plan : its limit, its scope
    """
    present = limit_in_force(limit_comparisons(carbon_monoxide, own, kind))
    return present if of_plan is None else _stricter(_limit_of_plan(carbon_monoxide, *of_plan), present)


def _known_by(row: tables.Row) -> str:
    if row["provenance"] == "memory":
        return Evidence.RECALLED
    return ANOTHER_PUBLICATION if row["note"].startswith(SECOND_HAND) else row["provenance"]


def limit_in_force(limits: Sequence[LimitComparison]) -> LimitComparison | None:
    """The limit of the kind of appliance chosen; the lowest for cooking where none was; None where there is none.

    >>> limit_in_force(limit_comparisons(100e-6, kind="one-burner")).limit
    0.001
    """
    evaluated = [limit for limit in limits if limit.verdict != Verdict.NOT_EVALUATED]
    cooking = evaluated if len(evaluated) == 1 else [limit for limit in evaluated if limit.is_cooking]
    return min(cooking, key=lambda limit: limit.limit, default=None)


def _notes(
    reading: FlueReading, oxygen: float, expected_CO2: float, dew_point_K: float | None, carbon: bool
) -> tuple[str, ...]:
    notes = []
    if oxygen > DILUTED:
        notes.append("above 18 % oxygen the sample is mostly air: sample closer to the flame")
    if reading.oxygen is not None and reading.carbon_dioxide is not None:
        gap = reading.carbon_dioxide - expected_CO2
        notes.append(
            f"oxygen and carbon dioxide read differ from one another by {100 * gap:+.2f} points of CO2 for this gas;"
            " the larger of the two air-free figures is held against the limits"
        )
    if (reading.carbon_monoxide or 0.0) >= FELT:
        notes.append("so much carbon monoxide leaves oxygen unused: excess air and air ratio read too high")
    if (reading.carbon_monoxide or 0.0) > 0.0 and not carbon:
        notes.append("this gas has no carbon: the carbon monoxide read is not of its flame")
    if (
        reading.flue_temperature_K is not None
        and dew_point_K is not None
        and reading.flue_temperature_K < dew_point_K
    ):
        notes.append("the flue is below its dew point: heat won back by condensing is not counted")
    if reading.carbon_monoxide is None:
        notes.append("carbon monoxide was not read: air-free CO is not evaluated")
    if reading.relative_humidity is None:
        notes.append(
            f"humidity of the air was not read: {100 * ANY_HUMIDITY:.0f} % taken, 0 to 100 % in the uncertainty"
        )
    if reading.flue_temperature_K is None:
        notes.append("no flue temperature was read: flue loss is not evaluated")
    return tuple(notes)


READING_INPUTS = (
    ("oxygen", "oxygen"),
    ("carbon_dioxide", "carbon_dioxide"),
    ("carbon_monoxide", "carbon_monoxide"),
    ("flue_temperature_K", "flue_temperature"),
    ("air_temperature_K", "air_temperature"),
    ("relative_humidity", "relative_humidity"),
    ("pressure_Pa", "barometer"),
)
"""Each reading, and the input of the table ``inputs`` whose range it keeps to."""


def analyse_flue(
    gas: Gas, reading: FlueReading, own_limits: Path | None = None, kind: str = ""
) -> FlueAnalysis:
    """Excess air (long form), air-free carbon monoxide, flue loss and dew point from analyser readings.

    excess air = (V_d/A) O2/(20.95 - O2); loss = (sensible heat of the wet flue gas + latent heat of the water
    formed, gross basis only + unburnt CO)/heating value, all from the temperature of the air.
    kind : of the appliance, whose limit of carbon monoxide is in force; the lowest for cooking where none is named
    Carbon monoxide that the analyser shows air-free is held against the limits as it is, never corrected again.
    Raises UserError for readings out of range or that no sample of this gas can give, and for a gas without
    composition.
    """
    problems = [
        problem
        for name, row in READING_INPUTS
        for problem in input_row(row).problems(getattr(reading, name), row.replace("_", " "))
    ]
    if problems:
        raise UserError(problems)
    return _analysis(gas, reading, own_limits, kind)


def _analysis(gas: Gas, reading: FlueReading, own_limits: Path | None = None, kind: str = "") -> FlueAnalysis:
    """The analysis; the ends of a reading's uncertainty may lie outside the range of the reading."""
    humidity = float(
        humidity_from_relative(reading.humidity_of_air, reading.air_temperature_K, reading.pressure_Pa)
    )
    ratio = _air_ratio(gas, reading)
    burnt = combustion_air(gas, ratio, humidity, reading.pressure_Pa)
    oxygen = burnt.dry_O2 if reading.oxygen is None else reading.oxygen
    CO2 = burnt.dry_CO2 if reading.carbon_dioxide is None else reading.carbon_dioxide
    sample = _sample(reading, oxygen)
    CO = sample.carbon_monoxide
    free = None if CO is None else float(air_free_by_oxygen(CO, oxygen))
    by_CO2 = None  # of a figure that is air-free already there is one, never corrected again
    if (
        CO is not None
        and not reading.is_air_free
        and reading.carbon_dioxide is not None
        and burnt.ultimate_CO2 > 0.0
    ):
        by_CO2 = float(air_free_by_CO2(CO, reading.carbon_dioxide, burnt.ultimate_CO2))
    limits = () if free is None else limit_comparisons(max(free, by_CO2 or 0.0), own_limits, kind)
    losses = (None, None) if reading.flue_temperature_K is None else _losses(gas, sample, ratio, humidity)
    return FlueAnalysis(
        gas=gas,
        reading=reading,
        air_ratio=ratio,
        excess_air=ratio - 1.0,
        oxygen=oxygen,
        carbon_dioxide=CO2,
        ultimate_CO2=burnt.ultimate_CO2,
        air_free_CO=free,
        air_free_CO_by_CO2=by_CO2,
        flue_loss_gross=losses[0],
        flue_loss_net=losses[1],
        dew_point_K=burnt.dew_point_K,
        limits=limits,
        in_force=limit_in_force(limits),
        notes=_notes(sample, oxygen, burnt.dry_CO2, burnt.dew_point_K, burnt.ultimate_CO2 > 0.0),
    )


def _sample(reading: FlueReading, oxygen: float) -> FlueReading:
    """The reading with the carbon monoxide that is in the sample, where the analyser shows it air-free."""
    if not reading.is_air_free or reading.carbon_monoxide is None:
        return reading
    return replace(reading, carbon_monoxide=reading.carbon_monoxide / float(air_free_by_oxygen(1.0, oxygen)))


# How sure a flue analysis is: the errors of the analyser and thermometers carried to what follows from
# them.

ZERO_C_K = 273.15  # definition of the degree Celsius
FIELDS: Mapping[str, tuple[str, str]] = {
    "flue oxygen": ("oxygen", "mol/mol"),
    "flue carbon dioxide": ("carbon_dioxide", "mol/mol"),
    "flue carbon monoxide": ("carbon_monoxide", "mol/mol"),
    "flue temperature": ("flue_temperature_K", "K"),
    "air temperature": ("air_temperature_K", "K"),
    "air humidity": ("relative_humidity", "-"),
}
"""Row of the table of instruments by the field of the reading, and its unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueUncertainty:
    """Budgets of what a flue analysis found; None where the figure itself was not evaluated."""

    excess_air: Budget = field(metadata=output("excess air", Kind.FRACTION, is_band=True))
    air_ratio: Budget = field(
        metadata=output("air ratio", is_band=True)
    )  # on dry flue gas the humidity of the air leaves it as it is
    dew_point_K: Budget | None = field(metadata=output("dew point", Kind.TEMPERATURE, is_band=True))
    air_free_CO: Budget | None = field(
        metadata=output("CO, air-free by O2", Kind.FRACTION, unit="ppm", is_band=True)
    )
    flue_loss_gross: Budget | None = field(
        metadata=output("flue loss", Kind.FRACTION, basis="gross", is_band=True)
    )
    flue_loss_net: Budget | None = field(
        metadata=output("flue loss", Kind.FRACTION, basis="net", is_band=True)
    )


def flue_uncertainty(analysis: FlueAnalysis, own: Path | None = None) -> FlueUncertainty:
    """Uncertainty budgets of excess air, air-free carbon monoxide, dew point and flue losses.

    A humidity of the air that was not read is anything from 0 to 100 %, at the temperature of the air.

    analysis : from ``analyse_flue``; own : a CSV of the columns of ``instrument_uncertainty``
    The composition of the gas is taken as known. Source: bench-gum.

    >>> from burnerlab.gas import load
    >>> reading = FlueReading(oxygen=0.05, carbon_monoxide=87e-6)
    >>> 1e6 * flue_uncertainty(analyse_flue(load("propane"), reading)).air_free_CO.expanded
    29.85
    """
    quantities = _quantities(analysis.reading, instruments(own))

    def of(name: str, unit: str) -> Budget:
        return budget(_model(analysis, name), quantities, unit)

    return FlueUncertainty(
        excess_air=of("excess_air", "-"),
        air_ratio=of("air_ratio", "-"),
        dew_point_K=None if analysis.dew_point_K is None else of("dew_point_K", "K"),
        air_free_CO=None if analysis.air_free_CO is None else of("air_free_CO", "mol/mol"),
        flue_loss_gross=None if analysis.flue_loss_gross is None else of("flue_loss_gross", "-"),
        flue_loss_net=None if analysis.flue_loss_net is None else of("flue_loss_net", "-"),
    )


def _model(analysis: FlueAnalysis, name: str) -> Callable[[Mapping[str, Any]], float]:
    """One figure of the analysis as a function of the readings; all else stays."""

    def value(x: Mapping[str, Any]) -> float:
        figure = getattr(_analysis(analysis.gas, replace(analysis.reading, **x)), name)
        return math.nan if figure is None else float(figure)

    return value


def _quantities(reading: FlueReading, instruments: Mapping[str, Instrument]) -> tuple[Quantity, ...]:
    quantities = []
    for row, (name, unit) in FIELDS.items():
        estimate = getattr(reading, name)
        if name == "relative_humidity" and estimate is None:
            quantities.append(
                instruments["air humidity not read"].quantity(name, reading.humidity_of_air, unit)
            )
            continue
        if estimate is None or (name == "carbon_dioxide" and reading.oxygen is not None):
            continue  # with both read the oxygen tells the air, and the carbon dioxide only checks it
        by_width = instruments[row].quantity(name, estimate, unit)
        share = instruments.get(f"{row} share")
        if share is not None:
            scale = estimate - ZERO_C_K if unit == "K" else estimate
            by_width = max(
                by_width,
                share.quantity(name, estimate, unit, scale=scale),
                key=lambda q: q.standard_uncertainty,
            )
        quantities.append(by_width)
    return tuple(quantities)
