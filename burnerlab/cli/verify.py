"""``verify``: printed figures beside ours, as text, JSON and a page."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab import __version__
from burnerlab.cli.errors import DIFFERS
from burnerlab.cli.options import takes
from burnerlab.cli.output import document_option, number, print_cautions, print_json, reader_system, table
from burnerlab.cli.proposals import check_topics
from burnerlab.cli.user_settings import paper_for_units
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.verify import CheckResult

# The table of checks as one page that opens offline and prints.

HEADS = (
    "id",
    "quantity",
    "printed",
    "ours",
    "unit",
    "difference",
    "tolerance",
    "verdict",
    "source",
    "provenance",
)
NUMBERS = {"printed", "ours", "difference", "tolerance"}
STYLE = """
body { font: 13px/1.4 system-ui, sans-serif; color: #111; background: #fff; margin: 2rem; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.1rem; margin: 2rem 0 .4rem; }
p { max-width: 46rem; }
table { border-collapse: collapse; width: 100%; }
th, td { border-bottom: 1px solid #bbb; padding: .25rem .5rem; text-align: left; vertical-align: top; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
td.differs { font-weight: bold; text-decoration: underline; }
small { color: #444; display: block; }
thead { display: table-header-group; } tr { break-inside: avoid; }
@page { margin: 12mm; }
@media print { body { margin: 0; font-size: 10px; } }
"""
ABOUT = """Each row is a figure printed by someone else, the same figure calculated by burnerlab, and the tolerance of
the row, set before the comparison. "measured" means that others measured it and it was read in a public text, "seen"
that it was read in a public copy of the source, "computed" that it comes from the library named, "memory" that it was
recalled, not checked in the publication. A figure only shown has no tolerance and is compared with nothing."""


def checks_page(results: Sequence[CheckResult], size: str = "A4") -> str:
    """All results by topic as HTML without anything to load; size : of the paper, on which it stands broadside."""
    from burnerlab.report.paper_size import page_rule
    from burnerlab.verify import summary

    topics = sorted({result.check.topic for result in results})
    parts = [
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>burnerlab checks</title><style>{STYLE}{page_rule(size, is_broadside=True)}</style></head><body><main>",
        f"<h1>Published figures and ours</h1><p>burnerlab {escape(__version__)}</p>",
        f"<ul>{''.join(f'<li>{escape(line)}</li>' for line in summary(results))}</ul><p>{escape(ABOUT)}</p>",
    ]
    for topic in topics:
        parts.append(f"<h2>{escape(topic.replace('_', ' '))}</h2>{_head()}<tbody>")
        parts += [_row(result) for result in results if result.check.topic == topic]
        parts.append("</tbody></table>")
    return "\n".join([*parts, "</main></body></html>\n"])


def _head() -> str:
    cells = (f'<th scope="col"{_class(name)}>{name}</th>' for name in HEADS)
    return f"<table><thead><tr>{''.join(cells)}</tr></thead>"


def _class(name: str) -> str:
    return ' class="number"' if name in NUMBERS else ""


def _row(result: CheckResult) -> str:
    check, verdict = result.check, _verdict(result)
    cells = {
        "id": escape(check.id),
        "quantity": escape(result.quantity) + (f"<small>{escape(check.note)}</small>" if check.note else ""),
        "printed": f"{check.printed:g}",
        "ours": "" if result.ours is None else f"{result.ours:.7g}",
        "unit": escape(check.unit),
        "difference": _gap(result.difference, check.kind),
        "tolerance": _gap(check.tolerance, check.kind).lstrip("+"),
        "verdict": verdict,
        "source": escape(check.source) + (f"<small>{escape(check.place)}</small>" if check.place else ""),
        "provenance": escape(check.provenance),
    }
    marked = ' class="differs"' if result.agrees is False else ""
    return (
        "<tr>"
        + "".join(f"<td{marked if name == 'verdict' else _class(name)}>{cells[name]}</td>" for name in HEADS)
        + "</tr>"
    )


# ``burnerlab verify``: what others printed beside what burnerlab calculates.

WIDEST_QUANTITY = 46  # characters of a table cell; the HTML page and the JSON carry all of it


def read_topic(text: Any, key: str) -> str:
    """A topic of the check tables."""
    from burnerlab.verify import topics

    if text in topics():
        return str(text)
    near = get_close_matches(text, topics(), n=1)
    fix = f"did you mean {near[0]}?" if near else ""
    raise UserError(Problem("no such topic", value=text, key=key, accepted=", ".join(topics()), fix=fix))


def _page(html: str | None, overwrite: bool) -> Path | None:
    if html is None:
        return None
    path = Path(html)
    if path.is_dir():
        raise UserError(Problem("is a folder, not a file", value=html, key="--html"))
    if path.exists() and not overwrite:
        fix = "choose another name, or add --overwrite"
        raise UserError(Problem("will not overwrite an existing file", value=html, key="--html", fix=fix))
    if not path.parent.is_dir():
        raise UserError(Problem("its folder does not exist", value=html, key="--html"))
    return path


@click.command(short_help="Compare burnerlab with published figures.")
@takes(
    topics=Input(
        name="topic",
        reader=read_topic,
        proposals=check_topics,
        metavar="TOPIC",
        help="Only this topic; may be repeated.",
        is_many=True,
    ),
    page=Group(
        make=_page,
        inputs=(
            Input(
                name="html",
                reader=as_written,
                metavar="FILE",
                help="Also write the table as a page that opens offline.",
            ),
            Input(name="overwrite", is_flag=True, help="Replace FILE when it exists."),
        ),
    ),
    differing=Input(name="differing", is_flag=True, help="Show only the figures that differ."),
)
@document_option
@click.pass_context
def verify_command(
    ctx: click.Context, topics: tuple[str, ...], page: Path | None, differing: bool, as_json: bool
) -> None:
    """Calculate every published figure in the check tables and show both, with source and tolerance.

    A figure "agrees" when the difference is within the tolerance of its row; otherwise it "differs" and the
    exit status is 1. One that is "shown" is printed with the model's figure and is compared with nothing. Measured,
    published, recalled and computed figures are counted apart.

    \b
    Examples:
      burnerlab verify
      burnerlab verify --topic orifice_tables --html checks.html
    """
    from burnerlab import verify

    results = verify.run(topics or None)
    if page is not None:
        page.write_text(checks_page(results, paper_for_units(reader_system())), encoding="utf-8")
    shown = [result for result in results if not differing or result.agrees is False]
    if as_json:
        print_json(_json(results, shown, page))
    else:
        click.echo(_text(results, shown))
        if page is not None:
            click.echo(f"written: {page}")
        print_cautions()
    if any(result.agrees is False for result in results):
        ctx.exit(DIFFERS)


def _verdict(result: CheckResult) -> str:
    return {True: "agrees", False: "differs", None: "shown"}[result.agrees]


def _gap(value: float | None, kind: str) -> str:
    if value is None:
        return "-"
    return f"{100 * value:+.3f} %" if kind == "rel" else f"{value:+.3g}"


def _text(results: Sequence[CheckResult], listed: Sequence[CheckResult]) -> str:
    from burnerlab.verify import summary

    heads = ("id", "quantity", "printed", "ours", "unit", "difference", "tolerance", "verdict")
    rows = []
    for result in listed:
        check = result.check
        quantity = result.quantity
        if len(quantity) > WIDEST_QUANTITY:
            quantity = quantity[: WIDEST_QUANTITY - 1] + "…"
        printed, ours = f"{check.printed:g}", "-" if result.ours is None else number(result.ours, 6)
        gap, band = _gap(result.difference, check.kind), _gap(check.tolerance, check.kind).lstrip("+")
        rows.append((check.id, quantity, printed, ours, check.unit, gap, band, _verdict(result)))
    return "\n\n".join(([table(heads, rows, left_columns=2)] if rows else []) + ["\n".join(summary(results))])


def _json(results: Sequence[CheckResult], rows: Sequence[CheckResult], page: Path | None) -> dict[str, Any]:
    from burnerlab.verify import by_provenance, unchecked_bands

    found: dict[str, Any] = {
        "within_by_provenance": by_provenance([result for result in results if result.agrees]),
        "outside_by_provenance": by_provenance([result for result in results if result.agrees is False]),
        "shown_by_provenance": by_provenance([result for result in results if result.agrees is None]),
        "unchecked_bands": unchecked_bands(),
        "checks": [row(result) for result in rows],
    }
    if page is not None:
        found["html"] = str(page)
    return found
