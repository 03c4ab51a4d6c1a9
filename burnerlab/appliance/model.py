"""An appliance as the engineer describes it: frozen things in SI, read from a file or built in a notebook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from burnerlab.appliance.burner_kind import BurnerKind
from burnerlab.appliance.space import Facing, Heat, Space
from burnerlab.orifice.coefficient import DEFAULT_SHAPE
from burnerlab.quantity import Basis
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.summary import Summary, WithSummary, figure

if TYPE_CHECKING:
    from burnerlab.appliance.train import Train
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.supply.valve import Valve

REGIONS = ("us", "eu")
"""Where an appliance is sold, as far as the file says: it selects band, supply pressures and altitude policies."""
SpreadShape = Literal["uniform", "normal", "triangular"]
AS_MADE = ("drill", "coefficient", "setting")
"""Causes of spread of the unit as made: hole, discharge coefficient, pressure as set at the end of the line."""
IN_USE = ("pressure", "wobbe", "temperature")
"""Causes that gas and place add in use."""
CAUSES = (*AS_MADE, *IN_USE)
"""Causes of spread of the heat input, in the order they are shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Orifice:
    """The hole that meters the gas of one burner (``count`` equal holes feed it together)."""

    diameter_m: float
    drill: str = ""  # as printed in a drill list, "" for a bare diameter
    shape: str = DEFAULT_SHAPE  # a row of the discharge table
    coefficient: float | None = None  # the maker's own [-]; None takes the shape's
    count: int = 1
    length_m: float | None = None  # of the drilled channel


@dataclass(frozen=True, slots=True, kw_only=True)
class Ports:
    """Round ports of one burner, or slots when a length is given."""

    diameter_m: float  # width of a slot
    count: int
    depth_m: float | None = None
    slot_length_m: float | None = None
    discharge: float | None = None  # [-]; None takes that of the depth
    temperature_K: float | None = None  # of the mixture in them; None is as cold as the air


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a burner sits: middle of the burner over the cooking surface's own axes."""

    x_m: float
    y_m: float
    height_m: float | None = None
    length_m: float | None = None
    width_m: float | None = None
    diameter_m: float | None = None
    angle_rad: float = 0.0
    facing: Facing | None = None  # None: as its kind of burner does


@dataclass(frozen=True, slots=True, kw_only=True)
class Shutter:
    """The air shutter of one burner."""

    opening: float  # open share [-]
    full_area_m2: float | None = None
    loss: float | None = None  # on the velocity head in the open area [-]; None takes the table's


@dataclass(frozen=True, slots=True, kw_only=True)
class Burner:
    """One kind of burner, ``count`` of them; the rate is for one, on the appliance's basis."""

    name: str
    kind: BurnerKind
    rate_W: float
    orifice: Orifice
    count: int = 1
    turndown: float | None = None  # smallest over full rate [-]
    ports: Ports | None = None
    throat_m: float | None = None
    tube_loss: float | None = None  # on the velocity head of the throat [-]; None takes the table's
    places: tuple[Place, ...] = ()
    shutter: Shutter | None = None
    valve: Valve | None = None  # its own; None takes the train's
    heat: Heat | None = None
    igniter: str = ""  # name of the igniter that stands at it

    def __post_init__(self) -> None:
        object.__setattr__(self, "kind", BurnerKind(self.kind))  # a notebook may write the word

    def faces(self, place: Place) -> Facing:
        """Where its flames or its face point at a place."""
        return place.facing or self.kind.traits.faces


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """The gas the appliance burns now, and how it arrives at the manifold."""

    gas: Gas | DeclaredGas
    gauge_pressure_Pa: float
    low_gauge_pressure_Pa: float | None = None
    high_gauge_pressure_Pa: float | None = None
    altitude_m: float | None = 0.0  # None when a barometer reading is given instead
    ambient_pressure_Pa: float = 101_325.0
    gas_temperature_K: float = 288.15
    allow_high_pressure: bool = False
    train: Train | None = None  # what stands before the manifold; None: its pressure is taken as given


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSupply:
    """What stands before the burners once the appliance is changed to this gas at this pressure."""

    gas: Gas | DeclaredGas
    gauge_pressure_Pa: float
    train: Train | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """The band of the heat input around the rating."""

    low: float  # [-], negative
    high: float  # [-]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the user holds the result against, and the drills in the drawer."""

    tolerance: Tolerance
    drills: tuple[str, ...] = ("number", "letter", "fraction", "metric")  # series, or the user's own drills
    altitude_policy: str | None = None  # None: none is chosen, and a bore for sea level stays one


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTables:
    """The user's own replacements of shipped tables: CSV files of the same columns."""

    drill_tolerance: Path | None = None
    discharge: Path | None = None
    altitude_policies: Path | None = None
    input_tolerances: Path | None = None
    supply_pressures: Path | None = None
    supply_limits: Path | None = None
    regulators: Path | None = None
    pipes: Path | None = None
    fittings: Path | None = None
    roughness: Path | None = None
    burner_coefficients: Path | None = None
    port_limits: Path | None = None
    tile_properties: Path | None = None
    friction_formulas: Path | None = None
    interchange: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How one cause of spread is distributed about its nominal value.

    >>> Spread(shape="uniform", half_width=0.05, source="drawing").half_width
    0.05
    """

    shape: SpreadShape
    half_width: float  # standard deviation when normal
    source: str


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Appliance(WithSummary):
    """A gas appliance: its burners, its supply and what it is held against."""

    name: str
    rating: Basis  # of every rate in this appliance
    supply: Supply
    burners: tuple[Burner, ...]
    limits: Limits
    model: str = ""
    region: str = ""  # us, eu, or "" when the file gives none
    tables: OwnTables = field(default_factory=OwnTables)
    spreads: Mapping[str, Spread] = field(default_factory=dict)  # own spreads by cause
    new_supply: NewSupply | None = None  # None: the present train serves the new gas, its regulator reset
    space: Space | None = None  # cooking surfaces, shields, boxes, panels
    file: str = ""
    file_sha256: str = ""

    def summary(self) -> Summary:
        supply = self.supply
        pressure = figure(supply.gauge_pressure_Pa, Kind.GAUGE_PRESSURE)
        table = (
            ("burner", "number", f"rate {self.rating}", "orifice"),
            *(
                (
                    b.name,
                    str(b.count),
                    figure(b.rate_W, Kind.POWER),
                    b.orifice.drill or figure(b.orifice.diameter_m, Kind.DIAMETER),
                )
                for b in self.burners
            ),
        )
        return Summary(
            f"{self.name}, {supply.gas.name} at {pressure}, {sum(b.count for b in self.burners)} burners",
            table,
        )
