"""From the words of the supply to its train: sizes, fittings and typical regulators looked up, heat made mass flow."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from burnerlab.appliance import model
from burnerlab.appliance.examples import inlet_above
from burnerlab.appliance.train import Manifold, Run, Train, TrainRegulator
from burnerlab.appliance.train_schema import OfSetPoint
from burnerlab.supply.piping import Pipe, fitting, roughness, size_named
from burnerlab.supply.regulator import Typical, typical
from burnerlab.supply.valve import Valve, valve_of_bore, valve_of_Cv, valve_of_Kv
from burnerlab.tables.evidence import Evidence, weakest

if TYPE_CHECKING:
    from burnerlab.appliance import schema
    from burnerlab.appliance.problems import Problems
    from burnerlab.appliance.train_schema import ManifoldText, RegulatorText, RunText, ValveText

DEFAULT_MATERIAL = {"hose": "rubber", "pipe": "steel", "manifold": "steel"}
TOTAL = "rated flow taken as the rates of all burners"


def train_of(
    text: schema.ProjectText, key: str, supply: model.Supply, tables: model.OwnTables, found: Problems
) -> Train | None:
    """The train under ``supply`` or ``new_supply`` of a project file; None when the file gives none.

    supply : the gas and the pressure its figures hold for
    """
    given = _parts(text, key)
    parts = (given.regulator, given.hose, given.pipe, given.manifold, given.valve)
    valves = [burner.valve for burner in text.burner if burner.valve is not None]
    if not any(parts) and not valves:
        lost = any(found.unread.touch((key, part)) for part in ("regulator", "hose", "pipe"))
        if given.inlet is not None and not lost:
            what = "is given without a regulator, hose or pipe behind it"
            found.add((key, "inlet"), what, fix="describe them, or leave it out")
        return None
    _inlet(given, key, supply, found)
    runs = [
        made
        for kind, run in (("hose", given.hose), ("pipe", given.pipe))
        if run is not None and (made := _run(key, kind, run, tables, found)) is not None
    ]
    absolute = supply.gauge_pressure_Pa + supply.ambient_pressure_Pa
    train = Train(
        nominal_gauge_pressure_Pa=supply.gauge_pressure_Pa,
        gas_density_kg_per_m3=float(supply.gas.density_kg_per_m3(supply.gas_temperature_K, absolute)),
        inlet_gauge_pressure_Pa=given.inlet,
        runs=tuple(runs),
        valve=_valve(given.valve, key, tables, found),
        regulator=_regulator(text, key, supply, tables, found),
        manifold=_manifold(given.manifold, len(text.burner), _manifold_key(text, key), tables, found),
    )
    return _checked(train, key, found)


def _parts(text: schema.ProjectText, key: str) -> schema.SupplyText | schema.NewSupplyText:
    """What the table describes; manifold and valve of the new supply are the present ones unless it has its own."""
    own = text.new_supply
    if key == "supply" or own is None:
        return text.supply
    kept = {"manifold": own.manifold or text.supply.manifold, "valve": own.valve or text.supply.valve}
    return own.model_copy(update=kept)


def _manifold_key(text: schema.ProjectText, key: str) -> str:
    """The table whose manifold serves: that of the present supply unless the new one has its own."""
    return "supply" if text.new_supply is None or text.new_supply.manifold is None else key


def _inlet(
    given: schema.SupplyText | schema.NewSupplyText, key: str, supply: model.Supply, found: Problems
) -> None:
    """The pressure before hose, pipe and a regulator behind them must be there."""
    first = given.regulator is not None and given.regulator.position == "first"
    if first or given.inlet is not None or not (given.hose or given.pipe or given.regulator):
        return
    after = given.regulator.set if given.regulator is not None and given.regulator.set else 0.0
    value = inlet_above(found.data, key, max(supply.gauge_pressure_Pa, after))
    what = "is missing: the pressure before hose, pipe and a regulator behind them"
    fix = f'add inlet = "{value}", with the gauge pressure that is there'
    found.add((key, "inlet"), what, accepted="a gauge pressure above that behind the regulator", fix=fix)


def _valve(text: ValveText | None, key: str, tables: model.OwnTables, found: Problems) -> Valve | None:
    if text is None:
        return None
    made: list[Valve] = []
    with found.at(key, "valve", "bore"):
        made.append(valve(text, tables))
    return made[0] if made else None


def _checked(train: Train, key: str, found: Problems) -> Train:
    if found.unread.touch((key, "regulator")) or found.unread.touch((key, "pressure")):
        return train
    regulator, inlet = train.regulator, train.inlet_gauge_pressure_Pa
    if regulator is not None and inlet is not None and inlet <= regulator.set_point_Pa:
        what = "is not above the set point of the regulator"
        value = inlet_above(found.data, key, regulator.set_point_Pa)
        fix = f'check both: "{value}" would be above it'
        found.add((key, "inlet"), what, fix=fix)
    if regulator is not None and regulator.droop_Pa >= regulator.set_point_Pa:
        what, fix = (
            "is not below the set point",
            "give the fall of the outlet from no flow to the rated one",
        )
        found.add((key, "regulator", "droop"), what, fix=fix)
    return train


def _bore(
    key: str, kind: str, text: RunText | ManifoldText, tables: model.OwnTables, found: Problems
) -> tuple[float, float, tuple[str, ...], Evidence] | None:
    """Bore [m], roughness [m], what was assumed, and on what that rests; None when a name is not known."""
    before = len(found.problems)
    size = None
    with found.at(key, kind, "size", of="pipes"):
        size = None if text.size is None else size_named(text.size, tables.pipes)
    bore = size.bore_m if size is not None else text.bore or 0.0
    if text.roughness is not None:
        return (bore, text.roughness, (), Evidence.ENTERED) if bore else None
    material = text.material or (size.material if size is not None else DEFAULT_MATERIAL[kind])
    walls = []
    with found.at(key, kind, "material", of="roughness"):
        walls.append(roughness(material, tables.roughness))
    if not walls or not bore or len(found.problems) > before:
        return None
    (wall,) = walls
    said = f"roughness of {material}: {wall.value * 1e3:g} mm ({wall.provenance})"
    return bore, wall.value, (said,), weakest(Evidence.ENTERED, wall.evidence)


def _run(key: str, kind: str, text: RunText, tables: model.OwnTables, found: Problems) -> Run | None:
    known = _bore(key, kind, text, tables, found)
    total, listed, rests = 0.0, list[str](), list[Evidence]()
    for name, count in text.fittings.items():
        with found.at(key, kind, "fittings", name, of="fittings"):
            one = fitting(name, tables.fittings)
            total += count * one.value
            rests.append(one.evidence)
            listed.append(
                f"{count} x {one.name}: K {one.value:g}, {one.low:g} to {one.high:g} ({one.provenance})",
            )
    if known is None:
        return None
    bore, wall, assumed, evidence = known
    pipe = Pipe(length_m=text.length, diameter_m=bore, roughness_m=wall, loss_coefficient=total, name=kind)
    with found.at(key, kind, "roughness"):
        pipe.check()
    return Run(
        kind=kind,
        pipe=pipe,
        size=text.size or "",
        assumed=(*assumed, *listed),
        evidence=weakest(evidence, *rests),
    )


def _manifold(
    text: ManifoldText | None, burners: int, key: str, tables: model.OwnTables, found: Problems
) -> Manifold | None:
    if text is None:
        return None
    spacings = text.spacing * burners if len(text.spacing) == 1 else text.spacing
    if len(spacings) != burners and ("burner",) not in found.unread.paths:
        what = f"gives {len(spacings)} distances for {burners} kinds of burner"
        found.add((key, "manifold", "spacing"), what, fix="give one, or one before each burner")
        spacings = text.spacing[:1] * burners
    known = _bore(key, "manifold", text, tables, found)
    if known is None:
        return None
    bore, wall, assumed, evidence = known
    return Manifold(
        diameter_m=bore, roughness_m=wall, spacings_m=spacings, assumed=assumed, evidence=evidence
    )


def valve(text: ValveText, tables: model.OwnTables) -> Valve:
    """A valve by whichever of its three figures is given."""
    if text.Kv is not None:
        return valve_of_Kv(text.Kv)
    if text.Cv is not None:
        return valve_of_Cv(text.Cv)
    return valve_of_bore(text.bore or 0.0, text.coefficient, tables.supply_limits)


def _regulator(
    text: schema.ProjectText, key: str, supply: model.Supply, tables: model.OwnTables, found: Problems
) -> TrainRegulator | None:
    given = _parts(text, key).regulator
    if given is None:
        return None
    kind: Typical | None = None
    with found.at(key, "regulator", "type", of="regulators"):
        kind = (
            None
            if given.type is None
            else typical(given.type, tables.regulators, near_Pa=given.set or supply.gauge_pressure_Pa)
        )
    if given.type is not None and kind is None:
        return None
    heat = float(supply.gas.heating_value_J_per_kg(text.appliance.rating))
    total = sum(burner.rate * burner.count for burner in text.burner)
    figures, assumed, unknown = _figures(given, kind, supply.gauge_pressure_Pa)
    if given.rated is None and figures["droop_Pa"] > 0.0:
        assumed.append(TOTAL)
    return TrainRegulator(
        set_point_Pa=figures["set_point_Pa"],
        droop_Pa=figures["droop_Pa"],
        lock_up_Pa=figures["lock_up_Pa"],
        rated_flow_kg_per_s=(given.rated or total) / heat,
        flow_limit_kg_per_s=None if given.limit is None else given.limit / heat,
        **_minimum_inlet(given, kind, figures["set_point_Pa"]),
        last=given.position == "last",
        type="" if kind is None else kind.name,
        assumed=tuple(assumed),
        unknown=tuple(unknown),
    )


def _minimum_inlet(given: RegulatorText, kind: Typical | None, set_point_Pa: float) -> dict[str, Any]:
    """The least inlet of the file, else what this kind needs above its set point, from the set point here."""
    if given.minimum_inlet is not None or kind is None:
        return {"minimum_inlet_Pa": given.minimum_inlet}
    typical_Pa = kind.minimum_inlet_Pa
    above = typical_Pa.value - kind.set_point_Pa.value
    return {
        "minimum_inlet_Pa": set_point_Pa + above,
        "minimum_inlet_source": f"{above:.4g} Pa above the set point, {typical_Pa.cite()}",
        "minimum_inlet_evidence": typical_Pa.evidence,
    }


def _figures(
    given: RegulatorText, kind: Typical | None, nominal_Pa: float
) -> tuple[dict[str, float], list[str], list[str]]:
    """Set point, droop and lock-up [Pa]; those taken from the table, and those not known at all."""
    assumed: list[str] = []
    unknown: list[str] = []
    if given.set is not None:
        found = {"set_point_Pa": given.set}
    else:
        found = {"set_point_Pa": nominal_Pa}
        assumed.append("set point taken as the pressure at the manifold")
    for key, words, own in (("droop_Pa", "droop", given.droop), ("lock_up_Pa", "lock-up", given.lock_up)):
        typical_share = None if kind is None else (kind.droop if key == "droop_Pa" else kind.lock_up)
        if own is not None:
            found[key] = own.share * found["set_point_Pa"] if isinstance(own, OfSetPoint) else own
        elif typical_share is not None:
            found[key] = typical_share.value * found["set_point_Pa"]
            spread = f"{100 * typical_share.low:g} to {100 * typical_share.high:g} %"
            assumed.append(
                f"{words} {100 * typical_share.value:g} % of the set point, {spread} ({typical_share.provenance})"
            )
        else:
            found[key] = 0.0
            unknown.append(words)
    return found, assumed, unknown
