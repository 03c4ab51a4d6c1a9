"""Kinds of burner and what each is: its form in the layout, where it faces, whether it glows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal, assert_never

from burnerlab.appliance.project.geometry import Facing
from burnerlab.tables.problem import Problem, UserError, did_you_mean

Form = Literal["line", "ring", "panel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerTraits:
    """What a kind of burner is to the calculations.

    form : in the layout; a line has a length, a ring a diameter, a panel a length and a width
    faces : where its flames or its face point when the place does not say
    is_radiant : its flame sits in a glowing face, with all its air as primary air. What holds for open flames (cones,
        lift, light-back, secondary air, the setting of a shutter, flame height) is then no question; its face is.
    """

    form: Form
    faces: Facing = "up"
    is_radiant: bool = False


class BurnerKind(StrEnum):
    """Kinds of burner, by the word of the project file.

    >>> BurnerKind("tile").traits.is_radiant, BurnerKind.REAR.traits.faces
    (True, 'front')
    """

    TUBE = "tube"
    RING = "ring"
    BOX = "box"
    TILE = "tile"
    REAR = "rear"

    @property
    def traits(self) -> BurnerTraits:
        """What this kind is; a kind added above is refused by the type checker until it says so here."""
        match self:
            case BurnerKind.TUBE:
                return BurnerTraits(form="line")
            case BurnerKind.RING:
                return BurnerTraits(form="ring")
            case BurnerKind.BOX:
                return BurnerTraits(form="panel")
            case BurnerKind.TILE:
                return BurnerTraits(form="panel", is_radiant=True)
            case BurnerKind.REAR:
                return BurnerTraits(form="line", faces="front")
            case _:
                assert_never(self)

    @classmethod
    def _missing_(cls, value: object) -> BurnerKind:
        """The refusal of a word that is none."""
        known = [kind.value for kind in cls]
        what, fix = "is not a kind of burner", did_you_mean(value, known)
        raise UserError(Problem(what, value=str(value), key="kind", accepted=", ".join(known), fix=fix))
