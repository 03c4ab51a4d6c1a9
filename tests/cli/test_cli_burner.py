"""The command ``burner``."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import command_runs
import pytest

from burnerlab.appliance import demonstration, demonstration_path

run = partial(command_runs.run, "burner")
asked = partial(command_runs.answer, "burner")

CART = str(demonstration_path())
KEYS = {
    "primary_aeration_percent", "primary_aeration_low_percent", "port_loading_W_per_mm2", "wall_gradient_per_s",
    "lift_margin", "light_back_margin", "yellow_tip_margin", "inner_cone_height_mm", "findings",
}  # fmt: skip


def test_every_burner_has_every_key_and_cautions_stand_below() -> None:
    found = asked(CART)
    assert len(found["burners"]) == 6
    assert all(KEYS <= set(burner) for burner in found["burners"])
    assert found["cautions"]
    assert found["evidence"] == "estimate"


def test_one_burner_on_another_gas_through_the_same_or_its_own_orifice() -> None:
    same = asked(CART, "--burner", "Stock-Pot Ring", "--gas", "propane", "--pressure", "11 inH2O")
    own = asked(
        CART, "--burner", "stock-pot ring", "--gas", "propane", "--pressure", "11 inH2O", "--converted"
    )
    (same_ring,), (own_ring,) = same["burners"], own["burners"]
    assert same_ring["heat_input_gross_kW"] > 1.7 * own_ring["heat_input_gross_kW"]
    assert same_ring["primary_aeration_percent"] < own_ring["primary_aeration_percent"]
    low, high = (own_ring[f"primary_aeration_{end}_percent"] for end in ("low", "high"))
    assert low < own_ring["primary_aeration_percent"] < high
    assert same["orifices"] != own["orifices"]


def test_a_burner_draws_what_was_measured_hot() -> None:
    ratio = ("--hot-ratio", "70 %")
    cold, hot = (asked(CART, "--burner", "rear burner", *more)["burners"][0] for more in ((), ratio))
    assert hot["primary_aeration_percent"] == cold["primary_aeration_percent"]
    warm = hot["warm_up"]
    assert warm["basis"] == "own measured ratio"
    assert warm["hot_primary_aeration_percent"] / cold["primary_aeration_percent"] == pytest.approx(0.7)
    assert cold["warm_up"]["basis"] == "thermal model"


def test_the_shutter_search_is_told_in_words_and_figures() -> None:
    (ring,) = asked(CART, "--burner", "stock-pot ring", "--also", "propane@11 inH2O")["burners"]
    window = ring["shutter_window"]
    assert [part["gas"] for part in window["stretches"]] == ["natural-gas-typical", "propane"]
    assert window["exists"] == (window["low_percent"] is not None)
    assert "shutter" in window["words"]


def test_the_text_names_verdicts_and_what_was_not_evaluated() -> None:
    done = run(CART)
    assert done.exit_code == 0
    for words in ("primary air %", "tile broiler", "not evaluated", "estimate", "test required", "WARNING"):
        assert words in done.output


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--burner", "stock pot ring"), "did you mean stock-pot ring"),
        (("--gas", "propan"), "did you mean"),
        (("--pressure", "11"), "unit"),
        (("--also", "propane"), "GAS@PRESSURE"),
        (("--also", "propane@-1 kPa"), "above"),
        (("--also", "nothing@1 kPa"), "nothing"),
    ],
)
def test_what_is_wrong_is_said_and_the_status_is_2(args: tuple[str, ...], words: str) -> None:
    done = run(CART, *args)
    assert done.exit_code == 2
    assert words in done.stderr


def test_a_file_without_ports_is_not_evaluated_and_no_error(tmp_path: Path) -> None:
    file = tmp_path / "bare.toml"
    file.write_text(
        '[appliance]\nname = "a"\nrating = "gross"\n[supply]\ngas = "propane"\npressure = "2.74 kPa"\n'
        '[[burner]]\nname = "b"\nrate = "3 kW"\norifice = { diameter = "0.94 mm" }\n'
    )
    (burner,) = asked(str(file))["burners"]
    assert burner["primary_aeration_percent"] is None
    assert burner["lift_margin"] is None
    assert {missing["topic"] for missing in burner["not_evaluated"]} >= {
        "lift",
        "light-back",
        "primary aeration",
    }


def test_the_opening_for_a_wanted_aeration_is_told_or_that_it_is_out_of_reach() -> None:
    (ring,) = asked(CART, "--burner", "stock-pot ring", "--target-aeration", "50 %")["burners"]
    told = ring["shutter_target"]
    assert told["reached"]
    assert 0 < told["opening_percent"] < 70  # it is 70 % open for 55 %
    assert told["aeration_there_percent"] == pytest.approx(50.0)
    assert told["aeration_there_low_percent"] < 50.0 < told["aeration_there_high_percent"]
    (ring,) = asked(CART, "--burner", "stock-pot ring", "--target-aeration", "150 %")["burners"]
    assert ring["shutter_target"]["reached"] is False
    assert ring["shutter_target"]["opening_percent"] is None
    (tile,) = asked(CART, "--burner", "tile broiler", "--target-aeration", "110 %")["burners"]
    assert "shutter fully open" in tile["shutter_target"]["words"]


def test_a_throat_advised_draws_more_air_than_the_one_as_built(tmp_path: Path) -> None:
    """20.7 mm was advised for the griddle tube, which draws 43.3 % in place of 54.9 %: the shutter was left out."""
    (tube,) = asked(CART, "--burner", "griddle tube left")["burners"]
    assert tube["best_throat_mm"] < tube["throat_mm"] < 20.7
    assert tube["best_throat_aeration_percent"] > tube["primary_aeration_percent"] > 52
    wider = (
        Path(CART)
        .read_text(encoding="utf-8")
        .replace('throat   = "15.5 mm"', f'throat = "{tube["best_throat_mm"]:.4f} mm"', 1)
    )
    file = tmp_path / "cart.toml"
    file.write_text(wider, encoding="utf-8")
    (changed,) = asked(str(file), "--burner", "griddle tube left")["burners"]
    assert changed["primary_aeration_percent"] == pytest.approx(
        tube["best_throat_aeration_percent"], rel=1e-4
    )


def test_the_pressure_told_at_turndown_is_the_one_left_before_the_orifice() -> None:
    (ring,) = asked(CART, "--burner", "stock-pot ring")["burners"]
    (low,) = [rate for rate in ring["rates"] if rate["rate"] == "turndown"]
    assert low["orifice_gauge_pressure_mbar"] == pytest.approx(
        0.2**2 * ring["orifice_gauge_pressure_mbar"], rel=0.01
    )
    assert any("turndown" in note and "less air" in note for note in ring["notes"])


def test_at_a_pressure_that_chokes_the_jet_nothing_reads_nan() -> None:
    done = run(CART, "--pressure", "200 kPa")
    assert done.exit_code == 0
    assert "nan" not in done.output.split()
    assert "below the speed of sound" not in done.output


def test_what_the_record_says_of_flames_stands_beside_the_limits(tmp_path: Path) -> None:
    """A record with one unit, its ring seen to lift at full rate and not at the smallest."""
    from burnerlab.bench.record import BenchReading, BenchTest, Observation, add_test, open_record

    ring, cart = "stock-pot ring", demonstration()
    path = tmp_path / "units.sqlite"
    with open_record(path, create=True) as record:
        add_test(
            record,
            BenchTest(
                serial="C-0001",
                model=cart.model or cart.name,
                tester="R. Quill",
                readings=(
                    BenchReading(quantity="manifold_pressure", value=1740.0),
                    BenchReading(quantity="shutter_open", value=0.5, burner=ring),
                ),
                observations=(
                    Observation(name="lift", answer="yes", burner=ring),
                    Observation(name="lift-low", answer="no", burner=ring),
                ),
            ),
        )
    (burner,) = asked(CART, "--burner", ring, "--record", str(path))["burners"]
    points = burner["stability_points"]
    assert [(point["flame"], point["load_percent"]) for point in points] == [("lifts", 100.0), ("sits", 20.0)]
    assert points[0]["opening_percent"] == pytest.approx(50.0)
    assert points[0]["limit"] == "lift"
    assert "your own, lifts at 100 % rate, shutter 50 %" in " ".join(
        run(CART, "--burner", ring, "--record", str(path)).stdout.split()
    )
    assert burner["lift_margin"] == asked(CART, "--burner", ring)["burners"][0]["lift_margin"]


def test_flames_are_low_at_the_ports_and_go_with_the_rate() -> None:
    (tube,) = asked(CART, "--burner", "griddle tube left")["burners"]
    assert 4.0 < tube["flame_height_mm"] < 7.0  # a line law that knew only the rate said 69 mm
    low = next(rate for rate in tube["rates"] if rate["rate"] == "turndown")
    assert low["flame_height_mm"] < 0.4 * tube["flame_height_mm"]


def test_one_gas_at_two_pressures_is_named_by_its_pressure() -> None:
    also = ("--also", "propane@27.4 mbar", "--also", "propane@34 mbar")
    (ring,) = asked(CART, "--burner", "stock-pot ring", *also)["burners"]
    gases = [one["gas"] for one in ring["shutter_window"]["stretches"]]
    assert gases == ["natural-gas-typical", "propane at 27.4 mbar", "propane at 34 mbar"]
