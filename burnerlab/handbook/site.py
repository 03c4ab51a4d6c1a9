"""The handbook as a site of plain files: opens without a server or script, asks nothing of any other machine."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from burnerlab import __version__
from burnerlab.handbook.contents import pages
from burnerlab.handbook.gallery import picture_bytes, picture_files
from burnerlab.handbook.notebook_results import ENDING as NOTEBOOK
from burnerlab.handbook.notebook_results import notebook_paths
from burnerlab.handbook.notebooks import notebook_pages
from burnerlab.handbook.page_text import AnyPage, article_html, contents_html, templates
from burnerlab.quantity import System
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
    if topic.endswith(NOTEBOOK):  # a file beside its page
        return at
    return f"{topic or FRONT}.html{mark}{anchor}"


def site_files(
    paths: Sequence[Path], *, with_results: bool = False, system: System = "metric"
) -> Iterator[tuple[str, bytes]]:
    """Every file of the site by name, its pictures and ranges in the reader's units; pages of notebooks follow.

    Raises UserError as ``notebook_pages``.
    """
    more = notebook_pages(paths, with_results=with_results)
    yield f"{FRONT}.html", _whole("Contents", contents_html(site_address, more))
    every: tuple[AnyPage, ...] = (*(page.in_units(system) for page in pages()), *more)
    for page in every:
        yield f"{page.topic}.html", _whole(page.title, article_html(page, site_address, str, more))
    for notebook in more:
        yield from notebook.files.items()
    for file in picture_files():
        yield file, picture_bytes(file, system) or b""
    for name, room in STYLE.items():
        yield name, (package_dir() / room / name).read_bytes()


def _whole(title: str, content: Markup) -> bytes:
    page = templates().get_template("site_page.html.j2")
    return page.render(title=title, content=content, cautions=cautions(), version=__version__).encode("utf-8")


def write_site(
    folder: Path,
    *,
    overwrite: bool = False,
    with_results: bool = False,
    notebooks: Sequence[Path] | None = None,
    system: System = "metric",
) -> tuple[Path, ...]:
    """Write the site into a folder, all of it or nothing.

    with_results : notebooks are run, and their pages show what they print and draw
    notebooks : files, those of the package unless given; system : units of pictures and ranges
    Raises UserError for files that exist, or no folder, and as ``notebook_pages``.
    """
    if folder.exists() and not folder.is_dir():
        raise UserError(
            Problem("not a folder", str(folder), "--out", fix="name a folder, it is made when missing")
        )
    known = (f"{FRONT}.html", *(f"{page.topic}.html" for page in pages()), *picture_files(), *STYLE)
    _refuse_conflict((folder / name for name in known), overwrite)  # before pages are made for nothing
    paths = notebook_paths() if notebooks is None else notebooks
    files = site_files(paths, with_results=with_results, system=system)
    made = {folder / name: content for name, content in files}
    _refuse_conflict(made, overwrite)
    folder.mkdir(parents=True, exist_ok=True)
    write_together(made, overwrite)
    return tuple(made)


def _refuse_conflict(paths: Iterable[Path], overwrite: bool) -> None:
    problems = [problem for path in paths for problem in conflict(path, overwrite)]
    if problems:
        raise UserError(problems[:1])
