"""Constants of a shop's own units, learned from its bench record."""
