"""The handbook as a site of plain files: opens without a server or script, asks nothing of any other machine."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from burnerlab import __version__
from burnerlab.handbook.contents import pages
from burnerlab.handbook.gallery import picture_bytes, picture_files
from burnerlab.handbook.page_text import article_html, contents_html, templates
from burnerlab.report.write import conflict, write_together
from burnerlab.tables import package_dir
from burnerlab.tables.cautions import cautions
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from markupsafe import Markup

FRONT = "index"
STYLE = {"page.css": "page", "mark.svg": "page", "handbook.css": "handbook"}  # file, and its room


def site_address(at: str) -> str:
    """Where the site has a page or a heading of it.

    >>> site_address("gas#wobbe-index"), site_address("")
    ('gas.html#wobbe-index', 'index.html')
    """
    topic, mark, anchor = at.partition("#")
    return f"{topic or FRONT}.html{mark}{anchor}"


def site_files() -> Iterator[tuple[str, bytes]]:
    """Every file of the site by name."""
    yield f"{FRONT}.html", _whole("Contents", contents_html(site_address))
    for page in pages():
        yield f"{page.topic}.html", _whole(page.title, article_html(page, site_address, str))
    for file in picture_files():
        yield file, picture_bytes(file) or b""
    for name, room in STYLE.items():
        yield name, (package_dir() / room / name).read_bytes()


def _whole(title: str, content: Markup) -> bytes:
    page = templates().get_template("site_page.html.j2")
    return page.render(title=title, content=content, cautions=cautions(), version=__version__).encode("utf-8")


def write_site(folder: Path, *, overwrite: bool = False) -> tuple[Path, ...]:
    """Write the site into a folder, all of it or nothing. Raises UserError for files that exist, or no folder."""
    if folder.exists() and not folder.is_dir():
        raise UserError(
            Problem("not a folder", str(folder), "--out", fix="name a folder, it is made when missing")
        )
    made = {folder / name: content for name, content in site_files()}
    problems = [problem for path in made for problem in conflict(path, overwrite)]
    if problems:
        raise UserError(problems[:1])
    folder.mkdir(parents=True, exist_ok=True)
    write_together(made, overwrite)
    return tuple(made)
