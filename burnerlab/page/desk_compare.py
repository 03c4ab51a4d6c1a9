"""What differs between two texts of an appliance, key by key."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.page.desk_form import place_of


@dataclass(frozen=True, slots=True)
class DifferenceLine:
    """A key whose value differs."""

    place: str
    before: str
    after: str


def differences(before: ProjectText, after: ProjectText) -> tuple[DifferenceLine, ...]:
    """Every key that differs, in the order of the texts."""
    old, new = before.values(), after.values()
    return tuple(
        DifferenceLine(place_of(key, new if key in new else old), old.get(key, ""), new.get(key, ""))
        for key in dict.fromkeys((*old, *new))
        if old.get(key, "") != new.get(key, "")
    )
