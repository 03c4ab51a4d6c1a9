"""Does air and flame sit right on it: primary air, ports, stability of a partially aerated burner."""

from __future__ import annotations
