"""The papers of one market, made when they are opened."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from burnerlab.page.form import RefusedError
from burnerlab.quantity import System
from burnerlab.report.write import FORMATS, SheetOptions, write_sheet
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from starlette.responses import Response

    from burnerlab.appliance.conversion.result import Conversion

PAPER_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"
MEDIA = {
    "html": "text/html; charset=utf-8",
    "pdf": "application/pdf",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "csv": "text/csv; charset=utf-8",
    "json": "application/json",
}
KINDS = {"html": "sheet", "pdf": "sheet for printing", "xlsx": "workbook", "csv": "table", "json": "data"}


def paper_of(conversion: Conversion, kind: str, system: System) -> Response:
    """A paper of a conversion. Raises RefusedError for a kind that there is not."""
    from starlette.responses import Response

    if kind not in FORMATS:
        raise RefusedError(404, f"There is no such paper. There are: {', '.join(FORMATS)}.")
    with TemporaryDirectory() as folder:
        try:
            written = write_sheet(conversion, folder, [kind], SheetOptions(system=system))
        except UserError as error:
            raise RefusedError(422, "; ".join(problem.text() for problem in error.problems)) from None
        if not written.files:
            raise RefusedError(503, " ".join(written.missing))
        path = Path(written.files[0])
        content, name = path.read_bytes(), path.name
    headers = {"content-security-policy": PAPER_POLICY}
    if kind not in ("html", "pdf"):
        headers["content-disposition"] = f'attachment; filename="{name}"'
    return Response(content, media_type=MEDIA.get(kind, "application/octet-stream"), headers=headers)
