"""What the spread of a discharge coefficient alone leaves open: on the heat input, on the bore and on its drill."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from burnerlab.orifice import Drill, OrificeFlow, SizedOrifice
    from burnerlab.orifice.coefficient import Coefficient
    from burnerlab.orifice.discharge import Discharge

NO_INTERVAL = "no interval stated: how far the input may be off is not known"


def discharge_of(coefficient: Coefficient, flow: OrificeFlow) -> Discharge:
    """The coefficient a flow was computed with, with its spread and evidence."""
    from burnerlab.orifice.discharge import ShapeLaw, own_coefficient

    if isinstance(coefficient, ShapeLaw):
        return coefficient.at(flow.diameter_m, flow.reynolds)
    return own_coefficient(flow.coefficient)


def spread_of(coefficient: Coefficient, flow: OrificeFlow) -> dict[str, Any]:
    """The ends of the coefficient, and of the heat input that follows from them alone; null without an interval."""
    used = discharge_of(coefficient, flow)
    stated = used.low < used.high
    return {
        "coefficient_evidence": used.evidence,
        "coefficient_low": used.low if stated else None,
        "coefficient_high": used.high if stated else None,
        "input_spread_low_percent": 100.0 * (used.low / used.coefficient - 1.0) if stated else None,
        "input_spread_high_percent": 100.0 * (used.high / used.coefficient - 1.0) if stated else None,
    }


def bore_spread_of(
    coefficient: Coefficient, sized: SizedOrifice, drills: Sequence[Drill]
) -> dict[str, float | str | None]:
    """The exact bore at both ends of the coefficient, d^2 Cd kept, and the drill nearest to each.

    The low end of the coefficient asks for the wider bore.
    """
    from burnerlab.orifice import choices_near, nearest_choice

    used = discharge_of(coefficient, sized.flow)
    if not used.low < used.high:
        return dict.fromkeys(
            (
                "diameter_at_low_coefficient_mm",
                "diameter_at_high_coefficient_mm",
                "drill_at_low_coefficient",
                "drill_at_high_coefficient",
            )
        )
    found: dict[str, float | str | None] = {}
    for end, value in (("low", used.low), ("high", used.high)):
        bore_m = sized.diameter_m * (used.coefficient / value) ** 0.5
        there = replace(sized, diameter_m=bore_m, law=value)
        found[f"diameter_at_{end}_coefficient_mm"] = bore_m * 1e3
        found[f"drill_at_{end}_coefficient"] = nearest_choice(there, choices_near(there, drills)).drill
    return found


def spread_words(result: dict[str, Any]) -> str:
    """One line: the coefficient with its evidence and ends, then what they do to input, bore and drill."""
    head = f"Cd {result['coefficient']:.2f} {result['coefficient_evidence']}"
    low, high = result["input_spread_low_percent"], result["input_spread_high_percent"]
    if low is None or high is None:
        return f"{head}, {NO_INTERVAL}"
    ends = f"{result['coefficient_low']:.2f} to {result['coefficient_high']:.2f}"
    same = f"{-low:.1f}" == f"{high:.1f}"
    said = [f"input ±{high:.1f} %" if same else f"input {low:+.1f} to {high:+.1f} %"]
    if "diameter_at_low_coefficient_mm" in result:
        first, last = (result[f"diameter_at_{end}_coefficient_mm"] for end in ("low", "high"))
        said.append(f"bore {first:.3f} to {last:.3f} mm")
        first, last = (result[f"drill_at_{end}_coefficient"] for end in ("low", "high"))
        said.append(f"drill {first} to {last}" if first != last else f"drill {first}")
    return f"{head}, {ends}: {', '.join(said)}"
