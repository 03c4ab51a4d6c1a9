"""A product line: the bores that every burner of every model needs in every market, and the fewest orifices for all."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.burner_conversion import flow_through, law_of
from burnerlab.appliance.conversion.convert import altitude_of
from burnerlab.appliance.conversion.job import Job, prepare
from burnerlab.appliance.conversion.markets import MarketTarget, market_named, targets_of
from burnerlab.appliance.conversion.orifice_choice import BoreRange, bores_on_supply, steps_of
from burnerlab.appliance.conversion.result import Step, coefficients_of
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.appliance.study.orifice_set import (
    OrificeDemand,
    OrificeSet,
    OrificeUse,
    SetProblem,
    UnservedDemand,
)
from burnerlab.orifice.discharge_coefficient import Coefficient
from burnerlab.orifice.drill import Drill
from burnerlab.orifice.flow import Conditions
from burnerlab.orifice.size import size
from burnerlab.quantity import Basis
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure, percent
from burnerlab.quantity.units import Kind
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]
Aim = Literal["fewest", "cheapest"] | int
NEAR = (0.8, 1.25)  # of the exact bore: beyond it the deviation is that of the area, whatever the coefficient


@dataclass(frozen=True, slots=True, kw_only=True)
class InputEnds:
    """What a heat input may be at the ends of the supply pressure, as changes from the rating [-].

    low : at the lowest pressure, below zero; high : at the highest pressure, above zero
    """

    low: float = field(metadata=output("at the lowest pressure from", Kind.FRACTION, is_change=True))
    high: float = field(metadata=output("at the highest pressure to", Kind.FRACTION, is_change=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDemand:
    """A demand of the line with what stands behind it."""

    demand: OrificeDemand
    jobs: tuple[Job, ...]  # one for each gas of the market, that of the gas sized on first
    burner: Burner

    def deviations(self, drills: Sequence[Drill]) -> Array:
        """Of the heat input from the rating, of gas by drill [-]."""
        bores = np.array([drill.diameter_m for drill in drills])
        return np.array([self._deviations(i, bores) for i in range(len(self.jobs))])

    def _deviations(self, i: int, bores: Array) -> Array:
        """Of one gas: with a constant coefficient the heat input goes with the area, else each bore has its own."""
        exact, job, law = self.demand.exact_m[i], self.jobs[i], _law(self.jobs[i], self.burner)
        found = (bores / exact) ** 2 - 1.0
        for c in (
            np.flatnonzero((bores > NEAR[0] * exact) & (bores < NEAR[1] * exact)) if callable(law) else ()
        ):
            at, count = job.new_conditions, self.burner.orifice.count
            heat_W = flow_through(job, job.new, float(bores[c]), at, law, count).heat_input_W(
                job.appliance.rating
            )
            found[c] = heat_W / _aim_W(job, self.burner) - 1.0
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class LineOrifice:
    """One orifice of the set, and what it is for."""

    drill: Drill = field(metadata=output("orifice", is_part=True))
    demands: int = field(metadata=output("burners and markets served"))
    models: tuple[str, ...] = field(metadata=output("models"))


@dataclass(frozen=True, slots=True, kw_only=True)
class KitOrifice:
    """An orifice in the kit of a model for a market."""

    model: str = field(metadata=output("model"))
    market: str = field(metadata=output("market"))
    drill: Drill = field(metadata=output("orifice", is_part=True))
    pieces: int = field(metadata=output("pieces"))
    burners: tuple[str, ...] = field(metadata=output("for"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedBurner:
    """What one burner of a kind burns with its orifice on a gas of its market, at the nominal pressure."""

    model: str = field(metadata=output("model"))
    market: str = field(metadata=output("market"))
    gas: str = field(metadata=output("gas"))
    gas_title: str = field(metadata=output("gas in words"))
    gauge_pressure_Pa: float = field(metadata=output("gauge pressure", Kind.GAUGE_PRESSURE))
    burner: str = field(metadata=output("burner"))
    drill: Drill = field(metadata=output("orifice", is_part=True))
    region: str = field(metadata=output("region"))
    orifices: int = field(metadata=output("orifices of an appliance"))
    rating_basis: Basis = field(metadata=output("rated"))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    deviation: float = field(metadata=output("from the aim", Kind.FRACTION, is_change=True))
    altitude: str = field(default="", metadata=output("for one altitude only"))

    @property
    def heat_input_W(self) -> float:
        """On the basis of its file."""
        return self.heat_input_net_W if self.rating_basis == "net" else self.heat_input_gross_W


@dataclass(frozen=True, slots=True, kw_only=True)
class SetSize:
    """What one orifice more or fewer does to the line: the best set of one size."""

    count: int = field(metadata=output("different orifices"))
    rms_deviation: float = field(metadata=output("deviation, root mean square", Kind.FRACTION))
    worst_deviation: float = field(metadata=output("largest deviation", Kind.FRACTION))
    price: float | None = field(metadata=output("price of one of each model and market"))


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class ProductLine(WithSummary):
    """The orifices of a product line: first what none serves, then the set and who gets which."""

    models: tuple[str, ...] = field(metadata=output("models"))
    unserved: tuple[UnservedDemand, ...] = field(metadata=output("served by no orifice"))
    outside: tuple[str, ...] = field(metadata=output("other gas of a couple outside its band"))
    best: OrificeSet
    method: str = field(metadata=output("method"))
    """Of the choice: runs of the sorted list, or an integer programme for prices, threads and least differences."""
    sizes: tuple[SetSize, ...] = field(metadata=output("sizes of set"))
    ends: InputEnds | None = field(metadata=output("ends of the heat input"))
    to_buy: tuple[str, ...] = field(metadata=output("orifices to buy"))
    least_difference_m: float = field(metadata=output("orifices of a model differ by", Kind.DIAMETER))
    offered: str = field(metadata=output("orifices offered"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    fitted: tuple[FittedBurner, ...] = field(metadata=output("heat inputs"))
    """By model, market, gas and burner; of a market in which every burner has its orifice."""
    altitude: tuple[str, ...] = field(metadata=output("for one altitude only"))
    """Of each model and market whose orifices altitude changes: for which place alone, or that no rule is chosen."""
    coefficient_sources: tuple[str, ...] = field(default=(), metadata=output("coefficients from"))

    @property
    def incomplete(self) -> dict[tuple[str, str], tuple[str, ...]]:
        """Burners that no orifice serves, by model and market: its kit is not packed."""
        found: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
        for one in self.unserved:
            found[one.demand.model, one.demand.market].append(one.demand.burner)
        return {place: tuple(burners) for place, burners in found.items()}

    @property
    @computed_output("orifices of the kits")
    def kits(self) -> tuple[KitOrifice, ...]:
        """By model and market, of those in which every burner has its orifice."""
        packed: dict[tuple[str, str, Drill], list[OrificeUse]] = {}
        for use in self.uses:
            if (use.demand.model, use.demand.market) not in self.incomplete:
                packed.setdefault((use.demand.model, use.demand.market, use.drill), []).append(use)
        return tuple(
            KitOrifice(
                model=model,
                market=market,
                drill=drill,
                pieces=sum(use.demand.quantity for use in uses),
                burners=tuple(use.demand.burner for use in uses),
            )
            for (model, market, drill), uses in packed.items()
        )

    @property
    def not_served(self) -> str:
        """How many burners and markets the set is not for, of how many; "" where it serves every one."""
        unserved = len(self.unserved)
        if not unserved:
            return ""
        return Phrase(
            "the set does not serve {number} of {demands} burners and markets: no orifice fits. Order nothing for "
            "these.",
            number=unserved,
            demands=unserved + len(self.uses),
        )

    @property
    @computed_output("different orifices")
    def count(self) -> int:
        return self.best.count

    @property
    @computed_output("deviation, root mean square", Kind.FRACTION)
    def rms_deviation(self) -> float:
        """Over all burners, markets and gases [-]."""
        return self.best.rms_deviation

    @property
    @computed_output("orifices")
    def orifices(self) -> tuple[LineOrifice, ...]:
        """The set, by rising bore."""
        return tuple(self._orifice(drill) for drill in self.best.drills)

    def _orifice(self, drill: Drill) -> LineOrifice:
        uses = [use.demand for use in self.best.uses if use.drill is drill]
        return LineOrifice(
            drill=drill, demands=len(uses), models=tuple(dict.fromkeys(use.model for use in uses))
        )

    @property
    @computed_output("burners")
    def uses(self) -> tuple[OrificeUse, ...]:
        """Every burner of every model and market with its orifice."""
        return self.best.uses

    def summary(self) -> Summary:
        rows = (
            (
                use.demand.model,
                use.demand.burner,
                use.demand.market,
                use.drill.part or use.drill.name,
                figure(use.drill.diameter_m, Kind.DIAMETER),
                " ".join(percent(each) for each in use.deviations),
            )
            for use in self.uses
        )
        heads = ("model", "burner", "market", "orifice", "bore", "deviation")
        named = [one.demand.name for one in self.unserved]
        lines = [f"No orifice serves {', '.join(named)}."] if named else []
        lines += [one.line for one in closing_cautions("line")]
        words = f"Different orifices: {self.count}; burners and markets: {len(self.uses)}"
        return Summary(words, (heads, *rows), tuple(lines))


def product_line(
    models: Sequence[Appliance],
    *,
    markets: Sequence[str] = (),
    drills: Sequence[Drill] | None = None,
    to_buy: Sequence[Drill] = (),
    aim: Aim = "fewest",
    ends: InputEnds | None = None,
    apart_m: float = 0.0,
) -> ProductLine:
    """The fewest different orifices that serve every burner of every model in every market, exactly.

    models : each with markets of its own; markets : names or letters of those that count, all of them without
    drills : what there is; without it the drill lists, or the stock, of every model
    to_buy : what can be bought beside it: as few as possible of these, then as few as possible of the others
    aim : the fewest orifices, the cheapest by the price of every piece, or the best set of at most so many
    ends : what the heat inputs may be at the lowest and highest supply pressure; without it they are not limited
    apart_m : two orifices of one model are equal or differ by at least this much [m]
    A drill serves a burner when, at both ends of the tolerance of its hole, the heat input at the nominal pressure lies
    in the band, and with its nominal bore on the supply of the market, as ``convert`` asks. Both gases of a couple get
    one orifice, which holds the band on both, as they are aimed at, and the ends.
    Raises UserError for a model without markets, and where orifices cannot be kept apart.

    >>> from burnerlab.appliance import demonstration
    >>> cart = product_line([demonstration()])
    >>> cart.count, len(cart.uses), len(cart.unserved)
    (8, 12, 0)
    """
    wanted = _demands_of_line(model_names(models), models, markets, ends)
    lists = [one.jobs[0].drills for one in wanted]
    there = tuple(dict.fromkeys(drill for each in dict.fromkeys(lists) for drill in each))
    offered = (*(there if drills is None else drills), *to_buy)
    tolerances = {model.tables.drill_tolerance for model in models}
    problem, found, wanted = _set_on_supplies(
        wanted, offered, aim, set(to_buy), tolerances=_tolerance_table(tolerances), apart_m=apart_m
    )
    lists_of_models = "; ".join(dict.fromkeys(one.jobs[0].drill_words for one in wanted))
    altitudes = dict(_altitudes(wanted))
    return ProductLine(
        models=model_names(models),
        unserved=problem.unserved,
        outside=tuple(_outside(found, wanted)),
        best=found,
        method="runs" if problem.is_of_runs and aim != "cheapest" and not to_buy else "integer programme",
        sizes=tuple(
            _size(found if each.count == found.count else each)
            for each in (problem.sizes() if not to_buy else ())
        ),
        ends=ends,
        to_buy=tuple(drill.name for drill in found.drills if drill in to_buy),
        least_difference_m=apart_m,
        offered=lists_of_models if drills is None else Phrase("as named"),
        notes=tuple(_notes(wanted, ends, len(set(lists)) if drills is None else 1)),
        fitted=tuple(_fitted(problem, found, wanted, altitudes)),
        altitude=_altitude_lines(altitudes),
        coefficient_sources=coefficients_of(
            step.result for one in wanted for job in one.jobs[:1] for step in steps_of(job)
        ),
    )


def _altitude_lines(altitudes: Mapping[tuple[str, str], str]) -> tuple[str, ...]:
    """The altitude of each model and market, in words."""
    return tuple(
        Phrase("{model}, {market}: {altitude}", model=model, market=market, altitude=words)
        for (model, market), words in altitudes.items()
    )


class _LineSet(NamedTuple):
    """A set that the supplies bear, the problem it answers, and the demands with the bores they bear."""

    problem: SetProblem
    best: OrificeSet
    demands: list[LineDemand]


def _set_on_supplies(
    demands: list[LineDemand],
    offered: Sequence[Drill],
    aim: Aim,
    to_buy: set[Drill],
    *,
    tolerances: Path | None,
    apart_m: float,
) -> _LineSet:
    """The best set; each turn takes a bore away that the supply does not bear, until it bears them all."""
    deviations = [one.deviations(offered) for one in demands]
    while True:
        problem = SetProblem(
            [one.demand for one in demands],
            offered,
            deviations=deviations,
            tolerances=tolerances,
            apart_m=apart_m,
        )
        best = _best(problem, aim, to_buy)
        narrowed = _on_supply(demands, best)
        if narrowed == demands:
            return _LineSet(problem=problem, best=best, demands=demands)
        demands = narrowed


def _demands_of_line(
    names: Sequence[str], models: Sequence[Appliance], markets: Sequence[str], ends: InputEnds | None
) -> list[LineDemand]:
    """What every burner of every model asks of an orifice in each of its markets."""
    return [
        demand
        for name, model in zip(names, models, strict=True)
        for market in _markets(model, markets)
        for demand in _demands(name, market, ends)
    ]


def _best(problem: SetProblem, aim: Aim, to_buy: set[Drill]) -> OrificeSet:
    if isinstance(aim, int):
        return problem.at_most(aim)
    if aim == "cheapest":
        unknown = [drill.part or drill.name for drill in problem.drills if drill.price is None]
        if unknown:
            what, fix = "has no price", "give every orifice of the stock a price, or leave cheapest out"
            raise UserError(Problem(what, ", ".join(unknown[:3]), "cheapest", fix=fix))
        return problem.cheapest()
    if to_buy:
        bought = 1.0 + len(problem.drills)
        return problem.cheapest([bought if drill in to_buy else 1.0 for drill in problem.drills])
    return problem.fewest()


def _tolerance_table(tables: set[Path | None]) -> Path | None:
    if len(tables) > 1:
        fix = "give the tolerances in the stock, or one table to all models"
        raise UserError(Problem("the models have different tables", key="drill_tolerance", fix=fix))
    return next(iter(tables), None)


def model_names(models: Sequence[Appliance]) -> tuple[str, ...]:
    """A name for each model: that of the appliance and its model, with its file where that does not tell them apart."""
    plain = [" ".join(filter(None, (one.name, one.model))) for one in models]
    counts = Counter(plain)
    return tuple(
        f"{name} ({Path(one.file).stem or i + 1})" if counts[name] > 1 else name
        for i, (name, one) in enumerate(zip(plain, models, strict=True))
    )


def _markets(model: Appliance, names: Sequence[str]) -> tuple[MarketTarget, ...]:
    """The markets of a model that count. Raises UserError for a model that has none of them."""
    if not names:
        if not model.markets:
            market_named(model, model.name)  # says that there is none, and how one is written
        return targets_of(model)
    return tuple(market_named(model, name, "--market") for name in names)


def _demands(name: str, market: MarketTarget, ends: InputEnds | None) -> Iterator[LineDemand]:
    jobs = tuple(prepare(market.appliance, target) for target in market.targets)
    for burner, supplied in zip(market.appliance.burners, _supplied(jobs), strict=True):
        low_m, high_m = _bores(jobs, burner, ends)
        orifice = burner.orifice
        demand = OrificeDemand(
            model=name,
            burner=burner.name,
            market=market.name,
            low_m=low_m,
            high_m=high_m,
            exact_m=tuple(_bore_m(job, burner, 1.0, job.target.gauge_pressure_Pa) for job in jobs),
            quantity=burner.count * orifice.count,
            threads=(orifice.thread,) if orifice.thread else (),
            least_m=supplied.low_m or None,
            most_m=supplied.high_m if math.isfinite(supplied.high_m) else None,
        )
        yield LineDemand(demand=demand, jobs=jobs, burner=burner)


def _supplied(jobs: Sequence[Job]) -> list[BoreRange]:
    """The bores of each burner that the supply of a market bears, with the orifices of a conversion.

    Where there are none in its lists, with the exact bores: the set is chosen of others then.
    """
    made = [steps_of(job) for job in jobs]
    is_exact = any(step.result.no_drill_meets for step in made[0])
    if is_exact:
        made = [tuple(_with_bore(step, step.sized.diameter_m) for step in steps) for steps in made]
    return bores_on_supply(jobs, made)


def _with_bore(step: Step, diameter_m: float) -> Step:
    return replace(step, choice=replace(step.choice, diameter_m=diameter_m))


def _most_m(job: Job, burner: Burner) -> float:
    """The largest bore with which the second gas of a couple stays below the high end of the band [m]."""
    share = (1.0 + job.tolerance.high) / job.couple_factor  # from the rating, where its orifice gives less
    return _bore_m(job, burner, share, job.target.gauge_pressure_Pa)


def _on_supply(demands: Sequence[LineDemand], best: OrificeSet) -> list[LineDemand]:
    """The demands, with less bores where the supply does not bear an orifice of the set."""
    fitted: defaultdict[tuple[str, str], dict[str, float]] = defaultdict(dict)
    for use in best.uses:
        fitted[use.demand.model, use.demand.market][use.demand.burner] = use.drill.diameter_m
    jobs = {(one.demand.model, one.demand.market): one.jobs for one in demands}
    borne: dict[tuple[str, str, str], BoreRange] = {}
    for (model, market), bores in fitted.items():
        made = [
            tuple(
                _with_bore(step, bores.get(step.burner.name, step.choice.diameter_m))
                for step in steps_of(job)
            )
            for job in jobs[model, market]
        ]
        for step, span in zip(made[0], bores_on_supply(jobs[model, market], made), strict=True):
            bore_m = bores.get(step.burner.name)
            if bore_m is not None and not span.low_m <= bore_m <= span.high_m:
                borne[model, market, step.burner.name] = span
    return [_narrowed(one, borne) for one in demands]


def _narrowed(behind: LineDemand, borne: Mapping[tuple[str, str, str], BoreRange]) -> LineDemand:
    demand = behind.demand
    span = borne.get((demand.model, demand.market, demand.burner))
    if span is None:
        return behind
    least = max(demand.least_m or 0.0, span.low_m)
    most = min(math.inf if demand.most_m is None else demand.most_m, span.high_m)
    return replace(behind, demand=replace(demand, least_m=least, most_m=most))


def _bores(jobs: Sequence[Job], burner: Burner, ends: InputEnds | None) -> tuple[float, float]:
    """The least and the largest bore that hold the band on every gas, and of every gas the ends [m]."""
    first, band = jobs[0], jobs[0].tolerance
    nominal_Pa = first.target.gauge_pressure_Pa
    low = [_bore_m(first, burner, 1.0 + band.low, nominal_Pa)]
    high = [_bore_m(first, burner, 1.0 + band.high, nominal_Pa)]
    for job in jobs[1:]:  # what its orifices leave of the rating on it is the aim below, the rating above
        low.append(_bore_m(job, burner, 1.0 + job.tolerance.low, job.target.gauge_pressure_Pa))
        high.append(_most_m(job, burner))
    for job in jobs if ends is not None else ():
        assert ends is not None
        if job.pressures.low_Pa is not None:
            low.append(_bore_m(job, burner, 1.0 + ends.low, job.pressures.low_Pa))
        if job.pressures.high_Pa is not None:
            high.append(_bore_m(job, burner, 1.0 + ends.high, job.pressures.high_Pa))
    return max(low), min(high)


def _bore_m(job: Job, burner: Burner, share: float, gauge_pressure_Pa: float) -> float:
    """The bore that gives a share of the rating at a pressure [m]."""
    at: Conditions = job.conditions(gauge_pressure_Pa)
    sized = size(
        job.new.flowing,
        share * _aim_W(job, burner),
        job.appliance.rating,
        at,
        _law(job, burner),
        burner.orifice.count,
        combustion_temperature_K=job.combustion_K,
    )
    return float(sized.diameter_m)


def _law(job: Job, burner: Burner) -> Coefficient:
    coefficient = job.target.coefficient
    return law_of(burner.orifice, job.appliance.tables) if coefficient is None else coefficient


def _aim_W(job: Job, burner: Burner) -> float:
    """The rating times what altitude policy and pressure couple leave of it [W]."""
    return burner.rate_W * job.aim_factor


def _outside(best: OrificeSet, demands: Sequence[LineDemand]) -> Iterator[str]:
    """The other gases of a couple whose heat input leaves the band with the orifice of the first."""
    behind = {one.demand: one for one in demands}
    for use in best.uses:
        for job, deviation in zip(behind[use.demand].jobs[1:], use.deviations[1:], strict=True):
            band = job.tolerance
            if not band.low <= deviation <= band.high:
                yield Phrase(
                    "{burner}: {deviation} on {gas}, the other gas of the couple, is outside {low} to {high} %",
                    burner=use.demand.name,
                    deviation=percent(deviation),
                    gas=job.target.gas.name,
                    low=f"{100 * band.low:g}",
                    high=f"{100 * band.high:+g}",
                )


def _fitted(
    problem: SetProblem,
    best: OrificeSet,
    demands: Sequence[LineDemand],
    altitudes: Mapping[tuple[str, str], str],
) -> Iterator[FittedBurner]:
    """Every burner with its orifice on each gas of its market, by market and gas."""
    behind = {one.demand: one for one in demands}
    incomplete = {(one.demand.model, one.demand.market) for one in problem.unserved}
    complete = [use for use in best.uses if (use.demand.model, use.demand.market) not in incomplete]
    for (model, market), several in groupby(complete, key=lambda use: (use.demand.model, use.demand.market)):
        uses = list(several)
        for i, job in enumerate(behind[uses[0].demand].jobs):
            for use in uses:
                burner, deviation = behind[use.demand].burner, use.deviations[i]
                burnt_W = _aim_W(job, burner) * (1.0 + deviation)
                gross_W = burnt_W / job.new.per_kg(job.appliance.rating) * job.new.per_kg("gross")
                yield FittedBurner(
                    model=model,
                    market=market,
                    gas=job.target.gas.name,
                    gas_title=job.target.gas.title,
                    gauge_pressure_Pa=job.target.gauge_pressure_Pa,
                    burner=burner.name,
                    drill=use.drill,
                    region=job.appliance.region,
                    orifices=use.demand.quantity,
                    rating_basis=job.appliance.rating,
                    heat_input_gross_W=gross_W,
                    heat_input_net_W=gross_W * job.new.net_to_gross,
                    deviation=deviation,
                    altitude=altitudes.get((model, market), ""),
                )


def _altitudes(demands: Sequence[LineDemand]) -> Iterator[tuple[tuple[str, str], str]]:
    """Of each model and market whose orifices altitude changes: for which place alone, or that no rule is chosen."""
    for (model, market), (job, *_) in {
        (one.demand.model, one.demand.market): one.jobs for one in demands
    }.items():
        altitude = altitude_of(job, steps_of(job))
        if altitude is not None and (words := altitude.warning or altitude.only):
            yield (model, market), words


def _size(best: OrificeSet) -> SetSize:
    return SetSize(
        count=best.count,
        rms_deviation=best.rms_deviation,
        worst_deviation=best.worst_deviation,
        price=best.price,
    )


WHOLE_TOLERANCE = Phrase(
    "An orifice of the set holds the band at both ends of the tolerance of its hole: it is bought in numbers, and any "
    "of them may be fitted. convert asks it of the nominal bore, as one orifice is fitted and measured; where that "
    "leaves the band at an end, it says drill tolerance."
)


LESS_ON_SECOND = Phrase(
    "On the second gas of a couple that gives less than the band allows, the deviation is from what the orifices of "
    "the first gas leave of the rating, not from the rating."
)


def _notes(demands: Sequence[LineDemand], ends: InputEnds | None, lists: int) -> Iterator[str]:
    yield WHOLE_TOLERANCE
    if any(job.couple_factor < 1.0 for one in demands for job in one.jobs):
        yield LESS_ON_SECOND
    if ends is None:
        yield Phrase(
            "The heat inputs at the lowest and highest supply pressure are not limited: none are entered."
        )
    else:
        unknown = dict.fromkeys(
            Phrase("{gas} in {market}", gas=job.target.gas.name, market=one.demand.market)
            for one in demands
            for job in one.jobs
            if job.pressures.low_Pa is None or job.pressures.high_Pa is None
        )
        if unknown:
            yield Phrase(
                "Lowest or highest supply pressure not known, its end not evaluated: {gases}.",
                gases=joined(", ", unknown),
            )
    if lists > 1:
        yield Phrase("The models have different drill lists; any of their drills is offered to every model.")
    yield Phrase(
        "Heat inputs hold their band on the supply of each market too, with every burner on. Air and flames with these "
        "orifices are not evaluated here, and a job card sizes by itself: convert with this set as --stock evaluates "
        "each burner and makes cards of these orifices."
    )
