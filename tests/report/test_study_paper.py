"""Papers of injector table, product line, rating plates and kits: the same in each format, every caution with it."""

from __future__ import annotations

import csv
import io
import re
import zlib
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl
import pytest
from command_runs import answer, run

from burnerlab.appliance import demonstration, demonstration_path, injectors
from burnerlab.appliance.study.injector_table import InjectorTable, category_supplies, country_supplies
from burnerlab.appliance.study.plate_fields import rating_plate
from burnerlab.appliance.study.product_line import ProductLine, product_line
from burnerlab.bench.kit_list import kit_list
from burnerlab.report.injector_paper import injector_paper
from burnerlab.report.kit_paper import kit_paper
from burnerlab.report.line_paper import line_paper
from burnerlab.report.pdf import TEMPLATES, study_pdf_bytes
from burnerlab.report.plate_paper import plate_paper
from burnerlab.report.sheet.terms import EnglishText
from burnerlab.report.study_paper import (
    StudyPaper,
    paper_csv,
    paper_html,
    paper_pdf,
    paper_xlsx,
    printed_figure,
    write_paper,
)
from burnerlab.tables.cautions import cautions
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from playwright.sync_api import Browser

CART = str(demonstration_path())


@pytest.fixture(scope="module")
def table() -> InjectorTable:
    return injectors(demonstration(), category_supplies("II2H3+", ["GB"]))


@pytest.fixture(scope="module")
def line() -> ProductLine:
    return product_line([demonstration()])


@pytest.fixture(scope="module")
def papers(table: InjectorTable, line: ProductLine) -> tuple[StudyPaper, ...]:
    plate = plate_paper(rating_plate(demonstration()), "c" * 64)
    kits = kit_paper(kit_list(demonstration()), "d" * 64)
    return injector_paper(table, "a" * 64), line_paper(line, "b" * 64), plate, kits


def test_both_gases_of_a_couple_are_one_row_of_marks(
    table: InjectorTable, papers: tuple[StudyPaper, ...]
) -> None:
    marks, *supplies = papers[0].tables
    assert len(marks.rows) == 2
    assert [row[0].count(" and ") for row in marks.rows] == [0, 1]
    first = {one.burner: one.fitted for one in table.rows[: len(table.rows) // 3]}
    assert dict(zip(marks.heads[2:], marks.rows[0][2:], strict=True)) == first
    assert len(supplies) == 3


@pytest.mark.parametrize("gas", ["G30", "G31"])
def test_an_orifice_of_a_couple_is_outside_where_it_is_on_either_gas(table: InjectorTable, gas: str) -> None:
    rows = tuple(replace(row, checks_outside="lift" if row.gas == gas else "") for row in table.rows)
    natural, couple = injector_paper(replace(table, rows=rows), "").tables[0].rows
    assert not any("OUTSIDE" in cell for cell in natural)
    assert all(cell.endswith(", OUTSIDE") for cell in couple[2:])


def test_a_mark_stands_beside_its_country_gas_and_pressure() -> None:
    table = injectors(demonstration(), country_supplies("DE", "IT"))
    of_butane = {(row.country, round(row.gauge_pressure_Pa / 100)) for row in table.rows if row.gas == "G30"}
    assert of_butane == {("DE", 50), ("IT", 29)}  # DE I3B/P(50), IT I3+: supplies of countries.csv
    assert {row.country for row in table.rows if row.gas == "G20"} == {"DE, IT"}  # 20 mbar in both
    paper = injector_paper(table, "a" * 64)
    marks, *supplies = paper.tables
    for row in (row for one in supplies for row in one.rows):
        assert row[2].endswith((" mbar (DE)", " mbar (IT)", " mbar (DE, IT)"))
    firsts = [row[0] for row in marks.rows]
    assert "3B/P, G30 at 50 mbar and 3B/P, G31 at 50 mbar (DE)" in firsts
    assert any("G30 at 29 mbar" in first and first.endswith("(IT)") for first in firsts)
    assert dict(paper.headline)["Fits"] == paper.notes[0]  # on the first page
    # G25 at 20 mbar against G30 at 50: of one bore the input goes with Wobbe index and root of the pressure,
    # (87.3/41.5) (50/20)^0.5 = 3.3 (EN 437, gross); the bore taken for G25 is 3 % over its rating
    assert paper.notes[0].endswith(
        "The worst: the one for G25 at 20 mbar, left in for G30 at 50 mbar, gives about 3.4 times the rating "
        "(griddle tube left)."
    )
    assert next(csv.reader(io.StringIO(paper_csv(paper))))[0] == "country"


def test_an_injector_table_of_other_drills_does_not_claim_the_orifices_of_card_and_kit() -> None:
    supplies = category_supplies("I3P", ["GB"])
    of_file, other = (
        injectors(demonstration(), supplies),
        injectors(demonstration(), supplies, drills=("metric",)),
    )
    assert (of_file.is_of_file, other.is_of_file) == (True, False)
    claims = "the one that job card, rating plate and kit name"
    assert any(claims in note for note in injector_paper(of_file, "").notes)
    assert not any(claims in note for note in injector_paper(other, "").notes)


def test_the_warnings_stand_above_the_first_table_of_every_paper(papers: tuple[StudyPaper, ...]) -> None:
    for paper in papers:
        page = paper_html(paper)
        above, _, _ = page.partition("<table")
        for id in ("gas-leak", "overfire"):
            one = next(each for each in cautions() if each.id == id)
            assert one.line.removeprefix("WARNING: ") in above
    template = (TEMPLATES / "study.typ").read_text(encoding="utf-8")  # of the PDF
    assert (
        template.index("study.warnings") < template.index("study.headline") < template.index("study.tables")
    )


def test_every_format_has_every_table_and_every_caution(papers: tuple[StudyPaper, ...]) -> None:
    for paper in papers:
        page = paper_html(paper)
        book = openpyxl.load_workbook(io.BytesIO(paper_xlsx(paper)))
        found = [
            cell.value
            for sheet in book
            for row in sheet.iter_rows()
            for cell in row
            if cell.value is not None
        ]
        pages = book.sheetnames[: len(paper.tables)]
        for number, (name, table) in enumerate(zip(pages, paper.tables, strict=True), start=1):
            first = re.findall(r"\w+", table.caption)[0]
            assert name.startswith(f"{number} {first}"[:31]), (name, table.caption)
        cells = {str(value) for value in found}
        figures = {value for value in found if isinstance(value, (int, float))}
        text = paper_csv(paper)
        for table in paper.tables:
            assert table.caption in page
            assert {row[0] for row in table.rows} <= cells
            for cell in {cell for row in table.rows for cell in row[1:]}:
                value, pattern = printed_figure(cell)  # what a table prints as a figure can be summed
                assert any(value == pytest.approx(one) for one in figures) if pattern else cell in cells
        for one in cautions():
            assert one.text in cells
            assert one.text in " ".join(" ".join(row) for row in csv.reader(io.StringIO(text)))
        assert page.count('class="caution ') == len(cautions())
        assert len(next(csv.reader(io.StringIO(text)))) == len(paper.rows[0])
        made = paper_pdf(paper, size="Letter")  # on A4 the commands write it
        assert made.startswith(b"%PDF")
        assert paper_pdf(paper, size="Letter") == made


def test_a_line_of_a_paper_is_a_use_of_the_set(line: ProductLine, papers: tuple[StudyPaper, ...]) -> None:
    of_model = next(table for table in papers[1].tables if table.heads[0] == "Burner")
    found = {
        (row[0], market): cell
        for row in of_model.rows
        for market, cell in zip(of_model.heads[1:], row[1:], strict=True)
    }
    for use in line.uses:
        assert found[use.demand.burner, use.demand.market].startswith(
            f"{use.demand.quantity} × {use.drill.name}"
        )


def test_the_commands_write_them_once(tmp_path: Path, papers: tuple[StudyPaper, ...]) -> None:
    made = answer("injectors", CART, "--category", "I3P", "--country", "GB", "--out", str(tmp_path))["files"]
    assert [Path(name).suffix for name in made] == [".html", ".pdf", ".xlsx", ".csv"]
    assert all(Path(name).is_file() for name in made)
    again = run("injectors", CART, "--category", "I3P", "--country", "GB", "--out", str(tmp_path))
    assert again.exit_code == 2
    assert "Written" in run("line", CART, "--market", "A", "--out", str(tmp_path)).stdout
    assert "Written" in run("plate", CART, "--market", "B", "--out", str(tmp_path)).stdout
    assert "Written" in run("kit", "list", CART, "--market", "B", "--out", str(tmp_path)).stdout
    with pytest.raises(UserError, match="not a folder"):
        write_paper(papers[0], made[0])


def test_a_paper_in_the_units_of_its_reader_and_the_words_of_a_region() -> None:
    from burnerlab.report.layout_page import PlainTable
    from burnerlab.report.study_paper import StudyPaper, paper_for

    paper = StudyPaper(
        kind="Injector table",
        title="orifice range",
        subtitle="G20 20 mbar",
        headline=(("Manifold pressure", "20 mbar"),),
        tables=(
            PlainTable(
                caption=Phrase("Orifices of {model}", model="orifice range"),
                heads=("burner", "bore, mm"),
                rows=(("orifice ring", "1.40"),),
            ),
        ),
        notes=("The orifice range has an orifice of 1.4 mm.",),
        rows=({"diameter_mm": 1.4},),
        input_sha256="0" * 64,
    )
    us, eu = paper_for(paper, "US", "us"), paper_for(paper, "metric", "eu")
    assert us.subtitle == "G20 8.03 in w.c."
    assert us.tables[0].heads == ("burner", "bore, in")
    assert us.tables[0].rows == (("orifice ring", "0.0551"),)
    assert us.notes == ("The orifice range has an orifice of 0.0551 in.",)
    assert eu.notes == ("The orifice range has an injector of 1.4 mm.",)  # a name stays
    assert eu.tables[0].caption == "Injectors of orifice range"
    assert us.rows == eu.rows == paper.rows  # keys and figures of files
    assert paper_for(paper, "metric") == paper


def test_a_pdf_names_its_language_and_what_stays_english_in_it() -> None:
    """ISO 32000-1, 14.9.2: the natural language of the document, and of the parts that are in another."""
    study = {
        "kind": "Lista", "title": "Peças", "subtitle": "", "statement": EnglishText("It calculates."), "headline": [],
        "warnings": [{"word": "WARNING", "short": EnglishText("Gas leaks burn.")}], "notes": ["nota"],
        "tables": [{"caption": "Tabela", "heads": ["Peça"], "rows": [[EnglishText("orifice")]], "words": True}],
        "labels": {"notes": "Notas", "cautions": "Avisos"}, "cautions": [], "language": "pt-BR",
    }  # fmt: skip
    made = study_pdf_bytes(study, "")
    assert b"/Lang(pt-BR)" in made  # of the document
    assert languages_in(made)[b"en"] == 3
    plain = study | {"statement": "It calculates.", "warnings": [], "tables": [], "language": "en"}
    assert set(languages_in(study_pdf_bytes(plain, ""))) == {b"en"}


def languages_in(pdf: bytes) -> Counter[bytes]:
    """How often the document and its parts name each language."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    whole = b"".join((pdf, *(zlib.decompress(one) for one in streams if one.startswith(b"\x78"))))
    return Counter(re.findall(rb"/Lang ?\(([^)]*)\)", whole))


@pytest.mark.browser
def test_the_first_orifice_stands_on_the_first_screen_of_a_phone(
    browser: Browser, papers: tuple[StudyPaper, ...]
) -> None:
    injectors_page, _, _, kits_page = papers
    page = browser.new_page(viewport={"width": 390, "height": 844})
    for paper in (injectors_page, kits_page):
        page.set_content(paper_html(paper))
        box = page.locator("tbody tr td").nth(1).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < 844, paper.kind
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, paper.kind
    page.close()
