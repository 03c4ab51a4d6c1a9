"""What the figures draw, taken from the conversion alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from burnerlab import tables
from burnerlab.appliance.result import BurnerConversion, Conversion
from burnerlab.report.wording import clean, name

Bands = tuple[tuple[tuple[str, ...], float], ...]
SAME = 0.005  # curves closer than this are one curve


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillCurve:
    """Gross heat input over diameter squared, W/m2: at one gas and pressure the flow follows the area."""

    gas: str
    new: bool
    per_area: float
    burners: tuple[str, ...]

    def heat_input_W(self, diameter_m: float) -> float:
        return self.per_area * diameter_m**2

    def diameter_m(self, heat_input_W: float) -> float:
        return float((heat_input_W / self.per_area) ** 0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """An orifice on a curve, and the burners that have it."""

    diameter_m: float
    heat_input_W: float
    drill: str
    burners: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A drill that exists."""

    drill: str
    diameter_m: float
    taken: bool


def _curves(c: Conversion, gas: str, new: bool, of: Callable[[BurnerConversion], float]) -> list[DrillCurve]:
    found: list[tuple[float, list[str]]] = []
    for b in c.burners:
        value = of(b)
        for known, names in found:
            if abs(value / known - 1) < SAME:
                names.append(name(b.name))
                break
        else:
            found.append((value, [name(b.name)]))
    return [DrillCurve(gas=gas, new=new, per_area=value, burners=tuple(names)) for value, names in found]


def curves(c: Conversion) -> tuple[DrillCurve, ...]:
    """One curve per gas, and more when burners differ in coefficient or number of orifices."""
    now = _curves(c, name(c.from_gas.title), False, lambda b: b.from_predicted_gross_W / b.from_orifice_m**2)
    new = _curves(
        c, name(c.to_gas.title), True, lambda b: b.choice.heat_input_gross_W / b.choice.diameter_m**2
    )
    return (*now, *new)


def _spots(each: Sequence[tuple[float, float, str, str]]) -> tuple[Spot, ...]:
    merged: dict[tuple[float, float, str], list[str]] = {}
    for diameter_m, heat_input_W, drill, who in each:
        merged.setdefault((round(diameter_m, 9), round(heat_input_W, 3), drill), []).append(who)
    return tuple(
        Spot(diameter_m=d, heat_input_W=q, drill=drill, burners=tuple(who))
        for (d, q, drill), who in merged.items()
    )


def present_spots(c: Conversion) -> tuple[Spot, ...]:
    return _spots(
        [
            (
                b.from_orifice_m,
                b.from_predicted_gross_W,
                clean(b.from_drill, 12) or f"{b.from_orifice_m * 1e3:.3f} mm",
                b.name,
            )
            for b in c.burners
        ]
    )


def new_spots(c: Conversion) -> tuple[Spot, ...]:
    return _spots(
        [(b.choice.diameter_m, b.predicted_gross_W, clean(b.choice.drill, 12), b.name) for b in c.burners]
    )


def bands(c: Conversion) -> Bands:
    """Each rating the orifices are sized for, and who has it: burners of one rating share a band."""
    merged: dict[float, list[str]] = {}
    for b in c.burners:
        merged.setdefault(round(b.aim_gross_W, 3), []).append(name(b.name))
    return tuple((tuple(names), aim) for aim, names in sorted(merged.items()))


def drill_marks(c: Conversion, low_m: float, high_m: float) -> tuple[Mark, ...]:
    """The drills between two diameters: the lists this conversion names, else those it weighed."""
    taken = {b.choice.drill for b in c.burners}
    weighed = {d.drill: d.diameter_m for b in c.burners for d in b.choices}
    if "drills" in tables.names():
        for row in tables.rows("drills"):
            if row["kind"] in c.drill_list:
                weighed.setdefault(row["size"], float(row["diameter_mm"]) / 1e3)
    inside = {drill: d for drill, d in weighed.items() if low_m <= d <= high_m}
    return tuple(
        Mark(drill=k, diameter_m=d, taken=k in taken) for k, d in sorted(inside.items(), key=lambda i: i[1])
    )
