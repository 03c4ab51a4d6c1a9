"""Every page of the bench in the invented language: what is left in English is a name, a unit or what was typed."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from invented_language import TAG, TRANSLATOR, english_left, invented, rows_of_texts, write_texts
from two_gases import LP, on_both_gases

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.reading_plan import plan_of
from burnerlab.bench.record import open_record
from burnerlab.page import render
from burnerlab.page.bench_state import Bench
from burnerlab.page.heat_input_test import models_of
from burnerlab.page.page_language import in_language, texts_of_script
from burnerlab.page.security import Gate
from burnerlab.tables import package_dir
from burnerlab.tables.catalogue import ON_PAGES, catalogue
from burnerlab.tables.html_text import page_tree
from burnerlab.tables.languages import Language
from burnerlab.tables.template_text import template_texts

Ask = Callable[[Bench], Any]  # a client of a bench
Fields = Callable[[str], dict[str, str]]  # the hidden fields of the last form of a page
ORIGIN = {"origin": "http://127.0.0.1:8741"}
DEMO = demonstration()
READINGS = {
    "model": "lantern-square-6", "serial": "C-0042", "burner": "stock-pot ring", "tester": "R. Quill", "dial": "50",
    "time1": "214", "time2": "213", "supply_label": "natural-gas-typical", "leak_test": "fluid", "air": "yes",
    "orifice_marks": "as printed",
}  # fmt: skip
HASH = re.compile(r"\b(?=[a-f]*\d)[a-f\d]{8,64}\b")  # of an entry, a file, a plan
TYPED = (
    "C-0042",
    "C-7",
    "C-8",
    "C-9",
    "C-10",
    "R. Quill",
    "Knob tight",
    "U-tube",
    "Bench 2",
    "no such unit",
    "XX",
)
NAMES = (
    *TYPED, "burnerlab", TRANSLATOR, "texts.csv", DEMO.name, DEMO.model, *(one.name for one in DEMO.burners),
    "Stock-pot ring",  # at the beginning of a line
    "propane", "Propane", "natural-gas-typical",  # gases, as the model file names them
    "hPa", "inHg", "mmHg", "MJ", "kWh", "oz", "SHA-256", "UTC",  # units, a method, a time scale
)  # fmt: skip
FLUE = {
    "oxygen": "6",
    "carbon_monoxide": "50 ppm",
    "flue_temperature": "200",
    "see-lift": "no",
    "see-even-flame": "no",
}
WRONG = {
    "dial": "x", "time1": "12 furlongs", "time2": "-3", "turns": "0", "altitude": "99999", "barometer": "100",
    "gas_temperature": "900", "meter_factor": "2,5",
}  # fmt: skip
ALONE = {"method": "manometer", "time1": "", "time2": ""}
WEIGHED = LP | {"method": "scale", "first": "10", "last": "9.8", "burned": "20 min"}


def translated(folder: Path, *without: str) -> Appliance:
    """The demonstration in the language, some texts of it without a translation."""
    rows = [row for row in rows_of_texts() if row["english"] not in without]
    return replace(DEMO, language=TAG, tables=replace(DEMO.tables, texts=write_texts(folder, rows)))


def bench_of(folder: Path, file: Appliance) -> Bench:
    path = folder / "bench.sqlite"
    open_record(path).close()
    plan = plan_of(convert(replace(file, markets=()), "propane", 2740.0))
    return Bench(
        file=path,
        models=models_of([file]),
        gate=Gate(host="127.0.0.1"),
        plans={plan.number: plan},
    )


def walk(bench: Bench, client: Any, hidden_fields: Fields) -> Iterator[tuple[str, str]]:
    """The pages of the bench in each of their states, by name."""

    def get(path: str, **typed: str) -> str:
        return str(client.get(path, params=typed or None).text)

    def post(path: str, **typed: str) -> Any:
        return client.post(path, data=typed, headers=ORIGIN)

    typed, (plan,) = READINGS | {"note": "Knob tight", "instruments": "U-tube"}, bench.plans
    yield "unit", get("/")
    yield "unit, not lit", get("/measure", **typed | {"serial": "", "air": "no", "supply_label": "unread"})
    yield "unit, not complete", get("/measure", **typed | {"leak_test": "elsewhere", "supply_label": ""})
    yield "readings", get("/measure", **typed | {"place": "Bench 2", "dial": "", "time1": ""})
    yield "unit, answered before", get("/", serial="C-0042", place="Bench 2", model=typed["model"])
    bench.models.update(models_of(on_both_gases(bench.models[typed["model"]].appliance)))
    yield "readings of a scale", get("/measure", **typed | LP | {"method": "scale", "units": "US"})
    yield "a weighing, stopped", get("/finding", **typed | WEIGHED | {"serial": "C-10"})
    bench.unrecorded.stops.clear()
    del bench.models[LP["model"]]
    yield "unit, not weighed", get("/measure", **typed | {"method": "scale"})
    yield "readings that are wrong", get("/finding", **typed | WRONG)
    yield "finding", get("/finding", **typed | {"plan": plan})
    yield "finding, low", get("/finding", **typed | {"time1": "232", "units": "US", "manifold": "9 mbar"})
    yield "pressure", get("/finding", **typed | ALONE | {"manifold": "9.9 mbar", "serial": "C-10"})
    bench.unrecorded.stops.clear()
    yield "flame", get("/save", **typed | {"oxygen": "30 %", "carbon_monoxide": "x"})
    yield "photographs", get("/photographs", **typed)
    fitting = bench.plans
    refused = replace(fitting[plan].change, refused=(("stock-pot ring", "none of the list"),))
    bench.take_plans({plan: replace(fitting[plan], change=refused)}, {})
    yield "unit, not fitted", get("/")
    bench.models.update(models_of(on_both_gases(bench.models[typed["model"]].appliance)))
    yield "unit, some not fitted", get("/?plan=X")
    del bench.models[LP["model"]]
    bench.take_plans(fitting, {})
    shown = get("/save", **typed | FLUE)
    yield "save", shown
    entry = post("/save", **hidden_fields(shown)).headers["location"]
    yield "entry, saved", get(entry)
    for path in (entry.split("&")[0], "/record", "/record?q=xyz", "/chart", "/handbook/gas", "/?plan=XX"):
        yield path, get(path)
    for path in ("/unit?serial=C-0042", "/unit?serial=no such unit", "/sheet?serial=C-0042"):
        yield path, get(path)
    yield "stop", get("/stop", **typed | {"stop": "soot", "serial": "C-8"})
    yield "an entry was wrong", get("/wrong", **typed | {"see-soot": "yes", "serial": "C-8", "slip": ""})
    yield "stop of the bench", get("/stop", **typed | {"stop": "odour", "serial": "C-7"})
    bench.unrecorded.stops.clear()
    halted = get("/finding", **typed | {"time1": "150", "time2": "151", "serial": "C-9"})
    stopped = post("/stop", **hidden_fields(halted)).headers["location"]
    yield "stopped", get(stopped)
    release = get("/release", entry=stopped.split("uid=")[1].split("&")[0])
    yield "release", release
    yield "release, not complete", post("/release", **hidden_fields(release)).text
    yield "another unit, stopped", get("/", serial="C-10", model=typed["model"])
    yield "record, stopped", get("/record?units=US")
    yield "no such page", get("/nothing")
    yield "no such entry", get("/entry?uid=1")
    yield "form of another start", post("/save").text
    yield "can only be read", post("/chart").text


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory, client_of: Ask, form_of_page: Fields) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("bench")
    bench = bench_of(folder, translated(folder))
    return dict(walk(bench, client_of(bench), form_of_page))


def left(page: str) -> list[str]:
    """The texts of a page that hold an English word, those of its drawings too, without the article of the handbook."""
    bare = HASH.sub("", re.sub(r"<article.*?</article>", "", page, flags=re.DOTALL))
    drawn = "\n".join(re.findall(r"<(?:title|text)\b[^>]*>([^<]*)<", bare))
    hints = "\n".join(re.findall(r' (?:placeholder|title|label)="([^"]*)"', bare))
    return [*english_left(bare, NAMES), *english_left(drawn, NAMES), *english_left(hints, NAMES)]


def test_nothing_but_names_and_units_is_left_in_english(pages: dict[str, str]) -> None:
    assert {name: left(page) for name, page in pages.items() if left(page)} == {}
    assert len(pages) > 30
    for name, page in pages.items():
        assert f'<html lang="{TAG}">' in page, name
        bare = re.sub(r"<article.*?</article>", "", page, flags=re.DOTALL)
        assert '<span lang="en">' not in bare, name


def test_every_template_and_module_of_the_pages_is_in_the_catalogue() -> None:
    """The words between the tags of a template, found here by three cuts, are words of its rows."""
    english = {one.english for one in catalogue()}
    assert all(f"page/{path.name}".startswith(ON_PAGES) for path in (package_dir() / "page").glob("*.py"))
    for path in (package_dir() / "page" / "templates").iterdir():
        source = path.read_text(encoding="utf-8")
        own = list(template_texts(source))
        assert english.issuperset(own), path.name
        bare = re.sub(
            r"\{%-? block kind %\}.*?\{% endblock %\}|\{#.*?#\}|<code>.*?</code>",
            " ",
            source,
            flags=re.DOTALL,
        )
        bare = re.sub(r"\{[{%].*?[%}]\}", " ", bare, flags=re.DOTALL)
        bare = unescape(re.sub(r"<[^<>]*>", " ", bare))
        words = set(re.findall(r"[^\W\d_]{2,}", re.sub(r'\S+=".*?"', " ", bare)))
        assert words <= set(re.findall(r"[^\W\d_]{2,}", " ".join(own))), path.name
    for path in (package_dir() / "page").glob("*.js"):
        assert english.issuperset(texts_of_script(path.name))


def test_a_page_without_a_language_is_as_its_template_made_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, client_of: Ask, form_of_page: Fields
) -> None:
    """Nothing of the translation runs for it, and the tree that a translation works on loses no sign of it."""

    def refuse(*_: Any) -> str:
        raise AssertionError

    monkeypatch.setattr(render, "in_language", refuse)
    bench = bench_of(tmp_path, DEMO)
    for name, page in walk(bench, client_of(bench), form_of_page):
        assert set(re.findall(r'lang="([^"]*)"', page)) == {"en"}, name
        assert "data-words" not in page
        assert page_tree(page).html == page, name


def test_a_sentence_without_translation_is_english_whole_and_says_so(
    tmp_path: Path, readings: dict[str, str], client_of: Ask
) -> None:
    sentence = "A second and a third timing show how well the timings agree."
    reason = "The gas is not to be guessed."
    without = next(
        one.english for one in catalogue() if one.english.endswith(reason) and one.english != reason
    )
    client = client_of(bench_of(tmp_path, translated(tmp_path, sentence, without)))
    page = client.get("/measure", params=readings).text
    assert re.search(rf'<span lang="en">{sentence} Each figure is in the unit', page)
    page = client.get("/measure", params=readings | {"supply_label": "unread"}).text
    notice = page[page.index('<section class="notice') : page.index("</section>", page.index("notice whole"))]
    assert ' lang="en"' in notice  # the warning with all that belongs to it
    assert "Do not light." in notice
    assert without in unescape(notice)


def test_what_was_typed_is_never_translated(client_of: Ask, tmp_path: Path, readings: dict[str, str]) -> None:
    client = client_of(bench_of(tmp_path, translated(tmp_path)))
    page = client.get("/measure", params=readings | {"serial": "Next unit"}).text
    assert "<strong>Next unit</strong>" in page
    assert f"{invented('Unit')} <strong>" in page


def test_what_a_list_sends_is_no_text_of_the_language(pages: dict[str, str]) -> None:
    """The burner of a chart is known by its name, whatever the list calls it."""
    for name, page in pages.items():
        for tag in re.findall(r"<option[^>]*>", page):
            assert " value=" in tag, name
    sent = re.findall(r' (?:value|name)="([^"]*)"', pages["unit"] + pages["flame"])
    assert not [text for text in sent if re.search("[а-я]", text)]


def test_a_translation_is_escaped() -> None:
    words = {"Save it": '<b title="x">&', "Unit {serial}": "{serial} <i>"}
    language = Language(tag=TAG, translations=words)
    made = in_language('<p title="Save it">Save it</p><p>Unit <b>7 &amp; 8</b></p>', language, ())
    assert made == (
        '<p title="&lt;b title=&#34;x&#34;&gt;&amp;">&lt;b title=&#34;x&#34;&gt;&amp;</p>'
        "<p><b>7 &amp; 8</b> &lt;i&gt;</p>"
    )


def test_the_stopwatch_has_its_words_beside_it(pages: dict[str, str]) -> None:
    script = re.search(r'<script src="/stopwatch\.js[^>]* data-words="([^"]*)"', pages["readings"])
    assert script is not None
    words = json.loads(unescape(script[1]))
    assert words == {text: invented(text) for text in texts_of_script("stopwatch.js")}
    assert "Start" in words
