"""The text of a project file under edits: only what is edited changes, and what is wrong stands at its key."""

from __future__ import annotations

import random
import re
import tomllib

import pytest
import tomlkit

from burnerlab.appliance.project.gas_keys import GAS_KEYS
from burnerlab.appliance.project.project_file import demonstration_path, read_text
from burnerlab.appliance.project.project_text import ProjectText, key_path, schema_fields
from burnerlab.appliance.project.toml_lines import index, loads, whole_index
from burnerlab.gas import library
from burnerlab.quantity import UserError

COMMENT = re.compile(r"#[^\"\n]*$", re.MULTILINE)


@pytest.fixture(scope="module")
def demo() -> ProjectText:
    return ProjectText(read_text(demonstration_path()).text, str(demonstration_path()))


def comments(text: str) -> list[str]:
    return [comment.strip() for comment in COMMENT.findall(text)]


def field_of(key: str):
    pattern = re.sub(r"\[\d+\]", "[]", key)
    return next(field for field in schema_fields() if field.path == pattern)


def at_key(data, key: str):
    """The value at a key in the document of the other parser."""
    for part in key_path(key):
        if isinstance(part, int) and not isinstance(data, list):
            continue  # a table that stands alone
        data = data[part]
    return data


def some_edits(values: dict[str, str], count: int) -> list[tuple[str, str]]:
    """Random edits: figures changed, optional keys taken out, keys that are not there added."""
    draw = random.Random(12)
    absent = {
        "burner[2].orifice.count": "2",
        "burner[3].ports.discharge": "0.7",
        "burner[5].valve.bore": "6 mm",
        "burner[6].heat.radiant": "30 %",
        "limits.altitude_policy": "none",
        "new_supply.gas": "propane",
        "supply.barometer": "98.5 kPa",
        "shield[1].name": "baffle",
        "panel[1].sheet[1].vented": "true",
        "supply.hose.fittings": "elbow = 1, quick coupling = 2",
    }
    edits = list(absent.items())
    writable = [key for key in values if field_of(key).is_writable]
    while len(edits) < count:
        key = draw.choice(writable)
        optional = not field_of(key).is_needed
        new = re.sub(r"\d+", str(draw.randint(1, 999)), values[key], count=1)
        edits.append((key, "" if optional and draw.random() < 0.3 else new))
    draw.shuffle(edits)
    return edits


def test_60_edits_change_their_value_alone_and_keep_every_comment(demo):
    """After each edit the text is read by another TOML library; every other value and every comment is as before."""
    text = demo
    for key, new in some_edits(demo.values(), 60):
        before = text.values()
        text = text.with_values({key: new})
        after = text.values()
        assert after.get(key, "") == new
        assert {k: v for k, v in after.items() if k != key} == {k: v for k, v in before.items() if k != key}
        assert comments(text.text) == comments(demo.text)
        document = tomlkit.parse(text.text)  # an independent parser
        if new and field_of(key).written_as == "text":
            assert str(at_key(document, key)) == new
    assert text.text != demo.text


def test_lines_without_an_edit_keep_every_character(demo):
    key, new = "burner[5].throat", "24.5 mm"
    old, edited = demo.text.splitlines(), demo.with_values({key: new}).text.splitlines()
    changed = [(a, b) for a, b in zip(old, edited, strict=True) if a != b]
    assert len(changed) == 1
    assert changed[0][0].index("#") == changed[0][1].index("#")  # the comment keeps its column


def test_an_edit_and_its_reverse_give_the_same_digest(demo):
    there = demo.with_values({"burner[1].rate": "13 kBtu/h", "burner[1].ports.count": "199"})
    back = there.with_values({"burner[1].rate": "12.5 kBtu/h", "burner[1].ports.count": "180"})
    assert there.digest != demo.digest == back.digest


def test_what_is_written_as_it_stands_is_not_touched(demo):
    assert demo.with_values(demo.values()).text == demo.text


@pytest.mark.parametrize(
    ("key", "value", "written"),
    [
        ("burner[1].ports.count", "190", "count = 190"),
        ("burner[1].ports.count", "many", 'count = "many"'),
        ("burner[1].place[1].x", '1 "or" 2', 'x = "1 \\"or\\" 2"'),
        ("limits.drills", "metric, #54", 'drills          = ["metric", "#54"]'),
        ("supply.manifold.spacing", "100 mm, 140 mm", 'spacing  = ["100 mm", "140 mm"]'),
        ("supply.manifold.spacing", "150 mm", 'spacing  = "150 mm"'),
        ("supply.pipe.fittings", "plug cock = 2", 'fittings = { "plug cock" = 2 }'),
        ("panel[2].sheet[2].vented", "false", "vented = false"),
        ("panel[2].sheet[1].conductivity", "15.0", "conductivity = 15.0"),
        ("panel[1].sheet[3].material", "steel", '{ material = "steel" },'),
        ("burner[1].place[2].x", "1 mm", 'height = "90 mm" }, { x = "1 mm" }]'),
    ],
)
def test_a_value_is_written_as_its_key_is_declared(demo, key, value, written):
    edited = demo.with_values({key: value})
    assert written in edited.text
    assert edited.values()[key] == value


def test_a_table_left_empty_goes_with_its_last_key(demo):
    no_shutter = demo.with_values({"burner[1].shutter.opening": "", "burner[1].shutter.area": ""})
    assert no_shutter.content().appliance.burners[0].shutter is None
    no_valve = demo.with_values({"supply.valve.bore": ""})
    assert "[supply.valve]" not in no_valve.text
    assert no_valve.content().appliance.supply.train.valve is None


@pytest.mark.parametrize(
    "text",
    [
        'supply = { gas = "propane", pressure = "11 in w.c." }\n[[burner]]\nname = "a"\n',
        'supply.gas = "propane"\nsupply.pressure = "11 in w.c."\n[[burner]]\nname = "a"\n',
        '[supply.regulator]\nset = "11 in w.c."\n\n[[burner]]\nname = "a"\n[burner.ports]\ncount = 3\n',
        '[[burner]]\nname = "a"\nports.count = 3',
        'burner = [{ name = "a" }]\n',
        "",
    ],
)
def test_every_way_of_writing_a_table_can_be_edited(text):
    changes = {"supply.altitude": "100 m", "burner[1].ports.depth": "3 mm", "burner[1].name": "b"}
    before = ProjectText(text)
    edited = before.with_values(changes)
    assert edited.values() == before.values() | changes
    tomlkit.parse(edited.text)


@pytest.mark.parametrize(
    ("text", "key", "value", "written"),
    [
        (
            '[limits]\ndrills = [ # a\n "metric" # b\n]',
            "limits.drills",
            "number",
            '# a\n# b\ndrills = ["number"]',
        ),
        (
            '[[market]]\nsupply = [{gas="G30"}, # a\n {gas="G31"}]',
            "market[1].supply[2].gas",
            "",
            '# a\nsupply = [{gas="G30"}]',
        ),
        (
            '[[burner]]\nname = "a"\n[[burner.place]]\nx = "1 mm"\n# end\n\n[[burner]]\nname = "b"',
            "burner[1].place[2].x",
            "2 mm",
            '# end\n\n[[burner.place]]\nx = "2 mm"\n\n[[burner]]',
        ),
        (
            '[carry_over]  # one\nfrom = "a"\n',
            "carry_over[2].from",
            "b",
            '[[carry_over]]  # one\nfrom = "a"\n\n[[carry_over]]\nfrom = "b"\n',
        ),
    ],
)
def test_comments_inside_lists_stay_and_lists_grow_as_they_are_written(text, key, value, written):
    edited = ProjectText(text).with_values({key: value})
    assert written in edited.text
    assert edited.values().get(key, "") == value
    tomlkit.parse(edited.text)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("tables.discharge", "../../etc/passwd"),
        ("tables.pipes", "own.csv"),
        ("supply.gas", "/home/gas.toml"),
        ("supply.gas", "gas.TOML"),
        ("new_supply.gas", "x.toml "),
        ("market[1].supply[1].gas", "x.toml"),
        ("gas.blend", "gas.toml = 1"),
        ("burner[1].colour", "red"),
        ("burner.rate", "3 kW/x"),
        ("nothing", "1"),
        ("burner[1]", "1"),
        ("burner[1].ports", "1"),
        ("burner[1].ports[1].count", "1"),
        ("burner[1]..rate", "1"),
        ("gas.blend.G20", "1"),
        ("burner[9].rate", "3 kW"),
        ("burner[1].name", "\ud800"),
        ("burner[1].name", "x" * 30_000),
    ],
)
def test_keys_and_values_that_are_refused(demo, key, value):
    if key == "burner.rate":  # the number of the entry is missing; without it the first is meant
        assert demo.with_values({key: value}).values()["burner[1].rate"] == value
        return
    with pytest.raises(UserError) as refused:
        demo.with_values({"burner[1].throat": "15 mm", key: value})
    assert refused.value.problems[0].key


BAD = [
    ("appliance.rating", "both"),
    ("appliance.region", "mars"),
    ("appliance.name", "x" * 81),
    ("supply.gas", "phlogiston"),
    ("supply.pressure", "7"),
    ("supply.pressure", "-3 mbar"),
    ("supply.pressure", "7 parsec"),
    ("supply.altitude", "9000 m"),
    ("supply.gas_temperature", "900 C"),
    ("supply.regulator.type", "none such"),
    ("supply.regulator.position", "middle"),
    ("supply.pipe.size", "9 in"),
    ("supply.pipe.fittings", "many elbows"),
    ("supply.manifold.spacing", "1 mm, 2 mm"),
    ("limits.tolerance", "120 %"),
    ("limits.drills", "crooked"),
    ("limits.altitude_policy", "none such"),
    ("tolerance.drill.spread", "x"),
    ("burner[1].kind", "torch"),
    ("burner[1].rate", "12.5 kBtu/h net"),
    ("burner[2].rate", "9 GW"),
    ("burner[2].turndown", "1:900"),
    ("burner[3].orifice.drill", "#999"),
    ("burner[3].orifice.diameter", "1.4 mm"),
    ("burner[4].ports.count", "0"),
    ("burner[4].ports.count", "many"),
    ("burner[5].throat", "26"),
    ("burner[6].shutter.opening", "120 %"),
    ("burner[6].place[1].facing", "up the wall"),
    ("panel[2].sheet[2].vented", "yes"),
    ("carry_over[1].to", "nobody"),
    ("grate[1].kind", "net"),
    ("optimise.lengths", "long"),
    ("market[2].name", "Bottled Propane"),
    ("market[1].supply[1].gas", "phlogiston"),
    ("market[2].supply[2].pressure", "37"),
    ("market[2].region", "mars"),
    ("market[2].altitude", "9 km up"),
    ("market[2].category", "none such"),
    ("market[2].altitude_policy", "none such"),
]


@pytest.mark.parametrize(("key", "value"), BAD)
def test_a_bad_value_stands_at_its_key(demo, key, value):
    content = demo.with_values({key: value}).content()
    assert content.appliance is None
    assert {problem.key for problem in content.problems} == {key}


HEADS = (
    "[supply]",
    "[[burner]]",
    "[burner.ports]",
    "[[burner.place]]",
    "[supply.regulator] # of the supply",
    "[ new_supply ]",
    "[[market]",
    '["burner"]',
    "[burner]",
    "supply.regulator.set = '7 mbar'",
    "ports = { count = 3 }",
    "place = [",
    "  [1, 2.50],",
    "]",
    'note = """',
    "[[market]]",
    'end"""',
    "[supply.regulator.spring]",
)


def test_a_text_read_by_its_tables_is_what_the_standard_parser_reads(demo):
    """Lines of all kinds in any order, most of them wrong there: python's tomllib is the judge."""
    draw, read = random.Random(3), 0
    lines = [*HEADS, *demo.text.splitlines()[:40]]
    for count in (3, 6, 9) * 400:
        text = "\n".join(draw.choice((*HEADS, draw.choice(lines))) for _ in range(count))
        assert index(text) == whole_index(text), text
        try:
            wanted = tomllib.loads(text, parse_float=str)
        except tomllib.TOMLDecodeError:
            with pytest.raises(tomllib.TOMLDecodeError):
                loads(text, str)
            continue
        read += 1
        assert repr(loads(text, str)) == repr(wanted), text
    assert read > 100
    assert repr(loads(demo.text)) == repr(tomllib.loads(demo.text))
    assert index(demo.text) == whole_index(demo.text)


def test_text_that_is_no_toml_raises_nothing():
    broken = ProjectText('[appliance]\nname = "cart\nrating = "gross"\n')
    assert broken.content().appliance is None
    assert 2 in [problem.line for problem in broken.content().problems]
    assert broken.values() == {"appliance.rating": "gross"}


def test_a_renamed_burner_is_renamed_wherever_the_file_names_it(demo):
    renamed = demo.with_burner_name(2, "griddle tube centre")
    assert "griddle tube middle" not in renamed.text
    assert len(renamed.content().appliance.space.bridges) == 2
    with pytest.raises(UserError, match="also the name of burner 1"):
        demo.with_burner_name(2, "Griddle Tube Left")


def test_burners_are_added_copied_moved_and_taken_out(demo):
    def names(text):
        return [burner.name for burner in text.content().appliance.burners]

    first = names(demo)
    copy = demo.with_burner(2)
    assert names(copy) == [*first[:2], "griddle tube middle 2", *first[2:]]
    assert copy.without_burner(3).text == demo.text
    moved = demo.with_burner_at(6, 1)
    assert names(moved) == [first[5], *first[:5]]
    assert moved.with_burner_at(1, 6).text == demo.text
    fewer = demo.without_burner(2)
    assert names(fewer) == [first[0], *first[2:]]
    assert len(fewer.content().appliance.space.bridges) == 0
    assert comments(copy.text) == comments(demo.text) == comments(fewer.text)
    assert demo.with_burner().values()["burner[7].name"] == "burner 7"
    with pytest.raises(UserError, match="no burner 7"):
        demo.without_burner(7)


def test_comments_at_a_burner_go_where_it_goes():
    text = ProjectText(
        '[[burner]]\nname = "a"\n\n# the second\n[[burner]]\nname = "b"\n# end of b\n\n# the heat\n[box]\n'
    )
    moved = text.with_burner_at(2, 1).text
    assert (
        moved
        == '# the second\n[[burner]]\nname = "b"\n# end of b\n\n[[burner]]\nname = "a"\n\n# the heat\n[box]\n'
    )
    assert text.without_burner(2).text == '[[burner]]\nname = "a"\n\n# the heat\n[box]\n'


def test_markets_are_added_copied_moved_and_taken_out(demo):
    def names(text):
        return [market.name for market in text.content().appliance.markets]

    first = names(demo)
    copy = demo.with_market(1)
    assert names(copy) == [first[0], "bottled propane 2", first[1]]
    assert copy.without_market(2).text == demo.text
    assert names(demo.with_market_at(2, 1)) == first[::-1]
    new = demo.with_market().with_values(
        {"market[3].supply[2].gas": "G30", "market[3].supply[2].pressure": "29 mbar"}
    )
    assert [supply.gas.name for supply in new.content().appliance.markets[2].supply] == ["propane", "G30"]
    only = demo.without_market(1).without_market(1).with_market()
    assert names(only) == ["market 1"]
    assert "[[market]]" in only.text
    assert comments(only.text)[-1] == comments(demo.text)[-1]


def test_fields_are_made_from_the_declarations(demo):
    fields = {field.path: field for field in schema_fields()}
    count = fields["burner[].ports.count"]
    assert (count.label, count.written_as, count.is_needed) == ("ports, count", "number", True)
    assert fields["appliance.rating"].choices == ("gross", "net")
    assert (fields["burner[].throat"].metric, fields["burner[].throat"].US) == ("mm", "in")
    assert not fields["tables.discharge"].is_writable
    assert "propane" in fields["market[].supply[].gas"].proposals
    for field in fields.values():
        assert not field.proposals or field.example in (*field.proposals, "5 %"), field.path
    assert all(re.sub(r"\[\d+\]", "[]", key) in fields for key in demo.values())


def test_keys_of_a_gas_are_those_that_are_read():
    assert set(GAS_KEYS) == {*library.ABOUT, *library.COMPOSED, *library.DECLARED}


def test_an_own_gas_is_written_key_by_key(demo):
    changes = {"supply.gas": "", "gas.composition": "methane = 0.9, ethane = 0.1", "gas.per": "mole"}
    gas = demo.with_values(changes).content().appliance.supply.gas
    assert gas.composition["ethane"] == pytest.approx(0.1)


FLAT = """
[[market]]
name     = "home"
gas      = "G25"
pressure = "25 mbar"
country  = "NL"
"""


def test_a_market_with_a_flat_supply_is_corrected_by_copying_its_own_values() -> None:
    text = ProjectText.blank("eu")
    problems = ProjectText(text.text + FLAT).content().problems
    own = 'supply = { gas = "G25", pressure = "25 mbar" }'
    by_key = {problem.key: problem.fix for problem in problems}
    assert {"market[1].supply", "market[1].gas", "market[1].pressure"} <= by_key.keys()
    assert all(own in by_key[f"market[1].{key}"] for key in ("supply", "gas", "pressure"))
    assert 'region = "eu"' in by_key["market[1].country"]
    mended = f'\n[[market]]\nname = "home"\nregion = "eu"\n{own}\n'
    assert ProjectText(text.text + mended).content().problems == ()
