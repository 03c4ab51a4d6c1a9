"""The live answers of the desk in the invented language: what is left in English is a name, a unit or a key."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from desk_client import SMALL
from invented_language import TAG, english_left, invented, rows_of_texts, write_project, write_texts

from burnerlab.gas import fuels
from burnerlab.page import answer_language
from burnerlab.page.answer_language import AnswerLanguage
from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_state import Desk
from burnerlab.quantity import System
from burnerlab.tables.cautions import caution
from burnerlab.tables.languages import Language
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.translation import Translation

MARKETS = """\
[[market]]                           # above 4500 ft, without an altitude rule
name     = "uplands"
supply   = { gas = "propane", pressure = "11 in w.c." }
altitude = "2500 m"

[[market]]                           # cannot be calculated
name     = "hill"
supply   = { gas = "propane", pressure = "11 in w.c." }
altitude = "2500 m"
altitude_policy = "canada-10-percent"

[[market]]                           # a couple: one orifice for both
name   = "third family"
region = "eu"
supply = [{ gas = "G30", pressure = "29 mbar" }, { gas = "G31", pressure = "37 mbar" }]

[[market]]                           # no orifice serves both
name   = "two families"
supply = [{ gas = "G20", pressure = "20 mbar" }, { gas = "G30", pressure = "29 mbar" }]

"""
SURFACE = """\
[[grate]]
name   = "hotplate"
kind   = "plate"
x      = "120 mm"
y      = "0 mm"
width  = "300 mm"
depth  = "300 mm"
height = "190 mm"

"""
PLACE = 'place    = { x = "120 mm", y = "0 mm", length = "250 mm", height = "90 mm" }\n'
HOT = SMALL.replace('orifice  = { drill = "#54" }', PLACE + 'orifice  = { drill = "#45" }')  # far too large
STOVE = HOT.replace("[[burner]]", MARKETS + "[[burner]]", 1).replace(
    "[[carry_over]]", SURFACE + "[[carry_over]]"
)
NAMES = (
    "camp stove", "left tube", "right tube", "propane, North America", "uplands", "third family", "two families",
    "hill", "hotplate", "kBtu", *sorted(fuels(), key=len, reverse=True),
    # keys of the file
    "4-percent-from-sea-level", "4-percent-from-2000-ft", "2-percent-from-sea-level", "canada-10-percent",
    "canada-5-percent",
)  # fmt: skip
OVERFIRE = "A wrong gas, orifice or pressure can overfire a burner: fire, CO."


def answers_of(path: Path) -> Answers:
    desk = Desk(path)
    desk.draft.is_waiting = True  # nothing is written
    return Answers(desk)


def elements_of(answers: Answers, system: System = "metric", on: tuple[int, ...] = ()) -> dict[str, str]:
    entry = answers.desk.newest_entry
    return {**answers.first(entry, system).html, **answers.whole(entry, system, on).html}


def left(element: str) -> Iterator[str]:
    """The texts of an element that hold an English word, those of its pictures and what is marked as English too."""
    yield from english_left(element, NAMES)
    yield from english_left("\n".join(re.findall(r"<text\b[^>]*>([^<]*)<", element)), NAMES)
    yield from re.findall(r'<[^>]* lang="en".*?>', element)


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> Answers:
    return answers_of(write_project(tmp_path_factory.mktemp("stove"), STOVE))


@pytest.mark.parametrize(("system", "on"), [("metric", ()), ("US", (1,))])
def test_nothing_but_names_and_units_is_left_in_english(
    answers: Answers, system: System, on: tuple[int, ...]
) -> None:
    elements = elements_of(answers, system, on)
    assert {id: found for id, element in elements.items() if (found := list(left(element)))} == {}
    for id, element in elements.items():
        assert re.match(rf'<\w+[^>]* lang="{TAG}"', element), id
    entry = answers.desk.newest_entry
    first = answers.first(entry, system)
    assert set(first.html) == {one.id for one in first.answer.fragments}
    state = elements["state"]
    for words in ("WARNING: Possible overfire:", "Flame not evaluated:", "Until then a flame test decides"):
        assert invented(words.split(":")[0]) in state
    for id in ("apart", "warnings", "heat", "flames", "supply", "open", "look", "present", "cautions"):
        assert re.search("[а-я]{4}", elements[id]), id
    assert invented("above 4500 ft") in elements["market-B"]


def test_ids_figures_and_marks_are_those_of_the_english_answer(answers: Answers) -> None:
    entry = answers.desk.newest_entry
    made = answers.whole(entry, "metric")
    english = made.answer.html()
    for id, element in made.html.items():
        for pattern in (
            r' id="([^"]*)"',
            r"(?<![\w.])\d+(?:\.\d+)?",
            r' href="([^"]*)"',
            r' class="([^"]*)"',
        ):
            assert sorted(re.findall(pattern, element)) == sorted(re.findall(pattern, english[id])), (
                id,
                pattern,
            )


def test_in_english_nothing_of_a_translation_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any) -> str:
        raise AssertionError

    monkeypatch.setattr(answer_language, "in_language", refuse)
    path = tmp_path / "stove.toml"
    path.write_text(SMALL, encoding="utf-8")
    answers = answers_of(path)
    made = answers.first(answers.desk.newest_entry, "metric")
    assert made.html == made.answer.html()
    assert answers.words is None


def test_what_stays_the_same_is_not_translated_again(
    answers: Answers, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of an edit of one burner, only elements with another text."""
    desk, number, known = answers.desk, 0, in_language_of(answers)
    before = elements_of(answers)
    translate = answer_language.in_language

    def counted(*arguments: Any) -> str:
        nonlocal number
        number += 1
        return translate(*arguments)

    monkeypatch.setattr(answer_language, "in_language", counted)
    desk.write(desk.newest, {"burner[2].rate": "14.6 kBtu/h"})
    after = elements_of(answers)
    assert known is in_language_of(answers)
    new = [id for id, element in after.items() if before[id] != element]
    assert "orifice-2-A" in new
    assert "orifice-1-A" not in new
    assert number < len(after)


def in_language_of(answers: Answers) -> object:
    assert answers.words is not None
    return answers.words.language


def test_a_caution_is_whole_in_one_language_with_its_signal_word(tmp_path: Path) -> None:
    """And of the state, sentence by sentence: one without translation is English, whole, and marked."""
    path = write_project(tmp_path, HOT)
    without = (
        OVERFIRE,
        "Until then a flame test decides",
        "WARNING: Possible overfire: {burner} as it stands now {share} %",
    )
    assert caution("overfire").short == OVERFIRE
    write_texts(tmp_path, [row for row in rows_of_texts() if row["english"] not in without])
    elements = {id: unescape(one) for id, one in elements_of(answers_of(path)).items()}
    for id in ("warnings", "cautions"):
        lines = re.findall(r"<(?:li|summary)\b.*?</(?:li|summary)>", elements[id])
        assert any(OVERFIRE in line for line in lines) == (id == "warnings")
        for line in lines:
            assert ("WARNING" in line) == (' lang="en"' in line), line
            if OVERFIRE in line:
                assert line.startswith('<li lang="en"><strong class="signal">WARNING</strong>')
                assert not re.search("[а-я]", line)
    assert re.search("<li><strong[^>]*>[А-Я]+</strong>", elements["cautions"])
    sentence = elements["state"].partition('id="state-sentence">')[2]
    marked = re.findall(r'<span lang="en">(.*?)</span>', sentence)
    assert [re.sub(r"\W*\d.*", "", one) for one in marked] == [
        "WARNING: Possible overfire: left tube as it stands now",
        "Until then a flame test decides",
    ]
    assert invented("not evaluated") in sentence


def test_texts_that_differ_in_figures_are_matched_once() -> None:
    """A figure that a template has in its own words stays one of its words."""
    words = Translation(
        {"{part} of 2 holes": "{part} de 2 agujeros", "set {pressure}": "ajustar a {pressure}"}
    )
    assert words.of("set 29 mbar; set 2.5 mbar") == "ajustar a 29 mbar; ajustar a 2.5 mbar"
    assert words.of("set 37 mbar; set 2.9 mbar") == "ajustar a 37 mbar; ajustar a 2.9 mbar"
    assert words.of("1.5 mm of 2 holes") == "1.5 mm de 2 agujeros"
    assert words.of("1.5 mm of 3 holes") is None


def test_a_line_is_remembered_without_its_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Places may change their order; a name or a fixed figure keeps its figure; drawings stay as they are."""
    words = {
        "{share} % on {gas}": "{gas}: {share} % zz",
        "within 15 C of {temperature}": "15 C zz {temperature}",
        "all on {share}, {more} more": "{more} y {share} todos",
    }
    own = AnswerLanguage(Language(tag="es", translations=words), ("tube 2", "hydrogen-blend-10"))
    seen = list[str]()
    translate = answer_language.in_language

    def counted(html: str, *arguments: Any) -> str:
        seen.append(html)
        return translate(html, *arguments)

    monkeypatch.setattr(answer_language, "in_language", counted)

    def element(text: str, drawing: int = 1) -> str:
        phrase = Phrase("all on {share}, {more} more", share=f"{drawing}.5 %", more=drawing)
        drawn = f'<svg viewBox="0 0 9 9"><path d="M{drawing} 1"/></svg>'
        html = f'<div id="a-{drawing}"><p><b>{text}</b></p>{drawn}{phrase}</div>'
        return own.element(html, lambda: own.names, {str(phrase): phrase})

    first = element("3 % on hydrogen-blend-10")
    drawn = '<svg viewBox="0 0 9 9"><path d="M1 1"/></svg>'
    assert first == (
        f'<div lang="es" id="a-1"><p><b>hydrogen-blend-10: 3\N{NO-BREAK SPACE}% zz</b></p>{drawn}'
        "1 y 1.5\N{NO-BREAK SPACE}% todos</div>"
    )
    number = len(seen)
    again = element("−4.25 % on hydrogen-blend-10", 7)
    assert len(seen) == number
    assert "hydrogen-blend-10: −4.25\N{NO-BREAK SPACE}% zz" in again
    assert "7 y 7.5\N{NO-BREAK SPACE}% todos" in again
    assert '<path d="M7 1"/>' in again
    assert "<b>15 C zz 400 C</b>" in element("within 15 C of 400 C").replace("\N{NO-BREAK SPACE}", " ")
    assert '<span lang="en">within 16 C of 400 C</span>' in element("within 16 C of 400 C").replace(
        "\N{NO-BREAK SPACE}", " "
    )
