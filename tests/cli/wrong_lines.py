"""Command lines as hands and scripts get them wrong: the examples of every command's help, changed at random.

As a program: ``python tests/cli/wrong_lines.py 20000 --processes 200 --seed 1`` runs so many in this process, and so
many as processes of their own, and prints what went wrong.
"""

from __future__ import annotations

import argparse
import collections
import faulthandler
import os
import random
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
from click.testing import CliRunner

from burnerlab.appliance import demonstration_path
from burnerlab.cli import COMMANDS, main

SLOW_s = 120.0  # of computing
SLOW_COMMANDS = {
    "demo": 0.01,
    "verify": 0.01,
    "optimise": 0.003,
    "sweep": 0.01,
    "calibrate": 0.2,
    "layout": 0.1,
}
SLOW_COMMANDS |= {"tolerance": 0.2, "convert": 0.2, "explain": 0.4, "skins": 0.4, "carryover": 0.4}
HOURS = ("flame", "build")  # works for hours when nothing is wrong with it
NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
WILD_NUMBERS = [
    *("1e308", "-1e308", "1e-308", "1e999999", "0", "-0", "-1", "nan", "inf", "-inf", "1,5", "1_000", "0x10"),
    *("9" * 400, "0.000001", "1000000", "1e15", "1e-9", "٣", "²", "½", "1e", "+", "1.2.3", "1/0", "7/16"),
]
WILD_TEXTS = [
    *(
        "",
        " ",
        "-",
        "--",
        "---x",
        "'",
        '"',
        "\\",
        "%s%n",
        "{}",
        "{0!r}",
        "\n",
        "\t",
        "a\nb",
        "\x1b[31m",
        "💥" * 40,
    ),
    *("\u202e", "\u2028", "e\u0301" * 30, "ﷺ", "\udcff", "x" * 5000, "#" * 300, "=1+1", "$(id)", "; ls", "*"),
    *(
        "None",
        "true",
        "[]",
        "burner",
        "methane=1",
        "methane=-1,ethane=2",
        "15C/15C",
        "gross",
        "#54",
        "G20",
        "1e3 C",
    ),
]
WILD_FILES = [
    *(
        ".",
        "..",
        "folder",
        "missing.toml",
        "empty.toml",
        "binary.toml",
        "deep.toml",
        "large.toml",
        "half.toml",
    ),
    *(
        "zero.toml",
        "pipe.toml",
        "loop.toml",
        "text.sqlite",
        "bench.sqlite",
        "range.toml",
        "parts.toml",
        "rows.csv",
    ),
    *(
        "folder/../range.toml",
        "no/such/folder/x.csv",
        "x" * 300,
        "x.pdf",
        "readings.csv",
        "causes.csv",
        "range.toml/x",
    ),
]
PARTS = """name = "kit"
[scale]
resolution = "1 g"
repeatability = "0.4 g"
[[part]]
name = "regulator"
mass = "310 g"
scatter = "1.2 g"
code = "RG-11"
[[part]]
name = "orifice #54"
count = 6
mass = "4.20 g"
scatter = "0.04 g"
code = "OR-54"
"""
STUDY = """[study]
appliance = "range.toml"
to = "propane"
design = "grid"
outputs = ["total_predicted_gross_W"]
[[vary]]
parameter = "target.pressure"
from = "8 in w.c."
to = "13 in w.c."
steps = 3
"""


def furnish(place: Path) -> None:
    """The files that the examples name, and some that are not what they are taken for."""
    place.mkdir(parents=True)
    for name in ("range.toml", "cart.toml", "changed.toml"):
        (place / name).write_bytes(demonstration_path().read_bytes())
    (place / "parts.toml").write_text(PARTS)
    (place / "study.toml").write_text(STUDY)
    (place / "readings.csv").write_text("x_mm,y_mm,temperature_C\n0,0,180\n100,0,190\n0,100,170\n")
    (place / "rows.csv").write_text("a,b\n1,2\n3\n")
    (place / "causes.csv").write_text("cause,title\nx,y\n")
    (place / "folder").mkdir()
    (place / "empty.toml").touch()
    (place / "text.sqlite").write_text("no record\n" * 100)
    (place / "binary.toml").write_bytes(bytes(range(256)) * 8)
    (place / "half.toml").write_bytes(demonstration_path().read_bytes()[:1500])
    (place / "deep.toml").write_text("x = " + "[" * 5000 + "]" * 5000)
    (place / "large.toml").write_text('name = "x"\n' + "# filling\n" * 200_000)
    (place / "zero.toml").symlink_to("/dev/zero")
    (place / "loop.toml").symlink_to("loop.toml")
    os.chdir(place)
    for line in (
        'record add --serial C-0412 --model "market cart range" --tester "R. Quill"'
        ' --reading "griddle: manifold pressure = 11 inH2O" --result "griddle: deviation = 1 % in -5 %..5 %"',
        "record export --out bench2.json",
        "record backup --out units.sqlite",
    ):
        done = CliRunner().invoke(main, shlex.split(line))
        assert done.exit_code == 0, done.output


def commands_of(
    group: click.Group, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command below a group, with the words that call it."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        yield (*path, name), command
        if isinstance(command, click.Group):
            yield from commands_of(command, (*path, name))


@dataclass(frozen=True, slots=True)
class Example:
    """A line from the help of a command, and the options that the command has."""

    line: tuple[str, ...]
    options: tuple[tuple[str, bool], ...]  # flag, and whether it takes a value
    weight: float


def examples() -> list[Example]:
    """Those of every command's help; a command without one is called bare."""
    found = []
    for path, command in commands_of(main):
        if path == HOURS:
            continue
        options = tuple(
            (flag, not getattr(option, "is_flag", False))
            for option in command.params
            if isinstance(option, click.Option)
            for flag in option.opts
            if flag != "--help"
        )
        text = (command.help or "").replace("\\\n", " ")
        lines = [shlex.split(line) for line in re.findall(r"^\s*burnerlab (.+)$", text, re.MULTILINE)]
        own = [tuple(line) for line in lines if tuple(line[: len(path)]) == path] or [path]
        weight = SLOW_COMMANDS.get(path[0], 1.0) / len(own)
        found += [Example(line, options, weight) for line in own if line[: len(HOURS)] != HOURS]
    return found


class Changer:
    """Changes the examples at random, the same way for the same seed."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.examples = examples()
        self.weights = [one.weight for one in self.examples]
        self.values = sorted(
            {word for one in self.examples for word in one.line if not word.startswith("--")}
        )

    def line(self) -> list[str]:
        one = self.random.choices(self.examples, self.weights)[0]
        words = list(one.line)
        for _ in range(self.random.choices((0, 1, 2, 3), (1, 10, 5, 2))[0]):
            words = self._changed(words, one)
        if self.random.random() < 0.3:
            words.append("--json")
        return [word for word in words if word != "--debug" and "\0" not in word]

    def _changed(self, words: list[str], one: Example) -> list[str]:
        first = 2 if words[:1] and words[0] in ("record", "kit") else 1
        places = range(first, len(words)) if self.random.random() < 0.95 else range(len(words))
        if not places:
            return [*words, *self._option(one)]
        at = self.random.choice(places)
        way = self.random.randrange(8)
        if way <= 2:  # another number in the same place
            return [*words[:at], self._other_number(words[at]), *words[at + 1 :]]
        if way == 3:
            return [*words[:at], self._wild(), *words[at + 1 :]]
        if way == 4:
            return [*words[:at], *words[at + 1 :]]
        if way == 5:
            return [*words[:at], self.random.choice(self.values), *words[at + 1 :]]
        if way == 6:
            return [*words[:at], words[at][:-1] + self.random.choice("x%#-,. é\u200b"), *words[at + 1 :]]
        return [*words, *self._option(one)]

    def _option(self, one: Example) -> list[str]:
        if not one.options:
            return [self._wild()]
        flag, has_value = self.random.choice(one.options)
        return [flag, self._wild()] if has_value else [flag]

    def _other_number(self, word: str) -> str:
        wild = self.random.choice(WILD_NUMBERS)
        return NUMBER.sub(lambda _: wild, word, count=1) if NUMBER.search(word) else self._wild()

    def _wild(self) -> str:
        pool = self.random.choice((WILD_TEXTS, WILD_FILES, WILD_NUMBERS, self.values))
        return self.random.choice(pool)


def state_of(place: Path) -> dict[str, tuple[int, int, int]]:
    """Size, moment and number of every file below a folder."""
    found = {}
    for path in place.rglob("*"):
        if path.name.endswith(("-shm", "-wal")):
            continue  # the database's own, also of a record that is only read
        at = path.lstat()
        found[str(path.relative_to(place))] = (at.st_size, at.st_mtime_ns if path.is_file() else 0, at.st_ino)
    return found


class Sandbox:
    """A folder that is furnished anew when a line has changed it."""

    def __init__(self, folder: Path) -> None:
        self.place, self.furnished = folder / "sandbox", folder / "furnished"
        furnish(self.furnished)
        self.anew()

    @property
    def here(self) -> Path:
        return self.place / "a" / "b"

    def anew(self) -> None:
        os.chdir(self.furnished)
        shutil.rmtree(self.place, ignore_errors=True)
        shutil.copytree(self.furnished, self.here, symlinks=True)
        os.mkfifo(self.here / "pipe.toml")
        self.state = state_of(self.place)

    def changes(self) -> list[str]:
        """Names of files that were made, changed or removed."""
        now = state_of(self.place)
        return sorted(
            name for name in now.keys() | self.state.keys() if now.get(name) != self.state.get(name)
        )


@contextmanager
def unserved() -> Iterator[None]:
    """The bench takes its port, says so and stops."""
    from burnerlab.page import app

    kept = app.serve
    app.serve = lambda bench, listening: listening.socket.close()  # type: ignore[assignment]
    try:
        yield
    finally:
        app.serve = kept


def wrongs(status: int | None, out: str, err: str, changed: list[str]) -> list[str]:
    """What no line may lead to."""
    found = []
    if status not in (0, 1, 2):
        found.append(f"exit status {status}")
    found += [f"says {word}" for word in ("Traceback", "internal error", "Warning:") if word in err]
    if status == 2 and out:
        found.append("prints beside a refusal")
    if status == 2 and changed:
        found.append(f"writes beside a refusal: {changed[:3]}")
    if status == 2 and not err.strip():
        found.append("is refused without a word")
    return found


def _too_long(number: int, frame: Any) -> None:
    raise TimeoutError("no answer in time")


def run_here(line: list[str], sandbox: Sandbox) -> tuple[list[str], float]:
    """What is wrong with a line run in this process, and how long it took [s]."""
    os.chdir(sandbox.here)
    began = time.process_time()
    for alarm, timer, limit in (
        (signal.SIGPROF, signal.ITIMER_PROF, SLOW_s),
        (signal.SIGALRM, signal.ITIMER_REAL, 300.0),
    ):
        signal.signal(alarm, _too_long)
        signal.setitimer(timer, limit)
    with unserved(), warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")
        done = CliRunner().invoke(main, line)
    signal.setitimer(signal.ITIMER_PROF, 0.0)
    signal.setitimer(signal.ITIMER_REAL, 0.0)
    took = time.process_time() - began
    changed = sandbox.changes()
    found = wrongs(done.exit_code, done.stdout, done.stderr, changed)
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        found.append(f"raises {done.exception!r}"[:200])
    found += [
        f"warns {one.category.__name__}: {one.message} ({Path(one.filename).name})" for one in warned[:2]
    ]
    if "internal error" in done.stderr:
        found.append(done.stderr.strip()[:300])
    if changed:
        sandbox.anew()
    return found, took


def run_apart(line: list[str], sandbox: Sandbox) -> list[str]:
    """The same in a process of its own."""
    command = [sys.executable, "-W", "always", "-m", "burnerlab", *line]
    try:
        done = subprocess.run(
            command,
            cwd=sandbox.here,
            capture_output=True,
            timeout=4 * SLOW_s,
            check=False,
            stdin=subprocess.DEVNULL,
        )
    except subprocess.TimeoutExpired:
        return ["does not end"]
    changed = sandbox.changes()
    out, err = (text.decode("utf-8", "replace") for text in (done.stdout, done.stderr))
    found = wrongs(done.returncode, out, err, changed)
    if changed:
        sandbox.anew()
    return found


def port_free(line: list[str]) -> bool:
    """Whether a line may be run as a process: bench and desk would serve until they are stopped."""
    return line[:1] not in (["bench"], ["desk"])


def program(arguments: list[str]) -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("lines", type=int)
    asked.add_argument("--processes", type=int, default=0)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args(arguments)
    changer, statuses, bad = Changer(given.seed), collections.Counter[str](), 0
    longest: list[tuple[float, list[str]]] = []
    with tempfile.TemporaryDirectory() as folder:
        sandbox = Sandbox(Path(folder))
        for number in range(given.lines + given.processes):
            line = changer.line()
            apart = number >= given.lines
            (Path(folder) / "line").write_text(repr(line))
            if apart:
                if not port_free(line):
                    line = ["bench", "missing.toml"]
                found, took = run_apart(line, sandbox), 0.0
            else:
                found, took = run_here(line, sandbox)
            statuses["process" if apart else line[0] if line and line[0] in COMMANDS else "?"] += 1
            longest = sorted([*longest, (took, line)], key=lambda one: -one[0])[:10]
            if found:
                bad += 1
                say(f"{number}: {line!r}: {'; '.join(found)}")
            if number % 1000 == 999:
                say(f"... {number + 1} lines, {bad} wrong")
        os.chdir("/")
    say(f"{given.lines} lines here, {given.processes} as processes, seed {given.seed}: {bad} wrong")
    say(", ".join(f"{name} {count}" for name, count in statuses.most_common()))
    for took, line in longest:
        say(f"{took:.1f} s: {line!r}"[:200])
    return 1 if bad else 0


def say(text: Any) -> None:
    sys.stdout.write(str(text).encode("utf-8", "replace").decode() + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    faulthandler.register(signal.SIGUSR1)  # kill -USR1 tells where a line is that does not end
    sys.exit(program(sys.argv[1:]))
