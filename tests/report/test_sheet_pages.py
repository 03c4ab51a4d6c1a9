"""HTML and PDF: what a user wrote stays text, nothing is fetched, the same sheet gives the same bytes."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from hashlib import sha256
from html.parser import HTMLParser
from pathlib import Path

import pytest

from burnerlab.appliance.conversion.result import Conversion
from burnerlab.report import Sheet, SheetFiles, build_sheet
from burnerlab.report.html import html_text
from burnerlab.report.pdf import pdf_bytes

ORDER = [
    "burners",
    "first",
    "open",
    "prompts",
    "inputs",
    "air",
    "figures",
    "not_evaluated",
    "checks",
    "worked",
]
ORDER += ["job", "basis", "cautions", "sources", "terms", "version"]


class Page(HTMLParser):
    """What a browser would see: elements, their attributes, and the text outside of style."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self._style = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._style = tag == "style"

    def handle_endtag(self, tag: str) -> None:
        self._style = False

    def handle_data(self, data: str) -> None:
        if not self._style:
            self.words.append(data)

    @property
    def text(self) -> str:
        return "".join(self.words)


@pytest.fixture(scope="module")
def sheet(conversion: Conversion) -> Sheet:
    return build_sheet(conversion, date="25 November 2026")


@pytest.fixture(scope="module")
def page(sheet: Sheet, figures: dict[str, str]) -> str:
    return html_text(sheet, figures)


def test_sections_stand_in_their_order(page: str, sheet: Sheet) -> None:
    assert [section.key for section in sheet.sections] == ORDER
    assert re.findall(r'<section id="(\w+)"', page) == ["card", *ORDER]


def test_nothing_is_fetched_and_no_script_runs(page: str) -> None:
    seen = Page(page)
    assert not re.search(r"https?://|//\w+\.\w+/", page)
    assert not {"script", "link", "img", "iframe", "object", "base", "form"} & {
        tag for tag, _ in seen.elements
    }
    for _, attributes in seen.elements:
        for key, value in attributes.items():
            assert not key.startswith("on")
            assert key not in ("src", "srcset", "action")
            assert key != "href" or (value or "").startswith("#")
    assert "url(" not in page.replace("url(#", "")
    assert "@import" not in page


def test_every_link_and_reference_has_its_target_and_ids_are_unique(page: str) -> None:
    elements = Page(page).elements
    ids = [attributes["id"] for _, attributes in elements if attributes.get("id")]
    assert len(ids) == len(set(ids))
    targets = [str(a["href"])[1:] for _, a in elements if str(a.get("href", "")).startswith("#")]
    targets += re.findall(r"url\(#([^)]+)\)", page)
    for _, attributes in elements:
        targets += str(attributes.get("aria-labelledby") or "").split()
    assert set(targets) <= set(ids)


def test_it_can_be_read_without_seeing(page: str) -> None:
    elements = Page(page).elements
    assert ("html", {"lang": "en"}) in elements
    assert sum(tag == "h1" for tag, _ in elements) == 1
    assert (
        sum(tag == "table" for tag, _ in elements) == page.count("<caption>") + 1
    )  # readings, below their head
    assert all(attributes.get("scope") in ("col", "row") for tag, attributes in elements if tag == "th")
    figures = [attributes for tag, attributes in elements if tag == "svg" and attributes.get("role") == "img"]
    assert len(figures) == 2
    assert page.count("<desc") == 2
    assert "griddle tube from 1.511 mm to #57" in page
    loose = [
        a for tag, a in elements if tag == "svg" and not a.get("role") and a.get("aria-hidden") != "true"
    ]
    assert not loose


def test_every_figure_of_a_burner_is_on_the_page(page: str, conversion: Conversion) -> None:
    text = Page(page).text
    for burner in conversion.burners:
        for value in (burner.rate_gross_W, burner.predicted_gross_W, burner.from_predicted_gross_W):
            assert f"{value / 1e3:.2f} kW" in text
        assert f"{burner.to_orifice_m * 1e3:.3f} mm" in text
        assert f"{burner.to_orifice_m / 0.0254:.4f} in" not in text  # one system of units
    for word in (conversion.file_sha256, conversion.reference, "burnerlab 0.1.0", "market-cart.toml"):
        assert word in text


def test_what_a_user_wrote_is_text_in_html(
    hostile: Conversion, hostile_figures: dict[str, str], page: str
) -> None:
    harmless = {tag for tag, _ in Page(page).elements}
    page = html_text(build_sheet(hostile), hostile_figures)
    assert {tag for tag, _ in Page(page).elements} == harmless
    text = Page(page).text
    assert "<img src=x onerror=alert(1)>&\"'</script>: change of gas" in text
    assert "{{ 7*7 }} {% raw %}" in text
    assert "a?b?c d" in text
    assert "\x00" not in page
    assert "\u202e" not in page


def test_a_long_name_is_cut_at_eighty_characters(hostile: Conversion) -> None:
    sheet = build_sheet(hostile)
    names = [
        row[0].text
        for block in sheet.section("burners").blocks
        if hasattr(block, "columns")
        for row in block.rows
    ]
    assert max(len(name) for name in names) == 80
    assert any(name.endswith("…") for name in names)


def test_what_a_user_wrote_is_text_in_pdf(
    hostile: Conversion, hostile_figures: dict[str, str], pdf_words: Callable[[bytes], str]
) -> None:
    words = pdf_words(pdf_bytes(build_sheet(hostile), hostile_figures))
    for literal in (
        '#import"@preview/x:0.1.0"$x^2$*bold*_i_`raw`<label>@ref//no',
        "<imgsrc=xonerror=alert(1)>&\"'</script>",
        "$\\frac{1}{0}$#{1+1}{{7*7}}{%raw%}",
        "=1+1",
    ):
        assert literal in words


@pytest.fixture(scope="module")
def dated_pdf(dated_files: SheetFiles) -> bytes:
    return next(
        path for path in dated_files.files if path.name == "market-cart-range-to-propane.pdf"
    ).read_bytes()


def test_pdf_is_byte_identical_apart_from_its_dated_header(
    conversion: Conversion, figures: dict[str, str], dated_pdf: bytes
) -> None:
    """And of the same date the same bytes, here and in another process."""
    assert dated_pdf.startswith(b"%PDF-")
    assert pdf_bytes(build_sheet(conversion, date="1 May 2031"), figures) != dated_pdf


def test_pdf_has_its_fonts_inside(dated_pdf: bytes, pdf_streams: Callable[[bytes], list[bytes]]) -> None:
    made = dated_pdf
    whole = b"".join([made, *pdf_streams(made)])
    fonts = whole.count(b"/Type/FontDescriptor")
    assert fonts >= 2
    assert len(re.findall(rb"/FontFile[23]? ", whole)) == fonts


SCRIPT = """
import sys, locale
sys.path.insert(0, {here!r})
try:
    locale.setlocale(locale.LC_ALL, "")
except locale.Error:
    pass
from pathlib import Path
from conftest import example_conversion
from burnerlab.report import SheetOptions, write_sheet
write_sheet(example_conversion(), sys.argv[1], options=SheetOptions(date="25 November 2026"))
print("peak", [x for x in open("/proc/self/status") if "VmHWM" in x][0].split()[1])
"""


@pytest.fixture(scope="module")
def made_apart(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    """The folder of a process that makes every format in another time zone and language, and its memory."""
    language = "de_DE.UTF-8"
    change = {"TZ": "Pacific/Kiritimati", "LANG": language, "LC_ALL": language, "PYTHONHASHSEED": "2"}
    folder = tmp_path_factory.mktemp("apart")
    command = [sys.executable, "-c", SCRIPT.format(here=str(Path(__file__).parent)), str(folder)]
    done = subprocess.run(command, env=os.environ | change, capture_output=True, text=True, check=True)
    return folder, float(done.stdout.removeprefix("peak"))


ENGINES = re.compile(
    rb'"engines": \{.*?\}', re.DOTALL
)  # of the JSON: the libraries that the process has loaded


def test_the_same_bytes_in_another_time_zone_language_and_folder(
    made_apart: tuple[Path, float], dated_files: SheetFiles
) -> None:
    assert {path.name for path in made_apart[0].iterdir()} == {path.name for path in dated_files.files}
    assert len(dated_files.files) == 7
    for here in dated_files.files:
        first, second = here.read_bytes(), (made_apart[0] / here.name).read_bytes()
        if here.suffix == ".json":
            first, second = (ENGINES.sub(b"", one, count=1) for one in (first, second))
        assert sha256(first).hexdigest() == sha256(second).hexdigest(), here.name


def test_memory_stays_small(made_apart: tuple[Path, float]) -> None:
    """Peak memory of making every format, in a process of its own."""
    assert made_apart[1] / 1024 < 300.0
