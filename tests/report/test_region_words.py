"""Every paper of a file of a region, and what its commands print, in the words and units of that region."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from command_runs import run
from openpyxl import load_workbook

from burnerlab.report import study_paper

NAME = "orifice ring"  # of a burner: no word of it is exchanged
APPLIANCE = """
[appliance]
name   = "cart"
model  = "Orifice 2"
rating = "{basis}"
region = "{region}"

[supply]
gas      = "{gas}"
pressure = "{pressure}"
inlet    = "{inlet}"

[supply.regulator]
type = "natural appliance"
set  = "{pressure}"

[supply.manifold]
bore    = "20 mm"
spacing = "140 mm"

[[market]]
name   = "bottled"
supply = {supply}

[[burner]]
name     = "orifice ring"
kind     = "ring"
rate     = "{rate}"
turndown = "1:3"
orifice  = {{ drill = "{drill}", shape = "tapered" }}
ports    = {{ diameter = "1.6 mm", count = 180, depth = "3 mm", pitch = "4.4 mm", rows = 2 }}
throat   = "15.5 mm"
shutter  = {{ opening = "66 %", area = "155 mm2" }}
"""
OF_REGION = {
    "eu": {
        "basis": "net", "gas": "G20", "pressure": "20 mbar", "inlet": "25 mbar", "rate": "3.5 kW", "drill": "1.35 mm",
        "supply": '{ gas = "G31", pressure = "37 mbar" }',
    },
    "us": {
        "basis": "gross", "gas": "natural-gas-typical", "pressure": "7 in w.c.", "inlet": "10 in w.c.",
        "rate": "12.5 kBtu/h", "drill": "#54", "supply": '{ gas = "propane", pressure = "11 in w.c." }',
    },
}  # fmt: skip
COMMANDS = {
    "convert": ("convert", "--formats", "html,xlsx,csv,card", "--market", "A"),
    "injectors": ("injectors",),
    "plate": ("plate",),
    "kit": ("kit list",),
    "line": ("line",),
    "tolerance": ("tolerance", "--draws", "1000"),
    "supply": ("supply",),
    "compare": ("compare", "LIGHTER"),
}
OTHERS = {
    "eu": (
        r"orifices?|manifold pressure|(?:at|in) the manifold|at the appliance manifold|manifold, all|maker's plate|"
        r"rating plate|nameplate|rated input|flashback|flash(?:es)? back|overfires?|low fire|carry-?over|leak tests?|"
        r"responsible body|air-free CO|local code|new drill"
    ),
    "us": (
        r"injectors?|burner pressure|data plate|heat inputs?|(?:gross|net) calorific value|light-?back|lights? back|"
        r"cross-lighting|carry-over|reduced rate|low rate|overload|tightness test|responsible body|notified body|"
        r"late lighting|rating plate fields of|local installation rules|local code"
    ),
}
UNITS = {
    "eu": r"\d (?:in w\.c\.|psig?|k?Btu/h|ft3|°F)(?!\w)",
    "us": r"\d (?:mbar|kPa|mm|kW|W/mm2|g/h|kg/h|L/h|m3/h)(?!\w)",
}
KEPT = re.compile(
    r"burnerlab handbook \S+|handbook [a-z-]+#\S+|\b\w+#[\w-]+|cart Orifice(?: 2)?|Orifice 2|orifice ring|"
    r"undiluted CO \(air-free\)|"
    r"(?:DANGER|WARNING|CAUTION|NOTICE),[a-z-]+,|"
    r"Fields that rating plates and conversion labels of a region carry|"
    r"its base: 60 °F, 30 inHg|Low-pressure orifice equation of the North American gas trade|"
    r"general range of tapered injectors|[dmV] = [√\d][^=]*= [\d.]+ \S+|"
    r"Training text on leak testing[^;]*|Wobbe index to natural gas of 1335 Btu/ft3"
)
"""Addresses, names of the file, what publications are called, and the worked example, in SI as its formulas are.

The tab of a page has of a name what it has room for.
"""
ON_SCREEN = ("tolerance", "supply", "compare")
PAPERS = ("html", "csv", "xlsx")


@pytest.fixture(scope="module", params=["eu", "us"])
def printed(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, dict[str, str]]]:
    """The region, and what was printed by command and by file; a PDF has the texts of its page."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(study_paper, "paper_pdf", lambda *_, **__: b"")
        yield request.param, made_by_region(request.param, tmp_path_factory.mktemp("papers"))


def made_by_region(region: str, folder: Path) -> dict[str, str]:
    file = folder / "cart.toml"
    file.write_text(APPLIANCE.format(region=region, **OF_REGION[region]), encoding="utf-8")
    lighter = folder / "lighter.toml"
    text, drill = file.read_text(encoding="utf-8"), OF_REGION[region]["drill"]
    lighter.write_text(text.replace(drill, "1.80 mm" if region == "eu" else "#48"), encoding="utf-8")
    made = {}
    for name, (command, *options) in COMMANDS.items():
        to = [] if name in ON_SCREEN else ["--out", str(folder / name)]
        options = [str(lighter) if one == "LIGHTER" else one for one in options]
        answer = run(*command.split(), str(file), *options, *to)
        assert answer.exit_code == 0, answer.output
        made[name] = re.sub(rf"{re.escape(str(folder))}\S*", "", answer.stdout)
        for path in sorted((folder / name).rglob("*")) if to else ():
            if path.suffix[1:] in PAPERS:
                made[f"{name} {path.name}"] = text_of(path)
    return made


def text_of(path: Path) -> str:
    """What a reader sees of a file."""
    if path.suffix == ".html":
        page = re.sub(r"(?s)<(script|style|title)\b.*?</\1>", " ", path.read_text(encoding="utf-8"))
        return html.unescape(re.sub(r"<[^>]+>", "\n", page))
    if path.suffix == ".csv":  # its heads are keys
        return path.read_text(encoding="utf-8").partition("\n")[2]
    return "\n".join(cells(path))


def cells(path: Path) -> Iterator[str]:
    """Names of pages and texts of a workbook, its keys and formulas aside."""
    for page in load_workbook(path):
        yield page.title
        yield from (
            cell.value
            for row in page.iter_rows()
            for cell in row
            if isinstance(cell.value, str)
            and not cell.value.startswith("=")
            and not (page.title == "Figures" and cell.value.isidentifier())
        )


def test_no_word_of_another_region_is_left(printed: tuple[str, dict[str, str]]) -> None:
    region, texts = printed
    other, unit = re.compile(rf"(?i)(?<![\w-])(?:{OTHERS[region]})(?![\w])"), re.compile(UNITS[region])
    left = {
        where: sorted(
            {
                hit[0]
                for each in (
                    (other,) if where.endswith(".csv") else (other, unit)
                )  # a CSV has the units of its keys
                for hit in each.finditer(KEPT.sub(" ", " ".join(text.split())))
            }
        )
        for where, text in texts.items()
    }
    assert {where: hits for where, hits in left.items() if hits} == {}


def test_names_of_the_file_stay(printed: tuple[str, dict[str, str]]) -> None:
    """All but the set of a product line, a list of sizes."""
    _, texts = printed
    papers = {where: text for where, text in texts.items() if not where.endswith("-set.csv")}
    assert [where for where, text in papers.items() if NAME not in " ".join(text.split())] == []


def test_the_name_of_a_file_is_printed_as_it_is(tmp_path: Path) -> None:
    file, record = tmp_path / "orifice cart.toml", str(tmp_path / "bench.sqlite")
    file.write_text(APPLIANCE.format(region="eu", **OF_REGION["eu"]), encoding="utf-8")
    entry = ("--serial", "C-1", "--model", "Orifice 2", "--tester", "R. Quill", "--file", record)
    assert run("record", "add", *entry).exit_code == 0
    answer = run("calibrate", str(file), "--file", record)
    assert answer.exit_code == 0, answer.output
    assert "orifice cart.toml" in " ".join(answer.stdout.split())
