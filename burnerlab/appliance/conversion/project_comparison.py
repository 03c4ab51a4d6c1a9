"""Two project files side by side: what differs in their inputs, and what that does to every burner on every market."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.evaluation_result import Which
from burnerlab.appliance.conversion.markets import MarketTarget, targets_of
from burnerlab.appliance.conversion.refusal import not_to_fit, orifice_or_none
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, Finding
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.project.input_comparison import InputComparison, compare_inputs
from burnerlab.appliance.project.model import Appliance
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.quantity import Basis, from_unit
from burnerlab.quantity.outputs import output
from burnerlab.quantity.prose import KINDS
from burnerlab.quantity.quantity_text import quoted
from burnerlab.quantity.show import number
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

DIGITS = 3  # of a figure, as on sheet and card
LEAST_CHANGE = 0.005  # of a figure, below which it is not listed
SAME_BORE = 1e-6  # of a bore: every other one is another part
PRESENT = "present"
OWN_SUPPLY = "its own gas and pressure"
FIRST_ALONE, SECOND_ALONE = "stands in the first file alone", "stands in the second file alone"
DEVIATION = Phrase("deviation from the aim")
LEAST_DEVIATION = 0.5  # per cent of the aim, by which two deviations differ
GROSS, NET = Phrase("Ratings and heat inputs are gross."), Phrase("Ratings and heat inputs are net.")
ALL_ON = Phrase(
    "A heat input is that with all burners on, or all of its kind where that is further off; without a described "
    "supply, and on the present gas, that at the nominal pressure."
)
ORDER = (Verdict.OUTSIDE, Verdict.NEAR, Verdict.NOT_EVALUATED, Verdict.WITHIN)
"""Verdicts from the one to look at first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictChange:
    """A check that comes out differently; None where one side has no such check, which is listed where outside."""

    state: str = field(metadata=output("market"))  # present, or the name of a market with its gas
    burner: str = field(metadata=output("burner"))  # "" for the whole
    topic: str = field(metadata=output("check"))
    before: Verdict | None = field(metadata=output("before"))
    after: Verdict | None = field(metadata=output("after"))
    text_before: str = field(metadata=output("finding before"))
    text_after: str = field(metadata=output("finding after"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureChange:
    """A figure of a burner that differs by more than 0.5 %, in its unit; None where it is not evaluated."""

    state: str = field(metadata=output("market"))
    burner: str = field(metadata=output("burner"))
    figure: str = field(metadata=output("figure"))
    unit: str = field(metadata=output("unit"))
    before: float | None = field(metadata=output("before"))
    after: float | None = field(metadata=output("after"))
    text_before: str = field(metadata=output("before, in words"))  # a drill, or the limit of a margin
    text_after: str = field(metadata=output("after, in words"))

    @property
    def change(self) -> float | None:
        """After over before, less 1 [-]; None where one is not evaluated, the first is 0, or it is a deviation.

        None too of margins to two different limits.
        """
        if self.before is None or self.after is None or not self.before or self.figure == DEVIATION:
            return None
        if not self.unit and self.text_before != self.text_after:
            return None
        return self.after / self.before - 1.0

    @property
    def texts(self) -> tuple[str, str]:
        """Both sides as they are printed, "" where one is not evaluated; exact in the units of either reader."""
        sides = (self.text_before, self.before), (self.text_after, self.after)
        before, after = (_figure_text(words, value, self.unit) for words, value in sides)
        return before, after


def _figure_text(words: str, value: float | None, unit: str) -> str:
    """A figure with its unit; a drill by its name, a margin with that of its limit.

    >>> _figure_text("", 3.6634, "kW"), _figure_text("#54", 1.397, "mm"), _figure_text("yellow tips", 1.049, "")
    ('3.66 kW', '#54', 'yellow tips 1.05')
    """
    if value is None or (words and unit):
        return words if value is not None else ""
    kind, shown = KINDS.get(unit), number(value, DIGITS)
    if kind is None:
        return " ".join(filter(None, (words, shown, unit)))
    places = len(shown.partition(".")[2])
    return quoted(from_unit(value, kind, unit), kind, unit, f".{places}f")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectComparison:
    """What differs between two project files: what was written, then what follows."""

    inputs: InputComparison = field(metadata=output("inputs"))
    verdicts: tuple[VerdictChange, ...] = field(metadata=output("verdicts that differ"))
    figures: tuple[FigureChange, ...] = field(metadata=output("figures that differ"))
    states: tuple[str, ...] = field(metadata=output("compared on"))
    basis: Basis = field(default="gross", metadata=output("basis of ratings and heat inputs"))
    problems: tuple[Problem, ...] = ()  # why what follows is not compared, or not on a market
    states_alone: tuple[Problem, ...] = ()  # gases of markets that the other file has not

    @property
    def notes(self) -> tuple[str, ...]:
        """What the figures are of; nothing where none differs."""
        if not self.figures:
            return ()
        basis = NET if self.basis == "net" else GROSS
        return basis, ALL_ON

    @property
    def not_compared(self) -> tuple[Problem, ...]:
        """Everything that is not compared, with the reason."""
        return *self.problems, *self.states_alone

    @property
    def is_same(self) -> bool:
        """Whether nothing differs but how it is written."""
        parts = (self.inputs.changes, self.inputs.alone, self.inputs.renamed, self.verdicts, self.figures)
        return not any(parts)


def compare_projects(
    a: ProjectText, b: ProjectText, target: tuple[Gas | DeclaredGas, float] | None = None
) -> ProjectComparison:
    """What differs between two project files, and what that does to every burner.

    a, b : before and after; target : a gas and its gauge pressure [Pa] in place of the markets of the files
    The present state, and each market that both have, by name or under another name; of files without markets their
    own gas and pressure. A market that one file has alone is said. Burners are paired by name, else by content.
    A file that cannot be read, or a market that cannot be calculated,
    is said among ``problems``, and what can be compared is compared.

    >>> text = ProjectText.blank()
    >>> compare_projects(text, text).is_same
    True
    >>> found = compare_projects(text, text.with_values({"burner[1].rate": "14 kBtu/h"}))
    >>> [change.label for change in found.inputs.changes], found.figures[0].figure
    (['rate'], 'rating, gross')
    """
    inputs = compare_inputs(a, b)
    contents = a.content(), b.content()
    problems = tuple(problem for content in contents for problem in content.problems)
    first, second = (content.appliance for content in contents)
    if first is None or second is None:
        return ProjectComparison(inputs=inputs, verdicts=(), figures=(), states=(), problems=problems)
    sides = _conversions(first, target), _conversions(second, target)
    pairs = _paired_states(*sides, inputs)
    names = {pair.before: pair.after for pair in inputs.pairs_of("burner") if pair.before and pair.after}
    verdicts, figures = list[VerdictChange](), list[FigureChange]()
    common = [
        (after.state, (before.made, after.made))
        for before, after in pairs
        if before.made is not None and after.made is not None
    ]
    for place, (state, pair) in enumerate(common):
        for which in (PRESENT, "new") if place == 0 else ("new",):
            said = PRESENT if which == PRESENT else state
            verdicts += _verdicts(said, which, *pair, names)
            figures += _figures(said, which, *pair, names)
    return ProjectComparison(
        inputs=inputs,
        verdicts=tuple(sorted(verdicts, key=_urgency)),
        figures=tuple(figures),
        states=tuple(state for state, _ in common),
        basis=_basis(first.rating, second.rating),
        problems=tuple(problem for side in sides for one in side for problem in one.problems),
        states_alone=tuple(_states_alone(sides, pairs)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _State:
    """One gas of one market of a file, converted to, or why it cannot be."""

    number: int  # of the market in its file, from 1; 0 for none
    gas: str
    state: str  # in words
    made: Conversion | None = None
    problems: tuple[Problem, ...] = ()


def _conversions(appliance: Appliance, target: tuple[Gas | DeclaredGas, float] | None) -> tuple[_State, ...]:
    """The evaluated conversions of a file by market and gas; what cannot be calculated is named."""
    states = []
    for place, name, one, at in _targets(appliance, target):
        state = _State(number=place, gas=at.gas.name, state=name)
        try:
            states.append(replace(state, made=evaluate_conversion(convert_to(one, at))))
        except UserError as error:
            problems = tuple(replace(problem, key=f"{name}: {problem.key}") for problem in error.problems)
            states.append(replace(state, problems=problems))
    return tuple(states)


def _paired_states(
    before: Sequence[_State], after: Sequence[_State], inputs: InputComparison
) -> list[tuple[_State, _State]]:
    """The states of two files that are compared: gases of one market, the same gas first, then in their order."""
    markets = {
        pair.number_before: pair.number_after
        for pair in inputs.pairs_of("market")
        if pair.number_before is not None and pair.number_after is not None
    }
    left, pairs = list(after), list[tuple[_State, _State]]()
    for is_same_gas in (True, False):
        for one in before:
            if any(one is first for first, _ in pairs):
                continue
            place = markets.get(one.number, 0 if not one.number else None)
            other = next(
                (each for each in left if each.number == place and (each.gas == one.gas or not is_same_gas)),
                None,
            )
            if other is not None:
                left.remove(other)
                pairs.append((one, other))
    return sorted(pairs, key=lambda pair: before.index(pair[0]))


def _states_alone(
    sides: tuple[Sequence[_State], Sequence[_State]], pairs: Sequence[tuple[_State, _State]]
) -> Iterator[Problem]:
    """What one file is converted to and the other is not."""
    for place, (side, words) in enumerate(zip(sides, (FIRST_ALONE, SECOND_ALONE), strict=True)):
        for one in side:
            if not any(one is pair[place] for pair in pairs):
                yield Problem(words, value=one.state)


def _targets(
    appliance: Appliance, target: tuple[Gas | DeclaredGas, float] | None
) -> Iterator[tuple[int, str, Appliance, ConversionTarget]]:
    """Number of the market, what it is in words, the appliance there, and what it is converted to."""
    if target is not None:
        gas, pressure_Pa = target
        yield 0, gas.name, appliance, ConversionTarget(gas=gas, gauge_pressure_Pa=pressure_Pa)
        return
    markets: tuple[MarketTarget, ...] = targets_of(appliance)
    for one in markets:
        for at in one.targets:
            state = one.name if len(one.targets) == 1 else f"{one.name}, {at.gas.name}"
            yield one.number, state, one.appliance, at
    if not markets:
        supply = appliance.supply
        own = ConversionTarget(
            gas=supply.gas,
            gauge_pressure_Pa=supply.gauge_pressure_Pa,
            allow_high_pressure=supply.allow_high_pressure,
        )
        yield 0, OWN_SUPPLY, appliance, own


# Verdicts.


def _urgency(change: VerdictChange) -> int:
    """Worse than it was first, then by what it is now."""
    ranks = [len(ORDER) if one is None else ORDER.index(one) for one in (change.before, change.after)]
    return ranks[1] + (0 if ranks[1] < ranks[0] else len(ORDER) + 1)


def _verdicts(
    state: str, which: str, before: Conversion, after: Conversion, names: Mapping[str, str]
) -> Iterator[VerdictChange]:
    old, new = _checks(before, which, names), _checks(after, which, {})
    for key in dict.fromkeys((*old, *new)):
        here, there = old.get(key), new.get(key)
        verdicts = [None if one is None else one.verdict for one in (here, there)]
        is_listed = None not in verdicts or Verdict.OUTSIDE in verdicts  # of a burner that one file has
        if verdicts[0] != verdicts[1] and is_listed:
            yield VerdictChange(
                state=state,
                burner=key[0],
                topic=key[1],
                before=verdicts[0],
                after=verdicts[1],
                text_before="" if here is None else here.text,
                text_after="" if there is None else there.text,
            )


def _checks(c: Conversion, which: str, names: Mapping[str, str]) -> dict[tuple[str, str], Finding]:
    """The checks of a state by burner, as the second file names it, and topic."""
    found: dict[tuple[str, str], Finding] = {}
    for one in c.findings:
        is_present = one.which_gas == PRESENT or one.topic == "present heat input"
        if is_present == (which == PRESENT):
            found.setdefault((names.get(one.burner, one.burner), one.topic), one)
    return found


# Figures.


@dataclass(frozen=True, slots=True)
class _Figure:
    name: str
    unit: str
    value: float | None
    words: str = ""
    least: float = LEAST_CHANGE  # relative, from which it is listed


def _basis(before: str, after: str) -> Basis:
    """Of two bases gross is the common one."""
    return "net" if before == after == "net" else "gross"


def _figures(
    state: str, which: str, before: Conversion, after: Conversion, names: Mapping[str, str]
) -> Iterator[FigureChange]:
    basis = _basis(before.rating_basis, after.rating_basis)
    old = {
        names.get(b.name, b.name): list(_of_burner(before, b, which, basis))
        for b in before.burners
        if b.name in names
    }
    new = {b.name: list(_of_burner(after, b, which, basis)) for b in after.burners}
    for burner, its in old.items():
        for here, there in zip(its, new.get(burner, its), strict=True):
            if _differs(here, there):
                yield FigureChange(
                    state=state,
                    burner=burner,
                    figure=there.name,
                    unit=there.unit,
                    before=here.value,
                    after=there.value,
                    text_before=here.words,
                    text_after=there.words,
                )


def _differs(here: _Figure, there: _Figure) -> bool:
    if here.value is None or there.value is None:
        return here.value is not there.value
    if not here.unit and here.words != there.words:  # of another limit
        return True
    if here.name == DEVIATION:
        return abs(there.value - here.value) > here.least
    return abs(there.value - here.value) > here.least * max(abs(here.value), abs(there.value))


def _of_burner(c: Conversion, b: BurnerConversion, which: str, basis: Basis) -> Iterator[_Figure]:
    """Orifice, rate, heat input, air and the nearest limit of a burner, always in this order."""
    used = c.from_gas if which == PRESENT else c.to_gas
    of_gross = used.net_heating_value_J_per_kg / used.gross_heating_value_J_per_kg if basis == "net" else 1.0
    gas: Which = "present" if which == PRESENT else "new"
    if gas == "present":
        bore_m, drill, rate_W, given_W = (
            b.from_orifice_m,
            b.from_drill,
            b.from_rate_gross_W,
            b.from_predicted_gross_W,
        )
        aim_W = b.from_rate_gross_W * (1.0 if c.job is None else c.job.old_policy.factor)
    else:
        bore_m, rate_W = b.choice.diameter_m, b.rate_gross_W
        drill = orifice_or_none(b, b.choice.drill, not_to_fit(c))
        given_W, aim_W = b.headline.heat_input_gross_W, b.aim_gross_W
    yield _Figure(Phrase("orifice"), "mm", None if bore_m is None else 1e3 * bore_m, drill, SAME_BORE)
    yield _Figure(Phrase("rating, {basis}", basis=basis), "kW", rate_W * of_gross / 1e3)
    given_kW = None if given_W is None else given_W * of_gross / 1e3
    heat = Phrase("heat input, {basis}", basis=basis)
    yield _Figure(heat, "kW", given_kW)
    off = None if given_W is None else 100.0 * (given_W / aim_W - 1.0)
    yield _Figure(DEVIATION, "%", off, "" if off is None else f"{off:+.1f} %", LEAST_DEVIATION)
    yield from _air(c, b, gas)


def _air(c: Conversion, b: BurnerConversion, gas: Which) -> Iterator[_Figure]:
    flames = None if c.evaluation is None else c.evaluation.flames_of(b.name)
    tiles = () if c.evaluation is None else c.evaluation.tiles
    tile = next((one for one in tiles if (one.burner, one.which_gas) == (b.name, gas)), None)
    warm = None if flames is None else flames.warm_up(gas)
    full = None if flames is None else flames.full(gas)
    cold = warm.cold_primary_aeration if warm is not None else None if full is None else full.primary_aeration
    hot = None if warm is None else warm.hot_primary_aeration
    if tile is not None:
        cold, hot = tile.cold_primary_aeration, tile.hot_primary_aeration
    nearest = None if warm is None else warm.nearest_margin
    words = "" if warm is None else warm.nearest_limit
    yield _Figure(Phrase("primary air, cold"), "%", None if cold is None else 100.0 * cold.value)
    yield _Figure(Phrase("primary air, hot"), "%", None if hot is None else 100.0 * hot.value)
    yield _Figure(
        Phrase("margin to the nearest limit"), "", None if nearest is None else nearest.value, words
    )
    face = None if tile is None or tile.face_temperature_K is None else tile.face_temperature_K.value - 273.15
    yield _Figure(Phrase("tile face"), "°C", face)
