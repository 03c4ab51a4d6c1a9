"""Data of others: a folder, an installed package, and each way of being broken, by file and line."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from burnerlab.appliance.project.project_file import demonstration_path, read_appliance
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.cli import main
from burnerlab.gas import fuels, load
from burnerlab.gas.library import gases_of
from burnerlab.handbook.contents import page_of
from burnerlab.handbook.markdown_text import code_blocks
from burnerlab.quantity import UserError
from burnerlab.tables.libraries import GROUP, faulty, installed, library

ABOUT = 'title = "Gases of the works"\nsource = "chromatograph 3 of the works"\nlicence = "CC BY 4.0"\n'
GAS = """# a comment
["batch 7"]
title = "propane, batch 7"
per = "mole"
composition = { propane = 0.95, "n-butane" = 0.05 }
source = "sheet 7"
provenance = "measured here"
"""
STOCK = "part,size,source\nA-54,#54,list of the works\n"


def folder_of(path: Path, **files: str) -> Path:
    """A library; keywords are names of files, with an underscore before the ending."""
    path.mkdir(parents=True, exist_ok=True)
    for name, text in ({"about_toml": ABOUT, "gases_toml": GAS, "stock_csv": STOCK} | files).items():
        stem, _, ending = name.rpartition("_")
        if text:
            (path / f"{stem}.{ending}").write_text(text, encoding="utf-8")
    return path


def install(site: Path, package: str, name: str, value: str = "") -> None:
    """What an installer leaves on the path: the module and the note of the distribution beside it."""
    module = package.replace("-", "_")
    folder_of(site / module / "data")
    (site / module / "__init__.py").write_text(
        "raise RuntimeError('code of a data package runs')\n", encoding="utf-8"
    )
    note = site / f"{module}-2.1.dist-info"
    note.mkdir()
    (note / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {package}\nVersion: 2.1\n", encoding="utf-8"
    )
    (note / "entry_points.txt").write_text(
        f"[{GROUP}]\n{name} = {value or module + '.data'}\n", encoding="utf-8"
    )


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "site"
    path.mkdir()
    monkeypatch.setattr(sys, "path", [*sys.path, str(path)])
    return path


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_gas_of_a_folder_carries_library_and_source_in_every_answer(here: Path) -> None:
    folder_of(here / "works")
    gas = load("works:Batch-7")
    assert gas.name == "works:batch 7"
    assert gas.source == "sheet 7 (chromatograph 3 of the works; folder works)"
    assert "batch 7" not in fuels()
    answer = json.loads(CliRunner().invoke(main, ["gas", "works:batch 7", "--json"]).output)
    assert "works" in json.dumps(answer)
    text = CliRunner().invoke(main, ["gas", "works:batch 7"]).output
    assert "chromatograph 3 of the works" in text


def shown(name: str) -> str:
    """A file that the page on evidence shows, by the comment of its first line."""
    page = page_of("evidence")
    assert page is not None
    (block,) = [one for one in code_blocks(page.text) if one.text.startswith(f"# {name}\n")]
    return block.text


def test_the_package_of_the_handbook_is_built_and_installed(site: Path, here: Path) -> None:
    """Its files as they are printed, by the installer, without network; answers come from the installed copy."""
    package = here / "works-gases"
    folder_of(
        package / "works_gases" / "data",
        about_toml=shown("works/about.toml"),
        gases_toml=shown("works/gases.toml"),
    )
    (package / "works_gases" / "__init__.py").touch()
    (package / "pyproject.toml").write_text(shown("works-gases/pyproject.toml"), encoding="utf-8")
    alone = ["--quiet", "--disable-pip-version-check", "--no-index", "--no-deps", "--no-build-isolation"]
    command = [sys.executable, "-m", "pip", "install", *alone, "--target", str(site), str(package)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    shutil.rmtree(package)
    (found,) = installed().values()
    assert (found.name, found.origin) == ("works", "package works-gases 1.0")
    listed = CliRunner().invoke(main, ["fuels", "--library", "works"]).output
    assert "chromatograph 3 of the works" in listed
    assert "works:batch 7" in listed
    stocked = CliRunner().invoke(main, ["tables", "--library", "works"]).output
    assert "stock" in stocked
    answer = CliRunner().invoke(main, ["gas", "works:batch 7"])
    assert answer.exit_code == 0, answer.output


def test_an_installed_package_is_listed_beside_ours_and_none_of_its_code_runs(site: Path, here: Path) -> None:
    install(site, "works-gases", "works data")
    (found,) = installed().values()
    assert (found.name, found.origin, found.licence) == ("works data", "package works-gases 2.1", "CC BY 4.0")
    assert load("works data:batch 7").name == "works data:batch 7"
    listed = json.loads(CliRunner().invoke(main, ["fuels", "--json"]).output)
    assert listed["fuels"][0]["library"] == "works data"  # above ours, which fill a screen
    assert [one["name"] for one in listed["fuels"] if one["library"] == "works data"] == [
        "works data:batch 7"
    ]
    assert listed["count"] == len(fuels()) + 1
    assert listed["libraries"][0]["source"] == "chromatograph 3 of the works"
    text = CliRunner().invoke(main, ["fuels"]).output
    assert "works data: package works-gases 2.1; source: chromatograph 3 of the works" in text
    assert "works_gases" not in sys.modules


def test_tables_lists_ours_and_those_of_a_folder(here: Path) -> None:
    folder_of(here / "works")
    answer = json.loads(CliRunner().invoke(main, ["tables", "--library", "works", "--json"]).output)
    ours = {row["table"]: row for row in answer["tables"] if row["library"] == "burnerlab"}
    assert len(ours) > 50
    assert all(row["sources"] for row in ours.values())
    assert ours["discharge"]["can_be_replaced"]
    (theirs,) = [row for row in answer["tables"] if row["library"] == "works"]
    assert (theirs["table"], theirs["rows"], theirs["sources"]) == ("stock", 1, ["list of the works"])
    assert (
        "works: folder works; source: chromatograph 3"
        in CliRunner().invoke(main, ["tables", "--library", "works"]).output
    )


def test_a_table_without_sources_rests_on_that_of_its_library(here: Path) -> None:
    folder_of(here / "works", stock_csv="part,size\nA-54,#54\n")
    answer = json.loads(CliRunner().invoke(main, ["tables", "--library", "works", "--json"]).output)
    (theirs,) = [row for row in answer["tables"] if row["library"] == "works"]
    assert theirs["sources"] == ["chromatograph 3 of the works"]


def test_a_project_file_takes_gas_and_table_of_a_package(site: Path, here: Path) -> None:
    install(site, "works-gases", "works")
    text = demonstration_path().read_text(encoding="utf-8")
    (here / "cart.toml").write_text(text + '\n[tables]\nstock = "works:stock.csv"\n', encoding="utf-8")
    cart = read_appliance(here / "cart.toml")
    assert cart.tables.stock == site / "works_gases" / "data" / "stock.csv"
    (here / "cart.toml").write_text(text + '\n[tables]\nstock = "works:pipes.csv"\n', encoding="utf-8")
    with pytest.raises(UserError, match=r"works:stock\.csv"):
        read_appliance(here / "cart.toml")


def test_a_wrong_part_of_a_gas_that_a_project_file_names_is_said_where_it_stands(here: Path) -> None:
    """By the file of the folder, its line and the part; a name of the library of gases is read as a part."""
    text = demonstration_path().read_text(encoding="utf-8")
    assert '{ gas = "G30", pressure' in text
    (here / "cart.toml").write_text(
        text.replace('{ gas = "G30", pressure', '{ gas = "works:batch 7", pressure'), "utf-8"
    )
    folder_of(here / "works", gases_toml=GAS.replace('"n-butane"', "butane-n"))
    assert read_appliance(here / "cart.toml").markets
    folder_of(here / "works", gases_toml=GAS.replace('"n-butane"', "butone"))
    with pytest.raises(UserError) as caught:
        read_appliance(here / "cart.toml")
    (problem,) = caught.value.problems
    assert (Path(problem.file).name, problem.line) == ("gases.toml", 2)
    assert (problem.key, problem.value) == ("batch 7.composition", "butone")


@pytest.mark.parametrize("where", ["folder", "package", "project file"])
def test_a_table_option_takes_one_of_a_library_and_the_answer_names_it(
    where: str, site: Path, here: Path
) -> None:
    if where == "folder":
        folder_of(here / "works")
    else:
        install(site, "works-gases", "works")
    own = '\n[tables]\nstock = "works:stock.csv"\n' if where == "project file" else ""
    (here / "range.toml").write_text(demonstration_path().read_text(encoding="utf-8") + own, encoding="utf-8")
    line = ["plate", "range.toml", "--market", "B", *([] if own else ["--stock", "works:stock.csv"])]
    text = " ".join(CliRunner().invoke(main, line).stdout.split())
    origin = "folder works" if where == "folder" else "package works-gases 2.1"
    named = f"stock: works:stock.csv ({origin}; source: chromatograph 3 of the works; licence: CC BY 4.0)"
    assert f"Tables of libraries, in place of ours - {named}" in text
    answer = json.loads(CliRunner().invoke(main, [*line, "--json"]).stdout)
    (table,) = answer["tables_of_libraries"]
    assert (table["table"], table["library"], table["origin"]) == ("stock", "works", origin)


def test_a_citation_names_gas_and_table_of_a_library_with_their_sources(site: Path, here: Path) -> None:
    install(site, "works-gases", "works")
    line = ["size", "--gas", "works:batch 7", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O"]
    line += ["--drills", "works:stock.csv", "--cite"]
    cited = json.loads(CliRunner().invoke(main, [*line, "--json"]).stdout)["cite"]
    origin = "chromatograph 3 of the works; package works-gases 2.1"
    assert {one["kind"]: one for one in cited if one["kind"] in ("gas", "table")} == {
        "gas": {
            "kind": "gas",
            "id": "works:batch 7",
            "reference": f"sheet 7 ({origin})",
            "note": "measured here",
        },
        "table": {
            "kind": "table",
            "id": "works:stock.csv",
            "reference": "chromatograph 3 of the works (package works-gases 2.1)",
            "note": "CC BY 4.0",
        },
    }
    text = " ".join(CliRunner().invoke(main, line).stdout.split())
    assert f"works:batch 7: sheet 7 ({origin}) (measured here)" in text
    assert text.count("works:stock.csv") == 1


def test_the_sources_of_a_sheet_name_the_tables_of_packages(site: Path, here: Path) -> None:
    """The paper that leaves the house says which package its drills are from, as the answer does."""
    install(site, "works-gases", "works")
    text = demonstration_path().read_text(encoding="utf-8") + '\n[tables]\nstock = "works:stock.csv"\n'
    (here / "cart.toml").write_text(text, encoding="utf-8")
    done = CliRunner().invoke(
        main, ["convert", "cart.toml", "--market", "A", "--out", "o", "--formats", "html"]
    )
    assert done.exit_code == 0, done.stderr
    (page,) = [one for one in (here / "o").rglob("*.html") if not one.stem.endswith(("-card", "-plan"))]
    assert "stock: works:stock.csv (package works-gases 2.1; source: chromatograph 3" in page.read_text(
        "utf-8"
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("works:pipes.csv", "accepted: works:stock.csv"),
        ("nowhere:stock.csv", "no library of that name"),
        (r"C:\works\stock.csv", "is not a regular file"),  # a drive of Windows is no library
        ("missing.csv", "give the path of a file, or LIBRARY:stock.csv"),
    ],
)
def test_a_table_option_that_names_none(text: str, words: str, here: Path) -> None:
    folder_of(here / "works")
    (here / "range.toml").write_bytes(demonstration_path().read_bytes())
    done = CliRunner().invoke(main, ["plate", "range.toml", "--stock", text])
    assert done.exit_code == 2
    assert words in done.stderr


def test_the_desk_reads_no_folder_that_a_page_names(here: Path) -> None:
    folder_of(here / "works")
    text = ProjectText(demonstration_path().read_text(encoding="utf-8"))
    with pytest.raises(UserError, match="names a file of the disk"):
        text.with_values({"supply.gas": "works:batch 7"})


BROKEN: dict[str, tuple[dict[str, str], str, int, str]] = {
    "no about": ({"about_toml": ""}, "works", 0, "it has no about.toml"),
    "no source": ({"about_toml": 'title = "x"\n'}, "about.toml", 1, "states no source"),
    "unknown key": ({"about_toml": ABOUT + 'sorce = "x"\n'}, "about.toml", 4, "unknown key"),
    "no text": ({"about_toml": "source = 3\n"}, "about.toml", 1, "must be text"),
    "no TOML": ({"gases_toml": GAS + "x = = 3\n"}, "gases.toml", 8, "is not TOML"),
    "twice in a file": ({"gases_toml": GAS + GAS}, "gases.toml", 9, "is not TOML"),
    "twice": ({"more_toml": GAS.replace("batch 7", "Batch-7")}, "more.toml", 2, "gases.toml, line 2"),
    "without origin": ({"gases_toml": GAS.replace('source = "sheet 7"\n', "")}, "gases.toml", 2, "states no source"),
    "wrong sum": ({"gases_toml": GAS.replace("0.95", "0.9")}, "gases.toml", 2, "0.95"),
    "no table": ({"gases_toml": "x = 3\n"}, "gases.toml", 1, "must be a table"),
    "unknown component": ({"gases_toml": GAS.replace('"n-butane"', "butone")}, "gases.toml", 2, "butone"),
    "name of no table": ({"drils_csv": STOCK}, "drils.csv", 0, "named after no table"),
    "wrong cell": ({"stock_csv": "part,size,price,source\nA,#54,dear,list\n"}, "stock.csv", 2, "dear"),
    "no source of a row": ({"stock_csv": STOCK + "B-1,#60,\n"}, "works:stock.csv", 3, "names no source; write where"),
}  # fmt: skip


def read_all(name: str) -> None:
    found = library(name)
    gases_of(found)
    for path in found.tables.values():
        found.table(path.name)


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_library_is_said_by_file_and_line(case: str, here: Path) -> None:
    files, file, line, words = BROKEN[case]
    folder_of(here / "works", **files)
    with pytest.raises(UserError) as caught:
        read_all("works")
    problem = caught.value.problems[0]
    assert Path(problem.file).name == file
    assert problem.line == line
    assert words in problem.text()
    result = CliRunner().invoke(
        main, ["tables" if "csv" in next(iter(files)) else "fuels", "--library", "works"]
    )
    assert result.exit_code == 2


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda site: install(site, "works-more", "works"),
            r"package works-gases 2\.1, package works-more 2\.1",
        ),
        (lambda site: folder_of(site.parent / "works"), r"package works-gases 2\.1, folder"),
        (
            lambda site: install(site, "works-more", "more", "works_more.gone"),
            r"package works-more 2\.1.*no folder",
        ),
        (lambda site: install(site, "works-more", "more", "works_more:data"), r'more = "works_more\.data"'),
    ],
)
def test_a_name_of_two_and_a_package_without_data_are_refused_with_their_places(
    site: Path, here: Path, make: Callable[[Path], object], words: str
) -> None:
    install(site, "works-gases", "works")
    make(site)
    with pytest.raises(UserError, match=words):
        load("more:batch 7" if "more" in faulty() else "works:batch 7")


@pytest.mark.parametrize("command", ["fuels", "tables"])
@pytest.mark.parametrize(
    ("file", "text", "words"),
    [
        ("about.toml", "", "it has no about.toml"),
        ("about.toml", ABOUT + 'sorce = "x"\n', "about.toml, line 4: sorce: unknown key"),
        ("drills.csv", STOCK, "rename it to stock.csv"),
    ],
)
def test_a_faulty_package_is_named_with_its_fix_and_the_others_are_listed(
    command: str, file: str, text: str, words: str, site: Path, here: Path
) -> None:
    install(site, "works-gases", "works")
    install(site, "works-more", "more")
    place = site / "works_more" / "data"
    (place / file).write_text(text, encoding="utf-8")
    if not text:
        (place / file).unlink()
    if command == "fuels" and file.endswith(".csv"):
        (place / "gases.toml").write_text(GAS.replace("0.95", "0.9"), encoding="utf-8")
        words = "0.95"
    done = CliRunner().invoke(main, [command])
    assert done.exit_code == 2
    assert "works: package works-gases 2.1" in done.stdout
    assert "more: package" not in done.stdout
    for part in (words.replace("0.95", "0.05"), "works-more 2.1", str(place)):
        assert part in " ".join(done.stderr.split())
    document = json.loads(CliRunner().invoke(main, [command, "--json"]).stdout)
    assert [one["library"] for one in document["libraries_refused"]] == ["more"]
    assert load("works:batch 7").name == "works:batch 7"


def test_size_chooses_from_the_stock_of_a_library(here: Path) -> None:
    folder_of(here / "works", stock_csv="part,size\nA-54,#54\nA-60,#60\n")
    line = ["size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O"]
    done = CliRunner().invoke(main, [*line, "--drills", "works:stock.csv"])
    assert done.exit_code == 0, done.stderr
    assert "#54" in done.stdout
    assert "#55" not in done.stdout
    assert "stock: works:stock.csv (folder works" in " ".join(done.stdout.split())


def test_an_unknown_gas_of_a_library_gets_the_nearest_names(here: Path) -> None:
    folder_of(here / "works")
    with pytest.raises(UserError, match="did you mean batch 7"):
        load("works:batsh 7")
    with pytest.raises(UserError, match="no library of that name"):
        load("wroks:batch 7")
