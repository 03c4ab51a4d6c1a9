"""On what kind of file system a path lies: a record is never shared over a network."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from burnerlab.tables.problem import Problem, UserError

MOUNTS = Path("/proc/self/mountinfo")  # Linux; elsewhere nothing is known and nothing is refused
NETWORK = frozenset(
    [
        "nfs", "nfs4", "cifs", "smb", "smb2", "smb3", "smbfs", "ncpfs", "afs", "coda", "ceph", "glusterfs", "lustre",
        "beegfs", "gpfs", "ocfs2", "gfs2", "9p", "davfs", "fuse.sshfs", "fuse.davfs2", "fuse.davfs", "fuse.rclone",
        "fuse.smbnetfs", "fuse.curlftpfs", "fuse.glusterfs", "fuse.ceph-fuse", "fuse.s3fs", "fuse.gcsfuse",
        "fuse.juicefs", "fuse.onedriver", "fuse.google-drive-ocamlfuse",
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
    found = []
    for line in table.splitlines():
        first, dash, last = line.partition(" - ")
        words, kinds = first.split(" "), last.split(" ")
        if dash and len(words) > 4:
            point = re.sub(r"\\([0-7]{3})", lambda octal: chr(int(octal[1], 8)), words[4])
            found.append(Mount(point=Path(point), kind=kinds[0]))
    return tuple(found)


def mount_of(path: Path, table: str) -> Mount | None:
    """The mount a path lies on: the deepest one, of several at one point the last."""
    whole = Path(os.path.realpath(path))
    found = None
    for one in mounts(table):
        holds = whole.is_relative_to(one.point)
        if holds and (found is None or len(one.point.parts) >= len(found.point.parts)):
            found = one
    return found


def check_mount(path: Path, table: str | None = None) -> None:
    """Refuse a record on a network file system. ``table``: of mounts, that of this machine when None.

    Raises UserError. A machine whose whole root is such a file system is not refused: it has no other disk.
    """
    if table is None:
        try:
            table = MOUNTS.read_text(encoding="utf-8", errors="surrogateescape")
        except OSError:
            return
    found = mount_of(path, table)
    if found is not None and found.kind in NETWORK and found.point != Path("/"):
        what = f"lies on a network file system ({found.kind} at {found.point}): {WHY}"
        raise UserError(Problem(what, file=str(path), fix=WAY))
