"""Fields of rating plates: the conversion's own figures in the units of the region, and nothing a certificate says.

Units by their definitions: International Table Btu 1055.05585262 J, inch of water 249.08891 Pa (conventional, 1000
kg/m3), foot 0.3048 m.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from forbidden_words import claims

from burnerlab import tables
from burnerlab.appliance import demonstration, read_appliance_text
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.study.plate_fields import (
    AS_TYPED,
    NO_CATEGORY,
    NO_RULE,
    NOT_KNOWN,
    OF_APPLIANCE,
    OF_BURNER,
    PLATE_REGIONS,
    USER,
    PlateField,
    plate_fields,
    rating_plate,
    recalled_fields,
)
from burnerlab.handbook.contents import handbook_dir
from burnerlab.quantity import Kind, UserError, read
from burnerlab.quantity.show import grouped
from burnerlab.report.sheet.job_card import TIE
from burnerlab.report.sheet.sections import build_card

BTU_PER_H_W = 1055.05585262 / 3600
INCH_OF_WATER_PA = 249.08891
ROWS_OF_LABEL = ((0, 5, 12_000.0), (1, 1, 10_000.0))  # place in the demonstration, count, Btu/h


@pytest.fixture(scope="module")
def conversions() -> dict[str, Conversion]:
    """Of the demonstration: propane for no region, both gases of the European couple, natural gas as it is sold."""
    propane, couple = (convert_market(one) for one in targets_of(demonstration()))
    return {"propane": propane[0], "G30": couple[0], "G31": couple[1]}


def values(fields: tuple[PlateField, ...], name: str) -> list[float]:
    return [one.value for one in fields if one.name == name and one.value is not None]


def calculated(fields: tuple[PlateField, ...], name: str) -> list[float]:
    return [one.calculated for one in fields if one.name == name and one.calculated is not None]


def test_north_america_has_the_figures_of_the_conversion(conversions: dict[str, Conversion]) -> None:
    made = replace(conversions["propane"], region="us")
    fields = plate_fields(made)
    assert {one.region for one in fields} == {"us"}
    each = [burner.predicted_gross_W / BTU_PER_H_W for burner in made.burners]
    assert calculated(fields, "gross input of burner") == pytest.approx(each, rel=1e-9)
    for one in fields:  # three digits, as on the job card
        if one.unit == "Btu/h" and one.calculated is not None:
            assert one.calculated_text == f"{grouped(float(f'{one.calculated:.3g}'), 0)} Btu/h"
    assert [one.text for one in fields if one.name == "total input, gross"] == ["95 000 Btu/h"]
    total = sum(burner.count * value for burner, value in zip(made.burners, each, strict=True))
    assert calculated(fields, "total input, gross") == pytest.approx([total], rel=1e-9)
    assert values(fields, "total input, gross") == pytest.approx([95_000.0], rel=1e-9)  # sum of the file
    assert values(fields, "manifold pressure") == pytest.approx([11.0], rel=1e-9)
    marks = [one.text for one in fields if one.name == "orifice mark of burner"]
    assert marks == [burner.choice.mark for burner in made.burners]
    high = replace(made, altitude_m=1524.0)
    assert values(plate_fields(high), "altitude") == pytest.approx([5000.0])


def test_europe_has_the_figures_of_the_conversion(conversions: dict[str, Conversion]) -> None:
    for gas, pressure in (("G30", 29.0), ("G31", 37.0)):
        made = conversions[gas]
        fields = plate_fields(made, "market")
        assert {one.region for one in fields} == {"eu"}
        assert values(fields, "supply pressure") == pytest.approx([pressure])
        gross = calculated(fields, "total heat input, gross (Hs)")
        assert gross == pytest.approx([made.total_predicted_gross_W / 1e3])
        mass = gross[0] * 1e3 / made.to_gas.gross_heating_value_J_per_kg * 3.6e6
        assert calculated(fields, "consumption") == pytest.approx([mass])
        rated = 95_000.0 * BTU_PER_H_W  # sum of the file
        assert values(fields, "total heat input, gross (Hs)") == pytest.approx([rated / 1e3])
        of_rating = rated / made.to_gas.gross_heating_value_J_per_kg * 3.6e6
        assert values(fields, "consumption") == pytest.approx([of_rating])
        assert mass == pytest.approx(3.6e6 * made.total_mass_flow_kg_per_s, rel=1e-6)
        assert [one.text for one in fields if one.name == "category of the supply"] == ["3+"]


def test_gas_of_the_second_family_is_metered_by_volume() -> None:
    appliance = demonstration()
    market = appliance.markets[1]
    natural = replace(market.supply[0], gas=appliance.supply.gas, gauge_pressure_Pa=2000.0)
    (made,) = convert_market(targets_of(replace(appliance, markets=(replace(market, supply=(natural,)),)))[0])
    fields = [one for one in plate_fields(made) if one.name == "consumption"]
    assert [one.unit for one in fields] == ["m3/h"]
    volume = made.total_predicted_gross_W / made.to_gas.gross_heating_value_J_per_m3 * 3600
    assert fields[0].calculated == pytest.approx(volume)


def test_the_second_gas_of_a_couple_has_the_rating_with_what_its_orifice_gives_beside_it() -> None:
    """The note says so of the first figure: of France 2E+ on G25 it was what the orifice for G20 leaves."""
    text = """[appliance]
name = "x"
rating = "net"
region = "eu"
[supply]
gas = "G30"
pressure = "29 mbar"
[[burner]]
name = "tube"
rate = "3.5 kW"
count = 5
orifice = { drill = "0.82 mm" }
[[market]]
name = "France"
supply = [{ gas = "G20", pressure = "20 mbar" }, { gas = "G25", pressure = "25 mbar" }]
"""
    plate = rating_plate(read_appliance_text(text))
    on_G20, on_G25 = (one for one in plate.fields if one.name.startswith("total heat input"))
    assert (on_G20.text, on_G25.text) == ("17.50 kW", "17.50 kW")
    assert on_G25.calculated == pytest.approx(0.92 * 17.5, abs=0.1)
    assert any("first figure is the rating on both gases" in note for note in plate.notes)
    assert any("G25: the calculated heat input is -8" in note for note in plate.notes)


def test_an_altitude_stands_in_the_units_of_its_region() -> None:
    at = (
        "[[market]]\nsupply = {{gas = 'propane', pressure = '11 in w.c.'}}\nname = {!r}\nregion = {!r}\n"
        "altitude = '5280 ft'\naltitude_policy = '4-percent-from-sea-level'\n"
    )
    text = (
        "appliance = {name = 'x', rating = 'gross'}\nsupply = {gas = 'propane', pressure = '11 in w.c.'}\n"
        "burner = [{name = 'a', rate = '12 kW', orifice = {drill = '#54'}}]\n"
        + at.format("A", "us")
        + at.format("B", "eu")
    )
    of_us, of_eu = rating_plate(read_appliance_text(text)).altitude_only
    assert ("5280 ft" in of_us, " m" in of_us) == (True, False)
    assert ("1609 m" in of_eu, "ft" in of_eu) == (True, False)


def test_a_file_rated_net_has_its_own_net_figure_on_the_plate() -> None:
    """A plate carries the rated input as the file has it, not what a drill makes of it."""
    file = demonstration()
    net = replace(file, rating="net")
    made = convert_market(targets_of(net)[1])[0]
    (total,) = [one for one in plate_fields(made) if one.name.startswith("total heat input")]
    assert total.name == "total heat input, net (Hi)"
    rated = sum(burner.count * burner.rate_W for burner in net.burners)
    assert total.value == pytest.approx(rated / 1e3, rel=1e-9)
    assert total.calculated == pytest.approx(made.total_predicted_net_W / 1e3, rel=1e-9)
    assert total.value != pytest.approx(total.calculated, rel=1e-4)


def test_australia_and_new_zealand_have_megajoules_and_kilopascals() -> None:
    """1 Btu/h is 1055.05585262 J/h; at 11 in w.c., 2.740 kPa, an appliance for 2.75 kPa is on its supply."""
    plate = rating_plate(demonstration(), regions=("au", "nz"))
    assert {one.region for one in plate.fields} == {"au", "nz"}
    total = {one.text for one in plate.fields if one.unit == "MJ/h"}
    assert total == {f"{95_000 * 1055.05585262e-6:.1f} MJ/h"}
    propane = [one for one in plate.fields if one.gas == "propane"]
    assert {one.text for one in propane if one.unit == "kPa"} == {"2.74 kPa"}
    off = [note for note in plate.notes if "the supply pressure of Australia" in note]
    assert [note.partition(":")[0].rpartition(", ")[2] for note in off] == ["G30", "G31"]
    assert any("New Zealand are in no table" in note for note in plate.notes)
    alone = rating_plate(demonstration(), ["A"], ["nz"])
    assert not [note for note in alone.notes if "Australia" in note or "names no region" in note]


def test_a_kilobtu_is_the_kilowatt_of_the_unit_reader() -> None:
    assert read("1 kBtu/h", Kind.POWER) == pytest.approx(293.07, abs=0.005)


def test_every_row_is_filled_or_as_typed_by_the_user() -> None:
    rows = tables.rows("rating_plate")
    assert len({row["id"] for row in rows}) == len(rows)
    assert {row["region"] for row in rows} == {*PLATE_REGIONS}
    for row in rows:
        assert row["figure"] in {USER, *OF_APPLIANCE, *OF_BURNER}, row["id"]
        assert all((row["words"], row["check"], row["source"], row["place"], row["provenance"])), row["id"]


def test_serial_number_and_marks_are_never_filled(conversions: dict[str, Conversion]) -> None:
    fields = plate_fields(conversions["propane"])
    for name in ("serial number", "certification marks", "product identification number", "maker"):
        found = [one for one in fields if one.name == name]
        assert found
        assert {(one.text, one.value) for one in found} == {(AS_TYPED, None)}


def test_without_a_region_each_region_stands_there_and_no_category(
    conversions: dict[str, Conversion],
) -> None:
    fields = plate_fields(conversions["propane"])
    assert list(dict.fromkeys(one.region for one in fields)) == ["us", "eu"]
    assert [one.text for one in fields if one.name == "category of the supply"] == [NOT_KNOWN]


def test_no_category_and_no_rating_that_the_file_does_not_decide(conversions: dict[str, Conversion]) -> None:
    """Gas and pressure suggest a category, a certificate gives it; thin air asks for a rule before a label."""
    thin = replace(
        conversions["G30"], is_category_given=False, altitude_policy=None, altitude_policy_factor=0.9
    )
    fields = {one.name: one for one in plate_fields(thin, "market")}
    assert fields["category of the supply"].text == NO_CATEGORY
    for name in ("total heat input, gross (Hs)", "consumption"):
        assert (fields[name].text, fields[name].value) == (NO_RULE, None)
        assert fields[name].calculated is not None
    ruled = {one.name: one for one in plate_fields(replace(thin, altitude_policy="derate"), "market")}
    assert ruled["consumption"].value is not None


def test_no_test_pressure_is_a_figure_of_a_label(conversions: dict[str, Conversion]) -> None:
    """At 8 in w.c. before a manifold of 11 in w.c. the rating cannot be held: the inlet is above it (memory)."""
    made = replace(conversions["propane"], region="us")
    assert made.to_gauge_pressure_low_Pa is not None
    assert made.to_gauge_pressure_low_Pa < made.to_gauge_pressure_Pa
    fields = [one for one in plate_fields(made) if "inlet pressure" in one.name]
    assert [one.value for one in fields] == [None, None]
    assert [one.text for one in fields] == ["as typed by the user, above 11.0 in w.c.", AS_TYPED]
    assert all("no test pressure" in one.words for one in fields)


def test_every_field_has_its_source_and_nothing_claims() -> None:
    plate = rating_plate(demonstration())
    assert all(one.source and one.check for one in plate.fields)
    assert {one.provenance for one in plate.fields} == {"memory", "seen"}
    recalled, named = recalled_fields(plate.fields)
    assert 0 < recalled < named
    assert any(
        f"{recalled} of {named} fields from memory: compare with the standard that applies" in note
        for note in plate.notes
    )
    publications = {row["source"] for row in tables.rows("rating_plate") if row["region"] in ("us", "eu")}
    for source in publications - {"plate-fields"}:
        (note,) = [note for note in plate.notes if note.startswith(f"Named in {tables.cite(source)}: ")]
        assert note.removesuffix(".").partition(": ")[2]
    for said in ("first rating plate stays readable", "certifying body allows", "tested appliance"):
        assert any(said in note for note in plate.notes)
    for one in (plate, rating_plate(demonstration(), ["A"], PLATE_REGIONS)):
        texts = [
            text
            for each in one.fields
            for text in (each.label, each.text, each.words, each.check, each.source)
        ]
        assert not [text for text in (*texts, *one.notes) if claims(text)]


def test_who_adds_up_a_label_finds_its_total() -> None:
    """At 5280 ft (4 % for 1000 ft: 78.88 %) 12 and 10 kBtu/h are 9465.6 and 7888: their sum was 55 216 Btu/h."""
    file, market = demonstration(), demonstration().markets[0]
    tube, side = (
        replace(file.burners[i], count=n, rate_W=rate * BTU_PER_H_W) for i, n, rate in ROWS_OF_LABEL
    )
    high = replace(market, altitude_m=5280 * 0.3048, altitude_policy="4-percent-from-sea-level")
    plate = rating_plate(replace(file, rating="gross", region="us", burners=(tube, side), markets=(high,)))
    rated = {one.name: one.text for one in plate.fields if not one.burner and one.unit == "Btu/h"}
    burners = [one.text for one in plate.fields if one.burner and one.unit == "Btu/h"]
    assert burners == ["9466 Btu/h", "7888 Btu/h"]
    assert rated == {"total input, gross": "55 218 Btu/h"}
    assert any("the total is the sum of these figures" in one for one in plate.notes)


def test_a_pressure_has_the_digits_of_every_other_paper() -> None:
    """11.00, 11.0 and 11 in w.c. on papers of one unit are three figures to whoever compares them."""
    file, low = demonstration(), 4 * INCH_OF_WATER_PA
    low_pressure = replace(
        file.markets[0], supply=(replace(file.markets[0].supply[0], gauge_pressure_Pa=low),)
    )
    at_low = replace(file, region="us", markets=(low_pressure,))
    (made,) = convert_market(targets_of(at_low)[0])
    (field,) = (one for one in plate_fields(made) if one.name == "manifold pressure")
    assert field.text == "4.00 in w.c."
    assert any("sets 9.96 mbar (4.00 in w.c.) at the manifold" in one for one in made.prompts)
    band = build_card(made, system="US").readings[0]
    assert band.expected.replace(TIE, " ") == "4.00 in w.c."


def test_an_appliance_without_markets_is_refused() -> None:
    with pytest.raises(UserError, match="has no market"):
        rating_plate(replace(demonstration(), markets=()))
    with pytest.raises(UserError, match="is no market of the file"):
        rating_plate(demonstration(), ["nowhere"])


def test_the_handbook_counts_the_fields_of_each_region() -> None:
    page = (handbook_dir() / "product-line.md").read_text(encoding="utf-8")
    rows = tables.rows("rating_plate")
    for region in PLATE_REGIONS:
        known = [row["provenance"] for row in rows if row["region"] == region]
        counts = f"| {len(known)} | {known.count('seen')} | {known.count('memory')} |"
        assert re.search(rf"^\| {region} \|.*{re.escape(counts)}$", page, re.MULTILINE), (region, counts)
