"""What a conversion found: frozen results that carry their inputs, so that no report recomputes anything."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from burnerlab.quantity.kind import Kind
from burnerlab.quantity.summary import Summary, WithSummary, figure, percent
from burnerlab.tables.cautions import SPECIAL_GAS, closing_cautions
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.verdict import Verdict, worst

if TYPE_CHECKING:
    from burnerlab.appliance.burner_kind import BurnerKind
    from burnerlab.appliance.evaluated import Evaluation
    from burnerlab.appliance.gasfacts import GasUsed
    from burnerlab.appliance.job import Job
    from burnerlab.appliance.model import Burner
    from burnerlab.orifice.discharge import Discharge
    from burnerlab.orifice.flow import OrificeFlow
    from burnerlab.orifice.size import OrificeChoice, SizedOrifice

Case = Literal["nominal pressure", "all on", "alone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One check: a value, the range it is held against, and what the value rests on.

    ``evidence`` is the weakest figure behind the value and behind a range that is not the user's own; "" where
    nothing was evaluated.
    """

    topic: str
    verdict: Verdict
    text: str
    burner: str = ""
    value: float | None = None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    source: str = ""
    evidence: Evidence | Literal[""] = ""
    value_low: float | None = None  # the ends of the value's own interval, where it states one
    value_high: float | None = None
    which: Literal["", "present", "new"] = ""  # of the two gases, where a check is made on both


@dataclass(frozen=True, slots=True, kw_only=True)
class NotEvaluated:
    """A question this conversion did not answer, and what an answer would need."""

    topic: str
    why: str
    burner: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillChoice:
    """A drill that could make the orifice, and what it would give at the nominal pressure of the new gas."""

    drill: str
    diameter_m: float
    heat_input_gross_W: float
    heat_input_net_W: float
    deviation: float  # of the heat input from the rating [-]
    low_W: float  # gross heat input at the small end of the drill's tolerance band
    high_W: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """What one burner, or all together, will burn against the aim: the worse of the cases its supply leads to.

    ``verdict`` is over the whole interval as made. It is not evaluated where the file describes a supply that has not
    been solved: see ``evaluate_conversion``.
    """

    case: Case
    heat_input_gross_W: float
    deviation: float  # from the aim: the rating after the altitude policy [-]
    low: float | None  # ends of the deviation as made: drill and coefficient, k = 2 [-]
    high: float | None  # None where the coefficient states no interval
    verdict: Verdict
    evidence: Evidence
    all_on: float | None = None  # deviation with every burner on [-]; None where no supply is solved
    alone: float | None = None  # with this burner alone [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerConversion:
    """One kind of burner before and after: heat inputs are for one burner of the kind."""

    name: str
    kind: BurnerKind
    count: int
    rate_gross_W: float  # the rating; on the basis the file does not use, by the new gas's net over gross
    rate_net_W: float
    turndown: float | None  # smallest over full rate [-], None when the file gives none
    coefficient: float
    coefficient_source: str
    from_orifice_m: float
    from_drill: str  # as the file gives it, "" when it is a bare diameter
    from_predicted_gross_W: float  # with the present orifice, gas and pressure
    to_orifice_m: float  # exact
    choice: DrillChoice  # the drill taken
    choices: tuple[DrillChoice, ...]  # nearest below and above, and close runners-up, by diameter
    no_drill_meets: str  # "" or the sentence that says which step no drill of the list can meet
    diameter_ratio: float
    area_ratio: float
    predicted_gross_W: float  # with the drill taken, at the nominal pressure
    predicted_net_W: float
    predicted_low_W: (
        float | None
    )  # gross, at the minimum supply pressure of the target gas; None when unknown
    predicted_high_W: float | None  # gross, at the maximum
    drill_deviation: float  # of predicted_gross_W from the aim: the rating after the altitude policy [-]
    headline: Headline
    # the six air figures are None when either gas is declared without a composition
    from_air_m3_per_s: float | None  # stoichiometric dry air at the reference state, present gas at rate
    to_air_m3_per_s: float | None  # new gas with the drill taken
    from_air_kg_per_s: float | None
    to_air_kg_per_s: float | None
    air_to_gas_ratio_change: float | None  # stoichiometric air per volume of gas, new over old [-]
    primary_air_change: float | None  # primary aeration old over new, shutter untouched, see aeration.py [-]
    mass_flow_kg_per_s: float
    volume_flow_m3_per_s: float  # at the reference state; every burner on, where a supply is solved
    choked: bool
    aim_gross_W: float  # the rating times the altitude policy's factor: what the orifice is sized for
    from_rate_gross_W: float  # the rating on the gross basis of the present gas
    orifice_count: int = 1  # equal orifices that feed one burner together
    primary_aeration_after: float | None = None  # where the present aeration goes, shutter untouched [-]
    primary_aeration_before: float | None = (
        None  # calculated from throat and ports; None where it is assumed [-]
    )

    @property
    def taken_area_ratio(self) -> float:
        """Area of the drill taken over that of the present orifice [-]; ``area_ratio`` is of the exact bore."""
        return (self.choice.diameter_m / self.from_orifice_m) ** 2

    @property
    def deviation(self) -> float:
        """Of what this burner will burn from its aim [-]."""
        return self.headline.deviation

    @property
    def low_rate_gross_W(self) -> float | None:
        """The low rate as rated [W], on the new gas; None when the file gives none."""
        return None if self.turndown is None else self.turndown * self.rate_gross_W


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One burner changed, with the flows behind its figures."""

    burner: Burner
    discharge: Discharge  # of the new orifice
    old_flow: OrificeFlow
    sized: SizedOrifice
    choice: OrificeChoice
    result: BurnerConversion


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyBore:
    """The bore of one burner under an altitude policy."""

    burner: str
    diameter_m: float  # exact
    drill: str
    drill_diameter_m: float
    deviation: float  # of the heat input from the aim, the rating times the factor of the policy [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyRow:
    """What an altitude policy asks for at the place: the factor and a bore for every burner."""

    policy: str  # "" is the bore for sea level
    title: str
    factor: float | None  # on the rating [-]; None where the policy says nothing at this altitude
    why: str  # it says nothing
    source: str
    bores: tuple[PolicyBore, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Altitude:
    """The bores for sea level beside those of each policy, or of the policy chosen."""

    altitude_m: float
    policy: str | None  # None: not chosen
    sea_level: PolicyRow
    rows: tuple[PolicyRow, ...]

    def changes(self) -> tuple[tuple[PolicyBore, PolicyBore], ...]:
        """Of the policy chosen: each burner's bore for sea level and its bore here; empty when none is chosen."""
        if self.policy is None:
            return ()
        return tuple(zip(self.sea_level.bores, self.rows[0].bores, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupleInput:
    """What one burner burns of both gases of a pressure couple through its one orifice."""

    burner: str
    reference_gross_W: float
    reference_deviation: float  # from the rating after the altitude policy [-]
    other_gross_W: float
    other_deviation: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Couple:
    """A pressure couple: one orifice for two gases, sized on the reference gas and not enlarged for the other."""

    nominal: str  # such as 28-30/37, in mbar
    category: str
    reference_gas: str
    reference_pressure_Pa: float
    other_gas: str
    other_pressure_Pa: float
    reference_net_to_gross: float  # net over gross heating value of each gas [-]
    other_net_to_gross: float
    inputs: tuple[CoupleInput, ...]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Conversion(WithSummary):
    """An appliance changed from one gas to another."""

    appliance: str
    rating_basis: str  # gross or net, as the file rates
    file: str
    file_sha256: str
    version: str
    reference: str  # the reference state in words, and every volume in this result is at it
    from_gas: GasUsed
    to_gas: GasUsed
    from_pressure_Pa: float  # gauge at the manifold
    to_pressure_Pa: float
    to_pressure_low_Pa: float | None  # None when no range is known for this gas and pressure
    to_pressure_high_Pa: float | None
    pressure_range_source: str
    altitude_m: float | None
    ambient_pressure_Pa: float
    gas_temperature_K: float
    altitude_policy: str | None  # None: not chosen
    altitude_policy_factor: float  # on the rating [-]
    tolerance: float  # band for the heat input [-]
    tolerance_source: str
    drill_list: str
    burners: tuple[BurnerConversion, ...]
    headline: Headline  # of all burners together
    total_rate_gross_W: float
    total_predicted_gross_W: float  # at the nominal pressure
    total_predicted_net_W: float
    total_mass_flow_kg_per_s: float
    total_volume_flow_m3_per_s: float
    findings: tuple[Finding, ...]
    not_evaluated: tuple[NotEvaluated, ...]
    prompts: tuple[str, ...]  # what else must change or be looked at
    worked: tuple[
        tuple[str, str, str], ...
    ]  # what, formula, the same with the numbers put in; for one burner
    sources: tuple[str, ...]  # cited in this result, one line each
    notes: tuple[str, ...] = field(default=())
    tolerance_low: float = -0.05  # the lower end of the band; ``tolerance`` is the upper
    from_altitude_m: float | None = None
    from_ambient_pressure_Pa: float = 101_325.0
    new_train: str = ""  # which train serves the new gas, in words; "" where none is described
    category: str = ""  # supply-pressure row the new gas and pressure belong to, such as 3P or LP
    model: str = ""  # the maker's model, as the file gives it
    region: str = ""  # us, eu, or "" when the file gives none
    couple: Couple | None = None  # the pressure couple the new gas belongs to
    couples_beside: tuple[str, ...] = ()  # couples the new gas is sold in too, where no category names one
    altitude: Altitude | None = None  # what altitude and its policies do; None where it does nothing
    assumed_primary_aeration: float = 0.0  # present share of the air drawn in by the jet, see aeration.py [-]
    evaluation: Evaluation | None = (
        None  # see ``evaluate_conversion``; None: only the orifices are worked out
    )
    job: Job | None = field(default=None, repr=False, compare=False)  # what this is the conversion of
    steps: tuple[Step, ...] = field(default=(), repr=False, compare=False)  # its burners

    def summary(self) -> Summary:
        old, new = (figure(p, Kind.GAUGE_PRESSURE) for p in (self.from_pressure_Pa, self.to_pressure_Pa))
        change = f"{self.from_gas.name} at {old} to {self.to_gas.name} at {new}"
        table = (
            ("burner", "now", "drill", "heat input gross", "from the aim", "verdict"),
            *(
                (
                    b.name,
                    b.from_drill or figure(b.from_orifice_m, Kind.DIAMETER),
                    b.choice.drill,
                    figure(b.headline.heat_input_gross_W, Kind.POWER),
                    percent(b.headline.deviation),
                    b.headline.verdict,
                )
                for b in self.burners
            ),
        )
        verdict = worst(b.headline.verdict for b in self.burners)
        checks = dict.fromkeys(f.topic for f in self.findings if f.verdict == Verdict.OUTSIDE)
        outside = f"; OUTSIDE: {', '.join(checks)}" if checks else ""
        special = (SPECIAL_GAS,) if self.from_gas.is_special or self.to_gas.is_special else ()
        lines = tuple(one.line for one in closing_cautions("convert", *special))
        return Summary(
            f"{self.appliance}: {change}, {len(self.burners)} kinds of burner, worst verdict {verdict}{outside}",
            table,
            lines,
        )

    @property
    def all_on_over_nominal(self) -> float:
        """Heat input of all burners together as supplied over that at the nominal pressure [-]."""
        return self.headline.heat_input_gross_W / self.total_predicted_gross_W
