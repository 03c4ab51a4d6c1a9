"""A market of the desk: an appliance and the gases that its orifices serve there."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from burnerlab.appliance import Appliance, ConversionTarget, demonstration


@dataclass(frozen=True, kw_only=True)
class Market:
    letter: str
    name: str
    target: ConversionTarget
    others: tuple[ConversionTarget, ...] = ()  # gases that the same orifice serves
    appliance: Appliance = field(default_factory=demonstration, hash=False, compare=False)

    @property
    def targets(self) -> tuple[ConversionTarget, ...]:
        return self.target, *self.others

    def of(self, appliance: Appliance) -> Market:
        return replace(self, appliance=appliance)
