"""An appliance as the engineer describes it: frozen things in SI, read from a file or built in a notebook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, get_args

from burnerlab.appliance.project import key_readers
from burnerlab.appliance.project import keys as key
from burnerlab.appliance.project.burner_kind import BurnerKind
from burnerlab.appliance.project.geometry import FACINGS, FLOOR, CentreX, CentreY, Facing, Heat, Space
from burnerlab.appliance.project.keys import Key, Values, table
from burnerlab.appliance.project.supply_train import Train, TrainTable, ValveTable
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.orifice.discharge_coefficient import COEFFICIENT_ENDS, DEFAULT_SHAPE
from burnerlab.orifice.drill import KINDS, SERIES
from burnerlab.quantity import Basis, System
from burnerlab.quantity.inputs import complaint
from burnerlab.quantity.outputs import output
from burnerlab.quantity.quantity_text import millimetre, quantity_text
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.quantity.units import Kind
from burnerlab.supply.regulator import Valve
from burnerlab.tables import rows
from burnerlab.tables.field_names import field_names
from burnerlab.tables.languages import Language, language
from burnerlab.tables.libraries import LibraryTable, installed_tables
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import UserError

REGIONS: tuple[str, str] = ("us", "eu")
"""Where an appliance is sold, as far as the file says: it selects band, supply pressures and altitude policies."""


def system_of_region(region: str) -> System | None:
    """The units of the readers of a region; None for no region.

    >>> system_of_region("us"), system_of_region("eu"), system_of_region("")
    ('US', 'metric', None)
    """
    systems: dict[str, System] = {"us": "US", "eu": "metric"}
    return systems.get(region)


DRILLS_OF_REGION: Mapping[str, tuple[str, ...]] = {
    "us": ("number", "letter", "fraction"),
    "eu": ("metric", "hundredth"),
}
"""Series of drills that a shop of a region has where its file names none: common practice, no source."""

APPLIANCE_KINDS = tuple(row["kind"] for row in rows("flue_limits"))
"""Kinds of appliance for which a limit of carbon monoxide is published."""
SpreadShape = Literal["uniform", "normal", "triangular"]
AS_MADE = ("drill", "coefficient", "setting")
"""Causes of spread of the unit as made: hole, discharge coefficient, pressure as set at the end of the line."""
IN_USE = ("pressure", "wobbe", "temperature")
"""Causes that gas and place add in use."""
CAUSES = (*AS_MADE, *IN_USE)
"""Causes of spread of the heat input, in the order they are shown."""
LIBRARY_GAS = "Gas of the library or of [gas], by its name; or its parts: mix: methane = 0.9, ethane = 0.1"
LABEL = "from the supply label"
NOT_GIVEN = Phrase("not given")


def _hole(values: Values) -> Values:
    """A drill gives the diameter; either is needed, and only one; the interval of a coefficient is whole."""
    _whole_interval(values)
    if "drill" in values and "diameter" in values:
        what, fix = "has both a drill and a diameter", "leave one of the two out"
        raise UserError(key_readers.about("diameter", what, fix))
    if "drill" in values:
        values["diameter"], values["drill"] = values["drill"]
    elif "diameter" not in values:
        accepted = 'drill = "#54", or diameter = "1.40 mm"'
        fix = 'add drill = "#54", with the drill marked on it'
        raise complaint("needs a drill or a diameter", accepted=accepted, fix=fix)
    return values


def _whole_interval(values: Values) -> None:
    """Both ends of the interval of a coefficient, around it, or neither. Raises UserError."""
    ends = [name for name in COEFFICIENT_ENDS if name in values]
    if not ends:
        return
    if len(ends) == 1 or "coefficient" not in values:
        missing = next(name for name in ("coefficient", *COEFFICIENT_ENDS) if name not in values)
        what, fix = f"needs {missing} as well", f"add {missing}, or leave {' and '.join(ends)} out"
        raise UserError(key_readers.about(ends[0], what, fix))
    for name, is_beyond in (
        ("coefficient_low", values["coefficient_low"] > values["coefficient"]),
        ("coefficient_high", values["coefficient_high"] < values["coefficient"]),
    ):
        if is_beyond:
            fix = "coefficient_low is the least of the three, coefficient_high the largest"
            raise UserError(key_readers.about(name, "lies on the other side of coefficient", fix))


@table(_hole)
@dataclass(frozen=True, slots=True, kw_only=True)
class Orifice:
    """The hole that meters the gas of one burner (``count`` equal holes feed it together)."""

    # as printed in a drill list, "" for a bare diameter
    drill: Annotated[
        str, key.text("#54", "Drill marked on it", "a drill, or a diameter", key_readers.drill, kind="drill")
    ] = ""
    diameter_m: Annotated[
        float,
        key.text(
            "1.40 mm",
            "Diameter, where no drill is marked",
            key.orifice_range(),
            key_readers.diameter,
            kind="diameter",
            is_needed=False,
        ),
    ]
    shape: Annotated[
        str,
        key.name(DEFAULT_SHAPE, "Shape of the hole, a row of the table discharge", rows_of="discharge.shape"),
    ] = DEFAULT_SHAPE
    coefficient: Annotated[
        float | None,
        key.quantity("coefficient", "The maker's discharge coefficient; the shape's without it", 0.8),
    ] = None
    coefficient_low: Annotated[
        float | None,
        key.quantity("coefficient", "Low end of its interval, as measured; with coefficient_high", 0.78),
    ] = None
    coefficient_high: Annotated[
        float | None,
        key.quantity("coefficient", "High end of its interval, as measured; with coefficient_low", 0.82),
    ] = None
    count: Annotated[int, key.quantity("orifice_count", "Equal holes that feed one burner", 1)] = 1
    length_m: Annotated[float | None, key.length("Length of the drilled channel", "1 mm")] = None
    # of the stock only orifices with it are taken; "" takes any
    thread: Annotated[str, key.name("M6x0.75", "Thread it is screwed in with, as the stock writes it")] = ""
    hot_gas_temperature_K: Annotated[
        float | None,
        key.quantity(
            "hot_gas_temperature",
            "Of the gas at it 15 min after a cold start; the rate is as cold without it",
            "45 C",
            hint="measured in the manifold at the orifice",
        ),
    ] = None
    is_calculated: bool = False  # the file gives none: the bore that gives the rating on the present supply

    @property
    def coefficient_interval(self) -> tuple[float, float] | None:
        """Low and high end of a coefficient of its own [-]; None for one without."""
        if self.coefficient_low is None or self.coefficient_high is None:
            return None
        return self.coefficient_low, self.coefficient_high


def _round_or_slots(values: Values) -> Values:
    """Round ports have a diameter, slots a width and a length."""
    if tuple(name in values for name in ("diameter", "width", "length")) not in (
        (True, False, False),
        (False, True, True),
    ):
        raise complaint(
            "are either round or slots",
            accepted='diameter = "1.6 mm", or width = "0.6 mm" with length = "8 mm"',
            fix="give a diameter, or a width with a length",
        )
    if "width" in values:
        values["diameter"] = values.pop("width")
    return values


@table(_round_or_slots)
@dataclass(frozen=True, slots=True, kw_only=True)
class Ports:
    """Round ports of one burner, or slots when a length is given."""

    # width of a slot
    diameter_m: Annotated[
        float, key.hole("Diameter of a round port, or its drill", "1.6 mm", is_needed=False)
    ]
    width: ClassVar[Annotated[float, key.length("Width of a slot", "0.6 mm")]]
    count: Annotated[int, key.quantity("port_count", "Ports of one burner", 180, hint="of one burner")]
    depth_m: Annotated[float | None, key.length("Depth, the thickness of the wall", "3 mm")] = None
    slot_length_m: Annotated[float | None, key.length("Length of a slot", "8 mm", name="length")] = None
    discharge: Annotated[
        float | None, key.quantity("coefficient", "Discharge coefficient; that of the depth without it", 0.7)
    ] = None
    temperature_K: Annotated[
        float | None,
        key.quantity("port_temperature", "Of the mixture in them; that of the air without it", "150 C"),
    ] = None
    pitch_m: Annotated[
        float | None, key.length("Middle to middle of the ports of a row", "4 mm", hint="from the drawing")
    ] = None
    rows: Annotated[int | None, key.quantity("port_rows", "Parallel rows of ports", 2)] = None
    row_pitch_m: Annotated[
        float | None, key.length("Middle to middle of two rows", "5 mm", hint="from the drawing")
    ] = None


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a burner sits: middle of the burner over the cooking surface's own axes."""

    x_m: CentreX
    y_m: CentreY
    height_m: Annotated[float | None, key.length("Height over the floor of the box", "90 mm", hint=FLOOR)] = (
        None
    )
    length_m: Annotated[float | None, key.length("From front to back before it is turned", "400 mm")] = None
    width_m: Annotated[float | None, key.length("From left to right; the throat's without it", "40 mm")] = (
        None
    )
    diameter_m: Annotated[float | None, key.length("Diameter of a round burner", "220 mm")] = None
    angle_rad: Annotated[float, key.angle("Angle, anticlockwise as seen from above")] = 0.0
    facing: Annotated[
        Facing | None,
        key.choice(FACINGS, "a facing", "Where flames or face point; as its kind does without it"),
    ] = None


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Shutter:
    """The air shutter of one burner."""

    opening: Annotated[float, key.quantity("opening", "Open fraction", "60 %")]
    full_area_m2: Annotated[
        float | None, key.quantity("shutter_area", "Area fully open", "200 mm2", name="area")
    ] = None
    loss: Annotated[
        float | None,
        key.quantity("loss", "Loss on the velocity head in the open area; the table's without it", 1.5),
    ] = None


MATERIALS: tuple[str, ...] = tuple(
    dict.fromkeys(row["name"].rpartition(", ")[0] for row in rows("burner_materials"))
)
"""What burner bodies are made of: rows of the table of burner materials."""


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """The metal of one burner: the pipe or casting that carries its ports; its mixing tube has the same wall."""

    material: Annotated[str, key.choice(MATERIALS, "a material of burners", "What head and tube are made of")]
    wall_m: Annotated[float, key.length("Thickness of its wall", "1.2 mm", "thickness")]
    diameter_m: Annotated[float, key.length("Outer width of what carries the ports", "30 mm")]
    length_m: Annotated[
        float | None,
        key.length("Length of what carries the ports; from its place without it", "400 mm"),
    ] = None
    mass_kg: Annotated[
        float | None,
        key.quantity("burner_mass", "What carries the ports, weighed; from its walls without it", "2.5 kg"),
    ] = None


def _turndown(value: Any, before: Mapping[str, Any], file: Mapping[str, Any]) -> float:
    return key_readers.turndown(value, str(file.get("basis", "")), before.get("rate"))


def _places_and_burners(values: Values) -> Values:
    places, count = values.get("place"), values.get("count", 1)
    if places is None or len(places) in (1, count):
        return values
    what = f"gives {len(places)} places for {count} burners"
    raise UserError(key_readers.about("place", what, "give one place, or one for each"))


@table(_places_and_burners, is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True)
class Burner:
    """One kind of burner, ``count`` of them; the rate is for one, on the appliance's basis."""

    name: Annotated[str, key.name("burner 1", "Name to print, one for each kind of burner")]
    kind: Annotated[BurnerKind, key.choice(tuple(BurnerKind), "a kind of burner", "Kind of burner")] = (
        BurnerKind.TUBE
    )
    count: Annotated[int, key.quantity("count", "Burners of this kind", 1)] = 1
    rate_W: Annotated[float, key.heat_input("Rated heat input of one", hint="from the rating plate")]
    # smallest over full rate [-]; after the rate, which it may be a share of
    turndown: Annotated[
        float | None,
        Key(
            help="Smallest over full rate, as a ratio, a fraction or the low rate itself",
            kind="turndown",
            example="1:3",
            accepted=key_readers.turndown_words(),
            reader_in_file=_turndown,
        ),
    ] = None
    orifice: Annotated[
        Orifice,
        key.part(
            Orifice,
            "The hole that meters its gas; without it the present orifice is not given",
            {"drill": "#54"},
            hint="the drill or bore marked on it",
            is_needed=False,
        ),
    ]
    ports: Annotated[Ports | None, key.part(Ports, "Its ports", {"diameter": "1.6 mm"})] = None
    throat_m: Annotated[float | None, key.length("Inner diameter of its mixing tube", "16 mm")] = None
    tube_loss: Annotated[
        float | None,
        key.quantity("loss", "Loss on the velocity head of the throat; the table's without it", 1.5),
    ] = None
    tube_length_m: Annotated[
        float | None,
        key.length("Length of its mixing tube; friction counts beyond six diameters", "150 mm"),
    ] = None
    places: Annotated[
        tuple[Place, ...],
        key.parts(
            Place,
            500,
            "Where it sits, one for each",
            {"x": "120 mm", "y": "0 mm"},
            name="place",
            hint="of its middle",
        ),
    ] = ()
    shutter: Annotated[Shutter | None, key.part(Shutter, "Its air shutter", {"opening": "60 %"})] = None
    body: Annotated[
        Body | None,
        key.part(
            Body,
            "Its metal, for how hot it gets; needs tube_length and throat as well",
            {"material": "steel", "wall": "1.2 mm", "diameter": "30 mm"},
        ),
    ] = None
    valve: Annotated[
        Valve | None, key.part(ValveTable, "Its own valve; the supply's without it", {"bore": "6 mm"})
    ] = None
    heat: Annotated[Heat | None, key.part(Heat, "What is known of its heat", {"radiant": "30 %"})] = None
    igniter: Annotated[str, key.name("spark", "Name of the igniter that stands at it")] = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "kind", BurnerKind(self.kind))  # a notebook may write the word

    def faces(self, place: Place) -> Facing:
        """Where its flames or its face point at a place."""
        return place.facing or self.kind.traits.faces


def _supply_pressures(values: Values) -> Values:
    low, pressure, high = (values.get(name) for name in ("pressure_low", "pressure", "pressure_high"))
    problems = []
    if low is not None and low > pressure:
        problems.append(
            key_readers.about("pressure_low", "is above pressure", "give the lowest supply pressure")
        )
    if high is not None and high < pressure:
        problems.append(
            key_readers.about("pressure_high", "is below pressure", "give the highest supply pressure")
        )
    if "altitude" in values and "barometer" in values:
        problems.append(
            key_readers.about("barometer", "cannot stand together with altitude", "give one of the two")
        )
    return key_readers.unless(problems, values)


@table(_supply_pressures, is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """The gas the appliance burns now, and how it arrives at the manifold."""

    gauge_pressure_Pa: Annotated[
        float,
        key.gauge_pressure("Gauge pressure at the manifold", name="pressure", hint="gauge, at the manifold"),
    ]
    gas: Annotated[
        Gas | DeclaredGas,
        key.gas(LIBRARY_GAS, LABEL, is_needed=False),
    ]
    low_gauge_pressure_Pa: Annotated[
        float | None, key.gauge_pressure("Lowest pressure in use", name="pressure_low")
    ] = None
    high_gauge_pressure_Pa: Annotated[
        float | None, key.gauge_pressure("Highest pressure in use", name="pressure_high")
    ] = None
    # None when a barometer reading is given instead
    altitude_m: Annotated[float | None, key.length("Altitude of the place of use", "120 m", "altitude")] = 0.0
    ambient_pressure_Pa: Annotated[
        float,
        key.quantity("barometer", "Station pressure, instead of the altitude", "98.5 kPa", name="barometer"),
    ] = 101_325.0
    gas_temperature_K: Annotated[
        float, key.quantity("gas_temperature", "Gas temperature at the orifice", "15 C")
    ] = 288.15
    allow_high_pressure: Annotated[
        bool, key.switch("Confirms a pressure outside that of low-pressure appliances")
    ] = False
    # what stands before the manifold; None: its pressure is taken as given
    train: Annotated[Train | None, key.inline(TrainTable)] = None


@table(is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True)
class NewSupply:
    """What stands before the burners once the appliance is changed to this gas at this pressure."""

    gas: Annotated[
        Gas | DeclaredGas,
        key.gas(LIBRARY_GAS, LABEL),
    ]
    gauge_pressure_Pa: Annotated[
        float,
        key.gauge_pressure("Gauge pressure at the manifold", name="pressure", hint="gauge, at the manifold"),
    ]
    train: Annotated[Train | None, key.inline(TrainTable)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """The band of the heat input around the rating."""

    low: float = field(metadata=output("band from", Kind.FRACTION))  # negative
    high: float = field(metadata=output("band to", Kind.FRACTION))
    source: str = field(metadata=output("source"))


def _policy(value: Any, _: Mapping[str, Any], file: Mapping[str, Any]) -> str:
    """A policy of the shipped table; one of the user's own is looked up later."""
    if "altitude_policies" in file.get("own_tables", ()):
        return key_readers.name(value)
    return key_readers.policy(value, file.get("region", ""))


@table(is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the user holds the result against, and the drills in the drawer."""

    tolerance: Annotated[
        Tolerance,
        Key(
            help="Band of the heat input, a fraction or a row of the table input_tolerances; the region's without it",
            kind="percentage or name",
            example="5 %",
            accepted="0.1 % to 50 %, or a row of the table input_tolerances",
            is_needed=False,
            reader=key_readers.tolerance,
            rows_of="input_tolerances.name",
        ),
    ]
    drills: Annotated[
        tuple[str, ...],
        key.text(
            ["number", "metric"],
            "Drills in stock; without it those of the region: us number, letter, fraction; eu metric, hundredth",
            ", ".join(SERIES) + " or drills such as #54",
            key_readers.drills,
            kind="words",
        ),
    ] = ()  # those of the region
    # None: none is chosen, and a bore for sea level stays one
    altitude_policy: Annotated[
        str | None,
        Key(
            help="How the rate falls with altitude, a row of the table altitude_policies",
            kind="name",
            example="4-percent-from-sea-level",
            accepted="a policy of the table altitude_policies",
            reader_in_file=_policy,
            rows_of="altitude_policies.policy",
        ),
    ] = None
    rating_share: float = 1.0  # of the file's rates that a unit built for another altitude has
    couple_factor: float = 1.0  # of the rating, what is left of it on the second gas of a pressure couple


def _market_policy(value: Any, before: Mapping[str, Any], file: Mapping[str, Any]) -> str:
    return _policy(value, before, {**file, "region": before.get("region") or file.get("region", "")})


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class MarketSupply:
    """A gas of a market and the pressure it is supplied at."""

    gas: Annotated[
        Gas | DeclaredGas,
        key.gas(LIBRARY_GAS, "as it is sold there"),
    ]
    gauge_pressure_Pa: Annotated[
        float,
        key.gauge_pressure("Gauge pressure at the manifold", name="pressure", hint="gauge, at the manifold"),
    ]


MOST_MARKETS = 40
MOST_SUPPLIES = 4


@table(is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True)
class Market:
    """Where an appliance is sold: its gas, or gases that one orifice serves, and the place of use."""

    name: Annotated[str, key.name("continental, third family", "Name to print, one for each market")]
    # us, eu, or that of the appliance
    region: Annotated[
        str,
        key.choice(REGIONS, "a region", "Region of this market; that of the appliance without it"),
    ] = ""
    language: Annotated[
        str, key.name("en", "Language of the papers of this market; that of the appliance without it")
    ] = ""
    supply: Annotated[
        tuple[MarketSupply, ...],
        key.parts(
            MarketSupply,
            MOST_SUPPLIES,
            "Its gas and pressure; of several, one orifice serves all and is sized on the first",
            {"gas": "propane", "pressure": "11 in w.c."},
            least=1,
        ),
    ]
    category: Annotated[
        str, key.name("I3+", "Gas group or appliance category, to choose the range of supply pressure")
    ] = ""
    altitude_m: Annotated[
        float | None,
        key.length("Altitude of the place of use; that of the supply without it", "1500 m", "altitude"),
    ] = None
    altitude_policy: Annotated[
        str | None,
        Key(
            help="How the rate falls with altitude there; that of the limits without it",
            kind="name",
            example="4-percent-from-sea-level",
            accepted="a policy of the table altitude_policies",
            reader_in_file=_market_policy,
            rows_of="altitude_policies.policy",
        ),
    ] = None
    gas_temperature_K: Annotated[
        float | None,
        key.quantity("gas_temperature", "Gas temperature there; that of the supply without it", "15 C"),
    ] = None
    tolerance: Tolerance  # of the file, or of the region


@table(is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTables:
    """The user's own replacements of shipped tables: CSV files of the same columns."""

    drill_tolerance: Annotated[Path | None, key.table_file("Tolerance of drilled holes")] = None
    discharge: Annotated[Path | None, key.table_file("Discharge coefficients of shapes of orifice")] = None
    altitude_policies: Annotated[Path | None, key.table_file("Falls of the rate with altitude")] = None
    input_tolerances: Annotated[Path | None, key.table_file("Bands of the heat input")] = None
    supply_pressures: Annotated[Path | None, key.table_file("Supply pressures by region and gas")] = None
    supply_limits: Annotated[Path | None, key.table_file("Limits and figures of the supply")] = None
    regulators: Annotated[Path | None, key.table_file("Typical figures of regulators")] = None
    pipes: Annotated[Path | None, key.table_file("Sizes of pipes and hoses")] = None
    fittings: Annotated[Path | None, key.table_file("Losses of fittings")] = None
    roughness: Annotated[Path | None, key.table_file("Wall roughness by material")] = None
    burner_coefficients: Annotated[Path | None, key.table_file("Coefficients of burners")] = None
    port_limits: Annotated[Path | None, key.table_file("Limits of ports")] = None
    stability_points: Annotated[Path | None, key.table_file("What your flames did, setting by setting")] = (
        None
    )
    stock: Annotated[
        Path | None, key.table_file("Orifices you have, with part numbers; before limits.drills")
    ] = None
    texts: Annotated[Path | None, key.table_file("Texts of the papers in other languages")] = None
    tile_properties: Annotated[Path | None, key.table_file("Properties of tiles")] = None
    friction_formulas: Annotated[Path | None, key.table_file("Formulas of pipe friction")] = None
    interchange: Annotated[Path | None, key.table_file("Limits of interchangeability")] = None
    instrument_uncertainty: Annotated[
        Path | None, key.table_file("Limits of error of your instruments, in every reading of a test")
    ] = None

    @property
    def of_libraries(self) -> tuple[LibraryTable, ...]:
        """Those of installed libraries, each with its source."""
        return installed_tables(getattr(self, name) for name in field_names(OwnTables))


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How one cause of spread is distributed about its nominal value.

    half_width : share of the nominal value [-], of a temperature kelvin; the standard deviation when normal
    middle : from the nominal value, of a range in which that is not central

    >>> Spread(shape="uniform", half_width=0.05, source="drawing").half_width
    0.05
    """

    shape: Annotated[
        SpreadShape, key.choice(get_args(SpreadShape), "a distribution", "Distribution of the cause")
    ] = "uniform"
    half_width: Annotated[
        float, key.quantity("half_width", "Half width; standard deviation when normal", "2 %", name="spread")
    ]
    source: Annotated[str, key.name("drawing", "Where it is from")] = "the project file"
    middle: float = 0.0


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureSpread(Spread):
    """How the gas temperature is distributed about its nominal value [K]."""

    half_width: Annotated[
        float,
        key.quantity(
            "temperature_half_width", "Half width; standard deviation when normal", "10 K", name="spread"
        ),
    ]


def _without_note(values: Values) -> Values:
    return {name: value for name, value in values.items() if name != "note"}


@table(_without_note, is_whole=False)
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Appliance(WithSummary):
    """A gas appliance: its burners, its supply and what it is held against."""

    name: Annotated[str, key.name("market cart range", "Name to print")]
    rating: Annotated[
        Basis,
        key.choice(
            get_args(Basis),
            "a rating basis: gross or net",
            "Basis of every rate in the file",
            hint="or net, as on the rating plate",
        ),
    ]
    # us, eu, or "" when the file gives none
    region: Annotated[
        str, key.choice(REGIONS, "a region", "Where it is sold: selects band, pressures, policies")
    ] = ""
    language: Annotated[
        str, key.name("en", "Language of the papers: en, or one of the translations in tables.texts")
    ] = ""
    model: Annotated[str, key.name("A1", "Model to print")] = ""
    kind: Annotated[
        str,
        key.choice(
            APPLIANCE_KINDS,
            "a kind of appliance",
            "Whose limit of carbon monoxide holds, on card, plan and bench",
            example="outdoor-cooking",
        ),
    ] = ""
    note: ClassVar[Annotated[str, key.name("first sample", "Note, not printed")]]
    supply: Supply
    burners: tuple[Burner, ...]
    limits: Limits
    tables: OwnTables = field(default_factory=OwnTables)
    spreads: Mapping[str, Spread] = field(default_factory=dict)  # own spreads by cause
    new_supply: NewSupply | None = None  # None: the present train serves the new gas, its regulator reset
    space: Space | None = None  # cooking surfaces, shields, boxes, panels
    markets: tuple[Market, ...] = ()
    file: str = ""
    file_sha256: str = ""
    # of a unit built for a market or by a plan: the appliance of the file
    as_in_file: Appliance | None = None

    @property
    def reader_language(self) -> Language:
        """The language in which its papers are read."""
        return language(self.language, self.tables.texts)

    @property
    def drills(self) -> tuple[str, ...]:
        """The drills of the file; without them the series of its region, the first four where it has none."""
        return self.limits.drills or DRILLS_OF_REGION.get(self.region, KINDS)

    @property
    def missing_orifices(self) -> tuple[str, ...]:
        """Notes on each burner whose orifice the file does not give; the one calculated for its rating stands in."""
        words = "{}: present orifice not given; {}, calculated for its rate, stands for it"
        return tuple(
            quantity_text(words, burner.name, millimetre(burner.orifice.diameter_m, ".3f"))
            for burner in self.burners
            if burner.orifice.is_calculated
        )

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
                    NOT_GIVEN
                    if b.orifice.is_calculated
                    else b.orifice.drill or figure(b.orifice.diameter_m, Kind.DIAMETER),
                )
                for b in self.burners
            ),
        )
        return Summary(
            f"{self.name}, {supply.gas.name} at {pressure}, {sum(b.count for b in self.burners)} burners",
            table,
        )
