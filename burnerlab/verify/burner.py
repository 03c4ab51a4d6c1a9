"""Measures of burners: primary air, ports, the flame's limits, the ceramic tile."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from burnerlab.burner import ports, stability
from burnerlab.burner import primary_air as primary_air_model
from burnerlab.burner.burner import (
    BurnerGeometry,
    EvaluationOptions,
    MixtureTemperatures,
    Surroundings,
    burner_fuel,
)
from burnerlab.burner.coefficients import coefficients
from burnerlab.burner.evaluation import burning_of, evaluate, flame_limits, fuel_with_flame
from burnerlab.burner.hot_burner import BurnerPlace, hot_burner, mixture_flow, pipe_body, port_way_m
from burnerlab.burner.port_resistance import (
    PortStream,
    channel_temperature,
    linear_heating,
    port_losses,
    port_resistance,
)
from burnerlab.burner.ports import primary_mixture
from burnerlab.burner.primary_air import BurnerSystem, Jet, JetFlow, MixingTube
from burnerlab.burner.stability import Mixture
from burnerlab.burner.tile import (
    Before,
    Firing,
    TileBurner,
    ceiling,
    efficiency_bound,
    free_burning_mass_flux,
    mass_flux_kg_per_m2s,
    radiated_W_per_m2,
)
from burnerlab.burner.tile_evaluation import TileState, evaluate_tile
from burnerlab.burner.tile_flame import burned_gas, mixture
from burnerlab.gas import Gas, load, mix
from burnerlab.gas.combustion_air import SEA_LEVEL_Pa, stoichiometric_air
from burnerlab.gas.heat_capacity import GAS_CONSTANT

# Measures of burners: primary air, ports, the flame's limits.

SQUARE_MM = 1e-6
METHANE_AIR = 9.547  # dry, 20.95 % oxygen
METHANE_BTU_PER_FT3 = 1010.0  # gross at 60 F, the base of the printed opening
BTU_J, INCH_M, FOOT_M = 1055.05585262, 0.0254, 0.3048


def _jet(inputs: Mapping[str, Any]) -> Jet:
    hole = math.pi / 4.0 * (1e-3 * inputs["jet_mm"]) ** 2
    return Jet(
        effective_area_m2=inputs["jet_discharge"] * hole,
        hole_area_m2=hole,
        relative_density=inputs["relative_density"],
    )


def _best_throat_m2(inputs: Mapping[str, Any]) -> float:
    return float(
        primary_air_model.best_throat_area_m2(
            inputs["port_mm2"] * SQUARE_MM,
            inputs["port_discharge"] ** -2.0,
            inputs["loss"],
            inputs["temperature_ratio"],
        )
    )


def primary_air(inputs: Mapping[str, Any]) -> float:
    """Primary aeration by the momentum balance."""
    jet, model = _jet(inputs), inputs["model"]
    throat = _best_throat_m2(inputs) if model == "best throat" else inputs["throat_mm2"] * SQUARE_MM
    if model == "free":
        return 100.0 * float(primary_air_model.free_tube(jet, throat)) / float(inputs["stoichiometric_air"])
    tube = MixingTube(
        throat_area_m2=throat,
        port_area_m2=inputs["port_mm2"] * SQUARE_MM,
        port_resistance=inputs["port_discharge"] ** -2.0,
        loss=inputs["loss"],
        temperatures=MixtureTemperatures(head_ratio=inputs["temperature_ratio"]),
        inlet_area_m2=inputs["inlet_mm2"] * SQUARE_MM if "inlet_mm2" in inputs else None,
        inlet_loss=inputs.get("inlet_loss", 1.0),
    )
    return 100.0 * float(primary_air_model.air_per_gas(jet, tube)) / float(inputs["stoichiometric_air"])


def free_tube(inputs: Mapping[str, Any]) -> float:
    """Air per gas of a tube without losses."""
    return float(primary_air_model.free_tube(_jet(inputs), inputs["throat_mm2"] * SQUARE_MM))


def best_throat(inputs: Mapping[str, Any]) -> float:
    """Throat area that draws most air."""
    return _best_throat_m2(inputs) / SQUARE_MM


def injector_flow(inputs: Mapping[str, Any]) -> float:
    """Flow of an injector by the incompressible formula, with the air density of the source."""
    area = math.pi / 4.0 * (1e-3 * inputs["jet_mm"]) ** 2
    head = 2.0 * 100.0 * float(inputs["pressure_mbar"]) / (inputs["relative_density"] * 1.188)
    return float(3600.0 * inputs["discharge"] * area * math.sqrt(head))


def _velocity(inputs: Mapping[str, Any]) -> float:
    air = float(inputs["stoichiometric_air"]) * float(inputs["aeration"])
    return float(ports.mixture_velocity_m_per_s(inputs["loading"], 1e6 * inputs["heating_value_MJ"], air))


def port_velocity(inputs: Mapping[str, Any]) -> float:
    """Velocity of the mixture in the ports."""
    return _velocity(inputs)


def gradient(inputs: Mapping[str, Any]) -> float:
    """Gradient at the wall of a round port."""
    return float(ports.laminar_gradient_per_s(_velocity(inputs), 1e-3 * inputs["port_mm"]))


def slot_gradient(inputs: Mapping[str, Any]) -> float:
    """Gradient at the wall of a slot."""
    return float(ports.laminar_gradient_per_s(_velocity(inputs), 1e-3 * inputs["port_mm"], slot=True))


def cone_height(inputs: Mapping[str, Any]) -> float:
    """Height of the inner cone, or of a slot's wedge."""
    speeds = inputs["velocity_m_per_s"], inputs["burning_velocity_m_per_s"]
    return 1e3 * float(ports.inner_cone_height_m(*speeds, 1e-3 * inputs["port_mm"]))


def shutter(inputs: Mapping[str, Any]) -> float:
    """Open area of the air inlet that draws a wanted air per gas."""
    tube = MixingTube(
        throat_area_m2=inputs["throat_mm2"] * SQUARE_MM,
        port_area_m2=inputs["port_mm2"] * SQUARE_MM,
        port_resistance=inputs["port_discharge"] ** -2.0,
        loss=inputs["loss"],
        inlet_area_m2=1.0,
    )
    return (
        float(primary_air_model.shutter_area(_jet(inputs), tube, inputs["air_per_gas"]).area_m2) / SQUARE_MM
    )


def fraction(inputs: Mapping[str, Any]) -> float:
    """Fuel fraction of the primary mixture over the stoichiometric one."""
    return float(stability.gas_fraction(inputs["stoichiometric_air"], inputs["aeration"]))


def fraction_of_gas(inputs: Mapping[str, Any]) -> float:
    """The same for a gas by its composition."""
    air = stoichiometric_air(mix(inputs["mix"], per="mole"))
    return float(stability.gas_fraction(air, inputs["aeration_percent"] / 100.0))


def diffusivity(inputs: Mapping[str, Any]) -> float:
    """Thermal diffusivity of gas and primary air."""
    gas = mix(inputs["mix"], per="mole")
    parts = gas.composition
    air = stoichiometric_air(gas) / inputs["phi"]
    found = primary_mixture(parts.names, parts.fractions, air, 298.15)
    return float(found.thermal_diffusivity_m2_per_s)


def _mixture(speed: float, alpha: float) -> Mixture:
    return Mixture(burning_velocity_m_per_s=np.asarray(speed), thermal_diffusivity_m2_per_s=np.asarray(alpha))


def light_back(inputs: Mapping[str, Any]) -> float:
    """Wall gradient of light-back by a factor and burning velocity given."""
    return float(
        stability.light_back_gradient_per_s(_mixture(inputs["Su"], inputs["alpha"]), inputs["factor"])
    )


def _tabulated(inputs: Mapping[str, Any], equivalence_ratio: Any) -> Mixture:
    gas = mix(inputs["mix"], per="mole")
    burning, parts = burning_of(gas).burning, gas.composition
    assert burning is not None
    air = stoichiometric_air(gas) / equivalence_ratio
    flow = primary_mixture(parts.names, parts.fractions, air, 298.15)
    return Mixture(
        burning_velocity_m_per_s=burning(equivalence_ratio, 298.15, 101325.0),
        thermal_diffusivity_m2_per_s=flow.thermal_diffusivity_m2_per_s,
    )


def light_back_peak(inputs: Mapping[str, Any]) -> float:
    """Highest wall gradient of light-back of a gas over all mixtures, from our tables."""
    ratios = np.linspace(0.7, 2.2, 301)
    return float(np.max(stability.light_back_limit(_tabulated(inputs, ratios)).value))


def lift(inputs: Mapping[str, Any]) -> float:
    """Wall gradient of lift of a gas in air at 298.15 K, from our tables."""
    fuel = fuel_with_flame(_gas(inputs))
    air, fraction = fuel.stoichiometric_air, float(inputs["F"])
    cold = Surroundings(air_temperature_K=STANDARD_K)
    aeration = np.asarray(((1.0 + air) / fraction - 1.0) / air)
    port = BurnerGeometry(port_width_m=1.6e-3, port_count=1, orifice_diameter_m=1e-3)
    return float(flame_limits(port, fuel, aeration, cold, EvaluationOptions()).lift.value)


def yellow_tip(inputs: Mapping[str, Any]) -> float:
    """Least primary aeration without yellow tips."""
    limit = stability.yellow_tip_limit(mix(inputs["mix"], per="mole")).limit
    assert limit is not None
    return 100.0 * float(limit.value)


def quenching(inputs: Mapping[str, Any]) -> float:
    """Quenching distance between plates of the stoichiometric flame, from our tables."""
    flame = _tabulated(inputs, 1.0)
    return 1e3 * float(
        ports.quenching_distance_m(flame.thermal_diffusivity_m2_per_s, flame.burning_velocity_m_per_s)
    )


def loading_in_trade_units(inputs: Mapping[str, Any]) -> float:
    """Port loading from Btu/(h in2)."""
    heat = inputs["loading_Btu_per_h_in2"] * BTU_J / 3600.0
    return float(ports.loading_W_per_mm2(heat, INCH_M**2))


def secondary_opening(inputs: Mapping[str, Any]) -> float:
    """Opening for the secondary air of 1000 Btu/h of methane."""
    gas_flow = 1000.0 / METHANE_BTU_PER_FT3 * FOOT_M**3 / 3600.0
    air = ports.secondary_air_m3_per_s(gas_flow, METHANE_AIR, 0.5, 0.4)
    return float(ports.secondary_opening_m2(air, inputs["velocity_ft_per_s"] * FOOT_M)) / INCH_M**2


def _hot_and_cold_aeration() -> tuple[float, float]:
    """Primary aeration hot and cold of a steel tube burner of 3.66 kW on natural gas in the open, once steady."""
    gas = load("natural-gas-typical")
    assert isinstance(gas, Gas)
    fuel = burner_fuel(gas)
    burner = BurnerGeometry(
        port_width_m=1.6e-3,
        port_count=180,
        port_depth_m=3e-3,
        orifice_diameter_m=1.397e-3,
        throat_m=15.5e-3,
        shutter_area_m2=93e-6,
    )
    place = Surroundings()
    cold = evaluate(burner, fuel, 1743.7, place)
    room_K = float(np.asarray(place.air_temperature_K))
    body = pipe_body("steel", 1.3e-3, (0.4, 0.025), (0.15, 0.0175), port_way_m(1.6e-3, 3e-3, 180))
    flow = mixture_flow(fuel, cold.heat_input_gross_W, cold.primary_aeration, room_K)
    open_room = BurnerPlace(room_K=room_K, gas_K=room_K, surface_K=room_K)
    warm = hot_burner(body, flow, open_room, cold.heat_input_gross_W, (900.0,)).steady_mixture
    temperatures = MixtureTemperatures(
        throat_ratio=warm.throat_ratio(room_K), head_ratio=warm.head_ratio(room_K), port_rise=warm.port_rise
    )
    hot = evaluate(burner, fuel, 1743.7, place, EvaluationOptions(temperatures=temperatures))
    return float(hot.primary_aeration), float(cold.primary_aeration)


def hot_over_cold(inputs: Mapping[str, Any]) -> float:
    """Hot over cold primary aeration of a steel tube in the open, by the thermal model."""
    hot, cold = _hot_and_cold_aeration()
    return hot / cold


def aeration_lost_hot(inputs: Mapping[str, Any]) -> float:
    """Hot less cold primary aeration of a steel tube in the open, by the thermal model."""
    hot, cold = _hot_and_cold_aeration()
    return 100.0 * (hot - cold)


OXYGEN_IN_NITROGEN_298_K_m2_per_s = 2.064e-5  # Cantera, kinetic theory of GRI-Mech 3.0


def flame_height_temperature(inputs: Mapping[str, Any]) -> float:
    """Temperature at which the oxygen diffusivity gives the constant of the flame height."""
    constant = coefficients()["flame height, round port"].value
    cooling = constant * 4.0 * math.pi * OXYGEN_IN_NITROGEN_298_K_m2_per_s  # (T0/Tf)^0.67
    return float(298.15 * cooling ** (-1.0 / 0.67))


# Measures of ports that resist the flow: a port alone, and a burner whose air its ports decide.


def port(inputs: Mapping[str, Any]) -> float:
    """Resistance of a port on the head of the mixture that comes to it."""
    entry_K, exit_K, onto = inputs["entry_K"], inputs["exit_K"], 1.0
    heating = linear_heating(exit_K / entry_K)
    if inputs["profile"] == "exp":
        along = channel_temperature(entry_K, exit_K, inputs["depth_mm"], inputs["decay_length_mm"])
        heating, onto = along.heating, float(along.entry_K) / entry_K
    model = port_resistance(
        inputs["reynolds"],
        inputs["depth_mm"] / inputs["hydraulic_diameter_mm"],
        slot=inputs["shape"] == "slot",
        heating=heating,
        losses=port_losses(inputs["end"]),
    )
    return onto * float(model.total)


AIR_VISCOSITY_Pa_s, AT_K, VISCOSITY_POWER = 1.80e-5, 288.15, 0.7  # of the printed examples, gas and air alike


def _port_stream(inputs: Mapping[str, Any], warm: MixtureTemperatures, area_m2: float) -> PortStream:
    hole = math.pi / 4.0 * (1e-3 * inputs["jet_mm"]) ** 2
    density = inputs["air_density_kg_per_m3"]
    head = math.sqrt(2.0 * inputs["relative_density"] * density * inputs["pressure_Pa"])
    flow = inputs["jet_discharge"] * hole * head * inputs.get("load", 1.0)
    warmer, like_air = float(warm.head_ratio), np.asarray(1.0)
    fluid = ports.Transport(
        viscosity_Pa_s=np.asarray(AIR_VISCOSITY_Pa_s * warmer**VISCOSITY_POWER),
        conductivity_W_per_mK=like_air,
        molar_mass_kg_per_mol=like_air,
        heat_capacity_J_per_molK=like_air,
    )
    width = 1e-3 * inputs["port_mm"]
    return PortStream(
        gas_flux_kg_per_m2s=flow / area_m2,
        relative_density=inputs["relative_density"],
        gas=fluid,
        air=fluid,
        air_density_kg_per_m3=density / warmer,
        hydraulic_diameter_m=width,
        depth_over_diameter=1e-3 * inputs["depth_mm"] / width,
        slot=False,
        heating=linear_heating(warm.port_rise),
        losses=port_losses(),
        discharge=inputs["port_resistance"] ** -0.5 if "port_resistance" in inputs else None,
    )


def air_of_ports(inputs: Mapping[str, Any]) -> float:
    """Primary aeration of a burner whose ports resist as they do at its flow."""
    ratios = {name: inputs.get(name, 1.0) for name in ("throat_ratio", "head_ratio", "port_rise")}
    warm = MixtureTemperatures(**ratios)
    area = float(ports.port_area_m2(1e-3 * inputs["port_mm"], inputs["port_count"]))
    tube = MixingTube(
        throat_area_m2=math.pi / 4.0 * (1e-3 * inputs["throat_mm"]) ** 2,
        port_area_m2=area,
        port_resistance=1.0,
        loss=0.5,
        temperatures=warm,
        inlet_area_m2=inputs["inlet_mm2"] * SQUARE_MM,
        inlet_loss=1.0,
    )
    system = BurnerSystem(
        jet=_jet(inputs),
        tube=tube,
        ports=_port_stream(inputs, warm, area),
        flow=JetFlow(heat_input_gross_W=np.asarray(np.nan)),  # the balance asks for the jet's area alone
        factor=np.asarray(1.0),
    )
    air = primary_air_model.entrainment(system).air_per_gas
    return 100.0 * float(air) / float(inputs["stoichiometric_air"])


_BURNER: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "primary air by momentum": primary_air,
    "primary air with port resistance": air_of_ports,
    "port resistance": port,
    "air by free tube": free_tube,
    "best throat area": best_throat,
    "injector flow": injector_flow,
    "port velocity": port_velocity,
    "wall gradient round": gradient,
    "wall gradient slot": slot_gradient,
    "inner cone height": cone_height,
    "shutter area": shutter,
    "gas fraction": fraction,
    "gas fraction of gas": fraction_of_gas,
    "thermal diffusivity": diffusivity,
    "light-back gradient": light_back,
    "light-back peak": light_back_peak,
    "lift gradient": lift,
    "hot over cold aeration": hot_over_cold,
    "aeration lost hot": aeration_lost_hot,
    "temperature behind the flame height": flame_height_temperature,
    "yellow-tip aeration": yellow_tip,
    "quenching distance": quenching,
    "loading from Btu/h in2": loading_in_trade_units,
    "secondary opening": secondary_opening,
}


# Measures of the ceramic tile: ceiling, plane flame on a tile, what a pot before it does.

STANDARD_K = 298.15


def _gas(inputs: Mapping[str, Any]) -> Gas:
    return mix(inputs["mix"], per="mole")


def _ceiling(inputs: Mapping[str, Any]) -> tuple[float, float]:
    """Temperature of the face [K] and radiant efficiency where the gas leaves a gap hotter than the face."""
    gas, mixed = _gas(inputs), mixture(_gas(inputs), 1.0 / inputs["equivalence_ratio"])
    flux = mass_flux_kg_per_m2s(gas, mixed, inputs["net_kW_per_m2"] * 1e3)
    room = Before(surroundings_K=STANDARD_K)
    found = ceiling(
        mixed, flux, inputs["emissivity"], room, gap_K=inputs.get("gap_K", 0.0), mixture_K=STANDARD_K
    )
    return float(found.face_K), float(found.radiated_W_per_m2) / (inputs["net_kW_per_m2"] * 1e3)


def face_with_gap(inputs: Mapping[str, Any]) -> float:
    """Temperature of a tile's face that the gas leaves by a gap hotter."""
    return _ceiling(inputs)[0] - 273.15


def efficiency_with_gap(inputs: Mapping[str, Any]) -> float:
    """Radiant efficiency of a tile's face that the gas leaves by a gap hotter, net."""
    return _ceiling(inputs)[1]


def largest_efficiency(inputs: Mapping[str, Any]) -> float:
    """Largest radiant efficiency of a tile's face at a temperature, net."""
    gas = _gas(inputs)
    return float(efficiency_bound(gas, mixture(gas, 1.0 / inputs["equivalence_ratio"]), inputs["face_K"]))


def _plane(inputs: Mapping[str, Any], before: Before) -> TileState:
    tile = TileBurner(
        area_m2=1.0,
        emissivity=inputs.get("emissivity", 0.9),
        area_factor=1.0,
        recovery=inputs.get("recovery", 0.0),
        loss_W_per_m2K=0.0,
    )
    firing = Firing(aeration=1.0 / inputs["equivalence_ratio"], mixture_K=STANDARD_K)
    return evaluate_tile(tile, _gas(inputs), inputs["net_kW_per_m2"] * 1e3, "net", firing, before)


def plane_face(inputs: Mapping[str, Any]) -> float:
    """Temperature of a plane tile's face under a flat flame."""
    return _plane(inputs, Before(surroundings_K=298.0)).surface_temperature_K.value


def plane_efficiency(inputs: Mapping[str, Any]) -> float:
    """Radiant efficiency of a plane tile's face under a flat flame, net."""
    return _plane(inputs, Before(surroundings_K=298.0)).radiant_efficiency_net.value


def flame_gas(inputs: Mapping[str, Any]) -> float:
    """Burned gas of a flat flame on a cooled surface."""
    gas, mixed = _gas(inputs), mixture(_gas(inputs), 1.0 / inputs["equivalence_ratio"])
    flux = mass_flux_kg_per_m2s(gas, mixed, inputs["net_kW_per_m2"] * 1e3)
    return float(burned_gas(gas, mixed.aeration, flux).temperature_K)


def free_burning(inputs: Mapping[str, Any]) -> float:
    """Burning velocity at which a tile's flame gives the face no heat."""
    gas, mixed = _gas(inputs), mixture(_gas(inputs), 1.0 / inputs["equivalence_ratio"])
    flux = free_burning_mass_flux(gas, mixed, Firing(aeration=mixed.aeration, mixture_K=STANDARD_K))
    mole_kg = float(mixed.mass_kg_per_mol) / (1.0 + float(mixed.air_mol_per_mol))
    return 100.0 * float(flux) * GAS_CONSTANT * STANDARD_K / (SEA_LEVEL_Pa * mole_kg)


def pot_raises_face(inputs: Mapping[str, Any]) -> float:
    """Rise of a tile's face under a bright pot against a dark one, same input."""
    faces = [
        _plane(
            inputs, Before(view_factor=inputs["view_factor"], target_emissivity=e, target_K=400.0)
        ).surface_temperature_K.value
        for e in (inputs["bright"], inputs["dark"])
    ]
    return faces[0] - faces[1]


def two_plates(inputs: Mapping[str, Any]) -> float:
    """Net radiation of one of two grey plates open to black surroundings."""
    before = Before(
        surroundings_K=inputs["surroundings_K"],
        view_factor=inputs["view_factor"],
        target_emissivity=inputs["emissivity_2"],
        target_K=inputs["T2_K"],
    )
    found = radiated_W_per_m2(inputs["T1_K"], inputs["emissivity_1"], before)
    return float(found.from_face if inputs["plate"] == 1 else -found.to_target)


TILE_MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "tile face with gas hotter by a gap": face_with_gap,
    "tile efficiency with gas hotter by a gap": efficiency_with_gap,
    "tile largest efficiency": largest_efficiency,
    "plane tile face": plane_face,
    "plane tile efficiency": plane_efficiency,
    "tile burned gas": flame_gas,
    "tile free-burning velocity": free_burning,
    "tile face under a bright pot": pot_raises_face,
    "radiation of two plates": two_plates,
}

MEASURES = _BURNER | TILE_MEASURES
