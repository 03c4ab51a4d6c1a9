"""Ceramic tile burners before and after a change of gas, from the figures of the project file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from burnerlab.appliance.conversion.evaluation_result import TileAt, Which
from burnerlab.appliance.conversion.flame_stability import (
    FULL,
    TURNDOWN,
    BurnerStability,
    appliance_finding,
    burner_stability,
)
from burnerlab.appliance.conversion.result import Finding, NotEvaluated
from burnerlab.appliance.memory import REMEMBERED, InputKey, file_key, gas_key
from burnerlab.appliance.project.model import Appliance, Burner, Ports, Supply
from burnerlab.burner.burner import joined_fuels, joined_geometry
from burnerlab.burner.checks import BurnerFinding
from burnerlab.burner.ports import port_area_m2
from burnerlab.burner.primary_air import PrimaryAir, joined_flow
from burnerlab.burner.state import BurnerState, part_of
from burnerlab.burner.tile import Firing, TileBurner
from burnerlab.burner.tile_channel import tile_air
from burnerlab.burner.tile_evaluation import Band, TileState, aeration_finding, evaluate_tile
from burnerlab.burner.tile_flame import fuel_shares
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.tables.problem import Problem, UserError

TOPIC = "tile temperature"
NO_FACE = "the length and width of the tile's face are not given under place"
NO_AIR = "the primary aeration of the tile is not known"
HOT_AIR = "the primary air of the hot tile is not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class TileEvaluation:
    """One tile on one gas, or why it is not evaluated."""

    tile: TileAt | None = None
    findings: tuple[Finding, ...] = ()
    open: tuple[NotEvaluated, ...] = ()


class TileOnGas(NamedTuple):
    """A tile burner of an appliance on its gas; air : the same burner's primary air, cold."""

    appliance: Appliance
    burner: Burner
    air: BurnerStability
    which: Which

    @property
    def full(self) -> BurnerState | None:
        """Cold at full rate; None where its air is not known."""
        full = self.air.full
        is_known = full is not None and float(full.primary_aeration) > 0.0
        return full if is_known and not isinstance(self.appliance.supply.gas, DeclaredGas) else None

    @property
    def rates(self) -> dict[str, BurnerState]:
        """Cold at full rate, and at turndown where it has one."""
        return {rate.label: rate.state for rate in self.air.rates if rate.label in (FULL, TURNDOWN)}

    @property
    def why_not(self) -> str:
        """Why nothing of the hot tile can be evaluated, or nothing."""
        if _tile(self.burner) is None:
            return NO_FACE
        if self.full is None:
            why = self.air.not_evaluated[0].why if self.air.not_evaluated and self.air.full is None else ""
            return f"{NO_AIR}: {why}" if why else NO_AIR
        try:
            fuel_shares(self.appliance.supply.gas)
        except UserError as error:  # a gas that the table of tile flames does not hold
            return f"{self.which} gas: {_problems(error)}"
        return ""


def tiles_at(tiles: Sequence[TileOnGas]) -> tuple[TileEvaluation, ...]:
    """Tile burners at their calculated heat input with the primary air their jets draw once the tiles are hot.

    Each assumption of a tile (emissivity, structure of the face, recovery, conductivity) spreads the answer. Its air
    is judged hot; where its flame lies outside the table of flames, the air is given without a face.
    """
    return tuple(_tile_at(*one) for one in zip(tiles, _hot_airs(tiles), strict=True))


def _tile_at(cold: TileOnGas, hot: Mapping[str, PrimaryAir]) -> TileEvaluation:
    """hot : its air at each rate; nothing where it is not evaluated."""
    burner, which, supply = cold.burner, cold.which, cold.appliance.supply
    tile, full, own = _tile(burner), cold.full, cold.appliance.tables.tile_properties
    if not hot or tile is None or full is None:
        return _nothing(burner, cold.why_not)
    if hot[FULL].why_not:
        return _nothing(burner, f"{which} gas: {HOT_AIR}: {hot[FULL].why_not}")
    airs = _air_band(hot[FULL]), _air_band(full.air)
    lack = _air_finding(airs[0], airs[1], burner, which, own)
    turned = _turned_down(cold.air, hot, burner, which, own)
    firing = _firing_with(airs[0], supply)
    figures = TileAt(
        burner=burner.name,
        which_gas=which,
        gas=supply.gas.name,
        hot_primary_aeration=airs[0],
        cold_primary_aeration=airs[1],
    )
    try:
        state = _face_of(tile, supply.gas, float(full.heat_input_gross_W), firing, own)
    except UserError as error:
        missing = _nothing(burner, f"{which} gas: {_problems(error)}")
        return replace(
            missing, tile=figures, findings=(lack, *turned.findings), open=(*missing.open, *turned.open)
        )
    found = (lack if one.topic == "aeration" else _finding(one, burner, which) for one in state.findings)
    return TileEvaluation(
        tile=_with_face(figures, state), findings=(*found, *turned.findings), open=turned.open
    )


def _face_of(
    tile: TileBurner, gas: Gas | DeclaredGas, heat_gross_W: float, firing: Firing, own: Path | None
) -> TileState:
    """A tile at a heat input with the air of its firing; remembered, for one gas often moves alone."""

    def face() -> TileState:
        return evaluate_tile(tile, gas, heat_gross_W, "gross", firing, own=own)

    key = InputKey(evaluate_tile, tile, gas_key(gas), heat_gross_W, firing, file_key(own))
    return REMEMBERED.recall(key, face)


def hot_tile_firing(appliance: Appliance, burner: Burner) -> Firing | None:
    """The firing of a tile burner as built: the air its jet draws once the tile is hot, with the band of it.

    None for a burner that does not glow, and where the file does not give what its air needs.

    >>> from burnerlab.appliance import demonstration
    >>> cart = demonstration()
    >>> firings = [hot_tile_firing(cart, burner) for burner in cart.burners]
    >>> [f"{firing.aeration:.2f}" for firing in firings if firing is not None]
    ['1.28']
    """
    gas = appliance.supply.gas
    if _tile(burner) is None or not burner.kind.traits.is_radiant or isinstance(gas, DeclaredGas):
        return None
    cold = TileOnGas(appliance, burner, burner_stability(appliance, burner), "present")
    hot = _hot_airs([cold])[0].get(FULL)
    return None if hot is None or hot.why_not else _firing_with(_air_band(hot), appliance.supply)


def _firing_with(air: Band, supply: Supply) -> Firing:
    return Firing(
        aeration=air.value,
        mixture_K=supply.gas_temperature_K,
        pressure_Pa=supply.ambient_pressure_Pa,
        aeration_low=air.low,
        aeration_high=air.high,
    )


def _hot_airs(tiles: Sequence[TileOnGas]) -> list[dict[str, PrimaryAir]]:
    """The air of hot tiles at full rate and turndown, of those alike in one call; none where it is not evaluated."""
    airs: list[dict[str, PrimaryAir]] = [{} for _ in tiles]
    alike: dict[tuple[object, ...], list[int]] = {}
    for place, one in enumerate(tiles):
        if one.full is not None and not one.why_not:
            full, own = one.full, one.appliance.tables.tile_properties
            where = own, repr(full.surroundings), repr(full.options)
            alike.setdefault((_tile(one.burner), full.geometry.pattern, *where), []).append(place)
    for places in alike.values():
        first = tiles[places[0]]
        tile, own = _tile(first.burner), first.appliance.tables.tile_properties
        assert tile is not None
        states = [state for place in places for state in tiles[place].rates.values()]
        found = tile_air(
            joined_geometry([state.geometry for state in states]),
            joined_fuels([state.fuel for state in states]),
            joined_flow([state.flow for state in states]),
            states[0].surroundings,
            states[0].options,
            tile,
            own,
        ).air
        each = iter([part_of(found, k, (len(states),)) for k in range(len(states))])
        for place in places:
            airs[place] = {label: next(each) for label in tiles[place].rates}
    return airs


def _turned_down(
    air: BurnerStability, hot_airs: Mapping[str, PrimaryAir], burner: Burner, which: Which, own: Path | None
) -> TileEvaluation:
    """The air of the hot tile at its turndown, where friction weighs more; nothing for a tile without one."""
    low, hot = air.at(TURNDOWN), hot_airs.get(TURNDOWN)
    if low is None or hot is None:
        return TileEvaluation()
    if hot.why_not:
        words = f"{which} gas at {TURNDOWN}: {HOT_AIR}: {hot.why_not}"
        return _nothing(burner, words)
    cold = None if np.isnan(low.primary_aeration) else _air_band(low.air)
    finding = _air_finding(_air_band(hot), cold, burner, which, own)
    return TileEvaluation(findings=(replace(finding, topic=f"{finding.topic} at {TURNDOWN}"),))


def _air_finding(hot: Band, cold: Band | None, burner: Burner, which: Which, own: Path | None) -> Finding:
    found = _finding(aeration_finding(hot, cold, own), burner, which)
    return replace(found, value_low=hot.low, value_high=hot.high)


def _problems(error: UserError) -> str:
    return "; ".join(map(_plain_words, error.problems))


def _plain_words(problem: Problem) -> str:
    """A problem of a figure that was calculated: no key of a file stands for it.

    >>> _plain_words(Problem("outside the table", key="aeration", value="76.7 %", accepted="76.9 to 166.7 %"))
    'aeration 76.7 %: outside the table (76.9 to 166.7 %)'
    """
    if problem.file or not (problem.key and problem.value) or "." in problem.key:
        return problem.text()
    accepted = f" ({problem.accepted})" if problem.accepted else ""
    fix = f"; {problem.fix}" if problem.fix else ""
    return f"{problem.key} {problem.value}: {problem.what}{accepted}{fix}"


def _air_band(air: PrimaryAir) -> Band:
    return Band(value=float(air.aeration), low=float(air.low), high=float(air.high))


def _nothing(burner: Burner, why: str) -> TileEvaluation:
    return TileEvaluation(open=(NotEvaluated(topic=TOPIC, why=why, burner=burner.name),))


def _tile(burner: Burner) -> TileBurner | None:
    """The face of a tile burner; None where its size is not given."""
    place, ports = (burner.places[0] if burner.places else None), burner.ports
    if place is None or place.length_m is None or place.width_m is None:
        return None
    return TileBurner(
        area_m2=place.length_m * place.width_m,
        channel_diameter_m=None if ports is None else ports.diameter_m,
        thickness_m=None if ports is None else ports.depth_m,
        open_share=None if ports is None else _open_share(ports, place.length_m * place.width_m),
    )


def _open_share(ports: Ports, face_m2: float) -> float:
    """Channels over the face; 1 where the file's channels do not fit into it."""
    area = float(port_area_m2(ports.diameter_m, ports.count, ports.slot_length_m))
    return min(area / face_m2, 1.0)


def _with_face(figures: TileAt, state: TileState) -> TileAt:
    """The tile with the figures of its face."""
    return replace(
        figures,
        firing_density_net_W_per_m2=state.firing_density_net_W_per_m2,
        face_temperature_K=state.surface_temperature_K,
        face_ceiling_temperature_K=state.surface_temperature_ceiling_K,
        radiant_efficiency_net=state.radiant_efficiency_net,
        ceiling_efficiency_net=state.radiant_efficiency_ceiling_net,
        plenum_side_temperature_K=state.plenum_side_temperature_K,
        lift_margin=state.lift_margin,
        radiated_W=state.radiated_W,
    )


def _finding(finding: BurnerFinding, burner: Burner, which: Which) -> Finding:
    return appliance_finding(finding, burner.name, f"tile: {finding.topic}", which)
