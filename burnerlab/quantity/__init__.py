"""Quantities of users: what was written becomes SI, what is SI is printed.

Text becomes SI floats here and nowhere else: one strict reader, one table of spellings, one form of
complaint.

>>> from burnerlab.quantity import Kind, read, show
>>> show(read("7 in w.c.", Kind.GAUGE_PRESSURE), Kind.GAUGE_PRESSURE)
'17.44 mbar'
"""

from __future__ import annotations

from burnerlab.quantity.drill_size import Bore, read_bore
from burnerlab.quantity.reference_state import (
    PRESETS,
    AtReference,
    HeatingValue,
    ReferenceState,
    read_at_reference,
    read_heating_value,
)
from burnerlab.quantity.units import Kind
from burnerlab.tables.problem import Problem, UserError

from .limits import (
    check_gas_orifice,
    check_low_pressure,
    check_orifice_diameter,
    first_outside,
    is_low_pressure,
)
from .read import Basis, Per, Rate, read, read_rate, require_basis
from .show import System, from_unit, in_unit, number, show
from .si import Quantities, Quantity, si, si_numbers, take_SI

__all__ = [
    "PRESETS",
    "AtReference",
    "Basis",
    "Bore",
    "HeatingValue",
    "Kind",
    "Per",
    "Problem",
    "Quantities",
    "Quantity",
    "Rate",
    "ReferenceState",
    "System",
    "UserError",
    "check_gas_orifice",
    "check_low_pressure",
    "check_orifice_diameter",
    "first_outside",
    "from_unit",
    "in_unit",
    "is_low_pressure",
    "number",
    "read",
    "read_at_reference",
    "read_bore",
    "read_heating_value",
    "read_rate",
    "require_basis",
    "show",
    "si",
    "si_numbers",
    "take_SI",
]
