"""Ships fuels/ and shared/ inside the wheel; an editable install reads the checkout, so nothing is copied there."""

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
