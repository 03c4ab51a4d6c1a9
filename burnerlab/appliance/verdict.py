"""Where a value lies against its range: within, near or outside, over its whole interval where it states one."""

from __future__ import annotations

from typing import Any

from burnerlab.appliance.result import Finding
from burnerlab.tables import figure as table_figure
from burnerlab.tables.verdict import Verdict


def judge(value: float, low: float | None, high: float | None) -> Verdict:
    """Within, near (in the last fifth of the band or bound) or outside a range, of a value without an interval.

    NaN is outside.

    >>> [judge(x, -5.0, 5.0).value for x in (0.0, 4.2, 5.1)]
    ['within', 'near', 'outside']
    """
    if low is None and high is None:
        return Verdict.NOT_EVALUATED
    if not _holds(value, low, high):
        return Verdict.OUTSIDE
    width = (high - low) / 2 if low is not None and high is not None else abs(high or low or 0.0)
    edge = table_figure("conversion_figures", "near_share").value * width
    is_near = (low is not None and value < low + edge) or (high is not None and value > high - edge)
    return Verdict.NEAR if is_near else Verdict.WITHIN


def judge_interval(value: float, ends: tuple[float, float], low: float | None, high: float | None) -> Verdict:
    """Outside when the value is, within when its whole interval is inside, near when the interval crosses.

    >>> [judge_interval(x, (x - 4.0, x + 4.0), -5.0, 5.0).value for x in (0.5, 1.5, 5.1)]
    ['within', 'near', 'outside']
    """
    if low is None and high is None:
        return Verdict.NOT_EVALUATED
    if not _holds(value, low, high):
        return Verdict.OUTSIDE
    return Verdict.WITHIN if all(_holds(end, low, high) for end in ends) else Verdict.NEAR


def _holds(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)


def check(topic: str, value: float, low: float | None, high: float | None, **said: Any) -> Finding:
    """A finding with the verdict its value and range give; ``said`` are the other fields.

    With ``ends`` among them, the two ends of the value's interval, the whole interval is judged.
    """
    ends: tuple[float, float] | None = said.pop("ends", None)
    verdict = judge(value, low, high) if ends is None else judge_interval(value, ends, low, high)
    first, last = (None, None) if ends is None else ends
    return Finding(
        topic=topic,
        verdict=verdict,
        value=value,
        low=low,
        high=high,
        value_low=first,
        value_high=last,
        **said,
    )
