"""Notebooks as pages of the site: Markdown of their cells, and of what they print and draw where they are run."""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from burnerlab import __version__
from burnerlab.handbook.contents import TITLE
from burnerlab.handbook.markdown_text import Heading, code, escaped, headings, table
from burnerlab.handbook.notebook_results import ENDING, executed_cells, plain_lines, stored_cells
from burnerlab.tables.problem import Problem, UserError

PART = "Notebooks"
NEEDED = ("nbclient", "nbformat", "ipykernel")
EXTRA = 'pip install "burnerlab[notebook]"'
COMMAND = "burnerlab handbook --out DIR --notebooks"
WITHOUT_RESULTS = f"**This copy has no results of this notebook.** {code(COMMAND)} runs it and shows them."
PICTURES = {"image/svg+xml": "svg", "image/png": "png"}  # what is shown of an output, the first that it has


@dataclass(frozen=True, slots=True, kw_only=True)
class NotebookPage:
    """A notebook as a page: Markdown, and the files that it shows by name."""

    topic: str
    title: str
    text: str
    files: Mapping[str, bytes]
    part: str = PART

    @property
    def headings(self) -> tuple[Heading, ...]:
        """Its headings in order, the title first."""
        return headings(self.text)


def notebook_pages(paths: Sequence[Path], *, with_results: bool = False) -> tuple[NotebookPage, ...]:
    """Each notebook as a page; with_results : run from top to bottom first, in a folder of its own.

    Raises UserError where the extra is missing, there is no notebook, or a cell of one fails.
    """
    if with_results:
        missing = [name for name in NEEDED if find_spec(name) is None]
        if missing:
            raise UserError(Problem(f"needs {missing[0]}", key="--notebooks", fix=EXTRA))
        if not paths:
            raise UserError(Problem("no notebook is installed here", key="--notebooks", fix="leave it out"))
    return tuple(notebook_page(path, with_results=with_results) for path in paths)


def notebook_page(path: Path, *, with_results: bool = False) -> NotebookPage:
    """A notebook as a page, with what it printed when the package was built or, where it is run, prints now.

    Raises UserError where it is run and a cell fails.
    """
    import json

    content = path.read_bytes()
    cells: Sequence[Mapping[str, Any]] = json.loads(content)["cells"]
    stored = executed_cells(path) if with_results else stored_cells(path, cells)
    cells = stored or cells
    made = _Text(topic=path.stem, title=_title(cells, path.stem))
    without = "" if stored else WITHOUT_RESULTS
    for cell in cells:
        if cell["cell_type"] == "markdown":
            made.add_prose(_joined(cell["source"]))
            made.add(without)
            without = ""
        elif cell["cell_type"] == "code":
            made.add(fence(_joined(cell["source"]), "python"))
            for output in cell["outputs"]:
                made.add_output(output)
    how = ""
    if stored:
        how = " Its figures are from a run of this program."
        how += "" if with_results else f" It was run when burnerlab {__version__} was built."
    made.add(
        f"The file of this notebook is [{escaped(path.name)}]({path.name}).{how} To run it yourself: {code(EXTRA)}."
    )
    files = {path.name: content, **made.files}
    return NotebookPage(topic=path.stem, title=made.title, text="\n\n".join(made.parts), files=files)


@dataclass(slots=True)
class _Text:
    """The page as it grows."""

    topic: str
    title: str
    parts: list[str] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)
    section: str = ""  # last heading, which names a picture

    def add(self, text: str) -> None:
        self.parts += [text] * bool(text)

    def add_prose(self, text: str) -> None:
        self.add(equations_as_text(text))
        self.section = next((one.title for one in reversed(headings(text))), self.section)

    def add_output(self, output: Mapping[str, Any]) -> None:
        if output["output_type"] == "stream":
            self.add(fence(plain_lines(_joined(output["text"]))))
            return
        data = output.get("data", {})
        kind = next((one for one in PICTURES if one in data), "")
        rows = table_rows(_joined(data.get("text/html", "")))
        if kind:
            self.add_picture(_joined(data[kind]), PICTURES[kind])
        elif rows:
            self.add(table(rows[0], rows[1:]))
        elif "text/plain" in data:
            self.add(fence(plain_lines(_joined(data["text/plain"]))))

    def add_picture(self, content: str, ending: str) -> None:
        number = sum(not name.endswith(ENDING) for name in self.files) + 1
        name = f"{self.topic}-{number}.{ending}"
        self.files[name] = base64.b64decode(content) if ending == "png" else content.encode("utf-8")
        words = escaped(f"Picture {number} of the notebook, in: {self.section or self.title}")
        self.add(f"![{words}]({name})")


def _joined(text: str | Sequence[str]) -> str:
    """The text of a cell, which a file of a notebook may hold by lines."""
    return text if isinstance(text, str) else "".join(text)


def _title(cells: Sequence[Mapping[str, Any]], without: str) -> str:
    lines = (line for cell in cells for line in _joined(cell["source"]).splitlines())
    return next((line.removeprefix(TITLE).strip() for line in lines if line.startswith(TITLE)), without)


def fence(text: str, language: str = "text") -> str:
    """A block of code that its text cannot end.

    >>> print(fence("1 + 1", "python"))
    ```python
    1 + 1
    ```
    """
    longest = max((len(run) for run in re.findall("`{3,}", text)), default=2)
    marks = "`" * (longest + 1)
    return f"{marks}{language}\n{text.rstrip()}\n{marks}"


# Tables of data frames


class _Cells(HTMLParser):
    """Words of the cells of tables, with how many columns and rows each takes; nothing else is read."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[tuple[str, int, int]]] = []
        self.heads = 0  # rows of the head
        self._cell: list[str] | None = None
        self._span = (1, 1)
        self._skipped = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        if tag in ("style", "script"):
            self._skipped += 1
        elif tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self._cell = []
            self._span = (_count(values.get("colspan")), _count(values.get("rowspan")))

    def handle_endtag(self, tag: str) -> None:
        if tag in ("style", "script"):
            self._skipped = max(0, self._skipped - 1)
        elif tag == "thead":
            self.heads = len(self.rows)
        elif tag in ("td", "th") and self._cell is not None and self.rows:
            self.rows[-1].append((" ".join("".join(self._cell).split()), *self._span))
            self._cell = None

    def handle_data(self, data: str) -> None:
        if self._cell is not None and not self._skipped:
            self._cell.append(data)


def _count(text: str | None) -> int:
    return min(max(int(text), 1), 1000) if text and text.isdigit() else 1


def table_rows(html: str) -> list[list[str]]:
    """Rows of the tables in a text of HTML as Markdown, those of the head in one; none without a table.

    >>> table_rows("<table><thead><tr><th>drill</th></tr></thead><tr><td>#54 <b>new</b></td></tr></table>")
    [['drill'], ['\\\\#54 new']]
    """
    read = _Cells()
    read.feed(html)
    filled: dict[tuple[int, int], str] = {}
    for y, row in enumerate(read.rows):
        x = 0
        for words, wide, high in row:
            while (y, x) in filled:
                x += 1
            for below in range(high):
                for beside in range(wide):
                    filled[y + below, x + beside] = words
            x += wide
    if not filled:
        return []
    width = 1 + max(x for _, x in filled)
    every = [[filled.get((y, x), "") for x in range(width)] for y in range(len(read.rows))]
    heads = max(read.heads, 1)
    first = [" ".join(dict.fromkeys(filter(None, column))) for column in zip(*every[:heads], strict=True)]
    return [[escaped(cell) for cell in row] for row in (first, *every[heads:])]


# Equations

SIGNS = {
    "chi": "χ", "eta": "η", "varepsilon": "ε", "rho": "ρ", "pi": "π", "lambda": "λ", "Rightarrow": "⇒",
    "left": "", "right": "", "qquad": "    ", "dot m": "ṁ",
}  # fmt: skip
FORMS = (
    (r"\\text\{([^{}]*)\}", r"\1"),
    (r"\\sqrt\{([^{}]*)\}", r"√(\1)"),
    (r"\\underbrace\{([^{}]*)\}_\{([^{}]*)\}", r"\1 [\2]"),
)  # from the inside outwards


def equation_text(tex: str) -> str:
    """An equation of a notebook on one line, as those of the handbook are written.

    >>> equation_text(r"W = \\frac{H}{\\sqrt{s}},")
    'W = H/(√(s)),'
    """
    text = " ".join(re.sub(r"\\[,;]", " ", tex).split())
    for name, sign in SIGNS.items():
        text = re.sub(rf"\\{name}(?![A-Za-z])", sign, text)
    before = ""
    while before != text:
        before = text
        for form, plain in FORMS:
            text = re.sub(form, plain, text)
        text = re.sub(r"\\frac\{([^{}]*)\}\{([^{}]*)\}(?=(.?))", _fraction, text)
    return text.replace("^2", "²").replace(" .", ".").strip()


def _fraction(match: re.Match[str]) -> str:
    """A fraction on one line; in brackets where something follows that would else belong to its denominator."""
    above, below = (part if re.fullmatch(r"\w+", part) else f"({part})" for part in match.groups()[:2])
    return f"{above}/{below}" if match[3] in ("", *" }),.") else f"({above}/{below})"


def equations_as_text(text: str) -> str:
    """A cell of prose whose equations are blocks and words of the handbook.

    >>> equations_as_text("of $K$")
    'of `K`'
    """

    def whole(match: re.Match[str]) -> str:
        return f"\n{fence(equation_text(match[1]), 'equation')}\n"

    blocks = re.sub(r"\$\$(.+?)\$\$", whole, text, flags=re.DOTALL)
    return re.sub(r"\$([^$\n]+)\$", lambda match: code(equation_text(match[1])), blocks)
