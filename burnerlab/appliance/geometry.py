"""A burner of the project file as the geometry the room of burners works on."""

from __future__ import annotations

from burnerlab.appliance.gasfacts import GasFacts
from burnerlab.appliance.model import Burner, OwnTables
from burnerlab.burner.burner import BurnerGeometry, EvaluationOptions, Surroundings
from burnerlab.burner.drawn import drawn_air_per_gas
from burnerlab.orifice.discharge import Discharge
from burnerlab.orifice.flow import OrificeFlow

NO_PORTS = "the ports of the burner are not given"


def geometry(burner: Burner, flow: OrificeFlow, discharge: Discharge) -> BurnerGeometry:
    """The geometry of a burner with the orifice of a flow, whose coefficient and its spread ``discharge`` holds.

    Raises ValueError for a burner without ports.
    """
    ports, shutter = burner.ports, burner.shutter
    if ports is None:
        raise ValueError(NO_PORTS)
    return BurnerGeometry(
        port_width_m=ports.diameter_m,
        port_count=ports.count,
        port_depth_m=ports.depth_m,
        slot_length_m=ports.slot_length_m,
        port_discharge=ports.discharge,
        port_temperature_K=ports.temperature_K,
        orifice_diameter_m=flow.diameter_m,
        orifice_count=flow.count,
        orifice_coefficient=flow.coefficient,
        orifice_coefficient_low=discharge.low,
        orifice_coefficient_high=discharge.high,
        throat_m=burner.throat_m,
        tube_loss=burner.tube_loss,
        shutter_area_m2=None if shutter is None else shutter.full_area_m2,
        shutter_opening=1.0 if shutter is None else shutter.opening,
        inlet_loss=None if shutter is None else shutter.loss,
    )


def drawn_aeration(
    burner: Burner, gas: GasFacts, flow: OrificeFlow, discharge: Discharge, own: OwnTables
) -> float | None:
    """Primary aeration a burner draws on a gas as built, shutter as in the file [-].

    None where throat or ports are not given, for a gas without composition, and for a choked jet.
    """
    volumes, kilograms = gas.used.stoichiometric_air_mol_per_mol, gas.air_kg_per_kg
    missing = burner.ports is None or burner.throat_m is None
    if missing or volumes is None or kilograms is None or flow.choked:
        return None
    place = Surroundings(
        ambient_pressure_Pa=flow.conditions.ambient_pressure_Pa,
        gas_temperature_K=flow.conditions.gas_temperature_K,
        air_temperature_K=flow.conditions.gas_temperature_K,
    )
    molar = volumes / kilograms  # molar mass over that of air
    drawn = drawn_air_per_gas(
        geometry(burner, flow, discharge), molar, place, EvaluationOptions(own=own.burner_coefficients)
    )
    return float(drawn) / volumes
