"""Every problem of a project file is told in one round, at its own line, with a fix that is right for that file."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable

import pytest
from appliance_cases import SMALL

from burnerlab.appliance import demonstration_path, read_appliance_text
from burnerlab.quantity import Problem, UserError

DEMO = demonstration_path().read_text(encoding="utf-8")

# (what the file says, what it says by mistake); every one is found once in the demonstration's file
SLIPS = {
    "rating": ('rating = "gross"', 'rating = "higher"'),
    "gas temperature": ('gas_temperature = "15 C"', 'gas_temperature = "150 C"'),
    "size of the pipe": ('size     = "3/4 in schedule 40"', 'size = "3/4 in schedul 40x"'),
    "fitting of the pipe": (
        'fittings = { elbow = 3, "plug cock" = 1 }',
        'fittings = { elbw = 3, "plug cock" = 1 }',
    ),
    "size of the hose": ('size     = "1/2 in hose"', 'size = "13/7 in hose"'),
    "fitting of the hose": ('fittings = { "quick coupling" = 1 }', 'fittings = { "quick couplng" = 1 }'),
    "length of the hose": ('length   = "1.2 m"', 'length = "1,2 m"'),
    "regulator": ('type     = "natural appliance"', 'type = "natural aplliance"'),
    "lock-up": ('lock_up  = "0.9 in w.c."', 'lock_up = "0.9"'),
    "spacing": ('spacing  = "140 mm"', 'spacing = ["140 mm", "140 mm"]'),
    "tolerance": ('tolerance       = "5 %"', 'tolerance = "4-percent"'),
    "drills": ('drills          = ["number", "letter", "fraction", "metric"]', 'drills = ["numbers"]'),
    "rate": ('rate     = "14.5 kBtu/h"', 'rate = "14.5 MBtu/h"'),
    "drill": (
        'orifice  = { drill = "#53", shape = "tapered" }',
        'orifice = { drill = "#153", shape = "tapered" }',
    ),
    "shape": (
        'orifice  = { drill = "#44", shape = "tapered" }',
        'orifice = { drill = "#44", shape = "tapred" }',
    ),
    "ports": (
        'ports    = { diameter = "2.0 mm", count = 280, depth = "4 mm", pitch = "5 mm", rows = 2 }',
        'ports = { diameter = "2.0 mm", count = 280, depht = "4 mm" }',
    ),
    "throat": ('throat   = "16.5 mm"', 'throat = "16.5"'),
    "turndown": ('turndown = "40 %"', 'turndown = "140 %"'),
    "place": (
        'place    = { x = "400 mm", y = "0 mm", length = "400 mm", height = "90 mm" }',
        'place = { x = "400 mm", y = "zero", length = "400 mm", height = "90 mm" }',
    ),
    "shutter": (
        'shutter  = { opening = "70 %", area = "310 mm2" }',
        'shutter = { opening = "170 %", area = "310 mm2" }',
    ),
    "kind": ('kind     = "rear"', 'kind = "reer"'),
    "surface": ('width  = "320 mm"', 'width = "320 kg"'),
    "lid": ('lid_height = "430 mm"', 'lid_heigth = "430 mm"'),
    "carry-over": ('to      = "griddle tube right"', 'to = "gridle tube right"'),
    "panel": ('inside  = "280 C"', 'inside = "2800 C"'),
    "material": ('touched = "plastic"', 'touched = "plastik"'),
    "search": ('surface         = "griddle"', 'surface = "gridle"'),
    "lengths": ('lengths         = ["350 mm", "400 mm", "420 mm"]', 'lengths = ["350 mm", "400"]'),
}
MARK = "  # wrong"


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(UserError) as caught:
        read_appliance_text(text, "cart.toml")
    return caught.value.problems


def with_slips(names: Iterable[str]) -> str:
    """The demonstration with these slips, each line marked."""
    lines = DEMO.split("\n")
    for name in names:
        old, new = SLIPS[name]
        (place,) = [i for i, line in enumerate(lines) if line.startswith(old)]
        lines[place] = new + MARK
    return "\n".join(lines)


def marked(text: str) -> set[int]:
    return {i for i, line in enumerate(text.split("\n"), start=1) if line.endswith(MARK)}


@pytest.mark.parametrize("name", SLIPS)
def test_one_slip_is_told_once_at_its_line_and_nothing_follows_from_it(name: str) -> None:
    text = with_slips([name])
    found = problems(text)
    if name == "lid":  # an unknown key, and the lid that now lacks its height
        found = tuple(problem for problem in found if problem.key != "box[1].lid")
    assert {problem.line for problem in found} == marked(text), [problem.text() for problem in found]
    assert len(found) == 1, [problem.text() for problem in found]


def test_all_slips_are_told_in_one_round() -> None:
    text = with_slips(SLIPS)
    found = problems(text)
    assert len(SLIPS) > 10
    assert marked(text) <= {problem.line for problem in found}
    alone = {problem.key for name in SLIPS for problem in problems(with_slips([name]))}
    assert {problem.key for problem in found} == alone


def test_half_of_the_slips_are_told_in_one_round_too() -> None:
    """Whatever the first complaint is, it hides no other."""
    names = list(SLIPS)
    for half in (names[::2], names[1::2]):
        text = with_slips(half)
        assert marked(text) <= {problem.line for problem in problems(text)}


def test_lines_that_are_no_toml_hide_nothing_else() -> None:
    text = with_slips(["size of the hose", "drill"])
    text = text.replace('name     = "tile broiler"', 'name = "tile broiler' + MARK)
    text = text.replace('turndown = "20 %"', 'turndown = "20 %"\nturndown = "30 %"' + MARK)
    text = text.replace(
        'fittings = { elbow = 3, "plug cock" = 1 }', "fittings = { elbow = 3, [] = 1 }" + MARK
    )
    found = problems(text)
    assert {problem.line for problem in found} == marked(text), [problem.text() for problem in found]


def test_what_makes_a_table_whole_hides_no_other_key_of_it() -> None:
    """Without its size the hose needs a bore; its fittings are looked up all the same."""
    text = with_slips(["fitting of the hose"]).replace('size     = "1/2 in hose"', "size = 3" + MARK)
    assert {problem.line for problem in problems(text)} == marked(text)


@pytest.mark.parametrize(
    ("old", "new", "fix"),
    [
        (
            'ports    = { diameter = "1.6 mm", count = 200, depth = "3 mm", pitch = "4 mm", rows = 2 }',
            "ports = 3",
            'write ports = { diameter = "1.6 mm" }',
        ),
        (
            'shutter  = { opening = "70 %", area = "310 mm2" }',
            "shutter = 3",
            'write shutter = { opening = "60 %" }',
        ),
        (
            'place    = { x = "700 mm", y = "0 mm", diameter = "220 mm", height = "120 mm" }',
            "place = 3",
            'write place = { x = "120 mm", y = "0 mm" }',
        ),
    ],
)
def test_a_table_that_is_none_is_proposed_with_a_key_to_copy(old: str, new: str, fix: str) -> None:
    (problem,) = problems(DEMO.replace(old, new, 1))
    assert problem.fix == fix


def test_a_broken_hose_and_its_fittings_are_told_at_their_own_keys() -> None:
    keys = {problem.key for problem in problems(with_slips(["size of the hose", "fitting of the hose"]))}
    assert keys == {"supply.hose.size", "supply.hose.fittings.quick couplng"}


def test_the_supply_of_the_new_gas_is_told_in_the_same_round() -> None:
    new = """
[new_supply]
gas = "propan"
pressure = "37 mbar"
[new_supply.hose]
size = "13/7 in hose"
length = "1 m"
"""
    keys = {problem.key for problem in problems(with_slips(["size of the hose"]) + new)}
    assert keys == {"supply.hose.size", "new_supply.gas", "new_supply.hose.size", "new_supply.inlet"}


def test_an_own_table_keeps_its_own_file_and_line(tmp_path) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "pipes.csv").write_text(
        "name,bore_mm,material,source,place,provenance\nour hose,wide,rubber,us,shop,measured here\n",
        encoding="utf-8",
    )
    text = SMALL.replace("#54", "#154") + '[tables]\npipes = "pipes.csv"\n'
    with pytest.raises(UserError) as caught:
        read_appliance_text(text, str(tmp_path / "cart.toml"))
    places = {(problem.file.rpartition("/")[2], problem.line) for problem in caught.value.problems}
    assert places == {("cart.toml", 11), ("pipes.csv", 2)}


@pytest.mark.parametrize(
    ("gas", "pressure", "above_Pa"),
    [
        ("G31", "37 mbar", 3700.0),
        ("natural-gas-typical", "7 in w.c.", 1743.0),
        ("propane", "2.74 kPa", 2740.0),
    ],
)
def test_the_inlet_proposed_is_above_the_pressure_of_that_file_in_its_unit(
    gas: str, pressure: str, above_Pa: float
) -> None:
    hose = '[supply.hose]\nsize = "1/2 in hose"\nlength = "1 m"\n'
    text = (
        SMALL.replace('"propane"', f'"{gas}"')
        .replace("11 in w.c.", pressure)
        .replace("[[burner]]", f"{hose}[[burner]]")
    )
    (problem,) = problems(text)
    assert problem.key == "supply.inlet"
    proposed = problem.fix.split('"')[1]
    assert proposed.split(" ", 1)[1] == pressure.split(" ", 1)[1]
    mended = text.replace("[supply.hose]", f'inlet = "{proposed}"\n[supply.hose]')
    train = read_appliance_text(mended).supply.train
    assert train is not None
    assert train.inlet_gauge_pressure_Pa is not None
    assert train.inlet_gauge_pressure_Pa > above_Pa


@pytest.mark.parametrize(
    ("key", "value", "fix"),
    [
        ("altitude_policy", "4-percent", "did you mean 4-percent-from-sea-level or 4-percent-from-2000-ft?"),
        ("tolerance", "4-percent", 'write "4 %"'),
        ("tolerance", "7.5 percent", 'write "7.5 %"'),
    ],
)
def test_a_fix_is_the_one_that_was_meant(key: str, value: str, fix: str) -> None:
    (problem,) = problems(f'{SMALL}[limits]\n{key} = "{value}"\n')
    assert problem.fix == fix


@pytest.mark.parametrize(
    ("old", "new", "fix"),
    [
        ('throat   = "16.5 mm"', 'throat   = "16.5"', 'write "16.5 mm" if that is its unit'),
        ('rate     = "14.5 kBtu/h"', "rate     = 14.5", 'write "14.5 kBtu/h" if that is its unit'),
        ('lock_up  = "0.9 in w.c."', 'lock_up  = "0.9"', 'write "0.9 in w.c." if that is its unit'),
        ('inlet           = "10 in w.c."', "inlet = 10", 'write "10 in w.c." if that is its unit'),
    ],
)
def test_a_bare_number_is_proposed_with_the_unit_of_its_like_in_that_file(
    old: str, new: str, fix: str
) -> None:
    (problem,) = problems(DEMO.replace(old, new, 1))
    assert problem.fix == fix


NEEDED = (  # one line of the demonstration for every key that its table must have
    'name   = "market cart range"',
    'rating = "gross"                     # the basis of every rate in this file: gross or net',
    'pressure        = "7 in w.c."             # gauge, at the appliance manifold',
    'length   = "1.2 m"',
    'spacing  = "140 mm"',
    'name     = "stock-pot ring"',
    'rate     = "30 kBtu/h"',
    'x      = "700 mm"',
    'width  = "200 mm"',
    'depth  = "260 mm"',
    'height = "195 mm"',
    'x          = "260 mm"',
    'from    = "griddle tube left"',
    'to      = "griddle tube right"',
    'spacing = "9 mm"',
    'name    = "knob plate"',
    'inside  = "150 C"',
    'height  = "120 mm"',
)


@pytest.mark.parametrize("line", NEEDED)
def test_a_key_that_is_missing_is_proposed_with_a_value_to_copy(line: str) -> None:
    """With the line proposed in its place, nothing is missing any more."""
    assert DEMO.count(f"\n{line}\n") == 1
    key = line.split("=", maxsplit=1)[0].strip()
    (problem,) = [one for one in problems(DEMO.replace(f"\n{line}\n", "\n")) if "missing" in one.what]
    assert problem.key.rpartition(".")[2] == key
    proposed = problem.fix.removeprefix("add ")
    assert proposed.startswith(f"{key} = ")
    value = tomllib.loads(proposed.partition(" or ")[0] if key == "rating" else _first_value(proposed))
    text = DEMO.replace(f"\n{line}\n", f"\n{key} = {json.dumps(value[key])}\n".replace('": "', '" = "'))
    try:
        read_appliance_text(text)
    except UserError as error:
        left = [one.text() for one in error.problems if "missing" in one.what]
    else:
        left = []
    assert not left


def _first_value(text: str) -> str:
    """The assignment at the head of a fix, without the hint behind it."""
    for end in range(len(text), 0, -1):
        try:
            tomllib.loads(text[:end])
        except tomllib.TOMLDecodeError:
            continue
        return text[:end]
    raise AssertionError(text)
