"""``handbook``: the pages of the handbook, and where a word stands in them."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.options import takes
from burnerlab.cli.output import CAUTION_WIDTH, document_option, print_cautions, print_json, reader_system
from burnerlab.cli.proposals import handbook_topics
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.handbook.contents import HandbookPage, Search
    from burnerlab.handbook.notebooks import NotebookPage

MOST_PASSAGES = 20  # of a word, on the terminal; the JSON has them all
LONGEST_LINE = 240
MOST_ANSWERS = 6  # of a question, the nearest
MARK = "#"
BREAK = "\N{ZERO WIDTH SPACE}"  # where a paper lets a long address break


OUT = Input(
    name="out", reader=as_written, metavar="DIR", help="Write the site of all pages into this folder."
)
OVERWRITE = Input(name="overwrite", is_flag=True, help="Replace files of DIR that exist.")
NOTEBOOKS = Input(
    name="notebooks",
    is_flag=True,
    help="Run the notebooks; their pages of the site show what they print and draw.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteFolder:
    """Where the site is written, and whether its notebooks are run."""

    folder: Path
    overwrite: bool
    notebooks: bool


def _site(out: str | None, overwrite: bool, notebooks: bool) -> SiteFolder | None:
    if out is None and (overwrite or notebooks):
        key = "--overwrite" if overwrite else "--notebooks"
        raise UserError(Problem("is of a site", key=key, fix="add --out DIR, or leave it out"))
    return None if out is None else SiteFolder(folder=Path(out), overwrite=overwrite, notebooks=notebooks)


@click.command(short_help="Look up how it is used, what it rests on and what changed.")
@takes(
    words=Input(
        name="topic",
        reader=as_written,
        proposals=handbook_topics,
        metavar="[TOPIC]",
        is_argument=True,
        is_many=True,
    ),
    site=Group(make=_site, inputs=(OUT, OVERWRITE, NOTEBOOKS)),
    all_pages=Input(
        name="all_pages",
        is_flag=True,
        help="Look for words in the chapters of the reference too; takes seconds.",
    ),
)
@document_option
def handbook_command(words: tuple[str, ...], site: SiteFolder | None, all_pages: bool, as_json: bool) -> None:
    """Show a page of the handbook, one heading of it, or where a word stands.

    Without a topic the contents are listed. TOPIC#HEADING shows one heading of a page. Anything else is a word or a
    question in plain words: the nearest paragraphs of prose and glossary are named, and where none has it, or with
    --all-pages, those of every page. --out writes all pages
    as a site of plain files, which opens without a server; with --notebooks those of the package are run for it, in
    about a minute (extra notebook).

    \b
    Examples:
      burnerlab handbook
      burnerlab handbook json
      burnerlab handbook json#keys
      burnerlab handbook light-back
      burnerlab handbook "can I reuse the hose"
      burnerlab handbook --out handbook
      burnerlab handbook --out handbook --notebooks
    """
    from burnerlab.handbook.contents import page_of, search, unknown_topic

    if site is not None:
        _write(words, site, as_json)
        return
    topic, mark, anchor = " ".join(words).replace(BREAK, "").strip().partition(MARK)
    if not topic and not mark:
        _contents(as_json)
    elif (page := page_of(topic)) is not None:
        _page(page.in_units(reader_system()), anchor, as_json)
    elif (notebook := _notebook_of(topic)) is not None:
        _page(notebook, anchor, as_json)
    elif (result := search(topic, all_pages=all_pages)).passages:
        _passages(topic, result, as_json)
    else:
        raise unknown_topic(topic)
    if not as_json:
        print_cautions()


def _notebook_of(topic: str) -> NotebookPage | None:
    """The notebook of this name as a page, with its results where this copy has them."""
    from burnerlab.handbook.notebook_results import notebook_paths
    from burnerlab.handbook.notebooks import notebook_page

    named = [path for path in notebook_paths() if topic.strip().lower() in (path.stem, path.name)]
    return notebook_page(named[0]) if named else None


def _write(words: tuple[str, ...], site: SiteFolder, as_json: bool) -> None:
    from burnerlab.handbook.site import write_site

    if words:
        raise UserError(Problem("is not used with --out", " ".join(words), "TOPIC", fix="leave it out"))
    files = write_site(
        site.folder, overwrite=site.overwrite, with_results=site.notebooks, system=reader_system()
    )
    if as_json:
        print_json({"files": [str(path) for path in files]})
        return
    click.echo(f"written: {len(files)} files; open {files[0]}")
    print_cautions()


def _contents(as_json: bool) -> None:
    from burnerlab.handbook.contents import pages
    from burnerlab.handbook.notebook_results import notebook_paths
    from burnerlab.handbook.notebooks import notebook_pages

    every: tuple[HandbookPage | NotebookPage, ...] = (*pages(), *notebook_pages(notebook_paths()))
    if as_json:
        listed = [{"part": one.part, "topic": one.topic, "title": one.title} for one in every]
        print_json({"pages": listed})
        return
    widest = max(len(page.topic) for page in every)
    for part, its in groupby(every, key=lambda page: page.part):
        click.echo(f"{part}")
        for page in its:
            head = f"  {page.topic.ljust(widest)}  "
            click.echo(click.wrap_text(page.title, CAUTION_WIDTH, head, " " * len(head)))
        click.echo()
    words = "burnerlab handbook TOPIC shows a page; a word that is no topic is looked for in all."
    click.echo(click.wrap_text(words, CAUTION_WIDTH))


def _page(page: HandbookPage | NotebookPage, anchor: str, as_json: bool) -> None:
    from burnerlab.handbook.contents import section
    from burnerlab.handbook.terminal_text import terminal_text

    text = section(page, anchor) if anchor else page.text
    if as_json:
        tops = [{"anchor": one.anchor, "title": one.title} for one in page.headings]
        print_json(
            {
                "topic": page.topic,
                "part": page.part,
                "title": page.title,
                "heading": anchor or None,
                "headings": tops,
                "markdown": text,
            }
        )
        return
    click.echo(terminal_text(text, page.topic, is_terminal=sys.stdout.isatty()), nl=False)


def _passages(words: str, result: Search, as_json: bool) -> None:
    places = result.passages
    if as_json:
        listed = [{"address": one.address, "heading": one.title, "line": one.line} for one in places]
        print_json(
            {
                "words": words,
                "passages": listed,
                "not_searched": list(result.not_searched),
                "is_ranked": result.is_ranked,
                "missing": list(result.missing),
            }
        )
        return
    most = MOST_ANSWERS if result.is_ranked else MOST_PASSAGES
    named = f'no page is named "{words}"; it stands in'
    click.echo("nearest paragraphs, the best first" if result.is_ranked else named)
    if result.missing:
        click.echo(f"in no paragraph that was searched: {', '.join(result.missing)}")
    for one in places[:most]:
        click.echo(f"\n  {one.address}")
        line = one.line if len(one.line) <= LONGEST_LINE else f"{one.line[:LONGEST_LINE]} ..."
        click.echo(click.wrap_text(line, CAUTION_WIDTH, "    ", "    "))
    if len(places) > most:
        click.echo(f"\n  and {len(places) - most} more: add a word, or --json")
    if result.not_searched:
        line = f"Not searched: {', '.join(result.not_searched)}. --all-pages looks there too."
        click.echo("\n" + click.wrap_text(line, CAUTION_WIDTH))
