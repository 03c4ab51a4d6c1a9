"""The job card: one page, what the meter shows recomputed, the stop box before every figure."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from burnerlab import tables
from burnerlab.appliance import Appliance, convert, demonstration, operate, read_appliance_text
from burnerlab.appliance.conversion.convert import changed
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.project.model import Shutter
from burnerlab.bench.reading.manifold import MEND
from burnerlab.bench.reading.meter import usual_dial
from burnerlab.bench.reading_plan import CarbonMonoxideLimit, plan_of
from burnerlab.bench.row_verdict import row_verdict
from burnerlab.quantity import UserError
from burnerlab.report import SheetOptions, write_sheet
from burnerlab.report.html import card_html_text
from burnerlab.report.pdf import card_pdf_bytes
from burnerlab.report.plan_paper import band_text, plan_paper
from burnerlab.report.sheet.job_card import JOIN, TIE, JobCard, bore_words, card_band
from burnerlab.report.sheet.sections import build_card, build_sheet
from burnerlab.report.sheet.turn_time import dial_times
from burnerlab.report.sheet.wording import lines_of_sheet
from burnerlab.tables.cautions import Signal, caution
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from playwright.sync_api import Browser

BTU_PER_H = 0.29307107  # W, International Table Btu: NIST SP 811, appendix B.8
PROPANE_MJ_PER_M3 = 95.65  # gross at 15 C and 15 C, real gas: ISO 6976 (memory)
STANDARD_PA = 101325.0  # ISO 2533


def twelve_burners() -> Appliance:
    """Twelve burners of which no two are alike, without the train that knows six."""
    cart = demonstration()
    six = [*cart.burners, *cart.burners]
    burners = tuple(
        replace(b, name=f"{b.name} {place}", rate_W=b.rate_W * (1 + 0.01 * place))
        for place, b in enumerate(six, start=1)
    )
    return replace(cart, burners=burners, supply=replace(cart.supply, train=None))


CASES: dict[str, tuple[Callable[[], Appliance], str, str, Any]] = {
    "demonstration": (demonstration, "propane", "11 in w.c.", "metric"),
    "LP in US units": (lambda: replace(demonstration(), region="us"), "propane", "11 in w.c.", "US"),
    "European": (lambda: replace(demonstration(), region="eu"), "G31", "37 mbar", "metric"),
    "twelve burners": (twelve_burners, "propane", "11 in w.c.", "metric"),
}


def cart_in_europe() -> Appliance:
    return replace(demonstration(), region="eu")


def with_a_burner_that_none_fits() -> Appliance:
    """A ring so small that no metric drill comes within 5 % of its rating."""
    cart = demonstration()
    tube, ring = (replace(cart.burners[0], name=name) for name in ("main tube", "side ring"))
    burners = replace(tube, rate_W=7000.0), replace(ring, rate_W=1300.0)
    return replace(cart, region="eu", rating="net", burners=burners, supply=replace(cart.supply, train=None))


PAGES: dict[str, tuple[Callable[[], Appliance], str, str, dict[str, Any]]] = {
    "couple, G30": (cart_in_europe, "G30", "29 mbar", {"category": "3+"}),
    "couple, G31": (cart_in_europe, "G31", "37 mbar", {"category": "3+"}),
    "none fits": (with_a_burner_that_none_fits, "G30", "29 mbar", {"drills": ("metric",)}),
}
"""Beside ``CASES`` for what holds of every card: one page, and the first orifice on the first screen of a phone."""


@pytest.fixture(scope="module")
def pages(cards: dict[str, JobCard]) -> dict[str, JobCard]:
    made = {
        case: build_card(evaluate_conversion(convert(appliance(), gas, pressure, **options)))
        for case, (appliance, gas, pressure, options) in PAGES.items()
    }
    assert made["couple, G30"].outside
    assert made["none fits"].refusal
    return cards | made


@pytest.fixture(scope="module")
def conversions() -> dict[str, Conversion]:
    made = {}
    for case, (appliance, gas, pressure, _) in CASES.items():
        made[case] = evaluate_conversion(convert(appliance(), gas, pressure))
    return made


@pytest.fixture(scope="module")
def cards(conversions: dict[str, Conversion]) -> dict[str, JobCard]:
    return {
        case: build_card(c, date="25 November 2026", system=CASES[case][3]) for case, c in conversions.items()
    }


def test_a_burner_that_is_not_evaluated_is_named_beside_what_is_outside() -> None:
    """A tile without ports or face stands in no other line of the card: nobody may take it for evaluated."""
    cart = demonstration()
    tile = replace(cart.burners[4], name="side tile", ports=None, places=())
    plain = replace(cart, burners=(cart.burners[3], tile), supply=replace(cart.supply, train=None))
    card = build_card(evaluate_conversion(convert(plain, "propane", "11 in w.c.")))
    words = "Not evaluated: stock-pot ring (flame at low rate); side tile (flame, light-back, tile)."
    assert words in card.notes
    assert "side tile (flame" in card_html_text(card)


def test_a_burner_open_at_turndown_alone_is_named_and_one_that_is_evaluated_is_not(
    cards: dict[str, JobCard],
) -> None:
    """The ports of the stock-pot ring take less than 0.3 Pa turned down; its flame at full rate is evaluated."""
    notes = {case: [one for one in cards[case].notes if "Not evaluated" in one] for case in cards}
    assert notes["demonstration"] == ["Not evaluated: stock-pot ring (flame at low rate)."]
    assert notes["LP in US units"] == ["Not evaluated: stock-pot ring (flame at low fire)."]


def test_without_ports_the_shutter_is_left_to_the_flame_test_and_the_label_has_one_unit() -> None:
    cart = demonstration()
    bare = replace(
        cart, burners=(replace(cart.burners[0], ports=None),), supply=replace(cart.supply, train=None)
    )
    c = evaluate_conversion(convert(bare, "propane", "11 in w.c.", altitude_m=1524.0, altitude_policy="none"))
    metric, us = (build_card(c, system=system) for system in ("metric", "US"))
    assert metric.burners[0].shutter == "ports not in the file: burner off and cool, set by flame test"
    label = [card.steps[-1].text.partition("orifices are for ")[2] for card in (metric, us)]
    assert label == ["1524 m only.", "5000 ft only."]  # 1 ft = 0.3048 m: NIST SP 811, B.8


# one page


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("case", [*CASES, *PAGES])
def test_it_is_one_page(
    pages: dict[str, JobCard], pages_of: Callable[[bytes], int], case: str, paper: str
) -> None:
    assert pages_of(card_pdf_bytes(pages[case], paper=paper)) == 1


def test_sixty_different_burners_are_more_than_one_page(
    cards: dict[str, JobCard], pages_of: Callable[[bytes], int], pdf_words: Callable[[bytes], str]
) -> None:
    """What no size of type holds goes on over pages, each with the words that say when to stop."""
    card = cards["twelve burners"]
    made = card_pdf_bytes(replace(card, burners=card.burners * 5))
    pages = pages_of(made)
    assert pages > 1
    words = pdf_words(made)
    assert words.count("recordedtherelease") >= pages


LONG = ("twelve burners", "couple, G30", "couple, G31")
"""Cards with so much OUTSIDE that in letters of 14 px it takes a phone's first screen; what is read comes first."""


@pytest.mark.browser
@pytest.mark.parametrize("case", [*CASES, *PAGES])
def test_a_phone_shows_the_first_orifice_on_its_first_screen_and_the_page_prints_on_one(
    browser: Browser, pages: dict[str, JobCard], tmp_path: Path, pages_of: Callable[[bytes], int], case: str
) -> None:
    path = tmp_path / "card.html"
    path.write_text(card_html_text(pages[case]), encoding="utf-8")
    page: Any = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(path.as_uri())
    for paper in ("A4", "Letter"):
        assert pages_of(page.pdf(format=paper)) == 1, paper
    layouts = page.evaluate(
        "[...document.querySelectorAll('.stop-box li')].map(e => getComputedStyle(e).display)"
    )
    assert set(layouts) == {"inline"}  # one after another, so that a box of what is outside has its place
    sizes = (".stop-box li", ".card-steps li", ".stop-box p")
    page.emulate_media(media="print")
    printed, steps, box = (
        page.evaluate(
            "name => Math.min(...[...document.querySelectorAll(name)]"
            ".map(e => parseFloat(getComputedStyle(e).fontSize)))",
            one,
        )
        for one in sizes
    )
    assert printed >= box
    assert pages[case].refusal or printed >= steps  # no caution is smaller than a step
    page.emulate_media(media="screen")
    smallest = page.evaluate(
        "[['.stop-box li, .card-outside'], ['.card-steps li']].map(([name]) => Math.min(99,"
        " ...[...document.querySelectorAll(name)].map(e => parseFloat(getComputedStyle(e).fontSize))))"
    )
    assert pages[case].refusal or smallest[0] >= smallest[1] >= 14.0  # read at arm's length
    box = page.locator(".orifice").first.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < (1.2 * 844 if case in LONG else 844)
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    page.close()


# what the meter shows


def _seconds(text: str) -> list[float]:
    return [float(figure) for figure in re.findall(r"[\d.]+", text)]


@pytest.mark.parametrize(
    ("case", "volume_m3", "meter_Pa"),
    [  # an inlet of 10 in w.c. is that of the present 7 in w.c.: a meter of the new gas stands at its nominal pressure
        ("demonstration", 0.010, 2739.98),
        ("LP in US units", 0.5 * 0.3048**3, 2739.98),
        ("European", 0.010, 3700.0),
        ("twelve burners", 0.010, 2739.98),  # no train
    ],
)
def test_the_seconds_are_volume_times_heating_value_over_heat_input(
    conversions: dict[str, Conversion],
    cards: dict[str, JobCard],
    case: str,
    volume_m3: float,
    meter_Pa: float,
) -> None:
    """t = V H/I with H of an ideal gas at the meter's pressure: its compression factor is 0.1 % of it."""
    c, card = conversions[case], cards[case]
    heat = PROPANE_MJ_PER_M3 * 1e6 * (STANDARD_PA + meter_Pa) / STANDARD_PA
    by_name = {b.name: b for b in c.burners}
    for row in card.burners:
        rate_W = by_name[row.names[0]].rate_gross_W
        turns = [volume_m3 * heat / (rate_W * share) for share in (1.05, 0.95)]
        inward = [turns[0] + 0.5, turns[1] - 0.5]  # printed in whole seconds, none of them outside
        assert _seconds(row.seconds) == pytest.approx(inward, rel=1e-3, abs=0.9)
        (time,) = _seconds(row.expected)
        assert turns[0] < time < turns[1]


@pytest.mark.parametrize("case", [one for one in CASES if one != "twelve burners"])
def test_the_plan_on_paper_has_the_dial_and_the_times_of_the_card(
    conversions: dict[str, Conversion], cards: dict[str, JobCard], case: str
) -> None:
    """A technician at the meter reads seconds, on whichever of the two papers: for each burner and all together."""
    c, card, system = conversions[case], cards[case], CASES[case][3]
    plan = plan_of(c)
    paper = plan_paper(plan, "", system, times=dial_times(c, None, system))
    (table,) = paper.tables
    assert table.lead in card.meter
    turns = {row.names[0]: (untied(row.expected), untied(row.seconds)) for row in card.burners}
    together = next(row for row in card.readings if "All burners on" in row.what)
    turns["all burners together"] = untied(together.expected).partition(": ")[2], untied(together.band)
    rows = {row[0]: row for row in table.rows}
    cold = [one for one in plan.rows if one.quantity == "heat_input_gross" and one.state != "cold"]
    for one in cold:
        name = one.burner or "all burners together"
        if name in turns:
            cells = (untied(cell).partition(": ")[2].partition(" or ") for cell in rows[one.id][4:6])
            (expected, _, mass), (band, _, masses) = cells
            assert (expected, band) == turns.pop(name), name
            ends = [end / c.to_gas.gross_heating_value_J_per_kg for end in (one.predicted, one.low, one.high)]
            in_hours = [3600.0 / (0.45359237 if system == "US" else 1.0) * end for end in ends]
            assert _seconds(f"{mass} {masses}") == pytest.approx(in_hours, rel=5e-3)  # three digits
    assert not turns
    low = next(row for row in table.rows if plan.rows[int(row[0]) - 1].quantity.startswith("low_rate"))
    assert " min " in untied(low[4])
    assert paper.stop_box == card.stop_box  # who may do it, when to stop and every warning
    assert not any("several alike" in note for note in paper.notes)  # no row counts several


def test_a_burner_of_several_alike_is_timed_as_the_plan_has_it() -> None:
    """One of four, every other off: a kind that is on together takes more of the pressure, and its head says so."""
    cart = demonstration()
    tube, ring = replace(cart.burners[0], count=4), cart.burners[3]
    train = cart.supply.train
    assert train is not None
    assert train.manifold is not None
    manifold = replace(train.manifold, spacings_m=train.manifold.spacings_m[:2])
    supply = replace(cart.supply, train=replace(train, manifold=manifold))
    c = evaluate_conversion(
        convert(replace(cart, burners=(tube, ring), supply=supply), "propane", "11 in w.c.")
    )
    card, kind = build_card(c, system="metric"), c.burners[0]
    row = next(r for r in plan_of(c).rows if r.quantity == "heat_input_gross" and r.state == "cold")
    assert row.which == 1
    assert "Each of several alike has its rows" in plan_paper(plan_of(c), "", "metric").notes[0]
    assert row.predicted is not None
    assert untied(card.burners[0].power) == f"{row.predicted / 1e3:.2f} kW"
    heat = PROPANE_MJ_PER_M3 * 1e6 * (STANDARD_PA + 2739.98) / STANDARD_PA
    assert _seconds(card.burners[0].expected) == pytest.approx([0.010 * heat / row.predicted], rel=3e-3)
    assert kind.headline.deviation_alone is not None
    assert kind.aim_gross_W * (1.0 + kind.headline.deviation_alone) < row.predicted * 0.998
    pages = str(build_sheet(c))
    assert "'All of its kind on'" in pages
    assert "'New gas, all of its kind on'" in pages
    assert ", all 4 of its kind on " in next(f.text for f in c.findings if f.topic == "heat input")
    assert c.job is not None
    cases = {one.case for one in operate(c.job.appliance).inputs}
    assert cases == {"", "all of its kind on", "alone"}


def test_the_first_burner_of_the_demonstration_by_hand(cards: dict[str, JobCard]) -> None:
    """12.5 kBtu/h within 5 %: 10 L of propane at 27.4 mbar gauge, 15 C."""
    rate_W = 12500 * BTU_PER_H
    at = 0.010 * PROPANE_MJ_PER_M3 * 1e6 * (STANDARD_PA + 2739.98) / STANDARD_PA
    assert _seconds(cards["demonstration"].burners[0].seconds) == pytest.approx(
        [at / (1.05 * rate_W), at / (0.95 * rate_W)], abs=1.0
    )


def test_the_dial_is_the_regions_or_the_one_entered(conversions: dict[str, Conversion]) -> None:
    c = conversions["demonstration"]
    usual, entered = build_card(c), build_card(c, dial_m3=2 * 0.3048**3)
    assert "10 L (last drum of the counter; another dial has another time), Propane" in usual.meter
    assert "meter at 27.4 mbar gauge, 15.0 °C, 0 m" in usual.meter
    assert "56.63 L (as entered)" in entered.meter
    in_feet = build_card(c, system="US")  # without a region the dial of the reader's units
    assert "0.5 ft3 (test dial of a house meter; another dial has another time), Propane" in in_feet.meter

    assert usual_dial("us").volume_m3 == pytest.approx(0.5 * 0.3048**3)
    assert {row["region"] for row in tables.rows("meter_dials")} == {"us", "eu", ""}
    for row in tables.rows("meter_dials"):
        assert float(row["low"]) <= float(row["value"]) <= float(row["high"])


NEW_TRAIN = """[new_supply]
gas = "natural-gas-typical"
pressure = "4 in w.c."
inlet = "7 in w.c."
regulator = { set = "4 in w.c." }
"""


@pytest.mark.parametrize(
    ("rest", "words"),
    [
        ("", "the engineer enters inlet and regulator in [new_supply]."),
        (NEW_TRAIN, "meter at 17.4 mbar gauge"),  # 7 in w.c.
    ],
)
def test_where_the_pressure_at_a_meter_is_entered_stands_beside_its_time(rest: str, words: str) -> None:
    """A meter of natural gas stands ahead of the appliance's regulator; one of LP gas behind that of its cylinder."""
    text = (
        'appliance = {name = "x", rating = "gross"}\nsupply = {gas = "propane", pressure = "11 in w.c."}\n'
        'burner = [{name = "a", rate = "12 kBtu/h", orifice = {drill = "#61"}}]\n'
    )
    file = read_appliance_text(text + rest)
    meter = build_card(convert(file, "natural-gas-typical", "4 in w.c.")).meter
    assert words in meter
    assert ("[new_supply]" in meter) is not bool(rest)
    assert "weigh the cylinder" not in meter
    of_cylinder = build_card(convert(file, "butane-n", "11 in w.c.")).meter
    assert "inlet" not in of_cylinder
    assert "weigh the cylinder" in of_cylinder


def test_the_limit_of_carbon_monoxide_that_a_user_names_stands_on_the_card(
    conversions: dict[str, Conversion],
) -> None:
    c = next(iter(conversions.values()))
    limit = CarbonMonoxideLimit(limit=1e-3, scope="an invented limit of this shop")
    bands = [build_card(c, carbon_monoxide=one).readings[-1].band for one in (None, limit)]
    assert bands == [
        f"your standard: ____; bench: 800{TIE}ppm",
        f"at most 1000{TIE}ppm (an invented limit of this shop)",
    ]


def test_a_dial_too_large_for_a_burner_is_said_and_its_times_have_one_form(
    conversions: dict[str, Conversion],
) -> None:
    """1 ft3 at 9 to 30 kBtu/h of propane, about 2500 Btu/ft3, is 5 to 17 min."""
    card = build_card(conversions["LP in US units"], system="US", dial_m3=0.3048**3)
    assert card.meter.startswith("A turn takes more than 5 min: use a smaller dial")
    for row in card.burners:
        low, high = row.seconds.split(" to ")
        assert ("min" in low) == ("min" in high)
        assert " " not in low + high + row.power
    assert any("min" in row.seconds for row in card.burners)


def test_a_dial_no_meter_has_is_refused(conversion: Conversion, tmp_path: Path) -> None:
    with pytest.raises(UserError, match="accepted range"):
        write_sheet(conversion, tmp_path, ("card",), SheetOptions(dial_m3=1e-9))
    assert list(tmp_path.iterdir()) == []


# what goes in


def test_equal_burners_share_a_row_and_no_orifice_is_lost(
    conversions: dict[str, Conversion], cards: dict[str, JobCard]
) -> None:
    for case, card in cards.items():
        c = conversions[case]
        assert sorted(one for row in card.burners for one in row.names) == sorted(b.name for b in c.burners)
        assert sum(row.orifices for row in card.burners) == sum(b.count * b.orifice_count for b in c.burners)
        for row in card.burners:
            taken = [b for b in c.burners if b.name in row.names]
            stays = {" stays" * (b.choice.diameter_m == b.from_orifice_m) for b in taken}
            assert {b.choice.drill + end for b in taken for end in stays} == {row.put_in}
            assert (row.take_out == "nothing") == (stays == {" stays"})
    pair = cards["demonstration"].burners[0]
    assert pair.names == ("griddle tube left", "griddle tube right")
    assert (pair.take_out, pair.put_in, pair.orifices) == ("#54", "1.00 mm", 2)
    assert len(cards["twelve burners"].burners) == 12


def test_orifices_that_stay_are_read_and_none_is_changed() -> None:
    """A market that burns the present gas at the present pressure."""
    cart = replace(demonstration(), burners=demonstration().burners[:1])
    sized = convert(cart, "natural-gas-typical", "7 in w.c.")
    assert sized.job is not None
    same = changed(cart, sized.job.target)
    card = build_card(evaluate_conversion(convert(same, "natural-gas-typical", "7 in w.c.")))
    assert [(b.take_out, b.put_in) for b in card.burners] == [
        ("nothing", f"{sized.burners[0].choice.drill} stays")
    ]
    steps = " ".join(step.text for step in card.steps)
    assert "read the mark of every orifice; each stays" in steps
    assert "change every orifice" not in steps


def test_the_bore_stands_with_the_tolerance_of_its_drill(conversions: dict[str, Conversion]) -> None:
    """+0/-0.0005 in up to 1/8 in: ASME B94.11M, general purpose twist drills (memory)."""
    burner = conversions["demonstration"].burners[0]
    assert bore_words(burner, "metric") == "1.000 mm +0 −0.013"
    assert (
        bore_words(burner, "US") == "1.000 mm +0 −0.013"
    )  # the drill is 1.00 mm: one unit of a bore on a line
    ring = next(one for one in conversions["demonstration"].burners if one.choice.drill == "#57")
    assert bore_words(ring, "US") == "0.0430 in +0 −0.0005"


def test_the_shutter_starts_where_it_stands_when_that_holds(cards: dict[str, JobCard]) -> None:
    shutters = {row.names[0]: row.shutter for row in cards["demonstration"].burners}
    assert re.fullmatch(r"66\s% \(64 to 98\)", shutters["griddle tube left"])
    assert shutters["tile broiler"] == "not in the file: burner off and cool, set by flame test"


def test_a_shutter_without_limits_has_the_opening_of_the_file(conversions: dict[str, Conversion]) -> None:
    """No window of openings is known for a tile; what the file has of its shutter stands there all the same."""
    c = conversions["demonstration"]
    assert c.job is not None
    burners = tuple(
        replace(one, shutter=Shutter(opening=1.0, full_area_m2=3.2e-4)) if one.name == "tile broiler" else one
        for one in c.job.appliance.burners
    )
    made = replace(c, job=replace(c.job, appliance=replace(c.job.appliance, burners=burners)))
    shutters = {row.names[0]: row.shutter for row in build_card(made).burners}
    assert shutters["tile broiler"].startswith("100 % in the file, limits not evaluated")


# cautions and steps


def test_the_stop_box_stands_before_every_figure(
    conversions: dict[str, Conversion], cards: dict[str, JobCard]
) -> None:
    for case, card in cards.items():
        warnings = [one for one in lines_of_sheet(conversions[case]) if one.signal == Signal.WARNING]
        assert [one.id for one in card.stop_box.warnings] == [one.id for one in warnings]
        assert (
            conversions[case].region or list(card.stop_box.warnings) == warnings
        )  # else in the words of the region
        assert len(warnings) >= 7
        page = card_html_text(card)
        first = page.index("Put in")
        for words in (
            card.stop_box.who,
            "<strong>Stop:</strong>",
            *(w.line.partition(": ")[2] for w in card.stop_box.warnings),
        ):
            assert page.index(words) < first, words


def test_every_prompt_has_its_words_on_the_card(cards: dict[str, JobCard]) -> None:
    for row in tables.rows("prompts"):
        assert 20 < len(row["short"]) <= 100, row["name"]
        assert set(re.findall(r"\{(\w+)\}", row["short"])) <= set(re.findall(r"\{(\w+)\}", row["text"]))
        if row["caution"]:
            assert caution(row["caution"]).id == row["caution"]
    card = cards["demonstration"]
    words = {row["short"].partition("{")[0] for row in tables.rows("prompts")}
    assert all(
        any(step.text.startswith(one) for one in words if one) or "gathers low" in step.text
        for step in card.steps
    )
    leak = next(step for step in card.steps if step.text.startswith("Leak test before lighting"))
    assert (leak.signal, leak.hazard) == ("WARNING", "Leaking gas can explode.")


def test_a_step_of_the_users_own_is_printed_as_it_is(make_conversion: Callable[..., Conversion]) -> None:
    card = build_card(make_conversion(prompts=("Paint it green.",)))
    assert [step.text for step in card.steps] == ["Paint it green."]


def untied(text: str) -> str:
    """A text with plain spaces."""
    return text.replace(TIE, " ").replace(JOIN, "")


def test_pressures_in_the_order_of_the_work(cards: dict[str, JobCard]) -> None:
    rows = {row.what: (untied(row.expected), untied(row.band)) for row in cards["demonstration"].readings}
    assert TIE in cards["demonstration"].readings[0].band  # no figure is parted from its unit
    assert list(rows)[:3] == ["Manifold, all on", "Supply test range", "Manifold, all off"]
    assert rows["Manifold, all on"] == (
        "27.1 mbar",
        "25.5 to 29.3 mbar; outside it: stop; above 32.3 mbar: gas off at once",
    )
    assert rows["Supply test range"] == ("for tests, not to set", "20.0 to 32.3 mbar")
    assert rows["Manifold, all off"] == ("31.3 mbar", "at most 32.3 mbar")
    assert rows["Air-free CO; O2"][0] == "not calculated"


def test_the_setting_band_keeps_every_heat_input_in_its_band(conversions: dict[str, Conversion]) -> None:
    """I = k sqrt(p) through a fixed orifice (Bernoulli): at an end of the band the first burner reaches its own."""
    for case, c in conversions.items():
        band = card_band(c)
        low, high = band.low_Pa, band.high_Pa
        assert low is not None
        assert high is not None
        assert c.evaluation is not None
        solved = c.evaluation.pressures_of("new")
        at = c.to_gauge_pressure_Pa if solved is None else solved.manifold_gauge_pressure_Pa
        on = [b.headline.deviation_all_on for b in c.burners]
        now = [b.drill_deviation if one is None else one for b, one in zip(c.burners, on, strict=True)]
        for end, ratio in ((min, low), (max, high)):
            reached = [(1.0 + one) * (ratio / at) ** 0.5 - 1.0 for one in now]
            assert end(reached) == pytest.approx(0.05 if end is max else -0.05, abs=1e-3), case
            assert abs(end(reached)) <= 0.05 + 1e-5, (
                case
            )  # of a plan's six digits; alone a burner is in its own too
        assert low < at < high
        assert c.to_gauge_pressure_high_Pa is None or high < c.to_gauge_pressure_high_Pa


def test_one_system_of_units(cards: dict[str, JobCard]) -> None:
    """Behind the line of the change, which carries both, a card in US units has none but that of a metric drill."""
    card = cards["LP in US units"]
    figures = " ".join(
        (
            *(f"{'' if b.put_in.endswith('mm') else b.bore} {b.power}" for b in card.burners),
            card.meter,
            *(f"{r.expected} {r.band}" for r in card.readings),
        )
    )
    figures = untied(figures)
    assert not re.search(r"\d (mbar|kPa|kW|mm|L|kg/h|°C|m)\b", figures)
    assert "Btu/h" in figures
    assert "in w.c." in figures


def test_what_a_user_wrote_is_text(
    hostile: Conversion, pages_of: Callable[[bytes], int], pdf_words: Callable[[bytes], str]
) -> None:
    card = build_card(hostile)
    page = card_html_text(card)
    assert "<img src=x" not in page
    assert "&lt;img src=x onerror" in page
    made = card_pdf_bytes(card)
    assert pages_of(made) == 1
    assert "<imgsrc=xonerror=alert(1)>" in pdf_words(made)


def test_a_burner_that_no_drill_fits_has_no_size_and_its_manifold_no_band(
    pdf_words: Callable[[bytes], str],
) -> None:
    """I = k sqrt(p) (Bernoulli): where a burner is outside its band at the pressure that is set, so is the pressure."""
    c = evaluate_conversion(convert(with_a_burner_that_none_fits(), "G30", "29 mbar", drills=("metric",)))
    assert card_band(c).high_Pa is None  # the nearest drill, 0.60 mm, gives more than 5 % above the rating
    card = build_card(c)
    assert [b.put_in for b in card.burners] == ["nothing yet", "none fits"]
    assert not any(b.seconds or b.power or b.pieces for b in card.burners)
    assert [bool(b.bore) for b in card.burners] == [False, True]  # why none fits
    stop = "STOP. Fit nothing, light nothing: no injector fits side ring. An engineer decides first."
    assert untied(card.refusal) == stop
    offered = replace(
        c, burners=tuple(replace(b, no_drill_meets="") for b in c.burners)
    )  # as on a second gas
    for refused in (card, build_card(offered)):  # nothing to do, tick, time or set; nothing to light
        page = untied(card_html_text(refused))
        assert page.index(stop) < page.index("none fits")
        assert (refused.steps, refused.readings, refused.sign, refused.meter) == ((), (), (), "")
        assert (page.count(refused.labels.tick), page.count(refused.labels.reading)) == (0, 0)
        assert not {"gas-leak", "flame", "carbon-monoxide"} & {one.id for one in refused.stop_box.warnings}
    made = pdf_words(card_pdf_bytes(card))
    assert stop.replace(" ", "") in made
    why = "no pressure band: side ring exceeds 105 % of its rating at the expected pressure with 0.60 mm; do not fit"
    above = "above 35.0 mbar: gas off at once"
    assert MEND in build_card(replace(c, region="")).notes
    rows = [row for row in plan_of(c).rows if row.quantity == "manifold_pressure"]
    assert {row.burner: band_text(row, "metric", 3500.0) == f"not evaluated: {why}; {above}" for row in rows} == {
        "main tube": False, "side ring": True, "": True,
    }  # fmt: skip
    assert all((row.low is None and row.high is None) == (row.burner != "main tube") for row in rows)
    assert row_verdict(rows[-1], 2900.0, 20.0) is Verdict.NOT_EVALUATED
