"""What a supply in operation must be told of: inputs, drops, the regulator, and what was not known."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from burnerlab.appliance.conversion.headline import UnitSpread, in_percent
from burnerlab.appliance.model import Tolerance
from burnerlab.appliance.operation import BurnerOperation, ElementDrop, Worst
from burnerlab.appliance.result import Finding
from burnerlab.appliance.verdict import check
from burnerlab.supply.piping import TRANSITION
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables import Figure
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.verdict import Verdict

SEVEN_INCHES_Pa = 1743.62  # 7 in w.c., where the allowed drop of the table changes
FOURTEEN_INCHES_Pa = 3487.24  # 14 in w.c., where it ends
ROUNDING = 1e-6
TAKEN = (
    "the pressure at the manifold is taken as given: no regulator, hose or pipe is described under [supply]"
)


def no_train() -> Finding:
    """What is said when the file describes nothing before the manifold."""
    return Finding(topic="supply", verdict=Verdict.NOT_EVALUATED, text=TAKEN)


def of_burner(
    burner: BurnerOperation, band: Tolerance, spread: UnitSpread | None, evidence: Evidence
) -> Iterator[Finding]:
    """The heat input of a burner that is on, beside its rating and beside what the nominal pressure would give.

    spread : of the unit as made; None judges the value alone
    """
    if burner.deviation is None or burner.from_nominal is None:
        return
    against = "its rating"
    if abs(burner.heat_input_gross_W / burner.rate_gross_W - 1.0 - burner.deviation) > ROUNDING:
        against = "its rating as the altitude leaves it"
    yield check(
        "heat input in operation",
        100 * burner.deviation,
        100 * band.low,
        100 * band.high,
        ends=None if spread is None else in_percent(spread.around(burner.deviation)),
        burner=burner.name,
        unit="%",
        source=band.source,
        text=f"{burner.gauge_pressure_Pa / 1e3:.4g} kPa before the orifice gives"
        f" {burner.heat_input_gross_W / 1e3:.3g} kW gross, {100 * burner.deviation:+.1f} % off {against},"
        f" of which {100 * burner.from_nominal:+.1f} % is the"
        " supply",
        evidence=evidence,
    )


def allowed_drop(nominal_gauge_Pa: float, own: Path | None) -> Figure | None:
    """The piping drop a training text allows at a nominal pressure; None where it says nothing.

    >>> allowed_drop(1744.0, None).value
    249.1
    """
    if nominal_gauge_Pa >= FOURTEEN_INCHES_Pa:
        return None
    name = "pipe drop below 7 in" if nominal_gauge_Pa < SEVEN_INCHES_Pa else "pipe drop 7 to 14 in"
    return supply_figure(name, own)


def of_piping(
    elements: tuple[ElementDrop, ...], nominal_gauge_Pa: float, own: Path | None
) -> Iterator[Finding]:
    """The drop of hose, pipe and manifold together, and flows between laminar and turbulent."""
    pipes = [e for e in elements if e.kind in ("hose", "pipe", "manifold") and e.drop_Pa is not None]
    if pipes:
        total = sum(e.drop_Pa for e in pipes if e.drop_Pa is not None)
        figure = allowed_drop(nominal_gauge_Pa, own)
        words = f"{', '.join(e.name for e in pipes)} take {total:.0f} Pa of {nominal_gauge_Pa:.0f} Pa"
        if figure is None:
            yield Finding(
                topic="piping drop", verdict=Verdict.NOT_EVALUATED, value=total, unit="Pa", text=words
            )
        else:
            yield check(
                "piping drop", total, None, figure.value, unit="Pa", source=figure.cite(), text=words,
                evidence=Evidence.ESTIMATE if any(e.regime == TRANSITION for e in pipes) else figure.evidence,
            )  # fmt: skip
    for element in pipes:
        if element.regime == TRANSITION:
            yield Finding(
                topic="flow regime", verdict=Verdict.NEAR, value=element.reynolds, unit="-", evidence=Evidence.ESTIMATE,
                text=f"{element.name}: {'; '.join(element.notes)}", low=None,
                source=supply_figure("transition spread", own).cite(),
            )  # fmt: skip


def of_worst(lowest: Worst, highest: Worst, band: Tolerance, evidence: Evidence) -> Iterator[Finding]:
    """The farthest that any combination looked at takes a burner from its input at nominal pressure."""
    for worst in (lowest, highest):
        yield check(
            "worst combination",
            100 * worst.from_nominal,
            100 * band.low,
            100 * band.high,
            burner=worst.burner,
            unit="%",
            source=band.source,
            text=f"{worst.case}: {worst.gauge_pressure_Pa / 1e3:.4g} kPa before the orifice,"
            f" {100 * worst.from_nominal:+.1f} % off the input at nominal pressure,"
            f" {100 * worst.deviation:+.1f} % off its rating",
            evidence=evidence,
        )
