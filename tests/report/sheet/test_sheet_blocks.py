"""What is printed reads back as what it was, within its rounding, and never as something else."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.appliance.conversion.result import Conversion
from burnerlab.quantity import Kind, System, read
from burnerlab.report.sheet import blocks
from burnerlab.report.sheet.blocks import SYSTEMS, Measure, Table, digits, fixed, percent
from burnerlab.report.sheet.sections import build, build_sheet, headline

MEASURES = {
    "power": (blocks.POWER, 50.0, 5e5),
    "bore": (blocks.BORE, 2e-4, 2e-2),
    "low pressure": (blocks.LOW_PRESSURE, 100.0, 1e4),
    "high pressure": (blocks.HIGH_PRESSURE, 1e4, 1e6),
    "ambient": (blocks.AMBIENT, 3e4, 1.1e5),
    "air": (blocks.VOLUME_FLOW, 1e-6, 1.0),
    "mass": (blocks.MASS_FLOW, 1e-7, 1.0),
    "per volume": (blocks.PER_VOLUME, 1e6, 2e8),
    "per mass": (blocks.PER_MASS, 1e6, 2e8),
    "density": (blocks.DENSITY, 0.05, 5.0),
    "temperature": (blocks.TEMPERATURE, 230.0, 350.0),
    "altitude": (blocks.ALTITUDE, 1.0, 5e3),
}
DIGITS = re.compile(r"^[+-]?[\d ]*\.?(\d*)")


def rounding(text: str, significant: int) -> float:
    """Half a unit of the last digit that means something, in the printed unit."""
    number = DIGITS.match(text)
    assert number is not None
    places = len(number.group(1))
    if places or not significant:
        return 0.5 * 10.0**-places
    value = abs(float(number.group(0).replace(" ", "")))
    return 0.5 * 10.0 ** (math.floor(math.log10(value)) - significant + 1) if value else 0.5


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("what", MEASURES)
@settings(max_examples=40)
@given(share=st.floats(0, 1))
def test_a_printed_value_reads_back_within_its_rounding(what: str, system: System, share: float) -> None:
    measure, low, high = MEASURES[what]
    value = low * (high / low) ** share
    scale = measure.scale(system)
    text = measure.show(value, system).text
    kind = Kind.VOLUME_FLOW if what == "air" else scale.kind  # a volume is read with its reference elsewhere
    back = scale.of(float(read(text, kind)))
    step = rounding(text, scale.significant)
    assert abs(back - scale.of(value)) <= step * (1 + 1e-6), (text, value)


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_value_of_the_sheet_reads_back(conversion: Conversion, system: System) -> None:
    """The sheet as a whole: each cell that carries a value prints that value, in its unit."""
    sheet = build_sheet(conversion, system=system)
    seen = 0
    for section in sheet.sections:
        for block in section.blocks:
            for row in block.rows if isinstance(block, Table) else ():
                for cell in row:
                    if (
                        cell.value is None
                        or not cell.unit
                        or not cell.text.endswith(cell.unit)
                        or cell.verdict
                    ):
                        continue
                    number = float(cell.text.replace(" ", "").removesuffix(cell.unit.replace(" ", "")))
                    step = rounding(cell.text, 3)
                    assert abs(number - cell.value) <= step * (1 + 1e-9), cell
                    seen += 1
    assert seen > 80


def test_a_value_is_the_same_in_either_system_and_stands_in_one_alone(conversion: Conversion) -> None:
    metric, US = (build_sheet(conversion, system=system) for system in ("metric", "US"))
    for row, other in zip(metric.headline, US.headline, strict=True):
        kind = {"kW": Kind.POWER, "kg/h": Kind.MASS_FLOW, "m3/h": Kind.VOLUME_FLOW}[row.cell.unit]
        assert read(row.cell.text, kind) == pytest.approx(read(other.cell.text, kind), rel=0.011)
        assert not re.search(r"Btu|lb|ft|w\.c\.", row.cell.text + row.cell.also)
    assert "w.c." not in metric.change
    assert "mbar" not in US.change


NUMBERS = (
    st.floats(1e-9, 1e12)
    | st.floats(-1e12, -1e-9)
    | st.sampled_from([math.nan, math.inf, -math.inf, 0.0, -0.0])
)


@given(NUMBERS, st.integers(1, 6))
@settings(max_examples=200)
def test_no_number_is_printed_as_nan_or_in_powers_of_ten(value: float, significant: int) -> None:
    if not math.isfinite(value):
        for show in (lambda: digits(value, significant), lambda: fixed(value, 2), lambda: percent(value)):
            with pytest.raises(ValueError, match="cannot be printed"):
                show()
        return
    text = digits(value, significant)
    assert re.fullmatch(r"-?\d{1,3}( \d{3})*(\.\d+)?|-?\d{1,4}(\.\d+)?", text), text
    assert float(text.replace(" ", "")) == pytest.approx(value, rel=0.5 * 10.0 ** (1 - significant) * 1.001)


@pytest.mark.parametrize(
    ("ratio", "text"),
    [(0.0, "0.0 %"), (-4e-5, "0.0 %"), (0.0449, "+4.5 %"), (-0.0462, "-4.6 %"), (0.1, "+10.0 %")],
)
def test_a_deviation_has_its_sign(ratio: float, text: str) -> None:
    assert percent(ratio) == text


def test_a_value_that_is_not_known_says_so() -> None:
    for measure in (blocks.POWER, blocks.VOLUME_FLOW):
        assert measure.show(None, "metric").text == "not evaluated"


def test_gauge_pressure_is_in_water_column_only_when_low() -> None:
    choose: Callable[[float], Measure] = blocks.pressure
    assert choose(2740.0).show(2740.0, "US").text == "11.0 in w.c."
    assert choose(34474.0).show(34474.0, "US").text == "5.00 psi"


def test_a_net_rating_has_net_tables(conversion: Conversion) -> None:
    net = replace(conversion, rating_basis="net")
    tables = [block for part in build(net, "metric") if part.key == "inputs" for block in part.blocks]
    words = repr(tables)
    assert "Heat input, net" in words
    assert "gross" not in words
    assert [fact.label for fact in headline(net, "metric")][:2] == [
        "Total rating, net",
        "Total calculated, nominal, net",
    ]
