"""Which train serves the new gas: the one the file describes for it, or the present one with its regulator reset."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from burnerlab.appliance.model import Appliance
from burnerlab.appliance.pressures import same_pressure
from burnerlab.appliance.target import ConversionTarget
from burnerlab.appliance.train import Train, TrainRegulator
from burnerlab.supply.regulator import SetPoints, set_points
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.problem import Problem, UserError


@dataclass(frozen=True, slots=True, kw_only=True)
class NewTrain:
    """The train of the new gas, which one it is in words, and what taking it rests on."""

    train: Train | None  # None: the pressure at the manifold is taken as given
    words: str
    evidence: Evidence = Evidence.ENTERED
    open: str = ""  # what was assumed of its inlet, "" when nothing


def new_train(appliance: Appliance, target: ConversionTarget) -> NewTrain:
    """The train that serves the new gas.

    ``target.train`` chooses: "new" the [new_supply] of the file, "reset" the present train with its regulator reset
    to the new pressure, "none" neither. Left "", the file's own [new_supply] counts where it is for this gas and
    pressure, else the present train.
    Raises UserError for "new" without a [new_supply] for this gas and pressure.
    """
    present, described = appliance.supply.train, appliance.new_supply
    fits = (
        described is not None
        and described.gas == target.gas
        and same_pressure(described.gauge_pressure_Pa, target.gauge_pressure_Pa)
    )
    if target.train == "none":
        return NewTrain(train=None, words="not taken into account: nominal pressure at the manifold")
    if target.train == "new" and not fits:
        raise UserError(_no_new_supply(appliance, target))
    if described is not None and fits and target.train in ("", "new"):
        return NewTrain(train=described.train, words="as the file describes it under [new_supply]")
    unused = f"{_other_supply(appliance, target)} and is not used; " if described and not target.train else ""
    if present is None:
        return NewTrain(train=None, words=f"{unused}nominal pressure at the manifold" if unused else "")
    is_same = same_pressure(target.gauge_pressure_Pa, appliance.supply.gauge_pressure_Pa)
    if is_same and target.gas == appliance.supply.gas:
        return NewTrain(train=present, words=f"{unused}as the file describes it under [supply]")
    reset = _reset(present, appliance, target)
    return replace(reset, words=unused + reset.words)


def _reset(present: Train, appliance: Appliance, target: ConversionTarget) -> NewTrain:
    """The present train with the regulator's spring, and the inlet, in proportion to the nominal pressure.

    No train where the regulator would be set beyond what regulators of its kind are made for.
    """
    old_Pa, new_Pa = appliance.supply.gauge_pressure_Pa, target.gauge_pressure_Pa
    if present.regulator is not None:
        held = set_points(present.regulator.type, appliance.tables.regulators)
        if not held.low_Pa <= present.regulator.set_point_Pa * new_Pa / old_Pa <= held.high_Pa:
            return _beyond(present.regulator, held, new_Pa)
    kept = [run.kind for run in present.runs]
    kept += ["manifold"] if present.manifold is not None else []
    kept += ["valves"] if present.valve is not None else []
    words = f"calculated as if the file's own {_listed(kept or ['supply'])} served it"
    regulator = present.regulator is not None
    words += f", its regulator reset to {new_Pa / 100:.1f} mbar" if regulator else ""
    fit = (
        f"; a regulator made for {_made_for(appliance, target)} has to be fitted by a qualified person"
        if regulator
        else ""
    )
    inlet = present.inlet_gauge_pressure_Pa
    if inlet is None or same_pressure(old_Pa, new_Pa):
        return NewTrain(
            train=present, words=words + fit, evidence=Evidence.ESTIMATE if regulator else Evidence.ENTERED
        )
    there = inlet * new_Pa / old_Pa
    why = (
        f"the file's inlet of {inlet / 1e3:.3g} kPa is that of the present supply; for the new one it is taken in"
        f" proportion to the nominal pressure, {there / 1e3:.3g} kPa"
    )
    words += f", inlet {there / 100:.1f} mbar in proportion{fit}"
    return NewTrain(
        train=replace(present, inlet_gauge_pressure_Pa=there),
        words=words,
        evidence=Evidence.ESTIMATE,
        open=why,
    )


def _made_for(appliance: Appliance, target: ConversionTarget) -> str:
    is_same = target.gas == appliance.supply.gas
    return f"{target.gauge_pressure_Pa / 100:.1f} mbar" if is_same else target.gas.name


def _beyond(regulator: TrainRegulator, held: SetPoints, new_Pa: float) -> NewTrain:
    """Nothing is reset: the supply of the new gas stays open."""
    kind = f" ({regulator.type})" if regulator.type else ""
    words = (
        f"not evaluated: the file's regulator{kind} cannot be set to {new_Pa / 100:.1f} mbar;"
        f" {held.words}: {held.low_Pa / 100:.1f} to {held.high_Pa / 100:.1f} mbar;"
        " describe the new supply under [new_supply]; nominal pressure at the manifold"
    )
    return NewTrain(train=None, words=words, open=f"{words}; {held.source}")


def _listed(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def _no_new_supply(appliance: Appliance, target: ConversionTarget) -> Problem:
    described = appliance.new_supply
    fix = 'add [new_supply] with gas, pressure, inlet, regulator and hose, or write --train "reset"'
    if described is None:
        return Problem("the file has no [new_supply]", value="new", key="train", file=appliance.file, fix=fix)
    return Problem(_other_supply(appliance, target), value="new", key="train", file=appliance.file, fix=fix)


def _other_supply(appliance: Appliance, target: ConversionTarget) -> str:
    """For what gas and pressure the [new_supply] of the file is, and for what it is not."""
    described = appliance.new_supply
    assert described is not None
    own = f"{described.gas.name} at {described.gauge_pressure_Pa / 1e3:.4g} kPa"
    new = f"{target.gas.name} at {target.gauge_pressure_Pa / 1e3:.4g} kPa"
    return f"[new_supply] of the file is for {own}, not for {new}"
