"""One strict pattern: a plain decimal number and a unit. A user's text goes nowhere else."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass

from burnerlab import tables
from burnerlab.tables.problem import Problem, UserError

COMMA = "use a point as decimal mark; commas are not read"
LONGEST = 200  # characters of a quantity; more is not one
_NUMBER = (
    r"[+-]?(?:[1-9]\d{0,2}(?: \d{3})+|\d+)(?:\.\d*)?(?:[eE][+-]?\d{1,6})?|[+-]?\.\d+(?:[eE][+-]?\d{1,6})?"
)
_FRACTION = r"(?P<sign>[+-]?)(?P<whole>\d{1,4} )?(?P<over>\d{1,4})/(?P<under>\d{1,4})"
_UNIT = r"(?P<unit>[^\W\d_][^;:=*+&|<>\\{}\[\]]*|[µμ%‰°º℃℉\"'″”′#][^;:=*+&|<>\\{}\[\]]*)?"
_OTHER_BASE = r"[+-]?0(?:[xX][\da-fA-F]|[bB][01]|[oO][0-7])"
_PATTERN = re.compile(
    rf"(?!{_OTHER_BASE})(?:(?P<fraction>{_FRACTION})|(?P<number>{_NUMBER})) *{_UNIT}", re.ASCII
)
_NOT_PLAIN = re.compile(rf"[+-]?\d+_|{_OTHER_BASE}", re.ASCII)
_COMMA = re.compile(r"(?<=\d),(?=\d)", re.ASCII)
_POINTS_AS_GROUPS = re.compile(r"(?<![\d.,])([1-9]\d{0,2}(?:\.\d{3})+),(\d+)(?![\d.,])", re.ASCII)
_POINT_AFTER_GROUPS = re.compile(r",\d{3}\.\d")
_OF_THE_US = re.compile(
    r"\d *(?:[km]?btu|mbh|ft|feet|foot|cfh|lb)", re.IGNORECASE
)  # no unit of decimal commas
_GROUPS = re.compile(r"(?<![\d.,])[1-9]\d{0,2}(?:,\d{3})+(?![\d,])", re.ASCII)
PARTS_OF_INCH = (2, 3, 4, 5, 6, 8, 10, 12, 16, 32, 64)  # under the line of a fraction that people write
_RANGE = re.compile(r"([+-]?\d+(?:\.\d+)?) ?(?:-|–|\.\.+|to) ?(\d+(?:\.\d+)?)( ?[A-Za-z%].*)?", re.ASCII)
PRESSURE_UNIT = r"bar|Pa|psi|w\.c|H2O"
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)\b.*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class WrittenQuantity:
    """What the text says: a number, a unit as spelled ("" when there is none), and if it was a fraction."""

    number: float
    unit: str
    fraction: bool


def refuse(what: str, entry: object, key: str, *, accepted: str = "", fix: str = "") -> UserError:
    """The error for one value."""
    text = entry if isinstance(entry, str) else repr(entry)
    return UserError(Problem(what, value=text, key=key, accepted=accepted, fix=fix))


def text_of(entry: object, key: str, example: str) -> str:
    """The text a user wrote, or an error that names what stood there instead."""
    if isinstance(entry, str):
        return entry.strip(" ")
    fix = f'write it as text with its unit, such as "{example}"'
    if isinstance(entry, bool):
        raise refuse("must be a quantity, got a boolean", str(entry).lower(), key, fix=fix)
    if isinstance(entry, float) and not math.isfinite(entry):
        raise refuse("must be finite", entry, key)
    if isinstance(entry, (int, float)):
        raise refuse("a bare number: the unit is missing", _short(entry), key, fix=fix)
    names = ((dt.date, "a date"), (dt.time, "a time of day"), ((list, tuple), "a list"), (dict, "a table"))
    name = next((name for kind, name in names if isinstance(entry, kind)), type(entry).__name__)
    name = "nothing" if entry is None else name
    raise refuse(f"must be a quantity, got {name}", "", key, fix=fix)


def _short(number: int | float) -> str:
    if isinstance(number, int) and abs(number) >= 10**30:
        return "an integer of more than 30 digits"
    return str(number)


def split(text: str, key: str, example: str) -> WrittenQuantity:
    """Number and unit of a text, or a complaint.

    >>> split("15 000 Btu/h", "", "")
    WrittenQuantity(number=15000.0, unit='Btu/h', fraction=False)
    >>> split("1 1/16 in", "", "")
    WrittenQuantity(number=1.0625, unit='in', fraction=True)
    """
    match = _PATTERN.fullmatch(text) if len(text) <= LONGEST and "," not in text else None
    if match is None:
        raise _complaint(text, key, example)
    unit = (match["unit"] or "").rstrip()
    if match["fraction"]:
        if int(match["under"]) == 0:
            raise refuse("a fraction over zero", text, key)
        value = int(match["whole"] or 0) + int(match["over"]) / int(match["under"])
        return WrittenQuantity(-value if match["sign"] == "-" else value, unit, True)
    digits = match["number"].replace(" ", "")
    number = float(digits)
    if not math.isfinite(number):
        raise refuse("must be finite: the number is out of range", text, key, fix=_like(example))
    if number == 0 and re.search("[1-9]", re.split("[eE]", digits)[0]):
        raise refuse("out of range: not distinguishable from zero", text, key)
    return WrittenQuantity(number, unit, False)


def _without_range(low: float, high: float, unit: str) -> str:
    """What to write for a range: its nominal where it is one of a supply known by one nominal, never an end of it.

    An orifice sized at an end of the range burns too much or too little at the nominal.

    >>> _without_range(28.0, 30.0, "mbar"), _without_range(2.8, 3.0, "kPa")
    ('write the nominal pressure alone, 29 mbar', 'write the nominal pressure alone, 2.9 kPa')
    >>> _without_range(28.0, 31.0, "mbar"), _without_range(10.0, 12.0, "kW")
    ('write the nominal pressure alone', 'write one value alone')
    """
    if not re.search(PRESSURE_UNIT, unit):
        return "write one value alone"
    ends = [(row, *_supply_unit(row["unit"], unit)) for row in tables.rows("supply_pressures")]
    for first, last in (("nominal_from", "nominal_to"), ("low", "high")):
        nominals = {
            f"{(float(row['nominal_from']) + float(row['nominal_to'])) / 2 * scale:g} {unit}"
            for row, is_known, scale in ends
            if is_known
            and row[first]
            and row[last]
            and math.isclose(float(row[first]) * scale, low, rel_tol=1e-6)
            and math.isclose(float(row[last]) * scale, high, rel_tol=1e-6)
        }
        if len(nominals) == 1:
            return f"write the nominal pressure alone, {nominals.pop()}"
    return "write the nominal pressure alone"


def _supply_unit(of_table: str, written: str) -> tuple[bool, float]:
    """Whether a pressure of the table can be said in the unit written, and its scale."""
    if of_table == written:
        return True, 1.0
    scales = {"mbar": 1.0, "hPa": 1.0, "kPa": 0.1, "Pa": 100.0}  # of a millibar, by definition
    if of_table in scales and written in scales:
        return True, scales[written] / scales[of_table]
    return False, 1.0


def _like(example: str) -> str:
    return f'write a figure such as "{example}"' if example else "write a figure"


def _complaint(text: str, key: str, example: str) -> UserError:
    like = f'such as "{example}"' if example else ""
    if not text:
        return refuse(
            "nothing is written: a number and a unit are wanted", text, key, fix=f"write a value {like}"
        )
    if len(text) > LONGEST:
        return refuse(f"not a quantity: longer than {LONGEST} characters", text, key)
    if "," in text:
        return refuse(COMMA, text, key, fix=_without_comma(text))
    between = _RANGE.fullmatch(text)
    if between:
        fix = _without_range(float(between[1]), float(between[2]), (between[3] or "").strip())
        return refuse("a range, where one value is wanted", text, key, fix=fix)
    joined = re.match(r"[+-]?(\d+)-(\d+/(\d+))", text, re.ASCII)
    if joined and int(joined[3]) not in PARTS_OF_INCH:
        couple = "give one pressure; a pressure couple is named by its category (--category or category)"
        fix = couple if re.search(PRESSURE_UNIT, text) else "write one value"
        return refuse("several values, where one is wanted", text, key, fix=fix)
    if joined:
        return refuse("not a quantity", text, key, fix=f"write {joined[1]} {joined[2]}{text[joined.end() :]}")
    if _NOT_FINITE.fullmatch(text):
        return refuse("must be finite", text, key, fix=_like(example))
    if any(c.isdigit() and not c.isascii() and c not in "²³" for c in text):
        return refuse("ASCII digits only", text, key, fix="write the digits 0 to 9")
    if re.search(r"[^\S ]", text):
        return refuse("not a quantity: only plain spaces may stand in it", text, key)
    if text[0] in "−–":
        return refuse("write the minus sign as a plain -", text, key)
    if _NOT_PLAIN.match(text):
        return refuse(
            "plain decimal number only",
            text,
            key,
            fix="write the digits, with a plain space between thousands",
        )
    if re.fullmatch(r"[+-]?[\d. ]+[^\x00-\x7f].*", text):
        return refuse("unit not recognised", text, key, fix=f"spell the unit in plain letters, {like}")
    return refuse(
        "not a quantity: one number and one unit", text, key, fix=f"write it {like}" if like else ""
    )


def comma_readings(text: str) -> tuple[str, ...]:
    """What a text with commas in its figures may mean, to choose from: never to be guessed.

    Decimal commas first, then groups of thousands where the figures may be such; of Btu, ft and lb the other way
    round, as no country that writes decimal commas measures in them. With a point as well, groups alone.

    >>> comma_readings("1,250 kW"), comma_readings("12,5 kW"), comma_readings("1,40 mm, #54")
    (('1.250 kW', '1250 kW'), ('12.5 kW',), ('1.40 mm, #54',))
    >>> comma_readings("12,000 Btu/h"), comma_readings("12,500.5 Btu/h")
    (('12000 Btu/h', '12.000 Btu/h'), ('12500.5 Btu/h',))
    >>> comma_readings("1.200,5 W"), comma_readings("1,000,000 Btu/h")
    (('1200.5 W',), ('1000000 Btu/h',))
    """
    if not _COMMA.search(text):
        return ()
    if _POINTS_AS_GROUPS.search(text):
        return (_POINTS_AS_GROUPS.sub(lambda hit: f"{hit[1].replace('.', '')}.{hit[2]}", text),)
    grouped = _GROUPS.sub(lambda hit: hit[0].replace(",", ""), text)
    groups = () if _COMMA.search(grouped) else (grouped,)
    if groups and _POINT_AFTER_GROUPS.search(text):
        return groups
    points = () if groups and text.count(",") > 1 else (_COMMA.sub(".", text),)
    return groups + points if _OF_THE_US.search(text) else points + groups


def _without_comma(text: str) -> str:
    """What a figure with a comma may have been, to copy: both readings, where it has two."""
    readings = [one for one in comma_readings(text) if _PATTERN.fullmatch(one)]
    if len(readings) == 1:
        return f"write {readings[0]}"
    if len(readings) == 2:
        return f"write {readings[0]} or {readings[1]}, as it should be"
    return "write 15000 or 15 000, and 1.40"
