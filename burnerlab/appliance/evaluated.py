"""What the evaluation of a conversion found beyond the orifices: pressures, flames, tiles, exchange of the gas.

Every figure stands for one burner of its kind, on the present gas as the file describes it and on the new one with
the drill taken. The dataclasses are plain floats, so that a report only prints them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from burnerlab.burner.tile_evaluate import Band
from burnerlab.tables.evidence import Evidence

if TYPE_CHECKING:
    from burnerlab.appliance.burner_kind import BurnerKind
    from burnerlab.burner.diagram import StabilityDiagram
    from burnerlab.gas.interchange import IndexReading

Which = Literal["present", "new"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureAt:
    """Gauge pressure before the orifice of one burner, and what it gives there."""

    burner: str
    all_on_Pa: float
    alone_Pa: float | None  # None where the supply cannot be told for it alone
    all_on_gross_W: float
    alone_gross_W: float | None
    all_on_from_nominal: float  # of the heat input from that at the nominal pressure [-]
    alone_from_nominal: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressures:
    """The supply with every burner on and with each alone, on one gas."""

    which: Which
    gas: str
    nominal_Pa: float  # gauge, at the manifold
    manifold_Pa: float  # gauge, with every burner on
    burners: tuple[PressureAt, ...]
    binding: str  # the element that takes most of the pressure, "" when nothing does
    drop_Pa: float | None  # taken by that element
    notes: tuple[str, ...]
    evidence: Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameAt:
    """A burner on a gas at one rate. Margins are above 1 on the good side of their limit; None is not evaluated."""

    which: Which
    gas: str
    rate: str  # full rate, turndown, lowest pressure, highest pressure
    gauge_pressure_Pa: float  # before the orifice with the valve open
    heat_input_gross_W: float
    aeration: Band | None
    port_loading_W_per_mm2: float
    wall_gradient_per_s: float | None
    lift_margin: Band | None
    light_back_margin: Band | None
    light_back_is_at_least: (
        bool  # the mixture burns slower than any flame believed: the limit lies lower still
    )
    yellow_tip_margin: Band | None
    inner_cone_height_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterSetting:
    """Openings of the air shutter that hold every limit known on both gases, or which limit leaves none."""

    present: float | None  # as the file sets it [-]; None without a shutter
    low: float | None
    high: float | None
    holds: bool | None  # whether the present setting lies within; None where none could be told
    binding: tuple[str, ...]  # limits that end the openings
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerFlames:
    """One burner: every rate on both gases, and its shutter."""

    burner: str
    kind: BurnerKind
    rates: tuple[FlameAt, ...]  # present gas first, full rate first
    shutter: ShutterSetting | None
    notes: tuple[str, ...] = ()

    def at(self, which: Which, rate: str) -> FlameAt | None:
        """The figures at a rate by its label, None where there are none."""
        return next((one for one in self.rates if one.which == which and one.rate == rate), None)

    def full(self, which: Which) -> FlameAt | None:
        return next((one for one in self.rates if one.which == which), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class TileAt:
    """A ceramic tile burner on a gas at its calculated rate."""

    burner: str
    which: Which
    gas: str
    aeration: float
    firing_density_net_W_per_m2: float
    face_K: Band
    ceiling_face_K: float
    radiant_efficiency_net: Band
    ceiling_efficiency_net: float
    plenum_side_K: Band
    lift_margin: float | None  # None: farther than the table of flames reaches
    radiated_W: float
    evidence: Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """What published indices say of the new gas at the old orifice, or why they do not apply."""

    readings: tuple[IndexReading, ...] = ()
    notes: tuple[str, ...] = ()
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluation:
    """Everything evaluated beyond the orifices."""

    pressures: tuple[
        Pressures, ...
    ] = ()  # present, new; empty where nothing before the manifold is described
    flames: tuple[BurnerFlames, ...] = ()  # burners whose ports are known, on gases with a composition
    tiles: tuple[TileAt, ...] = ()
    exchange: Exchange = field(default_factory=Exchange)
    diagrams: tuple[StabilityDiagram, ...] = field(default=(), compare=False)  # hold arrays

    def pressures_of(self, which: Which) -> Pressures | None:
        return next((one for one in self.pressures if one.which == which), None)

    def flames_of(self, burner: str) -> BurnerFlames | None:
        return next((one for one in self.flames if one.burner == burner), None)

    @property
    def aeration_known(self) -> frozenset[str]:
        """Burners whose primary aeration is calculated on both gases."""
        return frozenset(
            one.burner
            for one in self.flames
            if all((full := one.full(which)) is not None and full.aeration for which in ("present", "new"))
        )


__all__ = [
    "Band",
    "BurnerFlames",
    "Evaluation",
    "Exchange",
    "FlameAt",
    "PressureAt",
    "Pressures",
    "ShutterSetting",
    "TileAt",
    "Which",
]
