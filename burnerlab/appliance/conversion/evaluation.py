"""Pressure at each burner, air, flame and tile before and after a change of gas.

``convert`` sizes orifices and is quick; this takes some ten times as long, so it is a step of its own that the sheet
and the command line take.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np

from burnerlab.appliance.conversion.air_shutter import (
    shutter_finding,
    shutter_of_couple,
    shutter_settings,
)
from burnerlab.appliance.conversion.checks import (
    HEAT_INPUT,
    TOTAL,
    of_headline,
    pressure_room,
    prompts,
    rated_words,
)
from burnerlab.appliance.conversion.convert import other_of_couple, summed
from burnerlab.appliance.conversion.evaluation_result import (
    BurnerFlames,
    Evaluation,
    FlameAt,
    GasExchange,
    PressureAt,
    Pressures,
    ShutterSetting,
    TileAt,
    Which,
)
from burnerlab.appliance.conversion.flame_stability import (
    FULL,
    TILE,
    TURNDOWN,
    BurnerOnGas,
    BurnerStability,
    RatedState,
    appliance_finding,
    burner_stability,
    diagram_of_states,
    stabilities_of,
)
from burnerlab.appliance.conversion.headline import as_supplied, total
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.orifice_choice import changed_by
from burnerlab.appliance.conversion.result import (
    ROUGH_AIR,
    SHUTTER,
    Conversion,
    Finding,
    Headline,
    NotEvaluated,
    Step,
)
from burnerlab.appliance.memory import REMEMBERED, InputKey, Same, appliance_key, file_key, gas_key, of_flames
from burnerlab.appliance.operation.operate import TOPIC as SUPPLY_TOPIC
from burnerlab.appliance.operation.operate import SolvedSupply, solve_supplies, supplied_pressures
from burnerlab.appliance.operation.supply_pressures import match_pressure, same_pressure
from burnerlab.appliance.project.model import Appliance, Burner, Ports, Supply
from burnerlab.burner.burner import BurnerFuel, burner_fuel, joined_fuels, joined_geometry
from burnerlab.burner.checks import PORT_DEPTH, THROAT, BurnerFinding
from burnerlab.burner.evaluation import burning_of
from burnerlab.burner.ports import port_area_m2
from burnerlab.burner.primary_air import PrimaryAir, joined_flow
from burnerlab.burner.stability_diagram import StabilityDiagram
from burnerlab.burner.state import BurnerState, part_of
from burnerlab.burner.tile import Firing, TileBurner
from burnerlab.burner.tile_channel import tile_air
from burnerlab.burner.tile_evaluation import Band, TileState, aeration_finding, evaluate_tile
from burnerlab.burner.tile_flame import fuel_shares
from burnerlab.flame.extinction import carbon_monoxide_ranks
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.interchangeability import interchange
from burnerlab.quantity.quantity_text import millibar, quantity_text
from burnerlab.tables.problem import Problem, UserError

# Air and flame of every burner before and after a change of gas, and the shutter setting that serves both.

AS_BUILT = ("port diameter", PORT_DEPTH, THROAT)  # checks that do not depend on the gas but by their rule
OF_THE_FLAME = ("lift", "light-back", "yellow tipping", "primary aeration", "port loading")
RANK_CAUTION = (
    "a rank of strained flames and no concentration, which a cold pot, a poor flue or a closed box outweighs: measure "
    "carbon monoxide at full and low rate"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BothGases:
    """The appliance before and after, with what burners must know of its gases; None for a declared gas."""

    before: Appliance
    after: Appliance
    fuels: tuple[BurnerFuel | None, BurnerFuel | None]

    @property
    def sides(self) -> tuple[tuple[Which, Appliance, BurnerFuel | None], ...]:
        return (("present", self.before, self.fuels[0]), ("new", self.after, self.fuels[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerEvaluation:
    """One burner on both gases, with its findings and open questions."""

    flames: BurnerFlames | None
    stability: tuple[BurnerStability, BurnerStability]  # present, new
    diagram: StabilityDiagram | None
    findings: tuple[Finding, ...]
    open: tuple[NotEvaluated, ...]


def both_gases(before: Appliance, after: Appliance) -> BothGases:
    """An appliance and the same after its conversion, each gas evaluated once."""
    first, second, own = before.supply.gas, after.supply.gas, before.tables.burner_coefficients
    fuel = None if isinstance(first, DeclaredGas) else _fuel(first, own)
    if second == first:
        return BothGases(before=before, after=after, fuels=(fuel, fuel))
    return BothGases(
        before=before,
        after=after,
        fuels=(fuel, None if isinstance(second, DeclaredGas) else _fuel(second, own)),
    )


def _fuel(gas: Gas, own: Path | None) -> BurnerFuel:
    """What burners ask of a gas, with its burning velocity where known and the user's own coefficients."""

    def fuel() -> BurnerFuel:
        velocity = burning_of(gas)
        return burner_fuel(gas, velocity.burning, velocity.why_not, own)

    return REMEMBERED.recall(InputKey(burner_fuel, burning_of, gas_key(gas), file_key(own)), fuel)


def burner_evaluations(both: BothGases) -> tuple[BurnerEvaluation, ...]:
    """Primary air, ports, limits of the flame, cold and hot, and shutter of every burner on both gases.

    A burner with the same inputs as before is remembered.
    """
    bare = replace(both, before=of_flames(both.before), after=of_flames(both.after))
    burners = _on_both_gases(bare)
    count, keys = len(bare.before.burners), [key for key, _ in burners]
    found = _stabilities(burners)
    states = list(zip(found[:count], found[count:], strict=True))
    pairs = zip(keys[:count], keys[count:], strict=True)
    return tuple(
        REMEMBERED.recall_each(
            [InputKey(_burner_evaluations, here, there) for here, there in pairs],
            lambda places: _burner_evaluations(bare, places, states),
        )
    )


def _on_both_gases(bare: BothGases) -> list[tuple[InputKey, BurnerOnGas]]:
    """Every burner on the present gas, then on the new one, with the key of its flames; bare : of ``of_flames``."""
    return [
        (InputKey(stabilities_of, shared, Same(fuel), burner), BurnerOnGas(side, burner, fuel))
        for _, side, fuel in bare.sides
        for shared in (appliance_key(side),)
        for burner in side.burners
    ]


def _stabilities(burners: Sequence[tuple[InputKey, BurnerOnGas]]) -> list[BurnerStability]:
    """Of each burner; those that are not remembered in one call."""
    return REMEMBERED.recall_each(
        [key for key, _ in burners], lambda places: stabilities_of([burners[k][1] for k in places])
    )


def _burner_evaluations(
    both: BothGases, places: Sequence[int], states: Sequence[tuple[BurnerStability, BurnerStability]]
) -> list[BurnerEvaluation]:
    """Of the burners at these places; states : of every burner, on both gases."""
    pairs = [(both.before.burners[place], both.after.burners[place]) for place in places]
    some = [states[place] for place in places]
    shutters = shutter_settings((both.before, both.after), pairs, some)
    return [
        _burner_evaluation(both, burners, found, shutter)
        for burners, found, shutter in zip(pairs, some, shutters, strict=True)
    ]


def _burner_evaluation(
    both: BothGases,
    burners: tuple[Burner, Burner],
    states: tuple[BurnerStability, BurnerStability],
    shutter: ShutterSetting | None,
) -> BurnerEvaluation:
    rated = [
        (which, found.gas, rate)
        for (which, _, _), found in zip(both.sides, states, strict=True)
        for rate in found.rates
    ]
    flames = None
    if rated:
        ranks = _carbon_monoxide_ranks(both, states)
        rates = tuple(_flame(*one, rank) for one, rank in zip(rated, ranks, strict=True))
        notes = dict.fromkeys(note for found in states for note in found.notes)
        notes |= dict.fromkeys(_rank_note(rates))
        flames = BurnerFlames(
            burner=burners[0].name,
            kind=burners[0].kind,
            rates=rates,
            shutter=shutter,
            warm_ups=tuple(
                replace(found.warm_up, which_gas=which)
                for (which, _, _), found in zip(both.sides, states, strict=True)
                if found.warm_up is not None
            ),
            notes=tuple(notes),
        )
    return BurnerEvaluation(
        flames=flames,
        stability=states,
        diagram=_diagram(both, states),
        findings=tuple(_findings(states, shutter, burners[0].name)),
        open=tuple(_open(states)),
    )


def _carbon_monoxide_ranks(
    both: BothGases, states: tuple[BurnerStability, BurnerStability]
) -> tuple[int | None, ...]:
    """Of the strained flames of one burner, by gas and rate; None where a flame is not known or stands alone."""
    cases = [
        (side.supply.gas, float(rate.state.primary_aeration))
        for (_, side, _), found in zip(both.sides, states, strict=True)
        for rate in found.rates
    ]
    known = [place for place, (_, aeration) in enumerate(cases) if not np.isnan(aeration)]
    ranks: list[int | None] = [None] * len(cases)
    if states[0].kind.traits.is_radiant:
        return tuple(ranks)
    try:
        found_ranks = carbon_monoxide_ranks([cases[place] for place in known])
    except UserError:  # a gas with parts no strained flame is known of
        return tuple(ranks)
    if sum(rank is not None for rank in found_ranks) > 1:
        for place, rank in zip(known, found_ranks, strict=True):
            ranks[place] = rank
    return tuple(ranks)


def _rank_note(rates: Sequence[FlameAt]) -> Iterator[str]:
    """The ranks at full rate and turndown in words, least first, with their caution; nothing where there are none."""
    by_rank: dict[int | None, list[str]] = {}
    for rate in rates:
        if rate.rate in (FULL, TURNDOWN):
            by_rank.setdefault(rate.carbon_monoxide_rank, []).append(f"{rate.which_gas} gas at {rate.rate}")
    unknown = by_rank.pop(None, [])
    if by_rank:
        ranked = [f"{rate} {rank}" for rank in sorted(filter(None, by_rank)) for rate in by_rank[rank]]
        left = [f"not ranked {rate}" for rate in unknown]
        yield f"carbon monoxide by rank, 1 the least: {', '.join((*ranked, *left))}; {RANK_CAUTION}"


def _diagram(both: BothGases, states: tuple[BurnerStability, ...]) -> StabilityDiagram | None:
    titled = [
        replace(found, case=replace(found.case, title=f"{which} gas"))
        for (which, _, _), found in zip(both.sides, states, strict=True)
        if found.case is not None
    ]
    return diagram_of_states(both.before, titled)


def _flame(which: Which, gas: str, rate: RatedState, rank: int | None) -> FlameAt:
    state = rate.state
    wall, cone = float(state.wall_gradient_per_s), float(state.inner_cone_height_m)
    return FlameAt(
        which_gas=which,
        gas=gas,
        rate=rate.label,
        gauge_pressure_Pa=rate.gauge_pressure_Pa,
        heat_input_gross_W=float(state.heat_input_gross_W),
        primary_aeration=_band(state.primary_aeration, state.primary_aeration_band),
        port_loading_W_per_mm2=float(state.port_loading_W_per_mm2),
        wall_gradient_per_s=None if np.isnan(wall) else wall,
        lift_margin=_band(state.lift_margin, state.lift_margin_band),
        light_back_margin=_band(state.light_back_margin, state.light_back_margin_band),
        light_back_is_at_least=bool(state.at.light_back_is_bound),
        yellow_tip_margin=_band(state.yellow_tip_margin, state.yellow_tip_margin_band),
        inner_cone_height_m=None if np.isnan(cone) else cone,
        carbon_monoxide_rank=rank,
    )


def _band(value: np.ndarray, ends: np.ndarray) -> Band | None:
    """None where the value is not known."""
    if np.isnan(value):
        return None
    low, high = (float(end) for end in ends)
    return Band(value=float(value), low=low, high=high)


def _on_other_gas(conversion: Conversion) -> tuple[BurnerEvaluation, ...]:
    """The burners with the same orifices on the other gas of the couple; empty where that is a gas of the file."""
    other = other_of_couple(conversion)
    if other is None or other.job is None:
        return ()
    return burner_evaluations(both_gases(_present(other.job), changed_by(other.job, other.steps)))


def _with_couple(burner: BurnerEvaluation, beside: BurnerEvaluation | None) -> BurnerEvaluation:
    """A burner with the openings of its shutter that serve its gas and, ``beside``, the other gas of its couple too."""
    if burner.flames is None or burner.flames.shutter is None:
        return burner
    other = None if beside is None or beside.flames is None else beside.flames.shutter
    shutter = shutter_of_couple(burner.flames.shutter, other)
    return replace(
        burner,
        flames=replace(burner.flames, shutter=shutter),
        findings=tuple(
            shutter_finding(shutter, burner.flames.burner) if one.topic == SHUTTER else one
            for one in burner.findings
        ),
    )


# what is found, and what stays open


def _findings(
    states: tuple[BurnerStability, ...], shutter: ShutterSetting | None, name: str
) -> Iterator[Finding]:
    sides: tuple[tuple[Which, BurnerStability], ...] = (("new", states[1]), ("present", states[0]))
    for which, found in sides:
        for finding in found.findings:
            if finding.topic in AS_BUILT:
                if which == "new":
                    yield finding
            elif which == "new" or finding.topic.split(" at ")[0] in OF_THE_FLAME:
                yield replace(finding, which_gas=which)
    if shutter is not None:
        yield shutter_finding(shutter, name)


def _open(states: tuple[BurnerStability, ...]) -> Iterator[NotEvaluated]:
    """What is not evaluated for either gas, once; for one of them, with its name. A tile's flame is evaluated apart."""
    by_gas = [{missing.topic: missing for missing in found.not_evaluated} for found in states]
    for which, here, there in zip(("present", "new"), by_gas, reversed(by_gas), strict=True):
        for topic, missing in here.items():
            same = topic in there and there[topic].why == missing.why
            if missing.why == TILE or (same and which == "new"):
                continue
            yield missing if same else replace(missing, topic=f"{topic}, {which} gas")


# Ceramic tile burners before and after a change of gas, from the figures of the project file.

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


# The headlines of a conversion once its supply is solved: what each burner will burn, and all together.


def with_headlines(c: Conversion, supplied: Pressures | None) -> Conversion:
    """The conversion with the headline of every burner, and of all together, at the pressures that reach them.

    Its findings on the heat input follow; without pressures it is returned as it is.
    """
    job = c.job
    if supplied is None or job is None:
        return c
    at = {one.burner: one for one in supplied.burners}
    steps = tuple(_headed(job, step, at[step.burner.name], supplied) for step in c.steps)
    heads = {step.burner.name: step.result.headline for step in steps}
    whole = total(job, steps, supplied)
    burners = tuple(step.result for step in steps)
    return replace(
        c,
        burners=burners,
        total_mass_flow_kg_per_s=summed(burners, lambda burner: burner.mass_flow_kg_per_s),
        total_volume_flow_m3_per_s=summed(burners, lambda burner: burner.volume_flow_m3_per_s),
        headline=whole,
        steps=steps,
        findings=(
            *(_headline_finding(job, found, heads, whole, at) for found in c.findings),
            *filter(None, (pressure_room(job, one, at[one.name]) for one in burners)),
        ),
    )


def _headed(job: Job, step: Step, at: PressureAt, supplied: Pressures) -> Step:
    """The burner at the pressures that reach it: gas and air are what it takes with every burner on."""
    found, moved = step.result, 1.0 + at.all_on_from_nominal

    def times(value: float | None) -> float | None:
        return None if value is None else value * moved

    return replace(
        step,
        result=replace(
            found,
            headline=as_supplied(job, step, at, supplied.evidence),
            mass_flow_kg_per_s=found.mass_flow_kg_per_s * moved,
            volume_flow_m3_per_s=found.volume_flow_m3_per_s * moved,
            to_air_kg_per_s=times(found.to_air_kg_per_s),
            to_air_m3_per_s=times(found.to_air_m3_per_s),
        ),
    )


def _headline_finding(
    job: Job, finding: Finding, heads: dict[str, Headline], whole: Headline, at: dict[str, PressureAt]
) -> Finding:
    """The finding of a heat input as supplied; any other as it is."""
    if finding.topic == TOTAL:
        heat = rated_words(job, job.new, whole.heat_input_gross_W, ".4g")
        text = quantity_text("every burner on: {}, ", heat)
        text += f"{100 * whole.deviation:+.1f} %"
        return of_headline(TOTAL, whole, job, text)
    if finding.topic != HEAT_INPUT or not finding.burner:
        return finding
    head = heads[finding.burner]
    count = next(b.count for b in job.appliance.burners if b.name == finding.burner)
    return of_headline(HEAT_INPUT, head, job, _words(head, at[finding.burner], count), burner=finding.burner)


def _words(head: Headline, at: PressureAt, count: int) -> str:
    """Both cases, all of a kind of several burners on together, with the pressure before the orifice."""
    all_on, alone = head.deviation_all_on or 0.0, head.deviation_alone
    together = f"every burner on {100 * all_on:+.1f} % at " + millibar(at.gauge_pressure_all_on_Pa, ".3g")
    if alone is None or at.gauge_pressure_alone_Pa is None:
        return together + "; alone not evaluated"
    if count > 1:
        return (
            together
            + f", all {count} of its kind on {100 * alone:+.1f} % at "
            + millibar(at.gauge_pressure_alone_Pa, ".3g")
        )
    return together + f", alone {100 * alone:+.1f} % at " + millibar(at.gauge_pressure_alone_Pa, ".3g")


# Evaluate what a conversion leaves open: pressure at each burner, air, flame, tile, exchange of the gas.

FLAME_TOPICS = ("primary aeration", "lift", "light-back", "yellow tipping")
ORIFICE_CHANGES = "not applicable, the orifice changes"
PRESSURE_CHANGES = "not applicable, the pressure changes"


@dataclass(frozen=True, slots=True, kw_only=True)
class _EvaluationParts:
    """The parts of an evaluation, before they go into the conversion."""

    supplied: SolvedSupply
    burners: tuple[BurnerEvaluation, ...]
    tiles: tuple[TileEvaluation, ...]
    exchange: GasExchange


def evaluate_conversion(conversion: Conversion) -> Conversion:
    """A conversion with everything evaluated that its project file allows, on the present gas and the new one.

    Pressure before each orifice with all burners on and each kind on; primary aeration, port loading and the margins to
    lift, light-back and yellow tipping at full rate, turndown and both ends of the supply pressure; a shutter setting
    that serves both gases, or which limit leaves none; face temperature and radiant efficiency of tiles; indices of
    exchange where the orifice stays. Its findings, open questions and prompts take the place of the rough ones.
    A conversion evaluated already, or not made by ``convert``, is returned as it is.

    >>> from burnerlab.appliance import convert, demonstration
    >>> cart = evaluate_conversion(convert(demonstration(), "propane", 2740.0))
    >>> [burner.burner for burner in cart.evaluation.flames][3:]
    ['stock-pot ring', 'tile broiler', 'rear burner']
    """
    job, steps = conversion.job, conversion.steps
    if conversion.evaluation is not None or job is None:
        return conversion
    both = both_gases(_present(job), changed_by(job, steps))
    burners = burner_evaluations(both)
    if job.couple is not None:
        beside = _on_other_gas(conversion)
        burners = tuple(
            _with_couple(one, beside[place] if beside else None) for place, one in enumerate(burners)
        )
    found = _EvaluationParts(
        supplied=supplied_pressures(both.before, both.after, job.new_train),
        burners=burners,
        tiles=tuple(_tiles(both, burners)),
        exchange=_exchange(job, steps),
    )
    return _merged(conversion, job, steps, found)


def evaluate_conversions(conversions: Sequence[Conversion]) -> tuple[Conversion, ...]:
    """``evaluate_conversion`` of an appliance on several gases or markets; burners and supplies of all in one call.

    >>> from burnerlab.appliance import convert, demonstration
    >>> cart = demonstration()
    >>> every = evaluate_conversions([convert(cart, "propane", 2740.0), convert(cart, "G30", 2900.0)])
    >>> [c.evaluation.flames[0].full("new").gas for c in every]
    ['propane', 'G30']
    """
    sides = [
        both_gases(_present(c.job), changed_by(c.job, c.steps))
        for c in conversions
        if c.evaluation is None and c.job is not None
    ]
    if len(sides) > 1:
        bare = [replace(both, before=of_flames(both.before), after=of_flames(both.after)) for both in sides]
        _stabilities(list(dict(one for both in bare for one in _on_both_gases(both)).items()))
        solve_supplies([side for both in sides for side in (both.before, both.after)])
    return tuple(map(evaluate_conversion, conversions))


def _present(job: Job) -> Appliance:
    """The appliance of the file, with the range of supply pressure its gas is sold at where the file gives none."""
    appliance, supply = job.appliance, job.appliance.supply
    row = match_pressure(
        supply.gauge_pressure_Pa,
        job.old.families,
        own=appliance.tables.supply_pressures,
        region=appliance.region,
        gas=supply.gas.name,
    )
    if row is None:
        return appliance
    low, high = supply.low_gauge_pressure_Pa, supply.high_gauge_pressure_Pa
    return replace(
        appliance,
        supply=replace(
            supply,
            low_gauge_pressure_Pa=row.low_Pa if low is None else low,
            high_gauge_pressure_Pa=row.high_Pa if high is None else high,
        ),
    )


def _tiles(both: BothGases, burners: tuple[BurnerEvaluation, ...]) -> Iterator[TileEvaluation]:
    """Every tile on both gases; its air, which the burner's key stands for, is that of the same burner."""
    sides = [
        (which, bare := of_flames(side), InputKey(appliance_key(bare), Same(fuel)))
        for which, side, fuel in both.sides
    ]
    for place, burner in enumerate(both.before.burners):
        if burner.kind.traits.is_radiant:
            tiles = [
                TileOnGas(side, side.burners[place], air, which)
                for (which, side, _), air in zip(sides, burners[place].stability, strict=True)
            ]
            # solved together, and so remembered: alone a last digit may be another
            keys = (InputKey(shared, tile.burner) for (*_, shared), tile in zip(sides, tiles, strict=True))
            yield from REMEMBERED.recall(InputKey(tiles_at, *keys), partial(tiles_at, tiles))


def _exchange(job: Job, steps: tuple[Step, ...]) -> GasExchange:
    """The published indices, where every orifice and the pressure stay as they are."""
    stays = not any(step.burner.orifice.is_calculated for step in steps) and all(
        abs(step.choice.diameter_m / step.burner.orifice.diameter_m - 1.0) < 1e-3 for step in steps
    )
    old, new = job.old.gas, job.new.gas
    if not stays:
        return GasExchange(why_not=ORIFICE_CHANGES)
    if not same_pressure(job.target.gauge_pressure_Pa, job.appliance.supply.gauge_pressure_Pa):
        return GasExchange(why_not=PRESSURE_CHANGES)
    if isinstance(old, DeclaredGas) or isinstance(new, DeclaredGas):
        return GasExchange(why_not="needs the composition of both gases")
    try:
        found = interchange(old, new, job.appliance.tables.interchange)
    except UserError as error:
        return GasExchange(why_not="; ".join(problem.what for problem in error.problems))
    return GasExchange(readings=found.readings, notes=found.notes)


# into the conversion


def _merged(c: Conversion, job: Job, steps: tuple[Step, ...], parts: _EvaluationParts) -> Conversion:
    evaluation = Evaluation(
        pressures=parts.supplied.pressures,
        flames=tuple(one.flames for one in parts.burners if one.flames is not None),
        tiles=tuple(one.tile for one in parts.tiles if one.tile is not None),
        exchange=parts.exchange,
        diagrams=tuple(one.diagram for one in parts.burners if one.diagram is not None),
    )
    known = evaluation.burners_with_aeration
    new = tuple(_new_findings(parts))
    solved = evaluation.pressures_of("new")
    manifold_Pa = None if solved is None else solved.manifold_gauge_pressure_Pa
    headed = with_headlines(c, solved)
    # a calculated air replaces the rough one
    kept = tuple(f for f in headed.findings if not (f.topic == ROUGH_AIR and f.burner in known))
    return replace(
        headed,
        evaluation=evaluation,
        findings=(*kept, *new),
        not_evaluated=tuple(_still_open(c, parts)),
        prompts=prompts(job, steps, tuple(_aerations(evaluation)), manifold_Pa),
        sources=tuple(dict.fromkeys((*c.sources, *_sources(new)))),
    )


def _new_findings(parts: _EvaluationParts) -> Iterator[Finding]:
    yield from parts.supplied.findings
    for burner in parts.burners:
        yield from burner.findings
    for tile in parts.tiles:
        yield from tile.findings


def _aerations(evaluation: Evaluation) -> Iterator[tuple[float, float]]:
    for burner in evaluation.flames:
        ends = [burner.full("present"), burner.full("new")]
        shares = [
            end.primary_aeration.value for end in ends if end is not None and end.primary_aeration is not None
        ]
        if len(shares) == len(ends) and not burner.kind.traits.is_radiant:
            yield shares[0], shares[1]


def _still_open(c: Conversion, parts: _EvaluationParts) -> Iterator[NotEvaluated]:
    """The open questions of the conversion without those answered, then those of each burner, tile and supply."""
    answered = {*FLAME_TOPICS, TOPIC}
    if parts.supplied.pressures:
        answered.add(SUPPLY_TOPIC)
    yield from (one for one in c.not_evaluated if one.topic not in answered)
    yield from parts.supplied.open
    yield from _once(one for burner in parts.burners for one in burner.open)
    yield from _once(one for tile in parts.tiles for one in tile.open)
    if parts.exchange.why_not not in ("", ORIFICE_CHANGES, PRESSURE_CHANGES):
        yield NotEvaluated(topic="exchange of the gas at the same orifice", why=parts.exchange.why_not)


def _once(questions: Iterable[NotEvaluated]) -> Iterator[NotEvaluated]:
    yield from dict.fromkeys(questions)


def _sources(findings: Sequence[Finding]) -> Iterator[str]:
    for finding in findings:
        if finding.source:
            topic = finding.topic.split(" at ")[0].split(": ")[0]
            yield f"{topic}: {finding.source}"
