"""In what order causes are said: the likeliest first, then what endangers, then the rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.bench.decision import bench_limit

Array = NDArray[np.float64]


def danger_first(
    probability: ArrayLike, danger: ArrayLike, *, likeliest_first: bool = True
) -> NDArray[np.int64]:
    """Places by falling probability, those that endanger before the rest of the list but not before its first.

    probability : along the last axis [..., cause]; danger : the part of it that endangers [..., cause]
    likeliest_first : False where what endangers goes before even that one
    What endangers is moved up when that part is above the limit ``said_first``.

    >>> danger_first([0.5, 0.3, 0.15, 0.05], [0.0, 0.0, 0.0, 0.05]).tolist()
    [0, 3, 1, 2]
    """
    p = np.asarray(probability, dtype=float)
    raised = np.asarray(danger) > bench_limit("said_first").high
    likeliest = p == p.max(axis=-1, keepdims=True)
    found: NDArray[np.int64] = np.argsort(
        -(p + np.where(raised, 1.0, 0.0) + np.where(likeliest & likeliest_first, 4.0, 0.0)), axis=-1
    )
    return found
