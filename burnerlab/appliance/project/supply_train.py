"""What stands between the source of the gas and the burners: regulator, hose, pipe, manifold, valves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal, get_args

from burnerlab.appliance.project import key_readers
from burnerlab.appliance.project import keys as key
from burnerlab.appliance.project.keys import Values, table
from burnerlab.quantity import Kind, UserError
from burnerlab.quantity.inputs import complaint, input_row, words_of
from burnerlab.quantity.read import read
from burnerlab.supply.pipe import Pipe
from burnerlab.supply.regulator import Valve
from burnerlab.tables.figure import Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A hose or a pipe, with the spread of what is known of it least."""

    kind: str  # hose or pipe
    pipe: Pipe
    size: str = ""  # as bought, "" for a bare bore
    assumed: tuple[str, ...] = ()  # figures taken from tables: roughness, fittings
    evidence: Evidence = Evidence.ENTERED  # the weakest of its figures


@dataclass(frozen=True, slots=True, kw_only=True)
class RegulatorSpread:
    """What regulators of a kind do at most and at least, where the file does not say; pressures at the set point."""

    droop_low_Pa: float
    droop_high_Pa: float
    lock_up_low_Pa: float
    lock_up_high_Pa: float
    inlet_effect_low: float
    inlet_effect_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainRegulator:
    """The regulator of a project file; pressures are gauge, flows of the gas the file names."""

    set_point_Pa: float
    droop_Pa: float = 0.0
    lock_up_Pa: float = 0.0
    rated_flow_kg_per_s: float | None = None  # at which the droop is stated
    flow_limit_kg_per_s: float | None = None
    minimum_inlet_Pa: float | None = None
    minimum_inlet_source: str = ""  # where it is from; "" the file
    last: bool = False  # after hose and pipe, at the appliance; else before them
    type: str = ""  # a kind of the table regulators
    assumed: tuple[str, ...] = ()  # figures taken from that table
    unknown: tuple[str, ...] = ()  # figures neither given nor typical

    minimum_inlet_evidence: Evidence = Evidence.ENTERED
    lock_up_zone: float = 0.0  # share of the rated flow below which the outlet rises to lock-up [-]
    inlet_effect: float = 0.0  # change of the outlet per change of the inlet [-]
    inlet_effect_source: str = ""  # where it is from; "" the file, or nothing known of it
    stated_inlet_Pa: float | None = None  # inlet its figures are stated at; None: the inlet of the supply
    is_adjustable: bool = False  # one spring for all settings
    spread: RegulatorSpread | None = None  # None: the file gives droop, lock-up and inlet effect

    @property
    def evidence(self) -> Evidence:
        """Entered only where the file gives every figure: a typical regulator, or one half known, is an estimate."""
        return Evidence.ESTIMATE if self.assumed or self.unknown else Evidence.ENTERED


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifold:
    """The pipe that the burners branch off, in the order of the file."""

    diameter_m: float
    roughness_m: float
    spacings_m: tuple[float, ...]  # before each burner; the first from the manifold's inlet
    assumed: tuple[str, ...] = ()
    evidence: Evidence = Evidence.ENTERED


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """Everything before the orifices; the figures hold for the nominal pressure and gas density of the file."""

    nominal_gauge_pressure_Pa: float
    gas_density_kg_per_m3: float  # of the file's gas at the nominal pressure
    inlet_gauge_pressure_Pa: float | None = None  # at the cylinder outlet or the meter
    regulator: TrainRegulator | None = None
    runs: tuple[Run, ...] = ()
    manifold: Manifold | None = None
    valve: Valve | None = None  # at every burner that has none of its own


# What the file says of a train, before sizes, fittings and typical regulators are looked up and heat is made flow.

MOST_FITTINGS = 50
BORE_WORDS = 'size = "1/2 in schedule 40", or bore = "12 mm"'
RegulatorPosition = Literal["first", "last"]


@dataclass(frozen=True, slots=True)
class OfSetPoint:
    """A share of the set point of a regulator [-]."""

    share: float


def _pressure_change(value: Any) -> float | OfSetPoint:
    """A change of the outlet as a pressure, or as a percentage of the set point."""
    if isinstance(value, str) and value.strip().endswith("%"):
        return OfSetPoint(float(input_row("share").read(value)))
    return key_readers.quantity("regulator_change", "0.5 in w.c.")(value)


@dataclass(frozen=True, slots=True)
class MassFlow:
    """A flow as a regulator for LPG is marked with it."""

    kg_per_s: float


def _flow(value: Any, basis: str) -> float | MassFlow:
    """A flow as a heat input [W] on the basis of the file, or as a mass flow."""
    try:
        read(value, Kind.MASS_FLOW)
    except UserError:  # no mass flow
        return key_readers.rate(value, basis, "regulator_flow")
    return MassFlow(float(input_row("regulator_mass_flow").read(value)))


def _fittings(value: Any) -> dict[str, int]:
    """Fittings by name and how many of each; the names are looked up when the train is built."""
    if not isinstance(value, Mapping):
        what = f"must be a table of fittings, got {words_of(value)}"
        raise complaint(what, accepted="{ elbow = 2 }", fix="write { elbow = 2 }")
    if len(value) > MOST_FITTINGS:
        raise complaint("holds too many fittings", accepted=f"{MOST_FITTINGS}", fix="shorten the table")
    count = input_row("fittings").number
    return {key_readers.name(name): int(count(number)) for name, number in value.items()}


def _spacings(value: Any) -> tuple[float, ...]:
    """One distance for every burner, or a list with one for each."""
    distance = key_readers.quantity("tap_spacing", "140 mm")
    return tuple(distance(one) for one in value) if isinstance(value, list) else (distance(value),)


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class RegulatorTable:
    """[supply.regulator]"""

    type: Annotated[
        str | None,
        key.name(
            "lp single stage",
            "A kind of the table regulators, for what is not given",
            rows_of="regulators.regulator",
        ),
    ] = None
    set_Pa: Annotated[float | None, key.gauge_pressure("Set point; the supply pressure without it")] = None
    droop: Annotated[
        float | OfSetPoint | None,
        key.quantity(
            "regulator_change",
            "Fall from no flow to rated flow",
            "0.5 in w.c.",
            reader=_pressure_change,
            or_percent=True,
        ),
    ] = None
    lock_up: Annotated[
        float | OfSetPoint | None,
        key.quantity(
            "regulator_change",
            "Rise over the set point at no flow",
            "0.5 in w.c.",
            reader=_pressure_change,
            or_percent=True,
        ),
    ] = None
    rated: Annotated[
        float | MassFlow | None,
        key.regulator_flow("Flow the droop is stated at, also in kg/h; all burners' without it", _flow),
    ] = None
    limit: Annotated[float | MassFlow | None, key.regulator_flow("Largest flow, also in kg/h", _flow)] = None
    minimum_inlet_Pa: Annotated[
        float | None, key.quantity("train_inlet", "Least inlet pressure; its kind's without it", "10 psi")
    ] = None
    inlet_effect: Annotated[
        float | None,
        key.quantity(
            "inlet_effect", "Change of the outlet per change of the inlet; its kind's without it", 0.005
        ),
    ] = None
    stated_inlet_Pa: Annotated[
        float | None,
        key.quantity(
            "train_inlet", "Inlet at which its figures are stated; that of the supply without it", "10 psi"
        ),
    ] = None
    position: Annotated[
        RegulatorPosition,
        key.choice(
            get_args(RegulatorPosition),
            "a position of the regulator: first or last",
            "Before hose and pipe, or after them at the appliance",
        ),
    ] = "first"


def _size_or_bore(values: Values) -> Values:
    if "size" not in values and "bore" not in values:
        fix = 'add bore = "12 mm", the inner diameter'
        raise complaint("needs a size or a bore", accepted=BORE_WORDS, fix=fix)
    if "size" in values and "bore" in values:
        raise UserError(
            key_readers.about("bore", "cannot stand together with a size", "leave one of the two out")
        )
    return values


@dataclass(frozen=True, slots=True, kw_only=True)
class _BoreTable:
    """A bore by the size it is bought under, or as measured."""

    size: Annotated[
        str | None,
        key.name("1/2 in schedule 40", "Size it is bought under, of the table pipes", rows_of="pipes.name"),
    ] = None
    bore_m: Annotated[
        float | None, key.length("Inner diameter, where no size is given", "12 mm", "train_bore")
    ] = None
    material: Annotated[
        str | None,
        key.name(
            "steel", "Wall, of the table roughness; the size's without it", rows_of="roughness.material"
        ),
    ] = None
    roughness_m: Annotated[
        float | None,
        key.length("Height of wall roughness; the material's without it", "0.046 mm", "roughness"),
    ] = None


@table(_size_or_bore)
@dataclass(frozen=True, slots=True, kw_only=True)
class RunTable(_BoreTable):
    """[supply.hose] and [supply.pipe]"""

    length_m: Annotated[float, key.length("Its length", "1.2 m", "train_length")]
    fittings: Annotated[
        Mapping[str, int],
        key.text({"elbow": 2}, "Fittings of the table fittings, and how many", "1 to 200 of each", _fittings),
    ] = field(default_factory=dict)


@table(_size_or_bore)
@dataclass(frozen=True, slots=True, kw_only=True)
class ManifoldTable(_BoreTable):
    """[supply.manifold]"""

    spacings_m: Annotated[
        tuple[float, ...],
        key.length(
            "Distance before each burner: one for all, or a list",
            "140 mm",
            "tap_spacing",
            name="spacing",
            hint="from burner to burner",
            reader=_spacings,
            form="text or texts",
        ),
    ]


def _opening(values: Values) -> Values:
    ways = [name for name in ("bore", "Kv", "Cv") if name in values]
    if not ways:
        fix = 'add bore = "5 mm", the narrowest'
        raise complaint("needs bore, Kv or Cv", accepted='bore = "5 mm", Kv = 0.4 or Cv = 0.5', fix=fix)
    beside = [
        key_readers.about(one, f"cannot stand together with {ways[0]}", "give one of them")
        for one in ways[1:]
    ]
    if "coefficient" in values and "bore" not in values:
        fix = "give the bore, or leave it out"
        beside.append(key_readers.about("coefficient", "has a meaning with a bore only", fix))
    return key_readers.unless(beside, values)


@table(_opening)
@dataclass(frozen=True, slots=True, kw_only=True)
class ValveTable:
    """[supply.valve], or valve = { ... } of a burner."""

    bore_m: Annotated[float | None, key.length("Narrowest bore", "6 mm", "train_bore")] = None
    coefficient: Annotated[
        float | None,
        key.quantity("coefficient", "Discharge coefficient of the bore; the table's without it", 0.8),
    ] = None
    Kv: Annotated[float | None, key.quantity("flow_coefficient", "Water flow at 1 bar [m3/h]", 0.4)] = None
    Cv: Annotated[float | None, key.quantity("flow_coefficient", "Water flow at 1 psi [US gal/min]", 0.5)] = (
        None
    )


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class TrainTable:
    """Keys of [supply] and [new_supply] for what stands before the burners."""

    inlet_Pa: Annotated[
        float | None, key.quantity("train_inlet", "At the meter or cylinder outlet, gauge", "10 psi")
    ] = None
    regulator: Annotated[RegulatorTable | None, key.part(RegulatorTable, "The regulator")] = None
    hose: Annotated[RunTable | None, key.part(RunTable, "The hose", {"bore": "12 mm"})] = None
    pipe: Annotated[RunTable | None, key.part(RunTable, "The pipe", {"bore": "20 mm"})] = None
    manifold: Annotated[
        ManifoldTable | None, key.part(ManifoldTable, "The pipe that burners branch off", {"bore": "20 mm"})
    ] = None
    valve: Annotated[
        ValveTable | None, key.part(ValveTable, "At every burner without one of its own", {"bore": "6 mm"})
    ] = None
