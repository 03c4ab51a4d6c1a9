"""``compare``: two appliance files side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.common_inputs import Destination, destination, note_appliance, write_files
from burnerlab.cli.gas_inputs import SECOND_GAS
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    for_reader,
    print_cautions,
    print_json,
    print_look_up,
    print_notes,
    table,
    wrapped,
)
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.handbook_link import handbook_of
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.conversion.project_comparison import FigureChange, ProjectComparison
    from burnerlab.appliance.project.input_comparison import InputComparison, Pair
    from burnerlab.appliance.project.project_text import ProjectText
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.report.study_paper import StudyPaper
    from burnerlab.tables.languages import Language

ARROW = "→"
ABSENT = "-"
SHORT = {
    "rating, gross": "rating",
    "rating, net": "rating",
    "heat input, gross": "heat input",
    "heat input, net": "heat input",
    "primary air, cold": "air, cold",
    "primary air, hot": "air, hot",
    "margin to the nearest limit": "nearest limit",
    "deviation from the aim": "deviation",
}
"""Names of figures in the terminal; the basis of inputs stands below them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoFiles:
    """The texts of two appliance files, before and after."""

    before: ProjectText
    after: ProjectText

    @property
    def appliances(self) -> tuple[Appliance, ...]:
        """Of those that read."""
        found = (text.content().appliance for text in (self.before, self.after))
        return tuple(one for one in found if one is not None)

    @property
    def region(self) -> str:
        """Of both files, where it is one."""
        regions = {one.region for one in self.appliances}
        return regions.pop() if len(regions) == 1 else ""

    @property
    def language(self) -> Language | None:
        """Of both files, where it is one."""
        languages = {one.language: one.reader_language for one in self.appliances}
        return languages.popitem()[1] if len(languages) == 1 else None

    def paper(self, comparison: ProjectComparison) -> StudyPaper:
        """What differs, as page, PDF, workbook and CSV."""
        from burnerlab.report.comparison_paper import comparison_paper

        digest = sha256((self.before.digest + self.after.digest).encode()).hexdigest()
        names = self.before.file, self.after.file
        return comparison_paper(comparison, names, self.appliances[-1].name, digest)


def _files(first: str, second: str | None) -> TwoFiles:
    from burnerlab.appliance.project.project_file import DRAFT_ENDING, read_input
    from burnerlab.appliance.project.project_text import ProjectText

    if second is None:
        draft = Path(first).with_suffix(DRAFT_ENDING)
        if not draft.is_file():
            what, fix = (
                "there is no second file, and no draft next to the first",
                f"name a file, or save {draft.name}",
            )
            raise UserError(Problem(what, value=str(draft), key="B", fix=fix))
        second = str(draft)
    read = [read_input(name) for name in (first, second)]
    before, after = (ProjectText(file.text, name) for file, name in read)
    made = TwoFiles(before=before, after=after)
    for one in made.appliances:
        note_appliance(one)
    return made


TWO_FILES = Group(
    make=_files,
    inputs=(
        Input(name="first", reader=as_written, metavar="A", is_argument=True, is_needed=True),
        Input(name="second", reader=as_written, metavar="[B]", is_argument=True),
    ),
)
"""Two appliance files, or one and the draft beside it: ``TwoFiles``."""


@click.command(short_help="What differs between two appliance files, and what that does.")
@takes(files=TWO_FILES, target=SECOND_GAS, to=destination("the comparison as page, PDF, workbook and CSV"))
@json_option
def compare_command(
    files: TwoFiles, target: tuple[Gas | DeclaredGas, float] | None, to: Destination, as_json: bool
) -> None:
    """What differs between the appliance files A and B, and what that does to every burner.

    Values are compared in SI to six digits: 12.5 kBtu/h and 3.66339 kW are the same, written another way. A burner of
    another name and the same content is renamed. What follows is compared on the present supply and on each [[market]]
    of both files, or on the gas of --to: first the checks that come out differently, then orifices, heat inputs with
    all burners on and their deviation from the aim, primary air and margins that change by more than 0.5 %. Without
    B, A is compared with its draft, A.draft.toml.

    \b
    Examples:
      burnerlab compare range-2025.toml range-2026.toml
      burnerlab compare range.toml lighter.toml --to propane \\
          --pressure "11 inH2O" --json
      burnerlab compare range.toml lighter.toml --out papers
    """
    from burnerlab.appliance.conversion.project_comparison import compare_projects

    comparison = compare_projects(files.before, files.after, target)
    if not comparison.states and comparison.problems:
        raise UserError(comparison.problems)
    written = write_files(
        to, lambda _: files.paper(comparison), regions=(files.region,), language=files.language
    )
    if as_json:
        print_json(
            comparison, problems=[problem.text() for problem in comparison.not_compared], files=written
        )
        return
    click.echo("\n\n".join(_text(files, comparison)))
    print_notes("Written", written)
    print_notes("Not compared", [problem.text() for problem in comparison.not_compared])
    print_look_up(handbook_of(change.topic) for change in comparison.verdicts)
    print_cautions()


def _text(files: TwoFiles, comparison: ProjectComparison) -> Iterator[str]:
    yield f"{files.before.file} {ARROW} {files.after.file}"
    from burnerlab.report.comparison_paper import owner

    inputs = comparison.inputs
    rows = [
        (owner(change), change.label, change.before or ABSENT, change.after or ABSENT)
        for change in inputs.changes
    ]
    if rows:
        yield "Inputs\n" + table(("of", "input", "before", "after"), rows, left_columns=4)
    yield from filter(None, ["\n".join(map(wrapped, _words(inputs)))])
    if comparison.is_same:
        yield "Nothing differs."
    for state in dict.fromkeys(change.state for change in comparison.verdicts):
        checks = [
            (change.burner or "all", change.topic, _verdict(change.before), _verdict(change.after))
            for change in comparison.verdicts
            if change.state == state
        ]
        yield f"Checks that come out differently, {state}\n" + table(
            ("burner", "check", "before", "after"), checks, left_columns=4
        )
    for state in dict.fromkeys(change.state for change in comparison.figures):
        figures = [_row(change) for change in comparison.figures if change.state == state]
        heads = ("burner", "figure", "before", "after", "change")
        title = f"Figures that change by more than 0.5 %, {state}"
        yield f"{title}\n{table(heads, figures, left_columns=2)}"
    yield from filter(None, ["\n".join(wrapped(for_reader(note)) for note in comparison.notes)])


def _words(inputs: InputComparison) -> Iterator[str]:
    """Entries renamed, in one file alone, or in another order, and what is only written another way."""
    for pair in inputs.renamed:
        yield f"Renamed: {_table_words(pair)} {pair.before} {ARROW} {pair.after}"
    for pair in inputs.alone:
        where = "first" if pair.number_after is None else "second"
        number = pair.number_before or pair.number_after
        yield f"Only in the {where} file: {_table_words(pair)} {pair.before or pair.after or number}"
    for name in inputs.reordered:
        yield f"In another order: {name}"
    if inputs.respelt:
        yield f"The same, written another way: {_listed([change.key for change in inputs.respelt])}"


def _table_words(pair: Pair) -> str:
    return pair.table.replace("_", " ")


def _listed(keys: Sequence[str], most: int = 4) -> str:
    more = len(keys) - most
    return ", ".join(keys[:most]) + (f" and {more} more" if more > 0 else "")


def _verdict(verdict: Verdict | None) -> str:
    if verdict is None:
        return ABSENT
    return verdict.upper() if verdict is Verdict.OUTSIDE else str(verdict)


def _row(change: FigureChange) -> tuple[str, ...]:
    relative = "" if change.change is None else f"{100 * change.change:+.1f} %"
    before, after = (text or ABSENT for text in change.texts)
    return change.burner, SHORT.get(change.figure, change.figure), before, after, relative
