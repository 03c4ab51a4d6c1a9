"""The paper of two appliance files: what differs in their inputs, and what that does to every burner."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from burnerlab.appliance.conversion.project_comparison import FigureChange, ProjectComparison
from burnerlab.appliance.project.input_comparison import InputChange, InputComparison
from burnerlab.quantity.outputs import flat
from burnerlab.report.layout_page import PlainTable
from burnerlab.report.sheet.wording import clean, name
from burnerlab.report.study_paper import StudyPaper
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict

ABSENT = "–"
BEFORE, AFTER = Phrase("Before"), Phrase("After")


def comparison_paper(
    comparison: ProjectComparison, files: tuple[str, str], model: str, input_sha256: str
) -> StudyPaper:
    """What differs: inputs as they are written, checks worst first, figures of every burner.

    files : what the two are called; model : the name of the appliance
    """
    outside = sum(one.after is Verdict.OUTSIDE for one in comparison.verdicts)
    return StudyPaper(
        kind=Phrase("Comparison"),
        title=name(model),
        subtitle=Phrase("{before} and {after}", before=clean(files[0], 120), after=clean(files[1], 120)),
        headline=(
            (Phrase("Newly outside, of the checks that differ"), str(outside)),
            (Phrase("Checks that differ"), str(len(comparison.verdicts))),
            (Phrase("Figures that differ"), str(len(comparison.figures))),
        ),
        tables=(*_checks(comparison), *_figures(comparison), *_inputs(comparison.inputs)),
        notes=(*comparison.notes, *_notes(comparison)),
        rows=tuple(flat(one) | {"change": one.change} for one in comparison.figures),
        input_sha256=input_sha256,
    )


def _inputs(inputs: InputComparison) -> Iterator[PlainTable]:
    rows = tuple(
        (owner(change), clean(change.label), clean(change.before or ABSENT), clean(change.after or ABSENT))
        for change in inputs.changes
    )
    if rows:
        heads = (Phrase("Of"), Phrase("Input"), BEFORE, AFTER)
        yield PlainTable(caption=Phrase("Inputs"), heads=heads, rows=rows, words=True)
    alone = tuple(
        (
            clean(one.table.replace("_", " ")),
            clean(one.before or str(one.number_before or "") or ABSENT),
            clean(one.after or str(one.number_after or "") or ABSENT),
        )
        for one in (*inputs.renamed, *inputs.alone)
    )
    if alone:
        caption = Phrase("Entries new, gone or renamed")
        yield PlainTable(caption=caption, heads=(Phrase("Entry"), BEFORE, AFTER), rows=alone, words=True)


def owner(change: InputChange) -> str:
    """What an input belongs to: its burner, market or panel by name, else its table of the file."""
    return clean(change.entry or change.key.partition(".")[0].replace("_", " "))


def _checks(comparison: ProjectComparison) -> Iterator[PlainTable]:
    for state in dict.fromkeys(one.state for one in comparison.verdicts):
        rows = tuple(
            (clean(one.burner), clean(one.topic), _verdict(one.before), _verdict(one.after))
            for one in comparison.verdicts
            if one.state == state
        )
        heads = (Phrase("Burner"), Phrase("Check"), BEFORE, AFTER)
        caption = Phrase("Checks that come out differently, {state}", state=clean(state, 120))
        yield PlainTable(caption=caption, heads=heads, rows=rows, words=True)


def _verdict(verdict: Verdict | None) -> str:
    return ABSENT if verdict is None else verdict.emphatic


def _figures(comparison: ProjectComparison) -> Iterator[PlainTable]:
    for state, several in groupby(comparison.figures, key=lambda change: change.state):
        caption = Phrase("Figures that change by more than 0.5 %, {state}", state=clean(state, 120))
        heads = (Phrase("Burner"), Phrase("Figure"), BEFORE, AFTER, Phrase("Change"))
        yield PlainTable(caption=caption, heads=heads, rows=_rows(list(several)), words=True)


def _rows(changes: Sequence[FigureChange]) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (
            clean(one.burner),
            clean(one.figure),
            *(text or ABSENT for text in one.texts),
            "" if one.change is None else f"{100 * one.change:+.1f} %",
        )
        for one in changes
    )


def _notes(comparison: ProjectComparison) -> Iterator[str]:
    """What is only written another way, stands in another order, or is not compared."""
    inputs = comparison.inputs
    if inputs.respelt:
        keys = joined(", ", [clean(change.key) for change in inputs.respelt])
        yield Phrase("The same, written another way: {keys}", keys=keys)
    for table in inputs.reordered:
        yield Phrase("In another order: {table}", table=clean(table))
    for problem in comparison.not_compared:
        yield Phrase("Not compared: {problem}", problem=clean(problem.text(), 300))
