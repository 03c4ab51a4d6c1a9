"""Results as data frames: the figures of the results, with the unit in the name of each column."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import burnerlab as bl
from burnerlab.appliance import Conversion
from burnerlab.burner.primary_air import BestThroat
from burnerlab.burner.stability_diagram import OperatingPoint
from burnerlab.burner.state import BurnerState, PortFlame
from burnerlab.flame.burning_velocity import Accuracy, Flame
from burnerlab.gas.combustion_air import CombustionAir
from burnerlab.orifice.drill import Drill
from burnerlab.quantity.drill_size import Bore
from burnerlab.quantity.outputs import columns
from burnerlab.report import data_frame

PRESSURE_Pa = 2740.0
FIGURES = re.compile(r"_(mm|mm2|m|kW|mbar|kPa|percent|min|C|K|kg|W_per_mm2|kW_per_m2|per_s|kg_per_h|m3_per_h|in"
                     r"|g_per_h|L_per_h|Btu_per_h|mm2_per_s|s)$")  # fmt: skip
PURE = re.compile(r"count|mark|ratio|margin|aeration|change|turndown|coefficient|choked|on|index|no_drill_meets"
                  r"|expansibility|reynolds|taken|value|low|high|factor")  # fmt: skip
"""Columns of numbers without a unit."""


@pytest.fixture(scope="module")
def conversion() -> Conversion:
    return bl.convert(bl.demonstration(), "propane", PRESSURE_Pa)


def assert_units_in_names(frame: pd.DataFrame) -> None:
    unnamed = [
        name
        for name in frame.select_dtypes("number").columns
        if not FIGURES.search(name) and not PURE.search(name)
    ]
    assert not unnamed


def test_a_conversion_has_a_row_per_burner(conversion: Conversion) -> None:
    frame = bl.to_frame(conversion)
    assert list(frame["name"]) == [burner.name for burner in conversion.burners]
    assert frame["drill"][0] == "1.00 mm"
    assert frame["to_orifice_mm"][3] == pytest.approx(1e3 * conversion.burners[3].to_orifice_m)
    assert frame["predicted_gross_kW"].sum() == pytest.approx(conversion.total_predicted_gross_W / 1e3)
    assert_units_in_names(frame)


def test_an_injector_table_has_its_rows() -> None:
    table = bl.injectors(bl.demonstration(), bl.category_supplies("I3P", ["GB"]), (0.0, 1500.0))
    frame = bl.to_frame(table)
    assert len(frame) == len(table.rows) == 12
    assert frame["injector_mark"][0] == 94
    assert f"{1e3 * frame['mass_flow_kg_per_h'][0]:.0f} g/h" == table.rows[0].consumption
    assert_units_in_names(frame)


def test_a_tolerance_has_its_burners_and_the_whole() -> None:
    found = bl.tolerance(bl.demonstration(), draws=2000)
    frame = bl.to_frame(found)
    assert list(frame["name"])[-1] == "all burners"
    assert list(dict.fromkeys(frame["stage"])) == ["at the end of the line", "in the field"]
    first = frame[frame["stage"] == "in the field"].iloc[0]
    assert first["outside_fraction_percent"] == pytest.approx(100 * found.burners[0].outside_fraction)
    causes = frame.filter(like="_relative_standard_deviation_percent")
    assert causes.shape[1] == 6
    assert (causes.iloc[-1] > 0).all()
    assert_units_in_names(frame)


def test_a_map_has_a_row_per_cell() -> None:
    study = bl.study_layout(bl.demonstration(), grid=(12, 8))
    frame = bl.to_frame(study)
    assert len(frame) == 96
    assert frame["flux_kW_per_m2"].mean() == pytest.approx(study.map.evenness.mean / 1e3)
    each = frame.filter(like="tube").columns.union(frame.filter(like="rear").columns)
    assert np.allclose(frame[each].sum(axis=1), frame["flux_kW_per_m2"])
    ends = ["flux_low_kW_per_m2", "flux_high_kW_per_m2"]
    pd.testing.assert_frame_equal(bl.to_frame(study.map), frame.drop(columns=ends))
    assert (frame[ends[0]] <= frame["flux_kW_per_m2"]).all()
    assert (frame["flux_kW_per_m2"] <= frame[ends[1]]).all()
    assert_units_in_names(frame)


def test_a_draw_from_a_cylinder_has_a_row_per_moment() -> None:
    cylinder = bl.cylinder_named("20 lb")
    rate, air = "60 kBtu/h", "0 C"
    held = bl.hold(
        bl.Draw(gas=bl.load("propane"), cylinder=cylinder, fill=0.8, air_temperature_K=air, heat_input_W=rate)
    )
    frame = bl.to_frame(held)
    assert list(frame["heat_from_air"].unique()) == ["low", "nominal", "high"]
    nominal = frame[frame["heat_from_air"] == "nominal"]
    assert nominal["time_min"].max() == pytest.approx(held.nominal.hold_time_s / 60)
    assert nominal["temperature_C"].iloc[0] == pytest.approx(0.0)
    assert len(bl.to_frame(held.nominal)) == len(nominal)
    assert_units_in_names(frame)


def test_operation_stability_and_findings(conversion: Conversion) -> None:
    cart = bl.demonstration()
    burning = bl.to_frame(bl.operate(cart))
    assert burning["heat_input_gross_kW"].sum() == pytest.approx(bl.operate(cart).heat_input_gross_W / 1e3)
    flames = bl.to_frame(bl.stabilities(cart))
    assert flames["primary_aeration_percent"].between(10, 145).all()
    assert set(flames["rate"]) >= {"full rate", "turndown"}
    (ring,) = bl.stabilities(cart, names=["stock-pot ring"])
    assert ring.warm_up is not None
    assert ring.warm_up.hot_primary_aeration is not None
    hot = flames[flames["burner"] == "stock-pot ring"]["warm_up_hot_primary_aeration_percent"]
    assert list(hot) == pytest.approx([100 * ring.warm_up.hot_primary_aeration.value] * len(ring.rates))
    assert flames[flames["burner"] == "tile broiler"]["warm_up_basis"].isna().all()
    assert len(bl.to_frame(ring)) == len(ring.rates)
    findings = bl.to_frame(conversion.findings)
    assert set(findings["verdict"]) <= {"within", "near", "outside", "not evaluated"}
    for frame in (burning, flames):
        assert_units_in_names(frame)


def test_every_result_of_a_public_function_has_a_frame() -> None:
    cart, propane, supply = (
        bl.demonstration(),
        bl.load("propane"),
        bl.Conditions(gauge_pressure_Pa="11 in w.c."),
    )
    ring = "stock-pot ring"
    tile = bl.evaluate_tile(bl.TileBurner(area_m2=0.015), propane, 2400.0, "net", bl.Firing(aeration=1.1))
    window = bl.shutter_search(cart, ring, [(propane, "11 in w.c.")])
    diagram = bl.stability_diagram(cart, None, ring)
    assert window is not None
    assert diagram is not None
    rows = {
        "one hole": (bl.flow(propane, "#54", supply), 1),
        "holes": (bl.flow(propane, ["#54", "1.2 mm", "1 mm"], supply), 3),
        "size": (bl.size(propane, "12 kBtu/h", "gross", supply), 1),
        "drills": (bl.choices_near(bl.size(propane, "12 kBtu/h", "gross", supply)), 2),
        "gas": (bl.properties(propane, bl.ReferenceState.read("15C/15C")), 1),
        "air": (bl.combustion_air(propane), 1),
        "flame": (bl.flame_state(propane, 1.0), 1),
        "tile": (tile, 1),
        "window": (window, 2),
        "diagram": (diagram, len(diagram.points) + len(diagram.hot_points)),
        "regulator": (bl.regulator_curves(cart, settings_Pa=[1500.0, 1768.5], on=[ring]), 2),
        "links": (bl.carry_over(cart), len(bl.carry_over(cart).links)),
        "skins": (bl.skins(cart), len(bl.skins(cart).panels)),
        "supplies": (bl.category_supplies("I3+", ["GB"]), 2),
        "conditions": (supply, 1),
    }
    for name, (result, count) in rows.items():
        assert len(bl.to_frame(result)) == count, name
    one = bl.to_frame(bl.flow(propane, "#54", supply)).iloc[0]
    assert one["diameter_mm"] == pytest.approx(1.397)
    assert one["gauge_pressure_mbar"] == pytest.approx(27.4, rel=1e-4)
    many = bl.to_frame(bl.flow(propane, ["#54", "1.2 mm"], supply))
    assert many["heat_input_gross_kW"][0] == pytest.approx(one["heat_input_gross_kW"])


def test_a_flame_and_its_air_are_in_the_units_of_files() -> None:
    """Absolute pressures in kPa, temperatures in degrees Celsius, shares in per cent (handbook, json.md)."""
    propane = bl.load("propane")
    flame = bl.to_frame(bl.flame_state(propane, 1.0, 298.15, 101325.0)).iloc[0]
    assert flame["pressure_kPa"] == pytest.approx(101.325, rel=1e-12)
    assert flame["unburnt_temperature_C"] == pytest.approx(25.0, abs=1e-9)
    air = bl.to_frame(bl.combustion_air(propane)).iloc[0]
    assert air["ambient_pressure_kPa"] == pytest.approx(101.325, rel=1e-12)
    assert air["ultimate_CO2_percent"] == pytest.approx(13.72, abs=0.005)


def test_no_figure_is_turned_into_another_unit_by_its_name() -> None:
    """What a frame shows is declared on the result; the frame knows no ending of a name."""
    assert not {"HANDY", "SMALL", "SHARES"} & vars(data_frame).keys()
    declared = (
        Accuracy,
        BestThroat,
        Bore,
        BurnerState,
        CombustionAir,
        Drill,
        Flame,
        OperatingPoint,
        PortFlame,
    )
    assert [one.__name__ for one in declared if not columns(one)] == []


def test_what_declares_no_figures_is_refused_though_it_holds_numbers() -> None:
    with pytest.raises(bl.UserError, match="any other result that declares its figures"):
        bl.to_frame(bl.ConversionTarget(gas=bl.load("propane"), gauge_pressure_Pa=2740.0))


def test_what_has_no_frame_is_refused() -> None:
    with pytest.raises(bl.UserError, match="Conversion, InjectorTable"):
        bl.to_frame(3.0)
    with pytest.raises(bl.UserError, match="has no data frame"):
        bl.to_frame([])


def test_missing_pandas_is_told_in_one_sentence(tmp_path: Path) -> None:
    code = (
        "import sys; sys.modules['pandas'] = None\n"
        "import burnerlab as bl\n"
        "try:\n    bl.to_frame(bl.tolerance(bl.demonstration(), draws=1000))\n"
        "except ImportError as error:\n    print(error)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == (
        "pandas makes the data frames and is not installed; pip install 'burnerlab[notebook]'"
    )


def test_style_tells_lines_apart_without_colour() -> None:
    strokes = bl.figure_style()["axes.prop_cycle"].by_key()
    assert len(set(strokes["linestyle"])) == len(strokes["color"])


def test_charts_are_figures_in_the_style_of_the_sheet(conversion: Conversion) -> None:
    import matplotlib as mpl
    from matplotlib.figure import Figure

    before = dict(mpl.rcParams)
    study = bl.study_layout(bl.demonstration(), grid=(12, 8))
    made = [
        bl.drill_chart(conversion),
        bl.inputs_chart(conversion),
        bl.heat_map_chart(study),
        bl.heat_map_chart([study, study]),
        bl.plan_chart(study.map.layout),
    ]
    assert all(isinstance(one, Figure) and one.axes for one in made)
    assert dict(mpl.rcParams) == before
