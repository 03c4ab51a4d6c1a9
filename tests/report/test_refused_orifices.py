"""A burner that no orifice fits, through every paper: none names the nearest size as one to fit."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from burnerlab.appliance import Appliance
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.conversion.project_comparison import compare_projects
from burnerlab.appliance.conversion.refusal import not_to_fit, refusals
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.project.project_file import demonstration_path, read_appliance_text, read_text
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.appliance.study.injector_table import injectors
from burnerlab.appliance.study.plate_fields import rating_plate
from burnerlab.bench.kit_list import kit_list
from burnerlab.bench.reading_plan import digests_of, plan_of
from burnerlab.page.desk_answer import first_answer, whole_answer
from burnerlab.report import build_sheet
from burnerlab.report.calculation import remarks
from burnerlab.report.calculation_model import model
from burnerlab.report.formats import burner_rows, result_tables, to_json
from burnerlab.report.injector_paper import injector_paper
from burnerlab.report.kit_paper import leaflet_row
from burnerlab.report.plan_paper import plan_paper
from burnerlab.report.sheet.burners import orifices
from burnerlab.report.sheet.sections import build_card
from burnerlab.report.terminal import terminal_text

RING, SIZE = (
    "stock-pot ring",
    "1.55 mm",
)  # on propane; -1.2 % at the nominal pressure, -2.1 % with all burners on
NONE = "none fits"


@cache
def cart() -> Appliance:
    """The demonstration with a band of 2 %: its supply alone leaves the ring below it."""
    text = ProjectText(read_text(demonstration_path()).text).with_values({"limits.tolerance": "2 %"})
    base = read_appliance_text(text.text)
    return replace(base, markets=base.markets[:1])


@cache
def conversion() -> Conversion:
    (market,) = targets_of(cart())
    (bare,) = convert_market(market)
    done = evaluate_conversion(bare)
    assert not_to_fit(bare) == not_to_fit(done) == {RING}  # solved or evaluated
    assert not any(b.no_drill_meets for b in done.burners)
    assert next(b.choice.drill for b in done.burners if b.name == RING) == SIZE
    return done


def test_the_supply_alone_refuses_a_burner() -> None:
    """Its heat input as the network gives it, against the band that the file states."""
    ring = next(b for b in conversion().burners if b.name == RING)
    assert ring.drill_deviation > -0.02 > (ring.headline.deviation_all_on or 0.0)
    assert "outside -2 to +2 %" in refusals(conversion())[RING]


def test_terminal_card_and_sheet() -> None:
    said = terminal_text(conversion())
    row = next(line for line in said.splitlines() if line.startswith(RING))
    assert NONE in row
    assert SIZE not in row
    assert f"None fits, do not fit: {RING} (nearest {SIZE})" in said
    (card,) = [b for b in build_card(conversion()).burners if RING in b.names]
    assert (card.put_in, SIZE in card.bore, "outside -2 to +2 %" in card.bore) == (NONE, False, True)
    tables = [block for block in orifices(conversion(), "metric").blocks if hasattr(block, "rows")]
    (cells,) = [row for row in tables[0].rows if row[0].text == RING]
    (cell,) = [one for one in cells if one.text == NONE]
    assert cell.also.startswith(f"nearest {SIZE}, do not fit")
    (left,) = [one for one in build_sheet(conversion()).sections if one.key == "prompts"]
    assert (left.lead, len(left.blocks[0].items)) == ("Nothing is fitted and nothing lit.", 1)  # type: ignore[union-attr]
    assert not any(one.text == SIZE for one in cells)


def test_the_plan_and_its_file() -> None:
    """The few words of the card at its head, why below them, no size; its file says it wherever it is read."""
    plan = plan_of(conversion())
    paper, card = plan_paper(plan, "", "metric"), build_card(conversion())
    assert paper.troubles == (card.refusal,)
    assert (
        card.refusal
        == f"STOP. Fit nothing, light nothing: no orifice fits {RING}. An engineer decides first."
    )
    ((burner, why),) = paper.tables[0].rows
    assert (burner, why) == (RING, refusals(conversion())[RING])
    assert RING not in dict(plan.change.orifices)
    bands = replace(
        plan, rows=tuple(replace(row, source="a band") for row in plan.rows)
    )  # none says not to fit
    assert bands.refusal == plan.refusal == f"no orifice fits {RING}"
    assert plan.digest in digests_of(plan)
    known = replace(plan, change=replace(plan.change, refused=()))
    assert known.digest in digests_of(plan)  # of a plan made before its file named them
    assert known.digest != plan.digest


def test_the_summary_of_a_notebook() -> None:
    (market,) = targets_of(cart())
    (bare,) = convert_market(market)
    short = bare.summary()  # its supply is not solved, and refuses what the nominal pressure does not
    assert "supply not solved" in short.words
    assert {row[2] for row in short.table[1:] if row[0] == RING} == {f"{SIZE}, do not fit yet"}
    assert "not solved" not in conversion().summary().words
    rows = {row[0]: row[2:] for row in conversion().summary().table}
    assert rows[RING] == (f"none fits; nearest: {SIZE}, do not fit", "-", "-", "outside")
    assert rows["rear burner"][0] == "0.85 mm"
    assert "worst verdict outside" in conversion().summary().words


def test_a_burner_that_overfires_alone_is_refused_on_card_and_plan_alike() -> None:
    """With a band of 1.6 % the middle tube gives +1.5 % at the nominal pressure, +0.8 % all on and +2.0 % alone."""
    text = ProjectText(read_text(demonstration_path()).text).with_values({"limits.tolerance": "1.6 %"})
    base = read_appliance_text(text.text)
    (market,) = targets_of(replace(base, markets=base.markets[:1]))
    (bare,) = convert_market(market)
    middle = next(b for b in bare.burners if b.name == "griddle tube middle")
    assert abs(middle.drill_deviation) < 0.016
    for found in (bare, evaluate_conversion(bare)):
        assert refusals(found)[middle.name].startswith(
            "heat input +2.0 % with its kind alone on, above +1.6 %"
        )
        words = {row[0]: row[2] for row in found.summary().table}[middle.name]
        assert "do not fit" in words
        assert middle.name in dict(plan_of(found).refusal_reasons)


def test_kit_leaflet_injector_table_and_plate() -> None:
    (kit,) = kit_list(cart()).kits
    (part,) = [row for row in kit.rows if RING in row.burners]
    (leaf,) = [row for row in kit.leaflet if row.burner == RING]
    assert (part.count, part.bore_m) == (0, None)
    assert (leaf.heat_input_W, leaf.deviation, leaf.heat_input_gross_W) == (None, None, None)
    assert leaflet_row(leaf, "metric")[4:6] == ("", "")
    table = injectors(cart(), (), markets=targets_of(cart()))
    (row,) = [one for one in table.rows if one.burner == RING]
    fields = rating_plate(cart()).fields
    marks = [one.text for one in fields if SIZE in str(one.text)]
    inputs = [one for one in fields if one.burner == RING or not one.burner]
    assert not any(one.calculated_text for one in inputs)  # of what is not to be fitted, and of the whole
    assert any(one.calculated_text for one in fields)
    printed = [row for paper in injector_paper(table, "").tables for row in paper.rows if row[0] == RING]
    assert [row[5:] for row in printed] == [("", "", "", "drill tolerance")]  # no figure; what is outside
    for words in (str(part.name), str(leaf.mark), row.fitted, *marks):
        assert words.startswith(NONE), words
        assert words.endswith("do not fit"), words
    assert marks


def test_the_desk_in_its_first_answer_and_the_whole() -> None:
    first = first_answer(cart(), targets_of(cart()), "metric")
    for answer in (first, whole_answer(first)):
        assert answer.texts["state-sentence"].startswith(f"Market A: no orifice fits ({RING}). ")
        assert "overfire" not in answer.texts["state-sentence"]  # of an orifice that nobody fits
        assert answer.texts["orifice-4-A-mark"] == NONE
        assert {answer.texts[id] for id in ("orifice-4-A-verdict", "state-mark")} == {"outside"}
        assert f"nearest {SIZE}, do not fit" in answer.texts["orifice-4-A-bore"]
        for figure in ("rate", "deviation", "as-made"):  # of the nearest, which nobody fits
            assert (answer.texts[f"orifice-4-A-{figure}"], answer.texts[f"orifice-3-A-{figure}"] != "") == (
                "",
                True,
            )
        assert answer.texts["market-A-total"] == f"no orifice fits {RING}"


def test_files_workbook_and_comparison() -> None:
    (row,) = [one for one in burner_rows(conversion()) if one.burner.name == RING]
    assert row.not_to_fit
    (choices,) = [table for table in result_tables(conversion()) if table.name == "Choices"]
    assert {one.burner for one in choices.rows if one.is_taken} == {
        b.name for b in conversion().burners if b.name != RING
    }
    made = model(conversion(), "metric")
    assert made is not None
    assert f"None fits by the conversion: {RING}." in remarks(made)
    (own,) = [one for one in to_json(conversion())["burners"] if one["name"] == RING]
    assert own["not_to_fit"] == row.not_to_fit


def test_a_comparison_names_no_size_to_fit() -> None:
    text = ProjectText(read_text(demonstration_path()).text)
    before = text.with_values({"burner[4].rate": "25 kBtu/h"})
    found = compare_projects(before, text.with_values({"limits.tolerance": "2 %"}))
    after = [str(one) for one in found.figures if RING in str(one) and SIZE in str(one)]
    assert after
    assert all(f"none fits; nearest: {SIZE}, do not fit" in words for words in after)
