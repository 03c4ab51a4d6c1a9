"""What stands between the source of the gas and the burners: regulator, hose, pipe, manifold, valves."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.supply.piping import Pipe
from burnerlab.supply.valve import Valve
from burnerlab.tables.evidence import Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A hose or a pipe, with the spread of what is known of it least."""

    kind: str  # hose or pipe
    pipe: Pipe
    size: str = ""  # as bought, "" for a bare bore
    assumed: tuple[str, ...] = ()  # figures taken from tables: roughness, fittings
    evidence: Evidence = Evidence.ENTERED  # the weakest of its figures


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainRegulator:
    """The regulator of a project file; pressures are gauge, flows of the gas the file names."""

    set_point_Pa: float
    droop_Pa: float = 0.0
    lock_up_Pa: float = 0.0
    rated_flow_kg_per_s: float | None = None  # at which the droop is stated
    flow_limit_kg_per_s: float | None = None
    minimum_inlet_Pa: float | None = None
    minimum_inlet_source: str = ""  # where it is from; "" the file
    last: bool = False  # after hose and pipe, at the appliance; else before them
    type: str = ""  # a kind of the table regulators
    assumed: tuple[str, ...] = ()  # figures taken from that table
    unknown: tuple[str, ...] = ()  # figures neither given nor typical

    minimum_inlet_evidence: Evidence = Evidence.ENTERED

    @property
    def evidence(self) -> Evidence:
        """Entered only where the file gives every figure: a typical regulator, or one half known, is an estimate."""
        return Evidence.ESTIMATE if self.assumed or self.unknown else Evidence.ENTERED


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifold:
    """The pipe that the burners branch off, in the order of the file."""

    diameter_m: float
    roughness_m: float
    spacings_m: tuple[float, ...]  # before each burner; the first from the manifold's inlet
    assumed: tuple[str, ...] = ()
    evidence: Evidence = Evidence.ENTERED


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """Everything before the orifices; the figures hold for the nominal pressure and gas density of the file."""

    nominal_gauge_pressure_Pa: float
    gas_density_kg_per_m3: float  # of the file's gas at the nominal pressure
    inlet_gauge_pressure_Pa: float | None = None  # at the cylinder outlet or the meter
    regulator: TrainRegulator | None = None
    runs: tuple[Run, ...] = ()
    manifold: Manifold | None = None
    valve: Valve | None = None  # at every burner that has none of its own
