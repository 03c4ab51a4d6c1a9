"""Chapters made from declarations hold each declaration: keys, options, outputs, tables, names, words, cautions."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from typing import Literal

import click
import pytest
from declared_results import declared_results

import burnerlab
from burnerlab import tables
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.gas_keys import GAS_KEYS, WHEN_NEEDED
from burnerlab.appliance.project.keys import every_key
from burnerlab.appliance.study.design import StudyFile
from burnerlab.bench.kit import Kit
from burnerlab.cli import COMMANDS, command_of, errors
from burnerlab.gas import library
from burnerlab.handbook.contents import page_of, section
from burnerlab.handbook.key_chapters import accepted_in
from burnerlab.handbook.markdown_text import anchor_of, escaped
from burnerlab.handbook.output_chapter import description
from burnerlab.handbook.table_chapters import question_of
from burnerlab.handbook.terminal_text import terminal_text
from burnerlab.quantity.outputs import columns
from burnerlab.tables.cautions import cautions


def commands(
    command: click.Command, path: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    yield path, command
    if isinstance(command, click.Group):
        for name, inner in command.commands.items():
            yield from commands(inner, (*path, name))


def text_of(topic: str) -> str:
    page = page_of(topic)
    assert page is not None
    return page.text


def section_of(topic: str, anchor: str) -> str:
    page = page_of(topic)
    assert page is not None
    return section(page, anchor)


def rows_of(text: str) -> dict[str, list[str]]:
    """Rows of the tables of a text by their first cell, without its marks."""
    cells = [
        re.split(r"(?<!\\) \| ", line.strip("|").strip())
        for line in text.splitlines()
        if line.startswith("| ")
    ]
    return {row[0].strip("`"): row[1:] for row in cells}


@pytest.mark.parametrize(
    ("topic", "root"), [("project-file", ProjectFile), ("study-file", StudyFile), ("kit-list", Kit)]
)
def test_every_key_stands_below_its_table_with_what_is_said_of_it(topic: str, root: type) -> None:
    page = page_of(topic)
    assert page is not None
    every = [line for line in every_key(root) if line.path != "gas"]
    assert len(every) > 5
    in_terminal = {text for line in terminal_text(page.text, topic).splitlines() for text in line.split()}
    for line in every:
        *above, name = line.path.split(".")
        assert name.removesuffix("[]") in in_terminal or line.kind.startswith("table"), "cut in two"
        if line.kind.startswith("table"):
            title = " ".join((*above, name)).replace("[]", "").replace("_", " ")
            assert escaped(line.help) in section(page, anchor_of(title)), line.path
            continue
        title = " ".join(above).replace("[]", "").replace("_", " ") or "top level"
        what, accepted, example = rows_of(section(page, anchor_of(title)))[name]
        assert what.startswith(escaped(line.help)), line.path
        assert ("**Needed**" in what) == line.is_needed, line.path
        assert escaped(accepted_in("metric", line)) in accepted, line.path
        assert example, line.path
    if topic == "project-file":
        gas = rows_of(section(page, "gas"))
        for name, key in GAS_KEYS.items():
            assert escaped(accepted_in("metric", key)) in gas[name][1], name
            assert ("**Needed**" in gas[name][0]) == (name in WHEN_NEEDED), name
            assert key.kind != "text" or name in library.ABOUT, name


OF_A_SYSTEM = {
    "metric": r"[0-9] (?:in w\.c\.|psi|psig|psia|inHg|ft|in|Btu/h|kBtu/h|lb|oz|°F|in²|in2)(?![A-Za-z])",
    "US": r"[0-9] (?:k?Pa|mbar|bar|mm|m|k?W|k?g|°C|C|K|mm²|mm2)(?![A-Za-z])",
}
"""What no range shows to a reader of the system: units of the other."""
BOTH = {"turndown", "tolerance", "resolution", "repeatability", "mass", "scatter", "conductivity"}
"""Keys of several forms, whose words have an example to copy, and a bare number in the one unit it is written in."""


@pytest.mark.parametrize("system", OF_A_SYSTEM)
def test_ranges_of_keys_and_options_stand_in_the_units_of_the_reader_alone(
    system: Literal["metric", "US"],
) -> None:
    for topic in ("project-file", "study-file", "kit-list", "commands"):
        page = page_of(topic)
        assert page is not None
        lines = [line for line in page.in_units(system).text.splitlines() if line.startswith("| `")]
        cells = [[cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in lines]
        ranges = [
            (row[0], row[2].partition("such as")[0], row[1].partition("Without it")[2]) for row in cells
        ]
        assert len(ranges) > 5
        wrong = [
            (name, accepted, default)
            for name, accepted, default in ranges
            if name.strip("`") not in BOTH
            and re.search(
                OF_A_SYSTEM[system], re.sub("`[^`]*`|reference state:.*", "", f"{accepted} {default}")
            )
        ]
        assert not wrong


def test_a_default_is_in_the_unit_of_its_key() -> None:
    page = page_of("project-file")
    assert page is not None
    supply = rows_of(section(page, "supply"))
    assert "Without it: 0 m" in supply["altitude"][0]
    assert "Without it: 15.00 °C" in supply["gas_temperature"][0]
    kit = page_of("kit-list")
    assert kit is not None
    assert "Without it: 0.27" in rows_of(section(kit, "top-level"))["false_alarm"][0]


def test_every_option_of_every_command_is_listed_with_its_help() -> None:
    page = page_of("commands")
    assert page is not None
    every = [one for name in COMMANDS for one in commands(command_of(name), (name,))]
    assert len(every) > 40
    for path, command in every:
        own = section(page, anchor_of(" ".join(path))).split("\n### ")[0] + "\n"
        for option in command.params:
            if isinstance(option, click.Option):
                assert all(f"`{flag}`" in own for flag in (*option.opts, *option.secondary_opts)), (
                    path,
                    option,
                )
                assert escaped((option.help or "").rstrip(" ."))[1:] in own, (path, option)
        for line in re.findall(r"^ *burnerlab (.*)$", command.help or "", re.MULTILINE):
            assert line.strip() in own, path


def test_the_page_of_exit_statuses_names_each() -> None:
    statuses = (errors.OK, errors.DIFFERS, errors.USER_ERROR, errors.INTERNAL_ERROR, errors.INTERRUPTED)
    assert {word for word in rows_of(text_of("exit-statuses")) if word.isdigit()} == {
        f"{each}" for each in statuses
    }


def test_every_declared_output_is_listed_with_key_unit_and_meaning() -> None:
    page = page_of("json-keys")
    assert page is not None
    sections = {one.title: section(page, one.anchor) for one in page.headings if one.level == 3}
    every = declared_results()
    for made in every:
        rows = rows_of(sections[made.__name__])
        for column in columns(made):
            unit, meaning = rows[", ".join((column.key, *column.ends)).replace(", ", "`, `")]
            assert unit.strip() == escaped(column.unit), (made, column.key)
            assert meaning.startswith(escaped(description(made, column))), (made, column.key)
    assert len(every) == len(sections) > 100


def test_every_table_says_what_it_answers_and_counts_its_rows() -> None:
    page = page_of("tables")
    assert page is not None
    assert [one.title for one in page.headings if one.level == 2] == list(tables.names())
    total: Counter[str] = Counter()
    for name in tables.names():
        own = section(page, name)
        assert question_of(name), name
        rows = tables.rows(name)
        assert f"- Rows: {len(rows)}, " in own
        for word, count in Counter(row["provenance"] for row in rows).items():
            assert f"{count} {word}" in own, name
            total[word] += count
        assert all(f"sources.md#{anchor_of(row['source'])})" in own for row in rows), name
    counted = rows_of(page.text.partition("\n## ")[0])
    assert {word: int(counted[word][0]) for word in total} == total
    listed = [one.title for one in page_of("sources").headings if one.level == 2]  # type: ignore[union-attr]
    assert listed == sorted(tables.sources())


def test_every_public_name_has_signature_text_and_example() -> None:
    page = page_of("python")
    assert page is not None
    names = [name for name in dir(burnerlab) if not name.startswith("_")]
    anchors = {one.title: one.anchor for one in page.headings if one.level == 3}
    assert set(anchors) == set(names)
    for name in names:
        own = section(page, anchors[name])
        assert f"```text\n{name}" in own, name
        signature = own.partition("```text\n")[2].partition("```")[0]
        assert "Annotated" not in signature, name
        assert "= ," not in signature, name
        assert max(map(len, signature.splitlines())) <= 100, name
        assert "```pycon\n>>> " in own, name


def test_words_cautions_and_stops_stand_in_full() -> None:
    words = text_of("glossary")
    assert all(
        f"**{escaped(row['term'])}**" in words and escaped(row["meaning"]) in words
        for row in tables.rows("terms")
    )
    assert all(escaped(row["us"].lstrip(": ")) in words for row in tables.rows("regional_terms"))
    warned = text_of("cautions")
    for one in cautions():
        assert (
            f"**{one.signal}: {escaped(one.hazard)}** {escaped(one.consequence)} {escaped(one.avoidance)}"
            in warned
        )
    for name, part in (
        ("cautions", section_of("cautions", "cautions")),
        ("stops", section_of("cautions", "stops")),
    ):
        places = [part.index(f"### {escaped(row['id'])}\n") for row in tables.rows(name)]
        assert places == sorted(places)
    assert all(
        escaped(re.sub(r"(?:\{\w+\})+", "\N{HORIZONTAL ELLIPSIS}", row[column])) in warned
        for row in tables.rows("stops")
        for column in ("heading", "do_first", "then")
    )
    assert "{" not in warned
