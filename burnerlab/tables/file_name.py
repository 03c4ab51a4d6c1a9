"""Names of files on every system: what Windows does not open, and names that differ in how accents are spelled."""

from __future__ import annotations

import os
import re
import unicodedata
from pathlib import Path

RESERVED = re.compile(
    r"(?:CON|PRN|AUX|NUL|CONIN\$|CONOUT\$|(?:COM|LPT)[1-9¹²³])[ .]*(?:\..*)?", re.IGNORECASE
)
"""Devices of Windows, with any ending (Microsoft, "Naming Files, Paths, and Namespaces", memory)."""
FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f]')
LONGEST_PATH = 259  # characters that Windows opens without its setting for long paths (MAX_PATH less its end)


def name_trouble(name: str) -> str:
    """Why a file of this name cannot be had on Windows; "" where it can. Asked on every system, for files travel.

    >>> name_trouble("con.html"), name_trouble("range: propane")
    ('is the name of a device on Windows', 'has a sign that Windows allows in no file name: ":"')
    >>> name_trouble("console.html"), name_trouble("range ")
    ('', 'ends in a blank or a point, which Windows drops')
    """
    if RESERVED.fullmatch(name):
        return "is the name of a device on Windows"
    sign = FORBIDDEN.search(name)
    if sign:
        return f'has a sign that Windows allows in no file name: "{sign[0]}"'
    return "ends in a blank or a point, which Windows drops" if name[-1:] in (" ", ".") else ""


def path_trouble(path: Path, system: str = os.name) -> str:
    """Why a path cannot be opened on a system; "" where nothing is known against it.

    >>> path_trouble(Path("x" * 300), "nt")
    'the path has 300 characters, Windows opens 259'
    >>> path_trouble(Path("x" * 300), "posix")
    ''
    """
    long = system == "nt" and len(str(path)) > LONGEST_PATH
    return f"the path has {len(str(path))} characters, Windows opens {LONGEST_PATH}" if long else ""


def same_file(path: Path) -> Path:
    """The path, or the file beside it whose name differs in the spelling of accents alone; the path where none does.

    macOS takes é and e with its accent for one name; a file that came from there may have the other spelling.

    >>> same_file(Path("gone.csv")).name
    'gone.csv'
    """
    try:
        if path.name.isascii() or path.exists() or not path.parent.is_dir():
            return path
        wanted = unicodedata.normalize("NFC", path.name)
        beside = (one for one in path.parent.iterdir() if unicodedata.normalize("NFC", one.name) == wanted)
        return next(beside, path)
    except (OSError, ValueError):
        return path
