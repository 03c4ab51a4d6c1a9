"""Pages of the desk beside the live one: the region of a burner's ports, and the measured units of the model."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_findings import NOW
from burnerlab.page.desk_language import language_of
from burnerlab.page.desk_pages import UNUSABLE, Look, look_of, query_of
from burnerlab.page.desk_port_shop import Shop, shop_fields, shop_in, shop_query, values_brought
from burnerlab.page.desk_state import BehindError, Desk, DeskEntry
from burnerlab.page.desk_windows import behind_page
from burnerlab.page.form import RefusedError
from burnerlab.page.reader_words import for_reader
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from burnerlab.appliance.project.model import Appliance, Burner
    from burnerlab.burner.port_region import PortRegion
    from burnerlab.quantity import System


def units(desk: Desk, answers: Answers, request: Request) -> Response:
    """Where the measured units of the model lie, and the constants they tell."""
    from starlette.responses import HTMLResponse

    from burnerlab.bench.record import open_record
    from burnerlab.page.desk_units import ProjectAnswer, measured_units

    entry, look = desk.entry(request.path_params["digest"]), look_of(desk, query_of(request))
    if desk.record is None:
        raise RefusedError(404, "The desk was started without a record: add --record RECORD.")

    def answer(text: DeskEntry | None) -> ProjectAnswer | None:
        if text is None or text.appliance is None:
            return None
        markets = answers.first(text, look.system).answer.markets
        return ProjectAnswer(appliance=text.appliance, values=text.text.values(), markets=markets)

    draft, saved = answer(entry), answer(desk.saved_entry)
    if draft is None:
        raise RefusedError(UNUSABLE, "The entry does not read: correct it first.")
    folder = (desk.path or desk.record).absolute().parent
    with open_record(desk.record, readonly=True) as record:
        found = measured_units(record, draft, saved, folder, look.system)
    view = {
        "file_name": desk.name,
        "record": desk.record.name,
        "found": found,
        "control": control_of(desk, entry, look),
        "cautions": closing_cautions("desk"),
        "back": look.address(entry.digest),
    }
    return HTMLResponse(
        language_of(desk, entry).page("desk_units", answers.names(entry, look.system), **view)
    )


def control_of(desk: Desk, entry: DeskEntry, look: Look) -> dict[str, str]:
    """Hidden fields of a form that changes the draft."""
    return {
        "token": desk.gate.token,
        "base": entry.digest,
        "units": look.system,
        "file": look.file,
        "window": "",
    }


def ports(desk: Desk, answers: Answers, request: Request) -> Response:
    """The region of a burner's ports on every gas of its markets, with what goes into the draft."""
    from starlette.responses import HTMLResponse

    pairs = query_of(request)
    entry, look = desk.entry(request.path_params["digest"]), look_of(desk, pairs)
    appliance, burner, number = burner_of(entry, request.path_params["burner"])
    letters, shop = letters_of(appliance, pairs), shop_in(pairs)
    answers.shop = (number, shop)
    found = _region_view(answers, entry, number, letters, shop, look.system)
    view: dict[str, Any] = found | {
        "file_name": desk.name,
        "burner": burner.name,
        "address": f"/ports/{entry.digest}/{number}",
        "query": f"markets={','.join(letters)}&units={look.system}{shop_query(shop)}",
        "markets": [
            {"letter": market.letter, "name": market.name, "is_on": market.letter in letters}
            for market in targets_of(appliance)
        ],
        "now": NOW,
        "is_now_on": NOW in letters,
        "gas": appliance.supply.gas.name,
        "hidden": control_of(desk, entry, look)
        | {"burner": str(number), "markets": ",".join(letters), **dict(shop)},
        "cautions": closing_cautions("desk"),
        "back": look.address(entry.digest, f"burner-{number}"),
    }
    names = (*answers.names(entry, look.system), *(text for _, text in shop))
    made = language_of(desk, entry).page("desk_ports", names, **view)
    own = (burner.name, desk.name, *(market.name for market in targets_of(appliance)))
    status = UNUSABLE if found["wrong_count"] else 200
    return HTMLResponse(for_reader(made, "", own), status)  # figures stay with their units


def _region_view(
    answers: Answers,
    entry: DeskEntry,
    number: int,
    letters: tuple[str, ...],
    shop: Shop,
    system: System,
) -> dict[str, Any]:
    """The region, or why there is none, with the entries of what the maker can drill."""
    from burnerlab.page.desk_ports import PANELS, axes_of, case_of, region_view
    from burnerlab.page.result_text import minus
    from burnerlab.quantity.prose import in_reader_units

    trouble, found, case, wrong = "", None, None, None
    appliance, burner, _ = burner_of(entry, str(number))
    try:
        case = case_of(appliance, number, letters)
        found = region_view(answers.region(entry, number, letters, shop, case), burner.name, system)
    except UserError as error:
        wrong = error if case is not None else None
        trouble = "; ".join(problem.what for problem in error.problems)
    drilled, spreads = shop_fields(case, shop, wrong, system)
    return {
        "found": found,
        "trouble": trouble,
        "outside": [] if case is None else [minus(in_reader_units(one, system)) for one in case.outside],
        "panels": {panel: axes_of(panel, system) for panel in PANELS},
        "drilled": drilled,
        "spreads": spreads,
        "wrong_count": sum(bool(one.wrong) for one in (*drilled, *spreads)),
        "is_shop_open": bool(shop),
        "is_other": bool(values_brought(shop, number)),
        "is_other_length": "length" in dict(shop),
        "can_be_made": case is not None,
    }


def letters_of(appliance: Appliance, pairs: Mapping[str, str]) -> tuple[str, ...]:
    """The markets whose gases a region holds on, and the present gas: those that are named, all where none is."""
    every = [NOW, *(market.letter for market in targets_of(appliance))]
    wanted = {*pairs.get("markets", "").split(","), *(key[2:] for key in pairs if key.startswith("m-"))}
    if "chosen" not in pairs and "markets" not in pairs:
        return tuple(every)
    return tuple(letter for letter in every if letter in wanted) or (NOW,)


def burner_of(entry: DeskEntry, number: str) -> tuple[Appliance, Burner, int]:
    """The burner of a number. Raises RefusedError for a text that does not read, or a burner that is not there."""
    appliance = entry.appliance
    if appliance is None:
        raise RefusedError(UNUSABLE, "The entry does not read: correct it first.")
    if not number.isdigit() or not 1 <= int(number) <= len(appliance.burners):
        raise RefusedError(404, "There is no such burner.")
    return appliance, appliance.burners[int(number) - 1], int(number)


def ports_picture(desk: Desk, answers: Answers, request: Request) -> Response:
    """One of the two pictures of a region."""
    from starlette.responses import Response

    from burnerlab.page.desk_ports import PANELS, picture

    entry, look = desk.entry(request.path_params["digest"]), look_of(desk, query_of(request))
    appliance, _, number = burner_of(entry, request.path_params["burner"])
    letters, shop = letters_of(appliance, query_of(request)), shop_in(query_of(request))
    panel = next((one for one in PANELS if one == request.path_params["panel"]), None)
    if panel is None:
        raise RefusedError(404, "There is no such picture.")
    drawn = {str(panel): picture(answers.region(entry, number, letters, shop), panel, look.system)}
    (made,) = language_of(desk, entry).pieces(drawn).values()
    return Response(made, media_type="image/svg+xml")


def take_ports(desk: Desk, answers: Answers, pairs: Mapping[str, str]) -> Response:
    """A variant of a region into the draft: the one of a letter, or at a place of a picture."""
    from starlette.responses import RedirectResponse

    look, entry = look_of(desk, pairs), desk.entry(pairs.get("base", ""))
    appliance, burner, number = burner_of(entry, pairs.get("burner", ""))
    shop = shop_in(pairs)
    try:
        region = answers.region(entry, number, letters_of(appliance, pairs), shop)
    except UserError as error:
        raise RefusedError(UNUSABLE, "; ".join(problem.text() for problem in error.problems)) from None
    values = _variant_values(region, entry.text.values(), (burner, number), pairs, look.system)
    values |= values_brought(shop, number)
    try:
        entry = desk.write(entry.digest, values, pairs.get("window", ""))
    except BehindError as behind:
        return behind_page(desk, behind, pairs, look)
    return RedirectResponse(look.address(entry.digest, f"burner-{number}"), 303)


def _variant_values(
    region: PortRegion,
    values: Mapping[str, str],
    of: tuple[Burner, int],
    pairs: Mapping[str, str],
    system: System,
) -> dict[str, str]:
    """The keys for what was chosen; of : the burner and its number"""
    from burnerlab.page.desk_ports import LETTERS, PANELS, values_at, values_of_design, variant_at

    letter = pairs.get("design", "")
    by_letter = dict(zip(LETTERS, region.designs, strict=False))
    if letter in by_letter:
        return values_of_design(*of, values, by_letter[letter], system)
    panel = next((one for one in PANELS if one == pairs.get("panel")), None)
    x, y = (pairs.get(f"at.{axis}", "") for axis in "xy")
    if panel is not None and x.isdigit() and y.isdigit():
        place = variant_at(region, panel, float(x), float(y))
        if place is not None:
            return values_at(*of, values, region, place, system)
    raise RefusedError(UNUSABLE, "No variant of the region is named.")
