"""What a packing scale can tell: against simulation, against brute force, and in the words it is told with."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.bench.kit import (
    Kit,
    KitPart,
    KitScale,
    PartCount,
    check_kit,
    kit_entry,
    kit_text,
    kit_window,
    outside_probability,
    read_kit,
    read_kit_text,
    suspects,
    window_steps,
)
from burnerlab.bench.record import add_kit_check, kit_checks, open_record
from burnerlab.cli import main
from burnerlab.quantity import UserError

GRAM = 1e-3
TEXT = """
name = "propane conversion kit"
[scale]
resolution = "1 g"
repeatability = "0.4 g"
[[part]]
name = "regulator"
mass = "310 g"
scatter = "1.2 g"
code = "RG-11"
[[part]]
name = "orifice #54"
count = 6
mass = "4.20 g"
scatter = "0.04 g"
code = "OR-54"
[[part]]
name = "leaflet"
mass = "11.5 g"
scatter = "0.3 g"
"""


@pytest.fixture
def kit() -> Kit:
    return read_kit_text(TEXT)


def simulated(kit: Kit, changes: dict[str, int], count: int, seed: int) -> np.ndarray:
    """Readings of packed kits, in steps of the scale: each piece drawn, the load weighed, the display rounded."""
    rng, step = np.random.default_rng(seed), kit.scale.resolution_kg
    total = rng.normal(0.0, kit.scale.repeatability_kg, count)
    for part in kit.parts:
        pieces = part.count + changes.get(part.name, 0)
        total += rng.normal(part.mass_kg, part.scatter_kg, (pieces, count)).sum(axis=0)
    return np.round(total / step)


def test_probabilities_agree_with_packed_and_weighed_kits(kit: Kit) -> None:
    window, count = kit_window(kit), 200_000
    low, high = (round(end / kit.scale.resolution_kg) for end in (window.low_kg, window.high_kg))
    cases = [({}, window.false_alarm)]
    cases += [({fault.part: fault.change}, fault.detection) for fault in window.faults]
    for seed, (changes, stated) in enumerate(cases):
        steps = simulated(kit, changes, count, seed)
        found = float(np.mean((steps < low) | (steps > high)))
        assert found == pytest.approx(stated, abs=4.0 * np.sqrt(max(stated * (1 - stated), 1e-5) / count)), (
            changes
        )


@settings(max_examples=80)
@given(
    mass=st.floats(0.1, 0.2),
    sigma=st.floats(0.0001, 0.01),
    step=st.sampled_from([0.0001, 0.001, 0.002, 0.01]),
    alarm=st.sampled_from([0.0027, 0.01, 0.05, 0.2]),
)
def test_the_window_keeps_the_false_alarm_and_no_narrower_one_does(
    mass: float, sigma: float, step: float, alarm: float
) -> None:
    low, high = window_steps(mass, sigma, step, alarm)
    assert float(outside_probability(mass, sigma, low * step, high * step, step)) <= alarm * (1 + 1e-9)
    width = high - low
    if width:
        starts = np.arange(low - 2, high + 3)
        narrower = [
            float(outside_probability(mass, sigma, first * step, (first + width - 1) * step, step))
            for first in starts
        ]
        assert min(narrower) > alarm * (1 - 1e-9)


@settings(max_examples=40)
@given(
    mass_g=st.floats(0.5, 50.0), scatter_g=st.floats(0.01, 2.0), step_g=st.sampled_from([0.1, 0.5, 1.0, 5.0])
)
def test_a_heavier_part_and_a_finer_scale_are_told_more_often(
    mass_g: float, scatter_g: float, step_g: float
) -> None:
    def told(mass: float, step: float) -> float:
        parts = (
            KitPart(name="box", mass_kg=0.5, scatter_kg=scatter_g * GRAM),
            KitPart(name="part", mass_kg=mass * GRAM, scatter_kg=0.01 * GRAM),
        )
        scale = KitScale(resolution_kg=step * GRAM, repeatability_kg=0.1 * GRAM)
        window = kit_window(Kit(name="k", parts=parts, scale=scale, false_alarm=0.0027, detection=0.95))
        return next(f.detection for f in window.faults if (f.part, f.change) == ("part", -1))

    assert told(mass_g + 2.0 * step_g, step_g) >= told(mass_g, step_g) - 1e-12
    assert told(mass_g, step_g / 1000.0) >= told(mass_g, step_g) - 0.2


def test_which_part_is_missing_is_named(kit: Kit) -> None:
    window = kit_window(kit)
    for fault in window.faults:
        first = suspects(window, round(fault.mass_kg / GRAM) * GRAM)[0]
        if fault.is_detectable:
            assert (first.part, first.change) == (fault.part, fault.change)
    assert suspects(window, window.mass_kg)[0].change == 0
    assert sum(one.probability for one in suspects(window, window.mass_kg)) == pytest.approx(1.0)
    assert suspects(window, 0.5 * window.mass_kg + 0.06) == ()


def test_what_the_scale_cannot_tell_is_listed_until_it_is_scanned(kit: Kit) -> None:
    window = kit_window(kit)
    assert {fault.part for fault in window.undetectable} == {"orifice #54"}
    expected = round(window.mass_kg / GRAM) * GRAM
    bare = check_kit(kit, expected)
    assert (bare.verdict, bare.look_for) == ("within", ("orifice #54",))
    scanned = check_kit(kit, expected, ("OR-54",) * 6 + ("RG-11",))
    assert scanned.look_for == ()
    assert set(scanned.scanned.confirmed) == {"orifice #54", "regulator"}
    assert {one.part for one in scanned.suspects} == {"", "leaflet"}  # the scans counted the others
    assert sum(one.probability for one in scanned.suspects) == pytest.approx(1.0)
    short = check_kit(kit, expected, ("OR-54",) * 5 + ("RG-11", "RG-11", "XX"))
    assert short.scanned.missing == (PartCount("orifice #54", 1),)
    assert short.scanned.too_many == (PartCount("regulator", 1),)
    assert short.scanned.unknown == ("XX",)
    assert short.look_for == ("orifice #54",)
    assert (bare.verdict, scanned.verdict, short.mass_verdict, short.verdict) == (*3 * ("within",), "outside")
    outside = check_kit(kit, window.low_kg - 3 * GRAM, ("RG-11",))
    assert outside.verdict == "outside"
    assert outside.look_for == ("orifice #54", "leaflet")


def test_a_parts_list_in_ounces_is_written_in_ounces() -> None:
    """As it was typed: no nine digits of grams."""
    typed = TEXT.replace("1 g", "0.05 oz").replace("0.4 g", "0.001 oz").replace("0.04 g", "0.0015 oz")
    written = kit_text(read_kit_text(typed))
    for text in (
        'resolution = "0.05 oz"',
        'repeatability = "0.001 oz"',
        'scatter = "0.0015 oz"',
        'mass = "310 g"',
    ):
        assert text in written, written


def test_a_part_that_is_missing_likelier_than_not_is_no_kit_within_its_window() -> None:
    """An orifice of 3 g beside a regulator that scatters by as much: the scale cannot tell, a scan of all three can."""
    parts = (
        KitPart(name="orifice #61", count=3, mass_kg=0.00309, scatter_kg=0.00006, code="OR-61"),
        KitPart(name="regulator", count=1, mass_kg=0.2693, scatter_kg=0.0014, code="RG-11"),
    )
    own = Kit(name="US kit", scale=KitScale(resolution_kg=0.00014, repeatability_kg=0.00028), parts=parts)
    light = kit_window(own).mass_kg - 0.0029
    bare, scanned = check_kit(own, light), check_kit(own, light, ("OR-61", "OR-61", "OR-61", "RG-11"))
    assert (bare.mass_verdict, bare.verdict) == ("within", "not evaluated")
    assert bare.missing_probability > 0.5 > scanned.missing_probability
    assert scanned.verdict == "within"


def test_the_edge_of_the_window(kit: Kit) -> None:
    window, step = kit_window(kit), kit.scale.resolution_kg
    ends = check_kit(kit, window.low_kg), check_kit(kit, window.high_kg)
    assert {one.mass_verdict for one in ends} == {"within"}
    assert [one.verdict for one in ends] == [
        "not evaluated",
        "within",
    ]  # so light that a leaflet may be missing
    assert (
        check_kit(kit, window.low_kg - step).verdict
        == check_kit(kit, window.high_kg + step).verdict
        == "outside"
    )
    assert any("whole number" in note for note in check_kit(kit, window.low_kg + 0.3 * step).notes)
    assert not any("whole number" in note for note in check_kit(kit, window.low_kg).notes)


def test_a_kit_without_any_scatter_has_no_window(kit: Kit) -> None:
    still = replace(
        kit,
        parts=tuple(replace(part, scatter_kg=0.0) for part in kit.parts),
        scale=replace(kit.scale, repeatability_kg=0.0),
    )
    with pytest.raises(UserError, match="nothing scatters"):
        kit_window(still)
    one = replace(still, parts=(KitPart(name="box", mass_kg=0.1, scatter_kg=0.001),))
    assert kit_window(one).faults[0].detection == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("4.20 g", "4,20 g"), "line 14.*decimal"),
        (("count = 6", "count = 0"), "line 13.*whole number of pieces"),
        (("count = 6", "count = true"), "whole number of pieces"),
        (('scatter = "0.04 g"', ""), "scatter: is missing"),
        (('mass = "11.5 g"', 'weight = "11.5 g"'), "unknown key weight"),
        (('"leaflet"', '"regulator"'), "given twice"),
        (('"OR-54"', '"RG-11"'), "given twice"),
        (('"1 g"', '"0 g"'), "no mass of a kit"),
        (('"310 g"', '"-310 g"'), "below|zero|mass"),
        (('"310 g"', '"nan g"'), "regulator|mass"),
        (('"310 g"', "310"), "needs a unit"),
        (('name = "propane conversion kit"', 'name = "k"\nfalse_alarm = "120 %"'), "between 0 and 100"),
        (("[scale]", "[scales]"), "unknown key scales"),
        (("[[part]]", "[[part"), "TOML"),
        (('code = "RG-11"', 'code = "a\\u0000b"'), "cannot be printed"),
    ],
)
def test_a_parts_list_that_cannot_be_read(change: tuple[str, str], words: str) -> None:
    with pytest.raises(UserError, match=words):
        read_kit_text(TEXT.replace(*change, 1), "parts.toml")


def test_every_problem_of_a_parts_list_is_told_with_its_line() -> None:
    text = (
        TEXT.replace('"1 g"', '"1 gg"').replace("count = 6", "count = 6.5").replace('mass = "11.5 g"\n', "")
    )
    with pytest.raises(UserError) as caught:
        read_kit_text(text, "parts.toml")
    assert [problem.line for problem in caught.value.problems] == sorted(
        p.line for p in caught.value.problems
    )
    assert len(caught.value.problems) == 3


def test_a_weighing_goes_into_the_record_with_its_scans(kit: Kit, tmp_path: Path) -> None:
    path = tmp_path / "parts.toml"
    path.write_text(TEXT)
    kit = read_kit(path)
    finding = check_kit(kit, 0.347, ("OR-54", "=HYPERLINK()"))
    with open_record(tmp_path / "bench.sqlite") as record:
        made = add_kit_check(record, kit_entry(finding, kit="K-77", tester="R. Quill", serial="C-0412"))
        assert kit_checks(record, kit="K-77") == (made,)
    assert [scan.part for scan in made.check.scans] == ["orifice #54", ""]
    assert made.check.parts_sha256 == kit.sha256


def test_a_line_script_sees_a_kit_that_is_not_complete(tmp_path: Path) -> None:
    path = tmp_path / "parts.toml"
    path.write_text(TEXT)

    def status(*more: str) -> int:
        return CliRunner().invoke(main, ["kit", "check", str(path), *more]).exit_code

    codes = [word for _ in range(6) for word in ("--scan", "OR-54")] + ["--scan", "RG-11"]
    assert status("--mass", "347 g") == 0
    assert status("--mass", "347 g", *codes) == 0
    assert status("--mass", "347 g", *codes[2:]) == 1
    short = CliRunner().invoke(main, ["kit", "check", str(path), "--mass", "347 g", *codes[2:]]).stdout
    assert "do not send it out" in short.splitlines()[1]
    assert "probability" not in short  # no chance of a complete kit beside a piece named missing
    assert (
        "do not send it out"
        not in CliRunner().invoke(main, ["kit", "check", str(path), "--mass", "347 g"]).stdout
    )
    assert status("--mass", "347 g", *codes, "--scan", "XX-1") == 1
    assert status("--mass", "300 g", "--json") == 1
    assert status("--mass", "300") == 2
    assert "Exit status" in CliRunner().invoke(main, ["kit", "check", "--help"]).output


def test_the_commands(tmp_path: Path) -> None:
    path, file = tmp_path / "parts.toml", tmp_path / "bench.sqlite"
    path.write_text(TEXT)
    window = json.loads(CliRunner().invoke(main, ["kit", "window", str(path), "--json"]).stdout)
    assert [(one["part"], one["change"]) for one in window["undetectable"]] == [
        ("orifice #54", -1),
        ("orifice #54", 1),
    ]
    assert window["low_g"] < window["mass_g"] < window["high_g"]
    text = CliRunner().invoke(main, ["kit", "window", str(path)]).stdout
    assert "Mass does not show this" in text
    given = ["kit", "check", str(path), "--mass", "347 g", "--scan", "OR-54", "--file", str(file)]
    refused = CliRunner().invoke(main, given)
    assert refused.exit_code == 2
    assert "--kit" in refused.stderr
    assert "--tester" in refused.stderr
    assert not file.exists()
    done = CliRunner().invoke(main, [*given, "--kit", "K-77", "--tester", "R. Quill", "--json"])
    result = json.loads(done.stdout)
    assert (result["mass_verdict"], result["verdict"], result["scanned"]["missing"]) == (
        "within",
        "outside",
        [{"part": "regulator", "pieces": 1}, {"part": "orifice #54", "pieces": 5}],
    )
    listed = json.loads(CliRunner().invoke(main, ["record", "kits", "--file", str(file), "--json"]).stdout)
    assert listed["kit_checks"][0]["uid"] == result["recorded_as"]
    for output in (text, CliRunner().invoke(main, given[:5]).stdout):
        assert "complete kit reads" in output or "window" in output
        assert not {"passed", "approved", "safe"} & set(output.lower().split())


@pytest.mark.parametrize(
    ("step", "words"),
    [("0.1 g", "63.6 g to 64.0 g"), ("0.002 lb", "0.140 lb to 0.142 lb"), ("0.05 oz", "2.25 oz to 2.25 oz")],
)
def test_a_window_is_in_the_unit_of_the_scale(step: str, words: str, tmp_path: Path) -> None:
    """63.8 g are 0.14066 lb and 2.2505 oz (pound of 453.59237 g): the whole steps about it."""
    path = tmp_path / "kit.toml"
    path.write_text(
        f'name = "k"\nscale = {{ resolution = "{step}", repeatability = "0.05 g" }}\n'
        'part = [ { name = "label", count = 2, mass = "31.9 g", scatter = "0.02 g" } ]\n'
    )
    for units in ("us", "metric"):  # the figures of its display are no reader's to convert
        found = CliRunner().invoke(main, ["kit", "window", str(path), "--units", units])
        assert f"reads  {words}" in found.output
