"""What an appliance is to be changed to, and the site where it will stand."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TypedDict, get_args

from burnerlab.appliance.model import Appliance, Tolerance
from burnerlab.quantity import PRESETS, Kind, Quantity, ReferenceState, check_low_pressure, take_SI
from burnerlab.quantity.inputs import input_row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.gas import DeclaredGas, Gas

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


@dataclass(frozen=True, slots=True, kw_only=True)
class ConversionTarget:
    """The new gas and how it arrives; what is None is taken from the appliance's file.

    >>> from burnerlab.gas import load
    >>> ConversionTarget(gas=load("propane"), gauge_pressure_Pa="11 in w.c.").gauge_pressure_Pa
    2739.978
    """

    gas: Gas | DeclaredGas
    gauge_pressure_Pa: float = field(metadata={"kind": Kind.GAUGE_PRESSURE})
    low_gauge_pressure_Pa: float | None = field(default=None, metadata={"kind": Kind.GAUGE_PRESSURE})
    high_gauge_pressure_Pa: float | None = field(default=None, metadata={"kind": Kind.GAUGE_PRESSURE})
    altitude_m: float | None = field(default=None, metadata={"kind": Kind.LENGTH})
    ambient_pressure_Pa: float | None = field(
        default=None, metadata={"kind": Kind.ABSOLUTE_PRESSURE}
    )  # a station barometer; goes before the altitude
    gas_temperature_K: float | None = field(default=None, metadata={"kind": Kind.TEMPERATURE})
    category: str = ""  # gas group or appliance category, to choose the range of supply pressure
    altitude_policy: str | None = None
    drills: tuple[str, ...] | None = None
    tolerance: Tolerance | None = None
    # of the new orifices; None keeps each burner's own
    coefficient: float | None = field(default=None, metadata={"kind": Kind.FRACTION})
    reference: ReferenceState = field(default_factory=default_reference)  # of every volume in the result
    allow_high_pressure: bool = False
    train: TrainChoice = ""  # which train serves the new gas, see ``new_train``

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
                    given = f"{pressure / 1e3:.4g} kPa"
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
        from burnerlab.supply.atmosphere import altitude_at_pressure_m

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
    from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

    here = present_site(appliance)
    temperature = target.gas_temperature_K if target.gas_temperature_K is not None else here.gas_temperature_K
    altitude, ambient = here.altitude_m, here.ambient_pressure_Pa
    if target.ambient_pressure_Pa is not None:
        altitude, ambient = target.altitude_m, target.ambient_pressure_Pa
    elif target.altitude_m is not None:
        altitude, ambient = target.altitude_m, float(pressure_at_altitude_Pa(target.altitude_m))
    return Site(altitude_m=altitude, ambient_pressure_Pa=ambient, gas_temperature_K=temperature)
