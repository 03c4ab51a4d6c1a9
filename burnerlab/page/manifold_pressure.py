"""What the pages of a test say of a manifold pressure, before and after it is read: band, highest, lock-up, acts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from burnerlab.appliance.project.basis import rated_basis
from burnerlab.bench.reading.manifold import (
    TOO_NARROW,
    ManifoldCheck,
    gauge_uncertainty_Pa,
    highest_pressure_Pa,
    is_too_narrow,
    lock_up_Pa,
    no_band_limits,
    pressure_limits,
)
from burnerlab.bench.reading_plan import BY_PLAN, DO_NOT_FIT
from burnerlab.bench.stop import StopNotice, pressure_end_words, pressure_ends_words, stop_notice
from burnerlab.bench.stop_rules import seen_pressure_stop
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import Form, FormValues, fields
from burnerlab.page.heat_input_test import Model
from burnerlab.page.result_text import STOPPED, figure, lock_up_place, range_act, range_place
from burnerlab.page.stop_names import open_stops_for, stopped_sentence
from burnerlab.quantity import System
from burnerlab.quantity.band_ends import pressure_end
from burnerlab.report.sheet.blocks import pressure
from burnerlab.tables.cautions import cautions
from burnerlab.tables.phrase import Phrase

LOCK_UP_LIMIT = "at most {highest}; above it: gas off at once"
FOUND_NO_BAND = "The plan has no band for this pressure. Look at the flame."
NOT_TO_FIRE = (
    "Burner off: the plan has no band for this pressure, and says what not to fit. An engineer decides before the test "
    "goes on."
)


def too_narrow_before(model: Model, form: Form) -> str:
    """The same as ``too_narrow``, before a pressure is read."""
    limits, gauge_Pa = model.pressure_limits(form), gauge_uncertainty_Pa(model.appliance)
    high_Pa = min(limits.high_Pa, highest_pressure_Pa(model.appliance))
    if limits.no_band or not is_too_narrow(limits.low_Pa, high_Pa, gauge_Pa):
        return ""
    return TOO_NARROW.format(gauge=pressure(gauge_Pa).inline(gauge_Pa, form.system))


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureAlert:
    """A stop of a manifold pressure, in sight while one beyond its end is typed."""

    notice: StopNotice
    end: str  # attribute of the page
    at_Pa: float
    burners_on: bool  # else of a lock-up too


LEAST_Pa = 1e-9  # below it no gas flows: a manifold pressure of 0


def pressure_alerts(model: Model, form: Form) -> tuple[PressureAlert, ...]:
    """The stops that a manifold pressure beyond its ends raises, the worst first."""
    highest_Pa = highest_pressure_Pa(model.appliance)
    limits = model.pressure_limits(form)
    high_Pa = min(limits.high_Pa, highest_Pa)
    low_end, end = pressure_ends_words(limits.low_Pa, high_Pa)
    high = stop_notice("pressure-band", read=Phrase("as typed"), limit=end)
    highest = seen_pressure_stop(pressure_end_words(highest_Pa, "high"))
    above = [PressureAlert(notice=highest, end="data-above", at_Pa=highest_Pa, burners_on=False)]
    if high_Pa < highest_Pa:
        above.append(PressureAlert(notice=high, end="data-above", at_Pa=high_Pa, burners_on=True))
    lost = PressureAlert(
        notice=stop_notice("pressure-lost"), end="data-below", at_Pa=LEAST_Pa, burners_on=True
    )
    if limits.no_band:
        return (*above, lost)
    low = stop_notice("pressure-low", read=Phrase("as typed"), limit=low_end)
    return (*above, lost, PressureAlert(notice=low, end="data-below", at_Pa=limits.low_Pa, burners_on=True))


def pressure_sizes(system: System) -> dict[str, float]:
    """One of each unit in which a manifold pressure is typed [Pa]."""
    own = fields()["manifold"]
    return {unit: own.read(f"1 {unit}", system) for unit in own.units(system)}


def limits_words(model: Model, form: Form) -> str:
    """Band and highest of the manifold pressure that a test of a model is judged by, each with its act."""
    if form.is_lock_up:
        return _lock_up_limit(model, form.system)
    limits, highest_Pa = model.pressure_limits(form), highest_pressure_Pa(model.appliance)
    if limits.no_band:
        return no_band_limits(limits.no_band, highest_Pa, form.system)
    high_Pa = min(limits.high_Pa, highest_Pa)
    return pressure_limits(limits.low_Pa, high_Pa, highest_Pa, form.system)


def _lock_up_limit(model: Model, system: System) -> str:
    """The limit of the manifold pressure with every burner off, with its act."""
    highest_Pa = highest_pressure_Pa(model.appliance)
    return LOCK_UP_LIMIT.format(highest=pressure_end(highest_Pa, "high", system))


def lock_up_words(model: Model, system: System) -> str:
    """What the manifold pressure is expected to be with every burner off, and its limit, as the job card has them."""
    expected_Pa, limit = lock_up_Pa(model.appliance), _lock_up_limit(model, system)
    return (
        limit
        if expected_Pa is None
        else f"expected {pressure(expected_Pa).inline(expected_Pa, system)}; {limit}"
    )


def no_band_act(model: Model, form: Form) -> str:
    """What comes first where the plan has no band of the manifold pressure for what is on; "" where it has one."""
    reason = model.pressure_limits(form).no_band
    if not reason:
        return ""
    return NOT_TO_FIRE if reason.endswith(DO_NOT_FIT) else FOUND_NO_BAND


def check_act(check: ManifoldCheck | None) -> str:
    """What to do of a manifold pressure outside its band, as plan and card say; "" within."""
    if check is None:
        return ""
    return range_act(check.measured_pressure_Pa, check.pressure_low_Pa, check.pressure_high_Pa)


def pressure_values(bench: Bench, values: FormValues, *, is_recorded: bool = False) -> dict[str, Any]:
    """The manifold pressure of a test without a heat input, for the page; no verdict where a stop stands.

    is_recorded : it is read alone, whatever stands of other units
    """
    test, form = bench.pressure_of(values), values.form
    assert test is not None  # ``_is_usable``
    system, check, explained = form.system, test.check, test.explanation
    stops = () if is_recorded else open_stops_for(bench, form)
    verdict = STOPPED if stops else check.pressure_verdict
    basis = rated_basis(test.model.appliance)

    def words(value_Pa: float) -> str:
        return pressure(value_Pa).inline(value_Pa, system)

    return {
        "heat_test": None,
        "check": check,
        "by_plan": BY_PLAN,
        "place": lock_up_place(verdict, is_low=test.is_low) if test.is_lock_up else range_place(verdict),
        "is_lock_up": test.is_lock_up,
        "is_low": test.is_low,
        "too_narrow": "" if test.is_lock_up else too_narrow(check, system),
        "stopped_words": stopped_sentence(stops, form.get("serial"), "band"),
        "check_read": words(check.measured_pressure_Pa),
        "expected_pressure": "" if test.expected_Pa is None else words(test.expected_Pa),
        "limits": limits_words(test.model, form),
        "uncertainty": words(check.pressure_uncertainty_Pa),
        "expected": figure("expected_heat_input_gross", check.expected_gross_W * basis.of_gross, system),
        "basis": basis.word,
        "warning": ""
        if explained is None or check.pressure_verdict.is_within
        else explained.overfire_warning,
        "cautions": cautions(),
    }


def too_narrow(check: ManifoldCheck, system: System) -> str:
    """What stands beside a pressure whose band the gauge cannot decide; "" beside any other."""
    gauge_Pa = check.pressure_uncertainty_Pa
    return TOO_NARROW.format(gauge=pressure(gauge_Pa).inline(gauge_Pa, system)) if check.is_too_narrow else ""
