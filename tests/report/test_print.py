"""Print of a sheet: one minus sign, whole units, every burner in the tables, each open question once."""

from __future__ import annotations

import re
from html import unescape

import pytest

import burnerlab as bl
from burnerlab.appliance import demonstration_path, read_appliance
from burnerlab.report import build_sheet
from burnerlab.report.html import html_text
from burnerlab.report.pdf import TEMPLATES, whole_units
from burnerlab.report.terminal import terminal_text

LEFT = "griddle tube left"
PORTS = 'ports    = { diameter = "1.6 mm", count = 180, depth = "3 mm", pitch = "4.4 mm", rows = 2 }\n'
HYPHEN = re.compile(r"(?<![\w./-])-(?=\d)")


@pytest.fixture(scope="module")
def without_ports(tmp_path_factory: pytest.TempPathFactory) -> bl.Conversion:
    """The demonstration without the ports of one burner, on a gas without yellow tips."""
    file = tmp_path_factory.mktemp("print") / "range.toml"
    text = demonstration_path().read_text(encoding="utf-8")
    assert PORTS in text
    file.write_text(text.replace(PORTS, "", 1), encoding="utf-8")
    return bl.evaluate_conversion(bl.convert(read_appliance(file), "hydrogen", "20 mbar"))


@pytest.fixture(scope="module")
def page(without_ports: bl.Conversion) -> str:
    """Without its figures, whose texts are outlines."""
    return html_text(build_sheet(without_ports), {})


def test_a_burner_without_ports_stands_in_the_table_of_air(without_ports: bl.Conversion, page: str) -> None:
    lines = terminal_text(without_ports).splitlines()
    head = next(place for place, line in enumerate(lines) if "air cold-hot" in line)
    row = next(line for line in lines[head:] if line.startswith(LEFT))
    assert "not evaluated" in row
    page = unescape(page)
    table = page[page.index("Primary air and ports at full rate") :].split("</table>")[0]
    rows = [" ".join(re.sub(r"<[^>]+>", " ", one).split()) for one in table.split("<tr")]
    assert sum(one.startswith(f"> {LEFT}") or LEFT in one for one in rows) == 1
    assert "not evaluated not evaluated" in next(one for one in rows if LEFT in one)


def test_an_open_question_stands_once_in_the_terminal(without_ports: bl.Conversion) -> None:
    text = " ".join(terminal_text(without_ports).split())
    topics = text.split("Not evaluated: ")[1].split(".")[0].split(", ")
    assert "yellow tipping" in topics
    assert len(topics) == len(set(topics))


def test_a_sheet_has_one_minus_sign(page: str) -> None:
    page = re.sub(r"<(style|svg).*?</\1>", " ", page, flags=re.S)
    text = unescape(re.sub(r"<[^>]+>", " ", page))
    assert "\N{MINUS SIGN}" in text
    assert not [text[max(0, m.start() - 40) : m.end() + 20] for m in HYPHEN.finditer(text)]


@pytest.mark.parametrize("unit", ["Btu/h", "kBtu/h", "kg/h", "m³/h", "ft³/h", "W/mm²"])
def test_a_unit_with_a_stroke_does_not_break_in_the_pdf(unit: str) -> None:
    """U+00A0 and U+2060 forbid a break (Unicode Standard Annex 14, classes GL and WJ)."""
    assert whole_units(f"95 000 {unit}") == "95 000\N{NO-BREAK SPACE}" + unit.replace("/", "/\N{WORD JOINER}")


def test_every_heading_of_a_paper_stays_with_its_text() -> None:
    """A sticky block of typst stands on the page of what follows it."""
    heading = re.compile(r"std\.block\((?=.*strong\(phrase\(1\.[12]em)(?P<how>.*?)strong\(")
    found = [
        (path.name, hit["how"])
        for path in TEMPLATES.glob("*.typ")
        for hit in heading.finditer(path.read_text(encoding="utf-8"))
        if path.name in ("plan.typ", "study.typ")
    ]
    assert len(found) >= 7
    assert [name for name, how in found if "sticky: true" not in how] == []


def test_a_figure_stays_with_its_percent_sign_in_the_pdf() -> None:
    assert whole_units("1.60 mm +1.8 %").split(" ") == ["1.60\N{NO-BREAK SPACE}mm", "+1.8\N{NO-BREAK SPACE}%"]


def test_a_coefficient_is_no_share_in_a_notebook() -> None:
    html = bl.flow("propane", "#54", bl.Conditions(gauge_pressure_Pa="11 in w.c."))._repr_html_()
    assert "0.900" in html
    assert "90.0 %" not in html
