"""The file of the desk and its draft: read whole, written whole, never over what somebody else wrote."""

from __future__ import annotations

import hashlib
import time
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from threading import Lock, Timer

from burnerlab.appliance.project.project_file import DRAFT_ENDING, read_text
from burnerlab.bench.record.database import whole_file
from burnerlab.tables.problem import Problem, UserError

DRAFT_SECONDS = 10.0  # between two writings of a draft
LARGEST_TEXT = 256 * 1024  # bytes of a project file that the desk edits
DIGITS = 16  # of a digest
ANOTHER = "another desk on this file keeps its own draft: save here, or close one of the two"
BEGUN = ".begun"  # before the ending of a draft: the file as it was begun from
UNNAMED = Path("desk.toml")  # what the draft of a page without a file is called after


@dataclass(frozen=True, slots=True)
class FileContent:
    """What stood in a file: its text, and a digest of its bytes; both "" where there is no file."""

    text: str = ""
    digest: str = ""


def content_of(path: Path) -> FileContent:
    """What stands in a project file now; empty where there is none. Raises UserError for what is no text file."""
    try:
        is_there, has_folder = path.exists(), path.absolute().parent.is_dir()
    except OSError as error:  # without rights on the folder, or on a disk that is gone
        why = (error.strerror or type(error).__name__).lower()
        raise UserError(Problem(f"cannot be looked for ({why})", str(path), "file")) from error
    if not is_there:
        if not has_folder:
            raise UserError(
                Problem("its folder is not there", str(path), "FILE", fix="make the folder first")
            )
        return FileContent()
    found = read_text(path)
    if len(found.text.encode("utf-8")) > LARGEST_TEXT:
        what = f"is larger than the {LARGEST_TEXT // 1024} kB that the desk edits"
        raise UserError(Problem(what, str(path), "file", fix="edit it as text"))
    return FileContent(found.text, found.sha256[:DIGITS])


def digest_of(path: Path) -> str:
    """A digest of the bytes of a file; "" where there is none or it cannot be read."""
    try:
        return _digest(path.read_bytes())
    except OSError:
        return ""


def write_text(path: Path, text: str) -> str:
    """Put a text in place of a file in one step, with the line ends that it had; returns the digest of its bytes."""
    with suppress(OSError):
        if b"\r\n" in path.read_bytes():
            text = text.replace("\n", "\r\n")
    data = text.encode("utf-8")
    with whole_file(path, overwrite=True) as handle:
        handle.write_bytes(data)
    return _digest(data)


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:DIGITS]


def draft_of(path: Path) -> Path:
    """The draft beside a file.

    >>> draft_of(Path("range.toml")).name
    'range.draft.toml'
    """
    return path.with_name(path.name.removesuffix(".toml") + DRAFT_ENDING)


@dataclass(slots=True)
class Draft:
    """The newest text, beside the file, so that a stopped server loses nothing; at most every ``DRAFT_SECONDS``."""

    path: Path
    text: str = ""
    is_waiting: bool = False  # an earlier draft that was neither taken nor dropped: it is not written over
    written_s: float = float("-inf")
    timer: Timer | None = None
    trouble: str = ""  # why it could not be written
    digest: str = ""  # of what this desk wrote or read there: anything else is of another desk
    begun: str = ""  # the file as the text was begun from
    lock: Lock = field(default_factory=Lock)

    @property
    def moment(self) -> str:
        """When the file of the draft was written, by the clock of this machine; "" where it is there no more.

        No line of a page ends within it.
        """
        try:
            moment = datetime.fromtimestamp(self.path.stat().st_mtime)
            return moment.strftime(
                "%Y\N{NON-BREAKING HYPHEN}%m\N{NON-BREAKING HYPHEN}%d\N{NO-BREAK SPACE}%H:%M"
            )
        except OSError:
            return ""

    @property
    def begun_path(self) -> Path:
        """Where the file stands as the draft was begun from: what is changed outside since shows beside it."""
        return self.path.with_name(self.path.name.removesuffix(DRAFT_ENDING) + BEGUN + DRAFT_ENDING)

    def keep(self, text: str, begun: str = "") -> None:
        """Write it, now or when ``DRAFT_SECONDS`` have passed since the last time.

        begun : the file that the text was begun from
        """
        with self.lock:
            self.text, self.begun = text, begun
            if self.timer is not None or self.is_waiting:
                return
            wait = self.written_s + DRAFT_SECONDS - time.monotonic()
            if wait <= 0.0:
                self._write()
                return
            self.timer = Timer(wait, self.flush)
            self.timer.daemon = True
            self.timer.start()

    def flush(self) -> None:
        """Write what is not written yet."""
        with self.lock:
            if self.timer is not None:
                self.timer.cancel()
                self.timer = None
                self._write()

    def drop(self) -> None:
        """No draft: the file holds everything, or the draft was taken or dropped."""
        with self.lock:
            if self.timer is not None:
                self.timer.cancel()
                self.timer = None
            self.is_waiting = False
            if not self.is_of_another:
                with suppress(OSError):
                    self.path.unlink(missing_ok=True)
                    self.begun_path.unlink(missing_ok=True)
                self.trouble = ""

    @property
    def is_of_another(self) -> bool:
        """Whether another desk, started on the same file, keeps its draft there."""
        return digest_of(self.path) not in ("", self.digest)

    def _write(self) -> None:
        self.written_s = time.monotonic()
        if self.is_of_another:
            self.trouble = ANOTHER
            return
        try:
            if self.begun and content_of(self.begun_path).text != self.begun:
                write_text(self.begun_path, self.begun)
            self.digest = write_text(self.path, self.text)
        except (OSError, UserError) as error:
            self.trouble = str(error)
            return
        self.trouble = ""
