"""What did the test find: flue gas, input by meter and by scale, causes, record."""

from __future__ import annotations

from burnerlab.bench.decision_rule import Comparison, DecisionRule, Rating, compare, decision_rule
from burnerlab.bench.faults.explanation import Explanation, RankedCause, RankedGroup, explain
from burnerlab.bench.faults.fault_study import FaultStudy, simulate_faults
from burnerlab.bench.faults.next_measurement import NextMeasurement
from burnerlab.bench.reading.flue import (
    FlueAnalysis,
    FlueReading,
    FlueUncertainty,
    analyse_flue,
    flue_uncertainty,
)
from burnerlab.bench.reading.heat_input import (
    HeatContent,
    InputMeasured,
    RatingState,
    billed_heat_content,
    heat_content,
)
from burnerlab.bench.reading.manifold import ManifoldCheck, manifold_check
from burnerlab.bench.reading.meter import (
    MeterReading,
    MeterState,
    TimingPlan,
    clock,
    metering_factor,
    timing_for,
)
from burnerlab.bench.reading.readings import Reading
from burnerlab.bench.reading.scale import WeighReading, weigh
from burnerlab.bench.uncertainty import (
    Budget,
    Contribution,
    MonteCarlo,
    Quantity,
    budget,
    instruments,
    monte_carlo,
)
from burnerlab.bench.unit import SubstituteSupply

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
    "Quantity",
    "RankedCause",
    "RankedGroup",
    "Rating",
    "RatingState",
    "Reading",
    "SubstituteSupply",
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
