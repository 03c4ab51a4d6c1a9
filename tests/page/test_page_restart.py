"""A bench that is started anew: the stop that was shown stands, the room is aired, every unit is leak tested anew."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from burnerlab.bench.record import open_record, open_stops
from burnerlab.bench.record.stop_display import state_file
from burnerlab.page.bench_state import Bench
from burnerlab.page.security import Gate
from burnerlab.quantity import UserError

ORIGIN = {"origin": "http://127.0.0.1:8741"}


@pytest.fixture
def restarted(bench: Bench, client_of: Callable[[Bench], Any]) -> Callable[[], Any]:
    return lambda: client_of(Bench(file=bench.file, models=bench.models, gate=Gate(host="127.0.0.1")))


def is_stopped(answer: Any) -> bool:
    asked = re.sub(
        r"<fieldset.*?</fieldset>", "", answer.text, flags=re.DOTALL
    )  # a question has its STOP with it
    return "STOP." in re.sub(r"<[^>]+>", " ", asked)


@pytest.mark.parametrize("stop", ["odour", "light-back", "co-alarm", "soot"])
def test_a_stop_that_was_shown_and_not_recorded_stands(
    client: Any,
    bench: Bench,
    readings: dict[str, str],
    restarted: Callable[[], Any],
    form_of_page: Callable[[str], dict[str, str]],
    stop: str,
) -> None:
    assert is_stopped(client.get("/stop", params=readings | {"stop": stop}))
    again = restarted()
    shown = again.get("/measure", params=readings)
    assert is_stopped(shown)
    with open_record(bench.file, readonly=True) as record:
        assert open_stops(record) == ()
    done = again.post("/stop", data=form_of_page(shown.text), headers=ORIGIN)
    assert done.status_code == 303
    with open_record(bench.file, readonly=True) as record:
        assert stop in {one.notice.id for one in open_stops(record)}
    assert not state_file(bench.file).exists()


def test_extraction_and_alarm_are_known_for_the_day_and_leak_test_and_label_are_not(
    client: Any, bench: Bench, readings: dict[str, str], restarted: Callable[[], Any]
) -> None:
    placed = readings | {"place": "Bench 2"}
    assert client.get("/measure", params=placed).status_code == 200
    again = restarted()
    without = {
        name: text for name, text in placed.items() if name not in ("air", "leak_test", "supply_label")
    }
    shown = again.get("/measure", params=without)
    assert shown.status_code == 422
    assert 'id="leak_test-wrong"' in shown.text
    assert 'id="supply_label-wrong"' in shown.text
    assert 'id="air-wrong"' not in shown.text
    kept = state_file(bench.file).read_text(encoding="utf-8")
    assert "bench 2" in kept
    assert not re.search("leak|label|fluid|propane|natural-gas", kept)
    yesterday = (date.today() - timedelta(days=1)).isoformat()
    state_file(bench.file).write_text(kept.replace(date.today().isoformat(), yesterday), encoding="utf-8")
    assert 'id="air-wrong"' in restarted().get("/measure", params=without).text


def test_a_no_is_known_too(
    client: Any, bench: Bench, readings: dict[str, str], restarted: Callable[[], Any]
) -> None:
    placed = readings | {"place": "Bench 2"}
    client.get("/measure", params=placed)
    client.get("/measure", params=placed | {"air": "no"})
    without = {name: text for name, text in placed.items() if name != "air"}
    assert 'id="air-wrong"' in restarted().get("/measure", params=without).text


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"air": {}, "stops": [{}]}', '{"air": [], "stops": []}', "\0"]
)
def test_a_damaged_file_is_never_passed_over(bench: Bench, content: str) -> None:
    state_file(bench.file).write_text(content, encoding="utf-8")
    with pytest.raises(UserError, match="a stop that was shown and not recorded may stand in it"):
        Bench(file=bench.file, models=bench.models, gate=Gate(host="127.0.0.1"))


def test_a_disk_that_takes_no_file_hides_no_stop(client: Any, bench: Bench, readings: dict[str, str]) -> None:
    state_file(bench.file).mkdir()
    assert is_stopped(client.get("/stop", params=readings | {"stop": "odour"}))
