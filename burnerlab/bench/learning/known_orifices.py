"""Through which orifices a test of the record was read, and why that is not known of the others.

A heat input tells a discharge coefficient only beside the area it flowed through. The orifice of a burner in a test is
known where its bore was read there, where a plan of the file says how the unit was built, or where gas and manifold
pressure are those that the file has its orifices for. A unit converted to another gas has others.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.gas_facts import AnyGas
from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.conversion.orifice_choice import changed_by, steps_of
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.bench.plan_file import plans_below
from burnerlab.bench.reading.manifold import manifold_range
from burnerlab.bench.reading_plan import FEWEST_DIGITS, converted_for, digests_of, plan_of
from burnerlab.bench.record.entry import BenchTest
from burnerlab.bench.stop import pressure_words
from burnerlab.tables.problem import UserError

NOT_KNOWN = "no bore read, so that the orifice is not known"


def plan_digest(test: BenchTest, known: Iterable[str] = ()) -> str:
    """Digest of the plan that a test was made by; "" without one.

    known : digests among which that of a test that names a plan and read no row of it, as with every burner off, is
    """
    number = test.input_text("plan").strip().lower()
    named = [digest for digest in known if len(number) >= FEWEST_DIGITS and digest.startswith(number)]
    return next((entry.plan for entry in test.plan_entries), named[0] if len(named) == 1 else "")


def present_pressures_Pa(appliance: Appliance) -> tuple[float, float]:
    """Least and highest manifold pressure that counts as that of the present supply, gauge [Pa].

    What the regulator should hold, and the range that the file itself gives. The range of a row of supply pressures is
    too wide for it: that of 37 mbar holds 30 mbar, for which the orifices are others.

    >>> from burnerlab.appliance import demonstration
    >>> low, high = present_pressures_Pa(demonstration())
    >>> low < demonstration().supply.gauge_pressure_Pa < high
    True
    """
    supply, held = appliance.supply, manifold_range(appliance)
    low, high = supply.low_gauge_pressure_Pa, supply.high_gauge_pressure_Pa
    return min(held.low_Pa, low or held.low_Pa), max(held.high_Pa, high or held.high_Pa)


def why_not_known(
    test: BenchTest,
    burner: Burner,
    gas: AnyGas,
    gauge_pressure_Pa: float,
    appliance: Appliance,
    plans: Mapping[str, Appliance],
) -> str:
    """Why the orifice of a burner in a test is not known; "" where it is.

    gas, gauge_pressure_Pa : of the test; plans : by digest, the appliance as the units of a plan are built
    """
    digest, present = plan_digest(test, plans), appliance.supply.gas
    has_bore = any(
        one.quantity == "orifice_diameter" and one.burner == burner.name and one.value > 0.0
        for one in test.readings
    )
    if has_bore or digest in plans:
        return ""
    if digest:
        return f"by a plan that is not one of this file, {NOT_KNOWN}"
    if gas.name.casefold() != present.name.casefold():
        return f"on {gas.words}, where the file has its orifices for {present.words}, {NOT_KNOWN}"
    low, high = present_pressures_Pa(appliance)
    if not low <= gauge_pressure_Pa <= high:
        span = f"{pressure_words(low)} to {pressure_words(high)}"
        return f"at a manifold pressure outside {span} of the present supply, {NOT_KNOWN}"
    return ""


def built_by_plans(
    tests: Iterable[BenchTest], appliance: Appliance, folders: Sequence[Path] = ()
) -> dict[str, Appliance]:
    """The appliance as the units of each plan in ``tests`` are built, by the digest of the plan.

    Plans are those of the markets of the file, and those of the folders that the file, converted, still gives; a plan
    of which neither is true is left out, since its orifices are not known any more.
    """
    sought = {digest for test in tests if (digest := plan_digest(test))}
    built: dict[str, Appliance] = {}
    if not sought:
        return built
    for plan in (plan for folder in dict.fromkeys(folders) for plan in plans_below(folder)):
        if plan.digest in sought - built.keys():
            changed = converted_for(appliance, plan)
            built |= {} if changed is None else {plan.digest: changed}
    for market in targets_of(appliance) if sought - built.keys() else ():
        for target in market.targets:
            try:
                c = convert_to(market.appliance, target)
                digests = digests_of(plan_of(c))
            except UserError:
                continue
            if digests & sought and c.job is not None:
                changed = changed_by(c.job, steps_of(c.job))
                built |= dict.fromkeys(digests & (sought - built.keys()), changed)
    return built
