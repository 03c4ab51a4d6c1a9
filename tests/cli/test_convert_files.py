"""``convert`` of several files or a folder: each by itself, a refused one named, no other stopped by it."""

from __future__ import annotations

import json
import re
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
        ("b", text.replace('"12.5 kBtu/h"', '"11 kBtu/h"')),
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


def test_a_comparison_is_written_in_the_words_of_the_region(folder: Path, tmp_path: Path) -> None:
    texts = [
        (folder / f"{name}.toml")
        .read_text(encoding="utf-8")
        .replace("[appliance]", '[appliance]\nregion = "eu"')
        for name in ("a", "b")
    ]
    files = [tmp_path / f"{name}.toml" for name in ("one", "two")]
    for file, text in zip(files, texts, strict=True):
        file.write_text(text, encoding="utf-8")
    done = run("compare", *map(str, files), "--out", str(tmp_path / "papers"))
    assert done.exit_code == 0, done.output
    printed = done.stdout[: done.stdout.index("Written")]
    (page,) = (tmp_path / "papers").glob("*.html")
    shown = page.read_text(encoding="utf-8")
    for text in (printed, shown):
        assert "gross" in text
        assert "all burners on" in " ".join(text.split())
        assert "injector" in text
    assert re.search(r"[-\N{MINUS SIGN}]12\.0\s%", shown)  # 12.5 to 11 kBtu/h
    assert {one.suffix for one in page.parent.iterdir()} >= {".html", ".csv", ".xlsx", ".pdf"}
    assert "griddle tube left" in shown
