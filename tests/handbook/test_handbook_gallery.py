"""The gallery: every picture has its words, a command that exists and a page; without matplotlib it names the extra."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import click
import pytest

from burnerlab.appliance import demonstration_path
from burnerlab.cli import command_of
from burnerlab.handbook import gallery
from burnerlab.handbook.gallery import PICTURES, DEVIATIONS_percent, picture_bytes, picture_files
from burnerlab.handbook.markdown_text import code_blocks, links
from burnerlab.quantity import System
from burnerlab.report.figures.style import RC

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def images() -> dict[str, ElementTree.Element]:
    found = {}
    for one in PICTURES:
        made = picture_bytes(one.file)
        assert made is not None
        assert picture_bytes(one.file) is made, "drawn once"
        found[one.name] = ElementTree.fromstring(made)
    return found


def test_every_picture_is_an_image_with_its_words_and_no_address(
    images: dict[str, ElementTree.Element],
) -> None:
    for name, image in images.items():
        assert image.tag == f"{SVG}svg"
        assert len(list(image.iter(f"{SVG}path"))) > 20, name
        assert image.get("role") == "img"
        words = [image.findtext(f"{SVG}{tag}") for tag in ("title", "desc")]
        assert all(words), name
        targets = [str(value) for each in image.iter() for key, value in each.items() if key.endswith("href")]
        assert all(target.startswith(("#", "data:image/png;base64,")) for target in targets), name


def test_pictures_follow_the_units_of_the_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(RC, "svg.fonttype", "none")  # letters as letters

    def printed(name: str, system: System) -> str:
        return next(one for one in PICTURES if one.name == name).draw(system)

    for name, metric, US in (
        ("heat-map", "kW/m²", "Btu/h/in²"),
        ("two-layouts", "kW/m²", "Btu/h/in²"),
        ("region-of-ports", "port diameter, mm", "port diameter, in"),
        ("drill-chart", "kW", "Btu/h"),
    ):
        for system, own, other in (("metric", metric, US), ("US", US, metric)):
            text = printed(name, system)
            assert own in text, name
            if name != "drill-chart":
                assert other not in text, name


def test_the_chart_of_invented_units_shows_their_drift(images: dict[str, ElementTree.Element]) -> None:
    words = str(images["control-chart"].findtext(f"{SVG}desc"))
    assert words.startswith(f"{len(DEVIATIONS_percent)} units")
    assert "invented 20 at 3.3" in words
    assert "meets rule" in words
    assert "invented" in next(one.caption for one in PICTURES if one.name == "control-chart")


def test_the_page_shows_each_with_caption_command_and_page() -> None:
    text = gallery.gallery()
    assert {target for target in links(text) if target.endswith(".svg")} == set(picture_files())
    commands = [block.text.strip() for block in code_blocks(text)]
    assert commands[1:] == [one.command for one in PICTURES]
    for one in PICTURES:
        assert one.caption in text
        assert re.fullmatch(r"[^.]+\.", one.caption), "one sentence"
        assert one.description != one.caption
        assert one.explained
        assert {f"{topic}.md" for topic in one.explained} <= set(links(text))


COMMANDS = {
    line.strip()
    for one in PICTURES
    for line in one.command.replace("\\\n", " ").split("\n")
    if line.strip().startswith("burnerlab")
}


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_a_command_has_only_options_that_there_are(command: str) -> None:
    program, name, *words = shlex.split(command)
    assert program == "burnerlab"
    found = command_of(name)
    if isinstance(found, click.Group):
        found = found.commands[words.pop(0)]
    flags = {flag for option in found.params for flag in (*option.opts, *option.secondary_opts)}
    assert {word for word in words if word.startswith("--")} <= flags


def test_the_file_of_the_moved_tube_and_the_record_of_the_drift_are_made_by_their_commands(
    tmp_path: Path,
) -> None:
    shutil.copy(demonstration_path(), tmp_path / "range.toml")
    by_name = {one.name: one.command for one in PICTURES}
    moved, chart = by_name["two-layouts"], by_name["control-chart"]
    line, _, _ = moved.replace("\\\n", " ").partition("\n")
    subprocess.run(["sh", "-c", line], cwd=tmp_path, check=True)
    assert (tmp_path / "moved.toml").read_text(encoding="utf-8") == gallery.moved_text()
    shell = f'burnerlab() {{ echo "$@"; }}\n{chart}'
    lines = subprocess.run(
        ["sh", "-c", shell], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    assert [line for line in lines if line.startswith("record chart")]
    given = [re.search(r"invented (\d+) .*deviation = (\S+) %", line) for line in lines[:-1]]
    assert [(int(one[1]), float(one[2])) for one in given if one] == list(enumerate(DEVIATIONS_percent, 1))


def test_without_matplotlib_the_page_names_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gallery, "find_spec", lambda name: None)
    text = gallery.gallery()
    assert not [target for target in links(text) if target.endswith(".svg")]
    assert 'pip install "burnerlab[sheet]"' in text
    assert all(one.caption in text and one.command in text for one in PICTURES)
    assert not list(picture_files())
