"""The checks of a sheet: what needs a look first and with its reason, the rest in short, every value at hand."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace

import pytest

from burnerlab.appliance import Conversion, convert, demonstration
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.result import Finding
from burnerlab.report import build_sheet
from burnerlab.report.formats import json_text
from burnerlab.report.html import html_text
from burnerlab.report.sheet.blocks import Cell, Points, Table
from burnerlab.report.sheet.checks import (
    NOTHING,
    in_full,
    open_count,
    outside_in_words,
    outside_lines,
    summary,
    to_look_at,
    value_text,
    worst_of,
)
from burnerlab.report.xlsx import HEAD_ROW, xlsx_bytes
from burnerlab.tables.figure import Evidence
from burnerlab.tables.verdict import Verdict


@pytest.fixture(scope="module")
def case() -> Conversion:
    return evaluate_conversion(convert(demonstration(), "propane", 2740.0))


def first_of(c: Conversion) -> Table:
    (first,) = to_look_at(c)
    assert isinstance(first, Table)
    return first


def column(found: Table, head: str) -> list[Cell]:
    place = [one.title for one in found.columns].index(head)
    return [row[place] for row in found.rows]


def lift(burner: str, value: float | None, verdict: Verdict = Verdict.NEAR, **more: object) -> Finding:
    given: dict[str, object] = {
        "topic": "lift",
        "verdict": verdict,
        "text": f"gradient of {burner}",
        "low": 1.0,
    }
    return Finding(**(given | {"burner": burner, "value": value, "unit": "-", "evidence": "estimate"} | more))  # type: ignore[arg-type]


def with_findings(c: Conversion, *findings: Finding) -> Conversion:
    return replace(c, findings=findings)


def test_outside_comes_before_near_and_what_is_within_stands_in_the_annex_alone(case: Conversion) -> None:
    out = lift("rear burner", 0.4, Verdict.OUTSIDE, topic="late in the list")
    changed = replace(case, findings=(*case.findings, out))
    first = first_of(changed)
    verdicts = [cell.verdict for cell in column(first, "Verdict")]
    assert verdicts == sorted(verdicts, key=["outside", "near"].index)
    assert verdicts.count("outside") == 1
    assert verdicts.count("near") > 1
    assert first.rows[0][0].text == "late in the list"
    told = {(row[0].text, row[-2].verdict) for row in first.rows}
    assert told == {(f.topic, f.verdict) for f in changed.findings if f.verdict in ("outside", "near")}
    assert {row[0].text for row in in_full(changed).rows} == {f.topic for f in changed.findings}


def test_it_is_read_in_a_minute(case: Conversion) -> None:
    """A line for each check that needs a look, not for each value; no running text."""
    first = first_of(case)
    assert len(case.findings) > 10 * len(first.rows)
    assert len(in_full(case).rows) < len(case.findings) / 2
    assert max(len(cell.text) for row in first.rows for cell in row) < 60


def test_the_worst_is_told_and_how_far_the_others_reach(case: Conversion) -> None:
    found = [lift("stock-pot ring", 2.5), lift("rear burner", 1.5), lift("tile broiler", 6.0)]
    assert worst_of(found).burner == "rear burner"
    (row,) = first_of(with_findings(case, *found)).rows
    assert row[1].text == "stock-pot ring, rear burner, tile broiler"
    assert row[2] == Cell(text="1.50", also="rear burner; to 6.00", value=1.5, unit="-")
    (full,) = in_full(with_findings(case, *found)).rows
    assert full[2].text == "rear burner: gradient of rear burner"


def test_a_large_margin_only_says_that_its_limit_is_far_away(case: Conversion) -> None:
    found = [lift("stock-pot ring", 580.0), lift("rear burner", 21.0), lift("tile broiler", 6.0)]
    (row,) = first_of(with_findings(case, *found)).rows
    assert row[2] == Cell(text="6.00", also="tile broiler; to over 20", value=6.0, unit="-")
    reynolds = lift("", 2900.0, low=2000.0, high=12000.0)
    assert value_text(reynolds) == "2900"


def test_what_is_within_asks_for_no_look(case: Conversion) -> None:
    narrow = lift("rear burner", 0.6, Verdict.WITHIN, low=0.5, high=2.0)
    assert to_look_at(with_findings(case, narrow)) == (Points(items=(NOTHING,)),)


def test_the_row_of_a_check_tells_the_value_nearest_to_leaving_its_own_range(case: Conversion) -> None:
    narrow, wide = lift("rear burner", 0.6, low=0.5, high=2.0), lift("stock-pot ring", 0.7, low=0.1, high=2.0)
    (row,) = first_of(with_findings(case, wide, narrow)).rows
    assert [cell.text for cell in row] == [
        "lift", "stock-pot ring, rear burner", "0.600", "0.5 to 2", "near", "estimate",
    ]  # fmt: skip


def test_the_figure_of_one_burner_is_not_printed_for_two(case: Conversion) -> None:
    """Outside on several: the worst by name, then the others; of equal figures all together."""
    outside = replace(lift("rear burner", 0.6), verdict=Verdict.OUTSIDE)
    other, third = (
        replace(outside, burner="stock-pot ring", value=0.8),
        replace(outside, burner="griddle tube left"),
    )
    assert outside_lines(with_findings(case, other, outside)) == (
        "OUTSIDE: lift 0.600, at least 1 (rear burner, worst of 2; also stock-pot ring)",
    )
    assert [one.words for one in outside_in_words(with_findings(case, other, outside))] == [
        "lift (rear burner, worst of 2: 0.600, at least 1; also stock-pot ring)"
    ]
    assert [one.words for one in outside_in_words(with_findings(case, other, third, outside))] == [
        "lift (griddle tube left, worst of 3: 0.600, at least 1)"
    ]
    assert outside_lines(with_findings(case, third, outside)) == (
        "OUTSIDE: lift 0.600, at least 1 (griddle tube left, rear burner)",
    )


def test_two_checks_of_one_name_on_one_burner_are_both_told(case: Conversion) -> None:
    """The flow in the pipe and in the manifold: one line of both, and in the annex no reason hides the other."""
    pipe, manifold = (
        lift("", value, text=f"{where}: between", low=2000.0, high=12000.0)
        for where, value in (("pipe", 2900.0), ("manifold", 3000.0))
    )
    changed = with_findings(case, pipe, manifold)
    assert [(row[2].text, row[2].also) for row in first_of(changed).rows] == [("2900", "to 3000")]
    assert [cell.text for cell in column(in_full(changed), "Found")] == ["pipe: between", "manifold: between"]


def test_a_remark_on_a_model_is_made_once(case: Conversion) -> None:
    found = (
        lift("rear burner", 1.2, text="gradient; rule of thumb"),
        lift("rear burner", 1.1, topic="lift at highest pressure", text="another; rule of thumb"),
    )
    full = in_full(with_findings(case, *found))
    assert [cell.text for cell in column(full, "Found")] == ["gradient; rule of thumb", "another"]


def test_without_a_range_or_a_value_nothing_is_called_worst(case: Conversion) -> None:
    open_ended = [lift("rear burner", value, low=None) for value in (5.0, 3.0)]
    blank = lift("rear burner", None, topic="blank")
    first = first_of(
        with_findings(case, *open_ended[:1], replace(open_ended[1], burner="tile broiler"), blank)
    )
    assert [(cell.text, cell.also) for cell in column(first, "Worst value, and where")] == [
        ("3.00", "tile broiler; to 5.00"),
        ("", ""),
    ]


def test_the_summary_counts_what_wants_a_look_and_keeps_no_score(case: Conversion) -> None:
    told = re.findall(r"(none|\d+) (outside|near|within)", summary(case))
    counts = {verdict: 0 if count == "none" else int(count) for count, verdict in told}
    assert set(counts) == {"outside", "near"}
    assert {verdict for verdict, _ in build_sheet(case).verdicts} == {"outside", "near", "not evaluated"}
    unknown = sum(f.verdict == "not evaluated" for f in case.findings)
    assert summary(case).startswith(f"{len(case.findings) - unknown} values")
    assert counts["near"] == sum(f.verdict == "near" for f in case.findings)
    more = with_findings(case, lift("", None, "not evaluated"))
    for one in (case, more):
        assert (f" {open_count(one)} not evaluated" in summary(one)) == (open_count(one) > 0)
    assert dict(build_sheet(case).verdicts)["not evaluated"] == open_count(case)  # as at its head


def named(c: Conversion, words: str) -> set[str]:
    """The burners that the words before a value stand for."""
    every = {b.name for b in c.burners}
    if words == "each":
        return every
    return (
        every - set(words.removeprefix("all but ").split(", "))
        if words.startswith("all but ")
        else set(words.split(", "))
    )


def test_every_value_stands_in_full_with_its_burner_and_every_source(case: Conversion) -> None:
    full = in_full(case)
    shown = {
        (row[0].text, row[1].also.removesuffix(" gas"), row[-2].verdict, burner, value[0])
        for row in full.rows
        for part in row[1].text.replace("\u2212", "-").replace("\u00a0", " ").split("; ")
        for value in [re.search(r"(over )?-?\d.*$", part)]
        if value is not None
        for burner in named(case, part[: value.start()].strip())
    }
    valued = [f for f in case.findings if f.value is not None]
    assert shown == {(f.topic, f.which_gas, f.verdict, f.burner, value_text(f)) for f in valued}
    sources = " ".join(row[3].also for row in full.rows)
    assert all(f.source in sources for f in case.findings)


def test_the_pages_and_the_workbook_show_the_same_rows(case: Conversion) -> None:
    from openpyxl import load_workbook

    sheet = build_sheet(case)
    page = html_text(sheet, {})
    short = page[page.index('<section id="first"') : page.index('<section id="open"')]
    rows = [row for block in sheet.section("first").blocks if isinstance(block, Table) for row in block.rows]
    assert short.count('<tr role="row"') == len(rows) + 1
    book = load_workbook(io.BytesIO(xlsx_bytes(case, sheet)), data_only=True)
    cells = [list(row) for row in book["Checks"].iter_rows(min_row=HEAD_ROW + 2, values_only=True)]
    told = [row for row in cells if row[1]]
    assert [row[0] for row in told] == [row[0].text for row in rows]
    assert [row[2] for row in told] == [pytest.approx(row[2].value) for row in rows]
    assert [row[0] for row in cells if not row[1]] == ["TO LOOK AT FIRST"]
    full = book["Checks in full"]
    assert full.max_row == HEAD_ROW + 1 + len(case.findings)


def test_checks_in_full_stand_before_the_cautions(case: Conversion) -> None:
    keys = [section.key for section in build_sheet(case).sections]
    assert keys.index("first") < keys.index("checks") < keys.index("cautions")


def test_evidence_stands_in_a_column_of_its_own_and_never_beside_a_verdict(case: Conversion) -> None:
    """Which of the words a value earns is the weakest figure behind it; a verdict is a place, not a quality."""
    assert {f.evidence for f in case.findings if f.verdict != "not evaluated"} <= set(Evidence)
    assert {f.evidence for f in case.findings if f.verdict == "not evaluated"} <= {"", *Evidence}
    of_input = {
        f.topic: f.evidence for f in case.findings if "heat input" in f.topic or f.topic == "gas family"
    }
    assert set(of_input.values()) <= {"recalled", "estimate"}  # coefficient and Wobbe ranges are remembered
    for table in (first_of(case), in_full(case)):
        assert "Evidence" in [one.title for one in table.columns]
        for cell in column(table, "Evidence"):
            assert cell.text in ("", *Evidence)
        if "Verdict" in [one.title for one in table.columns]:
            assert all(not cell.also for cell in column(table, "Verdict"))


def test_a_whole_result_never_says_how_far_it_is_to_be_trusted(case: Conversion) -> None:
    assert '"trust"' not in json_text(case)
    assert {found["evidence"] for found in json.loads(json_text(case))["findings"]} <= {"", *Evidence}
    first, second = column(first_of(case), "Verdict"), column(first_of(case), "Evidence")
    assert len(first) == len(second) > 1
