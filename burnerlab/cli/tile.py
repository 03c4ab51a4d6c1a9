"""``burnerlab tile``: how hot a ceramic tile glows and what it radiates."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, ambient_pressure_Pa, gas_notes, own_file, together
from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import gas_options, json_option
from burnerlab.cli.output import facts, number, print_json, print_notes
from burnerlab.cli.units import ZERO_C_K
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.burner.tile import Firing, TileBurner
    from burnerlab.burner.tile_evaluate import Band, TileState
    from burnerlab.burner.tile_exchange import Before
    from burnerlab.quantity import Kind

SIDES = re.compile(r"\s+[xX×]\s+|(?<=[a-z])\s*×\s*")
TARGET_OPTIONS = ("target_emissivity", "target_temperature", "target_area")


@click.command(short_help="Face temperature and radiant efficiency of a ceramic tile burner.")
@gas_options
@click.option("--rate", metavar="Q", help='Heat input with its basis: "4.8 kW gross". Needs --area.')
@click.option("--area", metavar="A", help='Plain area of the glowing face: "150 mm x 100 mm", "150 cm2".')
@click.option(
    "--firing-density", metavar="Q", help='Instead of --rate: "150 kW/m2"; net, unless "gross" follows.'
)
@click.option(
    "--aeration", metavar="SHARE", required=True, help='All air over stoichiometric: "1.1", "110 %".'
)
@click.option(
    "--air-temperature", metavar="T", default="20 C", show_default=True, help="Of mixture and room."
)
@click.option("--emissivity", metavar="SHARE", help="Of the material of the face.")
@click.option(
    "--area-factor", metavar="NUMBER", help="Developed over plain area of the face, 1 for a flat one."
)
@click.option("--recovery", metavar="SHARE", help="Of the gap between flame and face that is won back.")
@click.option("--channel", metavar="D", help='Diameter of the channels: "1.2 mm".')
@click.option("--thickness", metavar="L", help='Of the tile: "13 mm".')
@click.option("--view-factor", metavar="SHARE", help="From the face to a pot, a grate or a lid before it.")
@click.option("--target-emissivity", metavar="SHARE", help="Of that; 0.8 unless given.")
@click.option("--target-temperature", metavar="T", help="Of that; a pot of boiling water unless given.")
@click.option("--target-area", metavar="NUMBER", help="Of that over the area of the face; 1 unless given.")
@click.option("--altitude", metavar="H", help='"1200 m".')
@click.option("--barometer", metavar="P", help='Station pressure instead: "90 kPa".')
@click.option(
    "--properties", metavar="FILE", help="CSV of your own with the columns of the table tile_properties."
)
@json_option
def command(gas: GasAsked, as_json: bool, **given: str | None) -> None:
    """Face temperature, radiant efficiency and findings of a ceramic tile burner.

    A balance of heat with a table of flat flames. The answer is a band: the plane flame is its cool end, and the gas
    cannot leave cooler than the face. What is not given takes the usual figure with its spread.

    \b
    Examples:
      burnerlab tile --gas propane --rate "2.4 kW gross" --area "150 mm x 100 mm" --aeration 1.1
      burnerlab tile --gas G20 --firing-density "150 kW/m2" --aeration 1.15 --emissivity 0.9 --area-factor 1
      burnerlab tile --gas propane --firing-density "150 kW/m2" --aeration 1.1 --view-factor 0.7 --target-emissivity 0.2
    """
    from burnerlab.burner.tile_evaluate import evaluate_tile

    found, (heat_W, basis, area_m2), firing, before, own = together(
        gas.read,
        lambda: _rate(given),
        lambda: _firing(given),
        lambda: _before(given),
        lambda: own_file(given["properties"], "--properties"),
    )
    tile = _tile(given, area_m2 or 1.0)
    state = evaluate_tile(tile, found, heat_W, basis, firing, before, own)
    result = _result(state, area_m2 is not None, [*gas_notes(found), *_basis_note(given)])
    if as_json:
        print_json(result)
    else:
        click.echo(_text(result))
        print_notes("Notes", result["notes"])
        print_cautions(found)


def _area_m2(text: str) -> float:
    """A face as one area, or as two sides with an x between."""
    from burnerlab.quantity import Kind, read

    sides = SIDES.split(text.strip())
    if len(sides) == 1:
        return read(text, Kind.AREA, key="--area", low=1e-5, high=10.0)
    if len(sides) != 2:
        fix = 'e.g. "150 mm x 100 mm" or "150 cm2"'
        raise UserError(Problem("needs two sides, or one area", value=text, key="--area", fix=fix))
    first, second = (read(side, Kind.LENGTH, key="--area", low=1e-3, high=5.0) for side in sides)
    return first * second


def _split_basis(text: str) -> tuple[str, str]:
    words = text.split()
    said = words[-1].lower() if words else ""
    return (" ".join(words[:-1]), said) if said in ("gross", "net") else (text, "net")


def _rate(given: dict[str, str | None]) -> tuple[float, str, float | None]:
    """Heat input, its basis and the area; without an area, by square metre."""
    from burnerlab.quantity import Kind, read, read_rate, said_basis

    rate, area, density = given["rate"], given["area"], given["firing_density"]
    if (rate is None) == (density is None):
        fix = 'e.g. --rate "2.4 kW gross" --area "150 mm x 100 mm", or --firing-density "150 kW/m2"'
        raise UserError(Problem("give one of them", key="--rate or --firing-density", fix=fix))
    area_m2 = None if area is None else _area_m2(area)
    if density is not None:
        text, basis = _split_basis(density)
        found = read(text, Kind.HEAT_FLUX, key="--firing-density", low=1e3, high=5e6)
        return found * (area_m2 or 1.0), basis, area_m2
    assert rate is not None
    if area_m2 is None:
        raise UserError(
            Problem("needs --area beside it", value=rate, key="--rate", fix='e.g. --area "150 cm2"')
        )
    power = read_rate(rate, key="--rate")
    return power.power_W, said_basis(power.basis, rate, "--rate"), area_m2


def _basis_note(given: dict[str, str | None]) -> list[str]:
    density = given["firing_density"]
    if density is None or density.lower().rstrip().endswith(("gross", "net")):
        return []
    return ["The firing density was taken as net; write gross or net behind it."]


def _firing(given: dict[str, str | None]) -> Firing:
    from burnerlab.burner.tile import Firing
    from burnerlab.quantity import Kind, read

    share, mixture_K, pressure_Pa = together(
        lambda: read(given["aeration"], Kind.FRACTION, key="--aeration"),
        lambda: read(
            given["air_temperature"], Kind.TEMPERATURE, key="--air-temperature", low=233.15, high=473.15
        ),
        lambda: ambient_pressure_Pa(given["altitude"], given["barometer"]),
    )
    return Firing(aeration=share, mixture_K=mixture_K, pressure_Pa=pressure_Pa)


def _before(given: dict[str, str | None]) -> Before:
    from burnerlab.burner.tile import pot
    from burnerlab.quantity import Kind

    lone = [name for name in TARGET_OPTIONS if given[name] is not None and given["view_factor"] is None]
    if lone:
        keys = ["--" + name.replace("_", "-") for name in lone]
        raise UserError([Problem("needs --view-factor beside it", key=key) for key in keys])
    asked = {
        "surroundings_K": ("air_temperature", Kind.TEMPERATURE, 233.15, 473.15),
        "view_factor": ("view_factor", Kind.FRACTION, 0.0, 1.0),
        "target_emissivity": ("target_emissivity", Kind.FRACTION, 0.001, 1.0),
        "target_K": ("target_temperature", Kind.TEMPERATURE, 233.15, 1500.0),
        "target_area_ratio": ("target_area", Kind.FRACTION, 0.0, 1e3),
    }
    return pot(**_given(asked, given))


def _given(
    asked: Mapping[str, tuple[str, Kind, float | None, float | None]], given: dict[str, str | None]
) -> dict[str, Any]:
    """What is given of some options, read within its range, every problem at once."""
    from burnerlab.quantity import read

    def reader(option: str, kind: Kind, low: float | None, high: float | None) -> Any:
        return lambda: read(
            given[option] or "", kind, key="--" + option.replace("_", "-"), low=low, high=high
        )

    wanted = {name: how for name, how in asked.items() if given[how[0]] is not None}
    return dict(zip(wanted, together(*(reader(*how) for how in wanted.values())), strict=True))


def _tile(given: dict[str, str | None], area_m2: float) -> TileBurner:
    from burnerlab.burner.tile import TileBurner
    from burnerlab.quantity import Kind

    asked = {
        "emissivity": ("emissivity", Kind.FRACTION, None, None),
        "area_factor": ("area_factor", Kind.FRACTION, None, None),
        "recovery": ("recovery", Kind.FRACTION, None, None),
        "channel_diameter_m": ("channel", Kind.DIAMETER, None, None),
        "thickness_m": ("thickness", Kind.LENGTH, None, None),
    }
    return TileBurner(area_m2=area_m2, **_given(asked, given))


def _celsius(band: Band) -> list[float]:
    return [band.low - ZERO_C_K, band.high - ZERO_C_K]


def _result(state: TileState, sized: bool, notes: list[str]) -> dict[str, Any]:
    share = state.radiant_efficiency_net
    target = state.to_target_efficiency_net if state.before.view_factor else None
    return {
        "gas": state.gas,
        "aeration": state.firing.aeration,
        "heat_input_gross_kW": state.heat_input_gross_W / 1e3 if sized else None,
        "heat_input_net_kW": state.heat_input_net_W / 1e3 if sized else None,
        "area_cm2": state.tile.area_m2 * 1e4 if sized else None,
        "firing_density_net_kW_per_m2": state.firing_density_net_W_per_m2 / 1e3,
        "firing_density_gross_kW_per_m2": state.heat_input_gross_W / state.tile.area_m2 / 1e3,
        "surface_temperature_C": state.face_K.value - ZERO_C_K,
        "surface_temperature_band_C": _celsius(state.face_K),
        "surface_temperature_ceiling_C": state.ceiling_face_K - ZERO_C_K,
        "radiant_efficiency_net": share.value,
        "radiant_efficiency_band_net": [share.low, share.high],
        "radiant_efficiency_gross": state.radiant_efficiency_gross.value,
        "radiant_efficiency_ceiling_net": state.ceiling_efficiency_net,
        "radiant_efficiency_ceiling_at_surface_temperature_net": state.ceiling_at_face_net,
        "radiated_kW": state.radiated_W / 1e3 if sized else None,
        "radiated_kW_per_m2": state.radiated_W / state.tile.area_m2 / 1e3,
        "to_target_efficiency_net": target and target.value,
        "to_target_efficiency_band_net": target and [target.low, target.high],
        "burned_gas_temperature_C": state.burned_gas_K - ZERO_C_K,
        "gas_leaving_temperature_C": state.gas_out_K - ZERO_C_K,
        "plenum_side_temperature_C": state.plenum_side_K.value - ZERO_C_K,
        "plenum_side_temperature_band_C": _celsius(state.plenum_side_K),
        "apparent_emissivity": state.emissivity,
        "mass_flux_kg_per_m2s": state.mass_flux_kg_per_m2s,
        "lift_margin": state.lift_margin,
        "findings": [
            {field.name: getattr(finding, field.name) for field in fields(finding)}
            for finding in state.findings
        ],
        "evidence": state.evidence,
        "notes": [*notes, *state.notes],
        "cautions": cautions(),
    }


def _span(ends: list[float], scale: float = 1.0) -> str:
    return f"{scale * ends[0]:.0f} to {scale * ends[1]:.0f}"


def _text(result: dict[str, Any]) -> str:
    lift, target = result["lift_margin"], result["to_target_efficiency_net"]
    pairs = [
        ("gas", f"{result['gas']}, {100 * result['aeration']:.4g} % of the stoichiometric air"),
        (
            "firing density",
            f"{number(result['firing_density_net_kW_per_m2'])} kW/m2 net, "
            f"{number(result['firing_density_gross_kW_per_m2'])} gross",
        ),
        (
            "face",
            f"{result['surface_temperature_C']:.0f} C (band {_span(result['surface_temperature_band_C'])} C, "
            f"ceiling {result['surface_temperature_ceiling_C']:.0f} C)",
        ),
        (
            "radiant efficiency, net",
            f"{100 * result['radiant_efficiency_net']:.0f} % "
            f"(band {_span(result['radiant_efficiency_band_net'], 100)} %, "
            f"ceiling {100 * result['radiant_efficiency_ceiling_net']:.0f} %)",
        ),
        ("radiated", f"{number(result['radiated_kW_per_m2'])} kW/m2"),
        ("of it to the target", "no target" if target is None else f"{100 * target:.0f} % of the net input"),
        ("gas leaves at", f"{result['gas_leaving_temperature_C']:.0f} C"),
        (
            "plenum side of the tile",
            f"{result['plenum_side_temperature_C']:.0f} C (band {_span(result['plenum_side_temperature_band_C'])} C)",
        ),
        ("mass flux at which it lifts", "beyond the table" if lift is None else f"{lift:.2f} times this one"),
        ("evidence", result["evidence"]),
    ]
    told = [
        f"  {entry['topic']}: {entry['verdict']}\n" + click.wrap_text(entry["text"], 100, "      ", "      ")
        for entry in result["findings"]
    ]
    return facts(pairs) + "\n\nFindings\n" + "\n".join(told)
