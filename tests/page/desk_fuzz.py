"""Wrong and odd edits of the desk, in random order: every answer is a page or a refusal, never a defect.

``python tests/page/desk_fuzz.py 600 --seed 1`` runs 600 seconds and prints what failed.
"""

from __future__ import annotations

import argparse
import random
import re
import sys
import tempfile
import time
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import httpx
from desk_client import SMALL, DeskClient

from burnerlab.page.desk_file import digest_of
from burnerlab.page.desk_form import PARTS, schema
from burnerlab.page.desk_state import Desk

VALUES = (
    "", " ", ",", "1,5", "1,250", "-3 mm", "-1", "0", "0 kW", "1e9", "1e400 kW", "9" * 300, "7 psi", "3 kW",
    "12.5 kBtu/h", "20 mbar", "2000 bar", "5 C", "-300 C", "50 %", "-50 %", "1/0 in", "#54", "#999", "1.4 mm",
    "nan", "inf", "true", "eu", "us", "gross", "net", "G20", "G30", "propane", "unknown gas", "tube", "ring",
    "tile", "left tube", "x" * 1000, "a\"b", "a\nb", "\\", "é", "\u202e", "🔥", "elbow = 2", "elbow = x",
    "[1, 2]", "{}", "]", "1,40 mm, #54", "#54, #53", "../x.toml", "2026-02-30", "de", "6", "180", "II2H3+",
    "us-usda", "metric", "1:3", "33 %",
)  # fmt: skip
ACTS = (
    "", "undo", "redo", "undo", "add burner", "add market", "copy burner 1", "copy burner 2", "copy market 1",
    "copy market 99", "remove burner 1", "remove burner 2", "remove market 1", "remove market 2", "up burner 2",
    "down burner 1", "on", "accept", "measured", "close", "apart A", "apart B", "units US", "units metric",
    "ports 99", "open burner[1]", "open burner[2]",
)  # fmt: skip
LINK = re.compile(r'(?:href|src)="(/(?:papers|map|answer|compare|ports|units|at)/?[^"]*)"')
MOST_ENTRIES = 4  # of a list whose number a key has


def keys() -> list[str]:
    """Every key of the schema, each of a list with some number."""
    return [one.replace("[]", "[{}]") for one in schema()]


class Fuzz:
    """Two windows on one file; each step does one thing in one of them."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.random = random.Random(seed)
        self.path = folder / f"stove-{seed}.toml"
        self.keys = keys()
        if self.random.random() < 0.7:
            self.path.write_text(SMALL, encoding="utf-8")
        desk = Desk(self.path)
        self.windows = [DeskClient(desk), DeskClient(desk)]
        self.window = self.windows[0]
        self.said = ""
        for number, one in enumerate(self.windows):
            one.look()
            one.form["window"] = f"window-{number}" if self.random.random() < 0.8 else ""

    def edit(self) -> dict[str, str]:
        """Some keys, most of them of what stands on the page, with odd values."""
        some = list(self.window.fields)
        found = {}
        for _ in range(self.random.choice((1, 1, 1, 2, 5))):
            key = self.random.choice(some if some and self.random.random() < 0.6 else self.keys)
            key = re.sub(r"\{\}", lambda _: str(self.random.randint(1, MOST_ENTRIES)), key)
            known = schema()[re.sub(r"\[\d+\]", "[]", key)]
            likely = (known.example, *known.choices, self.window.fields.get(key, ""))
            found[key] = self.random.choice(likely if self.random.random() < 0.6 else VALUES)
        return found

    def step(self) -> httpx.Response | None:
        """One thing that a person or a broken program does; None where nothing was asked."""
        self.window = self.windows[self.random.random() < 0.15]
        if self.status == 409 and self.random.random() < 0.7:
            self.said = "GET /"
            return self._seen(self.window.look("/"))
        if self.status == 422 and self.random.random() < 0.7:
            self.said = "undo"
            return self._sent("/edit", self.window.form | {"act": "undo"}, {})
        what = self.random.choices(
            ("send", "type", "act", "save", "link", "outside", "look", "draft"), (6, 6, 8, 4, 5, 0.4, 1, 0.4)
        )[0]
        if what == "type":
            edit = self.edit()
            self.said = f"type {edit}"
            return self._sent("/edit", self.window.form | edit, {"accept": "application/json"})
        if what in ("send", "act", "save"):
            edit = self.edit() if what == "send" or self.random.random() < 0.3 else {}
            act = self.random.choice((*ACTS, f"open {self.random.choice(PARTS)}")) if what == "act" else ""
            if what == "save" and self.random.random() < 0.5:
                self.window.form["file"] = digest_of(self.path)
            path = "/edit" if what != "save" else self.random.choice(("/save", "/save", "/download"))
            self.said = f"{path} {act} {edit}"
            more = {"act": act} if act else {}
            on = {f"on-{self.random.randint(0, 3)}": "yes"} if act == "on" else {}
            return self._sent(path, self.window.form | self.window.fields | edit | more | on, {})
        if what == "outside":
            text = self.random.choice((SMALL, "[", "", SMALL.replace("12.5", "13"), "\x00", "\udcff"))
            self.path.unlink(missing_ok=True)
            if self.random.random() < 0.8:
                self.path.write_bytes(text.encode("utf-8", "surrogateescape"))
            return None
        if what == "draft":
            self.said = "draft"
            return self._sent(
                "/take-draft", {"token": self.window.form["token"], "act": self.random.choice("ab")}, {}
            )
        links = [unescape(one) for one in LINK.findall(self.page)] if what == "link" and self.page else []
        links = [one for one in links if "-pdf" not in one]
        address = self.random.choice(links) if links else "/"
        self.said = f"GET {address}"
        return self._seen(self.window.look(address))

    page, status = "", 0

    def _sent(self, path: str, data: dict[str, str], headers: dict[str, str]) -> httpx.Response:
        answer = self.window.request(
            "POST", path, data=data, headers={"origin": "http://127.0.0.1:8742"} | headers
        )
        if headers and answer.status_code in (200, 422):
            made = answer.json()
            self.window.form["base"] = made.get("digest", self.window.form["base"])
            if "rest" in made:
                self.said += " rest"
                return self.window.request("GET", made["rest"])
        window = self.window.form["window"]
        self._seen(self.window._seen(answer))
        self.window.form["window"] = window
        return answer

    def _seen(self, answer: httpx.Response) -> httpx.Response:
        if 'id="desk"' in answer.text:
            self.page = answer.text
        return answer


def run(folder: Path, seed: int, steps: int) -> Iterator[str]:
    """What failed in some steps, with the last things done."""
    fuzz, done = Fuzz(folder, seed), []
    for _ in range(steps):
        try:
            answer = fuzz.step()
            fuzz.status = 0 if answer is None else answer.status_code
        except (RecursionError, ValueError, KeyError) as error:  # of the answer, or of what reads it here
            yield f"seed {seed}: {error!r} after {fuzz.said}"
            return
        done.append(f"{fuzz.said} {'' if answer is None else answer.status_code}")
        if answer is not None and answer.status_code >= 500 and answer.status_code != 503:
            yield f"seed {seed}: {answer.status_code} after\n  " + "\n  ".join(done[-4:])


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("seconds", type=float)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--steps", type=int, default=60)
    asked = parser.parse_args()
    end, seed, found = time.monotonic() + asked.seconds, asked.seed, 0
    with tempfile.TemporaryDirectory() as folder:
        while time.monotonic() < end:
            for line in run(Path(folder), seed, asked.steps):
                sys.stdout.write(f"{line}\n")
                found += 1
            seed += 1
    sys.stdout.write(f"{seed - asked.seed} sequences of {asked.steps} steps, {found} defects\n")


if __name__ == "__main__":
    main()
