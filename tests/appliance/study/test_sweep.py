"""Sweeps: every case equals ``convert``, whatever runs it, and nothing is lost when a worker dies."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.job import prepare
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.project.project_file import demonstration_path
from burnerlab.appliance.study.cases import (
    OLD_OUTPUTS,
    Cases,
    convert_many,
    has_array_outputs,
    output_of,
    run_chunk,
)
from burnerlab.appliance.study.design import Study, read_study
from burnerlab.appliance.study.sweep import (
    Encoded,
    _stored_rows,
    encoded_chunk,
    metric_rows,
    output_columns,
    sweep,
)
from burnerlab.cli.study import sweep_command
from burnerlab.gas import load
from burnerlab.quantity import UserError
from burnerlab.quantity.outputs import plain

VARIED = """
[[vary]]
parameter = "target.pressure"
from = "9 in w.c."
to = "12 in w.c."
steps = 4
[[vary]]
parameter = "target.altitude"
values = ["0 m", "800 m", "2200 m"]
[[vary]]
parameter = "burner.stock-pot ring.rate"
values = ["8 kW", "9 kW gross"]
[[vary]]
parameter = "burner.tile broiler.orifice.shape"
values = ["tapered", "sharp"]
"""


PROPANE = 'to = "propane"\npressure = "11 in w.c."'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copy(demonstration_path(), tmp_path / "cart.toml")
    return tmp_path


def written(folder: Path, varied: str = VARIED, head: str = 'to = "propane"') -> Path:
    path = folder / "study.toml"
    path.write_text(f'[study]\nappliance = "cart.toml"\n{head}\n{varied}', encoding="utf-8")
    return path


def read_rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.mark.parametrize("basis", ["gross", "net"])
@pytest.mark.parametrize("policy", [None, "none", "4-percent-from-sea-level"])
def test_many_cases_are_as_many_conversions(basis: Any, policy: str | None) -> None:
    cart = replace(demonstration(), rating=basis)
    cart = replace(cart, limits=replace(cart.limits, altitude_policy=policy))
    random = np.random.default_rng(7)
    count = 6
    cases = Cases(
        count=count,
        gauge_pressure_Pa=random.uniform(1500.0, 5000.0, count),
        altitude_m=random.uniform(0.0, 2500.0, count),
        gas_temperature_K=random.uniform(270.0, 310.0, count),
        coefficient=random.uniform(0.6, 0.95, count),
        rate_W={"rear burner": random.uniform(1e3, 9e3, count)},
    )
    many = convert_many(prepare(cart, ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0)), cases)
    for i in range(count):
        rated = replace(cart.burners[-1], rate_W=float(cases.rate_W["rear burner"][i]))
        single = convert(
            replace(cart, burners=(*cart.burners[:-1], rated)),
            "propane",
            float(cases.gauge_pressure_Pa[i]),
            altitude_m=float(cases.altitude_m[i]),
            gas_temperature_K=float(cases.gas_temperature_K[i]),
            coefficient=float(cases.coefficient[i]),
        )
        for burner in single.burners:
            found = many.burners[burner.name]
            assert found.drill[i] == burner.choice.drill
            assert found.to_orifice_m[i] == pytest.approx(burner.to_orifice_m, rel=1e-12)
            assert found.predicted_net_W[i] == pytest.approx(burner.predicted_net_W, rel=1e-12)
            assert found.deviation[i] == pytest.approx(burner.deviation, abs=1e-12)
        assert many.total_predicted_gross_W[i] == pytest.approx(single.total_predicted_gross_W, rel=1e-12)


@pytest.mark.parametrize(
    "also", ["", '[[vary]]\nparameter = "burner.tile broiler.orifice.shape"\nvalues = ["sharp"]']
)
def test_a_rate_no_burner_has_is_an_error_of_its_case(folder: Path, also: str) -> None:
    """In the array form and case by case; the good case beside it stays."""
    varied = f'[[vary]]\nparameter = "burner.stock-pot ring.rate"\nvalues = ["8 kW", "264 MW"]\n{also}'
    with ThreadPoolExecutor(1) as thread:
        found = sweep(read_study(written(folder, varied, PROPANE)), folder / "out.csv", executor=thread)
    assert (found.cases, found.failed) == (2, 1)
    good, bad = read_rows(folder / "out.csv")
    assert not good["error"]
    assert "100 to 150000 W" in bad["error"]


def test_a_conversion_holds_an_appliance_of_a_notebook_to_the_limits_of_a_file() -> None:
    cart = demonstration()
    huge = replace(cart, burners=(*cart.burners[:-1], replace(cart.burners[-1], rate_W=264e6)))
    with pytest.raises(UserError, match="100 to 150000 W"):
        convert(huge, "propane", 2740.0)


def test_results_do_not_depend_on_who_computes_them(folder: Path) -> None:
    study = read_study(written(folder))
    assert study.count == 48
    with ThreadPoolExecutor(2) as threads:
        one = sweep(study, folder / "threads.csv", executor=threads, chunk=7)
    two = sweep(study, folder / "processes.csv", workers=2, chunk=20)
    assert one.failed == two.failed == 0
    assert (folder / "threads.csv").read_bytes() == (folder / "processes.csv").read_bytes()
    assert [int(row["case"]) for row in read_rows(folder / "threads.csv")] == list(range(48))


def test_parquet_holds_what_csv_holds(folder: Path) -> None:
    import pyarrow.parquet as pq

    study = read_study(written(folder))
    with ThreadPoolExecutor(1) as threads:
        sweep(study, folder / "out.csv", executor=threads)
        sweep(study, folder / "out.parquet", executor=threads, chunk=10)
    table = pq.read_table(folder / "out.parquet").to_pylist()
    for row, line in zip(table, read_rows(folder / "out.csv"), strict=True):
        assert line == {key: "" if value is None else str(value) for key, value in row.items()}


def test_a_head_carries_the_unit_of_files_and_its_figures_have_twelve_digits(folder: Path) -> None:
    """The same key and the same figure as the JSON of a conversion."""
    outputs = (
        "burner.*.to_orifice_m",
        "burner.*.choice.diameter_m",
        "burner.*.headline.low",
        "burner.*.coefficient",
        "burner.*.deviation",
        "to_pressure_Pa",
        "total_mass_flow_kg_per_s",
    )
    varied = VARIED + '[[vary]]\nparameter = "target.gas_temperature"\nvalues = ["20 C"]\n'
    for several, few in (("steps = 4", "steps = 2"), (', "800 m", "2200 m"', ""), (', "9 kW gross"', "")):
        assert several in varied
        varied = varied.replace(several, few)
    study = replace(read_study(written(folder, varied)), outputs=outputs)
    with ThreadPoolExecutor(1) as thread:
        sweep(study, folder / "out.csv", executor=thread)
    first, ring = read_rows(folder / "out.csv")[0], "burner.stock-pot ring"
    single = convert(demonstration(), "propane", float(study.cases(0, 1)[0][0]), gas_temperature_K=293.15)
    burner = next(one for one in single.burners if one.name == "stock-pot ring")
    assert list(first)[:6] == [
        "case",
        "target.pressure_mbar",
        "target.altitude_m",
        f"{ring}.rate_gross_kW",
        "burner.tile broiler.orifice.shape",
        "target.gas_temperature_C",
    ]
    assert first[f"{ring}.rate_gross_kW"] == "8.0"
    assert first["target.gas_temperature_C"] == "20.0"
    assert float(first["to_gauge_pressure_mbar"]) == pytest.approx(9 * 2.4908891, rel=1e-7)
    assert float(first[f"{ring}.coefficient"]) == plain(burner.coefficient)
    mass = "total_mass_flow_kg_per_h"
    assert {
        f"{ring}.to_orifice_mm",
        f"{ring}.choice.diameter_mm",
        f"{ring}.headline.deviation_low_percent",
        f"{ring}.deviation_percent",
        mass,
    } < (first.keys())
    digits = [cell.split("e")[0].replace(".", "").strip("-0") for cell in first.values()]
    assert max(map(len, filter(str.isdigit, digits))) <= 12


def test_case_by_case_equals_the_array_form(folder: Path) -> None:
    fast = read_study(written(folder))
    slow = replace(fast, outputs=(*fast.outputs, "burner.*.rate_net_W"))
    assert has_array_outputs(fast)
    assert not has_array_outputs(slow)
    quick, thorough = run_chunk(fast, 0, 12), run_chunk(slow, 0, 12)
    for name, column in quick.items():
        if column and isinstance(column[0], float):
            assert column == pytest.approx(thorough[name], rel=1e-12)
        else:
            assert column == thorough[name]
    assert all(value is not None for value in thorough["burner.rear burner.rate_net_W"])


def test_a_study_of_the_first_release_names_its_outputs_as_before() -> None:
    cart = demonstration()
    cart = replace(cart, region="eu", supply=replace(cart.supply, train=None))
    found = convert(cart, "propane", 3700.0, category="3+")
    assert found.pressure_couple is not None
    burner = found.burners[0]
    figures = {
        "from_pressure_Pa": found.from_gauge_pressure_Pa,
        "to_pressure_Pa": 3700.0,
        "to_pressure_low_Pa": found.to_gauge_pressure_low_Pa,
        "to_pressure_high_Pa": found.to_gauge_pressure_high_Pa,
        "new_train": found.supply_of_new_gas,
        "couple": str(found.pressure_couple),
        "couples_beside": str(found.pressure_couples_beside),
        "couple.reference_pressure_Pa": found.pressure_couple.reference_gauge_pressure_Pa,
        "couple.other_pressure_Pa": found.pressure_couple.other_gauge_pressure_Pa,
        "headline.all_on": found.headline.deviation_all_on,
        f"burner.{burner.name}.predicted_low_W": burner.predicted_low_gross_W,
        f"burner.{burner.name}.predicted_high_W": burner.predicted_high_gross_W,
        f"burner.{burner.name}.taken_area_ratio": (burner.choice.diameter_m / burner.from_orifice_m) ** 2,
        f"burner.{burner.name}.exact_area_ratio": (burner.to_orifice_m / burner.from_orifice_m) ** 2,
        f"burner.{burner.name}.choice.low_W": burner.choice.drill_tolerance_low_gross_W,
        f"burner.{burner.name}.choice.high_W": burner.choice.drill_tolerance_high_gross_W,
        f"burner.{burner.name}.headline.case": burner.headline.deviation_case,
        f"burner.{burner.name}.headline.low": burner.headline.deviation_low,
        f"burner.{burner.name}.headline.high": burner.headline.deviation_high,
        f"burner.{burner.name}.headline.alone": burner.headline.deviation_alone,
    }
    for name, figure in figures.items():
        got = output_of(found, name)
        assert got == (pytest.approx(figure, rel=1e-12) if isinstance(figure, float) else figure), name
    assert {name.split(".")[-1] for name in figures} >= {old for _, old in OLD_OUTPUTS}
    assert not {old for result, old in OLD_OUTPUTS if hasattr(result, old)}


def test_old_names_are_figures_and_heads_of_today(folder: Path) -> None:
    pairs = {
        "burner.*.headline.low": "burner.*.headline.deviation_low",
        "to_pressure_Pa": "to_gauge_pressure_Pa",
    }
    varied = '[[vary]]\nparameter = "target.altitude"\nvalues = ["0 m", "800 m"]\n'
    old, new = (
        run_chunk(read_study(written(folder, varied, head=f"{PROPANE}\noutputs = {list(names)}")), 0, 2)
        for names in (pairs, pairs.values())
    )
    assert "burner.tile broiler.headline.low" in old
    assert list(old.values()) == list(new.values())
    studies = (
        read_study(written(folder, varied, head=f"{PROPANE}\noutputs = {list(names)}"))
        for names in (pairs, pairs.values())
    )
    assert output_columns(next(studies)) == output_columns(next(studies))
    assert old["error"] == ["", ""]


@pytest.mark.parametrize("name", ["area_ratio", "diameter_ratio"])
def test_a_ratio_that_changed_its_meaning_is_not_swept_without_a_word(folder: Path, name: str) -> None:
    file = written(folder, VARIED, head=f'outputs = ["burner.*.{name}"]')
    with pytest.raises(UserError, match=f"exact_{name} for the exact bore") as caught:
        read_study(file)
    assert caught.value.problems[0].line


def test_a_failing_case_is_a_row_with_its_error(folder: Path) -> None:
    varied = '[[vary]]\nparameter = "target.gas"\nvalues = ["propane", "no such gas"]\n'
    varied += '[[vary]]\nparameter = "target.pressure"\nvalues = ["11 in w.c.", "30 psi", "37 mbar"]\n'
    found = sweep(read_study(written(folder, varied, head="")), folder / "out.csv", workers=1)
    rows = read_rows(folder / "out.csv")
    assert found.failed == 4
    assert [bool(row["error"]) for row in rows] == [False, True, False, True, True, True]
    assert "unknown gas" in rows[3]["error"]
    assert "low-pressure" in rows[1]["error"]


def test_an_interrupted_sweep_goes_on(folder: Path) -> None:
    study, out = read_study(written(folder)), folder / "out.csv"

    class Stops(ThreadPoolExecutor):
        left = 3

        def submit(self, *args: Any, **named: Any) -> Future[Any]:
            self.left -= 1
            if self.left < 0:
                raise KeyboardInterrupt
            return super().submit(*args, **named)

    with Stops(1) as stops, pytest.raises(KeyboardInterrupt):
        sweep(study, out, executor=stops, chunk=10)
    _finish_parts(study, out, 10)
    found = sweep(study, out, workers=1, chunk=10)
    assert found.resumed == 20
    with ThreadPoolExecutor(1) as threads:
        sweep(study, folder / "whole.csv", executor=threads)
    assert out.read_bytes() == (folder / "whole.csv").read_bytes()
    assert not list(folder.glob("*.parts"))


def _finish_parts(study: Study, out: Path, size: int) -> None:
    """Two chunks as an earlier run stored them."""
    from burnerlab.appliance.study.sweep import _parts, _store

    folder = _parts(study, out, size)
    for start in (0, 10):
        _store(folder, start, encoded_chunk(study, start, start + size, out.suffix))


def test_results_of_another_study_are_not_mixed_in(folder: Path) -> None:
    from burnerlab.appliance.study.sweep import _parts

    study, out = read_study(written(folder)), folder / "out.csv"
    _parts(study, out, 10)
    with pytest.raises(UserError, match="another study"):
        sweep(replace(study, seed=9), out, workers=1, chunk=10)


def dies_at(
    start_of_death: int, mark: Path | None, study: Study, start: int, stop: int, kind: str
) -> Encoded:
    """A chunk whose worker is killed while it holds it: once if a file is to mark that, else each time."""
    if start == start_of_death and not (mark and mark.exists()):
        if mark:
            mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return encoded_chunk(study, start, stop, kind)


def test_a_killed_worker_loses_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study, out, mark = read_study(written(folder)), folder / "out.csv", folder / "killed"
    monkeypatch.setattr("burnerlab.appliance.study.sweep.encoded_chunk", partial(dies_at, 6, mark))
    sweep(study, out, workers=2, chunk=2)
    assert mark.exists()
    monkeypatch.undo()
    with ThreadPoolExecutor(1) as threads:
        sweep(study, folder / "whole.csv", executor=threads)
    assert out.read_bytes() == (folder / "whole.csv").read_bytes()


def test_a_chunk_that_kills_every_worker_ends_in_words_and_keeps_the_rest(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study, out = read_study(written(folder)), folder / "out.csv"
    monkeypatch.setattr("burnerlab.appliance.study.sweep.encoded_chunk", partial(dies_at, 6, None))
    with pytest.raises(UserError, match="died twice at cases 7 to 8"):
        sweep(study, out, workers=2, chunk=2)
    monkeypatch.undo()
    assert sweep(study, out, workers=1, chunk=2).resumed == study.count - 2


def test_random_design_is_the_same_in_any_chunks(folder: Path) -> None:
    varied = '[[vary]]\nparameter = "target.pressure"\nfrom = "9 in w.c."\nto = "12 in w.c."\n'
    varied += '[[vary]]\nparameter = "burner.rear burner.orifice.count"\nvalues = ["1", "2"]\n'
    study = read_study(
        written(folder, varied, head='to = "propane"\ndesign = "random"\npoints = 64\nseed = 3')
    )
    whole = study.cases(0, 64)
    split = [first + second for first, second in zip(study.cases(0, 40), study.cases(40, 64), strict=True)]
    assert whole == split
    pressures = np.array(whole[0], dtype=float)
    assert abs(pressures.mean() - 10.5 * 249.08891) < 10.0  # Sobol points are even
    assert set(whole[1]) == {"1", "2"}


@pytest.mark.parametrize(
    ("varied", "words"),
    [
        ("", "is missing"),
        ('[[vary]]\nparameter = "target.pressure"\nvalues = ["11"]', "the unit is missing"),
        ('[[vary]]\nparameter = "target.pressure"\nvalues = []', "must be a list"),
        ('[[vary]]\nparameter = "target.presure"\nfrom = 1\nto = 2\nsteps = 3', "did you mean target.pressure"),
        ('[[vary]]\nparameter = "supply.presure"\nfrom = 1\nto = 2\nsteps = 3', "did you mean pressure"),
        ('[[vary]]\nparameter = "supply.pressure"\nfrom = 1\nto = 2\nsteps = 3', "list its values"),
        ('[[vary]]\nparameter = "target.altitude"\nfrom = "0 m"\nto = "9 m"', "needs steps"),
        ('[[vary]]\nparameter = "burner.x.rate"\nvalues = ["8 kW net"]', "the file rates gross"),
        ('[[vary]]\nparametr = "target.altitude"\nvalues = ["0 m"]', "did you mean parameter"),
        (2 * '[[vary]]\nparameter = "target.altitude"\nvalues = ["0 m"]\n', "twice"),
    ],
)  # fmt: skip
def test_a_study_that_cannot_be_used(folder: Path, varied: str, words: str) -> None:
    with pytest.raises(UserError, match=words):
        read_study(written(folder, varied, head='to = "propane"\npressure = "11 in w.c."'))


def test_every_problem_of_a_study_is_said_at_its_line(folder: Path) -> None:
    varied = '[[vary]]\nparameter = "target.altitude"\nvalues = ["0 m", "9 kg"]\n'
    varied += '[[vary]]\nparameter = "target.gas_temperature"\nfrom = "0 C"\nto = "9 bar"\nsteps = 1\n'
    path = written(folder, varied, head='to = 3\ndesign = "gird"\nseeds = 2\npressure = "11 in w.c."')
    with pytest.raises(UserError) as caught:
        read_study(path)
    found = [(problem.line, problem.key) for problem in caught.value.problems]
    assert found == [
        (3, "study.to"),
        (4, "study.design"),
        (5, "study.seeds"),
        (9, "vary[1].values"),
        (13, "vary[2].to"),
        (14, "vary[2].steps"),
    ]


def test_command(folder: Path) -> None:
    path = written(folder)
    result = CliRunner().invoke(
        sweep_command, [str(path), "--out", str(folder / "r.parquet"), "--workers", "1", "--json"]
    )
    found = json.loads(result.output)
    assert (found["cases"], found["failed"]) == (48, 0)
    assert found["cautions"]


@pytest.fixture
def cluster() -> Iterator[Executor]:
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None) as local,
        Client(local) as client,
    ):
        yield client.get_executor()


@pytest.mark.filterwarnings("ignore")
def test_a_dask_cluster_gives_the_same(folder: Path, cluster: Executor) -> None:
    study = read_study(written(folder))
    sweep(study, folder / "cluster.csv", executor=cluster, chunk=24)
    sweep(study, folder / "local.csv", workers=1)
    assert (folder / "cluster.csv").read_bytes() == (folder / "local.csv").read_bytes()


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_columns_in_the_units_of_the_reader_and_rows_of_a_document_in_metric_ones(
    suffix: str, folder: Path
) -> None:
    """NIST SP 811, B.8: 1 Btu(IT)/h = 0.29307107 W, 1 inch of water (conventional) = 249.0889 Pa."""
    varied = '[[vary]]\nparameter = "target.pressure"\nvalues = ["10 in w.c.", "11 in w.c."]\n'
    outputs = 'outputs = ["total_predicted_gross_W", "burner.*.deviation"]'
    study = read_study(written(folder, varied, head=f"{PROPANE}\n{outputs}"))
    metric, us = folder / f"metric{suffix}", folder / f"us{suffix}"
    american = replace(study, system="US")
    with ThreadPoolExecutor(1) as thread:
        sweep(study, metric, executor=thread)
        sweep(american, us, executor=thread)
    assert "target.pressure_inwc" in output_columns(american)
    rows = metric_rows(study, metric)
    assert rows is not None
    assert [row["target.pressure_mbar"] for row in rows] == pytest.approx([24.90889, 27.399779])
    assert rows[0]["error"] is None
    for row, same in zip(rows, metric_rows(american, us) or (), strict=True):
        assert row == pytest.approx(same)
    here, there = _stored_rows(us)[0], _stored_rows(metric)[0]
    power_kW = here["total_predicted_gross_Btu_per_h"] * 0.29307107e-3
    assert power_kW == pytest.approx(there["total_predicted_gross_kW"], rel=1e-7)
    assert here["target.pressure_inwc"] == pytest.approx(10.0)
    assert study.fingerprint == american.fingerprint  # what an earlier version began goes on
