"""``layout``: where the heat of the burners lands on a cooking surface."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import APPLIANCE, COEFFICIENTS, Destination, destination
from burnerlab.cli.gas_inputs import FurtherGases, MarketCase, further_gases
from burnerlab.cli.options import in_words_of_options, json_option, takes
from burnerlab.cli.output import (
    facts,
    for_reader,
    kW,
    named_gas_fact,
    number,
    print_cautions,
    print_json,
    print_notes,
    reader_system,
    table,
    wrapped,
)
from burnerlab.cli.user_settings import paper_for_units
from burnerlab.quantity import Kind, in_unit, read
from burnerlab.quantity.inputs import Group, Input, as_written, together
from burnerlab.quantity.outputs import row
from burnerlab.quantity.prose import column_in
from burnerlab.quantity.quantity_text import QuantityText, millimetre, quantity_text, quoted
from burnerlab.quantity.show import duration_text, show
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.layout.comparison import LayoutComparison
    from burnerlab.layout.cooking_surface import Surface
    from burnerlab.layout.fit_result import GridFit
    from burnerlab.layout.layout_study import LayoutStudy
    from burnerlab.layout.measurement import MeasuredGrid
    from burnerlab.layout.placement import MapBasis
    from burnerlab.layout.thermal_picture import InfraredPicture

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
class GridReadings:
    """Readings over a surface: their file, what bare numbers of it are, and the layout they are of."""

    file: str
    measurand: str
    appliance: Appliance | None
    corners: tuple[tuple[float, float], ...] = ()  # pixels of an infrared picture; none of a grid with places
    scale_K: tuple[float, float] | None = None
    key: tuple[tuple[float, float], ...] = ()
    emissivity: float | None = None

    def read(self, surface: Surface) -> tuple[MeasuredGrid, InfraredPicture | None]:
        """The grid over a surface, and what was read of the picture where it is one."""
        from burnerlab.layout.measurement import read_grid
        from burnerlab.layout.thermal_picture import InfraredKey, read_infrared

        if not self.corners:
            return read_grid(self.file, surface, self.measurand), None
        key = None
        if self.scale_K is not None:
            cold_at, hot_at = self.key or (None, None)
            key = InfraredKey(cold_K=self.scale_K[0], hot_K=self.scale_K[1], cold_at=cold_at, hot_at=hot_at)
        assert self.emissivity is not None  # a rule of the group
        picture = read_infrared(self.file, surface, self.corners, emissivity=self.emissivity, key=key)
        return picture.grid, picture


def _only_with_measured(written: Mapping[str, Any]) -> Iterator[Problem]:
    for name in ("measured_on", "measured_as", "corners"):
        if name in written and "measured" not in written:
            key = "--" + name.replace("_", "-")
            yield Problem("needs --measured too", value=written[name], key=key)
    for name in ("scale", "key", "emissivity"):
        if name in written and "corners" not in written:
            yield Problem("needs --corners too", value=written[name], key=f"--{name}")
    if "corners" in written and "emissivity" not in written:
        fix = "say what the camera was set to: --emissivity 0.95"
        yield Problem("the emissivity set at the camera is missing", key="--emissivity", fix=fix)
    if "key" in written and "scale" not in written:
        yield Problem("needs --scale too", value=written["key"], key="--key")


PIXEL = re.compile(r"([0-9]+(?:[.][0-9]+)?),([0-9]+(?:[.][0-9]+)?)")


def _pixels(count: int, text: str, key: str) -> tuple[tuple[float, float], ...]:
    found = [PIXEL.fullmatch(part) for part in text.split()]
    made = tuple((float(one[1]), float(one[2])) for one in found if one)
    if len(made) != len(found) or len(made) != count:
        accepted = f"{count} pixels as x,y with a space between"
        raise UserError(Problem("is no list of pixels", value=text, key=key, accepted=accepted))
    return made


def _scale(text: str, key: str) -> tuple[float, float]:
    """Temperatures of the cold and the hot end of a key [K]."""
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 2:
        fix = 'write "80 C, 320 C"'
        raise UserError(Problem("is no pair of temperatures", value=text, key=key, fix=fix))
    cold, hot = together(*(partial(read, part, Kind.TEMPERATURE, key=key) for part in parts))
    return float(cold), float(hot)


PICTURE = (
    Input(
        name="corners",
        reader=partial(_pixels, 4),
        metavar="PIXELS",
        help='Of an infrared picture: front left, front right, back right, back left: "9,90 99,88 80,9 20,10".',
    ),
    Input(name="scale", reader=_scale, metavar="T,T", help='Ends of the key of a PNG: "80 C, 320 C".'),
    Input(
        name="key",
        reader=partial(_pixels, 2),
        metavar="PIXELS",
        help='Cold and hot end of the key in a PNG in colour: "630,470 630,12".',
    ),
    Input(name="emissivity", of="camera_emissivity", metavar="E", help='As set at the camera: "0.95".'),
)
READINGS = Group(
    make=lambda measured, measured_as, measured_on, corners, scale, key, emissivity: GridReadings(
        file=measured,
        measurand=measured_as,
        appliance=measured_on,
        corners=corners or (),
        scale_K=scale,
        key=key or (),
        emissivity=emissivity,
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
            help="Quantity and unit of a picture of bare numbers: temperature_C, temperature_F, flux_kW_per_m2.",
        ),
        replace(
            APPLIANCE,
            name="measured_on",
            is_argument=False,
            is_needed=False,
            help="The layout that was measured, when it is not FILE.",
        ),
        *PICTURE,
    ),
    rules=_only_with_measured,
    is_optional=True,
)
"""A measured grid: ``GridReadings``, None without one."""


COMPARED = replace(
    APPLIANCE,
    name="compare_with",
    is_argument=False,
    is_needed=False,
    help="A second layout: both on one scale, and what it changes.",
)


def _gases_or_layouts(other: Appliance | None, further: FurtherGases | None) -> None:
    """Raises UserError where both a second layout and another gas are named."""
    if other is not None and further is not None:
        fix = "compare gases with --to or --market, or two layouts with --compare-with"
        raise UserError(
            Problem(
                "does not go together with --to or --market", value=other.name, key="--compare-with", fix=fix
            )
        )


def _contacts(studies: Sequence[LayoutStudy], comparison: LayoutComparison | None) -> list[str]:
    """Where a flame meets the surface, of two layouts with their letters."""
    if comparison is None:
        return [contact.text for study in studies for contact in study.flame_contacts]
    return [
        f"{letter}: {contact.text}"
        for letter, study in zip("AB", (comparison.first, comparison.second), strict=True)
        for contact in study.flame_contacts
    ]


@click.command(short_help="Where the heat lands: flux map over a cooking surface.")
@takes(
    file=APPLIANCE,
    other=COMPARED,
    surface=Input(
        name="surface",
        reader=as_written,
        metavar="NAME",
        default="",
        help="Which cooking surface (the first).",
    ),
    cells=Input(
        name="grid", reader=_cells, metavar="WxD", default="60x40", help='Cells across and deep: "24x20".'
    ),
    off=Input(
        name="off",
        reader=as_written,
        metavar="NAME",
        is_many=True,
        help="A burner that is not lit; repeatable.",
    ),
    readings=READINGS,
    own=COEFFICIENTS,
    to=destination("page, figures and map"),
    further=further_gases(needs_pressure=False),
)
@json_option
def layout_command(
    file: Appliance,
    other: Appliance | None,
    surface: str,
    cells: tuple[int, int],
    off: tuple[str, ...],
    readings: GridReadings | None,
    own: Path | None,
    to: Destination,
    further: FurtherGases | None,
    as_json: bool,
) -> None:
    """Flux map over a cooking surface of FILE: mean, extremes, evenness, each burner's part.

    FILE needs [grate] and a height in each burner's place; [[shield]] and [box] are taken where given. With --to there
    is a second map for another gas at the same rates, with --pressure or --market once the appliance is changed to
    it; with --compare-with the map of a second file is shown on the same scale, with the difference. Without --measured
    the fractions of heat have a wide band.

    \b
    Examples:
      burnerlab layout cart.toml
      burnerlab layout cart.toml --to propane --out study
      burnerlab layout cart.toml --market A
      burnerlab layout cart.toml --off "griddle tube left" --json
      burnerlab layout cart.toml --compare-with changed.toml --out study
      burnerlab layout changed.toml --measured readings.csv \\
          --measured-on cart.toml
      burnerlab layout cart.toml --measured camera.csv \\
          --corners "40,200 290,205 250,30 75,28" --emissivity 0.95
    """
    from burnerlab.layout.heat_map import standard_measures

    _gases_or_layouts(other, further)
    fit, picture = (None, None) if readings is None else fit_of_readings(file, surface, readings, own)
    cases = [MarketCase(file, file.supply.gas), *([] if further is None else further.cases(file))]
    studies = [_study(one.at_its_rates, surface, one.gas, cells, off, fit, own) for one in cases]
    there = None if other is None else _study(other, surface, other.supply.gas, cells, off, fit, own)
    comparison = None if there is None else _compared(studies[0], there)
    files = _written((file, other), studies, comparison, fit, to)
    if as_json:
        print_json(
            studies[0],
            appliance=file.name,
            surfaces=[grate.name for grate in (file.space.grates if file.space else ())],
            second_gas=studies[1] if len(studies) > 1 else None,
            further_gases=studies[2:],
            second_layout=None if comparison is None else comparison.second,
            comparison=comparison,
            fit=fit,
            infrared_picture=picture,
            standards=standard_measures(),
            files=files,
        )
        return
    click.echo(_maps_text(file, other, studies, comparison, fit, [one.words for one in cases]))
    print_notes("Flame contact", _contacts(studies, comparison))
    print_notes("Infrared picture", () if picture is None else picture.notes)
    print_notes("Notes", studies[0].notes)
    _print_files(files)
    print_cautions(file.supply.gas)


def _print_files(files: Sequence[str]) -> None:
    for path in files:
        click.echo(f"written: {path}")


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
    from burnerlab.layout.cooking_surface import grid_over
    from burnerlab.layout.layout_study import layout_of, lit, study_of

    layout = lit(layout_of(appliance, surface, gas=gas, own=own), off)
    return study_of(layout, gas, grid_over(layout.surface, *cells), off=off, own=own, fit=fit)


def fit_of_readings(
    appliance: Appliance, surface: str, readings: GridReadings, own: Path | None
) -> tuple[GridFit, InfraredPicture | None]:
    """The fit of readings to the layout they are of, and what was read of the picture where they are one."""
    from burnerlab.layout.grid_fit import fit_grid
    from burnerlab.layout.layout_study import layout_of, plate_case

    layout = layout_of(readings.appliance or appliance, surface, own=own)
    grid, picture = readings.read(layout.surface)
    return fit_grid(layout, grid, plate_case(own)), picture


def _compared(first: LayoutStudy, second: LayoutStudy) -> LayoutComparison:
    from burnerlab.layout.comparison import compare_layouts

    return compare_layouts(first, second)


# what is printed


def _maps_text(
    file: Appliance,
    other: Appliance | None,
    studies: list[LayoutStudy],
    comparison: LayoutComparison | None,
    fit: GridFit | None,
    markets: Sequence[str],
) -> str:
    """The map of each gas, or of two layouts beside each other; with the constants of a measured grid."""
    if other is None or comparison is None:
        return _layout_text(file, studies, fit, markets)
    text = _comparison_text((file, other), comparison)
    return text if fit is None else f"{text}\n\n{_fit_text(fit)}"


def _comparison_text(appliances: tuple[Appliance, Appliance], comparison: LayoutComparison) -> str:
    """Both layouts and the change of each measure, with the band of the change."""
    a, b, change = (row(one) for one in (comparison.first, comparison.second, comparison))

    def line(label: str, key: str, ending: str = "", unit: str = "") -> tuple[str, ...]:
        low, high = (change.get(f"{key}_change_{end}{ending}") for end in ("low", "high"))
        band = "-" if low is None or high is None else f"{low:+.3g} to {high:+.3g}"
        first, second = float(a[key + ending]), float(b[key + ending])
        moved = "0" if first == second else f"{second - first:+.3g}"
        head, cells = column_in(
            reader_system(), f"{label}{unit}", (number(first, 3), number(second, 3), moved, band)
        )
        return (head, *cells)

    rows = [
        line("mean", "mean", "_kW_per_m2", ", kW/m2"),
        line("most", "max", "_kW_per_m2", ", kW/m2"),
        line("least", "min", "_kW_per_m2", ", kW/m2"),
        line("(max - min)/mean", "spread"),
        line("coefficient of variation", "coefficient_of_variation", "_percent", ", %"),
        line("area within 10 % of the mean", "area_near_the_mean", "_percent", ", %"),
        line("heat input, net", "heat_input_net", "_kW", ", kW"),
        line("heat taken up, of net", "uptake", "_percent", ", %"),
    ]
    names = [
        f"{letter}: {one.name}, {Path(one.file).name}" for letter, one in zip("AB", appliances, strict=True)
    ]
    parts = [*names, "", table(("", "A", "B", "change", "band of the change"), rows), ""]
    cells = comparison.cells
    if cells is None:
        parts.append(f"no map of the difference: {comparison.why_no_difference}")
    else:
        places = [
            quantity_text(
                "{} {} at x {}, y {}",
                word,
                quoted(value, Kind.HEAT_FLUX, "kW/m2", "+.3g"),
                millimetre(x, ".0f"),
                millimetre(y, ".0f"),
            )
            for word, value, (x, y) in (
                ("most gained", cells.most_gained_W_per_m2, cells.most_gained_at_m),
                ("most lost", cells.most_lost_W_per_m2, cells.most_lost_at_m),
            )
        ]
        share = f"more heat on {100 * cells.area_with_more:.0f} % of the area"
        parts.append(wrapped(for_reader(quantity_text("{}; {}; {}", *places, share))))
    return "\n".join(parts)


def _layout_text(
    file: Appliance, studies: list[LayoutStudy], fit: GridFit | None, markets: Sequence[str]
) -> str:
    from burnerlab.layout.placement import map_basis

    first = row(studies[0])
    burners = _burner_table(first, map_basis(file))
    parts = [f"{file.name}: {first['surface']}", "", _facts(studies[0], first), "", burners]
    if first["shields"]:
        rows = [
            (one["name"], f"{one['temperature_C']:.0f}", "as entered" if one["is_entered"] else "calculated")
            for one in first["shields"]
        ]
        parts += ["", table(("shield", "°C", "temperature"), rows)]
    parts += ["", _balance_table(studies)]
    for study in studies:
        if study.plate is not None:
            parts += ["", _plate_text(row(study.plate), study.gas if len(studies) > 1 else "")]
    for second, market in zip(studies[1:], markets[1:], strict=True):
        parts += ["", *([market] if market else ()), _facts(second, row(second))]
    if fit is not None:
        parts += ["", _fit_text(fit)]
    return "\n".join(parts)


def _facts(study: LayoutStudy, r: dict[str, Any]) -> str:
    def ends(stem: str, ending: str = "") -> str:
        return f"{number(r[f'{stem}_low{ending}'], 3)} to {number(r[f'{stem}_high{ending}'], 3)}"

    return facts(
        [
            ("gas", named_gas_fact(r["gas"])),
            (
                "mean",
                quantity_text(
                    "{}, band {} to {}",
                    _flux(r["mean_kW_per_m2"]),
                    _flux(r["mean_low_kW_per_m2"], has_unit=False),
                    _flux(r["mean_high_kW_per_m2"]),
                ),
            ),
            (
                "most, least",
                quantity_text("{}, {}", *(_flux(r[f"{end}_kW_per_m2"]) for end in ("max", "min"))),
            ),
            ("(max - min)/mean", f"{number(r['spread'], 3)}, band {ends('spread')}"),
            (
                "coefficient of variation",
                f"{r['coefficient_of_variation_percent']:.0f} %, "
                f"band {ends('coefficient_of_variation', '_percent')} %",
            ),
            ("area within 10 % of the mean", f"{r['area_near_the_mean_percent']:.0f} %"),
            (
                "heat taken up",
                f"{r['uptake_percent']:.0f} % of {number(r['heat_input_net_kW'], 3)} kW net",
            ),
            (
                "heat input from below, gross",
                f"{_per_area(study.gross_W_per_m2, 3)}; rule of thumb, "
                f"no source: about {_per_area(study.trade_W_per_m2.value, 2)} "
                f"({study.trade.provenance})",
            ),
            *_temperatures(r["predicted_temperature"]),
            ("evidence of the heat flux", r["evidence"]),
            ("evidence of the pattern", f"{r['pattern_evidence']}; measured grid: {r['fit_state']}"),
        ]
    )


def _flux(value_kW_per_m2: float, *, has_unit: bool = True) -> QuantityText:
    """A flux of three digits, all of one table in one unit, that of the trade."""
    places = max(2 - math.floor(math.log10(abs(value_kW_per_m2))), 0) if value_kW_per_m2 else 0
    return quoted(
        1e3 * value_kW_per_m2, Kind.HEAT_FLUX, "kW/m2", f".{places}f", has_unit=has_unit, US_unit="Btu/h/in2"
    )


def _per_area(value_W_per_m2: float | None, digits: int) -> str:
    """A heat input per area, in the unit of the trade."""
    return show(float(value_W_per_m2 or 0.0), Kind.HEAT_FLUX, unit=_area_unit(), digits=digits)


def _area_unit() -> str:
    """The unit of a flux or heat input per area, that of the trade, in every table of a layout."""
    return "kW/m2" if reader_system() == "metric" else "Btu/h/in2"


def _conductivity(value_W_per_mK: float) -> str:
    if reader_system() == "metric":
        return f"{number(value_W_per_mK, 3)} W/(m K)"
    degree_F_per_K = in_unit(1.0, Kind.TEMPERATURE_DIFFERENCE, "°F")
    per_foot = in_unit(value_W_per_mK, Kind.POWER, "Btu/h") / in_unit(1.0, Kind.LENGTH, "ft") / degree_F_per_K
    return f"{number(per_foot, 3)} Btu/(h ft °F)"


def _temperatures(r: dict[str, Any] | None) -> list[tuple[str, str]]:
    if r is None:
        return []

    def interval(name: str) -> str:
        low, high = r[f"{name}_temperature_low_C"], r[f"{name}_temperature_high_C"]
        return f"{r[f'{name}_temperature_C']:.0f} °C ({low:.0f} to {high:.0f} °C)"

    return [
        (
            "temperature on the same sensors",
            f"mean {interval('mean')}; most {interval('most')}; least {interval('least')}",
        )
    ]


def _burner_table(r: dict[str, Any], basis: MapBasis) -> str:
    unit = _area_unit()
    rows = []
    for one in r["parts"]:
        off, height = one["without"], one["flame_height_mm"]
        rows.append(
            (
                one["name"],
                f"{one['heat_fraction_percent']:.1f}",
                kW(1e3 * one["heat_input_net_kW"] * basis.of_net, 3),
                f"{one['radiant_percent']:.0f}",
                "-" if height is None else f"{height:.0f}",
                "-" if off is None else number(in_unit(1e3 * off["mean_kW_per_m2"], Kind.HEAT_FLUX, unit), 3),
                "-" if off is None else number(off["spread"], 3),
            )
        )
    heads = (
        "burner",
        "of the heat, %",
        f"kW {basis.word}",
        "radiated, %",
        "flame up to, mm",
        f"mean when off, {unit}",
        "spread when off",
    )
    return table(heads, rows)


def _balance_table(studies: list[LayoutStudy]) -> str:
    """Where the heat goes, in kW and per cent of the net heat input."""
    from burnerlab.layout.heat_balance import balance_rows

    balances = [study.balance for study in studies]
    rows = [
        (
            label,
            *(
                text
                for watts, whole in cells
                for text in (f"{watts / 1e3:.2f}", f"{100 * watts / whole:.1f}")
            ),
        )
        for label, cells in balance_rows(balances)
    ]
    gases = [f"kW, gas {k}" if len(studies) > 1 else "kW" for k in range(1, len(studies) + 1)]
    return table(("where the heat goes", *(text for gas in gases for text in (gas, "%"))), rows)


def _plate_text(r: dict[str, Any], gas: str) -> str:
    """A closed plate: what it conducts, how hot, how long."""

    def time(key: str) -> str:
        return "not reached" if r[key] is None else duration_text(r[key])

    preheat = f"{time('preheat_s')} ({time('preheat_low_s')} to {time('preheat_high_s')}) to 185 °C, empty"
    food = "not evaluated" if r["food_drop_K"] is None else f"mean falls {r['food_drop_K']:.0f} K"
    if r["food_drop_K"] is not None:
        food += (
            "; not back within 20 min" if r["recovery_s"] is None else f"; back after {time('recovery_s')}"
        )
    return facts(
        [
            (
                f"plate{', ' if gas else ''}{gas}",
                f"{r['material']}, {number(r['thickness_mm'], 2)} mm, {_conductivity(r['conductivity_W_per_mK'])}",
            ),
            ("conduction evens out over", f"{r['spread_length_mm']:.0f} mm"),
            (
                "variation",
                f"heat to the plate {r['flux_variation_percent']:.0f} %, heat it gives off "
                f"{r['given_off_variation_percent']:.0f} %, temperature rise {r['rise_variation_percent']:.0f} %",
            ),
            (
                "empty at full rate, at most",
                f"mean {r['steady_mean_C']:.0f} °C, most {r['steady_max_C']:.0f} °C, "
                f"least {r['steady_min_C']:.0f} °C",
            ),
            ("preheat", preheat),
            ("even", f"after {time('even_s')} at full rate"),
            ("cold food, indicative", food),
        ]
    )


def _fit_text(grid_fit: GridFit) -> str:
    rows = [
        (
            one.name,
            *one.texts(),
            "no: at its bound, not used" if one.is_at_bound else "yes" if one.is_settled else "no",
        )
        for one in grid_fit.constants
    ]
    fit = row(grid_fit)
    unit, shown = ("kW_per_m2", "kW/m2") if fit["measurand"] == "flux" else ("K", "K")
    at = fit["largest_at_mm"]
    lines = [
        f"measured grid: {fit['state']}; evidence of the pattern: {fit['pattern_evidence']}",
        "",
        table(("fitted", "value", "std. unc.", "95 % interval", "determined"), rows),
        wrapped(
            for_reader(
                f"{fit['readings']} readings of {fit['file']}: {fit['explained_percent']:.0f} % of their variance "
                f"followed, "
                f"{fit['left_out_explained_percent']:.0f} % where they were left out; left over "
                f"{number(fit['rms_residual_' + unit], 2)} {shown} rms, at most "
                f"{fit['largest_residual_' + unit]:+.3g} {shown} at x {at[0]:.0f} mm, y {at[1]:.0f} mm"
            )
        ),
    ]
    if fit["spread_length_mm"] is not None:
        lines.append(
            for_reader(
                f"after conduction in the plate, which evens out over {fit['spread_length_mm']:.0f} mm"
            )
        )
    return "\n".join([*lines, *(wrapped(f"not fitted: {one}", subsequent="  ") for one in fit["not_fitted"])])


def _written(
    appliances: tuple[Appliance, Appliance | None],
    studies: list[LayoutStudy],
    comparison: LayoutComparison | None,
    fit: GridFit | None,
    to: Destination,
) -> list[str]:
    from burnerlab.report.layout_page import write_comparison, write_layout

    if to.folder is None:
        return []
    file, other = appliances
    size = paper_for_units(reader_system())
    try:
        if other is not None and comparison is not None:
            written = write_comparison(
                (file, other),
                comparison,
                to.folder,
                overwrite=to.overwrite,
                size=size,
                system=reader_system(),
            )
        else:
            written = write_layout(
                file,
                studies,
                to.folder,
                overwrite=to.overwrite,
                fit=fit,
                size=size,
                system=reader_system(),
            )
    except UserError as error:
        raise in_words_of_options(error) from None
    for sentence in written.missing:
        click.echo(sentence, err=True)
    return [str(Path(to.folder) / path.name) for path in written.files]
