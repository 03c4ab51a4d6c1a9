"""The papers of one market, made when they are opened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from burnerlab.page.form import RefusedError
from burnerlab.quantity import System
from burnerlab.report.write import SheetOptions, write_sheet
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from starlette.responses import Response

    from burnerlab.appliance.conversion.result import Conversion

PAPER_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper that can be opened: its words on the page, the format that makes it, and the end of its file's name."""

    words: str
    format: str
    ending: str
    media: str
    is_shown: bool = True  # in the browser; others are kept as files


PAPERS: dict[str, Paper] = {
    "card": Paper("job card", "card", "-card.html", "text/html; charset=utf-8"),
    "card-pdf": Paper("job card, PDF", "card", "-card.pdf", "application/pdf"),
    "sheet": Paper("sheet", "html", ".html", "text/html; charset=utf-8"),
    "sheet-pdf": Paper("sheet, PDF", "pdf", ".pdf", "application/pdf"),
    "workbook": Paper(
        "workbook",
        "xlsx",
        ".xlsx",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        is_shown=False,
    ),
    "plan": Paper("test plan", "plan", "-plan.html", "text/html; charset=utf-8"),
    "plan-pdf": Paper("test plan, PDF", "plan", "-plan.pdf", "application/pdf"),
    "plan-json": Paper("test plan for the bench", "plan", "-plan.json", "application/json", is_shown=False),
    "csv": Paper("table (CSV)", "csv", ".csv", "text/csv; charset=utf-8", is_shown=False),
    "json": Paper("data (JSON)", "json", ".json", "application/json", is_shown=False),
}
"""By the last part of their address, in the order of the page."""


def paper_of(
    conversion: Conversion, kind: str, system: System, market: str = "", *, is_draft: bool = False
) -> Response:
    """A paper of a conversion, with market and day. Raises RefusedError for a kind that there is not.

    is_draft : whether no file has its text
    """
    from starlette.responses import Response

    paper = PAPERS.get(kind)
    if paper is None:
        raise RefusedError(404, f"There is no such paper. There are: {', '.join(PAPERS)}.")
    options = SheetOptions(system=system, market=market, date=date.today().isoformat(), is_draft=is_draft)
    with TemporaryDirectory() as folder:
        try:
            written = write_sheet(conversion, folder, [paper.format], options)
        except UserError as error:
            raise RefusedError(422, "; ".join(problem.text() for problem in error.problems)) from None
        path = next((Path(one) for one in written.files if str(one).endswith(paper.ending)), None)
        if path is None:
            raise RefusedError(503, " ".join(written.missing))
        content, name = path.read_bytes(), path.name
    headers = {"content-security-policy": PAPER_POLICY}
    if not paper.is_shown:
        headers["content-disposition"] = f'attachment; filename="{name}"'
    return Response(content, media_type=paper.media, headers=headers)
