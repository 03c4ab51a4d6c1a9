"""Which flames the shipped tables hold: gases, equivalence ratios, temperatures, pressures, cut into units of work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from burnerlab.flame.profile import FlameState

BASE_TEMPERATURE_K = 298.15
BASE_PRESSURE_Pa = 101325.0
COLD_K, WARM_K, HOT_K, HOTTEST_K = 253.15, 373.15, 473.15, 700.0
LOW_Pa, MIDDLE_Pa = 54e3, 76e3  # about 5000 m and 2350 m above the sea
OTHER_STATES = (
    (COLD_K, BASE_PRESSURE_Pa),
    (WARM_K, BASE_PRESSURE_Pa),
    (HOT_K, BASE_PRESSURE_Pa),
    (BASE_TEMPERATURE_K, LOW_Pa),
    (BASE_TEMPERATURE_K, MIDDLE_Pa),
    (COLD_K, LOW_Pa),
    (HOT_K, LOW_Pa),
    (HOTTEST_K, BASE_PRESSURE_Pa),
)
"""Unburnt temperature and pressure of the flames the change with either is taken from."""
START = 1.0  # equivalence ratio every ladder starts from
LEAN = tuple(round(1.0 - 0.05 * k, 3) for k in range(9))
RICH = (*(round(1.0 + 0.05 * k, 3) for k in range(13)), 1.7, 1.8, 1.9, 2.0, 2.12, 2.25)
EQUIVALENCE_RATIOS = tuple(sorted({*LEAN, *RICH}))

CORRECTED_STATES = (
    (HOT_K, BASE_PRESSURE_Pa),
    (BASE_TEMPERATURE_K, LOW_Pa),
    (HOT_K, LOW_Pa),
    (HOTTEST_K, BASE_PRESSURE_Pa),
)
CORRECTION_RUNGS = ((1.0, 0.9, 0.8, 0.7, 0.6), (1.2, 1.3, 1.4, 1.45, 1.5, 1.6, 1.8, 2.0))
"""Lean, rich: the narrow list misses up to 3 % of how flames change; there it is solved on the wide list too."""
HOTTEST_RUNGS = ((1.0, 0.8, 0.6), (1.2, 1.4, 1.5, 1.8))
"""The same at the hottest state, where what is missed follows that at HOT_K."""

PURE = ("methane", "ethane", "ethylene", "propane", "propylene", "n-butane", "isobutane", "hydrogen")
HYDROGEN_IN_METHANE = (0.2, 0.4, 0.65, 0.85, 0.95)
HYDROGEN_IN_CARBON_MONOXIDE = (0.015, 0.05, 0.15, 0.4, 0.7)
"""Dry carbon monoxide hardly burns; the first value is the trace that stands for it."""
BASE_ONLY = ("methane hydrogen 0.2", "methane hydrogen 0.95")
"""Their change with temperature and pressure is taken from the neighbours."""
DILUTED = {
    "methane": (0.5, 0.69),
    "methane hydrogen 0.4": (0.53, 0.71),
    "methane hydrogen 0.65": (0.55, 0.73),
    "methane hydrogen 0.85": (0.58, 0.76),
    "hydrogen": (0.6, 0.77),
    "propane": (0.25, 0.425),
}
"""Flames whose dilution is tabulated: share of the gas in the diluted one, with much inert gas and with less."""
AWAY = ((HOT_K, BASE_PRESSURE_Pa), (BASE_TEMPERATURE_K, LOW_Pa))
"""Hot, and high up: where probes and flames with much inert gas are solved again, for how their changes change."""
PROPANE_IN_METHANE = (0.1, 0.35)
ETHYLENE_IN_METHANE = (0.1, 0.4)
CARBON_MONOXIDE_IN_METHANE = (0.2, 0.4, 0.52, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95)
CARBON_MONOXIDE_IN_PROPANE = (0.5, 0.8, 0.93)
WATER_GAS_IN_METHANE = (0.25, 0.5, 0.62, 0.69, 0.75, 0.79, 0.83, 0.9)
"""Water gas: as much carbon monoxide as hydrogen."""
WET_OR_DRY_GAS_IN_METHANE = (0.5, 0.75, 0.88)
"""Wet gas is a quarter carbon monoxide and else hydrogen, dry gas three quarters."""
HYDROGEN_IN_PROPANE = (0.6, 0.85, 0.9, 0.95)
CORRECTED = (*PURE[:-1], "methane hydrogen 0.4", "methane hydrogen 0.65", "methane hydrogen 0.85")
EXTENDED = (*PURE, "methane hydrogen 0.4", "methane hydrogen 0.65", "methane hydrogen 0.85")
"""Solved at the hottest state, the last of OTHER_STATES; the others keep to HOT_K."""
EXTENDED_CORRECTED = ("methane", "propane", "methane hydrogen 0.4", "methane hydrogen 0.65")
"""Of those, the gases solved there on the wide list too; elsewhere what is missed at HOT_K is carried on."""
INERTS = ("nitrogen", "carbon dioxide", "water")


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkUnit:
    """One ladder over the equivalence ratio: what a worker computes in one go."""

    label: str
    gas: Mapping[str, float]
    unburnt_temperature_K: float
    pressure_Pa: float
    wide: bool  # on the wide list of species; else on the narrow one, for ratios
    rich: bool
    rungs: tuple[float, ...] = ()  # other rungs than those of its side

    @property
    def name(self) -> str:
        """File name of its results."""
        side = "rich" if self.rich else "lean"
        list_of = "wide" if self.wide else "narrow"
        return f"{self.label} {self.unburnt_temperature_K:g}K {self.pressure_Pa:g}Pa {list_of} {side}"

    @property
    def ladder(self) -> tuple[float, ...]:
        """Equivalence ratios in the order they are solved."""
        return self.rungs or (RICH if self.rich else LEAN)

    def state(self, equivalence_ratio: float) -> FlameState:
        """One rung."""
        return FlameState(
            gas=self.gas,
            equivalence_ratio=equivalence_ratio,
            unburnt_temperature_K=self.unburnt_temperature_K,
            pressure_Pa=self.pressure_Pa,
        )


def gases() -> dict[str, dict[str, float]]:
    """Every gas with an axis of its own: label -> composition by mole fraction.

    >>> gases()["methane hydrogen 0.2"]
    {'methane': 0.8, 'hydrogen': 0.2}
    """
    found: dict[str, dict[str, float]] = {name: {name: 1.0} for name in PURE}
    for share in HYDROGEN_IN_METHANE:
        found[f"methane hydrogen {share:g}"] = {"methane": round(1 - share, 6), "hydrogen": share}
    for share in HYDROGEN_IN_CARBON_MONOXIDE:
        found[f"carbon monoxide hydrogen {share:g}"] = {
            "carbon monoxide": round(1 - share, 6),
            "hydrogen": share,
        }
    return found


def probes() -> dict[str, dict[str, float]]:
    """Blends that tell what the rule of blending misses: label -> composition by mole fraction."""
    found: dict[str, dict[str, float]] = {}
    for share in PROPANE_IN_METHANE:
        found[f"methane propane {share:g}"] = {"methane": round(1 - share, 6), "propane": share}
    for share in ETHYLENE_IN_METHANE:
        found[f"methane ethylene {share:g}"] = {"methane": round(1 - share, 6), "ethylene": share}
    for share in CARBON_MONOXIDE_IN_METHANE:
        rest = round(1 - share, 6)
        found[f"methane carbon monoxide {share:g}"] = {"methane": rest, "carbon monoxide": share}
    for share in CARBON_MONOXIDE_IN_PROPANE:
        rest = round(1 - share, 6)
        found[f"propane carbon monoxide {share:g}"] = {"propane": rest, "carbon monoxide": share}
    for share in WATER_GAS_IN_METHANE:
        rest = round(1 - share, 6)
        light = {"carbon monoxide": share / 2, "hydrogen": share / 2}
        found[f"methane water gas {share:g}"] = {"methane": rest, **light}
    for kind, carbon in (("wet", 0.25), ("dry", 0.75)):
        for share in WET_OR_DRY_GAS_IN_METHANE:
            rest = round(1 - share, 6)
            light = {"carbon monoxide": carbon * share, "hydrogen": (1 - carbon) * share}
            found[f"methane {kind} gas {share:g}"] = {"methane": rest, **light}
    for share in HYDROGEN_IN_PROPANE:
        found[f"propane hydrogen {share:g}"] = {"propane": round(1 - share, 6), "hydrogen": share}
    return found


def diluted_gases(less: bool = False) -> dict[str, dict[str, float]]:
    """Gases with inert gas in them, from which its effect is tabulated; with ``less`` of it the milder ones."""
    found: dict[str, dict[str, float]] = {}
    for name, shares in DILUTED.items():
        share = shares[1] if less else shares[0]
        for inert in INERTS:
            label = f"{name} with less {inert}" if less else f"{name} with {inert}"
            fuel = {part: round(share * of, 6) for part, of in gases()[name].items()}
            found[label] = {**fuel, inert: round(1 - share, 6)}
    return found


def first_units() -> tuple[WorkUnit, ...]:
    """Ladders at the base state on the wide list; their profiles start all others."""
    return tuple(
        _unit(label, gas, wide=True, rich=rich)
        for label, gas in {**gases(), **probes()}.items()
        for rich in (True, False)
    )


def second_units() -> tuple[WorkUnit, ...]:
    """Ladders at other temperatures and pressures, and with inert gas: for ratios only."""
    found = [
        _unit(label, gas, temperature_K, pressure_Pa, rich=rich)
        for label, gas in gases().items()
        for temperature_K, pressure_Pa in _states(label)
        for rich in (True, False)
    ]
    found += [
        replace(
            _unit(label, gases()[label], *state, wide=True, rich=rich),
            rungs=correction_rungs(label, state)[rich],
        )
        for label in CORRECTED
        for state in corrected_states(label)
        for rich in (True, False)
    ]
    found += [
        replace(_unit(label, gas, *state, wide=True, rich=rich), rungs=CORRECTION_RUNGS[rich])
        for label, gas in probes().items()
        for state in AWAY
        for rich in (True, False)
    ]
    base = (BASE_TEMPERATURE_K, BASE_PRESSURE_Pa)
    found += [
        _unit(label, gas, *state, rich=rich)
        for less, state in ((False, base), (True, base), *((False, state) for state in AWAY))
        for label, gas in diluted_gases(less).items()
        for rich in (True, False)
    ]
    return tuple(found)


def corrected_states(label: str) -> tuple[tuple[float, float], ...]:
    """States at which a gas is solved on the wide list too."""
    return CORRECTED_STATES if label in EXTENDED_CORRECTED else CORRECTED_STATES[:-1]


def correction_rungs(label: str, state: tuple[float, float]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Lean and rich equivalence ratios at which a gas is solved on the wide list too."""
    return HOTTEST_RUNGS if state[0] == HOTTEST_K and label != "methane" else CORRECTION_RUNGS


def _states(label: str) -> tuple[tuple[float, float], ...]:
    base = (BASE_TEMPERATURE_K, BASE_PRESSURE_Pa)
    other = OTHER_STATES if label in EXTENDED else OTHER_STATES[:-1]
    return (base,) if label in BASE_ONLY else (base, *other)


def _unit(
    label: str,
    gas: Mapping[str, float],
    temperature_K: float = BASE_TEMPERATURE_K,
    pressure_Pa: float = BASE_PRESSURE_Pa,
    *,
    wide: bool = False,
    rich: bool,
) -> WorkUnit:
    return WorkUnit(
        label=label,
        gas=gas,
        unburnt_temperature_K=temperature_K,
        pressure_Pa=pressure_Pa,
        wide=wide,
        rich=rich,
    )
