"""What the burners of one conversion share, and one burner with the flows behind its figures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from burnerlab.appliance.conversion.gas_facts import AnyGas, GasFacts, GasStates, facts
from burnerlab.appliance.conversion.target import (
    ConversionTarget,
    NewTrain,
    Site,
    new_train,
    present_site,
    target_site,
)
from burnerlab.appliance.memory import REMEMBERED, InputKey, gas_key
from burnerlab.appliance.operation.supply_pressures import (
    PressureCouple,
    SupplyPressure,
    couple_of,
    match_pressure,
    same_pressure,
)
from burnerlab.appliance.project.model import Appliance, OwnTables, Tolerance
from burnerlab.orifice.altitude import PolicyFactor, no_policy, policy_factor, sea_level_bore_factor
from burnerlab.orifice.drill import SERIES, Drill, drill_list
from burnerlab.orifice.flow import Conditions
from burnerlab.orifice.stock import stock_list
from burnerlab.quantity import ReferenceState
from burnerlab.quantity.inputs import input_row
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import UserError


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureRange:
    """Lowest and highest supply pressure; None where not known."""

    low_Pa: float | None
    high_Pa: float | None
    source: str
    evidence: Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Everything the burners of one conversion share."""

    appliance: Appliance
    target: ConversionTarget
    old: GasFacts
    new: GasFacts
    old_site: Site
    new_site: Site
    old_policy: PolicyFactor
    policy: PolicyFactor
    tolerance: Tolerance
    supply: SupplyPressure | None  # the row of supply pressures the new gas and pressure belong to
    pressures: PressureRange
    drills: tuple[Drill, ...]
    drill_words: str
    new_train: NewTrain
    couple: PressureCouple | None = None  # the pair of gases that one injector must serve
    reference: Job | None = None  # the same on the couple's reference gas, whose orifices this gas gets
    couple_factor: float = (
        1.0  # of the rating, what those orifices leave of it on this gas, see ``_couple_factor``
    )

    def under(self, policy: str | None) -> Job:
        """The same job under another altitude policy, None for the bores for sea level."""
        found = _policy(
            policy,
            self.target.gas,
            self.target.gauge_pressure_Pa,
            self.new_site,
            self.appliance.tables,
        )
        reference = None if self.reference is None else self.reference.under(policy)
        return replace(self, policy=found, reference=reference)

    def of(self, appliance: Appliance) -> Job:
        """The same job on a part of its appliance."""
        reference = None if self.reference is None else self.reference.of(appliance)
        return replace(self, appliance=appliance, reference=reference)

    def conditions(self, gauge_pressure_Pa: float) -> Conditions:
        """A supply pressure of the new gas at the new site."""
        return conditions(gauge_pressure_Pa, self.new_site)

    @property
    def new_conditions(self) -> Conditions:
        return self.conditions(self.target.gauge_pressure_Pa)

    @property
    def old_conditions(self) -> Conditions:
        return conditions(self.appliance.supply.gauge_pressure_Pa, self.old_site)

    @property
    def aim_factor(self) -> float:
        """The aim over the rating: what altitude policy and pressure couple leave of it [-]."""
        return self.policy.factor * self.couple_factor

    @property
    def combustion_K(self) -> float:
        """Combustion temperature of every heating value in the result."""
        return self.target.reference.combustion_temperature_K


def conditions(gauge_pressure_Pa: float, site: Site) -> Conditions:
    """A supply pressure at a site."""
    return Conditions(
        gauge_pressure_Pa=gauge_pressure_Pa,
        ambient_pressure_Pa=site.ambient_pressure_Pa,
        gas_temperature_K=site.gas_temperature_K,
    )


def prepare(appliance: Appliance, target: ConversionTarget) -> Job:
    """Everything the burners share. Raises UserError for what cannot be used."""
    target.check()
    rates = [(burner.rate_W, f"burner {burner.name}, rate") for burner in appliance.burners]
    problems = [problem for rate_W, key in rates for problem in input_row("heat_input").problems(rate_W, key)]
    if problems:
        raise UserError(problems)
    new = _facts(target.gas, target.reference)
    limits, own = appliance.limits, appliance.tables
    old_site, new_site = present_site(appliance), target_site(appliance, target)
    policy = limits.altitude_policy if target.altitude_policy is None else target.altitude_policy
    row = match_pressure(
        target.gauge_pressure_Pa,
        new.families,
        target.category,
        own.supply_pressures,
        appliance.region,
        target.gas.name,
    )
    couple = target.couple or couple_of(row, own.supply_pressures)
    drills, words = _offered(appliance, target)
    job = Job(
        appliance=appliance,
        target=target,
        old=new if target.gas == appliance.supply.gas else _facts(appliance.supply.gas, target.reference),
        new=new,
        old_site=old_site,
        new_site=new_site,
        old_policy=present_policy(appliance),
        policy=_policy(policy, target.gas, target.gauge_pressure_Pa, new_site, own),
        tolerance=limits.tolerance if target.tolerance is None else target.tolerance,
        supply=row,
        pressures=pressure_range(appliance, target, row),
        drills=drills,
        drill_words=words,
        new_train=new_train(appliance, target, couple),
        couple=couple,
        reference=None
        if couple is None or row is couple.reference or _is_reference(target)
        else _on_reference(appliance, target, couple),
    )
    return replace(job, couple_factor=_couple_factor(job))


def _couple_factor(job: Job) -> float:
    """What the orifices of a couple's first gas leave of the rating on its second; 1 where they hold the band on it.

    EN 437 (memory) sizes an injector of 3B/P on G30 and one of 2E+ on G20; the other gas, at its own pressure,
    then gives what it gives: G31 in 3B/P 12 % less. A unit for it can give no more, and is held against that. A gas
    that gives more than the rating is held against the rating.
    """
    if job.reference is None:
        return 1.0
    first, second = (
        each.new.flowing.passing(each.new_conditions, each.combustion_K).heat_input_W(job.appliance.rating)
        for each in (job.reference, job)
    )
    return second / first if second / first < 1.0 + job.tolerance.low else 1.0


def _offered(appliance: Appliance, target: ConversionTarget) -> tuple[tuple[Drill, ...], str]:
    """The orifices to take from, and what they are called."""
    own = appliance.tables
    named = appliance.drills if target.drills is None else target.drills
    if target.stock:
        return target.stock, "stock of the plan"
    if own.stock is not None and target.drills is None:
        return stock_list(own.stock, own.drill_tolerance), f"stock {own.stock.name}"
    return drills_named(named), ", ".join(named)


def _is_reference(target: ConversionTarget) -> bool:
    """Whether the target is the gas that the orifices of a couple of its own are sized on."""
    if target.couple is None:
        return False
    reference = target.couple.reference
    is_same = same_pressure(reference.nominal_Pa, target.gauge_pressure_Pa)
    return is_same and target.gas == target.couple.gas_of(reference)


def _facts(gas: AnyGas, reference: ReferenceState) -> GasFacts:
    """The figures of a gas, remembered; the states it passes through are those of one job."""
    found = REMEMBERED.recall(InputKey(facts, gas_key(gas), reference), lambda: facts(gas, reference))
    return replace(found, flowing=GasStates(gas))


def _on_reference(appliance: Appliance, target: ConversionTarget, couple: PressureCouple) -> Job:
    """The job on the gas that the injector of a couple is sized on."""
    row = couple.reference
    return prepare(
        appliance,
        replace(
            target,
            gas=couple.gas_of(row),
            gauge_pressure_Pa=row.nominal_Pa,
            low_gauge_pressure_Pa=None,
            high_gauge_pressure_Pa=None,
            category=couple.category if target.couple is None else target.category,
        ),
    )


def second_target(job: Job) -> ConversionTarget | None:
    """The other gas of the pressure couple that the job sizes on its first; None without one."""
    if job.couple is None or job.reference is not None:
        return None
    row, couple = job.couple.other, job.target.couple
    try:
        gas = job.couple.gas_of(row)
    except UserError:  # of an own table of pressures whose gas the library has not
        return None
    return replace(
        job.target,
        gas=gas,
        gauge_pressure_Pa=row.nominal_Pa,
        low_gauge_pressure_Pa=None,
        high_gauge_pressure_Pa=None,
        category=job.couple.category if couple is None else job.target.category,
    )


def present_policy(appliance: Appliance) -> PolicyFactor:
    """The altitude policy of an appliance where it stands now."""
    supply = appliance.supply
    named, own = appliance.limits.altitude_policy, appliance.tables
    return _policy(named, supply.gas, supply.gauge_pressure_Pa, present_site(appliance), own)


def _policy(
    named: str | None, gas: AnyGas, gauge_pressure_Pa: float, site: Site, own: OwnTables
) -> PolicyFactor:
    """The policy named; without one the bore for sea level, so that altitude alone enlarges none."""
    height = site.pressure_altitude_m
    if named is not None:
        return policy_factor(named, height, own.altitude_policies)
    factor = sea_level_bore_factor(gas, gauge_pressure_Pa, site.ambient_pressure_Pa, site.gas_temperature_K)
    return no_policy(height, float(factor))


@lru_cache(maxsize=64)
def drills_named(named: tuple[str, ...]) -> tuple[Drill, ...]:
    """Drills of the series and of the single sizes in a list such as ("number", "1.45 mm").

    >>> len(drills_named(("number",))), [drill.name for drill in drills_named(("1.45 mm", "#54"))]
    (80, ['#54', '1.45 mm'])
    """
    series = [name for name in named if name in SERIES]
    single = [name for name in named if name not in SERIES]
    return drill_list(*series, own=single or None)


def pressure_range(
    appliance: Appliance, target: ConversionTarget, row: SupplyPressure | None
) -> PressureRange:
    """Lowest and highest supply pressure of the new gas, and their source.

    The file's own range is of the present gas: it counts only while gas and pressure stay the same.
    """
    supply = appliance.supply
    low, high = target.low_gauge_pressure_Pa, target.high_gauge_pressure_Pa
    entered = low is not None or high is not None
    is_same = same_pressure(target.gauge_pressure_Pa, supply.gauge_pressure_Pa)
    if not entered and is_same and target.gas == supply.gas:
        low, high = supply.low_gauge_pressure_Pa, supply.high_gauge_pressure_Pa
    source = "entered by the user" if entered else "the project file" if (low or high) else ""
    if row is None or (low is not None and high is not None):
        return PressureRange(low_Pa=low, high_Pa=high, source=source, evidence=Evidence.ENTERED)
    return PressureRange(
        low_Pa=row.low_Pa if low is None else low,
        high_Pa=row.high_Pa if high is None else high,
        source=f"one end {source}, the other {row.source}" if source else row.source,
        evidence=row.evidence,
    )
