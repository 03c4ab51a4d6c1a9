"""``burnerlab record`` where a test was stopped: STOP first, in text and JSON, and a release by name."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from burnerlab.appliance import demonstration_path
from burnerlab.bench.record.stop_display import StopDisplay
from burnerlab.bench.stop import stop_notice
from burnerlab.cli import main
from burnerlab.cli.output import print_stops_not_recorded

UNIT = ("--serial", "C-0001", "--model", "market cart range", "--tester", "R. Quill")
WITHIN = ("--result", "ring: deviation = -2 % in -5 %..5 %")
SMELL = ("--seen", "ring: odour = yes")
BY = (
    "--name", "K. Moss", "--qualification", "gas engineer", "--cause", "nut loose", "--repair", "tightened",
    "--joints-searched", "fluid", "--gas-at-joints", "no", "--test-pressure-start", "11 in w.c.",
    "--test-pressure-end", "11 in w.c.", "--test-minutes", "10",
    "--meter-dial", "1 ft3", "--meter-minutes", "10", "--meter-moved", "no",
    "--stop-began", "2024-11-25 08:10",
)  # fmt: skip

JUST_NOW = f"{datetime.now():%Y-%m-%d %H:%M}"
FILE = ("--appliance", str(demonstration_path()))  # 10 in w.c. at its inlet

LEAKS = (
    ("--meter-minutes", "10 min, still moving", "is no number"),
    ("--meter-minutes", "0", "is too short"),
    ("--meter-minutes", "6", "is too short: at least 7 min"),  # at 1 ft3, recalled
    ("--meter-dial", "a small one", "is no dial"),
    ("--test-pressure-end", "11.5 in w.c.", "rose by more than a gauge reads apart"),
    ("--test-pressure-end", "dropped 1 in w.c.: none found", "is no pressure"),
    ("--test-minutes", "held 2 of 10", "is no number"),
    ("--stop-began", "when it smelled", "is no date and time of the past"),
    ("--stop-began", JUST_NOW, "that is"),
)


@pytest.fixture(autouse=True)
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path / "bench.sqlite"


def run(*args: str) -> Result:
    return CliRunner().invoke(main, ("record", *args))


def by(*more: str) -> tuple[str, ...]:
    """The statements of a release, some of them otherwise."""
    options = dict(zip(BY[::2], BY[1::2], strict=True)) | dict(zip(more[::2], more[1::2], strict=True))
    return tuple(word for pair in options.items() for word in pair)


def told(*args: str) -> dict[str, Any]:
    done = run(*args, "--json")
    found: dict[str, Any] = json.loads(done.output)
    is_new = args[0] in ("add", "correct", "import")  # of what was recorded a script notices a stop
    assert done.exit_code == int(is_new and bool(found.get("stop"))), done.stderr
    return found


def test_a_smell_of_gas_heads_every_answer_of_the_record() -> None:
    added = run("add", *UNIT, *WITHIN, *SMELL)
    assert added.exit_code == 1
    assert "recorded as stopped: C-0001" in added.output
    for done in (added, run("list"), run("show", "C-0001"), run("show", "C-0001", "--history"),
                 run("search", "0001"), run("stops")):  # fmt: skip
        lines = done.output.splitlines()
        assert lines[0] == "DANGER: STOP. Gas can explode."
        assert "within" not in done.output
        assert all(len(line) <= 80 for line in lines[:12])
    for asked in (("list",), ("show", "C-0001"), ("search", "0001"), ("stops",)):
        found = told(*asked)
        assert found["stop"]["id"] == "odour"
        assert [one["serial"] for one in found["stops"]] == ["C-0001"]
    assert told("show", "C-0001")["state"] == "stopped"
    assert told("list")["tests"][0]["results"][0]["verdict"] == "not evaluated"


def test_a_stop_of_the_bench_heads_the_next_unit() -> None:
    run("add", *UNIT, *SMELL, "--place", "line 2")
    other = ("--serial", "C-0002", *UNIT[2:])
    here = run("add", *other, *WITHIN, "--place", "line 2")
    assert here.output.startswith("DANGER: STOP.")
    assert "within" not in run("show", "C-0002").output
    place = "line 3, another supply: main B"
    unstated = run("add", "--serial", "C-0003", *UNIT[2:], *WITHIN, "--place", place)
    assert unstated.output.startswith(
        "DANGER: STOP."
    )  # gas in a room, and nobody stated that line 3 is apart
    assert [one["id"] for one in told("show", "C-0003")["stops"]] == ["odour"]
    assert told("show", "C-0003")["results"][0]["verdict"] == "not evaluated"
    assert [one["id"] for one in told("stops", "--serial", "C-0004", "--place", place)["stops"]] == ["odour"]


def test_a_place_apart_is_stated_as_the_pages_state_it() -> None:
    """Another supply, another room, the stopped place shut off and ventilated, and by whom: all four or none."""
    run("add", *UNIT, *SMELL, "--place", "line 2")
    place = ("--place", "yard, another supply: tank 2")
    apart = ("--apart-room", "outdoors", "--apart-held", "line 2", "--apart-by", "K. Moss")
    for serial, more, named in (
        ("C-0005", (*place, *apart[:4]), "--apart-by"),
        ("C-0005", (*place, *apart[:2], *apart[4:]), "--apart-held"),
        ("C-0005", (*place, *apart[:5], "?"), "--apart-by"),
        ("C-0005", ("--place", "yard", *apart), "--place"),
    ):
        refused = run("add", "--serial", serial, *UNIT[2:], *WITHIN, *more)
        assert (refused.exit_code, named in refused.output + refused.stderr) == (2, True)
    entry = told("add", "--serial", "C-0005", *UNIT[2:], *WITHIN, *place, *apart)
    assert (entry["stops"], entry["results"][0]["verdict"]) == ([], "within")
    assert told("show", "C-0005")["stops"] == []
    new_reading = ("--reading", "ring: manifold pressure = 11 inH2O", "--reason", "read again")
    corrected = told("correct", entry["uid"][:8], *new_reading)  # what was stated of the place stays
    assert corrected["stops"] == []
    run(
        "add", "--serial", "C-0006", *UNIT[2:], *SMELL, "--place", "line 2"
    )  # a later stop: nothing is stated of it
    assert [one["serial"] for one in told("show", "C-0005")["stops"]] == ["C-0006"]


def test_a_stop_of_one_unit_does_not_head_another() -> None:
    run("add", *UNIT, "--seen", "ring: soot = yes")
    plain = run("add", "--serial", "C-0002", *UNIT[2:], *WITHIN)
    assert "STOP" not in plain.output
    other = told("stops", "--serial", "C-0002")
    assert (other["stop"], other["stops"]) == (None, [])
    assert "STOP" in run("list").output


def test_a_correction_does_not_end_a_stop_and_a_release_does() -> None:
    entry = told("add", *UNIT, *WITHIN, *SMELL)["uid"][:8]
    corrected = run("correct", entry, "--reason", "pressed the wrong answer", "--seen", "ring: odour = no")
    assert corrected.output.startswith("DANGER: STOP.")
    assert told("stops")["stop"]["id"] == "odour"
    assert told("show", "C-0001")["state"] == "stopped"  # the entry that corrects it raised none of its own
    unsigned = run("release", f"{entry}-odour", *FILE, *BY[2:])
    assert unsigned.exit_code == 2
    assert "--name" in unsigned.stderr
    blank = run("release", f"{entry}-odour", *FILE, *BY[:3], " ", *BY[4:])
    assert "--qualification: is missing" in blank.stderr
    undone = run("release", f"{entry}-odour", *FILE, *by("--joints-searched", "two joints only: none found"))
    assert undone.exit_code == 2
    assert "every joint is searched at working pressure" in " ".join(undone.stderr.split())
    silent = " ".join(
        run("release", f"{entry}-odour", *FILE, *BY[:12]).stderr.split()
    )  # the page has the same fields
    for name in BY[12:-2:2]:
        assert f"{name}: is missing" in silent
    for name, leaks, stands in LEAKS:
        refused = run("release", f"{entry}-odour", *FILE, *by(name, leaks))
        assert refused.exit_code == 2
        assert f'{name} = "{leaks}": {stands}' in " ".join(refused.stderr.split())
    assert silent.endswith("record release --help")
    empty = run("release", f"{entry}-odour", *FILE, *BY[:5], "?", *BY[6:])
    assert '--cause = "?": says nothing: words are needed, such as union nut loose' in " ".join(
        empty.stderr.split()
    )
    done = run("release", f"{entry}-odour", *FILE, *BY)
    assert "cannot check them" in done.output
    assert "STOP" not in done.output
    assert told("stops")["stops"] == []
    assert "no stop without a release" in run("stops").output
    assert "released" in run("show", "C-0001", "--history").output
    listed = run("list").output
    assert all(word in listed for word in ("stopped,", "released"))
    assert "correction" in listed
    shown = " ".join(run("show", "C-0001").output.split())  # the correction raised no stop of its own
    assert "odour: DANGER: STOP. Gas can explode." in shown
    assert "by K. Moss, gas engineer, as typed; cause: nut loose; repair: tightened; leak test:" in shown
    run("add", *UNIT, *WITHIN)
    unread = "not read since the release of STOP. Gas can explode: leak test"
    for told_of in (("list",), ("show", "C-0001")):
        assert unread in " ".join(run(*told_of).output.split())
    run("add", *UNIT, *WITHIN, "--leak-test", "none found by leak detection fluid")
    assert unread not in " ".join(run("show", "C-0001").output.split())
    assert "released already" in run("release", f"{entry}-odour", *FILE, *BY).stderr
    assert "no such stop" in run("release", "0000-odour", *FILE, *BY).stderr


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (("--gas-at-joints", "yes"), "gas at a joint"),
        (("--meter-moved", "yes"), "the hand of the meter moved"),
        (("--test-pressure-end", "10 in w.c."), "the pressure fell"),
    ],
)
def test_gas_found_in_a_release_is_recorded_as_a_stop(more: tuple[str, ...], why: str) -> None:
    entry = told("add", *UNIT, "--seen", "ring: soot = yes")["uid"][:8]
    found = run("release", f"{entry}-soot", *by(*more))
    assert found.exit_code == 2
    assert found.stdout.startswith("DANGER: STOP. Gas can explode.")
    assert "there is still a leak: the stop stays in force; recorded as a stop of its own" in " ".join(
        found.stderr.split()
    )
    assert why in found.stderr
    assert run("release", f"{entry}-soot", *BY).exit_code == 0
    assert [one["id"] for one in told("stops")["stops"]] == ["odour"]


def test_no_leak_test_below_the_working_pressure_of_the_file_ends_a_stop() -> None:
    entry = told("add", *UNIT, *SMELL)["uid"][:8]
    low = ("--test-pressure-start", "9.8 in w.c.", "--test-pressure-end", "9.8 in w.c.")
    refused = " ".join(run("release", f"{entry}-odour", *by(*low), *FILE).stderr.split())
    assert "below the working pressure of this supply, at least 24.9 mbar (10.0 in w.c.)" in refused
    assert run("release", f"{entry}-odour", *BY, *FILE).exit_code == 0


def test_without_the_file_of_the_unit_its_recorded_pressure_is_the_least_of_a_leak_test() -> None:
    """Half an inch shows no leak at 11: what is not known is asked for, and nothing is recorded."""
    entry = told("add", *UNIT, *SMELL)["uid"][:8]
    low = ("--test-pressure-start", "0.5 in w.c.", "--test-pressure-end", "0.5 in w.c.")
    refused = run("release", f"{entry}-odour", *by(*low))
    assert (refused.exit_code, told("stops")["stop"]["id"]) == (2, "odour")
    assert "--appliance: the working pressure of this supply is not known" in " ".join(refused.stderr.split())
    for value in ("2 inH2O", "11 inH2O"):  # the first is outside its band, and says nothing
        read = f"ring: manifold pressure = {value} in 10.3 inH2O..11.9 inH2O"
        run("add", *UNIT, "--result", read)
        done = run("release", f"{entry}-odour", *by(*low))
        assert done.exit_code == 2
    assert "at least 27.4 mbar (11.0 in w.c.)" in " ".join(done.stderr.split())
    assert run("release", f"{entry}-odour", *BY).exit_code == 0


def test_the_file_of_a_release_is_on_the_gas_of_the_unit() -> None:
    """Converted to propane a unit works at the pressure of that market, not at that of the natural gas of its file."""
    low = ("--test-pressure-start", "10 in w.c.", "--test-pressure-end", "10 in w.c.")
    for gas, why in (("propane", "at least 27.4 mbar (11.0 in w.c.)"), ("G20", "is on G20")):
        entry = told("add", *UNIT, "--gas", gas, *SMELL)["uid"][:8]
        refused = run("release", f"{entry}-odour", *by(*low), *FILE)
        assert refused.exit_code == 2
        assert why in " ".join(refused.stderr.split())


def test_a_figure_far_above_the_rating_stops_as_well() -> None:
    done = run("add", *UNIT, "--result", "ring: deviation = 14 % in -5 %..5 %")
    assert done.output.startswith("WARNING: STOP. Possible overfire, about 14 % above the rated")


@pytest.mark.parametrize(
    ("read", "head"),
    [
        ("stock-pot ring: heat input gross = 11 kW", "WARNING: STOP. Possible overfire"),  # rated 8.79
        (
            "stock-pot ring: heat input net = 9.7 kW",
            "WARNING: STOP. Possible overfire",
        ),  # over 0.9: 10.8 gross
        ("stock-pot ring: heat input gross = 8.8 kW", ""),
        ("stock-pot ring: lock up pressure = 40 mbar", "WARNING: STOP. Manifold pressure 40.0 mbar"),
        ("no ring: heat input gross = 8.8 kW", None),
    ],
)
def test_a_heat_input_is_held_against_the_rating_of_the_project_file(read: str, head: str | None) -> None:
    done = run("add", "--serial", "C-0001", "--tester", "R. Quill", *FILE, "--result", read)
    if head is None:
        assert (done.exit_code, "is not a burner of this appliance" in done.stderr) == (2, True)
    else:
        assert done.output.startswith(head or "recorded: C-0001")


def test_a_pressure_outside_the_band_of_the_project_file_stops(tmp_path: Path) -> None:
    """The regulator of the demonstration holds from 16.1 mbar on; another gas than the file has other bands."""
    unit = ("--tester", "R. Quill", "--appliance", str(demonstration_path()))
    for serial, read, head in (
        (
            "C-0001",
            ("stock-pot ring: manifold pressure = 14 inH2O",),
            "WARNING: STOP. Manifold pressure 34.9 mbar, ",
        ),
        (
            "C-0002",
            ("stock-pot ring: manifold pressure = 5 inH2O",),
            "CAUTION: STOP. Manifold pressure 12.5 mbar, ",
        ),
        ("C-0003", ("manifold pressure = 7 inH2O", "stock-pot ring: manifold pressure = 7 inH2O"), ""),
        (
            "C-0004",
            ("manifold pressure = 5 inH2O", "stock-pot ring: manifold pressure = 7 inH2O"),
            "CAUTION: STOP.",
        ),
        ("C-0005", ("manifold pressure = 5 inH2O", "--gas", "propane"), ""),
        (
            "C-0006",
            ("stock-pot ring: manifold pressure = 0 inH2O",),
            "WARNING: STOP. No manifold pressure: the flame is out.",
        ),
        (
            "C-0007",
            ("stock-pot ring: manifold pressure = 9 inH2O",),
            "WARNING: STOP. Manifold pressure 22.4 mbar, ",
        ),
        (  # turned low it may rise to the highest of the supply
            "C-0008",
            (
                "stock-pot ring: manifold pressure = 9 inH2O",
                "--result=stock-pot ring: low_rate_heat_input_gross = 2.9 kW",
            ),
            "",
        ),
    ):
        more = [
            one
            for text in read
            for one in ((text,) if text.startswith("--") or "=" not in text else ("--reading", text))
        ]
        said = run("add", "--serial", serial, *unit, *more)
        assert said.output.startswith(head) if head else "STOP" not in said.output
        assert said.exit_code == int(bool(head))
        if "= 0 inH2O" in read[0]:  # the model file is not needed for that
            bare = run("add", "--serial", "C-0007", "--model", "m", "--tester", "t", *more)
            assert bare.output.startswith(head)


def test_an_entry_is_read_in_the_words_of_its_region(tmp_path: Path) -> None:
    """Overload, injector and burner pressure: the terms of Europe (common practice), without a project file at hand."""
    stove = tmp_path / "stove.toml"
    stove.write_text(
        """[appliance]\nname = "stove"\nmodel = "orifice ring"\nrating = "net"\nregion = "eu"\n[supply]\ngas = "G30"
pressure = "29 mbar"\n[[burner]]\nname = "main"\nkind = "ring"\nrate = "2.5 kW"\norifice = { drill = "0.75 mm" }\n""",
        encoding="utf-8",
    )
    unit = ("--serial", "E-1", "--tester", "R. Quill", "--appliance", str(stove))
    read = (
        "--reading",
        "main: manifold pressure = 29 mbar",
        "--result",
        "main: deviation = 15 % in -10 %..10 %",
    )
    added = run("add", *unit, *read)
    answers = [run(*one).output for one in (("list",), ("show", "E-1"), ("stops",))]
    for answer in (added.output, *answers):
        assert answer.startswith("WARNING: STOP. Possible overload, about 15 % above the nominal heat input")
        assert "every injector mark" in answer
        assert "local installation rules" in answer
        assert "The reading is 15 % above the nominal heat input." in " ".join(answer.split())
    assert "burner pressure" in answers[1]
    assert "orifice ring" in answers[1]  # as its user calls it
    low = run("add", "--serial", "E-2", *unit[2:], "--reading", "main: manifold pressure = 20 mbar").output
    assert low.startswith("CAUTION: STOP. Burner pressure 20.0 mbar")
    assert f"{told('show', 'E-1')['uid'][:8]}-overfire" in answers[1]  # as release takes it
    run("add", *UNIT, *WITHIN)
    assert "overload" in run("list").output  # an entry of no region has no say


OWN_LIMITS = "name,value,low,high,unit,source,place,provenance,note\n{},{},,,{},own,code,common practice,\n"


@pytest.mark.parametrize(
    ("name", "value", "unit", "said"),
    [
        ("leak test", 15, "min", "is too short: at least 15 min"),
        ("meter watched", 15, "min", "is too short: at least 15 min"),
        ("leak test", 0.5, "min", "less strict than the 3 min"),
        ("carbon monoxide in the room", 10, "ppm", "less strict than the 9 ppm"),
        ("carbon monoxide in the room", 3, "ppm", ""),
    ],
)
def test_own_limits_of_a_release_are_stricter_alone(name: str, value: float, unit: str, said: str) -> None:
    run("add", *UNIT, *WITHIN, *SMELL)
    code = f"{told('stops')['stops'][0]['entry'][:8]}-odour"
    Path("own.csv").write_text(OWN_LIMITS.format(name, value, unit), encoding="utf-8")
    done = run("release", code, *FILE, *BY, "--release-limits", "own.csv")
    assert (done.exit_code == 0) is not bool(said)
    assert said in " ".join(done.stderr.split())


@pytest.mark.parametrize(
    ("gas", "minutes", "watched", "said"),
    [
        ("propane", "10", "", ""),
        ("propane", "9", "", "is too short: at least 10 min"),
        ("propane", "10", "5", "no meter: leave it empty"),
        ("natural-gas-typical", "10", "", "only a supply of LP gas from a cylinder has no meter"),
    ],
)
def test_a_leak_of_a_cylinder_without_a_meter_is_released_by_a_longer_leak_test(
    gas: str, minutes: str, watched: str, said: str
) -> None:
    market = '\n[[market]]\nname = "LP"\nsupply = { gas = "propane", pressure = "11 in w.c." }\n'
    Path("cart.toml").write_text(demonstration_path().read_text(encoding="utf-8") + market, encoding="utf-8")
    run("add", *UNIT, *SMELL, "--gas", gas)
    code = f"{told('stops')['stops'][0]['entry'][:8]}-odour"
    last = ("--test-minutes", minutes, "--meter-minutes", watched, "--meter-moved", "no meter")
    done = run("release", code, *BY[:-10], *BY[-2:], *last, "--appliance", "cart.toml")
    assert (done.exit_code == 0) is not bool(said), done.output
    assert said in " ".join(done.stderr.split())


def test_another_gas_on_the_label_stops_the_bench() -> None:
    assert run("add", *UNIT, "--supply-label", "another gas").output.startswith("WARNING: STOP. Another gas")


def test_answers_before_lighting_are_recorded_and_shown() -> None:
    run("add", *UNIT, "--supply-label", "propane", "--leak-test", "none found by leak detection fluid",
        "--extraction", "yes", "--co-alarm", "yes", "--place", "line 2")  # fmt: skip
    shown = told("show", "C-0001")
    assert shown["before_lighting"]["leak_test_method"] == "leak detection fluid"
    text = run("show", "C-0001").output
    assert "leak test: none found by leak detection fluid" in " ".join(text.split())
    run(
        "correct",
        shown["uid"][:8],
        "--reason",
        "read again",
        "--leak-test",
        "not done here: K. Moss, 2026-11-02 9:00",
    )
    after = told("show", "C-0001")["before_lighting"]
    assert (after["leak_test"], after["leak_test_by"], after["leak_test_when"]) == (
        "not done here",
        "K. Moss",
        "2026-11-02 09:00",
    )
    assert after["supply_label"] == "propane"
    run("add", "--serial", "C-0002", *UNIT[2:])
    assert "not recorded" in run("show", "C-0002").output
    assert told("show", "C-0002")["before_lighting"] is None


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ("maybe", "cannot be read"),
        ("none found", "by which method"),
        ("not done here", "who did it and when"),
        ("not done here: x, 2026-11-02", "words are needed"),
        ("not done here: K. Moss, x", "is not a date and time"),
        ("not done here: K. Moss, 2999-01-01", "lies in the future"),
    ],
)
def test_half_an_answer_to_the_leak_test_is_refused(answer: str, words: str, file: Path) -> None:
    done = run("add", *UNIT, "--leak-test", answer)
    assert done.exit_code == 2
    assert words in done.stderr


def test_a_leak_found_stops_the_bench() -> None:
    done = run("add", *UNIT, "--leak-test", "leak found")
    assert done.output.startswith("DANGER: STOP. Gas can explode.")
    assert "the leak test of this unit found a leak" in " ".join(done.output.split())


def test_the_bench_starts_with_the_stop_that_stands(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def bench(*more: str) -> Result:
        return CliRunner().invoke(main, ("bench", "--demo", "--port", "0", "--file", str(file), *more))

    monkeypatch.setattr("burnerlab.page.app.serve", lambda _, listening: listening.socket.close())
    run("add", *UNIT, "--seen", "ring: soot = yes")
    assert "STOP" not in bench().output
    run("add", *UNIT, *SMELL)
    assert bench().output.startswith("DANGER: STOP. Gas can explode.")
    assert json.loads(bench("--json").output)["stop"]["id"] == "odour"


def test_help_of_the_new_commands_has_an_example() -> None:
    for name in ("stops", "release"):
        assert f"burnerlab record {name}" in run(name, "--help").output


def test_a_stop_that_was_only_shown_stands_in_the_units_of_the_reader(
    capsys: pytest.CaptureFixture[str],
) -> None:
    notice = stop_notice("pressure", read="12.2 mbar (4.90 in w.c.)", limit="12.1 mbar (4.84 in w.c.)")
    shown = StopDisplay(
        notice=notice, serial="C-1", tester="T. Ester", place="", shown_at="", is_taken_back=False
    )
    print_stops_not_recorded([shown])
    printed = " ".join(capsys.readouterr().out.split())
    assert "STOP. Manifold pressure 12.2 mbar, highest allowed 12.1 mbar." in printed
