"""What a regulator does to the burners behind it: rate against its setting, outlet against its inlet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from burnerlab.appliance.conversion.burner_conversion import discharge_of, law_of
from burnerlab.appliance.conversion.flame_stability import NO_COMPOSITION, burner_stability, on_gas
from burnerlab.appliance.conversion.gas_facts import GasStates
from burnerlab.appliance.conversion.headline import UnitSpread, drill_band, unit_spread
from burnerlab.appliance.operation.network import Plant, Solution
from burnerlab.appliance.operation.operate import at_manifold_pressure, burners_on, prepare, settled
from burnerlab.appliance.operation.result import RatedInput, aims_gross_W, rated_input
from burnerlab.appliance.project.basis import RatedBasis, rated_basis
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.appliance.project.supply_train import Train, TrainRegulator
from burnerlab.burner.burner import BurnerFuel, EvaluationOptions
from burnerlab.burner.evaluation import evaluate, fuel_with_flame
from burnerlab.burner.jet_momentum import choked_jet_spread, jet_area_ratio
from burnerlab.burner.stability_diagram import OnGas
from burnerlab.burner.tile_evaluation import Band
from burnerlab.gas import Gas
from burnerlab.orifice import nozzle
from burnerlab.orifice.flow import Conditions, flow
from burnerlab.quantity.outputs import computed_output, flat, output
from burnerlab.quantity.show import number
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.quantity.units import Kind
from burnerlab.supply.regulator import typical
from burnerlab.tables import End
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

EXPONENT_ROUNDS = 4  # the exponent hardly changes with the pressure that chokes
ROWS = 5  # where the user names none
SAME = 0.01  # share of a pressure within which two are one row
FLAME_TOPICS = ("lift", "light-back", "yellow tipping")
NO_TRAIN = "no regulator is described under [supply]: each setting is the pressure at the manifold"


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerAtSetting:
    """One burner of a kind at one setting of the regulator, all that are on together."""

    burner: str = field(metadata=output("burner"))
    gauge_pressure_Pa: float = field(metadata=output("at the orifice", Kind.GAUGE_PRESSURE))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_low_gross_W: float = field(metadata=output("heat input, low", Kind.POWER, basis="gross"))
    """With the largest droop of its kind of regulator, and drill and coefficient as made."""
    heat_input_high_gross_W: float = field(metadata=output("heat input, high", Kind.POWER, basis="gross"))
    deviation: float = field(metadata=output("off rating", Kind.FRACTION, is_change=True))
    """Of the heat input from the rating after the altitude policy [-]."""
    verdict: Verdict = field(metadata=output("verdict"))
    """Of the heat input against its rating, over the interval as made."""
    choked: bool = field(metadata=output("choked"))
    primary_aeration: float | None = field(metadata=output("primary air", Kind.FRACTION))
    """None where ports, throat or the composition of the gas are not given."""
    primary_aeration_low: float | None = field(metadata=output("primary air, low", Kind.FRACTION))
    primary_aeration_high: float | None = field(metadata=output("primary air, high", Kind.FRACTION))
    flame: str = field(metadata=output("flame"))
    """The worst of lift, light-back and yellow tips at this rate, in words; "" where none was evaluated."""
    why_no_air: str = field(default="", metadata=output("why no primary air"))
    """Why primary air and flame were not evaluated; "" where they were."""

    @property
    def possible_overfire(self) -> bool:
        """Whether it lies above its band."""
        return self.verdict == Verdict.OUTSIDE and self.deviation > 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingRow:
    """The burners at one setting of the regulator."""

    setting_gauge_pressure_Pa: float = field(metadata=output("set", Kind.GAUGE_PRESSURE))
    lock_up_gauge_pressure_Pa: float | None = field(metadata=output("lock-up", Kind.GAUGE_PRESSURE))
    """With every burner off; None without a regulator."""
    least_inlet_gauge_pressure_Pa: float | None = field(metadata=output("inlet needed", Kind.GAUGE_PRESSURE))
    inlet_suffices: bool | None = field(metadata=output("inlet suffices"))
    """Whether the inlet of the file is that high; None where either is not known."""
    total_heat_input_gross_W: float = field(metadata=output("all that are on", Kind.POWER, basis="gross"))
    burners: tuple[BurnerAtSetting, ...] = field(metadata=output("burners"))


@dataclass(frozen=True, slots=True, kw_only=True)
class InletRow:
    """Outlet of the regulator and heat input of the burners at one inlet pressure."""

    inlet_gauge_pressure_Pa: float = field(metadata=output("inlet", Kind.GAUGE_PRESSURE))
    outlet_gauge_pressure_Pa: float = field(metadata=output("outlet", Kind.GAUGE_PRESSURE))
    outlet_gauge_pressure_low_Pa: float = field(metadata=output("outlet, low", Kind.GAUGE_PRESSURE))
    """At the ends of the inlet effect of its kind."""
    outlet_gauge_pressure_high_Pa: float = field(metadata=output("outlet, high", Kind.GAUGE_PRESSURE))
    lock_up_gauge_pressure_Pa: float = field(metadata=output("lock-up", Kind.GAUGE_PRESSURE))
    lock_up_gauge_pressure_low_Pa: float = field(metadata=output("lock-up, low", Kind.GAUGE_PRESSURE))
    lock_up_gauge_pressure_high_Pa: float = field(metadata=output("lock-up, high", Kind.GAUGE_PRESSURE))
    inlet_suffices: bool | None = field(metadata=output("inlet suffices"))
    """None where the least inlet is not known."""
    total_heat_input_gross_W: float = field(metadata=output("all that are on", Kind.POWER, basis="gross"))
    total_heat_input_low_gross_W: float = field(
        metadata=output("all that are on, low", Kind.POWER, basis="gross")
    )
    total_heat_input_high_gross_W: float = field(
        metadata=output("all that are on, high", Kind.POWER, basis="gross")
    )


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class RegulatorCurves(WithSummary):
    """Rate of the burners against the setting of their regulator, and its outlet against its inlet."""

    appliance: str = field(metadata=output("appliance"))
    gas: str = field(metadata=output("gas"))
    on: tuple[str, ...] = field(metadata=output("on"))
    regulator: str = field(metadata=output("regulator"))
    """Its kind; "" where the file names none."""
    set_point_gauge_pressure_Pa: float | None = field(metadata=output("set at", Kind.GAUGE_PRESSURE))
    inlet_effect: float | None = field(metadata=output("inlet effect"))
    """Change of the outlet per change of the inlet [-]."""
    stated_inlet_gauge_pressure_Pa: float | None = field(
        metadata=output("stated at an inlet of", Kind.GAUGE_PRESSURE)
    )
    settings: tuple[SettingRow, ...] = field(metadata=output("settings"))
    inlets: tuple[InletRow, ...] = field(metadata=output("inlets"))
    evidence: Evidence = field(metadata=output("evidence"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    rated: RatedBasis  # of the file, on which its heat inputs are printed

    @property
    @computed_output("warnings")
    def warnings(self) -> tuple[str, ...]:
        """From which setting on a burner overfires, each burner once."""
        first: dict[str, float] = {}
        for row in self.settings:
            for burner in row.burners:
                if burner.possible_overfire:
                    first.setdefault(burner.burner, row.setting_gauge_pressure_Pa)
        return tuple(
            f"WARNING: Possible overfire: {burner} from a setting of {number(pressure / 1e2)} mbar up."
            for burner, pressure in sorted(first.items(), key=lambda item: item[1])
        )

    def setting_rows(self) -> list[dict[str, Any]]:
        """A row for each setting and burner, by key, as CSV and data frame have them."""
        return [{**flat(row), **flat(burner)} for row in self.settings for burner in row.burners]

    def summary(self) -> Summary:
        heads = ("set", "burner", f"heat input {self.rated.word}", "choked", "primary air")
        rows = tuple(
            (
                figure(row.setting_gauge_pressure_Pa, Kind.GAUGE_PRESSURE),
                burner.burner,
                figure(burner.heat_input_gross_W * self.rated.of_gross, Kind.POWER),
                "yes" if burner.choked else "no",
                "-" if burner.primary_aeration is None else f"{100 * burner.primary_aeration:.0f} %",
            )
            for row in self.settings
            for burner in row.burners
        )
        words = f"{self.appliance} on {self.gas}: {len(self.settings)} settings of its regulator"
        return Summary(words, (heads, *rows), self.warnings)


def regulator_curves(
    appliance: Appliance,
    *,
    settings_Pa: Sequence[float] = (),
    inlets_Pa: Sequence[float] = (),
    on: Sequence[str] | None = None,
) -> RegulatorCurves:
    """Rate, air and flame of each burner at settings of the regulator, and the regulator's outlet at inlet pressures.

    settings_Pa : set points, gauge [Pa]; in steps over the range of its kind where none is named
    inlets_Pa : gauge [Pa]; from the least it needs to twice that of the file where none is named
    on : names of the burners that burn, None for all
    A regulator of an adjustable kind keeps its spring: droop and lock-up stay in pascals at every setting. Any other is
    taken with another spring, droop and lock-up in proportion. Settings whose gas would be partly liquid are left out.
    Raises UserError where no setting can be computed, or for a burner the appliance has not.

    >>> from burnerlab.appliance import demonstration
    >>> curves = regulator_curves(demonstration(), settings_Pa=[1500.0, 1768.5], on=["stock-pot ring"])
    >>> [round(row.total_heat_input_gross_W) for row in curves.settings]
    [8138, 8831]
    """
    names = burners_on(appliance, on)
    train = appliance.supply.train
    regulator = None if train is None else train.regulator
    notes = [NO_TRAIN] if regulator is None else []
    rows: list[SettingRow] = []
    fuel = _fuel(appliance)
    for setting in settings_Pa or _usual_settings(appliance, regulator):
        try:
            rows.append(_setting_row(appliance, float(setting), names, fuel))
        except UserError as error:
            why = "; ".join(problem.text() for problem in error.problems)
            notes.append(f"set to {number(setting / 1e2)} mbar left out: {why}")
    if not rows:
        raise UserError(Problem("no setting can be computed", notes[-1], "setting"))
    inlets, more = _inlet_rows(appliance, inlets_Pa, names)
    return RegulatorCurves(
        appliance=appliance.name,
        gas=appliance.supply.gas.name,
        on=names,
        regulator="" if regulator is None else regulator.type,
        set_point_gauge_pressure_Pa=None if regulator is None else regulator.set_point_Pa,
        inlet_effect=None if regulator is None else regulator.inlet_effect,
        stated_inlet_gauge_pressure_Pa=None if train is None else _stated_inlet_Pa(train),
        settings=tuple(rows),
        inlets=inlets,
        evidence=Evidence.ENTERED if regulator is None else regulator.evidence,
        notes=(*notes, *_of_choked(rows), *more),
        rated=rated_basis(appliance),
    )


CHOKED_AIR = (
    "primary air of a choked jet by its momentum, the thrust of a converging nozzle; its band is a judgement, for no"
    " measured burner on a choked jet is known"
)


def _of_choked(rows: Sequence[SettingRow]) -> list[str]:
    choked = (one.choked and one.primary_aeration is not None for row in rows for one in row.burners)
    return [CHOKED_AIR] if any(choked) else []


def _fuel(appliance: Appliance) -> BurnerFuel | None:
    gas = appliance.supply.gas
    return fuel_with_flame(gas, appliance.tables.burner_coefficients) if isinstance(gas, Gas) else None


def _stated_inlet_Pa(train: Train) -> float | None:
    regulator = train.regulator
    if regulator is None or regulator.stated_inlet_Pa is None:
        return train.inlet_gauge_pressure_Pa
    return regulator.stated_inlet_Pa


def _usual_settings(appliance: Appliance, regulator: TrainRegulator | None) -> list[float]:
    """The set points of its kind in equal steps, and its own; a fifth either way of it where the kind has no range."""
    if regulator is None:
        low, high = (share * appliance.supply.gauge_pressure_Pa for share in (0.5, 1.5))
    else:
        low, high = 0.8 * regulator.set_point_Pa, 1.2 * regulator.set_point_Pa
        kind = typical(regulator.type, appliance.tables.regulators).set_point_Pa if regulator.type else None
        if kind is not None and kind.low < kind.high:
            low, high = kind.low, kind.high
    steps = np.linspace(0.0, high, ROWS + 2)[1:] if low == 0.0 else np.linspace(low, high, ROWS)
    own = appliance.supply.gauge_pressure_Pa if regulator is None else regulator.set_point_Pa
    is_among = bool(np.any(np.abs(steps / own - 1.0) < SAME))
    return sorted([*steps.tolist(), *([] if is_among else [own])])


def at_setting(appliance: Appliance, set_point_Pa: float, end: End = "value") -> Appliance:
    """The appliance with its regulator set to a pressure; at an end of what its kind leaves open.

    set_point_Pa : gauge [Pa]; without a regulator the pressure at the manifold
    end : "low" with the largest droop and the least lock-up, "high" the other way round
    """
    supply, train = appliance.supply, appliance.supply.train
    if train is None or train.regulator is None:
        return at_manifold_pressure(appliance, set_point_Pa)
    density = GasStates(supply.gas).density_kg_per_m3(
        supply.gas_temperature_K, set_point_Pa + supply.ambient_pressure_Pa
    )
    moved = replace(
        train,
        regulator=_set_to(train.regulator, set_point_Pa, end),
        nominal_gauge_pressure_Pa=set_point_Pa,
        gas_density_kg_per_m3=float(density),
    )
    plain = replace(
        supply,
        gauge_pressure_Pa=set_point_Pa,
        low_gauge_pressure_Pa=None,
        high_gauge_pressure_Pa=None,
        train=moved,
    )
    return replace(appliance, supply=plain)


def _set_to(regulator: TrainRegulator, set_point_Pa: float, end: End) -> TrainRegulator:
    by = 1.0 if regulator.is_adjustable else set_point_Pa / regulator.set_point_Pa
    droop, lock_up, spread = regulator.droop_Pa, regulator.lock_up_Pa, regulator.spread
    if spread is not None and end != "value":
        is_low = end == "low"
        droop = spread.droop_high_Pa if is_low else spread.droop_low_Pa
        lock_up = spread.lock_up_low_Pa if is_low else spread.lock_up_high_Pa
    least = regulator.minimum_inlet_Pa
    return replace(
        regulator,
        set_point_Pa=set_point_Pa,
        droop_Pa=by * droop,
        lock_up_Pa=by * lock_up,
        minimum_inlet_Pa=None if least is None else least + set_point_Pa - regulator.set_point_Pa,
    )


def _solved(appliance: Appliance, names: Sequence[str]) -> tuple[Plant, Solution]:
    flags = np.array([[burner.name in names for burner in appliance.burners]])
    plant, solution = settled(prepare(appliance), flags)
    if bool(solution.starved[0]):
        raise UserError(Problem("the supply gives these burners no pressure", ", ".join(names), "supply"))
    return plant, solution


def _heats_W(plant: Plant, solution: Solution) -> list[float]:
    """Gross heat input of one burner of each kind [W]; 0 where it is off."""
    return [float(m) * plant.gas.heating_value_J_per_kg("gross") for m in solution.flow_kg_per_s[0]]


def _setting_row(
    appliance: Appliance, set_point_Pa: float, names: Sequence[str], fuel: BurnerFuel | None
) -> SettingRow:
    here = at_setting(appliance, set_point_Pa)
    plant, solution = _solved(here, names)
    heats = _heats_W(plant, solution)
    has_spread = appliance.supply.train is not None and appliance.supply.train.regulator is not None
    ends = [
        _heats_W(*_solved(at_setting(appliance, set_point_Pa, end), names)) if has_spread else heats
        for end in ("low", "high")
    ]
    regulator = None if here.supply.train is None else here.supply.train.regulator
    inlet = None if here.supply.train is None else here.supply.train.inlet_gauge_pressure_Pa
    least = None if regulator is None else regulator.minimum_inlet_Pa
    burners = tuple(
        _burner_row(plant, solution, place, (heats[place], ends[0][place], ends[1][place]), fuel)
        for place, burner in enumerate(here.burners)
        if burner.name in names
    )
    return SettingRow(
        setting_gauge_pressure_Pa=set_point_Pa,
        lock_up_gauge_pressure_Pa=None if plant.regulator is None else _lock_up_Pa(plant),
        least_inlet_gauge_pressure_Pa=least,
        inlet_suffices=None if least is None or inlet is None else inlet >= least,
        total_heat_input_gross_W=sum(
            heat * burner.count for heat, burner in zip(heats, here.burners, strict=True)
        ),
        burners=burners,
    )  # fmt: skip


def _lock_up_Pa(plant: Plant) -> float:
    """Outlet with every burner off, never above the inlet [Pa gauge]."""
    assert plant.regulator is not None
    pressure = plant.regulator.lock_up_pressure_Pa + float(
        plant.regulator.inlet_shift_Pa(plant.inlet_gauge_Pa)
    )
    return pressure if plant.inlet_gauge_Pa is None else min(pressure, plant.inlet_gauge_Pa)


def _burner_row(
    plant: Plant,
    solution: Solution,
    place: int,
    heats_W: tuple[float, float, float],
    fuel: BurnerFuel | None,
) -> BurnerAtSetting:
    """One burner: heats_W its gross heat input at the setting, and at both ends of the regulator's spread."""
    appliance, (heat, least, most) = plant.appliance, heats_W
    burner, absolute = appliance.burners[place], float(solution.orifice_pressure_Pa[0, place])
    gauge = absolute - plant.ambient_Pa
    at = Conditions(
        gauge_pressure_Pa=gauge,
        ambient_pressure_Pa=plant.ambient_Pa,
        gas_temperature_K=appliance.supply.gas_temperature_K,
    )
    orifice = burner.orifice
    stream = flow(
        appliance.supply.gas, orifice.diameter_m, at, law_of(orifice, appliance.tables), orifice.count
    )
    used = discharge_of(orifice, stream, None, appliance.tables)
    spread = unit_spread(used, drill_band(orifice, appliance.tables), orifice.diameter_m)
    low, high = (0.0, 0.0) if spread is None else (spread.low, spread.high)
    rated = _rated(appliance, burner, heat, spread)
    exponent = float(plant.stream.exponent_at(np.asarray(absolute)))
    air = _air_and_flame(appliance, burner, gauge, fuel)
    return BurnerAtSetting(
        burner=burner.name,
        gauge_pressure_Pa=gauge,
        heat_input_gross_W=heat,
        heat_input_low_gross_W=heat * (1.0 - math.hypot(low, min(least / heat - 1.0, 0.0))),
        heat_input_high_gross_W=heat * (1.0 + math.hypot(high, max(most / heat - 1.0, 0.0))),
        deviation=rated.deviation,
        verdict=rated.verdict,
        choked=bool(nozzle.choked(gauge, plant.ambient_Pa, exponent)),
        **air,
    )


def _rated(appliance: Appliance, burner: Burner, heat_W: float, spread: UnitSpread | None) -> RatedInput:
    both = heat_W, aims_gross_W(appliance)[burner.name]
    return rated_input(burner.name, "", both, spread, appliance.limits.tolerance)


def _air_and_flame(
    appliance: Appliance, burner: Burner, gauge_pressure_Pa: float, fuel: BurnerFuel | None
) -> dict[str, Any]:
    """Primary air with its band, and the worst limit of the flame, at full rate; nothing where they are not known."""
    unknown: dict[str, Any] = {
        "primary_aeration": None,
        "primary_aeration_low": None,
        "primary_aeration_high": None,
        "flame": "",
    }
    if fuel is None:
        return unknown | {"why_no_air": NO_COMPOSITION}
    plain = replace(burner, turndown=None)
    found = burner_stability(appliance, plain, fuel=fuel, gauge_pressure_Pa=gauge_pressure_Pa)
    if not found.rates:
        return unknown | {"why_no_air": found.not_evaluated[0].why}
    air, flames = found.rates[0].primary_aeration, [found]
    if math.isnan(air.value):
        air = _choked_air(on_gas(appliance, plain, fuel=fuel), gauge_pressure_Pa)
        if math.isnan(air.value):
            return unknown | {"why_no_air": found.rates[0].state.air.why_not}
        flames = [
            burner_stability(
                appliance,
                plain,
                fuel=fuel,
                gauge_pressure_Pa=gauge_pressure_Pa,
                options=EvaluationOptions(aeration=end),
            )
            for end in (air.value, air.low, air.high)
        ]
    limits = [finding for each in flames for finding in each.findings if finding.topic in FLAME_TOPICS]
    worst = min(limits, key=lambda finding: finding.verdict.rank, default=None)
    return {
        "primary_aeration": air.value,
        "primary_aeration_low": air.low,
        "primary_aeration_high": air.high,
        "flame": "" if worst is None else f"{worst.topic} {worst.verdict}",
    }


JUST_BELOW = 1.0 - 1e-4  # of the pressure that chokes


def _choked_air(case: OnGas, gauge_pressure_Pa: float) -> Band:
    """Primary air of a choked jet: that of the burner just below choking, its jet as much wider as its momentum says.

    The flow of the balance is that just below choking; the band is widened by what a choked jet leaves open. nan where
    the jet is not choked, and where the balance gives no air there either. Source: ``jet_momentum``.
    """
    place, gas, geometry = case.surroundings, case.fuel.gas, case.geometry
    ambient = float(np.asarray(place.ambient_pressure_Pa))

    def exponent(gauge_Pa: float) -> float:
        return float(
            np.asarray(
                gas.isentropic_exponent(float(np.asarray(place.gas_temperature_K)), gauge_Pa + ambient)
            )
        )

    chokes = ambient
    for _ in range(EXPONENT_ROUNDS):
        chokes = ambient * (1.0 / float(nozzle.critical_pressure_ratio(exponent(chokes))) - 1.0)
    at = gauge_pressure_Pa, ambient, exponent(gauge_pressure_Pa)
    if not bool(nozzle.choked(*at)):
        return Band(value=math.nan, low=math.nan, high=math.nan)
    just = jet_area_ratio(chokes, ambient, exponent(chokes))
    wider = jet_area_ratio(*at) / just
    ends = geometry.orifice_coefficient_low, geometry.orifice_coefficient_high
    low, high = (None if end is None else end * wider for end in ends)
    jet = replace(
        geometry,
        orifice_coefficient=geometry.orifice_coefficient * wider,
        orifice_coefficient_low=low,
        orifice_coefficient_high=high,
    )
    state = evaluate(jet, case.fuel, JUST_BELOW * chokes, place, case.options)
    air, band = float(state.primary_aeration), [float(end) for end in state.primary_aeration_band]
    open_low, open_high = (
        float(choked_jet_spread(*at, end, case.options.own)) - 1.0 for end in ("low", "high")
    )
    return Band(
        value=air,
        low=max(air - math.hypot(air - band[0], air * open_low), 0.0),
        high=air + math.hypot(band[1] - air, air * open_high),
    )


NO_INLET = (
    "outlet against inlet not evaluated: neither the inlet of [supply] nor the inlet that the regulator's figures are"
    " stated at is known"
)


def _inlet_rows(
    appliance: Appliance, inlets_Pa: Sequence[float], names: Sequence[str]
) -> tuple[tuple[InletRow, ...], list[str]]:
    """The rows of the outlet against the inlet, and what stays open."""
    train = appliance.supply.train
    if train is None or train.regulator is None:
        return (), []
    stated = _stated_inlet_Pa(train)
    if stated is None:
        return (), [NO_INLET]
    regulator, rows, notes = train.regulator, [], []
    for inlet in inlets_Pa or _usual_inlets(regulator, stated):
        try:
            rows.append(_inlet_row(appliance, train, float(inlet), names))
        except UserError as error:
            why = "; ".join(problem.text() for problem in error.problems)
            notes.append(f"an inlet of {number(inlet / 1e2)} mbar left out: {why}")
    spread = regulator.spread
    source = f" ({regulator.inlet_effect_source})" if regulator.inlet_effect_source else ""
    ends = "" if spread is None else f", {spread.inlet_effect_low:g} to {spread.inlet_effect_high:g}"
    notes.append(f"inlet effect {regulator.inlet_effect:g} of the change of the inlet{ends}{source}")
    return tuple(rows), notes


def _usual_inlets(regulator: TrainRegulator, stated_Pa: float) -> list[float]:
    """From the least it needs to twice the inlet its figures are stated at, in equal ratios."""
    least = regulator.minimum_inlet_Pa or 1.1 * regulator.set_point_Pa
    return [float(p) for p in np.geomspace(least, 2.0 * max(stated_Pa, least), ROWS)]


def _inlet_row(appliance: Appliance, train: Train, inlet_Pa: float, names: Sequence[str]) -> InletRow:
    assert train.regulator is not None
    spread, value = train.regulator.spread, train.regulator.inlet_effect
    effects = [value]
    if spread is not None:
        effects += [spread.inlet_effect_low, spread.inlet_effect_high]
    outlets, lock_ups, heats = [], [], []
    for effect in effects:
        regulator = replace(train.regulator, inlet_effect=effect, stated_inlet_Pa=_stated_inlet_Pa(train))
        moved = replace(train, regulator=regulator, inlet_gauge_pressure_Pa=inlet_Pa)
        there = replace(appliance, supply=replace(appliance.supply, train=moved))
        plant, solution = _solved(there, names)
        along = plant.trunk_Pa(solution.trunk_flow_kg_per_s)
        outlets.append(float(along[-1 if plant.regulator_is_last else 0][0]) - plant.ambient_Pa)
        lock_ups.append(_lock_up_Pa(plant))
        counts = [burner.count for burner in appliance.burners]
        heats.append(sum(h * n for h, n in zip(_heats_W(plant, solution), counts, strict=True)))
    least = train.regulator.minimum_inlet_Pa
    return InletRow(
        inlet_gauge_pressure_Pa=inlet_Pa,
        outlet_gauge_pressure_Pa=outlets[0],
        outlet_gauge_pressure_low_Pa=min(outlets),
        outlet_gauge_pressure_high_Pa=max(outlets),
        lock_up_gauge_pressure_Pa=lock_ups[0],
        lock_up_gauge_pressure_low_Pa=min(lock_ups),
        lock_up_gauge_pressure_high_Pa=max(lock_ups),
        inlet_suffices=None if least is None else inlet_Pa >= least,
        total_heat_input_gross_W=heats[0],
        total_heat_input_low_gross_W=min(heats),
        total_heat_input_high_gross_W=max(heats),
    )
