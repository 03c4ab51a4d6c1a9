"""Inputs of the commands of the bench: the unit under test, what its gas is worth, its rating, times and factors."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from burnerlab.cli.common_inputs import APPLIANCE, above_outlet, own_table, read_band
from burnerlab.cli.gas_inputs import GAS, gas_group
from burnerlab.cli.proposals import burner_names, market_names, reference_states
from burnerlab.quantity import (
    PRESETS,
    HeatingValue,
    Rate,
    ReferenceState,
    read_heating_value,
    read_rate,
    require_basis,
)
from burnerlab.quantity.inputs import Group, Input, as_written, input_row, together
from burnerlab.tables import rows
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, Tolerance
    from burnerlab.bench.bench_air import InputAtPlace, UnitInAir
    from burnerlab.bench.decision_rule import DecisionRule, Rating
    from burnerlab.bench.reading.heat_input import HeatContent, InputMeasured, RatingState
    from burnerlab.bench.reading.readings import ManifoldRange
    from burnerlab.bench.stop import StopNotice
    from burnerlab.gas import DeclaredGas, Gas


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchUnit:
    """The unit under test by its project file, None without one, and the burner that was on."""

    appliance: Appliance | None
    burner: str | None
    low: bool = False
    limits: ManifoldRange | None = (
        None  # of the manifold pressure by its plan; None: what the regulator should hold
    )

    def stops(self, measured: InputMeasured, manifold_gauge_Pa: float | None) -> tuple[StopNotice, ...]:
        """What a measured heat input of this burner raises."""
        from burnerlab.bench.stop_rules import measured_stops

        return measured_stops(
            measured, self.appliance, self.burner, manifold_gauge_Pa, low=self.low, limits=self.limits
        )

    def compared(self, measured: InputMeasured, manifold_gauge_Pa: float | None) -> InputMeasured:
        """What was measured beside the rating and the pressure of the file, with a note where they differ."""
        from burnerlab.bench.reading.heat_input import with_pressure_of_file
        from burnerlab.bench.unit import steady_note, with_file_comparison

        if self.appliance is None:
            return measured
        measured = with_file_comparison(measured, self.appliance, self.burner, low=self.low)
        file_gauge_Pa = self.appliance.supply.gauge_pressure_Pa
        measured = with_pressure_of_file(measured, file_gauge_Pa, manifold_gauge_Pa)
        near = () if self.low else low_rate_note(self.appliance, self.burner, measured.heat_input_gross_W)
        warm = steady_note(self.appliance, self.burner)
        return replace(measured, notes=(*near, *measured.notes, *filter(None, [warm])))


def low_rate_note(appliance: Appliance, burner: str | None, gross_W: float) -> tuple[str, ...]:
    """The note of a reading, taken as one at full, that lies near the low rate of the file."""
    from burnerlab.bench.unit import near_low_rate

    near = near_low_rate(appliance, burner, gross_W)
    return (f"{near} then add --low-rate",) if near else ()


BUILT_FOR = (
    Input(
        name="market",
        reader=as_written,
        proposals=market_names,
        metavar="NAME",
        help="The unit is built for a market of FILE, by name or letter; of a couple on the gas it is sized on.",
    ),
    Input(
        name="plan",
        reader=as_written,
        metavar="PLAN",
        help="The unit is built by a test plan: its JSON file, or its number where that is in the folder of FILE.",
    ),
)
"""What a unit is built for, where it is not the present supply of its file."""


def as_built(file: Appliance | None, market: str | None, plan: str | None) -> Appliance | None:
    """The appliance as the unit is built: for a market, by a plan, or as the file has it.

    Raises UserError for both, for a market the file has not and for a plan that is not one of this file.
    """
    from burnerlab.appliance.conversion.convert import built_for
    from burnerlab.appliance.conversion.markets import market_named
    from burnerlab.bench.plan_file import plan_named
    from burnerlab.bench.reading_plan import converted_for, mismatch_words

    if file is None:
        return None
    if market is not None and plan is not None:
        raise UserError(Problem("give one of them", value=plan, key="--market and --plan"))
    if market is not None:
        sold = market_named(file, market, "--market")
        return built_for(sold.appliance, sold.target)
    if plan is None:
        return file
    test = plan_named(plan, Path(file.file or "").parent, Path())
    is_of_file = (file.model or file.name) == test.model
    built = converted_for(file, test) if is_of_file else None
    if built is None and is_of_file and file.supply.gas.name == test.gas:
        return file  # of a converted unit
    if built is None:
        raise UserError(Problem(mismatch_words(file, test), value=plan, key="--plan"))
    return built


def _unit(
    file: Appliance | None, burner: str | None, low_rate: bool, market: str | None, plan: str | None
) -> BenchUnit:
    from burnerlab.bench.reading.manifold import each_burner

    built = as_built(file, market, plan)
    if built is not None and burner is not None:
        each_burner(built, burner)
    limits = None if built is None else limits_by_plan(built, plan, burner, market)
    return BenchUnit(appliance=built, burner=burner, low=low_rate, limits=limits)


def limits_by_plan(
    built: Appliance, plan: str | None, burner: str | None, market: str | None = None
) -> ManifoldRange | None:
    """The manifold pressures of a burner by the plan that a unit is built by, or that of its market; None without one.

    built : the unit's appliance, with the file of which the plan may lie beside; burner : None for all together
    """
    from burnerlab.appliance.conversion.markets import convert_market, market_named
    from burnerlab.bench.plan_file import plan_named
    from burnerlab.bench.reading.manifold import each_burner, manifold_range
    from burnerlab.bench.reading_plan import plan_of

    if plan is not None:
        test = plan_named(plan, Path(built.file or "").parent, Path())
    elif market is not None:
        sold = market_named(built.as_in_file or built, market, "--market")
        test = plan_of(convert_market(sold)[0])
    else:
        return None
    return test.pressure_limits(manifold_range(built), each_burner(built, burner)[0].name if burner else "")


def _needs_file(written: Mapping[str, Any]) -> Iterator[Problem]:
    if "file" in written:
        return
    if "burner" in written:
        yield Problem("needs the project file too", written["burner"], "--burner")
    if written.get("low_rate"):
        yield Problem("needs the project file, which names the low rate", key="--low-rate")
    for name in ("market", "plan"):
        if name in written:
            yield Problem("needs the project file too", written[name], f"--{name}")


UNIT = Group(
    make=_unit,
    inputs=(
        replace(APPLIANCE, metavar="[FILE]", is_needed=False),
        Input(
            name="burner",
            reader=as_written,
            proposals=burner_names,
            metavar="NAME",
            help="Burner of FILE that was on, one of the kind; else all were.",
        ),
        Input(
            name="low_rate",
            is_flag=True,
            help="Read at the low rate, by the turndown in FILE; it is held against that.",
        ),
        *BUILT_FOR,
    ),
    rules=_needs_file,
)
"""The unit under test, whose gas, rating, band and pressures hold where no option says another: ``BenchUnit``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """A gas known by its heating value alone."""

    value: HeatingValue
    net_to_gross: float | None


def _is_bill(written: Mapping[str, Any]) -> bool:
    return "heating_value" in written and not {"relative_density", "gas", "mix"} & written.keys()


def _gas_rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    if GAS.rules is not None and not _is_bill(written):
        yield from GAS.rules(written)


def _gas_or_bill(**texts: Any) -> Gas | DeclaredGas | Bill:
    if not _is_bill({name: text for name, text in texts.items() if text is not None}):
        made: Gas | DeclaredGas = GAS.make(**texts)
        return made

    value = read_heating_value(texts["heating_value"], key="--heating-value")
    return Bill(value=value, net_to_gross=_net_to_gross(value, texts["net_heating_value"], texts["family"]))


def _net_to_gross(value: HeatingValue, net_text: str | None, family: str | None) -> float | None:
    """Net over gross of a bill, by its net heating value or its family; None where neither is named."""

    if net_text is not None:
        net = read_heating_value(net_text, key="--net-heating-value")
        if (net.per, net.reference, net.basis, value.basis) != (value.per, value.reference, "net", "gross"):
            fix = "state both alike, one gross and one net"
            raise UserError(Problem("does not go with --heating-value", key="--net-heating-value", fix=fix))
        return net.value / value.value
    if family is None:
        return None
    known = {row["family"]: float(row["net_to_gross"]) for row in rows("declared_families")}
    if family not in known:
        raise UserError(Problem("no family of that name", family, "--family", accepted=", ".join(known)))
    return known[family]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSource:
    """Gas or bill, the state of the standard volume, and the limits of error."""

    gas: Gas | DeclaredGas | Bill | None  # None: that of the project file
    at: str | None
    half_width: float | None  # of the heating value [-]
    instruments: Path | None

    def content(self, unit: BenchUnit) -> HeatContent:
        """What a cubic metre and a kilogram are worth. Raises UserError for a bill that does not say its basis."""
        from burnerlab.bench.reading.heat_input import billed_heat_content, heat_content
        from burnerlab.cli.options import written
        from burnerlab.gas import DeclaredGas

        if isinstance(self.gas, Bill):
            bill = self.gas
            try:
                return billed_heat_content(bill.value, bill.net_to_gross, self.half_width, self.table(unit))
            except UserError as error:
                text, key = written("heating_value"), "--heating-value"
                raise UserError([replace(p, value=text, key=key) for p in error.problems]) from None
        gas = self.gas
        if gas is None:
            assert unit.appliance is not None  # a rule of the inputs
            gas = unit.appliance.supply.gas
        if self.at is not None:
            reference = ReferenceState.read(self.at, key="--at")
        else:
            reference = gas.reference if isinstance(gas, DeclaredGas) else PRESETS["ISO_15_15"]
        return heat_content(gas, reference, self.half_width, self.table(unit))

    def table(self, unit: BenchUnit) -> Path | None:
        """The limits of error: of the option, else of the project file."""
        of_file = None if unit.appliance is None else unit.appliance.tables.instrument_uncertainty
        return self.instruments or of_file


def _bill_state(written: Mapping[str, Any]) -> Iterator[Problem]:
    if _is_bill(written) and "at" in written:
        yield Problem("a heating value states its own", value=written["at"], key="--at")


def _heat_source(
    gas: Gas | DeclaredGas | Bill | None,
    at: str | None,
    heating_value_uncertainty: float | None,
    instruments: Path | None,
) -> HeatSource:
    return HeatSource(gas=gas, at=at, half_width=heating_value_uncertainty, instruments=instruments)


HEAT = Group(
    make=_heat_source,
    parts={"gas": replace(gas_group(is_optional=True), make=_gas_or_bill, rules=_gas_rules)},
    inputs=(
        Input(
            name="at",
            reader=as_written,
            proposals=reference_states,
            metavar="STATE",
            help="State of the standard volume; a declared gas has its own.",
        ),
        Input(
            name="heating_value_uncertainty",
            metavar="PERCENT",
            help='Half width of the interval of the heating value: "0.5 %".',
        ),
        own_table(
            "instrument_uncertainty",
            "CSV of your own limits of error, or LIBRARY:instrument_uncertainty.csv; without it that of FILE.",
        ),
    ),
    rules=_bill_state,
)
"""What the gas is worth: ``HeatSource``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rated:
    """The rating and its band, and the gas and pressure they are for."""

    rating: Rate | None
    unit: str  # in which sentences print it
    tolerance: Tolerance | None
    rule: DecisionRule
    gas: Gas | DeclaredGas | None
    gauge_pressure_Pa: float | None
    test_gauge_pressure_Pa: float | None

    def of(self, unit: BenchUnit) -> Rating | None:
        """Rating and band of the options, else those of the project file; None without either."""
        from burnerlab.appliance import read_tolerance
        from burnerlab.bench.decision_rule import Rating
        from burnerlab.bench.unit import rating_of

        own = None
        if unit.appliance is not None:
            own = rating_of(unit.appliance, unit.burner, self.rule, low=unit.low)
        band = self.tolerance or (own.tolerance if own else read_tolerance("default"))
        if self.rating is None:
            return None if own is None else replace(own, tolerance=band)
        assert self.rating.basis is not None  # its reader refuses one without
        return Rating(
            heat_input_W=self.rating.power_W,
            basis=self.rating.basis,
            tolerance=band,
            rule=self.rule,
            unit=self.unit,
            words="rating" if own is None else own.words,
        )

    def state(self, unit: BenchUnit) -> RatingState | None:
        """Gas and pressure of rating and test; with a project file a pressure read alone corrects nothing."""
        from burnerlab.bench.reading.heat_input import RatingState

        read = self.test_gauge_pressure_Pa
        if self.gauge_pressure_Pa is None and unit.appliance is not None:
            read = None
        if self.gas is None and self.gauge_pressure_Pa is None and read is None:
            return None
        return RatingState(
            gas=self.gas, gauge_pressure_Pa=self.gauge_pressure_Pa, test_gauge_pressure_Pa=read
        )


def read_based_rate(text: Any, key: str) -> Rate:
    """A heat input that says gross or net."""

    rate = read_rate(text, key=key)
    require_basis(rate.basis, text, key=key)
    return rate


def _read_rule(text: Any, key: str) -> DecisionRule:
    from burnerlab.bench.decision_rule import decision_rule

    return decision_rule(text)


def read_library_gas(text: Any, key: str) -> Gas | DeclaredGas:
    """A gas of the library, or of a file."""
    from burnerlab.gas import load

    return load(text, key=key)


def _rated(
    rating: Rate | None,
    tolerance: Tolerance | None,
    rule: DecisionRule,
    rated_gas: Gas | DeclaredGas | None,
    rated_pressure: float | None,
    manifold_pressure: float | None,
) -> Rated:
    from burnerlab.cli.options import written

    return Rated(
        rating=rating,
        unit="kW" if "W" in written("rating") else "kBtu/h",
        tolerance=tolerance,
        rule=rule,
        gas=rated_gas,
        gauge_pressure_Pa=rated_pressure,
        test_gauge_pressure_Pa=manifold_pressure,
    )


RATED = Group(
    make=_rated,
    inputs=(
        Input(name="rating", reader=read_based_rate, metavar="RATE", help='Of the plate: "15 kBtu/h gross".'),
        Input(
            name="tolerance",
            reader=read_band,
            metavar="PERCENT",
            help='Band: "5 %", or the name of one; else that of FILE, or default.',
        ),
        Input(
            name="rule",
            reader=_read_rule,
            metavar="NAME",
            default="simple",
            help="Rule of decision: simple or guard.",
        ),
        Input(
            name="rated_gas",
            reader=read_library_gas,
            metavar="NAME",
            help="Gas of the rating, to correct to it by Wobbe index.",
        ),
        Input(
            name="rated_pressure",
            reader=above_outlet,
            metavar="P",
            help='Manifold pressure of the rating, gauge, to correct to it: "20 mbar".',
        ),
        Input(
            name="manifold_pressure",
            reader=above_outlet,
            metavar="P",
            help='Manifold pressure at the test, gauge: "19.6 mbar".',
        ),
    ),
)
"""The rating, its band, the rule of decision, and the gas and pressure it is for: ``Rated``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingBasis:
    """What a heat input is measured on and held against."""

    unit: BenchUnit
    heat: HeatContent
    rating: Rating | None
    state: RatingState | None
    manifold_gauge_Pa: float | None  # as read at the test
    instruments: Path | None
    gas_is_of_file: bool
    air: UnitInAir | None = None  # of the bench, once it is known; None without a file

    def in_air(self, ambient_Pa: float | None) -> ReadingBasis:
        """The same in the air of the bench, in which the unit and its rating are another; None: that of the file."""
        from burnerlab.bench.bench_air import in_air_of, rating_in_air

        if self.unit.appliance is None:
            return self
        air = in_air_of(self.unit.appliance, ambient_Pa, self.unit.burner)
        rating = None if self.rating is None else rating_in_air(self.rating, air, low=self.unit.low)
        return replace(self, unit=replace(self.unit, appliance=air.appliance), rating=rating, air=air)

    def stops(self, measured: InputMeasured) -> tuple[StopNotice, ...]:
        """What a measured heat input raises, in the air of the bench."""
        from burnerlab.bench.bench_air import stops_in_air

        return stops_in_air(self.unit.stops(measured, self.manifold_gauge_Pa), self.air, self.rating)

    def at_place(self, measured: InputMeasured) -> InputAtPlace | None:
        """What was measured at the place of file or plan; None where the air there is the same."""
        from burnerlab.bench.bench_air import input_at_place

        if self.air is None or self.rating is None:
            return None
        of_gross = 1.0 if self.rating.basis == "gross" else self.heat.net_to_gross
        return input_at_place(self.air, measured.heat_input_gross_W, self.rating, of_gross)

    def head(self) -> list[tuple[str, str]]:
        """The gas and the burner that a reading is of, and where each comes from."""
        from burnerlab.cli.options import written
        from burnerlab.cli.output import gas_fact

        options = ("gas", "mix", "relative_density", "heating_value")
        source = (
            "of FILE" if self.gas_is_of_file else f"by --{next(filter(written, options)).replace('_', '-')}"
        )
        gas = self.heat.name if self.heat.gas is None else gas_fact(self.heat.gas)
        if self.unit.appliance is None:
            return [("gas", f"{gas}, {source}")]
        name = self.unit.burner
        on = (
            "all burners of FILE on, as no --burner names another" if name is None else f"{name}, by --burner"
        )
        return [("gas", f"{gas}, {source}"), ("burner", on)]

    def require_cylinder_gas(self) -> None:
        """Raises UserError where a cylinder was weighed and the unit is built for a gas that comes from none."""
        from burnerlab.appliance.conversion.gas_facts import GasStates
        from burnerlab.bench.unit import is_LP, require_cylinder_gas

        if self.unit.appliance is not None:
            require_cylinder_gas(self.unit.appliance)
        if self.heat.gas is not None and not is_LP(GasStates(self.heat.gas)):
            what = "comes from no cylinder: a scale does not measure it"
            fix = "time the gas meter (burnerlab clock), or name the LP gas of the cylinder"
            raise UserError(Problem(what, self.heat.gas.name, "--gas", fix=fix))


def _basis(unit: BenchUnit, source: HeatSource, rated: Rated) -> ReadingBasis:
    heat, rating = together(lambda: source.content(unit), lambda: rated.of(unit))
    return ReadingBasis(
        unit=unit,
        heat=heat,
        rating=rating,
        state=rated.state(unit),
        manifold_gauge_Pa=rated.test_gauge_pressure_Pa,
        instruments=source.table(unit),
        gas_is_of_file=source.gas is None,
    )


def _names_a_gas(written: Mapping[str, Any]) -> Iterator[Problem]:
    if not {"file", "gas", "mix", "heating_value", "relative_density"} & written.keys() and GAS.rules:
        yield from GAS.rules({})


BASIS = Group(make=_basis, parts={"unit": UNIT, "source": HEAT, "rated": RATED}, rules=_names_a_gas)
"""Unit, heat content, rating and its state: ``ReadingBasis``."""


def standard_uncertainty(text: Any, key: str) -> float:
    """A relative standard uncertainty [-] from an expanded one (95 %)."""
    from burnerlab.bench.uncertainty import COVERAGE, coverage_factor

    expanded = input_row("expanded_uncertainty").read(text, key)
    return float(expanded / float(coverage_factor(float("inf"), COVERAGE)))


def factor_inputs(instrument: str, help_of_factor: str, example: str) -> tuple[Input, Input]:
    """Factor and uncertainty of the certificate of a ``meter`` or ``scale``."""
    name = f"{instrument}_factor"
    return (
        Input(name=name, metavar="F", help=help_of_factor),
        Input(
            name=f"{name}_uncertainty",
            reader=standard_uncertainty,
            metavar="PERCENT",
            help=f'Of that factor, expanded (95 %): "{example}".',
        ),
    )


def other_load_input(help: str) -> Input:
    """What something else burned meanwhile, with its basis."""
    return Input(name="other_load", reader=read_based_rate, metavar="RATE", help=help)


def gross_W(rate: Rate | None, heat: HeatContent) -> float:
    """A heat input on the gross basis [W]; 0 for none."""
    if rate is None:
        return 0.0
    return rate.power_W / (1.0 if rate.basis == "gross" else heat.net_to_gross)


def uncertainty_input(help: str) -> Input:
    """The expanded uncertainty that is wanted."""
    return Input(name="wanted", of="expanded_uncertainty", metavar="PERCENT", help=help)
