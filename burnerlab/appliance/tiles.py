"""Ceramic tile burners before and after a change of gas, from the figures of the project file."""

from __future__ import annotations

from dataclasses import dataclass, replace

from burnerlab.appliance.conversion.evaluation_result import TileAt, Which
from burnerlab.appliance.conversion.flame_stability import BurnerStability
from burnerlab.appliance.model import Appliance, Burner
from burnerlab.appliance.result import Finding, NotEvaluated
from burnerlab.burner.checks import BurnerFinding
from burnerlab.burner.tile import Firing, TileBurner
from burnerlab.burner.tile_evaluate import TileState, evaluate_tile
from burnerlab.gas import DeclaredGas
from burnerlab.tables.problem import UserError

TOPIC = "tile temperature"
NO_FACE = "the length and width of the tile's face are not given under place"
NO_AIR = "the primary aeration of the tile is not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class TileFound:
    """One tile on one gas, or why it could not be told."""

    tile: TileAt | None = None
    findings: tuple[Finding, ...] = ()
    open: tuple[NotEvaluated, ...] = ()


def tile_at(appliance: Appliance, burner: Burner, air: BurnerStability, which: Which) -> TileFound:
    """A tile burner at its calculated heat input with the primary air its jet draws.

    air : the same burner's primary air on the same gas
    Each assumption of the tile (emissivity, structure of the face, recovery) spreads the answer.
    """
    tile, full, gas = _tile(burner), air.full, appliance.supply.gas
    aeration = None if full is None else float(full.primary_aeration)
    if tile is None:
        return _nothing(burner, NO_FACE)
    if full is None or aeration is None or not aeration > 0.0 or isinstance(gas, DeclaredGas):
        why = air.not_evaluated[0].why if air.not_evaluated and full is None else NO_AIR
        return _nothing(burner, f"{NO_AIR}: {why}" if why != NO_AIR else why)
    supply = appliance.supply
    firing = Firing(
        aeration=aeration, mixture_K=supply.gas_temperature_K, pressure_Pa=supply.ambient_pressure_Pa
    )
    try:
        heat_W, own = float(full.heat_input_gross_W), appliance.tables.tile_properties
        state = evaluate_tile(tile, gas, heat_W, "gross", firing, own=own)
    except UserError as error:
        words = "; ".join(problem.text() for problem in error.problems)
        return _nothing(burner, f"{which} gas: {words}")
    return TileFound(
        tile=_figures(state, burner, which, aeration),
        findings=tuple(_finding(found, burner, which) for found in state.findings),
    )


def _nothing(burner: Burner, why: str) -> TileFound:
    return TileFound(open=(NotEvaluated(topic=TOPIC, why=why, burner=burner.name),))


def _tile(burner: Burner) -> TileBurner | None:
    """The face of a tile burner; None where its size is not given."""
    place, ports = (burner.places[0] if burner.places else None), burner.ports
    if place is None or place.length_m is None or place.width_m is None:
        return None
    return TileBurner(
        area_m2=place.length_m * place.width_m,
        channel_diameter_m=None if ports is None else ports.diameter_m,
        thickness_m=None if ports is None else ports.depth_m,
    )


def _figures(state: TileState, burner: Burner, which: Which, aeration: float) -> TileAt:
    return TileAt(
        burner=burner.name,
        which_gas=which,
        gas=state.gas,
        primary_aeration=aeration,
        firing_density_net_W_per_m2=state.firing_density_net_W_per_m2,
        face_temperature_K=state.surface_temperature_K,
        face_ceiling_temperature_K=state.surface_temperature_ceiling_K,
        radiant_efficiency_net=state.radiant_efficiency_net,
        ceiling_efficiency_net=state.radiant_efficiency_ceiling_net,
        plenum_side_temperature_K=state.plenum_side_temperature_K,
        lift_margin=state.lift_margin,
        radiated_W=state.radiated_W,
        evidence=state.evidence,
    )


def _finding(found: BurnerFinding, burner: Burner, which: Which) -> Finding:
    made = Finding(topic=f"tile: {found.topic}", verdict=found.verdict, text=found.text)
    return replace(
        made,
        burner=burner.name,
        value=found.value,
        unit=found.unit,
        low=found.low,
        high=found.high,
        source=found.source,
        evidence=found.evidence,
        which_gas=which,
    )
