"""Two windows on one draft: the one that wrote last goes on, the other is told and keeps what was typed in it."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.page.desk_compare import input_differences
from burnerlab.page.desk_file import content_of, digest_of
from burnerlab.page.desk_form import place_of
from burnerlab.page.desk_language import language_of
from burnerlab.page.desk_state import BehindError, Desk, DeskEntry
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from starlette.responses import Response

CONFLICT = 409
MOST_SAID = 3  # differences in a sentence
ABSENT = "not given"


class Address(Protocol):
    """How the page is looked at, as an address of a text."""

    def address(self, digest: str, place: str = "", **more: str) -> str: ...


@dataclass(frozen=True, slots=True)
class TypedLine:
    """An entry of the window behind: where, what was typed there, and what stands in the newest text."""

    key: str
    place: str
    typed: str
    newest: str
    is_other: bool  # the other window wrote in the same field


def behind_words(behind: BehindError) -> str:
    """What the other window wrote, and what becomes of what is typed in this one."""
    return (
        f"Another window wrote in this draft since: {_differences(behind.before, behind.newest)}. "
        "What you type here is not taken: open the newest text, it is put in there."
    )


def _differences(before: DeskEntry, after: DeskEntry) -> str:
    found = input_differences(before.text, after.text)
    words = [f"{one.place}: {one.before} → {one.after}" for one in found.inputs] + list(found.notes)
    more = len(words) - MOST_SAID
    return "; ".join(words[:MOST_SAID]) + (f"; {more} more" if more > 0 else "")


def typed_lines(behind: BehindError) -> tuple[TypedLine, ...]:
    """What was typed in the window behind, beside the newest text."""
    before, newest = behind.before.text.values(), behind.newest.text.values()
    return tuple(
        TypedLine(
            key=key,
            place=place_of(key, before),
            typed=text or ABSENT,
            newest=newest.get(key) or ABSENT,
            is_other=newest.get(key, "") != before.get(key, ""),
        )
        for key, text in behind.values.items()
    )


def is_same_list(behind: BehindError) -> bool:
    """Whether burners and markets have the same numbers in both texts, so that a key means the same entry."""
    before, newest = behind.before.text.values(), behind.newest.text.values()

    def names(values: Mapping[str, str]) -> list[tuple[str, str]]:
        return sorted((key, text) for key, text in values.items() if key.endswith("].name"))

    return names(before) == names(newest)


def behind_page(desk: Desk, behind: BehindError, pairs: Mapping[str, str], look: Address) -> Response:
    """What was not taken, what the other window wrote, and the one thing to do."""
    from starlette.responses import HTMLResponse

    view: dict[str, Any] = {
        "file_name": desk.name,
        "found": input_differences(behind.before.text, behind.newest.text),
        "typed": typed_lines(behind),
        "values": behind.values,
        "can_join": bool(behind.values) and is_same_list(behind),
        "control": {name: pairs.get(name, "") for name in ("token", "units", "file", "open", "on", "window")},
        "newest": behind.newest.digest,
        "address": look.address(behind.newest.digest, other="yes"),
    }
    return HTMLResponse(
        language_of(desk, behind.newest, behind.before.text.values(), behind.values).page(
            "desk_behind", **view
        ),
        CONFLICT,
    )


def other_windows(desk: Desk, entry: DeskEntry, window: str, look: Address) -> dict[str, str]:
    """What a page must know of other windows and programs on its file: words, and the address of the newest text.

    Words are "" where there is nothing to say.
    """
    address = look.address(desk.newest, other="yes")
    if desk.is_behind(entry.digest, window):
        words = (
            f"Another window or a later page wrote in this draft: {_differences(entry, desk.newest_entry)}."
        )
        return {"words": words, "address": address}
    refused = desk.refused
    if refused and time.monotonic() < refused.until_s and not (window and window == refused.window):
        places = (
            ", ".join(one.place for one in typed_lines(refused.behind)[:MOST_SAID]) or "a change of the whole"
        )
        words = f"Another window with an older text was not taken ({places}). Close it, or reload it."
        return {"words": words, "address": ""}
    if desk.path is not None and desk.is_of_former_file(entry):
        words = (
            f"This page is of {desk.name} as it was before another program wrote it. Save shows what differs before "
            "anything is written."
        )
        return {"words": words, "address": address if entry.digest != desk.newest else ""}
    if desk.path is not None and digest_of(desk.path) != desk.file_digest:
        words = (
            f"{desk.name} was changed by another program. Save shows what differs before anything is written."
        )
        is_saved = (
            desk.saved_entry is not None and entry.digest == desk.saved_entry.digest
        )  # nothing typed is left
        return {"words": words, "address": "/file" if is_saved else ""}
    return {"words": "", "address": ""}


def joined_text(desk: Desk, entry: DeskEntry) -> ProjectText | None:
    """The file as another program wrote it, with the entries of this page: where both say the same of what it changed.

    None where they differ, so that somebody must choose.
    """
    assert desk.path is not None
    try:
        content = content_of(desk.path)
        begun = desk.begun_text(entry)
        if not content.digest or begun is None:
            return None
        outside, own = desk.text_of(content.text), entry.text.values()
        then, now = begun.values(), outside.values()
        changed = [key for key in then.keys() | now.keys() if then.get(key) != now.get(key)]
        if any(own.get(key) != now.get(key) for key in changed):
            return None
        every = {key: own.get(key, "") for key in own.keys() | now.keys() if own.get(key) != now.get(key)}
        text = outside.with_values(every)
    except UserError:
        return None
    return text if text.values() == own else None
