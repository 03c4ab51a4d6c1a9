"""What a project file may say, and what is said back when it says something else."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from appliance_cases import SMALL

from burnerlab.appliance import Appliance, read_appliance, read_appliance_text
from burnerlab.quantity import UserError


def said(text: str) -> UserError:
    with pytest.raises(UserError) as caught:
        read_appliance_text(text, "cart.toml")
    for problem in caught.value.problems:
        assert problem.file == "cart.toml"
        assert problem.what
    return caught.value


def test_the_demonstration_is_six_burners_on_natural_gas(cart: Appliance) -> None:
    assert [burner.kind for burner in cart.burners] == ["tube", "tube", "tube", "ring", "tile", "rear"]
    assert cart.rating == "gross"
    assert cart.supply.gauge_pressure_Pa == pytest.approx(7 * 249.08891)
    assert cart.supply.ambient_pressure_Pa == pytest.approx(101_325)
    assert cart.burners[0].rate_W == pytest.approx(12.5e3 * 0.29307107)
    assert cart.burners[0].turndown == pytest.approx(1 / 3)
    assert cart.burners[3].turndown == pytest.approx(0.2)
    assert cart.burners[0].orifice.diameter_m == pytest.approx(1.397e-3)
    assert cart.burners[0].ports is not None
    assert cart.burners[0].ports.count == 180
    assert cart.burners[3].places[0].diameter_m == pytest.approx(0.22)
    assert cart.limits.tolerance.high == pytest.approx(0.05)
    assert len(cart.file_sha256) == 64


def test_everything_optional_may_be_left_out() -> None:
    appliance = read_appliance_text(SMALL)
    burner = appliance.burners[0]
    assert (burner.count, burner.ports, burner.places, burner.turndown) == (1, None, (), None)
    assert appliance.limits.tolerance.low == -0.05
    assert "recalled" in appliance.limits.tolerance.source
    assert appliance.supply.gas_temperature_K == pytest.approx(288.15)


@pytest.mark.parametrize(
    ("turndown", "share"),
    [
        ("0.75 kW", 0.75 / 3.5),
        ("0.75 kW gross", 0.75 / 3.5),
        ("2560 Btu/h", 2560 * 0.29307107e-3 / 3.5),
        ("3500 W", 1.0),
        ("3:1", 1 / 3),
        ("30 %", 0.3),
    ],
)
def test_a_low_rate_may_be_a_ratio_a_share_or_a_heat_input(turndown: str, share: float) -> None:
    text = SMALL.replace('kind = "ring"', f'kind = "ring"\nturndown = "{turndown}"')
    assert read_appliance_text(text).burners[0].turndown == pytest.approx(share, rel=1e-7)


def test_a_low_rate_beside_a_rate_that_cannot_be_read_is_still_looked_at() -> None:
    text = SMALL.replace('"3.5 kW"', '"3.5 m"').replace('kind = "ring"', 'kind = "ring"\nturndown = "7 mm"')
    assert {problem.key for problem in said(text).problems} == {"burner[1].rate", "burner[1].turndown"}


def test_a_barometer_goes_before_the_altitude() -> None:
    appliance = read_appliance_text(SMALL.replace("[[burner]]", 'barometer = "84.3 kPa"\n[[burner]]'))
    assert appliance.supply.ambient_pressure_Pa == pytest.approx(84_300)
    assert appliance.supply.altitude_m is None


def test_three_of_a_kind_may_have_three_places() -> None:
    places = ", ".join(f'{{ x = "{x} mm", y = "0 mm" }}' for x in (0, 100, 200))
    appliance = read_appliance_text(SMALL + f"count = 3\nplace = [{places}]\n")
    assert [place.x_m for place in appliance.burners[0].places] == pytest.approx([0, 0.1, 0.2])


def test_a_gas_of_the_files_own_is_read() -> None:
    text = SMALL.replace('gas = "propane"\n', "")
    text += '[gas]\nname = "well gas"\nper = "mole"\ncomposition = { methane = 0.9, CO2 = 0.1 }\n'
    gas = read_appliance_text(text).supply.gas
    assert gas.name == "well gas"
    assert gas.composition["carbon dioxide"] == pytest.approx(0.1)


def test_a_gas_from_a_bill_is_read() -> None:
    text = SMALL.replace('gas = "propane"\n', "")
    text += '[gas]\ngross_heating_value = "1037 Btu/ft3 gross at 60F"\nrelative_density = 0.6\nfamily = "natural gas"\n'
    gas = read_appliance_text(text).supply.gas
    assert gas.gross_heating_value_J_per_m3 == pytest.approx(1037 * 1055.05585 / 0.0283168466)


def test_own_tables_are_found_beside_the_file(tmp_path: Path) -> None:
    band = "name,title,low_percent,high_percent,source,place,provenance,note\n"
    band += "ours,our band,-3,4,house rule,page 1,measured here,\n"
    (tmp_path / "bands.csv").write_text(band)
    (tmp_path / "cart.toml").write_text(
        SMALL + '[limits]\ntolerance = "ours"\n[tables]\ninput_tolerances = "bands.csv"\n'
    )
    band_read = read_appliance(tmp_path / "cart.toml").limits.tolerance
    assert (band_read.low, band_read.high) == pytest.approx((-0.03, 0.04))
    assert "house rule" in band_read.source


def test_own_spreads_are_read() -> None:
    text = (
        SMALL
        + '[tolerance]\npressure = { shape = "normal", spread = "2 %" }\ntemperature = { spread = "5 K" }\n'
    )
    spreads = read_appliance_text(text).spreads
    assert (spreads["pressure"].shape, spreads["pressure"].half_width) == ("normal", pytest.approx(0.02))
    assert spreads["temperature"].half_width == pytest.approx(5.0)


CASES = {
    "unknown key": (
        'drill = "#54"',
        'drill = "#54", diamter = "1 mm"',
        11,
        ["unknown key diamter", "did you mean diameter"],
    ),
    "unknown key of a section": (
        'name = "one ring"',
        'name = "one ring"\nratings = "x"',
        3,
        ["appliance.ratings", "did you mean rating"],
    ),
    "boolean": ('"11 in w.c."', "true", 6, ["must be a quantity, got a boolean"]),
    "date": ('"11 in w.c."', "1979-05-27", 6, ["must be a quantity, got a date"]),
    "list": ('"11 in w.c."', '["11 in w.c."]', 6, ["must be a quantity, got a list"]),
    "number without unit": ('"11 in w.c."', "11", 6, ["needs a unit", "in w.c."]),
    "nan": ('"11 in w.c."', "nan", 6, ["must be finite"]),
    "infinite": ('"3.5 kW"', "-inf", 10, ["must be finite"]),
    "beyond floats": ('"3.5 kW"', "1e400", 10, ["must be finite"]),
    "decimal comma": ('"11 in w.c."', '"1,5 kPa"', 6, ["use a point as decimal mark", "1.5 kPa"]),
    "underscore": ('"3.5 kW"', '"3_500 W"', 10, ["3_500"]),
    "power tower": ('"3.5 kW"', '"10**10**8 kW"', 10, ["not a quantity"]),
    "two values": ('"11 in w.c."', '"1 kPa; 2"', 6, ["not a quantity"]),
    "one-character kPa": ('"11 in w.c."', '"10 \u33aa"', 6, ["supply.pressure"]),
    "ambiguous M": ('"3.5 kW"', '"60 MBtu/h"', 10, ["kBtu/h", "MMBtu/h"]),
    "psi for in w.c.": (
        "11 in w.c.",
        "11 psi",
        6,
        ["758 mbar", "5 to 150 mbar", "11 in w.c.", "allow_high_pressure"],
    ),
    "kPa for mbar": ("11 in w.c.", "28 kPa", 6, ["28 mbar", "allow_high_pressure"]),
    "no pressure": ("11 in w.c.", "0 Pa", 6, ["above the outlet pressure"]),
    "absolute pressure": ("11 in w.c.", "104 kPa abs", 6, ["gauge"]),
    "bare drill number": ('drill = "#54"', 'drill = "54"', 11, ["#54", "1.397 mm"]),
    "drill in millimetres": ('drill = "#54"', 'diameter = "54 mm"', 11, ["0.2 to 6", "#54"]),
    "inch for millimetre": ('drill = "#54"', 'diameter = "1.0 in"', 11, ["0.2 to 6"]),
    "no hole": ('drill = "#54"', 'shape = "tapered"', 11, ["needs a drill or a diameter"]),
    "two holes": ('drill = "#54"', 'drill = "#54", diameter = "1 mm"', 11, ["both a drill and a diameter"]),
    "coefficient": ('drill = "#54"', 'drill = "#54", coefficient = 1.4', 11, ["0.5 to 1"]),
    "coefficient zero": ('drill = "#54"', 'drill = "#54", coefficient = 0', 11, ["0.5 to 1"]),
    "shape": (
        'drill = "#54"',
        'drill = "#54", shape = "taperd"',
        11,
        ["no orifice shape", "did you mean tapered"],
    ),
    "kind of burner": (
        '"ring"\nrate',
        '"rign"\nrate',
        9,
        ["tube, ring, box, tile, rear", "did you mean ring"],
    ),
    "rating basis": ('rating = "gross"\n', "", 1, ["rating basis missing: gross or net"]),
    "rating word": ('rating = "gross"', 'rating = "groß"', 3, ["gross, net"]),
    "two bases": ('"3.5 kW"', '"3.5 kW net"', 10, ["is a net rate, but appliance.rating is gross"]),
    "a rate of kilowatts in megawatts": ('"3.5 kW"', '"3.5 MW"', 10, ["outside 0.1 to 150 kW"]),
    "gas name": ('"propane"', '"propan"', 5, ["unknown gas", "did you mean propane"]),
    "count": ('kind = "ring"', "kind = 'ring'\ncount = 0", 10, ["1 to 500"]),
    "count as text": ('kind = "ring"', "kind = 'ring'\ncount = '3'", 10, ["must be a number, got a text"]),
    "turndown": ('kind = "ring"', "kind = 'ring'\nturndown = '3'", 10, ["is not a turndown", "1:3"]),
    "turndown to nothing": (
        'kind = "ring"',
        "kind = 'ring'\nturndown = '1:0'",
        10,
        ["outside the range of a turndown"],
    ),
    "low rate above the full": (
        'kind = "ring"',
        "kind = 'ring'\nturndown = '4 kW'",
        10,
        ["reads 4 kW, above the full rate", "0.07 to 3.5 kW"],
    ),
    "low rate of next to nothing": (
        'kind = "ring"',
        "kind = 'ring'\nturndown = '0.05 kW'",
        10,
        ["below 2 % of the full rate", "0.07 to 3.5 kW"],
    ),
    "low rate zero": ('kind = "ring"', "kind = 'ring'\nturndown = '0 W'", 10, ["above zero", "0.75 kW"]),
    "low rate negative": (
        'kind = "ring"',
        "kind = 'ring'\nturndown = '-1 kW'",
        10,
        ["above zero", "write 1 kW"],
    ),
    "low rate on the other basis": (
        'kind = "ring"',
        "kind = 'ring'\nturndown = '0.75 kW net'",
        10,
        ["is a net rate, but appliance.rating is gross"],
    ),
    "low rate in millimetres": (
        'kind = "ring"',
        "kind = 'ring'\nturndown = '3 mm'",
        10,
        ["is a length", "0.75 kW"],
    ),
    "places": (
        'kind = "ring"',
        "kind = 'ring'\ncount = 3\nplace = [{x='0 m',y='0 m'},{x='1 m',y='0 m'}]",
        11,
        ["2 places for 3 burners"],
    ),
    "table instead of text": ('"3.5 kW"', "{ value = 3 }", 10, ["must be a heat input, got a table"]),
    "text instead of table": ('{ drill = "#54" }', '"#54"', 11, ["must be a table, got a text"]),
    "number as a name": ('"one ring"', "7", 2, ["must be a text, got a number"]),
    "long name": ('"one ring"', f'"{"x" * 200}"', 2, ["1 to 80 characters"]),
    "line break in a name": ('"one ring"', '"a\\nb"', 2, ["cannot be printed"]),
    "temperature of a fire": (
        "[[burner]]",
        'gas_temperature = "300 C"\n[[burner]]',
        7,
        ["outside the accepted range"],
    ),
    "altitude in kilometres": ("[[burner]]", 'altitude = "120 km"\n[[burner]]', 7, ["supply.altitude"]),
    "altitude and barometer": (
        "[[burner]]",
        'altitude = "0 m"\nbarometer = "100 kPa"\n[[burner]]',
        8,
        ["together with altitude"],
    ),
    "low above nominal": ("[[burner]]", 'pressure_low = "12 in w.c."\n[[burner]]', 7, ["is above pressure"]),
    "tolerance": (
        "[[burner]]",
        '[limits]\ntolerance = "wide"\n[[burner]]',
        8,
        ["neither a percentage nor the name"],
    ),
    "tolerance of everything": (
        "[[burner]]",
        '[limits]\ntolerance = "90 %"\n[[burner]]',
        8,
        ["outside the accepted range"],
    ),
    "drill series": (
        "[[burner]]",
        '[limits]\ndrills = ["numbers"]\n[[burner]]',
        8,
        ["neither a series nor a drill", "did you mean number"],
    ),
    "drills as numbers": (
        "[[burner]]",
        "[limits]\ndrills = [54]\n[[burner]]",
        8,
        ["must be a list of texts"],
    ),
    "policy": ("[[burner]]", '[limits]\naltitude_policy = "non"\n[[burner]]', 8, ["did you mean none"]),
    "spread": (
        "[[burner]]",
        '[tolerance]\npressure = { spread = "90 %" }\n[[burner]]',
        8,
        ["tolerance.pressure.spread"],
    ),
    "table outside": (
        "[[burner]]",
        '[tables]\ndischarge = "../../x.csv"\n[[burner]]',
        8,
        ["must stay inside the folder"],
    ),
    "table missing": (
        "[[burner]]",
        '[tables]\ndischarge = "gone.csv"\n[[burner]]',
        8,
        ["not a regular file"],
    ),
    "duplicate key": (
        "[[burner]]",
        'pressure = "1 kPa"\n[[burner]]',
        7,
        ["supply.pressure", "given twice, first on line 6"],
    ),
    "unterminated text": ('"one ring"', '"one ring', 2, ["is not TOML"]),
    "no section": (
        '[supply]\ngas = "propane"\npressure = "11 in w.c."\n',
        "",
        0,
        ["supply: is missing", "add [supply]"],
    ),
    "nothing that burns": (
        "[[burner]]",
        '[gas]\nper = "mole"\ncomposition = { nitrogen = 1 }\n[[burner]]',
        7,
        ["fuel"],
    ),
    "fractions short of one": (
        "[[burner]]",
        '[gas]\nper = "mole"\ncomposition = { CH4 = 0.97 }\n[[burner]]',
        9,
        ["0.03", "normalize"],
    ),
    "given twice by two names": (
        "[[burner]]",
        '[gas]\nper = "mole"\ncomposition = { CH4 = 0.5, methane = 0.5 }\n[[burner]]',
        9,
        ["methane given twice"],
    ),
    "percent and fraction": (
        "[[burner]]",
        '[gas]\nper = "mole"\ncomposition = { CH4 = 94, C2H6 = 0.06 }\n[[burner]]',
        9,
        ["percent and fraction mixed"],
    ),
    "basis of a composition": (
        "[[burner]]",
        "[gas]\ncomposition = { CH4 = 1 }\n[[burner]]",
        7,
        ["state mole or mass"],
    ),
}


@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_slip_is_told_with_its_line_and_a_way_out(case: str) -> None:
    old, new, line, words = CASES[case]
    assert old in SMALL
    text = SMALL.replace(old, new)
    if "[gas]" in new:
        text = text.replace('gas = "propane"\n', "")
        line -= 1
    error = said(text)
    if "[gas]" in new:  # a faulty gas is not a missing one
        assert "supply.gas" not in {problem.key for problem in error.problems}, str(error)
    for word in words:
        assert word in str(error), str(error)
    assert line in {problem.line for problem in error.problems}, str(error)
    assert "Traceback" not in str(error)


def test_every_slip_is_told_at_once() -> None:
    text = SMALL.replace("3.5 kW", "60 MBtu/h").replace("#54", "54").replace("propane", "propan")
    text = text.replace('rating = "gross"\n', "").replace("11 in w.c.", "1,5 kPa")
    keys = {problem.key for problem in said(text).problems}
    assert keys == {
        "appliance.rating", "supply.gas", "supply.pressure", "burner[1].rate", "burner[1].orifice.drill",
    }  # fmt: skip


def test_a_long_value_is_cut() -> None:
    problem = said(SMALL.replace("3.5 kW", "x" * 190)).problems[0]
    assert "x" * 60 not in problem.text()
    assert "x" * 59 + "…" in problem.text()


def test_two_burners_of_one_name_are_refused() -> None:
    second = SMALL[SMALL.index("[[burner]]") :]
    error = said(SMALL + second)
    assert "is also the name of burner 1" in str(error)
    assert error.problems[0].line == 13


def test_two_names_that_differ_in_case_alone_are_refused() -> None:
    """Commands take names without regard to case."""
    second = SMALL[SMALL.index("[[burner]]") :]
    name = second.split("name")[1].split('"')[1]
    assert name != name.upper()
    assert "is also the name of burner 1" in str(said(SMALL + second.replace(name, name.upper(), 1)))


def test_high_pressure_is_taken_when_confirmed() -> None:
    text = SMALL.replace('"11 in w.c."', '"11 psi"\nallow_high_pressure = true')
    assert read_appliance_text(text).supply.gauge_pressure_Pa == pytest.approx(11 * 6894.757)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = " + "[" * 5000, "nested too deeply"),
        ("a = " + "{b=" * 5000, "nested too deeply"),
        (".".join("a" * 20_000) + " = 1", "key is too long"),
        ("k" * 5000 + " = 1", "key is too long"),
        ("a = " + "9" * 5000, "out of range"),
        ("[appliance]\nname = 9999999999999999999999999999999999", "must be a text"),
        ("[appliance]\n[appliance]", "given twice, first on line 1"),
        ("", "appliance: is missing"),
        ("burner = 3", "must be a list, got a number"),
        ("burner = []", "needs 1 to 200 entries"),
        ("appliance = 3", "must be a table, got a number"),
        ("\x00", "is not TOML"),
        ("a = 62,0", "62,0 is no number here"),
        ("a = { b = 'x, y', c = 36,5 } # 1,2", "36,5 is no number here"),
        ("a = 'x", "is not TOML"),
        ("a" * 100_000, "key is too long"),
    ],
    ids=range(16),
)
def test_what_would_hang_or_crash_a_parser_is_refused(text: str, words: str) -> None:
    assert words in str(said(text))


def test_finite_figures_only(cart: Appliance) -> None:
    for burner in cart.burners:
        assert math.isfinite(burner.rate_W)
        assert burner.rate_W > 0


def test_reading_and_converting_load_nothing_heavy() -> None:
    import subprocess
    import sys

    heavy = "print(*[m for m in ('pydantic_core', 'cantera', 'scipy', 'pint', 'rich') if m in sys.modules])"
    work = "import burnerlab.appliance as a; a.convert(a.demonstration(), 'propane', 2740.0)"

    def loaded(code: str) -> set[str]:
        ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        return set(ran.stdout.split())

    assert loaded(f"import sys, burnerlab.appliance; {heavy}") == set()
    assert loaded(f"import sys; {work}; {heavy}") <= {
        "pydantic_core",
        "pint",
        "scipy",
    }  # pint looks for scipy itself


@pytest.mark.parametrize(
    ("line", "added", "fix"),
    [
        ('rating = "gross"', 'place = "outdoors"', "it belongs in [[burner]]"),
        ('rating = "gross"', "zzzz = 1", "leave it out, or write one of these"),
        ('rating = "gross"', 'raiting = "net"', "did you mean rating?"),
        ('rate = "3.5 kW"', 'altitude = "3 m"', "it belongs in [supply]"),
    ],
)
def test_a_key_in_the_wrong_table_is_sent_where_it_belongs(line: str, added: str, fix: str) -> None:
    with pytest.raises(UserError) as caught:
        read_appliance_text(SMALL.replace(line, f"{line}\n{added}"))
    assert [problem.fix for problem in caught.value.problems] == [fix]


def test_a_text_for_a_table_is_answered_with_toml_that_reads() -> None:
    with pytest.raises(UserError) as caught:
        read_appliance_text(SMALL.replace('{ drill = "#54" }', '"#54"'))
    assert caught.value.problems[0].fix == 'write orifice = { drill = "#54" }'
