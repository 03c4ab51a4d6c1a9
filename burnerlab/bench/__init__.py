"""What did the test find: flue gas, input by meter and by scale, causes, record."""

from __future__ import annotations

from burnerlab.bench.clock import MeterReading, MeterState, clock, metering_factor
from burnerlab.bench.decision_rule import Comparison, DecisionRule, Rating, compare, decision_rule
from burnerlab.bench.explain import Explanation, RankedCause, RankedGroup, explain
from burnerlab.bench.faults.fault_study import FaultStudy, simulate_faults
from burnerlab.bench.faults.next_measurement import NextMeasurement
from burnerlab.bench.flue import FlueAnalysis, FlueReading, analyse_flue
from burnerlab.bench.flue_budget import FlueUncertainty, flue_uncertainty
from burnerlab.bench.heat import HeatContent, InputMeasured, RatingState, billed_heat_content, heat_content
from burnerlab.bench.manifold import ManifoldCheck, manifold_check
from burnerlab.bench.reading import Reading
from burnerlab.bench.timing import TimingPlan, timing_for
from burnerlab.bench.uncertainty import (
    Budget,
    Contribution,
    MonteCarlo,
    Quantity,
    budget,
    instruments,
    monte_carlo,
)
from burnerlab.bench.unit import OtherSupply
from burnerlab.bench.weigh import WeighReading, weigh

__all__ = [
    "Budget",
    "Comparison",
    "Contribution",
    "DecisionRule",
    "Explanation",
    "FaultStudy",
    "FlueAnalysis",
    "FlueReading",
    "FlueUncertainty",
    "HeatContent",
    "InputMeasured",
    "ManifoldCheck",
    "MeterReading",
    "MeterState",
    "MonteCarlo",
    "NextMeasurement",
    "OtherSupply",
    "Quantity",
    "RankedCause",
    "RankedGroup",
    "Rating",
    "RatingState",
    "Reading",
    "TimingPlan",
    "WeighReading",
    "analyse_flue",
    "billed_heat_content",
    "budget",
    "clock",
    "compare",
    "decision_rule",
    "explain",
    "flue_uncertainty",
    "heat_content",
    "instruments",
    "manifold_check",
    "metering_factor",
    "monte_carlo",
    "simulate_faults",
    "timing_for",
    "weigh",
]
