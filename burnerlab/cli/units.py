"""Exact factors of the units that the JSON keys carry."""

from __future__ import annotations

ZERO_C_K = 273.15  # definition of the degree Celsius
M3_PER_FT3 = 0.3048**3  # definition of the foot
J_PER_BTU = (
    1055.05585262  # Btu of the International Table: 2326 J/kg per Btu/lb and 0.45359237 kg, both exact
)
W_PER_BTU_PER_H = J_PER_BTU / 3600.0
KG_PER_LB = 0.45359237  # definition of the pound
M_PER_IN = 0.0254  # definition of the inch
