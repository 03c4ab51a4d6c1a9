"""Completion in real shells: a terminal in which a line is typed and the tabulator pressed.

bash is everywhere; zsh and fish are tried where they are installed, as CI does.
"""

from __future__ import annotations

import os
import re
import select
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from burnerlab import __file__ as package
from burnerlab.appliance import demonstration_path
from burnerlab.cli import COMMANDS, command_of, main
from burnerlab.cli.completion import SHELLS

pty = pytest.importorskip("pty", reason="a terminal of POSIX")

PATIENCE_s = 60.0  # a busy machine
READY = "ready>"
CODES = re.compile(r"\x1b(\[[0-9;?=>]*[a-zA-Z]|[=>]|\][^\x07]*\x07|\([A-Z])")  # of a terminal
START = {
    "bash": ["bash", "--norc", "--noprofile", "-i"],
    "zsh": ["zsh", "-f", "-i"],
    "fish": ["fish", "--no-config", "-i"],
}


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an appliance file, the program under its name, and the script of each shell."""
    folder = tmp_path_factory.mktemp("home")
    for name in ("range.toml", "Größe der Märkte.toml"):
        (folder / name).write_bytes(demonstration_path().read_bytes())
    program = folder / "bin" / "burnerlab"
    program.parent.mkdir()
    start = f'{shlex.quote(sys.executable)} -c \'from burnerlab.cli import main; main(prog_name="burnerlab")\' "$@"'
    program.write_text(f"#!/bin/sh\nexec {start}\n", encoding="utf-8")
    program.chmod(0o755)
    (folder / "functions").mkdir()
    for shell in SHELLS:
        path = folder / ("functions/_burnerlab" if shell == "zsh" else f"completion.{shell}")
        written = CliRunner().invoke(main, ["completion", shell, "--out", str(path)])
        assert written.exit_code == 0, written.output
    return folder


def environment(home: Path) -> dict[str, str]:
    path = f"{home / 'bin'}{os.pathsep}{os.environ['PATH']}"
    root = str(Path(package).parents[1])
    return os.environ | {
        "PATH": path,
        "PYTHONPATH": root,
        "HOME": str(home),
        "TERM": "dumb",
        "LC_ALL": "C.UTF-8",
        "COLUMNS": "200",
    }


def completed(home: Path, words: list[str], incomplete: str) -> list[str]:
    """What bash's function makes of a line, called as bash calls it."""
    listed = " ".join(map(shlex.quote, ["burnerlab", *words, incomplete]))
    script = (
        f"source completion.bash; COMP_WORDS=({listed}); COMP_CWORD={len(words) + 1};"
        ' _burnerlab_completion burnerlab; printf "%s\\n" "${COMPREPLY[@]}"'
    )
    command = ["bash", "--norc", "--noprofile", "-c", script]
    done = subprocess.run(
        command, cwd=home, env=environment(home), capture_output=True, text=True, check=True
    )
    assert not done.stderr
    return done.stdout.split("\n")[:-1]


LINES = (
    ([], "conv", ["convert"]),
    (["size"], "--gas", ["--gas", "--gas-temperature"]),
    (["size", "--gas"], "propane-h", ["propane-hd5"]),
    (["size", "--gas"], "g2", ["G20", "G21", "G222", "G23", "G231", "G24", "G25", "G26", "G27", "G271"]),
    (["flow", "--drill"], "'#54", ["#54"]),
    (["flow", "--drill"], "1/16", ["1/16 in"]),
    (["convert", "range.toml", "--train"], "", ["new", "reset", "none"]),
    (["convert", "range.toml", "--policy"], "no", ["none"]),
    (["burner", "range.toml", "--burner"], "'griddle tube l", ["griddle tube left"]),
    (["explain", "range.toml", "--burner"], "STOCK", ["stock-pot ring"]),
    (["burner", "range.toml", "--burner", "="], "til", ["tile broiler"]),
    (["burner", "missing.toml", "--burner"], "", []),
    (["injectors", "range.toml", "--country"], "D", ["DE", "DK"]),
    (["handbook"], "exit", ["exit-statuses"]),
    (["verify", "--topic"], "gas_e", ["gas_en437"]),
    (["record"], "bo", []),
    (["settings"], "", ["units", "paper", "forget"]),
    (["settings", "units"], "u", ["us"]),
    (["size", "--units"], "", ["metric", "us"]),
    (["gas", "--per"], "", ["mole", "volume", "mass", "liquid-volume"]),
    (["size", "--at"], "US", ["US_60F_14p73_dry"]),
)  # fmt: skip


@pytest.mark.parametrize(("words", "incomplete", "expected"), LINES)
def test_bash_gets_words_names_and_options(
    home: Path, words: list[str], incomplete: str, expected: list[str]
) -> None:
    found = [one for one in completed(home, words, incomplete) if one]
    assert set(expected) <= set(found)
    assert bool(found) == bool(expected)
    asked = incomplete.strip("'").casefold()
    assert all(one.casefold().startswith(asked) for one in found)


def test_fish_gets_words_of_units_bases_and_states(home: Path) -> None:
    if shutil.which("fish") is None:
        pytest.skip("fish is not installed: its completion was not tried")
    lines = ("size --units ", "gas --per m", "size --at ISO")
    script = "; ".join(
        ("source completion.fish", *(f"complete -C {shlex.quote('burnerlab ' + line)}" for line in lines))
    )
    done = subprocess.run(
        ["fish", "--no-config", "-c", script],
        cwd=home,
        env=environment(home),
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == ["metric", "us", "mass", "mole", "ISO_15_15"]


def every_option() -> Iterator[tuple[str, click.Option]]:
    waiting = [(name, command_of(name)) for name in COMMANDS]
    for name, command in waiting:
        yield from ((name, one) for one in command.params if isinstance(one, click.Option))
        if isinstance(command, click.Group):
            waiting += [(f"{name} {inner}", one) for inner, one in command.commands.items()]


def test_an_option_of_a_few_words_proposes_each_of_them() -> None:
    context = click.Context(main)
    words = {
        (name, one.name): (one.make_metavar(context), one.shell_complete(context, ""))
        for name, one in every_option()
    }
    of_words = {
        key: (form.strip("[]").split("|"), found) for key, (form, found) in words.items() if "|" in form
    }
    assert len(of_words) > 50
    assert not {key: form for key, (form, found) in of_words.items() if [one.value for one in found] != form}


class Terminal:
    """A shell at a terminal of its own."""

    def __init__(self, shell: str, home: Path) -> None:
        self.process, self.handle = pty.fork()
        if self.process == 0:
            os.chdir(home)
            os.execvpe(START[shell][0], START[shell], environment(home))

    def type(self, text: str) -> None:
        os.write(self.handle, text.encode())

    def wait(self, words: str) -> str:
        """What the terminal shows from now until these words stand in it."""
        shown, end = "", time.monotonic() + PATIENCE_s
        while words not in shown:
            ready, _, _ = select.select([self.handle], [], [], max(end - time.monotonic(), 0))
            if not ready:
                raise AssertionError(f"{words!r} is not in {shown!r}")
            shown += re.sub(
                r"\x1b(\[[0-9;?=>]*[a-zA-Z]|[=>]|\][^\x07]*\x07|\([A-Z])",
                "",
                os.read(self.handle, 4096).decode(),
            )
        return shown

    def close(self) -> None:
        os.close(self.handle)
        os.waitpid(self.process, 0)


@pytest.fixture(params=SHELLS)
def terminal(request: pytest.FixtureRequest, home: Path) -> Iterator[tuple[str, Terminal]]:
    shell = request.param
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} is not installed: its completion was not tried")
    made = Terminal(shell, home)
    yield shell, made
    made.close()


SET_UP = {
    "bash": f"PS1='{READY} '; source ./completion.bash\n",
    "zsh": f"PS1='{READY} '; fpath=($PWD/functions $fpath); autoload -Uz compinit; compinit -u -D\n",
    "fish": f"function fish_prompt; echo '{READY} '; end; source ./completion.fish\n",
}


def test_a_tabulator_completes_a_name_with_blanks_so_that_the_line_runs(
    terminal: tuple[str, Terminal],
) -> None:
    shell, at = terminal
    at.type(SET_UP[shell])
    at.type("echo be''gins\n")
    at.wait("begins")
    at.type("printf '<%s>' burnerlab burner range.toml --burner none; echo e''nds\n")
    at.wait("ends")
    at.type("burnerlab burner range.toml --burner stock\t")
    at.wait("ring")
    at.type("\x01printf '<%s>' \x05\n")
    assert "<burnerlab><burner><range.toml><--burner><stock-pot ring>" in at.wait("ring>")


def test_a_file_with_blanks_and_letters_of_other_languages_is_completed_and_its_burners_after_it(
    terminal: tuple[str, Terminal],
) -> None:
    """The second tabulator of a session is answered like the first."""
    shell, at = terminal
    at.type(SET_UP[shell])
    at.type("echo be''gins\n")
    at.wait("begins")
    at.type("burnerlab burner Gr\t")
    at.wait(".toml")
    at.type("--burner tile\t")
    at.wait("broiler")
    at.type("\x01printf '<%s>' \x05\n")
    assert "<burnerlab><burner><Größe der Märkte.toml><--burner><tile broiler>" in at.wait("broiler>")
