"""The hole, the drills and the rate that the user asked for."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from burnerlab.cli.inputs import shape_name_of
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.orifice import Drill


def drill_names_of(text: str, key: str) -> tuple[str, ...]:
    """Names of drill lists and of single drills; a CSV file gives the sizes in its first column."""
    from burnerlab.orifice.drills import KINDS, own_sizes

    if text.lower().endswith(".csv"):
        return tuple(own_sizes(Path(text)))
    words = [word.strip() for word in text.replace(";", ",").split(",") if word.strip()]
    if not words:
        accepted = f'{", ".join(KINDS)}, sizes such as "#54,1.45 mm", or a CSV file'
        raise UserError(Problem("no drill list given", key=key, accepted=accepted))
    series = {name: kind for kind in KINDS for name in (kind, f"{kind}s")} | {"all": "all"}
    named = [series.get(word.lower(), word) for word in words]
    return KINDS if "all" in named else tuple(dict.fromkeys(named))


def read_drills(text: str, key: str) -> tuple[Drill, ...]:
    """The drills to choose from: shipped lists by name, drills by size, or a CSV file of sizes."""
    from burnerlab.orifice import drill_list
    from burnerlab.orifice.drills import KINDS

    named = drill_names_of(text, key)
    own = [name for name in named if name not in KINDS]
    try:
        return drill_list(*(name for name in named if name in KINDS), own=own or None)
    except UserError as error:
        accepted = f'{", ".join(KINDS)}, or sizes such as "#54,1.45 mm"'
        raise UserError([replace(p, key=key, accepted=accepted) for p in error.problems]) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureRange:
    """Lowest and highest supply pressure, gauge [Pa]."""

    low_Pa: float
    high_Pa: float


BETWEEN = re.compile(
    r"\s*(?P<low>.+?)\s*(?:\.\.+|…|–|\bto\b|(?<=[0-9A-Za-z.]) ?- ?(?=[0-9.]))\s*(?P<high>.+?)\s*"
)


def read_pressure_range(text: str, key: str) -> PressureRange:
    """A range such as "25 mbar..35 mbar" or "25 to 35 mbar"; a unit said once counts for both ends.

    >>> read_pressure_range("25..35 mbar", "--pressure-range")
    PressureRange(low_Pa=2500.0, high_Pa=3500.0)
    """
    from burnerlab.quantity import Kind, read

    found = BETWEEN.fullmatch(text)
    if found is None:
        raise UserError(Problem("not a range", value=text, key=key, accepted='such as "25 mbar..35 mbar"'))
    low, high = found["low"], found["high"]
    if re.fullmatch(r"[0-9.]+", low, re.ASCII):
        low = f"{low} {high.lstrip('0123456789. ')}"
    low_Pa, high_Pa = (read(end, Kind.GAUGE_PRESSURE, key=key) for end in (low, high))
    if not low_Pa < high_Pa:
        raise UserError(Problem("the lower end comes first", value=text, key=key))
    return PressureRange(low_Pa=low_Pa, high_Pa=high_Pa)


def constant_coefficient(coefficient: float | None, shape: str | None) -> float | None:
    """A discharge coefficient for every new orifice, as given or that of a shape; None leaves each burner's own."""
    from burnerlab.orifice.discharge import shape_named

    if coefficient is not None or shape is None:
        return coefficient
    row = shape_named(shape_name_of(shape))
    if row.correlation:
        fix = "write shape and length of each orifice into the appliance's file"
        raise UserError(
            Problem("the coefficient of this shape depends on the hole", value=shape, key="--shape", fix=fix)
        )
    return row.coefficient


def policy_of(text: str, key: str) -> str:
    """The name of an altitude policy. Raises UserError with the names there are."""
    from difflib import get_close_matches

    from burnerlab.orifice import policy_names

    name = "-".join(text.lower().replace("_", " ").split())
    if name in policy_names():
        return name
    near = [known for known in policy_names() if known.startswith(name)] or get_close_matches(
        name, policy_names()
    )
    fix = f"did you mean {' or '.join(near)}?" if near else ""
    accepted = ", ".join(policy_names())
    raise UserError(
        Problem("no altitude policy of that name", value=text, key=key, accepted=accepted, fix=fix)
    )
