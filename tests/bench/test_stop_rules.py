"""What raises a stop, and that a sound unit raises none; the commands say it before everything else."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from burnerlab.appliance import Appliance, ConversionTarget, changed, demonstration, demonstration_path
from burnerlab.appliance.operation.supply_pressures import INCH_OF_WATER_PA
from burnerlab.appliance.project.project_file import read_appliance_text
from burnerlab.bench.decision_rule import decision_rule
from burnerlab.bench.faults.explanation import explain
from burnerlab.bench.reading.flue import FlueReading, analyse_flue
from burnerlab.bench.reading.heat_input import InputMeasured, with_pressure_of_file
from burnerlab.bench.reading.manifold import (
    calculated_input,
    each_burner,
    expected_at,
    expected_input,
    limits_turned_low,
    manifold_check,
    manifold_range,
)
from burnerlab.bench.reading.meter import MeterReading, clock
from burnerlab.bench.reading.readings import ManifoldRange, Reading
from burnerlab.bench.record import BeforeLighting, Observation, sights
from burnerlab.bench.stop import StopNotice, stop_rows
from burnerlab.bench.stop_rules import AT_RATING, HeatInputs, measured_stops, observation_stops, stops_of
from burnerlab.bench.unit import heat_of, rating_of, with_file_pressures
from burnerlab.cli import main
from burnerlab.gas import load
from burnerlab.quantity import UserError

CART = demonstration()
BURNERS = [one.name for one in CART.burners]
RING = "stock-pot ring"
PPM = 1e-6


def ids(stops: tuple[StopNotice, ...]) -> list[str]:
    return [one.id for one in stops]


def read_at(appliance: Appliance, burner: str | None, share: float, pressure: bool = True) -> list[str]:
    """Stops of a burner that reads so much of what is expected, at the pressure of the file."""
    nominal = appliance.supply.gauge_pressure_Pa
    check = manifold_check(appliance, nominal, burner)
    chosen = appliance.burners if burner is None else each_burner(appliance, burner)
    heat = HeatInputs(
        measured_W=share * check.nominal_gross_W,
        expected_W=check.nominal_gross_W,
        rated_W=sum(one.rate_W * one.count for one in chosen),
    )
    reading = Reading(ratio=share, pressure_ratio=1.0 if pressure else None)
    order = [Observation(name=one.name, answer=one.expected) for one in sights().values()]  # type: ignore[arg-type]
    answers = BeforeLighting(leak_test="none found", leak_test_method="leak detection fluid")
    flue = analyse_flue(load("natural-gas-us-mean"), FlueReading(oxygen=0.05, carbon_monoxide=87 * PPM))
    return ids(
        stops_of(
            observations=order,
            before_lighting=answers,
            heat=heat,
            manifold=check,
            flue=flue,
            explanation=explain(appliance, reading, burner),
        )
    )


@pytest.mark.parametrize("burner", [None, *BURNERS])
@pytest.mark.parametrize("share", [0.95, 1.0, 1.05])
def test_a_sound_unit_is_not_stopped(burner: str | None, share: float) -> None:
    assert read_at(CART, burner, share) == []


DROOPING = read_appliance_text(
    demonstration_path().read_text(encoding="utf-8").replace('droop    = "0.3', 'droop    = "1.6'), "drooping"
)
"""With all burners on 12.9 mbar of 17.7, so that the top of the band gives 14 % more than is calculated."""


@pytest.mark.parametrize("is_pressure_read", [True, False])
@pytest.mark.parametrize("burner", [None, "stock-pot ring"])
@pytest.mark.parametrize("appliance", [CART, DROOPING])
def test_no_pressure_within_its_band_stops_a_unit_as_drawn(
    appliance: Appliance, burner: str | None, is_pressure_read: bool
) -> None:
    """Nor a heat input within the band of its rating; a tenth more than orifice and pressure give is stopped."""
    held, expected = manifold_range(appliance), expected_input(appliance, burner)
    rated_W = sum(one.rate_W for one in expected.burners)
    for share in (0.001, 0.5, 0.999):
        read_Pa = held.low_Pa + share * (held.high_Pa - held.low_Pa)
        gives_W = expected_at(appliance, read_Pa, burner).gross_W
        for more, is_stopped in ((1.0, False), (1.12, True)):
            heat_W = more * (gives_W if is_pressure_read or more == 1.0 else rated_W)
            known = calculated_input(appliance, burner, read_Pa if is_pressure_read else None)
            heat = HeatInputs(
                measured_W=heat_W,
                rated_W=rated_W,
                expected_W=known.value_W,
                most_over_expected=known.most_over_value,
                expected_words=known.words,
            )
            reading = Reading(
                ratio=heat_W / expected.gross_W,
                pressure_ratio=read_Pa / expected.manifold_Pa if is_pressure_read else None,
            )
            explanation = explain(appliance, reading, burner)
            found = ids(
                stops_of(
                    heat=heat, manifold=manifold_check(appliance, read_Pa, burner), explanation=explanation
                )
            )
            assert ("overfire" in found) is is_stopped, (read_Pa, heat_W, found)
            assert is_stopped or found == []


def with_band(tolerance: float, orifices: float) -> Appliance:
    """The demonstration with so wide a band of its rating, and orifices that give so much of it."""
    own = tuple(
        replace(one, orifice=replace(one.orifice, diameter_m=one.orifice.diameter_m * orifices**0.5))
        for one in CART.burners
    )
    band = replace(CART.limits.tolerance, low=-tolerance, high=tolerance)
    return replace(CART, burners=own, limits=replace(CART.limits, tolerance=band))


def measured_as(appliance: Appliance, burner: str | None, heat_W: float, read_Pa: float) -> InputMeasured:
    """A heat input by the meter of the unit."""
    heat, rating = heat_of(appliance), rating_of(appliance, burner, decision_rule())
    reading = with_file_pressures(MeterReading(dial_m3=0.05, times_s=(100.0,)), appliance)
    time_s = 100.0 * clock(reading, heat, rating, draws=0).heat_input_gross_W / heat_W
    made = clock(replace(reading, times_s=(time_s,)), heat, rating, draws=0)
    return with_pressure_of_file(made, appliance.supply.gauge_pressure_Pa, read_Pa)


@pytest.mark.parametrize("appliance", [CART, DROOPING, with_band(0.10, 1.05), with_band(0.08, 0.96)])
@pytest.mark.parametrize("burner", [None, "stock-pot ring"])
def test_no_reading_with_every_figure_in_its_printed_band_stops(
    appliance: Appliance, burner: str | None
) -> None:
    """Heat input in the band of its rating, pressure in its own, the ratio of both at most what the finding prints."""
    held, band = manifold_range(appliance), appliance.limits.tolerance
    rated_W = sum(one.rate_W for one in expected_input(appliance, burner).burners)
    seen = 0
    for of_pressure in (0.001, 0.5, 0.999):
        read_Pa = held.low_Pa + of_pressure * (held.high_Pa - held.low_Pa)
        gives_W = expected_at(appliance, read_Pa, burner).gross_W
        for of_heat in (0.001, 0.5, 0.999):
            heat_W = rated_W * (1.0 + band.low + of_heat * (band.high - band.low))
            found = measured_stops(
                measured_as(appliance, burner, heat_W, read_Pa), appliance, burner, read_Pa
            )
            if heat_W < 1.0999 * gives_W:
                assert ids(found) == [], (read_Pa, heat_W / rated_W, heat_W / gives_W)
                seen += 1
            else:
                assert "overfire" in ids(found)
    assert seen >= 5


@pytest.mark.parametrize("burner", BURNERS)
def test_a_burner_a_fifth_above_is_stopped(burner: str) -> None:
    assert "overfire" in read_at(CART, burner, 1.2)


def test_two_faults_at_once_are_both_in_the_stop() -> None:
    """A propane unit with the regulator and the orifice of natural gas: pressure low, heat input far too high."""
    LP = changed(CART, ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0, train=""))
    read_Pa, burner = 1743.6, "stock-pot ring"
    check = manifold_check(LP, read_Pa, burner)
    (natural,), (own,) = each_burner(CART, burner), each_burner(LP, burner)
    ratio = (natural.orifice.diameter_m / own.orifice.diameter_m) ** 2 * (read_Pa / 2740.0) ** 0.5
    power, expected_Pa = ratio * check.nominal_gross_W, expected_input(LP, burner).manifold_Pa
    found = {
        one.id: one
        for one in stops_of(
            heat=HeatInputs(measured_W=power, expected_W=check.nominal_gross_W, rated_W=own.rate_W),
            manifold=check,
            explanation=explain(LP, Reading(ratio=ratio, pressure_ratio=read_Pa / expected_Pa), burner),
        )
    }
    low = found["pressure-low"]
    assert low.heading == (
        "STOP. Manifold pressure 17.4 mbar (7.00 in w.c.), below 25.3 mbar (10.2 in w.c.), where its band begins."
    )
    assert low.signal == "CAUTION"
    worst = next(iter(found.values()))
    assert (worst.id != low.id, worst.signal) == (True, "WARNING")
    assert "regulator for" in worst.why
    assert "orifices for" in worst.why


@pytest.mark.parametrize("burner", [None, *BURNERS])
def test_at_most_one_in_a_hundred_sound_units_reads_so_high(burner: str | None) -> None:
    """Sound units read what is expected within 3.3 % (one standard deviation), as ``explain`` takes them."""
    expected = manifold_check(CART, CART.supply.gauge_pressure_Pa, burner).nominal_gross_W
    chosen = CART.burners if burner is None else each_burner(CART, burner)
    rated = sum(one.rate_W * one.count for one in chosen)
    scatter = explain(CART, Reading(ratio=1.0), burner).scatter
    drawn = expected * np.random.default_rng(17).normal(1.0, scatter, 4000)
    heats = (HeatInputs(measured_W=float(one), expected_W=expected, rated_W=rated) for one in drawn)
    assert sum(bool(stops_of(heat=heat)) for heat in heats) <= 40


def test_every_unwanted_answer_of_a_danger_names_a_stop_of_the_table() -> None:
    named = {one.stop for one in sights().values() if one.stop}
    assert named <= set(stop_rows())
    read = {
        "leak-suspected",
        "wrong-gas",
        "overfire",
        "pressure",
        "pressure-band",
        "pressure-low",
        "pressure-lost",
        "co-high",
        "gas-not-ruled-out",
    }
    assert named | {"other-gas"} | read == set(stop_rows())
    seen = [Observation(name=one.name, answer=one.adverse) for one in sights().values() if one.stop]  # type: ignore[arg-type]
    assert ids(observation_stops(seen)) == [name for name in stop_rows() if name in named]  # worst first


@pytest.mark.parametrize(
    ("measured", "expected", "rated", "stopped"),
    [
        (10.9, 10.0, None, False),
        (11.1, 10.0, None, True),
        (11.1, None, 10.0, True),
        (11.1, 10.5, 10.0, True),  # more than a tenth above the plate, whatever the orifices would give
        (11.1, 10.0, 11.0, True),
        (5.0, 10.0, 10.0, False),
        (11.1, None, None, False),
    ],
)
def test_more_than_a_tenth_above_expected_or_rating_stops(
    measured: float, expected: float | None, rated: float | None, stopped: bool
) -> None:
    found = stops_of(heat=HeatInputs(measured_W=measured, expected_W=expected, rated_W=rated))
    assert ids(found) == (["overfire"] if stopped else [])


def test_the_reading_heads_its_overfire_and_a_case_stands_behind_it() -> None:
    """12 % as read, 19 % at the gas and pressure of the rating; a reading within the limit leaves the case in front."""
    for read, heading, why in (
        (11.2, "about 12 %", "it is 19 % above"),
        (10.5, "about 19 %", "as read +5.0 %"),
    ):
        heat = HeatInputs(measured_W=read, rated_W=10.0, cases={AT_RATING: 11.9})
        (notice,) = stops_of(heat=heat)
        assert heading in notice.heading
        assert why in notice.why


def test_a_pressure_above_its_range_stops_and_one_without_range_does_not() -> None:
    high = manifold_check(CART, 3 * CART.supply.gauge_pressure_Pa)
    (notice,) = stops_of(manifold=high)
    assert notice.id == "pressure"
    assert "52.3 mbar (21.0 in w.c.)" in notice.heading
    assert stops_of(manifold=manifold_check(CART, CART.supply.gauge_pressure_Pa)) == ()


def test_a_pressure_outside_its_band_stops_above_it_and_below_it() -> None:
    """The demonstration's regulator holds 7.1 in w.c. and 5 % at most, 0.3 and 5 % less at rated flow; the table's row
    of its supply ends at 10.5."""
    low_Pa, high_Pa = (share * inches * INCH_OF_WATER_PA for share, inches in ((0.95, 6.8), (1.05, 7.1)))
    for read_Pa, wanted in (
        (0.5 * low_Pa, ["pressure-low"]),
        (0.999 * low_Pa, ["pressure-low"]),
        (1.001 * low_Pa, []),
        (0.999 * high_Pa, []),
        (1.001 * high_Pa, ["pressure-band"]),
        (10.4 * INCH_OF_WATER_PA, ["pressure-band"]),
        (10.6 * INCH_OF_WATER_PA, ["pressure"]),
    ):
        check = manifold_check(CART, read_Pa)
        assert ids(stops_of(manifold=check)) == wanted
        reading = Reading(pressure_ratio=read_Pa / manifold_check(CART, read_Pa).nominal_pressure_Pa)
        plan = ManifoldRange(low_Pa=0.4 * low_Pa, high_Pa=10.0 * high_Pa, source="a plan with a wider band")
        in_plan = ids(explain(CART, replace(reading, limits=plan)).stops)
        assert not {"pressure-band", "pressure-low"} & set(in_plan)
        low = limits_turned_low(
            CART
        )  # a burner turned low takes little gas: a rise up to lock-up is no fault
        turned_low = [id for id in wanted if id != "pressure-band"]
        assert ids(stops_of(manifold=manifold_check(CART, read_Pa, RING, limits=low))) == turned_low
        of_low = explain(CART, replace(reading, is_low_rate=True, burner=RING))
        assert ("pressure" in ids(of_low.stops), "pressure-band" in ids(of_low.stops)) == (
            "pressure" in turned_low,
            False,
        )


def test_a_rise_at_the_low_rate_is_no_sign_of_a_regulator_at_fault() -> None:
    expected, low = expected_input(CART, RING), ManifoldRange(low_Pa=1600.0, high_Pa=1850.0, source="a plan")
    for is_low in (False, True):
        reading = Reading(
            ratio=1.0, pressure_ratio=2000.0 / expected.manifold_Pa, is_low_rate=is_low, limits=low
        )
        found = explain(CART, reading, RING)
        assert ids(found.stops) == ([] if is_low else ["pressure-band"])
        assert found.manifold is not None
        assert found.manifold.pressure_high_Pa == pytest.approx(2620.0, abs=5.0) or not is_low
        assert (found.causes[0].cause == "as it should be") == is_low


@pytest.mark.parametrize(
    ("kind", "ppm", "stopped", "words"),
    [
        ("", 700, False, ""),
        ("", 900, True, "lowest for cooking"),
        ("outdoor-cooking", 900, True, "limit 800 (outdoor cooking gas appliance, recalled)"),
        ("one-burner", 900, False, ""),
        (
            "vented",
            500,
            True,
            "limit 400 (flue gas of a vented appliance, read in another publication, not in the standard)",
        ),
        ("Unvented Room Heater", 250, True, "limit 200"),
    ],
)
def test_carbon_monoxide_stops_above_the_limit_in_force(
    kind: str, ppm: float, stopped: bool, words: str
) -> None:
    oxygen = 0.05
    read = FlueReading(oxygen=oxygen, carbon_monoxide=ppm * PPM * (0.209 - oxygen) / 0.209)
    found = stops_of(flue=analyse_flue(load("propane"), read, kind=kind))
    assert ids(found) == (["co-high"] if stopped else [])
    if stopped:
        assert words in found[0].heading


def test_a_limit_of_another_kind_is_not_evaluated() -> None:
    read = FlueReading(oxygen=0.05, carbon_monoxide=60 * PPM)
    found = analyse_flue(load("propane"), read, kind="outdoor-cooking").limits
    assert {one.kind: one.verdict for one in found if one.verdict != "not evaluated"} == {
        "outdoor-cooking": "within"
    }
    with pytest.raises(UserError, match="not a kind of the table of limits"):
        analyse_flue(load("propane"), read, kind="barbecue")


def run(*args: str) -> Result:
    return CliRunner().invoke(main, args)


FLUE = ("flue", "--gas", "propane", "--oxygen", "5 %", "--carbon-monoxide")


def test_flue_is_headed_by_the_stop() -> None:
    stopped, plain = run(*FLUE, "9000 ppm"), run(*FLUE, "87 ppm")
    assert stopped.output.startswith("WARNING: STOP. CO 11 830 ppm air-free, limit 800 (kind not named")
    assert "within" not in stopped.output
    assert "STOP" not in plain.output
    assert (stopped.exit_code, plain.exit_code) == (0, 0)
    told = json.loads(run(*FLUE, "9000 ppm", "--json", "--appliance-kind", "outdoor-cooking").output)
    assert told["stop"]["id"] == "co-high"
    assert told["stop"] == told["stops"][0]
    assert told["in_force"]["kind"] == "outdoor-cooking"
    assert json.loads(run(*FLUE, "87 ppm", "--json").output)["stop"] is None
    assert (
        '--appliance-kind = "grill": is not a kind'
        in run(*FLUE, "87 ppm", "--appliance-kind", "grill").stderr
    )


CLOCK = ("clock", "--gas", "natural-gas-typical", "--volume", "10 L", "--time", "61.2 s")
WEIGH = ("weigh", "--gas", "propane", "--mass-loss", "250 g", "--time", "30 min")


@pytest.mark.parametrize(("command", "high", "near"), [(CLOCK, "5.2 kW", "6.2 kW"), (WEIGH, "5 kW", "7 kW")])
def test_a_reading_far_above_its_rating_is_headed_by_the_stop(
    command: tuple[str, ...], high: str, near: str
) -> None:
    stopped = run(*command, "--rating", f"{high} gross")
    assert stopped.output.startswith("WARNING: STOP. Possible overfire")
    assert "within" not in stopped.output
    assert "not evaluated: STOP" in stopped.output
    assert stopped.exit_code == 1
    told = json.loads(run(*command, "--rating", f"{high} gross", "--json").output)
    assert (told["stop"]["id"], told["verdict"]) == ("overfire", "not evaluated")
    plain = run(*command, "--rating", f"{near} gross")
    assert "STOP" not in plain.output
    assert plain.exit_code == 0
    assert json.loads(run(*command, "--json").output)["stops"] == []


def test_a_burner_that_overfires_at_the_pressure_of_the_test_is_stopped() -> None:
    """By 10 L in 61.2 s it burns a sixth above its rating, at a pressure a third above that of the rating."""
    more = ("--rating", "5.35 kW gross", "--rated-pressure", "7 inH2O", "--manifold-pressure", "9.4 inH2O")
    told = json.loads(run(*CLOCK, *more, "--json").output)
    assert told["deviation_percent"] == pytest.approx(1.0, abs=1.0)  # at the pressure of the rating
    assert told["stop"]["id"] == "overfire"
    assert told["verdict"] == "not evaluated"


@pytest.mark.parametrize(
    ("more", "stop"),
    [
        (("--time", "680 s"), "wrong-gas"),  # 79 % of the rating: propane with its own regulator reads so
        (("--time", "505 s"), None),
        (("--time", "505 s", "--manifold-pressure", "21 inH2O", "--rated-pressure", "7 inH2O"), "pressure"),
    ],
)
def test_clock_with_the_file_of_the_unit_looks_for_what_a_low_reading_hides(
    more: tuple[str, ...], stop: str | None
) -> None:
    told: dict[str, Any] = json.loads(
        run("clock", str(demonstration_path()), "--burner", "griddle tube left", "--volume", "50 L",
            "--meter-pressure", "7 inH2O", *more, "--json").output
    )  # fmt: skip
    found = [one["id"] for one in told["stops"]]
    assert stop in found if stop else found == []


def test_the_table_of_limits_of_ones_own_needs_no_new_column(tmp_path: Path) -> None:
    own = tmp_path / "limits.csv"
    own.write_text(
        "name,applies_to,air_free_CO_ppm,source,place,provenance,note\nhouse limit,our grills,100,works,,seen,\n"
    )
    done = run(*FLUE, "87 ppm", "--limits", str(own))
    assert done.output.startswith("WARNING: STOP. CO 114.4 ppm air-free, limit 100 (kind not named")


def test_carbon_monoxide_that_is_shown_air_free_is_corrected_once() -> None:
    """C = CO 20.9/(20.9 - O2): 700 ppm air-free at 10 % oxygen are 365 ppm in the sample, and no 1342."""
    propane, shown = load("propane"), FlueReading(oxygen=0.10, carbon_monoxide=700 * PPM, is_air_free=True)
    as_read = replace(shown, carbon_monoxide=700 * PPM * (0.209 - 0.10) / 0.209, is_air_free=False)
    for more in ({}, {"carbon_dioxide": 0.06}, {"flue_temperature_K": 450.0}):
        found, twin = (analyse_flue(propane, replace(one, **more)) for one in (shown, as_read))
        assert found.air_free_CO == pytest.approx(700 * PPM)
        assert found.air_free_CO_by_CO2 is None
        assert found.flue_loss_gross == twin.flue_loss_gross or found.flue_loss_gross == pytest.approx(
            twin.flue_loss_gross
        )
    assert stops_of(flue=analyse_flue(propane, shown)) == ()
    assert ids(stops_of(flue=analyse_flue(propane, replace(shown, is_air_free=False)))) == ["co-high"]
    by_CO2 = FlueReading(carbon_dioxide=0.06, carbon_monoxide=700 * PPM, is_air_free=True)
    assert analyse_flue(propane, by_CO2).air_free_CO == pytest.approx(700 * PPM)
    told = json.loads(run(*FLUE, "700 ppm", "--co-air-free", "--json").output)
    assert told["reading"]["is_air_free"] is True
