"""Every notebook runs; its figures are those of the commands, and its sentences those of its figures."""

from __future__ import annotations

import ast
import json
import math
import re
import shlex
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import nbformat
import pytest
from click.testing import CliRunner

import burnerlab as bl
from burnerlab.appliance import demonstration_path
from burnerlab.cli import main
from burnerlab.handbook.notebook_results import SECONDS_A_CELL
from burnerlab.tables.cautions import caution, cautions

FOLDER = Path(__file__).parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
NAMES = [path.stem for path in NOTEBOOKS]
EQUAL = 1e-6  # relative; both are calculated, the JSON rounds
EXPECTED = tomllib.loads((Path(__file__).parent / "expected.toml").read_text(encoding="utf-8"))
CART = str(demonstration_path())
LIBRARIES = {"matplotlib", "numpy", "pandas", "pint"}


def read(name: str) -> Any:
    return nbformat.read(FOLDER / f"{name}.ipynb", as_version=4)


def code_of(name: str) -> ast.Module:
    return ast.parse("\n".join(cell.source for cell in read(name).cells if cell.cell_type == "code"))


def test_there_are_five_and_the_index_names_them() -> None:
    index = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert [name[0] for name in NAMES] == list("12345")
    assert all(f"({name}.ipynb)" in index for name in NAMES)
    assert set(EXPECTED) == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_it_is_stored_without_outputs(name: str) -> None:
    notebook = read(name)
    nbformat.validate(notebook)
    assert set(notebook.metadata) == {"kernelspec", "language_info"}
    assert notebook.metadata.language_info == {"name": "python"}
    for cell in notebook.cells:
        assert cell.metadata == {}
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None


@pytest.mark.parametrize("name", NAMES)
def test_it_reads_as_agreed(name: str) -> None:
    cells = read(name).cells
    words = [cell.source for cell in cells if cell.cell_type == "markdown"]
    assert words[0].startswith("# ")
    assert "?" in words[0], "a question comes first"
    text = "\n".join(words)
    assert "## What surprises" in text
    assert "## What to test at the bench" in text
    assert cells[-1].source.startswith("## Cautions")
    assert text.count("## Cautions") == 1
    assert not re.search(r"\b(safe|approved|compliant|certified|to-?do)\b", text, re.IGNORECASE)
    assert max(len(part) for part in re.split(r"\n\s*\n", text)) < 800, "a paragraph is too long"


@pytest.mark.parametrize("name", NAMES)
def test_its_cautions_are_those_of_the_table_worst_first(name: str) -> None:
    """Short lines or full texts as they stand in the table: before what is done at the bench, and at the end."""
    bench, end = (
        next(cell.source for cell in read(name).cells if head in cell.source)
        for head in ("## What to test at the bench", "## Cautions")
    )
    known = [f"**{one.signal}**: {words}" for one in cautions() for words in (one.line.partition(": ")[2], one.text)]
    for cell in (bench, end):
        said = [line[2:] for line in cell.splitlines() if line.startswith(("- **", "> **"))]
        places = [known.index(line) for line in said]
        assert places
        assert places == sorted(places)
    assert bench.index("**WARNING**") < bench.index("\n1. ")
    assert "**NOTICE**: Calculated" in end


@pytest.mark.parametrize(
    ("name", "ids"),
    [
        ("2-one-burner-three-gases", ("special-gas", "provoked-fault")),
        ("5-cold-market-morning", ("cylinder", "supply-pressure")),
    ],
)
def test_what_is_provoked_or_drawn_cold_is_cautioned_in_full_before_it(name: str, ids: tuple[str, ...]) -> None:
    cell = next(cell.source for cell in read(name).cells if "## What to test at the bench" in cell.source)
    for one in ids:
        assert 0 < cell.find(caution(one).text) < cell.index("\n1. "), one


@pytest.mark.parametrize("name", NAMES)
def test_it_uses_the_public_names_only(name: str) -> None:
    for node in ast.walk(code_of(name)):
        if isinstance(node, ast.Import):
            tops = [(alias.name.partition(".")[0], alias.asname, alias.name) for alias in node.names]
            assert all(
                (top == "burnerlab" and asname == "bl" and whole == "burnerlab")
                or top in LIBRARIES | sys.stdlib_module_names
                for top, asname, whole in tops
            )
        elif isinstance(node, ast.ImportFrom):
            assert (node.module or "").partition(".")[0] in LIBRARIES | sys.stdlib_module_names
        elif isinstance(node, ast.Attribute):
            assert not node.attr.startswith("_")
            if isinstance(node.value, ast.Name) and node.value.id == "bl":
                assert node.attr in dir(bl)


@pytest.fixture(scope="module")
def kernel(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """One for all notebooks, which loads its libraries once; nothing of one notebook is left for the next."""
    from jupyter_client import AsyncKernelManager
    from jupyter_core.utils import run_sync

    folder = tmp_path_factory.mktemp("kernel")
    with pytest.MonkeyPatch.context() as patch, TemporaryDirectory(prefix="nb-") as sockets:
        patch.setenv("PYTHONPATH", str(FOLDER.parent))
        patch.setenv("IPYTHONDIR", str(folder / "ipython"))
        patch.setenv("JUPYTER_RUNTIME_DIR", str(folder / "runtime"))
        # of a short path, as sockets ask; no ports to fight for
        network = {"transport": "ipc", "ip": f"{sockets}/k"} if sys.platform != "win32" else {}
        made = AsyncKernelManager(kernel_name="python3", **network)
        yield made
        if made.has_kernel:
            run_sync(made.shutdown_kernel)(now=True)


NEW = """\
import os, sys
if "matplotlib.pyplot" in sys.modules:
    sys.modules["matplotlib.pyplot"].close("all")
    sys.modules["matplotlib"].rcdefaults()
os.chdir({folder!r})
get_ipython().run_line_magic("reset", "-f")
"""


def executed(kernel: Any, name: str, folder: Path, questions: dict[str, str]) -> tuple[Any, dict[str, Any]]:
    """The notebook run from top to bottom in a folder of its own, and what it then answers."""
    from nbclient import NotebookClient

    notebook = read(name)
    asked = ", ".join(f"{key!r}: {expression}" for key, expression in questions.items())
    first = nbformat.v4.new_code_cell(NEW.format(folder=str(folder)))
    last = nbformat.v4.new_code_cell(
        f"import json\nprint(json.dumps({{{asked}}}, default=lambda one: one.item()))"
    )
    notebook.cells = [first, *notebook.cells, last]
    resources = {"metadata": {"path": str(folder)}}
    client = NotebookClient(notebook, km=kernel, timeout=SECONDS_A_CELL, resources=resources)
    try:
        client.execute()
    finally:
        if client.kc is not None:
            client.kc.stop_channels()
    return notebook, json.loads(last.outputs[0].text)


@cache
def command(text: str) -> Any:
    words = [CART if word == "CART" else word for word in shlex.split(text)]
    done = CliRunner().invoke(main, [*words, "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def at_manifold_pressure(result: Any, place: str) -> float | None:
    for step in place.split("."):
        result = result[int(step)] if isinstance(result, list) else result[step]
    return None if result is None else float(result)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")
@pytest.mark.parametrize("name", NAMES)
def test_it_runs_and_says_what_it_shows(name: str, kernel: Any, tmp_path: Path) -> None:
    figures, sentences = EXPECTED[name]["figures"], EXPECTED[name]["sentences"]
    questions = {f"figure: {one['what']}": one["here"] for one in figures}
    questions |= {f"sentence: {what}": f"bool({condition})" for what, condition in sentences.items()}
    notebook, answers = executed(kernel, name, tmp_path, questions)

    outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    assert not [output for output in outputs if output.output_type == "error"]
    assert not [o.text for o in outputs if o.output_type == "stream" and o.name == "stderr"]
    assert sum("image/png" in output.get("data", {}) for output in outputs) >= 3
    assert not list(tmp_path.iterdir()), "a notebook leaves nothing behind"
    assert not [what for what, holds in answers.items() if what.startswith("sentence") and not holds]
    for one in figures:
        found, wanted = answers[f"figure: {one['what']}"], at_manifold_pressure(command(one["command"]), one["place"])
        if wanted is None:
            assert found is None, one["what"]
            continue
        assert math.isclose(found, wanted, rel_tol=one.get("tolerance", EQUAL)), (
            f"{one['what']}: {found} here, {wanted} by the command"
        )
