"""One headline: terminal, JSON, CSV, workbook, sheet and data frame state the same deviation and the same verdict."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import defaultdict
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from appliance_texts import behind_regulator, burner_text

import burnerlab as bl
from burnerlab.appliance import Conversion, convert, read_appliance_text
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.report import build_sheet
from burnerlab.report.formats import csv_text, json_text
from burnerlab.report.html import html_text
from burnerlab.report.sheet.blocks import MASS_FLOW, percent
from burnerlab.report.terminal import terminal_text
from burnerlab.report.xlsx import HEAD_ROW, xlsx_bytes

FILE = behind_regulator(
    "three of a kind",
    burner_text("alpha", "12.5 kBtu/h", "#54")
    + burner_text("bravo", "14.5 kBtu/h", "#53", shape="textbook table")
    + burner_text("charlie", "17.4 kBtu/h", "#51", "ring", "rounded"),
    valve="4 mm",
    set="7.6 in w.c.",
    droop="1.3 in w.c.",
    rated="44 kBtu/h",
)
Stated = dict[str, tuple[float, float, float, str]]
"""By burner: deviation with every burner on, alone and the worse, in per cent to a tenth, and the verdict."""


@pytest.fixture(scope="module")
def case() -> Conversion:
    return evaluate_conversion(convert(read_appliance_text(FILE), "propane", 2740.0))


def tenth(*values: Any) -> tuple[float, ...]:
    return tuple(round(float(str(value).replace("\u2212", "-").replace("%", "")), 1) for value in values)


def of_json(c: Conversion) -> Stated:
    keys = ("deviation_all_on_percent", "deviation_alone_percent", "deviation_percent")
    rows = json.loads(json_text(c))["burners"]
    return {b["name"]: (*tenth(*(b[key] for key in keys)), b["verdict"]) for b in rows}  # type: ignore[misc]


def of_csv(c: Conversion) -> Stated:
    keys = ("deviation_all_on_percent", "deviation_alone_percent", "deviation_percent")
    rows = list(csv.DictReader(io.StringIO(csv_text(c))))[: len(c.burners)]
    return {b["name"]: (*tenth(*(b[key] for key in keys)), b["verdict"]) for b in rows}  # type: ignore[misc]


def of_frame(c: Conversion) -> Stated:
    keys = ("deviation_all_on_percent", "deviation_alone_percent", "deviation_percent")
    rows = bl.to_frame(c).to_dict("records")
    return {b["name"]: (*tenth(*(b[key] for key in keys)), b["verdict"]) for b in rows}  # type: ignore[misc]


def of_workbook(c: Conversion) -> Stated:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(xlsx_bytes(c, build_sheet(c))), data_only=True)["Burners"]
    heads = [cell.value for cell in book[HEAD_ROW + 1]]
    keys = (
        "All on, against aim [%]",
        "Its kind on, against aim [%]",
        "Deviation, the worse, against aim [%]",
    )
    found = {}
    for row in range(HEAD_ROW + 2, HEAD_ROW + 2 + len(c.burners)):
        cell = {head: book.cell(row, place + 1).value for place, head in enumerate(heads)}
        found[str(cell["Burner"])] = (*tenth(*(cell[key] for key in keys)), str(cell["Verdict"]))
    return found  # type: ignore[return-value]


def of_html(c: Conversion) -> Stated:
    page = unescape(html_text(build_sheet(c), defaultdict(str)))
    table = next(t for t in re.findall(r"(?s)<table.*?</table>", page) if "Verdict (±5 %)" in t)
    found = {}
    for row in re.findall(r"(?s)<tr.*?</tr>", table):
        cells = [re.sub(r"(?s)<[^>]+>", "|", one) for one in re.findall(r"(?s)<t[dh].*?</t[dh]>", row)]
        parts = [[part.strip() for part in cell.split("|") if part.strip()] for cell in cells]
        name = parts[0][0] if parts and parts[0] else ""
        if name in ("alpha", "bravo", "charlie"):
            all_on, alone, worse = (parts[place][0] for place in (-5, -4, -3))
            found[name] = (*tenth(all_on, alone, worse), parts[-2][0])
    return found  # type: ignore[return-value]


def of_terminal(c: Conversion) -> Stated:
    found = {}
    for line in terminal_text(c, width=100).splitlines():
        row = re.match(
            r"(alpha|bravo|charlie) .*? \d\.\d+ +([+-]\d+\.\d) +([+-]\d+\.\d) .* (\w+)$", line.strip()
        )
        if row:
            pair = tenth(row[2], row[3])
            worse = max(pair, key=abs)
            found[row[1]] = (*pair, worse, row[4].lower())
    return found  # type: ignore[return-value]


@pytest.mark.parametrize(
    "form", [of_csv, of_frame, of_workbook, of_html, of_terminal], ids=lambda f: f.__name__
)
def test_every_form_states_what_the_json_states(
    case: Conversion, form: Callable[[Conversion], Stated]
) -> None:
    expected = of_json(case)
    assert {verdict for *_, verdict in expected.values()} > {"near"}  # more than one verdict is at stake
    assert len({figures for *figures, _ in map(list, expected.values()) for figures in [tuple(figures)]}) == 3
    assert form(case) == expected


def test_the_checks_say_the_same_as_the_headline(case: Conversion) -> None:
    for burner in case.burners:
        (found,) = [f for f in case.findings if f.topic == "heat input" and f.burner == burner.name]
        assert found.verdict == burner.headline.verdict
        assert found.value == pytest.approx(100 * burner.deviation)
    assert not [f for f in case.findings if f.topic == "heat input in operation" and f.which_gas == "new"]


def test_the_range_stands_in_the_head_and_no_verdict_is_counted(case: Conversion) -> None:
    text = terminal_text(case, width=80)
    assert "(±5 %)" in text.split("─")[0]
    assert max(len(line) for line in text.splitlines()) <= 80
    assert text.count("Evidence:") == 1
    said = " ".join(text.split("Evidence: ")[1].split(". ")[0].split())
    assert "Cd 0.90 recalled, 0.85 to 0.95" in said
    assert "Cd 0.90 published, no interval stated: no input is within" in said
    assert said.count("measure one burner") == 1
    assert not re.search(r"\d+ within", text)


def test_a_drill_can_still_be_compared(case: Conversion) -> None:
    """Its own deviation at the nominal pressure stays beside the headline."""
    for burner, row in zip(case.burners, json.loads(json_text(case))["burners"], strict=True):
        assert row["drill_deviation_percent"] == pytest.approx(100 * burner.drill_deviation)
        assert f"{burner.choice.drill} {100 * burner.drill_deviation:+.1f}" in terminal_text(case)


def test_one_figure_of_area_and_gas_in_every_format(case: Conversion) -> None:
    """Area of the drill taken; gas with every burner on, of each burner and of all together."""
    from openpyxl import load_workbook

    made = json.loads(json_text(case))
    page = build_sheet(case)
    sheet = load_workbook(io.BytesIO(xlsx_bytes(case, page)), data_only=True)["Burners"]
    rows = list(sheet.iter_rows(values_only=True))
    heads = [str(head) for head in rows[HEAD_ROW]]
    area, mass = heads.index("Area, new / present [-]"), heads.index("Gas of one burner, by mass [kg/h]")
    printed = csv.DictReader(io.StringIO(csv_text(case)))
    (inputs,) = [one.blocks[0] for one in page.sections if one.key == "inputs"]
    place = [column.title for column in inputs.columns].index("Area, new / present")  # type: ignore[union-attr]
    per_kg = case.to_gas.gross_heating_value_J_per_kg
    for number, (burner, line) in enumerate(zip(case.burners, printed, strict=False)):
        assert burner.headline.deviation_all_on is not None
        wanted = (burner.choice.diameter_m / burner.from_orifice_m) ** 2
        stated = (made["burners"][number]["area_ratio"], float(line["area_ratio"]), rows[HEAD_ROW + 1 + number][area],
                  inputs.rows[number][place].value)  # type: ignore[union-attr]  # fmt: skip
        assert stated == pytest.approx([wanted] * 4, rel=1e-9)
        gas = 3600 * burner.aim_gross_W * (1 + burner.headline.deviation_all_on) / per_kg
        flows = (made["burners"][number]["mass_flow_kg_per_h"], float(line["mass_flow_kg_per_h"]),
                 rows[HEAD_ROW + 1 + number][mass])  # fmt: skip
        assert flows == pytest.approx([gas] * 3, rel=1e-9)
    whole = 3600 * case.headline.heat_input_gross_W / per_kg
    totals = (made["total_mass_flow_kg_per_h"], rows[HEAD_ROW + 1 + len(case.burners)][mass])
    assert totals == pytest.approx([whole] * 2, rel=1e-9)
    text = MASS_FLOW.inline(whole / 3600, "metric").partition(" (")[0]
    (fact,) = [one for one in page.headline if one.label == "Gas used, by mass"]
    assert text.startswith(fact.cell.text)
    assert text in " ".join(terminal_text(case).split())


def test_under_an_altitude_policy_the_total_states_aim_and_rating() -> None:
    found = convert(read_appliance_text(FILE), "propane", 2740.0, altitude_m=1500.0,
                    altitude_policy="4-percent-from-sea-level")  # fmt: skip
    off = 100 * (found.headline.heat_input_gross_W / found.total_rate_gross_W - 1)
    assert off < -15
    note = build_sheet(found).headline[1].note
    assert f"{percent(found.headline.deviation)} from the aim" in note
    assert f"{off:+.1f} % from the rating" in note
    text = " ".join(terminal_text(found).split())
    assert f"{off:+.1f} % from the rating" in text
    assert re.search(r"rated [\d.]+ kW, aim [\d.]+ kW,", text)
    assert json.loads(json_text(found))["total_deviation_from_rating_percent"] == pytest.approx(off)
