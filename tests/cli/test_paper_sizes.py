"""Every paper in the size of its reader: A4, of US units Letter, unless the settings name another."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from command_runs import run

from burnerlab.appliance import demonstration_path
from burnerlab.bench.record import open_record
from burnerlab.cli.user_settings import remember, settings_path

POINTS = {
    "A4": (595.3, 841.9),
    "letter": (612.0, 792.0),
}  # ISO 216, 210 x 297 mm; ANSI/ASME Y14.1, 8.5 x 11 in
SMALL = """\
[appliance]
name   = "camp stove"
rating = "gross"
[supply]
gas      = "natural-gas-typical"
pressure = "7 in w.c."
[[market]]
name   = "propane"
supply = [{ gas = "propane", pressure = "11 in w.c." }]
[[burner]]
name     = "left tube"
rate     = "12.5 kBtu/h"
orifice  = { drill = "#54" }
"""
PAPERS = {
    "convert": ("convert", "FILE", "--market", "A", "--formats", "html,pdf,card,plan"),
    "plate": ("plate", "FILE"),
    "kit": ("kit", "list", "FILE"),
    "injectors": ("injectors", "FILE"),
    "line": ("line", "FILE"),
    "layout": ("layout", str(demonstration_path()), "--grid", "8x6"),
    "verify": ("verify", "--topic", "orifice_tables"),
}


def sizes(folder: Path) -> set[str]:
    """Of every page and PDF below a folder."""
    found = set()
    for path in folder.rglob("*.html"):
        (size,) = set(re.findall(r"@page \{ size: (\w+)", path.read_text(encoding="utf-8")))
        found.add(size)
    for path in folder.rglob("*.pdf"):
        boxes = re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", path.read_bytes())
        assert boxes
        for width, height in boxes:
            place = (float(width), float(height))
            found |= {name for name, size in POINTS.items() if place == pytest.approx(size, abs=0.1)} or {
                str(place)
            }
    return found


@pytest.fixture
def _forget() -> Iterator[None]:
    yield
    settings_path().unlink(missing_ok=True)


@pytest.mark.usefixtures("_forget")
@pytest.mark.parametrize(
    ("paper", "units", "held", "size"),
    [
        *((paper, "us", "", "letter") for paper in PAPERS),
        ("plate", "us", "a4", "A4"),
        ("verify", "metric", "", "A4"),
    ],
)
def test_every_paper_has_the_size_of_its_reader(
    paper: str, units: str, held: str, size: str, tmp_path: Path
) -> None:
    if held:
        remember(settings_path(), {"paper": held})
    (file := tmp_path / "stove.toml").write_text(SMALL)
    to = ("--html", str(tmp_path / "checks.html")) if paper == "verify" else ("--out", str(tmp_path / "out"))
    done = run(*(str(file) if one == "FILE" else one for one in PAPERS[paper]), *to, "--units", units)
    assert done.exit_code == 0, done.output
    assert sizes(tmp_path) == {size}


def of_regions(own: str, other: str) -> str:
    """The file of a region with a second market, of another region."""
    more = f'name = "abroad"\nregion = "{other}"\nsupply = [{{ gas = "propane", pressure = "11 in w.c." }}]\n'
    return (
        SMALL.replace('rating = "gross"\n', f'rating = "gross"\nregion = "{own}"\n') + f"[[market]]\n{more}"
    )


OF_SYSTEM = {"US": re.compile(r"Btu|in w\.c\."), "metric": re.compile(r"kW|mbar")}


def systems(text: str) -> set[str]:
    """Whose units of pressure and power a page has."""
    shown = re.sub(r"<[^>]+>", " ", re.sub(r"(?s)<(style|script).*?</\1>|<svg.*?</svg>", "", text))
    return {system for system, units in OF_SYSTEM.items() if units.search(shown)}


@pytest.mark.usefixtures("_forget")
@pytest.mark.parametrize(
    ("own", "other", "units"), [("eu", "us", ""), ("us", "eu", ""), ("eu", "us", "metric")]
)
def test_a_paper_has_units_and_size_of_the_region_of_its_market(
    own: str, other: str, units: str, tmp_path: Path
) -> None:
    remember(settings_path(), {"units": "us"})  # of the screen: no paper of a region follows it
    (file := tmp_path / "stove.toml").write_text(of_regions(own, other))
    written = ("--units", units) if units else ()
    system, size = {"us": ("US", "letter"), "eu": ("metric", "A4")}, {"us": "letter", "eu": "A4"}
    for command in (
        ("convert", str(file), "--formats", "html,card,plan"),
        *((paper, str(file), "--market", "B") for paper in ("injectors", "plate")),
        ("kit", "list", str(file), "--market", "B"),
    ):
        done = run(*command, "--out", str(tmp_path / command[0]), *written)
        assert done.exit_code == 0, done.output
    for letter, region in (("A", own), ("B", other)):
        (folder,) = (tmp_path / "convert").glob(f"{letter}-*")
        folders = [folder, *(tmp_path / one for one in ("injectors", "kit", "plate") if letter == "B")]
        for one in folders:
            expected = "metric" if units and one.name != "plate" else system[region][0]
            pages = [page.read_text(encoding="utf-8") for page in one.rglob("*.html")]
            assert {each for page in pages for each in systems(page)} == {expected}, one.name
            assert sizes(one) == {"A4" if units else size[region]}, one.name


@pytest.mark.usefixtures("_forget")
def test_the_report_of_a_plan_has_units_and_size_of_the_region_of_its_market(tmp_path: Path) -> None:
    remember(settings_path(), {"units": "metric"})
    (file := tmp_path / "stove.toml").write_text(of_regions("eu", "us"))
    run("convert", str(file), "--market", "B", "--formats", "plan", "--out", str(tmp_path / "plan"))
    (plan,) = (tmp_path / "plan").rglob("*-plan.json")
    open_record(record := tmp_path / "units.sqlite", create=True).close()
    for units, system, size in (("", "US", "letter"), ("metric", "metric", "A4")):
        folder = tmp_path / (units or "region")
        folder.mkdir()
        line = (
            "record",
            "report",
            "--plan",
            str(plan),
            "--file",
            str(record),
            "--out",
            str(folder / "r.html"),
        )
        done = run(*line, *(("--units", units) if units else ()))
        assert done.exit_code == 0, done.output
        assert systems((folder / "r.html").read_text(encoding="utf-8")) == {system}
        assert sizes(folder) == {size}


def test_a_paper_of_two_regions_has_the_tables_of_each_market_in_its_units(tmp_path: Path) -> None:
    (file := tmp_path / "stove.toml").write_text(of_regions("eu", "us"))
    for paper in (("kit", "list"), ("injectors",), ("line",)):
        both = ("--market", "A", "--market", "B") if paper != ("line",) else ()
        done = run(*paper, str(file), *both, "--out", str(tmp_path / "out"))
        assert done.exit_code == 0, done.output
    pages = list((tmp_path / "out").glob("*.html"))
    assert len(pages) == 3
    for page in pages:
        tables = re.findall(r"(?s)<table.*?</table>", page.read_text(encoding="utf-8"))
        found = {frozenset(systems(table)) for table in tables} - {frozenset()}
        assert found == {frozenset({"US"}), frozenset({"metric"})}, page.name
