"""Checks of a conversion with their verdicts, and what a sheet must say besides figures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

from burnerlab import tables
from burnerlab.appliance.conversion.burner_conversion import discharge_of
from burnerlab.appliance.conversion.evaluation_result import PressureAt
from burnerlab.appliance.conversion.gas_facts import AnyGas, GasFacts
from burnerlab.appliance.conversion.headline import drill_band, in_percent, rests_on, total, unit_spread
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.result import (
    DRILL_SPREAD,
    PRESENT_HEAT_INPUT,
    ROUGH_AIR,
    BurnerConversion,
    Finding,
    Headline,
    NotEvaluated,
    Step,
    check,
    verdict_of,
)
from burnerlab.appliance.operation.supply_pressures import same_pressure, split_category, supply_pressures
from burnerlab.gas import DeclaredGas
from burnerlab.orifice import altitude, nozzle
from burnerlab.orifice.altitude import THIN_AIR, PolicyFactor
from burnerlab.orifice.discharge_coefficient import Discharge
from burnerlab.orifice.low_pressure_formula import low_pressure_check, low_pressure_constant
from burnerlab.quantity import Kind, UserError, check_low_pressure, show
from burnerlab.quantity.quantity_text import (
    QuantityText,
    kilowatt,
    millibar,
    millimetre,
    quantity_text,
    quoted,
)
from burnerlab.quantity.reference_state import STANDARD_PRESSURE_PA
from burnerlab.quantity.show import PAPER_DIGITS, number
from burnerlab.tables import cite, figure
from burnerlab.tables.figure import Evidence, evidence_of, weakest
from burnerlab.tables.literal import Key
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.verdict import Verdict

# What a conversion found: each check with its value, its range and one of four verdicts.

RULES = "appliance-rules"
HEAT_INPUT, TOTAL, PRESSURE_ROOM = "heat input", "total heat input", "room to set the pressure"
UNSOLVED = "the supply of the file decides what reaches the orifice and has not been solved yet"
THIN_AIR_m = 609.6  # 2000 ft, where altitude policies begin: table altitude_policies


def _measured(*used: Discharge) -> str:
    """The coefficients in words, where they were measured."""
    if rests_on(used, None) != Evidence.MEASURED:
        return ""
    spans = dict.fromkeys(f"{one.coefficient:.3f} ({one.low:.3f} to {one.high:.3f})" for one in used)
    return f"; discharge coefficient measured here, {', '.join(spans)}"


def by_other_burners(steps: Iterable[Step]) -> tuple[str, ...]:
    """Burners whose discharge coefficient was measured on others alone: their interval is that of the others."""
    of_others: dict[tuple[str, ...], list[str]] = {}
    for step in steps:
        measured = step.discharge.measured_on
        if measured and step.burner.name not in measured:
            of_others.setdefault(measured, []).append(step.burner.name)
    return tuple(
        Phrase(
            "{burners}: discharge coefficient measured on {others} alone",
            burners=", ".join(burners),
            others=", ".join(others),
        )
        for others, burners in of_others.items()
    )


def rated_words(job: Job, gas: GasFacts, gross_W: float, spec: str) -> QuantityText:
    """A gross heat input on a gas, on the basis of the ratings of the file, with its name."""
    basis = job.appliance.rating
    return kilowatt(gross_W * (gas.net_to_gross if basis == "net" else 1.0), spec) + f" {basis}"


def heat_input(job: Job, step: Step) -> Finding:
    """What the burner will burn against its aim, as its headline says."""
    result, at = step.result, step.result.headline
    heat = rated_words(job, job.new, at.heat_input_gross_W, ".3g")
    words = "{} gives {} at the nominal pressure, {} % of {}"
    text = quantity_text(words, result.choice.drill, heat, f"{100 * at.deviation:+.1f}", _aim(job))
    return of_headline(HEAT_INPUT, at, job, text + _measured(step.discharge), burner=result.name)


def pressure_room(job: Job, result: BurnerConversion, at: PressureAt | None = None) -> Finding | None:
    """A band of the manifold pressure that ends nearer to what is expected than a manometer reads; None for any other.

    room = p |((1 + end)/(1 + deviation))^2 - 1|, of both ends of the band, with every burner on and alone
    at : before its orifice, None for the nominal pressure; such a unit may be stopped by its plan without a fault
    """
    rows = tables.read("instrument_uncertainty", job.appliance.tables.instrument_uncertainty)
    row = next(row for row in rows if row["name"] == "manifold pressure")
    head, least_Pa = result.headline, float(row["half_width"])
    cases: tuple[tuple[float | None, float | None], ...] = (
        ((head.deviation, job.target.gauge_pressure_Pa),)
        if at is None
        else (
            (head.deviation_all_on, at.gauge_pressure_all_on_Pa),
            (head.deviation_alone, at.gauge_pressure_alone_Pa),
        )
    )
    rooms = [
        (abs(((1.0 + end) / (1.0 + deviation)) ** 2 - 1.0) * pressure_Pa, pressure_Pa)
        for deviation, pressure_Pa in cases
        if deviation is not None and pressure_Pa is not None
        for end in (job.tolerance.low, job.tolerance.high)
    ]
    if head.verdict in (Verdict.OUTSIDE, Verdict.NOT_EVALUATED) or result.choked or not rooms:
        return None
    room_Pa, pressure_Pa = min(rooms)
    if room_Pa >= least_Pa:
        return None
    text = quantity_text(
        "{} expected before the orifice, {} from the end of its band: a manometer reads to {}; "
        "a unit without a fault may be stopped; choose another orifice or pressure",
        millibar(pressure_Pa, ".3g"),
        millibar(room_Pa, ".2f"),
        millibar(least_Pa, ".2f"),
    )
    return Finding(
        topic=PRESSURE_ROOM,
        verdict=Verdict.NEAR,
        burner=result.name,
        value=100.0 * room_Pa / pressure_Pa,
        low=100.0 * least_Pa / pressure_Pa,
        unit="%",
        text=text,
        source=f"{cite(row['source'])}, {row['place']}",
        evidence=evidence_of(row["provenance"]),
    )


def of_headline(topic: str, at: Headline, job: Job, text: str, *, burner: str = "") -> Finding:
    """The finding of a headline: its value, its interval as made, its verdict."""
    band = job.tolerance
    return Finding(
        topic=topic,
        verdict=at.verdict,
        text=text + ("; " + UNSOLVED if at.verdict == Verdict.NOT_EVALUATED else ""),
        burner=burner,
        value=100 * at.deviation,
        value_low=None if at.deviation_low is None else 100 * at.deviation_low,
        value_high=None if at.deviation_high is None else 100 * at.deviation_high,
        unit="%",
        low=100 * band.low,
        high=100 * band.high,
        source=band.source,
        evidence=at.evidence,
    )


def findings(job: Job, steps: tuple[Step, ...]) -> tuple[Finding, ...]:
    """Every check of a conversion: the burners first, then the whole."""
    found = [finding for step in steps for finding in _of_burner(job, step)]
    return (*found, *_of_whole(job, steps))


def _of_burner(job: Job, step: Step) -> Iterator[Finding]:
    result, band = step.result, job.tolerance
    low, high = 100 * band.low, 100 * band.high
    yield heat_input(job, step)
    yield from filter(None, (pressure_room(job, result),))
    yield _present(job, step)
    yield _drill_spread(job, step)
    if result.no_drill_meets:
        yield Finding(
            topic="drill step", verdict=Verdict.OUTSIDE, text=result.no_drill_meets, burner=result.name,
            value=100 * result.drill_deviation, unit="%", low=low, high=high, source=band.source,
            evidence=step.discharge.evidence,
        )  # fmt: skip
    yield _smallest(step)
    yield _primary_air(job, step)
    if not step.discharge.in_range:
        yield Finding(
            topic="discharge coefficient", verdict=Verdict.OUTSIDE, burner=result.name, evidence=Evidence.ESTIMATE,
            text="; ".join(step.discharge.notes), value=result.coefficient, source=result.coefficient_source,
        )  # fmt: skip


def _aim(job: Job) -> str:
    """What a heat input is a deviation from."""
    if job.couple is None or job.reference is None:
        return "what the orifice is sized for"
    aim = "the rating" if job.couple_factor == 1.0 else f"{100 * job.couple_factor:.1f} % of the rating"
    return f"{aim}: {job.couple.words()}, sized on {job.couple.reference.reference_gas}, not enlarged for this gas"


def _smallest(step: Step) -> Finding:
    """Can a hole this small be drilled, and does it stay clear?"""
    smallest, result = figure("conversion_figures", "practical_orifice"), step.result
    clear = result.choice.diameter_m > 1.2 * smallest.low
    return check(
        "smallest orifice",
        1e3 * result.choice.diameter_m,
        1e3 * smallest.low,
        None,
        burner=result.name,
        unit="mm",
        source=cite(RULES),
        evidence=Evidence.ESTIMATE,
        text=result.choice.drill
        + ": "
        + ("not below the smallest bore of the table" if clear else "an orifice this size blocks easily"),
    )


def _present(job: Job, step: Step) -> Finding:
    """Does the burner as described make its rating on the gas it has now?"""
    predicted = step.result.from_predicted_gross_W
    if predicted is None:
        text = "present orifice: not given; what stands for the present gas holds for the bore that gives the rating,"
        return Finding(
            topic=PRESENT_HEAT_INPUT, verdict=Verdict.NOT_EVALUATED, burner=step.result.name,
            text=f"{text} " + millimetre(step.burner.orifice.diameter_m, ".3f") + " calculated",
        )  # fmt: skip
    aim = step.result.from_rate_gross_W * job.old_policy.factor
    deviation = predicted / aim - 1
    high = 100 * job.tolerance.high
    used = discharge_of(step.burner.orifice, step.old_flow, None, job.appliance.tables)
    heat = rated_words(job, job.old, predicted, ".3g")
    text = quantity_text("as described it gives {} on {},", heat, job.old.gas.name)
    text += f" {100 * deviation:+.1f} % off {rating_words(job.old_policy)}{_measured(used)}"
    if verdict_of(100 * deviation, 100 * job.tolerance.low, high) == Verdict.OUTSIDE:
        text += ": check orifice, pressure, coefficient or rating before converting"
    spread = unit_spread(
        used, drill_band(step.burner.orifice, job.appliance.tables), step.old_flow.diameter_m
    )
    return check(
        PRESENT_HEAT_INPUT,
        100 * deviation,
        100 * job.tolerance.low,
        high,
        ends=None if spread is None else in_percent(spread.around(deviation)),
        burner=step.result.name,
        unit="%",
        source=job.tolerance.source,
        text=text,
        evidence=used.evidence,
    )


def rating_words(policy: PolicyFactor) -> str:
    """What a heat input is held against under an altitude policy.

    >>> rating_words(altitude.policy_factor("none", 0.0))
    'its rating'
    """
    if policy.factor == 1.0:
        return "its rating"
    what = f"after {policy.policy}" if policy.policy else "that a bore for sea level gives"
    return (
        f"the {100 * policy.factor:.1f} % of its rating {what} at {altitude.height_words(policy.altitude_m)}"
    )


def _drill_spread(job: Job, step: Step) -> Finding:
    """The end of the drill's own tolerance that lies farther from the rating."""
    result, tolerance = step.result, step.choice.tolerance
    made_W = (result.choice.drill_tolerance_low_gross_W, result.choice.drill_tolerance_high_gross_W)
    ends = [100 * (end / result.aim_gross_W - 1) for end in made_W]
    worst = max(ends, key=abs)
    return check(
        DRILL_SPREAD,
        worst,
        100 * job.tolerance.low,
        100 * job.tolerance.high,
        burner=result.name,
        unit="%",
        source=cite(tolerance.source) + (", recalled" if tolerance.provenance == "memory" else ""),
        text=f"a hole at the ends of the drill's tolerance gives {ends[0]:+.1f} to {ends[1]:+.1f} %",
        evidence=weakest(step.discharge.evidence, evidence_of(tolerance.provenance)),
    )


def _primary_air(job: Job, step: Step) -> Finding:
    """The change of the primary air, an estimate with a calibrated mixing tube too.

    The coefficients of the tube move the air before and after alike: readings of either gas say nothing of the ratio.
    """
    after, known = step.result.primary_aeration_after, step.result.primary_aeration_before
    before = known or figure("conversion_figures", "primary_aeration").value
    fields: dict[str, Any] = {
        "burner": step.result.name,
        "source": cite("appliance-entrainment"),
    }
    if after is None:
        why = "needs both gases' compositions; of a choked jet also throat and ports"
        if step.burner.kind.traits.is_radiant:
            why = "a tile draws all its air as primary air: needs its throat and its ports"
        return Finding(topic=ROUGH_AIR, verdict=Verdict.NOT_EVALUATED, text=why, **fields)
    limit = figure("conversion_figures", "primary_aeration_change")
    ends = f"{100 * before:.0f} % becomes about {100 * after:.0f} %"
    text = (
        f"with throat, ports and shutter untouched a primary aeration calculated as {ends}"
        if known
        else f"with throat, ports and shutter untouched a primary aeration of {ends}"
    )
    return check(
        ROUGH_AIR,
        after / before,
        limit.low,
        limit.high,
        unit="-",
        text=text,
        evidence=Evidence.ESTIMATE,
        **fields,
    )


def _of_whole(job: Job, steps: tuple[Step, ...]) -> Iterator[Finding]:
    at = total(job, steps)
    whole = rated_words(job, job.new, at.heat_input_gross_W, ".4g")
    text = quantity_text("all burners together {} at the nominal pressure,", whole)
    yield of_headline(TOTAL, at, job, text + f" {100 * at.deviation:+.1f} %")
    yield _pressure(job)
    yield _family(job)
    yield _choking(job, steps[0])
    yield _altitude(job)
    yield _formula(job, steps)


def _pressure(job: Job) -> Finding:
    pressures, gauge = job.pressures, job.target.gauge_pressure_Pa
    if known := _pressures_of_category(job):
        listed = quantity_text(", ".join("{}" for _ in known), *(millibar(each, ".3g") for each in known))
        text = quantity_text(
            "{} is no supply pressure of category {} for {} (known: {})",
            millibar(gauge, ".3g"), job.target.category, job.new.gas.words, listed,
        )  # fmt: skip
        return Finding(
            topic="supply pressure", verdict=Verdict.OUTSIDE, text=text, value=gauge / 1e2, unit="mbar gauge",
        )  # fmt: skip
    if pressures.low_Pa is None and pressures.high_Pa is None:
        text = f"no range of supply pressure is known for {job.new.gas.words} at " + millibar(gauge, ".3g")
        return Finding(
            topic="supply pressure",
            verdict=Verdict.NOT_EVALUATED,
            text=text,
            value=gauge / 1e2,
            unit="mbar gauge",
        )
    low, high = (None if end is None else end / 1e2 for end in (pressures.low_Pa, pressures.high_Pa))
    text = millibar(gauge, ".3g") + " against the range of the supply"
    return check(
        "supply pressure", gauge / 1e2, low, high, unit="mbar gauge", source=pressures.source, text=text,
        evidence=pressures.evidence,
    )  # fmt: skip


def _pressures_of_category(job: Job) -> list[float]:
    """Nominal pressures of the new gas in a category that it belongs to, where its own is none of them [Pa]."""
    if not job.target.category or job.supply is not None:
        return []
    groups = split_category(job.target.category)
    rows = supply_pressures(job.appliance.tables.supply_pressures)
    return sorted({r.nominal_Pa for r in rows if r.category in groups and r.family in job.new.families})


def _family(job: Job) -> Finding:
    """Does the new gas belong to a family of EN 437, and to the category of the target?"""
    wobbe, groups = job.new.wobbe_15_15_J_per_m3 / 1e6, job.new.groups
    fields: dict[str, Any] = {
        "topic": "gas family",
        "value": wobbe,
        "unit": "MJ/m3 gross Wobbe at 15 C/15 C",
        "evidence": weakest(
            evidence_of(job.new.gas.provenance), *(evidence_of(g.provenance) for g in groups)
        ),
    }
    if job.supply is not None and job.supply.is_national:
        groups = tuple(one for one in job.new.national_groups if one.code == job.supply.family)
    if not groups:
        return Finding(verdict=Verdict.OUTSIDE, text=_of_no_family(job), **fields)
    inside = [group for group in groups if group.low_J_per_m3 <= 1e6 * wobbe <= group.high_J_per_m3]
    tightest = min(inside or groups, key=lambda group: group.high_J_per_m3 - group.low_J_per_m3)
    fields |= {
        "low": tightest.low_J_per_m3 / 1e6,
        "high": tightest.high_J_per_m3 / 1e6,
        "source": cite(tightest.source),
    }
    text = f"by its Wobbe index {job.new.gas.words} belongs to {job.new.used.family}"
    if job.target.category and job.supply is None and not _pressures_of_category(job):
        # its index lies in the range of its own group, which is none of the category: no figure says why
        fields |= {"value": None, "low": None, "high": None, "unit": ""}
        return Finding(
            verdict=Verdict.OUTSIDE, text=f"{text}: not a gas of category {job.target.category}", **fields
        )
    if job.supply is not None:
        text += f"; supplied as {job.supply.category}"
    return Finding(verdict=Verdict.WITHIN, text=text, **fields)


def _of_no_family(job: Job) -> str:
    """A gas of no family that all of Europe has, and the countries in whose own groups it lies, if any."""
    words = f"{job.new.gas.words} lies outside every family of EN 437"
    national = ", ".join(f"{group.code} of {group.country}" for group in job.new.national_groups)
    return f"{words} that is common to Europe, in the range of {national}" if national else words


def _choking(job: Job, step: Step) -> Finding:
    """The gauge pressure at which the orifice would choke at this site; a limit where no high pressure is confirmed."""
    ratio = float(nozzle.critical_pressure_ratio(step.choice.flow.isentropic_exponent))
    choke = job.new_site.ambient_pressure_Pa * (1 / ratio - 1) / 1e2
    gauge = job.target.gauge_pressure_Pa / 1e2
    text = quantity_text("the jet chokes from {} gauge", millibar(1e2 * choke, ".3g"))
    fields: dict[str, Any] = {
        "unit": "mbar gauge",
        "source": "isentropic nozzle",
        "evidence": Evidence.PUBLISHED,
    }
    if gauge >= choke:
        text += (
            ": flow is choked and was calculated so; more pressure still gives more gas, but no faster a jet"
        )
    if _is_high(job):
        low, high = (choke, None) if gauge >= choke else (None, choke)
        text += ", as the high pressure confirmed for this burner asks" if gauge >= choke else ""
        return Finding(
            topic="choking", verdict=Verdict.WITHIN, value=gauge, low=low, high=high, text=text, **fields
        )
    return check("choking", gauge, None, choke, text=text, **fields)


def _is_high(job: Job) -> bool:
    """Whether a pressure beyond that of low-pressure appliances is wanted and confirmed."""
    try:
        check_low_pressure(job.target.gauge_pressure_Pa, "")
    except UserError:
        return job.target.allow_high_pressure or job.appliance.supply.allow_high_pressure
    return False


def _altitude(job: Job) -> Finding:
    height, policy = job.new_site.pressure_altitude_m, job.policy
    natural, place = altitude.natural_derate(height), altitude.height_words(height)
    fields: dict[str, Any] = {
        "topic": "altitude",
        "value": 100 * policy.factor,
        "unit": "% of the rating",
        "source": cite(policy.source),
        "evidence": evidence_of(policy.provenance),
    }
    if not policy.policy and 1 - policy.factor >= THIN_AIR:
        text = f"no altitude policy is chosen at {place}: every bore is the one for sea level and gives"
        text += f" {100 * policy.factor:.1f} % of the rating there; choose a policy, its bores are listed"
        return Finding(verdict=Verdict.NEAR, text=text, **fields)
    if policy.policy and policy.factor < 1:
        text = (
            f"{policy.words()}; {altitude.double_derate(policy)}: the orifices of this sheet already meet it,"
        )
        text = f"{text} take nothing off again"
        appliance = job.appliance
        known = altitude.place_of_policy(policy.policy, appliance.region, appliance.tables.altitude_policies)
        if known:
            text += (
                f"; it is a rule of {known}, not of this region: an engineer must name the rule of the place"
            )
        return Finding(verdict=Verdict.NEAR if known else Verdict.WITHIN, text=text, **fields)
    if height <= THIN_AIR_m:
        return Finding(
            verdict=Verdict.WITHIN,
            text=quoted(height, Kind.LENGTH, "m", ".0f", US_unit="ft") + ": no rule asks for a lower rating",
            **fields,
        )
    text = (
        f"policy {policy.policy} at {place}: the orifices are enlarged for the full rating, where a bore for"
    )
    text += f" sea level would give {100 * natural:.1f} % of it; many rules ask for a lower rating here"
    return Finding(verdict=Verdict.NEAR, text=text, **fields)


def _formula(job: Job, steps: tuple[Step, ...]) -> Finding:
    """The trade's low-pressure formula beside the expansible flow: the largest difference of all burners.

    The formula knows no altitude: it is brought to the place by the root of the ambient pressure.
    """
    limit, constant = figure("conversion_figures", "formula_difference"), low_pressure_constant()
    if _is_high(job):
        text = "the trade's low-pressure formula is not made for a pressure like this"
        return Finding(topic="low-pressure formula", verdict=Verdict.NOT_EVALUATED, text=text)
    density = job.new.used.relative_density
    differences = [low_pressure_check(step.choice.flow, density).difference for step in steps]
    place = math.sqrt(job.new_site.ambient_pressure_Pa / STANDARD_PRESSURE_PA)
    worst = max(((1.0 + one) * place - 1.0 for one in differences), key=abs)
    brought = "" if abs(place - 1.0) < THIN_AIR else ", brought to this ambient pressure by its root,"
    return check(
        "low-pressure formula",
        100 * worst,
        100 * limit.low,
        100 * limit.high,
        unit="%",
        source=cite(constant.source) + (", recalled" if constant.provenance == "memory" else ""),
        text=f"the trade's formula with {constant.name}{brought} gives {100 * worst:+.1f} % of the flow computed here"
        f" (its base: {constant.basis})",
        evidence=evidence_of(constant.provenance),
    )


# What a sheet must say besides figures: what else to change, and what was not evaluated.

MAINS = "2"  # first letter of the categories whose gases come by the mains: 2E+, whose couple no regulator tells apart
Aerations = tuple[tuple[float, float], ...]  # primary aeration before and after of some burners [-]


def prompts(
    job: Job, steps: tuple[Step, ...], aerations: Aerations = (), manifold_Pa: float | None = None
) -> tuple[str, ...]:
    """What else must change or be inspected, from the table ``prompts``.

    aerations : calculated; where there are none, the present one is assumed
    manifold_Pa : calculated with every burner on [Pa gauge]; None takes the nominal
    """
    found = aerations or assumed_aerations(steps)
    occasions = set(_occasions(job, steps, found))
    words = _words(job, found, manifold_Pa)
    return tuple(row["text"].format(**words) for row in tables.rows("prompts") if row["when"] in occasions)


def _occasions(job: Job, steps: tuple[Step, ...], aerations: Aerations) -> Iterator[Key]:
    yield "always"
    keeps_pressure = same_pressure(job.target.gauge_pressure_Pa, job.appliance.supply.gauge_pressure_Pa)
    if job.new.gas != job.old.gas or not keeps_pressure:
        yield "gas or pressure"
    changes = any(step.choice.diameter_m != step.result.from_orifice_m for step in steps)
    yield "orifice" if changes else "same orifice"
    same_family = {group.family for group in job.new.groups} == {group.family for group in job.old.groups}
    if job.couple is not None and job.couple.category.startswith(MAINS):
        yield "mains couple"
    else:
        yield "own pressure"
        if not (same_family and keeps_pressure) or job.new.gas.is_special:
            yield "regulator"
    if job.new.used.relative_density > 1:
        yield "heavier"
    yield from _of_composition(job.new.gas)
    if job.new_site != job.old_site or job.policy.factor < 1:
        yield "altitude"
    limit = tables.figure("conversion_figures", "primary_aeration_change")
    if aerations:
        before, after = means(aerations)
        mean = after / before
        yield "close shutter" if mean > limit.high else "open shutter" if mean < limit.low else "same shutter"


def _of_composition(gas: AnyGas) -> Iterator[Key]:
    """What its components ask for; a declared gas tells none."""
    if isinstance(gas, DeclaredGas):
        return
    hydrogen, monoxide = gas.composition["hydrogen"], gas.composition["carbon monoxide"]
    if hydrogen >= tables.figure("conversion_figures", "hydrogen_share").value:
        yield "hydrogen"
    if hydrogen >= tables.figure("conversion_figures", "pale_flame_share").value:
        yield "pale flame"
    if monoxide >= tables.figure("conversion_figures", "poisonous_share").value:
        yield "poisonous"


def assumed_aerations(steps: tuple[Step, ...]) -> Aerations:
    """The present aeration, assumed where it is not calculated, and where it goes, where that is known [-]."""
    assumed = tables.figure("conversion_figures", "primary_aeration").value
    found = [step.result for step in steps]
    ends = [(one.primary_aeration_before or assumed, one.primary_aeration_after) for one in found]
    return tuple((before, after) for before, after in ends if after)


def means(aerations: Aerations) -> tuple[float, float]:
    """Mean before and mean after."""
    before, after = (sum(side) / len(aerations) for side in zip(*aerations, strict=True))
    return before, after


def _words(job: Job, aerations: Aerations, manifold_Pa: float | None) -> dict[str, str]:
    pressure, site = job.target.gauge_pressure_Pa, job.new_site
    assumed = tables.figure("conversion_figures", "primary_aeration").value
    before, after = means(aerations) if aerations else (assumed, assumed)
    return {
        "pressure": _pressure_in_both(pressure),
        "manifold": _pressure_in_both(pressure if manifold_Pa is None else manifold_Pa),
        "gas": job.new.used.title,
        "old_gas": job.old.used.title,
        "altitude": f"{site.pressure_altitude_m:.0f} m ({show(site.pressure_altitude_m, Kind.LENGTH, unit='ft')})",
        "before": f"{100 * before:.0f} %",
        "after": f"{100 * after:.0f} %",
    }


def _pressure_in_both(value_Pa: float) -> str:
    inches = show(value_Pa, Kind.GAUGE_PRESSURE, unit="in w.c.", digits=PAPER_DIGITS)
    return f"{number(value_Pa / 1e2, PAPER_DIGITS)} mbar ({inches})"


def _has_no_air_of_a_choked_jet(step: Step) -> bool:
    is_choked = step.result.choked or step.old_flow.choked
    return is_choked and step.result.primary_aeration_after is None


def not_evaluated(job: Job, steps: tuple[Step, ...]) -> tuple[NotEvaluated, ...]:
    """Every question this conversion leaves open, by name, from the table ``not_evaluated``."""
    occasions = {"all"} | {step.burner.kind.value for step in steps}
    if any(step.burner.turndown is not None for step in steps):
        occasions.add("turndown")
    if not (job.old.has_composition and job.new.has_composition):
        occasions.add("declared")
    elif any(_has_no_air_of_a_choked_jet(step) for step in steps):
        occasions.add("choked")
    if job.pressures.low_Pa is None or job.pressures.high_Pa is None:
        occasions.add("no range")
    found = []
    for row in tables.rows("not_evaluated"):
        if row["for"] in occasions:
            own = [step.burner.name for step in steps if step.burner.kind.value == row["for"]]
            found += [NotEvaluated(topic=row["topic"], why=row["why"], burner=name) for name in own or [""]]
    return tuple(found)


def cited_rows() -> tuple[str, ...]:
    """Sources behind the prompts and cautions that were read in a publication."""
    every = (*tables.rows("prompts"), *tables.rows("cautions"))
    return tuple(dict.fromkeys(row["source"] for row in every if row["provenance"] == "seen"))
