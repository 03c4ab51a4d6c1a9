"""Prints a command of the README as written: the fenced block that follows the marker ``<!-- command: NAME -->``."""

from __future__ import annotations

import re
import sys
from pathlib import Path

readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
block = re.search(rf"<!-- command: {re.escape(sys.argv[1])} -->\s*```\w*\n(.*?)```", readme, re.DOTALL)
if block is None:
    sys.exit(f"README.md marks no command {sys.argv[1]!r}")
sys.stdout.write(block.group(1))
