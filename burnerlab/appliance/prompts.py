"""What a sheet must say besides figures: what else to change, and what was not evaluated."""

from __future__ import annotations

from collections.abc import Iterator

from burnerlab import tables
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.gasfacts import AnyGas
from burnerlab.appliance.pressures import same_pressure
from burnerlab.appliance.result import NotEvaluated, Step
from burnerlab.gas import DeclaredGas
from burnerlab.quantity import Kind, show

Aerations = tuple[tuple[float, float], ...]  # primary aeration before and after of some burners [-]


def prompts(job: Job, steps: tuple[Step, ...], aerations: Aerations = ()) -> tuple[str, ...]:
    """What else must change or be looked at, from the table ``prompts``.

    aerations : calculated; where there are none, the present one is assumed
    """
    found = aerations or assumed_aerations(steps)
    occasions = set(_occasions(job, steps, found))
    words = _words(job, found)
    return tuple(row["text"].format(**words) for row in tables.rows("prompts") if row["when"] in occasions)


def _occasions(job: Job, steps: tuple[Step, ...], aerations: Aerations) -> Iterator[str]:
    yield "always"
    if job.new.gas != job.old.gas:
        yield "gas"
    if any(step.choice.diameter_m != step.result.from_orifice_m for step in steps):
        yield "orifice"
    same_family = {group.family for group in job.new.groups} == {group.family for group in job.old.groups}
    keeps_pressure = same_pressure(job.target.gauge_pressure_Pa, job.appliance.supply.gauge_pressure_Pa)
    if not (same_family and keeps_pressure) or job.new.gas.is_special:
        yield "regulator"
    if job.new.used.relative_density > 1:
        yield "heavier"
    yield from _of_composition(job.new.gas)
    if job.new_site != job.old_site or job.policy.factor < 1:
        yield "altitude"
    held = tables.figure("conversion_figures", "primary_aeration_change")
    if aerations:
        before, after = means(aerations)
        mean = after / before
        yield "close shutter" if mean > held.high else "open shutter" if mean < held.low else "same shutter"


def _of_composition(gas: AnyGas) -> Iterator[str]:
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


def _words(job: Job, aerations: Aerations) -> dict[str, str]:
    pressure, site = job.target.gauge_pressure_Pa, job.new_site
    assumed = tables.figure("conversion_figures", "primary_aeration").value
    before, after = means(aerations) if aerations else (assumed, assumed)
    kpa = f"{pressure / 1e3:.3g} kPa"
    return {
        "pressure": f"{kpa} ({show(pressure, Kind.GAUGE_PRESSURE, unit='in w.c.')})",
        "gas": job.new.used.title,
        "old_gas": job.old.used.title,
        "altitude": f"{site.pressure_altitude_m:.0f} m ({site.ambient_pressure_Pa / 1e3:.1f} kPa)",
        "before": f"{100 * before:.0f} %",
        "after": f"{100 * after:.0f} %",
    }


def not_evaluated(job: Job, steps: tuple[Step, ...]) -> tuple[NotEvaluated, ...]:
    """Every question this conversion leaves open, by name, from the table ``not_evaluated``."""
    occasions = {"all"} | {step.burner.kind.value for step in steps}
    if any(step.burner.turndown is not None for step in steps):
        occasions.add("turndown")
    if not (job.old.has_composition and job.new.has_composition):
        occasions.add("declared")
    elif any(step.result.choked or step.old_flow.choked for step in steps):
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
