"""Random edits of the demonstration on the desk in Chromium, each saved: the page against its file converted afresh.

After every answer the page, as the script has changed it, is the page of that text loaded anew, part by part.
After every Save the text of the file differs in the edited value alone, every comment stands where it stood, and each
orifice, heat input, deviation and primary air on the page is what ``convert_market`` and ``evaluate_conversion`` give
for that text with nothing remembered. As a program: ``python tests/page/desk_edits.py 60 --seed 1``.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import ndiff
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

from burnerlab.appliance import Conversion, demonstration_path, read_appliance
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.conversion.refusal import not_to_fit
from burnerlab.appliance.conversion.result import BurnerConversion
from burnerlab.appliance.memory import REMEMBERED
from burnerlab.appliance.project.project_text import ProjectText

if TYPE_CHECKING:
    from playwright.sync_api import Page

IN_QUOTES = re.compile(r'"[^"]*"')
FIGURE = re.compile(r"[+-]?\d[\d ]*(?:\.\d+)?")
ANSWER = re.compile(r'id="((?:orifice|flame)-\d+-[A-Z]+-[a-z-]+)"[^>]*>([^<]*)<')
DRILLS = ("#52", "#53", "#54", "#55", "1.40 mm", "1.55 mm")
LOADED_ANEW = """async () => {
  const anew = new DOMParser().parseFromString(await (await fetch(location)).text(), "text/html");
  const parts = ["#status, #state, #apart, #warnings, #problems, #present, .answer > [id]",
    ".follows [id]:is(section, div), #papers, #cautions"].join(", ");
  const text = (one) => {
    const copy = one.cloneNode(true);
    for (const fold of copy.querySelectorAll("details")) fold.open = false;
    return copy.outerHTML;
  };
  const live = [...document.querySelectorAll(parts)], fresh = [...anew.querySelectorAll(parts)];
  const other = live.filter((one, n) => !fresh[n] || text(one) !== text(fresh[n])).map((one) => one.id);
  return live.length === fresh.length && live.length > 12 ? other : [...other, "parts of the page"];
}"""
"""The ids of the parts that the script has left other than they are on the page of the same text loaded anew."""
BURNERS = (1, 2, 3, 4)  # of the six: tubes and rings, which have ports and a shutter


@dataclass(frozen=True)
class Edit:
    """A key of the file and what is typed into its field."""

    key: str
    value: str


def edit(chance: random.Random, values: Mapping[str, str]) -> Edit:
    """One value as somebody would type it, other than the one that stands there."""
    burner = f"burner[{chance.choice(BURNERS)}]"
    offered = {
        f"{burner}.rate": f"{chance.uniform(9.0, 16.0):.2f} kBtu/h",
        f"{burner}.ports.count": str(chance.randint(140, 260)),
        f"{burner}.ports.diameter": f"{chance.uniform(1.4, 1.8):.2f} mm",
        f"{burner}.throat": f"{chance.uniform(13.0, 17.0):.1f} mm",
        f"{burner}.shutter.opening": f"{chance.randint(40, 90)} %",
        f"{burner}.orifice.drill": chance.choice(DRILLS),
        "market[1].supply[1].pressure": f"{chance.uniform(10.0, 12.0):.2f} in w.c.",
        "supply.pressure": f"{chance.uniform(6.5, 7.5):.2f} in w.c.",
    }
    known = [key for key, value in offered.items() if key in values and values[key] != value]
    key = chance.choice(known)
    return Edit(key, offered[key])


def comment(line: str) -> str:
    """What stands behind the values of a line.

    >>> comment('rate = "12 kBtu/h"  # as marked'), comment('drill = "#54"')
    ('# as marked', '')
    """
    bare = IN_QUOTES.sub("", line)
    return bare[bare.index("#") :] if "#" in bare else ""


def text_differences(before: ProjectText, after: ProjectText, one: Edit) -> Iterator[str]:
    """What else than the edited value differs between two texts of the file."""
    then, now = before.values(), after.values()
    wanted = {**then, one.key: one.value}
    for key in sorted(wanted.keys() | now.keys()):
        if wanted.get(key) != now.get(key):
            yield f"{key}: {now.get(key)!r}, not {wanted.get(key)!r}"
    comments = [[comment(line) for line in text.text.splitlines()] for text in (before, after)]
    if comments[0] != comments[1]:
        yield f"comments: {[line for line in ndiff(*comments) if line[0] != ' ']}"


def page_differences(html: str, path: Path) -> Iterator[str]:
    """Where the page shows another figure than its file converted and evaluated afresh."""
    shown = {id: unescape(text).replace("\N{NO-BREAK SPACE}", " ") for id, text in ANSWER.findall(html)}
    REMEMBERED.forget()
    for market in targets_of(read_appliance(path)):
        converted = evaluate_conversion(convert_market(market)[0])
        for place, burner in enumerate(converted.burners, start=1):
            id = f"orifice-{place}-{market.letter}"
            for part, (printed, wanted) in _figures(converted, burner).items():
                text = shown.get(f"{id}-{part}", "").replace("\N{MINUS SIGN}", "-")
                if not _agrees(text, printed, wanted):
                    yield f"{id}-{part}: the page has {text!r}, the file gives {printed or wanted!r}"


def _figures(c: Conversion, b: BurnerConversion) -> dict[str, tuple[str, tuple[float, ...]]]:
    """Each figure of a cell by the end of its id: the text, or the numbers that stand in it."""
    if b.name in not_to_fit(c):
        return {"mark": ("none fits", ()), "rate": ("", ()), "deviation": ("", ())}
    each = f"{b.orifice_count} × " if b.orifice_count > 1 else ""
    figures: dict[str, tuple[str, tuple[float, ...]]] = {
        "mark": (each + b.choice.drill, ()),
        "rate": ("", (1e-3 * b.predicted_gross_W,)),
        "deviation": ("", (100.0 * b.drill_deviation,)),
    }
    flames = None if c.evaluation is None else c.evaluation.flames_of(b.name)
    warm = None if flames is None else flames.warm_up("new")
    if warm is not None and warm.cold_primary_aeration is not None and warm.hot_primary_aeration is not None:
        air = warm.cold_primary_aeration.value, warm.hot_primary_aeration.value
        figures["air"] = ("", tuple(100.0 * one for one in air))
    return figures


def _agrees(text: str, printed: str, wanted: tuple[float, ...]) -> bool:
    """Whether a text is the one wanted, or its numbers are those wanted as far as they are printed."""
    if not wanted:
        return text == printed
    found = [one.replace(" ", "") for one in FIGURE.findall(text)][: len(wanted)]
    if len(found) < len(wanted):
        return False
    places = [len(one.partition(".")[2]) for one in found]
    return all(
        abs(float(one) - value) <= 0.5000001 * 10.0**-digits
        for one, value, digits in zip(found, wanted, places, strict=True)
    )


def run(page: Page, address: str, path: Path, count: int, seed: int) -> Iterator[tuple[Edit, list[str]]]:
    """So many edits, each typed, answered and saved, with what differs after it."""
    chance = random.Random(seed)
    page.goto(f"{address}/file")
    before = ProjectText(path.read_text(encoding="utf-8"), str(path))
    for _ in range(count):
        one = edit(chance, before.values())
        field = page.locator(f'[name="{one.key}"]')
        field.fill(one.value)
        field.press("Tab")
        page.wait_for_selector(f'[name="{one.key}"][data-key={json.dumps(one.value)}]')
        page.wait_for_selector("#desk:not(.waits)")
        apart = [
            f"{id}: the live page is another than the one loaded anew" for id in page.evaluate(LOADED_ANEW)
        ]
        with page.expect_navigation():
            page.get_by_role("button", name="Save").click()
        page.wait_for_selector("text=Saved.")
        after = ProjectText(path.read_text(encoding="utf-8"), str(path))
        yield one, [*apart, *text_differences(before, after, one), *page_differences(page.content(), path)]
        before = after


def main() -> None:
    from desk_client import served
    from playwright.sync_api import sync_playwright

    engine = next(filter(None, map(shutil.which, ("chromium-headless-shell", "chromium"))), None)
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, nargs="?", default=60)
    parser.add_argument("--seed", type=int, default=1)
    chosen, wrong, start = parser.parse_args(), 0, time.perf_counter()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        path = Path(folder) / "cart.toml"
        path.write_bytes(demonstration_path().read_bytes())
        browser = play.chromium.launch(executable_path=engine, args=["--headless", "--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        for address in served(path):
            for number, (one, found) in enumerate(
                run(page, address, path, chosen.count, chosen.seed), start=1
            ):
                wrong += bool(found)
                for line in found:
                    sys.stdout.write(f"edit {number}, {one.key} = {one.value}: {line}\n")
    spent = time.perf_counter() - start
    sys.stdout.write(f"{chosen.count} edits, {wrong} with differences, {spent:.0f} s\n")
    raise SystemExit(1 if wrong else 0)


if __name__ == "__main__":
    main()
