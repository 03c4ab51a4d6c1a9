"""Prints the lowest release that pyproject.toml declares of each dependency, as constraints of pip: ``click==8.2``.

``lowest_bounds.py sheet page`` takes what the package needs with these extras.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

OWN = re.compile(r"burnerlab\[(?P<extras>[\w,]+)\]")
BOUND = re.compile(r"(?P<name>[\w.-]+)>=(?P<release>[\w.]+)")


def lowest(needs: list[str], extras: dict[str, list[str]]) -> Iterator[str]:
    """Each need at its lower bound; those of an extra of our own in its place."""
    for need in needs:
        own, bound = OWN.fullmatch(need), BOUND.fullmatch(need)
        if own is not None:
            for extra in own["extras"].split(","):
                yield from lowest(extras[extra], extras)
        elif bound is not None:
            yield f"{bound['name']}=={bound['release']}"
        else:
            sys.exit(f"pyproject.toml: {need!r} declares no lower bound as NAME>=RELEASE")


project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
optional = project["optional-dependencies"]
wanted = [*project["dependencies"], *(need for extra in sys.argv[1:] for need in optional[extra])]
sys.stdout.write("".join(f"{one}\n" for one in dict.fromkeys(lowest(wanted, optional))))
