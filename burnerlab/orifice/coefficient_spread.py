"""What the spread of a discharge coefficient alone leaves open: on the heat input, on the bore and on its drill."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from burnerlab.orifice.discharge_coefficient import Coefficient, Discharge, ShapeLaw, own_coefficient
from burnerlab.orifice.drill import Drill
from burnerlab.orifice.flow import OrificeFlow
from burnerlab.orifice.size import SizedOrifice, choices_near, nearest_choice
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.quantity.quantity_text import millimetre, quantity_text

NO_INTERVAL = "no interval stated: how far the input may be off is not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class InputLeeway:
    """The ends of a coefficient, and of the heat input that follows from them alone; None without an interval."""

    coefficient_evidence: str = field(metadata=output("evidence of the coefficient"))
    coefficient_low: float | None = field(default=None, metadata=output("coefficient, low end"))
    coefficient_high: float | None = field(default=None, metadata=output("coefficient, high end"))
    input_spread_low: float | None = field(
        default=None, metadata=output("heat input at the low end", Kind.FRACTION, is_change=True)
    )
    input_spread_high: float | None = field(
        default=None, metadata=output("heat input at the high end", Kind.FRACTION, is_change=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BoreLeeway:
    """The exact bore at both ends of a coefficient and the drill nearest to each; None without an interval."""

    diameter_at_low_coefficient_m: float | None = field(
        default=None, metadata=output("bore at the low coefficient", Kind.DIAMETER)
    )
    diameter_at_high_coefficient_m: float | None = field(
        default=None, metadata=output("bore at the high coefficient", Kind.DIAMETER)
    )
    drill_at_low_coefficient: str = field(default="", metadata=output("drill at the low coefficient"))
    drill_at_high_coefficient: str = field(default="", metadata=output("drill at the high coefficient"))


def discharge_of(coefficient: Coefficient, flow: OrificeFlow) -> Discharge:
    """The coefficient a flow was computed with, with its spread and evidence."""
    if isinstance(coefficient, ShapeLaw):
        return coefficient.at(flow.diameter_m, flow.reynolds)
    return own_coefficient(flow.coefficient)


def input_leeway(coefficient: Coefficient, flow: OrificeFlow) -> InputLeeway:
    """How far the heat input of a flow may be off for its coefficient alone: I goes with K.

    coefficient : a number, or the law of one, that the flow was computed with [-]

    >>> from burnerlab.orifice import Conditions, flow, law
    >>> from burnerlab.gas import load
    >>> tapered = law("tapered")
    >>> at = flow(load("propane"), 1.4e-3, Conditions(gauge_pressure_Pa=2740.0), tapered)
    >>> input_leeway(tapered, at).input_spread_high
    0.0556
    """
    used = discharge_of(coefficient, flow)
    if not used.low < used.high:
        return InputLeeway(coefficient_evidence=used.evidence)
    return InputLeeway(
        coefficient_evidence=used.evidence,
        coefficient_low=used.low,
        coefficient_high=used.high,
        input_spread_low=used.low / used.coefficient - 1.0,
        input_spread_high=used.high / used.coefficient - 1.0,
    )


def bore_leeway(coefficient: Coefficient, sized: SizedOrifice, drills: Sequence[Drill]) -> BoreLeeway:
    """The exact bore at both ends of the coefficient, d^2 K kept, and the drill nearest to each.

    coefficient : a number, or the law of one, that was sized with [-]; the low end asks for the wider bore
    """
    used = discharge_of(coefficient, sized.flow)
    if not used.low < used.high:
        return BoreLeeway()
    bores = [sized.diameter_m * (used.coefficient / end) ** 0.5 for end in (used.low, used.high)]
    ends = [
        replace(sized, diameter_m=bore, law=end)
        for bore, end in zip(bores, (used.low, used.high), strict=True)
    ]
    low, high = (nearest_choice(end, choices_near(end, drills)).drill for end in ends)
    return BoreLeeway(
        diameter_at_low_coefficient_m=bores[0],
        diameter_at_high_coefficient_m=bores[1],
        drill_at_low_coefficient=low,
        drill_at_high_coefficient=high,
    )


def leeway_words(coefficient: float, leeway: InputLeeway, bores: BoreLeeway | None = None) -> str:
    """One line: the coefficient with its evidence and ends, then what they do to input, bore and drill."""
    head = f"Cd {coefficient:.2f} {leeway.coefficient_evidence}"
    if leeway.input_spread_low is None or leeway.input_spread_high is None:
        return f"{head}, {NO_INTERVAL}"
    ends = f"{leeway.coefficient_low:.2f} to {leeway.coefficient_high:.2f}"
    low, high = 100.0 * leeway.input_spread_low, 100.0 * leeway.input_spread_high
    same = f"{-low:.1f}" == f"{high:.1f}"
    words = [f"input ±{high:.1f} %" if same else f"input {low:+.1f} to {high:+.1f} %"]
    if bores and bores.diameter_at_low_coefficient_m and bores.diameter_at_high_coefficient_m:
        first, last = bores.diameter_at_low_coefficient_m, bores.diameter_at_high_coefficient_m
        ends_m = (millimetre(first, ".3f", has_unit=False), millimetre(last, ".3f"))
        words.append(quantity_text("bore {} to {}", *ends_m))
        drill, other = bores.drill_at_low_coefficient, bores.drill_at_high_coefficient
        words.append(f"drill {drill} to {other}" if drill != other else f"drill {drill}")
    parts = ", ".join("{}" for _ in words)
    return quantity_text(f"{head}, {ends}: {parts}", *words)
