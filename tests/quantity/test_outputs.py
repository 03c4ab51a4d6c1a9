"""Outputs declared once: names, keys, figures and texts follow from the declaration."""

from __future__ import annotations

import json
import math
import re
import timeit
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from burnerlab import tables
from burnerlab.gas import load
from burnerlab.orifice import Conditions, flow
from burnerlab.quantity import Kind, in_unit, outputs
from burnerlab.quantity.outputs import (
    columns,
    computed_output,
    document,
    ending,
    flat,
    handy_units,
    json_text,
    output,
    row,
    texts,
)
from burnerlab.quantity.show import unit_named
from burnerlab.quantity.units import SI, registry

METRIC = {(row["kind"], row["unit"]) for row in tables.rows("display_units") if row["system"] == "metric"}


@dataclass(frozen=True, slots=True)
class Band:
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Share:
    cause: str = field(metadata=output("cause"))
    share: float = field(metadata=output("share", Kind.FRACTION))


@dataclass(frozen=True, slots=True)
class Sample:
    gauge_pressure_Pa: float = field(metadata=output("gauge pressure", Kind.GAUGE_PRESSURE))
    gas_temperature_K: float | None = field(metadata=output("gas temperature", Kind.TEMPERATURE))
    altitude_m: float = field(metadata=output("altitude", Kind.LENGTH, unit="m"))
    aeration: Band | None = field(metadata=output("primary aeration", Kind.FRACTION, is_band=True))
    word: str = field(metadata=output("word"))
    causes: tuple[Share, ...] = field(metadata=output("causes"))
    edges_W: tuple[float, ...] = field(metadata=output("edges", Kind.POWER))
    hidden: float = 0.0

    @property
    @computed_output("worst cause")
    def worst(self) -> str:
        return max(self.causes, key=lambda one: one.share).cause


SAMPLE = Sample(2740.0, 288.15, 1524.0, Band(0.5, 0.4, 0.6), "", (Share("bore", 0.25),), (1e3, 2e3))


@pytest.mark.parametrize("kind", Kind)
def test_every_kind_has_one_handy_unit_and_the_unit_it_has_inside(kind: Kind) -> None:
    inside, unit = handy_units()[kind]
    if inside:
        assert registry().Quantity(1, SI[kind]) == registry().Quantity(1, unit_named(inside, kind).name)
    else:
        assert SI[kind] == "dimensionless"
    assert (kind.name, unit) in METRIC, "a unit that the texts of this kind do not use"


def test_a_row_has_handy_units_and_null_for_nothing() -> None:
    assert row(SAMPLE) == {
        "gauge_pressure_mbar": pytest.approx(27.4, rel=1e-15),
        "gas_temperature_C": pytest.approx(15.0),
        "altitude_m": 1524.0,
        "aeration_percent": 50.0,
        "aeration_low_percent": 40.0,
        "aeration_high_percent": 60.0,
        "word": None,
        "causes": [{"cause": "bore", "share_percent": 25.0}],
        "edges_kW": [1.0, 2.0],
        "worst": "bore",
    }
    without = Sample(1.0, None, 0.0, None, "x", SAMPLE.causes, ())
    assert row(without)["gas_temperature_C"] is None
    assert row(without)["aeration_low_percent"] is None


def test_texts_have_units_of_the_reader() -> None:
    metric, US = dict(texts(SAMPLE)), dict(texts(SAMPLE, "US"))
    assert metric["gauge pressure"] == "27.40 mbar"
    assert US["gauge pressure"] == "11.00 in w.c."
    assert (metric["altitude"], US["altitude"]) == ("1524 m", "5000 ft")
    assert metric["primary aeration"] == "50.0 % (40.0 % to 60.0 %)"
    assert metric["word"] == "-"
    assert "causes" not in metric


def test_a_part_joins_the_row_and_a_table_has_no_lists() -> None:
    found = flow(load("propane"), "#54", Conditions(gauge_pressure_Pa="11 in w.c."))
    made = row(found)
    assert list(made)[:5] == [
        "diameter_mm",
        "count",
        "gauge_pressure_mbar",
        "ambient_pressure_kPa",
        "gas_temperature_C",
    ]
    assert made["heat_input_gross_kW"] == pytest.approx(found.heat_input_gross_W / 1e3, rel=1e-15)
    assert made["viscosity_Pa_s"] == found.viscosity_Pa_s
    assert made.keys() - flat(found).keys() == {"notes"}
    shown = dict(texts(found, "US"))
    assert shown["heat input, gross"] == "24 085 Btu/h"
    assert [column.key for column in columns(type(found))][-1] == "notes"


def test_arrays_stay_arrays() -> None:
    found = flow(load("propane"), [0.001, 0.002], Conditions(gauge_pressure_Pa="11 in w.c."))
    made = row(found)
    assert made["diameter_mm"] == pytest.approx([1.0, 2.0])
    assert isinstance(made["heat_input_gross_kW"], np.ndarray)
    assert document("flow", found)["diameter_mm"] == [1.0, 2.0]
    assert dict(texts(found))["orifice"] == "1.000 mm to 2.000 mm"


def _wrong(name: str, **metadata: object) -> type:
    made = type("Wrong", (), {"__annotations__": {name: float}, name: field(metadata=metadata)})
    return dataclass(made)


@pytest.mark.parametrize(
    ("name", "declared", "what"),
    [
        ("pressure", output("pressure", Kind.GAUGE_PRESSURE), "does not end in _Pa"),
        ("pressure_mbar", output("pressure", Kind.GAUGE_PRESSURE), "does not end in _Pa"),
        ("flow_kg_per_h", output("flow", Kind.MASS_FLOW), "does not end in _kg_per_s"),
        ("viscosity", output("viscosity", unit="Pa s"), "does not end in _Pa_s"),
        ("heat_input_W", output("heat input", Kind.POWER, basis="gross"), "does not say gross"),
    ],
)
def test_a_name_without_its_unit_or_basis_is_refused(
    name: str, declared: dict[str, object], what: str
) -> None:
    with pytest.raises(ValueError, match=what):
        columns(_wrong(name, **declared))


def test_one_key_for_two_outputs_is_refused() -> None:
    @dataclass
    class Twice:
        share: float = field(metadata=output("share", Kind.FRACTION))
        share_percent: float = field(metadata=output("share"))

    with pytest.raises(ValueError, match="share_percent"):
        columns(Twice)


def test_what_declares_nothing_has_no_row() -> None:
    with pytest.raises(TypeError, match="Band declares no output"):
        row(Band(1.0, 0.0, 2.0))


def test_a_document_has_its_envelope_and_twelve_digits() -> None:
    made = json.loads(
        json_text(
            "record chart", {"a": 1 / 3, "b": math.nan, "heat_input_kW": 1, "causes": [SAMPLE.causes[0]]}
        )
    )
    assert list(made)[:3] == ["schema", "burnerlab", "engines"]
    assert made["schema"] == "burnerlab/record-chart/1"
    assert made["engines"] == {"numpy": np.__version__}  # which calculates heat inputs
    assert (made["a"], made["b"]) == (0.333333333333, None)
    assert made["causes"] == [{"cause": "bore", "share_percent": 25.0}]
    with pytest.raises(ValueError, match="schema"):
        document("flow", {"schema": 3})


def test_an_ending_is_one_unit() -> None:
    units = {unit for pair in handy_units().values() for unit in pair if unit}
    assert len({ending(unit) for unit in units}) == len(units)
    assert in_unit(273.15, Kind.TEMPERATURE, handy_units()[Kind.TEMPERATURE].unit) == 0.0


def test_a_row_costs_microseconds() -> None:
    found = flow(load("propane"), "#54", Conditions(gauge_pressure_Pa=2740.0))
    row(found)
    assert (
        min(timeit.repeat(lambda: row(found), number=200, repeat=5)) / 200 < 150e-6
    )  # of 20 on a quiet core


def test_the_handbook_lists_the_handy_units() -> None:
    page = (Path(outputs.__file__).parents[1] / "handbook" / "json.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| ([^|`]+) \| ([^|`]+) \| `(_\w+)` \|$", page, re.MULTILINE)
    assert listed == [(kind.value, unit, ending(unit)) for kind, (_, unit) in handy_units().items()]
