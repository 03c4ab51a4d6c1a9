"""The headline of supply and burner: rating, deviation and worst burner before any table, overfire above them all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from command_runs import answer, run

from burnerlab.appliance import demonstration_path

CART = str(demonstration_path())
PROPANE = ("--gas", "propane", "--pressure", "11 inH2O")
RATED_kW = 95.0 * 1055.056 / 3600.0  # the sum of the rates in the file, 95 kBtu/h


def head(text: str) -> str:
    """What stands above the first table."""
    return text.partition("burner ")[0] if text.startswith("burner") else text.split("\n---", maxsplit=1)[0]


def test_another_gas_through_the_same_orifices_is_told_before_any_figure() -> None:
    """The rough rule: the input goes by Wobbe index and root of pressure, 80.5/50.7 and 11/7 in w.c."""
    found = answer("supply", CART, *PROPANE)
    rough = 80.5 / 50.7 * (11.0 / 7.0) ** 0.5
    assert found["aim_gross_kW"] == pytest.approx(RATED_kW, rel=1e-3)
    assert 1.0 + found["deviation_percent"] / 100.0 == pytest.approx(rough, rel=0.12)
    assert found["possible_overfire"]
    assert found["verdict"] == "outside"
    worst = found["inputs_worst_first"][0]
    highest = max(max(b["deviation_percent"], b["deviation_alone_percent"]) for b in found["burners"])
    assert worst["deviation_percent"] == pytest.approx(highest, rel=1e-9)
    text = run("supply", CART, *PROPANE).stdout
    assert text.startswith("WARNING: Possible overfire: ")
    assert found["warnings"][0].startswith("WARNING")
    assert "WARNING: Do not burn propane at 27.40 mbar through these orifices." in text
    above = head(text)
    for word in ("rated 27.84 kW", "OUTSIDE; possible overfire", f"worst burner      {worst['burner']}"):
        assert word in above


def broken(folder: Path) -> str:
    """The cart with one orifice too large and one too small, so that the total says little."""
    text = Path(CART).read_text().replace('drill = "#53"', 'drill = "#48"').replace('"#44"', '"#70"')
    file = folder / "broken.toml"
    file.write_text(text)
    return str(file)


def test_an_overfired_burner_is_not_hidden_by_one_that_starves(tmp_path: Path) -> None:
    found = answer("supply", broken(tmp_path))
    assert found["deviation_percent"] < 0.0
    assert found["possible_overfire"]
    first = found["inputs_worst_first"][0]
    assert (first["burner"], first["possible_overfire"]) == ("griddle tube middle", True)
    least = min(found["inputs_worst_first"], key=lambda one: one["deviation_percent"])
    text = run("supply", broken(tmp_path)).stdout
    assert least["burner"] == "stock-pot ring"
    lines = head(text).splitlines()
    worst = next(i for i, line in enumerate(lines) if line.startswith("worst burner "))
    assert "griddle tube middle alone" in lines[worst]
    assert (
        lines[worst + 1] == f"lowest burner     stock-pot ring {least['deviation_percent']:+.1f} %: OUTSIDE"
    )
    assert text.index("WARNING: Possible overfire: griddle tube middle") < text.index("appliance")


def test_the_least_by_the_supply_says_what_it_burns_of_its_rating(tmp_path: Path) -> None:
    found = answer("supply", CART, *PROPANE)
    lowest = found["lowest"]
    assert lowest["from_nominal_percent"] < 0.0 < lowest["deviation_percent"]
    text = run("supply", CART, *PROPANE).stdout
    line = " ".join(text.partition("least by the supply")[2].partition("most by the supply")[0].split())
    assert line.endswith(f"{lowest['deviation_percent']:+.1f} % off rating")


def test_nothing_is_warned_of_where_no_burner_overfires() -> None:
    found: Any = answer("supply", CART)
    assert found["warnings"] == []
    assert not found["possible_overfire"]
    assert run("supply", CART).stdout.startswith("appliance")


def test_burner_has_a_finding_on_its_heat_input(tmp_path: Path) -> None:
    """5.64 kW of a 3.66 kW burner is told, of a burner without ports too."""
    bare = tmp_path / "bare.toml"
    lines = Path(CART).read_text().splitlines(keepends=True)
    bare.write_text("".join(line for line in lines if not line.startswith("ports ")))
    for file in (CART, str(bare)):
        found = answer("burner", file, "--gas", "propane", "--burner", "griddle tube left")
        (burner,) = found["burners"]
        finding = burner["findings"][0]
        assert (finding["topic"], finding["verdict"]) == ("heat input", "outside")
        assert finding["value"] == pytest.approx(100.0 * (5.64 / 3.663 - 1.0), abs=0.2)
        assert found["warnings"]
        assert found["inputs_worst_first"][0]["burner"] == "griddle tube left"
        text = run("burner", file, "--gas", "propane").stdout
        assert text.startswith("WARNING: Possible overfire: ")
        assert "OUTSIDE; possible overfire" in " ".join(head(text).split())
