"""``burnerlab explain``: what may be wrong when a heat input is off, and what to measure next."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import gauge_pressure_Pa, together
from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json, print_notes
from burnerlab.cli.stops import print_stops
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.explain import Explanation
    from burnerlab.bench.fault_study import FaultStudy
    from burnerlab.bench.reading import Reading
    from burnerlab.bench.unit import OtherSupply

METHODS = ("meter", "scale")
ALL = "all"
WORDS: dict[str, dict[str, Any]] = {
    "full": {},
    "low": {"low": True},
    "meter": {"method": "meter"},
    "scale": {"method": "scale"},
}
NAME = re.compile(r"(?P<name>[^:]+):(?P<rest>.+)", re.ASCII | re.DOTALL)


@click.command(short_help="What may be wrong when a heat input is off.")
@click.argument("file", required=False)
@click.option(
    "--burner", metavar="NAME", help="The burner that was on, one of the kind; without it all were."
)
@click.option("--measured", metavar="RATE", help='What was measured: "18 kBtu/h gross".')
@click.option("--low-rate", is_flag=True, help="It was read at the low rate, by the turndown in FILE.")
@click.option("--expected", metavar="RATE", help="What was expected; without it calculated from FILE.")
@click.option(
    "--uncertainty",
    metavar="SHARE",
    default="4 %",
    show_default=True,
    help="Of the readings, expanded (95 %).",
)
@click.option("--manifold-pressure", metavar="P", help='Read with the burner on, gauge: "7.1 inH2O".')
@click.option(
    "--reading",
    metavar="TEXT",
    multiple=True,
    help='Another reading: "stock-pot ring: 15.4 kBtu/h gross, low, scale, 7 inH2O". Give it again for more.',
)
@click.option(
    "--meter-at-rest",
    type=click.Choice(("still", "moves")),
    help="What the meter did with every burner off and the supply open.",
)
@click.option(
    "--method",
    type=click.Choice(METHODS),
    default="meter",
    show_default=True,
    help="How it was measured: gas meter or scale.",
)
@click.option("--other-gas", metavar="NAME", help="The gas whose parts might be fitted; else of the region.")
@click.option("--other-pressure", metavar="P", help="The manifold pressure of that gas.")
@click.option("--causes", metavar="CSV", help="Your own table of causes and priors.")
@click.option(
    "--study", is_flag=True, help="Simulate faulty units and print how often the part is said first."
)
@click.option("--faults", type=int, default=1000, show_default=True, help="Units of each table of the study.")
@click.option("--seed", type=int, default=1, show_default=True, help="Of the study.")
@json_option
def command(file: str | None, as_json: bool, study: bool, **given: Any) -> None:
    """Rank what may be wrong when a measured heat input is not the expected one, and say what to measure next.

    A danger stands first: another gas, a burner above its rating or a moving meter at rest is headed by STOP.
    Causes predict the readings from the appliance's own burners, orifices, gas and pressure; probabilities follow by
    Bayes' rule from the scatter of the readings. Several readings are taken together: --reading holds a burner
    (or "all"), then a heat input, "low" for the low rate, "meter" or "scale", a manifold pressure, in any order.
    --study builds units with faults instead, by formulas of their own, and counts; without FILE the demonstration's.
    The exit status is 0 whatever is found.

    \b
    Examples:
      burnerlab explain range.toml --burner "stock-pot ring" --measured "15.4 kBtu/h gross" --uncertainty "3 %"
      burnerlab explain range.toml --measured "60 kBtu/h gross" --manifold-pressure "7 inH2O"
      burnerlab explain range.toml --reading "griddle tube left: 3.2 kW gross, 6.5 inH2O" \\
          --reading "stock-pot ring: 8.8 kW gross" --meter-at-rest still
      burnerlab explain --study --burner "griddle tube left"
    """
    from burnerlab.appliance import demonstration, read_appliance

    if file is None and not study:
        raise UserError(Problem("give the file of the appliance", key="FILE", fix="or --study alone"))
    appliance = demonstration() if file is None else read_appliance(file)
    if study:
        from burnerlab.cli.explain_study import print_study

        print_study(_study(appliance, given), as_json)
        return
    from burnerlab.cli.explain_text import explanation_text

    found = _explanation(appliance, given)
    if as_json:
        print_json(found)
        return
    print_stops(found.stops)
    click.echo(explanation_text(found))
    print_notes("Notes", found.notes)
    print_cautions(appliance.supply.gas)


def _standard(text: str, key: str = "--uncertainty") -> float:
    from burnerlab.bench.budget import COVERAGE, coverage_factor
    from burnerlab.quantity import Kind, read

    expanded = read(text, Kind.FRACTION, key=key, low=1e-4, high=0.5)
    return float(expanded / float(coverage_factor(float("inf"), COVERAGE)))


def _own(path: str | None) -> Path | None:
    if path is None:
        return None
    if not Path(path).is_file():
        raise UserError(Problem("not a regular file", key="--causes", file=path))
    return Path(path)


def _explanation(appliance: Appliance, given: dict[str, Any]) -> Explanation:
    from burnerlab.bench.explain import explain
    from burnerlab.cli.bench_inputs import low_rate_note

    readings, other, own = together(
        lambda: _readings(appliance, given), lambda: _other(given), lambda: _own(given["causes"])
    )
    found = explain(appliance, readings, given["burner"], method=given["method"], other=other, own_causes=own)
    first = found.reading
    if first.ratio is None or first.low:
        return found
    near = low_rate_note(appliance, found.burner or None, first.ratio * found.expected_gross_W)
    return replace(found, notes=(*near, *found.notes))


def _readings(appliance: Appliance, given: dict[str, Any]) -> list[Reading]:
    """The reading of --measured and --manifold-pressure, then every --reading, then the meter at rest."""
    from burnerlab.bench.reading import Reading

    alone = given["measured"] is not None or given["manifold_pressure"] is not None
    if not alone and not given["reading"] and given["meter_at_rest"] is None:
        fix = 'e.g. --measured "18 kBtu/h gross"'
        raise UserError(Problem("what was measured?", key="--measured", fix=fix))
    u, *found = together(
        lambda: _standard(given["uncertainty"]),
        *([lambda: _first(appliance, given)] if alone else []),
        *((lambda text=text: _another(appliance, text)) for text in given["reading"]),
    )
    readings = [replace(one, relative_uncertainty=u) for one in found]
    if given["meter_at_rest"] is not None:
        readings.append(Reading(at_rest=given["meter_at_rest"]))
    return readings


def _first(appliance: Appliance, given: dict[str, Any]) -> Reading:
    from burnerlab.bench.expected import expected_input
    from burnerlab.bench.reading import Reading
    from burnerlab.bench.unit import turndown_of

    measured, pressure, stated_W, by_file = together(
        lambda: given["measured"] and _gross_W(appliance, given["measured"], "--measured"),
        lambda: (
            given["manifold_pressure"]
            and gauge_pressure_Pa(given["manifold_pressure"], "--manifold-pressure")
        ),
        lambda: None if given["expected"] is None else _gross_W(appliance, given["expected"], "--expected"),
        lambda: expected_input(appliance, given["burner"]),
    )
    rates = [turndown_of(one) if given["low_rate"] else 1.0 for one in by_file.burners]
    return Reading(
        low=given["low_rate"],
        ratio=None if measured is None else measured / (stated_W or float(by_file.each_W @ rates)),
        pressure_ratio=None if pressure is None else pressure / by_file.manifold_Pa,
    )


def _another(appliance: Appliance, text: str) -> Reading:
    """A reading such as "stock-pot ring: 15.4 kBtu/h gross, low, scale, 7 inH2O"."""
    from burnerlab.bench.expected import expected_input
    from burnerlab.bench.reading import Reading
    from burnerlab.bench.unit import turndown_of

    key = "--reading"
    found = NAME.fullmatch(text.strip())
    if found is None:
        fix = 'write it as "stock-pot ring: 15.4 kBtu/h gross" or "all: 7 inH2O"'
        raise UserError(Problem("a burner, a colon and what was read of it", text, key, fix=fix))
    name = found["name"].strip()
    burner = None if name.casefold() == ALL else name
    said: dict[str, Any] = {}
    heat_W: float | None = None
    pressure_Pa: float | None = None
    for part in (part.strip() for part in found["rest"].split(",")):
        if part in WORDS:
            said |= WORDS[part]
        elif re.search(r"\b(gross|net)\b", part):
            heat_W = _once(heat_W, _gross_W(appliance, part, key), part)
        else:
            pressure_Pa = _once(pressure_Pa, gauge_pressure_Pa(part, key), part)
    by_file = expected_input(appliance, burner)
    rates = [turndown_of(one) if said.get("low") else 1.0 for one in by_file.burners]
    return Reading(
        ratio=None if heat_W is None else heat_W / float(by_file.each_W @ rates),
        pressure_ratio=None if pressure_Pa is None else pressure_Pa / by_file.manifold_Pa,
        burner=burner or "",
        **said,
    )


def _once(known: float | None, value: float, text: str) -> float:
    """The value; a reading holds one heat input and one pressure."""
    if known is not None:
        fix = "give another --reading for it"
        raise UserError(Problem("a second figure of the same kind", text, "--reading", fix=fix))
    return value


def _gross_W(appliance: Appliance, text: str, key: str) -> float:
    from burnerlab.quantity import read_rate, said_basis

    rate = read_rate(text, key=key)
    if said_basis(rate.basis, text, key=key) == "gross":
        return rate.power_W
    gas = appliance.supply.gas
    net_to_gross = gas.heating_value_J_per_kg("net") / gas.heating_value_J_per_kg("gross")
    return float(rate.power_W / net_to_gross)


def _other(given: dict[str, Any]) -> OtherSupply | None:
    from burnerlab.appliance.flowing import Flowing
    from burnerlab.bench.unit import OtherSupply
    from burnerlab.gas import load

    if (given["other_gas"] is None) != (given["other_pressure"] is None):
        raise UserError(Problem("give both", key="--other-gas and --other-pressure"))
    if given["other_gas"] is None:
        return None
    gas = load(given["other_gas"], key="--other-gas")
    pressure = gauge_pressure_Pa(given["other_pressure"], "--other-pressure")
    words = f"{gas.name} at {pressure / 1e3:.3g} kPa"
    return OtherSupply(gas=Flowing(gas), gauge_pressure_Pa=pressure, words=words)


def _study(appliance: Appliance, given: dict[str, Any]) -> FaultStudy:
    from burnerlab.bench.fault_study import simulate_faults

    u, own = together(lambda: _standard(given["uncertainty"]), lambda: _own(given["causes"]))
    return simulate_faults(
        appliance,
        given["burner"],
        faults=given["faults"],
        reading_uncertainty=u,
        method=given["method"],
        seed=given["seed"],
        own_causes=own,
    )
