"""One tile burner on one gas: face temperature, radiant efficiency, ceiling, band, and what must be looked at."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, isfinite
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from burnerlab.burner.arrays import array
from burnerlab.burner.checks import BurnerFinding
from burnerlab.burner.mixture import primary_mixture
from burnerlab.burner.tile import (
    TILE_TABLE,
    Balance,
    Face,
    Firing,
    TileBurner,
    ceiling,
    corner_faces,
    efficiency_bound,
    face_balance,
    free_burning_mass_flux,
    mass_flux_kg_per_m2s,
)
from burnerlab.burner.tile_exchange import Before
from burnerlab.burner.tile_findings import TileFacts, findings
from burnerlab.burner.tile_flame import burned_gas, flame_table, fuel_shares
from burnerlab.burner.tile_gas import TileMixture, mixture, mixture_enthalpy_J_per_kg
from burnerlab.quantity import Basis, Kind, Quantity, si
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables import figure
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.problem import Problem, UserError

NOTES = (
    "No measured curve of face temperature against firing could be read: the plane flame is the lower bound, gas that "
    "leaves as hot as the face the upper one, and the value between them rests on an assumed recovery.",
    "Carbon monoxide, even heating over the face and the life of the tile are not evaluated: test required.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """An expected value with the ends of its band, over the spread of every coefficient not given."""

    value: float
    low: float
    high: float

    @classmethod
    def of(cls, value: ArrayLike, ends: ArrayLike) -> Band:
        """From a value and the two ends along the last axis of an array."""
        low, high = np.asarray(ends)
        return cls(value=float(np.asarray(value)), low=float(low), high=float(high))


@dataclass(frozen=True, slots=True, kw_only=True)
class TileState:
    """A tile burner on a gas. Everything by area is by the plain area of the face."""

    tile: TileBurner
    firing: Firing
    before: Before
    gas: str = field(metadata=output("gas"))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    firing_density_net_W_per_m2: float = field(metadata=output("firing density", Kind.HEAT_FLUX, basis="net"))
    surface_temperature_K: Band = field(metadata=output("face", Kind.TEMPERATURE, is_band=True))
    surface_temperature_ceiling_K: float = field(metadata=output("ceiling of the face", Kind.TEMPERATURE))
    """The gas leaves as hot as the face and nothing is lost; most over the emissivity's spread."""
    radiant_efficiency_net: Band = field(
        metadata=output("radiant efficiency", Kind.FRACTION, basis="net", is_band=True)
    )
    radiant_efficiency_gross: Band = field(
        metadata=output("radiant efficiency", Kind.FRACTION, basis="gross", is_band=True)
    )
    radiant_efficiency_ceiling_net: float = field(
        metadata=output("ceiling of the radiant efficiency", Kind.FRACTION, basis="net")
    )
    """The same as of the face."""
    radiant_efficiency_ceiling_at_surface_temperature_net: float = field(
        metadata=output("ceiling at the expected temperature of the face", Kind.FRACTION, basis="net")
    )
    to_target_efficiency_net: Band | None = field(
        metadata=output("to the target", Kind.FRACTION, basis="net", is_band=True)
    )
    """Radiation the target takes, over the net heat input; None without a target."""
    radiated_W: float = field(metadata=output("radiated", Kind.POWER))
    loss_W: float = field(metadata=output("lost", Kind.POWER))
    burned_gas_temperature_K: float = field(metadata=output("burned gas", Kind.TEMPERATURE))
    """Where the face takes nothing back from it beyond the plane flame."""
    gas_leaving_temperature_K: float = field(metadata=output("gas leaves at", Kind.TEMPERATURE))
    plenum_side_temperature_K: Band = field(
        metadata=output("plenum side of the tile", Kind.TEMPERATURE, is_band=True)
    )
    apparent_emissivity: float = field(metadata=output("emissivity seen from outside"))
    mass_flux_kg_per_m2s: float = field(metadata=output("mass flux", unit="kg/m2s"))
    at_ceiling: bool = field(metadata=output("at the ceiling"))
    lift_margin: float | None = field(metadata=output("mass flux at which it lifts"))
    """Free-burning over actual mass flux; None where the table ends before."""
    findings: tuple[BurnerFinding, ...] = field(metadata=output("findings"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    evidence: Evidence = field(default=Evidence.ESTIMATE, metadata=output("evidence"))

    @property
    @computed_output("aeration")
    def aeration(self) -> float:
        """All air over stoichiometric air [-]."""
        return float(np.asarray(self.firing.aeration))

    @property
    @computed_output("area", Kind.AREA)
    def area_m2(self) -> float:
        """Plain area of the face."""
        return self.tile.area_m2

    @property
    @computed_output("firing density", Kind.HEAT_FLUX, basis="gross")
    def firing_density_gross_W_per_m2(self) -> float:
        """Heat input by area of the face."""
        return self.heat_input_gross_W / self.tile.area_m2

    @property
    @computed_output("radiated", Kind.HEAT_FLUX)
    def radiated_W_per_m2(self) -> float:
        """By area of the face."""
        return self.radiated_W / self.tile.area_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    """Everything the balance gives, before it is put into words."""

    mixed: TileMixture
    net_W: float
    net_to_gross: float
    density_W_per_m2: float
    flux: float
    free_flux: float | None
    burned_K: float
    face: Face
    expected: Balance
    spread: Balance  # at every corner of the coefficients' spread
    best: Balance  # the ceiling, over the spread of the emissivity


def plenum_rise_K(
    face_rise_K: float, flux_heat_W_per_m2K: float, thickness_m: float, conductivity: float
) -> float:
    """Rise of the tile's plenum side over the mixture, (Ts - T0) exp(-m cp L/k) [K].

    face_rise_K : Ts - T0 [K]; flux_heat_W_per_m2K : m cp of the mixture; thickness_m : L [m]; conductivity [W/(m K)].
    Range: tile and mixture of one temperature, radiation in the channels left out. Source: conduction against a flow.

    >>> plenum_rise_K(800.0, 66.0, 0.013, 0.5)
    143.8
    """
    return face_rise_K * exp(-flux_heat_W_per_m2K * thickness_m / conductivity)


def evaluate_tile(
    tile: TileBurner,
    gas: Any,
    heat_input_W: Quantity,
    basis: Basis,
    firing: Firing,
    before: Before | None = None,
    own: Path | None = None,
) -> TileState:
    """A tile burner on a gas at a rate: face temperature, radiant efficiency, ceiling and findings.

    gas : with a composition; heat_input_W : [W] on the basis gross or net; firing : aeration, mixture temperature,
    pressure; before : what the face sees, free-standing when left out; own : CSV of the columns of ``tile_properties``.
    Raises UserError where the flame leaves the face or the table of flames ends.

    >>> from burnerlab.gas import load
    >>> found = evaluate_tile(TileBurner(area_m2=0.015), load("propane"), 2400.0, "net", Firing(aeration=1.1))
    >>> face = found.surface_temperature_K
    >>> face.low < face.value < face.high <= found.surface_temperature_ceiling_K
    True
    """
    heat = si(heat_input_W, Kind.POWER, "heat_input_W")
    if any(np.ndim(one) for one in (firing.aeration, firing.mixture_K, firing.pressure_Pa)):
        fix = "go through the cases one by one"
        raise UserError(Problem("takes one firing, got an array", key="firing", fix=fix))
    around = before or Before()
    solved = _solve(tile, gas, (heat, basis), firing, around, own)
    expected, spread, density = solved.expected, solved.spread, solved.density_W_per_m2
    face = _band(expected.face_K, spread.face_K)
    share = _band(expected.radiated_W_per_m2 / density, spread.radiated_W_per_m2 / density)
    plenum = _plenum_side(tile, solved, face, firing, own)
    scale = solved.net_to_gross
    return TileState(
        tile=tile,
        gas=str(getattr(gas, "name", "composition")),
        firing=firing,
        before=around,
        heat_input_net_W=solved.net_W,
        heat_input_gross_W=solved.net_W / scale,
        firing_density_net_W_per_m2=density,
        mass_flux_kg_per_m2s=solved.flux,
        burned_gas_temperature_K=solved.burned_K,
        gas_leaving_temperature_K=float(expected.gas_out_K),
        surface_temperature_K=face,
        radiant_efficiency_net=share,
        radiant_efficiency_gross=Band(
            value=share.value * scale, low=share.low * scale, high=share.high * scale
        ),
        to_target_efficiency_net=_band(
            expected.to_target_W_per_m2 / density, spread.to_target_W_per_m2 / density
        )
        if np.any(around.view_factor)
        else None,
        radiated_W=float(expected.radiated_W_per_m2) * tile.area_m2,
        loss_W=float(expected.loss_W_per_m2) * tile.area_m2,
        apparent_emissivity=float(np.asarray(solved.face.emissivity)),
        surface_temperature_ceiling_K=float(np.max(solved.best.face_K)),
        radiant_efficiency_ceiling_net=float(np.max(solved.best.radiated_W_per_m2)) / density,
        radiant_efficiency_ceiling_at_surface_temperature_net=float(
            efficiency_bound(gas, solved.mixed, face.value, firing.mixture_K)
        ),
        at_ceiling=bool(expected.at_ceiling),
        lift_margin=None if solved.free_flux is None else solved.free_flux / solved.flux,
        plenum_side_temperature_K=plenum,
        findings=findings(_facts(tile, gas, solved, firing, (face, plenum, share)), own),
        notes=_notes(gas, own),
    )


def _solve(
    tile: TileBurner,
    gas: Any,
    rate: tuple[float, Basis],
    firing: Firing,
    around: Before,
    own: Path | None,
) -> _Solved:
    mixed = mixture(gas, firing.aeration)
    net_to_gross = gas.heating_value_J_per_kg("net") / gas.heating_value_J_per_kg("gross")
    net = rate[0] * (1.0 if rate[1] == "net" else net_to_gross)
    flux = float(mass_flux_kg_per_m2s(gas, mixed, net / tile.area_m2))
    free = float(free_burning_mass_flux(gas, mixed, firing, own))
    burned = _burned_K(gas, mixed, firing, flux, own)
    expected_face, corners = corner_faces(tile, own)
    spread = face_balance(mixed, flux, burned, corners, around, firing.mixture_K)
    expected = spread.at(-1)
    if bool(expected.lifted) or not np.isfinite(expected.face_K):
        most = f"below {_density(gas, mixed, free):.4g} kW/m2 net" if isfinite(free) else ""
        what = "the mixture comes faster than it burns at this aeration: the flame leaves the face"
        given = f"{net / tile.area_m2 / 1e3:.4g} kW/m2 net"
        fix = "take a larger face, less heat input or an aeration nearer to 1"
        raise UserError(Problem(what, value=given, key="firing density", accepted=most, fix=fix))
    return _Solved(
        mixed=mixed,
        net_W=net,
        net_to_gross=net_to_gross,
        density_W_per_m2=net / tile.area_m2,
        flux=flux,
        free_flux=free if isfinite(free) else None,
        burned_K=burned,
        face=expected_face,
        expected=expected,
        spread=spread,
        best=ceiling(mixed, flux, corners.emissivity, around, mixture_K=firing.mixture_K),
    )


def _density(gas: Any, mixed: TileMixture, flux: float) -> float:
    """Firing density of a mass flux, net [kW/m2]."""
    return float(flux * mixed.gas_mass_share * gas.heating_value_J_per_kg("net") / 1e3)


def _burned_K(gas: Any, mixed: TileMixture, firing: Firing, flux: float, own: Path | None) -> float:
    """Burned-gas temperature, or what the table of flames accepts instead."""
    found = burned_gas(gas, firing.aeration, flux, firing.pressure_Pa, own)
    if bool(found.inside):
        return float(found.temperature_K)
    ratios = flame_table().equivalence_ratios
    low, high = float(1.0 / ratios[-1]), float(1.0 / ratios[0])
    aeration = float(np.asarray(firing.aeration))
    if not low * (1 - 1e-9) <= aeration <= high * (1 + 1e-9):
        accepted = f"{low:.2f} to {high:.2f}"
        what = "outside the table of tile flames"
        raise UserError(Problem(what, value=f"{aeration:g}", key="aeration", accepted=accepted))
    ends = [_density(gas, mixed, float(end)) for end in (found.mass_flux_low, found.mass_flux_high)]
    raise UserError(
        Problem(
            "outside the table of tile flames",
            value=f"{_density(gas, mixed, flux):.4g} kW/m2 net",
            key="firing density",
            accepted=f"{ends[0]:.3g} to {ends[1]:.3g} kW/m2 net at this aeration",
            fix="check the area of the glowing face and the heat input",
        )
    )


def _band(expected: Any, spread: Any) -> Band:
    """Over the corners that hold a flame; a corner whose flame leaves the face has no temperature."""
    ends = np.append(spread, expected)
    return Band(value=float(expected), low=float(np.nanmin(ends)), high=float(np.nanmax(ends)))


def _plenum_side(tile: TileBurner, solved: _Solved, face: Band, firing: Firing, own: Path | None) -> Band:
    T0 = float(np.asarray(firing.mixture_K))
    gained = mixture_enthalpy_J_per_kg(solved.mixed, face.value) - mixture_enthalpy_J_per_kg(solved.mixed, T0)
    flux_heat = solved.flux * float(gained) / (face.value - T0)
    L, k = tile.figure("channel thickness", own), tile.figure("conductivity", own)
    return Band(
        value=T0 + plenum_rise_K(face.value - T0, flux_heat, L.value / 1e3, k.value),
        low=T0 + plenum_rise_K(face.low - T0, flux_heat, L.high / 1e3, k.low),
        high=T0 + plenum_rise_K(face.high - T0, flux_heat, L.low / 1e3, k.high),
    )


def _facts(
    tile: TileBurner, gas: Any, solved: _Solved, firing: Firing, bands: tuple[Band, Band, Band]
) -> TileFacts:
    face, plenum, share = bands
    density = primary_mixture(
        solved.mixed.names,
        solved.mixed.fractions,
        solved.mixed.air_mol_per_mol,
        array(firing.mixture_K),
        array(firing.pressure_Pa),
    )
    speed = None if solved.free_flux is None else solved.free_flux / float(density.density_kg_per_m3)
    return TileFacts(
        gas=gas,
        aeration=float(np.asarray(firing.aeration)),
        density_W_per_m2=solved.density_W_per_m2,
        face_K=(face.low, face.value, face.high),
        plenum_side_K=(plenum.low, plenum.value, plenum.high),
        efficiency=(share.low, share.value, share.high),
        gas_above_face_K=float(solved.expected.gas_out_K - solved.expected.face_K),
        lift_margin=None if solved.free_flux is None else solved.free_flux / solved.flux,
        burning_velocity_m_per_s=speed,
        diffusivity_m2_per_s=float(density.thermal_diffusivity_m2_per_s),
        channel_diameter_m=tile.channel_diameter_m,
    )


def _notes(gas: Any, own: Path | None) -> tuple[str, ...]:
    if fuel_shares(gas, own).exact:
        return NOTES
    error = figure(TILE_TABLE, "blend error", own)
    return (
        *NOTES,
        f"This gas is not in the table of flames: its burned gas is a blend of methane's, propane's and hydrogen's, "
        f"{error.low:+g} to {error.high:+g} K against direct solutions.",
    )
