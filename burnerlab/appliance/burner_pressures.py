"""The supply before and after a change of gas: what pressure really reaches each burner."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from burnerlab.appliance.conversion.evaluation_result import PressureAt, Pressures, Which
from burnerlab.appliance.model import Appliance
from burnerlab.appliance.new_train import NewTrain
from burnerlab.appliance.operate import operate
from burnerlab.appliance.operation import Operation
from burnerlab.appliance.result import Finding, NotEvaluated
from burnerlab.tables.evidence import weakest
from burnerlab.tables.problem import UserError

TOPIC = "supply pressure drop"
IN_OPERATION = "heat input in operation"


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedSupply:
    """Pressures on both gases, with what they find and what stays open."""

    pressures: tuple[Pressures, ...] = ()
    findings: tuple[Finding, ...] = ()
    open: tuple[NotEvaluated, ...] = ()


def supplied_pressures(before: Appliance, after: Appliance, chosen: NewTrain) -> SolvedSupply:
    """The supply of the present appliance and of the changed one, all burners on and each alone.

    after : with the train that was chosen for the new gas. Nothing of a gas before whose burners nothing stands.
    """
    pressures: list[Pressures] = []
    findings: list[Finding] = []
    topic = "inlet pressure of the new supply" if chosen.train is not None else f"{TOPIC}, new gas"
    left = [NotEvaluated(topic=topic, why=chosen.open)] if chosen.open else []
    cases: tuple[tuple[Which, Appliance], ...] = (("present", before), ("new", after))
    for which, appliance in cases:
        if appliance.supply.train is None:
            continue
        try:
            found = operate(appliance)
        except UserError as error:
            words = "; ".join(problem.text() for problem in error.problems)
            left.append(NotEvaluated(topic=f"{TOPIC}, {which} gas", why=words))
            continue
        said = (f"supply of the new gas: {chosen.words}", chosen.open) if which == "new" else ()
        one = _pressures(which, found, (*filter(None, said), *_ends_note(appliance)))
        if which == "new":
            one = replace(one, evidence=weakest(one.evidence, chosen.evidence))
        pressures.append(one)
        findings += _findings(which, found)
    return SolvedSupply(pressures=tuple(pressures), findings=tuple(findings), open=tuple(left))


def _ends_note(appliance: Appliance) -> tuple[str, ...]:
    """That the range of a supply is put on the burners themselves, though a regulator holds part of it off them."""
    supply = appliance.supply
    if supply.train is None or supply.train.regulator is None or supply.high_gauge_pressure_Pa is None:
        return ()
    return (
        "the lowest and the highest pressure are taken at the manifold, as if the regulator passed them on: while it"
        " works, the pressure at the burners moves less",
    )


def _pressures(which: Which, found: Operation, more: tuple[str, ...]) -> Pressures:
    alone = {one.burner: one for one in found.alone}
    dearest = next((one for one in found.elements if one.name == found.binding_element), None)
    return Pressures(
        which_gas=which,
        gas=found.gas,
        nominal_gauge_pressure_Pa=found.nominal_gauge_pressure_Pa,
        manifold_gauge_pressure_Pa=found.manifold_gauge_pressure_Pa,
        burners=tuple(
            PressureAt(
                burner=burner.name,
                gauge_pressure_all_on_Pa=burner.gauge_pressure_Pa,
                gauge_pressure_alone_Pa=alone[burner.name].gauge_pressure_Pa
                if burner.name in alone
                else None,
                heat_input_all_on_gross_W=burner.heat_input_gross_W,
                heat_input_alone_gross_W=alone[burner.name].heat_input_gross_W
                if burner.name in alone
                else None,
                all_on_from_nominal=burner.from_nominal or 0.0,
                alone_from_nominal=alone[burner.name].heat_input_gross_W / burner.nominal_gross_W - 1.0
                if burner.name in alone
                else None,
            )
            for burner in found.burners
        ),
        binding=found.binding_element,
        binding_drop_Pa=dearest.drop_Pa if dearest else None,
        notes=(*more, *found.notes),
        evidence=found.evidence,
    )


def _findings(which: Which, found: Operation) -> Iterator[Finding]:
    for finding in found.findings:
        if not (which == "new" and finding.topic == IN_OPERATION):  # the headline of each burner says it
            yield replace(finding, which_gas=which)
