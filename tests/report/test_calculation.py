"""The workbook recalculated by another program agrees with the conversion, as written and after each input changes.

The other program is the library ``formulas``, which reads the file and works out its cells; it knows nothing of the
orifice. The conversion itself is held against published figures in tests/orifice and tests/gas.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from burnerlab.appliance import Appliance, Conversion, convert, demonstration, read_appliance
from burnerlab.appliance.conversion.headline import NOMINAL, headline, unit_spread
from burnerlab.appliance.conversion.markets import convert_market, market_named
from burnerlab.appliance.conversion.refusal import not_to_fit, over_aim
from burnerlab.appliance.conversion.result import Step
from burnerlab.appliance.project.model import Tolerance
from burnerlab.orifice.discharge_coefficient import CORRELATIONS, HIGHEST_COEFFICIENT, LOWEST_COEFFICIENT
from burnerlab.quantity import Kind, System, UserError, read
from burnerlab.report import build_sheet
from burnerlab.report.calculation import add_calculation
from burnerlab.report.calculation_model import PAGE
from burnerlab.report.sheet.wording import STATEMENT, lines_of_sheet
from burnerlab.report.workbook import Workbook
from burnerlab.report.xlsx import xlsx_bytes

STOCK = ("number",)
MET = 1e-6  # relative; 1e-4 is what the workbook promises


@dataclass(frozen=True)
class Book:
    """A workbook of the calculating pages, recalculated by the other library."""

    cells: Any  # openpyxl, with formulas
    shown: Any  # openpyxl, the stored values
    model: Any
    places: Mapping[str, str]  # cells by the name of an input, or "key of column, place of the burner"
    run: Callable[..., dict[str, Any]]


def _bytes(c: Conversion, system: System) -> bytes:
    stream = io.BytesIO()
    book = Workbook(stream)
    add_calculation(book, c, system)
    book.book.close()
    return stream.getvalue()


INPUTS = (
    "new_gas",
    "new_pressure",
    "altitude",
    "barometer",
    "gas_temperature",
    "altitude_rule",
    "band_low",
    "band_high",
    "second_gas",
    "second_pressure",
)
HEADS = {
    "Rate": "rate", "Orifices of one burner": "orifices", "Discharge coefficient": "coefficient", "its least": "least",
    "its most": "most", "Exact orifice": "bore", "Drill taken": "drill", "Part number": "part", "Heat input [": "heat",
    "Deviation": "deviation", "its diameter": "bore of it", "With every burner on": "supplied",
    "Place in the band": "verdict", "Second gas, heat": "second_heat", "Own orifice to try": "own",
    "Orifice tried": "trial",
    "Second gas, dev": "second_deviation", "Second gas, place": "second_verdict", "Fits": "fits",
    "Heat input with it": "trial_heat", "Gas of one burner [m3": "volume_flow",
}  # fmt: skip
GIVEN = ("rate", "orifices", "coefficient", "least", "most", "own")


def _places(cells: Any, burners: int) -> dict[str, str]:
    """The cells of the inputs by name, and of the burners by head and place."""
    names = [name for name in INPUTS if name in cells.defined_names]
    found = {name: cells.defined_names[name].attr_text.split("!")[1].replace("$", "") for name in names}
    for row in cells[PAGE].iter_rows():
        if row[0].value == "Burner":
            for cell in row:
                key = next((key for head, key in HEADS.items() if str(cell.value).startswith(head)), "")
                found |= {
                    f"{key} {n}": f"{cell.column_letter}{cell.row + 1 + n}" for n in range(burners) if key
                }
        if row[0].value == "Inputs":
            found["missing"] = row[1].coordinate
    return found


def recalculated(c: Conversion, folder: Path, system: System = "metric") -> Book:
    """The workbook of a conversion, read by the other library."""
    from formulas import ExcelModel
    from openpyxl import load_workbook

    path = folder / "book.xlsx"
    path.write_bytes(_bytes(c, system))
    cells, shown = load_workbook(path), load_workbook(path, data_only=True)
    model = ExcelModel().loads(str(path)).finish()
    places = _places(cells, len(c.burners))
    front = f"'[{path.name}]{PAGE.upper()}'!"
    given = [key for key, cell in places.items() if _is_given(cells, key, cell)]
    answers = [key for key in places if key not in given]
    compiled = model.compile(
        inputs=[front + places[key] for key in given], outputs=[front + places[key] for key in answers]
    )

    def run(**changes: Any) -> dict[str, Any]:
        now = {key: shown[PAGE][places[key]].value for key in given}
        now |= {key.replace("_of_", " "): value for key, value in changes.items()}
        assert set(now) == set(given), changes
        made = compiled(*("" if value is None else value for value in now.values()))
        return {key: value.value[0, 0] for key, value in zip(answers, made, strict=True)}

    return Book(cells=cells, shown=shown, model=model, places=places, run=run)


def _is_given(cells: Any, key: str, cell: str) -> bool:
    is_input = key in INPUTS or key.split(" ", maxsplit=1)[0] in GIVEN
    return is_input and not str(cells[PAGE][cell].value).startswith("=")


def stored_equal_recalculated(book: Book) -> int:
    """Every stored value against the one the other library gives; the number of formulas."""
    solution, count = book.model.calculate(), 0
    for sheet in book.cells:
        for row in sheet.iter_rows():
            for cell in row:
                if not str(cell.value).startswith("="):
                    continue
                stored = book.shown[sheet.title][cell.coordinate].value
                made = solution[f"'[book.xlsx]{sheet.title.upper()}'!{cell.coordinate}"].value[0, 0]
                where = (sheet.title, cell.coordinate, cell.value)
                if isinstance(stored, str):
                    assert made == stored, where
                else:
                    assert float(made) == pytest.approx(stored, rel=1e-9, abs=1e-9), where
                count += 1
    return count


@pytest.fixture(scope="module")
def cart() -> Appliance:
    """Two of its burners: the other library takes its time with every cell."""
    whole = demonstration()
    return replace(whole, burners=whole.burners[2:4])


@pytest.fixture(scope="module")
def metric(cart: Appliance, tmp_path_factory: pytest.TempPathFactory) -> Book:
    c = convert(cart, "propane", 2740.0, drills=STOCK)
    return recalculated(c, tmp_path_factory.mktemp("metric"))


def verdict_at_nominal(c: Conversion, step: Step) -> str:
    """Of the drill taken at the nominal pressure, whatever supply the file describes."""
    assert c.job is not None
    spread = unit_spread(step.discharge, step.choice.tolerance, step.choice.diameter_m)
    heat = step.choice.flow.heat_input_W(c.rating_basis)  # type: ignore[arg-type]
    found = headline(NOMINAL, heat, step.sized.heat_input_W, spread, c.job.tolerance, step.discharge.evidence)
    return found.verdict.value


def agree(found: Mapping[str, Any], c: Conversion, rate_W: float = 1000.0, bore_m: float = 1e-3) -> None:
    """Bore, drill, heat input, deviation and verdict of every burner; no size and no heat input where none fits."""
    assert found["missing"] == "no input is missing"
    for n, step in enumerate(c.steps):
        heat = step.choice.flow.heat_input_W(c.rating_basis)  # type: ignore[arg-type]
        assert found[f"bore {n}"] == pytest.approx(step.sized.diameter_m / bore_m, rel=MET)
        assert found[f"deviation {n}"] == pytest.approx(step.choice.deviation, abs=MET)
        supplied, band = (1.0 + step.choice.deviation) * found[f"supplied {n}"] - 1.0, c.job.tolerance  # type: ignore[union-attr]
        if (
            not band.low
            <= min(step.choice.deviation, supplied)
            <= max(step.choice.deviation, supplied)
            <= band.high
        ):
            shown = [found[f"{key} {n}"] for key in ("drill", "bore of it", "heat", "verdict")]
            assert shown == ["none fits", "not evaluated", "not evaluated", "outside"]
            continue
        assert found[f"drill {n}"] == step.choice.drill
        assert found[f"heat {n}"] == pytest.approx(heat / rate_W, rel=MET)
        assert found[f"verdict {n}"] == verdict_at_nominal(c, step)


def test_a_changed_yellow_cell_is_counted_and_no_longer_belongs_to_the_frozen_pages(metric: Book) -> None:
    """Every page behind the calculation starts with a formula on that count; the other library works the count out."""
    cell = f"'[book.xlsx]{PAGE.upper()}'!{metric.places['new_pressure']}"
    compiled = metric.model.compile(inputs=[cell], outputs=["'[book.xlsx]START'!C1"])
    start = metric.shown[PAGE][metric.places["new_pressure"]].value
    assert [float(compiled(value).value[0, 0]) for value in (start, start + 1.0)] == [0.0, 1.0]


def test_the_part_number_follows_a_changed_cell_as_the_drill_does(cart: Appliance, tmp_path: Path) -> None:
    """Two orifices of one size are named both: which of them is screwed in only their threads say."""
    (stock := tmp_path / "stock.csv").write_text(
        "part;size;thread\nK-100;1,00 mm;M6\nK-100B;1,00 mm;M8\nK-105;1,05 mm;M6\nK-110;1,10 mm;M6\n"
        "1,15 mm;1,15 mm;M6\n"
    )
    small = replace(cart, burners=cart.burners[:1], tables=replace(cart.tables, stock=stock))
    book = recalculated(convert(small, "propane", 2740.0), tmp_path)
    assert stored_equal_recalculated(book) > 60
    parts = {"1.00 mm": "K-100 or K-100B", "1.05 mm": "K-105", "1.10 mm": "K-110", "1.15 mm": "none"}
    met = {}
    for watt in (3620.0, 3990.0, 4380.0, 4780.0, 9000.0):
        found = book.run(**{"rate_of_0": watt / 1000.0})
        met[found["drill 0"]] = found["part 0"]
    assert met == parts | {"none fits": "not evaluated"}


def test_what_is_stored_is_what_another_program_works_out(metric: Book) -> None:
    assert stored_equal_recalculated(metric) > 120


def test_what_the_supply_takes_is_that_of_the_conversion(metric: Book, cart: Appliance) -> None:
    """I all on over I at the nominal pressure; where it leaves the band the next drill is taken, or none fits."""
    c = convert(cart, "propane", 2740.0, drills=STOCK)
    found = metric.run()
    for n, (each, step) in enumerate(zip(over_aim(c), c.steps, strict=True)):
        assert found[f"supplied {n}"] * (1.0 + step.choice.deviation) == pytest.approx(each, rel=MET)
    deviations = [found[f"deviation {n}"] for n in range(2)]
    low = min(deviations) - 1e-4  # each is within it, not with every burner on
    for high in (max(deviations) + 1e-4, 0.5):
        tight = metric.run(band_low=low, band_high=high)
        band = Tolerance(low=low, high=high, source="own")
        narrow = convert(cart, "propane", 2740.0, drills=STOCK, tolerance=band)
        none = {step.burner.name for n, step in enumerate(c.steps) if tight[f"drill {n}"] == "none fits"}
        assert none == not_to_fit(narrow)
        assert bool(none) == (high < 0.5)
        marks = [tight[f"drill {n}"] for n in range(2) if not none]
        assert marks == [b.choice.drill for b in narrow.burners if not none]
    assert [step.nearest is not None for step in narrow.steps] == [
        each == min(deviations) for each in deviations
    ]


def policy(name: str) -> dict[str, Any]:
    return {"altitude_policy": name}


# what is written into the yellow cells, and the same change of the conversion
CHANGES: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "pressure 37 mbar": ({"new_pressure": 37.0}, {"pressure": 3700.0}),
    "pressure 140 mbar": ({"new_pressure": 140.0}, {"pressure": 14000.0}),
    "choked, 1 bar": ({"new_pressure": 1000.0}, {"pressure": 1e5, "allow_high_pressure": True}),
    "choked at altitude": (
        {"new_pressure": 700.0, "altitude": 3000.0},
        {"pressure": 7e4, "altitude_m": 3000.0, "allow_high_pressure": True},
    ),
    "natural gas": ({"new_gas": "G20", "new_pressure": 20.0}, {"gas": "G20", "pressure": 2000.0}),
    "butane": ({"new_gas": "butane-n", "new_pressure": 29.0}, {"gas": "butane-n", "pressure": 2900.0}),
    "1600 m": ({"altitude": 1600.0}, {"altitude_m": 1600.0}),
    "1600 m, 4 %": (
        {"altitude": 1600.0, "altitude_rule": "4-percent-from-2000-ft"},
        {"altitude_m": 1600.0} | policy("4-percent-from-2000-ft"),
    ),
    "below the sea": ({"altitude": -200.0}, {"altitude_m": -200.0}),
    "barometer and 4 %": (
        {"altitude": "", "barometer": 83.0, "altitude_rule": "4-percent-from-sea-level"},
        {"ambient_pressure_Pa": 83e3} | policy("4-percent-from-sea-level"),
    ),
    "35 C": ({"gas_temperature": 35.0}, {"gas_temperature_K": 308.15}),
    "-5 C": ({"gas_temperature": -5.0}, {"gas_temperature_K": 268.15}),
    "band": ({"band_low": -0.12, "band_high": 0.01}, {"tolerance": Tolerance(low=-0.12, high=0.01, source="own")}),
    "band above the aim": (
        {"band_low": 0.0, "band_high": 0.10},
        {"tolerance": Tolerance(low=0.0, high=0.10, source="own")},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGES)
def test_after_a_change_the_workbook_gives_the_orifices_of_the_program(
    name: str, metric: Book, cart: Appliance
) -> None:
    written, options = CHANGES[name]
    options = {"drills": STOCK, "gas": "propane", "pressure": 2740.0} | options
    gas, pressure = options.pop("gas"), options.pop("pressure")
    agree(metric.run(**written), convert(cart, gas, pressure, **options))


def test_the_second_drill_is_taken_where_it_alone_lies_in_the_band(metric: Book) -> None:
    """The band above moves a drill, or it would try nothing."""
    moved, shown = metric.run(**CHANGES["band"][0]), metric.shown[PAGE]
    assert any(moved[f"drill {n}"] != shown[metric.places[f"drill {n}"]].value for n in range(2))


def test_rate_orifices_and_coefficient_of_a_burner(metric: Book, cart: Appliance) -> None:
    first, second, *others = cart.burners
    orifice = replace(second.orifice, count=2, coefficient=0.82)
    burners = (replace(first, rate_W=5100.0), replace(second, orifice=orifice), *others)
    c = convert(replace(cart, burners=burners), "propane", 2740.0, drills=STOCK)
    found = metric.run(
        rate_of_0=5.1, orifices_of_1=2, coefficient_of_1=0.82, least_of_1="", most_of_1="",
    )  # fmt: skip
    agree(found, c)
    before = convert(cart, "propane", 2740.0, drills=STOCK).steps[0].choice
    assert found["drill 0"] != before.drill  # or nothing would follow
    assert (found["trial 0"], found["trial_heat 0"]) == (found["bore of it 0"], found["heat 0"])
    own = metric.run(rate_of_0=5.1, own_of_0=1000.0 * before.diameter_m)
    burnt = (
        c.steps[0].choice.flow.heat_input_W(cart.rating)
        * (before.diameter_m / c.steps[0].choice.diameter_m) ** 2
    )
    assert own["trial_heat 0"] == pytest.approx(burnt / 1000.0, rel=MET)
    flow = c.steps[1].choice.flow.volume_flow_m3_per_s(c.job.target.reference)  # type: ignore[union-attr]
    assert found["volume_flow 1"] == pytest.approx(3600.0 * flow, rel=MET)


@pytest.mark.parametrize(
    ("written", "word", "options"),
    [
        ({"gas_temperature": ""}, "Gas temperature", None),
        ({"gas_temperature": 95.0}, "Gas temperature", {"gas_temperature_K": 368.15}),
        ({"new_pressure": 0.0}, "Pressure", {"pressure": 0.0}),
        ({"new_gas": "no such gas"}, "New gas", None),
        ({"barometer": 140.0}, "Pressure, altitude or barometer", {"ambient_pressure_Pa": 140e3}),
        ({"altitude": 1600.0, "barometer": 101.3}, "clear the altitude", None),
        ({"new_gas": "butane-n", "gas_temperature": -5.0}, "liquid", {"gas": "butane-n", "gas_temperature_K": 268.15}),
        ({"altitude": 1600.0, "altitude_rule": "canada-10-percent"}, "Altitude rule",
         {"altitude_m": 1600.0} | policy("canada-10-percent")),
        ({"band_high": ""}, "Band", None),
    ],
)  # fmt: skip
def test_where_the_program_has_no_answer_the_workbook_has_none(
    metric: Book, cart: Appliance, written: dict[str, Any], word: str, options: dict[str, Any] | None
) -> None:
    found = metric.run(**written)
    assert word in found["missing"]
    for n in range(len(cart.burners)):
        assert found[f"drill {n}"] == found[f"heat {n}"] == found[f"verdict {n}"] == "not evaluated"
    if options is not None:
        asked = {"gas": "propane", "pressure": 2740.0} | options
        with pytest.raises(UserError):
            convert(cart, asked.pop("gas"), asked.pop("pressure"), **asked)


@pytest.mark.parametrize(("key", "value"), [("rate", ""), ("orifices", 1.5), ("coefficient", 1.2)])
def test_one_burner_without_a_usable_figure_leaves_the_others(metric: Book, key: str, value: Any) -> None:
    found = metric.run(**{f"{key}_of_0": value})
    assert found["bore 0"] == found["verdict 0"] == "not evaluated"
    assert isinstance(found["bore 1"], float)


COUPLE = """
[appliance]
name = "laws and a couple"
rating = "net"

[supply]
gas = "G20"
pressure = "20 mbar"
altitude = "1400 m"

[limits]
drills = ["number"]

[[burner]]
name = "channel"
rate = "2.2 kW"
orifice = { diameter = "1.10 mm", shape = "drilled channel", length = "3 mm" }

[[burner]]
name = "nozzle"
rate = "3.1 kW"
orifice = { diameter = "1.30 mm", shape = "long-radius nozzle", count = 2 }

[[burner]]
name = "plain"
rate = "1.5 kW"
orifice = { diameter = "0.90 mm" }
"""


@pytest.fixture(scope="module")
def laws(tmp_path_factory: pytest.TempPathFactory) -> tuple[Appliance, Book]:
    """Its page of gases has those of the job and one more, which saves the other library half of its time."""
    folder = tmp_path_factory.mktemp("laws")
    (folder / "a.toml").write_text(COUPLE, encoding="utf-8")
    appliance = read_appliance(folder / "a.toml")
    c = convert(appliance, "G31", 3700.0, category="3+")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("burnerlab.report.chain.fuels", lambda: ("G25",))
        return appliance, recalculated(c, folder, "US")


def test_coefficients_by_law_a_couple_and_US_units(laws: tuple[Appliance, Book]) -> None:
    appliance, book = laws
    assert stored_equal_recalculated(book) > 230
    assert book.shown[PAGE][book.places["new_gas"]].value == "G30"
    c, found = convert(appliance, "G31", 3700.0, category="3+"), book.run()
    for n, step in enumerate(c.steps):
        burnt = step.choice.flow.heat_input_W("net")
        assert found[f"second_heat {n}"] == pytest.approx(burnt / read("1 Btu/h", Kind.POWER), rel=MET)
        assert found[f"second_deviation {n}"] == pytest.approx(step.choice.deviation, abs=MET)
        assert found[f"second_verdict {n}"] == verdict_at_nominal(c, step)


def test_no_drill_fits_with_which_the_second_gas_exceeds_the_band(laws: tuple[Appliance, Book]) -> None:
    """The second gas left as it is where the first is replaced, as a colleague does who plays with the yellow cells."""
    _, book = laws
    found = book.run(new_gas="G31", new_pressure=5.0, second_gas="G30")
    for n in range(3):
        assert found[f"second_deviation {n}"] > 0.5
        shown = [found[f"{key} {n}"] for key in ("fits", "drill", "heat", "verdict", "second_verdict")]
        assert shown == ["no", "none fits", "not evaluated", "outside", "outside"]
    unknown = book.run(second_gas="no such gas")
    assert "Second gas" in unknown["missing"]
    assert {unknown[f"{key} {n}"] for key in ("drill", "verdict") for n in range(3)} == {"not evaluated"}


def test_a_second_gas_that_cannot_reach_the_band_is_held_against_what_its_couple_leaves(
    laws: tuple[Appliance, Book],
) -> None:
    """2E+: G25 at 25 mbar burns 8 % less through the orifice of G20 at 20 mbar."""
    appliance, book = laws
    unit = read("1 in w.c.", Kind.GAUGE_PRESSURE)
    c = convert(appliance, "G25", 2500.0, category="2E+")
    assert c.couple_factor < 0.95
    found = book.run(
        new_gas="G20", new_pressure=2000.0 / unit, second_gas="G25", second_pressure=2500.0 / unit
    )
    for n, step in enumerate(c.steps):
        assert found[f"second_deviation {n}"] < -0.05
        place = "outside" if step.burner.name in not_to_fit(c) else verdict_at_nominal(c, step)
        assert found[f"second_verdict {n}"] == place
    assert {found[f"second_verdict {n}"] for n in range(3)} == {"near", "within"}


@pytest.mark.parametrize(("feet", "inches"), [(0.0, 11.65), (9000.0, 20.0)])
def test_a_law_follows_a_change_of_place_and_pressure(
    laws: tuple[Appliance, Book], feet: float, inches: float
) -> None:
    appliance, book = laws
    site = {"altitude_m": feet * 0.3048}
    c = convert(appliance, "G30", read(f"{inches} in w.c.", Kind.GAUGE_PRESSURE), category="3B/P", **site)
    found = book.run(altitude=feet, new_pressure=inches)
    assert {type(step.sized.law).__name__ for step in c.steps} == {"ShapeLaw", "float"}
    agree(found, c, read("1 Btu/h", Kind.POWER), 0.0254)


@pytest.fixture(scope="module")
def whole(cart: Appliance) -> tuple[Conversion, Any]:
    from openpyxl import load_workbook

    c = convert(cart, "propane", 2740.0, drills=STOCK)
    return c, load_workbook(io.BytesIO(xlsx_bytes(c, build_sheet(c))))


def test_all_but_the_yellow_cells_are_locked_without_a_password_and_no_cell_is_an_array(
    whole: tuple[Conversion, Any],
) -> None:
    assert whole[1].sheetnames[0] == PAGE
    for sheet in whole[1]:
        assert sheet.protection.sheet
        assert not sheet.protection.password
        for row in sheet.iter_rows():
            for cell in row:
                yellow = cell.fill.fgColor.rgb == "FFFFF2B3"
                assert cell.protection.locked is not yellow, (sheet.title, cell.coordinate)
                assert isinstance(cell.value, str | int | float | None), cell.coordinate
                assert not (yellow and str(cell.value).startswith("="))


def test_the_first_page_begins_with_its_cautions(whole: tuple[Conversion, Any]) -> None:
    c, page = whole[0], whole[1].worksheets[0]
    first = [page.cell(row, 1).value for row in range(1, page.max_row)]
    lines = [one.line for one in lines_of_sheet(c)]
    assert first[2 : 2 + len(lines)] == lines
    assert first.index(STATEMENT) < first.index("Input") < first.index("Burner")


def test_the_formulas_of_the_laws_are_those_of_the_program() -> None:
    """The formula read as Python, at bores and Reynolds numbers of the range of each."""
    import math

    from burnerlab.report.coefficient_page import CORRELATION

    assert set(CORRELATION) == set(CORRELATIONS)
    for name, law in CORRELATIONS.items():
        for reynolds in (500.0, 3000.0, 18000.0):
            text = CORRELATION[name].format(re=str(reynolds), ratio="4.0").replace("^", "**")
            text = text.replace("LOG10", "math.log10").replace("SQRT", "math.sqrt")
            assert eval(text, {"math": math}) == pytest.approx(law(reynolds, 4.0), rel=1e-12)
    assert 0.0 < LOWEST_COEFFICIENT < HIGHEST_COEFFICIENT


def test_the_frozen_pages_say_what_they_belong_to(whole: tuple[Conversion, Any]) -> None:
    _, live = whole
    behind = live.sheetnames[live.sheetnames.index("Start") + 1 :]
    assert {"Burners", "Checks", "Worked", "Cautions"} <= set(behind)
    for name in behind:
        assert live[name]["A1"].value.startswith('="These figures belong to "')
        assert "IF(changes=0" in live[name]["A1"].value


METRIC_COUPLE = """
[appliance]
name = "terrace"
region = "eu"
rating = "gross"
[supply]
gas = "G30"
pressure = "29 mbar"
[limits]
drills = ["metric", "hundredth"]
[[burner]]
name = "main tube"
rate = "3.6 kW"
orifice = { drill = "0.92 mm" }
[[burner]]
name = "side burner"
rate = "2.9 kW"
orifice = { drill = "0.83 mm" }
[[market]]
name = "couple"
supply = [{ gas = "G30", pressure = "29 mbar" }, { gas = "G31", pressure = "37 mbar" }]
"""


def test_the_drill_of_a_couple_follows_pressures_and_rate_as_the_program_takes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written once at 29 and 37 mbar; each change against a conversion of the changed file."""
    monkeypatch.setattr("burnerlab.report.chain.fuels", lambda: ("G25",))

    def conversion(first: float, second: float, rate: str) -> Conversion:
        text = METRIC_COUPLE.replace(
            'gas = "G30", pressure = "29 mbar" }', f'gas = "G30", pressure = "{first} mbar" }}'
        )
        text = text.replace('"37 mbar"', f'"{second} mbar"').replace('"3.6 kW"', f'"{rate}"')
        (tmp_path / "couple.toml").write_text(text, encoding="utf-8")
        return next(iter(convert_market(market_named(read_appliance(tmp_path / "couple.toml"), "A"))))

    book = recalculated(conversion(29.0, 37.0, "3.6 kW"), tmp_path)
    for first, second, rate in (
        (29.0, 37.0, "3.6 kW"), (25.0, 37.0, "3.6 kW"), (26.0, 37.0, "3.6 kW"), (31.0, 37.0, "3.6 kW"),
        (29.0, 42.0, "3.6 kW"), (29.0, 37.0, "3.7 kW"), (29.0, 37.0, "3.3 kW"),
    ):  # fmt: skip
        c = conversion(first, second, rate)
        found = book.run(new_pressure=first, second_pressure=second, rate_of_0=float(rate.split()[0]))
        for n, step in enumerate(c.steps):
            fits = step.burner.name not in not_to_fit(c)
            assert found[f"drill {n}"] == (step.choice.drill if fits else "none fits"), (
                first,
                second,
                rate,
                n,
            )
            assert found[f"fits {n}"] == ("yes" if fits else "no")
            assert not fits or found[f"deviation {n}"] == pytest.approx(step.choice.deviation, abs=MET)
