"""The reference state behind every volume of gas, and what is counted at one."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache

from burnerlab import tables
from burnerlab.quantity import units
from burnerlab.quantity.grammar import refuse, split, text_of
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.outputs import output
from burnerlab.quantity.read import (
    EXAMPLES,
    NEEDS_REFERENCE,
    Basis,
    Per,
    bounded,
    plain,
    read_text,
    take_basis,
)
from burnerlab.quantity.show import in_unit
from burnerlab.quantity.si import take_SI
from burnerlab.quantity.units import Kind, is_quantity, magnitude_SI
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.problem import UserError

# The reference state behind every volume of gas: two temperatures, a pressure, dry or saturated.

STANDARD_PRESSURE_PA = 101325.0  # ISO 6976:2016, and the standard atmosphere
SNAP_K = 0.011  # 15.55 and 15.56 C are ways of printing 60 F (15.5556 C)
_TRADE_NAMES = re.compile(r"(?:STP|NTP|SATP|ISC|MSC|SCF?|normal|standard|base)\b", re.IGNORECASE)
_LONGEST = 100  # characters of a state
_ONE = r"[-+]?\d+(?:\.\d*)? ?(?:(?:°|deg) ?)?(?:celsius|fahrenheit|kelvin|[CFKcfk])?(?![A-Za-z])"
_STATE = re.compile(rf"(?P<first>{_ONE})(?: ?/ ?(?P<second>{_ONE}))?(?P<rest>(?:,? .*)?)", re.ASCII)
_HUMIDITY = {"dry": False, "sat": True, "saturated": True, "wet": True}


@dataclass(frozen=True, slots=True)
class ReferenceState:
    """At which temperatures, pressure and humidity heating values and volumes are counted.

    combustion_temperature_K, metering_temperature_K : a pair of ISO 6976:2016 [K]
    pressure_Pa : absolute metering pressure [Pa]
    saturated : whether the volume is counted with the water vapour of saturation in it
    Raises UserError for a temperature or pressure the standard does not cover.

    >>> ReferenceState(288.15, 288.15).words()
    '15 °C / 15 °C, 101.325 kPa, dry'
    """

    combustion_temperature_K: float = field(metadata=output("combustion temperature", Kind.TEMPERATURE))
    metering_temperature_K: float = field(metadata=output("metering temperature", Kind.TEMPERATURE))
    pressure_Pa: float = field(
        default=STANDARD_PRESSURE_PA, metadata=output("metering pressure", Kind.ABSOLUTE_PRESSURE)
    )
    saturated: bool = field(default=False, metadata=output("saturated"))

    def __post_init__(self) -> None:
        take_SI(self)
        for role in ("combustion", "metering"):
            name = f"{role}_temperature_K"
            object.__setattr__(self, name, _listed(getattr(self, name), role))
        object.__setattr__(self, "pressure_Pa", float(self.pressure_Pa))
        _check_pressure(self.pressure_Pa, f"{self.pressure_Pa / 1000:.6g} kPa", "")

    @property
    def name(self) -> str:
        """The name of the preset equal to this state, else a short text that reads back as it.

        >>> ReferenceState.read("25C/60F saturated").name
        '25C/60F saturated'
        """
        preset = next((name for name, state in presets().items() if state == self), None)
        if preset:
            return preset
        pressure = (
            "" if self.pressure_Pa == STANDARD_PRESSURE_PA else f" {_printed_pressure(self.pressure_Pa)}"
        )
        return self._pair("", "/") + pressure + (" saturated" if self.saturated else "")

    def words(self) -> str:
        """The state as printed on a sheet; reads back as the same state."""
        humidity = Phrase("saturated") if self.saturated else Phrase("dry")
        return joined(", ", (self._pair(" °", " / "), _printed_pressure(self.pressure_Pa), humidity))

    def _pair(self, degree: str, between: str) -> str:
        temperatures = (self.combustion_temperature_K, self.metering_temperature_K)
        return between.join(_printed(kelvin, degree) for kelvin in temperatures)

    @staticmethod
    def read(
        entry: object,
        *,
        pressure: str | float | None = None,
        saturated: bool | None = None,
        key: str = "",
    ) -> ReferenceState:
        """The state a user names.

        entry : "15C/15C", "60F", "15/15" (deg C), or a preset; a pair may be followed by a pressure and
            dry or saturated, as in "60F 14.73 psia saturated"
        pressure : absolute, text or [Pa]; saturated : both override what ``entry`` says
        Raises UserError with the accepted temperatures or presets.

        >>> ReferenceState.read("60F/60F", pressure="14.73 psia").name
        'US_60F_14p73_dry'
        """
        state = entry if isinstance(entry, ReferenceState) else _parse(text_of(entry, key, "15C/15C"), key)
        if isinstance(pressure, str):
            pressure = _pressure(pressure, key)
        return ReferenceState(
            state.combustion_temperature_K,
            state.metering_temperature_K,
            state.pressure_Pa if pressure is None else pressure,
            state.saturated if saturated is None else saturated,
        )


def _parse(text: str, key: str) -> ReferenceState:
    plain = text.replace("-", "_").casefold()
    preset = next((state for name, state in presets().items() if name.casefold() == plain), None)
    if preset is not None:
        return preset
    match = _STATE.fullmatch(text) if len(text) <= _LONGEST else None
    if match is None:
        raise _unknown(text, key)
    combustion = _listed(_temperature(match["first"], key), "combustion", text, key)
    metering = _listed(_temperature(match["second"] or match["first"], key), "metering", text, key)
    pressure, saturated = STANDARD_PRESSURE_PA, False
    rest = match["rest"].replace(", ", " ").strip(" ")
    words = rest.rsplit(" ", 1)
    if words[-1].lower() in _HUMIDITY:
        saturated = _HUMIDITY[words[-1].lower()]
        rest = words[0] if len(words) == 2 else ""
    if rest:
        pressure = _pressure(rest, key)
    return ReferenceState(combustion, metering, pressure, saturated)


def _unknown(text: str, key: str) -> UserError:
    near = get_close_matches(text[:60].replace("-", "_"), presets(), n=1, cutoff=0.5)
    accepted = f"COMBUSTION/METERING such as 15C/15C, 25C/0C, 60F; or {', '.join(presets())}"
    fix = f"did you mean {near[0]}?" if near else ""
    if _TRADE_NAMES.match(text):
        fix = "this name means different states in different trades: write 0C/0C, 25C/0C, 15C/15C or 60F"
    pair = re.fullmatch(r"(\d{1,2} ?[CF]?) ?[-;:,] ?(\d{1,2} ?[CF]?)", text, re.ASCII | re.IGNORECASE)
    if pair:
        fix = f"write {pair[1]}/{pair[2]}"
    if re.search(r"\d,\d", text):
        fix = f"use a point as decimal mark: {re.sub(',(?=[0-9])', '.', text[:60])}"
    return refuse("reference state not recognised", text, key, accepted=accepted, fix=fix)


def _value(text: str, kind: Kind, key: str = "", example: str = "") -> float:
    written = split(text, key, example)
    unit = units.find(written.unit, kind) if written.unit else None
    if unit is None:
        why = units.refuse(written.unit, kind)
        what = why.what if written.unit else "the unit is missing"
        raise refuse(what, text, key, accepted=why.accepted, fix=why.fix)
    return written.number * unit.scale.factor + unit.scale.offset


def _pressure(text: str, key: str) -> float:
    return _check_pressure(_value(text, Kind.ABSOLUTE_PRESSURE, key, "101.325 kPa"), text, key)


def _check_pressure(pressure_Pa: float, entry: str, key: str) -> float:
    held = input_row("reference_pressure")
    if not held.holds(pressure_Pa):
        span = f"{held.low / 1000:g} to {held.high / 1000:g} kPa"
        raise refuse("reference pressure outside the range of ISO 6976", entry, key, accepted=span)
    return pressure_Pa


def _temperature(part: str, key: str) -> float:
    if re.fullmatch(r"[-+]?\d+(?:\.\d*)? ?", part, re.ASCII):
        part = f"{part.strip()} C"  # a bare pair is in degrees Celsius, as the standards print it
    return _value(part, Kind.TEMPERATURE, key, "15 C")


@cache
def _temperatures(role: str) -> Mapping[str, float]:
    return {
        row["temperature"]: _value(row["temperature"], Kind.TEMPERATURE)
        for row in tables.rows("reference_temperatures")
        if row["role"] == role
    }


def _listed(kelvin: float, role: str, entry: str = "", key: str = "") -> float:
    """The temperature of the standard that is meant, exactly; 15.55 and 15.56 C are 60 F."""
    for exact in _temperatures(role).values():
        if abs(kelvin - exact) <= SNAP_K:
            return exact
    texts = [f"{text} (15.55 C)" if text == "60 F" else text for text in _temperatures(role)]
    celsius = kelvin - 273.15
    hint = "write 60F" if 59.5 <= celsius <= 60.5 or 15.5 < celsius < 15.7 else ""
    what = f"no {role} temperature of ISO 6976"
    raise refuse(what, entry or f"{kelvin:.6g} K", key, accepted=", ".join(texts), fix=hint)


def _printed(kelvin: float, degree: str) -> str:
    texts = {
        exact: text for role in ("combustion", "metering") for text, exact in _temperatures(role).items()
    }
    return texts[kelvin].replace(" ", degree)


def _printed_pressure(pressure_Pa: float) -> str:
    """In the unit in which it is a round figure, so that it reads back exactly."""
    for unit, decimals in (("kPa", 3), ("psia", 3), ("inHg", 2)):
        in_that = in_unit(pressure_Pa, Kind.ABSOLUTE_PRESSURE, unit)
        text = f"{round(in_that, decimals):.10g} {unit}"
        if _value(text, Kind.ABSOLUTE_PRESSURE) == pressure_Pa:
            return text
    return f"{pressure_Pa!r} Pa"


@cache
def presets() -> Mapping[str, ReferenceState]:
    """The named conventions of the table ``reference_states``."""
    return {
        row["name"]: ReferenceState(
            _value(row["combustion"], Kind.TEMPERATURE),
            _value(row["metering"], Kind.TEMPERATURE),
            _pressure(row["pressure"], ""),
            _HUMIDITY[row["humidity"]],
        )
        for row in tables.rows("reference_states")
    }


class _Presets(Mapping[str, ReferenceState]):
    """The presets, read from the table at first use, so that importing stays light."""

    def __getitem__(self, name: str) -> ReferenceState:
        return presets()[name]

    def __iter__(self) -> Iterator[str]:
        return iter(presets())

    def __len__(self) -> int:
        return len(presets())


PRESETS: Mapping[str, ReferenceState] = _Presets()


# What is counted at a reference state: heating values, volumes and volume flows as a user wrote them.

_AT = re.compile(r" (?:at|@) ?(?=\S)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class HeatingValue:
    """A heating value [J/m3, J/kg or J/mol], its basis, and its reference state where said."""

    value: float
    per: Per
    basis: Basis | None
    reference: ReferenceState | None


@dataclass(frozen=True, slots=True)
class AtReference:
    """A volume [m3] or volume flow [m3/s] counted at a stated reference state."""

    value: float
    reference: ReferenceState


_PER: dict[Per, Kind] = {
    "volume": Kind.HEATING_VALUE_VOLUME,
    "mass": Kind.HEATING_VALUE_MASS,
    "mole": Kind.HEATING_VALUE_MOLE,
}


def read_heating_value(entry: object, key: str = "") -> HeatingValue:
    """A heating value, what it is per, its basis and, per volume, its reference state.

    entry : text such as "1037 Btu/ft3 gross at 60F", "50.3 MJ/kg net", or a pint quantity
    Raises UserError. Basis and reference are None when not said: the caller decides whether that will do.

    >>> read_heating_value("21591 Btu/lb gross").per
    'mass'
    """
    if not isinstance(entry, str):
        per = _per_of_quantity(entry) if is_quantity(entry) else "volume"
        value = bounded(plain(entry, _PER[per], key), entry, _PER[per], key, None, None)
        return HeatingValue(value, per, None, None)
    head, *tail = _AT.split(entry.strip(" "), maxsplit=1)
    head, basis = take_basis(head, key)
    at, late = take_basis(tail[0], key) if tail else ("", None)
    basis = basis or late
    written = split(head, key, EXAMPLES[Kind.HEATING_VALUE_VOLUME])
    per = next((per for per, kind in _PER.items() if units.find(written.unit, kind)), "volume")
    value = bounded(read_text(head, _PER[per], key, bool(at)), entry, _PER[per], key, None, None)
    return HeatingValue(value, per, basis, ReferenceState.read(at, key=key) if at else None)


def _per_of_quantity(quantity: object) -> Per:
    for per, kind in _PER.items():
        try:
            magnitude_SI(quantity, kind)
        except ValueError:
            continue
        return per
    return "volume"


def read_at_reference(
    entry: object, kind: Kind, key: str = "", *, reference: ReferenceState | None = None
) -> AtReference:
    """A volume or volume flow counted at a stated reference state.

    entry : text such as "35 scfh at 60F" or "10 m3/h at 15C/15C"
    kind : Kind.REFERENCE_VOLUME or Kind.REFERENCE_VOLUME_FLOW
    reference : taken when the text states none
    Raises UserError when no reference is stated.

    >>> read_at_reference("36 m3/h at 15C/15C", Kind.REFERENCE_VOLUME_FLOW).value
    0.01
    """
    if kind not in NEEDS_REFERENCE:
        raise TypeError(f"{kind.value} has no reference state")
    text: object = entry
    if isinstance(entry, str):
        text, *tail = _AT.split(entry.strip(" "), maxsplit=1)
        if tail:
            reference = ReferenceState.read(tail[0], key=key)
    value = bounded(plain(text, kind, key, True), entry, kind, key, None, None)
    if reference is None:
        fix = f"add it, such as {text} at 15C/15C, or {text} at 60F"
        raise refuse("the reference state of this volume is missing", str(entry), key, fix=fix)
    return AtReference(value, reference)
