"""The files of a test plan and of a test report: their page as HTML and PDF, with the photographs reduced in size."""

from __future__ import annotations

import base64
import io
from dataclasses import asdict, replace

from burnerlab.report.html import page_style, render_page
from burnerlab.report.paper_size import PAPERS
from burnerlab.report.pdf import compiled, plain_widths, printed
from burnerlab.report.plan_paper import WRITE, PaperPhotograph, PlanPaper

LONGEST_SIDE, JPEG_QUALITY = 900, 80  # of a photograph in the PDF: pixels; a row of two is 80 mm wide each
WRITTEN = 12  # characters that a cell to write in is wide


def paper_html(paper: PlanPaper, *, size: str = "") -> str:
    """The paper as one HTML file: nothing is fetched, no script runs."""
    from markupsafe import Markup

    style = page_style(size, ("sheet.css", "card.css", "plan.css"))
    return render_page("plan.html.j2", paper=paper, css=Markup(style), code=Markup(paper.code))  # drawn by us


def paper_pdf(paper: PlanPaper, *, size: str = "A4") -> bytes:
    """The paper as PDF, its photographs reduced in size. Raises ImportError without typst."""
    plain = printed(asdict(replace(paper, photographs=())))
    for table in plain["tables"]:
        table["widths"] = plain_widths(
            table["heads"], [[_as_wide(one) for one in row] for row in table["rows"]]
        )
    pictures = [
        printed(asdict(replace(one, address=""))) | {"svg": _picture(one)} for one in paper.photographs
    ]
    more = {"code": paper.code, "paper": PAPERS[size], "photographs": pictures}
    return compiled(("common", "plan"), plain | more)


def _as_wide(cell: str) -> str:
    """A cell that is written in takes the width of a reading."""
    return "\u00a0" * WRITTEN if cell == WRITE else cell


def _picture(photograph: PaperPhotograph) -> str:
    """A photograph as SVG for typst, reduced; "" where it is not beside the record or is no picture."""
    _, _, data = photograph.address.partition(",")
    small = reduced_picture(base64.b64decode(data)) if data else None
    if small is None:
        return ""
    picture, (width, height) = small
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}">'
        f'<image width="{width}" height="{height}" href="data:image/jpeg;base64,{base64.b64encode(picture).decode()}"/>'
        "</svg>"
    )


def reduced_picture(data: bytes) -> tuple[bytes, tuple[int, int]] | None:
    """A JPEG with its longer side at most ``LONGEST_SIDE``, and its size; None for what is no picture.

    Raises ImportError without pillow.
    """
    from PIL import Image

    stream = io.BytesIO()
    try:
        with Image.open(io.BytesIO(data)) as picture:
            small = picture.convert("RGB")
            small.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            small.save(stream, "JPEG", quality=JPEG_QUALITY)
    except (OSError, ValueError, SyntaxError):  # damaged: its hash stays on the paper
        return None
    return stream.getvalue(), small.size
