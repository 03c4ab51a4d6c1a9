"""The short sheet: card, three pages, annex; the words and the units of its reader."""

from __future__ import annotations

import copy
import csv
import io
import json
import pickle
import re
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

import pytest
from openpyxl import load_workbook

from burnerlab import tables
from burnerlab.appliance import Conversion, convert, demonstration
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.result import Finding
from burnerlab.quantity.prose import prose_in
from burnerlab.quantity.quantity_text import kilowatt, millibar, quantity_text, text_in
from burnerlab.report import Sheet, build_sheet
from burnerlab.report.formats import csv_text
from burnerlab.report.pdf import pdf_bytes
from burnerlab.report.sheet.checks import finding_range
from burnerlab.report.sheet.terms import KEYS, names_of
from burnerlab.report.sheet.units import conversion_in, drill_names, finding_in
from burnerlab.report.workbook import HEAD_ROW, KEY_ROW
from burnerlab.report.xlsx import xlsx_bytes
from burnerlab.tables.region import in_terms_of, regional_terms
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from playwright.sync_api import Browser

REGIONS = ("", "us", "eu")


@pytest.fixture(scope="module")
def by_region() -> dict[str, Conversion]:
    cart = demonstration()
    made = {"": evaluate_conversion(convert(cart, "propane", 2740.0))}
    made["us"] = replace(made[""], region="us")
    made["eu"] = evaluate_conversion(convert(replace(cart, region="eu"), "G31", 3700.0))
    return made


@pytest.fixture(scope="module")
def twelve() -> Conversion:
    cart = demonstration()
    burners = tuple(
        replace(b, name=f"{b.name} {place}", rate_W=b.rate_W * (1 + 0.01 * place))
        for place, b in enumerate([*cart.burners, *cart.burners], start=1)
    )
    return evaluate_conversion(
        convert(replace(cart, burners=burners, supply=replace(cart.supply, train=None)), "propane", 2740.0)
    )


# pages


@pytest.mark.parametrize(
    ("case", "paper"), [("", "A4"), ("us", "Letter"), ("eu", "A4"), ("twelve", "A4"), ("twelve", "Letter")]
)
def test_card_and_three_pages_stand_before_the_annex(
    by_region: dict[str, Conversion],
    twelve: Conversion,
    pages_of: Callable[[bytes], int],
    case: str,
    paper: str,
) -> None:
    c = twelve if case == "twelve" else by_region[case]
    sheet = build_sheet(c, system="US" if case == "us" else "metric")
    short = replace(sheet, sections=tuple(one for one in sheet.sections if one.place != "annex"))
    assert pages_of(pdf_bytes(short, {}, paper=paper)) <= (4 if case != "twelve" else 5)


def test_every_section_stands_once_and_the_answer_first(by_region: dict[str, Conversion]) -> None:
    sheet = build_sheet(by_region[""])
    places = [section.place for section in sheet.sections]
    assert places == sorted(places, key=["answer", "air", "supply", "annex"].index)
    assert [section.key for section in sheet.place("answer")] == ["burners", "first", "open"]
    assert [section.key for section in sheet.place("air")] == ["flames"]
    assert [section.key for section in sheet.place("supply")] == ["pressures", "tolerance", "tile", "layout"]
    keys = [section.key for section in sheet.sections]
    assert len(keys) == len(set(keys))
    assert sheet.section("burners").lead.startswith("Supply of the new gas: ")


def test_what_the_factory_makes_and_what_the_field_adds_stand_apart(by_region: dict[str, Conversion]) -> None:
    """The field has every cause of the factory and more: its spread is never the smaller."""
    (table,) = build_sheet(by_region[""]).section("tolerance").blocks
    for row in (*table.rows, table.total):  # type: ignore[union-attr]
        made, used = (
            [float(end) for end in re.findall(r"[-+]?[\d.]+(?= %)", cell.text)] for cell in (row[1], row[3])
        )
        assert used[1] - used[0] > made[1] - made[0]
        assert row[4].value >= row[2].value
    assert "count no unit that was measured" in build_sheet(by_region[""]).section("tolerance").lead


@pytest.mark.browser
def test_on_a_phone_the_orifices_come_first_and_the_annex_is_folded(
    browser: Browser, evaluated_page: tuple[Conversion, str]
) -> None:
    job, address = evaluated_page
    page: Any = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(address)
    box = page.locator(".orifice").first.bounding_box()
    assert box["y"] + box["height"] < 844
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    assert page.evaluate("document.documentElement.scrollHeight") < 20_000  # 60 231 px before
    folded = page.locator("details:not([open])").count()
    assert folded == len(build_sheet(job).place("annex")) - 1
    assert page.locator("#cautions details[open]").count() == 1
    cut = page.evaluate(
        """() => [...document.querySelectorAll('main table')].filter(table => {
            const scroll = table.closest('.scroll');
            return scroll ? scroll.getBoundingClientRect().right > 391 || getComputedStyle(scroll).overflowX !== 'auto'
                : table.getBoundingClientRect().right > 391;
        }).length"""
    )
    assert cut == 0
    page.emulate_media(media="print")
    printed = page.evaluate(
        "[...document.querySelectorAll('#worked li')].every(one => one.getBoundingClientRect().height > 0)"
    )
    assert printed  # on paper nothing is folded
    page.close()


# words


def texts(value: Any) -> Iterator[str]:
    """Every text of a sheet that is printed."""
    if type(value) is str:
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from texts(one)
    elif is_dataclass(value):
        for one in fields(value):
            if one.name not in KEYS:
                yield from texts(getattr(value, one.name))


@pytest.mark.parametrize("region", ["us", "eu"])
def test_no_house_word_is_left_where_the_region_has_its_own(
    by_region: dict[str, Conversion], region: str
) -> None:
    c = by_region[region]
    said = " ".join(texts(build_sheet(c)))
    for name in sorted(names_of(c), key=len, reverse=True):
        said = said.replace(name, "")
    for term, own in regional_terms(region).items():
        assert not re.search(rf"(?i)(?<![\w-]){re.escape(term)}", said.replace(own, "")), term
    assert regional_terms(region)["light-back" if region == "us" else "orifice"] in said


def test_without_a_region_both_words_stand_in_the_annex(by_region: dict[str, Conversion]) -> None:
    sheet = build_sheet(by_region[""])
    (table,) = sheet.section("terms").blocks
    assert len(table.rows) == len(tables.rows("regional_terms"))  # type: ignore[union-attr]
    assert "terms" not in [section.key for section in build_sheet(by_region["eu"]).sections]


def test_no_word_of_a_name_is_exchanged() -> None:
    cart = replace(demonstration(), region="eu", name="orifice tester")
    named = replace(cart, burners=(replace(cart.burners[0], name="low rate"), *cart.burners[1:]))
    said = build_sheet(convert(named, "G31", 3700.0))
    assert said.card.title == "orifice tester"
    assert "low rate" in said.card.burners[0].names
    assert in_terms_of("eu", ("low rate",))("low rate: at Low rate") == "low rate: at Reduced rate"


# units


METRIC = re.compile(r"\d (?:mbar|kPa|kW|W/mm2|kW/m2|m3/h|kg/h|MJ/m3|°C)(?![\w/])")


def test_a_us_sheet_speaks_us_units_first(by_region: dict[str, Conversion]) -> None:
    """Values stand first in the reader's units; the worked example is in SI, as its formulas are."""
    sheet = build_sheet(by_region["us"], system="US")
    firsts = [
        cell.text
        for section in sheet.sections
        for block in section.blocks
        for row in getattr(block, "rows", ())
        if isinstance(row, tuple)
        for cell in row
    ]
    leads = [section.lead for section in sheet.sections]
    points = [
        item
        for s in sheet.sections
        for b in s.blocks
        for item in getattr(b, "items", ())
        if type(item) is str
    ]
    metric = [text for text in (*firsts, *leads) if METRIC.search(re.sub(r"\([^()]*\)", "", text))]
    assert metric == []
    assert [text for text in points if METRIC.search(re.sub(r"\([^()]*\)", "", text))] == []


def test_a_check_is_converted_and_its_verdict_is_not(by_region: dict[str, Conversion]) -> None:
    for found in by_region["us"].findings:
        made = finding_in(found, "US")
        assert (made.verdict, made.topic) == (found.verdict, found.topic)
        if found.value is not None and made.unit != found.unit and found.low is not None:
            assert (made.value > made.low) == (found.value > found.low)  # type: ignore[operator]
    hole = next(f for f in by_region["us"].findings if f.topic == "smallest orifice")
    made = finding_in(hole, "US")
    assert made.unit == "in"
    assert made.value == pytest.approx(hole.value / 25.4)  # type: ignore[operator]


def test_the_text_of_a_check_is_in_the_units_of_the_reader(by_region: dict[str, Conversion]) -> None:
    c = by_region["us"]
    us = conversion_in(c, "US")
    assert conversion_in(c, "metric") is c
    own = "|".join(map(re.escape, sorted(drill_names(c), key=len, reverse=True)))
    assert any(" mbar " in one.text for one in c.findings)
    for text in (
        *(one.text for one in us.findings),
        *(one.unit for one in us.findings),
        us.supply_of_new_gas,
    ):
        # beside the trade's own figures in F stand those in C; the reference state of a gas is a name
        bare = re.sub(rf"{own}|\(\d+ C\)|15 C/15 C", "", text)
        assert not re.search(r"\d ?(kPa|mbar|Pa|mm|kW|W|C|K|m)\b|^(kPa|mbar|Pa|mm|kW|MJ|W|°C|K)\b", bare), (
            text
        )
    assert not [one.text for one in c.findings if re.search(r"in w\.c\.|Btu|psi|°F", one.text)]
    assert [(one.topic, one.verdict) for one in us.findings] == [
        (one.topic, one.verdict) for one in c.findings
    ]


def test_a_sentence_keeps_its_quantities_through_copies() -> None:
    # NIST SP 811: 1 in w.c. (4 °C) = 249.082 Pa; 1 Btu(IT)/h = 0.29307107 W
    text = "at " + millibar(2490.82, ".4g") + " gives " + kilowatt(2930.7107, ".3g")
    for one in (text, copy.deepcopy(text), pickle.loads(pickle.dumps(text))):
        assert one == "at 24.91 mbar gives 2.93 kW"
        assert text_in(one, "US") == "at 10.00 in w.c. gives 10 000 Btu/h"
        assert text_in(one, "metric") == one
        assert json.dumps(one) == json.dumps(str(one))
    with pytest.raises(ValueError, match="zip"):
        quantity_text("{} and {}", text)


def test_a_range_of_whole_degrees_stays_whole() -> None:
    # 1000 °F = 537.78 °C (NIST SP 811, t/°C = (t/°F - 32)/1.8)
    face = Finding(
        topic="face", verdict=Verdict.WITHIN, text="", value=700.0, unit="°C", low=(1000.0 - 32.0) / 1.8
    )
    assert finding_range(finding_in(face, "US")) == "at least 1000 °F"


def test_prose_keeps_the_names_of_drills() -> None:
    words = prose_in("US", ("1.00 mm",))
    assert words("now 1.00 mm, bore 1.00 mm") == "now 1.00 mm, bore 1.00 mm"
    assert words("a hole of 25.4 mm at 24.884 mbar") == "a hole of 1.00 in at 9.9900 in w.c."
    assert words("between 20 to 30 °C") == "between 68.0 to 86.0 °F"
    assert words("gross Wobbe at 15 C/15 C") == "gross Wobbe at 15 C/15 C"
    assert prose_in("metric")("20 °C") == "20 °C"


def test_csv_has_the_units_of_its_keys_for_every_reader(by_region: dict[str, Conversion]) -> None:
    """Figures as in JSON and in the CSV of kits and injectors; only texts are in the units of the reader."""
    metric, us = (
        list(csv.reader(io.StringIO(csv_text(by_region["us"], system))))  # type: ignore[arg-type]
        for system in ("metric", "US")
    )
    burners = 1 + len(by_region["us"].burners)
    assert us[:burners] == metric[:burners]
    assert {key for row in us for key in row if re.search(r"_(in|Btu_per_h|F|lb_per_h|ft)$", key)} == set()
    differing = {a[0] for a, b in zip(metric, us, strict=True) if a != b}
    assert "prompts" in differing


def test_the_tables_of_the_workbook_follow_the_units_of_the_sheet(by_region: dict[str, Conversion]) -> None:
    c = by_region["us"]
    metric, us = (
        load_workbook(io.BytesIO(xlsx_bytes(c, build_sheet(c, system=system), system)), data_only=True)  # type: ignore[arg-type]
        for system in ("metric", "US")
    )
    tables = [name for name in metric.sheetnames if metric[name].cell(KEY_ROW + 1, 1).value]
    assert {"Burners", "Choices", "Air", "Pressure", "Flame", "Warm-up", "Tile", "Checks in full"} <= {
        *tables
    }
    ending = re.compile(
        r"_(mbar|kPa|Pa|kW|mm2?|m|C|K|MJ_per_k?[mg]3?|m3_per_h|kg_per_h|kg_per_m3|W_per_mm2)$"
    )
    for name in tables:
        assert [cell.value for cell in us[name][KEY_ROW + 1] if ending.search(str(cell.value))] == [], name
    # NIST SP 811: 1 in = 25.4 mm, 1 Btu(IT)/h = 0.29307107 W, 1 lb = 0.45359237 kg
    for key, key_us, size in (
        ("drill_diameter_mm", "drill_diameter_in", 25.4),
        ("heat_input_gross_kW", "heat_input_gross_Btu_per_h", 0.29307107e-3),
        ("mass_flow_kg_per_h", "mass_flow_lb_per_h", 0.45359237),
    ):
        assert _column(us["Burners"], key_us) == pytest.approx(
            [value / size for value in _column(metric["Burners"], key)], rel=1e-7
        )
    flame = (
        _column(metric["Flame"], "port_loading_W_per_mm2"),
        _column(us["Flame"], "port_loading_Btu_per_h_per_in2"),
    )
    assert flame[1] == pytest.approx([value * 25.4**2 / 0.29307107 for value in flame[0]], rel=1e-7)


def _column(page: Any, key: str) -> list[float]:
    """The figures below a key."""
    keys = [cell.value for cell in page[KEY_ROW + 1]]
    column = [row[keys.index(key)].value for row in page.iter_rows(min_row=HEAD_ROW + 2)]
    return [value for value in column if isinstance(value, int | float)]


def test_the_sheet_of_a_bare_conversion_has_card_answer_and_annex(
    conversion: Conversion, pages_of: Callable[[bytes], int]
) -> None:
    sheet: Sheet = build_sheet(conversion)
    assert not sheet.place("air")
    assert not sheet.place("supply")
    assert pages_of(pdf_bytes(sheet, {})) >= 4
