"""What burners get when they burn together: frozen results with what each element of the supply costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from burnerlab.appliance.rated import RatedInput, overfire_lines, worst_first, worst_words
from burnerlab.appliance.result import Finding
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure, percent
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.verdict import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerOperation:
    """One kind of burner in operation; figures are those of one burner of the kind."""

    name: str = field(metadata=output("burner"))
    index: int  # in the file
    count: int = field(metadata=output("burners of the kind"))
    on: bool = field(metadata=output("on"))
    gauge_pressure_Pa: float = field(metadata=output("at the orifice", Kind.GAUGE_PRESSURE))
    """Before the orifice; before the closed valve when off."""
    tap_gauge_pressure_Pa: float = field(metadata=output("in the manifold", Kind.GAUGE_PRESSURE))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    rate_gross_W: float = field(metadata=output("rating", Kind.POWER, basis="gross"))
    deviation: float | None = field(metadata=output("off rating", Kind.FRACTION, is_change=True))
    """Of the heat input from the rating after the altitude policy [-]; None when off."""
    deviation_alone: float | None = field(
        default=None, metadata=output("alone", Kind.FRACTION, is_change=True)
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
    share: float | None = field(metadata=output("share of the drop", Kind.FRACTION))
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
    """The lowest and the highest pressure before an orifice among the combinations looked at."""

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
    manifold_gauge_pressure_Pa: float = field(metadata=output("at the manifold", Kind.GAUGE_PRESSURE))
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
    inputs: tuple[RatedInput, ...]
    """Against the ratings: all that are on together first, each, then each alone."""
    alone: tuple[Alone, ...] = field(default=(), metadata=output("alone"))
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
        """Of each burner, as it is on and alone."""
        return worst_first(self.inputs)

    @property
    @computed_output("warnings")
    def warnings(self) -> tuple[str, ...]:
        """What stands above everything when a burner overfires."""
        return overfire_lines(self.inputs, self.gas, self.nominal_gauge_pressure_Pa)

    def summary(self) -> Summary:
        table = (
            ("burner", "on", "pressure before the orifice", "heat input gross", "from the rating"),
            *(
                (
                    b.name,
                    "yes" if b.on else "no",
                    figure(b.gauge_pressure_Pa, Kind.GAUGE_PRESSURE),
                    figure(b.heat_input_gross_W, Kind.POWER),
                    percent(b.deviation),
                )
                for b in self.burners
            ),
        )
        heat, pressure = (
            figure(self.heat_input_gross_W, Kind.POWER),
            figure(self.manifold_gauge_pressure_Pa, Kind.GAUGE_PRESSURE),
        )
        on = f"{sum(b.on for b in self.burners)} of {len(self.burners)} kinds of burner on"
        rated = f"{heat} gross, {self.inputs[0].words()}, {worst_words(self.inputs)[0][1]}"
        warnings = overfire_lines(self.inputs, self.gas, self.nominal_gauge_pressure_Pa)
        return Summary(
            f"{self.appliance} on {self.gas}, {on}: {rated}, manifold at {pressure}", table, warnings
        )
