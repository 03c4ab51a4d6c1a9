"""What stands in the line: a pressure regulator, and a valve or another short restriction.

The set point is the outlet pressure at a small flow and at the inlet pressure it was set at. With more flow the
outlet falls by the droop. As the flow stops it rises to lock-up: over the last part of the flow, the lock-up zone, the
valve needs a growing force to close. A higher inlet pressure moves the outlet by the inlet effect, up where it helps
to open the valve, down where it helps to close it. Beyond the flow limit the valve is wide open and acts as a fixed
restriction between inlet and outlet.

A valve is described by its effective area, discharge coefficient times bore area; Kv, Cv and a bore are three
ways to state it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from burnerlab import tables
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.gas_family import BUTANES
from burnerlab.quantity import is_low_pressure
from burnerlab.supply.pipe import expanding_drop_Pa
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables import Figure, figures, unknown
from burnerlab.tables.problem import Problem, UserError

# A pressure regulator as its user knows it: set point, droop, lock-up, and the flow it can no longer hold.


@dataclass(frozen=True, slots=True, kw_only=True)
class Regulator:
    """A regulator for one gas; pressures are gauge."""

    set_point_Pa: float
    droop_Pa: float = 0.0  # fall of the outlet at rated flow
    lock_up_Pa: float = 0.0  # rise of the outlet at no flow
    rated_flow_kg_per_s: float = math.inf  # flow at which the droop is stated
    flow_limit_kg_per_s: float = math.inf  # flow at which the valve is wide open
    lock_up_zone: float = 0.0  # share of the rated flow below which the outlet rises to lock-up [-]
    inlet_effect: float = 0.0  # change of the outlet per change of the inlet, with its sign [-]
    stated_inlet_Pa: float | None = None  # inlet at which all of this is stated; None: wherever it is
    minimum_inlet_Pa: float = 0.0
    name: str = ""

    def check(self) -> None:
        """Refuse what no regulator does; all problems at once."""
        problems = []
        if not (self.set_point_Pa > 0.0 and math.isfinite(self.set_point_Pa)):
            problems.append(Problem("must be above 0 and finite", f"{self.set_point_Pa:g} Pa", "set point"))
        if not 0.0 <= self.droop_Pa < max(self.set_point_Pa, 1e-9):
            problems.append(
                Problem("must be 0 or more and below the set point", f"{self.droop_Pa:g} Pa", "droop")
            )
        if not 0.0 <= self.lock_up_Pa < math.inf:
            problems.append(Problem("must be 0 or more", f"{self.lock_up_Pa:g} Pa", "lock-up"))
        if not self.rated_flow_kg_per_s > 0.0:
            problems.append(Problem("must be above 0", f"{self.rated_flow_kg_per_s:g} kg/s", "rated flow"))
        if not self.flow_limit_kg_per_s > 0.0:
            problems.append(Problem("must be above 0", f"{self.flow_limit_kg_per_s:g} kg/s", "flow limit"))
        if not 0.0 <= self.lock_up_zone < 1.0:
            problems.append(
                Problem("must be 0 or more and below 1", f"{self.lock_up_zone:g}", "lock-up zone")
            )
        if not abs(self.inlet_effect) < 1.0:
            problems.append(Problem("must be within -1 to 1", f"{self.inlet_effect:g}", "inlet effect"))
        if problems:
            raise UserError(problems)

    @property
    def lock_up_pressure_Pa(self) -> float:
        """Outlet pressure at no flow and the inlet that the set point is stated at, gauge [Pa]."""
        return self.set_point_Pa + self.lock_up_Pa

    @property
    def lock_up_flow_kg_per_s(self) -> float:
        """Flow at which the rise to lock-up begins [kg/s]; 0 where no rated flow is known."""
        rated = min(self.rated_flow_kg_per_s, self.flow_limit_kg_per_s)
        return self.lock_up_zone * rated if math.isfinite(rated) else 0.0

    def inlet_shift_Pa(self, inlet_pressure_Pa: ArrayLike | None) -> Any:
        """What the inlet pressure adds to the outlet: effect times its distance from the stated inlet [Pa].

        >>> float(Regulator(set_point_Pa=69e3, inlet_effect=-0.01, stated_inlet_Pa=3e5).inlet_shift_Pa(5e5))
        -2000.0
        """
        if inlet_pressure_Pa is None or self.stated_inlet_Pa is None:
            return 0.0
        return self.inlet_effect * (np.asarray(inlet_pressure_Pa, dtype=np.float64) - self.stated_inlet_Pa)


def spring_pressure_Pa(
    regulator: Regulator, mass_flow_kg_per_s: ArrayLike, inlet_pressure_Pa: ArrayLike | None = None
) -> Any:
    """Outlet pressure that spring and diaphragm balance: p = p_set - D m/m_r + L (1 - m/m_z)^2 + e (p1 - p1_set).

    D droop, m_r rated flow, L lock-up, m_z the flow of the lock-up zone (its term is 0 above it), e inlet effect
    mass_flow_kg_per_s : [kg/s]; inlet_pressure_Pa : gauge [Pa], None where it is that of the set point
    Returns gauge [Pa], at least 0; beyond the flow limit this is no longer what arrives. Falls steadily with the flow.
    That the rise to lock-up is a parabola is a choice: published curves show where it ends, not its form.

    >>> stand = Regulator(set_point_Pa=2740.0, droop_Pa=250.0, lock_up_Pa=500.0, rated_flow_kg_per_s=1e-3,
    ...                   lock_up_zone=0.05)
    >>> spring_pressure_Pa(stand, np.array([0.0, 2.5e-5, 5e-5, 1e-3]))
    array([3240.  , 2858.75, 2727.5 , 2490.  ])
    """
    flow = np.asarray(mass_flow_kg_per_s, dtype=np.float64)
    drooped = regulator.set_point_Pa - regulator.droop_Pa * flow / regulator.rated_flow_kg_per_s
    zone = regulator.lock_up_flow_kg_per_s
    closing = np.maximum(1.0 - flow / zone, 0.0) if zone > 0.0 else np.where(flow > 0.0, 0.0, 1.0)
    found = drooped + regulator.lock_up_Pa * closing**2 + regulator.inlet_shift_Pa(inlet_pressure_Pa)
    return np.maximum(found, 0.0)


def wide_open_pressure_Pa(
    regulator: Regulator,
    mass_flow_kg_per_s: ArrayLike,
    inlet_pressure_Pa: ArrayLike,
    ambient_pressure_Pa: float,
) -> Any:
    """Outlet pressure of the wide-open valve: p2^2 = p1^2 - (p1_set^2 - p_limit^2)(m/m_limit)^2, absolute.

    p_limit is the outlet at the flow limit m_limit with the inlet p1_set that they are stated at; without one they
    are taken at this inlet.
    mass_flow_kg_per_s : [kg/s]; inlet_pressure_Pa : gauge [Pa]; ambient_pressure_Pa : absolute [Pa]
    Returns gauge [Pa], never below minus the ambient pressure.

    >>> stand = Regulator(set_point_Pa=2740.0, flow_limit_kg_per_s=1e-3)
    >>> wide_open_pressure_Pa(stand, np.array([1e-3, 1.2e-3]), 20e3, 101325.0).tolist()
    [2740.0, -5837.7]
    """
    flow = np.asarray(mass_flow_kg_per_s, dtype=np.float64)
    p1 = np.asarray(inlet_pressure_Pa, dtype=np.float64) + ambient_pressure_Pa
    if not math.isfinite(regulator.flow_limit_kg_per_s):
        return p1 - ambient_pressure_Pa + 0.0 * flow
    stated = p1 if regulator.stated_inlet_Pa is None else regulator.stated_inlet_Pa + ambient_pressure_Pa
    at_limit = float(spring_pressure_Pa(regulator, regulator.flow_limit_kg_per_s)) + ambient_pressure_Pa
    share = np.square(flow / regulator.flow_limit_kg_per_s)
    left = p1 * p1 - np.maximum(stated * stated - at_limit * at_limit, 0.0) * share
    return np.sqrt(np.maximum(left, 0.0)) - ambient_pressure_Pa


def outlet_pressure_Pa(
    regulator: Regulator,
    mass_flow_kg_per_s: ArrayLike,
    inlet_pressure_Pa: ArrayLike | None = None,
    ambient_pressure_Pa: float = 101325.0,
) -> Any:
    """Outlet pressure of a regulator at a flow: what spring and diaphragm balance, or less when the valve is wide open.

    mass_flow_kg_per_s : [kg/s]; inlet_pressure_Pa : gauge [Pa], None when not known
    ambient_pressure_Pa : absolute [Pa]
    Returns gauge [Pa]. Without an inlet pressure the fall beyond the flow limit is not computed: the figure
    is then the droop line carried on, too high.

    >>> stand = Regulator(set_point_Pa=2740.0, droop_Pa=250.0, rated_flow_kg_per_s=1e-3, flow_limit_kg_per_s=1.1e-3)
    >>> outlet_pressure_Pa(stand, np.array([1e-3, 1.2e-3]), 20e3).tolist()
    [2490.0, -1214.9]
    """
    balanced = spring_pressure_Pa(regulator, mass_flow_kg_per_s, inlet_pressure_Pa)
    if inlet_pressure_Pa is None:
        return balanced
    open_wide = wide_open_pressure_Pa(regulator, mass_flow_kg_per_s, inlet_pressure_Pa, ambient_pressure_Pa)
    return np.minimum(balanced, open_wide)


@dataclass(frozen=True, slots=True, kw_only=True)
class Typical:
    """What a kind of regulator commonly does."""

    name: str
    set_point_Pa: Figure
    droop: Figure  # share of the set point
    lock_up: Figure  # share of the set point
    minimum_inlet_Pa: Figure
    inlet_effect: Figure | None = (
        None  # change of the outlet per change of the inlet [-]; None not in the table
    )

    @property
    def is_adjustable(self) -> bool:
        """Whether one regulator of this kind is set anywhere in the range of its set point.

        >>> typical("lp high pressure").is_adjustable, typical("lp second stage").is_adjustable
        (True, False)
        """
        return self.set_point_Pa.low == 0.0


@tables.cache_by_file
def typical_names(own: Path | None = None) -> tuple[str, ...]:
    """Kinds of regulator of the table ``regulators``.

    >>> "lp single stage" in typical_names()
    True
    """
    return tuple(dict.fromkeys(row["regulator"] for row in tables.read("regulators", own)))


@tables.cache_by_file
def typical(name: str, own: Path | None = None, key: str = "type", near_Pa: float | None = None) -> Typical:
    """Typical figures of a kind of regulator with their spread; a maker's own go before.

    near_Pa : gauge pressure it has to hold [Pa], for the kind to propose
    Raises UserError for a kind the table does not know.

    >>> typical("lp single stage").set_point_Pa.value
    2740.0
    """
    wanted = name.strip().lower()
    if wanted not in typical_names(own):
        what, names = "a kind of regulator of the table regulators", list(typical_names(own))
        raise unknown(what, name, names, key, _kind_for(wanted, near_Pa, own))
    found = figures("regulators", own, regulator=wanted)
    return Typical(
        name=wanted,
        set_point_Pa=found["set point"],
        droop=found["droop"],
        lock_up=found["lock up"],
        minimum_inlet_Pa=found["minimum inlet"],
        inlet_effect=found.get("inlet effect"),
    )


def cylinder_regulator(
    gas: Gas | DeclaredGas,
    region: str = "",
    *,
    size: str = "",
    own: Path | None = None,
    gauge_pressure_Pa: float | None = None,
) -> Typical:
    """The kind of regulator that a cylinder of this gas usually has in a region.

    region : us or eu; where it is "", butane and a cylinder sold in kilogrammes (size) have the regulators of Europe
    Common practice, no source: a North American cylinder has a single-stage regulator; one of Europe a regulator for
    butane, or for propane, by what most of its liquid is, or the one for 50 mbar where it has to hold that pressure.

    >>> from burnerlab.gas import load
    >>> [cylinder_regulator(load(gas), region).name for gas, region in (("G30", ""), ("G31", "eu"), ("G31", "us"))]
    ['butane 30 mbar', 'propane 37 mbar', 'lp single stage']
    >>> cylinder_regulator(load("propane"), size="11 kg").name, cylinder_regulator(load("propane"), size="20 lb").name
    ('propane 37 mbar', 'lp single stage')
    """
    is_butane = False
    if isinstance(gas, Gas):
        parts = zip(gas.composition.names, gas.composition.fractions, strict=True)
        is_butane = sum(fraction for name, fraction in parts if name in BUTANES) > 0.5
    is_of_europe = region == "eu" or (not region and (is_butane or size.endswith("kg")))
    if not is_of_europe:
        return typical("lp single stage", own)
    of_50_mbar = typical("lp 50 mbar", own).set_point_Pa
    if gauge_pressure_Pa is not None and of_50_mbar.low <= gauge_pressure_Pa <= of_50_mbar.high:
        return typical("lp 50 mbar", own)
    return typical("butane 30 mbar" if is_butane else "propane 37 mbar", own)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPoints:
    """The set points a regulator may be given [Pa gauge], and where they are from."""

    low_Pa: float
    high_Pa: float
    words: str
    source: str


def set_points(kind: str, own: Path | None = None) -> SetPoints:
    """The set points of a kind of regulator; of appliance regulators together where it is one of them.

    kind : of the table ``regulators``; "" a regulator of an appliance
    An appliance regulator for another gas is of another kind, so all that set a low pressure are taken together.

    >>> [round(end) for end in (set_points("natural appliance").low_Pa, set_points("natural appliance").high_Pa)]
    [872, 6895]
    >>> set_points("lp first stage").low_Pa
    13790.0
    """
    kinds = [typical(name, own) for name in typical_names(own)]
    low = [each for each in kinds if is_low_pressure(each.set_point_Pa.high)] or kinds
    if kind and kind not in [each.name for each in low]:
        range_Pa = typical(kind, own).set_point_Pa
        return SetPoints(
            low_Pa=range_Pa.low, high_Pa=range_Pa.high, words=f"the kind {kind}", source=range_Pa.cite()
        )
    least, most = (
        min(low, key=lambda each: each.set_point_Pa.low),
        max(low, key=lambda each: each.set_point_Pa.high),
    )
    return SetPoints(
        low_Pa=least.set_point_Pa.low,
        high_Pa=most.set_point_Pa.high,
        words="regulators that set the pressure of an appliance",
        source="; ".join(dict.fromkeys(end.set_point_Pa.cite() for end in (least, most))),
    )


SAME_SET_POINT = 0.1  # ln: about a tenth either way
TYPING_SLIP = 0.9  # how much alike two names are that differ by a slip alone


def _kind_for(name: str, near_Pa: float | None, own: Path | None) -> str:
    """The kind that was meant: by a slip of typing, else by the pressure it has to hold, never by a like sound."""
    kinds = typical_names(own)
    if slip := get_close_matches(name, kinds, n=1, cutoff=TYPING_SLIP):
        return f"did you mean {slip[0]}?"
    if near_Pa is None or not near_Pa > 0.0:
        return "write one of these, by its set point"
    away = {kind: abs(math.log(typical(kind, own).set_point_Pa.value / near_Pa)) for kind in kinds}
    best = min(away, key=lambda kind: away[kind])
    if away[best] > SAME_SET_POINT:
        return "write one of these, by its set point"
    return f'write "{best}" if that is what holds {near_Pa / 100:.3g} mbar here'


# A valve, or any other short restriction: its flow coefficient, and what it costs in pressure.

BAR_Pa = 1e5  # definition
WATER_kg_per_m3 = 1000.0  # supply-iec60534: water of relative density 1
KV_PER_CV = 0.865  # supply-iec60534: Kv = 0.865 Cv
SECONDS_PER_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Valve:
    """A restriction by its effective area, fully open."""

    effective_area_m2: float  # discharge coefficient times area
    stated_as: str = ""

    def check(self) -> None:
        if not (self.effective_area_m2 > 0.0 and math.isfinite(self.effective_area_m2)):
            fix = "give Kv, Cv or the narrowest bore"
            raise UserError(
                Problem("needs an opening above 0", f"{self.effective_area_m2:g} m2", "valve", fix=fix)
            )


def valve_of_Kv(Kv_m3_per_h: float) -> Valve:
    """A valve by Kv, the water flow at 1 bar [m3/h]: effective area = Kv/3600 sqrt(rho_w/(2 bar)).

    Source: supply-iec60534.

    >>> valve_of_Kv(1.0).effective_area_m2 * 1e6
    19.64
    """
    area = Kv_m3_per_h / SECONDS_PER_HOUR * math.sqrt(WATER_kg_per_m3 / (2.0 * BAR_Pa))
    return Valve(effective_area_m2=area, stated_as=f"Kv {Kv_m3_per_h:g} m3/h")


def valve_of_Cv(Cv_gal_per_min: float) -> Valve:
    """A valve by Cv, the water flow at 1 psi [US gal/min]: Kv = 0.865 Cv.

    Source: supply-iec60534.

    >>> valve_of_Cv(1.0).effective_area_m2 * 1e6
    16.99
    """
    area = valve_of_Kv(KV_PER_CV * Cv_gal_per_min).effective_area_m2
    return Valve(effective_area_m2=area, stated_as=f"Cv {Cv_gal_per_min:g} gal/min")


def valve_of_bore(diameter_m: float, coefficient: float | None = None, own: Path | None = None) -> Valve:
    """A valve by its narrowest hole, with a discharge coefficient [-] or the table's "plug coefficient".

    diameter_m : narrowest hole [m]

    >>> valve_of_bore(0.006).effective_area_m2 * 1e6
    19.79
    """
    cd = supply_figure("plug coefficient", own).value if coefficient is None else coefficient
    area = cd * math.pi / 4.0 * diameter_m**2
    return Valve(effective_area_m2=area, stated_as=f"bore {diameter_m * 1e3:.3g} mm, coefficient {cd:g}")


def valve_drop_Pa(
    mass_flow_kg_per_s: ArrayLike,
    effective_area_m2: ArrayLike,
    density_kg_per_m3: ArrayLike,
    inlet_pressure_Pa: ArrayLike,
) -> Any:
    """Pressure lost in a valve: dp0 = (m/(Cd A))^2/(2 rho), then the expansion of the gas.

    mass_flow_kg_per_s : [kg/s]; effective_area_m2 : Cd A [m2]
    density_kg_per_m3 : at the inlet [kg/m3]; inlet_pressure_Pa : absolute [Pa]
    Returns [Pa]. Range: small drops; the table's "largest drop share" of the inlet pressure.

    >>> float(valve_drop_Pa(2e-4, 1.964e-5, 1.9, 104e3))
    27.3
    """
    constant = np.square(np.divide(mass_flow_kg_per_s, effective_area_m2)) / (
        2.0 * np.asarray(density_kg_per_m3)
    )
    return expanding_drop_Pa(constant, inlet_pressure_Pa)
