"""A conversion as one JSON object whose keys carry their units."""

from __future__ import annotations

from typing import Any

from burnerlab.appliance.result import Conversion
from burnerlab.quantity import document
from burnerlab.quantity.outputs import row
from burnerlab.report.outside import outside_lines
from burnerlab.report.result_tables import burner_rows
from burnerlab.report.wording import STATEMENT

NAME = "convert"


def to_json(c: Conversion) -> dict[str, Any]:
    """Every declared figure of a conversion by its key; the heat inputs of a burner are for one of its kind.

    A value that was not evaluated is None, never NaN.
    """
    return row(c) | {
        "burners": [row(one) for one in burner_rows(c)],
        "outside": list(outside_lines(c)),
        "statement": STATEMENT,
    }


def json_text(c: Conversion) -> str:
    """The JSON file of a conversion."""
    return document.json_text(NAME, to_json(c))
