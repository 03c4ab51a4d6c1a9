"""Pressure at each burner, air, flame and tile before and after a change of gas.

``convert`` sizes orifices and is quick; this takes some ten times as long, so it is a step of its own that the sheet
and the command line take.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from burnerlab.appliance.conversion.both_gases import (
    BothGases,
    BurnerEvaluation,
    both_gases,
    burner_evaluations,
    on_both_gases,
    on_other_gas,
    present_appliance,
    stabilities_on,
    with_couple,
)
from burnerlab.appliance.conversion.checks import (
    HEAT_INPUT,
    TOTAL,
    of_headline,
    pressure_room,
    prompts,
    rated_words,
)
from burnerlab.appliance.conversion.convert import summed
from burnerlab.appliance.conversion.evaluation_result import Evaluation, GasExchange, PressureAt, Pressures
from burnerlab.appliance.conversion.headline import as_supplied, total
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.orifice_choice import changed_by
from burnerlab.appliance.conversion.result import ROUGH_AIR, Conversion, Finding, Headline, NotEvaluated, Step
from burnerlab.appliance.conversion.tiles import TOPIC, TileEvaluation, TileOnGas, tiles_at
from burnerlab.appliance.memory import REMEMBERED, InputKey, Same, appliance_key, of_flames
from burnerlab.appliance.operation.operate import TOPIC as SUPPLY_TOPIC
from burnerlab.appliance.operation.operate import SolvedSupply, solve_supplies, supplied_pressures
from burnerlab.appliance.operation.supply_pressures import same_pressure
from burnerlab.gas import DeclaredGas
from burnerlab.gas.interchangeability import interchange
from burnerlab.quantity.quantity_text import millibar, quantity_text
from burnerlab.tables.problem import UserError

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
    both = both_gases(present_appliance(job), changed_by(job, steps))
    burners = burner_evaluations(both)
    if job.couple is not None:
        beside = on_other_gas(conversion)
        burners = tuple(
            with_couple(one, beside[place] if beside else None) for place, one in enumerate(burners)
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
        both_gases(present_appliance(c.job), changed_by(c.job, c.steps))
        for c in conversions
        if c.evaluation is None and c.job is not None
    ]
    if len(sides) > 1:
        bare = [replace(both, before=of_flames(both.before), after=of_flames(both.after)) for both in sides]
        stabilities_on(list(dict(one for both in bare for one in on_both_gases(both)).items()))
        solve_supplies([side for both in sides for side in (both.before, both.after)])
    return tuple(map(evaluate_conversion, conversions))


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
