"""How an explanation is printed: what to do first, then the causes that fit, as text and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from burnerlab.bench.stop import share_words
from burnerlab.cli.cautions import cautions
from burnerlab.cli.output import facts, number, percent, table
from burnerlab.cli.stops import stops_json

if TYPE_CHECKING:
    from burnerlab.bench.explain import Explanation, RankedCause
    from burnerlab.bench.information import NextMeasurement
    from burnerlab.bench.manifold import ManifoldCheck
    from burnerlab.bench.reading import Reading

SHOWN_SHARE = 0.005  # causes below it are not in the table
MOST_SHOWN = 12
CELL = 42  # characters of a cell of words
NO_STEP = "nothing in the list settles much of the doubt that is left"
AGAIN = "read each of them again, one after another, and the manifold pressure with each"
HAZARD = {"none": "no gas burns", "burning": "gas burns", "opened": "a gas part is opened"}
INCH_OF_WATER_PA = 249.08891


def explanation_text(found: Explanation) -> str:
    """The answer in ten seconds, the causes below it."""
    first = found.groups[0]
    pairs = [
        ("under test", ", ".join(_under_test(found))),
        (
            "calculated",
            f"{number(found.expected_gross_W / 1e3)} kW gross, by the file's orifices: {found.expected_from}",
        ),
        *(
            ("reading", _reading_words(one, expected_W))
            for one, expected_W in zip(found.readings, found.expected_W, strict=True)
        ),
    ]
    if found.readings_fit_together:
        pairs.append(("look at", f"{first.title}: {_percent(first.share)}"))
        if not found.stops:
            pairs.append(("what to do", first.action))
    pairs.append(("cause", _finding(found)))
    pairs += _steps(found)
    if found.manifold is not None:
        pairs += _manifold(found.manifold)
    return facts(pairs) + "\n\n" + _causes(found)


def _under_test(found: Explanation) -> list[str]:
    """Every burner that was read, in the order of the readings."""
    read = [one for one in found.readings if one.ratio is not None or one.pressure_ratio is not None]
    names = [one.burner if one.burner is not None else found.burner for one in read or found.readings]
    return list(dict.fromkeys(name or "all burners together" for name in names))


def _percent(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100 * share:.0f} %"


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


def _finding(found: Explanation) -> str:
    first = found.causes[0]
    if not found.readings_fit_together:
        return (
            "these readings do not fit together: no cause of the list explains them all (so far apart in "
            f"{share_words(found.fit_probability)} of sets at most)"
        )
    if not found.fits:
        return "none of these fits: read again from the start"
    return f"{first.title} ({first.words}): {_percent(first.share)}"


def _step_words(one: NextMeasurement) -> str:
    worth = f"settles about {100 * one.settles:.0f} % of the doubt; " if one.settles >= 0.01 else ""
    return f"{one.title} ({worth}{one.minutes:.0f} min; {HAZARD[one.hazard]})"


def _steps(found: Explanation) -> Iterator[tuple[str, str]]:
    if found.stops:
        for one in found.measurements:
            yield "next", _step_words(one)
        for one in found.after_release:
            yield "after a release", f"by a qualified person only: {_step_words(one)}"
        return
    if not found.readings_fit_together:
        yield "measure next", AGAIN
        return
    best = found.next_measurement
    yield "measure next", NO_STEP if best is None else _step_words(best)


def _manifold(check: ManifoldCheck) -> Iterator[tuple[str, str]]:
    def words(pressure_Pa: float) -> str:
        return f"{pressure_Pa / 1e3:.3g} kPa ({pressure_Pa / INCH_OF_WATER_PA:.3g} in w.c.)"

    held = f"{words(check.pressure_low_Pa)} to {words(check.pressure_high_Pa)}"
    read = words(check.measured_pressure_Pa)
    yield "manifold pressure", f"{read}: {check.pressure_verdict} {held}, {check.pressure_source}"
    yield "at that pressure", f"{number(check.expected_gross_W / 1e3)} kW gross expected; {check.text}"


def _causes(found: Explanation) -> str:
    shown = [one for one in found.causes if one.share >= SHOWN_SHARE][:MOST_SHOWN]
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
    small = [one.cause for one in found.causes if one.danger and one not in shown]
    text = table(heads, rows, left=2)
    text += "\n\nwould read, true input: over the expected one; true input of the hottest burner where it is over 1.1"
    if small:
        text += f"\nunder {100 * SHOWN_SHARE:g} % each, and dangerous: {', '.join(small)}"
    return text


def _true(one: RankedCause) -> str:
    return f"{max(one.hottest, one.true_ratio) if one.hottest > 1.1 else one.true_ratio:.2f}"


def _cut(words: str) -> str:
    return words if len(words) <= CELL else words[: CELL - 3] + "..."


def explanation_json(found: Explanation) -> dict[str, Any]:
    """One object; keys carry their units."""
    expected, check = found.expected_gross_W, found.manifold
    return {
        "appliance": found.appliance,
        "burner": found.burner or None,
        "method": found.method,
        **stops_json(found.stops),
        "measured_over_expected_ratio": found.reading.ratio,
        "readings": [_reading_json(one) for one in found.readings],
        "calculated_gross_kW": expected / 1e3,
        "calculated_from": found.expected_from,
        "scatter_percent": 100.0 * found.scatter,
        "fits": found.fits,
        "readings_fit_together": found.readings_fit_together,
        "fit_probability": found.fit_probability,
        "burners": _under_test(found),
        "finding": _finding(found),
        "groups": [
            {"group": one.group, "title": one.title, "action": one.action, "share": one.share}
            for one in found.groups
        ],
        "causes": [_cause_json(one, expected) for one in found.causes],
        "overfire_causes": [one.cause for one in found.overfire],
        "overfire_share": found.overfire_share,
        "other_gas_share": found.other_gas_share,
        "next_measurement": None
        if found.next_measurement is None
        else _measurement_json(found.next_measurement),
        "measurements": [_measurement_json(one) for one in found.measurements],
        "after_release": [_measurement_json(one) for one in found.after_release],
        "uncertain_bit": found.uncertain_bit,
        "manifold": None if check is None else _manifold_json(check),
        "notes": found.notes,
        "cautions": cautions(),
    }


def _reading_json(one: Reading) -> dict[str, Any]:
    return {
        "burner": one.burner or None,
        "rate": "low" if one.low else "full",
        "method": one.method,
        "measured_over_expected_ratio": one.ratio,
        "manifold_over_expected_ratio": one.pressure_ratio,
        "meter_at_rest": one.at_rest or None,
    }


def _cause_json(one: RankedCause, expected_W: float) -> dict[str, Any]:
    return {
        "cause": one.cause,
        "title": one.title,
        "group": one.group,
        "words": one.words,
        "predicted_ratio": one.predicted_ratio,
        "predicted_low_ratio": one.predicted_low,
        "predicted_high_ratio": one.predicted_high,
        "predicted_gross_kW": one.predicted_ratio * expected_W / 1e3,
        "true_input_ratio": one.true_ratio,
        "prior": one.prior,
        "share": one.share,
        "danger": one.danger,
        "overfire": one.overfire,
        "hottest_burner_ratio": one.hottest,
        "next_measurement": one.next_measurement,
        "after_release": one.after_release,
    }


def _measurement_json(one: NextMeasurement) -> dict[str, Any]:
    return {
        "measurement": one.measurement,
        "title": one.title,
        "minutes": one.minutes,
        "hazard": one.hazard,
        "needs_gas": one.needs_gas,
        "settles_percent": 100.0 * one.settles,
        "information_bit": one.information_bit,
    }


def _manifold_json(check: ManifoldCheck) -> dict[str, Any]:
    return {
        "measured_pressure_kPa": check.measured_pressure_Pa / 1e3,
        "nominal_pressure_kPa": check.nominal_pressure_Pa / 1e3,
        "held_low_kPa": check.pressure_low_Pa / 1e3,
        "held_high_kPa": check.pressure_high_Pa / 1e3,
        "held_source": check.pressure_source,
        "highest_kPa": None if check.highest_Pa is None else check.highest_Pa / 1e3,
        "verdict": check.pressure_verdict,
        "expected_gross_kW": check.expected_gross_W / 1e3,
        "measured_over_expected_ratio": check.ratio,
        "ratio_uncertainty": check.ratio_uncertainty,
        "text": check.text,
    }
