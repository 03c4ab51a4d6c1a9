"""Ships fuels/, shared/ and notebooks inside the wheel, with the results of the notebooks where they were run.

A build runs no notebook: it has neither the libraries nor the minutes. One without results of its release says so. An
editable install reads the checkout: nothing is copied.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

HOW = "they are made before it is built: python -m burnerlab.handbook.notebook_results"


class ShippedData(BuildHookInterface):  # type: ignore[type-arg]
    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version != "standard":
            return
        for folder in ("fuels", "shared"):
            build_data["force_include"][str(Path(self.root) / folder)] = f"burnerlab/_data/{folder}"
        notebooks = Path(self.root) / "notebooks"
        for path in sorted((*notebooks.glob("*.ipynb"), *notebooks.glob("results/*.ipynb"))):
            inside = path.relative_to(notebooks).as_posix()
            build_data["force_include"][str(path)] = f"burnerlab/_data/notebooks/{inside}"
        without = [path.name for path in sorted(notebooks.glob("*.ipynb")) if not self.was_run(path)]
        if without:
            self.app.display_warning(f"no results in this wheel of {', '.join(without)}; {HOW}")

    def was_run(self, notebook: Path) -> bool:
        """Whether its results stand beside it, of the release that is built."""
        results = notebook.parent / "results" / notebook.name
        if not results.is_file():
            return False
        run_by = json.loads(results.read_bytes())["metadata"].get("burnerlab")
        return bool(run_by == self.metadata.version)
