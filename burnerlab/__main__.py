"""``python -m burnerlab`` is the command ``burnerlab``."""

from __future__ import annotations

from burnerlab.cli import main

if __name__ == "__main__":
    main(prog_name="burnerlab")
