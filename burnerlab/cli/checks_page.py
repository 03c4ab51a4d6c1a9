"""The table of checks as one page that opens offline and prints."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from burnerlab import __version__

if TYPE_CHECKING:
    from burnerlab.verify import CheckResult

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
@page { size: A4 landscape; margin: 12mm; }
@media print { body { margin: 0; font-size: 10px; } }
"""
ABOUT = """Each row is a figure printed by someone else, the same figure calculated by burnerlab, and the tolerance the
row was given before the comparison. "seen" means the figure was read in a public copy of the source, "computed" that it
comes from the library named, "memory" that it was recalled from the publication and not seen."""


def checks_page(results: Sequence[CheckResult]) -> str:
    """All results by topic as HTML without anything to load."""
    from burnerlab.verify import summary

    topics = sorted({result.check.topic for result in results})
    parts = [
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>burnerlab checks</title><style>{STYLE}</style></head><body><main>",
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
    check = result.check
    relative = check.kind == "rel"
    verdict = "agrees" if result.agrees else "differs"
    cells = {
        "id": escape(check.id),
        "quantity": escape(result.quantity) + (f"<small>{escape(check.note)}</small>" if check.note else ""),
        "printed": f"{check.printed:g}",
        "ours": f"{result.ours:.7g}",
        "unit": escape(check.unit),
        "difference": f"{100 * result.difference:+.3f} %" if relative else f"{result.difference:+.3g}",
        "tolerance": f"{100 * check.tolerance:g} %" if relative else f"{check.tolerance:g}",
        "verdict": verdict,
        "source": escape(check.source) + (f"<small>{escape(check.place)}</small>" if check.place else ""),
        "provenance": escape(check.provenance),
    }
    marked = ' class="differs"' if not result.agrees else ""
    return (
        "<tr>"
        + "".join(f"<td{marked if name == 'verdict' else _class(name)}>{cells[name]}</td>" for name in HEADS)
        + "</tr>"
    )
