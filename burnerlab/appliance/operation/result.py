"""What burners get when they burn together, against their rating, and what each element costs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from burnerlab.appliance.conversion.burner_conversion import discharge_of, law_of
from burnerlab.appliance.conversion.headline import (
    Share,
    UnitSpread,
    drill_band,
    in_percent,
    total_spread,
    unit_spread,
)
from burnerlab.appliance.conversion.job import present_policy
from burnerlab.appliance.conversion.result import Finding, check, verdict_of_interval
from burnerlab.appliance.project.basis import RatedBasis, rated_basis
from burnerlab.appliance.project.model import Appliance, Burner, Tolerance
from burnerlab.orifice.discharge_coefficient import Discharge
from burnerlab.orifice.flow import Conditions, flow
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.quantity_text import kilowatt, quantity_text
from burnerlab.quantity.show import number
from burnerlab.quantity.summary import Summary, WithSummary, figure, percent
from burnerlab.quantity.units import Kind
from burnerlab.tables.figure import Evidence
from burnerlab.tables.verdict import Verdict

# What burners burn against their rating with the orifices they have, the dangerous ones first.

HEAT_INPUT = "heat input"
EVERY = ""  # burner of the input of all burners that are on
TOGETHER, ALONE, NOMINAL = "", "alone", "at the nominal pressure"
KIND_ALONE = "all of its kind on"  # of several burners alike, every other off


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedInput:
    """The heat input of one burner, or of all that are on, against its aim: the rating after the altitude policy."""

    burner: str = field(metadata=output("burner"))
    """"" all that are on."""
    case: str = field(metadata=output("case"))
    """"" with the others that are on, "alone", "all of its kind on", "at the nominal pressure"."""
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
    """One input with its verdict over the whole interval as made; within only where the coefficient has one."""
    heat, aim = heat_and_aim_W
    deviation = heat / aim - 1.0
    ends = None if spread is None else spread.around(deviation)
    verdict = verdict_of_interval(deviation, ends, band.low, band.high)
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
    aims = aims_gross_W(appliance)
    aim = sum(aims[burner.name] * burner.count for burner, _, _ in heats_W)
    each = (
        rated_burner(appliance, burner, TOGETHER, (heat, aims[burner.name]), used)
        for burner, heat, used in heats_W
    )
    return rated_input(EVERY, TOGETHER, (whole, aim), total_spread(shares), band), *each


def rated_burner(
    appliance: Appliance, burner: Burner, case: str, heat_and_aim_W: tuple[float, float], used: Discharge
) -> RatedInput:
    """One burner of a kind in a case: its gross heat input and its aim, and the coefficient it was solved with."""
    spread = unit_spread(used, drill_band(burner.orifice, appliance.tables), burner.orifice.diameter_m)
    return rated_input(burner.name, case, heat_and_aim_W, spread, appliance.limits.tolerance)


def aims_gross_W(appliance: Appliance) -> dict[str, float]:
    """The rating of one burner of each kind after altitude policy and pressure couple, gross on the appliance's gas.

    The rates of a unit built for a place are after both already.

    >>> from burnerlab.appliance import ConversionTarget, demonstration
    >>> from burnerlab.appliance.conversion.convert import built_for, changed
    >>> gas = demonstration().supply.gas
    >>> high = ConversionTarget(gas=gas, gauge_pressure_Pa=1743.6, altitude_m=1524.0,
    ...                         altitude_policy="4-percent-from-sea-level")
    >>> [aims_gross_W(one(demonstration(), high))["rear burner"] for one in (changed, built_for)]
    [2110.1, 2110.1]
    """
    gas = appliance.supply.gas
    gross = float(gas.heating_value_J_per_kg("gross") / gas.heating_value_J_per_kg(appliance.rating))
    limits, is_built = appliance.limits, appliance.as_in_file is not None
    factor = present_policy(appliance).factor * (
        1.0 / limits.rating_share if is_built else limits.couple_factor
    )
    return {burner.name: burner.rate_W * gross * factor for burner in appliance.burners}


def nominal_inputs(appliance: Appliance, names: Sequence[str]) -> Iterator[tuple[RatedInput, Finding]]:
    """What the orifice of each burner named gives at the nominal pressure, with its finding."""
    supply, band, basis = appliance.supply, appliance.limits.tolerance, rated_basis(appliance)
    at = Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )
    aims = aims_gross_W(appliance)
    for burner in appliance.burners:
        if burner.name not in names:
            continue
        orifice = burner.orifice
        stream = flow(supply.gas, orifice.diameter_m, at, law_of(orifice, appliance.tables), orifice.count)
        used = discharge_of(orifice, stream, None, appliance.tables)
        heat_W = stream.heat_input_gross_W
        found = rated_burner(appliance, burner, NOMINAL, (heat_W, aims[burner.name]), used)
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
                text=quantity_text(
                    "{} {} against {}, {} % at the nominal pressure{}",
                    kilowatt(found.heat_input_gross_W * basis.of_gross, ".3g"),
                    basis.word,
                    kilowatt(found.aim_gross_W * basis.of_gross, ".3g"),
                    f"{100 * found.deviation:+.1f}",
                    danger,
                ),
            ),
        )


def worst_first(inputs: Sequence[RatedInput]) -> tuple[RatedInput, ...]:
    """Burners above their band first, the farthest before all; then those below it; then near and within."""
    return tuple(
        sorted(
            (one for one in inputs if one.burner != EVERY),
            key=lambda row: (not row.possible_overfire, row.verdict.rank, -abs(row.deviation)),
        )
    )


def worst_words(inputs: Sequence[RatedInput]) -> tuple[tuple[str, str], ...]:
    """The worst burner in words; where it overfires and another burns less than its band, that one too."""
    ranked = worst_first(inputs)
    low = [one for one in ranked if one.verdict == Verdict.OUTSIDE and one.deviation < 0.0]
    beside = low[:1] if ranked[0].possible_overfire else []
    return ("worst burner", ranked[0].words()), *(("lowest burner", one.words()) for one in beside)


def overfire_lines(inputs: Sequence[RatedInput], gas_words: str, gauge_pressure_Pa: float) -> tuple[str, ...]:
    """The warning above an answer whose burners overfire; empty where none does."""
    over = [one for one in worst_first(inputs) if one.possible_overfire]
    if not over:
        return ()
    names = list(dict.fromkeys(one.burner for one in over))
    case = f" {over[0].case}" if over[0].case else ""
    more = f", {len(names) - 1} more above their band" if len(names) > 1 else ""
    return (
        f"WARNING: Possible overfire: {names[0]}{case} {100 * over[0].deviation:+.0f} % off its rating{more}.",
        f"WARNING: Do not burn {gas_words} at {number(gauge_pressure_Pa / 1e2)} mbar through these orifices.",
    )


# What burners get when they burn together: frozen results with what each element of the supply costs.


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerOperation:
    """One kind of burner in operation; figures are those of one burner of the kind."""

    name: str = field(metadata=output("burner"))
    index: int  # in the file
    count: int = field(metadata=output("burners of the kind"))
    on: bool = field(metadata=output("on"))
    gauge_pressure_Pa: float = field(metadata=output("at the orifice", Kind.GAUGE_PRESSURE))
    """Before the orifice; before the closed valve when off."""
    tap_gauge_pressure_Pa: float = field(metadata=output("manifold", Kind.GAUGE_PRESSURE))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    rate_gross_W: float = field(metadata=output("rating", Kind.POWER, basis="gross"))
    deviation: float | None = field(metadata=output("off rating", Kind.FRACTION, is_change=True))
    """Of the heat input from the rating after the altitude policy [-]; None when off."""
    deviation_alone: float | None = field(
        default=None, metadata=output("its kind on", Kind.FRACTION, is_change=True)
    )
    """The same with every other one off [-]; None where it is off or not known."""
    nominal_gross_W: float = field(metadata=output("nominal", Kind.POWER, basis="gross"))
    """With the nominal pressure before the orifice."""
    from_nominal: float | None = field(metadata=output("by the supply", Kind.FRACTION, is_change=True))
    """Of the heat input from that [-]; None when off."""
    mass_flow_kg_per_s: float = field(metadata=output("mass flow", Kind.MASS_FLOW))
    choked: bool = field(metadata=output("choked"))


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementDrop:
    """What one element of the supply takes of the pressure."""

    name: str = field(metadata=output("element"))
    kind: str = field(metadata=output("kind"))
    """Regulator, hose, pipe, manifold, valve."""
    inlet_gauge_pressure_Pa: float | None = field(metadata=output("in", Kind.GAUGE_PRESSURE))
    """None for a regulator whose inlet is not known."""
    outlet_gauge_pressure_Pa: float = field(metadata=output("out", Kind.GAUGE_PRESSURE))
    drop_Pa: float | None = field(metadata=output("drop", Kind.PRESSURE_DIFFERENCE))
    drop_fraction: float | None = field(metadata=output("fraction of the drop", Kind.FRACTION))
    """Of the pressure lost between the first element after the regulator and the orifice [-]."""
    mass_flow_kg_per_s: float = field(metadata=output("mass flow", Kind.MASS_FLOW))
    velocity_m_per_s: float | None = field(metadata=output("velocity", Kind.VELOCITY))
    reynolds: float | None = field(metadata=output("Reynolds number"))
    regime: str = field(metadata=output("flow"))
    flow_by_formula_over_this: Mapping[str, float] = field(
        default_factory=dict, metadata=output("flow by formula over this")
    )
    """Flow of each trade formula at this friction over the flow here [-]."""
    notes: tuple[str, ...] = field(default=(), metadata=output("notes"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The lowest and the highest pressure before an orifice among the combinations solved."""

    case: str = field(metadata=output("case"))
    burner: str = field(metadata=output("burner"))
    gauge_pressure_Pa: float = field(metadata=output("at the orifice", Kind.GAUGE_PRESSURE))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    from_nominal: float = field(metadata=output("by the supply", Kind.FRACTION, is_change=True))
    deviation: float = field(metadata=output("off rating", Kind.FRACTION, is_change=True))
    """From the rating after the altitude policy [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alone:
    """One kind of burner on by itself, the others off."""

    burner: str = field(metadata=output("burner"))
    gauge_pressure_Pa: float = field(metadata=output("at the orifice", Kind.GAUGE_PRESSURE))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    """Of one burner of the kind."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Operation(WithSummary):
    """An appliance with a set of its burners on."""

    appliance: str = field(metadata=output("appliance"))
    gas: str = field(metadata=output("gas"))
    on: tuple[str, ...] = field(metadata=output("on"))
    nominal_gauge_pressure_Pa: float = field(metadata=output("nominal pressure", Kind.GAUGE_PRESSURE))
    """As the file or the conversion states it for the manifold."""
    manifold_gauge_pressure_Pa: float = field(metadata=output("manifold", Kind.GAUGE_PRESSURE))
    ambient_pressure_Pa: float = field(metadata=output("ambient pressure", Kind.ABSOLUTE_PRESSURE))
    gas_temperature_K: float = field(metadata=output("gas temperature", Kind.TEMPERATURE))
    mass_flow_kg_per_s: float = field(metadata=output("mass flow", Kind.MASS_FLOW))
    """Of all burners that are on, as the heat inputs."""
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    burners: tuple[BurnerOperation, ...] = field(metadata=output("burners"))
    elements: tuple[ElementDrop, ...] = field(metadata=output("elements"))
    binding_element: str = field(metadata=output("takes most of the pressure"))
    """"" when nothing does."""
    lowest: Worst = field(metadata=output("least by the supply"))
    highest: Worst = field(metadata=output("most by the supply"))
    findings: tuple[Finding, ...] = field(metadata=output("findings"))
    evidence: Evidence = field(metadata=output("evidence"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    gas_words: str  # as a sentence names the gas
    rated: RatedBasis  # of the file, on which its heat inputs are printed
    inputs: tuple[RatedInput, ...]
    """Against the ratings: all that are on together first, each, then all of each kind on."""
    alone: tuple[Alone, ...] = field(default=(), metadata=output("all of a kind on"))
    """Each kind of burner by itself, where the supply is known for it."""

    @property
    def whole(self) -> RatedInput:
        """All that are on, against their ratings."""
        return self.inputs[0]

    @property
    @computed_output("aim", Kind.POWER, basis="gross")
    def aim_gross_W(self) -> float:
        """Of all that are on."""
        return self.whole.aim_gross_W

    @property
    @computed_output("off rating", Kind.FRACTION, is_change=True)
    def deviation(self) -> float:
        """Of all that are on [-]."""
        return self.whole.deviation

    @property
    @computed_output("verdict")
    def verdict(self) -> Verdict:
        """Of the input of all that are on."""
        return self.whole.verdict

    @property
    @computed_output("possible overfire")
    def possible_overfire(self) -> bool:
        """Whether one burner, or all together, lies above its band."""
        return any(one.possible_overfire for one in self.inputs)

    @property
    @computed_output("inputs, worst first")
    def inputs_worst_first(self) -> tuple[RatedInput, ...]:
        """Of each burner, as it is on and with all of its kind on."""
        return worst_first(self.inputs)

    @property
    @computed_output("warnings")
    def warnings(self) -> tuple[str, ...]:
        """What stands above everything when a burner overfires."""
        return overfire_lines(self.inputs, self.gas_words, self.nominal_gauge_pressure_Pa)

    def summary(self) -> Summary:
        table = (
            (
                "burner",
                "on",
                "pressure before the orifice",
                f"heat input {self.rated.word}",
                "from the rating",
            ),
            *(
                (
                    b.name,
                    "yes" if b.on else "no",
                    figure(b.gauge_pressure_Pa, Kind.GAUGE_PRESSURE),
                    figure(b.heat_input_gross_W * self.rated.of_gross, Kind.POWER),
                    percent(b.deviation),
                )
                for b in self.burners
            ),
        )
        heat, pressure = (
            figure(self.heat_input_gross_W * self.rated.of_gross, Kind.POWER),
            figure(self.manifold_gauge_pressure_Pa, Kind.GAUGE_PRESSURE),
        )
        on = f"{sum(b.on for b in self.burners)} of {len(self.burners)} kinds of burner on"
        rated = f"{heat} {self.rated.word}, {self.inputs[0].words()}, {worst_words(self.inputs)[0][1]}"
        warnings = overfire_lines(self.inputs, self.gas_words, self.nominal_gauge_pressure_Pa)
        return Summary(
            f"{self.appliance} on {self.gas_words}, {on}: {rated}, manifold at {pressure}", table, warnings
        )
