"""What burners burn against their rating with the orifices they have, the dangerous ones first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from burnerlab.appliance.conversion.headline import (
    Share,
    UnitSpread,
    drill_band,
    in_percent,
    total_spread,
    unit_spread,
)
from burnerlab.appliance.conversion.job import present_policy
from burnerlab.appliance.model import Appliance, Burner, Tolerance
from burnerlab.appliance.result import Finding
from burnerlab.appliance.steps import discharge_of, law_of
from burnerlab.appliance.verdict import check, judge, judge_interval
from burnerlab.orifice.discharge import Discharge
from burnerlab.orifice.flow import Conditions, flow
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.verdict import Verdict

HEAT_INPUT = "heat input"
EVERY = ""  # burner of the input of all burners that are on
TOGETHER, ALONE, NOMINAL = "", "alone", "at the nominal pressure"


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedInput:
    """The heat input of one burner, or of all that are on, against its aim: the rating after the altitude policy."""

    burner: str = field(metadata=output("burner"))
    """"" all that are on."""
    case: str = field(metadata=output("case"))
    """"" with the others that are on, "alone", "at the nominal pressure"."""
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    aim_gross_W: float = field(metadata=output("aim", Kind.POWER, basis="gross"))
    deviation: float = field(metadata=output("deviation", Kind.FRACTION, is_change=True))
    verdict: Verdict = field(metadata=output("verdict"))

    @property
    @computed_output("possible overfire")
    def possible_overfire(self) -> bool:
        """Whether it lies above its band."""
        return self.verdict == Verdict.OUTSIDE and self.deviation > 0.0

    def words(self) -> str:
        """Burner, deviation and verdict.

        >>> RatedInput(burner="ring", case="alone", heat_input_gross_W=18e3, aim_gross_W=10e3, deviation=0.8,
        ...            verdict=Verdict.OUTSIDE).words()
        'ring alone +80.0 %: OUTSIDE; possible overfire'
        """
        who = " ".join(filter(None, (self.burner, self.case)))
        danger = "; possible overfire" if self.possible_overfire else ""
        return f"{who} {100 * self.deviation:+.1f} %: {self.verdict.emphatic}{danger}".strip()


def rated_input(
    burner: str, case: str, heat_and_aim_W: tuple[float, float], spread: UnitSpread | None, band: Tolerance
) -> RatedInput:
    """One input judged over its whole interval as made, or by its value where the coefficient states none."""
    heat, aim = heat_and_aim_W
    deviation = heat / aim - 1.0
    ends = None if spread is None else spread.around(deviation)
    verdict = (
        judge(deviation, band.low, band.high)
        if ends is None
        else judge_interval(deviation, ends, band.low, band.high)
    )
    return RatedInput(
        burner=burner, case=case, heat_input_gross_W=heat, aim_gross_W=aim, deviation=deviation, verdict=verdict
    )  # fmt: skip


def rated_together(
    appliance: Appliance, heats_W: Sequence[tuple[Burner, float, Discharge]]
) -> tuple[RatedInput, ...]:
    """All burners of a list together, then each: with its gross heat input [W] and the coefficient it was solved with.

    heats_W : of one burner of the kind
    """
    band = appliance.limits.tolerance
    shares = [
        Share(
            heat_input_W=heat * burner.count,
            count=burner.count,
            discharge=used,
            drill=drill_band(burner.orifice, appliance.tables),
            diameter_m=burner.orifice.diameter_m,
        )
        for burner, heat, used in heats_W
    ]
    whole = sum(share.heat_input_W for share in shares)
    aim = sum(aim_gross_W(appliance, burner) * burner.count for burner, _, _ in heats_W)
    each = (rated_burner(appliance, burner, TOGETHER, heat, used) for burner, heat, used in heats_W)
    return rated_input(EVERY, TOGETHER, (whole, aim), total_spread(shares), band), *each


def rated_burner(
    appliance: Appliance, burner: Burner, case: str, heat_W: float, used: Discharge
) -> RatedInput:
    """One burner of a kind, its gross heat input [W] in a case and the coefficient it was solved with."""
    spread = unit_spread(used, drill_band(burner.orifice, appliance.tables), burner.orifice.diameter_m)
    both = heat_W, aim_gross_W(appliance, burner)
    return rated_input(burner.name, case, both, spread, appliance.limits.tolerance)


def aim_gross_W(appliance: Appliance, burner: Burner) -> float:
    """The rating of one burner after the altitude policy, gross on the appliance's gas."""
    gas = appliance.supply.gas
    gross = gas.heating_value_J_per_kg("gross") / gas.heating_value_J_per_kg(appliance.rating)
    return burner.rate_W * float(gross) * present_policy(appliance).factor


def nominal_inputs(appliance: Appliance, names: Sequence[str]) -> Iterator[tuple[RatedInput, Finding]]:
    """What the orifice of each burner named gives at the nominal pressure, with its finding."""
    supply, band = appliance.supply, appliance.limits.tolerance
    at = Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )
    for burner in appliance.burners:
        if burner.name not in names:
            continue
        orifice = burner.orifice
        stream = flow(supply.gas, orifice.diameter_m, at, law_of(orifice, appliance.tables), orifice.count)
        used = discharge_of(orifice, stream, None, appliance.tables)
        found = rated_burner(appliance, burner, NOMINAL, stream.heat_input_gross_W, used)
        spread = unit_spread(used, drill_band(orifice, appliance.tables), orifice.diameter_m)
        danger = ": possible overfire" if found.possible_overfire else ""
        yield (
            found,
            check(
                HEAT_INPUT,
                100 * found.deviation,
                100 * band.low,
                100 * band.high,
                ends=None if spread is None else in_percent(spread.around(found.deviation)),
                burner=burner.name,
                unit="%",
                source=band.source,
                evidence=used.evidence,
                text=f"{found.heat_input_gross_W / 1e3:.3g} kW gross against {found.aim_gross_W / 1e3:.3g} kW,"
                f" {100 * found.deviation:+.1f} % at the nominal pressure{danger}",
            ),
        )


def worst_first(inputs: Sequence[RatedInput]) -> tuple[RatedInput, ...]:
    """Burners above their band first, the farthest before all; then those below it; then near and within."""
    return tuple(
        sorted(
            (one for one in inputs if one.burner != EVERY),
            key=lambda one: (not one.possible_overfire, one.verdict.rank, -abs(one.deviation)),
        )
    )


def worst_words(inputs: Sequence[RatedInput]) -> tuple[tuple[str, str], ...]:
    """The worst burner in words; where it overfires and another burns less than its band, that one too."""
    ranked = worst_first(inputs)
    low = [one for one in ranked if one.verdict == Verdict.OUTSIDE and one.deviation < 0.0]
    beside = low[:1] if ranked[0].possible_overfire else []
    return ("worst burner", ranked[0].words()), *(("lowest burner", one.words()) for one in beside)


def overfire_lines(inputs: Sequence[RatedInput], gas: str, gauge_pressure_Pa: float) -> tuple[str, ...]:
    """The warning above an answer whose burners overfire; empty where none does."""
    over = [one for one in worst_first(inputs) if one.possible_overfire]
    if not over:
        return ()
    names = list(dict.fromkeys(one.burner for one in over))
    case = f" {over[0].case}" if over[0].case else ""
    more = f", {len(names) - 1} more above their band" if len(names) > 1 else ""
    return (
        f"WARNING: Possible overfire: {names[0]}{case} {100 * over[0].deviation:+.0f} % off its rating{more}.",
        f"WARNING: Do not burn {gas} at {gauge_pressure_Pa / 1e3:.4g} kPa through these orifices.",
    )
