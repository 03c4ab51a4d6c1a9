"""The JSON Schema of the project file against its reader: both take the same, but for what the reader alone knows.

jsonschema (github.com/python-jsonschema/jsonschema) judges by the published draft 2020-12.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

import jsonschema
import pytest
from test_keys import KEYS, LEAVES, file_with

from burnerlab.appliance import demonstration_path, read_appliance_text
from burnerlab.appliance.project.gas_keys import GAS_KEYS
from burnerlab.appliance.project.json_schema import (
    FITTINGS,
    OF_TABLES,
    SCHEMA_FILE,
    project_schema,
    schema_text,
)
from burnerlab.appliance.project.keys import KeyLine
from burnerlab.quantity import UserError
from burnerlab.quantity.units import Kind
from burnerlab.tables import rows

SCHEMA = project_schema()
JUDGE = jsonschema.Draft202012Validator(SCHEMA)
DEMONSTRATION = demonstration_path().read_text(encoding="utf-8")
QUANTITIES = tuple(line for line in LEAVES if line.kind in {kind.value for kind in Kind} | {"heat input"})


def schema_takes(text: str) -> bool:
    return bool(JUDGE.is_valid(tomllib.loads(text)))


def reader_takes(text: str) -> bool:
    try:
        read_appliance_text(text)
    except UserError as error:
        # a file that is named and does not lie there is well written
        return all("is not a regular file" in problem.what for problem in error.problems)
    return True


def test_the_schema_is_one_of_its_dialect() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert json.loads(schema_text()) == json.loads(json.dumps(SCHEMA))
    assert "$ref" in SCHEMA["properties"]["appliance"]
    assert "http" not in json.dumps({key: value for key, value in SCHEMA.items() if key != "$schema"})


def patterns_of(part: Any) -> Iterator[str]:
    """Every pattern of a schema."""
    if isinstance(part, Mapping):
        for key, value in part.items():
            if key == "pattern" and isinstance(value, str):
                yield value
            else:
                yield from patterns_of(value)
    elif isinstance(part, list | tuple):
        for one in part:
            yield from patterns_of(one)


def test_patterns_have_the_escapes_that_every_reader_of_a_schema_takes() -> None:
    """ECMA-262, 22.2.1 with the flag u, as editors compile patterns: no escape of a blank or a hyphen (IdentityEscape).

    A validator that compiles them so refused the schema; Python takes an escaped blank without a word.
    """
    allowed = set("^$\\.*+?()[]{}|/") | set("dDwWsSbBnrtfvx")
    patterns = list(patterns_of(SCHEMA))
    assert len(patterns) > 50
    for pattern in patterns:
        assert set(re.findall(r"\\(.)", pattern)) <= allowed, pattern


def test_the_demonstration_names_its_schema_and_is_valid() -> None:
    first = DEMONSTRATION.partition("\n")[0]
    assert first == f"#:schema ./{SCHEMA_FILE}"
    assert schema_takes(DEMONSTRATION)


def tables_of(schema: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    if isinstance(schema, Mapping):
        if "properties" in schema and schema.get("type") == "object":
            yield schema
        for inner in schema.values():
            yield from tables_of(inner)
    elif isinstance(schema, list):
        for inner in schema:
            yield from tables_of(inner)


def test_every_table_is_closed_and_every_key_is_described_with_an_example_that_it_takes() -> None:
    tables = list(tables_of(SCHEMA))
    described = 0
    for table in tables:
        assert table["additionalProperties"] is False
        for name, one in table["properties"].items():
            assert one["description"].endswith("."), name
            judge = JUDGE.evolve(schema={**one, "$defs": SCHEMA["$defs"]})
            for example in one.get("examples", []):
                assert judge.is_valid(example), (name, example)
                described += 1
            if "default" in one:
                assert judge.is_valid(one["default"]), (name, one["default"])
    names = {name for table in tables for name in table["properties"]}
    assert names == {line.path.replace("[]", "").rpartition(".")[2] for line in KEYS} | set(GAS_KEYS)
    assert described > 150


def test_the_example_of_every_key_is_taken() -> None:
    """That the reader takes each is asked in test_keys.py."""
    assert not [line.path for line in LEAVES if not schema_takes(file_with(line.path, line.example))]


def wrong_values(line: KeyLine) -> Iterator[Any]:
    """Values that no key of this kind takes: another type, another unit, no unit, a word that is none."""
    yield 7.5 if isinstance(line.example, str | bool | list | dict) else "7.5"
    yield {"wrong": "table"} if line.path != "gas" else "a text"
    if line in QUANTITIES and isinstance(line.example, str):
        yield "7.5 furlong"
        yield "1,5 mm"
        if line.kind != Kind.FRACTION.value:
            yield "7.5"
    elif line.kind in ("word", "switch", "turndown", "drill", "gas"):
        yield "no such word"
    elif line.kind == "name":
        yield ""
        yield "x" * 81


def table_of(line: KeyLine) -> str:
    """The table of the file in which a key stands, itself where it stands in none."""
    return line.path.partition(".")[0]


@pytest.mark.parametrize("table", dict.fromkeys(map(table_of, LEAVES)))
def test_what_has_a_wrong_type_unit_or_word_neither_takes(table: str) -> None:
    """Of every key of a table; each value that is taken is named."""
    lines = [line for line in LEAVES if table_of(line) == table]
    wrong = [
        (line.path, value, file_with(line.path, value)) for line in lines for value in wrong_values(line)
    ]
    assert len(wrong) >= 2 * len(lines)
    assert not [(path, value) for path, value, text in wrong if reader_takes(text)]
    assert not [(path, value) for path, value, text in wrong if schema_takes(text)]


BEFORE_BURNERS = file_with("appliance.note", "x").partition("burner = ")[0]
DECLARED = {"gross_heating_value": "38 MJ/m3", "relative_density": 0.6, "family": "natural gas"}
GAS = DECLARED | {"reference": "15C/15C"}
AT_STATE = DECLARED | {"gross_heating_value": "38 MJ/m3 at 15C/15C"}
PARTS = {"composition": {"methane": 0.95, "ethane": 0.05}, "per": "mole"}
WRONG_FILES = {
    "a table that is none": DEMONSTRATION.replace("[limits]", "[limit]"),
    "a key of the file that is none": f"maker = 'x'\n{DEMONSTRATION}",
    "a key of a table that is none": DEMONSTRATION.replace("[limits]\n", "[limits]\ncolour = 'red'\n"),
    "a key of a burner that is none": DEMONSTRATION.replace("[[burner]]\n", "[[burner]]\nstyle = 'x'\n", 1),
    "a key within a place that is none": re.sub(r"place( *)= \{", r"place\1= { z = '1 mm',", DEMONSTRATION),
    "a key spelt in capitals": DEMONSTRATION.replace("pressure        =", "Pressure        ="),
    "no name": DEMONSTRATION.replace('name   = "market cart range"\n', ""),
    "no rating": re.sub(r"rating = .*\n", "", DEMONSTRATION),
    "no pressure": re.sub(r"(?m)^pressure  .*\n", "", DEMONSTRATION),
    "no burner": DEMONSTRATION.partition("[[burner]]")[0],
    "a burner alone": BEFORE_BURNERS + "burner = { name = 'one', rate = '3 kW' }",
    "a list of burners that is empty": BEFORE_BURNERS + "burner = []",
    "a supply that is a text": re.sub(r"\nsupply = .*", "\nsupply = 'propane'", file_with("appliance.note", "x")),
    "an appliance that is a list": DEMONSTRATION.replace("[appliance]", "[[appliance]]"),
    "a gas with a key that is none": file_with("gas", DECLARED | {"wobbe": 40}),
    "a gas whose figure is a text": file_with("gas", DECLARED | {"relative_density": "x"}),
    "a gas whose switch is a text": file_with("gas", DECLARED | {"ideal": "no"}),
    "a gas whose heating value has no unit": file_with("gas", GAS | {"gross_heating_value": "38"}),
    "a gas whose heating value has a decimal comma": file_with("gas", GAS | {"gross_heating_value": "38,1 MJ/m3"}),
    "a gas whose heating value is of a mass": file_with("gas", GAS | {"gross_heating_value": "50 MJ/kg"}),
    "a gas whose heating value has no state": file_with("gas", DECLARED),
    "a gas whose cubic foot has no state": file_with("gas", GAS | {"net_heating_value": "900 Btu/scf"}),
    "a gas of a state that is none": file_with("gas", GAS | {"reference": "hello"}),
    "a gas of a family that is none": file_with("gas", GAS | {"family": "swamp gas"}),
    "a gas whose state has a pressure that is none": file_with("gas", GAS | {"reference_pressure": "1 mm"}),
    "a gas whose pressure stands beside no state": file_with("gas", AT_STATE | {"reference_pressure": "101.325 kPa"}),
    "a gas as light as nothing": file_with("gas", GAS | {"relative_density": 0.05}),
    "a gas without a density": file_with("gas", {"gross_heating_value": "38 MJ/m3", "reference": "15C/15C"}),
    "a gas of two forms": file_with("gas", GAS | PARTS),
    "a gas of no form": file_with("gas", {"name": "x"}),
    "a gas of parts with a state": file_with("gas", PARTS | {"reference": "15C/15C"}),
    "a gas of parts of nothing": file_with("gas", {"composition": {"methane": 1.0}}),
    "a gas of parts of another thing": file_with("gas", PARTS | {"per": "length"}),
    "a gas of a part that is a text": file_with("gas", PARTS | {"composition": {"methane": "lots"}}),
    "a gas of less than nothing": file_with("gas", PARTS | {"composition": {"methane": 1.1, "ethane": -0.1}}),
    "a gas that is as uncertain as can be": file_with("gas", PARTS | {"uncertainty": {"methane": 1.0}}),
    "a gas with a figure that is true": file_with("gas", PARTS | {"printed": {"Hs": True}}),
    "a gas by its heating value with a figure of parts": file_with("gas", GAS | {"per": "mole"}),
    "a bore as a list": file_with("burner[].orifice.drill", ["#54"]),
    "a count below one": file_with("burner[].count", 0),
    "a count between two": file_with("burner[].count", 1.5),
    "a number beyond its range": file_with("burner[].orifice.coefficient", 1.2),
    "a drill of three letters": file_with("limits.drills", ["abc"]),
    "no drill": file_with("limits.drills", []),
    "a fitting that is counted by a text": file_with("supply.pipe.fittings", {"elbow": "two"}),
    "a fitting that is there half": file_with("supply.pipe.fittings", {"elbow": 0.5}),
    "21 lengths": file_with("optimise.lengths", ["350 mm"] * 21),
    "a material that no table has": file_with("supply.pipe.material", "unobtainium"),
    "a shape that no table has": file_with("burner[].orifice.shape", "no such shape"),
    "an altitude policy that no table has": file_with("limits.altitude_policy", "no such policy"),
    "a number drill that is not made": file_with("burner[].orifice.drill", "#99"),
    "a drill beside a diameter": DEMONSTRATION.replace("orifice", "orifice", 1).replace(
        'drill = "', 'diameter = "1.2 mm", drill = "', 1
    ),
    "neither drill nor diameter": re.sub(r"orifice( *)= \{[^}]*\}", r"orifice\1= {}", DEMONSTRATION, count=1),
    "a policy that is cut short": file_with("limits.altitude_policy", "4-percent"),
    "a negative rate": file_with("burner[].rate", "-5 kW"),
    "a rate of nothing": file_with("burner[].rate", "0.0 kW"),
    "a negative pressure": file_with("supply.pressure", "-11 in w.c."),
    "a fitting that no table has": file_with("supply.pipe.fittings", {"elbo": 3}),
    "a size of pipe that no table has": file_with("supply.pipe.size", "1/2 in"),
    "a size of pipe of another schedule": file_with("supply.pipe.size", "1/2 in sch 80"),
    "a kind of regulator that no table has": file_with("supply.regulator.type", "lp"),
    "a band that no table has": file_with("limits.tolerance", "no such band"),
    "a band that is no percentage": file_with("limits.tolerance", "5 mm"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG_FILES)
def test_what_is_no_table_or_key_or_is_missing_neither_takes(name: str) -> None:
    text = WRONG_FILES[name]
    assert text != DEMONSTRATION
    assert not reader_takes(text)
    assert not schema_takes(text)


OTHER_LANGUAGES = [
    f"3.5 kW {one}"
    for row in rows("basis_words")
    if row["basis"] == "gross"
    for one in row["words"].split("|")
]
SPELLINGS = {
    "burner[].rate": [
        "12 kBtu/h gross",
        "3.5kW",
        "12 000 BTU/H",
        "3 MJ/h (gross)",
        "3500 W Hs",
        *OTHER_LANGUAGES,
    ],
    "supply.pressure": ["7 in. W.C.", "17.4 mbar", '7" H2O', "1.74 kPa", "0.25 psi", "178 mm water"],
    "supply.gas": ["Propane", " natural gas typical ", "g20", "NATURAL-GAS_TYPICAL", "mix:CH4=0.9, N2=0.1"],
    "burner[].orifice.drill": ["#54", "No. 54", "#7", "A", "letter a", "1/16 in", "1.40 mm", "0.055 in"],
    "burner[].turndown": ["1:3", "3 : 1", "33 %", "1 kW", "3 kBtu/h gross"],
    "burner[].kind": ["Tube", " RING "],
    "appliance.rating": ["GROSS", "gross "],
    "limits.tolerance": ["5 %", "0.05", "5%", "astm", " uk-service "],
    "supply.pipe.size": ["1/2 in schedule 40", "1/2 in sch 40", "1/2  IN sch40", "1/2 in Hose", "8 mm hose"],
    "supply.regulator.type": ["lp single stage", " LP second stage"],
    "limits.drills": ["metric", ["Number", "#54", "1.05 mm"]],
    "burner[].ports.diameter": ["#50", "No. 52", "1.6 mm", "1/16 in"],
    "burner[].ports.depth": ["2.5 mm", "1 1/4 in", "0.1 inch", "2500 µm", "2500 μm"],
    "supply.gas_temperature": ["15 C", "-5 C", "59 F", "288.15 K", "15°C"],
    "limits.altitude_policy": ["4-percent-from-sea-level"],
    "supply.pipe.fittings": [{"Elbow": 2}],
    "supply.regulator.droop": ["0.3 in w.c.", "5 %"],
    "supply.regulator.rated": ["19 kW", "1.5 kg/h"],
    "supply.manifold.spacing": ["140 mm", ["100 mm", "0.1 m"]],
    "shield[].angle": ["30 deg", "0.5 rad"],
    "burner[].count": [2, 2.0],
    "gas": [
        AT_STATE,
        GAS | {"gross_heating_value": "1037 Btu/ft3 gross", "reference": "60F 14.73 psia saturated"},
        GAS | {"reference": "us-60f_30inHg_sat", "net_heating_value": "34.2 MJ/m3 PCI"},
        DECLARED | {"gross_heating_value": "1037 Btu/scf gross at 60F", "family": "propane"},
        DECLARED | {"gross_heating_value": "10.6 kWh/Nm3 @ 25 C/0 C", "ideal": True},
        GAS | {"reference": "15/15", "reference_pressure": "14.73 psia", "saturated": True},
        PARTS,
        PARTS | {"per": "Mole-%", "uncertainty": {"CH4": 0.0}, "printed": {"Ws": 50.7, "edition": "third"}},
        {"composition": {"CH4": 95, "C2H6": 5, "per": "vol percent"}},
        {"blend": {"G20": 80, "H2": 15, "air": 5.5}, "per": "volume", "normalize": True},
    ],
}
"""Other ways to write a value, all of which the reader takes."""


@pytest.mark.parametrize(
    ("path", "value"), [(path, value) for path, values in SPELLINGS.items() for value in values]
)
def test_other_spellings_that_the_reader_takes_are_taken(path: str, value: Any) -> None:
    text = file_with(path, value)
    assert reader_takes(text)
    assert schema_takes(text)


def test_a_gas_of_the_file_is_named_by_a_market() -> None:
    """Without a table [gas] such a name is no gas."""
    text = file_with("market[].supply[].gas", "our gas")
    own = "\n[gas]\nname = 'our gas'\ncomposition = { methane = 1.0 }\nper = 'mole'\n"
    assert not schema_takes(text)
    assert not reader_takes(text)
    assert schema_takes(text + own)
    assert reader_takes(text + own)


OWN_NAMES: dict[str, tuple[str, Any]] = {
    "discharge": ("burner[].orifice.shape", "our spud"),
    "roughness": ("supply.pipe.material", "our tube"),
    "altitude_policies": ("limits.altitude_policy", "our rule"),
    "regulators": ("supply.regulator.type", "our regulator"),
    "pipes": ("supply.pipe.size", "our hose"),
    "input_tolerances": ("limits.tolerance", "our band"),
    "fittings": ("supply.pipe.fittings", {"our-bend": 2}),
}
"""Of each table whose names the schema knows, a key that may hold another once the file names a table of its own."""


def test_names_of_a_table_of_the_users_own_are_free() -> None:
    assert set(OWN_NAMES) == {*OF_TABLES, FITTINGS}
    for table, (path, name) in OWN_NAMES.items():
        text = file_with(path, name)
        assert not schema_takes(text), table
        assert schema_takes(f"{text}\n[tables]\n{table} = 'own.csv'\n"), table


READER_ALONE = {
    "a quantity beyond its range": file_with("burner[].throat", "90 m"),
    "a pressure of no low-pressure appliance": file_with("supply.pressure", "9 bar"),
    "another basis than the file's": file_with("burner[].rate", "12 kBtu/h net"),
    "a low rate above the full one": file_with("burner[].turndown", "90 kW"),
    "a name that two burners have": file_with("burner[].name", "burner 2"),
    "a burner that the file does not have": file_with("carry_over[].to", "no such burner"),
    "a reference temperature of no standard": file_with("gas", GAS | {"reference": "17C/17C"}),
    "a net heating value above the gross one": file_with("gas", GAS | {"net_heating_value": "40 MJ/m3"}),
    "a component that is none": file_with("gas", PARTS | {"composition": {"unobtainium": 1.0}}),
    "a composition that does not sum to one": file_with("gas", PARTS | {"composition": {"methane": 0.5}}),
    "a sign that cannot be seen": file_with("appliance.note", "a\u200bb"),
}
"""What the schema takes and the reader refuses: size, other keys, other tables, the disk."""


@pytest.mark.parametrize("name", READER_ALONE)
def test_what_a_reader_alone_knows(name: str) -> None:
    text = READER_ALONE[name]
    assert schema_takes(text)
    with pytest.raises(UserError):
        read_appliance_text(text)
