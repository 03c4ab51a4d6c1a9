"""What did the test find: flue gas, input by meter and by scale, causes, record."""

from __future__ import annotations

from burnerlab.bench.flue import FlueAnalysis, FlueReading, analyse_flue

__all__ = ["FlueAnalysis", "FlueReading", "analyse_flue"]
