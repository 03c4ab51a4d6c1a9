"""Kits of every market: counts and numbers of the conversion, masses only where they are stated, a list to weigh by."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from burnerlab.appliance import Appliance, demonstration, demonstration_path, read_appliance_text
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.conversion.refusal import DECIDES, TEST_DECIDES, not_to_fit
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.study.injector_table import injectors, market_supplies
from burnerlab.appliance.study.plate_fields import NO_ORIFICE, rating_plate
from burnerlab.bench.kit import Kit, kit_text, read_kit, read_kit_text
from burnerlab.bench.kit_list import NO_SCALE, KitList, kit_list
from burnerlab.cli import main
from burnerlab.orifice.drill import drill_list
from burnerlab.quantity import UserError
from burnerlab.report.injector_paper import injector_paper
from burnerlab.report.kit_paper import kit_paper, leaflet_heads
from burnerlab.report.sheet.checks import outside_checks
from burnerlab.report.sheet.sections import build_card
from burnerlab.report.study_paper import paper_html
from burnerlab.tables.verdict import Verdict

PARTS = """name = "conversion kit"
scale = { resolution = "0.1 g", repeatability = "0.05 g" }
part = [
  { name = "regulator spring", mass = "12.4 g", scatter = "0.1 g", code = "SP-3" },
  { name = "label", count = 2, mass = "1.9 g", scatter = "0.02 g" },
]
"""
CART = demonstration()


@pytest.fixture(scope="module")
def stock(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All number drills as parts, and two of the ring, which none of them fits: each a hundredth of its number
    heavier than 4 g, scatter 40 mg."""
    own = {"145": "1.45 mm", "155": "1.55 mm"}
    return _stock(
        tmp_path_factory.mktemp("stock"), {one.name[1:]: one.name for one in drill_list("number")} | own
    )


def _stock(folder: Path, sizes: dict[str, str]) -> Path:
    path = folder / "stock.csv"
    rows = [f"OR-{number},{size},{4 + int(number) / 100},0.04" for number, size in sizes.items()]
    path.write_text("\n".join(("part,size,mass_g,mass_scatter_g", *rows)) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def of_stock(stock: Path) -> Appliance:
    return replace(CART, tables=replace(CART.tables, stock=stock))


@pytest.fixture(scope="module")
def kits(of_stock: Appliance) -> KitList:
    return kit_list(of_stock, parts=read_kit_text(PARTS))


def test_a_kit_holds_the_orifices_of_its_market_once(of_stock: Appliance, kits: KitList) -> None:
    for market, kit in zip(targets_of(of_stock), kits.kits, strict=True):
        burners = convert_market(market)[0].burners
        orifices = [one for one in kit.rows if one.burners]
        assert sum(one.count for one in orifices) == sum(b.count * b.orifice_count for b in burners)
        assert {one.number: one.burners for one in orifices} == {
            b.part: ", ".join(each.name for each in burners if each.part == b.part) for b in burners
        }
        assert len(kit.leaflet) == len(market.targets) * len(burners)
        assert {one.mark.split(" (")[1].partition(")")[0] for one in kit.leaflet} == {
            one.number for one in orifices
        }


def test_a_leaflet_has_the_verdict_of_the_conversion(of_stock: Appliance, kits: KitList) -> None:
    for kit, market in zip(kits.kits, targets_of(of_stock), strict=True):
        conversions = [evaluate_conversion(c) for c in convert_market(market)]
        rows = [(b.headline.verdict, set(outside_checks(c, b))) for c in conversions for b in c.burners]
        assert [(one.verdict, set(one.outside)) for one in kit.leaflet] == rows
        assert any(topics for _, topics in rows)
    # a recalled coefficient alone spreads an input by more than the band is wide
    assert all(one.verdict != Verdict.WITHIN for kit in kits.kits for one in kit.leaflet)


def test_the_mass_of_a_kit_is_the_sum_of_its_pieces(kits: KitList) -> None:
    """n m summed, scatters as the root of n s2 with that of the scale, by hand from the stock and the parts list."""
    for kit in kits.kits:
        assert kit.window is not None
        orifices = [one for one in kit.rows if one.burners]
        pieces = sum(one.count for one in orifices)
        by_hand = sum(one.count * (4 + int(one.number[3:]) / 100) for one in orifices) + 12.4 + 2 * 1.9
        assert 1e3 * kit.window.mass_kg == pytest.approx(by_hand, abs=1e-6)
        spread = math.sqrt(pieces * 0.04**2 + 0.1**2 + 2 * 0.02**2 + 0.05**2)
        assert 1e3 * kit.window.sigma_kg == pytest.approx(spread, rel=1e-9)
        for written, part in zip(
            read_kit_text(kit_text(kit.window.kit)).parts, kit.window.kit.parts, strict=True
        ):
            assert (written.name, written.count, written.code) == (part.name, part.count, part.code)
            assert (written.mass_kg, written.scatter_kg) == pytest.approx(
                (part.mass_kg, part.scatter_kg), rel=1e-8
            )


def test_an_orifice_that_is_not_to_be_fitted_is_not_packed(tmp_path: Path) -> None:
    """Number drills alone step over the band of the ring (17.0 % in area from #54 to #53): cards of both gases of the
    couple, kit, leaflet and injector table refuse the nearest alike."""
    stock = _stock(tmp_path, {one.name[1:]: one.name for one in drill_list("number")})
    appliance, ring = replace(CART, tables=replace(CART.tables, stock=stock)), "stock-pot ring"
    market = targets_of(appliance)[1]
    (kit,) = kit_list(appliance, [market.letter], read_kit_text(PARTS)).kits
    (row,) = [one for one in kit.rows if ring in one.burners]
    assert (row.name, row.count, row.number) == ("none fits; nearest: #54, do not fit", 0, "")
    assert kit.stop == f"STOP. Pack nothing: no orifice fits {ring}. An engineer decides first."
    assert kit.pieces == sum(one.count for one in kit.rows) == 0
    assert not any(one.number for one in kit.rows)
    text = paper_html(kit_paper(kit_list(appliance, [market.letter]), ""))
    assert text.index(kit.stop) < text.index("Part number")
    assert "Leaflet for" not in text
    assert kit.window is None
    assert kit.withheld == f"no orifice fits {ring}, do not fit; see the job card"
    plate = rating_plate(appliance, [market.letter])
    assert plate.stops == (
        f"{market.name}: STOP. Make no label: no orifice fits {ring}. An engineer decides first.",
    )
    none = [one for one in plate.fields if one.text == NO_ORIFICE]
    assert (
        "" in {one.burner for one in none} <= {ring, ""}
    )  # every total, and its rating where the plate has one
    assert all(one.value is None and one.calculated is None for one in none)
    refused = {one.burner for one in kit.leaflet if one.mark.startswith("none fits; nearest: #54 (OR-54)")}
    assert refused == {one.burner for one in kit.leaflet if "do not fit" in one.mark} == {ring}
    table = injectors(appliance, market_supplies(appliance, [market])).rows
    assert [(one.burner, one.fitted) for one in table] == [(one.burner, one.mark) for one in kit.leaflet]
    fields = rating_plate(appliance, [market.letter]).fields
    assert [one.text for one in fields if one.name == "injector mark of burner"] == [
        one.mark for one in kit.leaflet
    ]
    second = convert_market(market)[1]
    assert not any(b.no_drill_meets for b in second.burners)

    def with_all_at(deviation: float) -> Conversion:
        both = {"deviation_all_on": deviation, "deviation_alone": deviation}
        burners = tuple(replace(b, headline=replace(b.headline, **both)) for b in second.burners)
        return replace(second, burners=burners)

    # within the band or below it: the gas that the couple is sized on decides, as G25 gives less after G20
    assert [b.names for b in build_card(with_all_at(0.0)).burners if b.put_in == "none fits"] == [(ring,)]
    assert not_to_fit(with_all_at(-0.085)) == {ring}
    assert not build_card(with_all_at(-0.085)).readings
    assert not_to_fit(with_all_at(0.085)) == {b.name for b in second.burners}  # above it: overfire


def test_no_mass_is_made_up(of_stock: Appliance) -> None:
    """Without a stock none is known; without a scale there is a sum, and nothing to weigh against."""
    for kit in kit_list(CART, parts=read_kit_text(PARTS)).kits:
        assert kit.window is None
        unknown = {one.name for one in kit.rows if one.mass_kg is None}
        assert unknown == {one.name for one in kit.rows if one.burners}
        assert all(name in kit.withheld for name in unknown)
        assert {one.mass_from for one in kit.rows if one.burners} == {"not known"}
    assert {kit.withheld for kit in kit_list(of_stock, ["A"]).kits} == {NO_SCALE}


def test_the_parts_list_goes_before_the_stock(of_stock: Appliance, kits: KitList) -> None:
    first = kits.kits[0].rows[0]
    entry = f'part = [ {{ name = "x", mass = "9 g", scatter = "1 g", code = "{first.number}" }},'
    own = PARTS.replace("part = [", entry)
    parts: Kit = read_kit_text(own)
    row = kit_list(of_stock, ["A"], parts).kits[0].rows[0]
    assert (row.number, row.mass_kg, row.mass_from) == (first.number, pytest.approx(0.009), "parts list")
    assert first.mass_from == "stock"


def test_a_part_of_some_markets_is_packed_for_these_alone(of_stock: Appliance) -> None:
    """A regulator of one pressure in the kit of another is fitted one day."""
    entry = 'part = [ {{ name = "regulator 27 mbar", mass = "9 g", scatter = "1 g", markets = ["{}"] }},'
    for named, packed in (("A", ["A"]), ("b", ["B"]), (of_stock.markets[0].name, ["A"])):
        parts: Kit = read_kit_text(PARTS.replace("part = [", entry.format(named)))
        assert read_kit_text(kit_text(parts)).parts == parts.parts
        kits = dict(zip("AB", kit_list(of_stock, ["A", "B"], parts).kits, strict=True))
        assert [
            at for at, kit in kits.items() if any("regulator 27" in row.name for row in kit.rows)
        ] == packed
        (row,) = (row for kit in kits.values() for row in kit.rows if "regulator 27" in row.name)
        assert row.burners == named  # no part of every kit
    by_name: Kit = read_kit_text(
        PARTS.replace("part = [", entry.format("A").replace(', markets = ["A"]', ""))
    )
    row = next(one for one in kit_list(of_stock, ["B"], by_name).kits[0].rows if "regulator 27" in one.name)
    assert (row.name, row.count, row.burners) == ("regulator 27 mbar, not packed", 0, "another pressure")
    with pytest.raises(UserError, match=r"part\.markets"):
        kit_list(of_stock, ["A"], read_kit_text(PARTS.replace("part = [", entry.format("Z"))))


def test_the_command_writes_lists_that_kit_check_takes(tmp_path: Path, stock: Path) -> None:
    parts = tmp_path / "parts.toml"
    parts.write_text(PARTS, encoding="utf-8")
    asked = (
        "kit",
        "list",
        str(demonstration_path()),
        "--stock",
        str(stock),
        "--parts",
        str(parts),
        "--market",
        "B",
    )
    done = CliRunner().invoke(main, [*asked, "--out", str(tmp_path / "kits"), "--json"])
    assert done.exit_code == 0, done.stderr
    found: dict[str, Any] = json.loads(done.output)
    (made,) = [name for name in found["files"] if name.endswith("-parts.toml")]
    window = found["kits"][0]["window"]
    assert read_kit(made).parts[0].code.startswith("OR-")
    check = ("kit", "check", made, "--mass", f"{window['mass_g']:.1f} g", "--json")
    weighed = json.loads(CliRunner().invoke(main, check).output)
    assert weighed["verdict"] == "within"
    assert weighed["window"]["low_g"] == window["low_g"]
    text = CliRunner().invoke(main, asked).output
    assert "Mass cannot show a wrong part of equal mass" in text
    assert (
        CliRunner().invoke(main, ("kit", "list", str(demonstration_path()), "--market", "Z")).exit_code == 2
    )


def test_a_leaflet_has_the_basis_of_its_file() -> None:
    net = replace(demonstration(), rating="net")
    kit = kit_list(net, ["B"]).kits[0]
    assert "Heat input of one, net, nominal pressure" in leaflet_heads(kit)
    burners = {one.name: one for one in net.burners}
    for one in kit.leaflet:
        # of the aim, which is the net rate of the file at sea level
        assert one.heat_input_W == one.heat_input_net_W
        if one.gas.startswith("G30"):
            assert one.heat_input_W / burners[one.burner].rate_W - 1 == pytest.approx(one.deviation, abs=2e-3)


@pytest.mark.parametrize("words", ['name = "injector 1.45 mm"', 'name = "part 7", orifice = "1.45 mm"'])
def test_an_orifice_of_the_parts_list_is_known_by_its_size_whatever_it_is_called(words: str) -> None:
    """Not packed beside itself, in the kit of one market and in no other; what is written for the scale says so."""
    listed = PARTS.replace("part = [", f'part = [\n  {{ {words}, mass = "4.5 g", scatter = "0.04 g" }},')
    propane, butane = kit_list(CART, [], read_kit_text(listed)).kits
    (row,) = [row for row in butane.rows if row.orifice == "1.45 mm"]
    assert (row.name, row.count, round(1e3 * (row.mass_kg or 0.0), 6)) == ("orifice 1.45 mm", 1, 4.5)
    names = [row.name for row in (*propane.rows, *butane.rows)]
    assert "part 7" not in names
    assert "injector 1.45 mm" not in names
    part = read_kit_text(listed).parts[0]
    written = Kit(name="kit", scale=read_kit_text(listed).scale, parts=(part,))
    assert read_kit_text(kit_text(written)).parts[0].orifice_size == "1.45 mm"


@pytest.mark.parametrize(
    ("ports", "words"), [("1.7 mm", DECIDES), ("2.1 mm", TEST_DECIDES), ("2.6 mm", DECIDES)]
)
def test_card_leaflet_and_injector_table_send_an_orifice_with_a_check_outside_to_an_engineer(
    ports: str, words: str
) -> None:
    """One sentence of one declaration on each of them: a burner whose ports are too wide for the gas of a market."""
    text = """[appliance]
name = "wide ports"
rating = "gross"
region = "eu"
[supply]
gas = "G30"
pressure = "29 mbar"
[[burner]]
name = "tube"
rate = "3.5 kW"
kind = "tube"
orifice = { drill = "0.82 mm" }
throat = "18 mm"
shutter = { opening = "63 %", area = "200 mm2" }
ports = { count = 200, diameter = "1.7 mm" }
[[market]]
name = "PL"
supply = { gas = "G2.350", pressure = "13 mbar" }
"""
    wide = read_appliance_text(text.replace("1.7 mm", ports))
    kit = kit_list(wide).kits[0]
    card = build_card(evaluate_conversion(convert_market(targets_of(wide)[0])[0]))
    table = injectors(wide, market_supplies(wide))
    assert kit.leaflet[0].outside
    assert table.rows[0].checks_outside == ", ".join(kit.leaflet[0].outside)
    assert kit.decision == words
    assert (card.outside.endswith(DECIDES), bool(card.when_lit)) == (words == DECIDES, words == TEST_DECIDES)
    assert table.decision.endswith(words)
    leaflet = kit_paper(kit_list(wide), "a" * 64)
    of_manual = injector_paper(table, "a" * 64)
    assert all(
        words in shown for shown in (leaflet.tables[1].caption, paper_html(leaflet), paper_html(of_manual))
    )
    assert of_manual.tables[0].rows[0][-1].endswith(Verdict.OUTSIDE.emphatic)
