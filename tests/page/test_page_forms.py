"""Forms from any text at all: never a defect, never markup, always the same form back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from burnerlab.bench.record import open_record
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import Form, RefusedError, fields, form_values, pairs_of
from burnerlab.page.heat_input_test import models_of
from burnerlab.page.security import Gate, Limiter

BASE = "http://127.0.0.1:8741"
NUMBERS = st.sampled_from(
    [
        "1",
        "10",
        "61.2",
        "0",
        "-1",
        "1e308",
        "nan",
        "inf",
        "2 ft3",
        "5 psig",
        "1,5",
        "0.1 m3",
        "300",
        "٣",
        "1/2 ft3",
    ]
)
HOSTILE = st.sampled_from(
    ["<script>alert(1)</script>", "=cmd|' /C'!A0", '"><img src=x>', "{{7*7}}", "a\u202eb", "../../x"]
)
ANSWERS = st.sampled_from(
    ["yes", "no", "leak", "another", "elsewhere", "fluid", "odour", "soot", "US", "ft3", "time1 dial"]
)
TEXTS = st.one_of(NUMBERS, HOSTILE, ANSWERS, st.text(max_size=40))
NAMES = [*fields(), "stop", "repair", "into", "units", "time1-unit", "dial-unit", "manifold-unit"]
FORMS = st.dictionaries(st.sampled_from(NAMES), TEXTS, max_size=12)
LIT = {
    "supply_label": "natural-gas-typical",
    "leak_test": "fluid",
    "air": "yes",
    "orifice_marks": "as printed",
}
STARTS: dict[str, dict[str, str]] = {
    "nothing": {},
    "a unit": LIT | {"model": "lantern-square-6", "serial": "1", "tester": "a", "burner": "tile broiler"},
    "readings": LIT
    | {
        "model": "lantern-square-6",
        "serial": "1",
        "tester": "a",
        "burner": "tile broiler",
        "dial": "10",
        "time1": "80",
    },
}
QUICK = settings(
    max_examples=25,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@pytest.fixture(scope="module")
def open_bench(tmp_path_factory: pytest.TempPathFactory, client_of: Callable[[Bench], Any]) -> Any:
    return _open_bench(tmp_path_factory.mktemp("forms"), client_of)


@pytest.fixture(scope="module")
def stopped_bench(tmp_path_factory: pytest.TempPathFactory, client_of: Callable[[Bench], Any]) -> Any:
    return _open_bench(tmp_path_factory.mktemp("stops"), client_of)


def _open_bench(folder: Path, client_of: Callable[[Bench], Any]) -> Any:
    from burnerlab.appliance import demonstration

    file = folder / "bench.sqlite"
    open_record(file).close()
    fast = Limiter(burst=1e9, per_second=1e9)
    gate = Gate(host="127.0.0.1", reading=fast, saving=fast, token="token")
    bench = Bench(file=file, models=models_of([demonstration()]), gate=gate)
    return client_of(bench)


def check(answer: Any) -> None:
    assert answer.status_code in (200, 303, 400, 404, 422), answer.text
    assert "<script>alert" not in answer.text
    assert "<img src=x" not in answer.text
    assert ">49<" not in answer.text
    assert "nan" not in answer.text.lower().replace("tenant", "").split()


@pytest.mark.parametrize("start", STARTS)
@pytest.mark.parametrize("path", ["/", "/measure", "/finding", "/flame", "/save", "/stop", "/wrong"])
@QUICK
@given(texts=FORMS)
def test_any_form_in_an_address(open_bench: Any, path: str, start: str, texts: dict[str, str]) -> None:
    check(open_bench.get(path, params=STARTS[start] | texts))


@QUICK
@given(texts=FORMS)
def test_any_form_that_is_saved(open_bench: Any, texts: dict[str, str]) -> None:
    form = STARTS["readings"] | {"token": "token"} | texts
    answer = open_bench.post("/save", data=form, headers={"origin": BASE})
    if answer.status_code == 409:  # a correction of an entry there is not, or a stop
        assert texts.get("corrects") or "STOP." in answer.text
        return
    check(answer)
    if answer.status_code == 303:
        check(open_bench.get(answer.headers["location"]))


@pytest.mark.parametrize("path", ["/stop", "/release"])
@QUICK
@given(texts=FORMS)
def test_any_form_that_stops(stopped_bench: Any, path: str, texts: dict[str, str]) -> None:
    form = STARTS["readings"] | {"token": "token", "see-soot": "yes"} | texts
    answer = stopped_bench.post(path, data=form, headers={"origin": BASE})
    if answer.status_code != 409:  # a correction of an entry there is not
        check(answer)
    if answer.status_code == 303:
        check(stopped_bench.get(answer.headers["location"]))


@QUICK
@given(
    asked=st.dictionaries(st.sampled_from(["q", "serial", "uid", "of", "at", "last", "page", "units"]), TEXTS)
)
@pytest.mark.parametrize("path", ["/record", "/unit", "/sheet", "/entry", "/chart", "/chart.svg", "/release"])
def test_any_question_to_the_record(open_bench: Any, path: str, asked: dict[str, str]) -> None:
    check(open_bench.get(path, params=asked))


@settings(max_examples=200)
@given(texts=FORMS, system=st.sampled_from(["metric", "US"]))
def test_an_address_holds_the_whole_form(texts: dict[str, str], system: Any) -> None:
    try:
        form = Form.of(pairs_of(Form.of(texts, system).query()))
    except RefusedError:
        assert any(not c.isprintable() for text in texts.values() for c in text)
        return
    assert form.system == system
    assert Form.of(pairs_of(form.query())) == form


@settings(max_examples=200)
@given(
    name=st.sampled_from([name for name, one in fields().items() if one.metric]),
    number=st.decimals(min_value="0.01", max_value=20, places=2),
)
def test_the_same_figure_in_the_other_system(name: str, number: Any) -> None:
    """A bare number means the same after the units were changed."""
    form = Form.of({name: str(number)}, "US")
    moved = form.in_system("metric")
    step = fields()[name].step
    method = {"method": fields()[name].method} if fields()[name].method else {}
    before, after = (form_values(one.having(**method), [step]) for one in (form, moved))
    assert before.get(name) == after.get(name)
    assert (name in before.errors) == (name in after.errors)
