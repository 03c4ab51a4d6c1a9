"""An appliance whose file gives no orifice: the new one is asked, and what rests on the present one stays open."""

from __future__ import annotations

from dataclasses import replace

import pytest
from click.testing import CliRunner

from burnerlab.appliance import Conversion, convert, operate, read_appliance_text
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.project.burner_kind import BurnerKind
from burnerlab.appliance.project.model import Appliance
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.bench.reading.manifold import expected_input
from burnerlab.cli import main
from burnerlab.orifice import Conditions, flow
from burnerlab.quantity import UserError
from burnerlab.report import to_json
from burnerlab.report.terminal import summary_text
from burnerlab.tables.verdict import Verdict

WHOLE = """
ports = { diameter = "1.6 mm", count = 180, depth = "3 mm" }
throat = "16 mm"
turndown = "1:3"
place = { x = "0 mm", y = "0 mm", length = "190 mm", width = "140 mm", height = "90 mm" }
shutter = { opening = "60 %", area = "155 mm2" }
"""


def bare(kind: str = "tube", more: str = "", site: str = "") -> Appliance:
    return read_appliance_text(
        '[appliance]\nname = "bare"\nrating = "net"\n[supply]\ngas = "natural-gas-typical"\npressure = "7 in w.c."\n'
        f'{site}\n[[burner]]\nname = "one"\nkind = "{kind}"\nrate = "12 kBtu/h"\n{more}'
    )


@pytest.fixture(scope="module")
def evaluated() -> Conversion:
    return evaluate_conversion(convert(bare(more=WHOLE), "propane", "11 in w.c."))


def test_the_new_orifice_is_that_of_a_file_with_any_present_one(evaluated: Conversion) -> None:
    with_one = convert(bare(more='orifice = { drill = "#50" }' + WHOLE), "propane", "11 in w.c.")
    assert evaluated.burners[0].choice == with_one.burners[0].choice
    assert evaluated.burners[0].to_orifice_m == with_one.burners[0].to_orifice_m


def test_what_rests_on_the_present_orifice_is_not_evaluated(evaluated: Conversion) -> None:
    (burner,) = evaluated.burners
    assert (burner.from_orifice_m, burner.from_drill, burner.from_predicted_gross_W) == (None, "", None)
    assert (burner.diameter_ratio, burner.area_ratio, burner.exact_area_ratio) == (None, None, None)
    (found,) = [one for one in evaluated.findings if one.topic == "present heat input"]
    assert found.verdict is Verdict.NOT_EVALUATED
    assert found.text.startswith("present orifice: not given")
    assert to_json(evaluated)["burners"][0]["from_orifice_mm"] is None
    assert "present\nheat input" in summary_text(evaluated) or "present heat input" in summary_text(evaluated)


@pytest.mark.parametrize(
    "site", ["", 'altitude = "2000 m"', 'altitude = "2000 m"\n[limits]\naltitude_policy = "none"']
)
def test_the_bore_that_stands_for_it_gives_the_rating(site: str) -> None:
    """By the flow of that bore at sea level; at altitude the rating times what a bore for sea level gives there."""
    appliance = bare(site=site)
    (burner,), supply = appliance.burners, appliance.supply
    assert burner.orifice.is_calculated
    at = Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )
    given = flow(supply.gas, burner.orifice.diameter_m, at, 0.90).heat_input_W("net")
    if "policy" in site or not site:
        assert given == pytest.approx(burner.rate_W, rel=1e-6)
    else:
        at_sea = bare().burners[0].orifice.diameter_m
        assert burner.orifice.diameter_m == pytest.approx(at_sea, rel=2e-3)


def test_a_reading_is_not_held_against_an_orifice_that_is_not_given() -> None:
    with pytest.raises(UserError, match="orifice: is not given"):
        expected_input(bare())


def test_a_burner_changed_to_a_drill_has_one() -> None:
    from burnerlab.appliance import ConversionTarget, changed, supplied

    gas = supplied("propane", 2740.0).gas
    there = changed(bare(), ConversionTarget(gas=gas, gauge_pressure_Pa=2740.0))
    assert there.missing_orifices == ()
    assert bare().missing_orifices == (
        "one: present orifice not given; 1.442 mm, calculated for its rate, stands for it",
    )


@pytest.mark.parametrize("more", ["", WHOLE], ids=["least", "whole"])
@pytest.mark.parametrize("kind", list(BurnerKind))
def test_every_kind_is_evaluated(kind: str, more: str) -> None:
    conversion = evaluate_conversion(convert(bare(kind, more), "propane", "11 in w.c."))
    assert conversion.burners[0].headline.verdict in set(Verdict)
    assert operate(bare(kind, more)).burners[0].heat_input_gross_W > 0.0


@pytest.mark.parametrize(
    "command", ["supply", "burner", "injectors", "carryover", "layout", "skins", "clock", "explain"]
)
def test_every_command_answers_or_refuses(command: str, tmp_path) -> None:
    path = tmp_path / "bare.toml"
    path.write_text(ProjectText.blank().text, encoding="utf-8")
    options = {"clock": ["--volume", "50 L", "--time", "214 s"], "explain": ["--measured", "3 kW gross"]}
    result = CliRunner().invoke(main, [command, str(path), *options.get(command, [])])
    assert result.exit_code in (0, 2), result.output
    assert "present orifice not given" in result.stderr


@pytest.mark.parametrize(
    ("region", "gas"), [("", "natural-gas-typical"), ("us", "natural-gas-typical"), ("eu", "G20")]
)
def test_a_blank_text_converts(region: str, gas: str) -> None:
    text = ProjectText.blank(region)
    appliance = text.content().appliance
    assert appliance is not None
    assert appliance.supply.gas.name == gas
    named = (
        text.with_values({"appliance.name": "my stove", "burner[1].rate": "4 kW"}).with_burner(1).content()
    )
    assert named.appliance is not None
    conversion = convert(replace(named.appliance, file="new"), "propane", "30 mbar")
    assert [burner.rate_gross_W for burner in conversion.burners] == [4000.0, 4000.0]
