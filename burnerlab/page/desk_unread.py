"""Columns of markets that are blank while an entry does not read: no hole of another gas stands under what is typed."""

from __future__ import annotations

from burnerlab.page.desk_form import DeskForm, burners_of, markets_of
from burnerlab.page.desk_state import Desk, DeskEntry
from burnerlab.page.render import page

NAME = "name"  # of a market: it moves no figure


def unread_columns(desk: Desk, entry: DeskEntry, form: DeskForm) -> dict[str, str]:
    """The elements of each market whose entries are others than those that the figures are of, by id; all blank.

    None of a text that reads: its figures are its own.
    """
    shown = desk.figures_of(entry)
    if entry.appliance is not None or shown is None:
        return {}
    then = shown.text.values()
    burners = burners_of(form, "")
    blank: dict[str, str] = {}
    for market in markets_of(form, False):
        prefix = f"market[{market.number}]."
        keys = {key for key in (*then, *form.values) if key.startswith(prefix) and key != prefix + NAME}
        if all(then.get(key, "") == form.values.get(key, "") for key in keys):
            continue
        view = {"letter": market.letter, "market": market.name}
        blank[f"market-{market.letter}"] = page("desk_unread", kind="market", **view)
        for burner in burners:
            for kind in ("orifice", "flame"):
                blank[f"{kind}-{burner.number}-{market.letter}"] = page(
                    "desk_unread", kind=kind, number=burner.number, **view
                )
    return blank
