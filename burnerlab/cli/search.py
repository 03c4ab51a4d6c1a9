"""``burnerlab optimise``: a more even map within bounds."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import APPLIANCE, COEFFICIENTS, Destination, destination
from burnerlab.cli.gas_inputs import FurtherGases, further_gases
from burnerlab.cli.layout import READINGS, GridReadings, fit_of_readings
from burnerlab.cli.options import in_words_of_options, json_option, takes
from burnerlab.cli.output import (
    kW,
    number,
    print_cautions,
    print_json,
    print_notes,
    quantity,
    reader_system,
    table,
)
from burnerlab.cli.user_settings import paper_for_units
from burnerlab.cli.verbosity import is_quiet
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import Input, input_row, together
from burnerlab.quantity.outputs import row
from burnerlab.quantity.quantity_text import millimetre
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.layout.constraints import LayoutLimits
    from burnerlab.layout.cooking_surface import Layout
    from burnerlab.layout.placement import MapBasis
    from burnerlab.layout.search import Design, TradeOff
    from burnerlab.layout.thermal_picture import InfraredPicture


def _tubes(text: str, key: str) -> tuple[int, ...]:
    """Numbers of tubes, each once."""
    count, parts = input_row("tubes"), [part.strip() for part in text.split(",")]
    if not all(part.isascii() and part.isdigit() for part in parts):
        accepted = f"whole numbers, {count.span}"
        raise UserError(Problem("is no list of numbers of tubes", text, key, accepted=accepted))
    return tuple(dict.fromkeys(together(*(partial(count.read, part, key) for part in parts))))


def _shares(text: str, key: str) -> tuple[float, ...]:
    """Shares of the most heat input [-]."""
    share = input_row("input_share")
    return tuple(together(*(partial(share.read, one.strip(), key) for one in text.split(","))))


@click.command(short_help="Search positions, heights and rates for a more even map.")
@takes(
    file=APPLIANCE,
    tubes=Input(
        name="tubes",
        reader=_tubes,
        metavar="LIST",
        help="Numbers of tubes to try: 3,4 (the present and one more).",
    ),
    inputs=Input(
        name="inputs",
        reader=_shares,
        metavar="LIST",
        default="85 %, 100 %",
        help='Fractions of the most input: "80 %,100 %".',
    ),
    mean=Input(
        name="mean",
        of="mean_flux",
        metavar="Q",
        help='Mean heat to keep at least: "20 kW/m2" (80 % of the present).',
    ),
    seed=Input(name="seed", metavar="INTEGER", default="1", help="Of the search."),
    own=COEFFICIENTS,
    readings=READINGS,
    to=destination("page, figure and designs"),
    further=further_gases(),
)
@json_option
def optimise_command(
    file: Appliance,
    tubes: tuple[int, ...] | None,
    inputs: tuple[float, ...],
    mean: float | None,
    seed: int,
    own: Path | None,
    readings: GridReadings | None,
    to: Destination,
    further: FurtherGases | None,
    as_json: bool,
) -> None:
    """Search for a more even map over a cooking surface of FILE, and show what evenness costs.

    [optimise] in FILE says how far tubes may move, which lengths can be bought, the least spacing, the room over the
    flame and the most input. One design is shown for each number of tubes and each input: a trade-off, not an answer.
    With --to and --pressure, or --market, flames and stability are checked on every gas. The same seed finds the same
    designs.

    \b
    Examples:
      burnerlab optimise cart.toml
      burnerlab optimise cart.toml --tubes 3,4,5 --out study
      burnerlab optimise cart.toml --measured camera.csv \\
          --corners "40,200 290,205 250,30 75,28" --emissivity 0.95
      burnerlab optimise cart.toml --tubes 3,4,5 --inputs "80 %, 100 %" \\
          --to propane --pressure "11 inH2O"
    """
    from burnerlab.layout.search import letter, optimise

    layout, picture = _layout(file, own, readings)
    targets = _targets(file, layout, to)
    cases = [file, *([] if further is None else [one.appliance for one in further.cases(file)])]
    layout = _with_tallest_flames(cases, layout, own)
    study, limits, notes = _limits(cases, layout, mean or 0.0)
    with _bar(as_json or is_quiet()) as bar:
        found = optimise(
            layout, study, limits, counts=tubes or (), inputs=inputs, seed=seed, progress=_progress(bar)
        )
    every_note = (*found.notes, *dict.fromkeys(notes))
    files = _written(file, found, every_note, targets, to.overwrite)
    if as_json:
        designs = [{"design": letter(k)} | row(one) for k, one in enumerate(found.designs)]
        print_json(
            found,
            appliance=file.name,
            surface=layout.surface.name,
            designs=designs,
            evidence=Evidence.ESTIMATE,
            notes=every_note,
            infrared_picture=picture,
            files=files,
        )
        return
    click.echo(_text(file, layout, found))
    print_notes("Notes", every_note)
    print_notes("Infrared picture", () if picture is None else picture.notes)
    for path in files:
        click.echo(f"written: {path}")
    print_cautions(file.supply.gas)


def _targets(appliance: Appliance, layout: Layout, to: Destination) -> dict[str, Path]:
    """The files to write; one that is there already is told before the search, not after it."""
    from burnerlab.report.layout_page import trade_off_targets

    if to.folder is None:
        return {}
    try:
        return trade_off_targets(appliance, layout.surface.name, to.folder, to.overwrite)
    except UserError as error:
        raise in_words_of_options(error) from None


def _written(
    appliance: Appliance,
    trade_off: TradeOff,
    notes: tuple[str, ...],
    targets: dict[str, Path],
    overwrite: bool,
) -> list[str]:
    from burnerlab.report.layout_page import write_trade_off

    if not targets:
        return []
    written = write_trade_off(
        appliance,
        trade_off,
        notes,
        targets,
        overwrite=overwrite,
        size=paper_for_units(reader_system()),
        system=reader_system(),
    )
    for sentence in written.missing:
        click.echo(sentence, err=True)
    return [str(path) for path in written.files]


def _layout(
    appliance: Appliance, own: Path | None, readings: GridReadings | None
) -> tuple[Layout, InfraredPicture | None]:
    """The layout to start from, with the constants of a measured grid where there is one."""
    from burnerlab.layout.layout_prediction import calibrated
    from burnerlab.layout.layout_study import layout_of

    surface = appliance.space.study.surface if appliance.space else ""
    layout = layout_of(appliance, surface, own=own)
    if readings is None:
        return layout, None
    fit, picture = fit_of_readings(appliance, surface, readings, own)
    return calibrated(fit, layout), picture


def _limits(
    cases: list[Appliance], layout: Layout, mean_W_per_m2: float
) -> tuple[Any, LayoutLimits, tuple[str, ...]]:
    """What may change and what must hold, of the file and of every gas."""
    from dataclasses import replace

    from burnerlab.appliance.project.geometry import Space
    from burnerlab.layout.constraints import LayoutLimits
    from burnerlab.layout.placement import net_share

    appliance = cases[0]
    study = (appliance.space or Space()).study
    if study.total_rate_W is not None and appliance.rating == "gross":
        study = replace(study, total_rate_W=study.total_rate_W * net_share(appliance.supply.gas))
    windows, notes = _windows(cases, layout, study.rate) if study.rate > 0 else ((), ())
    limits = LayoutLimits(
        spacing_m=study.spacing_m,
        flame_clearance_m=study.flame_clearance_m,
        mean_W_per_m2=mean_W_per_m2,
        rate_windows=windows,
    )
    return study, limits, notes


def _with_tallest_flames(cases: list[Appliance], layout: Layout, own: Path | None) -> Layout:
    """The layout with each burner's flame on the gas on which it is tallest."""
    from dataclasses import replace

    from burnerlab.layout.flame_size import flame_sizes
    from burnerlab.layout.placement import standing

    heights: dict[str, list[float | None]] = {}
    for case in cases:
        for one in standing(case):
            heights.setdefault(one.name, []).append(
                flame_sizes(case, one, (1.0,), own=own)[0].height_at_most_m
            )
    tallest = {
        name: max((h for h in found if h is not None), default=None) for name, found in heights.items()
    }
    return replace(
        layout, burners=tuple(replace(b, flame_height_m=tallest.get(b.name)) for b in layout.burners)
    )


def _windows(
    cases: list[Appliance], layout: Layout, reach: float
) -> tuple[tuple[tuple[float, float], ...], tuple[str, ...]]:
    """Rate windows of the present tubes; none at all when one of them cannot be told."""
    from burnerlab.layout.placement import standing
    from burnerlab.layout.search import movers_of, rate_window

    names = {one.name: one.burner.name for one in standing(cases[0])}
    found = [rate_window(cases, names[layout.burners[i].name], reach) for i in movers_of(layout)]
    problems = tuple(
        f"flame limits of {one.burner} are not evaluated: {one.why_not}" for one in found if one.why_not
    )
    if problems:
        return (), problems
    ends = [(one.low, one.high) for one in found if one.low is not None and one.high is not None]
    return tuple(ends), ()


def _bar(as_json: bool) -> Any:
    quiet = as_json or not sys.stderr.isatty()
    return nullcontext() if quiet else click.progressbar(length=1000, label="searching", file=sys.stderr)


def _progress(bar: Any) -> Any:
    def advance(done: int, foreseen: int) -> None:
        if bar is not None:
            bar.update(max(int(1000 * done / foreseen) - bar.pos, 0))

    return advance


# what is printed


def _text(appliance: Appliance, layout: Layout, trade_off: TradeOff) -> str:
    from burnerlab.layout.placement import map_basis
    from burnerlab.layout.search import letter

    basis = map_basis(appliance)

    def cells(label: str, design: Design) -> tuple[str, ...]:
        even = design.evenness
        return (
            label,
            str(design.tubes),
            kW(design.heat_input_net_W * basis.of_net, 3),
            f"{100 * even.coefficient_of_variation:.0f}",
            number(even.spread, 3),
            quantity(even.mean, Kind.HEAT_FLUX, "kW/m2", 3, has_unit=False),
            "front" if design.is_on_front else "" if design.holds else "does not hold",
            (", ".join(design.binding) or "-") if design.holds else "see below",
        )

    rows = [cells("present", trade_off.present)]
    rows += [cells(letter(k), one) for k, one in enumerate(trade_off.designs)]
    heads = ("design", "tubes", f"kW {basis.word}", "variation, %", "spread", "mean kW/m2", "", "at its edge")
    parts = [
        f"{appliance.name}: {layout.surface.name}, seed {trade_off.seed} (evidence: estimate)",
        "",
        table(heads, rows),
    ]
    for k, one in enumerate(trade_off.designs):
        if one.is_on_front:
            parts += ["", f"Design {letter(k)}", _places(one, basis)]
    missed = [
        f"{name}, {miss.text}"
        for name, one in (
            ("present", trade_off.present),
            *((f"design {letter(k)}", one) for k, one in enumerate(trade_off.designs)),
        )
        for miss in one.misses
    ]
    if trade_off.nearest is not None:
        nearest = letter(trade_off.designs.index(trade_off.nearest))
        missed.insert(0, f"no design holds every bound; design {nearest} nearest to the limits")
    if missed:
        parts += ["", "Not held", *(f"- {one}" for one in missed)]
    return "\n".join(parts)


def _places(design: Design, basis: MapBasis) -> str:
    rows = [
        (
            tube.name,
            *(
                millimetre(length_m, ".0f", has_unit=False)
                for length_m in (tube.x_m, tube.y_m, tube.z_m, tube.length_m)
            ),
            kW(tube.heat_input_W * basis.of_net, 3),
        )
        for tube in design.burners
    ]
    return table(("tube", "x, mm", "y, mm", "height, mm", "length, mm", f"kW {basis.word}"), rows)
