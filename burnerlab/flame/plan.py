"""Which flames the shipped tables hold: gases, equivalence ratios, temperatures, pressures, cut into units of work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from burnerlab.flame.profile import FlameState

BASE_TEMPERATURE_K = 298.15
BASE_PRESSURE_Pa = 101325.0
COLD_K, WARM_K, HOT_K = 253.15, 373.15, 473.15
LOW_Pa, MIDDLE_Pa = 54e3, 76e3  # about 5000 m and 2350 m above the sea
OTHER_STATES = (
    (COLD_K, BASE_PRESSURE_Pa),
    (WARM_K, BASE_PRESSURE_Pa),
    (HOT_K, BASE_PRESSURE_Pa),
    (BASE_TEMPERATURE_K, LOW_Pa),
    (BASE_TEMPERATURE_K, MIDDLE_Pa),
    (COLD_K, LOW_Pa),
    (HOT_K, LOW_Pa),
)
"""Unburnt temperature and pressure of the flames the change with either is taken from."""
START = 1.0  # equivalence ratio every ladder starts from
LEAN = tuple(round(1.0 - 0.05 * k, 3) for k in range(9))
RICH = (*(round(1.0 + 0.05 * k, 3) for k in range(13)), 1.7, 1.8, 1.9, 2.0, 2.12, 2.25)
EQUIVALENCE_RATIOS = tuple(sorted({*LEAN, *RICH}))

CORRECTED_STATES = ((HOT_K, BASE_PRESSURE_Pa), (BASE_TEMPERATURE_K, LOW_Pa), (HOT_K, LOW_Pa))
CORRECTION_RUNGS = (1.2, 1.3, 1.4, 1.45, 1.5, 1.6, 1.8, 2.0)
"""Where the narrow list misses up to 2 % of how rich flames change; there the change is solved on the wide list too."""

PURE = ("methane", "ethane", "ethylene", "propane", "propylene", "n-butane", "isobutane", "hydrogen")
HYDROGEN_IN_METHANE = (0.2, 0.4, 0.65, 0.85)
HYDROGEN_IN_CARBON_MONOXIDE = (0.015, 0.05, 0.15, 0.4)
"""Dry carbon monoxide hardly burns; the first value is the trace that stands for it."""
BASE_ONLY = ("methane hydrogen 0.2", "methane hydrogen 0.65")
"""Their change with temperature and pressure is taken from the neighbours."""
DILUTED = {
    "methane": {"methane": 0.5},
    "propane": {"propane": 0.25},
    "hydrogen": {"hydrogen": 0.6},
}
CORRECTED: tuple[str, ...] = ()
INERTS = ("nitrogen", "carbon dioxide", "water")


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
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


def diluted_gases() -> dict[str, dict[str, float]]:
    """Gases with inert gas in them, from which its effect is tabulated."""
    found: dict[str, dict[str, float]] = {}
    for name, share in DILUTED.items():
        for inert in INERTS:
            found[f"{name} with {inert}"] = {**share, inert: round(1 - share[name], 6)}
    return found


def first_units() -> tuple[Unit, ...]:
    """Ladders at the base state on the wide list; their profiles start all others."""
    return tuple(
        _unit(label, gas, wide=True, rich=rich) for label, gas in gases().items() for rich in (True, False)
    )


def second_units() -> tuple[Unit, ...]:
    """Ladders at other temperatures and pressures, and with inert gas: for ratios only."""
    found = [
        _unit(label, gas, temperature_K, pressure_Pa, rich=rich)
        for label, gas in gases().items()
        for temperature_K, pressure_Pa in _states(label)
        for rich in (True, False)
    ]
    found += [
        Unit(
            label=label,
            gas=gases()[label],
            unburnt_temperature_K=temperature_K,
            pressure_Pa=pressure_Pa,
            wide=True,
            rich=True,
            rungs=CORRECTION_RUNGS,
        )
        for label in CORRECTED
        for temperature_K, pressure_Pa in CORRECTED_STATES
    ]
    found += [
        _unit(label, gas, rich=rich) for label, gas in diluted_gases().items() for rich in (True, False)
    ]
    return tuple(found)


def _states(label: str) -> tuple[tuple[float, float], ...]:
    base = (BASE_TEMPERATURE_K, BASE_PRESSURE_Pa)
    return (base,) if label in BASE_ONLY else (base, *OTHER_STATES)


def _unit(
    label: str,
    gas: Mapping[str, float],
    temperature_K: float = BASE_TEMPERATURE_K,
    pressure_Pa: float = BASE_PRESSURE_Pa,
    *,
    wide: bool = False,
    rich: bool,
) -> Unit:
    return Unit(
        label=label,
        gas=gas,
        unburnt_temperature_K=temperature_K,
        pressure_Pa=pressure_Pa,
        wide=wide,
        rich=rich,
    )
