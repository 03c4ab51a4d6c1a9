"""Put a finished file in its place: whole, and never over another unasked."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from burnerlab.tables.problem import Problem, UserError

FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


@contextmanager
def in_disk_words(path: Path) -> Iterator[None]:
    """Say in words why a file could not be written; nothing of it is left."""
    try:
        yield
    except OSError as error:
        if error.errno in FULL:
            what, fix = "the disk is full: nothing was written", "make room, or name a file on another disk"
        elif error.errno == errno.EIO:
            what, fix = "the disk could not be written: nothing was written", "check the disk"
        elif error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
            what, fix = "its folder may not be written", "name a file in another folder"
        else:
            raise
        raise UserError(Problem(what, file=str(path), fix=fix)) from error


def _exists(path: Path) -> UserError:
    return UserError(
        Problem("exists, will not overwrite it", file=str(path), fix="name another file or allow overwriting")
    )


@contextmanager
def whole_file(path: Path, overwrite: bool = False) -> Iterator[Path]:
    """A temporary file beside ``path`` to fill; it gets its name in one step once it is complete and on the disk.

    Raises UserError when there is a file of that name already, or no folder for it.
    """
    if "\0" in str(path):
        raise UserError(Problem("a file name cannot hold a NUL character", value=str(path)))
    if not path.absolute().parent.is_dir():
        raise UserError(Problem("its folder is not there", file=str(path), fix="make the folder first"))
    if path.exists() and not path.is_file():
        raise UserError(Problem("is not a regular file", file=str(path), fix="name another file"))
    if path.exists() and not overwrite:
        raise _exists(path)
    with in_disk_words(path):
        handle, name = tempfile.mkstemp(prefix=".writing-", dir=path.absolute().parent)
        os.close(handle)
        made = Path(name)
        try:
            yield made
            with made.open("rb") as stream:
                os.fsync(stream.fileno())
            made.chmod(0o666 & ~_umask())
            if overwrite:
                made.replace(path)
            else:
                _name(made, path)
        finally:
            made.unlink(missing_ok=True)


def _name(made: Path, path: Path) -> None:
    """Give a file its name only when no other has it by now."""
    try:
        os.link(made, path)
    except FileExistsError:
        raise _exists(path) from None
    except OSError:  # a file system without hard links
        if path.exists():
            raise _exists(path) from None
        made.replace(path)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
