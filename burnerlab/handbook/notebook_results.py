"""Notebooks that are run, and their results in a wheel: made before it is built, by the release that it is built of.

``python -m burnerlab.handbook.notebook_results`` runs those of the checkout and keeps them in a folder of their
own. The sources stay without outputs. Results of another release, or of other cells, are not shown.
"""

from __future__ import annotations

import base64
import io
import json
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from burnerlab import __version__
from burnerlab.tables.folders import folder
from burnerlab.tables.problem import Problem, UserError

ENDING = ".ipynb"
SECONDS_A_CELL = 600
FOLDER = "results"
RELEASE = "burnerlab"  # of the metadata of a notebook that was run
COLOURS = 128  # of a picture: a page shows a heat map in fewer, and a wheel is a third of its size
PNG = "image/png"


def notebook_paths() -> tuple[Path, ...]:
    """The notebooks of the package or the checkout, in order.

    >>> [path.name[0] for path in notebook_paths()]
    ['1', '2', '3', '4', '5']
    """
    return tuple(sorted(folder("notebooks").glob(f"*{ENDING}")))


def results_path(path: Path) -> Path:
    """Where the results of a notebook are kept.

    >>> results_path(Path("notebooks/1-small.ipynb")).as_posix()
    'notebooks/results/1-small.ipynb'
    """
    return path.parent / FOLDER / path.name


def stored_cells(path: Path, cells: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]] | None:
    """The cells of a notebook with what they printed and drew in this release; None where nothing fits them."""
    try:
        found = json.loads(results_path(path).read_bytes())
    except OSError:
        return None
    if found["metadata"].get(RELEASE) != __version__ or [*_sources(found["cells"])] != [*_sources(cells)]:
        return None
    stored: list[Mapping[str, Any]] = found["cells"]
    return stored


def executed_cells(path: Path) -> list[Mapping[str, Any]]:
    """Cells of a notebook with their outputs, run by this interpreter. Raises UserError where one fails."""
    import nbformat
    from jupyter_client.manager import AsyncKernelManager
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    read: Any = nbformat.read  # has no types
    notebook = read(path, as_version=4)
    with TemporaryDirectory(prefix="nb-") as place:  # short: its name is part of a socket's
        network = (
            {} if sys.platform == "win32" else {"transport": "ipc", "ip": f"{place}/k"}
        )  # no port is open
        client = NotebookClient(
            notebook,
            km=AsyncKernelManager(kernel_name="python3", **network),
            timeout=SECONDS_A_CELL,
            resources={"metadata": {"path": place}},
        )
        try:
            client.execute(cleanup_kc=True)
        except CellExecutionError as error:
            what = f"a cell fails: {error.ename}: {plain_lines(error.evalue).splitlines()[0]}"
            raise UserError(Problem(what, file=path.name, key="--notebooks")) from None
        except (CellTimeoutError, DeadKernelError) as error:
            what = f"was not run to its end: {type(error).__name__}"
            raise UserError(Problem(what, file=path.name, key="--notebooks")) from None
    return list(notebook.cells)


def plain_lines(text: str) -> str:
    """A text without the codes with which a terminal colours it.

    >>> plain_lines("\\x1b[31mred\\x1b[0m")
    'red'
    """
    return re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", text)


def write_results(paths: Sequence[Path]) -> Iterator[Path]:
    """Run notebooks one after the other and keep each with its outputs. Raises UserError where a cell fails."""
    for path in paths:
        notebook = json.loads(path.read_bytes())
        notebook["metadata"][RELEASE] = __version__
        notebook["cells"] = [_small(cell) for cell in executed_cells(path)]
        kept = results_path(path)
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(json.dumps(notebook, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
        yield kept


def _sources(cells: Sequence[Mapping[str, Any]]) -> Iterator[tuple[str, str]]:
    for cell in cells:
        yield cell["cell_type"], "".join(cell["source"])


def _small(cell: Mapping[str, Any]) -> Mapping[str, Any]:
    """A cell whose pictures have ``COLOURS`` colours."""
    for output in cell.get("outputs", ()):
        data = output.get("data", {})
        if PNG in data:
            data[PNG] = base64.b64encode(few_colours(base64.b64decode("".join(data[PNG])))).decode("ascii")
    return cell


def few_colours(picture: bytes) -> bytes:
    """A PNG in ``COLOURS`` colours."""
    from PIL import Image

    found = Image.open(io.BytesIO(picture)).convert("RGB")
    made = io.BytesIO()
    found.quantize(COLOURS, dither=Image.Dither.NONE).save(made, "PNG", optimize=True)
    return made.getvalue()


if __name__ == "__main__":
    for one in write_results(notebook_paths()):
        sys.stdout.write(f"{one}\n")
