"""Results of a conversion: frozen, with their inputs, so that no report recomputes anything."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

from burnerlab.appliance.conversion.evaluation_result import Evaluation
from burnerlab.appliance.conversion.gas_facts import GasUsed
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.project.burner_kind import BurnerKind
from burnerlab.appliance.project.model import NOT_GIVEN, Burner
from burnerlab.orifice.altitude import FULL_RATING, THIN_AIR, height_words
from burnerlab.orifice.discharge_coefficient import Discharge
from burnerlab.orifice.drill import none_fits_words
from burnerlab.orifice.flow import OrificeFlow
from burnerlab.orifice.size import OrificeChoice, SizedOrifice
from burnerlab.quantity import is_low_pressure
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure, percent
from burnerlab.quantity.units import Kind
from burnerlab.tables import figure as table_figure
from burnerlab.tables.cautions import HIGH_PRESSURE, LACK_OF_AIR, SPECIAL_GAS, closing_cautions
from burnerlab.tables.figure import Evidence
from burnerlab.tables.handbook_link import handbook_of
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.verdict import Verdict, worst

# What a conversion found: frozen results that carry their inputs, so that no report recomputes anything.

Case = Literal["nominal pressure", "all on", "alone", "all of its kind on"]


OF_HEAT = (
    "heat input",
    "present heat input",
)  # topics of the heat input of a burner, whose verdict its row has
TILE_AERATION = "tile: aeration"  # how the topics of a tile's air begin
PRESENT_HEAT_INPUT = "present heat input"
PRESENT_INPUTS = ("heat input in operation", PRESENT_HEAT_INPUT)  # topics of the present gas that name none
STEPS_TO_END = 4  # halves of a standard error from a margin to the end of its band, k = 2
LIFT, SHUTTER, ROUGH_AIR, DRILL_SPREAD = "lift", "air shutter", "primary air", "drill tolerance"
UNDECIDED = "do not fit yet"  # an orifice that what is not looked at may refuse
UNSOLVED = "supply not solved"
FIRST_GAS = "first gas of its couple not looked at"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One check: a value, the range it is compared with, and what the value rests on.

    ``evidence`` is the weakest figure behind the value and behind a range that is not the user's own; "" where
    nothing was evaluated.
    """

    topic: str = field(metadata=output("check"))
    verdict: Verdict = field(metadata=output("verdict"))
    text: str = field(metadata=output("finding"))
    burner: str = field(default="", metadata=output("burner"))
    value: float | None = field(default=None, metadata=output("value"))
    unit: str = field(default="", metadata=output("unit"))
    low: float | None = field(default=None, metadata=output("low end of the range"))
    high: float | None = field(default=None, metadata=output("high end of the range"))
    source: str = field(default="", metadata=output("range from"))
    evidence: Evidence | Literal[""] = field(default="", metadata=output("evidence"))
    # the ends of the value's own interval, where it states one
    value_low: float | None = field(default=None, metadata=output("low end of the value"))
    value_high: float | None = field(default=None, metadata=output("high end of the value"))
    # of the two gases, where a check is made on both
    which_gas: Literal["", "present", "new"] = field(default="", metadata=output("gas"))

    @property
    @computed_output("explained in the handbook")
    def handbook(self) -> str:
        """Page and heading of the handbook that explain the check."""
        return handbook_of(self.topic)

    @property
    def is_of_present_gas(self) -> bool:
        """Whether it is a check of the appliance on the gas it has now, which a conversion takes out.

        >>> Finding(topic="lift", verdict=Verdict.OUTSIDE, text="", which_gas="present").is_of_present_gas
        True
        """
        return self.which_gas == "present" or self.topic in PRESENT_INPUTS

    @property
    def test_decides(self) -> bool:
        """Whether it is outside by a figure that leaves it open, and flame test or meter show it at once when lit.

        Lift within half a standard error of its limit, of a band of two to either side; the change of an assumed
        primary air; the small end of a drill's tolerance, which gives too little heat. Never light-back, yellow tips,
        a tile or too much heat: what hurts before a test shows it is decided by an engineer first.

        >>> from dataclasses import replace
        >>> flame = Finding(topic="lift", verdict=Verdict.OUTSIDE, text="", value=0.97, low=1.0)
        >>> flame.test_decides, replace(flame, value_low=0.17, value_high=5.0).test_decides
        (False, True)
        >>> replace(flame, value=0.5, value_low=0.1, value_high=3.0).test_decides  # it rather lifts
        False
        """
        if self.verdict is not Verdict.OUTSIDE or self.value is None:
            return False
        if self.topic.split(" at ")[0] == LIFT:
            if self.value <= 0.0 or self.value_high is None or self.low is None:
                return False
            return (self.low / self.value) ** STEPS_TO_END <= self.value_high / self.value
        if self.topic == DRILL_SPREAD:
            return self.low is not None and self.value < self.low
        return self.topic == ROUGH_AIR

    @property
    def is_set_on_the_card(self) -> bool:
        """Whether it is outside as the shutter stands now alone: the card names the opening to start from."""
        return self.topic == SHUTTER and self.verdict is Verdict.OUTSIDE and self.low is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotEvaluated:
    """A question this conversion did not answer, and what an answer would need."""

    topic: str = field(metadata=output("question"))
    why: str = field(metadata=output("why, and what an answer needs"))
    burner: str = field(default="", metadata=output("burner"))

    @property
    @computed_output("explained in the handbook")
    def handbook(self) -> str:
        """Page and heading of the handbook that explain the question."""
        return handbook_of(self.topic)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillChoice:
    """A drill that could make the orifice, and what it would give at the nominal pressure of the new gas."""

    drill: str = field(metadata=output("drill"))
    diameter_m: float = field(metadata=output("diameter", Kind.DIAMETER))
    heat_input_gross_W: float = field(metadata=output("at nominal pressure", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("at nominal pressure", Kind.POWER, basis="net"))
    # of the heat input from the aim [-]
    deviation: float = field(metadata=output("against aim", Kind.FRACTION, is_change=True))
    drill_tolerance_low_gross_W: float = field(
        metadata=output("small end of the drill's tolerance", Kind.POWER, basis="gross")
    )
    drill_tolerance_high_gross_W: float = field(
        metadata=output("large end of the drill's tolerance", Kind.POWER, basis="gross")
    )
    part: str = field(default="", metadata=output("part number"))  # of the user's own stock

    @property
    def mark(self) -> str:
        """The drill and, of an orifice from a stock, its part number."""
        return f"{self.drill} ({self.part})" if self.part else self.drill


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """What one burner, or all together, will burn against the aim: the worse of the cases its supply leads to.

    ``verdict`` is over the whole interval as made. It is not evaluated where the file describes a supply that has not
    been solved: see ``evaluate_conversion``.
    """

    deviation_case: Case = field(metadata=output("worse case"))
    heat_input_gross_W: float = field(
        metadata=output("heat input, worse of all on and its kind on", Kind.POWER, basis="gross")
    )
    # from the aim: the rating after the altitude policy [-]
    deviation: float = field(
        metadata=output("deviation, the worse, against aim", Kind.FRACTION, is_change=True)
    )
    # ends of the deviation as made: drill and coefficient, k = 2 [-]; None where the coefficient states no interval
    deviation_low: float | None = field(metadata=output("as made, low end", Kind.FRACTION, is_change=True))
    deviation_high: float | None = field(metadata=output("as made, high end", Kind.FRACTION, is_change=True))
    verdict: Verdict = field(metadata=output("verdict"))
    evidence: Evidence = field(metadata=output("evidence"))
    # with every burner on [-], and with all of its kind on, the others off; None where no supply is solved
    deviation_all_on: float | None = field(
        default=None, metadata=output("all on, against aim", Kind.FRACTION, is_change=True)
    )
    deviation_alone: float | None = field(
        default=None, metadata=output("its kind on, against aim", Kind.FRACTION, is_change=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerConversion:
    """One kind of burner before and after: heat inputs are for one burner of the kind."""

    name: str = field(metadata=output("burner"))
    kind: BurnerKind = field(metadata=output("kind"))
    count: int = field(metadata=output("count"))
    # the rating; on the basis the file does not use, by the new gas's net over gross
    rate_gross_W: float = field(metadata=output("rating", Kind.POWER, basis="gross"))
    rate_net_W: float = field(metadata=output("rating", Kind.POWER, basis="net"))
    # smallest over full rate [-], None when the file gives none
    turndown: float | None = field(metadata=output("turndown", Kind.FRACTION))
    coefficient: float = field(metadata=output("discharge coefficient"))
    coefficient_source: str = field(metadata=output("coefficient from"))
    # this and what rests on it: None where the file gives no orifice
    from_orifice_m: float | None = field(metadata=output("present orifice", Kind.DIAMETER))
    from_drill: str = field(metadata=output("present drill"))  # as the file gives it, "" when a bare diameter
    # with the present orifice, gas and pressure
    from_predicted_gross_W: float | None = field(
        metadata=output("at nominal pressure, present", Kind.POWER, basis="gross")
    )
    to_orifice_m: float = field(metadata=output("new orifice, exact", Kind.DIAMETER))
    choice: DrillChoice  # the drill taken, one of ``choices``
    # nearest below and above, and close runners-up, by diameter
    choices: tuple[DrillChoice, ...] = field(metadata=output("drills near the exact diameter"))
    # "" or the sentence that says which step no drill of the list can meet
    no_drill_meets: str = field(metadata=output("no drill meets"))
    exact_diameter_ratio: float | None = field(metadata=output("diameter, exact / present"))
    exact_area_ratio: float | None = field(metadata=output("area, exact / present"))
    # with the drill taken, at the nominal pressure
    predicted_gross_W: float = field(metadata=output("at nominal pressure, new", Kind.POWER, basis="gross"))
    predicted_net_W: float = field(metadata=output("at nominal pressure, new", Kind.POWER, basis="net"))
    # at the ends of the supply pressure of the target gas; None when unknown
    predicted_low_gross_W: float | None = field(
        metadata=output("at lowest pressure", Kind.POWER, basis="gross")
    )
    predicted_high_gross_W: float | None = field(
        metadata=output("at highest pressure", Kind.POWER, basis="gross")
    )
    # of predicted_gross_W from the aim: the rating after the altitude policy [-]
    drill_deviation: float = field(
        metadata=output("drill at the nominal pressure, against aim", Kind.FRACTION, is_change=True)
    )
    headline: Headline = field(metadata=output("what it will burn", is_part=True))
    # the six air figures are None when either gas is declared without a composition
    # stoichiometric dry air at the reference state, present gas at rate
    from_air_m3_per_s: float | None = field(metadata=output("air, present gas", Kind.REFERENCE_VOLUME_FLOW))
    # new gas with the drill taken
    to_air_m3_per_s: float | None = field(metadata=output("air, new gas", Kind.REFERENCE_VOLUME_FLOW))
    from_air_kg_per_s: float | None = field(metadata=output("air, present gas, by mass", Kind.MASS_FLOW))
    to_air_kg_per_s: float | None = field(metadata=output("air, new gas, by mass", Kind.MASS_FLOW))
    # stoichiometric air per volume of gas, new over old [-]
    air_to_gas_ratio_change: float | None = field(metadata=output("air per gas volume, new / present"))
    # primary aeration new over present, shutter untouched [-]; `aeration_after` says how
    primary_air_change: float | None = field(metadata=output("primary aeration, new / present"))
    mass_flow_kg_per_s: float = field(metadata=output("gas of one burner, by mass", Kind.MASS_FLOW))
    # at the reference state; every burner on, where a supply is solved
    volume_flow_m3_per_s: float = field(
        metadata=output("gas of one burner, by volume", Kind.REFERENCE_VOLUME_FLOW)
    )
    choked: bool = field(metadata=output("choked"))
    # the rating times the altitude policy's factor: what the orifice is sized for
    aim_gross_W: float = field(metadata=output("aim after the altitude rule", Kind.POWER, basis="gross"))
    # the rating on the gross basis of the present gas
    from_rate_gross_W: float = field(metadata=output("rating on the present gas", Kind.POWER, basis="gross"))
    # equal orifices that feed one burner together
    orifice_count: int = field(default=1, metadata=output("orifices of one burner"))
    # where the present aeration goes, shutter untouched [-]
    primary_aeration_after: float | None = field(
        default=None, metadata=output("primary aeration after, shutter untouched", Kind.FRACTION)
    )
    # calculated from throat and ports; None where it is assumed [-]
    primary_aeration_before: float | None = field(
        default=None, metadata=output("primary aeration before", Kind.FRACTION)
    )

    @property
    def stays(self) -> bool:
        """Whether the present orifice is the new one."""
        return self.choice.diameter_m == self.from_orifice_m

    @property
    @computed_output("drill taken")
    def drill(self) -> str:
        """The drill taken."""
        return self.choice.drill

    @property
    @computed_output("part number")
    def part(self) -> str:
        """Part number of the orifice taken from the user's own stock, "" without a stock."""
        return self.choice.part

    @property
    @computed_output("drill diameter", Kind.DIAMETER)
    def drill_diameter_m(self) -> float:
        """Diameter of the drill taken [m]."""
        return self.choice.diameter_m

    @property
    @computed_output("diameter, new / present")
    def diameter_ratio(self) -> float | None:
        """Diameter of the drill taken over that of the present orifice [-]; None where the file gives none."""
        return None if self.from_orifice_m is None else self.choice.diameter_m / self.from_orifice_m

    @property
    @computed_output("area, new / present")
    def area_ratio(self) -> float | None:
        """Area of the drill taken over that of the present orifice [-]; None where the file gives none."""
        return None if self.diameter_ratio is None else self.diameter_ratio**2

    @property
    @computed_output("at nominal pressure, exact diameter", Kind.POWER, basis="gross")
    def exact_predicted_gross_W(self) -> float:
        """Heat input of the exact orifice at the nominal pressure [W]."""
        return self.predicted_gross_W * (self.to_orifice_m / self.choice.diameter_m) ** 2

    @property
    @computed_output("at nominal pressure, all of the kind", Kind.POWER, basis="gross")
    def all_predicted_gross_W(self) -> float:
        """Heat input of every burner of the kind at the nominal pressure [W]."""
        return self.count * self.predicted_gross_W

    @property
    def deviation(self) -> float:
        """Of what this burner will burn from its aim [-]."""
        return self.headline.deviation

    @property
    @computed_output("low rate", Kind.POWER, basis="gross")
    def low_rate_gross_W(self) -> float | None:
        """The low rate as rated [W], on the new gas; None when the file gives none."""
        return None if self.turndown is None else self.turndown * self.rate_gross_W


OF_FILE = Phrase("the project file")


def coefficients_of(burners: Iterable[BurnerConversion]) -> tuple[str, ...]:
    """The discharge coefficients of new orifices with what they rest on, each once."""
    return tuple(
        dict.fromkeys(
            Phrase(
                "Discharge coefficient {value}: {source}.",
                value=f"{one.coefficient:.2f}",
                source=OF_FILE if source == OF_FILE else source,
            )
            for one in burners
            for source in (one.coefficient_source.partition(": ")[2],)
        )
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One burner changed, with the flows behind its figures."""

    burner: Burner
    discharge: Discharge  # of the new orifice
    old_flow: OrificeFlow
    sized: SizedOrifice
    choice: OrificeChoice
    result: BurnerConversion
    nearest: OrificeChoice | None = None  # nearer to the aim, with which the supply leaves the band


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyBore:
    """The bore of one burner under an altitude policy."""

    burner: str = field(metadata=output("burner"))
    diameter_m: float = field(metadata=output("exact diameter", Kind.DIAMETER))
    drill: str = field(metadata=output("drill"))
    drill_diameter_m: float = field(metadata=output("drill diameter", Kind.DIAMETER))
    # of the heat input from the aim, the rating times the factor of the policy [-]
    deviation: float = field(metadata=output("against aim", Kind.FRACTION, is_change=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyRow:
    """What an altitude policy requires at the place: the factor and a bore for every burner."""

    policy: str = field(metadata=output("altitude policy"))  # "" is the bore for sea level
    title: str = field(metadata=output("title"))
    # on the rating [-]; None where the policy says nothing at this altitude
    factor: float | None = field(metadata=output("factor on the rating"))
    why: str = field(metadata=output("why it says nothing"))
    source: str = field(metadata=output("source"))
    bores: tuple[PolicyBore, ...] = field(metadata=output("bores"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Altitude:
    """The bores for sea level and those of each policy, or of the policy in force."""

    altitude_m: float = field(metadata=output("altitude", Kind.LENGTH, unit="m"))
    policy: str | None = field(metadata=output("policy chosen"))
    sea_level: PolicyRow = field(metadata=output("bores for sea level"))
    rows: tuple[PolicyRow, ...] = field(metadata=output("policies"))

    def changes(self) -> tuple[tuple[PolicyBore, PolicyBore], ...]:
        """Of the policy in force: each burner's bore for sea level and its bore here; empty without one."""
        if self.policy is None:
            return ()
        return tuple(zip(self.sea_level.bores, self.rows[0].bores, strict=True))

    @property
    def warning(self) -> str:
        """That bores for sea level stand where a rule lowers the rating, said before they are; "" elsewhere."""
        rules = [row.factor for row in self.rows if row.policy != FULL_RATING]
        if self.policy is not None or all(factor == 1.0 for factor in rules):
            return ""
        place, allowed = height_words(self.altitude_m), [factor for factor in rules if factor is not None]
        if not allowed:
            return Phrase(
                "No altitude rule chosen: before drilling, ask the authority having jurisdiction, as the rules known "
                "here give no figure for {place}.",
                place=place,
            )
        ends = dict.fromkeys(f"{100 * end:.1f}" for end in (min(allowed), max(allowed)))
        low, *high = ends
        return Phrase(
            "No altitude rule chosen: before drilling, choose that of the place, as these bores give {share} % of the "
            "rating at {place} and the rules known here allow {allowed} %.",
            share=f"{100 * (self.sea_level.factor or 1.0):.1f}",
            place=place,
            allowed=Phrase("{low} to {high}", low=low, high=high[0]) if high else low,
        )

    @property
    def only(self) -> str:
        """That bores by a rule are for this altitude, with what they give above the rating at sea level; else ""."""
        if self.policy is None:
            return ""
        place = height_words(self.altitude_m)
        more = (self.rows[0].factor or 1.0) / (self.sea_level.factor or 1.0) - 1.0
        if more < THIN_AIR:
            return Phrase("These orifices are for {altitude} only.", altitude=place)
        return Phrase(
            "These orifices are for {altitude} only: at sea level they overfire by about {share}.",
            altitude=place,
            share=f"{100 * more:.0f} %",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupleInput:
    """What one burner burns of both gases of a pressure couple through its one orifice."""

    burner: str = field(metadata=output("burner"))
    reference_gross_W: float = field(metadata=output("heat input, reference gas", Kind.POWER, basis="gross"))
    # from the rating after the altitude policy [-]
    reference_deviation: float = field(
        metadata=output("reference gas, against aim", Kind.FRACTION, is_change=True)
    )
    other_gross_W: float = field(metadata=output("heat input, other gas", Kind.POWER, basis="gross"))
    other_deviation: float = field(metadata=output("other gas, against aim", Kind.FRACTION, is_change=True))
    # the bores with which both gases lie in the band at their nominal pressures; None where no bore does
    low_bore_m: float | None = field(metadata=output("least bore for both gases", Kind.DIAMETER))
    high_bore_m: float | None = field(metadata=output("largest bore for both gases", Kind.DIAMETER))


@dataclass(frozen=True, slots=True, kw_only=True)
class Couple:
    """A pressure couple: one orifice for two gases, sized on the reference gas and not enlarged for the other."""

    nominal: str = field(metadata=output("pressures of the couple, mbar"))  # such as 28-30/37
    category: str = field(metadata=output("category"))
    reference_gas: str = field(metadata=output("reference gas"))
    reference_gauge_pressure_Pa: float = field(metadata=output("its pressure, gauge", Kind.GAUGE_PRESSURE))
    other_gas: str = field(metadata=output("other gas"))
    other_gauge_pressure_Pa: float = field(
        metadata=output("pressure of the other, gauge", Kind.GAUGE_PRESSURE)
    )
    reference_net_to_gross: float = field(metadata=output("net over gross, reference gas"))
    other_net_to_gross: float = field(metadata=output("net over gross, other gas"))
    inputs: tuple[CoupleInput, ...] = field(metadata=output("heat inputs"))
    source: str = field(metadata=output("source"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkedStep:
    """One step of the calculation: what, its formula, and the same with the numbers put in."""

    what: str = field(metadata=output("step"))
    formula: str = field(metadata=output("formula"))
    numbers: str = field(metadata=output("with the numbers put in"))


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Conversion(WithSummary):
    """An appliance changed from one gas to another."""

    appliance: str = field(metadata=output("appliance"))
    rating_basis: str = field(metadata=output("basis of the ratings"))  # gross or net, as the file rates
    file: str
    file_sha256: str = field(metadata=output("SHA-256 of the file"))
    version: str = field(metadata=output("version"))
    # the reference state in words, and every volume in this result is at it
    reference: str = field(metadata=output("reference state of every volume"))
    from_gas: GasUsed = field(metadata=output("present gas"))
    to_gas: GasUsed = field(metadata=output("new gas"))
    # gauge at the manifold
    from_gauge_pressure_Pa: float = field(
        metadata=output("present manifold pressure, gauge", Kind.GAUGE_PRESSURE)
    )
    to_gauge_pressure_Pa: float = field(metadata=output("new manifold pressure, gauge", Kind.GAUGE_PRESSURE))
    # None when no range is known for this gas and pressure
    to_gauge_pressure_low_Pa: float | None = field(
        metadata=output("lowest new pressure, gauge", Kind.GAUGE_PRESSURE)
    )
    to_gauge_pressure_high_Pa: float | None = field(
        metadata=output("highest new pressure, gauge", Kind.GAUGE_PRESSURE)
    )
    pressure_range_source: str = field(metadata=output("range of the pressure from"))
    altitude_m: float | None = field(metadata=output("altitude", Kind.LENGTH, unit="m"))
    ambient_pressure_Pa: float = field(metadata=output("ambient pressure, absolute", Kind.ABSOLUTE_PRESSURE))
    gas_temperature_K: float = field(metadata=output("gas temperature at the orifice", Kind.TEMPERATURE))
    altitude_policy: str | None = field(metadata=output("altitude rule on the rating"))  # None: not chosen
    altitude_policy_factor: float = field(metadata=output("its factor"))  # on the rating [-]
    # of the rating, what the orifices of a pressure couple's first gas leave of it on this gas; 1 elsewhere [-]
    couple_factor: float = field(metadata=output("of the rating, by the orifices of the couple's first gas"))
    # band for the heat input [-]
    tolerance: float = field(
        metadata=output("band of the heat input, high end", Kind.FRACTION, is_change=True)
    )
    tolerance_source: str = field(metadata=output("band from"))
    drill_list: str = field(metadata=output("drills offered"))
    burners: tuple[BurnerConversion, ...] = field(metadata=output("burners"))
    headline: Headline = field(metadata=output("all burners together"))
    total_rate_gross_W: float = field(metadata=output("total rating", Kind.POWER, basis="gross"))
    # at the nominal pressure
    total_predicted_gross_W: float = field(metadata=output("total calculated", Kind.POWER, basis="gross"))
    total_predicted_net_W: float = field(metadata=output("total calculated", Kind.POWER, basis="net"))
    total_mass_flow_kg_per_s: float = field(metadata=output("gas used, by mass", Kind.MASS_FLOW))
    total_volume_flow_m3_per_s: float = field(
        metadata=output("gas used, by volume", Kind.REFERENCE_VOLUME_FLOW)
    )
    findings: tuple[Finding, ...] = field(metadata=output("checks"))
    not_evaluated: tuple[NotEvaluated, ...] = field(metadata=output("not evaluated"))
    prompts: tuple[str, ...] = field(metadata=output("what else must change"))
    calculation: tuple[WorkedStep, ...] = field(metadata=output("worked"))  # for one burner
    sources: tuple[str, ...] = field(metadata=output("sources"))  # cited in this result, one line each
    notes: tuple[str, ...] = field(default=(), metadata=output("notes"))
    # the lower end of the band; ``tolerance`` is the upper
    tolerance_low: float = field(
        default=-0.05, metadata=output("band of the heat input, low end", Kind.FRACTION, is_change=True)
    )
    from_altitude_m: float | None = field(
        default=None, metadata=output("altitude of the present setting", Kind.LENGTH, unit="m")
    )
    from_ambient_pressure_Pa: float = field(
        default=101_325.0, metadata=output("ambient pressure of the present setting", Kind.ABSOLUTE_PRESSURE)
    )
    # which train serves the new gas, in words; "" where none is described
    supply_of_new_gas: str = field(default="", metadata=output("supply of the new gas"))
    # supply-pressure row the new gas and pressure belong to, such as 3P or LP
    category: str = field(default="", metadata=output("supply category"))
    is_category_given: bool = True  # else the supply category is that of gas and pressure
    model: str = field(default="", metadata=output("model"))  # the maker's, as the file gives it
    region: str = field(default="", metadata=output("region"))  # us, eu, or "" when the file gives none
    # the pressure couple the new gas belongs to
    pressure_couple: Couple | None = field(default=None, metadata=output("pressure couple"))
    # couples the new gas is sold in too, where no category names one
    pressure_couples_beside: tuple[str, ...] = field(default=(), metadata=output("couples of the pressure"))
    # what altitude and its policies do; None where it does nothing
    altitude: Altitude | None = field(default=None, metadata=output("altitude policies"))
    # present primary aeration [-], from which `aeration_after` computes the new one
    assumed_primary_aeration: float = field(
        default=0.0, metadata=output("assumed primary aeration", Kind.FRACTION)
    )
    # see ``evaluate_conversion``; None: only the orifices are computed
    evaluation: Evaluation | None = field(default=None, metadata=output("evaluation", is_part=True))
    job: Job | None = field(default=None, repr=False, compare=False)  # what this is the conversion of
    steps: tuple[Step, ...] = field(default=(), repr=False, compare=False)  # its burners

    @property
    @computed_output("project file")
    def file_name(self) -> str:
        """The name of the project file without its folders, so that no result depends on where it lay."""
        return self.file.replace("\\", "/").rpartition("/")[2]

    @property
    def aim_factor(self) -> float:
        """The aim over the rating: what altitude rule and pressure couple leave of it [-]."""
        return self.altitude_policy_factor * self.couple_factor

    @property
    @computed_output("total, against the rating", Kind.FRACTION, is_change=True)
    def total_deviation_from_rating(self) -> float:
        """Of the heat input of all burners from their ratings, whatever an altitude policy makes of them [-]."""
        return self.headline.heat_input_gross_W / self.total_rate_gross_W - 1.0

    def summary(self) -> Summary:
        old, new = (
            figure(p, Kind.GAUGE_PRESSURE) for p in (self.from_gauge_pressure_Pa, self.to_gauge_pressure_Pa)
        )
        change = f"{self.from_gas.name} at {old} to {self.to_gas.name} at {new}"
        table = (
            (
                "burner",
                "now",
                "drill",
                "heat input gross, worse of all on and its kind on",
                "from the aim",
                "verdict",
            ),
            *(
                (
                    b.name,
                    b.from_drill
                    or (NOT_GIVEN if b.from_orifice_m is None else figure(b.from_orifice_m, Kind.DIAMETER)),
                    *self._fitted_words(b),
                )
                for b in self.burners
            ),
        )
        refused = [Verdict.OUTSIDE for b in self.burners if self._is_known_not_to_fit(b)]
        verdict = worst((*refused, *(b.headline.verdict for b in self.burners)))
        checks = dict.fromkeys(f.topic for f in self.findings if f.verdict == Verdict.OUTSIDE)
        outside = f"; OUTSIDE: {', '.join(checks)}" if checks else ""
        unknown = f"; {self._unknown}" if self._unknown else ""
        special = (SPECIAL_GAS,) if self.from_gas.is_special or self.to_gas.is_special else ()
        lack = (LACK_OF_AIR,) if self.lacks_air else ()
        lines = tuple(one.line for one in closing_cautions("convert", *special, *lack))
        kinds = f"{len(self.burners)} kinds of burner"
        return Summary(
            f"{self.appliance}: {change}, {kinds}, worst verdict {verdict}{outside}{unknown}",
            table,
            lines,
        )

    def _fitted_words(self, b: BurnerConversion) -> tuple[str, str, str, str]:
        """Drill, heat input, deviation and verdict of a burner; no figure of what is not to be fitted."""
        if self._is_known_not_to_fit(b):
            return none_fits_words(b.choice.drill), "-", "-", Verdict.OUTSIDE
        heat = figure(b.headline.heat_input_gross_W, Kind.POWER)
        drill = f"{b.choice.drill}, {UNDECIDED}" if self._unknown else b.choice.drill
        return drill, heat, percent(b.headline.deviation), b.headline.verdict

    @property
    def _unknown(self) -> str:
        """What is not looked at here and may still refuse an orifice: a supply to solve, the first gas of a couple."""
        if self.job is None:
            return ""
        is_unsolved = any(b.headline.deviation_all_on is None for b in self.burners)
        if is_unsolved and self.job.new_train.train is not None:
            return UNSOLVED
        return FIRST_GAS if self.job.reference is not None else ""

    def _is_known_not_to_fit(self, b: BurnerConversion) -> bool:
        """Whether ``refusals`` refuses a burner, as far as the conversion shows it without solving a supply anew."""
        x, alone = b.headline.deviation_all_on, b.headline.deviation_alone
        is_second = self.job is not None and self.job.reference is not None
        is_low = x is not None and x < self.tolerance_low and not is_second
        couple = () if self.pressure_couple is None else self.pressure_couple.inputs
        on_second = [each.other_deviation for each in couple if each.burner == b.name]
        is_high = any(each > self.tolerance for each in (*on_second, x, alone) if each is not None)
        return bool(b.no_drill_meets) or is_low or is_high

    def outside_of(self, burner: BurnerConversion) -> tuple[Finding, ...]:
        """The checks of a burner that are outside once it is changed, but that of its heat input."""
        return tuple(
            f
            for f in self.findings
            if f.verdict == Verdict.OUTSIDE
            and f.burner == burner.name
            and f.which_gas != "present"
            and f.topic not in OF_HEAT
        )

    @property
    def occasions(self) -> tuple[str, ...]:
        """What it asks of the cautions beyond those of any conversion: high supply, special gas, lack of air."""
        special = self.from_gas.is_special or self.to_gas.is_special
        pressures = self.from_gauge_pressure_Pa, self.to_gauge_pressure_Pa
        high = not all(map(is_low_pressure, pressures))
        each = ((HIGH_PRESSURE, high), (SPECIAL_GAS, special), (LACK_OF_AIR, self.lacks_air))
        return tuple(occasion for occasion, is_so in each if is_so)

    @property
    def lacks_air(self) -> bool:
        """Whether a hot tile may get less than the air its gas needs."""
        return any(
            one.verdict == Verdict.OUTSIDE and one.topic.startswith(TILE_AERATION) for one in self.findings
        )

    @property
    def all_on_over_nominal(self) -> float:
        """Heat input of all burners together as supplied over that at the nominal pressure [-]."""
        return self.headline.heat_input_gross_W / self.total_predicted_gross_W


# Where a value lies against its range: within, near or outside, over its whole interval where it states
# one.


def verdict_of(value: float, low: float | None, high: float | None) -> Verdict:
    """Within, near (in the last fifth of the band or bound) or outside a range, of a value without an interval.

    NaN is outside.

    >>> [verdict_of(x, -5.0, 5.0).value for x in (0.0, 4.2, 5.1)]
    ['within', 'near', 'outside']
    """
    if low is None and high is None:
        return Verdict.NOT_EVALUATED
    if not _is_inside(value, low, high):
        return Verdict.OUTSIDE
    width = (high - low) / 2 if low is not None and high is not None else abs(high or low or 0.0)
    edge = table_figure("conversion_figures", "near_share").value * width
    is_near = (low is not None and value < low + edge) or (high is not None and value > high - edge)
    return Verdict.NEAR if is_near else Verdict.WITHIN


def verdict_of_interval(
    value: float, ends: tuple[float, float] | None, low: float | None, high: float | None
) -> Verdict:
    """Outside when the value is, within when its whole interval is inside, near when the interval crosses.

    ends : of the interval [unit of the value]; None where it is not known, which no value is within with

    >>> [verdict_of_interval(x, (x - 4.0, x + 4.0), -5.0, 5.0).value for x in (0.5, 1.5, 5.1)]
    ['within', 'near', 'outside']
    >>> [verdict_of_interval(x, None, -5.0, 5.0).value for x in (0.5, 5.1)]
    ['near', 'outside']
    """
    if low is None and high is None:
        return Verdict.NOT_EVALUATED
    if not _is_inside(value, low, high):
        return Verdict.OUTSIDE
    is_inside = ends is not None and all(_is_inside(end, low, high) for end in ends)
    return Verdict.WITHIN if is_inside else Verdict.NEAR


def _is_inside(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)


def check(topic: str, value: float, low: float | None, high: float | None, **fields: Any) -> Finding:
    """A finding with the verdict of its value in its range; ``fields`` of a ``Finding`` go with it.

    With ``ends`` among them, the two ends of an interval [unit of the value], or None where that is not known, the
    verdict is that of the interval.
    """
    is_exact = "ends" not in fields
    ends: tuple[float, float] | None = fields.pop("ends", None)
    verdict = verdict_of(value, low, high) if is_exact else verdict_of_interval(value, ends, low, high)
    first, last = (None, None) if ends is None else ends
    return Finding(
        topic=topic,
        verdict=verdict,
        value=value,
        low=low,
        high=high,
        value_low=first,
        value_high=last,
        **fields,
    )
