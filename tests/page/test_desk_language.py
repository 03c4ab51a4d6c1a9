"""The desk in the invented language: its page, its forms, what it says of a wrong entry, its answers for the script."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from desk_client import SMALL, DeskClient, page_of, written
from invented_language import KEYS, TABLE, TAG, TRANSLATOR, english_left, invented, rows_of_texts, write_texts

from burnerlab.appliance.project.project_text import schema_fields
from burnerlab.bench.record import open_record
from burnerlab.page import desk_language, render
from burnerlab.page.desk_file import draft_of
from burnerlab.page.desk_models import ModelDesk, models_application
from burnerlab.page.desk_state import Desk
from burnerlab.page.page_language import texts_of_script
from burnerlab.tables import rows
from burnerlab.tables.cautions import cautions, closing_cautions
from burnerlab.tables.region import in_terms_of

WRITTEN = (
    "camp stove", "left tube", "right tube", "propane, North America", "natural-gas-typical", "propane", "nogas",
    "nobody", "miles", "market 2", "stove.toml", "stove.sqlite", "tubee", "zz",
)  # fmt: skip
NAMES = (
    *WRITTEN, "burnerlab", TRANSLATOR, "kBtu/h", "us", "eu", "tapered", "in schedule 40",
    "Hs", "hydrogen", "en", "texts.csv", "town-gas", "biogas", "left tube", "psig", "barg", "hPa", "inHg", "mmHg", "oz",
    "bar", "MPa", "cm", "km", "um", "yd", "thou", *(row["policy"] for row in rows("altitude_policies")),
    *(row["kind"] for row in rows("flue_limits")),
)  # fmt: skip
ANSWERS = re.compile(
    r'<div class="follows">.*?(?=<section aria-labelledby="head-tables")|<t[dh][^>]* ?class="answer">.*?</t[dh]>|'
    r'<div class="warnings".*?</div>|<p[^>]* id="(?:state|apart)".*?</p>|<section class="cautions".*?</section>',
    re.DOTALL,
)
"""What follows from the entries, which tests of the answers try."""
WRONG = {
    "burner[1].rate": "x",
    "burner[1].ports.count": "-3",
    "burner[1].throat": "3 miles",
    "burner[1].ports.diameter": "1.6 kg",
    "burner[1].shutter.opening": "300 %",
    "burner[1].kind": "tubee",
    "burner[2].name": "left tube",
    "burner[2].orifice.drill": "#999",
    "burner[2].rate": "",
    "burner[2].count": "0",
    "appliance.region": "zz",
    "supply.gas": "nogas",
    "supply.pressure": "7",
    "supply.altitude": "99999 m",
    "carry_over[1].to": "nobody",
    "limits.altitude_policy": "zz",
    "market[1].supply[1].pressure": "400 psi",
}
PARTS = ("appliance", "supply", "gas", "box", "panel", "tolerance", "optimise", "burner[1]")


def left(page: str) -> list[str]:
    """The texts of a page that hold an English word, without answers, article of the handbook and words to be typed."""
    bare = ANSWERS.sub("", re.sub(r"<article.*?</article>|<code>.*?</code>", "", page, flags=re.DOTALL))
    drawn = "\n".join(re.findall(r"<(?:title|text)\b[^>]*>([^<]*)<", bare))
    hints = "\n".join(re.findall(r' (?:placeholder|title|label)="([^"]*)"', bare))
    return [*english_left(bare, NAMES), *english_left(drawn, NAMES), *english_left(hints, NAMES)]


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> DeskClient:
    """A small appliance, read in the language."""
    folder = tmp_path_factory.mktemp("desk")
    write_texts(folder, rows_of_texts())
    path = folder / "stove.toml"
    path.write_text(SMALL.replace("[appliance]\n", KEYS, 1) + TABLE, encoding="utf-8")
    open_record(folder / "stove.sqlite").close()
    return DeskClient(Desk(path, record=folder / "stove.sqlite"))


def walk(client: DeskClient) -> Iterator[tuple[str, str]]:
    """The pages of the desk by name, from the file as it stands to a draft of another window."""
    desk, newest = client.desk, client.desk.newest
    yield "page", client.look().text
    for part in PARTS:
        yield part, client.send(act=f"open {part}").text
    yield "one market more", client.send(act="add market").text
    yield "compare", client.request("GET", f"/compare?a={newest}&b={desk.newest}").text
    yield "units", client.request("GET", f"/units/{newest}").text
    ports = client.request("GET", f"/ports/{newest}/1").text
    pictures = re.findall(r'src="(/ports/[^"]*)"', ports)
    yield "ports", ports + "".join(client.request("GET", unescape(one)).text for one in pictures)
    yield "no ports", client.request("GET", f"/ports/{newest}/2").text
    yield "no such burner", client.request("GET", f"/ports/{newest}/9").text
    yield "no such text", client.request("GET", "/at/0").text
    start = ModelDesk(desk, client.answers, "http://127.0.0.1:8743/")
    for name, address in (("models", "/"), ("no such model", "/nothing"), ("no line", "/line?low=x&apart=y")):
        yield name, page_of(models_application([start], "metric"), address).text
    yield "no such page", client.request("GET", "/nothing").text
    yield "handbook", client.request("GET", "/handbook/gas").text
    old = dict(client.form)
    client.send(window="other", **{"burner[2].name": "right tube", "burner[2].rate": "15 kBtu/h"})
    client.form = old
    yield "behind", client.send(window="first", **{"burner[2].rate": "16 kBtu/h"}).text
    yield "behind, seen", client.look(f"/at/{newest}").text
    assert desk.path is not None
    text = desk.path.read_text(encoding="utf-8")
    client.look()
    desk.path.write_text(text.replace("15.5 mm", "15.4 mm"), encoding="utf-8")
    client.fields.pop("burner[1].throat")
    yield "not saved", client.send("/save", **{"burner[1].throat": "15.3 mm"}).text
    desk.path.write_text(text, encoding="utf-8")
    yield "the file", client.look("/file").text


@pytest.fixture(scope="module")
def pages(client: DeskClient) -> dict[str, str]:
    return dict(walk(client))


def test_nothing_but_names_and_units_is_left_in_english(pages: dict[str, str]) -> None:
    assert {name: left(page) for name, page in pages.items() if left(page)} == {}
    assert all(f'<html lang="{TAG}">' in page for page in pages.values())
    for name in ("page", "compare", "units", "handbook"):
        assert f'<p lang="{TAG}">' in pages[name][pages[name].index("<footer>") :]  # who translated
    assert invented("newest text") in pages["behind"]
    assert invented("in the file now") in pages["not saved"]


def test_what_is_wrong_with_an_entry_is_in_the_language(client: DeskClient, pages: dict[str, str]) -> None:
    """Beside its field, in the list of what is to be corrected, and where the page is loaded again."""
    client.look("/file")
    found = client.type(**WRONG)
    policies = found["wrong"]["limits.altitude_policy"]
    assert "none, 4-percent-from-sea-level, " in policies, (
        policies
    )  # typed as they are; "none" has a translation
    assert found["wrong"].keys() >= WRONG.keys() - {"burner[2].name", "carry_over[1].to"}
    assert found["english"] == []
    assert not list(english_left("\n".join(found["wrong"].values()), NAMES))
    assert not left("".join(found["parts"][name] for name in ("acts", "status", "problems", "papers")))
    page = client.look(f"/at/{found['digest']}").text
    assert not left(page)
    assert found["wrong"]["burner[1].kind"] in unescape(page)


def test_every_page_names_who_translated_it(client: DeskClient, pages: dict[str, str]) -> None:
    path = client.desk.path
    assert path is not None
    draft_of(path).write_text(
        path.read_text(encoding="utf-8").replace("15.5 mm", "15.2 mm"), encoding="utf-8"
    )
    desk = Desk(path)
    desk.begun_from = desk.text_of(path.read_text(encoding="utf-8").replace("15.5 mm", "15.1 mm"))
    shown = {"draft": DeskClient(desk).request("GET", "/draft").text, **pages}
    draft_of(path).unlink()
    assert invented("typed in the draft") in shown["draft"]
    for name in ("page", "compare", "no such text", "no such page", "behind", "not saved", "draft"):
        assert TRANSLATOR in shown[name].partition("<footer>")[2], name
    assert not left(shown["draft"])


def test_a_slip_is_asked_about_in_the_language(client: DeskClient, pages: dict[str, str]) -> None:
    client.look("/file")
    query = client.type(**{"burner[1].rate": "12.5 kW"})["queries"]["burner[1].rate"]
    assert invented("were exchanged: is the unit right?") in query
    assert "12.5 kBtu/h" in query


def test_a_text_without_translation_is_english_whole_and_named(
    client: DeskClient, pages: dict[str, str]
) -> None:
    """The script marks it by that; a caution of which a sentence is missing stays English whole."""
    texts = [row for row in rows_of_texts() if "exchanged" not in row["english"]]
    gone = closing_cautions("desk")[0]
    texts = [row for row in texts if row["english"] != gone.consequence]
    assert client.desk.path is not None
    write_texts(client.desk.path.parent, texts)
    client.look("/file")
    found = client.type(**{"burner[1].rate": "12.5 kW"})
    query = found["queries"]["burner[1].rate"]
    assert "as if kW and kBtu/h were exchanged" in query
    assert found["english"] == [query]
    page = client.request("GET", f"/compare?a={client.desk.newest}&b={client.desk.newest}").text
    assert f'<li class="caution" lang="en"><strong class="signal">{gone.signal}</strong>' in page
    assert gone.text in unescape(page)
    for one in cautions():
        if one.id != gone.id and one in closing_cautions("desk"):
            assert invented(one.consequence) in unescape(page)
    write_texts(client.desk.path.parent, rows_of_texts())


def test_the_script_has_its_words_beside_it(pages: dict[str, str]) -> None:
    script = re.search(r'<script src="/desk\.js[^>]* data-words="([^"]*)"', pages["page"])
    assert script is not None
    assert json.loads(unescape(script[1])) == {text: invented(text) for text in texts_of_script("desk.js")}


def test_every_key_has_a_label_and_a_help_in_the_table() -> None:
    english = {row["english"] for row in rows_of_texts()}
    words = {
        part
        for one in schema_fields()
        if one.is_writable
        for part in (one.help, *re.split(", | \\d+$", one.label))
        if re.search(r"[^\W\d_]{2,}", part)
    }
    assert words - english == set()


def test_a_desk_without_a_language_translates_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither a page nor an answer to an edit is matched with any text of a table."""

    def refuse(*_: Any) -> str:
        raise AssertionError

    monkeypatch.setattr(render, "in_language", refuse)
    for name in ("in_language", "text_in_language"):
        monkeypatch.setattr(desk_language, name, refuse)
    client = DeskClient(Desk(written(tmp_path)))
    page = client.look().text
    assert set(re.findall(r' lang="([^"]*)"', page)) == {"en"}
    assert "data-words" not in page
    found = client.type(**{"burner[1].rate": "x"})
    assert "not a quantity" in found["wrong"]["burner[1].rate"]
    assert "english" not in found


OF_REGION = {
    "eu": ("injector", r"orifices?|overfires?|flashback|low (?:rate|fire)|leak tests?|responsible body|local code"),
    "us": ("orifice", r"injectors?|light-?back|lights? back|heat inputs?|(?:low|reduced) rate|overload|local code"),
}  # fmt: skip
"""The word for an orifice, and words of the other region or of none."""
KEPT = re.compile(r"orifice ring|[dmV] = [^=<]*= [\d.]+")
NOT_READ = re.compile(r"<(script|style|textarea|option|code|pre)\b.*?</\1>", re.DOTALL)


@pytest.mark.parametrize("region", OF_REGION)
def test_the_desk_has_the_words_of_the_region(region: str, tmp_path: Path) -> None:
    """Its page, what it says of a wrong entry and both answers; names, values and keys stay as they are."""
    text = SMALL.replace("left tube", "orifice ring").replace("gross", "net" if region == "eu" else "gross")
    path = tmp_path / "stove.toml"
    path.write_text(text.replace("[appliance]\n", f'[appliance]\nregion = "{region}"\n', 1), encoding="utf-8")
    client = DeskClient(Desk(path))
    page = client.look().text
    wrong = client.type(**{"burner[1].orifice.drill": "zz"})["wrong"]
    first = client.type(**{"burner[1].orifice.drill": "#54", "burner[1].rate": "12 kBtu/h"})
    rest = client.request("GET", first["rest"]).json()
    texts = {"page": page, "wrong": " ".join(wrong.values())}
    texts |= {name: "\n".join(made["parts"].values()) for name, made in (("first", first), ("rest", rest))}
    shown = {name: read(html) for name, html in texts.items()}
    assert re.search(r"\borifices? ", read(client.request("GET", "/handbook/orifice").text))  # as written
    own, others = OF_REGION[region]
    other = re.compile(rf"(?i)(?<![\w-])(?:{others})(?!\w)")
    left = {name: other.findall(KEPT.sub(" ", one)) for name, one in shown.items()}
    assert {name: hits for name, hits in left.items() if hits} == {}
    assert own in shown["page"].replace("orifice ring", "")
    assert "orifice ring" in shown["page"]
    assert "orifice ring" in shown["rest"]
    assert "burner[1].orifice.drill" in wrong
    assert 'id="burner[1].orifice.drill"' in page
    assert 'value="orifice ring"' in page


NAMED = """\
[appliance]
name   = "orifice cart"
model  = "low rate model"
rating = "gross"
region = "{region}"

[supply]
pressure = "20 mbar"

[gas]
title       = "overfire gas of the low rate"
composition = {{ methane = 0.95, ethane = 0.05 }}
per         = "mole"
source      = "leak test of the low rate"

[[market]]
name   = "low rate & orifice market"
supply = {{ gas = "propane", pressure = "37 mbar" }}

[[burner]]
name = "orifice side"
rate = "3.5 kW"

[[burner]]
name    = "overfire 12 mm low rate"
rate    = "4 kW"
ports   = {{ diameter = "1.6 mm", count = 180 }}
throat  = "15.5 mm"
shutter = {{ opening = "66 %", area = "155 mm2" }}

[[panel]]
name   = "leak test panel"
inside = "150 C"
height = "190 mm"
sheet  = [{{ material = "stainless steel", thickness = "0.8 mm" }}]
"""


@pytest.mark.parametrize("region", OF_REGION)
def test_a_name_stays_as_it_was_typed(region: str, tmp_path: Path) -> None:
    """Of burners, markets, gases, panels: on every page, in both answers and on papers, whatever terms are in it."""
    path = tmp_path / "low rate.toml"
    path.write_text(NAMED.format(region=region), encoding="utf-8")
    client = DeskClient(Desk(path))
    newest = client.desk.newest
    pages = {"page": client.look().text, "opened": client.send(act="open panel").text}
    assert client.desk.newest_entry.problems == ()
    first = client.type(**{"burner[1].rate": "3.6 kW"})
    pages |= {"first": "".join(first["parts"].values())}
    pages |= {"rest": "".join(client.request("GET", first["rest"]).json()["parts"].values())}
    found = client.type(**{"burner[1].name": "overfire 12 mm low rate", "burner[2].throat": "x"})
    pages |= {"wrong": "".join(found["parts"].values()), "loaded": client.look(found["address"]).text}
    pages |= {
        at: client.request("GET", at.format(newest, client.desk.newest)).text
        for at in (
            "/compare?a={0}&b={1}", "/ports/{0}/2", "/ports/{0}/1", "/papers/{0}/A/card", "/papers/{0}/A/injectors",
        )
    }  # fmt: skip
    names = re.findall(r'(?:name|model|title|source) *= "(.*)"', NAMED)
    other = {in_terms_of(region)(name) for name in names} - set(names)
    assert len(other) >= 5
    for place, page in pages.items():
        text = unescape(page).replace("\N{NO-BREAK SPACE}", " ")
        assert [one for one in other if one.lower() in text.lower()] == [], place
    for name in names[:2] + names[4:7]:
        assert name in unescape(pages["page"]).replace("\N{NO-BREAK SPACE}", " ")


def read(page: str) -> str:
    """What is read of a page: its text, and the hints of its tags."""
    bare = NOT_READ.sub(" ", page)
    hints = re.findall(r' (?:aria-label|title|placeholder)="([^"]*)"', bare)
    return " ".join(unescape(" ".join((re.sub(r"<[^>]*>", " ", bare), *hints))).split())
