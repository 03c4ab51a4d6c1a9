"""Inputs of a user, each declared once for every command, file and page: kind, range, example, words and units.

A row of table ``inputs`` says what a quantity is wherever it comes in: option of a command, key of the project file,
field of the page, figure of the record. An ``Input`` is that row with the words of one place; a ``Group`` is inputs
that make one thing, such as conditions from pressure, altitude or barometer, and gas temperature.

=========================================  ================================================================
to                                         write
=========================================  ================================================================
add an input, or change its range          a row of ``tables/data/inputs.csv``; nothing else states the range
use it                                     ``ALTITUDE = Input(name="altitude", help='"1500 m"', metavar="H")``
call it other than its row                 ``Input(name="volume", of="dial")``: key and option follow ``name``
take what is no plain quantity             ``Input(name="rate", reader=read_rate_with_basis)``: text, key -> SI;
                                           with ``of`` as well it is held to that row by its reader
take a text as it is                       ``Input(name="category", reader=as_written, default="")``
need it, or have it many times             ``is_needed=True``; ``is_many=True``: a tuple, empty without it
a switch; one of True, False and None      ``is_flag=True``; that with ``flags=("--saturated/--dry",)``
one of a few words                         ``choices=("new", "reset")``
have a shell propose names                 ``proposals=gas_names`` (``cli/proposals.py``); of files, the metavar says it
make one thing of several                  ``Group(make=conditions, inputs=(PRESSURE, ALTITUDE, BAROMETER))``
forbid two together                        ``not_both=(("altitude", "barometer"),)``
any other rule between inputs              ``rules=function``: texts by name -> problems, from what was written
a group within a group                     ``parts={"gas": NEW_GAS}``: made first, handed to ``make`` by that name
a group that may be left out               ``is_optional=True``: None where none of its inputs was written
in a command                               ``@takes(gas=GAS, conditions=CONDITIONS)`` of ``cli/options.py``; texts as
                                           written, for notes that quote them: ``written("pressure")``
in the project file                        ``key.quantity("barometer", ...)`` at the field (``project/keys.py``)
on the page                                ``measured("barometer", ...)`` (``page/form.py``)
in the record                              column ``record``: the name the record has for it
check a number in SI (notebook)            ``input_row("altitude").problems(value, key)``
=========================================  ================================================================

>>> input_row("barometer").read("98.5 kPa")
98500.0
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any, Literal

from burnerlab.quantity.grammar import COMMA
from burnerlab.quantity.read import bounded, range_in, range_words, read
from burnerlab.quantity.show import in_unit
from burnerlab.quantity.units import Kind
from burnerlab.tables import Row, rows
from burnerlab.tables.problem import Problem, UserError, did_you_mean

Reader = Callable[[Any, str], Any]
"""What reads a value as written, with the name it has for the user. Raises UserError."""
Proposals = Callable[[Mapping[str, Any]], Sequence[str]]
"""What a shell proposes for it, from the texts on the line so far by name."""
Rules = Callable[[Mapping[str, Any]], Iterable[Problem]]
"""What is wrong between inputs, by their texts as written."""
Plain = Literal["NUMBER", "COUNT"]
LONGEST_VALUE = 200
NEEDS_UNIT = "needs a unit"


WITH_COMMA = re.compile(r"[+-]?\d+,\d+")
GROUPED = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


@dataclass(frozen=True, slots=True, kw_only=True)
class InputRow:
    """A row of table ``inputs``. low, high : accepted range [SI], infinite where the kind alone sets it."""

    name: str
    kind: Kind | Plain
    low: float
    high: float
    is_above: bool  # the low end itself is refused
    SI_unit: str
    example: str
    words: str  # what it is, in complaints and in the handbook
    label: str
    metric: str
    US: str
    record: str  # its name in the bench record, "" where that holds no such figure

    def unit(self, system: Literal["metric", "US"]) -> str:
        """The unit of a bare number on the page."""
        return self.metric if system == "metric" else self.US

    @property
    def span(self) -> str:
        """The range as plain numbers in SI.

        >>> input_row("altitude").span, input_row("port_count").span
        ('-430 to 5500 m', '1 to 100000')
        """
        if self.kind == "COUNT":
            return f"{self.low:.0f} to {self.high:.0f}"
        unit = "" if self.SI_unit in ("", "-") else f" {self.SI_unit}"
        if math.isinf(self.high):
            return f"above {self.low:g}{unit}" if self.is_above else f"{self.low:g}{unit} and more"
        return f"{self.low:g} to {self.high:g}{unit}"

    def range_in(self, system: Literal["metric", "US"]) -> str:
        """The range in the units of a reader; of a plain number as it is, "" where the kind alone sets it.

        >>> input_row("train_bore").range_in("metric"), input_row("altitude").range_in("US")
        ('1 mm to 300 mm', '-1411 ft to 18 045 ft')
        """
        if not isinstance(self.kind, Kind):
            return self.span
        low, high = (None if math.isinf(end) else end for end in (self.low, self.high))
        return (
            "" if low is None and high is None else range_in(system, self.kind, low, high, self.unit(system))
        )

    def holds(self, value: float) -> bool:
        """Whether a value [SI] is within the range."""
        return (value > self.low if self.is_above else value >= self.low) and value <= self.high

    def problems(self, value: float | None, key: str) -> list[Problem]:
        """What is wrong with a value [SI]; nothing of one within the range, or of None. Temperatures in C, as written.

        >>> input_row("altitude").problems(9000.0, "altitude")[0].accepted
        '-430 to 5500 m'
        >>> wrong = input_row("air_temperature").problems(1173.15, "room temperature")[0]
        >>> wrong.value, wrong.accepted
        ('900 C', '-40 C to 80 C')
        """
        if value is None or self.holds(value):
            return []
        value_text, accepted = f"{value:g} {self.SI_unit}", self.span
        if self.kind is Kind.TEMPERATURE:
            value_text = f"{in_unit(value, self.kind, 'C'):g} C"
            accepted = range_words(
                value_text, self.kind, *(None if math.isinf(end) else end for end in (self.low, self.high))
            )
        what = "is outside the accepted range"
        return [Problem(what, value_text, key, accepted=accepted, fix="check the unit")]

    def read(self, text: Any, key: str = "") -> Any:
        """A value as written, in SI. Raises UserError.

        >>> input_row("orifice_count").read("2"), input_row("oxygen").read("5 %")
        (2, 0.05)
        """
        if isinstance(self.kind, Kind):
            value = read(text, self.kind, key=key)
            if self.is_above and not value > self.low:
                accepted = f"above {self.low:g}"
                raise UserError(Problem(f"must be {accepted}", str(text), key, accepted=accepted))
            low, high = (None if math.isinf(end) else end for end in (self.low, self.high))
            return bounded(value, text, self.kind, key, low, high)
        try:
            return self.number(_plain_number(text))
        except UserError as error:
            problem = error.problems[0]
            made = Problem(problem.what, str(text), key, accepted=problem.accepted, fix=problem.fix)
            raise UserError(made) from None

    def number(self, value: Any) -> float | int:
        """A bare number of the project file. Raises UserError, without the key that the file knows."""
        is_whole = self.kind == "COUNT"
        if isinstance(value, bool) or not isinstance(value, int | float):
            if isinstance(value, str) and WITH_COMMA.fullmatch(value.strip()):
                raise complaint(COMMA, accepted=self.span, fix=_without_comma(value.strip(), is_whole))
            what = f"must be a number, got {words_of(value)}"
            raise complaint(what, accepted=self.span, fix="write the bare number")
        if not math.isfinite(value):
            raise complaint("must be finite", accepted=self.span, fix="write the figure")
        if is_whole and value != int(value):
            raise complaint("must be a whole number", accepted=self.span, fix="write a whole number")
        if not self.holds(value):
            what = f"must lie in {self.span} ({self.words})"
            raise complaint(what, accepted=self.span, fix="check the figure")
        return int(value) if is_whole else float(value)


def _without_comma(text: str, is_whole: bool) -> str:
    """The readings of a figure with a comma, to copy."""
    point, joined = text.replace(",", "."), text.replace(",", "")
    if GROUPED.fullmatch(text):
        return (
            f"write {joined}; {point} is no whole number"
            if is_whole
            else f"write {point} or {joined}, as it should be"
        )
    return "write a whole number" if is_whole else f"write {point}"


def _plain_number(text: Any) -> Any:
    """A number where the text is one, else the text."""
    if not isinstance(text, str) or not text.isascii():
        return text
    try:
        return float(text.strip())
    except ValueError:
        return text


def _row(row: Row) -> InputRow:
    kind: Kind | Plain = row["kind"] if row["kind"] in ("NUMBER", "COUNT") else Kind[row["kind"]]  # type: ignore[assignment]
    return InputRow(
        name=row["name"],
        kind=kind,
        low=row.number("low", -math.inf),
        high=row.number("high", math.inf),
        is_above=row["above"] == "yes",
        SI_unit=row["unit"],
        example=row["example"],
        words=row["words"],
        label=row["label"],
        metric=row["metric"],
        US=row["US"],
        record=row["record"],
    )


@cache
def input_rows() -> Mapping[str, InputRow]:
    """Every row of table ``inputs`` by name."""
    return {row["name"]: _row(row) for row in rows("inputs")}


def input_row(name: str) -> InputRow:
    """One row of table ``inputs``.

    >>> input_row("coefficient").high
    1.0
    """
    return input_rows()[name]


def as_written(text: Any, key: str) -> Any:
    """A text as it is: what the group makes of it, another room reads."""
    return text


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """An input with the words of one place (command, file, page); its row, or its own reader, says what is accepted.

    name : what it is called there; option and key follow it
    of : row of table ``inputs``, where that has another name; reader : for what is no plain quantity
    flags : options where not ``--name``; choices : the words accepted; default : as text, read like one
    missing : what is said of an input that is needed and not there
    """

    name: str
    of: str = ""
    reader: Reader | None = None
    flags: tuple[str, ...] = ()
    choices: tuple[str, ...] = ()
    help: str = ""
    metavar: str = ""
    example: str = ""
    proposals: Proposals | None = None
    missing: str = "is missing"
    default: str | None = None
    is_needed: bool = False
    is_flag: bool = False
    is_many: bool = False
    is_argument: bool = False

    @property
    def row(self) -> InputRow | None:
        """Its row of table ``inputs``; None for what is no plain quantity."""
        is_other = self.reader is not None or self.is_flag or bool(self.choices)
        return None if is_other and not self.of else input_row(self.of or self.name)

    @property
    def option(self) -> str:
        """What a user of a command calls it.

        >>> Input(name="gas_temperature").option, Input(name="file", metavar="FILE", is_argument=True).option
        ('--gas-temperature', 'FILE')
        """
        if self.is_argument:
            return self.metavar.strip("[]") or self.name.upper()
        return self.flags[0].partition("/")[0] if self.flags else "--" + self.name.replace("_", "-")

    def read(self, text: Any, key: str = "") -> Any:
        """What was written, in SI or as the thing it names. Raises UserError."""
        if self.is_flag:
            return text
        if self.is_many:
            return tuple(together(*(partial(self._read, one, key) for one in text)))
        return self._read(text, key)

    def _read(self, text: Any, key: str) -> Any:
        if self.choices:
            return _choice(text, self.choices, key)
        return self.reader(text, key) if self.reader else input_row(self.of or self.name).read(text, key)


def _choice(text: Any, known: tuple[str, ...], key: str) -> str:
    words = {word.lower(): word for word in known}
    if isinstance(text, str) and text.strip().lower() in words:
        return words[text.strip().lower()]
    fix = did_you_mean(text, known)
    raise UserError(
        Problem("is none of the words accepted", str(text), key, accepted=", ".join(known), fix=fix)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Inputs that make one thing: ``make`` takes each by name, None for one that was not written.

    A rule between inputs is applied to what was written, so that it is not lost when another cannot be read.
    """

    make: Callable[..., Any]
    inputs: tuple[Input, ...] = ()
    parts: Mapping[str, Group] = field(default_factory=dict)
    not_both: tuple[tuple[str, str], ...] = ()
    rules: Rules | None = None
    is_optional: bool = False

    def all_inputs(self) -> tuple[Input, ...]:
        """Its inputs in the order of the options: those of its first part, its own, those of its other parts."""
        first, *others = [part.all_inputs() for part in self.parts.values()] or [()]
        return (*first, *self.inputs, *(declaration for part in others for declaration in part))

    def read(self, written: Mapping[str, Any], key_of: Callable[[Input], str]) -> Any:
        """The thing, from texts by the name of their input; those not written are left out.

        key_of : what the user calls an input there. Raises UserError with the problems of all inputs.
        """
        entries = {
            declaration.name: written[declaration.name]
            for declaration in self.all_inputs()
            if declaration.name in written
        }
        if self.is_optional and not entries:
            return None
        problems = [*self._both(entries, key_of), *(self.rules(entries) if self.rules else ())]
        values: dict[str, Any] = {}
        for name, part in self.parts.items():
            _keep(values, name, problems, partial(part.read, entries, key_of))
        for declaration in self.inputs:
            _keep(
                values,
                declaration.name,
                problems,
                partial(read_input, declaration, entries, key_of(declaration)),
            )
        if problems:
            raise UserError(problems)
        return self.make(**values)

    def _both(self, entries: Mapping[str, Any], key_of: Callable[[Input], str]) -> Iterable[Problem]:
        keys = (
            {declaration.name: key_of(declaration) for declaration in self.all_inputs()}
            if self.not_both
            else {}
        )
        for first, second in self.not_both:
            if first in entries and second in entries:
                yield Problem("give one of them, not both", key=f"{keys[first]} and {keys[second]}")


def read_input(declaration: Input, entries: Mapping[str, Any], key: str) -> Any:
    """One input of the entries, its default where it was not. Raises UserError where it is needed."""
    text = entries.get(declaration.name, declaration.default)
    if text is not None:
        return declaration.read(text, key)
    if declaration.is_needed:
        raise UserError(Problem(declaration.missing, key=key, fix=_example(declaration, key)))
    return (
        ()
        if declaration.is_many
        else None
        if not declaration.is_flag or "/" in "".join(declaration.flags)
        else False
    )


def _example(declaration: Input, key: str) -> str:
    example = declaration.example or (declaration.row.example if declaration.row else "")
    return f'e.g. {key} "{example}"' if example and not declaration.is_argument else ""


def _keep(values: dict[str, Any], name: str, problems: list[Problem], reader: Callable[[], Any]) -> None:
    try:
        values[name] = reader()
    except UserError as error:
        problems.extend(error.problems)


def together(*readers: Callable[[], Any]) -> list[Any]:
    """The results of all readers; when some cannot read, the problems of all of them in one error."""
    values: dict[str, Any] = {}
    problems: list[Problem] = []
    for number, reader in enumerate(readers):
        _keep(values, str(number), problems, reader)
    if problems:
        raise UserError(problems)
    return list(values.values())


def complaint(what: str, *, accepted: str = "", fix: str = "") -> UserError:
    """A complaint about a value whose key and line the reader of the file knows."""
    return UserError(Problem(what, accepted=accepted, fix=fix))


def words_of(value: Any) -> str:
    """What a TOML value is, in words."""
    words = {
        bool: "a boolean",
        int: "a number",
        float: "a number",
        str: "a text",
        list: "a list",
        dict: "a table",
    }
    if isinstance(value, datetime.date | datetime.time):
        return "a date or time"
    return words.get(type(value), "something else")


def text_with_unit(value: Any, what: str, example: str) -> str:
    """A text of sane length, or a complaint that says what came instead."""
    accepted, fix = f'{what} such as "{example}"', f'write it as text: "{example}"'
    if isinstance(value, int | float) and not isinstance(value, bool):
        if not math.isfinite(value):
            raise complaint("must be finite", accepted=accepted, fix="write the figure")
        raise complaint(NEEDS_UNIT, accepted=accepted, fix=fix)
    if not isinstance(value, str):
        what = f"must be {what}, got {words_of(value)}"
        raise complaint(what, accepted=f'text such as "{example}"', fix=f'write "{example}"')
    if len(value) > LONGEST_VALUE:
        raise complaint("text is too long", accepted=f"{LONGEST_VALUE} characters", fix=f'write "{example}"')
    return value
