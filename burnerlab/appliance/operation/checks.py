"""Checks of a supply in operation: inputs, drops, the regulator, and what was not known."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from burnerlab.appliance.conversion.headline import UnitSpread, in_percent
from burnerlab.appliance.conversion.result import Finding, check
from burnerlab.appliance.operation.result import BurnerOperation, ElementDrop, Worst
from burnerlab.appliance.project.model import Tolerance
from burnerlab.appliance.project.supply_train import Train, TrainRegulator
from burnerlab.quantity import Basis, Kind
from burnerlab.quantity.quantity_text import kilowatt, millibar, quantity_text, quoted
from burnerlab.supply.pipe import TRANSITION
from burnerlab.supply.regulator import Regulator, set_points, typical, typical_names
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables import Figure
from burnerlab.tables.figure import Evidence
from burnerlab.tables.verdict import Verdict

# Is the regulator able to do what it is taken for: flow, inlet, kind, droop, lock-up.


def of_regulator(
    regulator: Regulator,
    fitting: TrainRegulator,
    flow_kg_per_s: float,
    inlet_gauge_Pa: float | None,
    own: Path | None,
) -> Iterator[Finding]:
    """Flow against the limit, inlet against the least, kind and droop; what of it is typical or not known.

    regulator : as it is at this pressure and gas; given : as the file describes it; own : table of regulators
    """
    yield _flow(regulator, fitting, flow_kg_per_s, inlet_gauge_Pa)
    yield _inlet(regulator, fitting, inlet_gauge_Pa)
    yield from _kind(regulator, fitting, own)
    yield from _droop(regulator, fitting, own)
    if fitting.unknown:
        text = f"{' and '.join(fitting.unknown)} of the regulator not given and taken as 0"
        yield Finding(topic="regulator", verdict=Verdict.NOT_EVALUATED, text=text)


def _flow(
    regulator: Regulator, fitting: TrainRegulator, flow_kg_per_s: float, inlet_gauge_Pa: float | None
) -> Finding:
    if fitting.flow_limit_kg_per_s is None:
        text = "the flow limit of the regulator is not given: that it can pass this flow is not evaluated"
        return Finding(topic="regulator flow", verdict=Verdict.NOT_EVALUATED, text=text)
    share = 100 * flow_kg_per_s / regulator.flow_limit_kg_per_s
    text = f"the regulator passes {share:.0f} % of its flow limit"
    if share > 100:
        known = (
            "less than shown, the inlet is not known" if inlet_gauge_Pa is None else "by a wide-open valve"
        )
        text += f": it can no longer hold its pressure ({known})"
    return check("regulator flow", share, None, 100.0, unit="%", text=text, evidence=fitting.evidence)


def _inlet(regulator: Regulator, fitting: TrainRegulator, inlet_gauge_Pa: float | None) -> Finding:
    """The inlet above the set point, against what the regulator needs: one below it is outside, whatever its least."""
    topic, set_point = "regulator inlet", regulator.set_point_Pa
    if inlet_gauge_Pa is None:
        return Finding(
            topic=topic,
            verdict=Verdict.NOT_EVALUATED,
            text="the inlet pressure of the regulator is not given",
        )
    least = set_point if fitting.minimum_inlet_Pa is None else max(regulator.minimum_inlet_Pa, set_point)
    text = millibar(inlet_gauge_Pa, ".4g") + " before the regulator"
    setting = millibar(set_point, ".4g")
    if inlet_gauge_Pa < set_point:
        text += quantity_text(", below its set point of {}: it cannot hold that pressure", setting)
    elif fitting.minimum_inlet_Pa is None:
        text += quantity_text(", set to {}; the least inlet pressure of the regulator is not given", setting)
        return Finding(topic=topic, verdict=Verdict.NOT_EVALUATED, text=text)
    else:
        text += "; it needs " + millibar(least, ".4g")
    return check(
        topic, (inlet_gauge_Pa - set_point) / 1e2, (least - set_point) / 1e2, None, unit="mbar above the set point",
        text=text, source=fitting.minimum_inlet_source, evidence=fitting.minimum_inlet_evidence,
    )  # fmt: skip


def _kind(regulator: Regulator, fitting: TrainRegulator, own: Path | None) -> Iterator[Finding]:
    """A set point that regulators of this kind are not made for."""
    usual, set_point = set_points(fitting.type, own), regulator.set_point_Pa
    if fitting.type and not usual.low_Pa <= set_point <= usual.high_Pa:
        yield Finding(
            topic="regulator kind", verdict=Verdict.OUTSIDE, value=set_point / 1e2, unit="mbar",
            low=usual.low_Pa / 1e2, high=usual.high_Pa / 1e2, source=usual.source, evidence=Evidence.ESTIMATE,
            text=quantity_text(
                f"{fitting.type} set to {{}}; {usual.words}: {{}} to {{}}", millibar(set_point, ".4g"),
                quoted(usual.low_Pa, Kind.GAUGE_PRESSURE, "mbar", ".3g", has_unit=False),
                millibar(usual.high_Pa, ".3g"),
            ),
        )  # fmt: skip


def _droop(regulator: Regulator, fitting: TrainRegulator, own: Path | None) -> Iterator[Finding]:
    """A droop larger than regulators have: a slip of the unit, or one too small for the burners."""
    known = (
        [typical(fitting.type, own)] if fitting.type else [typical(name, own) for name in typical_names(own)]
    )
    most = max((one.droop for one in known), key=lambda droop: droop.high)
    share = regulator.droop_Pa / regulator.set_point_Pa
    if share > most.high * (1.0 + 1e-9):
        yield Finding(
            topic="regulator droop", verdict=Verdict.OUTSIDE, value=100 * share, unit="% of the set point",
            high=100 * most.high, source=most.cite(), evidence=Evidence.ESTIMATE,
            text="droop " + millibar(regulator.droop_Pa, ".4g")
            + f" is {100 * share:.0f} % of the set point, typical up to {100 * most.high:.0f} %: check the figure and"
            " its unit",
        )  # fmt: skip


def of_lock_up(regulator: Regulator, train: Train, highest_allowed_Pa: float | None) -> Iterator[Finding]:
    """The pressure with every burner off, beside the highest supply pressure the file allows."""
    pressure = regulator.lock_up_pressure_Pa / 1e2
    text = millibar(regulator.lock_up_pressure_Pa, ".4g") + " at the valves with every burner off"
    high = None if highest_allowed_Pa is None else highest_allowed_Pa / 1e2
    if highest_allowed_Pa is None:
        text += "; no highest supply pressure is given to hold it against"
    else:
        text += ", highest allowed " + millibar(highest_allowed_Pa, ".4g")
    if regulator.lock_up_Pa > 0.0 and train.regulator is not None:
        evidence = "" if high is None else train.regulator.evidence
        yield check("lock-up", pressure, None, high, unit="mbar", text=text, evidence=evidence)


# Findings of a supply in operation: inputs, drops, the regulator, and what is not known.

SEVEN_INCHES_Pa = 1743.62  # 7 in w.c., where the allowed drop of the table changes
FOURTEEN_INCHES_Pa = 3487.24  # 14 in w.c., where it ends
ROUNDING = 1e-6
TAKEN = "the manifold pressure of the file holds: no regulator, hose or pipe is described under [supply]"


def no_train() -> Finding:
    """The finding where the file describes nothing before the manifold."""
    return Finding(topic="supply", verdict=Verdict.NOT_EVALUATED, text=TAKEN)


def of_burner(
    burner: BurnerOperation,
    band: Tolerance,
    spread: UnitSpread | None,
    evidence: Evidence,
    basis: Basis,
) -> Iterator[Finding]:
    """The heat input of a burner that is on, beside its rating and beside what the nominal pressure would give.

    spread : of the unit as made; None: not known, so that nothing is within
    basis : of the ratings of the file, on which the heat input is printed
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
        text=millibar(burner.gauge_pressure_Pa, ".4g")
        + " before the orifice gives "
        + kilowatt(burner.heat_input_net_W if basis == "net" else burner.heat_input_gross_W, ".3g")
        + f" {basis}, {100 * burner.deviation:+.1f} % off {against},"
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
        taken, nominal = (millibar(one, ".3g") for one in (total, nominal_gauge_Pa))
        words = f"{', '.join(e.name for e in pipes)} take " + taken + " of " + nominal
        if figure is None:
            yield Finding(
                topic="piping drop", verdict=Verdict.NOT_EVALUATED, value=total / 1e2, unit="mbar", text=words
            )
        else:
            yield check(
                "piping drop", total / 1e2, None, figure.value / 1e2, unit="mbar", source=figure.cite(), text=words,
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
    """The largest deviation of a burner from its input at nominal pressure, over the combinations solved."""
    for worst in (lowest, highest):
        yield check(
            "worst combination",
            100 * worst.from_nominal,
            100 * band.low,
            100 * band.high,
            burner=worst.burner,
            unit="%",
            source=band.source,
            text=f"{worst.case}: "
            + millibar(worst.gauge_pressure_Pa, ".4g")
            + f" before the orifice, {100 * worst.from_nominal:+.1f} % off the input at nominal pressure,"
            f" {100 * worst.deviation:+.1f} % off its rating",
            evidence=evidence,
        )
