"""``--cite``: the program, the engines and the publications that one answer rests on, and no others."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from command_runs import answer, run

from burnerlab import __version__, tables
from burnerlab.appliance import demonstration_path
from burnerlab.gas import load
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.citation import sources_behind

SIZE = ("size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O")
CLOCK = ("clock", "--gas", "propane", "--volume", "10 L", "--time", "61.2 s", "--rating", "6.2 kW gross")
FLUE = ("flue", "--gas", "propane", "--oxygen", "5 %", "--carbon-monoxide")
OTHERS = (
    ("gas", "propane"),
    ("flame", "--gas", "propane", "--aeration", "0.55"),
    ("interchange", "natural-gas-typical", "biomethane"),
)


def ids(*words: str, status: int = 0) -> set[str]:
    """Ids of the sources that an answer cites."""
    return {one["id"] for one in answer(*words, "--cite", status=status)["cite"] if one["kind"] == "source"}


@pytest.mark.parametrize("words", [SIZE, *OTHERS], ids=lambda words: words[0])
def test_a_citation_is_a_key_beside_the_answer_and_names_what_is_known(words: tuple[str, ...]) -> None:
    cited: dict[str, Any] = answer(*words, "--cite")
    cite = cited.pop("cite")
    plain = answer(*words)
    assert cited == plain
    assert cite[0] == {"kind": "program", "id": "burnerlab", "version": __version__}
    assert {one["id"]: one["version"] for one in cite if one["kind"] == "engine"} == plain["engines"]
    found = [one for one in cite if one["kind"] == "source"]
    assert found
    assert all(one["reference"] == tables.sources()[one["id"]].cite() for one in found)
    assert len({one["reference"] for one in found}) == len(found)


def test_what_the_answer_does_not_use_is_not_cited() -> None:
    """A coefficient of one's own takes the handbook's place; another shape brings its own source."""
    assert "discharge-handbooks" in ids(*SIZE)
    assert "discharge-handbooks" not in ids(*SIZE, "--coefficient", "0.88")
    sharp = ids(*SIZE, "--shape", "sharp")
    assert "discharge-wiki" in sharp
    assert "discharge-handbooks" not in sharp


def test_a_gas_without_composition_cites_no_data_of_flames() -> None:
    """Known by heating value and density alone it has none."""
    declared = ("flow", "--heating-value", "1037 Btu/ft3 gross at 60F", "--relative-density", "0.6")
    assert {"gri-mech-3.0", "iso6976-2016"} <= ids("gas", "propane")
    found = ids(*declared, "--pressure", "7 inH2O", "--drill", "#54")
    assert "discharge-iso5167-3" in found
    assert not {"gri-mech-3.0", "iso6976-2016", "tsonopoulos-1974"} & found


def test_a_declared_gas_with_a_name_of_its_own_cites_no_standard_for_compositions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    billed = """gross_heating_value = "37.8 MJ/m3"
relative_density = 0.6
reference = "15 C"
family = "natural gas"
"""
    Path("works.toml").write_text(
        f'name = "works"\n{billed}source = "bill"\nprovenance = "seen"\n', encoding="utf-8"
    )
    head = '[appliance]\nname = "cart"\nrating = "gross"\n[supply]\npressure = "20 mbar"\n'
    ring = '[[burner]]\nname = "ring"\nrate = "3 kW"\norifice = { drill = "1.25 mm" }\n'
    cart = f'{head}[gas]\nname = "town"\n{billed}'
    Path("cart.toml").write_text(cart + ring, encoding="utf-8")
    composed = {"iso6976-2016", "tsonopoulos-1974"}
    assert not composed & ids("gas", "works.toml")
    assert not composed & ids("flow", "--gas", "works.toml", "--pressure", "20 mbar", "--drill", "#54")
    assert not composed & ids("convert", "cart.toml", "--to", "works.toml", "--pressure", "20 mbar")
    assert "iso6976-2016" in ids("convert", "cart.toml", "--to", "G20", "--pressure", "20 mbar"), (
        "its new gas"
    )


def test_the_composition_of_a_gas_has_its_own_source() -> None:
    """From ``fuels``; a mixture that the user writes has none."""
    cited = answer(*OTHERS[2], "--cite")["cite"]
    found = {one["id"]: one["reference"] for one in cited if one["kind"] == "gas"}
    assert found == {name: load(name).source for name in ("natural-gas-typical", "biomethane")}
    own = answer("gas", "mix:methane=0.9,ethane=0.1", "--cite")["cite"]
    assert not [one for one in own if one["kind"] == "gas"]


def test_a_title_that_begins_another_is_not_taken_for_it() -> None:
    tile = tables.sources()["tile-judgement"].cite()
    assert [one.id for one in sources_behind({"source": tile})] == ["tile-judgement"]
    assert sources_behind({"source": "bench 3 of the works", "cautions": [{"source": tile}]}) == ()


def test_the_text_prints_each_reference_and_the_cautions_and_no_figure() -> None:
    printed = run(*SIZE, "--cite").stdout
    one_line = re.sub(r"\s+", " ", printed)
    for id in ids(*SIZE):
        assert f"{id}: {tables.sources()[id].cite()}" in one_line
    assert f"program burnerlab {__version__}" in one_line
    assert all(caution.line in printed for caution in closing_cautions("size"))
    assert "0.9861" not in printed


def test_a_stop_stands_above_the_citation_and_the_status_is_that_of_the_answer() -> None:
    high = run(*FLUE, "2000 ppm", "--cite")
    assert high.stdout.startswith("WARNING: STOP. CO ")
    assert "Keep the gas off until a qualified person" in high.stdout
    assert run(*CLOCK, "--cite").exit_code == run(*CLOCK).exit_code == 1


def test_files_are_written_with_it_as_without(tmp_path: Path) -> None:
    words = ("injectors", str(demonstration_path()), "--category", "II2H3+", "--out", str(tmp_path / "out"))
    assert "supply-en437" in ids(*words)
    assert list((tmp_path / "out").iterdir())


@pytest.fixture(scope="module")
def models(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two models and one that does not read; the second has a coefficient of its own for every orifice."""
    made = tmp_path_factory.mktemp("models")
    text = demonstration_path().read_text(encoding="utf-8")
    drill = re.compile(r'orifice += +{ drill = ("[^"]+")')
    assert len(drill.findall(text)) > 4
    (made / "a.toml").write_text(text, encoding="utf-8")
    (made / "b.toml").write_text(
        drill.sub(r"orifice = { coefficient = 0.88, drill = \1", text), encoding="utf-8"
    )
    (made / "c.toml").write_text("[appliance", encoding="utf-8")
    return made


@pytest.mark.parametrize(("command", "more"), [("convert", ("--market", "A")), ("line", ()), ("compare", ())])
def test_of_several_files_what_any_of_them_rests_on_is_cited_once(
    models: Path, command: str, more: tuple[str, ...]
) -> None:
    first, second = (str(models / f"{name}.toml") for name in "ab")
    both = answer(command, first, second, *more, "--cite")
    cited = [(one["kind"], one["id"]) for one in both.pop("cite")]
    assert both == answer(command, first, second, *more)
    assert len(cited) == len(set(cited))
    printed = run(command, first, second, *more, "--cite").stdout
    assert printed.count("This answer rests on") == printed.count("program  burnerlab") == 1
    assert all(f"- {id}: " in printed for kind, id in cited if kind in ("source", "gas"))
    assert ("convert FILE --cite" in " ".join(printed.split())) is (command != "convert")
    assert "entered or counted" not in printed
    if command == "convert":
        each = {file: ids(command, file, *more) for file in (first, second)}
        assert each[first] | each[second] == {id for kind, id in cited if kind == "source"}


def test_a_refused_file_is_named_above_the_citation_of_the_others(models: Path) -> None:
    whole = run("convert", *(str(models / f"{name}.toml") for name in "ac"), "--market", "A", "--cite")
    assert whole.exit_code == 2
    assert "c.toml" in whole.stderr
    words = " ".join(whole.stdout.split())
    assert words.startswith("REFUSED, not converted: ")
    assert words.index("REFUSED: 1 of 2 files") < words.index("program burnerlab")
    found = answer(
        "convert", str(models / "a.toml"), str(models / "c.toml"), *("--market", "A"), "--cite", status=2
    )
    assert [one for one in found["cite"] if one["kind"] == "source"]
    assert [set(one) for one in found["files"] if "error" in one] == [{"file", "error"}]
