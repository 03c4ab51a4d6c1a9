"""What ``clock`` and ``weigh`` share: the options of gas and rating, and how a measured heat input is shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from burnerlab.cli.asked import GasAsked, gauge_pressure_Pa, together
from burnerlab.cli.cautions import cautions
from burnerlab.cli.options import Adding, Command, gathered, text_option
from burnerlab.cli.output import facts, number, percent, table
from burnerlab.cli.units import W_PER_BTU_PER_H
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.budget import Budget, MonteCarlo
    from burnerlab.bench.decision import Rating
    from burnerlab.bench.heat import HeatContent, InputMeasured, RatingState
    from burnerlab.bench.timing import TimingPlan

Measured = TypeVar("Measured")
SHOWN_SHARE = 0.005  # of the variance: contributions below it are left out of the text, not of the JSON


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelAsked:
    """The project file of the unit under test, and the burner that was on."""

    file: str | None
    burner: str | None

    def read(self) -> Appliance | None:
        """The appliance of the file; None without one."""
        from burnerlab.appliance import read_appliance
        from burnerlab.bench.manifold import each_burner

        if self.file is None:
            if self.burner is not None:
                raise UserError(Problem("needs the project file beside it", self.burner, "--burner"))
            return None
        appliance = read_appliance(self.file)
        if self.burner is not None:
            each_burner(appliance, self.burner)
        return appliance


def model_options(command: Command) -> Command:
    """The project file whose gas, rating, band and meter pressure hold where no option says another."""
    options: dict[str, Adding] = {
        "file": lambda parameter: click.argument(parameter, metavar="[FILE]", required=False),
        "burner": text_option(
            "--burner", "NAME", "Burner of FILE that was on, one of the kind; else all were."
        ),
    }
    return gathered("model", ModelAsked, options, command)


@dataclass(frozen=True, slots=True, kw_only=True)
class BasisAsked:
    """What the gas is worth, as the options say it."""

    at: str | None
    uncertainty: str | None
    instruments: str | None

    def own(self) -> Path | None:
        if self.instruments is None:
            return None
        path = Path(self.instruments)
        if not path.is_file():
            raise UserError(Problem("not a regular file", key="--instruments", file=str(path)))
        return path

    def heat(self, gas: GasAsked, appliance: Appliance | None = None) -> HeatContent:
        """The heat content of the gas asked for, else of the project file's."""
        from burnerlab.bench.heat import heat_content
        from burnerlab.gas import DeclaredGas
        from burnerlab.quantity import PRESETS, Kind, ReferenceState, read

        half, own = None, self.own()
        if self.uncertainty is not None:
            key = "--heating-value-uncertainty"
            half = read(self.uncertainty, Kind.FRACTION, key=key, low=0.0, high=0.2)
        if (
            gas.heating_value is not None
            and gas.relative_density is None
            and gas.name is None
            and gas.mix is None
        ):
            if self.at is not None:
                raise UserError(Problem("a heating value states its own", value=self.at, key="--at"))
            return _billed(gas, half, own)
        found = gas.read() if appliance is None or gas.is_given else appliance.supply.gas
        if self.at is not None:
            reference = ReferenceState.read(self.at, key="--at")
        else:
            reference = found.reference if isinstance(found, DeclaredGas) else PRESETS["ISO_15_15"]
        return heat_content(found, reference, half, own)


def _billed(gas: GasAsked, half: float | None, own: Path | None) -> HeatContent:
    from burnerlab.bench.heat import billed_heat_content
    from burnerlab.quantity import read_heating_value
    from burnerlab.tables import rows

    assert gas.heating_value is not None
    value = read_heating_value(gas.heating_value, key="--heating-value")
    ratio = None
    if gas.net_heating_value is not None:
        net = read_heating_value(gas.net_heating_value, key="--net-heating-value")
        if (net.per, net.reference, net.basis, value.basis) != (value.per, value.reference, "net", "gross"):
            fix = "state both alike, one gross and one net"
            raise UserError(Problem("does not go with --heating-value", key="--net-heating-value", fix=fix))
        ratio = net.value / value.value
    elif gas.family is not None:
        known = {row["family"]: float(row["net_to_gross"]) for row in rows("declared_families")}
        if gas.family not in known:
            raise UserError(
                Problem("no family of that name", gas.family, "--family", accepted=", ".join(known))
            )
        ratio = known[gas.family]
    try:
        return billed_heat_content(value, ratio, half, own)
    except UserError as error:
        raise UserError(
            [replace(p, value=gas.heating_value, key="--heating-value") for p in error.problems]
        ) from None


def basis_options(command: Command) -> Command:
    """Where the heating value is stated, how sure it is, and the instruments."""
    options = {
        "at": text_option("--at", "STATE", "State of the standard volume; a declared gas has its own."),
        "uncertainty": text_option("--heating-value-uncertainty", "SHARE", 'Half width: "0.5 %".'),
        "instruments": text_option("--instruments", "FILE", "CSV of your own limits of error."),
    }
    return gathered("basis", BasisAsked, options, command)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingAsked:
    """The rating and its band, as the options say it."""

    rating: str | None
    tolerance: str | None
    rule: str
    gas: str | None
    pressure: str | None
    manifold_pressure: str | None

    def read(self, appliance: Appliance | None = None, burner: str | None = None) -> Rating | None:
        """Rating and band asked for, else those of the project file."""
        from burnerlab.appliance import read_tolerance
        from burnerlab.bench.decision import Rating, decision_rule
        from burnerlab.bench.model_file import rating_of
        from burnerlab.quantity import read_rate, said_basis

        tolerance, rule = together(
            lambda: read_tolerance(self.tolerance or "default", key="--tolerance"),
            lambda: decision_rule(self.rule),
        )
        if appliance is not None and self.tolerance is None:
            tolerance = appliance.limits.tolerance
        if self.rating is None:
            return (
                appliance
                if appliance is None
                else replace(rating_of(appliance, burner, rule), tolerance=tolerance)
            )
        rate = read_rate(self.rating, key="--rating")
        basis = said_basis(rate.basis, self.rating, key="--rating")
        unit = "kW" if "W" in self.rating else "kBtu/h"
        return Rating(heat_input_W=rate.power_W, basis=basis, tolerance=tolerance, rule=rule, unit=unit)

    def state(self) -> RatingState | None:
        from burnerlab.bench.heat import RatingState
        from burnerlab.gas import load

        if self.gas is None and self.pressure is None and self.manifold_pressure is None:
            return None
        gas = None if self.gas is None else load(self.gas, key="--rated-gas")
        rated, test = (
            None if text is None else gauge_pressure_Pa(text, key)
            for text, key in (
                (self.pressure, "--rated-pressure"),
                (self.manifold_pressure, "--manifold-pressure"),
            )
        )
        return RatingState(gas=gas, gauge_pressure_Pa=rated, test_gauge_pressure_Pa=test)


def rating_options(command: Command) -> Command:
    """The rating, its band, the rule of decision, and the gas and pressure it is for."""
    options = {
        "rating": text_option("--rating", "RATE", 'Of the plate: "15 kBtu/h gross".'),
        "tolerance": text_option(
            "--tolerance", "SHARE", 'Band: "5 %", or the name of one; else that of FILE, or default.'
        ),
        "rule": text_option("--rule", "NAME", "Rule of decision: simple or guard.", "simple"),
        "gas": text_option("--rated-gas", "NAME", "Gas of the rating, to correct to it by Wobbe index."),
        "pressure": text_option("--rated-pressure", "P", "Manifold pressure of the rating, gauge."),
        "manifold_pressure": text_option("--manifold-pressure", "P", "As read at the test, gauge."),
    }
    return gathered("rated", RatingAsked, options, command)


ENGINE_KEYS = (
    "volume",
    "time",
    "revolutions",
    "other load",
    "mass loss",
    "resolution",
    "drift",
    "heating value",
)


def by_option(reader: Callable[[], Measured]) -> Measured:
    """What ``reader`` measures; the problems of the engine under the names of their options."""
    try:
        return reader()
    except UserError as error:
        told = [
            replace(p, key=f"--{p.key.replace(' ', '-')}") if p.key in ENGINE_KEYS else p
            for p in error.problems
        ]
        raise UserError(told) from None


def budget_json(found: Budget) -> list[dict[str, Any]]:
    """One entry per source of uncertainty, largest first."""
    return [
        {
            "source": one.quantity.name,
            "words": one.quantity.words,
            "kind": one.quantity.kind,
            "estimate": one.quantity.estimate,
            "unit": one.quantity.unit,
            "standard_uncertainty": one.quantity.standard_uncertainty,
            "shape": one.quantity.shape,
            "degrees_of_freedom": one.quantity.degrees_of_freedom,
            "contribution_percent": 100.0 * one.contribution / abs(found.value),
            "share_percent": 100.0 * one.share,
            "from": one.quantity.source,
        }
        for one in found.contributions
        if one.quantity.standard_uncertainty
    ]


def measured_json(found: InputMeasured, plan: TimingPlan | None) -> dict[str, Any]:
    """The JSON object of a measured heat input."""
    budget, held, drawn = found.budget, found.comparison, found.monte_carlo
    flow, mass = found.standard_volume_flow_m3_per_s, found.mass_flow_kg_per_s
    return {
        "method": found.method,
        "gas": found.heat.name,
        "reference": found.heat.reference.words(),
        "heat_input_gross_kW": budget.value / 1e3,
        "heat_input_net_kW": found.heat_input_net_W / 1e3,
        "net_is_estimate": found.heat.net_is_estimate,
        "heat_input_gross_Btu_per_h": budget.value / W_PER_BTU_PER_H,
        "standard_uncertainty_percent": 100.0 * budget.relative,
        "expanded_uncertainty_percent": budget.expanded_percent,
        "coverage_percent": 100.0 * budget.coverage,
        "coverage_factor": budget.coverage_factor,
        "degrees_of_freedom": budget.degrees_of_freedom,
        "interval_low_gross_kW": budget.low / 1e3,
        "interval_high_gross_kW": budget.high / 1e3,
        "standard_volume_flow_m3_per_h": None if flow is None else flow * 3600.0,
        "mass_flow_kg_per_h": None if mass is None else mass * 3600.0,
        "deviation_percent": None if held is None else 100.0 * held.deviation,
        "verdict": "not evaluated" if held is None else held.verdict,
        "comparison": None if held is None else _comparison_json(held),
        "correction": None
        if found.correction is None
        else {"factor": found.correction.factor, "words": found.correction.words},
        "budget": budget_json(budget),
        "monte_carlo": None
        if drawn is None
        else {
            "draws": drawn.draws,
            "interval_low_gross_kW": drawn.low / 1e3,
            "interval_high_gross_kW": drawn.high / 1e3,
            "agrees": drawn.agrees,
            "use_this_interval": _departs(drawn),
            "note": drawn.note,
        },
        "timing": None if plan is None else _plan_json(plan),
        "notes": found.notes,
        "cautions": cautions(),
    }


def _comparison_json(held: Any) -> dict[str, Any]:
    return {
        "rating_kW": held.rating.heat_input_W / 1e3,
        "basis": held.rating.basis,
        "value_kW": held.value_W / 1e3,
        "expanded_kW": held.expanded_W / 1e3,
        "band_low_percent": 100.0 * held.rating.tolerance.low,
        "band_high_percent": 100.0 * held.rating.tolerance.high,
        "band_source": held.rating.tolerance.source,
        "rule": held.rating.rule.name,
        "rule_source": held.rating.rule.source,
        "probability_inside_percent": 100.0 * held.probability_inside,
        "text": held.text,
    }


def _plan_json(plan: TimingPlan) -> dict[str, Any]:
    return {
        "wanted_percent": plan.wanted_percent,
        "time_s": plan.time_s,
        "revolutions": plan.revolutions,
        "least_percent": plan.floor_percent,
        "dominated_by": plan.dominated_by,
    }


def plan_words(plan: TimingPlan) -> str:
    """How long to time, in a sentence."""
    if plan.time_s is None:
        return (
            f"timing longer cannot reach {plan.wanted_percent:g} %: {plan.floor_percent:.2g} % remains,"
            f" most of it from: {plan.dominated_by}"
        )
    turns = "" if plan.revolutions is None else f" ({plan.revolutions} revolutions)"
    return f"{plan.time_s:.0f} s{turns} for {plan.wanted_percent:g} %"


def measured_text(found: InputMeasured, plan: TimingPlan | None, used: Sequence[tuple[str, str]] = ()) -> str:
    """A measured heat input as a person reads it in ten seconds, its budget below; ``used``: what went into it."""
    budget, held = found.budget, found.comparison
    gross_kW = budget.value / 1e3
    estimate = ", estimated" if found.heat.net_is_estimate else ""
    k = f"k = {budget.coverage_factor:.2f}, {100 * budget.coverage:g} %"
    pairs = [
        ("heat input, gross", f"{number(gross_kW)} kW   {number(budget.value / W_PER_BTU_PER_H)} Btu/h"),
        ("heat input, net", f"{number(found.heat_input_net_W / 1e3)} kW{estimate}"),
        ("uncertainty", f"+-{budget.expanded_percent:.1f} % ({k})"),
        ("interval, gross", f"{number(budget.low / 1e3)} to {number(budget.high / 1e3)} kW"),
    ]
    if found.standard_volume_flow_m3_per_s is not None:
        flow = number(found.standard_volume_flow_m3_per_s * 3600)
        pairs.append(("standard flow", f"{flow} m3/h at {found.heat.reference.words()}"))
    if found.mass_flow_kg_per_s is not None:
        pairs.append(("mass flow", f"{number(found.mass_flow_kg_per_s * 3600)} kg/h"))
    pairs += used
    if found.correction is not None:
        pairs.append(("to the rating's state", f"x {found.correction.factor:.4f} ({found.correction.words})"))
    if held is None:
        pairs.append(("against the rating", "not evaluated: no rating given"))
    else:
        pairs.append(("deviation", percent(held.deviation)))
        pairs.append(("against the rating", held.text))
        pairs.append(("share in the band", f"{100 * held.probability_inside:.0f} % of the distribution"))
    if plan is not None:
        pairs.append(("how long to time", plan_words(plan)))
    drawn = found.monte_carlo
    if drawn is not None and _departs(drawn):
        span = f"{number(drawn.low / 1e3)} to {number(drawn.high / 1e3)} kW gross"
        apart = f"the other differs by {100 * drawn.departure:.0f} % of its half width"
        pairs.append(("by Monte Carlo", f"{span}; use this interval, {apart}"))
    return facts(pairs) + "\n\n" + _budget_table(budget)


def _departs(drawn: MonteCarlo) -> bool:
    """Whether the drawn interval says something else than the linear one."""
    from burnerlab.bench.decision import bench_limit

    return not drawn.agrees and drawn.departure > bench_limit("interval departure").high


def _budget_table(budget: Budget) -> str:
    rows = [
        (
            one.quantity.words,
            one.quantity.kind,
            f"{100 * one.contribution / budget.value:.2f}",
            f"{100 * one.share:.0f}",
        )
        for one in budget.contributions
        if one.share >= SHOWN_SHARE
    ]
    heads = ("where the uncertainty comes from", "type", "u, %", "share, %")
    return table(heads, rows, left=2)
