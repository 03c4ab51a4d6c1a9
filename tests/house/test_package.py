"""What leaves the house: the wheel and the source archive hold licence, notices and data."""

from __future__ import annotations

import importlib.util
import json
import re
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path
from types import SimpleNamespace

import pytest

ROOT = Path(__file__).parents[2]


SHIPPED = ("fuels", "shared")
LICENCES = ("LICENSE", "burnerlab/tables/NOTICE.md")


def files_of(folder: str) -> set[str]:
    """Files of a folder of the checkout, as the README's reader has them after a clone."""
    found = (path for path in (ROOT / folder).rglob("*") if path.is_file())
    return {str(path.relative_to(ROOT).as_posix()) for path in found if "__pycache__" not in path.parts}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Wheel, source archive, and in a folder of its own what an editable install puts beside the interpreter."""
    folder = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "hatchling", "build", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    editable = folder / "editable"
    editable.mkdir()
    hook = f"from hatchling.build import build_editable as build; build({str(editable)!r})"  # of PEP 660
    subprocess.run([sys.executable, "-c", hook], cwd=ROOT, check=True, capture_output=True)
    return folder


def contents_of(wheel: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(wheel) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_the_wheel_holds_the_package_its_data_and_nothing_else(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    contents = contents_of(wheel)
    package = {name for name in contents if ".dist-info/" not in name}
    shipped = {name for folder in SHIPPED for name in files_of(folder)}
    shipped |= {name for name in files_of("notebooks") if name.endswith(".ipynb")}
    data = {f"burnerlab/_data/{name}" for name in shipped}
    assert package == files_of("burnerlab") | data
    assert {
        "burnerlab/__init__.pyi",
        "burnerlab/py.typed",
        "burnerlab/handbook/changes.md",
        "burnerlab/tables/data/units.csv",
        "burnerlab/_data/fuels/lpg.toml",
        "burnerlab/_data/shared/flame_speeds.csv",
        "burnerlab/_data/notebooks/1-converting-the-cart.ipynb",
    } <= package
    for name in data:
        assert contents[name] == (ROOT / name.removeprefix("burnerlab/_data/")).read_bytes()


def test_a_build_names_the_notebooks_whose_results_it_has_not(tmp_path: Path) -> None:
    """Without ``notebook_results`` the handbook of a wheel has no figures of the notebooks, and nothing said so."""
    spec = importlib.util.spec_from_file_location("hatch_build", ROOT / ".ci" / "hatch_build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    results = tmp_path / "notebooks" / "results"
    results.mkdir(parents=True)
    for name, run_by in {"1-run": "0.2.0", "2-old": "0.1.0", "3-none": None}.items():
        (tmp_path / "notebooks" / f"{name}.ipynb").write_text("{}", encoding="utf-8")
        if run_by:
            kept = json.dumps({"metadata": {"burnerlab": run_by}})
            (results / f"{name}.ipynb").write_text(kept, encoding="utf-8")
    said: list[str] = []
    app, metadata = SimpleNamespace(display_warning=said.append), SimpleNamespace(version="0.2.0")
    hook = module.ShippedData(str(tmp_path), {}, None, metadata, str(tmp_path), "wheel", app)
    data: dict[str, dict[str, str]] = {"force_include": {}}
    hook.initialize("standard", data)
    assert len(said) == 1
    assert re.findall(r"[\w-]+(?=\.ipynb)", said[0]) == ["2-old", "3-none"]
    assert "burnerlab/_data/notebooks/results/1-run.ipynb" in data["force_include"].values()


def test_wheels_hold_licence_and_notices_with_their_words(built: Path) -> None:
    for wheel in (*built.glob("*.whl"), *built.glob("editable/*.whl")):
        contents = contents_of(wheel)
        info = next(name for name in contents if name.endswith(".dist-info/METADATA")).rpartition("/")[0]
        for name in LICENCES:
            assert contents[f"{info}/licenses/{name}"] == (ROOT / name).read_bytes()
        metadata = contents[f"{info}/METADATA"].decode("utf-8")
        assert "License-Expression: MIT" in metadata
        assert metadata.count("License-File: ") == len(LICENCES)
        assert b"burnerlab = burnerlab.cli:main" in contents[f"{info}/entry_points.txt"]


def test_an_editable_install_copies_nothing_that_could_grow_stale(built: Path) -> None:
    (wheel,) = built.glob("editable/*.whl")
    contents = contents_of(wheel)
    path = next(name for name in contents if ".dist-info/" not in name)
    assert len([name for name in contents if ".dist-info/" not in name]) == 1
    assert path.endswith(".pth")
    assert contents[path].decode("utf-8").strip() == str(ROOT)


def test_the_source_archive_holds_all_that_the_wheel_and_the_tests_are_made_from(built: Path) -> None:
    (source,) = built.glob("*.tar.gz")
    with tarfile.open(source) as archive:
        names = {one.name.partition("/")[2] for one in archive.getmembers() if one.isfile()}
    folders = ("burnerlab", *SHIPPED, "tests", "notebooks")
    alone = {"LICENSE", "README.md", "DEVELOPERS.md", "pyproject.toml", ".ci/hatch_build.py"}
    assert names == alone | {name for folder in folders for name in files_of(folder)} | {
        "PKG-INFO",
        ".gitignore",
    }


def test_notices_name_the_tables_that_hold_data_of_others() -> None:
    notice = (ROOT / "burnerlab" / "tables" / "NOTICE.md").read_text(encoding="utf-8")
    for name in ("nasa_polynomials.csv", "flame_transport.csv", "flame_speed.csv", "tile_flame.csv"):
        assert name in notice
        assert (ROOT / "burnerlab" / "tables" / "data" / name).is_file()
    assert "Cantera Developers" in notice
