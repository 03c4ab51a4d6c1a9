"""Notebooks as pages: a small one is run, and what it prints and draws is shown; what it prints is never markup."""

from __future__ import annotations

import base64
import warnings
from pathlib import Path

import nbformat
import pytest
from click.testing import CliRunner
from command_runs import complaint

from burnerlab import __version__
from burnerlab.cli import main
from burnerlab.handbook.notebook_results import notebook_paths, write_results
from burnerlab.handbook.notebooks import (
    WITHOUT_RESULTS,
    NotebookPage,
    equations_as_text,
    fence,
    notebook_page,
    notebook_pages,
    table_rows,
)
from burnerlab.handbook.page_text import article_html, body_html
from burnerlab.handbook.site import site_address
from burnerlab.tables.problem import UserError

PIXEL = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><rect width="9" height="9"/></svg>'
TABLE = (
    "<style>th {color: red}</style><table><thead><tr><th></th><th colspan='2'>drill</th></tr>"
    "<tr><th>burner</th><th>now</th><th>then</th></tr></thead><tbody><tr><th>ring &amp; pot</th><td>#44</td>"
    "<td><script>alert(1)</script>#54 | <b onclick='x'>new</b></td></tr></tbody></table>"
)
CELLS = [
    ("markdown", "# Small question\n\nWhat is $\\frac{H}{\\sqrt{s}}$? <script>alert(2)</script>"),
    ("code", "print('```\\n<b>' + str(6 * 7))"),
    ("markdown", "## Pictures & tables"),
    (
        "code",
        f"from IPython.display import HTML, SVG, Image, display\nimport base64\ndisplay(HTML({TABLE!r}))",
    ),
    ("code", f"display(SVG({SVG!r}), Image(base64.b64decode({PIXEL!r})))"),
    ("code", "[1, 2] * 2"),
]


def written(path: Path, cells: list[tuple[str, str]]) -> Path:
    new = {"markdown": nbformat.v4.new_markdown_cell, "code": nbformat.v4.new_code_cell}
    nbformat.write(nbformat.v4.new_notebook(cells=[new[kind](text) for kind, text in cells]), path)
    return path


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("notebook") / "small.ipynb", CELLS)


@pytest.fixture(scope="module")
def page(path: Path, tmp_path_factory: pytest.TempPathFactory) -> NotebookPage:
    with pytest.MonkeyPatch.context() as patch, warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of the libraries that run a notebook
        warnings.simplefilter("ignore", ResourceWarning)
        for name in ("IPYTHONDIR", "JUPYTER_RUNTIME_DIR"):
            patch.setenv(name, str(tmp_path_factory.mktemp(name.lower())))
        return notebook_page(path, with_results=True)


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
def test_a_notebook_that_is_run_shows_what_it_prints_and_draws(page: NotebookPage) -> None:
    assert page.title == "Small question"
    assert "<b>42" in page.text
    assert "[1, 2, 1, 2]" in page.text
    assert page.files["small-1.svg"].startswith(b"<svg")
    assert page.files["small-2.png"] == base64.b64decode(PIXEL)
    assert nbformat.reads(page.files["small.ipynb"].decode("utf-8"), as_version=4).cells[1].outputs == []
    assert [one.anchor for one in page.headings] == ["small-question", "pictures--tables"]


def test_what_it_prints_is_never_markup(page: NotebookPage) -> None:
    html = str(article_html(page, site_address, str, [page]))
    assert "<script" not in html
    assert "<b" not in html
    assert "&lt;b&gt;42" in html
    assert "&lt;script&gt;alert(2)" in html
    assert "<td>#54 | new</td>" in html
    assert '<th scope="col">drill now</th>' in html
    assert "<td>ring &amp; pot</td>" in html
    assert 'src="small-1.svg" alt="Picture 1 of the notebook, in: Pictures &amp; tables"' in html
    assert 'href="small.ipynb"' in html
    assert "<code>H/(√(s))</code>" in html


def test_a_notebook_that_is_not_run_says_how_to(path: Path) -> None:
    (page,) = notebook_pages([path])
    assert "burnerlab handbook --out DIR --notebooks" in page.text
    assert 'pip install "burnerlab[notebook]"' in page.text
    assert list(page.files) == ["small.ipynb"]
    assert "6 * 7" in page.text
    assert "<b>42" not in page.text
    assert "```text" not in page.text
    assert WITHOUT_RESULTS in page.text


def test_a_notebook_is_a_page_of_the_terminal_too() -> None:
    first = notebook_paths()[0]
    shown = CliRunner().invoke(main, ["handbook", first.stem])
    assert shown.exit_code == 0, shown.stderr
    assert notebook_page(first).title in shown.stdout.splitlines()[0]
    assert all(path.stem in CliRunner().invoke(main, ["handbook"]).stdout for path in notebook_paths())


def test_results_are_kept_for_a_wheel_and_shown_while_release_and_cells_are_the_same(
    path: Path, page: NotebookPage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What ran stands in for a run: the fixture has run these cells."""
    source = tmp_path / "small.ipynb"
    source.write_bytes(path.read_bytes())
    monkeypatch.setattr(
        "burnerlab.handbook.notebook_results.executed_cells", lambda _: page_cells(page, path)
    )
    (kept,) = write_results([source])
    assert kept == tmp_path / "results" / "small.ipynb"
    (shown,) = notebook_pages([source])
    assert "[1, 2, 1, 2]" in shown.text
    assert WITHOUT_RESULTS not in shown.text
    assert f"run when burnerlab {__version__} was built" in shown.text
    assert nbformat.reads(shown.files["small.ipynb"].decode("utf-8"), as_version=4).cells[1].outputs == []
    assert shown.files["small-1.png"].startswith(b"\x89PNG")
    written(source, [*CELLS[:-1], ("code", "[1, 2] * 3")])
    assert "[1, 2, 1, 2]" not in notebook_pages([source])[0].text
    source.write_bytes(path.read_bytes())
    monkeypatch.setattr("burnerlab.handbook.notebook_results.__version__", "0.0.1")
    assert "runs it" in notebook_pages([source])[0].text


def page_cells(page: NotebookPage, path: Path) -> list[dict[str, object]]:
    """Cells as a run leaves them: the picture as bytes, the last with its value."""
    cells = nbformat.read(path, as_version=4).cells
    picture = base64.b64encode(page.files["small-2.png"]).decode("ascii")
    cells[4].outputs = [nbformat.v4.new_output("display_data", {"image/png": picture})]
    cells[5].outputs = [nbformat.v4.new_output("execute_result", {"text/plain": "[1, 2, 1, 2]"})]
    return list(cells)


def test_the_five_of_the_package_are_pages_with_their_equations_and_cautions() -> None:
    every = notebook_pages(notebook_paths())
    assert len(every) == 5
    for page in every:
        assert "## Cautions" in page.text
        assert "$" not in "".join(part for part in page.text.split("```")[::2]), page.topic
        assert "\\frac" not in page.text


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
def test_a_cell_that_fails_is_named(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"wrong\.ipynb.*ValueError: no such drill"):
        notebook_page(
            written(tmp_path / "wrong.ipynb", [("code", "raise ValueError('no such drill')")]),
            with_results=True,
        )


def test_without_the_extra_or_a_notebook_it_is_refused(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(UserError, match="no notebook is installed"):
        notebook_pages([], with_results=True)
    monkeypatch.setattr("burnerlab.handbook.notebooks.find_spec", lambda name: None)
    with pytest.raises(UserError, match="burnerlab\\[notebook\\]"):
        notebook_pages([path], with_results=True)
    assert "add --out DIR" in complaint("handbook", "--notebooks")


def test_cells_of_a_table_that_reach_over_rows_are_repeated() -> None:
    html = "<table><tr><th>a</th><th>b</th></tr><tr><td rowspan=2>x</td><td>1</td></tr><tr><td>2</td></tr></table>"
    assert table_rows(html) == [["a", "b"], ["x", "1"], ["x", "2"]]
    assert table_rows("<p>no table</p>") == []


def test_a_column_without_a_head_has_a_cell_there() -> None:
    html = str(body_html("| | drill |\n|---|---|\n| ring | #44 |\n", "small", site_address, str))
    assert '<td tabindex="0"></td>\n<th scope="col">drill</th>' in html  # the keys begin at the head


def test_a_block_is_not_ended_by_its_text() -> None:
    assert fence("````\nx").startswith("`````text\n")


def test_an_equation_on_a_line_of_its_own_is_a_block() -> None:
    assert equations_as_text("$$a = \\frac{b}{c}d^2$$") == "\n```equation\na = (b/c)d²\n```\n"
