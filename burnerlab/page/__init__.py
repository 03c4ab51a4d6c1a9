"""The test bench in a browser: pages made on this machine, for a phone beside the unit."""

from __future__ import annotations
