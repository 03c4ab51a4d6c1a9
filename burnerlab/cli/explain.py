"""``burnerlab explain``: what may be wrong when a heat input is off, and what to measure next."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import gauge_pressure_Pa, together
from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, percent, print_json, print_notes, table
from burnerlab.cli.stops import print_stops, stops_json
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.explain import Explained, Explanation, Reading
    from burnerlab.bench.fault_study import FaultStudy
    from burnerlab.bench.unit import OtherSupply

EXPANDED_OVER_STANDARD = 1.96  # a 95 % interval of a normal distribution
SHOWN_SHARE = 0.005  # causes below it are told only when they can overfire a burner
METHODS = ("meter", "scale")


@click.command(short_help="What may be wrong when a heat input is off.")
@click.argument("file", required=False)
@click.option(
    "--burner", metavar="NAME", help="The burner that was on, one of the kind; without it all were."
)
@click.option("--measured", metavar="RATE", help='What was measured: "18 kBtu/h gross".')
@click.option("--expected", metavar="RATE", help="What was expected; without it calculated from FILE.")
@click.option(
    "--uncertainty",
    metavar="SHARE",
    default="4 %",
    show_default=True,
    help="Of the reading, expanded (95 %).",
)
@click.option("--manifold-pressure", metavar="P", help='Where it was read, gauge: "7.1 inH2O".')
@click.option(
    "--method", type=click.Choice(METHODS), default="meter", show_default=True, help="Of measuring."
)
@click.option("--other-gas", metavar="NAME", help="The gas whose parts might be fitted; else of the region.")
@click.option("--other-pressure", metavar="P", help="The manifold pressure of that gas.")
@click.option("--causes", metavar="CSV", help="Your own table of causes and prior shares.")
@click.option("--study", is_flag=True, help="Simulate faults and print how often the true one is named.")
@click.option("--faults", type=int, default=1000, show_default=True, help="Of the study.")
@click.option("--seed", type=int, default=1, show_default=True, help="Of the study.")
@json_option
def command(file: str | None, as_json: bool, study: bool, **given: Any) -> None:
    """Rank what may be wrong when a measured heat input is not the expected one, and say what to measure next.

    Causes predict the reading from the appliance's own burners, orifices, gas and pressure; shares follow by Bayes'
    rule from the scatter of the reading. Causes that can overfire a burner are listed whatever their share.
    --study draws faults from the list instead, reads them with noise, and counts; without FILE on the demonstration.

    \b
    Examples:
      burnerlab explain range.toml --burner "stock-pot ring" --measured "15.4 kBtu/h gross" --uncertainty "3 %"
      burnerlab explain range.toml --measured "60 kBtu/h gross" --manifold-pressure "7 inH2O"
      burnerlab explain --study
    """
    from burnerlab.appliance import demonstration, read_appliance

    if file is None and not study:
        raise UserError(Problem("give the file of the appliance", key="FILE", fix="or --study alone"))
    appliance = demonstration() if file is None else read_appliance(file)
    if study:
        _print_study(_study(appliance, given), as_json)
        return
    found = _explanation(appliance, given)
    if as_json:
        print_json(_json(found))
        return
    print_stops(found.stops)
    click.echo(_text(found))
    print_notes("Notes", found.notes)
    print_cautions(appliance.supply.gas)


def _standard(text: str) -> float:
    from burnerlab.quantity import Kind, read

    return read(text, Kind.FRACTION, key="--uncertainty", low=1e-4, high=0.5) / EXPANDED_OVER_STANDARD


def _own(path: str | None) -> Path | None:
    if path is None:
        return None
    if not Path(path).is_file():
        raise UserError(Problem("not a regular file", key="--causes", file=path))
    return Path(path)


def _explanation(appliance: Appliance, given: dict[str, Any]) -> Explanation:
    from burnerlab.bench.explain import explain

    reading, other, own = together(
        lambda: _reading(appliance, given), lambda: _other(given), lambda: _own(given["causes"])
    )
    return explain(appliance, reading, given["burner"], method=given["method"], other=other, own_causes=own)


def _reading(appliance: Appliance, given: dict[str, Any]) -> Reading:
    from burnerlab.bench.explain import Reading
    from burnerlab.bench.manifold import conditions_of, each_burner, flow_of

    if given["measured"] is None:
        fix = 'e.g. --measured "18 kBtu/h gross"'
        raise UserError(Problem("what was measured?", key="--measured", fix=fix))
    measured, u, pressure, chosen = together(
        lambda: _gross_W(appliance, given["measured"], "--measured"),
        lambda: _standard(given["uncertainty"]),
        lambda: (
            given["manifold_pressure"]
            and gauge_pressure_Pa(given["manifold_pressure"], "--manifold-pressure")
        ),
        lambda: each_burner(appliance, given["burner"]),
    )
    if given["expected"] is not None:
        expected = _gross_W(appliance, given["expected"], "--expected")
    else:
        at = conditions_of(appliance)
        expected = sum(flow_of(appliance, burner, at).heat_input_gross_W for burner in chosen)
    ratio = None if pressure is None else pressure / appliance.supply.gauge_pressure_Pa
    return Reading(ratio=measured / expected, relative_uncertainty=u, pressure_ratio=ratio)


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


def _cause_json(one: Explained, expected_W: float) -> dict[str, Any]:
    return {
        "cause": one.cause,
        "title": one.title,
        "words": one.words,
        "predicted_ratio": one.predicted_ratio,
        "predicted_low_ratio": one.predicted_low,
        "predicted_high_ratio": one.predicted_high,
        "predicted_gross_kW": one.predicted_ratio * expected_W / 1e3,
        "prior": one.prior,
        "share": one.share,
        "overfire": one.overfire,
        "hottest_burner_ratio": one.hottest,
        "next_measurement": one.next_measurement,
    }


def _json(found: Explanation) -> dict[str, Any]:
    expected, check, best = found.expected_gross_W, found.manifold, found.next_measurement
    return {
        "appliance": found.appliance,
        "burner": found.burner or None,
        "method": found.method,
        "measured_over_expected_ratio": found.reading.ratio,
        "calculated_gross_kW": expected / 1e3,
        "scatter_percent": 100.0 * found.scatter,
        "fits": found.fits,
        "finding": _finding(found),
        "causes": [_cause_json(one, expected) for one in found.causes],
        "overfire_causes": [one.cause for one in found.overfire],
        "overfire_share": found.overfire_share,
        "other_gas_share": found.other_gas_share,
        **stops_json(found.stops),
        "next_measurement": None
        if best is None
        else {"measurement": best.measurement, "title": best.title, "information_bit": best.information_bit},
        "measurements": [
            {
                "measurement": one.measurement,
                "title": one.title,
                "minutes": one.minutes,
                "information_bit": one.information_bit,
            }
            for one in found.measurements
        ],
        "uncertain_bit": found.uncertain_bit,
        "manifold": None
        if check is None
        else {
            "measured_pressure_kPa": check.measured_pressure_Pa / 1e3,
            "nominal_pressure_kPa": check.nominal_pressure_Pa / 1e3,
            "verdict": check.pressure_verdict,
            "expected_gross_kW": check.expected_gross_W / 1e3,
            "measured_over_expected_ratio": check.ratio,
            "text": check.text,
        },
        "notes": found.notes,
        "cautions": cautions(),
    }


def _finding(found: Explanation) -> str:
    first = found.causes[0]
    if not found.fits:
        return "none of these fits"
    return f"{first.title} ({first.words}), share {100 * first.share:.0f} %"


def _text(found: Explanation) -> str:
    check, best = found.manifold, found.next_measurement
    pairs = [
        ("under test", found.burner or "all burners together"),
        (
            "calculated",
            f"{number(found.expected_gross_W / 1e3)} kW gross, from the file's orifices and pressure",
        ),
        ("reading", f"{found.reading.ratio:.3f} of the expected ({percent(found.reading.ratio - 1.0)})"),
        ("likeliest", _finding(found)),
    ]
    if best is not None:
        pairs.append(
            (
                "measure next",
                f"{best.title} (tells {best.information_bit:.2f} of {found.uncertain_bit:.2f} bit)",
            )
        )
    if check is not None:
        pairs.append(
            ("manifold pressure", f"{check.measured_pressure_Pa / 1e3:.3g} kPa: {check.pressure_verdict}")
        )
        pairs.append(("at that pressure", check.text))
    rows = [
        (
            one.title,
            one.words,
            f"{one.predicted_ratio:.2f}",
            f"{100 * one.share:.1f}",
            _hot(one),
            one.next_measurement,
        )
        for one in found.causes
        if one.share >= SHOWN_SHARE or one.overfire
    ]
    heads = ("cause", "as", "predicts", "share, %", "overfire", "settle by")
    return facts(pairs) + "\n\n" + table(heads, [_cut(row) for row in rows], left=2)


def _hot(one: Explained) -> str:
    return "can" if one.overfire else "-"


def _cut(row: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(cell if len(cell) <= 60 else cell[:57] + "..." for cell in row)


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


def _print_study(found: FaultStudy, as_json: bool) -> None:
    if as_json:
        print_json(_study_json(found))
        return
    click.echo(_study_text(found))
    click.echo("\n" + _counts(found))
    heads = ("true cause, named first as:", *(str(i + 1) for i in range(len(found.causes))))
    named = [(row.cause, *(str(n) if n else "." for n in row.named)) for row in found.rows]
    click.echo("\n" + table(heads, named))
    listed = ", ".join(f"{i + 1} {name}" for i, name in enumerate(found.causes))
    click.echo("\n" + click.wrap_text(listed, width=100))


def _study_text(found: FaultStudy) -> str:
    share = found.told_apart_in_first_three
    noise = f"reading {100 * found.reading_uncertainty:.2g} %, unit to unit {100 * found.unit_scatter:.2g} %"
    apart = (
        f"{found.told_apart}: predicted reading more than {found.apart:g} standard deviations from every reading"
        " of every likelier cause"
    )
    three = f"{100 * share:.1f} % of those, {100 * found.in_first_three:.1f} % of all"
    return facts(
        [
            ("faults", f"{found.faults} drawn from the list, every cause equally often, seed {found.seed}"),
            ("under test", found.burner or "all burners together"),
            ("noise", f"{noise} (one standard deviation each)"),
            ("told apart", apart),
            ("true cause in first three", three),
        ]
    )


def _counts(found: FaultStudy) -> str:
    heads = ("true cause", "faults", "first", "in three", "told apart", "of them in three")
    rows = []
    for row in found.rows:
        counts = (
            row.faults,
            row.named_first,
            row.in_first_three,
            row.told_apart,
            row.told_apart_in_first_three,
        )
        rows.append((row.cause, *(str(count) for count in counts)))
    return table(heads, rows)


def _study_json(found: FaultStudy) -> dict[str, Any]:
    return {
        "appliance": found.appliance,
        "burner": found.burner or None,
        "faults": found.faults,
        "seed": found.seed,
        "reading_uncertainty_percent": 100.0 * found.reading_uncertainty,
        "unit_scatter_percent": 100.0 * found.unit_scatter,
        "apart_standard_deviations": found.apart,
        "in_first_three_percent": 100.0 * found.in_first_three,
        "told_apart": found.told_apart,
        "told_apart_in_first_three_percent": 100.0 * found.told_apart_in_first_three,
        "causes": found.causes,
        "confusion": [
            {
                "cause": row.cause,
                "faults": row.faults,
                "named_first": row.named_first,
                "in_first_three": row.in_first_three,
                "told_apart": row.told_apart,
                "told_apart_in_first_three": row.told_apart_in_first_three,
                "named": row.named,
            }
            for row in found.rows
        ],
    }
