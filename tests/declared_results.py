"""Every result of the package that declares outputs."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Iterator
from dataclasses import is_dataclass
from functools import cache

import burnerlab
from burnerlab.quantity.outputs import columns


@cache
def declared_results() -> tuple[type, ...]:
    """By module, in the order of the code; none of a workshop or of a name that is the module's own."""
    return tuple(_declared())


def _declared() -> Iterator[type]:
    for found in pkgutil.walk_packages(burnerlab.__path__, "burnerlab."):
        if found.name.endswith("__main__") or ".making" in found.name:
            continue
        for made in vars(importlib.import_module(found.name)).values():
            is_own = (
                inspect.isclass(made) and made.__module__ == found.name and not made.__name__.startswith("_")
            )
            if is_own and is_dataclass(made) and columns(made):
                yield made
