"""What a bench record says that flames did, as points of the stability diagram: shown, never fitted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from burnerlab.bench.learning.samples import FULL, WATCHED, Sample
from burnerlab.burner.stability_point import FlameObservation, FlameSeen

FLAME_OF: dict[str, FlameSeen] = {"lift": "lifts", "light-back": "lights back", "yellow tips": "yellow tips"}


def flame_observations(samples: Iterable[Sample]) -> tuple[FlameObservation, ...]:
    """Each limit that was seen crossed, and a flame that sits where none was; at full and at the smallest rate.

    A low rate that the burner does not state is left out, for its place is not known.
    """
    return tuple(one for sample in samples for one in _of_sample(sample))


def _of_sample(sample: Sample) -> Iterator[FlameObservation]:
    for rate in dict.fromkeys(rate for _, rate in WATCHED.values()):
        load = 1.0 if rate == FULL else sample.burner.turndown
        answers = {limit: sample.seen[name] for name, (limit, at) in WATCHED.items()
                   if at == rate and name in sample.seen}  # fmt: skip
        if load is None or not answers:
            continue
        crossed: list[FlameSeen] = [FLAME_OF[limit] for limit, is_seen in answers.items() if is_seen]
        for flame in crossed or ["sits"]:
            yield FlameObservation(
                burner=sample.burner.name,
                gas=sample.gas.name,
                load=load,
                opening=None if sample.burner.shutter is None else sample.burner.shutter.opening,
                aeration=sample.aeration,
                gauge_pressure_Pa=sample.gauge_pressure_Pa,
                flame=flame,
                source=f"record, unit {sample.serial}, {sample.tested_at[:10]}",
            )
