"""Settings: units and paper size alone; an option goes first; a file that cannot be used is named."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from command_runs import answer, complaint, run

from burnerlab.appliance import demonstration_path
from burnerlab.cli.conversion import sheet
from burnerlab.cli.user_settings import WORDS, paper_for_units, remember, settings_path, user_settings
from burnerlab.tables.problem import UserError

FLOW = ("flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill", "#54")


@pytest.mark.parametrize(
    ("environment", "platform", "path"),
    [  # XDG Base Directory Specification 0.8: the variable where it is absolute, else ~/.config
        ({"XDG_CONFIG_HOME": "/x", "HOME": "/h"}, "linux", "/x/burnerlab/settings.toml"),
        ({"XDG_CONFIG_HOME": "x", "HOME": "/h"}, "linux", "/h/.config/burnerlab/settings.toml"),
        ({"HOME": "/h"}, "freebsd13", "/h/.config/burnerlab/settings.toml"),
        ({"HOME": "/h"}, "darwin", "/h/Library/Application Support/burnerlab/settings.toml"),
        ({"HOME": "/h", "APPDATA": "/h/AppData/Roaming"}, "win32", "/h/AppData/Roaming/burnerlab/settings.toml"),
        ({"HOME": "/h", "BURNERLAB_SETTINGS": "/mine.toml"}, "win32", "/mine.toml"),
    ],
)  # fmt: skip
def test_the_place_of_the_file(environment: dict[str, str], platform: str, path: str) -> None:
    assert settings_path(environment, platform).as_posix() == path


def test_only_units_and_paper_are_remembered() -> None:
    assert set(WORDS) == {"units", "paper"}
    assert "no such setting" in complaint("settings", "coefficient", "0.9")
    for word in ("troy", "imperial"):
        assert "accepted: metric, us" in complaint("settings", "units", word)
    assert "word is missing" in complaint("settings", "paper")


def test_a_word_is_remembered_shown_and_forgotten() -> None:
    assert "metric (default)" in run("settings").stdout
    path = settings_path()
    assert not path.exists()
    assert f"us ({path})" in run("settings", "units", "us").stdout.replace("\n", " ").replace("  ", "")
    assert [answer("settings", "units", word)["units"] for word in ("Metric", "US")] == ["metric", "us"]
    path.write_text('units = "imperial"\n', encoding="utf-8")  # of an older version
    assert f"us ({path})" in run("settings").stdout.replace("\n", " ").replace("  ", "")
    both = answer("settings", "paper", "Letter")
    assert (both["units"], both["paper"]) == ("us", "letter")
    assert path.read_text(encoding="utf-8").count("=") == 2
    assert answer("settings", "forget", "units")["units"] == "metric"
    assert answer("settings")["paper"] == "letter"
    assert answer("settings", "forget")["paper_source"] == "default"
    assert not path.exists()


def test_an_option_goes_before_a_setting() -> None:
    metric = run(*FLOW).stdout
    remember(settings_path(), {"units": "us", "paper": "letter"})
    assert "Btu/h" in run(*FLOW).stdout
    assert run(*FLOW, "--units", "metric").stdout == metric
    assert user_settings().paper.value == "Letter"


def test_no_setting_changes_a_figure_or_a_verdict() -> None:
    line = ("convert", str(demonstration_path()), "--to", "propane", "--pressure", "11 inH2O")
    before = answer(*line)
    remember(settings_path(), {"units": "us", "paper": "letter"})
    assert answer(*line) == before


def test_paper_and_units_of_a_sheet_without_options() -> None:
    assert sheet(out=None).paper == ""  # that of the units of each paper
    remember(settings_path(), {"paper": "letter"})
    assert sheet(out=None).paper == "Letter"
    assert sheet(out=None, paper="A4").paper == "A4"
    remember(settings_path(), {"paper": "a4"})
    assert paper_for_units("US") == "A4"
    remember(settings_path(), {"units": "us"})
    assert [paper_for_units(one) for one in ("US", "metric")] == ["Letter", "A4"]  # of what --units says
    assert answer("settings")["paper"] == "letter"


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ('units = "us"\ncoefficient = 0.8\n', "coefficient: no such setting"),
        ('units = "troy"\n', "accepted: metric, us"),
        ("paper = 4\n", "accepted: a4, letter"),
        ("units = us\n", "no TOML"),
        ("\x00", "no TOML"),
        ("# " + 10_000 * "x", "no TOML"),
    ],
)
def test_a_file_that_cannot_be_used(text: str, named: str) -> None:
    path = settings_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    said = complaint("settings")
    assert named in said
    assert str(path) in said
    assert "burnerlab settings forget" in said
    assert run(*FLOW, "--units", "us").exit_code == 0  # what is said on the line needs no file
    assert run("settings", "forget").exit_code == 0
    assert run(*FLOW).exit_code == 0


@pytest.mark.parametrize("refused", [errno.EACCES, errno.EROFS, errno.ENOSPC])
def test_a_folder_that_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refused: int
) -> None:
    """What the system says of a folder without rights, a read-only disk and a full one, to whoever may write all."""

    def refuse(path: Path, *_: object, **__: object) -> None:
        raise OSError(refused, os.strerror(refused), str(path))

    file = tmp_path / "settings.toml"
    remember(file, {"units": "metric"})
    before = file.read_bytes()
    monkeypatch.setattr(Path, "write_text", refuse)
    with pytest.raises(UserError, match=f"cannot be written.*{os.strerror(refused)}"):
        remember(file, {"units": "us"})
    assert file.read_bytes() == before


def test_a_folder_in_the_place_of_the_file(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be written"):
        remember(tmp_path, {"units": "us"})
