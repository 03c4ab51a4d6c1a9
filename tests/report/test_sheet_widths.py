"""A conversion of bare bores and US units: nothing cropped in 80 columns, no page wider than its window."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from burnerlab.appliance import Conversion, convert, read_appliance_text
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.quantity import System
from burnerlab.report.formats import to_json
from burnerlab.report.sheet.checks import outside_lines
from burnerlab.report.terminal import summary_text
from burnerlab.report.write import SheetOptions, write_sheet

THREE = """
[appliance]
name   = "three burners"
rating = "gross"

[supply]
gas      = "propane"
pressure = "11 in w.c."

[limits]
tolerance = "5 %"

[[burner]]
name     = "left"
kind     = "tube"
rate     = "12.5 kBtu/h"
turndown = "1:3"
orifice  = { drill = "#65", shape = "tapered" }
ports    = { diameter = "1.6 mm", count = 180, depth = "3 mm" }
throat   = "15.5 mm"
shutter  = { opening = "60 %", area = "155 mm2" }

[[burner]]
name     = "right"
kind     = "tube"
rate     = "12.5 kBtu/h"
orifice  = { drill = "1.00 mm", shape = "tapered" }
ports    = { diameter = "1.6 mm", count = 180, depth = "3 mm" }
throat   = "15.5 mm"
shutter  = { opening = "60 %", area = "155 mm2" }

[[burner]]
name     = "side"
kind     = "tube"
rate     = "16.5 kBtu/h"
orifice  = { diameter = "0.92 mm" }
"""
SUPPLY = """inlet = "15 in w.c."

[supply.hose]
bore   = "8 mm"
length = "1.2 m"
"""


@pytest.fixture(scope="module", params=["nominal", "supplied"])
def high(request: pytest.FixtureRequest) -> Conversion:
    text = THREE.replace("[limits]", f"{SUPPLY}\n[limits]") if request.param == "supplied" else THREE
    if request.param == "supplied":
        text = text.replace('"11 in w.c."\n\n', '"11 in w.c."\n')
    cart = read_appliance_text(text)
    return evaluate_conversion(convert(cart, "natural-gas-typical", "7 in w.c.", altitude_m=1524.0))


@pytest.fixture(scope="module")
def address(high: Conversion, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Of its page, in US units."""
    options = SheetOptions(name="s", system="US")
    (path,) = write_sheet(high, tmp_path_factory.mktemp("sheet"), ("html",), options).files
    return path.as_uri()


@pytest.fixture(scope="module")
def butane() -> Conversion:
    return evaluate_conversion(convert(read_appliance_text(THREE), "butane-commercial", "30 mbar"))


@pytest.mark.parametrize("system", ["metric", "US"])
def test_no_column_is_cropped_in_80_columns(high: Conversion, butane: Conversion, system: System) -> None:
    for case in (high, butane):
        text = summary_text(case, system=system)
        assert max(map(len, text.splitlines())) <= 80
        head, *rows = text[text.index("new drill") :].split("primary air")[0].split("\n")
        assert head.endswith("verdict") or rows[0].endswith("verdict") or rows[1].endswith("verdict")
        assert any(line.endswith("(±5 %)") for line in rows)
        for burner in case.burners:
            line = next(line for line in rows if line.startswith(f"{burner.name} "))
            assert line.split()[-1] in ("within", "near", "near*", "OUTSIDE", "OUTSIDE*")
            if system == "US" and "nominal %" not in text:
                assert f"({burner.to_orifice_m / 0.0254:.4f})" in text


def test_the_reason_of_a_row_stands_whole_below_the_table(butane: Conversion) -> None:
    assert "* left, right: OUTSIDE: drill tolerance." in summary_text(butane)


def test_what_is_outside_now_is_the_appliance_as_described(butane: Conversion) -> None:
    line = next(one for one in outside_lines(butane) if "present heat input" in one)
    worst = min(100 * (b.from_predicted_gross_W / b.from_rate_gross_W - 1) for b in butane.burners)
    assert f"as described now {worst:.1f} % from its rating, band -5 to +5 %" in line
    assert "(side, worst of 2; also left)" in line


def test_a_heat_input_names_its_case(high: Conversion) -> None:
    """The worse case in a notebook and in files; in the terminal every burner on, and unit and basis in one head."""
    table = high.summary().table
    assert "heat input gross, worse of all on and its kind on" in table[0]
    keys = to_json(high)["burners"][0]
    assert keys["heat_input_gross_kW"] == pytest.approx(high.burners[0].headline.heat_input_gross_W / 1e3)
    if high.burners[0].headline.deviation_all_on is not None:
        text = summary_text(high)
        heads = next(line for line in text.splitlines() if "new drill," in line)
        units = text.splitlines()[text.splitlines().index(heads) + 1]
        assert units[: heads.index("gross") + len("gross")].endswith("kW")  # the unit below its basis
        assert "heat inputs gross with all burners on" in " ".join(text.split())


@pytest.mark.browser
@pytest.mark.parametrize("width", [390, 1280])
def test_no_page_scrolls_sideways(browser: Browser, address: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 900})
    page.goto(address)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    beyond = page.evaluate(
        "[...document.querySelectorAll('.scroll')].filter(one => one.scrollWidth > one.clientWidth)"
        ".map(one => [one.getAttribute('aria-label'), one.scrollWidth, one.clientWidth])"
    )
    assert beyond == []
    page.close()
