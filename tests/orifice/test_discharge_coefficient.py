"""Discharge coefficients: values with their spread, correlations with their range, and an own value."""

from __future__ import annotations

from pathlib import Path

import pytest

from burnerlab import tables
from burnerlab.orifice import CORRELATIONS, DISCHARGE, coefficient_for, law, own_coefficient, shapes
from burnerlab.orifice.discharge_coefficient import long_radius_nozzle_coefficient, thin_plate_coefficient
from burnerlab.tables.problem import UserError


@pytest.mark.parametrize("name", DISCHARGE)
def test_each_shape_has_a_spread_and_a_source(name: str) -> None:
    shape = shapes()[name]
    assert 0.5 <= shape.low <= shape.coefficient <= shape.high <= 1.0
    assert shape.source in tables.sources()
    assert shape.provenance in tables.PROVENANCES
    assert shape.correlation in ("", *CORRELATIONS)


def test_the_default_is_the_handbook_value() -> None:
    found = coefficient_for("tapered")
    assert (found.coefficient, found.low, found.high) == (0.90, 0.85, 0.95)
    assert found.in_range


def test_long_radius_nozzle_is_the_published_one() -> None:
    """ISO 5167-3 as the fluids library carries it; a small diameter ratio changes nothing at a given throat Re."""
    from fluids.flow_meter import C_long_radius_nozzle

    mu, bore = 1e-5, 1e-3
    for reynolds in (5000.0, 18000.0, 1e5):
        mass = reynolds * mu * 3.141592653589793 * bore / 4
        theirs = C_long_radius_nozzle(D=1e-2, Do=bore, rho=1.0, mu=mu, m=mass)
        assert long_radius_nozzle_coefficient(reynolds) == pytest.approx(theirs, rel=1e-9)


def test_thin_plate_is_the_limit_of_the_published_one() -> None:
    """ISO 5167-2, corner taps, a bore far smaller than a small pipe."""
    from fluids.flow_meter import C_Reader_Harris_Gallagher

    mu, bore = 1e-5, 1e-5
    for reynolds in (5000.0, 18000.0):
        mass = reynolds * mu * 3.141592653589793 * bore / 4
        theirs = C_Reader_Harris_Gallagher(D=1e-3, Do=bore, rho=1.0, mu=mu, m=mass, taps="corner")
        assert thin_plate_coefficient(reynolds) == pytest.approx(theirs, abs=0.004)


def test_channel_falls_with_length_and_rises_with_reynolds_number() -> None:
    lengths = [
        coefficient_for("drilled channel", reynolds=1e4, length_over_diameter=x).coefficient
        for x in (2, 4, 8)
    ]
    assert lengths == sorted(lengths, reverse=True)
    slow, fast = (
        coefficient_for("drilled channel", reynolds=re, length_over_diameter=4).coefficient
        for re in (500, 5000)
    )
    assert slow < fast


@pytest.mark.parametrize(("reynolds", "ratio"), [(5.0, 4.0), (1e6, 4.0), (1e4, 1.0), (1e4, 12.0)])
def test_a_correlation_outside_its_range_is_withheld(reynolds: float, ratio: float) -> None:
    """Bad input 43."""
    given = {"reynolds": reynolds, "length_over_diameter": ratio}
    with pytest.raises(UserError, match=r"outside the range .* no result without extrapolation"):
        coefficient_for("drilled channel", **given)  # type: ignore[arg-type]
    bold = coefficient_for("drilled channel", **given, extrapolate=True)  # type: ignore[arg-type]
    assert not bold.in_range
    assert any("outside the range" in note for note in bold.notes)


def test_a_constant_outside_its_range_is_flagged() -> None:
    inside = coefficient_for("sharp", reynolds=5000.0, length_over_diameter=0.2)
    outside = coefficient_for("sharp", reynolds=5000.0, length_over_diameter=3.0)
    assert inside.in_range
    assert not outside.in_range
    assert outside.coefficient == inside.coefficient
    assert outside.notes[0].startswith("length over bore 3 is outside the range 0 to 0.5")


def test_a_correlation_needs_its_numbers() -> None:
    with pytest.raises(UserError, match="Reynolds"):
        coefficient_for("drilled channel", length_over_diameter=3.0)
    with pytest.raises(UserError, match="length"):
        coefficient_for("drilled channel", reynolds=5000.0)


def test_a_misspelt_shape_is_put_right() -> None:
    assert coefficient_for("Long_radius nozzle", reynolds=1e4).shape == "long-radius nozzle"
    with pytest.raises(UserError, match="did you mean tapered"):
        coefficient_for("tappered")


@pytest.mark.parametrize("value", [0.3, 1.2, float("nan")])
def test_an_own_value_is_checked(value: float) -> None:
    with pytest.raises(UserError, match=r"0\.5 to 1 "):
        own_coefficient(value)


def test_a_table_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "bench.csv"
    path.write_text(
        "shape,title,coefficient,low,high,l_over_d_low,l_over_d_high,reynolds_low,reynolds_high,correlation,"
        "source,place,provenance,note\n"
        "our spud,measured spud,0.874,0.865,0.883,,,,,,our bench,sheet 7,measured here,\n",
        encoding="utf-8",
    )
    assert coefficient_for("our spud", own=path).coefficient == 0.874
    assert law("our spud", own=path)(1e-3, 9000.0) == 0.874
