"""Gas-appliance combustion and orifice-sizing workbench.

The public names load on first use, so that ``import burnerlab`` stays light.

>>> import burnerlab
>>> burnerlab.__version__
'0.1.0'
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

# public name -> the room it lives in
_PUBLIC: dict[str, str] = {}

__all__ = ["__version__"]


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        return getattr(import_module(_PUBLIC[name]), name)
    raise AttributeError(f"module 'burnerlab' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*__all__, *_PUBLIC])
