"""Read a small text file that a user named, and complain clearly about everything that is not one."""

from __future__ import annotations

import hashlib
import os
import stat
from dataclasses import dataclass
from pathlib import Path

from burnerlab.tables.problem import Problem, UserError

LARGEST_BYTES = 1024 * 1024  # 1 MiB: a project file is a few KiB, and parsing time grows with the size


@dataclass(frozen=True, slots=True)
class TextFile:
    """The text of a file and the SHA-256 of its bytes."""

    text: str
    sha256: str


def _refuse(what: str, name: str, fix: str = "") -> UserError:
    return UserError(Problem(what, value=name, key="file", fix=fix))


def _read_bytes(name: str) -> bytes:
    if "\0" in name:
        raise _refuse("a file name cannot hold a NUL character", name, "write the name without it")
    try:
        # without O_NONBLOCK opening a fifo would wait for a writer for ever
        handle = os.open(name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        raise _refuse("there is no such file", name, "check the name") from None
    except PermissionError:
        what = "is a folder, not a regular file" if Path(name).is_dir() else "may not be read by this user"
        raise _refuse(what, name, "name a project file that you may read") from None
    except OSError as error:
        raise _refuse(f"cannot be opened: {error.strerror or error}", name, "check the name") from None
    with os.fdopen(handle, "rb") as stream:
        status = os.fstat(stream.fileno())
        if not stat.S_ISREG(status.st_mode):
            kind = "a folder" if stat.S_ISDIR(status.st_mode) else "a device or a pipe"
            raise _refuse(f"is {kind}, not a regular file", name, "name a project file (TOML)")
        data = stream.read(LARGEST_BYTES + 1)
    if len(data) > LARGEST_BYTES:
        raise _refuse(
            "file is larger than 1 MiB", name, "a project file holds text only; move data elsewhere"
        )
    return data


def read_text(path: str | os.PathLike[str]) -> TextFile:
    """The text of a regular UTF-8 file of at most 1 MiB; a UTF-8 byte order mark is accepted.

    path : file name
    Returns the text with its hash.
    Raises UserError for a folder, a device, a missing or unreadable file, a file too large or not UTF-8.

    >>> read_text("gone.toml")
    Traceback (most recent call last):
    burnerlab.tables.problem.UserError: file = "gone.toml": there is no such file; check the name
    """
    name = os.fspath(path)
    try:
        data = _read_bytes(name)
    except (ValueError, IsADirectoryError) as error:
        if isinstance(error, UserError):
            raise
        raise _refuse("is not a regular file", name, "name a project file (TOML)") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = "is not plain UTF-8 text"
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            what += " (it starts with a UTF-16 byte order mark)"
        raise UserError(Problem(what, file=name, line=line, fix="save the file as UTF-8")) from None
    return TextFile(text.replace("\r\n", "\n"), hashlib.sha256(data).hexdigest())
