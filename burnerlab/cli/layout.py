"""``burnerlab layout``: where the heat of the burners lands on a cooking surface."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.inputs import APPLIANCE, COEFFICIENTS, Destination, destination, gas_group
from burnerlab.cli.options import in_words_of_options, json_option
from burnerlab.cli.output import facts, number, print_json, print_notes, table
from burnerlab.cli.takes import takes
from burnerlab.cli.units import ZERO_C_K
from burnerlab.quantity.error import Problem, UserError
from burnerlab.quantity.inputs import Group, Input, as_written

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.layout.calibrate_grid import GridFit
    from burnerlab.layout.study import LayoutStudy

GRID = re.compile(r"([0-9]{1,4})\s*[x×]\s*([0-9]{1,4})")
COARSEST, FINEST = 4, 1000


def _cells(text: str, key: str) -> tuple[int, int]:
    found = GRID.fullmatch(text.strip())
    cells = (int(found[1]), int(found[2])) if found else (0, 0)
    if not all(COARSEST <= one <= FINEST for one in cells):
        accepted = f"{COARSEST}x{COARSEST} to {FINEST}x{FINEST}"
        raise UserError(Problem("is not a grid", value=text, key=key, accepted=accepted, fix='write "60x40"'))
    return cells


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Readings over a surface: their file, what bare numbers of it are, and the layout they are of."""

    file: str
    measurand: str
    appliance: Appliance | None


def _only_with_measured(written: Mapping[str, Any]) -> Iterator[Problem]:
    for name in ("measured_on", "measured_as"):
        if name in written and "measured" not in written:
            key = "--" + name.replace("_", "-")
            yield Problem("needs --measured beside it", value=written[name], key=key)


READINGS = Group(
    make=lambda measured, measured_as, measured_on: Readings(
        file=measured, measurand=measured_as, appliance=measured_on
    ),
    inputs=(
        Input(
            name="measured",
            reader=as_written,
            metavar="CSV",
            help="Readings over the surface; the free constants are fitted to them.",
        ),
        Input(
            name="measured_as",
            reader=as_written,
            metavar="WORD",
            default="",
            help="What bare numbers of a picture are: temperature_C ...",
        ),
        replace(
            APPLIANCE,
            name="measured_on",
            is_argument=False,
            is_needed=False,
            help="The layout that was measured, when it is not FILE.",
        ),
    ),
    rules=_only_with_measured,
    is_optional=True,
)
"""A measured grid: ``Readings``, None without one."""


@click.command(short_help="Where the heat lands: flux map over a cooking surface.")
@takes(
    file=APPLIANCE,
    surface=Input(
        name="surface",
        reader=as_written,
        metavar="NAME",
        default="",
        help="Which cooking surface, the first unless given.",
    ),
    cells=Input(name="grid", reader=_cells, metavar="WxD", default="60x40", help="Cells across and deep."),
    off=Input(
        name="off",
        reader=as_written,
        metavar="NAME",
        is_many=True,
        help="A burner that is not lit; may be given again.",
    ),
    readings=READINGS,
    own=COEFFICIENTS,
    to=destination("page, figures and map"),
    second=gas_group("--to", is_optional=True),
)
@json_option
def command(
    file: Appliance,
    surface: str,
    cells: tuple[int, int],
    off: tuple[str, ...],
    readings: Readings | None,
    own: Path | None,
    to: Destination,
    second: Gas | DeclaredGas | None,
    as_json: bool,
) -> None:
    """Flux map over a cooking surface of FILE: mean, extremes, evenness, each burner's part.

    FILE needs [grate] and a height in each burner's place; [[shield]] and [box] are taken where given. With --to a
    second map is drawn for another gas at the same rates. Without --measured the shares of heat have a wide band.

    \b
    Examples:
      burnerlab layout cart.toml
      burnerlab layout cart.toml --to propane --out study
      burnerlab layout cart.toml --off "griddle tube left" --json
      burnerlab layout changed.toml --measured readings.csv --measured-on cart.toml
    """
    fit = None if readings is None else _fit(file, surface, readings, own)
    gases = (file.supply.gas, *([] if second is None else [second]))
    studies = [_study(file, surface, gas, cells, off, fit, own) for gas in gases]
    result = _result(file, studies, fit)
    files = _written(file, studies, fit, to)
    if as_json:
        print_json(result | {"files": files})
        return
    click.echo(_text(result))
    print_notes("Notes", result["notes"])
    for path in files:
        click.echo(f"written: {path}")
    print_cautions(file.supply.gas)


def _study(
    appliance: Appliance,
    surface: str,
    gas: Gas | DeclaredGas,
    cells: tuple[int, int],
    off: tuple[str, ...],
    fit: GridFit | None,
    own: Path | None,
) -> LayoutStudy:
    """The map on a gas; with the constants of a measured grid where there is one."""
    from burnerlab.layout.calibrate_grid import calibrated, fit_band
    from burnerlab.layout.from_appliance import layout_of
    from burnerlab.layout.geometry import grid_over
    from burnerlab.layout.study import lit, study_of

    plain = lit(layout_of(appliance, surface, gas=gas, own=own), off)
    layout = plain if fit is None else calibrated(fit, plain)
    study = study_of(layout, gas, grid_over(layout.surface, *cells), off=off, own=own)
    if fit is None:
        return study
    return replace(study, band=fit_band(fit, plain), evidence=fit.evidence)


def _fit(appliance: Appliance, surface: str, readings: Readings, own: Path | None) -> GridFit:
    from burnerlab.layout.calibrate_grid import fit_grid
    from burnerlab.layout.from_appliance import layout_of
    from burnerlab.layout.measured import read_grid

    layout = layout_of(readings.appliance or appliance, surface, own=own)
    return fit_grid(layout, read_grid(readings.file, layout.surface, readings.measurand))


# what is printed


def _result(appliance: Appliance, studies: list[LayoutStudy], fit: GridFit | None) -> dict[str, Any]:
    from burnerlab.layout.evenness import standard_measures

    first = studies[0]
    return {
        "appliance": appliance.name,
        "surface": first.map.layout.surface.name,
        "surfaces": [grate.name for grate in (appliance.space.grates if appliance.space else ())],
        **_measures(first),
        "second_gas": _measures(studies[1]) if len(studies) > 1 else None,
        "fit": None if fit is None else _fit_result(fit),
        "standards": [
            {
                "standard": one.standard,
                "appliance": one.appliance,
                "measure": one.measure,
                "provenance": one.provenance,
            }
            for one in standard_measures()
        ],
        "notes": first.notes,
        "cautions": cautions(),
    }


def _measures(study: LayoutStudy) -> dict[str, Any]:
    found, surface = study.map.evenness, study.map.layout.surface
    return {
        "gas": study.gas,
        "evidence": study.evidence,
        "points": found.points,
        "mean_kW_per_m2": found.mean / 1e3,
        "max_kW_per_m2": found.maximum / 1e3,
        "min_kW_per_m2": found.minimum / 1e3,
        "spread": found.spread,
        "standard_deviation_kW_per_m2": found.standard_deviation / 1e3,
        "coefficient_of_variation": found.coefficient_of_variation,
        "area_within_10_percent": found.within_10_percent,
        "band": {
            "mean_kW_per_m2": _span(study.band.mean_W_per_m2, 1e-3),
            "spread": _span(study.band.spread),
            "coefficient_of_variation": _span(study.band.coefficient_of_variation),
        },
        "heat_taken_up_of_net": study.map.taken_up,
        "heat_input_gross_kW": study.heat_input_gross_W / 1e3,
        "heat_input_net_kW": study.heat_input_net_W / 1e3,
        "area_m2": surface.area_m2,
        "gross_per_area_kW_per_m2": study.gross_W_per_m2 / 1e3,
        "gross_per_area_Btu_per_h_in2": study.gross_Btu_per_h_in2,
        "trade_per_area_Btu_per_h_in2": {
            "value": study.trade.value,
            "low": study.trade.low,
            "high": study.trade.high,
            "provenance": study.trade.provenance,
        },
        "off": study.off,
        "burners": [_burner(part) for part in study.parts],
        "shields": [
            {"name": one.name, "temperature_C": one.temperature_K - ZERO_C_K, "given": one.given}
            for one in study.map.shields
        ],
    }


def _span(span: Any, scale: float = 1.0) -> list[float]:
    return [span.low * scale, span.high * scale]


def _burner(part: Any) -> dict[str, Any]:
    off = part.without
    return {
        "name": part.name,
        "share": part.share,
        "heat_input_net_kW": part.heat_input_net_W / 1e3,
        "radiant_share": part.radiant,
        "flame_height_at_most_mm": None if part.flame_height_m is None else 1e3 * part.flame_height_m,
        "when_off": None
        if off is None
        else {
            "mean_kW_per_m2": off.mean / 1e3,
            "spread": off.spread,
            "coefficient_of_variation": off.coefficient_of_variation,
        },
    }


def _fit_result(fit: GridFit) -> dict[str, Any]:
    flux = fit.measured.measurand == "flux"
    unit, scale = ("kW_per_m2", 1e-3) if flux else ("K", 1.0)
    return {
        "file": fit.measured.file,
        "measurand": fit.measured.measurand,
        "readings": fit.readings,
        "explained_share_of_variance": fit.explained,
        f"rms_residual_{unit}": fit.rms_residual * scale,
        f"largest_residual_{unit}": fit.largest_residual * scale,
        "largest_at_mm": [1e3 * one for one in fit.largest_at],
        "constants": [
            {
                "name": constant.name,
                "value": constant.value,
                "standard_uncertainty": constant.standard_uncertainty,
                "interval_95_percent": [constant.low, constant.high],
                "determined": constant.determined,
                "at_bound": constant.at_bound,
            }
            for constant in fit.constants
        ],
        "not_fitted": fit.not_fitted,
    }


def _text(result: dict[str, Any]) -> str:
    parts = [f"{result['appliance']}: {result['surface']}", "", _facts(result), "", _burner_table(result)]
    if result["shields"]:
        rows = [
            (one["name"], f"{one['temperature_C']:.0f}", "as given" if one["given"] else "calculated")
            for one in result["shields"]
        ]
        parts += ["", table(("shield", "C", "temperature"), rows)]
    if result["second_gas"] is not None:
        parts += ["", _facts(result["second_gas"])]
    if result["fit"] is not None:
        parts += ["", _fit_text(result["fit"])]
    return "\n".join(parts)


def _facts(r: dict[str, Any]) -> str:
    band, trade = r["band"], r["trade_per_area_Btu_per_h_in2"]

    def ends(key: str, scale: float = 1.0) -> str:
        low, high = band[key]
        return f"{number(low * scale, 3)} to {number(high * scale, 3)}"

    return facts(
        [
            ("gas", r["gas"]),
            ("mean", f"{number(r['mean_kW_per_m2'], 3)} kW/m2, band {ends('mean_kW_per_m2')}"),
            ("most, least", f"{number(r['max_kW_per_m2'], 3)}, {number(r['min_kW_per_m2'], 3)} kW/m2"),
            ("(max - min)/mean", f"{number(r['spread'], 3)}, band {ends('spread')}"),
            (
                "coefficient of variation",
                f"{100 * r['coefficient_of_variation']:.0f} %, band {ends('coefficient_of_variation', 100)} %",
            ),
            ("area within 10 % of the mean", f"{100 * r['area_within_10_percent']:.0f} %"),
            (
                "heat taken up",
                f"{100 * r['heat_taken_up_of_net']:.0f} % of {number(r['heat_input_net_kW'], 3)} kW net",
            ),
            (
                "heat input from below, gross",
                f"{number(r['gross_per_area_kW_per_m2'], 3)} kW/m2, {r['gross_per_area_Btu_per_h_in2']:.0f} Btu/h in2; "
                f"rule of thumb, no source: about {trade['value']:.0f} ({trade['provenance']})",
            ),
            ("evidence", r["evidence"]),
        ]
    )


def _burner_table(r: dict[str, Any]) -> str:
    rows = []
    for one in r["burners"]:
        off = one["when_off"]
        height = one["flame_height_at_most_mm"]
        rows.append(
            (
                one["name"],
                f"{100 * one['share']:.1f}",
                number(one["heat_input_net_kW"], 3),
                f"{100 * one['radiant_share']:.0f}",
                "-" if height is None else f"{height:.0f}",
                "-" if off is None else number(off["mean_kW_per_m2"], 3),
                "-" if off is None else number(off["spread"], 3),
            )
        )
    heads = (
        "burner",
        "share, %",
        "net kW",
        "radiated, %",
        "flame up to, mm",
        "mean when off",
        "spread when off",
    )
    return table(heads, rows)


def _fit_text(fit: dict[str, Any]) -> str:
    rows = [
        (
            one["name"],
            number(one["value"], 3),
            number(one["standard_uncertainty"], 2),
            f"{number(one['interval_95_percent'][0], 3)} to {number(one['interval_95_percent'][1], 3)}",
            "at its bound" if one["at_bound"] else "yes" if one["determined"] else "no",
        )
        for one in fit["constants"]
    ]
    unit = "kW_per_m2" if fit["measurand"] == "flux" else "K"
    shown = unit.replace("kW_per_m2", "kW/m2")
    at = fit["largest_at_mm"]
    lines = [
        table(("fitted", "value", "std. unc.", "95 % interval", "determined"), rows),
        f"{fit['readings']} readings of {fit['file']}: {100 * fit['explained_share_of_variance']:.0f} % of their "
        f"variance followed; left over {number(fit['rms_residual_' + unit], 2)} {shown} rms, at most "
        f"{fit['largest_residual_' + unit]:+.3g} {shown} at x {at[0]:.0f}, y {at[1]:.0f} mm",
    ]
    return "\n".join([*lines, *(f"not fitted: {one}" for one in fit["not_fitted"])])


def _written(
    appliance: Appliance, studies: list[LayoutStudy], fit: GridFit | None, to: Destination
) -> list[str]:
    from burnerlab.report.layout_page import write_layout

    if to.folder is None:
        return []
    try:
        written = write_layout(appliance, studies, to.folder, overwrite=to.overwrite, fit=fit)
    except UserError as error:
        raise in_words_of_options(error) from None
    for sentence in written.missing:
        click.echo(sentence, err=True)
    return [str(Path(to.folder) / path.name) for path in written.files]
