"""An edit on the desk: its two answers in processor time, against the same text evaluated with nothing remembered.

The suite runs a few edits. All figures, of so many edits that the 95th percentile is not the worst of them, with the
wall time until Chromium has drawn each answer: ``python tests/benchmarks/test_bench_desk.py``. Those of the
processor alone: ``... 40 processor``; in another language, which has each text of ours as it is: ``... 40 language``;
in the words of Europe: ``... 40 eu``. How fast the machine is at that hour is said before and after.
"""

from __future__ import annotations

import csv
import io
import json
import random
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

from half_open import started

from burnerlab.appliance import convert, demonstration_path, read_appliance_text
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.memory import REMEMBERED
from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_app import tidy_up, warm_up
from burnerlab.page.desk_pages import first_look, parts_of
from burnerlab.page.desk_state import Desk
from burnerlab.tables.catalogue import text_table
from burnerlab.tables.reader import CONTENTS

MARKETS = (
    '[[market]]\nname = "A"\nsupply = { gas = "propane", pressure = "11 in w.c." }\n',
    '[[market]]\nname = "B"\nregion = "eu"\nsupply = { gas = "G30", pressure = "29 mbar" }\n',
    '[[market]]\nname = "C"\nregion = "eu"\nsupply = { gas = "G20", pressure = "20 mbar" }\n',
)
CHROMIUM = next(filter(None, map(shutil.which, ("chromium-headless-shell", "chromium"))), "chromium")
EDITS = 40
READERS = ("processor", "language", "eu")


def text_of(markets: int) -> str:
    """The six burners of the demonstration on so many markets."""
    lines, is_market = [], False
    for line in demonstration_path().read_text(encoding="utf-8").splitlines(keepends=True):
        if line.startswith("["):
            is_market = line.startswith("[[market]]")
        if not is_market:
            lines.append(line)
    return "".join(lines) + "\n" + "\n".join(MARKETS[:markets])


def edits(kind: str) -> Iterator[dict[str, str]]:
    """One changed value after another, as somebody would type them."""
    chance = random.Random(1)
    while True:
        burner = chance.choice((1, 2, 3, 4, 6))
        if kind == "ports":
            yield {f"burner[{burner}].ports.count": str(chance.randint(140, 300))}
        elif kind == "rate":
            yield {f"burner[{burner}].rate": f"{chance.uniform(9, 30):.2f} kBtu/h"}
        else:
            yield {"supply.pressure": f"{chance.uniform(6.5, 7.5):.3f} in w.c."}


@dataclass(slots=True)
class Times:
    """Of the first answer, and of the whole [s]."""

    first: list[float] = field(default_factory=list)
    whole: list[float] = field(default_factory=list)

    def words(self) -> str:
        """Median and 95th percentile of both [ms]."""
        return ", ".join(
            f"{name} {1e3 * at(values, 0.5):.0f}/{1e3 * at(values, 0.95):.0f} ms"
            for name, values in (("first", self.first), ("all", self.whole))
        )


def at(values: list[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


def in_language(text: str, folder: Path) -> str:
    """A project file that is read in another language, its table of texts filled with the English ones."""
    with (folder / "texts.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, CONTENTS["texts"].columns)
        writer.writeheader()
        for row in csv.DictReader(io.StringIO(text_table("qaa").csv)):
            writer.writerow(row | {"translation": row["english"], "translator": "A. Person"})
    line = '[appliance]\nlanguage = "qaa"\n'
    return text.replace("[appliance]\n", line, 1) + '\n[tables]\ntexts = "texts.csv"\n'


def read_by(text: str, reader: str, folder: Path) -> str:
    """A project file as one of ``READERS`` reads it."""
    if reader == "language":
        return in_language(text, folder)
    return text.replace("[appliance]\n", '[appliance]\nregion = "eu"\n', 1) if reader == "eu" else text


def edit_times(markets: int, kind: str, times: int, *, remembers: bool = True, reader: str = "") -> Times:
    """Both answers to edits of one kind, in this process [s of the processor]; remembers: what is equal is kept."""
    found = Times()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "cart.toml"
        path.write_text(read_by(text_of(markets), reader, path.parent), encoding="utf-8")
        desk = Desk(path)
        desk.draft.is_waiting = True  # nothing is written
        answers, look = Answers(desk), first_look(desk)
        warm_up(desk, answers)
        for _, values in zip(range(times), edits(kind), strict=False):
            if not remembers:
                REMEMBERED.forget()
            began = process_time()
            entry = desk.write(desk.newest, values)
            json.dumps(parts_of(desk, answers, entry, look))
            found.first.append(process_time() - began)
            json.dumps(answers.marked(answers.whole(entry, look.system), look.system))
            found.whole.append(process_time() - began)
            tidy_up()  # as the server does once the answer is sent
    return found


def fresh_time() -> float:
    """The same text read, converted and evaluated on one market with nothing remembered [s of the processor]."""
    text = text_of(1)
    REMEMBERED.forget()
    began = process_time()
    evaluate_conversion(convert(read_appliance_text(text), "propane", "11 in w.c."))
    return process_time() - began


def test_an_edit_of_one_burner_is_less_than_everything_anew() -> None:
    fresh = at(edit_times(1, "ports", 4, remembers=False).whole, 0.5)
    times = edit_times(1, "ports", 4)
    ratio = at(times.whole, 0.5) / fresh
    print(
        f"\nports of one burner, one market: {times.words()}; everything anew {1e3 * fresh:.0f} ms; ratio {ratio:.2f}"
    )
    assert ratio < 1.0


def served(markets: int, use: Callable[[str], None]) -> None:
    """A desk that runs as a command of its own."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "cart.toml"
        path.write_text(text_of(markets), encoding="utf-8")
        server, address = started("desk", str(path))
        try:
            use(address)
        finally:
            server.send_signal(signal.SIGINT)
            server.communicate(timeout=60)


DRAWN = """async ([name, text]) => {
  const form = document.getElementById("desk"), field = form.elements[name], began = performance.now();
  const frame = () => new Promise((ok) => requestAnimationFrame(() => setTimeout(() => ok(performance.now() - began))));
  const turned = (waits) => new Promise((ok) => {
    const seen = () => form.classList.contains("waits") === waits && (watch.disconnect(), ok());
    const watch = new MutationObserver(seen);
    watch.observe(form, { attributes: true, attributeFilter: ["class"] });
  });
  const first = turned(true).then(frame), whole = turned(true).then(() => turned(false)).then(frame);
  field.value = text;
  for (const kind of ["input", "change"]) field.dispatchEvent(new Event(kind, { bubbles: true }));
  return [await first, await whole];
}"""
"""From the change of a field until the frame with each answer is drawn [ms], by the clock of the page.

The screen shows that frame up to one frame (16 ms) later. Who types on, and does not leave the field, waits for the
pause of the script, 150 ms, before that.
"""


def wall_times(markets: int, times: int) -> dict[str, Times]:
    """Both answers as somebody sees them in Chromium, drawn [s]; other work may be running."""
    from playwright.sync_api import sync_playwright

    found = {kind: Times() for kind in ("ports", "rate", "pressure")}

    def use(address: str) -> None:
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--headless"])
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.goto(address)
            for kind, kept in found.items():
                for _, values in zip(range(times), edits(kind), strict=False):
                    first, whole = page.evaluate(DRAWN, list(*values.items()))
                    kept.first.append(first / 1e3)
                    kept.whole.append(whole / 1e3)
            browser.close()

    served(markets, use)
    return found


def print_fresh() -> None:
    """How fast the machine is now."""
    print(f"everything anew, one market: {1e3 * min(fresh_time() for _ in range(3)):.0f} ms of the processor")


if __name__ == "__main__":
    COUNT = int(sys.argv[1]) if len(sys.argv) > 1 else EDITS
    READER = sys.argv[2] if len(sys.argv) > 2 else ""
    if READER and READER not in READERS:
        sys.exit(f"{READER} is none of {', '.join(READERS)}")
    print_fresh()
    for number in (1, 3):
        for sort in ("ports", "rate", "pressure"):
            edited = edit_times(number, sort, COUNT, reader=READER)
            print(f"{number} market(s), {sort}, processor: {edited.words()}")
        for sort, seen in ({} if READER else wall_times(number, COUNT)).items():
            print(f"{number} market(s), {sort}, wall in Chromium: {seen.words()}")
    print_fresh()
