"""A unit in the air of the bench: what its orifices let through goes with the barometer, and its rating with that."""

from __future__ import annotations

from dataclasses import dataclass, replace

from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.reading.manifold import expected_input

SAME_AIR = 0.005  # of the heat input: what the weather does, and no meter and watch tell


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitInAir:
    """A unit as it should burn at the barometer of the bench, beside the place that its file or plan is for."""

    appliance: Appliance  # expected heat inputs and ratings are those of the bench's air
    share: float  # heat input at the bench over that at the place of the file [-]
    place_Pa: float  # ambient pressure of that place, absolute

    @property
    def bench_Pa(self) -> float:
        """Ambient pressure at the bench, absolute."""
        return self.appliance.supply.ambient_pressure_Pa

    @property
    def is_other(self) -> bool:
        """Whether a heat input read at the bench is another one at the place of the file."""
        return abs(self.share - 1.0) > SAME_AIR


def in_air_of(appliance: Appliance, ambient_Pa: float | None, burner: str | None = None) -> UnitInAir:
    """A unit of a project file in the air of a bench, its ratings with its heat input.

    At the same gauge pressure an orifice lets less gas through in thin air: a unit at its rating at sea level reads
    9 % low at 5000 ft. It is held against what it should burn where it stands.
    ambient_Pa : barometer of the bench, absolute [Pa]; None where it was not read: that of the file
    burner : the one that is on, None for all together
    Raises UserError for a burner the appliance has not.

    >>> from burnerlab.appliance import demonstration
    >>> round(in_air_of(demonstration(), 84300.0).share, 3)
    0.912
    """
    place_Pa = appliance.supply.ambient_pressure_Pa
    if ambient_Pa is None or ambient_Pa == place_Pa:
        return UnitInAir(appliance=appliance, share=1.0, place_Pa=place_Pa)
    there = replace(appliance, supply=replace(appliance.supply, ambient_pressure_Pa=ambient_Pa))
    share = expected_input(there, burner).gross_W / expected_input(appliance, burner).gross_W
    burners = tuple(replace(one, rate_W=share * one.rate_W) for one in there.burners)
    return UnitInAir(appliance=replace(there, burners=burners), share=share, place_Pa=place_Pa)
