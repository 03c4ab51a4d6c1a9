"""Photographs of a test: drawn anew without what a phone writes into them, kept under their SHA-256 beside the record.

Nothing is judged from them. The record keeps the hash of each and what it shows.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path

from burnerlab.bench.record.database import Record, in_disk_words, in_words, whole_file
from burnerlab.bench.record.entry import PHOTOGRAPH_SUBJECTS, Photograph
from burnerlab.tables.problem import Problem, UserError

LARGEST_PHOTOGRAPH = 12 << 20  # bytes of a file as it comes
MOST_PIXELS = 60_000_000  # of one picture, before it is drawn
LONGEST_SIDE = 1600  # pixels of the picture that is kept
QUALITY = 85  # of its JPEG
SUFFIX = ".jpg"
ACCEPTED = f"a JPEG, PNG or WebP of at most {LARGEST_PHOTOGRAPH >> 20} MiB"
MAGIC: Mapping[str, Callable[[bytes], bool]] = {
    "JPEG": lambda head: head.startswith(b"\xff\xd8\xff"),
    "PNG": lambda head: head.startswith(b"\x89PNG\r\n\x1a\n"),
    "WEBP": lambda head: head[:4] == b"RIFF" and head[8:12] == b"WEBP",
}
"""First bytes of each kind of picture."""


def kind_of_picture(data: bytes) -> str:
    """JPEG, PNG or WEBP by the first bytes; "" for anything else.

    >>> kind_of_picture(b"\\xff\\xd8\\xff\\xe0"), kind_of_picture(b"<svg>")
    ('JPEG', '')
    """
    return next((kind for kind, fits in MAGIC.items() if fits(data[:12])), "")


def folder_of(record: Path) -> Path:
    """The folder of a record's photographs, beside it.

    >>> folder_of(Path("bench.sqlite")).name
    'bench.sqlite.photographs'
    """
    return record.with_name(record.name + ".photographs")


def bare_picture(data: bytes) -> bytes:
    """A picture drawn anew as JPEG, upright, at most 1600 pixels long: no place, time, device or comment is left in it.

    Raises UserError for a file that is too large, of another kind, or cannot be drawn; needs Pillow.
    """
    if len(data) > LARGEST_PHOTOGRAPH:
        raise _refused(f"is larger than {LARGEST_PHOTOGRAPH >> 20} MiB")
    kind = kind_of_picture(data)
    if not kind:
        raise _refused("is no photograph")
    try:
        from PIL import Image, ImageOps
    except ImportError:
        fix = 'pip install "burnerlab[page]"'
        raise UserError(Problem("a photograph needs Pillow", key="photograph", fix=fix)) from None
    made = io.BytesIO()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of Pillow, on damaged metadata that is dropped
            with Image.open(io.BytesIO(data), formats=[kind]) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    raise _refused(f"has more than {MOST_PIXELS // 1_000_000} million pixels")
                upright = ImageOps.exif_transpose(opened).convert("RGB")
            upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            bare = Image.frombytes("RGB", upright.size, upright.tobytes())  # its pixels and nothing else
            bare.save(made, "JPEG", quality=QUALITY)
    except UserError:
        raise
    except Exception:  # a decoder raises whatever it meets in a damaged file
        raise _refused("cannot be drawn: the file is damaged") from None
    return made.getvalue()


def _refused(what: str) -> UserError:
    return UserError(Problem(what, key="photograph", accepted=ACCEPTED))


def keep_photograph(record: Path, data: bytes, subject: str) -> Photograph:
    """Put a picture beside the record under the SHA-256 of what is kept. Raises UserError."""
    if subject not in PHOTOGRAPH_SUBJECTS:
        accepted = ", ".join(PHOTOGRAPH_SUBJECTS)
        raise UserError(Problem("is nothing to photograph", value=subject, key="subject", accepted=accepted))
    kept = bare_picture(data)
    photograph = Photograph(sha256=hashlib.sha256(kept).hexdigest(), subject=subject)
    _write(_made_folder(record), photograph.sha256, kept)
    return photograph


def _made_folder(record: Path) -> Path:
    folder = folder_of(record)
    with in_disk_words(folder):
        folder.mkdir(exist_ok=True)
    return folder


def _write(folder: Path, sha256: str, data: bytes) -> None:
    path = folder / f"{sha256}{SUFFIX}"
    if path.is_file():
        return  # the same picture
    with whole_file(path, overwrite=True) as made:
        made.write_bytes(data)


def is_hash(text: str) -> bool:
    """Whether a text is a SHA-256 in hexadecimal: no other can name a file."""
    return len(text) == 64 and not set(text) - set("0123456789abcdef")


def photograph_bytes(record: Path, sha256: str) -> bytes | None:
    """A picture of the record by its hash; None where there is none, or where it was changed."""
    if not is_hash(sha256):
        return None
    with suppress(OSError):
        data = (folder_of(record) / f"{sha256}{SUFFIX}").read_bytes()
        if hashlib.sha256(data).hexdigest() == sha256:
            return data
    return None


def missing(record: Path, hashes: Iterable[str]) -> tuple[str, ...]:
    """Those of some hashes whose picture is not beside the record as it was kept."""
    return tuple(sha256 for sha256 in dict.fromkeys(hashes) if photograph_bytes(record, sha256) is None)


def photograph_hashes(record: Record) -> tuple[str, ...]:
    """The hash of every photograph that a record names, superseded entries among them."""
    with in_words(record.path):
        ask = record.connection.execute
        if not ask("SELECT 1 FROM sqlite_schema WHERE name = 'photographs'").fetchone():
            return ()  # of an older schema
        rows = ask("SELECT DISTINCT sha256 FROM photographs ORDER BY sha256").fetchall()
    return tuple(row[0] for row in rows)


def copy_photographs(source: Path, target: Path, hashes: Iterable[str]) -> int:
    """Put the pictures of one record, or of an export, beside another, each checked; returns how many are there."""
    found = 0
    for sha256 in dict.fromkeys(hashes):
        data = photograph_bytes(source, sha256)
        if data is None:
            continue
        _write(_made_folder(target), sha256, data)
        found += 1
    return found


# In the form of a test: subject and hash of each, one after another.


def photographs_text(photographs: Iterable[Photograph]) -> str:
    """Photographs as the field of a form holds them.

    >>> photographs_text([Photograph(sha256="0" * 64, subject="flame")])[:8]
    'flame:00'
    """
    return " ".join(f"{one.subject}:{one.sha256}" for one in photographs)


def photographs_of(text: str) -> tuple[Photograph, ...]:
    """The photographs that a field of a form holds; what is none is left out."""
    return tuple(dict.fromkeys(_photographs(text)))


def _photographs(text: str) -> Iterator[Photograph]:
    for word in text.split():
        subject, _, sha256 = word.partition(":")
        if subject in PHOTOGRAPH_SUBJECTS and is_hash(sha256):
            yield Photograph(sha256=sha256, subject=subject)
