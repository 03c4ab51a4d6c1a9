"""Gas-appliance combustion and orifice-sizing workbench.

The public names stand in ``__init__.pyi``, each with its room; here they load on first use, so that ``import
burnerlab`` stays light. They are those of the commands where a command has one: ``flow`` and ``size``, ``convert``,
``injectors``, ``tolerance``.

>>> import burnerlab as bl
>>> bl.__version__
'0.2.0'
>>> propane = bl.load("propane")
>>> bl.properties(propane, bl.ReferenceState.read("15C/15C")).gross_wobbe_J_per_m3 / 1e6
76.85

A parameter takes a number in SI, a text with its unit or a quantity of pint; ``flow`` and ``size`` take arrays too:

>>> supply = bl.Conditions(gauge_pressure_Pa="11 in w.c.")
>>> bl.flow(propane, "#54", supply).heat_input_gross_W
7058.
>>> bl.flow(propane, [0.001, 0.002], supply).heat_input_gross_W.round()
array([ 3617., 14467.])
"""

from __future__ import annotations

from functools import cache
from typing import Any

__version__ = "0.2.0"


@cache
def _rooms() -> dict[str, str]:
    """The room of each public name, as the stub says."""
    import ast
    from pathlib import Path

    stub = ast.parse(Path(__file__).with_suffix(".pyi").read_text(encoding="utf-8"))
    return {
        alias.name: str(line.module)
        for line in stub.body
        if isinstance(line, ast.ImportFrom)
        for alias in line.names
    }


def __getattr__(name: str) -> Any:
    if name.startswith("_") or name not in _rooms():
        raise AttributeError(f"module 'burnerlab' has no attribute {name!r}")
    from importlib import import_module

    found = globals()[name] = getattr(import_module(_rooms()[name]), name)
    return found


def __dir__() -> list[str]:
    return sorted(["__version__", *_rooms()])
