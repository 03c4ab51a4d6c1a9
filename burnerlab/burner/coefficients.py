"""The coefficients of the burner model: each with its spread and source, each replaceable by the user's own."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from burnerlab.tables import Figure, figures

TABLE = "burner_coefficients"
Coefficient = Figure
Coefficients = Mapping[str, Figure]


def coefficients(own: Path | None = None) -> Coefficients:
    """Coefficients by name; rows of ``own``, a CSV file of the same columns, stand in for ours.

    Raises UserError for a row of the user's that is not a coefficient of the model, or whose value lies
    outside its own low and high.

    >>> coefficients()["throat loss"].value
    0.5
    """
    return figures(TABLE, own)
