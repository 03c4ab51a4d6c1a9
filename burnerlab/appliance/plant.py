"""An appliance ready to be solved: the pressures along the trunk to its manifold at any flow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from burnerlab.appliance.flowing import Flowing
from burnerlab.appliance.model import Appliance
from burnerlab.appliance.network import Array, Stream, Tap
from burnerlab.appliance.train import Run, Train
from burnerlab.supply.piping import expanding_drop_Pa, pressure_drop_Pa
from burnerlab.supply.regulator import Regulator, outlet_pressure_Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """An appliance ready to be solved: its gas, taps and trunk, the figures scaled to its pressure and gas."""

    appliance: Appliance
    gas: Flowing
    stream: Stream
    taps: tuple[Tap, ...]
    coefficients: tuple[float, ...]
    regulator: Regulator | None
    runs: tuple[Run, ...]
    inlet_gauge_Pa: float | None
    notes: tuple[str, ...]

    @property
    def ambient_Pa(self) -> float:
        return self.appliance.supply.ambient_pressure_Pa

    @property
    def nominal_Pa(self) -> float:
        """Gauge [Pa]."""
        return self.appliance.supply.gauge_pressure_Pa

    @property
    def train(self) -> Train | None:
        return self.appliance.supply.train

    def run_outlet_Pa(self, run: Run, flow_kg_per_s: Array, inlet_Pa: Array) -> Array:
        """Absolute pressure behind a hose or pipe, at least zero."""
        pipe, inlet = run.pipe, np.maximum(inlet_Pa, 1.0)
        constant = pressure_drop_Pa(
            flow_kg_per_s, pipe.length_m, pipe.diameter_m, pipe.roughness_m,
            self.stream.density_kg_per_m3(inlet), self.stream.viscosity_Pa_s, pipe.loss_coefficient,
        )  # fmt: skip
        outlet: Array = inlet - expanding_drop_Pa(constant, inlet)
        return outlet

    def trunk_Pa(self, flow_kg_per_s: Array) -> list[Array]:
        """Absolute pressures along the trunk at a total flow: where it begins, and behind each element."""
        first = self.regulator is not None and not self.regulator_is_last
        inlet = self.inlet_gauge_Pa
        if first:
            along = [self._regulated(flow_kg_per_s, None if inlet is None else np.asarray(inlet))]
        else:
            start = self.nominal_Pa if inlet is None else inlet
            along = [np.full_like(flow_kg_per_s, start + self.ambient_Pa)]
        for run in self.runs:
            along.append(self.run_outlet_Pa(run, flow_kg_per_s, along[-1]))
        if self.regulator is not None and not first:
            along.append(self._regulated(flow_kg_per_s, along[-1] - self.ambient_Pa))
        return along

    @property
    def regulator_is_last(self) -> bool:
        train = self.train
        return train is not None and train.regulator is not None and train.regulator.last

    def _regulated(self, flow_kg_per_s: Array, inlet_gauge_Pa: Array | None) -> Array:
        assert self.regulator is not None
        gauge = outlet_pressure_Pa(self.regulator, flow_kg_per_s, inlet_gauge_Pa, self.ambient_Pa)
        absolute: Array = gauge + self.ambient_Pa
        return absolute
