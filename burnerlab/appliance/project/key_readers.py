"""Readers of single values of the project file: text in, SI out, a clear complaint otherwise.

They leave the key, the value and the line to ``read.py``, which knows them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from burnerlab.gas import gas_from_mapping, load
from burnerlab.orifice.altitude import policy_names
from burnerlab.orifice.drill import SERIES
from burnerlab.quantity import Kind, check_low_pressure, check_orifice_diameter, read, read_bore, read_rate
from burnerlab.quantity.drill_size import drill_diameter_m
from burnerlab.quantity.inputs import complaint, input_row, text_with_unit, words_of
from burnerlab.tables.libraries import MARK, named_in
from burnerlab.tables.problem import Problem, UserError, did_you_mean

T = TypeVar("T")
TEXTS = 1000  # of each reader remembered: an edit of a file writes one anew
LONGEST_NAME = 80
MOST_DRILLS = 500
SAME_RATE = 1e-9  # 3.5 kW and 3500 W are one rate, whatever the last bit of their floats


def about(key: str, what: str, fix: str) -> Problem:
    """A complaint about one key of the table at hand."""
    return Problem(what, key=key, fix=fix)


def unless(problems: Sequence[Problem], value: T) -> T:
    """The value, unless there is something to complain about."""
    if problems:
        raise UserError(problems)
    return value


def quantity(of: str, example: str) -> Callable[[Any], float]:
    """A reader of a quantity with its unit, held to a row of table ``inputs``."""
    row = input_row(of)

    @lru_cache(maxsize=TEXTS)
    def SI(text: str) -> float:
        return float(row.read(text))

    def reader(value: Any) -> float:
        return SI(text_with_unit(value, "a quantity", example))

    return reader


def hole(of: str, example: str) -> Callable[[Any], float]:
    """A reader of a diameter, as a length held to a row of table ``inputs`` or as a number or letter drill."""
    length = quantity(of, example)

    def reader(value: Any) -> float:
        drilled = drill_diameter_m(value) if isinstance(value, str) else None
        return length(value) if drilled is None else drilled

    return reader


def angle(value: Any) -> float:
    """An angle [rad]."""
    return float(read(text_with_unit(value, "a quantity", "90 deg"), Kind.ANGLE))


def name(value: Any) -> str:
    """A name to print: some text of at most 80 characters."""
    if not isinstance(value, str):
        raise complaint(
            f"must be a text, got {words_of(value)}", accepted="text in quotes", fix="put it in quotes"
        )
    cleaned = value.strip()
    if not cleaned or len(cleaned) > LONGEST_NAME:
        fix = "shorten it" if cleaned else 'write a name, such as "griddle tube"'
        raise complaint("is too long" if cleaned else "is empty", accepted="1 to 80 characters", fix=fix)
    if not cleaned.isprintable():
        raise complaint(
            "holds a character that cannot be printed", accepted="one line of text", fix="remove it"
        )
    return cleaned


def choice(words: Sequence[str], what: str) -> Callable[[Any], str]:
    """A reader of one word out of ``words``, with a guess at a misspelt one."""

    def reader(value: Any) -> str:
        if isinstance(value, str) and value.strip().lower() in words:
            return value.strip().lower()
        raise complaint(f"is not {what}", accepted=", ".join(words), fix=did_you_mean(value, words))

    return reader


_RATIO = re.compile(r"1\s*:\s*([0-9]+(?:\.[0-9]+)?)|([0-9]+(?:\.[0-9]+)?)\s*:\s*1")


def turndown_words() -> str:
    """What a turndown may be."""
    least = input_row("turndown").low
    return f'"1:{1 / least:g}" to "1:1", "{100 * least:g} %" to "100 %", or a low rate such as "0.75 kW"'


def turndown(value: Any, basis: str, full_W: float | None) -> float:
    """Smallest over full rate [-], from "1:3", "3:1", "30 %", or the low rate itself: "0.75 kW".

    The low rate is a heat input on the file's ``basis``; ``full_W`` is None when the rate itself could not be read.
    """
    text = text_with_unit(value, "a turndown", "1:3").strip()
    limits, accepted = input_row("turndown"), turndown_words()
    match = _RATIO.fullmatch(text)
    if match:
        larger = float(match[1] or match[2])
        share = 1 / larger if larger else math.inf
    elif text.endswith("%"):
        share = float(read(text, Kind.FRACTION))
    elif any(c.isalpha() for c in text):
        return _low_rate(text, basis, full_W, accepted)
    else:
        raise complaint("is not a turndown", accepted=accepted, fix='write "1:3", "33 %" or "0.75 kW"')
    if not limits.low <= share <= limits.high:
        raise complaint("is outside the range of a turndown", accepted=accepted, fix='write "1:3" or "33 %"')
    return share


def _low_rate(text: str, basis: str, full_W: float | None, accepted: str) -> float:
    """The share of the full rate [-] that a low rate is; 1 when the full rate could not be read."""
    low_W = _power_W(text, basis, accepted, 'write "1:3", "33 %" or "0.75 kW"')
    if full_W is None:
        return 1.0
    least, said = input_row("turndown").low, f"reads {low_W / 1e3:.4g} kW"
    span = f"{least * full_W / 1e3:.4g} to {full_W / 1e3:.4g} kW"
    check = "check the unit (kBtu/h, kW, W), and that rate is the full and turndown the low rate"
    share = low_W / full_W
    if share > 1.0 + SAME_RATE:
        raise complaint(f"{said}, above the full rate of this burner", accepted=span, fix=check)
    if share < least:
        what = f"{said}, below {100 * least:g} % of the full rate of this burner"
        raise complaint(what, accepted=span, fix=check)
    return min(share, 1.0)


def rate(value: Any, basis: str, range_name: str = "heat_input") -> float:
    """A heat input [W] that must not contradict the file's basis ("" when the file gives none)."""
    power_W, limits = (
        _power_W(text_with_unit(value, "a heat input", "12 kBtu/h"), basis),
        input_row(range_name),
    )
    span = f"{limits.low / 1e3:g} to {limits.high / 1e3:g} kW"
    if not limits.low <= power_W <= limits.high:
        raise complaint(
            f"reads {power_W / 1e3:.4g} kW, outside {span} ({limits.words})",
            accepted=span,
            fix="check the unit (kBtu/h, kW, W)",
        )
    return power_W


@lru_cache(maxsize=TEXTS)
def _power_W(text: str, basis: str, accepted: str = "", fix: str = "") -> float:
    """A heat input [W] on the file's basis; ``accepted`` and ``fix`` where more than a heat input would do."""
    try:
        found = read_rate(text)
    except UserError as error:
        raise UserError(
            [replace(one, accepted=accepted or one.accepted, fix=one.fix or fix) for one in error.problems]
        ) from None
    if basis and found.basis is not None and found.basis != basis:
        raise complaint(
            f"is a {found.basis} rate, but appliance.rating is {basis}",
            accepted="one basis for the whole file",
            fix=f"convert it to {basis}, or rate the whole file {found.basis}",
        )
    return float(found.power_W)


def gauge_pressure(value: Any, allow_high: bool) -> float:
    """A gauge pressure [Pa] of a low-pressure appliance, or any above zero when the file allows it."""
    text = text_with_unit(value, "a quantity", "7 in w.c.")
    found = float(read(text, Kind.GAUGE_PRESSURE))
    if not found > 0:
        raise complaint(
            "must be above the outlet pressure", accepted="a gauge pressure above 0", fix="check the sign"
        )
    check_low_pressure(found, text, allow_high=allow_high)
    return found


def drill(value: Any) -> tuple[float, str]:
    """Diameter [m] and name of a drill."""
    text = text_with_unit(value, "a drill", "#54")
    bore = read_bore(text)
    check_orifice_diameter(bore.diameter_m, text)
    return float(bore.diameter_m), bore.drill or text


def diameter(value: Any) -> float:
    """Diameter of an orifice [m]."""
    text = text_with_unit(value, "a diameter", "1.40 mm")
    found = float(read(text, Kind.DIAMETER))
    check_orifice_diameter(found, text)
    return found


def switch(value: Any) -> bool:
    """A plain true or false."""
    if isinstance(value, bool):
        return value
    raise complaint(f"must be true or false, got {words_of(value)}", accepted="true, false", fix="write true")


def file_name(value: Any) -> str:
    """A file name inside the folder of the project file."""
    text = text_with_unit(value, "a file name", "drills.csv")
    if "\0" in text or not text.strip():
        raise complaint(
            "cannot be a file name", accepted="a CSV in the file's folder", fix='write "drills.csv"'
        )
    return text


STAND_IN_GAS = "propane"  # for a gas that could not be read, so that the rest of the file still is
UNNAMED_GAS = "gas of the file"  # of a [gas] table without a name


def own_gas_name(own: object) -> str:
    """What the gas of a [gas] table is called; "" without one."""
    if not isinstance(own, Mapping):
        return ""
    return str(own.get("name", UNNAMED_GAS)).strip()


def names_own_gas(text: object, own: object) -> bool:
    """Whether a gas is named as the one of a [gas] table; capitals do not matter.

    >>> names_own_gas("Town gas", {"name": "town gas"}), names_own_gas("propane", {})
    (True, False)
    """
    name = own_gas_name(own).casefold()
    return bool(name) and isinstance(text, str) and text.strip().casefold() == name


def library_gas(value: Any, folder: Path | None = None, own_table: object = None) -> Any:
    """A gas of the library by its name, or one of the user's own: of the file's [gas] table by the name written there,
    by its parts, or by its path, which counts from the project file.
    """
    text = text_with_unit(value, "the name of a gas", STAND_IN_GAS).strip()
    if names_own_gas(text, own_table):
        return _named_own_gas(text, own_table)
    own = named_in(text)
    if folder is not None and own is not None and (folder / own[0]).is_dir():
        text = f"{folder / own[0]}{MARK}{own[1]}"
    elif folder is not None and text.casefold().endswith(".toml") and (folder / text).is_file():
        text = str(folder / text)
    return load(text, key="")


def _named_own_gas(text: str, own_table: object) -> Any:
    """The gas of the [gas] table, by its name; what is wrong with it is said at its table."""
    try:
        load(text)
    except UserError:
        pass
    else:
        what = "names a gas of the library and the one of [gas]"
        raise complaint(what, accepted="one gas of this name", fix="write another name under [gas]")
    try:
        return own_gas(own_table)
    except UserError:
        return load(STAND_IN_GAS)


def own_gas(value: Any) -> Any:
    """A gas of the user's own, from a table."""

    if not isinstance(value, dict):
        raise complaint(
            f"must be a table, got {words_of(value)}", accepted="a table of keys", fix="write [gas]"
        )
    gas = gas_from_mapping({"name": UNNAMED_GAS, **value}, key="")
    try:
        gas.heating_value_J_per_kg(
            "net"
        )  # a declared gas whose net value nothing tells cannot be shown on both
    except UserError as error:
        raise UserError([replace(problem, key="", value="") for problem in error.problems]) from None
    return gas


def policy(value: Any, region: str = "") -> str:
    """An altitude policy that the shipped table knows; those of the file's region are proposed."""

    if isinstance(value, str) and value.strip().lower() in policy_names():
        return value.strip().lower()
    return choice(policy_names(region=region), "an altitude policy")(value)


def tolerance(value: Any) -> str:
    """A share such as "5 %", or the name of a row of the input tolerances, which ``lookups`` looks up."""
    return text_with_unit(value, "a percentage or the name of a tolerance", "5 %").strip()


def drills(value: Any) -> tuple[str, ...]:
    """Series of drills (number, letter, fraction, metric, hundredth), or the user's own drills by name."""
    texts = [value] if isinstance(value, str) else value
    if not isinstance(texts, list) or not texts or not all(isinstance(text, str) for text in texts):
        raise complaint(
            "must be a list of texts", accepted=", ".join(SERIES), fix='write ["number", "metric"]'
        )
    if len(texts) > MOST_DRILLS:
        raise complaint("holds too many drills", accepted=f"{MOST_DRILLS}", fix="shorten the list")
    for text in texts:
        if (
            text.strip().lower() not in SERIES
            and not any(c.isdigit() for c in text)
            and len(text.strip()) > 1
        ):
            raise complaint(
                f"{text[:LONGEST_NAME]} is neither a series nor a drill",
                accepted=", ".join(SERIES) + " or drills such as #54",
                fix=did_you_mean(text, SERIES),
            )
        if text.strip().lower() not in SERIES:
            read_bore(text)
    return tuple(text.strip().lower() if text.strip().lower() in SERIES else text.strip() for text in texts)
