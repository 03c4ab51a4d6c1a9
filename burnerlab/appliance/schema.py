"""The words of the project file: which tables and keys it may hold, and how each value is read.

The files of the schema and ``read.py`` alone know pydantic; they are imported when a file is read.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationInfo, model_validator

from burnerlab.appliance import door
from burnerlab.appliance.burner_kind import BurnerKind
from burnerlab.appliance.model import REGIONS
from burnerlab.appliance.schema_parts import (
    GaugePressure,
    Name,
    Position,
    Switch,
    Table,
    basis_of,
    heat_input,
    read_by,
    size,
)
from burnerlab.appliance.space_schema import (
    BoxText,
    BridgeText,
    FacingWord,
    GrateText,
    HeatText,
    PanelText,
    ShieldText,
    StudyText,
)
from burnerlab.appliance.train_schema import InletPressure, ManifoldText, RegulatorText, RunText, ValveText
from burnerlab.orifice.coefficient import DEFAULT_SHAPE
from burnerlab.quantity import Kind, UserError
from burnerlab.quantity.inputs import complaint, text_with_unit


def _turndown(value: Any, info: ValidationInfo) -> float:
    return door.turndown(value, basis_of(info), info.data.get("rate"))


def _own_table(info: ValidationInfo, name: str) -> bool:
    """Whether the file names a table of its own, which only ``build.py`` can look into."""
    return name in (info.context or {}).get("own_tables", ())


def _shape(value: Any, info: ValidationInfo) -> str:
    return door.name(value) if _own_table(info, "discharge") else door.shape(value)


def _tolerance(value: Any, info: ValidationInfo) -> str:
    return door.tolerance(value, known=not _own_table(info, "input_tolerances"))


def _policy(value: Any, info: ValidationInfo) -> str:
    region = (info.context or {}).get("region", "")
    return door.name(value) if _own_table(info, "altitude_policies") else door.policy(value, region)


def _integer(range_name: str) -> BeforeValidator:
    return read_by(door.number(range_name, whole=True))


Rating = Annotated[str, read_by(door.choice(("gross", "net"), "a rating basis: gross or net"))]
RegionWord = Annotated[str, read_by(door.choice(REGIONS, "a region: us or eu"))]
BurnerWord = Annotated[str, read_by(door.choice(tuple(BurnerKind), "a kind of burner"))]
SpreadWord = Annotated[str, read_by(door.choice(("uniform", "normal", "triangular"), "a distribution"))]
Size = Annotated[float, size("16 mm")]
TableFile = Annotated[str, read_by(door.file_name)]


class ApplianceText(Table):
    """[appliance]"""

    name: Name
    rating: Rating
    region: RegionWord | None = None
    model: Name | None = None
    note: Name | None = None


class SupplyText(Table):
    """[supply]"""

    pressure: GaugePressure
    gas: Annotated[Any, read_by(door.library_gas)] = None
    pressure_low: GaugePressure | None = None
    pressure_high: GaugePressure | None = None
    altitude: Annotated[float, size("120 m", "altitude")] | None = None
    barometer: (
        Annotated[float, read_by(door.quantity(Kind.ABSOLUTE_PRESSURE, "98.5 kPa", "barometer"))] | None
    ) = None
    gas_temperature: Annotated[float, read_by(door.quantity(Kind.TEMPERATURE, "15 C", "gas_temperature"))] = (
        288.15
    )
    allow_high_pressure: Switch = False
    inlet: InletPressure | None = None
    regulator: RegulatorText | None = None
    hose: RunText | None = None
    pipe: RunText | None = None
    manifold: ManifoldText | None = None
    valve: ValveText | None = None

    @model_validator(mode="after")
    def _agrees(self) -> SupplyText:
        problems = []
        if self.pressure_low is not None and self.pressure_low > self.pressure:
            problems.append(
                door.about("pressure_low", "is above pressure", "give the lowest supply pressure")
            )
        if self.pressure_high is not None and self.pressure_high < self.pressure:
            problems.append(
                door.about("pressure_high", "is below pressure", "give the highest supply pressure")
            )
        if self.altitude is not None and self.barometer is not None:
            problems.append(door.about("barometer", "is given beside altitude", "give one of the two"))
        return door.unless(problems, self)


class NewSupplyText(Table):
    """[new_supply]: what stands before the burners on the gas the appliance is changed to."""

    gas: Annotated[Any, read_by(door.library_gas)]
    pressure: GaugePressure
    inlet: InletPressure | None = None
    regulator: RegulatorText | None = None
    hose: RunText | None = None
    pipe: RunText | None = None
    manifold: ManifoldText | None = None
    valve: ValveText | None = None


class LimitsText(Table):
    """[limits]"""

    tolerance: Annotated[str, BeforeValidator(_tolerance)] | None = None
    drills: Annotated[tuple[str, ...], read_by(door.drills)] | None = None
    altitude_policy: Annotated[str, BeforeValidator(_policy)] | None = None


class TablesText(Table):
    """[tables], the user's own replacements: CSV files in the folder of the project file."""

    drill_tolerance: TableFile | None = None
    discharge: TableFile | None = None
    altitude_policies: TableFile | None = None
    input_tolerances: TableFile | None = None
    supply_pressures: TableFile | None = None
    supply_limits: TableFile | None = None
    regulators: TableFile | None = None
    pipes: TableFile | None = None
    fittings: TableFile | None = None
    roughness: TableFile | None = None
    burner_coefficients: TableFile | None = None
    port_limits: TableFile | None = None
    tile_properties: TableFile | None = None
    friction_formulas: TableFile | None = None
    interchange: TableFile | None = None


class SpreadText(Table):
    """One cause under [tolerance]."""

    shape: SpreadWord = "uniform"
    spread: Annotated[str, read_by(lambda value: text_with_unit(value, "a spread", "2 %"))]
    source: Name | None = None


class ToleranceText(Table):
    """[tolerance], how the causes of spread are distributed."""

    drill: SpreadText | None = None
    setting: SpreadText | None = None
    pressure: SpreadText | None = None
    coefficient: SpreadText | None = None
    wobbe: SpreadText | None = None
    temperature: SpreadText | None = None


class OrificeText(Table):
    """orifice = { ... } of a burner."""

    drill: Annotated[Any, read_by(door.drill)] | None = None
    diameter: Annotated[float, read_by(door.diameter)] | None = None
    shape: Annotated[str, BeforeValidator(_shape)] = DEFAULT_SHAPE
    coefficient: Annotated[float, read_by(door.number("coefficient"))] | None = None
    count: Annotated[int, _integer("orifice_count")] = 1
    length: Size | None = None

    @model_validator(mode="after")
    def _one_hole(self) -> OrificeText:
        if (self.drill is None) != (self.diameter is None):
            return self
        if self.drill is None:
            accepted = 'drill = "#54", or diameter = "1.40 mm"'
            fix = 'add drill = "#54", with the drill marked on it'
            raise complaint("needs a drill or a diameter", accepted=accepted, fix=fix)
        raise UserError(
            door.about("diameter", "both a drill and a diameter are given", "leave one of the two out")
        )


class PortsText(Table):
    """ports = { ... } of a burner: round, or slots of a width and a length."""

    diameter: Size | None = None
    width: Size | None = None
    count: Annotated[int, _integer("port_count")]
    depth: Size | None = None
    length: Size | None = None
    discharge: Annotated[float, read_by(door.number("coefficient"))] | None = None
    temperature: (
        Annotated[float, read_by(door.quantity(Kind.TEMPERATURE, "150 C", "port_temperature"))] | None
    ) = None

    @model_validator(mode="after")
    def _one_form(self) -> PortsText:
        given = (self.diameter is not None, self.width is not None, self.length is not None)
        if given in ((True, False, False), (False, True, True)):
            return self
        raise complaint(
            "are either round or slots",
            accepted='diameter = "1.6 mm", or width = "0.6 mm" with length = "8 mm"',
            fix="give a diameter, or a width with a length",
        )


class PlaceText(Table):
    """place = { ... } of a burner, or a list of them, one for each."""

    x: Position
    y: Position
    height: Size | None = None
    length: Size | None = None
    width: Size | None = None
    diameter: Size | None = None
    angle: Annotated[float, read_by(door.quantity(Kind.ANGLE, "90 deg"))] = 0.0
    facing: FacingWord | None = None


class ShutterText(Table):
    """shutter = { ... } of a burner."""

    opening: Annotated[float, read_by(door.quantity(Kind.FRACTION, "50 %", "opening"))]
    area: Annotated[float, read_by(door.quantity(Kind.AREA, "200 mm2", "shutter_area"))] | None = None
    loss: Annotated[float, read_by(door.number("loss"))] | None = None


class BurnerText(Table):
    """[[burner]]"""

    name: Name
    kind: BurnerWord = BurnerKind.TUBE
    count: Annotated[int, _integer("count")] = 1
    rate: Annotated[float, heat_input()]
    turndown: Annotated[float, BeforeValidator(_turndown)] | None = (
        None  # after rate, which it may be a share of
    )
    orifice: OrificeText
    ports: PortsText | None = None
    throat: Size | None = None
    tube_loss: Annotated[float, read_by(door.number("loss"))] | None = None
    place: Annotated[list[PlaceText], read_by(door.one_or_many)] | None = None
    shutter: ShutterText | None = None
    valve: ValveText | None = None
    heat: HeatText | None = None
    igniter: Name | None = None

    @model_validator(mode="after")
    def _places(self) -> BurnerText:
        if self.place is None or len(self.place) in (1, self.count):
            return self
        what = f"gives {len(self.place)} places for {self.count} burners"
        raise UserError(door.about("place", what, "give one place, or one for each"))


class ProjectText(Table):
    """A whole project file."""

    appliance: ApplianceText
    supply: SupplyText
    new_supply: NewSupplyText | None = None
    gas: Annotated[Any, read_by(door.own_gas)] = None
    limits: LimitsText = LimitsText()
    tables: TablesText = TablesText()
    tolerance: ToleranceText = ToleranceText()
    grate: Annotated[list[GrateText], read_by(door.one_or_many), Field(max_length=20)] | None = None
    shield: Annotated[list[ShieldText], read_by(door.one_or_many), Field(max_length=100)] | None = None
    box: Annotated[list[BoxText], read_by(door.one_or_many), Field(max_length=20)] | None = None
    panel: Annotated[list[PanelText], read_by(door.one_or_many), Field(max_length=50)] | None = None
    carry_over: Annotated[list[BridgeText], read_by(door.one_or_many), Field(max_length=200)] | None = None
    optimise: StudyText | None = None
    burner: Annotated[list[BurnerText], Field(min_length=1, max_length=200)]
