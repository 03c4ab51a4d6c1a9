"""Examples of the texts with places, as papers and pages print them: what ``text_examples.csv`` holds, gathered anew.

A plug-in of pytest; each run adds what its tests print, and a row stays while its text does:

    PYTHONPATH=tests python -m pytest -p no:xdist -p text_examples \\
        tests/report/test_languages.py tests/page/test_bench_language.py tests/page/test_page_languages.py
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping

from invented_language import LETTERS

from burnerlab.page.page_language import FIRST_NAME, NAMED, PageLanguage
from burnerlab.tables import rows
from burnerlab.tables.catalogue import catalogue
from burnerlab.tables.folders import data_dir
from burnerlab.tables.phrase import Phrase, filled, pattern, places
from burnerlab.tables.translation import FIRST_MARK, MARK, Translation

HEADS = ("english", "example", "source", "place", "provenance")
ORIGIN = ("appliance-rules", "papers and pages of invented appliances", "computed")
LONGEST, MOST = 240, 8
UNREADABLE = re.compile(
    rf"[{''.join(map(chr, LETTERS.values()))}]|[<>{{}}]|[\ue000-\uf8ff\U000f0000-\U0010ffff]"
)  # the invented language, marks of what is filled in later
printed: dict[str, list[str]] = {}
figures: list[str] = []  # and names, of the text that is being translated: signs stand for them meanwhile
names: list[str] = []


def note(template: str, text: str) -> None:
    text = MARK.sub(lambda hit: figures[ord(hit[0]) - FIRST_MARK], text) if figures else text
    text = NAMED.sub(lambda hit: names[ord(hit[0]) - FIRST_NAME], text) if names else text
    kept = printed.setdefault(template, [])
    if len(kept) < MOST and len(text) <= LONGEST and text not in kept and not UNREADABLE.search(text):
        kept.append(text)


def likeness(template: str, text: str) -> tuple[bool, bool, int]:
    """How far a text is from an example that helps: brackets and places that are filled whole come first."""
    hit = pattern(template).fullmatch(text)
    values = list(hit.groupdict().values()) if hit else []
    is_torn = any(value.count("(") != value.count(")") or value[:1] in ",;:%)" for value in values)
    return is_torn or not hit, "" in values, len(text)


def write() -> None:
    """The table with a row for each text of the catalogue that was printed, now or before."""
    before = {row["english"]: row["example"] for row in rows("text_examples")}
    with (data_dir() / "text_examples.csv").open("w", encoding="utf-8", newline="") as stream:
        stream.write("# a text with places as it was printed; tests/text_examples.py gathers them\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(HEADS)
        for one in catalogue():
            found = printed.get(one.english) or list(filter(None, (before.get(one.english),)))
            best = min(found, key=lambda text: likeness(one.english, text), default=None)
            if places(one.english) and best is not None and not likeness(one.english, best)[0]:
                writer.writerow((one.english, best, *ORIGIN))


def pytest_configure() -> None:
    make, mark, fill = Phrase.__new__, Translation._with_figures_marked, Translation._filled
    mark_names = PageLanguage._marked

    def made(cls: type[Phrase], template: str, /, **values: object) -> Phrase:
        phrase = make(cls, template, **values)
        note(template, str(phrase))
        return phrase

    def marked(self: Translation, text: str, kept: list[str]) -> str:
        done = mark(self, text, kept)
        figures[:] = kept
        return done

    def named(self: PageLanguage, text: str) -> tuple[str, list[str]]:
        done, kept = mark_names(self, text)
        names[:] = kept
        return done, kept

    def filled_in(self: Translation, template: str, values: Mapping[str, str], depth: int) -> str | None:
        done = fill(self, template, values, depth)
        if done is not None:
            note(template, filled(template, values))
        return done

    Phrase.__new__ = made
    Translation._with_figures_marked = marked
    Translation._filled = filled_in
    PageLanguage._marked = named


def pytest_unconfigure() -> None:
    write()
