"""What a bench knows again after a restart: extraction and alarm of the day, and stops not in the record yet.

It stands in a file beside the record, and goes when there is nothing to keep. The leak test of a unit and the label of
the supply are answered anew for every unit; only in a stop do they stay, as part of what raised it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from burnerlab.bench.record.files import whole_file
from burnerlab.bench.stop import StopNotice
from burnerlab.page.forms import SYSTEMS, Form
from burnerlab.page.unrecorded import UnrecordedStop
from burnerlab.tables.problem import Problem, UserError

Answers = dict[str, str]
"""Place, in lower case, to the day on which extraction and alarm were on."""


def state_file(record: Path) -> Path:
    """The file beside a record.

    >>> state_file(Path("bench.sqlite")).name
    'bench.sqlite.open.json'
    """
    return record.with_name(record.name + ".open.json")


def state_text(air: Mapping[str, str], stops: Iterable[UnrecordedStop]) -> str:
    """The content of the file; "" when there is nothing to keep."""
    kept = [
        {
            "notice": asdict(stop.notice),
            "form": dict(stop.form.texts),
            "system": stop.form.system,
            "has_reason": stop.has_reason,
        }
        for stop in sorted(stops, key=lambda stop: stop.key)
    ]
    return json.dumps({"air": dict(air), "stops": kept}, indent=1) + "\n" if air or kept else ""


def write_state(record: Path, text: str) -> None:
    """Put the content in its place, whole. Raises UserError when it cannot be written."""
    path = state_file(record)
    if not text:
        path.unlink(missing_ok=True)
        return
    with whole_file(path, overwrite=True) as made:
        made.write_text(text, encoding="utf-8")


def read_state(record: Path) -> tuple[Answers, list[UnrecordedStop]]:
    """Answers and stops of the bench before; none when it left no file.

    Raises UserError for a file that cannot be read: a stop may stand in it.
    """
    path = state_file(record)
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        air = {str(place): str(day) for place, day in told["air"].items()}
        return air, [_stop(each) for each in told["stops"]]
    except FileNotFoundError:
        return {}, []
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        what = "cannot be read; a stop that was shown and not recorded may stand in it"
        fix = "look at the units tested last, record the stops as they were, then delete the file"
        raise UserError(Problem(what, file=str(path), fix=fix)) from None


def _stop(each: Any) -> UnrecordedStop:
    if each["system"] not in SYSTEMS:
        raise ValueError(each["system"])
    return UnrecordedStop(
        notice=StopNotice(**each["notice"]),
        form=Form.of(each["form"], each["system"]),
        has_reason=each["has_reason"] is True,
    )
