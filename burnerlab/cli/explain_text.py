"""How an explanation is printed: what to do first, then the causes that fit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from burnerlab.bench.explain import whole_percent
from burnerlab.cli.output import facts, figure, number, percent, table

if TYPE_CHECKING:
    from burnerlab.bench.explain import Explanation, RankedCause
    from burnerlab.bench.faults.next_measurement import NextMeasurement
    from burnerlab.bench.manifold import ManifoldCheck
    from burnerlab.bench.reading import Reading

SHOWN_SHARE = 0.005  # causes below it are not in the table
MOST_SHOWN = 12
CELL = 42  # characters of a cell of words
NO_STEP = "nothing in the list settles much of the doubt that is left"
AGAIN = "read each of them again, one after another, and the manifold pressure with each"
HAZARD = {"none": "no gas burns", "burning": "gas burns", "opened": "a gas part is opened"}
INCH_OF_WATER_PA = 249.08891


def explanation_text(explanation: Explanation) -> str:
    """The answer in ten seconds, the causes below it."""
    first = explanation.groups[0]
    _, expected = figure(explanation, "expected_gross_W")
    pairs = [
        ("under test", ", ".join(explanation.burners)),
        ("calculated", f"{expected} gross, by the file's orifices: {explanation.expected_from}"),
        *(
            ("reading", _reading_words(one, expected_W))
            for one, expected_W in zip(explanation.readings, explanation.expected_each_gross_W, strict=True)
        ),
    ]
    if explanation.readings_fit_together:
        pairs.append(("look at", f"{first.title}: {whole_percent(first.share)}"))
        if not explanation.stops:
            pairs.append(("what to do", first.action))
    pairs.append(("cause", explanation.finding))
    pairs += _steps(explanation)
    if explanation.manifold is not None:
        pairs += _manifold(explanation.manifold)
    return facts(pairs) + "\n\n" + _causes(explanation)


def _reading_words(one: Reading, expected_W: float) -> str:
    parts = []
    where = (one.burner or "all burners together") if one.burner is not None else ""
    if one.ratio is not None:
        off = percent(one.ratio - 1.0)
        read = f"{number(one.ratio * expected_W / 1e3)} kW gross"
        parts.append(f"{read}, {one.ratio:.3f} of the expected ({off}){', low rate' if one.low else ''}")
    if one.pressure_ratio is not None:
        parts.append(f"manifold pressure {one.pressure_ratio:.3f} of the expected one")
    if one.at_rest:
        return f"the meter {'stands still' if one.at_rest == 'still' else 'moves'} with every burner off"
    method = f", by {one.method}" if one.method else ""
    return (f"{where}: " if where else "") + "; ".join(parts) + method


def _step_words(one: NextMeasurement) -> str:
    worth = f"settles about {100 * one.settles:.0f} % of the doubt; " if one.settles >= 0.01 else ""
    return f"{one.title} ({worth}{one.time_min:.0f} min; {HAZARD[one.hazard]})"


def _steps(explanation: Explanation) -> Iterator[tuple[str, str]]:
    if explanation.stops:
        for one in explanation.measurements:
            yield "next", _step_words(one)
        for one in explanation.after_release:
            yield "after a release", f"by a qualified person only: {_step_words(one)}"
        return
    if not explanation.readings_fit_together:
        yield "measure next", AGAIN
        return
    best = explanation.next_measurement
    yield "measure next", NO_STEP if best is None else _step_words(best)


def _manifold(check: ManifoldCheck) -> Iterator[tuple[str, str]]:
    def words(pressure_Pa: float) -> str:
        return f"{pressure_Pa / 1e3:.3g} kPa ({pressure_Pa / INCH_OF_WATER_PA:.3g} in w.c.)"

    held = f"{words(check.pressure_low_Pa)} to {words(check.pressure_high_Pa)}"
    read = words(check.measured_pressure_Pa)
    yield "manifold pressure", f"{read}: {check.pressure_verdict} {held}, {check.pressure_source}"
    yield "at that pressure", f"{number(check.expected_gross_W / 1e3)} kW gross expected; {check.text}"


def _causes(explanation: Explanation) -> str:
    shown = [one for one in explanation.causes if one.share >= SHOWN_SHARE][:MOST_SHOWN]
    rows = [
        (
            one.cause,
            _cut(one.words),
            f"{one.predicted_ratio:.2f}",
            _true(one),
            f"{100 * one.share:.1f}",
            one.next_measurement or (f"after a release: {one.after_release}" if one.after_release else "-"),
        )
        for one in shown
    ]
    heads = ("cause", "if so", "would read", "true input", "share, %", "settle by")
    small = [one.cause for one in explanation.causes if one.danger and one not in shown]
    text = table(heads, rows, left=2)
    text += "\n\nwould read, true input: over the expected one; true input of the hottest burner where it is over 1.1"
    if small:
        text += f"\nunder {100 * SHOWN_SHARE:g} % each, and dangerous: {', '.join(small)}"
    return text


def _true(one: RankedCause) -> str:
    all_burners, hottest = one.true_input_ratio, one.hottest_burner_ratio
    return f"{max(hottest, all_burners) if hottest > 1.1 else all_burners:.2f}"


def _cut(words: str) -> str:
    return words if len(words) <= CELL else words[: CELL - 3] + "..."
