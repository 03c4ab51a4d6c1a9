"""The spelling tables are of one piece, and pint quantities come through the same door."""

from __future__ import annotations

import subprocess
import sys

import pint
import pytest

from burnerlab import tables
from burnerlab.page.desk_queries import PAIRS
from burnerlab.quantity import Kind, UserError, read, read_bore, read_heating_value, read_rate
from burnerlab.quantity.read import EXAMPLES
from burnerlab.quantity.show import unit_named
from burnerlab.quantity.units import SI, _refusals, computed_scale, find, registry, scale, spellings

OWN = (
    "units",
    "unit_definitions",
    "unit_refusals",
    "drills",
    "reference_states",
    "inputs",
    "display_units",
)


def test_importing_the_door_loads_neither_pint_nor_numpy() -> None:
    code = "import sys, burnerlab.quantity; print({'pint', 'numpy', 'scipy', 'cantera'} & set(sys.modules))"
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == "set()"


@pytest.mark.parametrize("kind", Kind, ids=lambda kind: kind.name)
def test_every_listed_scale_is_that_of_pint(kind: Kind) -> None:
    units = {row["unit"] for row in tables.rows("units") if kind.name in row["kinds"].split("|")}
    assert units <= {row["unit"] for row in tables.rows("unit_scales")}
    for unit in units:
        assert scale(unit, kind) == computed_scale(unit, kind), unit


def test_every_unit_that_is_printed_or_written_is_listed_at_the_size_of_pint() -> None:
    """A unit over another too: no command loads pint to show what it has worked out."""
    listed = {row["unit"] for row in tables.rows("unit_scales")}
    rows = (*tables.rows("display_units"), *tables.rows("handy_units"))
    shown = [(row["unit"], Kind[row["kind"]]) for row in rows]
    asked = [(unit, kind) for kind, pairs in PAIRS.items() for pair in pairs for unit in pair]  # of each edit
    for spelling, kind in (*shown, *asked):
        unit = unit_named(spelling, kind).name
        assert unit in listed
        assert scale(unit, kind) == computed_scale(unit, kind), unit


@pytest.mark.parametrize("kind", Kind, ids=lambda kind: kind.name)
def test_every_unit_of_a_kind_has_its_dimension(kind: Kind) -> None:
    target = registry().Unit(SI[kind]).dimensionality
    units = dict(spellings(kind).exact)
    units |= {
        row["unit"]: unit_named(row["unit"], kind)
        for row in tables.rows("handy_units")
        if row["kind"] == kind.name
    }
    assert units
    for spelling, unit in units.items():
        assert registry().Unit(unit.name).dimensionality == target, spelling
        assert unit.scale.factor > 0


@pytest.mark.parametrize("kind", Kind, ids=lambda kind: kind.name)
def test_case_never_joins_two_units(kind: Kind) -> None:
    exact, folded = spellings(kind).exact, spellings(kind).folded
    for spelling, unit in exact.items():
        for other in (spelling.lower(), spelling.upper(), spelling.swapcase()):
            found = find(other, kind)
            assert found is None or found.name == unit.name or other in exact
    assert all(unit.scale.factor for unit in folded.values())


def test_accepted_spellings_are_never_listed_as_refused_for_the_same_kind() -> None:
    at_references = (Kind.REFERENCE_VOLUME, Kind.REFERENCE_VOLUME_FLOW)
    refused = [
        (text, kind)
        for text, entries in _refusals().items()
        for kinds, _ in entries
        for kind in Kind
        if (kind.name in kinds or "*" in kinds) and kind not in at_references
    ]
    assert refused
    assert [(text, kind) for text, kind in refused if find(text, kind) is not None] == []


@pytest.mark.parametrize("kind", Kind, ids=lambda kind: kind.name)
def test_the_example_in_a_complaint_is_itself_accepted(kind: Kind) -> None:
    if kind in (Kind.REFERENCE_VOLUME, Kind.REFERENCE_VOLUME_FLOW):
        assert find(EXAMPLES[kind].split(" at ")[0].split(" ", 1)[1], kind)
    else:
        assert read(EXAMPLES[kind], kind) > 0


@pytest.mark.parametrize("name", OWN)
def test_every_row_says_where_it_is_from(name: str) -> None:
    assert tables.rows(name)
    for row in tables.rows(name):
        assert row["source"] in tables.sources()
        assert row["place"]
        assert row["provenance"] in tables.PROVENANCES


def test_drill_table_is_sorted_and_its_columns_agree() -> None:
    drills = tables.rows("drills")
    diameters = [float(row["diameter_mm"]) for row in drills]
    assert diameters == sorted(diameters)
    assert len({row["size"] for row in drills}) == len(drills)
    for row in drills:
        assert float(row["diameter_in"]) * 25.4 == pytest.approx(float(row["diameter_mm"]), abs=2e-5)
        bore = read_bore(row["size"])
        assert bore.drill == row["size"]
        assert bore.diameter_m == pytest.approx(float(row["diameter_mm"]) / 1000, rel=1e-12)
    counts = {kind: sum(row["kind"] == kind for row in drills) for kind in ("number", "letter", "fraction")}
    assert counts == {"number": 80, "letter": 26, "fraction": 32}


@pytest.fixture(scope="module")
def ureg() -> pint.UnitRegistry:
    return pint.UnitRegistry()


def test_quantities_of_a_notebook_come_through_the_same_door(ureg: pint.UnitRegistry) -> None:
    Q = ureg.Quantity
    assert read(Q(11, "cmH2O"), Kind.GAUGE_PRESSURE) == pytest.approx(
        11 * 98.0665
    )  # inH2O: pint 0.25 and later
    assert read(Q(20, "degC"), Kind.TEMPERATURE) == pytest.approx(293.15)
    assert read(Q(5, "delta_degC"), Kind.TEMPERATURE_DIFFERENCE) == pytest.approx(5)
    assert read(Q(5, "percent"), Kind.FRACTION) == pytest.approx(0.05)
    assert read_rate(Q(12000, "Btu/hour")).power_W == pytest.approx(3516.853, rel=1e-6)
    assert read_rate(Q(12000, "Btu/hour")).basis is None
    assert read_heating_value(Q(50.3, "MJ/kg")).per == "mass"
    assert read_heating_value(Q(890.6, "kJ/mol")).per == "mole"
    assert read_heating_value(Q(38.6, "MJ/m**3")).value == pytest.approx(38.6e6)
    assert read_bore(Q(0.055, "inch")).diameter_m == pytest.approx(0.001397)
    assert read(registry().Quantity(28, "millibar"), Kind.GAUGE_PRESSURE) == pytest.approx(2800)


@pytest.mark.parametrize(
    ("value", "unit", "kind", "words"),
    [
        (1.0, "kg", Kind.GAUGE_PRESSURE, "does not convert to gauge pressure"),
        (float("nan"), "kPa", Kind.GAUGE_PRESSURE, "must be finite"),
        (5.0, "degC", Kind.TEMPERATURE_DIFFERENCE, "a point on a scale"),
        (5.0, "delta_degC", Kind.TEMPERATURE, "a temperature difference"),
        (-5.0, "kg", Kind.MASS, "must not be negative"),
        ([1.0, 2.0], "kPa", Kind.GAUGE_PRESSURE, "must be one value, got an array"),
    ],
)
def test_quantities_that_cannot_be_meant(
    ureg: pint.UnitRegistry, value: object, unit: str, kind: Kind, words: str
) -> None:
    with pytest.raises(UserError, match=words):
        read(ureg.Quantity(value, unit), kind)
