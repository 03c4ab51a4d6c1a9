"""A user's own stability points: what a flame did, beside what the model says there. Shown, never fitted."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, EvaluationOptions, Surroundings
from burnerlab.burner.evaluation import evaluate
from burnerlab.burner.state import BurnerState
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output

FlameSeen = Literal["sits", "lifts", "lights back", "yellow tips"]
LIMIT_OF = {"lifts": "lift", "lights back": "light-back", "yellow tips": "yellow tipping"}
Side = Literal["inside", "beyond", "not evaluated"]
Comparison = Literal["as the model", "within the band of the limit", "against the model", "not evaluated"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameObservation:
    """What the flame of a burner did at one setting, photographed or noted by the user."""

    burner: str
    gas: str
    load: float  # share of the full rate [-]
    opening: float | None = None  # open share of the air shutter [-]; None for that of the project file
    aeration: float | None = None  # measured primary aeration [-]; None takes the model's
    gauge_pressure_Pa: float | None = None  # before the orifice; None takes the nominal one
    flame: FlameSeen
    source: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StabilityPoint:
    """An observation at its place in the stability diagram, with the side of the model's limit it falls on."""

    burner: str = field(metadata=output("burner"))
    gas: str = field(metadata=output("gas"))
    load: float = field(metadata=output("rate", Kind.FRACTION))
    opening: float | None = field(metadata=output("shutter open", Kind.FRACTION))
    aeration: float | None = field(metadata=output("primary air", Kind.FRACTION))
    aeration_origin: str = field(metadata=output("primary air is"))
    port_loading_W_per_mm2: float | None = field(metadata=output("port loading", unit="W/mm2"))
    flame: FlameSeen = field(metadata=output("flame seen"))
    limit: str = field(metadata=output("limit"))
    """That the flame crossed; for one that sits, the limit of least margin."""
    margin: float | None = field(metadata=output("margin"))
    margin_low: float | None = field(metadata=output("margin from"))
    margin_high: float | None = field(metadata=output("margin to"))
    side: Side = field(metadata=output("side of the model's limit"))
    comparison: Comparison = field(metadata=output("observation is"))
    source: str = field(metadata=output("source"))
    note: str = field(metadata=output("note"))


def stability_point(
    observation: FlameObservation,
    geometry: BurnerGeometry,
    fuel: BurnerFuel,
    gauge_pressure_Pa: float,
    surroundings: Surroundings,
    options: EvaluationOptions,
) -> StabilityPoint:
    """Where an observation lies by the model, which is evaluated at its setting and learns nothing from it.

    gauge_pressure_Pa : before the orifice at full rate, unless the observation has its own [Pa]
    A flame that crossed a limit is as the model where the margin is below 1; one that sits, where every margin is 1 or
    more. Where only the band of the margin reaches the other side, the model cannot tell.

    >>> from burnerlab.burner.evaluation import fuel_with_flame
    >>> from burnerlab.gas import load
    >>> tube = BurnerGeometry(port_width_m=1.6e-3, port_count=180, orifice_diameter_m=1.4e-3, throat_m=15.5e-3)
    >>> seen = FlameObservation(burner="tube", gas="natural", load=1.0, aeration=0.9, flame="lifts")
    >>> found = stability_point(seen, tube, fuel_with_flame(load("natural-gas-typical")), 1740.0, Surroundings(),
    ...                         EvaluationOptions())
    >>> found.limit, found.side, found.comparison
    ('lift', 'beyond', 'as the model')
    """
    built = (
        geometry if observation.opening is None else replace(geometry, shutter_opening=observation.opening)
    )
    pressure = observation.gauge_pressure_Pa or gauge_pressure_Pa
    state = evaluate(
        built,
        fuel,
        pressure,
        surroundings,
        replace(options, load=observation.load, aeration=observation.aeration),
    )
    limit, (margin, low, high) = _of_observation(observation.flame, state)
    is_known = not np.isnan(margin)
    aeration = float(state.primary_aeration)
    return StabilityPoint(
        burner=observation.burner,
        gas=observation.gas,
        load=observation.load,
        opening=observation.opening,
        aeration=None if np.isnan(aeration) else aeration,
        aeration_origin="calculated" if observation.aeration is None else "measured",
        port_loading_W_per_mm2=float(state.port_loading_W_per_mm2),
        flame=observation.flame,
        limit=limit,
        margin=margin if is_known else None,
        margin_low=low if is_known else None,
        margin_high=high if is_known else None,
        side=("beyond" if margin < 1.0 else "inside") if is_known else "not evaluated",
        comparison=_comparison(observation.flame, margin, low, high),
        source=observation.source,
        note=observation.note,
    )


def _margins(state: BurnerState) -> dict[str, tuple[float, float, float]]:
    """Each margin with its ends; lift without a figure is left out where it is far for want of air."""
    pairs = {
        "lift": (state.lift_margin, state.lift_margin_band),
        "light-back": (state.light_back_margin, state.light_back_margin_band),
        "yellow tipping": (state.yellow_tip_margin, state.yellow_tip_margin_band),
    }
    return {name: (float(at), float(ends[..., 0]), float(ends[..., 1])) for name, (at, ends) in pairs.items()}


def _of_observation(flame: FlameSeen, state: BurnerState) -> tuple[str, tuple[float, float, float]]:
    """The limit an observation speaks of, and its margin with both ends."""
    margins = _margins(state)
    if flame != "sits":
        return LIMIT_OF[flame], margins[LIMIT_OF[flame]]
    known = {name: margin for name, margin in margins.items() if not np.isnan(margin[0])}
    if not known:
        return "none", (np.nan,) * 3
    worst = min(known, key=lambda name: known[name][0])
    return worst, known[worst]


def _comparison(flame: FlameSeen, margin: float, low: float, high: float) -> Comparison:
    if np.isnan(margin):
        return "not evaluated"
    if (margin < 1.0) == (flame != "sits"):
        return "as the model"
    reaches = low < 1.0 if flame != "sits" else high >= 1.0
    return "within the band of the limit" if reaches else "against the model"
