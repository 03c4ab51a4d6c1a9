"""Papers in an invented language, every letter of it another: what is left in Latin letters is a name or a unit."""

from __future__ import annotations

import csv
import io
import re
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import openpyxl
import pytest
from command_runs import run
from invented_language import TAG, TRANSLATOR, english_left, invented, write_project

from burnerlab import tables
from burnerlab.appliance import demonstration_path, read_appliance
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.project.model import Appliance
from burnerlab.appliance.study.injector_table import category_supplies, injectors
from burnerlab.appliance.study.plate_fields import rating_plate
from burnerlab.appliance.study.product_line import product_line
from burnerlab.bench.earlier_readings import EarlierReading, Way
from burnerlab.bench.kit_list import kit_list
from burnerlab.bench.plan_file import plan_json, read_plan
from burnerlab.bench.plan_results import PlanReport, ReadingBeside, RowResult, UnitPhotograph, UnitResults
from burnerlab.bench.reading_plan import Plan, plan_of
from burnerlab.bench.record.stop_display import StopDisplay
from burnerlab.bench.stop import stop_notice
from burnerlab.gas.library import fuels, load
from burnerlab.quantity import System
from burnerlab.report.figures.sheet_figures import lines_in
from burnerlab.report.formats import csv_text, json_text
from burnerlab.report.html import card_html_text, html_text
from burnerlab.report.injector_paper import injector_paper
from burnerlab.report.kit_paper import kit_paper
from burnerlab.report.line_paper import line_paper
from burnerlab.report.pdf import TEMPLATES, card_data
from burnerlab.report.plan_paper import PlanPaper, plan_paper
from burnerlab.report.plan_paper_files import paper_html as paper_page
from burnerlab.report.plan_report import report_paper
from burnerlab.report.plate_paper import plate_paper
from burnerlab.report.sheet import sections
from burnerlab.report.sheet.blocks import Cautions, Table
from burnerlab.report.sheet.checks import summary
from burnerlab.report.sheet.job_card import JobCard
from burnerlab.report.sheet.sections import Sheet, build_card, build_sheet
from burnerlab.report.sheet.terms import KEYS, EnglishText, printed_names, whole_words_of
from burnerlab.report.sheet.turn_time import dial_times
from burnerlab.report.sheet.wording import lines_of_sheet
from burnerlab.report.study_paper import StudyPaper, paper_csv, paper_for, paper_html, paper_xlsx
from burnerlab.report.workbook import HEAD_ROW, KEY_ROW
from burnerlab.report.write import couple_words
from burnerlab.report.xlsx import xlsx_bytes
from burnerlab.tables.catalogue import NOT_SPOKEN, catalogue, gas_titles, in_Europe, is_printed
from burnerlab.tables.cautions import Caution, Signal, caution, cautions
from burnerlab.tables.figure import sources
from burnerlab.tables.folders import package_dir
from burnerlab.tables.handbook_link import handbook_addresses
from burnerlab.tables.languages import Language
from burnerlab.tables.region import in_terms_of
from burnerlab.tables.verdict import Verdict

OTHER_NAMES = (
    "burnerlab", "G20", "G30", "G31", "2H", "3+", "GB", "us", "eu", "LP", TRANSLATOR, "texts.csv",
    "number, letter, fraction, metric",  # drill lists, as the file names them
)  # fmt: skip


@pytest.fixture(scope="module")
def appliance(tmp_path_factory: pytest.TempPathFactory) -> Appliance:
    folder = tmp_path_factory.mktemp("language")
    return read_appliance(write_project(folder, demonstration_path().read_text(encoding="utf-8")))


def names_of(appliance: Appliance) -> Iterator[str]:
    """What a user, a gas library or a publication named: no language has other words for it."""
    yield from (*OTHER_NAMES, appliance.name, appliance.model)
    yield from (one.name for one in appliance.burners)
    yield from (one.name for one in appliance.markets)
    for gas in (appliance.supply.gas, *(s.gas for one in appliance.markets for s in one.supply)):
        yield gas.name
    for source in sources().values():
        yield from (source.cite(), f"{source.cite()}, recalled", f"{source.cite()} (common practice)")
    yield from {row["source"] for row in tables.rows("supply_pressures")}
    yield from (
        "EN 437, Test gases, test pressures, appliance categories, 2003+A1:2009, Tables 4 and 5, recalled",
    )
    yield from ("ANSI Z21 series of appliance standards, table of test gases and inlet test pressures",)
    yield from ("inlet test pressures, recalled",)


@pytest.fixture(scope="module")
def papers(appliance: Appliance) -> dict[str, StudyPaper]:
    made = {
        "injectors": injector_paper(injectors(appliance, category_supplies("II2H3+", ["GB"])), "0" * 64),
        "line": line_paper(product_line([appliance]), "0" * 64),
        "plate": plate_paper(rating_plate(appliance), "0" * 64),
        "kit": kit_paper(kit_list(appliance), "0" * 64),
    }
    own = appliance.reader_language
    return {
        name: paper_for(paper, "metric", "eu", [one.name for one in appliance.burners], own)
        for name, paper in made.items()
    }


@pytest.mark.parametrize("name", ["injectors", "line", "plate", "kit"])
def test_nothing_but_names_and_units_is_left_in_english(
    name: str, papers: dict[str, StudyPaper], appliance: Appliance
) -> None:
    page = paper_html(papers[name])
    assert f'<html lang="{TAG}">' in page
    assert not list(english_left(page, names_of(appliance)))
    book = openpyxl.load_workbook(io.BytesIO(paper_xlsx(papers[name])))
    cells = [
        str(cell.value)
        for page in book
        if page is not book[invented("Figures")]
        for row in page
        for cell in row
    ]
    assert not list(english_left("\n".join(cells), (*names_of(appliance), "None")))


@pytest.fixture(scope="module")
def conversion(appliance: Appliance) -> Conversion:
    return evaluate_conversion(convert_market(targets_of(appliance)[1])[0])


@pytest.mark.parametrize("system", ["metric", "US"])
def test_the_job_card_has_nothing_but_names_and_units_left_in_english(
    system: System, conversion: Conversion, appliance: Appliance
) -> None:
    card = build_card(conversion, system=system, market="B")
    assert card.outside
    assert card.notes
    page = card_html_text(card)
    assert f'<html lang="{TAG}">' in page
    assert not list(english_left(page, names_of(appliance)))
    steps = "\n".join(text for step in card_data(card)["steps"] for text in step.values())
    assert not list(english_left(steps, names_of(appliance)))  # as the PDF has them
    assert [one.id for one in card.stop_box.warnings] == [
        one.id for one in lines_of_sheet(conversion) if one.signal == Signal.WARNING
    ]
    assert f"{TRANSLATOR}, texts.csv" in card.footer


LEFT_IN_ENGLISH = {
    "commands and addresses of the handbook": (
        "burnerlab handbook",
        *handbook_addresses(),
        sections.NOT_EVALUATED,
    ),
    "symbols of formulas": ("p_ambient", "I_aim", "ρ_air"),
    "who translated, and the table": (TRANSLATOR, "texts.csv"),
}
"""What a sheet prints as it is besides units and names, by the reason."""


@pytest.fixture(scope="module")
def sheet(conversion: Conversion) -> Sheet:
    return build_sheet(conversion, market="B")


def kept_names(conversion: Conversion) -> tuple[str, ...]:
    return (*printed_names(conversion), *(one for each in LEFT_IN_ENGLISH.values() for one in each))


def test_the_sheet_has_nothing_but_names_and_units_left_in_english(
    sheet: Sheet, conversion: Conversion
) -> None:
    page = html_text(sheet, {})
    assert f'<html lang="{TAG}">' in page
    assert not list(english_left(page, kept_names(conversion)))
    assert '<span lang="en">' not in page
    assert not set(gas_titles()) & {*page.splitlines()}  # a gas of ours has a name in the language
    assert invented(f"Translated by {TRANSLATOR}")[:12] in page


def test_the_counts_of_a_sheet_without_a_value_outside_are_in_the_language(conversion: Conversion) -> None:
    within = [one for one in conversion.findings if one.verdict not in (Verdict.OUTSIDE, Verdict.NEAR)]
    few = replace(conversion, findings=tuple(within))
    text = summary(few)
    assert "none outside, none near" in text
    whole = sections.language_of(conversion).whole(text)
    assert whole is not None
    assert not list(english_left(whole, ()))


OF_WORKBOOK = {
    "keys of figures, and names of cells, which formulas read": r"[a-z0-9]+(?:_[A-Za-z0-9]+)+|virial|viscosity",
    "other keys": r"reference|prompts|notes|sources|region|version|title",
    "symbols of formulas": r"cp/R, \(T/1000 K\)\^\d",
    "rules of altitude, by their name in the file": r"(?:[a-z0-9]+-)+[a-z0-9]+",
    "sources of gases": r"burnerlab: gross calorific value .*",
}
"""What pages and CSV hold in Latin letters besides what the sheet does, by the reason, as patterns of a whole cell."""


def left_in_cells(cells: Iterable[str], names: Iterable[str]) -> list[str]:
    """Cells that hold English, those apart that ``OF_WORKBOOK`` names."""
    known = re.compile("|".join(OF_WORKBOOK.values()))
    return list(english_left("\n".join(cell for cell in cells if not known.fullmatch(cell)), names))


@pytest.fixture(scope="module")
def workbook(sheet: Sheet, conversion: Conversion) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(xlsx_bytes(conversion, sheet)))


def test_the_workbook_has_keys_and_names_left_in_english_and_its_formulas_the_words_of_its_cells(
    workbook: openpyxl.Workbook, conversion: Conversion
) -> None:
    library = [load(one) for one in fuels()]
    names = (
        *kept_names(conversion),
        *(text for gas in library for text in (gas.name, gas.source)),
    )
    cells = [
        str(cell.value)
        for page in workbook
        for row in page
        for cell in row
        if cell.row != KEY_ROW + 1 and isinstance(cell.value, str)
    ]
    formulas = [cell for cell in cells if cell.startswith("=")]
    assert not left_in_cells([cell for cell in cells if not cell.startswith("=")], names)
    words = {text for one in formulas for text in re.findall(r'"([^"]*)"', one)}
    assert not left_in_cells(words, names)
    assert {invented(Verdict.NEAR), invented("choked"), invented("not evaluated")} <= words
    pages = {name for one in formulas for name in re.findall(r"'([^']+)'!", one)}
    pages |= {
        name for one in workbook.defined_names.values() for name in re.findall(r"'([^']+)'!", one.value)
    }
    assert pages
    assert pages <= set(workbook.sheetnames)
    assert invented("Cautions") in workbook.sheetnames
    shown = [
        [cell.value for cell in row] for row in workbook[invented("Cautions")].iter_rows(min_row=HEAD_ROW + 2)
    ]
    assert shown == [
        [invented(one.signal), " ".join(map(invented, (one.hazard, one.consequence, one.avoidance)))]
        for one in cautions()
    ]


def test_the_csv_has_its_keys_in_english_and_its_texts_in_the_language_and_json_stays(
    conversion: Conversion,
) -> None:
    rows = list(csv.reader(io.StringIO(csv_text(conversion))))
    english = list(csv.reader(io.StringIO(csv_text(replace(conversion, job=None)))))
    assert rows[0] == english[0]  # keys
    assert [row[:1] for row in rows[:60]] == [row[:1] for row in english[:60]]
    texts = [cell for row in rows if sum("_" in cell for cell in row) < 3 for cell in row[1:]]
    ids = [one.id for one in cautions()]
    assert not left_in_cells(texts, (*kept_names(conversion), *ids, "yes", "no"))
    shown = [row for row in rows if row[1:2] and row[1] in ids]
    assert [row[0] for row in shown] == [invented(one.signal) for one in cautions()]
    assert not re.search("[а-я]", json_text(conversion))


def test_the_template_of_the_pdf_has_no_words_of_its_own() -> None:
    template = (TEMPLATES / "sheet.typ").read_text(encoding="utf-8")
    code = re.sub(r"//[^\n]*", "", template)
    assert [
        one for one in re.findall(r'"([^"\n]*)"', code) if re.search(r"[A-Za-z]{3,}[^A-Za-z\n]? \w*", one)
    ] == [": burnerlab handbook "]
    assert not re.findall(r"[)\]] [A-Z][a-z]+ [a-z]+ ", code)  # markup between calls


def test_the_words_of_its_pictures_are_in_the_language(conversion: Conversion) -> None:
    words = whole_words_of(conversion, sections.language_of(conversion))
    assert (
        lines_in(words, "heat input of one burner, gross, kW")
        == invented("heat input of one burner, gross, ") + "kW"
    )
    assert lines_in(words, "griddle tube left\nstock-pot ring") == "griddle tube left\nstock-pot ring"


def test_cautions_of_the_sheet_are_those_of_the_table_word_for_word(sheet: Sheet) -> None:
    (block,) = sheet.section("cautions").blocks
    assert isinstance(block, Cautions)
    assert [one.text for one in block.items] == [
        " ".join(map(invented, (one.hazard, one.consequence, one.avoidance))) for one in cautions()
    ]
    assert [one.signal for one in block.items] == [one.signal for one in cautions()]


def texts_of(value: object) -> Iterator[str]:
    """Every text of a sheet that is printed, its card and its keys aside."""
    if isinstance(value, (str, tuple)):
        yield from (value,) if isinstance(value, str) else (text for one in value for text in texts_of(one))
    elif is_dataclass(value):
        for each in fields(value):
            if each.name not in (*KEYS, "card", "handbook", "explained", "verdicts"):
                yield from texts_of(getattr(value, each.name))


def test_a_half_translated_sheet_never_mixes_languages_in_a_text(
    conversion: Conversion, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A third of the texts has no translation, those of one caution have; that of overfire is English whole.

    Which third, the text itself decides, so that a new text moves no other.
    """
    english = [one.english for one in catalogue()]
    overfire, flame = caution("overfire"), caution("flame")
    whole = (flame.word, flame.hazard, flame.consequence, flame.avoidance, flame.short)
    kept = {
        text: invented(text)
        for place, text in enumerate(english)
        if text not in (overfire.hazard, overfire.consequence, overfire.avoidance, overfire.short)
        and (place < 60 or zlib.crc32(text.encode()) % 3 or text in whole)
        and text.lower() != "present orifice"
    }
    half = Language(tag=TAG, translations=kept)
    monkeypatch.setattr(sections, "language_of", lambda c: half)
    sheet, names = build_sheet(conversion, market="B"), kept_names(conversion)
    texts = list(dict.fromkeys(texts_of(sheet)))
    left = [text for text in texts if isinstance(text, EnglishText)]
    assert 100 < len(left) < len(texts) - 100
    for text in texts:
        if isinstance(text, EnglishText):
            assert not re.search("[а-я]", text), text
        else:
            assert not list(english_left(text, names)), text
    (table,) = [one for one in sheet.section("burners").blocks if isinstance(one, Table)]
    assert (
        table.columns[1].title == in_Europe()["Present orifice"] == "Present injector"
    )  # of a European paper
    page = html_text(sheet, {})
    assert '<span lang="en">Present injector</span></th>' in page
    assert re.search(
        f'<td [^>]*data-label="Present injector" lang="en"><span lang="{TAG}">', page
    )  # as a phone shows it
    assert ('<title lang="en">' in page) is isinstance(sheet.title, EnglishText)
    (block,) = sheet.section("cautions").blocks
    assert isinstance(block, Cautions)
    (shown,) = [one for one in block.items if one.id == "overfire"]
    assert (shown.word, shown.text) == ("WARNING", in_terms_of("eu")(overfire.text))
    card = build_card(conversion, market="B")
    box = card.stop_box
    stop = (box.stop, box.who, box.first, box.when)
    units = [stop, *((one.word, one.short) for one in box.warnings), *step_texts(card)]
    assert 2 < sum(isinstance(one[-1], EnglishText) for one in units) < len(units)
    for unit in units:
        is_english = {not re.search("[а-я]", text, re.IGNORECASE) for text in unit if text}
        assert len(is_english) == 1, unit
        assert is_english == {isinstance(unit[-1], EnglishText)}, unit
    assert card_html_text(card).count('<span lang="en">') > 10
    assert '="<span' not in card_html_text(card).replace("&lt;", "<")  # no mark in an attribute


def step_texts(card: JobCard) -> list[tuple[str, ...]]:
    """What each step of a card says, its caution first."""
    return [(one.signal, one.hazard, one.text) for one in card.steps]


def test_every_module_that_prints_papers_is_in_the_table_of_texts_or_is_not_by_a_reason() -> None:
    folder = package_dir() / "report"
    modules = {path.relative_to(package_dir()).with_suffix("").as_posix() for path in folder.rglob("*.py")}
    assert {one for one in modules if not is_printed(one)} == {
        one for one in NOT_SPOKEN if one.startswith("report/")
    }
    assert all((package_dir() / f"{one}.py").is_file() and why for one, why in NOT_SPOKEN.items())
    of_sheet = [one for one in catalogue() if one.where.startswith("conversion sheet")]
    assert len(of_sheet) > 50


def test_the_table_of_texts_holds_sentences_and_heads_and_neither_keys_nor_formulas_of_cells() -> None:
    texts = [one.english for one in catalogue()]
    heads = {
        "Burners and orifices",  # of a section
        "Worst value, and where",  # of a column
        "air per gas volume, new / present",  # a label declared by output
        "ring",  # a kind of burner
    }
    assert heads < set(texts)
    formula = re.compile(r"\S*_\S*|.*\b[A-Z]{2,}\(.*|.*\$[A-Z{].*|=.*")
    assert not [text for text in texts if formula.fullmatch(text)]


def filled(plan: Plan) -> PlanReport:
    """A report with each verdict, a row that is not done, a photograph and a stop that was not recorded."""
    verdicts = (Verdict.WITHIN, Verdict.NEAR, Verdict.OUTSIDE, Verdict.NOT_EVALUATED)
    results = tuple(
        RowResult(
            row=row,
            measured=row.predicted or 1e-4,
            expanded_uncertainty=None if verdict is Verdict.NEAR else 10.0,
            verdict=verdict,
            tester="T. Ester",
            tested_at="2026-11-30T10:00:00",
            instruments="" if verdict is Verdict.NEAR else "U-tube",
            entry="0123456789",
        )
        for row, verdict in zip(plan.rows, verdicts, strict=False)
    )
    unit = UnitResults(
        serial="A-1",
        is_stopped=False,
        results=results,
        not_done=tuple(row.id for row in plan.rows[4:]),
        photographs=(UnitPhotograph(sha256="0" * 64, subject="flame", stop=stop_notice("soot").heading),),
        earlier=tuple(earlier(way, is_outside=is_outside) for way, is_outside in EARLIER),
        beside=tuple(
            ReadingBeside(
                quantity=quantity,
                burner="",
                value=None if not quantity else 2000.0,
                verdict="within" if quantity else "",
                tester="T. Ester",
                tested_at="2026-11-30T09:00:00.000Z",
                entry="0123456",
            )
            for quantity in ("lock_up_pressure", "")
        ),
    )
    notices = (stop_notice("pressure", read="27 mbar", limit="20 mbar"), stop_notice("soot"))
    shown = tuple(
        StopDisplay(
            notice=notice, serial=serial, tester="T. Ester", place="bench 2", shown_at="", is_taken_back=back
        )
        for notice, serial, back in zip(notices, ("A-1", ""), (True, False), strict=True)
    )
    units = (unit, replace(unit, serial="A-2", is_stopped=True, results=(), photographs=()))
    return PlanReport(plan=plan, is_altered=False, units=units, stops_not_recorded=shown)


EARLIER: tuple[tuple[Way, bool], ...] = (
    ("mended", True), ("corrected", True), ("released", True), ("", True), ("", False),
)  # fmt: skip


def earlier(way: Way, *, is_outside: bool) -> EarlierReading:
    """A reading in whose place another stands, of one of several burners alike."""
    return EarlierReading(
        quantity="heat_input_gross", burner="U-tube", which="2", state="cold", row="07", value=3000.0,
        is_outside=is_outside, tester="T. Ester", tested_at="2026-11-30T09:00:00.000Z", entry="0123456",
        by_entry="0123456", way=way, done="T. Ester", cause="T. Ester",
    )  # fmt: skip


@pytest.mark.parametrize("is_report", [False, True])
def test_plan_and_report_have_nothing_but_names_and_units_left_in_english(
    is_report: bool, conversion: Conversion, appliance: Appliance, tmp_path: Path
) -> None:
    (tmp_path / "made.json").write_text(plan_json(plan_of(conversion)), encoding="utf-8")
    plan = read_plan(tmp_path / "made.json")  # as the bench has it: in English
    assert plan.language == TAG
    own = appliance.reader_language
    paper = (
        report_paper(filled(plan), "2026-11-30", "metric", language=own)
        if is_report
        else plan_paper(
            plan,
            "2026-11-30",
            "metric",
            couple_words(conversion, plan, plan),
            own,
            dial_times(conversion, None, "metric"),
        )
    )
    page = paper_page(paper)
    assert f'<html lang="{TAG}">' in page
    names = ("SHA-256", "T. Ester", "U-tube", "UTC", "bench 2", plan.number, plan.digest, "0123456", "0" * 64)
    assert not list(english_left(page, (*names_of(appliance), *names)))
    assert [one.id for one in paper.cautions] == [one.id for one in plan_paper(plan, "", "metric").cautions]
    assert invented("STOP. Soot: incomplete combustion, CO likely.") in page or not is_report
    assert f"<strong>{invented(Verdict.OUTSIDE.emphatic)}</strong>" in page or not is_report


def warnings_of(paper: StudyPaper | PlanPaper) -> tuple[Caution, ...]:
    """Those at the head of a paper."""
    box = getattr(paper, "stop_box", None)
    return paper.warnings if box is None else box.warnings


def test_cautions_are_all_there_in_their_order_with_who_translated_them(
    papers: dict[str, StudyPaper],
) -> None:
    paper = papers["kit"]
    assert [one.id for one in paper.cautions] == [one.id for one in cautions()]
    assert [one.signal for one in paper.cautions] == [one.signal for one in cautions()]
    page = paper_html(paper)
    places = [page.index(invented(one.hazard)) for one in cautions()]
    assert places == sorted(places)
    assert page.count(invented(Signal.WARNING)) >= len(paper.warnings)
    assert any(f"{TRANSLATOR}, texts.csv" in note for note in paper.notes)


def test_a_caution_without_its_signal_word_is_english_whole_on_every_paper(
    appliance: Appliance, conversion: Conversion
) -> None:
    """And one whose signal word alone is translated: a reader has a caution in one language."""
    words = {one.english: invented(one.english) for one in catalogue()}
    overfire, shown = caution("overfire"), set[tuple[str, ...]]()
    without = {overfire.hazard, overfire.consequence, overfire.avoidance, overfire.short}
    for left in ({"WARNING"}, without):
        half = Language(tag=TAG, translations={text: own for text, own in words.items() if text not in left})
        kit = paper_for(kit_paper(kit_list(appliance), "0" * 64), "metric", "", (), half)
        plan = plan_paper(plan_of(conversion), "", "metric", "", half)
        for paper in (kit, plan):
            for one in (*warnings_of(paper), *paper.cautions):
                texts = (one.word, one.hazard, one.consequence, one.avoidance, one.short)
                assert len({text.isascii() for text in texts}) == 1, texts
                shown.add((one.id, one.word))
        page = paper_html(kit)
        assert '<strong class="signal"><span lang="en">WARNING</span></strong>' in page
    assert {("overfire", "WARNING"), ("gas-leak", invented("WARNING")), ("gas-leak", "WARNING")} <= shown


def test_keys_of_files_stay(papers: dict[str, StudyPaper]) -> None:
    head, first = paper_csv(papers["kit"]).splitlines()[:2]
    assert head.startswith("market,name,number,count,burners,bore_mm")
    assert ",injector " in first  # in the words of its region, not of its language


def test_a_market_is_read_in_its_own_language(tmp_path: Path) -> None:
    english = demonstration_path().read_text(encoding="utf-8")
    file = write_project(tmp_path, english)
    text = file.read_text(encoding="utf-8").replace(f'language = "{TAG}"\n', "", 1)
    file.write_text(text.replace("[[market]]\n", f'[[market]]\nlanguage = "{TAG}"\n', 1), encoding="utf-8")
    for market, word in (("A", invented("Kit list")), ("B", "Kit list")):
        run("kit", "list", str(file), "--market", market, "--out", str(tmp_path / market))
        (page,) = (tmp_path / market).glob("*-kit-list.html")
        assert word in page.read_text(encoding="utf-8")
