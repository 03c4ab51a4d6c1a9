"""Which burner can light which: distances between ports, rows of ports, and what happens when an igniter fails.

A prompt to test, nothing more: the reach of a flame from port to port is recalled handbook practice, and whether it
is lit in time, in wind or cold, no figure here tells.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from burnerlab.appliance.project.geometry import Bridge, Space
from burnerlab.appliance.project.geometry_checks import Footprint, burner_footprint, overlap
from burnerlab.appliance.project.model import Appliance
from burnerlab.layout.flame_size import FlameSize, flame_sizes
from burnerlab.layout.placement import Standing, standing
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables import Figure, figure
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

TABLE = "carryover"
Strength = Literal["likely", "doubtful", "none", "not evaluated"]
WORST: tuple[Strength, ...] = ("none", "not evaluated", "doubtful", "likely")

NOTES = (
    "Free distance is that between the burners' bodies in plan; ports are taken to reach to their edges.",
    "Flame heights are those over one port on its gas, air and rate; the high end holds flames that join.",
    "Draught, cold start, grease in ports and the time to light are not evaluated: test required on both gases.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """One link on one gas at one rate."""

    gas: str = field(metadata=output("gas"))
    load: float = field(metadata=output("rate", Kind.FRACTION))
    strength: Strength = field(metadata=output("carry-over"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A way from one burner's flame to another's ports."""

    from_burner: str = field(metadata=output("from"))
    to_burner: str = field(metadata=output("to"))
    by: str = field(metadata=output("by"))
    """Side by side, or a row of ports."""
    free_distance_m: float = field(metadata=output("free", Kind.LENGTH))
    rise_m: float = field(metadata=output("rise", Kind.LENGTH))
    likely_reach_m: float | None = field(metadata=output("likely up to", Kind.LENGTH))
    conditions: tuple[Condition, ...] = field(metadata=output("conditions"))
    why: str = field(metadata=output("why"))

    @property
    @computed_output("carry-over")
    def strength(self) -> Strength:
        """The worst over gases and rates."""
        return min((c.strength for c in self.conditions), key=WORST.index)


@dataclass(frozen=True, slots=True, kw_only=True)
class IgniterFailure:
    """What stays dark when one igniter fails."""

    igniter: str = field(metadata=output("when it fails"))
    lights: tuple[str, ...] = field(metadata=output("lights"))
    out_of_reach: tuple[str, ...] = field(metadata=output("out of reach"))
    """Even over doubtful links."""
    only_over_doubtful_links: tuple[str, ...] = field(metadata=output("only over doubtful links"))
    """Or over some that are not evaluated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CarryOver:
    """The graph of an appliance and its weak places."""

    burners: tuple[str, ...] = field(metadata=output("burners"))
    links: tuple[Link, ...] = field(metadata=output("links"))
    """All but those that cannot be."""
    flames: tuple[FlameSize, ...] = field(metadata=output("flames"))
    igniters: Mapping[str, tuple[str, ...]] = field(metadata=output("igniters"))
    """By name, the burners each stands at."""
    out_of_reach: tuple[str, ...] = field(metadata=output("out of reach"))
    """With every igniter working."""
    when_an_igniter_fails: tuple[IgniterFailure, ...] = field(metadata=output("when an igniter fails"))
    weak_links: tuple[str, ...] = field(metadata=output("weak links"))
    prompts: tuple[str, ...] = field(metadata=output("to test"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    evidence: Evidence = field(default=Evidence.ESTIMATE, metadata=output("evidence"))

    @property
    @computed_output("every burner reached when any igniter fails")
    def every_burner_reached_when_any_igniter_fails(self) -> bool | None:
        """Whether likely links alone reach every burner with any one igniter out; None where none is named."""
        if not self.igniters:
            return None
        return not any(one.out_of_reach or one.only_over_doubtful_links for one in self.when_an_igniter_fails)


def carry(name: str, own: Path | None = None) -> Figure:
    """One row of the table ``carryover``, or of the user's own.

    >>> carry("likely reach").value
    3.0
    """
    return figure(TABLE, name, own)


def carry_over(
    appliance: Appliance, second: Appliance | None = None, *, own: Path | None = None
) -> CarryOver:
    """Which burner can light which, on the appliance's gas and on that of a second (the same after a conversion).

    By distance between ports and height of flames, at full and low rate. A prompt to test: the reach of a flame from
    port to port is recalled handbook practice, and whether it is lit in time, in wind or cold, no figure here tells.
    second : the appliance after the change; own : CSV of the columns of ``carryover``
    Raises UserError for a file in which no burner has a place with a height.

    >>> from burnerlab.appliance import demonstration
    >>> found = carry_over(demonstration())
    >>> len(found.links), found.out_of_reach
    (4, ())
    """
    found = [one for one in standing(appliance) if one.place.height_m is not None]
    if not found:
        fix = "give each burner a place with x, y, height and its size"
        raise UserError(
            Problem("no burner has a place with a height", file=appliance.file, key="place", fix=fix)
        )
    cases = [appliance, *([] if second is None else [second])]
    low = carry("low rate", own).value
    flames = tuple(flame for case in cases for one in found for flame in flame_sizes(case, one, (1.0, low)))
    gases = [case.supply.gas.name for case in cases]
    links = [
        link
        for a in found
        for b in found
        if a is not b
        for link in [_side_by_side(a, b, flames, gases, (1.0, low), own)]
        if link.strength != "none"
    ]
    space = appliance.space or Space()
    for bridge in space.bridges:
        links += _row_of_ports(bridge, gases, (1.0, low), own)
    names = tuple(one.name for one in found)
    left = [f"{b.name} is left out: the file gives no place with a height" for b in appliance.burners
            if b.name not in {one.burner.name for one in found}]  # fmt: skip
    return _result(names, tuple(links), flames, _igniters(found), (*NOTES, *left), own)


def _igniters(standings: Sequence[Standing]) -> dict[str, tuple[str, ...]]:
    at: dict[str, list[str]] = {}
    for one in standings:
        if one.burner.igniter:
            at.setdefault(one.burner.igniter, []).append(one.name)
    return {name: tuple(burners) for name, burners in at.items()}


# links


def _side_by_side(
    a: Standing,
    b: Standing,
    flames: Sequence[FlameSize],
    gases: Sequence[str],
    loads: Sequence[float],
    own: Path | None,
) -> Link:
    free = distance_m(burner_footprint(a.burner, a.place), burner_footprint(b.burner, b.place))
    rise = (b.place.height_m or 0.0) - (a.place.height_m or 0.0)
    ports = [p.diameter_m for p in (a.burner.ports, b.burner.ports) if p is not None]
    reach = carry("likely reach", own).value * min(ports) if len(ports) == 2 else None
    sizes = {(f.gas, f.load): f for f in flames if f.burner == a.name}
    conditions = tuple(
        Condition(gas=gas, load=load, strength=_strength(free, rise, reach, sizes[gas, load], own))
        for gas in gases
        for load in loads
    )
    return Link(
        from_burner=a.name,
        to_burner=b.name,
        by="side by side",
        free_distance_m=free,
        rise_m=rise,
        likely_reach_m=reach,
        conditions=conditions,
        why="" if reach is not None else "the ports of both burners are not given",
    )


def _strength(
    free_m: float, rise_m: float, reach_m: float | None, flame: FlameSize, own: Path | None
) -> Strength:
    """A flame reaches no further than it is high, nor lights what lies well below it.

    Beyond the high end of its height nothing is lit; within its band it is doubtful, whatever the ports.
    """
    lost, step = carry("lost beyond", own).value, carry("step down", own).value
    needed = max(free_m, rise_m)
    if free_m > lost or rise_m < -step:
        return "none"
    if flame.height_at_most_m is not None and needed > flame.height_at_most_m:
        return "none"
    if reach_m is None or flame.height_at_most_m is None:
        return "not evaluated"
    surely_m = flame.height_at_most_m if flame.height_at_least_m is None else flame.height_at_least_m
    return "likely" if free_m <= reach_m and needed <= surely_m else "doubtful"


def _row_of_ports(
    bridge: Bridge, gases: Sequence[str], loads: Sequence[float], own: Path | None
) -> list[Link]:
    """A row of ports carries both ways, by the free distance between its own ports."""
    free = max(bridge.spacing_m - bridge.port_m, 0.0)
    reach = carry("likely reach", own).value * bridge.port_m
    strength: Strength = (
        "likely" if free <= reach else "doubtful" if free <= carry("lost beyond", own).value else "none"
    )
    conditions = tuple(Condition(gas=gas, load=load, strength=strength) for gas in gases for load in loads)
    return [
        Link(
            from_burner=start,
            to_burner=end,
            by="row of ports",
            free_distance_m=free,
            rise_m=0.0,
            likely_reach_m=reach,
            conditions=conditions,
            why="its first and last port are taken to stand at the burners; gas for it at one third is not evaluated",
        )
        for start, end in ((bridge.start, bridge.end), (bridge.end, bridge.start))
    ]


def distance_m(first: Footprint, second: Footprint) -> float:
    """Shortest way between two footprints in plan, 0 where they overlap [m].

    >>> tube = Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.02)
    >>> distance_m(tube, Footprint(x_m=0.14, y_m=0.3, u_m=0.4, v_m=0.02))
    0.12
    """
    if overlap(first, second):
        return 0.0
    return min(_to_edges(first, second), _to_edges(second, first))


def _to_edges(corners_of: Footprint, edges_of: Footprint) -> float:
    edges = edges_of.corners()
    best = math.inf
    for px, py in corners_of.corners():
        for (ax, ay), (bx, by) in zip(edges, (*edges[1:], edges[0]), strict=True):
            dx, dy = bx - ax, by - ay
            span = dx * dx + dy * dy
            t = min(max(((px - ax) * dx + (py - ay) * dy) / span, 0.0), 1.0) if span > 0 else 0.0
            best = min(best, math.hypot(px - ax - t * dx, py - ay - t * dy))
    return best


# the graph


def reached(starts: Iterable[str], links: Iterable[Link], allowed: Sequence[Strength]) -> set[str]:
    """Burners that light from some that are lit, over links of these strengths."""
    ways = [(link.from_burner, link.to_burner) for link in links if link.strength in allowed]
    lit = set(starts)
    growing = True
    while growing:
        new = {end for start, end in ways if start in lit} - lit
        growing = bool(new)
        lit |= new
    return lit


SURE: tuple[Strength, ...] = ("likely",)
ANY: tuple[Strength, ...] = ("likely", "doubtful", "not evaluated")


def _result(
    names: tuple[str, ...],
    links: tuple[Link, ...],
    flames: tuple[FlameSize, ...],
    igniters: dict[str, tuple[str, ...]],
    notes: tuple[str, ...],
    own: Path | None,
) -> CarryOver:
    all_starts = [burner for burners in igniters.values() for burner in burners]
    lost = []
    for name, mine in igniters.items():
        starts = [burner for other, burners in igniters.items() if other != name for burner in burners]
        sure, any_way = reached(starts, links, SURE), reached(starts, links, ANY)
        lost.append(
            IgniterFailure(
                igniter=name,
                lights=mine,
                out_of_reach=tuple(b for b in names if b not in any_way),
                only_over_doubtful_links=tuple(b for b in names if b in any_way and b not in sure),
            )
        )
    if not igniters:
        notes = (*notes, "the file names no igniter: what is lit first is not evaluated")
    everywhere = reached(all_starts, links, ANY)
    return CarryOver(
        burners=names,
        links=links,
        flames=flames,
        igniters=igniters,
        out_of_reach=tuple(b for b in names if igniters and b not in everywhere),
        when_an_igniter_fails=tuple(lost),
        weak_links=_weak(names, links, all_starts),
        prompts=_prompts(own),
        notes=notes,
    )


def _weak(names: tuple[str, ...], links: tuple[Link, ...], starts: list[str]) -> tuple[str, ...]:
    """Links that are doubtful, and links that alone carry the flame to a burner."""
    lines = []
    pairs: dict[frozenset[str], list[Link]] = {}
    for link in links:
        pairs.setdefault(frozenset((link.from_burner, link.to_burner)), []).append(link)
    whole = reached(starts, links, ANY)
    for pair, both in pairs.items():
        one = both[0]
        ends = f"{one.from_burner} - {one.to_burner}"
        strength = max((link.strength for link in both), key=WORST.index)
        free = f"{1e3 * one.free_distance_m:.1f} mm free, {one.by}"
        if strength != "likely":
            reach = "" if one.likely_reach_m is None else f", likely up to {1e3 * one.likely_reach_m:.1f} mm"
            lines.append(f"{ends}: {strength} ({free}{reach})")
        rest = [link for link in links if frozenset((link.from_burner, link.to_burner)) != pair]
        cut = [b for b in names if b in whole and b not in reached(starts, rest, ANY)]
        if cut:
            lines.append(f"{ends}: the only way to {', '.join(cut)} ({free})")
    return tuple(lines)


def _prompts(own: Path | None) -> tuple[str, ...]:
    low, time = carry("low rate", own), carry("time to light", own)
    return (
        f"Test required: each burner must light its neighbour at normal pressure and at about {100 * low.value:.0f} % "
        f"of full rate, on each gas ({low.cite()}).",
        f"Measure the time from gas at the ports to flame over all of them; about {time.value:.0f} s is the usual "
        f"limit ({time.cite()}).",
        "Test rig only, by a qualified person, shut-off within reach: with one igniter at a time out of action watch "
        "what lights within that time, and close the gas if a burner does not. Then in wind and with a cold appliance.",
    )
