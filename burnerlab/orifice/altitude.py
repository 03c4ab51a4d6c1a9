"""Altitude: what the rules ask of a rating, and what a fixed orifice loses by itself.

The two are kept apart. A policy is a row of a table and says by how much a rating is reduced; the physics is
in the ambient pressure of ``Conditions``, which lowers the density of the gas at the orifice. To make an
orifice for the reduced rating, multiply the rating by the factor of the policy and size for it at the
pressure of the place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.orifice import nozzle
from burnerlab.orifice.drill import Drill, drill_list, nearest_drill
from burnerlab.quantity.reference_state import STANDARD_PRESSURE_PA
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa
from burnerlab.tables.problem import Problem, UserError

FOOT_m = 0.3048  # exact, international foot of 1959
UNIT_BORE_m = 2.0 / math.sqrt(math.pi)  # a hole of 1 m2, so that a mass flow is a mass flux
THIN_AIR = 0.005  # of the flow, below which the altitude needs no mention
FULL_RATING = "none"  # the policy that keeps the rating: larger bores at altitude
REGION_PLACES = {"us": "North America", "eu": "Europe"}
RULE_PER_1000_FT = 0.04  # row 4-percent-from-sea-level of the table altitude_policies


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyFactor:
    """What a rule makes of a rating at an altitude."""

    policy: str  # "" when none is chosen
    title: str
    altitude_m: float
    factor: float  # on the rating [-]
    source: str
    place: str
    provenance: str
    note: str

    def words(self) -> str:
        """The factor in words.

        >>> policy_factor("canada-10-percent", 1000.0).words()
        '10 % for 2000 to 4500 ft (610 to 1370 m): the rating is reduced by 10.0 % at 3281 ft (1000 m)'
        """
        if not self.policy:
            kept = f"{100 * self.factor:.1f} % of the rating"
            return f"{self.title}: it gives {kept} at {height_words(self.altitude_m)}"
        change = f"reduced by {100 * (1 - self.factor):.1f} %" if self.factor < 1 else "not reduced"
        return f"{self.title}: the rating is {change} at {height_words(self.altitude_m)}"


def height_words(altitude_m: float) -> str:
    """An altitude in feet and metres.

    >>> height_words(1609.3)
    '5280 ft (1609 m)'
    """
    return f"{altitude_m / FOOT_m:.0f} ft ({altitude_m:.0f} m)"


def sea_level_bore_factor(
    gas: Any, gauge_pressure_Pa: ArrayLike, ambient_pressure_Pa: ArrayLike, gas_temperature_K: ArrayLike
) -> NDArray[np.float64]:
    """Heat input of a bore sized at sea level over the rating it was sized for: G(p)/G(p0), at most 1.

    gas : with real density and isentropic exponent; gauge_pressure_Pa : before the bore [Pa]
    ambient_pressure_Pa : of the place [Pa]; gas_temperature_K : [K]
    Returns the factor [-]. Where the air is denser than at sea level it is 1: no rating is raised.

    >>> from burnerlab.gas import load
    >>> float(sea_level_bore_factor(load("propane"), 2740.0, 83437.0, 288.15))
    0.91
    """
    gauge, ambient = np.broadcast_arrays(
        np.asarray(gauge_pressure_Pa, dtype=np.float64), np.asarray(ambient_pressure_Pa, dtype=np.float64)
    )

    if np.all(ambient >= STANDARD_PRESSURE_PA):
        return np.ones(ambient.shape)

    def flux(outside: Any) -> Any:
        state = (gas_temperature_K, gauge + outside)
        density, exponent = gas.density_kg_per_m3(*state), gas.isentropic_exponent(*state)
        return nozzle.mass_flow_kg_per_s(UNIT_BORE_m, gauge, outside, density, exponent)

    here, sea = flux(ambient), flux(np.full_like(ambient, STANDARD_PRESSURE_PA))
    return np.asarray(np.minimum(here / sea, 1.0), dtype=np.float64)


def no_policy(altitude_m: float, factor: float) -> PolicyFactor:
    """What stands where no policy is chosen: the bore for sea level, and the factor it gives at the place.

    altitude_m : [m]; factor : from ``sea_level_bore_factor`` [-]
    """
    return PolicyFactor(
        policy="",
        title="no altitude policy chosen, bore for sea level",
        altitude_m=altitude_m,
        factor=factor,
        source="altitude-sea-level",
        place="isentropic nozzle",
        provenance="computed",
        note="",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class EquivalentDrill:
    """The drill that the altitude rule puts in the place of another."""

    sea_level: Drill
    altitude_m: float
    diameter_m: float  # exact
    drill: Drill


def policy_names(own: Path | None = None, region: str = "") -> tuple[str, ...]:
    """Names of the policies in table order; of a region, where one is named, those known from there.

    >>> policy_names()[:2], policy_names(region="eu")
    (('none', '4-percent-from-sea-level'), ('none',))
    """
    known = [row for row in _rows(own) if not region or row.get("region", "") in ("", region)]
    return tuple(dict.fromkeys(row["policy"] for row in known))


def place_of_policy(policy: str, region: str, own: Path | None = None) -> str:
    """Where a policy is known from, where that is another place than a region; "" for one of the region or of any.

    >>> place_of_policy("canada-10-percent", "eu"), place_of_policy("canada-10-percent", "us")
    ('North America', '')
    """
    known = next((row.get("region", "") for row in _rows(own) if row["policy"] == policy), "")
    return REGION_PLACES.get(known, "") if region and known != region else ""


def _rows(own: Path | None) -> tuple[tables.Row, ...]:
    return tables.read("altitude_policies", own)


def policy_factor(policy: str, altitude_m: float, own: Path | None = None) -> PolicyFactor:
    """Factor on the rating at an altitude: 1 - step - rate (h - h0)/1000 ft.

    policy : name; altitude_m : above sea level [m]; own : CSV of the same columns in place of the table
    Returns a PolicyFactor. Raises UserError for a name the table has not, and where the policy says nothing.

    >>> policy_factor("4-percent-from-sea-level", 6035 * 0.3048).factor
    0.7586
    >>> policy_factor("4-percent-from-2000-ft", 6035 * 0.3048).factor
    0.8386
    """
    bands = [row for row in _rows(own) if row["policy"] == policy]
    if not bands:
        raise UserError(
            Problem("no altitude policy of that name", value=policy, accepted=", ".join(policy_names(own)))
        )
    if not math.isfinite(altitude_m):
        raise UserError(Problem("must be finite", value=f"{altitude_m:g} m", key="altitude"))
    feet = altitude_m / FOOT_m
    for row in bands:
        low = float(row["from_ft"]) if row["from_ft"] else -math.inf
        high = float(row["to_ft"]) if row["to_ft"] else math.inf
        if low < feet <= high:
            factor = (
                1.0
                - float(row["step"])
                - float(row["per_1000ft"]) * (feet - float(row["counted_from_ft"])) / 1000.0
            )
            if factor > 0.0:
                return PolicyFactor(
                    policy=policy,
                    title=row["title"],
                    altitude_m=altitude_m,
                    factor=factor,
                    source=row["source"],
                    place=row["place"],
                    provenance=row["provenance"],
                    note=row["note"],
                )
    beyond = next((row["beyond"] for row in reversed(bands) if row["beyond"]), "")
    raise UserError(
        Problem(
            f"this altitude policy has no figure here{': ' + beyond if beyond else ''}",
            value=f"{feet:.0f} ft ({altitude_m:.0f} m)",
            key=f"altitude policy {policy}",
            accepted=f"up to {bands[-1]['to_ft']} ft"
            if bands[-1]["to_ft"]
            else "while something of the rating is left",
            fix="ask the authority, or give a policy of your own",
        )
    )


def natural_derate(altitude_m: float) -> float:
    """What a fixed orifice at a fixed gauge pressure gives at an altitude, over what it gives at sea level:
    sqrt(p/p0).

    altitude_m : above sea level [m]
    Returns the ratio [-]. The engine of ``flow`` needs no such factor: it uses the pressure of the place.

    >>> natural_derate(5000 * 0.3048)
    0.9122
    """
    return math.sqrt(pressure_at_altitude_Pa(altitude_m) / pressure_at_altitude_Pa(0.0))


def double_derate(factor: PolicyFactor) -> str:
    """A warning against taking the factor of a policy off the area of an orifice as well; empty where there
    is none.

    A fixed orifice already gives less at altitude, so an area reduced by the whole factor reduces the input
    twice.

    >>> double_derate(policy_factor("none", 1500.0))
    ''
    """
    if factor.factor >= 1.0:
        return ""
    natural = natural_derate(factor.altitude_m)
    both = factor.factor * natural
    to_meet = factor.factor / natural - 1.0
    return (
        f"the rule asks for {100 * (factor.factor - 1):+.1f} % and a fixed orifice already gives "
        f"{100 * (natural - 1):+.1f} % at {height_words(factor.altitude_m)}: an area reduced by the whole rule "
        f"gives {100 * (both - 1):+.1f} %; an area changed by {100 * to_meet:+.1f} % meets it"
    )


def equivalent_diameter_m(
    diameter_m: float, altitude_m: float, per_1000ft: float = RULE_PER_1000_FT
) -> float:
    """Bore at altitude in place of a bore at sea level: d sqrt((1 - r h)/sqrt(p/p0)), h in 1000 ft from sea
    level.

    diameter_m : at sea level [m]; altitude_m : [m]; per_1000ft : r, the reduction asked for [-]
    Returns [m]. Source: altitude-nfpa54-table, whose cells this rule reproduces; found by comparison.

    >>> equivalent_diameter_m(0.11 * 0.0254, 9000 * 0.3048) / 0.0254
    0.0957
    """
    asked = 1.0 - per_1000ft * altitude_m / FOOT_m / 1000.0
    if not asked > 0.0:
        raise UserError(
            Problem("the rule leaves nothing of the rating here", value=f"{altitude_m:g} m", key="altitude")
        )
    return diameter_m * math.sqrt(asked / natural_derate(altitude_m))


def equivalent_drill(
    sea_level: Drill, altitude_m: float, drills: Sequence[Drill] | None = None
) -> EquivalentDrill:
    """The drill at altitude in place of a drill at sea level: the nearest to the equivalent bore.

    sea_level : drill; altitude_m : above sea level [m]; drills : number drills when none are given
    Returns an EquivalentDrill. Source: altitude-nfpa54-table.

    >>> numbers = {drill.name: drill for drill in drill_list("number")}
    >>> equivalent_drill(numbers["#3"], 2000 * 0.3048).drill.name
    '#4'
    """
    exact = equivalent_diameter_m(sea_level.diameter_m, altitude_m)
    chosen = nearest_drill(exact, drill_list("number") if drills is None else drills)
    return EquivalentDrill(sea_level=sea_level, altitude_m=altitude_m, diameter_m=exact, drill=chosen)
