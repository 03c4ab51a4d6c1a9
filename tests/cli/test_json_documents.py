"""The JSON of every command: one envelope, one rounding, and a unit in a key that means one thing everywhere."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from declared_results import declared_results
from json_runs import LINES, NOT_HERE, called, commands_with_json, documents

from burnerlab import __version__, tables
from burnerlab.cli import COMMANDS
from burnerlab.cli.output import citation
from burnerlab.handbook.contents import page_of, section
from burnerlab.handbook.markdown_text import anchor_of
from burnerlab.handbook.output_chapter import annotation, description
from burnerlab.quantity.outputs import SIGNIFICANT, columns, ending, handy_units
from burnerlab.quantity.units import RATIOS

NOT_CALCULATED = ("fuels", "record", "settings", "schema", "completion", "man", "tables", "handbook")
WITH_SCIPY = (
    "cylinder", "burner", "interchange", "clock", "weigh", "flue", "explain", "kit check", "kit window", "layout",
    "optimise", "carryover",
)  # fmt: skip
"""Commands of which every answer rests on it."""


def calculated_with(line: str) -> Iterator[str]:
    """The engines that an answer names, in their order."""
    if line.startswith("record chart") or not line.startswith(NOT_CALCULATED):
        yield "numpy"
    if line.startswith(WITH_SCIPY):
        yield "scipy"


NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


@cache
def endings_of_kinds() -> dict[str, frozenset[str]]:
    """How a name ends that carries a unit of the table of spellings, by kind."""
    units: dict[str, set[str]] = defaultdict(set)
    for entry in tables.rows("units"):
        for kind in entry["kinds"].split("|"):
            units[kind] |= {word for word in entry["spellings"].split("|") if word[:1].isascii()}
    for kind_of_both, (above, below) in RATIOS.items():
        both = {f"{up}/{down}" for up in units[above.name] for down in units[below.name]}
        units[kind_of_both.name] |= both
    return {
        kind: frozenset(ending(unit) for unit in its if re.fullmatch(r"[A-Za-z0-9%/]+", unit))
        for kind, its in units.items()
    }


@cache
def endings() -> frozenset[str]:
    return frozenset().union(*endings_of_kinds().values())


def unit_of(key: str) -> tuple[str, str]:
    """A key as its stem and the ending that is a unit, "" for none."""
    cuts = [place for place, letter in enumerate(key) if letter == "_"]
    return next(((key[:cut], key[cut:]) for cut in cuts if key[cut:] in endings()), (key, ""))


def document(line: str) -> Any:
    result = documents()[line]
    assert result.exit_code in (0, 1), (line, result.stderr)
    assert not result.stderr
    return json.loads(result.stdout)


def keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, entry in value.items():
            yield key
            yield from keys(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from keys(entry)


def test_every_command_with_json_has_a_line() -> None:
    covered = {name for name in commands_with_json() for line in LINES if f"{line} ".startswith(f"{name} ")}
    assert covered | NOT_HERE.keys() == commands_with_json()
    assert not covered & NOT_HERE.keys()
    assert set(COMMANDS) <= {name.split()[0] for name in covered | NOT_HERE.keys()}


@pytest.mark.parametrize("line", LINES)
def test_a_document_has_the_envelope_and_every_caution(line: str) -> None:
    made = document(line)
    assert list(made)[:3] == ["schema", "burnerlab", "engines"]
    name = re.fullmatch(r"burnerlab/([a-z-]+)/1", made["schema"])
    assert name is not None
    assert f"{line} ".startswith(name[1].replace("-", " ") + " ")
    assert made["burnerlab"] == __version__
    assert set(made["engines"]) == {*calculated_with(line)}
    assert called[line] - {"numpy"} <= {*calculated_with(line)}  # a remembered figure calls none
    assert [one["id"] for one in made["cautions"]] == [row["id"] for row in tables.rows("cautions")]


@pytest.mark.parametrize("line", LINES)
def test_no_number_has_more_than_twelve_digits(line: str) -> None:
    digits = [len(text.split("e")[0].replace(".", "").strip("-").strip("0")) for text in _numbers(line)]
    assert max(digits, default=0) <= SIGNIFICANT


def _numbers(line: str) -> Iterator[str]:
    def take(text: str) -> float:
        found.append(text)
        return float(text)

    found: list[str] = []
    json.loads(documents()[line].stdout, parse_float=take)
    yield from found


def kinds_of(unit_ending: str) -> frozenset[str]:
    return frozenset(kind for kind, its in endings_of_kinds().items() if unit_ending in its)


def test_a_key_carries_the_handy_unit_of_its_kind() -> None:
    handy = {ending(unit) for _, unit in handy_units().values()}
    printed = {key for line in LINES for key in keys(document(line))}
    wrong = {key for key in printed if unit_of(key)[1] not in handy | {""}}
    assert wrong - EXCEPTIONS.keys() == set()
    assert EXCEPTIONS.keys() - printed == set()  # one that no document has is taken off the list


def test_a_key_never_carries_two_units_of_a_kind() -> None:
    units: dict[str, set[str]] = defaultdict(set)
    for line in LINES:
        for key in keys(document(line)):
            stem, unit = unit_of(key)
            if unit and key not in EXCEPTIONS:
                units[stem].add(unit)
    twice = {
        (stem, one, other)
        for stem, its in units.items()
        for one in its
        for other in its
        if one < other and kinds_of(one) & kinds_of(other)
    }
    assert twice == set()


EXCEPTIONS = {
    "altitude_m": "heights of places",
    "from_altitude_m": "heights of places",
    "port_loading_W_per_mm2": "port loadings are compared in it",
    "hold_time_min": "a cylinder holds minutes to hours",
    "hold_time_low_min": "a cylinder holds minutes to hours",
    "hold_time_high_min": "a cylinder holds minutes to hours",
    "time_min": "a cylinder holds minutes to hours",
    "horizon_min": "a cylinder holds minutes to hours",
    "gauge_pressure_kPa": "inside a cylinder, far above that at a burner",
    "minimum_inlet_kPa": "inside a cylinder, far above that at a burner",
    "start_gauge_pressure_kPa": "inside a cylinder, far above that at a burner",
    "final_gauge_pressure_kPa": "inside a cylinder, far above that at a burner",
    "air_free_CO_by_CO2_ppm": "limits of carbon monoxide are set in it",
    "air_free_CO_high_ppm": "limits of carbon monoxide are set in it",
    "air_free_CO_low_ppm": "limits of carbon monoxide are set in it",
    "air_free_CO_ppm": "limits of carbon monoxide are set in it",
    "carbon_monoxide_ppm": "limits of carbon monoxide are set in it",
    "limit_ppm": "limits of carbon monoxide are set in it",
    "drift_g": "what a scale of the bench reads",
    "high_g": "what a scale of the bench reads",
    "low_g": "what a scale of the bench reads",
    "mass_g": "what a scale of the bench reads",
    "repeatability_g": "what a scale of the bench reads",
    "resolution_g": "what a scale of the bench reads",
    "scatter_g": "what a scale of the bench reads",
    "sigma_g": "what a scale of the bench reads",
    "area_m2": "areas of cooking surfaces",
    "molar_mass_kg_per_kmol": "molar masses are tabled in it",
}
"""Keys in another unit than the handy one of their kind, and why."""


MAPS = re.compile(
    "project_file|composition|.*_composition|composition_mole_fraction|liquid_mole_fractions|flow_by_formula_over_this|.*_by_provenance"
)
"""Keys whose values have names as keys: of gases, formulas, words of a table, keys of another file."""


def keys_outside_maps(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, entry in value.items():
            yield key
            if not MAPS.fullmatch(key):
                yield from keys_outside_maps(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from keys_outside_maps(entry)


def test_every_key_of_an_answer_is_in_the_handbook() -> None:
    chapters = [page.text for page in map(page_of, ("json-keys", "json")) if page is not None]
    known = {
        word
        for text in chapters
        for code in re.findall("`([^`]+)`", text)
        for word in re.findall(r"\w+", code)
    }
    printed = {key for line in LINES for key in keys_outside_maps(document(line)) if key.isidentifier()}
    stems = {key: key.removesuffix("_uncertainty_percent") for key in printed - known}
    absent = {key for key, stem in stems.items() if key == stem or not {stem, f"{stem}_C"} & known}
    assert not absent
    assert len(printed) > 500


def keys_of_result(name: str) -> set[str]:
    """The keys of a result in the handbook, those of the parts that join its row among them."""
    chapter = page_of("json-keys")
    assert chapter is not None
    found: set[str] = set()
    for line in section(chapter, anchor_of(name)).splitlines():
        found |= set(re.findall("`([^`]+)`", line.split(" | ")[0]))
        if "stand in this row" in line:
            found |= {key for part in re.findall(r"\[(\w+)\]", line) for key in keys_of_result(part)}
    return found


def test_the_handbook_names_the_result_of_each_command() -> None:
    """Its keys, those of the envelope and those that stand beside are all that an answer has at its top."""
    chapter = page_of("json")
    assert chapter is not None
    beside = {word for code in re.findall("`([^`]+)`", chapter.text) for word in re.findall(r"\w+", code)}
    results: dict[str, set[str]] = defaultdict(set)
    for line in section(chapter, "results-of-commands").splitlines():
        if line.startswith("| `"):
            names, made = line.split(" | ")
            for name in re.findall("`([^`]+)`", names):
                results[name] |= {one for one in re.findall(r"`(\w+)`", made) if one[0].isupper()}
    looked = 0
    for line in LINES:
        own = [made for name, made in results.items() if f"{line} ".startswith(f"{name} ")]
        for made in own:
            known = beside.union(*(keys_of_result(one) for one in made))
            stems = {key: key.removesuffix("_uncertainty_percent") for key in document(line).keys() - known}
            assert not {
                key for key, stem in stems.items() if key == stem or not {stem, f"{stem}_C"} & known
            }, line
            looked += 1
    assert looked > 30
    assert set(results) <= commands_with_json()


@cache
def in_result(made: type) -> dict[str, tuple[str, list[type]]]:
    """What the handbook says of each key of a result and of the parts that join it, and the results below the key."""
    every = {one.__name__: one for one in declared_results()}
    known: dict[str, tuple[str, list[type]]] = {}
    for column in columns(made):
        words = re.findall(r"\w+", annotation(made, column.name))
        below = [every[one] for one in words if one in every]
        if column.declared.is_part:
            for part in below:
                known = in_result(part) | known
        else:
            known |= dict.fromkeys((column.key, *column.ends), (description(made, column), below))
    return known


def unexplained(value: Any, results: list[type]) -> Iterator[tuple[str, str]]:
    """Each null of an answer of which the handbook does not say when it is one, by result and key."""
    if isinstance(value, list):
        for each in value:
            yield from unexplained(each, results)
    elif isinstance(value, dict) and results:
        nearest = max(results, key=lambda one: len(value.keys() & in_result(one).keys()))
        for key, (said, below) in in_result(nearest).items():
            if key in value and value[key] is None and "null" not in said:
                yield nearest.__name__, key
            yield from unexplained(value.get(key), below)


def test_the_handbook_says_when_a_key_is_null() -> None:
    every = {one.__name__: one for one in declared_results()}
    chapter = page_of("json")
    assert chapter is not None
    looked = 0
    for row in section(chapter, "results-of-commands").splitlines():
        names, _, made = row.partition(" | ")
        results = [every[one] for one in re.findall(r"`(\w+)`", made) if one in every]
        for line in LINES:
            if results and any(f"{line} ".startswith(f"{name} ") for name in re.findall("`([^`]+)`", names)):
                answer = document(line)
                for each in (*answer.get("markets", ()), answer, answer.get("burners"), answer.get("checks")):
                    assert not set(unexplained(each, results)), line
                looked += 1
    assert looked > 30


def test_every_answer_can_be_cited() -> None:
    for line in LINES:
        made = document(line)
        assert citation(made)[0] == {"kind": "program", "id": "burnerlab", "version": __version__}, line


def test_every_source_of_a_method_stands_behind_a_figure_that_a_command_prints() -> None:
    printed = {key for line in LINES for key in keys(document(line))}
    methods = {row["key"] for row in tables.rows("method_sources")}
    assert not [one for one in methods if not any(key.startswith(one) for key in printed)]
