"""What a change of gas and orifice does to the primary air of a burner that is otherwise left as it is.

The jet drags air in by its momentum. With r = air per gas by volume and sigma = relative density of the gas,
the momentum balance of the mixing tube is (1 + r)(1 + r/sigma) A_jet G = 1, where G holds only throat, ports,
losses and their temperatures. G stays when the gas changes, so (1 + r)(1 + r/sigma) A_jet stays, whatever the
burner looks like; only the primary aeration before the change has to be assumed. A throttled air inlet breaks
this: where throat, ports and shutter are known, ``geometry.drawn_aeration`` calculates both instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """What decides how much air a jet draws into a given burner; each field a float or an array."""

    stoichiometric_air: ArrayLike  # volume per volume of gas
    relative_density: ArrayLike
    jet_area_m2: ArrayLike  # discharge coefficient times the area of the holes


def aeration_after(aeration: ArrayLike, before: Drawing, after: Drawing) -> Any:
    """Primary aeration once the gas and orifice are changed and nothing else is.

    (1 + r2)(1 + r2/sigma2) = (1 + r1)(1 + r1/sigma1) A1/A2, r = a A_stoich

    aeration : primary air over stoichiometric air before [-]
    Returns the same ratio after [-]; 0 when the new jet draws no air. Range: subcritical jets.
    Source: appliance-entrainment.

    >>> natural = Drawing(stoichiometric_air=9.6, relative_density=0.6, jet_area_m2=1.60**2)
    >>> propane = Drawing(stoichiometric_air=23.87, relative_density=1.55, jet_area_m2=1.0145**2)
    >>> float(aeration_after(0.637, natural, propane))
    0.68
    """
    r = np.multiply(aeration, before.stoichiometric_air)
    group = (1 + r) * (1 + r / np.asarray(before.relative_density))
    group = group * np.asarray(before.jet_area_m2) / np.asarray(after.jet_area_m2)
    sigma = np.asarray(after.relative_density)
    root = np.sqrt((1 + sigma) ** 2 + 4 * sigma * np.maximum(group - 1, 0))
    return (root - (1 + sigma)) / 2 / np.asarray(after.stoichiometric_air)
