"""Cautions: in every format, whatever the options; and nothing that claims more than a calculation can."""

from __future__ import annotations

import io
import json
import re
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from forbidden_words import claims

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.gas import gas_from_mapping, read_mix
from burnerlab.report import SheetFiles, SheetOptions, build_sheet, write_sheet
from burnerlab.report.formats import json_text
from burnerlab.report.sheet.wording import STATEMENT, lines_of_sheet
from burnerlab.report.terminal import terminal_text
from burnerlab.tables.cautions import caution, cautions, closing_cautions
from burnerlab.tables.verdict import Verdict


def squeeze(text: str) -> str:
    return re.sub(r"\s+", "", text)


def test_the_maker_and_the_local_code_come_first() -> None:
    first = caution("calculated").text
    for word in ("maker's instructions", "certified testing", "gas code", "licensed practice"):
        assert word in first


@pytest.mark.parametrize(("paper", "system"), [(p, s) for p in ("A4", "Letter") for s in ("metric", "US")])
def test_no_option_removes_a_caution(
    conversion: Conversion, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, paper: str, system: str
) -> None:
    """The figures, which carry none, are left out."""
    silent = replace(
        conversion, notes=(), sources=(), prompts=(), calculation=(), findings=(), not_evaluated=()
    )
    monkeypatch.setattr("burnerlab.report.figures.sheet_figures.draw", lambda *_: {})
    options = SheetOptions(name="n", overwrite=True, date="", system=system, paper=paper)  # type: ignore[arg-type]
    for path in write_sheet(silent, tmp_path, ("html", "csv", "json"), options).files:
        text = re.sub(r"<[^>]*>", "", path.read_text(encoding="utf-8").replace("&#39;", "'"))
        for one in cautions():
            wanted = one.hazard if path.suffix == ".json" else one.text
            assert text.count(wanted) == 1, (path.suffix, one.id)
        assert STATEMENT in text


@pytest.fixture(scope="module")
def book(dated_files: SheetFiles) -> Any:
    from openpyxl import load_workbook

    return load_workbook(next(path for path in dated_files.files if path.suffix == ".xlsx"))


def test_the_workbook_carries_each_once_in_full(book: Any) -> None:
    texts = [str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row]
    for one in cautions():
        assert texts.count(one.text) == 1, one.id
    assert STATEMENT in texts


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_pdf_carries_each_once_in_full(
    conversion: Conversion, pdf_words: Callable[[bytes], str], paper: str
) -> None:
    from burnerlab.report.pdf import pdf_bytes

    words = pdf_words(pdf_bytes(build_sheet(conversion), {}, paper=paper))
    for one in cautions():
        assert words.count(squeeze(one.text)) == 1, one.id
    assert words.count(squeeze(STATEMENT)) >= 2  # near the top, and with the cautions


@pytest.mark.parametrize("width", [80, 200])
def test_the_terminal_ends_with_the_lines_that_fit(conversion: Conversion, width: int) -> None:
    lines = terminal_text(conversion, width=width).rstrip().split("\n")
    assert lines[-3:] == [one.line for one in closing_cautions("convert")]
    assert lines[-3].startswith("WARNING: ")


def test_the_line_of_every_warning_stands_above_the_orifices_and_the_full_texts_last(
    conversion: Conversion,
) -> None:
    """Page one is the job card: its stop box has the lines, and nothing on it stands before the box but its head."""
    from burnerlab.report.html import html_text

    page = html_text(build_sheet(conversion), {})
    warnings = [one for one in lines_of_sheet(conversion) if one.signal == "WARNING"]
    assert len(warnings) >= 7
    places = [page.index(one.line.partition(": ")[2].replace("'", "&#39;")) for one in warnings]
    assert places == sorted(places)
    assert page.index("stop-box") < places[0]
    assert places[-1] < page.index("Put in") < page.index("<caption>Orifices</caption>")
    assert page.index(cautions()[0].hazard) > page.index('<section id="worked"')
    assert '<details open>\n<summary><h2 id="head-cautions">' in page  # never folded


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_page_one_has_the_stop_box_the_orifices_and_the_steps(
    pdf_streams: Callable[[bytes], list[bytes]], pdf_words: Callable[[bytes], str], paper: str
) -> None:
    """Text streams stand in the order of the pages: the first holds the whole card of the demonstration."""
    from burnerlab.report.pdf import pdf_bytes

    job = convert(demonstration(), "propane", 2740.0)
    sheet = build_sheet(job)
    made = pdf_bytes(sheet, {}, paper=paper)
    first = next(stream for stream in pdf_streams(made) if b" Tf" in stream)
    fonts = [stream for stream in pdf_streams(made) if b"beginbfchar" in stream]
    packed = b"".join(b"stream\n" + zlib.compress(stream) for stream in (first, *fonts))
    words = pdf_words(packed)
    for step in sheet.card.steps:
        assert squeeze(step.text) in words, step.text
    for one in lines_of_sheet(job):
        assert one.signal != "WARNING" or squeeze(one.line.partition(": ")[2]) in words, one.id
    assert words.index(squeeze(sheet.card.stop_box.first)) < words.index(squeeze(sheet.card.steps[-1].text))


def test_what_touches_gas_parts_says_gas_off_by_whom_and_the_test_after(conversion: Conversion) -> None:
    prompts = convert(demonstration(), "propane", 2740.0).prompts
    told = [text for text in prompts if re.search(r"(changes|fits|replaced)\b", text)]
    assert len(told) >= 3
    for text in told:
        assert re.search("gas off and isolated", text, re.IGNORECASE), text
        assert "qualified person" in text
        assert re.search("leak test", text), text


ORDER_OF_THE_WORK = (
    "certified conversion kit", "changes every orifice", "fits a regulator made for", "Leak test before lighting",
    "Light one burner first", "All burners on at full rate", "Measure the heat input", "air shutters",
    "low-rate stop", "Measure carbon monoxide", "conversion label", "altitude range",
)  # fmt: skip
BURNING = re.compile(
    r"(?i)\blight (?:one|each|all|the)|\blights\b|by the flame|each flame|full rate|burners on\b|heat input of each"
)


@pytest.mark.parametrize(("gas", "pressure_Pa"), [("propane", 2740.0), ("G30", 2900.0), ("hydrogen", 1743.6),
                                                  ("town-gas-coal", 800.0), ("methane-rich", 2000.0)])  # fmt: skip
def test_no_gas_flows_before_every_part_is_changed_and_no_flame_before_the_leak_test(
    gas: str, pressure_Pa: float
) -> None:
    """A checklist is followed from the top: a pressure set with burners on before the orifices burns them overfired."""
    new = read_mix("methane=0.95,ethane=0.05", per="mole") if gas == "methane-rich" else gas
    job = convert(demonstration(), new, pressure_Pa, altitude_m=1500.0)
    prompts = job.prompts
    order = [next(i for i, text in enumerate(prompts) if word in text) for word in ORDER_OF_THE_WORK]
    assert order == sorted(order)
    leak = next(i for i, text in enumerate(prompts) if text.startswith("Leak test before lighting"))
    burning = [i for i, text in enumerate(prompts) if BURNING.search(text)]
    assert burning[0] == next(
        i for i, text in enumerate(prompts) if text.startswith("Light one burner first")
    )
    assert min(burning) > leak
    parts = [i for i, text in enumerate(prompts) if re.search(r"qualified person (changes|fits)", text)]
    assert len(parts) == 2
    assert max(parts) < leak
    for i in parts:
        assert prompts[i].startswith("Gas off and isolated, parts cool")


def test_the_orifices_are_on_the_list_when_only_the_pressure_changes() -> None:
    job = demonstration()
    prompts = convert(job, job.supply.gas, 2000.0).prompts
    assert any("changes every orifice" in text for text in prompts)
    assert any("fits a regulator" in text for text in prompts)


def test_the_checklist_is_numbered_with_a_place_to_sign(conversion: Conversion, book: Any) -> None:
    from burnerlab.report.html import html_text
    from burnerlab.report.pdf import sheet_data

    sheet = build_sheet(conversion)
    part = html_text(sheet, {}).partition('<section id="prompts"')[2].partition("</section>")[0]
    count = len(conversion.prompts)
    assert '<ol class="points signed">' in part
    assert part.count('class="signature"') == part.count("<li>") == count
    (block,) = next(
        one for one in sheet_data(sheet, {}, "A4")["sheet"]["sections"] if one["key"] == "prompts"
    )["blocks"]
    assert block["signed"]
    assert len(block["items"]) == count
    cells = [row[:2] for row in book["Basis and sources"].iter_rows(values_only=True)]
    printed = [item.replace("\N{NO-BREAK SPACE}", " ") for item in block["items"]]
    assert [number for number, text in cells if text in printed] == [f"{n}." for n in range(1, count + 1)]


def test_a_gas_with_hydrogen_has_a_line_of_its_own_on_page_one(conversion: Conversion) -> None:
    for gas in (
        read_mix("methane=0.8,hydrogen=0.2", per="mole"),
        gas_from_mapping({"name": "works gas", "gross_heating_value": "16 MJ/m3 gross at 15C", "relative_density": 0.5,
                          "family": "town gas"}),
    ):  # fmt: skip
        ids = [one.id for one in lines_of_sheet(convert(demonstration(), gas, 1000.0))]
        assert "special-gas" in ids
    assert "special-gas" not in [one.id for one in lines_of_sheet(conversion)]


def test_nothing_claims_what_a_calculation_cannot(conversion: Conversion, dated_files: SheetFiles) -> None:
    written = [path for path in dated_files.files if path.suffix in (".html", ".csv", ".json")]
    assert len(written) == 4
    for text in [path.read_text(encoding="utf-8") for path in written] + [terminal_text(conversion)]:
        assert not re.search("[✓✔✅]", text)
        for piece in re.split(r"<[^>]*>|\n", re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)):
            assert not claims(piece)


def test_a_verdict_is_a_word_and_a_shape(conversion: Conversion) -> None:
    from burnerlab.report.html import html_text

    outside = replace(conversion.findings[0], verdict=Verdict.OUTSIDE)
    page = html_text(build_sheet(replace(conversion, findings=(outside, *conversion.findings[1:]))), {})
    assert re.search(r'<use href="#shape-triangle"/></svg>outside</span>', page)
    assert re.search(r'<use href="#shape-half"/></svg>near</span>', page)
    assert re.search(r'<use href="#shape-disc"/></svg>within</span>', page)


def test_json_repeats_statement_and_cautions(conversion: Conversion) -> None:
    result = json.loads(json_text(conversion))
    assert result["statement"] == STATEMENT
    assert result["cautions"] == [one.as_json() for one in cautions()]


def test_a_terminal_that_knows_only_ascii_still_shows_the_verdicts(conversion: Conversion) -> None:
    from rich.console import Console

    from burnerlab.report.terminal import terminal

    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii", errors="replace")
    terminal(conversion, console=Console(file=stream, width=80, color_system=None))
    stream.flush()
    assert raw.getvalue().decode("ascii").count("within") == len(conversion.burners)
