"""The commands of the layout study: what they print, what they write, how they refuse."""

from __future__ import annotations

import csv
import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from burnerlab.appliance import demonstration, demonstration_path
from burnerlab.cli import main
from burnerlab.layout.cooking_surface import Grid, grid_over
from burnerlab.layout.heat_map import pieces
from burnerlab.layout.layout_study import layout_of

CART = str(demonstration_path())


def run(*args: str) -> Result:
    return CliRunner().invoke(main, args)


def told(*args: str) -> dict[str, Any]:
    result = run(*args, "--json")
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    assert found["cautions"]
    return found


@cache
def study(*options: str) -> dict[str, Any]:
    """What ``layout`` says of the demonstration, each line run once."""
    return told("layout", CART, *options)


def test_layout_prints_the_map_and_every_burner() -> None:
    found = study()
    assert found["min_kW_per_m2"] < found["mean_kW_per_m2"] < found["max_kW_per_m2"]
    spread = (found["max_kW_per_m2"] - found["min_kW_per_m2"]) / found["mean_kW_per_m2"]
    assert found["spread"] == pytest.approx(spread, rel=1e-6)
    assert sum(burner["heat_fraction_percent"] for burner in found["parts"]) == pytest.approx(100.0)
    assert [burner["name"] for burner in found["parts"]][-1] == "rear burner"
    assert found["points"] == 2400
    assert found["mean_low_kW_per_m2"] < found["mean_kW_per_m2"] < found["mean_high_kW_per_m2"]
    assert found["evidence"] == "estimate"
    assert found["trade_low_kW_per_m2"] <= found["trade_kW_per_m2"] <= found["trade_high_kW_per_m2"]


def test_layout_says_where_every_kilowatt_goes() -> None:
    balance = study("--grid", "20x16")["balance"]
    parts = [
        value
        for key, value in balance.items()
        if key.endswith("_kW") and key not in ("heat_input_net_kW", "sum_kW")
    ]
    assert sum(parts) == pytest.approx(balance["heat_input_net_kW"], rel=1e-6)
    text = run("layout", CART, "--to", "propane", "--grid", "20x16").stdout
    assert "where the heat goes" in text
    assert "hot gas that leaves" in text


def test_layout_on_a_second_gas_and_with_a_burner_off() -> None:
    both = study("--to", "propane", "--grid", "20x16")
    assert both["second_gas"]["gas"] == "propane"
    assert both["second_gas"]["mean_kW_per_m2"] != both["mean_kW_per_m2"]
    off = told("layout", CART, "--off", "griddle tube left", "--grid", "20x16")
    whole = next(burner for burner in both["parts"] if burner["name"] == "griddle tube left")
    assert off["mean_kW_per_m2"] == pytest.approx(whole["without"]["mean_kW_per_m2"], rel=1e-6)
    assert len(off["parts"]) == len(both["parts"]) - 1


def test_a_map_of_a_market_is_of_each_gas_at_what_its_altitude_leaves_of_the_ratings(tmp_path: Path) -> None:
    """4 % for each 1000 ft from sea level (altitude policy of that name): 5000 ft leave 80 %."""
    couple = study("--market", "B", "--grid", "12x8")
    assert [couple["second_gas"]["gas"], *(one["gas"] for one in couple["further_gases"])] == ["G30", "G31"]
    text = Path(CART).read_text(encoding="utf-8")
    policy = 'altitude = "5000 ft"\naltitude_policy = "4-percent-from-sea-level"\n'
    high = tmp_path / "high.toml"
    high.write_text(text.replace("[[market]]\n", f"[[market]]\n{policy}", 1), encoding="utf-8")
    low, thin = (told("layout", str(file), "--market", "A", "--grid", "12x8") for file in (CART, high))
    share = thin["second_gas"]["heat_input_gross_kW"] / low["second_gas"]["heat_input_gross_kW"]
    assert share == pytest.approx(0.80, abs=1e-9)
    assert "at 80.0 % of the ratings" in run("layout", str(high), "--market", "A", "--grid", "12x8").stdout


def with_shields(folder: Path) -> str:
    """The demonstration with a shield over its left tube."""
    shield = """[[shield]]
name = "shield left"
x = "120 mm"
y = "0 mm"
length = "420 mm"
width = "60 mm"
height = "140 mm"

[[box]]"""
    path = folder / "changed.toml"
    path.write_text(Path(CART).read_text(encoding="utf-8").replace("[[box]]", shield, 1), encoding="utf-8")
    return str(path)


def test_two_layouts_stand_side_by_side_with_their_difference(tmp_path: Path) -> None:
    """Each change is the second layout's figure less the first's, each of them what the command says of one alone."""
    changed, out = with_shields(tmp_path), tmp_path / "study"
    compared = ("layout", CART, "--compare-with", changed, "--grid", "20x16")
    found = told(*compared, "--out", str(out))
    alone, other = study("--grid", "20x16"), told("layout", changed, "--grid", "20x16")
    for key in ("mean_kW_per_m2", "spread", "coefficient_of_variation_percent", "uptake_percent"):
        assert found[key] == pytest.approx(alone[key])
        assert found["second_layout"][key] == pytest.approx(other[key])
    change = found["comparison"]
    assert change["mean_change_kW_per_m2"] == pytest.approx(other["mean_kW_per_m2"] - alone["mean_kW_per_m2"])
    assert change["mean_change_low_kW_per_m2"] < change["mean_change_kW_per_m2"]
    assert change["most_lost_kW_per_m2"] < 0 < change["most_gained_kW_per_m2"]
    assert abs(change["most_lost_at_mm"][0] - 120) < 40  # under the shield
    stem = "market-cart-range-griddle-comparison"
    endings = {"", "-plan-a", "-plan-b"}
    assert {path.name for path in out.iterdir()} == {
        *(f"{stem}{ending}.{form}" for ending in endings for form in ("png", "svg")),
        f"{stem}.html",
        f"{stem}.csv",
    }
    with (out / f"{stem}.csv").open() as stream:
        cells = list(csv.DictReader(line for line in stream if not line.startswith("#")))
    changes = [float(one["flux_kW_per_m2_b"]) - float(one["flux_kW_per_m2_a"]) for one in cells]
    assert [float(one["change_kW_per_m2"]) for one in cells] == pytest.approx(changes, abs=2e-4)
    assert np.mean(changes) == pytest.approx(change["mean_change_kW_per_m2"], rel=1e-3)
    page = (out / f"{stem}.html").read_text(encoding="utf-8")
    assert page.count("<svg") == 3
    assert "changed.toml" in page
    text = run(*compared).stdout
    assert "band of the change" in text
    assert "most lost" in text


def test_a_layout_beside_itself_changes_nothing_and_two_comparisons_at_once_are_refused() -> None:
    same = told("layout", CART, "--compare-with", CART, "--grid", "12x12")["comparison"]
    assert same["mean_change_kW_per_m2"] == same["rms_change_kW_per_m2"] == 0.0
    assert same["mean_change_low_kW_per_m2"] == same["mean_change_high_kW_per_m2"] == 0.0
    result = run("layout", CART, "--compare-with", CART, "--to", "propane")
    assert (result.exit_code, "does not go together with --to" in result.stderr) == (2, True)


def test_surfaces_of_another_size_have_no_map_of_the_difference(tmp_path: Path) -> None:
    wide = tmp_path / "wide.toml"
    wide.write_text(
        Path(CART).read_text(encoding="utf-8").replace('"460 mm"', '"470 mm"', 1), encoding="utf-8"
    )
    asked = ("layout", CART, "--compare-with", str(wide), "--grid", "12x12")
    written = told(*asked, "--out", str(tmp_path / "o"))
    assert written["comparison"]["why_no_difference"] == "the surfaces differ in size"
    assert "no map of the difference: the surfaces differ in size" in run(*asked).stdout


@pytest.mark.parametrize("surface", ["stock-pot stand", "broiler grate"])
def test_layout_of_another_surface(surface: str) -> None:
    assert told("layout", CART, "--surface", surface, "--grid", "12x12")["surface"] == surface


def test_layout_text_says_the_band_and_the_trust() -> None:
    text = run("layout", CART).stdout
    assert "coefficient of variation" in text
    assert "band" in text
    assert "estimate" in text
    assert "no source" in text
    assert "set no limit" in " ".join(text.split())


def readings(folder: Path) -> str:
    """Temperatures that the demonstration's own pattern would give, over 90 places."""
    layout = layout_of(demonstration())
    cells = grid_over(layout.surface, 10, 9)
    grid = Grid(x_m=cells.x_m.ravel(), y_m=cells.y_m.ravel())
    flux = pieces(layout, grid)[0].flux(layout).sum(axis=0)
    noise = np.random.default_rng(2).standard_normal(flux.size)
    path = folder / "readings.csv"
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["x_mm", "y_mm", "temperature_C"])
        for x, y, q, e in zip(grid.x_m, grid.y_m, flux, noise, strict=True):
            writer.writerow([f"{1e3 * x:.2f}", f"{1e3 * y:.2f}", f"{120 + 90 * q / flux.mean() + e:.2f}"])
    return str(path)


def test_layout_fits_a_measured_grid(tmp_path: Path) -> None:
    found = told("layout", CART, "--measured", readings(tmp_path), "--grid", "20x16")
    fit = found["fit"]
    constants = {one["name"]: one for one in fit["constants"]}
    low, high = constants["capture"]["low"], constants["capture"]["high"]
    assert low < 1.0 < high
    assert constants["offset"]["value"] == pytest.approx(393.15, abs=5)
    assert {name: one["unit"] for name, one in constants.items()}["offset"] == "K"
    assert constants["capture"]["unit"] is None
    assert fit["explained_percent"] > 98.0
    assert (found["evidence"], found["pattern_evidence"]) == ("estimate", "measured here")
    assert (found["fit_state"], fit["state"]) == ("fits", "fits")
    hot = found["predicted_temperature"]
    assert hot["mean_temperature_C"] == pytest.approx(120 + 90, abs=1)
    assert hot["least_temperature_low_C"] < hot["least_temperature_C"] < hot["most_temperature_C"]
    text = run("layout", CART, "--measured", readings(tmp_path), "--grid", "20x16").stdout
    assert "95 % interval" in text
    assert "measured grid: fits" in text
    plain = study("--grid", "20x16")
    assert (plain["fit_state"], plain["predicted_temperature"]) == ("not fitted", None)
    for name in ("mean_low_kW_per_m2", "mean_high_kW_per_m2"):  # temperatures are not kilowatts
        assert found[name] == plain[name]


def test_layout_fits_a_plate_of_stated_thickness(tmp_path: Path) -> None:
    """Its temperatures after conduction; the demonstration gives no thickness, and that is said."""
    text = Path(CART).read_text(encoding="utf-8")
    assert 'kind   = "plate"' in text
    file = tmp_path / "cart.toml"
    file.write_text(
        text.replace('kind   = "plate"', 'thickness = "6 mm"\nkind = "plate"', 1), encoding="utf-8"
    )
    args = ("--measured", readings(tmp_path), "--grid", "12x12")
    fit, without = (told("layout", str(one), *args)["fit"] for one in (file, CART))
    assert 40 < fit["spread_length_mm"] < 150
    assert "plate loss" in [one["name"] for one in fit["constants"]]
    assert without["spread_length_mm"] is None
    assert any("no thickness" in one for one in without["not_fitted"])
    shown = " ".join(run("layout", str(file), *args).stdout.split())
    assert "after conduction in the plate, which evens out over" in shown


def test_readings_without_a_pattern_leave_the_map_of_the_table(tmp_path: Path) -> None:
    file = Path(readings(tmp_path))
    rows = list(csv.reader(file.read_text(encoding="utf-8").splitlines()))
    noise = np.random.default_rng(8).standard_normal(len(rows) - 1)
    lines = [
        ",".join(rows[0]),
        *(f"{x},{y},{200 + 20 * e:.2f}" for (x, y, _), e in zip(rows[1:], noise, strict=True)),
    ]
    file.write_text("\n".join(lines), encoding="utf-8")
    found, plain = told("layout", CART, "--measured", str(file)), study()
    assert found["fit_state"] == "does not fit"
    assert found["mean_kW_per_m2"] == plain["mean_kW_per_m2"]
    assert found["spread"] == plain["spread"]
    assert "the table's map stays" in " ".join(run("layout", CART, "--measured", str(file)).stdout.split())


def camera_picture(path: Path) -> tuple[str, ...]:
    """Temperatures in the pattern of the map as a picture, and the options that read it."""
    layout = layout_of(demonstration())
    cells = grid_over(layout.surface, 24, 22)
    flux = pieces(layout, cells)[0].flux(layout).sum(axis=0)
    noise = np.random.default_rng(2).standard_normal(flux.shape)
    np.savetxt(path, (120 + 90 * flux / flux.mean() + noise)[::-1], fmt="%.2f", delimiter=",")
    return ("--measured", str(path), "--corners", "0,21 23,21 23,0 0,0", "--emissivity", "0.95")


def test_layout_takes_an_infrared_picture_with_its_corners(tmp_path: Path) -> None:
    """A picture from straight above, so that the readings are those of a table of the same temperatures."""
    picture = camera_picture(tmp_path / "camera.csv")
    found = told("layout", CART, *picture, "--grid", "12x12")
    assert found["infrared_picture"]["emissivity"] == 0.95
    assert found["fit"]["explained_percent"] > 90.0
    assert any("0.95" in note for note in found["infrared_picture"]["notes"])
    for args, words in (
        (picture[:4], "emissivity set at the camera is missing"),
        (picture[:2] + picture[4:], "needs --corners too"),
        ((*picture[:3], "0,0 23,0 23,21 0,21", *picture[4:]), "go round the other way"),
        ((*picture[:3], "0,0 23", *picture[4:]), "is no list of pixels"),
        ((*picture, "--scale", "80 C"), "is no pair of temperatures"),
    ):
        result = run("layout", CART, *args)
        assert (result.exit_code, words in result.stderr) == (2, True), result.stderr


def test_layout_writes_its_page_and_never_over_another(tmp_path: Path) -> None:
    out = tmp_path / "study"
    result = run("layout", CART, "--to", "propane", "--grid", "20x16", "--out", str(out))
    assert result.exit_code == 0, result.stderr
    names = sorted(path.name.removeprefix("market-cart-range-griddle-layout") for path in out.iterdir())
    assert names == ["-map.png", "-map.svg", "-plan.png", "-plan.svg", ".csv", ".html"]
    page = next(out.glob("*.html")).read_text(encoding="utf-8")
    assert page.count("<svg") == 2
    assert "http" not in page.replace("http-equiv", "").replace("http://www.w3.org", "")
    assert "<script" not in page
    with next(out.glob("*.csv")).open() as stream:
        rows = list(csv.reader(line for line in stream if not line.startswith("#")))
    each = ("flux_kW_per_m2", "flux_ratio", "flux_low_kW_per_m2", "flux_high_kW_per_m2")
    assert rows[0] == ["x_mm", "y_mm", *(f"{name}_{k}" for k in (1, 2) for name in each)]
    for cells in rows[1:]:
        flux, low, high = (float(cells[k]) for k in (2, 4, 5))
        assert low <= flux <= high
    assert len(rows) == 321
    again = run("layout", CART, "--out", str(out))
    assert again.exit_code == 2
    assert "will not overwrite" in again.stderr
    assert run("layout", CART, "--out", str(out), "--overwrite").exit_code == 0


def test_names_are_escaped_in_the_page(tmp_path: Path) -> None:
    file = tmp_path / "bad.toml"
    text = (
        Path(CART)
        .read_text(encoding="utf-8")
        .replace('"market cart range"', '"<img src=x onerror=alert(1)>"')
    )
    file.write_text(text.replace('"griddle"', '"<b>=griddle"'), encoding="utf-8")
    assert run("layout", str(file), "--grid", "12x12", "--out", str(tmp_path / "o")).exit_code == 0
    page = next((tmp_path / "o").glob("*.html")).read_text(encoding="utf-8")
    assert "<img" not in page
    assert "<b>" not in page


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("layout", CART, "--surface", "gridle"), "is not a cooking surface"),
        (("layout", CART, "--off", "nobody"), "is no burner of this layout"),
        (("layout", CART, "--grid", "3x9"), "is not a grid"),
        (("layout", CART, "--grid", "60"), "is not a grid"),
        (("layout", CART, "--overwrite"), "add --out DIR"),
        (("layout", CART, "--measured-as", "temperature_C"), "needs --measured"),
        (("layout", CART, "--measured", "gone.csv"), "there is no such file"),
        (("layout", "gone.toml"), "there is no such file"),
        (("optimise", CART, "--tubes", "three"), "is no list of numbers"),
        (("optimise", CART, "--inputs", "150 %"), "--inputs"),
        (("optimise", CART, "--overwrite"), "add --out DIR"),
        (("optimise", CART, "--pressure", "11 inH2O"), "needs --to or --market too"),
        (("layout", CART, "--pressure", "11 inH2O"), "needs --to or --market too"),
        (("layout", CART, "--market", "A", "--to", "propane"), "--market: stands alone"),
        (("carryover", CART, "--market", "C"), "is no market of the file"),
        (("carryover", CART, "--to", "propane"), "pressure of the second gas is missing"),
        (("skins", CART, "--room", "200 C"), "--room"),
    ],
)
def test_what_cannot_be_used_is_told_without_a_traceback(args: tuple[str, ...], words: str) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.output + result.stderr


def test_a_file_without_geometry_says_what_to_add(tmp_path: Path) -> None:
    file = tmp_path / "plain.toml"
    file.write_text(Path(CART).read_text(encoding="utf-8").partition("# Geometry")[0], encoding="utf-8")
    for command, words in (
        ("layout", "add [grate]"),
        ("skins", "add [[panel]]"),
        ("optimise", "add [grate]"),
    ):
        result = run(command, str(file))
        assert (result.exit_code, words in result.stderr) == (2, True)
    assert run("carryover", str(file)).exit_code == 0  # places are there


def test_carryover_prints_the_graph() -> None:
    found = told("carryover", CART, "--to", "propane", "--pressure", "11 inH2O")
    assert {link["by"] for link in found["links"]} == {"row of ports"}
    assert found["every_burner_reached_when_any_igniter_fails"] is False
    gases = {flame["gas"] for flame in found["flames"]}
    assert gases == {"natural-gas-typical", "propane"}
    assert any("doubtful" in weak for weak in found["weak_links"])
    text = run("carryover", CART).stdout
    assert "Weak links" in text
    assert "Test required" in " ".join(text.split())


def test_skins_prints_band_and_limits() -> None:
    found = told("skins", CART)
    lid = found["panels"][0]
    low, high = lid["outer_temperature_low_C"], lid["outer_temperature_high_C"]
    assert low < lid["outer_temperature_C"] < high
    assert lid["limits"] == sorted(lid["limits"], key=lambda one: (one["temperature_C"], one["name"]))
    assert lid["disagreements"]
    text = run("skins", CART).stdout
    assert "Disagreements between sources" in text
    assert "No clearance" in " ".join(text.split())


def test_optimise_prints_the_trade_off(monkeypatch: pytest.MonkeyPatch) -> None:
    from burnerlab.layout import search

    monkeypatch.setattr(search, "GENERATIONS", 1)
    monkeypatch.setattr(search, "LOCAL_EVALUATIONS", 5)
    asked = ("optimise", CART, "--tubes", "3", "--inputs", "100 %", "--seed", "5")
    found = told(*asked)
    assert found["seed"] == 5
    assert (
        found["designs"][0]["coefficient_of_variation_percent"]
        < found["present"]["coefficient_of_variation_percent"]
    )
    assert {burner["length_mm"] for burner in found["designs"][0]["burners"]} <= {350.0, 400.0, 420.0}
    assert told(*asked) == found
    assert "does not hold" in run(*asked).stdout or "front" in run(*asked).stdout


def test_optimise_looks_at_the_flames_of_a_second_gas(monkeypatch: pytest.MonkeyPatch) -> None:
    """The room over a tube is that of its flame on the gas on which it is taller, each by its air and its rate."""
    from burnerlab.layout import search

    layouts = []
    searched = search.optimise

    def watched(layout: Any, study: Any, held: Any, **how: Any) -> Any:
        layouts.append(layout)
        return searched(layout, study, held, **how)

    monkeypatch.setattr(search, "GENERATIONS", 1)
    monkeypatch.setattr(search, "LOCAL_EVALUATIONS", 5)
    monkeypatch.setattr(search, "optimise", watched)
    asked = ("optimise", CART, "--tubes", "3", "--inputs", "100 %")
    told(*asked)
    told(*asked, "--to", "propane", "--pressure", "11 inH2O")
    alone, both = ([tube.flame_height_m for tube in layout.burners] for layout in layouts)
    assert all(pair >= one for pair, one in zip(both, alone, strict=True))
    assert both != alone
    assert max(both) < 0.03  # a line law without primary air says 69 mm


def test_optimise_starts_from_an_infrared_picture_as_layout_reads_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The grid fitted is that of the picture, and the layout searched is that of the fit."""
    from burnerlab.layout import grid_fit, search
    from burnerlab.layout.layout_prediction import calibrated
    from burnerlab.layout.thermal_picture import read_infrared

    picture, layouts, searched = camera_picture(tmp_path / "camera.csv"), [], search.optimise
    fits, fit_grid = [], grid_fit.fit_grid

    def fitted(layout: Any, grid: Any, case: Any) -> Any:
        fits.append((grid, fit_grid(layout, grid, case)))
        return fits[-1][1]

    def watched(layout: Any, study: Any, held: Any, **how: Any) -> Any:
        layouts.append(layout)
        return searched(layout, study, held, **how)

    monkeypatch.setattr(search, "GENERATIONS", 1)
    monkeypatch.setattr(search, "LOCAL_EVALUATIONS", 5)
    monkeypatch.setattr(search, "optimise", watched)
    monkeypatch.setattr(grid_fit, "fit_grid", fitted)
    found = told("optimise", CART, "--tubes", "3", "--inputs", "100 %", *picture)
    assert found["infrared_picture"]["emissivity"] == 0.95
    plain = layout_of(demonstration())
    corners = ((0.0, 21.0), (23.0, 21.0), (23.0, 0.0), (0.0, 0.0))
    grid = read_infrared(picture[1], plain.surface, corners, emissivity=0.95).grid
    ((taken, fit),) = fits
    np.testing.assert_array_equal(taken.values, grid.values)
    assert layouts[0].shape == calibrated(fit, plain).shape != plain.shape
    missing = run("optimise", CART, *picture[:4])
    assert (missing.exit_code, "emissivity set at the camera" in missing.stderr) == (2, True)


def test_optimise_writes_its_picture_and_never_over_another(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from burnerlab.layout import search

    monkeypatch.setattr(search, "GENERATIONS", 1)
    monkeypatch.setattr(search, "LOCAL_EVALUATIONS", 5)
    out = tmp_path / "study"
    asked = ("optimise", CART, "--tubes", "3,4", "--inputs", "100 %", "--out", str(out))
    found = told(*asked)
    names = [f"market-cart-range-griddle-trade-off{ending}" for ending in (".html", ".csv", ".svg", ".png")]
    assert [Path(file).name for file in found["files"]] == names
    assert sorted(path.name for path in out.iterdir()) == sorted(names)
    page = (out / names[0]).read_text(encoding="utf-8")
    assert page.count("<svg") == 1
    assert "<script" not in page
    with (out / names[1]).open() as stream:
        rows = list(csv.DictReader(stream))
    tubes = [(one["design"], tube) for one in found["designs"] for tube in one["burners"]]
    mine = [row for row in rows if row["design"] != "present"]
    assert [row["design"] for row in mine] == [name for name, _ in tubes]
    for key in ("x_mm", "z_mm", "heat_input_net_kW"):
        assert [float(row[f"tube_{key}"]) for row in mine] == pytest.approx(
            [tube[key] for _, tube in tubes], rel=1e-5
        )

    def searched(*_: object, **__: object) -> None:
        pytest.fail("searched before looking at the files")

    monkeypatch.setattr(search, "optimise", searched)
    again = run(*asked)
    assert again.exit_code == 2
    assert "will not overwrite" in again.stderr
    assert "add --overwrite" in again.stderr
