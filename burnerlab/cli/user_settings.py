"""What a user has this program remember: units of texts and paper size, nothing that changes a result or a verdict.

One small TOML file in the folder that the system keeps for settings; ``BURNERLAB_SETTINGS`` names another.
"""

from __future__ import annotations

import os
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Generic, TypeVar

from burnerlab.quantity import System
from burnerlab.tables.file_replacement import replace_file
from burnerlab.tables.problem import Problem, UserError

PLACE = "BURNERLAB_SETTINGS"
FILE = "settings.toml"
HEAD = "# burnerlab: units of texts and paper size; neither changes a result\n"
UNITS: dict[str, System] = {"metric": "metric", "us": "US"}
OF_OLDER_FILES: dict[str, System] = {"si": "metric", "imperial": "US"}
"""Words of units that 0.1.0 remembered; a command takes them no more, for imperial units are not those of the US."""
PAPERS = {"a4": "A4", "letter": "Letter"}
WORDS: Mapping[str, Mapping[str, str]] = {"units": UNITS | OF_OLDER_FILES, "paper": PAPERS}
"""Each setting and its words in a file."""
PROPOSED: Mapping[str, tuple[str, ...]] = {"units": ("metric", "us"), "paper": ("a4", "letter")}
"""The words that help and shells name, one for each value."""
FORGET = "forget"  # in place of a setting
DEFAULTS = {"units": "metric"}
OF_UNITS = {"metric": "a4", "US": "letter"}
"""The paper where none is remembered."""
DEFAULT = "default"  # where a word is from that nobody has chosen
LARGEST_FILE = 10_000  # bytes
Word = TypeVar("Word")


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting(Generic[Word]):
    """One remembered word, as the program calls it and as it is written, and where it is from."""

    value: Word
    word: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What is remembered, or else holds."""

    units: Setting[System]
    paper: Setting[str]

    @property
    def preferred_units(self) -> System | None:
        """The units that the user has had remembered; None where nothing is."""
        return None if self.units.source == DEFAULT else self.units.value


def settings_path(environment: Mapping[str, str] = os.environ, platform: str = sys.platform) -> Path:
    """The file of the settings.

    >>> settings_path({"XDG_CONFIG_HOME": "/home/ann/.config"}, "linux").as_posix()
    '/home/ann/.config/burnerlab/settings.toml'
    """
    if environment.get(PLACE):
        return Path(environment[PLACE])
    home = Path(environment.get("HOME") or Path.home())
    if platform == "win32":
        folder = Path(environment.get("APPDATA") or home / "AppData" / "Roaming")
    elif platform == "darwin":
        folder = home / "Library" / "Application Support"
    else:
        named = environment.get("XDG_CONFIG_HOME", "")
        folder = Path(named) if Path(named).is_absolute() else home / ".config"  # as its standard asks
    return folder / "burnerlab" / FILE


def read_units(text: str, key: str) -> System:
    """A system of units by its word, in any case."""
    if text.strip().lower() not in UNITS:
        raise UserError(Problem("not a system of units", text, key, accepted="metric, us"))
    return UNITS[text.strip().lower()]


def read_paper(text: str, key: str) -> str:
    """A paper size by its word, in any case."""
    if text.strip().lower() not in PAPERS:
        raise UserError(Problem("not a paper size", text, key, accepted="a4, letter"))
    return PAPERS[text.strip().lower()]


def remembered(path: Path) -> dict[str, str]:
    """The words of the file, none where there is no file. Raises UserError for a file that cannot be used."""
    fix = "correct it, or: burnerlab settings forget"
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise UserError(Problem("cannot be read", file=str(path), fix=error.strerror or fix)) from None
    try:
        if len(content) > LARGEST_FILE:
            raise ValueError("too long")
        made: dict[str, Any] = tomllib.loads(content.decode())
    except (ValueError, RecursionError):
        raise UserError(Problem("is no TOML of settings", file=str(path), fix=fix)) from None
    problems = []
    for key, word in made.items():
        if key not in WORDS:
            problems.append(
                Problem("no such setting", key=key, file=str(path), accepted=", ".join(WORDS), fix=fix)
            )
        elif not isinstance(word, str) or word.lower() not in WORDS[key]:
            accepted = ", ".join(PROPOSED[key])
            problems.append(
                Problem("not a word of it", str(word), key, file=str(path), accepted=accepted, fix=fix)
            )
    if problems:
        raise UserError(problems)
    names = {key: str(word).lower() for key, word in made.items()}
    if "units" in names:  # by the name of the system, whatever word an older file has
        names["units"] = WORDS["units"][names["units"]].lower()
    return names


def user_settings() -> Settings:
    """The settings of this user. Raises UserError for a file that cannot be used."""
    path = settings_path()
    try:
        state = path.stat()
    except OSError:
        return _settings(str(path), 0)
    return _settings(str(path), state.st_mtime_ns)


@cache
def _settings(path: str, changed_ns: int) -> Settings:
    words = remembered(Path(path))
    source = {key: path if key in words else DEFAULT for key in WORDS}
    words = DEFAULTS | words
    words = {"paper": OF_UNITS[UNITS[words["units"]]]} | words
    return Settings(
        units=Setting(value=UNITS[words["units"]], word=words["units"], source=source["units"]),
        paper=Setting(value=PAPERS[words["paper"]], word=words["paper"], source=source["paper"]),
    )


def paper_for_units(system: System) -> str:
    """The paper that is remembered, else that of readers in a system of units."""
    return remembered_paper() or PAPERS[OF_UNITS[system]]


def remembered_paper() -> str:
    """The paper that the user has chosen for every system of units; "" for none."""
    held = user_settings().paper
    return "" if held.source == DEFAULT else held.value


def remember(path: Path, words: Mapping[str, str]) -> None:
    """Write the words; without any the file is removed. Raises UserError where that cannot be done."""
    try:
        if not words:
            path.unlink(missing_ok=True)
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        new = path.with_name(f"{path.name}.new")
        new.write_text(HEAD + "".join(f'{key} = "{word}"\n' for key, word in words.items()), encoding="utf-8")
        replace_file(new, path)
    except OSError as error:
        raise UserError(Problem("cannot be written", file=str(path), fix=error.strerror or "")) from None
