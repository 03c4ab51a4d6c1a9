"""One word for what may be a float or an array of any shape."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Numbers = float | Array
"""An argument or a field that broadcasts; a sequence does too."""


def array(value: ArrayLike) -> Array:
    """A float or an array as an array of floats.

    >>> array(1)
    array(1.)
    """
    return np.asarray(value, dtype=np.float64)
