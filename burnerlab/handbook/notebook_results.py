"""Results of the notebooks in a wheel: each is run before it is built, by the release it is built of.

``python -m burnerlab.handbook.notebook_results`` runs those of the checkout and keeps them in a folder of their own; the
sources stay without outputs. Results of another release, or of other cells, are not shown.
"""

from __future__ import annotations

import base64
import io
import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from burnerlab import __version__

FOLDER = "results"
RELEASE = "burnerlab"  # of the metadata of a notebook that was run
COLOURS = 128  # of a picture: a page shows a heat map in fewer, and a wheel is a third of its size
PNG = "image/png"


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


def write_results(paths: Sequence[Path]) -> Iterator[Path]:
    """Run notebooks one after the other and keep each with its outputs. Raises UserError where a cell fails."""
    from burnerlab.handbook.notebooks import executed_cells

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
    from burnerlab.handbook.notebooks import notebook_paths

    for one in write_results(notebook_paths()):
        sys.stdout.write(f"{one}\n")
