"""Cautions: in every format, whatever the options; and nothing that claims more than a calculation can."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from burnerlab.appliance.result import Conversion
from burnerlab.report import Options, build_sheet, to_json, write_sheet
from burnerlab.report.terminal import terminal_text
from burnerlab.report.wording import CAUTIONS, STATEMENT, all_cautions

TOPICS = ("gas leak", "carbon monoxide", "fire", "burns")


def squeeze(text: str) -> str:
    return re.sub(r"\s+", "", text)


def test_the_hazards_have_the_signal_word_they_need() -> None:
    signals = {caution.topic: caution.signal for caution in CAUTIONS}
    assert [signals[topic] for topic in TOPICS] == ["WARNING"] * 4
    assert signals["drills"] == "NOTICE"
    first = next(caution.text for caution in CAUTIONS if caution.topic == "what comes first")
    assert all(
        word in first
        for word in ("maker's instructions", "certified testing", "gas code", "licensed practice")
    )


@pytest.mark.parametrize(("paper", "system"), [(p, s) for p in ("A4", "Letter") for s in ("metric", "US")])
def test_no_option_removes_a_caution(conversion: Conversion, tmp_path: Path, paper: str, system: str) -> None:
    silent = replace(
        conversion, cautions=(), notes=(), sources=(), prompts=(), worked=(), findings=(), not_evaluated=()
    )
    options = Options(name="n", overwrite=True, date="", system=system, paper=paper)  # type: ignore[arg-type]
    for path in write_sheet(silent, tmp_path, ("html", "csv", "json"), options).files:
        text = path.read_text(encoding="utf-8").replace("&#39;", "'")
        for caution in CAUTIONS:
            assert caution.text in text.replace("\\n", " "), (path.suffix, caution.topic)
        assert STATEMENT in text


def test_the_workbook_carries_them(conversion: Conversion, tmp_path: Path) -> None:
    from openpyxl import load_workbook

    (path,) = write_sheet(replace(conversion, cautions=()), tmp_path, ("xlsx",)).files
    texts = {str(cell.value) for row in load_workbook(path)["Cautions"].iter_rows() for cell in row}
    assert {caution.text for caution in CAUTIONS} <= texts
    assert STATEMENT in texts


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_pdf_carries_them(conversion: Conversion, pdf_words: Callable[[bytes], str], paper: str) -> None:
    from burnerlab.report.pdf import pdf_bytes

    words = pdf_words(pdf_bytes(build_sheet(replace(conversion, cautions=())), {}, paper=paper))
    for caution in CAUTIONS:
        assert squeeze(caution.text) in words
    assert words.count(squeeze(STATEMENT)) >= 2  # near the top, and with the cautions


@pytest.mark.parametrize("width", [60, 80, 200])
def test_the_terminal_carries_them(conversion: Conversion, width: int) -> None:
    words = squeeze(terminal_text(replace(conversion, cautions=()), width=width))
    assert squeeze(STATEMENT) in words
    assert "WARNING:" + squeeze(", ".join(TOPICS)) in words
    assert "NOTICE:" in words


def test_a_caution_of_the_result_is_added_and_keeps_its_signal() -> None:
    added = all_cautions(("WARNING: the shed is on fire.", "Look at the hose.", STATEMENT))
    assert [(c.signal, c.text) for c in added[len(CAUTIONS) :]] == [
        ("WARNING", "the shed is on fire."),
        ("NOTICE", "Look at the hose."),
    ]


def test_cautions_stand_near_the_top_and_in_full_at_the_end(conversion: Conversion) -> None:
    from burnerlab.report.html import html_text

    page = html_text(build_sheet(conversion), {})
    assert page.index(STATEMENT) < page.index('<section id="job"')
    assert page.index(CAUTIONS[0].text) > page.index('<section id="worked"')


CLAIMS = re.compile(
    r"\b(safe|safely|approved|compliant|passed|pass|certified for|guaranteed)\b|✓|✔|✅", re.IGNORECASE
)


def test_nothing_claims_what_a_calculation_cannot(conversion: Conversion, tmp_path: Path) -> None:
    written = write_sheet(conversion, tmp_path, ("html", "csv", "json")).files
    for text in [path.read_text(encoding="utf-8") for path in written] + [terminal_text(conversion)]:
        assert not CLAIMS.search(re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL))


def test_a_verdict_is_a_word_and_a_shape(conversion: Conversion) -> None:
    from burnerlab.report.html import html_text

    outside = replace(conversion.findings[0], verdict="outside")
    page = html_text(build_sheet(replace(conversion, findings=(outside, *conversion.findings[1:]))), {})
    assert re.search(r'<use href="#shape-triangle"/></svg>outside</span>', page)
    assert re.search(r'<use href="#shape-half"/></svg>near</span>', page)
    assert re.search(r'<use href="#shape-disc"/></svg>within</span>', page)


def test_json_repeats_statement_and_cautions(conversion: Conversion) -> None:
    result = json.loads(json.dumps(to_json(conversion), allow_nan=False))
    assert result["statement"] == STATEMENT
    assert len(result["cautions"]) == len(all_cautions(conversion.cautions))


def test_a_terminal_that_knows_only_ascii_still_shows_the_verdicts(conversion: Conversion) -> None:
    from rich.console import Console

    from burnerlab.report.terminal import terminal

    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii", errors="replace")
    terminal(conversion, console=Console(file=stream, width=80, color_system=None))
    stream.flush()
    assert raw.getvalue().decode("ascii").count("within") == len(conversion.burners)
