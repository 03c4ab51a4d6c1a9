"""Sort a gas into what its flame is made of; rare components burn like a neighbour, within limits."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from burnerlab.flame.blend import HYDROCARBONS, Parts, parts_of
from burnerlab.flame.making.plan import INERTS
from burnerlab.flame.profile import OXYGEN_DEMAND
from burnerlab.gas.combustion_air import oxygen_demand
from burnerlab.tables import Row, rows
from burnerlab.tables.problem import Problem, UserError

MENTIONED = 1e-3  # share from which a stand-in is worth a note


@cache
def _stand_ins() -> dict[str, Row]:
    return {row["component"]: row for row in rows("flame_stand_ins")}


def sorted_parts(gas: Mapping[str, float], limited: bool = True) -> tuple[Parts, tuple[str, ...]]:
    """The parts of a gas, and notes on what burns like something else.

    gas : component -> mole fraction; limited : refuse a stand-in beyond the share its row allows.
    Raises UserError when nothing burns, or a component without flames of its own takes too large a share.

    >>> parts, notes = sorted_parts({"methane": 0.9, "n-pentane": 0.02, "nitrogen": 0.08})
    >>> round(parts.hydrocarbons["n-butane"], 4), notes
    (0.0246, ('n-pentane burns like n-butane',))
    """
    moles: dict[str, float] = {}
    notes, problems = [], []
    total = _whole_demand(gas)
    for name, share in gas.items():
        if share <= 0.0:
            continue
        if name not in _stand_ins():
            moles[name] = moles.get(name, 0.0) + share
            continue
        row = _stand_ins()[name]
        own = float(oxygen_demand([name], [1.0]))
        weight = share * own / total if own > 0 else share
        if limited and weight > float(row["largest_share"]):
            problems.append(_too_much(name, weight, row))
        if weight > MENTIONED:
            notes.append(f"{name} burns like {row['burns_like']}")
        like = row["burns_like"]
        factor = own / OXYGEN_DEMAND[like] if own > 0 else 1.0
        moles[like] = moles.get(like, 0.0) + share * factor
    if problems:
        raise UserError(problems)
    return _parts(moles), tuple(notes)


def as_mixture(parts: Parts) -> dict[str, float]:
    """The parts as a composition again, mole fractions adding to one."""
    moles = {**parts.hydrocarbons, **parts.inerts}
    moles |= {"hydrogen": parts.hydrogen, "carbon monoxide": parts.carbon_monoxide, "oxygen": parts.oxygen}
    total = sum(moles.values())
    return {name: share / total for name, share in moles.items() if share > 0.0}


def _whole_demand(gas: Mapping[str, float]) -> float:
    burning = {name: share for name, share in gas.items() if name != "oxygen" and share > 0.0}
    total = sum(share * float(oxygen_demand([name], [1.0])) for name, share in burning.items())
    if total <= 0.0:
        what = "nothing in this gas burns"
        raise UserError(
            Problem(what, value=", ".join(gas), key="gas", fix="give a gas with a fuel component")
        )
    return total


def _too_much(name: str, share: float, row: Row) -> Problem:
    return Problem(
        f"no flames of {name} in the tables, and too much of it to burn like {row['burns_like']}",
        value=f"{share:.3g} of the oxygen demand",
        key="gas",
        accepted=f"up to {row['largest_share']}",
        fix="leave it out, or give the burning velocity yourself",
    )


def _parts(moles: Mapping[str, float]) -> Parts:
    known = {*HYDROCARBONS, *INERTS, "hydrogen", "carbon monoxide", "oxygen"}
    unknown = sorted(set(moles) - known)
    if unknown:
        raise UserError(
            Problem("no flames of this component in the tables", value=", ".join(unknown), key="gas")
        )
    return parts_of(moles)
