"""The key of a bench in a file of its own, so that phones find the bench again after a restart."""

from __future__ import annotations

import hashlib
import hmac
import os
import re
import secrets
import stat
from pathlib import Path

from burnerlab.tables.problem import Problem, UserError

KEY = re.compile(r"[A-Za-z0-9_-]{24,200}")  # 144 bits and more, nothing that an address would change
LARGEST = 1000  # bytes
OPTION = "--key-file"


def new_key() -> str:
    """A key that nobody can guess."""
    return secrets.token_urlsafe(18)


def word_from(key: str, use: str) -> str:
    """A secret word of its own for each use, the same for the same key: HMAC-SHA-256, FIPS 198-1."""
    return hmac.new(key.encode(), use.encode(), hashlib.sha256).hexdigest()


def kept_key(path: Path) -> tuple[str, bool]:
    """The key in a file, and whether the file was made for it: for this user alone (mode 0600).

    Raises UserError for a file that others may read, that holds no key, or that cannot be made.
    """
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _read(path), False
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise UserError(
            Problem(f"cannot be made: {why}", str(path), OPTION, fix="name a file in a folder that is there")
        ) from None
    key = new_key()
    with os.fdopen(handle, "w", encoding="ascii") as stream:
        stream.write(key + "\n")
    return key, True


def _read(path: Path) -> str:
    try:
        kind = path.stat()
        if not stat.S_ISREG(kind.st_mode) or kind.st_size > LARGEST:
            raise UserError(Problem("is not a file with a key", str(path), OPTION, fix="name another file"))
        if os.name == "posix" and kind.st_mode & 0o077:
            fix = f"run chmod 600 {path}, or name another file"
            raise UserError(
                Problem("may be read by others", str(path), OPTION, accepted="mode 0600", fix=fix)
            )
        text = path.read_bytes().decode("ascii", "replace").strip()
    except OSError as error:
        raise UserError(Problem(f"cannot be read: {error.strerror}", str(path), OPTION)) from None
    if not KEY.fullmatch(text):
        raise UserError(
            Problem(
                "holds no key of a bench", str(path), OPTION, fix="name another file, it is made when missing"
            )
        )
    return text
