"""The chain from gas and pressure to the flow of an orifice, as formulas of a workbook and the values they give.

Each formula stands beside what it gives here, so that a viewer which recalculates nothing shows the figures of the
program. The names of the cells are those of the steps; a column of the chain is one state of one gas.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from burnerlab.gas import DeclaredGas, Gas, load
from burnerlab.gas.component import component_table, constant
from burnerlab.gas.dew_point import critical_constants, dew_pressure_Pa, vapour_pressure_terms
from burnerlab.gas.heat_capacity import GAS_CONSTANT
from burnerlab.gas.library import fuels
from burnerlab.gas.real_gas import EXPONENTS, heat_capacity_terms, virial_terms, viscosity
from burnerlab.gas.summation import dry_share
from burnerlab.orifice.nozzle import critical_pressure_ratio
from burnerlab.quantity import Basis, ReferenceState
from burnerlab.quantity.inputs import input_row
from burnerlab.report.workbook import NOT_EVALUATED

Value = float | str
NO_DEW = 1e99
"""In place of a dew pressure where nothing of the gas condenses [Pa]."""
VISCOSITY_TERMS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class GasRow:
    """What the chain needs of a gas: a row of the page of gases."""

    name: str
    title: str
    source: str
    molar_mass_kg_per_mol: float
    heating_value_J_per_kg: float
    density_kg_per_m3: float  # dry gas in a cubic metre at the reference state of the conversion
    virial: tuple[float, ...]  # by power of 1/T, [m3/mol K^e]
    heat: tuple[float, ...]  # ideal heat capacity over R, by power of T/1000 K
    viscosity: tuple[float, ...]  # by power of (T - 293.15 K)/60 K [Pa s]
    fractions: Mapping[str, float]  # mole, of the components that can condense


MIDDLE_K, HALF_SPAN_K = 293.15, 60.0
"""Of the gas temperatures accepted: the polynomial of the viscosity runs over them."""


@lru_cache(maxsize=256)
def gas_row(gas: Gas | DeclaredGas, basis: Basis, combustion_K: float, reference: ReferenceState) -> GasRow:
    """The row of a gas; heating value on a basis at a combustion temperature, density at a reference state.

    A gas declared without a composition is an ideal gas of its density and of one isentropic exponent.
    """
    if isinstance(gas, DeclaredGas):
        state = gas.reference
        k = gas.isentropic_exponent(state.metering_temperature_K, state.pressure_Pa)
        mass = gas.standard_density_kg_per_m3(state) * constant("R") * state.metering_temperature_K
        mass /= state.pressure_Pa
        fractions: dict[str, float] = {}
        virial: tuple[float, ...] = (0.0,) * len(EXPONENTS)
        heat: tuple[float, ...] = (k / (k - 1.0), 0.0, 0.0, 0.0, 0.0)
    else:
        names, x = gas.composition.names, gas.composition.fractions
        table = component_table()
        mass = float(np.dot(x, table.molar_mass_kg_per_mol[table.take(names)]))
        virial = tuple(map(float, virial_terms(names, x)))
        heat = tuple(float(a) * 1000.0**i for i, a in enumerate(heat_capacity_terms(names, x)))
        fractions = {one: share for one, share in gas.composition.as_dict().items() if condensable(one)}
    return GasRow(
        name=gas.name,
        title=gas.title,
        source=gas.source,
        molar_mass_kg_per_mol=mass,
        heating_value_J_per_kg=gas.heating_value_J_per_kg(basis, combustion_K),
        density_kg_per_m3=gas.standard_density_kg_per_m3(replace(reference, saturated=False))
        * dry_share(reference),
        virial=virial,
        heat=heat,
        viscosity=_viscosity_terms(gas),
        fractions=fractions,
    )


def _viscosity_terms(gas: Gas | DeclaredGas) -> tuple[float, ...]:
    """A polynomial through the viscosity of the program, off it by less than 1e-5 from -40 to 80 °C."""
    nodes = np.cos(np.pi * (np.arange(VISCOSITY_TERMS) + 0.5) / VISCOSITY_TERMS)
    values = [viscosity(gas, MIDDLE_K + HALF_SPAN_K * float(node)).value_Pa_s for node in nodes]
    return tuple(map(float, np.polynomial.polynomial.polyfit(nodes, values, VISCOSITY_TERMS - 1)))


def condensable(component: str) -> bool:
    """Whether a component of a gas can be liquid at a gas temperature accepted; water counts apart."""
    coldest = input_row("gas_temperature").low
    return component != "water" and float(critical_constants((component,))[0, 0]) > coldest


def library_gases(present: Sequence[Gas | DeclaredGas]) -> tuple[Gas | DeclaredGas, ...]:
    """The gases of a job first, then those of the library whose composition is known, no name twice."""
    found: dict[str, Gas | DeclaredGas] = {}
    for gas in (*present, *(load(name) for name in fuels())):
        if gas in present or not isinstance(gas, DeclaredGas):
            found.setdefault(gas.name.casefold(), gas)
    return tuple(found.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One column of the chain: a gas at a pressure at a place."""

    suffix: str  # of its names
    title: str
    gas_cell: str
    pressure_cell: str
    ambient: str  # formula of its ambient pressure
    gas: GasRow
    gauge_pressure_Pa: float
    ambient_pressure_Pa: float
    temperature_K: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainStep:
    """A step of the chain: the name of its cell, what it is, its formula and what is to be said beside it."""

    name: str
    label: str
    unit: str
    pattern: str
    formula: str  # {s} stands for the suffix of the state
    note: str = ""


def _series(column: str, powers: Sequence[float], weights: Sequence[float]) -> str:
    """A series in T with coefficients of the page of gases; a weight of 0 leaves the term out."""
    parts = []
    for place, (power, weight) in enumerate(zip(powers, weights, strict=True)):
        if weight:
            times = "" if weight == 1 else f"{weight:g}*"
            by = "" if power == 0 else f"/temperature^{power:g}"
            parts.append(f"{times}INDEX({column}_{place},gas_place{{s}}){by}")
    return "+".join(parts)


CHAIN: tuple[ChainStep, ...] = (
    ChainStep(name="ambient_pressure", label="Ambient pressure, absolute p2", unit="Pa", pattern="0.0",
         formula="{ambient}"),
    ChainStep(name="absolute_pressure", label="Absolute pressure before the orifice", unit="Pa", pattern="0.0",
         formula="IF(AND(ISNUMBER({pressure}),{pressure}>0,{pressure}*pressure_unit+ambient_pressure{s}>=lowest_pressure,"
         "{pressure}*pressure_unit+ambient_pressure{s}<=highest_pressure),"
         "{pressure}*pressure_unit+ambient_pressure{s},NE)",
         note="gauge + ambient; within the range of the gas density"),
    ChainStep(name="gas_place", label="Row of the gas", unit="", pattern="0", formula="MATCH({gas},gas_names,0)",
         note="on the page Gases"),
    ChainStep(name="molar_mass", label="Molar mass M", unit="kg/mol", pattern="0.000000",
         formula="INDEX(gas_molar_mass,gas_place{s})"),
    ChainStep(name="heating_value", label="Heating value H", unit="J/kg", pattern="0.0000E+00",
         formula="INDEX(gas_heating_value,gas_place{s})", note="on the basis of the ratings"),
    ChainStep(name="virial", label="Second virial coefficient B", unit="m3/mol", pattern="0.0000E+00",
         formula=_series("gas_virial", EXPONENTS, (1, 1, 1, 1, 1)),
         note="series in 1/T, anchored at the compression factor of ISO 6976 at 15 °C"),
    ChainStep(name="virial_slope", label="T dB/dT", unit="m3/mol", pattern="0.0000E+00",
         formula="-(" + _series("gas_virial", EXPONENTS, EXPONENTS) + ")"),
    ChainStep(name="virial_curve", label="T² d²B/dT²", unit="m3/mol", pattern="0.0000E+00",
         formula=_series("gas_virial", EXPONENTS, [e * (e + 1) for e in EXPONENTS])),
    ChainStep(name="heat_capacity", label="Ideal heat capacity over R", unit="-", pattern="0.0000",
         formula="+".join(f"INDEX(gas_heat_{i},gas_place{{s}})*(temperature/1000)^{i}" for i in range(5))),
    ChainStep(name="dew_pressure", label="Dew pressure", unit="Pa", pattern='[>1E+90]"none";0', formula="vapour_dew{v}",
         note="from the page Vapour; none where nothing of the gas can be liquid"),
    ChainStep(name="compression_factor", label="Compression factor Z", unit="-", pattern="0.000000",
         formula="IF(virial{s}*absolute_pressure{s}/(gas_constant*temperature)>-0.2,"
         "(1+SQRT(1+4*virial{s}*absolute_pressure{s}/(gas_constant*temperature)))/2,NE)",
         note="Z = 1 + B ρ, ρ = p1/(Z R T)"),
    ChainStep(name="molar_density", label="Molar density", unit="mol/m3", pattern="0.0000",
         formula="IF(absolute_pressure{s}<=dew_pressure{s},"
         "absolute_pressure{s}/(compression_factor{s}*gas_constant*temperature),NE)",
         note="not evaluated above the dew pressure: part of the gas would be liquid"),
    ChainStep(name="density", label="Density before the orifice ρ1", unit="kg/m3", pattern="0.00000",
         formula="molar_density{s}*molar_mass{s}*gas_constant/standard_gas_constant",
         note="ISO 6976 rounds the gas constant"),
    ChainStep(name="heat_capacity_volume", label="Heat capacity cv over R", unit="-", pattern="0.0000",
         formula="heat_capacity{s}-1-molar_density{s}*(2*virial_slope{s}+virial_curve{s})"),
    ChainStep(name="isentropic_exponent", label="Isentropic exponent κ", unit="-", pattern="0.00000",
         formula="(1+2*virial{s}*molar_density{s}+(1+molar_density{s}*(virial{s}+virial_slope{s}))^2"
         "/heat_capacity_volume{s})/compression_factor{s}"),
    ChainStep(name="critical_ratio", label="Critical pressure ratio", unit="-", pattern="0.00000",
         formula="(2/(isentropic_exponent{s}+1))^(isentropic_exponent{s}/(isentropic_exponent{s}-1))"),
    ChainStep(name="pressure_ratio", label="Pressure ratio τ", unit="-", pattern="0.00000",
         formula="MAX(ambient_pressure{s}/absolute_pressure{s},critical_ratio{s}+0)",
         note="ambient over absolute, held at the critical ratio when choked"),
    ChainStep(name="flow_state", label="Flow", unit="", pattern="General",
         formula='IF(ambient_pressure{s}/absolute_pressure{s}<=critical_ratio{s}+0,"choked","subcritical")'),
    ChainStep(name="mass_flux", label="Ideal mass flux", unit="kg/(s m2)", pattern="0.000",
         formula="SQRT(2*density{s}*absolute_pressure{s}*isentropic_exponent{s}/(isentropic_exponent{s}-1)"
         "*(pressure_ratio{s}^(2/isentropic_exponent{s})"
         "-pressure_ratio{s}^((isentropic_exponent{s}+1)/isentropic_exponent{s})))",
         note="converging nozzle, discharge coefficient 1"),
    ChainStep(name="viscosity", label="Viscosity of the gas", unit="Pa s", pattern="0.000E+00",
         formula=" + ".join(f"INDEX(gas_viscosity_{i},gas_place{{s}})*((temperature-{MIDDLE_K})/{HALF_SPAN_K:g})^{i}"
                            for i in range(VISCOSITY_TERMS)).replace(" ", ""),
         note="for the Reynolds number of a coefficient that depends on it"),
)  # fmt: skip


def values(state: State) -> dict[str, Value]:
    """What the formulas of the chain give for a state, by name; "not evaluated" where the program has no figure."""
    gas, t = state.gas, state.temperature_K
    pressure = state.gauge_pressure_Pa + state.ambient_pressure_Pa
    parts = [b * t**-e for b, e in zip(gas.virial, EXPONENTS, strict=True)]
    virial = sum(parts)
    slope = -sum(e * part for e, part in zip(EXPONENTS, parts, strict=True))
    curve = sum(e * (e + 1) * part for e, part in zip(EXPONENTS, parts, strict=True))
    capacity = sum(a * (t / 1000.0) ** i for i, a in enumerate(gas.heat))
    dew = dew_pressure(gas, t)
    made: dict[str, Value] = {
        "ambient_pressure": state.ambient_pressure_Pa,
        "dew_pressure": dew,
        "absolute_pressure": pressure,
        "molar_mass": gas.molar_mass_kg_per_mol,
        "heating_value": gas.heating_value_J_per_kg,
        "virial": virial,
        "virial_slope": slope,
        "virial_curve": curve,
        "heat_capacity": capacity,
        "viscosity": sum(m * ((t - MIDDLE_K) / HALF_SPAN_K) ** i for i, m in enumerate(gas.viscosity)),
    }
    load_of_pressure = virial * pressure / (GAS_CONSTANT * t)
    if load_of_pressure <= -0.2:
        return made
    factor = (1.0 + math.sqrt(1.0 + 4.0 * load_of_pressure)) / 2.0
    made["compression_factor"] = factor
    if pressure > dew:
        return made
    molar = pressure / (factor * GAS_CONSTANT * t)
    cv = capacity - 1.0 - molar * (2.0 * slope + curve)
    k = (1.0 + 2.0 * virial * molar + (1.0 + molar * (virial + slope)) ** 2 / cv) / factor
    critical = float(critical_pressure_ratio(k))
    plain = state.ambient_pressure_Pa / pressure
    ratio = max(plain, critical)
    density = molar * gas.molar_mass_kg_per_mol * GAS_CONSTANT / constant("R")
    psi = k / (k - 1.0) * (ratio ** (2.0 / k) - ratio ** ((k + 1.0) / k))
    return made | {
        "molar_density": molar,
        "density": density,
        "heat_capacity_volume": cv,
        "isentropic_exponent": k,
        "critical_ratio": critical,
        "pressure_ratio": ratio,
        "flow_state": "choked" if plain <= critical else "subcritical",
        "mass_flux": math.sqrt(2.0 * density * pressure * psi),
    }


def dew_pressure(gas: GasRow, temperature_K: float) -> float:
    """Pressure at which a gas of the page starts to condense [Pa]; ``NO_DEW`` where nothing of it does."""
    if not gas.fractions:
        return NO_DEW
    names, shares = tuple(gas.fractions), list(gas.fractions.values())
    found = float(dew_pressure_Pa(names, shares, temperature_K))
    return found if math.isfinite(found) else NO_DEW


@dataclass(frozen=True, slots=True, kw_only=True)
class VapourRow:
    """Vapour pressure of a component: its constants, and the value at a temperature."""

    component: str
    critical_temperature_K: float
    critical_pressure_Pa: float
    terms: tuple[float, ...]

    def pressure_Pa(self, temperature_K: float) -> Value:
        """Of the pure liquid [Pa]; "no liquid" above the critical temperature."""
        if temperature_K >= self.critical_temperature_K:
            return NO_LIQUID
        tau = 1.0 - temperature_K / self.critical_temperature_K
        powers = (tau, tau**1.5, tau**2.5, tau**5)
        exponent = sum(a * b for a, b in zip(self.terms, powers, strict=True))
        return self.critical_pressure_Pa * math.exp(exponent * self.critical_temperature_K / temperature_K)


NO_LIQUID = "no liquid"


def vapour_rows(gases: Sequence[GasRow]) -> tuple[VapourRow, ...]:
    """Every component of the gases of the page that can condense."""
    names = tuple(sorted({name for gas in gases for name in gas.fractions}))
    return tuple(
        VapourRow(
            component=name,
            critical_temperature_K=float(critical_constants((name,))[0, 0]),
            critical_pressure_Pa=float(critical_constants((name,))[0, 1]),
            terms=tuple(map(float, vapour_pressure_terms((name,))[0])),
        )
        for name in names
    )


def guarded(formula: str) -> str:
    """A formula that says "not evaluated" where a cell it takes is missing or out of range; NE stands for the words.

    >>> guarded("IF(a>0,1/a,NE)")
    '=IFERROR(IF(a>0,1/a,"not evaluated"),"not evaluated")'
    """
    return "=" + re.sub(r"\bNE\b", f'"{NOT_EVALUATED}"', f"IFERROR({formula},NE)")
