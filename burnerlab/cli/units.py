"""Factors of units in US texts, each from the table of units."""

from __future__ import annotations

from burnerlab.quantity import Kind
from burnerlab.quantity.show import unit_named

ZERO_C_K = unit_named("°C", Kind.TEMPERATURE).scale.offset
M3_PER_FT3 = unit_named("ft3", Kind.VOLUME).scale.factor
J_PER_BTU = unit_named("Btu", Kind.ENERGY).scale.factor
W_PER_BTU_PER_H = unit_named("Btu/h", Kind.POWER).scale.factor
KG_PER_LB = unit_named("lb", Kind.MASS).scale.factor
M_PER_IN = unit_named("in", Kind.LENGTH).scale.factor
