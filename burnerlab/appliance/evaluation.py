"""Evaluate what a conversion leaves open: pressure at each burner, air, flame, tile, exchange of the gas.

``convert`` sizes orifices and is quick; this takes some ten times as long, so it is a step of its own that the sheet
and the command line take.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from burnerlab.appliance.burner_pressures import TOPIC as SUPPLY_TOPIC
from burnerlab.appliance.burner_pressures import SolvedSupply, supplied_pressures
from burnerlab.appliance.conversion.evaluation_result import Evaluation, GasExchange
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.convert import changed_by
from burnerlab.appliance.flames import BothGases, BurnerFound, both_gases, burner_found
from burnerlab.appliance.model import Appliance
from burnerlab.appliance.pressures import match_pressure, same_pressure
from burnerlab.appliance.prompts import prompts
from burnerlab.appliance.result import Conversion, Finding, NotEvaluated, Step
from burnerlab.appliance.supplied_headlines import with_headlines
from burnerlab.appliance.tiles import TOPIC as TILE_TOPIC
from burnerlab.appliance.tiles import TileFound, tile_at
from burnerlab.gas import DeclaredGas
from burnerlab.gas.interchange import interchange
from burnerlab.tables.problem import UserError

FLAME_TOPICS = ("primary aeration", "lift", "light-back", "yellow tipping")
ROUGH = "primary air"  # the check on an assumed aeration, which a calculated one replaces
ORIFICE_CHANGES = "not applicable, the orifice changes"
PRESSURE_CHANGES = "not applicable, the pressure changes"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """Everything looked at, before it is put into the conversion."""

    supplied: SolvedSupply
    burners: tuple[BurnerFound, ...]
    tiles: tuple[TileFound, ...]
    exchange: GasExchange


def evaluate_conversion(conversion: Conversion) -> Conversion:
    """A conversion with everything evaluated that its project file allows, on the present gas and the new one.

    Pressure before each orifice with all burners on and each alone; primary aeration, port loading and the margins to
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
    burners = tuple(burner_found(both, place) for place in range(len(steps)))
    found = _Found(
        supplied=supplied_pressures(both.before, both.after, job.new_train),
        burners=burners,
        tiles=tuple(_tiles(both, burners)),
        exchange=_exchange(job, steps),
    )
    return _merged(conversion, job, steps, found)


def _present(job: Job) -> Appliance:
    """The appliance of the file, with the range of supply pressure its gas is sold at where the file gives none."""
    appliance, supply = job.appliance, job.appliance.supply
    row = match_pressure(
        supply.gauge_pressure_Pa,
        job.old.families,
        own=appliance.tables.supply_pressures,
        region=appliance.region,
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


def _tiles(both: BothGases, burners: tuple[BurnerFound, ...]) -> Iterator[TileFound]:
    for place, burner in enumerate(both.before.burners):
        if burner.kind.traits.is_radiant:
            for (which, side, _), air in zip(both.sides, burners[place].stability, strict=True):
                yield tile_at(side, side.burners[place], air, which)


def _exchange(job: Job, steps: tuple[Step, ...]) -> GasExchange:
    """The published indices, where every orifice and the pressure stay as they are."""
    stays = all(abs(step.choice.diameter_m / step.burner.orifice.diameter_m - 1.0) < 1e-3 for step in steps)
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


def _merged(c: Conversion, job: Job, steps: tuple[Step, ...], found: _Found) -> Conversion:
    evaluation = Evaluation(
        pressures=found.supplied.pressures,
        flames=tuple(one.flames for one in found.burners if one.flames is not None),
        tiles=tuple(one.tile for one in found.tiles if one.tile is not None),
        exchange=found.exchange,
        diagrams=tuple(one.diagram for one in found.burners if one.diagram is not None),
    )
    known = evaluation.aeration_known
    new = tuple(_new_findings(found))
    headed = with_headlines(c, evaluation.pressures_of("new"))
    kept = tuple(f for f in headed.findings if not (f.topic == ROUGH and f.burner in known))
    return replace(
        headed,
        evaluation=evaluation,
        findings=(*kept, *new),
        not_evaluated=tuple(_still_open(c, found)),
        prompts=prompts(job, steps, tuple(_aerations(evaluation))),
        sources=tuple(dict.fromkeys((*c.sources, *_sources(new)))),
    )


def _new_findings(found: _Found) -> Iterator[Finding]:
    yield from found.supplied.findings
    for burner in found.burners:
        yield from burner.findings
    for tile in found.tiles:
        yield from tile.findings


def _aerations(evaluation: Evaluation) -> Iterator[tuple[float, float]]:
    for burner in evaluation.flames:
        ends = [burner.full("present"), burner.full("new")]
        shares = [
            end.primary_aeration.value for end in ends if end is not None and end.primary_aeration is not None
        ]
        if len(shares) == len(ends) and not burner.kind.traits.is_radiant:
            yield shares[0], shares[1]


def _still_open(c: Conversion, found: _Found) -> Iterator[NotEvaluated]:
    """The open questions of the conversion without those answered, then those of each burner, tile and supply."""
    answered = {*FLAME_TOPICS, TILE_TOPIC}
    if found.supplied.pressures:
        answered.add(SUPPLY_TOPIC)
    yield from (one for one in c.not_evaluated if one.topic not in answered)
    yield from found.supplied.open
    yield from _once(one for burner in found.burners for one in burner.open)
    yield from _once(one for tile in found.tiles for one in tile.open)
    if found.exchange.why_not not in ("", ORIFICE_CHANGES, PRESSURE_CHANGES):
        yield NotEvaluated(topic="exchange of the gas at the same orifice", why=found.exchange.why_not)


def _once(questions: Iterable[NotEvaluated]) -> Iterator[NotEvaluated]:
    yield from dict.fromkeys(questions)


def _sources(found: Sequence[Finding]) -> Iterator[str]:
    for finding in found:
        if finding.source:
            topic = finding.topic.split(" at ")[0].split(": ")[0]
            yield f"{topic}: {finding.source}"
