"""The coefficients of the burner model: each with its spread and source, each replaceable by the user's own."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.tables import Figure, figures

# One word for what may be a float or an array of any shape.

Array = NDArray[np.float64]
Numbers = float | Array
"""An argument or a field that broadcasts; a sequence does too."""


def array(value: ArrayLike) -> Array:
    """A float or an array as an array of floats.

    >>> array(1)
    array(1.)
    """
    return np.asarray(value, dtype=np.float64)


# The coefficients of the burner model: each with its spread and source, each replaceable by the user's own.

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
