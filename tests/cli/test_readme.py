"""What the README and the first pages of the handbook show is what the product does."""

from __future__ import annotations

import csv
import io
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from command_runs import demonstration_run, run

from burnerlab.appliance import convert, read_appliance_text
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.project.burner_kind import BurnerKind
from burnerlab.cli import COMMANDS, main
from burnerlab.handbook.contents import handbook_dir, page_of
from burnerlab.handbook.markdown_text import headings
from burnerlab.page.desk_form import BURNER, MARKET, SITE
from burnerlab.tables import package_dir
from burnerlab.tables.cautions import cautions

README = Path(__file__).parents[2] / "README.md"
MOST_LINES = 150  # of a README that is read before anything else


def blocks(topic: str, language: str) -> list[str]:
    """Fenced blocks of a page of the handbook marked with a language."""
    text = (handbook_dir() / f"{topic}.md").read_text(encoding="utf-8")
    return re.findall(rf"(?ms)^```{language}\n(.*?)^```$", text)


def test_the_appliance_file_of_the_first_page_converts() -> None:
    (text,) = blocks("first-conversion", "toml")
    job = convert(read_appliance_text(text), "propane", 2740.0)
    assert [burner.name for burner in job.burners] == ["griddle tube"]


def test_the_market_of_the_handbook_is_a_couple_on_one_orifice() -> None:
    (text,) = blocks("convert-a-burner", "toml")
    (target,) = targets_of(read_appliance_text(text))
    assert [conversion.to_gas.name for conversion in convert_market(target)] == ["G30", "G31"]


def test_the_first_page_lists_every_kind_of_burner() -> None:
    (text,) = blocks("first-conversion", "toml")
    (line,) = re.findall(r"(?m)^kind .*# (.+)$", text)
    assert re.split(r", | or ", line) == [kind.value for kind in BurnerKind]


def test_the_first_page_names_the_fields_and_buttons_of_the_desk() -> None:
    text = (handbook_dir() / "first-conversion.md").read_text(encoding="utf-8")
    section = text.partition("## Convert on the desk\n")[2].partition("\n## ")[0]
    named = re.findall(r"\*([^*]+)\*", section)
    labels = {label for form in (SITE, MARKET, BURNER) for label, _ in form.values()}
    templates = (package_dir() / "page").glob("**/desk*[!c]")
    pages = "\n".join(path.read_text(encoding="utf-8") for path in templates if path.is_file())
    assert len(named) > 15
    assert not [
        one for one in named if one not in labels and not re.search(rf"[>\"]{re.escape(one)}[<\"]", pages)
    ]


@pytest.mark.golden
@pytest.mark.slow
def test_the_demonstration_of_the_handbook_is_what_it_prints() -> None:
    """Renew the block with what ``burnerlab demo`` prints."""
    (shown,) = blocks("demonstration", "text")
    assert demonstration_run().printed.strip() == shown.strip()


@pytest.mark.slow
def test_the_demonstration_runs_from_any_folder_and_replaces_nothing_unasked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first run, in a folder of its own, is the one that other tests look at too."""
    first = demonstration_run()
    home = Path(shutil.copytree(first.folder, tmp_path / "burnerlab-demo"))
    monkeypatch.chdir(tmp_path)
    mine = home / "market-cart-range.toml"
    mine.write_text(mine.read_text(encoding="utf-8") + "# edited\n", encoding="utf-8")
    before = {path.name: path.read_bytes() for path in home.iterdir()}
    again = run("demo")
    assert (again.exit_code, again.stdout) == (2, "")
    assert again.stderr.count("exists, will not overwrite it") == len(before) > 7
    assert (
        "market-cart-range.toml: exists, will not overwrite it; name another folder or add --overwrite"
        in again.stderr
    )
    assert {path.name: path.read_bytes() for path in home.iterdir()} == before
    done = run("demo", "--overwrite")
    assert (done.exit_code, done.stdout) == (0, first.printed)
    assert "# edited" not in mine.read_text(encoding="utf-8")
    assert {path.name for path in home.iterdir()} == set(before)
    assert {path.suffix for path in home.iterdir()} == {".toml", ".html", ".pdf", ".xlsx", ".csv", ".json"}
    assert "rear burner" in done.stdout
    next_line = next(line for line in done.stdout.splitlines() if "burnerlab convert" in line)
    assert "market-cart-range.toml" in next_line
    rows = list(csv.reader(io.StringIO((next(home.glob("*.csv"))).read_text(encoding="utf-8-sig"))))
    assert len(rows) > 6


@pytest.mark.golden
def test_the_size_of_the_handbook_is_what_it_prints() -> None:
    """Renew the block with what the command in it prints."""
    shown = next(
        block for block in blocks("convert-a-burner", "console") if block.startswith("$ burnerlab size")
    )
    line, _, rest = shown.partition("\n")
    words = ["size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O"]
    assert all(word in line for word in words)
    assert CliRunner().invoke(main, words).stdout.startswith(rest.removesuffix("...\n").rstrip())


def test_the_cautions_of_the_readme_are_those_of_the_table_worst_first() -> None:
    section = README.read_text(encoding="utf-8").partition("## Cautions\n")[2].partition("\n## ")[0]
    assert re.findall(r"(?m)^- (.*)$", section) == [one.line for one in cautions()]


def test_the_cautions_of_a_page_are_those_of_the_table_worst_first() -> None:
    order = [one.line for one in cautions()]
    for path in sorted(handbook_dir().glob("*.md")):
        shown = re.findall(
            r"(?m)^- ((?:DANGER|WARNING|CAUTION|NOTICE): .*)$", path.read_text(encoding="utf-8")
        )
        assert [line for line in order if line in shown] == shown, path.name


def test_every_command_is_in_the_readme_or_a_page_of_the_handbook() -> None:
    paths = [README, *handbook_dir().glob("*.md")]
    text = "\n".join(path.read_text(encoding="utf-8") for path in paths if path.stem != "changes")
    assert not [name for name in COMMANDS if not re.search(rf"burnerlab {name}\b", text)]


def test_both_commands_are_marked_for_the_checks() -> None:
    text = README.read_text(encoding="utf-8")
    for name, ends in (("demo", "burnerlab demo"), ("tests", "pytest -n 2")):
        block = re.search(rf"<!-- command: {name} -->\s*```\w*\n(.*?)```", text, re.DOTALL)
        assert block is not None
        assert "python3 -m venv" in block[1]
        assert block[1].strip().endswith(ends)


def test_the_readme_is_short_and_names_pages_that_exist() -> None:
    text = README.read_text(encoding="utf-8")
    assert text.count("\n") <= MOST_LINES
    named = re.findall(r"\[([a-z-]+)\]\(burnerlab/handbook/\1\.md\)", text)
    assert len(named) == text.count("](burnerlab/handbook/") > 10
    assert not [topic for topic in named if page_of(topic) is None]


@pytest.mark.parametrize("name", ["README.md", "notebooks/README.md"])
def test_every_address_of_a_first_page_is_a_file_and_a_heading_of_it(name: str) -> None:
    path = README.parent / name
    lost, addresses = [], re.findall(r"\]\(([^)\s]+)\)", path.read_text(encoding="utf-8"))
    for address in addresses:
        file, _, anchor = address.partition("#")
        there = path.parent / file if file else path
        if not there.exists() or (
            anchor and anchor not in [one.anchor for one in headings(there.read_text(encoding="utf-8"))]
        ):
            lost.append(address)
    assert addresses
    assert not lost
