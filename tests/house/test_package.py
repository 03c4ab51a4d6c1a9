"""What leaves the house: the wheel and the source archive hold licence, notices and data."""

from __future__ import annotations

import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "hatchling", "build", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return folder


def test_the_wheel_holds_licence_notices_and_data(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        text = archive.read(next(n for n in names if n.endswith("licenses/LICENSE"))).decode("utf-8")
        metadata = archive.read(next(n for n in names if n.endswith("dist-info/METADATA"))).decode("utf-8")
    assert text == (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert "the burnerlab developers" in text
    assert "License-Expression: MIT" in metadata
    assert {
        "burnerlab/handbook/changes.md",
        "burnerlab/tables/NOTICE.md",
        "burnerlab/tables/data/units.csv",
        "burnerlab/__init__.pyi",
        "burnerlab/py.typed",
        "burnerlab/_data/fuels/lpg.toml",
    } <= set(names)
    assert not [name for name in names if name.startswith(("tests/", "notebooks/"))]


def test_the_source_archive_holds_licence_notices_and_tests(built: Path) -> None:
    (source,) = built.glob("*.tar.gz")
    with tarfile.open(source) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    assert {
        "LICENSE",
        "burnerlab/tables/NOTICE.md",
        "README.md",
        "DEVELOPERS.md",
        "tests/house/test_house.py",
    } <= names
    assert {"burnerlab/__init__.pyi", "burnerlab/py.typed"} <= names
    assert {".ci/hatch_build.py", "pyproject.toml", "shared/flame_speeds.csv", "fuels/lpg.toml"} <= names


def test_notices_name_the_tables_that_hold_data_of_others() -> None:
    notice = (ROOT / "burnerlab" / "tables" / "NOTICE.md").read_text(encoding="utf-8")
    for name in ("nasa_polynomials.csv", "flame_transport.csv", "flame_speed.csv", "tile_flame.csv"):
        assert name in notice
        assert (ROOT / "burnerlab" / "tables" / "data" / name).is_file()
    assert "Cantera Developers" in notice
