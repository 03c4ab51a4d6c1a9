"""The units of a paper: those of its market's region, whatever units the screen has."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.appliance.project.model import system_of_region
from burnerlab.quantity import System


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperUnits:
    """Units that were written for every paper, or else those of the reader for papers of no region."""

    written: System | None = None  # with the command, for all papers
    reader: System = "metric"

    def of(self, *regions: str) -> System:
        """The units of a paper of these regions: of several that differ the reader's.

        >>> PaperUnits().of("us"), PaperUnits(written="metric").of("us"), PaperUnits(reader="US").of("")
        ('US', 'metric', 'US')
        >>> PaperUnits(reader="US").of("us", "eu"), PaperUnits(reader="US").of("eu", "eu")
        ('US', 'metric')
        """
        of_regions = {system_of_region(region) for region in regions}
        own = of_regions.pop() if len(of_regions) == 1 else None
        return self.written or own or self.reader


OF_REGION = PaperUnits()
"""Nothing was written: of each market those of its region."""
