"""Geometry of a project file: what stands where, and what cannot stand there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from burnerlab.appliance.project.geometry import Box, Grate, Shield, Space
from burnerlab.appliance.project.model import Burner, Place
from burnerlab.appliance.project.problems import Problems
from burnerlab.appliance.project.toml_lines import KeyPath
from burnerlab.tables.problem import did_you_mean

# Does one thing stand where another does: rectangles and discs in plan, turned by any angle.

PAIRS = 4000  # of things whose overlap is remembered: an edit moves one thing, if any
TOUCH_m = 1e-6  # things that only touch do not overlap


@dataclass(frozen=True, slots=True, kw_only=True)
class Footprint:
    """A rectangle in plan; u runs from front to back before it is turned, v to the right."""

    x_m: float
    y_m: float
    u_m: float  # full length
    v_m: float  # full width
    angle_rad: float = 0.0
    disc: bool = False  # a disc of diameter u

    def corners(self, grown_m: float = 0.0) -> tuple[tuple[float, float], ...]:
        """The four corners, or points round a disc."""
        if self.disc:
            radius = self.u_m / 2 + grown_m
            turns = [math.pi * k / 12 for k in range(24)]
            return tuple((self.x_m + radius * math.cos(t), self.y_m + radius * math.sin(t)) for t in turns)
        along, across = axes(self.angle_rad)
        half_u, half_v = self.u_m / 2 + grown_m, self.v_m / 2 + grown_m
        return tuple(
            (
                self.x_m + su * half_u * along[0] + sv * half_v * across[0],
                self.y_m + su * half_u * along[1] + sv * half_v * across[1],
            )
            for su, sv in ((-1, -1), (-1, 1), (1, 1), (1, -1))
        )

    def reach_m(self, direction: tuple[float, float]) -> tuple[float, float]:
        """Lowest and highest extent along a direction."""
        middle = self.x_m * direction[0] + self.y_m * direction[1]
        if self.disc:
            return middle - self.u_m / 2, middle + self.u_m / 2
        along, across = axes(self.angle_rad)
        half = self.u_m / 2 * abs(_dot(along, direction)) + self.v_m / 2 * abs(_dot(across, direction))
        return middle - half, middle + half


def axes(angle_rad: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Directions of the length and of the width of a thing turned by an angle.

    >>> axes(0.0)
    ((0.0, 1.0), (1.0, 0.0))
    """
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return (0.0 - s, c), (c, s)


def _dot(a: tuple[float, float], b: tuple[float, float]) -> float:
    return a[0] * b[0] + a[1] * b[1]


@lru_cache(maxsize=PAIRS)
def overlap(first: Footprint, second: Footprint) -> bool:
    """Whether two footprints cover common ground; touching does not count.

    >>> tube = Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.03)
    >>> overlap(tube, Footprint(x_m=0.14, y_m=0.0, u_m=0.4, v_m=0.03))
    False
    """
    if first.disc or second.disc:
        disc, other = (first, second) if first.disc else (second, first)
        return _to_middle(disc, other) < disc.u_m / 2 - TOUCH_m
    for direction in (*axes(first.angle_rad), *axes(second.angle_rad)):
        (a, b), (c, d) = first.reach_m(direction), second.reach_m(direction)
        if min(b, d) - max(a, c) <= TOUCH_m:
            return False
    return True


def _to_middle(disc: Footprint, other: Footprint) -> float:
    """Distance from the middle of a disc to the ground another footprint covers."""
    apart = (disc.x_m - other.x_m, disc.y_m - other.y_m)
    if other.disc:
        return math.hypot(*apart) - other.u_m / 2
    along, across = axes(other.angle_rad)
    off_u = max(abs(_dot(apart, along)) - other.u_m / 2, 0.0)
    off_v = max(abs(_dot(apart, across)) - other.v_m / 2, 0.0)
    return math.hypot(off_u, off_v)


def inside(inner: Footprint, outer: Footprint) -> bool:
    """Whether all of a footprint stands on an upright rectangle (angle 0).

    >>> box = Footprint(x_m=0.0, y_m=0.0, u_m=0.5, v_m=0.5)
    >>> inside(Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.03), box)
    True
    """
    return all(
        outer.reach_m(direction)[0] - TOUCH_m <= inner.reach_m(direction)[0]
        and inner.reach_m(direction)[1] <= outer.reach_m(direction)[1] + TOUCH_m
        for direction in axes(0.0)
    )


# Overlap and nonsense in the geometry of a project file, each complaint at its key.

THINNEST_m = 0.001  # of a burner whose width the file does not give
LEVEL_m = 0.01  # things less apart in height stand at one level


def check_space(space: Space, burners: tuple[Burner, ...], problems: Problems) -> None:
    """Hold everything that stands somewhere against everything else."""
    _names(space, problems)
    _apart(
        [(("grate", i), g.name, grate_footprint(g), g.height_m) for i, g in enumerate(space.grates)], problems
    )
    _apart(
        [(("shield", i), s.name, shield_footprint(s), s.height_m) for i, s in enumerate(space.shields)],
        problems,
    )
    if space.grates:
        _burners(space, burners, problems)
    for i, shield in enumerate(space.shields):
        _shield(shield, i, space, burners, problems)
    for i, box in enumerate(space.boxes):
        _box(box, i, space, problems)
    _bridges(space, burners, problems)
    _study(space, problems)


def grate_footprint(grate: Grate) -> Footprint:
    return Footprint(x_m=grate.x_m, y_m=grate.y_m, u_m=grate.depth_m, v_m=grate.width_m)


def box_footprint(box: Box) -> Footprint:
    return Footprint(x_m=box.x_m, y_m=box.y_m, u_m=box.depth_m, v_m=box.width_m)


def shield_footprint(shield: Shield) -> Footprint:
    return Footprint(
        x_m=shield.x_m, y_m=shield.y_m, u_m=shield.length_m, v_m=shield.width_m, angle_rad=shield.angle_rad
    )


def burner_footprint(burner: Burner, place: Place) -> Footprint:
    """What a burner covers in plan; a width that is not given is the throat's."""
    width = place.width_m or burner.throat_m or THINNEST_m
    if burner.kind.traits.form == "ring" or (place.length_m is None and place.diameter_m is not None):
        return Footprint(
            x_m=place.x_m,
            y_m=place.y_m,
            u_m=place.diameter_m or width,
            v_m=place.diameter_m or width,
            disc=True,
        )
    length, angle, faces = place.length_m or width, place.angle_rad, burner.faces(place)
    if faces not in ("up", "down"):
        width = burner.throat_m or THINNEST_m
        angle = math.pi / 2 if faces in ("front", "back") else 0.0
    return Footprint(x_m=place.x_m, y_m=place.y_m, u_m=length, v_m=width, angle_rad=angle)


def _names(space: Space, problems: Problems) -> None:
    kinds = {
        "grate": [grate.name for grate in space.grates],
        "box": [box.name for box in space.boxes],
        "panel": [panel.name for panel in space.panels],
    }
    for key, names in kinds.items():
        for i, name in enumerate(names):
            first = names.index(name)
            if first < i:
                what = f"is also the name of {key} {first + 1}"
                problems.add((key, i, "name"), what, fix="give each its own name")


def _apart(parts: list[tuple[KeyPath, str, Footprint, float]], problems: Problems) -> None:
    """No two of these may cover common ground at one level."""
    for k, (path, _, footprint, height) in enumerate(parts):
        for _, other, theirs, level in parts[:k]:
            if abs(height - level) < LEVEL_m and overlap(footprint, theirs):
                problems.add(path, f"overlaps {other}", fix="move one of them, or check their sizes")


def _burners(space: Space, burners: tuple[Burner, ...], problems: Problems) -> None:
    standing = []
    for i, burner in enumerate(burners):
        for k, place in enumerate(burner.places):
            where: KeyPath = ("burner", i, "place") if len(burner.places) == 1 else ("burner", i, "place", k)
            if place.height_m is None:
                continue
            footprint = burner_footprint(burner, place)
            standing.append((where, burner.name, footprint, place.height_m))
            for grate in space.grates:
                if (
                    overlap(footprint, grate_footprint(grate))
                    and abs(place.height_m - grate.height_m) < LEVEL_m
                ):
                    what = f"stands in the plane of {grate.name}"
                    problems.add((*where, "height"), what, fix="set it below or above the cooking surface")
                elif _faces_away(burner, place, footprint, grate):
                    what = f"faces up from above {grate.name} and heats nothing below"
                    problems.add((*where, "height"), what, fix='lower it, or add facing = "down"')
            _within_a_box(where, burner.name, footprint, space, problems)
            if not _posed(place):
                what = "has no meaning for a burner that faces to a side"
                problems.add((*where, "angle"), what, fix="leave angle out")
    _apart(standing, problems)


def _posed(place: Place) -> bool:
    return place.facing in (None, "up", "down") or place.angle_rad == 0.0


def _faces_away(burner: Burner, place: Place, footprint: Footprint, grate: Grate) -> bool:
    return bool(
        burner.faces(place) == "up"
        and place.height_m is not None
        and place.height_m > grate.height_m
        and overlap(footprint, grate_footprint(grate))
    )


def _within_a_box(where: KeyPath, name: str, footprint: Footprint, space: Space, problems: Problems) -> None:
    """A thing stands whole inside a box or whole outside of it."""
    for box in space.boxes:
        around = box_footprint(box)
        if overlap(footprint, around) and not inside(footprint, around):
            problems.add(
                where, f"{name} reaches through the wall of {box.name}", fix="move it, or widen the box"
            )


def _shield(shield: Shield, i: int, space: Space, burners: tuple[Burner, ...], problems: Problems) -> None:
    footprint, where = shield_footprint(shield), ("shield", i)
    _within_a_box(where, shield.name, footprint, space, problems)
    above = [g for g in space.grates if overlap(footprint, grate_footprint(g))]
    if space.grates and not above and not problems.unread.touch(("grate",)):
        problems.add(where, "lies under no cooking surface", fix="check x and y")
    for grate in above:
        if shield.height_m >= grate.height_m - 1e-6:
            what = f"is not below {grate.name} at {1e3 * grate.height_m:g} mm"
            problems.add((*where, "height"), what, fix="lower it")
    for burner in burners:
        for place in burner.places:
            if place.height_m is None or not overlap(footprint, burner_footprint(burner, place)):
                continue
            under = [g for g in above if place.height_m < g.height_m]
            if under and place.height_m >= shield.height_m - 1e-6:
                what = f"is not above {burner.name} at {1e3 * place.height_m:g} mm"
                problems.add((*where, "height"), what, fix="raise it")


def _box(box: Box, i: int, space: Space, problems: Problems) -> None:
    around, where = box_footprint(box), ("box", i)
    for grate in space.grates:
        footprint = grate_footprint(grate)
        if overlap(footprint, around) and not inside(footprint, around):
            problems.add(
                where, f"is cut by {grate.name}", fix="widen the box, or make the cooking surface smaller"
            )
        if overlap(footprint, around) and box.lid_height_m is not None and box.lid_height_m <= grate.height_m:
            what = f"is not above {grate.name} at {1e3 * grate.height_m:g} mm"
            problems.add((*where, "lid_height"), what, fix="raise the lid")
    for k, other in enumerate(space.boxes[:i]):
        if overlap(around, box_footprint(other)):
            problems.add(where, f"overlaps {other.name} (box {k + 1})", fix="move one of them")


def _bridges(space: Space, burners: tuple[Burner, ...], problems: Problems) -> None:
    known = [name for burner in burners for name in names_of(burner)]
    for i, bridge in enumerate(space.bridges):
        for key, name in (("from", bridge.start), ("to", bridge.end)):
            if name not in known and not problems.unread.name_of("burner"):
                fix, accepted = did_you_mean(name, known), ", ".join(known)
                what = "is not a burner of this file"
                problems.add(("carry_over", i, key), what, value=name, accepted=accepted, fix=fix)
        if bridge.start == bridge.end:
            problems.add(("carry_over", i, "to"), "is the burner it starts from", fix="name the other burner")


def names_of(burner: Burner) -> tuple[str, ...]:
    """A name for each burner of a kind: its own, or numbered when there are several.

    The numbers follow the list of places.
    """
    if burner.count == 1:
        return (burner.name,)
    return tuple(f"{burner.name} {k + 1}" for k in range(burner.count))


def _study(space: Space, problems: Problems) -> None:
    known = [grate.name for grate in space.grates]
    lost = problems.unread.name_of("grate")
    if space.study.surface and space.study.surface not in known and not lost:
        what, fix = "is not a cooking surface of this file", did_you_mean(space.study.surface, known)
        problems.add(("optimise", "surface"), what, value=space.study.surface, fix=fix)
