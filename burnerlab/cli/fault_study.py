"""How a study of simulated faults is printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from burnerlab.cli.output import facts, print_cautions, print_json, table

if TYPE_CHECKING:
    from burnerlab.bench.faults.fault_study import FaultStudy, Sampling


SAMPLINGS: tuple[Sampling, ...] = ("by the priors", "evenly")


def print_study(study: FaultStudy, as_json: bool) -> None:
    """The counts of a study: in short, then by cause for both ways of drawing."""
    if as_json:
        print_json(study)
        return
    click.echo(_facts(study) + "\n\n" + _summary(study) + "\n\n" + _stops(study))
    for drawn in SAMPLINGS:
        click.echo(f"\nsimulated units {drawn}: right group first, among the first three")
        click.echo(_by_cause(study, drawn))
    print_cautions()


def _facts(study: FaultStudy) -> str:
    return facts(
        [
            ("units", f"{study.units} in each table, seed {study.seed}"),
            ("under test", f"{study.burner or 'all burners together'}, by {study.method}"),
            (
                "noise",
                f"reading {100 * study.reading_uncertainty:.2g} % (one standard deviation); units scatter too",
            ),
            ("made by", "formulas kept apart from those of explain; priors fixed before the study"),
            ("counted", "by groups of causes that ask for one action: " + ", ".join(study.groups)),
        ]
    )


def _read(pressure_read: bool) -> str:
    return "heat input and pressure" if pressure_read else "heat input"


def _summary(study: FaultStudy) -> str:
    rows = [
        (
            one.sampling,
            _read(one.pressure_read),
            f"{100 * one.first:.0f} %",
            f"{100 * one.in_first_three:.0f} %",
        )
        for one in study.tables
    ]
    return table(("simulated units", "read", "right part first", "in first three"), rows, left_columns=2)


def _stops(study: FaultStudy) -> str:
    rows = [
        (
            _read(one.pressure_read),
            f"{one.sound_stopped} of {one.sound}, {one.sound_by_band}",
            f"{one.other_gas_missed} of {one.other_gas}",
            f"{one.overfired_missed} of {one.overfired}",
        )
        for one in study.stops
    ]
    heads = ("STOP", "no fault, stopped; by band", "other gas, not stopped", "overfired, not stopped")
    return table(heads, rows)


def _by_cause(study: FaultStudy, sampling: Sampling) -> str:
    alone, both = (study.table(sampling, pressure_read=read) for read in (False, True))
    heads = (
        "true cause",
        "group",
        "units",
        "first",
        "three",
        "first, p",
        "three, p",
        "stop, p",
        "three or stop, p",
    )
    rows = [
        (
            one.cause,
            one.group,
            str(one.units),
            str(one.true_group_first),
            str(one.in_first_three),
            str(two.true_group_first),
            str(two.in_first_three),
            str(two.stopped),
            str(two.three_or_stopped),
        )
        for one, two in zip(alone.causes, both.causes, strict=True)
    ]
    return table(heads, rows, left_columns=2) + "\np: with the manifold pressure read"
