"""What the desk shows equals what the appliance room answers, on every market and after every edit.

The check values are those of ``convert`` and ``evaluate_conversion`` for the same appliance: they prove that the page
shows what was calculated, not that a burner does it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from html import unescape
from html.parser import HTMLParser

import numpy as np
import pytest
from desk_market import Market
from forbidden_words import claims, unguarded

from burnerlab.appliance import (
    Appliance,
    Burner,
    ConversionTarget,
    convert,
    demonstration,
    read_appliance_text,
)
from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.gas import load
from burnerlab.page.desk_answer import LAYOUT, DeskAnswer, changes_between, first_answer, whole_answer
from burnerlab.page.desk_findings import NOW, OpenQuestions, look_first, topics_of
from burnerlab.page.desk_flames import FlamePanels
from burnerlab.page.render import page
from burnerlab.page.result_text import minus
from burnerlab.quantity import System
from burnerlab.report.sheet.checks import finding_range
from burnerlab.tables.cautions import caution, cautions
from burnerlab.tables.verdict import Verdict

HOME = Market(
    letter="A", name="home", target=ConversionTarget(gas=load("propane"), gauge_pressure_Pa="11 in w.c.")
)
CONTINENT = Market(
    letter="B",
    name="continent",
    target=ConversionTarget(gas=load("G30"), gauge_pressure_Pa="29 mbar", category="3+"),
)


def _with(change: Callable[[Burner], Burner], name: str, of: Appliance | None = None) -> Appliance:
    cart = of or demonstration()
    burners = (change(b) if b.name == name else b for b in cart.burners)
    return replace(cart, burners=tuple(burners))


def _shallow(burner: Burner) -> Burner:
    """With ports outside their rule, on which no flame margin depends."""
    assert burner.ports is not None
    assert burner.ports.diameter_m is not None
    return replace(burner, ports=replace(burner.ports, depth_m=0.5 * burner.ports.diameter_m))


EDITS: dict[str, Callable[[], Appliance]] = {
    "as it is": demonstration,
    "rate": lambda: _with(lambda b: replace(b, rate_W=1.3 * b.rate_W), "stock-pot ring"),
    "rate doubled, ports of another shallow": lambda: _with(
        lambda b: replace(b, rate_W=2.0 * b.rate_W), "rear burner", of=_with(_shallow, "stock-pot ring")
    ),
    "no ports, two orifices": lambda: _with(
        lambda b: replace(b, ports=None, orifice=replace(b.orifice, count=2)), "rear burner"
    ),
}


@cache
def _answers(edit: str, system: System = "metric") -> tuple[DeskAnswer, DeskAnswer]:
    cart = EDITS[edit]()
    first = first_answer(cart, [HOME.of(cart), CONTINENT.of(cart)], system)
    return first, whole_answer(first)


@cache
def _conversion(edit: str, market: Market) -> Conversion:
    return evaluate_conversion(convert_to(EDITS[edit](), market.target))


class _Ids(HTMLParser):
    """The text of every element with an id."""

    VOID = frozenset({"use", "circle", "path", "img", "input", "br", "rect", "line"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: dict[str, str] = {}
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        id = dict(attrs).get("id") or ""
        if id:
            self.ids.append(id)
            self.texts[id] = ""
        if tag not in self.VOID:
            self.open.append(id)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        for id in filter(None, self.open):
            self.texts[id] += data


def _read(answer: DeskAnswer) -> _Ids:
    found = _Ids()
    for html in answer.html().values():
        found.feed(html)
    assert not found.open
    return found


def _number(text: str) -> float:
    match = re.search(r"[−+]?\d+(\.\d+)?", text)
    assert match, text
    return float(match[0].replace("−", "-"))


@pytest.mark.parametrize("edit", EDITS)
@pytest.mark.parametrize("market", [HOME, CONTINENT], ids=lambda market: market.name)
def test_the_orifices_are_those_of_the_conversion(edit: str, market: Market) -> None:
    first, whole = _answers(edit)
    for answer in (first, whole):
        for place, b in enumerate(_conversion(edit, market).burners, start=1):
            texts, id = answer.texts, f"orifice-{place}-{market.letter}"
            assert texts[f"{id}-mark"].endswith(b.choice.drill)
            assert texts[f"{id}-mark"].startswith("2 × ") == (b.orifice_count == 2)
            assert _number(texts[f"{id}-rate"]) == pytest.approx(b.predicted_gross_W / 1e3, rel=5e-3)
            assert _number(texts[f"{id}-deviation"]) == pytest.approx(100 * b.drill_deviation, abs=0.0501)


@pytest.mark.parametrize("edit", EDITS)
@pytest.mark.parametrize("market", [HOME, CONTINENT], ids=lambda market: market.name)
def test_the_flames_are_those_of_the_evaluation(edit: str, market: Market) -> None:
    """The worst margin by name with its band; the air cold to hot; each case of the supply."""
    c, texts = _conversion(edit, market), _answers(edit)[1].texts
    assert c.evaluation is not None
    for place, b in enumerate(c.burners, start=1):
        flame = f"flame-{place}-{market.letter}"
        each = re.findall(r"[−+]?\d+\.\d", texts[f"{flame}-supplied"])
        cases = [b.headline.deviation_all_on, b.headline.deviation_alone]
        assert [float(one.replace("−", "-")) for one in each] == pytest.approx(
            [100 * case for case in cases if case is not None], abs=0.0501
        )
        assert texts[f"{flame}-supplied-verdict"] == b.headline.verdict
        flames = c.evaluation.flames_of(b.name)
        warm = None if flames is None else flames.warm_up("new")
        if b.kind.traits.is_radiant:
            tile = next(t for t in c.evaluation.tiles if t.burner == b.name and t.which_gas == "new")
            assert tile.face_temperature_K is not None
            face = tile.face_temperature_K.value - 273.15
            assert _number(texts[f"{flame}-margin"]) == pytest.approx(face, abs=0.51)
        elif warm is None:
            assert texts[f"{flame}-margin"] == ""
            assert texts[f"{flame}-verdict"] == Verdict.NOT_EVALUATED
        else:
            band = warm.nearest_margin
            assert band is not None
            assert texts[f"{flame}-margin"].startswith(warm.nearest_limit)
            value, low, high = (float(one) for one in re.findall(r"\d+\.?\d*", texts[f"{flame}-margin"]))
            assert (value, low, high) == pytest.approx((band.value, band.low, band.high), rel=0.06)
            air = re.findall(r"\d+", texts[f"orifice-{place}-{market.letter}-air"])
            ends = [warm.cold_primary_aeration, warm.hot_primary_aeration]
            assert [int(one) for one in air] == [round(100 * end.value) for end in ends if end is not None]


@pytest.mark.parametrize("edit", EDITS)
def test_every_address_is_there_once_and_holds_its_text(edit: str) -> None:
    for answer in _answers(edit):
        found = _read(answer)
        assert not [id for id, count in Counter(found.ids).items() if count > 1]
        for fragment in answer.fragments:
            assert fragment.id in found.texts
        shown = {id: " ".join(text.split()) for id, text in found.texts.items()}
        missing = {id: text for id, text in answer.texts.items() if text and shown.get(id) != text}
        assert not missing


@pytest.mark.parametrize("edit", EDITS)
def test_what_is_outside_is_never_left_out(edit: str) -> None:
    texts = _answers(edit)[1].texts
    state = texts["state-sentence"]
    seen = 0
    for market in (HOME, CONTINENT):
        for f in _conversion(edit, market).findings:
            if f.verdict is Verdict.OUTSIDE:
                topic = "heat input" if "heat input" in f.topic else f.topic.split(" at ")[0]
                slug = re.sub("[^a-z0-9]+", "-", topic).strip("-")
                place = "now" if f.which_gas == "present" or "present" in f.topic else market.letter
                place = "now" if f.topic == "heat input in operation" else place
                assert texts[f"look-{slug}-{place}"] == Verdict.OUTSIDE
                assert "OUTSIDE" in state or "overfire" in state
                assert topic in state or "overfire" in state
                assert (
                    not edit.startswith("rate doubled")
                    or place != "now"
                    or f"{topic} as it stands now" in state
                )
                seen += 1
    assert seen, "the butane market has yellow tips outside"
    assert "(tile broiler) on B" in state, "however many there are, the worst has its burner and market"


@pytest.mark.parametrize("edit", EDITS)
def test_the_cell_of_a_burner_names_each_of_its_checks_that_is_outside(edit: str) -> None:
    texts, beside = _answers(edit)[1].texts, 0
    for market in (HOME, CONTINENT):
        c = _conversion(edit, market)
        for place, b in enumerate(c.burners, start=1):
            id = f"flame-{place}-{market.letter}"
            topics = {f.topic.removeprefix("tile: ") for f in c.outside_of(b)}
            assert set(filter(None, texts[f"{id}-outside"].split(", "))) == topics
            marks = texts[f"{id}-verdict"], texts.get(f"{id}-beyond", "")
            assert (Verdict.OUTSIDE in marks) == bool(topics)
            beside += f"{id}-beyond" in texts
    assert beside or not edit.startswith("rate doubled"), "port depth is outside where the flame is near"


def test_what_is_not_evaluated_of_the_present_gas_says_so_and_a_map_is_no_question() -> None:
    cart = replace(demonstration(), region="eu")  # whose usual pressures give the present gas no highest one
    whole = whole_answer(first_answer(cart, [CONTINENT.of(cart)], "metric"))
    open_ = next(one for one in whole.fragments if isinstance(one, OpenQuestions))
    places = {one.topic: one.markets for one in open_.questions}
    assert places["lock-up"] == NOW
    assert "heat distribution" not in places


@pytest.mark.parametrize("edit", EDITS)
def test_a_value_stands_by_the_burner_that_has_it(edit: str) -> None:
    """Each deviation of the heat input under a burner's name is one of that burner's checks, on each market."""
    whole, seen = _answers(edit)[1], 0
    for row in re.findall(r"<tr>.*?</tr>", whole.html()["look"], flags=re.DOTALL):
        head, *cells = row.split("<td")
        if ">heat input" not in head:
            continue
        names = re.findall(r'class="who">([^<]*)', head)
        for cell, market in zip(cells[-2:], whole.markets, strict=True):
            value = re.search(r'id="look-heat-input-\w-value"[^>]*>([^<]*)', cell)
            if value is None:
                continue
            burner = [*re.findall(r'class="who">([^<]*)', cell), *names][0].partition(", worst of")[0]
            checks = [f for c in market.conversions for f in c.findings if f.burner == burner]
            values = [f.value for f in checks if "heat input" in f.topic and f.value is not None]
            assert values, burner
            assert min(abs(each - _number(value[1])) for each in values) < 0.0501
            seen += 1
    assert seen
    look = look_first(whole.markets, topics_of(whole.markets))
    own = [(line, mark) for line in (*look.outside, *look.near) for mark in line.marks if mark.range]
    assert own  # a limit stands with the market it is of, where those of the markets differ
    for line, mark in own:
        places = [m for m in whole.markets if mark.letter in (m.letter, NOW)]
        found = [f for m in places for c in m.conversions for f in c.findings if line.topic in f.topic]
        assert mark.range in {minus(finding_range(f)) for f in found}
        assert not line.range


def test_a_burner_above_its_band_is_said_first() -> None:
    """A rating cut by half makes the present orifice overfire: state and warnings begin with it."""
    cart = _with(lambda b: replace(b, rate_W=0.5 * b.rate_W), "stock-pot ring")
    whole = whole_answer(first_answer(cart, [HOME.of(cart)], "metric"))
    assert whole.texts["state-sentence"].startswith(
        "WARNING: Possible overfire: stock-pot ring as it stands now"
    )
    first = next(text for id, text in whole.texts.items() if id.startswith("warning-"))
    assert first == f"Possible overfire (now). {caution('overfire').short}"
    values = re.findall(r"<li><span[^>]*>([^<]*)", whole.html()["warnings"].partition("<details>")[2])
    assert values[0].startswith("Possible overfire: stock-pot ring as it stands now, +")


def test_a_market_that_cannot_be_used_says_why_beside_the_others() -> None:
    wrong = Market(
        letter="B", name="wrong", target=ConversionTarget(gas=load("propane"), gauge_pressure_Pa="4 bar")
    )
    first = first_answer(demonstration(), [HOME, wrong], "metric")
    whole = whole_answer(first)
    assert whole.texts["orifice-1-A-mark"] == "1.00 mm"
    assert whole.texts["orifice-1-B-verdict"] == Verdict.NOT_EVALUATED
    assert "B (wrong) cannot be calculated" in whole.texts["state-sentence"]
    assert "B cannot be calculated" in whole.html()["market-B"]
    assert _read(whole).ids
    again = first_answer(demonstration(), [HOME, wrong, replace(wrong, letter="C", name="too")], "metric")
    assert "B (wrong), C (too) cannot be calculated: " in again.texts["state-sentence"]
    assert "C cannot be calculated, for the same reason as B." in again.html()["market-C"]


def test_a_reason_that_differs_in_figures_is_said_once_with_its_markets() -> None:
    """A tile with too small a throat: the share of air that leaves the table of tile flames differs by gas."""
    cart = _with(lambda b: replace(b, throat_m=0.016), "tile broiler")
    whole = whole_answer(first_answer(cart, [HOME.of(cart), CONTINENT.of(cart)], "metric"))
    lines = [text for id, text in whole.texts.items() if re.fullmatch(r"open-\d+-why", id)]
    bare = [re.sub(r"^[A-Z]: |\d+(?:\.\d+)?", "", line) for line in lines if "tile flames" in line]
    assert bare
    assert len(bare) == len(set(bare))


def test_an_edit_of_one_burner_changes_its_texts_and_those_of_the_whole() -> None:
    before, after = _answers("as it is"), _answers("rate")
    assert not changes_between(before[0], before[0])
    changed = changes_between(before[0], after[0])
    assert {"orifice-4-A-mark", "orifice-4-B-mark", "market-A-total"} <= changed
    assert all(re.match("orifice-4-|market-|state", id) for id in changed)
    assert "flame-4-A-margin" in changes_between(before[1], after[1])


def test_a_market_of_two_gases_shows_the_worse_of_both() -> None:
    """One orifice, two conversions: the smallest margin by its gas, what is outside on either, each gas's supply."""
    second = ConversionTarget(gas=load("G31"), gauge_pressure_Pa="37 mbar", category="3+")
    whole = whole_answer(first_answer(demonstration(), [replace(CONTINENT, others=(second,))], "metric"))
    texts, conversions = whole.texts, whole.markets[0].conversions
    assert [c.to_gas.name for c in conversions] == ["G30", "G31"]
    assert [b.choice.drill for b in conversions[0].burners] == [
        b.choice.drill for b in conversions[1].burners
    ]
    margins = {}
    for c in conversions:
        assert c.evaluation is not None
        flames = c.evaluation.flames_of("griddle tube left")
        assert flames is not None
        warm = flames.warm_up("new")
        assert warm is not None
        margins[c.to_gas.name] = warm.nearest_margin
    worst = min(margins, key=lambda gas: margins[gas].value if margins[gas] else np.inf)
    assert texts["flame-1-B-moment"].endswith(f"on {worst}")
    assert texts["supply-B1-1-all-on"] != texts["supply-B2-1-all-on"]
    edited = EDITS["rate"]()
    again = first_answer(edited, [replace(CONTINENT, others=(second,)).of(edited)], "metric")
    assert {"orifice-4-B-remark-1", "orifice-4-B-remark-2"} <= changes_between(whole, again)
    assert {"panel-1-B1-air", "panel-1-B2-air"} <= set(texts)
    letters = next(part for part in whole.fragments if isinstance(part, FlamePanels)).letters
    assert [(letter, words.rpartition(": ")[2]) for letter, words in letters] == [
        ("B1", "G30 at 29.0 mbar"),
        ("B2", "G31 at 37.0 mbar"),
    ]
    outside = {
        f.topic.split(" at ")[0] for c in conversions for f in c.findings if f.verdict is Verdict.OUTSIDE
    }
    assert all(topic in texts["state-sentence"] for topic in outside)
    assert not [id for id, count in Counter(_read(whole).ids).items() if count > 1]


RATES_ALONE = """
[appliance]
name = "new appliance"
rating = "gross"
[supply]
gas = "natural-gas-typical"
pressure = "7 in w.c."
[[burner]]
name = "ring"
rate = "30 kBtu/h"
[[market]]
name = "home"
supply = [{ gas = "propane", pressure = "11 in w.c." }]
"""


def test_rates_and_a_gas_are_enough_for_an_orifice() -> None:
    """The orifice is that of the same burner that has one now; what is not known is said."""
    cart = read_appliance_text(RATES_ALONE, "new.toml")
    whole = whole_answer(first_answer(cart, targets_of(cart), "metric"))
    texts = whole.texts
    assert (
        texts["orifice-1-A-mark"] == _answers("as it is")[0].texts["orifice-4-A-mark"]
    )  # the ring of 30 kBtu/h
    assert re.fullmatch(r"not given; \d\.\d+ mm, calculated for its rate", texts["present-1-orifice"])
    assert not [id for id in texts if re.match("look-.*-now", id)]
    assert texts["state-sentence"].startswith("Flame not evaluated: ring (ports not given: enter ports,")
    assert "present orifice: not given" in whole.html()["open"]
    assert "The file gives no cooking surface" in whole.html()["heat"]
    assert "Nothing before the manifold is described" in whole.html()["supply"]


def test_american_units() -> None:
    texts = _answers("as it is", "US")[1].texts
    b = _conversion("as it is", HOME).burners[0]
    assert texts["orifice-1-A-rate"] == "12 300 Btu/h"
    assert b.predicted_gross_W / 0.29307107 == pytest.approx(12300, abs=50)  # Btu/h, NIST SP 811
    assert texts["orifice-1-A-mark"] == "1.00 mm"  # a metric hole keeps its millimetres for every reader
    assert texts["orifice-1-A-bore"] == "exact 1.006 mm"


def _spoken(html: str) -> Iterator[str]:
    for text in re.split(r"</?(?:p|li|td|th|h2|summary|dd|dt|caption|div)[^>]*>", html):
        yield " ".join(re.sub("<[^>]*>", "", text).split())


@pytest.mark.parametrize("edit", EDITS)
def test_no_answer_claims_or_endangers(edit: str) -> None:
    for answer in _answers(edit):
        for html in answer.html().values():
            assert not [hit for text in _spoken(html) for hit in claims(text)]
            spoken = [
                text for text in _spoken(html) if not any(one.text in unescape(text) for one in cautions())
            ]
            assert not [text for text in spoken if unguarded(text)]
            assert "style=" not in html
            assert "<script" not in html


def test_the_layout_names_what_stands_beside_the_burners() -> None:
    first, whole = _answers("as it is")
    beside = [fragment.id for fragment in whole.fragments if not re.search("-[A-Z]$", fragment.id)]
    assert sorted(beside) == sorted(LAYOUT)
    assert {fragment.id for fragment in first.fragments} <= {fragment.id for fragment in whole.fragments}
    marks = page("desk_answer_marks")
    for html in whole.html().values():
        for name in re.findall('href="#([^"]*)"', html):
            assert f'id="{name}"' in marks


def test_the_first_answer_needs_no_evaluation() -> None:
    first, _ = _answers("as it is")
    assert all(m.conversion is not None and m.conversion.evaluation is None for m in first.markets)
    plain = convert(demonstration(), "propane", "11 in w.c.")
    assert first.markets[0].conversion == plain
