"""Options that ``clock`` and ``weigh`` share: the unit's project file, what its gas is worth, its rating."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.asked import GasAsked, gauge_pressure_Pa, together
from burnerlab.cli.options import Adding, Command, gathered, text_option
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.decision import Rating
    from burnerlab.bench.heat import HeatContent, InputMeasured, RatingState
    from burnerlab.bench.stop import StopNotice


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelAsked:
    """The project file of the unit under test, and the burner that was on."""

    file: str | None
    burner: str | None
    low: bool = False

    def read(self) -> Appliance | None:
        """The appliance of the file; None without one."""
        from burnerlab.appliance import read_appliance
        from burnerlab.bench.expected import each_burner

        if self.file is None:
            if self.burner is not None:
                raise UserError(Problem("needs the project file beside it", self.burner, "--burner"))
            if self.low:
                raise UserError(Problem("needs the project file, which names the low rate", key="--low-rate"))
            return None
        appliance = read_appliance(self.file)
        if self.burner is not None:
            each_burner(appliance, self.burner)
        return appliance

    def stops(
        self, found: InputMeasured, appliance: Appliance | None, state: RatingState | None
    ) -> tuple[StopNotice, ...]:
        """What a measured heat input of this burner raises."""
        from burnerlab.bench.stop_rules import measured_stops

        pressure = None if state is None else state.test_gauge_pressure_Pa
        return measured_stops(found, appliance, self.burner, pressure, low=self.low)

    def held(self, found: InputMeasured, appliance: Appliance | None) -> InputMeasured:
        """What was measured beside the rating of the file, with what is to be said where both differ."""
        from burnerlab.bench.model_file import with_file_comparison

        if appliance is None:
            return found
        found = with_file_comparison(found, appliance, self.burner, low=self.low)
        near = () if self.low else low_rate_note(appliance, self.burner, found.heat_input_gross_W)
        return replace(found, notes=(*near, *found.notes))


def low_rate_note(appliance: Appliance, burner: str | None, gross_W: float) -> tuple[str, ...]:
    """The note of a reading, taken as one at full, that lies near the low rate of the file."""
    from burnerlab.bench.model_file import near_low_rate

    near = near_low_rate(appliance, burner, gross_W)
    return (f"{near} then add --low-rate",) if near else ()


def model_options(command: Command) -> Command:
    """The project file whose gas, rating, band and meter pressure hold where no option says another."""
    options: dict[str, Adding] = {
        "file": lambda parameter: click.argument(parameter, metavar="[FILE]", required=False),
        "burner": text_option(
            "--burner", "NAME", "Burner of FILE that was on, one of the kind; else all were."
        ),
        "low": lambda parameter: click.option(
            "--low-rate",
            parameter,
            is_flag=True,
            help="Read at the low rate, by the turndown in FILE; it is held against that.",
        ),
    }
    return gathered("model", ModelAsked, options, command)


@dataclass(frozen=True, slots=True, kw_only=True)
class BasisAsked:
    """What the gas is worth, as the options say it."""

    at: str | None
    uncertainty: str | None
    instruments: str | None

    def own(self) -> Path | None:
        if self.instruments is None:
            return None
        path = Path(self.instruments)
        if not path.is_file():
            raise UserError(Problem("not a regular file", key="--instruments", file=str(path)))
        return path

    def heat(self, gas: GasAsked, appliance: Appliance | None = None) -> HeatContent:
        """The heat content of the gas asked for, else of the project file's."""
        from burnerlab.bench.heat import heat_content
        from burnerlab.gas import DeclaredGas
        from burnerlab.quantity import PRESETS, Kind, ReferenceState, read

        half, own = None, self.own()
        if self.uncertainty is not None:
            key = "--heating-value-uncertainty"
            half = read(self.uncertainty, Kind.FRACTION, key=key, low=0.0, high=0.2)
        if (
            gas.heating_value is not None
            and gas.relative_density is None
            and gas.name is None
            and gas.mix is None
        ):
            if self.at is not None:
                raise UserError(Problem("a heating value states its own", value=self.at, key="--at"))
            return _billed(gas, half, own)
        found = gas.read() if appliance is None or gas.is_given else appliance.supply.gas
        if self.at is not None:
            reference = ReferenceState.read(self.at, key="--at")
        else:
            reference = found.reference if isinstance(found, DeclaredGas) else PRESETS["ISO_15_15"]
        return heat_content(found, reference, half, own)


def _billed(gas: GasAsked, half: float | None, own: Path | None) -> HeatContent:
    from burnerlab.bench.heat import billed_heat_content
    from burnerlab.quantity import read_heating_value
    from burnerlab.tables import rows

    assert gas.heating_value is not None
    value = read_heating_value(gas.heating_value, key="--heating-value")
    ratio = None
    if gas.net_heating_value is not None:
        net = read_heating_value(gas.net_heating_value, key="--net-heating-value")
        if (net.per, net.reference, net.basis, value.basis) != (value.per, value.reference, "net", "gross"):
            fix = "state both alike, one gross and one net"
            raise UserError(Problem("does not go with --heating-value", key="--net-heating-value", fix=fix))
        ratio = net.value / value.value
    elif gas.family is not None:
        known = {row["family"]: float(row["net_to_gross"]) for row in rows("declared_families")}
        if gas.family not in known:
            raise UserError(
                Problem("no family of that name", gas.family, "--family", accepted=", ".join(known))
            )
        ratio = known[gas.family]
    try:
        return billed_heat_content(value, ratio, half, own)
    except UserError as error:
        raise UserError(
            [replace(p, value=gas.heating_value, key="--heating-value") for p in error.problems]
        ) from None


def basis_options(command: Command) -> Command:
    """Where the heating value is stated, how sure it is, and the instruments."""
    options = {
        "at": text_option("--at", "STATE", "State of the standard volume; a declared gas has its own."),
        "uncertainty": text_option("--heating-value-uncertainty", "SHARE", 'Half width: "0.5 %".'),
        "instruments": text_option("--instruments", "FILE", "CSV of your own limits of error."),
    }
    return gathered("basis", BasisAsked, options, command)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingAsked:
    """The rating and its band, as the options say it."""

    rating: str | None
    tolerance: str | None
    rule: str
    gas: str | None
    pressure: str | None
    manifold_pressure: str | None

    def read(
        self, appliance: Appliance | None = None, burner: str | None = None, *, low: bool = False
    ) -> Rating | None:
        """Rating and band asked for, else those of the project file."""
        from burnerlab.appliance import read_tolerance
        from burnerlab.bench.decision import Rating, decision_rule
        from burnerlab.bench.model_file import rating_of
        from burnerlab.quantity import read_rate, said_basis

        tolerance, rule = together(
            lambda: read_tolerance(self.tolerance or "default", key="--tolerance"),
            lambda: decision_rule(self.rule),
        )
        own = None if appliance is None else rating_of(appliance, burner, rule, low=low)
        if own is not None and self.tolerance is None:
            tolerance = own.tolerance
        if self.rating is None:
            return None if own is None else replace(own, tolerance=tolerance)
        rate = read_rate(self.rating, key="--rating")
        basis = said_basis(rate.basis, self.rating, key="--rating")
        unit = "kW" if "W" in self.rating else "kBtu/h"
        words = "rating" if own is None else own.words
        return Rating(
            heat_input_W=rate.power_W, basis=basis, tolerance=tolerance, rule=rule, unit=unit, words=words
        )

    def state(self, appliance: Appliance | None = None) -> RatingState | None:
        """Gas and pressure of rating and test; a pressure read alone is brought to that of the project file."""
        from burnerlab.bench.heat import RatingState
        from burnerlab.gas import load

        if self.gas is None and self.pressure is None and self.manifold_pressure is None:
            return None
        gas = None if self.gas is None else load(self.gas, key="--rated-gas")
        rated, test = (
            None if text is None else gauge_pressure_Pa(text, key)
            for text, key in (
                (self.pressure, "--rated-pressure"),
                (self.manifold_pressure, "--manifold-pressure"),
            )
        )
        if rated is None and test is not None and appliance is not None:
            rated = appliance.supply.gauge_pressure_Pa
        return RatingState(gas=gas, gauge_pressure_Pa=rated, test_gauge_pressure_Pa=test)


def rating_options(command: Command) -> Command:
    """The rating, its band, the rule of decision, and the gas and pressure it is for."""
    options = {
        "rating": text_option("--rating", "RATE", 'Of the plate: "15 kBtu/h gross".'),
        "tolerance": text_option(
            "--tolerance", "SHARE", 'Band: "5 %", or the name of one; else that of FILE, or default.'
        ),
        "rule": text_option("--rule", "NAME", "Rule of decision: simple or guard.", "simple"),
        "gas": text_option("--rated-gas", "NAME", "Gas of the rating, to correct to it by Wobbe index."),
        "pressure": text_option("--rated-pressure", "P", "Manifold pressure of the rating, gauge."),
        "manifold_pressure": text_option("--manifold-pressure", "P", "As read at the test, gauge."),
    }
    return gathered("rated", RatingAsked, options, command)
