"""What the user asked for, read from the options that several commands share.

Each ``...Asked`` holds option texts as given; its ``read`` turns them into SI floats and the things of the rooms, or
raises a ``UserError`` that names the option. ``together`` reads several and reports the problems of all at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from burnerlab.cli.inputs import SURROUNDINGS, above_outlet, gas_group, read_own_table
from burnerlab.cli.takes import option_of
from burnerlab.quantity import inputs
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.gas import DeclaredGas, Gas

together = inputs.together
LEAST_CHANGE = 0.005  # of a heat input by altitude, below which it is not worth a word


@dataclass(frozen=True, slots=True, kw_only=True)
class GasAsked:
    """A gas by name, by file, by composition, or by what a bill or a rating plate declares."""

    option: str  # how the command calls its gas: "--gas", "--to", "NAME"
    name: str | None = None
    mix: str | None = None
    per: str | None = None
    normalize: bool = False
    heating_value: str | None = None
    net_heating_value: str | None = None
    relative_density: str | None = None
    family: str | None = None

    @property
    def is_given(self) -> bool:
        """Whether any option names a gas."""
        return any(
            way is not None for way in (self.name, self.mix, self.heating_value, self.relative_density)
        )

    def read(self) -> Gas | DeclaredGas:
        texts = {
            "gas": self.name,
            "mix": self.mix,
            "per": self.per,
            "normalize": self.normalize or None,
            "heating_value": self.heating_value,
            "net_heating_value": self.net_heating_value,
            "relative_density": self.relative_density,
            "family": self.family,
        }
        made: Gas | DeclaredGas = gas_group(self.option).read(_written(texts), option_of)
        return made


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondAsked:
    """The pressure of a second gas, which is asked for with it or not at all."""

    pressure: str | None

    def read(self, gas: GasAsked) -> tuple[Gas | DeclaredGas, float] | None:
        """The second gas and its gauge pressure [Pa]; None when neither is given."""
        if not gas.is_given and self.pressure is None:
            return None
        if self.pressure is None or not gas.is_given:
            what = "the pressure of the second gas is missing" if gas.is_given else "needs --to beside it"
            raise UserError(Problem(what, key="--pressure", fix='e.g. --to propane --pressure "11 inH2O"'))
        pressure = self.pressure
        new, gauge_Pa = together(gas.read, lambda: gauge_pressure_Pa(pressure, "--pressure"))
        return new, gauge_Pa


def gas_notes(gas: Any) -> tuple[str, ...]:
    """What must be said of a gas beside any figure of it."""
    from burnerlab.gas import DeclaredGas

    if isinstance(gas, DeclaredGas) and gas.net_is_estimate():
        return (f"net values are estimates: {gas.net_to_gross():.3f} of gross, typical of {gas.family}",)
    return ()


ASK = "check the unit"


def pressure_notes(gauge_pressure_Pa: float, text: str) -> tuple[str, ...]:
    """A note when a gauge pressure is not one of a low-pressure appliance; else nothing.

    gauge_pressure_Pa : pressure before the orifice [Pa]
    text : the same as the user wrote it

    >>> pressure_notes(75842.0, "11 psi")[0]
    '11 psi (75.8 kPa) is outside 0.5 to 15 kPa for a domestic low-pressure appliance: check the unit'
    """
    from burnerlab.quantity import check_low_pressure

    return _doubt(lambda: check_low_pressure(gauge_pressure_Pa, text))


def bore_notes(diameter_m: float, text: str) -> tuple[str, ...]:
    """A note when a diameter is not one of a domestic burner's orifice; else nothing.

    diameter_m : of the hole [m]
    text : the same as the user wrote it

    >>> bore_notes(0.0254, "1 in")[0]
    '25.40 mm is outside 0.2 to 6 mm for an orifice of a domestic burner: check the unit'
    """
    from burnerlab.quantity import check_orifice_diameter

    return _doubt(lambda: check_orifice_diameter(diameter_m, text))


def _doubt(check: Callable[[], object]) -> tuple[str, ...]:
    try:
        check()
    except UserError as error:
        return tuple(f"{problem.what}: {ASK}" for problem in error.problems)
    return ()


def gauge_pressure_Pa(text: str, key: str = "--pressure") -> float:
    """A gauge pressure that something can flow at."""
    return above_outlet(text, key)


def ambient_pressure_Pa(altitude: str | None, barometer: str | None) -> float:
    """Pressure of the surroundings from an altitude or a station barometer; sea level when neither is given."""
    texts = _written({"altitude": altitude, "barometer": barometer})
    return float(SURROUNDINGS.read(texts, option_of))


def _written(texts: dict[str, Any]) -> dict[str, Any]:
    return {name: text for name, text in texts.items() if text is not None}


def altitude_of(ambient_Pa: float) -> float | None:
    """The altitude of a station pressure; None where it changes no heat input by more than half a percent."""
    from burnerlab.quantity.reference import STANDARD_PRESSURE_PA
    from burnerlab.supply.atmosphere import altitude_at_pressure_m

    if abs(ambient_Pa / STANDARD_PRESSURE_PA - 1.0) < 2.0 * LEAST_CHANGE:  # the flow goes with the root
        return None
    return float(altitude_at_pressure_m(ambient_Pa))


def own_file(text: str | None, key: str) -> Path | None:
    """A table of the user's own, None where none is given.

    Raises UserError where it is no regular file.
    """
    return None if text is None else read_own_table(text, key)
