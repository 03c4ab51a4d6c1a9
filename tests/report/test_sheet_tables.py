"""Workbook, CSV and JSON: numbers as numbers, text as text, units in the keys."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest

from burnerlab.appliance.conversion.result import Conversion
from burnerlab.report import build_sheet, to_json, write_sheet
from burnerlab.report.formats import csv_text, json_text, text_cell
from burnerlab.report.sheet.blocks import Table
from burnerlab.report.xlsx import HEAD_ROW, xlsx_bytes

SHEETS = [
    "Calculation",
    "Burners",
    "Choices",
    "Air",
    "Checks in full",
    "Checks",
    "Not evaluated",
    "Worked",
    "Basis and sources",
    "Every figure",
]
SHEETS += ["Cautions"]


@pytest.fixture
def workbooks(conversion: Conversion) -> tuple[object, object]:
    from openpyxl import load_workbook

    content = xlsx_bytes(conversion, build_sheet(conversion))
    return load_workbook(io.BytesIO(content)), load_workbook(io.BytesIO(content), data_only=True)


def column(sheet: object, head: str) -> int:
    heads = [cell.value for cell in sheet[HEAD_ROW + 1]]  # type: ignore[index]
    return heads.index(head) + 1


def test_the_workbook_has_its_sheets_and_numbers(
    workbooks: tuple[object, object], conversion: Conversion
) -> None:
    live, values = workbooks
    assert live.sheetnames == SHEETS  # type: ignore[attr-defined]
    burners = values["Burners"]  # type: ignore[index]
    for row, burner in enumerate(conversion.burners, start=HEAD_ROW + 2):
        for head, expected in (
            ("Burner", burner.name),
            ("Rating, gross [kW]", burner.rate_gross_W / 1e3),
            ("Drill diameter [mm]", burner.choice.diameter_m * 1e3),
            ("Area, new / present [-]", burner.area_ratio),
            ("Deviation, the worse, against aim [%]", 100 * burner.deviation),
            ("At nominal pressure, new, net [kW]", burner.predicted_net_W / 1e3),
        ):
            value = burners.cell(row, column(burners, head)).value
            assert value == (pytest.approx(expected, rel=1e-9) if isinstance(expected, float) else expected)


def test_the_formulas_of_the_workbook_give_the_values_beside_them(workbooks: tuple[object, object]) -> None:
    """A small reader of the formulas written: cells, + - * / ^, SUM and SUMPRODUCT."""
    import re

    live, values = workbooks
    seen: dict[str, int] = {}
    for name in ("Burners", "Choices"):
        sheet, known = live[name], values[name]  # type: ignore[index]

        def cells(span: str, known: object = known) -> list[float]:
            return [cell[0].value or 0.0 for cell in known[span]]  # type: ignore[index]

        for row in sheet.iter_rows():
            for cell in row:
                if not (isinstance(cell.value, str) and cell.value.startswith("=")):
                    continue
                text = re.sub(r"SUM\((\w+:\w+)\)", lambda m: str(sum(cells(m[1]))), cell.value[1:])
                text = re.sub(
                    r"SUMPRODUCT\((\w+:\w+),(\w+:\w+)\)",
                    lambda m: str(sum(a * b for a, b in zip(cells(m[1]), cells(m[2]), strict=True))),
                    text,
                )
                text = re.sub(r"\b([A-Z]{1,2}\d+)\b", lambda m: f"({known[m[1]].value})", text)  # noqa: B023
                assert re.fullmatch(r"[\d.e()+*/^-]+", text), cell.value
                assert eval(text.replace("^", "**")) == pytest.approx(
                    known[cell.coordinate].value, rel=1e-9, abs=1e-9
                )
                seen[name] = seen.get(name, 0) + 1
    assert seen["Burners"] > 40
    assert seen["Choices"] == len(list(live["Choices"].iter_rows(min_row=HEAD_ROW + 2)))  # type: ignore[index]


def test_what_a_user_wrote_is_never_a_formula(hostile: Conversion) -> None:
    from openpyxl import load_workbook

    content = xlsx_bytes(hostile, build_sheet(hostile))
    own = {"=1+1"}
    found = 0
    for sheet in load_workbook(io.BytesIO(content)):
        assert not sheet._hyperlinks
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value in own:
                    assert cell.data_type == "s" or cell.quotePrefix, (sheet.title, cell.coordinate)
                    found += 1
    assert found > 10


def test_the_workbook_is_the_same_twice(conversion: Conversion) -> None:
    sheet = build_sheet(conversion)
    assert xlsx_bytes(conversion, sheet) == xlsx_bytes(conversion, sheet)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_text_that_starts_like_a_formula_gets_a_quote(start: str, conversion: Conversion) -> None:
    assert text_cell(start + "1") == "'" + start + "1"
    assert text_cell(" " + start + "1").startswith("'")
    named = replace(conversion.burners[0], name=start + "SUM(A1)")
    rows = list(csv.reader(io.StringIO(csv_text(replace(conversion, burners=(named,))), newline="")))
    assert rows[1][0].startswith("'")


def test_csv_numbers_stay_numbers_also_when_negative(conversion: Conversion) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_text(conversion))))
    deviations = [float(row["deviation_percent"]) for row in rows[: len(conversion.burners)]]
    assert deviations == pytest.approx([100 * b.deviation for b in conversion.burners])
    assert min(deviations) < 0
    unknown = replace(conversion.burners[0], predicted_low_gross_W=None, to_air_m3_per_s=None)
    row = next(csv.DictReader(io.StringIO(csv_text(replace(conversion, burners=(unknown,))))))
    assert row["predicted_low_gross_kW"] == ""


def test_hostile_csv_has_no_cell_a_spreadsheet_would_run(hostile: Conversion) -> None:
    for row in csv.reader(io.StringIO(csv_text(hostile), newline="")):
        for cell in row:
            if cell.lstrip().startswith(("=", "+", "-", "@")):
                float(cell)  # only a number may start so


def test_json_has_the_promised_keys_and_no_nan(conversion: Conversion) -> None:
    result = json.loads(json_text(conversion), parse_constant=lambda word: pytest.fail(word))
    assert {"burners", "findings", "not_evaluated", "cautions"} <= set(result)
    promised = {"name", "from_orifice_mm", "to_orifice_mm", "drill", "area_ratio", "rate_gross_kW"}
    promised |= {"predicted_gross_kW", "deviation_percent", "to_air_m3_per_h"}
    for row, burner in zip(result["burners"], conversion.burners, strict=True):
        assert promised <= set(row)
        assert row["to_orifice_mm"] == pytest.approx(burner.to_orifice_m * 1e3, rel=1e-11)
        assert row["predicted_gross_kW"] == pytest.approx(burner.predicted_gross_W / 1e3, rel=1e-11)
    for row in result["findings"]:
        assert {"topic", "verdict", "value", "low", "high", "source"} <= set(row)


def test_json_writes_null_for_what_is_not_known(conversion: Conversion) -> None:
    holes = replace(conversion.burners[0], to_air_m3_per_s=None, predicted_low_gross_W=math_nan())
    row = json.loads(json_text(replace(conversion, burners=(holes,))))["burners"][0]
    assert row["to_air_m3_per_h"] is None
    assert row["predicted_low_gross_kW"] is None


def test_the_low_rate_is_told_in_every_table_of_burners(conversion: Conversion) -> None:
    from openpyxl import load_workbook

    rated = [None if b.turndown is None else b.turndown * b.rate_gross_W / 1e3 for b in conversion.burners]
    assert None in rated
    assert len(set(rated)) > 1
    sheet = build_sheet(conversion)
    (inputs,) = (
        block
        for block in sheet.section("inputs").blocks
        if isinstance(block, Table) and block.caption.startswith("Heat input")
    )
    place = [head.title for head in inputs.columns].index("Low rate")
    assert all(len(row) == len(inputs.columns) for row in (*inputs.rows, inputs.total))
    shown = [row[place] for row in inputs.rows]
    assert [cell.value for cell in shown] == pytest.approx(rated)
    assert {cell.text for cell in shown if cell.value is None} == {"not given"}

    page = load_workbook(io.BytesIO(xlsx_bytes(conversion, sheet)), data_only=True)["Burners"]
    at = column(page, "Low rate, gross [kW]")
    assert [page.cell(HEAD_ROW + 2 + i, at).value for i in range(len(rated))] == pytest.approx(rated)
    burners = json.loads(json_text(conversion))["burners"]
    assert [b["low_rate_gross_kW"] for b in burners] == pytest.approx(rated)
    table = list(csv.DictReader(io.StringIO(csv_text(conversion))))[: len(rated)]
    assert [float(b["low_rate_gross_kW"] or "nan") for b in table] == pytest.approx(
        [math_nan() if one is None else one for one in rated], nan_ok=True
    )


def test_no_low_rate_no_column(conversion: Conversion) -> None:
    none = replace(conversion, burners=tuple(replace(b, turndown=None) for b in conversion.burners))
    heads = [
        head.title
        for block in build_sheet(none).section("inputs").blocks
        if isinstance(block, Table)
        for head in block.columns
    ]
    assert heads
    assert "Low rate" not in heads


def math_nan() -> float:
    return float("nan")


def test_every_format_is_made_where_air_and_range_are_not_known(
    conversion: Conversion, tmp_path: Path
) -> None:
    bare = {name: None for name in conversion.burners[0].__dataclass_fields__ if "air" in name}
    bare |= {"predicted_low_gross_W": None, "predicted_high_gross_W": None, "primary_aeration_after": None}
    burners = tuple(replace(b, **bare) for b in conversion.burners)  # type: ignore[arg-type]
    gas = replace(conversion.to_gas, composition={}, kind="declared", stoichiometric_air_m3_per_m3=None,
                  ultimate_CO2=None, adiabatic_flame_temperature_K=None)  # fmt: skip
    unknown = replace(
        conversion, burners=burners, to_gas=gas, to_gauge_pressure_low_Pa=None, to_gauge_pressure_high_Pa=None
    )
    assert len(write_sheet(unknown, tmp_path).files) == 7
    assert "not evaluated" in (tmp_path / "market-cart-range-to-propane.html").read_text(encoding="utf-8")
    assert to_json(unknown)["burners"][0]["predicted_low_gross_kW"] is None
