"""The file of a record: where it lies, how it is opened, what goes wrong with it."""

from __future__ import annotations

import errno
import os
import re
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path, PureWindowsPath
from types import TracebackType
from typing import Any
from urllib.parse import quote

from burnerlab.bench.record.migrations import APPLICATION_ID, MIGRATIONS, OLDEST_SQLITE, VERSION
from burnerlab.tables.file_replacement import replace_file
from burnerlab.tables.problem import Problem, UserError

# A statement on a record that never ends is stopped: a view or a trigger of another program may loop for
# ever.

LONGEST_s = 60.0  # that SQLite may work on one statement
STEPS = 50_000  # of its machine between two looks at the clock, some milliseconds
LONGEST_STEP_s = 0.02  # more between two looks is time in which the rows were used, not sought


class PatientConnection(sqlite3.Connection):
    """A connection that interrupts a statement SQLite has worked on for ``LONGEST_s``.

    The time between two rows, in which somebody uses the first, does not count.
    """

    worked_s = 0.0
    looked_at = 0.0

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.set_progress_handler(self._look, STEPS)

    def _look(self) -> int:
        now = time.monotonic()
        self.worked_s += min(now - self.looked_at, LONGEST_STEP_s)
        self.looked_at = now
        return int(self.worked_s > LONGEST_s)

    def _begin(self) -> None:
        self.worked_s, self.looked_at = 0.0, time.monotonic()

    def execute(self, *statement: Any) -> sqlite3.Cursor:
        self._begin()
        return super().execute(*statement)

    def executemany(self, sql: str, rows: Iterable[Any], /) -> sqlite3.Cursor:
        self._begin()
        return super().executemany(sql, rows)


# On what kind of file system a path lies: a record is never shared over a network.

MOUNTS = Path("/proc/self/mountinfo")  # of Linux
MOUNT_COMMAND = "/sbin/mount"  # of macOS, which prints its mounts
REMOTE_DRIVE = 4  # DRIVE_REMOTE of GetDriveTypeW (Windows API, memory)
NETWORK = frozenset(
    [
        "nfs", "nfs4", "cifs", "smb", "smb2", "smb3", "smbfs", "ncpfs", "afs", "coda", "ceph", "glusterfs", "lustre",
        "beegfs", "gpfs", "ocfs2", "gfs2", "9p", "davfs", "fuse.sshfs", "fuse.davfs2", "fuse.davfs", "fuse.rclone",
        "fuse.smbnetfs", "fuse.curlftpfs", "fuse.glusterfs", "fuse.ceph-fuse", "fuse.s3fs", "fuse.gcsfuse",
        "fuse.juicefs", "fuse.onedriver", "fuse.google-drive-ocamlfuse", "afpfs", "webdav", "macfuse",
    ]
)  # fmt: skip
"""Types of file systems whose files other machines write as well."""
WHY = "locks and the log of a record do not hold there, and two machines would damage it"
WAY = (
    "keep it on a local disk of one machine and run burnerlab bench there: many phones then share one record"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mount:
    """A file system and where it is mounted."""

    point: Path
    kind: str


def mounts(table: str) -> tuple[Mount, ...]:
    """The mounts of a table in the form of /proc/self/mountinfo; a line of another form is passed over.

    >>> mounts("36 35 98:0 / /mnt/my\\\\040share rw - nfs4 server:/tests rw")
    (Mount(point=PosixPath('/mnt/my share'), kind='nfs4'),)
    """
    points = []
    for line in table.splitlines():
        first, dash, last = line.partition(" - ")
        words, kinds = first.split(" "), last.split(" ")
        if dash and len(words) > 4:
            point = re.sub(r"\\([0-7]{3})", lambda octal: chr(int(octal[1], 8)), words[4])
            points.append(Mount(point=Path(point), kind=kinds[0]))
    return tuple(points)


def mounts_of_macos(printed: str) -> str:
    """What ``mount`` of macOS prints, in the form of /proc/self/mountinfo.

    >>> mounts(mounts_of_macos("//me@server/tests on /Volumes/my tests (smbfs, nodev, nosuid, mounted by me)"))
    (Mount(point=PosixPath('/Volumes/my tests'), kind='smbfs'),)
    """
    found = re.findall(r"(?m)^.+? on (/.*) \((\w+)[,)]", printed)
    return "\n".join(f"0 0 0:0 / {point.replace(' ', OCTAL_BLANK)} rw - {kind} x rw" for point, kind in found)


OCTAL_BLANK = r"\040"


def _mount_table() -> str:
    """The mounts of this machine; "" where they cannot be had."""
    try:
        if sys.platform == "darwin":
            done = subprocess.run([MOUNT_COMMAND], capture_output=True, text=True, timeout=10, check=False)
            return mounts_of_macos(done.stdout)
        return MOUNTS.read_text(encoding="utf-8", errors="surrogateescape")
    except (OSError, subprocess.SubprocessError):
        return ""


LONG, LONG_SHARE = "\\\\?\\", "\\\\?\\UNC\\"  # how a long path of Windows begins


def share_of_windows(path: str, drive_type: Callable[[str], int]) -> str:
    """The share or mapped drive of a network that a path of Windows lies on; "" for a disk of the machine.

    path : whole; drive_type : of the root of a drive, as GetDriveTypeW says it

    >>> share_of_windows("Z:/bench.sqlite", lambda _: REMOTE_DRIVE), share_of_windows("C:/x", lambda _: 3)
    ('Z:', '')
    """
    plain = "//" + path.removeprefix(LONG_SHARE) if path.startswith(LONG_SHARE) else path.removeprefix(LONG)
    drive = PureWindowsPath(plain).drive
    is_remote = drive.startswith("\\\\") or (bool(drive) and drive_type(f"{drive}\\") == REMOTE_DRIVE)
    return drive if is_remote else ""


def _check_share(path: Path) -> None:
    import ctypes

    kernel = vars(ctypes)["windll"].kernel32  # of Windows alone
    share = share_of_windows(os.path.realpath(path), kernel.GetDriveTypeW)
    if share:
        raise UserError(Problem(f"lies on a network ({share}): {WHY}", file=str(path), fix=WAY))


def mount_of(path: Path, table: str) -> Mount | None:
    """The mount a path lies on: the deepest one, of several at one point the last."""
    whole = Path(os.path.realpath(path))
    nearest = None
    for mount in mounts(table):
        holds = whole.is_relative_to(mount.point)
        if holds and (nearest is None or len(mount.point.parts) >= len(nearest.point.parts)):
            nearest = mount
    return nearest


def check_mount(path: Path, table: str | None = None) -> None:
    """Refuse a record on a network file system. ``table``: of mounts, that of this machine when None.

    Raises UserError. A machine whose whole root is such a file system is not refused: it has no other disk.
    """
    if table is None:
        if sys.platform == "win32":
            _check_share(path)
            return
        table = _mount_table()
    mount = mount_of(path, table)
    if mount is not None and mount.kind in NETWORK and mount.point != Path("/"):
        what = f"lies on a network file system ({mount.kind} at {mount.point}): {WHY}"
        raise UserError(Problem(what, file=str(path), fix=WAY))


# Put a finished file in its place: whole, and never over another unasked.

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
        else:  # of a disk of the network, or of a system that knows no rights of a file
            why = (error.strerror or type(error).__name__).lower()
            what, fix = f"could not be written ({why})", "name a file in another folder"
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
    with in_disk_words(path):
        if not path.absolute().parent.is_dir():
            raise UserError(Problem("its folder is not there", file=str(path), fix="make the folder first"))
        if path.exists() and not path.is_file():
            raise UserError(Problem("is not a regular file", file=str(path), fix="name another file"))
        if path.exists() and not overwrite:
            raise _exists(path)
        handle, name = tempfile.mkstemp(prefix=".writing-", dir=path.absolute().parent)
        os.close(handle)
        target = Path(name)
        try:
            yield target
            with target.open("r+b") as stream:  # Windows flushes only what may be written
                os.fsync(stream.fileno())
            with suppress(OSError):  # a disk of the network may know no rights
                target.chmod(0o666 & ~_umask())
            if overwrite:
                replace_file(target, path)
            else:
                _name(target, path)
        finally:
            target.unlink(missing_ok=True)


def _name(made: Path, path: Path) -> None:
    """Give a file its name only when no other has it by now."""
    try:
        os.link(made, path)
    except FileExistsError:
        raise _exists(path) from None
    except OSError:  # a file system without hard links
        if path.exists():
            raise _exists(path) from None
        replace_file(made, path)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


# What goes wrong with a file that holds a record, said in words.

BUSY_SECONDS = 60.0
WHOLE = "nothing of this entry was kept, and what was recorded before is whole"
# error name of SQLite, up to its first part that fits -> what is wrong, one fix
SAID: dict[str, tuple[str, str]] = {
    "SQLITE_FULL": (f"the disk is full: {WHOLE}", "make room, then record it again"),
    "SQLITE_IOERR_WRITE": (f"the disk could not be written: {WHOLE}", "check the disk and the room on it"),
    "SQLITE_IOERR_FSYNC": (f"the disk did not confirm the write: {WHOLE}", "check the disk"),
    "SQLITE_IOERR": (f"the disk could not be read or written: {WHOLE}", "check the disk and the room on it"),
    "SQLITE_READONLY": (
        f"may be read but not written: {WHOLE}",
        "give this user the right to write the file and its folder",
    ),
    "SQLITE_BUSY": (
        f"another program has held the record for {BUSY_SECONDS:.0f} s: {WHOLE}",
        "close the other program, then repeat the command",
    ),
    "SQLITE_LOCKED": (f"the record is held by another part of this program: {WHOLE}", "repeat the command"),
    "SQLITE_INTERRUPT": (
        f"a question to it did not end within {LONGEST_s:.0f} s: a view or trigger of another program may loop",
        "burnerlab record check names what is not of the record; go back to a backup",
    ),
    "SQLITE_NOTADB": ("is not a bench record (not an SQLite file)", "name the file of a bench record"),
    "SQLITE_CORRUPT": (
        "is damaged",
        "keep a copy of it as it is, then go back to a backup; burnerlab record check lists the faults",
    ),
    "SQLITE_CANTOPEN": ("cannot be opened", "check that its folder is there and may be written"),
    "SQLITE_PERM": ("may not be opened by this user", "give this user the right to read it"),
    "SQLITE_AUTH": ("may not be opened by this user", "give this user the right to read it"),
    "SQLITE_TOOBIG": (f"the entry is too large: {WHOLE}", "shorten the note"),
    "SQLITE_CONSTRAINT_TRIGGER": (
        "the record is append-only, entries are not changed or deleted",
        "record a correction",
    ),
}


OURS = ("syntax error", "incomplete input")  # what SQLite says of a statement that we wrote wrong


def damaged(what: str, path: Path | str) -> Problem:
    """What is wrong with a file that was changed by a fault of its disk or by another program."""
    return Problem(f"is damaged: {what}", file=str(path), fix=SAID["SQLITE_CORRUPT"][1])


def problem_of(error: sqlite3.Error, path: Path | str) -> Problem | None:
    """The trouble with a file in words; None for an error that is a defect of ours."""
    name = str(getattr(error, "sqlite_errorname", "") or "")
    while name.startswith("SQLITE"):
        if name in SAID:
            what, fix = SAID[name]
            return Problem(what, file=str(path), fix=fix)
        name = name.rpartition("_")[0]
    if isinstance(error, sqlite3.ProgrammingError | sqlite3.InterfaceError):
        return None
    said = str(error)
    return None if any(words in said for words in OURS) else damaged(said, path)


@contextmanager
def in_words(path: Path | str) -> Iterator[None]:
    """Turn what SQLite says of a file into a UserError."""
    try:
        yield
    except sqlite3.Error as error:
        problem = problem_of(error, path)
        if problem is None:
            raise
        raise UserError(problem) from error
    except UnicodeDecodeError as error:  # of what SQLite says, quoting a damaged name
        raise UserError(damaged("a name in it is no text", path)) from error


# Open the file of a record: made or brought to this schema when written, never changed when read.

RETRY_s = 0.02
SHOWN_ANYHOW = partial(str, encoding="utf-8", errors="replace")  # a damaged text is still shown
OUR_TABLES = tuple(
    sorted({name for step in MIGRATIONS for name in re.findall(r"CREATE TABLE (\w+)", " ".join(step))})
)


@dataclass(slots=True, kw_only=True)
class Record:
    """An open record. One per thread; several programs may hold the same file."""

    path: Path
    connection: sqlite3.Connection
    is_writable: bool

    def close(self) -> None:
        self.connection.close()

    def __enter__(self) -> Record:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _problem(what: str, path: Path, fix: str = "") -> UserError:
    return UserError(Problem(what, file=str(path), fix=fix))


def check_sqlite(version: tuple[int, ...] = sqlite3.sqlite_version_info) -> None:
    """Raise UserError when the SQLite of this Python has no STRICT tables.

    >>> check_sqlite((3, 30, 1))
    Traceback (most recent call last):
    burnerlab.tables.problem.UserError: SQLite 3.30.1 is too old for a bench record ...
    """
    if version < OLDEST_SQLITE:
        oldest, has = (".".join(map(str, v)) for v in (OLDEST_SQLITE, version))
        what = f"SQLite {has} is too old for a bench record (accepted: {oldest} or newer)"
        raise UserError(Problem(what, fix="use a Python with a newer SQLite"))


def _check_file(path: Path, create: bool) -> None:
    if "\0" in str(path):
        raise UserError(Problem("a file name cannot hold a NUL character", value=str(path)))
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        if not create:
            fix = "check the name; burnerlab record add makes a new one"
            raise _problem("there is no such record", path, fix) from None
        if not path.parent.is_dir():
            raise _problem("its folder is not there", path, "make the folder first") from None
        return
    except OSError as error:
        raise _problem(f"cannot be opened: {error.strerror or error}", path, "check the name") from None
    if not stat.S_ISREG(mode):
        kind = "a folder" if stat.S_ISDIR(mode) else "a device or a pipe"
        raise _problem(f"is {kind}, not a regular file", path, "name the file of a bench record")


def _connect(path: Path, query: str) -> sqlite3.Connection:
    address = f"file:{quote(str(path.absolute()))}?{query}"
    connection = sqlite3.connect(
        address, uri=True, timeout=BUSY_SECONDS, isolation_level=None, factory=PatientConnection
    )
    connection.text_factory = SHOWN_ANYHOW
    try:
        for pragma in ("foreign_keys = ON", "recursive_triggers = ON", "trusted_schema = OFF"):
            connection.execute(f"PRAGMA {pragma}")
        connection.execute("PRAGMA synchronous = FULL")  # a commit is on the disk before it is acknowledged
        connection.execute("PRAGMA cell_size_check = ON")
    except BaseException:
        connection.close()
        raise
    return connection


def schema_of(connection: sqlite3.Connection) -> int:
    """Version of the schema that a file has; 0 for a new one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _check_kind(connection: sqlite3.Connection, path: Path) -> int:
    """The schema of the file. Raises UserError when it is not a record, or of a newer burnerlab."""
    schema = schema_of(connection)
    kind = int(connection.execute("PRAGMA application_id").fetchone()[0])
    is_empty = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0] == 0
    if kind != APPLICATION_ID and not (kind == 0 and schema == 0 and is_empty):
        raise _problem("is a database of something else, not a bench record", path, "name another file")
    ours = ", ".join(f"'{name}'" for name in OUR_TABLES)
    ask = f"SELECT name FROM sqlite_schema WHERE name IN ({ours}) AND type <> 'table' ORDER BY name"
    if objects := connection.execute(ask).fetchall():
        what = (
            f"{', '.join(name for (name,) in objects)} is no table in it: another program changed this record"
        )
        raise UserError(damaged(what, path))
    if schema > VERSION:
        what = f"was written by a newer burnerlab (schema {schema}; this one knows up to {VERSION})"
        raise _problem(f"{what}; nothing was changed", path, "use that burnerlab, or a newer one")
    return schema


def _use_log(connection: sqlite3.Connection, path: Path) -> None:
    """Write-ahead log; the change of mode does not wait for others by itself."""
    deadline = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            break
        except sqlite3.OperationalError as error:
            if error.sqlite_errorname != "SQLITE_BUSY" or time.monotonic() > deadline:
                raise
            time.sleep(RETRY_s)
    if mode != "wal":
        what = f"its folder allows no write-ahead log (it stays in mode {mode})"
        raise _problem(what, path, "keep the record on a local disk")


def migrate(connection: sqlite3.Connection, path: Path, upto: int = VERSION) -> int:
    """Bring a file to schema ``upto`` in one transaction; returns the version it had."""
    with transaction(connection):
        had = _check_kind(connection, path)
        for version in range(had, upto):
            for statement in MIGRATIONS[version]:
                connection.execute(statement)
        if had < upto:
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {upto}")
    return had


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All of it or nothing; the right to write is taken at once, so that two writers wait for one another."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _sync_folder(path: Path) -> None:
    """Make the name of a new file itself last through a loss of power."""
    if os.name == "posix":
        handle = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _make(path: Path) -> None:
    """Make a new record beside its place, whole and on the disk; it gets its name in one step, or nothing is left.

    Where the file system gives a file no second name, it is left to be made in place.
    """
    with in_disk_words(path):
        folder = tempfile.mkdtemp(prefix=".making-", dir=path.absolute().parent)
    path_made = Path(folder) / path.name
    try:
        connection = _connect(path_made, "mode=rwc")
        try:
            _use_log(connection, path_made)
            migrate(connection, path_made)
        finally:
            connection.close()
        with suppress(OSError):  # another program made it meanwhile, or no second names here
            os.link(path_made, path)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _open_to_write(path: Path, create: bool) -> Record:
    is_new = not path.exists()
    if is_new and create:
        _make(path)
    connection = _connect(path, "mode=rwc" if create else "mode=rw")
    try:
        if _check_kind(connection, path) < VERSION:
            if connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
                _use_log(connection, path)
            migrate(connection, path)
        if is_new:
            _sync_folder(path.absolute())
    except BaseException:
        connection.close()
        raise
    return Record(path=path, connection=connection, is_writable=True)


def _connect_to_read(path: Path) -> sqlite3.Connection:
    """Read only; where the folder cannot hold the files of the log, the file is read as it lies."""
    try:
        connection = _connect(path, "mode=ro")
        try:
            schema_of(connection)
            return connection
        except BaseException:
            connection.close()
            raise
    except sqlite3.OperationalError as error:
        if not error.sqlite_errorname.startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY")):
            raise
        log = path.with_name(path.name + "-wal")
        if log.exists() and log.stat().st_size > 0:
            what = "its newest entries are in its log, and the folder cannot be written to join them"
            raise _problem(what, path, "copy both files to a folder you may write") from error
    return _connect(path, "mode=ro&immutable=1")


def _open_to_read(path: Path) -> Record:
    connection = _connect_to_read(path)
    try:
        if (schema := _check_kind(connection, path)) < VERSION:
            what = f"is of an older burnerlab (schema {schema}, now {VERSION})"
            raise _problem(
                what, path, f"burnerlab record check --upgrade --file {path.name} brings it forward"
            )
    except BaseException:
        connection.close()
        raise
    return Record(path=path, connection=connection, is_writable=False)


def open_record(path: str | os.PathLike[str], *, readonly: bool = False, create: bool = True) -> Record:
    """Open a bench record; use it in a ``with`` statement.

    path : its file; made when missing, unless ``create`` is false or it is only read
    readonly : nothing in the file is changed, not even an older schema
    Raises UserError for a file that is no record, of a newer burnerlab, unreadable, or not to be written.

    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder, open_record(pathlib.Path(folder) / "bench.sqlite") as record:
    ...     schema_of(record.connection)
    9
    """
    check_sqlite()
    file = Path(path)
    _check_file(file, create and not readonly)
    check_mount(file)
    with in_words(file):
        return _open_to_read(file) if readonly else _open_to_write(file, create)
