"""Two texts of an appliance side by side: what was written differently, then what follows from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from burnerlab.appliance.conversion.project_comparison import (
    FigureChange,
    ProjectComparison,
    compare_projects,
)
from burnerlab.appliance.project.input_comparison import InputComparison, compare_inputs
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.page.desk_form import place_of
from burnerlab.page.form import words
from burnerlab.page.result_text import minus
from burnerlab.quantity import System
from burnerlab.quantity.prose import in_reader_units
from burnerlab.tables.problem import Problem
from burnerlab.tables.verdict import Verdict

ABSENT = "not given"
NO_CHECK = "no check"
NOT_EVALUATED = "not evaluated"


@dataclass(frozen=True, slots=True)
class DifferenceLine:
    """What differs: where, before and after, and by how much where that is a figure."""

    place: str
    before: str
    after: str
    state: str = ""  # present, or a market
    change: str = ""


@dataclass(frozen=True, slots=True)
class DifferenceView:
    """What a page shows of two texts."""

    inputs: tuple[DifferenceLine, ...]
    notes: tuple[str, ...]  # renamed, moved, added and removed entries
    verdicts: tuple[DifferenceLine, ...] = ()
    figures: tuple[DifferenceLine, ...] = ()
    problems: tuple[str, ...] = ()  # why what follows is not compared
    figure_notes: tuple[str, ...] = ()  # what the figures are of

    @property
    def is_same(self) -> bool:
        return not any((self.inputs, self.notes, self.verdicts, self.figures))

    @property
    def checks_by_state(self) -> tuple[tuple[str, tuple[DifferenceLine, ...]], ...]:
        """Checks that come out differently, of the present supply and of each market."""
        return _by_state(self.verdicts)

    @property
    def figures_by_state(self) -> tuple[tuple[str, tuple[DifferenceLine, ...]], ...]:
        return _by_state(self.figures)


def _by_state(lines: tuple[DifferenceLine, ...]) -> tuple[tuple[str, tuple[DifferenceLine, ...]], ...]:
    states = dict.fromkeys(one.state for one in lines)
    return tuple((state, tuple(one for one in lines if one.state == state)) for state in states)


def input_differences(before: ProjectText, after: ProjectText) -> DifferenceView:
    """What was written differently, and nothing of what follows."""
    return _inputs(compare_inputs(before, after))


def all_differences(before: ProjectText, after: ProjectText, system: System = "metric") -> DifferenceView:
    """What was written differently, and what that does to every burner on every market."""
    found = compare_projects(before, after)
    inputs = _inputs(found.inputs)
    return DifferenceView(
        inputs=inputs.inputs,
        notes=inputs.notes,
        verdicts=tuple(_verdicts(found)),
        figures=tuple(_figure(change, system) for change in found.figures),
        figure_notes=found.notes,
        problems=tuple(_problem(one, after.values()) for one in found.not_compared),
    )


def _problem(problem: Problem, values: Mapping[str, str]) -> str:
    """What keeps a text from being compared, by the place on the page."""
    return ": ".join(filter(None, (place_of(problem.key, values) if problem.key else "", words(problem))))


def _inputs(comparison: InputComparison) -> DifferenceView:
    lines = tuple(
        DifferenceLine(
            place=", ".join(filter(None, (change.entry, change.label))),
            before=change.before or ABSENT,
            after=change.after or ABSENT,
        )
        for change in comparison.changes
    )
    return DifferenceView(inputs=lines, notes=tuple(_notes(comparison)))


def _notes(comparison: InputComparison) -> Iterator[str]:
    for pair in comparison.renamed:
        yield f"{pair.table} {pair.before} is now named {pair.after}"
    for pair in comparison.alone:
        is_new = pair.number_before is None
        name = (pair.after if is_new else pair.before) or str(
            pair.number_after if is_new else pair.number_before
        )
        yield f"{pair.table} {name} is {'new' if is_new else 'gone'}"
    for table in comparison.reordered:
        yield f"{table}: in another order"


def _verdicts(comparison: ProjectComparison) -> Iterator[DifferenceLine]:
    for change in comparison.verdicts:
        yield DifferenceLine(
            place=", ".join(filter(None, (change.burner, change.topic))),
            before=_verdict(change.before),
            after=_verdict(change.after),
            state=change.state,
        )


def _verdict(verdict: Verdict | None) -> str:
    return NO_CHECK if verdict is None else verdict.emphatic


def _figure(change: FigureChange, system: System) -> DifferenceLine:
    before, after = (in_reader_units(text, system) or NOT_EVALUATED for text in change.texts)
    return DifferenceLine(
        place=f"{change.burner}, {change.figure}",
        before=minus(before),
        after=minus(after),
        state=change.state,
        change="" if change.change is None else minus(f"{100 * change.change:+.1f} %"),
    )
