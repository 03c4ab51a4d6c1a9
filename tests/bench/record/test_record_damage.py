"""A damaged record: every outcome of every command is in words, none is a defect of ours."""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from uuid import UUID

import pytest
from click.testing import CliRunner
from record_samples import A_RELEASE, a_kit, a_stopped_test, a_test

from burnerlab.bench.record import add_kit_check, add_test, correct, open_record, release
from burnerlab.cli import main

DAMAGED = int(os.environ.get("BURNERLAB_DAMAGED_RECORDS", "32"))  # 1000 for the whole search
COMMANDS = (
    ("check",),
    ("list",),
    ("show", "C-0003"),
    ("search", "range"),
    ("stops",),
    ("kits",),
    ("export", "--format", "json"),
    ("export", "--format", "csv"),
    ("chart", "--model", "market cart range", "--burner", "griddle"),
    ("add", "--serial", "C-0099", "--model", "range", "--tester", "t", "--seen", "odour = yes"),
)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A record that is the same on every run, names and times as well."""
    path = tmp_path_factory.mktemp("whole") / "bench.sqlite"
    dice = random.Random(9)
    with pytest.MonkeyPatch.context() as patch, open_record(path) as record:
        patch.setattr("burnerlab.bench.record.store.uuid.uuid4", lambda: UUID(int=dice.getrandbits(128)))
        patch.setattr("burnerlab.bench.record.store.now", lambda: "2026-11-25T10:00:00.000Z")
        patch.setattr("burnerlab.bench.record.checks.now", lambda: "2026-11-25T10:00:00.000Z")
        for number in range(12):
            made = add_test(record, a_test(f"C-{number:04d}", deviation=number / 1e3))
        correct(record, made.uid, a_test("C-0011"), "wrong dial")
        add_kit_check(record, a_kit())
        stopped = add_test(record, a_stopped_test("C-0003"))
        release(record, stopped.uid, **A_RELEASE)
        add_test(record, a_stopped_test("C-0004"))
    return path.read_bytes()


def bits(whole: bytes, dice: random.Random) -> bytes:
    """A few bits the other way round."""
    damaged = bytearray(whole)
    for _ in range(dice.choice((1, 2, 8, 40))):
        damaged[dice.randrange(len(damaged))] ^= 1 << dice.randrange(8)
    return bytes(damaged)


def bytes_64(whole: bytes, dice: random.Random) -> bytes:
    """64 random bytes anywhere, the head of the file among them."""
    damaged = bytearray(whole)
    start = dice.choice((dice.randrange(len(damaged) - 64), dice.randrange(200)))
    damaged[start : start + 64] = dice.randbytes(64)
    return bytes(damaged)


def shorter(whole: bytes, dice: random.Random) -> bytes:
    """Cut off somewhere."""
    return whole[: dice.randrange(len(whole))]


def letters(whole: bytes, dice: random.Random) -> bytes:
    """Text of another kind where text stood: words, numbers and times that the record does not know."""
    damaged = bytearray(whole)
    for _ in range(6):
        word = dice.choice(
            (b"deviation", b"lift", b"griddle", b"2024-11", b"C-00", b"within", b"odour", b"market")
        )
        places = [at for at in range(len(damaged)) if damaged[at : at + len(word)] == word]
        if places:
            at = dice.choice(places)
            damaged[at : at + len(word)] = bytes(dice.choice((dice.randrange(256), 0, 255)) for _ in word)
    return bytes(damaged)


DAMAGES: tuple[Callable[[bytes, random.Random], bytes], ...] = (bits, bytes_64, shorter, letters)


def outcomes(path: Path) -> list[tuple[str, int, str]]:
    """Command, exit status and error stream of each command on a record, as a person would run them."""
    found = []
    for command in COMMANDS:
        more = ("--out", str(path.with_name("out")), "--overwrite") if command[0] == "export" else ()
        done = CliRunner().invoke(main, ("record", *command, *more, "--file", str(path)))
        found.append((" ".join(command), done.exit_code, done.stderr))
    return found


def test_every_outcome_on_a_damaged_record_is_in_words(whole: bytes, tmp_path: Path) -> None:
    seen: Counter[int] = Counter()
    for number in range(DAMAGED):
        dice = random.Random(f"damage {number}")
        damage = DAMAGES[number % len(DAMAGES)]
        path = tmp_path / f"damaged{number}.sqlite"
        path.write_bytes(damage(whole, dice))
        for command, status, said in outcomes(path):
            seen[status] += 1
            assert status in (0, 1, 2), f"{damage.__name__} {number}, {command}: {said}"
            assert "Traceback" not in said
        path.unlink()
    assert seen[2] > DAMAGED  # the damage was felt
