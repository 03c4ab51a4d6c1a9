"""The sheet as one HTML file: nothing is fetched, no script runs, it prints on A4 and Letter."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from burnerlab.quantity.prose import in_print
from burnerlab.report.paper_size import page_rule
from burnerlab.report.sheet.blocks import Cautions, Facts, Picture, Points, Steps, Table
from burnerlab.report.sheet.job_card import JobCard
from burnerlab.report.sheet.sections import Sheet
from burnerlab.report.sheet.terms import EnglishText, WordedText, has_english
from burnerlab.report.sheet.wording import SHAPES

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES = Path(__file__).parent / "templates"
KINDS = {
    Facts: "facts",
    Table: "table",
    Points: "points",
    Cautions: "cautions",
    Picture: "picture",
    Steps: "steps",
}
LONGEST_UNBROKEN = 26
FIGURE_AND_UNIT = re.compile(r"(?<=\d) (?=(?:mm|kW|g|%|mbar|kPa|Btu/h)(?:[\s,;)]|$)|in(?:[,;)]|$| w\.c\.))")
NAMESPACE = ' xmlns="http://www.w3.org/2000/svg"'  # implied inside HTML


def pretty(text: str) -> str:
    """A text as set in print: a true minus sign before each number, m³ for m3; dates and names keep their hyphens.

    >>> pretty("-4.6 %, 1.03 m3/h"), pretty("alone -1.2 % (-7.9 to +3.5), 2026-11-25"), pretty("x-2")
    ('−4.6 %, 1.03 m³/h', 'alone −1.2 % (−7.9 to +3.5), 2026-11-25', 'x-2')
    """
    return re.sub(r"(?<![\w./-])-(?=\d)", "\u2212", in_print(text))


def unbroken(text: str) -> str:
    """A text whose figures stay on one line with their units.

    >>> unbroken("orifice 1.00 mm").split(" ")
    ['orifice', '1.00\\xa0mm']
    >>> unbroken("#57, 0.043 in") == "#57, 0.043\\xa0in", unbroken("2 in row")
    (True, '2 in row')
    """
    made = FIGURE_AND_UNIT.sub("\u00a0", text)
    return type(text)(made) if isinstance(text, WordedText) else made


def typeset(value: Any) -> Any:
    """A sheet, or a part of it, with every text as set in print; numbers and keys stay."""
    if type(value) is str:  # a verdict or a signal word stays what it is
        return pretty(value)
    if isinstance(value, WordedText):
        return type(value)(pretty(value))
    if isinstance(value, tuple | list):
        return type(value)(map(typeset, value))
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value, **{one.name: typeset(getattr(value, one.name)) for one in fields(value) if one.init}
        )
    return value


def kind_of(block: object) -> str:
    return KINDS[type(block)]


def fit(text: str) -> str:
    """How a text may break: not at all when short, anywhere when it holds a word no column can take."""
    if any(len(word) > LONGEST_UNBROKEN for word in text.split()):
        return "any"
    return "one" if len(text) <= LONGEST_UNBROKEN else ""


def marked(value: Any) -> Any:
    """A value of a page; a text that stays English on a page in another language says so to a reader of the screen.

    >>> from burnerlab.report.sheet.terms import EnglishText
    >>> str(marked(EnglishText("Gas < air"))), marked("gas")
    ('<span lang="en">Gas &lt; air</span>', 'gas')
    """
    from markupsafe import Markup

    return Markup('<span lang="en">{}</span>').format(str(value)) if isinstance(value, EnglishText) else value


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=marked,
    )
    made.filters["pretty"] = typeset
    made.filters["bare"] = str  # of an attribute, which holds no mark of a language
    made.filters["unbroken"] = unbroken
    made.filters["fit"] = fit
    made.filters["kind"] = kind_of
    made.tests["english"] = has_english  # of a title, which holds no mark but may have a language of its own
    made.globals["shapes"] = SHAPES
    return made


def html_text(sheet: Sheet, figures: Mapping[str, str], *, paper: str = "") -> str:
    """The page; ``figures`` holds the SVG of each picture by key, a sentence stands for a missing picture.

    paper : size on which it is printed, "" is that of the printer
    """
    from markupsafe import Markup

    values: dict[str, Any] = {
        "sheet": typeset(sheet),
        "css": Markup(page_style(paper)),  # our own files
        "figures": {key: Markup(svg.replace(NAMESPACE, "")) for key, svg in figures.items()},  # drawn by us
    }
    return _environment().get_template("sheet.html.j2").render(values)


def card_html_text(card: JobCard, *, paper: str = "") -> str:
    """The job card alone, as a page of its own."""
    from markupsafe import Markup

    template = _environment().get_template("card_page.html.j2")
    return template.render(card=typeset(card), css=Markup(page_style(paper)))


def render_page(template: str, **values: Any) -> str:
    """A page of its own by its template; every dataclass among the values as set in print."""
    return _environment().get_template(template).render({name: typeset(one) for name, one in values.items()})


def page_style(paper: str = "", names: Sequence[str] = ("sheet.css", "card.css")) -> str:
    """The style of the sheet and of the job card, which other papers share, and the size of the paper."""
    return "".join((TEMPLATES / name).read_text(encoding="utf-8") for name in names) + page_rule(paper)
