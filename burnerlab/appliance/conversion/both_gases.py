"""Air and flame of every burner before and after a change of gas, and the shutter setting that serves both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from burnerlab.appliance.conversion.air_shutter import shutter_finding, shutter_of_couple, shutter_settings
from burnerlab.appliance.conversion.convert import other_of_couple
from burnerlab.appliance.conversion.evaluation_result import BurnerFlames, FlameAt, ShutterSetting, Which
from burnerlab.appliance.conversion.flame_stability import (
    FULL,
    TILE,
    TURNDOWN,
    BurnerOnGas,
    BurnerStability,
    RatedState,
    diagram_of_states,
    stabilities_of,
)
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.orifice_choice import changed_by
from burnerlab.appliance.conversion.result import SHUTTER, Conversion, Finding, NotEvaluated
from burnerlab.appliance.memory import REMEMBERED, InputKey, Same, appliance_key, file_key, gas_key, of_flames
from burnerlab.appliance.operation.supply_pressures import match_pressure
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.burner.burner import BurnerFuel, burner_fuel
from burnerlab.burner.checks import PORT_DEPTH, THROAT
from burnerlab.burner.evaluation import burning_of
from burnerlab.burner.stability_diagram import StabilityDiagram
from burnerlab.burner.tile_evaluation import Band
from burnerlab.flame.extinction import carbon_monoxide_ranks
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.tables.problem import UserError

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
    burners = on_both_gases(bare)
    count, keys = len(bare.before.burners), [key for key, _ in burners]
    found = stabilities_on(burners)
    states = list(zip(found[:count], found[count:], strict=True))
    pairs = zip(keys[:count], keys[count:], strict=True)
    return tuple(
        REMEMBERED.recall_each(
            [InputKey(_burner_evaluations, here, there) for here, there in pairs],
            lambda places: _burner_evaluations(bare, places, states),
        )
    )


def on_both_gases(bare: BothGases) -> list[tuple[InputKey, BurnerOnGas]]:
    """Every burner on the present gas, then on the new one, with the key of its flames; bare : of ``of_flames``."""
    return [
        (InputKey(stabilities_of, shared, Same(fuel), burner), BurnerOnGas(side, burner, fuel))
        for _, side, fuel in bare.sides
        for shared in (appliance_key(side),)
        for burner in side.burners
    ]


def stabilities_on(burners: Sequence[tuple[InputKey, BurnerOnGas]]) -> list[BurnerStability]:
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


def on_other_gas(conversion: Conversion) -> tuple[BurnerEvaluation, ...]:
    """The burners with the same orifices on the other gas of the couple; empty where that is a gas of the file."""
    other = other_of_couple(conversion)
    if other is None or other.job is None:
        return ()
    return burner_evaluations(both_gases(present_appliance(other.job), changed_by(other.job, other.steps)))


def with_couple(burner: BurnerEvaluation, beside: BurnerEvaluation | None) -> BurnerEvaluation:
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


def present_appliance(job: Job) -> Appliance:
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
