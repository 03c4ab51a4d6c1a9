"""Open the file of a record: made or brought to this schema when written, never changed when read."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import TracebackType
from urllib.parse import quote

from burnerlab.bench.record.files import in_disk_words
from burnerlab.bench.record.migrations import APPLICATION_ID, MIGRATIONS, OLDEST_SQLITE, VERSION
from burnerlab.bench.record.mounts import check_mount
from burnerlab.bench.record.patience import PatientConnection
from burnerlab.bench.record.words import BUSY_SECONDS, damaged, in_words
from burnerlab.tables.problem import Problem, UserError

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
    found = schema_of(connection)
    kind = int(connection.execute("PRAGMA application_id").fetchone()[0])
    is_empty = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0] == 0
    if kind != APPLICATION_ID and not (kind == 0 and found == 0 and is_empty):
        raise _problem("is a database of something else, not a bench record", path, "name another file")
    ours = ", ".join(f"'{name}'" for name in OUR_TABLES)
    ask = f"SELECT name FROM sqlite_schema WHERE name IN ({ours}) AND type <> 'table' ORDER BY name"
    if other := connection.execute(ask).fetchall():
        what = (
            f"{', '.join(name for (name,) in other)} is no table in it: another program changed this record"
        )
        raise UserError(damaged(what, path))
    if found > VERSION:
        what = f"was written by a newer burnerlab (schema {found}; this one knows up to {VERSION})"
        raise _problem(f"{what}; nothing was changed", path, "use that burnerlab, or a newer one")
    return found


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
    made = Path(folder) / path.name
    try:
        connection = _connect(made, "mode=rwc")
        try:
            _use_log(connection, made)
            migrate(connection, made)
        finally:
            connection.close()
        with suppress(OSError):  # another program made it meanwhile, or no second names here
            os.link(made, path)
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
        if (found := _check_kind(connection, path)) < VERSION:
            what = f"is of an older burnerlab (schema {found}, now {VERSION})"
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
    4
    """
    check_sqlite()
    file = Path(path)
    _check_file(file, create and not readonly)
    check_mount(file)
    with in_words(file):
        return _open_to_read(file) if readonly else _open_to_write(file, create)
