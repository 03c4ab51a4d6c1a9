"""Figures of the supply train with their spread and where each is from; a user's own stand in for them."""

from __future__ import annotations

from pathlib import Path

from burnerlab.tables import Figure, figure


def supply_figure(name: str, own: Path | None = None) -> Figure:
    """One row of the table ``supply_limits``.

    >>> supply_figure("turbulent start").value
    4000.0
    """
    return figure("supply_limits", name, own)
