"""Work at another place while a place is held: what is stated of it, and when it is apart from a leak."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields

from burnerlab.bench.record.checks import words_problem
from burnerlab.bench.record.entry import now
from burnerlab.bench.record.open_stops import (
    POINTING,
    BenchPlace,
    on_another_supply,
    place_and_supply,
    place_key,
)
from burnerlab.page.form import (
    HELD_SHUT,
    LONGEST_NOTE,
    LONGEST_TEXT,
    OTHER_PLACE,
    OTHER_SUPPLY,
    ROOMS,
    YES,
    Form,
)
from burnerlab.report.sheet.wording import clean

NAMELESS = "place without a name"
LONG = "Name the place and its supply, in few words"


def place_name(place: str) -> str:
    """The place of a stop as it is named where it was not."""
    return clean(place) or NAMELESS


def place_of(form: Form) -> BenchPlace:
    """The place of a form, with what was stated of it."""
    return BenchPlace(**{each.name: form.get(each.name) for each in fields(BenchPlace)})


def place_errors(typed: Mapping[str, str], stop_places: Sequence[str], *, is_room: bool) -> dict[str, str]:
    """Why no work begins at another place, by field; empty when it may.

    stop_places : places of the stops that hold the bench; is_room : whether gas of one may be in the room

    >>> place_errors({"place": "here", "other_supply": "same"}, [""], is_room=False)["place"]
    'Is no other place: name it by a name of its own'
    """
    place, supply = typed.get(OTHER_PLACE.name, "").strip(), typed.get(OTHER_SUPPLY.name, "").strip()
    places, supplies = ({pair[end] for pair in map(place_and_supply, stop_places)} for end in (0, 1))
    wrong = {
        OTHER_PLACE.name: _of_name(
            place, places, "Is missing: which place", "Is no other place: name it by a name of its own"
        ),
        OTHER_SUPPLY.name: words_problem(supply, OTHER_SUPPLY.name)
        or _of_name(
            supply,
            supplies,
            "Is missing: which supply, or the stop stays in force",
            "Is no other supply: name it by a name of its own",
        ),
    }
    if len(place) + len(supply) > LONGEST_TEXT // 2:
        wrong[OTHER_SUPPLY.name] = LONG
    if is_room:
        by = typed.get("apart_by", "").strip()
        wrong["apart_room"] = (
            "" if typed.get("apart_room") in ROOMS else "Is missing: the room of the stop is not worked in"
        )
        wrong[HELD_SHUT.name] = (
            "" if typed.get(HELD_SHUT.name) == YES else "Shut off and ventilate that place first"
        )
        wrong["apart_by"] = words_problem(by, "leak_test_by") if by else "Is missing: who says so"
        if len(by) > LONGEST_TEXT:
            wrong["apart_by"] = f"Is longer than {LONGEST_TEXT} characters"
    return {name: text for name, text in wrong.items() if text}


def _of_name(text: str, stop_places: Iterable[str], missing: str, same: str) -> str:
    if not text:
        return missing
    return same if place_key(text) in POINTING or place_key(text) in {*stop_places, ""} else ""


def at_other_place(form: Form, typed: Mapping[str, str], stop_places: Iterable[str]) -> Form:
    """A form at the place that was typed; where the room of a stop is left, with what was stated of it.

    stop_places : places of the stops whose gas may be in their room
    """
    place = on_another_supply(typed[OTHER_PLACE.name], typed[OTHER_SUPPLY.name])
    names = "; ".join(dict.fromkeys(map(place_name, stop_places)))
    if not names:
        return form.having(place=place)
    return form.having(
        place=place,
        apart_place=place,
        apart_room=typed["apart_room"],
        apart_held=clean(names, LONGEST_NOTE),
        apart_by=typed["apart_by"].strip(),
        apart_at=now(),
    )
