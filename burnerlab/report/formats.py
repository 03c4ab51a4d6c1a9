"""Every table of a conversion as rows headed by their keys, as one JSON document and as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, is_dataclass, replace
from typing import Any, Literal

from burnerlab.appliance.conversion.evaluation_result import (
    Evaluation,
    FlameAt,
    PressureAt,
    ShutterSetting,
    WarmUp,
    Which,
)
from burnerlab.appliance.conversion.refusal import not_to_fit, refusals
from burnerlab.appliance.conversion.result import (
    BurnerConversion,
    Conversion,
    DrillChoice,
    Finding,
    PolicyBore,
)
from burnerlab.quantity import Kind, System, outputs
from burnerlab.quantity.outputs import Column, columns, ending, output, plain, row
from burnerlab.report.sheet.checks import outside_checks, outside_lines
from burnerlab.report.sheet.terms import (
    WordedText,
    caution_words_of,
    language_of,
    lists_in,
    reworded,
    whole_words_of,
)
from burnerlab.report.sheet.units import finding_in, texts_in
from burnerlab.report.sheet.wording import STATEMENT
from burnerlab.tables.cautions import cautions

# Every table of a conversion for CSV, workbook and data frame: rows of declared figures, headed by their
# keys.

Value = str | float | bool | None
END_WORDS = ("least", "most")  # of a band


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultFigure:
    """One declared figure of a result, as a cell of a table."""

    key: str
    label: str
    unit: str
    value: Value
    column: Column
    is_end: bool = False  # of a band


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerRow:
    """A burner of a conversion, and its checks that are outside once it is changed, its heat input aside."""

    burner: BurnerConversion = field(metadata=output("burner", is_part=True))
    outside_checks: tuple[str, ...] = field(metadata=output("checks outside, heat input aside"))
    not_to_fit: str = field(default="", metadata=output("none fits"))  # why its drill is not to be fitted


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceRow:
    """A drill near the exact diameter of a burner."""

    burner: str = field(metadata=output("burner"))
    choice: DrillChoice = field(metadata=output("choice", is_part=True))
    aim_gross_W: float = field(metadata=output("aim", Kind.POWER, basis="gross"))
    is_taken: bool = field(metadata=output("taken"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureRow:
    """The pressures of a burner on one of the gases."""

    which_gas: Which = field(metadata=output("gas"))
    at: PressureAt = field(metadata=output("pressures", is_part=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameRow:
    """A burner on a gas at one rate."""

    burner: str = field(metadata=output("burner"))
    at: FlameAt = field(metadata=output("flame", is_part=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmUpRow:
    """A burner on a gas from a cold start."""

    burner: str = field(metadata=output("burner"))
    at: WarmUp = field(metadata=output("from a cold start", is_part=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterRow:
    """The air shutter of a burner."""

    burner: str = field(metadata=output("burner"))
    setting: ShutterSetting = field(metadata=output("shutter", is_part=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyBoreRow:
    """The bore of a burner under an altitude policy."""

    policy: str = field(metadata=output("altitude policy"))  # "" is the bore for sea level
    bore: PolicyBore = field(metadata=output("bore", is_part=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultTable:
    """Results of one kind, a row each."""

    name: str  # of the page
    title: str
    lead: str
    rows: Sequence[Any]
    first: tuple[str, ...] = ()  # keys that stand first, the others after them in the order of declaration
    missing: Literal["", "not evaluated"] = ""  # said where a figure has no value

    def figures(self, system: System = "metric") -> list[list[ResultFigure]]:
        """The cells of each row, of the same keys in the same order, in the units of the reader."""
        return [
            [in_system(cell, system) for cell in _first(figures(_in_units(each, system)), self.first)]
            for each in self.rows
        ]


HEADLINE_FIRST = (
    "name", "kind", "count", "from_drill", "from_orifice_mm", "drill", "drill_diameter_mm", "to_orifice_mm",
    "rate_gross_kW", "aim_gross_kW", "heat_input_gross_kW", "deviation_case", "deviation_percent",
    "deviation_low_percent", "deviation_high_percent", "verdict", "evidence", "outside_checks",
)  # fmt: skip


def burner_rows(c: Conversion) -> tuple[BurnerRow, ...]:
    """A row for each kind of burner."""
    why = refusals(c)
    return tuple(
        BurnerRow(burner=b, outside_checks=outside_checks(c, b), not_to_fit=why.get(b.name, ""))
        for b in c.burners
    )


def burner_table(c: Conversion) -> ResultTable:
    """The burners of a conversion: what a sheet is read for first, then every other figure."""
    lead = "Figures of one burner of its kind, volumes at the reference state."
    return ResultTable(name="Burners", title="Burners", lead=lead, rows=burner_rows(c), first=HEADLINE_FIRST)


def result_tables(c: Conversion) -> tuple[ResultTable, ...]:
    """Everything else of a conversion that comes in rows; without the tables that would be empty."""
    refused = not_to_fit(c)
    choices = [
        ChoiceRow(
            burner=b.name,
            choice=d,
            aim_gross_W=b.aim_gross_W,
            is_taken=d.mark == b.choice.mark and b.name not in refused,
        )
        for b in c.burners
        for d in b.choices
    ]
    bores = [] if c.altitude is None else [c.altitude.sea_level, *c.altitude.rows]
    tables = (
        ResultTable(
            name="Choices",
            title="Drills near the exact diameter",
            lead="Heat input of one burner with the new gas.",
            rows=choices,
        ),
        *_evaluated(c.evaluation),
        ResultTable(
            name="Altitude",
            title="Bores by altitude policy",
            lead="Rows without a policy are for sea level.",
            rows=[PolicyBoreRow(policy=one.policy, bore=bore) for one in bores for bore in one.bores],
        ),
        ResultTable(
            name="Pressure couple",
            title="Heat input of both gases of the pressure couple",
            lead="One orifice for both gases, sized on the reference gas and never enlarged for the other.",
            rows=() if c.pressure_couple is None else c.pressure_couple.inputs,
        ),
        ResultTable(
            name="Checks in full",
            title="Checks in full",
            lead="Each value against its range; the verdict is a word.",
            rows=c.findings,
        ),
    )
    return tuple(table for table in tables if table.rows)


def _evaluated(evaluation: Evaluation | None) -> Iterator[ResultTable]:
    if evaluation is None:
        return
    yield ResultTable(
        name="Pressure",
        title="Pressure at each burner",
        lead="Gauge, before the orifice; heat inputs of one burner.",
        rows=[
            PressureRow(which_gas=one.which_gas, at=at) for one in evaluation.pressures for at in one.burners
        ],
        first=("burner", "which_gas"),
    )
    yield ResultTable(
        name="Flame",
        title="Primary air and flame",
        lead="A margin of 1 is the limit, below 1 it is crossed; test required.",
        rows=[FlameRow(burner=one.burner, at=at) for one in evaluation.flames for at in one.rates],
        missing="not evaluated",
    )
    yield ResultTable(
        name="Warm-up",
        title="From a cold start",
        lead="A margin of 1 is the limit, below 1 it is crossed: lift cold, yellow tips hot, light-back on hot metal.",
        rows=[WarmUpRow(burner=one.burner, at=at) for one in evaluation.flames for at in one.warm_ups],
        missing="not evaluated",
    )
    yield ResultTable(
        name="Shutter",
        title="Air shutters",
        lead="Openings that hold every limit known on both gases.",
        rows=[
            ShutterRow(burner=one.burner, setting=one.shutter)
            for one in evaluation.flames
            if one.shutter is not None
        ],
    )
    yield ResultTable(
        name="Tile",
        title="Tile",
        lead="A balance of heat on the glowing face, an estimate; test required.",
        rows=evaluation.tiles,
        missing="not evaluated",
    )
    yield ResultTable(
        name="Exchange",
        title="Exchange of the gas at the same orifice",
        lead="No method decides alone.",
        rows=evaluation.exchange.readings,
    )


def figures(result: Any, key: str = "", label: str = "") -> list[ResultFigure]:
    """Every declared figure of a result that fits a cell, those of its parts among them; rows within are left out.

    key, label : what goes before those of a part that has a name of its own, ``headline_verdict``
    """
    made: list[ResultFigure] = []
    for column in columns(type(result)):
        value = column.of(result)
        if column.declared.is_part:
            made += figures(value, key, label) if value is not None else ()
        elif is_dataclass(value) and not column.ends:
            made += figures(value, f"{key}{column.key}_", f"{label}{column.label}: ")
        elif not (isinstance(value, tuple | list) and any(map(is_dataclass, value))):
            made += _figures(column, value, key, label)
    return made


def _in_units(result: Any, system: System) -> Any:
    """A check in the units of the reader, which stand in a cell of their own; any other result as it is."""
    return finding_in(result, system) if isinstance(result, Finding) else result


def in_system(cell: ResultFigure, system: System) -> ResultFigure:
    """A cell in the units of the reader; words, and figures without a unit, as they are."""
    column = cell.column.in_system(system)
    if column is cell.column or isinstance(cell.value, str):
        return cell
    old, new = (ending(each.unit) for each in (cell.column, column))
    value = cell.value
    if value is not None:
        value = column.in_unit(value * cell.column.factor + cell.column.offset)
    return replace(cell, key=cell.key.removesuffix(old) + new, unit=column.unit, value=value, column=column)


def _figures(column: Column, value: Any, key: str, label: str) -> Iterator[ResultFigure]:
    """The cell of a figure, or the three of a band."""
    made = ResultFigure(
        key=key + column.key, label=label + column.label, unit=column.unit, value=None, column=column
    )
    if not column.ends:
        yield replace(made, value=_cell(column, value))
        return
    expected, *ends = (None, None, None) if value is None else (value.value, value.low, value.high)
    yield replace(made, value=column.in_unit(expected))
    for end, name, word in zip(ends, column.ends, END_WORDS, strict=True):
        yield replace(
            made, key=key + name, label=f"{made.label}, {word}", value=column.in_unit(end), is_end=True
        )


def _cell(column: Column, value: Any) -> Value:
    """What fits a cell: several words in one, the parts of a mixture with their shares."""
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {share:.4g}" for name, share in value.items()) or None
    if isinstance(value, tuple | list):
        text = "; ".join(map(str, value))
        return WordedText(text) if any(isinstance(one, WordedText) for one in value) else text or None
    made: Value = column.in_unit(value)
    return made


def _first(cells: Iterable[ResultFigure], keys: tuple[str, ...]) -> list[ResultFigure]:
    place = {key: number for number, key in enumerate(keys)}
    return sorted(cells, key=lambda cell: place.get(cell.key, len(place)))


# A conversion as one JSON object whose keys carry their units.

NAME = "convert"


def to_json(c: Conversion) -> dict[str, Any]:
    """Every declared figure of a conversion by its key; the heat inputs of a burner are for one of its kind.

    A value that was not evaluated is None, never NaN.
    """
    return row(c) | {
        "burners": [row(one) for one in burner_rows(c)],
        "outside": list(outside_lines(c)),
        "statement": STATEMENT,
    }


def json_text(c: Conversion) -> str:
    """The JSON file of a conversion."""
    return outputs.json_text(NAME, to_json(c))


# The tables of a conversion as CSV: numbers as numbers, text that can never become a formula.

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def text_cell(text: str) -> str:
    """Text a spreadsheet reads as text: one that starts like a formula gets a quote before it.

    >>> text_cell("=1+1"), text_cell("griddle tube"), text_cell("  @x")
    ("'=1+1", 'griddle tube', "'  @x")
    """
    first = text.lstrip(" \n\v\f\u00a0\ufeff")
    return "'" + text if first.startswith(FORMULA_STARTS) else text


def _csv_out_cell(value: object, words: Callable[[str], str] = str) -> str | int | float:
    if isinstance(value, bool):
        return words("yes" if value else "no")
    written = plain(value)
    if written is None:
        return ""
    if isinstance(written, int | float):
        return written
    return text_cell(words(written if isinstance(written, str) else str(written)))


def csv_text(c: Conversion, system: System = "metric") -> str:
    """A row for each burner, the facts of the conversion, then every other table below its title; heads are keys.

    system : of the units in texts; a figure stands in the one unit that its key ends in, as in JSON
    Texts are in the language of the reader, each whole or in English whole, in the words of a region; keys stay.
    Volumes are at the reference state that stands among the facts. The statement and the cautions are rows of text.
    """
    language = language_of(c)
    words, exact = whole_words_of(c, language), caution_words_of(language, c.region)
    c = lists_in(texts_in(c, system), words)
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")  # RFC 4180
    _write(writer, burner_table(c), words)
    writer.writerow([])
    for fact in figures(c):
        writer.writerow([fact.key, _csv_out_cell(fact.value, words)])
    writer.writerow(["statement", exact(STATEMENT)])
    for table in result_tables(c):
        writer.writerow([])
        writer.writerow([words(table.title)])
        _write(writer, table, words)
    writer.writerow([])
    for entry in c.not_evaluated:
        writer.writerow(
            [
                words("not evaluated"),
                *(_csv_out_cell(text, words) for text in (entry.topic, entry.burner, entry.why)),
            ]
        )
    for one in reworded(cautions(), exact):
        writer.writerow([one.word, one.id, _csv_out_cell(one.text)])
    return stream.getvalue()


def rows_csv_text(rows: Sequence[Mapping[str, Any]]) -> str:
    """Rows of one shape as CSV: their keys as heads, figures of twelve digits.

    >>> rows_csv_text([{"burner": "ring", "heat_input_gross_kW": 1 / 3, "choked": False}]).splitlines()
    ['burner,heat_input_gross_kW,choked', 'ring,0.333333333333,no']
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")  # RFC 4180
    writer.writerow(list(rows[0]))
    writer.writerows([_csv_out_cell(value) for value in row.values()] for row in rows)
    return stream.getvalue()


def _write(writer: Any, table: ResultTable, words: Callable[[str], str] = str) -> None:
    rows = table.figures()
    writer.writerow([figure.key for figure in rows[0]])
    for cells in rows:
        writer.writerow([_csv_out_cell(figure.value, words) for figure in cells])
