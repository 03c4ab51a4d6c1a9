"""``convert`` of several files or a folder: each by itself, a refused one named, no other stopped by it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from command_runs import answer, complaint, run

from burnerlab.appliance import demonstration_path

PROPANE = ("--market", "bottled propane")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A model, one of another rating, one that does not read, one without the market, and no appliance."""
    made = tmp_path_factory.mktemp("models")
    text = demonstration_path().read_text(encoding="utf-8")
    for name, is_like in (
        ("a", text),
        ("b", text.replace('rate       = "12.5 kBtu/h"', 'rate       = "11 kBtu/h"')),
        ("c", text.replace('"12.5 kBtu/h"', '"12,5 kBtu/h"')),
        ("d", text.replace('"bottled propane"', '"other"')),
    ):
        (made / f"{name}.toml").write_text(is_like, encoding="utf-8")
    (made / "kit.toml").write_text('name = "kit"\n', encoding="utf-8")
    return made


def test_each_file_has_its_answer_and_its_papers_and_a_refused_one_is_named(
    folder: Path, tmp_path: Path
) -> None:
    result = run("convert", str(folder), *PROPANE, "--formats", "json", "--out", str(tmp_path), "--json")
    assert result.exit_code == 2
    found = {Path(one["file"]).stem: one for one in json.loads(result.stdout)["files"]}
    assert found.keys() == {"a", "b", "c", "d"}
    assert all("12,5 kBtu/h" in one["text"] for one in found["c"]["error"]["problems"])
    assert "is no market of the file" in found["d"]["error"]["message"]
    for name in ("a", "b"):
        (market,) = found[name]["markets"]
        (conversion,) = market["conversions"]
        alone = answer("convert", str(folder / f"{name}.toml"), "--market", "A")["markets"][0]
        assert conversion | {"files": []} == alone["conversions"][0]
        assert conversion["files"] == [str(one) for one in tmp_path.glob(f"{name}/A-*/*.json")]
    assert {one.name for one in tmp_path.iterdir()} == {"a", "b"}


def test_the_text_names_each_file_and_ends_with_the_cautions_once(folder: Path) -> None:
    done = run("convert", str(folder / "c.toml"), str(folder / "a.toml"), "--market", "A")
    assert done.exit_code == 2
    assert "12,5 kBtu/h" in done.stderr
    words = " ".join(done.stdout.split())
    assert words.startswith("REFUSED, not converted: ")
    assert words.index("c.toml") < words.index("a.toml: market cart range")
    assert "REFUSED: 1 of 2 files" in words
    assert words.count("Plate and certificate") == 1


def test_a_line_whose_files_are_all_refused_or_not_there_prints_no_answer(folder: Path) -> None:
    assert (
        complaint("convert", str(folder / "c.toml"), str(folder / "d.toml"), *PROPANE).count("error: ") >= 2
    )
    said = complaint("convert", str(folder / "a.toml"), "gone.toml", "--market", "A")
    assert "there is no such file" in said
    assert "a.toml" not in said


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("--date", "tomorrow"), "--date: has"),
        (("--paper", "a4", "--co-limit", "400 ppm"), "--paper and --co-limit: have"),
    ],
)
def test_an_option_of_the_papers_is_refused_by_its_own_name(
    folder: Path, words: tuple[str, ...], named: str
) -> None:
    assert named in complaint("convert", str(folder / "a.toml"), "--market", "A", *words)
