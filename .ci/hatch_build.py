"""Ships fuels/, shared/ and notebooks inside the wheel, with the results of the notebooks where they were run.

An editable install reads the checkout: nothing is copied.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


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
