"""Burners that no orifice offered fits: one rule, which every paper, page and file has from here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

from burnerlab.appliance.conversion.convert import couple_in
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.orifice_choice import changed_by, steps_of
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, Finding, Step
from burnerlab.appliance.memory import Same
from burnerlab.appliance.operation.operate import solved_inputs_gross_W
from burnerlab.orifice.drill import none_fits_words
from burnerlab.tables.phrase import Phrase, joined

CONVERSIONS = 32  # whose refusals are remembered: those of an edit on several markets
MOST_NAMED = 2  # burners in the line at the head of a paper; each stands below it


def over_aim(c: Conversion) -> list[float]:
    """Heat input of each burner over its aim with every burner on [-]; at the nominal pressure without a supply.

    The supply is solved for a conversion that is not evaluated too: papers of both kinds say the same.

    >>> from burnerlab.appliance import convert, demonstration
    >>> [round(each, 3) for each in over_aim(convert(demonstration(), "propane", 2740.0))]
    [0.981, 1.008, 0.981, 0.979, 0.982, 0.985]
    """
    return [together for together, _ in _over_aim(c)]


def over_aim_of(job: Job, steps: tuple[Step, ...], burners: Sequence[BurnerConversion]) -> list[float]:
    """``over_aim`` of the burners of a job through the orifices of its steps, its supply solved anew."""
    return [together for together, _ in _over_aim_of(job, steps, burners)]


def _over_aim(c: Conversion) -> list[tuple[float, float]]:
    """Heat input over its aim, with every burner on and with its kind alone [-]."""
    known = [(b.headline.deviation_all_on, b.headline.deviation_alone) for b in c.burners]
    if any(None in pair for pair in known) and c.job is not None:
        return _over_aim_of(c.job, steps_of(c.job), c.burners)
    return [
        (1.0 + (b.drill_deviation if x is None else x), 1.0 + (b.drill_deviation if y is None else y))
        for b, (x, y) in zip(c.burners, known, strict=True)
    ]


def _over_aim_of(
    job: Job, steps: tuple[Step, ...], burners: Sequence[BurnerConversion]
) -> list[tuple[float, float]]:
    solved = solved_inputs_gross_W(changed_by(job, steps))
    if solved is None:
        return [(1.0 + b.drill_deviation,) * 2 for b in burners]
    return [
        (together_W / b.aim_gross_W, alone_W / b.aim_gross_W)
        for (together_W, alone_W), b in zip(solved, burners, strict=True)
    ]


DECIDES = Phrase("An engineer decides before anything is fitted.")
"""Of an orifice with a check OUTSIDE, on every paper that names it: card, leaflet, kit list, table of a manual."""
TEST_DECIDES = Phrase(
    "By an estimate that leaves it open: look and measure there first when lit. If it is so: burner off, gas shut off, "
    "an engineer decides."
)
"""In its place where flame test or meter show each of these checks at once."""


SET_FIRST = Phrase("The shutter is set to the opening of the job card before the burner is lit.")
"""Where the shutter as it stands now is all that is outside."""
DECISIONS = (DECIDES, TEST_DECIDES, SET_FIRST)
"""From the gravest on."""


def decision_on(outside: Iterable[Finding]) -> str:
    """What is to be done about checks that are outside, as the job card has it; "" where none is."""
    each = {
        SET_FIRST if one.is_set_on_the_card else TEST_DECIDES if one.test_decides else DECIDES
        for one in outside
    }
    return gravest(each)


def gravest(decisions: Iterable[str]) -> str:
    """Of several decisions the one that holds before the others; "" of none.

    >>> gravest([SET_FIRST, DECIDES, ""]) == DECIDES, gravest([""])
    (True, '')
    """
    return min(filter(None, decisions), key=DECISIONS.index, default="")


def is_second_of_couple(c: Conversion) -> bool:
    """Whether a conversion is to the second gas of a pressure couple, whose orifice the first gas sizes."""
    return c.job is not None and c.job.reference is not None


def refusals(c: Conversion) -> dict[str, str]:
    """Burners that no orifice offered fits, and why: no drill in the band, outside it all on, or over it alone.

    Of a pressure couple both gases refuse, which burn through one orifice: the second what the first does, the first
    what exceeds the band on the second. That gives less than the rating where its couple does (G25 after G20): an
    input below the band refuses nothing there.
    """
    return dict(_refusals_of(Same(c)))


@lru_cache(maxsize=CONVERSIONS)
def _refusals_of(same: Same) -> Mapping[str, str]:
    """``refusals`` of a conversion, which every cell of a page asks for."""
    c: Conversion = same.thing  # type: ignore[assignment]  # as it was put in
    over = _over_aim(c)
    if c.job is None:
        return {b.name: why for b, x in zip(c.burners, over, strict=True) if (why := _why(c, b, x))}
    return _refusals(c.job, c.burners, over)


def not_to_fit(c: Conversion) -> frozenset[str]:
    """Names of the burners that no orifice offered fits, see ``refusals``."""
    return frozenset(refusals(c))


def no_orifice_words(names: Sequence[str]) -> str:
    """That no orifice fits some burners, short, as it stands at the head of card, plan and bench.

    >>> no_orifice_words(["ring", "tube"]), no_orifice_words(["ring", "tube left", "tube right"])
    ('no orifice fits ring, tube', 'no orifice fits ring and 2 more')
    """
    many = Phrase("{first} and {count} more", first=names[0], count=len(names) - 1)
    return Phrase(
        "no orifice fits {burners}", burners=many if len(names) > MOST_NAMED else joined(", ", names)
    )


def refusals_of_job(job: Job, steps: tuple[Step, ...]) -> dict[str, str]:
    """``refusals`` of the burners of a job, of which no conversion is made."""
    burners = [step.result for step in steps]
    return _refusals(job, burners, _over_aim_of(job, steps, burners))


def _refusals(
    job: Job, burners: Sequence[BurnerConversion], over: Sequence[tuple[float, float]]
) -> dict[str, str]:
    band, is_second = job.tolerance, job.reference is not None
    other = (
        over_on_second(job, steps_of(job))
        if job.reference is None
        else refusals_of_job(job.reference, steps_of(job.reference))
    )
    first = () if job.reference is None else steps_of(job.reference)
    none_fits = {step.burner.name: step.result.no_drill_meets for step in first}
    found: dict[str, str] = {}
    for b, ratio in zip(burners, over, strict=True):
        why = b.no_drill_meets or none_fits.get(b.name, "")
        why = why or _outside(ratio, band.low, band.high, is_second=is_second)
        if why := why or other.get(b.name, ""):
            found[b.name] = why
    return found


def over_on_second(job: Job, steps: tuple[Step, ...]) -> dict[str, str]:
    """Burners whose orifice exceeds the band on the second gas of the job's pressure couple, at its pressure."""
    couple = couple_in(job, steps)
    if couple is None:
        return {}
    band = job.tolerance
    return {
        each.burner: Phrase(
            "heat input {deviation} % on {gas} with the same orifices, outside {low} to {high} %",
            deviation=f"{100.0 * each.other_deviation:+.1f}",
            gas=couple.other_gas,
            low=f"{100.0 * band.low:+g}",
            high=f"{100.0 * band.high:+g}",
        )
        for each in couple.inputs
        if each.other_deviation > band.high
    }


def _why(c: Conversion, b: BurnerConversion, over: tuple[float, float]) -> str:
    return b.no_drill_meets or _outside(over, c.tolerance_low, c.tolerance, is_second=False)


def _outside(over: tuple[float, float], low: float, high: float, *, is_second: bool) -> str:
    """Why an orifice is outside its band on the supply; over : heat input over aim, all on and alone [-]."""
    together, alone = over
    if alone > 1.0 + high >= together:
        return Phrase(
            "heat input {deviation} % with its kind alone on, above {high} %",
            deviation=f"{100.0 * (alone - 1.0):+.1f}",
            high=f"{100.0 * high:+g}",
        )
    if together > 1.0 + high or (together < 1.0 + low and not is_second):
        return Phrase(
            "heat input {deviation} % with all burners on, outside {low} to {high} %",
            deviation=f"{100.0 * (together - 1.0):+.1f}",
            low=f"{100.0 * low:+g}",
            high=f"{100.0 * high:+g}",
        )
    return ""


def orifice_or_none(b: BurnerConversion, words: str, refused: frozenset[str]) -> str:
    """The orifice of a burner in words, or that none fits; refused : ``not_to_fit``."""
    return none_fits_words(words) if b.name in refused else words
