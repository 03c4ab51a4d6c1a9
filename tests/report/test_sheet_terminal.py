"""The summary of ten seconds."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from burnerlab.appliance.conversion.result import Conversion, NotEvaluated
from burnerlab.report.terminal import terminal_text
from burnerlab.tables.verdict import Verdict


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_is_wider_than_the_terminal(conversion: Conversion, hostile: Conversion, width: int) -> None:
    for case in (conversion, hostile):
        assert max(len(line) for line in terminal_text(case, width=width).splitlines()) <= width


def test_it_fits_a_screen_and_says_the_job_first(conversion: Conversion) -> None:
    lines = [line for line in terminal_text(conversion).splitlines() if line]
    assert len(lines) <= 30
    assert lines[0] == "market cart range: change of gas"
    assert lines[1].startswith("Natural gas, typical at 17.4 mbar to propane at 27.4 mbar")


def test_each_burner_has_its_line(conversion: Conversion) -> None:
    lines = terminal_text(conversion, width=100).splitlines()
    for burner in conversion.burners:
        line = next(line for line in lines if line.startswith(burner.name))
        for word in (burner.from_drill, burner.choice.drill, f"{burner.to_orifice_m * 1e3:.3f}", "within"):
            assert word in line
        assert f"{100 * burner.deviation:+.1f} " in line


def test_what_is_outside_cannot_be_overlooked_without_colour(conversion: Conversion) -> None:
    first = conversion.burners[0]
    outside = replace(first, headline=replace(first.headline, verdict=Verdict.OUTSIDE))
    other = replace(conversion.findings[-1], verdict=Verdict.OUTSIDE, topic="supply pressure", burner="")
    text = terminal_text(
        replace(
            conversion,
            burners=(outside, *conversion.burners[1:]),
            findings=(*conversion.findings, other),
        )
    )
    assert "OUTSIDE" in next(line for line in text.splitlines() if line.startswith("griddle tube"))
    assert "OUTSIDE: supply pressure" in text
    assert "near: primary air" in text
    assert "\x1b" not in text


def test_markup_in_a_name_is_a_name(conversion: Conversion) -> None:
    named = replace(conversion.burners[0], name="[red]x[/red]")
    text = terminal_text(replace(conversion, burners=(named, *conversion.burners[1:])), width=120)
    assert "[red]x[/red]" in text


def test_each_reader_has_one_system(conversion: Conversion) -> None:
    text = terminal_text(conversion, system="US")
    assert "Natural gas, typical at 7.00 in w.c. to propane at 11.0 in w.c." in text
    assert "15 000" in text
    assert not re.search(r"mbar|kW|kg/h|m³/h", text)
    assert not re.search(r"w\.c\.|Btu|lb/h|ft³/h", terminal_text(conversion))


def test_a_net_rating_reads_as_its_plate_does(conversion: Conversion) -> None:
    net = replace(conversion, rating_basis="net")
    share = conversion.to_gas.net_heating_value_J_per_kg / conversion.to_gas.gross_heating_value_J_per_kg
    text = terminal_text(net, width=100)
    assert "heat inputs net" in text
    assert "gross" not in text
    assert f"rated {conversion.total_rate_gross_W * share / 1e3:.1f} kW" in text
    assert "heat inputs gross" in terminal_text(conversion, width=100)


def test_the_home_gas_of_a_market_is_no_change(conversion: Conversion) -> None:
    """Same gas, pressure and altitude: as built where every orifice stays, else its orifices are the change."""
    home = replace(
        conversion,
        to_gas=conversion.from_gas,
        to_gauge_pressure_Pa=conversion.from_gauge_pressure_Pa,
        altitude_m=conversion.from_altitude_m,
    )
    lines = [line for line in terminal_text(home).splitlines() if line]
    assert lines[0] == "market cart range: same gas, other orifices, no change of gas"
    assert " to " not in lines[1]
    stays = tuple(replace(b, from_orifice_m=b.choice.diameter_m) for b in home.burners)
    lines = [line for line in terminal_text(replace(home, burners=stays)).splitlines() if line]
    assert lines[0] == "market cart range: as built, no change of gas"
    assert lines[1].startswith("As built: natural gas, typical at 17.4 mbar")
    lines = [line for line in terminal_text(replace(home, altitude_m=2000.0)).splitlines() if line]
    assert lines[0] == "market cart range: another altitude, no change of gas"
    assert lines[1].startswith("Same gas at another altitude: natural gas, typical at 17.4 mbar")
    lines = [line for line in terminal_text(replace(home, to_gauge_pressure_Pa=2000.0)).splitlines() if line]
    assert lines[0] == "market cart range: another pressure, no change of gas"
    assert " at 17.4 mbar to " in lines[1]


def test_an_open_question_of_a_cold_and_a_hot_burner_is_named_once(conversion: Conversion) -> None:
    open_ = tuple(
        NotEvaluated(topic=topic, why="no figure", burner="rear burner")
        for topic in ("light-back, new gas", "light-back, hot burner")
    )
    words = " ".join(terminal_text(replace(conversion, not_evaluated=open_)).split())
    assert words.count("light-back") == 1
    words = " ".join(terminal_text(replace(conversion, not_evaluated=open_[1:])).split())
    assert "Not evaluated: light-back of the hot burner" in words
