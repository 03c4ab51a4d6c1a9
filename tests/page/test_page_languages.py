"""STOP notices and cautions of the bench in an invented language: whole, in their order, or English."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from invented_language import TAG, TRANSLATOR, english_left, invented, rows_of_texts, write_texts
from markupsafe import escape

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.reading_plan import plan_of
from burnerlab.bench.stop import CALCULATED, RATED, stop_notice, stop_rows
from burnerlab.page.bench_state import Bench
from burnerlab.page.heat_input_test import models_of
from burnerlab.page.reader_language import Reader, closing_of_page, stop_text
from burnerlab.page.reader_words import NO_BREAK
from burnerlab.tables.cautions import ALWAYS, cautions
from burnerlab.tables.region import in_terms_of

FOREIGN = re.compile(rf'<(?!html)(\w+)[^>]* lang="{TAG}">(.*?)</\1>', re.DOTALL)
ORIGIN = {"origin": "http://127.0.0.1:8741"}
ABOVE = {"time1": "170", "time2": "170.5"}


@pytest.fixture(scope="module")
def appliance(tmp_path_factory: pytest.TempPathFactory) -> Appliance:
    return translated(tmp_path_factory.mktemp("texts"))


def translated(folder: Path, *without: str) -> Appliance:
    """The demonstration, read in the language; some sentences have no translation."""
    rows = [row for row in rows_of_texts() if row["english"] not in without]
    demo = demonstration()
    tables = replace(demo.tables, texts=write_texts(folder, rows))
    return replace(demo, language=TAG, region="eu", tables=tables)


@pytest.fixture
def client_on(bench: Bench, client_of: Callable[[Bench], Any]) -> Callable[..., Any]:
    return lambda *files: client_of(Bench(file=bench.file, models=models_of(files), gate=bench.gate))


def foreign(page: str) -> list[str]:
    """The texts of the elements in the language."""
    parts = (re.sub(r"<[^>]+>", " ", hit[2]) for hit in FOREIGN.finditer(page))
    return [" ".join(unescape(part).replace(NO_BREAK, " ").split()) for part in parts]


@pytest.mark.parametrize("id", ["odour", "soot"])
def test_a_stop_that_is_seen_is_in_the_language(
    id: str, client_on: Callable[..., Any], appliance: Appliance, readings: dict[str, str]
) -> None:
    notice = stop_notice(id)
    page = client_on(appliance).get("/stop", params=readings | {"stop": id}).text
    texts = list(dict.fromkeys(foreign(page)))  # the menu of other reasons has its own caution once more
    head = f"{invented(notice.signal)} {invented(notice.heading)}"
    acts = f"{invented(notice.do_first)} {invented(notice.then)}"
    assert [one for one in texts if one in (head, acts, invented(ALWAYS))] == [head, acts, invented(ALWAYS)]
    for english in (notice.heading, notice.then, ALWAYS):
        assert str(escape(english)) not in page
    assert any(TRANSLATOR in one for one in texts)  # in the footer


def test_every_caution_is_in_the_language_in_its_order(
    client_on: Callable[..., Any], appliance: Appliance, readings: dict[str, str]
) -> None:
    client = client_on(appliance)
    wanted = [f"{invented(one.word)} {invented(one.short)} {invented(one.text)}" for one in cautions()]
    for path in ("/finding", "/save"):
        page = client.get(path, params=readings).text
        assert [one for one in foreign(page) if one in wanted] == wanted
        assert not list(
            english_left(page[page.index('<section class="cautions"') : page.index("</main>")], ())
        )
    first = foreign(client.get("/").text)
    assert any(invented(stop_notice("odour").do_first) in one for one in first)


@pytest.mark.parametrize("system", ["metric", "US"])
def test_a_stop_of_readings_is_in_the_language_before_and_after_it_is_recorded(
    system: str,
    client_on: Callable[..., Any],
    appliance: Appliance,
    readings: dict[str, str],
    form_of_page: Callable[[str], dict[str, str]],
) -> None:
    client = client_on(appliance)
    typed = readings | {
        "method": "manometer",
        "manifold": "30 mbar",
        "time1": "",
        "time2": "",
        "units": system,
    }
    shown = client.get("/finding", params=typed)
    assert 'class="halt"' in shown.text
    made = client.post("/stop", data=form_of_page(shown.text), headers=ORIGIN).headers["location"]
    for page in (shown.text, client.get(made).text):
        texts = foreign(page)
        gas = next(one for one in texts if invented("is connected") in one)
        assert ("12.0 in w.c." if system == "US" else "30.0 mbar") in gas
        assert ("mbar" if system == "US" else "in w.c.") not in gas
        assert not list(english_left(gas, ("in w.c.", "Btu/h", "propane", readings["burner"])))
        assert invented(ALWAYS) in foreign(page)


@pytest.mark.parametrize("id", list(stop_rows()))
def test_every_stop_of_the_table_is_in_the_language(id: str, appliance: Appliance) -> None:
    figures = {
        "gas": "Propane, pure", "burner": "ring", "read": "11.5 kW (39 200 Btu/h) gross", "true": "", "percent": "15 %",
        "against": "rating", "limit": "20 mbar (8.03 in w.c.)", "what": "Leak", "share": "over 99 %", "where": "a leak",
        "by_meter": "", "kind": "outdoor cooking gas appliance", "provenance": "recalled",
    }  # fmt: skip
    if id == "co-high":
        figures |= {"read": "11 830", "limit": "800"}
    if id in ("wrong-gas", "gas-not-ruled-out"):
        figures |= {"true": "14.2 kW (48 500 Btu/h) gross", "percent": "61 % above"}
    notice = stop_notice(id, **figures)
    text = stop_text(notice, "metric", appliance.reader_language)
    assert text.lang == TAG
    names = ("ring", "w.c.")
    assert not list(english_left("\n".join((text.heading, text.do_first, text.then)), names))


@pytest.mark.parametrize(
    "cause",
    [
        "orifices for natural gas in ring (#54), griddle",
        "natural gas is connected with its own regulator; orifices for natural gas in all burners",
        "29.4 mbar (11.8 in w.c.) to 50 mbar (20.1 in w.c.) at the manifold",
        "#54 for 1.300 mm in ring", "orifices of ring and griddle interchanged",
        "gas is lost behind an open burner valve: the meter at rest does not show it",
        "11 revolutions taken, 10 passed: one more", "1 revolution taken, 2 passed: one less",
        "the file is for another altitude than that of the barometer",
        "the volume taken is four times of what a revolution is",
    ],
)  # fmt: skip
def test_a_stop_that_names_a_cause_is_in_the_language(cause: str, appliance: Appliance) -> None:
    true = f"; ring, rated 3 kW (10 200 Btu/h) gross, would fire at 4 kW (13 600 Btu/h) gross if the cause is: {cause}"
    notice = stop_notice(
        "overfire", percent="33 %", against=CALCULATED, read="3 kW (10 200 Btu/h)", true=true
    )
    text = stop_text(notice, "metric", appliance.reader_language, ("ring", "griddle", "natural gas"))
    assert text.lang == TAG
    assert not list(english_left(text.do_first, ("ring", "griddle", "natural gas", "w.c.")))
    assert text.do_first.replace(NO_BREAK, " ").count("3 kW") == 2


def test_a_stop_whose_cause_has_no_translation_is_english_whole(appliance: Appliance) -> None:
    cause = "; ring, rated 3 kW gross, would fire at 4 kW gross if the cause is: the moon"
    notice = stop_notice("overfire", percent="33 %", against=RATED, read="3 kW gross", true=cause)
    text = stop_text(notice, "metric", appliance.reader_language)
    assert (text.lang, text.heading, text.do_first, text.then) == (
        "en",
        notice.heading,
        notice.do_first,
        notice.then,
    )


@pytest.mark.parametrize(("missing", "region"), [("then", "eu"), ("always", ""), ("signal", "eu")])
def test_with_one_sentence_missing_a_stop_is_english_whole(
    missing: str, region: str, client_on: Callable[..., Any], readings: dict[str, str], tmp_path: Path
) -> None:
    """In the English of the reader's region."""
    notice, words = stop_notice("soot"), in_terms_of(region)
    own = replace(translated(tmp_path, str(getattr(notice, missing))), region=region)
    page = client_on(own).get("/stop", params=readings | {"stop": "soot"}).text
    for english in (notice.heading, notice.do_first, notice.then, ALWAYS):
        assert str(escape(words(english))) in page.replace(NO_BREAK, " ")
    assert invented(notice.heading) not in page


def test_two_stops_of_which_one_is_left_in_english_close_once(appliance: Appliance, tmp_path: Path) -> None:
    half = translated(tmp_path, str(stop_notice("soot").then)).reader_language
    own: Any = {"reader": Reader(region="eu", language=half), "names": ()}
    stops = [stop_notice("soot"), stop_notice("light-back")]
    assert [stop_text(one, "metric", half).lang for one in stops] == ["en", TAG]
    assert [one.text for one in closing_of_page(own, stops, "metric")] == [invented(ALWAYS)]
    assert [one.text for one in closing_of_page(own, stops[:1], "metric")] == [str(ALWAYS)]


def test_models_of_different_languages_have_each_its_own_and_lists_are_english(
    client_on: Callable[..., Any], appliance: Appliance, readings: dict[str, str]
) -> None:
    client = client_on(replace(demonstration(), model="E 1", name="English"), appliance)
    asked = readings | {"stop": "soot"}
    heading = invented(stop_notice("soot").heading)
    assert heading not in client.get("/stop", params=asked | {"model": "e-1"}).text
    assert heading in client.get("/stop", params=asked).text
    assert TRANSLATOR not in client.get("/record").text
    assert TRANSLATOR in client_on(appliance).get("/record").text


def test_a_plan_of_a_market_is_read_in_its_language(
    bench: Bench, client_of: Callable[[Bench], Any], appliance: Appliance, readings: dict[str, str]
) -> None:
    """The file of the model is in English, the plan of its market is not; a page without the plan stays English."""
    plan = plan_of(convert(replace(appliance, markets=()), "propane", 2740.0))
    assert plan.language == TAG
    models = models_of([replace(appliance, language="")])
    of_market = Bench(file=bench.file, models=models, gate=bench.gate, plans={plan.number: plan})
    heading = invented(stop_notice("soot").heading)
    shown = readings | {"stop": "soot"}
    assert heading in client_of(of_market).get("/stop", params=shown | {"plan": plan.number}).text
    assert heading not in client_of(of_market).get("/stop", params=shown).text


def test_a_table_that_is_damaged_while_the_bench_runs_leaves_the_stop_in_english(
    client_on: Callable[..., Any], readings: dict[str, str], tmp_path: Path
) -> None:
    own = translated(tmp_path)
    assert own.tables.texts is not None
    client = client_on(own)
    own.tables.texts.write_text("nothing", encoding="utf-8")
    page = client.get("/stop", params=readings | {"stop": "soot"})
    assert page.status_code == 200
    assert str(escape(stop_notice("soot").heading)) in page.text
