"""Which burners of a unit were tested: a unit is not tested by the test of one of its burners."""

from __future__ import annotations

from burnerlab.bench.record import BenchTest, TestRecord
from burnerlab.page.context import Bench


def is_low_rate(test: BenchTest) -> bool:
    """Whether it was read with the burner turned low: it says nothing of the rating."""
    return any(one.name == "low_rate" for one in test.inputs)


def tested_burners(entries: tuple[TestRecord, ...]) -> dict[str, TestRecord]:
    """The newest current entry of each burner."""
    found: dict[str, TestRecord] = {}
    for one in entries:
        if one.is_current and not is_low_rate(one.test):
            named = [part.burner for part in one.test.results]
            for name in (*named, *(part.burner for part in one.test.observations)):
                found.setdefault(name, one)
    return found


def untested(bench: Bench, entries: tuple[TestRecord, ...]) -> list[str]:
    """Burners of the model of a unit that no current entry tested, in the order of the model file."""
    done = tested_burners(entries)
    return [] if "" in done else [name for name in _burners(bench, entries) if name not in done]


def coverage(bench: Bench, entries: tuple[TestRecord, ...]) -> str:
    """How many burners were tested, and which were not; "" when all were, or the model is not on this bench."""
    missing, every = untested(bench, entries), len(_burners(bench, entries))
    return (
        f"{every - len(missing)} of {every} burners tested; not tested: {', '.join(missing)}"
        if missing
        else ""
    )


def _burners(bench: Bench, entries: tuple[TestRecord, ...]) -> list[str]:
    newest = next((one.test.model for one in entries if one.is_current), "")
    model = next((one for one in bench.models.values() if one.name == newest), None)
    return [] if model is None else [one.name for one in model.appliance.burners]
