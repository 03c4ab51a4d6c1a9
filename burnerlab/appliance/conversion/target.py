"""What an appliance is changed to, and the supply train that serves the new gas."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal, TypedDict, get_args

from burnerlab.appliance.operation.supply_pressures import PressureCouple, same_pressure
from burnerlab.appliance.project.model import Appliance, NewSupply, Supply, Tolerance
from burnerlab.appliance.project.supply_train import Train, TrainRegulator
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.gas_family import GasGroup
from burnerlab.orifice.drill import Drill
from burnerlab.quantity import PRESETS, Kind, Quantity, ReferenceState, check_low_pressure, take_SI
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.quantity_text import millibar, quantity_text
from burnerlab.supply.atmosphere import altitude_at_pressure_m, pressure_at_altitude_Pa
from burnerlab.supply.regulator import SetPoints, set_points
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

# What an appliance is to be changed to, and the site where it will stand.

TrainChoice = Literal["", "reset", "new", "none"]
DEFAULT_REFERENCE = "ISO_15_15"


def default_reference() -> ReferenceState:
    """15 C/15 C, dry, 101.325 kPa; read when first needed, so that importing stays light."""
    return PRESETS[DEFAULT_REFERENCE]


class Options(TypedDict, total=False):
    """The optional parts of a ``ConversionTarget``, as keyword arguments of ``convert``."""

    low_gauge_pressure_Pa: Quantity | None
    high_gauge_pressure_Pa: Quantity | None
    altitude_m: Quantity | None
    ambient_pressure_Pa: Quantity | None
    gas_temperature_K: Quantity | None
    category: str
    altitude_policy: str | None
    drills: tuple[str, ...] | None
    tolerance: Tolerance | None
    coefficient: Quantity | None
    reference: ReferenceState
    allow_high_pressure: bool
    train: TrainChoice
    couple: PressureCouple | None
    stock: tuple[Drill, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConversionTarget:
    """The new gas and how it arrives; what is None is taken from the appliance's file.

    gauge_pressure_Pa : nominal, at the manifold; low, high : ends of the supply [Pa]
    altitude_m : of the site [m]; ambient_pressure_Pa : its station barometer, absolute [Pa], goes before the altitude
    gas_temperature_K : at the orifice [K]; coefficient : of the new orifices [-], None keeps each burner's own
    category : gas group or appliance category, which chooses the ends of the supply pressure
    drills : names of drill lists; stock : orifices to take from in place of drills and of the file's stock
    reference : of every volume in the result; train : which train serves the new gas, see ``new_train``
    couple : a market's own pair of pressures; None is that of the category, if it has one
    Raises UserError for a text that is no such quantity; ``convert_to`` refuses what is out of range.

    >>> from burnerlab.gas import load
    >>> ConversionTarget(gas=load("propane"), gauge_pressure_Pa="11 in w.c.").gauge_pressure_Pa
    2739.978
    """

    gas: Gas | DeclaredGas
    gauge_pressure_Pa: float = field(metadata={"kind": Kind.GAUGE_PRESSURE})
    low_gauge_pressure_Pa: float | None = field(default=None, metadata={"kind": Kind.GAUGE_PRESSURE})
    high_gauge_pressure_Pa: float | None = field(default=None, metadata={"kind": Kind.GAUGE_PRESSURE})
    altitude_m: float | None = field(default=None, metadata={"kind": Kind.LENGTH})
    ambient_pressure_Pa: float | None = field(default=None, metadata={"kind": Kind.ABSOLUTE_PRESSURE})
    gas_temperature_K: float | None = field(default=None, metadata={"kind": Kind.TEMPERATURE})
    category: str = ""
    altitude_policy: str | None = None
    drills: tuple[str, ...] | None = None
    tolerance: Tolerance | None = None
    coefficient: float | None = field(default=None, metadata={"kind": Kind.FRACTION})
    reference: ReferenceState = field(default_factory=default_reference)
    allow_high_pressure: bool = False
    train: TrainChoice = ""
    couple: PressureCouple | None = None
    stock: tuple[Drill, ...] = ()

    if TYPE_CHECKING:

        def __init__(
            self,
            *,
            gas: Gas | DeclaredGas,
            gauge_pressure_Pa: Quantity,
            low_gauge_pressure_Pa: Quantity | None = ...,
            high_gauge_pressure_Pa: Quantity | None = ...,
            altitude_m: Quantity | None = ...,
            ambient_pressure_Pa: Quantity | None = ...,
            gas_temperature_K: Quantity | None = ...,
            category: str = ...,
            altitude_policy: str | None = ...,
            drills: tuple[str, ...] | None = ...,
            tolerance: Tolerance | None = ...,
            coefficient: Quantity | None = ...,
            reference: ReferenceState = ...,
            allow_high_pressure: bool = ...,
            train: TrainChoice = ...,
            couple: PressureCouple | None = ...,
            stock: tuple[Drill, ...] = ...,
        ) -> None: ...

    def __post_init__(self) -> None:
        take_SI(self)

    def check(self) -> None:
        """Refuse what is nearly always a slip of unit; every problem at once."""
        problems: list[Problem] = []
        if self.train not in get_args(TrainChoice):
            accepted = ", ".join(filter(None, get_args(TrainChoice)))
            problems.append(Problem("is no train", self.train, "train", accepted=accepted, fix="write reset"))
        for key, pressure in (
            ("pressure", self.gauge_pressure_Pa),
            ("pressure low", self.low_gauge_pressure_Pa),
            ("pressure high", self.high_gauge_pressure_Pa),
        ):
            if pressure is not None:
                try:
                    given = f"{pressure / 1e2:.5g} mbar"
                    check_low_pressure(pressure, given, key=key, allow_high=self.allow_high_pressure)
                except UserError as error:
                    problems += error.problems
        problems += input_row("altitude").problems(self.altitude_m, "altitude")
        problems += input_row("barometer").problems(self.ambient_pressure_Pa, "barometer")
        problems += input_row("gas_temperature").problems(self.gas_temperature_K, "gas temperature")
        low, high = self.low_gauge_pressure_Pa, self.high_gauge_pressure_Pa
        if (low is not None and low > self.gauge_pressure_Pa) or (
            high is not None and high < self.gauge_pressure_Pa
        ):
            fix = "give the lowest below and the highest above the nominal pressure"
            problems.append(
                Problem("does not hold the nominal pressure", key="pressure low and high", fix=fix)
            )
        if problems:
            raise UserError(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where the appliance stands: altitude when known, and the pressure and temperature that follow."""

    altitude_m: float | None
    ambient_pressure_Pa: float
    gas_temperature_K: float

    @property
    def pressure_altitude_m(self) -> float:
        """The altitude, or that of the standard atmosphere at this station pressure."""

        return (
            self.altitude_m
            if self.altitude_m is not None
            else float(altitude_at_pressure_m(self.ambient_pressure_Pa))
        )


def present_site(appliance: Appliance) -> Site:
    """Where the file says the appliance stands."""
    supply = appliance.supply
    return Site(
        altitude_m=supply.altitude_m,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )


def target_site(appliance: Appliance, target: ConversionTarget) -> Site:
    """Where the changed appliance will stand."""

    here = present_site(appliance)
    temperature = target.gas_temperature_K if target.gas_temperature_K is not None else here.gas_temperature_K
    altitude, ambient = here.altitude_m, here.ambient_pressure_Pa
    if target.ambient_pressure_Pa is not None:
        altitude, ambient = target.altitude_m, target.ambient_pressure_Pa
    elif target.altitude_m is not None:
        altitude, ambient = target.altitude_m, float(pressure_at_altitude_Pa(target.altitude_m))
    return Site(altitude_m=altitude, ambient_pressure_Pa=ambient, gas_temperature_K=temperature)


# Which train serves the new gas: the one the file describes for it, or the present one with its regulator
# reset.


@dataclass(frozen=True, slots=True, kw_only=True)
class NewTrain:
    """The train of the new gas, which one it is in words, and what taking it rests on."""

    train: Train | None  # None: the pressure at the manifold is taken as given
    words: str
    evidence: Evidence = Evidence.ENTERED
    open: str = ""  # what was assumed of its inlet, "" when nothing


def new_train(
    appliance: Appliance, target: ConversionTarget, couple: PressureCouple | None = None
) -> NewTrain:
    """The train that serves the new gas.

    ``target.train`` chooses: "new" the [new_supply] of the file, "reset" the present train with its regulator reset
    to the new pressure, "none" neither. Left "", the file's own [new_supply] counts where it is for this gas and
    pressure, or for the other gas of ``couple``, else the present train.
    Raises UserError for "new" without a [new_supply] for this gas and pressure.
    """
    present, described = appliance.supply.train, appliance.new_supply
    if target.train == "none":
        return NewTrain(train=None, words="not taken into account: nominal pressure at the manifold")
    if described is not None and target.train in ("", "new"):
        if _is_for(described, target.gas, target.gauge_pressure_Pa):
            return NewTrain(train=described.train, words="as the file describes it under [new_supply]")
        if described.train is not None and _is_of_couple(described, target, couple):
            return _of_couple(described, described.train, appliance, target)
    if target.train == "new":
        raise UserError(_no_new_supply(appliance, target))
    unused = (
        f"{_supply_mismatch(appliance, target)} and is not used; " if described and not target.train else ""
    )
    if present is None:
        return NewTrain(train=None, words=f"{unused}nominal pressure at the manifold" if unused else "")
    if _is_for(appliance.supply, target.gas, target.gauge_pressure_Pa):
        return NewTrain(train=present, words=f"{unused}as the file describes it under [supply]")
    reset = _reset(appliance.supply, present, appliance, target)
    return replace(reset, words=unused + reset.words)


def _is_for(supply: Supply | NewSupply, gas: Gas | DeclaredGas, gauge_pressure_Pa: float) -> bool:
    return supply.gas == gas and same_pressure(supply.gauge_pressure_Pa, gauge_pressure_Pa)


def _is_of_couple(described: NewSupply, target: ConversionTarget, couple: PressureCouple | None) -> bool:
    """Whether a described supply is that of the one gas of a couple, and the target the other gas."""
    if couple is None:
        return False
    reference, other = couple.reference, couple.other
    return any(
        row.reference_gas == described.gas.name
        and row.is_nominal(described.gauge_pressure_Pa)
        and beside.reference_gas == target.gas.name
        and beside.is_nominal(target.gauge_pressure_Pa)
        for row, beside in ((reference, other), (other, reference))
    )


def _of_couple(
    described: NewSupply, train: Train, appliance: Appliance, target: ConversionTarget
) -> NewTrain:
    """The described train on the other gas of its couple: as it is at one pressure, else with its regulator reset."""
    own = _gas_at(described.gas.name, described.gauge_pressure_Pa)
    if same_pressure(described.gauge_pressure_Pa, target.gauge_pressure_Pa):
        return NewTrain(
            train=train,
            words=f"as the file describes it under [new_supply] for {own}, a gas of the same couple",
        )
    reset = _reset(described, train, appliance, target)
    return replace(
        reset, words=f"[new_supply] of the file is for {own}, a gas of the same couple: {reset.words}"
    )


def _reset(
    supply: Supply | NewSupply, present: Train, appliance: Appliance, target: ConversionTarget
) -> NewTrain:
    """The train of a supply with the regulator's spring, and the inlet, in proportion to the nominal pressure.

    No train where the regulator would be set beyond what regulators of its kind are made for.
    """
    old_Pa, new_Pa = supply.gauge_pressure_Pa, target.gauge_pressure_Pa
    if present.regulator is not None:
        set_point_range = set_points(present.regulator.type, appliance.tables.regulators)
        if (
            not set_point_range.low_Pa
            <= present.regulator.set_point_Pa * new_Pa / old_Pa
            <= set_point_range.high_Pa
        ):
            return _beyond(present.regulator, set_point_range, new_Pa)
    kept = [run.kind for run in present.runs]
    kept += ["manifold"] if present.manifold is not None else []
    kept += ["valves"] if present.valve is not None else []
    own, regulator = _listed(kept or ["supply"]), present.regulator is not None
    fit, keeps_pressure = "", same_pressure(old_Pa, new_Pa)
    if keeps_pressure and GasGroup.of(supply.gas) is GasGroup.of(target.gas):
        regulator = False  # none is reset or fitted for it
    if regulator:
        fitted = (
            f"a regulator made for {_new_supply_words(supply, target)} has to be fitted by a qualified person"
        )
        fit = "; " + fitted
    inlet = present.inlet_gauge_pressure_Pa
    if inlet is None or keeps_pressure:
        words = (
            quantity_text(
                "calculated as if the file's own {} served it, its regulator reset to {}",
                own,
                millibar(new_Pa, ".1f"),
            )
            if regulator
            else quantity_text("calculated as if the file's own {} served it", own)
        )
        return NewTrain(
            train=present, words=words + fit, evidence=Evidence.ESTIMATE if regulator else Evidence.ENTERED
        )
    return _with_inlet_in_proportion(
        present, own, inlet * new_Pa / old_Pa, new_Pa if regulator else None, fit
    )


def _with_inlet_in_proportion(
    present: Train, own: str, inlet_Pa: float, set_Pa: float | None, fit: str
) -> NewTrain:
    """The present train behind an inlet that no file gives; set_Pa : of its regulator, None where it has none."""
    why = quantity_text(
        "the file's inlet of {} is that of another supply; for the new one it is taken in proportion to the nominal"
        " pressure, {}",
        millibar(present.inlet_gauge_pressure_Pa or 0.0, ".3g"),
        millibar(inlet_Pa, ".3g"),
    )
    shown = millibar(inlet_Pa, ".1f")
    words = (
        quantity_text("calculated as if the file's own {} served it, inlet {} in proportion", own, shown)
        if set_Pa is None
        else quantity_text(
            "calculated as if the file's own {} served it, its regulator reset to {}, inlet {} in proportion",
            own,
            millibar(set_Pa, ".1f"),
            shown,
        )
    )
    return NewTrain(
        train=replace(present, inlet_gauge_pressure_Pa=inlet_Pa),
        words=words + fit,
        evidence=Evidence.ESTIMATE,
        open=why,
    )


def _new_supply_words(supply: Supply | NewSupply, target: ConversionTarget) -> str:
    is_same = target.gas == supply.gas
    return f"{target.gauge_pressure_Pa / 100:.1f} mbar" if is_same else target.gas.name


def _beyond(regulator: TrainRegulator, set_points: SetPoints, new_Pa: float) -> NewTrain:
    """Nothing is reset: the supply of the new gas stays open."""
    kind = f" ({regulator.type})" if regulator.type else ""
    words = (
        f"not evaluated: the file's regulator{kind} cannot be set to {new_Pa / 100:.1f} mbar;"
        f" {set_points.words}: {set_points.low_Pa / 100:.1f} to {set_points.high_Pa / 100:.1f} mbar;"
        " describe the new supply under [new_supply]; nominal pressure at the manifold"
    )
    return NewTrain(train=None, words=words, open=f"{words}; {set_points.source}")


def _listed(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def _no_new_supply(appliance: Appliance, target: ConversionTarget) -> Problem:
    described = appliance.new_supply
    fix = 'add [new_supply] with gas, pressure, inlet, regulator and hose, or write --train "reset"'
    if described is None:
        return Problem("the file has no [new_supply]", value="new", key="train", file=appliance.file, fix=fix)
    return Problem(
        _supply_mismatch(appliance, target), value="new", key="train", file=appliance.file, fix=fix
    )


def _supply_mismatch(appliance: Appliance, target: ConversionTarget) -> str:
    """For what gas and pressure the [new_supply] of the file is, and for what it is not."""
    described = appliance.new_supply
    assert described is not None
    own = _gas_at(described.gas.name, described.gauge_pressure_Pa)
    new = _gas_at(target.gas.name, target.gauge_pressure_Pa)
    return f"[new_supply] of the file is for {own}, not for {new}"


def _gas_at(gas: str, gauge_pressure_Pa: float) -> str:
    return f"{gas} at {gauge_pressure_Pa / 1e2:.5g} mbar"
