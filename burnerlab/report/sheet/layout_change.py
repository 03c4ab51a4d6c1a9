"""Two layouts in one table: each measure of both, its change, and the band of the change."""

from __future__ import annotations

from typing import Any

from burnerlab.layout.comparison import LayoutComparison
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.report.sheet.blocks import digits


def signed(value: float, digits: int) -> str:
    """A change with its sign.

    >>> signed(-0.1234, 2), signed(5.0, 3), signed(0.0, 3)
    ('−0.12', '+5', '0')
    """
    if value == 0.0:
        return "0"
    return f"{value:+.{digits}g}".replace("-", "−")


def comparison_rows(
    comparison: LayoutComparison, *, short: bool = False, system: System = "metric"
) -> list[tuple[str, str, str, str, str]]:
    """Measure, both figures, the change and its band in the reader's units; ``short`` names for a picture."""
    c, one, other = comparison, comparison.first, comparison.second
    a, b = one.evenness, other.evenness
    flux, of_flux = ("kW/m²", "kW/m2") if system == "metric" else ("Btu/h/in²", "Btu/h/in2")
    power = "kW" if system == "metric" else "kBtu/h"
    per_flux, per_power = float(in_unit(1.0, Kind.HEAT_FLUX, of_flux)), float(in_unit(1.0, Kind.POWER, power))

    def band(low: float | None, high: float | None, scale: float) -> str:
        return (
            "–" if low is None or high is None else f"{signed(low * scale, 3)} to {signed(high * scale, 3)}"
        )

    def row(names: tuple[str, str], values: tuple[float, float], scale: float, ends: str = "–") -> Any:
        first, second = (value * scale for value in values)
        name = names[1] if short else names[0]
        return name, digits(first, 3), digits(second, 3), signed(second - first, 3), ends

    return [
        row(
            (f"Mean, {flux}",) * 2, (a.mean, b.mean), per_flux,
            band(c.mean_change_low_W_per_m2, c.mean_change_high_W_per_m2, per_flux),
        ),
        row((f"Most, {flux}",) * 2, (a.maximum, b.maximum), per_flux),
        row((f"Least, {flux}",) * 2, (a.minimum, b.minimum), per_flux),
        row(("(max − min)/mean",) * 2, (a.spread, b.spread), 1.0),
        row(
            ("Coefficient of variation, %", "Variation, %"),
            (a.coefficient_of_variation, b.coefficient_of_variation), 100.0,
            band(c.coefficient_of_variation_change_low, c.coefficient_of_variation_change_high, 100.0),
        ),
        row(
            ("Area within 10 % of the mean, %", "Within 10 % of mean, %"),
            (a.within_10_percent, b.within_10_percent), 100.0,
        ),
        row(
            (f"Heat input, net, {power}", f"Net input, {power}"),
            (one.heat_input_net_W, other.heat_input_net_W), per_power,
        ),
        row(("Heat taken up, % of net input", "Taken up, % of net"), (one.uptake, other.uptake), 100.0),
    ]  # fmt: skip
