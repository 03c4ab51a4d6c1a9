"""How an explanation is printed: what to do first, then the causes that fit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from burnerlab.cli.options import written
from burnerlab.cli.output import CAUTION_WIDTH, facts, for_reader, percent, quantity, table, wrapped
from burnerlab.quantity import Kind
from burnerlab.quantity.show import number

if TYPE_CHECKING:
    from burnerlab.appliance.project.basis import RatedBasis
    from burnerlab.bench.bench_air import InputAtPlace
    from burnerlab.bench.faults.explanation import Explanation, RankedCause
    from burnerlab.bench.faults.next_measurement import NextMeasurement
    from burnerlab.bench.reading.manifold import ManifoldCheck
    from burnerlab.bench.reading.readings import Reading


SHOWN_SHARE = 0.01  # causes below it are not in the table
MOST_SHOWN = 12
INDENT = "    "  # before the words of a cause
NO_STEP = "nothing in the list settles much of the doubt that is left"
AGAIN = "read each of them again, one after another, and the manifold pressure with each"
LATER = {
    "at release": "at the release",
    "after release": "after a release",
}  # by when a measurement may be taken
HAZARD = {"none": "no gas burns", "burning": "gas burns", "opened": "a gas part is opened"}
INCH_OF_WATER_PA = 249.08891


def _source_of_orifices() -> str:
    """The market or the plan that the unit is built for, where one is named; else the file."""
    market = written("market")
    return f"market {market}" if market else "the plan" if written("plan") else "the file"


def explanation_text(
    explanation: Explanation, basis: RatedBasis, at_place: InputAtPlace | None = None
) -> str:
    """The answer in ten seconds, the causes below it; heat inputs on the basis of the rating.

    at_place : of file or plan, where the reading took other air
    """

    from burnerlab.bench.faults.explanation import whole_percent

    first = explanation.groups[0]
    expected = _on_basis(explanation.expected_gross_W, basis)
    pairs = [
        ("under test", ", ".join(explanation.burners)),
        (
            "calculated",
            f"{expected}, by the orifices of {_source_of_orifices()}: {explanation.expected_from}",
        ),
        *(
            ("reading", _reading_words(one, expected_W, basis))
            for one, expected_W in zip(explanation.readings, explanation.expected_each_gross_W, strict=True)
        ),
    ]
    if at_place is not None:
        pairs.append(("air of the bench", for_reader(at_place.text)))
    check = explanation.manifold
    if check is not None and _is_pressure_alone(explanation):
        pairs.append(("cause", PRESSURE_ALONE))
        return facts([*pairs, *_manifold(check, basis)], CAUTION_WIDTH)
    if explanation.readings_fit_together:
        pairs.append(("look at", f"{first.title}: {whole_percent(first.probability)}"))
        if not explanation.stops and not explanation.may_be_other_gas:
            pairs.append(("what to do", first.action))
    pairs.append(("cause", explanation.finding))
    pairs += _steps(explanation)
    if explanation.manifold is not None:
        pairs += _manifold(explanation.manifold, basis)
    return facts(pairs, CAUTION_WIDTH) + "\n\n" + _causes(explanation)


PRESSURE_ALONE = (
    "A manifold pressure in its band shows nothing of gas, orifice or heat input: read the heat input next, by meter "
    "or scale."
)


def _is_pressure_alone(explanation: Explanation) -> bool:
    """Whether nothing but manifold pressures was read, each in its band: they tell no cause from another."""
    is_read = any(one.ratio is not None or one.at_rest for one in explanation.readings)
    return not (is_read or explanation.stops or explanation.act_first)


def act_first(explanation: Explanation) -> str:
    """What to do before all else where no stop says so."""
    lines = explanation.warnings_first
    if not lines:
        return ""
    return "".join(f"{wrapped(for_reader(f'WARNING: {line}'), CAUTION_WIDTH)}\n" for line in lines) + "\n"


def _on_basis(gross_W: float, basis: RatedBasis) -> str:
    """A heat input on the basis of the rating."""
    return for_reader(quantity(gross_W * basis.of_gross, Kind.POWER, "kW")) + f" {basis.word}"


def _reading_words(reading: Reading, expected_W: float, basis: RatedBasis) -> str:
    parts = []
    where = (reading.burner or "all burners together") if reading.burner is not None else ""
    if reading.ratio is not None:
        off = percent(reading.ratio - 1.0)
        read = _on_basis(reading.ratio * expected_W, basis)
        parts.append(
            f"{read}, {reading.ratio:.3f} of the calculated ({off}){', low rate' if reading.is_low_rate else ''}"
        )
    if reading.pressure_ratio is not None:
        parts.append(f"manifold pressure {reading.pressure_ratio:.3f} of the calculated one")
    if reading.at_rest:
        return f"the meter {'stands still' if reading.at_rest == 'still' else 'moves'} with every burner off"
    method = f", by {reading.method}" if reading.method else ""
    if reading.meter is not None and reading.meter.revolutions is not None:
        count = reading.meter.revolutions
        method += f", {count} {'revolution' if count == 1 else 'revolutions'}"
    return (f"{where}: " if where else "") + "; ".join(parts) + method


def _step_words(measurement: NextMeasurement) -> str:
    worth = (
        f"settles about {100 * measurement.settles:.0f} % of the doubt; "
        if measurement.settles >= 0.01
        else ""
    )
    return f"{measurement.title} ({worth}{measurement.time_min:.0f} min; {HAZARD[measurement.hazard]})"


def _steps(explanation: Explanation) -> Iterator[tuple[str, str]]:
    if explanation.stops:
        for one in explanation.measurements:
            yield "next", _step_words(one)
        for one in explanation.after_release:
            yield LATER[one.when], f"by a qualified person only: {_step_words(one)}"
        return
    if not explanation.readings_fit_together:
        yield "measure next", AGAIN
        return
    best = explanation.next_measurement
    yield "measure next", NO_STEP if best is None else _step_words(best)


def _manifold(check: ManifoldCheck, basis: RatedBasis) -> Iterator[tuple[str, str]]:
    from burnerlab.bench.reading.manifold import TOO_NARROW

    def words(pressure_Pa: float) -> str:
        return f"{number(pressure_Pa / 1e2, 3)} mbar ({number(pressure_Pa / INCH_OF_WATER_PA, 3)} in w.c.)"

    read = words(check.measured_pressure_Pa)
    yield (
        "manifold pressure",
        f"{read}: {check.pressure_verdict} {check.limits_words} ({check.pressure_source})",
    )
    if check.is_too_narrow:
        yield "gauge", TOO_NARROW.format(gauge=words(check.pressure_uncertainty_Pa))
    yield "at that pressure", f"{_on_basis(check.expected_gross_W, basis)} expected; {check.text}"


def _settle_words(cause: RankedCause, later: Mapping[str, str]) -> str:
    """What settles a cause, "" where nothing does; later : when a measurement with gas may be taken, by its name."""
    if cause.next_measurement or not cause.after_release:
        return cause.next_measurement
    return f"{later.get(cause.after_release, LATER['after release'])}: {cause.after_release}"


def _causes(explanation: Explanation) -> str:
    """The causes by probability, each with its words in full on lines of their own, and what the columns mean."""
    likely = sorted(explanation.causes[1:], key=lambda cause: -cause.probability)
    later = {one.measurement: LATER[one.when] for one in explanation.after_release}
    shown = [one for one in (explanation.causes[0], *likely) if one.probability >= SHOWN_SHARE][:MOST_SHOWN]
    rows = [
        (
            f"{one.cause} (!)" if one.danger else one.cause,
            f"{one.predicted_ratio:.2f}",
            _true(one),
            f"{100 * one.probability:.1f}",
        )
        for one in shown
    ]
    head, rule, *lines = table(("cause", "would read", "true input", "probability, %"), rows).splitlines()
    text = [head, rule]
    for line, one in zip(lines, shown, strict=True):
        settled = _settle_words(one, later)
        words = f"if so: {one.words}" + (f"; decided by: {settled}" if settled else "")
        text += [line, wrapped(for_reader(words), CAUTION_WIDTH, INDENT, INDENT)]
    if rest := list(_dangerous(explanation, shown)):
        text += ["", "less likely, and dangerous: the worst first"]
        text += [wrapped(line, CAUTION_WIDTH, INDENT, INDENT) for line in rest]
    return "\n".join((*text, "", *(wrapped(note, CAUTION_WIDTH) for note in _notes_on_causes(explanation))))


def _notes_on_causes(explanation: Explanation) -> Iterator[str]:
    yield (
        "would read, true input: over the heat input calculated at the file's pressure; true input of the hottest "
        "burner where it is over 1.1"
    )
    if any(one.danger for one in explanation.causes):
        yield "(!): another gas, no regulator or a leak; look for it before what is likelier"
    if not explanation.readings_fit_together:
        yield "no cause of the list fits these readings: the probabilities hold among the causes of the list alone"


def _dangerous(explanation: Explanation, listed: Sequence[RankedCause]) -> Iterator[str]:
    """The causes that are not listed and endanger, the worst first."""
    from burnerlab.bench.stop import share_words

    rest = [one for one in explanation.causes if (one.danger or one.overfire) and one not in listed]
    for one in sorted(rest, key=lambda cause: (not cause.danger, -cause.hottest_burner_ratio)):
        hottest = f", true input up to {_true(one)}" if one.hottest_burner_ratio > 1.1 else ""
        yield f"{one.cause}{' (!)' if one.danger else ''}{hottest}, probability {share_words(one.probability)}"


def _true(cause: RankedCause) -> str:
    all_burners, hottest = cause.true_input_ratio, cause.hottest_burner_ratio
    return f"{max(hottest, all_burners) if hottest > 1.1 else all_burners:.2f}"
