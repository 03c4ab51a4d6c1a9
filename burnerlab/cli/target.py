"""What an appliance is changed to, as the options of ``convert`` and ``tolerance`` say it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from burnerlab.cli.asked import GasAsked, ReferenceAsked, gauge_pressure_Pa, together
from burnerlab.cli.options import Command, gathered, in_words_of_options, option, text_option
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import ConversionTarget, Options
POLICY_HELP = "Altitude policy for the rating: none, 4-percent-from-sea-level, 4-percent-from-2000-ft, ..."


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where the appliance will stand; None leaves what its file says."""

    altitude_m: float | None
    ambient_pressure_Pa: float | None
    gas_temperature_K: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetAsked:
    """The texts of the options; what is None is taken from the appliance's file."""

    pressure: str | None
    pressure_range: str | None
    category: str
    altitude: str | None
    barometer: str | None
    gas_temperature: str | None
    policy: str | None
    drills: str | None
    tolerance: str | None
    coefficient: str | None
    shape: str | None
    allow_high_pressure: bool

    def read(self, gas: GasAsked, reference: ReferenceAsked) -> ConversionTarget:
        from burnerlab.appliance import ConversionTarget

        new_gas, gauge_Pa, options = together(gas.read, self._pressure_Pa, lambda: self._options(reference))
        return ConversionTarget(gas=new_gas, gauge_pressure_Pa=gauge_Pa, **options)

    def _pressure_Pa(self) -> float:
        from burnerlab.quantity import check_low_pressure

        key = "--pressure"
        if self.pressure is None:
            fix = 'e.g. --pressure "11 inH2O"'
            raise UserError(
                Problem("the pressure of the new gas is missing: gauge, at the manifold", key=key, fix=fix)
            )
        gauge_Pa = gauge_pressure_Pa(self.pressure, key)
        try:
            check_low_pressure(gauge_Pa, self.pressure, key=key, allow_high=self.allow_high_pressure)
        except UserError as error:
            raise in_words_of_options(error) from None
        return gauge_Pa

    def _site(self) -> Site:
        from burnerlab.quantity import Kind
        from burnerlab.quantity.ranges import read_within

        def maybe(text: str | None, kind: Kind, name: str) -> float | None:
            key = "--" + name.replace("_", "-")
            return None if text is None else read_within(text, kind, name, key=key)

        if self.altitude is not None and self.barometer is not None:
            raise UserError(Problem("give one of them, not both", key="--altitude and --barometer"))
        altitude_m, ambient_Pa, temperature_K = together(
            lambda: maybe(self.altitude, Kind.LENGTH, "altitude"),
            lambda: maybe(self.barometer, Kind.ABSOLUTE_PRESSURE, "barometer"),
            lambda: maybe(self.gas_temperature, Kind.TEMPERATURE, "gas_temperature"),
        )
        return Site(altitude_m=altitude_m, ambient_pressure_Pa=ambient_Pa, gas_temperature_K=temperature_K)

    def _options(self, reference: ReferenceAsked) -> Options:
        from burnerlab.appliance import Options, read_tolerance
        from burnerlab.cli.holes import constant_coefficient_of, drill_names_of, policy_of, pressure_range_of

        span, place, at, drills, band, coefficient, policy = together(
            lambda: self.pressure_range and pressure_range_of(self.pressure_range),
            self._site,
            reference.read,
            lambda: self.drills and drill_names_of(self.drills),
            lambda: self.tolerance and read_tolerance(self.tolerance, key="--tolerance"),
            lambda: constant_coefficient_of(self.coefficient, self.shape),
            lambda: self.policy and policy_of(self.policy),
        )
        return Options(
            low_gauge_pressure_Pa=span.low_Pa if span else None,
            high_gauge_pressure_Pa=span.high_Pa if span else None,
            altitude_m=place.altitude_m,
            ambient_pressure_Pa=place.ambient_pressure_Pa,
            gas_temperature_K=place.gas_temperature_K,
            category=self.category,
            altitude_policy=policy,
            drills=drills or None,
            tolerance=band or None,
            coefficient=coefficient,
            reference=at,
            allow_high_pressure=self.allow_high_pressure,
        )


def train_option(command: Command) -> Command:
    """Which supply serves the new gas."""
    words = (
        "Supply of the new gas: new ([new_supply] of FILE), reset (that of FILE with its regulator reset), none. "
        "Left out: new where FILE has one for this gas and pressure, else reset."
    )
    return click.option(
        "--train",
        type=click.Choice(("new", "reset", "none")),
        callback=lambda _context, _option, value: value or "",
        help=words,
    )(command)


def target_options(command: Command) -> Command:
    """Pressure, place, band and drills of the changed appliance."""
    options = {
        "pressure": text_option("--pressure", "P", 'Nominal, gauge, at the manifold: "11 inH2O", "37 mbar".'),
        "pressure_range": text_option("--pressure-range", "RANGE", 'Of the new supply: "25 mbar..35 mbar".'),
        "category": text_option(
            "--category", "NAME", "Gas group or appliance category, to choose that range.", ""
        ),
        "altitude": text_option("--altitude", "H", 'Of the place: "1500 m", "5000 ft".'),
        "barometer": text_option("--barometer", "P", "Station pressure, absolute, in place of the altitude."),
        "gas_temperature": text_option("--gas-temperature", "T", "Of the gas before the orifice."),
        "policy": text_option("--policy", "NAME", POLICY_HELP),
        "drills": text_option(
            "--drills", "LISTS", "number,letter,fraction,metric, drills of your own, or a CSV file."
        ),
        "tolerance": text_option(
            "--tolerance", "SHARE", 'Band of the heat input: "5 %", or the name of a tolerance.'
        ),
        "coefficient": text_option("--coefficient", "CD", "Discharge coefficient of every new orifice."),
        "shape": text_option("--shape", "SHAPE", "Shape of every new orifice, in place of the coefficient."),
        "allow_high_pressure": option(
            "--allow-high-pressure",
            is_flag=True,
            help="Confirm a pressure outside 0.5 to 15 kPa.",
        ),
    }
    return gathered("target", TargetAsked, options, command)
