"""What burners get when they burn together: frozen results with what each element of the supply costs."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.appliance.rated import RatedInput, overfire_lines, worst_words
from burnerlab.appliance.result import Finding
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.summary import Summary, WithSummary, figure, percent
from burnerlab.tables.evidence import Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerOperation:
    """One kind of burner in operation; figures are those of one burner of the kind."""

    name: str
    index: int  # in the file
    count: int
    on: bool
    pressure_Pa: float  # gauge, before the orifice; before the closed valve when off
    tap_pressure_Pa: float  # gauge, in the manifold
    mass_flow_kg_per_s: float
    heat_input_gross_W: float
    heat_input_net_W: float
    rate_gross_W: float
    deviation: float | None  # of the heat input from the rating after the altitude policy [-]; None when off
    nominal_gross_W: float  # with the nominal pressure before the orifice
    from_nominal: float | None  # of the heat input from that [-]; None when off
    choked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementDrop:
    """What one element of the supply takes of the pressure."""

    name: str
    kind: str  # regulator, hose, pipe, manifold, valve
    inlet_pressure_Pa: float | None  # gauge; None for a regulator whose inlet is not known
    outlet_pressure_Pa: float  # gauge
    drop_Pa: float | None
    mass_flow_kg_per_s: float
    reynolds: float | None
    regime: str
    velocity_m_per_s: float | None
    share: float | None  # of the pressure lost between the first element after the regulator and the orifice
    formulas: tuple[
        tuple[str, float], ...
    ] = ()  # flow of each trade formula at this friction over the flow here [-]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The lowest and the highest pressure before an orifice among the combinations looked at."""

    case: str
    burner: str
    pressure_Pa: float  # gauge
    heat_input_gross_W: float
    from_nominal: float  # [-]
    deviation: float  # from the rating after the altitude policy [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alone:
    """One kind of burner on by itself, the others off."""

    burner: str
    pressure_Pa: float  # gauge, before the orifice
    heat_input_gross_W: float  # of one burner of the kind


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Operation(WithSummary):
    """An appliance with a set of its burners on."""

    appliance: str
    gas: str
    on: tuple[str, ...]
    nominal_pressure_Pa: float  # gauge, as the file or the conversion states it for the manifold
    manifold_pressure_Pa: float  # gauge
    ambient_pressure_Pa: float
    gas_temperature_K: float
    mass_flow_kg_per_s: float  # all burners that are on
    heat_input_gross_W: float
    heat_input_net_W: float
    burners: tuple[BurnerOperation, ...]
    elements: tuple[ElementDrop, ...]
    binding: str  # the element that takes most of the pressure, "" when nothing does
    lowest: Worst
    highest: Worst
    findings: tuple[Finding, ...]
    evidence: Evidence
    notes: tuple[str, ...]
    inputs: tuple[
        RatedInput, ...
    ]  # against the ratings: all that are on together first, each, then each alone
    alone: tuple[Alone, ...] = ()  # each kind of burner by itself, where the supply can be told for it

    def summary(self) -> Summary:
        table = (
            ("burner", "on", "pressure before the orifice", "heat input gross", "from the rating"),
            *(
                (
                    b.name,
                    "yes" if b.on else "no",
                    figure(b.pressure_Pa, Kind.GAUGE_PRESSURE),
                    figure(b.heat_input_gross_W, Kind.POWER),
                    percent(b.deviation),
                )
                for b in self.burners
            ),
        )
        heat, pressure = (
            figure(self.heat_input_gross_W, Kind.POWER),
            figure(self.manifold_pressure_Pa, Kind.GAUGE_PRESSURE),
        )
        on = f"{sum(b.on for b in self.burners)} of {len(self.burners)} kinds of burner on"
        rated = f"{heat} gross, {self.inputs[0].words()}, {worst_words(self.inputs)[0][1]}"
        warnings = overfire_lines(self.inputs, self.gas, self.nominal_pressure_Pa)
        return Summary(
            f"{self.appliance} on {self.gas}, {on}: {rated}, manifold at {pressure}", table, warnings
        )
